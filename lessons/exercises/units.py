"""Units that a learner may give a number in, and how they convert.

>>> convert(5.1, "A", "mA")
5100.0
>>> convert(5.1, "A", "V") is None
True
"""

from __future__ import annotations

import math

# One row a dimension; each factor turns a number in that unit into the row's first unit with factor 1.
_DIMENSIONS: tuple[dict[str, float], ...] = (
    {"A": 1.0, "mA": 1e-3, "uA": 1e-6},
    {"V": 1.0, "kV": 1e3, "mV": 1e-3},
    {"s": 1.0, "ms": 1e-3, "us": 1e-6},
    {"m": 1.0, "mm": 1e-3, "um": 1e-6},
    {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12},
    {"J": 1.0, "mJ": 1e-3, "uJ": 1e-6},
    {"N": 1.0, "mN": 1e-3},
    {"kg": 1.0, "g": 1e-3},
    {"N/m": 1.0, "N/mm": 1e3},
    {"m/s": 1.0, "mm/s": 1e-3, "mm/ms": 1.0},
    {"H": 1.0, "mH": 1e-3, "uH": 1e-6},
    {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6, "mohm": 1e-3},
    {"Hz": 1.0, "kHz": 1e3},
    {"W": 1.0, "mW": 1e-3},
    {"degrees": 1.0, "rad": 180.0 / math.pi},
    {"rpm": 1.0},
    {"1": 1.0, "percent": 0.01},
)

_ALIASES = {
    "": "1", "%": "percent", "°": "degrees", "deg": "degrees", "degree": "degrees", "radians": "rad",
    "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "volt": "V", "volts": "V",
    "sec": "s", "second": "s", "seconds": "s", "msec": "ms", "usec": "us",
    "newton": "N", "newtons": "N", "joule": "J", "joules": "J", "ohms": "ohm",
    "Ω": "ohm", "kΩ": "kohm", "MΩ": "Mohm", "mΩ": "mohm",
}


def known(text: str) -> str | None:
    """Return the plain name of a unit as people write it ("µF", "°", "amps"), or None if it is none of ours."""
    name = text.strip().replace("µ", "u").replace("μ", "u").replace("Ω", "Ω")
    name = _ALIASES.get(name, name)
    return name if any(name in row for row in _DIMENSIONS) else None


def convert(value: float, unit: str, into: str) -> float | None:
    """Return `value` of `unit` in the unit `into`; None where the two measure different things."""
    for row in _DIMENSIONS:
        if unit in row and into in row:
            return value * (row[unit] / row[into])
    return None
