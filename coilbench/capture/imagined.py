"""Imagined captures: what a recorder would write down of the model at work, noise, range, hum, offset and losses included.

Their truth is known, so `trial` can count how often the fit's stated errors hold. Nothing here was measured.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, field

import numpy as np

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, simulate
from coilmodel.machine import emf_peak, pulse_seconds

WARM_UP = 6
SPARE = 1.08  # the recorder's range over the largest value, so that nothing clips unless it is meant to


@dataclass(frozen=True)
class Recorder:
    """How a capture is taken. Shares are of the channel's largest true value."""

    interval: float = 5e-6  # s
    noise: float = 0.05  # standard deviation, share
    bits: int = 8
    offset: float = 0.0  # share
    hum: float = 0.0  # amplitude of mains hum, share
    hum_hertz: float = 50.0
    clip: float = 1.0  # the recorder's range over what it should be; under 1 it clips
    lost: float = 0.0  # share of samples dropped
    reversed: bool = False  # the current clamp sits the wrong way round
    channels: tuple[str, ...] = ("current", "contact", "secondary")


@dataclass(frozen=True)
class Truth:
    """What the fit should find (SI)."""

    supply: float  # V: of the battery, or the EMF's peak
    inductance: float  # H, source and primary, vibrator against the bridge
    resistance: float  # ohm, source, primary and contacts
    opening_currents: tuple[float, ...]  # A, every real opening, without sign
    opening_times: tuple[float, ...]  # s from the capture's start
    fired: tuple[bool, ...]
    burnt: tuple[float, ...]  # of every real opening, what the arc between the contacts takes, as a share of the fields' energy
    partings: tuple[float, ...]  # s from the capture's start, of every parting, bounces of the contacts included
    opening_current: float  # A, mean over pulses of the first real opening (a battery: over all openings)
    pulse: float | None  # s, None on a battery


@dataclass(frozen=True)
class Imagined:
    """An imagined capture: time (s), channels (SI), its truth and the run that it comes from."""

    time: np.ndarray
    channels: dict[str, np.ndarray]
    truth: Truth
    run: Run = field(repr=False)

    def csv(self, digits: int = 6) -> str:
        """Return the capture as a CSV with titles; `digits`: significant figures."""
        titles = {"current": "current_A", "contact": "contact_V", "secondary": "secondary_V"}
        head = ",".join(["time_s", *(titles[name] for name in self.channels)])
        columns = [self.time, *self.channels.values()]
        rows = zip(*[[f"{value:.9g}" if place == 0 else f"{value:.{digits}g}" for value in column.tolist()]
                     for place, column in enumerate(columns)])
        return "\n".join([head, *(",".join(row) for row in rows), ""])


def machine_at_random(generator: np.random.Generator) -> tuple[Machine, BatteryDrive | MagnetoDrive]:
    """Return a machine and a drive far from nominal in every number that the fit must find; `generator` draws them."""

    def about(spread: float) -> float:
        return float(np.exp(generator.normal(0.0, spread)))

    machine = Machine().scaled(
        coil_primary_inductance=about(0.15), coil_primary_resistance=about(0.3), coil_core_resistance=about(0.3),
        coil_secondary_capacitance=about(0.2), magneto_inductance=about(0.15), magneto_resistance=about(0.3),
        magneto_flux_linkage=about(0.08), condenser_capacitance=about(0.25), contacts_resistance=about(0.4),
        vibrator_preload=about(0.08), cushion_preload=about(0.1), cushion_travel=about(0.1), gap_breakdown=about(0.12))
    if generator.random() < 0.5:
        return machine, MagnetoDrive(float(generator.uniform(220.0, 750.0)), float(generator.uniform(0.9, 1.35)))
    return machine, BatteryDrive(float(generator.uniform(6.0, 16.0)), float(generator.uniform(0.05, 0.4)))


def truth_of(run: Run, start: float, end: float) -> Truth:
    """Return what a capture of `run` from `start` to `end` (s) should be found to be."""
    machine, drive = run.machine, run.drive
    coil, magneto = machine.coil, machine.magneto
    core = (coil.coupling * coil.primary_inductance - 2.0 * coil.pull_constant / coil.magnetic_gap
            + 2.0 * coil.pull_constant / (coil.magnetic_gap + machine.cushion.travel))
    battery = isinstance(drive, BatteryDrive)
    source = drive if isinstance(drive, BatteryDrive) else magneto
    found = [o for o in run.openings if o.real and start <= o.time < end]
    first: dict[int, float] = {}
    for opening in found:
        first.setdefault(len(first) if battery else opening.pulse, abs(opening.current))
    return Truth(
        emf_peak(machine, drive), source.inductance + (1.0 - coil.coupling) * coil.primary_inductance + core,
        source.resistance + coil.primary_resistance + machine.contacts.resistance,
        tuple(abs(o.current) for o in found), tuple(o.time - start for o in found), tuple(o.fired for o in found),
        tuple(o.arc_energy / o.stored_energy for o in found), tuple(o.time - start for o in run.openings),
        float(np.mean(list(first.values()))) if first else float("nan"),
        None if battery else pulse_seconds(machine, drive))


def capture(machine: Machine, drive: BatteryDrive | MagnetoDrive, seconds: float, recorder: Recorder,
            generator: np.random.Generator) -> Imagined:
    """Return a capture of `machine` on `drive`, so many `seconds` long, as `recorder` takes it; `generator` draws its errors."""
    if isinstance(drive, BatteryDrive):
        drive = BatteryDrive(drive.volts, drive.resistance, drive.inductance, 10e-3)
    period = pulse_seconds(machine, drive)
    pulses = math.ceil(seconds / period) + 1
    run = simulate(machine, drive, pulses=pulses, warm_up=WARM_UP, record=(0, pulses - 1),
                   rows_a_pulse=max(200, math.ceil(period / 3e-6)))
    start = WARM_UP * period + float(generator.random()) * period
    time = start + np.arange(int(seconds / recorder.interval)) * recorder.interval
    strips = {"current": run.strips.current, "contact": run.strips.contact_voltage, "secondary": run.strips.secondary_voltage}
    channels: dict[str, np.ndarray] = {}
    for name in recorder.channels:
        true = np.interp(time, run.strips.time, strips[name])
        largest = float(np.abs(true).max()) or 1.0
        values = true + largest * (generator.normal(0.0, recorder.noise, len(time)) + recorder.offset
                                   + recorder.hum * np.sin(2.0 * np.pi * recorder.hum_hertz * time + 1.0))
        if name == "current" and recorder.reversed:
            values = -values
        half = SPARE * recorder.clip * largest * (1.0 + 3.0 * recorder.noise + abs(recorder.offset) + recorder.hum)
        step = 2.0 * half / 2 ** recorder.bits
        channels[name] = np.clip(np.round(values / step), -2 ** (recorder.bits - 1), 2 ** (recorder.bits - 1) - 1) * step
    time = time - start
    if recorder.lost:
        kept = generator.random(len(time)) >= recorder.lost
        time, channels = time[kept], {name: values[kept] for name, values in channels.items()}
    return Imagined(time, channels, truth_of(run, start, start + seconds), run)


def example() -> str:
    """Return the example capture of the fictional coil Alder as a CSV; `python -m coilbench.capture.imagined` prints it."""
    made = capture(Machine(), MagnetoDrive(450.0), 0.05, Recorder(interval=1e-5, noise=0.01, offset=0.01),
                   np.random.default_rng(20310508))
    return made.csv(4)


if __name__ == "__main__":
    sys.stdout.write(example())
