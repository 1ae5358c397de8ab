"""The condenser across the contacts: its capacity, its leakage, and what it does when the contacts part.

Farads, ohms, volts, amperes, seconds, hertz, joules. Standard library only.

A charged condenser and the open secondary of a coil can both kill or injure. Discharge the one through a resistor and
keep clear of the other before touching anything; what your local rules and a licensed person say comes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coilmodel.checks import checked

FIELD_EMISSION = 55e6
"""Field (V/m) that a parting gap under some 6 um just holds: physics.md's 55 V/um. Measured gaps of gold and ruthenium
in air hold 350 V/um under 1 um (Peschot et al., Applied Physics Letters 105 (2014) 123109, abstract); worn, rough,
hot contacts hold far less. From memory."""


def _capacity(value: object) -> float:
    return checked("capacity", value, "F", 1e-12, 1.0)


def _leak(value: object) -> float:
    return checked("leakage resistance", value, "ohm", 1e-3, 1e18)


# -------------------------------------------------------------------------------------------------- self-discharge


@dataclass(frozen=True)
class SelfDischarge:
    """What a self-discharge test says of a condenser.

    resistance : leakage resistance of the condenser alone, ohm; infinite where the meter by itself explains the loss
    uncertainty : one standard deviation of it, ohm (infinite where the resistance is)
    at_least : the leakage resistance is above this with 97.5 % sureness, ohm; the figure to quote for a good condenser
    seen : resistance before the meter was taken out, ohm; seen_uncertainty : its standard deviation, ohm
    """

    resistance: float
    uncertainty: float
    at_least: float
    seen: float
    seen_uncertainty: float


def self_discharge(
    first_voltage: float,
    last_voltage: float,
    seconds: float,
    capacity: float,
    meter_resistance: float = math.inf,
    voltage_uncertainty: float = 0.0,
    seconds_uncertainty: float = 0.0,
    capacity_uncertainty: float = 0.0,
) -> SelfDischarge:
    """Leakage resistance of a condenser from the voltage it loses by itself.

    first_voltage, last_voltage : V, 1e-6 to 1e5, the last under the first; seconds : between them, 1e-6 to 1e8
    capacity : F, 1e-12 to 1; meter_resistance : ohm, 1 to 1e18, infinite if the meter was only touched on at both ends
    voltage_uncertainty, seconds_uncertainty, capacity_uncertainty : standard deviations, V, s, F, from 0 up

    R seen = t / (C ln(V0/V)); the meter lies in parallel and is taken out: 1/R = 1/R seen - 1/R meter. Uncertainties
    are carried to first order. Leakage conductance, not resistance, has the symmetric error, so `at_least` comes from
    its upper end (1.96 standard deviations); with a 10 Mohm meter a good condenser looks infinite, and only that lower
    end means anything.
    Errors: ValueError for a value out of range, or where the voltage did not fall.
    Source: exponential discharge; standard propagation of uncertainty (JCGM 100:2008).
    """
    v0 = checked("first voltage", first_voltage, "V", 1e-6, 1e5)
    v = checked("last voltage", last_voltage, "V", 1e-6, math.nextafter(v0, 0.0))
    t = checked("time between the readings", seconds, "s", 1e-6, 1e8)
    c = _capacity(capacity)
    meter = math.inf if meter_resistance == math.inf else checked("meter resistance", meter_resistance, "ohm", 1.0, 1e18)
    u_v = checked("voltage uncertainty", voltage_uncertainty, "V", 0.0, v0)
    u_t = checked("time uncertainty", seconds_uncertainty, "s", 0.0, t)
    u_c = checked("capacity uncertainty", capacity_uncertainty, "F", 0.0, c)

    decay = -math.log1p((v - v0) / v0)  # ln(V0/V), kept exact where the two are close
    seen = t / (c * decay)
    relative = math.sqrt((u_t / t) ** 2 + (u_c / c) ** 2 + ((u_v / v0) ** 2 + (u_v / v) ** 2) / decay**2)
    conductance = 1.0 / seen - 1.0 / meter
    u_conductance = relative / seen
    highest = conductance + 1.96 * u_conductance
    leaks = conductance > 1e-12 / seen
    return SelfDischarge(
        resistance=1.0 / conductance if leaks else math.inf,
        uncertainty=u_conductance / conductance**2 if leaks else math.inf,
        at_least=1.0 / highest if highest > 0.0 else math.inf,
        seen=seen,
        seen_uncertainty=relative * seen,
    )


def voltage_left(first_voltage: float, seconds: float, capacity: float, leakage_resistance: float) -> float:
    """Voltage (V) left after some time: V0 exp(-t / R C).

    first_voltage : V, -1e5 to 1e5; seconds : 0 to 1e9; capacity : F, 1e-12 to 1; leakage_resistance : ohm, 1e-3 to 1e18
    Errors: ValueError. Source: any text.
    """
    v0 = checked("first voltage", first_voltage, "V", -1e5, 1e5)
    t = checked("time", seconds, "s", 0.0, 1e9)
    return v0 * math.exp(-t / (_leak(leakage_resistance) * _capacity(capacity)))


def half_time(capacity: float, leakage_resistance: float) -> float:
    """Time (s) in which half the voltage is gone: ln 2 x R C. Errors: ValueError.

    capacity : F, 1e-12 to 1; leakage_resistance : ohm, 1e-3 to 1e18. Source: any text.

    >>> round(half_time(0.47e-6, 10e6), 2)
    3.26
    """
    return math.log(2.0) * _capacity(capacity) * _leak(leakage_resistance)


def parallel(first: float, second: float) -> float:
    """Resistance (ohm) of two in parallel.

    first, second : ohm, each 1e-9 to 1e18, or infinite. Errors: ValueError. Source: any text.
    """
    conductance = 0.0
    for field, value in (("first resistance", first), ("second resistance", second)):
        if value != math.inf:
            conductance += 1.0 / checked(field, value, "ohm", 1e-9, 1e18)
    return 1.0 / conductance if conductance else math.inf


# ------------------------------------------------------------------------------------------------------ the parts

E_SERIES: dict[str, tuple[int, ...]] = {
    "E6": (10, 15, 22, 33, 47, 68),
    "E12": (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82),
    "E24": (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
}
"""Preferred values a decade, IEC 60063: tolerance classes 20, 10 and 5 % (looked up)."""


def preferred_value(value: float, series: str = "E6") -> float:
    """The preferred value nearest to `value` by ratio, in the same unit.

    value : 1e-15 to 1e15, any unit; series : "E6", "E12" or "E24"
    Errors: ValueError for another series or a value out of range. Source: IEC 60063.

    >>> f"{preferred_value(0.45e-6):.3g}"
    '4.7e-07'
    """
    number = checked("value", value, "1", 1e-15, 1e15)
    if not isinstance(series, str) or series not in E_SERIES:
        raise ValueError(f"series: {series!r} is not one of {', '.join(E_SERIES)}.")
    decade = math.floor(math.log10(number))
    # The nearest may lie in the decade below or above: 9.9 is nearer to 10 than to 6.8.
    candidates = [digits * 10.0 ** (decade - 1 + step) for step in (-1, 0, 1) for digits in E_SERIES[series]]
    return min(candidates, key=lambda candidate: abs(math.log(candidate / number)))


_RC_PRODUCT = {"polyester": (10_000.0, 1_000.0), "polypropylene": (100_000.0, 10_000.0)}


def insulation_resistance(capacity: float, dielectric: str = "polyester", temperature: float = 25.0) -> float:
    """Leakage resistance (ohm) to expect of a sound film condenser: its R C product over its capacity.

    capacity : F, 1e-12 to 1; dielectric : "polyester" or "polypropylene"; temperature : C, 0 to 100
    The product is 10,000 s (polyester) or 100,000 s (polypropylene) at 25 C and a tenth of it at 85 C; between, and a
    little beyond, it falls evenly on a logarithmic scale (that rule is common practice, no source). Old wax-paper
    condensers are far worse and have no such figure.
    Errors: ValueError. Source: a film-capacitor maker's table of dielectrics, looked up.

    >>> round(insulation_resistance(0.47e-6) / 1e9, 1)
    21.3
    """
    c = _capacity(capacity)
    if not isinstance(dielectric, str) or dielectric not in _RC_PRODUCT:
        raise ValueError(f"dielectric: {dielectric!r} is not one of {', '.join(_RC_PRODUCT)}.")
    celsius = checked("temperature", temperature, "C", 0.0, 100.0)
    cool, hot = _RC_PRODUCT[dielectric]
    return cool * (hot / cool) ** ((celsius - 25.0) / 60.0) / c


# ------------------------------------------------------------------------------------------- what a meter shows


@dataclass(frozen=True)
class MeterReading:
    """What a capacitance meter makes of a condenser that is not alone.

    parallel : F, a meter that thinks of a condenser beside a resistor; series : F, one that thinks of them in a row
    (infinite for a plain short); magnitude : F, one that only looks at the size of the current
    dissipation : ratio of the resistive to the capacitive current (the meter's D); above 0.1 distrust all three
    """

    parallel: float
    series: float
    magnitude: float
    dissipation: float


def apparent_capacity(
    capacity: float, leakage_resistance: float, frequency: float, series_inductance: float = 0.0, series_resistance: float = 0.0,
) -> MeterReading:
    """What a capacitance meter at one frequency shows of a leaky condenser, perhaps through a coil.

    capacity : F, 1e-12 to 1; leakage_resistance : in parallel with it, ohm, 1e-3 to 1e18
    frequency : of the meter, Hz, 1e-3 to 1e7; series_inductance : H, 0 to 1e3; series_resistance : ohm, 0 to 1e9, of a
    winding between the meter and the condenser
    With closed contacts the leakage resistance is the contacts': some 30 mohm, and none of the readings has anything to
    do with the capacity. A leaky condenser reads high on a series meter, by the factor 1 + D^2. Through an inductance
    the reading is C / (1 - w^2 L C); beyond resonance it is negative, and a meter shows rubbish.
    Errors: ValueError outside these ranges. Source: impedance of the network, any text of circuit theory.
    """
    c = _capacity(capacity)
    r = _leak(leakage_resistance)
    w = 2.0 * math.pi * checked("meter frequency", frequency, "Hz", 1e-3, 1e7)
    inductance = checked("series inductance", series_inductance, "H", 0.0, 1e3)
    resistance = checked("series resistance", series_resistance, "ohm", 0.0, 1e9)
    z = 1.0 / complex(1.0 / r, w * c) + complex(resistance, w * inductance)
    y = 1.0 / z
    return MeterReading(
        parallel=y.imag / w,
        series=-1.0 / (w * z.imag) if z.imag != 0.0 else math.inf,
        magnitude=abs(y) / w,
        dissipation=abs(z.real / z.imag) if z.imag != 0.0 else math.inf,
    )


def meter_with_contacts(
    capacity: float, leakage_resistance: float, frequency: float, contacts_open: bool, contact_resistance: float = 0.03,
) -> MeterReading:
    """A capacitance meter across the contacts, with them held apart or not.

    capacity, leakage_resistance, frequency : as in `apparent_capacity`; contacts_open : are they held apart?
    contact_resistance : of closed contacts, ohm, 1e-3 to 1e3
    Errors: ValueError. Source: the contacts lie in parallel with the condenser.
    """
    if not isinstance(contacts_open, bool):
        raise ValueError(f"contacts open: {contacts_open!r} is not True or False.")
    closed = checked("contact resistance", contact_resistance, "ohm", 1e-3, 1e3)
    leak = _leak(leakage_resistance)
    return apparent_capacity(capacity, leak if contacts_open else parallel(leak, closed), frequency)


# ------------------------------------------------------------------------------------------- when the contacts part


def stored_energy(capacity: float, voltage: float) -> float:
    """Energy (J) in a condenser: C V^2 / 2. capacity : F, 1e-12 to 1; voltage : V, -1e6 to 1e6. Errors: ValueError."""
    return 0.5 * _capacity(capacity) * checked("voltage", voltage, "V", -1e6, 1e6) ** 2


def arc_free_speed(current: float, capacity: float) -> float:
    """Speed (m/s) at which contacts must part so that the condenser's voltage never overtakes what the gap holds.

    current : at the parting, A, 0 to 1e4; capacity : F, 1e-12 to 1
    The condenser's voltage climbs at i/C, the strength of a very small gap at 55 V/um x speed. Once beyond some 6 um
    and 330 V other rules hold, but the race is lost or won before.
    Errors: ValueError. Source: the course's own criterion, see `FIELD_EMISSION`.
    """
    return checked("current", current, "A", 0.0, 1e4) / _capacity(capacity) / FIELD_EMISSION


def arc_margin(current: float, capacity: float, speed: float) -> float:
    """How many times faster than `arc_free_speed` the contacts part; above 1 they should not arc.

    current : A, 1e-6 to 1e4; capacity : F, 1e-12 to 1; speed : m/s, 0 to 100. Errors: ValueError. Source: as there.
    """
    i = checked("current", current, "A", 1e-6, 1e4)
    return checked("speed of parting", speed, "m/s", 0.0, 100.0) / arc_free_speed(i, capacity)


def ring_peak(current: float, inductance: float, capacity: float) -> float:
    """Peak voltage (V) when a current in an inductance is let into a condenser: I sqrt(L / C), without loss.

    current : A, -1e4 to 1e4; inductance : H, 1e-12 to 1e4; capacity : F, 1e-12 to 1. Errors: ValueError.
    Source: energy balance, any text.
    """
    i = checked("current", current, "A", -1e4, 1e4)
    return i * math.sqrt(checked("inductance", inductance, "H", 1e-12, 1e4) / _capacity(capacity))


def ring_frequency(inductance: float, capacity: float) -> float:
    """Frequency (Hz) of that ring: 1 / (2 pi sqrt(L C)). inductance : H, 1e-12 to 1e4; capacity : F. Errors: ValueError."""
    return 1.0 / (2.0 * math.pi * math.sqrt(checked("inductance", inductance, "H", 1e-12, 1e4) * _capacity(capacity)))


def available_voltage(
    current: float, primary_inductance: float, capacity: float, ratio: float, secondary_capacitance: float,
) -> float:
    """Secondary voltage (V) that a break makes available, with perfect coupling and no loss.

    current : at the break, A, -1e4 to 1e4; primary_inductance : H, 1e-12 to 1e4; capacity : across the contacts, F
    ratio : secondary turns over primary turns, 0.01 to 1e5; secondary_capacitance : F, 0 to 1e-3
    n I sqrt(L1 / (C1 + n^2 C2)): all the energy stands in the two condensers at once. It is no upper bound: with loose
    coupling leakage makes the peak ripple above it (see `two_winding_peak`), and losses take from it.
    Errors: ValueError outside these ranges. Source: energy balance.

    >>> round(available_voltage(4.0, 4e-3, 0.47e-6, 75.0, 50e-12))
    21891
    """
    i, l1, c1, n, c2 = _break(current, primary_inductance, capacity, ratio, secondary_capacitance)
    return n * i * math.sqrt(l1 / (c1 + n * n * c2))


def _break(
    current: float, primary_inductance: float, capacity: float, ratio: float, secondary_capacitance: float,
) -> tuple[float, float, float, float, float]:
    return (
        checked("current", current, "A", -1e4, 1e4),
        checked("primary inductance", primary_inductance, "H", 1e-12, 1e4),
        _capacity(capacity),
        checked("turns ratio", ratio, "1", 0.01, 1e5),
        checked("secondary capacitance", secondary_capacitance, "F", 0.0, 1e-3),
    )


@dataclass(frozen=True)
class TwoModes:
    """The lossless break of a two-winding coil, as the two undamped sines that its secondary voltage is made of.

    slow, fast : angular frequencies, rad/s; slow_volts, fast_volts : V, so that the secondary voltage is
    slow_volts x sin(slow t) + fast_volts x sin(fast t)
    """

    slow: float
    fast: float
    slow_volts: float
    fast_volts: float

    def voltage(self, time: float) -> float:
        """Secondary voltage (V) a time (s, 0 to 10) after the break. Errors: ValueError."""
        t = checked("time", time, "s", 0.0, 10.0)
        return self.slow_volts * math.sin(self.slow * t) + self.fast_volts * math.sin(self.fast * t)


def two_modes(
    current: float, primary_inductance: float, capacity: float, ratio: float, secondary_capacitance: float, coupling: float,
) -> TwoModes:
    """The break of a loosely coupled coil without loss: two coupled rings, slow and fast.

    current : A; primary_inductance : H; capacity : F; ratio : turns, secondary to primary; all as in `available_voltage`;
    coupling : 0.01 to 0.9999; secondary_capacitance : F, 1e-15 to 1e-3; the secondary's inductance is ratio^2 x
    primary_inductance.
    Errors: ValueError outside these ranges. Source: two coupled lossless circuits (the classic coupled-ring problem of
    spark transmitters; any text), solved here for both capacities uncharged and the current in the primary.
    """
    i, l1, c1, n, c2 = _break(current, primary_inductance, capacity, ratio, secondary_capacitance)
    checked("secondary capacitance", c2, "F", 1e-15, 1e-3)
    k = checked("coupling", coupling, "1", 0.01, 0.9999)
    # Seen from the primary: secondary capacity n^2 C2, equal inductances L1. Each mode's squared frequency w2 solves
    # (1 - k^2) w2^2 - (a + b) w2 + a b = 0 with a = 1/(L1 C1), b = 1/(L1 n^2 C2).
    a, b = 1.0 / (l1 * c1), 1.0 / (l1 * n * n * c2)
    spread = 1.0 - k * k
    half = (a + b) / 2.0
    root = math.sqrt(half * half - spread * a * b)
    fast2 = (half + root) / spread
    slow2 = a * b / (half + root)
    slow, fast = math.sqrt(slow2), math.sqrt(fast2)
    # With v2 = S sin(slow t) + F sin(fast t): at t = 0 no current in the secondary means C2 dv2/dt = 0, so
    # S slow = -F fast. From L1 (i1' + k i2') = -v1 and L1 (i2' + k i1') = -v2 its third derivative at the break is
    # k i / (L1 C1 n^2 C2 (1 - k^2)), all in primary measure.
    kick = k * i / (l1 * c1 * n * n * c2 * spread)
    # S slow + F fast = 0 and -(S slow^3 + F fast^3) = kick
    amplitude = kick / (fast2 - slow2)
    return TwoModes(slow, fast, n * amplitude / slow, -n * amplitude / fast)


def two_winding_peak(
    current: float,
    primary_inductance: float,
    capacity: float,
    ratio: float,
    secondary_capacitance: float,
    coupling: float,
    seconds: float | None = None,
) -> float:
    """Highest secondary voltage (V), of either sign, of the lossless break within `seconds`.

    current : A; primary_inductance : H; capacity, secondary_capacitance : F; ratio, coupling : as in `two_modes`;
    seconds : s, 1e-9 to 1, at most 2000 fast swings; without it the first slow half-swing.
    The curve is looked through at 400 points a fast swing and the best one refined by its tangent's zero.
    Errors: ValueError. Source: `two_modes`.
    """
    modes = two_modes(current, primary_inductance, capacity, ratio, secondary_capacitance, coupling)
    span = math.pi / modes.slow
    if seconds is not None:
        span = checked("time", seconds, "s", 1e-9, min(1.0, 2000.0 * 2.0 * math.pi / modes.fast))
    points = max(400, int(400.0 * span * modes.fast / (2.0 * math.pi)))
    step = span / points

    def height(t: float) -> float:
        return abs(modes.slow_volts * math.sin(modes.slow * t) + modes.fast_volts * math.sin(modes.fast * t))

    best = max(range(points + 1), key=lambda j: height(j * step))
    low, high = max(best - 1, 0) * step, min(best + 1, points) * step
    for _ in range(60):  # golden section would do as well; thirds are plainer, and the bracket is unimodal
        one, two = low + (high - low) / 3.0, high - (high - low) / 3.0
        low, high = (one, high) if height(one) < height(two) else (low, two)
    return height((low + high) / 2.0)
