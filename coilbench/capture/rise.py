"""Fit the current between closing and opening: what the supply, the inductance and the resistance do to its rise.

While the contacts are closed the loop obeys d(Lambda i)/dt = a e(t) - b i, where a = supply/L, b = R/L, e is 1 on a battery and
sin(w t + phi) on a magneto, and Lambda is the inductance over what it is at rest: it grows a little as the vibrator nears the
core. All closed stretches share a, b, Lambda as a function of the time to the break, w, phi and the recorder's zero; each has its
own current to begin with, and its own share of the secondary's ring, which the closing contacts set off and which dies by itself
(exp(-gamma t) cos(w2 t): the complex pair of the loop's natural frequencies, where -b is the real one). So a current alone tells
two ratios and never V, L and R apart: scale all three alike and the same current flows.

Standard errors come from the Jacobian, widened by how residuals hang together within a stretch and differ between stretches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from coilbench.capture.openings import Break, Even, filled

KNOTS = 1e-3 * np.array([0.0, 0.1, 0.2, 0.4, 0.7, 1.1, 1.6])  # s before the break, at which Lambda is a number of its own
GROWTH = {
    "battery": (0.033, 0.024, 0.019, 0.014, 0.014, 0.017, 0.018),
    "magneto": (0.020, 0.013, 0.009, 0.004, 0.002, 0.0015, 0.001),
}
GROWTH_ERROR = {"battery": 0.009, "magneto": 0.0032}
GROWTH_LENGTH = 6e-4  # s over which the growths hang together
"""What Lambda - 1 is before the capture is asked: mean, standard deviation (1.3 times that found) and correlation length over 160
random machines of the model (`imagined.machine_at_random`, seed 777). A coil unlike all of these is fitted less well than
stated."""

WIDER = {"battery": 2.5, "magneto": 2.7}
"""By how much errors are stated wider than the fit alone finds them, so that 95 in 100 intervals hold the truth: for bounces and
rings that the law leaves out. Set on imagined captures of `trial` (seeds 0 to 279), and held against others."""
PULL_WIDER = 1.3
"""By how much more that of a battery's V/L is widened; set as `found.SUPPLY_WIDER` is."""
MODEL_ERROR = 0.006  # of V/L and of L: what the shape of that growth leaves open (the model)
GUARD = 2.0  # of a break's own error: so much before it is not fitted
# 1/s, R/L before the capture is asked (about 1 ohm, 4 mH), and how far its logarithm may lie off; from memory of the trade
DECAY, DECAY_SPREAD = 220.0, 0.7
BLOCKS, BLOCK = 240, 1.2e-5  # averages in a stretch, at least; s, no longer than this unless the samples are
MOST_BLOCKS = 1200
RINGS = (1.5e4, 1.6e5)  # rad/s between which the secondary rings while the contacts are closed
FADES = (1500.0, 3500.0)  # 1/s, first guesses of how fast that ring dies
FASTEST_FADE = 1.2e4  # 1/s
RING_WORTH = 6.0  # standard deviations by which a ring must lessen the squares more than noise would, to be taken in
STEP_BACK = 7e-5  # s by which a stretch is begun earlier at a time
STRETCHES = 48  # fitted at most; more tell nothing new
SHORTEST = 2.5e-4  # s
FIRST = {"battery": 5.5e-4, "magneto": 1.2e-3}  # s at most that the first guess looks back: contacts may have bounced before
FEWEST = 8  # samples in a stretch
SETTLE = 2.5e-4  # s after a break in which nothing is fitted
OFF = 0.003  # of the opening current: how far an earlier part may lie off and still belong to the rise


@dataclass(frozen=True)
class Estimate:
    """A number with its standard error and the degrees of freedom of its Student's t."""

    value: float
    error: float
    freedom: float = np.inf

    def interval(self, share: float = 0.95) -> tuple[float, float]:
        """Return the interval that should hold the truth with odds of `share`."""
        half = float(student.ppf(0.5 + 0.5 * share, max(1.0, self.freedom))) * self.error
        return self.value - half, self.value + half


@dataclass(frozen=True)
class Stretch:
    """One closed stretch: its break (s, A), and averages of the samples between: times (s), currents (A), numbers of samples."""

    at: Break
    time: np.ndarray
    current: np.ndarray
    count: np.ndarray


PULL, DECAY_AT, GROWTH_AT, ZERO, PHASE, OMEGA = 0, 1, slice(2, 9), 9, 10, 11
"""Places in theta: V/L (A/s), R/L (1/s), Lambda - 1 at KNOTS, the recorder's zero (A), on a magneto phase (rad) and omega
(rad/s).
Where the secondary's ring shows, its fading (1/s) and frequency (rad/s) come last."""


def _size(kind: str) -> int:
    return 10 if kind == "battery" else 12


@dataclass
class Rise:
    """The fitted rise: `theta` in the order above, and `cov`, its covariance."""

    kind: str  # battery | magneto
    stretches: list[Stretch]
    theta: np.ndarray
    cov: np.ndarray
    starts: np.ndarray  # A, shape (stretches, 3): current times Lambda at the first average, and the ring's two parts there
    noise: float  # A, of one sample
    tied: float  # by how much residuals that hang together widen the errors
    opening: Estimate
    currents: np.ndarray  # A, at each break
    freedom: float

    @property
    def pull(self) -> Estimate:
        """V/L in A/s."""
        error = np.hypot(np.sqrt(self.cov[0, 0]), MODEL_ERROR * self.theta[0]) * (PULL_WIDER if self.kind == "battery" else 1.0)
        return Estimate(float(self.theta[0]), float(error), self.freedom)

    @property
    def decay(self) -> Estimate:
        """R/L in 1/s."""
        return Estimate(float(self.theta[1]), float(np.sqrt(self.cov[1, 1])), self.freedom)

    @property
    def rings(self) -> bool:
        """Whether the secondary's ring is in the fit."""
        return len(self.theta) > _size(self.kind)

    def curve(self, place: int, times: np.ndarray) -> np.ndarray:
        """Return the fitted current (A) of stretch `place` at `times` (s), which ascend, without the secondary's ring; the
        recorder's zero is not in it."""
        stretch = self.stretches[place]
        grid = np.unique(np.concatenate((times, stretch.time[:1], np.linspace(times[0], times[-1], 100))))
        growth = 1.0 + np.interp(stretch.at.time - grid, KNOTS, self.theta[GROWTH_AT])
        ref = int(np.searchsorted(grid, stretch.time[0]))

        def integral(values: np.ndarray) -> np.ndarray:
            total = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(grid))))
            return total - total[ref]

        up = np.exp(np.clip(integral(self.theta[1] / growth), -60.0, 60.0))
        forced = integral(up * _emf(self.kind, self.theta, grid))
        return np.interp(times, grid, (self.theta[0] * forced + self.starts[place, 0]) / up / growth)


def _emf(kind: str, theta: np.ndarray, time: np.ndarray) -> np.ndarray:
    return np.ones(len(time)) if kind == "battery" else np.sin(theta[OMEGA] * time + theta[PHASE])


# --------------------------------------------------------------------------------------------------------- stretches
def blocks(time: np.ndarray, current: np.ndarray, start: float, end: float, at: Break) -> Stretch | None:
    """Return the samples from `start` to `end` (s) of a trace (time, current) as a stretch before `at`, None if too few."""
    first, last = np.searchsorted(time, (start, end))
    t, i = time[first:last], current[first:last]
    good = np.isfinite(i)
    t, i = t[good], i[good]
    if len(t) < FEWEST or t[-1] - t[0] < 0.6 * SHORTEST:
        return None
    many = min(MOST_BLOCKS, max(BLOCKS, int((t[-1] - t[0]) / BLOCK)))
    if len(t) > many:
        place = np.minimum(((t - t[0]) / (t[-1] - t[0]) * many).astype(int), many - 1)
        count = np.bincount(place, minlength=many)
        some = count > 0
        t = np.bincount(place, weights=t, minlength=many)[some] / count[some]
        i = np.bincount(place, weights=i, minlength=many)[some] / count[some]
        return Stretch(at, t, i, count[some].astype(float))
    return Stretch(at, t, i, np.ones(len(t)))


def first_guess(time: np.ndarray, current: np.ndarray, trace: Even, breaks: Sequence[Break], zero: float) -> list[Stretch]:
    """Return for each break the steep last part of its rise: from where the current passes a third of what it will be.

    time, current : the samples; trace : their averages; zero : A, what the recorder shows at no current
    """
    y = filled(trace.mean) - zero
    width = max(1, round(6e-5 / trace.step))
    soft = np.convolve(y, np.ones(width) / width, mode="same")
    spans = []
    chosen = _spread_over(len(breaks))
    for place in chosen:
        at = breaks[place]
        sign = 1.0 if at.current > 0 else -1.0
        end = min(len(soft) - 1, int(at.time / trace.step))
        floor = breaks[place - 1].time + SETTLE if place else 0.0
        low = max(0, int(floor / trace.step))
        part = sign * soft[low:max(low, end)]
        under = np.flatnonzero(part < 0.35 * abs(at.current - zero))
        spans.append(at.time - max(floor, (low + (int(under[-1]) + 1 if len(under) else 0)) * trace.step))
    # One length for all: where each begins by its own noise, what lies before it is no longer like the rest.
    both = len({at.current > 0 for at in breaks}) > 1
    usual = min(0.85 * float(np.quantile(spans, 0.3)) if spans else 0.0, FIRST["magneto" if both else "battery"])
    found: list[Stretch] = []
    for place, span in zip(chosen, spans):
        at = breaks[place]
        stretch = blocks(time, current, at.time - min(span, max(usual, 1.2 * SHORTEST)), at.time - _guard(at), at)
        if stretch is not None and stretch.time[-1] - stretch.time[0] >= 0.8 * SHORTEST:
            found.append(stretch)
    return found


def _guard(at: Break) -> float:
    return GUARD * at.error


def _spread_over(count: int) -> list[int]:
    """Return at most STRETCHES places, evenly among `count` and in pairs of neighbours (the volt-second balance wants both)."""
    if count <= STRETCHES:
        return list(range(count))
    first = np.linspace(0, count - 2, STRETCHES // 2).astype(int)
    return sorted({int(place) for place in np.concatenate((first, first + 1))})


def extended(rise: Rise, time: np.ndarray, current: np.ndarray, floors: Sequence[float]) -> list[Stretch]:
    """Return the stretches, each begun as early as the samples (time, current) still follow the fitted rise.

    floors : s, before which each may not begin. All are lengthened alike, step by step, their own currents fitted anew, until
    their first parts together no longer agree with the law: one alone would hide a bounce of the contacts in its noise.
    """
    usual = float(np.median(np.diff(time[:200_001])))
    step = max(STEP_BACK, 4.0 * usual)
    noise = min(rise.noise, 1.1 * (_noise(rise.stretches) or rise.noise))
    allowed = OFF * float(np.median(np.abs(rise.currents)))
    sign = np.sign([stretch.at.current for stretch in rise.stretches])
    tried = [rise.stretches]
    while True:
        back = len(tried) * step
        starts = [max(floor, float(stretch.time[0]) - back) for stretch, floor in zip(rise.stretches, floors)]
        grown = np.array([start > floor for start, floor in zip(starts, floors)])
        if grown.sum() < max(1, 0.3 * len(starts)):
            break
        trial = begun(rise.stretches, time, current, starts)
        rest = residual(rise.theta, rise.kind, flatten(trial)).rest
        off, squares, number = [], 0.0, 0
        for place, edge in enumerate(_edges(trial)):
            if grown[place]:
                part = trial[place].time < trial[place].time[0] + 2.0 * step
                left, many = rest[edge][part], trial[place].count[part]
                wide = np.sqrt(many.sum() * (noise ** 2 + many.sum() * allowed ** 2))
                off.append(sign[place] * float(left @ np.sqrt(many)) / wide)
                squares, number = squares + float(np.sum(left ** 2 / (noise ** 2 + many * allowed ** 2))), number + len(left)
        count = len(off)
        if (np.mean(np.square(off)) > 1.0 + 3.2 * np.sqrt(2.0 / count) or abs(np.sum(off)) > 3.2 * np.sqrt(count)
                or squares > number * (1.0 + 4.0 * np.sqrt(2.0 / number))):
            break
        tried.append(trial)
    return tried[max(0, len(tried) - 3)]


def begun(stretches: Sequence[Stretch], time: np.ndarray, current: np.ndarray, starts: Sequence[float]) -> list[Stretch]:
    """Return `stretches` of a trace (time, current), begun at `starts` (s) instead."""
    return [blocks(time, current, start, stretch.at.time - _guard(stretch.at), stretch.at) or stretch
            for stretch, start in zip(stretches, starts)]


# ------------------------------------------------------------------------------------------------------------ the fit
@dataclass(frozen=True)
class Flat:
    """All stretches end to end, so that one pass serves them all; each ends with its break, which weighs nothing."""

    time: np.ndarray
    current: np.ndarray
    root: np.ndarray  # square root of each average's number of samples; 0 at the breaks
    before: np.ndarray  # s from each time to its break
    since: np.ndarray  # s from each stretch's start
    step: np.ndarray  # s from the time before; 0 at the starts
    first: np.ndarray  # places of the starts
    owner: np.ndarray  # which stretch each time is of
    real: np.ndarray  # places of the averages, without the breaks
    last: np.ndarray  # places of the breaks


def flatten(stretches: Sequence[Stretch]) -> Flat:
    """Return `stretches` end to end."""
    sizes = np.array([len(stretch.time) + 1 for stretch in stretches])
    last = np.cumsum(sizes) - 1
    first = last - sizes + 1
    time = np.concatenate([np.append(stretch.time, stretch.at.time) for stretch in stretches])
    step = np.diff(time, prepend=time[0])
    step[first] = 0.0
    weights = np.concatenate([np.append(stretch.count, 0.0) for stretch in stretches])
    return Flat(time, np.concatenate([np.append(stretch.current, 0.0) for stretch in stretches]), np.sqrt(weights),
                np.repeat(time[last], sizes) - time, time - np.repeat(time[first], sizes), step, first,
                np.repeat(np.arange(len(sizes)), sizes), np.flatnonzero(weights > 0.0), last)


def _running(values: np.ndarray, flat: Flat) -> np.ndarray:
    """Return the integral of `values` over time within each stretch, by trapezoids."""
    area = 0.5 * (values + np.roll(values, 1)) * flat.step
    total = np.cumsum(area)
    return total - total[flat.first][flat.owner]


@dataclass(frozen=True)
class Residual:
    """What is left of the currents (weighted, A), each stretch's own numbers, and the currents at the breaks (A)."""

    rest: np.ndarray
    starts: np.ndarray
    at_break: np.ndarray


def residual(theta: np.ndarray, kind: str, flat: Flat) -> Residual:
    """Return what `theta` leaves of the currents of `flat`, each stretch's own start and ring fitted out. kind : as in `fit`"""
    growth = 1.0 + np.interp(flat.before, KNOTS, theta[GROWTH_AT])
    up = np.exp(np.clip(_running(theta[DECAY_AT] / growth, flat), -60.0, 60.0))
    forced = theta[PULL] * _running(up * _emf(kind, theta, flat.time), flat) / up / growth
    own = 1.0 / up / growth
    left = (flat.current - theta[ZERO] - forced) * flat.root
    columns = [own * flat.root]
    if len(theta) > _size(kind):
        fade = np.exp(-np.clip(theta[-2] * flat.since, 0.0, 60.0)) * flat.root
        turn = theta[-1] * flat.since
        columns += [fade * np.cos(turn), fade * np.sin(turn)]
    size = len(columns)
    square = np.empty((len(flat.first), size, size))
    right = np.empty((len(flat.first), size))
    for row in range(size):
        right[:, row] = np.add.reduceat(columns[row] * left, flat.first)
        for column in range(row, size):
            square[:, row, column] = square[:, column, row] = np.add.reduceat(columns[row] * columns[column], flat.first)
    square[:, range(size), range(size)] = square[:, range(size), range(size)] * (1.0 + 1e-6) + 1e-12
    solved = np.linalg.solve(square, right[:, :, None])[:, :, 0]
    for row in range(size):
        left = left - columns[row] * solved[flat.owner, row]
    at_break = forced[flat.last] + solved[:, 0] * own[flat.last]
    starts = np.zeros((len(flat.first), 3))
    starts[:, :size] = solved
    return Residual(left[flat.real], starts, at_break)


def with_ring(rise: Rise, stretches: list[Stretch]) -> np.ndarray | None:
    """Return theta with a first guess of the secondary's ring, None where none shows in what `rise` leaves of `stretches`."""
    theta = rise.theta[:_size(rise.kind)]
    spacing = float(np.median([np.median(np.diff(stretch.time)) for stretch in stretches]))
    some = stretches[:: max(1, len(stretches) // 16)]
    fastest = min(RINGS[1], 0.8 * np.pi / spacing)
    if fastest <= RINGS[0]:
        return None
    rests = [residual(theta, rise.kind, flatten([stretch])).rest for stretch in some]
    best, found = 0.0, (0.0, 0.0)
    for fade in FADES:
        for omega in np.arange(RINGS[0], fastest, 1500.0):
            gain = 0.0
            for stretch, rest in zip(some, rests):
                since = stretch.time - stretch.time[0]
                wave = np.exp((-fade + 1j * omega) * since) * np.sqrt(stretch.count)
                gain += 2.0 * abs(complex(rest @ wave)) ** 2 / max(float(np.sum(np.abs(wave) ** 2)), 1e-300)
            if gain > best:
                best, found = gain, (fade, float(omega))
    squares = sum(float(rest @ rest) for rest in rests)
    number, count = sum(len(rest) for rest in rests), len(some)
    # Noise alone gives 2 a stretch in the mean; the best of a hundred frequencies is a few standard deviations above that.
    if best < (2.0 * count + RING_WORTH * np.sqrt(4.0 * count)) * max(squares - best, 1e-300) / max(1, number - 2 * count):
        return None
    return np.concatenate((theta, found))


def fit(kind: str, stretches: list[Stretch], theta: np.ndarray, zero: Estimate, rough: bool = False) -> Rise:
    """Return the rise fitted to `stretches` from the first guess `theta`.

    kind : battery or magneto; zero : A, the recorder's; rough : stop early, for a fit that only leads to the next
    Raises ValueError where nothing can be fitted.
    """
    if not stretches:
        raise ValueError("No rise of the current before a break is long enough to be fitted.")
    flat = flatten(stretches)
    before = _prior(kind, zero, len(theta))
    usual = max(_noise(stretches), 1e-9)
    ring = len(theta) > _size(kind)
    scales = np.array([max(abs(theta[0]), 1e-9), 200.0, *[0.01] * len(KNOTS), max(zero.error, 1e-3),
                       *([] if kind == "battery" else [0.1, 0.01 * max(abs(theta[OMEGA]), 1.0)]),
                       *([2000.0, 3000.0] if ring else [])])

    def cost(scaled: np.ndarray) -> np.ndarray:
        now = scaled * scales
        return np.concatenate((residual(now, kind, flat).rest / usual, before.root @ (now - before.middle),
                               [np.log(max(now[DECAY_AT], 1.0) / DECAY) / DECAY_SPREAD]))

    low, high = np.full(len(theta), -np.inf), np.full(len(theta), np.inf)
    low[DECAY_AT], high[DECAY_AT] = 5.0, 20000.0
    low[GROWTH_AT], high[GROWTH_AT] = -0.2, 0.3
    if ring:
        low[-2], high[-2] = 300.0, FASTEST_FADE
        low[-1], high[-1] = RINGS[0], 1.2 * RINGS[1]
    low, high = low / scales, high / scales
    begin = np.clip(theta / scales, low + 1e-9, high - 1e-9)
    stop = 1e-3 if rough else 1e-8
    done = least_squares(cost, begin, bounds=(low, high), x_scale="jac", max_nfev=12 if rough else 60, ftol=stop, xtol=stop)
    now = done.x * scales
    left = residual(now, kind, flat)
    freedom = max(1, len(left.rest) - (3 if ring else 1) * len(stretches) - 3)
    noise = float(np.sqrt(left.rest @ left.rest / freedom))
    if not np.isfinite(noise):
        raise ValueError("The rise of the current cannot be fitted: its numbers are too large or too wild.")
    noise = max(noise, 1e-9 * float(np.abs(flat.current).max() or 1.0))
    return _with_errors(kind, stretches, flat, now, left, noise, scales, before)


@dataclass(frozen=True)
class _Prior:
    """What is thought of theta beforehand: root of the precision, and the middle."""

    root: np.ndarray
    middle: np.ndarray


def _prior(kind: str, zero: Estimate, size: int) -> _Prior:
    middle = np.zeros(size)
    middle[GROWTH_AT], middle[ZERO] = GROWTH[kind], zero.value
    cov = np.zeros((size, size))
    cov[GROWTH_AT, GROWTH_AT] = GROWTH_ERROR[kind] ** 2 * np.exp(-np.abs(KNOTS[:, None] - KNOTS) / GROWTH_LENGTH)
    cov[ZERO, ZERO] = max(zero.error, 1e-6) ** 2
    held = np.flatnonzero(np.diag(cov))
    root = np.zeros((len(held), size))
    root[:, held] = np.linalg.inv(np.linalg.cholesky(cov[np.ix_(held, held)]))
    return _Prior(root, middle)


def _noise(stretches: Sequence[Stretch]) -> float:
    """Return the noise of one sample (A) by differences between neighbours, which a slow rise hardly touches."""
    each = [np.median(np.abs(np.diff(stretch.current, 2))) * np.sqrt(np.median(stretch.count)) for stretch in stretches
            if len(stretch.current) > 4]
    return float(np.median(each)) * 1.4826 / np.sqrt(6.0) if each else 0.0


def _with_errors(kind: str, stretches: list[Stretch], flat: Flat, theta: np.ndarray, left: Residual, noise: float,
                 scales: np.ndarray, before: _Prior) -> Rise:
    """Return the rise with the covariance of its numbers and the mean opening current with its error."""
    size, count = len(theta), len(stretches)
    edges = _edges(stretches)
    slopes, openings = np.empty((len(left.rest), size)), np.empty((count, size))
    for place in range(size):
        step = np.zeros(size)
        step[place] = 1e-4 * scales[place]
        ahead, behind = residual(theta + step, kind, flat), residual(theta - step, kind, flat)
        slopes[:, place] = (ahead.rest - behind.rest) / (2.0 * step[place])
        openings[:, place] = (ahead.at_break - behind.at_break) / (2.0 * step[place])
    prior = before.root.T @ before.root
    prior[DECAY_AT, DECAY_AT] += 1.0 / (DECAY_SPREAD * theta[DECAY_AT]) ** 2
    tied = max(1.0, _tied(left.rest, edges))
    by_scale = np.outer(scales, scales)
    cov = np.linalg.pinv((slopes.T @ slopes / (noise ** 2 * tied) + prior) * by_scale, hermitian=True) * by_scale
    freedom = np.inf
    if count >= 5:
        scores = np.array([slopes[edge].T @ left.rest[edge] for edge in edges]) / (noise ** 2 * tied)
        between = cov @ (scores.T @ scores * count / (count - 1.0) + prior) @ cov
        wider = np.sqrt(np.maximum(1.0, np.diag(between) / np.maximum(np.diag(cov), 1e-300)))
        cov = cov * np.outer(wider, wider)
        freedom = count - 1.0
    cov = cov * WIDER[kind] ** 2
    sign = np.sign([stretch.at.current for stretch in stretches])
    own = np.array([noise ** 2 * tied / max(float(stretch.count.sum()) / 4.0, 1.0) for stretch in stretches])
    speed = np.abs(theta[PULL] * _emf(kind, theta, flat.time[flat.last]) - theta[DECAY_AT] * left.at_break)
    timing = np.array([stretch.at.error for stretch in stretches])
    slope = (openings * sign[:, None]).mean(axis=0)
    # A break's own error is partly shared by all: what the condenser's ring looks like is the same at each.
    shared = 0.7 * float(np.mean(speed * timing))
    own_share = float(own.sum() + np.sum((speed * timing) ** 2)) / count ** 2 + shared ** 2
    error = np.sqrt(max(0.0, float(slope @ cov @ slope)) + WIDER[kind] ** 2 * own_share)
    currents = left.at_break * sign
    return Rise(kind, stretches, theta, cov, left.starts, noise, tied, Estimate(float(np.mean(currents)), float(error), freedom),
                currents, freedom)


def _edges(stretches: Sequence[Stretch]) -> list[slice]:
    ends = np.cumsum([len(stretch.time) for stretch in stretches])
    return [slice(int(end) - len(stretch.time), int(end)) for end, stretch in zip(ends, stretches)]


def _tied(rest: np.ndarray, edges: Sequence[slice]) -> float:
    """Return by how much the variance of slow combinations grows because residuals near one another are alike."""
    most = 40
    sums = np.zeros(most + 1)
    for edge in edges:
        part = rest[edge]
        for lag in range(min(most, len(part) // 3) + 1):
            sums[lag] += float(part[:len(part) - lag] @ part[lag:])
    if sums[0] <= 0.0:
        return 1.0
    ratio = sums[1:] / sums[0]
    total = 1.0
    for first, second in zip(ratio[::2], ratio[1::2]):  # Geyer's initial positive sequence (Statist. Sci. 7, 1992)
        if first + second <= 0.0:
            break
        total += 2.0 * (first + second)
    return total


# ------------------------------------------------------------------------------------------------------ first guesses
def guess_battery(stretches: Sequence[Stretch], zero: float) -> np.ndarray:
    """Return a first theta on a battery from `stretches`, by straight lines. zero : A, what the recorder shows at no current."""
    slopes = [abs(float(np.polyfit(s.time - s.time[0], s.current, 1)[0])) for s in stretches]
    slope = float(np.median(slopes)) or 1.0
    usual = float(np.median([abs(s.at.current) for s in stretches]))
    return np.array([slope + 0.6 * usual * DECAY, DECAY, *GROWTH["battery"], zero])


def guess_magneto(stretches: Sequence[Stretch], omega: float, zero: float) -> np.ndarray:
    """Return the best of some first thetas on a magneto of `omega` (rad/s). stretches, zero : as in `guess_battery`."""
    flat = flatten(stretches)
    best, found = np.inf, np.array([1.0, DECAY, *GROWTH["magneto"], zero, 0.0, omega])
    for decay in (60.0, 200.0, 600.0):
        for phase in np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False):
            theta = np.array([0.0, decay, *GROWTH["magneto"], zero, phase, omega])
            none = residual(theta, "magneto", flat).rest
            theta[PULL] = 1.0
            one = none - residual(theta, "magneto", flat).rest
            size = float(one @ none / max(one @ one, 1e-300))
            left = none - size * one
            if size > 0.0 and left @ left < best:
                best = float(left @ left)
                theta[PULL] = size
                found = theta
    return found


def without_odd(rise: Rise) -> list[Stretch]:
    """Return the stretches of `rise` that agree with the rest: a bounce or a late ring in one of them spoils all."""
    rest = residual(rise.theta, rise.kind, flatten(rise.stretches)).rest
    sizes = [float(np.sqrt(np.mean(rest[edge] ** 2))) for edge in _edges(rise.stretches)]
    usual = float(np.median(sizes))
    kept = [stretch for stretch, size in zip(rise.stretches, sizes) if size <= 2.0 * usual]
    return kept if len(kept) >= max(2, len(sizes) // 2) else rise.stretches
