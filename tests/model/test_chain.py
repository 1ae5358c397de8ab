"""From break to kilovolts against outside figures, one test a row (the rows: coilmodel/proof/chain.py). About 10 seconds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from coilmodel.machine import BatteryDrive, Machine
from coilmodel.proof import Check, chain

ROWS = list(chain.checks())
DECIDING = [check for check in ROWS if check.limit]


@pytest.mark.parametrize("check", DECIDING, ids=[check.name for check in DECIDING])
def test_row(check: Check) -> None:
    assert check.passed, f"{check.ours!r} against {check.expected!r}: {check.difference:.3g} apart, {check.tolerance:.3g} allowed"


def test_there_are_enough_and_each_says_where_it_comes_from() -> None:
    assert len(DECIDING) >= 20
    assert all(check.source and check.sureness and check.why for check in ROWS)
    assert len({check.name for check in ROWS}) == len(ROWS)
    assert not [check.name for check in ROWS if check.kin], "none of these may compare a formula with itself"
    only_remembered = [check.name for check in DECIDING if check.sureness.startswith(("uncertain", "from memory"))
                       and "reproduced" not in check.sureness]
    assert not only_remembered


WRONG: list[tuple[str, dict[str, float], Callable[[], Iterator[Check]]]] = [
    ("magneto", {"flux_linkage": 1.03}, chain._kilovolts_by_speed),
    ("magneto", {"inductance": 1.03}, chain._magneto),
    ("coil", {"primary_inductance": 1.05}, chain._best_capacity),
    ("coil", {"turns_ratio": 1.03}, chain._by_capacity),
    ("coil", {"secondary_capacitance": 1.03}, chain._two_notes),
    ("coil", {"secondary_capacitance": 1.05}, chain._sudden_break),
    ("condenser", {"leakage_resistance": 0.9}, chain._equivalent_circuit),
    ("condenser", {"capacitance": 1.03}, chain._spark),
]


@pytest.mark.parametrize(("part", "factors", "block"), WRONG, ids=lambda value: getattr(value, "__name__", str(value)))
def test_a_model_a_few_percent_wrong_is_seen(part: str, factors: dict[str, float], block: Callable[[], Iterator[Check]],
                                             monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel is given a machine a little off; the outside figure stays. Some row of the block must notice."""
    right = chain.simulate

    def wrong(machine: Machine, *arguments: Any, **named: Any) -> Any:
        return right(machine.scaled(**{f"{part}_{name}": factor for name, factor in factors.items()}), *arguments, **named)

    monkeypatch.setattr(chain, "simulate", wrong)
    assert [check.name for check in block() if check.limit and not check.passed]


def test_the_matrix_circuit_keeps_its_energy_where_nothing_loses() -> None:
    """The outside circuit is held to something too: without losses its energy stays, and it starts where the run broke."""
    machine = chain.lossless(0.8, 0.45e-6).but(
        coil={"primary_resistance": 0.01, "secondary_resistance": 10.0}, condenser={"leakage_resistance": 1e12})
    coil, size = machine.coil, machine.condenser.capacitance
    k, n, own = coil.coupling, coil.turns_ratio, coil.primary_inductance
    start = np.array([2.0, 0.0, k * own * 2.0, 0.0, 0.0, 0.0, 0.0])
    rows = chain.open_circuit(machine, 0.0, 0.0).after(start, np.arange(1, 2001) * 5e-7)
    energy = (0.5 * (1.0 - k) * own * (rows[:, 0] ** 2 + (n * rows[:, 1]) ** 2) + 0.5 * rows[:, 2] ** 2 / (k * own)
              + 0.5 * size * rows[:, 3] ** 2 + 0.5 * coil.secondary_capacitance * rows[:, 4] ** 2)
    assert energy == pytest.approx(0.5 * own * 4.0, rel=0.03)
    run = chain.break_of(machine, BatteryDrive(0.2, 0.0, 0.0, pulse_time=30e-3), 25e-3)
    assert run.openings[0].time == pytest.approx(25e-3, rel=1e-9)
