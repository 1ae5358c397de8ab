"""The talk's two printed sheets: a page each, the handout answers nothing, and both have the numbers of the stops."""

from __future__ import annotations

import re

import pytest
from matplotlib.figure import Figure

from book.making import sheets
from lessons.panels import PANELS
from lessons.talk import CAUTION, STOPS, filled


@pytest.fixture(scope="module")
def handout() -> Figure:
    return sheets.sheet(False)


@pytest.fixture(scope="module")
def answers() -> Figure:
    return sheets.sheet(True)


def written(page: Figure) -> str:
    """Return all that stands on the page outside its figures, on one line."""
    return " ".join(" ".join(text.get_text().split()) for text in page.texts)


def inside(page: Figure) -> list[str]:
    """Return what stands in the page's figures."""
    return [text.get_text() for axes in page.axes for text in (*axes.texts, axes.title) if text.get_text()]


@pytest.mark.parametrize("stop", STOPS, ids=[stop.key for stop in STOPS])
def test_question_and_answer_stand_under_the_number_of_their_stop(handout: Figure, answers: Figure, stop):
    number = STOPS.index(stop) + 1
    for page in (handout, answers):
        assert f"{number}. {stop.ask}" in written(page)
    assert filled(stop, stop.answer) in written(answers)
    assert filled(stop, stop.answer) not in written(handout)


def test_the_handout_spoils_nothing(handout: Figure):
    """No ladder, no curve, no figure of the model: the contact set alone, with the names of its parts."""
    drawing = PANELS["bridge_views"].picture({}).drawing
    assert drawing is not None
    assert sorted(inside(handout)) == sorted(part.word for part in drawing.parts)
    assert not re.search(r"\d+ ?(?:mJ|rpm|A|ms)\b", written(handout).replace(CAUTION, ""))
    assert len(handout.axes) == 1


def test_both_sheets_carry_the_caution_and_stay_on_their_page(handout: Figure, answers: Figure):
    for page in (handout, answers):
        assert CAUTION in written(page)
        page.canvas.draw()
        for text in page.texts:
            box = text.get_window_extent().transformed(page.transFigure.inverted())
            assert box.x1 <= 1.0 - 0.5 * sheets.LEFT, text.get_text()
            assert box.y0 >= 0.0, text.get_text()


def test_no_row_runs_into_the_next(handout: Figure, answers: Figure):
    for page in (handout, answers):
        page.canvas.draw()
        for column in (sheets.LEFT, sheets.MIDDLE + 0.01):
            rows = [text for text in page.texts if text.get_position()[0] == column]
            rows.sort(key=lambda text: -text.get_position()[1])
            boxes = [text.get_window_extent() for text in rows]
            for above, below in zip(boxes, boxes[1:], strict=False):
                assert above.y0 >= below.y1 - 1.0


def test_rows_that_do_not_fit_are_refused(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sheets, "STOPS", STOPS * 2)
    with pytest.raises(ValueError, match="do not fit"):
        sheets.sheet(True)
