"""What nothing mends is named only after the reading that confirms it: its sparks with a known-good condenser."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from coilbench import makes, stored
from coilbench.advice import advise
from coilbench.asks import CONFIRM, CONFIRMING, Ask, Setting, as_reading, asked, minutes
from coilbench.card import card, leave
from coilbench.causes import BY_KEY, CAUSES, spoilt
from coilbench.errors import CERTAIN
from coilbench.predict import well_set
from coilbench.running import outcome
from coilbench.sheet import AIDS, Bench, Reading, parse, standing
from coilbench.stored import judge
from coilbench.trial import SHEETS

SHORTED = BY_KEY["shorted_turns"]


@pytest.fixture(scope="module")
def shorted() -> tuple[list[Reading], int]:
    """Return the usual readings of a stored coil whose shorted turns the readings tell, and its number."""
    for number in stored.imagined().own(CAUSES.index(SHORTED)):
        draw = random.Random(number)
        asks = [*SHEETS["usual"], *(Ask(kind) for kind in ("contact_resistance", "parting_force", "cushion_force"))]
        taken = [as_reading(ask, value) for ask in asks if (value := stored.answer(ask, number, draw)) is not None]
        verdict = judge(taken, next_steps=False, fit=False, without=number)
        if verdict.cause is SHORTED and verdict.odds[0][1] >= CERTAIN:
            return taken, number
    raise AssertionError("no stored coil's shorted turns can be told")


def test_it_is_asked_for_before_anything_is_named(shorted: tuple[list[Reading], int]) -> None:
    taken, number = shorted
    verdict = judge(taken, without=number)
    assert verdict.unconfirmed
    assert not verdict.sure
    advice = advise(verdict)
    assert advice.remedy is None
    assert advice.measure is not None
    assert advice.measure.ask == CONFIRM
    said = " ".join(card("Oak", taken, verdict, []).split())
    assert "named only after a reading that confirms it" in said
    assert "Measure the sparks per pulse at 450 rpm, drive 100 %, with a known-good condenser in place of its own" in said
    assert f"about {minutes(CONFIRM):g} minutes" in said
    assert "rewound" not in said
    assert "Or leave it alone" in said


def test_where_it_stays_as_it_is_it_is_named(shorted: tuple[list[Reading], int]) -> None:
    taken, number = shorted
    row = stored.imagined().runs[CONFIRMING][number]
    verdict = judge([*taken, as_reading(CONFIRM, row[1])], without=number)
    assert verdict.confirmed
    assert verdict.sure
    said = " ".join(card("Oak", taken, verdict, []).split())
    assert "set the coil aside or have it rewound" in said
    assert "Or leave it alone" in said


def test_the_opposite_answer_takes_it_away(shorted: tuple[list[Reading], int]) -> None:
    """Whatever else is read as it was: with sparks as a sound coil gives them nothing is condemned."""
    taken, number = shorted
    row = stored.imagined().runs[CONFIRMING][number]
    if abs(row[1] - 1.0) < 0.2:
        pytest.skip("this one gives one spark a pulse with a sound condenser too")
    before = judge(taken, next_steps=False, without=number)
    after = judge([*taken, as_reading(CONFIRM, 1.0)], next_steps=False, without=number)
    assert dict(after.odds)[SHORTED] < dict(before.odds)[SHORTED]
    assert not (after.sure and after.cause is SHORTED)


@pytest.mark.parametrize("store", ["own", "makes"])
def test_both_stores_know_the_bench(store: str) -> None:
    own = stored.imagined() if store == "own" else makes.centred(())
    assert CONFIRMING in own.runs
    assert "with a known-good condenser" in stored.known_benches(own)
    assert stored.stored_setting(replace(CONFIRMING, bench=replace(CONFIRMING.bench, rpm=455.0)), own) == CONFIRMING
    assert stored.stored_setting(Setting(replace(CONFIRMING.bench, aid="contacts")), own) is None
    well = own.own(0)
    middle = sorted(own.runs[CONFIRMING][number][1] for number in well)[len(well) // 2]
    assert middle == pytest.approx(1.0, abs=0.02)


def test_a_sound_condenser_mends_a_bad_one_and_no_short() -> None:
    (base,) = well_set(1, 7)
    plain = Setting(Bench(450.0, 1.0))

    def sparks(cause: str, setting: Setting) -> float:
        return outcome(spoilt(base, BY_KEY[cause], 0.1 if cause == "shorted_turns" else 0.3), setting)[1]

    for cause in ("condenser_small", "leakage", "condenser_large"):
        assert sparks(cause, CONFIRMING) == pytest.approx(1.0, abs=0.05)
    assert abs(sparks("shorted_turns", CONFIRMING) - 1.0) > 0.3
    assert abs(sparks("shorted_turns", plain) - 1.0) > 0.3


HEAD = "coil,reading,value,speed_rpm,aid\n"


def test_the_sheet_takes_it() -> None:
    sheet = parse((HEAD + "Oak,sparks per pulse,0.2,450,\nOak,sparks per pulse,1,450,Condenser\n").encode())
    assert not sheet.messages
    own = standing(sheet.coils["Oak"])
    assert [(one.value, one.helped) for one in own] == [(0.2, ""), (1.0, "condenser")]
    assert asked(own[1], CONFIRMING.gap) == CONFIRM
    assert AIDS["condenser"] in own[1].bench.say()  # type: ignore[union-attr]


@pytest.mark.parametrize(("line", "said"), [
    ("Oak,sparks per pulse,1,450,magic", "Row 2, column 'aid': 'magic' is nothing the sheet knows a coil to be helped with; "
     "write condenser or contacts, or leave it empty"),
    ("Oak,capacity,0.45,,condenser", "Row 2, column 'aid': 'condenser' means nothing for capacity, which is not taken on the "
     "running coil; the reading is used as of the coil as it is."),
])
def test_an_aid_that_is_none_is_said(line: str, said: str) -> None:
    sheet = parse((HEAD + line + "\n").encode())
    assert any(message.startswith(said) for message in sheet.messages), sheet.messages
    assert sheet.good == (1 if "capacity" in line else 0)


def test_a_helped_count_is_no_count_of_the_coil_as_it_is() -> None:
    """It neither makes a coil well set, nor belies a mark, nor is what the coil goes on as where it is left alone."""
    helped = as_reading(CONFIRM, 1.0)
    verdict = judge([helped, as_reading(Ask("opening_current", Setting(Bench(450.0, 1.0))), 5.5)])
    assert not verdict.counted
    assert not (verdict.sure and verdict.cause.key == "well_set")
    assert "Whether this one does" in leave(verdict)
    assert makes.belied([as_reading(CONFIRM, 2.0)]) is None
    assert makes.belied([as_reading(Ask("sparks", Setting(Bench(450.0, 1.0))), 2.0)]) is not None


def test_lesson_10s_panel_asks_for_no_reading_that_it_has_not() -> None:
    """The confirming reading is none of its sliders: one setting in seven of shorted turns had ended in a traceback."""
    from lessons.panels import bench

    said = []
    for number in stored.imagined().own(CAUSES.index(SHORTED))[:36:3]:
        draw = random.Random(number)
        answers = {spot: stored.answer(spot.ask, number, draw) for spot in bench.SPOTS}
        values = {spot.key: min(max(spot.inside(value), spot.low), spot.high)
                  for spot, value in answers.items() if value is not None}
        for taken in (values, dict(list(values.items())[:5]), {key: value for key, value in values.items() if "450" in key}):
            said.append(bench.READINGS.compute(taken).sentence)
    named = [one for one in said if one.startswith(f"Likeliest: {SHORTED.name}")]
    assert named
    assert all("confirm it first" in one and "settles" not in one for one in named)
    assert not any("confirm it first" in one for one in said if one not in named)
