"""One run of a study: a coil with its numbers, run and read. What a row of the results holds stands here, once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coilmodel.readings import read
from coilmodel.run import simulate
from coilmodel.study.plan import Plan, set_up

RAN, REFUSED = 0, 1


@dataclass(frozen=True)
class Column:
    """A column of the results: its numpy type, unit and meaning."""

    name: str
    kind: str
    unit: str
    meaning: str


OUTCOME: tuple[Column, ...] = (
    Column("status", "<u1", "1", "0: the model ran it; 1: it refused, and all that follows is missing (counts 0, others NaN)"),
    Column("pulses_single", "<i4", "1", "pulses with exactly one spark"),
    Column("pulses_multiple", "<i4", "1", "pulses with more than one spark"),
    Column("pulses_misfired", "<i4", "1", "pulses without an effective spark"),
    Column("sparks_per_pulse", "<f8", "1", "mean over the pulses"),
    Column("opening_current", "<f8", "A", "first parting of each pulse, mean; NaN where the contacts never part"),
    Column("opening_time", "<f8", "s", "from the pulse's start, mean of first partings"),
    Column("firing_angle", "<f8", "degree", "crank angle of the effective spark from the pulse's start, mean"),
    Column("firing_scatter", "<f8", "degree", "its standard deviation over the pulses; NaN with fewer than two"),
    Column("follow_travel", "<f8", "m", "how far the upper contact had followed, mean of first partings"),
    Column("spark_energy", "<f8", "J", "a pulse, all sparks"),
    Column("ledger_error", "<f8", "1", "energy unaccounted for, as a share of all that moved"),
)


def columns(plan: Plan) -> tuple[Column, ...]:
    """Return the columns of a plan's results, in order: the run, its coil and role, what varied, and what came of it."""
    return (
        Column("run", "<i8", "1", "number of the run"),
        Column("coil", "<i8", "1", "imagined coil that the run belongs to"),
        Column("role", "<i4", "1", "0: drawn (A); 1: drawn (B); 2 + i: A with the i-th number that varies taken from B"),
        *(Column(one.name, "<f8", one.unit, f"drawn: {one.say()}") for one in plan.vary),
        *OUTCOME,
    )


def outcome(plan: Plan, row: Sequence[float]) -> tuple[list[float], str]:
    """Return one run's outcome (the columns OUTCOME) and, where the model refused it, its sentence, else "".

    row: the numbers that vary, in the plan's order.
    """
    try:
        machine, drive = set_up(plan, row)
        run = simulate(machine, drive, pulses=plan.pulses, warm_up=plan.warm_up)
    except ValueError as error:
        return [REFUSED, 0, 0, 0, *[math.nan] * (len(OUTCOME) - 4)], str(error)
    got = read(run)
    means = (got.opening_current.mean, got.opening_time.mean, got.firing_angle.mean, got.firing_angle.scatter,
             got.follow_travel.mean)
    return [RAN, round(got.single * run.pulses), round(got.multiple * run.pulses), round(got.misfired * run.pulses),
            got.sparks_per_pulse, *(math.nan if mean is None else mean for mean in means), got.spark_energy,
            run.ledger.error], ""
