"""The layers: book -> lessons -> coilbench -> coilmodel, and a plain core of the standard library only.

The plain core also runs in the reader's browser, where there is no numpy: one careless import and every page is dead,
while all native tests still pass. So every module of coilmodel, coilbench and lessons is plain unless it is listed here.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

LAYERS = {"coilmodel": {"coilmodel"}, "coilbench": {"coilbench", "coilmodel"}, "lessons": {"lessons", "coilbench", "coilmodel"}}
"""What a package may import of ours."""

NOT_PLAIN = {
    "coilmodel.search", "coilmodel.proof",  # searches and proofs, on numpy and joblib
    "lessons.captured", "lessons.capture_picture",  # what reads a capture, and draws it
    "lessons.face", "lessons.cells",  # the widget, the matplotlib stand-in, and their one-liners for notebook cells
    "coilmodel.light",  # the kernel compiled by LLVM, on llvmlite
    "coilmodel.study",  # tolerance studies, on numpy, scipy and joblib
    # Of the bench what imagines coils by the thousand and judges by them; what a sheet is and what a card says is plain.
    "coilbench.__main__", "coilbench.card_html", "coilbench.card_pdf", "coilbench.cards",
    "coilbench.imagine", "coilbench.kept_runs", "coilbench.larkfield", "coilbench.pages", "coilbench.predict",
    "coilbench.trial", "coilbench.fill_store", "coilbench.designs", "coilbench.fill_designs", "coilbench.makes_trial",
    "coilbench.capture", "coilbench.four", "coilbench.four_make", "coilbench.four_report",
    "coilbench.four_example", "coilbench.four_trial", "coilbench.study", "coilbench.study_report", "coilbench.results_page",
}  # fmt: skip
"""Modules (with all beneath them) that may import installed packages, and that no plain module may import."""

GUARDED = {"coilmodel.compiled"}
"""Plain modules that try numba and numpy, and do without them where they are absent."""


def module_name(path: Path, root: Path) -> str:
    """Return the dotted name of a file under `root`."""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(tree: ast.AST, name: str, package: bool) -> Iterator[tuple[str, int]]:
    """Yield (dotted name, line) of everything that a module imports, wherever in its text; relative names are resolved.

    `from a import b` yields a.b, since b may be a module.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = name.split(".") if package else name.split(".")[:-1]
                base = ".".join([*above[: len(above) - node.level + 1], *([base] if base else [])])
            yield from ((f"{base}.{alias.name}", node.lineno) for alias in node.names)


def without_guarded_imports(tree: ast.Module) -> ast.Module:
    """Return the module less its `try` blocks that are followed by `except ImportError`."""

    def guarded(node: ast.stmt) -> bool:
        return isinstance(node, ast.Try) and any(
            isinstance(handler.type, ast.Name) and handler.type.id == "ImportError" for handler in node.handlers
        )

    return ast.Module([node for node in tree.body if not guarded(node)], [])


def within(name: str, modules: set[str]) -> bool:
    """Say whether `name` is one of `modules` or lies beneath one."""
    return any(name == module or name.startswith(module + ".") for module in modules)


def breaches(root: Path) -> list[str]:
    """Return one sentence for each import under `root` that crosses the layers."""
    found = []
    for path in sorted(path for package in LAYERS for path in (root / package).rglob("*.py")):
        name = module_name(path, root)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        if name in GUARDED:
            tree = without_guarded_imports(tree)
        for target, line in imported(tree, name, path.name == "__init__.py"):
            where = f"{path.relative_to(root)}:{line}"
            top = target.split(".")[0]
            if top in ("coilmodel", "coilbench", "lessons", "book", "tests", "benchmarks", "course"):
                if top not in LAYERS[name.split(".")[0]]:
                    found.append(f"{where}: {name} may not import {target}: arrows go book -> lessons -> coilbench -> coilmodel.")
                elif not within(name, NOT_PLAIN) and within(target, NOT_PLAIN):
                    found.append(f"{where}: {name} is plain and may not import {target}, which is not.")
            elif not within(name, NOT_PLAIN) and top not in sys.stdlib_module_names:
                found.append(f"{where}: {name} is plain and may not import {top}: the browser has the standard library only.")
    return found


def test_the_layers_hold() -> None:
    assert not breaches(ROOT), "\n".join(breaches(ROOT))


def needless(root: Path, listed: set[str]) -> list[str]:
    """Return the entries of `listed` that are plain, with all that lies beneath them, or that there are not."""
    needs: set[str] = set()
    for path in (path for package in LAYERS for path in (root / package).rglob("*.py")):
        name = module_name(path, root)
        for target, _ in imported(ast.parse(path.read_text(encoding="utf-8")), name, path.name == "__init__.py"):
            ours = target.split(".")[0] in LAYERS
            if within(target, listed) if ours else target.split(".")[0] not in sys.stdlib_module_names:
                needs |= {one for one in listed if within(name, {one}) and not within(target, {one})}
    return sorted(listed - needs)


def test_no_module_is_called_not_plain_that_is(tmp_path: Path) -> None:
    assert needless(ROOT, NOT_PLAIN) == []
    (tmp_path / "coilmodel").mkdir()
    (tmp_path / "coilmodel" / "a.py").write_text("import math\nimport coilmodel.c")
    (tmp_path / "coilmodel" / "b.py").write_text("import numpy")
    assert needless(tmp_path, {"coilmodel.a", "coilmodel.b", "coilmodel.gone"}) == ["coilmodel.a", "coilmodel.gone"]


def circles(root: Path) -> list[str]:
    """Return each circle of modules that import one another, wherever in their text, as its names."""
    of: dict[str, set[str]] = {}
    names = {module_name(path, root): path for package in LAYERS for path in (root / package).rglob("*.py")}
    for name, path in names.items():
        for target, _ in imported(ast.parse(path.read_text(encoding="utf-8")), name, path.name == "__init__.py"):
            reached = target if target in names else target.rpartition(".")[0]
            # A package that gathers what lies beneath it is met on the way to each of these, and is no circle.
            if reached in names and reached != name and not name.startswith(reached + ".") and not reached.startswith(name + "."):
                of.setdefault(name, set()).add(reached)
    found: set[tuple[str, ...]] = set()

    def walk(way: list[str], done: set[str]) -> None:
        for other in sorted(of.get(way[-1], ())):
            if other in way:
                circle = way[way.index(other):]
                first = circle.index(min(circle))
                found.add((*circle[first:], *circle[:first]))
            elif other not in done:
                walk([*way, other], done)
        done.add(way[-1])

    done: set[str] = set()
    for name in sorted(of):
        if name not in done:
            walk([name], done)
    return [" -> ".join(circle) for circle in sorted(found)]


def test_no_modules_import_one_another(tmp_path: Path) -> None:
    assert circles(ROOT) == []
    (tmp_path / "coilmodel").mkdir()
    for name, text in (("a", "from coilmodel import b"), ("b", "def f():\n    from coilmodel.c import g"),
                       ("c", "import coilmodel.a"), ("d", "import coilmodel.a")):
        (tmp_path / "coilmodel" / f"{name}.py").write_text(text)
    assert circles(tmp_path) == ["coilmodel.a -> coilmodel.b -> coilmodel.c"]


@pytest.mark.parametrize(
    ("path", "text", "complaint"),
    [
        ("coilmodel/run.py", "import math\nimport lessons.engine", "may not import lessons.engine"),
        ("coilbench/four.py", "from lessons.panels import car", "may not import lessons.panels.car"),
        ("coilmodel/run.py", "from coilbench import stored", "may not import coilbench.stored"),
        ("coilmodel/search.py", "from book import build", "may not import book.build"),
        ("lessons/engine.py", "from book.making import parts", "may not import book.making.parts"),
        ("lessons/face/widget.py", "import book", "may not import book"),
        ("coilmodel/run.py", "def f():\n    import numpy as np", "may not import numpy"),
        ("coilmodel/run.py", "from scipy.signal import find_peaks", "may not import scipy"),
        ("coilmodel/run.py", "from coilmodel.search import grid", "may not import coilmodel.search.grid"),
        ("coilmodel/run.py", "from coilmodel import search", "may not import coilmodel.search"),
        ("coilmodel/run.py", "from . import search", "may not import coilmodel.search"),
        ("coilmodel/run.py", "try:\n    import numba\nexcept ImportError:\n    pass", "may not import numba"),
        ("coilmodel/compiled.py", "import numba", "may not import numba"),
        ("lessons/panels/strip.py", "from ..face import widget", "may not import lessons.face.widget"),
        ("lessons/panels/__init__.py", "from ..face.widget import panel", "may not import lessons.face.widget.panel"),
    ],
)
def test_the_check_finds_a_planted_breach(path: str, text: str, complaint: str, tmp_path: Path) -> None:
    (tmp_path / path).parent.mkdir(parents=True)
    (tmp_path / path).write_text(text)
    found = breaches(tmp_path)
    assert len(found) == 1
    assert complaint in found[0]


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("coilmodel/run.py", "import math\nfrom coilmodel import machine\nfrom . import kernel\nfrom .checks import checked"),
        ("coilmodel/compiled.py", "try:\n    import numba\nexcept ImportError:\n    pass"),
        ("coilmodel/search.py", "import numpy, joblib\nfrom coilmodel.run import simulate"),
        ("lessons/engine.py", "import json\nfrom coilmodel import simulate\nfrom lessons.contracts import Panel"),
        ("lessons/face/widget.py", "import anywidget\nfrom lessons.engine import Engine"),
    ],
)
def test_the_check_lets_good_imports_pass(path: str, text: str, tmp_path: Path) -> None:
    (tmp_path / path).parent.mkdir(parents=True)
    (tmp_path / path).write_text(text)
    assert breaches(tmp_path) == []


def test_the_plain_core_imports_where_nothing_is_installed() -> None:
    files = [path for package in LAYERS for path in (ROOT / package).rglob("*.py")]
    names = sorted(name for name in (module_name(path, ROOT) for path in files) if not within(name, NOT_PLAIN))
    names = [name for name in names if not name.endswith("__main__")]
    assert {"coilmodel.kernel", "coilmodel.run", "lessons.contracts"} <= set(names)
    bare = [sys.executable, "-I", "-S", "-c"]  # no site-packages, no variables, no folder of ours
    missing = subprocess.run([*bare, "import numpy"], capture_output=True)
    assert missing.returncode, "this Python sees numpy even without site-packages, so the next check would prove nothing"
    script = "\n".join([f"import sys; sys.path.insert(0, {str(ROOT)!r})", *(f"import {name}" for name in names)])
    done = subprocess.run([*bare, script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
