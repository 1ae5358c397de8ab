"""How fast a tolerance study is: `python benchmarks/study.py` prints a Markdown table and writes it to benchmarks/study.md.

Three figures, each a ratio within one run, turn about: runs a second of a whole study (drawing, running, reading, files) on one
worker; the same on two workers against one (efficiency: half the ratio of the times); and one worker against a loop over scipy's
adaptive solver (that of solve_ivp) carrying the same equations through the same coils. Times are of the clock on the wall, as a
person waits; the load of the machine stands beside them, since another's work takes its share.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]  # run from a checkout, installed or not

import joblib  # noqa: E402
from measure import Spread, spread  # noqa: E402

from coilmodel.proof.reference import solve  # noqa: E402
from coilmodel.study import Plan, parse_plan, run_study, template  # noqa: E402
from coilmodel.study.draw import values  # noqa: E402
from coilmodel.study.plan import set_up  # noqa: E402

RESULTS = ROOT / "benchmarks" / "study.md"
SOLVED = 4  # coils that the adaptive solver is given; half a second and more each
RTOL = 1e-3  # at which it is as accurate as the kernel (benchmarks/run.py seeks and shows that)
TURNS = 5


def plan_of(runs: int) -> Plan:
    """Return the template's plan with so many coils and no causes."""
    return parse_plan(template().replace("runs = 4096", f"runs = {runs}").replace("causes = true", "causes = false"))


def study(plan: Plan, workers: int) -> None:
    """Carry a study through in a folder of its own, which is thrown away."""
    with tempfile.TemporaryDirectory() as folder, joblib.parallel_config(backend="loky", n_jobs=workers):
        run_study(plan, Path(folder) / "s", n_jobs=workers)


def solver_loop(plan: Plan) -> None:
    """Solve the plan's first coils by scipy, one after another, as long as the study runs them."""
    for row in values(plan, 0, SOLVED).tolist():
        machine, drive = set_up(plan, row)
        solve(machine, drive, plan.pulses + plan.warm_up, "LSODA", RTOL)


def turns(contestants: dict[str, Callable[[], Any]], repeats: int) -> dict[str, list[float]]:
    """Return seconds on the wall of each contestant in each turn; one turn before them warms up and is dropped."""
    seconds: dict[str, list[float]] = {name: [] for name in contestants}
    names = list(contestants)
    for turn in range(repeats + 1):
        for name in names[turn % len(names):] + names[:turn % len(names)]:
            begin = time.perf_counter()
            contestants[name]()
            if turn:
                seconds[name].append(time.perf_counter() - begin)
    return seconds


def main() -> int:
    plan = plan_of(1024)
    seconds = turns({"one": partial(study, plan, 1), "two": partial(study, plan, 2), "solver": partial(solver_loop, plan)}, TURNS)
    rate = {name: spread([plan.total / value for value in seconds[name]]) for name in ("one", "two")}
    solver = spread([SOLVED / value for value in seconds["solver"]])
    faster = spread([(plan.total / mine) / (SOLVED / theirs)
                     for mine, theirs in zip(seconds["one"], seconds["solver"], strict=True)])
    share = spread([one / two / 2.0 for one, two in zip(seconds["one"], seconds["two"], strict=True)])

    def row(what: str, ours: Spread, peer: str, ratio: str) -> str:
        return f"| {what} | {ours.text('.0f')} runs a second | {peer} | {ratio} |"

    text = "\n".join([
        f"Measured by `python benchmarks/study.py` on {platform.machine()}, {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f}, CPython {platform.python_version()}: studies of {plan.total} coils, "
        f"{plan.pulses + plan.warm_up} pulses each, {len(plan.vary)} numbers varying; median (quartiles) of {TURNS} turns on the "
        "wall clock.", "",
        "| what | ours | peer | ratio |", "|---|---|---|---|",
        row("a whole study, one worker", rate["one"], f"a loop over scipy's LSODA at rtol {RTOL:g} (as in solve_ivp), same "
            f"equations and coils: {solver.text('.3g')} a second", f"{faster.text('.0f')}x faster"),
        row("a whole study, two workers", rate["two"], f"one worker: {rate['one'].text('.0f')}",
            f"efficiency {share.text('.2f')} of two cores"),
    ]) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
