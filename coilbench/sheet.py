"""The bench sheet: the CSV in which a person keeps a coil's readings, one row a reading.

Standard library only. `read_sheet(path)` takes what any spreadsheet writes (commas, semicolons or tabs; decimal points or commas;
UTF-8, UTF-16 or Windows-1252; a byte-order mark or none), returns the good rows and one sentence for each row it had to
leave out, and never opens the file for writing. What a column is stands here once, in COLUMNS; what a reading is, in kinds.KINDS.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from coilbench.kinds import KINDS, Kind
from coilbench.units import UNITS, NotAQuantity, decimal_sign, quantity, scale, shown, tidy

MAX_BYTES = 50_000_000
MAX_ROWS = 200_000
MAX_RECORD_LINES = 50  # a quoted cell may run over lines; one that runs longer is a quotation mark that was never closed
HEADER_WITHIN = 20  # rows in which the header is looked for, so that a title above it does no harm


# ---------------------------------------------------------------------------------------- what may stand in a sheet
@dataclass(frozen=True)
class Column:
    """A column: its title in the template, other titles it goes by, and, where it holds a quantity, its unit and range (SI)."""

    name: str
    also: tuple[str, ...]
    meaning: str
    measure: str = ""
    unit: str = ""
    low: float = 0.0
    high: float = 0.0


COLUMNS: tuple[Column, ...] = (
    Column("coil", ("coil name", "name"), "the coil's name; rows of one name are one coil"),
    Column("date", ("day", "taken on"), "when the reading was taken, best as 2031-05-08; may be empty"),
    Column("reading", ("quantity", "what", "measurement"), "which reading, in the words of the table of readings"),
    Column("value", ("result", "measured"), "the number; its unit may stand behind it"),
    Column("unit", ("units",), "the unit of the value; empty: the unit of the table of readings"),
    Column("supply", ("source",), "magneto, battery or transformer; empty: magneto"),
    Column("supply_V", ("supply", "supply voltage", "battery"),
           "voltage of the battery, or of the transformer without load (RMS)", "voltage", "V", 0.5, 100.0),
    Column("supply_Hz", ("frequency", "mains frequency"), "transformer: frequency of the mains", "frequency", "Hz", 10.0, 500.0),
    Column("speed_rpm", ("speed", "crank speed", "rpm"), "crank speed at which the reading was taken", "speed", "rpm", 20.0,
           5000.0),
    Column("drive_percent", ("drive",), "strength of the magneto, percent of rated; empty: 100, the magneto as it is",
           "share", "%", 0.1, 5.0),
    Column("start_V", ("start", "start volts", "start voltage"), "self-discharge: voltage at the start", "voltage", "V", 0.5,
           2000.0),
    Column("after_s", ("after", "seconds", "after seconds"), "self-discharge: seconds until the second voltage was read",
           "time", "s", 0.05, 1e5),
    Column("meter_Mohm", ("meter resistance",), "self-discharge: resistance of the voltmeter where it stays connected; "
           "empty: it was only touched on", "resistance", "Mohm", 1e4, 1e13),
    Column("aid", ("with", "in place"),
           "what the running coil was helped with: condenser (a known-good one in place of its own) or contacts (freshly "
           "dressed); empty: nothing, it is as it was found"),
    Column("make", ("coil make", "maker", "type"),
           "the coil's make, in your own words; coils of one make are judged together; empty: one unnamed make; course: an "
           "imagined coil of the course's own"),
    Column("known_good", ("known good", "reference", "known good coil"),
           "yes: this coil is known to run well, and stands for the coils of its make; no or empty: nobody knows"),
    Column("remark", ("remarks", "note", "notes", "comment"), "anything; it is kept and shown"),
)


@dataclass(frozen=True, order=True)
class Bench:
    """What a coil was run on: a magneto at `rpm` and `drive` (share of rated); with `volts`, a battery; with `hertz` too, a
    bench transformer. `aid` of AIDS is what it was helped with, "" nothing."""

    rpm: float = 0.0
    drive: float = 0.0
    volts: float = 0.0
    hertz: float = 0.0
    aid: str = ""

    def say(self, brief: bool = False) -> str:
        """Return the bench in words. brief : without the drive where it is the magneto as it is"""
        aid = f", {AIDS[self.aid]}" if self.aid else ""
        if self.hertz:
            return f"on a transformer of {self.volts:g} V, {self.hertz:g} Hz{aid}"
        if self.volts:
            return f"on a battery of {self.volts:g} V{aid}"
        drive = "" if brief and self.drive == 1.0 else f", drive {100.0 * self.drive:g} %"
        return f"at {self.rpm:g} rpm{drive}{aid}"


AIDS = {"condenser": "with a known-good condenser", "contacts": "with dressed contacts"}
"""What a coil may be helped with while it is read, and that in words: to see whether the trouble goes away with it."""


@dataclass(frozen=True)
class Taken:
    """One good row: a reading as taken, in SI units. None stands for what was not written, never for zero."""

    row: int
    coil: str
    day: date | None
    kind: str
    value: float
    bench: Bench | None = None
    start_volts: float | None = None
    after_seconds: float | None = None
    meter_ohms: float | None = None
    remark: str = ""
    drive_assumed: bool = False
    known_good: bool | None = None  # None: not said
    make: str = ""

    @property
    def place(self) -> tuple[str, Bench | None]:
        """What was read and where: two rows of one place are the same reading taken twice."""
        return self.kind, self.bench


NEW_SHEET = "--new FILE makes a sheet to fill in"
"""What the command says to who has no sheet yet."""


@dataclass(frozen=True)
class Note:
    """Something in a file that could not be used, or not as it stands.

    row : where it is, 0 for the file as a whole; text : the sentence; tail : where it is not None, what stands behind the words
    that say how to get an empty sheet, which are the command's or the page's and not the reader's
    """

    row: int
    text: str
    tail: str | None = None


@dataclass
class Sheet:
    """What was found in a file: its coils with their good rows, and one sentence for each thing that could not be used."""

    coils: dict[str, list[Taken]] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)
    rows: int = 0  # rows with anything in them, below the header
    empty_values: int = 0  # rows of readings not taken yet
    encoding: str = ""
    delimiter: str = ""
    width: int = 0  # cells of the header
    decimal: str = ""  # the decimal sign, where one of its numbers tells it

    def note(self, row: int, text: str, tail: str | None = None) -> None:
        """Keep a Note of these."""
        self.notes.append(Note(row, text, tail))

    def sentences(self, new_sheet: str = NEW_SHEET) -> list[str]:
        """Return what could not be used, a sentence each, in the rows' order. new_sheet : how to get an empty sheet, in words"""
        return [one.text if one.tail is None else one.text + new_sheet + one.tail
                for one in sorted(self.notes, key=lambda one: one.row)]

    @property
    def messages(self) -> list[str]:
        """Return `sentences` as the command says them."""
        return self.sentences()

    @property
    def good(self) -> int:
        """Return the number of rows that can be used."""
        return sum(len(rows) for rows in self.coils.values())


QUANTITIES = ("value", *(column.name for column in COLUMNS if column.measure))
"""The columns that hold numbers."""


class RowError(ValueError):
    """Why a row is left out: column and reason, the sentence's middle."""


# ------------------------------------------------------------------------------------------------------- reading it
def read_sheet(path: Path) -> Sheet:
    """Read the bench sheet at `path`. Raises ValueError in one sentence where there is nothing to read at all."""
    return parse(whole_file(path, MAX_BYTES, "a bench sheet is a text file (CSV) with one row a reading"))


def whole_file(path: Path, most: int, advice: str) -> bytes:
    """Return the bytes of a file of at most `most` of them, opened for reading only. Raises ValueError in one sentence."""
    try:
        with path.open("rb") as file:
            data = file.read(most + 1)
    except OSError as error:
        raise ValueError(f"{path}: cannot be read ({error.strerror or error}).") from error
    if len(data) > most:
        raise ValueError(f"{path}: is larger than {most // 1_000_000} MB; {advice}.")
    return data


def parse(data: bytes) -> Sheet:
    """Return the sheet in the bytes of a CSV file; what cannot be used is said in `messages`, never raised."""
    text, encoding = decode(data)
    sheet = Sheet(encoding=encoding)
    if not text.strip():
        sheet.note(0, "The file is empty; ", ".")
        return sheet
    if data[:4] in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        sheet.note(0, "This is a spreadsheet's own file; save it as CSV and give that one.")
        return sheet
    lines = re.split(r"\r\n|\r|\n", text)
    sheet.delimiter = _delimiter(lines)
    if re.fullmatch(r"(?i)sep=.", lines[0].strip("\ufeff \t") if sheet.delimiter != "\t" else lines[0].strip("\ufeff ")):
        lines[0:1] = []  # a spreadsheet's own hint; it does not count it as a row
    records = _records(lines, sheet.delimiter)
    titles = _header(records, sheet)
    if titles is None:
        return sheet
    rows = []
    for number, cells, trouble in records:
        if not any(cell.strip() for cell in cells):
            continue
        sheet.rows += 1
        if sheet.rows > MAX_ROWS:
            sheet.note(number, f"Row {number}: the sheet is longer than {MAX_ROWS} rows; this one and all below it are left "
                                  "out.")
            break
        if trouble:
            sheet.note(number, f"Row {number}: {trouble}; the row is left out.")
            continue
        try:
            rows.append((number, _by_column(cells, titles, sheet)))
        except RowError as error:
            sheet.note(number, f"Row {number}{error}; the row is left out.")
    sheet.decimal = decimal_sign(row[name] for _, row in rows for name in QUANTITIES)
    day_first = _day_first(row["date"] for _, row in rows)
    spelt: dict[str, str] = {}
    for number, row in rows:
        try:
            taken = _taken(number, row, titles, day_first, sheet)
        except RowError as error:
            sheet.note(number, f"Row {number}, {error}; the row is left out.")
            continue
        if taken is not None:
            name = spelt.setdefault(taken.coil.casefold(), taken.coil)
            sheet.coils.setdefault(name, []).append(taken)
    return sheet


def decode(data: bytes) -> tuple[str, str]:
    """Return a file's text and the name of the encoding it was found to be in.

    >>> decode("0,45 µF".encode("cp1252"))
    ('0,45 µF', 'Windows-1252')
    """
    for mark, codec, name in ((b"\xef\xbb\xbf", "utf-8", "UTF-8"), (b"\xff\xfe", "utf-16-le", "UTF-16"),
                              (b"\xfe\xff", "utf-16-be", "UTF-16")):
        if data.startswith(mark):
            return data[len(mark):].decode(codec, errors="replace"), name
    head = data[:2000]
    if head[1::2].count(0) > 0.4 * len(head) / 2:
        return data.decode("utf-16-le", errors="replace"), "UTF-16"
    if head[0::2].count(0) > 0.4 * len(head) / 2:
        return data.decode("utf-16-be", errors="replace"), "UTF-16"
    try:
        return data.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252"


def _delimiter(lines: list[str]) -> str:
    hint = re.fullmatch(r"(?i)\ufeff?sep=(.) *", lines[0])
    if hint and hint.group(1) in ",;\t":
        return hint.group(1)
    best, most = ",", 0
    for line in lines[:HEADER_WITHIN]:
        for sign in ",;\t":
            known = sum(_column(cell) is not None for cell in _split(line, sign))
            if known > most:
                best, most = sign, known
    return best


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return [line]


def _records(lines: list[str], delimiter: str) -> Iterator[tuple[int, list[str], str]]:
    """Yield (row number as a spreadsheet counts, cells, what is wrong with the row or "")."""
    number = start = 0
    while start < len(lines):
        number += 1
        for end in range(start + 1, min(start + MAX_RECORD_LINES, len(lines)) + 1):
            try:
                text = io.StringIO("\n".join(lines[start:end]), newline="")
                cells = next(csv.reader(text, delimiter=delimiter, strict=True), [])
            except csv.Error as error:
                if "unexpected end of data" in str(error):
                    continue  # a quoted cell that goes on in the next line
                if "field larger" in str(error):
                    yield number, ["?"], f"a cell is longer than {csv.field_size_limit()} characters"
                elif end > start + 1:  # what looked like its end is the beginning of another row's quotation
                    yield number, ["?"], "a quotation mark is opened and never closed"
                else:
                    yield number, _split(lines[start], delimiter), ""
                start += 1
            else:
                yield number, cells, ""
                start = end
            break
        else:  # never closed: take the line alone, so that the rows below it are not swallowed
            yield number, ["?"], "a quotation mark is opened and never closed"
            start += 1


def _key(title: str) -> str:
    return re.sub(r"[^a-z0-9]", "", tidy(title).casefold())


_TITLES: dict[str, Column] = {}
for _c in COLUMNS:
    _TITLES.setdefault(_key(_c.name), _c)
    for _title in _c.also:
        _TITLES.setdefault(_key(_title), _c)
        if _c.unit:
            _TITLES.setdefault(_key(f"{_title} {_c.unit}"), _c)


def _column(title: str) -> tuple[Column, str] | None:
    """Return the column that a title means and the unit its bare numbers are in; None for a title of no column."""
    column = _TITLES.get(_key(title))
    if column is not None:
        return column, column.unit
    named = re.fullmatch(r"(.*?)[\s_(\[]+([^\s_()\[\]]+)[\s)\]]*", tidy(title))
    if named is None:
        return None
    column, unit = _TITLES.get(_key(named.group(1))), named.group(2)
    if column is not None and column.name == "value" and _key(unit) and any(_is_unit(unit, measure) for measure in UNITS):
        return column, unit
    return (column, unit) if column is not None and column.measure and _is_unit(unit, column.measure) else None


def _is_unit(text: str, measure: str) -> bool:
    try:
        scale(text, measure)
    except NotAQuantity:
        return False
    return True


def _header(records: Iterator[tuple[int, list[str], str]], sheet: Sheet) -> dict[str, tuple[int, str]] | None:
    """Return, by column name, its place and the unit of its bare numbers; None, with a message, where there is no header."""
    nearest: tuple[int, set[str]] = (1, set())
    for number, cells, _ in records:
        found: dict[str, tuple[int, str]] = {}
        notes = []
        for place, title in enumerate(cells):
            known = _column(title)
            if known is None:
                if title.strip():
                    notes.append(f"Row {number}, column '{shown(title)}': no column of the bench sheet, so it is not read.")
            elif known[0].name in found:
                notes.append(f"Row {number}, column '{shown(title)}': the column '{known[0].name}' is there twice; the first one "
                             "is read.")
            else:
                found[known[0].name] = place, known[1]
        if {"coil", "reading", "value"} <= found.keys():
            sheet.notes += [Note(number, note) for note in notes]
            sheet.width = len(cells)
            return found
        if len(found) > len(nearest[1]):
            nearest = number, set(found)
        if number >= HEADER_WITHIN:
            break
    missing = [name for name in ("coil", "reading", "value") if name not in nearest[1]]
    sheet.note(nearest[0], f"Row {nearest[0]}: the header needs the columns coil, reading and value, and has no "
               f"{' and no '.join(missing)}; nothing can be read (", ").")
    return None


def _by_column(cells: list[str], titles: dict[str, tuple[int, str]], sheet: Sheet) -> dict[str, str]:
    """Return the row's cells by column name, empty where the row is too short."""
    # In a sheet parted by commas even an empty cell too many means that a number was cut in two and all behind it has moved.
    if sheet.delimiter == "," and len(cells) > sheet.width or any(cell.strip() for cell in cells[sheet.width:]):
        raise RowError(f": has {len(cells)} cells and the header {sheet.width} (where commas part the cells, a number with a "
                       "decimal comma needs quotation marks)")
    places = {name: place for name, (place, _) in titles.items() if place < len(cells)}
    return {column.name: cells[places[column.name]].strip() if column.name in places else "" for column in COLUMNS}


# ----------------------------------------------------------------------------------------------------- one good row
_NAMES: dict[str, Kind] = {}
for _kind in KINDS:
    for _title in (_kind.name, *_kind.also):
        _NAMES.setdefault(_key(_title), _kind)


_TOO_WIDE = {"current": "current", "amps": "current", "amp": "current", "amperes": "current", "ammeter": "current",
             "meter": "current", "resistance": "resistance", "ohms": "resistance", "force": "force", "preload": "force",
             "tension": "force", "voltage": "voltage", "volts": "voltage"}
"""Words that name a measure of which the sheet has several readings: the measure."""


def _taken(number: int, cells: dict[str, str], titles: dict[str, tuple[int, str]], day_first: bool | None,
           sheet: Sheet) -> Taken | None:
    """Return the row as a reading; None where its value is still empty. Raises RowError."""
    coil = shown(cells["coil"], 60)
    if not coil:
        raise RowError("column 'coil': empty, so nobody knows whose reading this is")
    kind = _kind_of(cells["reading"])
    if kind.key != "adjusted" and cells["value"] in ("", "-", "–", "—", "?", "n/a", "N/A", "na", "NA"):
        sheet.empty_values += 1
        return None
    value = 0.0 if kind.key == "adjusted" else _value(kind, cells, titles, sheet.decimal)
    day = _day(number, cells["date"], day_first, sheet)
    bench, assumed = _bench(kind, cells, titles, sheet.decimal) if kind.running else (None, False)
    if cells["aid"] and not kind.running:
        sheet.note(number, f"Row {number}, column 'aid': '{shown(cells['aid'])}' means nothing for {kind.name}, which is not "
                           "taken on the running coil; the reading is used as of the coil as it is.")
    start = after = meter = None
    if kind.key == "self_discharge":
        start, after = (_needed(kind, name, cells, titles, sheet.decimal) for name in ("start_V", "after_s"))
        meter = _cell("meter_Mohm", cells, titles, sheet.decimal)
        if value > start:
            raise RowError(f"column 'value': {kind.say(value)} is more than the {kind.say(start)} of start_V, and a condenser "
                           "left alone cannot gain")
    return Taken(number, coil, day, kind.key, value, bench, start, after, meter, shown(cells["remark"], 300), assumed,
                 _known_good(number, cells["known_good"], sheet), shown(cells["make"], 60))


_YES, _NO = {"yes", "y", "true", "1", "x", "good", "knowngood"}, {"no", "n", "false", "0", "unknown"}


def _known_good(number: int, text: str, sheet: Sheet) -> bool | None:
    """Return whether a row marks its coil as known good. A mark that is neither yes nor no is said and costs no reading."""
    key = _key(text)
    if not key or key in _YES | _NO:
        return key in _YES if key else None
    sheet.note(number, f"Row {number}, column 'known_good': '{shown(text)}' is neither yes nor no; the reading is used, the "
                          "mark is not.")
    return None


def _kind_of(text: str) -> Kind:
    kind = _NAMES.get(_key(text))
    if kind is not None:
        return kind
    if not text:
        raise RowError("column 'reading': empty, so nobody knows what was measured")
    among = [one.name for one in KINDS if one.measure == _TOO_WIDE.get(_key(text))]
    if among:
        raise RowError(f"column 'reading': '{shown(text)}' does not say which; write {', '.join(among[:-1])} or {among[-1]}")
    near = difflib.get_close_matches(_key(text), _NAMES, 1, 0.7)
    hint = f"did you mean '{_NAMES[near[0]].name}'?" if near else f"there are {', '.join(k.name for k in KINDS)}"
    raise RowError(f"column 'reading': '{shown(text)}' is not a reading of the sheet ({hint})")


def _value(kind: Kind, cells: dict[str, str], titles: dict[str, tuple[int, str]], decimal: str) -> float:
    said = cells["unit"] or titles["value"][1]
    column = "unit" if cells["unit"] else "value"
    try:
        factor = scale(said or kind.unit, kind.measure)
        column = "value"
        value, in_cell = quantity(cells["value"], kind.measure, said or kind.unit, decimal)
    except NotAQuantity as error:
        raise RowError(f"column '{column}': {error}") from error
    if in_cell is not None and said and scale(in_cell, kind.measure) != factor:
        raise RowError(f"column 'value': the cell says '{shown(in_cell)}' and the unit column or title says '{shown(said)}'")
    if not kind.low <= value <= kind.high:
        more = ""
        if kind.key == "opening_current" and value == 0.0:
            more = " (if the contacts never parted, leave this out and write 0 sparks per pulse)"
        raise RowError(f"column 'value': {kind.say(value)} of {kind.name} is outside {kind.say(kind.low)} to "
                       f"{kind.say(kind.high)}{more}")
    return value


def _cell(name: str, cells: dict[str, str], titles: dict[str, tuple[int, str]], decimal: str) -> float | None:
    """Return a condition's value in SI, None where the cell is empty. Raises RowError."""
    if not cells[name]:
        return None
    column = next(c for c in COLUMNS if c.name == name)
    try:
        value, _ = quantity(cells[name], column.measure, titles[name][1], decimal)
    except NotAQuantity as error:
        raise RowError(f"column '{name}': {error}") from error
    if not column.low <= value <= column.high:
        one = UNITS[column.measure][column.unit]
        raise RowError(f"column '{name}': {value / one:g} {column.unit} is outside {column.low / one:g} to "
                       f"{column.high / one:g} {column.unit}")
    return value


def _needed(kind: Kind, name: str, cells: dict[str, str], titles: dict[str, tuple[int, str]], decimal: str) -> float:
    value = _cell(name, cells, titles, decimal)
    if value is None:
        raise RowError(f"column '{name}': empty, and {kind.name} means nothing without it")
    return value


def _bench(kind: Kind, cells: dict[str, str], titles: dict[str, tuple[int, str]], decimal: str) -> tuple[Bench, bool]:
    """Return what the coil ran on, and whether the drive was left to its default."""
    aid = _key(cells["aid"])
    if aid and aid not in AIDS:
        raise RowError(f"column 'aid': '{shown(cells['aid'])}' is nothing the sheet knows a coil to be helped with; write "
                       f"{' or '.join(AIDS)}, or leave it empty")
    bench, assumed = _supplied(kind, cells, titles, decimal)
    return replace(bench, aid=aid), assumed


def _supplied(kind: Kind, cells: dict[str, str], titles: dict[str, tuple[int, str]], decimal: str) -> tuple[Bench, bool]:
    supply = _key(cells["supply"])
    if supply in ("", "magneto"):
        drive = _cell("drive_percent", cells, titles, decimal)
        return Bench(_needed(kind, "speed_rpm", cells, titles, decimal), 1.0 if drive is None else drive), drive is None
    if supply == "transformer":
        volts, hertz = (_needed(kind, name, cells, titles, decimal) for name in ("supply_V", "supply_Hz"))
        return Bench(volts=volts, hertz=hertz), False
    if supply != "battery":
        raise RowError(f"column 'supply': '{shown(cells['supply'])}' is not a supply the sheet knows; write magneto, battery or "
                       "transformer")
    if kind.pulses:
        raise RowError(f"column 'supply': a battery gives no pulses to count in; write {kind.name} for a magneto or a "
                       "transformer")
    return Bench(volts=_needed(kind, "supply_V", cells, titles, decimal)), False


# ----------------------------------------------------------------------------------------------------------- dates
LAST_OF_2000 = 68
"""Years of two digits: up to this one they are of the 2000s, beyond it of the 1900s (IEEE Std 1003.1, strptime, %y; from memory).
A rule without a clock, so that a sheet reads the same on every day."""

_DATE = re.compile(r"(\d{1,4})\s*([./-])\s*(\d{1,2})\s*\2\s*(\d{1,4})(?:[T ].*)?")


def _parts(text: str) -> tuple[int, int, int, str] | None:
    found = _DATE.fullmatch(tidy(text))
    return (int(found[1]), int(found[3]), int(found[4]), found[2]) if found else None


def _day_first(texts: Iterator[str]) -> bool | None:
    """Return whether the sheet's dates with strokes put the day first; None where none of them settles it."""
    for text in texts:
        parts = _parts(text) if text else None
        if parts and parts[3] != "." and parts[0] < 100:
            if 12 < parts[0] <= 31 and parts[1] <= 12:
                return True
            if 12 < parts[1] <= 31 and parts[0] <= 12:
                return False
    return None


def _day(number: int, text: str, day_first: bool | None, sheet: Sheet) -> date | None:
    """Return the date in a cell. One that cannot be read costs the reading its date, not its place, and is said."""
    if not text:
        return None
    parts = _parts(text)
    trouble = f"'{shown(text)}' is not a date"
    if parts is not None:
        first, second, third, stroke = parts
        if first > 99:
            year, month, day = first, second, third
        else:
            if stroke == ".":
                day_first = True
            if day_first is None and first <= 12 and second <= 12 and first != second:
                trouble = f"'{shown(text)}' may put the day or the month first"
                first = second = 0
            day, month = (first, second) if day_first or day_first is None else (second, first)
            year = third + (1900 if third > LAST_OF_2000 else 2000) if third < 100 else third
        try:
            if not 1900 <= year <= 2200:
                raise ValueError("year")
            return date(year, month, day)
        except ValueError:
            pass
    sheet.note(number, f"Row {number}, column 'date': {trouble}; the reading is used without a date (2031-05-08 is plain to "
                          "all).")
    return None


# --------------------------------------------------------------------------------------------------- a coil's state
@dataclass(frozen=True)
class Reading:
    """What counts of a coil's rows for one place: the latest, or the mean of those of the latest day."""

    kind: str
    value: float
    bench: Bench | None
    rows: tuple[Taken, ...]
    older: tuple[Taken, ...]

    @property
    def last(self) -> Taken:
        """Return the last row that went into it."""
        return self.rows[-1]

    @property
    def helped(self) -> str:
        """Return what the running coil was helped with, "" where it was read as it is."""
        return self.bench.aid if self.bench else ""


def standing(rows: list[Taken]) -> list[Reading]:
    """Return the readings that hold for a coil now: the latest of each place since the last adjustment.

    rows : of one coil, in the sheet's order. A row without a date counts as of the day of the dated row above it.
    Readings of one place and day are one reading, their mean: their error is mostly shared, so it does not shrink.
    """
    latest = date.min
    dated = []
    for row in rows:
        latest = row.day or latest
        dated.append((latest, row))
    dated.sort(key=lambda pair: pair[0])  # stable: a day's rows keep the sheet's order
    since = max((place for place, (_, row) in enumerate(dated) if row.kind == "adjusted"), default=-1)
    places: dict[tuple[object, ...], list[tuple[date, Taken]]] = {}
    for day, row in dated[since + 1:]:
        # Two self-discharges differ in how long they took; the later one stands.
        places.setdefault(row.place, []).append((day, row))
    found = []
    for taken in places.values():
        newest = taken[-1][0]
        last = taken[-1][1]
        counted = tuple(row for day, row in taken if day == newest)
        if last.kind == "self_discharge":
            counted = (last,)
        found.append(Reading(last.kind, sum(row.value for row in counted) / len(counted), last.bench, counted,
                             tuple(row for _, row in taken if row not in counted)))
    order = {kind.key: place for place, kind in enumerate(KINDS)}
    return sorted(found, key=lambda reading: (order[reading.kind], reading.bench or Bench()))


# -------------------------------------------------------------------------------------------------------- the template
def template(delimiter: str = ",", coil: str = "coil 1") -> str:
    """Return an empty sheet to fill in: the header, and a row for each reading worth taking of one coil of an unknown make."""
    there = [kind for kind in KINDS if kind.remark is not None]
    rows = [{"reading": kind.name, "unit": kind.unit, "remark": kind.remark or ""} for kind in there if not kind.running]
    running = [(rpm, kind.rank, kind) for kind in there for rpm, drive in kind.benches if drive == 1.0]
    for rpm, _, kind in sorted(running, key=lambda one: one[:2]):  # one speed after another
        rows.append({"reading": kind.name, "unit": kind.unit, "speed_rpm": f"{rpm:g}", "drive_percent": "100",
                     "remark": kind.remark or ""})
    return write_rows([{"coil": coil, **row, "known_good": "no"} for row in rows], delimiter)


def write_rows(rows: list[dict[str, str]], delimiter: str = ",") -> str:
    """Return rows (by column name) as the text of a sheet."""
    out = io.StringIO()
    writer = csv.DictWriter(out, [column.name for column in COLUMNS], delimiter=delimiter, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()

