"""How often the advice on a set of four is right about coils of other makes: `python -m coilbench.four_trial` (minutes a set).

Of designs that are not stored (another seed of designs.py) a known-good coil, which lights in the car at every speed, and four
others are imagined on one magneto, the vibrators of these bent a little, one in four of them with a fault. They are read with
seeded errors (the usual nine), the advice is asked for as the command --four does, and carried out on the very coils, each set
with a hand's error to the current that it says; one that then fires otherwise than once in every pulse is put back. What the set
scatters before and after is the model's own. Nothing of the advice was settled on these coils.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from coilbench import four, four_make, makes
from coilbench.causes import CAUSES, Coil, spoilt
from coilbench.designs import designs
from coilbench.fill_designs import TRIES
from coilbench.imagine import spread
from coilbench.makes_trial import USUAL, _read, _share
from coilbench.predict import set_well
from coilbench.sheet import Reading
from coilmodel.progress import bar

SETS, SEED = 12, 97_000_039
FAULTY = 0.25  # of the coils of a set have a fault of the list besides


@dataclass(frozen=True)
class Outcome:
    """What came of one set: degrees of crank from the earliest to the latest, mean over the speeds, of the coils that light in
    the car at every speed both before and after.

    advised : whether setting them is advised; found : as they are; after : when the settings of the advice are made, also where
    it is to leave them; promised : middle and limits of nine in ten of the gain; once_found, once : coils that fire once in every
    pulse before and after
    """

    advised: bool
    found: float
    after: float
    promised: tuple[float, float, float]
    once_found: int
    once: int


def drawn(count: int, seed: int) -> list[tuple[Coil, list[Coil]]]:
    """Return of each of `count` designs a known-good coil and four others, as they lie on the bench."""
    found: list[tuple[Coil, list[Coil]]] = []
    for place, machine in enumerate(designs(2 * count, seed, bar)):
        generator = np.random.default_rng((seed, 5, place))
        try:
            coils = spread(TRIES, seed + place, nominal=machine)
        except ValueError:  # a number that leaves its range
            continue
        good: list[Coil] = []
        for coil in coils:
            if len(good) <= four.SET and set_well([coil])[0]:
                good.append(coil)
        if len(good) > four.SET and _lights(good[0]):
            found.append((good[0], [_bent(good[0], coil, generator) for coil in good[1:]]))
        if len(found) == count:
            break
    return found


def _lights(known: Coil) -> bool:
    """Return whether a known-good coil lights in its car at every speed: else it would not be known as good."""
    try:
        return all(math.isfinite(four.firing_angle(known, 1.0, rpm, 0.0, known.machine)) for rpm in four.SPEEDS)
    except ValueError:  # beyond what the model can follow
        return False


def _bent(known: Coil, coil: Coil, generator: np.random.Generator) -> Coil:
    low, high = four_make.BENT
    bend = low * (high / low) ** float(generator.random())
    machine = replace(coil.machine, magneto=known.machine.magneto).scaled(vibrator_preload=bend)
    bent = Coil(machine, 1.0, known.gap, known.supply)
    if generator.random() >= FAULTY:
        return bent
    faults = [cause for cause in CAUSES if cause.what and cause.key != "weak_drive"]
    weights = np.array([cause.prior for cause in faults])
    return spoilt(bent, faults[int(generator.choice(len(faults), p=weights / weights.sum()))], float(generator.random()))


def tried(known: Coil, coils: Sequence[Coil], generator: np.random.Generator) -> Outcome:
    """Return what comes of the advice on one set. Raises ValueError where the command would say in a sentence that it can't."""
    readings: dict[str, tuple[Reading, ...]] = {"known": _read(known, USUAL, generator)}
    readings |= {f"coil {number}": _read(coil, USUAL, generator) for number, coil in enumerate(coils)}
    store = makes.centred((readings["known"],))
    chosen = [name for name in readings if name != "known"]
    own, which = four_make.likely_beside(readings, chosen, store, ["known"], (0.0,), bar)
    found = four.best_set(four.candidates(own, (0.0,), bar, which))
    if found.fewer:
        raise ValueError("fewer than four can be set")
    true = {name: four.scan(coil, make=four.Make(0, known.machine, 1.0, np.zeros((1, len(four.SPEEDS)))))
            for name, coil in zip(chosen, coils, strict=True)}
    before, after, once = [], [], 0
    for place in found.adjusted:
        surface = true[place.coil.name]
        now = surface.angle[0, :, four.FOUND]
        before.append(now)
        single = bool(surface.single[four.FOUND])
        if place.current is not None:
            current = place.current * (1.0 + four.SETTING_ERROR * float(generator.standard_normal()))
            ok, angles = four._by_current(surface, np.array([current]))
            if ok[0]:
                now, single = angles[0, :, 0], True
        after.append(now)
        once += single
    there = np.isfinite([before, after]).all(axis=(0, 2))
    return Outcome(found.worth, _scatter(np.array(before)[there]), _scatter(np.array(after)[there]), found.gain,
                   sum(bool(surface.single[four.FOUND]) for surface in true.values()), once)


def _scatter(angles: np.ndarray) -> float:
    """Return degrees from the earliest to the latest, mean over the speeds; NaN for fewer than three coils."""
    return float(np.ptp(angles, axis=0).mean()) if len(angles) >= four.SET - 1 else math.nan


def summary(found: Sequence[Outcome], refused: int) -> dict[str, Any]:
    """Return the outcome in figures, JSON-able; gains in degrees of crank."""
    known = [one for one in found if np.isfinite([one.found, one.after]).all()]
    set_up, left = ([one for one in known if one.advised is wanted] for wanted in (True, False))
    gains = [one.found - one.after for one in set_up]
    return {"sets": len(found), "refused": refused, "compared": len(known), "advised": len(set_up), "left": len(left),
            "advised_gains": gains, "advised_better": _share(gain > 0.0 for gain in gains),
            "held": _share(one.promised[1] <= one.found - one.after <= one.promised[2] for one in set_up),
            "left_would_have_gained": [one.found - one.after for one in left],
            "less_sparks": sum(one.advised and one.once < one.once_found for one in found)}


def main() -> None:
    """Try held-out sets, print the outcome, and keep it."""
    parser = argparse.ArgumentParser(description="How often is the advice on a set of four right about other makes?")
    parser.add_argument("--sets", type=int, default=SETS)
    parser.add_argument("--seed", type=int, default=SEED, help="of the designs")
    parser.add_argument("--keep", metavar="FILE", type=Path, help="write the outcome")
    given = parser.parse_args()
    outcomes: list[Outcome] = []
    refused = 0
    for place, (known, coils) in enumerate(drawn(given.sets, given.seed)):
        try:
            one = tried(known, coils, np.random.default_rng((given.seed, 6, place)))
        except ValueError as error:
            refused += 1
            print(f"set {place + 1}: {error}", flush=True)
            continue
        outcomes.append(one)
        print(f"set {place + 1}: {'set them' if one.advised else 'leave them'}, scatter {one.found:.2f} then {one.after:.2f} "
              f"degrees, gain promised {one.promised[0]:.2f} ({one.promised[1]:.2f} to {one.promised[2]:.2f}), "
              f"once in every pulse {one.once_found} then {one.once} of {four.SET}", flush=True)
    found = summary(outcomes, refused)
    print(json.dumps(found))
    if given.keep:
        given.keep.write_text(json.dumps({"seed": given.seed, **found}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
