"""The talk's stops: each exists, can be shown and spoken, and says nothing that the model does not."""

from __future__ import annotations

import math
import re

import pytest

from coilmodel.sparks import EFFECTIVE
from lessons.contracts import Choice
from lessons.panels import PANELS
from lessons.talk import (
    CLOSING,
    GOING_ON,
    LONG,
    SHORT,
    STOPS,
    Claim,
    Stop,
    filled,
    lines,
    measured,
    minutes_of,
    objections,
    picture_at,
    speaking,
    spoken,
    stop_named,
    told,
)

EVERY = pytest.mark.parametrize("stop", STOPS, ids=[stop.key for stop in STOPS])
EACH_STEP = pytest.mark.parametrize(
    ("stop", "step"), [(stop, step) for stop in STOPS for step in range(1, len(stop.steps) + 1)],
    ids=[f"{stop.key}-{step}" for stop in STOPS for step in range(1, len(stop.steps) + 1)],
)
EACH_CLAIM = pytest.mark.parametrize(
    ("stop", "step", "claim"), [(stop, step, claim) for stop in STOPS for step, claim in stop.claims],
    ids=[f"{stop.key}-{number}" for stop in STOPS for number, _ in enumerate(stop.claims)],
)

ROOM = "For showing, for guesses and for objections there must be room: at least so much of the minutes is not spoken."


# ------------------------------------------------------------------------------------------------------- the story
@pytest.mark.parametrize(("long", "minutes"), [(True, LONG), (False, SHORT)], ids=["long", "short"])
def test_the_stops_fill_the_minutes_and_the_lines_about_half_of_them(long: bool, minutes: int):
    stops = told(long)
    assert sum(minutes_of(stop, long) for stop in stops) == minutes
    assert 0.45 <= speaking(long) / minutes <= 0.6, "too little to speak from, or too much to breathe"
    for stop in stops:
        assert sum(len(text.split()) for text in lines(stop, long)) / 130.0 <= 0.9 * minutes_of(stop, long), ROOM


def test_the_short_talk_tells_the_same_story_with_fewer_stops():
    short = [stop.key for stop in told(False)]
    assert short == [stop.key for stop in STOPS if stop.key in short]
    assert 10 <= len(short) < len(STOPS) == len(told(True))
    assert {"thursday", "well", "slack", "slack_slow", "sunday", "setting"} <= set(short)
    shown = {key for stop in told(False) for text in (stop.answer, *(step.say for step in stop.steps))
             for key in re.findall(r"@([a-z_]+)", text)}
    assert shown <= set(short), "it speaks of what it does not show"


def test_keys_and_titles_are_told_apart():
    assert len({stop.key for stop in STOPS}) == len(STOPS) == len({stop.title for stop in STOPS})


def test_it_opens_on_thursday_and_ends_on_what_to_do_about_it():
    """The same coil at both ends, and again in the middle, so that the room can see that it is the same."""
    opening, again, sunday, end = STOPS[0], stop_named("slack_slow"), stop_named("sunday"), STOPS[-1]
    assert opening.panel == again.panel
    assert opening.values_at(1) == again.values_at(1)
    assert sunday.picture().sentence.startswith("The coil with the slack cushion")
    assert end.values_at(1)["preload"] == opening.values_at(1)["preload"]
    assert {"Thursday", "Sunday"} <= set(re.findall(r"\w+", opening.ask)) & set(re.findall(r"\w+", end.steps[-1].say))
    assert CLOSING.startswith("One pulse, one spark")
    assert GOING_ON


# ------------------------------------------------------------------------------------------------- what is spoken
SYMBOLS = r"(?:mJ|kV|ms|mm|rpm|Hz|m/s|µF|[AVNJ])\b|%"
UNSPEAKABLE = (
    (r"\d\.\d\d", "nobody says two decimals"), (rf"\d\s?(?:{SYMBOLS})", "a unit is said in full"),
    (r"\b[01]\b", "one and nought are words"), (r"[Ff]ires? \d", "so many times"), (r"\{|\}|\bnan\b|\bnone\b", "a hole"),
    (r"\b(?:one|1) (?:sparks|pulses|volts|amperes|millijoules|degrees)\b", "one is not many"),
    (r"\b(?:two|three|four|\d+) (?:spark|pulse|volt|ampere|millijoule|degree)\b", "many are not one"),
    (r"[.!?] [a-z]", "a sentence begins with a capital"),
)


def everything_said(stop: Stop) -> list[str]:
    objected = [text for one in objections(stop) for text in (one.says, one.answer)]
    return [*lines(stop), filled(stop, stop.answer), *objected]


@EVERY
def test_what_is_said_can_be_said(stop: Stop):
    for text in everything_said(stop):
        for pattern, why in UNSPEAKABLE:
            assert not re.search(pattern, text), (why, text)


@pytest.mark.parametrize("text", [
    "It has 0.0023 m/s.", "There is 1 spark.", "It fires 2 times.", "Some 31 mJ.", "two spark", "one sparks",
    "It ends. three follow.", "It gives none.",
])
def test_what_cannot_be_said_is_found(text: str):
    assert any(re.search(pattern, text) for pattern, _ in UNSPEAKABLE)


@pytest.mark.parametrize(("value", "unit", "words"), [
    (31.2, "mJ", "31 millijoules"), (8.2, "mJ", "eight millijoules"), (1.04, "mJ", "one millijoule"),
    (0.055, "mJ", "less than half a millijoule"), (5.0, "A", "five amperes"), (4.58, "A", "4.6 amperes"),
    (0.9999, "A", "one ampere"), (4.42, "ms", "4.4 milliseconds"), (0.153, "mm", "15 hundredths of a millimetre"),
    (0.11, "m/s", "eleven centimetres a second"),
    (0.0017, "m/s", "two millimetres a second"), (-19.6, "degrees", "20 degrees"), (112.0, "rpm", "110 revolutions a minute"),
    (1.0, "1", "one"), (2.0, "1", "two"), (3.06, "1", "about three"), (72.7, "1", "73"),
])
def test_numbers_are_put_as_people_say_them(value: float, unit: str, words: str):
    assert spoken(value, unit) == words


@pytest.mark.parametrize(("value", "unit"), [(math.nan, "A"), (math.inf, "mJ"), (3.0, "furlongs")])
def test_what_has_no_words_is_refused(value: float, unit: str):
    with pytest.raises(ValueError, match=r"cannot be said|no words for the unit"):
        spoken(value, unit)


@EVERY
def test_no_number_is_typed_into_the_words(stop: Stop):
    """One in a line comes from the model, by {the reading's label}."""
    of_steps = [part for step in stop.steps for part in (step.say, step.more, step.do)]
    objected = [part for one in stop.objections for part in (one.says, one.answer)]
    for text in (stop.lead, stop.ask, stop.answer, stop.title, *of_steps, *objected):
        assert not re.search(r"\d", re.sub(r"\{[^}]*\}", "", text)), text


def test_a_number_in_words_is_the_models_too():
    assert pytest.approx(10.0) == 1e3 * EFFECTIVE, "ten millijoules"
    scene = stop_named("box").picture().scene
    assert scene is not None
    assert scene.slowdown == 500, "slowed five hundred times"
    joint = stop_named("faster")
    assert joint.values_at(2)["resistance"] - PANELS[joint.panel].defaults()["resistance"] == pytest.approx(0.5), "half an ohm"
    spring = stop_named("vibrator")
    assert spring.values_at(2)["preload"] / PANELS[spring.panel].defaults()["preload"] == pytest.approx(1.2, rel=0.01), "a fifth"
    car = stop_named("car")
    assert car.values_at(2)["lever"] - PANELS[car.panel].defaults()["lever"] == pytest.approx(5.0), "five degrees later"


# ---------------------------------------------------------------------------------------------------- what is shown
@EACH_STEP
def test_a_step_shows_what_its_panel_has(stop: Stop, step: int):
    panel, picture = PANELS[stop.panel], stop.picture(step)  # the picture checks the values
    known = {control.symbol for control in panel.controls}
    assert set(stop.controls) <= known
    assert set(stop.steps[step - 1].values) <= known
    assert len(stop.controls) <= 3, "more sliders than a room can follow"
    there = {name for name in ("scene", "ladder", "map") if getattr(picture, name)}
    there |= {f"{name}.{part.key}" for name in ("strips", "charts", "bars") for part in getattr(picture, name)}
    assert 1 <= len(stop.parts) <= 2
    assert set(stop.parts) <= there
    assert 1 <= len(stop.readings) <= 4
    assert set(stop.readings) <= {reading.label for reading in picture.readings}


@EVERY
def test_no_choice_that_the_room_may_ask_for_loses_a_reading(stop: Stop):
    offered = [control for control in PANELS[stop.panel].controls if control.symbol in stop.controls]
    for choice in (control for control in offered if isinstance(control, Choice)):
        for option, _ in choice.options:
            shown = picture_at(stop.panel, {**stop.values_at(1), choice.symbol: option})
            assert set(stop.readings) <= {reading.label for reading in shown.readings}, option


@EVERY
def test_what_is_to_be_heard_has_a_sound_and_the_presenter_is_told(stop: Stop):
    told_so = any("Listen" in step.do for step in stop.steps)
    assert told_so == stop.heard
    assert PANELS[stop.panel].sound is not None or not stop.heard


@EVERY
def test_a_stop_claims_something(stop: Stop):
    assert stop.claims, "a line that claims nothing teaches nothing"
    for text in (stop.lead, stop.ask, stop.answer, *(step.say for step in stop.steps), *(step.label for step in stop.steps)):
        assert text.strip()


# ----------------------------------------------------------------------------------------------------- the claims
@EACH_CLAIM
def test_what_a_line_claims_is_true_in_the_model(stop: Stop, step: int, claim: Claim):
    assert claim.low <= measured(stop, step, claim) <= claim.high


def test_on_every_meter_the_coils_that_read_alike_are_good_and_bad():
    stop = stop_named("meter")
    for meter in ("rectified", "rms", "peak"):
        tension = picture_at(stop.panel, {**stop.values_at(1), "meter": meter}).map
        assert tension is not None
        cells = [cell for row in tension.cells for cell in row if cell is not None]
        assert {1, -1} <= set(cells), f"on the {meter} meter they are all alike after all"


def test_sunday_begins_well_and_goes_wrong_on_the_open_road():
    def misfires(label: str, **values: str) -> list[float]:
        chart = next(chart for chart in picture_at("costs", values).charts if chart.key == "misfires")
        return list(next(line for line in chart.lines if line.label == label).y)

    slack, stiff = misfires("slack cushion"), misfires("stiff cushion", coil="stiff")
    assert not any(misfires("well set")), "the dashed line lies on the floor"
    assert not any(slack[:3]), "it starts, and runs gently"
    assert slack[-4:] == [100.0] * 4, "on the open road the curve is at the top"
    assert stiff[0] > 50.0, "the stiff one is bad at the hand crank"
    assert not any(stiff[1:]), "and there alone"


def test_a_small_condenser_is_weak_at_every_speed_and_a_slack_cushion_is_not():
    stop = stop_named("cause")

    def energies(step: int) -> list[float]:
        chart = next(chart for chart in stop.picture(step).charts if chart.key == "first_energy")
        return list(next(line for line in chart.lines if line.label.startswith("this one")).y)

    slack, small = energies(1), energies(2)
    assert max(small) < 1e3 * EFFECTIVE < slack[0]
    assert slack[-1] < 0.6 * slack[0]


def test_a_false_claim_and_a_hole_in_a_line_are_found():
    well, slack = stop_named("well"), stop_named("slack")
    claim = next(claim for _, claim in well.claims if claim.reading == "Spark energy, first spark")
    assert not claim.low <= measured(slack, 2, claim) <= claim.high
    with pytest.raises(KeyError, match="Sparks per hour"):
        filled(well, "It gives {Sparks per hour}.")
    with pytest.raises(KeyError, match="nowhere"):
        filled(well, "It gives {Sparks per pulse@nowhere}.")
