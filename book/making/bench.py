"""The bench in the book: how often it is right, and the example's coil cards, also as files beside the pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from book.making.places import BUILD, HTML, BuildError, keep_only, write_if_changed

CARDS = BUILD / "coil_cards"  # they take most of a minute, so they are kept until the model or the sheet changes
LINK = "coil_cards"
MARKER = re.compile(r"^\{\{bench (\w+)\}\}$", re.MULTILINE)


def filled(text: str, where: str) -> str:
    """Return a page's text with each line `{{bench NAME}}` replaced by what it names (see `_piece`)."""
    return MARKER.sub(lambda found: _piece(found[1], where), text)


def _piece(name: str, where: str) -> str:
    from coilbench import home, pages

    def cards() -> str:
        pages.cards_for_book(CARDS)
        return pages.cards_markdown(CARDS, LINK)

    pieces: dict[str, Callable[[], str]] = {
        "calibration": pages.calibration_markdown, "makes": pages.makes_markdown, "cards": cards, "resistor": home.resistor,
        "readings": home.table, "errors": home.all_errors, "at_rest": lambda: home.markdown(home.at_rest()),
        "running": lambda: home.markdown(home.running())}
    if name not in pieces:
        raise BuildError(f"{where}: there is no piece {name!r} of the bench; there are {', '.join(pieces)}.")
    return pieces[name]()


def write(book: Path = HTML) -> Path:
    """Put the cards' own files into the built book at `book`; return the page that lists them."""
    from coilbench import pages

    files = {book / LINK / path.name: path for path in pages.cards_for_book(CARDS) if path.suffix != ".part"}
    for place, path in files.items():
        write_if_changed(place, path.read_bytes())
    keep_only(book / LINK, set(files))
    return book / LINK / "index.html"
