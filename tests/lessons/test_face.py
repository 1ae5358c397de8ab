"""The live face in a real browser: names, keys, newest-wins, breaks, errors, orderings, the moving picture, the ladder, axe-core.

The elements are the real ones; behind them is the real engine with panels and exercises made for these tests, asked through
the browser's own bridge to this process, so the page needs no server and no network.
"""

from __future__ import annotations

import base64
import json
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from lessons.contracts import (
    About,
    Axis,
    Band,
    Chart,
    Choice,
    Control,
    Exercise,
    Ladder,
    Line,
    Mark,
    Panel,
    Picture,
    Preset,
    Reading,
    Scene,
    TensionMap,
    Verdict,
)
from lessons.engine import Engine
from lessons.face import assemble

sync_api = pytest.importorskip("playwright.sync_api")
AXE = assemble.NPM / "axe-core" / "axe.min.js"

pytestmark = pytest.mark.browser


# ------------------------------------------------------------------------------------- a panel with every part
def everything(values) -> Picture:
    """A picture with every part; its sentence says the values that it was made from."""
    if values["size"] > 9.5:
        raise ValueError(f"Size: {values['size']:g} mm is more than the frame can hold; give 9.5 mm or less.")
    times = [0.02 * i for i in range(401)]
    waves = [values["size"] * math.sin(t) for t in times]
    broken = [math.nan if 100 <= i < 140 else y for i, y in enumerate(waves)]
    strip = lambda key, quantity, y, dash="solid": Chart(  # noqa: E731
        key,
        key.capitalize(),
        Axis("time", "ms"),
        Axis("height", "mm"),
        (Line(key, quantity, times, y, dash),),
        (Mark(3.0, None, "parts", "part", quantity),),
        (Band(1.0, 2.0, "a span"),),
    )
    lower = [0.4 * max(0.0, math.sin(t)) for t in times]
    upper = [min(x, 0.0) - 0.1 for x in lower]
    pulses = 12
    count = 2 if values["mode"] == "double" else 1
    ladder = [(p, 11.0 + 3.0 * k, k + 1) for p in range(pulses) if p != 4 for k in range(count)]
    return Picture(
        f"Size {values['size']:.1f} at speed {values['speed']:.0f}, {values['mode']}.",
        "Two waves, a ladder, a map and a moving picture.",
        (Reading("Size", f"{values['size']:.1f} mm", values["size"], "mm"), Reading("Sparks", str(count))),
        (strip("wave", "current", waves), strip("broken", "position", broken, "dashed")),
        (
            Chart(
                "curve",
                "A curve",
                Axis("x", "1"),
                Axis("force", "N"),
                (Line("one", "force", times, waves), Line("two", "energy", times[::2], waves[::2], "dotted")),
                (Mark(4.0, 0.5, "you are here", "here"), Mark(5.0, None, "spark", "spark", "secondary")),
                (Band(-1.0, 1.0, "safe", "y"),),
            ),
        ),
        Ladder("Spark ladder", Axis("crank angle", "degrees", 0.0, 22.5), pulses, *map(list, zip(*ladder))),
        TensionMap(
            "Tension map",
            Axis("cushion preload", "N"),
            Axis("vibrator preload", "N"),
            [0.5 * i for i in range(1, 9)],
            [2.0, 2.5, 3.0, 3.5],
            [[(i + j) % 4 if (i, j) != (7, 3) else None for i in range(8)] for j in range(4)],
            {0: "no spark", 1: "one spark", 2: "two sparks", 3: "three or more"},
            (2.0, 3.0),
            blank="not tried",
            letters={3: "m"},
        ),
        Scene(times, lower, upper, waves, [1 if 2.0 < t < 2.4 else 0 for t in times], 0.2, 0.46),
    )


def quick(values) -> Picture:
    """The same without ladder and map, as a panel's quick picture is."""
    whole = everything(values)
    return Picture(whole.sentence, whole.alt, whole.readings, whole.strips, whole.charts, None, None, whole.scene)


BENCH = Panel(
    "bench",
    "A panel with everything",
    "What will happen if you make it larger?",
    (
        Control("size", "Size", "mm", 0.0, 10.0, 0.1, 5.0, "It sets how high the wave is."),
        Control("speed", "Crank speed", "rpm", 100.0, 900.0, 10.0, 450.0, "It changes little here."),
        Choice(
            "mode",
            "Kind of coil",
            (("single", "fires once"), ("double", "fires twice")),
            "single",
            "It sets the marks of a pulse.",
        ),
    ),
    everything,
    (Preset("Large", {"size": 9.0}, "The wave fills the strip."), Preset("As it came", {}, "Back to the middle.")),
    quick,
)


def judge(right):
    return lambda answer, variant: Verdict(
        answer == right, float(answer == right), "Right. Just so." if answer == right else "Look at the **strip** again.",
        reason="Just so." if answer == right else "",
    )


def made(kind: str, form: dict, right, **more) -> Exercise:
    prompt = 'Read this: `x = 1` and *mind* the **unit**.\nSecond line. <img src=x onerror="window.harmed=1">\n\n- one\n- two'
    return Exercise(
        f"05-{kind}",
        5,
        f"A question of kind {kind}",
        kind,
        lambda seed: {},
        lambda variant: prompt,
        lambda variant: {"kind": kind, **form},
        lambda variant: right,
        judge(right),
        ("Look at the first part.", "Look at the second part."),
        **more,
    )


TWO = {"options": [{"key": "a", "text": "earlier"}, {"key": "b", "text": "later"}]}
EXERCISES = {
    exercise.key: exercise
    for exercise in (
        made("number", {"unit": "A", "units": ["A", "mA"]}, {"value": "5.1", "unit": "mA"}),
        made("choice", TWO, "b", arithmetic=True),
        replace(made("choice", TWO, "b", prediction=True, about=About({"bench": ("size",)}, "the size")), key="05-predicted"),
        made("ordering", {"items": [{"key": key, "text": f"step {key}"} for key in "abc"]}, ["c", "a", "b"]),
        made(
            "sliders", {"panel": "bench", "controls": ["size"], "fixed": {"speed": 600.0}, "start": {"size": 2.0}}, {"size": 2.2}
        ),
        made(
            "function",
            {"name": "double", "stub": "def double(x):\n    return ..."},
            "def double(x):\n    return 2 * x",
            optional=True,
        ),
    )
}


# ------------------------------------------------------------------------------------------------- the page
PANEL_HTML = '<coil-panel name="bench"><figure><p>The picture before the page is live.</p></figure></coil-panel>'
EXERCISES_HTML = {key.removeprefix("05-"): f'<coil-exercise key="{key}"><p>{key}</p></coil-exercise>' for key in EXERCISES}
PROGRESS_HTML = "<coil-progress><p>progress</p></coil-progress>"
ALL_HTML = PANEL_HTML + "".join(EXERCISES_HTML.values()) + PROGRESS_HTML


def page_html(theme: str = "light", elements: str = ALL_HTML) -> str:
    """A page like those of the book: a heading, the elements with their fallback, a script that connects the face.

    `window.asked` keeps the requests; while `window.hold` is a promise, replies wait for it.
    """
    ground = {"light": "background:#fff;color:#111", "dark": "background:#121212;color:#eee"}[theme]
    return f"""<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Face</title><style>body{{{ground};font-family:sans-serif;margin:0 auto;padding:8px;max-width:1240px}}
p{{font-size:40px}} button{{background:red}}
coil-panel > figure > p {{font-size:16px}}</style></head><body><main>
<h1>Lesson</h1><h2>Part</h2>{elements}</main>
<script type="module">
import {{ connect }} from "/face.js";
window.asked = []; window.hold = null; window.paints = [];
document.addEventListener("coil-painted", (event) => window.paints.push(event.detail));
const numbers = (text) => new Float64Array(Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer);
window.live = () => connect(async (request) => {{
  window.asked.push(request);
  if (window.hold) await window.hold;
  const reply = JSON.parse(await window.engine(JSON.stringify(request)));
  return {{tree: reply.tree, arrays: reply.arrays.map(numbers)}};
}});
if (!location.search.includes("wait")) window.live();
</script></body></html>"""


def serve(page, html: str, engine: Engine) -> None:
    """Answer the page's own two files and its questions; anything else it asks for is an error."""

    def file(route) -> None:
        path = route.request.url.split("face.test", 1)[1].split("?")[0]
        if path == "/":
            route.fulfill(content_type="text/html", body=html)
        elif path == "/face.js":
            route.fulfill(content_type="text/javascript", body=assemble.module_text())
        else:
            page.strangers.append(route.request.url)
            route.abort()

    def answer(text: str) -> str:
        tree, arrays = engine.handle_json(text)
        return json.dumps({"tree": json.loads(tree), "arrays": [base64.b64encode(a.tobytes()).decode() for a in arrays]})

    page.strangers, page.faults = [], []
    page.on("pageerror", lambda fault: page.faults.append(str(fault)))
    page.on("console", lambda message: page.faults.append(message.text) if message.type == "error" else None)
    page.route("**/*", file)
    page.expose_function("engine", answer)


@cache
def window(browser):
    """Return the one window of this browser for pages that want nothing special; a blank page keeps it open."""
    context = browser.new_context()
    context.new_page()
    return context


def opened(browser, elements: str = ALL_HTML, width: int = 1280, theme: str = "light", query: str = "", **context):
    return open_page(browser, elements, Engine(panels={"bench": BENCH}, exercises=EXERCISES), "", width, theme, query, **context)


def open_page(browser, elements: str, engine: Engine, ready: str = "coil-panel[data-state=live]", width: int = 1280,
              theme: str = "light", query: str = "", script: str = "", patience: int = 10_000, alone: bool = False, **context):
    """Open a page with these elements, fed by this engine, and wait for what `ready` selects ("": for nothing).

    It is a tab of the tests' one window, which costs less than a window each; one that stays open while others come and go is
    `alone`, and one with a `context` of its own has a window, too. The face keeps nothing in the browser.
    """
    if alone or context:
        page = browser.new_page(viewport={"width": width, "height": 900}, **context)
    else:
        page = window(browser).new_page()
        page.set_viewport_size({"width": width, "height": 900})
    page.set_default_timeout(patience)
    if script:
        page.add_init_script(script)
    serve(page, page_html(theme, elements), engine)
    page.goto("http://face.test/" + query)
    if ready:
        page.wait_for_selector(ready, state="attached")
    return page


@pytest.fixture(scope="module")
def shared(browser) -> Iterator:
    """One page for the tests that only look; it ends without a fault and without having asked for anything foreign."""
    page = opened(browser, alone=True)
    page.wait_for_selector("coil-panel[data-state=live]")
    yield page
    assert page.faults == []
    assert page.strangers == []
    page.close()


@pytest.fixture
def page(browser) -> Iterator:
    """A fresh page with the panel."""
    page = opened(browser, PANEL_HTML)
    page.wait_for_selector("main > coil-panel[data-state=live]")
    yield page
    assert page.faults == []
    page.close()


@pytest.fixture
def exercise(browser) -> Iterator:
    """A function that opens a fresh page with the exercise of a kind (and `more`), and returns page and exercise."""
    pages = []

    def open_it(kind: str, more: str = ""):
        page = opened(browser, EXERCISES_HTML[kind] + more)
        pages.append(page)
        page.wait_for_selector(f"coil-exercise[key='05-{kind}'][data-state=live]")
        return page, page.locator("coil-exercise")

    yield open_it
    for page in pages:
        assert page.faults == []
        page.close()


def controls_of(page, role: str, scope: str = "main > coil-panel"):
    return page.locator(scope).get_by_role(role)


def panel_state(page, expression: str):
    """Return a value from the page's first panel, `panel` in the expression."""
    return page.evaluate(f"(() => {{ const panel = document.querySelector('main > coil-panel'); return {expression}; }})()")


def wait_for_panel(page, expression: str) -> None:
    page.wait_for_function(f"(() => {{ const panel = document.querySelector('main > coil-panel'); return {expression}; }})()")


SENTENCE = "panel.shadowRoot.querySelector('.sentence').textContent"


# --------------------------------------------------------------------------------------- names and keyboard
def test_every_control_has_a_name_with_its_unit_and_says_its_value(shared) -> None:
    size = shared.locator("main > coil-panel").get_by_role("slider", name="Size (mm)", exact=True)
    assert size.get_attribute("aria-valuetext") == "5.0\u00a0mm"
    assert controls_of(shared, "slider").count() == 3  # two controls and the scrubber
    assert shared.locator("main > coil-panel").get_by_role("slider", name="Time into the pulse (ms)").count() == 1
    kinds = shared.locator("main > coil-panel").get_by_role("group", name="Kind of coil").get_by_role("radio")
    assert kinds.count() == 2
    described = size.evaluate("node => node.getRootNode().getElementById(node.getAttribute('aria-describedby')).textContent")
    assert described == "It sets how high the wave is."


def test_arrow_keys_move_a_slider_by_its_step_and_the_picture_follows(page) -> None:
    size = page.get_by_role("slider", name="Size (mm)").first
    size.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    wait_for_panel(page, f"{SENTENCE} === 'Size 5.1 at speed 450, single.'")
    assert size.get_attribute("aria-valuetext") == "5.1\u00a0mm"
    page.keyboard.press("Home")
    wait_for_panel(page, f"{SENTENCE} === 'Size 0.0 at speed 450, single.'")


def test_the_reason_of_each_control_can_be_opened(page) -> None:
    why = page.locator("main > coil-panel").get_by_text("It sets how high the wave is.")
    assert not why.is_visible()
    button = page.locator("main > coil-panel").get_by_role("button", name="Why each matters")
    button.click()
    assert why.is_visible()
    assert button.get_attribute("aria-expanded") == "true"


def test_presets_and_reset_set_the_values_and_the_preset_is_announced(page) -> None:
    panel = page.locator("main > coil-panel")
    panel.get_by_role("slider", name="Crank speed (rpm)").fill("700")
    panel.get_by_role("button", name="Large").click()
    wait_for_panel(page, f"{SENTENCE} === 'Size 9.0 at speed 450, single.'")
    said = panel.locator(".say")
    assert said.text_content() == "The wave fills the strip."
    told = "panel.shadowRoot.querySelector('.panel > [aria-live=polite]').textContent"
    wait_for_panel(page, f"{told} === 'The wave fills the strip. Size 9.0 at speed 450, single.'")
    panel.get_by_role("button", name="Reset").click()
    wait_for_panel(page, f"{SENTENCE} === 'Size 5.0 at speed 450, single.'")
    wait_for_panel(page, f"{told} === 'Size 5.0 at speed 450, single.'")
    assert said.text_content() == ""


def test_what_was_refused_stands_until_a_slider_moves_whatever_picture_is_still_to_come(page) -> None:
    panel, size = page.locator("main > coil-panel"), page.get_by_role("slider", name="Size (mm)").first
    page.evaluate("() => { window.hold = new Promise((resolve) => (window.release = resolve)); }")
    size.press("ArrowLeft")
    panel.evaluate("(panel) => panel.refuse('There is no such setting.')")
    page.evaluate("window.hold = null; window.release()")
    wait_for_panel(page, f"{SENTENCE} === 'Size 4.9 at speed 450, single.' && panel.told.textContent === {SENTENCE}")
    trouble = panel.locator(".trouble[role=alert]")
    assert trouble.is_visible()
    assert trouble.inner_text() == "There is no such setting."
    size.press("ArrowLeft")
    trouble.wait_for(state="hidden")


def test_a_presets_sentence_stands_over_the_picture_and_is_withdrawn_when_a_slider_moves(page) -> None:
    panel = page.locator("main > coil-panel")
    said = panel.locator(".say")
    panel.get_by_role("button", name="Large").click()
    wait_for_panel(page, "panel.told.textContent.startsWith('The wave')")
    above, figures = said.bounding_box(), panel.locator(".stage .figures").bounding_box()
    assert 0 <= figures["y"] - (above["y"] + above["height"]) < 80
    place = figures["y"]
    page.evaluate("() => { window.hold = new Promise((resolve) => (window.release = resolve)); }")
    panel.get_by_role("slider", name="Size (mm)").press("ArrowLeft")
    assert not said.is_visible()  # at once, before any picture came of it
    assert panel.locator(".stage .figures").bounding_box()["y"] == place  # and nothing jumps under the hand
    page.evaluate("window.hold = null; window.release()")
    wait_for_panel(page, "panel.told.textContent === 'Size 8.9 at speed 450, single.'")
    assert said.text_content() == ""


# ------------------------------------------------------------------------------------------------ a voice that does not flood
COUNT_WHAT_IS_SPOKEN = """() => {
    const spoken = (window.spoken = []);
    const lives = (root) => [...root.querySelectorAll("output, [role=status], [role=alert], [role=log], [aria-live]")];
    const panel = document.querySelector("main > coil-panel");
    for (const live of lives(panel.shadowRoot)) {
        const hear = (changes) => spoken.push(...changes.map(({target}) => target.textContent).filter(Boolean));
        new MutationObserver(hear).observe(live, {childList: true, characterData: true, subtree: true});
    }
    return lives(panel.shadowRoot).length;
}"""


def test_twenty_key_steps_are_spoken_once_when_they_end(page) -> None:
    assert page.evaluate(COUNT_WHAT_IS_SPOKEN) >= 1
    page.evaluate("""() => {  // in one go: however busy the machine is, the slider does not come to rest between
        const input = document.querySelector('main > coil-panel').shadowRoot.querySelector('input[name=size]');
        for (let i = 1; i <= 20; i++) {
            input.value = 5 + i / 10;
            input.dispatchEvent(new Event('input'));
        }
    }""")
    wait_for_panel(page, "panel.told.textContent === 'Size 7.0 at speed 450, single.'")
    assert page.evaluate("window.spoken") == ["Size 7.0 at speed 450, single."]


def test_the_moving_picture_says_nothing_as_it_plays(page) -> None:
    page.evaluate(COUNT_WHAT_IS_SPOKEN)
    page.locator("main > coil-panel").get_by_role("button", name="Play").click()
    page.evaluate("""async () => {
        const {clock} = document.querySelector('main > coil-panel').figures;
        let seen = 0;
        clock.watch(() => (seen += 1));
        while (seen < 40) await new Promise(requestAnimationFrame);
    }""")
    page.locator("main > coil-panel").get_by_role("button", name="Pause").click()
    assert page.evaluate("window.spoken") == []


def test_touch_targets_are_44_pixels_high(shared) -> None:
    small = shared.evaluate("""[...document.querySelectorAll('coil-panel, coil-exercise, coil-progress')].flatMap((element) =>
        [...element.shadowRoot.querySelectorAll('button, input, select, textarea, summary, .option')]
        .filter((node) => node.type !== 'radio' && node.type !== 'file' && node.offsetParent)
        .filter((node) => node.getBoundingClientRect().height < 43.9 || node.getBoundingClientRect().width < 43.9)
        .map((node) => node.outerHTML))""")
    assert small == []


# ------------------------------------------------------------------------------------------------- asking
def test_one_question_in_flight_and_the_newest_wins(page) -> None:
    """Forty moves while an answer is held back make two questions: the one in flight and the last one."""
    page.wait_for_timeout(50)
    asked = page.evaluate("""async () => {
        window.asked.length = 0;
        let release;
        window.hold = new Promise((resolve) => (release = resolve));
        const input = document.querySelector('main > coil-panel').shadowRoot.querySelector('input[name=size]');
        for (let i = 1; i <= 40; i++) {
            input.value = i / 10;
            input.dispatchEvent(new Event('input'));
            await new Promise((next) => setTimeout(next, 2));
        }
        const during = window.asked.length;
        window.hold = null;
        release();
        return during;
    }""")
    assert asked == 1
    wait_for_panel(page, f"{SENTENCE} === 'Size 4.0 at speed 450, single.'")
    page.wait_for_function("window.asked.some((request) => request.whole)")
    requests = page.evaluate("window.asked")
    assert [request["values"]["size"] for request in requests] == [0.1] + [4.0] * (len(requests) - 1)
    assert len(requests) <= 3  # the first, the newest, and the whole picture at rest (which a slow machine may ask for at once)
    assert (requests[0]["whole"], requests[-1]["whole"]) == (False, True)


def test_painting_is_reported_with_its_time(page) -> None:
    page.evaluate("window.paints.length = 0")
    page.get_by_role("slider", name="Size (mm)").first.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("window.paints.length >= 2")
    moving, resting = page.evaluate("window.paints.slice(0, 2)")
    assert (moving["name"], moving["whole"], resting["whole"]) == ("bench", False, True)
    assert 0 < moving["ms"] == moving["waited"] < 5000


def test_a_quick_picture_keeps_the_last_ladder_paled_until_the_whole_one_comes(page) -> None:
    page.evaluate("""() => {
        const ladder = document.querySelector('main > coil-panel').shadowRoot.querySelector('.ladder');
        window.seen = [];
        const watch = new MutationObserver(() => window.seen.push(ladder.className));
        watch.observe(ladder, {attributes: true, attributeFilter: ['class']});
    }""")
    page.get_by_role("slider", name="Size (mm)").first.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("window.seen.length === 2")
    assert page.evaluate("window.seen") == ["ladder pale", "ladder"]


def test_an_error_is_shown_as_the_sentence_it_is_and_the_picture_stays(page) -> None:
    size = page.get_by_role("slider", name="Size (mm)").first
    size.focus()
    page.keyboard.press("End")
    page.wait_for_selector("main > coil-panel[data-state=error]")
    alert = page.locator("main > coil-panel").get_by_role("alert")
    assert alert.text_content() == "Size: 10 mm is more than the frame can hold; give 9.5 mm or less."
    assert panel_state(page, SENTENCE) == "Size 5.0 at speed 450, single."
    assert panel_state(page, "panel.shadowRoot.querySelectorAll('canvas').length") == 3
    page.keyboard.press("Home")
    page.wait_for_selector("main > coil-panel[data-state=live]")
    assert alert.count() == 0 or not alert.is_visible()


def test_the_fallback_shows_until_the_panel_is_live(browser) -> None:
    page = opened(browser, PANEL_HTML, query="?wait")
    page.wait_for_selector("main > coil-panel[data-state=waiting]")
    assert page.get_by_text("The picture before the page is live.").is_visible()
    page.evaluate("window.live()")
    page.wait_for_selector("main > coil-panel[data-state=live]")
    assert not page.get_by_text("The picture before the page is live.").is_visible()
    page.close()


def test_an_unknown_panel_says_so_and_keeps_its_fallback(page) -> None:
    page.evaluate(
        "document.querySelector('main').insertAdjacentHTML('afterbegin', '<coil-panel name=\"none\"><p>kept</p></coil-panel>')"
    )
    page.wait_for_selector("coil-panel[name=none][data-state=error]")
    assert (
        page.locator("coil-panel[name=none]").get_by_role("alert").text_content() == "There is no panel 'none'; there are bench."
    )
    assert page.get_by_text("kept", exact=True).is_visible()


# ------------------------------------------------------------------------------------------------- drawing
def test_a_break_in_a_curve_is_drawn_as_a_break(shared) -> None:
    """The strip "broken" has no value from 2.0 to 2.8 ms: no pixel of its hue there, and some on either side."""
    found = shared.evaluate("""() => {
        const plot = [...document.querySelector('main > coil-panel').shadowRoot.querySelectorAll('figure')]
            .find((figure) => figure.querySelector('strong')?.textContent === 'Broken');
        const canvas = plot.querySelector('canvas'), over = plot.querySelector('.u-over');
        const ratio = canvas.width / canvas.clientWidth, left = over.offsetLeft * ratio, wide = over.clientWidth * ratio;
        const {data} = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
        const hued = (from, to) => { let count = 0;
            const [first, last] = [from, to].map((t) => Math.round(left + t / 8 * wide));
            for (let x = first; x < last; x++) for (let y = 0; y < canvas.height; y++) {
                const i = 4 * (y * canvas.width + x);
                if ([0, 84, 61, 255].every((value, band) => Math.abs(data[i + band] - value) < 40)) count++;
            } return count; };
        return [hued(0.3, 0.95), hued(2.06, 2.74), hued(3.2, 4.0)];
    }""")
    assert found[0] > 20
    assert found[1] == 0
    assert found[2] > 20


def test_the_ladder_has_a_mark_for_every_spark_and_shows_misfires(page) -> None:
    def count(selector: str) -> int:
        return panel_state(
            page, f"(panel.shadowRoot.querySelector('.ladder {selector}').getAttribute('d').match(/z/g) ?? []).length"
        )

    assert (count(".sparks-1"), count(".sparks-2"), count(".sparks-3")) == (11, 0, 0)
    page.locator("main > coil-panel").get_by_role("radio", name="fires twice").check()
    page.wait_for_function("window.asked.at(-1).whole && window.asked.at(-1).values.mode === 'double'")
    wait_for_panel(page, "panel.shadowRoot.querySelector('.ladder .sparks-2').getAttribute('d') !== ''")
    assert (count(".sparks-1"), count(".sparks-2")) == (11, 11)
    assert "misfire, no spark (1 of 12)" in page.locator("main > coil-panel .ladder figcaption").text_content()
    assert (
        page.locator("main > coil-panel .ladder svg[role=img]").get_attribute("aria-label")
        == "Spark ladder: 22 sparks in 12 pulses, 1 without a spark."
    )


def test_a_ladder_draws_weak_sparks_small_and_counts_a_row_of_them_as_a_misfire(browser) -> None:
    def weakly(values) -> Picture:
        across = Axis("crank angle", "degrees", 0.0, 22.5)
        marks = Ladder("Sparks", across, 3, [0, 0, 1, 2], [11.0, 14.0, 11.0, 11.0], [1, 2, 1, 1], weak=[0, 1, 1, 0])
        return Picture("Three pulses.", "Three pulses.", ladder=marks)

    page = browser.new_page()
    serve(page, page_html(elements=PANEL_HTML), Engine(panels={"bench": Panel("bench", "Weak", "", (), weakly)}, exercises={}))
    page.goto("http://face.test/")
    page.wait_for_selector("coil-panel[data-state=live] >> .ladder svg[role=img] text")
    drawn = page.locator("coil-panel .ladder")
    assert drawn.locator("svg[role=img]").get_attribute("aria-label") == (
        "Sparks: 4 sparks in 3 pulses, 2 of them too weak to light, 1 without a spark that lights.")
    assert {"small, hollow: too weak to light (2)", "misfire, no spark that lights (1 of 3)", "second spark"} <= set(
        drawn.locator("figcaption .key").all_text_contents())
    kinds = ("sparks-1", "sparks-2", "weak-1", "weak-2")
    assert [(drawn.locator(f".{kind}").get_attribute("d") or "").count("z") for kind in kinds] == [2, 0, 1, 1]
    high = [drawn.locator(f".{kind}").evaluate("(path) => path.getBBox().height") for kind in kinds[2:]]
    assert max(high) < 8.0, "small"
    page.close()


def test_a_ladder_names_its_rows_where_they_are_no_pulses(browser) -> None:
    def windows(values) -> Picture:
        across = Axis("crank angle", "degrees", 0.0, 30.0)
        marks = Ladder("Windows", across, 2, [0, 1], [11.0, 12.0], [1, 1], "window", ["Alder", "Birch"])
        return Picture("Two windows.", "Two windows.", ladder=marks)

    named = Panel("bench", "Windows", "", (), windows)
    page = browser.new_page()
    serve(page, page_html(elements=PANEL_HTML), Engine(panels={"bench": named}, exercises={}))
    page.goto("http://face.test/")
    page.wait_for_selector("coil-panel[data-state=live] >> .ladder svg[role=img] text")
    drawn = page.locator("coil-panel .ladder svg[role=img]")
    assert drawn.get_attribute("aria-label") == "Windows: 2 sparks in 2 windows, 0 without a spark."
    assert {"Alder", "Birch", "window, in order"} <= set(drawn.locator("text").all_text_contents())
    page.close()


def test_the_map_says_each_value_by_digit_pattern_and_words(shared) -> None:
    shown = shared.locator("main > coil-panel .map")
    assert shown.locator(".digit").count() == 31  # the blank cell has none
    assert shown.locator(".here").count() == 1
    assert shown.locator(".key").all_text_contents() == [
        "0: no spark",
        "1: one spark",
        "2: two sparks",
        "m: three or more",
        "blank: not tried",
        "your setting, 2\u00a0N and 3\u00a0N",
    ]
    fills = "nodes => nodes.map((node) => node.getRootNode().getElementById(node.getAttribute('fill').slice(5, -1))?.tagName)"
    assert shown.locator(".cell").evaluate_all(fills) == ["pattern"] * 5
    patterns = {shown.locator(f"defs > pattern[id$='-{value}'] path").first.get_attribute("d") for value in range(4)}
    assert len(patterns) == 4


def test_scrubbing_moves_the_contacts_and_the_line_on_every_strip(page) -> None:
    scrub = page.locator("main > coil-panel").get_by_role("slider", name="Time into the pulse (ms)")

    def places():
        return panel_state(
            page,
            """({
            vibrator: panel.shadowRoot.querySelector('.scene g.vibrator').getAttribute('transform'),
            lines: [...panel.shadowRoot.querySelectorAll('.strips .moment')].map((line) =>
                (new DOMMatrix(getComputedStyle(line).transform).e) / line.parentElement.clientWidth),
            flash: panel.shadowRoot.querySelector('.scene .flash').getAttribute('visibility'),
            words: panel.shadowRoot.querySelector('.scene .state').textContent,
        })""",
        )

    scrub.fill("0")
    at_start = places()
    scrub.fill("2.2")
    later = places()
    assert scrub.get_attribute("aria-valuetext") == "2.20\u00a0ms"
    assert later["vibrator"] != at_start["vibrator"]
    assert later["lines"] == pytest.approx([2.2 / 8.0, 2.2 / 8.0], abs=0.004)
    assert (at_start["flash"], later["flash"]) == ("hidden", "visible")
    assert later["words"].startswith("Contacts apart by ")
    assert later["words"].endswith("spark.")
    strip = page.locator("main > coil-panel .strips .u-over").first
    strip.evaluate("(strip) => strip.scrollIntoView({block: 'end'})")  # the stage lies over the upper part of the screen
    plot = strip.bounding_box()
    page.mouse.move(plot["x"] + plot["width"] * 0.5, plot["y"] + 20)  # and the other way round: the strips move the picture
    wait_for_panel(page, "Math.abs(panel.shadowRoot.querySelector('#scrub').valueAsNumber - 4) < 0.05")


def test_the_moving_picture_waits_for_play_and_runs_500_times_slower(page) -> None:
    """It stands at the contacts' widest, where a change of either spring is seen: here the lower moves in a sine."""
    scrub = page.locator("main > coil-panel").get_by_role("slider", name="Time into the pulse (ms)")
    page.wait_for_timeout(150)
    assert float(scrub.input_value()) == pytest.approx(math.pi / 2, abs=0.15)
    page.locator("main > coil-panel").get_by_role("button", name="Play").click()
    took = page.evaluate("""async () => {  // by the frames' own clock, so that a slow machine makes no difference
        const {clock} = document.querySelector('main > coil-panel').figures, seen = [];
        clock.watch((now) => seen.push([document.timeline.currentTime, now]));
        while (seen.length < 12) await new Promise(requestAnimationFrame);
        return (seen[11][0] - seen[1][0]) / (seen[11][1] - seen[1][1]);
    }""")
    assert took == pytest.approx(500.0, rel=0.01)
    page.locator("main > coil-panel").get_by_role("button", name="Pause").click()
    held = scrub.input_value()
    page.wait_for_timeout(80)
    assert scrub.input_value() == held


def test_dragging_across_a_strip_looks_closer_on_all_of_them(page) -> None:
    drawn = "[...panel.shadowRoot.querySelectorAll('.strips canvas')].map((canvas) => canvas.toDataURL())"
    wait_for_panel(page, "panel.shadowRoot.querySelectorAll('.strips canvas').length === 2")
    before = panel_state(page, drawn)
    strip = page.locator("main > coil-panel .strips .u-over").first
    strip.evaluate("(strip) => strip.scrollIntoView({block: 'end'})")  # the stage lies over the upper part of the screen
    plot = strip.bounding_box()
    x, y, width = plot["x"], plot["y"] + 30, plot["width"]
    page.mouse.move(x + 0.25 * width, y)
    page.mouse.down()
    page.mouse.move(x + 0.5 * width, y, steps=4)
    page.mouse.up()
    wait_for_panel(page, "panel.figures.drawing('strips').zoom")
    assert panel_state(page, "panel.figures.drawing('strips').zoom") == pytest.approx([2.0, 4.0], abs=0.05)
    whole = page.locator("main > coil-panel").get_by_role("button", name="Whole span")
    closer = panel_state(page, drawn)
    assert all(now != was for now, was in zip(closer, before))
    whole.click()
    wait_for_panel(page, "panel.figures.drawing('strips').zoom === null")
    assert all(now != was for now, was in zip(panel_state(page, drawn), closer))
    assert whole.is_disabled()


def test_the_picture_is_told_in_words(shared) -> None:
    assert shared.locator("main > coil-panel").get_by_role("group", name="Picture: A panel with everything").count() == 1
    told = shared.locator("main > coil-panel #alt")
    assert told.text_content() == "Two waves, a ladder, a map and a moving picture."
    names = shared.evaluate(
        """[...document.querySelector('main > coil-panel').shadowRoot.querySelectorAll('[role=img]')]
            .map((node) => node.getAttribute('aria-label'))"""
    )
    assert len(names) == 6
    assert all(names)


# ----------------------------------------------------------------------------------------------- exercises
def checked(page, element) -> str:
    """Press Check and return what the exercise says."""
    element.get_by_role("button", name="Check").click()
    element.get_by_text(re.compile("try|tries")).last.wait_for()
    page.wait_for_timeout(30)
    return element.locator(".feedback").text_content()


def test_text_from_outside_is_never_markup(exercise) -> None:
    page, element = exercise("number")
    assert element.locator(".prompt img").count() == 0
    assert element.locator(".prompt code").text_content() == "x = 1"
    assert element.locator(".prompt strong").text_content() == "unit"
    assert element.locator(".prompt br").count() == 1
    assert element.locator(".prompt li").all_text_contents() == ["one", "two"]
    assert page.evaluate("window.harmed") is None


def test_a_number_with_its_unit_is_judged_and_the_state_shown(exercise) -> None:
    page, element = exercise("number")
    element.get_by_label("Your answer").fill("5.1")
    assert checked(page, element) == "\u25b3 Not yet.Look at the strip again."
    assert element.get_by_text("1 try, not passed yet.").is_visible()
    element.get_by_label("Unit").select_option("mA")
    element.get_by_label("Your answer").press("Enter")
    element.get_by_text("Passed at try 2.").wait_for()
    assert element.locator(".feedback").text_content() == "\u2713 Right.Just so."
    assert element.locator(".feedback").get_attribute("aria-live") == "polite"


def test_hints_come_one_at_a_time(exercise) -> None:
    _, element = exercise("number")
    button = element.get_by_role("button", name="Next hint (1 of 2)")
    button.click()
    element.get_by_text("Look at the first part.").wait_for()
    element.get_by_role("button", name="Next hint (2 of 2)").click()
    element.get_by_text("Look at the second part.").wait_for()
    assert not element.get_by_role("button", name=re.compile("hint")).is_visible()


def test_a_choice_is_a_group_of_radios(exercise) -> None:
    page, element = exercise("choice")
    element.get_by_role("radio", name="later").check()
    assert checked(page, element) == "\u2713 Right.Just so."
    assert element.get_by_text("second track: arithmetic").is_visible()


def test_a_prediction_is_kept_and_answered_when_a_panel_was_moved(exercise) -> None:
    page, element = exercise("predicted", PANEL_HTML)
    page.wait_for_selector("main > coil-panel[data-state=live]")
    assert element.get_by_text("predict first").is_visible()
    element.get_by_role("radio", name="earlier").check()
    element.get_by_label(re.compile("In your own words")).fill("It is lighter.")
    element.get_by_role("button", name="Keep my prediction").click()
    compare = element.get_by_role("button", name="Compare with what happens")
    compare.wait_for()
    assert not compare.is_enabled()
    assert not element.get_by_role("radio", name="later").is_enabled()
    assert element.get_by_text("Just so.").count() == 0, "nothing is answered before the panel"
    panel = page.locator("main > coil-panel")
    panel.get_by_role("group", name="Kind of coil").get_by_role("radio").last.check()  # that is not what the question is about
    panel.click(position={"x": 4, "y": 4})
    page.wait_for_timeout(300)
    assert not compare.is_enabled(), "another control, or a click, is no answer"
    assert element.get_by_text("with the size").is_visible()
    panel.get_by_role("slider", name="Size (mm)", exact=True).focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("!document.querySelector('coil-exercise').wayButton.disabled")
    compare.click()
    element.get_by_text("What happens", exact=True).wait_for()
    said = element.locator(".compared").inner_text()
    assert "earlier" in said.split("What happens")[0]
    assert "It is lighter." in said.split("What happens")[0]
    assert "later" in said.split("What happens")[1]
    assert "Just so." in said.split("What happens")[1]


def test_after_four_tries_the_way_may_be_seen_and_no_later_try_counts(exercise) -> None:
    page, element = exercise("choice")
    element.get_by_role("radio", name="earlier").check()
    for _ in range(4):
        assert not element.get_by_role("button", name=re.compile("Show me the way")).is_visible()
        checked(page, element)
    element.get_by_role("button", name=re.compile("Show me the way")).click()
    element.get_by_text("The way was shown").wait_for()
    assert "later" in element.locator(".way").inner_text()
    element.get_by_role("radio", name="later").check()
    checked(page, element)
    assert element.get_by_text("The way was shown").is_visible()


def test_an_order_is_made_with_the_keyboard_alone(exercise) -> None:
    page, element = exercise("ordering")
    element.get_by_role("button", name="Move up: step c").focus()
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.shadowRoot.activeElement.getAttribute('aria-label')") == "Move up: step c"
    page.keyboard.press("Enter")  # the button itself
    assert element.locator(".ordering li").all_inner_texts()[0].startswith("step c")
    assert page.evaluate("document.activeElement.shadowRoot.activeElement.getAttribute('aria-label')") == "Move down: step c"
    assert element.get_by_text("step c: now 1 of 3").count() == 1
    assert checked(page, element) == "\u2713 Right.Just so."


def test_sliders_of_an_exercise_show_the_controls_asked_for_and_hold_the_others(exercise) -> None:
    page, element = exercise("sliders")
    inner = element.locator("coil-panel")
    page.wait_for_function("window.asked.some((request) => request.values && request.values.speed === 600)")
    inner.get_by_role("slider").nth(1).wait_for()  # they stand there when the answer has come, not when it is asked for
    assert inner.get_by_role("slider").count() == 2  # the control and the scrubber
    inner.get_by_text("Held: Crank speed 600\u00a0rpm").wait_for()
    slider = inner.get_by_role("slider", name="Size (mm)")
    assert slider.input_value() == "2"
    slider.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert checked(page, element) == "\u2713 Right.Just so."


def test_a_task_with_sliders_is_not_judged_before_its_sliders_are_there(browser) -> None:
    page = opened(browser, EXERCISES_HTML["sliders"], query="?wait")
    page.evaluate("""() => {  // as on a page whose engine is still at work on the panel
        const push = window.asked.push.bind(window.asked);
        window.asked.push = (request) => {
            if (request.do === "panel") window.hold = new Promise((resolve) => (window.release = resolve));
            push(request);
        };
        window.live();
    }""")
    task = page.locator("coil-exercise")
    page.wait_for_function("Boolean(window.release)")
    task.get_by_role("button", name="Check").click()
    task.get_by_text("The panel of this task is still starting: wait until its sliders show, then check.").wait_for()
    page.evaluate("window.release()")
    task.get_by_role("slider", name="Size (mm)").wait_for()
    assert checked(page, task).startswith("\u25b3 Not yet.")
    assert page.evaluate("window.asked.filter((request) => request.do === 'judge').length") == 1
    assert page.faults == []
    page.close()


def test_a_function_is_typed_with_tabs_and_the_field_can_be_left(exercise) -> None:
    page, element = exercise("function")
    area = element.get_by_role("textbox", name=re.compile("Write the function double"))
    assert area.input_value() == "def double(x):\n    return ..."
    # JupyterLab listens on the element and swallows the line break of a text field that stands in a cell.
    element.evaluate("node => node.addEventListener('beforeinput', (event) => event.preventDefault())")
    area.fill("")
    area.focus()
    page.keyboard.type("def double(x):\n")
    page.keyboard.press("Tab")
    page.keyboard.type("return 2 * x")
    assert area.input_value() == "def double(x):\n    return 2 * x"
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.shadowRoot.activeElement.tagName") == "BUTTON"
    assert checked(page, element) == "\u2713 Right.Just so."


def test_progress_opens_its_own_lesson_and_folds_the_others(exercise) -> None:
    page, _ = exercise("choice", '<coil-progress lesson="5"></coil-progress><coil-progress lesson="7"></coil-progress>')
    own, other = page.locator("coil-progress[lesson='5']"), page.locator("coil-progress[lesson='7']")
    for shown in (own, other):
        shown.scroll_into_view_if_needed()
        shown.get_by_role("heading", name="Where you are").wait_for()
    assert own.get_by_role("cell", name="not tried").first.is_visible()
    assert own.get_by_text("The other lessons").count() == 0  # there is no other here
    assert own.locator("summary").first.text_content().startswith("Lesson 5: Cushion-spring behaviour \u2013 0 of 4 passed")
    assert other.locator("summary").count() == 1


def test_right_first_time_stands_whatever_is_tried_afterwards(exercise) -> None:
    page, element = exercise("choice", PROGRESS_HTML)
    element.get_by_role("radio", name="later").check()
    checked(page, element)
    element.get_by_text("Passed at the first try.", exact=True).wait_for()
    element.get_by_role("radio", name="earlier").check()
    for count in (2, 3):
        assert checked(page, element).startswith("\u25b3 Not this time; you have passed, and that stands.")
        element.get_by_text(f"Passed at the first try; {count} tries in all.").wait_for()
    assert element.locator("section").get_attribute("data-passed") == "true"
    shown = page.locator("coil-progress")
    shown.scroll_into_view_if_needed()
    shown.get_by_role("cell", name="passed at the first try").wait_for()
    page.evaluate("document.querySelector('coil-exercise').load()")  # as on another day
    element.get_by_text("Last time:").wait_for()
    assert "Just so." in element.locator(".feedback").text_content()
    assert element.get_by_role("radio", name="later").is_checked()


def test_progress_follows_the_verdicts_and_the_record_goes_out_and_comes_back(exercise, tmp_path: Path) -> None:
    page, element = exercise("choice", PROGRESS_HTML)
    element.get_by_role("radio", name="later").check()
    checked(page, element)
    shown = page.locator("coil-progress")
    shown.scroll_into_view_if_needed()
    shown.get_by_role("cell", name="passed at the first try").wait_for()
    with page.expect_download() as download:
        shown.get_by_role("button", name="Save the record as a file").click()
    saved = tmp_path / download.value.suggested_filename
    download.value.save_as(saved)
    assert json.loads(saved.read_text())["exercises"]["05-choice"]["count"] == 1
    shown.get_by_label("Nickname").fill("Robin")
    shown.get_by_role("button", name="Use this nickname").click()
    shown.get_by_text("The exercises now use the nickname Robin.").wait_for()
    assert shown.get_by_role("cell", name="not tried").count() == len(EXERCISES)
    element.get_by_text("Passed at the first try.").wait_for(state="hidden")
    shown.locator("input[type=file]").set_input_files(saved)
    shown.get_by_role("cell", name="passed at the first try").wait_for()
    (tmp_path / "bad.json").write_text("{}")
    shown.locator("input[type=file]").set_input_files(tmp_path / "bad.json")
    shown.get_by_text("The record: the field schema is missing.").wait_for()


# ----------------------------------------------------------------------------------------- looks and layout
@pytest.mark.parametrize(("width", "where"), [(360, "under"), (768, "under"), (1280, "beside")])
def test_the_sliders_stand_right_under_the_stage_or_beside_it_where_there_is_room(browser, width: int, where: str) -> None:
    page = opened(browser, width=width)
    page.wait_for_selector("main > coil-panel[data-state=live]")
    page.wait_for_timeout(100)
    slider = page.locator("main > coil-panel .control").first.bounding_box()
    stage = page.locator("main > coil-panel .stage").bounding_box()
    if where == "beside":
        assert stage["x"] >= slider["x"] + slider["width"]
        assert abs(stage["y"] - slider["y"]) < 20
    else:
        assert 0 <= slider["y"] - (stage["y"] + stage["height"]) < 20
    assert page.evaluate("document.documentElement.scrollWidth") == width
    page.close()


def test_the_hosts_theme_is_followed_and_the_systems_alone_is_not(browser) -> None:
    page = opened(browser, PANEL_HTML, color_scheme="dark")
    page.wait_for_selector("main > coil-panel[data-state=live]")
    theme = "panel.shadowRoot.querySelector('.face').dataset.theme"
    assert panel_state(page, theme) == "light"
    page.evaluate("document.body.style.background = '#111'")
    wait_for_panel(page, f"{theme} === 'dark'")
    page.close()


def test_a_printed_page_is_light_and_narrow_and_the_screen_comes_back_as_it_was(browser) -> None:
    page = opened(browser, PANEL_HTML, theme="dark")
    page.wait_for_selector("main > coil-panel[data-state=live]")
    wait_for_panel(page, "panel.shadowRoot.querySelector('canvas')")
    looks = """[panel.shadowRoot.querySelector('.face').dataset.theme,
        ...[...panel.shadowRoot.querySelectorAll('canvas, .figures svg[role=img]')]
            .map((node) => Math.round(node.getBoundingClientRect().width))]"""  # two side by side, the others below one another
    on_screen = panel_state(page, looks)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    on_paper = panel_state(page, looks)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert on_screen[0] == "dark"
    assert on_paper[0] == "light"
    assert set(on_paper[1:]) == {310, 640}
    assert panel_state(page, looks) == on_screen
    page.close()


def test_the_pages_own_styles_do_not_reach_in(shared) -> None:
    """The page makes its paragraphs 40 px high and its buttons red."""
    assert panel_state(shared, "getComputedStyle(panel.shadowRoot.querySelector('.sentence')).fontSize") != "40px"
    assert panel_state(shared, "getComputedStyle(panel.shadowRoot.querySelector('button')).backgroundColor") != "rgb(255, 0, 0)"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_serious(browser, theme: str) -> None:
    page = opened(browser, theme=theme)
    page.wait_for_selector("main > coil-panel[data-state=live]")
    for element in page.locator("coil-exercise").all():
        element.scroll_into_view_if_needed()
    page.wait_for_function("[...document.querySelectorAll('coil-exercise')].every((element) => element.dataset.state === 'live')")
    page.locator("coil-progress").scroll_into_view_if_needed()
    page.wait_for_selector("coil-progress[data-state=live]")
    page.locator("main > coil-panel summary").click()
    page.locator("main > coil-panel").get_by_role("button", name="Why each matters").click()
    page.wait_for_timeout(400)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']}).then((all) => all.violations)")
    serious = [
        (each["id"], [node["target"] for node in each["nodes"]]) for each in found if each["impact"] in ("serious", "critical")
    ]
    assert serious == []
    page.close()
