"""Every exercise that there is, held to the rules of the course, for fifty learners each.

The right answer passes; each planted belief gets its own reply; whatever else is typed gets one clear sentence; and no
sentence, reply or hint holds the value that was asked for, in any unit or rounding (`leaks`).
"""

from __future__ import annotations

import ast
import json
import math
import re
from functools import cache
from pathlib import Path

import pytest

from lessons import contents
from lessons.contents import LESSONS
from lessons.contracts import Exercise, Verdict
from lessons.exercises import EXERCISES, learner_code, units
from lessons.exercises.kinds import NotAnAnswer, seed_of
from lessons.panels import PANELS

LEARNERS = [f"learner {number}" for number in range(50)]


def of_kind(*kinds: str):
    chosen = [exercise for exercise in EXERCISES.values() if exercise.kind in kinds]
    return pytest.mark.parametrize("exercise", chosen, ids=[exercise.key for exercise in chosen])


ENDLESS = "while True: pass"
ALL = of_kind(*sorted({exercise.kind for exercise in EXERCISES.values()}))


@cache
def variants(key: str) -> list[dict]:
    return [EXERCISES[key].variant(seed_of(nickname, key)) for nickname in LEARNERS]


def wrong_answers(exercise: Exercise, variant) -> list:
    """Return answers of every sort that must not pass: junk for all kinds, and the likely slips of this kind."""
    junk = [None, "", "  ", True, math.nan, math.inf, "NaN", "-inf", "about five", "1,2,3", "1.2.3", [], {}, [None],
            {"value": None},
            {"value": {}}, {"unit": "A"}, 10**400, -(10**400), "1e999", b"5", object(), {"x": 1}, ["a", "a"], "x" * 20_000]
    return [*junk, *SLIPS[exercise.kind](exercise.truth(variant), exercise.form(variant))]


def _number_slips(truth, form) -> list:
    unit, wrong = form["unit"], "V" if units.convert(1.0, form["unit"], "V") is None else "A"
    return [*(truth * f for f in (1e3, 1e-3, 1e6, 2.0, 0.5, -1.0, 1.5, 0.7, 0.0)), {"value": truth, "unit": wrong},
            {"value": truth, "unit": "furlong"}, {"value": f"{truth} {wrong}", "unit": unit},
            {"value": str(1e3 * truth), "unit": unit}]


def _sliders_slips(truth, form) -> list:
    first = next(iter(truth))
    part = [{first: truth[first]}] if len(truth) > 1 else []  # of a single slider that is the whole answer
    return [*part, {**truth, first: 1e9}, {**truth, first: "much"}, {**truth, first: math.nan}, {**truth, first: None},
            {**truth, "nonsense": 1}]


SLIPS = {
    "number": _number_slips,
    "choice": lambda truth, form: [option["key"] for option in form["options"] if option["key"] != truth],
    "ordering": lambda truth, form: [truth[::-1], truth[1:], [*truth, truth[0]], truth[1:] + truth[:1],
                                     [*truth[:-1], "nothing"], [*truth[:-2], truth[-1], truth[-2]]],
    "sliders": _sliders_slips,
    "log": lambda truth, form: [truth[:-1], [*truth, "nothing"], ["bend vibrator up little", *truth], truth * 10, {"log": "run"}],
    "function": lambda truth, form: [form["stub"], "def nothing(): pass", f"def {form['name']}(*x):\n    return None",
                                     truth.replace("return", "return 1e3 *"), "import os", ENDLESS, "(" * 5000],
}
"""Of each kind: the likely slips, (truth, form) -> answers that must not pass."""


def numbers_in(text: str) -> list[str]:
    return re.findall(r"(?<![\w.])\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?", text)


def holds(text: str, value: float) -> str | None:
    """Return the number in `text` that gives away `value` in some power of ten or some unit, or None."""
    for token in numbers_in(text):
        shown = float(token.replace(",", "."))
        digits = len(re.sub(r"[eE].*", "", token).replace(".", "").replace(",", "").strip("0")) or 1
        for power in range(-9, 10):
            scaled = abs(value) * 10.0**power
            tolerance = 0.005 if digits == 1 else 0.5 * 10.0 ** (1 - digits)
            if shown and abs(scaled - shown) <= tolerance * shown:
                return token
    return None


def leaks(text: str, exercise: Exercise, variant) -> str | None:
    """Return what in `text` gives away the right answer of this variant, or None."""
    return LEAKS[exercise.kind](text, exercise.truth(variant), exercise.form(variant))


def _choice_leaks(text: str, truth, form) -> str | None:
    right = next(option["text"] for option in form["options"] if option["key"] == truth)
    return right if right.rstrip(".").casefold() in text.casefold() else None


def _ordering_leaks(text: str, truth, form) -> str | None:
    named = [item["text"] for item in form["items"] if item["text"].casefold() in text.casefold()]
    return ", ".join(named) if len(named) > 1 else None


def _log_leaks(text: str, truth, form) -> str | None:
    """A piece of work that the way has and the log has not: nobody is told what to do."""
    work = [tool["text"] for tool in form["tools"] if tool["key"] in truth and tool["key"] not in ("run",)]
    return next((words for words in work if words.casefold() in text.casefold()), None)


def _function_leaks(text: str, truth, form) -> str | None:
    stub = {line.strip() for line in form["stub"].splitlines()}
    filled = [line.strip() for line in truth.splitlines() if line.strip() not in stub]
    return next((line for line in filled if line in text), None)


LEAKS = {
    "number": lambda text, truth, form: holds(text, truth),
    "choice": _choice_leaks,
    "ordering": _ordering_leaks,
    "sliders": lambda text, truth, form: next(
        (found for value in truth.values() if isinstance(value, float) and (found := holds(text, value))), None),
    "log": _log_leaks,
    "function": _function_leaks,
}
"""Of each kind: what in a text gives the right answer away, (text, truth, form) -> it or None."""
TOLD = {
    "number": lambda truth, form: f"It should be {truth:.3g}.",
    "choice": lambda truth, form: "No: " + next(option["text"] for option in form["options"] if option["key"] == truth).lower(),
    "ordering": lambda truth, form: ", ".join(item["text"] for item in form["items"]),
    "sliders": lambda truth, form: f"Try {next(iter(truth.values()))}.",
    "log": lambda truth, form: next((tool["text"] for tool in form["tools"] if tool["key"] in {*truth} - {"run"}), "-"),
    "function": lambda truth, form: f"Write {truth.splitlines()[-1]}",
}
"""Of each kind: a text that gives the right answer away, (truth, form) -> text, by which LEAKS is tried."""


def one_sentence(verdict: Verdict) -> None:
    assert verdict.message.strip().endswith(("?", ".", ")"))
    assert 10 < len(verdict.message) < 700
    assert "\n" not in verdict.message
    assert "Traceback" not in verdict.message


# ------------------------------------------------------------------------------------------------- the checks themselves
@pytest.mark.parametrize("text",
                         ["it is 1.638 N", "1.64", "about 1.6 newtons", "1638 mN", "1,64 N", "1.6381e3 mN", "0.0016 kN",
                          "2 N or 1640 mN"])
def test_a_leaked_number_is_found(text: str) -> None:
    assert holds(text, 1.6381)


@pytest.mark.parametrize("text", ["no number", "1.8 N", "1.5", "163.1", "Line 2", "P1.64", "3 of 5"])
def test_another_number_is_no_leak(text: str) -> None:
    assert holds(text, 1.6381) is None


@ALL
def test_a_leaked_answer_is_found(exercise: Exercise) -> None:
    variant = variants(exercise.key)[0]
    assert leaks(TOLD[exercise.kind](exercise.truth(variant), exercise.form(variant)), exercise, variant)


# ------------------------------------------------------------------------------------------------- the definition
@ALL
def test_is_whole(exercise: Exercise) -> None:
    assert re.fullmatch(r"[0-9]{2}-[a-z0-9]+(-[a-z0-9]+)*", exercise.key)
    assert int(exercise.key[:2]) == exercise.lesson
    assert len(exercise.title) > 8
    assert len(exercise.hints) >= 2
    assert len(set(exercise.hints)) == len(exercise.hints)
    keys = [belief.key for belief in exercise.misconceptions]
    assert len(set(keys)) == len(keys) >= 2
    assert len({belief.reply for belief in exercise.misconceptions}) == len(keys)


def test_lesson_five_has_its_eight() -> None:
    of_five = [exercise for exercise in EXERCISES.values() if exercise.lesson == 5]
    assert len(of_five) == 8
    assert {exercise.kind for exercise in of_five} == {"number", "choice", "ordering", "sliders", "function"}
    assert any(exercise.prediction for exercise in of_five)
    assert sum(exercise.kind == "number" for exercise in of_five) >= 2
    assert [exercise.optional for exercise in of_five if exercise.kind == "function"] == [True]


@ALL
def test_variants_are_kept_and_differ(exercise: Exercise) -> None:
    assert variants(exercise.key) == [exercise.variant(seed_of(f" {name.upper()} ", exercise.key)) for name in LEARNERS]
    for variant in variants(exercise.key):
        assert json.loads(json.dumps(variant)) == variant
    asked = {json.dumps([exercise.prompt(v), exercise.form(v), v], sort_keys=True) for v in variants(exercise.key)}
    assert len(asked) >= 5


@ALL
def test_forms_and_prompts_are_plain(exercise: Exercise) -> None:
    for variant in variants(exercise.key):
        form = exercise.form(variant)
        assert form["kind"] == exercise.kind
        assert json.loads(json.dumps(form)) == form
        assert 40 < len(exercise.prompt(variant)) < 900
        if exercise.kind == "number":
            assert form["unit"] in form["units"]
            assert all(units.convert(1.0, unit, form["unit"]) is not None for unit in form["units"])
        if exercise.kind == "ordering":
            assert [item["key"] for item in form["items"]] != exercise.truth(variant)
        if exercise.kind == "sliders":
            assert not exercise.judge(form["start"], variant).passed


# -------------------------------------------------------------------------------------------------- the judgement
@ALL
def test_truth_passes(exercise: Exercise) -> None:
    for variant in variants(exercise.key):
        verdict = exercise.judge(exercise.truth(variant), variant)
        assert verdict.passed, (variant, verdict)
        assert verdict.score == 1.0
        assert verdict.misconception is None
        one_sentence(verdict)
        assert leaks(verdict.message, exercise, variant) is None


@ALL
def test_each_belief_gets_its_own_reply(exercise: Exercise) -> None:
    for variant in variants(exercise.key):
        for belief in exercise.misconceptions:
            verdict = exercise.judge(belief.answer(variant), variant)
            assert not verdict.passed, (belief.key, variant)
            assert verdict.misconception == belief.key, (variant, verdict)
            assert verdict.message.endswith(belief.reply) if exercise.kind == "log" else verdict.message == belief.reply
            assert verdict.score < 1.0
            one_sentence(verdict)


@ALL
def test_no_text_holds_the_answer(exercise: Exercise) -> None:
    for variant in variants(exercise.key):
        for text in (*exercise.hints, *(belief.reply for belief in exercise.misconceptions)):
            assert leaks(text, exercise, variant) is None, (text, variant)


@ALL
def test_wrong_answers_get_a_sentence_without_the_answer(exercise: Exercise) -> None:
    for number, variant in enumerate(variants(exercise.key)[:: 1 if exercise.kind != "sliders" else 5]):
        for answer in wrong_answers(exercise, variant):
            if answer == ENDLESS and number % 10:  # it runs until it is stopped, whatever the learner's numbers are
                continue
            verdict = exercise.judge(answer, variant)
            assert not verdict.passed, (answer, variant)
            assert 0.0 <= verdict.score < 1.0
            one_sentence(verdict)
            assert leaks(verdict.message, exercise, variant) is None, (answer, verdict.message)


@ALL
def test_blank_and_unreadable_answers_are_no_tries(exercise: Exercise) -> None:
    variant = variants(exercise.key)[0]
    for answer in (None, "", "  ", True, [], {}, object()):
        if exercise.kind == "number" or not (exercise.kind == "function" and isinstance(answer, bool)):
            assert isinstance(exercise.judge(answer, variant), NotAnAnswer), answer


# ------------------------------------------------------------------------------------------------- kind by kind
@of_kind("number")
def test_numbers_in_every_unit_and_with_a_comma(exercise: Exercise) -> None:
    for variant in variants(exercise.key):
        truth, form = exercise.truth(variant), exercise.form(variant)
        for unit in form["units"]:
            value = units.convert(truth, form["unit"], unit)
            for text in (f"{value:.4g}", f"{value:.6f}".replace(".", ","), f"  {value:.5g} {unit if unit != '1' else ''}"):
                assert exercise.judge({"value": text, "unit": unit}, variant).passed, (text, unit)
        assert exercise.judge(f"{truth:.3g}", variant).passed, "three significant figures must do"


@of_kind("number")
def test_numbers_off_by_a_thousand_or_two_are_told_so(exercise: Exercise) -> None:
    told = 0
    for variant in variants(exercise.key):
        truth = exercise.truth(variant)
        for factor, word in ((1e3, "thousand"), (1e-3, "thousand"), (2.0, "factor of two"), (0.5, "factor of two"),
                             (-1.0, "sign")):
            verdict = exercise.judge(truth * factor, variant)
            if verdict.misconception is None:  # a belief may lead to just that slip, and its reply says more
                assert word in verdict.message
                told += 1
    assert told >= 150  # of 250: a belief of the exercise may claim one or two of the five slips for itself


@of_kind("function")
def test_stub_is_the_solution_less_its_blanks(exercise: Exercise) -> None:
    """Walked line by line, apart from the code that makes the stub: only where the stub has a blank may the two differ."""
    variant = variants(exercise.key)[0]
    stub, solution = exercise.form(variant)["stub"].splitlines(), exercise.truth(variant).splitlines()
    place = blanks = waiting = 0
    for line in [*stub, None]:
        if line is not None and line.strip().startswith("...  # "):
            waiting += 1
            continue
        end = len(solution) if line is None else solution.index(line, place)
        if waiting:
            assert end - place >= waiting, "a blank stands for nothing"
            blanks, waiting = blanks + waiting, 0
        else:
            assert end == place, "they differ where there is no blank"
        place = end + 1
    assert place == len(solution) + 1
    assert blanks >= 1
    ast.parse(exercise.form(variant)["stub"])
    assert "#:" not in exercise.form(variant)["stub"] + exercise.truth(variant)


@of_kind("function")
def test_functions_do_not_run_when_records_are_graded(exercise: Exercise, monkeypatch: pytest.MonkeyPatch) -> None:
    variant = variants(exercise.key)[0]
    ran = []
    monkeypatch.setattr(learner_code, "run", lambda *_: ran.append(1) or [])
    with learner_code.code_never_runs():
        verdict = exercise.judge(exercise.truth(variant), variant)
    assert isinstance(verdict, NotAnAnswer)
    assert not ran


@of_kind("sliders")
def test_sliders_give_part_of_the_mark(exercise: Exercise) -> None:
    """The first slider away from its place; and, in a task of choices, one of them undone."""
    scores = set()
    for variant in variants(exercise.key)[:10]:
        truth, start = exercise.truth(variant), exercise.form(variant)["start"]
        first = next(iter(truth))
        spoilt = [{**truth, first: truth[first] * share} for share in (0.4, 0.6, 0.8, 1.0, 1.2, 1.4)]
        spoilt += [{**truth, name: start[name]} for name, chosen in truth.items() if isinstance(chosen, str)]
        scores |= {exercise.judge(answer, variant).score for answer in spoilt}
        if 1.0 in scores and any(0.0 < score < 1.0 for score in scores):
            return  # some variants are all or nothing; of ten, one at least is not
    assert 1.0 in scores
    assert any(0.0 < score < 1.0 for score in scores), "a setting that is right at some speeds only earns its share"


# -------------------------------------------------------------------------------------- lesson 5, against the model
def test_judging_takes_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pulse takes a browser's Python some 12 ms (measured, see the benchmarks), and a learner waits two to three seconds."""
    from lessons.exercises import cushion

    counted = []

    def simulate(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return real(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    real = cushion.simulate
    monkeypatch.setattr(cushion, "simulate", simulate)
    for exercise in cushion.EXERCISES:
        variant = exercise.variant(seed_of("someone who was never here", exercise.key))
        answer = {"sliders": lambda e=exercise, v=variant: e.form(v)["start"]}.get(exercise.kind, lambda e=exercise,
                                                                                   v=variant: e.truth(v))()
        counted.clear()
        exercise.prompt(variant)
        exercise.form(variant)
        assert sum(counted) <= 20, f"{exercise.key} keeps a reader waiting before it is shown"
        exercise.judge(answer, variant)
        assert sum(counted) <= 100, exercise.key


def test_bridge_force_of_the_model_is_that_of_the_two_blades() -> None:
    exercise = EXERCISES["05-bridge-force"]
    for v in variants(exercise.key):
        up = v["vibrator_preload"] - v["vibrator_stiffness"] * v["travel"]
        down = v["cushion_preload"] + v["cushion_stiffness"] * v["travel"]
        assert exercise.truth(v) == pytest.approx(up - down, rel=0.01)


def test_thicker_blade_goes_with_the_cube() -> None:
    exercise = EXERCISES["05-thicker-blade"]
    for v in variants(exercise.key):
        second_moment = 1e-3 * v["width"] * (1e-3 * v["new"]) ** 3 / 12.0
        assert exercise.truth(v) == pytest.approx(1e-3 * 3.0 * 206e9 * second_moment / (1e-3 * v["length"]) ** 3, rel=1e-9)


def test_currents_to_be_ordered_are_well_apart() -> None:
    """So that the order is a fact of the coil and not of rounding: at least a tenth of an ampere between neighbours."""
    from lessons.exercises import cushion

    for v in variants("05-preload-and-current")[::5]:
        found = sorted(cushion._readings(cushion._machine(p), v["rpm"]).opening_current.mean for p in v["preloads"])
        assert min(b - a for a, b in zip(found, found[1:])) > 0.1


def test_steps_of_a_pulse_are_apart_in_time() -> None:
    from lessons.exercises import cushion

    for rpm in (420.0, 490.0, 560.0):
        times = sorted(cushion.event_times(rpm).values())
        assert min(b - a for a, b in zip(times, times[1:])) > 1e-6


def test_faults_can_be_told_from_the_readings_shown() -> None:
    """By the rule that the hints teach: the rivet, the way followed, the time; and every option is somebody's fault."""
    from lessons.exercises import cushion

    faults = set()
    for v in variants("05-which-fault"):
        well, bad = cushion.faulty_readings(v)
        if bad.on_rivet < 0.5:
            told = "slack"
        elif bad.follow_travel.mean < 0.5 * well.follow_travel.mean:
            told = "travel"
        else:
            told = "stiff" if bad.opening_time.mean < well.opening_time.mean - 0.05e-3 else "magneto"
        assert told == v["fault"], v
        assert well.on_rivet == 1.0
        faults.add(told)
    assert faults == {option["key"] for option in EXERCISES["05-which-fault"].form(v)["options"]}


def test_the_cushion_of_a_fast_car_cannot_be_copied_from_the_well_set_coil() -> None:
    """Neither the preset's values nor an untouched start, nor the opposite repair."""
    from lessons.exercises import cushion

    exercise = EXERCISES["05-set-the-cushion"]
    for v in variants(exercise.key)[::3]:
        start = exercise.form(v)["start"]
        opposite = cushion._share(0.4 if start["preload"] > cushion.PRELOAD else 1.7)
        for answer in ({"preload": cushion.PRELOAD, "travel": cushion.TRAVEL}, start,
                       {"preload": opposite, "travel": cushion.TRAVEL}):
            assert not exercise.judge(answer, v).passed, (answer, v)


def test_share_of_singles_counts_what_the_readings_count() -> None:
    from lessons.exercises import cushion

    for v in variants("05-share-of-singles")[::5]:
        for case in cushion._cases(v):
            times, pulse, pulses = case.arguments
            share = sum(sum(n * pulse <= t < (n + 1) * pulse for t in times) == 1 for n in range(pulses)) / pulses
            assert share == pytest.approx(case.expected)


@pytest.mark.parametrize("exercise", [one for one in EXERCISES.values() if one.prediction], ids=lambda exercise: exercise.key)
def test_a_prediction_says_what_it_is_tried_on_and_the_lesson_shows_that(exercise: Exercise) -> None:
    """The panels and controls that it names are those of panels in its own notebook; in the words of the question."""
    notebook = next(one.file for one in LESSONS if one.number == exercise.lesson)
    text = (Path(contents.__file__).parent / notebook).read_text(encoding="utf-8")
    assert exercise.about is not None
    assert exercise.about.words
    for name, symbols in exercise.about.panels.items():
        assert f'panel(\\"{name}\\"' in text
        assert set(symbols) <= {control.symbol for control in PANELS[name].controls}
