"""The coil card in plain text: readings against what well-set coils give, likely cause, next step, cautions.

Standard library only.
"""

from __future__ import annotations

import textwrap

from coilmodel.readings import in_words
from lessons.bench.asks import Ask, Setting
from lessons.bench.causes import Cause
from lessons.bench.errors import NAMED
from lessons.bench.running import run_on
from lessons.bench.sheet import BY_KEY, Bench, Reading, Taken
from lessons.bench.units import UNITS
from lessons.bench.verdict import Judged, Verdict

WIDTH = 100
SETTLED = 0.95  # odds beyond which no further measurement is asked for
WORTH = 0.02  # odds that a further measurement must add, on average, where the cause is named already
LITTLE = 0.05  # bits: a reading that is expected to tell less than this is not worth asking for

CAUTIONS = (
    "Before you touch anything: local codes and licensed practice come first. The secondary can exceed 20 kV; keep hands and "
    "leads away from it, and people with a pacemaker or another implant out of the room. A condenser keeps its charge: discharge "
    "it through a resistor before and after each measurement. No fuel vapour near a spark. Belts and flywheels take sleeves and "
    "fingers: guard them.")

MODEL_ONLY = (
    "The odds are the model's, under the priors and measurement errors that the course's page on the bench sheet states, and one "
    "fault at a time; they are no certificate of a coil.")


def card(name: str, readings: list[Reading], verdict: Verdict, rows: list[Taken]) -> str:
    """Return the card of one coil as text. readings : what was judged; rows : all its good rows, for the history."""
    parts = [_head(name, rows), _table(verdict), *_remarks(verdict, readings), "", _cause(verdict), _likeness(verdict)]
    parts += _doubts(verdict)
    parts += ["", *_next(verdict), "", wrapped(CAUTIONS)]
    return "\n".join(parts) + "\n"


def bare_card(name: str, rows: list[Taken]) -> str:
    """Return the card of a coil that has no reading which could be judged."""
    advice = "  No reading to judge yet. Take the sparks per pulse at 450 rpm first."
    return f"{_head(name, rows)}\n{advice}\n\n{wrapped(CAUTIONS)}\n"


def _head(name: str, rows: list[Taken]) -> str:
    days = sorted({row.day for row in rows if row.day})
    when = "" if not days else f", {days[0]}" if len(days) == 1 else f", {days[0]} to {days[-1]}"
    count = f"{len(rows)} row{'s' if len(rows) != 1 else ''}{when}"
    return f"{name}  ({count})\n{'=' * min(WIDTH, len(name) + len(count) + 4)}"


def _table(verdict: Verdict) -> str:
    lines = [f"  {'reading':<52} {'taken':>12}   a well-set coil gives"]
    for judged in verdict.judged:
        kind = BY_KEY[judged.reading.kind]
        lines.append(f"  {describe(judged.reading):<52} {kind.say(judged.reading.value):>12}   {_range(judged)}")
    return "\n".join(lines)


def describe(reading: Reading) -> str:
    """Return what was read and where, in words."""
    words = BY_KEY[reading.kind].name
    last = reading.last
    if reading.kind == "self_discharge":
        meter = "" if last.meter_ohms is None else f", meter {last.meter_ohms / 1e6:g} Mohm"
        words += f", {last.start_volts:g} V after {last.after_seconds:g} s{meter}"
    if reading.bench:
        words += f" {reading.bench.say()}"
    return words + (f" (mean of {len(reading.rows)})" if len(reading.rows) > 1 else "")


def _range(judged: Judged) -> str:
    kind = BY_KEY[judged.reading.kind]
    if judged.never:
        return "none: its contacts do not part here"
    low, high = (kind.say(limit, 3 if limit >= UNITS[kind.measure][kind.unit] else 2) for limit in (judged.low, judged.high))
    unit = f" {kind.unit}" if kind.unit else ""
    return f"{low.removesuffix(unit)} to {high}  {judged.side}"


def _remarks(verdict: Verdict, readings: list[Reading]) -> list[str]:
    lines = []
    if verdict.gap_assumed and any(reading.bench for reading in readings):
        lines.append(f"  The bench's spark gap is taken to break down at {verdict.gap / 1e3:g} kV; the sheet does not say.")
    if any(row.drive_assumed for reading in readings for row in reading.rows):
        lines.append("  Where the drive is left out, the magneto is taken to be at 100 %.")
    for reading in readings:
        if reading.older:
            kind = BY_KEY[reading.kind]
            before = ", ".join(kind.say(row.value) + (f" ({row.day})" if row.day else "") for row in reading.older[-4:])
            lines.append(f"  Earlier {describe(reading)}: {before}.")
    return lines


def in_a_hundred(odds: float) -> str:
    """Return odds as people say them; never a certainty."""
    return "over 99 in 100" if odds > 0.99 else "under 1 in 100" if odds < 0.01 else f"{100.0 * odds:.0f} in 100"


def _cause(verdict: Verdict) -> str:
    others = [f"{cause.name} {in_a_hundred(odds)}" for cause, odds in verdict.odds[1:4] if odds >= 0.02]
    then = f" Then: {'; '.join(others)}." if others else ""
    if verdict.sure:
        return wrapped(f"Likeliest: {verdict.cause.name}, {in_a_hundred(verdict.odds[0][1])}.{then}")
    return wrapped(f"These readings cannot tell: no cause has {100 * NAMED:.0f} in 100. Likeliest {verdict.cause.name}, "
                    f"{in_a_hundred(verdict.odds[0][1])}.{then}")


def _severity(cause: Cause, verdict: Verdict) -> str:
    median, low, high = verdict.severity
    if not cause.what:
        return "a well-set coil"
    what = {"condenser_capacitance": "condenser capacity"}.get(cause.what, cause.what.replace("_", " "))
    if cause.absolute:
        shown = {"condenser leakage resistance": "leakage resistance", "contacts resistance": "contact resistance",
                 "coil core resistance": "core's loss resistance"}[what]
        return f"a coil with a {shown} of {_ohms(median)} ({_ohms(low)} to {_ohms(high)})"
    if cause.what == "drive":
        return f"a coil on a magneto of {median:.2f} ({low:.2f} to {high:.2f}) of the strength that the sheet says"
    return f"a coil with {median:.2f} ({low:.2f} to {high:.2f}) of a well-set coil's {what}"


def _ohms(value: float) -> str:
    scale, unit = next((pair for pair in ((1e6, "Mohm"), (1e3, "kohm")) if value >= 0.995 * pair[0]), (1.0, "ohm"))
    return f"{float(f'{value / scale:.2g}'):g} {unit}"


def _likeness(verdict: Verdict) -> str:
    """Return what the model says of the coil: the imagined coil that agrees best, run on the sheet's first bench."""
    benches = [judged.reading.bench for judged in verdict.judged if judged.reading.bench]
    bench = max(benches, key=benches.count) if benches else Bench(450.0, 1.0)
    said = in_words(run_on(verdict.likeness, Setting(bench, verdict.gap)))
    return wrapped(f"The model takes it for {_severity(verdict.cause, verdict)}. The one that agrees best, {bench.say()}: "
                    f"{said[0].lower()}{said[1:]}")


def _doubts(verdict: Verdict) -> list[str]:
    lines = []
    if verdict.fit < 0.01:
        least = f" The reading that agrees least is {describe(verdict.worst)}; take it again." if verdict.worst else ""
        lines.append(wrapped("No single cause of the list agrees well with these readings: two things may be wrong at once, or "
                              f"a reading is off.{least}"))
    if verdict.weight < 4.0:
        lines.append(wrapped("Few imagined coils come near these readings, so the odds are rough."))
    return lines


def _next(verdict: Verdict) -> list[str]:
    lines = []
    if verdict.sure:
        lines.append(wrapped(f"Do next: {verdict.cause.remedy}"))
    if verdict.next_steps and verdict.odds[0][1] < SETTLED:
        best = verdict.next_steps[0]
        if best.bits < LITTLE or verdict.sure and best.sureness < verdict.odds[0][1] + WORTH:
            return lines if verdict.sure else [*lines, wrapped(
                "No single further reading of the list would settle it; the cause is as likely to show when you try the "
                "remedies, one at a time.")]
        now, then = verdict.odds[0][1], max(best.sureness, verdict.odds[0][1])
        word = "To be surer, measure" if verdict.sure else "Measure"
        lines.append(wrapped(f"{word} {ask_in_words(best.ask)}: it would tell most; on average the likeliest cause would then "
                              f"have {in_a_hundred(then)} instead of {in_a_hundred(now)}."))
        for step in verdict.next_steps[1:2]:
            if step.bits > 0.5 * best.bits:
                lines.append(wrapped(f"Nearly as good: {ask_in_words(step.ask)}."))
    return lines


def ask_in_words(ask: Ask) -> str:
    """Return a reading that could be taken, in words, with what is to be done for it."""
    kind = BY_KEY[ask.kind]
    if ask.kind == "self_discharge":
        return (f"the condenser's self-discharge, contacts held apart (say from {ask.start_volts:g} V, and what is left after "
                f"{ask.after_seconds:g} s)")
    if ask.setting is None:
        return {"capacity": "the condenser's capacity, contacts held apart",
                "travel": "the follow travel, bridge to rivet, coil off",
                "primary_resistance": "the primary's resistance, leads off"}[ask.kind]
    words = f"the {kind.name} {ask.setting.bench.say()}"
    return words + {"": "", "condenser": ", with a known-good condenser in place of its own (discharge both first)",
                    "contacts": ", after cleaning and dressing the contacts"}[ask.setting.aid]


def wrapped(text: str) -> str:
    """Return `text` folded to the card's width, set in a little."""
    return textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ")
