"""How often the stated errors hold: `python -m coilbench.capture.trial --captures 240`.

Imagined captures of machines and drives drawn at random, at 5 % noise and 8 bits, are fitted as if they had come in a file.
Their truth is known, so the share of 95 % intervals that hold it is counted, and how far the numbers lie off.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field

import joblib
import numpy as np

from coilbench.capture.findings import Found
from coilbench.capture.found import Known, analyse
from coilbench.capture.imagined import Imagined, Recorder, capture, machine_at_random
from coilbench.capture.rise import Estimate
from coilbench.capture.trace import parse
from coilmodel import MagnetoDrive

NEAR = 1.5e-4  # s by which a break found may lie off the parting: an arc may carry the current on
ARC = 0.05  # share of the energy in the fields that an arc may take of a clear opening; a longer one carries the current on
NEAR_BOUNCE = 4e-5  # s, likewise: bounces come so thick that within NEAR of one lie 4 in 10 of all times, here 16 in 100
SAMPLE_INTERVALS = (1e-6, 3e-5)  # s
LENGTHS = (0.04, 0.2)  # s


@dataclass(frozen=True)
class Tried:
    """One imagined capture: its drive, what was found against the truth, and what was said instead."""

    kind: str
    numbers: dict[str, tuple[float, float, bool]] = field(default_factory=dict)  # relative error, relative standard error, held
    openings: tuple[int, int, int, int] = (0, 0, 0, 0)  # clear ones, of these found; found at a bounce; found where nothing parts
    burning: tuple[int, int] = (0, 0)  # openings at a high current whose arc carries it on, of these found
    fired: tuple[int, int] = (0, 0)  # openings judged for a spark, of these rightly
    refused: str = ""


def try_one(seed: int, noise: float = 0.05, bits: int = 8) -> Tried | None:
    """Fit one imagined capture, drawn by `seed`; None where its contacts hardly open. noise : share; bits : of the recorder"""
    generator = np.random.default_rng((20310508, seed))
    machine, drive = machine_at_random(generator)
    kind = "magneto" if isinstance(drive, MagnetoDrive) else "battery"
    recorder = Recorder(interval=float(np.exp(generator.uniform(*np.log(SAMPLE_INTERVALS)))), noise=noise, bits=bits,
                        offset=float(generator.normal(0.0, 0.02)), reversed=bool(generator.random() < 0.2))
    try:
        made = capture(machine, drive, float(generator.uniform(*LENGTHS)), recorder, generator)
    except ValueError:
        return None
    if len(made.truth.opening_currents) < 4:
        return None
    try:
        found = analyse(parse(made.csv().encode()), Known())
    except ValueError as error:
        return Tried(kind, refused=str(error))
    if found.kind != kind or found.rise is None:
        return Tried(kind, refused=f"taken for a {found.kind}" if found.kind != kind else found.sentences[0])
    return _against(made, found, kind)


def _against(made: Imagined, found: Found, kind: str) -> Tried:
    truth, fitted = made.truth, found.rise
    assert fitted is not None
    times, currents, fired = np.array(truth.opening_times), np.array(truth.opening_currents), np.array(truth.fired)
    nearest = [int(np.argmin(np.abs(times - stretch.at.time))) for stretch in fitted.stretches]
    pairs: dict[str, tuple[Estimate | None, float]] = {
        "V/L": (fitted.pull, truth.supply / truth.inductance), "R/L": (fitted.decay, truth.resistance / truth.inductance),
        "opening current": (fitted.opening, float(np.mean(currents[nearest]))), "supply": (found.supply, truth.supply),
        "inductance": (found.inductance, truth.inductance), "resistance": (found.resistance, truth.resistance),
        "pulse": (found.pulse, truth.pulse or 0.0)}
    numbers = {}
    for name, (estimate, true) in pairs.items():
        if estimate is not None and true and not (found.doubted and name in ("V/L", "R/L")):
            low, high = estimate.interval()
            numbers[name] = estimate.value / true - 1.0, estimate.error / true, low <= true <= high
    at = np.array([one.time for one in found.breaks])
    high, burns = currents > 0.75 * np.max(currents), np.array(truth.burnt) > ARC
    seen = np.array([bool(np.min(np.abs(at - time)) < NEAR) for time in times])
    clear, burning = high & ~burns, high & burns
    others = [time for time in at if np.min(np.abs(times - time)) > NEAR]
    bounces = sum(bool(np.min(np.abs(np.array(truth.partings) - time)) <= NEAR_BOUNCE) for time in others)
    judged = (0, 0)
    if kind == "battery" and found.sparks is not None:
        right = [bool(fired[int(np.argmin(np.abs(times - time)))]) == bool(one) for time, one in zip(at, found.sparks)
                 if np.min(np.abs(times - time)) < NEAR]
        judged = (len(right), sum(right))
    return Tried(kind, numbers, (int(clear.sum()), int(seen[clear].sum()), bounces, len(others) - bounces),
                 (int(burning.sum()), int(seen[burning].sum())), judged)


def table(tried: list[Tried]) -> str:
    """Return the outcome in words and figures."""
    lines = []
    for kind in ("battery", "magneto"):
        own = [one for one in tried if one.kind == kind]
        used = [one for one in own if not one.refused]
        true, hit, bounces, false = (sum(one.openings[place] for one in used) for place in range(4))
        burning, caught = (sum(one.burning[place] for one in used) for place in range(2))
        judged, right = (sum(one.fired[place] for one in used) for place in range(2))
        lines += [f"{kind}: {len(own)} captures, {len(used)} fitted; clear openings found {hit} of {true}",
                  f"  of those whose arc carries the current on, {caught} of {burning}",
                  f"  besides, bounces of the contacts {bounces}, found where nothing parts {false}"]
        if judged:
            lines.append(f"  spark or none rightly told {right} of {judged}")
        lines.append(f"  {'':<16} {'held':>13} {'median off':>12} {'half within':>12} {'stated error':>13}")
        for name in ("V/L", "R/L", "opening current", "supply", "inductance", "resistance", "pulse"):
            rows = np.array([one.numbers[name] for one in used if name in one.numbers], dtype=float)
            if len(rows):
                lines.append(f"  {name:<16} {f'{int(rows[:, 2].sum())}/{len(rows)}':>8} {100 * rows[:, 2].mean():>3.0f}% "
                             f"{100 * np.median(rows[:, 0]):>10.2f}% {100 * np.median(np.abs(rows[:, 0])):>11.2f}% "
                             f"{100 * np.median(rows[:, 1]):>12.2f}%")
        for said in sorted({one.refused for one in own if one.refused}):
            lines.append(f"  not fitted, {sum(one.refused == said for one in own)}: {said}")
    return "\n".join(lines)


def try_many(captures: int, first: int = 0, noise: float = 0.05, bits: int = 8, jobs: int = -1) -> list[Tried]:
    """Fit so many imagined captures, drawn by the seeds from `first` on. noise, bits : as in `try_one`; jobs : processes"""
    results = joblib.Parallel(n_jobs=jobs)(joblib.delayed(try_one)(seed, noise, bits) for seed in range(first, first + captures))
    return [one for one in results if one is not None]


def main() -> None:
    """Try and print the outcome."""
    top = argparse.ArgumentParser(description="How often do the stated errors of a capture's numbers hold?")
    top.add_argument("--captures", type=int, default=240)
    top.add_argument("--first", type=int, default=0, help="the first seed")
    top.add_argument("--noise", type=float, default=0.05)
    top.add_argument("--bits", type=int, default=8)
    top.add_argument("--jobs", type=int, default=-1)
    given = top.parse_args()
    print(table(try_many(given.captures, given.first, given.noise, given.bits, given.jobs)))


if __name__ == "__main__":
    main()
