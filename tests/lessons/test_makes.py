"""Coils of other makes: the stored designs are what the model reads, and a known-good coil re-centres all the others."""

from __future__ import annotations

import gzip
import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from coilbench import carried, makes, stored
from coilbench.advice import worth_taking
from coilbench.asks import Ask, Setting, as_reading
from coilbench.card import _cause, as_text, view
from coilbench.causes import BY_KEY, CAUSES, OTHER, Coil, beforehand, spoilt
from coilbench.designs import BAND, works
from coilbench.errors import AT_REST, SECOND, prediction, second_limit
from coilbench.fill_designs import flat
from coilbench.kinds import BY_KEY as BY_KIND
from coilbench.kinds import KINDS
from coilbench.running import COLUMN, outcome
from coilbench.sheet import Bench, Reading, parse, standing
from coilbench.together import Together, of_sheet
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
    numbers = dict(zip(makes.names_of(machine), makes.numbers_of(machine), strict=True))
    assert makes.machine_of(dict(reversed(numbers.items()))) == machine != Machine()
    for other in ({**numbers, "coil_colour": 1.0}, {name: value for name, value in numbers.items() if name != "coil_ratio"}):
        if other != numbers:
            with pytest.raises(ValueError, match=r"of a machine with other numbers \(coil_(colour|ratio)\)"):
                makes.machine_of(other)


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
    assert every.pairs.each >= 16
    for place in range(0, len(every.pairs.coils), len(every.pairs.coils) // 4):
        now, row = outcome(every.pairs.coils[place], ROAD), every.pairs.runs[ROAD][place]
        for name in ("opening_current", "sparks", "meter_rectified"):
            assert now[COLUMN[name]] == pytest.approx(row[COLUMN[name]], abs=0.0051, nan_ok=True), \
                "run python -m coilbench.fill_designs again"
    assert makes.FILE in carried.WHEN_WANTED
    packed = gzip.compress((carried.ROOT / makes.FILE).read_bytes(), 9)
    assert len(packed) < 400_000  # fetched on demand, by pages that judge a marked sheet


def test_each_coil_with_two_faults_has_two_of_its_designs_coil() -> None:
    """Beside the design's sound coil two numbers differ, or one that two opposite faults have both moved."""
    every, pairs = makes.designs(), makes.designs().pairs
    weak, leaky = pairs.have("weak_drive"), pairs.have("leakage")
    changed = []
    for place, coil in enumerate(pairs.coils):
        sound = every.store.coils[pairs.design(place)]  # the first cause is 'well set'
        numbers = zip(makes.numbers_of(coil.machine), makes.numbers_of(sound.machine), strict=True)
        changed.append(sum(one != other for one, other in numbers) + (coil.drive != sound.drive))
        assert (coil.drive != sound.drive) == weak[place]
        assert leaky[place] == (coil.machine.condenser.leakage_resistance != sound.machine.condenser.leakage_resistance)
    assert set(changed) == {1, 2}
    assert changed.count(2) > 0.85 * len(changed)


@pytest.mark.parametrize("kind", [kind.key for kind in KINDS if kind.judged])
def test_what_two_faults_read_is_what_their_coils_read(kind: str) -> None:
    """The numbers of coils with two faults are worked out without their machines; they are their machines' all the same."""
    pairs = makes.designs().pairs
    ask = Ask(kind, ROAD if BY_KIND[kind].running else None, 100.0, 5.0)
    values, scales = pairs.predictions(ask)
    for place in range(0, len(pairs.coils), 7):
        row = pairs.runs[ROAD][place] if ask.setting else None
        assert (values[place], scales[place]) == pytest.approx(prediction(ask, pairs.coils[place], row), rel=1e-12, nan_ok=True)


def at_rest(coil: Coil) -> tuple[Reading, ...]:
    """Return the five readings of a coil at rest, without any error."""
    return tuple(as_reading(ask, prediction(ask, coil, None)[0]) for ask in map(Ask, AT_REST))


def test_two_faults_are_told_by_the_coils_that_were_imagined_with_two() -> None:
    """Of stored coils with two bad faults most are called so, once the coil itself may not explain its readings."""
    every, pairs = makes.designs(), makes.designs().pairs
    weak = pairs.have("weak_drive")
    right, without, tried = 0.0, 0.0, 0
    for place in range(0, len(pairs.coils), 401):
        if weak[place]:
            continue
        design = pairs.design(place)
        reference = every.reference[design]
        known = (*read(every.reference_runs, design, reference.machine.condenser.capacitance), *at_rest(reference))
        coil = pairs.coils[place]
        own = (*read(pairs.runs, place, coil.machine.condenser.capacitance), *at_rest(coil))
        store = makes.centred((known,))
        assert store.twos is not None
        lean = list(store.twos.lean)
        lean[place] = -math.inf
        others = replace(store, twos=replace(store.twos, lean=lean))
        judged = stored.judge(own, False, False, prior=makes.prior_for(store), store=others)
        before = stored.judge(own, False, False, prior=makes.prior_for(store), store=replace(store, twos=None))
        right += dict(judged.odds)[OTHER]
        without += dict(before.odds)[OTHER]
        tried += 1
    assert tried >= 8
    assert right > without + 0.1 * tried


def test_a_weak_magneto_is_no_second_fault_beside_a_known_good_coil() -> None:
    every = makes.designs()
    known = read(every.reference_runs, 3, 0.45e-6)
    twos = makes.centred((known,)).twos
    assert twos is not None
    counts = [math.exp(one) for one in twos.lean]
    assert [count == 0.0 for count in counts] == every.pairs.have("weak_drive")
    assert sum(counts) / len(counts) == pytest.approx(1.0, abs=0.05)  # by chance a design has more of them or fewer
    assert makes.centred(()).twos.lean == []  # type: ignore[union-attr]


def test_one_cause_is_named_only_where_a_second_fault_is_unlikely() -> None:
    known = read(makes.designs().reference_runs, 7, 0.45e-6)
    store = makes.centred((known,))
    verdict = stored.judge(known, False, False, prior=makes.prior_for(store), store=store)
    good, few = BY_KEY["well_set"], second_limit([])
    for other, named in ((few - 0.01, True), (few + 0.01, False)):
        now = replace(verdict, odds=((good, 1.0 - other), (OTHER, other)))
        assert now.sure is named
        assert now.second_fault is not named
        assert replace(now, twos=False).sure  # of the course's own make no coil with two faults is imagined
        assert _cause(now).startswith("Likeliest" if named else
                                      "These readings cannot tell: two faults, or something else, have 7 in 100")
    assert replace(verdict, odds=((OTHER, 0.9), (good, 0.1))).sure
    rest = (*known, *at_rest(makes.designs().reference[7]))
    strict = stored.judge(rest, False, False, prior=makes.prior_for(store), store=store)
    assert strict.second_limit == second_limit(AT_REST) < verdict.second_limit


def test_what_could_show_a_second_fault_is_asked_for() -> None:
    """Where nothing would tell the causes apart, a reading at rest is the next step, as long as a second fault is too likely."""
    known = read(makes.designs().reference_runs, 7, 0.45e-6)
    store = makes.centred((known,))
    verdict = stored.judge(known, True, False, prior=makes.prior_for(store), store=store)
    nothing = tuple(replace(step, bits=0.0) for step in verdict.next_steps)
    unsure = replace(verdict, odds=((BY_KEY["well_set"], 0.9), (OTHER, 0.1)), next_steps=nothing)
    step = worth_taking(unsure)
    assert step is not None
    assert step.ask.kind in AT_REST
    assert worth_taking(replace(unsure, twos=False)) is None


def test_the_known_good_coils_reading_has_its_own_error() -> None:
    """A spring balance on a slack cushion is off by far more than an ammeter: the make is known no better than that."""
    reference = makes.designs().reference[5]
    store = makes.centred(((*read(makes.designs().reference_runs, 5, 0.45e-6), *at_rest(reference)),))
    assert store.centre is not None
    force = reference.machine.cushion.preload
    share = store.centre(Ask("cushion_force"))[1]
    assert share == pytest.approx(math.hypot(makes.KNOWN.share, 0.06 + 0.1 / force), rel=1e-6)
    assert share > store.centre(Ask("opening_current", ROAD))[1]


def test_the_page_says_when_one_cause_is_named() -> None:
    page = (carried.ROOT / "book" / "pages" / "bench_sheet.md").read_text(encoding="utf-8")
    few, many = SECOND
    assert f"have under {100 * few:.0f} in 100; with all five readings" in page
    assert f"under {100 * many:.0f}.\n" in page


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


@pytest.mark.parametrize("make", ["", "Wendle", "coarse", "course's"])
def test_a_coil_is_a_strangers_whatever_its_sheet_leaves_out(make: str) -> None:
    """A sheet without the column 'known_good' was taken for the course's own make, and sound coils of others for faulty ones."""
    for mark in ("", "no"):
        sheet = parse((f"coil,reading,value,speed_rpm,make,known_good\na,sparks per pulse,1,450,{make},{mark}\n"
                       f"a,opening current,7.9,450,,\n").encode())
        own = {name: standing(rows) for name, rows in sheet.coils.items()}
        store = makes.store_for(sheet.coils, own)
        assert store is makes.centred(())
        assert "The make is not known" in makes.judged_by(store, sheet.coils, own)
        (one,) = of_sheet(sheet.coils, own)
        assert one.together.verdict("a", False).odds == stored.judge(own["a"], False, False, store=store).odds
    bare = parse(b"coil,reading,value,speed_rpm\na,sparks per pulse,1,450\na,opening current,7.9,450\n")
    assert makes.store_for(bare.coils, {name: standing(rows) for name, rows in bare.coils.items()}) is makes.centred(())


@pytest.mark.parametrize("make", ["course", "Course", "  COURSE "])
def test_the_courses_own_make_is_said_to_be(make: str) -> None:
    sheet = parse(f"coil,reading,value,speed_rpm,make\na,sparks per pulse,1,450,{make}\na,opening current,5,450,\n".encode())
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    assert makes.store_for(sheet.coils, own) is None
    assert "imagined ones" in makes.judged_by(None, sheet.coils, own)
    (one,) = of_sheet(sheet.coils, own)
    assert one.together.verdict("a", False).odds == Together(own).verdict("a", False).odds


def test_a_known_good_coil_stands_for_its_own_make_only() -> None:
    """Two makes in one sheet: what is known of one leaves the other's coils as they were."""
    good = "".join(f"Elm,{kind},{value},{rpm},Wendle,yes\n" for kind, value, rpm in (
        ("opening current", 6.4, 450), ("opening current", 6.2, 600), ("sparks per pulse", 1, 450), ("sparks per pulse", 1, 600)))
    other = "Fir,opening current,4.1,450,Other one,\nFir,sparks per pulse,1,450,Other one,\n"
    like = "Oak,opening current,4.1,450,wendle,\nOak,sparks per pulse,1,450,wendle ,\n"
    head = "coil,reading,value,speed_rpm,make,known_good\n"

    def odds(text: str) -> dict[str, object]:
        sheet = parse((head + text).encode())
        own = {name: standing(rows) for name, rows in sheet.coils.items()}
        return {name: one.together.verdict(name, False).odds for one in of_sheet(sheet.coils, own) for name in one.coils}

    both, alone = odds(good + like + other), odds(other)
    assert both["Fir"] == alone["Fir"]
    assert both["Oak"] != both["Fir"]
    sheet = parse((head + good + like + other).encode())
    said = [one.said for one in of_sheet(sheet.coils, {name: standing(rows) for name, rows in sheet.coils.items()})]
    assert said[0].startswith("Elm and Oak (make: wendle). Held against the known-good Elm")
    assert said[1].startswith("Fir (make: other one). The make is not known")


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
    assert any("known-good Good" in note for note in card["held"])
    assert "known-good Good" in " ".join(said.split())
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    verdict = Together(own, makes.store_for(sheet.coils, own)).verdict("Other")
    assert in_a_hundred(verdict.odds[0][1]) in card["sentence"]
    assert said.count("Marked as known good, which alone gave it 95 in 100") == 1  # on the marked coil's card, not on the other's
    assert any("Marked as known good" in note for note in at_hand.card(sheet, "Good")["notes"])
    assert not any("Marked as known good" in note for note in card["held"])


def test_the_kept_figures_are_of_designs_that_are_not_stored() -> None:
    from coilbench.fill_designs import SEED
    from coilbench.makes_trial import BURNT, DESIGNS, EACH, HELD_OUT, RESULT, TUNING, settings

    kept = json.loads(RESULT.read_text(encoding="utf-8"))
    assert len({SEED, HELD_OUT, *TUNING, *BURNT}) == 2 + len(TUNING) + len(BURNT)
    assert kept["seed"] == HELD_OUT
    assert kept["settings"] == settings(), "settled anew, so these figures are another judge's: a new HELD_OUT, and run it once"
    assert (kept["designs"], kept["each"]) == (DESIGNS, EACH)
    assert min(kept[name]["two"] for name in ("with_rest", "known", "unknown")) >= 60
    assert kept["imagined"] == len(makes.designs().reference)
    assert {kept[name]["coils"] for name in ("with_rest", "known", "unknown")} == {kept["each"] * kept["designs"]}
    assert len(CAUSES) == 13


def test_what_was_read_on_a_bench_that_the_designs_were_not_run_on_is_left_out_with_the_benches_that_they_were() -> None:
    """The sentence had named the course's own make's benches, 150 rpm among them, to a stranger's coil read at 150."""
    sheet = parse(b"coil,reading,value,speed_rpm\na,sparks per pulse,1,450\na,opening current,3,150\n")
    own = standing(sheet.coils["a"])
    _, (said,) = stored.sort_out(own, makes.centred(()))
    assert "(magneto at 150 rpm)" in said or "150 rpm" in said.partition(" and left out")[0]
    assert "150" not in said.partition("It knows")[2]
    assert stored.known_benches(makes.centred(())) in said
    assert stored.sort_out(own)[1] == []
    assert "150, 200" in stored.known_benches()


@pytest.mark.parametrize("make", ["", "Wendle"])
def test_a_strangers_coil_is_not_likened_to_amperes_of_another_make(make: str) -> None:
    """Beside a reading of 4.1 A its card said that the coil that agrees best parts at 6.5 A."""
    sheet = parse((f"coil,reading,value,speed_rpm,make,aid\na,sparks per pulse,1,450,{make},\na,opening current,4.1,450,,\n"
                   "a,sparks per pulse,1,450,,condenser\n").encode())
    own = {name: standing(rows) for name, rows in sheet.coils.items()}
    verdict = of_sheet(sheet.coils, own)[0].together.verdict("a")
    shown = view("a", own["a"], verdict, sheet.coils["a"])
    assert " A;" not in shown.likeness
    assert " A" not in shown.likeness.partition("agrees best")[2]
    lines = as_text(shown).splitlines()
    head, *table = [line for line in lines if line.startswith(("  reading", "  opening current", "  sparks per"))]
    places = {line.index(own.usual) for line, own in zip(table, shown.lines, strict=True)}
    assert places == {head.index("a well-set coil gives")}  # one column, however long a name
