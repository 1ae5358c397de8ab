"""The proof: what was checked against what, and by how much it differs.

A check is one row: a name, our number, the number of somebody else, how far apart they may be and why, and where the
other number comes from. Checks come in groups; each group is a module of this package with a function `checks` that
yields its rows. `python -m coilmodel.proof` runs them and writes the table; the tests run the same rows one by one.

To add a group, write such a module, add a line to `GROUPS`, and give it a place on the book's page
(`book/making/proof_page.py`). This package may import numpy and scipy, and a group's
module is imported only when its group is asked for, so the rest of `coilmodel` stays plain.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

LOOKED_UP = "looked up"
COMPUTED = "computed by an independent method"
EXACT = "exact formula"
MEMORY = "from memory"
MEMORY_COMPUTED = "from memory, reproduced by an exact formula"
UNCERTAIN = "uncertain, for information"

SAME_FORMULA = "same formula, guards the typing only"
SAME_CODE = "same code on both sides, guards the typing only"


class CannotRun(Exception):
    """Raised by a group that lacks what it needs (ngspice, say); its text tells a person how to get it."""


@dataclass(frozen=True)
class Check:
    """One row of the proof.

    name : what is compared; ours : our value; expected : the other's; tolerance : allowed difference, as a share of
    `expected`, or in `unit` where `expected` is 0 or `absolute` is set; unit : of both values, "1" for a plain number
    source : author, title, year, table, or the method; sureness : how well the source is known (the words above)
    why : what the tolerance is made of; limit : False for a row that is shown but decides nothing
    kin : empty, or `SAME_FORMULA` or `SAME_CODE` where the expected number came from the very formula or program that is
    tested: such a row notices a slip of the pen, but says nothing of whether the formula is right
    band : there is no one expected figure; the value must lie between `expected` less and plus `tolerance`
    """

    name: str
    ours: float
    expected: float
    tolerance: float
    unit: str
    source: str
    sureness: str
    why: str = ""
    absolute: bool = False
    limit: bool = True
    kin: str = ""
    band: bool = False

    @property
    def relative(self) -> bool:
        """Whether difference and tolerance are shares of the expected value."""
        return not self.absolute and self.expected != 0.0

    @property
    def difference(self) -> float:
        """Ours minus expected, as a share of expected or in the unit (see `relative`)."""
        apart = self.ours - self.expected
        return apart / abs(self.expected) if self.relative else apart

    @property
    def passed(self) -> bool:
        """Whether the difference is within the tolerance; a NaN never is."""
        return math.isfinite(self.ours) and abs(self.difference) <= self.tolerance


def printed(name: str, ours: float, text: str, unit: str, source: str, sureness: str, scale: float = 1.0,
            digits: float = 0.5, kin: str = "") -> Check:
    """A check against a printed number: they may differ by `digits` units of its last printed digit, half by default.

    name : of the quantity; ours : our value, in `unit`; text : the number as printed, times `scale` to bring it to `unit`
    source : where it is printed; sureness : how the printed number came to us; kin : both as in `Check`
    """
    mantissa = text.lower().split("e", maxsplit=1)[0]
    decimals = len(mantissa.split(".")[1]) if "." in mantissa else 0
    power = int(text.lower().split("e")[1]) if "e" in text.lower() else 0
    last = 10.0 ** (power - decimals)
    value = float(text)
    # A billionth more, because half a digit is itself not exact in binary.
    tolerance = digits * last / abs(value) * (1.0 + 1e-9)
    return Check(name, ours, value * scale, tolerance, unit, source, sureness, f"{digits:g} of the last printed digit of {text}",
                 kin=kin)


def between(name: str, ours: float, low: float, high: float, unit: str, source: str, sureness: str, why: str = "",
            limit: bool = True) -> Check:
    """A check that a value lies between `low` and `high`, both allowed.

    name, ours, unit, source, sureness, why, limit : as in `Check`
    """
    # a billionth more, because the middle is not exact in binary
    room = 0.5 * (high - low) * (1.0 + 1e-9)
    return Check(name, ours, 0.5 * (low + high), room, unit, source, sureness, why, absolute=True, limit=limit,
                 band=True)


def _group(module: str, function: str = "checks") -> Callable[[], Iterable[Check]]:
    """The group of a module, imported when first asked for."""

    def run() -> Iterable[Check]:
        return getattr(importlib.import_module(f"coilmodel.proof.{module}"), function)()

    return run


GROUPS: dict[str, Callable[[], Iterable[Check]]] = {
    "from break to kilovolts, against theory and old reports": _group("chain"),
    "published values and closed forms": _group("published"),
    "the engine against closed forms": _group("engine"),
    "the kernel against a second solution of the same equations": _group("reference"),
    "the circuit against ngspice": _group("spice"),
    "the energy ledger": _group("phenomena", "ledger"),
    "phenomena": _group("phenomena"),
}
"""Title of a group -> function that yields its checks, in the order of the table."""
