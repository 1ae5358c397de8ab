"""The judge: the odds of a coil's causes, and the measurement that would tell most, for the page and the command alike.

A Bayesian comparison by simulation: for each cause some imagined coils (priors of causes.py) were run beforehand on the benches
of BENCHES and stored (coilbench/imagined.json, made by fill_store.py); how well their readings agree with those taken, by
stated measurement errors, averaged over a cause's imagined coils, is that cause's evidence; evidence times prior, made to add
up to one, are the odds. A reading on another bench is left out, and said, unless the stored coils have been run there (`learn`).

Beside the causes stands OTHER, something else or two faults. It takes over where no single cause explains all readings: its
evidence is that of readings each of which some cause of the list explains by itself, half of it for all of them apart, half
for those of the running coil together (one fault that shows as it runs, another that shows at rest). Where coils with two faults
have been imagined too (of other makes, see makes.py), most of its evidence is theirs. Standard library only.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from operator import mul
from typing import Any

from coilbench import carried
from coilbench.asks import CONFIRM, CONFIRMING, Ask, Setting, asked, candidates
from coilbench.causes import (
    ASSUMED_GAP,
    BY_KEY,
    CAUSES,
    HYPOTHESES,
    SOUND_GRID,
    Cause,
    Coil,
    beforehand,
    spoilt,
)
from coilbench.errors import FREEDOM, LEADING, discharges, of_running, prediction, slip_density
from coilbench.errors import log_likelihoods as densities
from coilbench.kinds import BY_KEY as KINDS
from coilbench.running import OUTCOME
from coilbench.sheet import Bench, Reading
from coilbench.stored_fit import fitted
from coilbench.twos import Pairs
from coilbench.verdict import Fitted, Judged, Next, Verdict
from coilbench.weighing import log_mean, log_sum, quantile, weights_of
from coilmodel import Machine

FILE = "coilbench/imagined.json"
GAP = ASSUMED_GAP
BENCHES = (*(Bench(rpm, 1.0) for rpm in (150.0, 200.0, 300.0, 450.0, 600.0)), Bench(450.0, 0.7), Bench(450.0, 1.3),
           Bench(volts=6.0), Bench(volts=12.0), Bench(volts=9.0, hertz=50.0), CONFIRMING.bench)
"""The benches that are stored: magneto speeds, a weak and a strong drive, two batteries, a transformer, and the one that
confirms; all with a gap of GAP."""
SETTINGS = tuple(Setting(bench, GAP) for bench in BENCHES)
BESIDES = "leakage", "gap", "supply"
"""What a stored coil has besides its factors on the nominal one's numbers: ohm of leakage, gap and supply as in causes.Coil."""
STEP = 0.01
"""What one step of a stored number is in SI: a third of the smallest stated error at most."""
NEAR = 0.02  # a speed, drive or voltage within this share of a stored bench's counts as taken there
NEAR_GAP = 0.05  # the same for the gap's breakdown, whose own spread is wider


def kept(setting: Setting) -> tuple[str, ...]:
    """Return the columns of an outcome that are stored for `setting`: a battery gives no pulses to count sparks in."""
    return tuple(name for kind in KINDS.values() for name, _ in kind.columns if not (kind.pulses and _battery(setting.bench)))


def _battery(bench: Bench) -> bool:
    return bench.volts > 0.0 and not bench.hertz


# ------------------------------------------------------------------------------------------------- the stored coils
Centre = Callable[[Ask], tuple[Sequence[float], float, float]]


@dataclass(eq=False)
class Twos:
    """Imagined coils with two faults, as a store of other makes weighs them; lean, centre, temper : as for Imagined."""

    pairs: Pairs
    lean: list[float] = field(default_factory=list)
    centre: Centre | None = None
    temper: float = 1.0


@dataclass(eq=False)
class Imagined:
    """The stored coils, cause after cause, and their outcomes by setting (a row of running.OUTCOME for each coil).

    A store of other makes than the course's own has besides (makes.py): `lean`, the logarithm of how much each coil counts
    beforehand; `centre`, given a question what each coil's reading is multiplied by and by how much its error is wider (a share
    and a fixed part); `temper`, the power to which the likelihood of a reading of the running coil is taken, since a make is not
    one of the imagined ones (a coil at rest shows its own number, whatever the make: that counts in full); `twos`, the same for
    coils with two faults.
    """

    coils: list[Coil]
    of: list[int]  # place in CAUSES of each coil's cause
    runs: dict[Setting, list[list[float]]]
    first: list[int] = field(default_factory=list)  # where each cause's coils begin; one more entry for the end
    lean: list[float] = field(default_factory=list)
    centre: Centre | None = None
    temper: float = 1.0
    twos: Twos | None = None

    def __post_init__(self) -> None:
        self.first = [self.of.index(place) for place in range(len(CAUSES))] + [len(self.of)]

    def own(self, place: int) -> range:
        """Return the places of the coils whose cause stands at `place` in CAUSES."""
        return range(self.first[place], self.first[place + 1])


def from_data(data: dict[str, Any], nominal: Machine | None = None) -> Imagined:
    """Return the coils and outcomes in the content of the file."""
    base = nominal or Machine()
    bases = []
    for numbers in data["bases"]:
        factors = dict(zip(data["numbers"], numbers, strict=True))
        leakage, gap, supply = (factors.pop(name) for name in BESIDES)
        bases.append(Coil(base.scaled(**factors).but(condenser={"leakage_resistance": leakage}), 1.0, gap, supply))
    coils, of = [], []
    for place, cause in enumerate(CAUSES):
        evens = data["evens"][cause.key]
        coils += [spoilt(coil, cause, even) for coil, even in zip(bases, evens, strict=True)]
        of += [place] * len(evens)
    if [tuple(kept(setting)) for setting in SETTINGS] != [tuple(one) for one in data["outcomes"]]:
        raise ValueError(f"{FILE} is of other benches than lesson 10 asks for; `python -m coilbench.fill_store` makes it "
                         "again.")
    return Imagined(coils, of, {setting: rows_of(one) for setting, one in zip(SETTINGS, data["outcomes"], strict=True)})


def rows_of(columns: dict[str, list[int | None]]) -> list[list[float]]:
    """Return the outcomes of one setting, a row for each coil; nan where a coil gives none and in columns that are not stored."""
    count = len(next(iter(columns.values())))
    full = [[math.nan if number is None else number * STEP for number in columns[name]] if name in columns
            else [math.nan] * count for name in OUTCOME]
    return [list(row) for row in zip(*full, strict=True)]


@cache
def imagined() -> Imagined:
    """Return the stored coils, read once. Raises carried.FileWanted in a page that has not fetched the file yet."""
    return from_data(json.loads(carried.text_of(FILE)))


# ------------------------------------------------------------------------------------- from sheet to stored benches
def stored_setting(setting: Setting, store: Imagined | None = None) -> Setting | None:
    """Return the setting that `setting` is close enough to, of those where the stored coils were run; None: there is none."""
    runs = (store or imagined()).runs
    if setting in runs:
        return setting
    for one in SETTINGS:
        if one not in runs:
            continue
        mine, its = setting.bench, one.bench
        pairs = ((mine.rpm, its.rpm), (mine.drive, its.drive), (mine.volts, its.volts), (mine.hertz, its.hertz))
        if mine.aid == its.aid and all(abs(a - b) <= NEAR * b for a, b in pairs):
            return one if abs(setting.gap - one.gap) <= NEAR_GAP * one.gap else None
    return None


def learn(setting: Setting, rows: list[list[float]], store: Imagined | None = None) -> None:
    """Take what the stored coils read on another bench. rows : of running.OUTCOME, one for each of `everyone`, in order."""
    own = store or imagined()
    if len(rows) != len(everyone(own)):
        raise ValueError(f"stored: {len(rows)} outcomes for {len(everyone(own))} imagined coils.")
    own.runs[setting] = rows[:len(own.coils)]
    if own.twos:
        own.twos.pairs.runs[setting] = rows[len(own.coils):]


def everyone(store: Imagined) -> list[Coil]:
    """Return all coils of a store: those of its causes, and after them those with two faults."""
    return [*store.coils, *(store.twos.pairs.coils if store.twos else ())]


def known_benches(store: Imagined | None = None) -> str:
    """Return in words the benches on which a store's coils were run beforehand."""
    runs = (store or imagined()).runs
    known = [setting.bench for setting in SETTINGS if setting in runs]
    benches = [bench for bench in known if not bench.aid]
    helped = "".join(f"; {bench.say()}" for bench in known if bench.aid)
    speeds = ", ".join(f"{bench.rpm:g}" for bench in benches if bench.rpm and bench.drive == 1.0)
    drives = " and ".join(f"{100 * bench.drive:g}" for bench in benches if bench.rpm and bench.drive != 1.0)
    volts = " or ".join(f"{bench.volts:g}" for bench in benches if _battery(bench))
    mains = " and ".join(f"{bench.volts:g} V, {bench.hertz:g} Hz" for bench in benches if bench.hertz)
    return (f"a magneto at {speeds} rpm and drive 100 %{f', at 450 rpm also at {drives} %' if drives else ''}"
            f"{f'; a battery of {volts} V' if volts else ''}{f'; a transformer of {mains}' if mains else ''}{helped}; each "
            f"with a gap of {GAP / 1e3:g} kV")


def settings_of(readings: Sequence[Reading]) -> list[Setting]:
    """Return the settings on which a coil's readings were taken."""
    gap = next((reading.value for reading in readings if reading.kind == "gap"), GAP)
    return list(dict.fromkeys(setting for reading in readings if (setting := asked(reading, gap).setting)))


def sort_out(readings: Sequence[Reading], store: Imagined | None = None) -> tuple[list[tuple[Reading, Ask]], list[str]]:
    """Return the readings that can be judged here with their questions, and sentences about those that cannot."""
    gap_reading = next((reading for reading in readings if reading.kind == "gap"), None)
    gap = gap_reading.value if gap_reading else GAP
    used, strange = [], []
    for reading in readings:
        if reading.kind in ("gap", "adjusted"):
            continue
        ask = asked(reading, gap)
        if ask.setting is None:
            used.append((reading, ask))
        elif (setting := stored_setting(ask.setting, store)) is not None:
            used.append((reading, Ask(ask.kind, setting)))
        else:
            strange.append(reading)
    if not strange:
        return used, []
    where = "; ".join(dict.fromkeys(reading.bench.say() for reading in strange if reading.bench))
    gaps = f", gap {gap / 1e3:g} kV" if abs(gap - GAP) > NEAR_GAP * GAP else ""
    count = "One reading was" if len(strange) == 1 else f"{len(strange)} readings were"
    return used, [f"{count} taken on a bench that this page does not know ({where}{gaps}) and left out. It knows "
                  f"{known_benches(store)}. The command python3 course.py bench runs any bench."]


# ------------------------------------------------------------------------------------------------------ likelihoods
@lru_cache(maxsize=64)
def predictions(ask: Ask, store: Imagined | Twos | None = None) -> tuple[list[float], list[float]]:
    """Return what each stored coil reads when asked, and its error's scale; nan where the model gives no reading."""
    store = store or imagined()
    values, scales = store.pairs.predictions(ask) if isinstance(store, Twos) else _of_coils(ask, store)
    if store.centre is not None:
        factors, share, fixed = store.centre(ask)
        scales = [math.hypot(scale * max(factor, 1e-3), share * abs(value) * factor, fixed)
                  for value, scale, factor in zip(values, scales, factors, strict=True)]
        values = [value * factor for value, factor in zip(values, factors, strict=True)]
    return values, scales


def _of_coils(ask: Ask, store: Imagined) -> tuple[list[float], list[float]]:
    if ask.setting is not None:
        return of_running(ask, store.runs[ask.setting])
    pairs = [prediction(ask, coil, None) for coil in store.coils]
    return [value for value, _ in pairs], [scale for _, scale in pairs]


@lru_cache(maxsize=64)
def log_likelihoods(ask: Ask, value: float, store: Imagined | None = None) -> list[float]:
    """Return the logarithm of the density of an answer under each stored coil."""
    store = store or imagined()
    found = densities(value, ask, *predictions(ask, store))
    if ask.kind == "self_discharge":
        for place, cause in enumerate(CAUSES):
            if cause.key != "leakage":
                for number in store.own(place):
                    found[number] = _whatever_it_leaks(ask, value, store.coils[number].machine.condenser.capacitance)
    return _tempered(found, ask, store)


def _tempered(logs: list[float], ask: Ask, store: Imagined | Twos) -> list[float]:
    return logs if store.temper == 1.0 or ask.setting is None else [store.temper * log for log in logs]


@lru_cache(maxsize=64)
def log_likelihoods_of_twos(ask: Ask, value: float, twos: Twos) -> list[float]:
    """Return the logarithm of the density of an answer under each stored coil with two faults."""
    if ask.kind == "self_discharge":
        leaky = densities(value, ask, *predictions(ask, twos))
        capacities = twos.pairs.numbers("condenser_capacitance")
        return [log if leaks else _whatever_it_leaks(ask, value, capacity)
                for log, leaks, capacity in zip(leaky, twos.pairs.have("leakage"), capacities, strict=True)]
    return _tempered(densities(value, ask, *predictions(ask, twos)), ask, twos)




@lru_cache(maxsize=4096)
def _whatever_it_leaks(ask: Ask, value: float, capacity: float) -> float:
    """Return the log-likelihood of a self-discharge averaged over the whole prior of a sound condenser's leakage."""
    logs = densities(value, ask, *discharges(ask, [capacity] * len(SOUND_GRID), SOUND_GRID))
    return math.log(sum(map(math.exp, logs)) / len(logs))


REPEATS = 200  # of the bootstrap


@cache
def _lots(place: int, count: int) -> list[list[float]]:
    """Return the bootstrap's random weights of a hypothesis' `count` coils: REPEATS times, each adding up to one (Dirichlet)."""
    draw, log = random.Random(97 + place).random, math.log
    lots = [[-log(1.0 - draw()) for _ in range(count)] for _ in range(REPEATS)]
    return [[weight / total for weight in lot] for lot in lots for total in (sum(lot),)]


@lru_cache(maxsize=256)
def _by_itself(ask: Ask, value: float, store: Imagined) -> float:
    """Return the log evidence of one answer, whichever of CAUSES gave it."""
    return _whichever(log_likelihoods(ask, value, store), store)


def _whichever(logs: Sequence[float], store: Imagined) -> float:
    """Return the log evidence over all CAUSES, each by its prior. logs : log-likelihood of each stored coil."""
    whole = sum(cause.prior for cause in CAUSES)
    logs = _leant(logs, store)
    return log_sum([math.log(cause.prior / whole) + log_mean([logs[number] for number in store.own(place)])
                     for place, cause in enumerate(CAUSES)])


def _leant(logs: Sequence[float], store: Imagined) -> Sequence[float]:
    """Return logarithms of likelihoods with what each coil counts beforehand."""
    return [log + own for log, own in zip(logs, store.lean, strict=True)] if store.lean else logs


def evidence_of_other(used: Sequence[tuple[Reading, Ask]], each: Sequence[Sequence[float]],
                      store: Imagined | None = None) -> float:
    """Return the log evidence of OTHER. each : the log-likelihoods of every stored coil, for each of the readings `used`."""
    store = store or imagined()
    alone = [_by_itself(ask, reading.value, store) for reading, ask in used]
    running = [logs for logs, (_, ask) in zip(each, used, strict=True) if ask.setting is not None]
    together = sum(log for log, (_, ask) in zip(alone, used, strict=True) if ask.setting is None)
    if running:
        together += _whichever([sum(logs) for logs in zip(*running, strict=True)], store)
    return log_sum([sum(alone), together]) - math.log(2.0)


SOMETHING_ELSE = 0.2
"""Share of OTHER that is for what nobody has imagined, where coils with two faults have been: our judgement, no source."""


def log_likelihoods_of_all_twos(used: Sequence[tuple[Reading, Ask]], store: Imagined) -> list[float]:
    """Return the log-likelihood of all readings under each coil with two faults, with what it counts beforehand; or nothing."""
    if store.twos is None:
        return []
    each = [log_likelihoods_of_twos(ask, reading.value, store.twos) for reading, ask in used]
    total = [sum(logs) for logs in zip(*each, strict=True)]
    return [log + own for log, own in zip(total, store.twos.lean, strict=True)] if store.twos.lean else total


def odds(total: Sequence[float], other: float, prior: Mapping[str, float], store: Imagined | None = None,
         twos: Sequence[float] = ()) -> list[float]:
    """Return the odds of each of HYPOTHESES from the log-likelihoods of all coils and OTHER's log evidence.

    twos : of `log_likelihoods_of_all_twos`; with them `other` is the evidence of what nobody has imagined.

    They are averaged over what other imagined coils might have said (Bayesian bootstrap): with few imagined coils near the
    readings a cause's evidence is a matter of luck, and averaging over the luck keeps the odds from being surer than they may be
    (Rubin, The Bayesian bootstrap, Annals of Statistics 9, 1981, 130, from memory).
    """
    store = store or imagined()
    most = max(*total, *twos, other)
    likely = [math.exp(log - most) for log in total]
    weights = [prior[cause.key] for cause in HYPOTHESES]
    evidence = []
    for place in range(len(CAUSES)):
        own = likely[store.first[place]:store.first[place + 1]]
        telling = [number for number, share in enumerate(own) if share > 1e-12]
        if len(telling) > len(own) // 3:
            evidence.append([sum(map(mul, lot, own)) for lot in _lots(place, len(own))])
        else:
            evidence.append([sum(lot[number] * own[number] for number in telling) for lot in _lots(place, len(own))])
    something = math.exp(other - most)
    if twos:  # those of one design stand or fall together
        each = store.twos.pairs.each if store.twos else 1
        by_design = [sum(math.exp(log - most) for log in twos[start:start + each]) / each for start in range(0, len(twos), each)]
        evidence.append([SOMETHING_ELSE * something + (1.0 - SOMETHING_ELSE) * sum(map(mul, lot, by_design))
                         for lot in _lots(len(CAUSES), len(by_design))])
    else:
        evidence.append([something] * REPEATS)
    found = [0.0] * len(HYPOTHESES)
    for repeat in zip(*evidence, strict=True):
        weighed = [weight * (share + 1e-300) for weight, share in zip(weights, repeat, strict=True)]
        whole = sum(weighed)
        found = [old + new / whole / REPEATS for old, new in zip(found, weighed, strict=True)]
    return found


# ------------------------------------------------------------------------------------------------------ the verdict
def judge(readings: Sequence[Reading], next_steps: bool = True, fit: bool = True, among: Sequence[Ask] | None = None,
          without: int | None = None, prior: Mapping[str, float] | None = None, store: Imagined | None = None) -> Verdict:
    """Return the verdict on one coil; readings that are of no stored bench are passed over (`sort_out` says which).

    next_steps, fit : whether to work these out too (with the fit the fitted machine); among : the readings that may be asked for
    next (all the usual ones); without : a stored coil that may not explain the readings (it may be the very one that gave them);
    prior : what is likely beforehand, by key of HYPOTHESES (causes.beforehand); store : the imagined coils (the course's make).
    Raises ValueError where no reading is left.
    """
    store = store or imagined()
    used, _ = sort_out(readings, store)
    if not used:
        raise ValueError("bench: a coil without a reading cannot be judged.")
    gap = next((reading for reading in readings if reading.kind == "gap"), None)
    each = [log_likelihoods(ask, reading.value, store) for reading, ask in used]
    total = list(_leant([sum(logs) for logs in zip(*each, strict=True)], store))
    if without is not None:
        total[without] = -math.inf
    everything = odds(total, evidence_of_other(used, each, store), prior or beforehand(), store,
                      log_likelihoods_of_all_twos(used, store))
    single = 1.0 - everything[-1]
    shares = [share / single for share in everything[:-1]]  # of the single causes among themselves
    top = max(range(len(shares)), key=shares.__getitem__)
    own = store.own(top)
    weights = weights_of([total[number] for number in own])
    worst = min(range(len(used)), key=lambda place: sum(map(mul, weights, (each[place][number] for number in own))))
    by_odds = sorted(range(len(everything)), key=lambda place: -everything[place])
    numbers: tuple[Fitted, ...] = ()
    carried = 0.0
    if fit:
        numbers, carried = fitted(total, shares, used, store)
    severities = [store.coils[number].severity for number in own]
    return Verdict(
        judged=tuple(against_well_set(ask, reading, store) for reading, ask in used),
        odds=tuple((HYPOTHESES[place], everything[place]) for place in by_odds),
        severity=(quantile(severities, weights, 0.5), quantile(severities, weights, 0.05),
                  quantile(severities, weights, 0.95)),
        likeness=store.coils[own[weights.index(max(weights))]],
        fit=_fit(top, [ask for _, ask in used], log_mean([total[number] for number in own]), store) if fit else 1.0,
        worst=used[worst][0] if len(used) > 1 else None,
        weight=1.0 / sum(weight * weight for weight in weights),  # Kish's effective number
        next_steps=tuple(replace(step, sureness=single * step.sureness) for step in what_next(total, shares, used, among, store))
        if next_steps else (),
        gap=gap.value if gap else GAP, gap_assumed=gap is None, fitted=numbers, carried=carried, twos=store.twos is not None,
        relative=store.centre is not None)


def weights_on(readings: Sequence[Reading], verdict: Verdict) -> list[float]:
    """Return how much each stored coil stands for the one with `readings`: by its cause's odds and its own agreement."""
    used, _ = sort_out(readings)
    total = [sum(logs) for logs in zip(*(log_likelihoods(ask, reading.value) for reading, ask in used), strict=True)]
    shares = dict(verdict.odds)
    found = [0.0] * len(total)
    for place, cause in enumerate(CAUSES):
        own = imagined().own(place)
        for number, weight in zip(own, weights_of([total[number] for number in own]), strict=True):
            found[number] = shares[cause] * weight
    return found


# Student's t of 5 degrees of freedom has a closed form (M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions,
# 1964, 26.7.3, from memory; tested against scipy).
def t_share(t: float) -> float:
    """Return the share of Student's t (FREEDOM degrees of freedom) below `t`."""
    if FREEDOM != 5.0:
        raise ValueError("stored: the closed form here is that of 5 degrees of freedom.")
    angle = math.atan(t / math.sqrt(5.0))
    return 0.5 + (angle + math.sin(angle) * (math.cos(angle) + 2.0 / 3.0 * math.cos(angle) ** 3)) / math.pi


@cache
def t_quantiles(count: int) -> list[float]:
    """Return the middles of `count` equally likely parts of Student's t, ascending."""
    found = []
    for part in range(count):
        low, high = -60.0, 60.0
        while high - low > 1e-10:
            middle = 0.5 * (low + high)
            low, high = (middle, high) if t_share(middle) < (part + 0.5) / count else (low, middle)
        found.append(0.5 * (low + high))
    return found


@lru_cache(maxsize=64)
def well_set_range(ask: Ask, store: Imagined | None = None) -> tuple[float, float] | None:
    """Return the limits (SI) that hold nine in ten of what well-set coils read, errors included; None: they read nothing."""
    store = store or imagined()
    values, scales = predictions(ask, store)
    own = store.own(CAUSES.index(BY_KEY["well_set"]))
    there = [number for number in own if not math.isnan(values[number])]
    if len(there) < 0.1 * len(own):
        return None
    most = ask.start_volts if ask.kind == "self_discharge" else math.inf
    spread = sorted(min(max(values[number] + scales[number] * off, 0.0), most) for number in there for off in t_quantiles(40))

    def at(share: float) -> float:
        place = share * (len(spread) - 1)
        below = spread[int(place)]
        return below + (place - int(place)) * (spread[min(int(place) + 1, len(spread) - 1)] - below)

    return at(0.05), at(0.95)


def against_well_set(ask: Ask, reading: Reading, store: Imagined | None = None) -> Judged:
    """Return one reading against what well-set coils give."""
    limits = well_set_range(ask, store)
    if limits is None:
        return Judged(reading, math.nan, math.nan, "above", never=True)
    side = "below" if reading.value < limits[0] else "above" if reading.value > limits[1] else "within"
    return Judged(reading, *limits, side)


SHEETS = 100


def _fit(top: int, asks: Sequence[Ask], observed: float, store: Imagined) -> float:
    """Return how many in one of the likeliest cause's own imagined sheets have less evidence than the coil's has."""
    own = list(store.own(top))
    draw = random.Random(1931)
    totals = [[0.0] * len(own) for _ in own[:SHEETS]]
    for ask in asks:
        values, scales = predictions(ask, store)
        for sheet, number in enumerate(own[:SHEETS]):
            if not math.isnan(values[number]):
                answer = values[number] + scales[number] * t_quantiles(200)[int(200 * draw.random())]
                logs = _of_cause(top, ask, answer, own, store)
                totals[sheet] = [old + new for old, new in zip(totals[sheet], logs, strict=True)]
    for sheet in range(len(totals)):
        totals[sheet] = list(_leant_of(totals[sheet], own, store))
        del totals[sheet][sheet]  # it must not explain itself
    return sum(log_mean(logs) <= observed for logs in totals) / len(totals)


def _leant_of(logs: Sequence[float], own: Sequence[int], store: Imagined) -> Sequence[float]:
    return [log + store.lean[number] for log, number in zip(logs, own, strict=True)] if store.lean else logs


def _of_cause(top: int, ask: Ask, answer: float, own: Sequence[int], store: Imagined) -> list[float]:
    if ask.kind == "self_discharge" and CAUSES[top].key != "leakage":
        # One sound condenser for all: which capacity it has moves the volts left by less than the meter's error.
        middle = sorted(store.coils[number].machine.condenser.capacitance for number in own)[len(own) // 2]
        return [_whatever_it_leaks(ask, answer, middle)] * len(own)
    values, scales = predictions(ask, store)
    return _tempered(densities(answer, ask, [values[number] for number in own], [scales[number] for number in own]), ask, store)


# --------------------------------------------------------------------------------------------- what to measure next
KEPT = 20  # coils of each cause, the best agreeing, that stand for it when the next step is chosen
TRUTHS = 40  # of these, drawn by their odds, give imagined answers
ANSWERS = 3  # each of them gives so many


def what_next(total: Sequence[float], shares: Sequence[float], used: Sequence[tuple[Reading, Ask]],
              among: Sequence[Ask] | None = None, store: Imagined | None = None) -> list[Next]:
    """Return the readings not taken yet, the most telling first: by the doubt (bits) each is expected to take away."""
    store = store or imagined()
    numbers: list[int] = []
    weights: list[float] = []
    truths: list[tuple[int, float]] = []
    for place, share in enumerate(shares):
        if share < 0.01:
            continue
        best = sorted(store.own(place), key=lambda number: -total[number])[:KEPT]
        own = weights_of([total[number] for number in best])
        drawn = _spread_over(own, math.ceil(TRUTHS * share))
        truths += [(len(numbers) + one, share / len(drawn)) for one in drawn]
        numbers += best
        weights += [share * weight for weight in own]
    whole = sum(weights)
    weights = [weight / whole for weight in weights]
    truths = [(one, weight / whole) for one, weight in truths]
    taken = {(ask.kind, ask.setting) for _, ask in used}
    asks = [ask for ask in (usual_asks(store) if among is None else among) if (ask.kind, ask.setting) not in taken]
    if (among is None and CAUSES[max(range(len(shares)), key=shares.__getitem__)].lasting
            and (CONFIRM.kind, CONFIRM.setting) not in taken and CONFIRMING in store.runs):
        asks.append(CONFIRM)
    causes = [store.of[number] for number in numbers]
    before = doubt(_by_cause(weights, causes))
    found = []
    for ask in asks:
        after, sureness = _telling(ask, numbers, weights, causes, truths, store)
        found.append(Next(ask, min(before, max(0.0, before - after)), sureness))
    return sorted(found, key=lambda step: -step.bits)


def usual_asks(store: Imagined | None = None) -> list[Ask]:
    """Return the readings that a person could take next at the benches that are stored."""
    runs = (store or imagined()).runs
    return [ask for ask in candidates(GAP) if ask.setting is None or ask.setting in SETTINGS and ask.setting in runs]


def before_any(among: Sequence[Ask] | None = None) -> tuple[list[float], list[Next]]:
    """Return the odds of each of HYPOTHESES before any reading, and what to measure first."""
    everything = list(beforehand().values())
    shares = [share / sum(everything[:-1]) for share in everything[:-1]]
    return everything, what_next([0.0] * len(imagined().coils), shares, (), among)


def _spread_over(weights: Sequence[float], count: int) -> list[int]:
    """Return `count` places in a list of weights that adds up to one, each place as often as its weight says."""
    places, passed, place = [], 0.0, 0
    for step in range(count):
        while passed + weights[place] < (step + 0.5) / count and place < len(weights) - 1:
            passed += weights[place]
            place += 1
        places.append(place)
    return places


def _by_cause(weights: Sequence[float], causes: Sequence[int]) -> list[float]:
    found: dict[int, float] = {}
    for weight, cause in zip(weights, causes, strict=True):
        found[cause] = found.get(cause, 0.0) + weight
    return list(found.values())


def _telling(ask: Ask, numbers: Sequence[int], weights: Sequence[float], causes: Sequence[int],
             truths: Sequence[tuple[int, float]], store: Imagined | None = None) -> tuple[float, float]:
    """Return the doubt (bits) left after `ask` is answered and the likeliest cause's odds then, both as expected.

    numbers, weights, causes : the coils that may explain an answer; truths : which of them give answers, and their weights
    """
    values, scales = predictions(ask, store or imagined())
    slip, lead, power = slip_density(ask), math.exp(LEADING), -0.5 * (FREEDOM + 1.0)
    seen = [number for number in range(len(numbers)) if not math.isnan(values[numbers[number]])]
    heard = [(values[numbers[one]], 1.0 / scales[numbers[one]], weights[one] * lead / scales[numbers[one]]) for one in seen]
    by_slip = [weight * slip for weight in weights]
    # as the judge does: what a sound condenser leaks says nothing of the rest of its coil
    sound = ask.kind == "self_discharge"
    alike = [place for place, cause in enumerate(causes) if sound and CAUSES[cause].key != "leakage"]
    of_alike = sum(weights[place] for place in alike)
    silent = [weight if math.isnan(values[number]) else spare  # "it never parts" is an answer too
              for number, weight, spare in zip(numbers, weights, by_slip, strict=True)]
    left = sureness = 0.0
    for one, weight in truths:
        value, scale = values[numbers[one]], scales[numbers[one]]
        answers = [None] if math.isnan(value) else [value + scale * off for off in t_quantiles(ANSWERS)]
        for answer in answers:
            likely = silent
            if answer is not None:
                likely = by_slip.copy()
                for place, (middle, sharp, high) in zip(seen, heard, strict=True):
                    likely[place] += high * (1.0 + ((answer - middle) * sharp) ** 2 / FREEDOM) ** power
                mean = sum(likely[place] for place in alike) / of_alike if alike else 0.0
                for place in alike:
                    likely[place] = mean * weights[place]
            shares = _by_cause(likely, causes)
            whole = sum(shares)
            shares = [share / whole for share in shares]
            left += weight * doubt(shares) / len(answers)
            sureness += weight * max(shares) / len(answers)
    return left, sureness


def doubt(shares: Sequence[float]) -> float:
    """Return the entropy of odds in bits."""
    return abs(sum(share * math.log2(share) for share in shares if share > 0.0))


# --------------------------------------------------------------------------------------------------- a hidden coil
def answer(ask: Ask, number: int, draw: random.Random) -> float | None:
    """Return what a person would read on stored coil `number`, seeded error included; None where there is nothing to read."""
    values, scales = predictions(ask)
    if math.isnan(values[number]):
        return None
    read = values[number] + scales[number] * t_quantiles(40)[int(40 * draw.random())]
    low, high = (0.0, ask.start_volts) if ask.kind == "self_discharge" else (KINDS[ask.kind].low, KINDS[ask.kind].high)
    return min(max(read, low), high)


def cause_of(number: int) -> Cause:
    """Return what is wrong with stored coil `number`."""
    return CAUSES[imagined().of[number]]
