"""What a stop of the talk is: a question, steps that each show something and say something, and what the room may object."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from lessons.contracts import Picture, Reading
from lessons.panels import PANELS


@dataclass(frozen=True)
class Claim:
    """What is said: the reading named `reading` lies from `low` to `high`, in the reading's own unit.

    With `against`, a place in the talk ("well", or "slack.2" for its second step), the claim is about the ratio of this reading
    to that one's. With `at`, it is about the picture after these sliders have been moved there. With `panel`, it is about that
    panel at its start (and `at`) instead of the step's own.
    """

    reading: str
    low: float
    high: float
    against: str = ""
    at: Mapping[str, Any] = field(default_factory=dict)
    panel: str = ""


@dataclass(frozen=True)
class Step:
    """One press of the key: the sliders go to `values` (beside the stop's own), and `say` is said.

    `more` is said in the long talk only. `do`: what to show by hand. `label` names the step in the presenter's window. In `say`
    and `more` {a reading's label} becomes that reading as people say it, {label@well} that of another place in the talk.
    """

    say: str
    more: str = ""
    do: str = ""
    label: str = "Show it"
    values: Mapping[str, Any] = field(default_factory=dict)
    claims: tuple[Claim, ...] = ()


@dataclass(frozen=True)
class Objection:
    """What somebody in a club will say, and what to answer (with the same {fields}, of the stop's first step)."""

    says: str
    answer: str
    claims: tuple[Claim, ...] = ()


@dataclass(frozen=True)
class Stop:
    """One stop of the talk: the question is projected alone, then each step comes at a key.

    key: its name, for tests and claims. panel, values: what is shown. parts, controls, readings: how much of the panel the room
    sees (as the attributes of <coil-panel>, see lessons/face/panel.js). minutes: how long it may take in the long talk; short:
    in the short one, nought where that passes it by. lead: what to say before the question. ask: the question to the room.
    answer: to `ask`, for the answer sheet. heard: whether the panel offers its sound, too.
    """

    key: str
    title: str
    panel: str
    minutes: float
    short: float
    lead: str
    ask: str
    answer: str
    steps: tuple[Step, ...]
    parts: tuple[str, ...]
    controls: tuple[str, ...]
    readings: tuple[str, ...]
    values: Mapping[str, Any] = field(default_factory=dict)
    objections: tuple[Objection, ...] = ()
    heard: bool = False

    def values_at(self, step: int) -> dict[str, Any]:
        """Return the slider positions of step number `step` (from 1), as far as they differ from the panel's own start."""
        return {**self.values, **self.steps[step - 1].values}

    def picture(self, step: int = 1) -> Picture:
        """Return the whole picture of step number `step` (from 1)."""
        return picture_at(self.panel, self.values_at(step))

    @property
    def claims(self) -> tuple[tuple[int, Claim], ...]:
        """Every claim of the stop with the number of its step; an objection's belong to the first."""
        of_steps = [(number, claim) for number, step in enumerate(self.steps, 1) for claim in step.claims]
        return (*of_steps, *((1, claim) for objection in self.objections for claim in objection.claims))


def picture_at(panel: str, values: Mapping[str, Any]) -> Picture:
    """Return the picture of the panel called `panel` at `values`; kept, since many claims ask for the same."""
    return _picture(panel, json.dumps(dict(values), sort_keys=True))


@lru_cache(maxsize=256)
def _picture(panel: str, values: str) -> Picture:
    return PANELS[panel].picture(json.loads(values))


def reading_of(picture: Picture, label: str) -> Reading:
    """Return the reading called `label`; KeyError says which there are."""
    for reading in picture.readings:
        if reading.label == label:
            return reading
    raise KeyError(f"there is no reading {label!r}; there are {', '.join(reading.label for reading in picture.readings)}")


def value_of(picture: Picture, label: str) -> float:
    """Return the number of the reading called `label`; NaN, which lies in no range, where it has none."""
    value = reading_of(picture, label).value
    return math.nan if value is None else value
