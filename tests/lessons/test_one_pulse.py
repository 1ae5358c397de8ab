"""A pulse that is chosen on the ladder is the one that the strips show: in the model, in the engine, in the face."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from lessons.contracts import Axis, Chart, Control, Ladder, Line, Panel, Picture
from lessons.engine import Engine
from lessons.panels import PANELS

from .test_face import page_html, serve, wait_for_panel

CHOOSING = [panel for panel in PANELS.values() if panel.one_pulse]


def ask(panel: Panel, **request: Any) -> dict[str, Any]:
    return Engine(panels={panel.name: panel}, exercises={}).handle({"name": panel.name, **request}).tree


@pytest.mark.parametrize("panel", CHOOSING, ids=lambda panel: panel.name)
def test_the_first_is_what_the_panel_shows_by_itself_and_another_is_another(panel: Panel) -> None:
    for preset in ({}, dict(panel.presets[1].values)):
        whole, first, fourth = panel.picture(preset), panel.at_pulse(preset, 0), panel.at_pulse(preset, 3)
        assert (first.strips, first.scene) == (whole.strips, whole.scene)
        assert fourth.ladder is not None
        assert whole.ladder is not None
        assert (whole.ladder.shown, fourth.ladder.shown) == (0, 3)
        assert (fourth.ladder.angle, fourth.ladder.pulse) == (whole.ladder.angle, whole.ladder.pulse)
        assert fourth.strips != whole.strips


@pytest.mark.parametrize("pulse", range(5))
def test_the_strips_sparks_stand_where_those_of_that_row_stand_on_the_ladder(pulse: int) -> None:
    values = {"rpm": 450.0} | dict(PANELS["cushion"].presets[1].values)
    picture = PANELS["cushion"].at_pulse(values, pulse)
    assert picture.ladder is not None
    row = [angle for angle, of in zip(picture.ladder.angle, picture.ladder.pulse, strict=True) if of == pulse]
    strip = next(strip for strip in picture.strips if strip.key == "secondary")
    told = [6e-3 * values["rpm"] * mark.x for mark in strip.marks]
    assert row
    assert told == pytest.approx(row)


@pytest.mark.parametrize(("name", "pulse", "complaint"), [
    ("cushion", 99, "record"), ("cushion", -1, "record"), ("cushion", "two", "Pulse"), ("cushion", True, "Pulse"),
    ("cushion", None, "Pulse"), ("magneto", 1, "no other pulse"),
])
def test_a_pulse_that_was_not_run_is_answered_with_a_sentence(name: str, pulse: Any, complaint: str) -> None:
    error = ask(PANELS[name], do="pulse", values={}, pulse=pulse)["error"]
    assert complaint in error
    assert error.count("\n") == 0


# -------------------------------------------------------------------------------------------------------- in the face
def drawn(values: Any, pulse: int = 0) -> Picture:
    times = [0.1 * i for i in range(60)]
    wave = Line("wave", "current", times, [pulse * t for t in times])
    strip = Chart("wave", "Wave", Axis("time", "ms"), Axis("height", "mm"), (wave,))
    ladder = Ladder("Ladder", Axis("angle", "degrees", 0.0, 20.0), 6, list(range(6)), [10.0] * 6, [1] * 6, shown=pulse)
    return Picture(f"Size {values['size']:g}.", "A wave.", strips=(strip,), ladder=ladder)


PANEL = Panel("any", "Any pulse", "What?", (Control("size", "Size", "mm", 0.0, 9.0, 1.0, 5.0, "Why."),), drawn, one_pulse=drawn)
SHOWN = "panel.shadowRoot.querySelector('figure.ladder > svg').getAttribute('aria-valuetext')"


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_default_timeout(20_000)
    html = page_html("light", '<coil-panel name="any"><p>In words.</p></coil-panel>')
    serve(page, html, Engine(panels={"any": PANEL}, exercises={}))
    page.goto("http://face.test/")
    wait_for_panel(page, f"panel.shadowRoot?.querySelector('figure.ladder > svg') && {SHOWN} === 'pulse 1 is shown'")
    yield page
    assert page.faults == []
    page.close()


def asked(page: Any) -> list[int]:
    return [request["pulse"] for request in page.evaluate("window.asked") if request["do"] == "pulse"]


@pytest.mark.browser
def test_a_click_on_a_row_shows_that_pulse_and_the_next_move_the_first_again(page: Any) -> None:
    ladder = page.locator("coil-panel figure.ladder > svg")
    mark = json.loads(ladder.locator("path.sparks-1").evaluate("""(path) => {
        const {x, y, width, height} = path.getBBox(); return JSON.stringify([x + width / 2, y + height * (1 - 3.5 / 6)]); }"""))
    ladder.click(position={"x": mark[0], "y": mark[1]})
    wait_for_panel(page, f"{SHOWN} === 'pulse 4 is shown'")
    assert asked(page) == [3]
    ladder.click(position={"x": mark[0], "y": mark[1]})  # it is shown already
    ladder.click(position={"x": 2, "y": mark[1]})  # beside the rows
    page.locator("coil-panel input[name=size]").press("ArrowRight")
    wait_for_panel(page, f"{SHOWN} === 'pulse 1 is shown'")
    assert asked(page) == [3]


@pytest.mark.browser
def test_the_arrow_keys_go_from_pulse_to_pulse(page: Any) -> None:
    ladder = page.locator("coil-panel").get_by_role("slider", name="Ladder")
    ladder.focus()
    for key, shown in (("ArrowUp", 2), ("ArrowUp", 3), ("End", 6), ("ArrowDown", 5), ("Home", 1)):
        page.keyboard.press(key)
        wait_for_panel(page, f"{SHOWN} === 'pulse {shown} is shown'")
    page.keyboard.press("ArrowDown")
    assert asked(page) == [1, 2, 5, 4, 0]
    assert page.evaluate("document.querySelector('coil-panel').shadowRoot.activeElement.localName") == "svg"
