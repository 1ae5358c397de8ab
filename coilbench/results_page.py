"""What the book says of a real study and a real set, made from small result files: `python -m coilbench.results_page`.

The results stand in `book/pages/results/`: `study.json` (the findings of the template's plan) and `four.json` (the set of the
example's five coils). From them this makes the pieces that the pages include, words, tables and pictures; no number is typed.
`--study FOLDER` takes over the findings of a study that has run (`python3 course.py study`); `--four` runs the example's set
anew.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from coilbench import four_report, study_report
from coilbench.four import best_set, candidates, likely
from coilbench.sheet import read_sheet, standing
from coilmodel.progress import bar
from coilmodel.study.findings import Findings, from_dict

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "book" / "pages" / "results"
EXAMPLE = ROOT / "lessons" / "examples" / "larkfield_five.csv"
STUDY_COMMAND = "python3 course.py study --new plan.toml; python3 course.py study plan.toml"
FOUR_COMMAND = "python3 course.py bench lessons/examples/larkfield_five.csv --four"


def read_study() -> tuple[dict[str, Any], Findings]:
    """Return plan and findings of the study that the book tells of."""
    told = json.loads((RESULTS / "study.json").read_text(encoding="utf-8"))
    return told["plan"], from_dict(told["findings"])


def study_words() -> str:
    """Return the piece of the book's page that tells what the study found."""
    plan, findings = read_study()
    parts = [f"Made by `{STUDY_COMMAND}`: {findings.runs} runs of the model, seed {plan['seed']}.", ""]
    for line in study_report.summary(plan, findings):
        parts += [line, ""]
    for name, alt, _ in study_report.pictures(plan, findings):
        parts += [f"```{{image}} results/study_{name}.png\n:alt: {alt}\n```", ""]
    parts += ["What varied:", "", *_table(("number", "how"), study_report.varied_table(plan))]
    return "\n".join(parts) + "\n"


def four_words() -> str:
    """Return the piece of the book's page that tells of the example's set."""
    told = json.loads((RESULTS / "four.json").read_text(encoding="utf-8"))
    parts = [f"Made by `{FOUR_COMMAND}`.", ""]
    for line in told["summary"]:
        parts += [line, ""]
    parts += [*_table(told["head"], told["rows"]), ""]
    if "angles" in told:  # a result kept from before had them in the first table
        parts += [*_table(told["angle_head"], told["angles"]), ""]
    parts += [f"```{{image}} results/four.png\n:alt: {told['alt']}\n```", "",
              *_table(told["scatter_head"], told["scatter"])]
    return "\n".join(parts) + "\n"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(cells) + " |" for cells in (head, *rows)]
    return [":::{div} full-width dense", lines[0], "|" + "---|" * len(head), *lines[1:], ":::"]


def run_four() -> None:
    """Find the set of the example's coils, and keep what the page needs of it."""
    sheet = read_sheet(EXAMPLE)
    own = {name: likely(standing(rows), progress=bar) for name, rows in sheet.coils.items()}
    found = best_set(candidates(own, (0.0,), bar))
    told = {"summary": four_report.summary(found), "head": four_report.HEAD, "rows": four_report.rows(found),
            "angle_head": four_report.ANGLE_HEAD, "angles": four_report.angle_rows(found),
            "scatter_head": four_report.SCATTER_HEAD, "scatter": four_report.scatter_rows(found), "alt": four_report.alt(found)}
    (RESULTS / "four.json").write_text(json.dumps(told, indent=1), encoding="utf-8")
    (RESULTS / "four.png").write_bytes(four_report.png(found, 110))


def main(words: list[str] | None = None) -> int:
    """Make the pieces anew."""
    top = argparse.ArgumentParser(description="Make what the book says of a study and of a set.")
    top.add_argument("--study", metavar="FOLDER", type=Path, help="take over the findings of this study")
    top.add_argument("--four", action="store_true", help="run the example's set anew (some minutes)")
    options = top.parse_args(words)
    RESULTS.mkdir(exist_ok=True)
    if options.study:
        (RESULTS / "study.json").write_bytes((options.study / "findings.json").read_bytes())
    if options.four:
        run_four()
    plan, findings = read_study()
    for name, _, figure in study_report.pictures(plan, findings):
        (RESULTS / f"study_{name}.png").write_bytes(study_report.png(figure, 110))
    (RESULTS / "study_words.md").write_text(study_words(), encoding="utf-8")
    (RESULTS / "four_words.md").write_text(four_words(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
