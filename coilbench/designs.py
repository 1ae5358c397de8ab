"""Designs of such coils that work, as other makes may be: what nobody publishes, drawn wide apart and tried in the model.

Springs, gaps, dampings, coupling, ratio and the magneto's harmonics differ from make to make. A design is drawn round one of
the machines that the search found (the nominal one, the search's starts, the front of two wishes), each number spread as SPREAD
says (our judgement, no source), and kept where it fires as a well-set coil does: one sound spark in every pulse at every speed of
BAND, from hand speed to the road. Seeded: one seed gives one list of designs.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

import numpy as np

from coilbench.asks import Setting
from coilbench.causes import Coil
from coilbench.predict import Progress, spread_out
from coilbench.running import run_on
from coilbench.sheet import Bench
from coilmodel import Machine
from coilmodel.readings import read
from coilmodel.search import BOUNDS, FRONT, STARTS, machine_from

BAND = (200.0, 300.0, 450.0, 600.0)
"""rpm, full drive: a design must fire exactly once in every pulse at each of these, and soundly."""

SEARCHED = 0.25
"""Standard deviation of the logarithm of every number that the search moves (springs, gaps, dampings), round its centre."""
SPREAD: dict[str, float] = {
    "coil_primary_inductance": 0.12, "coil_primary_resistance": 0.15, "coil_turns_ratio": 0.15, "coil_core_resistance": 0.30,
    "coil_secondary_resistance": 0.20, "coil_secondary_capacitance": 0.25, "magneto_flux_linkage": 0.10,
    "magneto_inductance": 0.12, "magneto_resistance": 0.20, "condenser_capacitance": 0.12, "contacts_arc_current": 0.15,
}
"""The same for what the search leaves alone."""
COUPLING, THIRD, FIFTH = (0.86, 0.97), (-0.15, 0.15), (-0.08, 0.08)
"""Limits of the coupling and of the magneto's harmonics as shares of the first, every value between them equally likely."""


def centres() -> list[dict[str, float]]:
    """Return the machines of the search round which designs are drawn: what it moves, keys of search.BOUNDS."""
    found = [_searched(Machine()), *STARTS]
    for ends in json.loads(FRONT.read_text(encoding="utf-8"))["together"].values():
        found += [one["values"] for one in ends if one["well"] >= 0.9]
    return found


def _searched(machine: Machine) -> dict[str, float]:
    return {name: float(getattr(getattr(machine, part), key)) for name in BOUNDS for part, _, key in (name.partition("."),)}


def draw(generator: np.random.Generator) -> Machine | None:
    """Return a design not yet tried, None where its numbers make no machine at all."""
    around = centres()[int(generator.integers(len(centres())))]
    values = {}
    for name, (low, high) in BOUNDS.items():
        values[name] = min(high, max(low, around[name] * math.exp(SEARCHED * float(generator.standard_normal()))))
    factors = {name: math.exp(share * float(generator.standard_normal())) for name, share in SPREAD.items()}
    coupling, third, fifth = (float(generator.uniform(*limits)) for limits in (COUPLING, THIRD, FIFTH))
    try:
        return machine_from(values).scaled(**factors).but(
            coil={"coupling": coupling}, magneto={"third_harmonic": third, "fifth_harmonic": fifth})
    except ValueError:  # a gap too narrow for its pull, say
        return None


def works(machine: Machine) -> bool:
    """Return whether a design fires as a well-set coil does, over the whole band of speeds."""
    for rpm in BAND[::-1]:
        try:
            result = read(run_on(Coil(machine), Setting(Bench(rpm, 1.0))))
        except ValueError:  # springs and stops that the stepper cannot follow
            return False
        if result.single != 1.0 or result.misfired != 0.0:
            return False
    return True


def designs(count: int, seed: int, progress: Progress | None = None) -> list[Machine]:
    """Return `count` designs that work, drawn by `seed`. Raises ValueError where hardly any does."""
    generator = np.random.default_rng((seed, 11))
    found: list[Machine] = []
    tried = 0
    while len(found) < count:
        drawn = [machine for machine in (draw(generator) for _ in range(400)) if machine is not None]
        tried += 400
        good = spread_out(_work, drawn, progress, "Looking for designs that work")
        found += [machine for machine, yes in zip(drawn, good, strict=True) if yes]
        if tried >= 20_000 and len(found) < 0.001 * tried:
            raise ValueError(f"bench: of {tried} designs drawn only {len(found)} fire once a pulse.")
    return found[:count]


def _work(machines: Sequence[Machine]) -> list[bool]:
    return [works(machine) for machine in machines]
