"""The condenser: each formula against an energy balance, a circuit solved the long way, a limit or a published number.

Together with the proof's rows these must notice small errors planted in coilmodel/condenser.py (benchmarks/bite.py).
"""

from __future__ import annotations

import inspect
import math

import numpy as np
import pytest

from coilmodel import condenser

OHMS, FARADS, SECONDS, VOLTS = 25e6, 0.47e-6, 3.0, 9.0


# ---------------------------------------------------------------------------------------------------- self-discharge
def test_voltage_falls_to_a_half_and_to_one_part_in_e() -> None:
    assert condenser.voltage_left(-9.0, OHMS * FARADS, FARADS, OHMS) == pytest.approx(-9.0 / math.e, rel=1e-12)
    assert condenser.voltage_left(9.0, condenser.half_time(FARADS, OHMS), FARADS, OHMS) == pytest.approx(4.5, rel=1e-12)
    assert condenser.half_time(0.47e-6, 10e6) == pytest.approx(3.26, abs=5e-3)  # tau 4.70 s
    assert condenser.voltage_left(9.0, 0.0, FARADS, OHMS) == 9.0


def lost(leak: float, meter: float = math.inf, **more: float) -> condenser.SelfDischarge:
    """A discharge as the exponential says, through leak and meter at once, read without error."""
    seen = 1.0 / (1.0 / leak + 1.0 / meter)
    left = VOLTS * math.exp(-SECONDS / (seen * FARADS))
    return condenser.self_discharge(VOLTS, left, SECONDS, FARADS, meter, **more)


def test_a_meter_lies_beside_the_leak_and_is_taken_out() -> None:
    for meter in (math.inf, 10e6, 1e9):
        found = lost(OHMS, meter)
        assert found.resistance == pytest.approx(OHMS, rel=1e-9)
        assert found.seen == pytest.approx(1.0 / (1.0 / OHMS + 1.0 / meter), rel=1e-9)
        assert (found.uncertainty, found.seen_uncertainty) == (0.0, 0.0)
        assert found.at_least == pytest.approx(OHMS, rel=1e-9)


def test_a_loss_that_is_the_meters_own_leaves_no_leak() -> None:
    """Seen resistance equal to the meter's, or above it as readings may have it: infinite, and a finite lower limit."""
    exact = 10e6
    left = VOLTS * math.exp(-SECONDS / (exact * FARADS))
    for meter in (exact, 0.99 * exact):
        found = condenser.self_discharge(VOLTS, left, SECONDS, FARADS, meter, seconds_uncertainty=0.1)
        assert (found.resistance, found.uncertainty) == (math.inf, math.inf)
        assert found.seen == pytest.approx(exact, rel=1e-9)
        conductance = 1.0 / exact - 1.0 / meter + 1.96 * (0.1 / SECONDS) / exact
        assert found.at_least == pytest.approx(1.0 / conductance, rel=1e-6)
    assert condenser.self_discharge(VOLTS, left, SECONDS, FARADS, 0.5 * exact).at_least == math.inf
    assert condenser.self_discharge(VOLTS, left, SECONDS, FARADS, exact / (1.0 - 1e-9)).resistance < math.inf


@pytest.mark.parametrize("name", ["voltage", "seconds", "capacity"])
def test_uncertainty_is_the_slope_times_the_error(name: str) -> None:
    """Each reading nudged both ways by hand; the two voltages are read alike and their errors add in squares."""
    base = {"first": VOLTS, "last": 4.0, "seconds": SECONDS, "capacity": FARADS}
    error = {"voltage": 0.02, "seconds": 0.03, "capacity": 5e-9}[name]

    def conductance(**nudge: float) -> float:
        it = {**base, **nudge}
        return 1.0 / condenser.self_discharge(it["first"], it["last"], it["seconds"], it["capacity"], 40e6).resistance

    squares = 0.0
    for reading in ("first", "last") if name == "voltage" else (name,):
        step = 1e-3 * error
        slope = (conductance(**{reading: base[reading] + step}) - conductance(**{reading: base[reading] - step})) / (2.0 * step)
        squares += (slope * error) ** 2
    said = condenser.self_discharge(VOLTS, 4.0, SECONDS, FARADS, 40e6, **{f"{name}_uncertainty": error})
    sigma = math.sqrt(squares)
    assert said.uncertainty == pytest.approx(sigma * said.resistance**2, rel=1e-6)
    assert said.seen_uncertainty == pytest.approx(sigma * said.seen**2, rel=1e-6)
    assert said.at_least == pytest.approx(1.0 / (1.0 / said.resistance + 1.96 * sigma), rel=1e-6)


def test_uncertainties_of_all_readings_add_in_squares() -> None:
    one = {"voltage_uncertainty": 0.02, "seconds_uncertainty": 0.03, "capacity_uncertainty": 5e-9}
    whole = lost(OHMS, **one).seen_uncertainty
    assert whole == pytest.approx(math.hypot(*(lost(OHMS, **{name: value}).seen_uncertainty for name, value in one.items())))
    assert lost(OHMS, **one).uncertainty == pytest.approx(whole, rel=1e-9)  # no meter: the leak is what is seen


def test_a_tiny_loss_keeps_its_digits() -> None:
    """A condenser that lost a part in ten thousand million: ln(V0/V) must not be a difference of two nearly equal numbers."""
    first, last = 9.0, 9.0 * (1.0 - 2.0**-33)
    found = condenser.self_discharge(first, last, 1.0, 1e-6)
    assert found.resistance == pytest.approx(1.0 / (1e-6 * 2.0**-33 * (1.0 + 2.0**-34)), rel=1e-12)


def test_a_voltage_that_did_not_fall_is_refused() -> None:
    for last in (9.0, math.nextafter(9.0, 10.0)):
        with pytest.raises(ValueError, match=r"^last voltage: "):
            condenser.self_discharge(9.0, last, 3.0, FARADS)
    condenser.self_discharge(9.0, math.nextafter(9.0, 0.0), 3.0, FARADS)


def test_parallel_resistances() -> None:
    assert condenser.parallel(10.0, 10.0) == 5.0
    assert condenser.parallel(3.0, 6.0) == pytest.approx(2.0, rel=1e-15)
    assert condenser.parallel(7.0, math.inf) == condenser.parallel(math.inf, 7.0) == pytest.approx(7.0, rel=1e-15)
    assert condenser.parallel(math.inf, math.inf) == math.inf
    for first, second in ((0.0, 1.0), (1.0, 2e18), (-1.0, 1.0)):
        which = "first" if second == 1.0 else "second"
        with pytest.raises(ValueError, match=rf"^{which} resistance: .* outside 1e-09 to 1e\+18 o"):
            condenser.parallel(first, second)


# ----------------------------------------------------------------------------------------------------------- the parts
def test_preferred_values_are_those_of_iec_60063() -> None:
    """As looked up: E6, E12, and what E24 adds to E12."""
    e6 = [10, 15, 22, 33, 47, 68]
    e12 = sorted([*e6, 12, 18, 27, 39, 56, 82])
    e24 = sorted([*e12, 11, 13, 16, 20, 24, 30, 36, 43, 51, 62, 75, 91])
    for name, series in (("E6", e6), ("E12", e12), ("E24", e24)):
        assert list(condenser.E_SERIES[name]) == series
        for low, high in zip(series, [*series[1:], 100], strict=True):
            middle = math.sqrt(low * high)  # nearest by ratio: the watershed is the geometric mean
            for decade in (1e-9, 1e-3, 0.1, 1.0, 100.0):
                assert condenser.preferred_value(low * decade, name) == pytest.approx(low * decade, rel=1e-12)
                assert condenser.preferred_value(0.999 * middle * decade, name) == pytest.approx(low * decade, rel=1e-12)
                assert condenser.preferred_value(1.001 * middle * decade, name) == pytest.approx(high * decade, rel=1e-12)
    assert condenser.preferred_value(12.0) == condenser.preferred_value(12.0, "E6") == pytest.approx(10.0)


def test_a_sound_film_condenser_leaks_ten_times_more_per_sixty_kelvin() -> None:
    """R C of polyester 10,000 s at 25 C and 1,000 s at 85 C, polypropylene ten times that (a maker's table, looked up)."""
    for dielectric, cool in (("polyester", 1e4), ("polypropylene", 1e5)):
        for celsius, product in ((25.0, cool), (55.0, cool / math.sqrt(10.0)), (85.0, cool / 10.0), (10.0, cool * 10.0**0.25)):
            assert condenser.insulation_resistance(2e-6, dielectric, celsius) == pytest.approx(product / 2e-6, rel=1e-12)
    assert condenser.insulation_resistance(0.47e-6) == pytest.approx(1e4 / 0.47e-6, rel=1e-12)


# -------------------------------------------------------------------------------------------------- what a meter shows
def test_a_leaky_condenser_on_three_kinds_of_meter() -> None:
    """D = 1 / (w R C); a parallel meter is right, a series meter 1 + D^2 too high, one that sees only the current its root."""
    for d in (0.01, 0.5, 3.0):
        w = 2.0 * math.pi * 1000.0
        shown = condenser.apparent_capacity(FARADS, 1.0 / (w * FARADS * d), 1000.0)
        assert shown.dissipation == pytest.approx(d, rel=1e-9)
        assert shown.parallel == pytest.approx(FARADS, rel=1e-9)
        assert shown.series == pytest.approx(FARADS * (1.0 + d * d), rel=1e-9)
        assert shown.magnitude == pytest.approx(FARADS * math.sqrt(1.0 + d * d), rel=1e-9)


def test_a_condenser_behind_a_winding() -> None:
    """Through a coil C / (1 - w^2 L C), negative beyond resonance; through a resistor D = w R C and a series meter is right."""
    w = 2.0 * math.pi * 1000.0
    for inductance in (2.6e-3, 10e-3, 0.5):
        shown = condenser.apparent_capacity(FARADS, 1e15, 1000.0, inductance)
        expected = FARADS / (1.0 - w * w * inductance * FARADS)
        assert shown.series == pytest.approx(expected, rel=1e-6)
        assert shown.parallel == pytest.approx(expected, rel=1e-6)
        assert shown.magnitude == pytest.approx(abs(expected), rel=1e-6)
        assert (shown.series < 0.0) == (inductance == 0.5)
    shown = condenser.apparent_capacity(FARADS, 1e15, 1000.0, 0.0, 100.0)
    assert shown.dissipation == pytest.approx(w * 100.0 * FARADS, rel=1e-9)
    assert shown.series == pytest.approx(FARADS, rel=1e-9)
    assert shown.parallel == pytest.approx(FARADS / (1.0 + shown.dissipation**2), rel=1e-9)


def test_at_resonance_a_series_meter_has_nothing_to_read() -> None:
    w, found = 2.0 * math.pi * 1000.0, []
    for step in range(40):  # some inductance near resonance cancels to the last bit
        inductance = 1.0 / (w * w * FARADS) * (1.0 + (step - 20) * 2.0**-53)
        shown = condenser.apparent_capacity(FARADS, 1e18, 1000.0, inductance)
        if shown.series == math.inf:
            assert shown.dissipation == math.inf
            found.append(inductance)
        else:
            assert abs(shown.series) > 1e6 * FARADS
    assert found


def test_closed_contacts_hide_the_condenser() -> None:
    """Held apart, the meter sees condenser and leak; closed, some 30 mohm, whatever the condenser."""
    apart = condenser.meter_with_contacts(FARADS, 1e6, 1000.0, True)
    assert apart == condenser.apparent_capacity(FARADS, 1e6, 1000.0)
    closed = condenser.meter_with_contacts(FARADS, 1e6, 1000.0, False)
    w = 2.0 * math.pi * 1000.0
    assert closed.magnitude == pytest.approx(1.0 / (w * 0.03), rel=1e-4)
    assert closed.dissipation == pytest.approx(1.0 / (w * 0.03 * FARADS), rel=1e-4)
    worn = condenser.meter_with_contacts(FARADS, 4.0, 1000.0, False, 4.0)
    assert worn == condenser.apparent_capacity(FARADS, 2.0, 1000.0)
    assert condenser.meter_with_contacts(FARADS, 4.0, 1000.0, True, 4.0) == condenser.apparent_capacity(FARADS, 4.0, 1000.0)


# ------------------------------------------------------------------------------------------------ when the contacts part
def test_arc_free_speed_is_where_gap_and_condenser_keep_pace() -> None:
    """At that speed the condenser's i t / C and the gap's 55 V/um x speed x t are equal at every moment."""
    speed = condenser.arc_free_speed(5.0, 0.5e-6)
    assert speed * 55.0 == pytest.approx(5.0 / 0.5, rel=1e-12)  # um/us x V/um against V/us
    assert condenser.arc_margin(5.0, 0.5e-6, speed) == pytest.approx(1.0, rel=1e-12)
    assert condenser.arc_margin(2.5, 1e-6, 3.0 * speed) == pytest.approx(12.0, rel=1e-12)
    assert condenser.arc_free_speed(0.0, 0.5e-6) == 0.0


def test_the_ring_carries_the_coils_energy_to_the_condenser() -> None:
    peak = condenser.ring_peak(4.0, 4e-3, FARADS)
    assert condenser.stored_energy(FARADS, peak) == pytest.approx(32e-3, rel=1e-12)  # L I^2 / 2 of 4 mH and 4 A
    assert condenser.stored_energy(FARADS, -peak) == pytest.approx(32e-3, rel=1e-12)
    assert condenser.ring_peak(-4.0, 4e-3, FARADS) == -peak
    w = 2.0 * math.pi * condenser.ring_frequency(4e-3, FARADS)
    assert w * w * 4e-3 * FARADS == pytest.approx(1.0, rel=1e-12)
    assert peak == pytest.approx(4.0 / (w * FARADS), rel=1e-12)
    assert condenser.ring_frequency(2.81e-3, 9e-12) == pytest.approx(1.00e6, rel=5e-3)  # Serway & Jewett, ex. 32.6, from memory


def test_available_voltage_shares_the_energy_between_two_condensers() -> None:
    for ratio, other in ((75.0, 50e-12), (75.0, 0.0), (20.0, 3e-9)):
        volts = condenser.available_voltage(4.0, 4e-3, FARADS, ratio, other)
        shared = condenser.stored_energy(FARADS, volts / ratio) + (condenser.stored_energy(other, volts) if other else 0.0)
        assert shared == pytest.approx(32e-3, rel=1e-12)
    assert condenser.available_voltage(-4.0, 4e-3, FARADS, 75.0, 0.0) < 0.0


L1, C1, N, C2, I = 2.6e-3, 0.45e-6, 75.0, 60e-12, 5.0  # noqa: E741 - the letters of the circuit


def by_small_steps(coupling: float, times: list[float]) -> list[float]:
    """Secondary voltage at some moments after the break, the circuit stepped through by Runge and Kutta's rule."""
    l2, m = N * N * L1, coupling * N * L1
    determinant = L1 * l2 - m * m

    def slope(state: list[float]) -> list[float]:
        i1, i2, v1, v2 = state
        return [(-l2 * v1 + m * v2) / determinant, (m * v1 - L1 * v2) / determinant, i1 / C1, i2 / C2]

    state, now, step, seen = [I, 0.0, 0.0, 0.0], 0.0, 2e-7, []
    for time in times:
        while now < time - step / 2.0:
            a = slope(state)
            b = slope([s + step / 2.0 * d for s, d in zip(state, a, strict=True)])
            c = slope([s + step / 2.0 * d for s, d in zip(state, b, strict=True)])
            d = slope([s + step * e for s, e in zip(state, c, strict=True)])
            state = [s + step / 6.0 * (w + 2.0 * x + 2.0 * y + z) for s, w, x, y, z in zip(state, a, b, c, d, strict=True)]
            now += step
        seen.append(state[3])
    return seen


@pytest.mark.parametrize("coupling", [0.5, 0.93])
def test_two_modes_are_the_circuits_own(coupling: float) -> None:
    """Observed: within 1e-6 of the peak, of either sign and at any moment of 200 us."""
    modes = condenser.two_modes(I, L1, C1, N, C2, coupling)
    times = [2e-7 * count for count in (10, 50, 110, 175, 240, 333, 500, 760, 1000)]
    stepped = by_small_steps(coupling, times)
    for time, volts in zip(times, stepped, strict=True):
        assert modes.voltage(time) == pytest.approx(volts, abs=3e-6 * max(map(abs, stepped)))
    assert 0.0 < modes.slow < modes.fast


def test_the_highest_voltage_is_the_highest_of_the_curve() -> None:
    """Sought again by a plain walk of 100,000 points, for the first slow half-swing, a given time, and one cut short."""
    for coupling in (0.3, 0.93, 0.99):
        modes = condenser.two_modes(I, L1, C1, N, C2, coupling)
        half = math.pi / modes.slow
        for seconds in (None, 0.03 * half, 0.2 * half, 1.0 * half, 4.0 * half):
            span = half if seconds is None else seconds
            times = np.linspace(0.0, span, 100_001)
            curve = modes.slow_volts * np.sin(modes.slow * times) + modes.fast_volts * np.sin(modes.fast * times)
            walked = float(np.max(np.abs(curve)))
            found = condenser.two_winding_peak(I, L1, C1, N, C2, coupling, seconds)
            assert found == pytest.approx(walked, rel=1e-7)
            assert found >= walked * (1.0 - 1e-12)
    loose = condenser.two_winding_peak(I, L1, C1, N, C2, 0.93)
    assert loose == pytest.approx(condenser.two_winding_peak(-I, L1, C1, N, C2, 0.93), rel=1e-12)
    tight = condenser.two_winding_peak(I, L1, C1, N, C2, 0.9999)
    assert tight == pytest.approx(condenser.available_voltage(I, L1, C1, N, C2), rel=0.02)


def test_a_time_of_more_than_two_thousand_swings_is_refused() -> None:
    modes = condenser.two_modes(I, L1, C1, N, C2, 0.93)
    most = 2000.0 * 2.0 * math.pi / modes.fast
    with pytest.raises(ValueError, match=r"^time: ") as caught:
        condenser.two_winding_peak(I, L1, C1, N, C2, 0.93, 1.001 * most)
    assert f"1e-09 to {most:g} s" in str(caught.value)
    slow = condenser.two_winding_peak(I, 1e3, 1e-3, N, 1e-3, 0.93, 1.0)  # a swing of minutes: a second is the most
    assert slow > 0.0
    with pytest.raises(ValueError, match=r"outside 1e-09 to 1 s"):
        condenser.two_winding_peak(I, 1e3, 1e-3, N, 1e-3, 0.93, 1.1)
    with pytest.raises(ValueError, match=r"^secondary capacitance: .* outside 1e-15 to 0.001 F"):
        condenser.two_modes(I, L1, C1, N, 0.0, 0.93)


def test_what_is_not_said_is_the_plain_case() -> None:
    usual = {name: one.default for name, one in inspect.signature(condenser.self_discharge).parameters.items()}
    assert usual["meter_resistance"] == math.inf
    assert {usual[f"{name}_uncertainty"] for name in ("voltage", "seconds", "capacity")} == {0.0}
    assert condenser.apparent_capacity(FARADS, 1e6, 1000.0) == condenser.apparent_capacity(FARADS, 1e6, 1000.0, 0.0, 0.0)
    assert condenser.FIELD_EMISSION == 55e6
