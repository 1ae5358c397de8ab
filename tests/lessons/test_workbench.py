"""The workbench of lesson 9: its coils, its log, what is lost and what can be taken back; and that each coil can be reasoned out.

`bench_hand.py` is a hand that knows nothing but what the log says. That it wins every coil makes each of them fair; that
thoughtless lists win none makes the log worth reading.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import permutations
from random import Random

import pytest

from lessons.panels import workbench as bench
from lessons.panels.workbench import BENDS, BY_KEY, GOOD, LINES, NOMINAL, PLACES, PLANS, State, replay

from .bench_hand import HABITS, LOOK, PARTS, WORK, Bench, lines_for

NUMBERS = range(1, bench.COILS + 1)
PRACTICE = range(bench.PRACTICE_FROM, bench.PRACTICE_FROM + len(bench.PRACTICE))
GOOD_RUN = bench._run(1, BY_KEY["run"], GOOD)
ROTE = 0.15, 0.3
"""Of the coils of PLANS, fixed orders of looks win such a share on an average at most, and the one that is best for them."""


def bench_of(number: int) -> Bench:
    return lambda lines: replay(number, lines).entries


def reasoned(number: int) -> list[str]:
    """Return the lines of the hand that reasons, for coil `number`."""
    return lines_for(bench_of(number), GOOD_RUN)


# ------------------------------------------------------------------------------------------------------- fair and not idle
@pytest.mark.parametrize("number", [*NUMBERS, *PRACTICE])
def test_a_hand_that_reasons_from_the_log_wins_every_coil(number: int) -> None:
    log = replay(number, reasoned(number))
    assert log.holds, [entry.text for entry in log.entries]
    assert log.used <= LINES
    works = [entry for entry in log.entries if entry.tool.kind == "work"]
    assert bool(works) == bool(bench.faults_of(number)), "a sound coil is left alone"


def test_there_are_coils_of_every_sort_and_a_number_is_always_the_same_coil() -> None:
    assert len(PLANS) == 40
    many = Counter(map(len, PLANS))
    assert many[0] >= 5
    assert many[2] >= 12
    kinds = Counter(kind for plan in PLANS for kind in plan)
    assert set(kinds) == set(bench.KINDS)
    assert all(len({fault.part for fault in bench.faults_of(number)}) == len(bench.faults_of(number)) for number in NUMBERS)
    for half in (PLANS[:20], PLANS[20:]):  # of either half there is something of each, so that an exercise gives nothing away
        assert {len(plan) for plan in half} == {0, 1, 2}
    bench.as_found.cache_clear()
    before = [bench.as_found(number) for number in NUMBERS]
    bench.as_found.cache_clear()
    assert before == [bench.as_found(number) for number in NUMBERS]


def test_a_fault_shows_and_a_sound_coil_runs_well() -> None:
    for number in (*NUMBERS, *PRACTICE):
        faults, state = bench.faults_of(number), bench.as_found(number)
        if set(faults) & set(bench.KINDS["creep"]):  # the one that no run shows
            assert not bench.not_well(state)
            assert bench.leaks(state)
        else:
            assert bool(bench.not_well(state)) == bool(faults), number
            assert faults or not bench.leaks(state)


def test_no_single_repair_mends_a_coil_with_two_faults() -> None:
    for number in (n for n in NUMBERS if len(bench.faults_of(n)) == 2):
        for key, tool in BY_KEY.items():
            if tool.kind == "work":
                assert bench.not_well(bench.after(bench.as_found(number), key, number)), (number, key)


def test_no_list_of_lines_is_right_for_all() -> None:
    lists = {number: reasoned(number) for number in NUMBERS}
    for lines in {tuple(lines) for lines in lists.values()}:
        right = [number for number in NUMBERS if replay(number, lines).holds]
        for number in right:  # it is right where its very repairs are called for, of those that had room
            works = {entry.tool.part for entry in replay(number, lines).entries if entry.tool.kind == "work" and entry.takes}
            assert works == {fault.part for fault in bench.faults_of(number)}
        assert len(right) <= 7, (lines, right)


def test_doing_every_repair_or_one_after_the_other_passes_nowhere() -> None:
    every = [*WORK.values()][: LINES - 1]
    cycled = [[key, "run"] for key, tool in BY_KEY.items() if tool.kind == "work"]
    cycled += [[key, "take back", other, "run"] for key in WORK.values() for other in WORK.values()]
    looked = [[LOOK[BY_KEY[key].part], key, "run"] for key, tool in BY_KEY.items() if tool.kind == "work"]
    for number in NUMBERS:
        assert not replay(number, [*every, "run"]).holds
        assert not any(replay(number, lines).holds for lines in cycled), number
        if len(bench.faults_of(number)) != 1:  # and one look with its repair only where that is the one that is called for
            assert not any(replay(number, lines).holds for lines in looked), number


def test_looks_in_a_fixed_order_win_few_coils() -> None:
    """Every order of the seven looks, with each habit of running: counted by lines, and the best, the worst and others played."""
    faulty = {number: frozenset(fault.part for fault in bench.faults_of(number)) for number in NUMBERS}
    orders = list(permutations(PARTS))
    for habit, rote in HABITS.items():
        won = {order: sum(rote.mends(faulty[number], order) for number in NUMBERS) for order in orders}
        best = max(orders, key=won.__getitem__)
        assert sum(won.values()) / len(orders) <= ROTE[0] * len(NUMBERS), habit
        assert won[best] <= ROTE[1] * len(NUMBERS), (habit, best, won[best])
        for order in (best, PARTS, PARTS[::-1], ("cushion", "vibrator", "travel", "points", "condenser", "winding", "magneto")):
            played = [number for number in NUMBERS if replay(number, rote.lines(bench_of(number), order)).holds]
            assert len(played) <= ROTE[1] * len(NUMBERS), (habit, order, played)
            assert len(played) == pytest.approx(won[order], abs=2), "the count by lines is that of the bench"


def test_no_coil_passes_unseen() -> None:
    """A bare run passes nowhere, nor do runs alone; with the look that lets a coil go, only the coils that have nothing."""
    sound = [number for number in NUMBERS if not bench.faults_of(number)]
    for number in NUMBERS:
        assert not any(replay(number, ["run"] * count).holds for count in (1, 2, LINES)), number
        assert replay(number, ["run", "condenser"]).holds is (number in sound), number
        assert not any(replay(number, ["run", look]).holds for look in LOOK.values() if look != "condenser"), number
    assert len(sound) <= ROTE[0] * len(NUMBERS)


def test_a_look_in_vain_takes_three_lines_and_one_that_finds_takes_one() -> None:
    for number in NUMBERS:
        faulty = {fault.part for fault in bench.faults_of(number)}
        for part, look in LOOK.items():
            entry = replay(number, [look]).entries[-1]
            assert entry.takes == (1 if part in faulty or look == "swap" else bench.IN_VAIN), (number, part)
    log = replay(29, ["cushion force", "bend cushion up much", "cushion force", "drop", "gauge", "run"])
    assert [(entry.first, entry.takes) for entry in log.entries[1:]] == [(1, 1), (2, 1), (3, 1), (4, 3), (7, 2), (8, 0)]
    assert "no room" in log.entries[-1].text
    assert log.ranged is None, "what had no room was not done"
    assert log.used == LINES


def test_lines_drawn_by_lot_mend_nothing() -> None:
    draw, keys, passed = Random(9), list(BY_KEY), 0
    for _ in range(300):
        number = draw.choice([n for n in NUMBERS if bench.faults_of(n)])
        passed += replay(number, [*draw.choices(keys, k=LINES - 1), "run"]).holds
    assert passed == 0


# ----------------------------------------------------------------------------------------------------------------- the log
def test_a_log_is_replayed_from_its_lines_alone() -> None:
    for number in (2, 7, 30):
        lines = reasoned(number)
        first = replay(number, lines)
        bench._replay.cache_clear()
        bench.reading.cache_clear()
        assert replay(number, lines) == first
        for count in range(len(lines)):  # what is written stays: a longer log begins as the shorter one
            assert first.entries[: count + 1] == replay(number, lines[:count]).entries


@pytest.mark.parametrize(("lines", "words"), [
    ("run", "no list"), (None, "no list"), (["run", "saw it off"], "Line 2"), ([3], "Line 1"), (["run"] * (LINES + 1), "lines"),
])
def test_what_is_no_log_is_said_in_a_sentence(lines, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replay(1, lines)


def test_a_look_changes_nothing() -> None:
    looks = [key for key, tool in BY_KEY.items() if tool.kind in ("look", "run")]
    for look in looks:
        assert replay(7, [look]).state == bench.as_found(7)


def test_a_bend_loses_the_reading_and_the_way_back_to_it() -> None:
    number = 2
    blind = replay(number, ["bend cushion up much", "take back"])
    assert blind.guessed == (1,)
    assert blind.state != bench.as_found(number)
    assert "cannot be taken back" in blind.entries[-1].text
    read = replay(number, ["cushion force", "bend cushion up much", "take back"])
    assert (read.guessed, read.needless, read.state) == ((), (), bench.as_found(number))
    twice = replay(number, ["cushion force", "bend cushion up much", "bend cushion up little"])
    assert twice.guessed == (3,), "after a bend the force is as unknown as before"
    again = replay(number, ["cushion force", "bend cushion up much", "cushion force", "bend cushion up little"])
    assert again.guessed == ()


def test_undoing_costs_a_line_and_makes_good_what_was_needless() -> None:
    sound = next(n for n in NUMBERS if not bench.faults_of(n))
    needless = ["condenser", "new condenser"]
    assert replay(sound, [*needless, "run"]).needless == (2,)
    assert not replay(sound, [*needless, "run"]).holds
    assert replay(sound, [*needless, "take back", "run"]).holds
    assert not replay(sound, ["dress points", "take back", "run"]).holds, "the metal is gone"
    assert "no work" in replay(sound, ["take back"]).entries[-1].text


def test_the_run_that_counts_comes_after_the_last_work() -> None:
    number = 10
    lines = ["run", "condenser", "new condenser"]
    assert replay(number, lines).ranged is None
    assert not replay(number, lines).holds
    assert replay(number, [*lines, "run"]).holds


def test_any_order_that_holds_is_right() -> None:
    """Coil 33: points and leak. In either order, each look before its work; a look too early does no harm."""
    assert {fault.part for fault in bench.faults_of(33)} == {"points", "condenser"}
    for lines in (["condenser", "new condenser", "drop", "dress points", "run"],
                  ["drop", "condenser", "dress points", "new condenser", "run"],
                  ["run", "drop", "dress points", "condenser", "new condenser", "run"]):
        assert replay(33, lines).holds, lines


def test_the_opposite_repair_is_refused_by_the_model_itself() -> None:
    for number in NUMBERS:
        for fault in bench.faults_of(number):
            if fault.part in ("cushion", "vibrator"):
                wrong = f"bend {fault.part} {'down' if fault.factor < 1.0 else 'up'} much"
                log = replay(number, [LOOK[fault.part], wrong, "run"])
                assert log.guessed == log.needless == (), "no rule speaks against it"
                assert bench.not_well(log.state), (number, wrong)


# -------------------------------------------------------------------------------------------------------- what is called good
def test_a_reading_called_good_is_good_in_the_model() -> None:
    """Either end of what a look calls good, one number at a time, and whole coils with such a nudge everywhere."""
    for name in ("cushion_preload", "cushion_travel", "condenser_capacitance"):
        for share in (1.0 - bench.NUDGE, 1.0 + bench.NUDGE):
            assert not bench.not_well(State(NOMINAL.scaled(**{name: share}))), (name, share)
    for share in (1.0 - bench.SOUND, 1.0 + bench.SOUND):
        assert not bench.not_well(State(NOMINAL.scaled(cushion_preload=share)))
        assert not bench.not_well(State(NOMINAL.scaled(vibrator_preload=share)))


def test_looks_agree_with_what_is_wrong() -> None:
    for number in NUMBERS:
        faulty = {fault.part for fault in bench.faults_of(number)}
        for part, look in LOOK.items():
            assert replay(number, [look]).entries[-1].off == (part in faulty), (number, part)


def test_a_good_coil_fires_well_at_every_place_and_the_slack_one_passes_by_hand_alone() -> None:
    assert not bench.not_well(GOOD)
    assert len(PLACES) == 5
    slack = State(NOMINAL.scaled(cushion_preload=0.45))
    assert "by hand" not in bench.not_well(slack)
    assert len(bench.not_well(slack)) == len(PLACES) - 1


def test_a_bridge_at_the_winding_against_complex_numbers() -> None:
    for loss in (30.0, 300.0):
        machine = NOMINAL.but(coil={"core_resistance": loss})
        coil = 2j * math.pi * 1000.0 * machine.coil.primary_inductance
        impedance = coil * loss / (coil + loss)
        assert bench.inductance_seen(machine) == pytest.approx(impedance.imag / (2.0 * math.pi * 1000.0))
    assert bench.inductance_seen(NOMINAL.but(coil={"core_resistance": 35.0})) < 0.85 * bench.inductance_seen(NOMINAL)


def test_a_bend_never_takes_a_blade_out_of_the_model() -> None:
    for key in BENDS:
        assert replay(30, [key] * LINES).entries
        bench.seen(replay(30, [key] * LINES).state, bench.ROAD, 100.0)


def test_a_current_far_from_a_good_coils_is_not_well_however_sound_the_sparks() -> None:
    """A vibrator a little too tight or too slack leaves one full spark a pulse: only the current tells."""
    far = []
    for factor in (0.7, 0.8, 0.9, 1.1, 1.2, 1.3, 1.4):
        state = replace(GOOD, machine=NOMINAL.scaled(vibrator_preload=factor))
        result, good = (bench.reading(one, bench.ROAD, 100.0) for one in (state, GOOD))
        off = abs(result.opening_current.mean / good.opening_current.mean - 1.0)
        sound = (result.single == 1.0 and not result.misfired and bench.strength(state, bench.ROAD, 100.0) >= bench.FULL
                 and bench.flash(state, bench.ROAD, 100.0) <= bench.FLASH)
        if sound:
            assert bench.fires_well(state, bench.ROAD, 100.0) is (off <= 0.12)
            far.append(off > 0.12)
    assert any(far)
    assert not all(far), "there are some of either sort, or this shows nothing"
