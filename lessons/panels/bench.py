"""Lesson 10: the bench. From readings to odds: what one reading tells, what the next would tell, and in which order to take them.

Both panels weigh the stored imagined coils (coilbench/stored.py), so they need no run of the model while a slider moves.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from coilbench import carried, stored
from coilbench.advice import LITTLE, SETTLED
from coilbench.asks import Ask, Setting, as_reading, asked
from coilbench.card import in_a_hundred
from coilbench.causes import BY_KEY as BY_CAUSE
from coilbench.causes import CAUSES, HYPOTHESES, Cause
from coilbench.causes import beforehand as beforehand
from coilbench.errors import NAMED, needed
from coilbench.kinds import BY_KEY as KINDS
from coilbench.kinds import Kind, Slider
from coilbench.sheet import Bench, parse, standing
from coilbench.sheet import Reading as Taken
from coilbench.verdict import Judged, Next
from lessons.contracts import Axis, Band, Bar, Bars, Chart, Choice, Control, Line, Panel, Picture, Preset, Reading, Values

START_VOLTS, AFTER = 100.0, 5.0
"""The self-discharge of this lesson: charged to so many volts, read again after so many seconds."""


@dataclass(frozen=True)
class Spot:
    """A reading that this lesson's panels know: its key and name, the question it answers, and its slider."""

    key: str
    name: str
    ask: Ask
    low: float
    high: float
    step: float
    rest: float
    why: str

    @property
    def kind(self) -> Kind:
        """The kind of reading."""
        return KINDS[self.ask.kind]

    @property
    def words(self) -> str:
        """The reading's name in full, to stand inside a sentence."""
        if self.ask.setting:
            return f"{self.kind.name} at {self.ask.setting.bench.rpm:g} rpm"
        return (self.kind.full or self.kind.name).format(**vars(self.ask))

    @property
    def minutes(self) -> float:
        """What it costs, of work at the bench."""
        return self.kind.minutes

    @property
    def unit(self) -> str:
        """The unit that people read it in; "1" for a count."""
        return self.kind.unit or "1"

    def si(self, value: float) -> float:
        """Return a value of the slider in SI."""
        return value * self.kind.one

    def inside(self, value: float) -> float:
        """Return a value in SI as the slider has it, rounded to its step."""
        steps = round(value / self.kind.one / self.step)
        return min(self.high, max(self.low, round(steps * self.step, 6)))

    def say(self, value: float) -> str:
        """Return a value in SI in words."""
        return self.kind.say(value)

    def taken(self, value: float) -> Taken:
        """Return a value of the slider as if it had stood in a sheet."""
        return as_reading(self.ask, self.si(value))


def _spot(kind: Kind, slider: Slider) -> Spot:
    ask = (Ask(kind.key, Setting(Bench(slider.rpm, slider.drive), stored.GAP)) if kind.running
           else Ask(kind.key, None, START_VOLTS, AFTER) if kind.key == "self_discharge" else Ask(kind.key))
    return Spot(slider.key, slider.name, ask, slider.low, slider.high, slider.step, slider.rest,
                slider.why.format(**vars(ask)))


SPOTS: tuple[Spot, ...] = tuple(_spot(kind, slider) for kind in sorted(KINDS.values(), key=lambda kind: kind.rank)
                                for slider in kind.sliders)
BY_SPOT: Mapping[str, Spot] = {spot.key: spot for spot in SPOTS}
ASKS = tuple(spot.ask for spot in SPOTS)


def name_of(ask: Ask) -> str:
    """Return the name of one of the lesson's readings, to stand inside a sentence."""
    return next(spot.words for spot in SPOTS if spot.ask == ask)


# ---------------------------------------------------------------------------------------------------- the demo coils
@cache
def demo() -> dict[str, dict[str, float]]:
    """Return the readings of the Larkfield Twelve's four coils, by coil and by key of SPOTS, as the sliders have them."""
    sheet = parse(carried.text_of(carried.WITH_THE_COURSE[0]).encode())
    found: dict[str, dict[str, float]] = {}
    for coil, rows in sheet.coils.items():
        readings = {asked(reading, stored.GAP): reading for reading in standing(rows)}
        found[coil] = {spot.key: spot.inside(readings[spot.ask].value) for spot in SPOTS if spot.ask in readings}
    return found


def of_coil(coil: str, *keys: str) -> dict[str, float]:
    """Return the named readings of a demo coil; all of them where none is named."""
    return {key: demo()[coil][key] for key in (keys or demo()[coil])}


# ------------------------------------------------------------------------------------------------------ in words
def odds_bars(shares: Mapping[str, float], title: str = "How likely each cause is now") -> Bars:
    """Return the odds of all causes as rows in a fixed order, so that the eye finds each where it was."""
    before, sure = beforehand(), named(shares)
    bars = []
    for cause in HYPOTHESES:
        share, strong = shares[cause.key], cause.key == sure
        bars.append(Bar(cause.name, 100.0 * share, in_a_hundred(share) + (", named" if strong else ""), strong,
                        100.0 * before[cause.key]))
    return Bars("odds", title, Axis("odds in 100", "1", 0.0, 100.0), tuple(bars), tick="before any reading")


FAR = 3.0  # half widths of the well-set range that the marks' axis holds


def range_bars(judged: Sequence[Judged], spots: Sequence[Spot]) -> Bars:
    """Return the readings as marks against the range that well-set coils give, all ranges drawn equally wide."""
    bars = []
    for one, spot in zip(judged, spots, strict=True):
        said = spot.say(one.reading.value)
        if one.never:
            bars.append(Bar(spot.name, None, f"{said}; well set: no parting", True))
        else:
            half = max(0.5 * (one.high - one.low), 1e-12)
            bars.append(Bar(spot.name, (one.reading.value - 0.5 * (one.low + one.high)) / half, f"{said}, {one.side}",
                            one.side != "within"))
    return Bars("ranges", "The readings against well-set coils", Axis("", "1", -FAR, FAR), tuple(bars), "current", "point",
                bands=(Band(-1.0, 1.0, "nine in ten well-set coils"),))


def range_words(judged: Judged, spot: Spot) -> str:
    """Return a reading with the range of well-set coils, in words."""
    said = f"{spot.words} {spot.say(judged.reading.value)}"
    if judged.never:
        return f"{said} (well-set coils do not part here)"
    return f"{said}, {judged.side} ({spot.say(judged.low)} to {spot.say(judged.high)})"


def next_words(steps: Sequence[Next], share: float, unconfirmed: bool = False) -> str:
    """Return what to measure next, or that nothing on the panel would tell much more."""
    if unconfirmed:
        return "Nothing mends that, so confirm it first, which this panel cannot: count its sparks with a known-good condenser."
    if share >= SETTLED:
        return "That settles it; no further reading is needed."
    if not steps or steps[0].bits < LITTLE:
        return "No further reading of this panel would tell much."
    word = "To be surer, take the" if share >= NAMED else "Most telling next: the"
    return f"{word} {name_of(steps[0].ask)}."


def sentence(shares: Mapping[str, float], steps: Sequence[Next], count: int) -> str:
    """Return the outcome and what comes next."""
    top = max(HYPOTHESES, key=lambda cause: shares[cause.key])
    return f"{outcome(shares, count)} {next_words(steps, shares[top.key], top.lasting and named(shares) == top.key)}"


def outcome(shares: Mapping[str, float], count: int) -> str:
    """Return the outcome of `count` readings: the named cause, or that they cannot tell."""
    first, second = sorted(HYPOTHESES, key=lambda cause: -shares[cause.key])[:2]
    share = shares[first.key]
    if named(shares) is not None:
        return f"Likeliest: {first.name}, {in_a_hundred(share)}."
    taken = "Nothing is measured yet" if not count else "One reading cannot tell" if count == 1 else (
        f"These {count} readings cannot tell")
    return f"{taken}: {first.name} {in_a_hundred(share)}, {second.name} {in_a_hundred(shares[second.key])}."


# -------------------------------------------------------------------------------------- panel 1: what readings tell
@lru_cache(maxsize=32)
def judged_sheet(taken: tuple[tuple[str, float], ...], steps: bool = True) -> tuple[dict[str, float], tuple[Next, ...],
                                                                                  tuple[Judged, ...]]:
    """Return odds by cause, what to measure next and the readings against their ranges, for (key, slider's value) pairs."""
    if not taken:
        shares, found = stored.before_any(ASKS)
        return {cause.key: share for cause, share in zip(HYPOTHESES, shares, strict=True)}, tuple(found), ()
    verdict = stored.judge([BY_SPOT[key].taken(value) for key, value in taken], next_steps=steps, fit=False, among=ASKS)
    return {cause.key: share for cause, share in verdict.odds}, verdict.next_steps, verdict.judged


def taken_of(values: Values) -> tuple[tuple[str, float], ...]:
    """Return the readings that were taken, as (key, slider's value)."""
    return tuple((spot.key, values[spot.key]) for spot in SPOTS if values.get(spot.key) is not None)


def _readings_picture(values: Values, whole: bool) -> Picture:
    taken = taken_of(values)
    shares, steps, judged = judged_sheet(taken, whole)
    said = sentence(shares, steps, len(taken)) if whole or not taken else outcome(shares, len(taken))
    spots = [BY_SPOT[key] for key, _ in taken]
    bars = (odds_bars(shares), *((range_bars(judged, spots),) if judged else ()))
    alt = [f"{said} The odds: " + "; ".join(f"{cause.name} {in_a_hundred(shares[cause.key])}" for cause in HYPOTHESES) + "."]
    if judged:
        alt.append("The readings: " + "; ".join(range_words(one, spot) for one, spot in zip(judged, spots, strict=True)) + ".")
    doubt = stored.doubt(list(shares.values()))
    shown = (Reading("Readings taken", str(len(taken)), float(len(taken))),
             Reading("Doubt left", f"{doubt:.1f} bits", doubt, "bits"))
    return Picture(said, " ".join(alt), shown, bars=bars)


def slider_of(spot: Spot) -> Control:
    """Return the slider of a reading; not taken until it is moved."""
    return Control(spot.key, spot.name, spot.unit, spot.low, spot.high, spot.step, spot.rest, spot.why, optional=True)


READINGS = Panel(
    "bench_readings",
    "What the readings tell",
    "Two sparks in every pulse at 600 rpm, and nothing else known: can you name the cause?",
    tuple(slider_of(spot) for spot in SPOTS),
    compute=lambda values: _readings_picture(values, True),
    quick=lambda values: _readings_picture(values, False),
    presets=(
        Preset("Nothing yet", {}, "These are the odds before any reading: what is common in such coils, and what is rare."),
        Preset("One reading", of_coil("Birch", "sparks450"), "Birch, counted at 450 rpm. Several causes are left, and none is "
               "named. Which reading is called the most telling?"),
        Preset("A meter instead", of_coil("Birch", "meter450"), "Birch again, but only the ammeter. Look how many causes it "
               "leaves."),
        Preset("Two readings", of_coil("Birch", "sparks450", "current450"), "The count and the opening current together: most of "
               "the list is struck out."),
        Preset("Alder", of_coil("Alder"), "Every mark within its range."),
        Preset("Birch", of_coil("Birch"), "Marks outside the range at which speeds?"),
        Preset("Cedar", of_coil("Cedar"), "Which single mark gives it away?"),
        Preset("Damson", of_coil("Damson"), "Low current, many sparks: which spring?"),
    ),
)


# ------------------------------------------------------------------------------- panel 2: in which order to take them
COILS = 40
LINES = 6
NONE, BEST = "none", "best"
ASKING = 10.0  # minutes: what it costs to have somebody work out which reading would tell most


@dataclass(frozen=True)
class Step:
    """One line of the sheet carried out: the reading, its value (SI; None: the contacts never part), the odds after it."""

    spot: Spot
    value: float | None
    shares: dict[str, float]
    asked: bool


@cache
def hidden(number: int) -> int:
    """Return which stored coil is number `number` of the club's box: its cause is drawn as the causes are likely beforehand."""
    draw = random.Random(6151 * number + 29).random
    wanted, place = draw() * sum(cause.prior for cause in CAUSES), 0
    while wanted > CAUSES[place].prior and place < len(CAUSES) - 1:
        wanted -= CAUSES[place].prior
        place += 1
    own = stored.imagined().own(place)
    return own[int(draw() * len(own))]


def fault_of(number: int) -> Cause:
    """Return what is wrong with coil `number`."""
    return stored.cause_of(hidden(number))


@cache
def read_off(number: int, key: str) -> float | None:
    """Return what a person reads on coil `number` (SI), error and rounding included: the same whenever it is read."""
    spot = BY_SPOT[key]
    value = stored.answer(spot.ask, hidden(number), random.Random(f"{number} {key}"))
    return None if value is None else spot.si(spot.inside(value))


def lines_of(values: Values, count: int = LINES) -> tuple[str, ...]:
    """Return the first `count` lines that are used, first to last, as far as they are to be carried out."""
    count = min(count, round(values.get("until", count)))
    lines = (str(values.get(f"line{place}", NONE)) for place in range(1, count + 1))
    return tuple(line for line in lines if line != NONE)


@lru_cache(maxsize=128)
def steps_of(number: int, lines: tuple[str, ...]) -> tuple[Step, ...]:
    """Return the lines of a sheet carried out on coil `number`; a reading that was taken already is passed over."""
    done = list(steps_of(number, lines[:-1])) if lines else []
    if not lines:
        return ()
    keys = [step.spot.key for step in done]
    key = lines[-1]
    if key == BEST:
        taken = [as_reading(step.spot.ask, step.value) for step in done if step.value is not None]
        left = [ask for ask in ASKS if ask not in {step.spot.ask for step in done}]
        nexts = (stored.judge(taken, fit=False, among=left, without=hidden(number)).next_steps if taken
                 else stored.before_any(left)[1])
        key = next((spot.key for step in nexts[:1] for spot in SPOTS if spot.ask == step.ask), "")
    if not key or key in keys:
        return tuple(done)
    value = read_off(number, key)
    known = [as_reading(step.spot.ask, step.value) for step in done if step.value is not None]
    known += [as_reading(BY_SPOT[key].ask, value)] if value is not None else []
    if known:
        verdict = stored.judge(known, next_steps=False, fit=False, without=hidden(number))
        shares = {cause.key: share for cause, share in verdict.odds}
    else:
        shares = beforehand()
    return (*done, Step(BY_SPOT[key], value, shares, lines[-1] == BEST))


def minutes_of(steps: Sequence[Step]) -> float:
    """Return what the lines cost: a speed or a reading set up twice costs twice."""
    return sum(step.spot.minutes + (ASKING if step.asked else 0.0) for step in steps)


def named(shares: Mapping[str, float]) -> str | None:
    """Return the key of the cause that is named, None where none is."""
    key = max(shares, key=shares.__getitem__)
    return key if shares[key] >= needed(BY_CAUSE[key]) else None


_DASHES = ("solid", "dashed", "dotted", "solid", "dashed")
_HUES = ("current", "cushion", "contact_voltage", "position", "plain")


def _chart(history: Sequence[Mapping[str, float]]) -> Chart:
    """Return how the odds of the leading causes went, reading by reading."""
    leading = sorted(HYPOTHESES, key=lambda cause: -max(shares[cause.key] for shares in history[1:] or history))[:4]
    lines = tuple(Line(cause.name, hue, [float(place) for place in range(len(history))],
                       [100.0 * shares[cause.key] for shares in history], dash)
                  for cause, hue, dash in zip(leading, _HUES, _DASHES, strict=False))
    return Chart("steps", "The odds, reading by reading", Axis("readings taken", "1", 0.0, float(LINES)),
                 Axis("odds in 100", "1", 0.0, 100.0), lines, bands=(Band(100.0 * NAMED, 100.0, "named", "y"),))


def _value_words(step: Step) -> str:
    return "the contacts do not part" if step.value is None else step.spot.say(step.value)


def _steps_picture(values: Values) -> Picture:
    number, lines = round(values["coil"]), lines_of(values)
    steps = steps_of(number, lines)
    history = [beforehand(), *(step.shares for step in steps)]
    shares = history[-1]
    first = max(HYPOTHESES, key=lambda cause: shares[cause.key])
    minutes = minutes_of(steps)
    count = f"{len(steps)} reading{'' if len(steps) == 1 else 's'}, {minutes:.0f} minutes"
    if not steps:
        said = f"Coil {number}: nothing measured yet. Choose the first reading."
    elif named(shares):
        said = f"Coil {number}, {count}: likeliest {first.name}, {in_a_hundred(shares[first.key])}."
    else:
        said = f"Coil {number}, {count}: no cause is named yet; {first.name} leads with {in_a_hundred(shares[first.key])}."
    log = tuple(Reading(f"{place}. {step.spot.words}", _value_words(step)) for place, step in enumerate(steps, 1))
    told = "; ".join(f"{one.label}: {one.text}" for one in log)
    went = " ".join(f"After {place}: {', '.join(f'{cause.name} {in_a_hundred(one[cause.key])}' for cause in _top(one))}."
                    for place, one in enumerate(history) if place)
    spent = Reading("Minutes", f"{minutes:.0f}", minutes, "min")
    return Picture(said, f"{said} The log: {told or 'empty'}. {went}", (*log, spent), charts=(_chart(history),) if steps else (),
                   bars=(odds_bars(shares),))


def _top(shares: Mapping[str, float]) -> list[Cause]:
    return sorted(HYPOTHESES, key=lambda cause: -shares[cause.key])[:2]


def sheet(*lines: str) -> dict[str, str]:
    """Return the values of the lines, the rest of the sheet empty."""
    return {f"line{place}": line for place, line in enumerate([*lines, *[NONE] * (LINES - len(lines))], 1)}


COIL_CONTROL = Control("coil", "Coil number", "1", 1.0, float(COILS), 1.0, 10.0, "Which coil of the club's box is on the bench.")
OPTIONS = ((NONE, "(nothing)"), *((spot.key, spot.name) for spot in SPOTS), (BEST, f"Ask which tells most (+{ASKING:.0f} min)"))
LINE_CONTROLS = tuple(Choice(f"line{place}", f"Reading {place}", OPTIONS, NONE, "One reading a line; each costs its minutes.")
                      for place in range(1, LINES + 1))

UNTIL_CONTROL = Control("until", "Carried out, up to line", "1", 1.0, float(LINES), 1.0, float(LINES),
                        "Go back along the sheet to see what was known then.")

STEPS = Panel(
    "bench_steps",
    "Which reading first?",
    "The same six readings in another order: do they end in other odds?",
    (COIL_CONTROL, *LINE_CONTROLS, UNTIL_CONTROL),
    compute=_steps_picture,
    presets=(
        Preset("Meter and condenser first", sheet("meter450", "capacity", "left", "travel", "sparks600", "current450"),
               "Follow the lines: when is a cause named?"),
        Preset("Counts first", sheet("sparks600", "current450", "travel", "left", "capacity", "meter450"),
               "The same six readings in another order. The last odds are the same; look where the line rises."),
        Preset("Most telling first", sheet(BEST, BEST, BEST, BEST), "Each reading is the one that tells most after those before "
               "it. The asking costs minutes, too."),
        Preset("Empty sheet", sheet(), "Choose the readings yourself, and another coil."),
    ),
)

PANELS = (READINGS, STEPS)
