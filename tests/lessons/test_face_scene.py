"""The moving picture's layers and how one goes about in it: current, flux and spark as they come and go; step, slow, jump."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pytest

from lessons.contracts import Mark, Panel, Picture, Scene
from lessons.engine import Engine

from .test_face import open_page

pytestmark = pytest.mark.browser
TIMES = [0.01 * i for i in range(801)]  # ms
PARTS, MEETS = 4.0, 5.0


def apart(t: float) -> float:
    """Return how far the contacts of the made-up pulse are apart (mm)."""
    return 0.3 * math.sin(math.pi * (t - PARTS) / (MEETS - PARTS)) if PARTS < t < MEETS else 0.0


SCENE = Scene(
    TIMES, [apart(t) for t in TIMES], [-1e-4] * len(TIMES), [1.5 * min(t, PARTS) if t < MEETS else 0.0 for t in TIMES],
    [1 if 4.1 < t < 5.2 else 0 for t in TIMES], 0.2, 0.46, flux=[min(t, PARTS) * 3.0 for t in TIMES], full_current=6.0,
    full_flux=12.0, moments=(Mark(PARTS, None, "the contacts part", "part"), Mark(4.1, None, "spark", "spark"),
                             Mark(7.0, None, "the contacts part", "part")),
)
PANEL = Panel("made", "A made-up pulse", "", (), compute=lambda values: Picture("A pulse.", "A pulse.", scene=SCENE))


@pytest.fixture(scope="module")
def page(browser: Any) -> Iterator[Any]:
    page = open_page(browser, '<coil-panel name="made"></coil-panel>', Engine(panels={"made": PANEL}),
                     "coil-panel[data-state=live] .flow path.current", 900, alone=True)
    yield page
    assert page.faults == []
    page.close()


def at(page: Any, now: float) -> dict[str, Any]:
    """Go to a moment; return what the layers show there."""
    return page.evaluate("""(now) => {
        const panel = document.querySelector("coil-panel"), root = panel.shadowRoot;
        root.querySelector("#scrub").value = now;
        root.querySelector("#scrub").dispatchEvent(new Event("input"));
        const current = root.querySelector(".flow path.current"), lead = root.querySelector(".secondary-lead");
        return {
            now: root.querySelector("#scrub").valueAsNumber, words: root.querySelector(".state").textContent,
            shown: current.getAttribute("visibility") === "visible", width: Number(current.getAttribute("stroke-width")),
            gone: -Number(current.getAttribute("stroke-dashoffset")), broken: current.getAttribute("d").split("M").length - 1,
            winding: Number(root.querySelector(".flow .primary").getAttribute("fill-opacity")),
            flux: [...root.querySelectorAll(".flow path.flux")].map((path) => Number(path.getAttribute("opacity"))),
            spark: Number(lead.getAttribute("stroke-width")) > 2, flash: root.querySelector(".flash").getAttribute("visibility"),
        };
    }""", now)


def test_the_current_grows_and_goes(page: Any) -> None:
    nothing, little, much, after = (at(page, t) for t in (0.0, 1.0, 4.0, 6.0))
    assert not nothing["shown"]
    assert little["shown"]
    assert nothing["winding"] < little["winding"] < much["winding"]
    assert 1.5 < little["width"] < much["width"]
    assert much["width"] == pytest.approx(5.5, abs=0.05), "6 A is drawn at full strength"
    assert not after["shown"]


def test_its_dashes_go_with_the_charge(page: Any) -> None:
    """The charge is the current's integral: it grows with the square of the time while the current grows with the time."""
    one, two = at(page, 1.0)["gone"], at(page, 2.0)["gone"]
    assert one > 0.0
    assert two / one == pytest.approx(4.0, rel=0.02)
    assert at(page, 1.0)["gone"] == one, "the same moment, the same picture"
    assert at(page, 7.9)["gone"] == at(page, 6.0)["gone"], "without a current they stand still"


def test_with_the_contacts_apart_it_goes_through_the_condenser(page: Any) -> None:
    assert at(page, 3.9)["broken"] == 1
    assert at(page, 4.5)["broken"] == 2, "in at one plate and out at the other"
    assert at(page, 4.5)["shown"]


def test_the_flux_comes_line_by_line(page: Any) -> None:
    assert at(page, 0.0)["flux"] == [0.0] * 6
    third = at(page, 4.0 / 3.0)["flux"]
    assert third == [pytest.approx(1.0, abs=0.02), pytest.approx(0.0, abs=0.02), 0.0] * 2
    assert at(page, 4.0)["flux"] == [1.0] * 6


def test_the_spark_is_one_and_goes_out_with_the_contacts_closed(page: Any) -> None:
    assert not at(page, 4.05)["spark"]
    burning = at(page, 4.5)
    assert burning["spark"]
    assert burning["flash"] == "visible"
    assert burning["words"].endswith("; spark.")
    ending = at(page, 5.1)
    assert ending["words"].startswith("Contacts closed")
    assert ending["words"].endswith("; the spark is going out.")
    assert not at(page, 5.3)["spark"]


def moment(page: Any) -> float:
    return page.evaluate("document.querySelector('coil-panel').shadowRoot.querySelector('#scrub').valueAsNumber")


def test_a_jump_goes_from_parting_to_parting(page: Any) -> None:
    at(page, 1.0)
    jump = page.get_by_role("button", name="To the next parting")
    for expected in (4.0, 7.0, 4.0):
        jump.click()
        assert moment(page) == pytest.approx(expected, abs=0.02)


def test_steps_go_back_and_on_by_a_four_hundredth(page: Any) -> None:
    at(page, 2.0)
    page.get_by_role("button", name="A step on").click()
    page.get_by_role("button", name="A step on").click()
    assert moment(page) == pytest.approx(2.04, abs=1e-6)
    page.get_by_role("button", name="A step back").click()
    assert moment(page) == pytest.approx(2.02, abs=1e-6)
    at(page, 0.0)
    page.get_by_role("button", name="A step back").click()
    assert moment(page) == 0.0, "not beyond the end"


def test_it_plays_as_slowly_as_is_chosen(page: Any) -> None:
    """Two hundred frames of 10 ms, by a clock of our own: at 2000 times a fourth of the way at 500 times."""
    gone = []
    for choice in ("500", "2000"):
        page.get_by_label("Slowed").select_option(label=f"{choice}\u00a0times")
        at(page, 0.0)
        gone.append(page.evaluate("""() => {
            const root = document.querySelector("coil-panel").shadowRoot, real = window.requestAnimationFrame;
            const waiting = [];
            window.requestAnimationFrame = (step) => waiting.push(step);
            root.querySelector(".play").click();
            for (let i = 0; i < 101; i++) waiting.shift()(10 * i);
            root.querySelector(".play").click();
            window.requestAnimationFrame = real;
            return root.querySelector("#scrub").valueAsNumber;
        }"""))
    assert gone[0] == pytest.approx(2.0, abs=0.02)  # 1000 ms, 500 times slower
    assert gone[1] == pytest.approx(0.5, abs=0.02)
    page.get_by_label("Slowed").select_option(label="500\u00a0times")


def test_a_scene_without_flux_or_partings_has_neither(browser: Any) -> None:
    bare = Scene(TIMES, [0.0] * len(TIMES), [0.0] * len(TIMES), [1.0] * len(TIMES), [0] * len(TIMES), 0.2, 0.46)
    panel = Panel("bare", "Bare", "", (), compute=lambda values: Picture("", "", scene=bare))
    page = open_page(browser, '<coil-panel name="bare"></coil-panel>', Engine(panels={"bare": panel}),
                     "coil-panel[data-state=live] .flow path.current")
    assert at(page, 4.0)["flux"] == [0.0] * 6
    assert not page.get_by_role("button", name="To the parting").is_visible()
    assert page.faults == []
    page.close()
