"""A true model of a vibrating ignition coil and its contacts.

>>> from coilmodel import Machine, MagnetoDrive, simulate
>>> run = simulate(Machine(), MagnetoDrive(rpm=450), pulses=4)
>>> run.pulses
4
"""

from coilmodel.machine import (
    BatteryDrive,
    Coil,
    Condenser,
    Contacts,
    Cushion,
    Drive,
    Machine,
    Magneto,
    MagnetoDrive,
    Scatter,
    SparkGap,
    TimerDrive,
    TransformerDrive,
    Vibrator,
)
from coilmodel.run import Ledger, Meter, Opening, Run, Strips, simulate

__all__ = [
    "BatteryDrive", "Coil", "Condenser", "Contacts", "Cushion", "Drive", "Ledger", "Machine", "Magneto", "MagnetoDrive",
    "Meter", "Opening", "Run", "Scatter", "SparkGap", "Strips", "TimerDrive", "TransformerDrive", "Vibrator", "simulate",
]
