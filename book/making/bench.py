"""The bench in the book: how often it is right, and the example's coil cards, also as files beside the pages."""

from __future__ import annotations

import re
from pathlib import Path

from book.making.places import BUILD, HTML, BuildError, keep_only, write_if_changed

CARDS = BUILD / "coil_cards"  # they take most of a minute, so they are kept until the model or the sheet changes
LINK = "coil_cards"
MARKER = re.compile(r"^\{\{bench (\w+)\}\}$", re.MULTILINE)


def filled(text: str, where: str) -> str:
    """Return a page's text with each line `{{bench NAME}}` replaced by what it names: calibration, makes, cards or resistor."""
    return MARKER.sub(lambda found: _piece(found[1], where), text)


def _piece(name: str, where: str) -> str:
    from coilbench import pages

    if name == "calibration":
        return pages.calibration_markdown()
    if name == "makes":
        return pages.makes_markdown()
    if name == "cards":
        pages.cards_for_book(CARDS)
        return pages.cards_markdown(CARDS, LINK)
    if name == "resistor":
        return pages.resistor_markdown()
    raise BuildError(f"{where}: there is no piece {name!r} of the bench; there are calibration, makes, cards and resistor.")


def write(book: Path = HTML) -> Path:
    """Put the cards' own files into the built book at `book`; return the page that lists them."""
    from coilbench import pages

    files = {book / LINK / path.name: path for path in pages.cards_for_book(CARDS) if path.suffix != ".part"}
    for place, path in files.items():
        write_if_changed(place, path.read_bytes())
    keep_only(book / LINK, set(files))
    return book / LINK / "index.html"
