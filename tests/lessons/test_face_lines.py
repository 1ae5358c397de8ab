"""The log of lesson 9 in a real browser: lines that stay, a full sheet, a new one, the keyboard alone, the exercise."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from lessons.engine import Engine
from lessons.panels.workbench import LINES, TOOLS

from .test_face import AXE, open_page

pytestmark = pytest.mark.browser

PANEL_HTML = '<coil-panel name="setting_up"></coil-panel>'
TASK_HTML = '<coil-exercise key="09-first-coil"></coil-exercise>'


def lines(page) -> list[str]:
    return page.locator(".log li").all_inner_texts()


def press(page, name: str) -> None:
    """Press a tool and wait for what its line shows."""
    before = page.locator(".log li").count()
    page.get_by_role("button", name=name, exact=True).click()
    page.locator(f".log li:nth-child({before + 1}):last-child").filter(has_not_text="\u2026").wait_for()


# Of a compact panel: whether the last line and how many there are can be seen.
IN_SIGHT = """() => {
    const {shadowRoot} = document.querySelector("coil-panel");
    const box = (each) => shadowRoot.querySelector(each).getBoundingClientRect();
    const sheet = box(".sheet"), last = box(".log li:last-child"), head = box(".count");
    return last.height && last.bottom <= sheet.bottom + 1 && Math.abs(head.top - sheet.top) < 1;
}"""


@pytest.fixture
def bench(browser) -> Iterator:
    page = open_page(browser, PANEL_HTML, Engine())
    yield page
    assert page.faults == []
    page.close()


@pytest.fixture
def task(browser) -> Iterator:
    page = open_page(browser, TASK_HTML, Engine(), "coil-exercise[data-state=live]")
    page.wait_for_selector(".log li")
    yield page
    assert page.faults == []
    page.close()


def test_a_tool_writes_a_line_and_what_stands_stays(bench) -> None:
    assert len(lines(bench)) == 1
    press(bench, "Condenser, held apart")
    first = lines(bench)
    press(bench, "New condenser")
    assert lines(bench)[:2] == first
    assert "\u00b5F" in first[1]
    assert bench.get_by_role("button", name="Take the last work back").count() == 1
    press(bench, "Take the last work back")
    assert len(lines(bench)) == 4, "undoing costs a line"
    assert bench.get_by_text(f"Log: 3 of {LINES} lines").count() == 1


def test_a_full_sheet_takes_no_more_and_another_coil_begins_another(bench) -> None:
    for _ in range(LINES):
        press(bench, "Run over the whole range")
    bench.get_by_role("button", name="Drop at the points").click(force=True)
    assert len(lines(bench)) == LINES + 1
    assert bench.get_by_text("the sheet is full").count() >= 1
    slider = bench.locator("input[type=range]").first
    slider.focus()
    slider.press("ArrowRight")
    bench.wait_for_function("document.querySelector('coil-panel').shadowRoot.querySelectorAll('.log li').length === 1")


def test_a_look_in_vain_takes_three_lines_and_the_sheet_is_full_sooner(bench) -> None:
    for name in ("Winding at 1 kHz", "Drop at the points", "Travel, by feeler gauge"):
        press(bench, name)
    assert [line.split()[0] for line in lines(bench)[1:]] == ["1.", "4.", "7."]
    assert "takes two lines more" in lines(bench)[1]
    assert bench.get_by_text(f"Log: {LINES} of {LINES} lines, the sheet is full").count() == 1
    bench.get_by_role("button", name="New condenser").click(force=True)
    assert len(lines(bench)) == 4


def test_every_tool_has_its_button_of_44_pixels_in_a_named_group(bench) -> None:
    for tool in TOOLS:
        box = bench.get_by_role("button", name=tool.label, exact=True).bounding_box()
        assert box["height"] >= 44, tool
    assert bench.locator("fieldset.tools legend").all_inner_texts() == ["Run", "Look", "Work", "Undo"]


def test_by_keyboard_alone_the_focus_stays_where_it_was(bench) -> None:
    button = bench.get_by_role("button", name="Force of the cushion", exact=True)
    button.focus()
    for key, count in (("Enter", 2), ("Space", 3)):
        button.press(key)
        bench.wait_for_function(
            "(count) => document.querySelector('coil-panel').shadowRoot.querySelectorAll('.log li').length === count", arg=count)
    assert bench.evaluate("document.querySelector('coil-panel').shadowRoot.activeElement.textContent") == "Force of the cushion"


def test_a_task_gives_a_new_sheet_only_after_the_coil_was_handed_back(task) -> None:
    fresh = task.get_by_role("button", name="The coil as it came, on a new sheet")
    assert not fresh.is_visible()
    assert task.get_by_role("button", name="Reset").count() == 0
    press(task, "New condenser")
    assert not fresh.is_visible()
    task.get_by_role("button", name="Check", exact=True).click()
    task.get_by_text("no look at that part stands before it").wait_for()
    fresh.click()
    task.wait_for_selector(".log li")
    assert len(lines(task)) == 1
    assert not fresh.is_visible()


def test_an_answer_of_a_record_shows_the_same_log_again(browser) -> None:
    engine = Engine()
    engine.handle({"do": "judge", "key": "09-first-coil", "answer": ["run", "swap"]})
    page = open_page(browser, TASK_HTML, engine, "coil-exercise[data-state=live]")
    page.get_by_text(f"Log: 2 of {LINES} lines").wait_for()
    page.get_by_role("button", name="The coil as it came, on a new sheet").wait_for()
    assert page.faults == []
    page.close()


def test_where_room_is_short_every_tool_is_reached_from_one_list_by_keyboard_and_the_last_line_is_seen(browser) -> None:
    page = open_page(browser, '''<div style="width: 900px; height: 420px">
        <coil-panel name="setting_up" view="compact" controls="coil log" parts="ladder"></coil-panel></div>''', Engine())
    assert page.locator("optgroup").evaluate_all("(groups) => groups.map(({label}) => label)") == ["Run", "Look", "Work", "Undo"]
    assert page.locator("option").all_text_contents() == [tool.label for tool in TOOLS]
    page.locator("input[type=range]").focus()
    page.keyboard.press("Tab")
    numbers = (1, 2, 3, 4, 5, 8)  # the drop at the points, in vain, takes three lines
    for place, tool in enumerate([TOOLS[0], *TOOLS[:5]]):
        if place > 1:
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        line = page.locator(f".log li:nth-child({place + 2}):last-child").filter(has_not_text="\u2026")
        line.wait_for()
        assert line.locator("strong").inner_text() == f"{numbers[place]}. {tool.label}"
        page.wait_for_function(IN_SIGHT)
    page.keyboard.press("Tab")
    assert page.locator("coil-panel").evaluate("(panel) => panel.shadowRoot.activeElement.ariaDisabled") == "true"
    page.keyboard.press("Enter")
    page.wait_for_timeout(200)
    assert len(lines(page)) == len(numbers) + 1
    assert page.locator(".sheet").evaluate("(sheet) => sheet.scrollHeight > sheet.clientHeight && sheet.tabIndex === 0")
    page.locator(".sheet").focus()
    page.keyboard.press("Home")
    page.wait_for_function("document.querySelector('coil-panel').shadowRoot.querySelector('.sheet').scrollTop === 0")
    page.locator("coil-panel").evaluate("(panel) => panel.draw(panel.picture)")  # a picture that tells no more than the last
    assert page.locator(".sheet").evaluate("(sheet) => sheet.scrollTop") == 0, "who reads the lines above stays there"
    page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
    assert page.evaluate("axe.run().then((result) => result.violations.map(({id}) => id))") == []
    assert page.faults == []
    page.close()


@pytest.mark.parametrize("width", [1280, 768, 360])
def test_nothing_runs_over_the_side(browser, width: int) -> None:
    page = open_page(browser, PANEL_HTML, Engine(), width=width)
    for name in ("Run over the whole range", "Good coil in its place", "Tighten cushion by much"):
        press(page, name)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.close()
