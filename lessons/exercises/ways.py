"""An answer in the words of its question: what the learner said, and the right one, to be shown after some tries."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from lessons.contracts import Exercise


def in_words(exercise: Exercise, variant: Mapping[str, Any], answer: Any) -> str:
    """Return `answer` (as the face gives it, or as `truth` does) as a person would say it; source text for a function."""
    return WORDS[exercise.kind](exercise.form(variant), answer)


def _number(answer: Any, unit: str) -> str:
    value, unit = (answer.get("value"), answer.get("unit", unit)) if isinstance(answer, Mapping) else (answer, unit)
    return f"{_value(value)}{'' if unit in ('', '1') else f' {unit}'}"


def _value(value: Any) -> str:
    return f"{value:.3g}" if isinstance(value, float) and abs(value) < 1000.0 else f"{value:g}" if isinstance(value, float) else (
        "not set" if value is None else str(value))


def _choice(form: Mapping[str, Any], answer: Any) -> str:
    return next((str(option["text"]) for option in form["options"] if option["key"] == answer), str(answer))


def _one_by_one(items: Sequence[Mapping[str, Any]], answer: Any) -> str:
    text = {item["key"]: item["text"] for item in items}
    return "; ".join(f"{place}. {text.get(key, key)}" for place, key in enumerate(answer, 1))


WORDS: Mapping[str, Callable[[Mapping[str, Any], Any], str]] = {
    "number": lambda form, answer: _number(answer, form["unit"]),
    "choice": _choice,
    "ordering": lambda form, answer: _one_by_one(form["items"], answer),
    "sliders": lambda form, answer: "; ".join(
        f"{form['labels'].get(name, name)}: {_value(value)}" for name, value in answer.items()),
    "log": lambda form, answer: _one_by_one(form["tools"], answer),
    "function": lambda form, answer: str(answer),
}
"""How an answer of each kind of exercise is said: (form, answer) -> words."""
