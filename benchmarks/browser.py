"""The book in Chromium: `python benchmarks/browser.py` prints how fast a page comes alive and how fast a slider answers.

    kernel           one pulse in Node and in Chromium against numba's, turn about (kernel_in_page.py)
    first touch      on the start page, whose model has not been asked for yet: from a slider's input event to its picture
    cold start       from opening a page in a browser with an empty profile to the first picture painted, which was made at
                     build, and to the live model ready to answer
    again            the same page opened anew in that browser, which now has the files
    key to painted   from the slider's input event to the picture painted, 50 key presses on the first slider, each after the
                     last one was answered: the quick picture of a moving slider, and the whole one of a slider at rest
    drag             60 mouse moves at 60 a second: how long a change waited for its picture, and how many pictures there were
    map              from a move that makes another map to its first cells, and to its last

The book is built first unless it is there (`--site FOLDER` takes another); with `--bare` the panels stand on pages by themselves,
which are made in seconds, and the theme and a lesson's other panels are not in the figures. Times are those of the page's own
clock; they depend on the machine and on what else it does, so the load is printed too. The goals are those of the project's
plan; the command ends with status 1 if one is missed.
"""

from __future__ import annotations

import argparse
import functools
import http.server
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

import run as benchmark  # noqa: E402

from book.making import bare, early, weigh  # noqa: E402
from book.making.places import HTML  # noqa: E402

START, LIGHT = "index.html", "first_look"
LESSON, PANEL = "lessons/05_cushion_spring.html", "cushion"
MAPS, MAP = "lessons/06_multi_firing.html", "tension_map"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run",
]
LISTEN = """
globalThis.paintings = [];
document.addEventListener("coil-painted", ({detail}) => paintings.push({...detail, seen: performance.now()}));
document.addEventListener("coil-ready", () => (globalThis.readyAt ??= performance.now()));
"""
WAIT = 300_000  # ms


@dataclass(frozen=True)
class Row:
    """One line of the table; `missed` where the goal is."""

    what: str
    measured: str
    goal: str = ""
    missed: bool = False


def p95(values: Sequence[float]) -> float:
    """Return the 95th percentile, by the nearest rank."""
    ordered = sorted(values)
    return ordered[max(0, -(-95 * len(ordered) // 100) - 1)]


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve `folder` with Python's own file server, which does not compress; yield its address."""
    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, format: str, *args: object) -> None:
            pass

    class Patient(http.server.ThreadingHTTPServer):
        def handle_error(self, request: object, client_address: object) -> None:
            pass  # a page that was closed before it had everything

    with Patient(("127.0.0.1", 0), functools.partial(Quiet, directory=str(folder))) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()


def first_picture(page: Any, address: str) -> tuple[float, float]:
    """Open `address`; return when, in ms since it began to open, the panel's first picture was painted, and the model ready."""
    page.goto(address, wait_until="commit")
    both = "(name) => globalThis.readyAt && paintings.some((each) => each.name === name)"
    page.wait_for_function(both, arg=PANEL, timeout=WAIT)
    painted = float(page.evaluate("(name) => paintings.find((each) => each.name === name).seen", PANEL))
    return painted, float(page.evaluate("readyAt"))


FIRST_TOUCH = """([name, value]) => new Promise((resolve) => {
    const panel = document.querySelector(`coil-panel[name=${name}]`), input = panel.shadowRoot.querySelector("input[type=range]");
    panel.addEventListener("coil-painted", ({detail}) => resolve([detail.ms, coilHost.ready]), {once: true});
    input.value = value;
    input.dispatchEvent(new Event("input", {bubbles: true}));
})"""


def first_touches(launch: Any, address: str, times: int) -> list[float]:
    """Return ms from the first move of the start page's slider to its picture, each in a browser of its own."""
    found = []
    for _ in range(times):
        browser = launch()
        page = new_page(browser)
        page.goto(address)
        page.wait_for_selector(f"coil-panel[name={LIGHT}][data-state=live]", timeout=WAIT)
        ms, ready = page.evaluate(FIRST_TOUCH, [LIGHT, 45])
        assert not ready, "the model was there already: this was not the first touch"
        found.append(ms)
        browser.close()
    return found


FILL = """([name, value]) => new Promise((resolve) => {
    const panel = document.querySelector(`coil-panel[name=${name}]`), input = panel.shadowRoot.querySelector("input[name=rpm]");
    const map = panel.shadowRoot.querySelector("figure.map"), said = map.querySelector(":scope > p");
    let first = null;
    const begun = performance.now();
    const watch = new MutationObserver(() => requestAnimationFrame(() => setTimeout(() => {
        if (first === null && /[1-9]\\d* of/.test(said.textContent)) first = performance.now() - begun;
        if (first === null || !said.hidden) return;
        watch.disconnect();
        resolve([first, performance.now() - begun]);
    })));
    watch.observe(map, {subtree: true, childList: true, characterData: true, attributes: true});
    input.value = value;
    input.dispatchEvent(new Event("input", {bubbles: true}));
})"""


def maps(browser: Any, address: str, times: int) -> tuple[list[float], list[float]]:
    """Return ms from a move of the speed to the first cells of the tension map, and to the whole of it."""
    page = new_page(browser)
    page.goto(address)
    page.locator(f"coil-panel[name={MAP}]").scroll_into_view_if_needed()
    page.wait_for_function("globalThis.readyAt", timeout=WAIT)
    whole = """(name) => {
        const said = document.querySelector(`coil-panel[name=${name}]`)?.shadowRoot?.querySelector("figure.map > p");
        return said?.hidden && coilHost.pool?.workers; }"""
    page.wait_for_function(whole, arg=MAP, timeout=WAIT)
    found = [page.evaluate(FILL, [MAP, 400 + 25 * number]) for number in range(times)]
    return [first for first, _ in found], [last for _, last in found]


def new_page(browser: Any) -> Any:
    """Return a page with an empty profile, tall enough for the panel to be near from the start."""
    context = browser.new_context(viewport={"width": 1280, "height": 1600})
    context.add_init_script(LISTEN)
    return context.new_page()


Starts = list[tuple[float, float]]


def starts(launch: Any, address: str, times: int) -> tuple[Starts, Starts]:
    """Return (cold, again) starts in ms, to the first picture and to the model, each in a browser process of its own."""
    cold, again = [], []
    for _ in range(times):
        browser = launch()
        page = new_page(browser)
        cold.append(first_picture(page, address))
        again.append(first_picture(page, address))
        browser.close()
    return cold, again


def key_presses(page: Any, presses: int) -> tuple[list[float], list[float]]:
    """Press arrow keys on the panel's first slider; return ms to the quick picture and to the whole one, of each press."""
    slider = page.locator(f"coil-panel[name={PANEL}] input[type=range]").first
    slider.focus()
    quick: list[float] = []
    whole: list[float] = []
    for press in range(presses):
        page.evaluate("paintings.length = 0")
        slider.press("ArrowLeft" if press % 10 < 5 else "ArrowRight")
        page.wait_for_function("paintings.some((each) => each.whole && each.ms !== null)", timeout=WAIT)
        for painting in page.evaluate("paintings.filter((each) => each.ms !== null)"):
            (whole if painting["whole"] else quick).append(painting["ms"])
    return quick, whole


def drag(page: Any, moves: int = 60) -> tuple[list[float], int]:
    """Drag the first slider over half its length; return the ms that changes waited for a picture, and how many were painted."""
    slider = page.locator(f"coil-panel[name={PANEL}] input[type=range]").first
    box = slider.bounding_box()
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.25 * box["width"], middle)
    page.mouse.down()
    page.wait_for_timeout(1000)
    page.evaluate("paintings.length = 0")
    for move in range(moves):
        page.mouse.move(box["x"] + (0.25 + 0.5 * move / moves) * box["width"], middle)
        page.wait_for_timeout(1000 / 60)
    page.mouse.up()
    page.wait_for_timeout(1500)
    painted = [painting["waited"] for painting in page.evaluate("paintings") if not painting["whole"]]
    return painted, len(painted)


def sizes(html: Path) -> list[Row]:
    """Return the rows of what is fetched."""
    page, start = weigh.weight(weigh.page_files(html / START)), weigh.weight(weigh.live_start(html))
    live = next((html / "_static").glob("live/*"))
    touch = weigh.weight([live / "page.js", live / "face.js", live / early.name_of(LIGHT)])
    beforehand = weigh.weight(list(live.glob(early.name_of("*"))))
    kernel = weigh.weight([live / "kernel.wasm", live / "kernel.js"])

    def text(pair: tuple[int, int]) -> str:
        return f"{pair[0] / 1e6:.2f} MB as stored, {pair[1] / 1e6:.2f} MB gzipped"

    return [
        Row("start page and all it loads", text(page), "< 1 MB", page[0] >= 1e6),
        Row("more for its first touch: face and pictures made at build", text(touch)),
        Row("live start, once, the pictures of all panels with it", text(start), "< 8 MB gzipped", start[1] >= 8e6),
        Row("of that the pictures made at build", text(beforehand)),
        Row("of that the compiled kernel", text(kernel)),
    ]


def timings(html: Path, chromium: str, times: int, presses: int) -> list[Row]:
    """Return the rows of what takes time."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver, served(html) as site:
        def launch() -> Any:
            return driver.chromium.launch(executable_path=chromium, args=FLAGS)

        touches = first_touches(launch, site + START, times)
        cold, again = starts(launch, site + LESSON, times)
        from_file, _ = starts(launch, (html / LESSON).as_uri(), times)
        browser = launch()
        page = new_page(browser)
        first_picture(page, site + LESSON)
        quick, whole = key_presses(page, presses)
        waited, pictures = drag(page)
        first, last = maps(browser, site + MAPS, times)
        browser.close()

    def spread(values: Sequence[float]) -> str:
        return f"median {statistics.median(values):.0f}, p95 {p95(values):.0f} ms"

    def picture(found: Starts) -> list[float]:
        return [painted for painted, _ in found]

    def ready(found: Starts) -> list[float]:
        return [model for _, model in found]

    moving = quick or whole
    return [
        Row(f"first touch without the model, {times} browsers", spread(touches), "< 300 ms", statistics.median(touches) >= 300),
        Row(f"cold start to the first picture, {times} browsers", spread(picture(cold))),
        Row("cold start to the live model", spread(ready(cold)), "< 3 s", statistics.median(ready(cold)) >= 3000),
        Row("again in the same browser, to the live model", spread(ready(again))),
        Row("cold start from a double click, to the live model", spread(ready(from_file))),
        Row(f"key to painted, {len(moving)} presses", spread(moving), "p95 < 33 ms", p95(moving) >= 33),
        Row("key to the whole picture, at rest", spread(whole)),
        Row(f"drag of 60 moves, {pictures} pictures: a change waited", spread(waited)),
        Row("a map of 41 x 41 settings, 8 pulses each: its first cells", spread(first), "0.1 s", statistics.median(first) >= 100),
        Row("the whole of it", spread(last), "< 4 s", statistics.median(last) >= 4000),
    ]


def kernels(turns: int) -> list[Row]:
    """Return the rows of the compiled kernel against numba's, as ratios, which a busy machine leaves as they are."""
    return [Row(row.what, f"{row.ours}; {row.peer}; {row.ratio}", row.goal, row.met is False)
            for row in benchmark.compiled_for_pages(turns)]


def main() -> int:
    """Measure, print the table, return 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--site", type=Path, default=HTML, help="a built book (book/_build/html, built where it is absent)")
    parser.add_argument("--starts", type=int, default=5, help="how many cold starts, first touches and maps (5)")
    parser.add_argument("--presses", type=int, default=50, help="how many key presses (50)")
    parser.add_argument("--bare", action="store_true", help="the panels on pages by themselves, without a built book")
    parser.add_argument("--turns", type=int, default=9, help="how many turns of the kernel against numba's (9)")
    options = parser.parse_args()
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if chromium is None:
        print("Chromium is not on this machine; on Debian: apt-get install chromium", file=sys.stderr)
        return 2
    if not options.bare and not (options.site / LESSON).is_file():
        subprocess.run([sys.executable, str(ROOT / "book/build.py")], check=True)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "book"
        if options.bare:
            bare.write(copy, ((START, LIGHT, True), (LESSON, PANEL, False), (MAPS, MAP, False)))
        else:
            shutil.copytree(options.site, copy)  # a build meanwhile changes nothing here
        rows = [*kernels(options.turns), *timings(copy, chromium, options.starts, options.presses), *sizes(copy)]
    version = subprocess.run([chromium, "--version"], capture_output=True, text=True, check=False).stdout.strip()
    print(f"{version}; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {platform.system()}\n")
    print("| what | measured | goal |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {row.what} | {row.measured} | {row.goal}{' **missed**' if row.missed else ''} |")
    return int(any(row.missed for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
