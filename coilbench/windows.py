"""One window of the Larkfield's timer: the coil from rest, and its sparks by the crank's angle from top dead centre.

Angles are degrees of crank, counted from top dead centre of the cylinder concerned: minus before it, plus after. The car
and where its magneto stands to its crank are invented. Lesson 8 shows such windows; the set of four is chosen by them.
"""

from __future__ import annotations

from dataclasses import dataclass

from coilmodel import Machine, Run, TimerDrive, simulate
from coilmodel.sparks import sparks
from coilmodel.timing import pulse_angle

PULSE = pulse_angle(Machine().magneto.pole_pairs)  # degrees of crank
TOP_AFTER_ZERO = 8.0
"""Degrees of crank from a zero of the magneto's EMF to top dead centre: how the Larkfield's flywheel is keyed (invented)."""
TOP = 4.0 * PULSE + TOP_AFTER_ZERO  # where in the run the top dead centre lies: late enough for every lever to come after 0
CLOSES, WIDTH = -33.0, 28.0
"""Where the timer closes on the Larkfield as its lever stands, and how wide its window is, degrees (invented)."""


@dataclass(frozen=True)
class Spark:
    """A spark in the car: degrees of crank from top dead centre, A at the parting, J in the spark."""

    angle: float
    current: float
    energy: float


def run_window(coil: Machine, rpm: float, drive: float, closes: float, width: float, record: bool = False) -> Run:
    """Run one window of the timer from rest; closes, width in degrees, `drive` in percent, `record` keeps its strips."""
    timer = TimerDrive(rpm, drive / 100.0, window_start=TOP + closes, window_width=width)
    return simulate(coil, timer, pulses=1, warm_up=0, record=(0, 0) if record else None, rows_a_pulse=3000)


def sparks_of(run: Run) -> tuple[Spark, ...]:
    """Return the sparks of a run of one window, first to last."""
    return tuple(
        Spark(spark.crank_angle - TOP, abs(spark.opening.current), spark.energy)
        for spark in sparks(run) if spark.crank_angle is not None
    )
