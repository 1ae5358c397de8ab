"""What a recorder writes above or beside its numbers: the step between samples, units and probe factors, in whatever order.

Recorders agree on little: "Sample interval,2e-06,s", "dt = 5 us", "Sampling rate: 200 kS/s", a row of titles
"X,CH1,Start,Increment" with its values beneath, or columns of words left of the numbers that end after a few rows. All of these
are read here; what is not understood is passed over, since nothing in it is a sample.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from coilbench.units import NotAQuantity, number, tidy

MOST = 400  # rows looked at
LEFT = 20  # rows of the file's middle whose first cells must be empty for words to stand beside the numbers

_STEP = re.compile(r"(x|horizontal|time|t)?[ _-]*(incr(ement)?|inc)|(sampl(e|ing)[ _-]*)?(interval|period|step|spacing)|"
                   r"(delta|d)[ _-]*(t|x|time)|time (per|a) sample|t[ _-]?step")
_RATE = re.compile(r"(sampl(e|ing|es)[ _-]*)(rate|frequency|freq|per second|a second)|fs|f[ _-]?sample")
_START = re.compile(r"(x|horizontal|time|t)?[ _-]*(start|origin|zero|offset)|start[ _-]*time|first sample|t0")
_FIGURE = re.compile(r"[-+]?\d*[.]?\d+([eE][-+]?\d+)?")
_UNITS = re.compile(r"((vertical|horizontal|x|y|time|channel)[ _-]*)?units?")
_PROBE = re.compile(r"probe([ _-]*(attenuation|atten|factor|ratio|scale))?|attenuation")
_PLAIN = {"volt": "V", "volts": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "second": "s", "seconds": "s",
          "sec": "s", "millivolt": "mV", "millivolts": "mV"}
_SECONDS = {"": 1.0, "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6,
            "ns": 1e-9}
_HERTZ = {"": 1.0, "hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9, "s/s": 1.0, "sa/s": 1.0, "ks/s": 1e3, "ksa/s": 1e3, "ms/s": 1e6,
          "msa/s": 1e6, "gs/s": 1e9, "gsa/s": 1e9, "1/s": 1.0, "samples/s": 1.0}


@dataclass
class Heading:
    """What was read: `step`: s between samples, None where nobody says; `units`, `probes`: one a channel, as written."""

    step: float | None = None
    units: list[str] = field(default_factory=list)
    time_unit: str = ""
    probes: list[float] = field(default_factory=list)
    rows: set[int] = field(default_factory=set)  # places of lines that were understood, which are no titles
    titles: int | None = None  # place of a row of titles with "Increment" in it


def plain_unit(text: str) -> str:
    """Return a unit's sign for its word; other text as it is.

    >>> plain_unit("Volt"), plain_unit("kV")
    ('V', 'kV')
    """
    return _PLAIN.get(text.strip().casefold(), text.strip())


def seconds_of(cells: Sequence[str], rate: bool = False) -> float | None:
    """Return the step (s) that `cells` say, a figure and its unit in one cell or two; rate : they say samples a second.

    >>> seconds_of(["5", "us"]), seconds_of(["200 kS/s"], rate=True), seconds_of(["soon"])
    (5e-06, 5e-06, None)
    """
    texts = [tidy(cell).strip('"() ') for cell in cells if cell.strip()]
    if not texts:
        return None
    found = re.fullmatch(r"([-+]?[\d.,]+(?:[eE][-+]?\d+)?)\s*(.*)", texts[0])
    if not found:
        return None
    unit = (found.group(2) or (texts[1] if len(texts) > 1 and not re.match(r"[-+\d]", texts[1]) else "")).casefold()
    try:
        value = number(found.group(1))
    except NotAQuantity:
        return None
    factor = (_HERTZ if rate else _SECONDS).get(unit)
    if factor is None or not value > 0.0:
        return None
    step = 1.0 / (value * factor) if rate else value * factor
    return float(f"{step:.12g}") if 1e-12 <= step <= 10.0 else None


def read_heading(lines: Sequence[str], first: int, delimiter: str) -> Heading:
    """Return what the lines before the numbers say. first : place of the first row of numbers; delimiter : between cells"""
    found = Heading()
    begin = max(0, first - MOST)
    for place in range(begin, first):
        cells = _pair(lines[place], delimiter)
        if len(cells) < 2:
            continue
        plain = [re.sub(r"[()\[\]:#]", " ", cell).casefold().strip() for cell in cells]
        if place + 1 < first and _beneath(plain, lines[place + 1], delimiter, found):
            found.rows.add(place + 1)
            found.titles = place
            continue
        key, unit = _key(cells[0])
        values = [cell for cell in cells[1:] if cell.strip()]
        if _STEP.fullmatch(key) or _RATE.fullmatch(key):
            step = seconds_of([*values[:1], *([unit] if unit else values[1:2])], bool(_RATE.fullmatch(key)))
            found.step = step if step is not None else found.step
        elif _UNITS.fullmatch(key):
            if re.match(r"horizontal|x|time", key):
                found.time_unit = plain_unit(values[0]) if values else ""
            else:
                found.units = [plain_unit(value) for value in values]
        elif _PROBE.fullmatch(key):
            found.probes = [factor for value in values if (factor := _factor(value)) is not None]
        elif not (_START.fullmatch(key) or any(_FIGURE.fullmatch(value.strip()) for value in values)):
            continue
        found.rows.add(place)
    return found


def _pair(line: str, delimiter: str) -> list[str]:
    """Return a line's cells; where it has one only, what stands before and after its colon or equals sign."""
    text = line.strip().lstrip("#;%/ \ufeff")
    cells = [cell.strip().strip('"') for cell in text.split(None if delimiter == " " else delimiter)]
    if len([cell for cell in cells if cell]) < 2 or re.match(r"[^,;\t]*[=:]", text) and delimiter == " ":
        cells = [cell.strip() for cell in re.split(r"[:=]", text.strip(delimiter), maxsplit=1)]
    return cells


def _key(cell: str) -> tuple[str, str]:
    """Return a key's words and the unit in brackets behind them."""
    found = re.fullmatch(r"(.*?)\s*[(\[]\s*([^()\[\]]+)\s*[)\]]\s*", cell.strip(" :="))
    words, unit = (found.group(1), found.group(2)) if found else (cell.strip(" :="), "")
    return words.casefold().strip(" :="), unit


def _beneath(titles: Sequence[str], line: str, delimiter: str, found: Heading) -> bool:
    """Read a row of titles with "Increment" behind the channels' names, whose value stands beneath it."""
    cells = [cell.strip().strip('"') for cell in line.split(None if delimiter == " " else delimiter)]
    at = next((place for place, title in enumerate(titles) if place >= 1 and _STEP.fullmatch(title)), None)
    if at is None or at >= len(cells):
        return False
    step = seconds_of([cells[at]])
    if step is None:
        return False
    found.step = step
    found.units = [plain_unit(cell) for cell in cells[1:at] if not re.match(r"[-+\d.]", cell)]
    return True


def _factor(text: str) -> float | None:
    figure = tidy(text).casefold().strip("x:* ")
    figure = figure.split(":")[0]
    try:
        value = number(figure)
    except NotAQuantity:
        return None
    return value if value > 0.0 else None


def apart(lines: list[str]) -> tuple[list[str], list[str]]:
    """Return (lines of numbers, lines of words) where words stand left of the numbers in the same rows, else (lines, []).

    Such columns are empty from some row on; the numbers keep their rows, so that sentences name the right one.
    """
    middle = [line for line in lines[len(lines) // 2:] if line.strip()][:2 * LEFT]
    if len(middle) < LEFT:
        return lines, []
    for delimiter in (";", "\t", ","):
        cells = [line.split(delimiter) for line in middle]
        empty = min(next((place for place, cell in enumerate(row) if cell.strip()), len(row)) for row in cells)
        if empty and all(len(row) > empty + 1 for row in cells) and any(
                cell.strip() for line in lines[:MOST] for cell in line.split(delimiter)[:empty]):
            numbers = [delimiter.join(line.split(delimiter)[empty:]) for line in lines]
            words = [delimiter.join(line.split(delimiter)[:empty]).rstrip(delimiter) for line in lines[:MOST]]
            return numbers, [line for line in words if line.strip()]
    return lines, []
