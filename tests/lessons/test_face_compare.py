"""A run kept to compare: it stays drawn beside what comes next, and says so in words, until it is let go or another is kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from lessons.contracts import Axis, Picture
from lessons.engine import Engine

from ..book.browsing import after_painting
from . import test_face_still as still
from .test_face import AXE, BENCH, everything, open_page

pytestmark = pytest.mark.browser

KEEP, INSTEAD, LET_GO = "Keep this to compare", "Keep this one instead", "Let the kept run go"


def other_axes(values: Any) -> Picture:
    """The bench's picture; fired twice, in other units."""
    picture = everything(values)
    if values["mode"] == "single":
        return picture
    assert picture.ladder is not None
    return replace(picture, ladder=replace(picture.ladder, x=Axis("time", "ms", 0.0, 9.0)),
                   strips=tuple(replace(strip, y=Axis("height", "V")) for strip in picture.strips))


def bending(values: Any) -> Picture:
    """The bench's picture, its lower blade moved the farther the larger the size; the larger, the longer the pulse."""
    picture = everything(values)
    assert picture.scene is not None
    scene = picture.scene
    return replace(picture, scene=replace(scene, time=[0.2 * values["size"] * t for t in scene.time],
                                          vibrator=[0.1 * values["size"] * x for x in scene.vibrator]))


def in_words(values: Any) -> Picture:
    """The bench's picture, of whose sentences in words one changes with the size; in the double kind there is one more."""
    more = " Once more it sparks, at 7.5 ms." if values["mode"] == "double" else ""
    alt = f"A pulse of 8.3 ms. It parts at {values['size']:.1f} A; a spark.{more} It closes."
    return replace(everything(values), alt=alt)


PLAIN = replace(BENCH, name="plain", quick=None, compute=lambda values: replace(
    everything(values), strips=(), charts=(), ladder=None))


def opened(browser: Any, width: int = 1100, elements: str = '<coil-panel name="bench"></coil-panel>', **more: Any) -> Any:
    panels = {"bench": BENCH, "plain": PLAIN, "other": replace(BENCH, name="other", quick=None, compute=other_axes),
              "bending": replace(BENCH, name="bending", quick=None, compute=bending),
              "words": replace(BENCH, name="words", quick=None, compute=in_words)}
    return open_page(browser, elements, Engine(panels=panels, exercises={}), width=width, patience=20_000, **more)


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    one = opened(browser)
    yield one
    assert one.faults == []
    one.close()


def button(page: Any, name: str) -> Any:
    return page.get_by_role("button", name=name, exact=True)


def set_to(page: Any, name: str = "coil-panel", **values: Any) -> None:
    panel = page.locator(name)
    after_painting(panel, lambda: panel.evaluate("(panel, values) => panel.set(values)", values))


def texts(page: Any, selector: str) -> list[str]:
    return page.locator(f"coil-panel {selector}").all_inner_texts()


def told(page: Any) -> str:
    return page.locator("coil-panel p[aria-live]").text_content()


def kept_marks(page: Any) -> int:
    """Return how many first sparks of a kept run the ladder draws."""
    return page.evaluate("""() => {
        const marks = document.querySelector("coil-panel").shadowRoot.querySelector(".ladder g.kept .sparks-1");
        return marks ? marks.getAttribute("d").split("M").length - 1 : 0;
    }""")


def test_the_kept_run_is_drawn_told_and_its_readings_stand_beside_the_present_ones(page: Any) -> None:
    button(page, KEEP).click()
    assert "kept" in told(page)
    assert texts(page, ".readings dd.kept") == ["kept the same", "kept the same"]
    set_to(page, size=8.0, mode="double")
    assert texts(page, ".readings dd") == ["8.0 mm", "kept 5.0 mm", "2", "kept 1"]
    words = page.locator("coil-panel .kept-run").inner_text()
    assert words.split() == "Kept run: Size 5.0 mm, now 8.0 mm; Kind of coil fires once, now fires twice.".split()
    assert texts(page, ".telling p:visible") == ["Size 8.0 at speed 450, double.", "Kept: Size 5.0 at speed 450, single."]
    assert kept_marks(page) == 11
    assert "kept run: the shaded half of each row" in texts(page, ".ladder figcaption")[0]
    ladder = page.locator("coil-panel .ladder svg[role]").get_attribute("aria-label")
    assert ladder.endswith("22 sparks in 12 pulses, 1 without a spark. Kept run: 11 sparks in 12 pulses, 1 without a spark.")
    keys = " ".join(texts(page, ".key"))
    assert "pale, dash and dot: kept run" in keys
    assert "pale: before" not in keys, "one pale curve at a time"


def test_the_picture_in_words_tells_both_runs_and_what_is_said_of_both_once(browser: Any) -> None:
    page = opened(browser, elements='<coil-panel name="words"></coil-panel>')

    def words() -> list[str]:
        return [" ".join(part.split()) for part in page.locator("coil-panel #alt p").all_text_contents()]

    assert words() == ["A pulse of 8.3 ms. It parts at 5.0 A; a spark. It closes."]
    button(page, KEEP).click()
    assert words() == ["A pulse of 8.3 ms. It parts at 5.0 A; a spark. It closes.",
                       "Kept run: set as now.", "In words the two are the same."]
    set_to(page, size=8.0, mode="double")
    told_now = ["Now: It parts at 8.0 A; a spark. Once more it sparks, at 7.5 ms.",
                "Kept run: Size 5.0 mm, now 8.0 mm; Kind of coil fires once, now fires twice. It parts at 5.0 A; a spark.",
                "Both runs: A pulse of 8.3 ms. It closes."]
    assert words() == told_now
    assert page.get_by_role("group", name="Picture: A panel with everything").count() == 1
    described = page.evaluate("""() => {
        const {shadowRoot} = document.querySelector("coil-panel");
        const picture = shadowRoot.querySelector("[role=group][aria-describedby]");
        return shadowRoot.getElementById(picture.getAttribute("aria-describedby")).textContent;
    }""")
    assert "Kept run:" in described
    assert page.locator("coil-panel #alt[aria-live], coil-panel [aria-live] #alt, coil-panel [role=status] #alt").count() == 0, \
        "the words are to be read; it is the voice that speaks"
    set_to(page, size=3.0, mode="single")
    button(page, INSTEAD).click()
    set_to(page, size=3.0, mode="double")
    assert words() == ["Now: Once more it sparks, at 7.5 ms.", "Kept run: Kind of coil fires once, now fires twice.",
                       "Both runs: A pulse of 8.3 ms. It parts at 3.0 A; a spark. It closes."]
    button(page, LET_GO).click()
    assert words() == ["A pulse of 8.3 ms. It parts at 3.0 A; a spark. Once more it sparks, at 7.5 ms. It closes."]
    assert page.faults == []
    page.close()


def test_one_sentence_a_rest(page: Any) -> None:
    button(page, KEEP).click()
    page.evaluate("""() => {
        window.spoken = [];
        const voice = document.querySelector("coil-panel").shadowRoot.querySelector("p[aria-live]");
        new MutationObserver(() => window.spoken.push(voice.textContent)).observe(voice, {childList: true});
    }""")
    after_painting(page.locator("coil-panel"), lambda: page.evaluate("""() => {
        const slider = document.querySelector("coil-panel").shadowRoot.querySelector("input[name=size]");
        for (const value of [6, 7, 8]) {
            slider.value = value;
            slider.dispatchEvent(new Event("input"));
        }
    }"""))
    page.wait_for_timeout(500)
    assert page.evaluate("window.spoken") == [
        "Size 8.0 at speed 450, single. In the kept run: Size 5.0 at speed 450, single."]


def test_it_is_the_curve_of_the_kept_run_that_is_drawn_pale_and_no_other(browser: Any) -> None:
    page = still.opened(browser)
    begun = still.tall(page)
    still.press(page, "Half")
    button(page, KEEP).click()
    still.press(page, "Twice")
    still.press(page, "Half")
    set_to(page, size=6.0)
    now = still.tall(page, still.KEPT)
    assert now[1]["now"] == pytest.approx(begun[1]["now"], abs=2)
    assert now[1]["now"] / now[1]["before"] == pytest.approx(2.0, rel=0.12), "the one kept, of 3 A, and not the one before"
    button(page, LET_GO).click()
    page.wait_for_timeout(100)
    assert [each["before"] for each in still.tall(page)] == [0, 0], "no ghost comes out of hiding"
    still.press(page, "Twice")
    assert still.tall(page)[1]["before"] == pytest.approx(begun[1]["now"], abs=2), "from here on the former curve again"
    assert page.faults == []
    page.close()


def test_it_survives_presets_reset_an_error_another_width_theme_and_paper(page: Any) -> None:
    set_to(page, size=3.0)
    button(page, KEEP).click()
    after_painting(page.locator("coil-panel"), button(page, "Large").click)
    assert texts(page, ".readings dd.kept")[0] == "kept 3.0 mm"
    page.evaluate("document.querySelector('coil-panel').set({size: 9.9})")
    page.locator("coil-panel .trouble[role=alert]").wait_for()
    after_painting(page.locator("coil-panel"), button(page, "Reset").click)
    assert texts(page, ".readings dd.kept")[0] == "kept 3.0 mm"
    page.set_viewport_size({"width": 360, "height": 740})
    page.wait_for_function("document.querySelector('coil-panel').seenWidth < 340")
    assert kept_marks(page) == 11
    page.evaluate("document.body.style.background = '#121212'")
    page.locator("coil-panel .face[data-theme=dark]").wait_for(state="attached")
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("coil-panel .kept-run").is_visible()
    assert not button(page, LET_GO).is_visible()
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert kept_marks(page) == 11


def test_it_is_replaced_or_let_go_by_keyboard_and_the_focus_is_not_lost(page: Any) -> None:
    button(page, KEEP).focus()
    page.keyboard.press("Enter")
    set_to(page, size=8.0)
    assert page.locator("coil-panel").evaluate("(panel) => panel.shadowRoot.activeElement.textContent") == INSTEAD
    page.keyboard.press("Enter")
    set_to(page, size=2.0)
    assert texts(page, ".readings dd.kept")[0] == "kept 8.0 mm"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.locator("coil-panel").evaluate("(panel) => panel.shadowRoot.activeElement.textContent") == KEEP
    assert texts(page, "dd.kept") == []
    assert not page.locator("coil-panel .kept-run").is_visible()
    assert kept_marks(page) == 0
    assert "go" in told(page)


def test_pressed_before_the_picture_is_there_it_keeps_what_was_set_at_that_moment_and_not_what_comes_next(page: Any) -> None:
    """Neither the picture from before the move, nor a quick one without its ladder, nor what is set right afterwards."""
    panel = page.locator("coil-panel")
    after_painting(panel, lambda: page.evaluate("""() => {
        const {shadowRoot} = document.querySelector("coil-panel"), slider = shadowRoot.querySelector("input[name=size]");
        slider.value = 7;
        slider.dispatchEvent(new Event("input"));
        [...shadowRoot.querySelectorAll("button")].find(({textContent}) => textContent === "Keep this to compare").click();
        slider.value = 8;
        slider.dispatchEvent(new Event("input"));
    }"""))
    set_to(page, size=2.0)
    assert texts(page, ".readings dd.kept")[0] == "kept 7.0 mm"
    assert kept_marks(page) == 11


def test_on_a_phone_the_kept_ladder_stands_at_the_right_of_the_present_one(browser: Any) -> None:
    page = opened(browser, 360)
    button(page, KEEP).click()
    set_to(page, mode="double")
    now, kept = page.evaluate("""() => ["svg > .sparks-1", ".kept .sparks-1"].map((each) => {
        const {x, width} = document.querySelector("coil-panel").shadowRoot.querySelector(`.ladder ${each}`).getBBox();
        return [x, x + width];
    })""")
    assert now[1] < kept[0]
    assert "kept run: at the right, shaded" in texts(page, ".ladder figcaption")[0]
    assert page.faults == []
    page.close()


def test_the_blades_of_the_kept_run_are_outlined_in_the_moving_picture_at_the_same_moment(browser: Any) -> None:
    page = opened(browser, elements='<coil-panel name="bending"></coil-panel>')
    blades = """(moment) => {
        const {figures, shadowRoot} = document.querySelector("coil-panel");
        figures.clock.set(moment);
        return [".vibrator-blade", ".cushion-blade", ".kept-blade", ".kept-blade + .kept-blade"].map((each) =>
            shadowRoot.querySelector(each).getAttribute("d"));
    }"""
    lower, upper, *nothing = page.evaluate(blades, 1.5)
    assert nothing == ["", ""]
    button(page, KEEP).click()
    set_to(page, size=8.0)
    now, above, *kept = page.evaluate(blades, 1.5)
    assert kept == [lower, upper]
    assert now != lower
    assert above != ""
    assert page.evaluate(blades, 9.0)[2:] == ["", ""], "the kept pulse is over by then"
    assert "kept run" in texts(page, ".scene figcaption")[0]
    button(page, LET_GO).click()
    assert page.evaluate(blades, 1.5)[2:] == ["", ""]
    assert "kept run" not in texts(page, ".scene figcaption")[0]
    assert page.faults == []
    page.close()


def test_what_stands_on_other_axes_is_not_drawn_and_that_is_said(browser: Any) -> None:
    page = opened(browser, elements='<coil-panel name="other"></coil-panel>')
    button(page, KEEP).click()
    set_to(page, mode="double")
    assert kept_marks(page) == 0
    assert "kept run: not on this axis" in texts(page, ".ladder figcaption")[0]
    assert "kept run: not on these axes" in " ".join(texts(page, ".strips .key"))
    set_to(page, mode="single")
    assert kept_marks(page) == 11
    assert page.faults == []
    page.close()


def test_it_is_offered_where_the_picture_has_curves_or_a_ladder(browser: Any) -> None:
    page = opened(browser, elements='<coil-panel name="bench"></coil-panel><coil-panel name="plain"></coil-panel>'
                                    '<coil-panel name="bench" parts="map scene"></coil-panel>')
    page.wait_for_function("document.querySelectorAll('coil-panel[data-state=live]').length === 3")
    offered = page.evaluate("""(keep) => [...document.querySelectorAll("coil-panel")].map(({shadowRoot}) =>
        [...shadowRoot.querySelectorAll("button")].some((each) => each.textContent === keep && !each.hidden))""", KEEP)
    assert offered == [True, False, False]
    page.close()


def test_another_window_can_keep_the_same_run_without_its_sliders_having_stood_there(page: Any) -> None:
    page.evaluate("""async () => {
        window.heard = [];
        const panel = document.querySelector("coil-panel");
        panel.addEventListener("coil-kept", ({detail}) => window.heard.push(detail.kept?.size ?? null));
        await panel.compareWith({size: 7, speed: 450, mode: "single"});
        await panel.compareWith({size: 7, speed: 450, mode: "single"});
    }""")
    assert texts(page, ".readings dd.kept")[0] == "kept 7.0 mm"
    page.evaluate("document.querySelector('coil-panel').compareWith(null)")
    assert page.evaluate("window.heard") == [7, None], "told once each, or two windows would tell each other for ever"


def test_no_barrier_is_found_by_axe_with_a_run_kept(page: Any) -> None:
    button(page, KEEP).click()
    set_to(page, size=8.0)
    page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run().then((result) => result.violations.map(({id, nodes}) => [id, nodes.map((n) => n.html)]))")
    assert found == []
