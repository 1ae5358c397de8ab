"""Carrying a study through: slices of runs to this machine's cores or to a cluster, results to disk as they come.

joblib starts a process a core; with a Dask client the slices go to its cluster (`cluster`). This process alone writes into
the study's folder, so the workers of a cluster need no common disk (joblib's hand their results over as temporary files); it
holds only the slices that are under way, so memory does not grow with the study.
Every result says who made it, and one of another version of the model is refused.
"""

from __future__ import annotations

import pickle
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import joblib

from coilmodel.study.origin import differences, maker
from coilmodel.study.plan import Plan
from coilmodel.study.slices import Slice, Worked, worked
from coilmodel.study.store import Folder, Study, Tell, on_standard_error

Progress = Callable[[int, int, int], None]
"""Called with (runs done, of them before this start, runs in all)."""

SMALLEST, LARGEST = 16, 512  # runs in a slice: a twentieth of a second to two seconds of one core
DEATHS = 5  # times that a dead worker is replaced without a single slice having come back between
PATIENCE = 60.0  # s to wait for a worker where a cluster has none


def run_study(plan: Plan, folder: Path, progress: Progress | None = None, n_jobs: int | None = None, size: int | None = None,
              client: Any = None, tell: Tell = on_standard_error, patience: float = PATIENCE) -> Study:
    """Carry `plan` through in `folder`, going on where an earlier start stopped, and return the finished study.

    progress: see Progress; n_jobs: workers, as joblib counts them (None: as joblib is configured); size: runs in a slice;
    client: a `distributed.Client`, whose cluster then does the work; tell: is told of what is spoilt or left out; patience: s to
    wait for a worker where the cluster has none. The results depend on none of these. Raises ValueError in one sentence where the
    folder holds something else, another process works on it, or results come from another version of the model; OSError where no
    worker is left.
    """
    kept = Folder(folder, plan, tell)
    with kept.alone():
        study = kept.done()
        if study is None:
            todo = kept.missing(size or min(max(plan.total // 400, SMALLEST), LARGEST))
            before = count = plan.total - sum(part.last - part.first for part in todo)
            if progress:
                progress(count, before, plan.total)
            if client is None:
                results = work_through(plan, todo, n_jobs)
            else:
                from coilmodel.study.cluster import work_on

                results = work_on(client, plan, todo, tell, patience)
            for done in results:
                kept.keep(done.part, done.table, done.refused)
                count += done.part.last - done.part.first
                if progress:
                    progress(count, before, plan.total)
            kept.finish()
            study = kept.done()
            if study is None:
                raise OSError(f"{kept.done_file} was written and cannot be read back; the disk is not to be trusted")
        kept.tidy()
        return study


def work_through(plan: Plan, todo: Sequence[Slice], n_jobs: int | None = None) -> Iterator[Worked]:
    """Yield the results of every slice of `todo`, in whatever order they come; `plan`, `n_jobs` as in run_study.

    A worker that dies (killed, out of memory) costs what it had in hand; that is run again by another.
    """
    left = {part.first: part for part in todo}
    deaths = 0
    while left:
        try:
            for done in _pass(plan, list(left.values()), n_jobs):
                if done.maker != maker():
                    raise ValueError("the course's files were changed while the study ran, and a process was started from the "
                                     f"new ones ({differences(done.maker, maker())}); what is done is kept.")
                del left[done.part.first]
                deaths = 0
                yield done
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
    except ValueError as error:  # as of Dask's, where nobody would ask the workers what they are
        raise ValueError("a study does not work through this backend of joblib; give a cluster's client to run_study.") from error
    with tempfile.TemporaryDirectory(prefix="study-", ignore_cleanup_errors=True) as desk, pool:
        for name in pool(joblib.delayed(_laid_down)(plan, part, desk) for part in todo):
            yield _taken_up(Path(name))


def _laid_down(plan: Plan, part: Slice, desk: str) -> str:
    """Write the results of a slice to a file on the `desk`, a folder, and return its path.

    The path alone goes through the pipe to the process that waits. A pipe takes so little at once or not at all (PIPE_BUF, POSIX
    write()); of anything longer half may be through when a worker dies, and then joblib waits for the other half for ever.
    """
    file = Path(desk) / part.name
    file.write_bytes(pickle.dumps(worked(plan, part)))
    return str(file)


def _taken_up(file: Path) -> Worked:
    """Return the results in a file that a worker of ours has written, and remove it."""
    try:
        done = pickle.loads(file.read_bytes())
    except FileNotFoundError as error:  # written on another machine
        raise ValueError("a study does not work through a backend of joblib whose workers are elsewhere; give a cluster's client "
                         "to run_study.") from error
    file.unlink()
    if not isinstance(done, Worked):
        raise TypeError(f"{file}: holds no results")
    return done
