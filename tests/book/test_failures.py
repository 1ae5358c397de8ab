"""What the page does when something fails: one sentence, a way on, nothing lost."""

from __future__ import annotations

import json
from typing import Any

import pytest

from lessons.engine import Engine

from .browsing import LESSON, LIVE, after_painting, ask, held_against_native, live, press

pytestmark = pytest.mark.browser

KEPT = "vibrating-coil-course/record"
KEY = next(iter(Engine().exercises))


def kept(page: Any) -> dict[str, Any]:
    """Return the record that the browser keeps."""
    return json.loads(page.evaluate("(key) => localStorage.getItem(key)", KEPT))


def shows_a_picture(page: Any) -> None:
    """Wait until the first panel shows the picture that came with the page, or one that was made at build."""
    page.locator("coil-panel").first.locator("figure").filter(visible=True).first.wait_for(timeout=LIVE)


def test_a_model_that_cannot_be_fetched_is_said_in_a_sentence_and_tried_again(visit):
    visit.expected = ("ERR_FAILED",)
    page = visit.open(before=lambda context: context.route("**/*.wasm", lambda route: route.abort()))
    line = page.locator(".coil-line").first
    again = line.get_by_role("button", name="Try again")
    again.wait_for(timeout=LIVE)
    assert "Nothing that you did is lost." in line.inner_text()
    shows_a_picture(page)
    page.context.unroute("**/*.wasm")
    again.click()
    live(page)
    assert not line.is_visible()


@pytest.mark.parametrize("missing", [
    "course.zip", "face.js", "page.js", "worker.js", "pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip",
])
def test_whatever_part_is_missing_the_page_says_so(visit, missing):
    visit.expected = ("404", "standard library", "Error: python_stdlib.zip")
    page = visit.open(before=lambda context: context.route(f"**/{missing}", lambda route: route.fulfill(status=404)))
    page.locator(".coil-line").first.get_by_text("could not").wait_for(timeout=LIVE)
    shows_a_picture(page)


def test_a_worker_that_dies_loses_nothing(visit):
    visit.expected = ("the end",)
    page = visit.open()
    panel, engine = live(page), Engine()
    ask(page, {"do": "hint", "key": KEY})
    panel.get_by_role("button", name="Keep this to compare").click()
    kept = panel.locator(".readings dd:not(.kept)").all_inner_texts()
    slider = press(panel, 0, "ArrowLeft")
    page.workers[0].evaluate("() => { setTimeout(() => { throw new Error('the end') }) }")
    line = page.locator(".coil-line").first
    again = line.get_by_role("button", name="Try again")
    again.wait_for()
    slider.press("ArrowLeft")  # moved while there is no worker: answered by the next one
    after_painting(panel, again.click)
    assert held_against_native(panel, engine)
    assert not line.is_visible()
    assert len(visit.workers) == 2
    beside = zip(kept, panel.locator(".readings dd").all_inner_texts()[::2], panel.locator(".readings dd.kept").all_inner_texts())
    assert all(said == ("kept the same" if now == before else f"kept {before}") for before, now, said in beside)
    assert panel.locator(".ladder g.kept .sparks-1").get_attribute("d").count("M") == 16
    assert len(ask(page, {"do": "exercise", "key": KEY})["state"]["hints"]) == 1


def test_an_answer_that_never_comes_is_given_up_and_the_page_goes_on(visit):
    page = visit.open(before=lambda context: context.clock.install())
    panel, engine = live(page), Engine()
    page.wait_for_function("!coilHost.current && !coilHost.waiting.length")  # nothing else is being answered
    page.workers[0].evaluate("() => { self.onmessage = () => {} }")  # from now on it hears nothing
    panel.locator("input[type=range]").first.press("ArrowLeft")
    page.wait_for_function("coilHost.current")  # the question has been asked, its time runs
    page.clock.fast_forward(61_000)
    panel.get_by_text("took more than 60 s").wait_for()
    page.clock.resume()
    after_painting(panel, lambda: panel.locator("input[type=range]").first.press("ArrowLeft"))
    assert held_against_native(panel, engine)
    assert len(visit.workers) == 2


def test_the_record_is_kept_each_nickname_its_own(visit):
    page = visit.open()
    ask(page, {"do": "learner", "nickname": "Robin"})
    ask(page, {"do": "hint", "key": KEY})
    assert kept(page)["exercises"][KEY]["hints"] == 1
    ask(page, {"do": "learner", "nickname": "Kim"})
    assert not kept(page)["exercises"]
    page.reload()
    assert ask(page, {"do": "progress"})["nickname"] == "Kim"
    assert ask(page, {"do": "learner", "nickname": "robin"})["record"]["exercises"][KEY]["hints"] == 1
    assert kept(page)["nickname"].casefold() == "robin"
    assert len(ask(page, {"do": "exercise", "key": KEY})["state"]["hints"]) == 1


def test_what_another_tab_did_is_taken_up(visit):
    page = visit.open()
    ask(page, {"do": "hint", "key": KEY})
    record = kept(page)
    record["exercises"][KEY]["hints"] = 2
    other = page.context.new_page()
    other.goto(page.url.replace(LESSON, "index.html"))
    other.evaluate("([key, text]) => localStorage.setItem(key, text)", [KEPT, json.dumps(record)])
    page.wait_for_function("(text) => coilHost.keeper.text === text", arg=json.dumps(record))
    assert len(ask(page, {"do": "exercise", "key": KEY})["state"]["hints"]) == 2


def test_a_kept_record_that_cannot_be_read_is_said_and_set_aside(visit):
    once = "location.protocol === 'http:' && !sessionStorage.put"
    put = f"if ({once}) {{ localStorage.setItem('{KEPT}', '{{'); sessionStorage.put = 1; }}"
    page = visit.open(before=lambda context: context.add_init_script(put))
    page.locator(".coil-notice").get_by_text("could not be read and was set aside").wait_for(timeout=LIVE)
    assert page.evaluate("(key) => localStorage.getItem(key)", f"{KEPT}/not-readable") == "{"
    ask(page, {"do": "hint", "key": KEY})
    assert kept(page)["exercises"]


def test_storage_refused_or_full_is_said_and_the_page_works_on(visit):
    visit.expected = ("is full",)  # the theme, which keeps light or dark there, complains too
    full = "Storage.prototype.setItem = () => { throw new DOMException('is full', 'QuotaExceededError'); }"
    page = visit.open(before=lambda context: context.add_init_script(full))
    ask(page, {"do": "hint", "key": KEY})
    page.locator(".coil-notice").get_by_text("does not keep your record").wait_for()
    page.evaluate("coilHost.start()")  # a new worker still knows it: the page has it
    assert len(ask(page, {"do": "exercise", "key": KEY})["state"]["hints"]) == 1
