"""One imagined coil run on one bench, and what a person would read there. Standard library only."""

from __future__ import annotations

from coilbench.asks import Setting
from coilbench.causes import Coil
from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, TransformerDrive, simulate
from coilmodel.machine import pulse_seconds
from coilmodel.readings import first_openings, sparks_in_pulses

PULSES, WARM_UP = 10, 2
ENOUGH_TIME, FEWEST = 0.25, 3  # s and pulses: a coil turned by hand is watched for fewer pulses, they are long

OUTCOME = ("opening_current", "sparks", "sparks_variance", "meter_mean", "meter_rectified", "meter_rms")
"""Columns of an outcome: A, the first real parting of a pulse, mean over pulses (nan where they never part); sparks a pulse and
their variance over pulses; A, A, A."""
COLUMN = {name: place for place, name in enumerate(OUTCOME)}


def run_on(coil: Coil, setting: Setting) -> Run:
    """Run one imagined coil on one bench. Raises ValueError where the model cannot follow it."""
    bench = setting.bench
    machine = coil.machine.but(gap={"breakdown": min(60e3, max(coil.machine.gap.burn * 1.05, setting.gap * coil.gap))})
    if setting.aid == "condenser":  # a known-good one clipped in, the old one taken off
        machine = machine.but(condenser={"capacitance": Machine().condenser.capacitance, "leakage_resistance": 1e8})
    elif setting.aid == "contacts":
        machine = machine.but(contacts={"resistance": Machine().contacts.resistance})
    drive: BatteryDrive | MagnetoDrive | TransformerDrive
    if bench.hertz:
        drive = TransformerDrive(bench.volts, bench.hertz, TransformerDrive().resistance * coil.supply)
    elif bench.volts:
        drive = BatteryDrive(bench.volts, BatteryDrive().resistance * coil.supply)
    else:
        drive = MagnetoDrive(bench.rpm, min(5.0, bench.drive * coil.drive))
    pulses = max(FEWEST, min(PULSES, int(ENOUGH_TIME / pulse_seconds(machine, drive)) - WARM_UP))
    return simulate(machine, drive, pulses=pulses, warm_up=WARM_UP)


def outcome(coil: Coil, setting: Setting) -> list[float]:
    """Return what one imagined coil reads on one bench (columns OUTCOME); all nan where the model cannot follow it."""
    try:
        run = run_on(coil, setting)
    except ValueError:  # springs and stops that the stepper cannot follow
        return [float("nan")] * len(OUTCOME)
    counts = sparks_in_pulses(run)
    first = [abs(opening.current) for opening in first_openings(run)]
    current = sum(first) / len(first) if first else float("nan")
    mean = sum(counts) / len(counts)
    variance = sum((count - mean) ** 2 for count in counts) / len(counts)
    return [current, mean, variance, run.meter.mean, run.meter.rectified_mean, run.meter.rms]
