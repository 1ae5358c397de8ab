"""The drawings of the page *Every reading at home*: inline SVG that takes the page's colours, with its parts listed under it."""

from __future__ import annotations

import html
import re

from book.making.places import BuildError
from coilbench.looks import hues
from lessons.contracts import Drawing, Outline

MARKER = re.compile(r"^\{\{drawing (\w+)\}\}$", re.MULTILINE)
_BADGE = 10.0  # units, radius of a part's number


def filled(text: str, where: str) -> str:
    """Return a page's text with each line `{{drawing NAME}}` replaced by that drawing; BuildError names one there is not."""
    return MARKER.sub(lambda found: _piece(found[1], where), text)


def _piece(name: str, where: str) -> str:
    from lessons.panels.drawings.at_home import DRAWINGS

    if name not in DRAWINGS:
        raise BuildError(f"{where}: there is no drawing {name!r}; there are {', '.join(DRAWINGS)}.")
    return "```{raw} html\n" + figure(DRAWINGS[name]()) + "\n```"


def figure(drawing: Drawing) -> str:
    """Return a drawing as an HTML figure: the picture, then its parts by their numbers, each with its sentence."""
    alt = f"{drawing.title}: {', '.join(f'{number} {part.word}' for number, part in enumerate(drawing.parts, 1))}."
    shapes = [shape for part in drawing.parts for shape in (_outline(one) for one in part.outlines)]
    badges = [_badge(number, *part.number_at, part.leads_to) for number, part in enumerate(drawing.parts, 1)]
    notes = [f'<text class="note" x="{note.x:g}" y="{note.y:g}" text-anchor="{note.anchor}">{html.escape(note.text)}</text>'
             for note in drawing.notes]
    numbered = list(enumerate(drawing.parts, 1))
    listed = [f'<li value="{number}"><strong>{html.escape(part.word[:1].upper() + part.word[1:])}</strong>. '
              f"{html.escape(part.sentence)}</li>" for number, part in numbered if part.sentence]
    others = ", ".join(f"{number} {html.escape(part.word)}" for number, part in numbered if not part.sentence)
    return (
        f'<figure class="at-home"><svg viewBox="0 0 {drawing.width:g} {drawing.height:g}" role="img" '
        f'aria-label="{html.escape(alt, quote=True)}">{"".join([*shapes, *notes, *badges])}</svg>'
        f"<figcaption><strong>{html.escape(drawing.title)}.</strong><ol>{''.join(listed)}</ol>"
        f"{f'<p>{others}</p>' if others else ''}<small>{html.escape(drawing.scale)}</small></figcaption></figure>"
    )


def _outline(outline: Outline) -> str:
    pairs = list(zip(outline.points[::2], outline.points[1::2], strict=True))
    d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in pairs) + ("z" if outline.closed else "")
    kind = " ".join([outline.fill, *(name for name, so in (("line", not outline.closed), ("pale", outline.pale),
                                                           ("dashed", outline.dashed)) if so)])
    return f'<path class="{kind}" d="{d}"/>'


def _badge(number: int, x: float, y: float, to: tuple[float, float] | None) -> str:
    lead = "" if to is None else (f'<path class="lead" d="M{x:.1f} {y:.1f}L{to[0]:.1f} {to[1]:.1f}"/>'
                                  f'<circle class="end" cx="{to[0]:.1f}" cy="{to[1]:.1f}" r="2"/>')
    return (f'{lead}<circle class="disc" cx="{x:.1f}" cy="{y:.1f}" r="{_BADGE:g}"/>'
            f'<text class="number" x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">{number}</text>')


def style() -> str:
    """Return the rules that give the drawings the course's hues, in light, in dark and on paper."""
    def those(theme: str) -> str:
        look, quantities = hues()[theme], hues()["quantities"]
        return (f"--ink: {look['ink']}; --band: {look['band']}; --surface: {look['surface']}; "
                f"--position: {quantities['position'][theme]}; --cushion: {quantities['cushion'][theme]};")

    return f"""
figure.at-home {{ {those("light")} margin: 1rem 0; display: grid; gap: 0.5rem 1.5rem;
  grid-template-columns: repeat(auto-fit, minmax(min(100%, 19rem), 1fr)); align-items: start; }}
html[data-theme="dark"] figure.at-home {{ {those("dark")} }}
@media print {{ figure.at-home, html[data-theme="dark"] figure.at-home {{ {those("light")} break-inside: avoid; }} }}
figure.at-home svg {{ width: 100%; height: auto; max-width: 30rem; background: var(--surface); }}
figure.at-home path {{ stroke: var(--ink); stroke-width: 1.2; fill: var(--band); }}
figure.at-home path.clear {{ fill: var(--surface); }}
figure.at-home path.position {{ fill: var(--position); }}
figure.at-home path.cushion {{ fill: var(--cushion); }}
figure.at-home path.line {{ fill: none; }}
figure.at-home path.line.position {{ stroke: var(--position); stroke-width: 2; }}
figure.at-home path.pale {{ fill-opacity: 0.25; }}
figure.at-home path.dashed {{ stroke-dasharray: 5 4; }}
figure.at-home path.lead {{ fill: none; stroke-width: 0.7; }}
figure.at-home .end {{ fill: var(--ink); }}
figure.at-home .disc {{ fill: var(--surface); stroke: var(--ink); }}
figure.at-home text {{ fill: var(--ink); font-size: 12px; paint-order: stroke; stroke: var(--surface); stroke-width: 3px; }}
figure.at-home text.number {{ stroke: none; }}
figure.at-home figcaption {{ text-align: left; color: inherit; font: inherit; }}
figure.at-home figcaption small {{ opacity: 0.85; }}
figure.at-home figcaption p {{ margin: 0.25rem 0; }}
figure.at-home figcaption ol {{ margin: 0.25rem 0; padding-left: 1.4rem; }}
"""
