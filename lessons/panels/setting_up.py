"""Lesson 9: setting up a coil. A virtual coil with hidden faults, a sheet with a limited number of lines, and its log.

A panel keeps no state: values in, picture out. So the work itself is the values: each line of the sheet is a control that says
what was done there, a look or a repair, and the picture is the log of what the bench showed after each. What is wrong with a
coil follows from its number alone. The picture shows only what a bench can show; the hidden numbers stay here.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.condenser import half_time
from coilmodel.readings import Readings, read
from lessons.contracts import Choice, Control, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
COILS = 50
LINES = 8
SETTLE, WATCHED = 2, 4
LADDER_PULSES, QUICK_PULSES = 12, 2

FULL, THIN = 0.7, 0.4
"""Shares of a good coil's spark energy from which a spark looks full, and thin; below it is a thread (our choice)."""

RANGE = ((220.0, 100.0), (400.0, 88.0), (500.0, 105.0), (560.0, 100.0))
"""(rpm, drive in percent) at which the look over the whole range runs the coil; a judge takes others."""


# ------------------------------------------------------------------------------------------------- the hidden faults
@dataclass(frozen=True)
class Fault:
    """One hidden fault: which number of the machine (or "drive") it multiplies, by what, and which lines mend it."""

    kind: str
    what: str
    factor: float
    mended_by: tuple[str, ...]


def _faults() -> tuple[tuple[Fault, ...], ...]:
    def some(kind: str, what: str, factors: Sequence[float], *mended_by: str) -> tuple[Fault, ...]:
        return tuple(Fault(kind, what, factor, mended_by) for factor in factors)

    return (
        some("vibrator", "vibrator_preload", (0.68, 0.7, 0.72), "v++") + some("vibrator", "vibrator_preload", (1.3, 1.32), "v--"),
        (some("cushion", "cushion_preload", (0.38, 0.4, 0.43), "c++")
         + some("cushion", "cushion_preload", (1.55, 1.6, 1.65), "c--")),
        some("travel", "cushion_travel", (0.15, 0.2, 0.25), "travel"),
        some("condenser", "condenser_capacitance", (0.05, 0.1), "new_condenser"),
        some("leakage", "condenser_leakage_resistance", (3e-6, 5e-6), "new_condenser"),
        some("points", "contacts_resistance", (35.0, 45.0), "dress"),
        some("drive", "drive", (0.55, 0.6), "magneto"),
        some("winding", "coil_core_resistance", (0.1, 0.13), "rewind"),
    )


FAULTS = _faults()


def faults_of(number: int) -> tuple[Fault, ...]:
    """Return what is wrong with coil `number` (1 to COILS): one fault up to 20, two up to 40, then three."""
    draw = random.Random(7919 * number + 13).random
    count = 1 if number <= 20 else 2 if number <= 40 else 3
    left, found = list(FAULTS), list[Fault]()
    while len(found) < count:
        kinds = left.pop(int(draw() * len(left)))
        found.append(kinds[int(draw() * len(kinds))])
        if found[-1].kind in ("condenser", "leakage"):  # one condenser has one of the two
            left = [other for other in left if other[0].kind not in ("condenser", "leakage")]
    return tuple(found)


@dataclass(frozen=True)
class State:
    """A coil on its magneto at one moment of the work: the machine, and the magneto's strength as a share of what is set."""

    machine: Machine
    drive: float = 1.0


GOOD = State(NOMINAL)


def as_found(number: int) -> State:
    """Return coil `number` with its faults."""
    machine, drive = NOMINAL, 1.0
    for fault in faults_of(number):
        if fault.what == "drive":
            drive *= fault.factor
        else:
            machine = machine.scaled(**{fault.what: fault.factor})
    return State(machine, drive)


# ------------------------------------------------------------------------------------------------------- the moves
NOTHING = "none"
LITTLE, MUCH = {"vibrator": 0.2, "cushion": 0.1}, {"vibrator": 0.8, "cushion": 0.6}  # N: a tap, and a bend
LOOKS: Mapping[str, str] = {
    "swap": "Look: good coil here",
    "springs": "Look: springs, travel",
    "condenser": "Look: condenser",
    "points": "Look: drop at points",
    "winding": "Look: winding, 1 kHz",
    "range": "Look: whole range",
}
BENDS: Mapping[str, tuple[str, float]] = {
    f"{blade[0]}{sign * count}": (blade, (1.0 if sign == "+" else -1.0) * force[blade])
    for blade in ("vibrator", "cushion")
    for sign, count, force in (("+", 2, MUCH), ("+", 1, LITTLE), ("-", 1, LITTLE), ("-", 2, MUCH))
}
REPAIRS: Mapping[str, str] = {
    "travel": "Set the travel",
    "new_condenser": "New condenser",
    "dress": "Dress the points",
    "rewind": "New winding",
    "magneto": "Mend the magneto",
}


def _bend_words(blade: str, force: float) -> str:
    return f"{'Tighten' if force > 0.0 else 'Ease'} {blade} {abs(force):.1f} N"


MOVES: Mapping[str, str] = {
    NOTHING: "(nothing)", **LOOKS, **{key: _bend_words(*bend) for key, bend in BENDS.items()}, **REPAIRS,
}


def after(state: State, move: str) -> State:
    """Return what `move` makes of a coil; a look changes nothing."""
    machine = state.machine
    if move in BENDS:
        blade, force = BENDS[move]
        part = machine.vibrator if blade == "vibrator" else machine.cushion
        low = 0.0 if blade == "cushion" else 0.3
        return State(machine.but(**{blade: {"preload": max(low, part.preload + force)}}), state.drive)
    if move == "travel":
        return State(machine.but(cushion={"travel": NOMINAL.cushion.travel}), state.drive)
    if move == "new_condenser":
        sound = NOMINAL.condenser
        return State(machine.but(condenser={"capacitance": sound.capacitance, "leakage_resistance": sound.leakage_resistance}),
                     state.drive)
    if move == "dress":
        return State(machine.but(contacts={"resistance": NOMINAL.contacts.resistance}), state.drive)
    if move == "rewind":
        return State(machine.but(coil={"core_resistance": NOMINAL.coil.core_resistance}), state.drive)
    return State(machine, 1.0) if move == "magneto" else state


def lines_of(values: Values, count: int = LINES) -> list[str]:
    """Return the moves of the first `count` lines that are used, first to last; a line left out of `values` is empty."""
    moves = [str(values.get(f"line{place}", NOTHING)) for place in range(1, count + 1)]
    return [move for move in moves if move != NOTHING]


def work_on(number: int, moves: Sequence[str]) -> State:
    """Return coil `number` after `moves`."""
    state = as_found(number)
    for move in moves:
        state = after(state, move)
    return state


# -------------------------------------------------------------------------------------------------- what a bench shows
@lru_cache(maxsize=2048)
def reading(state: State, rpm: float, drive: float) -> Readings:
    """Return the readings of a short run at `rpm` and `drive` (percent, as set; the magneto may be weaker than it should)."""
    return read(_run(state, rpm, drive, WATCHED))


def _run(state: State, rpm: float, drive: float, pulses: int) -> Run:
    magneto = MagnetoDrive(rpm, state.drive * drive / 100.0)
    return simulate(state.machine, magneto, pulses=pulses, warm_up=SETTLE)


def strength(state: State, rpm: float, drive: float) -> float:
    """Return the first sparks' energy as a share of a good coil's at the same speed and drive (0: no spark)."""
    good = reading(GOOD, rpm, drive).first_spark_energy
    return reading(state, rpm, drive).first_spark_energy / good if good else 0.0


FLASH, FLASH_A_LITTLE = 8e-3, 1.5e-3  # J burnt at the points, more than at a good coil's: what an eye calls a flash (our choice)
CURRENT_KEPT = 0.12  # of a good coil's opening current: so far off it may lie


def flash(state: State, rpm: float, drive: float) -> float:
    """Return the energy (J) burnt at the points as they part, beyond what burns at a good coil's at the same place."""
    return reading(state, rpm, drive).break_arc_energy - reading(GOOD, rpm, drive).break_arc_energy


def fires_well(state: State, rpm: float, drive: float) -> bool:
    """Say whether all is well: one effective spark in every pulse, a full one, at the right current, and the points dark."""
    result, good = reading(state, rpm, drive), reading(GOOD, rpm, drive)
    if result.single < 1.0 or result.misfired or strength(state, rpm, drive) < FULL or flash(state, rpm, drive) > FLASH:
        return False
    current, usual = result.opening_current.mean, good.opening_current.mean
    return current is not None and usual is not None and abs(current / usual - 1.0) <= CURRENT_KEPT


def bench_words(state: State, rpm: float, drive: float) -> str:
    """Return what a person at the bench sees of a coil at work: the count, the current, the spark's look, the points."""
    result = reading(state, rpm, drive)
    if result.opening_current.mean is None:
        return "the contacts do not part"
    share = strength(state, rpm, drive)
    look = "no spark" if result.sparks_per_pulse == 0.0 else (
        "full" if share >= FULL else "thin" if share >= THIN else "a mere thread")
    burnt = result.break_arc_energy
    points = "points flash" if burnt > FLASH else "points flash a little" if burnt > FLASH_A_LITTLE else "points dark"
    count = f"{result.sparks_per_pulse:.1f} a pulse" if result.sparks_per_pulse else "none"
    return f"sparks {count}, {look}; parts at {result.opening_current.mean:.1f} A; {points}"


def inductance_seen(machine: Machine, hertz: float = 1000.0) -> float:
    """Return the inductance (H) that a bridge finds at the primary: the winding with its losses in parallel.

    L R^2 / (R^2 + (w L)^2), R the loss of the core and of any shorted turns; any text on alternating current.
    """
    reactance, loss = 2.0 * math.pi * hertz * machine.coil.primary_inductance, machine.coil.core_resistance
    return machine.coil.primary_inductance * loss**2 / (loss**2 + reactance**2)


def look_words(move: str, state: State, rpm: float, drive: float) -> str:
    """Return what a look shows, with a good coil's reading beside it."""
    machine = state.machine
    if move == "swap":
        return f"the good coil in its place: {bench_words(State(NOMINAL, state.drive), rpm, drive)}"
    if move == "springs":
        return (
            f"balance and gauge: vibrator {machine.vibrator.preload:.1f} N (good: {NOMINAL.vibrator.preload:.1f}), cushion "
            f"{machine.cushion.preload:.1f} N ({NOMINAL.cushion.preload:.1f}), travel {1e3 * machine.cushion.travel:.2f} mm "
            f"({1e3 * NOMINAL.cushion.travel:.2f})"
        )
    if move == "condenser":
        part, sound = machine.condenser, NOMINAL.condenser
        half = half_time(part.capacitance, part.leakage_resistance)
        gone = f"half its charge gone in {half:.1f} s" if half >= 0.05 else "its charge gone at once"
        good = half_time(sound.capacitance, sound.leakage_resistance)
        return f"held apart: {1e6 * part.capacitance:.2f} uF (good: {1e6 * sound.capacitance:.2f}), {gone} ({good:.1f} s)"
    if move == "points":
        return f"closed, at 1 A: {machine.contacts.resistance:.2f} V (good: {NOMINAL.contacts.resistance:.2f} V)"
    if move == "winding":
        return f"primary's inductance {1e3 * inductance_seen(machine):.2f} mH (good: {1e3 * inductance_seen(NOMINAL):.2f} mH)"
    well = sum(fires_well(state, *place) for place in RANGE)
    return f"one full spark in every pulse at {well} of {len(RANGE)} speeds and drives"


# -------------------------------------------------------------------------------------------------------- the panel
COIL_CONTROL = Control("coil", "Coil number", "1", 1.0, float(COILS), 1.0, 3.0,
                       "Which coil is on the bench: up to 20 has one fault, up to 40 two, the rest three.")
RPM_CONTROL = parts.speed_control(low=150.0, high=650.0)
DRIVE_CONTROL = Control("drive", "Drive, as set", "%", 60.0, 130.0, 1.0, 100.0,
                        "What the magneto should give; a weak one gives less than it is set to, and does not say so.")
LINE_CONTROLS = tuple(
    Choice(f"line{place}", f"Line {place}", tuple(MOVES.items()), NOTHING, "One look or one piece of work a line; lines are "
    "few.")
    for place in range(1, LINES + 1)
)


def log_of(number: int, moves: Sequence[str], rpm: float, drive: float) -> tuple[Reading, ...]:
    """Return the log: the good coil, the coil as found, and what the bench showed after each of `moves`."""
    state = as_found(number)
    log = [
        Reading("A good coil, good magneto", bench_words(GOOD, rpm, drive)),
        Reading("As found", bench_words(state, rpm, drive)),
    ]
    for place, move in enumerate(moves, 1):
        state = after(state, move)
        shown = look_words(move, state, rpm, drive) if move in LOOKS else bench_words(state, rpm, drive)
        log.append(Reading(f"{place}. {MOVES[move]}", shown))
    return tuple(log)


def _picture(values: Values, whole: bool) -> Picture:
    number, moves, rpm, drive = round(values["coil"]), lines_of(values), values["rpm"], values["drive"]
    state = work_on(number, moves)
    run = _run(state, rpm, drive, LADDER_PULSES if whole else QUICK_PULSES)
    log = log_of(number, moves, rpm, drive) if whole else (Reading("Now", bench_words(state, rpm, drive)),)
    sentence = (
        f"Coil {number}, {len(moves)} line{'' if len(moves) == 1 else 's'} of the sheet used. At {rpm:.0f} rpm and "
        f"{drive:.0f} % it now shows: {bench_words(state, rpm, drive)}."
    )
    ladder = parts.ladder(run)
    told = "; ".join(f"{entry.label}: {entry.text}" for entry in log)
    alt = f"{sentence} The log: {told}. Spark ladder of {ladder.pulses} pulses with {len(ladder.pulse)} sparks."
    return Picture(sentence, alt, log, ladder=ladder)


def _number_with(kind: str) -> float:
    """Return the first coil number whose only fault is of `kind`."""
    return float(next(n for n in range(1, 21) if faults_of(n)[0].kind == kind))


def sheet(*moves: str) -> dict[str, str]:
    """Return the values of the lines for `moves`, the rest of the sheet empty."""
    return {f"line{place}": move for place, move in enumerate([*moves, *[NOTHING] * (LINES - len(moves))], 1)}


PANEL = Panel(
    "setting_up",
    "A coil on the bench, and its sheet",
    "The spark is thin, the current is right. Will you bend a spring?",
    (COIL_CONTROL, *LINE_CONTROLS, RPM_CONTROL, DRIVE_CONTROL),
    compute=lambda values: _picture(values, True),
    quick=lambda values: _picture(values, False),
    presets=(
        Preset("As found", sheet(), "Compare the first two entries of the log: what differs from a good coil?"),
        Preset("Bent by guess", {"coil": _number_with("leakage"), **sheet("c+", "c-", "v+", "v-")},
               "Four lines of bending, there and back, and the spark is as thin as it was: no spring was at fault."),
        Preset("Looked first", {"coil": _number_with("leakage"), **sheet("springs", "condenser", "new_condenser", "range")},
               "The same coil. Two looks, one repair, one check over the whole range."),
        Preset("Whose fault?", {"coil": _number_with("drive"), **sheet("swap"), "rpm": 200.0},
               "A good coil does no better in its place: leave this coil's springs alone, and look at the magneto."),
        Preset("Two faults", {"coil": 25.0, **sheet()}, "Mend one and the other remains: a sheet for you to fill in."),
    ),
)

PANELS = (PANEL,)
