"""Units as people write them into a bench sheet, and numbers with a decimal point or a decimal comma.

Standard library only.
"""

from __future__ import annotations

import math
import re
import unicodedata

UNITS: dict[str, dict[str, float]] = {
    "capacity": {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12, "mfd": 1e-6},
    "voltage": {"V": 1.0, "kV": 1e3, "mV": 1e-3, "volt": 1.0, "volts": 1.0},
    "current": {"A": 1.0, "mA": 1e-3, "amp": 1.0, "amps": 1.0, "ampere": 1.0, "amperes": 1.0},
    "time": {"s": 1.0, "ms": 1e-3, "min": 60.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "minutes": 60.0},
    "length": {"m": 1.0, "mm": 1e-3, "um": 1e-6, "in": 0.0254, "inch": 0.0254, '"': 0.0254},
    "resistance": {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6, "mohm": 1e-3, "Gohm": 1e9, "ohms": 1.0},
    "force": {"N": 1.0, "mN": 1e-3, "gf": 9.80665e-3, "g": 9.80665e-3, "gram": 9.80665e-3, "grams": 9.80665e-3,
              "kgf": 9.80665, "ozf": 0.2780139, "oz": 0.2780139, "lbf": 4.4482216},
    "speed": {"rpm": 1.0, "1/min": 1.0, "/min": 1.0, "min-1": 1.0, "r/min": 1.0},
    "frequency": {"Hz": 1.0, "cycles": 1.0, "c/s": 1.0, "1/s": 1.0},
    "share": {"%": 0.01, "percent": 0.01, "pct": 0.01},
    "count": {"": 1.0, "1": 1.0, "per pulse": 1.0, "/pulse": 1.0, "sparks": 1.0, "sparks per pulse": 1.0, "sparks/pulse": 1.0},
}
"""What one of each unit is in SI, by what it measures. `mfd` is the trade's old microfarad (common practice, no source). A force
in grams or ounces is what a spring balance shows: the weight of so much."""

_NUMBER = re.compile(r"[+-]?(?:\d[\d.,']*(?: \d{3}(?!\d))*(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")


class NotAQuantity(ValueError):
    """Why a cell is not a quantity: the end of a sentence whose beginning names row and column."""


def tidy(text: str) -> str:
    """Return `text` with its signs made plain (micro, ohm, minus, odd spaces, full-width digits) and its ends trimmed."""
    plain = unicodedata.normalize("NFKC", text)  # the micro sign becomes a Greek mu, the ohm sign a Greek omega, NBSP a space
    for sign, ours in (("\u03bc", "u"), ("\u03a9", "ohm"), ("\u2212", "-"), ("\u2013", "-"), ("\u2019", "'"), ("\u2033", '"')):
        plain = plain.replace(sign, ours)
    return " ".join(plain.split())


def scale(unit: str, measure: str) -> float:
    """Return what one `unit` of a `measure` (key of UNITS) is in SI; its case matters only where two units differ by it.

    Raises NotAQuantity.

    >>> scale("µF", "capacity"), scale("KV", "voltage")
    (1e-06, 1000.0)
    """
    name = tidy(unit).rstrip(".")
    known = UNITS[measure]
    if name in known:
        return known[name]
    alike = {factor for other, factor in known.items() if other.casefold() == name.casefold()}
    if len(alike) == 1:
        return alike.pop()
    if alike:
        raise NotAQuantity(f"'{shown(unit)}' may be milli or mega; write mohm or Mohm")
    raise NotAQuantity(f"'{shown(unit)}' is not a unit of {measure}" if measure != "count" else
                       f"'{shown(unit)}' has no place behind a count")


def number(text: str) -> float:
    """Return the number in `text`: decimal point or decimal comma, thousands set off by spaces or by the other sign.

    A single comma or point is always the decimal sign, so that nothing is a thousand times too large in silence.
    Raises NotAQuantity.

    >>> number("0,45"), number("1.234,5"), number("1 200")
    (0.45, 1234.5, 1200.0)
    """
    plain = tidy(text)
    if not _NUMBER.fullmatch(plain):
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    mantissa, _, exponent = plain.lower().partition("e")
    whole = mantissa.replace("'", "").replace(" ", "")
    decimal = max(whole.rfind("."), whole.rfind(","))
    if decimal >= 0:
        mark, other = whole[decimal], "," if whole[decimal] == "." else "."
        before, after = whole[:decimal], whole[decimal + 1:]
        # What stands before the decimal sign may be set off by the other sign, in threes.
        if mark in before or not re.fullmatch(rf"[+-]?(?:\d*|\d{{1,3}}(?:{re.escape(other)}\d{{3}})+)", before):
            raise NotAQuantity(f"'{shown(text)}' has more than one decimal sign")
        whole = f"{before.replace(other, '')}.{after}"
    value = float(f"{whole}e{exponent or 0}")
    if not math.isfinite(value):
        raise NotAQuantity(f"'{shown(text)}' is too large to be a number")
    return value


def quantity(text: str, measure: str, unit: str) -> tuple[float, str | None]:
    """Return a cell's number in SI, and the unit that stood in the cell (None: none did, and `unit` was taken).

    measure : key of UNITS; unit : what a bare number is in. Raises NotAQuantity.

    >>> quantity("0.45 uF", "capacity", "uF")
    (4.5e-07, 'uF')
    """
    plain = tidy(text)
    found = _NUMBER.match(plain)
    if not found:
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    figure = found.group().rstrip("'")
    behind = plain[len(figure):].strip()
    value = number(figure)
    if not behind:
        return value * scale(unit, measure), None
    if not re.match(r"[A-Za-z%/\"1]", behind):
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    return value * scale(behind, measure), behind


def shown(text: str, most: int = 40) -> str:
    """Return `text` fit to be printed: on one line, no control characters, not too long."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    plain = " ".join(plain.split())
    return plain if len(plain) <= most else plain[:most - 3] + "..."
