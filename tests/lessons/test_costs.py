"""The panel of what a bad coil costs, and the list of bad coils: every sentence computed, each coil doing what is said of it."""

from __future__ import annotations

import json
import math

import pytest

from coilmodel.machine import Scatter
from coilmodel.worth import SPEEDS, worth
from lessons.contracts import pack
from lessons.panels import bad_coils, costs

ROAD = [place for place, rpm in enumerate(SPEEDS) if 450.0 <= rpm <= 1000.0]
HAND = SPEEDS.index(200.0)


def rows(key: str):
    return costs.costs(key, costs.LEAST)


def misfires(key: str, places) -> list[float]:
    return [rows(key)[place].misfires for place in places]


def test_the_list_of_bad_coils_scales_the_nominal_machine() -> None:
    assert len({one.key for one in bad_coils.EVERY}) == len({one.label for one in bad_coils.EVERY}) == len(bad_coils.EVERY)
    assert bad_coils.coil("good").machine == bad_coils.NOMINAL
    slack = bad_coils.coil("slack")
    assert slack.machine.cushion.preload == pytest.approx(bad_coils.SLACK * bad_coils.NOMINAL.cushion.preload)
    assert slack.machine.vibrator == bad_coils.NOMINAL.vibrator
    assert [one.key for one in bad_coils.BAD if one.drive != 100.0] == ["magneto"]
    assert [preset.values["coil"] for preset in costs.PANEL.presets] == [one.key for one in bad_coils.BAD] == list(costs.SAID)


# ---------------------------------------------------------------------------------- each coil does what its preset says
def test_the_well_set_coil_never_misfires() -> None:
    assert {row.misfires for row in rows("good")} == {0.0}
    assert costs.in_words(bad_coils.GOOD, costs.LEAST) == "Well set: no misfires from 200 to 1200 rpm."


def test_slack_starts_by_hand_and_misfires_on_the_road_with_burning_points() -> None:
    assert misfires("slack", [HAND]) == [0.0]
    assert misfires("slack", ROAD) == [1.0] * len(ROAD)
    assert all(rows("slack")[place].arc_energy > 2.0 * rows("good")[place].arc_energy for place in ROAD)


def test_stiff_is_hard_to_start_and_early_on_the_road() -> None:
    assert misfires("stiff", [HAND])[0] >= 0.5
    assert misfires("stiff", ROAD) == [0.0] * len(ROAD)
    assert all(rows("stiff")[place].angle.mean < rows("good")[place].angle.mean - 0.5 for place in ROAD)


def test_the_two_vibrators_do_not_misfire_and_shift_the_angle() -> None:
    for key, sign in (("tight", 1.0), ("soft", -1.0)):
        assert {row.misfires for row in rows(key)} == {0.0}
        assert all(sign * (row.angle.mean - good.angle.mean) > 0.0 for row, good in zip(rows(key), rows("good"), strict=True))
    assert rows("soft")[HAND].energy < 0.85 * rows("good")[HAND].energy


def test_magneto_and_points_leave_you_at_the_crank_and_not_on_the_road() -> None:
    for key in ("magneto", "points"):
        assert misfires(key, [HAND]) == [1.0]
        assert misfires(key, ROAD) == [0.0] * len(ROAD)
    assert all(rows("magneto")[place].angle.mean > rows("good")[place].angle.mean + 2.0 for place in ROAD)


def test_a_leak_costs_energy_and_an_open_condenser_everything() -> None:
    assert all(rows("leak")[place].first_energy < 0.85 * rows("good")[place].first_energy for place in (HAND, *ROAD))
    assert {row.misfires for row in rows("small")} == {1.0}
    assert all(row.arc_energy > 15e-3 for row in rows("small"))


# ------------------------------------------------------------------------------------------------- sentences and charts
@pytest.mark.parametrize("bad", bad_coils.BAD, ids=lambda one: one.key)
def test_each_sentence_is_computed(bad) -> None:
    """Against sums done here, from the windows themselves."""
    picture = costs.PANEL.picture({"coil": bad.key})
    mine, good = rows(bad.key), rows("good")
    hit = [row.rpm for row in mine if row.misfires]
    share = 100.0 * sum(row.misfires for row in mine) / len(mine)
    said = picture.sentence
    if not hit:
        assert f"no misfires from {SPEEDS[0]:.0f} to {SPEEDS[-1]:.0f} rpm" in said
    else:
        assert f"{share:.0f} of 100 windows" in said
        if len(hit) == len(mine):
            where = "at every speed"
        elif len(hit) == 1:
            where = f"at {hit[0]:.0f} rpm"
        else:
            where = f"from {hit[0]:.0f} to {hit[-1]:.0f} rpm"
        assert where in said
    apart = [a.angle.mean - b.angle.mean for a, b in zip(mine, good, strict=True) if not a.misfires and not b.misfires]
    if apart:
        most = max(apart, key=abs)
        assert f"up to {abs(most):.1f} degrees {'later' if most > 0.0 else 'earlier'} than" in said
        least = min(a.energy / b.energy for a, b in zip(mine, good, strict=True) if not a.misfires and not b.misfires)
        assert f"with {100.0 * least:.0f} % of its energy" in said
    else:
        assert "degrees" not in said
    burnt, kept = (1e3 * max(row.arc_energy for row in those) for those in (mine, good))
    assert (f"{burnt:.0f} mJ a window burn at its points ({kept:.0f} at the other's)" in said) == (burnt > kept + 1.0)
    shown = next(reading for reading in picture.readings if reading.label.startswith("Misfires"))
    assert shown.value == pytest.approx(share)
    assert said in picture.alt


@pytest.mark.parametrize("bad", bad_coils.BAD, ids=lambda one: one.key)
def test_charts_hold_the_windows_numbers_and_break_where_nothing_lights(bad) -> None:
    charts = {chart.key: chart.lines for chart in costs.PANEL.picture({"coil": bad.key}).charts}
    assert set(charts) == {"misfires", "energy", "angle", "arc"}
    for lines, key in ((lines, key) for lines in charts.values() for key in ("good", bad.key)):
        assert lines[key != "good"].dash == ("dashed" if key == "good" else "solid")
    for place, row in enumerate(rows(bad.key)):
        angle = charts["angle"][1].y[place]
        assert math.isnan(angle) if row.angle.mean is None else angle == row.angle.mean
        assert charts["misfires"][1].y[place] == 100.0 * row.misfires
        assert charts["energy"][1].y[place] == 1e3 * row.first_energy
        assert charts["arc"][1].y[place] == 1e3 * row.arc_energy
    for chart in costs.PANEL.picture({"coil": bad.key}).charts:
        assert all(chart.y.low <= y <= chart.y.high for line in chart.lines for y in line.y if not math.isnan(y)), chart.key
    json.dumps(pack(costs.PANEL.picture({"coil": bad.key})).tree, allow_nan=False)  # a break in a curve goes as null


def test_the_slider_moves_what_lights_the_charge() -> None:
    """Less to ask for, fewer misfires; the slack coil's weak sparks of the road light where five millijoules are enough."""
    def share(least: float) -> float:
        return sum(row.misfires for row in costs.costs("slack", least)) / len(SPEEDS)

    shares = [share(least) for least in (2.0, 5.0, costs.LEAST, 15.0, 25.0)]
    assert shares == sorted(shares)
    assert shares[1] < shares[2] < shares[4]
    place = SPEEDS.index(500.0)
    assert costs.costs("slack", 5.0)[place].misfires == 0.0
    assert costs.costs("slack", costs.LEAST)[place].misfires == 1.0
    assert costs.PANEL.picture({"coil": "slack", "least": 5.0}).sentence != costs.PANEL.picture({"coil": "slack"}).sentence
    with pytest.raises(ValueError, match="A spark lights the charge from"):
        costs.PANEL.picture({"least": 40.0})


def test_rows_are_windows_of_the_timer_with_the_same_scatter_for_all() -> None:
    bad = bad_coils.coil("soft")
    again = worth(bad.machine, 600.0, 1.0, costs.WINDOWS, Scatter(seed=costs.SEED), 1e-3 * costs.LEAST)
    assert again == rows("soft")[SPEEDS.index(600.0)]
