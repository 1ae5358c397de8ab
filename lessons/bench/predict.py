"""What the model says a coil would read: runs of imagined coils on the benches of a sheet, many at a time.

A `Library` holds, for every cause, imagined coils with that fault, and what each reads on every bench that was asked for;
so the coils of a sheet share the runs, and a second bench costs only its own.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import joblib
import numpy as np

from coilmodel.compiled import COMPILED
from coilmodel.readings import read
from lessons.bench.asks import Setting
from lessons.bench.causes import CAUSES, WELL_SET_AT, Cause, Coil, spoilt
from lessons.bench.imagine import spread
from lessons.bench.running import OUTCOME, outcome, run_on
from lessons.bench.sheet import Bench
from lessons.bench.verdict import Number

DRAWS, ROUNDS = 128, 8
"""Imagined coils for each cause in a round, and rounds at most."""

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


def bar(label: str, done: int, total: int) -> None:
    """Show progress on standard error: a line that is rewritten on a terminal, one line at the end elsewhere."""
    if sys.stderr.isatty():
        width = 30
        full = width * done // max(total, 1)
        end = "\n" if done >= total else ""
        print(f"\r{label:<48} [{'#' * full}{'.' * (width - full)}] {done}/{total}", end=end, file=sys.stderr, flush=True)
    elif done >= total >= 100:
        print(f"{label}: {total} runs", file=sys.stderr, flush=True)


def well_set(count: int, seed: int, progress: Progress | None = None, width: float = 1.0) -> list[Coil]:
    """Return `count` imagined coils that fire exactly once a pulse, and soundly, at WELL_SET_AT: what somebody has set well.

    Raises ValueError where hardly any does, so that the nominal machine or the tolerances must be wrong.
    """
    found: list[Coil] = []
    tried = 0
    while len(found) < count:
        coils = spread(128, seed, tried, width)
        tried += len(coils)
        good = spread_out(_set_well, coils, progress, "Imagining well-set coils")
        found += [coil for coil, yes in zip(coils, good, strict=True) if yes]
        if tried >= 2048 and len(found) < 0.02 * tried:
            raise ValueError(f"bench: of {tried} coils set by the nominal numbers only {len(found)} fire once a pulse, so the "
                             "model's nominal machine is no well-set coil.")
    return found[:count]


def _set_well(coils: Sequence[Coil]) -> list[bool]:
    def good(coil: Coil, rpm: float) -> bool:
        try:
            result = read(run_on(coil, Setting(Bench(rpm, 1.0))))
        except ValueError:  # springs and stops that the stepper cannot follow
            return False
        return result.single == 1.0 and result.misfired == 0.0

    return [all(good(coil, rpm) for rpm in WELL_SET_AT) for coil in coils]


@dataclass
class Library:
    """Imagined coils by cause, and their outcomes by setting. Grows as it is asked."""

    seed: int = 20310508
    draws: int = DRAWS if COMPILED else DRAWS // 5
    progress: Progress | None = None
    causes: tuple[Cause, ...] = CAUSES
    width: float = 1.0
    most_rounds: int = ROUNDS
    coils: dict[str, list[Coil]] = field(default_factory=dict)
    _known: dict[tuple[str, Setting], np.ndarray] = field(default_factory=dict)
    _numbers: dict[tuple[str, Number], np.ndarray] = field(default_factory=dict)
    _rounds: dict[str, int] = field(default_factory=dict)
    _bases: list[list[Coil]] = field(default_factory=list)
    _evens: dict[str, list[float]] = field(default_factory=dict)  # where severities lie in their ranges, 0 to 1
    _spans: dict[str, list[tuple[float, float]]] = field(default_factory=dict)  # the part that each round is from

    def rounds(self, key: str) -> int:
        """Return how many rounds of imagined coils cause `key` has."""
        return self._rounds.get(key, 0)

    def grow(self, keys: Iterable[str], spans: dict[str, tuple[float, float]] | None = None) -> None:
        """Give each of the causes `keys` another round of imagined coils.

        spans : for a cause, the part (0 to 1) of its range of severities that this round is to look at more closely
        """
        for key in keys:
            low, high = (spans or {}).get(key, (0.0, 1.0))
            done = self._rounds.get(key, 0)
            if done == len(self._bases):
                self._bases.append(well_set(self.draws, self.seed + done, self.progress, self.width))
            cause = next(cause for cause in self.causes if cause.key == key)
            place = self.causes.index(cause)
            # Severities evenly over the range, in an order of each cause's own, so that they go with no tolerance.
            evens = (np.random.default_rng((self.seed, done, place)).permutation(self.draws) + 0.5) / self.draws
            evens = low + (high - low) * evens
            self._evens.setdefault(key, []).extend(evens.tolist())
            self._spans.setdefault(key, []).append((low, high))
            self.coils.setdefault(key, []).extend(
                spoilt(coil, cause, float(even)) for coil, even in zip(self._bases[done], evens, strict=True))
            self._rounds[key] = done + 1

    def evens(self, key: str) -> np.ndarray:
        """Return where the severity of each coil with cause `key` lies in the cause's range, 0 to 1."""
        return np.array(self._evens[key])

    def log_weights(self, key: str) -> np.ndarray:
        """Return the logarithm of what each coil with cause `key` counts, so that closer looks make no severity likelier.

        The prior's density over that of all rounds together (the balance heuristic of Veach and Guibas, Optimally combining
        sampling techniques, SIGGRAPH 1995, from memory).
        """
        evens, spans = self.evens(key), self._spans[key]
        drawn = sum(((low <= evens) & (evens <= high)) / (high - low) for low, high in spans)
        return -np.log(drawn / len(spans))

    def ready(self) -> None:
        """Make sure that every cause has its first round."""
        self.grow([cause.key for cause in self.causes if cause.key not in self.coils])

    def fill(self, settings: Iterable[Setting]) -> None:
        """Run whatever is still missing for `settings`, for all the causes."""
        self.ready()
        for setting in settings:
            tasks: list[tuple[Coil, Setting]] = []
            parts = []
            for key, coils in self.coils.items():
                have = len(self._known.get((key, setting), ()))
                parts.append((key, len(coils) - have))
                tasks += [(coil, setting) for coil in coils[have:]]
            if not tasks:
                continue
            got = outcomes(tasks, self.progress, f"Imagined coils {setting.bench.say()}")
            start = 0
            for key, count in parts:
                if count:
                    old = self._known.get((key, setting), np.empty((0, len(OUTCOME))))
                    self._known[key, setting] = np.vstack([old, got[start:start + count]])
                    start += count

    def some(self, chosen: Sequence[tuple[str, int]], settings: Sequence[Setting]) -> dict[Setting, np.ndarray]:
        """Return the outcomes of a few coils on each of `settings`, running only what is not known yet.

        chosen : (key of the cause, place among that cause's coils); an array has shape (len(chosen), 6)
        """
        done = {setting for _, setting in self._known}
        new = [setting for setting in settings if setting not in done]
        coils = [self.coils[key][place] for key, place in chosen]
        rows = outcomes([(coil, setting) for setting in new for coil in coils], self.progress, "What to measure next")
        found = {setting: rows[start * len(coils):(start + 1) * len(coils)] for start, setting in enumerate(new)}
        for setting in settings:
            if setting in done:
                self.fill([setting])
                found[setting] = np.array([self._known[key, setting][place] for key, place in chosen])
        return found

    def numbers(self, key: str, number: Number) -> np.ndarray:
        """Return a number of the imagined coils with cause `key`, SI units."""
        have = self._numbers.get((key, number), np.empty(0))
        new = [number.of(coil) for coil in self.coils[key][len(have):]]
        if new:
            have = self._numbers[key, number] = np.concatenate([have, new])
        return have

    def at(self, key: str, setting: Setting) -> np.ndarray:
        """Return the outcomes of the coils with cause `key` on `setting`, shape (coils, 6); `fill` it first."""
        return self._known[key, setting]
