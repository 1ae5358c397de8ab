"""Makes lessons/examples/larkfield_five.csv: `python -m coilbench.four_example`.

The four coils of the fictional Larkfield Twelve after their faults were mended, and a spare, Elm. Nothing here was measured:
each is an imagined well-set coil whose vibrator somebody has bent away from where it was, and its readings are the model's, with
seeded errors of measurement.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from coilbench.causes import Coil
from coilbench.larkfield import ASKS, rows_of
from coilbench.predict import well_set
from coilbench.sheet import write_rows

SHEET = Path(__file__).parents[1] / "lessons" / "examples" / "larkfield_five.csv"
SEED = 1920
BENT = {"Alder": 1.0, "Birch": 1.12, "Cedar": 0.92, "Damson": 1.06, "Elm": 1.0}
"""What each vibrator's preload was multiplied by."""
DAY = "2031-06-12"  # a Thursday, five weeks after the faults were found


def coils(seed: int = SEED) -> dict[str, Coil]:
    """Return the five imagined coils."""
    return {name: Coil(coil.machine.scaled(vibrator_preload=factor), coil.drive, coil.gap, coil.supply)
            for (name, factor), coil in zip(BENT.items(), well_set(len(BENT), seed), strict=True)}


def rows(seed: int = SEED) -> list[dict[str, str]]:
    """Return the rows of the sheet, by column."""
    generator = np.random.default_rng(seed)
    found: list[dict[str, str]] = []
    for name, coil in coils(seed).items():
        found += rows_of(name, coil, ASKS, DAY, generator)
    return found


if __name__ == "__main__":
    SHEET.write_text(write_rows(rows()), encoding="utf-8", newline="")
    print(f"Wrote {SHEET}.")
