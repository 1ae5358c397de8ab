"""The kernel's rows, one a step, against the laws in its docstring, and all that it adds up against sums over those rows.

The rows are the kernel's own, but no sum or law here is: each is written out once more, what the motion loses comes from the work
that the magnet did, and the scatter from the generator's numbers in their order. So a slip anywhere in `advance` shows as a step
that no longer obeys, or a sum that is not that of the steps. The functions that `advance` uses have test_kernel_steps.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, kernel
from coilmodel.tally import numbers_of

Named = dict[str, float]
OPENINGS = 40


@dataclass(frozen=True)
class Step:
    """One step between two rows `a` and `b`: what was on meanwhile, and the values at mid-step. SI units."""

    a: Named
    b: Named
    long: float
    closed: bool
    contact: float  # ohm, of closed contacts
    holds: float  # V, what the spark gap holds when it has long been quiet
    broken: bool  # the timer is opening: its arc burns
    out: bool  # the timer's arc goes out in this step
    speed: float  # m/s, of the vibrator at the start
    i1: float
    i2: float
    u: float
    v1: float  # V, at the end, before a switch
    vs1: float

    @property
    def x(self) -> float:
        """Where the vibrator's speed takes it by mid-step, m."""
        return self.a["vibrator"] + 0.5 * self.long * self.speed

    @property
    def v(self) -> float:
        """The contact voltage at mid-step; of closed contacts that at the end."""
        return self.v1 if self.closed or self.a["arc"] else 0.5 * (self.a["contact_voltage"] + self.v1)

    @property
    def vs(self) -> float:
        """The secondary voltage at mid-step."""
        return self.vs1 if self.a["spark"] else 0.5 * (self.a["secondary_voltage"] + self.vs1)


@dataclass(frozen=True)
class Ran:
    """A run of the kernel as it is, with a row a step, and what stood in its buffers."""

    p: Named
    steps: list[Step]
    events: list[Named]
    ledger: Named
    meter: Named


def inductance(p: Named, x: float) -> tuple[float, float]:
    """Return the gap to the core (m) and the magnetising inductance (H) with the vibrator at `x` m."""
    far = p["coupling"] * p["primary_inductance"] - 2.0 * p["pull_constant"] / p["magnetic_gap"]
    gap = p["magnetic_gap"] - x
    assert gap > 0.1 * p["magnetic_gap"], "beyond that the formula is another"
    return gap, far + 2.0 * p["pull_constant"] / gap


def leakage(p: Named) -> tuple[float, float]:
    """Return the leakage inductances of the primary loop and of the secondary, H."""
    apart = (1.0 - p["coupling"]) * p["primary_inductance"]
    return p["source_inductance"] + apart, apart * p["turns_ratio"]**2


def ran(drive: Any, end: float, room: int = OPENINGS, **changed: float) -> Ran:
    """Run the kernel to `end` (s) on the nominal machine with these of its numbers changed, and `room` for so many openings."""
    p = dict(zip(kernel.PARAMETERS, numbers_of(Machine(), drive, 1, 0), strict=True))
    p |= {"end": end, "record_from": 0.0, "record_to": 1.0, "record_every": 0.0, "measure_from": 0.0} | changed
    width = len(kernel.STRIP)
    strips, events = [0.0] * (40_000 * width), [0.0] * (room * len(kernel.EVENT))
    ledger, meter = [0.0] * len(kernel.LEDGER), [0.0] * len(kernel.METER)
    kernel.advance(tuple(p.values()), strips, events, ledger, meter)
    read = dict(zip(kernel.METER, meter, strict=True))
    rows = [dict(zip(kernel.STRIP, strips[at:at + width], strict=True)) for at in range(0, int(read["rows"]) * width, width)]
    assert len(rows) == read["steps"], "a row is missing"
    kept = [dict(zip(kernel.EVENT, events[at:at + len(kernel.EVENT)], strict=True))
            for at in range(0, len(events), len(kernel.EVENT))][:int(read["openings"])]
    assert len(kept) == min(read["openings"], room)
    return Ran(p, list(_steps(p, rows)), kept, dict(zip(kernel.LEDGER, ledger, strict=True)), read)


def drawn(p: Named) -> tuple[Callable[[], float], Callable[[], float]]:
    """Return what gives the next breakdown voltage (V) and the next resistance (ohm), of one row of chance numbers."""
    state = [p["seed"]]

    def of(value: float, share: float) -> float:
        if not share:
            return value
        state[0], z = kernel.normal(state[0])
        return value * max(0.2, 1.0 + share * z)

    return (lambda: of(p["spark_breakdown"], p["breakdown_scatter"]),
            lambda: of(p["contact_resistance"], p["resistance_scatter"]))


def _steps(p: Named, rows: list[Named]) -> Iterator[Step]:
    """Read off the rows what was on in each step, and what the values at mid-step were."""
    next_breakdown, next_resistance = drawn(p)
    holds, contact = next_breakdown(), next_resistance()
    a = dict.fromkeys(kernel.STRIP, 0.0) | {"vibrator": p["start_vibrator"], "cushion": p["start_cushion"]}
    closed, speed = a["cushion"] >= a["vibrator"] or bool(p["prescribed_opening"]), 0.0
    for b in rows:
        long = b["time"] - a["time"]
        u = (b["flux"] - a["flux"]) / long
        i1, i2 = 0.5 * (a["current"] + b["current"]), 0.5 * (a["secondary_current"] + b["secondary_current"])
        since = (a["time"] + 1e-10 - p["window_start"]) % p["cycle"] if p["cycle"] else 0.0
        broken = bool(p["cycle"] and since >= p["window_width"] and a["current"])
        out = broken and not b["current"]
        if out:  # the current at the end was set to nothing: the flux tells what it was on the way
            _, L = inductance(p, a["vibrator"] + 0.5 * long * speed)
            i1 = (a["flux"] + 0.5 * long * u) / L - p["turns_ratio"] * i2 + u / p["core_resistance"]
        if closed:
            v1 = (i1 + p["capacitance"] * a["contact_voltage"] / long) / (
                p["capacitance"] / long + 1.0 / contact + 1.0 / p["leakage_resistance"])
        elif a["arc"]:
            v1 = a["arc"] * p["arc_voltage"]
        else:
            half = 0.5 * long / p["leakage_resistance"]
            v1 = (a["contact_voltage"] * (p["capacitance"] - half) + long * i1) / (p["capacitance"] + half)
        vs1 = a["spark"] * p["spark_burn"] if a["spark"] else a["secondary_voltage"] + long * i2 / p["secondary_capacitance"]
        yield Step(a, b, long, closed, contact, holds, broken, out, speed, i1, i2, u, v1, vs1)
        speed = 2.0 * (b["vibrator"] - a["vibrator"]) / long - speed
        if a["spark"] and not b["spark"]:
            holds = next_breakdown()
        touching = b["cushion"] >= b["vibrator"]
        if p["prescribed_opening"]:
            touching = b["time"] < p["prescribed_opening"] - 1e-12
        if touching and not closed:
            contact = next_resistance()
        closed = touching
        a = b


RUNS: dict[str, Callable[[], Ran]] = {
    # over the break and its spark
    "well set": lambda: ran(MagnetoDrive(), 7e-3),
    # a slack cushion: an arc at the points, more than one opening; not all are measured
    "slack": lambda: ran(MagnetoDrive(rpm=600.0), 14e-3, cushion_preload=0.5, measure_from=2.5e-3),
    # hardly a condenser, and a leaky one: long arcs, and what they leave in the end
    "arcing": lambda: ran(MagnetoDrive(), 7e-3, capacitance=15e-9, leakage_resistance=2e3),
    # a battery, and all that scatters
    "scattered": lambda: ran(BatteryDrive(12.0), 9e-3, breakdown_scatter=0.1, resistance_scatter=0.3, seed=5.0),
    "rippling": lambda: ran(MagnetoDrive(), 5e-3, ripple=0.2, ripple_omega=90.0, ripple_phase=1.0, emf_constant=0.3),
    # the timer closes, opens on a current that its arc carries, and closes again
    "timer": lambda: ran(TimerDrive(900.0), 24e-3, window_start=2e-3, window_width=2.5e-3, cycle=11e-3),
    # the contacts part when they are told to, whatever the blades do, and stay apart until nothing rings any more
    "told": lambda: ran(MagnetoDrive(), 8e-3, prescribed_opening=3.1e-3),
    "told, with blades apart": lambda: ran(MagnetoDrive(), 2.5e-3, prescribed_opening=2e-3, start_vibrator=0.3e-3),
}
run_by_name = cache(lambda name: RUNS[name]())
every_run = pytest.mark.parametrize("name", RUNS)


def test_the_runs_go_through_what_they_are_for() -> None:
    ran_all = {name: run_by_name(name) for name in RUNS}
    assert any(step.a["arc"] for step in ran_all["arcing"].steps)
    assert any(step.a["spark"] for step in ran_all["well set"].steps)
    assert len(ran_all["slack"].events) > 1
    assert sum(event["sparks"] for event in ran_all["scattered"].events) > 3
    assert sum(step.out for step in ran_all["timer"].steps) == 2
    assert sum(step.broken for step in ran_all["timer"].steps) > 3
    assert not any(step.b["arc"] for step in ran_all["told"].steps), "as in an ideal circuit"
    assert [event["time"] for event in ran_all["told"].events] == [pytest.approx(3.1e-3, abs=1e-9)]


@every_run
def test_every_step_obeys_the_circuits_laws(name: str) -> None:
    run = run_by_name(name)
    p, (first, second) = run.p, leakage(run.p)
    for step in run.steps:
        a, b, where = step.a, step.b, f"{name}, {step.b['time']:.9f} s"
        through = (a["flux"] + 0.5 * step.long * step.u) / inductance(p, step.x)[1]
        assert through == pytest.approx(step.i1 + p["turns_ratio"] * step.i2 - step.u / p["core_resistance"], abs=2e-7), where
        back = math.copysign(p["timer_voltage"], a["current"]) if step.broken else 0.0
        rise = 2.0 * (step.i1 - a["current"]) / step.long
        if step.i1 or a["current"]:  # else the timer is open
            volts = b["emf"] - p["source_resistance"] * step.i1 - p["primary_resistance"] * step.i1 - step.v - back - step.u
            assert first * rise == pytest.approx(volts, abs=1e-4), where
        else:
            assert p["cycle"]
        ring = 2.0 * (step.i2 - a["secondary_current"]) / step.long
        volts = -p["secondary_resistance"] * step.i2 - step.vs - p["turns_ratio"] * step.u
        assert second * ring == pytest.approx(volts, abs=2e-2), where
        struck, sparked = b["arc"] and not a["arc"], b["spark"] and not a["spark"]
        assert b["contact_voltage"] == pytest.approx(b["arc"] * p["arc_voltage"] if struck else step.v1, abs=1e-6), where
        assert b["secondary_voltage"] == pytest.approx(b["spark"] * p["spark_burn"] if sparked else step.vs1, abs=1e-4), where


@every_run
def test_the_contacts_press_on_each_other_by_spring_and_damper(name: str) -> None:
    run = run_by_name(name)
    p, pressed = run.p, 0
    for step in run.steps:
        ends = [row["cushion"] - row["vibrator"] for row in (step.a, step.b)]
        force = 0.5 * p["contact_stiffness"] * sum(ends) + p["contact_damping"] * (ends[1] - ends[0]) / step.long
        if ends[0] < 0.0:
            assert step.b["contact_force"] == 0.0
        elif step.b["contact_force"]:  # nought where it would pull
            assert step.b["contact_force"] == pytest.approx(force, abs=1e-6)
        pressed += step.b["contact_force"] > 0.1
    assert pressed > 20 or "apart" in name


@every_run
def test_every_emf_is_that_of_its_moment(name: str) -> None:
    run = run_by_name(name)
    names = ("emf_constant", "emf_peak", "omega", "third", "fifth", "ripple", "ripple_omega", "ripple_phase")
    for step in run.steps:
        middle = step.a["time"] + 0.5 * step.long
        assert step.b["emf"] == pytest.approx(kernel.emf(middle, *(run.p[one] for one in names)), abs=1e-6)


@every_run
def test_the_ledger_is_the_sum_of_the_steps(name: str) -> None:
    run = run_by_name(name)
    p, (first, _) = run.p, leakage(run.p)
    sums = dict.fromkeys(("source", "copper", "core", "contact", "arc", "leakage", "secondary", "spark", "timer"), 0.0)
    for step in run.steps:
        a, b, long = step.a, step.b, step.long
        sums["source"] += b["emf"] * step.i1 * long
        sums["copper"] += (p["source_resistance"] + p["primary_resistance"]) * step.i1**2 * long
        sums["core"] += step.u**2 / p["core_resistance"] * long
        sums["secondary"] += p["secondary_resistance"] * step.i2**2 * long
        if step.closed:
            sums["contact"] += step.v * step.i1 * long - 0.5 * p["capacitance"] * (step.v1**2 - a["contact_voltage"]**2)
        else:
            sums["leakage"] += step.v**2 / p["leakage_resistance"] * long
        sums["arc"] += arc_takes(p, step)
        sums["spark"] += spark_takes(p, step)
        if step.broken:
            sums["timer"] += math.copysign(p["timer_voltage"], a["current"]) * step.i1 * long
        if step.out:
            sums["timer"] += 0.5 * first * (2.0 * step.i1 - a["current"])**2
    for each, joules in sums.items():
        assert run.ledger[each] == pytest.approx(joules, rel=1e-6, abs=1e-10), each


def arc_takes(p: Named, step: Step) -> float:
    """Return what an arc between the contacts takes in a step, J: what its current brings, and what the condenser had over it."""
    arcing = step.a["arc"] and not step.closed
    burning = step.v * (step.i1 - step.v / p["leakage_resistance"]) * step.long if arcing else 0.0
    struck = step.b["arc"] and not step.a["arc"]
    return burning + (0.5 * p["capacitance"] * (step.v1**2 - p["arc_voltage"]**2) if struck else 0.0)


def spark_takes(p: Named, step: Step) -> float:
    """Return what the spark takes in a step, J."""
    burning = step.vs * step.i2 * step.long if step.a["spark"] else 0.0
    struck = step.b["spark"] and not step.a["spark"]
    return burning + (0.5 * p["secondary_capacitance"] * (step.vs1**2 - p["spark_burn"]**2) if struck else 0.0)


@every_run
def test_what_the_motion_loses_is_what_the_magnet_gave_and_blades_do_not_hold(name: str) -> None:
    """The ledger closes, and its share of the blades is the work of the pull less what springs and masses hold in the end."""
    run = run_by_name(name)
    p, ledger = run.p, run.ledger
    work = 0.0
    for step in run.steps:
        gap, L = inductance(p, step.x)
        through = (step.a["flux"] + 0.5 * step.long * step.u) / L
        work += p["pull_constant"] * (through / gap)**2 * (step.b["vibrator"] - step.a["vibrator"])
    last, (first, second) = run.steps[-1].b, leakage(p)
    fields = (0.5 * first * last["current"]**2 + 0.5 * second * last["secondary_current"]**2
              + 0.5 * last["flux"]**2 / inductance(p, last["vibrator"])[1] + 0.5 * p["capacitance"] * last["contact_voltage"]**2
              + 0.5 * p["secondary_capacitance"] * last["secondary_voltage"]**2)
    assert ledger["mechanical"] == pytest.approx(work - (ledger["stored_end"] - fields - ledger["stored_start"]), abs=2e-10)
    losses = sum(ledger[one] for one in kernel.LEDGER[1:10])
    assert ledger["source"] == pytest.approx(losses + ledger["stored_end"] - ledger["stored_start"], rel=5e-6)


@every_run
def test_what_gaps_hold_and_when_arcs_and_sparks_end(name: str) -> None:
    run = run_by_name(name)
    p = run.p
    quenched = -1e6
    for step in run.steps:
        a, b = step.a, step.b
        apart = b["vibrator"] - b["cushion"]
        strength = kernel.contact_gap_holds(apart, p["arc_voltage"])
        struck = b["arc"] and not a["arc"]
        if not step.closed and not a["arc"] and not p["prescribed_opening"]:
            assert abs(step.v1) < strength * 1.002 + 0.2
            assert not struck or abs(step.v1) > strength * 0.998 - 0.2
        if a["arc"] and not step.closed:  # Holm's least current, and Kaufmann's beside a condenser
            power = p["arc_power"] + p["arc_power_rise"] * max(0.0, apart)
            least = math.sqrt(p["arc_current"]**2 + power * p["capacitance"] / p["arc_time"])
            now = a["arc"] * (b["current"] - step.v1 / p["leakage_resistance"])
            assert (now > least - 3e-3) if b["arc"] else (now < least + 3e-3 or step.b["cushion"] >= step.b["vibrator"])
        sparked = b["spark"] and not a["spark"]
        if not a["spark"]:
            strength = kernel.spark_gap_holds(b["time"] - quenched, step.holds, p["spark_burn"], p["spark_recovery"])
            assert abs(step.vs1) < strength * 1.001
            assert not sparked or abs(step.vs1) > strength * 0.999
            assert not sparked or b["spark"] == math.copysign(1.0, step.vs1)
        elif b["spark"]:
            assert b["spark"] * b["secondary_current"] > p["spark_extinction"] - 2e-5
        else:
            assert a["spark"] * b["secondary_current"] < p["spark_extinction"] + 2e-5
            quenched = b["time"]


@every_run
def test_every_openings_row_is_what_its_steps_say(name: str) -> None:
    run = run_by_name(name)
    p, (first, _) = run.p, leakage(run.p)
    found: list[Named] = []
    filling: Named | None = None
    quenched, closing = -1e6, 0.0
    for place, step in enumerate(run.steps):
        a, b = step.a, step.b
        closed = run.steps[place + 1].closed if place + 1 < len(run.steps) else step.closed
        gap = b["vibrator"] - b["cushion"]
        struck, sparked = b["arc"] and not a["arc"], b["spark"] and not a["spark"]
        if filling is not None:
            burnt = arc_takes(p, step)
            filling["arc_energy"] += burnt
            if gap >= filling["largest_gap"]:
                filling["break_arc_energy"] += burnt
            filling["largest_gap"] = max(filling["largest_gap"], 0.0 if step.closed else gap)
            filling["peak_contact_voltage"] = max(filling["peak_contact_voltage"], abs(step.v1))
            filling["peak_secondary_voltage"] = max(filling["peak_secondary_voltage"], abs(step.vs1))
            filling["arc_strikes"] += bool(struck)
            filling["spark_energy"] += spark_takes(p, step)
            if sparked:
                if not filling["sparks"]:
                    filling |= {"first_spark_time": b["time"], "quiet": b["time"] - quenched}
                filling["sparks"] += 1
            if closed and not step.closed:
                filling["closing_time"] = b["time"]
        if a["spark"] and not b["spark"]:
            quenched = b["time"]
        if step.closed and not closed:
            filling = None
            if b["time"] >= p["measure_from"]:
                speeds = [2.0 * (b[one] - a[one]) / step.long for one in ("vibrator", "cushion")]
                _, L = inductance(p, b["vibrator"])
                filling = dict.fromkeys(kernel.EVENT, 0.0) | {
                    "time": b["time"], "current": b["current"], "vibrator": b["vibrator"], "cushion": b["cushion"],
                    "on_rivet": float(b["cushion"] >= 0.0), "closing_time": -1.0, "first_spark_time": -1.0, "quiet": -1.0,
                    "parting_speed": speeds[0] - step.speed - (speeds[1] - closing),
                    "stored_energy": 0.5 * first * b["current"]**2 + 0.5 * b["flux"]**2 / L}
                found.append(filling)
        closing = 2.0 * (b["cushion"] - a["cushion"]) / step.long - closing
    assert len(found) == len(run.events)
    for mine, theirs in zip(found, run.events, strict=True):
        for each, value in mine.items():
            assert theirs[each] == pytest.approx(value, rel=1e-5, abs=1e-10), (each, mine["time"])


def test_openings_from_before_the_measuring_and_those_without_room_leave_the_others_as_they_are() -> None:
    """A battery's buzz, measured from just before a spark of one of its openings, and with room for three of its openings."""
    whole = ran(BatteryDrive(12.0), 9e-3)
    assert len(whole.events) > 4
    place = next(place for place, event in enumerate(whole.events) if place and event["sparks"])
    middle = 0.5 * (whole.events[place]["time"] + whole.events[place]["first_spark_time"])
    assert ran(BatteryDrive(12.0), 9e-3, measure_from=middle).events == whole.events[place + 1:]
    short = ran(BatteryDrive(12.0), 9e-3, room=3)
    assert short.meter["openings"] == len(whole.events)
    assert short.events == whole.events[:3]


@every_run
def test_the_meters_are_those_of_the_current_from_where_it_is_measured(name: str) -> None:
    run = run_by_name(name)
    measured = [step for step in run.steps if step.b["time"] > run.p["measure_from"]]
    sums = {"seconds": sum(step.long for step in measured), "current": sum(step.i1 * step.long for step in measured),
            "absolute_current": sum(abs(step.i1) * step.long for step in measured),
            "squared_current": sum(step.i1**2 * step.long for step in measured),
            "peak_current": max(abs(step.i1) for step in measured)}
    for each, value in sums.items():
        assert run.meter[each] == pytest.approx(value, rel=1e-7, abs=1e-12), each


APPROACH = 8  # steps, cut shorter and shorter, that may land before a switch


@every_run
def test_every_step_is_as_long_as_it_may_be(name: str) -> None:
    """Small after a switch, doubled after every few up to what the place allows, cut at known edges and at switches alone."""
    run = run_by_name(name)
    p, (first, _) = run.p, leakage(run.p)
    open_ceiling = min(2e-6, max(3e-7, 0.06 * math.sqrt(first * p["capacitance"])))
    edges = [p["end"], p["prescribed_opening"] or p["end"]]
    if p["cycle"]:
        edges += [p["window_start"] + turn * p["cycle"] + part for turn in range(9) for part in (0.0, p["window_width"])]
    switches = [switched(p, step, edges) for step in run.steps] + [True] * APPROACH
    long, calm, still, cut = 1e-6, 0, 0, 0
    for place, step in enumerate(run.steps):
        a, b = step.a, step.b
        closed = int(step.closed)
        ceiling = kernel.longest_step(closed, still, a["vibrator"], step.speed, p["magnetic_gap"], open_ceiling, 1.0)
        if calm >= 8 and long < ceiling:
            long, calm = 2.0 * long, 0
        long = min(long, ceiling)
        whole = min([long, *(edge - a["time"] for edge in edges if edge > a["time"])])
        if not any(switches[place:place + APPROACH]):
            assert step.long == pytest.approx(max(whole, 2e-9), rel=1e-6, abs=1e-12), f"{name}, {b['time']:.9f} s"
        assert step.long < 1.000001 * max(whole, 2e-9)
        cut += step.long < max(whole, 2e-9) * (1.0 - 1e-6) - 1e-12
        moved = ((step.v1 - a["contact_voltage"]) / 2.5e5)**2 + ((step.vs1 - a["secondary_voltage"]) / 1.5e7)**2 + (
            (b["current"] - a["current"]) / 2.5e3)**2
        still = 0 if closed or a["arc"] or a["spark"] or moved > step.long**2 else still + 1
        calm += 1
        if switches[place]:
            long, calm, still = 1e-6, 0, 0
    assert cut <= run.meter["retries"] <= 1.5 * cut, "a step that is cut is tried once more, some of them oftener"


def switched(p: Named, step: Step, edges: list[float]) -> bool:
    """Return whether something switched in a step: the contacts, the blades at their stops, an arc, the spark, the timer."""
    a, b = step.a, step.b
    places = (lambda row: row["cushion"] >= 0.0, lambda row: row["cushion"] <= -p["travel"],
              lambda row: row["vibrator"] >= p["stop_position"], lambda row: row["cushion"] >= row["vibrator"],
              lambda row: row["arc"], lambda row: row["spark"])
    return step.out or any(bool(one(a)) != bool(one(b)) for one in places) or any(
        a["time"] < edge - 1e-12 <= b["time"] for edge in edges[1:])
