"""The sources of the book's own pages: a line `{{panel name}}` becomes that panel, with its picture inside.

A line `{{bench name}}` becomes a piece of the bench (see bench.py), `{{drawing name}}` a drawing of the page on readings at home.
"""

from __future__ import annotations

import re
from pathlib import Path

from book.making import bench, home_drawings
from book.making.places import BuildError

_PANEL = re.compile(r"^\{\{panel (\w+)\}\}$", re.MULTILINE)


def source(path: Path) -> bytes:
    """Return what the page or picture at `path` holds, its panels in place. BuildError names a panel that there is not."""
    if path.suffix != ".md":
        return path.read_bytes()
    text = home_drawings.filled(bench.filled(path.read_text(encoding="utf-8"), path.name), path.name)
    return _PANEL.sub(lambda found: _panel(found[1], path), text).encode()


def _panel(name: str, path: Path) -> str:
    from lessons.face import standin
    from lessons.panels import PANELS

    if name not in PANELS:
        raise BuildError(f"{path.name}: there is no panel {name!r}; there are {', '.join(PANELS)}.")
    element = standin.panel_html(PANELS[name])
    # Such a page is to stay light: its model waits for a touch (see live/start.js). The contact set is seen first, moving.
    return f"```{{raw}} html\n{element.replace('<coil-panel ', '<coil-panel data-start=press moving ', 1)}\n```"
