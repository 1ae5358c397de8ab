"""A progress record on a disk: one learner's at a time, shared by every notebook that is open, damaged by none.

Beside the record `my-progress.json` there may be, made when they are needed:

    my-progress-of-robin.json         the record of a learner who is not at work now; it comes back with the nickname
    my-progress-damaged-....json      what could not be read; nothing is ever thrown away
    .my-progress.json.lock            held while a notebook reads and writes, so that two never cross

What is read is read whole, and written beside and moved into place, so that a reader without the lock sees the old or the new.
"""

from __future__ import annotations

import contextlib
import os
import stat
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from coilmodel.durable import write_whole
from lessons.record import MAX_TEXT, Record, RecordError, merged, onto, parse

try:
    import fcntl
except ImportError:  # Windows, and the reader's browser, where no record is kept in a file
    fcntl = None  # type: ignore[assignment]
try:
    import msvcrt
except ImportError:
    msvcrt = None  # type: ignore[assignment]

LOCK_WAIT = 5.0  # s; the lock is held for some milliseconds, so longer than this it is held by something that is stuck
_LOOK_AGAIN = 0.01  # s between two looks at a lock that another holds
_MOST_BYTES = 4 * MAX_TEXT  # a character takes up to four


# ----------------------------------------------------------------------------------------------------- reading
def text_of(path: Path, follow: bool = True) -> str:
    """Return the text of a record's file; FileNotFoundError where there is none, RecordError for anything that is none.

    It never waits: a pipe, a device or a folder under that name is refused unread, and so is a link unless `follow`.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
    status = os.stat(path) if follow else os.lstat(path)
    _refuse_odd(status)
    with open(path, "rb", opener=lambda name, _: os.open(name, flags | (0 if follow else getattr(os, "O_NOFOLLOW", 0)))) as file:
        _refuse_odd(os.fstat(file.fileno()))  # it may have been changed for another meanwhile
        content = file.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        raise RecordError(f"The record is longer than {MAX_TEXT} characters, which no course makes it.")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise RecordError("The record is not text in UTF-8.") from None


class NoFile(RecordError):
    """What has the name of a record and is no plain file: a pipe, a device, a folder, a link."""


def _refuse_odd(status: os.stat_result) -> None:
    if not stat.S_ISREG(status.st_mode):
        kinds = ((stat.S_ISLNK, "a link"), (stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"))
        kind = next((words for test, words in kinds if test(status.st_mode)), "a device")
        raise NoFile(f"This is {kind} and no file.")


# ----------------------------------------------------------------------------------------------------- writing
def write_text(path: Path, text: str) -> None:
    """Write `text` so that, whenever the machine stops, the file holds either all of the old text or all of the new."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, text.encode())


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock that goes with the file at `path`. OSError where it cannot be made, or another holds it for LOCK_WAIT."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(path.with_name(f".{path.name}.lock"), "a+b") as file:
        end = time.monotonic() + LOCK_WAIT
        while not _taken(file.fileno()):
            if time.monotonic() >= end:
                raise OSError(f"another program has held it for {LOCK_WAIT:g} s")
            time.sleep(_LOOK_AGAIN)
        yield  # closing the file, or the end of the process, lets it go


def _taken(number: int) -> bool:
    try:
        if fcntl is not None:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        elif msvcrt is not None:
            os.lseek(number, 0, os.SEEK_SET)
            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True  # a disk without locks (some network ones): then the writing in one piece has to do
    return True


# ------------------------------------------------------------------------------------------------- the learner's
class RecordFile:
    """The file in which the notebooks of a learner keep their record, and what lies beside it.

    `notes` collects sentences for the learner: what was set aside and where it is now, what could not be written. Each is
    said once, until the file has been written again.
    """

    def __init__(self, path: str | os.PathLike[str], clock: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.path = Path(path).absolute()
        with contextlib.suppress(OSError, RuntimeError):  # links that lead round in a circle
            self.path = self.path.resolve()  # a link is followed once, and what it leads to is written
        self.notes: list[str] = []
        self._said: set[str] = set()
        self._seen: tuple[int, ...] | None = None
        self._clock = clock

    # -------------------------------------------------------------------------------------------- what a desk does
    def load(self) -> Record | None:
        """Return the record on the disk; None where there is none, or none that can be read (then a note says so)."""
        self._seen = self._signature()
        try:
            return self._read()
        except OSError as error:
            self._say(f"The progress file {self.path} could not be read ({_why(error)}), and is left as it is; this notebook "
                      "goes on without it.")
        return None

    def changed(self) -> bool:
        """Say whether another notebook has written the file since it was last read or written here."""
        return self._signature() != self._seen

    def keep(self, ours: Record, base: Record) -> Record | None:
        """Write what was added to `ours` since it was `base`, together with what another notebook has written meanwhile.

        ours, base: of one learner; base: as it was when last read or written here. Where another notebook has changed to
        another learner meanwhile, ours goes to the file of its own learner. Returns the record that is in use now; None, with
        a note, where the disk refuses.
        """
        return self._under_lock(lambda: self._keep(ours, base))

    def change(self, ours: Record, base: Record, new: Record) -> Record | None:
        """Change to the learner whose record is `new`, and bring back with it what lies here of that learner.

        ours, base: as for `keep`; that work is kept, under its own nickname. Returns the record that is in use now; None, with
        a note, where the disk refuses.
        """
        return self._under_lock(lambda: self._change(ours, base, new))

    # -------------------------------------------------------------------------------------------- with the lock held
    def _keep(self, ours: Record, base: Record) -> Record:
        there = self._read()
        if there is not None and not there.is_of(ours.nickname):
            self._keep_beside(ours, base)
            return there
        now = ours if there is None else onto(there, base, ours)
        write_text(self.path, now.text())
        return now

    def _change(self, ours: Record, base: Record, new: Record) -> Record:
        there = self._read()
        if there is None or there.is_of(ours.nickname):
            there = ours if there is None else onto(there, base, ours)
        else:
            self._keep_beside(ours, base)
        now = new
        if there.is_of(new.nickname):
            now = merged(now, there)
        elif there.begun:
            kept = self._beside(there.nickname)
            self._put_beside(merged(there, kept) if kept else there)
        before = self._beside(new.nickname)
        now = merged(now, before) if before else now
        write_text(self.path, now.text())
        for path, _ in self._all_beside(new.nickname):
            path.unlink()
        return now

    def _keep_beside(self, ours: Record, base: Record) -> None:
        kept = self._beside(ours.nickname)
        if kept is None and ours.begun:
            self._put_beside(ours)
        elif kept is not None and ours != base:
            self._put_beside(onto(kept, base, ours))

    def _under_lock(self, work: Callable[[], Record]) -> Record | None:
        try:
            with locked(self.path):
                now = work()
                self._seen = self._signature()
        except OSError as error:
            self._say(f"Your progress could not be written to {self.path} ({_why(error)}); this notebook keeps it meanwhile, so "
                      "save it as a file before you close it.")
            return None
        self._said.clear()
        return now

    # ------------------------------------------------------------------------------------------------ the files
    def _read(self) -> Record | None:
        """Return the record on the disk, None where there is none any more; OSError where there is one that cannot be read."""
        try:
            return parse(text_of(self.path))
        except FileNotFoundError:
            return None
        except NoFile as error:
            raise OSError(str(error).rstrip(".")) from None
        except RecordError as error:
            name = self._set_aside()
            self._say(f"The progress file could not be read, so it was set aside as {name} and a new one begun. {error}")
        return None

    def _set_aside(self) -> str:
        """Rename the file to a name that is not taken yet; return that name."""
        stamp = self._clock().strftime("%Y%m%dT%H%M%S")
        path = self._free(f"-damaged-{stamp}")
        os.replace(self.path, path)
        return path.name

    def _put_beside(self, record: Record) -> None:
        """Write the record of a learner who is not at work now; all that lay beside of this learner is one file then."""
        older = [path for path, _ in self._all_beside(record.nickname)]
        path = older[0] if older else self._free(f"-of-{record.plain_name()}")
        write_text(path, record.text())
        for other in older[1:]:
            other.unlink()

    def _beside(self, nickname: str) -> Record | None:
        """Return what lies beside the file of this learner, put together; None where nothing does."""
        found: Record | None = None
        for _, record in self._all_beside(nickname):
            found = merged(found, record) if found else record
        return found

    def _all_beside(self, nickname: str) -> list[tuple[Path, Record]]:
        """Return (path, record) of the files beside that are this learner's: what they hold says so, not what they are called."""
        found = []
        for path in sorted(self.path.parent.iterdir()):
            if path.name.startswith(f"{self.path.stem}-of-") and path.suffix == self.path.suffix:
                with contextlib.suppress(RecordError, OSError):
                    record = parse(text_of(path, follow=False))
                    if record.is_of(nickname):
                        found.append((path, record))
        return found

    def _free(self, words: str) -> Path:
        for number in range(1, 1000):
            path = self.path.with_name(f"{self.path.stem}{words}{'' if number == 1 else f'-{number}'}{self.path.suffix}")
            if not os.path.lexists(path):
                return path
        raise OSError("there are too many records that were set aside here")

    def _signature(self) -> tuple[int, ...] | None:
        try:
            seen = os.stat(self.path)
        except OSError:
            return None
        return seen.st_ino, seen.st_size, seen.st_mtime_ns

    def _say(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self.notes.append(sentence)


def _why(error: OSError) -> str:
    return error.strerror or str(error) or type(error).__name__
