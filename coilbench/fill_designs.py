"""Makes coilbench/designs.json, the coils of other makes: `python -m coilbench.fill_designs` (some minutes).

Of each design of designs.py two well-set coils are drawn as coils of one make differ: one stands as it is, for the known-good
coil of a sheet; into the other each cause is put in turn, its severity anywhere in the cause's range, and then TWOS pairs of
faults, drawn as trial.py draws them. What they read on the benches of makes.SETTINGS is stored.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np

from coilbench import makes, stored
from coilbench.carried import ROOT
from coilbench.causes import CAUSES, Coil, spoilt
from coilbench.designs import designs
from coilbench.fill_store import counted
from coilbench.imagine import spread
from coilbench.predict import outcomes, set_well, spread_out
from coilbench.running import COLUMN
from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.progress import bar

DESIGNS, SEED = 160, 20310621
TWOS = 32  # coils with two faults of each design
TRIES = 24  # coils drawn of a design until two of them are well set; else it hangs by a thread and is no make


@cache
def pairs(count: int, seed: int) -> list[tuple[Coil, Coil]]:
    """Return two well-set coils of each of `count` designs."""
    drawn = [(machine, seed + place) for place, machine in enumerate(designs(count + count // 2, seed, bar))]
    found = [pair for pair in spread_out(_pairs, drawn, bar, "Coils of each design") if pair]
    if len(found) < count:
        raise ValueError(f"bench: only {len(found)} of {len(drawn)} designs give two well-set coils in {TRIES}.")
    return found[:count]


def _pairs(drawn: Sequence[tuple[Machine, int]]) -> list[tuple[Coil, Coil] | None]:
    found: list[tuple[Coil, Coil] | None] = []
    for machine, seed in drawn:
        good: list[Coil] = []
        try:
            coils = spread(TRIES, seed, nominal=machine)
        except ValueError:  # a number that leaves its range
            coils = []
        for coil in coils:
            if len(good) < 2 and set_well([coil])[0]:
                good.append(coil)
        found.append((good[0], good[1]) if len(good) == 2 else None)
    return found


def content() -> dict[str, Any]:
    """Return the content of the file."""
    both = [tuple(makes_plain(coil) for coil in pair) for pair in pairs(DESIGNS, SEED)]
    reference, bases = [pair[0] for pair in both], [pair[1] for pair in both]
    evens = {cause.key: [round(float(even), 4) for even in
                         (np.random.default_rng((SEED, 1, place)).permutation(DESIGNS) + 0.5) / DESIGNS]
             for place, cause in enumerate(CAUSES)}
    twos = two_faults(DESIGNS * TWOS)
    coils = [*reference, *(spoilt(coil, cause, even) for cause in CAUSES
                           for coil, even in zip(bases, evens[cause.key], strict=True)),
             *(spoilt(spoilt(bases[place // TWOS], CAUSES[first], one), CAUSES[second], other)
               for place, (first, second, one, other) in enumerate(zip(*twos.values(), strict=True)))]
    found: dict[str, Any] = {**labels(), "reference": [flat(coil) for coil in reference], "bases": [flat(coil) for coil in bases],
                             "evens": evens, **twos, "outcomes": []}
    for setting in makes.SETTINGS:
        rows = outcomes([(coil, setting) for coil in coils], bar, f"Coils of other makes {setting.bench.say()}")
        found["outcomes"].append({name: counted(list(rows[:, COLUMN[name]]), stored.STEP)
                                  for name in stored.kept(setting)})
    return found


def labels() -> dict[str, list[Any]]:
    """Return what the file's lists are of, by name: the numbers of a coil, the causes, the benches."""
    return {"numbers": [*makes.names_of(Machine()), makes.GAP, makes.SUPPLY], "causes": [cause.key for cause in CAUSES],
            "benches": [{"bench": vars(setting.bench), "gap": setting.gap} for setting in makes.SETTINGS]}


def two_faults(count: int) -> dict[str, list[Any]]:
    """Return `count` pairs of faults, as often as their priors say: their places in CAUSES, and where their severities lie."""
    generator = np.random.default_rng((SEED, 2))
    faults = [place for place, cause in enumerate(CAUSES) if cause.what]
    weights = np.array([CAUSES[place].prior for place in faults])
    both = [[faults[int(one)] for one in generator.choice(len(faults), 2, False, weights / weights.sum())] for _ in range(count)]
    evens = [[round(float(even), 4) for even in generator.random(count)] for _ in range(2)]
    return {"first": [one for one, _ in both], "second": [other for _, other in both], "first_even": evens[0],
            "second_even": evens[1]}


def flat(coil: Coil) -> list[float]:
    """Return all numbers of a well-set coil, as the file holds them."""
    return [float(f"{value:.6g}") for value in (*makes.numbers_of(coil.machine), coil.gap, coil.supply)]


def makes_plain(coil: Coil) -> Coil:
    """Return a coil as it comes back from the file, so that what is run is what will be read."""
    return makes.coil_of(dict(zip(labels()["numbers"], flat(coil), strict=True)))


def main() -> None:
    """Write the file, a list a line."""
    simulate(Machine(), MagnetoDrive(), pulses=1)  # compiled here, once
    text = json.dumps(content(), separators=(",", ":")).replace("],", "],\n")
    path = ROOT / makes.FILE
    path.write_text(text + "\n", encoding="utf-8", newline="\n")
    print(f"Wrote {path}: {path.stat().st_size // 1000} kB.")


if __name__ == "__main__":
    main()
