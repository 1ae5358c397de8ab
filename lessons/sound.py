"""What one would hear of a run: the blade's motion, its knocks, and the sparks, as samples for a loudspeaker.

Everything is taken from the run: the blade's speed makes the hum, every landing (contact on contact, blade on core, cushion on
rivet or bridge) a knock, the louder the faster, and every spark a crack as strong as the root of its energy. Levels are fixed,
so that a stronger run is louder, and the whole is limited: no sample passes PEAK. The same run gives the same samples. Slowed,
the motion and the times between knocks and sparks are stretched; knocks and cracks stay short, so that they can be counted.

How a box sounds (wood, filling, room) is left out. Standard library only.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence

from coilmodel import Machine, Run, simulate
from coilmodel.machine import BatteryDrive, Drive
from coilmodel.pitch import Pitch, pitch_of
from coilmodel.sparks import sparks
from lessons.contracts import Sound

HEARD, SETTLE = 12, 4  # pulses (of a battery: rows of 10 ms) that are heard, after those that are not
RATE = 16_000  # samples a second
LONG, LONG_SLOWED = 1.6, 3.0  # s of sound
PEAK = 0.5  # no sample is larger: half of what a loudspeaker is given at the most
FADE = 0.03  # s in which it comes and goes
SEAM = 0.002  # s over which the end of a repeated piece passes into its beginning

HUM = 0.2  # loudness of a blade that moves with 1 m/s
KNOCK, KNOCK_HERTZ, KNOCK_DECAY = 0.3, 1300.0, 0.0012  # loudness of the hardest landing, its tone, and how fast it dies away (s)
CRACK, CRACK_DECAY = 2.2, 0.0025  # loudness of a spark of one joule, and how fast it dies away (s)
UNHEARD = 20e-6  # m; a blade that swings less makes no sound worth the name; our choice
SOFTEST = 0.02  # m/s; slower landings are not heard


def sound_of(run: Run, slowed: float = 1.0) -> Sound:
    """Return the sound of the recorded pulses of `run`, repeated until it is long enough, `slowed` times slower than life.

    Raises ValueError where the run has no strips, or `slowed` is not from 1 to 1000.
    """
    if not 1.0 <= slowed <= 1000.0:
        raise ValueError(f"slowed: {slowed!r} is outside 1 to 1000.")
    heard = pitch_of(run)
    piece = _piece(run, heard) if slowed == 1.0 else min(_piece(run, heard), LONG_SLOWED / slowed)
    count = max(1, round(piece * slowed * RATE))
    once = _hum(run, piece, count, slowed)
    for time, speed in knocks(run):
        _add(once, time - _start(run), piece, slowed, _knock(KNOCK * speed / (1.0 + speed)))
    for time, energy in cracks(run):
        _add(once, time - _start(run), piece, slowed, _crack(CRACK * math.sqrt(energy)))
    total = round((LONG if slowed == 1.0 else LONG_SLOWED) * RATE)
    samples = array("d", (_limited(once[i % count]) for i in range(total)))
    fade = round(FADE * RATE)
    for i in range(fade):
        samples[i] *= i / fade
        samples[total - 1 - i] *= i / fade
    return Sound(samples, RATE, slowed, in_words(run, heard))


def sound_at(machine: Machine, drive: Drive, slowed: float = 1.0) -> Sound:
    """Return what `machine` on `drive` sounds like once it has come into step, `slowed` times slower than life."""
    return sound_of(heard_run(machine, drive), slowed)


def heard_run(machine: Machine, drive: Drive) -> Run:
    """Run `machine` on `drive` for long enough to know its pitch, with strips of all of it, flickering arcs included."""
    return simulate(machine, drive, pulses=HEARD, warm_up=SETTLE, record=(0, HEARD - 1), rows_a_pulse=200, switch_rows=9000)


def cracks(run: Run) -> list[tuple[float, float]]:
    """Return (time in s, energy in J) of every spark of the recorded pulses."""
    first, last = _start(run), run.strips.time[-1]
    return [(spark.time, spark.energy) for spark in sparks(run) if first <= spark.time <= last]


def knocks(run: Run) -> list[tuple[float, float]]:
    """Return (time in s, speed in m/s) of every landing in the strips: what meets, and how fast it came.

    A landing is where a gap that was open closes; its speed is that of the gap just before.
    """
    s, m = run.strips, run.machine
    travel, stop = m.cushion.travel, m.vibrator.stop
    gaps = (
        [v - c for v, c in zip(s.vibrator, s.cushion, strict=True)],  # contact on contact
        [stop - v for v in s.vibrator],  # blade on core
        [-c for c in s.cushion],  # cushion on its rivet
        [c + travel for c in s.cushion],  # cushion on its bridge
    )
    found = []
    for gap in gaps:
        for i in range(1, len(gap)):
            if gap[i - 1] > 0.0 >= gap[i] and s.time[i] > s.time[i - 1]:
                before = max(0, i - 2)
                while before > 0 and s.time[i - 1] - s.time[before] < 4e-5:
                    before -= 1
                span = s.time[i - 1] - s.time[before]
                speed = (gap[before] - gap[i - 1]) / span if span > 0.0 else 0.0
                if speed > SOFTEST:
                    found.append((s.time[i], speed))
    return sorted(found)


# ------------------------------------------------------------------------------------------------------- in words
_EACH = ("no spark in any", "one spark in each", "two sparks in each", "three sparks in each", "four sparks in each")


def in_words(run: Run, heard: Pitch | None) -> str:
    """Return what one would hear of `run`, for those who cannot; `heard` is its pitch."""
    a_second = len(sparks(run)) / run.meter.seconds
    if heard is None or max(run.strips.vibrator) - min(run.strips.vibrator) < UNHEARD:
        return "Silence: the blade does not move."
    if not any(o.real for o in run.openings):
        return f"A dull hum of {heard.hertz:.0f} hertz: the blade is drawn down and comes back, and the contacts hardly part."
    if not heard.steady:
        partings = sum(o.real for o in run.openings) / run.meter.seconds
        return (f"A rattle without a steady pitch: the contacts part {partings:.0f} times a second, with {a_second:.0f} sparks a "
                "second among the knocks.")
    each = a_second / heard.hertz
    if abs(each - round(each)) < 0.05 and round(each) < len(_EACH):
        told = _EACH[round(each)]
    else:
        told = f"{each:.1f} sparks in each on average"
    pulses = "" if isinstance(run.drive, BatteryDrive) else _pulses(heard.hertz * run.pulse_seconds)
    return f"A buzz of {heard.hertz:.0f} hertz: the blade swings {heard.hertz:.0f} times a second{pulses}, {told}."


def _pulses(share: float) -> str:
    """Return how the swings go with the pulses; `share` is swings a pulse."""
    if abs(share - 1.0) < 0.03:
        return ", one for each pulse"
    return ", one for every two pulses" if abs(share - 0.5) < 0.015 else ""


# --------------------------------------------------------------------------------------------------------- inside
def _start(run: Run) -> float:
    return run.strips.time[0]


def _piece(run: Run, heard: Pitch | None) -> float:
    """Return the seconds of the run that are repeated: whole pulses, or on a battery whole swings, so that no seam is heard."""
    long = run.strips.time[-1] - run.strips.time[0]
    if not isinstance(run.drive, BatteryDrive):
        return min(long, round(long / run.pulse_seconds) * run.pulse_seconds)
    if heard is None or not heard.steady or heard.hertz * long < 2.0:
        return long
    return math.floor(heard.hertz * long) / heard.hertz


def _hum(run: Run, piece: float, count: int, slowed: float) -> array[float]:
    """Return the blade's speed at `count` samples of the piece, as loudness; its end passes into its beginning."""
    s, start = run.strips, _start(run)
    step = piece / count
    reach = max(step, 1.0 / RATE)  # a difference over less would be the strips' own grain
    place = 0
    heights = []
    for i in range(count + 1):
        at = start + i * step
        while place < len(s.time) - 2 and s.time[place + 1] <= at:
            place += 1
        wide = s.time[place + 1] - s.time[place]
        share = min(1.0, max(0.0, (at - s.time[place]) / wide)) if wide > 0.0 else 0.0
        heights.append(s.vibrator[place] + share * (s.vibrator[place + 1] - s.vibrator[place]))
    span = max(1, round(reach / step))
    later = [min(count, i + span) for i in range(count)]
    made = array("d", (HUM * (heights[j] - heights[i]) / (step * (j - i)) for i, j in enumerate(later)))
    seam = min(count // 4, round(SEAM * slowed * RATE))
    jump = made[0] - made[-1]
    for i in range(seam):  # the last samples go over to where the first began
        made[count - seam + i] += jump * (i + 1) / seam
    return made


def _knock(loud: float) -> list[float]:
    return [loud * math.exp(-i / RATE / KNOCK_DECAY) * math.sin(2.0 * math.pi * KNOCK_HERTZ * i / RATE)
            for i in range(round(6.0 * KNOCK_DECAY * RATE))]


def _crack(loud: float) -> list[float]:
    """Return a short hiss that dies away: the same row of random numbers each time."""
    made, state, last = [], 12345, 0.0
    for i in range(round(6.0 * CRACK_DECAY * RATE)):
        state = (1103515245 * state + 12345) % 2**31  # a congruential generator with the C standard's example numbers
        now = state / 2.0**30 - 1.0
        made.append(loud * math.exp(-i / RATE / CRACK_DECAY) * 0.5 * (now - last))  # differences: the higher, the louder
        last = now
    return made


def _add(samples: array[float], after: float, piece: float, slowed: float, burst: Sequence[float]) -> None:
    """Add a burst that begins `after` seconds of the run into the samples; what runs over the end goes on at the beginning."""
    if not 0.0 <= after < piece:
        return
    first = int(after * slowed * RATE)
    for i, value in enumerate(burst):
        samples[(first + i) % len(samples)] += value


def _limited(value: float) -> float:
    return PEAK * math.tanh(value / PEAK)
