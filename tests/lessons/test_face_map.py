"""A map that the face fills: from coarse to fine, until a move, kept while only the mark moves; a click on a cell goes there."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from lessons.contracts import Axis, Control, Filling, Panel, Picture, Runs, TensionMap
from lessons.engine import Engine

from .test_face import page_html, serve, wait_for_panel

pytestmark = pytest.mark.browser
SIDE = 17
XS = [0.5 * i for i in range(SIDE)]
ELEMENT = '<coil-panel name="map"><p>In words.</p></coil-panel>'


def value_at(place: int, width: float) -> int | None:
    """What the test's engine says of a cell."""
    return None if place == 0 else (place % SIDE + place // SIDE + int(width)) % 3


def drawn(values: Any) -> Picture:
    cells = [[None] * SIDE for _ in range(SIDE)]
    of = TensionMap("Map", Axis("across", "A"), Axis("upward", "B"), XS, XS, cells, {0: "none", 1: "one", 2: "two"},
                    (values["x"], values["y"]), later=f"width {values['width']}", sets=("x", "y"))
    return Picture(f"At {values['x']:g}, {values['y']:g}; width {values['width']:g}.", "A map.", map=of)


PANEL = Panel(
    "map", "A map", "What?", tuple(Control(name, name, "A", 0.0, 8.0, 0.1, 1.0, "Why.") for name in ("x", "y", "width")), drawn,
    filling=Filling(drawn, lambda values, places: Runs([None] * len(places), 1, "sparks", 3),
                    lambda values, cells: (f"{cells.count(1)} ones.", "All rows.")),
)


class Told:
    """An engine whose cells are made up, and which keeps what it was asked for."""

    def __init__(self) -> None:
        self.engine = Engine(panels={"map": PANEL}, exercises={})
        self.asked: list[dict[str, Any]] = []
        self.refuse = False

    def handle_json(self, text: str) -> tuple[str, list[Any]]:
        request = json.loads(text)
        if request["do"] == "cells":
            self.asked.append(request)
            if self.refuse:
                return json.dumps({"error": "The kernel is tired."}), []
            return json.dumps({"cells": [value_at(place, request["values"]["width"]) for place in request["places"]]}), []
        return self.engine.handle_json(text)


@pytest.fixture
def engine() -> Told:
    return Told()


@pytest.fixture
def page(browser: Any, engine: Told) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_default_timeout(20_000)
    serve(page, page_html("light", ELEMENT), engine)  # type: ignore[arg-type]
    yield page
    assert page.faults == []
    page.close()


def opened(page: Any) -> None:
    page.goto("http://face.test/")
    filled(page)


def filled(page: Any) -> None:
    wait_for_panel(page, "panel.shadowRoot?.querySelector('.sentence')?.textContent.includes(' ones.')")


def move(page: Any, name: str, value: float) -> None:
    page.locator(f"coil-panel input[name={name}]").evaluate(
        "(input, value) => { input.value = value; input.dispatchEvent(new Event('input', {bubbles: true})); }", value)


def test_it_is_filled_from_coarse_to_fine_each_cell_once(page: Any, engine: Told) -> None:
    opened(page)
    places = [place for request in engine.asked for place in request["places"]]
    assert sorted(places) == list(range(SIDE * SIDE))
    first = [place for request in engine.asked[:2] for place in request["places"]]
    assert set(first) == {SIDE * row + column for row in (0, 8, 16) for column in (0, 8, 16)}
    assert set(engine.asked[2]["places"]) < {SIDE * row + column for row in range(0, 17, 4) for column in range(0, 17, 4)}
    ones = sum(value_at(place, 1.0) == 1 for place in range(SIDE * SIDE))
    panel = page.locator("coil-panel")
    assert panel.locator(".sentence").inner_text() == f"At 1, 1; width 1. {ones} ones."
    assert panel.locator("#alt").text_content() == "A map. All rows."
    boxes = panel.locator("path.cell-1").get_attribute("d").count("M")
    assert 0 < boxes <= ones
    assert panel.locator("path.cell-blank").get_attribute("d").count("M") == 1


def test_what_comes_quickly_is_drawn_five_times_a_second_and_the_end_at_once(page: Any, engine: Told) -> None:
    opened(page)
    asked = len(engine.asked)
    drawn, took = page.evaluate("""() => new Promise((resolve) => {
        const {shadowRoot} = document.querySelector("coil-panel"), said = shadowRoot.querySelector("figure.map > p"), drawn = [];
        let first = null;
        new MutationObserver(() => {
            if (!/[1-9]\\d* of/.test(said.textContent) && first === null) return;
            first ??= performance.now();
            drawn.push(said.textContent);
            if (said.hidden) resolve([drawn, performance.now() - first]);
        }).observe(said, {childList: true, characterData: true, subtree: true});
        const input = shadowRoot.querySelector("input[name=width]");
        input.value = 2;
        input.dispatchEvent(new Event("input", {bubbles: true}));
    })""")
    assert len(engine.asked) - asked > 5
    assert drawn[-1] == ""
    assert len(drawn) <= 3 + took / 200, "the first, which takes its own time, the last, and those between in theirs"


def test_while_only_the_mark_moves_the_cells_stay_and_their_words_too(page: Any, engine: Told) -> None:
    opened(page)
    asked = len(engine.asked)
    move(page, "x", 3.0)
    wait_for_panel(page, "/^At 3, 1; .* ones\\.$/.test(panel.shadowRoot.querySelector('.sentence').textContent)")
    assert len(engine.asked) == asked


def test_another_map_is_filled_anew_and_the_old_one_is_not_gone_on_with(page: Any, engine: Told) -> None:
    page.goto("http://face.test/?wait")
    page.evaluate("""() => {
        const gate = new Promise((resolve) => (window.release = resolve));  // for the cells of the first map, but for some
        const first = ({do: what, values}) => what === "cells" && values.width === 1;
        const held = () => first(asked.at(-1)) && asked.filter(first).length > 3;
        Object.defineProperty(window, "hold", {get: () => (held() ? gate : null)});
        window.live();
    }""")
    page.locator("coil-panel figure.map").get_by_text("Being worked out: 25 of 289 settings.").wait_for()
    move(page, "width", 2.0)
    wait_for_panel(page, "/width 2\\. .* ones/.test(panel.shadowRoot.querySelector('.sentence').textContent)")
    before = page.locator("coil-panel figure.map > svg").inner_html()
    page.evaluate("() => { release(); return new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve))); }")
    assert page.locator("coil-panel figure.map > svg").inner_html() == before
    old = [place for request in engine.asked if request["values"]["width"] == 1.0 for place in request["places"]]
    new = [place for request in engine.asked if request["values"]["width"] == 2.0 for place in request["places"]]
    assert sorted(new) == list(range(SIDE * SIDE))
    assert len(old) < SIDE * SIDE
    assert page.locator("coil-panel .cells.pale").count() == 0


def test_a_click_on_a_cell_takes_the_panel_to_its_setting(page: Any) -> None:
    opened(page)
    svg = page.locator("coil-panel figure.map > svg")
    box = svg.bounding_box()
    svg.click(position={"x": 56 + (box["width"] - 68) * 12.5 / SIDE, "y": 8 + (box["height"] - 64) * (SIDE - 4.5) / SIDE})
    wait_for_panel(page, "/^At 6, 2; /.test(panel.shadowRoot.querySelector('.sentence').textContent)")
    assert page.locator("coil-panel").evaluate("(panel) => [panel.values.x, panel.values.y]") == [6.0, 2.0]
    svg.click(position={"x": 20, "y": 20})  # beside the cells
    assert page.locator("coil-panel").evaluate("(panel) => [panel.values.x, panel.values.y]") == [6.0, 2.0]


def test_cells_that_do_not_come_are_said_in_the_engines_sentence(page: Any, engine: Told) -> None:
    engine.refuse = True
    page.goto("http://face.test/")
    page.locator("coil-panel figure.map").get_by_text("The kernel is tired.").wait_for()
    engine.refuse = False
    move(page, "width", 2.0)
    filled(page)
    assert page.locator("coil-panel figure.map").get_by_text("tired").count() == 0


@pytest.mark.parametrize("width", [1.0, 2.0])
def test_a_map_out_of_sight_is_not_filled_before_the_reader_comes(browser: Any, engine: Told, width: float) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 600})
    page.set_default_timeout(20_000)
    serve(page, page_html("light", '<div style="height: 900px"></div>' + ELEMENT), engine)  # type: ignore[arg-type]
    page.goto("http://face.test/")
    page.wait_for_function("document.querySelector('coil-panel').dataset.state === 'live'")  # near enough to be begun
    if width != 1.0:
        move(page, "width", width)
        wait_for_panel(page, "panel.shadowRoot.querySelector('.sentence').textContent.startsWith('At 1, 1; width 2.')")
    page.wait_for_timeout(500)
    assert engine.asked == []
    page.locator("coil-panel figure.map").scroll_into_view_if_needed()
    filled(page)
    assert {request["values"]["width"] for request in engine.asked} == {width}
    page.close()


def test_while_the_next_picture_is_on_its_way_no_cells_are_asked_for(page: Any, engine: Told) -> None:
    opened(page)
    page.evaluate("""() => {
        let count = 0;
        Object.defineProperty(window, "hold", {get: () => new Promise((go) => setTimeout(go, 100))});
        const input = document.querySelector("coil-panel").shadowRoot.querySelector("input[name=width]");
        const move = () => {
            input.value = 2 + 0.1 * count;
            input.dispatchEvent(new Event("input", {bubbles: true}));
            if ((count += 1) < 20) setTimeout(move, 30);
        };
        move();
    }""")
    wait_for_panel(page, "/width 3\\.9\\. .* ones/.test(panel.shadowRoot.querySelector('.sentence').textContent)")
    assert page.evaluate("asked.filter(({do: what, whole}) => what === 'compute' && whole === false).length") > 4
    assert {request["values"]["width"] for request in engine.asked} == {1.0, 3.9}


def test_in_a_low_wide_place_no_words_leave_the_map_and_all_have_the_types_size(browser: Any, engine: Told) -> None:
    """As in the talk: large type, and less height than the words at the side are long."""
    page = browser.new_page(viewport={"width": 1000, "height": 620})
    page.set_default_timeout(20_000)
    element = '<div style="height: 590px; font-size: 26px">' + ELEMENT.replace(" name", ' view="compact" name') + "</div>"
    serve(page, page_html("light", element), engine)  # type: ignore[arg-type]
    page.goto("http://face.test/")
    root = "document.querySelector('coil-panel')?.shadowRoot"
    page.wait_for_function(f"{root}?.querySelector('.sentence')?.textContent.includes(' ones.')")
    page.evaluate("""() => { const panel = document.querySelector("coil-panel");
        panel.picture.map.y = {...panel.picture.map.y, label: "vibrator preload as it is set"};
        panel.draw(panel.picture, true, panel.values); }""")
    page.wait_for_function(f"{root}.querySelector('.up-words').textContent.includes('vibrator')")
    found = page.evaluate("""() => { const root = document.querySelector("coil-panel").shadowRoot;
        const box = (node) => node.getBoundingClientRect(), svg = root.querySelector("figure > svg"), all = box(svg);
        return {scale: svg.getScreenCTM().a, out: [...svg.querySelectorAll("text")].filter((text) => text.textContent.trim()
            && (box(text).top < all.top - 1 || box(text).bottom > all.bottom + 1 || box(text).right > all.right + 1))
            .map((text) => text.textContent), all: [all.width, all.height]}; }""")
    page.close()
    assert found["out"] == [], found
    assert found["scale"] == pytest.approx(26 / 15, rel=0.02)
