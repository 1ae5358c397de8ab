"""Sheets as people really make them, by the thousand: the good rows come out right, every other gets its sentence.

    FUZZED_SHEETS=10000 python -m pytest tests/lessons/test_bench_fuzz.py

tries ten thousand; CI tries some hundreds.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
import stat
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coilbench.kinds import BY_KEY
from coilbench.sheet import COLUMNS, parse, read_sheet
from coilbench.units import UNITS

SHEETS = int(os.environ.get("FUZZED_SHEETS", "300"))
FUZZ = settings(max_examples=SHEETS, deadline=None, derandomize=SHEETS <= 300,
                suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
SENTENCE = re.compile(r"Row (\d+)(, column '[^']*')?: .+\.", re.DOTALL)
NAMES = [column.name for column in COLUMNS]
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252")

# Each kind of reading with values that are good for it, in its usual unit, and the conditions that it needs.
MAGNETO = {"speed_rpm": "450", "drive_percent": "90"}
VALUES: dict[str, tuple[float, float, dict[str, str]]] = {
    "capacity": (0.05, 9.0, {}), "opening_current": (0.5, 9.0, MAGNETO), "sparks": (0.0, 5.0, MAGNETO), "travel": (0.05, 0.9, {}),
    "self_discharge": (0.0, 90.0, {"start_V": "100", "after_s": "5"}), "primary_resistance": (0.1, 9.0, {}),
    "meter_rms": (0.1, 9.0, {"supply": "transformer", "supply_V": "9", "supply_Hz": "50"}), "parting_force": (0.5, 9.0, {}),
    "meter_mean": (0.1, 9.0, {"supply": "battery", "supply_V": "6.5"}), "contact_resistance": (0.0, 2.0, {}),
}


@dataclass
class Row:
    """A row to be written, what it should come out as, and what was done to it."""

    cells: dict[str, str]
    kind: str
    value: float  # SI
    day: date | None
    harm: str = ""
    raw: str | None = None  # the line itself, where no writer would write it so
    undated: bool = False  # its date cannot be read, which costs it the date alone
    more: list[str] = field(default_factory=list)  # cells behind the last column


def bad_cell(draw: st.DrawFn, row: Row) -> None:
    """Put something into one cell that makes the row useless."""
    column, texts = draw(st.sampled_from([
        ("value", ["abc", "1.2.3", "5,1,2", "#REF!", "about 5", "--1", "1e999", "nan", "٣x", "5 furlong", "-7", "9e8", "0x10",
                   "=1+1", "5 5", "V"]),
        ("coil", [""]), ("reading", ["", "oppening curent", "volts", "12", "=SUM(A1)"]), ("unit", ["furlong", "%%", "kg"])]))
    row.cells[column] = draw(st.sampled_from(texts))
    row.harm = "value" if column == "unit" else column  # a strange unit may be noticed where it meets the value


def bad_condition(draw: st.DrawFn, row: Row) -> None:
    """Take or spoil what the reading needs."""
    needed = [name for name in ("speed_rpm", "drive_percent", "supply", "supply_V", "supply_Hz", "start_V", "after_s")
              if row.cells.get(name)]
    if not needed:
        bad_cell(draw, row)
        return
    column = draw(st.sampled_from(needed))
    texts = {"drive_percent": ["full", "9000", "-4"], "supply": ["mains", "12", "dynamo"]}.get(
        column, ["", "fast", "-450", "1e9", "450 mm", "soon"])
    row.cells[column] = draw(st.sampled_from(texts))
    row.harm = column


def never_closed(draw: st.DrawFn, row: Row) -> None:
    row.raw, row.harm = 'Alder{d}capacity{d}"0.4', "line"


def too_many(draw: st.DrawFn, row: Row) -> None:
    row.more, row.harm = ["7"], "line"


def too_long(draw: st.DrawFn, row: Row) -> None:
    row.cells["remark"], row.harm = "x" * 140_000, "line"


def no_date(draw: st.DrawFn, row: Row) -> None:
    row.cells["date"] = draw(st.sampled_from(["soon", "2031-02-30", "31.31.2031", "2031", "45000"]))
    row.undated, row.day = True, None


HARMS = (bad_cell, bad_cell, bad_condition, never_closed, too_many, no_date)
DAYS = {"iso": "%Y-%m-%d", "dots": "%d.%m.%Y", "strokes": "%Y/%m/%d", "with a time": "%Y-%m-%d 00:00:00"}


@dataclass
class Written:
    """A sheet as bytes, its rows, and in which line of a spreadsheet each stands."""

    data: bytes
    rows: list[tuple[int, Row]]


@st.composite
def sheets(draw: st.DrawFn) -> Written:
    """Some coils' readings, some rows spoilt, in the handwriting of some spreadsheet."""
    delimiter = draw(st.sampled_from(",;\t"))
    comma = draw(st.booleans())
    days = DAYS[draw(st.sampled_from(sorted(DAYS)))]
    rows = []
    for number in range(draw(st.integers(0, 9))):
        kind = BY_KEY[draw(st.sampled_from(sorted(VALUES)))]
        low, high, conditions = VALUES[kind.key]
        value = round(draw(st.floats(low, high)), 3)
        day = draw(st.none() | st.integers(0, 900).map(lambda days: date(2030, 1, 1) + timedelta(days)))
        text = f"{value:.3f}"
        cells = {"coil": draw(st.sampled_from(["Alder", "Birch", "Cédar", " Damson "])), "reading": kind.name, "value": text,
                 "remark": f"row {number}", "date": day.strftime(days) if day else "", **conditions}
        where = draw(st.sampled_from(["nowhere", "cell", "column"])) if kind.unit else "nowhere"
        cells["value"] += f" {kind.unit}" if where == "cell" else ""
        cells["unit"] = kind.unit if where == "column" else ""
        if comma:
            cells |= {name: cells[name].replace(".", ",") for name in ("value", "supply_V") if name in cells}
        row = Row(cells, kind.key, value * UNITS[kind.measure][kind.unit], day)
        if draw(st.integers(0, 3)) == 0:
            draw(st.sampled_from(HARMS))(draw, row)
        elif draw(st.integers(0, 120)) == 0:
            too_long(draw, row)
        rows.append(row)

    order = draw(st.permutations(NAMES))
    extra = draw(st.sampled_from(["", "colour", "my notes"]))
    spelt: list[Callable[[str], str]] = [str, str.upper, str.title]
    header = [draw(st.sampled_from(spelt))(name) for name in order] + ([extra] if extra else [])
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    lines, placed, number = [], [], 0
    if draw(st.booleans()):
        lines.append("Our coils")
        number += 1
    lines.append(delimiter.join(header))
    number += 1
    for row in rows:
        if draw(st.integers(0, 5)) == 0:
            lines.append(draw(st.sampled_from(["", delimiter * 3])))
            number += 1
        out = io.StringIO()
        written = [row.cells.get(name, "") for name in order] + (["blue"] if extra else [])
        csv.writer(out, delimiter=delimiter, lineterminator="").writerow(written + row.more)
        lines.append(out.getvalue() if row.raw is None else row.raw.replace("{d}", delimiter))
        number += 1
        placed.append((number, row))
    if comma and not tells_its_comma(rows):  # 4,812 may be four thousand
        for row in rows:
            if row.harm not in ("line", "coil", "reading") and re.match(r"[1-9]\d*,\d{3}(?!\d)", row.cells["value"]):
                row.harm = "value"
    encoding = draw(st.sampled_from(ENCODINGS))
    hint = f"sep={delimiter}{end}" if draw(st.integers(0, 4)) == 0 else ""
    return Written((hint + end.join(lines) + end).encode(encoding, errors="replace"), placed)


def tells_its_comma(rows: list[Row]) -> bool:
    """Return whether a sheet of values with three decimals has a number that can only have a decimal comma."""
    cells = [row.cells.get(name, "") for row in rows if row.harm != "line" for name in ("value", "supply_V")]
    return any(re.match(r"0,\d|\d+,\d(?!\d)", cell) for cell in cells)


@settings(FUZZ, max_examples=max(100, SHEETS))
@given(year=st.integers(1969, 2068), month=st.integers(1, 12), day=st.integers(13, 28), two=st.booleans(),
       stroke=st.sampled_from("./-"))
def test_years_of_two_digits_never_leap_a_century(year: int, month: int, day: int, two: bool, stroke: str) -> None:
    text = stroke.join([f"{day:02}", f"{month:02}", f"{year % 100:02}" if two else str(year)])
    sheet = parse(f"coil,date,reading,value\nAlder,{text},capacity,0.45\n".encode())
    assert [row.day for row in sheet.coils["Alder"]] == [date(year, month, day)]


@settings(FUZZ, max_examples=max(100, SHEETS))
@given(whole=st.integers(1, 9_999_999), mark=st.sampled_from(",."), plain=st.sampled_from(["0,45", "0.45", "7"]),
       delimiter=st.sampled_from(",;\t"))
def test_thousands_come_out_right_or_are_refused(whole: int, mark: str, plain: str, delimiter: str) -> None:
    """A value is never off by a thousand in silence: what it comes to is what the rest of the sheet's numbers say."""
    text = f"{whole:,}".replace(",", mark)
    lines = ["coil,reading,value,unit", f'Alder,follow travel,"{text}",um', f'Birch,capacity,"{plain}",uF']
    cells = [next(csv.reader([line])) for line in lines]
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows(cells)
    sheet = parse(out.getvalue().encode())
    sign = other = {"0,45": ",", "0.45": "."}.get(plain, "")
    groups = text.split(mark)
    if len(groups) > 2 and other == mark:  # set off twice by what is the decimal sign elsewhere: it is thousands all the same
        sign = ""
    values = [row.value for row in sheet.coils.get("Alder", [])]
    as_thousands, as_decimal = 1e-6 * whole, 1e-6 * float(f"{groups[0]}.{groups[1]}") if len(groups) == 2 else -1.0
    if len(groups) == 2 and sign == mark or len(groups) == 2 and not sign and mark == ".":
        expected = as_decimal
    elif len(groups) == 2 and not sign:
        assert not values
        assert f"'{text}' may be {whole} or {groups[0]}.{groups[1]}; write one of these" in sheet.messages[0]
        return
    else:
        expected = as_thousands
    if BY_KEY["travel"].low <= expected <= BY_KEY["travel"].high:
        assert values == [pytest.approx(expected, rel=1e-9)]
    else:
        assert not values
        assert "follow travel is outside" in sheet.messages[0]


@FUZZ
@given(sheets())
def test_good_rows_come_out_right_and_every_other_gets_its_sentence(sheet: Written) -> None:
    found = parse(sheet.data)
    taken = {row.row: row for rows in found.coils.values() for row in rows}
    said: dict[int, list[str]] = {}
    for line in found.messages:
        match = SENTENCE.fullmatch(line)
        assert match, line
        said.setdefault(int(match[1]), []).append(line)
    header = {number for number in said if number <= 2 and number not in dict(sheet.rows)}
    for number, row in sheet.rows:
        if row.harm:
            assert number not in taken, (row, taken.get(number))
            (line,) = said.pop(number)
            columns = {"line": "", "value": "value|unit"}.get(row.harm, row.harm)
            assert re.match(rf"Row {number}, column '({columns})': " if columns else f"Row {number}: ", line), line
            continue
        out = taken.pop(number)
        assert (out.kind, out.coil, out.remark) == (row.kind, " ".join(row.cells["coil"].split()), row.cells["remark"])
        assert out.value == pytest.approx(row.value, rel=1e-9, abs=1e-15)
        assert out.day == row.day
        if row.undated:
            (line,) = said.pop(number)
            assert "column 'date'" in line
    assert not taken
    assert set(said) <= header  # at most the header's own: a column that is none of the sheet's


@settings(FUZZ, max_examples=max(50, SHEETS // 5))
@given(sheet=sheets(), at=st.integers(0, 10_000), harm=st.sampled_from(
    ["no value", "no coil", "two values", "wrong sign", "cut", "half", "noise", "doubled"]))
def test_a_spoilt_file_gets_a_sentence_and_nothing_is_written_to_it(sheet: Written, at: int, harm: str, tmp_path: Path) -> None:
    data = sheet.data
    if harm in ("no value", "no coil"):
        column = harm.split()[1].encode()
        data = re.sub(column, b"thing", data, count=1, flags=re.IGNORECASE)
    elif harm == "two values":
        data = re.sub(b"remark", b"value", data, count=1, flags=re.IGNORECASE)
    elif harm == "wrong sign":
        data = re.sub(b"[,;\t]", b"|", data)
    elif harm == "cut":
        data = data[:at % (len(data) + 1)]
    elif harm == "half":
        data = data[1::2]
    elif harm == "noise":
        place = at % (len(data) + 1)
        data = data[:place] + bytes((at * number) % 256 for number in range(40)) + data[place:]
    else:
        data = data + data
    path = tmp_path / "sheet.csv"
    path.unlink(missing_ok=True)
    path.write_bytes(data)
    path.chmod(stat.S_IRUSR)
    before = hashlib.sha256(data).hexdigest(), path.stat().st_mtime_ns
    found = read_sheet(path)
    assert (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns) == before
    assert [one.name for one in tmp_path.iterdir()] == ["sheet.csv"]
    for line in found.messages:
        assert line.endswith(".")
        assert len(line) < 600
    for rows in found.coils.values():
        for row in rows:
            assert BY_KEY[row.kind].low <= row.value <= BY_KEY[row.kind].high
    if not data.strip(b"\x00\xff\xfe\xef\xbb\xbf \r\n\t") or harm == "wrong sign" and found.good == 0:
        assert found.messages


def test_the_sheet_is_opened_for_reading_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "mine.csv"
    path.write_text("coil,reading,value\nAlder,capacity,0.45\n")
    modes = []
    real = Path.open

    def watched(self: Path, mode: str = "r", *rest: Any, **more: Any) -> object:
        if self == path:  # what other threads of a long run of tests open meanwhile is none of its business
            modes.append(mode)
        return real(self, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", watched)
    assert read_sheet(path).good == 1
    assert modes == ["rb"]
