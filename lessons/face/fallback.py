"""What stands inside the elements until they are live: any Picture, exercise or place in words, as HTML and as plain text.

The drawn picture for print is standin.py's, which needs matplotlib; this needs nothing.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Mapping
from typing import Any

from lessons.contracts import Drawing, Panel, Picture

ASLEEP = "**Asleep.** *Run All Cells*, in JupyterLab's menu *Run*, brings this alive."


# --------------------------------------------------------------------------------------------------- in words
def alt_text(picture: Picture) -> str:
    """Return the picture in words: its own description, or, where it has none, its sentence and readings."""
    if picture.alt.strip():
        return picture.alt.strip()
    readings = "; ".join(f"{reading.label} {reading.text}" for reading in picture.readings)
    return " ".join(part for part in (picture.sentence, f"{readings}." if readings else "") if part)


def plain_text(title: str, picture: Picture) -> str:
    """Return title, sentence, readings and description, for a console and for text/plain."""
    readings = [f"  {reading.label}: {reading.text}" for reading in picture.readings]
    log = [f"  {line.label}: {line.text}" for line in picture.log]
    return "\n".join([title, picture.sentence, *readings, *log, alt_text(picture)])


# ---------------------------------------------------------------------------------------------------- in HTML
def element(tag: str, attributes: Mapping[str, str], inside: str, asleep: bool = False) -> str:
    """Return a custom element with `inside` (HTML) until it is live; `asleep`: with a line that says how it comes alive."""
    given = "".join(f' {name}="{html.escape(value)}"' for name, value in attributes.items())
    line = f"<p>{_inline(ASLEEP)}</p>" if asleep else ""
    return f"<{tag}{given}>{inside}{line}</{tag}>"


def panel_inside(panel: Panel, picture: Picture, image: str = "") -> str:
    """Return a panel as a captioned figure with `image` (a data address), or, where that is empty, all in words."""
    alt = html.escape(alt_text(picture))
    readings = "; ".join(f"{reading.label} {reading.text}" for reading in picture.readings)
    controls = ", ".join(_at_default(control) for control in panel.controls)
    drawn = f"<span>{'Drawn with' if image else 'With'} {html.escape(controls)}.</span>" if controls else ""
    caption = (
        f"<strong>{html.escape(panel.title)}.</strong> {html.escape(picture.sentence)} "
        f"<span>{html.escape(readings)}{'.' if readings else ''}</span> {drawn}"
    )
    log = _items("ul", (f"**{line.label}:** {line.text}" for line in picture.log)) if picture.log else ""
    parts = _parts(picture.drawing) + log
    if not image:
        return f"<section><p>{caption}</p><p>{alt}</p>{parts}</section>"
    return f'<figure><img alt="{alt}" src="{image}"><figcaption>{caption}</figcaption>{parts}</figure>'


def _parts(drawing: Drawing | None) -> str:
    """Return the list of a drawing's parts by their numbers, each with its sentence; nothing where there is no drawing."""
    if drawing is None:
        return ""
    items = (f"<strong>{html.escape(part.word)}</strong>: {html.escape(part.sentence)}" for part in drawing.parts)
    return "<ol>" + "".join(f"<li>{item}</li>" for item in items) + "</ol>"


def _at_default(control: Any) -> str:
    if hasattr(control, "tools"):
        return f"nothing on the {control.label.lower()} yet"
    if hasattr(control, "options"):
        return f"{control.label}: {dict(control.options)[control.default]}"
    if control.optional:
        return f"{control.label} not taken"
    unit = "" if control.unit in ("", "1") else f" {control.unit}"
    return f"{control.label} {control.default:g}{unit}"


def exercise_inside(shown: Mapping[str, Any]) -> str:
    """Return an exercise as it is printed: title, prompt, and room for the answer.

    shown: the "exercise" of an engine's reply (see lessons/engine.py).
    """
    tracks = {"code": " (second track: for those who program)", "arithmetic": " (second track: arithmetic)"}
    track = tracks.get(shown["track"], "")
    return (
        f"<section><p><strong>{html.escape(shown['title'])}</strong>{track}</p>"
        f"{_rich(shown['prompt'])}{_print_form(shown['form'])}</section>"
    )


def _print_form(form: Mapping[str, Any]) -> str:
    kind = form["kind"]
    if kind == "number":
        unit = "" if form["unit"] == "1" else f" (in {html.escape(' or '.join(form.get('units') or [form['unit']]))})"
        return f'<p class="answer-line">Your answer{unit}:</p>'
    if kind == "choice":
        return _items("ul", (f"\u2610 {option['text']}" for option in form["options"]))
    if kind == "ordering":
        return "<p>Number these in order:</p>" + _items("ul", (f"____ {item['text']}" for item in form["items"]))
    if kind == "sliders":
        blanks = _items("ul", (f"{form['labels'][symbol]}: ______" for symbol in form["controls"]))
        return f"<p>Set these in the panel, and write down where you leave them:</p>{blanks}"
    if kind == "log":
        return "<p>Write down what you do, one thing a line:</p>" + _items("ul", (tool["text"] for tool in form["tools"]))
    return f"<pre>{html.escape(form['stub'])}</pre>"


def _items(tag: str, texts: Iterable[str]) -> str:
    return f"<{tag}>" + "".join(f"<li>{_inline(text)}</li>" for text in texts) + f"</{tag}>"


def _rich(text: str) -> str:
    """Paragraphs, line breaks and fenced code of a prompt; the same small language as dom.js."""
    parts = []
    for index, part in enumerate(re.split(r"```\w*\n?", text)):
        if index % 2:
            parts.append(f"<pre>{html.escape(part)}</pre>")
        else:
            blocks = (block.strip() for block in re.split(r"\n\s*\n", part))
            parts += [f"<p>{'<br>'.join(_inline(line) for line in block.splitlines())}</p>" for block in blocks if block]
    return "".join(parts)


def _inline(text: str) -> str:
    safe = html.escape(text)
    safe = re.sub(r"`([^`]+)`", r"<code>\1</code>", safe)
    safe = re.sub(r"\*\*([^*]+)\*\*", r"<strong>\1</strong>", safe)
    return re.sub(r"\*([^*\s][^*]*)\*", r"<em>\1</em>", safe)

