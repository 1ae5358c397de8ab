"""Listen: nothing sounds unasked, what sounds is the engine's own sound, softly, and a browser that refuses says so in words."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from typing import Any

import pytest

from lessons.contracts import Control, Panel, Picture, Sound
from lessons.engine import Engine

from ..book.browsing import FLAGS
from .test_face import AXE, open_page

pytestmark = pytest.mark.browser
RATE = 16_000


def heard(values: Any, slowed: float) -> Sound:
    """A tone whose strength says which slider position it was made for; position 9 cannot be heard."""
    if values["tone"] > 8.5:
        raise ValueError("Tone: 9 Hz cannot be heard; give 8 Hz or less.")
    return Sound(array("d", [0.01 * values["tone"]] * RATE * 20), RATE, slowed, f"A tone of {values['tone']:.0f} hertz.")


TONE = Control("tone", "Tone", "Hz", 0.0, 9.0, 1.0, 3.0, "It sets what you hear.")
PANEL = Panel("tone", "A tone", "", (TONE,), compute=lambda values: Picture(f"{values['tone']:.0f}", ""), sound=heard)
MUTE = Panel("mute", "Mute", "", (TONE,), compute=lambda values: Picture("", ""))

# A stand-in for the browser's sound that keeps what it was given; `refuse` makes it one that gives none.
RECORDER = """
window.played = []; window.stopped = 0;
class Param { constructor() { this.value = 1; } }
window.AudioContext = class {
  constructor() { window.contexts = (window.contexts ?? 0) + 1; this.state = "suspended"; this.destination = {}; }
  resume() { this.state = "running"; return window.refuse ? Promise.reject(new Error("no")) : Promise.resolve(); }
  createBuffer(channels, length, rate) { return {channels, length, rate, copyToChannel(data) { this.data = data; }}; }
};
window.GainNode = class { constructor() { this.gain = new Param(); window.gain = this.gain; } connect(to) { this.to = to; } };
window.AudioBufferSourceNode = class {
  constructor(context, {buffer}) { this.buffer = buffer; }
  connect(to) { this.to = to; }
  start() {
    const {data, length, rate} = this.buffer;
    window.played.push({first: data[0], length, rate});
    window.last = this;
  }
  stop() { window.stopped += 1; }
};
"""


@pytest.fixture(scope="module")
def browser(need_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    flags = [*FLAGS, "--autoplay-policy=user-gesture-required"]
    browser = playwright_driver.chromium.launch(executable_path=need_chromium, args=flags)
    yield browser
    browser.close()


def opened(browser: Any, script: str = RECORDER, name: str = "tone", attributes: str = "", theme: str = "light") -> Any:
    engine = Engine(panels={"tone": PANEL, "mute": MUTE})
    return open_page(browser, f'<coil-panel name="{name}" {attributes}></coil-panel>', engine, width=900, theme=theme,
                     script=script)


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = opened(browser)
    yield page
    assert page.faults == []
    page.close()


def plays(page: Any, count: int) -> list[dict[str, float]]:
    page.wait_for_function(f"window.played.length >= {count}")
    return page.evaluate("window.played")


def test_nothing_sounds_before_it_is_asked_for(page: Any) -> None:
    page.evaluate("document.querySelector('coil-panel').set({tone: 5})")
    page.wait_for_function("window.asked.some((request) => request.do === 'compute' && request.whole)")
    assert page.evaluate("window.contexts ?? 0") == 0
    assert not [request for request in page.evaluate("window.asked") if request["do"] == "sound"]
    assert page.locator(".heard").inner_text() == ""
    assert not page.locator(".volume").is_visible()


def test_a_press_plays_the_engines_sound_softly_and_says_it_in_words(page: Any) -> None:
    page.get_by_role("button", name="Listen", exact=True).click()
    played = plays(page, 1)[0]
    assert played["length"] == 20 * RATE
    assert played["rate"] == RATE
    assert played["first"] == pytest.approx(0.03)
    assert page.evaluate("window.gain.value") == pytest.approx(0.0625), "a quarter of the slider, as an ear counts"
    assert page.locator(".heard").inner_text() == "A tone of 3 hertz."
    assert page.get_by_role("button", name="Stop").get_attribute("aria-pressed") == "true"
    assert page.evaluate("window.asked.at(-1)") == {"do": "sound", "name": "tone", "values": {"tone": 3}, "slowed": 1}
    page.evaluate("window.last.onended()")
    assert page.get_by_role("button", name="Listen", exact=True).get_attribute("aria-pressed") == "false"
    assert page.locator(".heard").inner_text() == "A tone of 3 hertz.", "the words stay"


def test_slowed_it_asks_for_the_slow_sound(page: Any) -> None:
    page.get_by_role("button", name="Listen, slowed 50 times").click()
    plays(page, 1)
    assert page.evaluate("window.asked.at(-1).slowed") == 50
    assert page.locator(".heard").inner_text() == "A tone of 3 hertz. Heard 50 times slower than life."


def test_a_second_press_stops_it(page: Any) -> None:
    page.get_by_role("button", name="Listen", exact=True).click()
    plays(page, 1)
    page.get_by_role("button", name="Stop").click()
    assert page.evaluate("window.stopped") == 1
    assert page.get_by_role("button", name="Listen", exact=True).is_visible()


def test_while_it_sounds_it_follows_the_slider(page: Any) -> None:
    page.get_by_role("button", name="Listen", exact=True).click()
    plays(page, 1)
    page.get_by_role("slider", name="Tone (Hz)").fill("7")
    assert plays(page, 2)[1]["first"] == pytest.approx(0.07)
    assert page.evaluate("window.stopped") == 1, "the former sound does not go on beside it"
    page.wait_for_function("document.querySelector('coil-panel').shadowRoot.querySelector('.heard').textContent.includes('7 "
                           "hertz')")


def test_of_two_quick_presses_the_newer_is_heard(page: Any) -> None:
    page.evaluate("void (window.hold = new Promise((go) => (window.go = go)))")  # or evaluate would wait for it
    page.get_by_role("button", name="Listen", exact=True).click()
    page.get_by_role("button", name="Listen, slowed 50 times").click()
    page.evaluate("window.go()")
    plays(page, 1)
    page.wait_for_function("document.querySelector('coil-panel').shadowRoot.querySelector('.heard').textContent.includes('slower')")
    assert len(page.evaluate("window.played")) == 1


def test_the_volume_is_the_listeners(page: Any) -> None:
    page.get_by_role("button", name="Listen", exact=True).click()
    plays(page, 1)
    volume = page.get_by_role("slider", name="Volume")
    volume.fill("100")
    assert page.evaluate("window.gain.value") == 1.0
    volume.fill("0")
    assert page.evaluate("window.gain.value") == 0.0
    assert volume.get_attribute("aria-valuetext") == "0 percent"


@pytest.mark.parametrize("refusal", [
    "delete window.AudioContext; window.AudioContext = undefined;", "window.refuse = true;",
    "window.AudioContext = class { constructor() { throw new Error('no'); } };",
], ids=["no such thing", "not allowed", "no device"])
def test_where_sound_is_refused_the_words_say_it(browser: Any, refusal: str) -> None:
    page = opened(browser, RECORDER + refusal)
    page.get_by_role("button", name="Listen", exact=True).click()
    words = page.locator(".heard")
    words.get_by_text("This browser gives no sound here. What you would hear: A tone of 3 hertz.").wait_for()
    assert page.get_by_role("button", name="Listen", exact=True).get_attribute("aria-pressed") == "false"
    page.get_by_role("slider", name="Tone (Hz)").fill("5")
    page.wait_for_function("document.querySelector('coil-panel').shadowRoot.querySelector('.sentence').textContent === '5'")
    assert page.faults == [], "nothing is lost, and nothing is reported"
    page.close()


def test_the_engines_own_sentence_is_shown(page: Any) -> None:
    page.get_by_role("slider", name="Tone (Hz)").fill("9")
    page.get_by_role("button", name="Listen", exact=True).click()
    page.locator(".heard").get_by_text("Tone: 9 Hz cannot be heard; give 8 Hz or less.").wait_for()
    assert page.evaluate("window.played") == []


def test_in_a_real_browser_it_runs(browser: Any) -> None:
    page = opened(browser, "")
    page.get_by_role("button", name="Listen", exact=True).click()
    page.locator(".heard").get_by_text("A tone of 3 hertz.").wait_for()
    assert page.evaluate("document.querySelector('coil-panel').listen.audio.state") == "running"
    page.get_by_role("button", name="Stop").click()
    assert page.faults == []
    page.close()


def test_a_panel_without_sound_has_no_button_and_a_talk_has_one(browser: Any) -> None:
    mute = opened(browser, name="mute")
    assert mute.locator(".listen").count() == 0
    mute.close()
    talk = opened(browser, attributes='view="compact"')
    assert talk.get_by_role("button", name="Listen", exact=True).is_visible()
    assert not talk.get_by_role("button", name="Listen, slowed 50 times").is_visible()
    talk.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing(browser: Any, theme: str) -> None:
    page = opened(browser, theme=theme)
    page.get_by_role("button", name="Listen", exact=True).click()
    plays(page, 1)
    page.add_script_tag(path=str(AXE))
    found = page.evaluate("axe.run(document.querySelector('coil-panel'), {rules: {region: {enabled: false}}})")
    assert [f"{each['id']}: {each['nodes'][0]['html'][:120]}" for each in found["violations"]] == []
    page.close()
