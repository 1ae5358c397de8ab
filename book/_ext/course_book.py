"""A small Sphinx extension: the live part on every page, and nothing from another host.

What it cures, each seen in the built pages: the book tool links every script that it finds in its own static folder
on every page, so ours lies elsewhere and is named here; the theme's live-code extension declares its address twice
(an error in the page) and would load from another host, and we do not use it; the notebook offered for download
is the executed one, where a learner wants the clean one; and see `finish_pages`.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

from sphinx.application import Sphinx
from sphinx.config import Config

UNUSED = ("thebe",)
FORMULAS = ("mathjax",)
_SEARCH_SCRIPT = re.compile(r'\s*<script src="[^"]*(?:searchtools|language_data|searchindex)\.js[^"]*"></script>')
_SEARCH_BUTTON = re.compile(r'(<button class="btn search-button-field[^"]*") title="Search" aria-label="Search"([^>]*>)')


def find_static(app: Sphinx, config: Config) -> None:
    """Add the folder that the build laid out, and the start script and style sheet in it."""
    static = Path(app.srcdir).parent / "static"
    scripts = list(static.glob("live/*/start.js"))
    if len(scripts) != 1:
        raise RuntimeError(f"{static} should hold one live/*/start.js, it holds {len(scripts)}; run book/build.py")
    config.html_static_path.append(str(static))
    app.add_css_file("course.css")
    app.add_js_file(scripts[0].relative_to(static).as_posix(), loading_method="defer")


def drop_unused(app: Sphinx, pagename: str, templatename: str, context: dict[str, Any], doctree: Any) -> None:
    """Drop the scripts of the live-code extension, and the renderer of formulas (1.1 MB) from a page that has none."""
    has_formula = 'class="math' in context.get("body", "")
    unwanted = UNUSED if has_formula else UNUSED + FORMULAS
    for kind in ("script_files", "css_files"):
        context[kind] = [item for item in context.get(kind, ()) if not _names(item, unwanted)]


def _names(item: Any, words: tuple[str, ...]) -> bool:
    text = f"{getattr(item, 'filename', item)} {getattr(item, 'attributes', '')}".lower()
    return any(word in text for word in words)


def finish_pages(app: Sphinx, error: Exception | None) -> None:
    """Change in the finished pages what the theme offers no setting for.

    Buttons get the name that is read on them: a hidden one that differs cannot be pressed by a person who speaks to the
    page. The search's index, which grows with the book, is loaded by the page that searches and by no other; the theme
    needs it elsewhere only to search while one types, which is off.
    """
    if error or app.builder.format != "html":
        return
    for page in Path(app.outdir).rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        changed = _SEARCH_BUTTON.sub(r"\1\2", text).replace(' aria-label="Toggle hidden content"', "")
        changed = changed.replace('aria-label="Color mode" data-bs-title="Color mode"', 'data-bs-title="Light or dark"')
        if page.name != "search.html":
            changed = _SEARCH_SCRIPT.sub("", changed)
        if changed != text:
            page.write_text(changed, encoding="utf-8")


def clean_downloads(app: Sphinx, error: Exception | None) -> None:
    """Offer the notebook as its author wrote it, without outputs, and drop stale live files of an earlier build."""
    if error or app.builder.format != "html":
        return
    output, lessons = Path(app.outdir), Path(app.srcdir).parents[2] / "lessons"
    for offered in output.glob("_sources/lessons/*.ipynb"):
        shutil.copyfile(lessons / offered.name, offered)
    static = Path(app.srcdir).parent / "static"
    for folder in [*output.glob("_static/live/*"), *output.glob("_static/pyodide-*")]:
        if not (static / folder.relative_to(output / "_static")).is_dir():
            shutil.rmtree(folder)


def setup(app: Sphinx) -> dict[str, bool]:
    """Connect the cures."""
    app.connect("config-inited", find_static)
    app.connect("html-page-context", drop_unused, priority=900)
    app.connect("build-finished", clean_downloads)
    app.connect("build-finished", finish_pages)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
