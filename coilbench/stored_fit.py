"""The fitted machine, as in fitted.py, from the stored imagined coils: for a page without numpy.

Every stored coil, of every cause, counts as much as its cause's odds and its own agreement say; a number's limits hold nine in
ten of that weight. Standard library only.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from functools import cache
from itertools import accumulate
from typing import Protocol

from coilbench.asks import Ask
from coilbench.causes import BY_KEY, CAUSES, SOUND_GRID, Coil
from coilbench.errors import discharge, log_likelihood
from coilbench.sheet import Reading
from coilbench.verdict import NUMBERS, Fitted, Number
from coilbench.weighing import quantile_between, weights_of


class Coils(Protocol):
    """Imagined coils, cause after cause, and where those of each of CAUSES stand (a stored.Imagined)."""

    coils: list[Coil]

    def own(self, place: int) -> range: ...

    def __hash__(self) -> int: ...


LEFT_OUT = 0.05  # of the weight, on either side of a number's limits


def fitted(total: Sequence[float], shares: Sequence[float],
           used: Sequence[tuple[Reading, Ask]], store: Coils) -> tuple[tuple[Fitted, ...], float]:
    """Return every number of NUMBERS as fitted, and the stored coils that carry them (effective number).

    total : log-likelihood of each stored coil; shares : odds of each of CAUSES; used : the readings and their questions
    """
    whole = sum(cause.prior for cause in CAUSES)
    before, after = [0.0] * len(total), [0.0] * len(total)
    for place, cause in enumerate(CAUSES):
        own = store.own(place)
        for one, weight in zip(own, weights_of([total[one] for one in own]), strict=True):
            before[one] = cause.prior / whole / len(own)
            after[one] = shares[place] * weight
    carried = sum(after) ** 2 / sum(weight * weight for weight in after)
    # Limits between few draws hold less than they seem to: of n draws each side's outermost leaves out 1/(n + 1), not 0.
    left_out = max(0.0, LEFT_OUT - 0.45 / carried)
    found = []
    for number in NUMBERS:
        if number.key == "condenser_leakage_resistance":
            found.append(_fitted(number, *_leakage(before, after, used, store), left_out))
        else:
            found.append(_fitted(number, values_of(number, store), before, after, left_out))
    return tuple(found), carried


@cache
def values_of(number: Number, store: Coils) -> list[float]:
    """Return a number of every stored coil, SI units."""
    return [number.of(coil) for coil in store.coils]


def _fitted(number: Number, values: Sequence[float], before: Sequence[float], after: Sequence[float], left_out: float) -> Fitted:
    order = sorted(range(len(values)), key=values.__getitem__)
    logs = [math.log(values[place]) for place in order]
    now, then = ([weights[place] for place in order] for weights in (after, before))
    median, low, high = (math.exp(quantile_between(logs, now, share)) for share in (0.5, left_out, 1.0 - left_out))
    before_low, before_high = (math.exp(quantile_between(logs, then, share)) for share in (LEFT_OUT, 1.0 - LEFT_OUT))
    # The weight that has come to lie in each tenth of what was likely before.
    heaped, gained = list(accumulate(then)), list(accumulate(now))
    edges = [bisect_left(heaped, 0.1 * tenth * heaped[-1]) for tenth in range(1, 10)]
    cuts = [0.0, *(gained[max(edge - 1, 0)] / gained[-1] for edge in edges), 1.0]
    parts = [high_cut - low_cut for low_cut, high_cut in zip(cuts, cuts[1:], strict=False)]
    bits = sum(part * math.log2(10.0 * part) for part in parts if part > 1e-12)
    return Fitted(number, median, low, high, before_low, before_high, bits)


def _leakage(before: Sequence[float], after: Sequence[float],
             used: Sequence[tuple[Reading, Ask]], store: Coils) -> tuple[list[float], list[float], list[float]]:
    """Return leakage resistances and their weights before and after: a sound condenser's are spread over a grid."""
    grid = SOUND_GRID
    leaky = store.own(CAUSES.index(BY_KEY["leakage"]))
    sound = [number for number in range(len(after)) if number not in leaky]
    left_before, left = sum(before[number] for number in sound), sum(after[number] for number in sound)
    spread = [left / len(grid)] * len(grid)
    discharges = [(reading.value, ask) for reading, ask in used if ask.kind == "self_discharge"]
    if discharges and left > 0.0:
        mean = sum(store.coils[number].machine.condenser.capacitance * after[number] for number in sound) / left
        logs = [sum(log_likelihood(value, ask, *discharge(ask, mean, leakage)) for value, ask in discharges) for leakage in grid]
        spread = [weight * left for weight in weights_of(logs)]
    return ([*(store.coils[number].machine.condenser.leakage_resistance for number in leaky), *grid],
            [*(before[number] for number in leaky), *[left_before / len(grid)] * len(grid)],
            [*(after[number] for number in leaky), *spread])
