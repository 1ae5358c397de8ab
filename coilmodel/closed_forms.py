"""Textbook answers in one place: what a circuit, a gap in air, a meter or a bouncing body does by formula alone.

The lessons quote them and the proof holds the model against them. SI units throughout, except where a docstring says
otherwise. Standard library only.
"""

from __future__ import annotations

import math

from coilmodel.checks import checked, checked_count

# ------------------------------------------------------------------------------------------------------ circuits


def _volts(value: object) -> float:
    return checked("voltage", value, "V", -1e6, 1e6)


def _ohms(value: object) -> float:
    return checked("resistance", value, "ohm", 1e-9, 1e15)


def _henries(value: object) -> float:
    return checked("inductance", value, "H", 1e-12, 1e6)


def _farads(value: object) -> float:
    return checked("capacity", value, "F", 1e-15, 1e3)


def _time(value: object) -> float:
    return checked("time", value, "s", 0.0, 1e9)


def _hertz(value: object) -> float:
    return checked("frequency", value, "Hz", 1e-6, 1e12)


def rl_rise(voltage: float, resistance: float, inductance: float, time: float) -> float:
    """Current (A) a time after a steady voltage is put on a coil: V/R (1 - exp(-R t / L)).

    voltage : V, -1e6 to 1e6; resistance : ohm, 1e-9 to 1e15; inductance : H, 1e-12 to 1e6; time : s, 0 to 1e9
    Errors: ValueError. Source: any text, e.g. Serway & Jewett, Physics for Scientists and Engineers, chapter 32.

    >>> round(rl_rise(12.0, 6.0, 30e-3, 2e-3), 3)
    0.659
    """
    r = _ohms(resistance)
    return _volts(voltage) / r * -math.expm1(-r * _time(time) / _henries(inductance))


def rl_decay(current: float, resistance: float, inductance: float, time: float) -> float:
    """Current (A) left in a coil closed on itself: I exp(-R t / L).

    current : A, -1e6 to 1e6; resistance : ohm; inductance : H; time : s; ranges as in `rl_rise`.

    Errors: ValueError. Source: any text, e.g. OpenStax College Physics, section 23.10.
    """
    i = checked("current", current, "A", -1e6, 1e6)
    return i * math.exp(-_ohms(resistance) * _time(time) / _henries(inductance))


def rc_charge(voltage: float, resistance: float, capacity: float, time: float) -> float:
    """Voltage (V) on a condenser charged through a resistor: V (1 - exp(-t / R C)).

    voltage : V; resistance : ohm; capacity : F, 1e-15 to 1e3; time : s; ranges as in `rl_rise` unless given.

    Errors: ValueError. Source: any text, e.g. Serway & Jewett, chapter 28.
    """
    return _volts(voltage) * -math.expm1(-_time(time) / (_ohms(resistance) * _farads(capacity)))


def time_to_fraction(fraction: float) -> float:
    """Time, in time constants, in which an exponential decay falls to a fraction: -ln(fraction). fraction : 1e-12 to 1.

    Errors: ValueError. Source: any text.
    """
    return -math.log(checked("fraction", fraction, "1", 1e-12, 1.0))


def series_impedance(resistance: float, inductance: float, capacity: float, frequency: float) -> float:
    """Impedance (ohm) of resistor, coil and condenser in a row. An infinite capacity leaves the condenser out.

    resistance : ohm, 1e-9 to 1e15; inductance : H, 1e-12 to 1e6; capacity : F, 1e-15 to 1e3 or infinite; frequency : Hz,
    1e-6 to 1e12. Errors: ValueError. Source: any text, e.g. OpenStax College Physics, section 23.12.
    """
    w = 2.0 * math.pi * _hertz(frequency)
    reactance = w * _henries(inductance)
    if capacity != math.inf:
        reactance -= 1.0 / (w * _farads(capacity))
    return math.hypot(_ohms(resistance), reactance)


def resonance(inductance: float, capacity: float) -> float:
    """Resonant frequency (Hz): 1 / (2 pi sqrt(L C)).

    inductance : H; capacity : F; ranges as in `series_impedance`. Errors: ValueError. Source: any text.
    """
    return 1.0 / (2.0 * math.pi * math.sqrt(_henries(inductance) * _farads(capacity)))


def magneto_current(flux_linkage: float, resistance: float, inductance: float, frequency: float) -> float:
    """Peak current (A) of a magneto with its contacts closed: w Lambda / sqrt(R^2 + (w L)^2).

    flux_linkage : peak, Wb-turn, 0 to 100; resistance : of the whole loop, ohm; inductance : of the whole loop, H;
    frequency : Hz; ranges as in `series_impedance`. It is proportional to speed at first and then settles at Lambda / L,
    whatever the speed.
    Errors: ValueError. Source: Fitzgerald, Kingsley & Umans, Electric Machinery, chapter 5 (short-circuit test), from memory.
    """
    linkage = checked("flux linkage", flux_linkage, "Wb", 0.0, 100.0)
    w = 2.0 * math.pi * _hertz(frequency)
    return w * linkage / math.hypot(_ohms(resistance), w * _henries(inductance))


# ------------------------------------------------------------------------------------------------- air breakdown


def air_density(pressure: float = 101_325.0, temperature: float = 20.0) -> float:
    """Density of air relative to 20 C and 760 mm of mercury: (p / 101325 Pa) (293 / (273 + T)).

    pressure : Pa, 1e3 to 1e7; temperature : C, -100 to 1500. Errors: ValueError. Source: IEC 60052, looked up.

    >>> round(air_density(temperature=0.0), 3)
    1.073
    """
    p = checked("pressure", pressure, "Pa", 1e3, 1e7)
    return p / 101_325.0 * 293.0 / (273.0 + checked("temperature", temperature, "C", -100.0, 1500.0))


def uniform_field_breakdown(gap: float, pressure: float = 101_325.0, temperature: float = 20.0) -> float:
    """Peak voltage (V) that an air gap with an even field just holds: 6.72 sqrt(p d) + 24.36 p d kV.

    gap : m, 5e-5 to 0.1; pressure, temperature : as in `air_density`; p d is in bar cm, scaled to 20 C by density
    Spheres and plates follow it within some 4 % from 1 to 10 mm; a hot or pointed plug electrode breaks down lower, and
    below some 50 um other rules hold.
    Errors: ValueError. Source: Kuffel, Zaengl & Kuffel, High Voltage Engineering, 2e, chapter 5, from memory.
    """
    d = checked("gap", gap, "m", 5e-5, 0.1)
    product = 1.01325 * air_density(pressure, temperature) * 100.0 * d
    return 1e3 * (6.72 * math.sqrt(product) + 24.36 * product)


def paschen(product: float, a: float = 15.0, b: float = 365.0, gamma: float = 0.01) -> float:
    """Breakdown voltage (V) by Paschen's law with Townsend's coefficients: B pd / (ln(A pd) - ln ln(1 + 1/gamma)).

    product : pressure x gap, Torr cm, above the pole where the law ends (0.308 with these coefficients) up to 1e5
    a : 1/(cm Torr), 0.1 to 1000; b : V/(cm Torr), 1 to 1e5; gamma : 1e-6 to 1
    These usual coefficients put the minimum at 305 V and 0.84 Torr cm, where 327 V and 0.57 are measured, and lie 9 to 14 %
    high at millimetres: the law's shape is right, its numbers are a fit for strong fields.
    Errors: ValueError. Source: coefficients as in Lieberman & Lichtenberg, Principles of Plasma Discharges, looked up.
    """
    aa = checked("Townsend coefficient A", a, "1/(cm Torr)", 0.1, 1e3)
    bb = checked("Townsend coefficient B", b, "V/(cm Torr)", 1.0, 1e5)
    g = checked("secondary emission gamma", gamma, "1", 1e-6, 1.0)
    pole = math.log1p(1.0 / g) / aa
    pd = checked("pressure x gap", product, "Torr cm", math.nextafter(pole, math.inf), 1e5)
    return bb * pd / math.log(pd / pole)


def paschen_minimum(a: float = 15.0, b: float = 365.0, gamma: float = 0.01) -> tuple[float, float]:
    """Least breakdown voltage (V) of `paschen`, and the product (Torr cm) at which it lies. Arguments as there.

    Errors: ValueError. Source: e/A ln(1 + 1/gamma) and B times that, from setting the slope to zero.
    """
    aa = checked("Townsend coefficient A", a, "1/(cm Torr)", 0.1, 1e3)
    bb = checked("Townsend coefficient B", b, "V/(cm Torr)", 1.0, 1e5)
    g = checked("secondary emission gamma", gamma, "1", 1e-6, 1.0)
    product = math.e * math.log1p(1.0 / g) / aa
    return bb * product, product


def melting_voltage(melting_point: float, ambient: float = 20.0) -> float:
    """Contact voltage (V) at which the hottest spot between two contacts melts: 2 sqrt(L0 (Tm^2 - T0^2)) with L0 = 2.44e-8.

    melting_point, ambient : C, -100 to 4000, the first above the second. L0 is Sommerfeld's Lorenz number, V2/K2.
    Errors: ValueError. Source: Holm, Electric Contacts, 4e (1967), section on the voltage-temperature relation, from memory.
    """
    cold = checked("ambient temperature", ambient, "C", -100.0, 4000.0) + 273.15
    hot = checked("melting point", melting_point, "C", cold - 273.15, 4000.0) + 273.15
    return 2.0 * math.sqrt(2.44e-8 * (hot * hot - cold * cold))


def ayrton_arc(current: float, length: float, a: float, b: float, c: float, d: float) -> float:
    """Arc voltage (V) by Ayrton's form: a + b l + (c + d l) / I with l in millimetres.

    current : A, 0.01 to 1e4; length : m, 0 to 1; a : V; b : V/mm; c : W; d : W/mm, each 0 to 1000
    Errors: ValueError. Source: Ayrton, The Electric Arc (1902); the form looked up, coefficients must be given.
    """
    i = checked("current", current, "A", 0.01, 1e4)
    mm = 1e3 * checked("arc length", length, "m", 0.0, 1.0)
    aa, bb = checked("a", a, "V", 0.0, 1e3), checked("b", b, "V/mm", 0.0, 1e3)
    cc, dd = checked("c", c, "W", 0.0, 1e3), checked("d", d, "W/mm", 0.0, 1e3)
    return aa + bb * mm + (cc + dd * mm) / i


# -------------------------------------------------------------------------------------------------------- meters

SINE_FORM_FACTOR = math.pi / (2.0 * math.sqrt(2.0))
"""RMS over rectified mean of a sine: the factor printed into the scale of a rectifier meter, 1.1107."""


def rectifier_reading(rectified_mean: float) -> float:
    """What a rectifier meter shows ("RMS", true for a sine only): 1.1107 x rectified mean. rectified_mean : 0 to 1e9.

    Errors: ValueError. Source: form factor of a sine, exact.
    """
    return SINE_FORM_FACTOR * checked("rectified mean", rectified_mean, "1", 0.0, 1e9)


# ------------------------------------------------------------------------------------------------------ mechanics


def bounce_time(drop_time: float, restitution: float) -> float:
    """Time (s) from letting a ball fall until it lies still: t0 (1 + e) / (1 - e), t0 the first fall.

    drop_time : s, 0 to 1e6; restitution : 0 to 0.999999. Errors: ValueError. Source: geometric series, any text.
    """
    t0 = checked("time of the first fall", drop_time, "s", 0.0, 1e6)
    e = checked("restitution", restitution, "1", 0.0, 0.999999)
    return t0 * (1.0 + e) / (1.0 - e)


def nth_bounce_time(drop_time: float, restitution: float, bounce: int) -> float:
    """Time (s) of a ball's n-th touch of the floor: t0 (1 + 2 (e + e^2 + ... + e^(n-1))). bounce : 1 to 1000.

    drop_time : s, 0 to 1e6; restitution : 0 to 1. Errors: ValueError. Source: as above, summed to n.
    """
    t0 = checked("time of the first fall", drop_time, "s", 0.0, 1e6)
    e = checked("restitution", restitution, "1", 0.0, 1.0)
    count = checked_count("bounce", bounce, 1, 1000)
    return t0 * (1.0 + 2.0 * sum(e**power for power in range(1, count)))
