"""The start page: light until it is touched, then one slider makes a sound spark a weak one."""

import pytest

from lessons.engine import Engine

from .browsing import held_against_native, live, press

pytestmark = [pytest.mark.slow, pytest.mark.browser]
PANEL = "coil-panel[name=first_look]"


def test_nothing_is_fetched_of_the_model_until_the_first_touch(visit):
    page = visit.open("index.html")
    live(page, PANEL, model=False)
    page.wait_for_load_state("networkidle")
    assert visit.workers == []
    assert not [address for address in visit.requests if "pyodide" in address or "course.zip" in address]


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_by_the_keyboard_it_shows_the_misfires(visit, html, scheme):
    page = visit.open("index.html" if scheme == "http" else (html / "index.html").as_uri(), width=768)
    if scheme == "file":  # there all parts come in one piece, which is too much to load unasked
        page.get_by_role("button", name="Start the live model").focus()
        page.keyboard.press("Enter")
    panel = live(page, PANEL, model=False)
    if scheme == "file":
        assert page.evaluate("document.activeElement.localName") == "coil-panel"
    panel.get_by_text("One sound spark in every pulse.").filter(visible=True).first.wait_for()
    press(panel, 0, "Home")
    panel.get_by_text("the coil misfires.").filter(visible=True).first.wait_for()
    assert held_against_native(panel, Engine())
    assert len(visit.workers) <= 1
