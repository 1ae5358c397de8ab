"""Pictures made at build: they answer the first touch, and the live model takes over from them."""

from __future__ import annotations

import gzip
import json
import math
from array import array
from typing import Any

import pytest

from book.making import early
from lessons.contracts import Axis, Chart, Choice, Control, Line, Panel, Picture, Preset, pack
from lessons.engine import Engine
from lessons.panels import PANELS

from .browsing import LIVE, live, native, shown

X, Y = Axis("x", "1"), Axis("y", "1")
START = "coil-panel[name=first_look]"


def drawn(values: Any) -> Picture:
    """A picture with a curve that has a gap, and one of whole numbers."""
    times = [0.25 * i for i in range(40)]
    rough = [math.nan if i == 7 else values["size"] * math.sin(i) for i in range(40)]
    counts = [float(i % 5) for i in range(40)]
    chart = Chart("c", "C", X, Y, (Line("rough", "plain", times, rough), Line("n", "plain", times, counts)))
    return Picture(f"Size {values['size']:g}.", "A curve.", strips=(chart,))


SIZE = Control("size", "Size", "mm", 1.0, 3.0, 0.5, 1.0, "Why.")
FEW = Panel("few", "Few", "What?", (SIZE, Choice("mode", "Mode", (("a", "A"), ("b", "B")), "a", "Why.")), drawn)
MANY = Panel("many", "Many", "What?", (Control("size", "Size", "mm", 0.0, 9.0, 0.1, 1.0, "Why."),), drawn,
             (Preset("Same", {}, "Look."), Preset("Large", {"size": 8.0}, "Look.")))


def unpacked(content: bytes) -> tuple[dict[str, Any], list[list[float]]]:
    """Read a file as its form is described."""
    content = gzip.decompress(content)
    length = int.from_bytes(content[:4], "little")
    head, at, curves = json.loads(content[4:4 + length]), 4 + length, []
    for count, low, step in head["curves"]:
        now, curve = 0, []
        for i in range(count):
            now += content[at + i] + 256 * content[at + count + i]
            signed = (now + 32_768) % 65_536 - 32_768
            curve.append(math.nan if signed == early.MISSING else low + step * (signed + 32_500))
        curves.append(curve)
        at += 2 * count
    assert at == len(content)
    return head, curves


def test_a_file_holds_each_setting_and_its_curves_to_a_part_of_a_pixel() -> None:
    head, curves = unpacked(early.packed(FEW, Engine(panels={"few": FEW})))
    assert head["settings"] == [[1.0 + 0.5 * i, mode] for i in range(5) for mode in "ab"]
    for (size, mode), picture in zip(head["settings"], head["pictures"], strict=True):
        exact = pack(drawn({"size": size, "mode": mode}))
        assert picture["sentence"] == exact.tree["sentence"]
        for ours, theirs in zip(picture["strips"][0]["lines"], exact.tree["strips"][0]["lines"], strict=True):
            found, true = curves[ours["y"]["$"]], exact.arrays[theirs["y"]["$"]]
            span = max(y for y in true if y == y) - min(y for y in true if y == y)
            assert found == pytest.approx(list(true), abs=0.6 * span / early.STEPS, nan_ok=True)
            if ours["label"] == "n":
                assert found == list(true)
    assert any(number != number for curve in curves for number in curve)


def test_of_many_settings_the_start_and_the_presets_are_kept_each_once() -> None:
    assert early.settings_of(MANY) == [{"size": 1.0}, {"size": 8.0}]
    assert len(early.settings_of(FEW)) == 10
    for panel in PANELS.values():
        kept = early.settings_of(panel)
        assert panel.defaults() in kept
        assert all(panel.defaults() | dict(preset.values) in kept for preset in panel.presets), panel.name


def test_steps_at_both_ends_of_the_range_wrap_round_and_come_back() -> None:
    jumps = array("d", [0.0, 1.0, 0.0, math.nan, 1.0] * 4)
    panel = Panel("jumps", "J", "?", (), lambda values: Picture("J.", "A curve.", strips=(
        Chart("c", "C", X, Y, (Line("l", "plain", list(range(20)), [0.1 * y for y in jumps]),)),)))
    _, curves = unpacked(early.packed(panel, Engine(panels={"jumps": panel})))
    assert any(curve == pytest.approx([0.1 * y for y in jumps], abs=1e-6, nan_ok=True) for curve in curves)


# -------------------------------------------------------------------------------------------------------- in the page
pytest_browser = pytest.mark.browser
HELD = "**/pyodide.asm.wasm"


def hold(context: Any, held: list[Any]) -> None:
    """Let Python for the browser be asked for and not come, until each of `held` is let go on."""
    context.route(HELD, lambda route: held.append(route))


def let_go(page: Any, held: list[Any]) -> None:
    """Wait until Python was asked for, and let it come."""
    while not held:
        page.wait_for_timeout(50)
    for route in held:
        route.continue_()


def move(panel: Any, **values: Any) -> None:
    """Set the panel's sliders as a finger would, and wait for what it draws next."""
    panel.evaluate("""(panel, values) => new Promise((resolve) => {
        panel.addEventListener("coil-painted", resolve, {once: true});
        for (const [name, value] of Object.entries(values)) {
            const input = panel.shadowRoot.querySelector(`input[name=${name}]`);
            input.value = value;
            input.dispatchEvent(new Event("input", {bubbles: true}));
        }
    }).then(() => null)""", values)


@pytest_browser
def test_the_first_touch_is_answered_before_python_has_come_and_python_takes_over_without_a_jump(small: Any) -> None:
    held: list[Any] = []
    page = small.open("start.html", before=lambda context: hold(context, held), width=360)
    panel, engine = live(page, START, model=False), Engine()
    assert small.workers == []  # light until it is touched
    assert not [address for address in small.requests if "pyodide" in address]
    for tension in (30.0, 45.0, 100.0, 180.0):
        move(panel, tension=tension)
        assert shown(panel) == native("first_look", {"tension": tension}, engine)
    for preset in PANELS["first_look"].presets:
        panel.get_by_role("button", name=preset.label, exact=True).click()
        expected = native("first_look", dict(preset.values), engine)
        panel.get_by_text(expected["sentence"]).first.wait_for()
        assert shown(panel) == expected
    assert len([address for address in small.workers if address.endswith("worker.js")]) == 1
    assert not page.evaluate("coilHost.ready")
    page.wait_for_function("document.querySelector('.coil-line:not([hidden])')", timeout=LIVE)
    place = "document.querySelector('article > p:last-child').getBoundingClientRect().top + scrollY"
    before, words, ladder = page.evaluate(place), shown(panel), panel.locator("figure.ladder > svg").inner_html()
    page.evaluate("""() => { const panel = document.querySelector("coil-panel"), plain = panel.request.bind(panel);
        panel.request = async (request) => {
            const reply = await plain(request);
            globalThis.again = !reply.early;
            return reply;
        }; }""")
    let_go(page, held)
    page.wait_for_function("globalThis.again", timeout=LIVE)
    page.wait_for_function("coilHost.ready")
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.evaluate(place) == before
    assert shown(panel) == words
    assert panel.locator("figure.ladder > svg").inner_html() == ladder


@pytest_browser
def test_a_moving_slider_goes_before_what_rests_and_what_nobody_waits_for_goes_last(small: Any) -> None:
    page = small.open("panels.html")
    live(page)
    page.wait_for_function("coilHost.ready && !coilHost.current && !coilHost.waiting.length", timeout=LIVE)
    order, calm = page.evaluate("""async () => {
        const told = [], at = {};
        const asked = (what, request) => coilHost.ask(request).then(() => { told.push(what); at[what] = performance.now(); });
        const picture = {do: "compute", name: "cushion", values: {}};
        await Promise.all([
            asked("in hand", {...picture, whole: true}), asked("idle", {...picture, whole: true, idle: true}),
            asked("whole", {...picture, whole: true}), asked("progress", {do: "progress"}),
            asked("moving", {...picture, whole: false}), asked("then", {...picture, whole: true}),
            asked("moving on", {...picture, whole: false}),
        ]);
        return [told, at.idle - at["moving on"]]; }""")
    assert calm > 900, "ms: what nobody waits for is held until no slider has moved for a second"
    assert order == ["in hand", "moving", "moving on", "whole", "progress", "then", "idle"]


@pytest_browser
def test_what_a_worker_had_in_hand_is_asked_of_the_one_started_in_its_place(small: Any) -> None:
    page = small.open("panels.html")
    live(page)
    page.wait_for_function("coilHost.ready && !coilHost.current && !coilHost.waiting.length", timeout=LIVE)
    said = page.evaluate("""() => Promise.race([
        (() => {
            const asked = coilHost.ask({do: "compute", name: "cushion", values: {}, whole: true});
            coilHost.start();
            return asked.then(({tree}) => tree.picture.sentence);
        })(), new Promise((late) => setTimeout(late, 60_000, "never"))])""")
    assert said == native("cushion", {}, Engine())["sentence"]


@pytest_browser
def test_a_slider_that_is_moved_while_the_model_takes_over_is_not_set_back(small: Any) -> None:
    held: list[Any] = []
    page = small.open("panels.html", before=lambda context: hold(context, held))
    panel, engine = live(page, model=False), Engine()
    page.evaluate("""() => { const plain = coilHost.put.bind(coilHost);  // the answer to the idle question comes after all others
        coilHost.put = async (request) => {
            const reply = await plain(request);
            if (request.idle) await new Promise((go) => (globalThis.release = go));
            return reply;
        }; }""")
    let_go(page, held)
    page.wait_for_function("Boolean(globalThis.release)", timeout=LIVE)
    move(panel, preload=0.5)
    page.wait_for_timeout(600)  # the whole picture has come
    page.evaluate("release(); new Promise((done) => setTimeout(done, 200))")
    assert shown(panel) == native("cushion", {"preload": panel.evaluate("(panel) => panel.values.preload")}, engine)
    assert panel.evaluate("(panel) => panel.values.preload") != PANELS["cushion"].defaults()["preload"]


@pytest_browser
def test_the_page_reads_the_curves_as_they_were_written(small: Any) -> None:
    page = small.open("panels.html")
    live(page, model=False)
    exact = Engine().handle({"do": "compute", "name": "cushion", "values": {}})
    found = page.evaluate("""() => coilHost.early.answer({do: "compute", name: "cushion", values: {}}).then(({tree, arrays}) =>
        ({tree, arrays: arrays.map((one) => [...one].map((y) => (y === y ? y : null)))}))""")
    strips = zip(found["tree"]["picture"]["strips"], exact.tree["picture"]["strips"], strict=True)
    lines = [(ours, theirs) for mine, other in strips for ours, theirs in zip(mine["lines"], other["lines"], strict=True)]
    assert lines
    for ours, theirs in lines:
        for axis in "xy":
            true = exact.arrays[theirs[axis]["$"]]
            numbers = [y for y in true if y == y]
            read = [math.nan if y is None else y for y in found["arrays"][ours[axis]["$"]]]
            assert read == pytest.approx(list(true), abs=0.6 * (max(numbers) - min(numbers)) / early.STEPS + 1e-12, nan_ok=True)


@pytest_browser
@pytest.mark.parametrize("answer", [{"status": 404}, {"body": b"no gzip"}], ids=["missing", "spoilt"])
def test_without_them_the_start_page_has_its_button(small: Any, answer: dict[str, Any]) -> None:
    small.expected = ("404",)
    page = small.open("start.html", before=lambda context: context.route("**/early-*", lambda route: route.fulfill(**answer)))
    button = page.get_by_role("button", name="Start the live model")
    button.wait_for(timeout=LIVE)
    assert small.workers == []
    button.click()
    panel = live(page, START)
    move(panel, tension=45.0)
    assert shown(panel) == native("first_look", {"tension": 45.0}, Engine())


@pytest_browser
def test_a_setting_that_was_not_made_beforehand_waits_for_python(small: Any) -> None:
    held: list[Any] = []
    page = small.open("panels.html", before=lambda context: hold(context, held))
    panel, engine = live(page, model=False), Engine()
    begun = shown(panel)
    assert begun == native("cushion", {}, engine)
    slider = panel.locator("input[type=range]").first
    slider.focus()
    slider.press("ArrowLeft")
    page.locator(".coil-line").get_by_text("Starting").first.wait_for(timeout=LIVE)
    assert shown(panel) == begun
    let_go(page, held)
    page.wait_for_function("coilHost.ready", timeout=LIVE)
    values = panel.evaluate("(panel) => panel.values")
    expected = native("cushion", values, engine)
    assert expected != begun
    page.wait_for_function(  # its sentence may be the former one's, its readings are not
        """([panel, texts]) => [...panel.shadowRoot.querySelectorAll(".readings dd")]
            .every((node, place) => node.textContent === texts[place])""",
        arg=[panel.element_handle(), expected["texts"]], timeout=LIVE)
    assert shown(panel) == expected
