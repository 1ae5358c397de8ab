"""A learner's progress record: what was tried, when, and how it went.

The record is one JSON text with a named, versioned schema:

    {"schema": "coil-course-progress", "version": 1, "nickname": "Robin",
     "exercises": {"05-follow-travel": {"hints": 1, "count": 2, "tries": [
        {"time": "2031-05-08T19:30:00+00:00", "answer": {"value": "0,21", "unit": "mm"}, "variant": "5f2c08a1",
         "passed": true, "score": 1.0, "misconception": null, "message": "Right. ..."}]}}}

`count` is the number of tries there have been; of many, the first, the first that passed and the latest are kept.
`variant` names the learner's variant at that time, so that a question that has changed since can be told from a forged answer.
Whatever comes from outside passes `parse`, which names what is wrong in one sentence. Nothing in a record is ever run.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lessons.contracts import Verdict

SCHEMA = "coil-course-progress"
VERSION = 1
GUEST = "guest"

MAX_TEXT = 2_000_000
"""Characters of a whole record."""
MAX_ANSWER = 10_000
"""Characters of one answer, as JSON."""
MAX_MESSAGE = 1_000
_MAX_DEPTH = 8
MAX_TRIES = 20
"""Tries kept for one exercise."""
MAX_EXERCISES = 500
_MAX_COUNT = 1_000_000
_KEY = re.compile(r"[0-9]{2}-[a-z0-9]+(-[a-z0-9]+)*")

MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""`MIGRATIONS[n]` turns the data of a record of version n into that of version n + 1."""


def now() -> str:
    """Return the time, to the second, as ISO 8601 in UTC."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class RecordError(ValueError):
    """What is wrong with a record, in one sentence."""


@dataclass(frozen=True)
class Try:
    """One answer and how it was judged. `time` is ISO 8601 with its time zone; `answer` is as it was given."""

    time: str
    answer: Any
    variant: str
    passed: bool
    score: float
    misconception: str | None
    message: str


@dataclass
class Progress:
    """What a learner did in one exercise: `hints` shown, tries there have been, and those that are kept."""

    hints: int = 0
    count: int = 0
    tries: list[Try] = field(default_factory=list)

    @property
    def passed(self) -> bool:
        """Whether any try passed."""
        return any(each.passed for each in self.tries)

    @property
    def score(self) -> float:
        """The best score so far."""
        return max((each.score for each in self.tries), default=0.0)

    def add(self, new: Try) -> None:
        """Add a try; forget a middle one when there are too many."""
        self.count = min(self.count + 1, _MAX_COUNT)
        self.tries.append(new)
        self.thin(MAX_TRIES)

    def thin(self, most: int) -> None:
        """Forget tries until there are at most `most` (3 or more); the first, the first that passed and the latest stay."""
        while len(self.tries) > most:
            passing = next((index for index, each in enumerate(self.tries) if each.passed), None)
            del self.tries[1 if passing != 1 else 2]


@dataclass
class Record:
    """All that is kept of one learner."""

    nickname: str = GUEST
    exercises: dict[str, Progress] = field(default_factory=dict)

    def of(self, key: str) -> Progress:
        """Return the progress in exercise `key`, a blank one if it was not begun (it is kept only once something is added)."""
        return self.exercises.get(key) or Progress()

    def add_try(
        self, key: str, answer: Any, variant: Mapping[str, Any], verdict: Verdict, clock: Callable[[], str] = now
    ) -> None:
        """Note an answer and its verdict. Raises RecordError, and leaves the record as it was, if it cannot be kept."""
        new = Try(
            clock(), _answer(key, answer), variant_name(variant), verdict.passed, verdict.score, verdict.misconception,
            verdict.message[:MAX_MESSAGE],
        )
        self.exercises.setdefault(key, Progress()).add(new)
        self.fit()

    def fit(self) -> None:
        """Forget middle tries of the exercises with the most text until the whole can be read back."""
        if len(self.text()) > MAX_TEXT:
            for progress in sorted(self.exercises.values(), key=lambda progress: -len(str(progress.tries))):
                progress.thin(3)
                if len(self.text()) <= MAX_TEXT:
                    return

    def add_hint(self, key: str, available: int) -> None:
        """Note that one hint more was shown, up to those `available`."""
        progress = self.exercises.setdefault(key, Progress())
        progress.hints = min(progress.hints + 1, available)

    @property
    def begun(self) -> bool:
        """Whether there is anything in it."""
        return any(progress.count or progress.hints for progress in self.exercises.values())

    def data(self) -> dict[str, Any]:
        """Return the record as JSON-able data."""
        exercises = {
            key: {"hints": progress.hints, "count": progress.count, "tries": [vars(each) for each in progress.tries]}
            for key, progress in self.exercises.items()
        }
        return {"schema": SCHEMA, "version": VERSION, "nickname": self.nickname, "exercises": exercises}

    def text(self) -> str:
        """Return the record as JSON text, in ASCII, so that it survives any road it is sent by."""
        return json.dumps(self.data(), allow_nan=False) + "\n"

    def filename(self) -> str:
        """Return a plain name for a file with this record."""
        plain = re.sub(r"[^a-z0-9]+", "-", self.nickname.casefold()).strip("-")
        return f"coil-course-{plain or hashlib.sha256(self.nickname.encode()).hexdigest()[:8]}.json"


def variant_name(variant: Mapping[str, Any]) -> str:
    """Return eight hexadecimal digits that stand for a variant."""
    return hashlib.sha256(json.dumps(variant, sort_keys=True).encode()).hexdigest()[:8]


def checked_nickname(value: Any) -> str:
    """Return a nickname without the spaces around it; RecordError if it is none."""
    if not isinstance(value, str) or not value.strip():
        raise RecordError("nickname: there is none; give a name of up to 40 characters.")
    name = value.strip()
    if len(name) > 40 or not name.isprintable():
        raise RecordError("nickname: it is longer than 40 characters or holds characters that cannot be printed.")
    return name


# --------------------------------------------------------------------------------------------------- reading
def parse(text: str) -> Record:
    """Return the record in a JSON text; RecordError says what is wrong with it."""
    if not isinstance(text, str):
        raise RecordError("The record is not a text.")
    if len(text) > MAX_TEXT:
        raise RecordError(f"The record is longer than {MAX_TEXT} characters, which no course makes it.")
    try:
        return from_data(json.loads(text))
    except json.JSONDecodeError as error:
        raise RecordError(f"The record is not JSON: line {error.lineno}, column {error.colno} cannot be read.") from None
    except RecursionError:
        raise RecordError("The record is nested too deep to be one of this course.") from None
    except RecordError:
        raise
    except ValueError:  # a number of thousands of digits
        raise RecordError("The record holds a number that cannot be read.") from None


def from_data(data: Any) -> Record:
    """Return the record in JSON-able `data`, brought up to this version; RecordError says what is wrong with it."""
    _fields("The record", data, ("schema",), extra=True)
    if data["schema"] != SCHEMA:
        raise RecordError(f"schema: this is not a progress record of this course (it should say {SCHEMA}).")
    data = _migrated(data)
    _fields("The record", data, ("schema", "version", "nickname", "exercises"))
    record = Record(checked_nickname(data["nickname"]))
    exercises = data["exercises"]
    if not isinstance(exercises, dict):
        raise RecordError("exercises: this is not a table of exercises.")
    if len(exercises) > MAX_EXERCISES:
        raise RecordError(f"exercises: there are more than {MAX_EXERCISES}.")
    for key, given in exercises.items():
        if len(key) > 60 or not _KEY.fullmatch(key):
            raise RecordError(f"exercises: {_short(key)} is not the key of an exercise.")
        record.exercises[key] = _progress(f"exercises / {key}", given)
    return record


def _migrated(data: dict[str, Any]) -> dict[str, Any]:
    version = data.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise RecordError("version: this is not the version number of a progress record.")
    if version > VERSION:
        raise RecordError(f"version: {_short(version)} is of a newer course than this one, which reads records up to {VERSION}.")
    while version < VERSION:
        if version not in MIGRATIONS:
            raise RecordError(f"version: records of version {version} cannot be read any more.")
        data = MIGRATIONS[version](dict(data))
        version += 1
        data["version"] = version
    return data


def _progress(where: str, given: Any) -> Progress:
    _fields(where, given, ("hints", "count", "tries"))
    tries = given["tries"]
    if not isinstance(tries, list) or len(tries) > MAX_TRIES:
        raise RecordError(f"{where} / tries: this is not a list of up to {MAX_TRIES} tries.")
    return Progress(
        _count(f"{where} / hints", given["hints"], 0, 20),
        _count(f"{where} / count", given["count"], len(tries), _MAX_COUNT if tries else 0),
        [_try(f"{where} / tries / {number}", each) for number, each in enumerate(tries, 1)],
    )


def _try(where: str, given: Any) -> Try:
    _fields(where, given, ("time", "answer", "variant", "passed", "score", "misconception", "message"))
    passed, score, belief = given["passed"], given["score"], given["misconception"]
    if not isinstance(passed, bool):
        raise RecordError(f"{where} / passed: this is neither true nor false.")
    if isinstance(score, bool) or not isinstance(score, (int, float)) or not 0 <= score <= 1:
        raise RecordError(f"{where} / score: {_short(score)} is not a number from 0 to 1.")
    if passed != (score == 1):
        raise RecordError(f"{where} / score: a score of {score:g} does not go with passed being {str(passed).lower()}.")
    if belief is not None and (not isinstance(belief, str) or len(belief) > 60 or not belief.isprintable()):
        raise RecordError(f"{where} / misconception: this is not the key of one.")
    if passed and belief is not None:
        raise RecordError(f"{where} / misconception: an answer that passed holds none.")
    _time(f"{where} / time", given["time"])
    if not isinstance(given["variant"], str) or not re.fullmatch("[0-9a-f]{8}", given["variant"]):
        raise RecordError(f"{where} / variant: this is not eight hexadecimal digits.")
    if not isinstance(given["message"], str) or len(given["message"]) > MAX_MESSAGE:
        raise RecordError(f"{where} / message: this is not a text of up to {MAX_MESSAGE} characters.")
    return Try(given["time"], _answer(where, given["answer"]), given["variant"], passed, float(score), belief, given["message"])


def _answer(where: str, answer: Any) -> Any:
    """Return a copy of `answer`; RecordError if it is no JSON, or too long or nested too deep to be kept."""
    if _deeper(answer, _MAX_DEPTH):
        raise RecordError(f"{where} / answer: it is nested more than {_MAX_DEPTH} deep.")
    try:
        text = json.dumps(answer, allow_nan=False)
        if len(text) <= MAX_ANSWER:
            return json.loads(text)
    except (TypeError, ValueError):
        raise RecordError(f"{where} / answer: it holds something that cannot be kept as JSON.") from None
    raise RecordError(f"{where} / answer: it is longer than {MAX_ANSWER} characters.")


def _deeper(thing: Any, levels: int) -> bool:
    if not isinstance(thing, (dict, list, tuple)):
        return False
    inner = thing.values() if isinstance(thing, dict) else thing
    return levels == 0 or any(_deeper(each, levels - 1) for each in inner)


def _time(where: str, value: Any) -> None:
    with contextlib.suppress(ValueError):
        if isinstance(value, str) and len(value) <= 40:
            moment = datetime.fromisoformat(value)
            if moment.tzinfo is not None and 2000 < moment.year < 3000:
                return
    raise RecordError(f"{where}: {_short(value)} is not a date and time with its time zone (ISO 8601).")


def _count(where: str, value: Any, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise RecordError(f"{where}: {_short(value)} is not a whole number from {low} to {high}.")
    return value


def _fields(where: str, given: Any, names: tuple[str, ...], extra: bool = False) -> None:
    """Check that `given` is a table with exactly the fields `names` (or, with `extra`, at least those)."""
    if not isinstance(given, dict):
        raise RecordError(f"{where}: this is not a table of fields.")
    for name in names:
        if name not in given:
            raise RecordError(f"{where}: the field {name} is missing.")
    unknown = next((name for name in given if name not in names), None)
    if unknown is not None and not extra:
        raise RecordError(f"{where}: there is no field named {_short(unknown)}.")


def _short(value: Any) -> str:
    if isinstance(value, int) and abs(value) > 10**12:
        return "this"
    if isinstance(value, float) and not math.isfinite(value):
        return "this"
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


# ---------------------------------------------------------------------------------------------------- merging
def merged(ours: Record, theirs: Record) -> Record:
    """Return one record of one learner with the tries of both: two notebooks open side by side each keep their own.

    Tries that are equal are one; they are put in the order of their times. `ours` gives the nickname.
    """
    result = Record(ours.nickname)
    for key in dict.fromkeys([*ours.exercises, *theirs.exercises]):
        a, b = ours.of(key), theirs.of(key)
        tries = list(a.tries)
        tries += [each for each in b.tries if each not in a.tries]
        tries.sort(key=lambda each: datetime.fromisoformat(each.time))
        forgotten = max(a.count - len(a.tries), b.count - len(b.tries))
        progress = Progress(max(a.hints, b.hints), min(len(tries) + forgotten, _MAX_COUNT), tries)
        progress.thin(MAX_TRIES)
        result.exercises[key] = progress
    result.fit()
    return result


# ------------------------------------------------------------------------------------------------------- files
class RecordFile:
    """A record on disk that survives a crash, a second notebook, and being damaged.

    `notes` collects sentences for the learner: what was set aside and where it is now. Nothing is ever deleted.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        self.notes: list[str] = []

    def load(self) -> Record:
        """Return the record on disk, a blank one where there is none; a damaged file is renamed, and a note says so."""
        return self._read() or Record()

    def save(self, record: Record) -> Record:
        """Write `record`, together with what another notebook has written since, and return what was written.

        A file of another learner is set aside first. Raises OSError where the disk refuses.
        """
        there = self._read()
        if there is not None and there.begun:
            if there.nickname.casefold() == record.nickname.casefold():
                record = merged(record, there)
            else:
                self._set_aside("of-" + there.filename().removeprefix("coil-course-").removesuffix(".json"))
                self.notes.append(f"The record of {there.nickname} was kept beside this one.")
        write_atomically(self.path, record.text())
        return record

    def _read(self) -> Record | None:
        try:
            if self.path.stat().st_size > 4 * MAX_TEXT:  # bytes; a character takes up to four
                raise RecordError(f"The record is longer than {MAX_TEXT} characters, which no course makes it.")
            return parse(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return None
        except UnicodeDecodeError:
            self._damaged("The record is not text in UTF-8.")
        except RecordError as error:
            self._damaged(str(error))
        return None

    def _damaged(self, why: str) -> None:
        name = self._set_aside("damaged")
        self.notes.append(f"The progress file could not be read, so it was set aside as {name} and a new one begun. {why}")

    def _set_aside(self, word: str) -> str:
        """Rename the file to a name that is not taken yet; return that name."""
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
        for number in range(1, 1000):
            name = f"{self.path.stem}-{word}-{stamp}-{number}{self.path.suffix}"
            if not self.path.with_name(name).exists():
                os.replace(self.path, self.path.with_name(name))
                return name
        raise OSError("There are too many records that were set aside here.")


def write_atomically(path: Path, text: str) -> None:
    """Write `text` so that, whenever the machine stops, the file holds either all of the old text or all of the new."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.tmp")
    try:
        with open(temporary, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    with contextlib.suppress(OSError):  # not every system lets a folder be opened; there the rename has to do
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
