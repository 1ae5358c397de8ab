"""The start page's contact set moves by itself, but not for a reader who wants less motion."""

from __future__ import annotations

from typing import Any

import pytest

from .test_face import opened

pytestmark = pytest.mark.browser
ELEMENT = '<coil-panel name="bench" moving><p>In words.</p></coil-panel>'
MOMENT = "document.querySelector('coil-panel').shadowRoot.querySelector('#scrub').valueAsNumber"


@pytest.mark.parametrize("motion", ["no-preference", "reduce"])
def test_it_moves_where_motion_is_wanted_and_can_be_stopped(browser: Any, motion: str) -> None:
    page = opened(browser, ELEMENT, reduced_motion=motion)
    page.wait_for_function("window.paints.length")
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    panel = page.locator("coil-panel")
    if motion == "reduce":
        before = page.evaluate(MOMENT)
        page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        assert page.evaluate(MOMENT) == before
        assert panel.get_by_role("button", name="Play").count() == 1
    else:
        before = page.evaluate(MOMENT)
        page.wait_for_function(f"(before) => {MOMENT} !== before", arg=before)
        panel.get_by_role("button", name="Pause").click()
        assert panel.get_by_role("button", name="Play").count() == 1
    assert page.faults == []
    page.close()
