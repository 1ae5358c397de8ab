"""Bad input and plain facts of the geometry modules, for any value (hypothesis). About 10 seconds in all."""

from __future__ import annotations

import dataclasses
import inspect
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coilmodel import Coil, Machine, checks, closed_forms, condenser, springs, timing, winding

# The same examples in every run, so that what passes today passes tomorrow; FREE=1000 in the environment tries others.
STEADY = settings(derandomize="FREE" not in os.environ, deadline=None, max_examples=int(os.environ.get("FREE", "100")))
LEAF = springs.Leaf(0.04, 0.01, 0.0006)
PRIMARY = winding.layer_winding(230, 0.9e-3, 0.115, 0.0145)
SECONDARY = winding.layer_winding(17_250, 0.1e-3, 0.1, 0.0213, 0.01e-3, 0.05e-3)
BREAK = {"current": 4.0, "primary_inductance": 4e-3, "capacity": 0.47e-6, "ratio": 75.0, "secondary_capacitance": 50e-12}
TOWNSEND = {"a": 15.0, "b": 365.0, "gamma": 0.01}

# One valid call of every public function. A function that is not here fails the first test, so none is forgotten.
GOOD = {
    checks.checked: {},
    checks.checked_count: {},
    winding.awg_diameter: {"gauge": 19},
    winding.copper_resistivity: {"temperature": 20.0, "conductivity": 100.0},
    winding.wire_resistance: {"length": 100.0, "diameter": 1e-3, "temperature": 20.0, "conductivity": 100.0},
    winding.layer_winding: {"turns": 230, "wire_diameter": 0.9e-3, "length": 0.115, "inner_diameter": 0.0145, "enamel": 1e-5,
                            "layer_insulation": 5e-5, "temperature": 20.0, "conductivity": 100.0},
    winding.elliptic_integrals: {"modulus": 0.6, "complement": 0.8},
    winding.nagaoka: {"diameter_over_length": 1.0},
    winding.nagaoka_lundin: {"diameter_over_length": 1.0},
    winding.solenoid_inductance: {"turns": 100.0, "diameter": 0.05, "length": 0.05},
    winding.wheeler_single_layer: {"turns": 100.0, "diameter": 0.05, "length": 0.05},
    winding.wheeler_multilayer: {"turns": 100.0, "mean_diameter": 0.05, "length": 0.025, "build": 0.025},
    winding.brooks_inductance: {"turns": 100.0, "build": 0.02},
    winding.rod_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.ellipsoid_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.uniform_rod_demagnetising_factor: {"length_over_diameter": 10.0},
    winding.rod_permeability: {"material_permeability": 500.0, "demagnetising_factor": 0.0153},
    winding.open_core_inductance: {"turns": 230.0, "coil_diameter": 0.016, "coil_length": 0.1, "core_diameter": 0.013,
                                   "core_length": 0.13, "iron_permeability": 500.0, "iron_fill": 0.8},
    winding.leakage_inductance: {"primary": PRIMARY, "secondary": SECONDARY},
    winding.coupling_from_leakage: {"primary_inductance": 2.6e-3, "leakage": 0.35e-3},
    winding.turns_ratio: {"primary_turns": 230.0, "secondary_turns": 17_250.0},
    winding.layer_capacitance: {"mean_diameter": 0.025, "length": 0.1, "spacing": 7e-5, "layers": 21, "permittivity": 3.0,
                                "sections": 2},
    winding.shorted_turns: {"inductance": 2.6e-3, "coupling": 0.9, "loop_inductance": 1e-6, "loop_resistance": 1e-3,
                            "frequency": 1000.0},
    winding.coil_from_winding: {"core_diameter": 0.0135, "core_length": 0.135, "primary_turns": 230, "primary_wire": 0.912e-3,
                                "primary_length": 0.115, "secondary_turns": 17_250, "secondary_wire": 0.101e-3,
                                "secondary_length": 0.1,
                                "former_wall": 0.5e-3, "insulation_between": 1.5e-3, "enamel": 0.01e-3,
                                "layer_insulation": 0.05e-3,
                                "secondary_sections": 2, "permittivity": 3.0, "stray_capacitance": 30e-12,
                                "iron_permeability": 500.0, "iron_fill": 0.8, "temperature": 20.0, "conductivity": 100.0},
    springs.root_stress: {"leaf": LEAF, "deflection": 1e-3},
    springs.preload: {"stiffness": 346.0, "deflection": 9e-3},
    springs.deflection_for_preload: {"stiffness": 346.0, "force": 3.14},
    springs.effective_tip_mass: {"leaf_mass": 1.9e-3, "tip_mass": 0.5e-3},
    springs.spring_frequency: {"stiffness": 346.0, "mass": 1e-3},
    springs.beam_root: {"mass_ratio": 1.0, "mode": 1},
    springs.tip_frequency: {"leaf": LEAF, "tip_mass": 1e-3, "mode": 1},
    springs.damping_ratio: {"mass": 1e-3, "stiffness": 1e6, "damping": 5.4},
    springs.restitution: {"ratio": 0.1},
    springs.restitution_at_return: {"ratio": 0.1},
    springs.damping_for_restitution: {"wanted": 0.6, "mass": 1e-3, "stiffness": 1e6},
    springs.contact_time: {"mass": 1e-3, "stiffness": 1e6, "damping": 5.4},
    springs.gap_pull: {"flux_density": 1.0, "area": 1e-4},
    springs.pull_constant: {"turns": 75.0, "area": 1e-4},
    springs.coil_pull: {"constant": 1.16e-7, "current": 5.1, "gap": 0.9e-3},
    springs.current_for_pull: {"constant": 1.16e-7, "force": 3.7, "gap": 0.9e-3},
    condenser.self_discharge: {"first_voltage": 9.0, "last_voltage": 4.0, "seconds": 3.0, "capacity": 0.47e-6,
                               "meter_resistance": 10e6,
                               "voltage_uncertainty": 0.01, "seconds_uncertainty": 0.1, "capacity_uncertainty": 5e-9},
    condenser.voltage_left: {"first_voltage": 9.0, "seconds": 3.0, "capacity": 0.47e-6, "leakage_resistance": 10e6},
    condenser.half_time: {"capacity": 0.47e-6, "leakage_resistance": 10e6},
    condenser.parallel: {"first": 1e6, "second": 2e6},
    condenser.preferred_value: {"value": 0.45, "series": "E6"},
    condenser.insulation_resistance: {"capacity": 0.47e-6, "dielectric": "polyester", "temperature": 25.0},
    condenser.apparent_capacity: {"capacity": 0.47e-6, "leakage_resistance": 1e6, "frequency": 1000.0,
                                  "series_inductance": 2.6e-3, "series_resistance": 0.42},
    condenser.meter_with_contacts: {"capacity": 0.47e-6, "leakage_resistance": 1e6, "frequency": 1000.0, "contacts_open": False,
                                    "contact_resistance": 0.03},
    condenser.stored_energy: {"capacity": 0.47e-6, "voltage": 300.0},
    condenser.arc_free_speed: {"current": 5.1, "capacity": 0.45e-6},
    condenser.arc_margin: {"current": 5.1, "capacity": 0.45e-6, "speed": 0.4},
    condenser.ring_peak: {"current": 4.0, "inductance": 4e-3, "capacity": 0.47e-6},
    condenser.ring_frequency: {"inductance": 4e-3, "capacity": 0.47e-6},
    condenser.available_voltage: BREAK,
    condenser.two_modes: {**BREAK, "coupling": 0.93},
    condenser.two_winding_peak: {**BREAK, "coupling": 0.93, "seconds": 1e-3},
    timing.electrical_frequency: {"rpm": 750.0, "pole_pairs": 8},
    timing.pulse_angle: {"pole_pairs": 8},
    timing.pulse_duration: {"rpm": 750.0, "pole_pairs": 8},
    timing.angle_of_time: {"seconds": 2e-3, "rpm": 450.0},
    timing.time_of_angle: {"degrees": 11.0, "rpm": 450.0},
    timing.pulse_number: {"degrees": 100.0, "pole_pairs": 8},
    timing.angle_in_pulse: {"degrees": 100.0, "pole_pairs": 8},
    timing.timer_to_crank: {"timer_degrees": 45.0},
    timing.crank_to_timer: {"crank_degrees": 90.0},
    timing.timer_windows: {"start": 10.0, "width": 40.0, "cylinders": 4},
    timing.spark_angles: {"start": 10.0, "width": 40.0, "opening_angle": 11.0, "pole_pairs": 8},
    timing.firing_angle: {"start": 10.0, "opening_angle": 11.0, "pole_pairs": 8},
    timing.firing_jump: {"pole_pairs": 8},
    timing.crank_scatter: {"time_scatter": 1e-4, "rpm": 450.0},
    timing.mean_and_scatter: {"angles": [1.0, 2.0]},
    closed_forms.rl_rise: {"voltage": 12.0, "resistance": 6.0, "inductance": 0.03, "time": 2e-3},
    closed_forms.rl_decay: {"current": 10.0, "resistance": 3.0, "inductance": 7.5e-3, "time": 5e-3},
    closed_forms.rc_charge: {"voltage": 12.0, "resistance": 8e5, "capacity": 5e-6, "time": 4.0},
    closed_forms.time_to_fraction: {"fraction": 0.5},
    closed_forms.series_impedance: {"resistance": 40.0, "inductance": 3e-3, "capacity": 5e-6, "frequency": 60.0},
    closed_forms.resonance: {"inductance": 3e-3, "capacity": 5e-6},
    closed_forms.magneto_current: {"flux_linkage": 0.03, "resistance": 0.7, "inductance": 4.3e-3, "frequency": 60.0},
    closed_forms.air_density: {"pressure": 101_325.0, "temperature": 20.0},
    closed_forms.uniform_field_breakdown: {"gap": 1e-3, "pressure": 101_325.0, "temperature": 20.0},
    closed_forms.paschen: {"product": 76.0, **TOWNSEND},
    closed_forms.paschen_minimum: TOWNSEND,
    closed_forms.melting_voltage: {"melting_point": 1000.0, "ambient": 20.0},
    closed_forms.ayrton_arc: {"current": 10.0, "length": 2e-3, "a": 38.88, "b": 2.074, "c": 11.66, "d": 10.54},
    closed_forms.rectifier_reading: {"rectified_mean": 1.8},
    closed_forms.bounce_time: {"drop_time": 0.5, "restitution": 0.7},
    closed_forms.nth_bounce_time: {"drop_time": 0.5, "restitution": 0.7, "bounce": 3},
}
MODULES = (checks, winding, springs, condenser, timing, closed_forms)
# Values that mean something where they stand: an infinite meter, a missing span.
ALLOWED = {(condenser.self_discharge, "meter_resistance", math.inf), (condenser.parallel, "first", math.inf),
           (condenser.parallel, "second", math.inf), (closed_forms.series_impedance, "capacity", math.inf),
           (condenser.two_winding_peak, "seconds", None)}
NUMBERS = [(function, name) for function, good in GOOD.items() for name, value in good.items() if type(value) in (int, float)]
NUMBER_NAMES = [f"{function.__name__}-{name}" for function, name in NUMBERS]
BAD = (math.nan, math.inf, -math.inf, True, False, "3", None, [1.0], 1j, 10**400, 1e300, -1e300)


def public(module) -> list:
    return [thing for name, thing in vars(module).items()
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_")]


def test_every_public_function_is_here_and_has_a_whole_docstring() -> None:
    for module in MODULES:
        for function in public(module):
            assert function in GOOD, f"{module.__name__}.{function.__name__} has no valid call in GOOD"
            text = inspect.getdoc(function) or ""
            assert "ValueError" in text, f"{function.__name__} does not say what it raises"


@pytest.mark.parametrize("function", [f for f in GOOD if GOOD[f]], ids=lambda f: f.__name__)
def test_the_valid_call_is_valid_and_finite(function) -> None:
    assert set(GOOD[function]) == set(inspect.signature(function).parameters), "the valid call leaves a parameter out"
    assert all(math.isfinite(number) for number in flat(function(**GOOD[function])))


def flat(result) -> list[float]:
    if isinstance(result, bool):
        return []
    if isinstance(result, (int, float)):
        return [float(result)]
    if isinstance(result, (list, tuple)):
        return [number for part in result for number in flat(part)]
    assert dataclasses.is_dataclass(result)
    return flat([getattr(result, item.name) for item in dataclasses.fields(result)])


@pytest.mark.parametrize(("function", "name"), NUMBERS, ids=NUMBER_NAMES)
def test_bad_input_is_refused_in_one_sentence(function, name: str) -> None:
    for bad in BAD:
        if any(function is f and name == n and (bad is v or bad == v) for f, n, v in ALLOWED):
            continue
        with pytest.raises(ValueError, match=r"from|outside|whole") as caught:
            function(**{**GOOD[function], name: bad})
        text = str(caught.value)
        assert "\n" not in text
        assert text.endswith(".")
        assert ": " in text, text


# Limits that another argument sets: what they are for the valid call above, and the words that the docstring has for them.
MOVING = {
    (winding.wheeler_multilayer, "build"): ("1e-06", "0.05", "at most the mean diameter"),
    (winding.open_core_inductance, "coil_diameter"): ("0.013", "10", "the coil being no narrower and no longer than the core"),
    (winding.open_core_inductance, "coil_length"): ("0.0001", "0.13", "the coil being no narrower and no longer than the core"),
    (winding.coupling_from_leakage, "leakage"): ("0", "0.0026", "0 to just under primary_inductance"),
    (winding.coil_from_winding, "secondary_length"): ("0.0001", "0.135", "no longer than the core"),
    (springs.root_stress, "deflection"): ("-0.008", "0.008", "at most a fifth of the leaf's length either way"),
    (springs.tip_frequency, "tip_mass"): ("0", "1.884", "0 to 1000 times the leaf's"),
    (condenser.self_discharge, "last_voltage"): ("1e-06", "9", "the last under the first"),
    (condenser.self_discharge, "voltage_uncertainty"): ("0", "9", "standard deviations, V, s, F, from 0 up"),
    (condenser.self_discharge, "seconds_uncertainty"): ("0", "3", "standard deviations, V, s, F, from 0 up"),
    (condenser.self_discharge, "capacity_uncertainty"): ("0", "4.7e-07", "standard deviations, V, s, F, from 0 up"),
    (condenser.two_winding_peak, "seconds"): ("1e-09", "0.124593", "at most 2000 fast swings"),
    (timing.timer_windows, "width"): ("0.1", "180", "0.1 up to the spacing"),
    (timing.spark_angles, "opening_angle"): ("0", "22.5", "0 to 180 / pole_pairs degrees"),
    (timing.firing_angle, "opening_angle"): ("0", "22.5", "0 to 180 / pole_pairs degrees"),
    (closed_forms.paschen, "product"): ("0.307675", "100000", "the pole where the law ends (0.308 with these coefficients)"),
    (closed_forms.melting_voltage, "melting_point"): ("20", "4000", "-100 to 4000, the first above the second"),
}
NUMBER = r"(?<![\w.])-?\d[\d,]*\.?\d*(?:e[-+]?\d+)?(?![\w])"


def normal(text: str) -> str:
    """Text with every number written in one way, and ranges too: "1 up to 1e6" reads "1 to 1e+06"."""
    told = re.sub(NUMBER, lambda found: f"{float(found.group().replace(',', '')):g}", " ".join(text.split()))
    return re.sub(r" (up|to under|up to) to ", " to ", told)


def told_of(function) -> str:
    """The docstring of a function with those of its module's functions that it names in backquotes, to any depth."""
    module, seen, text = inspect.getmodule(function), [function], ""
    for one in seen:
        text += " " + (inspect.getdoc(one) or "")
        named = [getattr(module, name, None) for name in re.findall(r"`(\w+)`", inspect.getdoc(one) or "")]
        seen += [other for other in named if inspect.isfunction(other) and other not in seen]
    return normal(text)


@pytest.mark.parametrize(("function", "name"), NUMBERS, ids=NUMBER_NAMES)
def test_the_range_that_is_told_is_the_range_that_is_allowed(function, name: str) -> None:
    for absurd in (1e300, -1e300):
        with pytest.raises(ValueError, match=" outside ") as caught:
            function(**{**GOOD[function], name: absurd})
        low, high = re.search(r" outside (\S+) to (\S+?)(?: |\.$)", str(caught.value)).groups()
        least, most, words = MOVING.get((function, name), (low, high, f"{low} to {high}"))
        assert (low, high) == (least, most)
        assert normal(words) in told_of(function), f"{function.__name__}, {name}: {low} to {high}"


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


def test_a_bad_leaf_is_refused() -> None:
    good = {"length": 0.04, "width": 0.01, "thickness": 0.0006, "modulus": 206e9, "density": 7850.0}
    for name in good:
        for bad in BAD:
            with pytest.raises(ValueError, match=r"from|outside"):
                springs.Leaf(**{**good, name: bad})


@pytest.mark.parametrize("bad", ["E7", 6, None, ["E6"]])
def test_words_that_are_not_known_are_refused(bad) -> None:
    with pytest.raises(ValueError, match="is not one of E6, E12, E24"):
        condenser.preferred_value(1.0, bad)
    with pytest.raises(ValueError, match="is not one of polyester, polypropylene"):
        condenser.insulation_resistance(1e-6, bad)
    with pytest.raises(ValueError, match="is not True or False"):
        condenser.meter_with_contacts(1e-6, 1e6, 1000.0, bad)
    with pytest.raises(ValueError, match="angle"):
        timing.mean_and_scatter(bad)


def test_shapes_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="holds no turn"):
        winding.layer_winding(10, 1e-3, 0.9e-3, 0.01)
    with pytest.raises(ValueError, match="must clear the primary"):
        winding.leakage_inductance(SECONDARY, PRIMARY)
    with pytest.raises(ValueError, match="does not belong"):
        winding.elliptic_integrals(0.6, 0.7)
    with pytest.raises(ValueError, match="coil length"):
        winding.open_core_inductance(100, 0.02, 0.11, 0.02, 0.1)
    with pytest.raises(ValueError, match="last voltage"):
        condenser.self_discharge(5.0, 5.0, 3.0, 1e-6)


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
