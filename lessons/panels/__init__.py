"""The panels, each defined once: `PANELS` maps a panel's name to its definition.

To add one: write a module with a `Panel` (copy cushion.py), and list it here. No drawing code, no JavaScript.
"""

from lessons.contracts import Panel
from lessons.panels import cushion

PANELS: dict[str, Panel] = {panel.name: panel for panel in (cushion.PANEL, cushion.FORCES)}
