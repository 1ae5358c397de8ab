"""The talk: the projected page, the presenter's window, and the two printed sheets, all from lessons/talk."""

from __future__ import annotations

import html
import json
from pathlib import Path
from typing import Any

from book.making import sheets
from book.making.places import BOOK, HTML, BuildError, keep_only, write_if_changed
from lessons.talk import STOPS, Stop, filled, picture_of

PARTS = BOOK / "talk"
TITLE = "Vibrating-coil ignition: one pulse, one spark"
_HEAD = """<!DOCTYPE html>
<html lang="en" data-theme="light">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="icon" href="../_static/favicon.svg">
<link rel="stylesheet" href="{name}.css">
"""


def start_script(book: Path) -> str:
    """Return the address, from the talk's folder, of the script that brings panels to life; BuildError if there is not one."""
    found = list(book.glob("_static/live/*/start.js"))
    if len(found) != 1:
        raise BuildError(f"{book}/_static/live holds {len(found)} live parts where the talk needs one; build the book first.")
    return "../" + found[0].relative_to(book).as_posix()


def panel(stop: Stop) -> str:
    """Return the stop's panel: until it is live, and without script, its sentence stands in its place."""
    attributes = {
        "name": stop.panel, "view": "compact", "values": json.dumps(dict(stop.values)), "parts": " ".join(stop.parts),
        "controls": " ".join(stop.controls), "readings": "|".join(stop.readings),
    }
    written = " ".join(f'{name}="{html.escape(value)}"' for name, value in attributes.items())
    return f"<coil-panel {written}><p>{html.escape(picture_of(stop.key).sentence)}</p></coil-panel>"


def projected(start: str) -> str:
    """Return the page that the room sees; `start` is the address of the live part's script."""
    stops = "".join(
        f'<section class="stop" data-title="{html.escape(stop.title)}"{" hidden" if number > 1 else ""}>'
        f"<h1><span>{number} of {len(STOPS)}</span>{html.escape(stop.title)}</h1>{panel(stop)}</section>\n"
        for number, stop in enumerate(STOPS, 1)
    )
    return (
        _HEAD.format(title=TITLE, name="talk")
        + f'<script defer src="{start}"></script>\n<script defer src="talk.js"></script>\n</head>\n'
        f"<body>\n<main>\n{stops}</main>\n"
        '<noscript><p class="note">The talk needs JavaScript; <a href="handout.pdf">the handout</a> does not.</p></noscript>\n'
        '<p class="note" role="status" hidden></p>\n<div class="blank" hidden></div>\n</body>\n</html>\n'
    )


def spoken() -> list[dict[str, Any]]:
    """Return what the presenter's window says at each stop."""
    return [
        {"title": stop.title, "minutes": stop.minutes, "ask": stop.ask, "line": filled(stop, stop.line), "do": stop.do}
        for stop in STOPS
    ]


def presenter() -> str:
    """Return the presenter's window."""
    data = json.dumps(spoken()).replace("<", "\\u003c")  # nothing in it may end the script element
    buttons = "".join(
        f'<button type="button" data-do="{what}">{words}</button>'
        for what, words in (("back", "Back"), ("next", "Next"), ("restart", "Restart this stop"), ("blank", "Blank"))
    )
    return _HEAD.format(title="Presenter", name="presenter") + f"""<script type="application/json" id="stops">{data}</script>
<script defer src="presenter.js"></script>
</head>
<body>
<main>
<p class="apart" id="apart" role="status" hidden>This window does not hear the projected page. Open
<a href="index.html">the talk</a> and press P in it; until then read your lines here, and drive each window by itself.</p>
<h1 id="title"></h1>
<h2>Ask first</h2><p id="ask"></p>
<h2>Say</h2><p id="line"></p>
<h2>Show</h2><p id="do"></p>
<h2>Next</h2><p id="next"></p>
</main>
<aside>
<dl>
<dt>Time left</dt><dd id="left"></dd><dt>This stop</dt><dd id="here"></dd>
<dt>Plan</dt><dd id="plan"></dd><dt>Clock</dt><dd id="time"></dd>
</dl>
<p id="blanked" class="apart" hidden>The screen is blank; B brings it back.</p>
<p><button type="button" id="begin"></button></p>
<p>{buttons}</p>
<p class="soft">Page keys, arrows or a clicker move on and back; digits jump; R puts the sliders back, B blanks, F fills the
screen.</p>
<p class="soft"><a href="handout.pdf">Handout</a> and <a href="answers.pdf">answer sheet</a>, a page each, to print.</p>
</aside>
</body>
</html>
"""


def write(book: Path = HTML) -> Path:
    """Write the talk into the built book at `book`; return its first page."""
    files = {
        "index.html": projected(start_script(book)).encode(), "presenter.html": presenter().encode(),
        "handout.pdf": sheets.handout(), "answers.pdf": sheets.answers(),
    }
    files |= {name: (PARTS / name).read_bytes() for name in ("talk.css", "talk.js", "presenter.css", "presenter.js")}
    for name, content in files.items():
        write_if_changed(book / "talk" / name, content)
    keep_only(book / "talk", {book / "talk" / name for name in files})
    return book / "talk" / "index.html"
