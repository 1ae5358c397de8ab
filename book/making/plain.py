"""Which Python files the reader's browser needs, and one zip of them.

The rule: `lessons.engine`, every panel and every exercise, and whatever of `coilmodel`, `coilbench` and `lessons` they import,
at the top of a file or inside a function. Nothing else. It is checked by running the engine out of the zip in a
separate interpreter that sees the standard library and nothing more: what passes there needs no numpy in the page. Its kernel
is called as the page's is, from outside (here: from the build, which has it compiled); as plain Python it would take a minute.
"""

from __future__ import annotations

import ast
import io
import json
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

from book.making.places import ROOT, BuildError
from coilbench.carried import WHEN_WANTED, WITH_THE_COURSE

ENTRY = "lessons.engine"
GATHERED = ("lessons.panels", "lessons.exercises")  # all of these go, however they are found at run time
OURS = ("coilmodel", "coilbench", "lessons")

# What it says on its standard output: for each call of the kernel a line [name, [floats in each buffer]] and the buffers, which
# come back filled the same way on its standard input; at the end the numbers of panels and exercises.
_TRY_ENGINE = """
import json, sys, types
from array import array
sys.path.insert(0, sys.argv[1])
says, hears, sys.stdout = sys.stdout.buffer, sys.stdin.buffer, sys.stderr

def call(name, *given):
    says.write(json.dumps([name, list(map(len, given))]).encode() + b"\\n")
    for one in given:
        says.write(one.tobytes())
    says.flush()
    for one in given:
        one[:] = array("d", hears.read(8 * len(one)))

names = sys.argv[2:]
if names:
    sys.modules["page_kernel"] = kernel = types.ModuleType("page_kernel")
    kernel.call, kernel.names = call, names
from lessons.engine import Engine
from lessons.exercises import EXERCISES
from lessons.panels import PANELS
engine = Engine()
requests = [{"do": "progress"}]
requests += [{"do": "panel", "name": name} for name in PANELS]
requests += [{"do": "exercise", "key": key} for key in EXERCISES]
for request in requests:
    text, _ = engine.handle_json(json.dumps(request))
    reply = json.loads(text)
    if "error" in reply:
        raise SystemExit(f"{request}: {reply['error']}")
says.write(json.dumps([len(PANELS), len(EXERCISES)]).encode())
"""


def module_file(name: str, root: Path = ROOT) -> Path | None:
    """Return the file of module `name` under `root`, or None where there is no such module."""
    base = root.joinpath(*name.split("."))
    for path in (base / "__init__.py", base.with_suffix(".py")):
        if path.is_file():
            return path
    return None


def imported_names(path: Path, module: str) -> Iterator[str]:
    """Yield the dotted names that `path` (module `module`) imports, at any depth; `from a import b` yields a and a.b."""
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"), str(path))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = package.split(".")
                base = ".".join(parents[: len(parents) - node.level + 1] + ([base] if base else []))
            yield base
            yield from (f"{base}.{alias.name}" for alias in node.names)


def with_packages(name: str) -> list[str]:
    """Return `name` and the packages around it: importing a.b.c runs a and a.b first."""
    parts = name.split(".")
    return [".".join(parts[:count]) for count in range(1, len(parts) + 1)]


def plain_modules(root: Path = ROOT) -> dict[str, Path]:
    """Return {module name: file} of all that the engine may import in the page, sorted by name."""
    waiting = with_packages(ENTRY)
    for package in GATHERED:
        folder = root.joinpath(*package.split("."))
        waiting += [package, *(".".join([package, *path.relative_to(folder).with_suffix("").parts])
                               for path in sorted(folder.rglob("*.py")) if path.stem != "__init__")]
    found: dict[str, Path] = {}
    while waiting:
        name = waiting.pop()
        if name in found or name.split(".")[0] not in OURS:
            continue
        path = module_file(name, root)
        if path is None:  # `from package import thing` where the thing is no module
            continue
        found[name] = path
        for imported in imported_names(path, name):
            waiting += with_packages(imported)
    if ENTRY not in found:
        raise BuildError(f"{ENTRY} was not found under {root}; the book's pages need it.")
    return dict(sorted(found.items()))


def zip_of(modules: dict[str, Path], root: Path = ROOT) -> bytes:
    """Return a zip of the files, the same bytes for the same content: fixed order, date and mode.

    The small files of data go with them.
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        data = [path for path in (root / name for name in WITH_THE_COURSE) if path.is_file()]
        for path in sorted([*modules.values(), *data]):
            entry = zipfile.ZipInfo(path.relative_to(root).as_posix(), date_time=(1980, 1, 1, 0, 0, 0))
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, path.read_bytes())
    return buffer.getvalue()


def fetched_when_wanted() -> dict[str, bytes]:
    """Return {file name: content} of the files of data that a page fetches only when something asks for them."""
    return {(ROOT / name).name: (ROOT / name).read_bytes() for name in WHEN_WANTED}


def check_plain(zip_path: Path) -> tuple[int, int]:
    """Run every panel and exercise once out of `zip_path`, with the standard library alone; return their numbers.

    As the page's worker does, unpack it, and put what it would fetch in its place. Raises BuildError with the last line of the
    failure where a file is missing from the zip or needs more.
    """
    with tempfile.TemporaryDirectory() as folder:
        with zipfile.ZipFile(zip_path) as archive:
            archive.extractall(folder)
        for name in WHEN_WANTED:
            place = Path(folder) / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes((ROOT / name).read_bytes())
        kernel = _compiled()
        with (tempfile.TemporaryFile() as said, subprocess.Popen(
                [sys.executable, "-I", "-S", "-c", _TRY_ENGINE, folder, *kernel], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                stderr=said) as run):
            assert run.stdin
            assert run.stdout
            try:
                last = _served(run.stdout, run.stdin, kernel)
            except OSError:  # it ended amid a call; why, it says
                last = b""
            status = run.wait(timeout=60)
            said.seek(0)
            lines = said.read().decode(errors="replace").strip().splitlines() or ["it said nothing"]
    if status or not last:
        raise BuildError(f"The engine does not run in the page, where there is only the standard library: {lines[-1]}")
    panels, exercises = json.loads(last)
    return panels, exercises


def _compiled() -> dict[str, Callable[..., Any]]:
    """Return the functions that a page has compiled, by name, as they are compiled here; none where there is no compiler."""
    from coilmodel import compiled
    from coilmodel.translate.page import ROOTS

    return {one.__name__: compiled.fastest(one) for one in ROOTS} if compiled.HOME in ("numba", "LLVM") else {}


def _served(says: IO[bytes], hears: IO[bytes], functions: dict[str, Callable[..., Any]]) -> bytes:
    """Answer the calls that come from `says`, until there are no more; return the line that is none."""
    from coilmodel.compiled import buffer

    while (line := says.readline()).endswith(b"\n"):
        name, sizes = json.loads(line)
        given = [buffer(size) for size in sizes]
        for one in given:
            memoryview(one).cast("B")[:] = says.read(8 * len(one))
        functions[name](tuple(given[0]), *given[1:])  # the kernel's parameters are a tuple to a compiler, and only read
        for one in given:
            hears.write(memoryview(one).cast("B"))
        hears.flush()
    return line
