"""The start page's panel: one slider, one spark that becomes two, and the reason in a sentence."""

from __future__ import annotations

from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Opening, Run, simulate
from coilmodel.readings import read, sparks_in_pulses
from lessons.contracts import Choice, Control, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
LADDER_PULSES = 5  # so few that the ladder follows the slider, also in the browser
SPEEDS = (("200", "turned by hand, 200 rpm"), ("450", "on the road, 450 rpm"))


def _run(values: Values, pulses: int) -> Run:
    machine = NOMINAL.but(cushion={"preload": NOMINAL.cushion.preload * values["tension"] / 100.0})
    return simulate(machine, MagnetoDrive(float(values["speed"])), pulses=pulses, warm_up=1, record=(0, 0), rows_a_pulse=300)


@lru_cache(len(SPEEDS))
def usual_current(rpm: str) -> float:
    """Return the current in A at which the well-set coil parts at one of SPEEDS."""
    return read(_run({"tension": 100.0, "speed": rpm}, 1)).opening_current.mean or 0.0


def in_a_sentence(run: Run, usual: float) -> str:
    """Return what the run did and why. `usual`: A, at which the well-set coil parts at this speed."""
    counts = sparks_in_pulses(run)
    often = max(counts)
    # The pulse that is drawn, where it shows what is told of; else the numbers of the first that does.
    telling = next(pulse for pulse, count in enumerate(counts) if count == often)
    fired = [o for o in run.openings if o.fired and o.pulse == telling]
    if not fired:
        return f"No spark: the current peaks at {run.meter.peak:.1f} A and the gap is not jumped."
    first = fired[0]
    parted = f"The contacts part at {abs(first.current):.1f} A"
    if often == 1:
        missed = f" ({counts.count(0)} of {len(counts)} pulses do not fire)" if 0 in counts else ""
        speed = f", moving {first.parting_speed:.2f} m/s" if first.parting_speed >= 0.005 else ""
        pulses = "a pulse" if missed else "every pulse"
        return (f"One spark in {pulses}{missed}. {parted}{speed}, and when they close again too little is left in the coil for "
                "another.")
    number = {2: "Two", 3: "Three", 4: "Four"}.get(often, f"{often}")
    how_many = "every pulse" if min(counts) == often else "a pulse" if often in counts[:1] else "some pulses"
    return f"{number} sparks in {how_many}. {_why(first, fired[1], usual)}"


def _why(first: Opening, second: Opening, usual: float) -> str:
    parted, again = abs(first.current), abs(second.current)
    if parted < usual:
        return (f"The contacts let go early, at {parted:.1f} A instead of {usual:.1f} A. There is time left in the pulse: the "
                f"current grows again, to {again:.1f} A, and they part again.")
    return (f"The slack cushion lets go late, at {parted:.1f} A instead of {usual:.1f} A, with the contacts hardly moving "
            f"({first.parting_speed:.2f} m/s). They fall back together and bounce apart while the coil still carries "
            f"{again:.1f} A, and that fires again.")


def full(values: Values) -> Picture:
    """Return the picture; `values`: tension in percent of the well-set coil's, speed one of SPEEDS."""
    run = _run(values, LADDER_PULSES)
    result = read(run)
    told = in_a_sentence(run, usual_current(values["speed"]))
    sparks = f"{result.sparks_per_pulse:.2f}".rstrip("0").rstrip(".")
    current = result.opening_current.mean
    return Picture(
        sentence=told,
        alt=parts.describe(run),
        readings=(Reading("Sparks per pulse", sparks, result.sparks_per_pulse, "1"),
                  Reading("Opening current", parts.number(current, "A"), current, "A")),
        strips=(parts.current_strip(run),),
        ladder=parts.ladder(run),
    )


PANEL = Panel(
    "first_look",
    "One spark, and only one",
    "Slacken the cushion spring: will the coil fire weaker, later, or more often?",
    (
        Control("tension", "Cushion spring tension", "%", 20.0, 180.0, 5.0, 100.0,
                "Of a well-set coil's: the second, lighter spring in the box, which you tighten or slacken by bending it."),
        Choice("speed", "The crank is", SPEEDS, "450", "A test by hand is slow; the road is not."),
    ),
    compute=full,
    presets=(
        Preset("Well set", {}, "One mark in every row of the ladder."),
        Preset("Slack", {"tension": 40.0}, "Every row has a second mark: the coil fires twice."),
        Preset("Slack, turned by hand", {"tension": 40.0, "speed": "200"},
               "The same slack spring, and one mark in every row: the slow test hides it."),
        Preset("Stiff", {"tension": 160.0}, "Tighter is not safer: it fires again, and weaker."),
    ),
)

PANELS = (PANEL,)
