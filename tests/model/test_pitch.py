"""The pitch of a motion: on signals whose repetition is known, and on buzzing coils against their own sparks and a spectrum."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, simulate
from coilmodel.machine import Drive
from coilmodel.pitch import Pitch, pitch, pitch_of
from coilmodel.sparks import sparks


def sampled(motion, seconds: float = 0.12, count: int = 4000, seed: int = 1) -> tuple[list[float], list[float]]:
    """Return (times, positions) of a motion (of seconds, in m), unevenly spaced as strips are."""
    draw = random.Random(seed)
    times = sorted(draw.uniform(0.0, seconds) for _ in range(count))
    return times, [motion(t) for t in times]


def tone(hertz: float, *overtones: tuple[int, float, float]):
    """A motion that repeats `hertz` times a second: the fundamental and (order, strength, phase) of its overtones."""
    return lambda t: 1e-4 * (math.sin(2 * math.pi * hertz * t + 0.3)
                             + sum(a * math.sin(2 * math.pi * n * hertz * t + p) for n, a, p in overtones))


def hertz(motion, **how) -> float:
    found = pitch(*sampled(motion, **how))
    assert found is not None
    return found.hertz


# ------------------------------------------------------------------------------------------------ known signals
@pytest.mark.parametrize("known", [45.0, 120.0, 174.9, 325.1, 462.5, 903.7, 1500.0])
def test_a_pure_tone(known: float) -> None:
    """Worst seen: 0.02 % off."""
    assert hertz(tone(known)) == pytest.approx(known, rel=5e-4)


@pytest.mark.parametrize("known", [97.0, 162.0, 325.0, 480.0])
def test_overtones_do_not_raise_it(known: float) -> None:
    """With an overtone three times as strong as the fundamental the motion still repeats at the fundamental alone."""
    assert hertz(tone(known, (2, 3.0, 0.7))) == pytest.approx(known, rel=1e-3)
    assert hertz(tone(known, (2, 1.0, 0.0), (3, 1.5, 1.0), (5, 0.4, 2.0))) == pytest.approx(known, rel=1e-3)


def test_a_missing_fundamental_is_heard() -> None:
    """Of 600, 800 and 1000 Hz together an ear hears 200 Hz, and so does the repetition."""
    motion = lambda t: 1e-4 * sum(math.sin(2 * math.pi * f * t + f) for f in (600.0, 800.0, 1000.0))  # noqa: E731
    assert hertz(motion) == pytest.approx(200.0, rel=1e-3)


def test_every_second_bounce_lower_is_half_the_pitch() -> None:
    """A blade that bounces high and low by turns: its bounces come twice as often as its motion repeats."""
    motion = lambda t: 1e-4 * (1.0 if int(t * 600.0) % 2 else 0.4) * abs(math.sin(math.pi * 600.0 * t))  # noqa: E731
    assert hertz(motion) == pytest.approx(300.0, rel=1e-3)
    even = lambda t: 1e-4 * abs(math.sin(math.pi * 600.0 * t))  # noqa: E731
    assert hertz(even) == pytest.approx(600.0, rel=1e-3)


def test_a_rattle_has_no_tone_and_rest_has_no_pitch() -> None:
    draw = random.Random(3)
    noise = [draw.gauss(0.0, 1e-4) for _ in range(4000)]
    times = [3e-5 * i for i in range(4000)]
    found = pitch(times, noise)
    assert found is None or not found.steady
    assert pitch(times, [5e-4] * 4000) is None
    assert pitch(times, [5e-4 + 1e-8 * value for value in noise]) is None
    assert pitch(times, [1e-4 * t for t in times]) is None, "a creep never comes back"
    assert Pitch(100.0, 0.9).steady


def test_a_little_noise_and_another_hold_do_not_move_it() -> None:
    draw = random.Random(4)
    motion = tone(231.0, (2, 0.8, 0.2))
    assert hertz(lambda t: motion(t) + draw.gauss(0.0, 1e-5)) == pytest.approx(231.0, rel=2e-3)
    assert hertz(motion, seconds=0.05) == pytest.approx(231.0, rel=3e-3)
    assert hertz(lambda t: motion(t) + 2e-4) == pytest.approx(231.0, rel=1e-3)


@pytest.mark.parametrize(
    ("times", "positions", "lowest", "complaint"),
    [
        ([0.0] * 9, [0.0] * 9, 20.0, "ascend"),
        ([0.0, 1.0], [0.0, 1.0], 20.0, "eight or more"),
        (list(range(10)), [0.0] * 9, 20.0, "10 and 9 entries"),
        ([*range(9), 3.0], [0.0] * 10, 20.0, "ascend"),
        (list(range(10)), [0.0] * 10, 0.0, "lowest: 0 Hz is outside"),
        (list(range(10)), [0.0] * 10, math.nan, "lowest"),
    ],
)
def test_bad_input_gets_a_sentence(times, positions, lowest, complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        pitch(times, positions, lowest)


def test_a_run_without_strips_gets_a_sentence() -> None:
    with pytest.raises(ValueError, match="no strips to hear"):
        pitch_of(simulate(Machine(), BatteryDrive(12.0), pulses=2))


# ------------------------------------------------------------------------------------------------ buzzing coils
def buzzing(drive: Drive | None = None, pulses: int = 12, **factors: float) -> Run:
    return simulate(Machine().scaled(**factors), drive or BatteryDrive(12.0), pulses=pulses, warm_up=6, record=(0, pulses - 1))


def in_the_comb(run: Run, hertz: float) -> float:
    """Return the share of the motion's power that lies at whole multiples of `hertz`, from a fast transform.

    Independent of the autocorrelation: what repeats f times a second has all its power at multiples of f.
    """
    count = 1 << 14
    even = np.linspace(run.strips.time[0], run.strips.time[-1], count)
    x = np.interp(even, run.strips.time, run.strips.vibrator)
    power = np.abs(np.fft.rfft((x - x.mean()) * np.hanning(count))) ** 2
    lines = np.fft.rfftfreq(count, even[1] - even[0])
    width = 2.0 / (even[-1] - even[0])  # half of a line, through this window
    near = np.abs(lines - hertz * np.round(lines / hertz)) <= width
    return float(power[near & (lines > width)].sum() / power[lines > width].sum())


def test_a_well_set_coil_swings_once_for_every_spark() -> None:
    """Where each swing gives one spark, the time between sparks is the swing's: on the magneto that is one for each pulse."""
    run = buzzing(MagnetoDrive(450.0), pulses=12)
    found = pitch_of(run)
    fired = [spark.time for spark in sparks(run)]
    between = (fired[-1] - fired[0]) / (len(fired) - 1)
    assert found.steady
    assert found.hertz == pytest.approx(1.0 / between, rel=5e-3)


@pytest.mark.parametrize("factors", [{}, {"cushion_preload": 0.25}, {"cushion_preload": 1.75}, {"vibrator_preload": 0.7},
                                     {"condenser_leakage_resistance": 1e-6}])
def test_a_buzz_has_the_pitch_of_its_spectrum(factors: dict[str, float]) -> None:
    """Whatever the machine: where the motion is steady, the lines of its spectrum lie at multiples of its repetition."""
    run = buzzing(**factors, pulses=24)
    found = pitch_of(run)
    if found.clarity < 0.97:
        return
    assert in_the_comb(run, found.hertz) > 0.9
    for other in (0.93, 1.07):  # a comb of another pitch holds less, so the share above is no accident
        assert in_the_comb(run, other * found.hertz) < in_the_comb(run, found.hertz) - 0.1


def test_bounces_raise_the_count_of_partings_and_not_the_pitch() -> None:
    """Some faulty coil parts its contacts oftener than its motion repeats: a count of partings is no pitch."""
    runs = [buzzing(**factors) for factors in ({"cushion_preload": 0.25}, {"cushion_preload": 1.75}, {"vibrator_preload": 0.7},
                                               {"condenser_leakage_resistance": 1e-6})]
    ratio = [sum(o.real for o in run.openings) / run.meter.seconds / pitch_of(run).hertz for run in runs]
    assert max(ratio) > 1.8


def test_on_the_magneto_it_is_the_pulses() -> None:
    """The pull goes with the square of the current, so both signs of it draw the blade alike."""
    for rpm in (200.0, 450.0):
        run = buzzing(MagnetoDrive(rpm), pulses=8)
        assert pitch_of(run).hertz == pytest.approx(1.0 / run.pulse_seconds, rel=2e-3)
