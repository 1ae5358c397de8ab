"""What counts as a spark and as one for the engine, on runs made by hand whose sparks anyone can count."""

from __future__ import annotations

import math

import pytest

from coilmodel import BatteryDrive, Machine, TimerDrive, TransformerDrive, kernel
from coilmodel.sparks import EFFECTIVE, RECOVERED, WEAKEST, by_pulse, effective, grouped, sparks

from .handmade import PULSE, RPM, opening, run_of


# --------------------------------------------------------------------------------------------------- quiet, and grouping
def test_a_new_spark_begins_when_the_gap_has_won_back_three_quarters() -> None:
    """The kernel's own law says when: after three recovery times, the very moment included, whatever the gap holds."""
    assert RECOVERED == 0.75
    for recovery in (0.1e-3, 2e-3):
        enough = 3.0 * recovery
        holds = kernel.spark_gap_holds(enough, 12e3, 600.0, recovery)
        assert (holds - 600.0) / (12e3 - 600.0) == pytest.approx(RECOVERED, rel=1e-12)
        assert grouped([1.0, 1.0001 * enough], recovery) == [[0], [1]]
        assert grouped([1.0, 0.9999 * enough], recovery) == [[0, 1]]
    assert grouped([1.0, 3.0, 2.0], 1.0) == [[0], [1, 2]]  # just enough is enough


def test_breakdowns_in_one_warm_channel_are_one_spark() -> None:
    assert grouped([], 0.1e-3) == []
    assert grouped([0.0], 0.1e-3) == [[0]]  # the first begins one, however short the quiet that was seen before it
    assert grouped([5e-3, 1e-4, 2e-4, 5e-3, 1e-3, 1e-5], 0.1e-3) == [[0, 1, 2], [3], [4, 5]]


# ------------------------------------------------------------------------------------------------------------- sparks
def test_one_spark_has_the_time_angle_and_energy_of_its_opening() -> None:
    one = opening(1, 2e-3, spark=25e-3, late=0.2e-3)
    (spark,) = sparks(run_of(opening(0), one))
    assert spark.pulse == 1
    assert spark.time == pytest.approx(PULSE + 2.2e-3, rel=1e-12)
    assert spark.after == pytest.approx(2.2e-3, rel=1e-12)
    assert spark.crank_angle == pytest.approx(6.0 * RPM * 2.2e-3, rel=1e-12)  # 9.9 degrees: the delay turns the crank too
    assert spark.energy == 25e-3
    assert spark.opening is one


def test_a_gap_that_never_went_out_still_burns_the_same_spark() -> None:
    """No quiet at all before the second breakdown: the shortest there is, and not an unknown one."""
    (spark,) = sparks(run_of(opening(0, 2e-3, spark=12e-3), opening(0, 2.2e-3, spark=3e-3, quiet=0.0)))
    assert spark.energy == pytest.approx(15e-3, rel=1e-12)


def test_an_opening_that_did_not_break_the_gap_down_is_no_spark() -> None:
    """Neither a parting alone, nor energy without a breakdown, which cannot be."""
    assert sparks(run_of(opening(0), opening(1, spark_energy=20e-3))) == []
    assert sparks(run_of()) == []


def test_bounces_in_a_warm_gap_add_to_the_first_one() -> None:
    """A break, a bounce 0.2 ms of quiet later and another: one spark with the energy of all, where and when it began."""
    first = opening(2, 2e-3, spark=12e-3, late=0.1e-3)
    run = run_of(first, opening(2, 2.6e-3, spark=5e-3, quiet=0.2e-3), opening(2, 3.0e-3, spark=2e-3, quiet=0.29e-3))
    (spark,) = sparks(run)
    assert spark.energy == pytest.approx(19e-3, rel=1e-12)
    assert spark.after == pytest.approx(2.1e-3, rel=1e-12)
    assert spark.opening is first


def test_bounces_in_a_cold_gap_are_sparks_of_their_own() -> None:
    run = run_of(opening(2, 2e-3, spark=12e-3), opening(2, 2.9e-3, spark=5e-3, quiet=0.31e-3))
    assert [spark.energy for spark in sparks(run)] == [12e-3, 5e-3]
    slow = Machine().but(gap={"recovery": 0.2e-3})  # the same openings across a gap that recovers slower: one
    assert len(sparks(run_of(*run.openings, machine=slow))) == 1


def test_openings_between_that_do_not_fire_do_not_part_a_spark() -> None:
    run = run_of(opening(0, 2e-3, spark=12e-3), opening(0, 2.2e-3), opening(0, 2.4e-3, spark=3e-3, quiet=0.2e-3))
    assert [spark.energy for spark in sparks(run)] == [pytest.approx(15e-3, rel=1e-12)]


def test_a_channel_still_warm_from_the_pulse_before_is_that_pulses_spark() -> None:
    run = run_of(opening(0, 4.9e-3, spark=12e-3), opening(1, 0.05e-3, spark=4e-3, quiet=0.05e-3), opening(1, 2e-3, spark=9e-3))
    assert [(spark.pulse, spark.energy) for spark in sparks(run)] == [(0, pytest.approx(16e-3)), (1, 9e-3)]


def test_less_than_a_millijoule_is_none() -> None:
    """The edge itself counts; crumbs count together if they fall into one warm channel."""
    assert WEAKEST == 1e-3
    least = opening(1, spark=1e-3)
    run = run_of(opening(0, spark=0.999e-3), least)
    assert [spark.opening for spark in sparks(run)] == [least]
    crumbs = run_of(opening(0, 2e-3, spark=0.6e-3), opening(0, 2.2e-3, spark=0.6e-3, quiet=0.1e-3))
    assert [spark.energy for spark in sparks(crumbs)] == [pytest.approx(1.2e-3)]


def test_what_begins_after_the_last_measured_pulse_is_left_out() -> None:
    run = run_of(opening(3, spark=20e-3), opening(4, spark=20e-3), pulses=4)
    assert [spark.pulse for spark in sparks(run)] == [3]
    assert [len(pulse) for pulse in by_pulse(run)] == [0, 0, 0, 1]


@pytest.mark.parametrize("drive", [BatteryDrive(), TransformerDrive()])
def test_without_a_crank_there_is_no_angle(drive: BatteryDrive | TransformerDrive) -> None:
    (spark,) = sparks(run_of(opening(0, spark=20e-3, turning=False), drive=drive))
    assert spark.crank_angle is None
    assert spark.after == pytest.approx(2.1e-3, rel=1e-12)


def test_under_a_timer_the_angle_goes_with_its_own_speed() -> None:
    """At 300 rpm 0.2 ms are 0.36 degrees."""
    (spark,) = sparks(run_of(opening(0, spark=20e-3, late=0.2e-3, crank_angle=71.0), drive=TimerDrive(rpm=300.0)))
    assert spark.crank_angle == pytest.approx(71.36, rel=1e-12)
    (spark,) = sparks(run_of(opening(0, spark=20e-3, turning=False), drive=TimerDrive(rpm=300.0)))
    assert spark.crank_angle is None


def test_a_spark_whose_time_was_not_kept_is_as_late_as_its_opening() -> None:
    (spark,) = sparks(run_of(opening(1, spark=20e-3, spark_time=None)))
    assert (spark.time, spark.after) == (pytest.approx(PULSE + 2e-3), 2e-3)


# ------------------------------------------------------------------------------------------------------- for the engine
def test_the_first_spark_with_enough_energy_lights_the_charge() -> None:
    """A weak one before it is too soon, a strong one after it too late; ten millijoules are enough, a hair less is not."""
    assert EFFECTIVE == 10e-3
    run = run_of(opening(0, 1e-3, spark=6e-3), opening(0, 2e-3, spark=10e-3), opening(0, 3e-3, spark=30e-3),
                 opening(1, spark=9.999e-3), opening(3, spark=30e-3))
    assert [spark and spark.energy for spark in effective(run)] == [10e-3, None, None, 30e-3]
    assert [spark and spark.energy for spark in effective(run, 5e-3)] == [6e-3, 9.999e-3, None, 30e-3]
    assert [spark and spark.energy for spark in effective(run, 20e-3)] == [30e-3, None, None, 30e-3]
    assert [len(pulse) for pulse in by_pulse(run)] == [3, 1, 0, 1]
    weak, enough, _ = by_pulse(run)[0]
    assert (weak.lights(), enough.lights(), weak.lights(6e-3), weak.lights(math.nextafter(6e-3, 1.0))) == (
        False, True, True, False)
