"""The compiled kernel in Chromium: the same numbers as here, and the plain kernel where it is refused.

Five hundred machines are held to the same in Node (tests/model/test_kernel_page.py).
"""

from __future__ import annotations

from array import array
from typing import Any

import pytest

from book.making.kernel_module import call_of, difference
from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, compiled, kernel
from lessons.engine import Engine

from .browsing import LIVE, ROOT, after_painting, held_against_native, live, press

pytestmark = pytest.mark.browser

RUN = """async ({given, here}) => {
    const address = (name) => new URL(name, here).href;
    const { kernelFrom } = await import(address("kernel.js"));
    const { names, run } = await kernelFrom(await (await fetch(address("kernel.wasm"))).arrayBuffer());
    const buffers = given.map((one) => Float64Array.from(one));
    run("advance", ...buffers);
    return {names, filled: buffers.map((one) => [...one])};
}"""
CALL = "const run = (name, ...given) => {"
COUNTED = CALL + " self.kernelCalls = (self.kernelCalls ?? 0) + 1;"
CALLS = "() => self.kernelCalls ?? 0"


def counting(context: Any) -> None:
    """Have the page's worker count its calls of the compiled kernel."""
    code = (ROOT / "book/live/kernel.js").read_text(encoding="utf-8")
    assert CALL in code
    context.route("**/kernel.js", lambda route: route.fulfill(body=code.replace(CALL, COUNTED), content_type="text/javascript"))


def test_chromium_runs_it_to_the_same_numbers(visit: Any) -> None:
    page = visit.open()
    live(page)
    here = next(address for address in visit.workers if address.endswith("worker.js"))
    for machine in (Machine(), Machine().scaled(cushion_preload=0.4)):
        for drive in (MagnetoDrive(), BatteryDrive(), TimerDrive(rpm=900.0)):
            name, (numbers, *buffers) = call_of(machine, drive, pulses=2)
            told = page.evaluate(RUN, {"given": [list(numbers), *map(list, buffers)], "here": here})
            native = [compiled.buffer(len(one)) for one in buffers]
            compiled.advance(tuple(numbers), *native)
            assert name in told["names"]
            ours = (name, [array("d", one) for one in told["filled"]])
            assert difference(ours, (name, [numbers, *(array("d", one) for one in native)])) <= 1e-9
            assert ours[1][4][kernel.METER.index("openings")] > 1


def test_the_pages_python_calls_it(visit: Any) -> None:
    page = visit.open(before=counting)
    panel, engine = live(page), Engine()
    calls = page.workers[0].evaluate(CALLS)
    after_painting(panel, lambda: press(panel, 0, "ArrowLeft"))
    assert page.workers[0].evaluate(CALLS) > calls
    assert held_against_native(panel, engine)


@pytest.mark.parametrize("how", ["missing", "spoilt"])
def test_where_it_is_refused_the_plain_kernel_answers_and_the_page_says_so(visit: Any, how: str) -> None:
    visit.expected = ("404",)
    answer = {"status": 404} if how == "missing" else {"body": b"\0asm\2\0\0\0", "content_type": "application/wasm"}

    def refuse(context: Any) -> None:
        counting(context)
        context.route("**/kernel.wasm", lambda route: route.fulfill(**answer))

    page = visit.open(before=refuse)
    panel, engine = live(page), Engine()
    page.locator(".coil-notice").get_by_text("the plain one answers, more slowly").wait_for(timeout=LIVE)
    after_painting(panel, lambda: press(panel, 0, "ArrowLeft"))
    assert page.workers[0].evaluate(CALLS) == 0
    assert held_against_native(panel, engine)
