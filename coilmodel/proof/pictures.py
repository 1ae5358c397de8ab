"""The few pictures that the proof's page shows, as data: the kernel beside two other solvers, and where the energy went.

Each function returns plain lists and numbers (see `Traces` and `Shares`); who draws them is another matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from coilmodel.machine import Machine, MagnetoDrive, pulse_seconds
from coilmodel.proof import spice
from coilmodel.proof.reference import I1, WC, XC, XV, Break, solve
from coilmodel.run import Ledger, simulate

DRIVE = MagnetoDrive(450.0)
POINTS = 48  # of the other solver, drawn as dots
LEDGER_PULSES = 40


@dataclass(frozen=True)
class Line:
    """One quantity by both: ours at `x`, `y` as a line, the other's at `at`, `other` as dots; `quantity` names its hue."""

    quantity: str
    label: str
    x: list[float]
    y: list[float]
    at: list[float]
    other: list[float]


@dataclass(frozen=True)
class Traces:
    """Traces over time (ms), grouped into strips, with the figures (name -> share) by which the two differ."""

    strips: list[tuple[str, str, list[Line]]]  # title, unit, lines
    apart: dict[str, float]


@dataclass(frozen=True)
class Shares:
    """Where the energy of a run went: shares of what the source gave; `error` is what is unaccounted for, also a share."""

    pulses: int
    joules: float
    shares: dict[str, float]
    error: float


def _thinned(time: np.ndarray, values: np.ndarray, most: int = 500) -> tuple[list[float], list[float]]:
    """At most so many points of a trace, the highest and lowest of each stretch kept."""
    if len(time) <= most:
        return time.tolist(), values.tolist()
    kept: list[int] = []
    for stretch in np.array_split(np.arange(len(time)), most // 2):
        kept += sorted({int(stretch[np.argmin(values[stretch])]), int(stretch[np.argmax(values[stretch])])})
    return time[kept].tolist(), values[kept].tolist()


def _line(quantity: str, label: str, time: np.ndarray, ours: np.ndarray, other_time: np.ndarray, other: np.ndarray) -> Line:
    """Ours whole, the other at evenly spread moments (times in s)."""
    x, y = _thinned(1e3 * time, ours)
    moments = np.linspace(other_time[0], other_time[-1], POINTS)
    return Line(quantity, label, x, y, (1e3 * moments).tolist(), np.interp(moments, other_time, other).tolist())


def against_reference() -> Traces:
    """The first pulse of the nominal machine from rest: kernel, and the adaptive solver of `coilmodel.proof.reference`."""
    machine = Machine()
    run = simulate(machine, DRIVE, pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=3000)
    steps: list[tuple[float, np.ndarray]] = []
    solution = solve(machine, DRIVE, 1, watch=lambda t, y, _: steps.append((t, y)))
    there, states = np.array([t for t, _ in steps]), np.array([y[:WC + 1] for _, y in steps])
    here = np.array(run.strips.time)
    travel = 1e3 * np.array(run.strips.cushion), 1e3 * np.array(run.strips.vibrator)
    strips = [
        ("current", "A", [_line("current", "primary current", here, np.array(run.strips.current), there, states[:, I1])]),
        ("upper and lower contact, down from the rivet", "mm", [
            _line("cushion", "upper contact", here, travel[0], there, 1e3 * states[:, XC]),
            _line("position", "lower contact", here, travel[1], there, 1e3 * states[:, XV])]),
    ]
    ours = next(one for one in run.openings if one.sparks)
    theirs = next(one for one in solution.breaks if one.breakdowns)
    return Traces(strips, _apart(ours.current, ours.time, ours.spark_energy, theirs))


def _apart(current: float, time: float, energy: float, theirs: Break) -> dict[str, float]:
    return {"opening current": current / theirs.current - 1.0, "opening time": time / theirs.time - 1.0,
            "energy of the spark": energy / theirs.spark_energy - 1.0}


def against_ngspice() -> Traces:
    """A break of the nominal circuit, its blades held: kernel, and ngspice. CannotRun where ngspice is not installed."""
    case = spice.CASES[0]
    machine = spice.still(case.changes)
    period, span = pulse_seconds(machine, case.drive), 0.6e-3
    pulses = max(1, math.ceil((case.opening + span) / period))
    run = simulate(machine, case.drive, pulses=pulses, warm_up=0, record=(0, pulses - 1), rows_a_pulse=40_000,
                   prescribed_opening=case.opening)
    time = np.array(run.strips.time)
    place = float(np.median(run.strips.vibrator))
    data = spice.ngspice(spice.netlist(machine, case.drive, case.opening, case.opening + span,
                                       spice.magnetising_inductance(machine, place), "out.data"))
    here, there = (time >= case.opening) & (time <= case.opening + span), data[:, 0] >= case.opening
    strips, apart = [], {}
    for column, name, title, unit, scale, quantity in (
            (2, "contact_voltage", "voltage across contacts and condenser", "V", 1.0, "contact_voltage"),
            (3, "secondary_voltage", "secondary voltage, gap too wide to fire", "kV", 1e-3, "secondary")):
        ours, other = scale * np.array(getattr(run.strips, name)), scale * data[:, column]
        strips.append((title, unit, [_line(quantity, title, time[here] - case.opening, ours[here], data[there, 0] - case.opening,
                                           other[there])]))
        apart[title] = float(np.max(np.abs(np.interp(time[here], data[:, 0], other) - ours[here])) / np.max(np.abs(other[there])))
    return Traces(strips, apart)


LOSSES = {
    "copper": "windings and leads", "core": "iron core", "spark": "spark", "arc": "arcs at the contacts",
    "contact": "closed contacts", "secondary": "secondary winding", "mechanical": "blades and stops",
    "leakage": "condenser's leakage", "timer": "timer", "stored": "still in the fields",
}


def ledger() -> Shares:
    """Where the source's energy went in a run of the nominal machine at 450 rpm."""
    book: Ledger = simulate(Machine(), DRIVE, pulses=LEDGER_PULSES, warm_up=0).ledger
    shares = {words: getattr(book, name) / book.source for name, words in LOSSES.items()}
    return Shares(LEDGER_PULSES, book.source, dict(sorted(shares.items(), key=lambda item: -item[1])), book.error)
