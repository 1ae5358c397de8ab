"""Settings in a page's address: taken, made, copied; and what is wrong with one is said where it belongs."""

from __future__ import annotations

import re
from typing import Any

import pytest

from lessons.engine import Engine
from lessons.panels import PANELS

from .browsing import LESSON, LIVE, Visit, live, settled, shown

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TWO_PANELS = "lessons/01_magneto_current.html"
SLACK = next(preset for preset in PANELS["cushion"].presets if preset.label == "Too slack")


def standing(page: Any, name: str, **asked: Any) -> Any:
    """Return the panel once it stands at its defaults but for the values asked for, with a picture of that."""
    panel = live(page, f"coil-panel[name={name}]")
    wanted = {**PANELS[name].defaults(), **asked}
    page.wait_for_function(
        "([panel, wanted]) => Object.keys(wanted).every((symbol) => panel.values[symbol] === wanted[symbol])",
        arg=[panel.element_handle(), wanted], timeout=LIVE)
    settled(panel, Engine())
    return panel


def go(page: Any, fragment: str) -> None:
    """Change what follows "#" in the address, as a person does who edits it."""
    page.evaluate("(fragment) => { location.hash = fragment; }", fragment)


def test_a_setting_in_the_address_moves_the_sliders_and_the_page_goes_to_its_panel(visit: Visit):
    page = visit.open(f"{TWO_PANELS}#magneto_speed?rpm=300&resistance=0.5;magneto?drive=70")
    panel = standing(page, "magneto_speed", rpm=300, resistance=0.5)
    assert panel.evaluate("(panel) => panel.getBoundingClientRect().top < innerHeight")
    standing(page, "magneto", drive=70)
    go(page, "#magneto_speed?rpm=120")  # what the new address does not name goes back to its default
    standing(page, "magneto_speed", rpm=120)


def test_a_preset_by_its_words_with_a_change_on_top(visit: Visit):
    page = visit.open(f"{LESSON}#cushion?preset=too-slack&rpm=200")
    panel = standing(page, "cushion", **{**SLACK.values, "rpm": 200})
    assert panel.locator(".say").inner_text() == SLACK.say


@pytest.mark.parametrize(("fragment", "said"), [
    ("preload=99", "is outside"),
    ("preload=abc", "'abc' is not a number"),
    ("preload=", "'' is not a number"),
    ("nosuch=1", "there is no control named 'nosuch'"),
    ("preset=no-such", 'There is no preset "no-such" here; there are well-set'),
    ("preload=%3Cimg%20src%3Dx%3E", "'<img src=x>' is not a number"),
    ("rpm=300&preload=99", "is outside"),
])
def test_what_the_address_cannot_have_is_said_at_the_panel_and_the_sliders_stay(lesson: Any, fragment: str, said: str):
    panel = live(lesson)
    panel.get_by_role("button", name="Reset").click()
    standing(lesson, "cushion")
    before = shown(panel)
    go(lesson, f"#cushion?{fragment}")
    panel.locator(".trouble").get_by_text(said).wait_for()
    assert panel.evaluate("(panel) => panel.values") == PANELS["cushion"].defaults()
    assert shown(panel) == before
    go(lesson, "#cushion?preload=0.5")  # and the next good one is taken
    standing(lesson, "cushion", preload=0.5)
    panel.locator(".trouble[role=alert]").wait_for(state="hidden")


def test_a_panel_that_is_not_here_is_said_on_the_page_and_an_anchor_is_left_alone(lesson: Any):
    live(lesson)
    go(lesson, "#no_such?preload=1")
    lesson.locator(".coil-notice").get_by_text('a panel "no_such", which is not here; here are').wait_for()
    go(lesson, "#exercises")
    go(lesson, "#cushion?preload=%ff%")  # nor does a broken one break anything
    live(lesson).locator(".trouble").get_by_text("is not a number").wait_for()


@pytest.mark.parametrize("carried", [False, True], ids=["served", "double click"])
def test_the_button_makes_an_address_that_brings_the_setting_back(visit: Visit, html: Any, carried: bool):
    page = visit.open((html / LESSON).as_uri() if carried else LESSON)
    panel = live(page)
    if not carried:
        page.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=visit.site.split("/book")[0])
    slider = panel.locator("input[type=range]").first
    slider.press("ArrowLeft")
    slider.press("ArrowLeft")
    panel.get_by_role("button", name="Link to this setting").click()
    panel.locator(".say", has_text=re.compile("Copied|address of this page now holds" if carried else "Copied")).wait_for()
    values = panel.evaluate("(panel) => panel.values")
    assert values != PANELS["cushion"].defaults()
    address = page.url if carried else page.evaluate("navigator.clipboard.readText()")
    assert address == page.url
    assert address.endswith(f"#cushion?preload={values['preload']:g}")
    other = page.context.new_page()
    other.goto(address)
    standing(other, "cushion", **values)


def test_a_log_goes_with_the_address_and_the_button_stands_beside_the_panels_own(visit: Visit):
    page = visit.open("lessons/09_setting_up.html")
    panel = live(page, "coil-panel[name=setting_up]")
    button = panel.get_by_role("button", name="Link to this setting")
    assert button.locator("xpath=..").get_by_role("button", name="Reset").count() == 1
    button.click()
    page.wait_for_function("location.hash === '#setting_up'")  # nothing was done: there is nothing to say
    for place, tool in enumerate(("Condenser, held apart", "New condenser"), 2):
        panel.get_by_role("button", name=tool, exact=True).click()
        panel.locator(f".log li:nth-child({place})").filter(has_not_text="\u2026").wait_for()
    lines = panel.locator(".log li").all_inner_texts()
    button.click()
    page.wait_for_function("location.hash.includes('log=')")
    other = page.context.new_page()
    other.goto(page.url)
    again = live(other, "coil-panel[name=setting_up]")
    again.locator(".log li:nth-child(3)").filter(has_not_text="\u2026").wait_for()
    assert again.locator(".log li").all_inner_texts() == lines
    assert again.locator(".trouble").first.is_hidden()
