"""What a study says: how often a coil is unsound, and which number is to blame, each with its error bar.

A coil is *unsound* if any of its pulses misfires (coilmodel.sparks) or has more than one spark.
Shares carry Wilson's interval for counts of yes and no (scipy.stats.binomtest), as if the coils had been drawn by
lot; the points are spread more evenly than a lot would, so the interval is, if anything, too wide. Causes are Sobol indices by
`scipy.stats.sobol_indices` (Saltelli's estimators), with percentile intervals over coils drawn again (bootstrap).
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy import stats

from coilmodel.study.store import Study
from coilmodel.study.trial import REFUSED

LEVEL = 0.95
REDRAWN = 300  # times that the coils are drawn again for the error bars of the causes
PARTS = 8  # parts of a number's range, equally often drawn, over which the share is shown
CELLS = 10  # of the map, along each side
LEDGER = 0.01  # share of the energy unaccounted for, above which a run is pointed out


@dataclass(frozen=True)
class Share:
    """`count` of `of`, with the limits between which the true share lies, 95 times in 100."""

    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Return the share itself, NaN of nothing."""
        return self.count / self.of if self.of else float("nan")


@dataclass(frozen=True)
class Cause:
    """What one number that varies does to the share of unsound coils.

    first: share of the variance that goes if this number alone is held; total: share that stays if it alone varies
    on (with all that it does together with others). Each with its 95 % limits. `edges` part its range into equally likely
    parts; `shares` holds the share of misfiring coils in each.
    """

    name: str
    unit: str
    nominal: float
    first: tuple[float, float, float]
    total: tuple[float, float, float]
    edges: tuple[float, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True)
class Map:
    """Share of misfiring coils over two numbers: cells[row along y][column along x], None where hardly any coil lies."""

    x: str
    y: str
    x_edges: tuple[float, ...]
    y_edges: tuple[float, ...]
    cells: tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True)
class Findings:
    """All that a study says. Shares are of imagined coils that the model ran."""

    runs: int
    coils: int
    pulses: int
    refused: int  # runs that the model refused
    refused_coils: int  # of the drawn ones
    unsound: Share  # coils with at least one pulse that misfires or has more than one spark
    misfire: Share  # coils with at least one pulse without an effective spark
    multiple: Share  # coils with at least one pulse of several sparks
    always: Share  # coils none of whose pulses is right
    pulses_misfired: float  # share of all pulses
    pulses_multiple: float
    open_ledgers: int  # runs with more than LEDGER of the energy unaccounted for
    causes: tuple[Cause, ...]  # by total index where causes were sought, the strongest first
    map: Map | None

    def as_dict(self) -> dict[str, Any]:
        """Return everything as plain data, fit for JSON (tuples become lists there)."""
        return asdict(self)


def find(study: Study) -> Findings:
    """Return what a study says."""
    role, status = study["role"], study["status"]
    single, multiple, misfired = (study[f"pulses_{name}"] for name in ("single", "multiple", "misfired"))
    drawn = role <= 1  # A and B; the others are half a coil drawn before
    ran = status != REFUSED
    asked = drawn & ran
    wrong = (multiple + misfired) > 0
    pulses = int(study.plan["pulses"])
    ledger = study["ledger_error"]
    return Findings(
        runs=len(study), coils=int(drawn.sum()), pulses=pulses, refused=int((~ran).sum()),
        refused_coils=int((drawn & ~ran).sum()), unsound=share(wrong[asked]), misfire=share(misfired[asked] > 0),
        multiple=share(multiple[asked] > 0), always=share(single[asked] == 0),
        pulses_misfired=_mean(misfired[asked]) / pulses, pulses_multiple=_mean(multiple[asked]) / pulses,
        open_ledgers=int((np.abs(ledger[ran]) > LEDGER).sum()),
        causes=_causes(study, wrong | ~ran, asked), map=_map(study, wrong, asked))


def share(yes: Any) -> Share:
    """Return how many of `yes` (array of bool) are true, with Wilson's 95 % interval."""
    count, of = int(yes.sum()), len(yes)
    if not of:
        return Share(0, 0, 0.0, 1.0)
    interval = stats.binomtest(count, of).proportion_ci(LEVEL, "wilson")
    return Share(count, of, float(interval.low), float(interval.high))


# ------------------------------------------------------------------------------------------------------------ causes
@dataclass(frozen=True)
class Indices:
    """Sobol indices of each number, shape (numbers,); their limits, shape (2, numbers); NaN where nothing varies."""

    first: Any
    total: Any
    first_limits: Any
    total_limits: Any


def indices(outcome: Any, roles: int, redrawn: int = REDRAWN, seed: int = 0) -> Indices:
    """Return the Sobol indices of `outcome` (one number a run, in the order of the runs) with their error bars.

    roles: runs a coil, as `Plan.roles`; redrawn: bootstrap repeats; seed: of these. The number of coils is a power of two.
    """
    table = np.asarray(outcome, float).reshape(-1, roles).T
    count = table.shape[1]
    if np.ptp(table) == 0.0:
        nothing = np.full(roles - 2, np.nan)
        return Indices(nothing, nothing, np.vstack([nothing] * 2), np.vstack([nothing] * 2))

    swapped = [*range(2, roles), 2][:max(roles - 2, 2)]  # a single number goes in twice: scipy 1.17 fails on one alone

    def of(chosen: Any) -> tuple[Any, Any]:
        part = table[:, chosen]
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            got = stats.sobol_indices(func={"f_A": part[:1], "f_B": part[1:2], "f_AB": part[swapped, None, :]}, n=count)
        return np.ravel(got.first_order)[:roles - 2], np.ravel(got.total_order)[:roles - 2]

    first, total = of(np.arange(count))
    generator = np.random.default_rng(seed)
    again = np.array([of(generator.integers(0, count, count)) for _ in range(redrawn)])
    tail = 50.0 * (1.0 - LEVEL)
    limits = np.nanpercentile(again, (tail, 100.0 - tail), axis=0)
    return Indices(first, total, limits[:, 0], limits[:, 1])


def of_function(function: Callable[[Any], Any], lows: Sequence[float], highs: Sequence[float], runs: int,
                seed: int = 1) -> Indices:
    """Return the indices of any function of numbers spread evenly from `lows` to `highs`, by the very steps of a study.

    function: takes an array of shape (runs, numbers) and returns one number a row; runs: coils, a power of two; seed: of the
    points. This is how the machinery is held against functions whose indices are known.
    """
    from coilmodel.study.draw import values
    from coilmodel.study.plan import Plan, Varied

    vary = tuple(Varied(f"x{place}", "1", "uniform", (("low", low), ("high", high)), low)
                 for place, (low, high) in enumerate(zip(lows, highs, strict=True)))
    plan = Plan(vary, runs=runs, seed=seed)
    return indices(function(values(plan, 0, plan.total)), plan.roles)


def _causes(study: Study, wrong: Any, asked: Any) -> tuple[Cause, ...]:
    roles = len(study.varied) + 2 if study.plan["causes"] else 1
    # Too many repeats of too many coils would take minutes and change nothing: the bars are narrow there.
    redrawn = REDRAWN if len(wrong) <= 500_000 else REDRAWN // 3
    got = indices(wrong, roles, redrawn) if roles > 1 else None
    found = []
    for place, one in enumerate(study.varied):
        values = study[one["name"]][asked]
        edges = np.quantile(values, np.linspace(0.0, 1.0, PARTS + 1)) if len(values) else np.zeros(PARTS + 1)
        parts = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, PARTS - 1)
        shares = [_mean(wrong[asked][parts == part]) for part in range(PARTS)]
        nothing = (float("nan"),) * 3
        found.append(Cause(
            one["name"], one["unit"], one["nominal"],
            _three(got.first, got.first_limits, place) if got else nothing,
            _three(got.total, got.total_limits, place) if got else nothing,
            tuple(float(edge) for edge in edges), tuple(shares)))
    return tuple(sorted(found, key=_strength, reverse=True))


def _strength(cause: Cause) -> float:
    """Return what causes are put in order by: the total index, or, where none was sought, how much the share moves."""
    if np.isfinite(cause.total[0]):
        return cause.total[0]
    finite = [value for value in cause.shares if np.isfinite(value)]
    return max(finite) - min(finite) if finite else 0.0


def _three(value: Any, limits: Any, place: int) -> tuple[float, float, float]:
    return float(value[place]), float(limits[0][place]), float(limits[1][place])


def _map(study: Study, wrong: Any, asked: Any) -> Map | None:
    """Return the map over the two springs' preloads where both vary, else over the first two numbers that do; None for one."""
    names = [one["name"] for one in study.varied]
    if len(names) < 2:
        return None
    x, y = ("cushion.preload", "vibrator.preload") if {"cushion.preload", "vibrator.preload"} <= set(names) else names[:2]
    across, up = study[x][asked], study[y][asked]
    if not len(across):
        return None
    x_edges, y_edges = (_cells_of(values) for values in (across, up))
    every, _, _ = np.histogram2d(up, across, (y_edges, x_edges))
    ill, _, _ = np.histogram2d(up, across, (y_edges, x_edges), weights=wrong[asked].astype(float))
    cells = tuple(tuple(float(a / n) if n >= 5 else None for a, n in zip(bad, all_, strict=True))
                  for bad, all_ in zip(ill, every, strict=True))
    return Map(x, y, tuple(map(float, x_edges)), tuple(map(float, y_edges)), cells)


def _cells_of(values: Any) -> Any:
    low, high = np.quantile(values, (0.005, 0.995))
    return np.linspace(float(low), float(high), CELLS + 1)


def _mean(values: Any) -> float:
    return float(np.mean(values)) if len(values) else float("nan")


def from_dict(told: Mapping[str, Any]) -> Findings:
    """Return the findings that `Findings.as_dict` was made of. told: plain data, as read from JSON."""
    kept = dict(told)
    for name in ("unsound", "misfire", "multiple", "always"):
        kept[name] = Share(**kept[name])
    tuples = ("first", "total", "edges", "shares")
    kept["causes"] = tuple(Cause(**{**cause, **{key: tuple(cause[key]) for key in tuples}}) for cause in kept["causes"])
    if kept["map"] is not None:
        own = kept["map"]
        kept["map"] = Map(own["x"], own["y"], tuple(own["x_edges"]), tuple(own["y_edges"]),
                          tuple(tuple(row) for row in own["cells"]))
    return Findings(**kept)
