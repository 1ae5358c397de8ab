"""Lesson 0: what its presets, its replies and its text say is so in the model, in numbers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coilmodel import MagnetoDrive, simulate
from coilmodel.readings import read, sparks_in_pulses
from coilmodel.run import resting_place
from lessons.exercises import EXERCISES
from lessons.exercises import box as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import box as panel

NOTEBOOK = Path(panel.__file__).parents[1] / "00_what_is_in_the_box.ipynb"


def preset(label: str):
    return next(each for each in panel.PANEL.presets if each.label == label)


def picture(label: str):
    return panel.PANEL.picture(preset(label).values)


def at(rpm: float, preload: float, pulses: int = 16):
    return read(simulate(panel.machine(preload), MagnetoDrive(rpm), pulses=pulses))


def sparks(label: str) -> list[int]:
    ladder = picture(label).ladder
    return [list(ladder.pulse).count(row) for row in range(ladder.pulses)]


# -------------------------------------------------------------------------------------------------------- the panel
def test_slack_is_weak_and_stiff_sparks_again() -> None:
    assert set(sparks("Well set")) == {1}
    assert set(sparks("Too slack")) == {1}
    assert set(picture("Well set").ladder.weak) == {0}
    assert set(picture("Too slack").ladder.weak) == {1}, "small and hollow"
    assert sum(count > 1 for count in sparks("Too stiff")) >= 8, "others follow"
    good, slack, stiff = (at(panel.RPM, preload) for preload in (panel.PRELOAD, panel.SLACK, panel.STIFF))
    assert slack.break_arc_energy > 2.0 * slack.first_spark_energy, "most of the energy burns at the contacts"
    assert stiff.first_spark_energy < 0.8 * good.first_spark_energy
    assert stiff.opening_time.mean < good.opening_time.mean - 0.3e-3, "too soon"


def test_a_good_coil_draws_one_straight_column() -> None:
    ladder = picture("Well set").ladder
    assert max(ladder.angle) - min(ladder.angle) < 0.5  # degrees, of a pulse of 22.5
    stiff = picture("Too stiff").ladder
    columns = [[a for a, order in zip(stiff.angle, stiff.order, strict=True) if order == which] for which in (1, 2)]
    assert sum(columns[1]) / len(columns[1]) - sum(columns[0]) / len(columns[0]) > 3.0


@pytest.mark.parametrize("label", ["Well set", "Too slack", "Too stiff"])
def test_the_drawn_spark_does_not_flicker(label: str) -> None:
    """As many stretches of flash as the ladder has sparks in the pulse: a spark that goes out and comes again is one."""
    shown = panel.PANEL.picture(preset(label).values, whole=False).scene.spark
    stretches = sum(now > before for before, now in zip([0, *shown], shown))
    preload = preset(label).values.get("preload", panel.PRELOAD)
    run = simulate(panel.machine(preload), MagnetoDrive(panel.RPM), pulses=1, warm_up=2)
    assert stretches == sparks_in_pulses(run)[0]


def test_the_quick_picture_is_that_of_the_same_pulse() -> None:
    for label in ("Well set", "Too slack"):
        quick, whole = (panel.PANEL.picture(preset(label).values, whole=which) for which in (False, True))
        assert quick.ladder is None
        same = len(quick.scene.time) - 2  # the run of one pulse ends a row earlier
        assert same > 200
        for name in ("time", "vibrator", "cushion", "current", "spark"):
            assert list(getattr(quick.scene, name))[:same] == list(getattr(whole.scene, name))[:same]
        assert quick.scene.slowdown == 500.0


def test_the_words_of_the_picture_say_what_the_ladder_shows() -> None:
    assert picture("Well set").sentence == "One sound spark in every pulse: as it should be."
    assert picture("Too slack").sentence.startswith("One spark in every pulse, but too weak: ")
    assert picture("Too slack").sentence.endswith("A misfire each time.")
    assert "12 with 1" in picture("Too slack").alt
    assert "12 are too weak to light the charge" in picture("Too slack").alt
    stiff, counts = picture("Too stiff").sentence, sparks("Too stiff")
    assert stiff.startswith("Of 12 pulses, ")
    assert all(f"{counts.count(number)} give" in stiff for number in set(counts))
    quick = panel.PANEL.picture(preset("Too slack").values, whole=False)
    assert quick.sentence.startswith("One spark in this pulse, but too weak: ")
    assert "burn at the contacts" in panel.PANEL.picture({"preload": exercises._share(0.7)}).sentence
    asleep = simulate(panel.NOMINAL, MagnetoDrive(40.0), pulses=3)
    assert panel.in_plain_words(asleep) == "No spark in any pulse; there should be one."


def test_the_spark_flashes_only_once_the_contacts_are_apart() -> None:
    scene = picture("Well set").scene
    first = list(scene.spark).index(1)
    assert scene.vibrator[first] - scene.cushion[first] > 0.0
    assert min(scene.vibrator[i] - scene.cushion[i] for i in range(first)) < 0.002


# -------------------------------------------------------------------------------------------------------- the pulse
@pytest.mark.parametrize("rpm", [400.0, 420.0, 450.0, 480.0])
def test_the_steps_of_a_pulse(rpm: float) -> None:
    times = panel.one_pulse(rpm)
    assert list(times) == sorted(times, key=lambda name: times[name])
    ordered = sorted(times.values())
    assert ordered[0] > 0.0
    assert ordered[-1] < 60.0 / rpm / (2 * panel.NOMINAL.magneto.pole_pairs)
    assert min(b - a for a, b in zip(ordered, ordered[1:])) > 1e-6
    assert exercises.mover({"rpm": rpm}) == "together"


def test_a_slack_blade_is_left_behind_and_a_stiff_one_lets_go_early() -> None:
    good, slack, stiff = (at(panel.RPM, preload) for preload in (panel.PRELOAD, panel.SLACK, panel.STIFF))
    assert good.on_rivet == 1.0
    assert slack.on_rivet < 0.1
    assert stiff.opening_current.mean < 0.9 * good.opening_current.mean


def test_what_the_text_says_of_the_slow_test() -> None:
    """By hand the slack blade passes; on the road it misfires, with one spark in every pulse all the same."""
    road, hand = at(panel.RPM, panel.SLACK, 40), at(200.0, panel.SLACK, 40)
    assert road.misfired == 1.0
    assert road.single == hand.single == 1.0
    assert hand.misfired == 0.0
    assert at(panel.RPM, panel.PRELOAD, 40).misfired == 0.0


# -------------------------------------------------------------------------------------------------------- exercises
def test_six_of_four_kinds_one_of_them_a_prediction() -> None:
    of_lesson = [exercise for exercise in EXERCISES.values() if exercise.lesson == 0]
    assert len(of_lesson) == 6
    assert {exercise.kind for exercise in of_lesson} == {"choice", "ordering", "number", "sliders"}
    assert sum(exercise.prediction for exercise in of_lesson) == 1


def test_the_notebook_shows_each_exercise_once() -> None:
    code = "".join("".join(cell["source"]) for cell in json.loads(NOTEBOOK.read_text())["cells"] if cell["cell_type"] == "code")
    for exercise in exercises.EXERCISES:
        assert code.count(f'"{exercise.key}"') == 1
    assert code.count('panel("box")') == 1


def test_the_number_of_pulses_is_that_of_a_run() -> None:
    """In the time of three turns of the crank the model's coil gives as many sparks as the exercise says."""
    expected = exercises._pulses({"turns": 3.0})
    run = simulate(panel.NOMINAL, MagnetoDrive(panel.RPM), pulses=60)
    turn = 60.0 / panel.RPM
    begun = run.first_pulse * run.pulse_seconds
    fired = [o for o in run.openings if o.spark_time is not None and o.spark_time - begun < 3.0 * turn]
    assert len(fired) == pytest.approx(expected)
    assert set(sparks_in_pulses(run)) == {1}


def test_the_riddles_are_true_of_the_model() -> None:
    _, cushion = resting_place(panel.NOMINAL)
    travel = panel.NOMINAL.cushion.travel
    assert cushion == pytest.approx(-travel, abs=2e-6), "at rest the upper contact lies against the bridge"
    times = panel.one_pulse()
    assert 0.0 < times["part"] - times["rivet"] < 2e-5, "it has just met the rivet when the contacts part"
    assert 1e-4 < travel < 3e-4, "a few tenths of a millimetre"
    for wrong in (exercises._NEIGHBOUR, exercises._FAR):
        assert set(wrong) == set(exercises.RIDDLES) == set(exercises.PARTS)
        assert all(part != other for part, other in wrong.items())
    assert all(exercises._NEIGHBOUR[part] != exercises._FAR[part] for part in exercises.PARTS)


def test_the_edges_of_the_one_slider() -> None:
    """The beliefs of the set-the-slider task are judged wrong at every variant, the middle of the good stretch right."""
    for number in range(0, 50, 5):
        variant = exercises.COLUMN.variant(seed_of(f"learner {number}", "00-one-column"))
        assert not exercises.COLUMN.judge({"preload": variant["preload"]}, variant).passed
        for share in (1.0, 0.5, 1.5):  # the well-set coil of the panel, and either end: not for this car
            assert not exercises.COLUMN.judge({"preload": exercises._share(share)}, variant).passed, (share, variant)
        for share in (1.08, 1.12):
            assert exercises.COLUMN.judge({"preload": exercises._share(share)}, variant).passed, (share, variant)


def test_a_switched_off_condenser_still_has_most_of_its_charge() -> None:
    for number in range(50):
        variant = exercises.OFF.variant(seed_of(f"learner {number}", "00-switched-off"))
        assert exercises.still_there(variant) > 0.5
        assert exercises.still_there(variant) * variant["volts"] > 120.0
    badly = {"volts": 300.0, "seconds": 15.0, "leakage": 0.5}
    assert exercises.OFF.truth(badly) == "waited", "a leaky condenser would have given another answer"
