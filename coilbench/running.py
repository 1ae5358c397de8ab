"""One imagined coil run on one bench, and what a person would read there. Standard library only."""

from __future__ import annotations

from coilbench.asks import Setting
from coilbench.causes import Coil
from coilbench.kinds import KINDS
from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, TransformerDrive, simulate
from coilmodel.machine import pulse_seconds

PULSES, WARM_UP = 10, 2
ENOUGH_TIME, FEWEST = 0.25, 3  # s and pulses: a coil turned by hand is watched for fewer pulses, they are long

_READ = tuple(column for kind in KINDS for column in kind.columns)
OUTCOME = tuple(name for name, _ in _READ)
"""Columns of an outcome: all readings of a running coil, SI units; nan where it gives none, as where the contacts never part."""
COLUMN = {name: place for place, name in enumerate(OUTCOME)}


def run_on(coil: Coil, setting: Setting) -> Run:
    """Run one imagined coil on one bench. Raises ValueError where the model cannot follow it."""
    bench = setting.bench
    machine = coil.machine.but(gap={"breakdown": min(60e3, max(coil.machine.gap.burn * 1.05, setting.gap * coil.gap))})
    if bench.aid == "condenser":  # a known-good one in its place, the old one taken off
        machine = machine.but(condenser={"capacitance": Machine().condenser.capacitance, "leakage_resistance": 1e8})
    elif bench.aid == "contacts":
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
    return [read(run) for _, read in _READ]
