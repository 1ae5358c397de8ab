"""What lesson 1 says of the magneto's current, held against the model: presets, text and the replies to wrong beliefs.

About two seconds.
"""

from __future__ import annotations

import pytest

from coilmodel import MagnetoDrive, simulate
from coilmodel.readings import read
from lessons.exercises import magneto as asked
from lessons.panels import magneto as panel

COIL = panel.NOMINAL


def settled_peak(machine, rpm: float, drive: float = 1.0) -> float:
    """Return the peak current (A) of the model with its contacts wedged shut, its first surge over (some ten time constants)."""
    warm_up = max(4, int(0.06 / (30.0 / (machine.magneto.pole_pairs * rpm))))
    return simulate(panel.shut(machine), MagnetoDrive(rpm, drive), pulses=2, warm_up=warm_up).meter.peak


def readings(which, label: str) -> dict[str, float | None]:
    values = next(preset.values for preset in which.presets if preset.label == label)
    return {reading.label: reading.value for reading in which.picture(values).readings}


# ------------------------------------------------------------------------------------------ the formula and the model
@pytest.mark.parametrize("rpm", [40.0, 80.0, 150.0, 300.0, 450.0, 900.0, 1200.0])
def test_the_unbroken_current_is_that_of_the_model_with_its_contacts_wedged_shut(rpm: float) -> None:
    """Observed worst difference 1.9 % (900 rpm and over); the core's own loss, which the formula leaves out, is most of it."""
    assert panel.unbroken_peak(COIL, rpm) == pytest.approx(settled_peak(COIL, rpm), rel=0.03)


@pytest.mark.parametrize("factors", [{"magneto_resistance": 5.0}, {"magneto_inductance": 3.0}, {"coil_primary_inductance": 0.6}])
def test_and_of_other_magnetos_and_coils(factors: dict[str, float]) -> None:
    for rpm in (100.0, 700.0):
        machine = COIL.scaled(**factors)
        assert panel.unbroken_peak(machine, rpm, 0.7) == pytest.approx(settled_peak(machine, rpm, 0.7), rel=0.03)


def test_the_dashed_curve_follows_the_wedged_model_through_the_pulse() -> None:
    run = simulate(panel.shut(COIL), MagnetoDrive(450.0), pulses=2, warm_up=12, record=(0, 1))
    start, top = run.first_pulse * run.pulse_seconds, panel.unbroken_peak(COIL, 450.0)
    for t, i in zip(run.strips.time, run.strips.current, strict=True):
        assert panel.unbroken_current(COIL, 450.0, 6.0 * 450.0 * (t - start)) == pytest.approx(i, abs=0.04 * top)


# ------------------------------------------------------------------------------------------------------ what is said
def test_faster_is_not_always_more_current() -> None:
    """Twice the hand's speed nearly doubles the current; twice the driving speed adds less than a tenth."""
    assert panel.unbroken_peak(COIL, 100.0) > 1.7 * panel.unbroken_peak(COIL, 50.0)
    assert 1.0 < panel.unbroken_peak(COIL, 900.0) / panel.unbroken_peak(COIL, 450.0) < 1.1
    assert panel.unbroken_peak(COIL, 5000.0) < panel.ceiling(COIL)
    assert panel.unbroken_peak(COIL, panel.corner_speed(COIL)) == pytest.approx(panel.ceiling(COIL) / 2**0.5)


def test_the_presets_of_the_angle_panel_show_what_they_say() -> None:
    drive, fast, hand = (readings(panel.ANGLE, label) for label in ("Driving speed", "Twice as fast", "Hand crank"))
    unbroken, late = "Unbroken current, peak", "Current comes after the EMF by"
    assert fast["EMF, peak"] == pytest.approx(2.0 * drive["EMF, peak"])
    assert fast[unbroken] < 1.1 * drive[unbroken]
    assert hand["EMF, peak"] == pytest.approx(drive["EMF, peak"] / 3.0)
    assert hand[unbroken] > 0.5 * drive[unbroken]
    assert hand[late] < 0.7 * drive[late]
    assert drive["Sparks per pulse"] == hand["Sparks per pulse"] == 1.0
    for label in ("Too slow", "Corroded joint, hand crank", "Weak magnets, hand crank"):
        assert readings(panel.ANGLE, label)["Sparks per pulse"] == 0.0
        assert readings(panel.ANGLE, label)["Opening current"] is None


def test_where_the_contacts_never_part_the_two_currents_are_one() -> None:
    strip = next(s for s in panel.ANGLE.picture({"rpm": 80.0}).strips if s.key == "current")
    shut, real = strip.lines
    assert len(real.x) == len(real.y) > 100
    for angle, current in zip(real.x, real.y, strict=True):
        assert panel.unbroken_current(COIL, 80.0, angle) == pytest.approx(current, abs=0.05)
    assert max(shut.y) == pytest.approx(panel.unbroken_peak(COIL, 80.0), rel=1e-3)


def test_the_coil_that_breaks_its_current_runs_ahead_of_the_unbroken_one() -> None:
    result = read(simulate(COIL, MagnetoDrive(450.0), pulses=20))
    angle = 6.0 * 450.0 * result.opening_time.mean
    assert result.opening_current.mean > 1.4 * panel.unbroken_current(COIL, 450.0, angle)


def test_the_presets_of_the_speed_panel_show_what_they_say() -> None:
    names = ("As it should be", "Corroded joint", "Weak magnets", "Half the magneto's inductance", "Fewer turns")
    good, joint, weak, less, turns = (readings(panel.SPEED, label) for label in names)
    top, first = "Ceiling: flux over inductance", "Slowest speed that fires"
    assert joint[top] == pytest.approx(good[top])
    assert joint[first] > 1.4 * good[first]
    assert weak[top] == pytest.approx(0.6 * good[top])
    assert weak[first] > 1.2 * good[first]
    assert less[top] > 1.2 * good[top]
    assert abs(less[first] - good[first]) <= 0.15 * good[first]
    assert COIL.coil.primary_inductance > COIL.magneto.inductance  # most of the loop's is the coil's own
    assert turns[top] < 0.95 * good[top]
    assert turns[first] > 1.1 * good[first]


def test_the_slowest_speed_is_where_the_unbroken_current_reaches_what_the_coil_needs() -> None:
    """The current there varies by under a fifth while the speed itself varies by three; observed 3.3 to 3.8 A, 70 to 200 rpm."""
    found = {}
    for drive, extra in ((0.7, 0.0), (0.8, 0.0), (1.0, 0.0), (1.0, 0.6), (1.4, 0.0), (1.6, 0.0)):
        machine = panel.machine({"inductance": panel.INDUCTANCE, "resistance": panel.RESISTANCE + extra})
        rpm = panel.slowest_speed(machine, drive)
        assert rpm is not None
        assert not panel.sparks_every_pulse(machine, 0.85 * rpm, drive)
        found[rpm] = panel.unbroken_peak(machine, rpm, drive)
    assert max(found) > 2.0 * min(found)
    assert max(found.values()) < 1.2 * min(found.values())


def test_a_magneto_too_weak_for_any_speed_is_said_to_be() -> None:
    assert panel.slowest_speed(COIL, 0.2) is None
    assert "at no speed" in panel.SPEED.picture({"drive": 40.0, "resistance": 4.0}).sentence


# -------------------------------------------------------------------------------------------------------- exercises
def test_resistance_shows_when_slow_inductance_when_fast_magnets_always() -> None:
    """The rule that the hints of 01-two-speeds teach, on the numbers that its question shows."""
    for fault, factor in (("magnets", 0.6), ("magnets", 0.75), ("joint", 1.7), ("joint", 2.3), ("iron", 1.7), ("iron", 2.2)):
        for slow, fast in ((60.0, 900.0), (80.0, 700.0)):
            good_slow, good_fast, bad_slow, bad_fast = (round(amperes, 1) for amperes in asked.fault_meters(
                {"fault": fault, "factor": factor, "slow": slow, "fast": fast}))
            lost_slow, lost_fast = 1.0 - bad_slow / good_slow, 1.0 - bad_fast / good_fast
            told = "magnets" if abs(lost_slow - lost_fast) < 0.1 else "joint" if lost_slow > lost_fast else "iron"
            assert told == fault, (fault, factor, slow, lost_slow, lost_fast)


def test_the_order_of_what_helps_turns_round_between_slow_and_fast() -> None:
    assert asked._changed(asked.SLOW) == ["as-is", "inductance", "flux", "speed"]
    assert asked._changed(asked.FAST) == ["as-is", "speed", "flux", "inductance"]
    for rpm in (70.0, 90.0, 450.0, 600.0):
        assert asked._changed(rpm) == asked._changed(asked.SLOW if rpm < 200.0 else asked.FAST)


def test_the_good_magneto_has_room_to_spare() -> None:
    """One click of either slider off the setting that is offered as right must still be right."""
    for resistance, limit, slow in ((0.55, 7.1, 150.0), (0.6, 7.1, 145.0), (0.55, 7.2, 145.0)):
        of = {"resistance": resistance, "limit": limit, "slow": slow, "fast": 1000.0, "drive": 55.0}
        good = asked._good_magneto(of)
        for values in (good, {**good, "drive": good["drive"] - 3.0}, {**good, "inductance": round(good["inductance"] + 0.2, 1)},
                       {**good, "inductance": round(good["inductance"] - 0.2, 1)}):
            assert all(trial.met for trial in asked._trials(values, of)), (values, of)
