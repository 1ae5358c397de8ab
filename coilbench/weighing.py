"""Weights out of log-likelihoods, and quantiles of what is weighed. Standard library only."""

from __future__ import annotations

import math
from collections.abc import Sequence


def weights_of(logs: Sequence[float]) -> list[float]:
    """Return exp(`logs`) made to add up to one."""
    most = max(logs)
    shares = [math.exp(log - most) for log in logs]
    whole = sum(shares)
    return [share / whole for share in shares]


def log_sum(logs: Sequence[float]) -> float:
    """Return the logarithm of the sum of exp(`logs`)."""
    most = max(logs)
    return most + math.log(sum(math.exp(log - most) for log in logs))


def log_mean(logs: Sequence[float]) -> float:
    """Return the logarithm of the mean of exp(`logs`)."""
    return log_sum(logs) - math.log(len(logs))


def quantile(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """Return the one of `values` at which `share` of the weight is passed; any order.

    >>> quantile([3.0, 1.0, 2.0], [0.2, 0.5, 0.3], 0.6)
    2.0
    """
    passed, wanted = 0.0, share * sum(weights) * (1.0 - 1e-12)  # a sum of weights is off by its last digit
    ordered = sorted(zip(values, weights, strict=True))
    for value, weight in ordered:
        passed += weight
        if passed >= wanted:
            return value
    return ordered[-1][0]


def quantile_between(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """Return the same between two of `values` (ascending), each standing in the middle of its weight."""
    wanted, heaped = share * sum(weights), 0.0
    last: tuple[float, float] | None = None
    for value, weight in zip(values, weights, strict=True):
        middle = heaped + 0.5 * weight
        if middle >= wanted:
            if last is None or middle == last[0]:
                return value
            return last[1] + (value - last[1]) * (wanted - last[0]) / (middle - last[0])
        last, heaped = (middle, value), heaped + weight
    return values[-1]
