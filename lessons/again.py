"""Everything that the repository keeps of the model, made again in the right order: `python3 course.py again`.

Some results are committed because nobody should wait for them: the examples, the imagined coils of lesson 10, how often the
bench is right, the study of the book, how far the verdicts hang on unsourced numbers and on what the model leaves out. When
the model, its numbers or a prior changes, tests say which are stale; this makes them all, each after what it depends on. The
nominal machine itself and the front of what can be had together are searched only with `--search`: that takes most of an
hour, and changes every other number.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from coilmodel.progress import drawn

ROOT = Path(__file__).resolve().parents[1]
STUDY = "{folder}/plan_study"  # where the study of the book is run; filled in when it is


@dataclass(frozen=True)
class Step:
    """One thing that is kept: `makes` says which files, `words` are what Python is told; `into` takes what it prints, if any."""

    what: str
    makes: tuple[str, ...]
    words: tuple[str, ...]
    into: str = ""
    search: bool = False


STEPS = (
    Step("the nominal machine", ("coilmodel/nominal.json",),
         ("-m", "coilmodel.search", "--seed", "5", "--generations", "0", "--size", "5", "--polish", "70"), search=True),
    Step("what can be had together", ("coilmodel/front.json",),
         ("-m", "coilmodel.search", "--front", "--seed", "31", "--generations", "8", "--size", "32"), search=True),
    Step("how far the verdicts hang on unsourced numbers", ("coilmodel/proof/shares.json",),
         ("-m", "coilmodel.proof.shares", "--machines", "80")),
    Step("what the model leaves out, tried (an hour or more)", ("coilmodel/proof/left_out.json",),
         ("-m", "coilmodel.proof.left_out")),
    Step("the example's sheet", ("lessons/examples/larkfield_twelve.csv",), ("-m", "coilbench.larkfield")),
    Step("the example's sheet of five", ("lessons/examples/larkfield_five.csv",), ("-m", "coilbench.four_example")),
    Step("the example's capture", ("lessons/examples/capture_alder.csv",), ("-m", "coilbench.capture.imagined"),
         into="lessons/examples/capture_alder.csv"),
    Step("the imagined coils of lesson 10", ("coilbench/imagined.json",), ("-m", "coilbench.fill_store")),
    Step("the imagined coils of other makes", ("coilbench/designs.json",), ("-m", "coilbench.fill_designs")),
    Step("how often the bench is right about other makes", ("coilbench/makes.json",),
         ("-m", "coilbench.makes_trial", "--keep", "coilbench/makes.json")),
    Step("how often the bench is right", ("coilbench/calibrated.json",),
         ("-m", "coilbench.trial", "--coils", "3000", "--keep", "coilbench/calibrated.json")),
    Step("the plan of the book's study", (), ("-m", "coilbench.study", "--new", "{folder}/plan.toml")),
    Step("the book's study", (), ("-m", "coilbench.study", "{folder}/plan.toml")),
    Step("the pages of study and set", ("book/pages/results/study.json", "book/pages/results/four.json"),
         ("-m", "coilbench.results_page", "--study", STUDY, "--four")),
)


def chosen(names: Sequence[str], search: bool) -> list[Step]:
    """Return the steps to take: all, or those from the first that makes one of `names` (files) on; searches only if `search`."""
    steps = [step for step in STEPS if search or not step.search]
    if not names:
        return steps
    known = {path for step in STEPS for path in step.makes}
    for name in names:
        if name not in known:
            raise ValueError(f"again: {name!r} is not a file that is kept; there are {', '.join(sorted(known))}.")
    first = next(place for place, step in enumerate(steps) if set(step.makes) & set(names))
    return steps[first:]


def take(step: Step, folder: Path) -> int:
    """Carry out one step with its work in `folder`; return its status."""
    words = [word.format(folder=folder) for word in step.words]
    if not step.into:
        return subprocess.run([sys.executable, *words], cwd=ROOT).returncode
    target = ROOT / step.into
    fresh = target.with_suffix(".new")
    with fresh.open("w", encoding="utf-8", newline="") as out:
        status = subprocess.run([sys.executable, *words], cwd=ROOT, stdout=out).returncode
    if status == 0:
        fresh.replace(target)  # the old one stays until the new one is whole
    else:
        fresh.unlink()
    return status


def main(words: list[str] | None = None) -> int:
    """Make everything again and return 0, or the status of the first step that failed."""
    top = argparse.ArgumentParser(prog="course.py again", description="Make again all that is kept of the model.")
    top.add_argument("--search", action="store_true", help="search the nominal machine anew too (most of an hour)")
    top.add_argument("--list", action="store_true", help="say what would be made, and make nothing")
    top.add_argument("--from", dest="names", metavar="FILE", action="append", default=[], help="begin at the step that makes it")
    given = top.parse_args(words)
    try:
        steps = chosen(given.names, given.search)
    except ValueError as error:
        top.error(str(error))
    began = time.monotonic()
    folder = Path(tempfile.mkdtemp(prefix="again-"))
    try:
        for number, step in enumerate(steps, 1):
            print(f"{drawn(number, len(steps), len(steps))} {number} of {len(steps)}: {step.what} "
                  f"({time.monotonic() - began:.0f} s so far)", flush=True)
            if given.list:
                print(f"    {', '.join(step.makes) or 'for the next step'}")
                continue
            status = take(step, folder)
            if status:
                print(f"Stopped: making {step.what} failed (status {status}); what was made before it stands.", flush=True)
                return status
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    if not given.list:
        print(f"All made in {time.monotonic() - began:.0f} s. Run the tests, look at the changes, and commit them together.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
