"""The five kinds of exercise, each built by one function: number, choice, ordering, sliders, function.

A builder takes what is particular to a question (its variants, its prompt, the truth worked out from the model, the
wrong beliefs and what to say to them) and returns a `lessons.contracts.Exercise`. All that is common is here, once:
reading whatever a learner may type, recognising a belief, giving part of the mark, saying it in one sentence.

What every judge keeps: it raises for no answer whatever; blank or unreadable answers give a `NotAnAnswer`; no message holds
the expected value, in any unit or rounding (which is why no message of this file has a digit in it that is not a limit
of a slider); and the truth is worked out once for a variant.
"""

from __future__ import annotations

import hashlib
import json
import math
import random
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from lessons.contracts import About, Choice, Control, Exercise, Misconception, Verdict, right_answer
from lessons.exercises import learner_code, units

Variant = Mapping[str, Any]
Words = str | Callable[[Variant], str]
T = TypeVar("T")


class NotAnAnswer(Verdict):
    """A verdict on something that could not be read as an answer (blank, text for a number ...): it counts as no try."""


class _Unreadable(Exception):
    """Why an answer cannot be read, in one sentence for the learner."""


# -------------------------------------------------------------------------------------------------- variants
def seed_of(nickname: str, key: str) -> int:
    """Return the seed of a learner's variant of exercise `key`: the same on every machine and in every Python.

    Capitals and spaces around the nickname make no difference.
    """
    name = unicodedata.normalize("NFC", nickname).strip().casefold()
    return int.from_bytes(hashlib.sha256(f"{name}\n{key}".encode()).digest()[:6], "big")


class Draw:
    """Seeded choices. Only `random.Random.random` is used, the one method whose sequence Python promises to keep."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed).random

    def pick(self, options: Sequence[T]) -> T:
        """Return one of `options`."""
        return options[int(self._random() * len(options))]

    def between(self, low: float, high: float, step: float) -> float:
        """Return one of low, low + step ... high, rounded so that it prints short."""
        steps = round((high - low) / step)
        return round(low + step * int(self._random() * (steps + 1)), 9)

    def shuffled(self, things: Sequence[T]) -> list[T]:
        """Return `things` in another order."""
        keyed = [(self._random(), index) for index in range(len(things))]
        return [things[index] for _, index in sorted(keyed)]


def _name_of(variant: Variant) -> str:
    return json.dumps(variant, sort_keys=True, default=str)


def remembered(work: Callable[[Variant], T], size: int = 256) -> Callable[[Variant], T]:
    """Return `work` with its results kept by variant, the oldest forgotten first: a truth may take a run of the model."""
    kept: dict[str, T] = {}

    def recall(variant: Variant) -> T:
        name = _name_of(variant)
        if name not in kept:
            if len(kept) >= size:
                del kept[next(iter(kept))]
            kept[name] = work(variant)
        return kept[name]

    return recall


def _seeded(variant: Callable[[Draw], dict[str, Any]]) -> Callable[[int], dict[str, Any]]:
    return lambda seed: variant(Draw(seed))


def _seeded_and_shuffled(variant: Callable[[Draw], dict[str, Any]]) -> Callable[[int], dict[str, Any]]:
    return lambda seed: {**variant(Draw(seed)), "shuffle": seed % 1009}


def _worded(words: Words) -> Callable[[Variant], str]:
    return words if callable(words) else lambda variant: words


def _beliefs(misconceptions: Sequence[Misconception], same: Callable[[Any], bool], variant: Variant) -> Verdict | None:
    """Return the reply to the first belief whose answer is the `same` as the learner's."""
    for belief in misconceptions:
        if same(belief.answer(variant)):
            return Verdict(False, 0.0, belief.reply, belief.key)
    return None


def _forgiving(judge: Callable[[Any, Variant], Verdict]) -> Callable[[Any, Variant], Verdict]:
    def kind(answer: Any, variant: Variant) -> Verdict:
        try:
            return judge(answer, variant)
        except _Unreadable as why:
            return NotAnAnswer(False, 0.0, str(why))

    return kind


_COUNT_WORDS = "none one two three four five six seven eight nine ten eleven twelve".split()


def in_words(count: int) -> str:
    """Return a small count as a word, so that it cannot be mistaken for a value."""
    return _COUNT_WORDS[count] if count < len(_COUNT_WORDS) else "many"


# ---------------------------------------------------------------------------------------------------- numbers
_BLANK = "No number was given; type one in the field."
_NOT_A_NUMBER = "That is not a number; write digits, with a point or a comma for the decimals."
_ONE_MARK = "Write one number with a single decimal point or comma, and nothing between the thousands."
_NOT_FINITE = "That is not a finite number; give one that could be measured."
_NUMBER = re.compile(r"([+-]?[\d.,]+(?:[eE][+-]?\d{1,4})?)(.*)", re.DOTALL)


def read_number(answer: Any, unit: str, offered: Sequence[str]) -> float:
    """Return the learner's number in `unit`.

    `answer` is a number, a text ("5.1", "5,1", "5.1 A") or {"value": either, "unit": one of `offered`}.
    Raises _Unreadable with the sentence that says what is wrong.
    """
    given, chosen = (answer.get("value"), answer.get("unit", unit)) if isinstance(answer, Mapping) else (answer, unit)
    number, typed = _number_and_unit(given)
    if not math.isfinite(number):
        raise _Unreadable(_NOT_FINITE)
    name = _unit(chosen, offered)
    if typed:
        beside = _unit(typed, offered)
        if isinstance(answer, Mapping) and "unit" in answer and name != beside:
            raise _Unreadable("The unit written beside the number is not the unit chosen; leave one of them out.")
        name = beside
    value = units.convert(number, name, unit)
    if value is None or not math.isfinite(value):
        raise _Unreadable(_NOT_FINITE)
    return value


def _number_and_unit(value: Any) -> tuple[float, str]:
    if value is None:
        raise _Unreadable(_BLANK)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            return float(value), ""
        except OverflowError:
            raise _Unreadable(_NOT_FINITE) from None
    if not isinstance(value, str):
        raise _Unreadable(_NOT_A_NUMBER)
    text = "".join(value[:200].split()).replace("\u2212", "-")
    if not text:
        raise _Unreadable(_BLANK)
    if text.lstrip("+-").lower() in ("nan", "inf", "infinity", "∞"):
        raise _Unreadable(_NOT_FINITE)
    found = _NUMBER.fullmatch(text)
    if found is None or len(value) > 200:
        raise _Unreadable(_NOT_A_NUMBER)
    digits, rest = found.groups()
    if rest and not (rest[0].isalpha() or rest[0] in "°%") or any(c.isdigit() for c in rest):
        raise _Unreadable(_NOT_A_NUMBER)  # "1/2", "5x3": a sum, not a number with its unit
    if digits.count(",") + digits.count(".") > 1:
        raise _Unreadable(_ONE_MARK)
    try:
        return float(digits.replace(",", ".")), rest
    except ValueError:
        raise _Unreadable(_NOT_A_NUMBER) from None


def _unit(text: Any, offered: Sequence[str]) -> str:
    name = units.known(text) if isinstance(text, str) else None
    if name in offered:
        return str(name)
    if tuple(offered) == ("1",):
        raise _Unreadable("This answer is a plain number; give it without a unit.")
    choices = " or ".join(offered)
    if not isinstance(text, str) or not text.strip():
        raise _Unreadable(f"Choose the unit of your number: {choices}.")
    if name is None or name == "1" or units.convert(1.0, name, offered[0]) is not None:
        raise _Unreadable(f"Give your number in {choices}.")
    raise _Unreadable(f"{name} measures something else than what is asked; give your number in {choices}.")


def number_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Words,
    truth: Callable[[Variant], float],
    unit: str,
    units: Sequence[str] = (),
    right: str,
    look: str,
    tolerance: float = 0.03,
    absolute: float = 0.0,
    whole: bool = False,
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
    prediction: bool = False,
    optional: bool = False,
    arithmetic: bool = True,
) -> Exercise:
    """Return a question whose answer is a number; of the second track unless `arithmetic` is False.

    `truth` and the misconceptions' answers are floats in `unit`; `units` are all that the learner may choose from.
    An answer is right within `tolerance` (a share of the truth) or `absolute` (in `unit`), whichever is wider. `whole` asks
    for a count. `right` is said after a right answer; `look` says where to look after a wrong one that no belief explains.
    """
    true = remembered(truth)
    offered = tuple(units) or (unit,)

    def near(value: float, other: float) -> bool:
        return abs(value - other) <= max(tolerance * abs(other), absolute)

    def judge(answer: Any, of: Variant) -> Verdict:
        value = read_number(answer, unit, offered)
        if whole and value != round(value):
            raise _Unreadable("This is a count; give a whole number.")
        expected = true(of)
        if near(value, expected):
            return right_answer(right)
        belief = _beliefs(misconceptions, partial(near, value), of)
        if belief is not None:
            return belief
        return Verdict(False, 0.0, f"{_how_far(value, expected, near, whole)} {look}")

    return Exercise(
        key, lesson, title, "number", _seeded(variant), _worded(prompt),
        lambda of: {"kind": "number", "unit": unit, "units": list(offered)},
        true, _forgiving(judge), tuple(hints), tuple(misconceptions), prediction, optional, arithmetic,
    )


def _how_far(value: float, expected: float, near: Callable[[float, float], bool], whole: bool) -> str:
    """Say in which way a number is wrong, without the number that it should be or on which side of it this one lies."""
    if not whole:
        if value != 0.0 and near(-value, expected):
            return "The size is right but the sign is not: mind which way is counted positive."
        if any(near(value * factor, expected) for factor in (1e3, 1e-3, 1e6, 1e-6)):
            return "You are off by a factor of a thousand or a million: check the prefix of each unit on the way."
        if any(near(value * factor, expected) for factor in (2.0, 0.5)):
            return "You are off by a factor of two: something was counted twice, or half of it was left out."
    if whole:
        return "That is not the count."
    near_by = expected != 0.0 and abs(value / expected - 1.0) < 0.1  # said alike of either side, so that nobody can bisect
    return "Close, but something small is missing or was rounded too soon." if near_by else "That is not it."


# ----------------------------------------------------------------------------------------------------- choices
def choice_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Words,
    options: Sequence[tuple[str, str]] | Callable[[Variant], Sequence[tuple[str, str]]],
    truth: Callable[[Variant], str],
    right: str,
    look: str,
    reasons: Mapping[str, str] | None = None,
    shuffle: bool = True,
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
    prediction: bool = False,
    optional: bool = False,
    about: About | None = None,
) -> Exercise:
    """Return a question with a few answers to choose from; `options` are (key, text), `truth` a key.

    `shuffle=False` keeps the options in the order given, for options that have an order of their own. `reasons` has for an option
    why it is not that one, in place of `look`, where no belief explains its choice. `about` says what a prediction is tried on.
    """
    true = remembered(truth)

    def offers(of: Variant) -> Sequence[tuple[str, str]]:
        given = options(of) if callable(options) else options
        return Draw(of["shuffle"]).shuffled(given) if shuffle else given

    def judge(answer: Any, of: Variant) -> Verdict:
        if answer is None or answer == "":
            raise _Unreadable("Nothing was chosen; choose one of the answers.")
        if not isinstance(answer, str) or answer not in [name for name, _ in offers(of)]:
            raise _Unreadable("That is none of the answers offered; choose one of them.")
        if answer == true(of):
            return right_answer(right)
        otherwise = Verdict(False, 0.0, (reasons or {}).get(answer, look))
        return _beliefs(misconceptions, lambda wrong: wrong == answer, of) or otherwise

    return Exercise(
        key, lesson, title, "choice", _seeded_and_shuffled(variant), _worded(prompt),
        lambda of: {"kind": "choice", "options": [{"key": name, "text": text} for name, text in offers(of)]},
        true, _forgiving(judge), tuple(hints), tuple(misconceptions), prediction, optional,
        about=about,
    )


# --------------------------------------------------------------------------------------------------- orderings
def ordering_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Words,
    items: Sequence[tuple[str, str]] | Callable[[Variant], Sequence[tuple[str, str]]],
    truth: Callable[[Variant], Sequence[str]],
    right: str,
    look: str,
    rule: Sequence[tuple[str, str]] = (),
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
    prediction: bool = False,
    optional: bool = False,
) -> Exercise:
    """Return a question whose answer is an order; `items` are (key, text), `truth` the keys from first to last.

    Where several orders are right, `rule` has the pairs (earlier, later) that make one so: any order that keeps them passes.

    Part of the mark is the share of pairs in the right order (Kendall's concordance). Give the items in the order that you
    expect to be right, or in its reverse: they are offered in neither. (To compare with `truth` instead would run the model
    whenever the question is shown.)
    """
    true = remembered(lambda of: list(truth(of)))

    def offers(of: Variant) -> Sequence[tuple[str, str]]:
        given = items(of) if callable(items) else items
        shuffled = Draw(of["shuffle"]).shuffled(given)
        return shuffled if shuffled not in (list(given), list(given)[::-1]) else [*shuffled[1:], shuffled[0]]

    def judge(answer: Any, of: Variant) -> Verdict:
        order = _read_order(answer, [name for name, _ in offers(of)])
        expected = true(of)
        pairs = [(a, b) for a, b in rule if a in order and b in order]
        kept = sum(order.index(a) < order.index(b) for a, b in pairs)
        if order == expected or pairs and kept == len(pairs):
            return right_answer(right)
        score = kept / len(pairs) if pairs else concordance(order, expected)
        belief = _beliefs(misconceptions, lambda wrong: list(wrong) == order, of)
        if belief is not None:
            return Verdict(False, score, belief.message, belief.misconception)
        return Verdict(False, score, f"{_how_ordered(score)} {look}")

    return Exercise(
        key, lesson, title, "ordering", _seeded_and_shuffled(variant), _worded(prompt),
        lambda of: {"kind": "ordering", "items": [{"key": name, "text": text} for name, text in offers(of)]},
        true, _forgiving(judge), tuple(hints), tuple(misconceptions), prediction, optional,
    )


def _read_order(answer: Any, names: Sequence[str]) -> list[str]:
    if answer is None or answer in ("", [], ()):
        raise _Unreadable("Nothing was put in order; give all of the items from first to last.")
    if not isinstance(answer, (list, tuple)) or not all(isinstance(name, str) for name in answer):
        raise _Unreadable("The answer is not a list of the items; give all of them from first to last.")
    if any(name not in names for name in answer):
        raise _Unreadable("One of these is not among the items to be ordered.")
    if len(set(answer)) != len(answer):
        raise _Unreadable("One of the items is there more than once; give each of them once.")
    if len(answer) != len(names):
        raise _Unreadable("Some of the items are missing; give all of them from first to last.")
    return list(answer)


def concordance(order: Sequence[str], expected: Sequence[str]) -> float:
    """Return the share of pairs that stand in the same order in both (Kendall's concordance; 1 for equal orders).

    M. G. Kendall, A new measure of rank correlation, Biometrika 30 (1938): tau = 2 * share - 1.
    """
    place = {name: index for index, name in enumerate(expected)}
    pairs = [(a, b) for index, a in enumerate(order) for b in order[index + 1:]]
    return sum(place[a] < place[b] for a, b in pairs) / len(pairs) if pairs else 1.0


def _how_ordered(score: float) -> str:
    if score >= 0.75:
        return "Nearly: most pairs are in the right order."
    return "Partly: about half of the pairs are in the right order." if score >= 0.4 else "Few pairs are in the right order."


# ----------------------------------------------------------------------------------------------------- sliders
@dataclass(frozen=True)
class Trial:
    """How one hidden setting went: met or not, and which condition it misses, in words without numbers.

    Not where along the range, and not by how much: which end of a slider fails at which setting would say the side.
    """

    met: bool
    words: str = ""


def sliders_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Words,
    panel: str,
    controls: Sequence[Control | Choice],
    check: Callable[[Mapping[str, Any], Variant], Sequence[Trial]],
    truth: Callable[[Variant], Mapping[str, Any]],
    right: str,
    look: str = "",
    start: Callable[[Variant], Mapping[str, Any]] = lambda of: {},
    fixed: Callable[[Variant], Mapping[str, Any]] = lambda of: {},
    recognise: Mapping[str, Callable[[Mapping[str, Any], Variant], bool]] | None = None,
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
    prediction: bool = False,
    optional: bool = False,
) -> Exercise:
    """Return a task to be done with the sliders of a panel, judged at settings that the learner is not shown.

    `controls` are those of `panel` that the learner moves, from `start`; `fixed` are set for them. `check(values, variant)`
    runs the machine, with the learner's values, at each hidden setting; the mark is the share that is met. A belief is
    recognised by its predicate in `recognise`, or else by values within a step of its answer. A reply names the slip and never
    the side: opposite slips share one belief, whose reply says how either shows itself (a test halves by the replies).
    """
    known = {control.symbol: control for control in controls}
    predicates = dict(recognise or {})
    # The same values are judged again when a record is graded, and by everyone who leaves a slider at its end.
    trials = remembered(lambda asked: tuple(check(asked["values"], asked["variant"])), size=64)

    def believed(values: Mapping[str, Any], of: Variant) -> Misconception | None:
        for belief in misconceptions:
            if belief.key in predicates:
                held = predicates[belief.key](values, of)
            else:
                held = all(_same_setting(known[name], values[name], at) for name, at in belief.answer(of).items())
            if held:
                return belief
        return None

    def judge(answer: Any, of: Variant) -> Verdict:
        values = _read_sliders(answer, known)
        went = trials({"values": values, "variant": dict(of)})
        score = sum(trial.met for trial in went) / len(went)
        if score == 1.0:
            return right_answer(right)
        belief = believed(values, of)
        if belief is not None:
            return Verdict(False, score, belief.reply, belief.key)
        failed = next(trial for trial in went if not trial.met)
        said = f"Met at {in_words(sum(trial.met for trial in went))} of the {in_words(len(went))} hidden settings. {failed.words}"
        return Verdict(False, score, f"{said} {look}".strip())

    def form(of: Variant) -> dict[str, Any]:
        fixing, begin = dict(fixed(of)), {symbol: control.start for symbol, control in known.items()}
        labels = {symbol: _with_unit(control) for symbol, control in known.items()}
        begins = {**begin, **start(of)}
        return {"kind": "sliders", "panel": panel, "controls": list(known), "labels": labels, "fixed": fixing, "start": begins}

    return Exercise(
        key, lesson, title, "sliders", _seeded(variant), _worded(prompt), form,
        remembered(lambda of: dict(truth(of))), _forgiving(judge), tuple(hints), tuple(misconceptions), prediction, optional,
    )


def _read_sliders(answer: Any, known: Mapping[str, Control | Choice]) -> dict[str, Any]:
    if answer is None or answer == {} or answer == "":
        raise _Unreadable("No slider was set.")
    if not isinstance(answer, Mapping):
        raise _Unreadable("The answer holds no slider settings.")
    if any(name not in known for name in answer):
        raise _Unreadable("There is a setting here that does not belong to this task.")
    values: dict[str, Any] = {}
    for symbol, control in known.items():
        if symbol not in answer:
            raise _Unreadable(f"{control.label} is missing; set every slider of this task.")
        try:
            given = answer[symbol]
            left_out = isinstance(control, Choice) or control.optional and given is None
            values[symbol] = control.check(given if left_out else _number_and_unit(given)[0])
        except _Unreadable as why:
            raise _Unreadable(f"{control.label}: {str(why)[0].lower()}{str(why)[1:]}") from None
        except (ValueError, OverflowError):
            raise _Unreadable(f"{control.label} is out of range; set it {_limits(control)}.") from None
    return values


def _with_unit(control: Control | Choice) -> str:
    unit = control.unit if isinstance(control, Control) else "1"
    return control.label if unit in ("", "1") else f"{control.label} ({unit})"


def _limits(control: Control | Choice) -> str:
    if isinstance(control, Choice):
        return "to what is offered"
    return f"from {control.low:g} to {control.high:g}{'' if control.unit in ('', '1') else f' {control.unit}'}"


def _same_setting(control: Control | Choice, value: Any, other: Any) -> bool:
    if isinstance(control, Choice) or value is None or other is None:
        return bool(value == other)
    return abs(value - other) <= control.step


# --------------------------------------------------------------------------------------------------- functions
_OPENS, _ENDS = "#: blank", "#: end"


def stub_of(source: str) -> str:
    """Return `source` with each stretch from `#: blank what to do` to `#: end` replaced by `...  # what to do`."""
    lines, inside = [], False
    for line in source.strip("\n").splitlines():
        mark = line.strip()
        if mark.startswith(_OPENS):
            lines.append(f"{line[:len(line) - len(line.lstrip())]}...  # {mark[len(_OPENS):].strip()}")
            inside = True
        elif mark == _ENDS:
            inside = False
        elif not inside:
            lines.append(line)
    return "\n".join(lines) + "\n"


def solution_of(source: str) -> str:
    """Return `source` without the lines that mark its blanks."""
    kept = [line for line in source.strip("\n").splitlines() if not line.strip().startswith((_OPENS, _ENDS))]
    return "\n".join(kept) + "\n"


@dataclass(frozen=True)
class Case:
    """One hidden input of a function: `words` complete "wrong in the one where ..."; `expected` comes from the model."""

    words: str
    arguments: Sequence[Any]
    expected: float


def function_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Words,
    name: str,
    source: str,
    cases: Callable[[Variant], Sequence[Case]],
    right: str,
    look: str,
    tolerance: float = 0.005,
    absolute: float = 1e-12,
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
    optional: bool = True,
) -> Exercise:
    """Return a task to write a small function, judged by running it on inputs that the learner is not shown.

    `source` is the solution with its blanks marked (see `stub_of`): stub and solution are made from that one text.
    `cases` are the hidden inputs, with results worked out from the model, apart from `source`. A belief's answer is a wrong
    source: who returns what it returns, holds it. The learner's code never runs within `learner_code.code_never_runs()`.
    """
    stub, solution, hidden = stub_of(source), solution_of(source), remembered(cases)

    def near(value: float, other: float) -> bool:
        return abs(value - other) <= max(tolerance * abs(other), absolute)

    def alike(values: Sequence[float], others: Sequence[float]) -> bool:
        return all(near(value, other) for value, other in zip(values, others, strict=True))

    def judge(answer: Any, of: Variant) -> Verdict:
        if not learner_code.may_run():
            return NotAnAnswer(False, 0.0, "A function is not run when records are graded.")
        text = _read_source(answer)
        asked = hidden(of)
        inputs = [case.arguments for case in asked]
        try:
            values = [_read_result(result, name) for result in learner_code.run(text, name, inputs)]
        except learner_code.CodeFault as fault:
            return Verdict(False, 0.0, str(fault))
        met = [near(value, case.expected) for value, case in zip(values, asked, strict=True)]
        if all(met):
            return right_answer(right)
        score = sum(met) / len(met)
        belief = _beliefs(misconceptions, lambda wrong: alike(values, learner_code.run(wrong, name, inputs)), of)
        if belief is not None:
            return Verdict(False, score, belief.message, belief.misconception)
        first = next(case.words for case, good in zip(asked, met, strict=True) if not good)
        said = f"Right in {in_words(sum(met))} of the {in_words(len(met))} hidden cases; wrong in the one where {first}."
        return Verdict(False, score, f"{said} {look}")

    return Exercise(
        key, lesson, title, "function", _seeded(variant), _worded(prompt),
        lambda of: {"kind": "function", "name": name, "stub": stub},
        lambda of: solution, _forgiving(judge), tuple(hints), tuple(misconceptions), False, optional,
    )


def _read_source(answer: Any) -> str:
    if answer is None or isinstance(answer, str) and not answer.strip():
        raise _Unreadable("There is no code to run; fill in the blanks of the stub.")
    if not isinstance(answer, str):
        raise _Unreadable("The answer is not the text of a function; fill in the blanks of the stub.")
    if len(answer) <= learner_code.MAX_SOURCE:
        for number, line in enumerate(answer.splitlines(), 1):
            if line.partition("#")[0].strip() == "...":
                raise _Unreadable(f"Line {number} is still a blank (...); put your own lines in its place.")
    return answer


def _read_result(result: Any, name: str) -> float:
    if result is None:
        raise learner_code.CodeFault(f"{name} returned nothing; does it end with `return` and a value?")
    if type(result) not in (int, float):
        raise learner_code.CodeFault(f"{name} should return a number, but it returned something else ({type(result).__name__}).")
    try:
        value = float(result)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise learner_code.CodeFault(f"{name} returned a value that is not a finite number.")
    return value
