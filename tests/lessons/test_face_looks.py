"""The hues, the assembled module and the stand-in, without a browser."""

from __future__ import annotations

import dataclasses
import itertools
import json
import math
import re
import subprocess
import sys
from typing import Any

import pytest

from coilbench import looks
from lessons import surroundings
from lessons.contracts import (
    QUANTITIES,
    Axis,
    Chart,
    Choice,
    Control,
    Ladder,
    Line,
    Mark,
    Panel,
    Picture,
    Reading,
    Scene,
    TensionMap,
)
from lessons.face import assemble, fallback, standin
from lessons.panels import PANELS

HUES = looks.hues()


# --------------------------------------------------------------------------------------------------------- hues
def linear(hue: str) -> list[float]:
    """Return the linear red, green and blue of "#RRGGBB" (IEC 61966-2-1)."""
    shares = [int(hue[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of two hues (WCAG 2.2, "contrast ratio")."""
    high, low = sorted((0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in (linear(a), linear(b))), reverse=True)
    return (high + 0.05) / (low + 0.05)


# Machado, Oliveira, Fernandes (2009), "A physiologically-based model for simulation of color vision deficiency",
# IEEE TVCG 15(6), severity 1.0; the numbers are from memory.
SIGHT = {
    "usual": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
}


def lab(hue: str, sight: str) -> tuple[float, float, float]:
    """Return CIE L*a*b* (D65) of a hue as `sight` sees it."""
    rgb = linear(hue)
    r, g, b = (min(1.0, max(0.0, sum(m * c for m, c in zip(row, rgb)))) for row in SIGHT[sight])
    xyz = (
        (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
    )
    x, y, z = (t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116 for t in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


TOGETHER = (  # quantities that stand in one chart or in neighbouring strips
    ("position", "cushion"),
    ("current", "emf"),
    ("contact_voltage", "secondary"),
    ("current", "position"),
    ("force", "cushion"),
    ("force", "position"),
    ("energy", "secondary"),
    ("current", "contact_voltage"),
    ("current", "secondary"),
)


def test_every_quantity_of_the_contract_has_one_hue_of_its_own() -> None:
    assert set(HUES["quantities"]) == set(QUANTITIES)
    for theme in ("light", "dark"):
        assert len({pair[theme] for pair in HUES["quantities"].values()}) == len(QUANTITIES)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("quantity", QUANTITIES)
def test_a_quantitys_hue_has_contrast_with_its_ground(theme: str, quantity: str) -> None:
    """3 to 1 for graphics (WCAG 2.2, 1.4.11). Least of all measured: 3.4 to 1 (emf, light)."""
    assert contrast(HUES["quantities"][quantity][theme], HUES[theme]["surface"]) >= 3.0


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_have_contrast_with_their_ground(theme: str) -> None:
    """4.5 to 1 for text (WCAG 2.2, 1.4.3), on the surface and on bands."""
    look = HUES[theme]
    for ink, ground in itertools.product(("ink", "soft"), ("surface", "band")):
        assert contrast(look[ink], look[ground]) >= 4.5, (ink, ground)
    assert contrast(look["on_accent"], look["accent"]) >= 4.5
    for line in ("edge", "accent", "well", "ill"):
        assert contrast(look[line], look["surface"]) >= 3.0, line


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("one", "other"), TOGETHER)
def test_quantities_that_stand_together_are_told_apart_by_every_eye(one: str, other: str, theme: str, sight: str) -> None:
    """A difference of 10 in CIE L*a*b* (1976) at least; dash and label repeat it in any case."""
    a, b = (lab(HUES["quantities"][name][theme], sight) for name in (one, other))
    assert math.dist(a, b) >= 10.0


def test_the_maps_cells_differ_in_pattern_as_well_as_hue() -> None:
    assert len({cell["pattern"] for cell in HUES["cells"]}) == len(HUES["cells"])
    assert len({cell["fill"] for cell in HUES["cells"]}) == len(HUES["cells"])


# ------------------------------------------------------------------------------------------------------- module
def test_the_module_is_one_self_contained_file() -> None:
    text = assemble.module_text()
    assert not re.search(r"^import\b", text, re.MULTILINE)
    assert re.findall(r"^export .*", text, re.MULTILINE) == ["export { connect };", "export default { initialize };"]
    assert "Leon Sorokin" in text  # uPlot's licence asks for its notice
    for outside in re.findall(r"https?://[^\s\"'`]+", text.split("const HUES", 1)[1]):
        assert outside == "http://www.w3.org/2000/svg"


def test_every_module_of_the_folder_is_in_it_and_no_colour_is_written_outside_the_table() -> None:
    assert sorted(assemble.MODULES) == sorted(path.name for path in assemble.HERE.glob("*.js"))
    for path in [*assemble.HERE.glob("*.js"), assemble.HERE / "face.css"]:
        named = set(re.findall(r"#[0-9A-Fa-f]{6}\b|#[0-9a-f]{3}\b(?=;)", path.read_text(encoding="utf-8")))
        assert named <= {"#FFFFFF", "#000000", "#fff", "#000"}, path.name


def test_a_missing_uplot_is_said_in_one_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setattr(assemble, "NPM", tmp_path)
    with pytest.raises(FileNotFoundError, match=r"`python3 course.py learn` fetches it"):
        assemble._uplot("LICENSE")


# ------------------------------------------------------------------------------------------------------ stand-in
TIMES = [0.05 * i for i in range(200)]
WAVE = [math.sin(t) for t in TIMES]
STRIP = Chart(
    "wave",
    "Wave",
    Axis("time", "ms"),
    Axis("current", "A"),
    (Line("wave", "current", TIMES, WAVE), Line("gap", "cushion", TIMES, [math.nan] * 50 + WAVE[50:], "dashed")),
    (Mark(2.0, None, "parts", "part"), Mark(4.0, 0.5, "here", "here")),
)
LADDER = Ladder(
    "Spark ladder", Axis("crank angle", "degrees", 0.0, 22.5), 5, [0, 1, 1, 3], [11.0, 11.2, 14.0, 11.1], [1, 1, 2, 1]
)
MAP = TensionMap(
    "Tension map",
    Axis("a", "N"),
    Axis("b", "N"),
    [1.0, 2.0, 4.0],
    [1.0, 2.0],
    [[0, 1, 2], [3, None, 1]],
    {0: "none", 1: "one", 2: "two", 3: "three"},
    (2.0, 1.0),
    letters={3: "m"},
)
SCENE = Scene(TIMES, [max(0.0, y) for y in WAVE], [-0.1] * 200, WAVE, [0] * 200, 0.2, 0.46)
PARTS = {"strips": (STRIP, STRIP), "charts": (STRIP,), "ladder": LADDER, "map": MAP, "scene": SCENE}
WHOLE = Picture("One spark in every pulse.", "Two strips and more.", (Reading("Opening current", "5.1 A", 5.1, "A"),), **PARTS)
PANEL = Panel(
    "a-panel",
    "A <title>",
    "?",
    (
        Control("size", "Size", "mm", 0.0, 1.0, 0.1, 0.5, "why"),
        Choice("kind", "Kind", (("a", "first"), ("b", "second")), "b", "why"),
    ),
    lambda values: WHOLE,
)


@pytest.mark.parametrize("part", PARTS)
def test_the_stand_in_draws_each_part_alone(part: str) -> None:
    image = standin.png(Picture("s", "a", **{part: PARTS[part]}), dpi=40)
    assert image.startswith(b"\x89PNG")
    blank = standin.png(Picture("s", "a"), dpi=40)
    assert len(image) > 2 * len(blank)


def test_the_stand_in_draws_a_whole_picture_with_one_axes_a_part() -> None:
    drawn = standin.figure(WHOLE)
    titles = [axes.get_title(loc="left") for axes in drawn.axes]
    assert titles == ["The contact set (heights to scale, lengths not)", "Wave", "Wave", "Spark ladder", "Wave", "Tension map"]
    strips = drawn.axes[1:3]
    assert strips[0].get_shared_x_axes().joined(*strips)
    assert {line.get_color() for line in strips[0].get_lines()} >= {looks.hue("current"), looks.hue("cushion")}
    marks = {
        line.get_label(): len(line.get_xdata()) for line in drawn.axes[3].get_lines() if not line.get_label().startswith("_")
    }
    assert marks == {"first spark": 3, "second spark": 1, "misfire, no spark (2 of 5)": 2}


def test_the_stand_in_tells_weak_sparks_from_those_that_light() -> None:
    ladder = dataclasses.replace(LADDER, weak=[0, 1, 0, 1])
    lines = standin.figure(Picture("s", "a", ladder=ladder)).axes[0].get_lines()
    marks = {line.get_label(): list(line.get_ydata()) for line in lines if not line.get_label().startswith("_")}
    assert marks == {"first spark, too weak to light": [2, 4], "first spark": [1], "second spark": [2],
                     "misfire, no spark that lights (3 of 5)": [3, 4, 5]}
    small, = (line for line in lines if line.get_label() == "first spark, too weak to light")
    usual, = (line for line in lines if line.get_label() == "first spark")
    assert small.get_markersize() < usual.get_markersize()


def test_the_stand_in_says_what_a_blank_cell_and_a_named_row_are() -> None:
    drawn = standin.figure(Picture("s", "a", map=MAP)).axes[0]
    key = [text.get_text() for text in drawn.get_legend().get_texts()]
    assert key == ["0: none", "1: one", "2: two", "m: three", "blank: no reading"]
    across = Axis("crank angle", "degrees", 0.0, 30.0)
    windows = Ladder("Windows", across, 2, [0, 1], [11.0, 12.0], [1, 1], "window", ["Alder", "Birch"])
    drawn = standin.figure(Picture("s", "a", ladder=windows)).axes[0]
    assert drawn.get_ylabel() == "window, in order"
    assert [text.get_text() for text in drawn.get_yticklabels()] == ["Alder", "Birch"]


def test_the_same_picture_gives_the_same_bytes() -> None:
    assert standin.png(WHOLE, dpi=50) == standin.png(WHOLE, dpi=50)


def test_the_still_takes_three_telling_moments() -> None:
    apart = Scene([0.0, 1.0, 2.0, 3.0], [-0.2, 0.0, 0.3, 0.1], [-0.2, 0.0, 0.0, 0.0], [0.0] * 4, [0] * 4, 0.2, 0.4)
    assert standin.moments(apart) == (("at the start", 0), ("just before they part", 1), ("widest apart", 2))
    never = Scene([0.0, 1.0, 2.0], [-0.2] * 3, [-0.2] * 3, [0.0] * 3, [0] * 3, 0.2, 0.4)
    assert [words for words, _ in standin.moments(never)] == ["at the start", "half way", "at the end"]


def test_the_text_alternative_is_the_pictures_own_or_made_from_its_sentence_and_readings() -> None:
    assert fallback.alt_text(WHOLE) == "Two strips and more."
    bare = Picture("It fires.", "", WHOLE.readings)
    assert fallback.alt_text(bare) == "It fires. Opening current 5.1 A."


def test_a_panels_html_is_its_element_with_the_captioned_picture_inside() -> None:
    made = standin.panel_html(PANEL)
    assert made.startswith('<coil-panel name="a-panel"><figure><img alt="Two strips and more." src="data:image/png;base64,')
    caption = made.split("<figcaption>")[1]
    assert "A &lt;title&gt;." in caption
    assert "One spark in every pulse." in caption
    assert "Opening current 5.1 A." in caption
    assert "Drawn with Size 0.5 mm, Kind: second." in caption


@pytest.mark.parametrize(
    ("form", "expected"),
    [
        ({"kind": "number", "unit": "A", "units": ["A", "mA"]}, "Your answer (in A or mA):"),
        ({"kind": "choice", "options": [{"key": "a", "text": "earlier"}]}, "<li>\u2610 earlier</li>"),
        ({"kind": "ordering", "items": [{"key": "a", "text": "it *moves*"}]}, "<li>____ it <em>moves</em></li>"),
        (
            {"kind": "sliders", "panel": "cushion", "controls": ["preload"], "labels": {"preload": "Preload (N)"}, "fixed": {}},
            "<li>Preload (N): ______</li>",
        ),
        ({"kind": "function", "name": "f", "stub": "def f(x):\n    return x < 1"}, "<pre>def f(x):\n    return x &lt; 1</pre>"),
    ],
)
def test_an_exercise_has_a_print_form_of_its_kind(form: dict, expected: str) -> None:
    shown: dict[str, Any] = {"key": "05-x", "title": "T & T", "prompt": "First <b>.\n\nThen `x`.", "track": "code", "form": form}
    made = fallback.element("coil-exercise", {"key": shown["key"]}, fallback.exercise_inside(shown))
    assert made.startswith('<coil-exercise key="05-x">')
    assert "T &amp; T</strong> (second track: for those who program)" in made
    assert "<p>First &lt;b&gt;.</p><p>Then <code>x</code>.</p>" in made
    assert expected in made


# -------------------------------------------------------------------------------------------------------- widget
SHOW = """
import json, os, sys
from lessons.face import widget
shown = widget.panel("box")
data = shown._repr_mimebundle_()
print(json.dumps([data, "matplotlib" in sys.modules, "lessons.face.standin" in sys.modules, widget.desk().name]))
"""


def shown_in(tmp_path, monkeypatch: pytest.MonkeyPatch, **variables: str) -> list:
    """Return what a cell with a panel shows in a kernel with these variables, and what it loaded for that."""
    monkeypatch.setenv("COIL_COURSE_RECORD", str(tmp_path / "mine.json"))
    for name in (surroundings.BOOK, surroundings.SESSION):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    done = subprocess.run([sys.executable, "-c", SHOW], capture_output=True, text=True, check=True, cwd=assemble.HERE.parents[1])
    return json.loads(done.stdout)


@pytest.mark.parametrize("variables", [{}, {surroundings.BOOK: "1"}, {surroundings.BOOK: "1", surroundings.SESSION: "a.ipynb"}])
def test_for_the_book_and_in_print_the_stand_in_is_drawn(tmp_path, monkeypatch, variables: dict[str, str]) -> None:
    data, _, drawn, _ = shown_in(tmp_path, monkeypatch, **variables)
    assert sorted(data) == ["text/html", "text/plain"]
    assert drawn
    assert data["text/html"].startswith('<coil-panel name="box"><figure><img alt="')
    assert "data:image/png;base64," in data["text/html"]
    assert "Run All Cells" not in data["text/html"]
    assert "desk=" not in data["text/html"]


def test_in_jupyterlab_the_stand_in_is_words_and_nothing_is_drawn(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The live panel takes its place at once; on another day the words are still there, and how it comes alive."""
    data, loaded, drawn, desk = shown_in(tmp_path, monkeypatch, **{surroundings.SESSION: "00_what_is_in_the_box.ipynb"})
    assert sorted(data) == ["text/html", "text/plain"], "no view of a widget, which could not be shown on another day"
    assert not drawn
    assert not loaded
    made = data["text/html"]
    assert made.startswith(f'<coil-panel name="box" desk="{desk}"><section><p><strong>')
    assert "<em>Run All Cells</em>" in made
    assert "img" not in made
    assert len(made) < 4000
    assert PANELS["box"].picture(whole=False).readings[0].text in made


def test_a_kernels_line_answers_the_face(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a process of its own: the desk belongs to a kernel."""
    script = """
import json
from lessons.face import widget
sent = []
line = widget.line()
line.send = lambda content, buffers=(): sent.append((content, [bytes(b) for b in buffers]))
widget._answer(line, {"id": "6", "request": {"do": "desk"}}, [])
widget._answer(line, {"id": "7", "request": {"do": "panel", "name": "box"}}, [])
(hello, _), (content, buffers) = sent
assert hello == {"id": "6", "tree": {"desk": widget.desk().name}}, hello
json.dumps(content, allow_nan=False)
try:
    widget.panel("none such")
except ValueError as error:
    sentence = str(error)
widget.desk().handle({"do": "learner", "nickname": "Robin"})
print(json.dumps([content["id"], sorted(content["tree"]), len(buffers), len(buffers[0]) % 8, sentence]))
"""
    monkeypatch.setenv("COIL_COURSE_RECORD", str(tmp_path / "mine.json"))
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=assemble.HERE.parents[1]
    )
    name, tree, buffers, odd, sentence = json.loads(done.stdout)
    assert (name, tree) == ("7", ["panel", "picture"])
    assert buffers > 0
    assert odd == 0
    assert sentence.startswith("There is no panel 'none such'; there are ")
    assert json.loads((tmp_path / "mine.json").read_text())["nickname"] == "Robin"


def test_jupyters_line_to_the_kernel_sends_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The socket's waiting is switched off before the connection is opened as ever."""
    from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
    from jupyter_server.services.kernels.websocket import KernelWebsocketHandler

    from lessons.face.prompt_connection import PromptConnection

    done: list[object] = []
    handler = object.__new__(KernelWebsocketHandler)
    monkeypatch.setattr(KernelWebsocketHandler, "set_nodelay", lambda self, value: done.append(value))
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda self: done.append("connected"))
    connection = PromptConnection.__new__(PromptConnection)
    connection.websocket_handler = handler
    connection.connect()
    assert done == [True, "connected"]
