"""Pieces that several panels share: from a run to strips, ladder, moving picture, readings and words.

Plain Python, standard library only. Positions turn from the model's metres (down positive) into what a person draws:
millimetres above the limit rivet, up positive.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

from coilmodel import Machine, Opening, Run
from coilmodel.readings import Readings, sparks_in_pulses
from coilmodel.sparks import effective, sparks
from lessons.contracts import Axis, Band, Chart, Control, Ladder, Line, Mark, Picture, Reading, Scene

# Limits of the shared strips: what presets and sliders' ends come to, and a little more (tests/lessons/test_axes.py).
MOST_CURRENT = 7.0  # A; 6.7 with twice the vibrator's preload
MOST_FORCE = 6.0  # N; contacts that fly together knock harder than that, for microseconds


def speed_control(default: float = 450.0, low: float = 100.0, high: float = 900.0) -> Control:
    """Return the slider of the crank speed, in rpm."""
    return Control(
        "rpm",
        "Crank speed",
        "rpm",
        low,
        high,
        10.0,
        default,
        "A hand crank turns at 60 to 200 rpm, an engine pulling in traffic at 400 and more; a test at one speed is silent "
                "on others.",
    )


def drive_control(low: float = 40.0, high: float = 160.0) -> Control:
    """Return the slider of the magneto's strength, in percent of rated."""
    return Control(
        "drive",
        "Drive",
        "%",
        low,
        high,
        1.0,
        100.0,
        "How strong the magneto is: weak magnets or a wide gap take it down, fresh ones bring it to 100.",
    )


# ------------------------------------------------------------------------------------------------------- strips
def over_pulse(run: Run) -> Axis:
    """Return the time axis of one pulse, whole at every speed."""
    follows = "the pulse, which lasts longer the slower the crank"
    return Axis("time from the start of the pulse", "ms", 0.0, 1e3 * run.pulse_seconds, follows)


def current_strip(run: Run, pulse: int = 0) -> Chart:
    """Return the strip of the primary current over one recorded pulse."""
    times = _times(run, pulse)
    return Chart(
        "current",
        "Primary current",
        over_pulse(run),
        Axis("current", "A", -MOST_CURRENT, MOST_CURRENT),
        (Line("current", "current", times, _upright(run, pulse, run.strips.current)),),
        _marks(run, pulse, "current"),
    )


def position_strip(run: Run, pulse: int = 0, most_travel: float | None = None) -> Chart:
    """Return the strip of both contacts' heights above the rivet over one recorded pulse.

    most_travel: the greatest distance of bridge and rivet (mm) that the panel can set, where it can set that.
    """
    times = _times(run, pulse)
    travel, stop = 1e3 * run.machine.cushion.travel, 1e3 * run.machine.vibrator.stop
    return Chart(
        "position",
        "Where the contacts are",
        over_pulse(run),
        Axis("height above rivet", "mm", -1.05 * stop, (most_travel or travel) + 0.06),
        (
            Line("upper contact (cushion)", "cushion", times, [-1e3 * x for x in run.strips.cushion], dash="dashed"),
            Line("lower contact (vibrator)", "position", times, [-1e3 * x for x in run.strips.vibrator]),
        ),
        _marks(run, pulse),
        (Band(0.0, travel, "from rivet to bridge", "y"),),
    )


def force_strip(run: Run, pulse: int = 0) -> Chart:
    """Return the strip of the force that presses the contacts together."""
    times = _times(run, pulse)
    return Chart(
        "force",
        f"Contact force, drawn up to {MOST_FORCE:.0f} N",
        over_pulse(run),
        Axis("force", "N", 0.0, MOST_FORCE),
        (Line("contact force", "force", times, [min(f, MOST_FORCE) for f in run.strips.contact_force]),),
        _marks(run, pulse),
    )


def secondary_strip(run: Run, pulse: int = 0) -> Chart:
    """Return the strip of the secondary voltage, in kV, with a mark for every spark."""
    times = _times(run, pulse)
    most = 1e-3 * run.machine.gap.breakdown
    return Chart(
        "secondary",
        "Secondary voltage",
        over_pulse(run),
        Axis("voltage", "kV", -1.15 * most, 1.15 * most),
        (Line("secondary voltage", "secondary", times, [1e-3 * v for v in _upright(run, pulse, run.strips.secondary_voltage)]),),
        _spark_marks(run, pulse),
    )


def _times(run: Run, pulse: int) -> list[float]:
    start = (run.first_pulse + pulse) * run.pulse_seconds
    return [1e3 * (t - start) for t in run.strips.time]


def _upright(run: Run, pulse: int, values: Sequence[float]) -> list[float]:
    """The pulses of a magneto alternate in sign; every one is drawn with its current upward, so that pulses compare."""
    return list(values) if (run.first_pulse + pulse) % 2 == 0 else [-value for value in values]


def _in_pulse(run: Run, pulse: int) -> list[Opening]:
    return [o for o in run.openings if o.pulse == pulse and o.real]


def telling(run: Run, pulse: int) -> list[Opening]:
    """Return the first parting of the pulse and every one that began a spark; the closing contacts' bounces are left out."""
    began = {spark.opening.time for spark in sparks(run)}
    return [o for place, o in enumerate(_in_pulse(run, pulse)) if place == 0 or o.time in began]


def _marks(run: Run, pulse: int, quantity: str = "plain") -> tuple[Mark, ...]:
    names = ("parts", "again")
    return tuple(
        Mark(1e3 * o.after, None, names[min(number, 1)], "part", quantity) for number, o in enumerate(telling(run, pulse))
    )


def _spark_marks(run: Run, pulse: int) -> tuple[Mark, ...]:
    fired = [spark for spark in sparks(run) if spark.pulse == pulse]
    return tuple(Mark(1e3 * spark.after, None, f"spark {number}", "spark", "secondary") for number, spark in enumerate(fired, 1))


# ------------------------------------------------------------------------------------------ ladder, moving picture
def ladder(run: Run, shown: int | None = None) -> Ladder:
    """Return the spark ladder of a run on the magneto: one mark a spark, crank angle across, pulses upward.

    shown: the pulse that the strips beside it are of, where the panel can show another.
    """
    degrees = 180.0 / run.machine.magneto.pole_pairs
    pulse, angle, order, weak = [], [], [], []
    count: dict[int, int] = {}
    for spark in sparks(run):
        if spark.crank_angle is not None:
            count[spark.pulse] = count.get(spark.pulse, 0) + 1
            pulse.append(spark.pulse)
            angle.append(spark.crank_angle)
            order.append(count[spark.pulse])
            weak.append(0 if spark.lights() else 1)
    return Ladder(
        "Spark ladder", Axis("crank angle from the start of the pulse", "degrees", 0.0, degrees), run.pulses, pulse, angle, order,
        weak=weak, shown=shown,
    )


FULL_CURRENT = 6.0  # A; what a moving picture draws with its full strength, and the flux that it makes in the nominal coil
FULL_FLUX = 1e3 * FULL_CURRENT * Machine().coil.primary_inductance  # mWb


def scene(run: Run, pulse: int = 0, last: float = math.inf) -> Scene:
    """Return the moving picture of the contact set through one recorded pulse, or through its first `last` ms."""
    times, s = _times(run, pulse), run.strips
    count = max(2, sum(time <= last for time in times))
    end = s.time[count - 1]
    return Scene(
        times[:count],
        [1e3 * x for x in s.vibrator[:count]],
        [1e3 * x for x in s.cushion[:count]],
        _upright(run, pulse, s.current)[:count],
        _burning(run, count),
        1e3 * run.machine.cushion.travel,
        1e3 * run.machine.vibrator.stop,
        flux=[1e3 * x for x in _upright(run, pulse, s.flux)[:count]],
        full_current=FULL_CURRENT,
        full_flux=FULL_FLUX,
        moments=tuple(mark for mark in _moments(run, pulse) if mark.x <= 1e3 * (end - s.time[0]) + times[0]),
    )


def _burning(run: Run, count: int) -> list[int]:
    """Return 1 for each of the first `count` rows in which a spark burns, from its first breakdown to its last glow.

    Between, the gap may go dark for a moment and break down again, as the coil rings: it is one spark all the same, to an eye
    as in the count (coilmodel.sparks).
    """
    s = run.strips
    shown = [0] * count
    starts = [spark.time for spark in sparks(run)]
    for place, start in enumerate(starts):
        following = starts[place + 1] if place + 1 < len(starts) else math.inf
        lit = [i for i in range(count) if s.spark[i] and start <= s.time[i] < following]
        for i in range(lit[0], lit[-1] + 1) if lit else ():
            shown[i] = 1
    return shown


def _moments(run: Run, pulse: int) -> list[Mark]:
    """Return when in a pulse the contacts part, the gap sparks, and the contacts meet again, in order of time."""
    start = (run.first_pulse + pulse) * run.pulse_seconds
    found = []
    for o in telling(run, pulse):
        found.append(Mark(1e3 * o.after, None, "the contacts part", "part"))
        if o.closing_time is not None:
            found.append(Mark(1e3 * (o.closing_time - start), None, "the contacts meet", "close"))
    found += [Mark(1e3 * spark.after, None, "spark", "spark", "secondary") for spark in sparks(run) if spark.pulse == pulse]
    return sorted(found, key=lambda mark: mark.x)


# ------------------------------------------------------------------------------------------------------ readings
def number(value: float | None, unit: str, digits: int = 2) -> str:
    """Return `value` as people say it, to `digits` significant figures with its unit; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return "none"
    if value == 0.0:
        return f"0 {unit}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{places}f} {unit}"


def opening_readings(result: Readings) -> tuple[Reading, ...]:
    """Return the readings that every moving panel shows beside its picture."""
    current, after = result.opening_current.mean, _scaled(result.opening_time.mean, 1e3)
    follow, speed = _scaled(result.follow_travel.mean, 1e3), result.parting_speed.mean
    return (
        Reading("Sparks per pulse", f"{result.sparks_per_pulse:.2f}".rstrip("0").rstrip("."), result.sparks_per_pulse, "1"),
        Reading("Opening current", number(current, "A"), current, "A"),
        Reading("Opening time", number(after, "ms"), after, "ms"),
        Reading("Follow travel", number(follow, "mm"), follow, "mm"),
        Reading("Parting speed", number(speed, "m/s"), speed, "m/s"),
        Reading(
            "Spark energy, first spark", number(1e3 * result.first_spark_energy, "mJ"), 1e3 * result.first_spark_energy, "mJ"
        ),
        Reading("Arc energy as they part", number(1e3 * result.break_arc_energy, "mJ"), 1e3 * result.break_arc_energy, "mJ"),
    )


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else factor * value


def with_curves(picture: Picture, places: int = 5) -> Picture:
    """Return `picture` with its charts' curves added to the text alternative, each read off at so many places."""
    told = [
        f"{chart.title}: " + "; ".join(f"{line.label} {_read_off(line, chart, places)}" for line in chart.lines) + "."
        for chart in picture.charts if chart.lines
    ]
    return dataclasses.replace(picture, alt=" ".join([picture.alt, *told]))


def _read_off(line: Line, chart: Chart, places: int) -> str:
    x_unit, y_unit = ("" if axis.unit == "1" else axis.unit for axis in (chart.x, chart.y))
    drawn = [i for i, y in enumerate(line.y) if math.isfinite(y)]
    if len(drawn) < 2:
        return "nowhere"
    chosen = sorted({drawn[round(i * (len(drawn) - 1) / (places - 1))] for i in range(places)})
    values = [number(line.y[i], y_unit).strip() for i in chosen]
    if len(set(values)) == 1 and len(drawn) == len(line.y):
        return f"{values[0]} throughout"
    digits = 2 - math.floor(math.log10(line.x[chosen[-1]] - line.x[chosen[0]]))
    where = [f"{round(line.x[i], digits) + 0.0:g} {x_unit}".strip() for i in chosen]
    return ", ".join(f"{value} at {place}" for value, place in zip(values, where, strict=True))


def weak_in_words(run: Run) -> str:
    """Return a sentence, with a space before it, on sparks too weak to light the charge; nothing where there are none."""
    weak = sum(not spark.lights() for spark in sparks(run))
    if not weak:
        return ""
    missed = sum(lighting is None for lighting in effective(run))
    drawn = f" Of the sparks, {weak} are too weak to light the charge, and drawn small and hollow"
    return f"{drawn}; {missed} of {run.pulses} pulses have none that lights, and so misfire."


def describe(run: Run, extra: Sequence[str] = (), with_ladder: bool = True) -> str:
    """Return the text alternative of a moving panel's picture, from the same numbers as the picture."""
    peak = max((abs(i) for i in run.strips.current), default=0.0)
    lines = [f"One pulse of {1e3 * run.pulse_seconds:.1f} ms. The primary current grows to {peak:.1f} A."]
    told = telling(run, 0)
    for place, o in enumerate(told):
        where = "with the cushion on its rivet" if o.on_rivet else "before the cushion reaches its rivet"
        what = "the gap sparks" if o.fired else "no spark"
        lines.append(
            f"At {1e3 * o.after:.1f} ms the contacts part{' again' if place else ''} at {abs(o.current):.1f} A and "
            f"{o.parting_speed:.2f} m/s, {where}; {what}."
        )
    bounces = len(_in_pulse(run, 0)) - len(told)
    if bounces:
        lines.append(f"Closing, they bounce open {bounces} time{'s' * (bounces > 1)} without a spark.")
    if not told:
        lines.append("The contacts do not part.")
    if run.pulses > 1 and with_ladder:
        counts = sparks_in_pulses(run)
        tally = ", ".join(f"{counts.count(n)} with {n}" for n in sorted(set(counts)))
        lines.append(f"Spark ladder of {run.pulses} pulses, by sparks in the pulse: {tally}.{weak_in_words(run)}")
    return " ".join([*lines, *extra])
