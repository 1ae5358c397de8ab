"""Notebooks are committed valid and without outputs: outputs go stale, swell the history and hide what a cell really does."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
DIRECTIVE = re.compile(r"^(:::|```)\{|^:::", re.MULTILINE)


def committed(path: Path) -> str:
    """Return a notebook's text as git has it, else (no git, or not yet added) the file's.

    Working a lesson leaves outputs in the learner's own copy, which is no fault.
    """
    try:
        where = f":./{path.name}"  # the staged version, which is what the next commit holds
        return subprocess.run(["git", "show", where], cwd=path.parent, capture_output=True, check=True, encoding="utf-8").stdout
    except (OSError, subprocess.CalledProcessError):
        return path.read_text(encoding="utf-8")


def faults(path: Path) -> list[str]:
    """Return what is wrong with a notebook, one sentence a fault."""
    import nbformat  # takes seconds to load, and every worker reads this file

    try:
        notebook = nbformat.reads(committed(path), as_version=nbformat.NO_CONVERT)
        nbformat.validate(notebook)
    except Exception as error:  # a broken file breaks nbformat in many ways, AttributeError and TypeError among them
        return [f"{path.name} is not a valid notebook: {str(error).splitlines()[0]}"]
    found = []
    if notebook.nbformat != 4:
        found.append(f"{path.name} is of notebook format {notebook.nbformat}; save it as 4.")
    if notebook.metadata.get("kernelspec", {}).get("name") != "python3":
        found.append(f"{path.name} asks for another kernel than python3, which a learner's machine may not have.")
    if "widgets" in notebook.metadata:
        found.append(f"{path.name} carries the state of widgets.")
    for number, cell in enumerate(notebook.cells, start=1):
        if cell.get("outputs"):
            found.append(f"{path.name}, cell {number}, carries outputs.")
        if cell.get("execution_count") is not None:
            found.append(f"{path.name}, cell {number}, carries an execution count.")
        if cell.cell_type == "markdown" and DIRECTIVE.search(cell.source):
            found.append(f"{path.name}, cell {number}, has a directive, which JupyterLab shows raw; fold with <details>, "
                         "warn with <div class=\"admonition warning\">, as the other lessons do.")
    return found


def test_the_lessons_are_clean() -> None:
    notebooks = sorted((ROOT / "lessons").rglob("*.ipynb"))
    notebooks = [path for path in notebooks if ".ipynb_checkpoints" not in path.parts]
    assert notebooks, "there is no notebook in lessons/"
    found = [fault for path in notebooks for fault in faults(path)]
    assert not found, "\n".join(found)


def tiny(**changes: Any) -> dict[str, Any]:
    """Return a clean notebook of one code cell, with `changes` to that cell."""
    cell = {"cell_type": "code", "id": "a", "metadata": {}, "source": "1 + 1", "outputs": [], "execution_count": None, **changes}
    return {
        "nbformat": 4, "nbformat_minor": 5, "cells": [cell],
        "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    }  # fmt: skip


OUTPUT = {"output_type": "stream", "name": "stdout", "text": "2"}


@pytest.mark.parametrize(
    ("notebook", "complaint"),
    [
        (tiny(outputs=[OUTPUT]), "carries outputs"),
        (tiny(execution_count=3), "carries an execution count"),
        (tiny(source=5), "not a valid notebook"),
        (tiny() | {"cells": None}, "not a valid notebook"),
        (tiny() | {"metadata": {"kernelspec": {"name": "other", "display_name": "Other"}}}, "another kernel"),
        (tiny() | {"metadata": tiny()["metadata"] | {"widgets": {}}}, "state of widgets"),
        ("not a notebook", "not a valid notebook"),
        (tiny() | {"cells": [{"cell_type": "markdown", "id": "a", "metadata": {}, "source": ":::{note}\nx\n:::"}]}, "shows raw"),
    ],
)
def test_the_check_finds_a_planted_fault(notebook: Any, complaint: str, tmp_path: Path) -> None:
    path = tmp_path / "planted.ipynb"
    path.write_text(json.dumps(notebook))
    found = faults(path)
    assert len(found) == 1
    assert complaint in found[0]


def test_the_check_lets_a_clean_notebook_pass(tmp_path: Path) -> None:
    path = tmp_path / "clean.ipynb"
    path.write_text(json.dumps(tiny()))
    assert faults(path) == []
