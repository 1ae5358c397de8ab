"""How often the bench is right: `python -m coilbench.trial` (2,000 coils; some ten minutes on two cores).

Imagined coils that are none of the stored ones (other seeds), each with a cause and a severity drawn from the priors (two faults
at once where the draw falls on OTHER) and readings with seeded errors, are judged as if they had come in a sheet, by the judge
that the page and the command use. What is stated is held against what was: how often the likeliest
cause is the true one, whether odds of 70 in 100 come true 70 times in 100, whether a fitted number's limits hold the true
one, and what becomes of the undecided coils when one takes the reading that the card asks for.

The outcome goes into calibrated.json, from which the book draws; `stale` says when the model or the priors have changed since.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from coilbench import errors, stored
from coilbench.advice import worth_taking
from coilbench.asks import Ask, Setting, as_reading
from coilbench.causes import (
    ASSUMED_GAP,
    CAUSES,
    GAP_TOLERANCE,
    HYPOTHESES,
    OTHER,
    SOUND_LEAKAGE,
    SUPPLY_TOLERANCE,
    TOLERANCES,
    Cause,
    Coil,
    spoilt,
)
from coilbench.errors import NAMED
from coilbench.predict import answer, learn, spread_out, well_set
from coilbench.running import outcome
from coilbench.sheet import Bench, Reading
from coilbench.verdict import NUMBERS, Verdict
from coilmodel import Machine
from coilmodel.progress import bar

RESULT = Path(__file__).with_name("calibrated.json")

SHEETS: dict[str, tuple[Ask, ...]] = {
    "usual": (Ask("capacity"), Ask("self_discharge", None, 100.0, 5.0),
              *(Ask(kind, Setting(Bench(rpm, 1.0))) for rpm in (200.0, 450.0, 600.0) for kind in ("sparks", "opening_current")),
              Ask("meter_rectified", Setting(Bench(450.0, 1.0)))),
    "few": (Ask("sparks", Setting(Bench(450.0, 1.0))), Ask("opening_current", Setting(Bench(450.0, 1.0)))),
    "odd": (Ask("capacity"), Ask("self_discharge", None, 60.0, 8.0, 10e6), Ask("travel"),
            *(Ask(kind, Setting(Bench(330.0, 0.9), 8e3)) for kind in ("sparks", "opening_current", "meter_rms")),
            Ask("sparks", Setting(Bench(520.0, 1.15), 8e3)), Ask("opening_current", Setting(Bench(520.0, 1.15), 8e3)),
            Ask("meter_rectified", Setting(Bench(volts=12.0), 8e3))),
    "mains": (Ask("capacity"), Ask("self_discharge", None, 100.0, 5.0),
              *(Ask(kind, Setting(Bench(volts=volts, hertz=50.0))) for volts in (5.0, 9.0)
                for kind in ("sparks", "opening_current"))),
}
"""Kinds of sheet: what the template asks for; two readings only; speeds, drives, gap, battery of another bench; a transformer."""

STEPS = 3  # readings more, as the card asks for them, until a cause is named
BINS = tuple(place / 10 for place in range(11))
ENOUGH_COILS = 200  # in a bin of stated odds, so that the standard error of its own count is under 3.6 points


@dataclass(frozen=True)
class Tried:
    """One unseen coil: its true cause, the coil, the verdict, and those after each reading more that the card asked for."""

    truth: str
    coil: Coil
    verdict: Verdict
    then: tuple[Verdict, ...] = ()
    settled: bool = True  # it was not said that no further reading would tell

    @property
    def right(self) -> bool:
        """Return whether the likeliest cause is the true one."""
        return self.verdict.cause.key == self.truth


def try_coils(count: int, asks: Sequence[Ask], seed: int = 7, width: float = 1.0, steps: int = 0,
              among: Sequence[Cause] = HYPOTHESES) -> list[Tried]:
    """Judge `count` unseen coils by the readings `asks`.

    width : how much more they differ than the priors think; steps : readings more to take of the undecided, as they are asked
    for; among : the causes that are drawn, by their priors
    """
    generator = np.random.default_rng(seed)
    truths = generator.permutation(_shares(np.array([cause.prior for cause in among]), count))
    bases = well_set(count, seed + 1_000_003, bar, width)
    learn(ask.setting for ask in asks if ask.setting)
    runs = {setting: rows for setting, rows in stored.imagined().runs.items() if setting not in stored.SETTINGS}
    tasks = [(with_fault(base, among[int(truth)], generator), among[int(truth)].key, tuple(asks), (seed, place), steps, runs)
             for place, (base, truth) in enumerate(zip(bases, truths, strict=True))]
    return spread_out(_try_some, tasks, bar, "Judging unseen coils")


def with_fault(base: Coil, cause: Cause, generator: np.random.Generator) -> Coil:
    """Return a well-set coil with `cause` put into it, of any severity; for OTHER, two different faults of the list."""
    if cause is not OTHER:
        return spoilt(base, cause, float(generator.random()))
    faults = [one for one in CAUSES if one.what]
    weights = np.array([one.prior for one in faults])
    for place in generator.choice(len(faults), 2, False, weights / weights.sum()):
        base = spoilt(base, faults[int(place)], float(generator.random()))
    return base


def _try_some(tasks: Sequence[tuple[Coil, str, tuple[Ask, ...], tuple[int, int], int, dict[Setting, Any]]]) -> list[Tried]:
    for setting, rows in tasks[0][-1].items():
        stored.learn(setting, rows)
    return [_try_one(*task[:-1]) for task in tasks]


def _try_one(coil: Coil, truth: str, asks: tuple[Ask, ...], seed: tuple[int, int], steps: int) -> Tried:
    generator = np.random.default_rng(seed)
    readings: list[Reading] = []

    def take(ask: Ask) -> None:
        value = answer(ask, coil, generator)
        if value is not None:
            readings.append(as_reading(ask, value))

    for ask in asks:
        take(ask)
    if _gap(asks) != ASSUMED_GAP:
        readings.append(as_reading(Ask("gap"), _gap(asks)))
    first = verdict = stored.judge(readings, next_steps=False)
    if steps and not verdict.sure:
        verdict = stored.judge(readings)
    then: list[Verdict] = []
    while not verdict.sure and len(then) < steps:
        step = worth_taking(verdict)
        if step is None:
            return Tried(truth, coil, first, tuple(then), False)
        take(step.ask)
        verdict = stored.judge(readings)
        then.append(verdict)
    return Tried(truth, coil, first, tuple(then))


def _gap(asks: Sequence[Ask]) -> float:
    return next((ask.setting.gap for ask in asks if ask.setting), ASSUMED_GAP)


def _shares(weights: np.ndarray, count: int) -> np.ndarray:
    """Return `count` indices, each as often as its weight says: drawn by lot they would add luck of their own."""
    edges = np.cumsum(weights) / weights.sum()
    return np.minimum(np.searchsorted(edges, (np.arange(count) + 0.5) / count), len(weights) - 1)


# ------------------------------------------------------------------------------------------------------ what came out
def summary(tried: Sequence[Tried]) -> dict[str, Any]:
    """Return the outcome in figures, JSON-able; shares are of 1."""
    sure = [one for one in tried if one.verdict.sure]
    unsure = [one for one in tried if not one.verdict.sure]
    stated = [(odds, cause.key == one.truth) for one in tried for cause, odds in one.verdict.odds]
    found = {
        "coils": len(tried), "right": _share(one.right for one in tried),
        "promised": float(np.mean([one.verdict.odds[0][1] for one in tried])),
        "sure": len(sure), "sure_right": _share(one.right for one in sure), "unsure_right": _share(one.right for one in unsure),
        "first_two": _share(one.truth in (cause.key for cause, _ in one.verdict.odds[:2]) for one in tried),
        "brier": sum((odds - true) ** 2 for odds, true in stated) / len(tried),
        "likeliest": reliability([(one.verdict.odds[0][1], one.right) for one in tried]), "all": reliability(stated),
        "causes": {cause.key: _taken_for([one for one in tried if one.truth == cause.key]) for cause in HYPOTHESES},
        "limits": limits(tried)}
    if any(one.then for one in tried):
        found["then"] = followed(tried)
    return found


def reliability(stated: Sequence[tuple[float, bool]]) -> list[dict[str, float]]:
    """Return, for each tenth of stated odds: how many, what they said on average, and how often it came true."""
    found = []
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        own = [pair for pair in stated if low <= pair[0] < high or pair[0] == high == 1.0]
        if own:
            found.append({"low": low, "high": high, "number": len(own), "said": float(np.mean([odds for odds, _ in own])),
                          "came": float(np.mean([true for _, true in own]))})
    return found


def limits(tried: Sequence[Tried]) -> dict[str, dict[str, float]]:
    """Return, for each fitted number, how often its limits held the true one, overall and where it is said to be told."""
    found = {}
    for place, number in enumerate(NUMBERS):
        held = [(fitted.low <= number.of(one.coil) <= fitted.high, fitted.told)
                for one in tried for fitted in (one.verdict.fitted[place],)]
        told = [inside for inside, known in held if known]
        found[number.key] = {"held": _share(inside for inside, _ in held), "told": len(told), "told_held": _share(told)}
    return found


def followed(tried: Sequence[Tried]) -> dict[str, Any]:
    """Return what became of the undecided coils as one took the readings that the card asked for."""
    unsure = [one for one in tried if not one.verdict.sure]
    steps = []
    for taken in range(max(len(one.then) for one in unsure) + 1):
        now = [(one.verdict, *one.then)[min(taken, len(one.then))] for one in unsure]
        right = [verdict.cause.key == one.truth for verdict, one in zip(now, unsure, strict=True)]
        sure = [hit for hit, verdict in zip(right, now, strict=True) if verdict.sure]
        steps.append({"readings": taken, "right": _share(right), "named": len(sure), "named_right": _share(sure)})
    all_now = [(one.verdict, *one.then)[-1] for one in tried]
    sure_now = [verdict.cause.key == one.truth for verdict, one in zip(all_now, tried, strict=True) if verdict.sure]
    return {"undecided": len(unsure), "nothing_would_tell": sum(not one.settled for one in unsure), "steps": steps,
            "all_right": _share(verdict.cause.key == one.truth for verdict, one in zip(all_now, tried, strict=True)),
            "all_named": len(sure_now), "all_named_right": _share(sure_now)}


def _taken_for(own: Sequence[Tried]) -> dict[str, Any]:
    wrong: dict[str, int] = {}
    for one in own:
        if not one.right:
            wrong[one.verdict.cause.key] = wrong.get(one.verdict.cause.key, 0) + 1
    found: dict[str, Any] = {"coils": len(own), "right": sum(one.right for one in own),
                             "taken_for": dict(sorted(wrong.items(), key=lambda pair: -pair[1]))}
    if own and any(one.then for one in own):
        found["right_then"] = sum((one.verdict, *one.then)[-1].cause.key == one.truth for one in own)
    return found


def _share(hits: Any) -> float:
    hits = list(hits)
    return float(np.mean(hits)) if hits else 0.0


def table(found: dict[str, Any]) -> str:
    """Return a summary in words and figures."""
    lines = [
        f"coils {found['coils']}; likeliest cause right {_percent(found['right'])} (stated odds promise "
        f"{_percent(found['promised'])})",
        f"named (odds of {100 * NAMED:.0f} in 100 or more) {found['sure']}, of these right {_percent(found['sure_right'])}; of "
        f"the others {_percent(found['unsure_right'])}; true cause among the first two {_percent(found['first_two'])}",
        f"Brier score {found['brier']:.3f}"]
    for what, name in (("likeliest", "odds of the likeliest cause"), ("all", "odds of any cause")):
        lines.append(f"{name:<30} come true   number")
        lines += [f"{_percent(one['said']):>30} {_percent(one['came']):>11} {one['number']:8d}" for one in found[what]]
    lines.append("true cause          coils  right  then   taken for")
    for key, own in found["causes"].items():
        others = ", ".join(f"{other} {many}" for other, many in own["taken_for"].items())
        lines.append(f"{key:<18} {own['coils']:6d} {own['right']:6d} {own.get('right_then', ''):>5}   {others}")
    lines.append("limits of nine in ten           held  where told")
    lines += [f"{key:<30} {_percent(own['held']):>6} {_percent(own['told_held']):>8} of {own['told']}"
              for key, own in found["limits"].items()]
    if "then" in found:
        then = found["then"]
        lines.append(f"{then['undecided']} undecided; {then['nothing_would_tell']} times it was said that no further reading "
                     "would tell")
        lines += [f"  after {step['readings']} readings more: right {_percent(step['right'])}, named {step['named']} (right "
                  f"{_percent(step['named_right'])})" for step in then["steps"]]
        lines.append(f"  of all coils then right {_percent(then['all_right'])}; named {then['all_named']}, of these right "
                     f"{_percent(then['all_named_right'])}")
    return "\n".join(lines)


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"


# ------------------------------------------------------------------------------------------------------ is it stale?
def stated() -> dict[str, Any]:
    """Return the priors and errors in use, JSON-able."""
    everything = {
        "causes": [[cause.key, cause.prior, cause.what, cause.low, cause.high] for cause in HYPOTHESES], "tolerances": TOLERANCES,
        "others": [GAP_TOLERANCE, SUPPLY_TOLERANCE, *SOUND_LEAKAGE, ASSUMED_GAP],
        "errors": {key: asdict(error) for key, error in errors.ERRORS.items()},
        "rules": [NAMED, errors.CERTAIN, errors.FREEDOM, errors.SLIP, errors.STOPWATCH, errors.VOLTMETER, errors.COUNTED]}
    return json.loads(json.dumps(everything))


def probes() -> list[float | None]:
    """Return the opening current and sparks per pulse (None: the contacts never part) of a coil of each cause at three speeds."""
    found: list[float | None] = []
    for cause in CAUSES:
        for rpm in (200.0, 450.0, 600.0):
            row = outcome(spoilt(Coil(Machine()), cause, 0.5), Setting(Bench(rpm, 1.0)))
            found += [None if value != value else round(value, 4) for value in row[:2]]
    return found


def stale(kept: dict[str, Any]) -> str:
    """Return why a kept result is not of today's model and priors, "" where it is.

    Another processor may round a coil that fires unsteadily another way, so a tenth of the probes may differ.
    """
    if kept["stated"] != stated():
        return "the priors or the errors of measurement have changed"
    now = probes()
    pairs = list(zip(kept["probes"], now, strict=False))
    differ = sum(then != here and (then is None or here is None or abs(then - here) > 0.02 * abs(here) + 0.01)
                 for then, here in pairs)
    if len(now) != len(kept["probes"]) or differ > 0.1 * len(now):
        return f"the model has changed: {differ} of {len(now)} readings of reference coils differ"
    return ""


def main() -> None:
    """Try each kind of sheet, print the outcome, and keep it."""
    parser = argparse.ArgumentParser(description="How often is the bench right?")
    parser.add_argument("--coils", type=int, default=2000, help="unseen coils for 'usual'; the others get 250 at most")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--width", type=float, default=1.0, help="how much more the unseen coils differ than the priors think")
    parser.add_argument("--sheet", choices=[*SHEETS, "all"], default="all")
    parser.add_argument("--keep", metavar="FILE", type=Path, help=f"write the outcome (the book's is {RESULT.name})")
    given = parser.parse_args()
    found: dict[str, Any] = {"draws": len(stored.imagined().coils) // len(CAUSES), "seed": given.seed, "width": given.width,
                             "stated": stated(), "probes": probes(), "sheets": {}}
    for name, asks in SHEETS.items():
        if given.sheet not in (name, "all"):
            continue
        started = time.monotonic()
        count = given.coils if name == "usual" else min(250, given.coils)
        print(f"--- sheet '{name}', seed {given.seed}, tolerances x {given.width:g}")
        found["sheets"][name] = summary(try_coils(count, asks, given.seed, given.width, STEPS if name in ("few", "usual") else 0))
        print(table(found["sheets"][name]))
        print(f"({time.monotonic() - started:.0f} s)", flush=True)
        if given.keep:
            given.keep.write_text(json.dumps(rounded(found), indent=1) + "\n", encoding="utf-8")


def rounded(tree: Any) -> Any:
    """Return a JSON tree with its shares to four digits: more would be luck."""
    if isinstance(tree, dict):
        return {key: value if key in ("stated", "probes") else rounded(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [rounded(item) for item in tree]
    return round(tree, 4) if isinstance(tree, float) else tree


if __name__ == "__main__":
    main()
