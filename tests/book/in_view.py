"""Cause and effect in one view: a panel's slider is moved, and what that changes must be on the screen with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

# Of the panel: what can be seen of each thing (its box cut to the screen, bars over the page's edge and the stage itself counted
# as what they are), and a text of what each drawing shows; or of the slider alone.
_SEEN = """(panel, sliderOnly) => {
    const root = panel.shadowRoot, scroller = [...function* () {
        for (let node = panel.parentElement; node; node = node.parentElement) yield node;
    }()].find((node) => /auto|scroll/.test(getComputedStyle(node).overflowY) && node.scrollHeight > node.clientHeight + 1);
    const frame = scroller && scroller !== document.documentElement && scroller !== document.body
        ? scroller.getBoundingClientRect() : {top: 0, bottom: innerHeight, left: 0, right: innerWidth};
    const bar = parseFloat(getComputedStyle(document.documentElement).getPropertyValue("--coil-top"));  // in rem or px
    const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
    const unit = /rem/.test(getComputedStyle(document.documentElement).getPropertyValue("--coil-top")) ? rem : 1;
    const top = Math.max(frame.top, (bar || 0) * unit);
    const share = (node) => {
        const box = node.getBoundingClientRect();
        const high = Math.min(box.bottom, frame.bottom, innerHeight) - Math.max(box.top, top);
        const wide = Math.min(box.right, frame.right, innerWidth) - Math.max(box.left, frame.left, 0);
        return box.height && box.width ? Math.max(0, high) * Math.max(0, wide) / (box.height * box.width) : 0;
    };
    // is it the topmost thing at its middle, or does something lie over it?
    const open = (node) => {
        const box = node.getBoundingClientRect();
        const hit = root.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
        return hit !== null && (node.contains(hit) || hit.contains(node) || node.parentElement.contains(hit));
    };
    const sentence = root.querySelector(".sentence"), slider = root.querySelector(".controls input[type=range]");
    if (sliderOnly) return {slider: open(slider) ? share(slider) : 0};
    const drawings = [...root.querySelectorAll(".figures > *")].map((node) => {
        const pictures = [...node.querySelectorAll("svg[role=img], svg[role=group], svg[role=slider], .plot")];
        return {
            name: node.className || node.querySelector("strong")?.textContent,
            staged: Boolean(node.closest(".stage, .compact")),
            seen: Math.max(...pictures.map((each) => (open(each) ? share(each) : 0))),
            all: Math.min(...pictures.map((each) => (open(each) ? share(each) : 0))),
            drawn: [...node.querySelectorAll("canvas")].map((canvas) => canvas.toDataURL()).join()
                + [...node.querySelectorAll("svg")].map((svg) => svg.outerHTML).join(),
        };
    });
    return {
        slider: open(slider) ? share(slider) : 0, sentence: open(sentence) ? share(sentence) : 0,
        text: sentence.textContent, drawings,
    };
}"""

# Wait until the panel has stood still for three frames: a new width is drawn a frame or two after the page has it.
_STILL = """async (panel) => {
    let last = "", same = 0;
    while (same < 3) {
        await new Promise(requestAnimationFrame);
        const now = [panel, ...panel.shadowRoot.querySelectorAll(".stage, .controls, .control")].map((node) =>
            Object.values(node.getBoundingClientRect().toJSON()).join()).join();
        same = now === last ? same + 1 : 0;
        last = now;
    }
}"""


def seen(panel: Any) -> dict[str, Any]:
    """Return what is seen of the panel: shares (0 to 1) of slider, sentence and each drawing, and what it shows."""
    return panel.evaluate(_SEEN)


def drag_in_view(panel: Any, moving: Callable[[Callable[[], None]], None]) -> None:
    """Come to the panel from above, drag its first slider by mouse as soon as it is there, and hold the panel to it that what
    changed is on the screen.

    `moving(act)` does the act and waits until the picture that belongs to it is drawn.
    """
    slider = panel.locator(".controls input[type=range]").first
    panel.evaluate(_STILL)
    panel.evaluate("(panel) => panel.shadowRoot.querySelector('section').scrollIntoView({block: 'start', behavior: 'instant'})")
    panel.evaluate(_STILL)
    box = panel.bounding_box()
    panel.page.mouse.move(box["x"] + 3, 300)
    for _ in range(40):  # read on until the slider is there
        if panel.evaluate(_SEEN, True)["slider"] > 0.98:
            break
        panel.page.mouse.wheel(0, 60)
        panel.evaluate(_STILL)
    before = seen(panel)
    box = slider.bounding_box()
    here = slider.evaluate("(slider) => (slider.valueAsNumber - slider.min) / (slider.max - slider.min)")
    thumb, to = (box["x"] + 8 + share * (box["width"] - 16) for share in (here, 0.25 if here > 0.5 else 0.75))
    mouse = panel.page.mouse

    def drag() -> None:
        mouse.move(thumb, box["y"] + box["height"] / 2)
        mouse.down()
        mouse.move(to, box["y"] + box["height"] / 2, steps=4)
        mouse.up()

    moving(drag)
    assert_in_view(panel, before, seen(panel))


def assert_in_view(panel: Any, before: dict[str, Any], after: dict[str, Any]) -> None:
    """Hold `after`, what is seen once the slider was moved, to the promise of one view."""
    name = f"{panel.get_attribute('name')} at {panel.page.viewport_size['width']} px"
    was = {drawing["name"]: drawing["drawn"] for drawing in before["drawings"]}
    changed = [each for each in after["drawings"] if each["drawn"] != was.get(each["name"])]
    assert changed or after["text"] != before["text"], f"{name}: the slider was dragged and nothing changed"
    assert after["slider"] > 0.98, f"{name}: of the slider {after['slider']:.2f} is seen"
    assert after["sentence"] > 0.98, f"{name}: of the sentence {after['sentence']:.2f} is seen"
    staged = [each for each in after["drawings"] if each["staged"]]
    for each in staged:
        if each["name"].split()[0] in ("scene", "ladder"):
            assert each["all"] > 0.98, f"{name}: of the {each['name']} {each['all']:.2f} is seen"
    in_sight = [each for each in changed if each["seen"] > 0.6]
    assert in_sight or not changed, f"{name}: what changed is out of sight: {[(each['name'], each['seen']) for each in changed]}"
    assert staged[0]["seen"] > 0.6, f"{name}: of {staged[0]['name']} {staged[0]['seen']:.2f} is seen"
