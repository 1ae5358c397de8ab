"""Nobody passes wrongly: answers that need no thought, tried in every exercise there is, for a sample of learners.

The untouched start, every preset and every starting value of the panels of the lesson, all at its greatest and at its least, the
repair turned round, one control moved through its range with the others left alone, and answers drawn by lot. What a kind
allows by luck stands in LUCK; whatever is not drawn by lot must not pass at all.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from lessons.contents import LESSONS
from lessons.contracts import Control, Exercise, Panel
from lessons.exercises import EXERCISES, units
from lessons.exercises.kinds import seed_of
from lessons.exercises.setting_up import LOOK_FOR
from lessons.panels import PANELS
from lessons.panels.workbench import BY_KEY, replay

from .bench_hand import HABITS, PARTS

LUCK = {
    "number": 0.05,  # of answers spread evenly over the logarithm of three decades about the truth
    "ordering": 0.05,  # of orders drawn by lot: of four things one in twenty-four is right
    "sliders": 0.10,  # of settings drawn by lot
    "one slider": 0.25,  # the same where there is one slider only; moving it through its range is then no better than a lot
    "choice": 0.5,  # one in as many as there are options, which the tests count; two at the least
    "function": 0.0,
    "log": 0.3,  # of coils, to one list of lines, or to the looks in one fixed order with a repair wherever a look is off
}
"""The share of thoughtless answers that may pass, kind by kind."""
TRIED: set[str] = set()
"""The kinds that some test of this file tries."""

FOLDER = Path(__file__).parents[2] / "lessons"


def of_kind(*kinds: str) -> Any:
    TRIED.update(kinds)
    chosen = [exercise for exercise in EXERCISES.values() if exercise.kind in kinds]
    return pytest.mark.parametrize("exercise", chosen, ids=[exercise.key for exercise in chosen])


def variants(exercise: Exercise, count: int) -> list[dict[str, Any]]:
    return [exercise.variant(seed_of(f"someone {number}", exercise.key)) for number in range(count)]


@cache
def panels_of(lesson: int) -> tuple[Panel, ...]:
    """Return the panels that the lesson's notebook shows."""
    text = (FOLDER / next(one.file for one in LESSONS if one.number == lesson)).read_text()
    return tuple(PANELS[name] for name in dict.fromkeys(re.findall(r'(?<!\w)panel\(\\"(\w+)', text)))


# ----------------------------------------------------------------------------------------------------------- sliders
def controls_of(exercise: Exercise, variant: dict[str, Any]) -> list[Any]:
    form = exercise.form(variant)
    known = {control.symbol: control for control in PANELS[form["panel"]].controls}
    return [known[symbol] for symbol in form["controls"]]


def on_the_scale(control: Any, value: Any) -> Any:
    """Return a value that this control can have, nearest to `value`."""
    if not isinstance(control, Control):
        return value
    return round(min(control.high, max(control.low, value)), 9)


def ends_of(control: Any, high: bool) -> Any:
    if isinstance(control, Control):
        return control.high if high else control.low
    return control.options[-1 if high else 0][0]


def places_of(control: Any, count: int = 8) -> list[Any]:
    if isinstance(control, Control):
        return [round(control.low + (control.high - control.low) * n / (count - 1), 9) for n in range(count)]
    return [name for name, _ in control.options]


def opposite(control: Any, truth: Any, start: Any) -> list[Any]:
    """Return the repair turned round: as far from the start the other way, and as far from the usual value on the other side."""
    if not isinstance(control, Control):
        return [start, start]
    return [on_the_scale(control, 2.0 * start - truth), on_the_scale(control, 2.0 * control.default - truth)]


def copied(exercise: Exercise, controls: list[Any], start: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield what the lesson's panels show: their starting values and their presets', with the rest as found or as usual."""
    usual = {control.symbol: control.start for control in controls}
    yield "as the panel begins", usual
    for panel in panels_of(exercise.lesson):
        for preset in panel.presets:
            if any(symbol in preset.values for symbol in usual):
                for rest in (start, usual):
                    shown = {symbol: preset.values.get(symbol, rest[symbol]) for symbol in usual}
                    yield f"{panel.name}: {preset.label}", shown


def by_design(exercise: Exercise, controls: list[Any], variant: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield settings that somebody may try without a thought, each with what it is."""
    start, truth = exercise.form(variant)["start"], exercise.truth(variant)
    yield "untouched", start
    yield "all at the greatest", {control.symbol: ends_of(control, True) for control in controls}
    yield "all at the least", {control.symbol: ends_of(control, False) for control in controls}
    for place, words in enumerate(("the other way from the start", "the other way from the usual")):
        yield words, {c.symbol: opposite(c, truth[c.symbol], start[c.symbol])[place] for c in controls}
    yield from copied(exercise, controls, start)
    if len(controls) > 1:
        for control in controls:
            for value in places_of(control):
                yield f"{control.symbol} alone at {value}", {**start, control.symbol: value}


def scored(exercise: Exercise, variant: dict[str, Any]) -> list[str]:
    """Return what passed of all that must not."""
    passed, tried = [], set()
    for words, answer in by_design(exercise, controls_of(exercise, variant), variant):
        name = json.dumps(answer, sort_keys=True)
        if name not in tried:
            tried.add(name)
            if exercise.judge(answer, variant).passed:
                passed.append(f"{words}: {answer}")
    return passed


@of_kind("sliders")
def test_no_setting_passes_that_needs_no_thought(exercise: Exercise) -> None:
    for variant in variants(exercise, 2):
        assert not scored(exercise, variant), variant


@of_kind("sliders")
def test_what_the_pages_panels_show_passes_for_no_learner(exercise: Exercise) -> None:
    """More learners than above: one pair of numbers of those drawn may be what a preset shows."""
    for variant in variants(exercise, 8):
        controls, start = controls_of(exercise, variant), exercise.form(variant)["start"]
        for words, answer in copied(exercise, controls, start):
            assert not exercise.judge(answer, variant).passed, (words, variant)


@of_kind("sliders")
def test_settings_drawn_by_lot_pass_no_oftener_than_luck_allows(exercise: Exercise) -> None:
    draw, passed, count = Random(exercise.key), 0, 0
    for variant in variants(exercise, 5):  # how easily one is hit differs much from variant to variant
        controls = controls_of(exercise, variant)
        allowed = LUCK["sliders" if len(controls) > 1 else "one slider"]
        if len(controls) == 1:
            answers = [{controls[0].symbol: value} for value in places_of(controls[0], 16)]
        else:
            answers = [{control.symbol: draw.choice(places_of(control, 40)) for control in controls} for _ in range(12)]
        passed += sum(exercise.judge(answer, variant).passed for answer in answers)
        count += len(answers)
    assert passed <= allowed * count, f"{passed} of {count}"


@of_kind("sliders")
def test_one_control_alone_passes_for_no_learner(exercise: Exercise) -> None:
    """Who moves one control through its range and leaves the others as they are (where there is one only: see LUCK)."""
    for variant in variants(exercise, 12):
        controls, start = controls_of(exercise, variant), exercise.form(variant)["start"]
        for control in controls if len(controls) > 1 else ():
            for value in places_of(control, 5):
                assert not exercise.judge({**start, control.symbol: value}, variant).passed, (variant, control.symbol, value)


SIDE = re.compile(
    r"\btoo (?:high|low|big|small|much|little|many|few|stiff|slack|tight|loose|wide|narrow|early|late|soon|easily|strong|weak)\b"
    r"|\b(?:ease|tighten|slacken|widen|narrow|raise|lower|increase|decrease|reduce|add) (?:it|the|some|your|preload)\b"
    r"|\b(?:harder|stiffer|slacker|tighter|earlier|sooner|farther) (?:than|instead|please)|\b(?:close|open|part|press) "
    r"(?:earlier|later|harder)\b|\bgive (?:it|the [a-z ]+) (?:more|less|some)\b", re.IGNORECASE)
"""Words that say which way a slider should go."""


@of_kind("sliders")
def test_no_reply_says_which_way_a_slider_should_go(exercise: Exercise) -> None:
    replies = {belief.reply for belief in exercise.misconceptions}
    for variant in variants(exercise, 2):
        truth, start = exercise.truth(variant), exercise.form(variant)["start"]
        for control in controls_of(exercise, variant):
            for value in places_of(control, 8):
                replies |= {exercise.judge({**rest, control.symbol: value}, variant).message for rest in (truth, start)}
    assert not {reply for reply in replies if SIDE.search(reply)}


def halved(exercise: Exercise, variant: dict[str, Any], meaning: dict[str, float], draw: Random, tries: int = 4) -> bool:
    """Return whether halving the slider's range passes in so many tries. `meaning` says of a reply whether it speaks for going up
    (above 0) or down; where it says little, the way is drawn by lot."""
    control = controls_of(exercise, variant)[0]
    low, high = control.low, control.high
    for _ in range(tries):
        middle = round(low + draw.uniform(0.4, 0.6) * (high - low), 9)
        verdict = exercise.judge({control.symbol: middle}, variant)
        if verdict.passed:
            return True
        told = meaning.get(verdict.message, 0.0)
        up = told > 0.0 if abs(told) > 0.1 else draw.random() < 0.5
        low, high = (middle, high) if up else (low, middle)
    return False


@of_kind("sliders")
def test_who_halves_by_the_replies_passes_no_oftener_than_by_lot(exercise: Exercise) -> None:
    """He knows from others how often each reply came below the right setting, and how often above. By lot, four tries pass for a
    share of 1 - (1 - s)^4, s that of the slider's range that is right."""
    learners, draw = variants(exercise, 26), Random(exercise.key)
    if len(controls_of(exercise, learners[0])) > 1:
        return  # which slider it is, no reply says: see the test of one control alone
    said: dict[bool, list[str]] = {True: [], False: []}  # below the right setting, and above
    for variant in learners[:6]:
        control, truth = controls_of(exercise, variant)[0], exercise.truth(variant)
        for value in places_of(control, 32):
            verdict = exercise.judge({control.symbol: value}, variant)
            if not verdict.passed:
                said[value < truth[control.symbol]].append(verdict.message)
    meaning = {reply: said[True].count(reply) / len(said[True]) - said[False].count(reply) / len(said[False])
               for reply in {*said[True], *said[False]}}
    lot = 1.0 - ((len(said[True]) + len(said[False])) / (6 * 32)) ** 4
    passed = sum(halved(exercise, variant, meaning, draw) for variant in learners[6:])
    assert passed <= 20 * lot + 2.5 * (20 * lot * (1.0 - lot)) ** 0.5, (passed, lot, meaning)
    assert lot < 0.5


# -------------------------------------------------------------------------------------------------------------- logs
@of_kind("log")
def test_no_log_passes_that_needs_no_thought(exercise: Exercise) -> None:
    """What the presets show, all that there is, one tool after another. Of a coil that has nothing, only its look is wanted."""
    for variant in variants(exercise, 6):
        truth, form = exercise.truth(variant), exercise.form(variant)
        keys, work = [tool["key"] for tool in form["tools"]], {key for key, tool in BY_KEY.items() if tool.kind == "work"}
        presets = [preset.values for panel in panels_of(exercise.lesson) for preset in panel.presets]
        shown = [values["log"] for values in presets if "log" in values and not set(truth) <= {*values["log"]}]
        one_by_one = [[key, "run"] for key in keys if set(truth) & work or {key, "run"} != {*truth}]
        every = [keys[:form["most"]], keys[-form["most"]:]] if set(truth) & work else []
        for lines in ([], ["run"], ["run"] * form["most"], *every, *one_by_one, *shown, truth[:-1], truth[1:-1][::-1]):
            assert not exercise.judge(lines, variant).passed, (variant, lines)


@of_kind("log")
def test_one_list_of_lines_or_one_order_of_looks_wins_few_learners_coils(exercise: Exercise) -> None:
    """All coils that a learner may get: the same list for each, and the looks in the order of the buttons and others."""
    learners = [dict(one) for one in {tuple(one.items()) for one in variants(exercise, 300)}]
    orders = PARTS, tuple(LOOK_FOR), PARTS[::-1]
    assert len(learners) == 20
    passed: dict[str, int] = {}
    for variant in learners:
        def bench(lines: list[str], number: int = variant["coil"]) -> Any:
            return replay(number, lines).entries

        tried = {f"{habit}, {order[0]} first": rote.lines(bench, order) for habit, rote in HABITS.items() for order in orders}
        tried |= {" ".join(lines): lines for lines in (["run"], ["run", "condenser"], ["run", "swap"])}
        for words, lines in tried.items():
            passed[words] = passed.get(words, 0) + exercise.judge(lines, variant).passed
    assert all(count <= LUCK["log"] * len(learners) for count in passed.values()), passed
    assert passed["run"] == passed["run swap"] == 0, "no coil passes unseen"


@of_kind("log")
def test_logs_drawn_by_lot_mend_nothing(exercise: Exercise) -> None:
    draw = Random(exercise.key)
    for variant in (one for one in variants(exercise, 8) if len(exercise.truth(one)) > 2):
        keys = [tool["key"] for tool in exercise.form(variant)["tools"]]
        for _ in range(10):
            assert not exercise.judge([*draw.choices(keys, k=7), "run"], variant).passed


# ----------------------------------------------------------------------------------------------------------- numbers
def numbers_on_the_page(exercise: Exercise, variant: dict[str, Any]) -> Iterator[tuple[str, float]]:
    """Yield numbers that stand before the learner's eyes, in the unit asked for: the question's own, and the panels'."""
    form, prompt = exercise.form(variant), exercise.prompt(variant)
    unit = form["unit"]
    for digits, beside in re.findall(r"(?<![\w.])(-?\d+(?:\.\d+)?)\s*([^\s\d.,:;()]*)", prompt):
        for name in {units.known(beside) or unit, unit}:
            value = units.convert(float(digits), name, unit)
            if value is not None:
                yield f"{digits} {beside} of the question", value
    for panel in panels_of(exercise.lesson):
        for values in ({}, *(preset.values for preset in panel.presets)):
            for control in panel.controls:
                value = values.get(control.symbol, control.start)
                if isinstance(control, Control) and value is not None:
                    shown = units.convert(value, units.known(control.unit) or "", unit) if units.known(control.unit) else None
                    if shown is not None:
                        yield f"{panel.name}: {control.label}", shown


@of_kind("number")
def test_no_number_passes_that_stands_on_the_page(exercise: Exercise) -> None:
    """A truth may meet one of so many numbers by chance, for some learner; not the same one for many."""
    met: dict[str, int] = {}
    learners = variants(exercise, 12)
    for variant in learners:
        for words in {words for words, value in numbers_on_the_page(exercise, variant) if exercise.judge(value, variant).passed}:
            words = re.sub(r"-?\d+(\.\d+)?", "a number", words)
            met[words] = met.get(words, 0) + 1
    assert all(count <= len(learners) / 3 for count in met.values()), met


@of_kind("number")
def test_numbers_drawn_by_lot(exercise: Exercise) -> None:
    draw, passed, count = Random(exercise.key), 0, 0
    for variant in variants(exercise, 10):
        truth = exercise.truth(variant)
        for _ in range(40):
            value = truth * 10.0 ** draw.uniform(-1.5, 1.5)
            passed += exercise.judge(round(value) if exercise.form(variant)["unit"] == "1" else value, variant).passed
            count += 1
    assert passed <= LUCK["number"] * count * 1.5 + 3


# ------------------------------------------------------------------------------------------------- choices and orders
def strategies(options: list[dict[str, str]]) -> dict[str, str]:
    """Return what somebody would choose who goes by the look of the list."""
    by_length = sorted(options, key=lambda option: len(option["text"]))
    picks = {"the first": options[0], "the last": options[-1], "the longest": by_length[-1], "the shortest": by_length[0]}
    return {words: option["key"] for words, option in picks.items()}


@of_kind("choice")
def test_a_choice_by_its_place_is_a_lot(exercise: Exercise) -> None:
    """Over fifty learners whoever takes the first option, or the last, is right no oftener than by lot: one in so many."""
    learners = variants(exercise, 50)
    met = {"the first": 0, "the last": 0}
    count = len(exercise.form(learners[0])["options"])
    for variant in learners:
        picks = strategies(exercise.form(variant)["options"])
        for words in met:
            met[words] += exercise.judge(picks[words], variant).passed
    lot = len(learners) / count
    assert all(right <= lot + 3.5 * (lot * (1.0 - 1.0 / count)) ** 0.5 for right in met.values()), (met, lot)


def test_a_choice_by_its_length_is_a_lot() -> None:
    """Through the whole course whoever takes the longest option, or the shortest, is right about as often as by lot."""
    choices = [exercise for exercise in EXERCISES.values() if exercise.kind == "choice"]
    met, lot, spread = {"the longest": 0.0, "the shortest": 0.0}, 0.0, 0.0
    for exercise in choices:
        learners = variants(exercise, 5)
        share = 1.0 / len(exercise.form(learners[0])["options"])
        lot, spread = lot + share, spread + share * (1.0 - share)
        for variant in learners:
            picks = strategies(exercise.form(variant)["options"])
            for words in met:
                met[words] += exercise.judge(picks[words], variant).passed / len(learners)
    assert all(right <= lot + 2.0 * spread ** 0.5 for right in met.values()), (met, lot)


@of_kind("ordering")
def test_an_order_needs_thought(exercise: Exercise) -> None:
    draw, passed, count = Random(exercise.key), 0, 0
    for variant in variants(exercise, 6):
        shown = [item["key"] for item in exercise.form(variant)["items"]]
        truth = list(exercise.truth(variant))
        assert not exercise.judge(shown, variant).passed, "untouched"
        assert not exercise.judge(shown[::-1], variant).passed or len(shown) < 4, "turned round"
        assert not exercise.judge(truth[::-1], variant).passed, "the opposite"
        for _ in range(25):
            passed += exercise.judge(draw.sample(shown, len(shown)), variant).passed
            count += 1
    assert passed <= LUCK["ordering"] * count * 1.5 + 2, f"{passed} of {count}"


# ---------------------------------------------------------------------------------------------------------- functions
@of_kind("function")
def test_a_function_needs_more_than_a_constant(exercise: Exercise) -> None:
    for variant in variants(exercise, 2):
        form = exercise.form(variant)
        head = next(line for line in form["stub"].splitlines() if line.startswith("def "))
        given = re.search(r"\((.*)\)", head).group(1).split(", ")
        bodies = ["0.0", "1.0", "-1.0", *given, *(f"{name}[0]" for name in given), *(f"float(len({name}))" for name in given),
                  *(f"sum({name}) / len({name})" for name in given), *(f"max({name})" for name in given)]
        for body in bodies:
            assert not exercise.judge(f"{head}\n    return {body}\n", variant).passed, body
        for line in ("...", "pass"):  # the blanks struck out, the rest left as it was
            struck = re.sub(r"\.\.\.  # .*", "pass", form["stub"]) if line == "pass" else form["stub"]
            assert not exercise.judge(struck, variant).passed


# ------------------------------------------------------------------------------------------------------------ replies
@of_kind("number")
def test_a_reply_names_the_slip_and_not_the_side(exercise: Exercise) -> None:
    """Whoever halves the way at each reply learns nothing: as far above and as far below get the same words."""
    for variant in variants(exercise, 5):
        truth = exercise.truth(variant)
        for share in (0.07, 0.3, 0.45):
            replies = [exercise.judge(truth * (1.0 + share * side), variant) for side in (1.0, -1.0)]
            told = {reply.message for reply in replies if type(reply).__name__ == "Verdict" and reply.misconception is None}
            assert len(told) <= 1, told


def test_any_order_of_work_that_holds_is_right() -> None:
    exercise = EXERCISES["09-order-of-work"]
    of = {**variants(exercise, 1)[0], "without": "none"}
    for first in (["supply", "electric", "points", "travel"], ["points", "electric", "supply", "travel"],
                  ["points", "travel", "supply", "electric"]):
        assert exercise.judge([*first, "vibrator", "cushion", "range"], of).passed, first
    for wrong in (["travel", "points", "supply", "electric", "vibrator", "cushion", "range"],
                  ["supply", "electric", "points", "vibrator", "travel", "cushion", "range"],
                  ["supply", "electric", "points", "travel", "cushion", "vibrator", "range"]):
        assert not exercise.judge(wrong, of).passed, wrong


def test_every_wrong_part_has_a_reason_of_its_own() -> None:
    exercise = EXERCISES["00-name-the-part"]
    for variant in variants(exercise, 20):
        wrong = [option["key"] for option in exercise.form(variant)["options"] if option["key"] != exercise.truth(variant)]
        assert len({exercise.judge(key, variant).message for key in wrong}) == len(wrong)


def test_an_untouched_match_is_not_told_of_a_belief() -> None:
    exercise = EXERCISES["08-match-the-set"]
    for variant in variants(exercise, 3):
        assert exercise.judge(exercise.form(variant)["start"], variant).misconception is None
