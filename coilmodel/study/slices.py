"""A slice of a study: some runs in a row, worked through in one go, by whatever process; and the same runs made again."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from coilmodel.study.draw import values
from coilmodel.study.origin import maker
from coilmodel.study.plan import Plan
from coilmodel.study.trial import columns, outcome


@dataclass(frozen=True)
class Slice:
    """Runs `first` to `last` - 1."""

    first: int
    last: int

    @property
    def name(self) -> str:
        """Return the slice's file name; in order of names, slices are in order of runs."""
        return f"{self.first:09d}-{self.last:09d}.npz"

    def by_lot(self) -> Slice:
        """Return one of its runs, nobody knows which beforehand."""
        run = random.SystemRandom().randrange(self.first, self.last)
        return Slice(run, run + 1)


@dataclass(frozen=True)
class Worked:
    """The results of a slice: a column's name to its numbers, the model's sentence by refused run, and who made them."""

    part: Slice
    table: dict[str, Any]
    refused: dict[int, str]
    maker: dict[str, str]


def worked(plan: Plan, part: Slice) -> Worked:
    """Return the results of one slice of a plan."""
    drawn = values(plan, part.first, part.last)
    got = [outcome(plan, row) for row in drawn.tolist()]
    runs = np.arange(part.first, part.last)
    matrix = np.column_stack([runs, runs // plan.roles, runs % plan.roles, drawn, np.array([row for row, _ in got])])
    table = {column.name: matrix[:, place].astype(column.kind) for place, column in enumerate(columns(plan))}
    return Worked(part, table, {int(run): text for run, (_, text) in zip(runs, got, strict=True) if text}, maker())


def otherwise(table: Mapping[str, Any], at: int, again: Worked, tolerance: float = 0.0) -> str:
    """Return in what row `at` of a table differs from the same run made `again`, in words; "" where it does not.

    tolerance: relative difference that counts as none; 0: to the last bit.
    """
    for name, column in again.table.items():
        there, here = table[name][at], column[0]
        if not (there == here or there != there and here != here or tolerance and abs(there - here) <= tolerance * abs(here)):
            return f"run {again.part.first}: {name} is {there!s} there and {here!s} here"
    return ""
