"""The coil card: what one coil's sheet says, in words; and the card as plain text for a terminal.

`view` makes a Card out of a verdict; `as_text` here, `card_html` and `card_pdf` only lay it out. Standard library only.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from coilbench.advice import Advice, advise
from coilbench.asks import Ask, Setting, minutes
from coilbench.causes import OTHER, Cause
from coilbench.errors import needed
from coilbench.kinds import BY_KEY, Kind
from coilbench.makes import belied, marked
from coilbench.running import run_on
from coilbench.sheet import Bench, Reading, Taken
from coilbench.together import BELIEVED
from coilbench.verdict import NUMBERS, Fitted, Judged, Verdict
from coilmodel.readings import in_words, read
from coilmodel.run import Run

WIDTH = 100
FEW = 25.0  # effective imagined coils: under this the fitted numbers are called rough

CAUTIONS = (
    "Before you touch anything: local codes and licensed practice come first. The secondary can exceed 20 kV; keep hands and "
    "leads away from it, and people with a pacemaker or another implant out of the room. A condenser keeps its charge: discharge "
    "it through a resistor before and after each measurement. No fuel vapour near a spark. Belts and flywheels take sleeves and "
    "fingers: guard them.")

MODEL_ONLY = (
    "The odds are the model's, under the priors and measurement errors that the course's page on the bench sheet states; where "
    "two faults hide one another they are wrong. They are no certificate of a coil.")

NUMBER = {number.key: number for number in NUMBERS}

NOTHING_YET = ("No reading to judge yet. Take the sparks per pulse at 450 rpm first; till then leave the coil "
               "alone and bend nothing.")


# ----------------------------------------------------------------------------------------------------- what it holds
@dataclass(frozen=True)
class Line:
    """One reading: what was read, what it gave, what a well-set coil gives, and on which side of that it lies."""

    what: str
    taken: str
    usual: str
    side: str  # "within", "below", "above", or "" where a well-set coil gives nothing here
    judged: Judged


@dataclass(frozen=True)
class Series:
    """One reading's history: (day, value in the reading's own unit, whether it still counts), and the well-set range."""

    what: str
    brief: str  # the same without what goes without saying
    kind: Kind
    points: tuple[tuple[date, float, bool], ...]
    usual: tuple[float, float] | None


@dataclass(frozen=True)
class Card:
    """What a coil card says, ready to be laid out."""

    name: str
    when: str
    lines: tuple[Line, ...]
    remarks: tuple[str, ...]
    earlier: tuple[tuple[str, str], ...]  # of what was read earlier too: `what` of its Series, and the earlier readings
    cause: str  # the sentence of the likeliest cause
    odds: tuple[tuple[str, float], ...]
    sure: bool
    likeness: str
    doubts: tuple[str, ...]
    fitted: tuple[Fitted, ...]
    next_steps: tuple[str, ...]
    asked: Kind | None  # the reading that the next step asks for
    history: tuple[Series, ...]
    changes: tuple[tuple[date | None, str], ...]  # what was adjusted, and when
    undated: int  # readings without a date, which no history can show
    held: tuple[str, ...] = ()  # sentences: against what it is judged, and what the sheet's coils say together


def view(name: str, readings: Sequence[Reading], verdict: Verdict | None, rows: Sequence[Taken],
         held: Sequence[str] = ()) -> Card:
    """Return the card of one coil.

    readings : what was judged; verdict : None where nothing could be; rows : all the coil's good rows; held : sentences on what
    it is held against, of its sheet (together.OneMake)
    """
    changes = tuple((row.day, row.remark or "adjusted") for row in rows if row.kind == "adjusted")
    undated = sum(row.day is None and row.kind not in ("adjusted", "gap") for row in rows)
    if verdict is None:
        return Card(name, _when(rows), (), (), (), "", (), False, "", (), (), (NOTHING_YET,), BY_KEY["sparks"],
                    _history(readings, None, rows), changes, undated)
    advice = advise(verdict)
    return Card(
        name, _when(rows),
        tuple(Line(describe(judged.reading), BY_KEY[judged.reading.kind].say(judged.reading.value), usual(judged),
                   "" if judged.never else judged.side, judged) for judged in verdict.judged),
        tuple(_remarks(verdict, readings, rows)), tuple(_earlier(readings)), _cause(verdict),
        tuple((verdict.called(cause), odds) for cause, odds in verdict.odds),
        verdict.sure, _likeness(verdict), tuple(_doubts(verdict)), verdict.fitted, tuple(_next(verdict, advice)),
        _asked(verdict, advice), _history(readings, verdict, rows), changes, undated, tuple(held))


def _when(rows: Sequence[Taken]) -> str:
    days = sorted({row.day for row in rows if row.day})
    when = "" if not days else f", {days[0]}" if len(days) == 1 else f", {days[0]} to {days[-1]}"
    return f"{len(rows)} row{'s' if len(rows) != 1 else ''}{when}"


def describe(reading: Reading) -> str:
    """Return what was read and where, in words."""
    return _place_in_words(reading.last) + (f" (mean of {len(reading.rows)})" if len(reading.rows) > 1 else "")


def _place_in_words(row: Taken, brief: bool = False) -> str:
    words = BY_KEY[row.kind].name
    if row.kind == "self_discharge":
        meter = "" if row.meter_ohms is None else f", meter {row.meter_ohms / 1e6:g} Mohm"
        words += f", {row.start_volts:g} V after {row.after_seconds:g} s{meter}"
    return words + (f" {row.bench.say(brief)}" if row.bench else "")


def usual(judged: Judged) -> str:
    """Return what a well-set coil gives, in words."""
    kind = BY_KEY[judged.reading.kind]
    return "none: its contacts do not part here" if judged.never else kind.between(judged.low, judged.high)


def _remarks(verdict: Verdict, readings: Sequence[Reading], rows: Sequence[Taken]) -> list[str]:
    lines = []
    if marked(rows) and belied(readings) is None:
        lines.append(f"Marked as known good, which alone gave it {in_a_hundred(BELIEVED)}; the others are held against it.")
    if verdict.gap_assumed and any(reading.bench for reading in readings):
        lines.append(f"The bench's spark gap is taken to break down at {verdict.gap / 1e3:g} kV; the sheet does not say.")
    if any(row.drive_assumed for reading in readings for row in reading.rows):
        lines.append("Where the drive is left out, the magneto is taken to be at 100 %.")
    return lines + _row_remarks(readings)


def _earlier(readings: Sequence[Reading]) -> Iterator[tuple[str, str]]:
    for reading in readings:
        if reading.older:
            kind = BY_KEY[reading.kind]
            before = ", ".join(kind.say(row.value) + (f" ({row.day})" if row.day else "") for row in reading.older[-4:])
            yield _place_in_words(reading.last), f"Earlier {describe(reading)}: {before}."


def _row_remarks(readings: Sequence[Reading]) -> list[str]:
    """Return what the sheet remarks on the readings that count, each remark once with the readings it stands at."""
    at: dict[str, list[str]] = {}
    for reading in readings:
        for remark in dict.fromkeys(row.remark for row in reading.rows if row.remark):
            at.setdefault(remark, []).append(describe(reading))
    return [f"Remark on {f'all {len(places)} readings' if len(places) == len(readings) > 1 else '; '.join(places)}: {remark}"
            for remark, places in at.items()]


def in_a_hundred(odds: float) -> str:
    """Return odds as people say them; never a certainty."""
    return "over 99 in 100" if odds > 0.99 else "under 1 in 100" if odds < 0.01 else f"{100.0 * odds:.0f} in 100"


def _cause(verdict: Verdict) -> str:
    others = [f"{verdict.called(cause)} {in_a_hundred(odds)}" for cause, odds in verdict.odds[1:4] if odds >= 0.02]
    then = f" Then: {'; '.join(others)}." if others else ""
    most = f"{verdict.called(verdict.cause)}, {in_a_hundred(verdict.odds[0][1])}.{then}"
    if verdict.sure:
        return f"Likeliest: {most}"
    if verdict.unconfirmed:
        return ("These readings cannot tell yet: nothing mends this, so it is named only after a reading that confirms it. "
                f"Likeliest {most}")
    wanted = needed(verdict.cause)
    if verdict.odds[0][1] < wanted:
        why = f"it would need {100 * wanted:.0f} in 100" if verdict.cause.lasting else f"no cause has {100 * wanted:.0f} in 100"
    elif verdict.second_fault:
        why = (f"two faults, or something else, have {in_a_hundred(dict(verdict.odds)[OTHER])}, and one cause alone is named "
               f"where they have under {100 * verdict.second_limit:.0f}")
    else:
        why = "no coil is well set whose sparks were not counted"
    return f"These readings cannot tell: {why}. Likeliest {most}"


def severity_in_words(cause: Cause, severity: tuple[float, float, float]) -> str:
    """Return how bad a fault is. severity : median, and the limits that hold nine in ten (of the cause's own scale)."""
    median, low, high = severity
    if not cause.what:
        return "a well-set coil"
    number = NUMBER[cause.what]
    if cause.absolute:
        return f"a coil whose {number.name} is {number.say(median)} ({number.say(low)} to {number.say(high)})"
    if cause.what == "drive":
        return f"a coil on a magneto of {median:.2f} ({low:.2f} to {high:.2f}) of the strength that the sheet says"
    return f"a coil with {median:.2f} ({low:.2f} to {high:.2f}) of a well-set coil's {number.name}"


def _likeness(verdict: Verdict) -> str:
    """Return what the model says of the coil: the imagined coil that agrees best, run on the sheet's first bench."""
    benches = [judged.reading.bench for judged in verdict.judged if judged.reading.bench]
    bench = max(benches, key=benches.count) if benches else Bench(450.0, 1.0)
    run = run_on(verdict.likeness, Setting(bench, verdict.gap))
    said = _sparks_alone(run) if verdict.relative else in_words(run)
    kind = severity_in_words(verdict.single, verdict.severity)
    taken = f"Of single faults it is most like {kind}" if verdict.cause is OTHER else f"The model takes it for {kind}"
    return f"{taken}. The one that agrees best, {bench.say()}: {said[0].lower()}{said[1:]}"


def _sparks_alone(run: Run) -> str:
    """Return what a run's pulses gave, without amperes and milliseconds, which are those of an imagined make."""
    result = read(run)
    if result.opening_current.mean is None:
        return "The contacts never part; no spark."
    if result.single == 1.0:
        weak = f", but {100.0 * result.misfired:.0f} in 100 of them too weak to light the charge" if result.misfired else ""
        return f"One spark in every pulse{weak}."
    misfires = f"; {100.0 * result.misfired:.0f} in 100 pulses misfire" if result.misfired else ""
    return f"{result.sparks_per_pulse:.2g} sparks a pulse on average{misfires}."


def _doubts(verdict: Verdict) -> list[str]:
    lines = []
    if verdict.fit < 0.01 and verdict.cause is not OTHER:
        least = f" The reading that agrees least is {describe(verdict.worst)}; take it again." if verdict.worst else ""
        lines.append("No single cause of the list agrees well with these readings: two things may be wrong at once, or "
                     f"a reading is off.{least}")
    if verdict.weight < 4.0:
        lines.append("Few imagined coils come near these readings, so the odds are rough.")
    elif verdict.fitted and verdict.carried < FEW:
        lines.append("Few imagined coils come near these readings, so the fitted numbers are rough.")
    return lines


def _asked(verdict: Verdict, advice: Advice) -> Kind | None:
    """Return the kind of reading that the next step asks for."""
    if advice.again and verdict.worst:
        return BY_KEY[verdict.worst.kind]
    return BY_KEY[advice.measure.ask.kind] if advice.measure else None


def anchor(kind: Kind) -> str:
    """Return where on the page of readings at home a kind stands: as the book's own headings are addressed.

    >>> anchor(BY_KEY["meter_rms"])
    'meter-rms'
    """
    return re.sub(r"[^a-z0-9]+", "-", kind.name.lower()).strip("-")


def how_words(kind: Kind) -> str:
    """Return where it stands how a reading is taken."""
    return f"How: the course's page 'Every reading at home', part '{kind.name}'."


def _next(verdict: Verdict, advice: Advice) -> list[str]:
    lines = []
    if advice.again and verdict.worst:
        lines.append(f"Take {describe(verdict.worst)} again first: of all the readings it agrees least with any single fault.")
    elif advice.measure is not None:
        lines.append(_measure(verdict, advice))
    if advice.remedy is not None:
        first = "Then, if it agrees: " if lines and not advice.leave else "Do next: "
        lines.append(f"{first}{advice.remedy.remedy}")
    elif not lines:
        lines.append("No further reading of the list is worth its minutes: none would settle it.")
    if not advice.leave:
        lines.append(leave(verdict))
    return lines


DOES_ITS_WORK = "Or leave it alone: nothing has to be done to a coil that does its work."
KEEP = "keep this sheet, and count its sparks again at the highest speed before the next season."
COUNTS = 3  # of a coil that fires otherwise than a well-set one, the farthest off, are said
LEAVE = f"{DOES_ITS_WORK} Then {KEEP}"


def leave(verdict: Verdict) -> str:
    """Return what it means for this coil to be left alone, by its own counts against those of a well-set coil."""
    if not verdict.counted:
        return f"{DOES_ITS_WORK} Whether this one does, none of the readings that were judged says. Then {KEEP}"
    off = [judged for judged in verdict.judged if judged.reading.kind == "sparks" and not judged.never
           and judged.side != "within" and not judged.reading.helped]
    if not off:
        return LEAVE
    shown = sorted(sorted(off, key=lambda one: -abs(one.reading.value - 1.0))[:COUNTS], key=off.index)
    say = BY_KEY["sparks"].say
    counts = "; ".join(f"{say(one.reading.value)}{'' if place else ' sparks a pulse'} {_at(one)}{_without(one.reading.value)}"
                       for place, one in enumerate(shown))
    if more := len(off) - len(shown):
        counts += f"; and {more} count{'s' if more > 1 else ''} more"
    good = "; ".join(dict.fromkeys(map(usual, shown)))
    older = any(judged.reading.older for judged in off)
    change = ("Whether it changes, the earlier counts above may show" if older else
              "Whether waiting makes it worse, one count cannot tell, and the model knows no wear")
    return (f"Or leave it alone, but then it goes on as it was counted: {counts}. A coil that is well set gives {good}. "
            f"{change}: {KEEP}")


def _at(judged: Judged) -> str:
    return judged.reading.bench.say() if judged.reading.bench else ""


def _without(value: float) -> str:
    """Return what a count says of pulses without a spark: each pulse that has one has at least one."""
    if value >= 1.0:
        return ""
    if value == 0.0:
        return " (no pulse that was counted has one)"
    return f" (at least {100.0 * (1.0 - value):.0f} in 100 pulses have none)"


def _measure(verdict: Verdict, advice: Advice) -> str:
    step = advice.measure
    assert step is not None
    kind = BY_KEY[step.ask.kind]
    now = verdict.odds[0][1]
    word = "To be surer, measure" if verdict.sure else "Measure"
    ran = "" if verdict.counted or kind.key != "sparks" else " Without a count no coil is called well set."
    return (f"{word} {ask_in_words(step.ask)}. It costs about {minutes(step.ask):g} minutes and needs {kind.needs}. What it "
            f"tells: on average the likeliest cause would then have {in_a_hundred(max(step.sureness, now))} instead of "
            f"{in_a_hundred(now)}.{ran}")


def ask_in_words(ask: Ask) -> str:
    """Return a reading that could be taken, in words, with what is to be done for it."""
    kind = BY_KEY[ask.kind]
    if ask.setting is None:
        return kind.asked.format(**vars(ask))
    first = " in place of its own (coil off; discharge both first)" if ask.setting.bench.aid == "condenser" else ""
    return f"the {kind.name} {ask.setting.bench.say()}{first}"


def _history(readings: Sequence[Reading], verdict: Verdict | None, rows: Sequence[Taken]) -> tuple[Series, ...]:
    """Return the history of each reading taken on more than one day: sparks first, then opening currents."""
    counting = {row.row for reading in readings for row in (*reading.rows, *reading.older)}
    ranges = {judged.reading.last.place: judged for judged in (verdict.judged if verdict else ()) if not judged.never}
    places: dict[tuple[str, Bench | None], list[Taken]] = {}
    for row in rows:
        if row.day and row.kind not in ("adjusted", "gap"):
            places.setdefault(row.place, []).append(row)
    found = []
    for place, taken in places.items():
        if len({row.day for row in taken}) < 2:
            continue
        kind = BY_KEY[place[0]]
        one = kind.one
        judged = ranges.get(place)
        taken.sort(key=lambda row: row.day or date.min)
        found.append(Series(_place_in_words(taken[-1]), _place_in_words(taken[-1], True), kind,
                            tuple((row.day, row.value / one, row.row in counting) for row in taken if row.day),
                            (judged.low / one, judged.high / one) if judged else None))
    return tuple(sorted(found, key=lambda series: (min(series.kind.rank, 2), -len(series.points), series.what)))


# ------------------------------------------------------------------------------------------------------ as plain text
def card(name: str, readings: Sequence[Reading], verdict: Verdict | None, rows: Sequence[Taken]) -> str:
    """Return the card of one coil as text."""
    return as_text(view(name, readings, verdict, rows))


def as_text(shown: Card) -> str:
    """Return a card as plain text, folded for a terminal."""
    title = f"{shown.name}  ({shown.when})"
    parts = [title, "=" * min(WIDTH, len(title))]
    if shown.lines:
        broad = max(52, *(len(line.what) for line in shown.lines))
        parts.append(f"  {'reading':<{broad}} {'taken':>12}   a well-set coil gives")
        parts += [f"  {line.what:<{broad}} {line.taken:>12}   {line.usual}{'  ' + line.side if line.side else ''}"
                  for line in shown.lines]
        parts += map(wrapped, (*shown.remarks, *(text for _, text in shown.earlier)))
        parts += ["", *map(wrapped, (shown.cause, shown.likeness, *shown.doubts)), ""]
    if shown.fitted:
        parts.append(f"  {'number of the machine':<44} {'likely':>10}   nine in ten lie in      before any reading")
        parts += [f"  {fitted.number.name:<44} {fitted_words(fitted)[0]:>10}   {fitted_words(fitted)[1]:<22}  "
                  f"{fitted_words(fitted)[2]}" for fitted in shown.fitted]
        parts.append("")
    parts += [wrapped(CAUTIONS), "", *map(wrapped, shown.next_steps)]
    if shown.asked:
        parts.append(wrapped(how_words(shown.asked)))
    return "\n".join(parts) + "\n"


def fitted_words(fitted: Fitted) -> tuple[str, str, str]:
    """Return a fitted number's likeliest value, its limits and its limits before any reading, in words."""
    say = fitted.number.say
    before = fitted.number.between(fitted.before_low, fitted.before_high)
    if not fitted.told:
        return "", "not told by these", before
    return say(fitted.median), fitted.number.between(fitted.low, fitted.high), before


def wrapped(text: str) -> str:
    """Return `text` folded to the card's width, set in a little."""
    return textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ")
