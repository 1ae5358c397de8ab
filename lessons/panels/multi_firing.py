"""Lesson 6: multi-firing. One coil over every speed and drive, the tension map, and the causes laid side by side.

A map's cell is a short run of its own: `SETTLE` pulses to come into step, then some counted. There are two maps of each kind.
The coarse one, of `WATCHED` pulses, is whole at once: for print and for whoever reads a picture without drawing it; it is kept by
its settings. The fine one, of `FINE` x `FINE` cells and `COUNTED` pulses, is filled by the face while the reader watches
(`contracts.Filling`), side by side on all cores, and stays while only the mark on it moves.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import in_words, read, sparks_in_pulses
from coilmodel.sparks import EFFECTIVE
from coilmodel.tally import TOO_WEAK, numbers_of
from lessons.contracts import (
    Axis,
    Band,
    Chart,
    Choice,
    Control,
    Filling,
    Line,
    Mark,
    Panel,
    Picture,
    Preset,
    Reading,
    Runs,
    TensionMap,
    Values,
)
from lessons.panels import bad_coils, parts
from lessons.sound import sound_at

NOMINAL = bad_coils.NOMINAL
CUSHION = NOMINAL.cushion.preload  # N
VIBRATOR = NOMINAL.vibrator.preload  # N

SETTLE, WATCHED = 2, 3
LADDER_PULSES, QUICK_PULSES = 16, 2

SPEEDS = tuple(130.0 + 80.0 * i for i in range(7))  # rpm: a hand crank at the left, driving speed from the middle on
DRIVES = tuple(40.0 + 20.0 * i for i in range(7))  # percent
CUSHIONS = tuple(round(CUSHION * (0.175 + 0.275 * i), 2) for i in range(9))  # N; slack and well set among them
VIBRATORS = tuple(round(VIBRATOR * (0.7 + 0.15 * i), 2) for i in range(5))  # N

FINE, COUNTED = 41, 8  # of the fine maps: settings along each axis, pulses counted in each cell

WEAK = TOO_WEAK  # what stands for a cell whose sparks are too weak; no count of sparks
LETTERS = {WEAK: "w"}
NOT_RUN = "not worked out: its contacts rattle too fast"
NAMES = {
    0: "misfires: no spark in some pulses or all",
    1: "one spark in every pulse, and it lights the charge",
    2: "two sparks in some pulses or all",
    3: "three sparks or more in some pulses",
    WEAK: "misfires: sparks, but in some pulses or all too weak to light the charge",
}

CUSHION_CONTROL = Control(
    "preload", "Cushion preload", "N", round(0.15 * CUSHION, 2), round(2.4 * CUSHION, 2), 0.01, round(CUSHION, 2),
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
    """What a short run of one setting comes to: what its watched pulses did, and what meters in the lead would say.

    `worst` is what the worst pulse did, a key of NAMES or more sparks than three: 0 or WEAK wherever a pulse misfired (has no
    spark that lights the charge, coilmodel.sparks), 1 only where every pulse gave one spark and that one lights. Amperes
    without sign, joules; `opening_current` is None where the contacts never part.
    """

    worst: int
    sparks_per_pulse: float
    opening_current: float | None
    first_energy: float
    rectified: float
    rms: float
    peak: float


def worst_pulse(counts: Sequence[int], misfired: float) -> int:
    """Return what the worst pulse did (see Cell): 0: no spark, WEAK: too weak ones, else the most sparks in one.

    counts: of sparks, pulse by pulse; misfired: share of the pulses without a spark that lights the charge.
    """
    if misfired:
        return 0 if min(counts) == 0 else WEAK
    return max(counts)


@lru_cache(maxsize=2048)
def cell(coil: Machine, rpm: float, drive: float) -> Cell:
    """Return what `coil` does at `rpm` and `drive` (percent), from a run of SETTLE + WATCHED pulses."""
    run = simulate(coil, MagnetoDrive(rpm, drive / 100.0), pulses=WATCHED, warm_up=SETTLE)
    result = read(run)
    return Cell(
        worst_pulse(sparks_in_pulses(run), result.misfired), result.sparks_per_pulse, result.opening_current.mean,
        result.first_spark_energy, result.ammeter_rectified, result.ammeter_rms, result.peak_current,
    )


def shown(worst: int) -> int:
    """Return the number under which a cell is drawn: three stands for three and more; WEAK stays what it is."""
    return worst if worst == WEAK else min(worst, 3)


def preload_cells(rpm: float, drive: float) -> list[list[Cell]]:
    """Return the cells of the map over both preloads, one row for each of VIBRATORS, at `rpm` and `drive` (percent)."""
    return [
        [cell(machine({"preload": c, "vibrator_preload": v}), rpm, drive) for c in CUSHIONS] for v in VIBRATORS
    ]


def speed_cells(coil: Machine) -> list[list[Cell]]:
    """Return the cells of the map over speed and drive, one row for each of DRIVES, of one `coil`."""
    return [[cell(coil, rpm, drive) for rpm in SPEEDS] for drive in DRIVES]


def map_in_words(chart: TensionMap, every: int = 1) -> str:
    """Return what a map shows, row by row from the top, for those who cannot see it; of a fine one `every` so many rows."""
    cells = [row[::every] for row in chart.cells[::every]]
    chart = dataclasses.replace(chart, xs=chart.xs[::every], ys=chart.ys[::every], cells=cells)

    def written(value: int | None) -> str:
        return "blank" if value is None else chart.letters.get(value, str(value))

    rows = []
    for y, row in reversed(list(zip(chart.ys, chart.cells, strict=True))):
        rows.append(f"{y:g} {chart.y.unit}: {', '.join(written(value) for value in row)}")
    across = f"{chart.x.label} {chart.xs[0]:g} to {chart.xs[-1]:g} {chart.x.unit}"
    here = f" Your setting is at {chart.here[0]:g} {chart.x.unit}, {chart.here[1]:g} {chart.y.unit}." if chart.here else ""
    values = {value for row in chart.cells for value in row}
    names = "; ".join([f"{written(value)} is {chart.names[value]}" for value in sorted(v for v in values if v is not None)]
                      + [f"blank is {chart.blank}"] * (None in values))
    return f"Map of {chart.y.label}, by rows from the top, {across} from left to right ({names}): {'. '.join(rows)}.{here}"


def _tally(chart: TensionMap, what: str) -> str:
    """Return how many cells of a map, named `what`, are good and how many misfire."""
    values = [value for row in chart.cells for value in row]
    bad = values.count(0) + values.count(WEAK)
    return (f"On the map, {values.count(1)} of {len(values)} {what} give one spark in every pulse that lights the charge; at "
            f"{bad} it misfires.")


# ------------------------------------------------------------------------------- panel 1: a coil over every speed
def _run(values: Values, pulses: int, pulse: int = 0) -> Run:
    return simulate(
        machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), pulses=pulses, warm_up=SETTLE,
        record=(pulse, pulse), rows_a_pulse=300,
    )


def one_pulse(values: Values, pulse: int) -> Picture:
    """Return the ladder at one setting, with the strips of this `pulse` of it."""
    return _picture(_run(values, LADDER_PULSES, pulse), None, pulse=pulse)


def _picture(run: Run, drawn: TensionMap | None, more: str = "", pulse: int = 0) -> Picture:
    sentence = f"{in_words(run)} {more}".strip()
    return Picture(
        sentence=sentence,
        alt=parts.describe(run, [map_in_words(drawn)] if drawn and not drawn.later else []),
        readings=parts.opening_readings(read(run)),
        strips=(parts.current_strip(run, pulse), parts.position_strip(run, pulse)),
        ladder=parts.ladder(run, pulse),
        map=drawn,
    )


def quick(values: Values) -> Picture:
    """Return a ladder of a few pulses, for while the slider moves."""
    return _picture(_run(values, QUICK_PULSES), None)


def speed_map(values: Values) -> TensionMap:
    """Return the map of what pulses do over crank speed and drive for the coil of `values`, marked at its own test."""
    cells = [[shown(c.worst) for c in row] for row in speed_cells(machine(values))]
    return TensionMap(
        "What the worst pulse does, over speed and drive", Axis("crank speed", "rpm"), Axis("drive", "%"), SPEEDS, DRIVES, cells,
        NAMES, (values["rpm"], values["drive"]), letters=LETTERS, sets=("rpm", "drive"),
    )


def over_speed(values: Values) -> Picture:
    """Return the ladder at one speed and drive, and the map of what the same coil does at all the others."""
    drawn = speed_map(values)
    return _picture(_run(values, LADDER_PULSES), drawn, _tally(drawn, "speeds and drives"))


def fine_speed_map(values: Values, cells: Sequence[int | None] = ()) -> TensionMap:
    """Return the fine map over speed and drive, with `cells` row by row, or without any yet."""
    return TensionMap(
        "What the worst pulse does, over speed and drive", Axis("crank speed", "rpm"), Axis("drive", "%"), _fine(SPEEDS),
        _fine(DRIVES), _in_rows(cells), NAMES, (values["rpm"], values["drive"]), NOT_RUN, LETTERS,
        "" if cells else f"preloads {values['preload']} and {values['vibrator_preload']} N", ("rpm", "drive"),
    )


def speed_runs(values: Values, places: Sequence[int]) -> Runs:
    """Return the runs behind the cells of the fine map over speed and drive at these places."""
    coil, speeds, drives = machine(values), _fine(SPEEDS), _fine(DRIVES)
    return _runs([(coil, MagnetoDrive(speeds[place % FINE], drives[place // FINE % FINE] / 100.0)) for place in places])


def _fine(ends: Sequence[float]) -> tuple[float, ...]:
    """Return the settings of a fine map, from the first to the last of `ends`."""
    return tuple(ends[0] + (ends[-1] - ends[0]) * i / (FINE - 1) for i in range(FINE))


def _in_rows(cells: Sequence[int | None]) -> list[list[int | None]]:
    if cells and len(cells) != FINE * FINE:
        raise ValueError(f"cells: {len(cells)} are not those of a map of {FINE} x {FINE}.")
    return [list(cells[row * FINE:(row + 1) * FINE]) if cells else [None] * FINE for row in range(FINE)]


def _runs(settings: Sequence[tuple[Machine, MagnetoDrive]]) -> Runs:
    return Runs([numbers_of(coil, drive, COUNTED, SETTLE) for coil, drive in settings], COUNTED, "worst", 3)


def _words(drawn: TensionMap, what: str) -> tuple[str, str]:
    """Return the sentence on a finished fine map and the map in words, of which one row in five is said."""
    return _tally(drawn, what), map_in_words(drawn, every=5)


SLACK = round(bad_coils.SLACK * CUSHION, 2)
STIFF = round(bad_coils.STIFF * CUSHION, 2)
STRONG = 150.0  # percent: a magneto too strong for this coil
SLOW = 210.0  # rpm: one of SPEEDS, a fast hand crank

OVER_SPEED = Panel(
    "every_speed",
    "One coil over every speed and drive",
    "A coil with a slack cushion gives one sound spark in every pulse when you crank it by hand. What will it do on the road?",
    (
        CUSHION_CONTROL, VIBRATOR_CONTROL, parts.speed_control(low=SPEEDS[0] - 30.0, high=SPEEDS[-1] + 30.0),
        parts.drive_control(),
    ),
    compute=over_speed,
    quick=quick,
    one_pulse=one_pulse,
    filling=Filling(
        lambda values: _picture(_run(values, LADDER_PULSES), fine_speed_map(values)), speed_runs,
        lambda values, cells: _words(fine_speed_map(values, cells), "speeds and drives"),
    ),
    sound=lambda values, slowed: sound_at(machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), slowed),
    presets=(
        Preset("Well set", {}, "One straight column, and a broad field of ones on the map. Find your mark in it."),
        Preset(
            "Slack, tested slow", {"preload": SLACK, "rpm": SLOW},
            "One straight column of sound sparks: it passes. Now look to the right of your mark on the map, at the same drive.",
        ),
        Preset(
            "Slack, driven", {"preload": SLACK},
            "The same coil on the road. Still a spark in every pulse, but a weak one: read its energy, and what the arc has "
            "eaten. Nothing was touched but the crank.",
        ),
        Preset(
            "Stiff, tested slow", {"preload": STIFF, "rpm": SLOW},
            "A stiff cushion does not hide: turned by hand it gives several sparks a pulse, each too weak.",
        ),
        Preset(
            "Stiff, driven", {"preload": STIFF},
            "It parts early and fires again. The first spark is weaker than the well-set coil's, and still lights the charge.",
        ),
        Preset(
            "Strong magneto", {"drive": STRONG},
            "A well-set coil on too strong a magneto: second sparks. Come down the map to where they stop.",
        ),
        Preset("Weak magneto", {"drive": bad_coils.WEAK},
               "One spark on the road, but later in the pulse. At the left of its row, at hand speed, none."),
    ),
)


# -------------------------------------------------------------------------------------- panel 2: the tension map
def tension_map(values: Values) -> TensionMap:
    """Return the map of what pulses do over both preloads at the speed and drive of `values`, marked at its own coil."""
    cells = [[shown(c.worst) for c in row] for row in preload_cells(values["rpm"], values["drive"])]
    return TensionMap(
        f"Tension map at {values['rpm']:.0f} rpm and {values['drive']:.0f} % drive: what the worst pulse does",
        Axis("cushion preload", "N"), Axis("vibrator preload", "N"), CUSHIONS, VIBRATORS, cells, NAMES,
        (values["preload"], values["vibrator_preload"]), letters=LETTERS, sets=("preload", "vibrator_preload"),
    )


def over_preloads(values: Values) -> Picture:
    """Return the learner's own ladder and its place on the map of all the pairs of preloads."""
    drawn = tension_map(values)
    return _picture(_run(values, LADDER_PULSES), drawn, _tally(drawn, "pairs of preloads"))


def fine_tension_map(values: Values, cells: Sequence[int | None] = ()) -> TensionMap:
    """Return the fine map over both preloads, with `cells` row by row, or without any yet."""
    return TensionMap(
        f"Tension map at {values['rpm']:.0f} rpm and {values['drive']:.0f} % drive: what the worst pulse does",
        Axis("cushion preload", "N"), Axis("vibrator preload", "N"), _fine(CUSHIONS), _fine(VIBRATORS), _in_rows(cells), NAMES,
        (values["preload"], values["vibrator_preload"]), NOT_RUN, LETTERS,
        "" if cells else f"{values['rpm']} rpm, {values['drive']} %", ("preload", "vibrator_preload"),
    )


def tension_runs(values: Values, places: Sequence[int]) -> Runs:
    """Return the runs behind the cells of the fine map over both preloads at these places."""
    drive, cushions, vibrators = MagnetoDrive(values["rpm"], values["drive"] / 100.0), _fine(CUSHIONS), _fine(VIBRATORS)
    return _runs([(machine({"preload": cushions[place % FINE], "vibrator_preload": vibrators[place // FINE % FINE]}), drive)
                  for place in places])


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
    one_pulse=one_pulse,
    filling=Filling(
        lambda values: _picture(_run(values, LADDER_PULSES), fine_tension_map(values)), tension_runs,
        lambda values, cells: _words(fine_tension_map(values, cells), "pairs of preloads"),
    ),
    sound=lambda values, slowed: sound_at(machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), slowed),
    presets=(
        Preset("Well set", {}, "Your mark is inside the field of ones, with room to the left, to the right and upward."),
        Preset("Slack cushion", {"preload": SLACK},
               "Left of the field, among the weak sparks: the upper contact is left behind. Which way is home?"),
        Preset("Stiff cushion", {"preload": STIFF}, "Right of the field: early, at a low current. Two ways lead home: which?"),
        Preset(
            "Slack vibrator", {"vibrator_preload": round(0.7 * VIBRATOR, 2)},
            "At the lower edge: it parts at a low current, just as with a stiff cushion. Turn slower, and it fires again.",
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
FAULTS: Mapping[str, tuple[str, Machine, float]] = {
    # key: (words, the coil, drive in percent); all but the last are the course's list of bad coils
    "none": ("nothing: well set", NOMINAL, 100.0),
    **{bad.key: (bad.label, bad.machine, bad.drive) for bad in bad_coils.BAD},
    "strong": ("strong magneto", NOMINAL, STRONG),
}
SWEEP = tuple(150.0 + 50.0 * i for i in range(7))  # rpm, from a hand crank to the road


def faulty(key: str) -> tuple[Machine, float]:
    """Return the machine with the fault `key` of FAULTS, and the drive in percent that goes with it."""
    _, coil, drive = FAULTS[key]
    return coil, drive


def _fault_run(values: Values, pulses: int) -> Run:
    coil, drive = faulty(values["fault"])
    return simulate(coil, MagnetoDrive(values["rpm"], drive / 100.0), pulses=pulses, warm_up=SETTLE, record=(0, 0),
                    rows_a_pulse=300)


def _sweep(title: str, axis: Axis, quantity: str, pick: Callable[[Cell], float | None], key: str, fault: str, rpm: float,
           bands: tuple[Band, ...] = ()) -> Chart:
    def line(of: str, label: str, dash: str) -> Line:
        values = [pick(cell(faulty(of)[0], speed, faulty(of)[1])) for speed in SWEEP]
        return Line(label, quantity, SWEEP, [math.nan if value is None else value for value in values], dash)

    lines = [line("none", "well set", "dashed")]
    if fault != "none":
        lines.append(line(fault, f"this one: {FAULTS[fault][0]}", "solid"))
    named = title if len(lines) > 1 else f"{title}, well set"
    return Chart(key, named, Axis("crank speed", "rpm", SWEEP[0], SWEEP[-1]), axis, tuple(lines),
                 (Mark(rpm, None, "the ladder's speed", "here"),) if SWEEP[0] <= rpm <= SWEEP[-1] else (), bands)


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
    """Return the faulty coil's ladder at one speed, and what it does from the hand crank to the road beside a good one."""
    fault, rpm = values["fault"], values["rpm"]
    return _fault_picture(values, LADDER_PULSES // 2, (
        _sweep("First spark's energy", Axis("energy", "mJ", 0.0, 50.0), "energy", lambda c: 1e3 * c.first_energy, "first_energy",
               fault, rpm, (Band(0.0, 1e3 * EFFECTIVE, "too weak", "y"),)),
        _sweep("Sparks per pulse", Axis("sparks per pulse", "1", 0.0, 5.0), "plain", lambda c: c.sparks_per_pulse,
               "sparks_per_pulse", fault, rpm),
        _sweep("Opening current", Axis("opening current", "A", 0.0, 8.0), "current", lambda c: c.opening_current,
               "opening_current", fault, rpm),
    ))


CAUSES = Panel(
    "causes",
    "The causes, side by side",
    "A slack cushion and a bad condenser both burn the points and give a weak spark on the road. Which test tells them apart?",
    (
        Choice("fault", "What is wrong", tuple((key, words) for key, (words, _, _) in FAULTS.items()), "none",
               "One fault at a time, everything else as in the well-set coil."),
        parts.speed_control(low=SWEEP[0], high=SWEEP[-1]),
    ),
    compute=fault_full,
    quick=fault_quick,
    presets=(
        Preset("Cushion slack", {"fault": "slack"},
               "A slow parting, an arc, a weak spark. Now turn it slowly: the spark comes back."),
        Preset("Cushion stiff", {"fault": "stiff"}, "Opening current below the good coil's at every speed, and sparks again."),
        Preset("Vibrator soft", {"fault": "soft"}, "Reads like a stiff cushion: only a look at the springs can tell."),
        Preset("Vibrator strong", {"fault": "tight"}, "Opening current above the good coil's, and it fires later."),
        Preset("Magneto strong", {"fault": "strong"}, "Second sparks from a coil that has nothing wrong with it."),
        Preset("Magneto weak", {"fault": "magneto"}, "No spark by hand, and a later one on the road."),
        Preset("Condenser nearly open", {"fault": "small"},
               "An arc and a weak spark, as with the slack cushion; but turned slowly it is no better."),
        Preset("Condenser leaks", {"fault": "leak"}, "Current as in the good coil, no arc, and a weaker spark at every speed."),
        Preset("Points burnt", {"fault": "points", "rpm": 200.0},
               "Too weak by hand, and slower still no spark at all. On the road you would hardly know."),
    ),
)

PANELS = (OVER_SPEED, TENSION, CAUSES)
