"""Cause and effect in one view: every panel of the course, at each width that a page or a notebook gives it.

The panels and their model are the real ones, the page is a plain one as wide and as high as the book's or JupyterLab's.
tests/book/test_every_panel.py does the same in the book and in JupyterLab themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest

from lessons.contracts import Control, Lines
from lessons.engine import Engine
from lessons.panels import PANELS
from lessons.panels.multi_firing import FINE

from ..book.browsing import FLAGS, LIVE, after_painting
from ..book.in_view import drag_in_view, seen
from .test_face import page_html, serve

pytestmark = [pytest.mark.browser, pytest.mark.slow]

# (screen, width that the page gives a panel there): the book's at 360 to 2560 px, and JupyterLab's with its side bar open
SCREENS = {
    "phone": ((360, 740), 328), "tablet": ((768, 1024), 736), "small laptop": ((1024, 768), 755), "laptop": ((1280, 800), 936),
    "wide": ((2560, 1300), 1075), "lab on a small laptop": ((1024, 690), 592),
}
BEGIN = {"bench_steps": "Meter and condenser first"}  # its sliders move nothing before something is chosen
SLOW = {"bench_capture"}  # a fit of half a minute; the book's own test has it
LOGS = {name for name, panel in PANELS.items() if any(isinstance(each, Lines) for each in panel.controls)}
"""Panels worked by a log: the slider only takes another coil, and what a tool does is the log's new line (test_face_lines.py)."""
NAMES = [name for name, panel in PANELS.items()
         if name not in SLOW | LOGS and any(isinstance(each, Control) for each in panel.controls)]


class Rough(Engine):
    """The engine, whose maps have one run for every 4 by 4 cells: where they stand is asked here, not what they say."""

    def _cells(self, request: Mapping[str, Any]) -> dict[str, Any]:
        corners = [place // FINE // 4 * 4 * FINE + place % FINE // 4 * 4 for place in request["places"]]
        once = list(dict.fromkeys(corners))
        found = dict(zip(once, super()._cells({**request, "places": once})["cells"], strict=True))
        return {"cells": [found[corner] for corner in corners]}


@pytest.fixture(scope="module")
def browser(need_whole_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    """Chromium with its windows: without them a turn of the mouse wheel may never arrive."""
    browser = playwright_driver.chromium.launch(executable_path=need_whole_chromium, args=list(FLAGS))
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def page(browser) -> Iterator[Any]:
    """One page with all panels, on the real engine, under a bar as the book has one."""
    one = browser.new_page(viewport={"width": 1280, "height": 800})
    one.set_default_timeout(2 * LIVE)
    elements = "".join(f'<coil-panel name="{name}"><p>{name}</p></coil-panel>' for name in NAMES)
    html = page_html(elements=elements).replace("max-width:1240px", "padding:0").replace(
        "<main>", '<div style="position:sticky;top:0;height:48px;background:silver;z-index:9"></div><main>').replace(
        "</style>", ":root{--coil-top:48px} main{margin:0 auto; padding-bottom:100vh} coil-panel:not(.now){display:none}</style>")
    engine = Rough(exercises={})
    engine.handle_json = cache(engine.handle_json)  # type: ignore[method-assign]  # a picture is the same at every width
    serve(one, html, engine)
    one.goto("http://face.test/")
    yield one
    assert one.faults == []
    one.close()


def shown(page: Any, name: str) -> Any:
    """Return the panel, alive and at the settings that it begins with."""
    panel = page.locator(f"coil-panel[name={name}]")
    page.evaluate("""(name) => {
        for (const panel of document.querySelectorAll("coil-panel"))
            panel.classList.toggle("now", panel.getAttribute("name") === name);
    }""", name)
    page.locator(f"coil-panel[name={name}][data-state=live]").wait_for()
    after_painting(panel, lambda: panel.evaluate("(panel) => panel.restart()"))
    if name in BEGIN:
        after_painting(panel, panel.get_by_role("button", name=BEGIN[name]).click)
    return panel


@pytest.mark.parametrize("name", ["cushion", "condenser_race"])
def test_with_a_run_kept_to_compare_as_well(page: Any, name: str) -> None:
    panel = shown(page, name)
    panel.get_by_role("button", name="Keep this to compare").click()
    for (wide, high), width in SCREENS.values():
        page.set_viewport_size({"width": wide, "height": high})
        page.evaluate("(width) => { document.querySelector('main').style.width = `${width}px`; }", width)
        drag_in_view(panel, lambda act: after_painting(panel, act))
        assert panel.locator(".readings dd.kept").count() > 2


@pytest.mark.parametrize("name", NAMES)
def test_what_the_first_slider_changes_is_in_view_with_it(page: Any, name: str) -> None:
    panel = shown(page, name)
    for (wide, high), width in SCREENS.values():
        page.set_viewport_size({"width": wide, "height": high})
        page.evaluate("(width) => { document.querySelector('main').style.width = `${width}px`; }", width)
        drag_in_view(panel, lambda act: after_painting(panel, act))


def test_on_a_phone_the_pictures_stay_with_the_last_of_many_sliders(page: Any) -> None:
    """With eight of them: where there are few, the pictures are on the screen pinned or not."""
    panel = shown(page, "four_coils")
    page.set_viewport_size({"width": 360, "height": 740})
    page.evaluate("document.querySelector('main').style.width = '328px'")
    last = panel.locator(".controls input[type=range]:visible").last
    for _ in range(2):  # the second time with the pictures pinned, which are lower then
        last.evaluate("(slider) => slider.scrollIntoView({block: 'end', behavior: 'instant'})")
        after_painting(panel, lambda: last.press("ArrowRight"))
    box, staged = last.bounding_box(), [drawing for drawing in seen(panel)["drawings"] if drawing["staged"]]
    assert box["y"] + box["height"] <= 740
    assert staged
    for drawing in staged:
        assert drawing["seen"] > 0.98, f"of the {drawing['name']} {drawing['seen']:.2f} is seen beside the last slider"
