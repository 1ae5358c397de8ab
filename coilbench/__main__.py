"""`python -m coilbench SHEET.csv` makes a coil card for each coil of a bench sheet; `--new FILE` makes an empty sheet.

The cards are printed, and written as HTML and PDF into a folder beside the sheet.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

from coilbench.sheet import Sheet, read_sheet, standing, template
from coilbench.units import shown
from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.compiled import COMPILED
from coilmodel.progress import bar

if TYPE_CHECKING:
    from coilbench.card import Card
    from coilbench.cards import Folder
    from coilbench.stored import Imagined

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
        from coilbench.four_report import four_of_sheet

        ready()
        return four_of_sheet(sheet, options.four, options.windows, options.sheet, options.order)
    return judge_sheet(sheet, options.coil, options.sheet, options.cards, options.print_only)


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="python -m coilbench", description="Judge the coils of a bench sheet.")
    top.add_argument("sheet", metavar="SHEET.csv", type=Path, nargs="?", help="the sheet; it is only read, never written to")
    top.add_argument("--coil", metavar="NAME", help="judge this coil alone")
    top.add_argument("--four", metavar="NAME", nargs="*", help="the best set of four out of these coils (none named: out of all)")
    top.add_argument("--windows", metavar="D,D,D,D", help="with --four: degrees by which each cylinder's window closes late")
    top.add_argument("--order", metavar="N-N-N-N", help="with --four: the cylinders in the order in which they fire (1-2-4-3)")
    top.add_argument("--cards", metavar="FOLDER", type=Path, help="where the cards go (else a folder beside the sheet)")
    top.add_argument("--print-only", action="store_true", help="print the cards and write no files")
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


def judge_sheet(sheet: Sheet, only: str | None, path: Path, where: Path | None = None, print_only: bool = False) -> int:
    """Print the card of every coil of `sheet` (or of the one called `only`), and write them as files.

    path : the sheet's; where : the folder of the cards, None for one beside the sheet
    """
    names = [name for name in sheet.coils if only is None or name.casefold() == only.strip().casefold()]
    if not names:
        if only is not None and sheet.coils:
            print(f"There is no coil '{shown(only)}' in the sheet; there are {', '.join(list(sheet.coils)[:20])}.",
                  file=sys.stderr)
        return 1
    # Only now: numpy and scipy take a second to load, and a sheet with nothing in it need not wait for them.
    from coilbench.card import MODEL_ONLY, as_text, view, wrapped
    from coilbench.cards import Folder, file_names, folder_for, write_card, write_list
    from coilbench.predict import learn
    from coilbench.stored import settings_of, stored_setting
    from coilbench.together import of_sheet

    folder = None
    if not print_only:
        place = where or folder_for(path)
        try:  # before the long work, not after it
            folder = Folder(place)
        except OSError as error:
            print(f"{place}: the cards cannot be written there ({error.strerror or error}); --cards FOLDER names another place, "
                  "--print-only does without.", file=sys.stderr)
            return 1
    started = time.monotonic()
    own = {name: standing(rows) for name, rows in sheet.coils.items()}

    def prepare(coils: Collection[str], store: Imagined | None) -> None:
        wanted = [setting for name in coils for setting in settings_of(own[name])]
        if any(stored_setting(setting, store) is None for setting in wanted):
            ready()
            learn(wanted, bar, store)

    makes = of_sheet(sheet.coils, own, prepare)
    for one in makes:
        print("\n\n".join(map(wrapped, one.held)) + "\n", flush=True)
    of_make = {name: one for one in makes for name in one.coils}
    stems, cards = file_names(list(sheet.coils)), {}
    for number, name in enumerate(names, 1):
        rows = sheet.coils[name]
        readings = standing(rows)
        judged = any(reading.kind not in ("gap", "adjusted") for reading in readings)
        one = of_make[name]
        card = view(name, readings, one.together.verdict(name) if judged else None, rows, one.held)
        print(as_text(card), flush=True)
        cards[stems[name]] = card
        if folder:
            try:
                write_card(folder, stems[name], card, path.name)
            except OSError as error:
                print(f"{folder.path}: the card of {name} cannot be written ({error.strerror or error}).", file=sys.stderr)
                return 1
        bar("Coil cards", number, len(names))
    print(wrapped(MODEL_ONLY))
    if folder:
        if only is None:
            write_list(folder, cards, path.name)
        say_written(folder, cards, only is None)
    print(f"Judged in {time.monotonic() - started:.0f} s.", file=sys.stderr)
    return 0


def say_written(folder: Folder, cards: dict[str, Card], listed: bool) -> None:
    """Say on standard error what was written and where."""
    for place in folder.left_alone:
        print(f"{place}: exists and is no coil card, so it is left as it is.", file=sys.stderr)
    first = "index.html" if listed else f"{next(iter(cards))}.html"
    print(f"\nWrote {len(cards)} coil card{'s' if len(cards) != 1 else ''}, each as a page (.html) and to print (.pdf), into "
          f"{folder.path}\nOpen {folder.path / first}", file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
