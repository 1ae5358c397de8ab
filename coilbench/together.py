"""The coils of one sheet together: they ran on one magneto, so its strength is one number for all of them.

Judged alone, each coil may blame the magneto or be spared by luck. Here the magneto is either weak for every coil that ran on
it or for none: what the other coils say of it is what is likely beforehand for this one. A coil on a weak magneto may have a
fault of its own besides; that is OTHER's share. A sheet is taken as one bench. Standard library only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from coilbench import stored
from coilbench.causes import BY_KEY, OTHER, beforehand
from coilbench.errors import NAMED
from coilbench.makes import by_make, is_known, judged_by, known_of, prior_for, store_for
from coilbench.sheet import Reading, Taken
from coilbench.verdict import Verdict

WEAK = BY_KEY["weak_drive"]
OWN_FAULT = 0.5  # of the coils on a weak magneto have a fault of their own too: our judgement, no source
FEWEST = 2  # coils that must have run on the magneto before it is judged by all of them
BELIEVED = 0.95  # odds beforehand that a coil that the sheet marks as known good is well set: our judgement, no source
LUCK = 1e-3  # a coil is never taken to speak more surely than this for or against the magneto


@dataclass(frozen=True)
class Bench:
    """What the coils of a sheet say of the magneto they ran on: the odds that it is weak, and how many of them spoke."""

    weak: float
    coils: int

    @property
    def named(self) -> bool:
        """Return whether the coils together call the magneto weak."""
        return self.coils >= FEWEST and self.weak >= NAMED

    def say(self) -> str:
        """Return what is to be said on the sheet as a whole, "" where there is nothing."""
        if not self.named:
            return ""
        return (f"The magneto is weak, or weaker than the sheet says: the {self.coils} coils that ran on it say so together "
                f"({100.0 * min(self.weak, 0.99):.0f} in 100). Look at the magneto, its leads and its gap before you bend any of "
                "them.")


class Together:
    """What all the coils of a sheet say of their magneto, and the verdicts on each in its light.

    readings : by coil, of `sheet.standing`; coils without a reading that can be judged are passed over; store : the imagined
    coils by which they are judged (of the course's own make). known : names of those
    marked as known good. Beside one of them the magneto is not in question.
    """

    def __init__(self, readings: Mapping[str, Sequence[Reading]], store: stored.Imagined | None = None,
                 known: Collection[str] = ()) -> None:
        self.store, self._known = store, known
        self._readings = {name: tuple(own) for name, own in readings.items() if stored.sort_out(own, store)[0]}
        self._says = {name: _says_weak(own, store) for name, own in self._readings.items()
                      if not is_known(store) and _on_magneto(own, store)}
        if len(self._says) < FEWEST:
            self._says = {}
        self.bench = Bench(_share(sum(self._says.values())), len(self._says))

    def verdict(self, name: str, next_steps: bool = True) -> Verdict:
        """Return the verdict on one coil. Raises KeyError where it has no reading that can be judged."""
        return stored.judge(self._readings[name], next_steps, fit=self.store is None, prior=self.prior(name), store=self.store)

    def prior(self, name: str) -> dict[str, float]:
        """Return what is likely beforehand of one coil after all the others have spoken, by key of HYPOTHESES."""
        found = prior_for(self.store)
        if name in self._known:
            good = found["well_set"]
            rest = (1.0 - BELIEVED) / (1.0 - good)
            return {key: BELIEVED if key == "well_set" else share * rest for key, share in found.items()}
        if name not in self._says:
            return found
        weak = _share(sum(said for other, said in self._says.items() if other != name))
        found = {key: share * (1.0 - weak) / (1.0 - beforehand()[WEAK.key]) for key, share in found.items()}
        own = OWN_FAULT if weak > beforehand()[WEAK.key] else 0.0  # where the others say nothing, nothing changes
        found[WEAK.key] = weak * (1.0 - own)
        found[OTHER.key] += weak * own
        return found


@dataclass(frozen=True)
class OneMake:
    """The coils of one make in a sheet: by which imagined coils they are judged, what is to be said of that, and how they are."""

    coils: tuple[str, ...]
    store: stored.Imagined | None
    said: str
    together: Together

    @property
    def held(self) -> tuple[str, ...]:
        """Return the sentences that each of its coils' cards says: against what it is held, and what all say of the magneto."""
        return (self.said, self.together.bench.say()) if self.together.bench.named else (self.said,)


def of_sheet(coils: Mapping[str, Sequence[Taken]], readings: Mapping[str, Sequence[Reading]],
             prepare: Callable[[Collection[str], stored.Imagined | None], None] | None = None) -> list[OneMake]:
    """Return the coils of a sheet make by make: a known-good coil stands for its own make only.

    coils : the good rows by coil; readings : of `sheet.standing` by coil; prepare : what is done with the names of a make's coils
    and the imagined coils that they are judged by, before they are
    """
    found, parted = [], by_make(coils)
    for make, own in parted.items():
        read = {name: readings[name] for name in own}
        store, known = store_for(own, read), known_of(own, read)
        if prepare:
            prepare(own, store)
        said = judged_by(store, own, read)
        if len(parted) > 1:
            said = f"{' and '.join(own)} ({f'make: {make}' if make else 'no make said'}). {said}"
        found.append(OneMake(tuple(own), store, said, Together(read, store, known)))
    return found


def _share(said: float) -> float:
    """Return the odds of a weak magneto after coils have spoken, whose log ratios add up to `said`."""
    chance = beforehand()[WEAK.key]
    return 1.0 / (1.0 + math.exp(-max(-500.0, min(500.0, said + math.log(chance / (1.0 - chance))))))


def _on_magneto(readings: Sequence[Reading], store: stored.Imagined | None) -> bool:
    return any(ask.setting is not None and ask.setting.bench.rpm > 0.0 for _, ask in stored.sort_out(readings, store)[0])


@lru_cache(maxsize=512)
def _says_weak(readings: tuple[Reading, ...], store: stored.Imagined | None) -> float:
    """Return the logarithm of how much likelier one coil's readings are on a weak magneto than on a sound one."""
    odds, before = dict(stored.judge(readings, next_steps=False, fit=False, store=store).odds), beforehand()
    weak = (1.0 - OWN_FAULT) * odds[WEAK] / before[WEAK.key] + OWN_FAULT * odds[OTHER] / before[OTHER.key]
    sound = (1.0 - odds[WEAK]) / (1.0 - before[WEAK.key])
    return math.log(max(weak, LUCK) / max(sound, LUCK))
