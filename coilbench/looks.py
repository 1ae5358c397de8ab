"""How the course looks, as data: the one table of hues (hues.json) and the width of a printed figure.

It lies here, beneath the lessons, because the bench's own cards and reports are drawn in the same hues as the face.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).with_name("hues.json")
WIDTH = 7.2
"""Of a figure for print, inches."""


@cache
def hues() -> dict[str, Any]:
    """Return the one table of hues: the two themes, the quantities and the map's cells. Not to be changed by who reads it."""
    table: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
    return table


def hue(quantity: str) -> str:
    """Return the hue of `quantity` (one of contracts.QUANTITIES) on white, as "#RRGGBB"; KeyError for any other."""
    shade: str = hues()["quantities"][quantity]["light"]
    return shade
