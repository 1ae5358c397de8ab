"""A lesson's page in a real browser, used as a learner would."""

from __future__ import annotations

import contextlib
from typing import Any

import pytest

from lessons.engine import Engine
from lessons.exercises import EXERCISES

from .browsing import (
    LESSON,
    LIVE,
    assert_wrong_and_right,
    check,
    held_against_native,
    live,
    native,
    pixels,
    press,
    serious,
    shown,
)

pytestmark = pytest.mark.browser


def test_a_slider_moved_by_keys_changes_the_picture_and_the_readings_are_those_of_the_native_model(lesson):
    panel, engine = live(lesson), Engine()
    assert held_against_native(panel, engine)
    before, picture = shown(panel), pixels(panel)
    decided = 0
    for key in ("ArrowLeft", "ArrowLeft", "PageDown", "PageDown", "PageDown", "Home", "End"):
        press(panel, 0, key)
        decided += held_against_native(panel, engine)
    assert decided >= 5
    assert shown(panel) != before
    assert pixels(panel) != picture


def test_a_slider_dragged_by_mouse_ends_where_the_native_model_does(lesson):
    panel, engine = live(lesson), Engine()
    panel.get_by_role("button", name="Reset").click()
    slider = panel.locator("input[type=range]").first
    slider.scroll_into_view_if_needed()
    start = panel.evaluate("(panel) => panel.values[panel.panel.controls[0].symbol]")
    box = slider.bounding_box()
    middle = box["y"] + box["height"] / 2
    control = panel.evaluate("(panel) => panel.panel.controls[0]")
    share = (control["default"] - control["low"]) / (control["high"] - control["low"])
    at = box["x"] + share * box["width"]
    lesson.mouse.move(at, middle)
    lesson.mouse.down()
    for part in range(30):
        lesson.mouse.move(at - 0.003 * part * box["width"], middle)
    lesson.mouse.up()
    press(panel, 0, "ArrowRight")  # its picture comes after all those of the drag
    assert panel.evaluate("(panel) => panel.values[panel.panel.controls[0].symbol]") < 0.95 * start
    held_against_native(panel, engine)


def test_every_panel_shows_the_native_readings(lesson):
    for name in lesson.locator("coil-panel").evaluate_all("(panels) => panels.map((panel) => panel.getAttribute('name'))"):
        panel = live(lesson, f"coil-panel[name={name}]")
        panel.get_by_role("button", name="Reset").click()
        press(panel, 0, "ArrowLeft")
        assert held_against_native(panel, Engine())


def test_one_worker_serves_the_whole_page_and_the_lines_of_the_start_are_gone(lesson):
    live(lesson)
    assert len(lesson.workers) == 1
    assert lesson.locator(".coil-line:visible").count() == 0


@pytest.mark.parametrize("key", [key for key, exercise in EXERCISES.items() if exercise.lesson == 5])
def test_an_exercise_says_not_yet_to_a_known_wrong_answer_and_right_to_a_right_one(lesson, key):
    assert_wrong_and_right(live(lesson, f"coil-exercise[key='{key}']"), Engine())


@pytest.mark.parametrize("width", [360, 768, 1000, 1280])
def test_nothing_sticks_out_of_the_lesson(lesson, width):
    live(lesson)
    lesson.set_viewport_size({"width": width, "height": 900})
    assert_nothing_sticks_out(lesson, width)


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_nothing_sticks_out_of_the_start_page(visit, width):
    assert_nothing_sticks_out(visit.open("index.html", width=width), width)


STICKING_OUT = """() => [...document.querySelectorAll("article *")]
    .filter((node) => node.getBoundingClientRect().right > innerWidth + 1 && !node.closest("pre, table, .math"))
    .map((node) => node.outerHTML.slice(0, 80))"""


def assert_nothing_sticks_out(page: Any, width: int) -> None:
    """Assert it once the page has come to rest: the theme slides its side bars in and out, and a panel finds its new width."""
    page.wait_for_timeout(500)
    with contextlib.suppress(Exception):  # what still sticks out then is said below
        page.wait_for_function(f"document.scrollingElement.scrollWidth <= {width} && !({STICKING_OUT})().length", timeout=20_000)
    assert page.evaluate(STICKING_OUT) == []
    assert page.evaluate("document.scrollingElement.scrollWidth") <= width


def test_the_accessibility_audit_finds_nothing_serious_on_any_page_at_rest(visit, html):
    """Every page as it is opened, of the lessons one: tests/book/test_every_panel.py asks all of them, alive, in both schemes.

    On a wide screen by day, then on a phone by night.
    """
    paths = sorted({path.relative_to(html).as_posix() for path in html.rglob("*.html") if "_static" not in path.parts
                    and path.parent.name != "lessons"} | {LESSON})
    assert len(paths) > 20
    page = visit.open(paths[0], color_scheme="light")
    page.route("**/favicon.ico", lambda route: route.fulfill(status=204))  # a coil card is one file, without a picture of its own
    for path in paths:
        page.set_viewport_size({"width": 1280, "height": 900})
        page.emulate_media(color_scheme="light")
        page.goto(visit.site + path)
        assert not serious(page), path
        page.set_viewport_size({"width": 360, "height": 900})
        page.emulate_media(color_scheme="dark")
        page.wait_for_timeout(500)  # the theme's colours fade into one another, its side bars slide away
        assert not serious(page), f"{path}, on a phone by night"


def test_what_was_done_to_a_coil_stays_done_when_the_page_is_opened_again(visit):
    """Lesson 9: no fresh coil by loading the page anew; a new sheet is offered only once the coil was handed back."""
    page = visit.open("lessons/09_setting_up.html")
    task = "coil-exercise[key='09-first-coil']"

    def lines() -> list[str]:
        """Return what stands on the sheet, once every line of it has been told."""
        page.wait_for_function("""(task) => { const texts = [...document.querySelector(task).shadowRoot
            .querySelector("coil-panel").shadowRoot.querySelectorAll("ol.log li span")].map((node) => node.textContent);
            return texts.length && texts.every((text) => text !== "\u2026"); }""", arg=task, timeout=LIVE)
        return live(page, task).locator("ol.log li").all_inner_texts()

    exercise = live(page, task)
    for tool in ("swap", "condenser"):  # looks alone, which can never be handed back as enough
        exercise.locator(f"button[data-tool={tool}]").click()
    written = lines()
    assert len(written) == 3  # how it was found, and two lines
    page.reload()
    exercise = live(page, task)
    assert lines() == written
    assert not exercise.locator("button.fresh").is_visible()
    assert "Not yet" in check(exercise)
    assert exercise.locator("button.fresh").is_visible()
    exercise.locator("button.fresh").click()
    page.reload()
    exercise = live(page, task)
    assert lines() == written  # handed back so, and no new line since
    assert exercise.locator("button.fresh").is_visible()


def test_a_page_without_a_panel_starts_nothing(visit):
    page = visit.open("cautions.html")
    page.wait_for_load_state("networkidle")
    assert visit.workers == []
    assert not [address for address in visit.requests if "pyodide" in address or "face.js" in address or "mathjax" in address]


def test_the_search_finds_a_word_of_a_lesson(visit):
    page = visit.open("index.html")
    page.get_by_role("button", name="Search").first.click()
    page.keyboard.type("rivet")
    page.keyboard.press("Enter")
    page.locator("#search-results a", has_text="Cushion-spring").first.wait_for(timeout=LIVE)


def test_the_progress_page_lists_the_exercises(visit):
    page = visit.open("progress.html")
    progress = live(page, "coil-progress")
    assert progress.get_by_text("Lesson 5").first.is_visible()
    assert len(visit.workers) == 1


@pytest.mark.parametrize("beforehand", [True, False])
def test_until_the_model_has_come_the_panel_shows_a_picture_and_how_far_the_start_is(visit, beforehand):
    def hold(context):
        context.route("**/*.wasm", lambda route: None)  # never answered
        if not beforehand:
            context.route("**/early-*", lambda route: None)

    page = visit.open(before=hold)
    panel = page.locator("coil-panel").first
    panel.scroll_into_view_if_needed()
    if beforehand:
        assert shown(live(page, model=False)) == native("cushion", {}, Engine())
    else:
        assert panel.locator("figure img").is_visible()
        assert len(panel.locator("figure img").get_attribute("alt")) > 40
        assert panel.locator("figcaption").inner_text()
    line = page.locator(".coil-line").first
    line.get_by_text("Starting Python").wait_for(timeout=LIVE)
    assert line.get_attribute("role") == "status"


def test_without_script_every_panel_and_exercise_has_its_stand_in(visit):
    page = visit.open(java_script_enabled=False)
    assert page.locator("coil-panel").count() >= 2
    for panel in page.locator("coil-panel").all():
        assert panel.locator("figure img").is_visible()
    for exercise in page.locator("coil-exercise").all():
        assert len(exercise.inner_text()) > 40


def test_from_a_double_click_the_page_is_alive_too(visit, html):
    page = visit.open((html / LESSON).as_uri())
    panel, engine = live(page), Engine()
    press(panel, 0, "ArrowLeft")
    assert held_against_native(panel, engine)
    assert not [address for address in visit.requests if not address.startswith(("file:", "data:"))]
