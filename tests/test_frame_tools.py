"""The tools agree: ruff and mypy find nothing, the pins are complete, and no lock file names an address."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def run(*command: str) -> None:
    """Run a module of this Python at the root; its output is the failure's text."""
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run("ruff", "check", "--output-format=concise", ".")


def test_mypy_finds_nothing() -> None:
    run("mypy")


def pinned(*names: str) -> dict[str, str]:
    """Return package -> version of the exact pins in requirement files; any other line than a pin, -e or -r is an error."""
    pins = {}
    for name in names:
        for line in (ROOT / name).read_text().splitlines():
            if line.startswith("#") or line in ("-e .", "-r requirements.txt"):
                continue
            match = re.fullmatch(r"([a-z0-9.-]+)==([0-9][\w.]*)( ; .+)?", line)
            assert match, f"{name}: {line!r} is not an exact pin"
            assert match[1] not in pins, f"{name}: {match[1]} is pinned twice"
            pins[match[1]] = match[2]
    return pins


def test_every_package_we_name_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    word = re.compile(r"[A-Za-z0-9-]+")

    def names(requirements: list[str]) -> set[str]:
        return {word.match(requirement)[0].lower() for requirement in requirements}  # type: ignore[index]

    run_time = names(project["project"]["dependencies"])
    assert run_time
    assert run_time <= set(pinned("requirements.txt"))
    assert names(project["project"]["optional-dependencies"]["test"]) <= set(pinned("requirements.txt", "requirements-test.txt"))


def test_what_is_installed_is_what_is_pinned() -> None:
    """`pip check` also finds what the lock file has left out."""
    run("pip", "check")


def test_no_lock_file_names_an_address() -> None:
    lock = json.loads((ROOT / "book" / "package-lock.json").read_text())
    assert all("integrity" in entry and "resolved" not in entry for name, entry in lock["packages"].items() if name)
    for path in ("book/package-lock.json", "requirements.txt", "requirements-test.txt"):
        assert "://" not in (ROOT / path).read_text(), path


def test_the_browser_parts_are_pinned_exactly() -> None:
    package = json.loads((ROOT / "book" / "package.json").read_text())
    lock = json.loads((ROOT / "book" / "package-lock.json").read_text())
    for name, version in {**package["dependencies"], **package["devDependencies"]}.items():
        assert lock["packages"][f"node_modules/{name}"]["version"] == version
