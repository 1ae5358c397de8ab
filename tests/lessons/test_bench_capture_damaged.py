"""Damaged captures, property-based: never a traceback, always a sentence, good rows still used, the file never written to.

CI tries a few hundred. `CAPTURE_FUZZ=10000 python -m pytest tests/lessons/test_bench_capture_damaged.py` tries ten thousand.
About 20 seconds in CI.
"""

from __future__ import annotations

import functools
import os
import re

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coilbench.capture.found import Known, analyse
from coilbench.capture.imagined import Recorder, capture
from coilbench.capture.show import card, sheet_text
from coilbench.capture.trace import FEWEST, Asked, parse
from coilbench.sheet import parse as parse_sheet
from coilmodel import BatteryDrive, Machine, MagnetoDrive

EXAMPLES = int(os.environ.get("CAPTURE_FUZZ", "200"))
ROW = re.compile(r"Row (\d+)(, column '.+?')?: .+\.$")
JUNK = ("", "x", "1,5", "1.2.3", "nan", "inf", "-inf", "∞", "1e999", "1e300", "--", "#N/A", "2031-05-08", "12:00:01", "4.2 A",
        "−3", '"', "'", "0x10", "\x00", "9" * 400, "é", "NULL", "1 2")


@functools.cache
def lines(kind: str) -> tuple[str, ...]:
    """The rows of a short good capture."""
    drive = MagnetoDrive(450.0) if kind == "magneto" else BatteryDrive(12.0)
    made = capture(Machine(), drive, 0.03, Recorder(interval=2e-5, noise=0.03), np.random.default_rng(8))
    return tuple(made.csv(4).strip().split("\n"))


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    """The bytes of a capture with some of all that can go wrong."""
    rows = list(lines(draw(st.sampled_from(["magneto", "battery"]))))
    width = draw(st.integers(1, 4))
    rows = [",".join(row.split(",")[:width]) for row in rows]
    for _ in range(draw(st.integers(0, 4))):
        harm = draw(st.sampled_from(["cell", "cut", "twice", "swap", "drop", "extra", "short", "blank", "scale", "constant",
                                     "clip", "header", "column", "garbage", "spike", "gap", "huge time"]))
        at = draw(st.integers(0, max(0, len(rows) - 1)))
        if not rows:
            break
        if harm == "cell":
            for place in draw(st.lists(st.integers(0, len(rows) - 1), max_size=6)):
                cells = rows[place].split(",")
                cells[draw(st.integers(0, len(cells) - 1))] = draw(st.sampled_from(JUNK))
                rows[place] = ",".join(cells)
        elif harm == "cut":
            rows = rows[:at]
        elif harm == "twice":
            rows[at:at] = rows[at:at + draw(st.integers(1, 300))]
        elif harm == "swap":
            rows = [rows[0], *reversed(rows[1:])]
        elif harm == "drop":
            rows = [row for place, row in enumerate(rows) if place == 0 or place % draw(st.shared(st.integers(2, 9), key="n"))]
        elif harm == "extra":
            rows[at] += ",7"
        elif harm == "short":
            rows[at] = rows[at].split(",")[0]
        elif harm == "blank":
            rows[at:at] = [""] * draw(st.integers(1, 30))
        elif harm == "header":
            rows = draw(st.sampled_from([rows[1:], ["a,b,c,d", *rows[1:]], ["time_ms,ch1,ch1,ch2", *rows[1:]], [rows[0], *rows],
                                         ["notes", "", *rows], [",,,", *rows[1:]]]))
        elif harm == "column":
            rows = [",".join(reversed(row.split(","))) for row in rows]
        elif harm == "garbage":
            rows[at:at] = [draw(st.text(max_size=60))]
        elif harm == "gap":
            del rows[at:at + draw(st.integers(1, 1200))]
        else:
            table = [row.split(",") for row in rows]
            column = draw(st.integers(0, 3))
            factor = draw(st.sampled_from([0.0, 1e-12, -1.0, 1e3, 1e12, 1e200]))
            for place, cells in enumerate(table):
                if column < len(cells):
                    try:
                        value = float(cells[column])
                    except ValueError:
                        continue
                    if harm == "scale":
                        value *= factor
                    elif harm == "constant":
                        value = 4.2
                    elif harm == "clip":
                        value = max(-1.0, min(1.0, value))
                    elif place == at:
                        value = factor
                    cells[column] = f"{value:.7g}"
            rows = [",".join(cells) for cells in table]
    delimiter = draw(st.sampled_from([",", ",", ";", "\t", " ", "|"]))
    text = draw(st.sampled_from(["\n", "\r\n", "\r"])).join(row.replace(",", delimiter) for row in rows)
    if delimiter != "," and draw(st.booleans()):
        text = text.replace(".", ",")
    data = text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-be"])), errors="replace")
    if draw(st.integers(0, 9)) == 0:
        data = data[:draw(st.integers(0, len(data)))]
    if draw(st.integers(0, 19)) == 0:
        at = draw(st.integers(0, len(data)))
        data = data[:at] + draw(st.binary(max_size=40)) + data[at:]
    return data


@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
@given(data=damaged(), known=st.sampled_from([Known(), Known(supply_volts=12.0), Known(loop_ohms=0.7), Known(speed_rpm=450.0),
                                              Known(supply="magneto"), Known(supply="battery", zeroed=True)]),
       asked=st.sampled_from([Asked(), Asked(), Asked(time="1"), Asked(time="1:ms"), Asked(current="2:10A/V"),
                              Asked(contact="2")]))
def test_never_a_traceback_and_always_a_sentence(data: bytes, known: Known, asked: Asked) -> None:
    try:
        trace = parse(data, asked)
        used = len(trace.time)
        found = analyse(trace, known)
        text = card(found, "damaged.csv")
        sheet = parse_sheet(sheet_text(found, known, "Alder").encode())
    except ValueError as error:
        said = str(error)
        assert said
        assert said[0].isupper() or said[:2] in ("--", "..")
        assert said.endswith("."), said
        assert "\n" not in said
        assert "array" not in said
        return
    assert FEWEST <= used <= trace.rows
    assert np.all(np.diff(trace.time) > 0.0)
    assert "Traceback" not in text
    assert "nan" not in re.sub(r"'[^']*'", "", text.lower())
    for line in trace.messages:
        assert line.endswith(".")
        if line.startswith("Row"):
            assert ROW.match(line), line
    assert not [line for line in sheet.messages if line.startswith("Row")]


@settings(max_examples=max(30, EXAMPLES // 10), suppress_health_check=list(HealthCheck))
@given(data=st.one_of(st.binary(max_size=3000), st.text(max_size=2000).map(lambda text: text.encode("utf-8", "replace")),
                      st.lists(st.lists(st.floats(), min_size=1, max_size=5), max_size=90).map(
                          lambda rows: "\n".join(",".join(map(repr, row)) for row in rows).encode())))
def test_what_is_no_capture_gets_one_sentence(data: bytes) -> None:
    said = "It was one."
    try:
        card(analyse(parse(data)), "noise.csv")
    except ValueError as error:
        said = str(error)
    assert said.endswith(".")


@settings(max_examples=40)
@given(places=st.lists(st.integers(2, 1400), min_size=1, max_size=10, unique=True),
       junk=st.sampled_from(["x", "1.2.3", "4.2 A", "#N/A"]))
def test_bad_rows_are_named_and_good_rows_used(places: list[int], junk: str) -> None:
    rows = list(lines("magneto"))
    for place in places:
        cells = rows[place].split(",")
        rows[place] = ",".join([cells[0], junk, *cells[2:]])
    trace = parse("\n".join(rows).encode())
    named = {int(found[1]) for line in trace.messages if (found := ROW.match(line))}
    assert named == {place + 1 for place in places}
    assert len(trace.time) == len(rows) - 1
    assert int(np.isnan(trace.values["current"]).sum()) == len(places)
