"""The glossary: every word has its lesson, the lesson uses the word, each of its forms is found in a text, and the picture is
drawn to the model's measure.
"""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from functools import cache

import pytest

from book.making import glossary as page_of
from coilmodel import Machine
from lessons import glossary
from lessons.cells import trade_words
from lessons.contents import LESSONS
from lessons.engine import Engine
from lessons.exercises import EXERCISES
from lessons.glossary import HERE, TERMS, Term, lesson_file
from lessons.panels import PANELS

each = pytest.mark.parametrize("term", TERMS, ids=[term.word for term in TERMS])


@cache
def text_of(lesson: int) -> str:
    """Return all that a lesson says: its notebook, its panels' words, its exercises' questions and replies."""
    cells = json.loads((HERE / lesson_file(lesson)).read_text(encoding="utf-8"))["cells"]
    said = ["".join(cell["source"]) for cell in cells]
    for name in re.findall(r'panel\("([a-z_]+)"\)', "\n".join(said)):
        panel = PANELS[name]
        picture = panel.picture()
        said += [panel.title, panel.question, picture.sentence, picture.alt]
        said += [f"{control.label} {control.why}" for control in panel.controls]
        said += [f"{preset.label} {preset.say}" for preset in panel.presets]
        said += [reading.label for reading in picture.readings]
        said += [chart.title for chart in (*picture.strips, *picture.charts)]
    engine = Engine()
    for exercise in (exercise for exercise in EXERCISES.values() if exercise.lesson == lesson):
        said += [exercise.title, exercise.prompt(engine.variant(exercise)), *exercise.hints]
        said += [belief.reply for belief in exercise.misconceptions]
    return " ".join(" ".join(said).split())


def uses(text: str, word: str) -> bool:
    """Say whether `text` has `word`, or a form of it, as a word of its own."""
    return re.search(rf"(?<![\w-]){re.escape(word)}(s|es|ed|ing)?(?![\w-])", text, re.IGNORECASE) is not None


@each
def test_the_lesson_is_there_and_uses_the_word(term: Term) -> None:
    assert 0 <= term.lesson < len(LESSONS)
    said = text_of(term.lesson)
    assert any(uses(said, name) for name in (term.word, *term.found_by)), f"lesson {term.lesson} never says {term.word!r}"


@each
def test_it_is_one_plain_sentence(term: Term) -> None:
    assert term.sentence.endswith(".")
    assert not re.search(r"[.!?] ", term.sentence), "more than one sentence"
    assert term.sentence[0].isupper()
    assert 20 < len(term.sentence) < 140


def test_words_stand_once_and_in_order() -> None:
    words = [term.word.casefold() for term in TERMS]
    assert words == sorted(words)
    names = [name.casefold() for term in TERMS for name in (term.word, *term.also)]
    assert len(set(names)) == len(names)


def test_a_word_that_is_not_there_is_found_out() -> None:
    assert not uses("the bridges of the town", "bridge spring")
    assert not uses("a self-discharge", "discharge")
    assert uses("Two arcs; the arc.", "arc")
    assert not uses("march", "arc")
    with pytest.raises(ValueError, match="there is no lesson 57"):
        lesson_file(57)


# --------------------------------------------------------------------------------------------------------- forms
@each
def test_each_form_of_a_word_is_found_in_a_text_whole_and_by_itself(term: Term) -> None:
    assert term.found_by or term.everyday
    for form in term.found_by:
        capital = form[0].upper() + form[1:] if form == form.lower() else form
        for text in (form, capital, form.replace(" ", "\n"), form.replace("'", "\u2019")):
            around = f"Here is ({text}), and no more."
            begin = around.index(text)
            assert glossary.uses(around) == [(begin, begin + len(text), term)], text
        for longer in (f"non-{form}", f"{form}x", f"x{form}"):
            assert all(end - begin < len(form) for begin, end, _ in glossary.uses(longer)), longer
    for phrase in term.besides:
        assert term not in {found for _, _, found in glossary.uses(f"See {phrase} so.")}
        assert term in {found for _, _, found in glossary.uses(phrase.replace(" ", " , "))}, f"{phrase!r} is not needed"


def test_no_form_stands_for_two_words() -> None:
    forms = [form.casefold() for term in TERMS for form in term.found_by]
    assert sorted(form for form in forms if forms.count(form) > 1) == []


OTHER_WORDS = {"driving", "cores", "doubts"}
"""What looks like a form of a word and is none: one drives a car, a computer has cores, and doubts are not in bits."""


def unlisted(text: str) -> list[str]:
    """Return a sentence for each plural or other ending in `text` of a word of the trade that is not among its forms."""
    listed = {form.casefold() for term in TERMS for form in (term.word, *term.found_by)} | OTHER_WORDS
    found = set()
    for term in (term for term in TERMS if not term.everyday):
        for form in term.found_by:
            if form != form.lower():
                continue
            stem = re.escape(form.removesuffix("e")) + "e?"
            for use in re.findall(rf"(?<![\w-]){stem}(?:s|es|d|ed|ing)(?![\w-])", text, re.IGNORECASE):
                if " ".join(use.split()).casefold() not in listed:
                    found.add(f"{use!r} is no form of {term.word!r}: add it to lessons/glossary.py, or to OTHER_WORDS here.")
    return sorted(found)


def test_each_plural_that_the_texts_use_is_listed() -> None:
    notebooks = [cell for path in sorted(HERE.glob("*.ipynb")) for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]]
    said = [text for cell in notebooks for text in glossary.texts(cell["cell_type"], "".join(cell["source"]))]
    said += [path.read_text(encoding="utf-8") for path in sorted((HERE.parent / "book/pages").glob("*.md"))]
    found = unlisted("\n".join(said))
    assert not found, "\n".join(found)


def test_a_plural_that_is_not_listed_is_found_out() -> None:
    assert "'turns ratios' is no form of 'turns ratio'" in unlisted("Two turns ratios.")[0]
    assert unlisted("Two condensers of two coils.") == []


# ----------------------------------------------------------------------------------------------------- notebooks
def test_a_notebook_lists_the_words_that_its_text_uses(monkeypatch: pytest.MonkeyPatch) -> None:
    listed = trade_words(8).data
    for word in ("timer", "window", "advance", "retard", "the top (top dead centre)", "staircase", "firing order"):
        assert f"\n- **{word}**: " in listed
    assert "bench sheet" not in listed
    assert "**rivet" not in listed
    monkeypatch.setenv("COIL_COURSE_BOOK", "1")
    assert trade_words(8) is None  # there each is explained where it stands


@pytest.mark.parametrize("lesson", range(len(LESSONS)))
def test_each_notebook_shows_its_own_list(lesson: int) -> None:
    cells = json.loads((HERE / lesson_file(lesson)).read_text(encoding="utf-8"))["cells"]
    first = next("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
    assert first.endswith(f"\ntrade_words({lesson})")


# ---------------------------------------------------------------------------------------------------------- page
def test_the_page_has_every_word_its_sentence_and_its_link() -> None:
    page = page_of.glossary_page()
    for term in TERMS:
        assert f"{term.sentence} [Lesson {term.lesson}](lessons/{lesson_file(term.lesson)})" in page
        for name in (term.word, *term.also):
            assert f"\n{name}\n" in page


# ------------------------------------------------------------------------------------------------------- picture
def drawing(machine: Machine) -> dict[str, dict[str, str]]:
    """Return the parts of the picture by their id."""
    return {node.get("id"): dict(node.attrib) for node in ET.fromstring(page_of.contact_set(machine)).iter() if node.get("id")}


@pytest.mark.parametrize("travel", [0.15e-3, 0.2595e-3, 0.35e-3])
def test_the_picture_is_to_scale(travel: float) -> None:
    machine = Machine().but(cushion={"travel": travel})
    parts = drawing(machine)
    scale = float(parts["scale-bar"]["data-length"]) / 0.1e-3  # pixels a metre
    free = float(parts["upper-blade"]["data-top"]) - float(parts["bridge"]["data-bottom"])
    assert free == pytest.approx(travel * scale, rel=1e-6)
    apart = float(parts["lower-contact"]["y"]) - float(parts["upper-contact"]["y"]) - float(parts["upper-contact"]["height"])
    assert 0.0 < apart <= 1.05 * machine.vibrator.stop * scale
    assert f"{1e3 * travel:.2f}" in page_of.contact_set(machine)


def test_the_picture_speaks_and_names_the_parts() -> None:
    root = ET.fromstring(page_of.contact_set(Machine()))
    words = " ".join(root.itertext())
    assert root.get("role") == "img"
    assert root.get("aria-labelledby")
    for part in ("bridge", "cushion blade", "upper contact", "lower contact", "vibrator blade", "limit rivet", "core", "primary",
                 "secondary", "condenser", "plug gap"):
        assert part in words
