"""Lesson 0: what is in the box. One slider, one pulse of the contact set slowed 500 times, and the sparks of many pulses."""

from __future__ import annotations

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import first_openings, read, sparks_in_pulses
from lessons.contracts import Control, Panel, Picture, Preset, Values
from lessons.panels import parts
from lessons.sound import sound_at

NOMINAL = Machine()
PRELOAD = NOMINAL.cushion.preload
RPM = 450.0  # an engine pulling gently

# Not down to nothing: a blade that hardly presses at all is a story of its own (lesson 5), and would only puzzle here.
PRELOAD_CONTROL = Control(
    "preload",
    "Cushion preload",
    "N",
    round(0.2 * PRELOAD, 2),
    round(1.6 * PRELOAD, 2),
    0.01,
    round(PRELOAD, 2),
    "How hard the upper blade, the cushion spring, presses down: it is what you change when you bend that blade a little.",
)

SLACK, STIFF = round(0.4 * PRELOAD, 2), round(1.5 * PRELOAD, 2)
LADDER_PULSES = 12


def machine(preload: float) -> Machine:
    """Return the nominal machine with its cushion pressing down with `preload` newtons at the rivet."""
    return NOMINAL.but(cushion={"preload": preload})


def one_pulse(rpm: float = RPM) -> dict[str, float]:
    """Return when (s from the pulse's start) each step of a well-set coil's pulse happens at crank speed `rpm`.

    grows: the current begins to grow this pulse's way; together: both contacts have left the bridge, still closed; rivet: the
    upper one is on its rivet; part; spark; close. All read off one run.
    """
    run = simulate(NOMINAL, MagnetoDrive(rpm), pulses=1, warm_up=4, record=(0, 0))
    strips, start = run.strips, run.first_pulse * run.pulse_seconds
    upward = 1.0 if run.first_pulse % 2 == 0 else -1.0  # the pulses of a magneto alternate in sign
    opening, travel = first_openings(run)[0], run.machine.cushion.travel
    meets = next(index for index, x in enumerate(strips.cushion) if x >= 0.0)
    leaves = next(index for index in range(meets, -1, -1) if strips.cushion[index] < -0.95 * travel)
    grows = next(index for index in range(leaves, -1, -1) if upward * strips.current[index] <= 0.0 or index == 0)
    return {
        "grows": strips.time[grows] - start, "together": strips.time[leaves] - start, "rivet": strips.time[meets] - start,
        "part": opening.after, "spark": (opening.spark_time or 0.0) - start, "close": (opening.closing_time or 0.0) - start,
    }


_COUNTS = ("no spark", "one spark", "two sparks", "three sparks", "four sparks")


def _sparks(count: int) -> str:
    return _COUNTS[count] if count < len(_COUNTS) else f"{count} sparks"


def in_plain_words(run: Run) -> str:
    """Say how many sparks the pulses of `run` gave, for somebody who meets a coil for the first time."""
    counts = sparks_in_pulses(run)
    where = "in every pulse" if len(counts) > 1 else "in this pulse"
    if set(counts) == {1}:
        return f"One spark {where}: as it should be."
    if not any(counts):
        return f"No spark in {'any' if len(counts) > 1 else 'this'} pulse; there should be one."
    if len(set(counts)) == 1:
        return f"{_sparks(counts[0]).capitalize()} {where}; there should be one."
    tally = [f"{counts.count(number)} give {_sparks(number)}" for number in sorted(set(counts))]
    return f"Of {len(counts)} pulses, {', '.join(tally[:-1])} and {tally[-1]}; each should give one."


def _picture(values: Values, pulses: int) -> Picture:
    drive = MagnetoDrive(RPM)
    run: Run = simulate(machine(values["preload"]), drive, pulses=pulses, warm_up=1, record=(0, 0), rows_a_pulse=300)
    result = read(run)
    return Picture(
        sentence=in_plain_words(run),
        alt=parts.describe(run),
        readings=parts.opening_readings(result)[:3],
        strips=(parts.position_strip(run),),
        ladder=parts.ladder(run) if pulses > 1 else None,
        scene=parts.scene(run),
    )


PANEL = Panel(
    "box",
    "What is in the box",
    "If you slacken the upper spring, will the coil spark weaker, later, or more often?",
    (PRELOAD_CONTROL,),
    compute=lambda values: _picture(values, LADDER_PULSES),
    quick=lambda values: _picture(values, 1),
    sound=lambda values, slowed: sound_at(machine(values["preload"]), MagnetoDrive(RPM), slowed),
    presets=(
        Preset("Well set", {}, "One spark in every pulse: the marks on the ladder stand in one straight column."),
        Preset("Too slack", {"preload": SLACK}, "One spark has become two: the ladder has a second column."),
        Preset("Too stiff", {"preload": STIFF}, "Too much is no better: many pulses spark two or three times."),
    ),
)

PANELS = (PANEL,)
