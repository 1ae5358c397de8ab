"""The start page's panel does what its presets and its sentence say."""

from functools import cache

import pytest

from coilmodel.readings import read, sparks_in_pulses
from coilmodel.sparks import EFFECTIVE
from lessons.panels import first_look

ROAD, HAND = "450", "200"
TENSIONS = range(30, 181, 10)


@cache
def run(tension=100.0, speed=ROAD):
    return first_look._run({"tension": tension, "speed": speed}, first_look.LADDER_PULSES)


@cache
def picture(tension=100.0, speed=ROAD):
    return first_look.PANEL.picture({"tension": tension, "speed": speed})


def preset(label):
    return next(preset.values for preset in first_look.PANEL.presets if preset.label == label)


def test_well_set_and_slack_by_hand_give_one_sound_spark_in_every_pulse():
    for label in ("Well set", "Slack, turned by hand"):
        shown = picture(**preset(label))
        assert shown.sentence.startswith("One sound spark in every pulse."), label
        assert set(sparks_in_pulses(run(**preset(label)))) == {1}
        assert list(shown.ladder.weak) == [0] * first_look.LADDER_PULSES


def test_slack_on_the_road_burns_its_points_and_misfires():
    values = preset("Slack")
    slack, good = read(run(**values)), read(run())
    assert slack.misfired == 1.0
    assert slack.arc_energy > 5.0 * good.arc_energy
    assert slack.first_spark_energy < EFFECTIVE < good.first_spark_energy
    shown = picture(**values)
    assert "the coil misfires" in shown.sentence
    assert "cannot keep up" in shown.sentence
    assert set(shown.ladder.weak) == {1}
    assert "misfire" in shown.alt
    assert slack.opening_time.mean > good.opening_time.mean, "not earlier on the clock"
    assert slack.opening_current.mean >= 0.97 * good.opening_current.mean, "nor at less current"


def test_stiff_parts_too_soon_sparks_weaker_and_again():
    values = preset("Stiff")
    stiff, good = read(run(**values)), read(run())
    assert min(sparks_in_pulses(run(**values))) >= 2
    assert stiff.misfired == 0.0
    assert stiff.first_spark_energy < 0.8 * good.first_spark_energy
    assert stiff.opening_time.mean < good.opening_time.mean - 0.3e-3
    assert "let go too soon" in picture(**values).sentence


@pytest.mark.parametrize("speed", [value for value, _ in first_look.SPEEDS])
@pytest.mark.parametrize("tension", TENSIONS)
def test_the_sentence_is_true_over_the_whole_slider(tension, speed):
    done, good = run(float(tension), speed), read(run(100.0, speed))
    result, said = read(done), picture(float(tension), speed).sentence
    counts = sparks_in_pulses(done)
    assert ("in every pulse" in said) == (min(counts) == max(counts))
    assert said.startswith("One sound") == (set(counts) == {1} and not result.misfired
                                            and result.first_spark_energy > first_look.WEAKER * good.first_spark_energy)
    assert ("misfire" in said) == (result.misfired > 0.0)
    assert ("weak spark" in said) == (result.misfired == 1.0 and max(counts) > 0)
    if "cannot keep up" in said:
        crawl = first_look.hottest(done)
        assert tension < 100
        assert not crawl.on_rivet
        assert crawl.parting_speed < 0.01, "they creep"
        assert result.arc_energy > good.arc_energy + first_look.BURNT
    if "too soon" in said:
        assert tension > 100
        assert result.opening_time.mean < good.opening_time.mean
        assert result.opening_current.mean < good.opening_current.mean
    if "another spark" in said:
        assert max(counts) > 1
    if tension in (60, 90, 100, 110):
        assert result.misfired == 0.0


def test_a_coil_that_never_parts_is_told_so():
    asleep = first_look.simulate(first_look.NOMINAL, first_look.MagnetoDrive(40.0), pulses=3)
    said = first_look.in_a_sentence(asleep, first_look.usual(ROAD))
    assert said.startswith("No spark in any pulse: the coil misfires.")
    assert "do not part" in said
