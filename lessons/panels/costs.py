"""What it costs: a bad coil and a good one through the timer, from rest in every window, over the speeds of the road.

One panel, shown by lesson 6 and again by lesson 8: the angle of the spark that lights the charge, the energy in it, the
windows without one, and the arc at the points, each over crank speed, a good coil beside the bad one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from coilmodel.machine import Scatter
from coilmodel.sparks import EFFECTIVE
from coilmodel.worth import SPEEDS, Worth, over_speed
from lessons.contracts import Axis, Chart, Choice, Control, Line, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.bad_coils import BAD, GOOD, BadCoil, coil

WINDOWS = 4  # of the timer at each speed; a window costs as much work as five pulses
LEAST = 1e3 * EFFECTIVE  # mJ: where the slider of what lights the charge begins
SEED = 7  # of the scatter: the same for both coils, so that only what is wrong differs
RPM = Axis("crank speed", "rpm", SPEEDS[0], SPEEDS[-1])


@lru_cache(maxsize=64)
def costs(key: str, least: float) -> tuple[Worth, ...]:
    """Return what the coil called `key` (of bad_coils) gives the engine at each of SPEEDS; `least`: mJ that light the charge."""
    one = coil(key)
    return tuple(over_speed(one.machine, SPEEDS, one.drive / 100.0, WINDOWS, Scatter(seed=SEED), 1e-3 * least))


def _chart(key: str, title: str, y: Axis, value: Callable[[Worth], float | None], bad: BadCoil, least: float,
           level: float | None = None) -> Chart:
    nothing = float("nan")
    lines = []
    for one, quantity, dash in ((GOOD, "plain", "dashed"), (bad, "secondary", "solid")):
        rows = [value(row) for row in costs(one.key, least)]
        lines.append(Line(one.label, quantity, list(SPEEDS), [nothing if row is None else row for row in rows], dash))
    if level is not None:
        lines.append(Line("lights the charge from here", "contact_voltage", [SPEEDS[0], SPEEDS[-1]], [level, level], "dotted"))
    return Chart(key, title, RPM, y, tuple(lines))


def _speeds(rows: tuple[Worth, ...], wrong: Callable[[Worth], bool]) -> str:
    """Return at which speeds something holds, in words."""
    hit = [row.rpm for row in rows if wrong(row)]
    if not hit:
        return "at no speed"
    if len(hit) == len(rows):
        return "at every speed"
    if hit == [row.rpm for row in rows if hit[0] <= row.rpm <= hit[-1]] and len(hit) > 1:
        return f"from {hit[0]:.0f} to {hit[-1]:.0f} rpm"
    return f"at {', '.join(f'{rpm:.0f}' for rpm in hit)} rpm"


def in_words(bad: BadCoil, least: float) -> str:
    """Return what a bad coil costs, computed, in a sentence or two."""
    good_rows, rows = costs(GOOD.key, least), costs(bad.key, least)
    share = sum(row.misfires for row in rows) / len(rows)
    if share:
        said = (f"The coil with the {bad.label}" if bad is not GOOD else "The well-set coil")
        said += f" misfires {_speeds(rows, lambda row: row.misfires > 0.0)}: {100.0 * share:.0f} of 100 windows."
    else:
        said = f"{bad.label[0].upper()}{bad.label[1:]}: no misfires from {SPEEDS[0]:.0f} to {SPEEDS[-1]:.0f} rpm."
    # Only where every window lights: a second spark that lights now and then, where the first is too weak, tells no angle.
    pairs = [(row, good) for row, good in zip(rows, good_rows, strict=True)
             if not row.misfires and not good.misfires]
    if bad is not GOOD and pairs:
        apart = [(row.angle.mean or 0.0) - (good.angle.mean or 0.0) for row, good in pairs]
        most = max(apart, key=abs)
        where = "later" if most > 0.0 else "earlier"
        said += f" Where every window lights, it does so up to {abs(most):.1f} degrees {where} than the well-set one"
        least_share = min(row.energy / good.energy for row, good in pairs if good.energy)
        said += f", with {100.0 * least_share:.0f} % of its energy at the least."
    burnt, kept = max(row.arc_energy for row in rows), max(row.arc_energy for row in good_rows)
    if bad is not GOOD and burnt > kept + 1e-3:
        said += f" Up to {1e3 * burnt:.0f} mJ a window burn at its points ({1e3 * kept:.0f} at the other's)."
    return said


def full(values: Values) -> Picture:
    """Return the picture; `values`: coil, a key of bad_coils.BAD; least, mJ that light the charge."""
    bad, least = coil(values["coil"]), float(values["least"])
    charts = (
        _chart("misfires", "Windows without a spark that lights", Axis("of 100 windows", "1", 0.0, 100.0),
               lambda row: 100.0 * row.misfires, bad, least),
        _chart("energy", "Energy of the first spark", Axis("energy", "mJ", 0.0, 60.0),
               lambda row: 1e3 * row.first_energy, bad, least, least),
        _chart("angle", "Where it lights, after the timer closes", Axis("crank angle", "degrees", 0.0, 30.0),
               lambda row: row.angle.mean, bad, least),
        _chart("arc", "Burnt at the points", Axis("energy a window", "mJ", 0.0, 120.0),
               lambda row: 1e3 * row.arc_energy, bad, least),
    )
    rows = costs(bad.key, least)
    sentence = in_words(bad, least)
    scatters = [row.angle.scatter for row in rows if row.angle.scatter is not None]
    misfires = 100.0 * sum(row.misfires for row in rows) / len(rows)
    readings = (
        Reading("Misfires, all speeds together", f"{misfires:.0f} of 100", misfires, "1"),
        Reading("Widest scatter of the angle", parts.number(max(scatters), "degrees") if scatters else "none",
                max(scatters) if scatters else None, "degrees"),
        Reading("Sparks too late to be of use", parts.number(1e3 * max(row.later_energy for row in rows), "mJ a window"),
                1e3 * max(row.later_energy for row in rows), "mJ"),
    )
    told = "; ".join(f"{row.rpm:.0f} rpm: {100.0 * row.misfires:.0f} of 100 misfire, first spark {1e3 * row.first_energy:.0f} mJ"
                     for row in rows)
    return Picture(sentence, f"Four charts over crank speed, the well-set coil dashed beside the {bad.label}. {told}. {sentence}",
                   readings, charts=charts)


SAID = {
    "slack": "It starts by hand. On the road it misfires, and its points burn: the coil of Thursday and Sunday.",
    "stiff": "Hard to start by hand. On the road it lights, and earlier than the well-set coil.",
    "tight": "No misfires. It lights later than the well-set coil at every speed.",
    "soft": "No misfires. It lights earlier than the well-set coil, and by hand with less energy.",
    "magneto": "It does not start by hand. On the road it lights, some degrees later.",
    "leak": "Less energy for the spark at the crank and at the speeds of the road.",
    "small": "It misfires at every speed: what should make the spark burns at the points.",
    "points": "It does not start by hand, and on the road nobody would notice.",
}
"""What each preset says; tests/lessons/test_costs.py holds each to the model."""

PANEL = Panel(
    "costs",
    "What it costs the engine",
    "The timer lets one pulse through, from rest, at every speed of the road. Which of these coils misfires, and where?",
    (
        Choice("coil", "What is wrong", tuple((one.key, one.label) for one in BAD), "slack",
               "One thing at a time, on the well-set coil; the dashed curves are the well-set coil itself."),
        Control("least", "A spark lights the charge from", "mJ", 2.0, 25.0, 1.0, LEAST,
                "A slope in truth: a rich still mixture wants less, a lean or cold one more. Move it and see what hangs on it."),
    ),
    compute=full,
    presets=tuple(Preset(one.label[0].upper() + one.label[1:], {"coil": one.key}, SAID[one.key]) for one in BAD),
)

PANELS = (PANEL,)
