"""The one way in which the course writes a file that must be whole or not there: a draft beside it, then one step.

Standard library only.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

DRAFT, PART = ".draft-", ".part"
"""How the names of drafts begin and end: one that an interrupted run left behind is known by them."""


@contextlib.contextmanager
def whole(path: Path) -> Iterator[BinaryIO]:
    """Open a draft of the file at `path` (bytes); left without an error it takes its place, else it is removed.

    Whenever the machine stops, `path` holds either all of what was there or all of the new. Raises OSError.
    """
    draft = path.with_name(f"{DRAFT}{secrets.token_hex(4)}-{path.name[-100:]}{PART}")
    try:
        with open(draft, "xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    with contextlib.suppress(OSError):  # not every system lets a folder be opened; there the rename has to do
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` so that the file is there whole or not at all, whatever happens meanwhile. Raises OSError."""
    with whole(path) as file:
        file.write(content)


def put(path: Path, content: bytes, mark: str) -> bool:
    """Write a file of ours, unless something that is not ours is there: then leave that and return False.

    path, content : where, and the bytes; mark : stands in every file that this command writes there (an empty file, which holds
    nothing to lose, counts as ours)
    """
    if path.is_symlink() or path.exists() and not _ours(path, mark):
        return False
    write_whole(path, content)
    return True


def _ours(path: Path, mark: str) -> bool:
    if not path.is_file():
        return False
    content = path.read_bytes()
    return not content or mark.encode() in content
