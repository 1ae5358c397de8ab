"""How far a reading may be off: the stated errors of measurement, and the likelihood of one reading under one prediction.

Standard library only; `judge` does the same with arrays, from the same constants.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coilbench.asks import Ask
from coilbench.causes import Cause, Coil
from coilbench.running import COLUMN, PULSES

NAMED = 2.0 / 3.0
"""A cause is named when its odds are above this (two to one on); under it the card says that the readings cannot tell."""

CERTAIN = 0.95
"""A cause whose remedy cannot be undone is named only above this."""

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


def slip_density(ask: Ask) -> float:
    """Return the density (1 over the reading's SI unit) of a reading that is a slip."""
    return SLIP / (ask.start_volts if ask.kind == "self_discharge" else ERRORS[ask.kind].span)


def prediction(ask: Ask, coil: Coil, outcome_row: Sequence[float] | None) -> tuple[float, float]:
    """Return the reading that a coil gives to `ask` and its error's scale (SI units); nan where the model gives none.

    outcome_row : what the coil reads on the bench of `ask` (columns running.OUTCOME), None where `ask` is of a coil at rest
    """
    if outcome_row is not None:
        value = outcome_row[COLUMN[ask.kind]]
        scale = ERRORS[ask.kind].share * abs(value) + ERRORS[ask.kind].fixed
        if ask.kind == "sparks":  # coils that fire unsteadily are counted with more luck; the model's own run is short too
            scale = math.sqrt(scale**2 + outcome_row[COLUMN["sparks_variance"]] * (1.0 / COUNTED + 1.0 / PULSES))
        return value, scale
    if ask.kind == "self_discharge":
        return discharge(ask, coil.machine.condenser.capacitance, coil.machine.condenser.leakage_resistance)
    part, name = STILL[ask.kind]
    value = float(getattr(getattr(coil.machine, part), name))
    return value, ERRORS[ask.kind].share * value + ERRORS[ask.kind].fixed


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
    slip = slip_density(ask)
    if math.isnan(predicted):
        return math.log(slip)
    core = LEADING - 0.5 * (FREEDOM + 1.0) * math.log1p(((value - predicted) / scale) ** 2 / FREEDOM) - math.log(scale)
    return math.log(math.exp(core) + slip)
