"""The page of the proof: it opens with the reader's question, shows what is nearest, folds the rest, and hides no bad row."""

from __future__ import annotations

import html
import json
import re
from typing import Any

import pytest

from book.making import charts, proof_page
from book.making.places import BuildError
from coilmodel.proof import GROUPS, LOOKED_UP, SAME_FORMULA, CannotRun, Check, between
from coilmodel.proof.__main__ import main, row

GOOD = Check("a good row", 1.001, 1.0, 0.01, "kV", "a book", LOOKED_UP, "its step")
BAD = Check("a bad row", 1.2, 1.0, 0.01, "uF", "a book", LOOKED_UP, "its step")
SHOWN = Check("a row to know", 2.0, 1.0, 0.01, "1", "a book", LOOKED_UP, limit=False)
OWN = Check("a formula with itself", 1.0, 1.0, 0.01, "1", "itself", LOOKED_UP, "rounding", kin=SAME_FORMULA)
BAND = between("a row between two", 0.3, 0.1, 0.9, "1", "a <book> & more", LOOKED_UP, "no figure")
NEAR, *_, FAR = proof_page.PLACES
LEDGER = {"pulses": 40, "joules": 3.0, "shares": {"spark": 0.6, "core": 0.3999, "timer": 0.0}, "error": 2e-6}
TRACES: dict[str, Any] = {
    "strips": [["current", "A", [{"quantity": "current", "label": "i", "x": [0.0, 1.0], "y": [0.0, 5.0], "at": [0.5],
                                  "other": [2.5]}]]],
    "apart": {"opening current": 2e-5}}


def found(*groups: tuple[str, list[Check]], **more: Any) -> dict[str, Any]:
    made = [{"title": title, "rows": [row(check) for check in checks]} for title, checks in groups]
    return {"only": [], "groups": made, "pictures": {"against_reference": TRACES, "against_ngspice": "ngspice is not here.",
                                                     "ledger": LEDGER}} | more


def test_it_opens_with_the_question_and_an_honest_answer() -> None:
    text = proof_page.page(found((NEAR, [GOOD])))
    assert text.startswith("# Was this ever held against a real coil?\n\n**No, not yet.**")
    assert text.index("What it would take") < text.index("<svg") < text.index(proof_page.PLACES[NEAR].heading)


def test_every_group_of_the_proof_has_its_place_and_some_stand_open() -> None:
    assert set(proof_page.PLACES) == set(GROUPS)
    assert proof_page.PLACES[NEAR].open
    assert not proof_page.PLACES["published values and closed forms"].open
    with pytest.raises(BuildError, match="a group of tomorrow"):
        proof_page.page(found(("a group of tomorrow", [GOOD])))


def test_what_is_far_is_folded_and_says_how_much_lies_inside() -> None:
    text = proof_page.page(found((NEAR, [GOOD]), (FAR, [GOOD, OWN, BAD])))
    opened, folded = text.split("<details", 1)
    assert "a good row" in opened
    assert f"{proof_page.PLACES[FAR].heading}: 3 rows, 1 outside</summary>" in folded
    assert opened.count("<table") == 1


def test_a_row_outside_and_a_row_that_guards_the_typing_are_marked() -> None:
    text = proof_page.page(found((NEAR, [GOOD, BAD, SHOWN, OWN, BAND])))
    rows = {name: line for line in re.findall(r"<tr>.*</tr>", text) for name in re.findall(r"<td>(a [^<]*)</td>", line)}
    assert "<strong>outside</strong>" in rows["a bad row"]
    assert "1.2 µF" in rows["a bad row"]
    assert not any("outside<" in rows[name] for name in ("a good row", "a row to know", "a row between two"))
    assert "0.1 to 0.9" in rows["a row between two"]
    assert "inside" in rows["a row between two"]
    assert "4 rows that decide, **1 outside what is allowed**" in text
    assert "1 of those that decide compare a formula or a program with itself" in text
    assert f"<strong>{SAME_FORMULA}</strong>" in text
    assert "a &lt;book&gt; &amp; more" in text


def test_a_picture_that_cannot_be_made_says_why() -> None:
    text = proof_page.page(found((NEAR, [GOOD])))
    assert "ngspice is not here." in text
    assert text.count("<svg") == 2
    assert "20 parts in a million" in text


def test_a_group_that_could_not_run_says_why() -> None:
    data = found((NEAR, [GOOD]))
    data["groups"].append({"title": "the circuit against ngspice", "rows": [], "not_run": "apt-get install ngspice"})
    text = proof_page.page(data)
    assert "The circuit against ngspice: not run" in text
    assert "Not run: apt-get install ngspice" in text


def test_the_door_writes_what_the_page_reads(tmp_path, monkeypatch) -> None:
    def none() -> Any:
        raise CannotRun("it is not here")

    groups = {NEAR: lambda: iter([GOOD, BAND]), "the circuit against ngspice": none}
    monkeypatch.setattr("coilmodel.proof.__main__.GROUPS", groups)
    monkeypatch.setattr("coilmodel.proof.__main__.pictures", lambda: found()["pictures"])
    assert main(["--data", str(tmp_path / "proof.json")]) == 0
    text = proof_page.page(json.loads((tmp_path / "proof.json").read_text(encoding="utf-8")))
    assert "a good row" in text
    assert "Not run: it is not here" in text


@pytest.mark.parametrize(("low", "high", "expected"), [
    (0.0, 8.3, [0.0, 2.0, 4.0, 6.0, 8.0]), (-0.3, 0.47, [-0.2, 0.0, 0.2, 0.4]), (-5.2, 5.6, [-5.0, 0.0, 5.0]),
    (0.0, 0.6, [0.0, 0.2, 0.4, 0.6])])
def test_ticks_are_round(low: float, high: float, expected: list[float]) -> None:
    assert charts.ticks(low, high) == pytest.approx(expected)


def test_a_chart_says_in_words_what_it_shows_and_keeps_its_lines_inside() -> None:
    drawn = charts.strips([tuple(part) for part in TRACES["strips"]], "A title", "another")
    assert "A title: current over 1 ms; the dots of another" in html.unescape(re.findall(r'aria-label="([^"]*)"', drawn)[0])
    wide, high = (float(value) for value in re.findall(r'viewBox="0 0 (\S+) (\S+)"', drawn)[0])
    points = [tuple(map(float, pair.split(","))) for pair in re.findall(r'points="([^"]*)"', drawn)[0].split()]
    assert all(0.0 <= x <= wide and 0.0 <= y <= high for x, y in points)
    bars = charts.bars({"spark": 0.6, "core": 0.4, "timer": 0.0}, "Where it went")
    assert bars.count("<rect") == 2
