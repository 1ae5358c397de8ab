"""Grade a class: re-judge the records of a folder, write a CSV and a page. `python -m lessons.grade FOLDER [--out FILE.csv]`.

With --out the page stands beside the table, under its name with .html: where the class got stuck (lessons/class_page.py).

Every recorded answer is judged again by the course as it is here, whatever the record says of it, in the learner's own
variant (which follows from the nickname). Nothing out of a record is ever run: the answers of function exercises keep the
verdict that is recorded, and their rows say so. A row for each exercise that a learner has begun:

    learner, exercise, first try (yes, no), tries, hints, passed (yes, no, unchecked), misconception (keys, by "; "), judged, file

`judged` is one of
    again      every kept answer was judged again here
    recorded   a function: the verdict is the record's own
    another    some answers are said to be to another question than this learner has here (the course has changed since, the
               record is somebody else's, or it was forged): they were judged as answers to the learner's own question
    unknown    this course has no such exercise

A pass that only the record vouches for, in one of the last two, is no pass: it stands in the table as "unchecked".

Status: 0 all well; 1 some records are damaged or forged (each is named, the rest is graded); 2 nothing could be graded.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from coilmodel.durable import put
from coilmodel.progress import bar
from lessons.class_page import TITLE, Row, class_page, in_words, tallies
from lessons.contracts import Exercise, Verdict
from lessons.exercises import EXERCISES
from lessons.exercises.kinds import NotAnAnswer, seed_of
from lessons.exercises.learner_code import code_never_runs
from lessons.record import Progress, Record, RecordError, Try, merged, parse, variant_name
from lessons.record_file import NoFile, text_of, write_text

COLUMNS = ("learner", "exercise", "first try", "tries", "hints", "passed", "misconception", "judged", "file")
SENTENCES = 40  # of those about records, printed one by one; beyond that they are counted


def cells(row: Row) -> list[str]:
    """Return a row as it stands in the CSV."""
    words = [row.learner, row.exercise, _yes(row.first_try), str(row.tries), str(row.hints),
             "unchecked" if row.claimed else "shown" if row.shown and not row.passed else _yes(row.passed)]
    return [_harmless(cell) for cell in (*words, "; ".join(row.misconceptions), row.judged, row.file)]


@dataclass
class Graded:
    """The rows of a class; `troubles` name damaged and forged records, `notes` what else should be known, a sentence each."""

    rows: list[Row] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    records: int = 0


# ------------------------------------------------------------------------------------------------------- records
def record_files(folder: Path) -> list[Path]:
    """Return what is named like a record in a folder and in those within it, in order; hidden ones are none of the class.

    Links are not followed, since one may lead out of the folder or round in a circle, but those to folders are named too:
    `read_record` says of each thing that is no plain file what it is.
    """
    found: list[Path] = []
    for top, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [Path(top, name) for name in names if name.lower().endswith(".json") and not name.startswith(".")]
        found += [Path(top, name) for name in folders if os.path.islink(os.path.join(top, name))]
    return sorted(found)


def read_record(path: Path) -> Record:
    """Return the record in a file; RecordError says in a sentence why there is none. It never waits for a pipe or a device."""
    try:
        return parse(text_of(path, follow=False))
    except OSError as error:
        raise RecordError(f"The file cannot be read ({error.strerror or type(error).__name__}).") from None


def _share_a_try(one: Record, other: Record) -> bool:
    """Return whether two records of one nickname are of one person: an earlier and a later export have tries in common."""
    return any(each in other.of(key).tries for key, progress in one.exercises.items() for each in progress.tries)


def together(records: Iterable[tuple[str, Record]], said: Callable[[str], None]) -> list[tuple[str, Record]]:
    """Put exports of one learner's record together, and say where two people seem to have taken one nickname.

    records: (file, record) pairs; said: takes each sentence. Returns such pairs.
    """
    result: list[tuple[str, Record]] = []
    for file, record in records:
        same = [place for place, (_, other) in enumerate(result) if other.nickname.casefold() == record.nickname.casefold()]
        place = next((place for place in same if _share_a_try(result[place][1], record)), None)
        if place is not None:
            said(f"{file}: another export of the record in {result[place][0]}; the two are graded as one.")
            result[place] = (f"{result[place][0]} + {file}", merged(result[place][1], record))
            continue
        if same:
            first = result[same[0]][0]
            said(f"{file}: the nickname {record.nickname} is in {first} too, with other answers; both have their rows.")
        result.append((file, record))
    return result


# ------------------------------------------------------------------------------------------------------- judging
def judged_again(exercise: Exercise, answer: object, variant: Mapping[str, object]) -> Verdict:
    """Return the verdict on a recorded answer; one that cannot be judged does not pass."""
    try:
        with code_never_runs():
            return exercise.judge(answer, variant)
    except Exception as error:  # a judge raises for no answer; if one does after all, the class is graded all the same
        return NotAnAnswer(False, 0.0, f"The answer could not be judged ({type(error).__name__}).")


def grade_exercise(
    file: str, record: Record, key: str, exercises: Mapping[str, Exercise], said: Callable[[str], None]
) -> Row:
    """Return the row of one exercise in a record. `said` takes a sentence for each try whose recorded verdict is not so.

    The learner's own question follows from nickname and key, and every answer is held against it, whatever question the record
    says it was to: a wrong `variant` would otherwise keep any verdict out of reach.
    """
    progress, exercise = record.of(key), exercises.get(key)
    if exercise is None:
        return _row(file, record, key, progress, "unknown", ())
    variant = exercise.variant(seed_of(record.nickname, key))
    own = [each.variant == variant_name(variant) for each in progress.tries]
    if exercise.kind == "function":
        verdicts: list[Try | Verdict] = [each for each, known in zip(progress.tries, own, strict=True) if known]
        return _row(file, record, key, progress, "recorded" if all(own) else "another", verdicts)
    again = [judged_again(exercise, each.answer, variant) for each in progress.tries]
    for number, (each, verdict, known) in enumerate(zip(progress.tries, again, own, strict=True), 1):
        if known and each.passed != verdict.passed:
            says, does = ("passed", "does not pass") if each.passed else ("not passed", "passes")
            said(f"{file}: {key}, answer {number}: the record says {says}, but the answer {does}; "
                 "the record was altered, or judged by another version of the course.")
    return _row(file, record, key, progress, "again" if all(own) else "another", again)


def _row(file: str, record: Record, key: str, progress: Progress, judged: str, verdicts: Sequence[Try | Verdict]) -> Row:
    beliefs = dict.fromkeys(each.misconception for each in verdicts if each.misconception)
    first = len(verdicts) == len(progress.tries) > 0 and verdicts[0].passed
    passed = any(each.passed for each in verdicts)
    claimed = judged in ("another", "unknown") and progress.passed and not passed
    return Row(record.nickname, key, first, progress.count, progress.hints, passed, tuple(beliefs), judged, file, claimed,
               progress.shown and not progress.passed)


def grade_record(file: str, record: Record, exercises: Mapping[str, Exercise], graded: Graded) -> None:
    """Add the rows of one record to `graded`, and what must be said of it."""
    rows = [grade_exercise(file, record, key, exercises, graded.troubles.append) for key in sorted(record.exercises)]
    graded.rows += rows
    unknown = [row for row in rows if row.judged == "unknown"]
    if unknown:
        graded.notes.append(f"{file}: this course has no exercise {_some(unknown)}{_unchecked(unknown)}.")
    another = [row for row in rows if row.judged == "another"]
    if not another:
        return
    if len(another) >= 3 and len(another) == sum(1 for row in rows if row.judged != "unknown" and row.tries):
        graded.troubles.append(
            f"{file}: not one answer is to the questions of {record.nickname}; it is another learner's record under this "
            f"nickname, or of another version of the course{_unchecked(another)}."
        )
    else:
        graded.troubles.append(f"{file}: the answers to {_some(another)} name another question than {record.nickname} has there; "
                               f"the record was altered, or the course has changed since{_unchecked(another)}.")


def _some(rows: Sequence[Row]) -> str:
    named = ", ".join(row.exercise for row in rows[:5])
    return named if len(rows) <= 5 else f"{named} and {len(rows) - 5} more"


def _unchecked(rows: Sequence[Row]) -> str:
    """Return the end of a sentence that says how many passes the record alone vouches for; nothing where there are none."""
    count = sum(row.claimed for row in rows)
    return f"; {count} {'pass that it claims is' if count == 1 else 'passes that it claims are'} unchecked" if count else ""


def grade(
    folder: Path, exercises: Mapping[str, Exercise] | None = None, progress: Callable[[int, int, str], None] | None = None
) -> Graded:
    """Return the rows of all records in `folder`, and the sentences about them.

    exercises: by key, those of the course where None; progress: called with (records done, of how many, file) after each.
    """
    known = EXERCISES if exercises is None else exercises
    graded, records = Graded(), []
    for path in record_files(folder):
        name = path.relative_to(folder).as_posix()
        try:
            records.append((name, read_record(path)))
        except NoFile as error:
            graded.troubles.append(f"{name}: skipped. {error}")
        except RecordError as error:
            graded.troubles.append(f"{name}: damaged, not graded. {error}")
    graded.records = len(records)
    learners = together(records, graded.notes.append)
    for number, (name, record) in enumerate(learners, 1):
        grade_record(name, record, known, graded)
        if progress:
            progress(number, len(learners), name)
    return graded


# ------------------------------------------------------------------------------------------------------ the table
def _yes(verdict: bool) -> str:
    return "yes" if verdict else "no"


def _harmless(cell: str) -> str:
    """A spreadsheet runs a cell that begins with one of these as a formula; a nickname must not be able to be one."""
    return "'" + cell if cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


def as_csv(rows: Sequence[Row]) -> str:
    """Return the table as text, one row a line, in the order of learners and exercises."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(cells(row) for row in sorted(rows, key=lambda row: (row.learner.casefold(), row.file, row.exercise)))
    return text.getvalue()


# --------------------------------------------------------------------------------------------------- command line
def csv_name(text: str) -> Path:
    """Read the name of the table to write, for argparse: only .csv, so that no record can be overwritten by a slip."""
    if not text.lower().endswith(".csv"):
        raise argparse.ArgumentTypeError(f"{text!r} is not the name of a CSV file; it should end in .csv")
    return Path(text)


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="grade", description="Re-judge the progress records of a class and write a CSV.")
    top.add_argument("folder", metavar="FOLDER", type=Path, help="where the records are, JSON files as learners save them")
    top.add_argument("--out", metavar="FILE.csv", type=csv_name,
                     help="where the table goes, and beside it the class's page, FILE.html (else the table to standard output)")
    return top


def main(words: list[str] | None = None) -> int:
    """Carry out one command line and return its status (see above)."""
    for stream in (sys.stdout, sys.stderr):  # a nickname may have letters that an old console lacks
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    options = parser().parse_args(words)
    if not options.folder.is_dir():
        print(f"{options.folder}: there is no such folder.", file=sys.stderr)
        return 2
    graded = grade(options.folder, progress=lambda done, of, name: bar("Records graded", done, of, "records", 1))
    for said in (graded.notes, graded.troubles):
        for sentence in said[:SENTENCES]:
            print(sentence, file=sys.stderr)
        if len(said) > SENTENCES:
            print(f"... and {len(said) - SENTENCES} more sentences like these.", file=sys.stderr)
    if not graded.records:
        print(f"{options.folder}: there is no progress record in it that can be read.", file=sys.stderr)
        return 2
    table = as_csv(graded.rows)
    if options.out is None:
        sys.stdout.write(table)
    else:
        try:
            write_text(options.out, table)
            page = options.out.with_suffix(".html")
            if not put(page, class_page(graded.rows, EXERCISES, graded.troubles).encode(), f"<title>{TITLE}</title>"):
                print(f"{page}: is no class's page and is left as it is; give the table another name.", file=sys.stderr)
                return 2
        except OSError as error:
            print(f"{options.out}: cannot be written ({error.strerror or type(error).__name__}).", file=sys.stderr)
            return 2
    for sentence in in_words(tallies(graded.rows, EXERCISES)):
        print(sentence, file=sys.stderr)
    where = f", written to {options.out} and {options.out.with_suffix('.html').name}" if options.out else ""
    look = f"{len(graded.troubles)} to look at" if graded.troubles else "nothing damaged or forged"
    print(f"{graded.records} records, {len(graded.rows)} rows{where}; {look}.", file=sys.stderr)
    return 1 if graded.troubles else 0


if __name__ == "__main__":
    sys.exit(main())
