"""Numbers as people say them, and how long the talk is when it is spoken."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from lessons.talk.stop import Objection, Stop, reading_of
from lessons.talk.stops import STOPS, stop_named

WORDS_A_MINUTE = 130.0  # of somebody who speaks to a room: common practice, no source
LONG, SHORT = 45, 20  # minutes of the two talks

_SMALL = ("nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_UNITS = {  # unit: (one, many, decimals that are said of a value under ten)
    "mJ": ("millijoule", "millijoules", 0), "A": ("ampere", "amperes", 1), "ms": ("millisecond", "milliseconds", 1),
    "degrees": ("degree", "degrees", 0), "rpm": ("revolution a minute", "revolutions a minute", 0), "Hz": ("hertz", "hertz", 0),
    "V": ("volt", "volts", 0), "kV": ("kilovolt", "kilovolts", 0), "N": ("newton", "newtons", 1), "1": ("", "", 0),
    "1/s": ("a second", "a second", 0),
}
_FIELD = re.compile(r"\{([^}@]+)(?:@([a-z_]+)(?:\.(\d))?)?\}")


def _digits(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}" if value < 10.0 else f"{value:.0f}"
    text = text.removesuffix(".0")
    return _SMALL[int(text)] if text.isdigit() and int(text) < len(_SMALL) else text


def spoken(value: float, unit: str) -> str:
    """Return a size as people say it: rounded, in words up to twelve, one and many told apart, its sign left to the sentence.

    `unit` is a reading's; ValueError for one that nobody has found words for yet, and for what is no number.
    """
    size = abs(value)
    if not math.isfinite(size):
        raise ValueError(f"{value} {unit} cannot be said.")
    if unit == "mm" and size < 1.0:
        return f"{_digits(round(100.0 * size), 0)} hundredths of a millimetre"
    if unit == "m/s":
        finer = size < 0.02
        return f"{_digits((1e3 if finer else 100.0) * size, 0)} {'milli' if finer else 'centi'}metres a second"
    if unit not in _UNITS:
        raise ValueError(f"There are no words for the unit {unit!r}; add them to lessons/talk/said.py.")
    one, many, decimals = _UNITS[unit]
    if unit == "1" and size < 10.0 and abs(size - round(size)) > 0.05:
        return f"about {_digits(round(size), 0)}"
    if unit == "mJ" and 0.0 < size < 0.5:
        return "less than half a millijoule"
    said = _digits(round(size, -1) if unit == "rpm" and size >= 100.0 else size, decimals)
    return f"{said} {one if said == 'one' else many}".strip()


def filled(stop: Stop, text: str, step: int = 1) -> str:
    """Return `text` with each {label} put in words, read off step number `step` of `stop`, {label@place} off that place.

    KeyError where a field names no reading or no place: a talk with a hole in it must not build.
    """
    def words(found: re.Match[str]) -> str:
        label, place, number = found.groups()
        where = stop_named(place).picture(int(number or 1)) if place else stop.picture(step)
        reading = reading_of(where, label)
        if reading.value is None:
            raise KeyError(f"{stop.key}: {label!r} has no value here, {reading.text!r}")
        return spoken(reading.value, reading.unit)

    said = _FIELD.sub(words, text)
    return re.sub(r"(^|[.!?] )([a-z])", lambda found: found[1] + found[2].upper(), said)  # a number may begin a sentence


def lines(stop: Stop, long: bool = True) -> list[str]:
    """Return what is said at `stop`: before the question, the question, then at each step."""
    steps = [" ".join(filter(None, (step.say, step.more if long else ""))) for step in stop.steps]
    return [stop.lead, stop.ask, *(filled(stop, text, number) for number, text in enumerate(steps, 1))]


def objections(stop: Stop) -> list[Objection]:
    """Return what may be objected at `stop`, its answers filled in."""
    return [Objection(one.says, filled(stop, one.answer)) for one in stop.objections]


def minutes_of(stop: Stop, long: bool = True) -> float:
    """Return the minutes that `stop` may take; nought where the short talk passes it by."""
    return stop.minutes if long else stop.short


def told(long: bool = True) -> Sequence[Stop]:
    """Return the stops of the long or of the short talk, in order."""
    return [stop for stop in STOPS if minutes_of(stop, long)]


def speaking(long: bool = True) -> float:
    """Return how many minutes the lines of a talk take at WORDS_A_MINUTE; the rest is for showing, guesses and objections."""
    return sum(len(text.split()) for stop in told(long) for text in lines(stop, long)) / WORDS_A_MINUTE
