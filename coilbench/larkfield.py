"""Makes lessons/examples/larkfield_twelve.csv: `python -m coilbench.larkfield`.

The four coils of the fictional Larkfield Twelve. Nothing here was measured: each coil is an imagined one of the model with a
hidden fault, and its readings are the model's, with seeded errors of measurement. Run it again whenever the nominal machine
changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coilbench.asks import Ask, Setting
from coilbench.causes import BY_KEY as CAUSES
from coilbench.causes import Coil, spoilt
from coilbench.kinds import BY_KEY
from coilbench.makes import COURSE
from coilbench.predict import answer, well_set
from coilbench.running import COLUMN, outcome
from coilbench.sheet import Bench, write_rows
from coilbench.units import UNITS

SHEET = Path(__file__).parents[1] / "lessons" / "examples" / "larkfield_twelve.csv"
SEED = 1910  # of coils and errors; no imagined coil of the bench comes from it
DAY = "2031-05-08"  # a Thursday: the Wendle Valley Engine Club meets


@dataclass(frozen=True)
class Hidden:
    """What is wrong with a coil of the example, and how badly (0 to 1 along its cause's range); and how it came to that.

    base : which of the well-set coils of SEED it was, chosen so that its card is plain; past : (day, cause, place) of what it was
    like before; changed : the day and what was adjusted on it
    """

    coil: str
    base: int
    cause: str
    place: float
    past: tuple[tuple[str, str, float], ...]
    changed: tuple[str, str] | None = None


MARCH, APRIL = "2031-03-06", "2031-04-10"  # Thursdays too
HIDDEN = (
    Hidden("Alder", 13, "well_set", 0.5, ((MARCH, "vibrator_low", 0.3), (APRIL, "vibrator_low", 0.3)),
           (APRIL, "vibrator bent up")),
    Hidden("Birch", 11, "cushion_slack", 0.45, ((MARCH, "cushion_slack", 0.95), (APRIL, "cushion_slack", 0.8))),
    Hidden("Cedar", 12, "leakage", 0.3, ((MARCH, "leakage", 0.9), (APRIL, "leakage", 0.6))),
    Hidden("Damson", 21, "cushion_stiff", 0.55, ((MARCH, "cushion_slack", 0.3), (APRIL, "cushion_slack", 0.3)),
           (APRIL, "cushion spring tightened")))

ASKS = (Ask("capacity"), Ask("self_discharge", None, 100.0, 5.0),
        *(Ask(kind, Setting(Bench(rpm, 1.0))) for rpm in (200.0, 450.0, 600.0) for kind in ("sparks", "opening_current")),
        Ask("meter_rectified", Setting(Bench(450.0, 1.0))))


PAST_ASKS = (*ASKS[:2], *(Ask(kind, Setting(Bench(450.0, 1.0))) for kind in ("sparks", "opening_current")))
"""What was read of each coil before."""


def rows(seed: int = SEED) -> list[dict[str, str]]:
    """Return the rows of the sheet, by column, coil by coil and the earliest first."""
    bases = well_set(1 + max(hidden.base for hidden in HIDDEN), seed)
    found = []
    for hidden in HIDDEN:
        base, generator = bases[hidden.base], np.random.default_rng((seed, hidden.base))
        last = rows_of(hidden.coil, spoilt(base, CAUSES[hidden.cause], hidden.place), ASKS, DAY, generator)
        for day, cause, place in hidden.past:
            found += rows_of(hidden.coil, spoilt(base, CAUSES[cause], place), PAST_ASKS, day, generator)
            if hidden.changed and hidden.changed[0] == day:
                found.append({"coil": hidden.coil, "date": day, "reading": "adjusted",
                              "remark": f"{hidden.changed[1]} (invented)"})
        found += last
    return found


def rows_of(name: str, coil: Coil, asks: Sequence[Ask], day: str, generator: np.random.Generator) -> list[dict[str, str]]:
    """Return what `asks` read on an imagined coil on `day`, seeded errors included, as rows of a sheet."""
    found = []
    for ask in asks:
        value = answer(ask, coil, generator)
        if ask.kind == "sparks" and ask.setting:  # counted on the bench's own strip: no error but the rounding
            value = outcome(coil, ask.setting)[COLUMN["sparks"]]
        if value is not None:
            found.append(row(name, ask, value, day))
    return found


def row(coil: str, ask: Ask, value: float, day: str = DAY, remark: str = "invented: read off the model") -> dict[str, str]:
    """Return one answer as a row of a sheet, rounded as a person would write it down."""
    kind = BY_KEY[ask.kind]
    inside = value / UNITS[kind.measure][kind.unit]
    places = {"capacity": 3, "self_discharge": 1, "travel": 2, "primary_resistance": 2, "sparks": 2}.get(ask.kind, 2)
    found = {"coil": coil, "date": day, "reading": kind.name, "value": f"{inside:.{places}f}", "unit": kind.unit,
             "make": COURSE, "remark": remark}
    if ask.kind == "self_discharge":
        found |= {"start_V": f"{ask.start_volts:g}", "after_s": f"{ask.after_seconds:g}"}
        if ask.meter_ohms is not None:
            found["meter_Mohm"] = f"{ask.meter_ohms / 1e6:g}"
    if ask.setting and ask.setting.bench.hertz:
        found |= {"supply": "transformer", "supply_V": f"{ask.setting.bench.volts:g}",
                  "supply_Hz": f"{ask.setting.bench.hertz:g}"}
    elif ask.setting and ask.setting.bench.volts:
        found |= {"supply": "battery", "supply_V": f"{ask.setting.bench.volts:g}"}
    elif ask.setting:
        found |= {"speed_rpm": f"{ask.setting.bench.rpm:g}", "drive_percent": f"{100 * ask.setting.bench.drive:g}"}
    return found


if __name__ == "__main__":
    SHEET.write_text(write_rows(rows()), encoding="utf-8", newline="")
    print(f"Wrote {SHEET}.")
