"""A learner's own bench sheet in lesson 10: from the bytes of a file to coil cards that the face can draw.

Standard library only: in the book's pages this runs in the page itself, so a sheet never leaves the learner's machine.
"""

from __future__ import annotations

import re
from typing import Any

from lessons import carried
from lessons.bench import card as words
from lessons.bench import stored
from lessons.bench.card import CAUTIONS, MODEL_ONLY, describe, in_a_hundred
from lessons.bench.causes import CAUSES
from lessons.bench.errors import NAMED
from lessons.bench.sheet import BY_KEY, Sheet, Taken, parse, standing, template
from lessons.bench.units import UNITS, shown
from lessons.bench.verdict import Judged, Verdict
from lessons.contracts import Axis, Bar, Bars

LARGEST = 2_000_000  # bytes that a page reads; the command reads more
MESSAGES = 60  # sentences about rows that are shown; the rest are counted
EXAMPLE_NAME, TEMPLATE_NAME = "larkfield_twelve.csv", "my_coils.csv"


def example() -> dict[str, str]:
    """Return the example sheet as a file: its name and text."""
    return {"filename": EXAMPLE_NAME, "text": carried.text_of(carried.WITH_THE_COURSE[0])}


def empty_sheet() -> dict[str, str]:
    """Return an empty sheet to fill in as a file: its name and text."""
    return {"filename": TEMPLATE_NAME, "text": template()}


def read(data: bytes, name: str = "") -> Sheet:
    """Return the sheet in a file's bytes. Raises ValueError, one sentence, where it is no table of text at all."""
    called = shown(name, 60) or "This file"
    if len(data) > LARGEST:
        raise ValueError(f"{called} is larger than {LARGEST // 1_000_000} MB; a bench sheet is a small text file (CSV) with one "
                         "row a reading.")
    if not data.strip():
        raise ValueError(f"{called} is empty; 'Save an empty sheet' gives you one to fill in.")
    sheet = parse(data)
    if not sheet.coils and not sheet.rows and b"\0" in data[:4000] and not sheet.encoding.startswith("UTF-16"):
        raise ValueError(f"{called} is not a text file; save your spreadsheet as CSV and choose that.")
    return sheet


def summary(sheet: Sheet) -> dict[str, Any]:
    """Return what was found: a sentence, the coils' names, and a sentence for each thing that could not be used."""
    count = len(sheet.coils)
    empty = f", {sheet.empty_values} not measured yet" if sheet.empty_values else ""
    said = (f"{sheet.good} of {sheet.rows} rows used{empty}; {count} coil{'' if count == 1 else 's'}." if sheet.rows
            else "No readings were found.")
    messages = [_for_a_page(line) for line in sheet.messages]
    if len(messages) > MESSAGES:
        messages[MESSAGES:] = [f"... and {len(messages) - MESSAGES} more sentences like these."]
    return {"summary": said, "coils": list(sheet.coils), "messages": messages}


def _for_a_page(line: str) -> str:
    """Return a sentence of the sheet's reader with the button in the place of the command's option."""
    return re.sub(r"--new FILE makes a sheet to fill in", "'Save an empty sheet' gives you one to fill in", line)


def card(sheet: Sheet, coil: str) -> dict[str, Any]:
    """Return the card of one coil of `sheet`. Raises ValueError where there is no such coil."""
    if coil not in sheet.coils:
        raise ValueError(f"There is no coil '{shown(str(coil))}' in the sheet; choose the file again.")
    rows = sheet.coils[coil]
    readings = standing(rows)
    used, strange = stored.sort_out(readings)
    found: dict[str, Any] = {"coil": coil, "when": _when(rows), "filename": _file_name(coil), "bars": [], "table": [],
                             "cautions": CAUTIONS}
    if not used:
        return {**found, "sentence": "No reading here that this page can judge.", "notes": strange,
                "next": [] if strange else ["Take the sparks per pulse at 450 rpm first."]}
    verdict = stored.judge(readings)
    return {**found, "sentence": _flat(words._cause(verdict)), "next": [_flat(line) for line in words._next(verdict)],
            "bars": [odds_rows(verdict)], "table": [_row(one) for one in verdict.judged],
            "notes": [*strange, _flat(words._likeness(verdict)), *map(_flat, words._doubts(verdict)),
                      *map(_flat, words._remarks(verdict, readings)), *_remarks_of(rows), MODEL_ONLY]}


def odds_rows(verdict: Verdict) -> Bars:
    """Return the odds of a card as rows, likeliest first; causes under 1 in 100 are counted together."""
    named = [(cause, share) for cause, share in verdict.odds if share >= 0.01]
    whole = sum(cause.prior for cause in CAUSES)
    bars = [Bar(cause.name, 100.0 * share, in_a_hundred(share) + (", named" if share >= NAMED else ""), share >= NAMED,
                100.0 * cause.prior / whole) for cause, share in named]
    if rest := len(verdict.odds) - len(named):
        bars.append(Bar(f"the other {rest} causes", None, "each under 1 in 100"))
    return Bars("odds", "Likely causes", Axis("odds in 100", "1", 0.0, 100.0), tuple(bars), tick="before any reading")


def _flat(text: str) -> str:
    return " ".join(text.split())


def _row(judged: Judged) -> list[str]:
    """Return a line of the card's table: reading, taken, what a well-set coil gives, on which side of it."""
    kind = BY_KEY[judged.reading.kind]
    taken = kind.say(judged.reading.value)
    if judged.never:
        return [describe(judged.reading), taken, "its contacts do not part here", "another coil's"]
    low, high = (kind.say(limit, 3 if limit >= UNITS[kind.measure][kind.unit] else 2) for limit in (judged.low, judged.high))
    unit = f" {kind.unit}" if kind.unit else ""
    return [describe(judged.reading), taken, f"{low.removesuffix(unit)} to {high}", judged.side]


def _when(rows: list[Taken]) -> str:
    days = sorted({row.day for row in rows if row.day})
    when = "" if not days else f", {days[0]}" if len(days) == 1 else f", {days[0]} to {days[-1]}"
    return f"{len(rows)} row{'' if len(rows) == 1 else 's'}{when}"


def _remarks_of(rows: list[Taken]) -> list[str]:
    """Return what was adjusted and when, the latest few."""
    adjusted = [row for row in rows if row.kind == "adjusted"]
    return [f"Adjusted{f' on {row.day}' if row.day else ''}: {row.remark or 'no remark'}." for row in adjusted[-6:]]


def _file_name(coil: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9]+", "_", coil).strip("_").lower()[:40]
    return f"coil_card_{plain or 'coil'}.html"


