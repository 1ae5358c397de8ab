"""Lesson 8: every claim of its presets, replies and text, in numbers of the model."""

from __future__ import annotations

import json
import math

import pytest

from coilbench import windows
from coilmodel import Machine, MagnetoDrive, TimerDrive, simulate
from coilmodel.readings import read, sparks_in_pulses
from coilmodel.timing import firing_angle
from lessons.contracts import pack
from lessons.exercises import EXERCISES
from lessons.exercises import car as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import bad_coils
from lessons.panels import car as panel


def preset(of, label: str):
    return of.picture(next(p for p in of.presets if p.label == label).values)


def value(picture, label: str) -> float:
    return next(r for r in picture.readings if r.label == label).value


def first(lever: float, rpm: float = 450.0, drive: float = 100.0) -> float:
    return panel.window(panel.NOMINAL, rpm, drive, lever, panel.WIDTH)[0].angle


@pytest.mark.parametrize("of", panel.PANELS, ids=lambda p: p.name)
def test_presets_are_within_the_sliders_and_pictures_can_be_sent(of) -> None:
    for one in of.presets:
        packed = pack(of.picture(one.values))
        json.dumps(packed.tree, allow_nan=False)
        assert of.picture(one.values, whole=False).sentence


# ---------------------------------------------------------------------------------------------- one window, from rest
def test_every_window_of_a_coil_is_like_the_first() -> None:
    """What lets the lesson run one window for all: at these speeds the blades are at rest before the next one."""
    for rpm in (200.0, 450.0, 900.0):
        run = simulate(Machine(), TimerDrive(rpm, window_start=panel.TOP - 33.0, window_width=panel.WIDTH), pulses=3, warm_up=0)
        angles = [[o.crank_angle for o in run.openings if o.fired and o.pulse == n] for n in range(3)]
        assert angles[0]
        assert angles[1] == pytest.approx(angles[0], abs=0.05)
        assert angles[2] == pytest.approx(angles[0], abs=0.05)


def test_a_lever_one_pulse_later_fires_one_pulse_later() -> None:
    for lever in (-40.0, -33.0, -18.0, -15.0):
        assert first(lever + panel.PULSE) - first(lever) == pytest.approx(panel.PULSE, abs=0.05)


def test_a_quarter_of_a_cycle_later_the_next_cylinder_meets_the_magneto_alike() -> None:
    angles = []
    for quarter in range(3):  # the fourth would begin beyond the drive's limits
        drive = TimerDrive(450.0, window_start=panel.TOP - 33.0 + 180.0 * quarter, window_width=panel.WIDTH)
        run = simulate(Machine(), drive, pulses=1, warm_up=0)
        angles.append(next(o.crank_angle for o in run.openings if o.fired) - 180.0 * quarter)
    assert angles == pytest.approx([angles[0]] * 3, abs=0.05)


def test_in_the_car_every_window_is_alike_and_on_the_bench_a_stiff_coil_is_restless() -> None:
    stiff = Machine().scaled(cushion_preload=bad_coils.STIFF)
    timer = TimerDrive(450.0, window_start=panel.TOP - 33.0, window_width=panel.WIDTH)
    for coil in (Machine(), stiff):
        run = simulate(coil, timer, pulses=8, warm_up=1)
        assert read(run).firing_angle.scatter < 0.02
        assert len(set(sparks_in_pulses(run))) == 1
    assert len(set(sparks_in_pulses(simulate(stiff, MagnetoDrive(450.0), pulses=40)))) > 1


# ----------------------------------------------------------------------------------------------- the lever and its steps
def test_lever_presets_do_what_they_say() -> None:
    at = {label: value(preset(panel.LEVER, label), "First spark")
          for label in ("Driving", "Five degrees later", "Last of the step", "Over the edge", "Starting by hand", "Wide window")}
    energy = {label: value(preset(panel.LEVER, label), "Spark energy, first spark") for label in at}
    assert abs(at["Five degrees later"] - at["Driving"]) < 1.0
    assert at["Last of the step"] - at["Driving"] > 6.0
    assert energy["Last of the step"] < 0.8 * energy["Driving"]
    assert value(preset(panel.LEVER, "Last of the step"), "Sparks in the window") == 2
    assert at["Over the edge"] - at["Last of the step"] > 0.5 * panel.PULSE
    assert value(preset(panel.LEVER, "Over the edge"), "Sparks in the window") == 1
    assert at["Starting by hand"] > 0.0
    assert at["Driving"] < 0.0
    assert value(preset(panel.LEVER, "Narrow window"), "Sparks in the window") == 0
    assert value(preset(panel.LEVER, "Wide window"), "Sparks in the window") == 2
    wide = panel.window(panel.NOMINAL, 450.0, 100.0, -33.0, 50.0)
    assert wide[1].angle - wide[0].angle == pytest.approx(panel.PULSE, abs=1.5)
    delay = at["Driving"] - (-panel.TOP_AFTER_ZERO - panel.PULSE)
    assert 0.4 * panel.PULSE < delay < 0.6 * panel.PULSE  # "about half a pulse later"


def test_the_staircase_has_flats_and_edges_and_rises_by_a_pulse_for_a_pulse() -> None:
    lever, angle = panel.stairs(panel.NOMINAL, 450.0, 100.0, panel.WIDTH)
    steps = [b - a for a, b in zip(angle, angle[1:], strict=False)]
    assert sum(abs(step) < 0.5 * panel.STAIR for step in steps) > 0.4 * len(steps)
    assert sum(step > 0.4 * panel.PULSE for step in steps) == pytest.approx((lever[-1] - lever[0]) / panel.PULSE, abs=1.0)
    count = round(panel.PULSE / panel.STAIR)
    assert all(b - a == pytest.approx(panel.PULSE) for a, b in zip(angle, angle[count:], strict=False))
    place = len(lever) // 2
    assert panel.window(panel.NOMINAL, 450.0, 100.0, lever[place], panel.WIDTH)[0].angle == pytest.approx(angle[place], abs=0.05)


def test_between_the_flats_the_spark_is_dragged_and_then_there_is_nothing() -> None:
    """What the text says of the staircase: weaker up to the edge, and angles that no lever gives; the chart shows them."""
    lever, angle = panel.stairs(panel.NOMINAL, 450.0, 100.0, panel.WIDTH)
    edge, last, earliest = next(one for one in panel.edges(lever, angle) if one[1] < 0.0 < one[2])
    assert not any(last + 0.1 < a < earliest - 0.1 for a in angle)
    assert earliest - last > 0.4 * panel.PULSE
    dragged = [panel.window(panel.NOMINAL, 450.0, 100.0, edge - back, panel.WIDTH)[0] for back in (4.5, 3.0, 1.5, 0.0)]
    assert [spark.angle for spark in dragged] == sorted(spark.angle for spark in dragged)
    assert dragged[-1].energy < 0.8 * dragged[0].energy
    for one in panel.LEVER.presets:
        chart = panel.LEVER.picture(one.values).charts[0]
        if one.label == "Narrow window":  # which lets nothing fire on the flat
            continue
        assert chart.bands, one.label
        assert chart.y.high - chart.y.low < 75.0  # a step is a fifth of the height or more
        assert chart.x.low <= {**panel.LEVER.defaults(), **one.values}["lever"] <= chart.x.high
        for band in chart.bands:
            assert not any(band.low + 0.1 < a < band.high - 0.1 for a in chart.lines[0].y)


def test_a_third_of_the_way_between_the_marks_is_what_the_exercise_accepts() -> None:
    """What the text advises passes the lesson's own exercise."""
    key = exercises.LEVER.key
    lever, angle = panel.stairs(panel.NOMINAL, 450.0, 100.0, panel.WIDTH)
    marks = [at + 0.5 * panel.STAIR for at, _, _ in panel.edges(lever, angle)]
    for n in range(0, 50, 5):
        of = exercises.LEVER.variant(seed_of(f"learner {n}", key))
        for before, after in zip(marks, marks[1:], strict=False):
            advised = round(2.0 * (before + (after - before) / 3.0)) / 2.0
            fires = panel.window(panel.NOMINAL, of["rpm"], 100.0, advised, 26.0)
            if fires and exercises.SOONEST <= fires[0].angle <= exercises.LATEST:
                assert exercises.LEVER.judge({"lever": advised, "width": 26.0}, of).passed, of
                break
        else:
            raise AssertionError(of)


def test_speed_hardly_moves_the_steps() -> None:
    flats = [first(-33.0, rpm) for rpm in (200.0, 450.0, 900.0, 1500.0)]
    assert max(flats) - min(flats) < 0.2 * panel.PULSE


def test_the_rule_of_whole_pulses_is_the_model_on_the_flat() -> None:
    zero = -panel.TOP_AFTER_ZERO
    opening = first(zero - panel.PULSE - 1.0) - (zero - panel.PULSE)
    for lever in (-54.0, -33.0, -32.0, -10.0):
        assert first(lever) == pytest.approx(firing_angle(lever - zero, opening) + zero, abs=0.6)


def test_piston_at_the_ends_and_by_hand() -> None:
    assert panel.piston(0.0) == 0.0
    assert panel.piston(180.0) == pytest.approx(1.0)
    # from the geometry: crank pin at (sin, cos), rod of ROD to the piston on the axis
    angle, r = math.radians(-19.5), panel.ROD
    height = math.cos(angle) + math.sqrt(r * r - math.sin(angle) ** 2)
    assert panel.piston(-19.5) == pytest.approx((1.0 + r - height) / 2.0)


# --------------------------------------------------------------------------------------------------------- four coils
def test_four_coil_presets_do_what_they_say() -> None:
    spread = {one.label: value(panel.FOUR.picture(one.values), "Spread of the first sparks") for one in panel.FOUR.presets}
    assert spread["Matched"] < 0.2
    assert spread["Equal spring force"] > 0.5
    assert spread["As found"] > 1.2
    assert spread["As found, hand-cranked"] > 1.3 * spread["As found"]
    assert spread["Worn timer, on the step"] < 1.5
    assert spread["Worn timer, at the edge"] > 0.5 * panel.PULSE
    edge = next(one for one in panel.FOUR.presets if one.label == "Worn timer, at the edge")
    worn = panel.rows_of({**panel.FOUR.defaults(), **edge.values}, panel.TURNS)
    assert sum(len(sparks) == 2 for _, sparks in worn) > 0.5 * len(worn)
    assert any(len(sparks) == 1 and sparks[0].angle > 0.0 for _, sparks in worn)
    rows = panel.rows_of(panel.FOUR.defaults(), 2)
    assert [sparks for _, sparks in rows[:4]] == [sparks for _, sparks in rows[4:]]  # the zigzag repeats
    for rpm in (200.0, 700.0, 900.0):
        assert panel.spread_of(panel.rows_of({**panel.FOUR.defaults(), **panel.MATCHED, "rpm": rpm}, 1)) < 0.6


def test_the_play_is_within_its_limits_and_always_the_same() -> None:
    shifts = [panel.play_of(turn, place, 3.0) for turn in range(10) for place in range(4)]
    assert all(-3.0 <= shift <= 3.0 for shift in shifts)
    assert min(shifts) < -1.5
    assert max(shifts) > 1.5
    assert shifts == [panel.play_of(turn, place, 3.0) for turn in range(10) for place in range(4)]
    assert panel.play_of(3, 2, 0.0) == 0.0


def test_panels_take_few_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """A window is two turns of the crank: while a slider moves there are four at most, and the whole picture has sixteen."""
    runs = []
    real = windows.simulate
    monkeypatch.setattr(windows, "simulate", lambda *args, **named: runs.append(1) or real(*args, **named))
    for of, quick, whole in ((panel.LEVER, 1, 16), (panel.FOUR, 4, 12), (panel.SCATTER, 0, 0)):
        for full, most in ((False, quick), (True, whole)):
            panel.window.cache_clear()
            runs.clear()
            of.picture({"rpm": 470.0, **({"play": 3.0} if of is panel.FOUR else {})}, whole=full)
            assert len(runs) <= most


# ---------------------------------------------------------------------------------------------------------- exercises
def test_remedies_of_the_late_pulse() -> None:
    for n in range(0, 50, 5):
        variant = exercises.LATE.variant(seed_of(f"learner {n}", exercises.LATE.key))
        spread = {remedy: exercises.remedy_spread(variant, remedy) for remedy in exercises.REMEDIES}
        assert spread["lever"] < 1.0
        assert min(spread["springs"], spread["drive"]) > 5.0
        assert spread["nothing"] > 0.5 * panel.PULSE
        angles = [sparks[0].angle for _, sparks in exercises._late_rows(variant)]
        assert min(angles) < 0.0 < max(angles)  # as its prompt says


def test_both_outcomes_of_the_prediction_are_drawn() -> None:
    key = exercises.MOVED.key
    assert {exercises.MOVED.truth(exercises.MOVED.variant(seed_of(f"learner {n}", key))) for n in range(50)} == {"stays", "jumps"}


def test_lesson_eight_has_its_kinds() -> None:
    of_eight = [exercise for exercise in EXERCISES.values() if exercise.lesson == 8]
    assert {exercise.kind for exercise in of_eight} == {"number", "choice", "ordering", "sliders", "function"}
    assert "moves-smoothly" in {belief.key for exercise in of_eight for belief in exercise.misconceptions}
