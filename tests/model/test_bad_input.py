"""A wrong number never gets into the model: every field of every part, and every argument of `simulate`, says so in one sentence.

The sentence names the field, what was given, the unit and the range. The fields are found from the dataclasses themselves, so
a new one is tested the day it is written.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import fields
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coilmodel import (
    BatteryDrive,
    Coil,
    Condenser,
    Contacts,
    Cushion,
    Machine,
    Magneto,
    MagnetoDrive,
    Scatter,
    SparkGap,
    TimerDrive,
    TransformerDrive,
    Vibrator,
    simulate,
)
from coilmodel import machine as machine_module
from coilmodel.readings import in_words, read

PARTS = (Magneto, Coil, Condenser, Contacts, SparkGap, Vibrator, Cushion)
DRIVES = (MagnetoDrive, TimerDrive, BatteryDrive, TransformerDrive)
NUMBERS = [pytest.param(kind, item, id=f"{kind.__name__}.{item.name}")
           for kind in (*PARTS, *DRIVES, Scatter) for item in fields(kind) if "unit" in item.metadata]
NOT_NUMBERS: tuple[Any, ...] = ("12", "", None, True, False, 1j, [1.0], (1.0,), {}, b"1", object(), Decimal("1"), float)
NOT_FINITE = (math.nan, math.inf, -math.inf, 10**400, -(10**400))


def part_of(kind: Any) -> str:
    """Return the first word of a number's address: how the machine calls its part, or the drive's own name."""
    return "gap" if kind is SparkGap else str(kind.__name__.lower())


def refusal(call: Any, *arguments: Any, **named: Any) -> str:
    """Return the sentence with which a call refuses; fails where it does not, or with any error but ValueError."""
    with pytest.raises(ValueError, match=r"^[\w.]+( first| last)?: ") as caught:
        call(*arguments, **named)
    assert type(caught.value) is ValueError
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def taken_or_refused(kind: Any, name: str, value: object) -> tuple[float | None, str]:
    """Return (the number that the part holds, "") or (None, the sentence with which it refused)."""
    try:
        return getattr(kind(**{name: value}), name), ""
    except ValueError as error:
        return None, str(error)


def test_every_dataclass_of_the_model_is_tried_here() -> None:
    base = machine_module._Checked
    kinds = {kind for kind in vars(machine_module).values() if isinstance(kind, type) and issubclass(kind, base)}
    assert kinds - {base} == {*PARTS, *DRIVES, Scatter}


def test_every_field_is_a_checked_number_or_is_tried_by_name() -> None:
    every = [(kind.__name__, item) for kind in (*PARTS, *DRIVES) for item in fields(kind)]
    others = {f"{name}.{item.name}" for name, item in every if "unit" not in item.metadata}
    assert others == {"Magneto.pole_pairs"}


@pytest.mark.parametrize(("kind", "item"), NUMBERS)
def test_a_number_out_of_range_is_refused_with_field_value_unit_and_range(kind: Any, item: Any) -> None:
    unit, low, high = item.metadata["unit"], item.metadata["low"], item.metadata["high"]
    width = high - low
    for wrong in (math.nextafter(low, -math.inf), low - width, math.nextafter(high, math.inf), high + width, 1e300, -1e300):
        sentence = refusal(kind, **{item.name: wrong})
        assert sentence.startswith(f"{part_of(kind)}.{item.name}: ")
        assert f"{wrong:g}" in sentence or repr(wrong) in sentence
        assert f"{low:g} to {high:g}" in sentence
        assert unit == "1" or f" {unit}" in sentence


@pytest.mark.parametrize(("kind", "item"), NUMBERS)
def test_what_is_not_a_finite_number_is_refused(kind: Any, item: Any) -> None:
    unit, low, high = item.metadata["unit"], item.metadata["low"], item.metadata["high"]
    for wrong in (*NOT_NUMBERS, *NOT_FINITE):
        sentence = refusal(kind, **{item.name: wrong})
        assert sentence.startswith(f"{part_of(kind)}.{item.name}: ")
        assert f"{low:g} to {high:g}" in sentence
        assert unit == "1" or f" {unit}" in sentence
    assert "nan" in refusal(kind, **{item.name: math.nan})
    assert "'12'" in refusal(kind, **{item.name: "12"})


@pytest.mark.parametrize(("kind", "item"), NUMBERS)
def test_both_ends_of_the_range_are_allowed(kind: Any, item: Any) -> None:
    """What the sentence calls allowed is allowed; only a rule between two fields may still object, and then says which."""
    for right in (item.metadata["low"], item.metadata["high"]):
        taken, sentence = taken_or_refused(kind, item.name, right)
        assert taken == right or sentence.split(":")[0] in ("coil.pull_constant", "gap.burn")
        assert "outside" not in sentence


@pytest.mark.parametrize(("kind", "item"), NUMBERS)
def test_any_kind_of_real_number_will_do(kind: Any, item: Any) -> None:
    numpy = pytest.importorskip("numpy")
    usual = getattr(kind(), item.name)
    for same in (numpy.float64(usual), Fraction(usual), *([int(usual)] if usual == int(usual) else [])):
        taken = getattr(kind(**{item.name: same}), item.name)
        assert taken == usual
        assert type(taken) is float


@pytest.mark.parametrize("wrong", [0, -1, 33, 8.5, math.nan, math.inf, "8", None, True, [8]])
def test_pole_pairs_are_a_whole_number(wrong: Any) -> None:
    sentence = refusal(Magneto, pole_pairs=wrong)
    assert sentence.startswith("magneto.pole_pairs: ")
    assert repr(wrong) in sentence
    assert "1 to 32" in sentence


def test_rules_between_two_fields_say_both() -> None:
    assert "breakdown" in refusal(SparkGap, breakdown=800.0, burn=900.0)
    assert "inductance" in refusal(Coil, pull_constant=1e-5, magnetic_gap=1e-4)
    stop = refusal(lambda: Machine(vibrator=Vibrator(stop=0.9e-3), coil=Coil(magnetic_gap=1e-3)))
    assert stop.startswith("vibrator.stop: 0.9 mm")
    assert "0.8 mm" in stop


@pytest.mark.parametrize("name", [item.name for item in fields(Machine)])
@pytest.mark.parametrize("wrong", [None, 1.0, "coil", Machine, {}])
def test_a_part_of_the_wrong_kind_is_refused(name: str, wrong: Any) -> None:
    assert refusal(Machine, **{name: wrong}).startswith(f"machine.{name}: ")


def test_a_part_in_the_wrong_place_is_refused() -> None:
    made = {item.name: getattr(Machine(), item.name) for item in fields(Machine)}
    for name, other in itertools.permutations(made, 2):
        assert refusal(Machine, **{name: made[other]}).startswith(f"machine.{name}: ")


def test_changes_are_checked_like_the_first_numbers() -> None:
    machine = Machine()
    assert refusal(machine.but, cushion={"preload": math.nan}).startswith("cushion.preload: ")
    assert refusal(machine.but, cushion={"preload": 1e6}).startswith("cushion.preload: ")
    assert "there is no field named 'colour'" in refusal(machine.but, cushion={"colour": 1.0})
    assert "there is no part named 'wheel'" in refusal(machine.but, wheel={"mass": 1.0})
    for wrong in (math.nan, math.inf, "2", None, -1.0):
        assert refusal(machine.scaled, cushion_preload=wrong).startswith("cushion_preload: ")
    assert refusal(machine.scaled, cushion_preload=500.0).startswith("cushion.preload: ")
    assert "there is no number named" in refusal(machine.scaled, cushion_colour=1.0)


# --------------------------------------------------------------------------------------------- arguments of simulate
COUNTS = {"pulses": (1, 100_000), "warm_up": (0, 10_000), "rows_a_pulse": (10, 100_000)}


@pytest.mark.parametrize("name", COUNTS)
def test_counts_of_simulate(name: str) -> None:
    low, high = COUNTS[name]
    for wrong in (low - 1, high + 1, low + 0.5, -(10**6), 10**12, *NOT_NUMBERS, *NOT_FINITE):
        sentence = refusal(simulate, Machine(), MagnetoDrive(), **{name: wrong})
        assert sentence.startswith(f"{name}: ")
        assert f"{low:g} to {high:g}" in sentence


def test_step_of_simulate() -> None:
    for wrong in (0.0, 0.0199, 2.001, -1.0, *NOT_NUMBERS, *NOT_FINITE):
        sentence = refusal(simulate, Machine(), MagnetoDrive(), pulses=1, warm_up=0, step=wrong)
        assert sentence.startswith("step: ")
        assert "0.02 to 2" in sentence


def test_prescribed_opening_of_simulate() -> None:
    for wrong in (0.0, -1e-3, 1.0, *(other for other in NOT_NUMBERS if other is not None), *NOT_FINITE):
        sentence = refusal(simulate, Machine(), MagnetoDrive(), pulses=1, warm_up=0, prescribed_opening=wrong)
        assert sentence.startswith("prescribed_opening: ")
        assert sentence.endswith(" s.")


@pytest.mark.parametrize("wrong", [(-1, 0), (0, 2), (2, 2), (0.5, 1), (math.nan, 1), (0, math.inf), ("0", 1), (None, 1),
                                   (True, 1), (1, 0), (0,), (0, 1, 1), 1, "01", True, ()])
def test_record_of_simulate(wrong: Any) -> None:
    assert refusal(simulate, Machine(), MagnetoDrive(), pulses=2, warm_up=0, record=wrong).startswith("record")


def test_a_recording_that_no_memory_holds_is_refused() -> None:
    sentence = refusal(simulate, Machine(), MagnetoDrive(), pulses=100_000, record=(0, 99_999), rows_a_pulse=100_000)
    assert sentence.startswith("record")


@pytest.mark.parametrize("wrong", [None, 1.0, "machine", Machine, Coil(), MagnetoDrive()])
def test_machine_of_simulate(wrong: Any) -> None:
    assert refusal(simulate, wrong, MagnetoDrive()).startswith("machine: ")


@pytest.mark.parametrize("wrong", [None, 450.0, "magneto", MagnetoDrive, Magneto(), Machine()])
def test_drive_of_simulate(wrong: Any) -> None:
    assert refusal(simulate, Machine(), wrong).startswith("drive: ")


ANYTHING = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.complex_numbers(),
                     st.lists(st.integers(), max_size=2), st.binary(max_size=3), st.decimals(), st.fractions())


@given(place=st.integers(0, len(NUMBERS) - 1), value=ANYTHING)
@settings(max_examples=500, deadline=None)
def test_anything_at_all_is_either_a_number_in_range_or_refused(place: int, value: Any) -> None:
    kind, item = NUMBERS[place].values
    assert isinstance(item.metadata["low"], (int, float))
    taken, sentence = taken_or_refused(kind, item.name, value)
    if taken is None:
        assert "\n" not in sentence
        assert sentence.split(":")[0].startswith(part_of(kind) + ".")
    else:
        assert type(taken) is float
        assert item.metadata["low"] <= taken <= item.metadata["high"]
        assert not isinstance(value, (bool, str, bytes))


@pytest.mark.parametrize("wrong", [0, -1, 2147483647, 1.5, math.nan, "8", None, True])
def test_a_seed_is_a_whole_number(wrong: Any) -> None:
    sentence = refusal(Scatter, seed=wrong)
    assert sentence.startswith("scatter.seed: ")
    assert repr(wrong) in sentence
    assert "1 to 2147483646" in sentence


# --------------------------------------------------------------------- valid machines that do nothing, said in words
def test_contacts_that_never_close_are_said_in_words() -> None:
    """A vibrator bent away from the cushion: a valid machine, in which no current flows."""
    for drive in (kind() for kind in DRIVES):
        run = simulate(Machine().but(vibrator={"preload": -1.0}), drive, pulses=3, warm_up=0)
        assert "never close" in in_words(run)
        assert read(run).none == 1.0
        assert run.openings == ()
        assert run.meter.peak < 0.5


def test_contacts_that_never_open_are_said_in_words() -> None:
    """Springs that no pull of this coil overcomes, and a magneto turned too slowly: valid machines, in which nothing fires."""
    stiff = Machine().but(vibrator={"preload": 20.0})
    weak = MagnetoDrive(drive=0.1)
    for machine, drive in ((stiff, MagnetoDrive()), (stiff, TimerDrive()), (stiff, TransformerDrive(volts=3.0)),
                           (stiff, BatteryDrive(volts=1.0)), (Machine(), weak), (Machine(), BatteryDrive(volts=0.0))):
        run = simulate(machine, drive, pulses=3, warm_up=0)
        words = in_words(run)
        assert "never open" in words
        assert f"{run.meter.peak:.1f} A" in words
        assert read(run).none == 1.0
        assert read(run).opening_current.mean is None
        assert not any(opening.real for opening in run.openings)
