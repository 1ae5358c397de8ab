"""Lesson 9: the bench as a panel, its log, and every claim of presets, replies, table and text, in numbers of the model.

The bench itself, its coils and what is lost on it: test_workbench.py. Its face: test_face_lines.py.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lessons.cells import at
from lessons.contracts import pack
from lessons.exercises import EXERCISES
from lessons.exercises import setting_up as exercises
from lessons.exercises.kinds import NotAnAnswer, seed_of
from lessons.panels import setting_up as panel
from lessons.panels import workbench as bench
from lessons.panels.workbench import LINES, NOMINAL, State

from .bench_hand import suspects

NUMBERS = range(1, bench.COILS + 1)


def preset(label: str):
    return panel.PANEL.picture(next(p for p in panel.PANEL.presets if p.label == label).values)


def met(state: State) -> int:
    return len(bench.PLACES) - len(bench.not_well(state))


def scaled(**factors: float) -> State:
    return State(NOMINAL.scaled(**factors))


def judged(number: int, *lines: str):
    """Return the verdict on a coil handed back with these lines on its log."""
    return (exercises.ONE if number <= 20 else exercises.TWO).judge(list(lines), {"coil": number})


# ------------------------------------------------------------------------------------------------- the panel, the log
def test_presets_and_pictures_can_be_sent() -> None:
    for one in panel.PANEL.presets:
        json.dumps(pack(panel.PANEL.picture(one.values)).tree, allow_nan=False)


def test_the_picture_never_says_what_is_wrong() -> None:
    """As it came, nothing but what a person sees of a coil at work; a log of runs alone names no part's number."""
    for number in NUMBERS:
        picture = panel.TASK.picture({"coil": float(number), "log": ["run"]})
        for word in ("\u00b5F", "ohm", "mH", "preload", "factor", "fault", " N ", " mm"):
            assert word not in picture.sentence + picture.alt + "".join(line.text for line in picture.log)


def test_the_log_has_one_entry_a_line_in_order() -> None:
    lines = ["cushion force", "bend cushion up little", "condenser"]
    picture = panel.PANEL.picture({"coil": 4.0, "log": lines})
    labels = [entry.label for entry in picture.log]
    assert labels == ["As it came, on the road",
                      *(f"{n}. {bench.BY_KEY[key].label}" for n, key in zip((1, 2, 3), lines, strict=True))]
    assert [entry.value for entry in picture.log] == [0.0, 1.0, 1.0, 3.0], "the condenser is sound, and takes three lines"
    assert picture.sentence.endswith(f"{LINES - 5} lines left.")
    assert all(" ".join(line.text.split()) in picture.alt for line in picture.log)


def test_presets_do_what_they_say() -> None:
    found, guess, looked = preset("As it came"), preset("Bent by guess"), preset("Looked first")
    assert found.log == guess.log[:1] == looked.log[:1]
    assert "thin" in found.log[0].text or "thread" in found.log[0].text
    assert "cannot be taken back" in guess.log[2].text
    leak = bench.PRACTICE_FROM - 1 + int(panel._with("leak"))
    bent = bench.replay(leak, ["bend cushion up much", "bridge", "new condenser", "run"])
    assert bench.not_well(bent.state), "its condenser mended, it is still not well: two faults now"
    assert "at once" in looked.log[2].text
    assert looked.sentence.startswith("4. Run over the whole range: well at all")
    whose = preset("Whose fault?")
    run, swap = (line.text.split("\n") for line in (whose.log[1], whose.log[2]))
    assert run[1] == swap[1], "by hand the good coil does just the same"
    assert "better" in swap[-1]
    alone = preset("Leave it alone")
    assert alone.log[1].text.endswith("Well at every place, on a cold magneto and a strong one too.")
    assert alone.sentence.startswith("2. Condenser, held apart:")
    assert "Sound" in alone.sentence
    assert bench.as_found(bench.PRACTICE_FROM - 1 + int(panel._with(""))) != bench.GOOD, "not quite a good coil's numbers"


def test_the_panel_takes_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []
    real = bench.simulate

    def simulate(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return real(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    monkeypatch.setattr(bench, "simulate", simulate)
    panel.PANEL.picture({"coil": 6.0, "log": []})
    for lines, most in (([], 30), (["run"], 60), (["run", "bend vibrator up much", "run"], 60)):
        counted.clear()
        panel.PANEL.picture({"coil": 6.0, "log": lines})
        assert sum(counted) <= most, lines  # what stood before is kept


# ----------------------------------------------------------------------------------- the order of work: the model's reasons
def test_a_coil_set_on_a_weak_magneto_fires_twice_on_a_sound_one() -> None:
    for n in range(0, 50, 5):
        variant = exercises.WEAK.variant(seed_of(f"learner {n}", exercises.WEAK.key))
        weak, sound = exercises.weak_and_sound(variant)
        assert weak.single == 1.0
        assert sound.multiple > 0.3
        assert at(200.0, variant["drive"] / 100.0).sparks_per_pulse == 0.0  # a good coil does not fire there at all


def test_dirty_points_lead_to_the_same_mistake() -> None:
    """Points that cost the hand crank its sparks: an eased vibrator brings them back, and is wrong once the points are clean."""
    assert at(200.0, contacts_resistance=25.0).sparks_per_pulse == 0.0
    assert at(200.0, contacts_resistance=25.0, vibrator_preload=0.75).single == 1.0
    assert met(scaled(vibrator_preload=0.75)) < 3


def test_vibrator_before_cushion() -> None:
    """A cushion that was right for the vibrator as it was is wrong once that is put right."""
    assert met(scaled(vibrator_preload=1.3, cushion_preload=1.6)) == 5
    assert met(scaled(vibrator_preload=1.0, cushion_preload=1.6)) < 3
    assert met(scaled(vibrator_preload=1.3, cushion_preload=0.8)) < 3
    assert met(scaled(vibrator_preload=0.75, cushion_preload=0.7)) > met(scaled(vibrator_preload=0.75)) + 1
    assert met(scaled(cushion_preload=0.7)) < 5


def test_the_travel_comes_before_the_springs() -> None:
    """With a short travel no cushion does: it must be right before anybody turns to the springs."""
    assert max(met(scaled(cushion_travel=0.25, cushion_preload=share)) for share in (0.3, 0.45, 0.6, 0.8, 1.0, 1.2)) < 4


def test_no_spring_makes_up_for_a_leak() -> None:
    thin = at(450.0, condenser_leakage_resistance=3e-6).first_spark_energy
    assert at(450.0, condenser_leakage_resistance=3e-6, cushion_preload=1.2).first_spark_energy < thin
    assert thin < 0.6 * at(450.0).first_spark_energy


def test_the_lesson_states_the_lines_and_the_coils_that_there_are() -> None:
    words = ("nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    text = (Path(panel.__file__).parents[1] / "09_setting_up.ipynb").read_text(encoding="utf-8")
    assert text.count(f"of {words[LINES]} lines") >= 2
    assert f"another coil of the practice box: there are {words[len(bench.PRACTICE)]}" in text


def test_the_table_tells_a_slack_cushion_from_a_small_condenser() -> None:
    """Every degree of either that there is on the bench, by hand: one has a full spark at too high a current, one a weak one."""
    for fault in bench.KINDS["slack"]:
        here = bench.seen(scaled(**{fault.number: fault.factor}), bench.HAND, 100.0)
        assert here.spark == "full"
        assert here.current > 1.06 * bench.seen(bench.GOOD, bench.HAND, 100.0).current
        assert here.points != "dark"
    for fault in bench.KINDS["small"]:
        for rpm in (bench.HAND, bench.ROAD, bench.FAST):
            here = bench.seen(scaled(**{fault.number: fault.factor}), rpm, 100.0)
            assert here.spark != "full"
            assert here.points == "flash" or rpm == bench.FAST


def test_the_table_names_the_part_from_the_first_run() -> None:
    """Of every fault that there is on the bench, alone, to every degree: the first look is at its part, or clears the magneto."""
    good = bench._run(1, bench.BY_KEY["run"], bench.GOOD)
    for kind, faults in bench.KINDS.items():
        for fault in faults if kind != "creep" else ():  # which no run shows
            state = State(NOMINAL, fault.factor) if fault.number == "drive" else scaled(**{fault.number: fault.factor})
            first = suspects(bench._run(1, bench.BY_KEY["run"], state), good)
            assert first[0] == fault.part or first[:2] == ["magneto", fault.part], (kind, fault.factor, first)


def test_the_table_of_looks() -> None:
    current = {
        name: at(450.0, **factors).opening_current.mean / at(450.0).opening_current.mean for name, factors in {
            "tight": {"cushion_preload": 1.6}, "eased": {"vibrator_preload": 0.72}, "travel": {"cushion_travel": 0.2},
            "points": {"contacts_resistance": 40.0}, "weak": {"drive": 0.58}, "slack": {"cushion_preload": 0.4},
            "stiff": {"vibrator_preload": 1.3}, "small": {"condenser_capacitance": 0.1},
            "leak": {"condenser_leakage_resistance": 4e-6}, "winding": {"coil_core_resistance": 0.1},
        }.items()
    }
    assert max(current[name] for name in ("tight", "eased", "travel", "points", "weak")) < 0.93
    assert current["stiff"] > 1.05
    assert all(abs(current[name] - 1.0) < 0.03 for name in ("slack", "small", "leak", "winding"))
    for name in ({"condenser_capacitance": 0.1}, {"condenser_leakage_resistance": 4e-6}, {"coil_core_resistance": 0.1}):
        assert bench.strength(scaled(**name), 450.0, 100.0) < bench.FULL
        assert bench.strength(scaled(**name), 200.0, 100.0) < 0.95, "thin by hand too, or nearly"
    flashes = {
        key: "points flash" in bench.seen(scaled(**factor), 450.0, 100.0).words for key, factor in {
            "small": {"condenser_capacitance": 0.1}, "slack": {"cushion_preload": 0.4}, "leak": {"condenser_leakage_resistance":
                      4e-6}, "tight": {"cushion_preload": 1.6}}.items()
    }
    assert flashes == {"small": True, "slack": True, "leak": False, "tight": False}
    for slow_only in (scaled(contacts_resistance=40.0), State(NOMINAL, 0.6)):
        assert bench.reading(slow_only, 200.0, 100.0).none == 1.0
        assert bench.reading(slow_only, 450.0, 100.0).single == 1.0
    assert bench.reading(scaled(cushion_preload=1.75), 200.0, 100.0).multiple == 1.0, "stiff: several weak sparks by hand"
    slack = scaled(cushion_preload=0.43)
    assert bench.strength(slack, 200.0, 100.0) >= bench.FULL
    assert bench.reading(slack, 450.0, 100.0).misfired == bench.reading(slack, 580.0, 100.0).misfired == 1.0


# ---------------------------------------------------------------------------------------------------------- exercises
def test_the_signs_are_those_that_the_replies_speak_of() -> None:
    for n in range(50):
        variant = exercises.NEXT.variant(seed_of(f"learner {n}", exercises.NEXT.key))
        state, rpm = exercises.sign_state(variant), variant["rpm"]
        good = bench.seen(bench.GOOD, rpm, 100.0).words
        swapped = bench.seen(State(NOMINAL, state.drive), rpm, 100.0).words
        current = bench.reading(state, rpm, 100.0).opening_current.mean
        change = abs(current - bench.reading(bench.GOOD, rpm, 100.0).opening_current.mean)
        if exercises.NEXT.truth(variant) == "magneto":
            assert swapped != good
        elif variant["sign"] == "slack":
            assert swapped == good
            assert change < 0.2
            assert bench.strength(state, exercises.HAND, 100.0) >= bench.FULL > bench.strength(state, rpm, 100.0)
        else:
            assert swapped == good
            assert (change > 0.3) == (exercises.NEXT.truth(variant) == "springs")
            assert change > 0.3 or change < 0.15
            if exercises.NEXT.truth(variant) == "condenser":
                assert bench.strength(state, exercises.HAND, 100.0) < 0.9


@pytest.mark.parametrize("number", NUMBERS)
def test_the_way_that_is_shown_is_right_and_fits_the_sheet(number: int) -> None:
    way = exercises.a_way(number)
    assert bench.replay(number, way).used <= LINES
    assert judged(number, *way).passed
    if bench.replay(number, way).used < LINES:
        assert not judged(number, *way, "dress points").passed, "one piece of work too many"


def test_replies_name_the_slip_in_the_log_and_never_what_to_do() -> None:
    slack = next(n for n in NUMBERS if bench.PLANS[n - 1] == ("slack",))
    reply = judged(slack, "run", "bend cushion up much", "run")
    assert reply.misconception == "bends-before-reading"
    assert reply.message.startswith("Line 2 (tighten cushion by much): you bent the cushion before you had read its force.")
    reply = judged(slack, "run", "condenser", "new condenser", "run")
    assert reply.misconception == "mends-to-be-safe"
    assert reply.message.startswith("Line 5 (new condenser): your own look before it")
    reply = judged(slack, "run", "cushion force", "run")
    assert "Line 2 (force of the cushion) found what is not a good coil's" in reply.message
    reply = judged(slack, "run", "drop", "run")
    assert "no line has looked at yet" in reply.message
    wrong_way = judged(slack, "cushion force", "bend cushion down much", "run")
    assert "nobody has read since" in wrong_way.message
    for verdict in (reply, wrong_way):
        assert not verdict.passed
        for side in ("more", "less", "tight", "slack", "stiff", "too high", "too low", "up", "down"):
            assert f" {side} " not in verdict.message.split("(", 1)[0] + verdict.message.rsplit(")", 1)[-1]


def test_the_opposite_repair_is_marked_wrong_for_every_blade() -> None:
    tried = 0
    for number in NUMBERS:
        way = exercises.a_way(number)
        turned = [key.replace(" up ", " UP ").replace(" down ", " up ").replace(" UP ", " down ") for key in way]
        if turned != way:
            tried += 1
            assert not judged(number, *turned).passed, (number, turned)
    assert tried >= 12


def test_a_sound_coil_left_alone_is_right_and_one_handed_back_unseen_is_not() -> None:
    for number in (n for n in NUMBERS if not bench.PLANS[n - 1]):
        assert judged(number, "run", "condenser").passed
        assert judged(number, "run", "cushion force", "condenser").passed
        unseen = judged(number, "run")
        assert unseen.misconception == "a-run-shows-all"
        assert not unseen.passed
        assert "tells nothing" in judged(number, "run", "cushion force").message
        assert not judged(number, "cushion force", "condenser").passed
        assert not judged(number, "cushion force", "bend cushion up little", "run").passed


def test_the_leak_is_judged_by_itself() -> None:
    """A condenser that begins to leak runs well, is found by its own look only, and is not to be handed back."""
    number = next(n for n in NUMBERS if bench.PLANS[n - 1] == ("creep",))
    missed = [point.words for point in exercises._points(["run", "cushion force"], {"coil": number}) if not point.met]
    assert missed[0].startswith("It runs, but it is not sound.")
    assert "found what is not a good coil's" in judged(number, "run", "condenser").message
    assert judged(number, "run", "condenser", "new condenser", "run").passed


@pytest.mark.parametrize(("what", "state"), [
    ("points that flash", {"cushion_preload": 0.45}), ("a current that is off", {"vibrator_preload": 1.31}),
    ("a weak spark", {"condenser_leakage_resistance": 4e-6}), ("two sparks", {"cushion_preload": 1.75}),
])
def test_an_end_is_judged_on_all_that_the_lesson_calls_good(what: str, state: dict[str, float]) -> None:
    assert bench.not_well(scaled(**state)), what


def test_an_overfull_or_foreign_log_is_no_try() -> None:
    for answer in (["run"] * (LINES + 1), ["run", "saw"], {"log": ["run"]}, "run", ["run", 3]):
        verdict = exercises.ONE.judge(answer, {"coil": 3})
        assert isinstance(verdict, NotAnAnswer)
        assert not verdict.passed


def test_lesson_nine_has_its_kinds() -> None:
    of_nine = [exercise for exercise in EXERCISES.values() if exercise.lesson == 9]
    assert {exercise.kind for exercise in of_nine} == {"number", "choice", "ordering", "log", "function"}
