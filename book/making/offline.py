"""What makes the finished book something to install and to use without a network: its service worker, manifest and icons.

All three lie at the book's root, for a service worker answers only for what lies below it. Written last: the worker carries a
digest of every file that it keeps, so that any change of the book is another edition (book/live/service-worker.js says how that
is used).
"""

from __future__ import annotations

import hashlib
import io
import json
from pathlib import Path, PurePosixPath

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from book.making.parts import CARRIED
from book.making.places import HTML, LIVE, write_if_changed

WORKER, MANIFEST = "service-worker.js", "manifest.webmanifest"
TITLE, SHORT = "Vibrating-coil ignition", "Coil course"
GROUND, FRAME, SPARK = "#0b3c5d", "#c9d9e6", "#f0a844"  # those of pages/favicon.svg
ICON_SIZES = (192, 512)
_LIVE = ("_static/pyodide-", "_static/live/")
# Not for a visitor who is cut off: what only a debugger or another book's index asks for, old fonts, other tongues.
_NOT_KEPT = {".map", ".ttf", ".inv", ".buildinfo", ".doctree"}
_NOT_KEPT_IN = ("_static/locales/",)

Listed = dict[str, tuple[str, int]]


def _is_kept(name: str) -> bool:
    """Say whether a browser keeps the file with this path in the book."""
    path = PurePosixPath(name)
    if path.name in (WORKER, CARRIED) or path.name.startswith(".") or path.suffix in _NOT_KEPT:
        return False
    return not (name.startswith(_NOT_KEPT_IN) or (name.startswith("_sources/") and path.suffix == ".md"))


def kept_files(book: Path = HTML) -> dict[str, Listed]:
    """Return {"reading" or "live": {path in the book: (digest, bytes)}}: all that a browser keeps of the book at `book`.

    The part of the start that every page runs belongs to the reading; the rest of what makes panels alive is "live".
    """
    parts: dict[str, Listed] = {"reading": {}, "live": {}}
    for path in sorted(book.rglob("*")):
        name = path.relative_to(book).as_posix()
        if not (path.is_file() and _is_kept(name)):
            continue
        content = path.read_bytes()
        live = name.startswith(_LIVE) and path.name not in ("start.js", "offline.js")
        parts["live" if live else "reading"][name] = (hashlib.sha256(content).hexdigest()[:20], len(content))
    return parts


def manifest() -> bytes:
    """Return the web manifest; its addresses are relative, so the book may lie below a sub-path."""
    icons = [{"src": f"icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png", "purpose": "any maskable"}
             for size in ICON_SIZES]
    about = {
        "name": TITLE, "short_name": SHORT, "description": "Why a coil that buzzes on the bench misfires in the car",
        "id": "./index.html", "start_url": "./index.html", "scope": "./", "display": "standalone", "lang": "en",
        "background_color": "#ffffff", "theme_color": GROUND, "icons": icons,
    }
    return json.dumps(about, indent=1).encode()


def icon(size: int) -> bytes:
    """Return the book's icon as a square PNG of `size` pixels: a spark ladder, inside the part that no launcher cuts off."""
    figure = Figure(figsize=(1.0, 1.0), dpi=size, facecolor=GROUND)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(-4.0, 36.0), ylim=(36.0, -4.0))
    axes.set_axis_off()
    axes.plot([9, 9, 27], [5, 27, 27], color=FRAME, linewidth=4.0, solid_capstyle="butt", solid_joinstyle="miter")
    for height in (9, 16, 23):
        axes.add_patch(Circle((17, height), 2.6, color=SPARK))
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", metadata={"Software": None})
    return buffer.getvalue()


def worker(files: dict[str, Listed]) -> bytes:
    """Return the service worker for the edition that these files make."""
    code = (LIVE / WORKER).read_text(encoding="utf-8")
    listed = json.dumps(files, separators=(",", ":"), sort_keys=True)
    edition = hashlib.sha256((listed + code).encode()).hexdigest()[:12]
    return f"const EDITION = {json.dumps(edition)};\nconst FILES = {listed};\n\n{code}".encode()


def write(book: Path = HTML) -> dict[str, int]:
    """Write manifest, icons and service worker into the finished book; return the bytes kept of each part."""
    made = {MANIFEST: manifest(), **{f"icon-{size}.png": icon(size) for size in ICON_SIZES}}
    for name, content in made.items():
        write_if_changed(book / name, content)
    files = kept_files(book)
    write_if_changed(book / WORKER, worker(files))
    return {part: sum(size for _, size in listed.values()) for part, listed in files.items()}
