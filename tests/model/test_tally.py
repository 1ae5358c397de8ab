"""A tally says of a run what the readings say of it; in a page's light worker, too."""

from __future__ import annotations

from array import array
from typing import Any

import pytest

from book.making.kernel_module import run_in_node
from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, TransformerDrive, kernel, simulate
from coilmodel.readings import first_openings, read, sparks_in_pulses
from coilmodel.tally import TALLY, TOO_WEAK, buffer_sizes, numbers_of, tallies, tally
from coilmodel.translate.page import page_module
from lessons.panels.multi_firing import worst_pulse

PULSES, WARM_UP = 6, 2
COILS = {
    "well set": Machine(),
    "slack cushion": Machine().scaled(cushion_preload=0.4),
    "stiff cushion": Machine().scaled(cushion_preload=1.8),
    "small condenser": Machine().but(condenser={"capacitance": 2e-8}),
    "leaky condenser": Machine().but(condenser={"leakage_resistance": 60.0}),
    "never closes": Machine().but(vibrator={"preload": -1.0}),
    "easy gap": Machine().but(gap={"breakdown": 3e3}),
}
DRIVES: dict[str, Any] = {
    "hand crank": MagnetoDrive(180.0), "road": MagnetoDrive(450.0, 1.3), "fast": MagnetoDrive(800.0),
    "weak": MagnetoDrive(450.0, 0.6), "timer": TimerDrive(rpm=900.0), "battery": BatteryDrive(),
    "transformer": TransformerDrive(),
}


def by_the_readings(machine: Machine, drive: Any) -> dict[str, float]:
    """Return the numbers of TALLY from a run's own readings."""
    run = simulate(machine, drive, PULSES, WARM_UP)
    result, counts = read(run), sparks_in_pulses(run)
    return {
        "status": 0.0, "openings_not_kept": run.openings_not_kept, "worst": worst_pulse(counts, result.misfired),
        "sparks": sum(counts), "fewest": min(counts), "most": max(counts), "misfired": result.misfired * PULSES,
        "opened": len(first_openings(run)), "opening_current": result.opening_current.mean or 0.0,
        "rectified": result.ammeter_rectified, "rms": result.ammeter_rms, "peak": result.peak_current,
    }


def test_a_tally_says_what_the_readings_say() -> None:
    told = tallies([numbers_of(coil, drive, PULSES, WARM_UP) for coil in COILS.values() for drive in DRIVES.values()], PULSES)
    names = [(coil, drive) for coil in COILS for drive in DRIVES]
    for (coil, drive), ours in zip(names, told, strict=True):
        assert ours == pytest.approx(by_the_readings(COILS[coil], DRIVES[drive]), rel=1e-9, abs=1e-12), (coil, drive)
    assert {ours["worst"] for ours in told} >= {TOO_WEAK, 0.0, 1.0, 2.0}  # or nothing much was compared
    assert any(0.0 < ours["misfired"] < PULSES for ours in told)


def test_threads_do_not_change_a_number() -> None:
    runs = [numbers_of(Machine(), MagnetoDrive(200.0 + 20.0 * number), PULSES, WARM_UP) for number in range(12)]
    assert tallies(runs, PULSES, threads=4) == tallies(runs, PULSES, threads=1) == tallies(runs, PULSES)
    assert tallies([], PULSES) == []


def event(**columns: float) -> list[float]:
    """Return one row of the kernel's events."""
    return [columns.get(name, 0.0) for name in kernel.EVENT]


def test_breakdowns_are_counted_as_sparks_by_hand() -> None:
    """Two breakdowns in one warm channel are one spark, of both energies; a puff under 1 mJ is none; 10 mJ light the charge."""
    numbers = list(numbers_of(Machine(), MagnetoDrive(450.0), 3, 1))
    period = numbers[kernel.PARAMETERS.index("end")] / 4
    long, short = 1.0, 1e-6
    spark = {"first_spark_time": 1.0, "sparks": 1.0, "stored_energy": 0.04}
    rows = [
        event(time=1.1 * period, current=-4.0, largest_gap=1e-4, **spark, quiet=long, spark_energy=0.006),
        event(time=1.2 * period, current=9.0, largest_gap=1e-4, **spark, quiet=short, spark_energy=0.007),
        event(time=1.6 * period, current=9.0, largest_gap=1e-4, **spark, quiet=long, spark_energy=0.004),
        event(time=2.1 * period, current=3.0, largest_gap=5e-6, first_spark_time=-1.0, quiet=-1.0),  # chatter: no opening
        event(time=2.2 * period, current=2.0, largest_gap=1e-4, **spark, quiet=long, spark_energy=0.0009),
        event(time=3.9 * period, current=8.0, largest_gap=1e-4, first_spark_time=-1.0, quiet=-1.0, stored_energy=0.04),
    ]
    meter = [0.0] * len(kernel.METER)
    meter[kernel.METER.index("openings")] = len(rows) + 2.0  # two more than there was room for
    meter[kernel.METER.index("seconds")] = 1.0
    out = [7.0] * buffer_sizes(3)[-1]
    tally(numbers, [number for row in rows for number in row], meter, out)
    told = dict(zip(TALLY, out))
    assert (told["sparks"], told["fewest"], told["most"], told["worst"], told["misfired"]) == (2.0, 0.0, 2.0, 0.0, 2.0)
    assert (told["opened"], told["opening_current"], told["openings_not_kept"]) == (3.0, (4.0 + 2.0 + 8.0) / 3, 2.0)
    assert out[len(TALLY):] == pytest.approx([2.0, 0.0, 0.0, 0.013, 0.0, 0.0])


def test_a_light_worker_tells_the_same(need_node: str) -> None:
    """The page's module, in Node: the kernel and then the tally, over the same buffers."""
    drives = [drive for drive in DRIVES.values() if isinstance(drive, MagnetoDrive)]
    runs = [numbers_of(coil, drive, PULSES, WARM_UP) for coil in COILS.values() for drive in drives]
    filled = [[array("d", numbers), *(array("d", bytes(8 * size)) for size in buffer_sizes(PULSES))] for numbers in runs]
    module = page_module()
    run_in_node(module, [("advance", each[:5]) for each in filled])
    run_in_node(module, [("tally", [each[0], each[2], each[4], each[5]]) for each in filled])
    native = tallies(runs, PULSES)
    for each, theirs in zip(filled, native, strict=True):
        assert dict(zip(TALLY, each[5])) == theirs
    assert any(theirs["worst"] > 1.0 for theirs in native)
