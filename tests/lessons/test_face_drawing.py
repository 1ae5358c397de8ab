"""Drawings in a real browser: parts light up and say what they are, by mouse, finger, keys and the page's own words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from lessons.engine import Engine
from lessons.glossary import TERMS

from .test_face import AXE, open_page

pytestmark = pytest.mark.browser
SENTENCE = {term.word: term.sentence for term in TERMS}
TEXT = "<p>The <strong>Limit rivet.</strong> stops it; <em>core, primary and secondary</em> lie below. <b>bridge</b></p>"


def opened(browser: Any, name: str = "box_open", theme: str = "light", width: int = 1280, **context: Any) -> Any:
    return open_page(browser, f'{TEXT}<coil-panel name="{name}"></coil-panel>', Engine(), "coil-panel[data-state=live] .part",
                     width, theme, **context)


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = opened(browser)
    yield page
    assert page.faults == []
    assert page.strangers == []
    page.close()


def lit(page: Any) -> list[str]:
    """Return the parts that are lit in the drawing; the list's lit words must be the same."""
    found = page.evaluate("""() => {
        const root = document.querySelector("coil-panel").shadowRoot;
        return {parts: [...root.querySelectorAll(".part.lit")].map((part) => part.dataset.part),
                words: [...root.querySelectorAll(".parts button.lit")].map((button) => button.textContent),
                naming: root.querySelector(".drawing svg").classList.contains("naming")};
    }""")
    assert found["parts"] == found["words"]
    assert found["naming"] == bool(found["parts"])
    return found["parts"]


def said(page: Any) -> str:
    return page.locator(".named").inner_text()


def test_a_word_of_the_list_lights_its_part_and_names_it(page: Any) -> None:
    word = page.locator(".parts").get_by_role("button", name="core", exact=True)
    word.hover()
    assert lit(page) == ["core"]
    page.mouse.move(5, 5)
    assert lit(page) == []
    word.focus()
    assert lit(page) == ["core"]
    word.press("Enter")
    assert said(page) == f"Core: {SENTENCE['core']}"
    assert word.get_attribute("aria-pressed") == "true"
    page.evaluate("document.activeElement.shadowRoot.activeElement.blur()")
    assert lit(page) == ["core"], "what was pressed stays lit"
    word.press("Enter")
    assert "Press a part" in said(page)


def test_a_press_on_a_part_names_it(page: Any) -> None:
    for word in ("condenser", "limit rivet", "plug gap"):
        page.locator(f"[data-part='{word}'] .badge").click()
        assert said(page) == f"{word.capitalize()}: {SENTENCE[word]}"
        assert lit(page) == [word]


def test_a_finger_on_a_part_names_it(browser: Any) -> None:
    page = opened(browser, width=360, has_touch=True, is_mobile=True)
    page.locator("[data-part='cushion blade'] .badge").tap()
    assert said(page) == f"Cushion blade: {SENTENCE['cushion blade']}"
    box, words = page.locator(".drawing svg").bounding_box(), page.locator(".named").bounding_box()
    assert words["y"] - (box["y"] + box["height"]) < 20, "the sentence stands right under the drawing"
    assert page.faults == []
    page.close()


def test_keys_go_from_part_to_part(page: Any) -> None:
    words = page.evaluate("[...document.querySelector('coil-panel').shadowRoot.querySelectorAll('.part')].map((p) => "
                          "p.dataset.part)")
    page.locator(f"[data-part='{words[0]}']").focus()
    assert lit(page) == [words[0]]
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowDown")
    assert lit(page) == [words[2]]
    page.keyboard.press("Enter")
    assert said(page).startswith(words[2].capitalize())
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowLeft")
    assert lit(page) == [words[-1]], "round the end"
    page.keyboard.press(" ")
    assert said(page) == f"{words[-1].capitalize()}: {SENTENCE[words[-1]]}"
    page.keyboard.press("Escape")
    assert "Press a part" in said(page)
    stops = page.locator(".part[tabindex='0']")
    assert stops.count() == 1, "the drawing is one stop of the Tab key"
    assert stops.get_attribute("data-part") == words[-1]


def test_words_of_the_page_light_the_parts_that_they_name(page: Any) -> None:
    page.get_by_text("Limit rivet.").hover()
    assert lit(page) == ["limit rivet"]
    page.get_by_text("core, primary and secondary").hover()
    assert sorted(lit(page)) == ["core", "primary", "secondary"]
    page.locator("b").hover()
    assert lit(page) == [], "only words in strong or emphasised type"


def test_a_slider_turns_the_magneto_and_the_focus_stays_on_its_part(browser: Any) -> None:
    page = opened(browser, "flywheel")
    path = "document.querySelector('coil-panel').shadowRoot.querySelector('[data-part=magnet] path').getAttribute('d')"
    before = page.evaluate(path)
    page.locator("[data-part=magnet]").focus()
    page.evaluate("document.querySelector('coil-panel').set({angle: 7})")
    page.wait_for_function(f"{path} !== {before!r}")
    assert page.evaluate("document.activeElement.shadowRoot.activeElement.dataset.part") == "magnet"
    assert page.faults == []
    page.close()


def test_the_drawing_is_named_and_its_parts_are_buttons(page: Any) -> None:
    drawing = page.get_by_role("group", name="The box, cut open", exact=True)
    assert drawing.count() == 1
    assert drawing.get_by_role("button", name="12, limit rivet", exact=True).count() == 1
    assert page.locator(".parts").get_by_role("button").count() == page.locator(".part").count()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", ["box_open", "timer_parts"])
def test_axe_finds_nothing(browser: Any, name: str, theme: str) -> None:
    page = opened(browser, name, theme)
    page.locator(".part").first.focus()
    page.keyboard.press("Enter")
    page.add_script_tag(path=str(AXE))
    found = page.evaluate("axe.run(document.querySelector('coil-panel'), {rules: {region: {enabled: false}}})")
    assert [f"{each['id']}: {each['nodes'][0]['html'][:120]}" for each in found["violations"]] == []
    page.close()


@pytest.mark.parametrize("name", ["box_open", "flywheel", "coil_section", "bridge_views", "timer_parts"])
@pytest.mark.parametrize("width", [360, 768, 1280])
def test_numbers_and_words_are_large_enough_and_nothing_sticks_out(browser: Any, name: str, width: int) -> None:
    """A number is 20 px across and its letters 12 px at every width; no lettering leaves the drawing."""
    page = opened(browser, name, width=width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    seen = page.evaluate("""() => {
        const root = document.querySelector("coil-panel").shadowRoot, svg = root.querySelector(".drawing svg");
        const frame = svg.getBoundingClientRect(), scale = frame.width / svg.viewBox.baseVal.width;
        const texts = [...svg.querySelectorAll("text")].map((text) => ({
            size: parseFloat(getComputedStyle(text).fontSize) * scale,
            box: text.getBoundingClientRect(), words: text.textContent}));
        return {badge: root.querySelector(".badge").getBoundingClientRect().width,
                least: Math.min(...texts.map(({size}) => size)),
                out: texts.filter(({box}) => box.left < frame.left - 1 || box.right > frame.right + 1).map(({words}) => words)};
    }""")
    assert seen["badge"] >= 19.9
    assert seen["least"] >= 11.9
    assert seen["out"] == []
    page.close()


def test_paper_shows_every_sentence(browser: Any) -> None:
    page = opened(browser)
    assert not page.locator(".gloss").first.is_visible()
    page.emulate_media(media="print")
    glosses = page.locator(".gloss")
    assert all(glosses.nth(i).is_visible() for i in range(glosses.count()))
    assert page.locator(".parts").get_by_role("button", name="bridge").is_visible()
    assert not page.locator(".named").is_visible()
    page.close()
