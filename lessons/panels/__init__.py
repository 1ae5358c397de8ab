"""The panels, each defined once: `PANELS` maps a panel's name to its definition.

To add one, write a module in this folder with a tuple `PANELS` of `Panel` objects (copy cushion.py). It is found by itself:
no list to edit, no drawing code, no JavaScript.
"""

from __future__ import annotations

from lessons.contracts import Panel
from lessons.registry import Registry

PANELS: Registry[Panel] = Registry(__name__, __path__, "PANELS", lambda panel: panel.name)
