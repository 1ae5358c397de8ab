"""Lesson 10: every claim of its presets, replies and text in numbers, the learner's own sheet, and the element that shows it."""

from __future__ import annotations

import base64
import json
import random
import re
from pathlib import Path

import pytest

from coilbench import carried, stored
from coilbench.causes import BY_KEY, CAUSES, OTHER
from coilbench.errors import NAMED
from coilbench.sheet import parse, standing
from lessons import at_hand, surroundings
from lessons.contracts import Panel, pack
from lessons.engine import Engine
from lessons.exercises import bench as exercises
from lessons.face import standin, widget
from lessons.panels import bench as panel
from lessons.panels import bench_capture as capture

from .test_face import open_page

EXAMPLE = at_hand.example()["text"]


def preset(of: Panel, label: str):
    return of.picture(next(one for one in of.presets if one.label == label).values)


def shares_of(picture) -> dict[str, float]:
    """Odds by name out of a picture's rows."""
    return {bar.label: bar.value / 100.0 for bar in picture.bars[0].bars}


def name(key: str) -> str:
    return BY_KEY[key].name


# ---------------------------------------------------------------------------------------- panel 1: what readings tell
def test_pictures_can_be_sent_and_drawn() -> None:
    for one in panel.PANELS:
        for each in one.presets:
            json.dumps(pack(one.picture(each.values)).tree, allow_nan=False)
            assert one.picture(each.values, whole=False).sentence
        standin.figure(one.picture(one.presets[1].values))
        assert "not taken" in standin.panel_html(panel.READINGS)


def test_nothing_taken_shows_what_was_likely_beforehand_and_what_to_measure_first() -> None:
    picture = panel.READINGS.picture()
    assert picture.sentence.startswith("Nothing is measured yet")
    assert "Most telling next" in picture.sentence
    for bar in picture.bars[0].bars:
        assert bar.value == pytest.approx(bar.tick)
    assert len(picture.bars) == 1  # no reading to hold against anything


def test_the_four_demo_coils_are_named_and_alder_is_well() -> None:
    expected = {"Alder": "well_set", "Birch": "cushion_slack", "Cedar": "leakage", "Damson": "cushion_stiff"}
    for coil, key in expected.items():
        picture = preset(panel.READINGS, coil)
        assert max(shares_of(picture), key=shares_of(picture).get) == name(key), coil
        assert picture.sentence.startswith(f"Likeliest: {name(key)}"), coil
        assert any(bar.strong and "named" in bar.text for bar in picture.bars[0].bars)
    assert all(not bar.strong for bar in preset(panel.READINGS, "Alder").bars[1].bars)  # every mark within its range
    birch = {bar.label for bar in preset(panel.READINGS, "Birch").bars[1].bars if bar.strong}
    assert "Sparks, 600 rpm" in birch
    cedar = {bar.label for bar in preset(panel.READINGS, "Cedar").bars[1].bars if bar.strong}
    assert panel.BY_SPOT["left"].name in cedar
    damson = {bar.label: bar for bar in preset(panel.READINGS, "Damson").bars[1].bars}
    assert damson["Current, 450 rpm"].value < -1.0
    assert damson["Sparks, 450 rpm"].value > 1.0


def test_one_reading_tells_little_the_second_much_and_a_meter_least() -> None:
    doubt = {label: stored.doubt(list(shares_of(preset(panel.READINGS, label)).values()))
             for label in ("Nothing yet", "One reading", "A meter instead", "Two readings", "Birch")}
    assert doubt["Birch"] < doubt["Two readings"] < doubt["One reading"] < doubt["A meter instead"] < doubt["Nothing yet"]
    for label in ("One reading", "A meter instead"):
        assert max(shares_of(preset(panel.READINGS, label)).values()) < NAMED
        assert "One reading cannot tell" in preset(panel.READINGS, label).sentence
    assert shares_of(preset(panel.READINGS, "Birch"))[name("cushion_slack")] >= NAMED


def test_a_reading_left_out_is_not_a_reading_of_nought() -> None:
    birch = panel.of_coil("Birch")
    without = panel.READINGS.picture({**birch, "left": None})
    nought = panel.READINGS.picture({**birch, "left": 0.0})
    assert shares_of(without) != shares_of(nought)
    leaks = [shares[name("leakage")] + shares[OTHER.name] for shares in (shares_of(without), shares_of(nought))]
    assert leaks[0] < 0.1 < leaks[1]  # slack and leaking besides: two faults


def test_the_alternative_says_the_readings_and_all_the_odds() -> None:
    alt = preset(panel.READINGS, "Birch").alt
    assert all(cause.name in alt for cause in CAUSES)
    assert "sparks per pulse at 600 rpm" in alt


def test_the_quick_picture_has_the_odds_of_the_whole_one() -> None:
    values = panel.of_coil("Damson")
    assert panel.READINGS.picture(values, whole=False).bars == panel.READINGS.picture(values).bars


# -------------------------------------------------------------------------------------------- panel 2: in which order
def test_the_order_changes_how_soon_and_not_where_it_ends() -> None:
    slow, fast = (preset(panel.STEPS, label) for label in ("Meter and condenser first", "Counts first"))
    assert shares_of(slow) == pytest.approx(shares_of(fast), abs=1e-9)
    lines = {one.label: one.y for one in slow.charts[0].lines}
    first = max(lines, key=lambda label: lines[label][-1])
    soon = {one.label: one.y for one in fast.charts[0].lines}[first]
    assert soon[2] > lines[first][2] + 10.0  # after two readings, in a hundred
    assert soon[-1] == pytest.approx(lines[first][-1])


def test_most_telling_first_names_it_in_four() -> None:
    assert "likeliest" in preset(panel.STEPS, "Most telling first").sentence


def test_going_back_along_the_sheet_shows_what_was_known_then() -> None:
    lines = panel.sheet("sparks600", "current450", "travel")
    back = panel.STEPS.picture({**lines, "until": 1.0})
    assert shares_of(back) == shares_of(panel.STEPS.picture(panel.sheet("sparks600")))


def test_a_hidden_coil_never_explains_itself_and_reads_the_same_again() -> None:
    assert panel.read_off(5, "current450") == panel.read_off(5, "current450")
    assert panel.steps_of(5, ("sparks600", "sparks600")) == panel.steps_of(5, ("sparks600",))
    assert {panel.fault_of(number).key for number in range(1, panel.COILS + 1)} >= {"well_set", "cushion_slack", "leakage"}


def test_the_box_is_honest() -> None:
    """Of the box's coils with a named cause after six readings most are named right: the odds keep what they promise."""
    keys = ("sparks600", "current450", "left", "capacity", "sparks200", "travel")
    ends = [(panel.fault_of(number).key, panel.steps_of(number, keys)[-1].shares) for number in range(1, panel.COILS + 1)]
    named = [(truth, panel.named(shares)) for truth, shares in ends if panel.named(shares)]
    right = sum(truth == found for truth, found in named)
    promised = sum(max(shares.values()) for _, shares in ends if panel.named(shares))
    assert len(named) >= 15
    assert right >= promised - 2.5 * (len(named) * 0.25) ** 0.5


# ------------------------------------------------------------------------------------------------- panel 3: a capture
def test_the_presets_of_the_capture_show_what_they_say() -> None:
    moment, current = capture.true_opening()
    clean = capture.read_off(capture.capture(*capture.CLEAN))
    found = {}
    for one in capture.PANEL.presets:
        values = {**capture.PANEL.defaults(), **one.values}
        found[one.label] = capture.read_off(capture.capture(values["samples"], values["noise"], values["bits"]))
        picture = capture.PANEL.picture(one.values)
        json.dumps(pack(picture).tree, allow_nan=False)
        assert ("Nothing can be read off" in picture.sentence) == (found[one.label] is None)
    for label, near, rise in (("A usual scope", 0.05, 0.15), ("Four bits", 0.09, 0.2)):
        assert found[label][1] == pytest.approx(current, rel=near)
        assert found[label][0] == pytest.approx(moment, abs=0.06)
        assert found[label][2] == pytest.approx(clean[2], rel=rise)
    assert abs(found["Too slow"][0] - moment) > 0.2
    assert found["Noisy, few looks"] is None
    assert found["Noisy, many looks"][1] == pytest.approx(current, rel=0.15)
    assert found["Noisy, many looks"][0] == pytest.approx(moment, abs=0.06)
    standin.figure(capture.PANEL.picture())


def test_no_setting_of_the_capture_fails() -> None:
    low, high = ({control.symbol: getattr(control, end) for control in capture.PANEL.controls} for end in ("low", "high"))
    for samples in (low["samples"], 2.0, 3.0, 5.0, high["samples"]):
        for noise in (low["noise"], high["noise"]):
            for bits in (low["bits"], high["bits"]):
                assert capture.PANEL.picture({"samples": samples, "noise": noise, "bits": bits}).sentence


# ----------------------------------------------------------------------------------------------------- the exercises
def test_the_beliefs_of_the_course_are_caught_here() -> None:
    caught = {belief.key for exercise in exercises.EXERCISES for belief in exercise.misconceptions}
    assert {"the-likeliest-is-certain", "missing-is-nought", "equal-meters-equal-coils", "condenser-first-always",
            "odds-are-of-the-coil", "leakage-shows-as-capacity", "forgets-what-was-likely-before"} <= caught
    assert len(exercises.EXERCISES) >= 6
    assert len({exercise.kind for exercise in exercises.EXERCISES}) == 5


def test_there_are_coils_to_name_of_several_kinds() -> None:
    coils = [number for number in exercises.POOL if exercises.can_be_named(number)]
    assert len(coils) >= 5
    assert len({panel.fault_of(number).key for number in coils}) >= 3
    for number in coils:
        steps = panel.steps_of(number, exercises.way_to_name(number))
        assert panel.minutes_of(steps) <= exercises.BUDGET


def test_a_single_reading_never_names_a_cause_in_the_prediction() -> None:
    for key, value in exercises.ALONE:
        assert exercises._alone_outcome({"key": key, "value": value}) in ("several", "nothing")


def test_well_set_coils_differ_more_on_the_meter_than_the_two_of_the_question() -> None:
    low, high = stored.well_set_range(panel.BY_SPOT["meter450"].ask)
    for cause, tells in exercises.PAIRS:
        for one, other in exercises.equal_pairs(cause, tells):
            values = stored.predictions(panel.BY_SPOT["meter450"].ask)[0]
            assert abs(values[one] - values[other]) < 0.3 * (high - low)


# -------------------------------------------------------------------------------------- the learner's own bench sheet
@pytest.fixture
def engine() -> Engine:
    return Engine()


def send(engine: Engine, data: bytes, filename: str = "mine.csv") -> dict:
    return engine.handle({"do": "sheet", "data": base64.b64encode(data).decode(), "name": filename}).tree


def test_the_example_gives_a_card_for_each_coil_that_agrees_with_the_judge(engine: Engine) -> None:
    found = send(engine, EXAMPLE.encode())["sheet"]
    assert found["coils"] == ["Alder", "Birch", "Cedar", "Damson"]
    assert found["messages"] == []
    for coil in found["coils"]:
        card = engine.handle({"do": "card", "coil": coil}).tree["card"]
        verdict = stored.judge(standing(parse(EXAMPLE.encode()).coils[coil]))
        assert verdict.cause.name in card["sentence"]
        assert len(card["table"]) == len(verdict.judged)
        assert card["next"][0].startswith(("Do next: ", "To be surer, measure "))
        assert any(verdict.cause.remedy in line for line in card["next"])
        assert "licensed practice" in card["cautions"]
        json.dumps(card)


def test_the_empty_sheet_can_be_filled_in_and_comes_back_as_a_card(engine: Engine) -> None:
    blank = engine.handle({"do": "template"}).tree
    assert blank["filename"].endswith(".csv")
    said = send(engine, blank["text"].encode())["sheet"]
    assert said["coils"] == []
    assert "not measured yet" in said["summary"]
    rows = blank["text"].replace("sparks per pulse,,", "sparks per pulse,1,")
    assert send(engine, rows.encode())["sheet"]["coils"]


@pytest.mark.parametrize("data", [b"", b"  \r\n ", b"\xef\xbb\xbf", b"PK\x03\x04" + bytes(range(256)), bytes(4000),
                                  random.Random(3).randbytes(3000), b"\xd0\xcf\x11\xe0" + bytes(500), b"hello",
                                  b"%PDF-1.7\n" + random.Random(4).randbytes(2000), b"coil,reading,value\n"])
def test_a_file_that_is_no_sheet_gets_a_sentence(engine: Engine, data: bytes) -> None:
    tree = send(engine, data)
    if "error" in tree:
        assert tree["error"].endswith(".")
        assert "\n" not in tree["error"]
    else:
        assert tree["sheet"]["coils"] == []
        assert "--new" not in " ".join(tree["sheet"]["messages"])


def test_a_huge_file_and_damaged_requests_get_a_sentence(engine: Engine) -> None:
    assert "larger than 2 MB" in send(engine, b"x" * 2_000_001)["error"]
    for request in ({"do": "sheet"}, {"do": "sheet", "data": "?", "name": ""}, {"do": "sheet", "data": 5},
                    {"do": "sheet", "data": "", "name": 7}, {"do": "card", "coil": "Alder"}):
        assert engine.handle(request).tree["error"].endswith(".")
    send(engine, EXAMPLE.encode())
    for coil in ("Elm", None, 3, ["Alder"]):
        assert engine.handle({"do": "card", "coil": coil}).tree["error"].endswith(".")


def test_bad_rows_are_named_and_the_good_ones_used(engine: Engine) -> None:
    text = "coil,reading,value,speed_rpm\nElm,sparks per pulse,two,450\nElm,opening current,5.1,450\nElm,opening current,5,333\n"
    found = send(engine, text.encode())["sheet"]
    assert "Row 2, column 'value'" in found["messages"][0]
    card = engine.handle({"do": "card", "coil": "Elm"}).tree["card"]
    assert len(card["table"]) == 1
    assert any("333 rpm" in note and "python3 course.py bench" in note for note in card["held"])


def test_a_coil_known_only_from_strange_benches_says_so_and_nothing_else(engine: Engine) -> None:
    send(engine, b"coil,reading,value,speed_rpm\nElm,opening current,5,333\n")
    card = engine.handle({"do": "card", "coil": "Elm"}).tree["card"]
    assert card["bars"] == []
    assert "333 rpm" in card["held"][0]


def test_in_a_page_without_the_stored_coils_the_engine_says_which_file_it_wants(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(path: str) -> str:
        raise carried.FileWanted(path)

    monkeypatch.setattr(stored.carried, "text_of", missing)
    for cached in (stored.imagined, stored.predictions, stored.log_likelihoods, panel.judged_sheet):
        cached.cache_clear()
    engine = Engine()
    text, arrays = engine.handle_json('{"do": "panel", "name": "bench_readings"}')
    assert engine.wanted == stored.FILE == json.loads(text)["wants"]  # the first is what the page's worker looks at
    assert json.loads(text)["error"]
    assert not arrays
    engine.handle_json('{"do": "template"}')
    assert engine.wanted == ""


def test_only_files_that_the_course_carries_can_be_read() -> None:
    with pytest.raises(ValueError, match="no file of data"):
        carried.text_of("pyproject.toml")


# ------------------------------------------------------------------------------------------------- in a real browser
SHEET_HTML = "<coil-sheet><p>Your sheet</p></coil-sheet>"


@pytest.fixture
def page(browser):
    one = open_page(browser, SHEET_HTML, Engine(), "coil-sheet[data-state=live]", accept_downloads=True)
    one.evaluate("asked.length = 0")
    yield one
    assert one.faults == []
    assert one.strangers == []
    one.close()


def told(page, words: str) -> None:
    page.wait_for_function("(words) => document.querySelector('coil-sheet').shadowRoot.querySelector('.feedback').textContent"
                           ".includes(words)", arg=words)


def cards(page):
    return page.locator("coil-sheet article.card")


@pytest.mark.browser
def test_a_chosen_file_becomes_cards_and_asks_nothing_of_any_network(page) -> None:
    requests = []
    page.on("request", lambda request: requests.append(request.url))
    page.locator("coil-sheet input[type=file]").set_input_files({"name": "mine.csv", "mimeType": "text/csv",
                                                                 "buffer": EXAMPLE.encode()})
    told(page, "4 coils.")
    page.wait_for_function("document.querySelector('coil-sheet').shadowRoot.querySelectorAll('article.card').length === 4")
    assert [request["do"] for request in page.evaluate("asked")] == ["sheet", "card", "card", "card", "card"]
    assert requests == []
    birch = cards(page).nth(1)
    assert birch.get_attribute("aria-label") == "Coil card: Birch"
    assert birch.get_by_role("heading", name="Birch").count() == 1
    assert birch.get_by_role("columnheader").all_text_contents()[:4] == ["Reading", "Taken", "A well-set coil gives", "So it is"]
    assert birch.get_by_role("img", name="Likely causes: cushion spring too slack").count() == 1
    assert "licensed practice" in birch.text_content()
    assert "stays on this machine" in page.locator("coil-sheet section").first.text_content()
    with page.expect_download() as kept:
        birch.get_by_role("button", name="Save Birch's card").click()
    assert kept.value.suggested_filename == "coil_card_birch.html"
    text = Path(kept.value.path()).read_text(encoding="utf-8")
    assert "cushion spring too slack" in text
    assert "<svg" in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.browser
def test_the_example_and_the_empty_sheet_are_a_button_each(page) -> None:
    page.get_by_role("button", name="Show the Larkfield Twelve").click()
    page.wait_for_function("document.querySelector('coil-sheet').shadowRoot.querySelectorAll('article.card').length === 4")
    with page.expect_download() as kept:
        page.get_by_role("button", name="Save an empty sheet").click()
    assert Path(kept.value.path()).read_bytes().decode() == at_hand.empty_sheet()["text"]


@pytest.mark.browser
def test_a_dropped_file_is_read_and_bad_ones_get_one_sentence(page) -> None:
    drop = """([name, bytes]) => {
        const data = new DataTransfer();
        data.items.add(new File([new Uint8Array(bytes)], name));
        const section = document.querySelector('coil-sheet').shadowRoot.querySelector('section');
        section.dispatchEvent(new DragEvent('drop', {dataTransfer: data, bubbles: true, cancelable: true}));
    }"""
    page.evaluate(drop, ["two.csv", list(b"coil,reading,value,speed_rpm\nElm,opening current,6.4,450\nElm,sparks,x,450\n")])
    told(page, "1 of 2 rows used; 1 coil.")
    assert "Row 3, column 'value'" in page.locator("coil-sheet details").text_content()
    page.evaluate(drop, ["empty.csv", []])
    told(page, "empty.csv is empty")
    assert cards(page).count() == 0
    page.evaluate(drop, ["picture.png", list(random.Random(1).randbytes(2000))])
    page.wait_for_function("!document.querySelector('coil-sheet').shadowRoot.querySelector('.feedback').textContent"
                           ".includes('Reading')")
    assert cards(page).count() == 0
    page.evaluate("""() => {
        const data = new DataTransfer();
        data.items.add(new File([new Uint8Array(2_100_000)], 'huge.csv'));
        const section = document.querySelector('coil-sheet').shadowRoot.querySelector('section');
        section.dispatchEvent(new DragEvent('drop', {dataTransfer: data, bubbles: true, cancelable: true}));
    }""")
    told(page, "huge.csv has 2 MB")
    assert [request["do"] for request in page.evaluate("asked")].count("sheet") == 3  # the huge one was never read


@pytest.mark.browser
@pytest.mark.parametrize("home", ["../readings_at_home.html", ""])
def test_the_cautions_stand_before_the_step_and_the_way_is_a_link_where_its_page_is(browser, home: str) -> None:
    about = f' home="{home}"' if home else ""
    one = open_page(browser, f"<coil-sheet{about}></coil-sheet>", Engine(), "coil-sheet[data-state=live]", accept_downloads=True)
    sheet = "coil,reading,value,speed_rpm\nElm,sparks per pulse,1.9,450\n"
    file = {"name": "a.csv", "mimeType": "text/csv", "buffer": sheet.encode()}
    one.locator("coil-sheet input[type=file]").set_input_files(file)
    told(one, "1 coil.")
    elm = cards(one).first
    elm.wait_for()
    said = elm.text_content()
    assert said.index("licensed practice") < said.index("easure ") < said.index("How: the course's page")
    link = elm.get_by_role("link", name="How: the course's page 'Every reading at home'")
    assert link.count() == (1 if home else 0)
    if home:
        address = link.evaluate("(a) => [a.getAttribute('href'), new URL('../readings_at_home.html', document.baseURI).href]")
        assert re.fullmatch(re.escape(address[1]) + "#[a-z-]+", address[0])
        with one.expect_download() as kept:  # in a card that is saved elsewhere it leads there too
            elm.get_by_role("button", name="Save Elm's card").click()
        assert f'href="{address[0]}"' in Path(kept.value.path()).read_text(encoding="utf-8")
    assert one.faults == []
    one.close()


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 360])
def test_cards_fit_the_screen(page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.get_by_role("button", name="Show the Larkfield Twelve").click()
    page.wait_for_function("document.querySelector('coil-sheet').shadowRoot.querySelectorAll('article.card').length === 4")
    page.wait_for_timeout(100)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_in_a_notebook_the_element_says_where_the_file_goes(monkeypatch: pytest.MonkeyPatch) -> None:
    assert widget.sheet().as_html.startswith('<coil-sheet home="../readings_at_home.html"><p>')  # the book's own
    monkeypatch.setenv(surroundings.SESSION, "10_the_bench.ipynb")
    assert widget.sheet().as_html.startswith(f'<coil-sheet kernel="" desk="{widget.desk().name}"><p>')
