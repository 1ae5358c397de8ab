"""The talk in a real browser, given as a presenter gives it: by keys, on a screen of 1024 x 768, from the presenter's window."""

from __future__ import annotations

import contextlib
import functools
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from typing import Any

import pytest

from book.making.talk import positions, projected
from book.making.talk import presenter as presenters
from lessons.panels import PANELS
from lessons.talk import CLOSING, NO_ADDRESS, STOPS, Step, Stop, filled, stop_named, told

from .browsing import LIVE, ROOT, Visit, after_painting, same, serious, shown

pytestmark = pytest.mark.browser

TALK = "talk/index.html"
SCREEN = {"width": 1024, "height": 768}
LEAST = 0.03  # of the screen's height: the smallest type
HERE = ".stop:not([hidden])"
PREVIEW = "#preview coil-panel:not([hidden])"
SETTLED = 6_000  # ms, after which a picture that is another stays another
KEYS = ("PageDown", "ArrowRight", " ")


# What is written on canvases, in CSS pixels of type: told as it is written, since nothing can be read off a canvas.
WRITTEN = """
globalThis.written = new Map();
const fill = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (text, ...where) {
    const size = parseFloat(this.font.match(/([\\d.]+)px/)[1]) / devicePixelRatio;
    if (!written.has(this.canvas)) written.set(this.canvas, new Map());
    written.get(this.canvas).set(text, size);
    return fill.call(this, text, ...where);
};
"""

LETTERS = """() => {
    const stop = document.querySelector(".stop:not([hidden])"), found = [];
    const seen = (node) => node.getClientRects().length && getComputedStyle(node).visibility === "visible"
        && !node.closest(".unseen") && getComputedStyle(node).clipPath === "none";
    const walk = (root) => {
        for (const node of root.querySelectorAll("*")) {
            if (node.shadowRoot) walk(node.shadowRoot);
            const own = [...node.childNodes].some((child) => child.nodeType === 3 && child.data.trim());
            if (!own || !seen(node) || (node.localName === "option")) continue;
            if (["style", "script"].includes(node.localName) || node.closest("h1, label > .unseen")) continue;
            const size = parseFloat(getComputedStyle(node).fontSize), svg = node.ownerSVGElement;
            found.push([node.textContent.slice(0, 40), svg ? size * svg.getScreenCTM().a : size]);
        }
        for (const canvas of root.querySelectorAll("canvas")) {
            if (canvas.getClientRects().length) found.push(...(written.get(canvas) ?? []));
        }
    };
    walk(stop);
    return found;
}"""

NOT_FITTING = """() => {
    const box = (node) => node.getBoundingClientRect();
    const root = document.querySelector(".stop:not([hidden]) coil-panel").shadowRoot;
    const all = "figure, figcaption, svg, canvas, .sentence, .readings, .control, input, select, button";
    const seen = [...root.querySelectorAll(all)]
        .filter((node) => box(node).width && !node.closest(".unseen"));
    const figures = box(root.querySelector(".figures"));
    const out = seen.filter((node) => box(node).bottom > innerHeight + 1 || box(node).right > innerWidth + 1
        || (node.closest("figure") && box(node).bottom > figures.bottom + 1));
    const scrolling = [document.scrollingElement, root.querySelector("section")]
        .filter((node) => node.scrollHeight > node.clientHeight);
    return [...out, ...scrolling].map((node) => node.outerHTML.slice(0, 100));
}"""

# Of the stop that is shown: upright names of axes that lie over their numbers.
OVERLAPPING = """() => {
    const {shadowRoot} = document.querySelector(".stop:not([hidden]) coil-panel");
    return [...shadowRoot.querySelectorAll("figure > svg [transform*='rotate(-90)']")].filter((name) => {
        const box = name.getBoundingClientRect(), numbers = [...name.ownerSVGElement.querySelectorAll("text[text-anchor=end]")];
        const over = ({top, bottom, left}) => bottom > box.top && top < box.bottom && left < box.right;
        return numbers.some((each) => over(each.getBoundingClientRect()));
    }).map((name) => name.textContent);
}"""

# Of the preview: letters, controls and drawings of which something is cut off, by the preview or by a place inside it.
CUT_OFF = """() => {
    const {shadowRoot} = document.querySelector("#preview coil-panel:not([hidden])"), cut = [];
    const box = (node) => node.getBoundingClientRect();
    for (const node of shadowRoot.querySelectorAll("*")) {
        const written = !node.ownerSVGElement && [...node.childNodes].some((child) => child.nodeType === 3 && child.data.trim());
        if (node.closest(".unseen, style, option") || !(written || node.matches("input, select, button, svg, canvas"))) continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        const seen = written ? range.getBoundingClientRect() : box(node);
        if (!seen.width || getComputedStyle(node).clipPath !== "none") continue;
        for (let place = node; place; place = place.parentElement ?? place.getRootNode().host) {
            const style = getComputedStyle(place), {left, right, top, bottom} = box(place);
            if (place.id !== "preview" && style.overflowX === "visible" && style.overflowY === "visible") continue;
            if (seen.left < left - 1 || seen.right > right + 1 || seen.top < top - 1 || seen.bottom > bottom + 1) {
                cut.push(node.outerHTML.slice(0, 80));
            }
        }
    }
    return cut;
}"""


# ----------------------------------------------------------------------------------------------------------- tools
def live_panel(page: Any, number: int) -> Any:
    """Return the panel of the stop with this number, once it is shown (or its question is) and live."""
    page.wait_for_function(
        """(number) => document.querySelectorAll(".stop")[number - 1].querySelector("coil-panel").dataset.state === "live" """,
        arg=number, timeout=4 * LIVE,
    )
    return page.locator(f"{HERE} coil-panel")


def engines(page: Any) -> list[str]:
    """Return the workers that ran Python (not the light ones, that work out a map's cells)."""
    return [address for address in page.visit_workers if address.endswith("worker.js")]


def place(page: Any) -> tuple[int, int]:
    """Return (stop, step) as the page's address says it."""
    stop, step = re.search(r"#(\d+)(?:\.(\d+))?", page.url).groups()
    return int(stop), int(step or 0)


def at(page: Any, stop: int, step: int = 0) -> None:
    """Wait until the page stands there."""
    page.wait_for_function("(there) => location.hash.split('/')[0] === there", arg=f"#{stop}.{step}" if step else f"#{stop}")


def number_of(key: str) -> int:
    return STOPS.index(stop_named(key)) + 1


def values(panel: Any) -> dict[str, Any]:
    return panel.evaluate("(panel) => panel.values")


def standing(panel: Any, wanted: dict[str, Any]) -> None:
    """Wait until the sliders of `panel` stand at `wanted` and its whole picture is drawn."""
    panel.page.wait_for_function(
        """([panel, wanted]) => Object.entries(wanted).every(([symbol, value]) => typeof value === "number"
            ? Math.abs(panel.values[symbol] - value) < 1e-9 : panel.values[symbol] === value)""",
        arg=[panel.element_handle(), wanted], timeout=LIVE,
    )


def shows_the_native_picture(panel: Any, stop: Any, step: int) -> bool:
    """Say whether the sentence and readings on the screen are those that this process computes, once they are drawn.

    A coil that bounces from pulse to pulse may differ in its last digits, which grow (see `held_against_native`).
    """
    from playwright.sync_api import TimeoutError as PlaywrightTimeout

    picture = PANELS[stop.panel].picture(stop.values_at(step), fill=True)
    texts = {reading.label: reading.text for reading in picture.readings}
    with contextlib.suppress(PlaywrightTimeout):  # of the whole picture, not of the last step's or a quick one
        panel.page.wait_for_function(
            """([panel, words]) => panel.shadowRoot.querySelector(".sentence").textContent.startsWith(words)""",
            arg=[panel.element_handle(), picture.sentence], timeout=SETTLED,
        )
    seen = shown(panel)
    expected = {"sentence": picture.sentence, "labels": seen["labels"], "texts": [texts[label] for label in seen["labels"]]}
    return same(seen, expected, stop.panel)


@pytest.fixture
def visit(whole_chromium: Any, site: str) -> Iterator[Visit]:
    """A fresh profile of a browser with windows: the talk has two, and the build without them draws but one."""
    one = Visit(whole_chromium, site)
    yield one
    one.end()


@pytest.fixture(scope="module")
def talk(whole_chromium: Any, site: str) -> Iterator[Any]:
    """The projected page, live."""
    one = Visit(whole_chromium, site)
    page = one.open(TALK, width=SCREEN["width"], before=lambda context: context.add_init_script(WRITTEN))
    page.set_viewport_size(SCREEN)
    live_panel(page, 1)
    page.visit_workers = one.workers
    yield page
    one.end()


def opened_presenter(page: Any) -> Any:
    with page.context.expect_page() as opened:
        page.keyboard.press("p")
    opened.value.locator("#apart").wait_for(state="hidden")
    return opened.value


def shut(page: Any, presenter: Any) -> None:
    """Close the presenter's window; return once `page` knows that it is gone, or the next one would be this one again."""
    page.evaluate("() => addEventListener('message', ({source}) => (globalThis.theirs = source))")
    page.wait_for_function("() => globalThis.theirs && !globalThis.theirs.closed")  # it says hello every second
    presenter.close()
    page.wait_for_function("() => globalThis.theirs.closed")


@pytest.fixture(scope="module")
def presenter(talk: Any) -> Any:
    """The presenter's window, opened by its key."""
    return opened_presenter(talk)


# ------------------------------------------------------------------------------------------------ the whole of it
def test_the_whole_talk_by_keys_the_question_first_then_each_step_at_a_key(talk: Any, presenter: Any):
    talk.bring_to_front()
    talk.keyboard.press("Home")
    steps, other = 0, []
    too_small = []
    for number, stop in enumerate(STOPS, 1):
        at(talk, number)
        assert talk.locator(HERE).count() == 1
        assert talk.locator(f"{HERE} .ask").is_visible()
        panel = live_panel(talk, number)
        assert panel.is_hidden(), "the question stands alone: nothing beside it answers it"
        assert stop.picture().sentence not in talk.locator("body").inner_text()
        presenter.locator("#title", has_text=f"{number} of {len(STOPS)}: {stop.title}").wait_for()
        assert stop.ask in presenter.locator(".now").inner_text()
        assert panel.get_attribute("name") == stop.panel
        for step in range(1, len(stop.steps) + 1):
            talk.keyboard.press(KEYS[(number + step) % 3])
            at(talk, number, step)
            panel.wait_for(state="visible")
            standing(panel, positions(stop)[step - 1])
            other += [] if shows_the_native_picture(panel, stop, step) else [(number, step, shown(panel))]
            steps += 1
            assert sorted(panel.locator(".readings dt").all_inner_texts()) == sorted(stop.readings)
            assert panel.get_by_role("button", name="Listen").count() == stop.heard
            assert panel.locator("input[type=range]:visible, select:visible").count() >= len(stop.controls)
            for unwanted in (NOT_FITTING, OVERLAPPING):  # the drawings settle to the size of their place
                talk.wait_for_function(f"() => !({unwanted})().length")
            too_small += [(number, step, *each) for each in talk.evaluate(LETTERS) if each[1] < LEAST * SCREEN["height"] - 0.05]
            presenter.locator(".now h2", has_text=stop.steps[step - 1].label).wait_for()
            assert filled(stop, stop.steps[step - 1].say, step) in presenter.locator(".now").inner_text()
        talk.keyboard.press(KEYS[number % 3])
    at(talk, len(STOPS) + 1)
    assert CLOSING in talk.locator(HERE).inner_text()
    assert talk.locator(".address").inner_text() == NO_ADDRESS, "this machine's own address is none to go on to"
    talk.keyboard.press("PageDown")
    assert place(talk) == (len(STOPS) + 1, 0), "the closing words stay"
    assert too_small == []
    assert len(other) <= 3, f"of {steps}: {other}"
    assert len(engines(talk)) == 1, "one engine for the whole talk, the preview included"


def test_back_jump_restart_and_blank(talk: Any, presenter: Any):
    talk.bring_to_front()
    talk.keyboard.press("9")
    panel = live_panel(talk, 9)
    at(talk, 9)
    talk.keyboard.press("PageUp")
    assert place(talk) == (8, len(STOPS[7].steps)), "back goes to the last step of the stop before"
    talk.keyboard.type("12")
    at(talk, 12)
    slack = number_of("slack")
    talk.keyboard.press(str(slack))
    for _ in range(2):
        talk.keyboard.press("PageDown")
    at(talk, slack, 2)
    standing(panel, positions(stop_named("slack"))[1])
    slider = panel.locator("input[name=preload]")
    slider.focus()
    after_painting(panel, lambda: slider.press("ArrowRight"))  # a slider reached by Tab keeps the arrows ...
    assert values(panel)["preload"] > positions(stop_named("slack"))[1]["preload"]
    assert place(talk) == (slack, 2)
    after_painting(panel, lambda: talk.keyboard.press("r"))
    standing(panel, positions(stop_named("slack"))[1])
    talk.keyboard.press("PageUp")  # back at the first step the sliders are where it wants them
    at(talk, slack, 1)
    standing(panel, positions(stop_named("slack"))[0])
    talk.keyboard.press("PageDown")
    standing(panel, positions(stop_named("slack"))[1])
    talk.keyboard.press("PageDown")  # ... and a clicker's keys go on all the same
    at(talk, slack + 1)
    talk.keyboard.press("b")
    assert talk.locator(".blank").is_visible()
    presenter.locator("#seen", has_text="blank").wait_for()
    talk.keyboard.press("b")
    assert talk.locator(".blank").is_hidden()


def test_a_slider_grabbed_by_the_mouse_moves_the_model_and_gives_the_arrows_back(talk: Any):
    talk.bring_to_front()
    talk.evaluate("location.hash = '#8.1'")
    panel = live_panel(talk, 8)
    panel.wait_for(state="visible")
    standing(panel, positions(STOPS[7])[0])
    box = panel.locator("input[name=preload]").bounding_box()
    middle = box["y"] + box["height"] / 2

    def drag() -> None:
        talk.mouse.move(box["x"] + 0.38 * box["width"], middle)
        talk.mouse.down()
        talk.mouse.move(box["x"] + 0.2 * box["width"], middle, steps=6)
        talk.mouse.up()

    after_painting(panel, drag)
    assert values(panel)["preload"] < 0.8 * positions(STOPS[7])[0]["preload"]
    talk.keyboard.press("ArrowRight")
    at(talk, 9)


# ------------------------------------------------------------------------------------------- the presenter's window
def test_sliders_and_play_of_the_presenters_window_move_the_projected_panel_and_follow_it(talk: Any, presenter: Any):
    presenter.bring_to_front()
    number, stop = number_of("slack"), stop_named("slack")
    presenter.keyboard.press(str(number))
    at(talk, number)
    theirs, ours = live_panel(talk, number), presenter.locator(PREVIEW)
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)
    presenter.locator("#seen", has_text="question alone").wait_for()
    slider = ours.locator("input[name=preload]")
    slider.focus()
    slider.press("PageDown")  # a page key turns the page, also on a slider
    at(talk, number, 1)
    after_painting(ours, lambda: slider.press("ArrowLeft"))
    moved = values(ours)["preload"]
    assert moved < positions(stop)[0]["preload"]
    standing(theirs, {"preload": moved})
    talk.bring_to_front()
    far = theirs.locator("input[name=rpm]")
    far.focus()
    after_painting(theirs, lambda: far.press("ArrowRight"))
    standing(ours, {"rpm": values(theirs)["rpm"], "preload": moved})
    presenter.bring_to_front()
    for word in ("Pause", "Play"):
        ours.locator("button.play").click()
        theirs.locator("button.play", has_text=word).wait_for()
    presenter.get_by_role("button", name="Sliders back").click()
    standing(theirs, positions(stop)[0])
    standing(ours, positions(stop)[0])
    assert len(engines(talk)) == 1


def test_a_run_kept_by_a_key_stays_beside_the_next_step_in_both_windows_and_fits(talk: Any, presenter: Any):
    talk.bring_to_front()
    number, stop = number_of("slack"), stop_named("slack")
    talk.evaluate(f"location.hash = '#{number}.1'")
    theirs, ours = live_panel(talk, number), presenter.locator(PREVIEW)
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)
    after_painting(theirs, lambda: talk.keyboard.press("r"))
    standing(ours, positions(stop)[0])
    talk.keyboard.press("k")
    ours.locator(".kept-run").wait_for()
    after_painting(theirs, lambda: talk.keyboard.press("PageDown"))
    at(talk, number, 2)
    kept = "(panel) => panel.comparison.run?.values.preload ?? null"
    assert theirs.evaluate(kept) == ours.evaluate(kept) == positions(stop)[0]["preload"]
    assert "1.04 N, now 0.47 N" in theirs.locator(".kept-run").inner_text().replace("\u00a0", " ")
    assert theirs.locator(".ladder g.kept .sparks-1").get_attribute("d").count("M") == 16
    assert talk.evaluate(NOT_FITTING) == []
    small = [text for text, size in talk.evaluate(LETTERS) if size < LEAST * SCREEN["height"] - 0.05]
    assert small == []
    presenter.bring_to_front()
    presenter.get_by_role("button", name="Keep / let go").click()
    theirs.locator(".kept-run").wait_for(state="hidden")
    ours.locator(".kept-run").wait_for(state="hidden")
    presenter.keyboard.press("k")
    ours.locator(".kept-run").wait_for()
    presenter.keyboard.press("PageDown")
    at(talk, number + 1)
    presenter.keyboard.press("PageUp")
    at(talk, number, 2)
    assert theirs.evaluate(kept) is None, "a stop begins as it was planned"


def test_the_presenters_window_drives_the_page_and_its_clock_knows_the_whole_talk(talk: Any, presenter: Any):
    presenter.bring_to_front()
    presenter.keyboard.press("1")
    at(talk, 1)
    presenter.locator("#begin").click()
    assert presenter.locator("#left").inner_text() in ("45:00", "44:59", "44:58")
    assert presenter.locator("#plan").inner_text() == "on time"
    presenter.get_by_role("button", name="Next").click()
    at(talk, 1, 1)
    presenter.keyboard.press("PageUp")
    at(talk, 1)
    assert re.fullmatch(r"0:\d\d of 2:30", presenter.locator("#here").inner_text())
    presenter.locator("summary").click()
    listed = presenter.locator("#outline li").all_inner_texts()
    assert [stop.title in line for stop, line in zip(STOPS, listed, strict=True)] == [True] * len(STOPS)
    presenter.locator("#outline button", has_text="Too stiff").click()
    at(talk, number_of("stiff"))
    assert "early" in presenter.locator("#plan").inner_text()
    for name in ("handout.pdf", "answers.pdf"):
        address = presenter.locator(f"a[href='{name}']").evaluate("(link) => link.href")
        content = presenter.request.get(address).body()
        assert content.startswith(b"%PDF")
        assert len(re.findall(rb"/Type /Page\b", content)) == 1
    presenter.locator("summary").click()


def test_the_short_talk_passes_stops_by_and_keeps_their_numbers(talk: Any, presenter: Any):
    presenter.bring_to_front()
    presenter.locator("#minutes").select_option("short")
    presenter.keyboard.press("Home")
    at(talk, 1)
    passed = []
    while place(talk)[0] <= len(STOPS):
        here = place(talk)
        if here[0] not in passed:
            passed.append(here[0])
        presenter.keyboard.press("PageDown")
        talk.wait_for_function("(hash) => location.hash !== hash", arg=f"#{here[0]}{f'.{here[1]}' if here[1] else ''}/20")
    assert passed == [STOPS.index(stop) + 1 for stop in told(False)]
    presenter.locator("#minutes").select_option("long")
    talk.wait_for_function("() => !location.hash.includes('/20')")


def test_the_presenters_window_may_be_shut_and_opened_again_and_its_clock_runs_on(talk: Any, presenter: Any):
    kept = presenter.evaluate("JSON.parse(localStorage.getItem('vibrating-coil-talk/clock')).begun")
    talk.bring_to_front()
    talk.keyboard.press("3")
    at(talk, 3)
    another = talk.context.new_page()  # a context with none but this left would end
    shut(talk, presenter)
    again = opened_presenter(talk)
    again.locator("#title", has_text=f"3 of {len(STOPS)}").wait_for()
    assert again.evaluate("JSON.parse(localStorage.getItem('vibrating-coil-talk/clock')).begun") == kept
    assert again.locator("#begin").inner_text() == "Clock anew"
    assert again.locator("#plan").inner_text() != "not begun"
    shut(talk, again)
    another.close()


def test_with_the_projected_page_shut_the_page_keys_still_turn_the_pages_and_it_can_be_opened_again(visit: Visit):
    page = visit.open(f"{TALK}#5", width=SCREEN["width"])
    presenter = opened_presenter(page)
    presenter.locator("#title", has_text="5 of").wait_for()
    page.close()
    presenter.locator("#apart").wait_for(state="visible")
    assert "turn the pages of this window alone" in presenter.locator("#apart").inner_text()
    presenter.keyboard.press("PageDown")
    presenter.locator(".now", has_text=filled(STOPS[4], STOPS[4].steps[0].say)).wait_for()
    presenter.keyboard.press("7")
    presenter.locator("#title", has_text="7 of").wait_for()
    with visit.context.expect_page() as opened:
        presenter.get_by_role("button", name="Open the projected page").click()
    at(opened.value, 7)
    presenter.locator("#apart").wait_for(state="hidden")
    presenter.keyboard.press("PageDown")
    at(opened.value, 7, 1)


def test_a_presenters_window_by_itself_says_so(visit: Visit):
    page = visit.open("talk/presenter.html")
    page.locator("#apart").wait_for(state="visible")
    assert STOPS[0].lead in page.locator(".now").inner_text()
    page.keyboard.press("PageDown")
    page.locator(".now", has_text=filled(STOPS[0], STOPS[0].steps[0].say)).wait_for()


def test_the_last_screen_shows_the_address_that_the_presenter_gave(visit: Visit):
    page = visit.open(f"{TALK}#{len(STOPS) + 1}")
    presenter = opened_presenter(page)
    presenter.locator("summary").click()
    presenter.locator("#address").fill("coils.example/course")
    presenter.locator("#address").press("Enter")
    page.locator(".address", has_text="coils.example/course").wait_for()
    page.reload()
    page.locator(".address", has_text="coils.example/course").wait_for()


def test_it_begins_again_where_it_stood_and_either_window_may_be_loaded_anew(visit: Visit):
    page = visit.open(f"{TALK}#7.2/20")
    presenter = opened_presenter(page)
    page.reload()
    assert place(page) == (7, 2)
    presenter.locator("#title", has_text=f"7 of {len(STOPS)}").wait_for()  # it says hello again, every second
    standing(live_panel(page, 7), positions(STOPS[6])[1])
    presenter.reload()
    presenter.locator("#title", has_text=f"7 of {len(STOPS)}").wait_for()
    assert presenter.locator("#minutes").input_value() == "short"
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)


@pytest.mark.parametrize(("width", "height"), [(1024, 700), (1280, 720)])
def test_all_that_is_needed_while_speaking_is_in_one_view(talk: Any, width: int, height: int):
    talk.bring_to_front()
    talk.evaluate("location.hash = '#9.2'")
    presenter = opened_presenter(talk)
    presenter.set_viewport_size({"width": width, "height": height})
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)
    hands = (f"{PREVIEW} input[name=preload]", f"{PREVIEW} button.play", "button[data-do=next]")
    for inside in ("#left", "#next", "#seen", ".now h2", *hands):
        box = presenter.locator(inside).bounding_box()
        assert box["x"] >= 0, inside
        assert box["y"] >= 0, inside
        assert box["x"] + box["width"] <= width, inside
        assert box["y"] + box["height"] <= height, inside
    assert presenter.evaluate("document.scrollingElement.scrollHeight <= innerHeight")
    shut(talk, presenter)


def test_nothing_in_the_preview_is_cut_off(talk: Any):
    from playwright.sync_api import TimeoutError as PlaywrightTimeout

    talk.bring_to_front()
    presenter = opened_presenter(talk)
    cut = []
    for number in range(1, len(STOPS) + 1):
        talk.evaluate(f"location.hash = '#{number}.1'")
        presenter.locator("#title", has_text=re.compile(f"^{number} of")).wait_for()
        presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)
        for width, height in ((1024, 768), (1180, 720), (1280, 800), (1920, 1080)):
            presenter.set_viewport_size({"width": width, "height": height})
            with contextlib.suppress(PlaywrightTimeout):  # a drawing settles to the size of its place
                presenter.wait_for_function(f"() => !({CUT_OFF})().length", timeout=SETTLED)
            cut += [(number, width, node) for node in presenter.evaluate(CUT_OFF)]
    assert cut == []
    shut(talk, presenter)


def test_a_stop_at_lesson_nines_bench_has_its_lines_and_tools_in_both_windows(visit: Visit, monkeypatch: Any):
    """No stop of the talk is one: it takes the place of the first, in pages written as the book's own are."""
    sheet = ["run", "swap", "run", "drop", "run", "cushion force", "bend cushion down much"]
    bench = Stop(
        "bench", "A coil on the bench", "setting_up", 2.5, 2, "Here is a coil.", "What do you look at first?", "",
        (Step("As it came.", values={"coil": 4.0, "log": []}), Step("Seven lines on.", values={"coil": 4.0, "log": sheet})),
        ("ladder",), ("coil", "log"), (),
    )
    monkeypatch.setattr("book.making.talk.STOPS", (bench, *STOPS[1:]))

    def give(route: Any) -> None:
        text = route.fetch().text()
        start = re.search(r'src="([^"]*start\.js)"', text)
        route.fulfill(body=projected(start.group(1)) if start else presenters(), content_type="text/html")

    def trap(context: Any) -> None:
        context.add_init_script(WRITTEN)
        context.route(re.compile(r"/talk/(index|presenter)\.html"), give)

    page = visit.open(f"{TALK}#1.1", width=SCREEN["width"], before=trap)
    page.set_viewport_size(SCREEN)
    theirs = live_panel(page, 1)
    presenter = opened_presenter(page)
    presenter.set_viewport_size({"width": 1180, "height": 720})
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)
    ours = presenter.locator(PREVIEW)
    tools = ours.locator("select")
    tools.focus()
    tools.select_option("Condenser, held apart")
    presenter.keyboard.press("Enter")
    for panel in (ours, theirs):
        panel.locator(".log li:nth-child(2)", has_text="1. Condenser, held apart").filter(has_not_text="\u2026").wait_for()
    page.bring_to_front()
    page.keyboard.press("PageDown")
    at(page, 1, 2)
    for panel in (ours, theirs):
        panel.locator(".log li:nth-child(8)").filter(has_not_text="\u2026").wait_for()
        panel.page.wait_for_function("""({shadowRoot}) => {
            const box = (each) => shadowRoot.querySelector(each).getBoundingClientRect();
            const last = box(".log li:last-child"), sheet = box(".sheet");
            return last.height && last.bottom <= sheet.bottom + 1;
        }""", arg=panel.element_handle())  # the last line is seen
    page.wait_for_function(f"() => !({NOT_FITTING})().length")
    assert [each for each in page.evaluate(LETTERS) if each[1] < LEAST * SCREEN["height"] - 0.05] == []
    theirs.locator(".sheet").focus()
    page.keyboard.press("Home")
    page.wait_for_function("""() => document.querySelector("coil-panel").shadowRoot.querySelector(".sheet").scrollTop === 0""")
    assert place(page) == (1, 2), "the lines scroll with the arrows, Home and End, and the talk stays"
    page.keyboard.press("PageUp")
    at(page, 1, 1)
    page.keyboard.press("r")  # the sheet as the step begins
    for panel in (ours, theirs):
        panel.locator(".log li:only-child").wait_for()
    assert not serious(page)


def test_the_accessibility_audit_of_both_windows_finds_nothing_serious(talk: Any):
    talk.bring_to_front()
    talk.evaluate("location.hash = '#9.1'")
    presenter = opened_presenter(talk)
    presenter.locator("summary").click()
    for page in (talk, presenter):
        assert not serious(page)
    shut(talk, presenter)


def test_from_a_double_click_the_two_windows_are_in_step_too_and_the_preview_is_alive(visit: Visit, html: Any):
    page = visit.open(f"{(html / TALK).as_uri()}#8", width=SCREEN["width"])
    presenter = opened_presenter(page)
    page.keyboard.press("PageDown")
    presenter.locator(".now", has_text=filled(STOPS[7], STOPS[7].steps[0].say)).wait_for()
    presenter.locator(f"{PREVIEW}[data-state=live]").wait_for(timeout=4 * LIVE)


def test_course_talk_serves_the_built_book_to_this_machine_alone(html: Any):
    command = [sys.executable, str(ROOT / "course.py"), "talk", "--no-browser"]
    # A shell that starts CI in the background has Ctrl-C ignored in all that it starts; the child must hear it all the same.
    heard = functools.partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, preexec_fn=heard) as served:
        try:
            said = next(line for line in served.stdout if "The talk is at" in line)
            address = re.search(r"http://127\.0\.0\.1:\d+/talk/", said).group(0)
            assert "page keys, arrows or a clicker" in next(served.stdout)
            with urllib.request.urlopen(address) as reply:
                assert b'class="stop"' in reply.read()
            script = next((html / "_static").glob("pyodide-*/pyodide.mjs")).relative_to(html).as_posix()
            with urllib.request.urlopen(address.replace("talk/", script)) as reply:
                assert reply.headers["Content-Type"] == "text/javascript"
        finally:
            served.send_signal(signal.SIGINT)
            try:
                status = served.wait(timeout=20)
            except subprocess.TimeoutExpired:
                served.kill()  # or this test would wait for it for ever
                raise
        assert status == 130
