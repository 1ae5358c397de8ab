"""The start page's panel: one slider, what it makes of the spark that should light the charge, and the reason in a sentence."""

from __future__ import annotations

from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Opening, Run, simulate
from coilmodel.readings import Readings, read, sparks_in_pulses
from coilmodel.sparks import EFFECTIVE, by_pulse
from lessons.contracts import Choice, Control, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.bad_coils import SLACK, STIFF
from lessons.sound import sound_at

NOMINAL = Machine()
LADDER_PULSES = 5  # so few that the ladder follows the slider, also in the browser
SPEEDS = (("200", "turned by hand, 200 rpm"), ("450", "on the road, 450 rpm"))
BURNT = 10e-3  # J a pulse more than at the well-set coil's points: then the arc is worth telling of; our choice

WEAKER = 0.75  # of the well-set coil's energy at that speed: a single spark with less is not called sound; our choice

_NUMBERS = ("no", "one", "two", "three", "four")


def _machine(values: Values) -> Machine:
    return NOMINAL.but(cushion={"preload": NOMINAL.cushion.preload * values["tension"] / 100.0})


def _run(values: Values, pulses: int, pulse: int = 0) -> Run:
    drive = MagnetoDrive(float(values["speed"]))
    return simulate(_machine(values), drive, pulses=pulses, warm_up=2, record=(pulse, pulse), rows_a_pulse=300)


@lru_cache(len(SPEEDS))
def usual(rpm: str) -> Readings:
    """Return the readings of the well-set coil at one of SPEEDS."""
    return read(_run({"tension": 100.0, "speed": rpm}, LADDER_PULSES))


def hottest(run: Run) -> Opening:
    """Return the parting in which most energy burned at the contacts, over all the pulses of `run`, which has one at least."""
    return max(run.openings, key=lambda opening: opening.arc_energy)


def lets_go_early(result: Readings, good: Readings) -> bool:
    """Return whether the contacts part at less current than the well-set coil's, and sooner after the pulse's start."""
    current, time = result.opening_current.mean, result.opening_time.mean
    if current is None or time is None:
        return False
    return current < 0.97 * (good.opening_current.mean or 0.0) and time < (good.opening_time.mean or 0.0)


def in_a_sentence(run: Run, good: Readings) -> str:
    """Return what the run did and why. `good`: the readings of the well-set coil at this speed."""
    result = read(run)
    said = _sparks_in_words(run, result, good)
    if not result.sparks_per_pulse and result.opening_current.mean is None:
        return f"{said} The current peaks at {run.meter.peak:.1f} A and the contacts do not part."
    if result.arc_energy > good.arc_energy + BURNT and not hottest(run).on_rivet:
        return f"{said} {_burning(run, result, good)}"
    if lets_go_early(result, good) and (result.multiple or result.misfired):
        return f"{said} {_early(run, result, good)}"
    where = ", the cushion on its rivet," if result.on_rivet == 1.0 else ""
    return (f"{said} The contacts part at {result.opening_current.mean or 0.0:.1f} A{where} and the spark has "
            f"{1e3 * result.first_spark_energy:.0f} mJ.")


def _sparks_in_words(run: Run, result: Readings, good: Readings) -> str:
    """Return how many sparks a pulse has, whether they light the charge, and so how many pulses misfire."""
    counts = sorted(set(sparks_in_pulses(run)))
    low, high = (_NUMBERS[n] if n < len(_NUMBERS) else str(n) for n in (counts[0], counts[-1]))
    number = low if low == high else f"{low} {'or' if counts[-1] - counts[0] == 1 else 'to'} {high}"
    if result.misfired == 1.0:
        kind = "weak" if counts[-1] else ""
    else:
        kind = "sound" if counts == [1] and result.first_spark_energy > WEAKER * good.first_spark_energy else ""
    every = "a pulse" if low != high else "in every pulse" if counts[-1] else "in any pulse"
    said = " ".join(word for word in (number.capitalize(), kind, "spark" if counts[-1] < 2 else "sparks", every) if word)
    if not result.misfired:
        return f"{said}."
    least = f"with the {1e3 * EFFECTIVE:.0f} mJ that light the charge"
    if result.misfired == 1.0:
        lacks = "" if not counts[-1] else f", {least.replace('with', 'without', 1)}" if counts == [1] else f", none {least}"
        return f"{said}{lacks}: the coil misfires."
    return f"{said}; {round(result.misfired * run.pulses)} of {run.pulses} pulses have none {least}, and misfire."


def _energies(result: Readings, good: Readings) -> str:
    """Return the energy of the first spark beside the well-set coil's, where they differ."""
    energy = parts.number(1e3 * result.first_spark_energy, "mJ")
    if result.first_spark_energy < 0.97 * good.first_spark_energy:
        return f"{energy} instead of {1e3 * good.first_spark_energy:.0f}"
    return f"{energy}, as in a well-set coil" if result.first_spark_energy < 1.03 * good.first_spark_energy else energy


def _burning(run: Run, result: Readings, good: Readings) -> str:
    said = ("The cushion cannot keep up: the contacts creep apart before it reaches its rivet, and "
            f"{1e3 * result.arc_energy:.0f} mJ a pulse burn at them instead of {1e3 * good.arc_energy:.0f}.")
    return f"{said} The first spark has {_energies(result, good)}." if result.first_spark_energy else said


def _early(run: Run, result: Readings, good: Readings) -> str:
    sooner = (good.opening_time.mean or 0.0) - (result.opening_time.mean or 0.0)
    current, well = result.opening_current.mean or 0.0, good.opening_current.mean or 0.0
    said = (f"The contacts let go too soon, {1e3 * sooner:.1f} ms before a well-set coil's and at {current:.1f} A instead of "
            f"{well:.1f}: the first spark has {_energies(result, good)}.")
    again = [pulse[1].time - pulse[0].time for pulse in by_pulse(run) if len(pulse) > 1]
    if not again:
        return said
    later = 1e3 * sum(again) / len(again)
    return f"{said} The current grows again, and {later:.1f} ms later there is another spark: too late to be of use."


def full(values: Values, pulse: int = 0) -> Picture:
    """Return the picture; `values`: tension in percent of the well-set coil's, speed one of SPEEDS; `pulse`: the one shown."""
    run = _run(values, LADDER_PULSES, pulse)
    result = read(run)
    sparks = f"{result.sparks_per_pulse:.2f}".rstrip("0").rstrip(".")
    missed = round(result.misfired * run.pulses)
    first, burnt = 1e3 * result.first_spark_energy, 1e3 * result.arc_energy
    return Picture(
        sentence=in_a_sentence(run, usual(values["speed"])),
        alt=parts.describe(run, [f"At the contacts {burnt:.0f} mJ a pulse burn."]),
        readings=(Reading("Sparks per pulse", sparks, result.sparks_per_pulse, "1"),
                  Reading("Energy of the first spark", parts.number(first, "mJ"), first, "mJ"),
                  Reading("Burnt at the points", parts.number(burnt, "mJ a pulse"), burnt, "mJ"),
                  Reading("Pulses that misfire", f"{missed} of {run.pulses}", float(missed), "1")),
        strips=(parts.current_strip(run, pulse),),
        ladder=parts.ladder(run, pulse),
        scene=parts.scene(run, pulse),
    )


PANEL = Panel(
    "first_look",
    "One spark, and a sound one",
    "Slacken the cushion spring: what becomes of the spark, turned by hand and on the road?",
    (
        Control("tension", "Cushion spring tension", "%", 30.0, 180.0, 5.0, 100.0,
                "Of a well-set coil's: the second, lighter spring in the box, which you tighten or slacken by bending it."),
        Choice("speed", "The crank is", SPEEDS, "450", "A test by hand is slow; the road is not."),
    ),
    compute=full,
    one_pulse=full,
    sound=lambda values, slowed: sound_at(_machine(values), MagnetoDrive(float(values["speed"])), slowed),
    presets=(
        Preset("Well set", {}, "One full mark in every row of the ladder: a spark that lights the charge."),
        Preset("Slack", {"tension": 100.0 * SLACK},
               "Small, hollow marks: what should have gone into the spark burns at the points, and every pulse misfires."),
        Preset("Slack, turned by hand", {"tension": 100.0 * SLACK, "speed": "200"},
               "The same slack spring, and one full mark in every row: the slow test hides it."),
        Preset("Stiff", {"tension": 100.0 * STIFF},
               "Tighter is not safer: the first spark comes too soon and weaker, and others follow that are of no use."),
    ),
)

PANELS = (PANEL,)
