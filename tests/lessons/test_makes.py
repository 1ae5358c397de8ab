"""Coils of other makes: the stored designs are what the model reads, and a known-good coil re-centres all the others."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coilbench import carried, makes, stored
from coilbench.asks import Ask, Setting, as_reading
from coilbench.causes import BY_KEY, CAUSES, beforehand, spoilt
from coilbench.designs import BAND, works
from coilbench.fill_designs import flat
from coilbench.running import COLUMN, outcome
from coilbench.sheet import Bench, Reading, parse, standing
from coilbench.together import Together
from coilmodel import Machine

HEAD = "coil,reading,value,speed_rpm,known_good\n"
ROAD = Setting(Bench(450.0, 1.0))
USUAL = (Ask("capacity"), *(Ask(kind, Setting(Bench(rpm, 1.0))) for rpm in (200.0, 450.0, 600.0)
                            for kind in ("sparks", "opening_current")), Ask("meter_rectified", ROAD))


def read(rows: dict[Setting, list[list[float]]], place: int, capacity: float, strength: float = 1.0) -> tuple[Reading, ...]:
    """Return what would be read without any error on a stored coil, all currents times `strength`. rows : by setting"""
    found = []
    for ask in USUAL:
        row = rows[ask.setting][place] if ask.setting else None
        value = capacity if row is None else row[COLUMN[ask.kind]] * (1.0 if ask.kind == "sparks" else strength)
        if value == value:
            found.append(as_reading(ask, value))
    return tuple(found)


def test_a_machine_comes_back_from_its_numbers() -> None:
    machine = Machine().but(vibrator={"preload": 3.0}, magneto={"third_harmonic": 0.1})
    assert makes.machine_of(makes.numbers_of(machine)) == machine
    assert makes.machine_of(makes.numbers_of(machine)) != Machine()


def test_the_stored_designs_are_what_the_model_reads() -> None:
    every = makes.designs()
    assert len(every.reference) >= 100
    assert len({tuple(flat(coil)) for coil in every.reference}) == len(every.reference)
    for place in range(0, len(every.reference), 40):
        assert all(every.reference_runs[Setting(Bench(rpm, 1.0))][place][COLUMN["sparks"]] == 1.0 for rpm in BAND)
        for coil, row in ((every.reference[place], every.reference_runs[ROAD][place]),
                          (every.store.coils[place], every.store.runs[ROAD][place])):
            now = outcome(coil, ROAD)
            for name in ("opening_current", "sparks", "meter_rectified"):
                assert now[COLUMN[name]] == pytest.approx(row[COLUMN[name]], abs=0.0051), \
                    "run python -m coilbench.fill_designs again"
    assert makes.FILE in carried.WHEN_WANTED
    assert (carried.ROOT / makes.FILE).stat().st_size < 500_000


def test_designs_differ_far_more_than_coils_of_one_make() -> None:
    forces = sorted(coil.machine.vibrator.preload for coil in makes.designs().reference)
    assert forces[-len(forces) // 10] > 1.5 * forces[len(forces) // 10]
    assert works(Machine())
    assert not works(spoilt(stored.imagined().coils[0], BY_KEY["cushion_slack"], 0.5).machine)


def test_a_mark_is_read_forgivingly_and_a_strange_one_costs_no_reading() -> None:
    sheet = parse((HEAD + "a,sparks per pulse,1,450,Yes\na,opening current,5,450,\nb,sparks per pulse,1,450,no\n"
                   "c,sparks per pulse,1,450,perhaps\n").encode())
    assert {name: makes.marked(rows) for name, rows in sheet.coils.items()} == {"a": True, "b": False, "c": None}
    assert sheet.good == 4
    assert any("'perhaps' is neither yes nor no" in line for line in sheet.messages)


def test_without_any_mark_all_is_as_it_was() -> None:
    sheet = parse(b"coil,reading,value,speed_rpm\na,sparks per pulse,1,450\na,opening current,5,450\n")
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    assert makes.store_for(sheet.coils, own) is None
    assert Together(own, None).verdict("a", False).odds == Together(own).verdict("a", False).odds
    assert "course's own make" in makes.judged_by(None, sheet.coils, own)


def test_a_known_good_coil_re_centres_all_the_others() -> None:
    """A make of which every current is 1.35 times another's: beside its own known-good coil its well-set coil is well set."""
    every, place = makes.designs(), 7
    capacity = every.reference[place].machine.condenser.capacitance
    known = read(every.reference_runs, place, capacity, 1.35)
    same = read(every.store.runs, place, every.store.coils[place].machine.condenser.capacitance, 1.35)
    store = makes.centred((known,))
    odds = dict(stored.judge(same, False, False, prior=makes.prior_for(store), store=store).odds)
    alone = dict(stored.judge(same, False, False).odds)
    good = BY_KEY["well_set"]
    assert max(odds, key=lambda cause: odds[cause]) is good
    assert odds[good] > alone[good] + 0.2
    assert sum(odds.values()) == pytest.approx(1.0)


def test_no_coil_by_itself_has_a_weak_magneto_beside_a_known_good_one() -> None:
    known = read(makes.designs().reference_runs, 3, 0.45e-6)
    assert makes.is_known(makes.centred((known,)))
    assert makes.prior_for(makes.centred((known,)))["weak_drive"] < 1e-6
    assert sum(makes.prior_for(makes.centred((known,))).values()) == pytest.approx(1.0)
    assert makes.prior_for(makes.centred(())) == makes.prior_for(None) == beforehand()
    assert not makes.is_known(makes.centred((known[:2],)))  # one reading of the running coil stands for no make


@pytest.mark.parametrize(("value", "rpm", "believed"), [
    (1.0, 450, True), (1.2, 450, True), (2.0, 450, False), (0.5, 450, False), (0.0, 600, False),
    (2.0, 200, True), (2.0, 900, True),  # there some good coils fire otherwise
])
def test_a_mark_that_the_coils_own_sparks_belie_is_not_believed(value: float, rpm: float, believed: bool) -> None:
    sheet = parse((HEAD + f"Said,sparks per pulse,{value},{rpm},yes\nSaid,opening current,5,450,\nSaid,opening current,5.2,600,\n"
                   "Other,sparks per pulse,1,450,\nOther,opening current,5,450,\n").encode())
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    store = makes.store_for(sheet.coils, own)
    assert makes.known_of(sheet.coils, own) == (["Said"] if believed else [])
    assert makes.is_known(store) is believed
    said = makes.judged_by(store, sheet.coils, own)
    assert ("the mark is not believed" in said) is not believed
    if not believed:
        assert f"Said is marked as known good, but gave {value:g} sparks a pulse at {rpm} rpm" in said
        odds = dict(Together(own, store, makes.known_of(sheet.coils, own)).verdict("Said", False).odds)
        assert odds[BY_KEY["well_set"]] < 0.5


def test_page_and_command_judge_a_marked_sheet_alike(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coilbench.__main__ import main
    from coilbench.card import in_a_hundred
    from lessons import at_hand

    text = HEAD + "".join(f"{coil},{kind},{value},{rpm},{mark}\n" for coil, mark, rows in (
        ("Good", "yes", (("sparks per pulse", 1, 450), ("opening current", 6.6, 450), ("opening current", 6.0, 600),
                         ("sparks per pulse", 1, 600))),
        ("Other", "", (("sparks per pulse", 1.9, 450), ("opening current", 4.4, 450), ("opening current", 4.2, 600))))
        for kind, value, rpm in rows)
    file = tmp_path / "sheet.csv"
    file.write_text(text, encoding="utf-8")
    assert main([str(file), "--print-only"]) == 0
    said = capsys.readouterr().out
    sheet = parse(text.encode())
    card = at_hand.card(sheet, "Other")
    assert " ".join(card["sentence"].split()) in " ".join(said.split())
    assert any("known-good Good" in note for note in card["notes"])
    assert "known-good Good" in " ".join(said.split())
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    verdict = Together(own, makes.store_for(sheet.coils, own)).verdict("Other")
    assert in_a_hundred(verdict.odds[0][1]) in card["sentence"]
    assert said.count("Marked as known good, which alone gave it 95 in 100") == 1  # on the marked coil's card, not on the other's
    assert any("Marked as known good" in note for note in at_hand.card(sheet, "Good")["notes"])
    assert not any("Marked as known good" in note for note in card["notes"])


def test_the_kept_figures_are_of_designs_that_are_not_stored() -> None:
    from coilbench.fill_designs import SEED
    from coilbench.makes_trial import HELD_OUT, RESULT

    kept = json.loads(RESULT.read_text(encoding="utf-8"))
    assert SEED != HELD_OUT
    assert kept["seed"] == HELD_OUT
    assert kept["imagined"] == len(makes.designs().reference)
    assert {kept[name]["coils"] for name in ("with_rest", "known", "unknown")} == {kept["each"] * kept["designs"]}
    assert len(CAUSES) == 13
