"""A learner's progress record: what was tried, when, and how it went.

The record is one JSON text with a named, versioned schema:

    {"schema": "coil-course-progress", "version": 4, "nickname": "Robin",
     "exercises": {"05-follow-travel": {"hints": 1, "count": 2, "passed_at": 2, "shown": false, "words": "", "lines": [],
        "tries": [
        {"time": "2031-05-08T19:30:00+00:00", "answer": {"value": "0,21", "unit": "mm"}, "variant": "5f2c08a1",
         "passed": true, "score": 1.0, "misconception": null, "message": "Right. ..."}]}}}

`count` is the number of tries there have been, `passed_at` the number of the first of them that passed (null where none did):
whatever is tried after it, that pass stands. `shown` says that the way was shown (of a prediction: what happened), after which no
try counts; `words` are the learner's own, beside a prediction. Of many tries the first, the first that passed and the latest are
kept. `lines` are those of a log that was begun and not handed in yet: on a bench what is done is done, and a page that is opened
again shows them as they were.
`variant` names the learner's variant at that time, so that a question that has changed since can be told from a forged answer.
Whatever comes from outside passes `parse`, which names what is wrong in one sentence. Nothing in a record is ever run.
How a record is kept on a disk is in record_file.py.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from lessons.contracts import Verdict

SCHEMA = "coil-course-progress"
VERSION = 4
GUEST = "guest"

MAX_TEXT = 2_000_000
"""Characters of a whole record."""
MAX_ANSWER = 10_000
"""Characters of one answer, as JSON."""
MAX_MESSAGE = 1_000
MAX_WORDS = 500
"""Characters of a learner's own words beside a prediction."""
MAX_LINES = 30
"""Lines of a log that was begun."""
_MAX_DEPTH = 8
MAX_TRIES = 20
"""Tries kept for one exercise."""
MAX_EXERCISES = 500
_MAX_COUNT = 1_000_000
_KEY = re.compile(r"[0-9]{2}-[a-z0-9]+(-[a-z0-9]+)*")


def _with_passed_at(data: dict[str, Any]) -> dict[str, Any]:
    """Version 1 did not keep the number of the try that passed first; it follows from the tries unless some are forgotten.

    Tries that were forgotten came before it where it is later than second; where it is second, they may have come after it
    too, and then this says the latest that it can have been. What is not the form of a record passes untouched, to be named.
    """
    exercises = data.get("exercises")
    if not isinstance(exercises, dict):
        return data
    changed = dict(exercises)
    for key, given in exercises.items():
        tries, count = (given.get("tries"), given.get("count")) if isinstance(given, dict) else (None, None)
        if isinstance(tries, list) and isinstance(count, int) and all(isinstance(each, dict) for each in tries):
            place = next((number for number, each in enumerate(tries) if each.get("passed") is True), None)
            at = None if place is None else 1 if place == 0 else place + 1 + count - len(tries)
            changed[key] = {"hints": given.get("hints"), "count": count, "passed_at": at, **given}
    return {**data, "exercises": changed}


def _with_shown(data: dict[str, Any]) -> dict[str, Any]:
    """Version 2 could neither show the way nor keep words."""
    exercises = data.get("exercises")
    if not isinstance(exercises, dict):
        return data
    more = {"shown": False, "words": ""}
    return {**data, "exercises": {key: {**more, **one} if isinstance(one, dict) else one for key, one in exercises.items()}}


def _with_lines(data: dict[str, Any]) -> dict[str, Any]:
    """Version 3 forgot a log that was not handed in."""
    exercises = data.get("exercises")
    if not isinstance(exercises, dict):
        return data
    return {**data, "exercises": {key: {"lines": [], **one} if isinstance(one, dict) else one for key, one in exercises.items()}}


MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _with_passed_at, 2: _with_shown, 3: _with_lines}
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
    """What a learner did in one exercise: `hints` shown, tries there have been, and those that are kept.

    `passed_at` is the number of the first try that passed, from 1; None where none has. `shown`: the learner was shown the way.
    `words`: what the learner wrote beside a prediction. `lines`: of a log that was begun and not handed in yet.
    """

    hints: int = 0
    count: int = 0
    tries: list[Try] = field(default_factory=list)
    passed_at: int | None = None
    shown: bool = False
    words: str = ""
    lines: list[str] = field(default_factory=list)

    @property
    def passed(self) -> bool:
        """Whether any try passed."""
        return self.passed_at is not None

    @property
    def standing(self) -> Try | None:
        """The try by which this learner stands: the first that passed, else the latest; None where there is none."""
        return next((each for each in self.tries if each.passed), self.tries[-1] if self.tries else None)

    @property
    def score(self) -> float:
        """The best score so far."""
        return max((each.score for each in self.tries), default=0.0)

    def add(self, new: Try) -> None:
        """Add a try; forget a middle one when there are too many."""
        self.count = min(self.count + 1, _MAX_COUNT)
        if new.passed and self.passed_at is None:
            self.passed_at = self.count
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
        self.hand_in(key)
        self.fit()

    def write(self, key: str, lines: Any) -> None:
        """Keep the lines of a log that is not handed in yet. Those that stand already stay: RecordError where one is gone."""
        new, old = _lines(key, lines), self.of(key).lines
        if new[:len(old)] != old:
            raise RecordError(f"{key} / lines: what stands on the sheet stays; these are other lines than the {len(old)} before.")
        if new:
            self.exercises.setdefault(key, Progress()).lines = new

    def hand_in(self, key: str) -> None:
        """End the log of exercise `key`: it was judged, and the next one may be another."""
        if self.of(key).lines:
            self.exercises[key].lines = []

    def show_way(self, key: str) -> None:
        """Note that the learner was shown the way of exercise `key`: no try that comes after it counts."""
        self.exercises.setdefault(key, Progress()).shown = True

    def keep_words(self, key: str, words: Any) -> None:
        """Keep the learner's own words beside a prediction. RecordError if they are no text, or too long."""
        self.exercises.setdefault(key, Progress()).words = _words(key, words)

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
        return any(progress.count or progress.hints or progress.shown or progress.lines for progress in self.exercises.values())

    def data(self) -> dict[str, Any]:
        """Return the record as JSON-able data."""
        exercises = {
            key: {"hints": progress.hints, "count": progress.count, "passed_at": progress.passed_at,
                  "shown": progress.shown, "words": progress.words, "lines": list(progress.lines),
                  "tries": [vars(each) for each in progress.tries]}
            for key, progress in self.exercises.items()
        }
        return {"schema": SCHEMA, "version": VERSION, "nickname": self.nickname, "exercises": exercises}

    def text(self) -> str:
        """Return the record as JSON text, in ASCII, so that it survives any road it is sent by."""
        return json.dumps(self.data(), allow_nan=False) + "\n"

    def plain_name(self) -> str:
        """Return the nickname in lower-case letters, digits and dashes, for the name of a file."""
        plain = re.sub(r"[^a-z0-9]+", "-", self.nickname.casefold()).strip("-")
        return plain or hashlib.sha256(self.nickname.encode()).hexdigest()[:8]

    def filename(self) -> str:
        """Return a plain name for a file with this record."""
        return f"coil-course-{self.plain_name()}.json"

    def is_of(self, nickname: str) -> bool:
        """Say whether this is the record of the learner with this nickname; great and small letters are one."""
        return self.nickname.casefold() == nickname.casefold()

    def copy(self) -> Record:
        """Return a record that is equal and shares nothing that changes."""
        return Record(self.nickname, {
            key: Progress(one.hints, one.count, list(one.tries), one.passed_at, one.shown, one.words, list(one.lines))
            for key, one in self.exercises.items()
        })


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
    _fields(where, given, ("hints", "count", "passed_at", "shown", "words", "lines", "tries"))
    tries = given["tries"]
    if not isinstance(tries, list) or len(tries) > MAX_TRIES:
        raise RecordError(f"{where} / tries: this is not a list of up to {MAX_TRIES} tries.")
    progress = Progress(
        _count(f"{where} / hints", given["hints"], 0, 20),
        _count(f"{where} / count", given["count"], len(tries), _MAX_COUNT if tries else 0),
        [_try(f"{where} / tries / {number}", each) for number, each in enumerate(tries, 1)],
    )
    progress.passed_at = _passed_at(f"{where} / passed_at", given["passed_at"], progress)
    if not isinstance(given["shown"], bool):
        raise RecordError(f"{where} / shown: this is neither true nor false.")
    progress.shown, progress.words = given["shown"], _words(where, given["words"])
    progress.lines = _lines(where, given["lines"])
    return progress


def _lines(where: str, lines: Any) -> list[str]:
    if not isinstance(lines, (list, tuple)) or len(lines) > MAX_LINES:
        raise RecordError(f"{where} / lines: this is not a list of up to {MAX_LINES} lines.")
    if not all(isinstance(line, str) and 0 < len(line) <= 60 and line.isprintable() for line in lines):
        raise RecordError(f"{where} / lines: not every line is the name of what was done.")
    return list(lines)


def _words(where: str, words: Any) -> str:
    if not isinstance(words, str) or len(words) > MAX_WORDS:
        raise RecordError(f"{where} / words: this is not a text of up to {MAX_WORDS} characters.")
    return words


def _passed_at(where: str, value: Any, progress: Progress) -> int | None:
    """Return the number of the try that passed first, if it can be that: the kept tries leave it some room, and no more."""
    place = next((number for number, each in enumerate(progress.tries, 1) if each.passed), None)
    if place is None:
        if value is not None:
            raise RecordError(f"{where}: no try of this exercise passed, so this is null.")
        return None
    forgotten = progress.count - len(progress.tries)
    return _count(where, value, place, 1 if place == 1 else place + forgotten)


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
    """Return one record of one learner with the tries of both, such as an earlier and a later export.

    Tries that are equal are one; they are put in the order of their times. `ours` gives the nickname. Where the one came of the
    other by further tries, the outcome is the later one. How many tries were forgotten can only be guessed where both went on
    by themselves; two notebooks at one record use `onto`, which has to guess nothing.
    """
    result = Record(ours.nickname)
    for key in dict.fromkeys([*ours.exercises, *theirs.exercises]):
        result.exercises[key] = _merged(ours.of(key), theirs.of(key))
    result.fit()
    return result


def _merged(a: Progress, b: Progress) -> Progress:
    tries = sorted([*a.tries, *(each for each in b.tries if each not in a.tries)], key=_moment)
    count = min(max(len(tries), a.count + _beyond(a, b), b.count + _beyond(b, a)), _MAX_COUNT)
    progress = Progress(max(a.hints, b.hints), count, tries, shown=a.shown or b.shown, words=a.words or b.words,
                        lines=_unhanded(a, b, tries))
    if a.passed or b.passed:
        progress.passed_at = _first_pass(a, b, progress)
    progress.thin(MAX_TRIES)
    return progress


def _unhanded(a: Progress, b: Progress, tries: list[Try]) -> list[str]:
    """Return the longer of two logs that were begun; none where the other record has it handed in already."""
    lines = max(a.lines, b.lines, key=len)
    return [] if any(list(each.answer[:len(lines)]) == lines for each in tries if isinstance(each.answer, list)) else lines


def _first_pass(a: Progress, b: Progress, both: Progress) -> int:
    """Return the number of the first pass among the tries of `both`: its number in its own record, and the other's before it."""
    place = next(number for number, each in enumerate(both.tries) if each.passed)
    first = both.tries[place]
    number, owner = min(((one.passed_at, one) for one in (a, b) if one.passed_at and one.standing == first), key=lambda of: of[0])
    others = sum(1 for each in both.tries[:place] if each not in owner.tries)
    if any(each in a.tries for each in b.tries):  # of one history: the owner may have forgotten them
        others = max(0, others - (owner.count - len(owner.tries)))
    return max(place + 1, min(number + others, 1 if place == 0 else place + 1 + both.count - len(both.tries)))


def _beyond(a: Progress, b: Progress) -> int:
    """Return how many tries `b` has beyond those of `a`, as far as can be known: `a` may have forgotten some of them."""
    new = [each for each in b.tries if each not in a.tries]
    if len(new) == len(b.tries):  # not one in common: two histories
        return b.count
    forgotten, gap = a.count - len(a.tries), [_moment(each) for each in a.tries]
    lost = sum(1 for each in new if gap and gap[0] <= _moment(each) <= gap[-1])
    return len(new) - min(lost, forgotten)


def _moment(one: Try) -> datetime:
    return datetime.fromisoformat(one.time)


def onto(there: Record, base: Record, ours: Record) -> Record:
    """Return `there` with all that was added to `ours` since it was `base`: the work of two notebooks, whole and in order.

    there: the record as it is now; base: as `ours` began, at an earlier moment of the same record. All are of one learner. What
    is added comes after what is there, and a pass that is there stays the first.
    """
    result = there.copy()
    result.nickname = ours.nickname
    for key, progress in ours.exercises.items():
        before, after = base.of(key), result.exercises.setdefault(key, Progress())
        after.hints = max(after.hints, progress.hints)
        after.shown, after.words = after.shown or progress.shown, after.words or progress.words
        if progress.lines != before.lines:
            after.lines = list(progress.lines)
        added = progress.count - before.count
        new = progress.tries[max(0, len(progress.tries) - added) :] if added > 0 else []
        after.count = min(after.count + max(0, added - len(new)), _MAX_COUNT)  # of very many, the middle ones are forgotten
        for each in new:
            after.add(each)
    result.fit()
    return result
