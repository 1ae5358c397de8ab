"""A set of four: which coils to take, and how to set each vibrator, so that all four fire at the same crank angle.

What can be changed. Coils that stand on like windows of the timer are interchangeable: which cylinder gets which makes no
difference, and only with a spare is there a choice. Where the windows differ (worn segments), the places are told apart and the
assignment counts. The adjustment is the vibrator's preload, as far as the coil still fires exactly once in every pulse.

How it is reckoned. Nobody reads a preload at a bench, so what is recommended is an *opening current* to set each coil to, at one
speed and full drive. Each coil is stood for by several imagined ones that agree with its readings, drawn by their odds; each of
them is run through a range of preloads: where it fires in the car at each speed (a window of the timer, as in lesson 8), at what
current it opens on the bench, and whether it fires once in every pulse. Over those runs the settings are chosen by scipy
(assignment and constrained optimisation); what is left of the scatter is then counted over many sets drawn at random, errors of
setting included. A coil that does not fire once where it was to be set is put back to where it was, and counts so.

Leaving them as they are is always the other choice. A coil is left where the change is one that a hand cannot follow, or where
it would have less of a chance of one spark in every pulse than now; and the whole set is left where the gain, counted over the
same random sets before and after, may as well be none.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import joblib
import numpy as np
from scipy.optimize import linear_sum_assignment, minimize

from coilbench import stored, windows
from coilbench.asks import Setting
from coilbench.causes import ASSUMED_GAP, Coil
from coilbench.predict import learn
from coilbench.running import COLUMN, outcome
from coilbench.sheet import Bench, Reading
from coilbench.verdict import Verdict
from coilbench.weighing import quantile
from coilmodel import Machine
from coilmodel.compiled import COMPILED
from coilmodel.sparks import EFFECTIVE

Numbers = np.ndarray
Progress = Callable[[str, int, int], None]

SET = 4
SPEEDS = (200.0, 300.0, 450.0, 600.0)
"""rpm at which the coils shall fire alike, and fire exactly once in every pulse."""
BENCH_RPM = 450.0  # at which the opening current is set, full drive
FACTORS = tuple(round(0.75 + 0.025 * step, 3) for step in range(25))  # of the vibrator's preload, over which a coil is run
DRAWS = 12 if COMPILED else 3  # imagined coils that stand for one
SURE = 0.9  # of a coil's imagined coils must fire once in every pulse at a setting that is recommended
POSSIBLE = 0.3  # where none gets so far, the best will do if it is above this: it can be tried, and put back
SETTING_ERROR = 0.015  # of the opening current: how well a person sets a coil to a reading; our judgement, no source
SETS = 400  # drawn at random for the intervals
LEAST = 1.0  # degrees squared for a change of current by a factor e: of two settings as good, the one nearer to what is there
STEP = 0.02  # A, of the settings that are tried
HAND = 2.0 * SETTING_ERROR  # of the opening current: a smaller change is one that a hand cannot follow
ORDER = (1, 2, 4, 3)  # the cylinders in the order of firing, as the Larkfield Twelve has them; --order gives another


# ------------------------------------------------------------------------------------------------------ one imagined coil
@dataclass(frozen=True)
class Surface:
    """One imagined coil over its vibrator's preloads (FACTORS times what it has).

    angle: the spark for the engine in the car, degrees of crank from the top, shape (windows, speeds, factors), NaN where none;
    current: A at which it opens on the bench, shape (factors,), NaN where it never does; single: whether it fires exactly once
    in every pulse on the bench, and lights in the car, at every speed
    """

    angle: Numbers
    current: Numbers
    single: Numbers


@dataclass(frozen=True, eq=False)
class Make:
    """A make other than the course's own that the coils of a set may be of (four_make.py).

    number: tells makes apart; well_set: the machine that stands for the known-good coil, on the magneto of all of them;
    share: the known-good coil's amperes over those of `well_set`; later: what is added to an angle, degrees, shape (windows,
    speeds), so that the known-good coil of every make fires at the same angle, and what is told is how a coil differs from it
    """

    number: int
    well_set: Machine
    share: float
    later: Numbers


def in_the_car(coil: Coil, car: Machine | None = None) -> Machine:
    """Return the coil's machine on the car's magneto and plug, the same for all four: nominal ones, or the magneto of `car`."""
    nominal = Machine()
    return replace(coil.machine, magneto=(car or nominal).magneto, gap=nominal.gap)


def firing_angle(coil: Coil, factor: float, rpm: float, late: float = 0.0, car: Machine | None = None) -> float:
    """Return the angle of the spark for the engine (sparks.EFFECTIVE), degrees of crank from the top; NaN where there is none.

    factor: on the vibrator's preload; late: degrees by which this cylinder's window closes late; car: whose magneto it meets
    (None: the nominal one). Raises ValueError where the model cannot follow the coil.
    """
    machine = in_the_car(coil, car).scaled(vibrator_preload=factor)
    sparks = windows.sparks_of(windows.run_window(machine, rpm, 100.0, windows.CLOSES + late, windows.WIDTH))
    return next((spark.angle for spark in sparks if spark.energy >= EFFECTIVE), math.nan)


def bench_reading(coil: Coil, factor: float, gap: float) -> tuple[float, bool]:
    """Return the opening current (A) on the bench at BENCH_RPM, and whether the coil fires once in every pulse at all SPEEDS.

    factor: on the vibrator's preload; gap: breakdown of the bench's spark gap, V
    """
    bent = Coil(coil.machine.scaled(vibrator_preload=factor), coil.drive, coil.gap, coil.supply, coil.severity)
    current, single = math.nan, True
    for rpm in dict.fromkeys((BENCH_RPM, *SPEEDS)):
        row = outcome(bent, Setting(Bench(rpm, 1.0), gap))
        if rpm == BENCH_RPM:
            current = row[COLUMN["opening_current"]]
        single = single and row[COLUMN["sparks"]] == 1.0 and row[COLUMN["sparks_variance"]] == 0.0
        if not single and not math.isnan(current):
            break
    return current, single


def scan(coil: Coil, windows: Sequence[float] = (0.0,), gap: float = ASSUMED_GAP, make: Make | None = None) -> Surface:
    """Return an imagined coil over all FACTORS, in the known-good coil's amperes and against its angles where it is of a `make`.

    windows: by how many degrees each kind of window closes late; gap: bench's, V
    """
    angle = np.full((len(windows), len(SPEEDS), len(FACTORS)), math.nan)
    current, single = np.full(len(FACTORS), math.nan), np.zeros(len(FACTORS), bool)
    car = None if make is None else make.well_set
    for place, factor in enumerate(FACTORS):
        try:
            current[place], single[place] = bench_reading(coil, factor, gap)
            for row, late in enumerate(windows):
                for column, rpm in enumerate(SPEEDS):
                    angle[row, column, place] = firing_angle(coil, factor, rpm, late, car)
                single[place] &= bool(np.isfinite(angle[row, :, place]).all())
        except ValueError:  # beyond what the model can follow: not allowed
            single[place] = False
    if make is not None:
        return Surface(angle + make.later[:, :, None], current * make.share, single)
    return Surface(angle, current, single)


# ------------------------------------------------------------------------------------------------------------- one coil
@dataclass(frozen=True)
class Candidate:
    """A coil that may go into the set: its imagined coils with their weights (adding up to one), and each one's surface.

    makes: the number of each one's make; empty: all are of the course's own
    """

    name: str
    coils: tuple[Coil, ...]
    weights: Numbers
    surfaces: tuple[Surface, ...]
    verdict: Verdict | None = None
    makes: tuple[int, ...] = ()

    def settings(self) -> tuple[Numbers, Numbers, Numbers]:
        """Return opening currents that it may be set to (A), the share of imagined coils that then fire once, and mean angles.

        Shapes (settings,), (settings,), (windows, speeds, settings).
        """
        there = [surface.current[surface.single] for surface in self.surfaces]
        known = np.concatenate(there)
        known = known[np.isfinite(known)]
        low, high = (math.ceil(known.min() / STEP), math.floor(known.max() / STEP)) if len(known) else (1, 0)
        currents = STEP * np.arange(low, high + 1)
        if not len(currents):
            return currents, currents, np.zeros((*self.surfaces[0].angle.shape[:2], 0))
        parts = [_by_current(surface, currents) for surface in self.surfaces]
        once = np.tensordot(self.weights, np.array([ok for ok, _ in parts]), 1)
        angles = np.array([np.where(ok, angle, math.nan) for ok, angle in parts])
        weights = np.where(np.isnan(angles), 0.0, self.weights[:, None, None, None])
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.nansum(weights * np.nan_to_num(angles), axis=0) / weights.sum(axis=0)
        near = round(SETTING_ERROR * float(currents.mean()) / STEP)  # a hand that misses by as much must not lose the spark
        padded = np.pad(once, near)
        width = len(once)
        return currents, (padded[:width] + once + padded[2 * near:2 * near + width]) / 3.0, mean

    def choices(self) -> tuple[Numbers, Numbers]:
        """Return the settings (A) that may be recommended, and the mean angles there; none where no setting is good enough."""
        currents, once, mean = self.settings()
        enough = min(SURE, float(once.max(initial=0.0)))
        good = (once >= enough) & (enough >= POSSIBLE) & np.isfinite(mean).all(axis=(0, 1))
        return currents[good], mean[:, :, good]

    def found_angle(self) -> Numbers:
        """Return its mean angles as it is now, shape (windows, speeds); NaN where most of its imagined coils do not fire."""
        each = np.array([surface.angle[:, :, FOUND] for surface in self.surfaces])
        fires = np.tensordot(self.weights, np.isfinite(each).astype(float), 1)
        mean = np.tensordot(self.weights, np.nan_to_num(each), 1)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(fires > 0.5, mean / fires, math.nan)

    def found_current(self) -> float:
        """Return the mean opening current (A) as it is now, NaN where it does not open."""
        each = np.array([surface.current[FOUND] for surface in self.surfaces])
        there = np.isfinite(each)
        return float(np.average(each[there], weights=self.weights[there])) if there.any() else math.nan

    def once_at(self, current: float | None) -> float:
        """Return the share of its imagined coils that fire once in every pulse when set to `current` (A; None: as found)."""
        if current is None:
            return float(self.weights @ np.array([surface.single[FOUND] for surface in self.surfaces]))
        return float(self.weights @ np.array([_by_current(surface, np.array([current]))[0][0] for surface in self.surfaces]))

    def bending(self, current: float) -> tuple[float, float, float]:
        """Return by what factor the preload changes when it is set to `current` (A): median, and limits of nine in ten."""
        factors = np.array([_factor(surface, np.array([current]))[0] for surface in self.surfaces])
        there = np.isfinite(factors)
        if not there.any():
            return (math.nan,) * 3
        return tuple(quantile(factors[there].tolist(), self.weights[there].tolist(), share) for share in (0.5, 0.05, 0.95))  # type: ignore[return-value]


FOUND = FACTORS.index(1.0)


def _factor(surface: Surface, currents: Numbers) -> Numbers:
    """Return the preload's factor at which the coil opens at each of `currents` (A), NaN beyond what was run.

    The current rises with the preload wherever the coil fires as it should; where it does not, the highest so far is taken.
    """
    known = np.isfinite(surface.current)
    if known.sum() < 2:
        return np.full(len(currents), math.nan)
    rising = np.maximum.accumulate(surface.current[known]) + 1e-9 * np.arange(known.sum())
    return np.interp(currents, rising, np.array(FACTORS)[known], math.nan, math.nan)


def _by_current(surface: Surface, currents: Numbers) -> tuple[Numbers, Numbers]:
    """Return whether the coil may be set to each of `currents` (A), and its angles there, shape (windows, speeds, currents)."""
    factors = _factor(surface, currents)
    known = np.isfinite(factors)
    place = np.clip(np.searchsorted(FACTORS, np.nan_to_num(factors, nan=FACTORS[0])), 1, len(FACTORS) - 1)
    ok = known & surface.single[place] & surface.single[place - 1]
    return ok, _angles(surface, factors)


def _angles(surface: Surface, factors: Numbers) -> Numbers:
    return np.array([[np.interp(factors, FACTORS, row, math.nan, math.nan) for row in window] for window in surface.angle])


def likely(readings: Sequence[Reading], draws: int = DRAWS,
           progress: Progress | None = None) -> tuple[list[Coil], Numbers, Verdict]:
    """Return imagined coils that stand for one with these `readings`, their weights, and the bench's verdict on it.

    They are drawn by their odds out of all the stored imagined coils, evenly (systematic resampling), at most `draws`.
    """
    learn(stored.settings_of(readings), progress)
    verdict = stored.judge(readings, next_steps=False)
    weights = np.array(stored.weights_on(readings, verdict))
    marks = (np.arange(draws) + 0.5) / draws
    chosen, counts = np.unique(np.searchsorted(np.cumsum(weights) / weights.sum(), marks), return_counts=True)
    everything = stored.imagined().coils
    return [everything[place] for place in chosen], counts / counts.sum(), verdict


def candidates(coils: Mapping[str, tuple[Sequence[Coil], Numbers, Verdict | None]], windows: Sequence[float],
               progress: Progress | None = None, makes: Mapping[str, Sequence[Make]] | None = None) -> list[Candidate]:
    """Return the candidates with all their runs made, on all processors.

    coils: by name, imagined coils, their weights, and the verdict if there is one; windows: see `scan`; makes: by name, of which
    make each imagined coil is (None: all of the course's own)
    """
    of: Mapping[str, Sequence[Make | None]] = makes or {name: [None] * len(own) for name, (own, _, _) in coils.items()}
    tasks = [(coil, windows, verdict.gap if verdict else ASSUMED_GAP, make) for name, (own, _, verdict) in coils.items()
             for coil, make in zip(own, of[name], strict=True)]
    surfaces: list[Surface] = []
    with joblib.Parallel(n_jobs=-1 if len(tasks) > 4 else 1, return_as="generator") as pool:
        for surface in pool(joblib.delayed(scan)(*task) for task in tasks):
            surfaces.append(surface)
            if progress:
                progress("Imagined coils at every setting", len(surfaces), len(tasks))
    found, at = [], 0
    for name, (own, weights, verdict) in coils.items():
        numbers = tuple(make.number for make in of[name] if make is not None)
        found.append(Candidate(name, tuple(own), np.asarray(weights, float), tuple(surfaces[at:at + len(own)]), verdict, numbers))
        at += len(own)
    return found


# -------------------------------------------------------------------------------------------------------------- the set
@dataclass(frozen=True)
class Scatter:
    """Degrees of crank from the earliest to the latest of the four, at each speed: middle, and limits of nine in ten."""

    at: tuple[tuple[float, float, float], ...]
    mean: tuple[float, float, float]  # over the speeds


@dataclass(frozen=True)
class Place:
    """One place of the set: the cylinder (0-based), its coil, and the opening current to set it to (A; None: as found)."""

    cylinder: int
    coil: Candidate
    current: float | None


@dataclass(frozen=True)
class FourSet:
    """What can be done for a set of four, and what comes of it.

    found: the first four as they are; chosen: the best four places without adjusting; adjusted: with. `useless`: coils that no
    setting makes fire once in every pulse. `fewer`: True where the adjusted set has fewer than four places for want of coils.
    gain: degrees of scatter (mean over the speeds) that setting them saves against the best as they are, middle and limits of
    nine in ten; NaN where too few of the random sets fire before and after to say. order: the cylinders' numbers, as they fire
    """

    windows: tuple[float, ...]
    found: tuple[Place, ...]
    chosen: tuple[Place, ...]
    adjusted: tuple[Place, ...]
    useless: tuple[Candidate, ...]
    before: Scatter
    assigned: Scatter
    after: Scatter
    gain: tuple[float, float, float] = (math.nan,) * 3
    order: tuple[int, ...] = ORDER

    @property
    def worth(self) -> bool:
        """Return whether setting them is advised: leaving them as they are is the other choice."""
        return not self.fewer and self.gain[1] > 0.0 and any(place.current is not None for place in self.adjusted)

    @property
    def fewer(self) -> bool:
        """Return whether fewer than four coils can be set."""
        return len(self.adjusted) < SET


def best_set(coils: Sequence[Candidate], windows: Sequence[float] = (0.0,) * SET, seed: int = 1,
             confirm: Callable[[Candidate, float], float] | None = None, order: Sequence[int] = ORDER) -> FourSet:
    """Return the best set of `coils`, at least four of them, run at the very `windows` in their sorted order without doubles.

    windows: for each cylinder in firing order, by how many degrees its window closes late; seed: of the sets drawn at random
    order: the cylinders' numbers in firing order
    confirm: moves a coil's setting to where the model confirms it (None: `confirmed`)
    Raises ValueError for fewer than four coils or windows that are not four.
    """
    if len(coils) < SET:
        names = ", ".join(coil.name for coil in coils) or "none"
        verb = "is" if len(coils) == 1 else "are"
        raise ValueError(f"A set needs four coils with readings; there {verb} {len(coils)} ({names}).")
    confirm = confirm or confirmed
    kinds = kinds_of(windows)
    kind = [kinds.index(late) for late in windows]
    found = tuple(Place(cylinder, coil, None) for cylinder, coil in enumerate(coils[:SET]))
    as_found = [(coil, np.array([coil.found_current()]), coil.found_angle()[:, :, None]) for coil in coils
                if np.isfinite(coil.found_angle()).all()]
    able = [(coil, *coil.choices()) for coil in coils]
    useless = tuple(coil for coil, currents, _ in able if not len(currents))
    settable = [entry for entry in able if len(entry[1])]
    chosen = found
    if len(as_found) >= SET:
        chosen = tuple(Place(cylinder, coil, None) for cylinder, coil, _ in _assign(as_found, kind))
    polished = _polish(_assign(settable, kind), settable, kind)
    adjusted = tuple(Place(cylinder, coil, worth_bending(coil, confirm(coil, current))) for cylinder, coil, current in polished)
    if len(kinds) == 1:  # no place differs: keep the order in which the coils came
        chosen, adjusted = _in_order(chosen, coils), _in_order(adjusted, coils)
    before, assigned, after = (_spreads(places, kind, seed) for places in (found, chosen, adjusted))
    return FourSet(tuple(windows), found, chosen, adjusted, useless, _scatter(before), _scatter(assigned), _scatter(after),
                   _gain(assigned, after), tuple(order))


def worth_bending(coil: Candidate, current: float) -> float | None:
    """Return the setting (A), None where the coil is better left: a change too small for a hand, or a spark that may be lost."""
    now = coil.found_current()
    if math.isfinite(now) and abs(math.log(current / now)) < HAND or coil.once_at(current) < coil.once_at(None):
        return None
    return current


def _in_order(places: Sequence[Place], coils: Sequence[Candidate]) -> tuple[Place, ...]:
    by_coil = {id(place.coil): place.current for place in places}
    kept = [coil for coil in coils if id(coil) in by_coil]
    return tuple(Place(cylinder, coil, by_coil[id(coil)]) for cylinder, coil in enumerate(kept))


def kinds_of(windows: Sequence[float]) -> list[float]:
    """Return the different kinds of window among `windows` (degrees late, one a cylinder). Raises ValueError."""
    if len(windows) != SET:
        raise ValueError(f"windows: {len(windows)} given; give four, one for each cylinder in the order of firing, in degrees "
                         "late.")
    for late in windows:
        if not (math.isfinite(late) and -20.0 <= late <= 20.0):
            raise ValueError(f"windows: {late:g} degrees late is outside -20 to 20 degrees of crank.")
    return sorted(set(windows))


Entry = tuple[Candidate, Numbers, Numbers]  # a coil, currents it may be set to, angles (windows, speeds, currents)


def _assign(entries: Sequence[Entry], kind: Sequence[int]) -> list[tuple[int, Candidate, float]]:
    """Return (cylinder, coil, current) of the best set found: nearest to a common course of angles over the speeds.

    For a given course every pair of coil and cylinder has one best setting and one cost, so the best assignment is a linear one
    (scipy.optimize.linear_sum_assignment); the course is then the mean of what was chosen, and so on until it stands still. Both
    halves can only lower the cost. It is begun from many courses, since it may stand still in a hollow.
    """
    if not entries:
        return []
    places = min(SET, len(entries))
    best: tuple[float, list[tuple[int, Candidate, float]]] = (math.inf, [])
    starts = [angle[0, :, place] for _, currents, angle in entries
              for place in np.unique(np.linspace(0, len(currents) - 1, 7).astype(int))]
    for course in starts:
        last = math.inf
        for _ in range(60):
            cost, setting = _costs(entries, kind[:places], course)
            rows, cylinders = linear_sum_assignment(cost)
            total = float(cost[rows, cylinders].sum())
            chosen = [(int(c), int(r), int(setting[r, c])) for r, c in zip(rows, cylinders, strict=True)]
            course = np.mean([entries[r][2][kind[c], :, s] for c, r, s in chosen], axis=0)
            if total > last - 1e-9:
                break
            last = total
        if last < best[0] - 1e-9:
            best = last, [(c, entries[r][0], float(entries[r][1][s])) for c, r, s in sorted(chosen)]
    return best[1]


def _costs(entries: Sequence[Entry], kind: Sequence[int], course: Numbers) -> tuple[Numbers, Numbers]:
    """Return for each coil and cylinder the cost of its best setting, and which one that is; both (coils, cylinders)."""
    cost, setting = np.zeros((len(entries), len(kind))), np.zeros((len(entries), len(kind)), int)
    for row, (coil, currents, angle) in enumerate(entries):
        usual = coil.found_current()
        change = LEAST * np.log(currents / (usual if math.isfinite(usual) else currents.mean())) ** 2
        for column, window in enumerate(kind):
            each = ((angle[window] - course[:, None]) ** 2).sum(axis=0) + change
            setting[row, column] = int(each.argmin())
            cost[row, column] = each.min()
    return cost, setting


def _polish(chosen: Sequence[tuple[int, Candidate, float]], entries: Sequence[Entry],
            kind: Sequence[int]) -> list[tuple[int, Candidate, float]]:
    """Return the set with its currents moved to where the scatter is least, inside what each coil allows (SLSQP)."""
    if len(chosen) < 2:
        return list(chosen)
    own = [next(entry for entry in entries if entry[0] is coil) for _, coil, _ in chosen]
    bounds = [_stretch(currents, current) for (_, currents, _), (_, _, current) in zip(own, chosen, strict=True)]
    usual = [coil.found_current() if math.isfinite(coil.found_current()) else current for _, coil, current in chosen]

    def cost(currents: Numbers) -> float:
        angles = np.array([[np.interp(current, grid, row) for row in angle[kind[cylinder]]]
                           for current, (_, grid, angle), (cylinder, _, _) in zip(currents, own, chosen, strict=True)])
        return float(((angles - angles.mean(axis=0)) ** 2).sum() + LEAST * (np.log(currents / usual) ** 2).sum())

    start = np.array([current for _, _, current in chosen])
    got = minimize(cost, start, method="SLSQP", bounds=bounds)
    better = got.x if got.fun < cost(start) else start
    return [(cylinder, coil, float(current)) for (cylinder, coil, _), current in zip(chosen, better, strict=True)]


TRIES = 12


def confirmed(coil: Candidate, wanted: float) -> float:
    """Return the setting (A) nearest to `wanted` that holds when the model is run there, and a hand's error to either side.

    The surfaces know a coil at steps of its preload only, and between two good ones may lie a bad one. Of the TRIES nearest
    settings that may be recommended the first is taken of which as many imagined coils fire once as the surfaces promise, or else
    the best of them.
    """
    gap = coil.verdict.gap if coil.verdict else ASSUMED_GAP
    currents, _ = coil.choices()
    near = sorted({wanted, *map(float, currents)}, key=lambda current: abs(current - wanted))[:TRIES]
    best = (-1.0, wanted)
    for current in near:
        once = 0.0
        for share in (1.0, 1.0 - SETTING_ERROR, 1.0 + SETTING_ERROR):
            factors = [_factor(surface, np.array([share * current]))[0] for surface in coil.surfaces]
            once += sum(weight for weight, imagined, factor in zip(coil.weights, coil.coils, factors, strict=True)
                        if math.isfinite(factor) and bench_reading(imagined, float(factor), gap)[1]) / 3.0
            if once == 0.0:
                break
        if once >= SURE:
            return current
        best = max(best, (once, current), key=lambda pair: pair[0])
    return best[1]


def _stretch(currents: Numbers, current: float) -> tuple[float, float]:
    """Return the ends of the unbroken stretch of allowed `currents` round one of them."""
    place = int(np.abs(currents - current).argmin())
    whole = np.diff(currents) < 1.5 * STEP
    low = high = place
    while low > 0 and whole[low - 1]:
        low -= 1
    while high < len(currents) - 1 and whole[high]:
        high += 1
    return float(currents[low]), float(currents[high])


# -------------------------------------------------------------------------------------------------------- what comes of it
def _spreads(places: Sequence[Place], kind: Sequence[int], seed: int) -> Numbers:
    """Return degrees from the earliest to the latest over SETS sets drawn from the coils' imagined ones, shape (SETS, speeds).

    Errors of setting are included. The same coil is drawn the same way whatever is done to it, so that sets can be compared.
    """
    if len(places) < 2:
        return np.full((SETS, len(SPEEDS)), math.nan)
    angles = np.full((len(places), SETS, len(SPEEDS)), math.nan)
    for row, place in enumerate(places):
        generator = np.random.default_rng((seed, zlib.crc32(place.coil.name.encode())))
        drawn = _drawn(place.coil, generator, seed)
        hand = 1.0 + SETTING_ERROR * generator.standard_normal(SETS)
        for number, surface in enumerate(place.coil.surfaces):
            own = drawn == number
            if place.current is None:
                angles[row, own] = surface.angle[kind[place.cylinder], :, FOUND]
            elif own.any():
                ok, set_to = _by_current(surface, place.current * hand[own])
                back = surface.angle[kind[place.cylinder], :, FOUND, None]  # where it does not fire once it is put back
                angles[row, own] = np.where(ok, set_to[kind[place.cylinder]], back).T
    with np.errstate(all="ignore"):
        return np.where(np.isfinite(angles).sum(axis=0) > 1, _nan(np.fmax, angles) - _nan(np.fmin, angles), math.nan)


def _drawn(coil: Candidate, generator: np.random.Generator, seed: int) -> Numbers:
    """Return which imagined coil stands for `coil` in each of SETS sets. All coils of a set are of one make."""
    if not coil.makes:
        return generator.choice(len(coil.surfaces), SETS, p=coil.weights)
    of = np.array(coil.makes)
    numbers = np.unique(of)
    shares = np.array([coil.weights[of == number].sum() for number in numbers])
    make = np.random.default_rng((seed, 1)).choice(len(numbers), SETS, p=shares / shares.sum())  # the same for all coils
    drawn = np.empty(SETS, int)
    for place, number in enumerate(numbers):
        own, sets = np.flatnonzero(of == number), make == place
        drawn[sets] = generator.choice(own, int(sets.sum()), p=coil.weights[own] / coil.weights[own].sum())
    return drawn


def _scatter(spread: Numbers) -> Scatter:
    """Return the scatter of a set. spread: of `_spreads`"""
    each = tuple(_three(spread[:, column]) for column in range(len(SPEEDS)))
    whole = np.isfinite(spread).all(axis=1)
    return Scatter(each, _three(spread[whole].mean(axis=1)))


COMPARED = 0.1  # of the random sets must fire before and after for a gain to be told


def _gain(before: Numbers, after: Numbers) -> tuple[float, float, float]:
    """Return by how many degrees the scatter shrinks, set by set: middle and limits of nine in ten."""
    both = np.isfinite(before).all(axis=1) & np.isfinite(after).all(axis=1)
    return _three((before[both] - after[both]).mean(axis=1)) if both.mean() >= COMPARED else (math.nan,) * 3


def _nan(function: np.ufunc, angles: Numbers) -> Numbers:
    return function.reduce(angles, axis=0)


def _three(values: Numbers) -> tuple[float, float, float]:
    there = values[np.isfinite(values)]
    if not len(there):
        return (math.nan,) * 3
    low, middle, high = (float(value) for value in np.quantile(there, (0.05, 0.5, 0.95)))
    return middle, low, high


def angles_of(place: Place, windows: Sequence[float]) -> list[tuple[float, float, float]]:
    """Return where a coil fires in its place at each of SPEEDS: middle and limits of nine in ten, degrees from the top."""
    kind = kinds_of(windows).index(windows[place.cylinder])
    found = []
    each = []
    for surface in place.coil.surfaces:
        angle = surface.angle[kind, :, FOUND]
        if place.current is not None:
            ok, set_to = _by_current(surface, np.array([place.current]))
            angle = set_to[kind, :, 0] if ok[0] else angle
        each.append(angle)
    for column in range(len(SPEEDS)):
        values = np.array([row[column] for row in each])
        there = np.isfinite(values)
        weights = place.coil.weights[there]
        found.append(tuple(quantile(values[there].tolist(), weights.tolist(), share) for share in (0.5, 0.05, 0.95))
                     if there.any() else (math.nan,) * 3)
    return found  # type: ignore[return-value]
