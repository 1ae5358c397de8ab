"""How often sparks are counted rightly in a recording: `python -m coilbench.capture.sound_trial --recordings 20`.

Recordings are imagined (`imagined_sound`) from runs of the model: coils well set, slack, stiff and drawn at random, 200 to
900 rpm. *right*: the stated limits hold the true count; *wrong*: they do not, though a count was given; *refused*: a
sentence instead.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import joblib
import numpy as np

from coilbench.capture.imagined_sound import Recorder, record, wav
from coilbench.capture.recording import listen, parse_sound
from coilmodel import Machine, MagnetoDrive, Scatter, simulate
from coilmodel.sparks import by_pulse

SPEEDS = 200.0, 900.0  # rpm
SECONDS = 1.6

CONDITIONS = {
    "loop of wire, 48 kHz, 16 bits": Recorder(wire=True),
    "phone, quiet, 48 kHz, 16 bits": Recorder(),
    "phone, 44.1 kHz, stereo, 24 bits": Recorder(rate=44_100, bits=24, channels=2),
    "phone, 22.05 kHz, 16 bits": Recorder(rate=22_050),
    "phone, 16 kHz, 8 bits": Recorder(rate=16_000, bits=8),
    "phone, 48 kHz, floating point": Recorder(bits=32),
    "phone, 8 kHz": Recorder(rate=8_000),
    "a room that echoes (tail as strong as a third of the click)": Recorder(echo=0.1, tail=0.5),
    "a hall (tail as strong as the click)": Recorder(echo=1.0, tail=0.9),
    "a hard bench (reflection of 0.35)": Recorder(bench=0.35),
    "engine, as loud as half a click": Recorder(engine=0.5),
    "voices, a fifth of a click": Recorder(speech=0.2),
    "voices, as loud as the click": Recorder(speech=1.0),
    "hiss, a tenth of a click": Recorder(hiss=0.1),
    "cut off a little (1.3 times too loud)": Recorder(gain=1.3),
    "cut off hard (5 times too loud)": Recorder(gain=5.0),
    "lossy stand-in, mild": Recorder(lossy=0.1),
    "lossy stand-in, heavy": Recorder(lossy=1.0),
    "speed not said": Recorder(),
}


@dataclass(frozen=True)
class Tried:
    """One recording: its condition, the true sparks per pulse, what was heard with its limits, or what was said instead."""

    condition: str
    seed: int
    true: float
    count: float | None = None
    low: float = 0.0
    high: float = 0.0
    refused: str = ""

    @property
    def right(self) -> bool:
        """Return whether a count was given whose limits hold the truth."""
        return self.count is not None and self.low <= self.true <= self.high


def try_one(condition: str, seed: int) -> Tried | None:
    """Listen to one imagined recording of `condition`, drawn by `seed`; None where the coil hardly sparks at all."""
    generator = np.random.default_rng((20310508, sorted(CONDITIONS).index(condition), seed))
    recorder = CONDITIONS[condition]
    factors = ({}, {"cushion_preload": 0.45}, {"cushion_preload": 1.75}, {
        "vibrator_preload": float(np.exp(generator.normal(0.0, 0.15))),
        "cushion_preload": float(np.exp(generator.normal(0.0, 0.3))),
        "gap_breakdown": float(np.exp(generator.normal(0.0, 0.12)))})[seed % 4]
    rpm = float(generator.uniform(*SPEEDS))
    drive = MagnetoDrive(rpm, float(generator.uniform(0.8, 1.2)))
    machine = Machine().scaled(**factors) if factors else Machine()
    try:
        run = simulate(machine, drive, pulses=int(SECONDS * 16.0 * rpm / 60.0), warm_up=6, scatter=Scatter(seed=seed))
    except ValueError:
        return None
    counts = [len(pulse) for pulse in by_pulse(run)]
    if np.mean(counts) < 0.2:
        return None
    recorder = replace(recorder, gain=recorder.gain * float(np.exp(generator.normal(0.0, 0.15))))
    sound = parse_sound(wav(record(run, recorder, generator), recorder))
    said = None if condition == "speed not said" else rpm * float(generator.normal(1.0, 0.01))
    try:
        heard = listen(sound, said)
    except ValueError as error:
        return Tried(condition, seed, float(np.mean(counts)), refused=str(error))
    return Tried(condition, seed, float(np.mean(counts)), heard.count, heard.low, heard.high)


def table(tried: list[Tried]) -> str:
    """Return the outcome, a line a condition."""
    lines = [f"{'':<62} {'right':>6} {'wrong':>6} {'refused':>8}"]
    for condition in CONDITIONS:
        own = [one for one in tried if one.condition == condition]
        right, given = sum(one.right for one in own), sum(one.count is not None for one in own)
        lines.append(f"{condition:<62} {right:>6} {given - right:>6} {len(own) - given:>8}")
    right, given = sum(one.right for one in tried), sum(one.count is not None for one in tried)
    width = float(np.median([one.high - one.low for one in tried if one.count is not None] or [0.0]))
    lines.append(f"{f'all {len(tried)}':<62} {right:>6} {given - right:>6} {len(tried) - given:>8}")
    lines.append(f"Of {given} counts given, {given - right} were wrong ({100.0 * (given - right) / max(1, given):.1f} in 100); "
                 f"the limits are {width:.2f} sparks a pulse wide (median).")
    return "\n".join(lines)


def try_many(recordings: int, first: int = 0, jobs: int = -1) -> list[Tried]:
    """Listen to so many recordings of each condition, seeds from `first` on. jobs : processes"""
    work = [(condition, seed) for condition in CONDITIONS for seed in range(first, first + recordings)]
    results = joblib.Parallel(n_jobs=jobs)(joblib.delayed(try_one)(*one) for one in work)
    return [one for one in results if one is not None]


def main() -> None:
    """Try and print the outcome."""
    top = argparse.ArgumentParser(description="How often are sparks counted rightly in a recording?")
    top.add_argument("--recordings", type=int, default=20, help="of each condition")
    top.add_argument("--first", type=int, default=0, help="the first seed")
    top.add_argument("--jobs", type=int, default=-1)
    top.add_argument("--each", action="store_true", help="say each one")
    given = top.parse_args()
    tried = try_many(given.recordings, given.first, given.jobs)
    if given.each:
        for one in tried:
            print(f"{one.condition} {one.seed}: true {one.true:.2f}, "
                  + (one.refused or f"heard {one.count:.2f} ({one.low:.2f} to {one.high:.2f}) {'' if one.right else 'WRONG'}"))
    print(table(tried))


if __name__ == "__main__":
    main()
