"""The benchmarks: `python benchmarks/run.py` prints a Markdown table and writes it to benchmarks/results.md.

Every row is a ratio against a named peer measured in the same run, turn about, as a median with the quartiles of the turns.
A peer that is not on this machine gives a row that says so. The goals are those of the project's own plan; the command ends
with status 1 if one is missed, so that a slower kernel does not pass unseen. `--quick` takes fewer turns.
"""

from __future__ import annotations

import argparse
import gc
import importlib.util
import itertools
import json
import math
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import tracemalloc
from array import array
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]  # run from a checkout, installed or not

import kernel_in_page  # noqa: E402
import numpy  # noqa: E402
from measure import Row, plain_home, ratios, spread, turns  # noqa: E402
from to_c import compile_c  # noqa: E402

from coilmodel import Machine, MagnetoDrive, compiled, kernel, simulate  # noqa: E402
from coilmodel.machine import pulse_seconds  # noqa: E402
from coilmodel.readings import first_openings  # noqa: E402
from coilmodel.run import OPENINGS_A_PULSE, Run, flat  # noqa: E402

MACHINE, DRIVE = Machine(), MagnetoDrive(rpm=450.0)
RESULTS = ROOT / "benchmarks" / "results.md"


# ----------------------------------------------------------------------------------------------------- against C
def against_c(repeats: int) -> list[Row]:
    """The compiled kernel, by numba and by LLVM alone (as in notebooks), against the same loop in C, compiled by gcc -O3.

    coilmodel/translate turns the loop into C and into LLVM's text.
    """
    what = "one pulse, compiled kernel ({}) against the same loop in C"
    if not compiled.COMPILED or shutil.which("gcc") is None:
        return [missing(what.format("numba"), "numba and gcc", "within 1.5x of C")]
    from coilmodel import light

    pulses = 40
    numbers = kernel_numbers(pulses)
    with tempfile.TemporaryDirectory() as folder:
        homes: dict[str, Callable[..., None]] = {"numba": compiled.advance, "LLVM": flat_light(light.fastest(kernel.advance)),
                                                 "gcc -O3": compile_c(Path(folder), "-O3"),
                                                 "gcc -O3 -march=native": compile_c(Path(folder), "-O3", "-march=native")}
        filled = {name: fill(advance, numbers, pulses) for name, advance in homes.items()}
        differs = max(difference(filled[home], filled["gcc -O3"]) for home in ("numba", "LLVM"))
        if differs > 1e-9:
            raise RuntimeError(f"ours and C disagree by {differs:.2g}: they do not run the same loop; their times say nothing.")
        seconds = turns({name: partial(fill, advance, numbers, pulses) for name, advance in homes.items()}, repeats)
    rows = []
    for home, peer in itertools.product(("numba", "LLVM"), ("gcc -O3", "gcc -O3 -march=native")):
        slower = spread([ours / theirs for ours, theirs in zip(seconds[home], seconds[peer], strict=True)])
        rows.append(Row(f"{what.format(home)}; largest difference of openings, ledger and meter {differs:.1g}",
                        f"{per_pulse(seconds[home], pulses)} ms", f"{peer}: {per_pulse(seconds[peer], pulses)} ms",
                        f"{slower.text('.2f')}x the time of C", "within 1.5x of C" if peer == "gcc -O3" else "none",
                        slower.median <= 1.5 if peer == "gcc -O3" else None))
    return rows


def flat_light(advance: Callable[..., None]) -> Callable[..., None]:
    """Return LLVM's kernel as `fill` calls it, with numpy's arrays; their copies are in its time."""
    def run(numbers: tuple[float, ...], *filled: Any) -> None:
        own = [array("d", one.tobytes()) for one in filled]
        advance(numbers, *own)
        for one, mine in zip(filled, own, strict=True):
            one[:] = mine

    return run


def compiled_for_pages(repeats: int) -> list[Row]:
    """The kernel as the book's pages run it, translated to WebAssembly, against numba's."""
    what = "one pulse, the kernel as WebAssembly against numba's"
    pulses, runs = 40, 5
    numbers = kernel_numbers(pulses)
    sizes = (0, len(kernel.EVENT) * OPENINGS_A_PULSE * pulses, len(kernel.LEDGER), len(kernel.METER))

    def native() -> None:
        for _ in range(runs):
            fill(compiled.advance, numbers, pulses)

    rows = kernel_in_page.against_numba(repeats, native, numbers, sizes, pulses, runs) if compiled.HOME == "numba" else []
    return rows or [missing(what, "numba, and Node or Chromium", f"within {kernel_in_page.GOAL}x of numba")]


def kernel_numbers(pulses: int) -> tuple[float, ...]:
    """Return the kernel's first argument for so many pulses of the nominal machine, without strips."""
    pulse = pulse_seconds(MACHINE, DRIVE)
    return flat(MACHINE, DRIVE, 0.0, pulses * pulse, 0.0, 0.0, -1.0, pulse / 400, 1.0)


def fill(advance: Callable[..., None], numbers: tuple[float, ...], pulses: int) -> tuple[Any, Any, Any]:
    """Run a kernel from the flat numbers and return (events, ledger, meter)."""
    events = numpy.zeros(len(kernel.EVENT) * OPENINGS_A_PULSE * pulses)
    ledger, meter = numpy.zeros(len(kernel.LEDGER)), numpy.zeros(len(kernel.METER))
    advance(numbers, numpy.zeros(0), events, ledger, meter)
    return events, ledger, meter


def difference(ours: tuple[Any, ...], theirs: tuple[Any, ...]) -> float:
    """Return the largest relative difference of any number in two runs' buffers."""
    worst = 0.0
    for a, b in zip(ours, theirs, strict=True):
        size = numpy.maximum(numpy.maximum(abs(a), abs(b)), 1e-30)
        worst = max(worst, float(numpy.max(abs(a - b) / size)))
    return worst


# --------------------------------------------------------------------------------------- against an adaptive solver
SOLVED = 2  # pulses that the adaptive solver is given; it takes a good second a pulse at its tightest


def against_solve_ivp(repeats: int) -> list[Row]:
    """The kernel against scipy's adaptive solvers (those inside solve_ivp), carried from switch to switch, at equal accuracy.

    Both are held against Radau at a relative tolerance of 1e-9. Among methods and tolerances the fastest whose worst time,
    current and peak voltage of first openings are at least as close as the kernel's is the peer; when none is, the closest.
    The kernel is tried at its own step and at twice that, where it is about as close as it was before open contacts were
    stepped through anew (0.082 %), so that speed is compared at what it had then.
    """
    what = f"one pulse against the solvers of scipy's solve_ivp at equal accuracy ({SOLVED} pulses from rest)"
    if importlib.util.find_spec("coilmodel.proof.reference") is None or importlib.util.find_spec("scipy") is None:
        return [missing(what, "scipy and coilmodel.proof.reference", "100x compiled, 5x plain")]
    from coilmodel.proof.reference import METHODS, Solution, solve

    def ours(step: float) -> Run:
        return simulate(MACHINE, DRIVE, pulses=SOLVED, warm_up=0, step=step)

    # The first opening of each pulse only: what follows it is sensitive to the last digit, and would excuse a sloppy solver.
    def kernel_readings(step: float) -> list[tuple[float, float, float]]:
        return [(o.time, abs(o.current), o.peak_secondary_voltage) for o in first_openings(ours(step))]

    def solver_readings(solution: Solution) -> list[tuple[float, float, float]]:
        first = [solution.first(number * solution.pulse) for number in range(SOLVED)]
        return [(b.time, abs(b.current), b.peak_secondary) for b in first if b is not None]

    exact = solver_readings(solve(MACHINE, DRIVE, SOLVED, "Radau", 1e-9))
    tried = []
    for method in METHODS:
        for rtol in (1e-2, 3e-3, 1e-3, 1e-4, 1e-5):
            attempt = partial(solve, MACHINE, DRIVE, SOLVED, method, rtol)
            try:
                error = reading_error(solver_readings(attempt()), exact)
            except RuntimeError:
                continue  # some methods cannot go on at so loose a tolerance
            tried.append((error, turns({"solver": attempt}, 1)["solver"][0], method, rtol))
    rows = []
    for step in (1.0, 2.0):
        our_error = reading_error(kernel_readings(step), exact)
        close = [one for one in tried if one[0] <= our_error]
        error, _, method, rtol = min(close, key=lambda one: one[1]) if close else min(tried)
        solver = partial(solve, MACHINE, DRIVE, SOLVED, method, rtol)
        with plain_home():
            plain = turns({"plain": partial(ours, step), "solver": solver}, repeats)
        fast = turns({"compiled": lambda step=step: [ours(step) for _ in range(50)], "solver": solver}, repeats)  # type: ignore[misc]
        peer = f"{method}, rtol {rtol:g}, worst error {100 * error:.2g} %"
        for home, seconds_of, share, goal in (("compiled", fast, 50.0, 100.0), ("plain", plain, 1.0, 5.0)):
            faster = ratios(seconds_of, home, "solver", share)
            rows.append(Row(f"{what}; {home} kernel, {step:g} of its step, worst error {100 * our_error:.2g} %",
                            f"{per_pulse(seconds_of[home], share * SOLVED)} ms",
                            f"{peer}: {per_pulse(seconds_of['solver'], SOLVED)} ms", f"{faster.text('.3g')}x faster",
                            f"{goal:g}x {home}", faster.median >= goal))
    return rows


def reading_error(ours: list[tuple[float, float, float]], exact: list[tuple[float, float, float]]) -> float:
    """Return the worst relative error of time, current and peak voltage over all openings; infinite if their number differs."""
    if len(ours) != len(exact):
        return math.inf
    return max((abs(a - b) / abs(b) for one, other in zip(ours, exact, strict=True) for a, b in zip(one, other, strict=True)),
               default=math.inf)


# ------------------------------------------------------------------------------------------------ against ngspice
def against_ngspice(repeats: int) -> list[Row]:
    """The kernel on the electrical part alone against ngspice on the same circuit, at equal accuracy, without its start-up.

    The circuit is the first case of coilmodel.proof.spice: a rise, a break, and the ring after it. Both are held against ngspice
    at its finest (steps of 0.05 us at most, tolerance 1e-6). The peer is ngspice at the longest step and loosest tolerance
    whose three waveforms are at least as close as the kernel's; its start-up is timed with an empty run and taken off.
    """
    what = "rise, break and ring of the circuit alone, against ngspice at equal accuracy"
    if shutil.which("ngspice") is None or importlib.util.find_spec("coilmodel.proof.spice") is None:
        return [missing(what, "ngspice and coilmodel.proof.spice", "none")]
    from coilmodel.proof import spice

    case = spice.CASES[0]
    machine, end = spice.still(case.changes), case.opening + spice.AFTER
    pulses = max(1, math.ceil(end / pulse_seconds(machine, case.drive)))
    run = simulate(machine, case.drive, pulses, 0, (0, pulses - 1), rows_a_pulse=100_000, prescribed_opening=case.opening)
    coil, place = machine.coil, statistics.median(run.strips.vibrator)
    inductance = coil.coupling * coil.primary_inductance + 2.0 * coil.pull_constant * (
        1.0 / (coil.magnetic_gap - place) - 1.0 / coil.magnetic_gap)
    finest = spice.netlist(machine, case.drive, case.opening, end, inductance, "out.data")

    def looser(step: float, tolerance: float) -> str:
        text = finest.replace(f"tran 0.1u {end:.12g} 0 0.05u uic", f"tran {2 * step:g}u {end:.12g} 0 {step:g}u uic")
        text = text.replace("reltol=1e-6", f"reltol={tolerance:g}")
        if text == finest:
            raise RuntimeError("the netlist of coilmodel.proof.spice has changed; benchmarks/run.py must follow it.")
        return text

    exact = spice.ngspice(finest)
    times = numpy.array(run.strips.time)
    ours = numpy.column_stack([times, run.strips.current, run.strips.contact_voltage, run.strips.secondary_voltage])
    our_error = waveform_error(ours, exact, end)
    tried = []
    for step in (8.0, 4.0, 2.0, 1.0, 0.5, 0.2, 0.1):
        for tolerance in (1e-3, 1e-4, 1e-5):
            error = waveform_error(spice.ngspice(looser(step, tolerance)), exact, end)
            if error <= our_error:
                cost = turns({"ngspice": partial(spice.ngspice, looser(step, tolerance))}, 1)["ngspice"][0]
                tried.append((cost, step, tolerance, error))
    if not tried:
        return [missing(what, "an ngspice setting as close as the kernel's", "none")]
    _, step, tolerance, error = min(tried)
    empty = looser(step, tolerance).replace(f"{end:.12g} 0 {step:g}u uic", f"1e-8 0 {step:g}u uic")
    many = 50
    seconds = turns({
        "compiled": lambda: [simulate(machine, case.drive, pulses, 0, prescribed_opening=case.opening) for _ in range(many)],
        "ngspice": partial(spice.ngspice, looser(step, tolerance)), "start": partial(spice.ngspice, empty)}, repeats)
    # The kernel runs to the end of the pulse, ngspice only to the end of the compared stretch.
    share = end / (pulses * pulse_seconds(machine, case.drive)) / many
    mine = [share * value for value in seconds["compiled"]]
    theirs = [whole - start for whole, start in zip(seconds["ngspice"], seconds["start"], strict=True)]
    faster = spread([b / a for a, b in zip(mine, theirs, strict=True)])
    setting = f"ngspice, steps of {step:g} us at most, reltol {tolerance:g}, worst error {100 * error:.2g} %"
    start = f"without its start-up of {1e3 * statistics.median(seconds['start']):.0f} ms"
    return [Row(f"{what} ({1e3 * end:.2g} ms); compiled kernel's worst error {100 * our_error:.2g} %",
                f"{spread(mine).text('.3g', 1e3)} ms", f"{setting}, {start}: {spread(theirs).text('.3g', 1e3)} ms",
                f"{faster.text('.3g')}x faster", "none", None)]


def waveform_error(rows: Any, exact: Any, end: float) -> float:
    """Return the worst difference of any of three waveforms over its peak, at the given rows' own times until `end`."""
    rows = rows[rows[:, 0] < end - 1e-6]
    return max(float(numpy.max(abs(rows[:, column] - numpy.interp(rows[:, 0], exact[:, 0], exact[:, column])))
                     / numpy.max(abs(exact[:, column]))) for column in (1, 2, 3))


# ------------------------------------------------------------------------------------------------- plain Python
def plain_python(repeats: int) -> list[Row]:
    """Plain CPython's milliseconds a pulse, with the compiled kernel as its peer."""
    pulses, many = 10, 20
    contestants: dict[str, Callable[[], Any]] = {"compiled": lambda: [simulate(MACHINE, DRIVE, pulses, 0) for _ in range(many)]}

    def plain() -> None:
        with plain_home():
            simulate(MACHINE, DRIVE, pulses, 0)

    seconds = turns({"plain": plain, **contestants}, repeats)
    slower = spread([many * p / c for p, c in zip(seconds["plain"], seconds["compiled"], strict=True)])
    cost = spread([1e3 * value / pulses for value in seconds["plain"]])
    return [Row(f"one pulse in plain CPython {platform.python_version()}", f"{cost.text('.2f')} ms",
                f"compiled kernel: {per_pulse(seconds['compiled'], pulses * many)} ms" if compiled.COMPILED else "no numba here",
                f"{slower.text('.3g')}x the time compiled", "under 6 ms", cost.median < 6.0)]


def linear_in_pulses(repeats: int) -> list[Row]:
    """Cost against number of pulses: the exponent of a power law through the times, and a pulse's cost at both ends."""
    counts = (10, 30, 100, 300, 1000)
    # Each contestant does the same number of pulses in a turn, so that short runs are not drowned by the clock's grain.
    def in_runs_of(count: int) -> Callable[[], Any]:
        return lambda: [simulate(MACHINE, DRIVE, count, 0) for _ in range(counts[-1] // count)]

    seconds = turns({str(count): in_runs_of(count) for count in counts}, repeats)
    exponents = [1.0 + numpy.polyfit(numpy.log(counts), numpy.log([seconds[str(count)][turn] for count in counts]), 1)[0]
                 for turn in range(repeats)]
    exponent = spread(exponents)
    dearer = ratios(seconds, str(counts[0]), str(counts[-1]))
    return [Row(f"cost against number of pulses, {counts[0]} to {counts[-1]} (power law through {len(counts)} lengths)",
                f"{per_pulse(seconds[str(counts[-1])], counts[-1])} ms a pulse in {counts[-1]}",
                f"{per_pulse(seconds[str(counts[0])], counts[-1])} ms a pulse in {counts[0]}",
                f"{dearer.text('.2f')}x; exponent {exponent.text('.3f')}", "linear: exponent 0.95 to 1.05",
                0.95 <= exponent.median <= 1.05)]


def memory(_: int) -> list[Row]:
    """Memory against pulses, without strips: what a run takes at its peak, and what is left behind by a hundred runs."""
    rows = []
    for home in ("compiled", "plain"):
        peaks = {}
        for pulses in (10, 100, 1000) if home == "compiled" else (10, 100):
            peaks[pulses] = peak_memory(home, pulses)
        few, most = min(peaks), max(peaks)
        growth = (peaks[most] - peaks[few]) / (most - few)
        sizes = ", ".join(f"{size / 1e6:.3g} MB at {pulses}" for pulses, size in peaks.items())
        rows.append(Row(f"peak memory of a run without strips, {home} (the openings it returns and the room for them)",
                        sizes, f"{few} pulses", f"{growth / 1e3:.3g} kB a pulse", "none", None))
    left = left_behind(100)
    rows.append(Row("memory still held after 100 runs of 100 pulses, against after one", f"{left / 1e3:.3g} kB more", "one run",
                    "", "flat: under 100 kB", left < 100e3))
    return rows


def peak_memory(home: str, pulses: int) -> int:
    """Return the bytes that one run takes at its peak, as tracemalloc counts them (numpy's arrays are counted too)."""
    simulate(MACHINE, DRIVE, 1, 0)
    gc.collect()
    tracemalloc.start()
    if home == "plain":
        with plain_home():
            simulate(MACHINE, DRIVE, pulses, 0)
    else:
        simulate(MACHINE, DRIVE, pulses, 0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def left_behind(runs: int) -> int:
    """Return the bytes held after `runs` runs, less those held after the first."""
    tracemalloc.start()
    simulate(MACHINE, DRIVE, 100, 0)
    gc.collect()
    first, _ = tracemalloc.get_traced_memory()
    for _ in range(runs - 1):
        simulate(MACHINE, DRIVE, 100, 0)
    gc.collect()
    last, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return last - first


# ------------------------------------------------------------------------------------------- the browser's runtime
def browser_under_node(repeats: int) -> list[Row]:
    """The browser's Python (WebAssembly) run by Node, against plain CPython here, turn about in blocks."""
    what = "one pulse in the browser's Python"
    if shutil.which("node") is None or not (ROOT / "book" / "node_modules" / "pyodide" / "pyodide.mjs").exists():
        return [missing(what, "Node and book/node_modules (`python3 course.py book` fetches them)", "under 15 ms")]
    pulses = 10
    done = subprocess.run(["node", str(ROOT / "benchmarks" / "node_pulse.mjs"), str(ROOT), str(pulses), str(max(repeats, 5))],
                          capture_output=True, text=True, check=True, timeout=600)
    told = json.loads(done.stdout.splitlines()[-1])
    with plain_home():
        here = simulate(MACHINE, DRIVE, pulses, 0)
        plain = turns({"plain": lambda: simulate(MACHINE, DRIVE, pulses, 0)}, max(repeats, 5))["plain"]
    if int(told["steps"]) != here.steps or not math.isclose(float(told["source"]), here.ledger.source, rel_tol=1e-9):
        raise RuntimeError(f"the browser's Python takes {told['steps']} steps and {told['source']} J, this one {here.steps} and "
                           f"{here.ledger.source!r} J: they do not run the same model.")
    cost = spread([1e3 * value / pulses for value in told["seconds"]])
    slower = cost.median / spread([1e3 * value / pulses for value in plain]).median
    host = f"CPython {told['python']} as WebAssembly, under Node {told['node']}, loads in {told['load_ms'] / 1e3:.1f} s"
    return [Row(f"{what} ({host})",
                f"{cost.text('.1f')} ms", f"plain CPython {platform.python_version()}: {per_pulse(plain, pulses)} ms",
                f"{slower:.2f}x the time of CPython", "under 15 ms", cost.median < 15.0)]


def browser_in_chromium(quick: bool) -> tuple[str, bool]:
    """Return the table of the book's live pages in Chromium, and whether all its goals were met.

    The measuring is benchmarks/browser.py, a command of its own; it builds the book where there is none yet.
    """
    script = ROOT / "benchmarks" / "browser.py"
    chromium = any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome")))
    if not script.exists() or not chromium or importlib.util.find_spec("playwright") is None:
        return "Not measured: the live pages need Chromium and Playwright.\n", True
    fewer = ["--starts", "3", "--presses", "20"] if quick else []
    done = subprocess.run([sys.executable, str(script), *fewer], capture_output=True, text=True, timeout=1800, check=False)
    return (done.stdout or done.stderr[-2000:]), done.returncode == 0


# ---------------------------------------------------------------------------------------------------------- the table
def missing(what: str, needs: str, goal: str) -> Row:
    """Return the row of something that could not be measured here."""
    return Row(what, f"not measured: needs {needs}", "", "", goal, None)


def per_pulse(seconds: list[float], pulses: float) -> str:
    """Return milliseconds a pulse as text: median and quartiles."""
    return spread(seconds).text(".3g", 1e3 / pulses)


def table(rows: list[Row]) -> str:
    """Return the rows as a Markdown table under a line that says where and with what they were measured."""
    met = {True: "yes", False: "**no**", None: ""}
    lines = [
        f"Measured on {platform.machine()}, {os.cpu_count()} cores, {platform.system()}, CPython {platform.python_version()}, "
        f"numpy {numpy.__version__}{version_of('numba')}{version_of('scipy')}; nominal machine, magneto at {DRIVE.rpm:g} rpm. "
        "Processor time, median (quartiles), both contestants in the same run.",
        "",
        "| what | ours | peer | ratio | goal | met |",
        "|---|---|---|---|---|---|",
    ]
    lines += [f"| {row.what} | {row.ours} | {row.peer} | {row.ratio} | {row.goal} | {met[row.met]} |" for row in rows]
    return "\n".join(lines) + "\n"


def version_of(package: str) -> str:
    """Return ", package x.y" where it is installed, else an empty text."""
    try:
        from importlib.metadata import version

        return f", {package} {version(package)}"
    except Exception:
        return ""


def main() -> int:
    parser = argparse.ArgumentParser(description="Measure the model against its peers and write benchmarks/results.md.")
    parser.add_argument("--quick", action="store_true", help="fewer turns: a minute or two instead of ten")
    parser.add_argument("--only", default="", help="run only the benchmarks whose function's name holds this text")
    wanted = parser.parse_args()
    few = wanted.quick
    plan: list[tuple[Callable[[Any], list[Row]], Any]] = [
        (against_c, 7 if few else 31),
        (compiled_for_pages, 15 if few else 61),
        (against_solve_ivp, 3 if few else 9),
        (against_ngspice, 3 if few else 11),
        (plain_python, 5 if few else 21),
        (browser_under_node, 5 if few else 21),
        (linear_in_pulses, 3 if few else 11),
        (memory, 1),
    ]
    rows: list[Row] = []
    for measure, repeats in plan:
        if wanted.only in measure.__name__:
            print(f"{measure.__name__} ...", file=sys.stderr, flush=True)
            rows += measure(repeats)
    text, all_met = table(rows), not any(row.met is False for row in rows)
    if wanted.only in "browser_in_chromium":
        print("browser_in_chromium ...", file=sys.stderr, flush=True)
        pages, pages_met = browser_in_chromium(few)
        text += "\nThe live pages in the browser:\n\n" + pages
        all_met = all_met and pages_met
    print(text)
    if not wanted.only:
        RESULTS.write_text(text, encoding="utf-8")
    return 0 if all_met else 1


if __name__ == "__main__":
    sys.exit(main())
