"""Lesson 10 in the book: what it fetches and when, the learner's own file that goes nowhere, and a page from a double click."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from coilbench import stored
from lessons import at_hand
from lessons.panels import bench

from .browsing import LIVE, Visit, live, serious

pytestmark = pytest.mark.browser

PAGE = "lessons/10_the_bench.html"
STORED = Path(stored.FILE).name
PANEL = "coil-panel[name=bench_readings]"


def birch(page: Any) -> None:
    """Press the button of a demo coil, and hold the page's sentence against the one worked out here."""
    panel = live(page, PANEL)
    panel.get_by_role("button", name="Birch", exact=True).click()
    expected = bench.READINGS.picture(bench.of_coil("Birch")).sentence
    page.wait_for_function("""(words) => document.querySelector("coil-panel[name=bench_readings]").shadowRoot
        .querySelector(".sentence").textContent === words""", arg=expected, timeout=LIVE)


def cards(page: Any, count: int) -> Any:
    page.wait_for_function("""(count) => document.querySelector("coil-sheet").shadowRoot.querySelectorAll("article.card").length
        === count""", arg=count, timeout=LIVE)
    return page.locator("coil-sheet article.card")


@pytest.fixture(scope="module")
def lived(chromium: Any, site: str) -> Iterator[Visit]:
    """A visit to the page, with a coil judged and the cards of the example, for all tests that need no fresh one."""
    one = Visit(chromium, site)
    page = one.open(PAGE)
    birch(page)
    live(page, "coil-sheet").get_by_role("button", name="Show the Larkfield Twelve").click()
    cards(page, 4)
    yield one
    one.end()


@pytest.fixture(scope="module")
def whole(lived: Visit) -> Any:
    """Its page."""
    return lived.context.pages[0]


def test_the_stored_coils_are_fetched_once_and_a_file_of_ones_own_goes_nowhere(lived, whole):
    assert sum(address.endswith(STORED) for address in lived.requests) == 1
    whole.context.set_offline(True)  # and what is asked of the network from here on would fail, too
    before, coils = len(lived.requests), ("Alder", "Birch", "Cedar", "Damson")
    mine = at_hand.example()["text"].replace("Damson", "Dogwood").encode()  # whose cards are not shown yet
    whole.locator("coil-sheet input[type=file]").set_input_files({"name": "mine.csv", "mimeType": "text/csv", "buffer": mine})
    shown = cards(whole, 4)
    shown.filter(has_text="Dogwood").first.wait_for(timeout=LIVE)
    sheet = at_hand.read(mine)
    for place, coil in enumerate((*coils[:3], "Dogwood")):
        assert at_hand.card(sheet, coil)["sentence"] in shown.nth(place).text_content()
    assert [address for address in lived.requests[before:] if not address.startswith("blob:")] == []
    assert sum(address.endswith(STORED) for address in lived.requests) == 1
    whole.context.set_offline(False)


def test_other_lessons_do_not_fetch_them(visit):
    live(visit.open())
    assert not [address for address in visit.requests if address.endswith(STORED)]


def test_stored_coils_that_cannot_be_fetched_are_said_in_a_sentence(visit):
    visit.expected = ("404",)
    page = visit.open(PAGE, before=lambda context: context.route(f"**/{STORED}", lambda route: route.fulfill(status=404)))
    page.locator(PANEL).first.scroll_into_view_if_needed()
    trouble = page.locator(f"{PANEL} .trouble:not([hidden])").first
    trouble.wait_for(timeout=LIVE)
    assert "could not be fetched" in trouble.text_content()
    assert page.locator(f"{PANEL} .sentence").first.is_visible()  # the picture made at build stays
    live(page, "coil-sheet")  # what needs them not is alive


def test_from_a_double_click_the_bench_works_too(visit, html):
    page = visit.open((html / PAGE).as_uri())
    birch(page)
    live(page, "coil-sheet").get_by_role("button", name="Show the Larkfield Twelve").click()
    cards(page, 4)


@pytest.mark.parametrize("width", [1280, 768, 360])
def test_nothing_sticks_out_of_the_bench(whole, width):
    whole.set_viewport_size({"width": width, "height": 900})
    whole.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")  # drawn at that width
    with contextlib.suppress(Exception):  # the theme slides its side bars in and out; what sticks out afterwards is said below
        whole.wait_for_function(f"document.documentElement.scrollWidth <= {width}", timeout=20_000)
    assert whole.evaluate("document.documentElement.scrollWidth") <= width


def test_the_accessibility_audit_finds_nothing_serious(whole):
    whole.set_viewport_size({"width": 1280, "height": 900})
    assert not serious(whole, schemes=("light", "dark"))
