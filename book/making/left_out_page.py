"""The page of what the model leaves out, tried: a table of verdicts, and of each that falls the figures that fell it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

OPENING = """\
# What the model leaves out, tried

The blades of the model swing in one shape only, its iron never saturates, nothing rubs, and one pulse is like the next. Do
the course's conclusions hang on that? Each of these was put into the [second solver](proof.md), alone and then all together;
the coil's settings were left as they are, nobody set it anew. What a conclusion asks is said in its row: a share of pulses
or a ratio, at 450 rpm unless it says otherwise; *slack* and *stiff* are the cushion at {slack:g} and {stiff:g} of the well-set
preload.
"""

REST = """\
## What was not tried

Blades with more than two shapes, or that twist; the rivet and the contact at two places of the blade; contacts that wear, weld,
or are out of line; a magneto whose own iron saturates; the secondary's capacity spread along its wire; heat and damp. That a
conclusion stands here says that it does not hang on what was added, in the amount that was added. It does not say that a real
coil was measured: [none was](proof.md).
"""


def page(kept: Mapping[str, Any] | None = None) -> str:
    """Return the page as Markdown. kept : the table as `coilmodel.proof.left_out` keeps it; by default the repository's own."""
    from coilmodel.proof import left_out, shares

    found = left_out.kept() if kept is None else kept
    additions = found["additions"]
    stands = sum(all(row["stands"].values()) for row in found["verdicts"])
    parts = [
        OPENING.format(slack=shares.SLACK, stiff=shares.STIFF),
        f"**{stands} of {len(found['verdicts'])} conclusions stand with each of the additions and with all together.**",
        table(found), added(additions), fallen(found, left_out.NOTES), REST,
    ]
    return "\n\n".join(part.rstrip("\n") for part in parts if part) + "\n"


def table(found: Mapping[str, Any]) -> str:
    """Return the table: a row for each verdict, a column for each addition."""
    head = "".join(f"<th>{escape(one['name'])}</th>" for one in found["additions"])
    lines = [f'<div class="proof-table verdicts"><table class="table"><thead><tr><th>conclusion</th>{head}</tr></thead><tbody>']
    for row in found["verdicts"]:
        cells = "".join("<td>stands</td>" if row["stands"][one["key"]] else "<td><strong>falls</strong></td>"
                        for one in found["additions"])
        lines.append(f"<tr><td>{escape(row['says'])}</td>{cells}</tr>")
    return "```{raw} html\n" + "\n".join([*lines, "</tbody></table></div>"]) + "\n```"


def added(additions: Sequence[Mapping[str, Any]]) -> str:
    """Return what was added, and how much of it."""
    return "## What was added\n\n" + "\n".join(f"- **{one['name']}**: {one['words']}" for one in additions)


def fallen(found: Mapping[str, Any], notes: Mapping[str, str]) -> str:
    """Return of each verdict that falls what the runs came to, beside the model's own; "" where all stand.

    notes : verdict -> what is behind its fall, where it is known
    """
    names = {one["key"]: one["name"] for one in found["additions"]}
    parts = []
    for row in found["verdicts"]:
        keys = [key for key, stands in row["stands"].items() if not stands]
        if not keys:
            continue
        lines = [f"**{row['says']}** {notes.get(row['says'], '')}".rstrip(), ""]
        for key in ("kernel", *keys):
            told = "; ".join(run_in_words(found["runs"][key][place]) for place in row["runs"])
            lines.append(f"- {names.get(key, 'as it is')}: {told}")
        parts.append("\n".join(lines))
    return "## What fell, and by how much\n\n" + "\n\n".join(parts) if parts else ""


def run_in_words(run: Mapping[str, Any]) -> str:
    """Return in words which run it was and what it came to."""
    where = f"in the car at {run['drive']:g} rpm" if run["where"] == "car" else _drive(run["drive"])
    changed = ", ".join(f"{_number(name)} x{factor:g}" for name, factor in run["changed"].items()) or "well set"
    if run["where"] == "car":
        what = f"{_share(run['misfires'])} of windows misfire, first spark {run['first_mJ']:.1f} mJ"
    elif run["single"] == run["multiple"] == 0.0:
        what = "no spark"
    else:
        what = (f"one spark in {_share(run['single'])}, more in {_share(run['multiple'])} of pulses, {run['amperes']:.2f} A at "
                f"{run['ms']:.2f} ms, on the rivet in {_share(run['on_rivet'])}, first spark {run['first_mJ']:.1f} mJ, meter "
                f"{run['meter']:.2f} A")
    return f"{changed}, {where}: {what}"


def _drive(drive: Mapping[str, Any]) -> str:
    if "volts" in drive:
        return f"on {drive['volts']:g} V"
    strength = "" if drive["drive"] == 1.0 else f", magneto {_share(drive['drive'])}"
    return f"{drive['rpm']:g} rpm{strength}"


def _number(name: str) -> str:
    return name.replace(".", " ").replace("_", " ")


def _share(share: float) -> str:
    return f"{100.0 * share:.0f} %"
