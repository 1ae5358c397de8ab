"""Lesson 5: what its presets and its text say is so in the model, in numbers."""

from __future__ import annotations

from functools import cache

import pytest

from coilmodel import MagnetoDrive, simulate
from coilmodel.readings import read
from coilmodel.sparks import EFFECTIVE
from lessons.panels import cushion as panel
from lessons.panels.bad_coils import SLACK, STIFF


@cache
def at(rpm: float, **factors: float):
    return read(simulate(panel.NOMINAL.scaled(**factors), MagnetoDrive(rpm), pulses=16))


@cache
def picture(label: str):
    return panel.PANEL.picture(next(preset.values for preset in panel.PANEL.presets if preset.label == label))


def shown(label: str) -> dict[str, float]:
    return {reading.label: reading.value for reading in picture(label).readings}


def weak(label: str) -> list[int]:
    return list(picture(label).ladder.weak)


def test_presets_do_what_they_say() -> None:
    well, slack, hand, stiff, hard = (shown(label) for label in ("Well set", "Too slack", "Slack, but hand-cranked", "Too stiff",
                                                                 "Stiff, and hand-cranked"))
    assert well["Sparks per pulse"] == hand["Sparks per pulse"] == 1.0
    assert set(weak("Well set")) == set(weak("Slack, but hand-cranked")) == {0}
    assert set(weak("Too slack")) == {1}, "small and hollow"
    assert slack["Parting speed"] < 0.1 * well["Parting speed"], "they creep"
    assert slack["Follow travel"] < 0.5 * well["Follow travel"], "before the rivet"
    assert slack["Arc energy as they part"] > 2.0 * slack["Spark energy, first spark"], "most of the energy burns"
    assert stiff["Opening time"] < well["Opening time"] - 0.2
    assert stiff["Opening current"] < 0.9 * well["Opening current"]
    assert stiff["Spark energy, first spark"] < 0.8 * well["Spark energy, first spark"]
    assert stiff["Sparks per pulse"] > 1.5
    assert hard["Sparks per pulse"] > 1.5
    assert set(weak("Stiff, and hand-cranked")) == {1}, "none strong enough"
    none = shown("No travel")
    assert none["Opening time"] < well["Opening time"]
    assert none["Sparks per pulse"] > 1.5


def test_the_slack_coil_is_not_betrayed_by_count_current_or_time() -> None:
    good, slack = at(450.0), at(450.0, cushion_preload=SLACK)
    assert slack.single == 1.0
    assert slack.misfired == 1.0
    assert slack.opening_current.mean == pytest.approx(good.opening_current.mean, rel=0.05)
    assert slack.opening_current.mean >= good.opening_current.mean
    assert slack.opening_time.mean > good.opening_time.mean, "no earlier than in the good coil"
    assert slack.on_rivet == 0.0
    assert good.on_rivet == 1.0
    assert slack.break_arc_energy > 100.0 * good.break_arc_energy


def test_the_slow_test_hides_it() -> None:
    slow = at(200.0, cushion_preload=SLACK)
    assert slow.single == 1.0
    assert slow.misfired == 0.0
    assert slow.first_spark_energy > 0.9 * at(200.0).first_spark_energy
    assert slow.follow_travel.mean > 2.0 * at(450.0, cushion_preload=SLACK).follow_travel.mean, "it follows most of the way"


def test_stiff_is_hard_to_start_by_hand() -> None:
    hand, road = at(200.0, cushion_preload=STIFF), at(450.0, cushion_preload=STIFF)
    assert hand.first_spark_energy < EFFECTIVE < road.first_spark_energy
    assert hand.misfired == 1.0
    assert road.misfired == 0.0
    assert road.multiple > 0.8


def test_force_presets_say_what_the_chart_shows() -> None:
    force = {preset.label: {reading.label: reading.value for reading in panel.FORCES.picture(preset.values).readings}
             for preset in panel.FORCES.presets}
    rest = "Force on the bridge at rest"
    assert force["Stiff cushion"][rest] < 0.6 * force["Well set"][rest] < force["Well set"][rest] < force["Slack cushion"][rest]
