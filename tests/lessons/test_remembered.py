"""The runs that the lessons' tests share (conftest.py): what is remembered is the kernel's, of the very same numbers."""

from __future__ import annotations

from typing import Any

import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, compiled, run
from coilmodel.run import simulate
from coilmodel.tally import numbers_of, tallies

from .conftest import REMEMBERING, Remembering


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What the kernel itself was asked: an entry for each run."""
    runs: list[int] = []

    def advance(*given: Any) -> None:
        runs.append(len(given[1]))
        REMEMBERING.advance(*given)

    remembering = Remembering(advance)
    for module in (run, compiled):
        monkeypatch.setattr(module, "advance", remembering)
    return runs


def test_a_run_is_made_once_and_is_the_kernels(asked: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [(drive, record) for drive in (MagnetoDrive(), BatteryDrive()) for record in (None, (0, 1), (1, 2))]
    first, again = ([simulate(Machine(), drive, pulses=4, record=record) for drive, record in cases] for _ in range(2))
    assert len(asked) == len(cases)
    monkeypatch.setattr(run, "advance", REMEMBERING.advance)
    assert first == again == [simulate(Machine(), drive, pulses=4, record=record) for drive, record in cases]


def test_another_machine_is_another_run(asked: list[int]) -> None:
    one, other = (simulate(Machine().scaled(cushion_preload=share), MagnetoDrive()) for share in (1.0, 1.0 + 1e-12))
    assert len(asked) == 2
    assert one.machine != other.machine


def test_tallies_share_them_too(asked: list[int]) -> None:
    numbers = [numbers_of(Machine(), MagnetoDrive(rpm), 3, 1) for rpm in (400.0, 500.0)]
    assert tallies(numbers, 3) == tallies(numbers, 3)
    assert len(asked) == 2


def test_what_is_too_much_is_forgotten(asked: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Remembering, "MOST", 1)
    runs = [simulate(Machine(), MagnetoDrive(rpm), pulses=2, record=(0, 0)) for rpm in (400.0, 500.0, 400.0)]
    assert len(asked) == 3
    assert runs[0] == runs[2]
