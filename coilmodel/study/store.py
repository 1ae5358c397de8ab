"""Where a study's results live: a folder of small files while it runs, one columnar file when it is done.

`runs.npz` is an open format twice over: a ZIP archive (stored, not compressed) that holds one NPY file a column, and
`about.json`: the version of this layout, the whole plan, the columns with their units, and what the model refused. numpy reads it
as it is, and so does whatever reads ZIP and NPY (R, Julia, Matlab have readers). Why not Parquet: its writer would
be the heaviest package of the course, for some twenty columns of plain numbers.

While a study runs, each slice of runs is a file of the same kind under `slices/`. It is written beside its place and then
renamed, so a slice is there whole or not at all; the ZIP's own checksums find one that was spoilt later. No time and no machine's
name goes into any file: an interrupted study ends with the same bytes as an uninterrupted one.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib import format as npy

from coilmodel.compiled import COMPILED
from coilmodel.study.plan import Plan
from coilmodel.study.trial import columns

SCHEMA = 1
SENTENCES = 1000  # refusals whose sentences are kept in the end; the status of every run is kept anyway
JOINING = "joining"  # folder in which the columns are put together
PACKAGE = Path(__file__).resolve().parents[1]


def model_digest() -> str:
    """Return a digest of all that a run's outcome depends on: the model's own text, and whether it is compiled."""
    seen = hashlib.sha256(b"compiled" if COMPILED else b"plain")
    for name in ("checks", "compiled", "kernel", "machine", "readings", "run", "study/draw", "study/trial"):
        seen.update((PACKAGE / f"{name}.py").read_bytes())
    return seen.hexdigest()[:32]


@dataclass(frozen=True)
class Slice:
    """Runs `first` to `last` - 1."""

    first: int
    last: int

    @property
    def name(self) -> str:
        """Return the slice's file name; in order of names, slices are in order of runs."""
        return f"{self.first:09d}-{self.last:09d}.npz"


class Folder:
    """The folder of a study that runs, or has run."""

    def __init__(self, path: Path, plan: Plan) -> None:
        """Open or make the folder `path` for `plan`. Raises ValueError where another study, or something else, is in it."""
        self.path, self.plan = path, plan
        self.slices = path / "slices"
        self.identity = {"schema": SCHEMA, "plan": plan.digest(), "model": model_digest()}
        label = path / "study.json"
        if path.exists() and not path.is_dir():
            raise ValueError(f"{path}: is a file, and a study needs a folder; give another --out.")
        if label.exists():
            self._same(label)
        elif path.is_dir() and any(item.name not in ("slices", JOINING) and item.suffix != ".part" for item in path.iterdir()):
            raise ValueError(f"{path}: holds something that is no study; give another --out.")
        self.slices.mkdir(parents=True, exist_ok=True)
        for draft in (*path.glob("*.part"), *self.slices.glob("*.part")):
            draft.unlink()
        if not label.exists():
            write_whole(label, json.dumps({**self.identity, "as_planned": plan.as_dict()}, indent=1).encode())

    def _same(self, label: Path) -> None:
        try:
            told = json.loads(label.read_bytes())
        except (OSError, ValueError):
            label.unlink()  # spoilt; the slices say themselves whose they are
            return
        if told.get("schema") != SCHEMA:
            raise ValueError(f"{self.path}: was written by another version of the course (layout {told.get('schema')}, here "
                             f"{SCHEMA}); give another --out.")
        for key, what in (("plan", "holds the study of another plan"), ("model", "was begun with another version of the model")):
            if told.get(key) != self.identity[key]:
                raise ValueError(f"{self.path}: {what}; give another --out, or remove that folder to begin again.")

    @property
    def done_file(self) -> Path:
        """Return where the results stand when the study is done."""
        return self.path / "runs.npz"

    def kept(self) -> list[Slice]:
        """Return the slices that are there whole, in order; what is spoilt, foreign or doubled is removed, to be run again."""
        found: list[Slice] = []
        for file in sorted(self.slices.glob("*.npz")):
            part = self._sound(file)
            if part is None or found and part.first < found[-1].last:
                file.unlink()
            else:
                found.append(part)
        return found

    def _sound(self, file: Path) -> Slice | None:
        try:
            first, last = (int(text) for text in file.stem.split("-"))
            with zipfile.ZipFile(file) as archive:
                if archive.testzip() is not None or json.loads(archive.read("about.json"))["identity"] != self.identity:
                    return None
                wanted = {f"{column.name}.npy" for column in columns(self.plan)} | {"about.json"}
                whole = set(archive.namelist()) == wanted and 0 <= first < last <= self.plan.total
                with archive.open("run.npy") as member:
                    runs = npy.read_array(member)
                return Slice(first, last) if whole and np.array_equal(runs, np.arange(first, last)) else None
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None

    def missing(self, size: int) -> list[Slice]:
        """Return the slices still to be run, of at most `size` runs each, in order."""
        gaps, at = [], 0
        for part in (*self.kept(), Slice(self.plan.total, self.plan.total)):
            if part.first > at:
                gaps.append((at, part.first))
            at = part.last
        return [Slice(start, min(start + size, end)) for first, end in gaps for start in range(first, end, size)]

    def keep(self, part: Slice, table: Mapping[str, Any], refused: Mapping[int, str]) -> None:
        """Write one slice of results. table: a column's name to its numbers; refused: run number to the model's sentence."""
        about = {"identity": self.identity, "refused": {str(run): text for run, text in sorted(refused.items())}}
        members = [(f"{name}.npy", _npy(column)) for name, column in table.items()]
        write_whole(self.slices / part.name, _archive([("about.json", json.dumps(about).encode()), *members]))

    def finish(self) -> Path:
        """Join the slices to `runs.npz`, a column at a time on disk, so that memory stays small; return its path."""
        parts = self.kept()
        if sum(part.last - part.first for part in parts) != self.plan.total:
            raise ValueError(f"{self.path}: not all runs are there; run the study again to complete it.")
        joined = self.path / JOINING
        shutil.rmtree(joined, ignore_errors=True)
        joined.mkdir()
        wanted = columns(self.plan)
        maps = {column.name: npy.open_memmap(joined / f"{place}.npy", "w+", column.kind, (self.plan.total,))
                for place, column in enumerate(wanted)}
        sentences: dict[str, str] = {}
        for part in parts:
            with zipfile.ZipFile(self.slices / part.name) as archive:
                told = json.loads(archive.read("about.json"))["refused"]
                for run in sorted(told, key=int)[:SENTENCES - len(sentences)]:
                    sentences[run] = told[run]
                for name, column in maps.items():
                    with archive.open(f"{name}.npy") as member:
                        column[part.first:part.last] = npy.read_array(member)
        for column in maps.values():
            column.flush()
        del maps
        about = {
            "schema": SCHEMA, "what": "tolerance study of a vibrating ignition coil", "identity": self.identity,
            "plan": self.plan.as_dict(), "runs": self.plan.total,
            "columns": [{"name": c.name, "type": c.kind, "unit": c.unit, "meaning": c.meaning} for c in wanted],
            "refused": sentences,
        }
        draft = self.done_file.with_suffix(".part")
        with draft.open("wb") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
                archive.writestr(_member("about.json"), json.dumps(about, indent=1))
                for place, c in enumerate(wanted):
                    with (joined / f"{place}.npy").open("rb") as of, archive.open(_member(f"{c.name}.npy"), "w",
                                                                                  force_zip64=True) as to:
                        shutil.copyfileobj(of, to, 1 << 20)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, self.done_file)
        shutil.rmtree(joined)
        return self.done_file

    def tidy(self) -> None:
        """Remove the slices of a study whose results are joined."""
        if self.done_file.exists():
            for leftover in (self.slices, self.path / JOINING):
                shutil.rmtree(leftover, ignore_errors=True)

    def done(self) -> Study | None:
        """Return the finished study, if it is there and whole; a spoilt file is removed."""
        if not self.done_file.exists():
            return None
        try:
            study = Study(self.done_file)
            if study.about["identity"] == self.identity and study.whole():
                return study
        except ValueError:
            pass
        self.done_file.unlink()
        return None


class Study:
    """The results of a study, read from its `runs.npz`: `study["opening_current"]` is a column, loaded when asked for."""

    def __init__(self, path: Path) -> None:
        """Open the file at `path`. Raises ValueError in one sentence where it is no study's."""
        self.path = path
        try:
            with zipfile.ZipFile(path) as archive:
                self.about: dict[str, Any] = json.loads(archive.read("about.json"))
        except (OSError, KeyError, ValueError, zipfile.BadZipFile) as error:
            raise ValueError(f"{path}: is not the result of a study ({error}).") from error
        if self.about.get("schema") != SCHEMA:
            raise ValueError(f"{path}: has layout {self.about.get('schema')}; this course reads layout {SCHEMA}.")
        self.plan: dict[str, Any] = self.about["plan"]
        self.varied: list[dict[str, Any]] = self.plan["vary"]
        self.columns = {column["name"]: column for column in self.about["columns"]}

    def __getitem__(self, name: str) -> Any:
        """Return column `name` as a numpy array, one number a run."""
        if name not in self.columns:
            raise KeyError(f"{name}: is no column; there are {', '.join(self.columns)}.")
        with zipfile.ZipFile(self.path) as archive, archive.open(f"{name}.npy") as member:
            return npy.read_array(member)

    def __len__(self) -> int:
        """Return the number of runs."""
        return int(self.about["runs"])

    def whole(self) -> bool:
        """Return whether every byte is as it was written."""
        try:
            with zipfile.ZipFile(self.path) as archive:
                return archive.testzip() is None and len(archive.namelist()) == len(self.columns) + 1
        except (OSError, zipfile.BadZipFile):
            return False

    def rows(self, size: int = 20_000) -> Iterator[list[list[Any]]]:
        """Yield the runs as lists of rows, at most `size` at a time, for a spreadsheet."""
        table = [self[name] for name in self.columns]
        for start in range(0, len(self), size):
            yield [list(row) for row in zip(*(column[start:start + size].tolist() for column in table), strict=True)]


# ---------------------------------------------------------------------------------------------------------- writing
def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` so that the file is there whole or not at all, whatever happens meanwhile."""
    draft = path.with_name(path.name + ".part")
    try:
        with draft.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise


def _member(name: str) -> zipfile.ZipInfo:
    return zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))  # ZIP's own beginning of time: no file tells when it was made


def _archive(members: list[tuple[str, bytes]]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name, content in members:
            archive.writestr(_member(name), content)
    return buffer.getvalue()


def _npy(column: Any) -> bytes:
    buffer = io.BytesIO()
    npy.write_array(buffer, np.ascontiguousarray(column), version=(1, 0), allow_pickle=False)
    return buffer.getvalue()
