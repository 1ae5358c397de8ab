"""Grading a class: some thirty generated records, good and bad, and what becomes of each."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lessons import grade
from lessons.class_page import Row
from lessons.engine import Engine
from lessons.exercises import EXERCISES, learner_code
from lessons.exercises.kinds import seed_of
from lessons.record import Record, merged

ROOT = Path(__file__).resolve().parents[2]

KEYS = ("00-switched-off", "00-sparks-in-all", "00-one-pulse", "00-one-column", "05-share-of-singles")
NAMES = tuple(f"Learner {number}" for number in range(20))

HOSTILE = """
def single_share(times, pulse, pulses):
    open({path!r}, "w").write("the record's code has run")
    while True:
        pass
open({path!r}, "w").write("the record's code has run")
__import__("os").system("touch {path}")
"""


def variant(nickname: str, key: str) -> dict[str, Any]:
    return EXERCISES[key].variant(seed_of(nickname, key))


def truth(nickname: str, key: str) -> Any:
    return EXERCISES[key].truth(variant(nickname, key))


def belief(nickname: str, key: str, number: int = 0) -> Any:
    return EXERCISES[key].misconceptions[number].answer(variant(nickname, key))


def engine_of(nickname: str) -> Engine:
    """Return an engine at which this learner sits: the records are made by the very code that makes real ones."""
    return Engine(Record(nickname))


def judge(engine: Engine, key: str, answer: Any) -> None:
    tree = engine.handle({"do": "judge", "key": key, "answer": answer}).tree
    assert "error" not in tree, tree


def good_record(nickname: str, wrong_first: bool = False) -> Record:
    """Return the record of a learner who passed all of KEYS, after a wrong answer and a hint each if `wrong_first`."""
    engine = engine_of(nickname)
    for key in KEYS:
        if wrong_first:
            judge(engine, key, belief(nickname, key))
            engine.handle({"do": "hint", "key": key})
        judge(engine, key, truth(nickname, key))
    return engine.record


def changed(record: Record, change: Callable[[dict[str, Any]], None]) -> str:
    """Return the text of a record after somebody has edited its JSON."""
    data = json.loads(record.text())
    change(data)
    return json.dumps(data)


def save(folder: Path, name: str, text: str | bytes) -> None:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)


def passes_all(data: dict[str, Any]) -> None:
    """Forge: every wrong answer is said to have passed."""
    for progress in data["exercises"].values():
        progress["passed_at"] = 1
        for each in progress["tries"]:
            each |= {"passed": True, "score": 1.0, "misconception": None}


@pytest.fixture(scope="module")
def klass(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A class: twenty good records, and one of each kind of trouble."""
    folder = tmp_path_factory.mktemp("class")
    for number, name in enumerate(NAMES):
        save(folder, f"group {number % 2}/{number:02}.json", good_record(name, wrong_first=number % 4 == 0).text())

    # Damaged, one way each.
    whole = good_record("Ash").text()
    save(folder, "cut-short.json", whole[: len(whole) // 2])
    save(folder, "empty.json", "")
    save(folder, "not-text.json", b"\xff\xfe\x00\x80")
    save(folder, "other.json", json.dumps({"schema": "somebody-else", "version": 1}))
    save(folder, "newer.json", changed(good_record("Elm"), lambda data: data.update(version=99)))
    save(folder, "deep.json", "[" * 100_000)
    save(folder, "huge.json", " " * 9_000_000)

    # Forged: a wrong answer said to be right; a right one said to be wrong; a blank said to be right.
    forger = engine_of("Fir")
    judge(forger, "00-switched-off", belief("Fir", "00-switched-off"))
    judge(forger, "00-sparks-in-all", truth("Fir", "00-sparks-in-all"))
    save(folder, "forged.json", changed(forger.record, passes_all))
    modest = engine_of("Gean")
    judge(modest, "00-switched-off", truth("Gean", "00-switched-off"))

    def fails(data: dict[str, Any]) -> None:
        data["exercises"]["00-switched-off"]["tries"][0] |= {"passed": False, "score": 0.0}
        data["exercises"]["00-switched-off"]["passed_at"] = None

    save(folder, "modest.json", changed(modest.record, fails))
    blank = engine_of("Hazel")
    judge(blank, "00-one-pulse", truth("Hazel", "00-one-pulse"))
    save(folder, "blank.json", changed(
        blank.record, lambda data: data["exercises"]["00-one-pulse"]["tries"][0].update(answer=None)))

    # Another's record under one's own nickname.
    save(folder, "borrowed.json", changed(good_record("Ivy"), lambda data: data.update(nickname="Jasmine")))

    # An exercise that this course does not have; a question that has changed since.
    def moved(data: dict[str, Any]) -> None:
        data["exercises"]["05-no-longer-asked"] = data["exercises"].pop("00-sparks-in-all")
        data["exercises"]["00-switched-off"]["tries"][0]["variant"] = "0123abcd"

    save(folder, "older-course.json", changed(good_record("Kale"), moved))

    # One learner's two exports; and two people who took one nickname.
    early = engine_of("Lark")
    judge(early, "00-switched-off", belief("Lark", "00-switched-off"))
    save(folder, "lark-monday.json", early.record.text())
    judge(early, "00-switched-off", truth("Lark", "00-switched-off"))
    save(folder, "lark-tuesday.json", early.record.text())
    for number, answer in enumerate((truth("guest", "00-switched-off"), belief("guest", "00-switched-off"))):
        guest = engine_of("guest")
        judge(guest, "00-switched-off", answer)
        save(folder, f"guest-{number}.json", guest.record.text())

    # Hostile: code that would leave a mark if it ever ran, said to have passed; and a nickname that is a formula.
    code = HOSTILE.format(path=str(folder / "ran"))
    hostile = engine_of("Mallow")
    judge(hostile, "05-share-of-singles", truth("Mallow", "05-share-of-singles"))
    judge(hostile, "00-switched-off", truth("Mallow", "00-switched-off"))

    def infect(data: dict[str, Any]) -> None:
        data["exercises"]["05-share-of-singles"]["tries"][0]["answer"] = code
        data["exercises"]["00-switched-off"]["tries"][0]["answer"] = code

    save(folder, "hostile.json", changed(hostile.record, infect))
    formula = engine_of('=HYPERLINK("a")')
    judge(formula, "00-switched-off", truth('=HYPERLINK("a")', "00-switched-off"))
    save(folder, "formula.json", formula.record.text())

    # No records at all.
    save(folder, ".hidden.json", "nothing")
    save(folder, "readme.txt", "the class of spring")
    (folder / "a-folder.json").mkdir()
    return folder


@pytest.fixture(scope="module")
def graded(klass: Path) -> grade.Graded:
    return grade.grade(klass)


def rows_of(graded: grade.Graded, file: str) -> dict[str, Row]:
    return {row.exercise: row for row in graded.rows if row.file == file}


def said_of(sentences: list[str], file: str) -> list[str]:
    return [sentence for sentence in sentences if sentence.startswith(f"{file}: ")]


# -------------------------------------------------------------------------------------------------------- good ones
def test_everybody_gets_a_row_for_each_exercise_begun(graded: grade.Graded) -> None:
    for number, name in enumerate(NAMES):
        rows = rows_of(graded, f"group {number % 2}/{number:02}.json")
        assert set(rows) == set(KEYS)
        wrong_first = number % 4 == 0
        for key, row in rows.items():
            assert (row.learner, row.passed) == (name, True)
            assert row.first_try is not wrong_first
            assert (row.tries, row.hints) == ((2, 1) if wrong_first else (1, 0))
            assert row.misconceptions == ((EXERCISES[key].misconceptions[0].key,) if wrong_first else ())
            assert row.judged == ("recorded" if key == "05-share-of-singles" else "again")


def test_a_class_of_good_records_leaves_nothing_to_say(tmp_path: Path) -> None:
    for name in NAMES[:3]:
        save(tmp_path, f"{name}.json", good_record(name).text())
    graded = grade.grade(tmp_path)
    assert (graded.troubles, graded.notes, graded.records) == ([], [], 3)


def test_only_hints_make_a_row_too(tmp_path: Path) -> None:
    engine = engine_of("Nettle")
    engine.handle({"do": "hint", "key": "00-one-pulse"})
    save(tmp_path, "n.json", engine.record.text())
    graded = grade.grade(tmp_path)
    [row] = graded.rows
    assert (row.tries, row.hints, row.first_try, row.passed) == (0, 1, False, False)
    assert graded.troubles == []


def test_a_record_with_the_mark_of_an_editor_at_its_start_is_read(tmp_path: Path) -> None:
    save(tmp_path, "a.json", "\ufeff" + good_record("Oak").text())
    assert len(grade.grade(tmp_path).rows) == len(KEYS)


# --------------------------------------------------------------------------------------------------------- bad ones
@pytest.mark.parametrize(
    ("file", "why"),
    [
        ("cut-short.json", "not JSON"), ("empty.json", "not JSON"), ("not-text.json", "UTF-8"), ("other.json", "schema"),
        ("newer.json", "newer course"), ("deep.json", "nested too deep"), ("huge.json", "longer than"),
    ],
)
def test_a_damaged_record_is_named_in_one_sentence(graded: grade.Graded, file: str, why: str) -> None:
    [said] = said_of(graded.troubles, file)
    assert "damaged, not graded" in said
    assert why in said
    assert "\n" not in said
    assert rows_of(graded, file) == {}


def test_a_forged_verdict_is_found_and_the_true_one_given(graded: grade.Graded) -> None:
    rows = rows_of(graded, "forged.json")
    assert not rows["00-switched-off"].passed
    assert rows["00-switched-off"].misconceptions == (EXERCISES["00-switched-off"].misconceptions[0].key,)
    assert rows["00-sparks-in-all"].passed
    [said] = said_of(graded.troubles, "forged.json")
    assert "00-switched-off, answer 1: the record says passed, but the answer does not pass" in said


def test_a_verdict_forged_downward_is_put_right(graded: grade.Graded) -> None:
    assert rows_of(graded, "modest.json")["00-switched-off"].passed
    [said] = said_of(graded.troubles, "modest.json")
    assert "says not passed, but the answer passes" in said


def test_a_blank_that_is_said_to_have_passed_has_not(graded: grade.Graded) -> None:
    assert not rows_of(graded, "blank.json")["00-one-pulse"].passed
    assert len(said_of(graded.troubles, "blank.json")) == 1


def test_another_learners_record_is_named_and_held_against_ones_own_questions(graded: grade.Graded) -> None:
    rows = rows_of(graded, "borrowed.json")
    assert {row.judged for row in rows.values()} == {"another"}
    [said] = said_of(graded.troubles, "borrowed.json")
    assert "not one answer is to the questions of Jasmine" in said
    for key, row in rows.items():
        right = key != "05-share-of-singles" and EXERCISES[key].judge(truth("Ivy", key), variant("Jasmine", key)).passed
        assert (row.passed, row.claimed) == (right, not right), key


def test_an_unknown_exercise_and_a_changed_question_pass_nobody_unseen(graded: grade.Graded) -> None:
    rows = rows_of(graded, "older-course.json")
    assert (rows["05-no-longer-asked"].judged, rows["05-no-longer-asked"].passed) == ("unknown", False)
    assert grade.cells(rows["05-no-longer-asked"])[5] == "unchecked"
    assert (rows["00-switched-off"].judged, rows["00-switched-off"].passed) == ("another", True), "it is right here too"
    assert rows["00-one-pulse"].judged == "again"
    [note] = said_of(graded.notes, "older-course.json")
    assert "no exercise 05-no-longer-asked; 1 pass that it claims is unchecked." in note
    [trouble] = said_of(graded.troubles, "older-course.json")
    assert "the answers to 00-switched-off name another question than Kale has there" in trouble
    assert "unchecked" not in trouble


def test_forged_passes_under_a_false_variant_are_found_named_and_counted_for_nothing(tmp_path: Path) -> None:
    """One honest try, and all other exercises of the course forged: wrong answers, said to have passed, to nobody's question."""
    engine = engine_of("Larch")
    judge(engine, "00-one-pulse", truth("Larch", "00-one-pulse"))

    def forge(data: dict[str, Any]) -> None:
        honest = data["exercises"]["00-one-pulse"]
        for key in set(EXERCISES) - {"00-one-pulse"}:
            false = {**honest["tries"][0], "answer": "nonsense", "variant": "0123abcd"}
            data["exercises"][key] = {"hints": 0, "count": 1, "passed_at": 1, "shown": False, "words": "", "lines": [],
                                      "tries": [false]}

    save(tmp_path, "larch.json", changed(engine.record, forge))
    graded = grade.grade(tmp_path)
    assert [row.exercise for row in graded.rows if row.passed or row.first_try] == ["00-one-pulse"]
    assert sum(grade.cells(row)[5] == "unchecked" for row in graded.rows) == len(EXERCISES) - 1
    [said] = graded.troubles
    assert f"{len(EXERCISES) - 1} passes that it claims are unchecked" in said
    assert min(set(EXERCISES) - {"00-one-pulse"}) in said


def test_a_false_variant_beside_true_ones_does_not_hide_a_try(tmp_path: Path) -> None:
    engine = engine_of("Maple")
    for answer in (belief("Maple", "00-switched-off"), truth("Maple", "00-switched-off")):
        judge(engine, "00-switched-off", answer)

    def hide(data: dict[str, Any]) -> None:
        first = data["exercises"]["00-switched-off"]["tries"][0]
        first |= {"variant": "0123abcd", "passed": True, "score": 1.0, "misconception": None}
        data["exercises"]["00-switched-off"]["passed_at"] = 1

    save(tmp_path, "maple.json", changed(engine.record, hide))
    graded = grade.grade(tmp_path)
    [row] = graded.rows
    assert (row.first_try, row.passed, row.judged) == (False, True, "another")
    assert "the answers to 00-switched-off name another question" in graded.troubles[0]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="There are no pipes with names on this system.")
def test_what_is_no_plain_file_is_named_and_skipped_and_nothing_waits(tmp_path: Path) -> None:
    save(tmp_path, "class/good.json", good_record("Nut").text())
    folder = tmp_path / "class"
    save(tmp_path, "outside.json", good_record("Outside").text())
    os.mkfifo(folder / "pipe.json")
    (folder / "link.json").symlink_to(tmp_path / "outside.json")
    (folder / "device.json").symlink_to("/dev/zero")
    (folder / "round.json").symlink_to(folder / "round.json")
    (folder / "up").symlink_to(tmp_path)
    (folder / "folder.json").mkdir()
    save(folder, "folder.json/inside.json", good_record("Inside").text())
    with (folder / "huge.json").open("wb") as huge:
        huge.truncate(3_000_000_000)  # a hole: it takes no room, and would take all of the memory if it were read
    graded = grade.grade(folder)
    assert {row.learner for row in graded.rows} == {"Nut", "Inside"}
    said = {sentence.split(":")[0]: sentence for sentence in graded.troubles}
    assert set(said) == {"pipe.json", "link.json", "device.json", "round.json", "up", "huge.json"}
    assert "This is a pipe and no file." in said["pipe.json"]
    assert all("This is a link and no file." in said[name] for name in ("link.json", "device.json", "round.json", "up"))
    assert "longer than" in said["huge.json"]
    assert graded.records == 2


def test_two_exports_of_one_record_are_one_learner(graded: grade.Graded) -> None:
    [row] = rows_of(graded, "lark-monday.json + lark-tuesday.json").values()
    assert (row.tries, row.first_try, row.passed) == (2, False, True)
    assert sum(row.learner == "Lark" for row in graded.rows) == 1
    assert len(said_of(graded.notes, "lark-tuesday.json")) == 1


def test_two_people_with_one_nickname_keep_their_own_rows(graded: grade.Graded) -> None:
    assert {row.file: row.passed for row in graded.rows if row.learner == "guest"} == {
        "guest-0.json": True, "guest-1.json": False}
    [note] = said_of(graded.notes, "guest-1.json")
    assert "the nickname guest is in guest-0.json too" in note


# ------------------------------------------------------------------------------------------------------ no code runs
def test_code_in_a_record_does_not_run(klass: Path, graded: grade.Graded) -> None:
    rows = rows_of(graded, "hostile.json")
    assert (rows["05-share-of-singles"].judged, rows["05-share-of-singles"].passed) == ("recorded", True)
    assert not rows["00-switched-off"].passed
    assert not (klass / "ran").exists()


def test_no_learners_code_is_even_compiled(klass: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a learner's code was touched")

    monkeypatch.setattr(learner_code, "run", refuse)
    monkeypatch.setattr(learner_code, "_compiled", refuse)
    before = len(grade.grade(klass).rows)
    assert before == len(grade.grade(klass).rows) > 100


def test_the_guard_is_up_while_anything_is_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where a course calls code from an exercise of another kind."""
    seen = []
    exercise = EXERCISES["00-switched-off"]

    def spy(answer: Any, variant: Any) -> Any:
        seen.append(learner_code.may_run())
        return exercise.judge(answer, variant)

    save(tmp_path, "a.json", good_record("Pine").text())
    grade.grade(tmp_path, {"00-switched-off": type(exercise)(**{**vars(exercise), "judge": spy})})
    assert seen == [False]
    assert learner_code.may_run()


def test_a_judge_that_breaks_does_not_stop_the_class(tmp_path: Path) -> None:
    exercise = EXERCISES["00-switched-off"]

    def broken(answer: Any, variant: Any) -> Any:
        raise ZeroDivisionError

    save(tmp_path, "a.json", good_record("Quince").text())
    graded = grade.grade(tmp_path, {**EXERCISES, exercise.key: type(exercise)(**{**vars(exercise), "judge": broken})})
    assert len(graded.rows) == len(KEYS)
    assert len(graded.troubles) == 1


# ----------------------------------------------------------------------------------------------------- the table
def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own (which takes some seconds to load the course)."""
    command = [sys.executable, "-m", "lessons.grade", *map(str, words)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8")


def test_the_command_writes_the_table_names_the_bad_and_says_so_in_its_status(klass: Path, graded: grade.Graded,
                                                                               tmp_path: Path) -> None:
    out = tmp_path / "class.csv"
    done = run(klass, "--out", out)
    assert done.returncode == 1
    assert done.stdout == ""
    table = list(csv.DictReader(out.open(encoding="utf-8", newline="")))
    assert list(table[0]) == list(grade.COLUMNS)
    assert len(table) == len(graded.rows)
    assert [row["learner"].casefold() for row in table] == sorted(row["learner"].casefold() for row in table)
    for file in ("cut-short.json", "forged.json", "borrowed.json", "deep.json"):
        assert file in done.stderr
    assert "Records graded" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (klass / "ran").exists()


def test_a_good_class_goes_to_standard_output_with_status_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    save(tmp_path, "a.json", good_record("Rowan", wrong_first=True).text())
    assert grade.main([str(tmp_path)]) == 0
    done = capsys.readouterr()
    table = list(csv.DictReader(io.StringIO(done.out)))
    assert {row["exercise"]: (row["first try"], row["passed"]) for row in table} == dict.fromkeys(KEYS, ("no", "yes"))
    assert "nothing damaged or forged" in done.err


def test_a_nickname_is_no_formula(graded: grade.Graded) -> None:
    assert '"\'=HYPERLINK(""a"")"' in grade.as_csv(graded.rows)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [(("nowhere",), "there is no such folder"), (("{empty}",), "no progress record"),
     (("{empty}", "--out", "robin.json"), "should end in .csv")],
)
def test_where_nothing_can_be_graded_the_status_is_2(words: tuple[str, ...], complaint: str, tmp_path: Path,
                                                     capsys: pytest.CaptureFixture[str]) -> None:
    try:
        status = grade.main([word.format(empty=tmp_path) for word in words])
    except SystemExit as stopped:  # argparse
        status = int(stopped.code)
    assert status == 2
    assert complaint in capsys.readouterr().err


def test_a_table_that_cannot_be_written_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    save(tmp_path, "a.json", good_record("Sorrel").text())
    (tmp_path / "file").write_text("")
    assert grade.main([str(tmp_path), "--out", str(tmp_path / "file" / "class.csv")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_grading_leaves_the_records_as_they_are(tmp_path: Path) -> None:
    save(tmp_path, "a.json", good_record("Thyme").text())
    before = (tmp_path / "a.json").read_bytes()
    grade.grade(tmp_path)
    assert (tmp_path / "a.json").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["a.json"]


def test_merging_is_the_records_own() -> None:
    """What the class's two exports rest on: the union of the tries, none twice."""
    record = good_record("Umber", wrong_first=True)
    assert merged(record, record).data() == record.data()
