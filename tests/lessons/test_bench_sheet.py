"""The bench sheet: whatever a spreadsheet writes is read, what cannot be used is said, and nothing is guessed."""

from __future__ import annotations

import codecs
import csv
import io
import re
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from book.making import pages
from coilbench import __main__ as command
from coilbench import home
from coilbench.home import resistor
from coilbench.kinds import BY_KEY, KINDS
from coilbench.sheet import (
    COLUMNS,
    MAX_ROWS,
    Bench,
    Sheet,
    Taken,
    parse,
    read_sheet,
    standing,
    template,
    write_rows,
)
from coilbench.units import UNITS, NotAQuantity, number, quantity, scale
from coilmodel import Machine
from coilmodel.condenser import voltage_left

HEADER = ",".join(column.name for column in COLUMNS)
SENTENCE = re.compile(r"Row \d+(, column '[^']*')?: .+\.")


def sheet_of(*lines: str, header: str = "coil,reading,value,unit,speed_rpm,drive_percent,remark") -> Sheet:
    return parse("\n".join([header, *lines]).encode())


def only(sheet: Sheet) -> Taken:
    assert sheet.messages == []
    (rows,) = sheet.coils.values()
    (row,) = rows
    return row


# ------------------------------------------------------------------------------------------------ numbers and units
@pytest.mark.parametrize(("text", "value"), [
    ("0.45", 0.45), ("0,45", 0.45), (",45", 0.45), ("1.", 1.0), ("1 200", 1200.0), ("1\u00a0200,5", 1200.5), ("1.234,5", 1234.5),
    ("1,234.5", 1234.5), ("1'200.5", 1200.5), ("-3", -3.0), ("\u22123", -3.0), ("4.5e-1", 0.45), ("4,5E2", 450.0), ("１２", 12.0),
    ("12,345,678.9", 12345678.9),
])  # fmt: skip
def test_numbers_as_people_write_them(text: str, value: float) -> None:
    assert number(text) == pytest.approx(value, rel=1e-12)


def test_a_comma_before_three_digits_is_not_guessed() -> None:
    with pytest.raises(NotAQuantity, match=r"^'1,000' may be 1000 or 1\.000; write one of these$"):
        number("1,000")
    assert [number("1,000", sign) for sign in (".", ",")] == [1000.0, 1.0]
    assert [number("1.000", sign) for sign in (".", "", ",")] == [1.0, 1.0, 1000.0]
    lines = ['A,capacity,"1,000",nF,,,', 'B,follow travel,"{}",mm,,,']
    assert sheet_of(lines[0]).messages == [
        "Row 2, column 'value': '1,000' may be 1000 or 1.000; write one of these; the row is left out."]
    for other, farads in (("0.2", 1e-6), ("0,2", 1e-9)):  # the sheet's other numbers tell
        sheet = sheet_of(lines[0], lines[1].format(other))
        assert sheet.messages == []
        assert sheet.coils["A"][0].value == pytest.approx(farads)


@pytest.mark.parametrize("text", ["", "abc", "1.2.3", "1,2,3", "1,2.3.4", "--1", "1e", "nan", "inf", "1/2", "<0.1", "~3", "1e999",
                                  "12,34.5", "0x10", "1_000"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(NotAQuantity):
        number(text)


@pytest.mark.parametrize(("text", "measure", "bare", "value"), [
    ("0.45 uF", "capacity", "uF", 0.45e-6), ("0,45µF", "capacity", "uF", 0.45e-6), ("0.45 \u03bcF", "capacity", "uF", 0.45e-6),
    ("450nf", "capacity", "uF", 0.45e-6), ("0.45 MFD", "capacity", "uF", 0.45e-6), ("450", "capacity", "nF", 0.45e-6),
    ("12KV", "voltage", "kV", 12e3), ("5.1 A", "current", "A", 5.1), ("5100 mA", "current", "A", 5.1),
    ("0.2 mm", "length", "mm", 0.2e-3), ('0.008"', "length", "mm", 0.2032e-3), ("0,42 Ω", "resistance", "ohm", 0.42),
    ("10 MΩ", "resistance", "Mohm", 10e6), ("450 rpm", "speed", "rpm", 450.0), ("450 1/min", "speed", "rpm", 450.0),
    ("85 %", "share", "%", 0.85), ("2 min", "time", "s", 120.0), ("5 sec.", "time", "s", 5.0), ("2 per pulse", "count", "", 2.0),
])  # fmt: skip
def test_units_in_cells(text: str, measure: str, bare: str, value: float) -> None:
    assert quantity(text, measure, bare)[0] == pytest.approx(value, rel=1e-12)


def test_milli_and_mega_are_never_mixed_up() -> None:
    assert scale("mohm", "resistance") == 1e-3
    assert scale("Mohm", "resistance") == 1e6
    with pytest.raises(NotAQuantity, match="milli or mega"):
        scale("MOHM", "resistance")


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.key != "adjusted"], ids=lambda kind: kind.key)
def test_every_unit_of_the_tables_is_one(kind) -> None:
    assert kind.unit in UNITS[kind.measure]
    assert kind.low < kind.high


# ---------------------------------------------------------------------------------------------- any good sheet is read
DIGITS = {"capacity": (0.001, 90.0), "opening_current": (0.1, 40.0), "sparks": (0.0, 20.0), "meter_mean": (0.0, 40.0),
          "meter_rectified": (0.0, 40.0), "meter_rms": (0.0, 40.0), "travel": (0.01, 1.9), "primary_resistance": (0.02, 19.0),
          "gap": (0.6, 50.0), "self_discharge": (0.0, 50.0)}


@st.composite
def good_rows(draw: st.DrawFn) -> list[dict[str, str]]:
    """Rows of a sheet with a decimal point, every cell of which is good."""
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        key = draw(st.sampled_from(sorted(DIGITS)))
        kind = BY_KEY[key]
        low, high = DIGITS[key]
        row = {"coil": draw(st.sampled_from(["Alder", "Birch", "Ümläut 3", 'the "good" one', "a; b, c"])), "reading": kind.name,
               "value": f"{draw(st.floats(low, high)):.4f}"}
        if draw(st.booleans()):
            row["unit"] = kind.unit
        if draw(st.booleans()):
            row["date"] = f"2031-0{draw(st.integers(1, 9))}-1{draw(st.integers(0, 9))}"
        if draw(st.booleans()):
            row["remark"] = draw(st.sampled_from(["cold", "two\nlines", 'a "quote"', "comma, semicolon; tab\tand €"]))
        if kind.running and (key == "sparks" or draw(st.booleans())):
            row |= {"speed_rpm": f"{draw(st.floats(20.0, 2000.0)):.1f}", "drive_percent": f"{draw(st.integers(10, 300))}"}
        elif kind.running:
            row |= {"supply": "battery", "supply_V": f"{draw(st.floats(1.0, 40.0)):.1f}"}
        if key == "self_discharge":
            row |= {"start_V": f"{draw(st.floats(51.0, 500.0)):.1f}", "after_s": f"{draw(st.floats(0.5, 60.0)):.1f}"}
        rows.append(row)
    return rows


ENCODINGS = {"utf-8": b"", "utf-8-sig": b"", "utf-16": b"", "utf-16-le": b"", "cp1252": b"", "utf-16-be": codecs.BOM_UTF16_BE}


@settings(max_examples=250)
@given(rows=good_rows(), delimiter=st.sampled_from(",;\t"), comma=st.booleans(), encoding=st.sampled_from(sorted(ENCODINGS)),
       end=st.sampled_from(["\n", "\r\n", "\r"]), case=st.sampled_from([str, str.upper, str.title]), blank=st.booleans(),
       hint=st.booleans(), order=st.randoms(use_true_random=False), in_cell=st.booleans())
def test_any_spreadsheet_may_have_written_it(rows, delimiter, comma, encoding, end, case, blank, hint, order, in_cell) -> None:
    plain = parse(write_rows(rows).encode())
    assert plain.messages == []
    assert plain.good == len(rows)

    names = [column.name for column in COLUMNS]
    order.shuffle(names)
    out = io.StringIO()
    # Python's own writer leaves a line end in a cell bare where it is not the file's.
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=csv.QUOTE_MINIMAL if end != "\r" else csv.QUOTE_ALL)
    writer.writerow([case(name) for name in names])
    for row in rows:
        cells = dict(row)
        for name in ("value", "speed_rpm", "supply_V", "start_V", "after_s"):
            if comma and name in cells:
                cells[name] = cells[name].replace(".", ",")
        if in_cell:
            unit = BY_KEY[next(kind.key for kind in KINDS if kind.name == row["reading"])].unit
            cells["value"] = f"{cells['value']} {unit}"
            cells["reading"] = case(cells["reading"])
        writer.writerow([cells.get(name, "") for name in names])
        if blank:
            writer.writerow([])
            writer.writerow([""] * len(names))
    text = (f"sep={delimiter}{end}" if hint else "") + out.getvalue()
    found = parse(ENCODINGS[encoding] + text.encode(encoding))

    def matter(sheet: Sheet) -> dict[str, list[Taken]]:  # rows move when blank ones come between
        return {name: [replace(row, row=0) for row in taken] for name, taken in sheet.coils.items()}

    assert found.messages == []
    assert matter(found) == matter(plain)


@settings(max_examples=300)
@given(st.one_of(st.binary(max_size=400), st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
                 st.text(alphabet=',;\t"\n\r =.0123456789eE-coilvaluereadngdrp%uF\x00', max_size=300).map(
                     lambda text: (HEADER + "\n" + text).encode())))
def test_no_bytes_at_all_upset_it(data: bytes) -> None:
    sheet = parse(data)
    for line in sheet.messages:
        assert line.endswith(".")
        assert "\n" not in line
    for name, rows in sheet.coils.items():
        assert name.isprintable()
        for row in rows:
            assert BY_KEY[row.kind].low <= row.value <= BY_KEY[row.kind].high
        assert standing(rows) or all(row.kind == "adjusted" for row in rows)


BAD_CELLS = {
    "coil": ["", "   "], "reading": ["", "oppening curent", "volts", "12"],
    "value": ["abc", "1.2.3", "5.1 V", "-3", "1e9", "nan", "5,1,2", "#REF!", "5.1 A A", "about 5"], "unit": ["V", "furlong", "%"],
    "speed_rpm": ["", "fast", "0", "-450", "1e7", "450 mm", "1.200"], "drive_percent": ["1.0", "full", "9000", "100 V"],
    "supply": ["mains", "12"],
}  # fmt: skip


@settings(max_examples=150)
@given(rows=st.lists(st.integers(0, 4), min_size=1, max_size=5), place=st.integers(0, 5), data=st.data())
def test_a_bad_cell_costs_its_row_alone_and_is_named(rows: list[int], place: int, data: st.DataObject) -> None:
    good = {"coil": "Alder", "reading": "opening current", "value": "5.1", "unit": "A", "speed_rpm": "450",
            "drive_percent": "100"}
    column = data.draw(st.sampled_from(sorted(BAD_CELLS)))
    bad = good | {column: data.draw(st.sampled_from(BAD_CELLS[column]))}
    table = [good | {"value": f"5.{digit}"} for digit in rows]
    place = min(place, len(table))
    sheet = parse(write_rows([*table[:place], bad, *table[place:]]).encode())
    assert len(sheet.messages) == 1
    assert sheet.messages[0].startswith(f"Row {place + 2}, column '")
    assert sheet.messages[0].endswith("the row is left out.")
    assert f"column '{column}'" in sheet.messages[0] or column == "unit"
    assert SENTENCE.fullmatch(sheet.messages[0])
    assert [row.value for row in sheet.coils["Alder"]] == [float(f"5.{digit}") for digit in rows]


# -------------------------------------------------------------------------------------------------- sentence by sentence
@pytest.mark.parametrize(("line", "sentence"), [
    ("A,capacity,abc,,,,", ", column 'value': 'abc' is not a number"),
    ("A,capacity,450,,,,", ", column 'value': 450 uF of capacity is outside 0.0001 uF to 100 uF"),
    ("A,capacity,0.45 uF,nF,,,", ", column 'value': the cell says 'uF' and the unit column or title says 'nF'"),
    ("A,oppening curent,5,,450,,", ", column 'reading': 'oppening curent' is not a reading of the sheet (did you mean 'opening "
     "current'?)"),
    ("A,current,5.1,,450,,", ", column 'reading': 'current' does not say which; write opening current, meter mean, meter "
     "rectified mean or meter RMS"),
    ("A,Force,5.1,,,,", ", column 'reading': 'Force' does not say which; write parting force or cushion force"),
    ("A,opening current,5.1,,,,", ", column 'speed_rpm': empty, and opening current means nothing without it"),
    ("A,opening current,0,A,450,,", ", column 'value': 0 A of opening current is outside 0.05 A to 50 A (if the contacts never "
     "parted, leave this out and write 0 sparks per pulse)"),
    ("A,self-discharge,50,V,,,", ", column 'start_V': empty, and self-discharge means nothing without it"),
    (",capacity,0.45,,,,", ", column 'coil': empty, so nobody knows whose reading this is"),
    ("A,capacity,0,45,uF,,,", ": has 8 cells and the header 7 (where commas part the cells, a number with a decimal comma needs "
     "quotation marks)"),
    ('A,capacity,"0.45,uF,,,', ": a quotation mark is opened and never closed"),
])  # fmt: skip
def test_each_fault_has_its_sentence(line: str, sentence: str) -> None:
    sheet = sheet_of(line, "B,capacity,0.45,uF,,,")
    assert sheet.messages == [f"Row 2{sentence}; the row is left out."]
    assert list(sheet.coils) == ["B"]


def test_a_quotation_mark_never_closed_swallows_nothing() -> None:
    rows = [f"A,capacity,0.4{digit},uF,,," for digit in range(10)]
    rows[3] = 'A,capacity,"0.43,uF,,,'
    sheet = sheet_of(*rows)
    assert [row.row for row in sheet.coils["A"]] == [2, 3, 4, 6, 7, 8, 9, 10, 11]
    assert len(sheet.messages) == 1


def test_an_inch_mark_in_a_remark_is_no_quotation() -> None:
    assert sheet_of('A,capacity,0.45,uF,,,gap 0.010" wide', "A,capacity,0.44,uF,,,").good == 2


def test_missing_and_duplicate_columns_are_said() -> None:
    assert sheet_of("A,0.45", header="coil,value").messages == [
        "Row 1: the header needs the columns coil, reading and value, and has no reading; nothing can be read (--new FILE makes "
        "a sheet to fill in)."]
    twice = sheet_of("A,capacity,0.45,9", header="coil,reading,value,Value")
    assert twice.messages == ["Row 1, column 'Value': the column 'value' is there twice; the first one is read."]
    assert twice.coils["A"][0].value == pytest.approx(0.45e-6)
    more = sheet_of("A,capacity,0.45,blue", header="coil,reading,value,colour")
    assert more.messages == ["Row 1, column 'colour': no column of the bench sheet, so it is not read."]
    assert more.good == 1


@pytest.mark.parametrize("header", [
    "Coil;Reading;Value;Speed (rpm);Drive (%)", "COIL;READING;VALUE;SPEED_RPM;DRIVE_PERCENT",
    "coil name;measurement;measured;crank speed [1/min];drive", "coil;reading;value (A);speed;drive %"])
def test_headers_as_people_title_them(header: str) -> None:
    row = only(sheet_of("A;opening current;5,1;450;85", header=header))
    assert (row.value, row.bench) == (5.1, Bench(450.0, 0.85))


def test_a_title_above_the_header_does_no_harm() -> None:
    sheet = parse(b"Coils of the Larkfield Twelve,,\n\ncoil,reading,value\nAlder,capacity,0.45\n")
    assert sheet.messages == []
    assert sheet.coils["Alder"][0].row == 4


def test_a_title_may_carry_the_unit() -> None:
    assert only(sheet_of("A,capacity,450", header="coil,reading,value [nF]")).value == pytest.approx(0.45e-6)
    assert only(sheet_of("A,self-discharge,40,0.1,2", header="coil,reading,value,start (kV),after (min)")) == Taken(
        2, "A", None, "self_discharge", 40.0, None, 100.0, 120.0)


def test_missing_is_missing_and_never_zero() -> None:
    sheet = sheet_of("A,capacity,,uF,,,", "A,opening current,-,A,450,,", "A,sparks per pulse,0,,450,100,")
    assert sheet.messages == []
    assert sheet.empty_values == 2
    assert [(row.kind, row.value) for row in sheet.coils["A"]] == [("sparks", 0.0)]
    assert only(sheet_of("A,self-discharge,40,100,5", header="coil,reading,value,start_V,after_s")).meter_ohms is None
    assumed = only(sheet_of("A,opening current,5.1,A,450,,"))
    assert (assumed.bench, assumed.drive_assumed) == (Bench(450.0, 1.0), True)


def test_names_that_differ_in_case_only_are_one_coil() -> None:
    sheet = sheet_of("Alder,capacity,0.45,,,,", " ALDER ,capacity,0.46,,,,")
    assert [len(rows) for rows in sheet.coils.values()] == [2]


def test_a_battery_reading_keeps_its_volts() -> None:
    header = "coil,reading,value,supply,supply_V,speed_rpm"
    assert only(sheet_of("A,meter mean,1.3,Battery,12,", header=header)).bench == Bench(volts=12.0)
    assert sheet_of("A,sparks per pulse,1,battery,12,", header=header).messages == [
        "Row 2, column 'supply': a battery gives no pulses to count in; write sparks per pulse for a magneto or a "
        "transformer; the row is left out."]


@pytest.mark.parametrize(("texts", "day"), [
    (["2031-05-08"], date(2031, 5, 8)), (["8.5.2031"], date(2031, 5, 8)), (["08.05.31"], date(2031, 5, 8)),
    (["2031/5/8 00:00:00"], date(2031, 5, 8)), (["08/05/2031", "23/05/2031"], date(2031, 5, 8)),
    (["05/08/2031", "05/23/2031"], date(2031, 5, 8)), (["5/5/2031"], date(2031, 5, 5)),
    (["31-12-98"], date(1998, 12, 31)), (["31-12-68"], date(2068, 12, 31)), (["31.12.69"], date(1969, 12, 31)),
])  # fmt: skip
def test_dates_in_any_order(texts: list[str], day: date) -> None:
    sheet = sheet_of(*(f"A,capacity,0.45,{text}" for text in texts), header="coil,reading,value,date")
    assert sheet.messages == []
    assert sheet.coils["A"][0].day == day


@pytest.mark.parametrize(("text", "why"), [("08/05/2031", "may put the day or the month first"), ("soon", "is not a date"),
                                           ("2031-02-30", "is not a date"), ("2031-13-01", "is not a date")])
def test_a_date_in_doubt_is_not_guessed(text: str, why: str) -> None:
    sheet = sheet_of(f"A,capacity,0.45,{text}", header="coil,reading,value,date")
    assert sheet.messages == [
        f"Row 2, column 'date': '{text}' {why}; the reading is used without a date (2031-05-08 is plain to all)."]
    assert sheet.coils["A"][0].day is None


def test_control_signs_never_reach_the_screen() -> None:
    sheet = sheet_of('"Al\x1b[31mder",capacity,0.45,,,,"re\x07mark"', "B\x1b[2J,what?\x1b[1m,1,,,,")
    shown = "".join(sheet.messages) + "".join(sheet.coils) + "".join(row.remark for rows in sheet.coils.values() for row in rows)
    assert shown.isprintable()


# ------------------------------------------------------------------------------------------------------- its history
def test_the_latest_reading_stands_and_an_adjustment_ends_the_old_ones() -> None:
    header = "date,coil,reading,value,speed_rpm,remark"
    sheet = sheet_of(
        "2031-05-08,A,opening current,5.0,450,", "2031-05-01,A,opening current,6.0,450,", "2031-05-08,A,opening current,5.2,450,",
        "2031-05-01,A,capacity,0.45,,", "2031-04-03,A,adjusted,,,cushion tightened", "2031-03-06,A,opening current,3.9,450,",
        "2031-03-06,A,sparks per pulse,2,450,", header=header)
    assert sheet.messages == []
    found = {reading.kind: reading for reading in standing(sheet.coils["A"])}
    assert set(found) == {"opening_current", "capacity"}
    assert found["opening_current"].value == pytest.approx(5.1)
    assert [row.value for row in found["opening_current"].older] == [6.0]


def test_readings_of_other_speeds_are_other_readings() -> None:
    sheet = sheet_of("A,opening current,5.0,A,450,,", "A,opening current,4.0,A,200,,", "A,opening current,4.5,A,450,80,")
    assert [reading.value for reading in standing(sheet.coils["A"])] == [4.0, 4.5, 5.0]


# ------------------------------------------------------------------------------------------------------ large, and files
def test_a_large_sheet_is_read_in_seconds() -> None:
    lines = [f"coil {i % 40},opening current,5.{i % 10},A,{200 + i % 400},100,row {i}" for i in range(30_000)]
    lines[17] = "coil 1,opening current,oops,A,450,100,"
    started = time.monotonic()
    sheet = sheet_of(*lines)
    assert (sheet.good, len(sheet.messages)) == (29_999, 1)
    assert time.monotonic() - started < 20.0  # 1.3 s on a quiet machine


def test_a_sheet_longer_than_the_limit_is_cut_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    assert MAX_ROWS >= 100_000
    monkeypatch.setattr("coilbench.sheet.MAX_ROWS", 5)
    sheet = sheet_of(*(f"A,capacity,0.4{i},uF,,," for i in range(9)))
    assert sheet.good == 5
    assert sheet.messages == ["Row 7: the sheet is longer than 5 rows; this one and all below it are left out."]


def test_files_that_cannot_be_read_are_said_in_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ValueError, match=r"nothere\.csv: cannot be read \(No such file or directory\)\."):
        read_sheet(tmp_path / "nothere.csv")
    assert command.main([str(tmp_path)]) == 1
    assert "cannot be read" in capsys.readouterr().err
    for data, words in ((b"", "The file is empty"), (b"PK\x03\x04junk", "save it as CSV"), (b"\n\n \n", "The file is empty")):
        assert words in parse(data).messages[0]


def test_the_template_is_a_sheet_without_readings() -> None:
    for delimiter in (",", ";"):
        sheet = parse(template(delimiter).encode())
        assert (sheet.messages, sheet.good) == ([], 0)
        assert sheet.empty_values == sheet.rows >= 10
        assert sheet.delimiter == delimiter


def test_the_books_page_tells_of_every_column_and_reading() -> None:
    page = (Path(__file__).resolve().parents[2] / "book" / "pages" / "bench_sheet.md").read_text(encoding="utf-8")
    for column in COLUMNS:
        assert f"| `{column.name}` | " in page
    for kind in KINDS:
        unit = f" {kind.unit} " if kind.unit else " "
        assert f"| `{kind.name}` |{unit}|" in home.table()
    assert {"{{bench readings}}", "{{bench errors}}"} <= set(page.splitlines())


def test_the_page_on_readings_at_home_has_a_part_for_every_reading_cautions_first() -> None:
    page = pages.source(Path(__file__).resolve().parents[2] / "book" / "pages" / "readings_at_home.md").decode()
    for kind in KINDS:
        assert f"\n### {kind.name}\n" in page, kind.name
        assert (home.TEXTS / f"{kind.key}.md").is_file(), kind.key
        assert f"\n*{home.costs(kind)}*\n" in page or not kind.minutes
    assert {path.stem for path in home.TEXTS.iterdir()} == {kind.key for kind in KINDS}
    assert re.search("recording.*loop", page.partition("### sparks per pulse")[2].partition("###")[0], re.DOTALL)
    assert page.index(":::{warning}") < page.index("\n## ")
    for words in ("20 kV", "pacemaker", "keeps its charge", "fuel vapour", "ocal codes", "licensed", "practice, no source"):
        assert words in page


def test_the_discharge_resistor_is_worked_out_from_the_condenser() -> None:
    said = resistor()
    capacity = Machine().condenser.capacitance
    assert f"{0.5e3 * capacity * 500.0**2:.2g} mJ" in said
    left = voltage_left(500.0, float(re.search(r"after (\d+) ms less", said)[1]) / 1e3, capacity, 10e3)  # type: ignore[index]
    assert left == pytest.approx(1.0, rel=0.05)


def test_new_makes_a_template_and_leaves_what_is_there_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.csv"
    assert command.main(["--new", str(path)]) == 0
    made = path.read_bytes()
    assert command.main([str(path)]) == 1  # nothing filled in yet, and it says so
    assert "0 of 15 rows used, 15 not measured yet" in capsys.readouterr().err
    assert command.main(["--new", str(path)]) == 1
    assert "exists and is left as it is" in capsys.readouterr().err
    assert path.read_bytes() == made
    assert command.main(["--new", str(tmp_path / "none" / "x.csv")]) == 1
    assert command.main([]) == 2
