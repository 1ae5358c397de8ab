"""How each reading is taken at home, for the book's page, and as a page that stands beside the cards and needs no book.

What it costs and how far it may be off come from the registry; how it is done from at_home/KEY.md, or, where there is no such
file, from the registry too. Standard library only.
"""

from __future__ import annotations

import math
import re
from html import escape
from pathlib import Path

from coilbench import errors
from coilbench.card import CAUTIONS, anchor
from coilbench.kinds import KINDS, Kind
from coilbench.looks import hues
from coilmodel import Machine

FILE = "readings_at_home.html"
"""The page's name, in the book and beside the cards."""
TEXTS = Path(__file__).with_name("at_home")


def at_rest() -> list[Kind]:
    """Return the readings of a coil at rest."""
    return [kind for kind in KINDS if kind.judged and not kind.running]


def running() -> list[Kind]:
    """Return the readings of a running coil, and what else may stand in a sheet."""
    return sorted((kind for kind in KINDS if kind not in at_rest()), key=lambda kind: (not kind.judged, kind.rank))


def costs(kind: Kind) -> str:
    """Return a reading's minutes and its error in a sentence, "" where it has neither."""
    if not kind.minutes:
        return ""
    error = errors.in_words(kind)
    return f"About {kind.minutes:g} minutes{f'; error {error}' if error else ''}."


def how(kind: Kind) -> str:
    """Return how a reading is taken, as Markdown."""
    text = TEXTS / f"{kind.key}.md"
    if text.is_file():
        return text.read_text(encoding="utf-8").strip()
    return f"{f'*Needs* {kind.needs}. ' if kind.needs else ''}*How*: {kind.how}."


def markdown(kinds: list[Kind]) -> str:
    """Return the parts of the book's page: a heading, what it costs, how it is done, its drawing."""
    parts = []
    for kind in kinds:
        drawing = f"\n\n{{{{drawing {kind.drawing}}}}}" if kind.drawing else ""
        said = costs(kind)
        parts.append(f"### {kind.name}\n\n{f'*{said}*{chr(10)}{chr(10)}' if said else ''}{how(kind)}{drawing}\n")
    return "\n".join(parts)


def table() -> str:
    """Return the readings as the table of the book's page on the sheet."""
    lines = ["| `reading` | usual unit | how it is taken |", "|---|---|---|"]
    for kind in KINDS:
        unit = f" {kind.unit} " if kind.unit else " "
        needs = "; needs `speed_rpm`, or another supply and its `supply_V`" if kind.running else ""
        lines.append(f"| `{kind.name}` |{unit}| {kind.how}{needs} |")
    return "\n".join(lines)


def all_errors() -> str:
    """Return the stated errors of all readings, in a clause."""
    return "; ".join(f"{kind.name} {errors.in_words(kind)}" for kind in KINDS if kind.judged)


# ---------------------------------------------------------------------------------------------- a page of its own
def page(mark: str) -> str:
    """Return the page that stands beside the cards. mark : a word by which the command knows its own files"""
    look = hues()["light"]
    parts = [f"<h2>{title}</h2>\n" + "\n".join(map(_part, kinds))
             for title, kinds in (("Coil at rest", at_rest()), ("Coil running", running()))]
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="{mark}">
<title>Every reading at home</title>
<style>
body {{ margin: 0 auto; max-width: 46rem; padding: 1rem; font: 1rem/1.5 system-ui, sans-serif; overflow-wrap: anywhere; }}
body {{ color: {look['ink']}; background: {look['surface']}; }}
h1 {{ font-size: 1.5rem; }} h2 {{ font-size: 1.25rem; }} h3 {{ font-size: 1.05rem; margin-bottom: 0.2rem; }}
h3:target {{ outline: 2px solid {look['accent']}; outline-offset: 4px; }}
.caution {{ border-left: 4px solid {look['accent']}; padding-left: 0.8rem; font-weight: bold; }}
.costs {{ color: {look['soft']}; margin: 0; }}
</style>
</head>
<body>
<main>
<h1>Every reading at home</h1>
<p class="caution">{escape(CAUTIONS)}</p>
<p>Minutes and errors are our judgement, and so is how it is done where no source stands beside it (common practice, no source).
The course's book has this page with drawings.</p>
<h2>The discharge resistor</h2>
<p>{_spans(resistor())}</p>
{parts[0]}
{parts[1]}
</main>
</body>
</html>
"""


def _part(kind: Kind) -> str:
    said = costs(kind)
    costing = f'<p class="costs">{escape(said)}</p>\n' if said else ""
    return f'<h3 id="{anchor(kind)}">{escape(kind.name)}</h3>\n{costing}<p>{_spans(how(kind))}</p>'


def _spans(text: str) -> str:
    """Return our Markdown's few signs as HTML: bold, emphasis, code; of a link to the book its words."""
    safe = re.sub(r"\[([^\]]+)\]\([^)]*\)", r"\1", escape(text, quote=False))
    for mark, tag in ((r"`", "code"), (r"\*\*", "strong"), (r"\*", "em")):
        safe = re.sub(f"{mark}([^`*]+){mark}", rf"<{tag}>\1</{tag}>", safe)
    return safe


# ------------------------------------------------------------------------------------------- the discharge resistor
RESISTOR, RATED_POWER, RATED_VOLTS = 10e3, 2.0, 500.0  # ohm, W, V: as on the page of cautions; common practice, no source
EMPTY = 1.0  # V: what may be left on a condenser that is called empty


def resistor() -> str:
    """Return what the discharge resistor has to stand, worked out for the nominal condenser at the resistor's own voltage."""
    capacity = Machine().condenser.capacitance
    seconds = RESISTOR * capacity * math.log(RATED_VOLTS / EMPTY)
    energy = 0.5 * capacity * RATED_VOLTS**2
    return (
        f"{RESISTOR / 1e3:g} kilohms, {RATED_POWER:g} W or more, made for {RATED_VOLTS:g} V or more, with insulated leads "
        f"(common practice, no source). Worked out for a condenser of {1e6 * capacity:.2g} uF at {RATED_VOLTS:g} V: it holds "
        f"{1e3 * energy:.2g} mJ; the current begins at {1e3 * RATED_VOLTS / RESISTOR:g} mA and the power at "
        f"{RATED_VOLTS**2 / RESISTOR:g} W, and both are gone with the charge: after {1e3 * seconds:.0f} ms less than {EMPTY:g} V "
        f"is left. The {RATED_POWER:g} W are for the voltage that such a body stands and for a slip onto a supply, not for the "
        "heat of one discharge. Hold it there for some seconds all the same. A bare wire or a screwdriver would draw the whole "
        "charge at once and pit what it touches.\n")
