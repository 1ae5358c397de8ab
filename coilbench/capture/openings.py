"""Find where the contacts part in a trace of the primary current, or of the contact voltage alone.

An opening is a sudden break: for a while the current runs nearly straight, then within a quarter of the condenser's ring it is
gone. The ring that follows is never straight for so long, and a magneto's own current never falls so fast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import oaconvolve

FINEST = 5e-6  # s: the trace is averaged over so long before breaks are sought
STRAIGHT = 3e-4  # s for which the current must run nearly straight before a break
FALL = 2.5e-4  # s within which it must have fallen: a quarter of the ring of 4 mH with 6 uF
COARSEST = 1.5e-4  # s between samples; with fewer a break is no longer sudden
FEWEST = 5  # averages in a straight stretch
LEAST = 0.62  # of the usual opening current: smaller breaks are chatter of the closing contacts


@dataclass(frozen=True)
class Even:
    """A trace averaged over equal steps: times of the steps' middles (s), means (nan where no sample fell), step (s)."""

    time: np.ndarray
    mean: np.ndarray
    step: float


@dataclass(frozen=True)
class Break:
    """One sudden break: when (s), how well that is known (s, one standard deviation), and the current before it (A, signed)."""

    time: float
    error: float
    current: float


def even(time: np.ndarray, values: np.ndarray, finest: float = FINEST) -> Even:
    """Return a trace averaged over equal steps, never finer than its own samples. time, values : as in `trace.Trace`

    finest : s, the step where the samples are closer than that
    """
    usual = float(np.median(np.diff(time[:200_001])))
    step = max(finest, usual * (1.0 + 1e-9))
    place = (time / step).astype(np.int64)
    count = int(place[-1]) + 1
    if count > 20 * len(time) + 1000:  # a gap of hours between two samples
        raise ValueError(f"The capture has {len(time)} samples in {time[-1]:.4g} s with long gaps between; record in one go.")
    good = np.isfinite(values)
    numbers = np.bincount(place[good], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(place[good], weights=values[good], minlength=count) / numbers
    return Even((np.arange(count) + 0.5) * step, mean, step)


@dataclass(frozen=True)
class Straight:
    """Rolling straight lines: level at each stretch's end, slope (a step), scatter, whether there were samples enough."""

    level: np.ndarray
    slope: np.ndarray
    scatter: np.ndarray
    enough: np.ndarray


def filled(values: np.ndarray) -> np.ndarray:
    """Return `values` with what is missing put in on straight lines."""
    good = np.isfinite(values)
    if good.all():
        return values
    places = np.arange(len(values))
    return np.interp(places, places[good], values[good])


def straight(values: np.ndarray, count: int) -> Straight:
    """Fit a line to each `count` values up to and with the last."""
    good = np.isfinite(values).astype(float)
    y = filled(values)
    y = y - y.mean()
    inner = np.arange(count) - 0.5 * (count - 1)
    squares = float((inner ** 2).sum())
    ones = np.ones(count)

    def rolling(series: np.ndarray, kernel: np.ndarray) -> np.ndarray:
        out = np.full(len(series), np.nan)
        if len(series) >= count:
            out[count - 1:] = oaconvolve(series, kernel[::-1], mode="valid")
        return out

    mean = rolling(y, ones) / count
    slope = rolling(y, inner) / squares
    rest = np.maximum(rolling(y * y, ones) - count * mean ** 2 - slope ** 2 * squares, 0.0)
    shift = float(filled(values).mean())
    return Straight(mean + slope * 0.5 * count + shift, slope, np.sqrt(rest / max(count - 2, 1)),
                     rolling(good, ones) >= 0.75 * count)


def find_breaks(time: np.ndarray, current: np.ndarray) -> list[Break]:
    """Return the sudden breaks of a current (A, nan where missing) at times (s). Raises ValueError where it cannot be sought."""
    usual = float(np.median(np.diff(time[:200_001])))
    if usual > COARSEST:
        raise ValueError(f"The samples are {1e6 * usual:.0f} us apart, too few to see a break of the current; record with a "
                         f"sample every {1e6 * COARSEST:.0f} us or oftener (20 us or less is good).")
    trace = even(time, current)
    count = max(FEWEST, round(STRAIGHT / trace.step))
    after = max(2, int(np.ceil(FALL / trace.step)))
    if len(trace.mean) < 3 * count:
        raise ValueError(f"The capture lasts {1e3 * time[-1]:.3g} ms, too short for a rise and a break of the current.")
    lines = straight(trace.mean, count)
    zero = float(np.nanmedian(trace.mean))
    smooth = lines.scatter[lines.enough & np.isfinite(lines.scatter)]
    if not len(smooth):
        return []
    noise = float(np.quantile(smooth, 0.1)) * 1.1
    y = filled(trace.mean)
    soft = uniform_filter1d(y, 3) if trace.step <= 2e-5 else y
    level = lines.level
    up = np.where(np.isfinite(level), np.sign(level), 0.0)
    least = _ahead(soft, after), -_ahead(-soft, after)
    fall = np.where(up > 0, level - least[0], least[1] - level)
    size = np.abs(level)
    usable = lines.enough & np.isfinite(level) & (lines.scatter < 1.6 * noise + 0.08 * size)
    scale = float(np.quantile(np.abs(y - zero), 0.98))
    rising = lines.slope * up * count > -0.1 * size - 2.0 * noise
    candidate = usable & rising & (fall > 0.85 * size) & (size > 0.2 * scale) & (fall > 5.0 * noise)
    places = np.flatnonzero(candidate)
    if not len(places):
        return []
    ends = places[np.flatnonzero(np.diff(np.append(places, places[-1] + 10 * count)) > max(2, count // 3))]
    found = [_refine(trace, y, int(end), float(level[end]), after) for end in ends]
    breaks = [one for one in found if one is not None]
    if not breaks:
        return []
    sizes = np.array([abs(one.current) for one in breaks])
    top = float(np.median(sizes[sizes >= np.median(sizes)]))
    kept = [one for one in breaks if abs(one.current) > LEAST * top]
    return _shifted(kept, noise, trace.step)


def _ahead(values: np.ndarray, count: int) -> np.ndarray:
    """Return for each place the least of the `count` values after it."""
    least = minimum_filter1d(values, count, mode="nearest", origin=-(count // 2) if count % 2 else -(count // 2) + 1)
    return np.append(least[1:], least[-1])


@dataclass(frozen=True)
class _Fall:
    """Where a break passed half of its current, and how long from there to zero (s)."""

    half: float
    to_zero: float
    current: float


def _refine(trace: Even, y: np.ndarray, end: int, level: float, after: int) -> _Fall | None:
    """Find where the current passes half of what it was, and zero, beyond place `end`."""
    sign = 1.0 if level > 0 else -1.0
    start = max(0, end - after // 3)
    part = sign * y[start:end + 2 * after + 2] / abs(level)
    low = np.flatnonzero(part < 0.5)
    low = low[low > 0]
    if not len(low):
        return None
    place = int(low[0])
    half = start + place - (0.5 - part[place]) / max(part[place - 1] - part[place], 1e-9)
    zeros = np.flatnonzero(part[place:] < 0.0)
    to_zero = np.nan
    if len(zeros):
        at = place + int(zeros[0])
        to_zero = (start + at - (0.0 - part[at]) / max(part[at - 1] - part[at], 1e-9) - half) * trace.step
    return _Fall((half + 0.5) * trace.step, to_zero, level)


def _shifted(falls: list[_Fall], noise: float, step: float) -> list[Break]:
    """Go from where the current is half to where the contacts part: the ring begins as a cosine, half at a third of pi."""
    times = np.array([fall.to_zero for fall in falls])
    times = times[np.isfinite(times) & (times < FALL)]
    sixth = float(np.median(times)) if len(times) else 0.0
    made: list[Break] = []
    for fall in falls:
        slope = 0.87 * abs(fall.current) * (np.pi / 6.0 / sixth if sixth > 0.0 else 1.0 / step)
        error = float(np.hypot(noise / max(slope, 1e-12), 0.3 * step) + 0.15 * sixth)
        if not made or fall.half - 2.0 * sixth > made[-1].time + STRAIGHT / 2:
            made.append(Break(fall.half - 2.0 * sixth, error, fall.current))
    return made


def find_quiet_breaks(time: np.ndarray, voltage: np.ndarray) -> list[float]:
    """Return the times (s) at which the contact voltage (V), quiet until then, leaves zero: for a capture without a current."""
    trace = even(time, voltage)
    count = max(FEWEST, round(STRAIGHT / trace.step))
    after = max(2, int(np.ceil(FALL / trace.step)))
    if len(trace.mean) < 3 * count or trace.step > COARSEST:
        return []
    y = filled(trace.mean)
    y = y - np.median(y)
    lines = straight(y, count)
    span = float(np.quantile(np.abs(y), 0.998))
    quiet = lines.enough & (lines.scatter < 0.12 * span) & (np.abs(lines.level) < 0.12 * span)
    ahead = np.maximum(-_ahead(-y, after), -_ahead(y, after))
    places = np.flatnonzero(quiet & (ahead > 0.35 * span))
    if not len(places) or span == 0.0:
        return []
    ends = places[np.flatnonzero(np.diff(np.append(places, places[-1] + 10 * count)) > max(2, count // 3))]
    return [float(trace.time[end]) for end in ends]
