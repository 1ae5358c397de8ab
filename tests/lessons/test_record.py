"""The progress record: what it keeps, what it refuses and says so, and how two become one. (On a disk: test_record_file.)"""

from __future__ import annotations

import copy
import json
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons import record as records
from lessons.contracts import Verdict
from lessons.record import MAX_TEXT, MAX_TRIES, Progress, Record, RecordError, from_data, merged, onto, parse

WRONG, RIGHT = Verdict(False, 0.25, "That is not it.", "less-is-more"), Verdict(True, 1.0, "Right.")


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
    (["version"], records.VERSION + 1, "newer course"),
        (["version"], 0, "version"), (["version"], "1", "version"), (["version"], True, "version"),
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


STEPS = st.lists(st.sampled_from([RIGHT, WRONG]), max_size=MAX_TRIES + 6)


def after(record: Record, verdicts: list[Verdict], whose: str = "") -> Record:
    """Return what becomes of `record` by these tries, a minute apart, each with an answer of its own."""
    result = record.copy()
    for verdict in verdicts:
        number = result.of("05-x").count
        hour, minute = 19 + number // 60, number % 60
        result.add_try("05-x", f"{whose}{number}", {}, verdict, partial("2031-05-08T{}:{:02d}:00+00:00".format, hour, minute))
    return result


@given(STEPS, STEPS)
def test_an_earlier_export_adds_nothing_to_a_later_one(first: list[Verdict], more: list[Verdict]) -> None:
    early = after(Record("Robin"), first)
    late = after(early, more)
    assert merged(late, early) == merged(early, late) == merged(late, late) == late
    assert parse(late.text()) == late


@given(STEPS, STEPS, STEPS)
def test_what_two_notebooks_add_is_counted_to_the_last_try(
    before: list[Verdict], here: list[Verdict], other: list[Verdict]
) -> None:
    base = after(Record("Robin"), before)
    ours, there = after(base, here, "ours "), after(base, other, "theirs ")
    both = onto(there, base, ours)
    assert both.of("05-x").count == len(before) + len(here) + len(other)
    verdicts = [*before, *other, *here]
    passed_at = next((number for number, each in enumerate(verdicts, 1) if each.passed), None)
    if len(here) <= MAX_TRIES:  # of more, the middle ones were forgotten before they came here
        assert both.of("05-x").passed_at == passed_at
        assert both.of("05-x").tries[-1:] == (ours if here else there).of("05-x").tries[-1:]
    assert both.of("05-x").passed == any(each.passed for each in verdicts)
    assert parse(both.text()) == both
    assert onto(base, base, ours).of("05-x").count == ours.of("05-x").count
    assert onto(there, base, base) == there


def test_hints_of_two_notebooks_are_those_that_the_more_curious_has_seen() -> None:
    base, there = begun(), begun()
    there.add_hint("05-x", 9)
    assert onto(there, base, base).of("05-x").hints == merged(base, there).of("05-x").hints == 2


def test_two_histories_under_one_nickname_are_put_together_by_their_times() -> None:
    one, other = Record("Robin"), Record("Robin")
    one.add_try("05-x", "a", {}, WRONG, clock(1))
    one.add_try("05-x", "c", {}, RIGHT, clock(3))
    other.add_try("05-x", "b", {}, WRONG, clock(2))
    other.add_try("05-x", "d", {}, RIGHT, clock(4))
    for both in (merged(one, other), merged(other, one)):
        assert [each.answer for each in both.of("05-x").tries] == ["a", "b", "c", "d"]
        assert (both.of("05-x").count, both.of("05-x").passed_at) == (4, 3)


# --------------------------------------------------------------------------------------------------- a log that was begun
def writing(*lines: str) -> Record:
    record = begun()
    record.write("09-coil", lines)
    return record


def test_lines_stand_until_the_log_is_handed_in() -> None:
    record = writing("look", "run")
    assert parse(record.text()).of("09-coil").lines == ["look", "run"]
    record.write("09-coil", ["look", "run", "bend"])
    for undone in ([], ["look"], ["look", "bend"], ["run", "look", "bend"]):
        with pytest.raises(RecordError, match="what stands on the sheet stays"):
            record.write("09-coil", undone)
    assert record.of("09-coil").lines == ["look", "run", "bend"]
    assert record.copy() == record
    record.add_try("09-coil", ["look", "run", "bend"], {}, WRONG, clock(9))
    assert record.of("09-coil").lines == []
    record.write("09-coil", ["look"])  # a new sheet
    assert record.of("09-coil").lines == ["look"]


def test_nothing_written_begins_nothing_and_a_line_does() -> None:
    record = Record("Robin")
    record.write("09-coil", [])
    assert (record.begun, record.exercises) == (False, {})
    record.write("09-coil", ["look"])
    assert record.begun


@pytest.mark.parametrize("lines", ["look", None, 3, [1], [""], ["a\nb"], ["x" * 61], [["look"]], 31 * ["look"], {"look": 1}])
def test_what_is_no_log_is_refused_and_leaves_what_stands(lines: object) -> None:
    record = writing("look")
    with pytest.raises(RecordError, match="lines"):
        record.write("09-coil", lines)
    assert record.of("09-coil").lines == ["look"]
    assert "lines" in refused(forged(["exercises", "05-x", "lines"], lines))


def test_of_two_copies_of_a_log_the_longer_stands_unless_it_was_handed_in() -> None:
    for both in (merged(writing("look"), writing("look", "run")), merged(writing("look", "run"), writing("look"))):
        assert both.of("09-coil").lines == ["look", "run"]
    done = writing("look", "run")
    done.add_try("09-coil", ["look", "run", "bend"], {}, WRONG, clock(9))
    for both in (merged(done, writing("look", "run")), merged(writing("look", "run"), done)):
        assert both.of("09-coil").lines == []
        assert both.of("09-coil").count == 1


def test_the_notebook_that_wrote_keeps_its_lines_and_another_does_not_undo_them() -> None:
    base = writing("look")
    ours = base.copy()
    ours.write("09-coil", ["look", "run"])
    assert onto(base, base, ours).of("09-coil").lines == ["look", "run"]
    assert onto(ours, base, base).of("09-coil").lines == ["look", "run"]  # the other did nothing here
    ours.add_try("09-coil", ["look", "run"], {}, WRONG, clock(9))
    assert onto(base, base, ours).of("09-coil").lines == []


def test_a_record_of_version_3_had_no_lines() -> None:
    old = begun().data() | {"version": 3}
    for progress in old["exercises"].values():
        del progress["lines"]
    assert from_data(old) == begun()


# ------------------------------------------------------------------------------------------------ the pass that stands
@pytest.mark.parametrize("more", [1, 5, 60])
def test_right_first_time_stays_so_whatever_is_tried_afterwards(more: int) -> None:
    record = after(Record("Robin"), [RIGHT] + more * [WRONG] + [RIGHT])
    progress = record.of("05-x")
    assert (progress.passed, progress.passed_at, progress.count) == (True, 1, more + 2)
    assert progress.standing == progress.tries[0]
    assert parse(record.text()).of("05-x").passed_at == 1


def test_the_number_of_the_first_pass_outlives_the_tries_before_it() -> None:
    progress = after(Record("Robin"), 50 * [WRONG] + [RIGHT] + 50 * [WRONG]).of("05-x")
    assert (progress.passed_at, progress.count, len(progress.tries)) == (51, 101, MAX_TRIES)
    assert progress.standing
    assert progress.standing.answer == "50"


def test_who_has_not_passed_stands_by_the_latest_try() -> None:
    assert Progress().standing is None
    assert after(Record("Robin"), 3 * [WRONG]).of("05-x").standing.answer == "2"


@pytest.mark.parametrize(("passed_at", "says"), [
    (None, "None is not a whole number from 2 to 2"), (1, "1 is not a whole number from 2 to 2"), (3, "from 2 to 2"),
    (True, "passed_at"), ("2", "passed_at"),
])
def test_a_forged_number_of_the_first_pass_is_named(passed_at: object, says: str) -> None:
    assert says in refused(forged(["exercises", "05-x", "passed_at"], passed_at))
    assert "no try of this exercise passed" in refused(forged(["exercises", "05-y", "passed_at"], 1))


@given(STEPS)
def test_a_record_of_version_1_learns_when_it_passed(steps: list[Verdict]) -> None:
    record = after(begun(), steps)
    old = record.data() | {"version": 1}
    for progress in old["exercises"].values():
        del progress["passed_at"]
    read = from_data(old)
    for key, progress in record.exercises.items():
        found = read.of(key)
        assert (found.tries, found.count, found.hints) == (progress.tries, progress.count, progress.hints)
        assert found.passed == progress.passed
        if progress.count == len(progress.tries):
            assert found.passed_at == progress.passed_at
        elif progress.passed_at is not None:
            assert found.passed_at >= progress.passed_at  # the latest that it can have been, where that is not known any more
    assert parse(read.text()) == read


def test_file_names_are_plain() -> None:
    assert Record("Robin Hood!").filename() == "coil-course-robin-hood.json"
    assert Record("../../etc").filename() == "coil-course-etc.json"
    assert Record("\u4e2d\u6587").filename().isascii()
