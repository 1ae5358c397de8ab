"""How often the bench is right: `python -m lessons.bench.trial --coils 200`.

Imagined coils that no library has seen (other seeds), each with a cause and a severity drawn from the priors and readings with
seeded errors, are judged as if they had come in a sheet. What is stated is held against what was: how often the likeliest
cause is the true one, how often a named one is, and whether odds of 70 in 100 come true 70 times in 100.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lessons.bench.asks import Ask, Setting, as_reading
from lessons.bench.causes import CAUSES, spoilt
from lessons.bench.errors import NAMED
from lessons.bench.judge import answer, judge
from lessons.bench.predict import Library, bar, well_set
from lessons.bench.sheet import Bench
from lessons.bench.verdict import Verdict

SHEETS: dict[str, tuple[Ask, ...]] = {
    "few": (Ask("sparks", Setting(Bench(450.0, 1.0))), Ask("opening_current", Setting(Bench(450.0, 1.0)))),
    "usual": (Ask("capacity"), Ask("self_discharge", None, 100.0, 5.0),
              *(Ask(kind, Setting(Bench(rpm, 1.0))) for rpm in (200.0, 450.0, 600.0) for kind in ("sparks", "opening_current")),
              Ask("meter_rectified", Setting(Bench(450.0, 1.0)))),
    "odd": (Ask("capacity"), Ask("self_discharge", None, 60.0, 8.0, 10e6), Ask("travel"),
            *(Ask(kind, Setting(Bench(330.0, 0.9), 8e3)) for kind in ("sparks", "opening_current", "meter_rms")),
            Ask("sparks", Setting(Bench(520.0, 1.15), 8e3)), Ask("opening_current", Setting(Bench(520.0, 1.15), 8e3)),
            Ask("meter_rectified", Setting(Bench(volts=12.0), 8e3))),
}
"""Kinds of sheet: two readings only; what the template asks for; and speeds, drives, gap and meters of another bench."""


@dataclass(frozen=True)
class Tried:
    """One unseen coil: the true cause, and the verdict."""

    truth: str
    verdict: Verdict

    @property
    def right(self) -> bool:
        """Return whether the likeliest cause is the true one."""
        return self.verdict.cause.key == self.truth


def try_coils(count: int, asks: Sequence[Ask], library: Library, seed: int = 7, width: float = 1.0) -> list[Tried]:
    """Judge `count` unseen coils by the readings `asks`. width : how much more they differ than the priors think."""
    generator = np.random.default_rng(seed)
    truths = generator.permutation(_shares(np.array([cause.prior for cause in CAUSES]), count))
    found = []
    for number, (base, truth) in enumerate(zip(well_set(count, seed + 1_000_003, None, width), truths, strict=True)):
        cause = CAUSES[int(truth)]
        coil = spoilt(base, cause, float(generator.random()))
        answers = [(ask, answer(ask, coil, generator)) for ask in asks]
        readings = [as_reading(ask, value) for ask, value in answers if value is not None]
        gap = next((ask.setting.gap for ask in asks if ask.setting), None)
        if gap is not None:
            readings.append(as_reading(Ask("gap"), gap))
        found.append(Tried(cause.key, judge(readings, library, next_steps=False)))
        if library.progress:
            library.progress("Unseen coils", number + 1, count)
    return found


def _shares(weights: np.ndarray, count: int) -> np.ndarray:
    """Return `count` indices, each as often as its weight says: drawn by lot they would add luck of their own."""
    edges = np.cumsum(weights) / weights.sum()
    return np.minimum(np.searchsorted(edges, (np.arange(count) + 0.5) / count), len(weights) - 1)


def table(tried: Sequence[Tried]) -> str:
    """Return the outcome in words and figures."""
    right = sum(one.right for one in tried)
    named = [one for one in tried if one.verdict.sure]
    expected = sum(one.verdict.odds[0][1] for one in tried)
    stated = [(odds, cause.key == one.truth) for one in tried for cause, odds in one.verdict.odds]
    brier = sum((odds - true) ** 2 for odds, true in stated) / len(tried)
    named_right = sum(one.right for one in named)
    first_two = sum(one.truth in (cause.key for cause, _ in one.verdict.odds[:2]) for one in tried)
    odd = sum(one.verdict.fit < 0.01 for one in tried)
    lines = [
        f"coils {len(tried)}; likeliest cause right {_percent(right, len(tried))} "
        f"(stated odds expect {_percent(expected, len(tried))})",
        f"named (odds over {100 * NAMED:.0f} in 100) {len(named)}, of these right {_percent(named_right, len(named))}; "
        f"true cause among the first two {_percent(first_two, len(tried))}",
        f"Brier score {brier:.3f}; fit under 1 in 100 for {odd} coils", "stated odds   come true   pairs"]
    for low, high in ((0.0, 0.02), (0.02, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.01)):
        part = [(odds, true) for odds, true in stated if low <= odds < high]
        if part:
            said, came = (_percent(sum(pair[place] for pair in part), len(part)) for place in (0, 1))
            lines.append(f"{said:>10} {came:>11} {len(part):7d}")
    lines.append("true cause          coils  right   taken for")
    for cause in CAUSES:
        own = [one for one in tried if one.truth == cause.key]
        if own:
            wrong: dict[str, int] = {}
            for one in own:
                if not one.right:
                    wrong[one.verdict.cause.key] = wrong.get(one.verdict.cause.key, 0) + 1
            others = ", ".join(f"{key} {many}" for key, many in sorted(wrong.items(), key=lambda pair: -pair[1]))
            lines.append(f"{cause.key:<18} {len(own):6d} {sum(one.right for one in own):6d}   {others}")
    return "\n".join(lines)


def _percent(part: float, whole: int) -> str:
    return f"{100.0 * part / max(whole, 1):.1f} %"


def main() -> None:
    """Try each kind of sheet and print the outcome."""
    parser = argparse.ArgumentParser(description="How often is the bench right?")
    parser.add_argument("--coils", type=int, default=200)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--width", type=float, default=1.0, help="how much more the unseen coils differ than the priors think")
    parser.add_argument("--sheet", choices=[*SHEETS, "all"], default="all")
    given = parser.parse_args()
    library = Library(progress=bar)
    for name, asks in SHEETS.items():
        if given.sheet in (name, "all"):
            print(f"--- sheet '{name}', seed {given.seed}, tolerances x {given.width:g}")
            print(table(try_coils(given.coils, asks, library, given.seed, given.width)), flush=True)


if __name__ == "__main__":
    main()
