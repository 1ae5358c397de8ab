"""The panels, each defined once: `PANELS` maps a panel's name to its definition.

To add one, write a module in this folder with a tuple `PANELS` of `Panel` objects (copy cushion.py). It is found by itself:
no list to edit, no drawing code, no JavaScript.
"""

from __future__ import annotations

import importlib
import pkgutil

from lessons.contracts import Panel


def _by_name() -> dict[str, Panel]:
    found: dict[str, Panel] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        for panel in getattr(importlib.import_module(f"{__name__}.{module.name}"), "PANELS", ()):
            if panel.name in found:
                raise ValueError(f"Two panels have the name {panel.name}.")
            found[panel.name] = panel
    return found


PANELS: dict[str, Panel] = _by_name()
