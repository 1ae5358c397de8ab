"""What the five kinds have in common, on small made-up questions: reading answers, recognising beliefs, part of the mark."""

from __future__ import annotations

import hashlib
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.contracts import Choice, Control, Misconception
from lessons.exercises import kinds, units
from lessons.exercises.kinds import Case, Draw, NotAnAnswer, Trial, seed_of

CURRENT = kinds.number_exercise(
    "01-current", 1, "A current", variant=lambda draw: {"x": draw.between(2.0, 6.0, 0.5)}, prompt="How much?",
    truth=lambda of: of["x"], unit="A", units=("A", "mA"), tolerance=0.03, right="", look="Look at the strip.",
    misconceptions=(Misconception("square", lambda of: of["x"] ** 2, "That goes with the square."),))
COUNT = kinds.number_exercise(
    "01-count", 1, "A count", variant=lambda draw: {}, prompt="How many?", truth=lambda of: 40.0, unit="1", tolerance=0.0,
    whole=True, right="", look="Count again.")
MAYBE = kinds.choice_exercise(
    "01-choice", 1, "A choice", variant=lambda draw: {}, prompt="Which?",
    options=(("a", "This"), ("b", "That"), ("c", "Neither")),
    truth=lambda of: "b", right="", look="Look.", misconceptions=(Misconception("x", lambda of: "a", "Not this."),))
ORDER = kinds.ordering_exercise(
    "01-order", 1, "An order", variant=lambda draw: {}, prompt="Order.", items=[(k, k.upper()) for k in "abcd"],
    truth=lambda of: "abcd", right="", look="Look.",
    misconceptions=(Misconception("back", lambda of: "dcba", "Backwards."),))
KNOB, MODE = Control("knob", "Knob", "N", 0.0, 2.0, 0.1, 1.0, "why"), Choice("mode", "Mode", (("on", "On"), ("off", "Off")), "on",
                                                                             "why")
SLIDE = kinds.sliders_exercise(
    "01-slide", 1, "Sliders", variant=lambda draw: {}, prompt="Set.", panel="any", controls=(KNOB, MODE),
    check=lambda values, of: [Trial(values["knob"] > limit, f"Too low for {limit}.") for limit in (0.55, 1.05, 1.55)],
    truth=lambda of: {"knob": 1.9, "mode": "on"}, right="",
    misconceptions=(Misconception("least", lambda of: {"knob": 0.0, "mode": "off"}, "Least is not best."),))
TWICE = kinds.function_exercise(
    "01-twice", 1, "Twice", variant=lambda draw: {}, prompt="Write.", name="twice",
    source="def twice(x):\n    #: blank double it\n    y = 2 * x\n    #: end\n    return y\n",
    cases=lambda of: [Case("x is two", [2.0], 4.0), Case("x is large", [50.0], 100.0), Case("x is negative", [-1.0], -2.0)],
    right="", look="Look.", misconceptions=(
        Misconception("square", lambda of: "def twice(x):\n    return x * x\n", "You squared it."),
        Misconception("absolute", lambda of: "def twice(x):\n    return 2 * abs(x)\n", "The sign went missing.")))
EVERY = (CURRENT, COUNT, MAYBE, ORDER, SLIDE, TWICE)


# -------------------------------------------------------------------------------------------------------- seeds
def test_seeds_are_the_same_everywhere() -> None:
    """SHA-256 of nickname, newline, key: written out here once more, from the standard alone."""
    assert seed_of("Robin", "05-x") == int(hashlib.sha256(b"robin\n05-x").hexdigest()[:12], 16)
    assert seed_of("  ROBIN ", "05-x") == seed_of("robin", "05-x") != seed_of("robin", "05-y")
    assert seed_of("Zoe\u0308", "05-x") == seed_of("Zo\u00eb", "05-x"), "the same name typed on another keyboard"


def test_draws_use_the_one_sequence_that_python_promises() -> None:
    draw, plain = Draw(12345), random.Random(12345)
    assert draw.pick("abcdef") == "abcdef"[int(plain.random() * 6)]
    assert draw.between(1.0, 2.0, 0.1) == round(1.0 + 0.1 * int(plain.random() * 11), 9)
    assert sorted(draw.shuffled(range(10))) == list(range(10))


@given(st.integers(0, 2**48), st.floats(-5, 5), st.integers(1, 50))
def test_between_stays_between(seed: int, low: float, steps: int) -> None:
    high = low + 0.1 * steps
    value = Draw(seed).between(low, high, 0.1)
    assert low - 1e-8 <= value <= high + 1e-8


def test_variants_reach_both_ends() -> None:
    assert {CURRENT.variant(seed)["x"] for seed in range(200)} == {2.0 + 0.5 * i for i in range(9)}


# ------------------------------------------------------------------------------------------------------ numbers
@pytest.mark.parametrize("answer", [
    5, 5.0, "5", "5.0", "5,0", " 5 ", "+5", "5e0", "5A", "5 A", "5000 mA", "5 amps", "5\u00a0A", {"value": "5", "unit": "A"},
    {"value": 5},
    {"value": "5000", "unit": "mA"}, {"value": "5 000", "unit": "mA"}, {"value": "5 A", "unit": "A"}, {"value": "4,9"}, "5.1",
])
def test_numbers_that_are_right(answer: object) -> None:
    assert CURRENT.judge(answer, {"x": 5.0}).passed


@pytest.mark.parametrize(("answer", "says"), [
    ("", "No number"), (None, "No number"), ("five", "not a number"), ("1/2", "not a number"), (True, "not a number"),
    ([5], "not a number"), ("5" * 300, "not a number"), ("1,000.5", "single decimal point"), ("1.2.3", "single decimal point"),
    ("nan", "finite"), (float("nan"), "finite"), ("-inf", "finite"), ("1e999", "finite"), (10**400, "finite"),
    ({"value": "5", "unit": "V"}, "measures something else"), ("5 kV", "measures something else"),
    ({"value": "5", "unit": "furlong"}, "A or mA"), ({"value": "5", "unit": ""}, "Choose the unit"),
    ({"value": "5", "unit": None}, "Choose"),
    ({"value": "5", "unit": "uA"}, "A or mA"), ({"value": "5 mA", "unit": "A"}, "not the unit chosen"), ("e", "not a number"),
    (",", "not a number"),
])
def test_numbers_that_cannot_be_read(answer: object, says: str) -> None:
    verdict = CURRENT.judge(answer, {"x": 5.0})
    assert isinstance(verdict, NotAnAnswer)
    assert says in verdict.message


@pytest.mark.parametrize(("answer", "says"), [
    (5000, "thousand"), (0.005, "thousand"), (5e6, "million"), (10, "factor of two"), (2.5, "factor of two"), (-5, "sign"),
    (5.4, "Close"), (4.6, "Close"), (0, "That is not it"), (7, "That is not it"), (25, "square"), (25.5, "square"),
])
def test_numbers_that_are_wrong(answer: float, says: str) -> None:
    verdict = CURRENT.judge(answer, {"x": 5.0})
    assert not verdict.passed
    assert not isinstance(verdict, NotAnAnswer)
    assert says in verdict.message
    assert verdict.misconception == ("square" if says == "square" else None)


def test_counts() -> None:
    assert COUNT.judge("40", {}).passed
    assert COUNT.judge({"value": "40", "unit": ""}, {}).passed
    assert "whole number" in COUNT.judge("40.5", {}).message
    assert "without a unit" in COUNT.judge("40 A", {}).message
    assert "not the count" in COUNT.judge(80, {}).message


@given(st.floats(1e-3, 1e3),
       st.sampled_from([("A", "mA"), ("V", "kV"), ("s", "us"), ("mm", "um"), ("uF", "nF"), ("J", "mJ"), ("m", "mm")]))
def test_conversion_there_and_back(value: float, pair: tuple[str, str]) -> None:
    there = units.convert(value, *pair)
    assert there is not None
    assert units.convert(there, *pair[::-1]) == pytest.approx(value, rel=1e-12)


def test_conversions_by_hand() -> None:
    assert units.convert(1.0, "rad", "degrees") == pytest.approx(180.0 / math.pi)
    assert units.convert(0.47, "uF", "nF") == pytest.approx(470.0)
    assert units.convert(3.1, "N/mm", "N/m") == pytest.approx(3100.0)
    assert units.convert(1.0, "ohm", "V") is None
    assert [units.known(text) for text in ("µF", "μF", "°", "kΩ", "%", "", "stone")] == ["uF", "uF", "degrees", "kohm", "percent",
                                                                                         "1", None]


# ------------------------------------------------------------------------------------- choices, orders, sliders
def test_choices() -> None:
    of = MAYBE.variant(7)
    assert MAYBE.judge("b", of).passed
    assert MAYBE.judge("a", of).misconception == "x"
    assert MAYBE.judge("c", of).message == "Look."
    for junk in ("", None, "B", "This", 1, ["b"], {"key": "b"}):
        assert isinstance(MAYBE.judge(junk, of), NotAnAnswer)
    shuffled = {tuple(option["key"] for option in MAYBE.form(MAYBE.variant(seed))["options"]) for seed in range(60)}
    assert len(shuffled) == 6


def test_orders() -> None:
    of = ORDER.variant(7)
    assert ORDER.judge(list("abcd"), of).passed
    assert ORDER.judge(tuple("abcd"), of).passed
    assert ORDER.judge(list("dcba"), of).misconception == "back"
    one_off = ORDER.judge(list("abdc"), of)
    assert one_off.score == pytest.approx(5 / 6)
    assert "most pairs" in one_off.message
    for junk, says in ((list("abc"), "missing"), (list("abca"), "more than once"), (list("abcx"), "not among"),
                       ("abcd", "not a list"),
                       ([1, 2, 3, 4], "not a list"), ([], "Nothing"), ([["a"]], "not a list")):
        verdict = ORDER.judge(junk, of)
        assert isinstance(verdict, NotAnAnswer)
        assert says in verdict.message
    assert all([item["key"] for item in ORDER.form(ORDER.variant(seed))["items"]] != list("abcd") for seed in range(100))


@given(st.permutations(range(6)), st.permutations(range(6)))
def test_concordance_is_kendalls(order: list[int], expected: list[int]) -> None:
    stats = pytest.importorskip("scipy.stats")
    ranks = [[names.index(i) for i in range(6)] for names in (order, expected)]
    share = kinds.concordance([str(i) for i in order], [str(i) for i in expected])
    assert 2.0 * share - 1.0 == pytest.approx(stats.kendalltau(*ranks).statistic)


def test_sliders() -> None:
    assert SLIDE.judge({"knob": 1.8, "mode": "off"}, {}).passed
    assert SLIDE.judge({"knob": "1,8", "mode": "on"}, {}).passed
    partly = SLIDE.judge({"knob": 1.2, "mode": "on"}, {})
    assert partly.score == pytest.approx(2 / 3)
    assert partly.message == "Met at two of the three hidden settings. Too low for 1.55."
    assert SLIDE.judge({"knob": 0.1, "mode": "off"}, {}).misconception == "least"
    for junk, says in (({"knob": 1.8}, "Mode is missing"), ({"knob": 3.0, "mode": "on"}, "from 0 to 2 N"),
                       ({"knob": 1.0, "mode": "up"}, "offered"),
                       ({"knob": "x", "mode": "on"}, "Knob: that is not a number"),
                       ({"knob": math.nan, "mode": "on"}, "out of range"),
                       ({"knob": 1.0, "mode": "on", "z": 1}, "does not belong"), ([1], "no slider settings"), ({}, "No slider"),
                       ({"knob": 1.0, "mode": ["on"]}, "offered")):
        verdict = SLIDE.judge(junk, {})
        assert isinstance(verdict, NotAnAnswer)
        assert says in verdict.message
    assert SLIDE.form({})["start"] == {"knob": 1.0, "mode": "on"}


# ---------------------------------------------------------------------------------------------------- functions
@pytest.mark.parametrize(("source", "says"), [
    ("def twice(x):\n    return x + 2", "one of the three hidden cases; wrong in the one where x is large"),
    ("def twice(x):\n    return x * x", "You squared it."), ("def twice(x):\n    return abs(2 * x)", "The sign went missing."),
    ("def twice(x):\n    return", "returned nothing"), ("def twice(x):\n    return 'a'", "should return a number"),
    ("def twice(x):\n    return True", "should return a number"), ("def twice(x):\n    return 1e308 * 1e308", "not a finite"),
    ("def twice(x):\n    return 10 ** 400", "not a finite"), ("def twice(x):\n    return (", "Line 2: Python cannot read"),
    ("def thrice(x):\n    return 1", "no function named twice"), ("twice = 3", "no function named twice"),
    ("def twice(x, y):\n    return 1", "does not take"), ("def twice(x):\n    return 1 / 0", "Line 2: ZeroDivisionError"),
    ("def twice(x):\n    while True:\n        pass", "Line 2: it takes too long"),
    ("x" * 9000, "too long for one small function"),
])
def test_functions_that_are_wrong(source: str, says: str) -> None:
    verdict = TWICE.judge(source, {})
    assert not verdict.passed
    assert not isinstance(verdict, NotAnAnswer)
    assert says in verdict.message


def test_functions() -> None:
    assert TWICE.truth({}) == "def twice(x):\n    y = 2 * x\n    return y\n"
    assert TWICE.form({})["stub"] == "def twice(x):\n    ...  # double it\n    return y\n"
    assert TWICE.judge("import math\ndef twice(x: float, n: int = 2) -> float:\n    return math.fsum([x] * n)\n", {}).passed
    for junk, says in (("", "no code"), (None, "no code"), (3, "not the text"),
                       (TWICE.form({})["stub"], "Line 2 is still a blank")):
        verdict = TWICE.judge(junk, {})
        assert isinstance(verdict, NotAnAnswer)
        assert says in verdict.message


# --------------------------------------------------------------------------------------------- never an exception
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.sampled_from(["a", "b", "A", "mA", "5",
                                                                                                      "knob", "mode"]),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.sampled_from(["value", "unit", "knob", "mode", "x"]), inner,
                                                                max_size=4),
    max_leaves=8)


@settings(max_examples=300, deadline=None)
@given(JSON, st.integers(0, 2**48), st.sampled_from(EVERY))
def test_no_answer_makes_a_judge_raise(answer: object, seed: int, exercise: object) -> None:
    verdict = exercise.judge(answer, exercise.variant(seed))
    assert verdict.message.endswith(".")
    assert "\n" not in verdict.message
    assert verdict.passed == (verdict.score == 1.0)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=30))
def test_no_text_makes_a_number_raise(text: str) -> None:
    for answer in (text, {"value": text, "unit": "A"}, {"value": "5", "unit": text}):
        assert CURRENT.judge(answer, {"x": 5.0}).message


@pytest.mark.parametrize("thing",
                         [object(), b"5", {1: 2}, {"value": object()}, {("a",): 1}, [object()], float, (), {"unit": {}},
                          range(3)])
def test_not_even_things_that_no_json_holds(thing: object) -> None:
    for exercise in EVERY:
        assert not exercise.judge(thing, exercise.variant(1)).passed


def test_truths_are_worked_out_once() -> None:
    asked = []
    truth = kinds.remembered(lambda of: asked.append(of) or len(asked), size=2)
    assert [truth({"a": 1}), truth({"a": 1}), truth({"a": 2}), truth({"a": 3}), truth({"a": 1})] == [1, 1, 2, 3, 4]
