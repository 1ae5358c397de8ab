"""The coils of a sheet as coils of another make: beside a coil that is marked as known good, for the set of four.

makes.py weighs the stored designs by the known-good coil's readings. Here some of them are drawn by that weight, and round the
well-set coil of each fresh coils are imagined, every vibrator bent a little and every cause put into some of them, all on that
design's magneto, as coils of one make on one bench differ. By what they would read relative to the known-good coil they stand for
the coils of the sheet, and their currents are told in its amperes. All coils of a set are of one make: where they are compared
they are of one design.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from coilbench import four, makes, stored
from coilbench.asks import Ask, Setting
from coilbench.causes import ASSUMED_GAP, BY_KEY, CAUSES, Coil, spoilt
from coilbench.imagine import spread
from coilbench.predict import Progress, learn, outcomes, set_well, spread_out
from coilbench.sheet import Bench, Reading
from coilbench.together import Together
from coilbench.verdict import Verdict
from coilbench.weighing import weights_of
from coilmodel import Machine

MAKES = min(6, four.DRAWS)  # designs that are drawn, at most
TRIED, WELL, FAULTY = 64, 32, 6
"""Coils imagined of each design; well-set ones that are kept, at most; of these each cause is put into so many."""
BENT = BY_KEY["vibrator_low"].high, BY_KEY["vibrator_high"].low
"""Factors of the vibrator's preload between which it is neither too low nor too high: somewhere there each of them was bent."""
SEED = 20310703
HARDLY = 1e-3  # a design of less weight is not looked at


def stands_for_its_make(store: stored.Imagined | None, known: Sequence[Sequence[Reading]]) -> bool:
    """Return whether known-good coils tell enough for a set to be reckoned by them. known : readings of each

    Besides what makes.centred asks for, one current must be among their readings: it is currents that coils are set by.
    """
    return makes.is_known(store) and any(ask.kind in makes.CURRENTS for own in known for ask in makes.answers_of(own))


def likely_beside(readings: Mapping[str, Sequence[Reading]], chosen: Sequence[str], store: stored.Imagined, known: Sequence[str],
                  windows: Sequence[float], progress: Progress | None = None,
                  ) -> tuple[dict[str, tuple[list[Coil], np.ndarray, Verdict]], dict[str, list[four.Make]]]:
    """Return imagined coils that stand for the `chosen` coils with weights and verdicts, and of which make each of them is.

    readings : of all coils of the sheet, by name; store : of makes.store_for, centred on the coils called `known`; windows : by
    how many degrees each kind of window closes late. Raises ValueError where no design that the known-good coil may be of
    lights in the car.
    """
    learn((setting for name in chosen for setting in stored.settings_of(readings[name])), progress, store)
    together = Together(readings, store, known)
    used = {name: stored.sort_out(readings[name], store)[0] for name in chosen}
    sharp = makes.centred(tuple(tuple(readings[name]) for name in known), makes.FOR_A_SET)
    places, shares, angles = _designs(sharp, windows, progress)
    gap = together.verdict(known[0], next_steps=False).gap if known else ASSUMED_GAP
    current = store.centre(Ask("opening_current", Setting(Bench(four.BENCH_RPM, 1.0), gap)))[0]  # type: ignore[misc]
    middle = np.tensordot(shares, angles, 1)
    own = [four.Make(number, makes.designs().reference[place].machine, current[place], middle - angle)
           for number, (place, angle) in enumerate(zip(places, angles, strict=True))]
    family, of = _family(places, store, {ask.setting for pairs in used.values() for _, ask in pairs if ask.setting}, progress)
    found, which = {}, {}
    for name in chosen:
        verdict = together.verdict(name, next_steps=False)
        odds = dict(verdict.odds)
        total = np.sum([stored.log_likelihoods(ask, reading.value, family) for reading, ask in used[name]], axis=0)
        coils, weights, numbers = [], [], []
        for number, share in enumerate(shares):
            there = np.zeros(len(total))
            for place, cause in enumerate(CAUSES):
                one = np.flatnonzero((of == number) & (np.array(family.of) == place))
                there[one] = odds[cause] * np.array(weights_of(list(total[one])))
            marks = (np.arange(max(1, round(four.DRAWS * share))) + 0.5) / max(1, round(four.DRAWS * share))
            drawn, times = np.unique(np.searchsorted(np.cumsum(there) / there.sum(), marks), return_counts=True)
            coils += [family.coils[int(one)] for one in drawn]
            weights += list(share * times / times.sum())
            numbers += [number] * len(drawn)
        found[name] = coils, np.array(weights), verdict
        which[name] = [own[number] for number in numbers]
    return found, which


def _designs(store: stored.Imagined, windows: Sequence[float],
             progress: Progress | None) -> tuple[list[int], np.ndarray, np.ndarray]:
    """Return the designs drawn by what the known-good coil says of them, their shares, and where each one's well-set coil fires.

    The angles have the shape (designs, windows, speeds).
    """
    reference = makes.designs().reference
    weights = np.array(weights_of(store.lean[:len(reference)]))
    looked = [int(place) for place in np.flatnonzero(weights > HARDLY)]
    tasks = [(reference[place], late, rpm) for place in looked for late in windows for rpm in four.SPEEDS]
    angles = np.array(spread_out(_angles, tasks, progress, "Other makes in the car")).reshape(
        len(looked), len(windows), len(four.SPEEDS))
    weights = weights[looked] * np.isfinite(angles).all(axis=(1, 2))  # a known-good coil lights in the car
    if not weights.sum() > 0.0:
        raise ValueError("Of the makes that the known-good coil may be of, none lights in the car in every window, so there is "
                         "nothing to set the coils by. Take its readings again; till then leave the coils as they are.")
    marks = (np.arange(MAKES) + 0.5) / MAKES
    drawn, times = np.unique(np.searchsorted(np.cumsum(weights) / weights.sum(), marks), return_counts=True)
    return [looked[place] for place in drawn], times / times.sum(), angles[drawn]


def _angles(tasks: Sequence[tuple[Coil, float, float]]) -> list[float]:
    return [four.firing_angle(coil, 1.0, rpm, late, coil.machine) for coil, late, rpm in tasks]


def _family(places: Sequence[int], store: stored.Imagined, settings: set[Setting],
            progress: Progress | None) -> tuple[stored.Imagined, np.ndarray]:
    """Return fresh coils of the designs at `places`, with what they read on `settings`, and the number of each one's design."""
    reference = [makes.designs().reference[place] for place in places]
    low, high = BENT
    bends = low * (high / low) ** ((np.random.default_rng(SEED).permutation(TRIED) + 0.5) / TRIED)
    tried = [_on_the_bench_of(one, coil, float(bend)) for number, one in enumerate(reference)
             for coil, bend in zip(spread(TRIED, SEED + number, nominal=one.machine), bends, strict=True)]
    good = spread_out(set_well, tried, progress, "Coils of the same make")
    well = []
    for number, one in enumerate(reference):
        own = slice(TRIED * number, TRIED * (number + 1))
        well.append([one, *(coil for coil, yes in zip(tried[own], good[own], strict=True) if yes)][:WELL])
    coils, causes, numbers = [], [], []
    for place, cause in enumerate(CAUSES):
        for number, base in enumerate(well):
            count = len(base) if not cause.what else FAULTY
            evens = (np.random.default_rng((SEED, place, number)).permutation(count) + 0.5) / count
            coils += [spoilt(base[one % len(base)], cause, float(even)) for one, even in enumerate(evens)]
            causes += [place] * count
            numbers += [number] * count
    runs = {setting: outcomes([(coil, setting) for coil in coils], progress, "Coils of the same make on the bench").tolist()
            for setting in sorted(settings, key=repr)}

    def centre(ask: Ask) -> tuple[Sequence[float], float, float]:
        factors, share, fixed = store.centre(ask)  # type: ignore[misc]
        share = min(share, makes.KNOWN.share)  # the known-good coil's own error moves all coils of the set alike
        return [factors[places[number]] for number in numbers], share, fixed

    return stored.Imagined(coils, causes, runs, centre=centre, temper=store.temper), np.array(numbers)


def _on_the_bench_of(reference: Coil, coil: Coil, bend: float) -> Coil:
    """Return a coil on the magneto, the gap and the supply that the known-good coil has (one bench for all), its vibrator bent.

    bend : factor of the vibrator's preload
    """
    machine: Machine = replace(coil.machine, magneto=reference.machine.magneto).scaled(vibrator_preload=bend)
    return Coil(machine, 1.0, reference.gap, reference.supply)
