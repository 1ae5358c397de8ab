"""The page of the proof: was the model ever held against a real coil, what was checked instead, and by how much it differs.

`python -m coilmodel.proof --data` runs the checks and writes them as data; this module lays them out. What stands nearest to
the main job stands open, wire gauges and other input tables are folded away.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from book.making import charts
from book.making.places import ROOT, BuildError


@dataclass(frozen=True)
class Place:
    """How a group stands on the page: its heading, what to read it for, and whether it stands open."""

    heading: str
    words: str
    open: bool


PLACES = {
    "from break to kilovolts, against theory and old reports": Place(
        "From the turning magnet to the spark",
        "The whole chain was run, and what came out held against outside figures: Maxwell's and Rayleigh's theory, "
        "Taylor-Jones's of the induction coil, a report on the magneto's equivalent circuit, and the same circuit solved as a "
        "matrix by scipy, which shares no line with our program. Where a work could not be opened its formula was written from "
        "memory and reproduced by an independent calculation; the row says so.", True),
    "the kernel against a second solution of the same equations": Place(
        "Against a second solution of the same equations",
        "Machines drawn at random, solved a second time by an adaptive solver that was written from the equations alone. It says "
        "that the program solves its equations; it can't say that they are the right ones.", True),
    "the circuit against ngspice": Place(
        "The circuit against ngspice",
        "ngspice is a circuit simulator that knows nothing of us; it gets the parts' values and nothing else.", False),
    "the energy ledger": Place(
        "The energy ledger", "All that the source gives must be found again, to the last part in a thousand.", False),
    "phenomena": Place(
        "What such coils are seen to do",
        "The trade's own experience (common practice, no source): the nominal machine must show all of it, out of the equations.",
        False),
    "the engine against closed forms": Place(
        "Against closed forms", "Machines so simple that a formula says what they must do: a rise, a ring, a bounce.", False),
    "published values and closed forms": Place(
        "What goes in: wire, windings, air, springs, condensers, meters",
        "Formulas that turn a coil's sizes into the model's numbers, against published tables and worked examples.", False),
}
"""Title of a group in `coilmodel.proof.GROUPS` -> how it stands on the page, in the page's order."""

MICRO = {"uF": "µF", "us": "µs", "uH": "µH", "uC": "µC"}
"""Units as a page writes them."""

OPENING = """\
# Was this ever held against a real coil?

**No, not yet.** No coil, no magneto and no pair of contacts was measured for this course. What stands below says two other
things: that the program solves its equations rightly, and that these equations agree with what others measured and
published. It can't say that *your* coil does at 450 rpm what the model does.

- **Believe the circuit.** Windings, condenser, magneto and energy follow laws that were measured a century ago and many
  times since; they are held against outside figures here.
- **Believe the direction, not the figure, of what springs and contacts do.** Nobody publishes the masses, dampings and
  bounces of such a set; a search found a machine that shows [what such coils are seen to do](nominal.md). A slack cushion
  fires too soon for a reason that you can follow; at how many newtons yours does, the model does not know.
- **[What the model leaves out](left_out.md) was tried too**, conclusion by conclusion.
- **Arcs and worn contacts are the weakest part.** Their rules come from books on clean metal, some figures of them from
  memory.

What it would take: one coil on a bench magneto, and an afternoon. Measure resistances, capacity, the springs' forces and
travel, and how fast each blade swings when plucked; put these, and nothing else, into the model; **write down** what it
then says of opening current and time, their scatter and the sparks a pulse at three settings of the cushion and three
speeds; and only then take the traces of current and contact voltage, forty pulses each. Such a capture can be [read in as
it is](scope_capture.md). The secondary can exceed 20 kV and a condenser keeps its charge: [the cautions](cautions.md) come
first, local codes and licensed practice before anything said here.
"""


class Proof:
    """The proof's outcome, from the cache or from a run that goes on while other things are built."""

    def __init__(self, cache: Path, words: Sequence[str] = ()) -> None:
        """Start the run, unless `cache` holds its outcome for this very model; with `words`, only of groups that they name."""
        self.words = tuple(words)
        self.kept = cache / f"proof.{proof_key(self.words)}.json"
        self.run: subprocess.Popen[str] | None = None
        if not self.kept.is_file():
            cache.mkdir(parents=True, exist_ok=True)
            command = [sys.executable, "-m", "coilmodel.proof", "--data", str(self._draft), *words]
            self.run = subprocess.Popen(command, cwd=ROOT, text=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)

    @property
    def _draft(self) -> Path:
        return self.kept.with_suffix(".draft")

    def page(self) -> tuple[str, bool]:
        """Wait for the outcome; return the page, and whether every row that decides is within its tolerance."""
        if self.run is not None:
            said = self.run.communicate()[1]
            if not self._draft.is_file():
                last = (said.strip().splitlines() or ["it said nothing"])[-1]
                raise BuildError(f"`python -m coilmodel.proof` ended without its table: {last}")
            for old in self.kept.parent.glob("proof.*"):
                if old != self._draft:
                    old.unlink()
            self._draft.rename(self.kept)
        found = json.loads(self.kept.read_text(encoding="utf-8"))
        return page(found), all(row["passed"] or not row["limit"] for group in found["groups"] for row in group["rows"])

    def stop(self) -> None:
        """End a run that nobody waits for any more."""
        if self.run is not None and self.run.poll() is None:
            self.run.kill()
            self.run.wait()


def proof_key(words: Sequence[str] = ()) -> str:
    """Return a digest of all that the outcome of the proof, or of the groups named by `words`, depends on."""
    digest = hashlib.sha256(f"{sys.version} {shutil.which('ngspice')} {words}".encode())
    for path in sorted((ROOT / "coilmodel").rglob("*")):
        if path.suffix in {".py", ".json"}:
            digest.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:32]


# ------------------------------------------------------------------------------------------------------------ the page
def page(found: Mapping[str, Any]) -> str:
    """Return the page as Markdown. found : what `python -m coilmodel.proof --data` wrote."""
    groups = {group["title"]: group for group in found["groups"]}
    unknown = [title for title in groups if title not in PLACES]
    if unknown:
        raise BuildError(f"The proof has a group {unknown[0]!r} that book/making/proof_page.py has no place for.")
    parts = [OPENING, summary(list(groups.values())), pictures(found["pictures"])]
    parts += [group_part(groups[title], place) for title, place in PLACES.items() if title in groups]
    if found["only"]:
        parts.append(f"This build ran only the groups named by: {', '.join(found['only'])}.")
    return "\n\n".join(parts) + "\n"


def summary(groups: Sequence[Mapping[str, Any]]) -> str:
    """Return the count of rows: how many decide, how many are outside, how many compare a formula with itself."""
    rows = [row for group in groups for row in group["rows"]]
    deciding = [row for row in rows if row["limit"]]
    outside = sum(not row["passed"] for row in deciding)
    kin = sum(bool(row["kin"]) for row in deciding)
    said = "all within what is allowed" if not outside else f"**{outside} outside what is allowed**, marked below"
    text = (f"## What was checked instead\n\n{len(deciding)} rows that decide, {said}; {len(rows) - len(deciding)} more are "
            "shown and decide nothing.")
    if kin:
        text += (f" {kin} of those that decide compare a formula or a program with itself: they notice a slip of the pen and "
                 "nothing else, and each says so.")
    return text


def group_part(group: Mapping[str, Any], place: Place) -> str:
    """Return one group with its heading, folded away unless its place is open."""
    rows = group["rows"]
    outside = sum(row["limit"] and not row["passed"] for row in rows)
    body = f"Not run: {group['not_run']}" if "not_run" in group else tables(rows)
    if place.open:
        return f"## {place.heading}\n\n{place.words}\n\n{body}"
    count = "not run" if "not_run" in group else f"{len(rows)} rows" + (f", {outside} outside" if outside else "")
    return f'<details class="fold"><summary>{place.heading}: {count}</summary>\n\n{place.words}\n\n{body}\n\n</details>'


def tables(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return the rows as a table; those that compare a formula with itself in a second one, under their own heading."""
    parts = [table([row for row in rows if not row["kin"]])]
    kin = [row for row in rows if row["kin"]]
    if kin:
        parts += [f"**{len(kin)} rows that compare a formula or a program with itself.** They guard the typing only.", table(kin)]
    return "\n\n".join(parts)


def table(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rows as an HTML table; where figures come from and what is allowed for stands once, above the rows that share it."""
    lines = ['<div class="proof-table"><table class="table"><thead><tr><th>what</th><th>ours</th><th>outside figure</th>'
             "<th>apart (allowed)</th></tr></thead><tbody>"]
    above = ""
    for row in rows:
        said = f"{row['source']} ({row['sureness']})" + (f". Allowed for: {row['why']}" if row["why"] else "") + "."
        mark = f" <strong>{escape(row['kin'])}</strong>" if row["kin"] else ""
        if said + mark != above:
            above = said + mark
            lines.append(f'<tr class="proof-source"><th colspan="4" scope="colgroup">{escape(said)}{mark}</th></tr>')
        words = row["words"]
        unit = "" if row["unit"] == "1" else f" {MICRO.get(row['unit'], row['unit'])}"
        outside = " <strong>outside</strong>" if row["limit"] and not row["passed"] else ""
        apart = "inside" if row["band"] and row["passed"] else f"{words['differs']} ({words['allowed']})"
        cells = (row["name"], words["ours"] + unit, words["expected"] + unit, apart)
        lines.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells)[:-5] + outside + "</td></tr>")
    return "```{raw} html\n" + "\n".join([*lines, "</tbody></table></div>"]) + "\n```"


def pictures(found: Mapping[str, Any]) -> str:
    """Return the three pictures, each with its caption and its words for who can't see it."""
    parts = []
    for key, title, lead, other in (
            ("against_reference", "The first pulse from rest, solved twice",
             "Lines: the course's program. Dots: an adaptive solver of the same equations.", "the adaptive solver"),
            ("against_ngspice", "The break, by two programs", "Lines: the course's program. Dots: ngspice.", "ngspice")):
        one = found[key]
        if isinstance(one, str):
            parts.append(f"*{title}: this picture could not be made here. {one}*")
            continue
        apart = ", ".join(f"{name} {charts.percent(abs(share))}" for name, share in one["apart"].items())
        caption = f"<strong>{title}.</strong> {lead} Apart at the worst: {apart}."
        parts.append(charts.figure(charts.strips(one["strips"], title, other), caption))
    book = found["ledger"]
    parts.append(charts.figure(
        charts.bars(book["shares"], "Where the energy went"),
        f"<strong>Where the energy went</strong> in {book['pulses']} pulses of the well-set machine at 450 rpm: "
        f"{book['joules']:.2f} J came from the magneto, {charts.percent(abs(book['error']))} of it can't be accounted for."))
    return "\n\n".join(parts)
