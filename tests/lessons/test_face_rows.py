"""Named rows (`Bars`) and sliders that may be left out: the contract, the live face in a real browser, the stand-in."""

from __future__ import annotations

import json
import re

import pytest

from lessons.contracts import Axis, Band, Bar, Bars, Control, Panel, Picture, Preset, pack
from lessons.engine import Engine
from lessons.exercises.kinds import NotAnAnswer, Trial, sliders_exercise
from lessons.face import assemble, standin

from .test_face import open_page

DEPTH = Control("depth", "Depth", "mm", 0.0, 10.0, 0.5, 4.0, "It sets the second row.", optional=True)


def rows(values) -> Picture:
    depth = values["depth"]
    second = Bar("second", None, "left out", tick=30.0) if depth is None else Bar("second", 3.0 * depth, f"{3 * depth:g} in 100",
                                                                                  tick=30.0)
    odds = Bars("odds", "How likely", Axis("odds in 100", "1", 0.0, 100.0),
                (Bar("first", 70.0, "70 in 100, named", strong=True, tick=20.0), second), tick="before any reading")
    marks = Bars("marks", "Against the rest", Axis("", "1", -2.0, 2.0), (Bar("far out", 9.0, "9, above"),), "current", "point",
                 bands=(Band(-1.0, 1.0, "the rest"),))
    return Picture("Depth left out." if depth is None else f"Depth {depth:g}.", "Two rows and a mark.", bars=(odds, marks))


PANEL = Panel("rows", "Rows", "Which is longer?", (DEPTH,), rows, (Preset("Deep", {"depth": 9.0}, "Look at the second."),
                                                                  Preset("As it came", {}, "Nothing taken.")))


# ---------------------------------------------------------------------------------------------------- the contract
def test_a_slider_that_may_be_left_out_begins_so_and_none_is_not_nought() -> None:
    assert PANEL.defaults() == {"depth": None}
    assert PANEL.picture().sentence == "Depth left out."
    assert PANEL.picture({"depth": 0.0}).sentence == "Depth 0."
    with pytest.raises(ValueError, match="outside 0 to 10 mm"):
        PANEL.picture({"depth": 11.0})
    needed = Control("depth", "Depth", "mm", 0.0, 10.0, 0.5, 4.0, "It matters.")
    with pytest.raises(ValueError, match="None is not a number"):
        needed.check(None)


def test_an_exercise_may_ask_for_a_slider_to_be_left_out() -> None:
    task = sliders_exercise("10-test", 10, "Leave it", variant=lambda draw: {}, prompt="Leave it out.", panel="rows",
                            controls=(DEPTH,), check=lambda values, of: [Trial(values["depth"] is None, "It was taken.")],
                            truth=lambda of: {"depth": None}, right="")
    of = task.variant(1)
    assert task.form(of)["start"] == {"depth": None}
    assert task.judge({"depth": None}, of).passed
    assert not task.judge({"depth": 4.0}, of).passed
    assert isinstance(task.judge({"depth": "deep"}, of), NotAnAnswer)


# ------------------------------------------------------------------------------------------------------ the stand-in
def test_the_stand_in_draws_rows_in_words_and_hatch() -> None:
    drawn = standin.figure(rows({"depth": 2.0}))
    first, second = drawn.axes
    texts = [text.get_text() for text in first.texts]
    assert texts == ["70 in 100, named", "6 in 100"]
    assert [label.get_text() for label in first.get_yticklabels()] == ["first", "second"]
    assert first.get_yticklabels()[0].get_fontweight() == "bold"
    assert [bar.get_hatch() for bar in first.patches] == [None, "////"]
    assert first.get_legend().get_texts()[0].get_text() == "before any reading"
    assert next(iter(second.lines[0].get_xdata())) == 2.0  # beyond the axis: at its end
    assert "the rest" in [text.get_text() for text in second.texts]
    assert "Depth not taken" in standin.panel_html(PANEL)
    bare = standin.figure(rows({"depth": None})).axes[0]
    assert len(bare.patches) == 1
    assert [text.get_text() for text in bare.texts] == ["70 in 100, named", "left out"]
    json.dumps(pack(rows({"depth": None})).tree, allow_nan=False)


def test_no_name_stands_twice_in_the_joined_module() -> None:
    names = [name for path in assemble.MODULES
             for name in re.findall(r"(?m)^(?:export )?(?:async )?(?:const|let|class|function) (\w+)",
                                    (assemble.HERE / path).read_text(encoding="utf-8"))]
    assert sorted(names) == sorted(set(names))  # one of them would keep the whole face from starting


# ------------------------------------------------------------------------------------------------------ the live face
@pytest.fixture
def page(browser):
    one = open_page(browser, '<coil-panel name="rows"><p>Rows</p></coil-panel>', Engine(panels={"rows": PANEL}))
    yield one
    assert one.faults == []
    assert one.strangers == []
    one.close()


def sentence(page) -> str:
    return page.locator("coil-panel .sentence").text_content()


def says(page, words: str) -> None:
    page.wait_for_function(
        f"document.querySelector('coil-panel').shadowRoot.querySelector('.sentence').textContent === {words!r}")


@pytest.mark.browser
def test_a_slider_is_taken_in_by_moving_it_and_left_out_by_its_box(page) -> None:
    slider, box = page.get_by_role("slider", name="Depth (mm)"), page.get_by_role("checkbox", name="Depth: taken")
    assert slider.get_attribute("aria-valuetext") == "not taken"
    assert not box.is_checked()
    slider.focus()
    page.keyboard.press("ArrowRight")
    says(page, "Depth 4.5.")
    assert box.is_checked()
    assert slider.get_attribute("aria-valuetext") == "4.5\u00a0mm"
    box.click()
    says(page, "Depth left out.")
    assert page.evaluate("window.asked.at(-1).values") == {"depth": None}
    box.press("Space")
    says(page, "Depth 4.5.")  # where it stood before
    page.get_by_role("button", name="As it came").click()
    says(page, "Depth left out.")
    page.get_by_role("button", name="Deep").click()
    says(page, "Depth 9.")
    page.get_by_role("button", name="Reset").click()
    says(page, "Depth left out.")


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 360])
def test_rows_say_in_words_and_by_hatch_what_their_length_says(page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.get_by_role("button", name="Deep").click()
    says(page, "Depth 9.")
    picture = page.get_by_role("img", name="How likely: first, 70 in 100, named; second, 27 in 100.")
    assert picture.locator("text").all_text_contents()[-3:] == ["second", "27 in 100", "odds in 100"]
    fills = picture.locator(".row rect").evaluate_all("nodes => nodes.map((n) => n.getAttribute('fill'))")
    assert fills[0].startswith("#")
    assert fills[1].startswith("url(#hatch")
    assert picture.locator(".tick").count() == 2
    assert "before any reading" in page.locator("figure.rows figcaption").first.text_content()
    box = picture.bounding_box()
    inside = picture.locator("text").evaluate_all(
        "nodes => nodes.map((n) => n.getBoundingClientRect()).map((b) => [b.left, b.right])")
    assert all(box["x"] - 1 <= low and high <= box["x"] + box["width"] + 1 for low, high in inside), inside
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
