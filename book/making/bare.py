"""Bare pages with the book's own live parts and nothing else: for tests and benchmarks that need no building of the book."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from book.making import parts


def write(folder: Path, pages: Iterable[tuple[str, str, bool]]) -> None:
    """Write into `folder` for each of `pages`, (file name, panel, light), a page with that panel; a light one waits for a touch.

    Raises BuildError where the live parts cannot be made.
    """
    files = {f"_static/live/now/{name}": content for name, content in parts.live_files().items()}
    files |= {f"_static/{parts.pyodide_folder()}/{name}": content for name, content in parts.pyodide_files().items()}
    files["_static/course.css"] = parts.style()
    for name, panel, light in pages:
        waits, up = ' data-start="press"' if light else "", "../" * name.count("/")
        files[name] = (
            '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
            f'<title>{panel}</title><link rel="icon" href="data:,"><link rel="stylesheet" href="{up}_static/course.css">'
            f'<body style="background: white; margin: 0"><article><coil-panel name="{panel}"{waits}><p>In words.</p></coil-panel>'
            f'<p>Below.</p></article><script src="{up}_static/live/now/start.js"></script></body></html>').encode()
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
