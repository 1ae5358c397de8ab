"""Python's bytecode for the page, in place of the text: reading the text took most of the start.

The page's Python is another version than the build's, so the page's own one compiles, in Node. All of the course is compiled,
and of the library what a start loads; the rest stays as it came, for bytecode is the larger. What was made is kept by a digest
of all that it rests on: a build that changed no Python of the page waits for nothing.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from book.making.places import BUILD, BuildError

COMPILER = Path(__file__).with_name("compile_python.mjs")
COURSE, LIBRARY = "course.zip", "python_stdlib.zip"
KEPT = BUILD / "bytecode"
MOST_KEPT = 6  # of 4 MB each


def compiled(course: bytes, runtime: Path, kept: Path = KEPT) -> dict[str, bytes]:
    """Return {COURSE: ..., LIBRARY: ...}, two zips with bytecode (.pyc) where `course` and the library have text.

    `course` is the zip of the course's Python, `runtime` the folder of Python for the browser, which has the library. Raises
    BuildError where Node is absent or a file is no Python.
    """
    digest = hashlib.sha256()
    for content in (course, COMPILER.read_bytes(), *((runtime / name).read_bytes() for name in ("package.json", LIBRARY))):
        digest.update(hashlib.sha256(content).digest())
    place = kept / digest.hexdigest()[:32]
    if not place.is_dir():
        kept.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=kept, prefix="part-") as part:
            _by_node(course, runtime, Path(part))
            try:
                shutil.copytree(part, whole := place.with_suffix(f".{os.getpid()}"))
                whole.rename(place)  # another build at the same time finds the whole of it or nothing
            except OSError:
                shutil.rmtree(whole, ignore_errors=True)
                if not place.is_dir():
                    raise
        for old in sorted((path for path in kept.iterdir() if not path.suffix and not path.name.startswith("part-")),
                          key=lambda path: path.stat().st_mtime, reverse=True)[MOST_KEPT:]:
            shutil.rmtree(old, ignore_errors=True)
    return {name: (place / name).read_bytes() for name in (COURSE, LIBRARY)}


def _by_node(course: bytes, runtime: Path, folder: Path) -> None:
    node = shutil.which("node")
    if node is None:
        raise BuildError("Node.js is not here, so Python for the page cannot be compiled; `python3 course.py book` brings it.")
    with tempfile.TemporaryDirectory() as name:
        given = Path(name) / COURSE
        given.write_bytes(course)
        done = subprocess.run([node, str(COMPILER), str(runtime), str(given), str(folder)], capture_output=True, text=True,
                              check=False, timeout=600)
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.startswith("Error: ")] or ["it said nothing"]
        said = lines[-1].removeprefix("Error: ")[:300]
        raise BuildError(f"Python for the page was not compiled: {said}")
