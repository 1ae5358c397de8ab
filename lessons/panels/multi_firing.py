"""Lesson 6: multi-firing. One coil over every speed and drive, the tension map, and four causes laid side by side.

A map's cell is a short run of its own: `SETTLE` pulses to come into step, then `WATCHED` pulses counted. A browser's plain
Python takes 10 to 20 ms a pulse, so a whole map is kept under 250 pulses, is the same map in every home, and is kept by its
settings: while the learner moves a mark over a map, the map itself is not worked out again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import in_words, read, sparks_in_pulses
from lessons.contracts import Axis, Chart, Choice, Control, Line, Mark, Panel, Picture, Preset, Reading, TensionMap, Values
from lessons.panels import parts

NOMINAL = Machine()
CUSHION = NOMINAL.cushion.preload  # N
VIBRATOR = NOMINAL.vibrator.preload  # N

SETTLE, WATCHED = 2, 3
LADDER_PULSES, QUICK_PULSES = 16, 2

SPEEDS = tuple(130.0 + 80.0 * i for i in range(7))  # rpm: a hand crank at the left, driving speed from the middle on
DRIVES = tuple(40.0 + 20.0 * i for i in range(7))  # percent
CUSHIONS = tuple(round(CUSHION * (0.25 + 0.25 * i), 2) for i in range(9))  # N
VIBRATORS = tuple(round(VIBRATOR * (0.7 + 0.15 * i), 2) for i in range(5))  # N

NAMES = {
    0: "no spark in some pulses or all",
    1: "one spark in every pulse",
    2: "two sparks in some pulses or all",
    3: "three sparks or more in some pulses",
}

CUSHION_CONTROL = Control(
    "preload", "Cushion preload", "N", round(0.15 * CUSHION, 2), round(2.35 * CUSHION, 2), 0.01, round(CUSHION, 2),
    "The force with which the cushion blade sits on its rivet; it pushes the pair of contacts down, as the core pulls.",
)
VIBRATOR_CONTROL = Control(
    "vibrator_preload", "Vibrator preload", "N", round(0.65 * VIBRATOR, 2), round(1.35 * VIBRATOR, 2), 0.01, round(VIBRATOR, 2),
    "The upward force of the lower blade at the rivet: it sets the current at which the contacts part.",
)


def machine(values: Values) -> Machine:
    """Return the nominal machine with the two preloads of `values` (N)."""
    return NOMINAL.but(cushion={"preload": values["preload"]}, vibrator={"preload": values["vibrator_preload"]})


# ---------------------------------------------------------------------------------------------------- one cell
@dataclass(frozen=True)
class Cell:
    """What a short run of one setting comes to: the most sparks in a watched pulse, and what meters in the lead would say.

    `worst` is 1 only where every pulse gave one spark; 0 where some gave none and none gave two. Amperes without sign;
    `opening_current` is None where the contacts never part.
    """

    worst: int
    sparks_per_pulse: float
    opening_current: float | None
    rectified: float
    rms: float
    peak: float


def worst_pulse(counts: Sequence[int]) -> int:
    """Return the count of the pulse that is worst: the most sparks in one if any gave two or more, else 0 for a miss, else 1."""
    return max(counts) if max(counts) > 1 else min(counts)


@lru_cache(maxsize=2048)
def cell(coil: Machine, rpm: float, drive: float) -> Cell:
    """Return what `coil` does at `rpm` and `drive` (percent), from a run of SETTLE + WATCHED pulses."""
    run = simulate(coil, MagnetoDrive(rpm, drive / 100.0), pulses=WATCHED, warm_up=SETTLE)
    result = read(run)
    return Cell(
        worst_pulse(sparks_in_pulses(run)), result.sparks_per_pulse, result.opening_current.mean, result.ammeter_rectified,
        result.ammeter_rms, result.peak_current,
    )


def shown(worst: int) -> int:
    """Return the number under which a cell is drawn: three stands for three and more."""
    return min(worst, 3)


def preload_cells(rpm: float, drive: float) -> list[list[Cell]]:
    """Return the cells of the map over both preloads, one row for each of VIBRATORS, at `rpm` and `drive` (percent)."""
    return [
        [cell(machine({"preload": c, "vibrator_preload": v}), rpm, drive) for c in CUSHIONS] for v in VIBRATORS
    ]


def speed_cells(coil: Machine) -> list[list[Cell]]:
    """Return the cells of the map over speed and drive, one row for each of DRIVES, of one `coil`."""
    return [[cell(coil, rpm, drive) for rpm in SPEEDS] for drive in DRIVES]


def map_in_words(chart: TensionMap) -> str:
    """Return what a map shows, row by row from the top, for those who cannot see it."""
    rows = []
    for y, row in reversed(list(zip(chart.ys, chart.cells, strict=True))):
        rows.append(f"{y:g} {chart.y.unit}: {', '.join('blank' if value is None else str(value) for value in row)}")
    across = f"{chart.x.label} {chart.xs[0]:g} to {chart.xs[-1]:g} {chart.x.unit}"
    here = f" Your setting is at {chart.here[0]:g} {chart.x.unit}, {chart.here[1]:g} {chart.y.unit}." if chart.here else ""
    values = {value for row in chart.cells for value in row}
    names = "; ".join([f"{value} is {chart.names[value]}" for value in sorted(v for v in values if v is not None)]
                      + [f"blank is {chart.blank}"] * (None in values))
    return f"Map of {chart.y.label}, by rows from the top, {across} from left to right ({names}): {'. '.join(rows)}.{here}"


def _singles(chart: TensionMap) -> tuple[int, int]:
    values = [value for row in chart.cells for value in row]
    return values.count(1), len(values)


# ------------------------------------------------------------------------------- panel 1: a coil over every speed
def _run(values: Values, pulses: int) -> Run:
    return simulate(
        machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), pulses=pulses, warm_up=SETTLE, record=(0, 0),
        rows_a_pulse=300,
    )


def _picture(run: Run, drawn: TensionMap | None, more: str = "") -> Picture:
    sentence = f"{in_words(run)} {more}".strip()
    return Picture(
        sentence=sentence,
        alt=parts.describe(run, [map_in_words(drawn)] if drawn else []),
        readings=parts.opening_readings(read(run)),
        strips=(parts.current_strip(run), parts.position_strip(run)),
        ladder=parts.ladder(run),
        map=drawn,
    )


def quick(values: Values) -> Picture:
    """Return a ladder of a few pulses, for while the slider moves."""
    return _picture(_run(values, QUICK_PULSES), None)


def speed_map(values: Values) -> TensionMap:
    """Return the map of sparks per pulse over crank speed and drive for the coil of `values`, marked at its own test."""
    cells = [[shown(c.worst) for c in row] for row in speed_cells(machine(values))]
    return TensionMap(
        "Sparks in the worst pulse, over speed and drive", Axis("crank speed", "rpm"), Axis("drive", "%"), SPEEDS, DRIVES, cells,
        NAMES, (values["rpm"], values["drive"]),
    )


def over_speed(values: Values) -> Picture:
    """Return the ladder at one speed and drive, and the map of what the same coil does at all the others."""
    drawn = speed_map(values)
    good, all_ = _singles(drawn)
    return _picture(
        _run(values, LADDER_PULSES), drawn, f"On the map, {good} of {all_} speeds and drives give one spark in every pulse."
    )


SLACK = round(0.3 * CUSHION, 2)
STIFF = round(1.75 * CUSHION, 2)
SLOW = 210.0  # rpm: one of SPEEDS, a fast hand crank

OVER_SPEED = Panel(
    "every_speed",
    "One coil over every speed and drive",
    "A coil with a slack cushion gives one spark in every pulse when you crank it by hand. What will it do at driving speed?",
    (
        CUSHION_CONTROL, VIBRATOR_CONTROL, parts.speed_control(low=SPEEDS[0] - 30.0, high=SPEEDS[-1] + 30.0),
        parts.drive_control(),
    ),
    compute=over_speed,
    quick=quick,
    presets=(
        Preset("Well set", {}, "One straight column, and a broad field of ones on the map. Find your mark in it."),
        Preset(
            "Slack, tested slow", {"preload": SLACK, "rpm": SLOW},
            "One straight column: it passes. Now look to the right of your mark on the map, at the same drive.",
        ),
        Preset(
            "Slack, driven", {"preload": SLACK},
            "The same coil at driving speed: more than one mark in a pulse. Nothing was touched but the crank.",
        ),
        Preset(
            "Stiff, tested slow", {"preload": STIFF, "rpm": SLOW},
            "A stiff cushion does not hide: it fires more than once at hand-crank speed too, and parts early.",
        ),
        Preset(
            "Strong magneto", {"drive": 150.0},
            "A well-set coil on too strong a magneto: second sparks. Come down the map to where they stop.",
        ),
        Preset("Weak magneto", {"drive": 60.0}, "One spark, but later in the pulse. In the row below, none at any speed."),
    ),
)


# -------------------------------------------------------------------------------------- panel 2: the tension map
def tension_map(values: Values) -> TensionMap:
    """Return the map of sparks per pulse over both preloads at the speed and drive of `values`, marked at its own coil."""
    cells = [[shown(c.worst) for c in row] for row in preload_cells(values["rpm"], values["drive"])]
    return TensionMap(
        f"Tension map at {values['rpm']:.0f} rpm and {values['drive']:.0f} % drive: sparks in the worst pulse",
        Axis("cushion preload", "N"), Axis("vibrator preload", "N"), CUSHIONS, VIBRATORS, cells, NAMES,
        (values["preload"], values["vibrator_preload"]),
    )


def over_preloads(values: Values) -> Picture:
    """Return the learner's own ladder and its place on the map of all the pairs of preloads."""
    drawn = tension_map(values)
    good, all_ = _singles(drawn)
    return _picture(
        _run(values, LADDER_PULSES), drawn, f"On the map, {good} of {all_} pairs of preloads give one spark in every pulse."
    )


TENSION = Panel(
    "tension_map",
    "The tension map",
    "If you make both springs stiffer together, does the coil stay well set? And if you stiffen only one?",
    (
        CUSHION_CONTROL, VIBRATOR_CONTROL, parts.speed_control(low=SPEEDS[0] - 30.0, high=SPEEDS[-1] + 30.0),
        parts.drive_control(),
    ),
    compute=over_preloads,
    quick=quick,
    presets=(
        Preset("Well set", {}, "Your mark is inside the field of ones, with room on every side."),
        Preset("Slack cushion", {"preload": SLACK}, "Left of the field: the upper contact is left behind. Which way is home?"),
        Preset("Stiff cushion", {"preload": STIFF}, "Right of the field: early, at a low current. Two ways lead home: which?"),
        Preset(
            "Slack vibrator", {"vibrator_preload": round(0.7 * VIBRATOR, 2)},
            "Below the field: it parts at a low current too, just as with a stiff cushion.",
        ),
        Preset(
            "Both stiff", {"preload": round(1.5 * CUSHION, 2), "vibrator_preload": round(1.3 * VIBRATOR, 2)},
            "Far from the first mark, and yet in the field: it is the balance of the two springs that counts.",
        ),
        Preset(
            "Slack, tested slow", {"preload": SLACK, "rpm": SLOW},
            "At hand-crank speed the field of ones reaches out to the left, over the slack cushions: the trap in one picture.",
        ),
    ),
)


# ------------------------------------------------------------------------------------- panel 3: causes side by side
FAULTS: Mapping[str, tuple[str, Mapping[str, float], float]] = {
    # key: (words, factors of the nominal machine, drive in percent)
    "none": ("nothing: well set", {}, 100.0),
    "slack": ("cushion too slack", {"cushion_preload": 0.3}, 100.0),
    "stiff": ("cushion too stiff", {"cushion_preload": 1.75}, 100.0),
    "vibrator": ("vibrator too slack", {"vibrator_preload": 0.7}, 100.0),
    "strong": ("magneto too strong", {}, 150.0),
    "small": ("condenser far too small", {"condenser_capacitance": 0.1}, 100.0),
    "large": ("condenser twice too large", {"condenser_capacitance": 2.0}, 100.0),
    "leaky": ("condenser leaks badly", {"condenser_leakage_resistance": 3e-6}, 100.0),
}
SWEEP = tuple(150.0 + 75.0 * i for i in range(7))  # rpm


def faulty(key: str) -> tuple[Machine, float]:
    """Return the machine with the fault `key` of FAULTS, and the drive in percent that goes with it."""
    _, factors, drive = FAULTS[key]
    return NOMINAL.scaled(**factors), drive


def _fault_run(values: Values, pulses: int) -> Run:
    coil, drive = faulty(values["fault"])
    return simulate(coil, MagnetoDrive(values["rpm"], drive / 100.0), pulses=pulses, warm_up=SETTLE, record=(0, 0),
                    rows_a_pulse=300)


def _sweep(title: str, axis: Axis, quantity: str, pick: str, fault: str, rpm: float) -> Chart:
    def line(key: str, label: str, dash: str) -> Line:
        values = [getattr(cell(faulty(key)[0], speed, faulty(key)[1]), pick) for speed in SWEEP]
        return Line(label, quantity, SWEEP, [math.nan if value is None else value for value in values], dash)

    lines = [line("none", "well set", "dashed")]
    if fault != "none":
        lines.append(line(fault, f"this one: {FAULTS[fault][0]}", "solid"))
    named = title if len(lines) > 1 else f"{title}, well set"
    return Chart(pick, named, Axis("crank speed", "rpm", SWEEP[0], SWEEP[-1]), axis, tuple(lines),
                 (Mark(rpm, None, "the ladder's speed", "here"),) if SWEEP[0] <= rpm <= SWEEP[-1] else ())


def _beside(mine: tuple[Reading, ...], well: tuple[Reading, ...]) -> tuple[Reading, ...]:
    return tuple(
        Reading(a.label, f"{a.text} (well set: {b.text})", a.value, a.unit) for a, b in zip(mine, well, strict=True)
    )


@lru_cache(maxsize=64)
def _well_set_readings(rpm: float) -> tuple[Reading, ...]:
    return parts.opening_readings(read(simulate(NOMINAL, MagnetoDrive(rpm), pulses=WATCHED, warm_up=SETTLE)))


def _fault_picture(values: Values, pulses: int, charts: tuple[Chart, ...]) -> Picture:
    run = _fault_run(values, pulses)
    what = "No fault: well set" if values["fault"] == "none" else f"Fault: {FAULTS[values['fault']][0]}"
    sentence = f"{what}. {in_words(run)}"
    swept = [
        f"{chart.title}, from {SWEEP[0]:g} to {SWEEP[-1]:g} rpm: " + "; ".join(
            f"{line.label} {', '.join('none' if math.isnan(y) else f'{y:.2g}' for y in line.y)}" for line in chart.lines) + "."
        for chart in charts
    ]
    return Picture(sentence, parts.describe(run, swept), _beside(parts.opening_readings(read(run)),
                   _well_set_readings(values["rpm"])), charts=charts, ladder=parts.ladder(run))


def fault_quick(values: Values) -> Picture:
    """Return the faulty coil's readings and a short ladder at one speed."""
    return _fault_picture(values, QUICK_PULSES, ())


def fault_full(values: Values) -> Picture:
    """Return the faulty coil's ladder at one speed, and its sparks and opening current over all speeds beside a good one's."""
    fault, rpm = values["fault"], values["rpm"]
    return _fault_picture(values, LADDER_PULSES // 2, (
        _sweep("Sparks per pulse", Axis("sparks per pulse", "1", 0.0, 4.0), "plain", "sparks_per_pulse", fault, rpm),
        _sweep("Opening current", Axis("opening current", "A", 0.0, None), "current", "opening_current", fault, rpm),
    ))


CAUSES = Panel(
    "causes",
    "Four causes, side by side",
    "Which single reading tells a slack cushion from a stiff one? And which tells the condenser from both?",
    (
        Choice("fault", "What is wrong", tuple((key, words) for key, (words, _, _) in FAULTS.items()), "none",
               "One fault at a time, everything else as in the well-set coil."),
        parts.speed_control(low=SWEEP[0], high=SWEEP[-1]),
    ),
    compute=fault_full,
    quick=fault_quick,
    presets=(
        Preset("Cushion slack", {"fault": "slack"}, "A higher opening current, a slow parting; one spark when turned slowly."),
        Preset("Cushion stiff", {"fault": "stiff"}, "Opening current far below the good coil's, at every speed."),
        Preset("Vibrator slack", {"fault": "vibrator"}, "Reads like a stiff cushion: only a look at the springs can tell."),
        Preset("Magneto strong", {"fault": "strong"}, "Second sparks from a coil that has nothing wrong with it."),
        Preset("Condenser small", {"fault": "small"}, "Current and count as in the good coil; a weak spark, and an arc."),
        Preset("Condenser large", {"fault": "large"}, "Current as in the good coil; second sparks at some speeds."),
        Preset("Condenser leaks", {"fault": "leaky"}, "Current as in the good coil, no arc, and a weak spark."),
    ),
)

PANELS = (OVER_SPEED, TENSION, CAUSES)
