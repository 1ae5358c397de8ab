"""Drawings of the page *Every reading at home*: all in their frames, numbered apart, well-formed SVG, each on the page."""

from __future__ import annotations

import itertools
import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from book.making import bench, home_drawings
from book.making.places import BuildError
from lessons.panels.drawings.at_home import DRAWINGS
from lessons.panels.drawings.bridge import FACE, PANEL, PER_MM

PAGE = bench.filled((Path(__file__).resolve().parents[2] / "book" / "pages" / "readings_at_home.md").read_text(encoding="utf-8"),
                    "readings_at_home.md")


@pytest.mark.parametrize("name", DRAWINGS)
def test_nothing_lies_outside_the_frame_and_no_number_on_another(name: str) -> None:
    drawing = DRAWINGS[name]()
    for part in drawing.parts:
        for outline in part.outlines:
            assert all(0.0 <= x <= drawing.width for x in outline.points[::2]), part.word
            assert all(0.0 <= y <= drawing.height for y in outline.points[1::2]), part.word
        x, y = part.number_at
        assert 10.0 <= x <= drawing.width - 10.0, part.word
        assert 10.0 <= y <= drawing.height - 10.0, part.word
    for one, other in itertools.combinations(drawing.parts, 2):
        assert math.dist(one.number_at, other.number_at) >= 22.0, (one.word, other.word)
    assert len({part.word for part in drawing.parts}) == len(drawing.parts)


@pytest.mark.parametrize("name", DRAWINGS)
def test_it_is_a_well_formed_figure_with_every_part_named_once(name: str) -> None:
    drawing = DRAWINGS[name]()
    figure = ET.fromstring(home_drawings.figure(drawing))
    picture, caption = figure.find("svg"), figure.find("figcaption")
    assert picture is not None
    assert caption is not None
    told = "".join(caption.itertext()).lower()
    for number, part in enumerate(drawing.parts, 1):
        assert f"{number} {part.word}" in picture.attrib["aria-label"]
        assert part.word in told
    assert [node.text for node in picture.iter("text") if node.get("class") == "number"] == [
        str(number) for number in range(1, len(drawing.parts) + 1)]
    assert len(list(picture.iter("path"))) >= sum(len(part.outlines) for part in drawing.parts)


def test_the_leaf_of_the_travel_is_as_thick_as_the_travel() -> None:
    """To scale, as the drawing says: bridge's face to blade's face, less the hair that lets the lines be seen."""
    leaf = next(part for part in DRAWINGS["travel"]().parts if part.word == "feeler leaves").outlines[0]
    travel: Any = next(control.start for control in PANEL.controls if control.symbol == "travel")
    thick = max(leaf.points[1::2]) - min(leaf.points[1::2])
    assert thick == pytest.approx(PER_MM * travel, abs=3.1)
    assert min(leaf.points[1::2]) >= FACE


def test_the_contacts_are_apart_where_a_condenser_is_discharged_and_closed_where_their_drop_is_read() -> None:
    def between(name: str) -> float:
        upper, lower = next(part for part in DRAWINGS[name]().parts if part.word == "contacts").outlines
        return min(lower.points[1::2]) - max(upper.points[1::2])

    assert between("discharge") > 10.0
    assert between("cushion") > 10.0
    assert between("travel") > 10.0
    assert abs(between("drop")) < 1.0
    assert abs(between("parting")) < 1.0


def test_every_drawing_stands_on_the_page_and_an_unknown_one_is_named() -> None:
    assert sorted(re.findall(r"^\{\{drawing (\w+)\}\}$", PAGE, re.MULTILINE)) == sorted(DRAWINGS)
    assert home_drawings.filled(PAGE, "page").count("<svg") == len(DRAWINGS)
    with pytest.raises(BuildError, match=r"page.md: there is no drawing 'nobody'; there are discharge"):
        home_drawings.filled("{{drawing nobody}}", "page.md")


def test_the_caution_on_a_drawing_that_shows_a_running_coil() -> None:
    counting = {part.word: part.sentence for part in DRAWINGS["counting"]().parts}
    assert "connected to nothing" in counting["phone"]
    assert "never touching" in counting["loop of wire"]
    assert "Nobody touches" in counting["plug lead"]
