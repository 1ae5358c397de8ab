"""Units as people write them into a bench sheet, and numbers with a decimal point or a decimal comma.

Standard library only.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable

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

_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:(?:,\d{3})+|(?:\.\d{3})+)")  # signs in threes: they may set off thousands


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


def number(text: str, decimal: str = "") -> float:
    """Return the number in `text`: decimal point or decimal comma, thousands set off by spaces or by the other sign.

    decimal : the decimal sign in use where this was written, "" where nothing tells. Then a single point is the decimal sign, and
    a comma before three digits may be either: it is refused, so that nothing is off by a thousand in silence.
    Raises NotAQuantity.

    >>> number("0,45"), number("1.234,5"), number("1 200"), number("1,000", "."), number("1,000", ",")
    (0.45, 1234.5, 1200.0, 1000.0, 1.0)
    """
    plain = tidy(text)
    if not _NUMBER.fullmatch(plain):
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    mantissa, _, exponent = plain.lower().partition("e")
    whole = mantissa.replace("'", "").replace(" ", "")
    if _THOUSANDS.fullmatch(whole):
        mark = "," if "," in whole else "."
        if whole.count(mark) > 1 or decimal not in ("", mark):
            whole = whole.replace(mark, "")
        elif mark == "," and not decimal:
            raise NotAQuantity(f"'{shown(text)}' may be {whole.replace(mark, '')} or {whole.replace(mark, '.')}; write one of "
                               "these")
    place = max(whole.rfind("."), whole.rfind(","))
    if place >= 0:
        mark, other = whole[place], "," if whole[place] == "." else "."
        before, after = whole[:place], whole[place + 1:]
        # What stands before the decimal sign may be set off by the other sign, in threes.
        if mark in before or not re.fullmatch(rf"[+-]?(?:\d*|\d{{1,3}}(?:{re.escape(other)}\d{{3}})+)", before):
            raise NotAQuantity(f"'{shown(text)}' has more than one decimal sign")
        whole = f"{before.replace(other, '')}.{after}"
    value = float(f"{whole}e{exponent or 0}")
    if not math.isfinite(value):
        raise NotAQuantity(f"'{shown(text)}' is too large to be a number")
    return value


def decimal_sign(texts: Iterable[str]) -> str:
    """Return the sign that can only be the decimal one in the numbers of `texts`; "" where none can, or both.

    >>> decimal_sign(["0,45", "1.234,5", "7"]), decimal_sign(["1,000"]), decimal_sign(["1,000", "0.45"])
    (',', '', '.')
    """
    signs = set()
    for text in texts:
        found = _NUMBER.match(tidy(text))
        whole = found.group().rstrip("'").lower().partition("e")[0].replace("'", "").replace(" ", "") if found else ""
        if _THOUSANDS.fullmatch(whole):
            if whole.count(",") + whole.count(".") > 1:
                signs.add("." if "," in whole else ",")
        elif "," in whole or "." in whole:
            try:
                number(whole)
            except NotAQuantity:
                continue  # 1.2.3 tells nothing
            signs.add(max(",.", key=whole.rfind))
    return signs.pop() if len(signs) == 1 else ""


def quantity(text: str, measure: str, unit: str, decimal: str = "") -> tuple[float, str | None]:
    """Return a cell's number in SI, and the unit that stood in the cell (None: none did, and `unit` was taken).

    measure : key of UNITS; unit : what a bare number is in; decimal : see `number`. Raises NotAQuantity.

    >>> quantity("0.45 uF", "capacity", "uF")
    (4.5e-07, 'uF')
    """
    plain = tidy(text)
    found = _NUMBER.match(plain)
    if not found:
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    figure = found.group().rstrip("'")
    behind = plain[len(figure):].strip()
    value = number(figure, decimal)
    if not behind:
        return value * scale(unit, measure), None
    if not re.match(r"[A-Za-z%/\"1]", behind):
        raise NotAQuantity(f"'{shown(text)}' is not a number")
    return value * scale(behind, measure), behind


def figure(value: float, digits: int) -> str:
    """Return `value` to some significant figures, never in powers of ten where people would not write them.

    >>> figure(0.0000123, 3), figure(123456.0, 3), figure(4.5, 3)
    ('0.0000123', '123456', '4.5')
    """
    text = f"{value:.{digits}g}"
    if "e" in text:
        text = f"{value:.0f}" if abs(value) >= 1.0 else f"{value:.{digits + 6}f}".rstrip("0")
    return text


def ohms(value: float) -> tuple[str, str]:
    """Return a resistance as people say it: the figure, and the unit that suits it.

    >>> ohms(2.2e6), ohms(0.31), ohms(999.9)
    (('2.2', 'Mohm'), ('0.31', 'ohm'), ('1', 'kohm'))
    """
    size, unit = next((pair for pair in ((1e9, "Gohm"), (1e6, "Mohm"), (1e3, "kohm")) if value >= 0.995 * pair[0]), (1.0, "ohm"))
    return f"{float(f'{value / size:.2g}'):g}", unit


def shown(text: str, most: int = 40) -> str:
    """Return `text` fit to be printed: on one line, no control characters, not too long."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    plain = " ".join(plain.split())
    return plain if len(plain) <= most else plain[:most - 3] + "..."
