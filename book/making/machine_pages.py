"""The page of the nominal machine, which the model writes itself."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

_PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
_TABLE = re.compile(r"(?:^\|.*\n)+", re.MULTILINE)
_PREFIXED = {"H", "F", "m", "Wb", "ohm", "V", "A"}  # units of one word that people prefix


# ------------------------------------------------------------------------------------------ the nominal machine
def nominal_page() -> str:
    """Return the page of the nominal machine: each number with its unit and origin, and how well it shows what was sought."""
    from coilmodel import search
    from coilmodel.machine import Machine

    found = search.nominal()
    lines = [
        "# The nominal machine", "",
        "The machine that every panel starts from is no real maker's. Its windings and magneto have workable values of the "
        "trade; its springs, gaps and dampings, which nobody publishes, were found by a search that can be repeated "
        "(`python -m coilmodel.search`): it looked for a machine that shows what such coils are seen to do.", "",
        "## What the search sought, and how well the machine shows it", "",
        "1 is wholly, 0 not at all.", "", "| sought | weight | mark |", "|---|---|---|",
    ]
    for target in search.TARGETS:
        name = target.mark.__name__
        sought = _cell((target.mark.__doc__ or name).splitlines()[0])
        lines.append(f"| {sought} | {target.weight:g} | {found['marks'][name]:.2f} |")
    lines += ["", "## Every number", "", "| part | what | value | where it comes from |", "|---|---|---|---|"]
    machine = Machine()
    for part in dataclasses.fields(machine):
        for item in dataclasses.fields(getattr(machine, part.name)):
            about = item.metadata
            value = quantity(getattr(getattr(machine, part.name), item.name), about.get("unit", "1"))
            meaning, origin = _cell(about.get("meaning", item.name)), _cell(about.get("origin", ""))
            lines.append(f"| {part.name.replace('_', ' ')} | {meaning} | {value} | {origin} |")
    return wide_tables("\n".join(lines) + "\n")


def wide_tables(text: str) -> str:
    """Let every table of a page use the margin beside it too."""
    return _TABLE.sub(r":::{div} full-width dense\n\g<0>:::\n", text)


def quantity(value: Any, unit: str) -> str:
    """Return a value as people write it: 2.6e-3 H is "2.6 mH"."""
    if not isinstance(value, float):
        return str(value)
    if unit == "kg":
        return f"{1e3 * value:.4g} g"
    if unit not in _PREFIXED or value == 0.0:
        return f"{value:.4g}" if unit == "1" else f"{value:.4g} {unit}"
    size, prefix = next(((size, prefix) for size, prefix in _PREFIXES if abs(value) >= 0.9995 * size), _PREFIXES[-1])
    return f"{value / size:.4g} {prefix}{unit}"


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")
