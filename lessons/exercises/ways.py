"""An answer in the words of its question: what the learner said, and the right one, to be shown after some tries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lessons.contracts import Exercise


def in_words(exercise: Exercise, variant: Mapping[str, Any], answer: Any) -> str:
    """Return `answer` (as the face gives it, or as `truth` does) as a person would say it; source text for a function."""
    form = exercise.form(variant)
    if exercise.kind == "number":
        return _number(answer, form["unit"])
    if exercise.kind == "choice":
        return next((str(option["text"]) for option in form["options"] if option["key"] == answer), str(answer))
    if exercise.kind == "ordering":
        text = {item["key"]: item["text"] for item in form["items"]}
        return "; ".join(f"{place}. {text.get(key, key)}" for place, key in enumerate(answer, 1))
    if exercise.kind == "log":
        text = {tool["key"]: tool["text"] for tool in form["tools"]}
        return "; ".join(f"{place}. {text.get(key, key)}" for place, key in enumerate(answer, 1))
    if exercise.kind == "sliders":
        return "; ".join(f"{form['labels'].get(name, name)}: {_value(value)}" for name, value in answer.items())
    return str(answer)


def _number(answer: Any, unit: str) -> str:
    value, unit = (answer.get("value"), answer.get("unit", unit)) if isinstance(answer, Mapping) else (answer, unit)
    return f"{_value(value)}{'' if unit in ('', '1') else f' {unit}'}"


def _value(value: Any) -> str:
    return f"{value:.3g}" if isinstance(value, float) and abs(value) < 1000.0 else f"{value:g}" if isinstance(value, float) else (
        "not set" if value is None else str(value))
