"""Plain facts of the geometry modules, for any value (hypothesis). Some 25 seconds in all."""

from __future__ import annotations

import dataclasses
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coilmodel import Coil, Machine, closed_forms, condenser, springs, timing, winding

from .valid_calls import GOOD, MODULES, NUMBER_NAMES, NUMBERS, flat

# The same examples in every run, so that what passes today passes tomorrow; FREE=1000 in the environment tries others.
STEADY = settings(derandomize="FREE" not in os.environ, deadline=None, max_examples=int(os.environ.get("FREE", "100")))


@settings(STEADY, max_examples=max(1, STEADY.max_examples // 4))
@given(data=st.data())
@pytest.mark.parametrize(("function", "name"), NUMBERS, ids=NUMBER_NAMES)
def test_any_number_gives_a_number_or_a_sentence(function, name: str, data) -> None:
    """Over the whole range of floats and round the valid value: no other exception, no NaN."""
    good = GOOD[function][name]
    value = data.draw(st.one_of(st.floats(), st.integers(-10**6, 10**6),
                                st.floats(-3.0, 3.0).map(lambda power: good * 10.0**power)))
    said, result = "", []
    try:
        result = flat(function(**{**GOOD[function], name: value}))
    except ValueError as error:
        said = str(error)
    assert not any(math.isnan(number) for number in result)
    assert not said or (said.endswith(".") and len(said) < 250)


# --------------------------------------------------------------------------------------------- facts for any value
def a_range(low: float, high: float):
    """Numbers spread evenly over the decades from `low` to `high`."""
    return st.floats(math.log(low), math.log(high)).map(lambda power: min(max(math.exp(power), low), high))


def two(low: float, high: float):
    """Two numbers of a range, the second at least a millionth above the first."""
    return st.tuples(a_range(low, high), a_range(low, high)).map(sorted).filter(lambda pair: pair[1] > pair[0] * (1.0 + 1e-6))


@STEADY
@given(two(1e-4, 1e3))
def test_a_stubbier_coil_has_less_of_its_inductance(pair) -> None:
    assert 0.0 < winding.nagaoka(pair[1]) < winding.nagaoka(pair[0]) < 1.0


@STEADY
@given(st.floats(999.0, 1001.0))
def test_nagaoka_does_not_jump_where_its_two_forms_meet(x: float) -> None:
    assert winding.nagaoka(x) == pytest.approx(winding.nagaoka_lundin(x), rel=1e-8)


@STEADY
@given(two(1.0, 100.0))
def test_a_longer_rod_is_demagnetised_less(pair) -> None:
    for factor in (winding.rod_demagnetising_factor, winding.ellipsoid_demagnetising_factor,
                   winding.uniform_rod_demagnetising_factor):
        assert 0.0 < factor(pair[1]) < factor(pair[0]) < 0.34


@STEADY
@given(a_range(1.0, 1e6), a_range(1e-6, 1.0))
def test_a_rod_is_never_better_than_its_iron_nor_than_its_shape(mu: float, n: float) -> None:
    rod = winding.rod_permeability(mu, n)
    assert 1.0 - 1e-12 <= rod <= min(mu, 1.0 / n) * (1.0 + 1e-12)


@STEADY
@given(st.integers(1, 100_000), a_range(5e-5, 2e-3), a_range(5e-3, 0.2), a_range(5e-3, 0.05))
def test_a_winding_adds_up(turns: int, wire: float, length: float, inner: float) -> None:
    coil = winding.layer_winding(turns, wire, length, inner, wire / 20.0, wire / 5.0)
    assert (coil.layers - 1) * coil.turns_per_layer < turns <= coil.layers * coil.turns_per_layer
    assert coil.inner_diameter < coil.mean_diameter < coil.outer_diameter
    assert coil.length <= length * (1.0 + 1e-9)
    assert coil.wire_length == pytest.approx(math.pi * coil.mean_diameter * turns, rel=1e-12)
    section = math.pi * wire**2 / 4.0
    assert coil.resistance == pytest.approx(winding.copper_resistivity() * coil.wire_length / section, rel=1e-12)


def test_the_nominal_coil_can_be_wound() -> None:
    """An invented coil of ordinary wire and iron comes out near the machine's nominal one, under the names the machine uses.

    Seen: 3.0 mH for 2.6, 0.35 ohm for 0.42, 3.9 kohm for 4.0, coupling 0.96 for 0.93, 63 pF for 60.
    """
    wound = winding.coil_from_winding(0.012, 0.12, 230, winding.awg_diameter(20), 0.105, 17_250, winding.awg_diameter(39), 0.08,
                                      insulation_between=3e-3)
    names = {field.name for field in dataclasses.fields(Coil)} & {field.name for field in dataclasses.fields(wound)}
    assert names == {"primary_inductance", "primary_resistance", "turns_ratio", "coupling", "secondary_resistance",
                     "secondary_capacitance"}
    made = Machine().but(coil={name: getattr(wound, name) for name in names}).coil
    for name, share in (("primary_inductance", 0.3), ("primary_resistance", 0.3), ("turns_ratio", 1e-9), ("coupling", 0.06),
                        ("secondary_resistance", 0.3), ("secondary_capacitance", 0.5)):
        assert getattr(made, name) == pytest.approx(getattr(Coil(), name), rel=share), name


@STEADY
@given(a_range(1.0, 1e5), a_range(1e-6, 1e2))
def test_a_shorted_turn_only_takes_away_inductance_and_only_adds_resistance(frequency: float, resistance: float) -> None:
    left, added = winding.shorted_turns(2.6e-3, 0.95, 2e-6, resistance, frequency)
    assert 2.6e-3 * (1.0 - 0.95**2) * (1.0 - 1e-9) <= left <= 2.6e-3
    assert 0.0 <= added <= 0.5 * 0.95**2 * 2.0 * math.pi * frequency * 2.6e-3 * (1.0 + 1e-9)


@STEADY
@given(two(1e-5, 20.0))
def test_more_damping_gives_less_rebound(pair) -> None:
    assert 0.0 < springs.restitution(pair[1]) < springs.restitution(pair[0]) < 1.0


@STEADY
@given(a_range(1e-5, 0.999))
def test_a_stop_that_never_pulls_gives_back_more(ratio: float) -> None:
    assert springs.restitution(ratio) >= springs.restitution_at_return(ratio)


@STEADY
@given(a_range(1e-4, 0.9999), a_range(1e-5, 1e-2), a_range(1e4, 1e8))
def test_damping_for_restitution_comes_back(wanted: float, mass: float, stiffness: float) -> None:
    damping = springs.damping_for_restitution(wanted, mass, stiffness)
    assert springs.restitution(springs.damping_ratio(mass, stiffness, damping)) == pytest.approx(wanted, rel=1e-9)


@STEADY
@given(two(1e-3, 1e3), st.integers(1, 10))
def test_a_heavier_tip_swings_slower_and_modes_ascend(pair, mode: int) -> None:
    assert springs.beam_root(pair[1], mode) < springs.beam_root(pair[0], mode) < springs.beam_root(pair[1], mode + 1)


@STEADY
@given(a_range(1e-4, 100.0))
def test_the_third_of_a_leaf_is_always_a_little_high(ratio: float) -> None:
    """Rayleigh's method never gives too low a frequency, and 33/140 is within 1.5 %."""
    rule = 3.0 / (ratio + 33.0 / 140.0)
    exact = springs.beam_root(ratio) ** 4
    assert 1.0 - 1e-9 <= math.sqrt(rule / exact) < 1.015


@STEADY
@given(a_range(1e-9, 1e-4), a_range(1e3, 1e12), a_range(0.01, 100.0), a_range(1e5, 1e14))
def test_leakage_comes_back_through_a_meter(capacity: float, leak: float, seconds: float, meter: float) -> None:
    seen = condenser.parallel(leak, meter)
    share = seconds / (seen * capacity)
    if not 1e-6 < share < 15.0 or leak > 1e4 * meter:
        return  # nothing left to read, or nothing lost, or all of it through the meter
    found = condenser.self_discharge(10.0, condenser.voltage_left(10.0, seconds, capacity, seen), seconds, capacity, meter)
    assert found.resistance == pytest.approx(leak, rel=1e-3)


@STEADY
@given(a_range(1e-6, 1e6), st.sampled_from(["E6", "E12", "E24"]))
def test_a_preferred_value_is_the_nearest_and_stays_itself(value: float, series: str) -> None:
    chosen = condenser.preferred_value(value, series)
    assert condenser.preferred_value(chosen, series) == pytest.approx(chosen, rel=1e-12)
    assert abs(math.log(chosen / value)) <= math.log(1.5) / 2.0 + 1e-3  # the widest step of E6 is 10 to 15


@STEADY
@given(two(0.02, 0.95))
def test_two_modes_start_from_nothing_and_keep_their_energy(pair) -> None:
    modes = condenser.two_modes(5.0, 2.6e-3, 0.45e-6, 75.0, 60e-12, pair[0])
    assert modes.slow < modes.fast
    assert modes.voltage(0.0) == 0.0
    assert modes.slow_volts * modes.slow == pytest.approx(-modes.fast_volts * modes.fast, rel=1e-9)
    bound = 5.0 * math.sqrt(2.6e-3 / 60e-12)
    assert condenser.two_winding_peak(5.0, 2.6e-3, 0.45e-6, 75.0, 60e-12, pair[0]) <= bound


@STEADY
@given(st.floats(-1e6, 1e6), st.integers(1, 32))
def test_a_crank_angle_is_its_pulse_and_the_rest(angle: float, pairs: int) -> None:
    width = timing.pulse_angle(pairs)
    rest = timing.angle_in_pulse(angle, pairs)
    assert 0.0 <= rest < width
    assert timing.pulse_number(angle, pairs) * width + rest == pytest.approx(angle, abs=1e-6)


@STEADY
@given(st.floats(0.0, 300.0), st.floats(0.5, 22.0))
def test_moving_the_timer_by_a_pulse_moves_the_spark_by_a_pulse(start: float, climb: float) -> None:
    here, there = timing.firing_angle(start, climb), timing.firing_angle(start + 22.5, climb)
    assert there - here == pytest.approx(22.5, abs=1e-9)
    assert here >= start - 1e-6
    assert here - start < 22.5 + climb + 1e-6
    assert timing.angle_in_pulse(here + 1e-9) == pytest.approx(climb, abs=1e-6)


@STEADY
@given(two(1e-4, 0.02))
def test_a_wider_gap_holds_more(pair) -> None:
    assert closed_forms.uniform_field_breakdown(pair[1]) > closed_forms.uniform_field_breakdown(pair[0])


@STEADY
@given(a_range(0.35, 1e4))
def test_nothing_breaks_down_under_paschens_minimum(product: float) -> None:
    assert closed_forms.paschen(product) >= closed_forms.paschen_minimum()[0] * (1.0 - 1e-12)


@STEADY
@given(two(1.0, 1e5))
def test_a_faster_magneto_gives_more_but_never_beyond_its_limit(pair) -> None:
    slow, fast = (closed_forms.magneto_current(0.03, 0.7, 4.3e-3, hertz) for hertz in pair)
    assert slow < fast * (1.0 + 1e-12)
    assert fast <= 0.03 / 4.3e-3 * (1.0 + 1e-12)


# ------------------------------------------------------------------------------------------------------- the layers
def test_these_modules_need_nothing_but_python() -> None:
    """In a Python that sees neither numpy nor anything else installed, as in the reader's browser."""
    root = Path(__file__).resolve().parents[2]
    names = ", ".join(f"coilmodel.{module.__name__.rsplit('.', 1)[1]}" for module in MODULES)
    done = subprocess.run([sys.executable, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(root)!r}); import {names}"],
                          capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
