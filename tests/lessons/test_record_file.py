"""A record on a disk: no crash, no second notebook, no damage and no locked door loses it or stops a lesson."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coilmodel import durable
from lessons import record_file as files
from lessons.contracts import Verdict
from lessons.record import Record, RecordError, parse
from lessons.record_file import NoFile, RecordFile, locked, text_of

from .notebook_at_work import EXERCISES, LEARNERS, desk_at

ROOT = Path(__file__).parents[2]
WRONG, RIGHT = Verdict(False, 0.25, "That is not it.", "less-is-more"), Verdict(True, 1.0, "Right.")
KEY = next(iter(EXERCISES))
WRONG_ANSWER, RIGHT_ANSWER = "wrong", "right: 7"


def clock(minute: int) -> Callable[[], str]:
    return lambda: f"2031-05-08T19:{minute:02d}:00+00:00"


def begun(nickname: str = "Robin") -> Record:
    record = Record(nickname)
    record.add_hint("05-x", 3)
    record.add_try("05-x", {"value": "0,2", "unit": "mm"}, {"a": 1}, WRONG, clock(1))
    record.add_try("05-x", {"value": "0,3", "unit": "mm"}, {"a": 1}, RIGHT, clock(2))
    return record


def kept(path: Path, record: Record) -> RecordFile:
    """Return a file with `record` in it."""
    file = RecordFile(path)
    assert file.keep(record, Record(record.nickname)) == record
    return file


def visible(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


def records_in(folder: Path) -> list[Record]:
    return [parse(path.read_text(encoding="utf-8")) for path in folder.glob("*.json")]


# ------------------------------------------------------------------------------------------------ kept and resumed
def test_saved_and_resumed(tmp_path: Path) -> None:
    file = RecordFile(tmp_path / "deeper" / "progress.json")
    assert file.load() is None
    assert file.keep(begun(), Record("Robin")) == begun()
    assert RecordFile(file.path).load() == begun()
    assert visible(file.path.parent) == ["progress.json"]
    assert file.notes == []


def test_another_notebooks_tries_are_kept(tmp_path: Path) -> None:
    one = kept(tmp_path / "p.json", begun())
    two = RecordFile(tmp_path / "p.json")
    base = one.load()
    assert base == two.load() == begun()
    assert not two.changed()
    mine, yours = base.copy(), base.copy()
    mine.add_try("05-x", "the same", {}, WRONG, clock(20))
    yours.add_try("05-x", "the same", {}, WRONG, clock(20))  # at the same moment: still two tries
    one.keep(mine, base)
    assert two.changed()
    assert not one.changed()
    both = two.keep(yours, base)
    assert both is not None
    assert [each.answer for each in both.of("05-x").tries][2:] == ["the same", "the same"]
    assert one.load() == both
    assert (both.of("05-x").count, both.of("05-x").passed_at) == (4, 2)


def test_a_record_of_an_older_course_goes_on(tmp_path: Path) -> None:
    old = begun().data() | {"version": 1}
    del old["exercises"]["05-x"]["passed_at"]
    (tmp_path / "p.json").write_text(json.dumps(old), encoding="utf-8")
    file = RecordFile(tmp_path / "p.json")
    assert file.load() == begun()
    assert file.notes == []


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "p.json").symlink_to(tmp_path / "elsewhere" / "real.json")
    kept(tmp_path / "p.json", begun())
    assert (tmp_path / "p.json").is_symlink()
    assert parse((tmp_path / "elsewhere" / "real.json").read_text()) == begun()


# -------------------------------------------------------------------------------------------------------- nicknames
def test_a_learner_who_comes_back_goes_on(tmp_path: Path) -> None:
    file = kept(tmp_path / "p.json", begun("Robin"))
    assert file.change(begun("Robin"), begun("Robin"), Record("Kim")) == Record("Kim")
    assert visible(tmp_path) == ["p-of-robin.json", "p.json"]
    kim = begun("Kim")
    file.keep(kim, Record("Kim"))
    assert file.change(kim, kim, Record("ROBIN")).exercises == begun("Robin").exercises
    assert visible(tmp_path) == ["p-of-kim.json", "p.json"]
    assert file.notes == []


def test_two_names_that_look_alike_in_a_file_name_stay_apart(tmp_path: Path) -> None:
    file = kept(tmp_path / "p.json", begun("Robin!"))
    other = begun("Robin?")
    other.add_try("05-y", "other", {}, WRONG, clock(5))
    file.change(begun("Robin!"), begun("Robin!"), other)
    file.change(other, other, Record("Kim"))
    assert visible(tmp_path) == ["p-of-robin-2.json", "p-of-robin.json", "p.json"]
    assert file.change(Record("Kim"), Record("Kim"), Record("Robin?")) == other


def test_what_an_older_course_set_aside_comes_back_with_its_nickname(tmp_path: Path) -> None:
    for number in (1, 2):
        one = begun("Robin")
        one.add_try("05-y", number, {}, WRONG, clock(10 + number))
        (tmp_path / f"p-of-robin-20310508T19{number}000-1.json").write_text(one.text())
    file = kept(tmp_path / "p.json", begun("Kim"))
    back = file.change(begun("Kim"), begun("Kim"), Record("Robin"))
    assert back is not None
    assert [each.answer for each in back.of("05-y").tries] == [1, 2]
    assert back.of("05-x").count == 2
    assert visible(tmp_path) == ["p-of-kim.json", "p.json"]


def test_a_try_that_comes_after_another_notebook_changed_the_learner_goes_to_its_own(tmp_path: Path) -> None:
    one = kept(tmp_path / "p.json", begun("Robin"))
    two = RecordFile(tmp_path / "p.json")
    base = two.load()
    assert base is not None
    one.change(begun("Robin"), begun("Robin"), Record("Kim"))
    late = base.copy()
    late.add_try("05-x", "late", {}, WRONG, clock(30))
    assert two.keep(late, base) == Record("Kim")
    robin = parse((tmp_path / "p-of-robin.json").read_text())
    assert [each.answer for each in robin.of("05-x").tries][2:] == ["late"]


def test_at_the_desk_a_nickname_taken_in_one_notebook_holds_in_the_other(tmp_path: Path) -> None:
    one, two = desk_at(tmp_path / "p.json"), desk_at(tmp_path / "p.json")
    asked = two.ask(do="exercise", key=KEY)
    assert asked["learner"] == "guest"
    one.ask(do="learner", nickname="Robin")
    late = two.handle({"do": "judge", "key": KEY, "answer": RIGHT_ANSWER, "learner": asked["learner"]}).tree
    assert late["learner"] == "Robin"
    assert "The nickname is Robin now" in late["error"]
    assert two.ask(do="exercise", key=KEY)["learner"] == "Robin"
    assert two.ask(do="progress")["nickname"] == "Robin"
    two.ask(do="judge", key=KEY, answer=RIGHT_ANSWER, learner="Robin")
    one.ask(do="judge", key=KEY, answer=WRONG_ANSWER, learner="Robin")
    state = one.ask(do="exercise", key=KEY)["state"]
    assert (state["tries"], state["passed_at"], state["last_answer"]) == (2, 1, RIGHT_ANSWER)
    assert visible(tmp_path) == ["p.json"]
    assert parse((tmp_path / "p.json").read_text()).of(KEY).count == 2


def test_at_the_desk_a_file_is_brought_back_and_goes_on_with_what_was_here(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "p.json")
    desk.ask(do="learner", nickname="Robin")
    desk.ask(do="judge", key=KEY, answer=WRONG_ANSWER)
    exported = desk.ask(do="export")["text"]
    desk.ask(do="judge", key=KEY, answer=RIGHT_ANSWER)
    desk.ask(do="learner", nickname="Kim")
    desk.ask(do="import", text=exported)
    assert desk.engine.record.nickname == "Robin"
    assert parse((tmp_path / "p.json").read_text()).of(KEY).count == 2
    assert desk.engine.record.of(KEY).passed


# ---------------------------------------------------------------------------------- two processes, many interleavings
def rounds_of_two(folder: Path, rounds: int, seed: int) -> list[dict[str, Any]]:
    """Let two processes take `rounds` steps each at one record, each time both at once; return all that they did."""
    script = Path(__file__).with_name("notebook_at_work.py")
    both = [
        subprocess.Popen([sys.executable, str(script), str(folder / "p.json"), name, str(seed + number)], stdin=subprocess.PIPE,
                         stdout=subprocess.PIPE, text=True, encoding="utf-8")
        for number, name in enumerate(("left", "right"))
    ]
    done = []
    try:
        for _ in range(rounds):
            for one in both:
                assert one.stdin is not None
                one.stdin.write("go\n")
                one.stdin.flush()
            for one in both:
                assert one.stdout is not None
                done.append(json.loads(one.stdout.readline()))
    finally:
        for one in both:
            one.communicate()
    return done


@pytest.mark.parametrize(("rounds", "seed"), [(40, 40), *(pytest.param(250, seed, marks=pytest.mark.slow)
                                                          for seed in (1000, 2000, 3000, 4000))])
def test_two_processes_at_one_record_lose_nothing_and_split_nothing(tmp_path: Path, rounds: int, seed: int) -> None:
    """Four records of 250 steps each: one of a thousand takes three times as long, since each step reads and writes them all."""
    done = rounds_of_two(tmp_path, rounds, seed)
    promised = Counter((each["learner"], each["key"], each["answer"]) for each in done if each.get("promised"))
    refused = [each for each in done if each.get("refused")]
    assert len(promised) + len(refused) == sum(each["step"] == "judge" for each in done)
    records = records_in(tmp_path)
    assert len({record.nickname for record in records}) == len(records) <= len(LEARNERS), "a learner has two records"
    found = Counter((record.nickname, key, each.answer)
                    for record in records for key, one in record.exercises.items() for each in one.tries)
    assert found == promised
    for record in records:
        for key, one in record.exercises.items():
            assert one.count == len(one.tries), key
            assert one.passed_at == next((number for number, each in enumerate(one.tries, 1) if each.passed), None)
    assert [note for each in done for note in each["notes"]] == []
    names = visible(tmp_path)
    assert names[-1] == "p.json"
    assert set(names[:-1]) <= {f"p-of-{learner.lower()}.json" for learner in LEARNERS}


def test_who_has_not_the_lock_waits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another thread holds it: a change is made only after that has let it go."""
    file, order = kept(tmp_path / "p.json", begun()), []
    held, refused, let, try_it = threading.Event(), threading.Event(), threading.Event(), files._taken

    def watched(number: int) -> bool:
        taken = try_it(number)
        if not taken:
            refused.set()
        return taken

    monkeypatch.setattr(files, "_taken", watched)

    def hold() -> None:
        with locked(file.path):
            held.set()
            let.wait(30)
            order.append("let go")

    holder = threading.Thread(target=hold)
    holder.start()
    held.wait(30)
    writer = threading.Thread(target=lambda: (file.keep(begun(), begun()), order.append("written")))
    writer.start()
    assert refused.wait(30)
    let.set()
    holder.join(30)
    writer.join(30)
    assert order == ["let go", "written"]


def test_a_lock_that_is_never_let_go_stops_no_lesson(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "LOCK_WAIT", 0.05)
    desk = desk_at(tmp_path / "p.json")
    with locked(tmp_path / "p.json"):
        tree = desk.handle({"do": "judge", "key": KEY, "answer": RIGHT_ANSWER}).tree
        assert tree["verdict"]["passed"]
        assert len(tree["notes"]) == 1
        assert "another program has held it" in tree["notes"][0]
        assert "notes" not in desk.handle({"do": "judge", "key": KEY, "answer": RIGHT_ANSWER}).tree
    assert desk.ask(do="judge", key=KEY, answer="third")["state"]["tries"] == 3
    assert parse((tmp_path / "p.json").read_text()).of(KEY).count == 3


# ----------------------------------------------------------------------------------------------------------- damage
@pytest.mark.parametrize("content",
                         [b"", b"{", b"\xff\xfe\x00", b"[]", b'{"schema": "coil-course-progress", "version": 99}',
                          b"x" * 9_000_000])
def test_a_damaged_file_is_set_aside_and_said(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "progress.json"
    for time in (1, 2):
        path.write_bytes(content)
        file = RecordFile(path)
        assert file.load() is None
        assert not path.exists()
        aside = visible(tmp_path)
        assert len(aside) == time
        assert len(file.notes) == 1
        assert any(name in file.notes[0] for name in aside)
        assert all((tmp_path / name).read_bytes() == content for name in aside)


def test_a_file_damaged_while_a_lesson_is_open_costs_nothing(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "p.json")
    desk.ask(do="judge", key=KEY, answer=WRONG_ANSWER)
    (tmp_path / "p.json").write_text("spilt")
    tree = desk.handle({"do": "judge", "key": KEY, "answer": RIGHT_ANSWER}).tree
    assert tree["state"]["tries"] == 2
    assert len(tree["notes"]) == 1
    assert "was set aside as p-damaged-" in tree["notes"][0]
    assert parse((tmp_path / "p.json").read_text()) == desk.engine.record
    assert "spilt" in [path.read_text() for path in tmp_path.iterdir()]


def test_a_file_that_is_taken_away_while_a_lesson_is_open_is_written_again(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "p.json")
    desk.ask(do="judge", key=KEY, answer=WRONG_ANSWER)
    (tmp_path / "p.json").unlink()
    assert desk.ask(do="judge", key=KEY, answer=RIGHT_ANSWER)["state"]["tries"] == 2
    assert parse((tmp_path / "p.json").read_text()).of(KEY).count == 2


def shut(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Let nothing be written into a folder (by name, for root may write anywhere); return what opens it again."""
    real_open, real_replace = os.open, os.replace

    def refuse(name: Any, flags: int, *rest: Any, **more: Any) -> int:
        if str(name).startswith(str(folder)) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            raise PermissionError(13, "Permission denied", str(name))
        return real_open(name, flags, *rest, **more)

    def stay(source: Any, target: Any) -> None:
        if str(target).startswith(str(folder)):
            raise PermissionError(13, "Permission denied", str(target))
        real_replace(source, target)

    def opener(name: Any, mode: str = "r", *rest: Any, **more: Any) -> Any:
        if str(name).startswith(str(folder)) and set(mode) & set("wxa+"):
            raise PermissionError(13, "Permission denied", str(name))
        return open(name, mode, *rest, **more)

    monkeypatch.setattr(files.os, "open", refuse)
    monkeypatch.setattr(files.os, "replace", stay)
    monkeypatch.setattr(files, "open", opener, raising=False)
    monkeypatch.setattr(durable, "open", opener, raising=False)
    return monkeypatch.undo


@pytest.mark.parametrize("content", ["", "damaged", "good"])
def test_a_folder_that_cannot_be_written_stops_no_lesson(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str) -> None:
    """Whatever lies there; and once it can be written again, all that was done meanwhile is."""
    path = tmp_path / "p.json"
    before = Record("guest")
    before.add_try(KEY, "before", {}, WRONG, clock(1))
    if content:
        path.write_text(before.text() if content == "good" else "damaged")
    again = shut(tmp_path, monkeypatch)
    desk = desk_at(path)
    assert desk.ask(do="exercise", key=KEY)["state"]["tries"] == (content == "good")
    notes = []
    for answer in (WRONG_ANSWER, RIGHT_ANSWER, "third"):
        notes += desk.handle({"do": "judge", "key": KEY, "answer": answer}).tree.get("notes", [])
    assert desk.engine.record.of(KEY).count == 3 + (content == "good")
    assert len([note for note in notes if "could not be written" in note]) == 1, "said once"
    assert all("Permission denied" in note for note in notes)
    assert [other.name for other in tmp_path.iterdir()] == ([path.name] if content else [])
    again()
    assert desk.ask(do="judge", key=KEY, answer="fourth")["state"]["tries"] == 4 + (content == "good")
    found = parse(path.read_text()).of(KEY)
    assert [each.answer for each in found.tries][-4:] == [WRONG_ANSWER, RIGHT_ANSWER, "third", "fourth"]
    assert found.count == 4 + (content == "good")
    if content == "damaged":
        assert "damaged" in [other.read_text() for other in tmp_path.iterdir()]


def test_a_nickname_taken_where_nothing_can_be_written_is_kept_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = desk_at(tmp_path / "p.json")
    desk.ask(do="judge", key=KEY, answer="as guest")
    again = shut(tmp_path, monkeypatch)
    desk.ask(do="learner", nickname="Robin")
    desk.ask(do="judge", key=KEY, answer="as Robin")
    again()
    desk.ask(do="judge", key=KEY, answer="as Robin, later")
    answers = {record.nickname: [each.answer for each in record.of(KEY).tries] for record in records_in(tmp_path)}
    assert answers == {"guest": ["as guest"], "Robin": ["as Robin", "as Robin, later"]}
    assert parse((tmp_path / "p.json").read_text()).nickname == "Robin"


@pytest.mark.parametrize("kind", ["pipe", "folder", "device"])
def test_what_is_no_file_is_left_alone_and_stops_no_lesson(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "p.json"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path = Path("/dev/null")
    before = path.stat().st_mode
    with pytest.raises(NoFile, match=f"a {kind} and no file"):
        text_of(path)
    desk = desk_at(path)
    tree = desk.handle({"do": "judge", "key": KEY, "answer": RIGHT_ANSWER}).tree
    assert tree["state"]["passed"]
    assert any(f"a {kind} and no file" in note for note in tree["notes"])
    assert path.stat().st_mode == before
    assert [other.name for other in tmp_path.iterdir() if other.suffix == ".json" and other != path] == []


def test_a_link_is_not_followed_where_it_must_not_be(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_text(begun().text())
    (tmp_path / "link.json").symlink_to(tmp_path / "real.json")
    assert parse(text_of(tmp_path / "link.json")) == begun()
    with pytest.raises(RecordError, match="a link and no file"):
        text_of(tmp_path / "link.json", follow=False)
    (tmp_path / "round.json").symlink_to(tmp_path / "round.json")
    assert RecordFile(tmp_path / "round.json").load() is None


# ---------------------------------------------------------------------------------------------------------- crashes
@pytest.mark.parametrize("where", ["write", "fsync", "replace"])
def test_a_kill_in_the_middle_of_writing_keeps_the_old_record(tmp_path: Path, where: str) -> None:
    """A process is ended, without any cleaning up, half-way through each step of saving."""
    path = tmp_path / "p.json"
    kept(path, begun())
    script = f"""
import io, os, sys
sys.path.insert(0, {str(ROOT)!r})
from coilmodel import durable
from lessons import record_file as record
def end(*_, **__): os._exit(9)
if {where!r} == "write":
    class Torn(io.FileIO):
        def write(self, content): super().write(content[:100]); end()
    durable.open = Torn
else:
    setattr(os, {where!r}, end)
file = record.RecordFile({str(path)!r})
ours = file.load()
base = ours.copy()
ours.add_hint("05-new", 3)
file.keep(ours, base)
"""
    done = subprocess.run([sys.executable, "-c", script], check=False, capture_output=True, text=True)
    assert done.returncode == 9, done.stderr
    assert path.read_text() == begun().text()
    file = RecordFile(path)
    assert file.load() == begun()
    assert file.notes == []
    assert file.keep(begun(), begun()) == begun()


def test_a_refusing_disk_leaves_the_old_record_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = kept(tmp_path / "p.json", begun())

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    more = begun()
    more.add_try("05-x", "more", {}, WRONG, clock(9))
    assert file.keep(more, begun()) is None
    assert len(file.notes) == 1
    assert "No space left on device" in file.notes[0]
    monkeypatch.undo()
    assert file.load() == begun()
    assert visible(tmp_path) == ["p.json"]
    assert file.keep(more, begun()) == more
