"""Imagined coils: machines that differ among themselves as the priors of causes.py say."""

from __future__ import annotations

import math

import numpy as np
from scipy.stats import norm, qmc

from coilbench.causes import GAP_TOLERANCE, SOUND_LEAKAGE, SUPPLY_TOLERANCE, TOLERANCES, Coil
from coilmodel import Machine


def spread(count: int, seed: int, start: int = 0, width: float = 1.0, nominal: Machine | None = None) -> list[Coil]:
    """Return `count` imagined coils that differ as TOLERANCES say, not yet tried for being well set.

    seed, start : of the scrambled Sobol sequence, and how many of its points to pass over; width : scales all tolerances
    """
    base = nominal or Machine()
    names = list(TOLERANCES)
    points = qmc.Sobol(len(names) + 3, seed=seed)
    if start:
        points.fast_forward(start)
    uniform = np.clip(points.random(count), 1e-9, 1.0 - 1e-9)
    normal = norm.ppf(uniform)
    coils = []
    for row, even in zip(normal, uniform, strict=True):
        factors = {name: math.exp(width * TOLERANCES[name] * row[place]) for place, name in enumerate(names)}
        low, high = SOUND_LEAKAGE
        leakage = low * (high / low) ** even[-1]
        machine = base.scaled(**factors).but(condenser={"leakage_resistance": leakage, "capacitance":
                                                        base.condenser.capacitance * factors["condenser_capacitance"]})
        coils.append(Coil(machine, 1.0, math.exp(width * GAP_TOLERANCE * row[-3]), math.exp(width * SUPPLY_TOLERANCE * row[-2])))
    return coils
