"""How far a reading may be off: the stated errors of measurement, and the likelihood of one reading under one prediction.

Standard library only; `judge` does the same with arrays, from the same constants.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from coilbench.asks import Ask
from coilbench.causes import Cause, Coil, number_of
from coilbench.kinds import BY_KEY, KINDS, Kind
from coilbench.running import COLUMN, PULSES

NAMED = 2.0 / 3.0
"""A cause is named when its odds are above this (two to one on); under it the card says that the readings cannot tell."""

CERTAIN = 0.95
"""A cause whose remedy cannot be undone is named only above this."""

SECOND = 0.06, 0.03
"""Beside imagined coils with two faults, a single cause is named only where two faults, or something else, have odds under the
first of these with no reading of AT_REST, under the second with all of them, and between with some: the more was read that would
show a second fault, the less of it may be left. Chosen so that few coils with two faults are named as one (makes_trial.py)."""

AT_REST = tuple(kind.key for kind in KINDS if kind.one_fault)
"""What is read on a coil at rest besides its condenser, in some minutes a coil: each shows one fault, whatever else is wrong."""

FREEDOM = 5.0
SLIP = 0.01
"""Errors follow Student's t with FREEDOM degrees of freedom; and one reading in a hundred is a slip, and may be anything."""

LEADING = (math.log(1.0 - SLIP) + math.lgamma(0.5 * (FREEDOM + 1.0)) - math.lgamma(0.5 * FREEDOM)
           - 0.5 * math.log(math.pi * FREEDOM))


ERRORS = {kind.key: kind.error for kind in KINDS if kind.error is not None}

STOPWATCH = 0.4  # s, standard deviation of a self-discharge's seconds
VOLTMETER = 0.02  # of the starting voltage

COUNTED = 40.0  # pulses that a person counts sparks over, more or less


def needed(cause: Cause) -> float:
    """Return the odds that `cause` must have to be named."""
    return CERTAIN if cause.lasting else NAMED


def second_limit(kinds: Collection[str]) -> float:
    """Return the odds that OTHER must stay under for a single cause to be named. kinds : of the readings taken

    >>> second_limit(["sparks"]), second_limit(["sparks", *AT_REST])
    (0.06, 0.03)
    """
    few, many = SECOND
    return few + (many - few) * sum(kind in kinds for kind in AT_REST) / len(AT_REST)


def slip_density(ask: Ask) -> float:
    """Return the density (1 over the reading's SI unit) of a reading that is a slip."""
    return SLIP / (ask.start_volts if ask.kind == "self_discharge" else ERRORS[ask.kind].span)


def prediction(ask: Ask, coil: Coil, outcome_row: Sequence[float] | None) -> tuple[float, float]:
    """Return the reading that a coil gives to `ask` and its error's scale (SI units); nan where the model gives none.

    outcome_row : what the coil reads on the bench of `ask` (columns running.OUTCOME), None where `ask` is of a coil at rest
    """
    if outcome_row is not None:
        (value,), (scale,) = of_running(ask, (outcome_row,))
    elif ask.kind == "self_discharge":
        return discharge(ask, coil.machine.condenser.capacitance, coil.machine.condenser.leakage_resistance)
    else:
        (value,), (scale,) = of_still(ask, [[number_of(coil.machine, name)] for name in BY_KEY[ask.kind].shows])
    return value, scale


Pairs = tuple[list[float], list[float]]
"""What many coils read, and their errors' scales (SI units)."""


def of_running(ask: Ask, rows: Sequence[Sequence[float]]) -> Pairs:
    """Return `prediction` of many coils that run. rows : what they read on the bench of `ask`"""
    (name, _), *variance = BY_KEY[ask.kind].columns
    column, error = COLUMN[name], ERRORS[ask.kind]
    values = [row[column] for row in rows]
    scales = [error.share * abs(value) + error.fixed for value in values]
    for name, _ in variance:  # coils that fire unsteadily are counted with more luck; the model's own run is short too
        column, luck = COLUMN[name], 1.0 / COUNTED + 1.0 / PULSES
        scales = [math.sqrt(scale**2 + row[column] * luck) for scale, row in zip(scales, rows, strict=True)]
    return values, scales


def of_still(ask: Ask, numbers: Sequence[Sequence[float]]) -> Pairs:
    """Return `prediction` of many coils at rest. numbers : for each of the kind's `shows`, that number of every coil"""
    kind, error = BY_KEY[ask.kind], ERRORS[ask.kind]
    values = [kind.predict(*own) for own in zip(*numbers, strict=True)]
    return values, [error.share * value + error.fixed for value in values]


def discharges(ask: Ask, capacities: Sequence[float], leakages: Sequence[float]) -> Pairs:
    """Return `discharge` of many condensers."""
    pairs = [discharge(ask, capacity, leakage) for capacity, leakage in zip(capacities, leakages, strict=True)]
    return [left for left, _ in pairs], [scale for _, scale in pairs]


def discharge(ask: Ask, capacity: float, leakage: float) -> tuple[float, float]:
    """Return the volts left after a self-discharge and their error's scale; the voltmeter lies in parallel if it stays on."""
    resistance = leakage if ask.meter_ohms is None else 1.0 / (1.0 / leakage + 1.0 / ask.meter_ohms)
    left = ask.start_volts * math.exp(-ask.after_seconds / (resistance * capacity))
    return left, math.hypot(VOLTMETER * ask.start_volts, left * STOPWATCH / (resistance * capacity))


def log_likelihood(value: float, ask: Ask, predicted: float, scale: float) -> float:
    """Return the logarithm of the density of reading `value` under one prediction (nan: the model gives no such reading).

    >>> round(log_likelihood(5.0, Ask("opening_current"), 5.0, 0.28), 2)
    0.29
    """
    return log_likelihoods(value, ask, (predicted,), (scale,))[0]


def log_likelihoods(value: float, ask: Ask, predicted: Sequence[float], scales: Sequence[float]) -> list[float]:
    """Return the same under many predictions; one logarithm each, since a page does this some ten thousand times a coil."""
    slip, top, power, log = slip_density(ask), math.exp(LEADING), -0.5 * (FREEDOM + 1.0), math.log
    return [log(top / scale * (1.0 + ((value - middle) / scale) ** 2 / FREEDOM) ** power + slip)
            if middle == middle else log(slip)  # nan is unlike itself
            for middle, scale in zip(predicted, scales, strict=True)]


def in_words(kind: Kind) -> str:
    """Return the stated error of a kind of reading in words (one standard deviation), "" where it is not judged."""
    if kind.key == "self_discharge":
        return f"{100.0 * VOLTMETER:g} % of the starting voltage and {STOPWATCH:g} s"
    if kind.error is None:
        return ""
    more = ", more where the coil fires unsteadily" if len(kind.columns) > 1 else ""
    return f"{100.0 * kind.error.share:g} % and {kind.say(kind.error.fixed)}{more}"


def own_share(ask: Ask, value: float) -> float:
    """Return a reading's stated error as a share of the reading itself (1 where it reads nothing)."""
    error = ERRORS[ask.kind]
    return error.share + error.fixed / abs(value) if value else 1.0
