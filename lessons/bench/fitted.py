"""The fitted machine: what the readings tell of the numbers behind them, from the same imagined coils as the odds.

Every imagined coil, of every cause, counts as much as its cause's odds and its own agreement say; a number's limits hold nine in
ten of that weight. `bits` is the divergence of what is likely now from what was likely before (Kullback and Leibler, On
information and sufficiency, Annals of Mathematical Statistics 22, 1951, 79, from memory), over tenths of what was likely before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from lessons.bench.causes import SOUND_LEAKAGE
from lessons.bench.verdict import NUMBERS, Fitted, Number

if TYPE_CHECKING:
    from lessons.bench.judge import Matter

Numbers = np.ndarray
LEFT_OUT = 0.05  # of the weight, on either side of a number's limits
TENTHS = np.arange(1, 10) / 10


def fitted(matter: Matter, total: Numbers, odds: Numbers, answers: list[float]) -> tuple[tuple[Fitted, ...], float]:
    """Return every number of NUMBERS as fitted, and the imagined coils that carry them (effective number).

    total : weighted log-likelihood of each imagined coil; odds : of each cause; answers : to the questions of `matter`, SI units
    """
    before = (matter.prior / np.bincount(matter.of))[matter.of] * np.exp(matter.log_weights)
    within = np.array([logsumexp(total[matter.of == place]) for place in range(len(matter.keys))])
    after = np.exp(total - within[matter.of]) * odds[matter.of]
    carried = float(after.sum() ** 2 / (after**2).sum())
    # Limits between few draws hold less than they seem to: of n draws each side's outermost leaves out 1/(n + 1), not 0.
    left_out = max(0.0, LEFT_OUT - 0.45 / carried)
    found = []
    for number in NUMBERS:
        values = matter.numbers(number)
        then, now = after, before
        if number.key == "condenser_leakage_resistance":
            values, now, then = _leakage(matter, values, before, after, answers)
        found.append(_fitted(number, values, now, then, left_out))
    return tuple(found), carried


def _fitted(number: Number, values: Numbers, before: Numbers, after: Numbers, left_out: float) -> Fitted:
    order = values.argsort(kind="stable")
    values, before, after = values[order], np.cumsum(before[order]), np.cumsum(after[order])
    median, low, high = (_at(values, after, share) for share in (0.5, left_out, 1.0 - left_out))
    before_low, before_high = (_at(values, before, share) for share in (LEFT_OUT, 1.0 - LEFT_OUT))
    # The weight that has come to lie in each tenth of what was likely before.
    edges = np.searchsorted(before, TENTHS * before[-1])
    shares = np.diff([0.0, *(after[np.maximum(edges - 1, 0)] / after[-1]), 1.0])
    shares = shares[shares > 1e-12]
    bits = float(np.sum(shares * np.log2(10.0 * shares)))
    return Fitted(number, median, low, high, before_low, before_high, bits)


def _at(values: Numbers, heaped: Numbers, share: float) -> float:
    """Return the weighted quantile of sorted `values`, between two of them where it falls so."""
    middle = heaped - 0.5 * np.diff(heaped, prepend=0.0)
    return float(np.exp(np.interp(share * heaped[-1], middle, np.log(values))))


def _leakage(matter: Matter, values: Numbers, before: Numbers, after: Numbers,
             answers: list[float]) -> tuple[Numbers, Numbers, Numbers]:
    """Return leakage resistances and their weights before and after: a sound condenser's are spread over a grid.

    The judge averages over a sound condenser's leakage, which no other reading notices, so the imagined coils' own say nothing.
    """
    low, high = SOUND_LEAKAGE
    grid = low * (high / low) ** ((np.arange(48) + 0.5) / 48)
    leaky = matter.of == matter.keys.index("leakage") if "leakage" in matter.keys else np.zeros(len(values), bool)
    spread = np.full(len(grid), after[~leaky].sum() / len(grid))
    places = [place for place, ask in enumerate(matter.asks) if ask.kind == "self_discharge"]
    if places and after[~leaky].sum() > 0.0:
        capacity = matter.numbers(next(number for number in NUMBERS if number.key == "condenser_capacitance"))
        mean = float(np.average(capacity[~leaky], weights=after[~leaky]))
        logs = sum(matter.of_leakage(place, answers[place], mean, grid) for place in places)
        spread = np.exp(logs - logsumexp(logs)) * after[~leaky].sum()
    return (np.concatenate([values[leaky], grid]), np.concatenate([before[leaky], np.full(len(grid), before[~leaky].sum() / 48)]),
            np.concatenate([after[leaky], spread]))

