"""The progress record: what it keeps, what it refuses and says so, and that no crash loses it."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons import record as records
from lessons.contracts import Verdict
from lessons.record import MAX_TEXT, MAX_TRIES, Progress, Record, RecordError, RecordFile, from_data, merged, parse

ROOT = Path(__file__).parents[2]
WRONG, RIGHT = Verdict(False, 0.25, "That is too low.", "less-is-more"), Verdict(True, 1.0, "Right.")


def clock(minute: int):
    return lambda: f"2031-05-08T19:{minute:02d}:00+00:00"


def begun(nickname: str = "Robin") -> Record:
    record = Record(nickname)
    record.add_hint("05-x", 3)
    record.add_try("05-x", {"value": "0,2", "unit": "mm"}, {"a": 1}, WRONG, clock(1))
    record.add_try("05-x", {"value": "0,3", "unit": "mm"}, {"a": 1}, RIGHT, clock(2))
    record.add_try("05-y", ["a", "b"], {}, WRONG, clock(3))
    return record


def refused(text: str) -> str:
    with pytest.raises(RecordError) as caught:
        parse(text)
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert len(sentence) < 250
    assert "\n" not in sentence
    return sentence


def read_or_refused(text: str) -> Record | None:
    """Return the record in `text`, or None where it was refused in a sentence; any other error is a fault."""
    try:
        return parse(text)
    except RecordError:
        refused(text)
        return None


# ------------------------------------------------------------------------------------------------------- keeping
def test_there_and_back() -> None:
    record = begun()
    assert parse(record.text()) == record
    assert from_data(json.loads(json.dumps(record.data()))) == record
    assert record.of("05-x").passed
    assert record.of("05-x").score == 1.0
    assert (record.of("05-x").hints, record.of("05-x").count) == (1, 2)
    assert record.of("05-never") == Progress()
    assert "05-never" not in record.exercises
    assert (Record().begun, record.begun) == (False, True)


def test_what_is_kept_is_a_copy() -> None:
    record, answer = Record("Robin"), ["a"]
    record.add_try("05-x", answer, {}, WRONG)
    answer.append("b")
    assert record.exercises["05-x"].tries[0].answer == ["a"]


def test_many_tries_keep_first_first_passed_and_latest() -> None:
    record = Record("Robin")
    for number in range(200):
        record.add_try("05-x", number, {}, RIGHT if number == 50 else WRONG, clock(number % 60))
    kept = [each.answer for each in record.of("05-x").tries]
    assert len(kept) == MAX_TRIES
    assert kept[:2] == [0, 50]
    assert kept[2:] == list(range(200 - MAX_TRIES + 2, 200))
    assert record.of("05-x").count == 200
    assert record.of("05-x").passed
    assert parse(record.text()) == record


def test_a_record_never_grows_past_what_it_can_read_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(records, "MAX_TEXT", 200_000)
    record = Record("Robin")
    for exercise in range(6):
        for number in range(10):
            record.add_try(f"05-x{exercise}", "x" * 9000 + str(number), {}, WRONG)
            assert len(record.text()) <= 200_000
    assert parse(record.text()) == record
    assert all(progress.count == 10 for progress in record.exercises.values())
    assert all(progress.tries[0].answer.endswith("0") and progress.tries[-1].answer.endswith("9")
               for progress in record.exercises.values())


@pytest.mark.parametrize("answer", ["x" * 20_000, [[[[[[[[[[1]]]]]]]]]], float("nan"), object(), {"a": {1, 2}}])
def test_answers_that_cannot_be_kept_leave_the_record_as_it_was(answer: object) -> None:
    record = begun()
    before = record.text()
    with pytest.raises(RecordError, match="answer"):
        record.add_try("05-x", answer, {}, WRONG)
    assert record.text() == before


def test_hints_stop_at_the_last() -> None:
    record = Record()
    for _ in range(9):
        record.add_hint("05-x", 3)
    assert record.of("05-x").hints == 3


# ------------------------------------------------------------------------------------------------------ refusing
@pytest.mark.parametrize(("text", "says"), [
    ("", "not JSON"), ("{", "line 1"), ("[]", "not a table"), ("3", "not a table"), ("null", "not a table"),
    ("[" * 100_000, "nested"),
    ('{"schema": "other"}', "not a progress record of this course"), ("{}", "schema is missing"), ("9" * 5000, "cannot be read"),
    ("x" * (MAX_TEXT + 1), "longer than"), ('{"schema": "coil-course-progress"}', "version"),
])
def test_texts_that_are_no_record(text: str, says: str) -> None:
    assert says in refused(text)


def forged(path: list, value: object) -> str:
    data = json.loads(begun().text())
    node = data
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    return json.dumps(data)


TRY = ["exercises", "05-x", "tries", 0]


@pytest.mark.parametrize(("path", "value", "says"), [
    (["version"], 2, "newer course"), (["version"], 0, "version"), (["version"], "1", "version"), (["version"], True, "version"),
    (["version"], 10**30, "newer course"), (["nickname"], "", "nickname"), (["nickname"], "x" * 41, "nickname"),
    (["nickname"], "a\nb", "nickname"), (["nickname"], 3, "nickname"), (["extra"], 1, "no field named 'extra'"),
    (["exercises"], [], "exercises"), (["exercises", "nonsense"], {}, "'nonsense' is not the key"),
    (["exercises", "05-../../etc"], {}, "not the key"), (["exercises", "05-x"], 3, "05-x"),
    (["exercises", "05-x", "hints"], -1, "hints"), (["exercises", "05-x", "hints"], 1.5, "hints"),
    (["exercises", "05-x", "hints"], 999, "hints"),
    (["exercises", "05-x", "count"], 1, "count"), (["exercises", "05-x", "count"], 10**30, "count"),
    (["exercises", "05-x", "tries"], {}, "tries"),
    (["exercises", "05-x", "tries"], [{}] * 100, "tries"), ([*TRY, "passed"], 1, "tries / 1 / passed"),
    ([*TRY, "passed"], True, "score"),
    ([*TRY, "score"], 7, "score: 7 is not a number from 0 to 1"), ([*TRY, "score"], "1", "score"),
    ([*TRY, "score"], True, "score"),
    ([*TRY, "score"], float("nan"), "score"), ([*TRY, "score"], 1.0, "does not go with"), ([*TRY, "time"], "yesterday", "time"),
    ([*TRY, "time"], "2031-05-08T19:00:00", "time zone"), ([*TRY, "time"], 3, "time"),
    ([*TRY, "time"], "0001-01-01T00:00:00+00:00", "time"),
    ([*TRY, "variant"], "../etc", "variant"), ([*TRY, "misconception"], 3, "misconception"),
    ([*TRY, "misconception"], "x" * 99, "misconception"),
    ([*TRY, "message"], None, "message"), ([*TRY, "message"], "x" * 2000, "message"), ([*TRY, "answer"], "x" * 20_000, "answer"),
    ([*TRY, "answer"], [[[[[[[[[[]]]]]]]]]], "nested"), ([*TRY, "extra"], 1, "no field named 'extra'"),
    (["exercises", "05-x", "tries", 1, "misconception"], "x", "passed holds none"),
])
def test_forged_fields_are_named(path: list, value: object, says: str) -> None:
    assert says in refused(forged(path, value))


@pytest.mark.parametrize("path",
                         [["schema"], ["version"], ["nickname"], ["exercises"], ["exercises", "05-x", "count"], [*TRY, "score"]])
def test_missing_fields_are_named(path: list) -> None:
    data = json.loads(begun().text())
    node = data
    for step in path[:-1]:
        node = node[step]
    del node[path[-1]]
    assert path[-1] in refused(json.dumps(data))


def paths(node: object, here: tuple = ()) -> list[tuple]:
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path for key, value in inner for path in [(*here, key), *paths(value, (*here, key))]]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3), max_leaves=6)


@settings(max_examples=300)
@given(st.data())
def test_whatever_is_forged_is_read_or_refused(data: st.DataObject) -> None:
    whole = json.loads(begun().text())
    path = data.draw(st.sampled_from(paths(whole)))
    record = read_or_refused(forged(list(path), data.draw(JSON)))
    assert record is None or parse(record.text()) == record


@settings(max_examples=100)
@given(st.binary(max_size=60), st.integers(0, 900))
def test_whatever_is_damaged_is_read_or_refused(noise: bytes, place: int) -> None:
    text = begun().text().encode()
    damaged = (text[:place] + noise + text[place + len(noise):]).decode("utf-8", errors="replace")
    record = read_or_refused(damaged)
    assert record is None or parse(record.text()) == record


def test_older_versions_are_brought_up_step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    old = begun().data() | {"version": 1, "learner": "Robin"}
    del old["nickname"]
    monkeypatch.setattr(records, "VERSION", 3)
    monkeypatch.setattr(records, "MIGRATIONS", {
        1: lambda data: {**{k: v for k, v in data.items() if k != "learner"}, "nickname": data["learner"]},
        2: lambda data: {**data, "nickname": data["nickname"].upper()},
    })
    kept = copy.deepcopy(old)
    record = from_data(old)
    assert record.nickname == "ROBIN"
    assert record.exercises == begun().exercises
    assert old == kept, "what was given is left alone"
    monkeypatch.setattr(records, "MIGRATIONS", {})
    assert "cannot be read any more" in refused(json.dumps(old))


# ------------------------------------------------------------------------------------------------------- merging
def test_two_notebooks_lose_nothing() -> None:
    ours, theirs = begun(), begun()
    ours.add_try("05-x", "mine", {}, WRONG, clock(10))
    theirs.add_try("05-x", "yours", {}, WRONG, clock(9))
    theirs.add_try("05-z", "yours", {}, RIGHT, clock(11))
    both = merged(ours, theirs)
    assert [each.answer for each in both.of("05-x").tries][2:] == ["yours", "mine"]
    assert both.of("05-x").count == 4
    assert both.of("05-z").passed
    assert merged(both, ours) == merged(both, both) == both
    assert parse(both.text()) == both


# --------------------------------------------------------------------------------------------------------- files
def test_saved_and_resumed(tmp_path: Path) -> None:
    file = RecordFile(tmp_path / "deeper" / "progress.json")
    assert file.load() == Record()
    file.save(begun())
    assert RecordFile(file.path).load() == begun()
    assert [path.name for path in file.path.parent.iterdir()] == ["progress.json"]
    assert file.notes == []


def test_another_notebooks_tries_are_kept(tmp_path: Path) -> None:
    one, two = RecordFile(tmp_path / "p.json"), RecordFile(tmp_path / "p.json")
    one.save(begun())
    mine, yours = one.load(), two.load()
    mine.add_try("05-x", "mine", {}, WRONG, clock(20))
    yours.add_try("05-x", "yours", {}, WRONG, clock(21))
    one.save(mine)
    assert [each.answer for each in two.save(yours).of("05-x").tries][2:] == ["mine", "yours"]
    assert one.load().of("05-x").count == 4


def test_another_learners_record_is_set_aside(tmp_path: Path) -> None:
    file = RecordFile(tmp_path / "p.json")
    file.save(begun("Robin"))
    file.save(begun("Kim"))
    assert file.load().nickname == "Kim"
    aside = [path for path in tmp_path.iterdir() if path.name != "p.json"]
    assert [parse(path.read_text()).nickname for path in aside] == ["Robin"]
    assert file.notes == ["The record of Robin was kept beside this one."]


@pytest.mark.parametrize("content",
                         [b"", b"{", b"\xff\xfe\x00", b"[]", b'{"schema": "coil-course-progress", "version": 99}',
                          b"x" * 9_000_000])
def test_a_damaged_file_is_set_aside_and_said(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "progress.json"
    for time in (1, 2):
        path.write_bytes(content)
        file = RecordFile(path)
        assert file.load() == Record()
        assert not path.exists()
        aside = sorted(other.name for other in tmp_path.iterdir())
        assert len(aside) == time
        assert len(file.notes) == 1
        assert any(name in file.notes[0] for name in aside)
        assert all((tmp_path / name).read_bytes() == content for name in aside)


def test_a_file_damaged_between_load_and_save_is_not_lost(tmp_path: Path) -> None:
    file = RecordFile(tmp_path / "p.json")
    file.save(begun())
    file.path.write_text("spilt")
    file.save(begun())
    assert file.load() == begun()
    assert "spilt" in [path.read_text() for path in tmp_path.iterdir()]


@pytest.mark.parametrize("where", ["write", "fsync", "replace"])
def test_a_kill_in_the_middle_of_writing_keeps_the_old_record(tmp_path: Path, where: str) -> None:
    """A process is ended, without any cleaning up, half-way through each step of saving."""
    path = tmp_path / "p.json"
    RecordFile(path).save(begun())
    script = f"""
import io, os, sys
sys.path.insert(0, {str(ROOT)!r})
from lessons import record
def end(*_, **__): os._exit(9)
if {where!r} == "write":
    real = open
    class Torn(io.TextIOWrapper):
        def write(self, text): super().write(text[:100]); self.flush(); end()
    record.open = lambda name, mode, **_: Torn(real(name, mode + "b"))
else:
    setattr(os, {where!r}, end)
file = record.RecordFile({str(path)!r})
kept = file.load()
kept.add_hint("05-new", 3)
file.save(kept)
"""
    done = subprocess.run([sys.executable, "-c", script], check=False, capture_output=True, text=True)
    assert done.returncode == 9, done.stderr
    assert path.read_text() == begun().text()
    file = RecordFile(path)
    assert file.load() == begun()
    assert file.notes == []
    file.save(begun())
    assert file.load() == begun()


def test_a_refusing_disk_leaves_the_old_record_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = RecordFile(tmp_path / "p.json")
    file.save(begun())

    def full(*_: object) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr(records.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        file.save(begun())
    monkeypatch.undo()
    assert file.load() == begun()
    assert [path.name for path in tmp_path.iterdir()] == ["p.json"]


def test_file_names_are_plain() -> None:
    assert Record("Robin Hood!").filename() == "coil-course-robin-hood.json"
    assert Record("../../etc").filename() == "coil-course-etc.json"
    assert Record("\u4e2d\u6587").filename().isascii()
