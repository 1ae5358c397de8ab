"""Words before use: each word of the trade is explained where a page first uses it, by tap, by keyboard and under the mouse.

The fast tests mark a piece of text; the others build the pages' and lessons' own texts by Sphinx alone, in seconds, and the last
one reads the whole book. In the browser such a page is opened as a double click opens it, from the disk.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from docutils import nodes
from docutils.core import publish_doctree

from book._ext import course_words
from book.making import glossary as glossary_page
from book.making import parts
from book.making.places import LIVE, PAGES
from lessons import glossary
from lessons.contents import LESSONS

from .browsing import ROOT, Visit, serious

ADDRESS = {term.word: f"glossary.html#term-{term.word}" for term in glossary.TERMS}
WORDS = {term.word: term for term in glossary.TERMS}


def marked(text: str) -> tuple[list[str], nodes.document]:
    """Return the texts that are marked in reStructuredText, and the marked document."""
    document = publish_doctree(text, settings_overrides={"report_level": 5})
    course_words.mark(document, ADDRESS)
    return [node.astext() for node in document.findall(course_words.word)], document


# ------------------------------------------------------------------------------------------------------ the marking
def test_the_first_use_is_marked_and_no_other_and_the_text_stays_as_it_was():
    text = "Two condensers and a Condenser. The limit\nrivet, then the\nrivet again, and its condenser."
    found, document = marked(text)
    assert found == ["condensers", "limit\nrivet"]
    assert document.astext() == text
    first = next(iter(document.findall(course_words.word)))
    assert first["term"] == "condenser"
    assert first["sentence"] == WORDS["condenser"].sentence
    assert first["address"] == ADDRESS["condenser"]


def test_the_longer_word_goes_before_the_shorter_one_within_it():
    assert marked("A magneto coil on the magneto.")[0] == ["magneto coil", "magneto"]
    assert marked("Its self-discharge, its spark gap.")[0] == ["self-discharge", "spark gap"]


@pytest.mark.parametrize("closed", [
    "Pulse\n=====\n\nNothing.", "``pulse``", "`pulse <https://x.invalid>`_", "::\n\n   pulse", ":math:`pulse`",
    ".. raw:: html\n\n   <p>pulse</p>", ".. figure:: a.png\n\n   A pulse.", ".. image:: a.png\n   :alt: pulse",
    "pulse\n  Two.", "Press *Pulse and more*.", ".. note::\n\n   ``pulse``",
])
def test_no_mark_where_a_button_would_be_in_the_way_and_the_next_use_has_it(closed: str):
    assert marked(closed)[0] == []
    found, document = marked(f"{closed}\n\nThen a pulse.")
    assert found == ["pulse"]
    assert document.astext().endswith("Then a pulse.")


@pytest.mark.parametrize("open_text", ["*pulse*", "**Pulse.** So.", "- a pulse", ".. note::\n\n   A pulse.", "(a pulse's end)"])
def test_a_mark_in_running_text_of_any_kind(open_text: str):
    assert [text.lower() for text in marked(open_text)[0]] == ["pulse"]


def test_a_word_on_two_lines_of_markdown_is_one():
    document = publish_doctree("x", settings_overrides={"report_level": 5})
    document[0][:] = [nodes.Text("The limit"), nodes.Text("\n"), nodes.Text("rivet stops it.")]
    course_words.mark(document, ADDRESS)
    assert [node.astext() for node in document.findall(course_words.word)] == ["limit\nrivet"]


def test_an_everyday_word_is_marked_only_where_it_stands_for_the_trades_own():
    assert marked("Follow the line; can it follow?")[0] == []
    assert marked("You can recognise *follow*.")[0] == ["follow"]
    assert marked("The follow travel.")[0] == ["follow travel"]
    assert marked("A battery drives the coil; it drives a voltage, at any drive.")[0] == ["drive"]


# --------------------------------------------------------------------------- the pages' own texts, by Sphinx alone
CONF = f"""
import sys
sys.path.insert(0, {str(ROOT / "book/_ext")!r})
extensions = ["myst_parser", "course_words"]
myst_enable_extensions = ["amsmath", "colon_fence", "deflist", "dollarmath", "substitution", "tasklist"]
html_theme = "basic"
html_theme_options = {{"nosidebar": True, "body_min_width": 0}}
mathjax_path = "none.js"
html_static_path = ["static"]
html_css_files = ["course.css"]
html_js_files = [("start.js", {{"defer": "defer"}})]
html_copy_source = False
suppress_warnings = ["myst", "toc", "ref", "image", "misc"]
"""
MANY = "# Many\n\n" + "\n\n".join(
    f"{number} lines up to the edge of the page, {'and some more of it ' * (number % 4)}and a {word} at its end."
    for number, word in enumerate(WORDS) if word not in ("follow", "the charge", "the top", "average"))


def sources() -> dict[str, str]:
    """Return {page: Markdown}: the book's own pages and the lessons, without what a run would put into them."""
    pages = {path.relative_to(PAGES).as_posix(): path.read_text(encoding="utf-8") for path in PAGES.rglob("*.md")}
    for lesson in LESSONS:
        cells = json.loads((ROOT / "lessons" / lesson.file).read_text(encoding="utf-8"))["cells"]
        texts = ["".join(cell["source"]) if cell["cell_type"] == "markdown" else "\n\n".join(said("".join(cell["source"])))
                 for cell in cells]
        pages[f"lessons/{Path(lesson.file).stem}.md"] = "\n\n".join(texts)
    pages["glossary.md"] = glossary_page.glossary_page()
    pages["many.md"] = MANY
    made = re.compile(r"^\{\{.*\}\}$", re.MULTILINE)
    return {name: made.sub("", text).replace(".ipynb)", ".md)") for name, text in pages.items()}


def said(source: str) -> list[str]:
    """Return the texts that a code cell hands to `say`."""
    return [text for text in glossary.texts("code", source) if "\n" in text or text.count(" ") > 3]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of pages with all texts of book and lessons, made by Sphinx and the extension, in its plainest looks."""
    folder = tmp_path_factory.mktemp("words")
    files = {f"source/{name}": text for name, text in sources().items()} | {"source/conf.py": CONF, "source/static/none.js": ""}
    files |= {"source/static/course.css": parts.style().decode()}
    files |= {"source/static/start.js": (LIVE / "start.js").read_text(encoding="utf-8")}
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "sphinx", "-q", "-b", "html", str(folder / "source"), str(folder / "html")]
    made = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert made.returncode == 0, made.stderr
    assert "does not have these words" not in made.stderr, made.stderr
    return folder / "html"


CLOSED = {"a", "button", "code", "dt", "figure", "head", "nav", "pre", "script", "style", "summary", "svg", "th", "title",
          "h1", "h2", "h3", "h4", "h5", "h6"}
CLOSED_CLASSES = {"admonition-title", "caption", "coil-card", "only-jupyterlab", "word-note", "math", "proof-table", "raw",
                  "footer", "related", "bd-sidebar", "bd-header", "prev-next-footer", "bd-footer", "rubric", "cell_input",
                  "line-block"}
VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}


class Reading(HTMLParser):
    """Reads a page as a person does, top to bottom, and notes each word of the trade that comes before it is explained."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[tuple[str, bool]] = []
        self.explained: set[str] = set()
        self.marks: list[str] = []
        self.missed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in VOID:
            return
        given = dict(attrs)
        target = given.get("popovertarget") or ""
        if tag == "button" and target.startswith("word-"):
            self.explained.add(target)
            self.marks.append(target)
        classes = set((given.get("class") or "").split())
        closed = tag in CLOSED or tag.startswith("coil-") or bool(classes & CLOSED_CLASSES)
        self.open.append((tag, closed))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if any(closed for _, closed in self.open) or (self.open and self.open[-1][0] == "em" and data[:1].isupper()):
            return
        for begin, end, term in glossary.uses(data):
            if course_words.note_id(term.word) not in self.explained:
                around = " ".join(data[max(0, begin - 40):end + 30].split())
                self.missed.append(f"{data[begin:end]!r} is used before it is explained: \u2026{around}\u2026")
                self.explained.add(course_words.note_id(term.word))


def faults(text: str) -> list[str]:
    """Return a sentence for each word of the trade that a page uses unexplained, and for each that it explains twice."""
    page = Reading()
    page.feed(text)
    page.close()
    twice = [f"{mark} is explained twice" for mark in sorted(set(page.marks)) if page.marks.count(mark) > 1]
    without = [f"{mark} opens no note" for mark in page.marks if f'id="{mark}"' not in text]
    return page.missed + twice + without


def assert_explained(folder: Path) -> None:
    """Assert that each page of the book explains the words of the trade before it uses them."""
    found = []
    for path in sorted(folder.rglob("*.html")):
        page = path.relative_to(folder).with_suffix("").as_posix()
        if page in course_words.NOT_OF_THE_TRADE or page.startswith(("_", "coil_cards", "talk")):
            continue
        found += [f"{page}: {fault}" for fault in faults(path.read_text(encoding="utf-8"))]
    assert not found, "\n".join(found)


def test_every_page_and_lesson_explains_a_word_before_it_uses_it(plain):
    assert_explained(plain)
    marks = {lesson.number: (plain / "lessons" / lesson.file).with_suffix(".html").read_text("utf-8").count('class="word"')
             for lesson in LESSONS}
    assert min(marks.values()) >= 15, marks
    assert 'class="word"' not in (plain / "glossary.html").read_text("utf-8")


def test_in_the_whole_book_too(html):
    assert_explained(html)


def test_the_reading_finds_a_planted_fault(plain):
    text = (plain / "lessons/06_multi_firing.html").read_text("utf-8")
    assert faults(text) == []
    bare = re.sub(r'<button type="button" class="word" popovertarget="word-tension-map">([^<]*)</button>', r"\1", text)
    assert len(faults(bare)) == 1
    assert "'tension map' is used before it is explained" in faults(bare)[0]
    early = text.replace("<p><em>About", "<p>A strip shows it.</p><p><em>About", 1)
    assert "'strip' is used before" in faults(early)[0]
    assert faults(text.replace('id="word-misfire"', 'id="x"')) == ["word-misfire opens no note"]


def test_each_link_of_a_note_leads_to_its_word_in_the_glossary(plain):
    entries = set(re.findall(r'<dt id="([^"]*)"', (plain / "glossary.html").read_text("utf-8")))
    text = (plain / "lessons/00_what_is_in_the_box.html").read_text("utf-8")
    links = re.findall(r'class="word-note".*?href="\.\./glossary\.html#([^"]*)"', text)
    assert len(links) >= 15
    assert set(links) <= entries


# ------------------------------------------------------------------------------------------------------ in a browser
NOTE = ".word-note:popover-open"


@pytest.fixture
def reader(chromium: Any, plain: Path) -> Iterator[Visit]:
    """A fresh profile for one test, on those pages from the disk."""
    one = Visit(chromium, f"{plain.as_uri()}/")
    yield one
    one.end()


def assert_stands_well(page: Any, word: Any) -> None:
    """Assert that the open note lies within the screen, and not over its word."""
    note = page.locator(NOTE)
    assert note.count() == 1
    box, at = note.bounding_box(), word.bounding_box()
    wide, high = (page.evaluate(name) for name in ("document.documentElement.clientWidth", "innerHeight"))
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= wide
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= high
    assert box["y"] + box["height"] <= at["y"] or box["y"] >= at["y"] + at["height"], f"the note lies over {word.inner_text()}"
    assert note.evaluate("(note) => note.scrollHeight <= note.clientHeight + 1"), "the note has to be scrolled"


def focused(page: Any) -> str:
    return page.evaluate("document.activeElement.getAttribute('popovertarget') ?? document.activeElement.localName")


@pytest.mark.browser
@pytest.mark.parametrize("way", ["as it is", "without scripts", "without anchors"])
def test_a_tap_explains_each_word_in_place_on_a_phone(reader, plain, way):
    if way == "without anchors":  # a browser that cannot tie a note to its word
        style = plain / "_static/course.css"
        text = style.read_text("utf-8")
        style.write_text(text.replace("(position-area: top span-all)", "(position-area: nowhere)"), encoding="utf-8")
    try:
        page = reader.open("many.html", width=360, has_touch=True, java_script_enabled=way != "without scripts")
        words = page.locator("button.word")
        assert words.count() > 80
        for number in range(0, words.count(), 7):
            word = words.nth(number)
            page.keyboard.press("Escape")  # or the last note may lie over the next word
            word.evaluate("(word, [block, more]) => { word.scrollIntoView({block}); scrollBy(0, more); }",
                          (("start", -9), ("center", 0), ("end", 9))[number % 3])
            word.tap()
            assert focused(page) == word.get_attribute("popovertarget")
            assert_stands_well(page, word)
            assert page.locator(NOTE).inner_text().startswith(WORDS[word.inner_text()].named)
        word.tap()
        assert page.locator(NOTE).count() == 0
        assert page.url.endswith("many.html")
        assert page.evaluate("document.scrollingElement.scrollWidth") <= 360
    finally:
        if way == "without anchors":
            style.write_text(text, encoding="utf-8")


@pytest.mark.browser
def test_a_swipe_over_a_word_and_over_its_note_scrolls_the_page(reader):
    page = reader.open("many.html", width=360, has_touch=True)
    hand = page.context.new_cdp_session(page)
    word = page.locator("button.word").nth(8)
    word.tap()
    for node in (word, page.locator(NOTE)):
        before, box = page.evaluate("scrollY"), node.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for way in range(10, 130, 10):
            hand.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - way}]})
        hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.wait_for_function("(before) => scrollY > before + 60", arg=before)
    assert page.locator(NOTE).count() == 1, "a swipe closes the note"


@pytest.mark.browser
@pytest.mark.parametrize("key", ["Enter", "Space"])
def test_by_the_keyboard_it_opens_and_escape_closes_it_where_one_was(reader, key):
    page = reader.open("lessons/06_multi_firing.html", width=360)
    word = page.locator("button.word").first
    word.focus()
    page.keyboard.press(key)
    assert_stands_well(page, word)
    page.keyboard.press("Tab")
    assert focused(page) == "a"  # the link in the note comes next
    page.keyboard.press("Escape")
    assert page.locator(NOTE).count() == 0
    assert focused(page) == word.get_attribute("popovertarget")
    page.keyboard.press("Tab")
    assert focused(page) == page.locator("button.word").nth(1).get_attribute("popovertarget")


@pytest.mark.browser
def test_under_a_resting_mouse_it_opens_lets_the_mouse_into_it_and_goes_with_it(reader):
    page = reader.open("lessons/00_what_is_in_the_box.html")
    word, note = page.locator("button.word").nth(3), page.locator(NOTE)
    word.hover()
    note.wait_for()
    box = note.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=4)
    page.wait_for_timeout(500)  # longer than it waits before it closes
    assert note.count() == 1
    page.mouse.move(5, 5)
    note.wait_for(state="detached")
    word.hover()
    note.wait_for()
    word.click()  # a press keeps what the mouse opened
    page.mouse.move(5, 5)
    page.wait_for_timeout(500)
    assert note.count() == 1
    page.keyboard.press("Escape")
    assert note.count() == 0


@pytest.mark.browser
def test_it_is_named_expanded_and_has_no_serious_finding_light_or_dark_and_paper_shows_the_plain_text(reader):
    reader.expected = ("XMLHttpRequest", "ERR_FAILED")  # the audit asks for the style sheets, in vain
    page = reader.open("lessons/00_what_is_in_the_box.html", width=360)
    word = page.locator("button.word", has_text="magneto").first
    tree = page.context.new_cdp_session(page)

    def state() -> dict[str, Any]:
        found = tree.send("Runtime.evaluate", {"expression": "document.querySelector('[popovertarget=word-magneto]')"})
        node = tree.send("Accessibility.getPartialAXTree", {"objectId": found["result"]["objectId"], "fetchRelatives": False})
        one = node["nodes"][0]
        return {"role": one["role"]["value"], "name": one["name"]["value"],
                **{each["name"]: each["value"].get("value") for each in one["properties"]}}

    assert (state()["role"], state()["name"], state()["expanded"]) == ("button", "magneto", False)
    word.press("Enter")
    assert state()["expanded"] is True
    assert not serious(page, within=".body", schemes=("light", "dark"))
    page.emulate_media(media="print")
    assert page.locator(NOTE).is_hidden()
    assert word.evaluate("(word) => getComputedStyle(word).textDecorationLine") == "none"
    sentence = page.locator("p", has=word).first.evaluate("(node) => { getSelection().selectAllChildren(node); "
                                                          "return getSelection().toString(); }")
    assert "pulse of the magneto, and strongly" in " ".join(sentence.split())
