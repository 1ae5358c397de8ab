"""What a coil is worth to the engine, on runs made by hand: what counts as a misfire, whose energy is whose; and the scatter."""

from __future__ import annotations

import pytest

from coilmodel import Machine, TimerDrive
from coilmodel import worth as module
from coilmodel.machine import Scatter
from coilmodel.worth import SPEEDS, WINDOW_START, Worth, over_speed, worth

from .handmade import RPM, opening, run_of

TURNING = 6.0 * RPM  # degrees a second


def of(monkeypatch: pytest.MonkeyPatch, *openings, windows: int = 4, **asked) -> Worth:
    """The worth of a coil whose windows hold just these openings."""
    timer = TimerDrive(RPM, 1.0, window_start=WINDOW_START, window_width=28.0)
    monkeypatch.setattr(module, "simulate", lambda *args, **named: run_of(*openings, pulses=windows, drive=timer))
    return worth(Machine(), RPM, windows=windows, **asked)


def test_one_strong_spark_in_each_window_and_its_angle_from_the_closing(monkeypatch: pytest.MonkeyPatch) -> None:
    start = WINDOW_START / TURNING
    found = of(monkeypatch, *(opening(n, start + 2e-3 + n * 0.1e-3, spark=20e-3, late=0.1e-3) for n in range(4)))
    assert found.misfires == 0.0
    assert found.sparks == 1.0
    assert found.first_energy == found.energy == pytest.approx(20e-3)
    assert found.later_energy == 0.0
    assert found.angle.mean == pytest.approx(TURNING * (2e-3 + 0.15e-3 + 0.1e-3))
    assert found.angle.scatter == pytest.approx(TURNING * 0.1e-3 * (5.0 / 3.0) ** 0.5)  # of 0, 1, 2, 3 tenths of a millisecond
    assert found.angle.count == 4


def test_a_weak_spark_is_a_misfire_and_still_a_spark(monkeypatch: pytest.MonkeyPatch) -> None:
    found = of(monkeypatch, opening(0, spark=20e-3), opening(1, spark=9e-3), opening(3, spark=20e-3))
    assert found.misfires == 0.5  # the weak one, and the window without any
    assert found.sparks == 0.75
    assert found.first_energy == pytest.approx(49e-3 / 3.0)
    assert found.energy == pytest.approx(20e-3)
    assert found.angle.count == 2


def test_the_edge_is_the_callers(monkeypatch: pytest.MonkeyPatch) -> None:
    weak = [opening(n, spark=9e-3) for n in range(4)]
    assert of(monkeypatch, *weak).misfires == 1.0
    assert of(monkeypatch, *weak).angle.mean is None
    assert of(monkeypatch, *weak, least=8e-3).misfires == 0.0


def test_what_comes_after_the_spark_that_lights_is_wasted_and_what_comes_before_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    two = of(monkeypatch, opening(0, spark=20e-3), opening(0, 4e-3, spark=12e-3), windows=1)
    assert (two.sparks, two.misfires) == (2.0, 0.0)
    assert two.energy == pytest.approx(20e-3)
    assert two.later_energy == pytest.approx(12e-3)
    late = of(monkeypatch, opening(0, spark=5e-3), opening(0, 4e-3, spark=12e-3), windows=1)
    assert late.misfires == 0.0
    assert late.first_energy == pytest.approx(5e-3)
    assert late.energy == pytest.approx(12e-3)
    assert late.later_energy == 0.0
    assert late.angle.mean - two.angle.mean == pytest.approx(TURNING * 2e-3)


def test_a_restrike_in_the_warm_channel_is_the_same_spark(monkeypatch: pytest.MonkeyPatch) -> None:
    warm = of(monkeypatch, opening(0, spark=6e-3), opening(0, 2.5e-3, spark=6e-3, quiet=0.05e-3), windows=1)
    assert (warm.sparks, warm.misfires) == (1.0, 0.0)  # 12 mJ in one spark, where two of 6 mJ would be a misfire
    cold = of(monkeypatch, opening(0, spark=6e-3), opening(0, 2.5e-3, spark=6e-3, quiet=1e-3), windows=1)
    assert (cold.sparks, cold.misfires) == (2.0, 1.0)


def test_a_spark_in_another_window_does_not_help(monkeypatch: pytest.MonkeyPatch) -> None:
    found = of(monkeypatch, opening(0, spark=20e-3), opening(0, 4e-3, spark=20e-3), windows=2)
    assert found.misfires == 0.5
    assert found.sparks == 1.0  # one a window, as an average, and yet a misfire


def test_arcs_at_the_points_are_summed_over_all_partings(monkeypatch: pytest.MonkeyPatch) -> None:
    burnt = [opening(0, spark=20e-3, break_arc_energy=3e-3), opening(0, 4e-3, break_arc_energy=1e-3),
             opening(1, break_arc_energy=4e-3)]
    assert of(monkeypatch, *burnt, windows=2).arc_energy == pytest.approx(4e-3)


def test_nothing_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    found = of(monkeypatch)
    assert (found.misfires, found.sparks, found.energy, found.arc_energy) == (1.0, 0.0, 0.0, 0.0)
    assert found.angle.mean is None


# ------------------------------------------------------------------------------------------------------------- scatter
def test_the_same_seed_gives_the_same_windows_and_another_seed_others() -> None:
    def run(scatter: Scatter | None) -> Worth:
        return worth(Machine(), 450.0, windows=3, scatter=scatter)

    first = run(Scatter(seed=7))
    assert run(Scatter(seed=7)) == first
    assert run(Scatter(seed=8)) != first
    assert run(None) != first
    assert run(Scatter(breakdown=0.0, resistance=0.0, ripple=0.0)) == run(None)
    assert first.angle.scatter > 10.0 * run(None).angle.scatter


def test_over_speed_is_worth_at_each_speed() -> None:
    speeds = (300.0, 600.0)
    assert over_speed(Machine(), speeds, windows=1) == [worth(Machine(), rpm, windows=1) for rpm in speeds]
    assert (SPEEDS[0], SPEEDS[-1], len(SPEEDS)) == (200.0, 1200.0, 11)


def test_bad_windows_get_a_sentence() -> None:
    with pytest.raises(ValueError, match="0"):
        worth(Machine(), 450.0, windows=0)
