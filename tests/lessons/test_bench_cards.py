"""The coil cards as files: whole or not there, nobody else's file touched, offline, one page, good to be read aloud."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from coilbench import home, trial
from coilbench.asks import Ask, Setting
from coilbench.card import CAUTIONS, Card, anchor, as_text, how_words, view
from coilbench.card_html import MARK, as_html
from coilbench.card_pdf import _Page, as_pdf
from coilbench.card_pdf import page as pdf_page
from coilbench.cards import Folder, file_names, folder_for, write_card, write_list
from coilbench.causes import CAUSES, Coil
from coilbench.kinds import KINDS, Kind
from coilbench.looks import hues
from coilbench.pages import cards_markdown
from coilbench.sheet import Bench, parse, read_sheet, standing
from coilbench.stored import judge
from coilbench.together import of_sheet
from coilbench.units import UNITS
from coilbench.verdict import NUMBERS, Verdict
from coilmodel import Machine
from coilmodel.durable import DRAFT
from lessons import at_hand

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "lessons" / "examples" / "larkfield_twelve.csv"


@pytest.fixture(scope="module")
def cards() -> dict[str, Card]:
    """The example's cards."""
    return {name: card_of(name) for name in read_sheet(EXAMPLE).coils}


def card_of(name: str) -> Card:
    rows = read_sheet(EXAMPLE).coils[name]
    return view(name, standing(rows), judge(standing(rows)), rows)


class Outline(HTMLParser):
    """Headings, scopes of table headers, addresses, and pictures with their words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.tags: list[str] = []
        self.bare_headers = 0
        self.addresses: list[str] = []
        self.pictures: list[dict[str, str | None]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        about = dict(attrs)
        self.tags.append(tag)
        if re.fullmatch(r"h\d", tag):
            self.headings.append(int(tag[1]))
        self.bare_headers += tag == "th" and "scope" not in about
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href")]
        if tag == "svg":
            self.pictures.append(about)


# ------------------------------------------------------------------------------------------------------ what it says
def test_a_card_says_the_same_in_each_of_its_three_forms(cards: dict[str, Card]) -> None:
    for card in cards.values():
        page, text = as_html(card, EXAMPLE.name), " ".join(as_text(card).split())
        words = " ".join(re.sub(r"<[^>]+>", " ", page).replace("&#39;", "'").replace("&#34;", '"').split())
        for said in (card.cause, card.likeness, *card.next_steps, CAUTIONS, *(line.what for line in card.lines),
                     *(fitted.number.name for fitted in card.fitted)):
            assert said in words
            assert said in text


def test_the_cautions_stand_before_the_step_on_every_card_and_its_way_is_a_link_beside_it(
        cards: dict[str, Card], tmp_path: Path) -> None:
    assert all(card.asked is not None for card in cards.values() if "easure" in card.next_steps[0])
    for name, card in cards.items():
        page, text = " ".join(unescape(as_html(card)).split()), " ".join(as_text(card).split())
        paper = [" ".join(words.get_text().split()) for words in pdf_page(card).texts]
        on_paper = " ".join(paper)
        shown = at_hand.card(read_sheet(EXAMPLE), name)
        assert list(shown).index("cautions") < list(shown).index("next")
        for face in (page, text, on_paper):
            assert face.index(CAUTIONS) < face.index(card.next_steps[0][:60]), name
            assert how_words(card.asked) in face if card.asked else "How: " not in face
        assert shown["how"] == ({"words": how_words(card.asked), "anchor": anchor(card.asked)} if card.asked else None)
        folder = Folder(tmp_path)
        write_card(folder, name, card, EXAMPLE.name)
        links = Outline((tmp_path / f"{name}.html").read_text(encoding="utf-8")).addresses
        assert links == ([f"{home.FILE}#{anchor(card.asked)}"] if card.asked else [])
        if card.asked:
            assert f'id="{anchor(card.asked)}"' in (tmp_path / home.FILE).read_text(encoding="utf-8")
    (tmp_path / home.FILE).write_text("mine")  # somebody's own page of that name stays, and no card leads to it
    write_card(Folder(tmp_path), "x", cards["Birch"], EXAMPLE.name)
    assert (tmp_path / home.FILE).read_text() == "mine"
    assert Outline((tmp_path / "x.html").read_text(encoding="utf-8")).addresses == []


def test_a_page_needs_nothing_from_anywhere_and_can_be_read_aloud(cards: dict[str, Card]) -> None:
    for card in cards.values():
        outline = Outline(as_html(card))
        assert outline.addresses == []
        assert {"script", "link", "img", "iframe"}.isdisjoint(outline.tags)
        assert outline.headings[0] == 1
        assert outline.headings.count(1) == 1
        assert all(after - before <= 1 for before, after in zip(outline.headings, outline.headings[1:], strict=False))
        assert outline.bare_headers == 0
        for picture in outline.pictures:  # either it has words, or what it shows stands in the row beside it
            assert picture.get("aria-hidden") == "true" or picture.get("role") == "img" and len(picture["aria-label"] or "") > 40


def test_a_name_from_a_sheet_is_a_name_and_no_markup() -> None:
    rows = parse(b'coil,reading,value,remark\n"<b>&$x^2$",capacity,0.45,\n"<b>&$x^2$",adjusted,,"<i>$y_"\n').coils["<b>&$x^2$"]
    card = view("<b>&$x^2$", standing(rows), None, rows)
    assert "<b>&$" not in as_html(card)
    assert "<i>" not in as_html(card)
    assert as_pdf(card).startswith(b"%PDF")


def test_a_remark_on_a_reading_stands_on_every_card(monkeypatch: pytest.MonkeyPatch) -> None:
    """A count from a recording has its limits in the remark; several readings' one remark is said once; an older row's is not."""
    rows = parse(b"date,coil,reading,value,speed_rpm,remark\n"
                 b"2031-05-01,Elm,sparks per pulse,1.2,450,by ear\n"
                 b"2031-05-08,Elm,sparks per pulse,1.04,450,from a recording; between 0.96 and 1.10\n"
                 b"2031-05-08,Elm,opening current,5.4,450,damp day\n2031-05-08,Elm,opening current,5.1,600,damp day\n"
                 b"2031-05-08,Elm,capacity,0.45,,\n").coils["Elm"]
    readings = standing(rows)
    card = view("Elm", readings, judge(readings, False, False), rows)
    said = ["Remark on sparks per pulse at 450 rpm, drive 100 %: from a recording; between 0.96 and 1.10",
            "Remark on opening current at 450 rpm, drive 100 %; opening current at 600 rpm, drive 100 %: damp day"]
    assert sorted(line for line in card.remarks if line.startswith("Remark")) == sorted(said)
    page, text = " ".join(unescape(as_html(card)).split()), " ".join(as_text(card).split())
    written: list[str] = []
    words = _Page.words
    monkeypatch.setattr(_Page, "words", lambda paper, text, *rest, **more: (written.append(text),
                                                                            words(paper, text, *rest, **more)))
    as_pdf(card)
    for line in said:
        assert line in page
        assert line in text
        assert any(line in paragraph for paragraph in written)
    assert "by ear" not in text
    alike = [reading for reading in readings if reading.kind == "opening_current"]
    assert "Remark on all 2 readings: damp day" in view("Elm", alike, judge(alike, False, False), rows).remarks


LEFT = {
    "thrice": ([("sparks per pulse", 2.9, 450), ("opening current", 3.1, 450)],
               "Or leave it alone, but then it goes on as it was counted: 2.9 sparks a pulse at 450 rpm, drive 100 %. A coil "
               "that is well set gives 0.8", "one count cannot tell, and the model knows no wear"),
    "misses": ([("sparks per pulse", 0.6, 600), ("sparks per pulse", 1, 450), ("opening current", 7.0, 450)],
               "counted: 0.6 sparks a pulse at 600 rpm, drive 100 % (at least 40 in 100 pulses have none). A", "is well set"),
    "often": ([("sparks per pulse", 2 + 0.1 * place, rpm) for place, rpm in enumerate((150, 200, 300, 450, 600))],
              "counted: 2.2 sparks a pulse at 300 rpm, drive 100 %; 2.3 at 450 rpm, drive 100 %; 2.4 at 600 rpm, drive 100 %; "
              "and 2 counts more.", "A coil that is well set gives 0.8"),
    "dead": ([("sparks per pulse", 0, 450)], "counted: 0 sparks a pulse at 450 rpm", "(no pulse that was counted has one)"),
    "once": ([("sparks per pulse", 1, 450), ("opening current", 3.4, 450)],
             "Or leave it alone: nothing has to be done to a coil that does its work. Then keep this sheet", ""),
    "uncounted": ([("opening current", 3.4, 450)], "does its work. Whether this one does, none of the readings", ""),
}


@pytest.mark.parametrize("name", LEFT)
def test_leaving_a_coil_alone_means_what_its_own_counts_say(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """To leave it alone is offered to every coil, and no coil that fires thrice or misses is told that it does its work."""
    taken, *said = LEFT[name]
    rows = parse(("coil,reading,value,speed_rpm\n" + "".join(f"Elm,{what},{value},{rpm}\n" for what, value, rpm in taken)
                  ).encode()).coils["Elm"]
    readings = standing(rows)
    card = view("Elm", readings, judge(readings, False, False), rows)
    page, text = " ".join(unescape(as_html(card)).split()), " ".join(as_text(card).split())
    written: list[str] = []
    put = _Page.put
    monkeypatch.setattr(_Page, "put", lambda paper, x, text, *rest, **more: (written.append(text),
                                                                             put(paper, x, text, *rest, **more)))
    as_pdf(card)
    for form in (page, text, " ".join(" ".join(written).split())):
        assert all(one in form for one in said)
        assert form.count("Or leave it alone") == 1
        assert form.count("at the highest speed before the next season.") == 1  # to its end
        assert ("does its work" in form) == (name in ("once", "uncounted"))


def test_the_longest_sentence_of_a_cause_stands_on_paper_to_its_end(cards: dict[str, Card],
                                                                    monkeypatch: pytest.MonkeyPatch) -> None:
    names = sorted((cause.name for cause in CAUSES), key=len)[-4:]
    longest = ("These readings cannot tell: two faults, or something else, have 29 in 100, and one cause alone is named where "
               f"they have under 6. Likeliest {names[0]}, 67 in 100. Then: "
               f"{'; '.join(f'{name} 14 in 100' for name in names[1:])}.")
    written: list[str] = []
    put = _Page.put
    monkeypatch.setattr(_Page, "put", lambda paper, x, text, *rest, **more: (written.append(text),
                                                                             put(paper, x, text, *rest, **more)))
    as_pdf(replace(cards["Alder"], cause=longest))
    assert longest in " ".join(" ".join(written).split())


def test_a_coil_counted_before_is_not_said_to_have_one_count() -> None:
    rows = parse(b"date,coil,reading,value,speed_rpm\n2031-05-01,Elm,sparks per pulse,2.1,450\n"
                 b"2031-05-08,Elm,sparks per pulse,2.9,450\n").coils["Elm"]
    readings = standing(rows)
    card = view("Elm", readings, judge(readings, False, False), rows)
    assert "the earlier counts above may show" in card.next_steps[-1]
    assert any(what.startswith("sparks per pulse") for what, _ in card.earlier)


def test_the_pdf_is_one_page_however_much_there_is_to_say(cards: dict[str, Card]) -> None:
    pages = [as_pdf(card) for card in cards.values()]
    assert all(page.count(b"/Type /Page ") + page.count(b"/Type /Page\n") == 1 for page in pages)
    lines = [f"2031-0{1 + i % 9}-11,Elm,opening current,5.{i},{200 + 13 * i},{'long ' * 60}" for i in range(40)]
    rows = parse(("date,coil,reading,value,speed_rpm,remark\n" + "\n".join(lines)).encode()).coils["Elm"]
    verdict = trial_verdict()
    long = view("Elm " * 12, standing(rows), verdict, rows * 3)
    page = as_pdf(long)
    assert page.count(b"/Type /Page ") + page.count(b"/Type /Page\n") == 1
    assert as_pdf(long) == page  # the same bytes for the same card


def trial_verdict() -> Verdict:
    return trial.try_coils(1, trial.SHEETS["few"], seed=3)[0].verdict


# ------------------------------------------------------------------------------------------------------- its history
def test_the_history_shows_days_adjustments_and_what_no_longer_counts(cards: dict[str, Card]) -> None:
    series = next(one for one in cards["Damson"].history if one.kind.key == "opening_current")
    assert [day for day, _, _ in series.points] == [date(2031, 3, 6), date(2031, 4, 10), date(2031, 5, 8)]
    assert [counts for _, _, counts in series.points] == [False, False, True]
    assert cards["Damson"].changes == ((date(2031, 4, 10), "cushion spring tightened (invented)"),)
    page = as_html(cards["Damson"])
    assert "2031-04-10: adjusted (cushion spring tightened (invented))" in page
    assert "(no longer counts)" in page
    for picture in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(picture)


def test_readings_without_a_date_are_counted_not_drawn() -> None:
    rows = parse(b"coil,reading,value,date\nElm,capacity,0.45,\nElm,capacity,0.46,2031-05-08\n").coils["Elm"]
    page = as_html(view("Elm", standing(rows), None, rows))
    assert "1 reading has no date" in page
    assert "No reading has been taken on two days yet." in page


# ---------------------------------------------------------------------------------------------------- the fitted machine
def test_what_the_readings_cannot_tell_is_said() -> None:
    readings = [trial.as_reading(Ask("capacity"), 0.45e-6), trial.as_reading(Ask("travel"), Machine().cushion.travel)]
    verdict = judge(readings, next_steps=False)
    fitted = {one.number.key: one for one in verdict.fitted}
    assert set(fitted) == {number.key for number in NUMBERS}
    assert fitted["condenser_capacitance"].told
    assert 0.4e-6 < fitted["condenser_capacitance"].low < 0.45e-6 < fitted["condenser_capacitance"].high < 0.5e-6
    assert not fitted["vibrator_preload"].told
    assert fitted["vibrator_preload"].low == pytest.approx(fitted["vibrator_preload"].before_low, rel=0.3)
    assert "not told by these readings" in as_html(view("X", readings, verdict, []))


# ----------------------------------------------------------------------------------------------------------- as files
def test_file_names_are_plain_and_no_two_alike() -> None:
    names = ["Alder", "alder!", "a/l\\der", "../../etc", "CON", "杉", "桜", "coil 1", "x" * 300, "", ".hidden"]
    found = file_names(names)
    assert len({name.casefold() for name in found.values()}) == len(found) == len(names)
    assert all(re.fullmatch(r"coil-[a-z0-9-]{1,50}", name) for name in found.values())


def test_cards_replace_cards_and_nothing_else(cards: dict[str, Card], tmp_path: Path) -> None:
    (tmp_path / "coil-birch.pdf").write_bytes(b"%PDF my own drawing")
    (tmp_path / "coil-alder.html").symlink_to(tmp_path / "elsewhere.html")
    folder = Folder(tmp_path)
    written = [path.name for name in ("Alder", "Birch") for path in write_card(folder, f"coil-{name.lower()}", cards[name], "s")]
    assert written == ["coil-alder.pdf", "coil-birch.html"]
    assert [path.name for path in folder.left_alone] == ["coil-alder.html", "coil-birch.pdf"]
    assert (tmp_path / "coil-birch.pdf").read_bytes() == b"%PDF my own drawing"
    assert not (tmp_path / "elsewhere.html").exists()
    before = (tmp_path / "coil-birch.html").read_bytes()
    assert MARK.encode() in before
    write_card(Folder(tmp_path), "coil-birch", cards["Alder"], "s")
    assert (tmp_path / "coil-birch.html").read_bytes() != before
    listed = write_list(folder, {"coil-birch": cards["Birch"]}, "s.csv")
    assert listed is not None
    assert Outline(listed.read_text()).addresses == ["coil-birch.html", "coil-birch.pdf"]


def test_an_interrupted_write_leaves_the_old_card_and_the_next_run_sweeps(cards: dict[str, Card], tmp_path: Path,
                                                                          monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Folder(tmp_path)
    write_card(folder, "coil-birch", cards["Birch"], "s")
    before = (tmp_path / "coil-birch.html").read_bytes()

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("os.replace", interrupted)
        with pytest.raises(KeyboardInterrupt):
            write_card(folder, "coil-birch", cards["Alder"], "s")
    assert (tmp_path / "coil-birch.html").read_bytes() == before
    assert not list(tmp_path.glob(f"{DRAFT}*"))
    draft = tmp_path / f"{DRAFT}old"
    draft.write_bytes(before[:100])
    monkeypatch.setattr("coilbench.cards.OLD", -1.0)
    Folder(tmp_path)
    assert not draft.exists()


def test_a_killed_run_leaves_whole_cards(tmp_path: Path) -> None:
    script = ("import sys; sys.path.insert(0, sys.argv[1])\n"
              "from pathlib import Path; from coilbench.cards import Folder, MARK\n"
              "folder = Folder(Path(sys.argv[2])); print('on', flush=True)\n"
              "while True:\n    for sign in b'ab':\n        folder.put('coil-x.html', MARK.encode() + bytes([sign]) * 3_000_000)")
    for wait in (0.05, 0.2):
        run = subprocess.Popen([sys.executable, "-c", script, str(ROOT), str(tmp_path)], stdout=subprocess.PIPE)
        assert run.stdout is not None
        assert run.stdout.readline() == b"on\n"
        time.sleep(wait)
        run.send_signal(signal.SIGKILL)
        run.wait()
        run.stdout.close()
        card = tmp_path / "coil-x.html"
        if card.exists():
            content = card.read_bytes()
            assert content in {MARK.encode() + sign * 3_000_000 for sign in (b"a", b"b")}


def test_the_cards_go_beside_the_sheet_unless_told_otherwise() -> None:
    assert folder_for(Path("/home/x/my coils.csv")) == Path("/home/x/my coils_cards")


# ------------------------------------------------------------------------------------------------------- and the rest
def test_cards_can_be_parts_of_a_page(cards: dict[str, Card], tmp_path: Path) -> None:
    for name, stem in file_names(list(cards)).items():
        (tmp_path / f"{stem}.part").write_text(as_html(cards[name], part=True), encoding="utf-8")
    text = cards_markdown(tmp_path, "coil_cards")
    assert text.count("<details") == 4
    assert "coil_cards/coil-birch.pdf" in text
    assert "\n\n" not in text
    assert min(Outline(text).headings) == 3


def test_a_sheet_of_a_transformer_is_judged() -> None:
    setting = Setting(Bench(volts=9.0, hertz=50.0))
    coil = Coil(Machine())
    rows = parse(b"coil,reading,value,supply,supply_V,supply_Hz\nElm,opening current,5.1,transformer,9,50\n"
                 b"Elm,sparks per pulse,2.3,Transformer,9 V,50 Hz\nElm,meter RMS,2.2,transformer,9,\n")
    assert rows.messages == ["Row 4, column 'supply_Hz': empty, and meter RMS means nothing without it; the row is left out."]
    readings = standing(rows.coils["Elm"])
    assert {reading.bench for reading in readings} == {setting.bench}
    assert trial.outcome(coil, setting)[0] == pytest.approx(5.1, abs=1.0)
    verdict = judge(readings, next_steps=False)
    assert "transformer of 9 V, 50 Hz" in as_text(view("Elm", readings, verdict, rows.coils["Elm"]))


PLAIN = [kind for kind in KINDS if kind.key not in ("adjusted", "self_discharge")]


@pytest.mark.parametrize("kind", PLAIN, ids=lambda kind: kind.key)
def test_any_reading_taken_on_two_days_makes_a_card(kind: Kind) -> None:
    """The card asks for forces and resistances; read on a second day they have a history, and a history is drawn in a hue."""
    where = {"speed_rpm": "450", "drive_percent": "100"} if kind.running else {}
    middle = {"sparks": 1.0, "gap": 10.0}.get(kind.key)
    unit = UNITS[kind.measure][kind.unit]
    value = middle if middle is not None else round((kind.low * kind.high) ** 0.5 / unit, 4) or round(0.1 * kind.high / unit, 4)
    head = ["coil", "date", "reading", "value", "unit", *where]
    rows = [["Elm", f"2026-0{month}-03", kind.name, f"{value:g}", kind.unit, *where.values()] for month in (3, 4)]
    sheet = parse("\n".join(",".join(row) for row in [head, *rows]).encode())
    assert not sheet.messages, sheet.messages
    found = sheet.coils["Elm"]
    card = view("Elm", standing(found), judge(standing(found)) if kind.key != "gap" else None, found)
    assert kind.name in as_text(card).replace("\n", " ") or kind.key == "gap"
    assert as_html(card).startswith("<!doctype html>")
    assert as_pdf(card).startswith(b"%PDF")
    assert kind.hue in hues()["quantities"]


def test_a_card_says_on_every_face_what_it_is_held_against(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A printed card of a stranger's coil had odds and no word of what they are against; the page said it under the table."""
    from coilbench.__main__ import main

    text = "coil,reading,value,speed_rpm,known_good\n" + "".join(
        f"{coil},{kind},{value},{rpm},{mark}\n" for coil, mark, rows in (
            ("Good", "yes", (("sparks per pulse", 1, 450), ("opening current", 5.6, 450), ("opening current", 5.0, 600))),
            ("Other", "", (("sparks per pulse", 1.9, 450), ("opening current", 4.4, 450)))) for kind, value, rpm in rows)
    file = tmp_path / "mine.csv"
    file.write_text(text, encoding="utf-8")
    assert main([str(file), "--coil", "Other"]) == 0
    said = "Held against the known-good Good, on the same magneto"
    assert said in " ".join(capsys.readouterr().out.split())
    page = (tmp_path / "mine_cards" / "coil-other.html").read_text(encoding="utf-8")
    assert said in page
    assert page.index(said) < page.index("Next step")
    sheet = parse(text.encode())
    one = of_sheet(sheet.coils, {name: standing(rows) for name, rows in sheet.coils.items()})[0]
    shown = view("Other", standing(sheet.coils["Other"]), one.together.verdict("Other"), sheet.coils["Other"], one.held)
    assert said in " ".join(" ".join(written.get_text() for written in pdf_page(shown).texts).split())
    card = at_hand.card(parse(text.encode()), "Other")
    assert card["held"][0].startswith(said)
    stranger = at_hand.card(parse(text.replace("yes", "").encode()), "Other")
    assert stranger["held"][0].startswith("The make is not known")
