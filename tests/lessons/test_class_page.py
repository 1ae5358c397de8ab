"""The class's page: it names the exercise and the belief that were the hardest and the commonest, and keeps what it must."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from lessons import grade
from lessons.class_page import TITLE, Row, class_page, commonest, hardest, in_words, tallies
from lessons.exercises import EXERCISES

BENCH = [key for key, exercise in EXERCISES.items()
         if exercise.track == "bench" and exercise.misconceptions and not exercise.prediction][:4]
EASY, HARD, RARE, OTHER = BENCH
BELIEF = EXERCISES[HARD].misconceptions[0].key


def row(learner: str, key: str, first: bool = True, tries: int = 1, passed: bool = True, **how: object) -> Row:
    how = {"misconceptions": (), "judged": "again", "file": f"{learner}.json", **how}
    return Row(learner, key, first, tries, 0, passed, **how)  # type: ignore[arg-type]


def the_class() -> list[Row]:
    """Six learners: all find EASY, two HARD at once, one later, one is shown it, two never; one alone tried RARE, and failed."""
    names = ["Ash", "Birch", "Cedar", "Damson", "Elm", "Fir"]
    hard = [{}, {}, {"first": False, "tries": 3, "misconceptions": (BELIEF,)},
            {"first": False, "tries": 4, "passed": False, "shown": True, "misconceptions": (BELIEF,)},
            {"first": False, "tries": 2, "passed": False, "misconceptions": (BELIEF,)},
            {"first": False, "tries": 2, "passed": False}]
    return [*(row(name, EASY) for name in names), *(row(name, HARD, **how) for name, how in zip(names, hard, strict=True)),
            row("Ash", RARE, first=False, tries=9, passed=False)]


def test_each_learner_is_counted_once_and_in_the_right_place() -> None:
    of = {one.exercise.key: one for one in tallies(the_class(), EXERCISES)}
    assert set(of) == {EASY, HARD, RARE}
    hard = of[HARD]
    assert (hard.first, hard.later, hard.shown, hard.open, hard.learners) == (2, 1, 1, 2, 6)
    assert hard.tries == pytest.approx((1 + 1 + 3 + 4 + 2 + 2) / 6)
    assert hard.beliefs == {BELIEF: 3}
    assert of[EASY].share == 1.0


def test_the_hardest_and_the_commonest_are_named() -> None:
    of = tallies(the_class(), EXERCISES)
    assert hardest(of).exercise.key == HARD, "RARE failed wholly, but one learner is no class"
    assert commonest(of)[:2] == (BELIEF, 3)
    first, second = in_words(of)
    assert EXERCISES[HARD].title in first
    assert "2 of 6 were right at the first try, 1 later, 1 were shown the way, 2 have not passed" in first
    assert BELIEF.replace("-", " ") in second


def test_where_only_few_have_tried_they_count_all_the_same() -> None:
    assert hardest(tallies([row("Ash", EASY), row("Ash", RARE, first=False)], EXERCISES)).exercise.key == RARE


def test_of_equals_that_with_more_tries_is_harder() -> None:
    rows = [row("Ash", key, first=False, tries=tries) for key, tries in ((EASY, 2), (HARD, 5), (OTHER, 3))]
    assert hardest(tallies(rows, EXERCISES)).exercise.key == HARD


def test_to_predict_wrongly_is_no_getting_stuck_and_compared_is_done() -> None:
    prediction = next(one for one in EXERCISES.values() if one.prediction and one.track == "bench")
    guesses = [row(name, prediction.key, first=False, passed=False, shown=True) for name in ("Ash", "Birch", "Cedar")]
    assert hardest(tallies(guesses, EXERCISES)) is None
    assert "Nothing but predictions" in in_words(tallies(guesses, EXERCISES))[0]
    assert hardest(tallies([*guesses, row("Ash", HARD, first=False)], EXERCISES)).exercise.key == HARD
    asked = sum(one.lesson == prediction.lesson and one.track == "bench" for one in EXERCISES.values())
    assert f">1 of {asked}<" in class_page(guesses, EXERCISES)
    assert f">0 of {asked}<" in class_page([row("Ash", prediction.key, first=False, passed=False)], EXERCISES)


@pytest.mark.parametrize("judged", ["another", "unknown"])
def test_what_only_a_record_vouches_for_counts_for_nothing(judged: str) -> None:
    rows = [row("Ash", EASY), row("Fir", HARD, first=False, passed=False, judged=judged, claimed=True)]
    assert [one.exercise.key for one in tallies(rows, EXERCISES)] == [EASY]
    assert "1 passes are claimed by a record alone" in class_page(rows, EXERCISES)


def test_nobody_stuck_and_nobody_there_are_said() -> None:
    assert in_words(tallies([row("Ash", EASY)], EXERCISES)) == \
        ["Nobody got stuck: all 1 exercises that were tried were right at the first try."]
    assert in_words([]) == ["No answer of this class could be judged."]


class Reader(HTMLParser):
    """Says whether every tag that is opened is closed, and gathers the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.said: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta", "rect"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert tag == "rect" or self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def test_the_page_is_sound_and_fetches_nothing_whatever_the_names() -> None:
    rows = [*the_class(), row("<script>alert(1)</script>", EASY)]
    page = class_page(rows, EXERCISES, ["<b>forged.json</b>: altered."])
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    assert "<script" not in page
    assert not re.search(r"""(?:src|href)=|url\(|https?:""", page)
    words = " ".join(reader.said)
    assert "<script>alert(1)</script>" in words
    assert EXERCISES[HARD].misconceptions[0].reply in words
    assert "<b>forged.json</b>: altered." in words


def test_the_bars_are_as_long_as_the_learners_are_many() -> None:
    page = class_page(the_class(), EXERCISES)
    line = next(part for part in page.split("<tr>") if f"<td>{EXERCISES[HARD].title}</td>" in part and "<svg" in part)
    widths = [float(width) + 2.0 for width in re.findall(r'width="([\d.]+)" height="18"', line)]
    assert [round(6 * width / sum(widths)) for width in widths] == [2, 1, 1, 2]


def test_the_command_writes_it_beside_the_table_and_leaves_another_file_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from lessons.engine import Engine
    from lessons.record import Record

    engine = Engine(Record("Ash"))
    variant = engine.handle({"do": "exercise", "key": EASY}).tree
    assert "error" not in variant
    engine.handle({"do": "judge", "key": EASY, "answer": EXERCISES[EASY].misconceptions[0].answer(
        EXERCISES[EASY].variant(grade.seed_of("Ash", EASY)))})
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "ash.json").write_text(engine.record.text(), encoding="utf-8")
    out = tmp_path / "table.csv"
    assert grade.main([str(tmp_path / "class"), "--out", str(out)]) == 0
    assert "The hardest was" in capsys.readouterr().err
    assert TITLE in (tmp_path / "table.html").read_text(encoding="utf-8")
    assert grade.main([str(tmp_path / "class"), "--out", str(out)]) == 0, "its own page is replaced"
    (tmp_path / "table.html").write_text("mine", encoding="utf-8")
    assert grade.main([str(tmp_path / "class"), "--out", str(out)]) == 2
    assert "left as it is" in capsys.readouterr().err
    assert (tmp_path / "table.html").read_text(encoding="utf-8") == "mine"
