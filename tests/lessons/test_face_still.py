"""What keeps still: axes from picture to picture, with the former curve left pale; and all, where less motion is asked for."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from coilbench import looks
from lessons.contracts import Axis, Chart, Control, Line, Mark, Panel, Picture, Preset, Scene
from lessons.engine import Engine

from ..book.browsing import after_painting
from .test_face import open_page

pytestmark = pytest.mark.browser
TIMES = [0.02 * i for i in range(401)]


def waves(values: Any) -> Picture:
    """A sine of the height asked for, as a strip and as a chart of stated limits; and contacts that part twice."""
    sine = Line("wave", "current", TIMES, [values["size"] * math.sin(t) for t in TIMES])
    strip = Chart("wave", "A wave", Axis("time", "ms"), Axis("height", "A"), (sine,))
    stated = Chart("stated", "A wave on stated limits", Axis("time", "ms"), Axis("height", "A", -16.0, 16.0), (sine,))
    lower = [0.4 * max(0.0, math.sin(t)) for t in TIMES]
    scene = Scene(TIMES, lower, [min(x, 0.0) - 0.1 for x in lower], lower, [0] * len(TIMES), 0.2, 0.46,
                  moments=(Mark(3.0, None, "the contacts part", "part"), Mark(6.0, None, "spark", "spark")))
    return Picture(f"Size {values['size']:.0f}.", "A wave.", strips=(strip,), charts=(stated,), scene=scene)


PANEL = Panel(
    "waves", "Waves", "", (Control("size", "Size", "A", 0.0, 20.0, 1.0, 6.0, "How tall the wave is."),), waves,
    (Preset("Twice", {"size": 12.0}, "Twice as tall."), Preset("Half", {"size": 3.0}, "Half as tall."),
     Preset("A tenth", {"size": 1.0}, "Small.")))

GHOST, KEPT = 0.38, 0.62  # so much of the hue have a former curve, and that of a run kept to compare
# {now, before}: how tall the curve is in each canvas, and a pale one with such a share, in px of it; 0 where there is none
_TALL = """(panel, [hue, ground, share]) => [...panel.shadowRoot.querySelectorAll("canvas")].map((canvas) => {
    const rgb = (text) => [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16));
    const [strong, back] = [rgb(hue), rgb(ground)], pale = strong.map((part, i) => share * part + (1 - share) * back[i]);
    const {width, height} = canvas, {data} = canvas.getContext("2d").getImageData(0, 0, width, height);
    const like = (at, wanted) => {
        const cover = data[at + 3] / 255;
        for (let k = 0; k < 3; k++) if (Math.abs(cover * data[at + k] + (1 - cover) * back[k] - wanted[k]) > 14) return false;
        return true;
    };
    const kind = new Uint8Array(width * height);  // 1: of the curve, 2: as pale as its ghost
    for (let i = 0; i < kind.length; i++) kind[i] = like(4 * i, strong) ? 1 : like(4 * i, pale) ? 2 : 0;
    const alone = (i) => {  // a soft edge of the curve is as pale as its ghost
        for (let down = -3; down <= 3; down++)
            for (let right = -3; right <= 3; right++) if (kind[i + down * width + right] === 1) return false;
        return true;
    };
    const tall = (wanted) => {
        const rows = [];
        kind.forEach((each, i) => { if (each === wanted && (wanted === 1 || alone(i))) rows.push(Math.floor(i / width)); });
        return rows.length ? rows[rows.length - 1] - rows[0] + 1 : 0;
    };
    return {now: tall(1), before: tall(2)};
})"""


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = opened(browser)
    yield page
    assert page.faults == []
    page.close()


def opened(browser: Any, attributes: str = "", **context: Any) -> Any:
    return open_page(browser, f'<coil-panel name="waves" {attributes}></coil-panel>', Engine(panels={"waves": PANEL}),
                     "coil-panel[data-state=live] canvas", 900, patience=20_000, **context)


def tall(page: Any, share: float = GHOST) -> list[dict[str, int]]:
    table = looks.hues()
    return page.locator("coil-panel").evaluate(
        _TALL, [table["quantities"]["current"]["light"], table["light"]["surface"], share])


def press(page: Any, name: str) -> list[dict[str, int]]:
    after_painting(page.locator("coil-panel"), page.get_by_role("button", name=name, exact=True).click)
    return tall(page)


def test_twice_as_tall_is_drawn_twice_as_tall(page: Any) -> None:
    """On an axis with limits of its own it keeps its height, on one without the former curve shrinks with the axis."""
    begun = tall(page)
    assert [each["before"] for each in begun] == [0, 0], "nothing was before it"
    twice = press(page, "Twice")
    for each in twice:
        assert each["now"] / each["before"] == pytest.approx(2.0, rel=0.08)
    assert twice[1]["before"] == pytest.approx(begun[1]["now"], abs=2)
    half = press(page, "Half")
    for each in half:
        assert each["before"] / each["now"] == pytest.approx(4.0, rel=0.15)
    assert half[0]["before"] == pytest.approx(twice[0]["now"], abs=2), "the axis has not moved"


def test_an_axis_that_has_become_too_large_is_drawn_anew(page: Any) -> None:
    press(page, "Twice")
    small = press(page, "A tenth")
    assert small[0]["now"] < 0.2 * small[0]["before"]
    again = press(page, "Half")
    assert again[0]["now"] > 2.5 * small[0]["now"]
    assert again[0]["now"] / again[0]["before"] == pytest.approx(3.0, rel=0.2)


def test_an_axis_with_limits_grows_only_where_a_curve_really_leaves_them_and_says_so(page: Any) -> None:
    said = page.locator("coil-panel figure", has_text="on stated limits").locator(".grown")
    begun = tall(page)[1]["now"]
    to = "(panel, size) => panel.set({size})"
    panel = page.locator("coil-panel")
    after_painting(panel, lambda: panel.evaluate(to, 16))
    assert said.text_content() == ""
    assert tall(page)[1]["now"] / begun == pytest.approx(16.0 / 6.0, rel=0.06)
    after_painting(panel, lambda: panel.evaluate(to, 20))
    assert said.inner_text().replace("\u00a0", " ") == "axis here to \u00b122 A, elsewhere to \u00b116 A"
    grown = tall(page)[1]
    assert grown["now"] / grown["before"] == pytest.approx(20.0 / 16.0, rel=0.06)
    for _ in range(2):  # the second time also its ghost is within the limits again
        after_painting(panel, lambda: panel.evaluate(to, 3))
        after_painting(panel, lambda: panel.evaluate(to, 6))
    assert said.text_content() == ""
    assert tall(page)[1]["now"] == pytest.approx(begun, abs=2)


def test_an_axis_that_follows_the_setting_is_stretched_for_a_kept_run_and_for_no_ghost(browser: Any) -> None:
    def following(values: Any) -> Picture:
        chart = waves(values).charts[0]
        most = 1.25 * values["size"]
        return Picture("A wave.", "A wave.", charts=(replace(chart, y=Axis("height", "A", -most, most, "the size")),))

    panel = replace(PANEL, compute=following)
    page = open_page(browser, '<coil-panel name="waves"></coil-panel>', Engine(panels={"waves": panel}),
                     "coil-panel[data-state=live] canvas", 900, patience=20_000)
    begun = tall(page)[0]["now"]
    press(page, "Twice")
    assert press(page, "Half")[0]["now"] == pytest.approx(begun, abs=2)
    said = page.locator("coil-panel .grown")
    assert said.text_content() == ""
    page.get_by_role("button", name="Reset", exact=True).click()
    after_painting(page.locator("coil-panel"), lambda: page.evaluate("document.querySelector('coil-panel').set({size: 12})"))
    page.get_by_role("button", name="Keep this to compare").click()
    press(page, "Half")
    assert said.text_content() != ""
    assert tall(page, KEPT)[0]["before"] == pytest.approx(begun, rel=0.2), "all of it is in sight"
    assert page.faults == []
    page.close()


def test_the_ghost_is_what_the_slider_came_from(page: Any) -> None:
    """Not what it passed on its way."""
    begun = tall(page)
    after_painting(page.locator("coil-panel"), lambda: page.evaluate("""() => {
        const slider = document.querySelector("coil-panel").shadowRoot.querySelector("input[name=size]");
        for (const value of [7, 9, 11, 12]) {
            slider.value = value;
            slider.dispatchEvent(new Event("input"));
        }
    }"""))
    assert tall(page)[1]["before"] == pytest.approx(begun[1]["now"], abs=2)
    assert page.locator("coil-panel").get_by_text("pale: before").first.is_visible()


def moments(page: Any, count: int) -> list[float]:
    """Return the moments that the picture goes through from now on."""
    return page.evaluate("""async (count) => {
        const {clock} = document.querySelector("coil-panel").figures, seen = [];
        return new Promise((resolve) => clock.watch((now) => { if (seen.push(now) === count) resolve(seen); }));
    }""", count)


def test_where_less_motion_is_asked_for_play_shows_stills(browser: Any) -> None:
    page = opened(browser, reduced_motion="reduce")
    page.clock.install()
    page.evaluate("""() => {
        window.seen = [];
        document.querySelector("coil-panel").figures.clock.watch((now) => window.seen.push(now));
    }""")
    page.get_by_role("button", name="Play").click()
    page.clock.run_for(4 * 1500 + 100)
    assert page.evaluate("window.seen") == [3.0, 6.0, 0.0, 3.0, 6.0]
    page.get_by_role("button", name="Pause").click()
    page.clock.run_for(5000)
    assert page.evaluate("window.seen.length") == 5
    assert page.faults == []
    page.close()


def test_a_picture_said_to_be_moving_begins_by_itself_and_can_be_halted(browser: Any) -> None:
    page = opened(browser, "moving")
    first, *_, last = moments(page, 12)
    assert last != first
    page.get_by_role("button", name="Pause").click()
    assert page.evaluate("document.querySelector('coil-panel').figures.clock.playing") is False
    after_painting(page.locator("coil-panel"), lambda: page.evaluate("document.querySelector('coil-panel').set({size: 9})"))
    assert page.evaluate("document.querySelector('coil-panel').figures.clock.playing") is False, "it stays as it was put"
    page.close()


def test_nothing_moves_by_itself_where_less_motion_is_asked_for(browser: Any) -> None:
    page = opened(browser, "moving", reduced_motion="reduce")
    assert page.evaluate("document.querySelector('coil-panel').figures.clock.playing") is False
    page.close()
