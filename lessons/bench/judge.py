"""From a coil's readings to the odds of its causes, and to the measurement that would tell most.

A Bayesian comparison by simulation: for each cause many imagined coils (priors of causes.py) are run on the very benches of the
sheet; how well their predicted readings agree with those taken, by stated measurement errors, averaged over a cause's imagined
coils, is that cause's evidence; evidence times prior, made to add up to one, are the odds. One fault at a time: a coil with
two is noticed (`fit`), not resolved.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np
from scipy.special import logsumexp
from scipy.stats import t as student

from lessons.bench.asks import Ask, asked, candidates
from lessons.bench.causes import ASSUMED_GAP, BY_KEY, SOUND_LEAKAGE, Coil
from lessons.bench.errors import COUNTED, ERRORS, FREEDOM, LEADING, STILL, STOPWATCH, VOLTMETER, prediction, slip_density
from lessons.bench.fitted import fitted
from lessons.bench.predict import Library
from lessons.bench.running import COLUMN, PULSES, outcome
from lessons.bench.sheet import BY_KEY as KINDS
from lessons.bench.sheet import Reading
from lessons.bench.verdict import Judged, Next, Number, Verdict

Numbers = np.ndarray

REPEATS = 200  # of the bootstrap


# ------------------------------------------------------------------------------------------------ what would be read
def predicted(ask: Ask, coils: Sequence[Coil], outcome_rows: Numbers | None) -> tuple[Numbers, Numbers]:
    """Return the readings that `coils` give to `ask` and their errors' scale, each of shape (coils,), SI units."""
    if outcome_rows is not None:
        value = outcome_rows[:, COLUMN[ask.kind]]
        error = ERRORS[ask.kind]
        scale = error.share * np.abs(value) + error.fixed
        if ask.kind == "sparks":  # coils that fire unsteadily are counted with more luck; the model's own run is short too
            scale = np.sqrt(scale**2 + outcome_rows[:, COLUMN["sparks_variance"]] * (1.0 / COUNTED + 1.0 / PULSES))
        return value, scale
    if ask.kind == "self_discharge":
        capacity = np.array([coil.machine.condenser.capacitance for coil in coils])
        leakage = np.array([coil.machine.condenser.leakage_resistance for coil in coils])
        return discharge(ask, capacity, leakage)
    part, name = STILL[ask.kind]
    value = np.array([getattr(getattr(coil.machine, part), name) for coil in coils])
    return value, ERRORS[ask.kind].share * value + ERRORS[ask.kind].fixed


def discharge(ask: Ask, capacity: Numbers, leakage: Numbers) -> tuple[Numbers, Numbers]:
    """Return the volts left after a self-discharge and their error's scale; the voltmeter lies in parallel if it stays on."""
    resistance = leakage if ask.meter_ohms is None else 1.0 / (1.0 / leakage + 1.0 / ask.meter_ohms)
    lived = ask.after_seconds / (resistance * capacity)
    left = ask.start_volts * np.exp(-lived)
    return left, np.hypot(VOLTMETER * ask.start_volts, left * STOPWATCH / (resistance * capacity))


def log_likelihood(value: float | Numbers, ask: Ask, predictions: Numbers, scale: Numbers) -> Numbers:
    """Return the logarithm of the density of reading `value` under each prediction (nan: the model gives no such reading).

    `value`, `predictions` and `scale` (SI units) are broadcast against each other.
    """
    return np.logaddexp(_log_density(value - predictions, scale), math.log(slip_density(ask)))


def _log_density(off: Numbers, scale: Numbers) -> Numbers:
    """Return the log density of an error `off` that is no slip; of nan, minus infinity."""
    core = LEADING - 0.5 * (FREEDOM + 1.0) * np.log1p((off / scale) ** 2 / FREEDOM) - np.log(scale)
    return np.where(np.isnan(core), -np.inf, core)


class Matter:
    """The imagined coils of a library against a list of questions: predictions, and likelihoods of answers."""

    def __init__(self, library: Library, asks: Sequence[Ask]) -> None:
        library.fill(dict.fromkeys(ask.setting for ask in asks if ask.setting is not None))
        self.keys = [cause.key for cause in library.causes]
        self.prior = np.array([cause.prior for cause in library.causes])
        self.prior = self.prior / self.prior.sum()
        self.coils = [library.coils[key] for key in self.keys]
        self.asks = list(asks)
        self.of = np.repeat(np.arange(len(self.keys)), [len(coils) for coils in self.coils])  # cause of each imagined coil
        self.library = library
        self.log_weights = np.concatenate([library.log_weights(key) for key in self.keys])
        self._rows = [[library.at(key, ask.setting) if ask.setting else None for ask in asks] for key in self.keys]

    def predictions(self, number: int) -> tuple[Numbers, Numbers]:
        """Return predictions and error scales of question `number` for all the imagined coils."""
        pairs = [predicted(self.asks[number], coils, rows[number]) for coils, rows in zip(self.coils, self._rows, strict=True)]
        return np.concatenate([value for value, _ in pairs]), np.concatenate([scale for _, scale in pairs])

    def log_likelihoods(self, number: int, value: float) -> Numbers:
        """Return the log-likelihood of answer `value` to question `number` for all the imagined coils."""
        return np.concatenate([self.of_cause(place, number, np.array([value]))[0] for place in range(len(self.keys))])

    def of_cause(self, place: int, number: int, values: Numbers, most: int | None = None) -> Numbers:
        """Return the log-likelihoods of answers to question `number` for the imagined coils of one cause.

        values : shape (answers,), SI units; most : look only at so many coils; returns shape (answers, coils)
        """
        ask, coils, rows = self.asks[number], self.coils[place][:most], self._rows[place][number]
        rows = None if rows is None else rows[:most]
        if ask.kind != "self_discharge" or self.keys[place] == "leakage":
            return log_likelihood(values[:, None], ask, *predicted(ask, coils, rows))
        # A sound condenser's leakage touches no other reading, so it is averaged over its whole prior for every coil: few
        # imagined coils would happen to have the one that was read.
        low, high = SOUND_LEAKAGE
        grid = low * (high / low) ** ((np.arange(48) + 0.5) / 48)
        capacity = np.array([coil.machine.condenser.capacitance for coil in coils])[:, None]
        each = log_likelihood(values[:, None, None], ask, *discharge(ask, capacity, grid))
        return logsumexp(each, axis=2) - math.log(len(grid))

    def of_leakage(self, number: int, value: float, capacity: float, leakage: Numbers) -> Numbers:
        """Return the log-likelihoods of a self-discharge for leakage resistances beside one capacity."""
        ask = self.asks[number]
        return log_likelihood(value, ask, *discharge(ask, np.array(capacity), leakage))

    def numbers(self, number: Number) -> Numbers:
        """Return a number of every imagined coil, SI units."""
        return np.concatenate([self.library.numbers(key, number) for key in self.keys])

    def closer(self, place: int, total: Numbers) -> tuple[float, float]:
        """Return the part of a cause's range of severities (0 to 1) that agrees with the readings, with some room."""
        if not self.library.causes[place].what:
            return 0.0, 1.0
        own = total[self.of == place]
        evens = self.library.evens(self.keys[place])
        weights = np.exp(own - logsumexp(own))
        low, high = _quantile(evens, weights, 0.02), _quantile(evens, weights, 0.98)
        room = max(0.4 * (high - low), 0.04)
        return max(0.0, low - room), min(1.0, high + room)

    def evidence(self, total: Numbers) -> Numbers:
        """Return the log evidence of each cause from the weighted log-likelihoods of all imagined coils, shape (coils,)."""
        return np.array([logsumexp(total[self.of == place]) - math.log((self.of == place).sum())
                         for place in range(len(self.keys))])

    def odds(self, total: Numbers, seed: int) -> Numbers:
        """Return the odds of each cause, averaged over what other imagined coils might have said (Bayesian bootstrap).

        With few imagined coils near the readings a cause's evidence is a matter of luck; averaging over the luck keeps the odds
        from being surer than they may be (Rubin, The Bayesian bootstrap, Annals of Statistics 9, 1981, 130, from memory).
        """
        likely = np.exp(total - total.max())
        evidence = np.empty((len(self.keys), REPEATS))
        for place in range(len(self.keys)):
            own = likely[self.of == place]
            evidence[place] = _lots(len(own), seed + place) @ own
        weighed = self.prior[:, None] * (evidence + 1e-300)
        return (weighed / weighed.sum(axis=0)).mean(axis=1)


@functools.lru_cache(maxsize=64)
def _lots(count: int, seed: int) -> Numbers:
    """Return the bootstrap's weights, shape (REPEATS, count): each row as likely as any other that adds up to one."""
    return np.random.default_rng(seed).dirichlet(np.ones(count), REPEATS)


# ------------------------------------------------------------------------------------------------------- the verdict
ENOUGH = 40.0
"""How many imagined coils of a leading cause must carry its evidence before no more rounds of them are made."""


def judge(readings: Sequence[Reading], library: Library, next_steps: bool = True, fit: bool = True) -> Verdict:
    """Return the verdict on one coil.

    readings : of `sheet.standing`, at least one that is not the gap's; next_steps, fit : whether to work these out (they take
    most of the time)
    """
    gap_reading = next((reading for reading in readings if reading.kind == "gap"), None)
    gap = gap_reading.value if gap_reading else ASSUMED_GAP
    used = [reading for reading in readings if reading.kind not in ("gap", "adjusted")]
    if not used:
        raise ValueError("bench: a coil without a reading cannot be judged.")
    asks = [asked(reading, gap) for reading in used]
    for left in range(library.most_rounds - 1, -1, -1):
        matter = Matter(library, asks)
        each = np.array([matter.log_likelihoods(place, reading.value) for place, reading in enumerate(used)])
        total = each.sum(axis=0) + matter.log_weights
        odds = matter.odds(total, library.seed)
        thin = [place for place in range(len(odds)) if odds[place] > 0.05 and _carrying(total[matter.of == place]) < ENOUGH]
        if not thin or not left:
            break
        library.grow([matter.keys[place] for place in thin],
                     {matter.keys[place]: matter.closer(place, total) for place in thin})
    numbers, carried = fitted(matter, total, odds, [reading.value for reading in used])
    top = int(odds.argmax())
    own = matter.of == top
    weights = np.exp(total[own] - logsumexp(total[own]))
    severities = np.array([coil.severity for coil in matter.coils[top]])
    order = sorted(range(len(odds)), key=lambda place: -odds[place])
    return Verdict(
        judged=tuple(_against_well_set(matter, place, reading) for place, reading in enumerate(used)),
        odds=tuple((BY_KEY[matter.keys[place]], float(odds[place])) for place in order),
        severity=tuple(_quantile(severities, weights, share) for share in (0.5, 0.05, 0.95)),  # type: ignore[arg-type]
        likeness=matter.coils[top][int(weights.argmax())],
        fit=_fit(matter, top, float(matter.evidence(total)[top]), library.seed) if fit else math.nan,
        worst=used[int(np.average(each[:, own], axis=1, weights=weights).argmin())] if len(used) > 1 else None,
        weight=_carrying(total[own]),
        next_steps=tuple(_what_next(matter, total, used, gap, library)) if next_steps else (),
        gap=gap, gap_assumed=gap_reading is None, fitted=numbers, carried=carried)


def _carrying(logs: Numbers) -> float:
    """Return Kish's effective number of the weights exp(`logs`)."""
    return float(np.exp(2.0 * logsumexp(logs) - logsumexp(2.0 * logs)))


def _quantile(values: Numbers, weights: Numbers, share: float) -> float:
    order = values.argsort()
    place = int(np.searchsorted(np.cumsum(weights[order]), share))
    return float(values[order][min(place, len(values) - 1)])


def _against_well_set(matter: Matter, number: int, reading: Reading) -> Judged:
    values, scale = matter.predictions(number)
    own = matter.of == matter.keys.index("well_set")
    values, scale = values[own], scale[own]
    there = ~np.isnan(values)
    if there.mean() < 0.1:
        return Judged(reading, math.nan, math.nan, "above", never=True)
    errors = student.ppf((np.arange(40) + 0.5) / 40, FREEDOM)
    most = reading.last.start_volts if reading.kind == "self_discharge" else None
    spread = np.clip(values[there][:, None] + scale[there][:, None] * errors[None, :], 0.0, most)
    low, high = (float(limit) for limit in np.quantile(spread, (0.05, 0.95)))
    side = "below" if reading.value < low else "above" if reading.value > high else "within"
    return Judged(reading, low, high, side)


def _fit(matter: Matter, top: int, observed: float, seed: int) -> float:
    """Return how many in one of the likeliest cause's own imagined sheets have less evidence than the coil's has."""
    own = np.flatnonzero(matter.of == top)[:EXPLAINING]
    sheets = np.arange(min(len(own), IMAGINED))
    generator = np.random.default_rng(seed)
    total = np.tile(matter.log_weights[own], (len(sheets), 1))  # imagined sheet, imagined coil that shall explain it
    for number in range(len(matter.asks)):
        values, scale = (numbers[own[sheets]] for numbers in matter.predictions(number))
        answers = values + scale * generator.standard_t(FREEDOM, len(sheets))
        there = ~np.isnan(answers)
        total[there] += matter.of_cause(top, number, answers[there], len(own))
    total[sheets, sheets] = -np.inf  # it must not explain itself
    return float(np.mean(logsumexp(total, axis=1) - math.log(len(own) - 1) <= observed))


# ---------------------------------------------------------------------------------------------- what to measure next
IMAGINED, EXPLAINING = 120, 256  # imagined sheets of the likeliest cause, and how many of its imagined coils try to explain them
KEPT = 20  # imagined coils of each cause, the best agreeing, that stand for it when the next step is chosen
ANSWERS = 4  # imagined answers of each


def _what_next(matter: Matter, total: Numbers, used: Sequence[Reading], gap: float, library: Library) -> list[Next]:
    """Return the readings not taken yet, the most telling first: by the doubt (bits) each is expected to take away."""
    odds = matter.odds(total, library.seed)
    chosen: list[tuple[str, int]] = []  # key of the cause, and the imagined coil's place among its own
    of, weights = [], []
    for place, key in enumerate(matter.keys):
        if odds[place] < 0.01:
            continue
        own = total[matter.of == place]
        best = own.argsort()[::-1][:KEPT]
        share = np.exp(own[best] - logsumexp(own[best]))
        chosen += [(key, int(index)) for index in best]
        of += [place] * len(best)
        weights += list(odds[place] * share)
    coils = [library.coils[key][index] for key, index in chosen]
    weight, cause = np.array(weights) / np.sum(weights), np.array(of)
    taken = {(reading.kind, reading.bench) for reading in used}
    asks = [ask for ask in candidates(gap) if ask.setting is None and (ask.kind, None) not in taken
            or ask.setting is not None and (ask.kind, ask.setting.bench) not in taken]
    settings = list(dict.fromkeys(ask.setting for ask in asks if ask.setting is not None))
    by_setting = library.some(chosen, settings)
    before = _doubt(np.bincount(cause, weight))
    found = []
    for ask in asks:
        values, scale = predicted(ask, coils, by_setting[ask.setting] if ask.setting else None)
        bits, sureness = _telling(ask, values, scale, weight, cause, library.seed)
        found.append(Next(ask, min(before, max(0.0, before - bits)), sureness))
    return sorted(found, key=lambda step: -step.bits)


def _telling(ask: Ask, values: Numbers, scale: Numbers, weight: Numbers, cause: Numbers, seed: int) -> tuple[float, float]:
    """Return the doubt (bits) left after `ask` is answered and the likeliest cause's odds then, both as expected."""
    generator = np.random.default_rng(seed)
    doubt = sureness = 0.0
    membership = (np.unique(cause)[:, None] == cause[None, :]).astype(float)
    never = np.isnan(values)
    slip = math.log(slip_density(ask))
    for _ in range(ANSWERS):
        answers = values + scale * generator.standard_t(FREEDOM, len(values))
        logs = np.logaddexp(_log_density(answers[:, None] - values[None, :], scale[None, :]), slip)
        logs = np.where(never[:, None], np.where(never[None, :], 0.0, slip), logs)  # "it never parts" is an answer too
        post = np.exp(logs - logs.max(axis=1, keepdims=True)) * weight[None, :]
        post = (post @ membership.T) / post.sum(axis=1, keepdims=True)
        doubt += float(np.sum(weight * np.array([_doubt(row) for row in post]))) / ANSWERS
        sureness += float(np.sum(weight * post.max(axis=1))) / ANSWERS
    return doubt, sureness


def _doubt(odds: Numbers) -> float:
    """Return the entropy of `odds` in bits."""
    positive = odds[odds > 0.0]
    return float(-np.sum(positive * np.log2(positive)))


# ------------------------------------------------------------------------------------------------ an imagined sheet
def answer(ask: Ask, coil: Coil, generator: np.random.Generator) -> float | None:
    """Return what a person would read on an imagined coil, seeded error included; None where there is nothing to read."""
    value, width = prediction(ask, coil, outcome(coil, ask.setting) if ask.setting else None)
    if math.isnan(value):
        return None
    read = value + width * float(generator.standard_t(FREEDOM))
    low, high = (0.0, ask.start_volts) if ask.kind == "self_discharge" else (KINDS[ask.kind].low, KINDS[ask.kind].high)
    return min(max(read, low), high)
