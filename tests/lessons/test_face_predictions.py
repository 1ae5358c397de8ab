"""Predictions of the course beside the panels that they are about: answered when their own control was moved, and not before."""

from __future__ import annotations

import pytest

from lessons.engine import Engine
from lessons.exercises import EXERCISES

from .test_face import open_page

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("key", ["00-moves-first", "05-slack-cushion", "09-set-on-a-weak-magneto"])
def test_a_prediction_waits_for_what_it_is_about(browser, key: str) -> None:
    name, symbols = next(iter(EXERCISES[key].about.panels.items()))
    body = f'<coil-exercise key="{key}"></coil-exercise><coil-panel name="{name}"></coil-panel>'
    page = open_page(browser, body, Engine(), "coil-exercise[data-state=live]")
    page.wait_for_selector("coil-panel[data-state=live]")
    exercise, panel = page.locator("coil-exercise"), page.locator("coil-panel")
    exercise.get_by_role("radio").first.check()
    exercise.get_by_role("button", name="Keep my prediction").click()
    compare = exercise.get_by_role("button", name="Compare with what happens")
    compare.wait_for()
    assert not compare.is_enabled()
    assert exercise.get_by_text(EXERCISES[key].about.words).is_visible()
    if symbols == ("log",):
        panel.get_by_role("button", name="Looked first").click()
    elif symbols:
        panel.locator("input[type=range][id*=rpm]").focus()
        page.keyboard.press("ArrowRight")
        panel.click(position={"x": 5, "y": 5})
        page.wait_for_timeout(300)
        assert not compare.is_enabled(), "another control, or a click, is no answer"
        panel.locator(f"input[type=range][id*={symbols[0]}]").focus()
        page.keyboard.press("ArrowRight")
    else:
        panel.get_by_role("slider").first.focus()
        page.keyboard.press("ArrowRight")
    page.wait_for_function("!document.querySelector('coil-exercise').wayButton.disabled")
    assert page.faults == []
    page.close()
