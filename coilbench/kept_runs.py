"""What imagined coils read on unusual benches, kept on disk: a bench is simulated once, and then known in every later start.

Kept under `build/kept-runs` of the project by joblib, each with all it rests on: the coils themselves, the bench, the texts of
the model and of this package's runs, and the versions that a last digit depends on. Where anything of it is another, nothing kept
fits, and the bench is simulated anew. It may be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
import warnings
from collections.abc import Callable, Sequence
from dataclasses import astuple
from pathlib import Path

import joblib

from coilbench import causes, kinds, running
from coilbench.asks import Setting
from coilbench.causes import Coil
from coilmodel.study.origin import maker, text_digest

PLACE = Path(__file__).resolve().parents[1] / "build" / "kept-runs"
MOST = 50_000_000
"""Bytes kept; beyond them what was used longest ago goes first. A bench takes some 0.1 to 0.4 MB."""

Rows = list[list[float]]
Simulate = Callable[[Sequence[Coil], Setting], Rows]


def rests_on(coils: Sequence[Coil]) -> dict[str, str]:
    """Return all that outcomes of `coils` depend on, besides the bench: digests of texts and of the coils, and versions."""
    texts = {module.__name__: text_digest(str(module.__file__)) for module in (running, kinds, causes)}
    return {**maker(), **texts,
            "coils": hashlib.sha256(repr(list(coils)).encode()).hexdigest()}


def outcomes_on(setting: Setting, coils: Sequence[Coil], simulate: Simulate, place: Path | None = None) -> Rows:
    """Return what `coils` read on a bench, kept from an earlier start or by `simulate`; rows of running.OUTCOME, in their order.

    place : the folder where they are kept (PLACE). Where it can't be read or written, they are simulated and not kept.
    """
    try:
        memory = joblib.Memory(place or PLACE, verbose=0)
    except OSError:
        return simulate(coils, setting)
    kept = memory.cache(_outcomes, ignore=["coils", "setting", "simulate"])
    with warnings.catch_warnings():  # a spoilt file is told as a warning with a trace; it is simulated anew, and that is all
        warnings.simplefilter("ignore")
        found: Rows = kept(rests_on(coils), astuple(setting), coils, setting, simulate)
        if len(found) != len(coils):
            found = simulate(coils, setting)
        with contextlib.suppress(OSError):  # somebody else may tidy up at the same time
            memory.reduce_size(bytes_limit=MOST)
    return found


def _outcomes(rests: dict[str, str], bench: tuple[object, ...], coils: Sequence[Coil], setting: Setting,
              simulate: Simulate) -> Rows:
    """Simulate; by `rests` and `bench` the result is found again."""
    return simulate(coils, setting)
