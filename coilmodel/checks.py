"""The one check that every number passes on its way into the model.

A bad number must not travel: a NaN that gets past the door turns up three modules later as a strip that is blank, and
nobody can say why. So every public function checks what it is given, and says what is wrong in one sentence that names
the field, the value, its unit and the allowed range.
"""

from __future__ import annotations

import math
from numbers import Real


def checked(field: str, value: object, unit: str, low: float, high: float) -> float:
    """Return `value` as a float if it is a finite number from `low` to `high` (both included).

    Parameters
    ----------
    field : the name of the quantity as the caller knows it
    value : what was given; any real number, but no bool and no text
    unit : the unit of `value`, `low` and `high`; "" or "1" for a plain number
    low, high : the allowed range; either may be infinite, the value may not

    Raises
    ------
    ValueError : one sentence with field, value, unit and range

    >>> checked("coil resistance", 2, "ohm", 0.0, 100.0)
    2.0
    >>> checked("coil resistance", -1.0, "ohm", 0.0, 100.0)
    Traceback (most recent call last):
    ValueError: coil resistance: -1 ohm is outside 0 to 100 ohm.
    """
    if isinstance(value, bool) or not isinstance(value, Real):
        raise ValueError(f"{field}: {_short(value)} is not a number; give one {_range(unit, low, high)}.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{field}: {number:g}{_tail(unit)} is not a finite number; give one {_range(unit, low, high)}.")
    if not low <= number <= high:
        # The shortest form that still differs from the limits: "1 is outside 0 to 1" would help nobody.
        raise ValueError(f"{field}: {_exact(number, low, high)}{_tail(unit)} is outside {low:g} to {high:g}{_tail(unit)}.")
    return number


def checked_count(field: str, value: object, low: int, high: int) -> int:
    """Return `value` as an int if it is a whole number from `low` to `high`; 3.0 counts as whole, 3.5 and True do not.

    field : what the number is, in words; it opens the sentence of the error. Raises ValueError as `checked` does.
    """
    number = checked(field, value, "1", low, high)
    if number != int(number):
        raise ValueError(f"{field}: {number:g} is not a whole number; give one {_range('1', low, high)}.")
    return int(number)


def _tail(unit: str) -> str:
    return "" if unit in ("", "1") else f" {unit}"


def _range(unit: str, low: float, high: float) -> str:
    return f"from {low:g} to {high:g}{_tail(unit)}"


def _exact(number: float, low: float, high: float) -> str:
    text = f"{number:g}"
    return text if text not in (f"{low:g}", f"{high:g}") else repr(number)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."
