"""Bad input to the geometry modules, and that what a docstring promises of ranges is what the code allows. A second or two."""

from __future__ import annotations

import inspect
import math
import re

import pytest

from coilmodel import closed_forms, condenser, springs, timing, winding

from .valid_calls import ALLOWED, GOOD, MODULES, NUMBER_NAMES, NUMBERS, PRIMARY, SECONDARY, flat

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
