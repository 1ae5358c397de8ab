"""A learner's own bench sheet in lesson 10: from the bytes of a file to coil cards that the face can draw.

Standard library only: in the book's pages this runs in the page itself, so a sheet never leaves the learner's machine.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from coilbench import carried, stored
from coilbench.card import CAUTIONS, MODEL_ONLY, Series, anchor, fitted_words, how_words, in_a_hundred, view
from coilbench.causes import beforehand
from coilbench.sheet import Sheet, parse, standing, template
from coilbench.together import of_sheet
from coilbench.units import shown
from coilbench.verdict import Verdict
from lessons.contracts import Axis, Bar, Bars

LARGEST = 2_000_000  # bytes that a page reads; the command reads more
MESSAGES = 60  # sentences about rows that are shown; the rest are counted
HISTORIES = 6  # small charts of a card
ENOUGH = 12.0  # effective number of stored coils from which fitted numbers are shown
NO_FIT = ("Too few of this page's imagined coils come near to fit the machine's numbers; the command python3 course.py bench "
          "imagines more of them there.")
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
    messages = sheet.sentences("'Save an empty sheet' gives you one to fill in")
    if len(messages) > MESSAGES:
        messages[MESSAGES:] = [f"... and {len(messages) - MESSAGES} more sentences like these."]
    return {"summary": said, "coils": list(sheet.coils), "messages": messages}


def card(sheet: Sheet, coil: str) -> dict[str, Any]:
    """Return the card of one coil of `sheet`. Raises ValueError where there is no such coil."""
    if not isinstance(coil, str) or coil not in sheet.coils:
        raise ValueError(f"There is no coil '{shown(str(coil))}' in the sheet; choose the file again.")
    rows = sheet.coils[coil]
    readings = standing(rows)
    all_own = {name: standing(own) for name, own in sheet.coils.items()}
    own = next(one for one in of_sheet(sheet.coils, all_own) if coil in one.coils)
    used, strange = stored.sort_out(readings, own.store)
    verdict = own.together.verdict(coil) if used else None
    # Of few coils the limits say nothing: the command imagines more of them where they are needed.
    enough = verdict is not None and verdict.carried >= ENOUGH
    seen = view(coil, readings, verdict if enough or verdict is None else replace(verdict, fitted=()), rows)
    fitted = [[one.number.name, *fitted_words(one)] for one in seen.fitted if one.told]
    told = {series.what for series in seen.history[:HISTORIES]}  # a chart says what was read earlier
    remarks = [*seen.remarks, *(text for what, text in seen.earlier if what not in told)]
    steps = verdict is not None or not strange
    return {
        "coil": coil, "when": seen.when, "filename": _file_name(coil),
        "sentence": seen.cause if verdict else "No reading here that this page can judge.",
        "held": [*strange, *(own.held if verdict else ())],
        "cautions": CAUTIONS,
        "next": list(seen.next_steps) if steps else [],
        "how": {"words": how_words(seen.asked), "anchor": anchor(seen.asked)} if steps and seen.asked else None,
        "bars": [odds_rows(verdict)] if verdict else [],
        "table": [[line.what, line.taken, line.usual, line.side or "another coil's"] for line in seen.lines],
        "fitted": fitted,
        "history": [_history(series, seen.changes) for series in seen.history[:HISTORIES]],
        "notes": [*([seen.likeness] if verdict else []), *seen.doubts,
                  *([NO_FIT] if verdict and not enough and own.store is None else []),
                  *remarks, *([MODEL_ONLY] if verdict else [])],
    }


def odds_rows(verdict: Verdict) -> Bars:
    """Return the odds of a card as rows, likeliest first; causes under 1 in 100 are counted together."""
    before = beforehand()
    bars = []
    for cause, share in verdict.odds:
        if share >= 0.01:
            named = verdict.sure and cause is verdict.cause
            bars.append(Bar(verdict.called(cause), 100.0 * share, in_a_hundred(share) + (", named" if named else ""), named,
                            100.0 * before[cause.key]))
    if rest := len(verdict.odds) - len(bars):
        bars.append(Bar(f"the other {rest} causes", None, "each under 1 in 100"))
    return Bars("odds", "Likely causes", Axis("odds in 100", "1", 0.0, 100.0), tuple(bars), tick="before any reading")


def _history(series: Series, changes: Sequence[tuple[date | None, str]]) -> dict[str, Any]:
    """Return one reading's history for a small chart, days counted from the first, and the same in words."""
    unit = f" {series.kind.unit}" if series.kind.unit else ""
    first = series.points[0][0]
    happened = [(day, 0, f"{day}: {value:g}{unit}{'' if counts else ' (no longer counts)'}")
                for day, value, counts in series.points]
    happened += [(day, 1, f"{day}: adjusted ({what})") for day, what in changes if day]
    words = "; ".join(text for _, _, text in sorted(happened))
    usual = ""
    if series.usual:
        usual = f" A well-set coil gives {series.usual[0]:.3g} to {series.usual[1]:.3g}{unit}."
    return {
        "title": f"{series.what}{f', in{unit}' if unit else ''}", "words": f"{words}.{usual}",
        "points": [[(day - first).days, value, counts] for day, value, counts in series.points],
        "days": [str(first), str(series.points[-1][0])], "usual": series.usual,
        "changes": [(day - first).days for day, _ in changes if day and first <= day <= series.points[-1][0]],
    }


def _file_name(coil: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9]+", "_", coil).strip("_").lower()[:40]
    return f"coil_card_{plain or 'coil'}.html"
