"""What the model says a coil would read: imagined coils of every cause, and their runs on a bench, many at a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, cast

import joblib
import numpy as np

from coilbench import stored
from coilbench.asks import Ask, Setting
from coilbench.causes import CAUSES, WELL_SET_AT, Coil, spoilt
from coilbench.errors import FREEDOM, prediction
from coilbench.imagine import spread
from coilbench.kept_runs import outcomes_on
from coilbench.kinds import BY_KEY as KINDS
from coilbench.running import OUTCOME, outcome, run_on
from coilbench.sheet import Bench
from coilmodel.readings import read

DRAWS, SEED = 128, 20310508
"""Stored imagined coils of each cause, and the seed of their draws."""

Progress = Callable[[str, int, int], None]


def outcomes(tasks: Sequence[tuple[Coil, Setting]], progress: Progress | None = None, label: str = "") -> np.ndarray:
    """Return the outcomes of many runs, shape (tasks, 6), worked off by all processors."""
    return np.array(spread_out(_outcomes, tasks, progress, label)).reshape(len(tasks), len(OUTCOME))


def _outcomes(tasks: Sequence[tuple[Coil, Setting]]) -> list[list[float]]:
    return [outcome(coil, setting) for coil, setting in tasks]


def spread_out(function: Callable[[Sequence[Any]], list[Any]], tasks: Sequence[Any], progress: Progress | None,
                label: str) -> list[Any]:
    """Return the results of `function` over slices of `tasks`, in their order, worked off by all processors."""
    workers, size = joblib.cpu_count(), 40
    slices = [tasks[start:start + size] for start in range(0, len(tasks), size)]
    results: list[Any] = []

    def gather(parts: Iterable[list[Any]]) -> list[Any]:
        for part in parts:
            results.extend(part)
            if progress:
                progress(label, len(results), len(tasks))
        return results

    if len(tasks) < 100 or workers == 1:  # not worth the start of processes
        return gather(map(function, slices))
    with joblib.Parallel(n_jobs=workers, return_as="generator") as pool:
        return gather(pool(joblib.delayed(function)(part) for part in slices))


def answer(ask: Ask, coil: Coil, generator: np.random.Generator, row: Sequence[float] | None = None) -> float | None:
    """Return what a person would read on an imagined coil, seeded error included; None where there is nothing to read.

    row : what the coil reads on the bench of `ask` where that is known already (columns running.OUTCOME)
    """
    value, width = prediction(ask, coil, row or outcome(coil, ask.setting) if ask.setting else None)
    if math.isnan(value):
        return None
    read = value + width * float(generator.standard_t(FREEDOM))
    low, high = (0.0, ask.start_volts) if ask.kind == "self_discharge" else (KINDS[ask.kind].low, KINDS[ask.kind].high)
    return min(max(read, low), high)


def learn(settings: Iterable[Setting], progress: Progress | None = None, store: stored.Imagined | None = None,
          place: Path | None = None) -> None:
    """Let the judge know each of `settings` too: the stored coils are run there once, which is kept for later starts.

    place : the folder where it is kept (kept_runs.PLACE)
    """
    coils = stored.everyone(store or stored.imagined())

    def simulate(coils: Sequence[Coil], setting: Setting) -> list[list[float]]:
        rows = outcomes([(coil, setting) for coil in coils], progress, f"Imagined coils {setting.bench.say()}")
        return cast(list[list[float]], rows.tolist())

    for setting in dict.fromkeys(settings):
        if stored.stored_setting(setting, store) is None:
            stored.learn(setting, outcomes_on(setting, coils, simulate, place), store)


def well_set(count: int, seed: int, progress: Progress | None = None, width: float = 1.0) -> list[Coil]:
    """Return `count` imagined coils that fire exactly once a pulse, and soundly, at WELL_SET_AT: what somebody has set well.

    Raises ValueError where hardly any does, so that the nominal machine or the tolerances must be wrong.
    """
    found: list[Coil] = []
    tried = 0
    while len(found) < count:
        coils = spread(128, seed, tried, width)
        tried += len(coils)
        good = spread_out(set_well, coils, progress, "Imagining well-set coils")
        found += [coil for coil, yes in zip(coils, good, strict=True) if yes]
        if tried >= 2048 and len(found) < 0.02 * tried:
            raise ValueError(f"bench: of {tried} coils set by the nominal numbers only {len(found)} fire once a pulse, so the "
                             "model's nominal machine is no well-set coil.")
    return found[:count]


def set_well(coils: Sequence[Coil]) -> list[bool]:
    def good(coil: Coil, rpm: float) -> bool:
        try:
            result = read(run_on(coil, Setting(Bench(rpm, 1.0))))
        except ValueError:  # springs and stops that the stepper cannot follow
            return False
        return result.single == 1.0 and result.misfired == 0.0

    return [all(good(coil, rpm) for rpm in WELL_SET_AT) for coil in coils]


def imagined_coils(draws: int = DRAWS, progress: Progress | None = None) -> dict[str, list[Coil]]:
    """Return `draws` imagined coils of each of CAUSES, by its key: the same well-set ones, each with the cause put into it.

    Severities lie evenly over a cause's range, in an order of each cause's own, so that they go with no tolerance.
    """
    bases = well_set(draws, SEED, progress)
    found = {}
    for place, cause in enumerate(CAUSES):
        evens = (np.random.default_rng((SEED, 0, place)).permutation(draws) + 0.5) / draws
        found[cause.key] = [spoilt(coil, cause, float(even)) for coil, even in zip(bases, evens, strict=True)]
    return found
