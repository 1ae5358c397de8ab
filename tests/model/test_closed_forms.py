"""Textbook answers: each against the law it comes from (a slope, a phasor, a sum), a limit, or a worked example.

Together with the proof's rows these must notice small errors planted in coilmodel/closed_forms.py (benchmarks/bite.py).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable

import pytest

from coilmodel import closed_forms as forms


def slope(function: Callable[[float], float], at: float, by: float) -> float:
    """The slope of a function, from two points either side."""
    return (function(at + by) - function(at - by)) / (2.0 * by)


# ------------------------------------------------------------------------------------------------------------ circuits
def test_a_coils_current_obeys_its_law() -> None:
    """V = R i + L di/dt at any moment, from nothing; on its own, 0 = R i + L di/dt."""
    v, r, inductance = -12.0, 6.0, 30e-3
    for time in (1e-4, 2e-3, 20e-3):
        i = forms.rl_rise(v, r, inductance, time)
        assert r * i + inductance * slope(lambda t: forms.rl_rise(v, r, inductance, t), time, 1e-6) == pytest.approx(v, rel=1e-6)
        left = forms.rl_decay(5.0, r, inductance, time)
        assert r * left + inductance * slope(lambda t: forms.rl_decay(5.0, r, inductance, t), time, 1e-6) == pytest.approx(
            0.0, abs=1e-6 * r * left)
        assert left / 5.0 == pytest.approx(1.0 - i / (v / r), rel=1e-9)
    assert forms.rl_rise(v, r, inductance, 0.0) == 0.0
    assert forms.rl_decay(5.0, r, inductance, 0.0) == 5.0
    assert forms.rl_rise(12.0, 1e-9, 1.0, 1e-3) == pytest.approx(12e-3, rel=1e-9)  # hardly begun: V t / L, all its digits
    assert forms.rl_decay(10.0, 3.0, 7.5e-3, 5e-3) == pytest.approx(1.35, abs=5e-3)  # OpenStax College Physics 23.10


def test_a_condensers_charge_obeys_its_law() -> None:
    v, r, c = 12.0, 8e5, 5e-6
    for time in (0.1, 4.0, 20.0):
        u = forms.rc_charge(v, r, c, time)
        assert r * c * slope(lambda t: forms.rc_charge(v, r, c, t), time, 1e-4) + u == pytest.approx(v, rel=1e-6)
    assert forms.rc_charge(v, r, c, 0.0) == 0.0
    assert forms.rc_charge(v, r, c, 200.0) == pytest.approx(12.0, rel=1e-12)
    assert forms.rc_charge(v, 1e15, 1e3, 1.0) == pytest.approx(12e-18, rel=1e-9)
    assert forms.time_to_fraction(1.0) == 0.0
    for fraction in (0.25, 0.5, 1e-12):
        assert math.exp(-forms.time_to_fraction(fraction)) == pytest.approx(fraction, rel=1e-12)


def test_impedance_is_the_size_of_a_complex_number() -> None:
    for hertz in (60.0, 1299.5, 10e3):
        w = 2.0 * math.pi * hertz
        z = 40.0 + 1j * w * 3e-3 + 1.0 / (1j * w * 5e-6)
        assert forms.series_impedance(40.0, 3e-3, 5e-6, hertz) == pytest.approx(abs(z), rel=1e-12)
        assert forms.series_impedance(40.0, 3e-3, math.inf, hertz) == pytest.approx(abs(40.0 + 1j * w * 3e-3), rel=1e-12)
    f0 = forms.resonance(3e-3, 5e-6)
    assert forms.series_impedance(40.0, 3e-3, 5e-6, f0) == pytest.approx(40.0, rel=1e-9)
    assert f0 == pytest.approx(1.30e3, abs=5.0)  # OpenStax College Physics, example 23.12
    assert forms.resonance(12e-3, 5e-6) == pytest.approx(f0 / 2.0, rel=1e-12)


def test_a_shorted_magneto_is_a_phasor() -> None:
    """E = j w Lambda over R + j w L: in proportion to speed while R rules, Lambda / L at any high speed."""
    for hertz in (0.5, 60.0, 4000.0):
        w = 2.0 * math.pi * hertz
        assert forms.magneto_current(0.03, 0.7, 4.3e-3, hertz) == pytest.approx(
            abs(1j * w * 0.03 / (0.7 + 1j * w * 4.3e-3)), rel=1e-12)
    assert forms.magneto_current(0.03, 0.7, 4.3e-3, 1e9) == pytest.approx(0.03 / 4.3e-3, rel=1e-9)
    assert forms.magneto_current(0.03, 0.7, 4.3e-3, 1e-3) == pytest.approx(2.0 * math.pi * 1e-3 * 0.03 / 0.7, rel=1e-6)
    corner = 0.7 / (2.0 * math.pi * 4.3e-3)
    assert forms.magneto_current(0.03, 0.7, 4.3e-3, corner) == pytest.approx(0.03 / 4.3e-3 / math.sqrt(2.0), rel=1e-12)


# ------------------------------------------------------------------------------------------------------- air breakdown
def test_air_thins_with_heat_and_with_height() -> None:
    """1 at 20 C and 760 mm of mercury; 1.073 at 0 C (after IEC 60052); in proportion to pressure over absolute temperature."""
    assert forms.air_density() == forms.air_density(101_325.0, 20.0) == pytest.approx(1.0, rel=1e-12)
    assert forms.air_density(temperature=0.0) == pytest.approx(1.073, abs=5e-4)
    assert forms.air_density(8 * 101_325.0, 313.0) == pytest.approx(4.0, rel=1e-12)  # 586 K: half the density per pressure


def test_an_even_field_in_air() -> None:
    """4.61 and 31.4 kV at 1 and 10 mm (Kuffel, from memory); the two terms, told apart by a gap and one a hundred times wider.

    Twice the pressure in half the gap holds the same, and so does twice the absolute temperature in twice the gap.
    """
    assert forms.uniform_field_breakdown(1e-3) == pytest.approx(4.61e3, abs=5.0)
    assert forms.uniform_field_breakdown(10e-3) == pytest.approx(31.4e3, abs=50.0)
    near, far = forms.uniform_field_breakdown(5e-4), forms.uniform_field_breakdown(5e-2)
    root, even = (100.0 * near - far) / 90.0, (far - 10.0 * near) / 90.0
    assert root == pytest.approx(6.72e3 * math.sqrt(1.01325 * 0.05), rel=1e-9)
    assert even == pytest.approx(24.36e3 * 1.01325 * 0.05, rel=1e-9)
    assert forms.uniform_field_breakdown(5e-4, 202_650.0) == pytest.approx(forms.uniform_field_breakdown(1e-3), rel=1e-12)
    assert forms.uniform_field_breakdown(2e-3, temperature=313.0) == pytest.approx(forms.uniform_field_breakdown(1e-3), rel=1e-12)


@pytest.mark.parametrize("coefficients", [(15.0, 365.0, 0.01), (12.0, 342.0, 0.05)])
def test_paschen_is_townsends_avalanche(coefficients: tuple[float, float, float]) -> None:
    """It breaks down when each electron's offspring free the next: gamma (exp(alpha d) - 1) = 1, alpha/p = A exp(-B p d / V)."""
    a, b, gamma = coefficients
    for product in (1.0, 10.0, 760.0):
        volts = forms.paschen(product, *coefficients)
        avalanche = math.expm1(a * product * math.exp(-b * product / volts))
        assert gamma * avalanche == pytest.approx(1.0, rel=1e-9)
    least, at = forms.paschen_minimum(*coefficients)
    assert forms.paschen(at, *coefficients) == pytest.approx(least, rel=1e-12)
    assert all(forms.paschen(at * by, *coefficients) > least for by in (0.9, 0.999, 1.001, 1.1))


def test_paschens_usual_coefficients() -> None:
    """A 15, B 365, gamma 0.01: 305 V at 0.836 Torr cm, where 327 V at 0.57 is measured; 5.04 kV at 1 mm."""
    assert forms.paschen_minimum() == forms.paschen_minimum(15.0, 365.0, 0.01)
    assert forms.paschen_minimum() == pytest.approx((305.2, 0.836), abs=0.5)
    assert forms.paschen_minimum()[1] == pytest.approx(0.836, abs=5e-4)
    assert forms.paschen(76.0) == forms.paschen(76.0, 15.0, 365.0, 0.01) == pytest.approx(5.04e3, abs=10.0)
    pole = math.log(101.0) / 15.0
    with pytest.raises(ValueError, match="pressure x gap"):
        forms.paschen(pole)
    assert forms.paschen(pole * (1.0 + 1e-9)) > 1e10


def test_contacts_melt_at_the_voltage_of_their_metal() -> None:
    """Holm: silver 0.37 V; voltage squared is 4 L0 times the difference of squared temperatures, so it adds up in steps."""
    assert forms.melting_voltage(961.8) == pytest.approx(0.37, abs=5e-3)
    assert forms.melting_voltage(961.8) == forms.melting_voltage(961.8, 20.0)
    through = forms.melting_voltage(500.0, 20.0) ** 2 + forms.melting_voltage(961.8, 500.0) ** 2
    assert forms.melting_voltage(961.8, 20.0) ** 2 == pytest.approx(through, rel=1e-12)
    # from absolute zero (nearly) it is the Lorenz number alone: V = 2 sqrt(2.44e-8) T
    assert forms.melting_voltage(1000.0, -100.0) ** 2 == pytest.approx(4.0 * 2.44e-8 * (1273.15**2 - 173.15**2), rel=1e-12)
    assert forms.melting_voltage(20.0, 20.0) == 0.0


def test_an_arcs_voltage_by_parts() -> None:
    """46.3 V for solid carbons, 2 mm, 10 A (Ayrton 1902, coefficients from memory); each part alone."""
    assert forms.ayrton_arc(10.0, 2e-3, 38.88, 2.074, 11.66, 10.54) == pytest.approx(46.3, abs=0.05)
    assert forms.ayrton_arc(4.0, 3e-3, 20.0, 0.0, 0.0, 0.0) == 20.0
    assert forms.ayrton_arc(4.0, 3e-3, 0.0, 2.0, 0.0, 0.0) == pytest.approx(6.0, rel=1e-12)
    assert forms.ayrton_arc(4.0, 3e-3, 0.0, 0.0, 12.0, 0.0) == pytest.approx(3.0, rel=1e-12)
    assert forms.ayrton_arc(4.0, 3e-3, 0.0, 0.0, 0.0, 8.0) == pytest.approx(6.0, rel=1e-12)


# ------------------------------------------------------------------------------------------------ meters and mechanics
def test_a_rectifier_meter_is_right_for_a_sine() -> None:
    """Summed over a turn: the RMS of a sine is the factor times its rectified mean; a square wave reads 11 % high."""
    angles = [2.0 * math.pi * (step + 0.5) / 2000 for step in range(2000)]
    rms = math.sqrt(sum(math.sin(angle) ** 2 for angle in angles) / 2000)
    assert forms.rectifier_reading(sum(abs(math.sin(angle)) for angle in angles) / 2000) == pytest.approx(rms, rel=1e-6)
    assert forms.rectifier_reading(3.0) == pytest.approx(3.0 * 1.1107, abs=1e-3)  # multimeter manual, 1.110


def test_a_ball_bounces_for_as_long_as_its_bounces_add_up_to() -> None:
    """Each bounce takes twice the fall times e to its number; 3.135 s, and 3.10 s to the 13th, from 1.5 m with e = 0.7."""
    for e in (0.0, 0.3, 0.7):
        touches = [0.5]
        for number in range(1, 60):
            touches.append(touches[-1] + 2.0 * 0.5 * e**number)
        for bounce in (1, 2, 3, 10, 60):
            assert forms.nth_bounce_time(0.5, e, bounce) == pytest.approx(touches[bounce - 1], rel=1e-12)
        assert forms.bounce_time(0.5, e) == pytest.approx(touches[-1], rel=1e-6)
    drop = math.sqrt(2.0 * 1.5 / 9.8)
    assert forms.bounce_time(drop, 0.7) == pytest.approx(3.135, abs=5e-4)
    assert forms.nth_bounce_time(drop, 0.7, 13) == pytest.approx(3.10, abs=5e-3)
    assert forms.nth_bounce_time(0.5, 1.0, 4) == pytest.approx(3.5, rel=1e-12)
    assert cmath.isfinite(complex(forms.bounce_time(0.5, 0.999999)))
