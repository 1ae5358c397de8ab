"""`python -m coilmodel.proof.left_out`: does each conclusion of the course stand if what the model leaves out is put in?

usage: python -m coilmodel.proof.left_out [--pulses N] [--jobs N] [-o FILE]

The reference solver (`coilmodel.proof.reference`), not the kernel, runs the nominal machine as the course sets it, well and
badly, with each addition of `coilmodel.proof.extras` alone and with all together. The settings stay as they are: nobody sets
the coil anew. What comes out is kept in `left_out.json` beside this file, for the book's page and for tests, since it takes
most of an hour of one processor; a bar on standard error says how far it is.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from coilmodel.machine import Machine, MagnetoDrive, Scatter, pulse_seconds
from coilmodel.proof.extras import Extras, second_mode
from coilmodel.proof.reference import I1, solve
from coilmodel.readings import Readings, read
from coilmodel.run import Ledger, Meter, Opening, Run, Strips, simulate, turned

KEPT = Path(__file__).with_name("left_out.json")
PULSES, WARM_UP = 16, 4
RTOL = 1e-6  # of the solver: sparks and currents of a run are the same as at 1e-9 but where a nudge would change them too
TIP = 0.25  # mass at the tip over mass of the leaf: half of what swings is the leaf's own
FRICTION = 0.05  # of the cushion's preload
KNEE = 9.0  # power with which the core's own current grows; the knee lies at the current at which the well-set coil opens


# ------------------------------------------------------------------------------------------------------ what is added
@dataclass(frozen=True)
class Addition:
    """What is added: its name, and in words what and how much."""

    key: str
    name: str
    words: str
    modes: bool = False
    saturates: bool = False
    rubs: bool = False
    scatters: bool = False

    def extras(self, opening_current: float) -> Extras:
        """The additions as numbers; the core's knee lies at `opening_current`, A."""
        mode = second_mode(TIP) if self.modes else None
        return Extras(mode, mode, opening_current if self.saturates else 0.0, KNEE, FRICTION if self.rubs else 0.0,
                      Scatter() if self.scatters else None)


ADDITIONS = (
    Addition("nothing", "nothing", "the model's own equations, by the reference solver"),
    Addition("modes", "second mode of each blade",
             f"a clamped leaf's second shape beside its first, with a quarter of the leaf's mass at the tip: "
             f"{second_mode(TIP).frequency:.1f} times the first frequency, 1/{second_mode(TIP).stiffness:.0f} of the give at the "
             "tip, the same damping ratio", modes=True),
    Addition("saturation", "a core that saturates",
             "the iron takes a tenth more current at the flux of the well-set break, growing as its ninth power",
             saturates=True),
    Addition("friction", "friction at the rivet",
             f"dry friction on the cushion blade, {100.0 * FRICTION:.0f} % of its preload, always against its motion", rubs=True),
    Addition("scatter", "scatter of a real coil",
             f"breakdown of the gap {100.0 * Scatter().breakdown:.0f} %, resistance of the contacts "
             f"{100.0 * Scatter().resistance:.0f} %, ripple of the speed {100.0 * Scatter().ripple:.0f} %", scatters=True),
    Addition("all", "all of these", "the four together", True, True, True, True),
)


# --------------------------------------------------------------------------------------------------- runs and readings
@dataclass(frozen=True)
class Case:
    """One run: factors on the nominal machine's numbers, what else differs, speed (rpm) and strength of the magneto."""

    factors: tuple[tuple[str, float], ...] = ()
    rpm: float = 450.0
    drive: float = 1.0
    condenser: float = 0.0  # F; 0: the nominal one, at the nominal gap; else at a gap of 14 kV

    def machine(self) -> Machine:
        """The machine of this case."""
        machine = Machine().scaled(**dict(self.factors))
        if self.condenser:
            machine = machine.but(condenser={"capacitance": self.condenser}, gap={"breakdown": 14e3})
        return machine


def case(rpm: float = 450.0, drive: float = 1.0, condenser: float = 0.0, **factors: float) -> Case:
    """A case, written as `phenomena.at` is."""
    return Case(tuple(sorted(factors.items())), rpm, drive, condenser)


def run_of(machine: Machine, drive: MagnetoDrive, pulses: int, warm_up: int, extras: Extras) -> Run:
    """A run by the reference solver, in the form that `coilmodel.readings` reads.

    pulses, warm_up : as `simulate` takes them; extras : what is added. Strips and ledger stay empty.
    """
    period = pulse_seconds(machine, drive)
    sums = np.zeros(4)  # seconds, current, its size, its square
    highest, last = [0.0], [(0.0, 0.0)]

    def watch(t: float, y: np.ndarray, _: object) -> None:
        before, was = last[0]
        now = float(y[I1])
        if before >= warm_up * period - 1e-12 and t > before:
            sums[:] += 0.5 * (t - before) * np.array([2.0, was + now, abs(was) + abs(now), was * was + now * now])
            highest[0] = max(highest[0], abs(now))
        last[0] = (t, now)

    solution = solve(machine, drive, warm_up + pulses, rtol=RTOL, extras=extras, watch=watch)
    openings, a_pulse = [], 180.0 / machine.magneto.pole_pairs
    for one in solution.breaks:
        crank = turned(one.time, drive, extras.scatter)
        pulse = int(crank / a_pulse)
        if pulse >= warm_up:
            openings.append(Opening(
                pulse - warm_up, one.time, one.time - int(one.time / period) * period, crank - pulse * a_pulse, one.current,
                one.parting_speed, one.on_rivet, one.follow, None, one.largest_gap, one.peak_contact, one.peak_secondary,
                one.spark_time, one.breakdowns, one.spark_energy, 0, 0.0, 0.0, one.stored,
                one.quiet if one.breakdowns else None))
    seconds, mean, size, square = (float(value) for value in sums)
    meter = Meter(seconds, mean / seconds, size / seconds, math.sqrt(square / seconds), highest[0])
    return Run(machine, drive, pulses, warm_up, period, tuple(openings), 0, Ledger(*[0.0] * 11), meter,
               Strips(*[[] for _ in range(12)]), 0)


def reading(one: Case, extras: Extras, pulses: int = PULSES) -> Readings:
    """Readings of a case with additions, by the reference solver."""
    return read(run_of(one.machine(), MagnetoDrive(one.rpm, one.drive), pulses, WARM_UP, extras))


# -------------------------------------------------------------------------------------------------------- conclusions
Look = Callable[[Case], Readings]


@dataclass(frozen=True)
class Verdict:
    """Whether a conclusion stands, and the figures that say so."""

    stands: bool
    says: str


@dataclass(frozen=True)
class Conclusion:
    """One conclusion of the course: its key, the sentence, the cases it needs, and how they are judged."""

    key: str
    words: str
    cases: tuple[Case, ...]
    judge: Callable[[Look], Verdict]


def _share(value: float) -> str:
    return f"{100.0 * value:.0f} %"


def _current(found: Readings) -> float:
    return found.opening_current.mean or math.nan


WELL = case()
SPEEDS = tuple(case(rpm=rpm) for rpm in (200.0, 300.0, 600.0))
NEAR = tuple(case(cushion_preload=factor) for factor in (0.9, 1.1))
SLACK, SLACK_SLOW = case(cushion_preload=0.45), case(rpm=200.0, cushion_preload=0.45)
STIFF = case(cushion_preload=1.6)
PRELOADS = tuple((factor, case(vibrator_preload=factor)) for factor in (0.9, 1.1, 1.2))
WEAK, LATE, STRONG = case(drive=0.4), case(drive=0.67), case(drive=1.4)
SIZES = tuple(case(condenser=size) for size in (0.02e-6, 0.1e-6, 0.3e-6, 1e-6, 2e-6))


def _one_spark(look: Look) -> Verdict:
    shares = [look(one).single for one in (WELL, *SPEEDS)]
    return Verdict(min(shares) >= 0.9, f"pulses with one spark, 450, 200, 300, 600 rpm: {', '.join(map(_share, shares))}")


def _forgiving(look: Look) -> Verdict:
    shares = [look(one).single for one in NEAR]
    return Verdict(min(shares) >= 0.9, f"pulses with one spark at x0.9 and x1.1: {', '.join(map(_share, shares))}")


def _twice(look: Look) -> Verdict:
    share = look(SLACK).multiple
    return Verdict(share >= 0.8, f"pulses with two or more: {_share(share)}")


def _too_soon(look: Look, one: Case, most: float, weak: float) -> Verdict:
    current = _current(look(one)) / _current(look(WELL))
    energy = look(one).first_spark_energy / look(WELL).first_spark_energy
    return Verdict(current < most and energy < weak, f"current x{current:.2f}, first spark's energy x{energy:.2f} of well set")


def _hides(look: Look) -> Verdict:
    share = look(SLACK_SLOW).single
    return Verdict(share >= 0.9, f"pulses with one spark at 200 rpm: {_share(share)}")


def _root(look: Look) -> Verdict:
    ratios = [(_current(look(one)) / _current(look(WELL)), math.sqrt(factor)) for factor, one in PRELOADS]
    apart = max(abs(ours / root - 1.0) for ours, root in ratios)
    return Verdict(apart < 0.07, f"current at x0.9, 1.1, 1.2: {', '.join(f'x{ours:.3f}' for ours, _ in ratios)}")


def _weak(look: Look) -> Verdict:
    none, late = look(WEAK).none, look(LATE).opening_time.mean or math.inf
    ratio = late / (look(WELL).opening_time.mean or math.nan)
    return Verdict(none > 0.9 and ratio > 1.1, f"without a spark at 40 %: {_share(none)}; opening time at 67 %: x{ratio:.2f}")


def _strong(look: Look) -> Verdict:
    share = look(STRONG).multiple
    return Verdict(share >= 0.5, f"pulses with two or more at 140 %: {_share(share)}")


def _best(look: Look) -> Verdict:
    energy = [1e3 * look(one).first_spark_energy for one in SIZES]
    top = energy.index(max(energy))
    return Verdict(0 < top < len(SIZES) - 1 and max(energy[0], energy[-1]) < 0.75 * energy[top],
                   f"mJ at 0.02, 0.1, 0.3, 1, 2 uF: {', '.join(f'{value:.0f}' for value in energy)}")


def twin() -> Case:
    """A coil that fires more than once and whose rectified mean is nearest to the well-set coil's, by the kernel."""
    good = read(simulate(WELL.machine(), MagnetoDrive(450.0)))
    best, nearest = STIFF, math.inf
    for cushion in (0.35, 0.45, 0.55, 1.5, 1.6, 1.8, 2.0):
        for vibrator in (0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4):
            one = case(cushion_preload=cushion, vibrator_preload=vibrator)
            found = read(simulate(one.machine(), MagnetoDrive(450.0)))
            apart = abs(found.ammeter_rectified / good.ammeter_rectified - 1.0)
            if found.multiple >= 0.9 and apart < nearest:
                best, nearest = one, apart
    return best


def _blind(look: Look, other: Case) -> Verdict:
    found, good = look(other), look(WELL)
    meter, current = found.ammeter_rectified / good.ammeter_rectified, _current(found) / _current(good)
    return Verdict(abs(meter - 1.0) < 0.08 and current < 0.88 and found.multiple > 0.7,
                   f"meter x{meter:.2f}, opening current x{current:.2f}, two or more: {_share(found.multiple)}")


def conclusions() -> tuple[Conclusion, ...]:
    """The conclusions of the course that are tried, in its order."""
    other = twin()
    return (
        Conclusion("well-set", "a well-set coil gives one spark in every pulse, slow and fast", (WELL, *SPEEDS), _one_spark),
        Conclusion("forgiving", "it does so too with the cushion 10 % off", NEAR, _forgiving),
        Conclusion("slack-twice", "a slack cushion fires twice at 450 rpm", (SLACK,), _twice),
        Conclusion("slack-soon", "and its first spark comes too soon and weak", (SLACK, WELL),
                   lambda look: _too_soon(look, SLACK, 0.7, 0.5)),
        Conclusion("hides", "turned slowly it looks right", (SLACK_SLOW,), _hides),
        Conclusion("stiff", "a stiff cushion parts too soon and fires weakly", (STIFF, WELL),
                   lambda look: _too_soon(look, STIFF, 0.85, 0.8)),
        Conclusion("preload", "the vibrator's preload sets the current, nearly with its square root",
                   (WELL, *(one for _, one in PRELOADS)), _root),
        Conclusion("weak-magneto", "a weak magneto fires late or not at all", (WEAK, LATE, WELL), _weak),
        Conclusion("strong-magneto", "a strong one fires more than once", (STRONG,), _strong),
        Conclusion("condenser", "there is a best condenser", SIZES, _best),
        Conclusion("meter", "a meter cannot tell one spark from two", (WELL, other), lambda look: _blind(look, other)),
    )


# ---------------------------------------------------------------------------------------------------------- the table
def table(pulses: int = PULSES, jobs: int = 2, tell: Callable[[int, int], None] = lambda done, of: None) -> dict[str, Any]:
    """Try every conclusion with every addition; return what is kept.

    pulses : measured in each run, after 4; jobs : processes; tell : called with runs done and runs in all
    """
    current = _current(read(simulate(Machine(), MagnetoDrive(450.0))))
    asked = conclusions()
    cases = list(dict.fromkeys(one for conclusion in asked for one in conclusion.cases))
    wanted = [(addition, one) for addition in ADDITIONS for one in cases]
    found: dict[tuple[str, Case], Readings] = {}
    with ProcessPoolExecutor(jobs) as pool:
        waiting = {pool.submit(reading, one, addition.extras(current), pulses): (addition.key, one) for addition, one in wanted}
        for done in as_completed(waiting):
            found[waiting[done]] = done.result()
            tell(len(found), len(wanted))
    rows = []
    for conclusion in asked:
        verdicts = {addition.key: asdict(conclusion.judge(lambda one, key=addition.key: found[key, one]))  # type: ignore[misc]
                    for addition in ADDITIONS}
        rows.append({"key": conclusion.key, "words": conclusion.words, "verdicts": verdicts})
    return {"nominal": stamp(), "pulses": pulses, "warm_up": WARM_UP, "knee_current": round(current, 3),
            "additions": [{"key": one.key, "name": one.name, "words": one.words} for one in ADDITIONS], "conclusions": rows}


def stamp() -> dict[str, float]:
    """The numbers of the nominal machine that the kept table was made with."""
    return {f"{part}.{name}": value for part, values in asdict(Machine()).items() for name, value in values.items()}


def kept() -> dict[str, Any]:
    """The table that is kept; RuntimeError with the way to make it where there is none."""
    if not KEPT.is_file():
        raise RuntimeError(f"{KEPT.name} is missing; `python -m coilmodel.proof.left_out` makes it.")
    found: dict[str, Any] = json.loads(KEPT.read_text(encoding="utf-8"))
    return found


def _bar(done: int, of: int) -> None:
    filled, end = round(40 * done / of), "\n" if done == of else ""
    print(f"\r[{'#' * filled}{'.' * (40 - filled)}] {done} of {of} runs", end=end, file=sys.stderr, flush=True)


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the table and keep it; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m coilmodel.proof.left_out", description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--pulses", type=int, default=PULSES, help=f"measured pulses of each run ({PULSES})")
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("-o", "--output", type=Path, default=KEPT, help="file to write (the one that the book reads)")
    asked = parser.parse_args(arguments)
    if not 4 <= asked.pulses <= 1000:
        parser.error(f"--pulses: {asked.pulses} is not from 4 to 1000.")
    if not 1 <= asked.jobs <= 64:
        parser.error(f"--jobs: {asked.jobs} is not from 1 to 64.")
    made = table(asked.pulses, asked.jobs, _bar)
    asked.output.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    for row in made["conclusions"]:
        print(f"{row['words']}:")
        for addition in ADDITIONS:
            verdict = row["verdicts"][addition.key]
            print(f"  {'stands' if verdict['stands'] else 'FALLS '}  {addition.name}: {verdict['says']}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
