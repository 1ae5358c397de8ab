"""Plants two invented readings in the registry, before anything else has read it, and walks them through every face.

Run by test_adding_a_reading.py as a program of its own: `python planted_reading.py [FIELD ...]` blanks these fields of the
entries first. It prints a table of face and sentence, "" where the face shows the readings.
"""

from __future__ import annotations

import csv
import dataclasses
import json
import math
import sys
from pathlib import Path
from typing import Any

from coilbench import carried, kinds
from coilbench.kinds import Error, Kind, Slider

BLANK: dict[str, Any] = {"remark": None, "sliders": (), "benches": (), "drawing": ""}

PULL = Kind(
    "both_springs", "pull on both springs", ("both springs",), "force", "N", 0.5, 60.0,
    "spring balance that lifts both blades at once, coil off", "force", 3.0, "a spring balance and a hook",
    Error(0.04, 0.05, 12.0), ("vibrator_preload", "cushion_preload"), lambda vibrator, cushion: vibrator + cushion,
    relative=True, one_fault=True, asked="the pull on both springs together, coil off", remark="coil off; both blades at once",
    sliders=(Slider("both", "Both springs", 0.5, 20.0, 0.1, 5.0, "One pull for two springs."),), drawing="parting")
HALF = Kind(
    "half_meter", "half meter", ("half rms",), "current", "A", 0.0, 25.0, "an ammeter that shows half of the RMS", "current", 2.0,
    "the bench and half an ammeter", Error(0.04, 0.03, 10.0), columns=(("half_meter", lambda run: 0.5 * run.meter.rms),),
    relative=True, rank=3, benches=((450.0, 1.0),), remark="",
    sliders=(Slider("half450", "Half, 450 rpm", 0.0, 4.0, 0.01, 1.0, "Half of what the other shows.", 450.0),))


def plant(forgotten: list[str]) -> tuple[Kind, Kind]:
    """Put the two into the registry, and what HALF reads into the stored outcomes; return them as they stand there."""
    pull, half = (dataclasses.replace(one, **{name: BLANK[name] for name in forgotten}) for one in (PULL, HALF))
    kinds.KINDS = (*kinds.KINDS[:-2], half, pull, *kinds.KINDS[-2:])
    kinds.BY_KEY = {kind.key: kind for kind in kinds.KINDS}
    text_of = carried.text_of

    def text(path: str) -> str:
        if not path.endswith(".json"):
            return text_of(path)
        data = json.loads(text_of(path))
        for columns in data["outcomes"]:
            columns["half_meter"] = [None if one is None else round(one / 2) for one in columns["meter_rms"]]
        return json.dumps(data)

    carried.text_of = text
    return pull, half


PLANTED = PULL, HALF = plant(sys.argv[1:])

# Only now: all of these make their tables out of the registry as they are read.
from book.making import pages as book_pages  # noqa: E402
from coilbench import errors, home, makes, stored  # noqa: E402
from coilbench.asks import Ask, Setting, as_reading, candidates  # noqa: E402
from coilbench.card import Card, anchor, as_text, how_words, view  # noqa: E402
from coilbench.card_html import as_html  # noqa: E402
from coilbench.card_pdf import page as pdf_page  # noqa: E402
from coilbench.causes import Coil  # noqa: E402
from coilbench.looks import hues  # noqa: E402
from coilbench.running import outcome  # noqa: E402
from coilbench.sheet import Bench, parse, standing, template, write_rows  # noqa: E402
from coilbench.together import Together  # noqa: E402
from coilmodel import Machine  # noqa: E402
from lessons import at_hand  # noqa: E402
from lessons.panels import bench as panel  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
ROAD = Setting(Bench(450.0, 1.0))
ASKS = Ask(PULL.key), Ask(HALF.key, ROAD)
ON_ROAD = {"speed_rpm": "450", "drive_percent": "100"}


def row(coil: str, kind: Kind, value: str, day: str = "2031-05-08", **more: str) -> dict[str, str]:
    return {"coil": coil, "date": day, "reading": kind.name, "value": value, **(ON_ROAD if kind.running else {}), **more}


SPARKS = kinds.BY_KEY["sparks"]
ROWS = [row("Elm", SPARKS, "1.9"), row("Elm", PULL, "4.4"), row("Elm", PULL, "2.1", "2031-05-15"), row("Elm", HALF, "0.9")]


def sheet(rows: list[dict[str, str]] | None = None) -> Any:
    return parse(write_rows(ROWS if rows is None else rows).encode())


def card_of(rows: list[dict[str, str]] | None = None) -> tuple[Any, Card]:
    found = sheet(rows)
    readings = standing(found.coils["Elm"])
    verdict = stored.judge(readings)
    return verdict, view("Elm", readings, verdict, found.coils["Elm"])


def asking() -> Card:
    """The card of a coil that was only counted, with PULL alone to be asked for."""
    readings = [as_reading(Ask("sparks", ROAD), 1.9)]
    return view("Elm", readings, stored.judge(readings, among=ASKS[:1]), [])


def need(there: object, sentence: str) -> None:
    if not there:
        raise AssertionError(sentence)


# ------------------------------------------------------------------------------------------------------------ the faces
def in_the_empty_sheet() -> None:
    asked = {line["reading"]: line for line in csv.DictReader(template().splitlines())}
    for kind in PLANTED:
        need(kind.name in asked, f"the empty sheet has no row for '{kind.name}' (Kind.remark)")
        need(asked[kind.name]["unit"] == kind.unit, f"the empty sheet asks for '{kind.name}' without its unit")
        need(not kind.running or asked[kind.name]["speed_rpm"], f"the empty sheet asks for '{kind.name}' without a speed")


def by_the_sheets_reader() -> None:
    need(not sheet().messages, f"the sheet's reader says of good rows: {sheet().messages}")
    for kind in PLANTED:
        for value, wanted in (("1e6", f"outside {kind.say(kind.low)} to {kind.say(kind.high)}"), ("12 pF", "is not a unit of")):
            said = " ".join(sheet([row("Elm", kind, value)]).messages)
            need("Row 2, column 'value'" in said and wanted in said, f"bad input to '{kind.name}' gets no sentence: {said}")
        need(not sheet([row("Elm", dataclasses.replace(kind, name=kind.also[0]), "2")]).messages,
             f"the sheet does not know '{kind.also[0]}'")


def predicted_for_a_coil() -> None:
    machine = Machine()
    ran = outcome(Coil(machine), ROAD)
    value, scale = errors.prediction(ASKS[0], Coil(machine), None)
    need(math.isclose(value, machine.vibrator.preload + machine.cushion.preload) and scale > 0.05,
         f"a coil at rest is not predicted to read '{PULL.name}'")
    value, scale = errors.prediction(ASKS[1], Coil(machine), ran)
    need(math.isclose(value, 0.5 * errors.prediction(Ask("meter_rms", ROAD), Coil(machine), ran)[0]),
         f"a running coil is not predicted to read '{HALF.name}'")
    store = makes.centred(())
    for ask in ASKS:
        for who, among in (("stored coils", stored.imagined()), ("coils of other makes", store),
                           ("coils with two faults", store.twos)):
            need(any(one == one for one in stored.predictions(ask, among)[0]), f"the {who} do not read '{ask.kind}'")


def judged() -> None:
    verdict, _ = card_of()
    sides = {one.reading.kind: one.side for one in verdict.judged}
    need(sides.get(PULL.key) == "below", f"'{PULL.name}' far too low is not judged to be below its range: {sides}")
    need(HALF.key in sides, f"'{HALF.name}' is not judged")
    without = dict(stored.judge([as_reading(Ask("sparks", ROAD), 1.9)], False, False).odds)
    need(abs(verdict.odds[0][1] - without[verdict.odds[0][0]]) > 0.02, f"'{PULL.name}' does not move the odds")
    need(PULL.key in errors.AT_REST, f"'{PULL.name}' does not count among what shows a second fault")


def judged_beside_a_known_good_coil() -> None:
    good = [row("Oak", SPARKS, "1", known_good="yes"), row("Oak", PULL, "4.0", known_good="yes"),
            row("Oak", kinds.BY_KEY["opening_current"], "5", known_good="yes"), row("Oak", HALF, "1.1", known_good="yes")]
    found = sheet([*ROWS, *good])
    own = {name: standing(rows) for name, rows in found.coils.items()}
    store = makes.store_for(found.coils, own)
    assert store is not None
    for ask in ASKS:
        assert store.centre is not None
        need(len(set(store.centre(ask)[0])) > 1, f"'{ask.kind}' is not taken relative to the known-good coil's")
    verdict = Together(own, store, makes.known_of(found.coils, own)).verdict("Elm")
    need({PULL.key, HALF.key} <= {one.reading.kind for one in verdict.judged}, "beside a known-good coil they are not judged")


def asked_for_as_the_next_step() -> None:
    asks = candidates(stored.GAP)
    for ask in ASKS:
        need(ask in asks, f"nobody ever asks for '{ask.kind}' (at rest always, running at Kind.benches)")
    verdict = stored.judge([as_reading(Ask("sparks", ROAD), 1.9)])
    bits = {step.ask: step.bits for step in verdict.next_steps}
    for ask in ASKS:
        need(bits.get(ask, 0.0) > 0.0, f"what '{ask.kind}' would tell is not reckoned")
    card = asking()
    need(card.asked == PULL, f"the next step does not ask for '{PULL.name}'")
    said = " ".join(card.next_steps)
    for words in (PULL.asked, f"{PULL.minutes:g} minutes", PULL.needs):
        need(words in said, f"the next step does not say '{words}': {said}")


def on_the_terminals_card() -> None:
    _, card = card_of()
    text = " ".join(as_text(card).split())
    for words in (PULL.name, "2.1 N", "Earlier pull on both springs: 4.4 N (2031-05-08)", "half meter at 450 rpm", "0.9 A"):
        need(words in text, f"the card in the terminal does not say '{words}'")
    need(how_words(PULL) in " ".join(as_text(asking()).split()), "the card in the terminal does not say where the way stands")


def on_the_html_card() -> None:
    _, card = card_of()
    page = " ".join(as_html(card).split())
    for words in (PULL.name, "2.1 N", "half meter at 450 rpm", f'class="way {PULL.hue}"'):
        need(words in page, f"the HTML card does not have '{words}'")
    need(f'<a href="here.html#{anchor(PULL)}">' in as_html(asking(), home="here.html"), "the HTML card has no link to the way")
    need(PULL.hue in hues()["quantities"], f"there is no hue '{PULL.hue}'")


def on_the_printed_card() -> None:
    _, card = card_of()
    for shown, words in ((card, (PULL.name, "2.1 N", "half meter at 450 rpm, drive 100 %")), (asking(), (how_words(PULL),))):
        figure = pdf_page(shown)
        written = " ".join(" ".join(text.get_text().split()) for text in figure.texts)
        titles = [axes.get_title(loc="left") for axes in figure.axes]
        for one in words:
            need(one in written, f"the printed card does not say '{one}'")
        need(shown is not card or any(PULL.name in title for title in titles), "the printed card has no history of it")


def on_the_pages_card() -> None:
    shown = at_hand.card(sheet(), "Elm")
    table = {line[0]: line for line in shown["table"]}
    need(table.get(PULL.name, ["", ""])[1] == "2.1 N", f"the page's card has no row for '{PULL.name}'")
    need(any(one["title"] == "pull on both springs, in N" for one in shown["history"]), "the page's card has no history of it")


def on_the_pages_bench() -> None:
    for kind in PLANTED:
        need(kind.sliders, f"lesson 10's bench has no slider for '{kind.name}' (Kind.sliders)")
        (slider,) = kind.sliders
        controls = {control.symbol: control for control in panel.READINGS.controls}
        need(slider.key in controls, f"lesson 10's bench has no slider for '{kind.name}'")
        picture = panel.READINGS.compute({slider.key: slider.low + 0.5 * slider.rest})
        need(kind.name in picture.alt and kind.say(panel.BY_SPOT[slider.key].si(slider.low + 0.5 * slider.rest)) in picture.alt,
             f"lesson 10's bench does not say '{kind.name}': {picture.alt}")
        need(panel.read_off(3, slider.key) is not None, f"lesson 10's box of coils does not read '{kind.name}'")
        need(any(key == slider.key for key, _ in panel.OPTIONS), f"'{kind.name}' cannot be chosen in lesson 10's order")


def on_the_page_of_readings_at_home() -> None:
    page = book_pages.source(ROOT / "book" / "pages" / "readings_at_home.md").decode()
    beside = home.page("x")
    for kind in PLANTED:
        start = page.find(f"\n### {kind.name}\n")
        need(start > 0, f"the page of readings at home has no part '{kind.name}'")
        part = page[start + 1:].partition("\n### ")[0]
        for words in (f"{kind.minutes:g} minutes", errors.in_words(kind), kind.how, kind.needs):
            need(words in part, f"the page of readings at home does not say '{words}' in the part '{kind.name}'")
            need(words in beside, f"the page beside the cards does not say '{words}'")
        need(f'id="{anchor(kind)}"' in beside, f"the page beside the cards has no part '{kind.name}'")
    need(PULL.drawing, "the page of readings at home has no drawing of it (Kind.drawing)")
    need("<figure" in page[page.find(f"\n### {PULL.name}\n") + 1:].partition("\n### ")[0], "its drawing is not on the page")


def on_the_page_of_the_sheet() -> None:
    for kind in PLANTED:
        need(f"| `{kind.name}` | {kind.unit} | {kind.how}" in home.table(), f"the table of readings lacks '{kind.name}'")
        need(f"{kind.name} {errors.in_words(kind)}" in home.all_errors(), f"the stated errors lack '{kind.name}'")


FACES = (in_the_empty_sheet, by_the_sheets_reader, predicted_for_a_coil, judged, judged_beside_a_known_good_coil,
         asked_for_as_the_next_step, on_the_terminals_card, on_the_html_card, on_the_printed_card, on_the_pages_card,
         on_the_pages_bench, on_the_page_of_readings_at_home, on_the_page_of_the_sheet)


def walked(face: Any) -> str:
    try:
        face()
    except AssertionError as error:
        return str(error)
    except Exception as error:  # a table that was forgotten: KeyError and the like
        return f"{type(error).__name__}: {error}"
    return ""


if __name__ == "__main__":
    print(json.dumps({face.__name__: walked(face) for face in FACES}))
