"""How far the course's verdicts hang on numbers that nobody publishes: `python -m coilmodel.proof.shares`.

Every number of the nominal machine that has no source (springs, gaps, dampings, the magneto, the recovery of a gap...) is moved
at random, all at once, by up to 5, 10 or 20 %, and each verdict of the course is asked again of the machine that comes out,
its slack and its stiff cushion taken from its own preload. The share of machines of which the verdict still holds is kept, with
Wilson's 95 % limits, in `shares.json`, and shown on the page of the nominal machine. A verdict that holds of one set of numbers
alone is luck; one that holds of most is a property of such coils.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

from coilmodel.machine import BatteryDrive, Machine, MagnetoDrive, Scatter
from coilmodel.readings import Readings, read
from coilmodel.run import simulate
from coilmodel.worth import Worth, worth

RESULT = Path(__file__).with_name("shares.json")
SPREADS = (0.05, 0.10, 0.20)
SLACK, STIFF = 0.45, 1.75


def unsourced() -> list[str]:
    """Return the numbers of the machine that have no source, as part_field."""
    found = []
    for part in fields(Machine):
        for item in fields(getattr(Machine(), part.name)):
            origin = str(item.metadata.get("origin", ""))
            if "unit" in item.metadata and ("no source" in origin or "search" in origin) and item.name != "stop":
                found.append(f"{part.name}_{item.name}")
    return found


class Trial:
    """One machine and the runs that the verdicts look at, each made once."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self._read = cache(lambda changed, drive: read(simulate(changed, drive, pulses=12, warm_up=5)))
        self._worth = cache(lambda changed, rpm: worth(changed, rpm, windows=4, scatter=Scatter(seed=1)))

    def at(self, rpm: float = 450.0, drive: float = 1.0, **factors: float) -> Readings:
        """Return the readings on the bench magneto at `rpm` and `drive` (a share), numbers multiplied by `factors`."""
        return self._read(self.machine.scaled(**factors), MagnetoDrive(rpm, drive))

    def car(self, rpm: float = 450.0, **factors: float) -> Worth:
        """Return what the engine gets through the timer at `rpm`, numbers multiplied by `factors`."""
        return self._worth(self.machine.scaled(**factors), rpm)

    def buzz(self, volts: float) -> float:
        """Return the sparks a second on a battery of `volts`."""
        return self._read(self.machine, BatteryDrive(volts)).sparks_a_second

    def with_condenser(self, farads: float) -> Readings:
        """Return the readings at 450 rpm with another condenser, of `farads`."""
        return self._read(self.machine.but(condenser={"capacitance": farads}), MagnetoDrive(450.0))


def _mean(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


@dataclass(frozen=True)
class Verdict:
    """One thing that the course says of such coils; `holds` asks it of a machine."""

    says: str
    holds: Callable[[Trial], bool]


VERDICTS = (
    Verdict("Well set, 450 rpm: one spark in every pulse.", lambda t: t.at().single == 1.0),
    Verdict("Well set, 200 rpm: one spark in every pulse.", lambda t: t.at(200.0).single == 1.0),
    Verdict("Well set, in the car at 450 rpm: no misfire.", lambda t: t.car().misfires == 0.0),
    Verdict("Slack cushion, 450 rpm: parts before its rivet.", lambda t: t.at(cushion_preload=SLACK).on_rivet < 0.5),
    Verdict("Slack cushion, 450 rpm: the first spark has less than half of the energy.",
            lambda t: t.at(cushion_preload=SLACK).first_spark_energy < 0.5 * t.at().first_spark_energy),
    Verdict("Slack cushion, in the car at 450 rpm: misfires in most windows.",
            lambda t: t.car(cushion_preload=SLACK).misfires > 0.5),
    Verdict("The same coil, in the car at 200 rpm: no misfire.", lambda t: t.car(200.0, cushion_preload=SLACK).misfires == 0.0),
    Verdict("Stiff cushion, 450 rpm: two or more sparks in most pulses.", lambda t: t.at(cushion_preload=STIFF).multiple > 0.5),
    Verdict("Stiff cushion, 450 rpm: parts sooner, at a lower current.",
            lambda t: _mean(t.at(cushion_preload=STIFF).opening_current.mean, 99.0) < _mean(t.at().opening_current.mean, 0.0)
            and _mean(t.at(cushion_preload=STIFF).opening_time.mean, 99.0) < _mean(t.at().opening_time.mean, 0.0)),
    Verdict("More vibrator preload: a higher opening current.",
            lambda t: _mean(t.at(vibrator_preload=1.2).opening_current.mean, 0.0) > _mean(t.at().opening_current.mean, 99.0)),
    Verdict("Magneto at 40 %: no spark at all.", lambda t: t.at(drive=0.4).none == 1.0),
    Verdict("Magneto at 140 %: two or more sparks in most pulses.", lambda t: t.at(drive=1.4).multiple > 0.5),
    Verdict("No condenser (0.1 nF): every pulse misfires.", lambda t: t.with_condenser(1e-10).misfired == 1.0),
    Verdict("A condenser five times too large: every pulse misfires.",
            lambda t: t.with_condenser(5.0 * t.machine.condenser.capacitance).misfired == 1.0),
    Verdict("Battery: more sparks a second on 12 V than on 6 V.", lambda t: t.buzz(12.0) > t.buzz(6.0)),
)


def drawn(seed: int, spread: float) -> Machine:
    """Return the nominal machine with every unsourced number moved at random by up to `spread` (a share); `seed` says which."""
    chance = random.Random(f"{seed} {spread}")
    while True:
        try:
            machine = Machine().scaled(**{name: 1.0 + chance.uniform(-spread, spread) for name in unsourced()})
            return machine.but(vibrator={"stop": 0.5 * machine.coil.magnetic_gap})
        except ValueError:  # out of a number's range: draw again
            continue


def answers(job: tuple[int, float]) -> list[bool | None]:
    """Return what each verdict says of one machine, `job` its (seed, spread); None where the model could not follow it."""
    trial = Trial(drawn(*job))
    found: list[bool | None] = []
    for verdict in VERDICTS:
        try:
            found.append(verdict.holds(trial))
        except ValueError:
            found.append(None)
    return found


def digest() -> str:
    """Return a digest of what the shares depend on: the model's text and its numbers."""
    whole = hashlib.sha256()
    for path in sorted(Path(__file__).parent.parent.glob("*.py")):
        if path.name not in ("search.py", "springs.py", "winding.py", "closed_forms.py", "timing.py", "condenser.py"):
            whole.update(path.read_bytes())
    return whole.hexdigest()[:16]


def shares(machines: int, workers: int, report: Callable[[int, int], None]) -> dict[str, Any]:
    """Return the shares as they are kept; machines: drawn at each spread; workers: processes; report: is told (done, of)."""
    from scipy import stats

    jobs = [(seed, spread) for spread in SPREADS for seed in range(machines)]
    with ProcessPoolExecutor(workers) as pool:
        said = []
        for place, one in enumerate(pool.map(answers, jobs, chunksize=2), 1):
            said.append(one)
            report(place, len(jobs))
    rows = []
    for number, verdict in enumerate(VERDICTS):
        row: dict[str, Any] = {"says": verdict.says, "nominal": verdict.holds(Trial(Machine()))}
        for spread in SPREADS:
            got = [bool(one[number]) for job, one in zip(jobs, said, strict=True) if job[1] == spread and one[number] is not None]
            limits = stats.binomtest(sum(got), len(got)).proportion_ci(0.95, "wilson")
            row[f"{100 * spread:.0f}"] = {"holds": sum(got), "of": len(got), "low": round(float(limits.low), 3),
                                          "high": round(float(limits.high), 3)}
        rows.append(row)
    return {"model": digest(), "machines": machines, "numbers": unsourced(), "verdicts": rows}


def kept() -> dict[str, Any]:
    """Return the committed shares."""
    result: dict[str, Any] = json.loads(RESULT.read_text(encoding="utf-8"))
    return result


def table() -> Iterator[str]:
    """Yield the lines of the table of kept shares, in Markdown."""
    result = kept()
    yield "| verdict | nominal | " + " | ".join(f"all within {100 * spread:.0f} %" for spread in SPREADS) + " |"
    yield "|---|---|" + "---|" * len(SPREADS)
    for row in result["verdicts"]:
        cells = []
        for spread in SPREADS:
            one = row[f"{100 * spread:.0f}"]
            cells.append(f"{100 * one['holds'] / one['of']:.0f} of 100 ({100 * one['low']:.0f} to {100 * one['high']:.0f})")
        yield f"| {row['says']} | {'yes' if row['nominal'] else '**no**'} | {' | '.join(cells)} |"


def main() -> None:
    """Make the shares anew and keep them."""
    parser = argparse.ArgumentParser(description="Ask every verdict of the course of machines drawn round the nominal one.")
    parser.add_argument("--machines", type=int, default=80, help="drawn at each spread")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()

    def report(done: int, of: int) -> None:
        if sys.stderr.isatty() or done == of or done % 20 == 0:
            print(f"\r{done} of {of} machines", end="\n" if done == of else "", file=sys.stderr, flush=True)

    RESULT.write_text(json.dumps(shares(given.machines, given.workers, report), indent=1) + "\n", encoding="utf-8")
    print("\n".join(table()))


if __name__ == "__main__":
    main()
