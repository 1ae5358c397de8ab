"""Put the face together: one self-contained ES module (uPlot, style sheet and hues inside) and the page's small style sheet.

The modules of this folder are plain ES2022 and import one another by name. Joined in the order of their imports, with the
import and export words taken off, they are one module that a notebook or a page can load without asking for anything else.
"""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

from coilbench.looks import hues

HERE = Path(__file__).parent
NPM = HERE.parents[1] / "book" / "node_modules"
MODULES = (
    "dom.js", "clock.js", "draw_plot.js", "strips.js", "draw_ladder.js", "filling.js", "draw_map.js", "draw_bars.js", "flow.js",
    "moments.js", "draw_scene.js", "draw_drawing.js", "figures.js", "listen.js", "desk.js", "base.js", "compare.js",
    "controls.js", "lines.js", "panel.js", "exercise.js", "progress.js", "sheet.js", "elements.js",
)
"""In the order in which they need one another."""

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./[\w.]+";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const|let)\b)", re.MULTILINE)


def _uplot(name: str) -> str:
    path = NPM / "uplot" / name
    if not path.is_file():
        raise FileNotFoundError(f"{path} is missing; `python3 course.py learn` fetches it, and so does `npm ci` in book/.")
    return path.read_text(encoding="utf-8")


def _theme_rules() -> str:
    """The hues as custom properties, so that the style sheet names roles and never a colour."""
    table = hues()
    rules = []
    for theme in ("light", "dark"):
        names = {**table[theme], **{name: pair[theme] for name, pair in table["quantities"].items()}}
        rules.append(f'[data-theme="{theme}"] {{ ' + " ".join(f"--{name}: {hue};" for name, hue in names.items()) + " }")
    return "\n".join(rules)


@cache
def shadow_style() -> str:
    """Return the style sheet of the elements' shadow roots: uPlot's, the hues, and the face's own."""
    return "\n".join((_uplot("dist/uPlot.min.css"), _theme_rules(), (HERE / "face.css").read_text(encoding="utf-8")))


def style_text() -> str:
    """Return the style sheet for the page around the elements; it only dresses the fallback inside them.

    The live elements bring their own style with the module and are not touched by the page's.
    """
    return (HERE / "fallback.css").read_text(encoding="utf-8")


@cache
def module_text() -> str:
    """Return the whole face as one ES module: exports `connect` and, for anywidget, the default `{ render }`.

    Raises FileNotFoundError, saying how to fetch it, where uPlot is not there.
    """
    parts = [
        "/* uPlot, in this file:\n" + _uplot("LICENSE").strip() + "\n*/",
        _uplot("dist/uPlot.iife.min.js").strip(),
        f"const HUES = {json.dumps(hues())};",
        f"const STYLE = {json.dumps(shadow_style())};",
    ]
    for name in MODULES:
        text = _IMPORT.sub("", (HERE / name).read_text(encoding="utf-8"))
        parts.append(f"// ---- {name}\n" + _EXPORT.sub("", text).strip())
    return "\n\n".join(parts) + "\n"
