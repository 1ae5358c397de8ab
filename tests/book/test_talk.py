"""The talk in a real browser, given as a presenter gives it: by keys, on a screen of 1024 x 768."""

from __future__ import annotations

import functools
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from typing import Any

import pytest

from lessons.panels import PANELS
from lessons.talk import STOPS, filled, picture_of

from .browsing import LIVE, ROOT, Visit, after_painting, shown

pytestmark = pytest.mark.browser

TALK = "talk/index.html"
SCREEN = {"width": 1024, "height": 768}
HERE = ".stop:not([hidden])"


def on_screen(page: Any) -> Any:
    """Return the panel of the stop that is shown, once it is live."""
    page.locator(f"{HERE} coil-panel[data-state=live]").wait_for(timeout=2 * LIVE)
    return page.locator(f"{HERE} coil-panel")


def number(page: Any) -> int:
    """Return the number of the stop that is shown."""
    return int(page.locator(f"{HERE} h1 span").inner_text().split()[0])


def values_of(key: str) -> dict[str, Any]:
    """Return the slider positions that a stop begins with."""
    stop = next(stop for stop in STOPS if stop.key == key)
    return {**PANELS[stop.panel].defaults(), **stop.values}


@pytest.fixture(scope="module")
def talk(chromium: Any, site: str) -> Iterator[Any]:
    """The projected page, live."""
    one = Visit(chromium, site)
    page = one.open(TALK, width=SCREEN["width"])
    page.set_viewport_size(SCREEN)
    on_screen(page)
    page.visit_workers = one.workers
    yield page
    one.end()


@pytest.fixture(scope="module")
def presenter(talk: Any) -> Any:
    """The presenter's window, opened by its key."""
    with talk.context.expect_page() as opened:
        talk.keyboard.press("p")
    opened.value.locator("#apart").wait_for(state="hidden")
    return opened.value


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


def test_all_stops_by_keys_each_live_with_its_values_and_within_the_screen(talk: Any, presenter: Any):
    talk.bring_to_front()
    talk.keyboard.press("Home")
    same = 0
    for place, stop in enumerate(STOPS, 1):
        assert number(talk) == place
        panel = on_screen(talk)
        assert talk.locator(HERE).count() == 1
        assert panel.get_attribute("name") == stop.panel
        assert panel.evaluate("(panel) => panel.values") == pytest.approx(values_of(stop.key))
        labels = panel.locator(".readings dt").all_inner_texts()
        assert sorted(labels) == sorted(stop.readings)
        same += shows_the_native_picture(panel, stop.key)
        talk.wait_for_timeout(100)  # the drawings settle to the size of their place
        assert talk.evaluate(NOT_FITTING) == []
        assert panel.locator("input[type=range]:visible, select:visible").count() >= len(stop.controls)
        presenter.locator("#title", has_text=f"{place} of {len(STOPS)}: {stop.title}").wait_for()
        assert presenter.locator("#line").inner_text() == filled(stop, stop.line)
        talk.keyboard.press(("PageDown", "ArrowRight", " ")[place % 3])
    assert number(talk) == len(STOPS), "the last stop stays"
    assert same >= len(STOPS) - 2
    assert len(talk.visit_workers) == 1, "one worker for the whole talk"


def shows_the_native_picture(panel: Any, key: str) -> bool:
    """Say whether the sentence and readings on the screen are those that this process computes.

    A coil that bounces from pulse to pulse may differ in its last digits, which grow (see `held_against_native`).
    """
    picture = picture_of(key)
    texts = {reading.label: reading.text for reading in picture.readings}
    seen = shown(panel)
    return seen["sentence"] == picture.sentence and seen["texts"] == [texts[label] for label in seen["labels"]]


def test_back_jump_restart_and_blank(talk: Any, presenter: Any):
    talk.bring_to_front()
    talk.keyboard.press("9")
    panel = on_screen(talk)
    assert number(talk) == 9
    assert talk.url.endswith("#9")
    talk.keyboard.press("PageUp")
    assert number(talk) == 8
    talk.keyboard.type("12")
    talk.locator(f"{HERE} h1", has_text=f"12 of {len(STOPS)}").wait_for()
    talk.keyboard.press("9")
    slider = panel.locator("input[name=preload]")
    slider.focus()
    after_painting(panel, lambda: slider.press("ArrowRight"))  # a slider reached by Tab keeps the arrows ...
    assert panel.evaluate("(panel) => panel.values.preload") > values_of("slack")["preload"]
    assert number(talk) == 9
    after_painting(panel, lambda: talk.keyboard.press("r"))
    assert panel.evaluate("(panel) => panel.values") == pytest.approx(values_of("slack"))
    talk.keyboard.press("PageDown")  # ... and a clicker's keys go on all the same
    assert number(talk) == 10
    talk.keyboard.press("b")
    assert talk.locator(".blank").is_visible()
    presenter.locator("#blanked").wait_for(state="visible")
    talk.keyboard.press("b")
    assert talk.locator(".blank").is_hidden()


def test_a_slider_grabbed_by_the_mouse_moves_the_model_and_gives_the_arrows_back(talk: Any):
    talk.bring_to_front()
    talk.keyboard.press("8")
    panel = on_screen(talk)
    box = panel.locator("input[name=preload]").bounding_box()
    middle = box["y"] + box["height"] / 2

    def drag() -> None:
        talk.mouse.move(box["x"] + 0.38 * box["width"], middle)
        talk.mouse.down()
        talk.mouse.move(box["x"] + 0.2 * box["width"], middle, steps=6)
        talk.mouse.up()

    after_painting(panel, drag)
    assert panel.evaluate("(panel) => panel.values.preload") < 0.8 * values_of("well")["preload"]
    talk.keyboard.press("ArrowRight")
    assert number(talk) == 9


def test_the_presenters_window_drives_the_page_and_keeps_the_time(talk: Any, presenter: Any):
    presenter.bring_to_front()
    presenter.get_by_role("button", name="Begin the clock").click()
    before = number(talk)
    presenter.keyboard.press("PageUp")
    talk.locator(f"{HERE} h1", has_text=f"{before - 1} of").wait_for()
    presenter.get_by_role("button", name="Next").click()
    talk.locator(f"{HERE} h1", has_text=f"{before} of").wait_for()
    assert re.fullmatch(r"\d+:\d\d", presenter.locator("#left").inner_text())
    assert presenter.locator("#plan").inner_text() == "on time"
    assert re.fullmatch(rf"0:\d\d of {STOPS[before - 1].minutes}:00", presenter.locator("#here").inner_text())
    for name in ("handout.pdf", "answers.pdf"):
        address = presenter.locator(f"a[href='{name}']").evaluate("(link) => link.href")
        content = presenter.request.get(address).body()
        assert content.startswith(b"%PDF")
        assert len(re.findall(rb"/Type /Page\b", content)) == 1


def test_the_accessibility_audit_of_both_windows_finds_nothing_serious(talk: Any, presenter: Any):
    for page in (talk, presenter):
        page.evaluate((ROOT / "book/node_modules/axe-core/axe.min.js").read_text(encoding="utf-8"))
        found = page.evaluate("""() => axe.run().then((result) => result.violations.map((violation) =>
            [violation.impact, violation.id, ...violation.nodes.map((node) => node.html.slice(0, 120))]))""")
        assert [each for each in found if each[0] in ("serious", "critical")] == []


def test_it_begins_again_at_the_seventh_stop_and_either_window_may_be_loaded_anew(talk: Any, presenter: Any):
    talk.evaluate("location.hash = '#7'")
    talk.reload()
    assert number(talk) == 7
    presenter.locator("#title", has_text=f"7 of {len(STOPS)}").wait_for()  # it says hello again, every second
    presenter.reload()
    presenter.locator("#title", has_text=f"7 of {len(STOPS)}").wait_for()
    assert "on time" in presenter.locator("#plan").inner_text() or "early" in presenter.locator("#plan").inner_text()


def test_from_a_double_click_the_two_windows_are_in_step_too(visit: Visit, html: Any):
    """That a panel is alive there is tested with a lesson's: the parts are the same."""
    page = visit.open(f"{(html / TALK).as_uri()}#8", width=SCREEN["width"])
    with visit.context.expect_page() as opened:
        page.keyboard.press("p")
    page.keyboard.press("PageDown")
    opened.value.locator("#title", has_text=f"9 of {len(STOPS)}").wait_for()


def test_a_presenters_window_by_itself_says_so(visit: Visit):
    page = visit.open("talk/presenter.html")
    page.locator("#apart").wait_for(state="visible")
    assert page.locator("#line").inner_text() == filled(STOPS[0], STOPS[0].line)


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
