"""The book in Chromium: `python benchmarks/browser.py` prints how fast a page comes alive and how fast a slider answers.

    cold start       from opening the page in a browser with an empty profile to the first live picture painted
    again            the same page opened anew in that browser, which now has the files
    key to painted   from the slider's input event to the picture painted, 50 key presses on the first slider, each after the
                     last one was answered: the quick picture of a moving slider, and the whole one of a slider at rest
    drag             60 mouse moves at 60 a second: how long a change waited for its picture, and how many pictures there were

The book is built first unless it is there (`--site FOLDER` takes another). Times are those of the page's own clock; they
depend on the machine and on what else it does, so the load is printed too. The goals are those of the project's plan; the
command ends with status 1 if one is missed.
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

from book.making import weigh  # noqa: E402
from book.making.places import HTML  # noqa: E402

LESSON, PANEL = "lessons/05_cushion_spring.html", "cushion"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run",
]
LISTEN = """
globalThis.paintings = [];
document.addEventListener("coil-painted", ({detail}) => paintings.push({...detail, seen: performance.now()}));
"""
WAIT = 60_000  # ms


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


def first_picture(page: Any, address: str) -> float:
    """Open `address`; return when, in ms since it began to open, the panel's first picture was painted."""
    page.goto(address, wait_until="commit")
    page.wait_for_function("(name) => globalThis.paintings?.some((each) => each.name === name)", arg=PANEL, timeout=WAIT)
    return float(page.evaluate("(name) => paintings.find((each) => each.name === name).seen", PANEL))


def new_page(browser: Any) -> Any:
    """Return a page with an empty profile, tall enough for the panel to be near from the start."""
    context = browser.new_context(viewport={"width": 1280, "height": 1600})
    context.add_init_script(LISTEN)
    return context.new_page()


def starts(launch: Any, address: str, times: int) -> tuple[list[float], list[float]]:
    """Return (cold, again) starts in ms, each in a browser process of its own."""
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
        page.wait_for_function("paintings.some((each) => each.whole)", timeout=WAIT)
        for painting in page.evaluate("paintings"):
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
    page, start = weigh.weight(weigh.page_files(html / "index.html")), weigh.weight(weigh.live_start(html))

    def text(pair: tuple[int, int]) -> str:
        return f"{pair[0] / 1e6:.2f} MB as stored, {pair[1] / 1e6:.2f} MB gzipped"

    return [
        Row("start page and all it loads", text(page), "< 1 MB", page[0] >= 1e6),
        Row("live start, once", text(start), "< 8 MB gzipped", start[1] >= 8e6),
    ]


def timings(html: Path, chromium: str, times: int, presses: int) -> list[Row]:
    """Return the rows of what takes time."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver, served(html) as site:
        def launch() -> Any:
            return driver.chromium.launch(executable_path=chromium, args=FLAGS)

        cold, again = starts(launch, site + LESSON, times)
        from_file, _ = starts(launch, (html / LESSON).as_uri(), times)
        browser = launch()
        page = new_page(browser)
        first_picture(page, site + LESSON)
        quick, whole = key_presses(page, presses)
        waited, pictures = drag(page)
        browser.close()

    def spread(values: Sequence[float]) -> str:
        return f"median {statistics.median(values):.0f}, p95 {p95(values):.0f} ms"

    moving = quick or whole
    return [
        Row(f"cold start, {times} browsers", spread(cold), "< 5 s", statistics.median(cold) >= 5000),
        Row("again in the same browser", spread(again)),
        Row("cold start from a double click", spread(from_file)),
        Row(f"key to painted, {len(moving)} presses", spread(moving), "p95 < 50 ms", p95(moving) >= 50),
        Row("key to the whole picture, at rest", spread(whole)),
        Row(f"drag of 60 moves, {pictures} pictures: a change waited", spread(waited)),
    ]


def main() -> int:
    """Measure, print the table, return 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--site", type=Path, default=HTML, help="a built book (book/_build/html, built where it is absent)")
    parser.add_argument("--starts", type=int, default=5, help="how many cold starts (5)")
    parser.add_argument("--presses", type=int, default=50, help="how many key presses (50)")
    options = parser.parse_args()
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if chromium is None:
        print("Chromium is not on this machine; on Debian: apt-get install chromium", file=sys.stderr)
        return 2
    if not (options.site / LESSON).is_file():
        subprocess.run([sys.executable, str(ROOT / "book/build.py")], check=True)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(shutil.copytree(options.site, Path(folder) / "book"))  # a build meanwhile changes nothing here
        rows = [*timings(copy, chromium, options.starts, options.presses), *sizes(copy)]
    version = subprocess.run([chromium, "--version"], capture_output=True, text=True, check=False).stdout.strip()
    print(f"{version}; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {platform.system()}\n")
    print("| what | measured | goal |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {row.what} | {row.measured} | {row.goal}{' **missed**' if row.missed else ''} |")
    return int(any(row.missed for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
