"""The start page's panel does what its presets and its sentence say."""

import pytest

from coilmodel.readings import read, sparks_in_pulses
from lessons.panels import first_look


def picture(**values):
    return first_look.PANEL.picture(values)


def run(**values):
    return first_look._run({**first_look.PANEL.defaults(), **values}, first_look.LADDER_PULSES)


@pytest.mark.parametrize("label", [preset.label for preset in first_look.PANEL.presets])
def test_each_preset_shows_what_it_says(label):
    values = next(preset.values for preset in first_look.PANEL.presets if preset.label == label)
    counts = sparks_in_pulses(run(**values))
    if label in ("Well set", "Slack, turned by hand"):
        assert set(counts) == {1}
        assert picture(**values).sentence.startswith("One spark in every pulse.")
    elif label == "Slack":
        assert min(counts) >= 2, "every row has a second mark"
        assert "while the coil still carries" in picture(**values).sentence
    else:
        assert max(counts) > 1
        assert "let go early" in picture(**values).sentence
        assert read(run(**values)).first_spark_energy < 0.7 * read(run()).first_spark_energy, "and weaker"


@pytest.mark.parametrize("speed", [value for value, _ in first_look.SPEEDS])
@pytest.mark.parametrize("tension", range(20, 181, 10))
def test_the_sentence_is_true_over_the_whole_slider(tension, speed):
    done = run(tension=float(tension), speed=speed)
    counts = sparks_in_pulses(done)
    said = picture(tension=float(tension), speed=speed).sentence
    first = next(o for o in done.openings if o.fired and o.pulse == counts.index(max(counts)))
    usual = first_look.usual_current(speed)
    assert ("One spark" in said) == (max(counts) == 1)
    assert ("let go early" in said) == (max(counts) > 1 and abs(first.current) < usual)
    if "slack cushion" in said:
        assert tension < 100
        assert first.parting_speed < 0.1, "hardly moving"
        second = next(o for o in done.openings if o.fired and o.pulse == first.pulse and o is not first)
        assert 0.0 <= second.time - first.closing_time < 0.2e-3, "they bounce: no time for the current to grow again"
    if "every pulse" in said:
        assert min(counts) == max(counts)
