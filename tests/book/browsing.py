"""What the browser tests of the book share: opening a page, watching it, moving a panel's sliders, reading what it shows."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from lessons.contracts import Exercise
from lessons.engine import Engine
from lessons.exercises import EXERCISES
from lessons.exercises.ways import in_words
from lessons.panels import PANELS

ROOT = Path(__file__).resolve().parents[2]
LESSON = "lessons/05_cushion_spring.html"
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run",
    # V8 runs what it is given as soon as it has any code for it: to make that fast takes longer than a test's page lives.
    "--js-flags=--liftoff-only --no-maglev --no-opt",
)
LIVE = 90_000  # ms that a busy machine may take to start the model; how long it does take is measured elsewhere


class Profile:
    """A browser's profile that is emptied after each visit, and goes on knowing one thing: what it compiled.

    To compile JupyterLab's scripts and Python for the browser anew takes more than half of a page's start. What is fetched under
    the same address is compared with what is there, as in any browser, so nothing stale is shown.
    """

    def __init__(self, context: Any) -> None:
        self.context = context
        self.blank = context.pages[0]  # stays open: without any page the browser would end
        self.commands = context.new_cdp_session(self.blank)
        self.taken = False

    def empty(self, site: str) -> None:
        """Close its pages and forget what they kept."""
        for page in [page for page in self.context.pages if page != self.blank]:
            page.close()
        self.context.set_offline(False)
        self.context.clear_permissions()
        self.commands.send("Storage.clearDataForOrigin", {
            "origin": "/".join(site.split("/")[:3]),
            "storageTypes": "cookies,file_systems,indexeddb,local_storage,service_workers,cache_storage",
        })
        self.taken = False


@dataclass
class Visit:
    """One page in a fresh profile, and what it did: every request of the page and its workers, every error, every worker.

    With a `profile` one that sets no traps and wants nothing special is made there, unless another visit is using it.
    """

    browser: Any
    site: str
    profile: Profile | None = None
    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    workers: list[str] = field(default_factory=list)
    expected: tuple[str, ...] = ()  # parts of the error texts that a test provokes on purpose
    context: Any = None

    def open(self, path: str = LESSON, width: int = 1280, before: Callable[[Any], Any] | None = None, **options: Any) -> Any:
        """Open `path` of the book (or a whole address); `before(context)` may set traps first.

        Nothing is kept for use without a network unless `service_workers="allow"`: it would fetch the whole book at each visit.
        """
        if self.profile and (before or options or self.profile.taken or path.startswith("file:")):
            self.profile = None
        if self.profile:
            self.profile.taken = True
            self.context = self.profile.context
        else:
            options = {"service_workers": "block"} | options
            self.context = self.browser.new_context(viewport={"width": width, "height": 900}, **options)
        for event, note in self._notes.items():
            self.context.on(event, note)
        if before:
            before(self.context)
        page = self.context.new_page()
        page.set_viewport_size({"width": width, "height": 900})
        page.on("worker", lambda worker: self.workers.append(worker.url))
        page.goto(path if "://" in path else self.site + path)
        return page

    def __post_init__(self) -> None:
        self._notes: dict[str, Callable[[Any], None]] = {
            "request": lambda request: self.requests.append(request.url),
            "weberror": lambda error: self.errors.append(str(error.error)),
            "console": lambda message: self.errors.append(message.text) if message.type == "error" else None,
        }

    def end(self) -> None:
        """Close it, and hold it to having asked nothing outside the book and reported no error."""
        if self.context is None:
            return
        if self.profile:
            self.profile.empty(self.site)
            for event, note in self._notes.items():
                self.context.remove_listener(event, note)
        else:
            self.context.close()
        own = "file://" if any(address.startswith("file:") for address in self.requests) else self.site
        foreign = [address for address in self.requests if not address.startswith((own, "data:", "blob:"))]
        errors = [error for error in self.errors if not any(part in error for part in self.expected)]
        assert not foreign, f"the page asked for something outside the book: {foreign}"
        assert not errors, f"the page reported errors: {errors}"


def live(page: Any, selector: str = "coil-panel[name=cushion]", model: bool = True) -> Any:
    """Return the first element that `selector` names, once it is live; unless told otherwise, once the live model is, too."""
    element = page.locator(selector).first
    element.scroll_into_view_if_needed()
    page.locator(f"{selector}[data-state=live]").first.wait_for(timeout=LIVE)
    if model:
        page.wait_for_function("globalThis.coilHost?.ready", timeout=LIVE)
    return element


def shown(panel: Any) -> dict[str, Any]:
    """Return what the panel shows of its picture: the sentence and the readings (not those of a run kept to compare)."""
    return panel.evaluate("""(panel) => {
        const at = (selector) => [...panel.shadowRoot.querySelectorAll(selector)].map((node) => node.textContent);
        return {sentence: at(".sentence")[0], labels: at(".readings dt"), texts: at(".readings dd:not(.kept)")};
    }""")


def native(name: str, values: dict[str, Any], engine: Engine) -> dict[str, Any]:
    """Return what this process shows of panel `name` at these values, before a map is filled."""
    picture = engine.handle({"do": "compute", "name": name, "values": values, "whole": True, "fill": True}).tree["picture"]
    return {
        "sentence": picture["sentence"],
        "labels": [reading["label"] for reading in picture["readings"]],
        "texts": [reading["text"] for reading in picture["readings"]],
    }


def same(found: dict[str, Any], expected: dict[str, Any], name: str) -> bool:
    """Say whether a page shows what is expected; a sentence on a map may have come to it, once the map is filled (test_pool)."""
    begins = PANELS[name].filling is not None and found["sentence"].startswith(expected["sentence"] + " On the map, ")
    return found == expected or (begins and found | {"sentence": expected["sentence"]} == expected)


def held_against_native(panel: Any, engine: Engine) -> bool:
    """Assert that the panel shows what this process computes at its slider positions; return whether that decides anything.

    It does not where the setting is marginal: where a billionth more or less on a slider changes the native readings too.
    There (a coil that bounces from pulse to pulse) the last digit of a sine, which the browser's library may round
    otherwise, grows into another spark.
    """
    name, values = panel.get_attribute("name"), panel.evaluate("(panel) => panel.values")
    expected, found = native(name, values, engine), shown(panel)
    if same(found, expected, name):
        return True
    symbol = panel.evaluate("(panel) => panel.panel.controls[0].symbol")
    nudged = [native(name, values | {symbol: values[symbol] * (1.0 + nudge)}, engine) for nudge in (1e-9, -1e-9, 1e-10, -1e-10)]
    assert any(each != expected for each in nudged), f"{values}: the page shows {found}, here it is {expected}"
    return False


def settled(panel: Any, engine: Engine) -> bool:
    """Wait until the panel shows what belongs to its slider positions; as `held_against_native`, which it ends with."""
    end = time.monotonic() + LIVE / 1000
    while time.monotonic() < end:
        try:
            return held_against_native(panel, engine)
        except AssertionError:  # the whole picture has not come yet
            panel.page.wait_for_timeout(100)
    return held_against_native(panel, engine)


def pixels(panel: Any) -> str:
    """Return all that the panel has drawn, as one text."""
    return panel.evaluate("""(panel) => [...panel.shadowRoot.querySelectorAll("canvas")].map((c) => c.toDataURL()).join()
        + [...panel.shadowRoot.querySelectorAll("svg")].map((s) => s.outerHTML).join()""")


_FOLLOW = """(panel) => {
    if ("wholeOf" in panel) return;
    panel.wholeOf = null;  // the values of the last whole picture that came since the last change
    panel.addEventListener("coil-changed", () => (panel.wholeOf = null));
    const plain = panel.request.bind(panel);
    panel.request = async (request) => {
        const reply = await plain(request);
        if (request.do === "compute" && request.whole) panel.wholeOf = JSON.stringify(request.values);
        return reply;
    };
}"""
_DRAWN = """async (panel, patience) => {
    const end = performance.now() + patience;
    while (panel.wholeOf !== JSON.stringify(panel.values)) {
        if (performance.now() > end) throw new Error(`${panel.name}: no picture came of ${JSON.stringify(panel.values)}`);
        await new Promise((resolve) => setTimeout(resolve, 10));
    }
    await new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve)));
}"""


def after_painting(panel: Any, act: Callable[[], Any]) -> None:
    """Do `act`, which moves a slider, and wait until the panel has drawn the whole picture of where its sliders are then.

    A painting seen after the act proves nothing: on a busy machine it may be the answer to an earlier change.
    """
    panel.evaluate(_FOLLOW)
    act()
    panel.evaluate(_DRAWN, LIVE)


def press(panel: Any, index: int, *keys: str) -> Any:
    """Press keys on the panel's slider number `index`, waiting for the picture after each; return the slider."""
    slider = panel.locator("input[type=range]").nth(index)
    slider.focus()
    for key in keys:
        after_painting(panel, partial(slider.press, key))
    return slider


def ask(page: Any, request: dict[str, Any]) -> dict[str, Any]:
    """Ask the page's engine as the face does; return the tree of its reply."""
    page.wait_for_function("globalThis.coilHost?.ready", timeout=LIVE)
    return page.evaluate("(request) => coilHost.ask(request).then((reply) => reply.tree)", request)


COLOURS = ["color-contrast", "link-in-text-block"]


def serious(page: Any, *, within: str = "html", schemes: tuple[str, ...] = ("",)) -> list[list[str]]:
    """Return what axe-core calls serious or critical of the page (or of what `within` selects), in each scheme ("": as it is).

    Between two schemes only the colours change, so in the second one only the rules of colours are asked.
    """
    if not page.evaluate("Boolean(globalThis.axe)"):
        page.evaluate((ROOT / "book/node_modules/axe-core/axe.min.js").read_text(encoding="utf-8"))
    found = []
    for scheme in schemes:
        rules = {"runOnly": {"type": "rule", "values": COLOURS}} if scheme != schemes[0] else {}
        if scheme:
            page.emulate_media(color_scheme=scheme)
            page.wait_for_timeout(400)  # the theme's colours fade into one another
        found += page.evaluate("""([within, scheme, rules]) => axe.run(within, {resultTypes: ["violations"], ...rules})
            .then((result) => result.violations
            .filter(({impact}) => ["serious", "critical"].includes(impact))
            .map(({id, nodes}) => [scheme, id, ...nodes.map((node) => `${node.target}: ${node.html.slice(0, 120)}`)]))""",
            [within, scheme, rules])
    return found


def give(exercise: Any, known: Exercise, engine: Engine, answer: Any) -> None:
    """Put `answer` into the form of the exercise, by its own controls."""
    kind = known.kind
    if kind == "number":
        exercise.locator("#value").fill(str(answer["value"]))
        if exercise.locator("#unit").count():
            exercise.locator("#unit").select_option(answer["unit"])
    elif kind == "choice":
        exercise.locator(f"input[value={answer}]").check()
    elif kind == "ordering":
        for place, key in enumerate(answer):
            text = next(item["text"] for item in known.form(engine.variant(known))["items"] if item["key"] == key)
            up = exercise.get_by_role("button", name=f"Move up: {text}", exact=True)
            while exercise.locator("ol.ordering li").nth(place).locator("span").inner_text() != text:
                up.click()
    elif kind == "sliders":
        for symbol, value in answer.items():
            if isinstance(value, str):  # a setting chosen from a list
                exercise.locator(f"select[name={symbol}]").select_option(value)
            else:
                exercise.locator(f"input[name={symbol}]").fill(f"{value:g}")
    elif kind == "log":
        text = {tool["key"]: tool["text"] for tool in known.form(engine.variant(known))["tools"]}
        fresh = exercise.locator("button.fresh")
        if fresh.is_visible():  # lines stay; another answer begins on a new sheet, once the coil was handed back
            fresh.click()
        for key in answer:
            exercise.get_by_role("button", name=text[key], exact=True).click()
    else:
        exercise.locator("textarea").fill(answer)


def check(exercise: Any) -> str:
    """Press Check; return the feedback."""
    exercise.evaluate("""(exercise) => { exercise.judged = new Promise((resolve) =>
        exercise.addEventListener("coil-judged", () => resolve(null), {once: true})); }""")
    exercise.get_by_role("button", name="Check", exact=True).click()
    exercise.evaluate("(exercise) => exercise.judged")
    return exercise.locator(".feedback").inner_text()


def moved_by_key_and_by_mouse(panel: Any, engine: Engine) -> None:
    """Move the panel's first slider by a key and by the mouse: each time another picture, and the readings are native ones."""
    slider = panel.locator(".controls input[type=range]").first
    low = slider.evaluate("(slider) => slider.valueAsNumber - slider.min < 0.15 * (slider.max - slider.min)")
    before = pixels(panel)
    press(panel, 0, "PageUp" if low else "PageDown")
    after_key = pixels(panel)
    assert after_key != before, f"{panel.get_attribute('name')}: a key moved the slider, and the picture stayed"
    held_against_native(panel, engine)
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    here = slider.evaluate("(slider) => (slider.valueAsNumber - slider.min) / (slider.max - slider.min)")
    from_, to, height = box["x"] + here * box["width"], box["x"] + (0.3 if here > 0.5 else 0.7) * box["width"], box["height"] / 2
    mouse = panel.page.mouse

    def drag() -> None:
        mouse.move(from_, box["y"] + height)
        mouse.down()
        mouse.move(to, box["y"] + height, steps=4)
        mouse.up()

    after_painting(panel, drag)
    assert pixels(panel) != after_key, f"{panel.get_attribute('name')}: the mouse moved the slider, and the picture stayed"
    held_against_native(panel, engine)


def answers(key: str, engine: Engine) -> tuple[Any, Any]:
    """Return (one that a known belief leads to, a right one): answers to the exercise as the face would send them."""
    known, variant = EXERCISES[key], engine.variant(EXERCISES[key])
    wrong = next(answer for answer in (each.answer(variant) for each in known.misconceptions) if answer is not None)
    right = known.truth(variant)
    if known.kind == "number":
        unit = known.form(variant)["unit"]
        return {"value": f"{wrong:.4g}", "unit": unit}, {"value": f"{right:.4g}", "unit": unit}
    return wrong, right


def assert_wrong_and_right(exercise: Any, engine: Engine) -> None:
    """Answer the exercise wrong, by a known belief, and then right; hold what it says to the judgement of this process."""
    known = EXERCISES[exercise.get_attribute("key")]
    variant = engine.variant(known)
    if known.prediction:
        assert_kept_and_compared(exercise, known, engine)
        return
    for answer, passed, word in zip(answers(known.key, engine), (False, True), ("Not yet.", "Right.")):
        give(exercise, known, engine, answer)
        said = check(exercise)
        verdict = known.judge(exercise.evaluate("(exercise) => exercise.form.answer()"), variant)  # a slider goes by its steps
        assert verdict.passed is passed
        assert word in said
        told = verdict.reason if passed else verdict.message  # "Right" is said once, above the reason
        assert _letters(told)[:30] in _letters(said)
        assert said.count("Right.") == passed


def assert_kept_and_compared(exercise: Any, known: Any, engine: Engine) -> None:
    """Make a wrong prediction, move a panel of the page, and hold what is then said to the truth of this process."""
    wrong, right = answers(known.key, engine)
    give(exercise, known, engine, wrong)
    exercise.get_by_role("button", name="Keep my prediction").click()
    compare = exercise.get_by_role("button", name="Compare with what happens")
    compare.wait_for()
    assert compare.is_disabled()
    exercise.page.evaluate("""({panels}) => {  // the panel that it is about, and its control
        const [name, [symbol]] = Object.entries(panels)[0], panel = document.querySelector(`coil-panel[name=${name}]`);
        const tell = (kind) => panel.dispatchEvent(new CustomEvent(kind, {bubbles: true, composed: true}));
        tell("coil-painted");
        if (!symbol) return tell("input");
        const before = panel.values;
        panel.values = {...before, [symbol]: "moved"};
        tell("coil-changed");
        panel.values = before;
    }""", {"panels": {name: list(symbols) for name, symbols in known.about.panels.items()}})
    compare.click()
    exercise.get_by_text("What happens", exact=True).wait_for()
    said = _letters(exercise.locator(".compared").inner_text())
    variant = engine.variant(known)
    assert _letters(in_words(known, variant, wrong)) in said
    assert _letters(in_words(known, variant, right)) in said


def _letters(text: str) -> str:
    """Leave of `text` its letters and digits: what is set in bold here is between stars there."""
    return "".join(filter(str.isalnum, text))
