"""Lesson 3: what its panels' presets, its replies and its text say is so in the model, in numbers."""

from __future__ import annotations

import math

import pytest

from coilmodel import MagnetoDrive, simulate
from coilmodel.condenser import arc_free_speed, meter_with_contacts, self_discharge
from coilmodel.readings import first_openings, read
from lessons.exercises import EXERCISES
from lessons.exercises import condenser as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import condenser as panel


def presets(which) -> dict:
    return {preset.label: preset for preset in which.presets}


def shown(which, label: str) -> dict[str, float]:
    return {reading.label: reading.value for reading in which.picture(presets(which)[label].values).readings}


def race(label: str):
    """Return the run and the first opening behind a preset of the race."""
    values = {**panel.RACE.defaults(), **presets(panel.RACE)[label].values}
    run = panel._run(values, 1)
    return run, first_openings(run)[0]


# ------------------------------------------------------------------------------------------------------- the race
@pytest.mark.parametrize("label", list(presets(panel.RACE)))
def test_an_arc_strikes_just_where_the_two_curves_of_the_race_meet(label: str) -> None:
    """The dashed line is the kernel's own rule: without an arc the voltage is under it everywhere; an arc begins on it."""
    _, opening = race(label)
    chart = panel.RACE.picture(presets(panel.RACE)[label].values, whole=False).charts[0]
    voltage, strength = (line.y for line in chart.lines)
    assert all(v <= 1.01 * s + 1.0 for v, s in zip(voltage, strength, strict=True))
    met = [mark for mark in chart.marks if mark.label == "an arc strikes"]
    assert bool(met) == (opening.arc_strikes > 0 and opening.break_arc_energy > 0.0)
    assert list(chart.lines[0].x) == sorted(chart.lines[0].x)


def test_the_right_condenser_wins_and_none_loses() -> None:
    right, none = shown(panel.RACE, "Right condenser"), shown(panel.RACE, "No condenser")
    assert right["Arc energy as they part"] < 1e3 * panel.FLICKER
    assert none["Lead at the start (under 1 an arc strikes)"] < 0.1
    assert none["Arc energy as they part"] > 15.0
    assert none["Spark energy"] == none["Sparks per pulse"] == 0.0, "dead, and its points burn: what preset and text say"
    assert "lost" in panel.RACE.picture(presets(panel.RACE)["No condenser"].values).sentence
    assert "won" in panel.RACE.picture(presets(panel.RACE)["Right condenser"].values).sentence
    small = shown(panel.RACE, "Too small")
    assert small["Arc energy as they part"] > 5.0
    assert small["Spark energy"] < 0.9 * right["Spark energy"]


def test_the_energy_is_in_the_field_when_the_points_part() -> None:
    for label in presets(panel.RACE):
        got = shown(panel.RACE, label)
        assert got["In the condenser as they part"] < 0.001 * got["In the field as they part"]


def test_the_condenser_that_holds_most_gives_no_spark() -> None:
    right, large = shown(panel.RACE, "Right condenser"), shown(panel.RACE, "Too large")
    assert large["In the condenser at most"] > 1.3 * right["In the condenser at most"]
    assert large["In the condenser at most"] > 0.8 * large["In the field as they part"], "nearly all there is"
    assert large["Spark energy"] == large["Arc energy as they part"] == large["Sparks per pulse"] == 0.0


def test_a_large_condenser_spreads_the_energy_too_thin() -> None:
    (_, large), (_, right) = race("Too large"), race("Right condenser")
    assert large.break_arc_energy == 0.0
    assert large.peak_contact_voltage < 0.7 * right.peak_contact_voltage


def test_the_gap_fires_again_at_each_swing_until_the_points_close() -> None:
    run, opening = race("Right condenser")
    assert opening.sparks > 2
    assert read(run).sparks_per_pulse == 1.0
    assert (opening.closing_time or math.inf) - opening.time < 1.5e-3


def test_leaks_take_the_spark_and_not_the_race() -> None:
    right, leaky, short = (shown(panel.RACE, label) for label in ("Right condenser", "Leaky", "As good as shorted"))
    assert max(leaky["Arc energy as they part"], short["Arc energy as they part"]) < 1e3 * panel.FLICKER
    assert leaky["Spark energy"] < 0.6 * right["Spark energy"]
    assert short["Spark energy"] == 0.0
    assert short["Highest voltage across the points"] < 0.4 * right["Highest voltage across the points"]


@pytest.mark.parametrize("label", list(presets(panel.RACE)))
def test_the_energy_strips_add_up_to_the_runs_own_count(label: str) -> None:
    """Spark and arc, added up from the strips, against the kernel's counts over the same opening: the spark within 8 % (observed
    worst 6 %: a gap that fires again and again is read between its rows), the arc within 2 %. And nothing comes from nowhere:
    without an arc, what is stored and spent is never more than was in the field and what the magneto adds meanwhile."""
    run, opening = race(label)
    rows = panel._rows(run, opening, panel.AFTERWARDS)
    found = panel.energies(run, opening, rows)
    until = opening.closing_time if opening.closing_time is not None else math.inf
    closing = next((place for place, i in enumerate(rows) if run.strips.time[i] >= until), len(rows)) - 1
    assert found["spark"][closing] == pytest.approx(opening.spark_energy, rel=0.08, abs=1e-9)
    whole = run.strips.time[rows[-1]] >= until  # else the opening outlasts the strips
    if whole:
        assert found["arc"][closing] == pytest.approx(opening.arc_energy, rel=0.02, abs=1e-6)
    assert found["field"][0] == pytest.approx(opening.stored_energy, rel=0.01)
    if opening.break_arc_energy < panel.FLICKER:  # an arc keeps the magneto's circuit closed, and it goes on giving
        stands = [sum(values) for values in zip(*found.values(), strict=True)]
        assert max(stands[:closing]) < 1.06 * found["field"][0]


# ------------------------------------------------------------------------------------------------- the best value
def curve(**values) -> dict[float, tuple[float, float]]:
    full = {**panel.ENERGY.defaults(), **values}
    return {c: panel.energy_of(c, full["leakage"], full["gap"], full["rpm"]) for c in panel.SWEEP}


def largest_that_fires(points: dict[float, tuple[float, float]]) -> float:
    return max(c for c, (spark, _) in points.items() if spark > 0.0)


def test_spark_energy_goes_over_a_hill() -> None:
    points = curve(**presets(panel.ENERGY)["Gap under compression"].values)
    best = max(points, key=lambda c: points[c][0])
    assert 0.1 < best < 0.8
    assert points[panel.SWEEP[0]][0] < 0.7 * points[best][0]
    assert points[panel.SWEEP[-1]][0] == 0.0
    assert points[panel.SWEEP[0]][1] > 10.0
    assert points[0.45][1] < 1e3 * panel.FLICKER


def test_presets_of_the_energy_panel_do_what_they_say() -> None:
    easy, hard, slow, leaky = (curve(**presets(panel.ENERGY)[label].values) for label in
                               ("Easy gap", "Gap under compression", "Starting, gap under compression", "Leaky condenser"))
    assert largest_that_fires(easy) == panel.SWEEP[-1]
    assert largest_that_fires(slow) < largest_that_fires(hard) < largest_that_fires(easy)
    assert all(leaky[c][0] < 0.9 * max(hard.values())[0] for c in leaky)
    assert all(leaky[c][0] <= hard[c][0] for c in leaky)


def test_the_quick_picture_of_the_energy_panel_costs_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []
    monkeypatch.setattr(panel, "simulate", lambda m, d, pulses, warm_up, **rest: counted.append(pulses + warm_up)
                        or simulate(m, d, pulses=pulses, warm_up=warm_up, **rest))
    panel.energy_of.cache_clear()
    panel.ENERGY.picture({"capacity": 0.51}, whole=False)
    assert sum(counted) <= 3
    panel.ENERGY.picture({"capacity": 0.51})
    assert sum(counted) <= 50


# ------------------------------------------------------------------------------------------------- self-discharge
def test_presets_of_the_discharge_panel_do_what_they_say() -> None:
    def words(label: str) -> str:
        return panel.DISCHARGE.picture(presets(panel.DISCHARGE)[label].values).sentence

    found = shown(panel.DISCHARGE, "Doubtful condenser")
    assert found["Leakage resistance of the condenser"] == pytest.approx(5e6, rel=1e-6)
    assert "give or take" in words("Doubtful condenser")
    left_on = shown(panel.DISCHARGE, "Sound, meter left on")
    assert left_on["Last reading"] < 20.0
    assert left_on["Resistance seen, meter and condenser"] == pytest.approx(1e7, rel=0.01), "nearly all of it is the meter"
    assert shown(panel.DISCHARGE, "Sound, meter touched on")["Last reading"] > 99.0
    for label in ("Sound, meter left on", "Sound, meter touched on", "Wait too short"):
        assert "no figure" in words(label)
        assert "above" in words(label)
    lost = 100.0 - shown(panel.DISCHARGE, "Wait too short")["Last reading"]
    assert lost < panel.DISCHARGE.defaults()["doubt"], "the loss is smaller than the doubt"
    assert shown(panel.DISCHARGE, "Wait too long")["Last reading"] < 0.01


def test_the_bound_lies_under_the_truth() -> None:
    for leak, _ in panel.TRUE_LEAKS:
        for meter, _ in panel.METERS:
            for wait in (0.5, 2.0, 10.0):
                picture = panel.DISCHARGE.picture({"true_leak": leak, "meter": meter, "wait": wait})
                bound = [r.value for r in picture.readings if r.label.startswith("Surely")]
                assert all(value < float(leak) for value in bound)


def test_the_worked_example_of_the_text() -> None:
    """Meter and leak of 10 Mohm each, by hand: 5 Mohm seen, so a fall to exp(-2 s / (5 Mohm x 0.45 uF)) = 0.411."""
    got = self_discharge(100.0, 100.0 * math.exp(-2.0 / (5e6 * 0.45e-6)), 2.0, 0.45e-6, 10e6)
    assert got.resistance == pytest.approx(10e6, rel=1e-9)


# ---------------------------------------------------------------------------------------------------- the meter
def test_closed_points_show_the_same_for_every_condenser() -> None:
    picture = panel.CAPACITY_METER.picture(presets(panel.CAPACITY_METER)["As it lies"].values)
    readings = picture.charts[0].lines[0].y
    assert max(readings) / min(readings) < 1.001
    assert min(readings) > 1000.0
    assert "Any other condenser" in picture.sentence


def test_points_held_apart_show_the_capacity_and_hardly_the_leak() -> None:
    assert shown(panel.CAPACITY_METER, "Points held apart")["Meter shows"] == pytest.approx(panel.CAPACITY, rel=1e-3)
    assert shown(panel.CAPACITY_METER, "Leaky, held apart")["Meter shows"] == pytest.approx(panel.CAPACITY, rel=0.07)
    very = shown(panel.CAPACITY_METER, "Very leaky, held apart")
    assert very["Meter shows"] == pytest.approx(panel.CAPACITY, rel=0.02)
    assert very["Resistive over capacitive current (D)"] > 1.0
    through = shown(panel.CAPACITY_METER, "Through the primary")["Meter shows"] / panel.CAPACITY
    assert 1.01 < through < 1.08


def test_these_leaks_take_the_spark_that_the_presets_say() -> None:
    def spark(leak: str) -> float:
        return exercises._readings(panel.CAPACITY, 10.0, 450.0, leakage=leak).first_spark_energy

    assert spark("1e3") < 0.72 * spark("20e6"), "nearly a third"
    assert spark("1e2") < 0.6 * spark("20e6"), "about half"
    assert spark("1e6") > 0.97 * spark("20e6"), "a megohm is not felt"
    assert spark("20") == 0.0


# ----------------------------------------------------------------------------------------------------- the text
def test_burnt_points_stop_it_at_cranking_speed_first() -> None:
    burnt = panel.NOMINAL.but(contacts={"resistance": 1.0})
    assert read(simulate(burnt, MagnetoDrive(450.0), pulses=10)).sparks_per_pulse == 1.0
    slow = read(simulate(burnt, MagnetoDrive(200.0), pulses=10))
    assert slow.sparks_per_pulse == 0.0
    assert slow.opening_current.mean is None, "the current no longer opens the points"


# ------------------------------------------------------------------------------------------------------ exercises
def variants(key: str, count: int = 12) -> list[dict]:
    return [EXERCISES[key].variant(seed_of(f"learner {n}", key)) for n in range(count)]


def test_lesson_three_is_whole() -> None:
    of_three = [exercise for exercise in EXERCISES.values() if exercise.lesson == 3]
    assert {exercise.kind for exercise in of_three} == {"number", "choice", "ordering", "sliders", "function"}
    assert len(of_three) == 9
    assert sum(exercise.prediction for exercise in of_three) == 1
    caught = {belief.key for exercise in of_three for belief in exercise.misconceptions}
    assert caught >= {"condenser-stores-the-spark", "bigger-is-stronger", "leakage-shows-as-wrong-capacity",
                      "read-with-points-closed"}


def test_sparks_to_be_ordered_are_well_apart() -> None:
    for v in variants("03-order-the-condensers"):
        found = sorted(1e3 * exercises._readings(c, 14.0, v["rpm"]).first_spark_energy for c in v["capacities"])
        fired = [energy for energy in found if energy > 0.0]
        assert len(fired) >= len(found) - 1
        assert min(b / a for a, b in zip(fired, fired[1:])) > 1.1


def test_the_predicted_outcome_is_the_same_for_everybody() -> None:
    assert {EXERCISES["03-no-condenser"].truth(v) for v in variants("03-no-condenser", 50)} == {"burns"}
    assert {EXERCISES["03-who-holds-most"].truth(v) for v in variants("03-who-holds-most")} == {"less"}


def test_the_two_bench_readings_tell_the_fault() -> None:
    for v in variants("03-two-tests", 50):
        capacity, left = exercises.bench_readings(v)
        told = ("leak" if left < 50.0 else "") + ("capacity" if abs(capacity / v["marked"] - 1.0) > 0.2 else "")
        assert told == v["fault"], v


def test_numbers_against_their_formulas_by_hand() -> None:
    for v in variants("03-fast-enough"):
        assert EXERCISES["03-fast-enough"].truth(v) == pytest.approx(v["current"] / (1e-6 * v["capacity"]) / 55e6)
    for v in variants("03-points-closed"):
        by_hand = 1e9 / (2.0 * math.pi * v["frequency"] * v["contacts"])
        assert EXERCISES["03-points-closed"].truth(v) == pytest.approx(by_hand, rel=1e-3)
    for v in variants("03-self-discharge"):
        seen = v["wait"] / (v["capacity"] * math.log(v["volts"] / v["left"]))
        assert EXERCISES["03-self-discharge"].truth(v) == pytest.approx(1.0 / (1.0 / seen - 0.1), rel=1e-9)
    assert arc_free_speed(5.5, 1e-6) == pytest.approx(0.1)
    assert meter_with_contacts(1e-6, 1e9, 1000.0, True).magnitude == pytest.approx(1e-6)


def test_judging_takes_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser's Python takes some 12 ms a pulse, more without a condenser: a learner waits two or three seconds, not ten."""
    counted = []

    def counting(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return simulate(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    monkeypatch.setattr(exercises, "simulate", counting)
    for exercise in exercises.EXERCISES:
        variant = exercise.variant(seed_of("a learner who never was", exercise.key))
        counted.clear()
        exercise.prompt(variant)
        exercise.form(variant)
        assert sum(counted) <= 20, exercise.key
        answer = exercise.form(variant)["start"] if exercise.kind == "sliders" else exercise.misconceptions[0].answer(variant)
        exercise.judge(answer, variant)
        assert sum(counted) <= 100, exercise.key
