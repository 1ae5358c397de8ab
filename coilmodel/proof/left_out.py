"""What the model leaves out, tried: does each verdict of the course stand if it is put in? `python -m coilmodel.proof.left_out`

The reference solver (`coilmodel.proof.reference`), not the kernel, runs the nominal machine as the course sets it, well and
badly, with each addition of `coilmodel.proof.extras` alone and with all of them. Nobody sets the coil anew: what the
course says of *these* settings is asked. The verdicts are those of `coilmodel.proof.shares` and a few more. What comes out
is kept in `left_out.json`, for the book's page and for tests; it takes hours of one processor, and a bar says how far it is.
"""

from __future__ import annotations

import argparse
import dataclasses
import hashlib
import json
import math
import os
import pickle
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from coilmodel.machine import BatteryDrive, Drive, Machine, MagnetoDrive, Scatter, TimerDrive, pulse_seconds
from coilmodel.proof.extras import Extras, second_mode
from coilmodel.proof.reference import I1, Break, solve
from coilmodel.proof.shares import SLACK, VERDICTS, Trial, Verdict
from coilmodel.readings import Readings, read
from coilmodel.run import Ledger, Meter, Opening, Run, Strips, simulate, turned
from coilmodel.sparks import EFFECTIVE
from coilmodel.worth import WINDOW_START, WINDOW_WIDTH, Worth

KEPT = Path(__file__).with_name("left_out.json")
PULSES, WARM_UP, WINDOWS = 12, 5, 4  # as in `shares`
RTOL = 1e-6  # of the solver: what a run reads is the same as at 1e-9 but where a nudge would change it too
RINGING = 8e-3  # s after the timer has opened until which a window is followed
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

    def extras(self, opening_current: float, seed: int = 1) -> Extras:
        """The additions as numbers; the core's knee lies at `opening_current`, A; `seed` names the run of luck."""
        mode = second_mode(TIP) if self.modes else None
        return Extras(mode, mode, opening_current if self.saturates else 0.0, KNEE, FRICTION if self.rubs else 0.0,
                      Scatter(seed=seed) if self.scatters else None)


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


# -------------------------------------------------------------------------------- runs of the reference, as the kernel's
def _opening(one: Break, pulse: int, after: float, angle: float | None) -> Opening:
    """An opening of the reference in the form of the kernel's; what the reference does not keep is 0 or None."""
    return Opening(
        pulse, one.time, after, angle, one.current, one.parting_speed, one.on_rivet, one.follow, None, one.largest_gap,
        one.peak_contact, one.peak_secondary, one.spark_time, one.breakdowns, one.spark_energy, 0, 0.0, one.break_arc_energy,
        one.stored, one.quiet if one.breakdowns else None)


def _run(machine: Machine, drive: Drive, pulses: int, warm_up: int, period: float, openings: Sequence[Opening],
         meter: Meter) -> Run:
    return Run(machine, drive, pulses, warm_up, period, tuple(openings), 0, Ledger(*[0.0] * 11), meter,
               Strips(*[[] for _ in range(12)]), 0)


def steady(machine: Machine, drive: MagnetoDrive | BatteryDrive, extras: Extras, pulses: int = PULSES,
           warm_up: int = WARM_UP) -> Run:
    """Run a machine by the reference and return what `coilmodel.readings` reads.

    pulses, warm_up : as `simulate` takes them; extras : what is added. Strips and ledger stay empty.
    drive : what turns it
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
        pulse, angle = int(one.time / period), None
        if isinstance(drive, MagnetoDrive):
            crank = turned(one.time, drive, extras.scatter)
            pulse = int(crank / a_pulse)
            angle = crank - pulse * a_pulse
        if pulse >= warm_up:
            openings.append(_opening(one, pulse - warm_up, one.time - int(one.time / period) * period, angle))
    seconds, mean, size, square = (float(value) for value in sums)
    meter = Meter(seconds, mean / seconds, size / seconds, math.sqrt(square / seconds), highest[0])
    return _run(machine, drive, pulses, warm_up, period, openings, meter)


def window(machine: Machine, rpm: float, extras: Extras) -> list[Opening]:
    """The openings of one window of the timer, from rest, as `coilmodel.worth` sets it; extras : what is added.

    rpm : crank speed
    """
    drive = TimerDrive(rpm, window_start=WINDOW_START, window_width=WINDOW_WIDTH)
    until = (WINDOW_START + WINDOW_WIDTH) / (6.0 * rpm) + RINGING
    solution = solve(machine, drive, 1, rtol=RTOL, extras=extras, until=until)
    return [_opening(one, 0, one.time, turned(one.time, drive, extras.scatter)) for one in solution.breaks]


def in_the_car(machine: Machine, rpm: float, windows: Sequence[Sequence[Opening]]) -> Worth:
    """What the engine gets of such windows, read as `coilmodel.worth` reads them.

    rpm : crank speed
    """
    drive = TimerDrive(rpm, window_start=WINDOW_START, window_width=WINDOW_WIDTH)
    openings = [dataclasses.replace(one, pulse=place) for place, some in enumerate(windows) for one in some]
    result = read(_run(machine, drive, len(windows), 0, 120.0 / rpm, openings, Meter(1.0, 0.0, 0.0, 0.0, 0.0)))
    return Worth(rpm, len(windows), result.misfired, result.firing_angle, result.first_spark_energy, result.effective_energy,
                 result.later_energy, result.sparks_per_pulse, sum(one.break_arc_energy for one in openings) / len(windows))


# ------------------------------------------------------------------------------------------------------------ verdicts
def _current(found: Readings) -> float:
    return found.opening_current.mean or math.nan


def _root(trial: Trial) -> bool:
    base = _current(trial.at())
    ratios = {factor: _current(trial.at(vibrator_preload=factor)) / base for factor in (0.9, 1.1, 1.2)}
    return all(abs(ratio / math.sqrt(factor) - 1.0) < 0.07 for factor, ratio in ratios.items())


def _best(trial: Trial) -> bool:
    energy = [trial.with_condenser(size).first_spark_energy for size in (0.02e-6, 0.1e-6, 0.3e-6, 2e-6)]
    return max(energy[0], energy[-1]) < 0.75 * max(energy[1:3])


def _blind(trial: Trial) -> bool:
    good = trial.at()
    # a list, not a generator: all are asked for, so that each addition can run them beforehand
    others = [trial.at(cushion_preload=cushion, vibrator_preload=vibrator)
              for cushion in (1.6, 1.75, 2.0) for vibrator in (1.0, 1.1, 1.2, 1.3)]
    return any(other.multiple > 0.5 and abs(other.ammeter_rectified / good.ammeter_rectified - 1.0) < 0.08
               and _current(other) < 0.9 * _current(good) for other in others)


LEFT = ("No condenser (0.1 nF): every pulse misfires.",)
"""Verdicts of `shares` that are not asked: a shower of arcs across next to no condenser takes the reference for ever."""

MORE = (
    Verdict("Well set, 900 rpm: one spark in every pulse.", lambda t: t.at(900.0).single == 1.0),
    Verdict("The cushion 10 % off either way, 450 rpm: one spark in every pulse.",
            lambda t: t.at(cushion_preload=0.9).single == t.at(cushion_preload=1.1).single == 1.0),
    Verdict("Slack cushion, in the car at 450 rpm: burns more than 5 mJ at its points as they part.",
            lambda t: t.car(cushion_preload=SLACK).arc_energy > 5e-3),
    Verdict("The opening current goes nearly with the root of the vibrator's preload.", _root),
    Verdict("There is a best condenser between 0.02 and 2 uF.", _best),
    Verdict("A meter reads some coil that fires twice, at a lower current, as it reads the well-set one.", _blind),
)

ASKED = (*(verdict for verdict in VERDICTS if verdict.says not in LEFT), *MORE)
"""Every verdict of the table, in its order."""


NOTES = {
    "Slack cushion, 450 rpm: parts before its rivet.":
        "The contacts do part as early, before the rivet, but by less than a hundredth of a millimetre: they burn there, meet "
        "again, and part for good on the rivet. The reading leaves such a chatter out. What the engine gets is the same: a weak "
        "spark, a misfire, and points that burn.",
    "Slack cushion, in the car at 450 rpm: misfires in most windows.":
        f"The spark is still weak, under half of the well-set one's, but over the {1e3 * EFFECTIVE:.0f} mJ that are taken to "
        "light the charge for sure; that edge is the course's own choice.",
}
"""What is behind a verdict's fall, where figures alone don't say it; `tests/model/test_left_out.py` holds each."""


# --------------------------------------------------------------------------------------------------------------- trials
Case = tuple[str, Machine, Any]
"""One run: "bench" with a drive, or "car" with a speed in rpm."""


class Recorder(Trial):
    """A trial by the kernel that notes every run that was asked for, so that the reference can make them beforehand."""

    def __init__(self, machine: Machine) -> None:
        super().__init__(machine)
        self.asked: dict[Case, Readings | Worth] = {}
        self.looked_at: list[Case] = []
        by_kernel, worth_by_kernel = self._read, self._worth

        def bench(changed: Machine, drive: Drive) -> Readings:
            found = self.asked["bench", changed, drive] = by_kernel(changed, drive)
            self.looked_at.append(("bench", changed, drive))
            return found

        def car(changed: Machine, rpm: float) -> Worth:
            found = self.asked["car", changed, rpm] = worth_by_kernel(changed, rpm)
            self.looked_at.append(("car", changed, rpm))
            return found

        self._read, self._worth = bench, car  # type: ignore[assignment]


class Tried(Trial):
    """A trial by the reference with an addition; runs that were made beforehand are taken from `known`."""

    def __init__(self, machine: Machine, addition: Addition, knee: float, known: dict[Case, Any]) -> None:
        super().__init__(machine)

        def found(case: Case) -> Any:
            if case not in known:
                known[case] = outcome(addition, knee, case)
            return known[case]

        self._read = lambda changed, drive: found(("bench", changed, drive))  # type: ignore[assignment]
        self._worth = lambda changed, rpm: found(("car", changed, rpm))  # type: ignore[assignment]


def outcome(addition: Addition, knee: float, case: Case) -> Readings | Worth:
    """Run a case by the reference. knee : current of the core's knee, A."""
    kind, machine, how = case
    if kind == "bench":
        return read(steady(machine, how, addition.extras(knee)))
    seeds = range(1, WINDOWS + 1) if addition.scatters else (1,)  # without scatter every window from rest is the same
    return in_the_car(machine, how, [window(machine, how, addition.extras(knee, seed)) for seed in seeds])


def outcome_kept(addition: Addition, knee: float, case: Case, runs: Path | None) -> Readings | Worth:
    """Run a case, or take it from the folder `runs` if it was run before with just these numbers and this program.

    knee : A, the current at which the well-set coil opens, where a core that saturates bends
    """
    if runs is None:
        return outcome(addition, knee, case)
    whole = hashlib.sha256(repr((addition, knee, case)).encode())
    for path in sorted(Path(__file__).parent.parent.rglob("*.py")):
        whole.update(path.read_bytes())
    place = runs / f"{whole.hexdigest()[:32]}.pickle"
    if place.is_file():
        found: Readings | Worth = pickle.loads(place.read_bytes())
        return found
    found = outcome(addition, knee, case)
    draft = place.with_suffix(f".{os.getpid()}")
    draft.write_bytes(pickle.dumps(found))
    draft.replace(place)
    return found


def knee_current() -> float:
    """The current at which the well-set coil opens, A, by the kernel."""
    return _current(read(simulate(Machine(), MagnetoDrive(450.0))))


# ---------------------------------------------------------------------------------------------------------- the table
def table(jobs: int = 2, tell: Callable[[int, int], None] = lambda done, of: None, asked: Sequence[Verdict] = ASKED,
          additions: Sequence[Addition] = ADDITIONS, runs: Path | None = None) -> dict[str, Any]:
    """Ask every verdict with every addition; return what is kept.

    jobs : processes; tell : called with runs done and runs in all; asked, additions : what is tried; runs : folder in which
    each run is kept as it is done, so that a table that was interrupted goes on where it stopped
    """
    knee, recorder = knee_current(), Recorder(Machine())
    by_kernel, looked_at = [], []
    for verdict in asked:
        recorder.looked_at.clear()
        by_kernel.append(bool(verdict.holds(recorder)))
        looked_at.append(list(dict.fromkeys(recorder.looked_at)))
    wanted = [(addition, case) for case in recorder.asked for addition in additions]
    known: dict[str, dict[Case, Any]] = {addition.key: {} for addition in additions}
    with ProcessPoolExecutor(jobs) as pool:
        waiting = {pool.submit(outcome_kept, addition, knee, case, runs): (addition.key, case) for addition, case in wanted}
        for place, done in enumerate(as_completed(waiting), 1):
            key, case = waiting[done]
            known[key][case] = done.result()
            tell(place, len(wanted))
    trials = {addition.key: Tried(Machine(), addition, knee, known[addition.key]) for addition in additions}
    places = {case: place for place, case in enumerate(recorder.asked)}
    rows = [{"says": verdict.says, "kernel": said, "runs": [places[case] for case in cases],
             "stands": {key: bool(verdict.holds(trial)) for key, trial in trials.items()}}
            for verdict, said, cases in zip(asked, by_kernel, looked_at, strict=True)]
    told = {key: [digest(case, found[case]) for case in recorder.asked] for key, found in known.items()}
    return {"numbers": numbers(), "knee_current": round(knee, 3), "pulses": PULSES, "windows": WINDOWS,
            "additions": [{"key": one.key, "name": one.name, "words": one.words} for one in additions], "verdicts": rows,
            "runs": {"kernel": [digest(case, found) for case, found in recorder.asked.items()], **told}}


def numbers() -> dict[str, float]:
    """Every number of the nominal machine, as part.field."""
    return {f"{part}.{name}": value for part, values in dataclasses.asdict(Machine()).items() for name, value in values.items()}


def digest(case: Case, found: Readings | Worth) -> dict[str, Any]:
    """What a run came to, in a few figures, for who wants to know why a verdict stands or falls.

    found : what the digest is of
    """
    kind, machine, how = case
    nominal = Machine()
    changed = {f"{part.name}.{item.name}": round(getattr(mine, item.name) / getattr(theirs, item.name), 4)
               for part in dataclasses.fields(machine)
               for mine, theirs in [(getattr(machine, part.name), getattr(nominal, part.name))]
               for item in dataclasses.fields(mine) if getattr(mine, item.name) != getattr(theirs, item.name)}
    told: dict[str, Any] = {"where": kind, "drive": how if kind == "car" else dataclasses.asdict(how), "changed": changed}
    if isinstance(found, Worth):
        return told | {"misfires": found.misfires, "sparks": found.sparks, "first_mJ": round(1e3 * found.first_energy, 2),
                       "arc_mJ": round(1e3 * found.arc_energy, 2)}
    return told | {
        "single": round(found.single, 3), "multiple": round(found.multiple, 3), "none": round(found.none, 3),
        "misfired": round(found.misfired, 3), "amperes": _rounded(found.opening_current.mean),
        "ms": _rounded(found.opening_time.mean, 1e3),
        "on_rivet": round(found.on_rivet, 3), "first_mJ": round(1e3 * found.first_spark_energy, 2),
        "arc_mJ": round(1e3 * found.break_arc_energy, 2), "meter": round(found.ammeter_rectified, 3)}


def _rounded(value: float | None, scale: float = 1.0) -> float | None:
    return None if value is None else round(scale * value, 3)


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
    """Make the table and keep it; return the exit status.

    arguments : the command line's words
    """
    parser = argparse.ArgumentParser(prog="python -m coilmodel.proof.left_out", description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--jobs", type=int, default=2, help="processes (2)")
    parser.add_argument("-o", "--output", type=Path, default=KEPT, help="file to write (the one that the book reads)")
    parser.add_argument("--runs", type=Path, metavar="FOLDER", help="keep each run here, and go on where a table was interrupted")
    given = parser.parse_args(arguments)
    if not 1 <= given.jobs <= 64:
        parser.error(f"--jobs: {given.jobs} is not from 1 to 64.")
    if given.runs:
        given.runs.mkdir(parents=True, exist_ok=True)
    made = table(given.jobs, _bar, runs=given.runs)
    given.output.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    for row in made["verdicts"]:
        fallen = [one["name"] for one in made["additions"] if not row["stands"][one["key"]]]
        print(f"{row['says']} {'stands with each' if not fallen else 'FALLS with ' + ', '.join(fallen)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
