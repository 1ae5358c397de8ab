"""How long a capture of a million samples takes: `python benchmarks/capture.py`; status 1 where it takes 5 s or more.

A capture of the model at work is made (current, contact and secondary voltage, a sample a microsecond, 5 % noise, 8 bits), is
written as a CSV and put through everything that the command does: reading, openings, fit, card and rows. The goal is held
against the processor's seconds, as in the other benchmarks; the clock's stand beside them, for a machine without other work.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command itself does, before numpy

import numpy as np  # noqa: E402

from coilbench.capture.found import Known, analyse  # noqa: E402
from coilbench.capture.imagined import Recorder, capture  # noqa: E402
from coilbench.capture.show import card, sheet_text  # noqa: E402
from coilbench.capture.trace import read_trace  # noqa: E402
from coilmodel import BatteryDrive, Machine, MagnetoDrive  # noqa: E402

GOAL = 5.0  # s


def once(path: Path) -> dict[str, float]:
    """Return the processor's seconds of each part of the work on the capture at `path`, and the clock's of all of it."""
    begun = time.perf_counter()
    marks = [time.process_time()]
    trace = read_trace(path)
    marks.append(time.process_time())
    found = analyse(trace)
    marks.append(time.process_time())
    card(found, path.name)
    sheet_text(found, Known(), "coil 1")
    marks.append(time.process_time())
    return dict(zip(("reading", "openings and fit", "card and rows", "in all", "in all by the clock"),
                    [*(b - a for a, b in zip(marks, marks[1:])), marks[-1] - marks[0], time.perf_counter() - begun]))


def main() -> int:
    """Measure and print; 1 where the goal is missed."""
    top = argparse.ArgumentParser(description="Seconds for a capture of a million samples.")
    top.add_argument("--samples", type=int, default=1_000_000)
    top.add_argument("--repeats", type=int, default=5)
    given = top.parse_args()
    print(f"{platform.machine()}, {platform.system()}, CPython {platform.python_version()}, numpy {np.__version__}")
    worst = 0.0
    for name, drive in (("magneto, 450 rpm", MagnetoDrive(450.0)), ("battery, 12 V", BatteryDrive(12.0))):
        made = capture(Machine(), drive, given.samples * 1e-6, Recorder(interval=1e-6), np.random.default_rng(1))
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "million.csv"
            path.write_text(made.csv(5), encoding="ascii")
            size = path.stat().st_size / 1e6
            runs = [once(path) for _ in range(given.repeats)]
        for part in runs[0]:
            values = sorted(run[part] for run in runs)
            print(f"{name}, {len(made.time)} samples x 3 channels, {size:.0f} MB: {part} {values[len(values) // 2]:.2f} s "
                  f"({values[0]:.2f} to {values[-1]:.2f})")
        worst = max(worst, sorted(run["in all"] for run in runs)[given.repeats // 2])
    print(f"goal: under {GOAL:g} s; {'met' if worst < GOAL else 'missed'}")
    return int(worst >= GOAL)


if __name__ == "__main__":
    sys.exit(main())
