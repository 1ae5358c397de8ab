"""Where a study's results live: a folder of small files while it runs, one columnar file when it is done.

`runs.npz` is an open format twice over: a ZIP archive (stored, not compressed) that holds one NPY file a column, and
`about.json`: the version of this layout, the whole plan, the columns with their units, and what the model refused. numpy reads it
as it is, and so does whatever reads ZIP and NPY (R, Julia, Matlab have readers). Why not Parquet: its writer would
be the heaviest package of the course, for some twenty columns of plain numbers.

While a study runs, each slice of runs is a file of the same kind under `slices/`. It is written beside its place and then
renamed, so a slice is there whole or not at all. The ZIP's own checksums find one that was damaged later; a digest of all
numbers in `about.json`, and some runs made again, one that was altered (no seal: who knows this file can make the digest
fit). What is found so is never deleted: it is put into `spoilt/`, a sentence names it, and its runs are made again. No time and
no machine's name goes into any file: an interrupted study ends with the same bytes as an uninterrupted one.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import shutil
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.lib import format as npy

from coilmodel.durable import PART, whole, write_whole
from coilmodel.study.origin import model_digest
from coilmodel.study.plan import Plan
from coilmodel.study.slices import Slice, otherwise, worked
from coilmodel.study.trial import Column, columns

SCHEMA = 2
SENTENCES = 1000  # refusals whose sentences are kept in the end; the status of every run is kept anyway
JOINING = "joining"  # folder in which the columns are put together
SPOILT = "spoilt"  # folder in which what is damaged or altered is kept
AGAIN = 9  # runs of a finished study that are made again, drawn by lot
BEYOND = 1 << 30  # byte of study.json that is locked on Windows
NEAR = 1e-6  # relative difference that another processor may make

Tell = Callable[[str], None]
"""Called with a sentence for the person who waits."""


def on_standard_error(sentence: str) -> None:
    """Say a sentence on standard error."""
    print(sentence, file=sys.stderr, flush=True)


class Folder:
    """The folder of a study that runs, or has run."""

    def __init__(self, path: Path, plan: Plan, tell: Tell = on_standard_error) -> None:
        """Open or make the folder `path` for `plan`; `tell` is told of what is spoilt.

        Raises ValueError where another study, or something else, is in it.
        """
        self.path, self.plan, self.tell = path, plan, tell
        self.slices = path / "slices"
        self.identity = {"schema": SCHEMA, "plan": plan.digest(), "model": model_digest()}
        label = path / "study.json"
        if path.exists() and not path.is_dir():
            raise ValueError(f"{path}: is a file, and a study needs a folder; give another --out.")
        if label.exists():
            self._same(label)
        elif path.is_dir() and any(item.name not in ("slices", JOINING, SPOILT) and item.suffix != PART
                                   for item in path.iterdir()):
            raise ValueError(f"{path}: holds something that is no study; give another --out.")
        self.slices.mkdir(parents=True, exist_ok=True)
        if not label.exists():
            write_whole(label, json.dumps({**self.identity, "as_planned": plan.as_dict()}, indent=1).encode())

    @contextlib.contextmanager
    def alone(self) -> Iterator[None]:
        """Keep every other process from working on this study. Raises ValueError in one sentence where one is at it."""
        with (self.path / "study.json").open("rb") as label, contextlib.ExitStack() as until_done:
            try:
                _lock(label.fileno(), until_done)
            except (BlockingIOError, PermissionError) as error:  # the second is what Windows says
                raise ValueError(f"{self.path}: another process is working on this study; wait for it, or stop it.") from error
            except OSError:
                pass  # this disk knows no such locks
            for draft in (*self.path.glob(f"*{PART}"), *self.slices.glob(f"*{PART}")):
                draft.unlink()  # never finished, so nothing was in it yet
            yield

    def _same(self, label: Path) -> None:
        try:
            told = dict(json.loads(label.read_bytes()))
        except (OSError, ValueError, TypeError):
            self.aside(label, "cannot be read", "The files beside it say themselves whose they are")
            return
        if told.get("schema") != SCHEMA:
            raise ValueError(f"{self.path}: was written by another version of the course (layout {told.get('schema')}, here "
                             f"{SCHEMA}); give another --out.")
        for key, what in (("plan", "holds the study of another plan"), ("model", "was begun with another version of the model")):
            if told.get(key) != self.identity[key]:
                raise ValueError(f"{self.path}: {what}; give another --out, or remove that folder to begin again.")

    def aside(self, file: Path, flaw: str, then: str) -> None:
        """Put a spoilt file where nothing reads it, and say so. flaw: what is wrong with it; then: what comes of that."""
        home = self.path / SPOILT
        home.mkdir(exist_ok=True)
        place, count = home / file.name, 1
        while place.exists():
            count += 1
            place = home / f"{file.stem}-{count}{file.suffix}"
        os.replace(file, place)
        self.tell(f"{file}: {flaw}. It is kept as {place}. {then}.")

    @property
    def done_file(self) -> Path:
        """Return where the results stand when the study is done."""
        return self.path / "runs.npz"

    def kept(self, again: bool = True) -> list[Slice]:
        """Return the slices that are there whole, in order; what is spoilt, foreign or doubled is put aside, to be run again.

        again: make one run of each again, to see whether its numbers are the model's.
        """
        found: list[Slice] = []
        for file in sorted(self.slices.glob("*.npz")):
            part, flaw = _named(file)
            if part is not None and part.last > self.plan.total:
                flaw = "is named after runs that the plan has not"
            elif part is not None:
                flaw = self._flaw(file, part) or (self._altered(file, part, 1) if again else "")
                if not flaw and found and part.first < found[-1].last:
                    flaw = "holds runs that another file holds too"
            if flaw or part is None:
                self.aside(file, flaw, "Its runs are made again")
            else:
                found.append(part)
        return found

    def _flaw(self, file: Path, part: Slice) -> str:
        """Return what is wrong with a file of results for the runs `part`, in words, or ""."""
        try:
            with zipfile.ZipFile(file) as archive:
                about = json.loads(archive.read("about.json"))
                if about["identity"] != self.identity:
                    return "holds the results of another plan, or of another version of the model"
                wanted = columns(self.plan)
                if sorted(archive.namelist()) != sorted(["about.json", *(f"{column.name}.npy" for column in wanted)]):
                    return "has other columns than a study of this plan"
                if about["content"] != _content(about, archive, wanted):
                    return "its numbers are not those that were written into it"
                for column in wanted:
                    with archive.open(f"{column.name}.npy") as member:
                        numbers = npy.read_array(member)
                    if numbers.dtype != np.dtype(column.kind) or numbers.shape != (part.last - part.first,):
                        return f"column {column.name} is not one number a run"
                    if column.name == "run" and not np.array_equal(numbers, np.arange(part.first, part.last)):
                        return "does not hold the runs that it should"
        except Exception as error:  # a damaged archive fails in more ways than can be listed, and none may end the study
            return f"cannot be read ({error or type(error).__name__})"
        return ""

    def _altered(self, file: Path, part: Slice, count: int) -> str:
        """Make `count` runs of a file again, drawn by lot, and return in words that most of them came out otherwise, or ""."""
        drawn = [part.by_lot() for _ in range(count)]
        rows = [one.first - part.first for one in drawn]
        table = {}
        with zipfile.ZipFile(file) as archive:
            for column in columns(self.plan):
                with archive.open(f"{column.name}.npy") as member:
                    table[column.name] = npy.read_array(member)[rows]
        found = [otherwise(table, row, worked(self.plan, one), NEAR) for row, one in enumerate(drawn)]
        wrong = [text for text in found if text]
        return f"its numbers are not this model's ({wrong[0]})" if 2 * len(wrong) > count else ""

    def missing(self, size: int) -> list[Slice]:
        """Look through what is kept and return the slices still to be run, of at most `size` runs each, in order."""
        gaps, at = [], 0
        for part in (*self.kept(), Slice(self.plan.total, self.plan.total)):
            if part.first > at:
                gaps.append((at, part.first))
            at = part.last
        return [Slice(start, min(start + size, end)) for first, end in gaps for start in range(first, end, size)]

    def keep(self, part: Slice, table: Mapping[str, Any], refused: Mapping[int, str]) -> None:
        """Write one slice of results. table: a column's name to its numbers; refused: run number to the model's sentence."""
        about: dict[str, Any] = {"identity": self.identity, "refused": {str(run): text for run, text in sorted(refused.items())}}
        members = [(f"{name}.npy", _npy(column)) for name, column in table.items()]
        seen = _begun(about)
        for _, content in members:
            seen.update(content)
        about["content"] = seen.hexdigest()
        write_whole(self.slices / part.name, _archive([("about.json", json.dumps(about).encode()), *members]))

    def finish(self) -> Path:
        """Join the slices to `runs.npz`, a column at a time on disk, so that memory stays small; return its path."""
        parts = self.kept(again=False)
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
        about: dict[str, Any] = {
            "schema": SCHEMA, "what": "tolerance study of a vibrating ignition coil", "identity": self.identity,
            "plan": self.plan.as_dict(), "runs": self.plan.total,
            "columns": [{"name": c.name, "type": c.kind, "unit": c.unit, "meaning": c.meaning} for c in wanted],
            "refused": sentences,
        }
        seen = _begun(about)
        for place in range(len(wanted)):
            with (joined / f"{place}.npy").open("rb") as of:
                _feed(seen, of)
        about["content"] = seen.hexdigest()
        with whole(self.done_file) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            archive.writestr(_member("about.json"), json.dumps(about, indent=1))
            for place, c in enumerate(wanted):
                with (joined / f"{place}.npy").open("rb") as of, archive.open(_member(f"{c.name}.npy"), "w",
                                                                              force_zip64=True) as to:
                    shutil.copyfileobj(of, to, 1 << 20)
        shutil.rmtree(joined)
        return self.done_file

    def tidy(self) -> None:
        """Remove the slices of a study whose results are joined."""
        if self.done_file.exists():
            for leftover in (self.slices, self.path / JOINING):
                shutil.rmtree(leftover, ignore_errors=True)

    def done(self) -> Study | None:
        """Return the finished study, if it is there and whole; a spoilt file is put aside."""
        if not self.done_file.exists():
            return None
        all_runs = Slice(0, self.plan.total)
        flaw = self._flaw(self.done_file, all_runs) or self._altered(self.done_file, all_runs, AGAIN)
        if not flaw:
            return Study(self.done_file)
        self.aside(self.done_file, flaw, "All that is not in other files is run again")
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

    def rows(self, size: int = 20_000) -> Iterator[list[list[Any]]]:
        """Yield the runs as lists of rows, at most `size` at a time, for a spreadsheet."""
        table = [self[name] for name in self.columns]
        for start in range(0, len(self), size):
            yield [list(row) for row in zip(*(column[start:start + size].tolist() for column in table), strict=True)]


def _lock(number: int, until_done: contextlib.ExitStack) -> None:
    """Lock an open file for this process alone until `until_done` closes, or the process ends, however that ends.

    number: the file's, of the system. Raises BlockingIOError or PermissionError where another has it, OSError where the disk
    knows no locks. On Windows one byte far beyond the file's end is locked, for what is locked there nobody can read. No Windows
    was at hand: this was tried with a stand-in for msvcrt.
    """
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        def at_the_byte(mode: int) -> None:
            os.lseek(number, BEYOND, os.SEEK_SET)
            msvcrt.locking(number, mode, 1)  # type: ignore[attr-defined]

        at_the_byte(msvcrt.LK_NBLCK)  # type: ignore[attr-defined]
        until_done.callback(at_the_byte, msvcrt.LK_UNLCK)  # type: ignore[attr-defined]
    else:
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)



def _named(file: Path) -> tuple[Slice | None, str]:
    """Return the slice that a file is named after; else None and what is wrong with the name."""
    first, _, last = file.stem.partition("-")
    if not (first.isdecimal() and last.isdecimal() and int(first) < int(last)):
        return None, "is named after no runs"
    return Slice(int(first), int(last)), ""


def _begun(about: Mapping[str, Any]) -> Any:
    """Return the digest of a file's contents after its `about.json`; the columns follow, in order."""
    return hashlib.sha256(json.dumps({**about, "content": ""}, sort_keys=True).encode())


def _feed(seen: Any, file: IO[bytes]) -> None:
    while chunk := file.read(1 << 20):
        seen.update(chunk)


def _content(about: Mapping[str, Any], archive: zipfile.ZipFile, wanted: Sequence[Column]) -> str:
    """Return the digest of all numbers in a file, and of what its `about.json` says of them."""
    seen = _begun(about)
    for column in wanted:
        with archive.open(f"{column.name}.npy") as member:
            _feed(seen, member)
    return str(seen.hexdigest())


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
