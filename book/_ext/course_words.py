"""A small Sphinx extension: each word of the trade is explained at its first use on a page, from the one registry.

In a page's running text the first use of each word of `lessons/glossary.py` becomes a button, and behind it comes a note with the
word's sentence and a link to the glossary. The browser itself opens and closes the note (HTML's `popover`): by a press, a tap,
Enter or Space, without any script; Escape or a press elsewhere closes it. `book/live/start.js` adds that it opens under a resting
mouse, `book/live/course.css` says where it stands. No word is marked in a heading, a link, code, a formula, a picture, a head of
a table, or the name of something to press, such as *Slack cushion*; nor in exercises and panels, which are drawn by themselves.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, cast

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.domains.std import StandardDomain
from sphinx.util import logging

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from lessons import glossary  # noqa: E402  (the line above makes `lessons` importable)

GLOSSARY = "glossary"
NOT_OF_THE_TRADE = (GLOSSARY, "present", "progress", "offline", "genindex", "search")
"""Pages without marks: the glossary itself, and those on the program, whose windows are not the timer's."""
LINK = "All the words of the trade"
_CLOSED = (
    nodes.title, nodes.subtitle, nodes.literal, nodes.FixedTextElement, nodes.reference, nodes.figure, nodes.caption, nodes.image,
    nodes.raw, nodes.math, nodes.math_block, nodes.thead, nodes.term, nodes.rubric, nodes.comment, nodes.footnote,
    nodes.field_name, nodes.Invisible,
)
_LOG = logging.getLogger(__name__)


class word(nodes.inline):  # type: ignore[misc]  # docutils has no types
    """The first use of a word of the trade on its page: its text, and `term`, `named`, `sentence` and `address`."""


def mark(doctree: nodes.document, address: dict[str, str]) -> list[str]:
    """Mark the first use of each word in the running text of `doctree`; return the words, in order of use.

    address: where the glossary explains each word, as seen from this page. A word that is not among them is a KeyError.
    """
    _join(doctree)
    done: list[str] = []
    for text in list(doctree.findall(nodes.Text)):
        if not _is_open(text):
            continue
        said, parts, end = str(text), [], 0
        for begin, stop, term in glossary.uses(said):
            if term.word in done:
                continue
            done.append(term.word)
            parts += [nodes.Text(said[end:begin])] if begin > end else []
            parts.append(word(term.word, said[begin:stop], term=term.word, named=term.named, sentence=term.sentence,
                              address=address[term.word]))
            end = stop
        if parts:
            parts += [nodes.Text(said[end:])] if end < len(said) else []
            text.parent.replace(text, parts)
    return done


def _join(doctree: nodes.document) -> None:
    """Join pieces of text that follow each other: Markdown parts them where a line ends, amid "limit rivet", too."""
    for parent in list(doctree.findall(nodes.Element)):
        joined: list[nodes.Node] = []
        for child in parent.children:
            if joined and isinstance(child, nodes.Text) and isinstance(joined[-1], nodes.Text):
                joined[-1] = nodes.Text(f"{joined[-1]}{child}")
            else:
                joined.append(child)
        if len(joined) < len(parent.children):
            parent[:] = joined


def _is_open(text: nodes.Text) -> bool:
    """Say whether `text` is running text, in which a word may become a button."""
    node = text.parent
    if isinstance(node, nodes.emphasis) and str(text)[:1].isupper():  # the name of something to press
        return False
    while node is not None:
        if isinstance(node, _CLOSED) or type(node).__name__ in ("pending_xref", "download_reference", "toctree", "index"):
            return False
        node = node.parent
    return True


def note_id(term: str) -> str:
    """Return the id of a word's note on its page."""
    return f"word-{nodes.make_id(term)}"


def mark_page(app: Sphinx, doctree: nodes.document, docname: str) -> None:
    """Mark the words of one page, with links to where Sphinx has put them in the glossary."""
    if app.builder.format != "html" or docname in NOT_OF_THE_TRADE:
        return
    domain = cast(StandardDomain, app.env.get_domain("std"))
    known = {name: place for (kind, name), place in domain.objects.items() if kind == "term"}
    missing = [term.word for term in glossary.TERMS if term.word not in known]
    if missing:
        _LOG.warning("the page %r does not have these words of lessons/glossary.py: %s", GLOSSARY, ", ".join(missing))
        return
    address = {}
    for term in glossary.TERMS:
        page, anchor = known[term.word]
        address[term.word] = f"{app.builder.get_relative_uri(docname, page)}#{anchor}"
    mark(doctree, address)


def visit_word(translator: Any, node: word) -> None:
    """Write the button, and behind it, once its text is written, the note."""
    translator.body.append(f'<button type="button" class="word" popovertarget="{note_id(node["term"])}">')


def depart_word(translator: Any, node: word) -> None:
    """See `visit_word`."""
    named, sentence, address = (translator.encode(node[name]) for name in ("named", "sentence", "address"))
    translator.body.append(
        f'</button><span popover class="word-note" role="note" id="{note_id(node["term"])}"><strong>{named}:</strong> {sentence} '
        f'<a href="{address}">{LINK}</a></span>')


def setup(app: Sphinx) -> dict[str, bool]:
    """Mark each page once its links are made."""
    plain = (lambda translator, node: None, lambda translator, node: None)
    app.add_node(word, html=(visit_word, depart_word), latex=plain, text=plain, man=plain, texinfo=plain)
    app.connect("doctree-resolved", mark_page)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
