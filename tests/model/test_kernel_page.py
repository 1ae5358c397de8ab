"""The kernel that a page runs is the kernel: compiled to WebAssembly and run in Node, it gives the native run's numbers.

In Chromium the same is held in tests/book/test_kernel_in_page.py.
"""

from __future__ import annotations

import math
import random
from array import array
from dataclasses import fields

import pytest

from book.making import kernel_module
from book.making.kernel_module import Call, call_of, checked_module, difference, run_in_node
from book.making.places import BuildError
from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, TransformerDrive, compiled, kernel
from coilmodel.machine import Drive
from coilmodel.translate.front import functions_in, program
from coilmodel.translate.page import page_module
from coilmodel.translate.wasm import wasm_bytes

MACHINES = 500


def drawn(seed: int) -> tuple[Machine, Drive]:
    """Return a machine with about half of its numbers anywhere from 0.6 to 1.7 of the nominal ones, and a drive."""
    chance = random.Random(seed)
    while True:
        factors = {f"{part.name}_{item.name}": math.exp(chance.uniform(-0.5, 0.5)) for part in fields(Machine)
                   for item in fields(getattr(Machine(), part.name))
                   if item.name not in ("pole_pairs", "coupling") and chance.random() < 0.5}
        speed = chance.uniform(150.0, 900.0)
        drive = (MagnetoDrive(speed, chance.uniform(0.5, 1.5)), TimerDrive(speed), BatteryDrive(chance.uniform(5.0, 14.0)),
                 TransformerDrive(chance.uniform(6.0, 14.0)))[seed % 4]
        try:
            return Machine().scaled(**factors), drive
        except ValueError:
            continue  # numbers that do not go together: draw again


def natively(call: Call) -> Call:
    """Return the same call from empty buffers, run by the fastest home here."""
    name, (numbers, *buffers) = call
    filled = [compiled.buffer(len(one)) for one in buffers]
    compiled.advance(tuple(numbers), *filled)
    return name, [numbers, *(array("d", one) for one in filled)]


def test_five_hundred_machines_run_as_they_do_natively(need_node: str) -> None:
    """Strips, openings, ledger and meter within 1e-9 of the largest number of their kind; observed: not one bit differs."""
    calls = [call_of(*drawn(seed), pulses=2) for seed in range(MACHINES)]
    native = [natively(call) for call in calls]
    run_in_node(page_module(), calls)
    meters = [dict(zip(kernel.METER, given[4])) for _, given in calls]
    assert sum(meter["openings"] > 2 for meter in meters) > MACHINES / 2
    assert sum(meter["rows"] for meter in meters) > 100 * MACHINES
    worst = sorted(((difference(ours, theirs), seed) for seed, (ours, theirs) in enumerate(zip(calls, native))), reverse=True)
    assert worst[0][0] <= 1e-9, worst[:10]


def test_nothing_of_an_earlier_run_is_seen(need_node: str) -> None:
    """The module's memory is used again and again; the same call after a larger one gives the same numbers."""
    one, large, again = call_of(*drawn(0)), call_of(*drawn(1), pulses=12), call_of(*drawn(0))
    run_in_node(page_module(), [one, large, again])
    assert [list(part) for part in one[1]] == [list(part) for part in again[1]]
    assert any(large[1][1])


def test_a_translation_that_differs_stops_the_build_with_a_sentence(need_node: str, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "def advance(p: list[float], strips: list, events: list, ledger: list, meter: list):\n meter[5] = 1.0 + p[0]"
    wrong = wasm_bytes(program(functions_in(text)["advance"]))
    with pytest.raises(BuildError, match="no longer agrees with the plain one"):
        checked_module(wrong)
    with pytest.raises(BuildError, match="does not run in Node"):
        checked_module(b"\0asm\1\0\0\0\7")

    def untranslatable() -> bytes:
        raise ValueError("line 7 of advance: 'match x' is not read")

    monkeypatch.setattr(kernel_module, "page_module", untranslatable)
    with pytest.raises(BuildError, match="line 7 of advance"):
        checked_module()


def test_a_nan_is_a_difference() -> None:
    one, other = call_of(*drawn(0)), call_of(*drawn(0))
    other[1][3][0] = math.nan
    assert difference(one, other) == math.inf
    assert difference(other, one) == math.inf
