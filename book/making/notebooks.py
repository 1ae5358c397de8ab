"""Run the lessons' notebooks for the book, and remember the outcome.

The usual execution cache looks at the cells only, so a changed model would leave yesterday's pictures in the book.
Here the key is the notebook *and* every file of `coilmodel`, `coilbench` and `lessons` that could change what a cell shows.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import os
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from book.making.places import LESSONS, ROOT, BuildError
from coilmodel.compiled import LIGHT
from lessons import surroundings

CELL_TIMEOUT = 300  # seconds for one cell
WIDGET = "application/vnd.jupyter.widget-view+json"
_COUNTS = {".py", ".js", ".css", ".json", ".csv"}


def package_digest(root: Path = ROOT) -> str:
    """Return a digest of all that a cell may import or read: the two packages, the pins, the Python version."""
    digest = hashlib.sha256(sys.version.encode())
    packages = ("coilmodel", "coilbench", "lessons")
    files = [path for package in packages for path in (root / package).rglob("*") if path.suffix in _COUNTS]
    for path in [*sorted(files), root / "requirements.txt", root / "book" / "package-lock.json"]:
        if path.is_file():
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def notebook_key(notebook: Path, packages: str) -> str:
    """Return the name under which the outcome of `notebook`, run with those packages, is remembered."""
    return hashlib.sha256(packages.encode() + notebook.read_bytes()).hexdigest()[:32]


def executed(notebook: Path, cache: Path, packages: str) -> tuple[bytes, bool]:
    """Return the executed notebook as JSON, and whether it was run now (else it came from `cache`).

    Raises BuildError naming notebook, cell and error where a cell fails.
    """
    kept = cache / f"{notebook.stem}.{notebook_key(notebook, packages)}.ipynb"
    if kept.is_file():
        return kept.read_bytes(), False
    content = run_notebook(notebook)
    cache.mkdir(parents=True, exist_ok=True)
    for old in cache.glob(f"{notebook.stem}.*.ipynb"):
        old.unlink()
    kept.write_bytes(content)
    return content, True


def run_notebook(notebook: Path) -> bytes:
    """Run `notebook` in a fresh folder, so that no learner's record beside the lessons is read or written."""
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    node = nbformat.read(notebook, as_version=4)
    with tempfile.TemporaryDirectory() as folder:
        environment = dict(os.environ)
        environment["PYTHONPATH"] = os.pathsep.join([str(ROOT), environment.get("PYTHONPATH", "")]).rstrip(os.pathsep)
        environment["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"
        environment[surroundings.BOOK] = "1"
        environment[LIGHT] = "1"  # as a learner's kernel has it
        environment["COIL_COURSE_RECORD"] = os.path.join(folder, "record.json")  # never a learner's own
        manager = kernel_manager(folder)
        client = NotebookClient(node, km=manager, timeout=CELL_TIMEOUT, resources={"metadata": {"path": folder}})
        try:
            with ThreadPoolExecutor(1) as pool:  # the caller may have an event loop of its own
                pool.submit(asyncio.run, run_once(client, manager, environment)).result()
        except CellExecutionError as error:
            raise BuildError(f"{notebook.name}: a cell fails with {error.ename}: {error.evalue}") from error
        except (CellTimeoutError, DeadKernelError, RuntimeError) as error:
            raise BuildError(f"{notebook.name}: a cell ran more than {CELL_TIMEOUT} s, or its kernel died ({error}).") from error
    return nbformat.writes(for_readers(without_widgets(node))).encode()


async def run_once(client: Any, manager: Any, environment: dict[str, str]) -> None:
    """Run all cells of `client`'s notebook, and end its kernel whatever happens."""
    try:
        await client.async_execute(env=environment)
    finally:
        await manager.shutdown_kernel(now=True)


def kernel_manager(folder: str) -> Any:
    """Return the manager of a kernel that runs in `folder`, with this interpreter and no other.

    A kernel of the same name may be installed elsewhere, without our packages. Where sockets can be files they are: a
    kernel that listens on a port of the machine says so in every build.
    """
    from jupyter_client.kernelspec import KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager

    where = {"transport": "tcp"} if os.name == "nt" else {"transport": "ipc", "ip": os.path.join(folder, "k")}
    return AsyncKernelManager(kernel_name="python3", kernel_spec_manager=KernelSpecManager(kernel_dirs=[]), **where)


def without_widgets(node: Any) -> Any:
    """Take the widget views out of the outputs: they need a kernel; the page shows each cell's HTML instead."""
    node["metadata"].pop("widgets", None)
    for cell in node["cells"]:
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if WIDGET in data and not set(data) - {WIDGET, "text/plain"}:
                raise BuildError(f"A cell shows a widget that has nothing to stand in for it in the book: {_source(cell)}")
            data.pop(WIDGET, None)
    return node


def for_readers(node: Any) -> Any:
    """Fit the cells that show a live element to the page.

    There the element works by itself and there is no kernel for the line that made it, so a line that is folded away in
    the notebook goes altogether. A panel may use the margin too.
    """
    for cell in node["cells"]:
        shown = "".join(str(output.get("data", {}).get("text/html", "")) for output in cell.get("outputs", ()))
        if "<coil-" in shown:
            tags = ["remove-input" if tag == "hide-input" else tag for tag in cell["metadata"].get("tags", [])]
            cell["metadata"]["tags"] = [*tags, *(["full-width"] if "<coil-panel" in shown else [])]
    return node


def _source(cell: Any) -> str:
    text = cell["source"]
    return json.dumps(("".join(text) if isinstance(text, list) else text)[:80])


def lesson_notebooks() -> list[Path]:
    """Return the lessons' notebooks in order."""
    return sorted(LESSONS.glob("[0-9]*.ipynb"))
