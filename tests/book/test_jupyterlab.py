"""JupyterLab over days: what a saved lesson shows, what a stopped kernel says, and one nickname in two notebooks.

A lesson of a few cells, since what is tried here hangs on none of its words. The lessons themselves are in test_every_panel.py.
"""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lessons.record import parse

from . import lab
from .browsing import LIVE, Profile, Visit, after_painting

pytestmark = [pytest.mark.browser, pytest.mark.slow]

CELLS = (
    "from lessons.cells import exercise, onward, page, panel, progress, say", 'panel("box")', 'exercise("00-name-the-part")',
    'exercise("00-one-column")', "progress(0)", 'say("See {sheet}.", sheet=page("bench_sheet", "The bench sheet"))', "onward(0)",
)
PANEL, EXERCISE, PROGRESS = "coil-panel[name=box]", "coil-exercise[key='00-name-the-part']", "coil-progress"
NOW = "globalThis.jupyterapp.shell.currentWidget"
SAVE = f"() => {NOW}.context.save()"
SHUT = f"() => {NOW}.sessionContext.shutdown()"
RESTART = f"() => {NOW}.sessionContext.session.kernel.restart()"
KERNEL = f"{NOW}.sessionContext.session.kernel"
TELL = f"""async (expression) => {{
    const reply = await {KERNEL}.requestExecute({{code: "", user_expressions: {{it: expression}}}}).done;
    return reply.content.user_expressions.it.data["text/plain"];
}}"""
SLOW = """
import os, time
from lessons.face.widget import desk
def wait_and_answer(request, answer=desk().handle):
    while not os.path.exists({!r}):
        time.sleep(0.05)
    return answer(request)
desk().handle = wait_and_answer
"""
HEAVY = "[name for name in ('numba', 'numpy', 'matplotlib', 'scipy') if name in __import__('sys').modules]"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A learner's folder, with lessons of a few cells."""
    folder = tmp_path_factory.mktemp("a learner over days")
    lessons = folder / "lessons"
    lessons.mkdir()
    for name in ("a.ipynb", "b.ipynb", "01_magneto_current.ipynb"):
        long = {"cell_type": "markdown", "id": "long", "metadata": {}, "source": f"# {name}" + 60 * "\n\nmuch to read"}
        empty = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
        code = [{**empty, "id": f"c{number}", "source": source} for number, source in enumerate(CELLS)]
        kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
        notebook = {"nbformat": 4, "nbformat_minor": 5, "metadata": kernel, "cells": [long, *code]}
        (lessons / name).write_text(json.dumps(notebook), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    """The address of a JupyterLab with them."""
    with lab.learning(home, home / "lessons") as found:
        yield found


@pytest.fixture(scope="module")
def visit(chromium: Any, address: str, profile: Profile) -> Iterator[Visit]:
    """A browser profile; at the end it has asked nobody else, and reported no error but those that a lost kernel makes."""
    expected = ("kernel", "Kernel", "Canceled future", "WebSocket", "ERR_", "comm", "status of 404")
    one = Visit(chromium, address, profile, expected=expected)
    one.open("api").close()
    yield one
    one.end()


@pytest.fixture(scope="module")
def lab_page(visit: Visit, address: str) -> Any:
    """A page of JupyterLab for all tests that need no fresh one: to load it takes several seconds of a processor."""
    page = visit.context.new_page()
    page.goto(f"{address}lab")
    return page


@pytest.fixture
def desk(lab_page: Any, request: pytest.FixtureRequest, address: str) -> Iterator[Any]:
    """That page, where one notebook is opened in the place of the other. A test that fails leaves it as new."""
    failed = request.session.testsfailed
    yield lab_page
    if request.session.testsfailed > failed:
        lab_page.goto(f"{address}lab")


def fresh(visit: Visit, address: str, notebook: str, run: bool = True) -> Any:
    """Open a notebook in a page of its own."""
    page = visit.context.new_page()
    if run:
        lab.opened(page, address, notebook)
    else:
        page.goto(f"{address}lab/workspaces/{Path(notebook).stem}/tree/{notebook}")
        page.wait_for_function(lab.READY, timeout=2 * LIVE)
    return page


def cell_of(selector: str) -> int:
    word = {"coil-panel": "panel", "coil-exercise": "exercise", "coil-progress": "progress"}[selector.split("[")[0]]
    return 1 + next(number for number, source in enumerate(CELLS) if source.startswith(f"{word}("))


def live(page: Any, selector: str) -> Any:
    return lab.brought(page, selector, cell_of(selector))


def asleep(page: Any, selector: str) -> str:
    """Return what stands in the place of an element that is not alive."""
    page.evaluate(lab.SCROLL_TO, cell_of(selector))
    element = page.locator(f".jp-Notebook {selector}").first
    element.get_by_text("brings this alive").wait_for(timeout=LIVE)
    return element.inner_text()


def ended(page: Any) -> None:
    lab.asked(page, lab.SHUT)


def stopped(page: Any, says: str) -> None:
    """Assert that the panel says so, and that nothing can be moved beside a picture that will not follow."""
    panel = page.locator(f".jp-Notebook {PANEL}[data-state=stopped]").first  # an exercise has one more
    panel.wait_for(timeout=LIVE)
    panel.get_by_text(says).wait_for()
    slider = panel.locator("input[type=range]").first
    assert slider.is_disabled()
    assert panel.get_by_role("button", name="Reset").is_disabled()
    for selector, name in ((EXERCISE, "Check"), (PROGRESS, "Use this nickname")):
        page.evaluate(lab.SCROLL_TO, cell_of(selector))
        assert page.locator(f".jp-Notebook {selector}").first.get_by_role("button", name=name).is_disabled()


def all_alive(page: Any) -> None:
    for selector in (PANEL, EXERCISE, PROGRESS):
        live(page, selector)


def test_a_saved_lesson_opened_on_another_day_shows_its_stand_ins_and_how_it_comes_alive(visit, desk, address, home):
    lab.opened_too(page := desk, "a.ipynb")
    all_alive(page)
    reading = live(page, PANEL).locator(".readings dd").first.inner_text()
    lab.asked(page, SAVE)
    ended(page)
    saved = (home / "lessons/a.ipynb").read_text(encoding="utf-8")
    assert "widget-view" not in saved
    assert len(saved) < 30_000
    page = fresh(visit, address, "a.ipynb", run=False)
    assert reading in asleep(page, PANEL)
    assert len(asleep(page, EXERCISE)) > 100
    assert asleep(page, PROGRESS)
    assert page.get_by_text("Error displaying widget").count() == 0
    assert page.get_by_text("model not found").count() == 0
    assert lab.asked(page, lab.RUN_ALL) == []
    all_alive(page)
    ended(page)
    page.close()


def test_without_trust_it_shows_the_same(visit, desk, address, home):
    """A notebook from somebody else: JupyterLab takes the elements out of what it shows, and leaves what stands in them."""
    lab.opened_too(page := desk, "b.ipynb")
    all_alive(page)
    lab.asked(page, SAVE)
    ended(page)
    data = json.loads((home / "lessons/b.ipynb").read_text(encoding="utf-8"))
    data["cells"][-1]["source"] = "onward(0)  # changed by somebody else, so the signature does not fit"
    (home / "lessons/b.ipynb").write_text(json.dumps(data), encoding="utf-8")
    page = fresh(visit, address, "b.ipynb", run=False)
    page.evaluate(lab.SCROLL_TO, cell_of(PANEL))
    page.locator(".jp-OutputArea-output").get_by_text("brings this alive").first.wait_for(timeout=LIVE)
    assert page.locator(".jp-Notebook coil-panel").count() == 0
    assert page.get_by_text("Error displaying widget").count() == 0
    assert lab.asked(page, lab.RUN_ALL) == []
    all_alive(page)
    ended(page)
    page.close()


def test_a_page_that_is_loaded_again_finds_its_kernel_and_is_alive(desk):
    lab.opened_too(page := desk, "a.ipynb")
    all_alive(page)
    lab.asked(page, SAVE)
    page.reload()
    page.wait_for_function(lab.READY, timeout=2 * LIVE)
    all_alive(page)
    panel = live(page, PANEL)
    after_painting(panel, lambda: panel.locator("input[type=range]").first.press("PageDown"))
    ended(page)


@pytest.mark.parametrize(("how", "says"), [
    ("restarted", "The kernel was restarted"), ("killed", "nothing here answers any more"),
    ("shut down", "The kernel was shut down"),
])
def test_a_kernel_that_is_gone_is_said_and_nothing_moves_until_the_cells_are_run(desk, how, says):
    lab.opened_too(page := desk, "a.ipynb")
    all_alive(page)
    if how == "restarted":
        lab.asked(page, RESTART)
    elif how == "shut down":
        lab.asked(page, SHUT)
    else:
        os.kill(int(lab.asked(page, TELL, "__import__('os').getpid()")), signal.SIGKILL)
    stopped(page, says)
    if how == "killed":
        page.get_by_role("dialog").get_by_role("button").last.click()  # JupyterLab's own word on it
    if how != "shut down":
        page.wait_for_function(lab.READY, timeout=2 * LIVE)
        assert lab.asked(page, lab.RUN_ALL) == []
        all_alive(page)
        assert page.locator(".jp-Notebook [data-state=stopped]").count() == 0
        lab.asked(page, SHUT)


def test_a_busy_kernel_is_said_and_the_picture_follows_when_it_is_done(desk, tmp_path):
    lab.opened_too(page := desk, "a.ipynb")
    panel, gate = live(page, PANEL), tmp_path / "gate"
    lab.asked(page, f"(code) => {KERNEL}.requestExecute({{code}}).done.then(() => null)", SLOW.format(str(gate)))

    def move() -> None:
        panel.locator("input[type=range]").first.press("PageDown")
        panel.get_by_text("No answer yet").wait_for(timeout=LIVE)
        gate.touch()

    after_painting(panel, move)
    panel.get_by_text("No answer yet").wait_for(state="hidden", timeout=LIVE)
    assert panel.get_attribute("data-state") == "live"
    ended(page)


def test_a_lessons_kernel_is_light_and_draws_nothing(desk):
    lab.opened_too(page := desk, "a.ipynb")
    all_alive(page)
    assert lab.asked(page, TELL, HEAVY) == "[]"
    ended(page)


def test_run_all_leaves_the_reader_at_the_top_and_the_last_cell_leads_on(desk):
    lab.opened_too(page := desk, "a.ipynb", run=False)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.locator("#jp-mainmenu-run").get_by_text("Run All Cells", exact=True).click()
    page.wait_for_function(f"() => {NOW}.content.activeCellIndex === {NOW}.content.widgets.length - 1")
    page.wait_for_function("() => document.querySelector('.jp-WindowedPanel-outer').scrollTop === 0", timeout=LIVE)
    page.wait_for_function(f"() => {NOW}.content.widgets.at(-1).model.executionCount > 0", timeout=LIVE)
    page.evaluate(f"() => {NOW}.content.scrollToItem({NOW}.content.widgets.length - 1, 'end')")
    page.get_by_text("in the book, which python3 course.py book makes").wait_for(timeout=LIVE)
    page.locator(".jp-Notebook a", has_text="1 \u00b7 Magneto current").first.click()
    page.wait_for_function(f"() => {NOW}?.context?.path === '01_magneto_current.ipynb'", timeout=LIVE)
    page.wait_for_function(lab.READY, timeout=2 * LIVE)
    ended(page)


def test_a_nickname_taken_in_one_notebook_holds_in_the_other_and_the_record_stays_one(visit, desk, address, home):
    lab.opened_too(one := desk, "a.ipynb")
    two = fresh(visit, address, "b.ipynb")
    question = live(two, EXERCISE)
    question.locator("input[type=radio]").first.check()
    progress = live(one, PROGRESS)
    progress.get_by_label("Nickname").fill("Robin")
    progress.get_by_role("button", name="Use this nickname").click()
    progress.get_by_text("The exercises now use the nickname Robin.").wait_for()
    question.get_by_role("button", name="Check", exact=True).click()  # shown with the guest's numbers
    question.get_by_text("The nickname is Robin now").wait_for()
    for number in (0, 1):
        question.locator("input[type=radio]").nth(number).check()
        question.get_by_role("button", name="Check", exact=True).click()
        question.get_by_text("1 try" if number == 0 else "2 tries").wait_for()
    record = parse((home / "my-progress.json").read_text(encoding="utf-8"))
    assert (record.nickname, record.of("00-name-the-part").count) == ("Robin", 2)
    assert list(home.glob("my-progress-*")) == []
    for page in (one, two):
        ended(page)
    two.close()
