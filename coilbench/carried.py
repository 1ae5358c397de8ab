"""Files of data that the course's Python reads. A notebook has them all; a page fetches the large ones when first asked for.

Whoever reads one calls `text_of`. Where the file has not come yet, `FileWanted` passes up to the engine, whose reply says so;
the page's worker then fetches the file, puts it where it belongs and asks again (see lessons/engine.py).
"""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

WITH_THE_COURSE = ("lessons/examples/larkfield_twelve.csv",)
"""Files that go into the page together with the course's Python, by their path from the course's folder."""
WHEN_WANTED = ("coilbench/imagined.json", "coilbench/designs.json")
"""Files that the page fetches only when something asks for them."""


class FileWanted(Exception):
    """A file of the course that is not here; `path` is its path from the course's folder."""

    def __init__(self, path: str) -> None:
        super().__init__(f"The file {path} of the course is missing.")
        self.path = path


def text_of(path: str) -> str:
    """Return the text of the course's file at `path`, one of those named above. Raises FileWanted where it is not here."""
    if path not in WITH_THE_COURSE + WHEN_WANTED:
        raise ValueError(f"{path}: no file of data that the course carries.")
    try:
        return (ROOT / path).read_text(encoding="utf-8")
    except OSError:
        raise FileWanted(path) from None
