"""Run a machine on a drive: `simulate(machine, drive)` is the door to the model.

Standard library only. What comes back holds the strips (time traces), the openings of the contacts with what each did,
the energy ledger, and what a meter in the supply lead would have integrated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coilmodel import kernel
from coilmodel.checks import checked, checked_count
from coilmodel.compiled import advance, buffer
from coilmodel.machine import (
    BatteryDrive,
    Drive,
    Machine,
    MagnetoDrive,
    Scatter,
    TimerDrive,
    TransformerDrive,
    emf_peak,
    pulse_seconds,
)

ROWS_FOR_SWITCHES = 600  # strip rows kept a pulse besides the evenly spaced ones
MOST_ROWS = 2_000_000  # rows of strips in one run: some 200 MB
OPENINGS_A_PULSE = 60  # room kept for openings; a machine that opens oftener still runs, its later openings are only counted


@dataclass(frozen=True)
class Opening:
    """One parting of the contacts and all that came of it until the next. SI units; a time of None: it did not happen."""

    pulse: int
    time: float  # s from the start of the run
    after: float  # s from the start of its pulse
    crank_angle: float | None  # degrees from the start of its pulse; None where no crank turns
    current: float  # A, with its sign
    parting_speed: float  # m/s, vibrator away from cushion
    on_rivet: bool
    follow: float  # m that the cushion had come down from the bridge
    closing_time: float | None  # s from the start of the run
    largest_gap: float  # m
    peak_contact_voltage: float  # V
    peak_secondary_voltage: float  # V
    spark_time: float | None  # s from the start of the run
    sparks: int  # breakdowns of the spark gap; several make one spark (coilmodel.sparks)
    spark_energy: float  # J
    arc_strikes: int
    arc_energy: float  # J
    break_arc_energy: float  # J, the part spent while the gap was still growing
    stored_energy: float  # J in the inductances at the break, the magneto's own among them
    quiet: float | None  # s for which the spark gap had been out when it first broke down in this opening; None: it did not

    @property
    def fired(self) -> bool:
        """Whether the spark gap broke down at all in this opening; what counts as a spark is said in `coilmodel.sparks`."""
        return self.sparks > 0

    @property
    def real(self) -> bool:
        """Whether this was a parting, not a chatter or a bounce (see `is_parting`)."""
        return is_parting(self.largest_gap, self.stored_energy, self.arc_energy)


CHATTER = 10e-6  # m: above the 6 um under which field emission rules (physics.md); closing contacts chatter within it
WORTH_BREAKING = 1e-3  # J in the inductances: less gives no spark (sparks.WEAKEST), as when closing contacts bounce; our choice


def is_parting(largest_gap: float, stored_energy: float, arc_energy: float) -> bool:
    """Return whether an opening was no chatter or bounce: a current worth breaking, and a gap beyond field emission.

    A slack cushion's contacts may hang a few micrometres apart and burn: an arc that takes as much as a weak spark makes it a
    parting too, however narrow the gap. In the kernel's small Python: coilmodel.tally goes by it too, compiled.
    largest_gap: m, between the contacts while they were apart; stored_energy: J, in the fields as they parted; arc_energy: J,
    burnt between them.
    """
    return stored_energy >= WORTH_BREAKING and (largest_gap > CHATTER or arc_energy >= WORTH_BREAKING)


@dataclass(frozen=True)
class Ledger:
    """Where the source's energy went over the whole run, in joules."""

    source: float
    copper: float
    core: float
    contact: float
    arc: float
    leakage: float
    secondary: float
    spark: float
    mechanical: float
    timer: float
    stored: float

    @property
    def error(self) -> float:
        """Return the part of the energy that is unaccounted for, as a share of all that moved (0: the ledger closes)."""
        spent = (self.copper + self.core + self.contact + self.arc + self.leakage + self.secondary + self.spark
                 + self.mechanical + self.timer)
        moved = max(abs(self.source), spent, 1e-12)
        return (self.source - spent - self.stored) / moved


@dataclass(frozen=True)
class Strips:
    """Time traces, one list a quantity (SI units), recorded over the pulses asked for; times ascend, unevenly spaced.

    Positions are downward positive, zero where the cushion sits on the rivet.
    """

    time: list[float]
    emf: list[float]
    current: list[float]
    vibrator: list[float]
    cushion: list[float]
    contact_voltage: list[float]
    secondary_voltage: list[float]
    secondary_current: list[float]
    contact_force: list[float]
    flux: list[float]
    arc: list[float]
    spark: list[float]


@dataclass(frozen=True)
class Meter:
    """What the supply current came to over the measured pulses: averages in amperes over `seconds`."""

    seconds: float
    mean: float
    rectified_mean: float
    rms: float
    peak: float


@dataclass(frozen=True)
class Run:
    """The outcome of a run. `openings` begin with the first measured pulse; `pulses` counts the measured pulses."""

    machine: Machine
    drive: Drive
    pulses: int
    first_pulse: int
    pulse_seconds: float
    openings: tuple[Opening, ...]
    openings_not_kept: int
    ledger: Ledger
    meter: Meter
    strips: Strips
    steps: int


def simulate(machine: Machine, drive: Drive, pulses: int = 40, warm_up: int = 6, record: tuple[int, int] | None = None,
             step: float = 1.0, prescribed_opening: float | None = None, rows_a_pulse: int = 400,
             scatter: Scatter | None = None, switch_rows: int = ROWS_FOR_SWITCHES) -> Run:
    """Run `machine` on `drive` from rest and return a `Run`.

    machine, drive: what runs, and what drives it.
    pulses: measured pulses (1 to 100 000); under a timer, measured windows of the timer.
    warm_up: pulses run before measuring starts (0 to 10 000).
    record: (first, last) measured pulse whose strips are kept, 0-based and inclusive; None keeps none.
    step: scale of the kernel's time steps (0.02 to 2; 1 is the tested setting).
    prescribed_opening: seconds at which an ideal switch opens instead of the contacts (for checks of the electrical part
    alone; the contacts then never arc, but the vibrator moves: block it with a heavy mass to hold the inductance still).
    rows_a_pulse: strip rows kept a pulse, besides one for every switch (10 to 100 000).
    switch_rows: room a pulse for those of the switches (10 to 100 000): an arc that flickers takes some thousands, and where
    there is no room left the strips end early.
    scatter: how much the gap, the contacts and the crank's speed differ from pulse to pulse; None: not at all.

    Raises ValueError in one sentence for anything out of range.
    """
    if not isinstance(machine, Machine):
        raise ValueError(f"machine: {machine!r} is not a Machine.")
    pulses = checked_count("pulses", pulses, 1, 100_000)
    warm_up = checked_count("warm_up", warm_up, 0, 10_000)
    rows_a_pulse = checked_count("rows_a_pulse", rows_a_pulse, 10, 100_000)
    switch_rows = checked_count("switch_rows", switch_rows, 10, 100_000)
    step = checked("step", step, "1", 0.02, 2.0)
    period = period_of(machine, drive)
    end = (warm_up + pulses) * period
    first, last = _recorded(record, pulses, rows_a_pulse, switch_rows)
    kept = last - first + 1
    record_from, record_to = (warm_up + first) * period, (warm_up + last + 1) * period
    prescribed = 0.0 if prescribed_opening is None else checked("prescribed_opening", prescribed_opening, "s", 1e-9, end)

    strips = buffer(len(kernel.STRIP) * kept * (rows_a_pulse + switch_rows))
    events = buffer(len(kernel.EVENT) * OPENINGS_A_PULSE * pulses)
    ledger, meter = buffer(len(kernel.LEDGER)), buffer(len(kernel.METER))
    numbers = flat(machine, drive, prescribed, end, warm_up * period, record_from, record_to if kept else -1.0,
                   period / rows_a_pulse, step, scatter)
    advance(numbers, strips, events, ledger, meter)
    seconds, mean, rectified, squared, peak, steps, _, openings, rows, status = (float(x) for x in meter)
    if status:
        raise ValueError(f"machine: contacts, stops and arcs switched so often that {int(steps)} steps did not carry the run to "
                         f"{end:g} s; a shower of arcs across a small condenser, or a rattle of sparks or stops, is too fast.")
    return Run(
        machine, drive, pulses, warm_up, period,
        openings=tuple(_openings(machine, drive, period, warm_up, events, int(openings), scatter)),
        openings_not_kept=max(0, int(openings) - len(events) // len(kernel.EVENT)),
        ledger=_ledger(ledger),
        meter=Meter(seconds, mean / seconds, rectified / seconds, (squared / seconds) ** 0.5, peak),
        strips=_strips(strips, int(rows)),
        steps=int(steps),
    )


def resting_place(machine: Machine) -> tuple[float, float]:
    """Return (vibrator, cushion) positions in metres with no current: where the springs and stops hold them.

    The more force between the contacts, the lower the vibrator and the higher the cushion; it is halved to where they just meet.
    """
    vibrator, cushion, stiffness = machine.vibrator, machine.cushion, machine.contacts.stiffness

    def places(force: float) -> tuple[float, float]:
        lower = (force - vibrator.preload) / vibrator.stiffness
        if lower > vibrator.stop:
            lower = ((force - vibrator.preload + vibrator.stop_stiffness * vibrator.stop)
                     / (vibrator.stiffness + vibrator.stop_stiffness))
        upper = (cushion.preload - force) / cushion.stiffness
        if upper > 0.0:
            upper = (cushion.preload - force) / (cushion.stiffness + cushion.rivet_stiffness)
        elif upper < -cushion.travel:
            upper = ((cushion.preload - force - cushion.bridge_stiffness * cushion.travel)
                     / (cushion.stiffness + cushion.bridge_stiffness))
        return lower, upper

    lower, upper = places(0.0)
    least, most = 0.0, stiffness * max(upper - lower, 0.0)  # no force, where they hang apart
    for _ in range(60):
        force = 0.5 * (least + most)
        lower, upper = places(force)
        if upper - lower > force / stiffness:
            least = force
        else:
            most = force
    return places(0.5 * (least + most))


def flat(machine: Machine, drive: Drive, prescribed: float, end: float, measure_from: float, record_from: float, record_to: float,
         record_every: float, step: float, scatter: Scatter | None = None) -> tuple[float, ...]:
    """Return the kernel's first argument: the numbers of `machine` and `drive` in the order of `kernel.PARAMETERS`.

    prescribed: seconds at which an ideal switch opens, 0 for real contacts; end, measure_from, record_from, record_to: times
    in seconds; record_every: seconds between strip rows; step: scale of the time steps; scatter: None for none.
    """
    m, c, k = machine.magneto, machine.coil, machine.contacts
    v, q, g = machine.vibrator, machine.cushion, machine.gap
    pulse = pulse_seconds(machine, drive)
    constant, peak, omega, third, fifth = 0.0, emf_peak(machine, drive), 3.141592653589793 / pulse, 0.0, 0.0
    resistance, inductance = m.resistance, m.inductance
    cycle = window_start = window_width = 0.0
    timer_voltage = 0.0
    if isinstance(drive, BatteryDrive):
        constant, peak, omega, resistance, inductance = peak, 0.0, 0.0, drive.resistance, drive.inductance
    elif isinstance(drive, TransformerDrive):
        resistance, inductance = drive.resistance, drive.inductance
    else:
        third, fifth = m.third_harmonic, m.fifth_harmonic
    if isinstance(drive, TimerDrive):
        degree = 1.0 / (6.0 * drive.rpm)
        cycle, timer_voltage = 720.0 * degree, drive.arc_voltage
        # the kernel wants the first closing; a window that starts before time 0 would be half a window, so run a turn later
        start = drive.window_start % 720.0
        window_start = time_of_turn(start, drive, scatter)
        window_width = time_of_turn(start + drive.window_width, drive, scatter) - window_start
    breakdown_scatter = resistance_scatter = ripple = ripple_omega = ripple_phase = 0.0
    seed = 1.0
    if scatter is not None:
        breakdown_scatter, resistance_scatter, seed = scatter.breakdown, scatter.resistance, float(scatter.seed)
        if isinstance(drive, (MagnetoDrive, TimerDrive)):
            ripple, ripple_omega, ripple_phase = scatter.ripple, _ripple_omega(drive), _ripple_phase(scatter)
    start_vibrator, start_cushion = resting_place(machine)
    return (constant, peak, omega, third, fifth, resistance, inductance, cycle, window_start, window_width, timer_voltage,
            c.primary_inductance, c.primary_resistance, c.turns_ratio, c.coupling, c.secondary_resistance,
            c.secondary_capacitance, c.core_resistance, c.magnetic_gap, c.pull_constant,
            machine.condenser.capacitance, machine.condenser.leakage_resistance,
            k.resistance, k.arc_voltage, k.arc_current, k.arc_power, k.arc_power_rise, k.arc_time,
            g.breakdown, g.burn, g.extinction, g.recovery,
            v.mass, v.stiffness, v.preload, v.damping, q.mass, q.stiffness, q.preload, q.damping, q.travel,
            k.stiffness, k.damping, q.rivet_stiffness, q.rivet_damping, q.bridge_stiffness, q.bridge_damping,
            v.stop, v.stop_stiffness, v.stop_damping, start_vibrator, start_cushion, prescribed,
            breakdown_scatter, resistance_scatter, seed, ripple, ripple_omega, ripple_phase,
            end, measure_from, record_from, record_to, record_every, step)


def turned(seconds: float, drive: MagnetoDrive | TimerDrive, scatter: Scatter | None = None) -> float:
    """Return the degrees of crank turned `seconds` after the start of a run on `drive`, its speed rippling as `scatter` says."""
    angle = 6.0 * drive.rpm * seconds
    if scatter is not None and scatter.ripple:
        omega, phase = _ripple_omega(drive), _ripple_phase(scatter)
        angle -= math.degrees(0.5 * scatter.ripple * (math.cos(omega * seconds + phase) - math.cos(phase)))
    return angle


def time_of_turn(degrees: float, drive: MagnetoDrive | TimerDrive, scatter: Scatter | None = None) -> float:
    """Return the seconds in which the crank turns through `degrees` from the start of a run on `drive`, with `scatter`."""
    seconds = degrees / (6.0 * drive.rpm)
    if scatter is not None and scatter.ripple:
        for _ in range(40):  # each round shrinks the error by the ripple
            seconds -= (turned(seconds, drive, scatter) - degrees) / (6.0 * drive.rpm)
    return seconds


# ------------------------------------------------------------------------------------------------------- inside
COMPRESSIONS_A_TURN = 2.0  # of a four-cylinder four-stroke engine


def _ripple_omega(drive: MagnetoDrive | TimerDrive) -> float:
    return COMPRESSIONS_A_TURN * 2.0 * math.pi * drive.rpm / 60.0


def _ripple_phase(scatter: Scatter) -> float:
    return 2.0 * math.pi * ((0.6180339887498949 * scatter.seed) % 1.0)  # the golden section spreads seeds over the turn


def period_of(machine: Machine, drive: Drive) -> float:
    """Return the seconds that one counted pulse takes: a half-cycle, or under a timer two turns of the crank."""
    if isinstance(drive, TimerDrive):
        return 120.0 / drive.rpm
    if isinstance(drive, (MagnetoDrive, BatteryDrive, TransformerDrive)):
        return pulse_seconds(machine, drive)
    raise ValueError(f"drive: {drive!r} is not a MagnetoDrive, TimerDrive, BatteryDrive or TransformerDrive.")


def _recorded(record: tuple[int, int] | None, pulses: int, rows_a_pulse: int, switch_rows: int) -> tuple[int, int]:
    """Return the first and last pulse to record, checked; (0, -1) for none."""
    if record is None:
        return 0, -1
    allowed = f"give (first, last) from 0 to {pulses - 1}"
    if not isinstance(record, (tuple, list)) or len(record) != 2:
        raise ValueError(f"record: {record!r} is not a pair of pulses; {allowed}.")
    first, last = checked_count("record first", record[0], 0, pulses - 1), checked_count("record last", record[1], 0, pulses - 1)
    if last < first:
        raise ValueError(f"record: the last pulse, {last}, comes before the first, {first}; {allowed}.")
    rows = (last - first + 1) * (rows_a_pulse + switch_rows)
    if rows > MOST_ROWS:
        raise ValueError(f"record: {last - first + 1} pulses of {rows_a_pulse} rows, with room for the switches, make {rows}; "
                         f"{MOST_ROWS} can be kept, so record fewer pulses or give a smaller rows_a_pulse.")
    return first, last


def _openings(machine: Machine, drive: Drive, period: float, warm_up: int, events: Sequence[float], count: int,
              scatter: Scatter | None) -> list[Opening]:
    width = len(kernel.EVENT)
    found = []
    kept = min(count, len(events) // width)
    numbers: Any = events[:kept * width]
    if hasattr(numbers, "tolist"):
        numbers = numbers.tolist()  # one numpy float at a time is slow
    for row in range(kept):
        (time, current, speed, on_rivet, _, cushion, closing, gap, peak_v, peak_vs, spark_time, sparks, spark_energy,
         strikes, arc_energy, quiet, stored, break_arc) = numbers[row * width:(row + 1) * width]
        number = int(time / period)
        after = time - number * period
        angle = None
        if isinstance(drive, MagnetoDrive):
            crank = turned(time, drive, scatter)
            a_pulse = 180.0 / machine.magneto.pole_pairs
            number = int(crank / a_pulse)
            angle = crank - number * a_pulse
            # with ripple a pulse starts when the crank is there, not when the clock is
            rippling = scatter is not None and scatter.ripple
            after = time - (time_of_turn(number * a_pulse, drive, scatter) if rippling else number * period)
        elif isinstance(drive, TimerDrive):
            angle = turned(time, drive, scatter) - 720.0 * number
        if number < warm_up:
            continue
        found.append(Opening(
            number - warm_up, time, after, angle, current, speed, bool(on_rivet), cushion + machine.cushion.travel,
            closing if closing >= 0.0 else None, gap, peak_v, peak_vs, spark_time if spark_time >= 0.0 else None, int(sparks),
            spark_energy, int(strikes), arc_energy, break_arc, stored, quiet if spark_time >= 0.0 else None))
    return found


def _ledger(numbers: Sequence[float]) -> Ledger:
    named = dict(zip(kernel.LEDGER, (float(x) for x in numbers), strict=True))
    return Ledger(stored=named.pop("stored_end") - named.pop("stored_start"), **named)


def _strips(rows: Any, count: int) -> Strips:
    width = len(kernel.STRIP)
    used = rows[:count * width]
    used = used.tolist() if hasattr(used, "tolist") else [float(x) for x in used]  # one numpy float at a time is slow
    return Strips(*(used[column::width] for column in range(width)))
