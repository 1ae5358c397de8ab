"""Coils of other makes: imagined over designs, and seen against a coil of the same make that is known to be good.

The judge of stored.py weighs coils imagined round one design, and is over-sure about a coil whose springs, gaps or magneto
are another maker's. Here they are of many designs (designs.py made them; coilbench/designs.json holds what they read, of each
design a second well-set coil, and coils with two faults). Where a sheet marks a coil as known good, its readings weigh the
designs, and every imagined current, capacity, force or length is taken relative to those of its design's well-set coil: the
known-good coil's reading stands in its place. Without such a coil all designs count alike.

How much wider the errors are and how far a likelihood counts (KNOWN, UNKNOWN) is our judgement; `python -m
coilbench.makes_trial` holds it against designs that are not stored. Standard library only.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from typing import Any

from coilbench import carried, stored
from coilbench.asks import CONFIRMING, Ask, Setting
from coilbench.causes import BY_KEY, CAUSES, Coil, beforehand, spoilt
from coilbench.errors import log_likelihood, own_share, prediction
from coilbench.kinds import KINDS
from coilbench.sheet import Bench, Reading, Taken
from coilbench.twos import Pairs
from coilmodel import Machine

FILE = "coilbench/designs.json"
SETTINGS = (*(Setting(Bench(rpm, 1.0)) for rpm in (200.0, 300.0, 450.0, 600.0)), Setting(Bench(volts=12.0)),
            CONFIRMING)
"""The benches that these coils were run on; a reading on another one is left out in a page, and run by the command."""

RELATIVE = tuple(kind.key for kind in KINDS if kind.relative)
"""Kinds of reading that are taken relative to the known-good coil's."""
CURRENTS = tuple(kind.key for kind in KINDS if kind.relative and kind.running and kind.measure == "current")
BAND = (300.0, 600.0)  # rpm, at which every good coil gives one spark in every pulse (the designs do, by the way they are drawn)
BELIED = 0.3  # sparks a pulse away from one: more than three pulses in ten; our choice
FEWEST_RUNNING = 2  # readings of the running known-good coil; fewer can't weigh a design


@dataclass(frozen=True)
class Width:
    """How much wider an imagined reading's error is, since a make is none of the imagined ones: a share of it, or sparks a pulse.

    temper : the power to which the likelihood of a reading of the running coil is taken; lean : the same for the known-good
    coil's readings, which weigh designs; lean_share : how much wider their errors are
    """

    share: float
    sparks: float
    temper: float
    lean: float = 0.0
    lean_share: float = 0.0


KNOWN = Width(0.03, 0.05, 0.6, 0.1, 0.1)
UNKNOWN = Width(0.03, 0.05, 0.6)
FOR_A_SET = Width(0.03, 0.05, 0.6, 0.3, 0.08)
"""How the known-good coil weighs the makes of a set of four, more sharply: there the make is asked for, and few are drawn."""


@dataclass(eq=False)
class Designs:
    """The imagined coils of all designs, with one fault and with two, and of each a second well-set coil with what it reads."""

    store: stored.Imagined
    reference: list[Coil]
    reference_runs: dict[Setting, list[list[float]]]
    pairs: Pairs


def numbers_of(machine: Machine) -> list[float]:
    """Return every number of a machine, part by part."""
    return [float(getattr(part, field.name)) for part in _parts(machine) for field in fields(part)]


def _parts(machine: Machine) -> list[Any]:
    return [getattr(machine, field.name) for field in fields(machine)]


def names_of(machine: Machine) -> list[str]:
    """Return what `numbers_of` gives, by name: part_field."""
    return [f"{place.name}_{field.name}" for place, part in zip(fields(machine), _parts(machine), strict=True)
            for field in fields(part)]


def machine_of(numbers: Mapping[str, float]) -> Machine:
    """Return the machine with `numbers`, by name (of `names_of`). Raises ValueError where they are not those of a machine."""
    nominal = Machine()
    if other := set(names_of(nominal)) ^ set(numbers):
        raise ValueError(f"{FILE} is of a machine with other numbers ({', '.join(sorted(other)[:3])}); `python -m "
                         "coilbench.fill_designs` makes it again.")
    parts: dict[str, Any] = {}
    for place, part in zip(fields(nominal), _parts(nominal), strict=True):
        own = {field.name: _like(getattr(part, field.name), numbers[f"{place.name}_{field.name}"]) for field in fields(part)}
        parts[place.name] = type(part)(**own)
    return Machine(**parts)


def _like(old: float, value: float) -> float:
    return int(value) if isinstance(old, int) else value  # a count of poles stays a count


GAP, SUPPLY = "gap", "supply"
"""What a stored coil has besides its machine's numbers."""


def coil_of(numbers: dict[str, float]) -> Coil:
    """Return a coil by its numbers: those of the machine, and GAP and SUPPLY."""
    gap, supply = numbers.pop(GAP), numbers.pop(SUPPLY)
    return Coil(machine_of(numbers), 1.0, gap, supply)


@cache
def designs() -> Designs:
    """Return the coils of all designs, read once. Raises carried.FileWanted in a page that has not fetched the file yet."""
    data = json.loads(carried.text_of(FILE))
    reference, bases = ([coil_of(dict(zip(data["numbers"], one, strict=True))) for one in data[which]]
                        for which in ("reference", "bases"))
    coils = [spoilt(coil, cause, even) for cause in CAUSES for coil, even in zip(bases, data["evens"][cause.key], strict=True)]
    of = [place for place, cause in enumerate(CAUSES) for _ in bases]
    causes = [BY_KEY[key] for key in data["causes"]]
    first, second = ([(causes[place], even) for place, even in zip(data[which], data[f"{which}_even"], strict=True)]
                     for which in ("first", "second"))
    pairs = Pairs(bases, list(zip(first, second, strict=True)))
    runs: dict[Setting, list[list[float]]] = {}
    reference_runs: dict[Setting, list[list[float]]] = {}
    benches = [Setting(Bench(**one["bench"]), one["gap"]) for one in data["benches"]]
    for setting, columns in zip(benches, data["outcomes"], strict=True):
        rows = stored.rows_of(columns)
        reference_runs[setting], runs[setting] = rows[:len(reference)], rows[len(reference):len(reference) + len(coils)]
        pairs.runs[setting] = rows[len(reference) + len(coils):]
    return Designs(stored.Imagined(coils, of, runs, twos=stored.Twos(pairs)), reference, reference_runs, pairs)


# --------------------------------------------------------------------------------------------------- a sheet's make
COURSE = "course"
"""What stands in a sheet's column 'make' for an imagined coil of the course's own. Any other coil is a stranger's."""


def make_of(rows: Sequence[Taken]) -> str:
    """Return a coil's make, in small letters and single blanks; "" where its rows say none. The last row that says it counts."""
    said = [" ".join(row.make.casefold().split()) for row in rows if row.make.strip()]
    return said[-1] if said else ""


def by_make(coils: Mapping[str, Sequence[Taken]]) -> dict[str, dict[str, Sequence[Taken]]]:
    """Return the coils of a sheet parted by make (of `make_of`), each in the sheet's order."""
    found: dict[str, dict[str, Sequence[Taken]]] = {}
    for name, rows in coils.items():
        found.setdefault(make_of(rows), {})[name] = rows
    return found


def marked(rows: Sequence[Taken]) -> bool | None:
    """Return whether a coil is marked as known good; None where its rows say nothing. The last row that says it counts."""
    said = [row.known_good for row in rows if row.known_good is not None]
    return said[-1] if said else None


def belied(readings: Sequence[Reading]) -> Reading | None:
    """Return the reading that belies a mark: sparks a pulse that no good coil gives at a speed of BAND; None where none does."""
    return next((one for one in readings if one.kind == "sparks" and one.bench and not one.helped
                 and BAND[0] <= one.bench.rpm <= BAND[1] and abs(one.value - 1.0) > BELIED), None)


def known_of(coils: Mapping[str, Sequence[Taken]], readings: Mapping[str, Sequence[Reading]]) -> list[str]:
    """Return the names of the coils that are marked as known good and not belied by their own sparks.

    coils, readings : as for `store_for`
    """
    return [name for name, rows in coils.items() if marked(rows) and belied(readings[name]) is None]


def store_for(coils: Mapping[str, Sequence[Taken]], readings: Mapping[str, Sequence[Reading]]) -> stored.Imagined | None:
    """Return the imagined coils by which coils of one make are judged; None for the course's own make without a known-good coil.

    A make that is not said to be the course's own is a stranger's: taken for the course's own, 400 coils of other designs were
    right in 46 of 100 where 72 were promised.

    coils : the good rows by coil, all of one make; readings : of `sheet.standing` by coil
    """
    known = known_of(coils, readings)
    if not known and all(make_of(rows) == COURSE for rows in coils.values()):
        return None
    return centred(tuple(tuple(readings[name]) for name in known))


def judged_by(store: stored.Imagined | None, coils: Mapping[str, Sequence[Taken]],
              readings: Mapping[str, Sequence[Reading]]) -> str:
    """Return in sentences what a sheet's coils are held against, and how far it can be trusted. readings : as for `store_for`"""
    return not_believed(coils, readings) + _held_against(store, known_of(coils, readings))


def not_believed(coils: Mapping[str, Sequence[Taken]], readings: Mapping[str, Sequence[Reading]]) -> str:
    """Return in sentences which marks are not believed and why, "" where all are. coils, readings : as for `store_for`"""
    return "".join(f"{name} is marked as known good, but gave {one.value:.3g} sparks a pulse at {one.bench.rpm:g} rpm, which no "
                   "good coil does: the mark is not believed. " for name, rows in coils.items()
                   if marked(rows) and (one := belied(readings[name])) is not None and one.bench is not None)


def _held_against(store: stored.Imagined | None, known: Sequence[str]) -> str:
    if store is None:
        return ("By the column 'make' these coils are of the course's own make: imagined ones. A real coil is not; for it write "
                "its own make there, or nothing.")
    if not known:
        return ("The make is not known and no coil stands for it, so these odds are over "
                f"{len(designs().reference)} imagined designs and tell less than of the course's own make. Read one coil of this "
                "make that runs well too, if you can, and mark it with yes in the column 'known_good'.")
    if not is_known(store):
        return (f"{' and '.join(known)} marked as known good, but with fewer than {FEWEST_RUNNING} readings of the running "
                "coil on a bench that the designs were run on: it can't stand for its make yet, and the odds tell little.")
    return (f"Held against the known-good {' and '.join(known)}, on the same magneto: what is asked is how a coil differs from "
            "it. If that one is not good, all of this is wrong.")


def is_known(store: stored.Imagined | None) -> bool:
    """Return whether `store` is centred on a known-good coil."""
    return store is not None and bool(store.lean)


def prior_for(store: stored.Imagined | None) -> dict[str, float]:
    """Return what is likely beforehand, by key of HYPOTHESES.

    Beside a known-good coil on the same magneto no coil by itself can have a weak one.
    """
    found = beforehand()
    if is_known(store):
        weak = found["weak_drive"]
        found = {key: 1e-9 if key == "weak_drive" else share / (1.0 - weak) for key, share in found.items()}
    return found


@lru_cache(maxsize=8)
def centred(known: tuple[tuple[Reading, ...], ...], known_width: Width = KNOWN, unknown: Width = UNKNOWN) -> stored.Imagined:
    """Return the imagined coils of all designs in the light of known-good coils. known : readings of each; none: as they are."""
    every = designs()
    counted = [own for own in map(answers_of, known)
               if sum(ask.setting is not None for ask in own) >= FEWEST_RUNNING]
    if not counted:
        return _centred(_Centre({}, unknown), [])
    taken: dict[Ask, list[float]] = {}
    for own in counted:
        for ask, value in own.items():
            taken.setdefault(ask, []).append(value)
    lean = [0.0] * len(every.reference)
    factors: dict[Ask, tuple[list[float], float]] = {}
    for ask, values in taken.items():
        value = sum(values) / len(values)
        pairs = [_reference(every, place, ask) for place in range(len(every.reference))]
        for place, (expected, scale) in enumerate(pairs):
            wide = math.hypot(scale, known_width.lean_share * abs(expected), known_width.sparks if ask.kind == "sparks" else 0.0)
            lean[place] += known_width.lean * log_likelihood(value, ask, expected, wide)
        if ask.kind in RELATIVE:
            factors[ask] = ([value / expected if expected > 0.0 else 1.0 for expected, _ in pairs],
                            own_share(ask, value) / math.sqrt(len(values)))
    most = max(lean)
    mean = most + math.log(sum(math.exp(one - most) for one in lean) / len(lean))
    return _centred(_Centre(factors, known_width), [one - mean for one in lean])


def _centred(centre: _Centre, lean: Sequence[float]) -> stored.Imagined:
    """Return the imagined coils of all designs. lean : logarithm of what each design counts; empty: all count alike."""
    own, pairs, temper = designs().store, designs().pairs, centre.width.temper
    by_pair = [one for one in lean for _ in range(pairs.each)]
    if lean:  # the known-good coil ran on the same magneto, so it is no coil's second fault
        weak = pairs.have("weak_drive")
        more = math.log(len(weak) / weak.count(False))
        by_pair = [-math.inf if one else log + more for log, one in zip(by_pair, weak, strict=True)]
    return stored.Imagined(own.coils, own.of, own.runs, centre=centre, lean=[*lean] * len(CAUSES), temper=temper,
                           twos=stored.Twos(pairs, by_pair, centre.of_twos(pairs.each), temper))


def answers_of(readings: Sequence[Reading]) -> dict[Ask, float]:
    """Return a known-good coil's answers by question: those on benches on which the designs' well-set coils were run."""
    every = designs()
    return {ask: reading.value for reading, ask in stored.sort_out(readings, every.store)[0]
            if ask.kind in (*RELATIVE, "sparks") and (ask.setting is None or ask.setting in every.reference_runs)}


def _reference(every: Designs, place: int, ask: Ask) -> tuple[float, float]:
    row = every.reference_runs[ask.setting][place] if ask.setting else None
    return prediction(ask, every.reference[place], row)


class _Centre:
    """What imagined readings are multiplied by, and how much wider their errors are. factors : by question, of each design."""

    def __init__(self, factors: Mapping[Ask, tuple[Sequence[float], float]], width: Width) -> None:
        self._factors, self.width = factors, width

    def __call__(self, ask: Ask) -> tuple[Sequence[float], float, float]:
        """Return the factor of each coil, and the error to add: a share and a fixed part."""
        own, share, fixed = self.by_design(ask)
        return [*own] * len(CAUSES), share, fixed

    def of_twos(self, each: int) -> stored.Centre:
        """Return the same for coils with two faults, `each` of one design after another."""
        def centre(ask: Ask) -> tuple[Sequence[float], float, float]:
            own, share, fixed = self.by_design(ask)
            return [one for one in own for _ in range(each)], share, fixed
        return centre

    def by_design(self, ask: Ask) -> tuple[Sequence[float], float, float]:
        """Return the factor of each design, and the error to add: a share and a fixed part."""
        plain = [1.0] * len(designs().reference)
        if ask.kind == "sparks":
            return plain, 0.0, self.width.sparks
        if ask.kind not in RELATIVE:
            return plain, 0.0, 0.0
        found = self._factors.get(ask)
        if found is not None:
            own, error = found  # the known-good coil's reading has an error too
            return own, math.hypot(self.width.share, error), 0.0
        near = [own for other, (own, _) in self._factors.items() if other.kind == ask.kind]
        near = near or [own for other, (own, _) in self._factors.items() if {other.kind, ask.kind} <= {*CURRENTS}]
        if not near:
            return plain, self.width.share, 0.0
        middle = [math.exp(sum(map(math.log, one)) / len(one)) for one in zip(*near, strict=True)]
        return middle, 2.0 * self.width.share, 0.0
