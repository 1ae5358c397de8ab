"""Lesson 8: in the car. The timer's window and lever, the firing angle and its jumps, and four coils on one magneto.

Angles are degrees of crank, counted from top dead centre of the cylinder concerned: minus before it, plus after. A car with four
cylinders fires every 180 degrees, eight pulses of a magneto with eight pole pairs, so all four meet the magneto alike and
each coil may be run by itself. Between its windows a coil rests for nearly two turns: every window begins from rest.

A window costs two whole turns of the crank, about as much work as five pulses of the magneto. So windows are kept by their
settings, and the staircase of the first panel is worked out over one pulse of the lever only: a lever one pulse
later fires one pulse later, with the current's sign turned (tested).

The Larkfield Twelve and its four coils are invented; so is where its magneto stands to its crank.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from functools import lru_cache

from coilbench.windows import CLOSES, PULSE, TOP, TOP_AFTER_ZERO, WIDTH, Spark, run_window, sparks_of
from coilmodel import Machine, Run
from coilmodel.sparks import EFFECTIVE
from coilmodel.timing import angle_of_time
from lessons.contracts import Axis, Band, Chart, Control, Ladder, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
ROD = 3.5  # connecting rod over crank radius; usual values lie between 3 and 4 (common practice, no source)


def piston(angle: float) -> float:
    """Return how far the piston is below its top, as a share of the stroke, at a crank angle in degrees from it.

    Slider and crank, rod ROD times the crank's radius; any textbook on engines.
    """
    turn = math.radians(angle)
    return 0.5 * (1.0 + ROD - math.cos(turn) - math.sqrt(ROD**2 - math.sin(turn) ** 2))


def from_top(angle: float) -> str:
    """Return an angle from top dead centre in words.

    >>> from_top(-19.3), from_top(3.24)
    ('19.3 degrees before the top', '3.2 degrees after the top')
    """
    return f"{abs(angle):.1f} degrees {'before' if angle < 0.0 else 'after'} the top"


# -------------------------------------------------------------------------------------------------- one window
@lru_cache(maxsize=4096)
def window(coil: Machine, rpm: float, drive: float, closes: float, width: float) -> tuple[Spark, ...]:
    """Return the sparks of one window of the timer, kept by its settings (see `run_window`)."""
    return sparks_of(run_window(coil, rpm, drive, closes, width))


# ----------------------------------------------------------------------------------------------- panel 1: the lever
STAIR = 1.5  # degrees between the places of the lever at which the staircase is worked out
LEVER_LOW, LEVER_HIGH = -75.0, 30.0

LEVER_CONTROL = Control(
    "lever", "Timer's lever", "degrees", LEVER_LOW, LEVER_HIGH, 0.5, CLOSES,
    "The crank angle at which the timer closes, from top dead centre, minus before it. The lever on the column moves it, earlier "
    "(advance) or later (retard).",
)
WIDTH_CONTROL = Control(
    "width", "Width of the window", "degrees", 5.0, 60.0, 1.0, WIDTH,
    "For how much of the crank's turn the timer's segment lets current through; wear changes it.",
)


def _speed_control() -> Control:
    return parts.speed_control(low=150.0, high=1500.0)


def stairs(coil: Machine, rpm: float, drive: float, width: float) -> tuple[list[float], list[float]]:
    """Return places of the lever and the angle of the first spark at each (NaN: none), in degrees from top dead centre."""
    count = round(PULSE / STAIR)
    first = -TOP_AFTER_ZERO - 2.0 * PULSE  # a zero of the EMF
    once = []
    for place in range(count):
        sparks = window(coil, rpm, drive, first + place * STAIR, width)
        once.append(sparks[0].angle if sparks else math.nan)
    low, high = math.ceil((LEVER_LOW - first) / STAIR), math.floor((LEVER_HIGH - first) / STAIR)
    places = range(low, high + 1)
    return [first + i * STAIR for i in places], [once[i % count] + PULSE * (i // count) for i in places]


def edges(lever: Sequence[float], angle: Sequence[float]) -> list[tuple[float, float, float]]:
    """Return the edges of a staircase: (lever just before it, last angle before the jump, earliest angle of the next step)."""
    found = []
    for place in range(len(lever) - 1):
        if angle[place + 1] - angle[place] > 0.4 * PULSE:
            found.append((lever[place], angle[place], min(angle[place + 1:place + 1 + round(PULSE / STAIR)])))
    return found


AROUND = 1.25 * PULSE  # degrees of lever that the staircase shows to either side: two edges, and steps high enough to see


def _stairs_chart(values: Values, sparks: Sequence[Spark]) -> Chart:
    lever, angle = stairs(NOMINAL, values["rpm"], values["drive"], values["width"])
    delay = min((a - s for s, a in zip(lever, angle, strict=True) if not math.isnan(a)), default=0.0)
    here = (Mark(values["lever"], sparks[0].angle, "your lever", "here", "secondary"),) if sparks else ()
    low = min(max(values["lever"] - AROUND, LEVER_LOW), LEVER_HIGH - 2.0 * AROUND)
    high = low + 2.0 * AROUND
    shown = [(s, a) for s, a in zip(lever, angle, strict=True) if low <= s <= high]
    fired = [a for _, a in shown if not math.isnan(a)]
    bottom, top = (5.0 * math.floor(min(fired) / 5.0), 5.0 * math.ceil(max(fired) / 5.0)) if fired else (low, high)
    never = tuple(Band(last, first, "no lever fires it here", "y") for at, last, first in edges(lever, angle)
                  if low <= at <= high and bottom <= last < first <= top)
    drawn: list[tuple[float, float]] = []
    for s, a in shown:  # a jump is a break in the curve
        if drawn and a - drawn[-1][1] > 0.4 * PULSE:
            drawn.append((0.5 * (s + drawn[-1][0]), math.nan))
        drawn.append((s, a))
    return Chart(
        "stairs", "Where it fires, over the lever", Axis("timer closes, from the top", "degrees", low, high, "the lever"),
        Axis("first spark, from the top", "degrees", bottom, top, "the lever: where it fires around there"),
        (
            Line("first spark", "secondary", [s for s, _ in drawn], [a for _, a in drawn]),
            Line("if it followed the lever", "plain", [s for s, _ in shown],
                 [s + delay if bottom <= s + delay <= top else math.nan for s, _ in shown], "dotted"),
        ),
        ((Mark(0.0, None, "top", "note"),) if low <= 0.0 <= high else ()) + here, never,
    )


def _window_strips(run: Run, values: Values, sparks: Sequence[Spark]) -> tuple[Chart, ...]:
    low, high = values["lever"] - 15.0, values["lever"] + values["width"] + PULSE
    angle = [angle_of_time(t, values["rpm"]) - TOP for t in run.strips.time]
    kept = [i for i, a in enumerate(angle) if low <= a <= high]
    across = [angle[i] for i in kept]
    axis = Axis("crank angle from the top", "degrees", low, high, "the lever")
    closed = Band(values["lever"], values["lever"] + values["width"], "timer closed")
    top = (Mark(0.0, None, "top", "note"),) if low <= 0.0 <= high else ()
    fired = tuple(Mark(spark.angle, None, f"spark {i}", "spark", "secondary") for i, spark in enumerate(sparks, 1))
    most = 1e-3 * NOMINAL.gap.breakdown
    # Pulses alternate in sign; the one that first parts the contacts is drawn with its current upward, so that windows compare.
    up = -1.0 if run.openings and run.openings[0].current < 0.0 else 1.0
    return (
        Chart("emf", "The magneto's EMF", axis, Axis("EMF", "V", -40.0, 40.0),  # 38 at 1500 rpm
              (Line("EMF", "emf", across, [up * run.strips.emf[i] for i in kept]),), top, (closed,)),
        Chart("current", "Primary current", axis, Axis("current", "A", -8.0, 8.0),
              (Line("current", "current", across, [up * run.strips.current[i] for i in kept]),), top, (closed,)),
        Chart("secondary", "Secondary voltage", axis, Axis("voltage", "kV", -1.15 * most, 1.15 * most),
              (Line("secondary voltage", "secondary", across, [1e-3 * up * run.strips.secondary_voltage[i] for i in kept]),),
              (*top, *fired), (closed,)),
    )


def _lever_words(values: Values, sparks: Sequence[Spark]) -> str:
    if not sparks:
        return "No spark in this window: the timer opens before the contacts have parted."
    first = sparks[0]
    more = f" {len(sparks)} sparks in the window, the last {from_top(sparks[-1].angle)}." if len(sparks) > 1 else ""
    return (
        f"The timer closes {from_top(values['lever'])}; the coil fires {from_top(first.angle)}, "
        f"{first.angle - values['lever']:.1f} degrees later, with the piston {100.0 * piston(first.angle):.1f} % of its stroke "
        f"from the top.{more}"
    )


def lever_readings(values: Values, sparks: Sequence[Spark]) -> tuple[Reading, ...]:
    """Return the readings of one window."""
    first = sparks[0] if sparks else None
    place = 100.0 * piston(first.angle) if first else None
    return (
        Reading("First spark", from_top(first.angle) if first else "none", first.angle if first else None, "degrees"),
        Reading("Piston, from its top", f"{place:.1f} % of the stroke" if place is not None else "none", place, "%"),
        Reading("Later than the timer closes", parts.number(first.angle - values["lever"], "degrees", 3) if first else "none",
                first.angle - values["lever"] if first else None, "degrees"),
        Reading("Sparks in the window", str(len(sparks)), float(len(sparks)), "1"),
        Reading("Opening current", parts.number(first.current if first else None, "A"), first.current if first else None, "A"),
        Reading("Spark energy, first spark", parts.number(1e3 * first.energy, "mJ") if first else "none",
                1e3 * first.energy if first else None, "mJ"),
    )


def _lever_picture(values: Values, whole: bool) -> Picture:
    run = run_window(NOMINAL, values["rpm"], values["drive"], values["lever"], values["width"], record=True)
    sparks = sparks_of(run)
    sentence = _lever_words(values, sparks)
    charts: tuple[Chart, ...] = ()
    extra = ""
    if whole:
        charts = (_stairs_chart(values, sparks),)
        line = charts[0].lines[1]
        steps = dict(zip(*stairs(NOMINAL, values["rpm"], values["drive"], values["width"]), strict=True))
        told = ", ".join(f"{s:.0f}: none" if math.isnan(steps[s]) else f"{s:.0f}: {steps[s]:.0f}" for s in list(line.x)[::2])
        extra = f" Chart of the first spark over the lever, both in degrees from the top, minus before it: {told}."
    closed = f"the timer is closed from {values['lever']:.1f} to {values['lever'] + values['width']:.1f} degrees"
    alt = f"Strips of EMF, current and secondary voltage over crank angle; {closed}. {sentence}{extra}"
    return Picture(sentence, alt, lever_readings(values, sparks), _window_strips(run, values, sparks), charts)


LEVER = Panel(
    "car_lever",
    "The lever and the spark",
    "You move the timer's lever ten degrees later. Will the spark come ten degrees later, five, or none at all?",
    (LEVER_CONTROL, WIDTH_CONTROL, _speed_control(), parts.drive_control()),
    compute=lambda values: _lever_picture(values, True),
    quick=lambda values: _lever_picture(values, False),
    presets=(
        Preset("Driving", {}, "The timer closes just before a pulse begins. The spark comes about half a pulse later: it is the "
               "pulse that fires, not the timer."),
        Preset("Five degrees later", {"lever": -28.0}, "The lever has moved five degrees. Look how little the spark has moved."),
        Preset("Last of the step", {"lever": -18.0}, "The timer closes in mid-pulse: the current starts late and the spark is "
               "dragged along, weaker. The next pulse fires too, before the window ends; a little later and it alone fires."),
        Preset("Over the edge", {"lever": -15.0}, "Three degrees of lever, and the spark jumps to the next pulse."),
        Preset("Starting by hand", {"lever": -10.0, "rpm": 200.0}, "After the top, where a hand crank does not kick back. "
               "Look at the staircase: the next place before this one is a whole pulse away."),
        Preset("Narrow window", {"width": 8.0}, "The timer opens again before the contacts part: no spark, in any coil."),
        Preset("Wide window", {"width": 50.0}, "Two pulses pass, and two sparks: the second a whole pulse late."),
    ),
)


# ------------------------------------------------------------------------------------------------ panel 2: four coils
VIBRATOR = round(NOMINAL.vibrator.preload, 2)  # N
NAMES = ("Alder", "Birch", "Cedar", "Damson")
FIRING_ORDER = ("Alder", "Birch", "Damson", "Cedar")  # the Larkfield's, invented
DIFFERENCES: dict[str, dict[str, float]] = {
    "Alder": {}, "Birch": {"cushion_preload": 0.75}, "Cedar": {"cushion_preload": 1.15},
    "Damson": {"cushion_travel": 0.8, "coil_primary_inductance": 1.04},
}
"""In what each coil differs from the nominal one apart from its vibrator, as factors: invented, and small enough to pass."""
AS_FOUND = {"alder": VIBRATOR, "birch": round(1.15 * VIBRATOR, 2), "cedar": round(0.9 * VIBRATOR, 2),
            "damson": round(1.2 * VIBRATOR, 2)}
MATCHED = {"alder": VIBRATOR, "birch": round(0.88 * VIBRATOR, 2), "cedar": round(1.07 * VIBRATOR, 2),
           "damson": round(1.05 * VIBRATOR, 2)}
FIRST, LAST = 4.0, 26.0
"""Degrees after the lever from which to which the ladder goes: where all coils fire, and narrow enough to see a zigzag of a
degree or two."""
TURNS = 3  # pairs of turns on the ladder, each with a window for every coil


def coil(name: str, preload: float) -> Machine:
    """Return the Larkfield's coil `name` with its vibrator's preload (N)."""
    return NOMINAL.scaled(**DIFFERENCES[name]).but(vibrator={"preload": preload})


def _vibrator_control(name: str) -> Control:
    return Control(
        name.lower(), f"{name}: vibrator preload", "N", round(0.75 * VIBRATOR, 2), round(1.35 * VIBRATOR, 2), 0.01,
        AS_FOUND[name.lower()], f"The one adjustment used here to match {name} to the others.",
    )


VIBRATOR_CONTROLS = tuple(_vibrator_control(name) for name in NAMES)
PLAY_CONTROL = Control(
    "play", "Play of the timer", "degrees", 0.0, 6.0, 0.5, 0.0,
    "How far a window may close early or late, degrees of crank either way: a worn segment or a loose roller.",
)


def play_of(turn: int, place: int, play: float) -> float:
    """Return by how many degrees this window closes late (minus: early), the same in every run; `play` either way."""
    return round(2.0 * play * (2.0 * random.Random(100 * turn + place + 7).random() - 1.0)) / 2.0


def rows_of(values: Values, turns: int) -> list[tuple[str, tuple[Spark, ...]]]:
    """Return (coil, sparks) for each window of `turns` pairs of turns, in the firing order."""
    return [
        (name, window(coil(name, values[name.lower()]), values["rpm"], values["drive"],
                      values["lever"] + play_of(turn, place, values["play"]), WIDTH))
        for turn in range(turns) for place, name in enumerate(FIRING_ORDER)
    ]


def spread_of(rows: Sequence[tuple[str, tuple[Spark, ...]]]) -> float | None:
    """Return the degrees from the earliest to the latest first spark, None where fewer than two fired."""
    angles = [sparks[0].angle for _, sparks in rows if sparks]
    return max(angles) - min(angles) if len(angles) > 1 else None


def _four_ladder(rows: Sequence[tuple[str, tuple[Spark, ...]]], lever: float) -> Ladder:
    marks = [(row, spark.angle, order) for row, (_, sparks) in enumerate(rows) for order, spark in enumerate(sparks, 1)]
    return Ladder(
        "Spark ladder, a row for each window, in the firing order",
        Axis("crank angle from its own top", "degrees", lever + FIRST, lever + LAST, "the lever"), len(rows),
        [row for row, _, _ in marks], [angle for _, angle, _ in marks], [order for _, _, order in marks],
        "window", [name for name, _ in rows], [int(spark.energy < EFFECTIVE) for _, sparks in rows for spark in sparks],
    )


def _four_picture(values: Values, turns: int) -> Picture:
    rows = rows_of(values, turns)
    spread = spread_of(rows)
    missed = sum(not sparks for _, sparks in rows)
    twice = sum(len(sparks) > 1 for _, sparks in rows)
    bits = [f"{missed} of {len(rows)} windows give no spark" if missed else "", f"{twice} of {len(rows)} give more than one"
            if twice else ""]
    said = "; ".join(bit for bit in bits if bit)
    if spread is None:
        sentence = "Hardly anything fires."
    else:
        sentence = (
            f"The first sparks lie within {spread:.{1 if spread >= 0.1 else 2}f} degrees of crank, "
            f"{1e3 * spread / (6.0 * values['rpm']):.2f} ms at this speed. {said[:1].upper()}{said[1:]}{'.' if said else ''}"
        ).strip()
    readings = [Reading("Spread of the first sparks", parts.number(spread, "degrees"), spread, "degrees")]
    for name in NAMES:
        first = next((sparks[0] for who, sparks in rows if who == name and sparks), None)
        text = f"{from_top(first.angle)}, parts at {first.current:.1f} A" if first else "no spark"
        readings.append(Reading(name, text, first.angle if first else None, "degrees"))
    told = "; ".join(f"{name} {', '.join(f'{s.angle:.1f}' for s in sparks) or 'none'}" for name, sparks in rows)
    alt = f"Spark ladder of {len(rows)} windows, sparks in degrees from the top, minus before it: {told}. {sentence}"
    return Picture(sentence, alt, tuple(readings), ladder=_four_ladder(rows, values["lever"]))


FOUR = Panel(
    "four_coils",
    "Four coils on one magneto",
    "Four coils with exactly the same force at each vibrator: will they fire at the same crank angle?",
    (*VIBRATOR_CONTROLS, LEVER_CONTROL, PLAY_CONTROL, _speed_control(), parts.drive_control()),
    compute=lambda values: _four_picture(values, TURNS),
    quick=lambda values: _four_picture(values, 1),
    presets=(
        Preset("As found", {}, "Four rows make a zigzag, and it repeats: each coil has its own place and keeps to it."),
        Preset("Equal spring force", dict.fromkeys(AS_FOUND, VIBRATOR), "The same force at every vibrator, and still a zigzag: "
               "the coils differ in other things too."),
        Preset("Matched", MATCHED, "Matched by where they fire, not by force: one column."),
        Preset("As found, hand-cranked", {"rpm": 200.0}, "The same four at hand-crank speed: the zigzag is wider."),
        Preset("Worn timer, on the step", {**MATCHED, "play": 3.0, "lever": -32.0}, "Every window closes up to three degrees "
               "early or late. The magneto's pulse keeps the column nearly straight."),
        Preset("Worn timer, at the edge", {**MATCHED, "play": 3.0, "lever": -18.0}, "The same play with the lever at the "
               "edge of a step: the first sparks are scattered, most windows fire twice, and some on the next pulse alone."),
    ),
)


# -------------------------------------------------------------------------------------------- panel 3: time and angle
def scatter_picture(values: Values) -> Picture:
    """Return what a scatter in time comes to in degrees of crank, over the speed: arithmetic alone."""
    speeds = [150.0 + 50.0 * i for i in range(28)]
    seconds = 1e-3 * values["scatter"]
    here = angle_of_time(seconds, values["rpm"])
    sentence = (
        f"A scatter of {values['scatter']:.2f} ms is {here:.2f} degrees of crank at {values['rpm']:.0f} rpm, and "
        f"{angle_of_time(seconds, 2.0 * values['rpm']):.2f} degrees at twice that speed."
    )
    chart = Chart(
        "scatter", "The same scatter, in degrees of crank", Axis("crank speed", "rpm", speeds[0], speeds[-1]),
        Axis("scatter", "degrees", 0.0, 10.0),
        (Line(f"{values['scatter']:.2f} ms", "secondary", speeds, [angle_of_time(seconds, n) for n in speeds]),),
        (Mark(values["rpm"], here, "your speed", "here", "secondary"),),
    )
    return Picture(sentence, f"Chart of degrees of crank over speed, a straight line through nothing. {sentence}",
                   (Reading("Scatter", parts.number(here, "degrees"), here, "degrees"),
                    Reading("Share of a pulse", parts.number(100.0 * here / PULSE, "%"), 100.0 * here / PULSE, "%")),
                   charts=(chart,))


SCATTER = Panel(
    "car_scatter",
    "What a scatter in time costs in angle",
    "A bench says that a coil's opening time scatters by a fifth of a millisecond. Is that much?",
    (
        Control("scatter", "Scatter of the opening time", "ms", 0.0, 1.0, 0.01, 0.2,
                "What a bench shows as the spread of opening times, from pulse to pulse or from coil to coil."),
        _speed_control(),
    ),
    compute=scatter_picture,
    presets=(
        Preset("At 450 rpm", {}, "Half a degree: nobody will notice."),
        Preset("At 1500 rpm", {"rpm": 1500.0}, "The same scatter in time is now more than three times as much in angle."),
    ),
)

PANELS = (LEVER, FOUR, SCATTER)
