"""Lesson 9: the virtual coil, its sheet and log; every claim of presets, replies, table and text, in numbers of the model."""

from __future__ import annotations

import json
import math
from collections import Counter

import pytest

from lessons.cells import at
from lessons.contracts import pack
from lessons.exercises import EXERCISES
from lessons.exercises import setting_up as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import setting_up as panel
from lessons.panels.setting_up import State

NUMBERS = range(1, panel.COILS + 1)
NOMINAL = panel.NOMINAL


def preset(label: str):
    return panel.PANEL.picture(next(p for p in panel.PANEL.presets if p.label == label).values)


def met(state: State) -> int:
    return sum(panel.fires_well(state, rpm, drive) for _, rpm, drive in exercises.JUDGED)


def scaled(**factors: float) -> State:
    return State(NOMINAL.scaled(**factors))


# ---------------------------------------------------------------------------------------------------- the hidden coils
def test_every_coil_is_bad_as_found_and_can_be_mended_within_its_lines() -> None:
    for number in NUMBERS:
        faults = panel.faults_of(number)
        assert len(faults) == (1 if number <= 20 else 2 if number <= 40 else 3)
        assert len({fault.what for fault in faults}) == len(faults)
        assert met(panel.as_found(number)) < len(exercises.JUDGED), number
        moves = panel.lines_of(exercises.mending(number, panel.LINES))
        assert len(moves) <= 2 * len(faults)
        assert met(panel.work_on(number, moves)) == len(exercises.JUDGED), (number, faults)


def test_every_kind_of_fault_turns_up_and_a_number_is_always_the_same_coil() -> None:
    kinds = Counter(fault.kind for number in NUMBERS for fault in panel.faults_of(number))
    assert set(kinds) == {kinds_[0].kind for kinds_ in panel.FAULTS}
    assert min(kinds.values()) >= 4
    assert [panel.faults_of(number) for number in NUMBERS] == [panel.faults_of(number) for number in NUMBERS]
    assert [fault.kind for fault in panel.faults_of(4)] == ["leakage"]  # a coil keeps its faults from one release to the next


def test_no_single_repair_mends_a_coil_with_two_faults() -> None:
    for number in range(21, 41):
        for fault in panel.faults_of(number):
            assert met(panel.work_on(number, fault.mended_by)) < len(exercises.JUDGED), (number, fault)


def test_looks_change_nothing_and_lines_left_empty_are_passed_over() -> None:
    assert panel.work_on(7, list(panel.LOOKS)) == panel.as_found(7)
    assert panel.lines_of({"line1": "v+", "line2": panel.NOTHING, "line3": "springs"}) == ["v+", "springs"]
    assert panel.lines_of({"line1": "v+", "line5": "springs"}, count=4) == ["v+"]
    there_and_back = panel.work_on(7, ["v+", "v-"]).machine.vibrator.preload
    assert there_and_back == pytest.approx(panel.as_found(7).machine.vibrator.preload)


def test_a_bend_never_takes_a_blade_out_of_the_model() -> None:
    for move in panel.BENDS:
        panel.PANEL.picture({"coil": 30.0, **panel.sheet(*[move] * panel.LINES)})


# ------------------------------------------------------------------------------------------------- the panel, the log
def test_presets_and_pictures_can_be_sent() -> None:
    for one in panel.PANEL.presets:
        json.dumps(pack(panel.PANEL.picture(one.values)).tree, allow_nan=False)
        assert panel.PANEL.picture(one.values, whole=False).sentence


def test_the_picture_never_says_what_is_wrong() -> None:
    """As found, nothing but the bench's readings: two coils that read alike give pictures alike but for their number."""
    texts = []
    for number in (2, 3):  # both with a small condenser, of which only a look can say so
        picture = panel.PANEL.picture({"coil": float(number)})
        for word in ("uF", "ohm", "mH", "preload", "factor", "fault", " N ", "mm"):
            assert word not in picture.sentence + picture.alt
        texts.append(" ".join(entry.text for entry in picture.readings))
    assert texts[0] == texts[1]


def test_the_log_has_one_entry_a_line_in_order() -> None:
    picture = panel.PANEL.picture({"coil": 4.0, **panel.sheet("springs", "c+", "condenser")})
    labels = [entry.label for entry in picture.readings]
    assert labels[:2] == ["A good coil, good magneto", "As found"]
    assert labels[2:] == [f"{n}. {panel.MOVES[move]}" for n, move in enumerate(("springs", "c+", "condenser"), 1)]
    assert "3 lines" in picture.sentence


def test_presets_do_what_they_say() -> None:
    found, guess, looked = preset("As found"), preset("Bent by guess"), preset("Looked first")
    assert "full" in found.readings[0].text
    assert "thin" in found.readings[1].text or "thread" in found.readings[1].text
    assert all("thin" in entry.text or "thread" in entry.text for entry in guess.readings[1:])
    assert "at once" in looked.readings[3].text
    assert looked.readings[-1].text.endswith(f"{len(panel.RANGE)} of {len(panel.RANGE)} speeds and drives")
    whose = preset("Whose fault?")
    assert whose.readings[2].text.endswith(whose.readings[1].text)  # the good coil there does just the same
    assert whose.readings[0].text != whose.readings[1].text


def test_a_bridge_at_the_winding_against_complex_numbers() -> None:
    for loss in (30.0, 300.0):
        machine = NOMINAL.but(coil={"core_resistance": loss})
        coil = 2j * math.pi * 1000.0 * machine.coil.primary_inductance
        impedance = coil * loss / (coil + loss)
        assert panel.inductance_seen(machine) == pytest.approx(impedance.imag / (2.0 * math.pi * 1000.0))
    assert panel.inductance_seen(NOMINAL.but(coil={"core_resistance": 35.0})) < 0.85 * panel.inductance_seen(NOMINAL)


def test_the_panel_takes_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []
    real = panel.simulate

    def simulate(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return real(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    monkeypatch.setattr(panel, "simulate", simulate)
    full_sheet = panel.sheet("v+", "v+", "c+", "c-", "swap", "springs", "dress", "travel")
    for whole, most in ((False, 20), (True, 80)):
        panel.reading.cache_clear()
        counted.clear()
        panel.PANEL.picture({"coil": 45.0, "rpm": 470.0, **full_sheet}, whole=whole)
        assert sum(counted) <= most


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
        assert panel.strength(scaled(**name), 450.0, 100.0) < panel.FULL
        assert panel.strength(scaled(**name), 200.0, 100.0) < 0.95, "thin by hand too, or nearly"
    flashes = {
        key: "points flash" in panel.bench_words(scaled(**factor), 450.0, 100.0) for key, factor in {
            "small": {"condenser_capacitance": 0.1}, "slack": {"cushion_preload": 0.4}, "leak": {"condenser_leakage_resistance":
                      4e-6}, "tight": {"cushion_preload": 1.6}}.items()
    }
    assert flashes == {"small": True, "slack": True, "leak": False, "tight": False}
    for slow_only in (scaled(contacts_resistance=40.0), State(NOMINAL, 0.6)):
        assert panel.reading(slow_only, 200.0, 100.0).none == 1.0
        assert panel.reading(slow_only, 450.0, 100.0).single == 1.0
    assert panel.reading(scaled(cushion_preload=1.75), 200.0, 100.0).multiple == 1.0, "stiff: several weak sparks by hand"
    slack = scaled(cushion_preload=0.43)
    assert panel.strength(slack, 200.0, 100.0) >= panel.FULL
    assert panel.reading(slack, 450.0, 100.0).misfired == panel.reading(slack, 580.0, 100.0).misfired == 1.0


# ---------------------------------------------------------------------------------------------------------- exercises
def test_the_signs_are_those_that_the_replies_speak_of() -> None:
    for n in range(50):
        variant = exercises.NEXT.variant(seed_of(f"learner {n}", exercises.NEXT.key))
        state, rpm = exercises.sign_state(variant), variant["rpm"]
        good = panel.bench_words(panel.GOOD, rpm, 100.0)
        swapped = panel.bench_words(State(NOMINAL, state.drive), rpm, 100.0)
        current = panel.reading(state, rpm, 100.0).opening_current.mean
        change = abs(current - panel.reading(panel.GOOD, rpm, 100.0).opening_current.mean)
        if exercises.NEXT.truth(variant) == "magneto":
            assert swapped != good
        elif variant["sign"] == "slack":
            assert swapped == good
            assert change < 0.2
            assert panel.strength(state, exercises.HAND, 100.0) >= panel.FULL > panel.strength(state, rpm, 100.0)
        else:
            assert swapped == good
            assert (change > 0.3) == (exercises.NEXT.truth(variant) == "springs")
            assert change > 0.3 or change < 0.15
            if exercises.NEXT.truth(variant) == "condenser":
                assert panel.strength(state, exercises.HAND, 100.0) < 0.9


def test_a_sheet_with_fewer_lines_cannot_be_overfilled() -> None:
    variant = exercises.ONE.variant(1)
    verdict = exercises.ONE.judge({**exercises.ONE.truth(variant), "line5": "v+"}, variant)
    assert not verdict.passed
    assert "does not belong" in verdict.message


def test_lesson_nine_has_its_kinds() -> None:
    of_nine = [exercise for exercise in EXERCISES.values() if exercise.lesson == 9]
    assert {exercise.kind for exercise in of_nine} == {"number", "choice", "ordering", "sliders", "function"}
