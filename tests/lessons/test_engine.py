"""The engine's protocol (what the face may ask, and what it gets), and that nothing asked of it makes it raise."""

from __future__ import annotations

import dataclasses
import json
from array import array

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coilmodel import Machine, MagnetoDrive
from coilmodel.kernel import PARAMETERS
from coilmodel.tally import TALLY, buffer_sizes, numbers_of
from lessons.contracts import (
    Axis,
    Chart,
    Choice,
    Control,
    Filling,
    Line,
    Misconception,
    Panel,
    Picture,
    Preset,
    Runs,
    TensionMap,
    pack,
)
from lessons.engine import Engine
from lessons.exercises import EXERCISES, kinds
from lessons.exercises.kinds import seed_of
from lessons.record import Record, from_data, parse

WIDTH = Control("width", "Width", "mm", 0.0, 2.0, 0.1, 1.0, "It matters.")
SHAPE = Choice("shape", "Shape", (("flat", "Flat"), ("round", "Round")), "flat", "It matters too.")


def draw_it(values, points: int = 40) -> Picture:
    if values["width"] == 2.0:
        raise ValueError("Width: 2 mm is too wide for this.")
    if values["width"] == 0.0:
        raise ZeroDivisionError("width")
    line = Line("line", "current", [float(i) for i in range(points)], [float("nan")] + [values["width"]] * (points - 1))
    return Picture("It is wide.", "A line.", strips=(Chart("a", "A", Axis("t", "ms"), Axis("i", "A"), (line,)),))


PANEL = Panel("plain", "Plain", "What?", (WIDTH, SHAPE), draw_it, (Preset("Wide", {"width": 1.5}, "Look."),),
              quick=lambda values: draw_it(values, 20))
NUMBER = kinds.number_exercise(
    "01-number", 1, "A number", variant=lambda draw: {"x": draw.between(1.0, 9.0, 0.5)},
    prompt=lambda of: f"Half of {2 * of['x']}?",
    truth=lambda of: of["x"], unit="A", units=("A", "mA"), right="", look="Look.", hints=("One.", "Two."),
    misconceptions=(Misconception("other", lambda of: of["x"] + 4.0, "That is something else."),))
CHOICE = kinds.choice_exercise(
    "00-choice", 0, "A choice", variant=lambda draw: {}, prompt="Which?", options=(("a", "A"), ("b", "B")), truth=lambda of: "b",
    right="", look="Look.", prediction=True, optional=True)


def broken(*_: object) -> None:
    raise KeyError("inside")


BROKEN = kinds.choice_exercise(
    "02-broken", 2, "A broken one", variant=lambda draw: {}, prompt="Which?", options=(("a", "A"), ("b", "B")), truth=broken,
    right="", look="Look.")
OURS = {exercise.key: exercise for exercise in (NUMBER, CHOICE, BROKEN)}


@pytest.fixture
def engine() -> Engine:
    return Engine(Record("Robin"), {"plain": PANEL}, OURS)


def ask(engine: Engine, **request: object) -> dict:
    return engine.handle(request).tree


def truth(engine: Engine) -> float:
    return NUMBER.truth(engine.variant(NUMBER))


# -------------------------------------------------------------------------------------------------------- panels
def test_a_panel_comes_with_controls_presets_and_picture(engine: Engine) -> None:
    packed = engine.handle({"do": "panel", "name": "plain"})
    panel = packed.tree["panel"]
    assert (panel["name"], panel["title"], panel["question"]) == ("plain", "Plain", "What?")
    assert panel["controls"][0] == {"type": "slider", "symbol": "width", "label": "Width", "unit": "mm", "low": 0.0, "high": 2.0,
                                    "step": 0.1, "default": 1.0, "why": "It matters.", "optional": False}
    assert panel["controls"][1]["type"] == "choice"
    assert panel["controls"][1]["options"] == [["flat", "Flat"], ["round", "Round"]]
    assert panel["presets"] == [{"label": "Wide", "values": {"width": 1.5}, "say": "Look."}]
    line = packed.tree["picture"]["strips"][0]["lines"][0]
    assert list(packed.arrays[line["x"]["$"]]) == [float(i) for i in range(40)]


def test_a_picture_follows_the_values(engine: Engine) -> None:
    packed = engine.handle({"do": "compute", "name": "plain", "values": {"width": 0.5}})
    assert packed.arrays[1][1] == 0.5
    assert len(engine.handle({"do": "compute", "name": "plain", "values": {}, "whole": False}).arrays[0]) == 20
    assert len(engine.handle({"do": "compute", "name": "plain"}).arrays[0]) == 40


@pytest.mark.parametrize(("request_", "says"), [
    ({"do": "panel", "name": "none"}, "no panel 'none'; there are plain"), ({"do": "panel"}, "no panel without a name"),
    ({"do": "compute", "name": "plain", "values": 3}, "not a table"),
    ({"do": "compute", "name": "plain", "values": {"x": 1}}, "no control named 'x'"),
    ({"do": "compute", "name": "plain", "values": {"width": 9}}, "Width: 9 mm is outside 0 to 2 mm"),
    ({"do": "compute", "name": "plain", "values": {"width": "9"}}, "not a number"),
    ({"do": "compute", "name": "plain", "values": {"width": 2.0}}, "too wide"),
    ({"do": "compute", "name": "plain", "values": {"width": 0.0}}, "inside the course (ZeroDivisionError)"),
    ({"do": "compute", "name": "plain", "values": {"shape": "odd"}}, "not one of flat, round"),
    ({"do": "dance"}, "no request 'dance'; there are panel"), ({}, "not a request"), (None, "not a request"),
    ([], "not a request"),
    ({"do": ["panel"]}, "not a request"), ({"do": "judge", "key": "nothing"}, "no exercise 'nothing'"),
    ({"do": "judge", "key": "02-broken", "answer": "a"}, "inside the course (KeyError)"), ({"do": "learner"}, "nickname"),
    ({"do": "learner", "nickname": "x" * 99}, "nickname"), ({"do": "import", "text": "{"}, "not JSON"),
    ({"do": "import"}, "not JSON"),
    ({"do": "import", "text": 3}, "not a text"), ({"do": "load", "record": {}}, "schema"),
    ({"do": "load", "record": []}, "table"),
])
def test_what_cannot_be_answered_is_said(engine: Engine, request_: object, says: str) -> None:
    before = engine.record.text()
    tree = engine.handle(request_).tree
    assert list(tree) == ["error"]
    assert says in tree["error"]
    assert tree["error"].endswith(".")
    assert engine.record.text() == before


# ----------------------------------------------------------------------------------------------------- exercises
def test_an_exercise_is_asked_hinted_judged_and_kept(engine: Engine) -> None:
    shown = ask(engine, do="exercise", key="01-number")
    assert shown["exercise"] == {
        "key": "01-number", "lesson": 1, "title": "A number", "kind": "number", "prompt": f"Half of {2 * truth(engine)}?",
        "form": {"kind": "number", "unit": "A", "units": ["A", "mA"]}, "track": "arithmetic", "prediction": False,
        "about": None, "hints_total": 2}
    assert shown["state"] == {"tries": 0, "passed": False, "passed_at": None, "score": 0.0, "hints": [], "last_answer": None,
                              "last_message": None, "shown": False, "may_show": False, "words": "", "lines": []}
    assert shown["learner"] == "Robin"
    assert [ask(engine, do="hint", key="01-number")["hint"] for _ in range(3)] == ["One.", "Two.", None]

    wrong = ask(engine, do="judge", key="01-number", answer=truth(engine) + 4.0)
    assert wrong["verdict"] == {"passed": False, "score": 0.0, "message": "That is something else.", "misconception": "other",
                                "reason": ""}
    assert (wrong["state"]["tries"], wrong["state"]["passed"], wrong["state"]["hints"]) == (1, False, ["One.", "Two."])
    right = ask(engine, do="judge", key="01-number", answer={"value": f"{truth(engine)}", "unit": "A"})
    assert right["verdict"]["passed"]
    assert right["state"] == {"tries": 2, "passed": True, "passed_at": 2, "score": 1.0, "hints": ["One.", "Two."],
                              "last_message": "Right.", "last_answer": {"value": f"{truth(engine)}", "unit": "A"},
                              "shown": False, "may_show": True, "words": "", "lines": []}
    again = ask(engine, do="judge", key="01-number", answer=0)
    assert again["state"] == {**right["state"], "tries": 3}, "once passed, passed, and by that try the learner stands"
    assert parse(json.dumps(again["record"])) == engine.record


def test_what_is_no_answer_is_no_try(engine: Engine) -> None:
    tree = ask(engine, do="judge", key="01-number", answer="much")
    assert "not a number" in tree["verdict"]["message"]
    assert tree["state"]["tries"] == 0
    assert engine.record == Record("Robin")


def test_an_answer_too_long_to_keep_is_refused(engine: Engine) -> None:
    tree = ask(engine, do="judge", key="01-number", answer={"value": 1, "more": "x" * 20_000})
    assert "longer than" in tree["error"]
    assert engine.record == Record("Robin")


def test_a_question_shown_to_another_learner_is_not_judged(engine: Engine) -> None:
    shown = ask(engine, do="exercise", key="01-number")
    ask(engine, do="learner", nickname="Kim")
    for request in ({"do": "judge", "answer": 1}, {"do": "hint"}):
        tree = ask(engine, **request, key="01-number", learner=shown["learner"])
        assert sorted(tree) == ["error", "learner"]
        assert tree["learner"] == "Kim"
        assert "The nickname is Kim now" in tree["error"]
    assert engine.record == Record("Kim")
    assert "state" in ask(engine, do="judge", key="01-number", answer=1, learner="KIM")


def test_the_way_is_shown_after_four_tries_and_kept_as_shown(engine: Engine) -> None:
    wrong = truth(engine) + 3.0
    for _ in range(3):
        ask(engine, do="judge", key="01-number", answer=wrong)
    assert "some tries" in ask(engine, do="way", key="01-number")["error"]
    assert ask(engine, do="judge", key="01-number", answer=wrong)["state"]["may_show"]
    shown = ask(engine, do="way", key="01-number")
    assert shown["way"] == {"said": f"{wrong:.3g} A", "answer": f"{truth(engine):.3g} A", "steps": ["One.", "Two."],
                            "reason": ""}
    assert (shown["state"]["shown"], shown["state"]["passed"]) == (True, False)
    after = ask(engine, do="judge", key="01-number", answer=truth(engine))
    assert after["verdict"]["passed"]
    assert (after["state"]["tries"], after["state"]["passed"]) == (4, False), "what was shown is no pass"
    assert parse(json.dumps(after["record"])).of("01-number").shown


def test_who_has_passed_may_see_the_way_and_stays_passed(engine: Engine) -> None:
    ask(engine, do="judge", key="01-number", answer=truth(engine))
    state = ask(engine, do="way", key="01-number")["state"]
    assert (state["passed"], state["passed_at"], state["shown"]) == (True, 1, False)


def test_a_log_that_was_begun_stands_when_the_page_is_opened_again() -> None:
    """Of the course itself, lesson 9: what was done to the coil is done, in this window and in the next."""
    engine, asked = Engine(Record("Robin")), {"key": "09-first-coil", "learner": "Robin"}
    form = engine.handle({"do": "exercise", **asked}).tree["exercise"]["form"]
    first, second, third = (tool["key"] for tool in form["tools"][:3])
    reply = engine.handle({"do": "write", **asked, "lines": [first, second]}).tree
    assert reply["state"]["lines"] == [first, second]
    again = Engine(from_data(reply["record"]))
    assert again.handle({"do": "exercise", **asked}).tree["state"]["lines"] == [first, second]
    for undone in ([], [first], [second], [first, third]):
        assert "stays" in again.handle({"do": "write", **asked, "lines": undone}).tree["error"]
    for wrong in ("look", [3], ["polish it"], 10 * [first]):
        assert "error" in again.handle({"do": "write", **asked, "lines": wrong}).tree
    assert "no log" in again.handle({"do": "write", "key": "09-points-drop", "lines": [first]}).tree["error"]
    assert "nickname" in again.handle({"do": "write", **asked, "learner": "Larch", "lines": [first, second, third]}).tree["error"]
    assert again.handle({"do": "exercise", **asked}).tree["state"]["lines"] == [first, second]
    state = again.handle({"do": "judge", **asked, "answer": [first, second]}).tree["state"]
    assert (state["lines"], state["last_answer"], state["tries"]) == ([], [first, second], 1)
    assert again.handle({"do": "write", **asked, "lines": [third]}).tree["state"]["lines"] == [third]  # a new sheet


def test_a_prediction_is_made_once_and_compared_with_the_learners_words(engine: Engine) -> None:
    assert "Say first" in ask(engine, do="way", key="00-choice")["error"]
    kept = ask(engine, do="judge", key="00-choice", answer="a", words="It felt so.")
    assert (kept["state"]["words"], kept["state"]["may_show"]) == ("It felt so.", True)
    shown = ask(engine, do="way", key="00-choice")
    assert (shown["way"]["said"], shown["way"]["answer"]) == ("A", "B")
    assert shown["state"]["shown"]
    assert ask(engine, do="judge", key="00-choice", answer="b", words="No.")["state"]["words"] == "It felt so."
    assert ask(engine, do="judge", key="00-choice", answer="b")["state"]["tries"] == 1


def test_the_first_prediction_stays_whoever_asks_again(engine: Engine) -> None:
    kept = ask(engine, do="judge", key="00-choice", answer="a", words="It felt so.")
    again = ask(engine, do="judge", key="00-choice", answer="b", words="No, so.")
    assert "made once" in again["verdict"]["message"]
    assert not again["verdict"]["passed"]
    assert again["state"] == kept["state"]
    assert again["record"]["exercises"]["00-choice"]["count"] == 1


def test_words_beside_a_prediction_have_their_limit() -> None:
    assert "words" in ask(Engine(Record("Kim"), {}, OURS), do="judge", key="00-choice", answer="a", words="x" * 501)["error"]


def test_progress_lists_every_lesson(engine: Engine) -> None:
    ask(engine, do="judge", key="00-choice", answer="b")
    tree = ask(engine, do="progress")
    assert tree["nickname"] == "Robin"
    assert [(lesson["lesson"], lesson["title"]) for lesson in tree["lessons"]] == [
        (0, "What is in the box"), (1, "Magneto current"), (2, "The coil")]
    assert tree["lessons"][0]["exercises"] == [
        {"key": "00-choice", "title": "A choice", "kind": "choice", "track": "code", "prediction": True,
         "shown": False, "tries": 1, "passed": True, "passed_at": 1,
         "score": 1.0}]


# ------------------------------------------------------------------------------------------------------ learners
def test_variants_belong_to_the_nickname(engine: Engine) -> None:
    assert engine.variant(NUMBER) == NUMBER.variant(seed_of("Robin", "01-number"))
    ask(engine, do="learner", nickname="Kim")
    assert engine.variant(NUMBER) == NUMBER.variant(seed_of("kim", "01-number"))


def test_one_learners_work_is_not_anothers(engine: Engine) -> None:
    assert "set_aside" not in ask(engine, do="learner", nickname="Alex"), "nothing was done yet"
    ask(engine, do="judge", key="01-number", answer=truth(engine))
    work = engine.record
    tree = ask(engine, do="learner", nickname="Kim")
    assert tree["record"] == Record("Kim").data()
    assert parse(tree["set_aside"]["text"]) == work
    assert ask(engine, do="progress")["lessons"][1]["exercises"][0]["tries"] == 0
    assert ask(engine, do="learner", nickname="ALEX")["record"]["exercises"] == work.data()["exercises"]
    assert "set_aside" not in ask(engine, do="learner", nickname="Alex")


def test_export_and_import(engine: Engine) -> None:
    ask(engine, do="judge", key="01-number", answer=truth(engine))
    file = ask(engine, do="export")
    assert file["filename"] == "coil-course-robin.json"
    other = Engine(None, {}, OURS)
    assert ask(other, do="import", text=file["text"])["record"] == engine.record.data()
    assert ask(other, do="exercise", key="01-number")["state"]["passed"]
    assert ask(other, do="load", record=None)["record"] == Record().data()
    assert ask(other, do="load", record=engine.record.data())["record"] == engine.record.data()
    assert ask(other, do="load", record=file["text"])["record"] == engine.record.data()


def test_bringing_back_an_older_file_loses_nothing() -> None:
    engine = Engine()
    ask(engine, do="learner", nickname="Robin")
    first, second = list(EXERCISES)[:2]
    ask(engine, do="hint", key=first)
    monday = ask(engine, do="export")["text"]
    ask(engine, do="hint", key=second)
    ask(engine, do="import", text=monday)
    assert engine.record.of(first).hints == engine.record.of(second).hints == 1
    ask(engine, do="import", text=ask(Engine(), do="export")["text"])  # a guest's, and blank
    assert not engine.record.begun
    ask(engine, do="learner", nickname="Robin")
    assert engine.record.of(second).hints == 1


# ---------------------------------------------------------------------------------------------------- never raises
def test_json_in_and_out(engine: Engine) -> None:
    text, arrays = engine.handle_json('{"do": "panel", "name": "plain"}')
    assert json.loads(text)["panel"]["name"] == "plain"
    assert all(isinstance(buffer, array) and buffer.typecode == "d" for buffer in arrays)
    for junk in ("", "{", "[" * 100_000, "3", "null", '{"do": NaN}', None, b"\xff"):
        tree = json.loads(engine.handle_json(junk)[0])
        assert list(tree) == ["error"]


DOES = ["panel", "compute", "exercise", "judge", "hint", "progress", "learner", "export", "import", "load", "none"]
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=20) | st.dictionaries(st.text(max_size=6), inner, max_size=4), max_leaves=25)
REQUEST = st.fixed_dictionaries({"do": st.sampled_from(DOES)}, optional={
    "name": st.just("plain") | JSON, "values": st.dictionaries(st.sampled_from(["width", "shape", "x"]), JSON, max_size=3) | JSON,
    "key": st.sampled_from(sorted(OURS)) | JSON,
    "answer": st.sampled_from(["a", "b", 3, "4,5", {"value": "3", "unit": "mA"}]) | JSON,
    "nickname": st.sampled_from(["Robin", "Kim"]) | JSON, "text": st.just(Record("Sam").text()) | JSON,
    "record": st.just(Record("Sam").data()) | JSON, "whole": JSON})


@settings(max_examples=100)
@given(st.lists(REQUEST | JSON, min_size=1, max_size=8))
def test_nothing_asked_makes_it_raise_or_spoils_the_record(requests: list) -> None:
    engine = Engine(Record("Robin"), {"plain": PANEL}, OURS)
    for request in requests:
        tree = engine.handle(request).tree
        json.dumps(tree, allow_nan=False)
        assert tree
        assert "error" not in tree or (list(tree) == ["error"] and tree["error"].endswith("."))
        assert parse(engine.record.text()) == engine.record
        text, _ = engine.handle_json(json.dumps(request))
        assert json.loads(text)


def test_things_that_no_json_holds_do_not_make_it_raise(engine: Engine) -> None:
    class Odd(dict):
        def get(self, *_: object) -> object:
            raise RuntimeError("odd")

    for request in (object(), Odd(do="panel"), {"do": "judge", "key": "01-number", "answer": object()}, {1: 2}, float("nan"),
                    {"do": "load", "record": {"schema": object()}}):
        tree = engine.handle(request).tree
        assert tree.get("error") or not tree["verdict"]["passed"]


# ------------------------------------------------------------------------------------------------- the course itself
def test_the_course_answers_for_every_panel_and_exercise() -> None:
    engine = Engine(Record("Robin"))
    for name in engine.panels:
        assert "picture" in ask(engine, do="panel", name=name), name
    for key, exercise in EXERCISES.items():
        tree = ask(engine, do="exercise", key=key)
        assert tree["exercise"]["form"]["kind"] == exercise.kind
        if exercise.kind == "sliders":
            form = tree["exercise"]["form"]
            assert "picture" in ask(engine, do="compute", name=form["panel"], values={**form["fixed"], **form["start"]})
        assert ask(engine, do="judge", key=key, answer=exercise.truth(engine.variant(exercise)))["verdict"]["passed"], key
    lessons = ask(engine, do="progress")["lessons"]
    assert all(exercise["passed"] for lesson in lessons for exercise in lesson["exercises"])
    assert parse(engine.record.text()) == engine.record


def test_packing_a_verdict_keeps_its_fields() -> None:
    verdict = kinds.NotAnAnswer(False, 0.0, "No.")
    assert pack(verdict).tree == {"passed": False, "score": 0.0, "message": "No.", "misconception": None,
                                  "reason": ""}


def test_equal_lists_are_packed_once() -> None:
    times = [0.1 * i for i in range(40)]
    packed = pack({"one": {"x": times, "y": times[::-1]}, "two": {"x": list(times), "y": [None, *times]}})
    assert packed.tree["one"]["x"] == packed.tree["two"]["x"] == {"$": 0}
    assert [list(numbers) for numbers in packed.arrays] == [times, times[::-1]]
    assert packed.tree["two"]["y"] == [None, *times]  # a list with a hole stays a list


# ------------------------------------------------------------------------------------------------ a map that is filled
def fine_map(later: str = "width") -> TensionMap:
    return TensionMap("Map", Axis("a", "A"), Axis("b", "B"), [1.0, 2.0], [1.0, 2.0], [[None, None], [None, None]], {1: "one"},
                      later=later)


def some_runs(values, places) -> Runs:
    """Place 2 is of a coil that there is not; place 3 parts its contacts in vain, with a gap that no spark crosses."""
    wide = Machine().but(gap={"breakdown": 50e3})
    coils: list[Machine | None] = [None if place == 2 else wide if place == 3 else Machine() for place in places]
    return Runs([None if coil is None else numbers_of(coil, MagnetoDrive(), 2, 1) for coil in coils], 2, "sparks", 1)


FILLED = dataclasses.replace(PANEL, name="filled", filling=Filling(
    lambda values: dataclasses.replace(draw_it(values), map=fine_map()), some_runs,
    lambda values, cells: (f"{cells.count(1)} of {len(cells)}.", "In words.")))


def test_a_map_is_asked_for_by_places_and_a_page_may_run_it_itself() -> None:
    engine = Engine(Record("Robin"), {"filled": FILLED}, OURS)
    assert ask(engine, do="compute", name="filled", values={})["picture"]["map"] is None
    for request in ({"do": "compute", "whole": False}, {"do": "panel"}):
        assert ask(engine, **request, name="filled", values={}, fill=True)["picture"]["map"]["later"] == "width"
    cells = ask(engine, do="cells", name="filled", values={}, places=[0, 1, 2, 3])["cells"]
    assert cells == [1, 1, None, 0]  # two sparks in two pulses, drawn as one at the most
    packed = engine.handle({"do": "runs", "name": "filled", "values": {}, "places": [3, 2, 0]})
    runs = packed.tree["runs"]
    numbers = packed.arrays[runs["numbers"]["$"]]
    assert runs["valid"] == [0, 2]
    assert len(numbers) == 2 * runs["width"] == 2 * len(PARAMETERS)
    assert tuple(numbers[runs["width"]:]) == numbers_of(Machine(), MagnetoDrive(), 2, 1)
    assert tuple(runs["sizes"]) == buffer_sizes(2)
    assert (TALLY[runs["status"]], TALLY[runs["column"]], runs["most"]) == ("status", "sparks", 1)
    told = ask(engine, do="mapped", name="filled", values={}, cells=[1, 1, None, 0])
    assert told == {"sentence": "2 of 4.", "alt": "In words."}


def test_where_the_kernel_is_plain_python_no_map_is_filled(monkeypatch: pytest.MonkeyPatch) -> None:
    engine = Engine(Record("Robin"), {"filled": FILLED}, OURS)
    request = {"do": "compute", "name": "filled", "values": {}, "fill": True}
    assert ask(engine, **request)["picture"]["map"]["later"]
    monkeypatch.setattr("coilmodel.compiled.HOME", "plain")
    assert ask(engine, **request)["picture"]["map"] is None


@pytest.mark.parametrize(("request_", "complaint"), [
    ({"name": "plain", "places": [0]}, "no map that is filled"), ({"places": [-1]}, "places"), ({"places": "all"}, "places"),
    ({"places": [10**9]}, "places"), ({"places": [0], "values": {"width": 9.0}}, "outside 0 to 2 mm"),
    ({"do": "mapped", "cells": ["a"]}, "cells"), ({"do": "mapped"}, "cells"), ({"name": "nowhere", "places": [0]}, "no panel"),
])
def test_a_bad_request_for_cells_is_answered_with_a_sentence(request_: dict, complaint: str) -> None:
    engine = Engine(Record("Robin"), {"plain": PANEL, "filled": FILLED}, OURS)
    error = ask(engine, **{"do": "cells", "name": "filled", "values": {}} | request_)["error"]
    assert complaint in error
    assert error.count("\n") == 0
