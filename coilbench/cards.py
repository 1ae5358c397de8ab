"""Coil cards as files: one HTML page and one PDF a coil, a page that lists them, and one that tells how readings are taken.

A card is written beside its place and then put there in one step, so that it is whole or not there; drafts that an interrupted
run left behind are swept away by the next. A file that no such run wrote is never replaced.
"""

from __future__ import annotations

import re
import time
import unicodedata
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from coilbench.card import Card
from coilbench.card_html import MARK, as_html
from coilbench.card_pdf import as_pdf
from coilbench.home import FILE, page
from coilbench.looks import hues
from coilmodel.durable import DRAFT, put

OLD = 60.0  # s: a draft older than this is nobody's any more


def folder_for(sheet: Path) -> Path:
    """Return the folder in which the cards of a sheet go if nobody says otherwise: beside the sheet, by its name."""
    return sheet.with_name(f"{sheet.stem}_cards")


def file_names(coils: Sequence[str]) -> dict[str, str]:
    """Return a file name without ending for each coil: plain letters that every system takes, no two alike.

    >>> file_names(["Alder", "coil 1", "ALDER!", "杉"])
    {'Alder': 'coil-alder', 'coil 1': 'coil-1', 'ALDER!': 'coil-alder-2', '杉': 'coil-card'}
    """
    found: dict[str, str] = {}
    for coil in coils:
        plain = unicodedata.normalize("NFKD", coil).encode("ascii", "ignore").decode().casefold()
        words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-")
        name = f"coil-{words.removeprefix('coil-') or 'card'}"
        number = 1
        while (name if number == 1 else f"{name}-{number}") in found.values():
            number += 1
        found[coil] = name if number == 1 else f"{name}-{number}"
    return found


class Folder:
    """A folder of cards. Raises OSError where it cannot be made or written to."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.mkdir(parents=True, exist_ok=True)
        for draft in path.glob(f"{DRAFT}*"):  # of a run that was interrupted
            try:
                if time.time() - draft.stat().st_mtime > OLD:
                    draft.unlink()
            except OSError:
                continue  # another run was quicker
        self.left_alone: list[Path] = []

    def put(self, name: str, content: bytes) -> Path | None:
        """Put a file of ours in its place; None where something that is not ours stands there."""
        place = self.path / name
        if not put(place, content, MARK):
            self.left_alone.append(place)
            return None
        return place


def write_card(folder: Folder, stem: str, card: Card, source: str) -> list[Path]:
    """Write one coil's card as HTML and PDF, and the page that it links to; return the card's files that were written."""
    home = FILE if folder.put(FILE, page(MARK).encode()) else ""  # beside the card, so that its link holds wherever both go
    written = (folder.put(f"{stem}.html", as_html(card, source, home=home).encode()),
               folder.put(f"{stem}.pdf", as_pdf(card, source)))
    return [path for path in written if path is not None]


def write_list(folder: Folder, cards: Mapping[str, Card], source: str) -> Path | None:
    """Write the page that lists the cards. cards : by the stem of their files."""
    rows = "\n".join(
        f'<tr><th scope="row"><a href="{stem}.html">{escape(card.name)}</a></th>'
        f"<td>{escape(card.cause or card.next_steps[0])}</td>"
        f'<td><a href="{stem}.pdf">PDF<span class="hidden"> of {escape(card.name)}</span></a></td></tr>'
        for stem, card in cards.items())
    colours = hues()["light"]
    listing = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="{MARK}">
<title>Coil cards of {escape(source)}</title>
<style>
body {{ margin: 0 auto; max-width: 60rem; padding: 1rem; font: 1rem/1.5 system-ui, sans-serif; }}
body {{ color: {colours['ink']}; background: {colours['surface']}; }}
h1 {{ font-size: 1.5rem; overflow-wrap: anywhere; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; vertical-align: top; padding: 0.4rem 0.8rem 0.4rem 0; overflow-wrap: anywhere; }}
th, td {{ border-bottom: 1px solid {colours['rule']}; }}
a {{ color: {colours['accent']}; }}
.hidden {{ position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }}
</style>
</head>
<body>
<main>
<h1>Coil cards of {escape(source)}</h1>
<table>
<thead><tr><th scope="col">coil</th><th scope="col">what is likely</th><th scope="col">to print</th></tr></thead>
<tbody>
{rows}
</tbody>
</table>
</main>
</body>
</html>
"""
    return folder.put("index.html", listing.encode())

