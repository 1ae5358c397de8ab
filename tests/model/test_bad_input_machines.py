"""Any machine that the door lets in runs to its end, in finite numbers and with its energy accounted for.

Machines are drawn over the whole allowed range of every field, on all four drives. Half of them are drawn whole, each number
log-uniform over its range (nonsense coils, which is the point); half are the nominal machine with a few numbers anywhere in
their range, so that the contacts do work. A run may be refused with a `ValueError` of a documented kind; it may not hang,
return a NaN or lose energy.

The tests draw 2,000 machines. For more: `PYTHONPATH=. python tests/model/test_bad_input_machines.py 100000 --jobs 2`.
"""

from __future__ import annotations

import argparse
import collections
import dataclasses
import functools
import math
import multiprocessing
import random
import time
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any

import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, TimerDrive, TransformerDrive, compiled, simulate
from coilmodel.readings import in_words, read

DRIVES = (MagnetoDrive, TimerDrive, BatteryDrive, TransformerDrive)
LEDGER_LIMIT = 0.005  # issue 2: source = losses + stored within 0.5 %
NOTHING = 1e-7  # J: a hundred-thousandth of a spark; what a loss may give back where nothing else moves
LONGEST = 0.06  # s of simulated time aimed at (a single pulse may be longer)
CI_SEED, CI_MACHINES, CI_BATCHES = 20_000, 2_000 if compiled.COMPILED else 200, 8  # plain Python is some 30 times slower


@dataclass(frozen=True)
class Outcome:
    """What came of one draw: the seed that makes it again, and either a refusal or the run's ledger error and steps."""

    seed: int
    drive: str
    refused: str = ""
    fault: str = ""
    ledger_error: float = 0.0
    steps: int = 0
    openings: int = 0
    sparks: int = 0
    seconds: float = 0.0
    refused_at_the_door: int = 0


# ------------------------------------------------------------------------------------------------- drawing machines
def draw_number(chance: random.Random, low: float, high: float) -> float:
    """Return a number from `low` to `high`: sometimes exactly a limit, otherwise log-uniform where the range allows it."""
    pick = chance.random()
    if pick < 0.03:
        return low
    if pick < 0.06:
        return high
    if low < 0.0:
        return chance.choice((1.0, -1.0)) * draw_number(chance, 0.0, high) if -low == high else chance.uniform(low, high)
    smallest = low if low > 0.0 else high * 1e-5
    if high / smallest < 5.0:
        return chance.uniform(low, high)
    return min(max(math.exp(chance.uniform(math.log(smallest), math.log(high))), low), high)


def draw_part(chance: random.Random, kind: Any, share: float) -> Any:
    """Return a dataclass of the model with each number drawn anew with chance `share`. May raise ValueError (see `draw`)."""
    drawn: dict[str, Any] = {}
    for item in fields(kind):
        if chance.random() >= share:
            continue
        if item.name == "pole_pairs":
            drawn[item.name] = chance.randint(1, 32)
        else:
            drawn[item.name] = draw_number(chance, item.metadata["low"], item.metadata["high"])
    return kind(**drawn)


def draw(seed: int) -> tuple[Machine, Any, dict[str, Any], int]:
    """Return (machine, drive, arguments of simulate, draws refused at the door) for a seed; the same for the same seed.

    Numbers that the door refuses together (a burn voltage over breakdown, say) are drawn again.
    """
    chance = random.Random(seed)
    refused = 0
    while True:
        share = 1.0 if chance.random() < 0.5 else chance.uniform(0.02, 0.25)
        try:
            kinds = {item.name: type(getattr(Machine(), item.name)) for item in fields(Machine)}
            machine = Machine(**{name: draw_part(chance, kind, share) for name, kind in kinds.items()})
            drive = draw_part(chance, DRIVES[seed % len(DRIVES)], max(share, 0.5))
            break
        except ValueError:
            refused += 1
    period = pulse_period(machine, drive)
    pulses = max(1, min(12, int(LONGEST / period)))
    arguments: dict[str, Any] = {"pulses": pulses, "warm_up": chance.choice((0, 0, 1))}
    if chance.random() < 0.3:
        first = chance.randrange(pulses)
        arguments["record"] = (first, chance.randrange(first, pulses))
        arguments["rows_a_pulse"] = chance.choice((10, 200, 1000))
    if chance.random() < 0.1:
        arguments["step"] = chance.uniform(0.2, 1.0)
    if chance.random() < 0.05:
        arguments["prescribed_opening"] = chance.uniform(1e-6, pulses * period)
    return machine, drive, arguments, refused


def pulse_period(machine: Machine, drive: Any) -> float:
    """Return the seconds that one counted pulse takes, in our own words (not by the code under test)."""
    if isinstance(drive, TimerDrive):
        return 120.0 / drive.rpm
    if isinstance(drive, BatteryDrive):
        return drive.pulse_time
    if isinstance(drive, TransformerDrive):
        return 0.5 / drive.frequency
    return 30.0 / (drive.rpm * machine.magneto.pole_pairs)


# --------------------------------------------------------------------------------------------------- judging a run
def numbers_in(value: Any, name: str = "") -> Iterator[tuple[str, float]]:
    """Yield (name, number) for the numbers in a dataclass, tuple or list, however deep: every one that is not finite."""
    if isinstance(value, (int, float)):
        yield name, value
    elif isinstance(value, (tuple, list)) and set(map(type, value)) == {float} and all(map(math.isfinite, value)):
        yield name, value[0]  # of many that are as they should be one will do: there are thousands in a strip
    elif isinstance(value, (tuple, list)):
        for place, item in enumerate(value):
            yield from numbers_in(item, f"{name}[{place}]")
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for item in fields(value):
            yield from numbers_in(getattr(value, item.name), f"{name}.{item.name}")


def fault_of(run: Run) -> str:
    """Return what is wrong with a run, or "" where nothing is."""
    for name, number in (*numbers_in(run, "run"), *numbers_in(read(run), "readings")):
        if not math.isfinite(number):
            return f"{name} is {number}"
    if not abs(run.ledger.error) < LEDGER_LIMIT:
        return f"the ledger is {100 * run.ledger.error:.3g} % out"
    for part in ("copper", "core", "contact", "arc", "leakage", "secondary", "spark", "mechanical", "timer"):
        lost = getattr(run.ledger, part)
        if lost < -max(1e-3 * abs(run.ledger.source), NOTHING):
            return f"ledger.{part} gives back {-lost:.3g} J"
    if any(b < a for a, b in zip(run.strips.time, run.strips.time[1:])):
        return "the strips go back in time"
    words = in_words(run)
    if "never close" in words and run.ledger.contact > 0.0:
        return f"closed contacts cost {run.ledger.contact:.3g} J, but in words: {words!r}"
    if not words.endswith(".") or "nan" in words or "inf" in words or "None" in words:
        return f"in words: {words!r}"
    return ""


def try_one(seed: int) -> Outcome:
    """Draw the machine of `seed`, run it, and say what came of it."""
    machine, drive, arguments, refused = draw(seed)
    kind = type(drive).__name__
    begin = time.perf_counter()
    try:
        run = simulate(machine, drive, **arguments)
        fault = fault_of(run)
    except ValueError as error:
        return Outcome(seed, kind, refused=str(error), seconds=time.perf_counter() - begin, refused_at_the_door=refused)
    except Exception as error:  # anything else is a fault to be told with its seed, not the end of a long run
        return Outcome(seed, kind, fault=f"{type(error).__name__}: {error}", seconds=time.perf_counter() - begin)
    return Outcome(seed, kind, "", fault, run.ledger.error, run.steps, len(run.openings),
                   sum(opening.fired for opening in run.openings), time.perf_counter() - begin, refused)


def told(seed: int) -> str:
    """Return the machine of a seed as text that makes it again: only what differs from the nominal machine."""
    machine, drive, arguments, _ = draw(seed)
    nominal = Machine()
    changes = []
    for item in fields(Machine):
        part, usual = getattr(machine, item.name), getattr(nominal, item.name)
        changed = {f.name: getattr(part, f.name) for f in fields(part) if getattr(part, f.name) != getattr(usual, f.name)}
        if changed:
            changes.append(f"{item.name}={changed}")
    given = "".join(f", {name}={value}" for name, value in arguments.items())
    return f"seed {seed}: simulate(Machine().but({', '.join(changes)}), {drive}{given})"


STEP_LIMIT = "switched so often that"  # the one documented refusal of a machine that the door let in


# ------------------------------------------------------------------------------------------------------------ tests
@functools.cache
def outcomes(batch: int) -> tuple[Outcome, ...]:
    each = CI_MACHINES // CI_BATCHES
    return tuple(try_one(CI_SEED + batch * each + number) for number in range(each))


@pytest.mark.parametrize("batch", range(CI_BATCHES))
def test_random_machines_run_in_finite_numbers_and_close_their_ledger(batch: int) -> None:
    faults = [f"{outcome.fault}\n  {told(outcome.seed)}" for outcome in outcomes(batch) if outcome.fault]
    assert not faults, "\n".join(faults)


@pytest.mark.slow  # of its own it runs all 2,000; after the test above it has them already
def test_refusals_are_rare_and_of_the_documented_kind() -> None:
    every = [outcome for batch in range(CI_BATCHES) for outcome in outcomes(batch)]
    refused = [outcome for outcome in every if outcome.refused]
    strange = [f"{outcome.refused}\n  {told(outcome.seed)}" for outcome in refused if STEP_LIMIT not in outcome.refused]
    assert not strange, "\n".join(strange)
    assert len(refused) <= 0.01 * len(every), "\n".join(told(outcome.seed) for outcome in refused)


def test_any_machine_without_a_supply_stays_where_it_rests() -> None:
    """A run begins from rest: with no voltage nothing may move, whatever the springs and stops. Observed: under 1e-10 m."""
    for seed in range(CI_SEED, CI_SEED + 300):
        machine = draw(seed)[0]
        run = simulate(machine, BatteryDrive(volts=0.0, pulse_time=2e-3), pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=50)
        for blade in (run.strips.vibrator, run.strips.cushion):
            assert max(blade) - min(blade) < 1e-9, told(seed)
        assert run.openings == ()
        assert run.ledger.source == 0.0


@pytest.mark.slow  # as the test before it
def test_the_draws_are_worth_drawing() -> None:
    """Many of the machines must open and fire, or all of the above would be said of coils that do nothing."""
    every = [outcome for batch in range(CI_BATCHES) for outcome in outcomes(batch)]
    assert sum(outcome.openings > 0 for outcome in every) > 0.2 * len(every)
    assert sum(outcome.sparks > 0 for outcome in every) > 0.1 * len(every)
    assert {outcome.drive for outcome in every} == {kind.__name__ for kind in DRIVES}


# ---------------------------------------------------------------------------------------------------- the long run
def main() -> None:
    parser = argparse.ArgumentParser(description="Run many random machines and say what came of them.")
    parser.add_argument("count", type=int, nargs="?", default=100_000)
    parser.add_argument("--seed", type=int, default=1_000_000, help="the first seed; seeds follow one another")
    parser.add_argument("--jobs", type=int, default=2)
    wanted = parser.parse_args()
    begin = time.perf_counter()
    worst = Outcome(0, "")
    slowest = Outcome(0, "")
    refused: collections.Counter[str] = collections.Counter()
    tally: collections.Counter[str] = collections.Counter()
    examples: dict[str, list[int]] = {"fault": [], "refused": []}
    errors = []
    with multiprocessing.Pool(wanted.jobs) as pool:
        for outcome in pool.imap_unordered(try_one, range(wanted.seed, wanted.seed + wanted.count), chunksize=50):
            tally["ran"] += not outcome.refused
            tally["at the door"] += outcome.refused_at_the_door
            tally["opened"] += outcome.openings > 0
            tally["fired"] += outcome.sparks > 0
            if outcome.seconds > slowest.seconds:
                slowest = outcome
            if outcome.refused:
                refused[f"{outcome.drive}: {'step limit' if STEP_LIMIT in outcome.refused else outcome.refused}"] += 1
                examples["refused"].append(outcome.seed)
                continue
            if outcome.fault:
                tally["faults"] += 1
                examples["fault"].append(outcome.seed)
                print(f"FAULT {outcome.fault}\n  {told(outcome.seed)}", flush=True)
            errors.append(abs(outcome.ledger_error))
            if abs(outcome.ledger_error) > abs(worst.ledger_error):
                worst = outcome
    errors.sort()
    print(f"{wanted.count} machines from seed {wanted.seed} in {time.perf_counter() - begin:.0f} s")
    print(f"ran {tally['ran']}, of these opened {tally['opened']}, fired {tally['fired']}; faults {tally['faults']}")
    print(f"redrawn because the door refused numbers together: {tally['at the door']}")
    if errors:
        levels = ", ".join(f"{share:.5g}: {100 * errors[min(len(errors) - 1, int(share * len(errors)))]:.3g} %"
                           for share in (0.5, 0.9, 0.99, 0.999, 0.9999))
        print(f"ledger error, quantiles {levels}; worst {100 * worst.ledger_error:.4g} %\n  {told(worst.seed)}")
    print(f"slowest {slowest.seconds:.2f} s: {told(slowest.seed)}")
    print(f"refused {sum(refused.values())}: {dict(refused)}")
    for seed in examples["refused"][:20]:
        print("  refused", told(seed))


if __name__ == "__main__":
    main()
