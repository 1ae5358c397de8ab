"""The face in a notebook: `panel("cushion")`, `exercise("05-...")`, `sheet()`, `progress()`, one line a cell.

Each returns a widget whose output carries three forms: the widget itself (JupyterLab shows it; the notebook's kernel
computes), HTML with the same custom element around its stand-in picture (the static book; there a worker computes), and
plain text. One kernel has one engine and one progress record, kept in a file beside the notebooks.
"""

from __future__ import annotations

import html
import os
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from lessons.contracts import Packed
from lessons.engine import Engine
from lessons.face import assemble, standin
from lessons.record import RecordFile

RECORD_VARIABLE = "COIL_COURSE_RECORD"
"""Environment variable with the path of the progress record, for those who want it elsewhere."""
RECORD_NAME = "my-progress.json"


class Desk:
    """A kernel's one engine, and the file that keeps its record."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.file = RecordFile(path)
        self.engine = Engine(self.file.load())

    def handle(self, request: Any) -> Packed:
        """Return the engine's reply; a record that it changed is on disk when this returns.

        What the learner should know of the file (set aside, not writable) comes as sentences in the reply's "notes".
        """
        reply = self.engine.handle(request)
        if "record" in reply.tree:
            try:
                self.engine.record = self.file.save(self.engine.record)
            except OSError as error:
                why = error.strerror or type(error).__name__
                self.file.notes.append(f"Your progress could not be written to {self.file.path} ({why}); save it as a file.")
        if self.file.notes:
            reply.tree["notes"] = self.file.notes
            self.file.notes = []
        return reply

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


class FaceWidget(anywidget.AnyWidget):
    """One custom element in a notebook: `tag` and `attributes` make it, `desk().handle` answers what it asks."""

    _esm = assemble.module_text()
    tag = traitlets.Unicode().tag(sync=True)
    attributes = traitlets.Dict(value_trait=traitlets.Unicode(), key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self, tag: str, attributes: Mapping[str, str], as_html: str, as_text: str) -> None:
        super().__init__(tag=tag, attributes=dict(attributes))
        self._other_forms = {"text/html": as_html, "text/plain": as_text}
        self.on_msg(_answer)

    def _repr_mimebundle_(self, **kwargs: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        data, metadata = super()._repr_mimebundle_(**kwargs) or ({}, {})
        return {**data, **self._other_forms}, metadata


def _answer(widget: FaceWidget, message: Any, buffers: Any) -> None:
    """Answer one message of the face, {"id", "request"}, with {"id", "tree"} and the buffers."""
    reply = desk().handle(message.get("request"))
    widget.send({"id": message.get("id"), "tree": reply.tree}, [memoryview(numbers) for numbers in reply.arrays])


def panel(name: str) -> FaceWidget:
    """Return the panel called `name`, alive in a notebook. ValueError names the panels there are."""
    panels = desk().engine.panels
    if name not in panels:
        raise ValueError(f"There is no panel {name!r}; there are {', '.join(panels)}.")
    shown = panels[name]
    picture = shown.picture()
    return FaceWidget("coil-panel", {"name": name}, standin.panel_html(shown, picture), standin.plain_text(shown.title, picture))


def exercise(key: str) -> FaceWidget:
    """Return the exercise with this key, in this learner's variant. ValueError names the exercises there are."""
    shown = desk().ask(do="exercise", key=key)["exercise"]
    return FaceWidget("coil-exercise", {"key": key}, standin.exercise_html(shown), f"{shown['title']}\n\n{shown['prompt']}")


def sheet() -> FaceWidget:
    """Return the place for the learner's own bench sheet, and the coil cards that come of it."""
    words = "Where this page is live you can show it your own bench sheet here, and get a coil card for each coil in it."
    return FaceWidget("coil-sheet", {"kernel": ""}, f"<coil-sheet><p>{html.escape(words)}</p></coil-sheet>", words)


def progress(lesson: int | None = None) -> FaceWidget:
    """Return the learner's progress: nickname, what is done and what to repeat, export and import of the record.

    The table of `lesson`, where given, is open and stands first.
    """
    words = "Your progress shows here where the page is live."
    which = {} if lesson is None else {"lesson": str(lesson)}
    opens = "".join(f' {name}="{value}"' for name, value in which.items())
    return FaceWidget("coil-progress", which, f"<coil-progress{opens}><p>{html.escape(words)}</p></coil-progress>", words)
