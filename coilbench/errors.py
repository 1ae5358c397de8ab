"""How far a reading may be off: the stated errors of measurement, and the likelihood of one reading under one prediction.

Standard library only; `judge` does the same with arrays, from the same constants.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from coilbench.asks import Ask
from coilbench.causes import Cause, Coil
from coilbench.running import COLUMN, PULSES

NAMED = 2.0 / 3.0
"""A cause is named when its odds are above this (two to one on); under it the card says that the readings cannot tell."""

CERTAIN = 0.95
"""A cause whose remedy cannot be undone is named only above this."""

SECOND = 0.06, 0.03
"""Beside imagined coils with two faults, a single cause is named only where two faults, or something else, have odds under the
first of these with no reading of AT_REST, under the second with all of them, and between with some: the more was read that would
show a second fault, the less of it may be left. Chosen so that few coils with two faults are named as one (makes_trial.py)."""

AT_REST = ("travel", "cushion_force", "parting_force", "primary_resistance", "contact_resistance")
"""What is read on a coil at rest besides its condenser, in some minutes a coil: each shows one fault, whatever else is wrong."""

FREEDOM = 5.0
SLIP = 0.01
"""Errors follow Student's t with FREEDOM degrees of freedom; and one reading in a hundred is a slip, and may be anything."""

LEADING = (math.log(1.0 - SLIP) + math.lgamma(0.5 * (FREEDOM + 1.0)) - math.lgamma(0.5 * FREEDOM)
           - 0.5 * math.log(math.pi * FREEDOM))


@dataclass(frozen=True)
class Error:
    """Measurement error of a kind of reading, the model's own roughness included: a share of the value plus a fixed part (SI)."""

    share: float
    fixed: float
    span: float  # over which a slip may fall


ERRORS: dict[str, Error] = {
    "capacity": Error(0.03, 5e-9, 2e-6), "self_discharge": Error(0.0, 0.0, 0.0),  # see discharge
    "opening_current": Error(0.04, 0.08, 15.0), "sparks": Error(0.03, 0.05, 8.0), "meter_mean": Error(0.04, 0.03, 10.0),
    "meter_rectified": Error(0.04, 0.03, 10.0), "meter_rms": Error(0.04, 0.03, 10.0), "travel": Error(0.04, 0.015e-3, 0.5e-3),
    "primary_resistance": Error(0.03, 0.015, 3.0), "contact_resistance": Error(0.10, 0.02, 3.0),
    "parting_force": Error(0.05, 0.10, 8.0), "cushion_force": Error(0.06, 0.10, 8.0),
}
"""Our judgement (no source): a person's meters and counts, and a model that is not the coil."""

STOPWATCH = 0.4  # s, standard deviation of a self-discharge's seconds
VOLTMETER = 0.02  # of the starting voltage

COUNTED = 40.0  # pulses that a person counts sparks over, more or less

STILL = {"capacity": ("condenser", "capacitance"), "travel": ("cushion", "travel"),
         "primary_resistance": ("coil", "primary_resistance"), "contact_resistance": ("contacts", "resistance"),
         "parting_force": ("vibrator", "preload"), "cushion_force": ("cushion", "preload")}
"""The part and the number of the machine that a reading with the coil at rest shows. The preloads are those at the rivet: where a
vibrator that is pulled down leaves the upper contact behind, and where the cushion spring begins to lift off."""


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
        part, name = STILL[ask.kind]
        (value,), (scale,) = of_still(ask, (float(getattr(getattr(coil.machine, part), name)),))
    return value, scale


Pairs = tuple[list[float], list[float]]
"""What many coils read, and their errors' scales (SI units)."""


def of_running(ask: Ask, rows: Sequence[Sequence[float]]) -> Pairs:
    """Return `prediction` of many coils that run. rows : what they read on the bench of `ask`"""
    column, error = COLUMN[ask.kind], ERRORS[ask.kind]
    values = [row[column] for row in rows]
    scales = [error.share * abs(value) + error.fixed for value in values]
    if ask.kind == "sparks":  # coils that fire unsteadily are counted with more luck; the model's own run is short too
        column, luck = COLUMN["sparks_variance"], 1.0 / COUNTED + 1.0 / PULSES
        scales = [math.sqrt(scale**2 + row[column] * luck) for scale, row in zip(scales, rows, strict=True)]
    return values, scales


def of_still(ask: Ask, values: Sequence[float]) -> Pairs:
    """Return `prediction` of many coils at rest. values : the number that each shows, of STILL"""
    error = ERRORS[ask.kind]
    return [*values], [error.share * value + error.fixed for value in values]


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


def own_share(ask: Ask, value: float) -> float:
    """Return a reading's stated error as a share of the reading itself (1 where it reads nothing)."""
    error = ERRORS[ask.kind]
    return error.share + error.fixed / abs(value) if value else 1.0
