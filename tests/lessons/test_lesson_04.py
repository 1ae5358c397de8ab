"""Lesson 4: what its panels' presets, its replies and its text say is so in the model, in numbers."""

from __future__ import annotations

import math

import pytest

from coilmodel import MagnetoDrive, simulate
from coilmodel.readings import first_openings, read
from coilmodel.run import resting_place
from lessons.exercises import EXERCISES
from lessons.exercises import vibrator as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import vibrator as panel


def presets(which) -> dict:
    return {preset.label: preset for preset in which.presets}


def picture(which, label: str):
    return which.picture(presets(which)[label].values)


def shown(which, label: str) -> dict[str, float]:
    return {reading.label: reading.value for reading in picture(which, label).readings}


def at(rpm: float, drive: float = 1.0, **factors: float):
    return read(simulate(panel.NOMINAL.scaled(**factors), MagnetoDrive(rpm, drive), pulses=16))


# ------------------------------------------------------------------------------------------------------- statics
def test_statics_by_hand() -> None:
    m = panel.NOMINAL
    still = panel.statics(m)
    constant, gap, travel = m.coil.pull_constant, m.coil.magnetic_gap, m.cushion.travel
    on_bridge = m.vibrator.preload - m.cushion.preload - (m.vibrator.stiffness + m.cushion.stiffness) * travel
    assert still.sets_off == pytest.approx((gap + travel) * math.sqrt(on_bridge / constant), rel=1e-9)
    assert still.lets_go == pytest.approx(gap * math.sqrt(m.vibrator.preload / constant), rel=1e-9)
    assert still.snap_place == 0.0


def test_the_panel_and_the_model_rest_at_the_same_place_without_current() -> None:
    for values in ({}, {"cushion": 2.6}, {"preload": 1.6}):
        full = {**panel.BALANCE.defaults(), **values}
        m = panel.machine(full)
        _, cushion = resting_place(m)
        assert panel.resting_place(m, 0.0) == pytest.approx(cushion, abs=2e-6)


def test_a_current_raised_slowly_in_the_model_parts_the_points_between_the_two_static_currents() -> None:
    """The model's own statics: a strong magneto turned at a crawl. The pair jumps off its bridge at the lower current; the swing
    of the jump may carry it over the step at the rivet, so it parts no later than at the upper one."""
    still = panel.statics(panel.NOMINAL)
    for rpm, drive in ((30.0, 5.0), (40.0, 4.0), (60.0, 2.5)):
        first = first_openings(simulate(panel.NOMINAL, MagnetoDrive(rpm, drive), pulses=3, warm_up=1))
        for opening in first:
            assert 0.98 * still.sets_off < abs(opening.current) < still.lets_go
    damped = panel.NOMINAL.but(vibrator={"damping": 5.0})  # and with the swing taken out it comes near the upper one
    for rpm, drive in ((30.0, 5.0), (40.0, 3.0), (60.0, 2.0)):
        for opening in first_openings(simulate(damped, MagnetoDrive(rpm, drive), pulses=2, warm_up=1)):
            assert 0.94 * still.lets_go < abs(opening.current) < still.lets_go


def test_the_pair_jumps_and_does_not_creep() -> None:
    """Between bridge and rivet no steady current holds the pair: the balancing current falls all the way down."""
    m = panel.NOMINAL
    balance = [panel.current_to_balance(m, -m.cushion.travel * (1.0 - i / 50.0)) for i in range(50)]
    assert all(later < earlier for earlier, later in zip(balance, balance[1:]))
    still = panel.statics(m)
    for current in (still.sets_off * 1.001, 0.5 * (still.sets_off + still.lets_go), still.lets_go * 0.999):
        assert panel.resting_place(m, current) == 0.0
    assert panel.resting_place(m, still.sets_off * 0.999) == -m.cushion.travel
    assert panel.resting_place(m, still.lets_go * 1.001) is None


def test_presets_of_the_statics_panel_do_what_they_say() -> None:
    words = {label: picture(panel.BALANCE, label).sentence for label in presets(panel.BALANCE)}
    assert "hold the pair on its bridge" in words["Springs hold"]
    assert "waits there" in words["Just off the bridge"]
    assert "no place left" in words["Snapped over"]
    assert "hold the pair on its bridge" in words["More preload, same current"]
    assert "waits there" in words["Wider gap, same current"]
    wide, usual = shown(panel.BALANCE, "Wider gap, same current"), shown(panel.BALANCE, "Snapped over")
    assert wide["Springs hold at the rivet"] == usual["Springs hold at the rivet"]
    assert wide["Lets go at (statics)"] > 1.1 * usual["Lets go at (statics)"]

    def lines(label: str) -> tuple[list[float], list[float]]:
        springs, pull, _ = picture(panel.BALANCE, label).charts[0].lines
        return list(springs.y), list(pull.y)

    assert all(p > s for s, p in zip(*lines("Snapped over"), strict=True)), "over it everywhere"
    springs, pull = lines("Just off the bridge")
    rivet = 31  # the first place of the line at which the cushion no longer helps
    assert all(p > s for s, p in zip(springs[:rivet], pull[:rivet], strict=True))
    assert pull[rivet] < springs[rivet]
    springs, pull = lines("Springs hold")
    assert pull[0] < springs[0]


def test_every_corner_of_the_sliders_can_be_drawn() -> None:
    for which in (panel.BALANCE, panel.MOVING, panel.CURVE):
        for end in ("low", "high"):
            for control in which.controls:
                got = which.picture({control.symbol: getattr(control, end)}, whole=False)
                assert got.sentence.endswith(".")


# ------------------------------------------------------------------------------------------------------ in motion
def test_the_panels_pull_is_the_one_that_moves_the_model() -> None:
    """Newton's law on the strips: while the vibrator flies alone, from the parting to the core, what it gains in momentum is what
    pull less spring less damping have pushed, within 1 %."""
    run = simulate(panel.NOMINAL, MagnetoDrive(450.0), pulses=1, warm_up=2, record=(0, 0), rows_a_pulse=8000)
    s, v, opening = run.strips, panel.NOMINAL.vibrator, first_openings(run)[0]
    core = next(i for i, x in enumerate(s.vibrator) if x > 0.95 * v.stop)
    rows = [i for i in range(1, core) if s.time[i] > opening.time + 4e-5 and s.time[i + 1] > s.time[i] > s.time[i - 1]]

    def speed(i: int) -> float:
        return (s.vibrator[i + 1] - s.vibrator[i - 1]) / (s.time[i + 1] - s.time[i - 1])

    def force(i: int) -> float:
        return panel.pull_in(run, i) - panel.springs_hold(panel.NOMINAL, s.vibrator[i]) - v.damping * speed(i)

    pushed = sum(0.5 * (force(a) + force(b)) * (s.time[b] - s.time[a]) for a, b in zip(rows, rows[1:]))
    assert len(rows) > 20
    assert v.mass * (speed(rows[-1]) - speed(rows[0])) == pytest.approx(pushed, rel=0.01)


def test_presets_of_the_moving_panel_do_what_they_say() -> None:
    well, slow, more = (shown(panel.MOVING, label) for label in ("Well set", "Turned slowly", "More preload"))
    assert well["Sparks per pulse"] == slow["Sparks per pulse"] == more["Sparks per pulse"] == 1.0
    assert well["Opening current"] > 1.2 * well["Lets go at (statics)"]
    assert slow["Opening current"] == pytest.approx(slow["Lets go at (statics)"], rel=0.08)
    assert 1.05 < more["Opening current"] / well["Opening current"] < 1.15
    assert well["Lets go at (statics)"] * 0.95 < well["Leaves the bridge at"] < well["Opening current"]
    slack, hand = shown(panel.MOVING, "Too slack"), shown(panel.MOVING, "Too slack, turned slowly")
    assert slack["Opening current"] < 0.9 * well["Opening current"]
    assert slack["Opening time"] < well["Opening time"]
    assert slack["Spark energy, first spark"] < 0.9 * well["Spark energy, first spark"]
    assert hand["Sparks per pulse"] == pytest.approx(2.0, abs=0.1)
    assert set(picture(panel.MOVING, "Too slack, turned slowly").ladder.weak) == {1}, "neither of them strong enough"
    fast = {r.label: r.value for r in panel.MOVING.picture({"rpm": 700.0}).readings}
    tight = shown(panel.MOVING, "Too tight, at speed")
    assert tight["Arc energy as they part"] > 2.0 * fast["Arc energy as they part"]
    assert tight["Follow travel"] < fast["Follow travel"], "the cushion is left behind"
    weak = picture(panel.MOVING, "Too tight, weak magneto")
    assert "never open" in weak.sentence
    assert {r.label: r.value for r in weak.readings}["Sparks per pulse"] == 0.0


def test_the_real_pull_runs_over_the_static_one_at_the_rivet() -> None:
    (chart,) = picture(panel.MOVING, "Well set").charts
    springs, path, static = chart.lines
    assert list(path.x) == sorted(path.x)
    travel = 1e3 * panel.NOMINAL.cushion.travel
    place = next(i for i, way in enumerate(path.x) if way >= travel)
    still = next(i for i, way in enumerate(static.x) if way >= travel)
    assert path.y[place] > 1.1 * static.y[still]
    assert static.y[still] == pytest.approx(springs.y[still], rel=0.01)


def test_points_part_and_spark_together_and_closing_gives_no_spark() -> None:
    for rpm in (200.0, 450.0, 600.0):
        run = simulate(panel.NOMINAL, MagnetoDrive(rpm), pulses=4, warm_up=2)
        for opening in first_openings(run):
            assert opening.spark_time is not None
            assert 0.0 < opening.spark_time - opening.time < 1e-4
            assert (opening.closing_time or 0.0) - opening.spark_time > 3e-4


# ------------------------------------------------------------------------------------ preload and opening current
def test_opening_current_goes_nearly_with_the_root_of_the_preload() -> None:
    for rpm in (200.0, 450.0):
        low, high = (at(rpm, vibrator_preload=share).opening_current.mean for share in (1.0, 1.4))
        power = math.log(high / low) / math.log(1.4)
        assert 0.4 < power < 0.65, (rpm, power)


def test_presets_of_the_curve_do_what_they_say() -> None:
    def lines(label: str) -> dict[str, list[float]]:
        return {line.label: list(line.y) for line in picture(panel.CURVE, label).charts[0].lines}

    speed, slow, weak, wide = (lines(label) for label in ("At driving speed", "Turned slowly", "Weak magneto", "Wider gap"))
    pairs = zip(speed["as it runs"], speed["in step with the square root"], strict=True)
    assert all(abs(run / root - 1.0) < 0.08 for (run, root), share in zip(pairs, panel.SHARES, strict=True) if share >= 0.9)
    inside = [(run, still) for run, still in zip(slow["as it runs"], slow["by statics"], strict=True) if not math.isnan(run)]
    assert len(inside) >= 6
    assert all(abs(run / still - 1.0) < 0.1 for run, still in inside)
    assert math.isnan(slow["as it runs"][-1]), "the curve ends"
    assert math.isnan(weak["as it runs"][-1])
    assert all(w > u for w, u in zip(wide["as it runs"], speed["as it runs"], strict=True))
    assert all(s < u for s, u in zip(slow["as it runs"], speed["as it runs"], strict=True) if not math.isnan(s))


def test_pictures_while_a_slider_moves_cost_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []
    monkeypatch.setattr(panel, "simulate", lambda m, d, pulses, warm_up, **rest: counted.append(pulses + warm_up)
                        or simulate(m, d, pulses=pulses, warm_up=warm_up, **rest))
    panel.opening_current.cache_clear()
    for which, whole, most in ((panel.MOVING, False, 3), (panel.CURVE, False, 5), (panel.MOVING, True, 20),
                               (panel.CURVE, True, 50), (panel.BALANCE, True, 0)):
        counted.clear()
        which.picture({}, whole=whole)
        assert sum(counted) <= most


# ----------------------------------------------------------------------------------------------------- the text
def test_more_spring_is_not_safer() -> None:
    """The table of the lesson: each setting but the well-set one fails somewhere, and each in the way that the text says."""
    days = ((450.0, 1.0), (150.0, 1.0), (700.0, 1.0), (450.0, 0.6))

    def table(share: float):
        return [at(rpm, drive, vibrator_preload=share) for rpm, drive in days]

    well, slack, tight, tighter = (table(share) for share in (1.0, 0.7, 1.5, 1.8))
    assert all(day.single == 1.0 and day.misfired == 0.0 for day in well)
    assert slack[1].sparks_per_pulse == pytest.approx(2.0, abs=0.1)
    assert slack[1].misfired == 1.0
    assert slack[0].first_spark_energy < 0.9 * well[0].first_spark_energy
    assert tight[1].none == tight[3].none == tighter[1].none == tighter[3].none == 1.0
    assert tight[2].break_arc_energy > 2.0 * well[2].break_arc_energy
    assert tighter[2].break_arc_energy > tight[2].break_arc_energy
    assert tight[0].first_spark_energy > 1.1 * well[0].first_spark_energy


def test_the_vibrator_of_another_gap_cannot_be_copied_from_the_well_set_coil() -> None:
    """Neither the preset's preload nor an untouched start, nor the opposite repair."""
    for v in variants("04-set-the-vibrator", 6):
        task = EXERCISES["04-set-the-vibrator"]
        opposite = exercises._share(0.45 if v["preload"] > exercises.PRELOAD else 1.8)
        for preload in (exercises.PRELOAD, v["preload"], opposite):
            assert not task.judge({"preload": preload}, v).passed, (preload, v)


def test_very_slowly_it_parts_a_little_under_statics() -> None:
    slowest = at(120.0).opening_current.mean
    assert 0.85 < slowest / panel.statics(panel.NOMINAL).lets_go < 0.98


# ------------------------------------------------------------------------------------------------------ exercises
def variants(key: str, count: int = 12) -> list[dict]:
    return [EXERCISES[key].variant(seed_of(f"learner {n}", key)) for n in range(count)]


def test_lesson_four_is_whole() -> None:
    of_four = [exercise for exercise in EXERCISES.values() if exercise.lesson == 4]
    assert {exercise.kind for exercise in of_four} == {"number", "choice", "ordering", "sliders", "function"}
    assert len(of_four) == 8
    assert sum(exercise.prediction for exercise in of_four) == 1
    caught = {belief.key for exercise in of_four for belief in exercise.misconceptions}
    assert caught >= {"spark-at-closing", "one-end-is-safe", "statics-always-holds"}


def test_choices_have_the_answer_that_the_model_gives_everybody() -> None:
    assert {EXERCISES["04-more-preload"].truth(v) for v in variants("04-more-preload", 50)} == {"half"}
    assert {EXERCISES["04-statics-or-dynamics"].truth(v) for v in variants("04-statics-or-dynamics", 50)} == {"under-way"}


def test_lighter_blades_part_nearer_to_statics() -> None:
    """What the answer "time under way" says, tried the other way round: with a quarter of the mass there is less time."""
    light = at(450.0, vibrator_mass=0.25, cushion_mass=0.25).opening_current.mean
    still = panel.statics(panel.NOMINAL).lets_go
    assert still < light < still + 0.75 * (at(450.0).opening_current.mean - still)


def test_currents_to_be_ordered_are_well_apart() -> None:
    for v in variants("04-four-settings"):
        found = sorted(exercises._current(preload, rpm) for preload, rpm in v["coils"])
        assert min(b - a for a, b in zip(found, found[1:])) > 0.2


def test_numbers_against_their_formulas_by_hand() -> None:
    for v in variants("04-spring-for-a-current"):
        assert EXERCISES["04-spring-for-a-current"].truth(v) == pytest.approx(v["preload"] * (v["wants"] / v["has"]) ** 2)
    for v in variants("04-wider-gap"):
        assert EXERCISES["04-wider-gap"].truth(v) == pytest.approx(v["current"] * v["wider"] / v["gap"])
    for v in variants("04-when-the-spark"):
        parted, spark, closed = exercises._one_pulse(v["rpm"])
        assert parted < spark < parted + 0.1 < closed
        angles = read(exercises._run(exercises.PRELOAD, v["rpm"])).firing_angle
        assert EXERCISES["04-when-the-spark"].truth(v) == pytest.approx(angles.mean, rel=0.03)


def test_judging_takes_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser's Python takes some 12 ms a pulse, and a learner waits two or three seconds, not ten."""
    counted = []

    def counting(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return simulate(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    monkeypatch.setattr(exercises, "simulate", counting)
    exercises._one_pulse.cache_clear()
    for exercise in exercises.EXERCISES:
        variant = exercise.variant(seed_of("a learner who never was", exercise.key))
        counted.clear()
        exercise.prompt(variant)
        exercise.form(variant)
        assert sum(counted) <= 20, exercise.key
        answer = exercise.form(variant)["start"] if exercise.kind == "sliders" else exercise.misconceptions[0].answer(variant)
        exercise.judge(answer, variant)
        assert sum(counted) <= 100, exercise.key


def test_the_middle_that_replies_go_by_lies_among_the_good_settings() -> None:
    exercise = EXERCISES["04-set-the-vibrator"]
    for n in range(0, 50, 7):
        variant = exercise.variant(seed_of(f"learner {n}", exercise.key))
        assert exercise.judge({"preload": round(exercises._middle(variant), 2)}, variant).passed, variant
