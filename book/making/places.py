"""Where the book's build reads and writes. Everything that it makes lies under book/_build, which git ignores."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BOOK = ROOT / "book"
LESSONS = ROOT / "lessons"
LIVE = BOOK / "live"
PAGES = BOOK / "pages"
NODE_MODULES = BOOK / "node_modules"

BUILD = BOOK / "_build"
SOURCE = BUILD / "source"  # what the book tool reads: pages, and notebooks with their outputs
STATIC = BUILD / "static"  # what is served beside the pages
EXECUTED = BUILD / "executed"  # the cache of executed notebooks
HTML = BUILD / "html"


class BuildError(Exception):
    """The book cannot be built; the message is one sentence that says what to do."""


@contextlib.contextmanager
def one_at_a_time(say: Callable[[str], None]) -> Iterator[None]:
    """Let one build at a time write to `BUILD`: a second one waits. Where the system has no such lock there is none."""
    try:
        import fcntl
    except ImportError:  # Windows
        yield
        return
    BUILD.mkdir(parents=True, exist_ok=True)
    with (BUILD / "lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            say("Another build of the book is running; waiting for it")
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def write_if_changed(path: Path, content: bytes) -> bool:
    """Write `content` to `path` unless it holds just that; return whether it was written.

    The book tool decides by time stamps what to make anew, so a file that did not change must not be touched.
    """
    if path.is_file() and path.read_bytes() == content:
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return True


def keep_only(folder: Path, wanted: set[Path]) -> None:
    """Remove every file under `folder` that is not in `wanted`, and the folders left empty."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir():
            if not any(path.iterdir()):
                path.rmdir()
        elif path not in wanted:
            path.unlink()
