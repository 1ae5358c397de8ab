"""The door to the model: what it hands to the kernel and what it makes of the numbers that come back.

Most tests here put a kernel of their own in the kernel's place, one that writes numbers known beforehand; the real one is held
to closed forms, solvers and ngspice elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Strips, TimerDrive, TransformerDrive, kernel, simulate
from coilmodel import run as run_module
from coilmodel.machine import Drive, Scatter
from coilmodel.proof.reference import resting
from coilmodel.run import Ledger, flat, resting_place, time_of_turn, turned

from .handmade import opening

Kernel = Callable[..., None]


# ------------------------------------------------------------------------------------------------------ what counts as
@pytest.mark.parametrize(("gap", "stored", "arc", "real"), [
    (0.2e-3, 30e-3, 0.0, True), (10.001e-6, 1e-3, 0.0, True), (10e-6, 30e-3, 0.0, False), (3e-6, 30e-3, 0.999e-3, False),
    (3e-6, 30e-3, 1e-3, True), (0.2e-3, 0.999e-3, 0.0, False), (0.2e-3, 0.999e-3, 5e-3, False), (3e-6, 0.1e-3, 0.0, False)])
def test_a_parting_is_real_with_something_stored_and_a_gap_or_an_arc(gap: float, stored: float, arc: float, real: bool) -> None:
    """From one millijoule on, since less cannot give a spark; beyond ten microns, or burning as much as a weak spark."""
    assert opening(largest_gap=gap, stored_energy=stored, arc_energy=arc).real is real


def test_an_opening_fired_where_the_gap_broke_down() -> None:
    assert [opening(sparks=count).fired for count in (0, 1, 3)] == [False, True, True]


def ledger(**changes: float) -> Ledger:
    usual = {"source": 10.0, "copper": 1.0, "core": 2.0, "contact": 0.5, "arc": 0.25, "leakage": 0.125, "secondary": 1.5,
             "spark": 3.0, "mechanical": 0.0625, "timer": 0.0625, "stored": 1.5}
    return Ledger(**{**usual, **changes})


def test_a_ledger_closes_where_losses_and_store_are_the_sources() -> None:
    """10 J given; 8.5 J lost nine ways and 1.5 J stored. What goes astray shows as a share of all that moved."""
    assert ledger().error == 0.0
    for loss in ("copper", "core", "contact", "arc", "leakage", "secondary", "spark", "mechanical", "timer", "stored"):
        assert ledger(**{loss: getattr(ledger(), loss) + 0.1}).error == pytest.approx(-0.01, rel=1e-9), loss
    assert ledger(source=20.0).error == pytest.approx(0.5, rel=1e-12)
    assert ledger(source=-20.0).error == pytest.approx(-1.5, rel=1e-12)
    # where more was lost than given, the loss is what moved
    assert ledger(source=4.0).error == pytest.approx(-6.0 / 8.5, rel=1e-12)
    nothing = dict.fromkeys(("source", "copper", "core", "contact", "arc", "leakage", "secondary", "spark", "mechanical", "timer",
                             "stored"), 0.0)
    assert Ledger(**nothing).error == 0.0
    assert Ledger(**{**nothing, "stored": 1e-15}).error == pytest.approx(-1e-3, rel=1e-9)  # under a picojoule nothing moved


# -------------------------------------------------------------------------------------------------------------- at rest
RESTS = {
    "closed": ({"preload": 1.5}, {"preload": 1.3}),
    "open rivet": ({"preload": -0.02}, {"preload": 1.3}),
    "open rivet core": ({"preload": -2.0}, {"preload": 1.3}),
    "closed bridge": ({"preload": 10.0}, {"preload": 0.2}),
    "closed rivet": ({"preload": 0.5}, {"preload": 3.0}),
    "closed rivet core": ({"preload": -1.0}, {"preload": 20.0, "rivet_stiffness": 1e4}),
}
"""What stands against what at rest -> the vibrator's and the cushion's numbers that make it so."""


@pytest.mark.parametrize("which", RESTS)
def test_at_rest_every_force_is_balanced(which: str) -> None:
    """Springs, stops and the contacts' own give, added up at the place that is found; and a root search finds the same."""
    vibrator, cushion = RESTS[which]
    machine = Machine().but(
        vibrator={"stiffness": 200.0, "stop": 0.4e-3, "stop_stiffness": 5e6, **vibrator}, contacts={"stiffness": 1e6},
        cushion={"stiffness": 800.0, "travel": 0.26e-3, "rivet_stiffness": 1.5e6, "bridge_stiffness": 1e6, **cushion})
    v, q = machine.vibrator, machine.cushion
    lower, upper = resting_place(machine)
    contact = 1e6 * max(upper - lower, 0.0)
    below = -v.preload - v.stiffness * lower + contact - v.stop_stiffness * max(lower - v.stop, 0.0)
    above = (q.preload - q.stiffness * upper - contact - q.rivet_stiffness * max(upper, 0.0)
             + q.bridge_stiffness * max(-q.travel - upper, 0.0))
    assert below == pytest.approx(0.0, abs=1e-8)
    assert above == pytest.approx(0.0, abs=1e-8)
    assert (lower, upper) == pytest.approx(resting(machine), abs=1e-13)
    held_by = {"open": contact == 0.0, "closed": contact > 0.0, "rivet": upper > 0.0, "bridge": upper < -q.travel,
               "core": lower > v.stop}
    assert " ".join(name for name, holds in held_by.items() if holds) == which


# ------------------------------------------------------------------------------------------------------ a rippling crank
def test_a_steady_crank_turns_six_degrees_a_second_for_each_rpm() -> None:
    for drive in (MagnetoDrive(450.0), TimerDrive(450.0)):
        assert turned(0.02, drive) == turned(0.02, drive, Scatter(ripple=0.0)) == pytest.approx(54.0, rel=1e-12)
        assert time_of_turn(54.0, drive) == pytest.approx(0.02, rel=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 77])
def test_a_rippling_crank_runs_fast_and_slow_by_the_ripple_twice_a_turn(seed: int) -> None:
    """Speed seen over a millionth of a second; two compressions a turn; after whole half-turns nothing gained or lost."""
    drive, scatter = MagnetoDrive(300.0), Scatter(ripple=0.1, seed=seed)
    seconds = [0.2 * step / 1000 for step in range(1001)]  # a turn
    speeds = [(turned(time + 5e-7, drive, scatter) - turned(time - 5e-7, drive, scatter)) / 1e-6 for time in seconds]
    assert max(speeds) == pytest.approx(1800.0 * 1.1, rel=1e-4)
    assert min(speeds) == pytest.approx(1800.0 * 0.9, rel=1e-4)
    above = [speed > 1800.0 for speed in speeds]
    assert sum(a != b for a, b in zip(above[:-1], above[1:], strict=True)) == 4  # up and down twice
    assert turned(0.1, drive, scatter) == pytest.approx(180.0, rel=1e-12)
    assert turned(0.0, drive, scatter) == 0.0


def test_the_cranks_ripple_is_the_emfs() -> None:
    """The kernel's EMF crosses zero where the crank has turned through a whole pulse, and not elsewhere."""
    drive, scatter = MagnetoDrive(300.0), Scatter(ripple=0.15, seed=3)
    numbers = named(Machine(), drive, scatter)
    for pulse in range(1, 33):
        at = time_of_turn(22.5 * pulse, drive, scatter)
        volts = kernel.emf(at, 0.0, numbers["emf_peak"], numbers["omega"], 0.0, 0.0, numbers["ripple"], numbers["ripple_omega"],
                           numbers["ripple_phase"])
        assert volts == pytest.approx(0.0, abs=1e-9 * numbers["emf_peak"])
        assert turned(at, drive, scatter) == pytest.approx(22.5 * pulse, abs=1e-9)


def test_each_seed_has_its_own_place_in_the_ripple() -> None:
    phases = [named(Machine(), MagnetoDrive(), Scatter(seed=seed))["ripple_phase"] for seed in range(1, 51)]
    assert all(0.0 <= phase < 2.0 * math.pi for phase in phases)
    ordered = sorted(phases)
    gaps = [b - a for a, b in zip(ordered[:-1], ordered[1:], strict=True)]
    assert min(gaps) > 0.3 * 2.0 * math.pi / 50  # the golden section: no two near each other, nor a stretch left empty
    assert max(gaps) < 3.0 * 2.0 * math.pi / 50


# ------------------------------------------------------------------------------------------------- to the kernel's numbers
def named(machine: Machine, drive: Drive, scatter: Scatter | None = None) -> dict[str, float]:
    """The kernel's numbers under their names."""
    return dict(zip(kernel.PARAMETERS, flat(machine, drive, 0.0, 2.0, 0.5, 0.25, 1.5, 1e-3, 0.7, scatter), strict=True))


def test_scatter_arrives_where_it_is_asked_for_and_ripple_only_with_a_crank() -> None:
    scatter = Scatter(breakdown=0.04, resistance=0.2, ripple=0.03, seed=9)
    for drive in (MagnetoDrive(300.0), TimerDrive(300.0), BatteryDrive(), TransformerDrive()):
        with_it, without = named(Machine(), drive, scatter), named(Machine(), drive)
        assert (with_it["breakdown_scatter"], with_it["resistance_scatter"], with_it["seed"]) == (0.04, 0.2, 9.0)
        assert [without[name] for name in ("breakdown_scatter", "resistance_scatter", "seed", "ripple", "ripple_omega",
                                           "ripple_phase")] == [0.0, 0.0, 1.0, 0.0, 0.0, 0.0]
        turning = isinstance(drive, (MagnetoDrive, TimerDrive))
        assert with_it["ripple"] == (0.03 if turning else 0.0)
        assert with_it["ripple_omega"] == pytest.approx(4.0 * math.pi * 5.0 if turning else 0.0, rel=1e-12)  # 2 x 5 turns


def test_only_a_magneto_has_harmonics_only_a_timer_a_cycle() -> None:
    machine = Machine().but(magneto={"third_harmonic": 0.1, "fifth_harmonic": -0.05})
    for drive in (MagnetoDrive(), TimerDrive(), BatteryDrive(), TransformerDrive()):
        numbers = named(machine, drive)
        magneto = isinstance(drive, (MagnetoDrive, TimerDrive))
        assert (numbers["third"], numbers["fifth"]) == ((0.1, -0.05) if magneto else (0.0, 0.0))
        assert (numbers["cycle"] > 0.0) is (numbers["timer_voltage"] > 0.0) is isinstance(drive, TimerDrive)
        assert (numbers["emf_constant"] > 0.0) is isinstance(drive, BatteryDrive)
        assert (numbers["omega"] > 0.0) is (numbers["emf_peak"] > 0.0) is not isinstance(drive, BatteryDrive)
    assert named(machine, MagnetoDrive(450.0))["omega"] == pytest.approx(math.pi * 120.0, rel=1e-12)


def test_a_window_that_starts_before_time_runs_a_cycle_later() -> None:
    """-45 degrees is 675; at 600 rpm 3600 degrees pass a second. With ripple its edges stand where the crank is."""
    for start, later in ((-45.0, 675.0), (0.0, 0.0), (90.0, 90.0)):
        numbers = named(Machine(), TimerDrive(600.0, window_start=start, window_width=36.0))
        assert numbers["window_start"] == pytest.approx(later / 3600.0, abs=1e-15)
        assert numbers["window_width"] == pytest.approx(0.01, rel=1e-12)
        assert numbers["cycle"] == pytest.approx(0.2, rel=1e-12)
    drive, scatter = TimerDrive(600.0, window_start=90.0, window_width=36.0), Scatter(ripple=0.1, seed=4)
    numbers = named(Machine(), drive, scatter)
    assert turned(numbers["window_start"], drive, scatter) == pytest.approx(90.0, abs=1e-9)
    assert turned(numbers["window_start"] + numbers["window_width"], drive, scatter) == pytest.approx(126.0, abs=1e-9)
    assert numbers["window_width"] != pytest.approx(0.01, rel=1e-3)


# ------------------------------------------------------------------------------------------------- what the door asks for
class Stand:
    """A kernel of our own: it remembers the numbers it was given and writes what it was made with."""

    def __init__(self, events: list[dict[str, float]] | None = None, meter: dict[str, float] | None = None,
                 ledger: list[float] | None = None, strips: list[float] | None = None, openings: int | None = None) -> None:
        self.events, self.ledger, self.strips = events or [], ledger or [0.0] * 12, strips or []
        self.meter = {"seconds": 2.0, "steps": 7.0, "openings": float(len(self.events) if openings is None else openings),
                      "rows": len(self.strips) / 12.0, **(meter or {})}
        self.asked: dict[str, float] = {}
        self.room: dict[str, int] = {}

    def __call__(self, numbers: tuple[float, ...], strips: Any, events: Any, ledger: Any, meter: Any) -> None:
        self.asked = dict(zip(kernel.PARAMETERS, numbers, strict=True))
        self.room = {"strips": len(strips), "events": len(events), "ledger": len(ledger), "meter": len(meter)}
        for place, number in enumerate(self.strips):
            strips[place] = number
        for place, event in enumerate(self.events):
            for column, name in enumerate(kernel.EVENT):
                if (place * len(kernel.EVENT) + column) < len(events):
                    events[place * len(kernel.EVENT) + column] = event.get(name, 0.0)
        for place, number in enumerate(self.ledger):
            ledger[place] = number
        for column, name in enumerate(kernel.METER):
            meter[column] = self.meter.get(name, 0.0)


@pytest.fixture(params=["compiled", "plain"])
def stand_in(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Callable[[Stand], Stand]:
    """Put a kernel in the kernel's place, with buffers as numpy makes them and as plain Python does."""
    def put(stand: Stand) -> Stand:
        monkeypatch.setattr(run_module, "advance", stand)
        if request.param == "plain":
            monkeypatch.setattr(run_module, "buffer", lambda size: [0.0] * size)
        return stand
    return put


def test_times_that_the_kernel_is_asked_for(stand_in: Callable[[Stand], Stand]) -> None:
    """At 750 rpm a pulse is 5 ms: 4 measured after 2, recorded from the second to the third, 50 rows to each."""
    stand = stand_in(Stand())
    run = simulate(Machine(), MagnetoDrive(750.0), pulses=4, warm_up=2, record=(1, 2), rows_a_pulse=50, step=0.5)
    asked = stand.asked
    assert asked["end"] == pytest.approx(30e-3, rel=1e-12)
    assert asked["measure_from"] == pytest.approx(10e-3, rel=1e-12)
    assert asked["record_from"] == pytest.approx(15e-3, rel=1e-12)
    assert asked["record_to"] == pytest.approx(25e-3, rel=1e-12)
    assert asked["record_every"] == pytest.approx(0.1e-3, rel=1e-12)
    assert (asked["step"], asked["prescribed_opening"]) == (0.5, 0.0)
    assert stand.room == {"strips": 12 * 2 * (50 + run_module.ROWS_FOR_SWITCHES), "events": 18 * run_module.OPENINGS_A_PULSE * 4,
                          "ledger": 12, "meter": 10}
    assert (run.pulses, run.first_pulse, run.pulse_seconds, run.steps) == (4, 2, pytest.approx(5e-3, rel=1e-12), 7)
    simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=1, prescribed_opening=8e-3)
    assert stand.asked["prescribed_opening"] == 8e-3
    assert stand.asked["record_to"] == -1.0
    assert stand.room["strips"] == 0


def test_a_run_is_forty_pulses_after_six_where_nothing_is_said(stand_in: Callable[[Stand], Stand]) -> None:
    stand = stand_in(Stand())
    run = simulate(Machine(), MagnetoDrive(750.0))
    assert (run.pulses, run.first_pulse) == (40, 6)
    assert (stand.asked["end"], stand.asked["measure_from"]) == (pytest.approx(0.23), pytest.approx(0.03))
    assert (stand.asked["step"], stand.asked["record_every"]) == (1.0, pytest.approx(5e-3 / 400))


def test_under_a_timer_a_pulse_is_two_turns(stand_in: Callable[[Stand], Stand]) -> None:
    stand = stand_in(Stand())
    run = simulate(Machine(), TimerDrive(600.0), pulses=3, warm_up=0)
    assert (run.pulse_seconds, stand.asked["end"]) == (pytest.approx(0.2), pytest.approx(0.6))


# ----------------------------------------------------------------------------------------------- what the door makes of it
def test_integrals_become_what_a_meter_shows(stand_in: Callable[[Stand], Stand]) -> None:
    """Over 2 s: 3 A s are 1.5 A, 5 A s of current without sign 2.5 A, 18 A2 s an RMS of 3 A."""
    stand_in(Stand(meter={"current": 3.0, "absolute_current": 5.0, "squared_current": 18.0, "peak_current": 7.5,
                          "retries": 99.0}))
    meter = simulate(Machine(), MagnetoDrive(), pulses=1).meter
    assert (meter.seconds, meter.mean, meter.rectified_mean, meter.rms, meter.peak) == (2.0, 1.5, 2.5, 3.0, 7.5)


def test_the_ledger_keeps_its_names_and_what_is_stored_is_a_difference(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand(ledger=[100.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.5, 13.0]))
    ledger = simulate(Machine(), MagnetoDrive(), pulses=1).ledger
    assert ledger == Ledger(source=100.0, copper=1.0, core=2.0, contact=3.0, arc=4.0, leakage=5.0, secondary=6.0, spark=7.0,
                            mechanical=8.0, timer=9.0, stored=2.5)


def test_recorded_rows_become_columns(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand(strips=[float(number) for number in range(36)]))
    strips = simulate(Machine(), MagnetoDrive(), pulses=1, record=(0, 0)).strips
    assert strips == Strips(*([column + 0.0, column + 12.0, column + 24.0] for column in range(12)))
    assert all(type(number) is float for number in strips.time)
    assert strips.spark == [11.0, 23.0, 35.0]


def test_a_step_limit_is_told_with_how_far_it_went(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand(meter={"status": 1.0, "steps": 1234.0}))
    with pytest.raises(ValueError, match=r"^machine: .* so often that 1234 steps did not carry the run to 0\.02 s; .*\.$"):
        simulate(Machine(), MagnetoDrive(750.0), pulses=3, warm_up=1)


EVENT = {"time": 12.5e-3, "current": -4.0, "parting_speed": 0.3, "on_rivet": 1.0, "vibrator": 55.0, "cushion": -0.05e-3,
         "closing_time": 14e-3, "largest_gap": 0.2e-3, "peak_contact_voltage": 250.0, "peak_secondary_voltage": 12e3,
         "first_spark_time": 12.6e-3, "sparks": 3.0, "spark_energy": 20e-3, "arc_strikes": 2.0, "arc_energy": 4e-3,
         "quiet": 8e-3, "stored_energy": 30e-3, "break_arc_energy": 1e-3}


def test_an_opening_has_each_number_in_its_place(stand_in: Callable[[Stand], Stand]) -> None:
    """Half way through the third pulse of 5 ms, the first after two: 11.25 degrees; the cushion came down from the bridge."""
    stand_in(Stand([EVENT]))
    machine = Machine().but(cushion={"travel": 0.15e-3})
    (one,) = simulate(machine, MagnetoDrive(750.0), pulses=2, warm_up=2).openings
    assert (one.pulse, one.time, one.current, one.parting_speed, one.on_rivet) == (0, 12.5e-3, -4.0, 0.3, True)
    assert one.after == pytest.approx(2.5e-3, rel=1e-9)
    assert one.crank_angle == pytest.approx(11.25, rel=1e-9)
    assert one.follow == pytest.approx(0.1e-3, rel=1e-12)
    assert (one.closing_time, one.largest_gap) == (14e-3, 0.2e-3)
    assert (one.peak_contact_voltage, one.peak_secondary_voltage) == (250.0, 12e3)
    assert (one.spark_time, one.sparks, one.spark_energy, one.quiet) == (12.6e-3, 3, 20e-3, 8e-3)
    assert (one.arc_strikes, one.arc_energy, one.break_arc_energy, one.stored_energy) == (2, 4e-3, 1e-3, 30e-3)
    assert (type(one.on_rivet), type(one.sparks), type(one.arc_strikes), type(one.time)) == (bool, int, int, float)


def test_what_did_not_happen_is_none(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand([{**EVENT, "closing_time": -1.0, "first_spark_time": -1.0, "quiet": 0.5, "sparks": 0.0, "on_rivet": 0.0},
                    {**EVENT, "closing_time": 0.0, "first_spark_time": 0.0}]))
    none, at_once = simulate(Machine(), MagnetoDrive(750.0), pulses=4, warm_up=0).openings
    assert (none.closing_time, none.spark_time, none.quiet, none.on_rivet, none.fired) == (None, None, None, False, False)
    assert (at_once.closing_time, at_once.spark_time, at_once.quiet) == (0.0, 0.0, 8e-3)


def at(*seconds: float) -> list[dict[str, float]]:
    return [{**EVENT, "time": time} for time in seconds]


def test_openings_fall_into_the_pulses_of_their_times(stand_in: Callable[[Stand], Stand]) -> None:
    """Those of the pulses before measuring are dropped; a pulse begins at its very first moment."""
    stand_in(Stand(at(1e-3, 9.99e-3, 10.01e-3, 14.99e-3, 15.01e-3, 29e-3)))
    found = simulate(Machine(), MagnetoDrive(750.0), pulses=4, warm_up=2).openings
    assert [one.pulse for one in found] == [0, 0, 1, 3]
    assert [one.after for one in found] == pytest.approx([0.01e-3, 4.99e-3, 0.01e-3, 4e-3], abs=1e-12)
    assert [one.crank_angle for one in found] == pytest.approx([0.045, 22.455, 0.045, 18.0], abs=1e-9)


@pytest.mark.parametrize("drive", [BatteryDrive(pulse_time=5e-3), TransformerDrive(frequency=100.0)])
def test_without_a_crank_an_opening_has_no_angle(drive: Drive, stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand(at(12.5e-3)))
    (one,) = simulate(Machine(), drive, pulses=2, warm_up=2).openings
    assert (one.pulse, one.crank_angle, one.after) == (0, None, pytest.approx(2.5e-3))


def test_under_a_timer_the_angle_counts_from_the_cycles_start(stand_in: Callable[[Stand], Stand]) -> None:
    """At 600 rpm two turns take 0.2 s: an opening at 0.425 s is 0.025 s and 90 degrees into the third."""
    stand_in(Stand(at(0.425)))
    (one,) = simulate(Machine(), TimerDrive(600.0), pulses=2, warm_up=1).openings
    assert (one.pulse, one.after, one.crank_angle) == (1, pytest.approx(0.025, rel=1e-9), pytest.approx(90.0, rel=1e-9))


def test_with_ripple_a_pulse_is_where_the_crank_is(stand_in: Callable[[Stand], Stand]) -> None:
    """A magneto's pulse is 22.5 degrees of crank, whenever that was; what comes just before its end belongs to it, and its time
    counts from its own start."""
    drive, scatter = MagnetoDrive(300.0), Scatter(ripple=0.2, seed=5)
    turns = [22.5 * pulse + part for pulse in range(2, 10) for part in (0.1, 11.0, 22.4)]
    stand_in(Stand(at(*(time_of_turn(angle, drive, scatter) for angle in turns))))
    found = simulate(Machine(), drive, pulses=8, warm_up=2, scatter=scatter).openings
    assert [one.pulse for one in found] == [pulse for pulse in range(8) for _ in range(3)]
    assert [one.crank_angle for one in found] == pytest.approx([0.1, 11.0, 22.4] * 8, abs=1e-6)
    for one in found:
        start = time_of_turn(22.5 * (one.pulse + 2), drive, scatter)
        assert one.after == pytest.approx(one.time - start, abs=1e-9)


def test_openings_beyond_the_room_are_counted(stand_in: Callable[[Stand], Stand]) -> None:
    room = run_module.OPENINGS_A_PULSE
    stand_in(Stand(at(*([1e-3] * room)), openings=room + 5))
    run = simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=0)
    assert (len(run.openings), run.openings_not_kept) == (room, 5)
    stand_in(Stand(at(1e-3, 2e-3)))
    run = simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=0)
    assert (len(run.openings), run.openings_not_kept) == (2, 0)


# ------------------------------------------------------------------------------------------------------------- refusals
def test_what_may_be_recorded(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand())
    for record in ((0, 0), (2, 2), (0, 2), [1, 2]):
        simulate(Machine(), MagnetoDrive(), pulses=3, warm_up=0, record=record)  # type: ignore[arg-type]
    for wrong, said in (((2, 1), "the last pulse, 1, comes before the first, 2; give (first, last) from 0 to 2."),
                        ((0, 1, 2), "(0, 1, 2) is not a pair of pulses; give (first, last) from 0 to 2."),
                        (5, "5 is not a pair of pulses; give (first, last) from 0 to 2."),
                        ("01", "'01' is not a pair of pulses; give (first, last) from 0 to 2.")):
        with pytest.raises(ValueError, match=r"^record: ") as caught:
            simulate(Machine(), MagnetoDrive(), pulses=3, warm_up=0, record=wrong)  # type: ignore[arg-type]
        assert said in str(caught.value)
    for wrong, field in (((-1, 0), "first"), ((3, 3), "first"), ((0, 3), "last")):
        with pytest.raises(ValueError, match=rf"^record {field}: -?\d is outside 0 to 2\.$"):
            simulate(Machine(), MagnetoDrive(), pulses=3, warm_up=0, record=wrong)


def test_two_million_rows_can_be_kept_and_one_more_not(stand_in: Callable[[Stand], Stand]) -> None:
    """With room for 600 switches a pulse: 2000 pulses of 400 rows, or twenty of 99,400."""
    stand_in(Stand())
    assert (run_module.MOST_ROWS, run_module.ROWS_FOR_SWITCHES) == (2_000_000, 600)
    simulate(Machine(), MagnetoDrive(), pulses=20, warm_up=0, record=(0, 19), rows_a_pulse=99_400)
    with pytest.raises(ValueError, match=r"^record: 20 pulses of 99401 rows, .* make 2000020; 2000000 can be kept"):
        simulate(Machine(), MagnetoDrive(), pulses=20, warm_up=0, record=(0, 19), rows_a_pulse=99_401)


@pytest.mark.parametrize(("name", "low", "high"), [("pulses", 1, 100_000), ("warm_up", 0, 10_000), ("rows_a_pulse", 10, 100_000),
                                                   ("step", 0.02, 2.0)])
def test_both_ends_of_each_range_are_taken(name: str, low: float, high: float, stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand())
    for end in (low, high):
        simulate(Machine(), MagnetoDrive(), **{"pulses": 1, "warm_up": 0, name: end})  # type: ignore[arg-type]
    beyond = (low - 1, high + 1) if name != "step" else (0.0199, 2.001)
    for wrong in beyond:
        with pytest.raises(ValueError, match=rf"^{name}: .* outside {low:g} to ".replace("+", r"\+")):
            simulate(Machine(), MagnetoDrive(), **{"pulses": 1, "warm_up": 0, name: wrong})  # type: ignore[arg-type]


def test_an_ideal_switch_opens_within_the_run(stand_in: Callable[[Stand], Stand]) -> None:
    stand_in(Stand())
    simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=1, prescribed_opening=1e-9)
    simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=1, prescribed_opening=10e-3)
    for wrong in (0.9e-9, 10.01e-3):
        with pytest.raises(ValueError, match=r"^prescribed_opening: .* is outside 1e-09 to 0\.01 s\.$"):
            simulate(Machine(), MagnetoDrive(750.0), pulses=1, warm_up=1, prescribed_opening=wrong)


def test_the_timers_arc_clears_soon_after_its_window_and_no_current_flows_until_the_next() -> None:
    """The window ends while a current flows: its arc opposes it by 25 V, and once the current is through zero it stays."""
    drive = TimerDrive(450.0, window_start=0.0, window_width=9.0)  # a degree is 0.37 ms: it opens as the current rises
    numbers = named(Machine(), drive)
    run = simulate(Machine(), drive, pulses=2, warm_up=0, record=(0, 1), rows_a_pulse=4000)
    opens = numbers["window_start"] + numbers["window_width"]
    flowing = dead = 0
    for time, current in zip(run.strips.time, run.strips.current, strict=True):
        since = (time - opens) % numbers["cycle"]
        if numbers["cycle"] - since <= 1.001 * numbers["window_width"]:  # within the next window
            flowing += current != 0.0
        elif since > 2e-3:
            dead += 1
            assert current == 0.0, f"{1e3 * since:.2f} ms after the timer opened {current} A still flow"
    assert flowing > 50
    assert dead > 5000
