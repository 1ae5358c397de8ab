"""One kernel, three homes: compiled, in plain Python and in a reader's browser, the same text gives the same numbers.

The browser's home is tried by tests/book and by benchmarks/run.py; here: compiled against plain, what the kernel may import,
and that the numbers go in and come out in the order that the kernel says.
"""

from __future__ import annotations

import ast
import importlib.util
import inspect
import math
import re
import subprocess
import sys
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from coilmodel import BatteryDrive, Ledger, Machine, MagnetoDrive, Strips, TimerDrive, TransformerDrive, compiled, kernel
from coilmodel.run import flat

MACHINES = {
    "nominal": Machine(),
    "slack cushion": Machine().scaled(cushion_preload=0.4),
    "small condenser, which arcs": Machine().but(condenser={"capacitance": 2e-8}),
    "bent away": Machine().but(vibrator={"preload": -1.0}),
    "easy gap": Machine().but(gap={"breakdown": 3e3}),
}
DRIVES = {
    "magneto": MagnetoDrive(),
    "timer": TimerDrive(rpm=900.0),
    "battery": BatteryDrive(),
    "transformer": TransformerDrive(),
}
PULSES = 3


def run_flat(advance: Any, buffer: Any, machine: Machine, drive: Any) -> dict[str, list[float]]:
    """Return all that `advance` fills, from the same numbers that `simulate` would give it."""
    pulse = 30.0 / (8 * drive.rpm) if isinstance(drive, (MagnetoDrive, TimerDrive)) else 5e-3
    end = PULSES * pulse
    numbers = flat(machine, drive, 0.0, end, pulse, 0.0, end, pulse / 100, 1.0)
    filled = {"strips": buffer(12 * 3000), "events": buffer(18 * 200), "ledger": buffer(12), "meter": buffer(10)}
    advance(numbers, *filled.values())
    return {name: [float(number) for number in numbers] for name, numbers in filled.items()}


# -------------------------------------------------------------------------------------------------- two homes, one run
@pytest.mark.parametrize("drive", DRIVES)
@pytest.mark.parametrize("machine", MACHINES)
def test_plain_and_compiled_give_the_same_numbers(machine: str, drive: str) -> None:
    """To 1e-9 of each number's own kind; observed: not one bit differs (numba keeps Python's order of arithmetic)."""
    if not compiled.COMPILED:
        pytest.skip("numba is not installed: there is only one home here")
    plain = run_flat(kernel.advance, lambda size: [0.0] * size, MACHINES[machine], DRIVES[drive])
    fast = run_flat(compiled.advance, compiled.buffer, MACHINES[machine], DRIVES[drive])
    assert plain["meter"][5] > 100  # steps: it ran
    assert plain["meter"][5:] == fast["meter"][5:]  # steps, retries, openings, rows, status: whole numbers
    for name, width in (("strips", 12), ("events", 18), ("ledger", 1), ("meter", 1)):
        for column in range(width):
            ours, theirs = plain[name][column::width], fast[name][column::width]
            scale = max(map(abs, ours))
            assert max(abs(a - b) for a, b in zip(ours, theirs, strict=True)) <= 1e-9 * scale, (name, column)


def test_the_kernel_turned_into_c_gives_the_same_numbers(need_gcc: str, tmp_path: Path) -> None:
    """The benchmark's peer is the same loop, or a comparison of times would mean nothing; observed: not one bit differs."""
    numpy = pytest.importorskip("numpy")
    in_c = load_to_c().compile_c(tmp_path, "-O2")
    for machine in MACHINES.values():
        for drive in DRIVES.values():
            plain = run_flat(kernel.advance, lambda size: [0.0] * size, machine, drive)
            theirs = run_flat(in_c, numpy.zeros, machine, drive)
            assert plain["meter"][5:] == theirs["meter"][5:]
            for name in plain:
                assert theirs[name] == pytest.approx(plain[name], rel=1e-9, abs=1e-12), name


def load_to_c() -> Any:
    """Return benchmarks/to_c.py as a module: the benchmarks are scripts, not a package."""
    spec = importlib.util.spec_from_file_location("to_c", Path(kernel.__file__).parents[1] / "benchmarks" / "to_c.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_runs_above_open_arc_and_spark() -> None:
    """Or the comparison would be of runs in which nothing happens."""
    seen = {"openings": 0.0, "sparks": 0.0, "arcs": 0.0}
    for machine in MACHINES.values():
        for drive in DRIVES.values():
            filled = run_flat(compiled.advance, compiled.buffer, machine, drive)
            seen["openings"] += filled["meter"][7]
            seen["sparks"] += sum(filled["events"][kernel.EVENT.index("sparks")::len(kernel.EVENT)])
            seen["arcs"] += sum(filled["events"][kernel.EVENT.index("arc_strikes")::len(kernel.EVENT)])
    assert all(count > 10 for count in seen.values()), seen


def test_compiled_home_is_compiled_where_numba_is() -> None:
    try:
        import numba  # noqa: F401
    except ImportError:
        assert compiled.advance is kernel.advance
        assert not compiled.COMPILED
    else:
        assert compiled.COMPILED
        assert compiled.advance.py_func.__code__ is kernel.advance.__code__  # type: ignore[attr-defined]


def test_without_numba_the_plain_kernel_runs() -> None:
    """The bare Python of a reader's browser: neither numba nor numpy can be imported, and a run still comes out the same."""
    code = (
        "import sys\n"
        "class Bare:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.split('.')[0] in ('numba', 'numpy', 'scipy', 'matplotlib'):\n"
        "            raise ImportError(name)\n"
        "sys.meta_path.insert(0, Bare())\n"
        "from coilmodel import Machine, MagnetoDrive, simulate, compiled\n"
        "from coilmodel.readings import in_words, read\n"
        "run = simulate(Machine(), MagnetoDrive(), pulses=2, warm_up=1)\n"
        "assert not compiled.COMPILED\n"
        "assert type(compiled.buffer(3)) is list\n"
        "read(run), in_words(run)\n"
        "print(repr(run.ledger.source), run.steps)\n"
    )
    root = Path(kernel.__file__).parents[1]
    out = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, timeout=120)
    assert out.returncode == 0, out.stderr
    source, steps = out.stdout.split()
    from coilmodel import simulate
    here = simulate(Machine(), MagnetoDrive(), pulses=2, warm_up=1)
    assert float(source) == pytest.approx(here.ledger.source, rel=1e-9)
    assert int(steps) == here.steps


# ------------------------------------------------------------------------------------------------ what the kernel is
def test_the_kernel_imports_only_math() -> None:
    tree = ast.parse(Path(kernel.__file__).read_text(encoding="utf-8"))
    imports = [node for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom))]
    named = {alias.name for node in imports if isinstance(node, ast.Import) for alias in node.names}
    assert named == {"math"}
    assert {node.module for node in imports if isinstance(node, ast.ImportFrom)} <= {"__future__"}


def test_the_kernel_keeps_no_state() -> None:
    """No global is written, and nothing but the buffers changes: the same call twice gives the same numbers."""
    assert not any(isinstance(node, (ast.Global, ast.Nonlocal)) for node in ast.walk(ast.parse(inspect.getsource(kernel))))
    first = run_flat(compiled.advance, compiled.buffer, MACHINES["slack cushion"], DRIVES["magneto"])
    run_flat(compiled.advance, compiled.buffer, MACHINES["easy gap"], DRIVES["battery"])
    assert run_flat(compiled.advance, compiled.buffer, MACHINES["slack cushion"], DRIVES["magneto"]) == first


# ------------------------------------------------------------------------------------------------ what goes in and out
def test_parameters_are_as_many_as_the_kernel_unpacks() -> None:
    unpacking = next(node for node in ast.walk(ast.parse(inspect.getsource(kernel.advance)))
                     if isinstance(node, ast.Assign) and isinstance(node.value, ast.Name) and node.value.id == "p")
    target = unpacking.targets[0]
    assert isinstance(target, ast.Tuple)
    assert len(target.elts) == len(kernel.PARAMETERS) == len(set(kernel.PARAMETERS))
    assert len(flat(Machine(), MagnetoDrive(), 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 1.0)) == len(kernel.PARAMETERS)


# The kernel's name of each number that stands in a part, where the two differ.
PLACES = {
    "condenser.capacitance": "capacitance", "condenser.leakage_resistance": "leakage_resistance",
    "contacts.arc_voltage": "arc_voltage", "contacts.arc_current": "arc_current", "contacts.arc_power": "arc_power",
    "contacts.arc_power_rise": "arc_power_rise", "contacts.arc_time": "arc_time", "gap.recovery": "spark_recovery",
    "contacts.resistance": "contact_resistance", "contacts.stiffness": "contact_stiffness", "contacts.damping": "contact_damping",
    "gap.breakdown": "spark_breakdown", "gap.burn": "spark_burn", "gap.extinction": "spark_extinction",
    "cushion.travel": "travel", "cushion.rivet_stiffness": "rivet_stiffness", "cushion.rivet_damping": "rivet_damping",
    "cushion.bridge_stiffness": "bridge_stiffness", "cushion.bridge_damping": "bridge_damping",
    "vibrator.stop": "stop_position", "vibrator.stop_stiffness": "stop_stiffness", "vibrator.stop_damping": "stop_damping",
    "magneto.inductance": "source_inductance", "magneto.resistance": "source_resistance",
    "magneto.third_harmonic": "third", "magneto.fifth_harmonic": "fifth",
}


def place_of(part: str, name: str) -> str:
    """Return the kernel's name for a number of a part."""
    if f"{part}.{name}" in PLACES:
        return PLACES[f"{part}.{name}"]
    return name if part == "coil" else f"{part}_{name}"


def test_every_number_of_the_machine_arrives_under_its_own_name() -> None:
    """Change one number at a time and see which place of the tuple moves: its own, and no other (but the resting place)."""
    usual = flat(Machine(), MagnetoDrive(), 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 1.0)
    resting = {"start_vibrator", "start_cushion"}
    tried = 0
    for part in fields(Machine):
        for item in fields(getattr(Machine(), part.name)):
            if f"{part.name}.{item.name}" in ("magneto.flux_linkage", "magneto.pole_pairs"):
                continue  # these two enter through the EMF, below
            before = getattr(getattr(Machine(), part.name), item.name)
            after = before * 1.01 if before else 0.01
            moved = flat(Machine().but(**{part.name: {item.name: after}}), MagnetoDrive(), 0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 1.0)
            names = {name for name, a, b in zip(kernel.PARAMETERS, usual, moved, strict=True) if a != b}
            place = place_of(part.name, item.name)
            assert names - resting == {place}, f"{part.name}.{item.name}"
            assert moved[kernel.PARAMETERS.index(place)] == after
            tried += 1
    assert tried > 35


def test_drives_arrive_under_their_own_names() -> None:
    def named(drive: Any, **changes: Any) -> dict[str, float]:
        magneto = {"flux_linkage": 0.03, "pole_pairs": 8, "inductance": 1.7e-3, "resistance": 0.25, **changes}
        machine = Machine().but(magneto=magneto)
        return dict(zip(kernel.PARAMETERS, flat(machine, drive, 0.0, 2.0, 0.5, 0.25, 1.5, 1e-3, 0.7), strict=True))

    magneto = named(MagnetoDrive(rpm=450.0, drive=0.5))
    omega = 2.0 * math.pi * 8 * 450.0 / 60.0  # f = pole pairs x rpm / 60
    assert magneto["omega"] == pytest.approx(omega, rel=1e-12)
    assert magneto["emf_peak"] == pytest.approx(0.5 * 0.03 * omega, rel=1e-12)
    assert (magneto["emf_constant"], magneto["cycle"]) == (0.0, 0.0)
    assert (magneto["source_inductance"], magneto["source_resistance"]) == (1.7e-3, 0.25)
    assert (magneto["end"], magneto["measure_from"], magneto["record_from"], magneto["record_to"], magneto["record_every"],
            magneto["step"]) == (2.0, 0.5, 0.25, 1.5, 1e-3, 0.7)

    battery = named(BatteryDrive(volts=6.0, resistance=0.2, inductance=1e-5, pulse_time=0.02))
    assert (battery["emf_constant"], battery["emf_peak"], battery["omega"]) == (6.0, 0.0, 0.0)
    assert (battery["source_resistance"], battery["source_inductance"]) == (0.2, 1e-5)

    mains = named(TransformerDrive(volts=9.0, frequency=60.0, resistance=0.4, inductance=2e-4), third_harmonic=0.2)
    assert mains["emf_peak"] == pytest.approx(9.0 * math.sqrt(2.0), rel=1e-12)
    assert mains["omega"] == pytest.approx(2.0 * math.pi * 60.0, rel=1e-12)
    assert (mains["source_resistance"], mains["source_inductance"], mains["third"]) == (0.4, 2e-4, 0.0)

    timer = named(TimerDrive(rpm=600.0, window_start=90.0, window_width=45.0, arc_voltage=30.0))
    assert timer["cycle"] == pytest.approx(0.2, rel=1e-12)  # two turns at 600 rpm
    assert timer["window_start"] == pytest.approx(0.025, rel=1e-12)
    assert timer["window_width"] == pytest.approx(0.0125, rel=1e-12)
    assert timer["timer_voltage"] == 30.0


def test_columns_are_as_wide_as_the_kernel_writes() -> None:
    source = inspect.getsource(kernel.advance)
    assert f"row_width, event_width = {len(kernel.STRIP)}, {len(kernel.EVENT)}" in source
    for name, columns in (("ledger", kernel.LEDGER), ("meter", kernel.METER)):
        assert {int(place) for place in re.findall(rf"\b{name}\[(\d+)\]", source)} == set(range(len(columns)))
    assert [item.name for item in fields(Strips)] == list(kernel.STRIP)
    assert {item.name for item in fields(Ledger)} == {*kernel.LEDGER, "stored"} - {"stored_start", "stored_end"}
