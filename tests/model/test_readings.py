"""Readings of runs made by hand: one spark, two, none, one too weak; chatter and bounces; every answer known beforehand."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path

import pytest

from coilmodel import BatteryDrive, Machine, Meter, TransformerDrive
from coilmodel.readings import Readings, Spread, first_openings, in_words, read, sparks_in_pulses, spread

from .handmade import PULSE, RPM, opening, run_of


# ------------------------------------------------------------------------------------------------------------- spread
def test_mean_and_sample_deviation() -> None:
    """2, 4 and 9: mean 5, squares 9, 1 and 16 over two; of one value no scatter is known, of none nothing."""
    assert spread([2.0, 4.0, 9.0]) == Spread(5.0, pytest.approx(math.sqrt(13.0), rel=1e-12), 3)
    assert spread([3.0, 3.0]) == Spread(3.0, 0.0, 2)
    assert spread([7.0]) == Spread(7.0, None, 1)
    assert spread([]) == Spread(None, None, 0)


# ----------------------------------------------------------------------------------------------------------- openings
def test_the_first_opening_of_a_pulse_is_its_first_real_one() -> None:
    """Chatter (a gap of some microns) and bounces with nothing stored are passed over; so is what follows the measured pulses."""
    chatter = opening(0, 0.5e-3, largest_gap=9e-6)
    bounce = opening(0, 0.7e-3, stored_energy=0.5e-3)
    first, second = opening(0, 2e-3), opening(0, 3e-3)
    other, beyond = opening(2, 1e-3), opening(4, 2e-3)
    run = run_of(chatter, bounce, first, second, opening(1, largest_gap=1e-6), other, beyond, pulses=4)
    assert first_openings(run) == [first, other]


# --------------------------------------------------------------------------------------------------- every reading, once
FIRST = opening(0, 2.0e-3, spark=24e-3, late=0.1e-3, current=5.0, parting_speed=0.5, on_rivet=True, follow=0.10e-3,
                peak_contact_voltage=200.0, peak_secondary_voltage=11e3, arc_energy=3e-3, break_arc_energy=1e-3)
SOON = opening(1, 1.2e-3, spark=4e-3, late=0.05e-3, current=-3.0, parting_speed=0.2, follow=0.04e-3,
               peak_contact_voltage=120.0, peak_secondary_voltage=10.5e3, arc_energy=5e-3, break_arc_energy=4e-3)
AGAIN = opening(1, 2.4e-3, spark=16e-3, late=0.1e-3, current=4.5, parting_speed=0.9, on_rivet=True, follow=0.2e-3,
                peak_contact_voltage=300.0, peak_secondary_voltage=13e3, arc_energy=1e-3, break_arc_energy=0.5e-3)
LATE = opening(1, 3.6e-3, spark=8e-3, late=0.1e-3, current=2.0, arc_energy=0.5e-3)
DUD = opening(2, 2.6e-3, current=1.0, parting_speed=0.3, follow=0.06e-3, largest_gap=0.5e-3, peak_contact_voltage=90.0,
              peak_secondary_voltage=8e3)
WEAK = opening(3, 2.2e-3, spark=6e-3, late=0.2e-3, current=2.0, parting_speed=0.4, follow=0.12e-3,
               peak_contact_voltage=150.0, peak_secondary_voltage=10.1e3)
CHATTER = opening(3, 4e-3, largest_gap=3e-6, current=9.0, arc_energy=0.5e-3, break_arc_energy=0.3e-3)


def made() -> Readings:
    """One spark, three (the first too weak, the last too late), none, one too weak."""
    return read(run_of(FIRST, SOON, AGAIN, LATE, DUD, WEAK, CHATTER, meter=Meter(20e-3, 0.25, 1.8, 2.3, 5.4)))


def test_shares_of_pulses() -> None:
    """Of four pulses two have one spark, one has three, one none; only two get one that lights the charge."""
    result = made()
    assert sparks_in_pulses(run_of(FIRST, SOON, AGAIN, LATE, DUD, WEAK, CHATTER)) == [1, 3, 0, 1]
    assert (result.pulses, result.single, result.multiple, result.none) == (4, 0.5, 0.25, 0.25)
    assert result.misfired == 0.5
    assert result.sparks_per_pulse == 1.25
    assert result.sparks_a_second == pytest.approx(5 / 20e-3, rel=1e-12)


def test_readings_of_first_openings() -> None:
    """Currents 5, 3, 1 and 2 A without sign, times 2, 1.2, 2.6 and 2.2 ms; not the second opening's, nor the chatter's."""
    result = made()
    assert result.opening_current == spread([5.0, 3.0, 1.0, 2.0])
    assert result.opening_current.mean == 2.75
    assert result.opening_time == spread([2.0e-3, 1.2e-3, 2.6e-3, 2.2e-3])
    assert result.parting_speed == spread([0.5, 0.2, 0.3, 0.4])
    assert result.follow_travel == spread([0.10e-3, 0.04e-3, 0.06e-3, 0.12e-3])
    assert result.on_rivet == 0.25
    assert result.peak_contact_voltage == pytest.approx((200.0 + 120.0 + 90.0 + 150.0) / 4, rel=1e-12)
    assert result.peak_secondary_voltage == pytest.approx((11e3 + 10.5e3 + 8e3 + 10.1e3) / 4, rel=1e-12)
    assert result.break_arc_energy == pytest.approx((1e-3 + 4e-3) / 4, rel=1e-12)


def test_readings_of_sparks() -> None:
    """First sparks 24, 4 and 6 mJ; effective ones 24 and 16; after these 8; in all 58 over four pulses."""
    result = made()
    degrees = 6.0 * RPM
    assert result.first_spark_energy == pytest.approx(34e-3 / 3, rel=1e-12)
    assert result.effective_energy == pytest.approx(20e-3, rel=1e-12)
    assert result.later_energy == pytest.approx(8e-3 / 4, rel=1e-12)
    assert result.spark_energy == pytest.approx(58e-3 / 4, rel=1e-12)
    assert result.arc_energy == pytest.approx(10e-3 / 4, rel=1e-12)  # of all openings, chatter too
    assert result.firing_angle.count == 2
    assert result.firing_angle.mean == pytest.approx(degrees * (2.1e-3 + 2.5e-3) / 2, rel=1e-12)
    assert result.firing_angle.scatter == pytest.approx(degrees * 0.4e-3 / math.sqrt(2.0), rel=1e-12)
    assert result.first_angle.count == 3
    assert result.first_angle.mean == pytest.approx(degrees * (2.1e-3 + 1.25e-3 + 2.4e-3) / 3, rel=1e-12)


def test_what_counts_as_effective_can_be_asked_for() -> None:
    run = run_of(FIRST, SOON, AGAIN, LATE, DUD, WEAK, CHATTER)
    easy = read(run, 4e-3)
    assert (easy.misfired, easy.firing_angle.count) == (0.25, 3)
    assert easy.effective_energy == pytest.approx(34e-3 / 3, rel=1e-12)
    assert easy.later_energy == pytest.approx(24e-3 / 4, rel=1e-12)
    hard = read(run, 30e-3)
    assert (hard.misfired, hard.effective_energy, hard.later_energy, hard.firing_angle) == (1.0, 0.0, 0.0, Spread(None, None, 0))
    assert (hard.single, hard.multiple, hard.none) == (easy.single, easy.multiple, easy.none) == (0.5, 0.25, 0.25)
    assert read(run, 10e-3) == read(run)


def test_each_meter_reads_its_own_kind() -> None:
    """Mean, rectified mean and RMS differ on every magneto; so does the peak."""
    result = made()
    assert (result.ammeter_mean, result.ammeter_rectified, result.ammeter_rms, result.peak_current) == (0.25, 1.8, 2.3, 5.4)


def test_a_run_without_openings_has_zeros_and_nothing_known() -> None:
    result = read(run_of(pulses=2))
    assert (result.pulses, result.none, result.misfired, result.single, result.multiple) == (2, 1.0, 1.0, 0.0, 0.0)
    nothing = Spread(None, None, 0)
    for name in ("opening_current", "opening_time", "firing_angle", "first_angle", "parting_speed", "follow_travel"):
        assert getattr(result, name) == nothing, name
    for name in ("on_rivet", "spark_energy", "first_spark_energy", "effective_energy", "later_energy", "arc_energy",
                 "break_arc_energy", "peak_contact_voltage", "peak_secondary_voltage", "sparks_a_second", "sparks_per_pulse"):
        assert getattr(result, name) == 0.0, name


def test_no_reading_was_forgotten_here() -> None:
    """Every field stands in some test above: a new one is to be given a known answer too."""
    text = Path(__file__).read_text(encoding="utf-8")
    assert not [item.name for item in fields(Readings) if f".{item.name}" not in text and f'"{item.name}"' not in text]


def test_a_spark_in_the_wrong_pulse_shows_where_it_fell() -> None:
    """Two sparks in one pulse and none in the next is not one in each, though the mean is the same."""
    right = read(run_of(opening(0, spark=20e-3), opening(1, spark=20e-3), pulses=2))
    wrong = read(run_of(opening(0, 1e-3, spark=20e-3), opening(0, 4e-3, spark=20e-3), pulses=2))
    assert right.sparks_per_pulse == wrong.sparks_per_pulse == 1.0
    assert (right.single, right.misfired) == (1.0, 0.0)
    assert (wrong.single, wrong.multiple, wrong.none, wrong.misfired) == (0.0, 0.5, 0.5, 0.5)


# ------------------------------------------------------------------------------------------------------------ in words
def steady(energy: float = 20e-3) -> list:
    return [opening(pulse, 2e-3 + 1e-5 * pulse, spark=energy) for pulse in range(4)]


def test_one_good_spark_in_every_pulse_in_words() -> None:
    assert in_words(run_of(*steady())) == "Parts 2.0 ms into the pulse at 5.0 A; one spark in every pulse."


def test_weak_sparks_in_words() -> None:
    run = run_of(*steady()[:3], opening(3, spark=5e-3))
    assert in_words(run) == ("Parts 2.0 ms into the pulse at 5.0 A; one spark in every pulse, but 25 in 100 of them too weak to "
                             "light the charge.")
    assert in_words(run_of(*steady(5e-3))).endswith("but all of them too weak to light the charge.")


def test_a_mixed_run_in_words() -> None:
    assert in_words(run_of(FIRST, SOON, AGAIN, LATE, DUD, WEAK)) == (
        "Parts 2.0 ms into the pulse at 2.8 A; of the pulses, 25 in 100 fire more than once, 25 in 100 do not fire, 50 in 100 "
        "fire once (1.2 sparks a pulse on average); 50 in 100 misfire.")


def test_misfires_are_not_told_twice() -> None:
    """Where every pulse that misfires is one without any spark, "do not fire" has said it."""
    run = run_of(*steady()[:3], opening(3, 2e-3))
    assert in_words(run) == ("Parts 2.0 ms into the pulse at 5.0 A; of the pulses, 25 in 100 do not fire, 75 in 100 fire once "
                             "(0.75 sparks a pulse on average).")


def test_two_in_every_pulse_in_words() -> None:
    run = run_of(*(one for pulse in range(4) for one in (opening(pulse, 1e-3, spark=15e-3), opening(pulse, 3e-3, spark=15e-3))))
    assert in_words(run) == ("Parts 1.0 ms into the pulse at 5.0 A; of the pulses, all fire more than once (2 sparks a pulse on "
                             "average).")


def test_openings_without_any_spark_in_words() -> None:
    run = run_of(*(opening(pulse) for pulse in range(4)))
    assert in_words(run) == "Parts 2.0 ms into the pulse at 5.0 A; of the pulses, all do not fire (0 sparks a pulse on average)."


def test_a_battery_buzzes() -> None:
    run = run_of(*(opening(pulse, spark=20e-3, turning=False) for pulse in range(4)), drive=BatteryDrive())
    assert in_words(run) == "It buzzes 200 sparks a second, parting at 5.0 A."
    assert "buzzes" not in in_words(replace(run, drive=TransformerDrive()))
    assert PULSE * 200 == 1.0


def test_contacts_that_stay_as_they_are_in_words() -> None:
    """Never closed needs both: a vibrator bent away, and no loss in the contacts."""
    away = Machine().but(vibrator={"preload": -1.0})
    level = Machine().but(vibrator={"preload": 0.0})
    for machine in (away, level):
        assert in_words(run_of(machine=machine, contact=0.0)) == (
            "The contacts never close: the vibrator is bent away from the cushion, so no current flows and nothing fires.")
    stays = "The contacts never open: the current peaks at 6.0 A and the springs hold. No spark."
    assert in_words(run_of(contact=1.0)) == in_words(run_of(contact=0.0)) == stays
    assert in_words(run_of(machine=away, contact=1.0)) == stays
