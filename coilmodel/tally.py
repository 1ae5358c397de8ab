"""What a run comes to in a few numbers, straight from the kernel's buffers: for maps of some thousand runs.

`tally` is written in the kernel's small Python, so a page's light workers run it compiled (coilmodel/translate), as they run the
kernel; they know nothing else of the course. What counts as a spark stands in coilmodel.sparks, and every number here is one
that coilmodel.readings gives of the same run, without scatter. Standard library only.
"""

from __future__ import annotations

import math
import os
from array import array
from collections.abc import Sequence
from functools import partial

from coilmodel import compiled, kernel
from coilmodel.machine import Drive, Machine
from coilmodel.run import OPENINGS_A_PULSE, flat, is_parting, period_of
from coilmodel.sparks import EFFECTIVE, WEAKEST, begins_anew

TALLY = ("status", "openings_not_kept", "worst", "sparks", "fewest", "most", "misfired", "opened", "opening_current", "rectified",
         "rms", "peak")
"""What `tally` puts first into its buffer. `status`: that of the kernel (0: it ran to its end). `worst`: what the worst pulse
did: 0 where one had no spark, TOO_WEAK where one had none that lights the charge, else the most in one. `sparks`, `fewest`,
`most`: in all pulses, in one. `misfired`: pulses without an effective spark. `opened`: pulses with a real opening;
`opening_current`: A, without sign, the mean of their first ones, 0 for none. `rectified`, `rms`, `peak`: A in the supply lead."""

TOO_WEAK = -1
"""What `worst` says of a run with a pulse whose sparks are all too weak for the engine."""

_END, _MEASURE_FROM, _RECOVERY = (kernel.PARAMETERS.index(name) for name in ("end", "measure_from", "spark_recovery"))
_TIME, _CURRENT, _GAP, _SPARK_TIME, _ENERGY, _QUIET, _STORED, _ARC = (kernel.EVENT.index(name) for name in (
    "time", "current", "largest_gap", "first_spark_time", "spark_energy", "quiet", "stored_energy", "arc_energy"))
_SECONDS, _RECTIFIED, _SQUARED, _PEAK, _OPENINGS, _STATUS = (kernel.METER.index(name) for name in (
    "seconds", "absolute_current", "squared_current", "peak_current", "openings", "status"))
_ROW = len(kernel.EVENT)
_NUMBERS = len(TALLY)
MOST_THREADS = 8


def tally(p: list[float], events: list[float], meter: list[float], out: list[float]) -> None:
    """Fill `out` with the numbers named in TALLY; after them come the sparks of each pulse, then its strongest one's joules.

    p: the kernel's parameters; events, meter: as the kernel left them; out: a buffer of len(TALLY) and two for every pulse that
    was measured.
    """
    count = (len(out) - _NUMBERS) // 2
    first = p[_MEASURE_FROM]
    period = (p[_END] - first) / count
    before = int(first / period + 0.5)
    for place in range(len(out)):
        out[place] = 0.0
    kept = min(int(meter[_OPENINGS]), len(events) // _ROW)
    pulse = spark_pulse = opened = -1
    energy = current = opening_current = 0.0
    openings = 0.0
    for row in range(kept):
        at = row * _ROW
        pulse = int(events[at + _TIME] / period) - before
        if 0 <= pulse < count and pulse > opened and is_parting(events[at + _GAP], events[at + _STORED], events[at + _ARC]):
            opened = pulse
            openings += 1.0
            current = events[at + _CURRENT]
            opening_current += current if current > 0.0 else -current
        if pulse >= 0 and events[at + _SPARK_TIME] >= 0.0:
            if spark_pulse < 0 or begins_anew(events[at + _QUIET], p[_RECOVERY]):
                note_spark(out, count, spark_pulse, energy)
                spark_pulse = pulse
                energy = 0.0
            energy += events[at + _ENERGY]
    note_spark(out, count, spark_pulse, energy)

    fewest = most = out[_NUMBERS]
    total = misfired = 0.0
    for place in range(count):
        sparks = out[_NUMBERS + place]
        total += sparks
        fewest = min(fewest, sparks)
        most = max(most, sparks)
        if out[_NUMBERS + count + place] < EFFECTIVE:
            misfired += 1.0
    seconds = meter[_SECONDS]
    out[0], out[1] = meter[_STATUS], max(0.0, meter[_OPENINGS] - kept)
    worst = most
    if misfired > 0.0:
        worst = 0.0 if fewest == 0.0 else float(TOO_WEAK)
    out[2], out[3], out[4], out[5], out[6] = worst, total, fewest, most, misfired
    out[7], out[8] = openings, opening_current / openings if openings > 0.0 else 0.0
    if seconds > 0.0:
        out[9], out[10] = meter[_RECTIFIED] / seconds, math.sqrt(meter[_SQUARED] / seconds)
    out[11] = meter[_PEAK]


def note_spark(out: list[float], pulses: int, pulse: int, energy: float) -> None:
    """Count a spark that began in `pulse` (none: -1) and brought `energy` J, in the last 2 `pulses` places of a tally `out`."""
    if 0 <= pulse < pulses and energy >= WEAKEST:
        out[_NUMBERS + pulse] += 1.0
        out[_NUMBERS + pulses + pulse] = max(out[_NUMBERS + pulses + pulse], energy)


def numbers_of(machine: Machine, drive: Drive, pulses: int, warm_up: int) -> tuple[float, ...]:
    """Return the kernel's parameters for a run of so many `pulses` after `warm_up` others, without strips."""
    period = period_of(machine, drive)
    return flat(machine, drive, 0.0, (warm_up + pulses) * period, warm_up * period, 0.0, -1.0, period, 1.0)


def buffer_sizes(pulses: int) -> tuple[int, ...]:
    """Return the floats in strips, events, ledger, meter and tally of a run of so many measured `pulses`."""
    return 0, _ROW * OPENINGS_A_PULSE * pulses, len(kernel.LEDGER), len(kernel.METER), _NUMBERS + 2 * pulses


def tallies(runs: Sequence[Sequence[float]], pulses: int, threads: int | None = None) -> list[dict[str, float]]:
    """Return the numbers named in TALLY of each of `runs` (parameters as `numbers_of` gives them) of so many measured `pulses`.

    Where the kernel is compiled to machine code they go side by side, in as many `threads` as there are cores (None), or as are
    given.
    """
    one = partial(_run, pulses=pulses)
    workers = min(MOST_THREADS, threads or os.cpu_count() or 1, len(runs))
    if compiled.HOME not in ("numba", "LLVM") or workers < 2:
        return [one(numbers) for numbers in runs]
    first = one(runs[0])  # by itself: it may have to be compiled
    from concurrent.futures import ThreadPoolExecutor  # here: a page has one thread, and the modules behind this are many

    with ThreadPoolExecutor(workers) as pool:
        return [first, *pool.map(one, runs[1:])]


def _run(numbers: Sequence[float], pulses: int) -> dict[str, float]:
    strips, events, ledger, meter, out = (compiled.buffer(size) for size in buffer_sizes(pulses))
    compiled.advance(tuple(numbers), strips, events, ledger, meter)
    _fast_tally(_parameters(numbers), events, meter, out)
    return dict(zip(TALLY, map(float, out)))


def _parameters(numbers: Sequence[float]) -> Sequence[float]:
    """Return the parameters as a buffer: numba takes seconds over a tuple of sixty numbers."""
    if compiled.HOME == "plain":
        return numbers
    buffer = compiled.buffer(len(numbers))
    buffer[:] = array("d", numbers)
    return buffer


_fast_tally = compiled.fastest(tally)
