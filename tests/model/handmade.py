"""Runs made by hand, with answers that can be counted on the fingers: what the tests of sparks and readings start from."""

from __future__ import annotations

from typing import Any

from coilmodel import BatteryDrive, Ledger, Machine, MagnetoDrive, Meter, Opening, Run, Strips, TimerDrive
from coilmodel.machine import Drive

PULSE = 5e-3  # s
RPM = 750.0  # 4500 degrees a second: with eight pairs of poles a pulse is 5 ms and 22.5 degrees


def opening(pulse: int = 0, at: float = 2e-3, *, spark: float | None = None, late: float = 0.1e-3, quiet: float = 10e-3,
            turning: bool = True, **other: Any) -> Opening:
    """An opening `at` seconds into its pulse: 5 A, a wide gap, 30 mJ; with `spark` joules the gap breaks down `late` seconds on.

    quiet: s for which the spark gap had been out before; turning: whether a crank turns; other: any field of an Opening
    """
    time = pulse * PULSE + at
    fields: dict[str, Any] = {
        "pulse": pulse, "time": time, "after": at, "crank_angle": 6.0 * RPM * at if turning else None, "current": 5.0,
        "parting_speed": 0.4, "on_rivet": False, "follow": 0.1e-3, "closing_time": time + 1e-3, "largest_gap": 0.2e-3,
        "peak_contact_voltage": 250.0, "peak_secondary_voltage": 12e3, "spark_time": None, "sparks": 0, "spark_energy": 0.0,
        "arc_strikes": 0, "arc_energy": 0.0, "break_arc_energy": 0.0, "stored_energy": 30e-3, "quiet": None}
    if spark is not None:
        fields |= {"spark_time": time + late, "sparks": 1, "spark_energy": spark, "quiet": quiet}
    return Opening(**{**fields, **other})


def run_of(*openings: Opening, pulses: int = 4, drive: Drive | None = None, machine: Machine | None = None,
           meter: Meter | None = None, contact: float = 1.0) -> Run:
    """A run of so many pulses in which just these openings happened; contact: joules lost in the closed contacts."""
    ledger = Ledger(source=10.0, copper=4.0, core=1.0, contact=contact, arc=0.1, leakage=0.1, secondary=0.2, spark=2.0,
                    mechanical=0.1, timer=0.0, stored=0.5)
    empty = Strips(*([] for _ in range(12)))
    return Run(
        machine or Machine().but(gap={"recovery": 0.1e-3}), drive or MagnetoDrive(rpm=RPM), pulses, 0, PULSE, tuple(openings), 0,
        ledger, meter or Meter(pulses * PULSE, 0.5, 2.0, 3.0, 6.0), empty, 1000)


__all__ = ["PULSE", "RPM", "BatteryDrive", "TimerDrive", "opening", "run_of"]
