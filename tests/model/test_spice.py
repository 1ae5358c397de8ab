"""The electrical part against ngspice, one test a circuit. About 10 seconds in all."""

from __future__ import annotations

import pytest

from coilmodel.proof import CannotRun, spice


@pytest.mark.ngspice
@pytest.mark.parametrize("case", spice.CASES, ids=[case.name for case in spice.CASES])
def test_waveforms(case: spice.Case, need_ngspice: str) -> None:
    """Primary current, contact and secondary voltage within 1 % of their peaks. Worst observed: 0.88 % (0.1 uF)."""
    apart = spice.compare(case, 1.0)
    assert set(apart) == {"current", "contact_voltage", "secondary_voltage"}
    assert max(apart.values()) < 0.01, apart


@pytest.mark.ngspice
def test_with_small_steps_the_two_are_the_same(need_ngspice: str) -> None:
    """What is left at a twentieth of the step is a tenth of a percent at most: the equations are the same."""
    for case in (spice.CASES[0], spice.CASES[4]):
        assert max(spice.compare(case, 0.05).values()) < 1e-3, case.name


@pytest.mark.ngspice
def test_a_wrong_circuit_is_seen(need_ngspice: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """If ngspice is given 3 % more secondary capacitance, the comparison says so."""
    whole = spice.netlist

    def wrong(*arguments, **named) -> str:
        return whole(*arguments, **named).replace("C2 h 0 6e-11", "C2 h 0 6.18e-11")

    monkeypatch.setattr(spice, "netlist", wrong)
    nominal = spice.CASES[0]
    assert "C2 h 0 6.18e-11" in spice.netlist(spice.still({}), nominal.drive, nominal.opening, 1e-2, 2e-3,
                                              "x"), "nominal has changed"
    assert max(spice.compare(nominal, 0.2).values()) > 0.01


def test_without_ngspice_the_group_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(CannotRun, match="apt-get install ngspice"):
        next(spice.checks())
