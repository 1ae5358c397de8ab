"""Every published value and closed form of the proof, one test a row (the rows: coilmodel/proof/published.py).

About 3 seconds in all.
"""

from __future__ import annotations

import math
from collections import Counter

import pytest

from coilmodel.proof import SAME_CODE, SAME_FORMULA, Check, published
from coilmodel.proof.__main__ import main, table

ROWS = list(published.checks())


DECIDING = [check for check in ROWS if check.limit]


@pytest.mark.parametrize("check", DECIDING, ids=[check.name for check in DECIDING])
def test_published(check: Check) -> None:
    assert check.passed, f"{check.ours!r} against {check.expected!r}: {check.difference:.3g} apart, {check.tolerance:.3g} allowed"


def test_there_are_enough_and_each_says_where_it_comes_from() -> None:
    assert len(DECIDING) > 150
    assert all(check.source and check.sureness and check.name and check.unit for check in ROWS)
    assert all(check.why for check in DECIDING), "a tolerance without an argument"
    repeated = [name for name, count in Counter((check.name, check.expected) for check in ROWS).items() if count > 1]
    assert not repeated


def test_what_is_only_remembered_does_not_decide() -> None:
    assert not [check.name for check in ROWS if check.limit and check.sureness.startswith(("uncertain", "from memory")) and
                "reproduced" not in check.sureness]


def test_rows_that_compare_a_formula_with_itself_say_so_and_are_not_most() -> None:
    kin = [check for check in DECIDING if check.kin]
    assert {check.kin for check in ROWS} == {"", SAME_FORMULA, SAME_CODE}
    assert len(DECIDING) - len(kin) > 120
    names = " ".join(check.name for check in kin)
    assert "and back" in names
    assert not any(check.kin for check in ROWS if not check.limit)
    text, _ = table("group", kin)
    assert text.count("guards the typing only)") == len(kin)
    assert f"{len(kin)} of those that decide compare" in text
    assert "guards the typing" not in table("group", [check for check in ROWS if not check.kin])[0]


def test_a_check_can_fail() -> None:
    good = Check("x", 1.009, 1.0, 0.01, "1", "s", "exact formula")
    bad = Check("x", 1.011, 1.0, 0.01, "1", "s", "exact formula")
    nothing = Check("x", math.nan, 1.0, 0.01, "1", "s", "exact formula")
    zero = Check("x", 2e-4, 0.0, 1e-4, "V", "s", "exact formula")
    assert good.passed
    assert not bad.passed
    assert not nothing.passed
    assert not zero.passed
    text, failed = table("group", [good, bad, nothing, zero])
    assert failed == 3
    assert text.count("**outside**") == 3


def test_the_door_writes_a_table_and_says_when_something_is_off(tmp_path, monkeypatch, capsys) -> None:
    out = tmp_path / "proof.md"
    assert main(["published", "-o", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    assert text.startswith("# What was checked against what, and by how much it differs")
    assert text.count("\n| ") >= len(ROWS)
    bad = [Check("x", 2.0, 1.0, 0.01, "1", "s", "exact formula")]
    monkeypatch.setattr("coilmodel.proof.__main__.GROUPS", {"a bad group": lambda: iter(bad)})
    assert main([]) == 1
    assert "**outside**" in capsys.readouterr().out
