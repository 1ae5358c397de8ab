"""The light workers that fill a map: the same cells as here; where they cannot be had, or die, Python fills it.

The page has no map of its own, which would be filled meanwhile by the same workers.
"""

from __future__ import annotations

from typing import Any

import pytest

from lessons.engine import Engine
from lessons.panels.multi_firing import FINE

from .browsing import LIVE, live

pytestmark = pytest.mark.browser
SLOWER = "maps fill more slowly"
CELLS = """(places) => coilHost.ask({do: "cells", name: "tension_map", values: {}, places}).then(({tree, arrays}) =>
    (Array.isArray(tree.cells) ? tree.cells : [...arrays[tree.cells.$]]))"""


def cells_here(places: list[int]) -> list[int | None]:
    reply = Engine().handle({"do": "cells", "name": "tension_map", "values": {}, "places": places})
    cells = reply.tree["cells"]
    return cells if isinstance(cells, list) else [int(cell) for cell in reply.arrays[cells["$"]]]


@pytest.fixture(scope="module")
def sure() -> dict[int, int | None]:
    """Cells of the map, by their places, whose neighbours are all the same: no last digit of a sine decides those."""
    middles = [FINE * row + column for row in (4, 14, 24, 34) for column in (3, 10, 18, 27, 36)]
    around = [place + down + right for place in middles for down in (-FINE, 0, FINE) for right in (-1, 0, 1)]
    told = cells_here(around)
    found = {place: told[9 * i + 4] for i, place in enumerate(middles) if len(set(told[9 * i:9 * i + 9])) == 1}
    assert len(found) > 6
    assert len(set(found.values())) > 2
    return found


def test_they_find_the_cells_that_are_found_here(small: Any, sure: dict[int, int | None]) -> None:
    page = small.open("panels.html")
    live(page)
    assert page.evaluate(CELLS, list(sure)) == list(sure.values())
    assert len([address for address in small.workers if address.endswith("runner.js")]) == page.evaluate("coilHost.pool.size")
    assert page.locator(".coil-notice").count() == 0


NO_WORKERS = """const Plain = globalThis.Worker;
globalThis.Worker = function (address, options) {
    if (String(address).includes("runner")) throw new Error("no more workers");
    return new Plain(address, options);
};"""


@pytest.mark.parametrize("how", ["none", "not fetched", "spoilt", "kernel refused"])
def test_where_they_cannot_start_python_fills_the_map_and_the_page_says_so(small: Any, sure: dict, how: str) -> None:
    small.expected = ("404", "nonsense", "SyntaxError", "kernel.wasm")

    def trap(context: Any) -> None:
        if how == "none":
            context.add_init_script(NO_WORKERS)
        elif how == "not fetched":
            context.route("**/runner.js", lambda route: route.fulfill(status=404))
        elif how == "spoilt":
            context.route("**/runner.js", lambda route: route.fulfill(body="nonsense(", content_type="text/javascript"))
        else:
            context.route("**/kernel.wasm", lambda route: route.fulfill(body=b"\0asm\2\0\0\0", content_type="application/wasm"))

    page = small.open("panels.html", before=trap)
    live(page)
    places = list(sure)[:3]
    assert page.evaluate(CELLS, places) == [sure[place] for place in places]
    page.locator(".coil-notice").get_by_text(SLOWER).wait_for(timeout=LIVE)
    assert page.evaluate(CELLS, places[:1]) == [sure[places[0]]]  # and once more: it is not tried again


@pytest.mark.parametrize("left", [1, 0])
def test_what_a_dying_one_had_goes_to_another_or_to_python(small: Any, sure: dict[int, int | None], left: int) -> None:
    small.expected = ("the end",)
    page = small.open("panels.html", before=lambda context: context.add_init_script(
        "Object.defineProperty(navigator, 'hardwareConcurrency', {value: 2})"))
    live(page)
    first = next(iter(sure))
    assert page.evaluate(CELLS, [first]) == [sure[first]]
    runners = [worker for worker in page.workers if worker.url.endswith("runner.js")]
    assert len(runners) == 2
    for runner in runners[left:]:  # each dies at the next piece that it is given, with the piece in its hands
        runner.evaluate("() => { self.onmessage = () => setTimeout(() => { throw new Error('the end') }) }")
    assert page.evaluate(CELLS, list(sure)) == list(sure.values())
    assert page.evaluate("coilHost.pool?.alive ?? 0") == left
    assert page.locator(".coil-notice").count() == 1 - left


def test_a_cancelled_map_gives_way_at_once(small: Any) -> None:
    page = small.open("panels.html")
    live(page)
    told = page.evaluate("""async (most) => {
        const stop = new AbortController();
        const all = coilHost.ask({do: "cells", name: "tension_map", values: {}, places: [...Array(most).keys()]}, stop.signal);
        while (!coilHost.pool.waiting.length) await new Promise((resolve) => setTimeout(resolve));
        stop.abort();
        const next = await coilHost.ask({do: "cells", name: "tension_map", values: {}, places: [0]});
        const given = (await all).tree.cells;
        return [given, next.tree.cells.length, coilHost.pool.waiting.length, Boolean(coilHost.pool)];
    }""", FINE**2)
    assert told == [[], 1, 0, True]
