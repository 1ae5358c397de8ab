"""Leaf springs, impacts and pull: each formula against an integral, a motion solved in closed form, a limit or a published root.

Together with the proof's rows these must notice small errors planted in coilmodel/springs.py (benchmarks/bite.py).
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable

import pytest

from coilmodel import springs
from coilmodel.springs import Leaf

STRIP = Leaf(0.040, 0.010, 0.0006)  # 40 x 10 x 0.6 mm of spring steel: 206 GPa, 7850 kg/m3


def summed(function: Callable[[float], float], low: float, high: float, steps: int = 20_000) -> float:
    """The integral of a function by the midpoints of many small steps."""
    wide = (high - low) / steps
    return wide * math.fsum(function(low + (step + 0.5) * wide) for step in range(steps))


# ------------------------------------------------------------------------------------------------------------ the leaf
def test_a_strip_is_as_stiff_as_its_bending_says() -> None:
    """Second moment, mass and deflection summed up along height and length: 1738 N/m and 1.884 g."""
    assert STRIP.second_moment == pytest.approx(summed(lambda y: 0.010 * y * y, -0.0003, 0.0003), rel=1e-6)
    assert STRIP.mass == pytest.approx(1.884e-3, rel=1e-12)
    bent = summed(lambda x: (0.040 - x) ** 2 / (206e9 * STRIP.second_moment), 0.0, 0.040)  # tip deflection of 1 N
    assert STRIP.stiffness == pytest.approx(1.0 / bent, rel=1e-6)
    assert STRIP.stiffness == pytest.approx(1738.0, abs=0.5)
    other = Leaf(0.080, 0.020, 0.0012, 103e9, 2000.0)
    assert other.stiffness == pytest.approx(STRIP.stiffness, rel=1e-12)  # twice as long and thick and wide, half the modulus
    assert other.mass == pytest.approx(8.0 * STRIP.mass * 2000.0 / 7850.0, rel=1e-12)


@pytest.mark.parametrize(("name", "low", "high"), [
    ("length", 1e-3, 1.0), ("width", 1e-4, 0.5), ("thickness", 1e-5, 0.004), ("modulus", 1e9, 1e12), ("density", 500.0, 25e3)])
def test_a_leaf_is_taken_up_to_the_ends_of_its_ranges(name: str, low: float, high: float) -> None:
    """The ranges of the docstring: 1 mm to 1 m, 0.1 mm to 0.5 m, 10 um to a tenth of the length, 1 to 1000 GPa, 500 to 25,000."""
    good = {"length": 0.04, "width": 0.01, "thickness": 1e-4 if name == "length" else 0.0006, "modulus": 206e9, "density": 7850.0}
    for end, beyond in ((low, low * (1.0 - 1e-9)), (high, high * (1.0 + 1e-9))):
        assert getattr(Leaf(**{**good, name: end}), name) == end
        with pytest.raises(ValueError, match=rf" outside {low:g} to {high:g} ".replace("+", r"\+")):
            Leaf(**{**good, name: beyond})


def test_stress_at_the_clamp_is_moment_over_section() -> None:
    """Force times length, times half the thickness, over the second moment; either way, up to a fifth of the length."""
    for bend in (1e-3, -2e-3, 0.008, -0.008):
        moment = STRIP.stiffness * bend * 0.040
        assert springs.root_stress(STRIP, bend) == pytest.approx(moment * 0.0003 / STRIP.second_moment, rel=1e-12)
    for beyond in (0.00801, -0.00801):
        with pytest.raises(ValueError, match=r"tip deflection: .* outside -0\.008 to 0\.008 m"):
            springs.root_stress(STRIP, beyond)


def test_hooke() -> None:
    assert springs.preload(346.0, 9e-3) == pytest.approx(3.114, rel=1e-12)
    assert springs.deflection_for_preload(346.0, 3.114) == pytest.approx(9e-3, rel=1e-12)
    assert springs.preload(346.0, -9e-3) < 0.0


# -------------------------------------------------------------------------------------------------- mass and frequency
def test_a_leaf_counts_for_33_140_of_its_mass() -> None:
    """Kinetic energy of the shape that a load at the tip gives, (3 x^2 - x^3) / 2 of the tip's travel."""
    share = summed(lambda x: ((3.0 * x * x - x**3) / 2.0) ** 2, 0.0, 1.0)
    assert springs.effective_tip_mass(0.7e-3) == pytest.approx(share * 0.7e-3, rel=1e-6)
    assert springs.effective_tip_mass(0.7e-3, 0.3e-3) == pytest.approx(0.3e-3 + share * 0.7e-3, rel=1e-6)
    assert springs.spring_frequency((2.0 * math.pi) ** 2 * 9.0, 1.0) == pytest.approx(3.0, rel=1e-12)
    assert springs.spring_frequency(360.0, 4.0) == pytest.approx(math.sqrt(90.0) / (2.0 * math.pi), rel=1e-12)


def test_roots_of_a_clamped_beam() -> None:
    """Free: 1.875104, 4.694091, 7.854757 (Blevins; the first looked up). As heavy a tip: Math. Probl. Eng. (2017) 1568019."""
    for mode, root in ((1, 1.875104), (2, 4.694091), (3, 7.854757)):
        assert springs.beam_root(0.0, mode) == pytest.approx(root, abs=1e-6)
        beta = springs.beam_root(0.0, mode)
        assert math.cos(beta) * math.cosh(beta) == pytest.approx(-1.0, abs=1e-9 * math.cosh(beta))
    for mode, square in ((1, 1.557298), (2, 16.25009), (3, 50.89584)):
        assert springs.beam_root(1.0, mode) ** 2 == pytest.approx(square, rel=1e-6)
    assert springs.beam_root(2.5) == springs.beam_root(2.5, 1)


def test_a_heavy_tip_is_a_mass_on_a_spring_and_a_pin() -> None:
    """beta^4 -> 3 / (r + 33/140) for the first mode; higher ones tend to the clamped-pinned 3.926602 (tan b = tanh b)."""
    assert springs.beam_root(1000.0) ** 4 == pytest.approx(3.0 / (1000.0 + 33.0 / 140.0), rel=1e-5)
    assert springs.beam_root(1000.0, 2) == pytest.approx(3.926602, rel=2e-4)
    assert springs.beam_root(1000.0, 20) == pytest.approx(19.25 * math.pi, rel=1e-4)
    for ratio in (0.05, 3.0):
        for mode in (1, 2, 7, 20):
            b = springs.beam_root(ratio, mode)
            shear = 1.0 / math.cosh(b) + math.cos(b) + ratio * b * (math.cos(b) * math.tanh(b) - math.sin(b))
            assert shear == pytest.approx(0.0, abs=1e-11 * (1.0 + ratio * b))
            assert (mode - 1) * math.pi < b < mode * math.pi


def test_the_strip_sings() -> None:
    """310.3 Hz bare, 134.2 Hz with 2 g at its tip (beam equation); with a heavy tip a mass on a spring."""
    assert springs.tip_frequency(STRIP) == pytest.approx(310.3, abs=0.05)
    assert springs.tip_frequency(STRIP, 2e-3) == pytest.approx(134.2, abs=0.05)
    overtone = springs.tip_frequency(STRIP, mode=2) / springs.tip_frequency(STRIP)
    assert overtone == pytest.approx((4.694091 / 1.875104) ** 2, rel=1e-5)
    mass = springs.effective_tip_mass(STRIP.mass, 1.0)
    assert springs.tip_frequency(STRIP, 1.0) == pytest.approx(springs.spring_frequency(STRIP.stiffness, mass), rel=1e-6)
    springs.tip_frequency(STRIP, 1000.0 * STRIP.mass)
    with pytest.raises(ValueError, match=r"tip mass: .* outside 0 to 1\.884 kg"):
        springs.tip_frequency(STRIP, 1000.001 * STRIP.mass)


# ------------------------------------------------------------------------------------------------------------- impacts
def thrown_off(ratio: float) -> tuple[float, float]:
    """(time, speed) at which a unit mass leaves a unit spring and dashpot: its motion is known, the moment is halved for.

    Struck with speed 1 it goes as exp(-z t) sin(w t)/w (sinh beyond critical damping, t at it) until x + 2 z x' = 0.
    """
    w = math.sqrt(abs(1.0 - ratio * ratio))

    def place(t: float) -> float:
        swing = math.sin(w * t) / w if ratio < 1.0 else math.sinh(w * t) / w if ratio > 1.0 else t
        return math.exp(-ratio * t) * swing

    def speed(t: float) -> float:
        swing = math.cos(w * t) if ratio < 1.0 else math.cosh(w * t) if ratio > 1.0 else 1.0
        return math.exp(-ratio * t) * swing - ratio * place(t)

    low, high = 0.0, math.pi / w if ratio < 1.0 else 50.0
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (middle, high) if place(middle) + 2.0 * ratio * speed(middle) > 0.0 else (low, middle)
    return high, -speed(high)


@pytest.mark.parametrize("ratio", [1e-6, 0.01, 0.1, 0.5, 0.707, 0.95, 1.0, 1.02, 1.5, 4.0])
def test_rebound_from_a_stop_that_never_pulls(ratio: float) -> None:
    """The whole motion: Schwager & Poschel (2007)."""
    time, back = thrown_off(ratio)
    assert springs.restitution(ratio) == pytest.approx(back, rel=1e-9)
    if ratio < 1.0:
        mass, stiffness = 2e-3, 5e5
        damping = 2.0 * ratio * math.sqrt(mass * stiffness)
        assert springs.contact_time(mass, stiffness, damping) == pytest.approx(time * math.sqrt(mass / stiffness), rel=1e-9)


def test_rebound_at_its_limits() -> None:
    """None lost without damping, 1 - pi z at first, exp(-2) when critical and smooth there, 1 / (4 z^2) far beyond."""
    assert springs.restitution(0.0) == 1.0
    assert springs.restitution(1e-7) == pytest.approx(1.0 - math.pi * 1e-7, abs=1e-12)
    assert springs.restitution(1.0) == pytest.approx(math.exp(-2.0), rel=1e-15)
    for hair in (1e-17, 1e-15, 1e-12, 1e-9):
        for near in (1.0 - hair, 1.0 + hair):
            assert springs.restitution(near) == pytest.approx(math.exp(-2.0), rel=2e-8), near
    assert springs.restitution(1.0 - 1e-6) > springs.restitution(1.0) > springs.restitution(1.0 + 1e-6)
    assert springs.restitution(1000.0) == pytest.approx(0.25e-6, rel=1e-4)


def test_a_stop_that_sticks_holds_on_for_half_a_swing() -> None:
    """exp(-pi z / sqrt(1 - z^2)): 0.7292 and 0.1630 at 0.1 and 0.5; speed falls by the decrement of half a turn."""
    assert springs.restitution_at_return(0.1) == pytest.approx(0.7292, abs=5e-5)
    assert springs.restitution_at_return(0.5) == pytest.approx(0.1630, abs=5e-5)
    assert springs.restitution_at_return(0.0) == 1.0
    assert springs.restitution_at_return(0.6) == pytest.approx(math.exp(-0.75 * math.pi), rel=1e-12)
    with pytest.raises(ValueError, match="damping ratio"):
        springs.restitution_at_return(1.0)


def test_damping_for_a_wanted_rebound() -> None:
    assert springs.damping_ratio(4.0, 9.0, 12.0) == 1.0
    assert springs.damping_ratio(4.0, 9.0, 3.0) == 0.25
    for wanted in (0.99, 0.6, math.exp(-2.0), 0.01, 1e-5):
        damping = springs.damping_for_restitution(wanted, 2e-3, 5e5)
        assert springs.restitution(springs.damping_ratio(2e-3, 5e5, damping)) == pytest.approx(wanted, rel=1e-9)
    assert springs.damping_for_restitution(1.0, 2e-3, 5e5) == 0.0
    assert springs.contact_time(2e-3, 5e5) == pytest.approx(math.pi * math.sqrt(2e-3 / 5e5), rel=1e-12)
    with pytest.raises(ValueError, match="damping ratio"):
        springs.contact_time(4.0, 9.0, 12.0)


# --------------------------------------------------------------------------------------------------- the pull of a gap
def test_pull_is_the_fields_energy_along_the_gap() -> None:
    """A tesla pulls with 397.9 kPa; a gap opened by dx takes B^2 / (2 mu0) A dx from what holds it."""
    assert springs.gap_pull(1.0, 1.0) == pytest.approx(397.9e3, abs=50.0)
    assert springs.gap_pull(-0.5, 2e-4) == pytest.approx(0.25 * 2e-4 * 397.887e3, rel=1e-5)
    energy = [0.5 * 0.4**2 / springs.MU0 * 2e-4 * gap for gap in (1e-3, 1.01e-3)]
    assert springs.gap_pull(0.4, 2e-4) == pytest.approx((energy[1] - energy[0]) / 1e-5, rel=1e-9)


def test_the_models_pull_is_that_of_its_turns_across_its_gap() -> None:
    """B = mu0 N i / gap put into B^2 A / (2 mu0), and half i^2 times the slope of the inductance 2 K / gap."""
    k = springs.pull_constant(75.0, 1e-4)
    for current, gap in ((5.0, 1e-3), (-3.0, 0.4e-3)):
        b = 4e-7 * math.pi * 75.0 * current / gap
        pull = springs.coil_pull(k, current, gap)
        assert pull == pytest.approx(springs.gap_pull(b, 1e-4), rel=1e-12)
        slope = (2.0 * k / (gap - 1e-8) - 2.0 * k / (gap + 1e-8)) / 2e-8
        assert pull == pytest.approx(0.5 * current**2 * slope, rel=1e-6)
        assert springs.current_for_pull(k, pull, gap) == pytest.approx(abs(current), rel=1e-12)


def test_steel_is_steel() -> None:
    """A strip maker's sheet: 206 GPa and 7.85 g/cm3; and nothing at the tip, first mode, no damping, where nothing is said."""
    assert (Leaf(0.04, 0.01, 0.0006).modulus, Leaf(0.04, 0.01, 0.0006).density) == (206e9, 7850.0)
    assert springs.tip_frequency(STRIP) == springs.tip_frequency(STRIP, 0.0, 1)
    assert inspect.signature(springs.effective_tip_mass).parameters["tip_mass"].default == 0.0
