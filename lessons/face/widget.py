"""The face in a notebook: `panel("cushion")`, `exercise("05-...")`, `sheet()`, `progress()`, one line a cell.

Each shows a custom element with its stand-in inside, and the same in plain text. In the book a worker answers the element; in
JupyterLab the notebook's kernel does, through one widget that is never shown. Where neither is there (a notebook opened on
another day, print) the stand-in stays. One kernel has one engine and one progress record, kept in a file beside the notebooks.
"""

from __future__ import annotations

import html
import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import anywidget

from coilbench.home import FILE as HOME
from lessons import surroundings
from lessons.contracts import Packed
from lessons.engine import Engine
from lessons.face import assemble, fallback
from lessons.record import Record
from lessons.record_file import RecordFile

RECORD_VARIABLE = "COIL_COURSE_RECORD"
"""Environment variable with the path of the progress record, for those who want it elsewhere."""
RECORD_NAME = "my-progress.json"


class Desk:
    """A kernel's one engine, and the file that keeps its record. `name` tells it from the desks of all other kernels."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.name = secrets.token_hex(8)
        self.file = RecordFile(path)
        self.engine = Engine(self.file.load())
        self._kept: Record | None = self.engine.record.copy()  # as last read from the file or written to it; None: it was neither

    def handle(self, request: Any) -> Packed:
        """Return the engine's reply; a record that it changed is on disk when this returns.

        What other notebooks have written meanwhile, another learner's nickname too, is read first. What the learner should know
        of the file (set aside, not writable) comes as sentences in the reply's "notes".
        """
        pictures = isinstance(request, Mapping) and request.get("do") in ("panel", "compute")  # they hang on no record
        if not pictures and self.file.changed():
            self._go_on(self.file.load() if self.engine.record == self._kept else self._keep(self.engine.record))
        before = self.engine.record.copy()
        reply = self.engine.handle(request)
        if "record" in reply.tree:
            self._go_on(self._keep(before))
            reply.tree["record"] = self.engine.record.data()
        if self.file.notes:
            reply.tree["notes"] = self.file.notes
            self.file.notes = []
        return reply

    def _keep(self, before: Record) -> Record | None:
        """Write the record, which was `before`; return what is in use on the disk now, None where the disk refuses."""
        ours, base = self.engine.record, self._kept
        if base is not None and ours.is_of(before.nickname) and ours.is_of(base.nickname):
            return self.file.keep(ours, base)
        if base is None or not before.is_of(base.nickname):  # the disk refused before: it has nothing of this learner from here
            before = base = Record(ours.nickname)
        self._kept = None
        return self.file.change(before, base, ours)

    def _go_on(self, record: Record | None) -> None:
        """Go on with the record that is in use on the disk; with our own where there is none, or the disk refuses."""
        if record is not None:
            self.engine.record, self._kept = record, record.copy()

    def ask(self, **request: Any) -> dict[str, Any]:
        """Return the reply to a request made here; ValueError with the engine's own sentence where there is an error."""
        tree = self.handle(request).tree
        if "error" in tree:
            raise ValueError(tree["error"])
        return dict(tree)


@cache
def desk() -> Desk:
    """Return this kernel's desk: the same one at every call. The record's file is made at the first answer, not before."""
    return Desk(os.environ.get(RECORD_VARIABLE) or Path.cwd() / RECORD_NAME)


class Line(anywidget.AnyWidget):
    """The kernel's line to the notebook's page: one widget, never shown, through which all elements ask the desk (desk.js)."""

    _esm = assemble.module_text()

    def __init__(self) -> None:
        super().__init__()
        self.on_msg(_answer)


def _answer(line: Line, message: Any, buffers: Any) -> None:
    """Answer one message of the face, {"id", "request"}, with {"id", "tree"} and the buffers."""
    request = message.get("request")
    if request == {"do": "desk"}:
        line.send({"id": message.get("id"), "tree": {"desk": desk().name}})
        return
    reply = desk().handle(request)
    line.send({"id": message.get("id"), "tree": reply.tree}, [memoryview(numbers) for numbers in reply.arrays])


@cache
def line() -> Line:
    """Return this kernel's line: the same one at every call. Making it loads the face into the page."""
    return Line()


@dataclass(frozen=True)
class Shown:
    """What a cell shows: HTML, with a custom element, and plain text.

    No view of a widget: a notebook opened on another day has none to show, and would say so in place of everything else.
    """

    as_html: str
    as_text: str

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, str]:
        return {"text/html": self.as_html, "text/plain": self.as_text}


def _shown(tag: str, attributes: Mapping[str, str], inside: str, as_text: str) -> Shown:
    """Return the element with `inside` until it is live; in JupyterLab it is told which desk it is to ask."""
    if not surroundings.in_jupyterlab():
        return Shown(fallback.element(tag, attributes, inside), as_text)
    line()
    return Shown(fallback.element(tag, {**attributes, "desk": desk().name}, inside, asleep=True), as_text)


def panel(name: str) -> Shown:
    """Return the panel called `name`, alive in a notebook. ValueError names the panels there are.

    Its stand-in is drawn where it is seen: for the book, and by programs that print a notebook. In JupyterLab, where the live
    panel takes its place at once, it is words, of the quick picture where the panel has one.
    """
    panels = desk().engine.panels
    if name not in panels:
        raise ValueError(f"There is no panel {name!r}; there are {', '.join(panels)}.")
    one, drawn = panels[name], not surroundings.in_jupyterlab()
    picture, image = one.picture(whole=drawn), ""
    if drawn:
        from lessons.face import standin  # matplotlib takes a second to load and 20 MB

        image = standin.data_address(picture)
    inside = fallback.panel_inside(one, picture, image)
    return _shown("coil-panel", {"name": name}, inside, fallback.plain_text(one.title, picture))


def exercise(key: str) -> Shown:
    """Return the exercise with this key, in this learner's variant. ValueError names the exercises there are."""
    asked = desk().ask(do="exercise", key=key)["exercise"]
    return _shown("coil-exercise", {"key": key}, fallback.exercise_inside(asked), f"{asked['title']}\n\n{asked['prompt']}")


def sheet() -> Shown:
    """Return the place for the learner's own bench sheet, and the coil cards that come of it."""
    words = "Where this page is live you can show it your own bench sheet here, and get a coil card for each coil in it."
    about = {"kernel": ""} if surroundings.in_jupyterlab() else {"home": f"../{HOME}"}  # the book has that page above its lessons
    return _shown("coil-sheet", about, f"<p>{html.escape(words)}</p>", words)


def progress(lesson: int | None = None) -> Shown:
    """Return the learner's progress: nickname, what is done and what to repeat, export and import of the record.

    The table of `lesson`, where given, is open and stands first.
    """
    words = "Your progress shows here where the page is live."
    return _shown("coil-progress", {} if lesson is None else {"lesson": str(lesson)}, f"<p>{html.escape(words)}</p>", words)
