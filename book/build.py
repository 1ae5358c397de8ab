"""Build the static book: `python book/build.py` makes book/_build/html.

Run it inside the course's environment with the npm parts in place; `python3 course.py book` sees to both.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from book.making import (  # noqa: E402  (the line above makes `book` importable)
    bench,
    glossary,
    left_out_page,
    machine_pages,
    notebooks,
    offline,
    pages,
    parts,
    proof_page,
    talk,
    weigh,
)
from book.making.places import (  # noqa: E402
    BOOK,
    BUILD,
    EXECUTED,
    HTML,
    PAGES,
    SOURCE,
    BuildError,
    keep_only,
    one_at_a_time,
    write_if_changed,
)

LOG = BUILD / "build.log"


def say(text: str) -> None:
    """Print one progress line at once."""
    print(text, flush=True)


def gather_sources(proof_words: Sequence[str]) -> None:
    """Fill `SOURCE` with the pages, the executed notebooks and the pages that the model writes itself."""
    proof = proof_page.Proof(EXECUTED, proof_words)  # takes a minute where the model changed: let it run beside the lessons
    try:
        files = {SOURCE / path.relative_to(PAGES): pages.source(path) for path in PAGES.rglob("*") if path.is_file()}
        files |= {SOURCE / name: (BOOK / name).read_bytes() for name in ("_config.yml", "_toc.yml")}
        files |= {SOURCE / "lessons" / name: content for name, content in executed_lessons().items()}
        files[SOURCE / "nominal.md"] = machine_pages.nominal_page().encode()
        files[SOURCE / "left_out.md"] = left_out_page.page().encode()
        files[SOURCE / "glossary.md"] = glossary.glossary_page().encode()
        begun = time.monotonic()
        table, passed = proof.page()
        outcome = "" if passed else "; some rows are OUTSIDE their tolerance, see the page"
        say(f"  the proof: {'unchanged' if proof.run is None else f'{time.monotonic() - begun:.0f} s more'}{outcome}")
        files[SOURCE / "proof.md"] = table.encode()
    finally:
        proof.stop()
    for path, content in files.items():
        write_if_changed(path, content)
    keep_only(SOURCE, set(files))


def executed_lessons() -> dict[str, bytes]:
    """Return {file name: executed notebook} of every lesson; two run at a time."""
    packages, lessons = notebooks.package_digest(), notebooks.lesson_notebooks()

    def run(notebook: Path) -> tuple[bytes, str]:
        begun = time.monotonic()
        content, ran = notebooks.executed(notebook, EXECUTED, packages)
        return content, f"ran in {time.monotonic() - begun:.1f} s" if ran else "unchanged, and so is the model"

    done = {}
    with ThreadPoolExecutor(2) as pool:
        for number, (notebook, (content, outcome)) in enumerate(zip(lessons, pool.map(run, lessons)), 1):
            done[notebook.name] = content
            say(f"  {number} of {len(lessons)}  {notebook.name}: {outcome}")
    return done


def run_book_tool() -> None:
    """Turn `SOURCE` into HTML. A warning (a dead link, a missing picture) is an error: readers would meet it."""
    command = [sys.executable, "-c", "from jupyter_book.cli.main import main; main()", "build", str(SOURCE)]
    command += ["--path-output", str(BOOK), "--all", "-W", "--keep-going"]
    BUILD.mkdir(parents=True, exist_ok=True)
    with LOG.open("w", encoding="utf-8") as log:
        done = subprocess.run(command, stdout=log, stderr=subprocess.STDOUT, cwd=BOOK, check=False)
    if done.returncode:
        lines = LOG.read_text(encoding="utf-8").splitlines()
        telling = [line for line in lines if "WARNING" in line or "ERROR" in line or "Error:" in line] or lines[-15:]
        raise BuildError("The pages were not built:\n  " + "\n  ".join(telling[:15]) + f"\n(all of it: {LOG})")


def report_sizes() -> None:
    """Print what a reader fetches."""
    kb = 1024
    for label, files in (
        ("first page", weigh.page_files(HTML / "index.html")),
        ("live start", weigh.live_start(HTML)),
        ("whole book", [path for path in HTML.rglob("*") if path.is_file()]),
    ):
        stored, packed = weigh.weight(files)
        say(f"  {label}: {len(files)} files, {stored / kb:,.0f} KB as stored, {packed / kb:,.0f} KB gzipped")


def build(proof_words: Sequence[str] = ()) -> Path:
    """Build the book and return the folder of its pages; raises BuildError with a sentence where it cannot be.

    With `proof_words` only those groups of the proof are run, and its page says so.
    """
    say("1 of 4  Python for the browser, the face, the formulas")
    panels, exercises = parts.lay_out()
    say(f"  {panels} panels and {exercises} exercises run on the standard library alone")
    say("2 of 4  Lessons, and what the model says of itself")
    gather_sources(proof_words)
    say("3 of 4  Pages")
    run_book_tool()
    icons = parts.only_used_icons(HTML)
    say(f"  the theme's icons cut to the {icons} in use")
    say(f"  the talk, its presenter's window and its two sheets: {talk.write()}")
    say(f"  the example's coil cards: {bench.write()}")
    kept = offline.write(HTML)  # the last of all: what changes after it is never kept
    say("4 of 4  Sizes")
    report_sizes()
    sizes = ", ".join(f"{part} {size / 1024:,.0f} KB" for part, size in kept.items())
    say(f"  kept in the browser for use without a network: {sizes}")
    say(f"The book is at {HTML / 'index.html'}")
    return HTML


def main() -> int:
    """Run the build; on failure print one sentence and return 1."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--proof", nargs="+", metavar="WORD", default=(), help="only these groups of the proof, to save a minute")
    options = parser.parse_args()
    try:
        with one_at_a_time(say):
            build(options.proof)
    except BuildError as error:
        print(f"\n{error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
