"""Lesson 0: what is in the box. One slider, one pulse of the contact set slowed 500 times, and the sparks of many pulses."""

from __future__ import annotations

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import first_openings, read, sparks_in_pulses
from coilmodel.sparks import EFFECTIVE
from lessons.contracts import Control, Panel, Picture, Preset, Reading, Values
from lessons.panels import bad_coils, parts
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
    round(1.8 * PRELOAD, 2),
    0.01,
    round(PRELOAD, 2),
    "How hard the upper blade, the cushion spring, presses down: it is what you change when you bend that blade a little.",
)

SLACK, STIFF = round(bad_coils.SLACK * PRELOAD, 2), round(bad_coils.STIFF * PRELOAD, 2)
LADDER_PULSES = 12
MUCH_BURNT = 10e-3  # J as the contacts part, a third of a good spark: so much is worth telling of; our choice


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
    """Say what the pulses of `run` gave, for somebody who meets a coil for the first time."""
    counts, result = sparks_in_pulses(run), read(run)
    where = "in every pulse" if len(counts) > 1 else "in this pulse"
    if not any(counts):
        return f"No spark in {'any' if len(counts) > 1 else 'this'} pulse; there should be one."
    if result.misfired == 1.0:
        least = f"{1e3 * EFFECTIVE:.0f} millijoules would light the charge"
        few = set(counts) == {1}
        said = f"{_sparks(counts[0]).capitalize()} {where}" if len(set(counts)) == 1 else "Sparks"
        return (f"{said}, but too weak: {1e3 * result.first_spark_energy:.0f} millijoules{'' if few else ' in the first'}; "
                f"{least}. A misfire{' each time' if len(counts) > 1 else ''}.")
    if set(counts) == {1}:
        if result.break_arc_energy > MUCH_BURNT:
            return f"One spark {where}, but {1e3 * result.break_arc_energy:.0f} millijoules burn at the contacts as they part."
        return f"One sound spark {where}: as it should be."
    if len(set(counts)) == 1:
        return f"{_sparks(counts[0]).capitalize()} {where}; there should be one."
    tally = [f"{counts.count(number)} {'gives' if counts.count(number) == 1 else 'give'} {_sparks(number)}"
             for number in sorted(set(counts))]
    return f"Of {len(counts)} pulses, {', '.join(tally[:-1])} and {tally[-1]}; each should give one."


def _picture(values: Values, pulses: int) -> Picture:
    drive = MagnetoDrive(RPM)
    run: Run = simulate(machine(values["preload"]), drive, pulses=pulses, warm_up=2, record=(0, 0), rows_a_pulse=300)
    result = read(run)
    first, burnt = 1e3 * result.first_spark_energy, 1e3 * result.break_arc_energy
    return Picture(
        sentence=in_plain_words(run),
        alt=parts.describe(run),
        readings=(*parts.opening_readings(result)[:3],
                  Reading("Energy of the first spark", parts.number(first, "mJ"), first, "mJ"),
                  Reading("Burnt at the points as they part", parts.number(burnt, "mJ"), burnt, "mJ")),
        strips=(parts.position_strip(run),),
        ladder=parts.ladder(run) if pulses > 1 else None,
        scene=parts.scene(run),
    )


PANEL = Panel(
    "box",
    "What is in the box",
    "If you slacken the upper spring, what becomes of the spark: nothing, a weaker one, or more of them?",
    (PRELOAD_CONTROL,),
    compute=lambda values: _picture(values, LADDER_PULSES),
    quick=lambda values: _picture(values, 1),
    sound=lambda values, slowed: sound_at(machine(values["preload"]), MagnetoDrive(RPM), slowed),
    presets=(
        Preset("Well set", {}, "One sound spark in every pulse: full marks, in one straight column."),
        Preset("Too slack", {"preload": SLACK}, "The marks are small and hollow: still a spark in every pulse, but too weak to "
                                                "light the charge. Most of the energy burns at the contacts."),
        Preset("Too stiff", {"preload": STIFF}, "Too much is no better: the first spark comes too soon and weaker, and others "
                                                "follow it."),
    ),
)

PANELS = (PANEL,)
