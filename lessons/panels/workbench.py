"""A workbench for one coil: hidden faults, tools, and a log whose lines stay. All follows from a number and a list of lines.

A coil's number says what is wrong with it; `replay(number, lines)` does the lines one after the other and returns what each of
them showed. Nothing else is kept, so a saved list gives the same log again, on any machine. An `Entry` holds what a person at the
bench can read and no more; the hidden numbers stay here. The runs are runs of the model. Standard library only.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.condenser import half_time
from coilmodel.readings import Readings, read

NOMINAL = Machine()
SETTLE, WATCHED = 2, 4
LINES = 8
"""So many lines has a sheet."""
IN_VAIN = 3
"""So many of them takes a look that finds its part sound, since what was taken apart goes back and is tried. So a hand that lets
each run name the next look wins every coil of PLANS, and the looks in a fixed order few (test_workbench.py plays both)."""

FULL, THIN = 0.7, 0.4
"""Shares of a good coil's spark energy from which a spark looks full, and thin; below it is a thread (our choice)."""
FLASH, FLASH_A_LITTLE = 8e-3, 1.5e-3  # J burnt at the points, more than at a good coil's: what an eye calls a flash (our choice)
CURRENT_KEPT = 0.12  # of a good coil's opening current: so far off it may lie
SOUND = 0.05
"""So far a reading may lie from a good coil's, as a share of it, and be called good (our choice; the tests run both ends)."""
COARSE = {"travel": 0.2, "winding": 0.1}  # read to fewer digits, and less is asked of them

HAND, ROAD, FAST = 200.0, 450.0, 580.0
PLACES = (
    ("by hand", HAND, 100.0), ("on the road", ROAD, 100.0), ("on the road, magneto cold", ROAD, 85.0),
    ("on the road, magneto strong", ROAD, 110.0), ("fast", FAST, 100.0),
)
"""(words, rpm, drive in percent): where the run over the whole range runs a coil, and where a finished one is judged."""


# ------------------------------------------------------------------------------------------------- the hidden faults
@dataclass(frozen=True)
class Fault:
    """What is off by a factor: a number of the machine (or "drive"), and the part that it belongs to."""

    part: str
    number: str
    factor: float


KINDS: Mapping[str, tuple[Fault, ...]] = {
    "slack": tuple(Fault("cushion", "cushion_preload", factor) for factor in (0.4, 0.42, 0.44)),
    "tight": tuple(Fault("cushion", "cushion_preload", factor) for factor in (1.56, 1.58, 1.6)),
    "eased": tuple(Fault("vibrator", "vibrator_preload", factor) for factor in (0.7, 0.72, 0.74)),
    "strained": tuple(Fault("vibrator", "vibrator_preload", factor) for factor in (1.3, 1.31, 1.33)),
    "travel": tuple(Fault("travel", "cushion_travel", factor) for factor in (0.15, 0.2, 0.25)),
    "small": tuple(Fault("condenser", "condenser_capacitance", factor) for factor in (0.05, 0.08, 0.1)),
    "leak": tuple(Fault("condenser", "condenser_leakage_resistance", factor) for factor in (3e-6, 4e-6, 5e-6)),
    "points": tuple(Fault("points", "contacts_resistance", factor) for factor in (35.0, 40.0, 45.0)),
    "winding": tuple(Fault("winding", "coil_core_resistance", factor) for factor in (0.08, 0.09, 0.1)),
    "weak": tuple(Fault("magneto", "drive", factor) for factor in (0.55, 0.575, 0.6)),
    "creep": tuple(Fault("condenser", "condenser_leakage_resistance", factor) for factor in (2e-4, 3e-4, 5e-4)),
}
"""What a coil may have. "creep" is a condenser that has begun to leak: the coil runs well, and only a look at it shows that."""

PLANS: tuple[tuple[str, ...], ...] = (
    # 1 to 20: nothing, one thing, or two
    ("travel",), ("leak", "weak"), (), ("points",), ("points", "eased"), ("strained",), ("weak", "slack"), ("tight", "travel"),
    ("winding",), ("creep",), ("leak", "winding"), (), ("small", "points"), ("strained", "small"), ("travel", "points"),
    ("tight",), ("eased", "leak"), ("eased", "winding"), ("points", "winding"), (),
    # 21 to 40: mostly two
    ("tight", "points"), ("eased", "weak"), ("tight", "small"), (), ("slack", "strained"), ("slack", "points"),
    ("small", "weak"), ("tight", "weak"), ("slack",), ("strained", "points"), ("strained", "winding"), ("eased", "travel"),
    ("leak", "points"), ("strained", "weak"), ("small", "winding"), (), ("travel", "weak"), ("winding", "weak"),
    ("slack", "eased"), ("points", "weak"),
)
"""What is wrong with each coil, by its number from 1: nothing, one thing, or two."""
COILS = len(PLANS)
PRACTICE: tuple[tuple[str, ...], ...] = (
    ("leak",), ("weak",), (), ("tight", "points"), ("slack",), ("winding", "slack"), ("eased",), ("small", "travel"),
)
"""The coils to practise on: numbers of their own, from PRACTICE_FROM."""
PRACTICE_FROM = 101

NUDGED = ("cushion_preload", "vibrator_preload", "cushion_travel", "condenser_capacitance")
NUDGE = 0.03
"""No two coils are alike: these numbers lie up to so far from a good coil's, and that is no fault (our choice)."""


def _draw(number: int, what: str) -> random.Random:
    return random.Random(f"coil {number}, {what}")


def faults_of(number: int) -> tuple[Fault, ...]:
    """Return what is wrong with coil `number`: of PLANS, or, from PRACTICE_FROM on, of PRACTICE."""
    plan = PRACTICE[number - PRACTICE_FROM] if number >= PRACTICE_FROM else PLANS[number - 1]
    draw = _draw(number, "faults").random
    return tuple(KINDS[kind][int(draw() * len(KINDS[kind]))] for kind in plan)


@dataclass(frozen=True)
class State:
    """A coil on its magneto at one moment of the work: the machine, and the magneto's strength as a share of what is set."""

    machine: Machine
    drive: float = 1.0


GOOD = State(NOMINAL)


@lru_cache(maxsize=256)
def as_found(number: int) -> State:
    """Return coil `number` as it comes to the bench."""
    draw, faults, drive = _draw(number, "nudges").random, faults_of(number), 1.0
    factors = {name: 1.0 + NUDGE * (2.0 * draw() - 1.0) for name in NUDGED}
    for fault in faults:
        if fault.number == "drive":
            drive = fault.factor
        else:
            factors[fault.number] = fault.factor
    return State(NOMINAL.scaled(**factors), drive)


# -------------------------------------------------------------------------------------------------- what a bench shows
@lru_cache(maxsize=4096)
def reading(state: State, rpm: float, drive: float) -> Readings:
    """Return the readings of a short run at `rpm` and `drive` (percent, as set; the magneto may be weaker than it should)."""
    return read(run_of(state, rpm, drive, WATCHED))


def run_of(state: State, rpm: float, drive: float, pulses: int) -> Run:
    """Return a run of `pulses` at `rpm` and `drive` (percent, as set), after some to settle."""
    return simulate(state.machine, MagnetoDrive(rpm, state.drive * drive / 100.0), pulses=pulses, warm_up=SETTLE)


def strength(state: State, rpm: float, drive: float) -> float:
    """Return the first sparks' energy as a share of a good coil's at the same speed and drive (0: no spark)."""
    good = reading(GOOD, rpm, drive).first_spark_energy
    return reading(state, rpm, drive).first_spark_energy / good if good else 0.0


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


def not_well(state: State) -> tuple[str, ...]:
    """Return the words of the PLACES at which all is not well."""
    return tuple(words for words, rpm, drive in PLACES if not fires_well(state, rpm, drive))


def _half_time(machine: Machine) -> float:
    return half_time(machine.condenser.capacitance, machine.condenser.leakage_resistance)


def leaks(state: State) -> bool:
    """Say whether the condenser loses its charge in less than half the time that a good one takes."""
    return _half_time(state.machine) < 0.5 * _half_time(NOMINAL)


def inductance_seen(machine: Machine, hertz: float = 1000.0) -> float:
    """Return the inductance (H) that a bridge finds at the primary: the winding with its losses in parallel.

    L R^2 / (R^2 + (w L)^2), R the loss of the core and of any shorted turns; any text on alternating current.
    """
    reactance, loss = 2.0 * math.pi * hertz * machine.coil.primary_inductance, machine.coil.core_resistance
    return machine.coil.primary_inductance * loss**2 / (loss**2 + reactance**2)


@dataclass(frozen=True)
class Seen:
    """What a person sees of a coil at work: sparks a pulse, the current (A) at which it parts (None: it does not), two looks."""

    sparks: float
    current: float | None
    spark: str  # full | thin | a mere thread | none
    points: str  # dark | flash a little | flash

    @property
    def words(self) -> str:
        """The same in words."""
        return self.beside()

    def beside(self, good: Seen | None = None) -> str:
        """Return the same in words, with a good coil's current beside it where one is given."""
        usual = f" (good: {good.current:.1f} A)" if good and good.current is not None else ""
        if self.current is None:
            return f"the contacts do not part{usual}"
        count = f"{self.sparks:.1f} a pulse, {self.spark}" if self.sparks else "none"
        return f"sparks {count}; parts at {self.current:.1f} A{usual}; points {self.points}"


def seen(state: State, rpm: float, drive: float) -> Seen:
    """Return what a person sees of a coil at work, to the digits that can be read."""
    result = reading(state, rpm, drive)
    if result.opening_current.mean is None:
        return Seen(0.0, None, "none", "dark")
    share = strength(state, rpm, drive)
    looks = "full" if share >= FULL else "thin" if share >= THIN else "a mere thread"
    spark = looks if result.sparks_per_pulse else "none"
    burnt = flash(state, rpm, drive)
    points = "flash" if burnt > FLASH else "flash a little" if burnt > FLASH_A_LITTLE else "dark"
    return Seen(round(result.sparks_per_pulse, 1), round(result.opening_current.mean, 1), spark, points)


# ------------------------------------------------------------------------------------------------------------- tools
@dataclass(frozen=True)
class Tool:
    """One thing to do at the bench: `key` stands in the log's list of lines, `label` on its button; `part` is what it is about.

    kind: run (see the coil at work) | look (at one part) | work (on one part) | back (take the last piece of work back).
    """

    key: str
    label: str
    kind: str
    part: str = ""


LITTLE, MUCH = {"vibrator": 0.15, "cushion": 0.06}, {"vibrator": 0.75, "cushion": 0.6}  # N
BENDS: Mapping[str, tuple[str, float]] = {
    f"bend {blade} {way} {size}": (blade, sign * force[blade])
    for blade in ("vibrator", "cushion") for way, sign in (("up", 1.0), ("down", -1.0))
    for size, force in (("much", MUCH), ("little", LITTLE))
}
"""Bends of a blade: which one, and by how much (N) its force changes if it yields as most do. "up" is more force."""
_LESS_MORE = {"up": "Tighten", "down": "Ease"}
TOOLS: tuple[Tool, ...] = (
    Tool("run", "Run over the whole range", "run"),
    Tool("swap", "Good coil in its place", "look", "magneto"), Tool("condenser", "Condenser, held apart", "look", "condenser"),
    Tool("drop", "Drop at the points", "look", "points"), Tool("bridge", "Winding at 1 kHz", "look", "winding"),
    Tool("vibrator force", "Force of the vibrator", "look", "vibrator"),
    Tool("cushion force", "Force of the cushion", "look", "cushion"), Tool("gauge", "Travel, by feeler gauge", "look", "travel"),
    *(Tool(key, f"{_LESS_MORE[key.split()[2]]} {blade} {'by much' if abs(force) > 0.3 else 'a little'}", "work", blade)
      for key, (blade, force) in BENDS.items()),
    Tool("set travel", "Set the travel", "work", "travel"), Tool("new condenser", "New condenser", "work", "condenser"),
    Tool("dress points", "Dress the points", "work", "points"), Tool("new winding", "New winding", "work", "winding"),
    Tool("mend magneto", "Mend the magneto", "work", "magneto"),
    Tool("take back", "Take the last work back", "back"),
)
BY_KEY: Mapping[str, Tool] = {tool.key: tool for tool in TOOLS}


def yields(number: int, blade: str) -> float:
    """Return how far a blade of coil `number` goes where a bend is meant to go 1: no two blades yield alike (our choice)."""
    return (0.95, 1.0, 1.1)[int(_draw(number, f"yield of the {blade}").random() * 3)]


def after(state: State, key: str, number: int) -> State:
    """Return what a piece of work makes of coil `number`; a look changes nothing."""
    machine, drive = state.machine, state.drive
    if key in BENDS:
        blade, force = BENDS[key]
        part = machine.vibrator if blade == "vibrator" else machine.cushion
        low = 0.0 if blade == "cushion" else 0.3  # N: bent away, and no further
        return State(machine.but(**{blade: {"preload": max(low, part.preload + force * yields(number, blade))}}), drive)
    if key == "set travel":
        return State(machine.but(cushion={"travel": NOMINAL.cushion.travel}), drive)
    if key == "new condenser":
        sound = NOMINAL.condenser
        new = {"capacitance": sound.capacitance, "leakage_resistance": sound.leakage_resistance}
        return State(machine.but(condenser=new), drive)
    if key == "dress points":
        return State(machine.but(contacts={"resistance": NOMINAL.contacts.resistance}), drive)
    if key == "new winding":
        return State(machine.but(coil={"core_resistance": NOMINAL.coil.core_resistance}), drive)
    return State(machine, 1.0) if key == "mend magneto" else state


# --------------------------------------------------------------------------------------------------------------- looks
@dataclass(frozen=True)
class Entry:
    """One entry of the log. `line` is its place among what was done (0: as the coil came), `text` what it showed, in words;
    `first` is the number of its first line on the sheet, `takes` how many lines it takes there.

    What the words say, for those who reason from it: `seen` of a run, `unwell` of one over the whole range, `found` and `usual`
    of a look that reads a number (this coil's and a good one's, as shown), and `off`: the reading is not a good coil's.
    """

    line: int
    tool: Tool
    text: str
    seen: Seen | None = None
    by_hand: Seen | None = None
    fast: Seen | None = None
    unwell: tuple[str, ...] | None = None
    found: float | None = None
    usual: float | None = None
    off: bool = False
    swapped: tuple[Seen, Seen] | None = None
    first: int = 0
    takes: int = 1


def _number(machine: Machine, part: str) -> tuple[float, str, str]:
    """Return a part's number as it is read, with the format and the unit that it is read to."""
    if part == "vibrator":
        return machine.vibrator.preload, ".2f", "N"
    if part == "cushion":
        return machine.cushion.preload, ".2f", "N"
    if part == "travel":
        return 1e3 * machine.cushion.travel, ".2f", "mm"
    if part == "points":
        return machine.contacts.resistance, ".2f", "V"  # at one ampere
    return 1e3 * inductance_seen(machine), ".2f", "mH"


_READS = {"vibrator": "", "cushion": "", "travel": "", "points": "closed, at 1 A: ", "winding": "its inductance: "}


def _look(line: int, tool: Tool, state: State) -> Entry:
    machine = state.machine
    if tool.part == "magneto":
        swapped = State(NOMINAL, state.drive)
        there, on_ours = (tuple(seen(one, rpm, 100.0) for rpm in (HAND, ROAD)) for one in (swapped, GOOD))
        off = there != on_ours
        said = [here.beside(good) for here, good in zip(there, on_ours)]
        text = f"\nBy hand: {said[0]}.\nOn the road: {said[1]}.\nOn the club's magneto it does {'better' if off else 'just so'}."
        return Entry(line, tool, text, off=off, swapped=(there[0], there[1]))
    if tool.part == "condenser":
        part, sound = machine.condenser, NOMINAL.condenser
        half, good = _half_time(machine), _half_time(NOMINAL)
        gone = f"half its charge gone in {half:.1f} s" if half >= 0.05 else "its charge gone at once"
        off = abs(part.capacitance / sound.capacitance - 1.0) > 0.2 or leaks(state)
        text = f"{1e6 * part.capacitance:.2f} \u00b5F, {gone} (good: {1e6 * sound.capacitance:.2f} \u00b5F, {good:.1f} s)."
        return Entry(line, tool, text, off=off)
    value, digits, unit = _number(machine, tool.part)
    usual = _number(NOMINAL, tool.part)[0]
    shown, beside = float(f"{value:{digits}}"), float(f"{usual:{digits}}")
    off = shown > 2.0 * beside if tool.part == "points" else abs(shown / beside - 1.0) > COARSE.get(tool.part, SOUND)
    text = f"{_READS[tool.part]}{shown:{digits}} {unit} (good: {beside:{digits}} {unit})."
    return Entry(line, tool, text, found=shown, usual=beside, off=off)


def _run(line: int, tool: Tool, state: State) -> Entry:
    unwell = not_well(state)
    hand, road, fast = (seen(state, rpm, 100.0) for rpm in (HAND, ROAD, FAST))
    said = [here.beside(seen(GOOD, rpm, 100.0)) for here, rpm in ((hand, HAND), (road, ROAD), (fast, FAST))]
    text = f"\nBy hand: {said[0]}.\nOn the road: {said[1]}.\nFast: {said[2]}.\n"
    text += f"Not well: {'; '.join(unwell)}." if unwell else "Well at every place, on a cold magneto and a strong one too."
    return Entry(line, tool, text, seen=road, by_hand=hand, fast=fast, unwell=unwell, off=bool(unwell))


def _beside(line: int, tool: Tool, state: State, rpm: float) -> Entry:
    here, good = seen(state, rpm, 100.0), seen(GOOD, rpm, 100.0)
    text = f"{here.beside(good)}. A good coil: one spark a pulse, full; points dark."
    return Entry(line, tool, text, seen=here, off=here != good)


# ---------------------------------------------------------------------------------------------------------------- the log
AS_FOUND = Tool("as found", "As it came, on the road", "run")


@dataclass
class _Work:
    """A piece of work that stands: its line, its tool, the coil before it, and whether it can be taken back."""

    line: int
    tool: Tool
    before: State
    back: bool


@dataclass(frozen=True)
class Log:
    """A coil's log: its entries (the first as it came), the coil after the last line, and what is to be said of the lines.

    `guessed` are the entries of standing work that no look at that part stands before, `needless` of work on a part whose last
    look found it good, `worked` all standing work; `last_work` is the entry of the last work, or of the last undone (0: none).
    """

    number: int
    entries: tuple[Entry, ...]
    state: State
    ran: State
    guessed: tuple[int, ...] = ()
    needless: tuple[int, ...] = ()
    worked: tuple[int, ...] = ()
    last_work: int = 0

    @property
    def used(self) -> int:
        """How many lines of the sheet are written."""
        return sum(entry.takes for entry in self.entries[1:])

    @property
    def borne(self) -> bool:
        """Whether a coil left alone was looked at for what no run shows, a condenser that begins to leak."""
        return bool(self.worked) or any(one.tool.part == "condenser" and one.tool.kind == "look" for one in self.entries)

    @property
    def ranged(self) -> Entry | None:
        """The run over the whole range after the last piece of work, where there is one."""
        late = [one for one in self.entries if one.line > self.last_work and one.unwell is not None]
        return late[-1] if late else None

    @property
    def holds(self) -> bool:
        """Whether all is well in the end, the log says so, and every piece of work was called for by a look before it."""
        amiss = self.guessed or self.needless or self.ranged is None or not self.borne
        return not (amiss or not_well(self.state) or leaks(self.state))


def checked(lines: Sequence[str]) -> tuple[str, ...]:
    """Return the lines of a log. ValueError says which is none, or that there are too many."""
    if isinstance(lines, str) or not isinstance(lines, (list, tuple)):
        raise ValueError("The log is no list of lines.")
    if len(lines) > LINES:
        raise ValueError(f"The log has {len(lines)} lines; the sheet has {LINES}.")
    for place, line in enumerate(lines, 1):
        if not isinstance(line, str) or line not in BY_KEY:
            raise ValueError(f"Line {place} of the log: {line!r:.40} is nothing that is done at this bench.")
    return tuple(lines)


def replay(number: int, lines: Sequence[str]) -> Log:
    """Return the log of coil `number` with `lines` on its sheet, keys of TOOLS, first to last. ValueError: see `checked`."""
    return _replay(number, checked(lines))


@lru_cache(maxsize=512)
def _replay(number: int, lines: tuple[str, ...]) -> Log:
    state = as_found(number)
    entries = [_beside(0, AS_FOUND, state, ROAD)]
    read_at: dict[str, bool] = {}  # part: whether its last look found it off; a bend loses the reading of its blade
    standing: list[_Work] = []
    wrong: dict[int, str] = {}
    ran, last_work, used = state, 0, 0
    for place, key in enumerate(lines, 1):
        tool = BY_KEY[key]
        if used >= LINES:
            entries.append(Entry(place, tool, "there was no room for this on the sheet: it was not done.", first=used, takes=0))
            continue
        if tool.kind == "run":
            entry = _run(place, tool, state)
            ran = state
        elif tool.kind == "look":
            entry = _look(place, tool, state)
            if not entry.off and tool.key != "swap" and all(work.tool.part != tool.part for work in standing):
                back = " Sound: to put it back as it was and to try it takes two lines more."
                entry = replace(entry, text=entry.text + back, takes=min(IN_VAIN, LINES - used))
            read_at[tool.part] = entry.off
        elif tool.kind == "work":
            known = tool.part in read_at
            if not known:
                wrong[place] = "guessed"
            elif not read_at[tool.part]:
                wrong[place] = "needless"
            standing.append(_Work(place, tool, state, known if key in BENDS else key != "dress points"))
            state = after(state, key, number)
            entry = Entry(place, tool, _done(key, known))
            last_work = place
            if key in BENDS:
                read_at.pop(tool.part, None)
        else:
            text, state, undone = _taken_back(state, standing, entries)
            entry = Entry(place, tool, text)
            if undone:
                wrong.pop(undone.line, None)
                last_work = place
                read_at.pop(undone.tool.part, None)
        entries.append(replace(entry, first=used + 1))
        used += entry.takes
    guessed, needless = (tuple(line for line, what in wrong.items() if what == kind) for kind in ("guessed", "needless"))
    worked = tuple(work.line for work in standing)
    return Log(number, tuple(entries), state, ran, guessed, needless, worked, last_work)


def _done(key: str, known: bool) -> str:
    if key in BENDS:
        blade, force = BENDS[key]
        text = f"about {abs(force):.1f} N {'more' if force > 0.0 else 'less'}; what it came to, only a reading tells."
        return text if known else f"{text} Where the {blade} stood was not read, so there is no way back to it."
    if key == "dress points":
        return "filed flat and clean. The metal is gone: this cannot be taken back."
    if key == "mend magneto":
        return "it gives what it should again."
    return "set to a good coil's." if key == "set travel" else "the old one is kept, in case."


def _taken_back(state: State, standing: list[_Work], entries: Sequence[Entry]) -> tuple[str, State, _Work | None]:
    if not standing:
        return "there is no work to take back; the line is spent.", state, None
    last = standing[-1]
    line = entries[last.line].first
    if not last.back:
        why = "the metal is gone" if last.tool.key == "dress points" else f"where the {last.tool.part} stood was not read"
        return f"line {line} cannot be taken back: {why}. The line is spent.", state, None
    standing.pop()
    return f"line {line} is undone; the {last.tool.part} is as it was before it.", last.before, last
