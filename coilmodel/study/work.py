"""Carrying a study through: slices of runs to whatever joblib works with, results to disk as they come.

Nothing here knows who does the work. By default joblib starts a process a core; inside
`joblib.parallel_config(backend="dask")` the same lines run on a Dask cluster. This process alone writes files, so workers need no
common disk; it holds only the slices that are under way, so memory does not grow with the study.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import joblib
import numpy as np

from coilmodel.study.draw import values
from coilmodel.study.plan import Plan
from coilmodel.study.store import Folder, Slice, Study
from coilmodel.study.trial import columns, outcome

Progress = Callable[[int, int, int], None]
"""Called with (runs done, of them before this start, runs in all)."""

SMALLEST, LARGEST = 16, 512  # runs in a slice: a twentieth of a second to two seconds of one core
DEATHS = 5  # times that a dead worker is replaced without a single slice having come back between
WAVE = 12  # slices a worker has before it in one wave, for those joblib backends that cannot send results as they come


def run_study(plan: Plan, folder: Path, progress: Progress | None = None, n_jobs: int | None = None,
              size: int | None = None) -> Study:
    """Carry `plan` through in `folder`, going on where an earlier start stopped, and return the finished study.

    progress: see Progress; n_jobs: workers, as joblib counts them (None: as joblib is configured); size: runs in a slice.
    The results do not depend on n_jobs or size. Raises ValueError in one sentence where the folder holds something else.
    """
    kept = Folder(folder, plan)
    done = kept.done()
    if done is None:
        todo = kept.missing(size or min(max(plan.total // 400, SMALLEST), LARGEST))
        before = count = plan.total - sum(part.last - part.first for part in todo)
        if progress:
            progress(count, before, plan.total)
        for part, table, refused in work_through(plan, todo, n_jobs):
            kept.keep(part, table, refused)
            count += part.last - part.first
            if progress:
                progress(count, before, plan.total)
        kept.finish()
        done = kept.done()
        if done is None:
            raise OSError(f"{kept.done_file} was written and cannot be read back; the disk is not to be trusted")
    kept.tidy()
    return done


Worked = tuple[Slice, dict[str, Any], dict[int, str]]


def work_through(plan: Plan, todo: Sequence[Slice], n_jobs: int | None = None) -> Iterator[Worked]:
    """Yield (slice, table, refusals) of every slice of `todo`, in whatever order they come; `plan`, `n_jobs` as in run_study.

    A worker that dies (killed, out of memory) costs what it had in hand; that is run again by another.
    """
    left = {part.first: part for part in todo}
    deaths = 0
    while left:
        try:
            for worked in _pass(plan, list(left.values()), n_jobs):
                del left[worked[0].first]
                deaths = 0
                yield worked
        except BrokenProcessPool:
            deaths += 1
            if deaths > DEATHS:
                raise


def _pass(plan: Plan, todo: Sequence[Slice], n_jobs: int | None) -> Iterator[Worked]:
    if len(todo) == 1 or n_jobs == 1:
        yield from (worked(plan, part) for part in todo)
        return
    try:
        pool = joblib.Parallel(n_jobs=n_jobs, return_as="generator_unordered", batch_size=1)
    except ValueError:  # this backend (Dask's) gives its results back all at once
        pool = joblib.Parallel(n_jobs=n_jobs, batch_size=1)
        with pool:
            wave = WAVE * max(1, joblib.effective_n_jobs(n_jobs))
            for start in range(0, len(todo), wave):
                yield from pool(joblib.delayed(worked)(plan, part) for part in todo[start:start + wave])
        return
    with pool:
        yield from pool(joblib.delayed(worked)(plan, part) for part in todo)


def worked(plan: Plan, part: Slice) -> Worked:
    """Return the results of one slice: the slice, its table (a column's name to its numbers) and its refusals (by run)."""
    drawn = values(plan, part.first, part.last)
    got = [outcome(plan, row) for row in drawn.tolist()]
    runs = np.arange(part.first, part.last)
    matrix = np.column_stack([runs, runs // plan.roles, runs % plan.roles, drawn, np.array([row for row, _ in got])])
    table = {column.name: matrix[:, place].astype(column.kind) for place, column in enumerate(columns(plan))}
    return part, table, {int(run): text for run, (_, text) in zip(runs, got, strict=True) if text}
