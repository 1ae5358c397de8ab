"""The trial of the advice on a set of four: its coils are on one magneto, and its figures are counted as they are named."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from coilbench import four_trial, makes, makes_trial
from coilbench.fill_designs import SEED
from coilbench.four_make import BENT
from coilbench.four_trial import Outcome, summary


def test_the_coils_of_a_set_are_on_the_known_good_coils_bench() -> None:
    known, coil = makes.designs().reference[:2]
    generator = np.random.default_rng(5)
    sound = 0
    for _ in range(200):
        bent = four_trial._bent(known, coil, generator)
        assert (bent.machine.magneto, bent.gap, bent.supply, bent.drive) == (known.machine.magneto, known.gap, known.supply, 1.0)
        share = bent.machine.vibrator.preload / coil.machine.vibrator.preload
        only = replace(coil.machine, magneto=known.machine.magneto).scaled(vibrator_preload=share)
        if makes.numbers_of(only) == pytest.approx(makes.numbers_of(bent.machine), rel=1e-12) and BENT[0] <= share <= BENT[1]:
            sound += 1
    assert sound / 200 == pytest.approx(1.0 - four_trial.FAULTY, abs=0.1)


def test_what_came_of_sets_is_counted_as_it_is_named() -> None:
    found = [Outcome(True, 3.0, 1.0, (1.5, 0.5, 2.5), 4, 4), Outcome(True, 2.0, 2.5, (1.0, 0.2, 2.0), 4, 3),
             Outcome(False, 2.0, 1.0, (0.1, -1.0, 1.0), 3, 3), Outcome(False, math.nan, math.nan, (0.0, -1.0, 1.0), 1, 1)]
    said = summary(found, 2)
    assert (said["sets"], said["refused"], said["compared"], said["advised"], said["left"]) == (4, 2, 3, 2, 1)
    assert said["advised_gains"] == [2.0, -0.5]
    assert said["left_would_have_gained"] == [1.0]
    assert (said["advised_better"], said["held"], said["less_sparks"]) == (0.5, 0.5, 1)


def test_a_scatter_needs_three_coils_that_light() -> None:
    assert four_trial._scatter(np.array([[1.0, 2.0], [3.0, 2.0], [2.0, 5.0]])) == 2.5
    assert math.isnan(four_trial._scatter(np.ones((2, 4))))


def test_its_designs_are_neither_stored_nor_tuned_on() -> None:
    assert four_trial.SEED not in {SEED, makes_trial.HELD_OUT, *makes_trial.TUNING, *makes_trial.BURNT}
