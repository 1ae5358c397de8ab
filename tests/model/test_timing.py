"""Crank angle, time and pulses: each function against counting on the circle, and the timer's by turning it.

Together with the proof's rows these must notice small errors planted in coilmodel/timing.py (benchmarks/bite.py).
"""

from __future__ import annotations

import math
import statistics

import pytest

from coilmodel import timing
from coilmodel.timing import Window


# ------------------------------------------------------------------------------------------------- angle, time, pulse
def test_a_magneto_gives_two_pulses_a_turn_for_each_pair_of_poles() -> None:
    """Counted: 3 pairs at 600 rpm are 10 turns and 60 pulses a second, 30 Hz, 60 degrees and 1/60 s each."""
    assert timing.electrical_frequency(600.0, 3) == pytest.approx(30.0, rel=1e-12)
    assert timing.pulse_angle(3) == pytest.approx(60.0, rel=1e-12)
    assert timing.pulse_duration(600.0, 3) == pytest.approx(1.0 / 60.0, rel=1e-12)
    assert timing.firing_jump(3) == pytest.approx(60.0, rel=1e-12)
    assert timing.electrical_frequency(750.0) == 100.0  # eight pairs, texts on alternators: f = p n / 60


def test_one_pulse_takes_its_angle_at_its_speed() -> None:
    for rpm, pairs in ((450.0, 8), (1200.0, 5), (77.0, 1)):
        assert timing.angle_of_time(timing.pulse_duration(rpm, pairs), rpm) == pytest.approx(timing.pulse_angle(pairs), rel=1e-12)
    assert timing.angle_of_time(1.0, 60.0) == pytest.approx(360.0, rel=1e-12)  # a turn a second
    assert timing.time_of_angle(720.0, 60.0) == pytest.approx(2.0, rel=1e-12)
    assert timing.angle_of_time(-0.25, 120.0) == pytest.approx(-180.0, rel=1e-12)
    assert timing.time_of_angle(90.0, 300.0) == pytest.approx(0.05, rel=1e-12)


def test_eight_pairs_is_the_usual() -> None:
    """The magneto of the course; every function that takes pole pairs takes these where nothing is said."""
    assert timing.pulse_angle() == timing.firing_jump() == 22.5
    assert timing.pulse_duration(450.0) == timing.pulse_duration(450.0, 8)
    assert (timing.pulse_number(100.0), timing.angle_in_pulse(100.0)) == (4, 10.0)
    assert timing.spark_angles(10.0, 40.0, 11.0) == timing.spark_angles(10.0, 40.0, 11.0, 8) == [33.5]
    assert timing.firing_angle(23.0, 11.0) == timing.firing_angle(23.0, 11.0, 8) == 56.0


@pytest.mark.parametrize(("angle", "pairs", "number", "rest"), [
    (0.0, 8, 0, 0.0), (22.4, 8, 0, 22.4), (22.5, 8, 1, 0.0), (50.0, 8, 2, 5.0), (-1.0, 8, -1, 21.5), (-22.5, 8, -1, 0.0),
    (100.0, 3, 1, 40.0), (719.0, 3, 11, 59.0)])
def test_which_pulse_and_where_in_it(angle: float, pairs: int, number: int, rest: float) -> None:
    assert timing.pulse_number(angle, pairs) == number
    assert timing.angle_in_pulse(angle, pairs) == pytest.approx(rest, abs=1e-12)


def test_rounding_never_leaves_the_pulse() -> None:
    """A hair under a pulse's end divides to the next one, or to a rest of just the width: the promise is 0 to under it."""
    for pairs in (1, 3, 7, 8, 11, 100):
        width = 180.0 / pairs
        for count in range(-60, 121):
            for nudge in (0.0, -math.inf, math.inf):
                edge = math.nextafter(count * width, nudge) if nudge else count * width
                rest = timing.angle_in_pulse(edge, pairs)
                assert 0.0 <= rest < width
                assert min(rest, width - rest) < 1e-9


# ----------------------------------------------------------------------------------------------------------- the timer
def test_the_timer_turns_once_while_the_crank_turns_twice() -> None:
    assert timing.timer_to_crank(360.0) == 720.0
    assert timing.crank_to_timer(360.0) == 180.0
    assert timing.timer_to_crank(-22.5) == -45.0
    for angle in (-90.0, 0.0, 33.0):
        assert timing.crank_to_timer(timing.timer_to_crank(angle)) == angle


@pytest.mark.parametrize(("cylinders", "starts"), [
    (1, [10.0]), (2, [10.0, 370.0]), (3, [10.0, 250.0, 490.0]), (4, [10.0, 190.0, 370.0, 550.0])])
def test_windows_of_a_cycle_are_even_over_two_turns(cylinders: int, starts: list[float]) -> None:
    windows = timing.timer_windows(10.0, 40.0, cylinders)
    assert windows == [Window(number, start, 40.0) for number, start in enumerate(starts)]
    assert [window.end for window in windows] == [start + 40.0 for start in starts]
    assert windows[-1].start + 720.0 / cylinders == pytest.approx(windows[0].start + 720.0, rel=1e-12)  # and so on for ever


def test_windows_may_fill_the_cycle_but_not_overlap() -> None:
    assert timing.timer_windows(-30.0, 40.0) == timing.timer_windows(-30.0, 40.0, 4)
    whole = timing.timer_windows(-30.0, 180.0, 4)
    assert all(one.end == other.start for one, other in zip(whole[:-1], whole[1:], strict=True))
    with pytest.raises(ValueError, match=r"window width: 180\.1 degree is outside 0\.1 to 180 degree"):
        timing.timer_windows(-30.0, 180.1, 4)
    assert timing.timer_windows(0.0, 720.0, 1)[0].end == 720.0


def by_trying(start: float, width: float, climb: float, pairs: int) -> list[float]:
    """Every pulse of some turns tried: closed from its start to its opening, it fires."""
    pitch = 180.0 / pairs
    pulses = [number * pitch for number in range(-200, 400)]
    return [pulse + climb for pulse in pulses if start <= pulse + 1e-7 and pulse + climb <= start + width + 1e-7]


@pytest.mark.parametrize("pairs", [8, 3])
def test_sparks_fall_where_whole_climbs_fit(pairs: int) -> None:
    pitch = 180.0 / pairs
    for start in (-47.0, -pitch, 0.0, 1.0, pitch, 100.3):
        for width in (0.5, pitch / 2.0, pitch, 40.0, 3.0 * pitch, 360.0):
            for climb in (0.0, 0.4 * pitch, pitch):
                ours = timing.spark_angles(start, width, climb, pairs)
                assert ours == pytest.approx(by_trying(start, width, climb, pairs), abs=1e-9), (start, width, climb)


def test_a_pulse_that_just_fits_fires_whatever_the_rounding() -> None:
    """Window edges laid on pulses of a pitch that binary numbers do not hold: first and last still count."""
    for pairs in (7, 11, 13):
        pitch = 180.0 / pairs
        for first in range(40):
            angles = timing.spark_angles(first * pitch, 3.0 * pitch + 0.3 * pitch, 0.3 * pitch, pairs)
            assert len(angles) == 4, (pairs, first)
            assert angles[0] == pytest.approx((first + 0.3) * pitch, abs=1e-9)
    # and one that misses its climb by a ten-thousandth of a degree does not
    assert timing.spark_angles(1e-4, 22.5 + 11.0 - 2e-4, 11.0) == []


@pytest.mark.parametrize("pairs", [8, 3])
def test_the_first_spark_after_the_timer_closes(pairs: int) -> None:
    pitch = 180.0 / pairs
    for start in (-50.0, 0.0, 0.1, pitch - 0.1, pitch, 3.5 * pitch):
        for climb in (0.0, 0.5 * pitch, pitch):
            found = timing.firing_angle(start, climb, pairs)
            assert found == pytest.approx(by_trying(start, 10.0 * pitch, climb, pairs)[0], abs=1e-9)
            assert start - 1e-9 <= found < start + pitch + climb


# ------------------------------------------------------------------------------------------------------------- scatter
def test_a_tenth_of_a_millisecond_in_degrees() -> None:
    """A tenth of a millisecond is 0.27 degree at 450 rpm and 1.2 at 2000, as the docstring says; a turn is a turn."""
    assert timing.crank_scatter(1e-4, 450.0) == pytest.approx(0.27, rel=1e-12)
    assert timing.crank_scatter(1e-4, 2000.0) == pytest.approx(1.2, rel=1e-12)
    assert timing.crank_scatter(1.0, 60.0) == pytest.approx(360.0, rel=1e-12)
    assert timing.crank_scatter(0.0, 450.0) == 0.0


def test_scatter_in_time_and_in_angle_are_one_scatter() -> None:
    times = [4.10e-3, 4.22e-3, 4.05e-3, 4.31e-3, 4.17e-3]
    mean, scatter = timing.mean_and_scatter([timing.angle_of_time(time, 450.0) for time in times])
    assert mean == pytest.approx(timing.angle_of_time(statistics.mean(times), 450.0), rel=1e-12)
    assert scatter == pytest.approx(timing.crank_scatter(statistics.stdev(times), 450.0), rel=1e-12)


def test_mean_and_scatter_of_few_and_of_bad_angles() -> None:
    assert timing.mean_and_scatter([10.0, 12.0]) == (11.0, pytest.approx(math.sqrt(2.0), rel=1e-12))
    assert timing.mean_and_scatter((10.0, 12.0, 11.0, 13.0)) == (11.5, pytest.approx(math.sqrt(5.0 / 3.0), rel=1e-12))
    for wrong in ([10.0], [], "10", "10, 12", 10.0, {10.0, 12.0}):
        with pytest.raises(ValueError, match=r"^angles: .* is not a sequence; give at least 2 numbers"):
            timing.mean_and_scatter(wrong)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"^angle 1: 2e\+09 degree is outside -1e\+09 to 1e\+09 degree\.$"):
        timing.mean_and_scatter([0.0, 2e9])
    with pytest.raises(ValueError, match=r"^angle 0: -2e\+09 degree is outside -1e\+09 to 1e\+09 degree\.$"):
        timing.mean_and_scatter([-2e9, 0.0])
