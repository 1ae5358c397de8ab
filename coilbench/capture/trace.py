"""Read a capture: a CSV with time and one to three channels, as any recorder writes it, damaged or whole.

The file is opened for reading only. What a column is comes from the person's options, else from the header's words, else from
the columns' order; what was guessed is said in `Trace.guesses`, and what could not be used in `Trace.messages`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from coilbench.capture.heading import Heading, apart, plain_unit, read_heading
from coilbench.sheet import decode, whole_file
from coilbench.units import UNITS, NotAQuantity, number, scale, shown, tidy

MAX_BYTES = 1_000_000_000
MAX_COLUMNS = 64
PREAMBLE = 400  # rows that a recorder may put above its numbers
FEWEST = 64  # samples; fewer show no rise
SPOKEN = 12  # bad rows named one by one; beyond that they are counted
LARGEST = 1e9  # in SI; what is larger is no reading of a coil
BLOCK = 4096  # rows read at once where some rows are bad

ROLES = ("current", "contact", "secondary")
NAMES = {"current": "primary current", "contact": "contact voltage", "secondary": "secondary voltage"}
MEASURE = {"current": "current", "contact": "voltage", "secondary": "voltage"}
TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}

_TIME_WORDS = re.compile(r"^(time|t|sec|secs|seconds?|zeit|temps|tempo|tiempo|x|x-axis|timestamp)$")
_CHANNEL = re.compile(r"(?i)(channel|chan|ch|input|trace|kanal|canal|voie)[\s_.]*[a-z0-9]")
_INDEX = re.compile(r"(index|idx|sample|samples|sequence|seq|point|points|n|no|nr|row|record|x)\W*( *(number|no|nr|count))?\W*")
_ROLE_WORDS = (
    ("secondary", re.compile(r"secondary|sec\b|spark|high tension|\bht\b|\bkv\b|hv")),
    ("contact", re.compile(r"contact|points?\b|condenser|primary volt|\bvc\b|\bv\b")),
    ("current", re.compile(r"current|amps?\b|amperes?|shunt|clamp|\bi\b|\bi1\b|\bip\b|primary")),
)


@dataclass(frozen=True)
class Asked:
    """What the person says of the file: for the time and each role "COLUMN" or "COLUMN:SCALE"; empty where they say nothing."""

    time: str = ""
    current: str = ""
    contact: str = ""
    secondary: str = ""


@dataclass
class Trace:
    """What was read. `time` ascends strictly (s); `values` holds each role's samples in SI (nan where missing or clipped)."""

    time: np.ndarray
    values: dict[str, np.ndarray]
    clipped: dict[str, np.ndarray] = field(default_factory=dict)
    guesses: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)
    rows: int = 0
    unit_known: bool = True
    scaled: dict[str, bool] = field(default_factory=dict)  # whether anybody said what a role's numbers are in
    reset: bool = False


def read_trace(path: Path, asked: Asked | None = None) -> Trace:
    """Read the capture at `path` as `asked`. Raises ValueError in one sentence where nothing in it can be used."""
    return parse(whole_file(path, MAX_BYTES, "save a shorter part of the recording"), asked)


def parse(data: bytes, asked: Asked | None = None) -> Trace:
    """Return the trace in the bytes of a CSV file, read as `asked`. Raises ValueError in one sentence."""
    if data[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        raise ValueError("This is a spreadsheet's own file; save it as CSV and give that one.")
    text, _ = decode(data)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not text.strip():
        raise ValueError("The file is empty.")
    trace = Trace(np.empty(0), {})
    lines, words = apart(lines)
    lines = _one_column(lines, words)
    layout = _layout(lines, trace, words)
    table, rows = _table(lines, layout, trace)
    return _assemble(table, rows, layout, asked or Asked(), trace)


def _one_column(lines: list[str], words: list[str]) -> list[str]:
    """Return `lines` with a count of samples before each number where they hold one column and the heading tells the step."""
    body = [line for line in lines[len(lines) // 2:] if line.strip()][:40]
    if not body or not all(_is_number(line.strip()) and not re.search(r"[;\t|]", line) for line in body):
        return lines
    if len({line.count(",") for line in body}) > 1 or body[0].count(",") > 1:
        return lines
    first = next((place for place, line in enumerate(lines) if all(
        _is_number(near.strip()) for near in lines[place:place + 8] if near.strip()) and line.strip()), 0)
    if read_heading([*words, *lines[:first]], first + len(words), ",").step is None:
        return lines
    head = lines[:first]
    if first and not re.search("[,;:=]", lines[first - 1]):
        head[-1] = f"sample;{head[-1].strip()}"
    return [*head, *(f"{place};{line.strip()}" if line.strip() else "" for place, line in enumerate(lines[first:]))]


# ------------------------------------------------------------------------------------------------- the file's form
@dataclass
class _Layout:
    """How the file is written: what parts its cells, its decimal sign, where the numbers begin, and the titles above them."""

    delimiter: str
    comma: bool  # a decimal comma
    paired: bool  # decimal commas that commas part: "0,001,1,5"
    first: int  # place of the first row of numbers
    titles: list[str]
    units: list[str]
    columns: int
    title_row: int = 0
    heading: Heading = field(default_factory=Heading)

    def title(self, column: int) -> str:
        """Return how a column is called in a sentence."""
        name = self.titles[column] if column < len(self.titles) else ""
        plain = shown(name).strip("'\" ")  # the sentence puts its own marks around it
        return plain or str(column + 1)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        try:
            number(text.strip('" '))
        except NotAQuantity:
            return tidy(text) in ("∞", "-∞", "+∞")
    return True


def _cells(line: str, delimiter: str) -> list[str]:
    if delimiter == " ":
        return line.split()
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            return line.split(delimiter)
    return line.split(delimiter)


def _layout(lines: Sequence[str], trace: Trace, words: Sequence[str] = ()) -> _Layout:
    """Find out how the file is written from some rows of its beginning and its middle. words : that stood beside the numbers"""
    middle = len(lines) // 2
    sample = [line for line in [*lines[:PREAMBLE], *lines[middle:middle + 40]] if line.strip()][:PREAMBLE + 40]
    best, found = 0.0, ","
    for sign in (";", "\t", ",", "|", " "):
        counts: dict[int, int] = {}
        for line in sample:
            cells = [cell for cell in _cells(line[:4000], sign) if cell.strip()]
            if 2 <= len(cells) <= MAX_COLUMNS and sum(map(_is_number, cells)) >= 2:
                counts[len(cells)] = counts.get(len(cells), 0) + 1
        if counts:
            width = max(counts, key=lambda key: counts[key])
            score = counts[width] + 0.01 * sum(counts.values())
            if score > best:
                best, found = score, sign
    if best == 0.0:
        raise ValueError("No row of this file holds two numbers; a capture is a text file (CSV) with the time in one column and "
                         "one to three channels beside it.")
    first = _first_row(lines, found)
    body = [line for line in lines[first:first + 400] if line.strip()]
    widths = [len(_cells(line, found)) for line in body]
    columns = min(MAX_COLUMNS, max(set(widths), key=widths.count))
    cells = [cell for line in body[:200] for cell in _cells(line, found)]
    comma = found != "," and any("," in cell for cell in cells) and not any("." in cell for cell in cells)
    quoted = found == "," and any('"' in line for line in body) and any("," in cell for cell in cells)
    paired = (found == "," and not quoted and columns in (4, 6, 8) and not any("." in cell for cell in cells)
              and all(re.fullmatch(r"\s*-?\d*(?:[eE][-+]?\d+)?\s*", cell) for cell in cells)
              and any(re.fullmatch(r"0\d+", cell.strip()) for line in body for cell in _cells(line, found)[1::2]))
    if paired:
        trace.guesses.append("Commas part the cells and are the decimal sign too: each pair of cells is taken as one number.")
        columns //= 2
    heading = read_heading(lines, first, found)
    titles, units, row = _titles(lines, first, found, columns, heading)
    if words:
        heading = read_heading(words, len(words), found)
    units = units or _units_of_heading(heading, columns)
    return _Layout(found, comma or quoted, paired, first, titles, units, columns, row, heading)


def _first_row(lines: Sequence[str], delimiter: str) -> int:
    """Return where the numbers begin: the first row of numbers that most of those beneath it are like.

    A heading's line may hold numbers too ("Range,0.002,0.005"), but is followed by other words or by rows of another width.
    """
    places = [place for place, line in enumerate(lines) if line.strip()]
    widths = {place: _width(lines[place], delimiter) for place in places[:PREAMBLE + 16]}
    usual: dict[int, int] = {}
    for width in widths.values():
        usual[width] = usual.get(width, 0) + 1
    numeric = {width: count for width, count in usual.items() if width}
    if not numeric:
        return next((place for place, line in enumerate(lines) if _numeric_row(line, delimiter)), 0)
    most = max(numeric, key=lambda width: numeric[width])
    order = list(widths)
    cells_of = len(_cells(lines[next(place for place in order if widths[place] == most)], delimiter))
    for at, place in enumerate(order):
        near = order[at:at + 8]
        pure = [all(_is_number(cell) for cell in _cells(lines[one], delimiter) if cell.strip()) for one in near]
        own = _cells(lines[place][:4000], delimiter)  # a row may lack a cell: it counts if its commas are all there
        alike = widths[place] == most or widths[place] > 0 and len(own) == cells_of
        if alike and sum(widths[one] == most for one in near) > 0.6 * len(near) and (pure[0] or not any(pure)):
            return place  # a word before the numbers ("Probe,1,10") stands in a heading, unless all rows have one
    return next(place for place in order if widths[place])


def _width(line: str, delimiter: str) -> int:
    """Return how many cells a row of numbers has, 0 for any other row."""
    return len([cell for cell in _cells(line[:4000], delimiter) if cell.strip()]) if _numeric_row(line, delimiter) else 0


def _units_of_heading(heading: Heading, columns: int) -> list[str]:
    """Return a unit a column from what the heading says a channel has; [] where it does not."""
    if heading.units and len(heading.units) in (columns - 1, columns):
        return [heading.time_unit] * (columns - len(heading.units)) + heading.units
    return [heading.time_unit, *[""] * (columns - 1)] if heading.time_unit else []


def _numeric_row(line: str, delimiter: str) -> bool:
    cells = [cell for cell in _cells(line[:4000], delimiter) if cell.strip()]
    return len(cells) >= 2 and sum(map(_is_number, cells)) >= max(2, len(cells) - 1)


def _titles(lines: Sequence[str], first: int, delimiter: str, columns: int, heading: Heading) -> tuple[list[str], list[str], int]:
    """Return the titles and units above row `first`, and the titles' row (0: there are none)."""
    above = [place for place in range(max(0, first - PREAMBLE), first) if lines[place].strip()]
    units: list[str] = []
    if heading.titles is not None:
        cells = [cell.strip().strip('"').strip("\ufeff ") for cell in _cells(lines[heading.titles], delimiter)]
        return cells[:columns], units, heading.titles + 1
    for place in reversed(above):
        if place in heading.rows:
            continue
        cells = [cell.strip().strip('"').strip("\ufeff ") for cell in _cells(lines[place], delimiter)]
        if len(cells) < min(2, columns):
            continue
        bare = [plain_unit(cell.strip("()[] ")) for cell in cells]
        if not units and bare and all(not cell or _unit_of(cell) for cell in bare) and any(bare) and place != above[0]:
            units = bare
            continue
        return cells[:columns], units, place + 1
    return [], units, 0


def _unit_of(text: str) -> tuple[str, float] | None:
    """Return (measure, factor) of a unit of time, current or voltage; None where it is none."""
    for measure in ("time", "current", "voltage"):
        table = {**UNITS[measure], **(TIME_UNITS if measure == "time" else {})}
        name = tidy(text)
        if name in table:
            return measure, table[name]
        if name.casefold() in {key.casefold() for key in table} and name.casefold() not in ("mv", "ma"):
            return measure, next(factor for key, factor in table.items() if key.casefold() == name.casefold())
    return {"mv": ("voltage", 1e-3), "ma": ("current", 1e-3), "uv": ("voltage", 1e-6), "ua": ("current", 1e-6)}.get(
        tidy(text).casefold())


# -------------------------------------------------------------------------------------------------------- the numbers
def _table(lines: list[str], layout: _Layout, trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    """Return the numbers, shape (rows, columns), nan where a cell is none, and the rows' places in the file."""
    body = lines[layout.first:]
    if not all(body):
        kept = [place for place, line in enumerate(body) if line.strip()]
        rows = np.array(kept, dtype=np.int64) + layout.first + 1
        body = [body[place] for place in kept]
    else:
        rows = np.arange(len(body), dtype=np.int64) + layout.first + 1
    trace.rows = len(body)
    table = np.full((len(body), layout.columns), np.nan)
    bad: list[tuple[int, str]] = []
    count = [0]
    if not layout.paired:
        whole = _fast(body, layout)
        if whole is not None and whole.shape == table.shape:
            return whole, rows
    for start in range(0, len(body), BLOCK):
        part = body[start:start + BLOCK]
        quick = None if layout.paired else _fast(part, layout)
        if quick is not None and quick.shape == (len(part), layout.columns):
            table[start:start + len(part)] = quick
            continue
        for place, line in enumerate(part):
            said = _slow(line, layout, table[start + place])
            if said:
                count[0] += 1
                if len(bad) < SPOKEN:
                    bad.append((start + place, said))
    trace.messages += [f"Row {rows[place]}{said}" for place, said in bad]
    if count[0] > len(bad):
        trace.messages.append(f"... and {count[0] - len(bad)} more rows with a cell that is no number or missing.")
    return table, rows


def _fast(body: list[str], layout: _Layout) -> np.ndarray | None:
    """Return the numbers of rows that are all good, else None."""
    if layout.comma:
        if layout.delimiter == ",":
            body = [re.sub(r'"([^",]*),?([^",]*)"', r"\1.\2", line) for line in body]
        else:
            body = [line.replace(",", ".") for line in body]
    try:
        return np.loadtxt(body, delimiter=None if layout.delimiter == " " else layout.delimiter, ndmin=2, comments=None,
                          usecols=range(layout.columns), quotechar='"')
    except (ValueError, IndexError, OverflowError, UnicodeError):
        return None


def _slow(line: str, layout: _Layout, out: np.ndarray) -> str:
    """Fill `out` with the numbers of one row; return what was wrong with it, a sentence's rest, or ""."""
    cells = _cells(line, layout.delimiter)
    if layout.paired:
        if len(cells) != 2 * layout.columns:
            return f": has {len(cells)} cells where the others have {2 * layout.columns}; the row is left out."
        cells = [f"{cells[place]}.{cells[place + 1]}" for place in range(0, len(cells), 2)]
    elif layout.delimiter == "," and len(cells) > layout.columns and any(cell.strip() for cell in cells[layout.columns:]):
        return f": has {len(cells)} cells where the others have {layout.columns}; the row is left out."
    said = ""
    for column in range(layout.columns):
        cell = cells[column].strip() if column < len(cells) else ""
        if not cell:
            said = said or f", column '{layout.title(column)}': empty; that sample is left out."
            continue
        try:
            out[column] = float(cell)
        except ValueError:
            plain = tidy(cell)
            if plain in ("∞", "+∞", "-∞"):
                out[column] = -np.inf if plain[0] == "-" else np.inf
                continue
            try:
                out[column] = number(plain)
            except NotAQuantity as error:
                said = said or f", column '{layout.title(column)}': {error}; that sample is left out."
    return said


# ---------------------------------------------------------------------------------------------- what the columns are
def _assemble(table: np.ndarray, rows: np.ndarray, layout: _Layout, asked: Asked, trace: Trace) -> Trace:
    """Give each column its meaning and scale, and put the samples in order of time."""
    chosen = {role: _asked_column(getattr(asked, role), role, layout) for role in ("time", *ROLES)}
    taken = {column for column, _ in filter(None, chosen.values())}
    if len(taken) < sum(pair is not None for pair in chosen.values()):
        raise ValueError("Two of --time, --current, --contact and --secondary name the same column.")
    try:
        time_column, factor = chosen["time"] or (_time_column(table, layout, taken, trace), "")
    except ValueError:
        if layout.heading.step is None:
            raise
        layout.titles = [*layout.titles, *[""] * (layout.columns - len(layout.titles)), "sample"]
        table = np.column_stack([table, np.arange(float(len(table)))])
        time_column, factor = layout.columns, ""
        layout.columns += 1
    taken.add(time_column)
    roles: dict[str, tuple[int, str]] = {role: pair for role in ROLES if (pair := chosen[role]) is not None}
    if not roles:
        _guess_roles(roles, taken, table, layout, trace)
    if not roles:
        raise ValueError("There is no channel beside the time; a capture needs one to three.")
    unit = _step_of_index(table[:, time_column], time_column, factor, layout, trace) or _time_unit(time_column, factor, layout,
                                                                                                   trace)
    time = table[:, time_column] * unit
    for role, (column, words) in roles.items():
        factor_of, known = _factor(role, column, words, layout, trace)
        trace.scaled[role] = known
        with np.errstate(over="ignore", invalid="ignore"):
            trace.values[role] = table[:, column] * factor_of
    _odd_values(trace, rows, {role: layout.title(column) for role, (column, _) in roles.items()})
    _in_order(time, rows, layout.title(time_column), trace)
    for role in trace.values:
        _clip(role, trace)
        if np.isfinite(trace.values[role]).sum() < FEWEST:
            if trace.clipped[role].sum() > FEWEST:
                trace.messages.append(f"The {NAMES[role]} is clipped nearly everywhere; choose a larger range and record again.")
            else:
                trace.messages.append(f"The {NAMES[role]} has hardly a number in it, so it is not used.")
    trace.values = {role: values for role, values in trace.values.items() if np.isfinite(values).sum() >= FEWEST}
    if not trace.values:
        raise ValueError(" ".join(trace.messages[-3:]) or "There is no channel that can be used.")
    return trace


def _asked_column(words: str, role: str, layout: _Layout) -> tuple[int, str] | None:
    """Return (column, words of its scale) of an option, None where the person says nothing of `role`."""
    if not words.strip():
        return None
    name, _, tail = words.partition(":")
    titles = [tidy(title).casefold() for title in layout.titles]
    for candidate, rest in ((words, ""), (name, tail)):
        plain = tidy(candidate).casefold()
        if plain in titles:
            return titles.index(plain), rest
        if plain.isdecimal() and 1 <= int(plain[:6]) <= layout.columns:
            return int(plain) - 1, rest
    there = ", ".join(f"'{shown(title)}'" for title in layout.titles if title) or "no titles"
    raise ValueError(f"--{role} '{shown(words)}': there is no such column; there are columns 1 to {layout.columns} and {there}.")


def _named(title: str) -> tuple[str, str]:
    """Return a title's words and the unit at its end, as in `current_A`, `Ch 1 (mV)`."""
    plain = tidy(title)
    if _CHANNEL.fullmatch(plain):  # "Channel A" is a name, and A no unit
        return plain.casefold().replace("_", " "), ""
    found = re.fullmatch(r"(.*?)[\s_/(\[]+([^\s_()\[\]/]+)[\s)\]]*", plain)
    if found and _unit_of(found.group(2)):
        return found.group(1).casefold().replace("_", " ").strip(), found.group(2)
    return plain.casefold().replace("_", " "), ""


def _time_column(table: np.ndarray, layout: _Layout, taken: set[int], trace: Trace) -> int:
    free = [column for column in range(layout.columns) if column not in taken]
    for column, title in enumerate(layout.titles):
        words, unit = _named(title)
        if column in free and (_TIME_WORDS.match(words) or re.match(r"time\b", words)
                               or not words and unit and (_unit_of(unit) or ("",))[0] == "time"):
            return column
    for column in free:
        values = table[:, column]
        steps = np.diff(values[np.isfinite(values)][:20000])
        if len(steps) > 8 and (np.mean(steps >= 0) > 0.9 or np.mean(steps <= 0) > 0.9) and np.any(steps != 0):
            name = layout.title(column)
            trace.guesses.append(f"Column {name} is taken as the time, because it only goes one way.")
            return column
    raise ValueError("No column goes one way as the time does; say which one it is, as in --time 1:ms.")


def _time_unit(column: int, words: str, layout: _Layout, trace: Trace) -> float:
    """Return what one of the time column's units is in seconds; where nobody says, 1, and `unit_known` is False."""
    said = words.strip()
    if not said:
        if column < len(layout.titles):
            name, said = _named(layout.titles[column])
            if not said and (unit := _unit_of(name)) and unit[0] == "time":
                said = name
        if not said and column < len(layout.units):
            said = layout.units[column]
    if said:
        factor = 1.0
        found = re.fullmatch(r"([\d.,eE+-]*)\s*(.*)", tidy(said))
        unit = _unit_of(found.group(2)) if found else None
        try:
            if found and found.group(1):
                factor = number(found.group(1))
            if unit and unit[0] == "time" and factor > 0.0:
                return unit[1] * factor
        except NotAQuantity:
            pass
        if words.strip():
            raise ValueError(f"--time: '{shown(words)}' is no unit of time; write s, ms, us or ns, as in --time 1:ms.")
    trace.unit_known = False
    return 1.0


def _step_of_index(values: np.ndarray, column: int, words: str, layout: _Layout, trace: Trace) -> float | None:
    """Return the step (s) between samples where the time column only counts them, None where it tells a time.

    Raises ValueError where it counts and nobody says the step.
    """
    title = _named(layout.titles[column]) if column < len(layout.titles) else ("", "")
    unit = layout.units[column] if column < len(layout.units) else ""
    if words.strip() or (_unit_of(title[1]) or _unit_of(title[0]) or _unit_of(unit) or ("",))[0] == "time":
        return None
    finite = values[np.isfinite(values)]
    steps = np.diff(finite[:20000])
    counts = len(steps) > 8 and float(np.median(steps)) == 1.0 and bool(np.all(finite[:20000] == np.round(finite[:20000])))
    named = bool(_INDEX.fullmatch(title[0])) if title[0] else column >= len(layout.titles) or not layout.titles[column].strip()
    if not counts or not named:
        return None
    if layout.heading.step is None:
        raise ValueError(f"Column '{layout.title(column)}' only counts the samples, and nobody says how far apart they are; say "
                         f"it as in --time {column + 1}:5us.")
    trace.guesses.append(f"The samples are counted, and the heading says that they are {1e6 * layout.heading.step:.6g} us apart.")
    return layout.heading.step


def _guess_roles(roles: dict[str, tuple[int, str]], taken: set[int], table: np.ndarray, layout: _Layout, trace: Trace) -> None:
    """Find out which column is which: by its title, by its unit, by its order."""
    free = [column for column in range(layout.columns) if column not in taken
            and np.isfinite(table[:, column]).any()]
    plain = []
    for column in free:
        words, unit = _named(layout.titles[column]) if column < len(layout.titles) else ("", "")
        unit = unit or (layout.units[column] if column < len(layout.units) else "")
        role = next((name for name, words_of in _ROLE_WORDS if name not in roles and words_of.search(words)), "")
        measure = (_unit_of(unit) or ("",))[0] if unit else ""
        if not role and measure == "current" and "current" not in roles:
            role = "current"
        if not role and tidy(unit) == "kV" and "secondary" not in roles:
            role = "secondary"
        if role and measure in ("", MEASURE[role]) or role == "current":
            roles[role] = column, ""
        else:
            plain.append(column)
    if roles and all(re.fullmatch(r"(index|sample|samples|n|no|nr|row)\W*", _named(layout.titles[column])[0])
                     for column in plain if column < len(layout.titles)):
        return
    for column in plain:
        role = next((name for name in ROLES if name not in roles), "")
        if not role:
            trace.messages.append(f"Column '{layout.title(column)}': is not read; a capture has at most three channels.")
            continue
        roles[role] = column, ""
        trace.guesses.append(f"Column '{layout.title(column)}' is taken as the {NAMES[role]}, by its place; if that is wrong, "
                             f"say --{role} with another column.")


def _factor(role: str, column: int, words: str, layout: _Layout, trace: Trace) -> tuple[float, bool]:
    """Return what a channel's numbers are multiplied by to be SI, and whether anybody said so."""
    title = layout.titles[column] if column < len(layout.titles) else ""
    unit = _named(title)[1] or (layout.units[column] if column < len(layout.units) else "")
    known = _unit_of(unit) if unit else None
    own = known[1] if known else 1.0
    if words.strip():
        factor, whole = parse_scale(words, role)
        return (factor if whole else factor * own), True
    if layout.heading.probes and column - 1 < len(layout.heading.probes) and column >= 1:
        probe = layout.heading.probes[column - 1]
        if probe != 1.0:
            trace.guesses.append(f"The heading names a probe factor of {probe:g} for column '{layout.title(column)}'. Recorders "
                                 "write it into their numbers (common practice, no source), so it is not applied again; if "
                                 f"yours does not, say --{role} {column + 1}:x{probe:g}.")
    if known and known[0] == MEASURE[role]:
        return own, True
    base = "A" if role == "current" else "V"
    if known and role == "current":
        trace.guesses.append(f"Column '{layout.title(column)}' is in {unit} and nobody says how many amperes that is: 1 V is "
                             "taken as 1 A. Say it as in --current COLUMN:10A/V, or for a shunt --current COLUMN:0.1ohm.")
    else:
        trace.guesses.append(f"Column '{layout.title(column)}' says no unit: its numbers are taken as {base}.")
    return own, False


_RATIOS = {"a/v": 1.0, "ma/mv": 1.0, "ma/v": 1e-3, "a/mv": 1e3, "v/v": 1.0, "kv/v": 1e3, "v/mv": 1e3}
_UPSIDE = {"v/a": 1.0, "mv/a": 1e-3, "mv/ma": 1.0, "ohm": 1.0, "mohm": 1e-3, "v/kv": 1e-3, "mv/v": 1e-3}


def parse_scale(words: str, role: str) -> tuple[float, bool]:
    """Return the factor in a scale such as `10A/V`, `100mV/A`, `0.1ohm`, `x1000`, `mA`, and whether it says the whole unit.

    role : one of ROLES. Raises ValueError.

    >>> parse_scale("100 mV/A", "current"), parse_scale("x1000", "secondary"), parse_scale("mA", "current")
    ((10.0, False), (1000.0, False), (0.001, True))
    """
    plain = tidy(words).lstrip("xX*× ")
    found = re.match(r"[-+]?[\d.,]*(?:[eE][-+]?\d+)?", plain)
    figure = found.group() if found else ""
    rest = plain[len(figure):].replace(" ", "")
    try:
        value = number(figure) if figure else 1.0
        if value == 0.0 or not 1e-9 <= abs(value) <= 1e9:
            raise NotAQuantity("a scale is not zero and within 1e-9 to 1e9")
        if not rest:
            return value, False
        ratio = rest.casefold()
        current = role == "current"
        if ratio in _RATIOS and (ratio.split("/")[0].endswith("a") == current):
            return value * _RATIOS[ratio], False
        if ratio in _UPSIDE and (ratio.endswith(("a", "ohm")) == current):
            return 1.0 / (value * _UPSIDE[ratio]), False
        unit = _unit_of(rest)
        if unit and unit[0] == MEASURE[role]:
            return value * unit[1], True
        scale(rest, MEASURE[role])
    except NotAQuantity as error:
        raise ValueError(f"--{role}: the scale '{shown(words)}' cannot be read ({error}); write it as in 10A/V, 0.1ohm or x1000."
                         ) from error
    raise ValueError(f"--{role}: the scale '{shown(words)}' is none of a {NAMES[role]}; write it as in 10A/V, 0.1ohm or x1000.")


# ------------------------------------------------------------------------------------------------ damaged samples
def _odd_values(trace: Trace, rows: np.ndarray, titles: dict[str, str]) -> None:
    """Set infinite samples apart as clipped, and leave out what is too large to be a reading."""
    for role, values in trace.values.items():
        infinite = np.isinf(values)
        trace.clipped[role] = infinite
        with np.errstate(invalid="ignore"):
            odd = ~infinite & (np.abs(values) > LARGEST)
        if odd.any():
            first = int(np.flatnonzero(odd)[0])
            more = f" and {odd.sum() - 1} more samples are" if odd.sum() > 1 else " is"
            trace.messages.append(f"Row {rows[first]}, column '{titles[role]}': {values[first]:.3g} is too large for a "
                                  f"{NAMES[role]}; that sample{more} left out.")
        trace.values[role] = np.where(odd | infinite, np.nan, values)


def _in_order(time: np.ndarray, rows: np.ndarray, title: str, trace: Trace) -> None:
    """Keep the samples whose time goes on, spread out stamps that repeat because they were rounded, and say what was wrong."""
    with np.errstate(invalid="ignore"):
        good = np.isfinite(time) & (np.abs(time) < LARGEST)
    if not good.all():
        first = int(np.flatnonzero(~good)[0])
        trace.messages.append(f"Row {rows[first]}, column '{title}': no usable time; {_samples(int((~good).sum()))} left out.")
    kept = np.flatnonzero(good)
    if len(kept) < FEWEST:
        raise ValueError(_too_few(len(kept)))
    stamps = time[kept]
    steps = np.diff(stamps)
    if np.mean(steps < 0) > 0.5:
        kept, stamps = kept[::-1], stamps[::-1]
        steps = np.diff(stamps)
        trace.guesses.append("The times run backward, so the rows are read from the last to the first.")
    ahead = np.maximum.accumulate(stamps)
    usual = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    lone = np.zeros(len(stamps), dtype=bool)
    if usual > 0.0:  # one stamp far ahead of all that follow would otherwise cost every row behind it
        later = np.minimum.accumulate(stamps[::-1])[::-1]
        lone[:-1] = (stamps[:-1] > later[1:]) & (np.diff(stamps, prepend=stamps[0] - usual)[:-1] > 2.5 * usual)
        if lone.any() and lone.sum() < 0.2 * len(stamps):
            ahead = np.maximum.accumulate(np.where(lone, -np.inf, stamps))
        else:
            lone[:] = False
    back = lone | (stamps < ahead)
    if back.any():
        first = int(np.flatnonzero(back)[0])
        trace.messages.append(f"Row {rows[kept[first]]}, column '{title}': the time jumps out of order; "
                              f"{_samples(int(back.sum()))} left out.")
        kept, stamps = kept[~back], stamps[~back]
    if len(stamps) < FEWEST:
        raise ValueError(_too_few(len(stamps)))
    same = np.diff(stamps) <= 0
    if same.any():
        starts = np.flatnonzero(np.concatenate(([True], ~same)))
        lengths = np.diff(np.concatenate((starts, [len(stamps)])))
        first = int(starts[lengths > 1][0])
        if same.mean() > 0.1 and len(starts) >= 8:  # stamps written with too few digits
            ends = np.concatenate((stamps[starts[1:]], [2 * stamps[starts[-1]] - stamps[starts[-2]]]))
            inside = np.arange(len(stamps)) - np.repeat(starts, lengths)
            stamps = np.repeat(stamps[starts], lengths) + np.repeat((ends - stamps[starts]) / lengths, lengths) * inside
            trace.guesses.append(f"From row {rows[kept[first]]} on times repeat, as if written with too few digits; they are "
                                 "spread out evenly.")
            good_ones = np.concatenate(([True], np.diff(stamps) > 0))
            kept, stamps = kept[good_ones], stamps[good_ones]
        else:
            trace.messages.append(f"Row {rows[kept[first + 1]]}, column '{title}': the time stands still; "
                                  f"{_samples(int(same.sum()))} left out.")
            again = np.concatenate(([False], same))
            kept, stamps = kept[~again], stamps[~again]
    if len(stamps) < FEWEST:
        raise ValueError(_too_few(len(stamps)))
    trace.time = stamps - stamps[0]
    trace.values = {role: values[kept] for role, values in trace.values.items()}
    trace.clipped = {role: mask[kept] for role, mask in trace.clipped.items()}


def _samples(count: int) -> str:
    return "that sample is" if count == 1 else f"{count} samples are"


def _too_few(count: int) -> str:
    return f"Only {count} samples can be used, and a rise of the current needs {FEWEST} at least; record longer or finer."


def _clip(role: str, trace: Trace) -> None:
    """Set samples apart that stand at the end of the recorder's range: the last value comes far oftener than its neighbours."""
    values = trace.values[role]
    finite = values[np.isfinite(values)]
    mask = trace.clipped[role]
    if len(finite) < FEWEST or np.ptp(finite) == 0.0:
        return
    span = float(np.ptp(finite))
    for limit, sign in ((float(finite.max()), 1.0), (float(finite.min()), -1.0)):
        near = finite[(limit - finite) * sign < 0.06 * span]
        levels, counts = np.unique(near, return_counts=True)
        order = np.argsort(-sign * levels)
        counts = counts[order]
        others = counts[1:5]
        if counts[0] >= 8 and counts[0] > 4 * (others.max() if len(others) else 0) + 4 and len(np.unique(finite[:5000])) > 3:
            at = values == limit
            runs = at[1:] & at[:-1]
            if runs.sum() >= 4:
                mask |= at
    share = float(mask.mean())
    if mask.any():
        trace.messages.append(f"The {NAMES[role]} is clipped in {100 * share:.2g} % of its samples (the recorder's range was too "
                              "small); these samples are not used.")
        trace.values[role] = np.where(mask, np.nan, values)


