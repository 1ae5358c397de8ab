"""`python -m coilbench.study PLAN.toml` carries a tolerance study through and reports it; `--new FILE` makes a plan.

Stopped at any moment, in whatever way, the same command goes on where it stopped and ends with the same results.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import gc
import io
import json
import logging
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import joblib

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.compiled import COMPILED
from coilmodel.durable import whole, write_whole
from coilmodel.progress import drawn
from coilmodel.study import Plan, Study, find, parse_plan, read_plan, run_study, template
from coilmodel.study.origin import maker
from coilmodel.study.work import PATIENCE

CONNECT = 10.0  # s in which a scheduler must answer


class Bar:
    """Progress on standard error with rate and time left: one line rewritten on a terminal, a line now and then elsewhere."""

    def __init__(self, stream: Any = None, clock: Any = time.monotonic) -> None:
        """Show on `stream` (standard error), by `clock` (seconds)."""
        self.stream, self.clock = stream or sys.stderr, clock
        self.started = self.shown = -1.0
        self.tenth = -1

    def __call__(self, done: int, before: int, total: int) -> None:
        """Show `done` of `total` runs, of which `before` were there when it started."""
        now = self.clock()
        if self.started < 0.0:
            self.started = now
        line = self.line(done, before, total, now - self.started)
        if self.stream.isatty():
            if done in (before, total) or now - self.shown > 0.1:
                self.shown = now
                print(f"\r\x1b[K{line}", end="\n" if done >= total else "", file=self.stream, flush=True)
        elif 10 * done // max(total, 1) > self.tenth:
            self.tenth = 10 * done // max(total, 1)
            print(line, file=self.stream, flush=True)

    def say(self, sentence: str) -> None:
        """Show a sentence above the line."""
        print(("\r\x1b[K" if self.stream.isatty() else "") + sentence, file=self.stream, flush=True)
        self.shown = -1.0

    def line(self, done: int, before: int, total: int, seconds: float) -> str:
        """Return the line to show after so many `seconds`; the other numbers as above."""
        text = f"{drawn(done, total)} {done} of {total} runs"
        if done > before and seconds > 0.0:
            rate = (done - before) / seconds
            rest = f"{in_time((total - done) / rate)} left" if done < total else in_time(seconds)
            text += f", {rate:.0f} a second, {rest}"
        return text


def in_time(seconds: float) -> str:
    """Return a length of time as people say it.

    >>> in_time(7.2), in_time(170), in_time(7300)
    ('7 s', '3 min', '2.0 h')
    """
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def main(words: list[str] | None = None) -> int:
    """Carry out one command line; 0: done, 1: it could not be, 2: not understood, 130: stopped by Ctrl-C."""
    options = parser().parse_args(words)
    if options.new is not None:
        return make_plan(options.new)
    if options.versions:
        return versions(options)
    if options.plan is None:
        parser().print_usage(sys.stderr)
        print("Give a plan, or --new FILE to make one.", file=sys.stderr)
        return 2
    try:
        plan = read_plan(options.plan)
        folder = options.out or options.plan.with_name(f"{options.plan.stem}_study")
        study = carry_through(plan, folder, options)
        report(study, folder, options.csv)
    except KeyboardInterrupt:
        more = "".join(f" {word} {given}" for word, given in (("--out", options.out), ("--dask", options.dask)) if given)
        print("\nStopped. What is done is kept; the same command goes on from here: "
              f"python3 course.py study {options.plan}{more}", file=sys.stderr)
        return 130
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="course.py study", description="How often does a coil set so misfire, and why?")
    top.add_argument("plan", metavar="PLAN.toml", type=Path, nargs="?", help="what varies, and how much")
    top.add_argument("--new", metavar="FILE", type=Path, help="make a plan to start from (an existing file is left alone)")
    top.add_argument("--out", metavar="FOLDER", type=Path, help="where the results go (else beside the plan)")
    top.add_argument("--workers", metavar="N", type=int, help="processes at work (else one a core)")
    top.add_argument("--dask", metavar="ADDRESS", help="work on the Dask cluster whose scheduler is at this address")
    top.add_argument("--wait", metavar="SECONDS", type=float, default=PATIENCE,
                     help=f"how long to wait where the cluster has no worker (else {PATIENCE:.0f})")
    top.add_argument("--versions", action="store_true",
                     help="say which model and versions are here; with --dask, whether those of the cluster agree")
    top.add_argument("--csv", metavar="FILE", type=Path, help="write all runs as a table for a spreadsheet too")
    return top


def make_plan(path: Path) -> int:
    """Write a plan to start from to `path`, unless something is there."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(template())
    except FileExistsError:
        print(f"{path}: exists and is left as it is; give another name.", file=sys.stderr)
        return 1
    except OSError as error:
        print(f"{path}: cannot be written ({error.strerror or error}).", file=sys.stderr)
        return 1
    print(f"Made {path}. Change in it what you like, then: python3 course.py study {path}")
    return 0


def carry_through(plan: Plan, folder: Path, options: argparse.Namespace) -> Study:
    """Run `plan` in `folder` with the workers that the options name."""
    _workers_told(options)
    print(f"{plan.total} runs of {plan.pulses} pulses ({plan.runs} imagined coils, {len(plan.vary)} numbers vary); results in "
          f"{folder}", file=sys.stderr)
    if not COMPILED:
        print("The compiled model is not installed here; the plain one takes some 25 times as long.", file=sys.stderr)
    simulate(Machine(), MagnetoDrive(), pulses=1)  # compiles here, once, and not in every process at the same time
    bar = Bar()
    if options.dask is None:
        with joblib.parallel_config(backend="loky", n_jobs=options.workers or -1):
            return run_study(plan, folder, bar, tell=bar.say)
    with cluster(options.dask) as client:
        return run_study(plan, folder, bar, client=client, tell=bar.say, patience=options.wait)


def _workers_told(options: argparse.Namespace) -> None:
    if options.workers is not None and not 1 <= options.workers <= 1024:
        raise ValueError(f"--workers: {options.workers} is outside 1 to 1024.")
    if options.workers is not None and options.dask is not None:
        raise ValueError("--workers: counts processes of this machine; with --dask the cluster's workers do it; leave it out.")
    if not 0.0 <= options.wait <= 1e6:
        raise ValueError(f"--wait: {options.wait:g} s is outside 0 to 1000000 s.")


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Any]:
    """Connect to the Dask cluster whose scheduler is at `address`. Raises ValueError in one sentence where there is none."""
    try:
        from dask.distributed import Client
    except ImportError as error:
        raise ValueError("--dask: Dask is not installed here; python3 course.py study --versions installs it.") from error
    for name in ("distributed", "distributed.client", "distributed.core", "distributed.comm"):
        logging.getLogger(name).setLevel(logging.CRITICAL)  # what matters is said in a sentence
    reason = ""
    try:
        client = Client(address, timeout=CONNECT)
    except (OSError, ValueError, TypeError, ImportError) as error:
        reason = (str(error.__cause__ or error).strip() or type(error).__name__).splitlines()[0]
    if reason:
        # What is left of a client that found nobody is ended now, where no lock is held: where Python comes upon it later, while
        # another client starts, each waits for the other for ever.
        gc.collect()
        raise ValueError(f"--dask: no scheduler answers at {address} ({reason}).")
    with client:
        yield client


def versions(options: argparse.Namespace) -> int:
    """Print the model and versions of this course, and with --dask whether each machine of the cluster has the same."""
    print("This course makes its results with")
    for name, version in maker().items():
        print(f"  {name:<11}  {version}")
    if options.dask is None:
        return 0
    try:
        from coilmodel.study.cluster import roll_call

        _workers_told(options)
        with cluster(options.dask) as client:
            words, agreed = roll_call(client, parse_plan(template()), options.wait)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print("\n".join(words))
    return 0 if agreed else 1


def report(study: Study, folder: Path, table: Path | None = None) -> None:
    """Print what the study says, and write report.html and findings.json beside its results; `table`: a CSV of all runs."""
    from coilbench.study_report import page, summary, wrapped

    findings = find(study)
    write_whole(folder / "findings.json", json.dumps({"plan": study.plan, "findings": findings.as_dict()}, indent=1).encode())
    write_whole(folder / "report.html", page(study.plan, findings).encode())
    if table is not None:
        with whole(table) as raw:
            file = io.TextIOWrapper(raw, encoding="utf-8", newline="", write_through=True)
            writer = csv.writer(file)
            writer.writerow(_title(column) for column in study.columns.values())
            for rows in study.rows():
                writer.writerows(rows)
            file.detach()  # the draft is closed by who opened it
    print("\n".join(wrapped(line) for line in summary(study.plan, findings)))
    print(f"\nReport with pictures: {folder / 'report.html'}\nAll runs, one column a number: {study.path}"
          + (f" and {table}" if table else ""))


def _title(column: dict[str, Any]) -> str:
    return column["name"] if column["unit"] in ("", "1") else f"{column['name']} ({column['unit']})"


if __name__ == "__main__":
    sys.exit(main())
