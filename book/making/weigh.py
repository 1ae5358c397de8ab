"""What a reader's browser has to fetch, in bytes as stored and as a server that compresses would send them."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

from book.making.parts import CARRIED
from coilbench.carried import WHEN_WANTED

_LOADED = re.compile(r'<(?:script|link)\b[^>]*?\b(?:src|href)="([^"#]+)"[^>]*>')
_NOT_LOADED = re.compile(r'rel="(?:canonical|index|search|next|prev|author|copyright|shortcut icon)"')


def weight(paths: list[Path]) -> tuple[int, int]:
    """Return (bytes as stored, bytes gzipped) of the files."""
    contents = [path.read_bytes() for path in paths]
    return sum(map(len, contents)), sum(len(gzip.compress(content, 9)) for content in contents)


def page_files(page: Path) -> list[Path]:
    """Return the page and what its head and foot load. Fonts and pictures, fetched as needed, are not among them."""
    found = {page: None}
    for match in _LOADED.finditer(page.read_text(encoding="utf-8")):
        if not _NOT_LOADED.search(match.group(0)) and ":" not in match.group(1):
            path = (page.parent / match.group(1).split("?")[0]).resolve()
            if path.is_file():
                found[path] = None
    return list(found)


def live_start(html: Path) -> list[Path]:
    """Return what a page from a server fetches, once, to become alive: Python for the browser, the course's Python, the face.

    The pictures made at build are counted as if one page had all panels.
    """
    static = html / "_static"
    later = {CARRIED, *(Path(name).name for name in WHEN_WANTED)}
    return sorted(path for pattern in ("pyodide-*/*", "live/*/*") for path in static.glob(pattern) if path.name not in later)
