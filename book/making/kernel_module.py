"""The kernel compiled for the pages: translated at every build, and refused where it does not agree with the plain kernel."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
import tempfile
from array import array
from collections.abc import Sequence
from pathlib import Path

from book.making.places import LIVE, BuildError
from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, kernel
from coilmodel.machine import Drive, pulse_seconds
from coilmodel.run import flat
from coilmodel.translate.page import page_module

RUNNER = Path(__file__).with_name("run_kernel.mjs")
AGREED = 1e-9  # of the largest number of its kind
PULSES = 3

Call = tuple[str, Sequence["array[float]"]]


def run_in_node(module: bytes, calls: Sequence[Call]) -> None:
    """Call functions of a compiled module by name, one after the other; their buffers are read and filled in place.

    Raises BuildError where Node is absent or says that something failed.
    """
    node = shutil.which("node")
    if node is None:
        raise BuildError("Node.js is not here, so the compiled kernel cannot be tried; `python3 course.py book` brings it.")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "kernel.wasm").write_bytes(module)
        shutil.copy(LIVE / "kernel.js", folder)
        (folder / "calls.json").write_text(json.dumps([[name, list(map(len, given))] for name, given in calls]), encoding="utf-8")
        (folder / "floats.bin").write_bytes(b"".join(one.tobytes() for _, given in calls for one in given))
        done = subprocess.run([node, str(RUNNER), name], capture_output=True, text=True, check=False, timeout=600)
        if done.returncode:
            lines = [line for line in done.stderr.splitlines() if "Error" in line] or ["it said nothing"]
            raise BuildError(f"The compiled kernel does not run in Node: {lines[0]}")
        filled = (folder / "floats.bin").read_bytes()
    at = 0
    for _, given in calls:
        for one in given:
            one[:] = array("d", filled[at:at + 8 * len(one)])
            at += 8 * len(one)


def call_of(machine: Machine, drive: Drive, pulses: int = PULSES) -> Call:
    """Return a call of the kernel with empty buffers: so many pulses with strips, of which none is measured before the first."""
    pulse = pulse_seconds(machine, drive)
    end = pulses * pulse
    numbers = flat(machine, drive, 0.0, end, 0.0, 0.0, end, pulse / 100, 1.0)
    sizes = (700 * pulses * len(kernel.STRIP), 60 * pulses * len(kernel.EVENT), len(kernel.LEDGER), len(kernel.METER))
    return "advance", [array("d", numbers), *(array("d", bytes(8 * size)) for size in sizes)]


def difference(ours: Call, theirs: Call) -> float:
    """Return the largest difference of any two numbers, as a share of the largest number of their column; no number: infinite."""
    worst = 0.0
    widths = (len(kernel.STRIP), len(kernel.EVENT), 1, 1)
    for mine, other, width in zip(ours[1][1:], theirs[1][1:], widths, strict=True):
        for column in range(width if width > 1 else len(mine)):
            a, b = (row[column::width] if width > 1 else row[column:column + 1] for row in (mine, other))
            scale = max(map(abs, a), default=0.0) or 1.0
            apart = max((abs(x - y) / scale if x - y == x - y else math.inf for x, y in zip(a, b)), default=0.0)
            worst = max(worst, apart)
    return worst


def checked_module(module: bytes | None = None) -> bytes:
    """Return the compiled kernel, tried in Node on a few machines against the plain kernel.

    Raises BuildError in a sentence where it was not translated or gives other numbers. `module`: another one than today's.
    """
    try:
        module = module or page_module()
    except ValueError as error:
        raise BuildError(f"The kernel was not compiled for the pages: {error}") from error
    nominal = Machine()
    machines = (nominal, nominal.scaled(cushion_preload=0.4), nominal.but(condenser={"capacitance": 2e-8}))
    drives: tuple[Drive, ...] = (MagnetoDrive(), BatteryDrive(), TimerDrive(rpm=900.0))
    compiled, plain = ([call_of(machine, drive) for machine in machines for drive in drives] for _ in range(2))
    run_in_node(module, compiled)
    for _, given in plain:
        kernel.advance(tuple(given[0]), *given[1:])  # type: ignore[arg-type]
    worst = max(difference(mine, other) for mine, other in zip(compiled, plain))
    if not worst <= AGREED:
        raise BuildError("The kernel compiled for the pages no longer agrees with the plain one: they differ by "
                         f"{worst:.1g} of a number's size; coilmodel/translate does not carry over something that it now does.")
    return module
