"""The engine against closed forms, one test a row (the rows: coilmodel/proof/engine.py). About 2 seconds in all."""

from __future__ import annotations

import pytest

from coilmodel.proof import Check, engine

ROWS = list(engine.checks())


@pytest.mark.parametrize("check", ROWS, ids=[check.name for check in ROWS])
def test_engine(check: Check) -> None:
    assert check.limit
    assert check.passed, f"{check.ours!r} against {check.expected!r}: {check.difference:.3g} apart, {check.tolerance:.3g} allowed"


def test_a_smaller_step_comes_closer() -> None:
    """A quarter of the step leaves well under a third of the difference (second order), down to what the closed form leaves out.

    The lossless break has no core loss and the kernel's machine has a little: the two stay 0.3 % apart at any step.
    """
    by_name = {check.name: abs(check.difference) for check in ROWS}
    pairs = [(by_name[name], by_name[name.replace("as tested", "steps a quarter as long")]) for name in by_name
             if "as tested" in name and ("waveform" in name or "worst of two periods" in name)]
    assert len(pairs) >= 4
    for whole, quarter in pairs:
        assert quarter < max(whole / 3.0, 3.0e-3)
    assert sum(quarter < whole / 3.0 for whole, quarter in pairs) >= 1
