"""The machine's own rules: numbers that belong together, copies with changes, and what a drive's speed makes of it."""

from __future__ import annotations

import dataclasses
import math

import pytest

from coilmodel import BatteryDrive, Coil, Machine, Magneto, MagnetoDrive, SparkGap, TimerDrive, TransformerDrive, Vibrator
from coilmodel.machine import Scatter, emf_peak, pulse_seconds


def test_a_pulse_is_half_a_cycle_of_the_emf() -> None:
    """Eight pairs of poles at 450 rpm: 7.5 turns, 60 cycles and 120 pulses a second. Two pulses to a cycle of the mains."""
    assert pulse_seconds(Machine(), MagnetoDrive(450.0)) == pytest.approx(1.0 / 120.0, rel=1e-12)
    assert pulse_seconds(Machine().but(magneto={"pole_pairs": 3}), TimerDrive(600.0)) == pytest.approx(1.0 / 60.0, rel=1e-12)
    assert pulse_seconds(Machine(), TransformerDrive(frequency=60.0)) == pytest.approx(1.0 / 120.0, rel=1e-12)
    assert pulse_seconds(Machine(), BatteryDrive(pulse_time=7e-3)) == 7e-3


def test_the_peak_of_the_emf() -> None:
    """Flux linkage times its angular frequency, so in proportion to speed and strength; root 2 of a transformer's volts."""
    machine = Machine().but(magneto={"flux_linkage": 0.02, "pole_pairs": 5})
    omega = 2.0 * math.pi * 5 * 300.0 / 60.0
    assert emf_peak(machine, MagnetoDrive(300.0, 0.7)) == pytest.approx(0.7 * 0.02 * omega, rel=1e-12)
    assert emf_peak(machine, TimerDrive(600.0, 0.7)) == pytest.approx(1.4 * 0.02 * omega, rel=1e-12)
    assert emf_peak(machine, TransformerDrive(9.0)) == pytest.approx(9.0 * math.sqrt(2.0), rel=1e-12)
    assert emf_peak(machine, BatteryDrive(6.0)) == 6.0


def test_the_pull_may_take_less_than_nine_tenths_of_the_inductance() -> None:
    """2 K / gap against coupling x inductance: the rest is what the core has without the vibrator, and must be there."""
    numbers = {"primary_inductance": 4e-3, "coupling": 0.5, "magnetic_gap": 1e-3}
    Coil(**numbers, pull_constant=0.89e-6)
    for constant in (0.9001e-6, 0.95e-6, 3e-6):
        with pytest.raises(ValueError, match=r"^coil\.pull_constant: .* of the magnetising inductance; allowed is under 90 %"):
            Coil(**numbers, pull_constant=constant)
    with pytest.raises(ValueError, match=r"makes the vibrator's gap 95 % of the"):
        Coil(**numbers, pull_constant=0.95e-6)
    # the very edge is not under 90 %; numbers that binary holds exactly: 2 K / gap is 0.9 of coupling x inductance
    share = 2.0 * 0.9e-6 / 1e-3 / (0.5 * 4e-3)
    with pytest.raises(ValueError, match="allowed is under 90"):
        Coil(**numbers, pull_constant=0.9e-6 if share >= 0.9 else math.nextafter(0.9e-6, 1.0))


def test_a_gap_burns_under_its_breakdown() -> None:
    SparkGap(breakdown=700.0, burn=699.0)
    for burn in (700.0, 701.0):
        with pytest.raises(ValueError, match=r"^gap\.burn: 70\d V is not under the breakdown voltage of 700 V\.$"):
            SparkGap(breakdown=700.0, burn=burn)


def test_the_core_stops_the_vibrator_before_the_pull_runs_away() -> None:
    gap = Coil().magnetic_gap
    assert Machine(vibrator=Vibrator(stop=0.8 * gap)).vibrator.stop == 0.8 * gap
    with pytest.raises(ValueError, match=r"^vibrator\.stop: [\d.]+ mm must be under 0\.8 of the magnetic gap, ") as caught:
        Machine(vibrator=Vibrator(stop=0.81 * gap))
    assert f"{0.81e3 * gap:g} mm must" in str(caught.value)
    assert f"{0.8e3 * gap:g} mm (nearer" in str(caught.value)


def test_counts_are_whole_numbers_in_range() -> None:
    for pairs in (1, 32):
        assert Magneto(pole_pairs=pairs).pole_pairs == pairs
    for seed in (1, 2147483646):
        assert Scatter(seed=seed).seed == seed
    for wrong in (0, 33, -1, 8.0, True, "8", None):
        with pytest.raises(ValueError, match=r"^magneto\.pole_pairs: .* is not a whole number from 1 to 32\.$"):
            Magneto(pole_pairs=wrong)  # type: ignore[arg-type]
    for wrong in (0, 2147483647, 1.0, True, "1", None):
        with pytest.raises(ValueError, match=r"^scatter\.seed: .* is not a whole number from 1 to 2147483646\.$"):
            Scatter(seed=wrong)  # type: ignore[arg-type]


def test_a_copy_differs_in_what_was_said_and_in_nothing_else() -> None:
    usual = Machine()
    changed = usual.but(cushion={"preload": 2.0, "mass": 3e-4}, gap={"breakdown": 9e3})
    assert (changed.cushion.preload, changed.cushion.mass, changed.gap.breakdown) == (2.0, 3e-4, 9e3)
    back = changed.but(cushion={"preload": usual.cushion.preload, "mass": usual.cushion.mass},
                       gap={"breakdown": usual.gap.breakdown})
    assert back == usual
    assert usual == Machine()
    assert usual.but() == usual


def test_factors_multiply_what_they_name() -> None:
    usual = Machine()
    scaled = usual.scaled(cushion_preload=0.5, cushion_rivet_stiffness=2.0, coil_pull_constant=0.9, vibrator_mass=1.0)
    assert scaled.cushion.preload == 0.5 * usual.cushion.preload
    assert scaled.cushion.rivet_stiffness == 2.0 * usual.cushion.rivet_stiffness
    assert scaled.coil.pull_constant == pytest.approx(0.9 * usual.coil.pull_constant, rel=1e-15)
    assert dataclasses.replace(scaled, cushion=usual.cushion, coil=usual.coil) == usual
    assert usual.scaled(cushion_preload=0.0).cushion.preload == 0.0
    Machine().but(magneto={"third_harmonic": 1e-4}).scaled(magneto_third_harmonic=1e3)
    for factor in (-0.001, 1000.5):
        with pytest.raises(ValueError, match=r"^magneto_third_harmonic: .* outside 0 to 1000\.$"):
            Machine().scaled(magneto_third_harmonic=factor)


@pytest.mark.parametrize(("name", "said"), [
    ("cushion_colour", "there is no number named 'cushion_colour'"), ("wheel_mass", "there is no number named 'wheel_mass'"),
    ("cushion", "there is no number named 'cushion'"), ("preload_cushion", "there is no number named 'preload_cushion'")])
def test_factors_of_nothing_are_refused(name: str, said: str) -> None:
    with pytest.raises(ValueError, match=r"^machine: ") as caught:
        Machine().scaled(**{name: 1.0})
    assert said in str(caught.value)


@pytest.mark.parametrize("name", ["wheel", "but", "__class__"])
def test_a_part_that_is_none_is_refused_with_those_there_are(name: str) -> None:
    with pytest.raises(ValueError, match=r"^machine: there is no part named .*; there are magneto, coil, condenser, contacts"):
        Machine().but(**{name: {}})
    with pytest.raises(ValueError, match=r"^cushion: there is no field named 'colour'; there are mass, stiffness, preload"):
        Machine().but(cushion={"mass": 3e-4, "colour": 1.0})
