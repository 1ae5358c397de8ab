"""Crank angle, time and pulses: where on the circle a spark can fall.

Angles are degrees of crank unless a name says otherwise, speeds are crank revolutions a minute, times are seconds, and a
pulse is one half-cycle of the magneto: 180 / pole pairs degrees. Crank angle is counted from a zero of the magneto's EMF,
as in the model. Standard library only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coilmodel.checks import checked, checked_count

CRANK_TURNS_A_CYCLE = 2
"""A four-stroke engine fires each cylinder once in two turns of the crank; its timer turns once in that time."""


def _speed(rpm: object) -> float:
    return checked("crank speed", rpm, "rpm", 1.0, 1e5)


def _pairs(pole_pairs: object) -> int:
    return checked_count("pole pairs", pole_pairs, 1, 100)


# ------------------------------------------------------------------------------------------- angle, time, pulse


def electrical_frequency(rpm: float, pole_pairs: int = 8) -> float:
    """Frequency (Hz) of a magneto: pole pairs x rpm / 60. rpm : 1 to 1e5; pole_pairs : 1 to 100.

    Errors: ValueError. Source: any text on alternators.

    >>> electrical_frequency(750.0, 8)
    100.0
    """
    return _pairs(pole_pairs) * _speed(rpm) / 60.0


def pulse_angle(pole_pairs: int = 8) -> float:
    """Crank angle (degrees) of one pulse: 180 / pole pairs. pole_pairs : 1 to 100. Errors: ValueError. Source: geometry.

    >>> pulse_angle(8)
    22.5
    """
    return 180.0 / _pairs(pole_pairs)


def pulse_duration(rpm: float, pole_pairs: int = 8) -> float:
    """Time (s) that one pulse takes: 30 / (pole pairs x rpm). Ranges as in `electrical_frequency`. Errors: ValueError."""
    return 0.5 / electrical_frequency(rpm, pole_pairs)


def angle_of_time(seconds: float, rpm: float) -> float:
    """Crank angle (degrees) turned in a time: 6 x rpm x seconds, not wrapped. seconds : -1e6 to 1e6; rpm : 1 to 1e5.

    Errors: ValueError. Source: 360 degrees a turn, 60 seconds a minute.
    """
    return 6.0 * _speed(rpm) * checked("time", seconds, "s", -1e6, 1e6)


def time_of_angle(degrees: float, rpm: float) -> float:
    """Time (s) in which the crank turns through an angle. degrees : -1e9 to 1e9; rpm : 1 to 1e5. Errors: ValueError."""
    return checked("crank angle", degrees, "degree", -1e9, 1e9) / (6.0 * _speed(rpm))


def pulse_number(degrees: float, pole_pairs: int = 8) -> int:
    """Number of the pulse in which a crank angle lies, 0 for the one that starts at 0.

    degrees : -1e9 to 1e9; pole_pairs : of the magneto, as in `pulse_angle`. Errors: ValueError. Source: geometry.
    """
    return math.floor(checked("crank angle", degrees, "degree", -1e9, 1e9) / pulse_angle(pole_pairs))


def angle_in_pulse(degrees: float, pole_pairs: int = 8) -> float:
    """Crank angle since the start of its pulse, 0 to under 180 / pole pairs.

    degrees : -1e9 to 1e9; pole_pairs : of the magneto, as in `pulse_angle`. Errors: ValueError. Source: geometry.
    """
    angle = checked("crank angle", degrees, "degree", -1e9, 1e9)
    width = pulse_angle(pole_pairs)
    rest = angle - pulse_number(angle, pole_pairs) * width
    # Rounding may leave a hair outside the pulse; the promise of the first line is worth more than the hair.
    return min(max(rest, 0.0), math.nextafter(width, 0.0))


# ----------------------------------------------------------------------------------------------------- the timer


@dataclass(frozen=True)
class Window:
    """One cylinder's share of the timer: closed from `start` for `width` degrees of crank; `cylinder` counts from 0."""

    cylinder: int
    start: float
    width: float

    @property
    def end(self) -> float:
        """Crank angle at which the timer opens again, degrees."""
        return self.start + self.width


def timer_to_crank(timer_degrees: float) -> float:
    """Degrees of crank for degrees of a four-stroke engine's timer, which turns at half crank speed: twice as many.

    timer_degrees : -1e9 to 1e9. Errors: ValueError. Source: a four-stroke cycle takes two turns.
    """
    return CRANK_TURNS_A_CYCLE * checked("timer angle", timer_degrees, "degree", -1e9, 1e9)


def crank_to_timer(crank_degrees: float) -> float:
    """Degrees of timer for degrees of crank: half as many. crank_degrees : -1e9 to 1e9. Errors: ValueError."""
    return checked("crank angle", crank_degrees, "degree", -1e9, 1e9) / CRANK_TURNS_A_CYCLE


def timer_windows(start: float, width: float, cylinders: int = 4) -> list[Window]:
    """The windows of one four-stroke cycle (720 degrees of crank), in the order of firing.

    start : crank angle at which the first closes, -720 to 720; width : degrees of crank, 0.1 up to the spacing
    cylinders : 1 to 16, evenly spaced
    Errors: ValueError. Source: geometry.

    >>> [window.start for window in timer_windows(10.0, 40.0)]
    [10.0, 190.0, 370.0, 550.0]
    """
    first = checked("window start", start, "degree", -720.0, 720.0)
    count = checked_count("cylinders", cylinders, 1, 16)
    spacing = 360.0 * CRANK_TURNS_A_CYCLE / count
    wide = checked("window width", width, "degree", 0.1, spacing)
    return [Window(number, first + number * spacing, wide) for number in range(count)]


def spark_angles(start: float, width: float, opening_angle: float, pole_pairs: int = 8) -> list[float]:
    """Crank angles at which a well-set coil sparks inside one window of the timer.

    start : crank angle at which the timer closes, -1e6 to 1e6; width : 0.1 to 720 degrees
    opening_angle : from the start of a pulse to the parting of the contacts, 0 to 180 / pole_pairs degrees
    pole_pairs : of the magneto, as in `pulse_angle`
    A pulse fires if the timer is closed through its whole climb, from its start to its opening. So sparks fall on a grid
    whose pitch is the pulse: moving the timer does not move the spark until a pulse drops out at one end of the window
    and another comes in at the other; then it jumps by a whole pulse.
    The timer closing in mid-pulse may let a late, weak spark through; that is the model's business, not this table's.
    Errors: ValueError. Source: geometry of the pulses.

    >>> spark_angles(10.0, 40.0, 11.0)
    [33.5]
    """
    opens = checked("window start", start, "degree", -1e6, 1e6)
    wide = checked("window width", width, "degree", 0.1, 720.0)
    pitch = pulse_angle(pole_pairs)
    climb = checked("opening angle", opening_angle, "degree", 0.0, pitch)
    hair = 1e-9 * pitch  # a pulse that starts exactly as the timer closes is whole
    first = math.ceil((opens - hair) / pitch)
    last = math.floor((opens + wide - climb + hair) / pitch)
    return [number * pitch + climb for number in range(first, last + 1)]


def firing_angle(start: float, opening_angle: float, pole_pairs: int = 8) -> float:
    """Crank angle of the first spark after the timer closes at `start`.

    start, opening_angle : degrees; pole_pairs : of the magneto; all as in `spark_angles`. Errors: ValueError.

    >>> [firing_angle(start, 11.0) for start in (0.0, 1.0, 22.0, 23.0)]
    [11.0, 33.5, 33.5, 56.0]
    """
    return spark_angles(start, 2.0 * pulse_angle(pole_pairs), opening_angle, pole_pairs)[0]


def firing_jump(pole_pairs: int = 8) -> float:
    """The size (degrees) of the jump in firing angle as the timer is moved: one pulse.

    pole_pairs : of the magneto, as in `pulse_angle`. Errors: ValueError. Source: see `spark_angles`.
    """
    return pulse_angle(pole_pairs)


# ----------------------------------------------------------------------------------------------------- scatter


def crank_scatter(time_scatter: float, rpm: float) -> float:
    """Scatter of the spark in degrees of crank for a scatter of the opening time in seconds: 6 x rpm x scatter.

    time_scatter : s, 0 to 10; rpm : 1 to 1e5. A tenth of a millisecond is 0.27 degree at 450 rpm and 1.2 at 2000.
    Errors: ValueError. Source: 360 degrees a turn, 60 seconds a minute.
    """
    return 6.0 * _speed(rpm) * checked("scatter of opening time", time_scatter, "s", 0.0, 10.0)


def mean_and_scatter(angles: Sequence[float]) -> tuple[float, float]:
    """Mean and sample standard deviation of crank angles, in degrees; they must not straddle a wrap.

    angles : at least two, each -1e9 to 1e9. Errors: ValueError. Source: definition (n - 1 in the denominator).
    """
    if isinstance(angles, str) or not isinstance(angles, Sequence) or len(angles) < 2:
        raise ValueError(f"angles: {str(angles)[:40]!r} is not a sequence; give at least 2 numbers from -1e+09 to 1e+09 degree.")
    numbers = [checked(f"angle {place}", angle, "degree", -1e9, 1e9) for place, angle in enumerate(angles)]
    mean = math.fsum(numbers) / len(numbers)
    return mean, math.sqrt(math.fsum((number - mean) ** 2 for number in numbers) / (len(numbers) - 1))
