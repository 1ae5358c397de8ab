"""The talk: the projected page, the presenter's window, and the two printed sheets, all from lessons/talk."""

from __future__ import annotations

import html
import json
from pathlib import Path
from typing import Any

from book.making import sheets
from book.making.places import BOOK, HTML, BuildError, keep_only, write_if_changed
from lessons.panels import PANELS
from lessons.talk import (
    CLOSING,
    GOING_ON,
    LONG,
    NO_ADDRESS,
    SHORT,
    STOPS,
    WORDS_A_MINUTE,
    Stop,
    filled,
    objections,
    speaking,
)

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


def attributes(stop: Stop) -> dict[str, str]:
    """Return the attributes of the stop's panel."""
    drawn = all(part in ("scene", "ladder", "map") for part in stop.parts)  # as SVG, which has its own scale (see talk.css)
    looks = {"drawn": drawn, "pair": len(stop.parts) > 1, "heard": stop.heard}
    return {
        "class": " ".join(word for word, held in looks.items() if held), "name": stop.panel, "view": "compact",
        "values": json.dumps(dict(stop.values_at(1))), "parts": " ".join(stop.parts),
        "controls": " ".join(stop.controls), "readings": "|".join(stop.readings),
    }


def panel(stop: Stop) -> str:
    """Return the stop's panel: until it is live, and without script, its sentence stands in its place."""
    written = " ".join(f'{name}="{html.escape(value)}"' for name, value in attributes(stop).items())
    return f"<coil-panel {written}><p>{html.escape(stop.picture().sentence)}</p></coil-panel>"


def data(content: Any) -> str:
    """Return `content` as an element of data for the page's script; nothing in it may end the element."""
    return f'<script type="application/json" id="stops">{json.dumps(content).replace("<", chr(92) + "u003c")}</script>\n'


def positions(stop: Stop) -> list[dict[str, Any]]:
    """Return where every slider of the stop's panel stands, step by step."""
    return [{**PANELS[stop.panel].defaults(), **stop.values_at(step)} for step in range(1, len(stop.steps) + 1)]


def projected(start: str) -> str:
    """Return the page that the room sees; `start` is the address of the live part's script."""
    places = [{"steps": len(stop.steps), "long": stop.minutes, "short": stop.short, "values": positions(stop)} for stop in STOPS]
    stops = "".join(
        f'<section class="stop" data-title="{html.escape(stop.title)}"{" hidden" if number > 1 else ""}>'
        f'<h1><span>{number} of {len(STOPS)}</span><b>{html.escape(stop.title)}</b></h1>'
        f'<p class="ask" data-number="{number}.">{html.escape(stop.ask)}</p>'
        f"{panel(stop)}</section>\n"
        for number, stop in enumerate(STOPS, 1)
    )
    end = (
        f'<section class="stop end asking" data-title="The end" hidden><p class="ask">{html.escape(CLOSING)}</p>'
        f'<p>{html.escape(GOING_ON)}</p><p class="address" data-without="{html.escape(NO_ADDRESS)}"></p></section>\n'
    )
    return (
        _HEAD.format(title=TITLE, name="talk") + data(places)
        + f'<script defer src="{start}"></script>\n<script defer src="both.js"></script>\n<script defer src="talk.js"></script>\n'
        f"</head>\n<body>\n<main>\n{stops}{end}</main>\n"
        '<noscript><p class="note">The talk needs JavaScript; <a href="handout.pdf">the handout</a> does not.</p></noscript>\n'
        '<p class="note" role="status" hidden></p>\n<div class="blank" hidden></div>\n</body>\n</html>\n'
    )


def spoken() -> list[dict[str, Any]]:
    """Return what the presenter's window says at each stop, and the panel that it shows."""
    return [
        {
            "title": stop.title, "long": stop.minutes, "short": stop.short, "lead": stop.lead, "ask": stop.ask,
            "panel": attributes(stop),
            "steps": [
                {"label": step.label, "do": step.do, "say": filled(stop, step.say, number),
                 "more": filled(stop, step.more, number)}
                for number, step in enumerate(stop.steps, 1)
            ],
            "objections": [{"says": one.says, "answer": one.answer} for one in objections(stop)],
        }
        for stop in STOPS
    ]


def share(long: bool) -> str:
    """Return how much of a talk is spoken, in words."""
    minutes = LONG if long else SHORT
    return f"{minutes} minutes, {speaking(long):.0f} of them spoken at {WORDS_A_MINUTE:.0f} words a minute"


def presenter() -> str:
    """Return the presenter's window."""
    buttons = "".join(
        f'<button type="button" data-do="{what}">{words}</button>'
        for what, words in (("back", "Back"), ("next", "Next"), ("restart", "Sliders back"), ("keep", "Keep / let go"),
                            ("blank", "Blank"))
    )
    words = {"stops": spoken(), "closing": CLOSING, "goingOn": GOING_ON, "withoutAddress": NO_ADDRESS}
    return _HEAD.format(title="Presenter", name="presenter") + data(words) + f"""
<script defer src="both.js"></script>
<script defer src="presenter.js"></script>
</head>
<body>
<header>
<dl>
<div><dt>Time left</dt><dd id="left"></dd></div><div><dt>This stop</dt><dd id="here"></dd></div>
<div><dt>Plan</dt><dd id="plan"></dd></div><div><dt>At this rate it ends</dt><dd id="ends"></dd></div>
<div><dt>Clock</dt><dd id="time"></dd></div>
</dl>
<div class="buttons">{buttons}<button type="button" id="begin"></button>
<label><span class="unseen">How long the talk is</span> <select id="minutes"><option value="long">{LONG} minutes</option>
<option value="short">{SHORT} minutes</option></select></label></div>
</header>
<main>
<div id="apart" class="apart" role="status" hidden>The projected page is shut, or does not answer. The page keys, arrows and
digits turn the pages of this window alone until it is back.
<button type="button" id="open">Open the projected page</button></div>
<div class="left">
<p id="seen" class="soft" role="status"></p>
<div id="preview"></div>
<p class="next"><b>Next</b> <span id="next"></span></p>
</div>
<div class="right">
<h1 id="title"></h1>
<div id="words" tabindex="0" role="region" aria-label="What to say"></div>
</div>
</main>
<footer>
<details><summary>The whole talk stop by stop, the address to go on to, the keys, the sheets</summary>
<div>
<ol id="outline"></ol>
<p class="soft">{share(True)}; {share(False)}. The rest is for showing, for guesses and for objections.</p>
<p><label>Address to go on to, on the last screen <input type="text" id="address" autocomplete="off"></label></p>
<p class="soft">Page keys, arrows, the space bar or a clicker go on and back; digits jump to a stop, Home and End to the ends. R
puts the sliders back, B blanks the screen. K keeps the run that is shown, pale, beside
what comes next, and lets it go. Sliders and Play of this window move the projected panel with them.</p>
<p class="soft"><a href="handout.pdf" target="_blank">Handout</a> and <a href="answers.pdf" target="_blank">answer sheet</a>, a
page each, to print.</p>
</div>
</details>
</footer>
</body>
</html>
"""


def write(book: Path = HTML) -> Path:
    """Write the talk into the built book at `book`; return its first page."""
    files = {
        "index.html": projected(start_script(book)).encode(), "presenter.html": presenter().encode(),
        "handout.pdf": sheets.handout(), "answers.pdf": sheets.answers(),
    }
    files |= {name: (PARTS / name).read_bytes() for name in ("talk.css", "both.js", "talk.js", "presenter.css", "presenter.js")}
    for name, content in files.items():
        write_if_changed(book / "talk" / name, content)
    keep_only(book / "talk", {book / "talk" / name for name in files})
    return book / "talk" / "index.html"
