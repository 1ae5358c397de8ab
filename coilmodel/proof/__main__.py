"""`python -m coilmodel.proof`: run the checks and write the table of what differs from what, and by how much.

usage: python -m coilmodel.proof [-o FILE] [--data FILE] [--list] [WORD ...]

With words, only the groups whose title contains one of them. The table is Markdown, on standard output or in FILE. `--data`
writes rows and pictures as JSON instead, for the book's page.
Exit status 1 if any check that decides is outside its tolerance.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from coilmodel.proof import GROUPS, CannotRun, Check


def number(value: float) -> str:
    """A value in at most six significant digits."""
    return f"{value:.6g}"


def amount(check: Check, value: float) -> str:
    """A difference or tolerance of `check` in words: percent, parts in a million, or its unit."""
    if not check.relative:
        return f"{value:.3g}" + ("" if check.unit == "1" else f" {check.unit}")
    if value == 0.0:
        return "0"
    if abs(value) < 1e-5:
        return f"{1e6 * value:.2g} ppm"
    return f"{100.0 * value:.3g} %"


def expected(check: Check) -> str:
    """The expected value of `check` in words, or the two between which its value must lie."""
    if check.band:
        return f"{number(check.expected - check.tolerance)} to {number(check.expected + check.tolerance)}"
    return number(check.expected)


def table(title: str, checks: Iterable[Check]) -> tuple[str, int]:
    """One group as Markdown, and how many of its deciding checks failed."""
    rows = list(checks)
    failed = sum(check.limit and not check.passed for check in rows)
    deciding = [check for check in rows if check.limit]
    kin = sum(bool(check.kin) for check in deciding)
    lines = [
        f"## {title[0].upper()}{title[1:]}",
        "",
        f"{len(rows)} rows, {len(deciding)} of them decide; {failed} outside their tolerance."
        + (f" {kin} of those that decide compare a formula or a program with itself and guard the typing only; each says so."
           if kin else ""),
        "",
        "| what | ours | expected | unit | differs by | allowed | source (how sure) |",
        "|---|---|---|---|---|---|---|",
    ]
    for check in rows:
        allowed = amount(check, check.tolerance) if check.limit else "no limit"
        mark = "" if check.passed or not check.limit else " **outside**"
        cells = (
            check.name, number(check.ours), expected(check), "" if check.unit == "1" else check.unit,
            amount(check, check.difference) + mark, allowed + (f" ({check.why})" if check.why else ""),
            f"{check.source} ({check.sureness}{'; ' if check.kin else ''}{check.kin})",
        )
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n", failed


def row(check: Check) -> dict[str, Any]:
    """One check as data: its fields, and in words its values, difference and tolerance."""
    return asdict(check) | {
        "passed": bool(check.passed), "words": {
            "ours": number(check.ours), "expected": expected(check), "differs": amount(check, check.difference),
            "allowed": amount(check, check.tolerance) if check.limit else "no limit"}}


def pictures() -> dict[str, Any]:
    """The page's pictures as data; one that cannot be made here is a string that says why."""
    from coilmodel.proof import pictures as drawn

    found: dict[str, Any] = {}
    for make in (drawn.against_reference, drawn.against_ngspice, drawn.ledger):
        try:
            found[make.__name__] = asdict(make())
        except CannotRun as reason:
            found[make.__name__] = str(reason)
    return found


def main(arguments: list[str] | None = None) -> int:
    """Run the wanted groups; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m coilmodel.proof", description="What was checked against what.")
    parser.add_argument("words", nargs="*", metavar="WORD", help="only groups whose title contains one of these")
    parser.add_argument("-o", "--output", type=Path, help="write the table to this file instead of standard output")
    parser.add_argument("--data", type=Path, help="write rows and pictures to this file as JSON, no table")
    parser.add_argument("--list", action="store_true", help="list the groups and stop")
    asked = parser.parse_args(arguments)
    titles = [title for title in GROUPS if not asked.words or any(word.lower() in title.lower() for word in asked.words)]
    if asked.list:
        print("\n".join(titles))
        return 0
    if not titles:
        parser.error(f"no group's title contains any of {asked.words}; see --list")
    parts = ["# What was checked against what, and by how much it differs\n"]
    data: dict[str, Any] = {"only": asked.words, "groups": []}
    failures = 0
    for title in titles:
        begun = time.monotonic()
        try:
            rows = list(GROUPS[title]())
            text, failed = table(title, rows)
            data["groups"].append({"title": title, "rows": [row(check) for check in rows]})
        except CannotRun as reason:
            data["groups"].append({"title": title, "rows": [], "not_run": str(reason)})
            text, failed = f"## {title[0].upper()}{title[1:]}\n\nNot run: {reason}\n", 0
        parts.append(text)
        failures += failed
        print(f"{title}: {failed} outside their tolerance, {time.monotonic() - begun:.1f} s", file=sys.stderr)
    text = "\n".join(parts)
    if asked.data:
        asked.data.write_text(json.dumps(data | {"pictures": pictures()}), encoding="utf-8")
    elif asked.output:
        asked.output.write_text(text, encoding="utf-8")
    else:
        print(text)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
