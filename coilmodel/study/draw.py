"""Which coils a study runs: evenly spread points (scrambled Sobol sequence), arranged so that causes can be told apart.

Run number r belongs to imagined coil r // roles and plays role r % roles. Role 0 is a point A of the spread, role 1 an
independent point B, and role 2 + i is A with its number i taken from B: Saltelli's arrangement, from which
`scipy.stats.sobol_indices` makes first and total indices (Saltelli et al., Computer Physics Communications 181, 2010, 259).
Every run's numbers depend on its own number and the seed alone, so neither workers nor slices can change them.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
from scipy.stats import qmc

from coilmodel.study.plan import Plan

EDGE = 2.0**-32  # a point on the very edge of the cube would be infinite in a normal distribution


def values(plan: Plan, first: int, last: int) -> Any:
    """Return the numbers that vary for runs `first` to `last` - 1 of a plan, shape (last - first, varied), own units."""
    count = len(plan.vary)
    base, end = first // plan.roles, -(-last // plan.roles)
    even = evens(plan, base, end)
    a, b = even[:, :count], even[:, count:]
    if plan.roles == 1:
        arranged = a[:, None, :]
    else:
        arranged = np.repeat(a[:, None, :], plan.roles, axis=1)
        arranged[:, 1, :] = b
        for place in range(count):
            arranged[:, 2 + place, place] = b[:, place]
    rows = arranged.reshape(-1, count)[first - base * plan.roles:last - base * plan.roles]
    return np.column_stack([one.distribution().ppf(rows[:, place]) for place, one in enumerate(plan.vary)])


def evens(plan: Plan, first: int, last: int) -> Any:
    """Return points `first` to `last` - 1 of the plan's sequence, in the unit cube, shape (last - first, 2 x varied)."""
    points = qmc.Sobol(2 * len(plan.vary), rng=plan.seed)
    if first:
        points.fast_forward(first)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "The balance properties")  # true of a slice; the whole study has a power of two
        drawn = points.random(last - first)
    return np.clip(drawn, EDGE, 1.0 - EDGE)
