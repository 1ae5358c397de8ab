"""`python -m lessons.bench SHEET.csv` prints a coil card for each coil of a bench sheet; `--new FILE` makes an empty sheet."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.compiled import COMPILED
from lessons.bench.sheet import Sheet, read_sheet, standing, template
from lessons.bench.units import shown

MESSAGES = 30  # sentences about rows printed one by one; beyond that they are counted


def main(words: list[str] | None = None) -> int:
    """Carry out one command line; 0: cards or a sheet were made, 1: nothing could be, 2: the command was not understood."""
    for stream in (sys.stdout, sys.stderr):  # a coil's name may have letters that an old console lacks
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    options = parser().parse_args(words)
    if options.new is not None:
        return make_sheet(options.new, ";" if options.semicolons else ",")
    if options.sheet is None:
        parser().print_usage(sys.stderr)
        print("Give a bench sheet, or --new FILE to make one.", file=sys.stderr)
        return 2
    try:
        sheet = read_sheet(options.sheet)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    say_rows(options.sheet, sheet)
    if options.four is not None:
        from lessons.bench.four_report import four_of_sheet

        ready()
        return four_of_sheet(sheet, options.four, options.windows, options.sheet)
    return judge_sheet(sheet, options.coil)


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="python -m lessons.bench", description="Judge the coils of a bench sheet.")
    top.add_argument("sheet", metavar="SHEET.csv", type=Path, nargs="?", help="the sheet; it is only read, never written to")
    top.add_argument("--coil", metavar="NAME", help="judge this coil alone")
    top.add_argument("--four", metavar="NAME", nargs="*", help="the best set of four out of these coils (none named: out of all)")
    top.add_argument("--windows", metavar="D,D,D,D", help="with --four: degrees by which each cylinder's window closes late")
    top.add_argument("--new", metavar="FILE", type=Path, help="make an empty sheet to fill in (an existing file is left alone)")
    top.add_argument("--semicolons", action="store_true", help="with --new: part the cells by semicolons, as spreadsheets with a "
                     "decimal comma like it")
    return top


def make_sheet(path: Path, delimiter: str) -> int:
    """Write an empty sheet to `path` unless something is there."""
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(template(delimiter))
    except FileExistsError:
        print(f"{path}: exists and is left as it is; give another name.", file=sys.stderr)
        return 1
    except OSError as error:
        print(f"{path}: cannot be written ({error.strerror or error}).", file=sys.stderr)
        return 1
    print(f"Made {path}. One row a reading: fill in the column 'value' for what you have measured, leave the rest empty.\n"
          f"Then: python3 course.py bench {path}")
    return 0


def say_rows(path: Path, sheet: Sheet) -> None:
    """Say on standard error what was read and what was left out."""
    for line in sheet.messages[:MESSAGES]:
        print(line, file=sys.stderr)
    if len(sheet.messages) > MESSAGES:
        print(f"... and {len(sheet.messages) - MESSAGES} more sentences like these.", file=sys.stderr)
    empty = f", {sheet.empty_values} not measured yet" if sheet.empty_values else ""
    print(f"{path}: {sheet.good} of {sheet.rows} rows used{empty}; {len(sheet.coils)} "
          f"coil{'s' if len(sheet.coils) != 1 else ''}.", file=sys.stderr)


def ready() -> None:
    """Compile the model where it can be, here, once, and not by every process at the same time."""
    if COMPILED:
        print("Starting the model (compiling it, the first time, takes about a minute)", file=sys.stderr)
        simulate(Machine(), MagnetoDrive(), pulses=1)
    else:
        print("The compiled model is not installed here; the plain one takes some minutes and uses fewer imagined coils.",
              file=sys.stderr)


def judge_sheet(sheet: Sheet, only: str | None = None) -> int:
    """Print the card of every coil of `sheet` (or of the one called `only`)."""
    names = [name for name in sheet.coils if only is None or name.casefold() == only.strip().casefold()]
    if not names:
        if only is not None and sheet.coils:
            print(f"There is no coil '{shown(only)}' in the sheet; there are {', '.join(list(sheet.coils)[:20])}.",
                  file=sys.stderr)
        return 1
    # Only now: numpy and scipy take a second to load, and a sheet with nothing in it need not wait for them.
    from lessons.bench.card import MODEL_ONLY, bare_card, card, wrapped
    from lessons.bench.judge import judge
    from lessons.bench.predict import Library, bar

    ready()
    library = Library(progress=bar)
    started = time.monotonic()
    for name in names:
        rows = sheet.coils[name]
        readings = standing(rows)
        if any(reading.kind not in ("gap", "adjusted") for reading in readings):
            print(card(name, readings, judge(readings, library), rows), flush=True)
        else:
            print(bare_card(name, rows), flush=True)
    print(wrapped(MODEL_ONLY))
    print(f"Judged in {time.monotonic() - started:.0f} s.", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
