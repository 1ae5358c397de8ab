"""The course's drawings: schematic, its own, made from the machine's parts and numbers as outlines of named parts.

Each is a panel like any other (its picture holds a `Drawing`); where a slider turns or winds something, the drawing follows.
Geometry is plain data, made here; the face draws it, lights a part up when it is named, and names it when it is touched.
"""

from __future__ import annotations

from lessons.panels.drawings import box, bridge, coil_section, flywheel, timer

PANELS = (box.PANEL, flywheel.PANEL, coil_section.PANEL, bridge.PANEL, timer.PANEL)
