"""`python3 course.py bench --capture FILE.csv` reads a scope capture and says what coil and supply it shows."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: these matrices are thin, and threads only wait for each other

from coilbench.capture.findings import Found  # noqa: E402
from coilbench.capture.found import Known, analyse  # noqa: E402
from coilbench.capture.recording import is_sound  # noqa: E402
from coilbench.capture.trace import Asked, read_trace  # noqa: E402
from coilmodel.progress import bar  # noqa: E402


def main(words: list[str] | None = None) -> int:
    """Carry out one command line; 0: a card was printed, 1: the capture could not be used, 2: it was not understood."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    options = parser().parse_args(words)
    for made in (options.picture, options.rows):
        if made is not None and made.exists():
            print(f"{made}: exists and is left as it is; give another name.", file=sys.stderr)
            return 1
    try:
        return _listen(options) if is_sound(options.file) else _carry_out(options)
    except (ValueError, OSError) as error:
        said = str(error)
        print(said if str(options.file) in said else f"{options.file}: {said}", file=sys.stderr)
        return 1


def _carry_out(options: argparse.Namespace) -> int:
    tell = bar if options.file.is_file() and options.file.stat().st_size > 5_000_000 else None
    if tell:
        tell("Reading", 0, 4)
    trace = read_trace(options.file, Asked(options.time, options.current, options.contact, options.secondary))
    known = known_of(options)
    found = analyse(trace, known, tell)
    # Only now: the picture's library takes a second to load.
    from coilbench.capture.show import card, likeness, sheet_text

    text = card(found, options.file.name)
    print(text, flush=True)
    sheet = sheet_text(found, known, options.coil, options.date)
    _rows(found, sheet, options)
    if options.picture is not None:
        from lessons.capture_picture import picture, save_picture

        model = likeness(found)
        save_picture(picture(found, model, options.file.name), options.picture, text)
        print(f"The picture is in {options.picture}.", file=sys.stderr)
    return 0


def _listen(options: argparse.Namespace) -> int:
    """Count the sparks in a recording; the row for a sheet needs the speed from the person."""
    from coilbench.capture.recording import listen, read_sound
    from coilbench.capture.show import heard_card, heard_rows, too_wide
    from coilbench.sheet import write_rows

    known = known_of(options)
    if options.supply == "battery":
        raise ValueError("Sparks per pulse are counted on a magneto, whose pulses come evenly; a battery gives none.")
    if options.picture is not None:
        raise ValueError("--picture: draws a scope's capture; of a recording there is no picture.")
    heard = listen(read_sound(options.file), known.speed_rpm, known.pole_pairs)
    print(heard_card(heard, known, options.file.name), flush=True)
    rows = heard_rows(heard, known, options.coil, options.date)
    if not rows:
        why = "its limits are too wide for one" if too_wide(heard) else "it needs the speed; say --speed"
        print(f"No row for a bench sheet: {why}.", file=sys.stderr)
    elif options.rows is not None:
        with options.rows.open("x", encoding="utf-8", newline="") as file:
            file.write(write_rows(rows))
        print(f"The row for a bench sheet is in {options.rows}; append it to your own.", file=sys.stderr)
    else:
        print("Row for a bench sheet (append it to your own; --rows NEW.csv writes it to a new file):")
        print(write_rows(rows).replace("\r\n", "\n"))
    return 0


def _rows(found: Found, sheet: str, options: argparse.Namespace) -> None:
    if sheet.count("\n") < 2:
        missing = "--supply-volts" if found.kind == "battery" else "--speed"
        print(f"No rows for a bench sheet: they need what the coil ran on; say {missing}.", file=sys.stderr)
    elif options.rows is not None:
        with options.rows.open("x", encoding="utf-8", newline="") as file:
            file.write(sheet)
        print(f"The rows for a bench sheet are in {options.rows}; append them to your own.", file=sys.stderr)
    else:
        print("Rows for a bench sheet (append them to your own; --rows NEW.csv writes them to a new file):")
        print(sheet.replace("\r\n", "\n"))


def known_of(options: argparse.Namespace) -> Known:
    """Return what the person says beforehand in `options`. Raises ValueError for a number out of range."""
    for name, value, unit, low, high in (("--supply-volts", options.supply_volts, "V", 0.5, 500.0),
                                         ("--loop-ohms", options.loop_ohms, "ohm", 0.01, 100.0),
                                         ("--speed", options.speed, "rpm", 10.0, 5000.0),
                                         ("--pole-pairs", options.pole_pairs, "", 1, 32),
                                         ("--drive", options.drive, "%", 1.0, 500.0)):
        if value is not None and not low <= value <= high:
            raise ValueError(f"{name}: {value:g} {unit or 'pairs'} is outside {low:g} to {high:g} {unit or 'pairs'}.")
    if options.supply_volts is not None and options.loop_ohms is not None:
        raise ValueError("--supply-volts and --loop-ohms: give one of the two; the other is then found.")
    return Known(options.supply, options.supply_volts, options.loop_ohms, options.speed, options.pole_pairs, options.zeroed,
                 options.drive)


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="course.py bench --capture", description="Read a scope capture of a coil at work. A "
                                  "COLUMN is its title or its number from 1; a scale stands behind a colon.")
    top.add_argument("file", metavar="FILE.csv", type=Path, help="the capture, or a recording of its sound (WAV); it is "
                                                                 "only read, never written "
                                                                   "to")
    top.add_argument("--time", metavar="COLUMN[:UNIT]", default="", help="the time, as in 1:ms")
    top.add_argument("--current", metavar="COLUMN[:SCALE]", default="", help="the primary current, as in ch1:10A/V or 2:0.1ohm")
    top.add_argument("--contact", metavar="COLUMN[:SCALE]", default="", help="the contact voltage, as in ch2:x100")
    top.add_argument("--secondary", metavar="COLUMN[:SCALE]", default="", help="the secondary voltage, as in ch3:x1000")
    top.add_argument("--supply", choices=("battery", "magneto"), default="", help="what drives the coil (else it is found out)")
    top.add_argument("--supply-volts", type=float, metavar="V", help="of the battery, or the peak of the magneto's EMF")
    top.add_argument("--loop-ohms", type=float, metavar="OHM", help="source, leads, primary and closed contacts, measured "
                                                                    "together")
    top.add_argument("--speed", type=float, metavar="RPM", help="crank speed (else it is found from the pulses)")
    top.add_argument("--pole-pairs", type=int, metavar="N", default=8, help="of the magneto (8 unless you say otherwise)")
    top.add_argument("--drive", type=float, metavar="PERCENT", help="strength of the magneto, for the rows")
    top.add_argument("--zeroed", action="store_true", help="the current channel shows zero where no current flows")
    top.add_argument("--coil", metavar="NAME", default="coil 1", help="the coil's name, for the rows")
    top.add_argument("--date", metavar="DAY", default="", help="when it was taken, for the rows")
    top.add_argument("--rows", metavar="NEW.csv", type=Path, help="write the rows for a bench sheet to this new file")
    top.add_argument("--picture", metavar="NEW.png", type=Path, help="draw the trace over the model into this new file (png, "
                                                                     "svg, pdf or html)")
    return top


if __name__ == "__main__":
    sys.exit(main())
