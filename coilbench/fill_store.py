"""Makes coilbench/imagined.json: `python -m coilbench.fill_store`.

The file holds the bench's imagined coils (predict.imagined_coils) and what each reads on the usual benches (stored.SETTINGS),
so that the command, and a page without numpy, on a tablet too, can judge readings within a second. Run it again whenever the
model, the priors or the imagined coils change; a test tells.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from coilbench import stored
from coilbench.carried import ROOT
from coilbench.causes import CAUSES, TOLERANCES, Cause, Coil, number_of
from coilbench.predict import imagined_coils, outcomes
from coilbench.running import COLUMN
from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.progress import bar


def base_of(coil: Coil) -> list[float]:
    """Return how a well-set imagined coil differs from the nominal one: its factors, leakage (ohm), gap and supply."""
    nominal = Machine()
    factors = [number_of(coil.machine, name) / number_of(nominal, name) for name in TOLERANCES]
    return [float(f"{value:.6g}") for value in (*factors, coil.machine.condenser.leakage_resistance, coil.gap, coil.supply)]


def even_of(coil: Coil, cause: Cause) -> float:
    """Return where along its cause's range a coil's severity lies, from 0 to 1."""
    return round(math.log(coil.severity / cause.low) / math.log(cause.high / cause.low), 6) if cause.what else 0.5


def counted(values: Sequence[float], unit: float) -> list[int | None]:
    """Return `values` as whole multiples of `unit`, None where there is none."""
    return [None if math.isnan(value) else round(value / unit) for value in values]


def content(by_cause: dict[str, list[Coil]]) -> dict[str, Any]:
    """Return the content of the file. by_cause : of predict.imagined_coils"""
    coils = [coil for cause in CAUSES for coil in by_cause[cause.key]]
    found: dict[str, Any] = {
        "numbers": [*TOLERANCES, *stored.BESIDES],
        "bases": [base_of(coil) for coil in by_cause["well_set"]],
        "evens": {cause.key: [even_of(coil, cause) for coil in by_cause[cause.key]] for cause in CAUSES},
        "outcomes": [],
    }
    for setting in stored.SETTINGS:
        rows = outcomes([(coil, setting) for coil in coils], bar, f"Imagined coils {setting.bench.say()}")
        found["outcomes"].append({name: counted(list(rows[:, COLUMN[name]]), stored.STEP)
                                  for name in stored.kept(setting)})
    return found


def main() -> None:
    """Write the file, a list a line, so that a change of it can be read."""
    simulate(Machine(), MagnetoDrive(), pulses=1)  # compiled here, once, not by every process at the same time
    text = json.dumps(content(imagined_coils(progress=bar)), separators=(",", ":")).replace("],", "],\n")
    path = ROOT / stored.FILE
    path.write_text(text + "\n", encoding="utf-8", newline="\n")
    print(f"Wrote {path}: {path.stat().st_size // 1000} kB.")


if __name__ == "__main__":
    main()
