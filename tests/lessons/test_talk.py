"""The talk's stops: each exists, can be shown, and says nothing that the model does not."""

from __future__ import annotations

import re

import pytest

from lessons.panels import PANELS
from lessons.talk import STOPS, Claim, Stop, filled, measured, picture_of

EVERY = pytest.mark.parametrize("stop", STOPS, ids=[stop.key for stop in STOPS])


def test_about_fifteen_stops_fill_45_minutes():
    assert 14 <= len(STOPS) <= 17
    assert 43 <= sum(stop.minutes for stop in STOPS) <= 47
    assert len({stop.key for stop in STOPS}) == len(STOPS) == len({stop.title for stop in STOPS})


def test_it_opens_on_thursday_and_ends_on_what_to_do_about_it():
    """The same coil at both ends, and again in the middle, so that the room can see that it is the same."""
    opening, end, again = STOPS[0], STOPS[-1], next(stop for stop in STOPS if stop.key == "slack_slow")
    assert opening.values == again.values
    assert end.values["preload"] == opening.values["preload"]
    assert {"Thursday", "Sunday"} <= set(re.findall(r"\w+", opening.ask)) & set(re.findall(r"\w+", end.line))


@EVERY
def test_what_is_said_can_be_said(stop: Stop):
    """Nobody reads aloud four decimals, "1 spark", "0 sparks", or "fires 2 times"."""
    for text in (filled(stop, stop.line), filled(stop, stop.answer)):
        assert not re.search(r"\d\.\d{3}|\b0\.0\d|\b[01] sparks?\b|[Ff]ires? \d", text), text


@EVERY
def test_a_stop_shows_what_its_panel_has(stop: Stop):
    panel, picture = PANELS[stop.panel], picture_of(stop.key)  # the picture checks the values
    known = {control.symbol for control in panel.controls}
    assert set(stop.controls) <= known
    assert len(stop.controls) <= 3, "more sliders than a room can follow"
    there = {name for name in ("scene", "ladder", "map") if getattr(picture, name)}
    there |= {f"{name}.{part.key}" for name in ("strips", "charts", "bars") for part in getattr(picture, name)}
    assert 1 <= len(stop.parts) <= 2
    assert set(stop.parts) <= there
    assert 1 <= len(stop.readings) <= 4
    assert set(stop.readings) <= {reading.label for reading in picture.readings}


@EVERY
def test_a_stop_has_its_words_and_no_number_is_typed_into_them(stop: Stop):
    for text in (stop.ask, stop.line, stop.do):
        assert text.strip()
    assert "{" not in stop.ask + stop.do, "fields are filled in lines and answers"
    assert stop.claims, "a line that claims nothing teaches nothing"
    written = stop.line.replace("20 kV", "")  # the caution
    assert not re.search(r"\d", written), "a number in a line comes from the model, by {the reading's label}"
    for text in (stop.line, stop.answer):
        assert "{" not in filled(stop, text)
        assert "none" not in filled(stop, text).split(), "a reading that the stop has not"


@pytest.mark.parametrize(("stop", "claim"), [(stop, claim) for stop in STOPS for claim in stop.claims],
                         ids=[f"{stop.key}-{i}" for stop in STOPS for i, _ in enumerate(stop.claims)])
def test_what_a_line_claims_is_true_in_the_model(stop: Stop, claim: Claim):
    assert claim.low <= measured(stop, claim) <= claim.high


def test_a_false_claim_and_a_hole_in_a_line_are_found():
    well, slack = (next(stop for stop in STOPS if stop.key == key) for key in ("well", "slack"))
    claim = next(claim for claim in well.claims if claim.reading == "Spark energy, first spark")
    assert not claim.low <= measured(slack, claim) <= claim.high
    with pytest.raises(KeyError, match="Sparks per hour"):
        filled(well, "It gives {Sparks per hour}.")
