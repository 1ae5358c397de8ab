"""The start page: light until its button is pressed, then one slider makes a sound spark a weak one."""

import pytest

from lessons.engine import Engine

from .browsing import held_against_native, live, press

pytestmark = [pytest.mark.slow, pytest.mark.browser]
PANEL = "coil-panel[name=first_look]"


def test_nothing_is_fetched_for_the_model_until_the_button_is_pressed(visit):
    page = visit.open("index.html")
    page.wait_for_load_state("networkidle")
    assert page.locator(f"{PANEL} figure img").is_visible()
    assert visit.workers == []
    assert not [address for address in visit.requests if "pyodide" in address or "face.js" in address]


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_started_by_the_keyboard_it_shows_the_misfires(visit, html, scheme):
    page = visit.open("index.html" if scheme == "http" else (html / "index.html").as_uri(), width=768)
    button = page.get_by_role("button", name="Start the live model")
    button.focus()
    page.keyboard.press("Enter")
    panel = live(page, PANEL)
    assert page.evaluate("document.activeElement.localName") == "coil-panel"
    panel.get_by_text("One sound spark in every pulse.").filter(visible=True).first.wait_for()
    press(panel, 0, "Home")
    panel.get_by_text("the coil misfires.").filter(visible=True).first.wait_for()
    assert held_against_native(panel, Engine())
    assert len(visit.workers) <= 1
