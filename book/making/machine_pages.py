"""Two pages that the model writes itself: what was checked against what, and the nominal machine."""

from __future__ import annotations

import dataclasses
import hashlib
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from book.making.places import ROOT, BuildError

_PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
_TABLE = re.compile(r"(?:^\|.*\n)+", re.MULTILINE)
_PREFIXED = {"H", "F", "m", "Wb", "ohm", "V", "A"}  # units of one word that people prefix


# ---------------------------------------------------------------------------------------------------- the proof
class Proof:
    """The proof's table, from the cache or from a run that goes on while other things are built."""

    def __init__(self, cache: Path, words: Sequence[str] = ()) -> None:
        """Start the run, unless `cache` holds its outcome for this very model; with `words`, only of groups that they name."""
        self.words = tuple(words)
        self.kept = cache / f"proof.{proof_key(self.words)}.md"
        self.run: subprocess.Popen[str] | None = None
        if not self.kept.is_file():
            cache.mkdir(parents=True, exist_ok=True)
            command = [sys.executable, "-m", "coilmodel.proof", "-o", str(self._draft), *words]
            pipes = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
            self.run = subprocess.Popen(command, cwd=ROOT, text=True, **pipes)

    @property
    def _draft(self) -> Path:
        return self.kept.with_suffix(".draft")

    def page(self) -> tuple[str, bool]:
        """Wait for the table; return the page, and whether every row that decides is within its tolerance."""
        if self.run is not None:
            said = self.run.communicate()[1]
            if not self._draft.is_file():
                last = (said.strip().splitlines() or ["it said nothing"])[-1]
                raise BuildError(f"`python -m coilmodel.proof` ended without its table: {last}")
            for old in self.kept.parent.glob("proof.*.md"):
                old.unlink()
            self._draft.rename(self.kept)
        table = wide_tables(self.kept.read_text(encoding="utf-8"))
        if self.words:
            table += f"\nThis build ran only the groups named by: {', '.join(self.words)}.\n"
        return table, "**outside**" not in table

    def stop(self) -> None:
        """End a run that nobody waits for any more."""
        if self.run is not None and self.run.poll() is None:
            self.run.kill()
            self.run.wait()


def proof_key(words: Sequence[str] = ()) -> str:
    """Return a digest of all that the outcome of the proof, or of the groups named by `words`, depends on."""
    digest = hashlib.sha256(f"{sys.version} {shutil.which('ngspice')} {words}".encode())
    for path in sorted((ROOT / "coilmodel").rglob("*")):
        if path.suffix in {".py", ".json"}:
            digest.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:32]


# ------------------------------------------------------------------------------------------ the nominal machine
def nominal_page() -> str:
    """Return the page of the nominal machine: each number with its unit and origin, and how well it shows what was sought."""
    from coilmodel import search
    from coilmodel.machine import Machine

    found = search.nominal()
    lines = [
        "# The nominal machine", "",
        "The machine that every panel starts from is no real maker's. Its windings and magneto have workable values of the "
        "trade; its springs, gaps and dampings, which nobody publishes, were found by a search that can be repeated "
        "(`python -m coilmodel.search`): it looked for a machine that shows what such coils are seen to do.", "",
        "## What the search sought, and how well the machine shows it", "",
        "1 is wholly, 0 not at all.", "", "| sought | weight | mark |", "|---|---|---|",
    ]
    for target in search.TARGETS:
        name = target.mark.__name__
        sought = _cell((target.mark.__doc__ or name).splitlines()[0])
        lines.append(f"| {sought} | {target.weight:g} | {found['marks'][name]:.2f} |")
    lines += ["", "## Every number", "", "| part | what | value | where it comes from |", "|---|---|---|---|"]
    machine = Machine()
    for part in dataclasses.fields(machine):
        for item in dataclasses.fields(getattr(machine, part.name)):
            about = item.metadata
            value = quantity(getattr(getattr(machine, part.name), item.name), about.get("unit", "1"))
            meaning, origin = _cell(about.get("meaning", item.name)), _cell(about.get("origin", ""))
            lines.append(f"| {part.name.replace('_', ' ')} | {meaning} | {value} | {origin} |")
    return wide_tables("\n".join(lines) + "\n")


def wide_tables(text: str) -> str:
    """Let every table of a page use the margin beside it too."""
    return _TABLE.sub(r":::{div} full-width dense\n\g<0>:::\n", text)


def quantity(value: Any, unit: str) -> str:
    """Return a value as people write it: 2.6e-3 H is "2.6 mH"."""
    if not isinstance(value, float):
        return str(value)
    if unit == "kg":
        return f"{1e3 * value:.4g} g"
    if unit not in _PREFIXED or value == 0.0:
        return f"{value:.4g}" if unit == "1" else f"{value:.4g} {unit}"
    size, prefix = next(((size, prefix) for size, prefix in _PREFIXES if abs(value) >= 0.9995 * size), _PREFIXES[-1])
    return f"{value / size:.4g} {prefix}{unit}"


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")
