"""The kernel compiled for pages (WebAssembly), timed in Node and in Chromium against numba's, turn about in one run."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from measure import Row, spread

from coilmodel.translate.page import page_module

HERE = Path(__file__).resolve().parent
KERNEL_JS = HERE.parent / "book" / "live" / "kernel.js"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--no-first-run"]
GOAL = 1.3
WARM = 4  # turns that are dropped: a browser compiles what is called often once more, and better

IN_CHROMIUM = """async ({code, module, numbers, sizes, runs}) => {
    globalThis.kernel ??= (await import(code)).kernelFrom(Uint8Array.from(atob(module), (letter) => letter.charCodeAt(0)));
    const { run } = await kernel;
    for (let turn = 0; turn < runs; turn++) {
        run("advance", Float64Array.from(numbers), ...sizes.map((size) => new Float64Array(size)));
    }
}"""

Timed = Callable[[], float]


@contextmanager
def in_node(numbers: Sequence[float], sizes: Sequence[int], runs: int) -> Iterator[Timed]:
    """Yield what lets Node do so many runs, and returns the processor seconds they took."""
    with tempfile.TemporaryDirectory() as folder:
        module = Path(folder) / "kernel.wasm"
        module.write_bytes(page_module())
        node = subprocess.Popen(["node", str(HERE / "kernel_in_page.mjs"), str(KERNEL_JS), str(module)], text=True,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        assert node.stdin is not None
        assert node.stdout is not None
        line = json.dumps({"numbers": list(numbers), "sizes": list(sizes), "runs": runs})

        def turn() -> float:
            print(line, file=node.stdin, flush=True)
            return float(node.stdout.readline())  # type: ignore[union-attr]

        yield turn
        node.stdin.close()
        node.wait()


@contextmanager
def in_chromium(numbers: Sequence[float], sizes: Sequence[int], runs: int) -> Iterator[Timed]:
    """Yield what lets Chromium do so many runs, and returns the processor seconds that its page's process took."""
    from playwright.sync_api import sync_playwright

    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))))
    given = {"code": f"data:text/javascript;base64,{base64.b64encode(KERNEL_JS.read_bytes()).decode()}",
             "module": base64.b64encode(page_module()).decode(), "numbers": list(numbers), "sizes": list(sizes), "runs": runs}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=FLAGS)
        page, devtools = browser.new_page(), browser.new_browser_cdp_session()

        def processor() -> float:
            processes: list[dict[str, Any]] = devtools.send("SystemInfo.getProcessInfo")["processInfo"]
            return sum(float(one["cpuTime"]) for one in processes if one["type"] == "renderer")  # the browser's own pages idle

        def turn() -> float:
            before = processor()
            page.evaluate(IN_CHROMIUM, given)
            return processor() - before

        yield turn
        browser.close()


def against_numba(repeats: int, native: Callable[[], Any], numbers: Sequence[float], sizes: Sequence[int], pulses: int,
                  runs: int) -> list[Row]:
    """Return a row for each of Node and Chromium that is here.

    native: does in this process what a page does `runs` times, of `pulses` each, from `numbers` into buffers of `sizes` floats.
    """
    homes: dict[str, Any] = {}
    if shutil.which("node"):
        homes["Node"] = in_node
    if any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        homes["Chromium"] = in_chromium
    rows = []
    for name, home in homes.items():
        ours: list[float] = []
        theirs: list[float] = []
        with ExitStack() as stack:
            turn = stack.enter_context(home(numbers, sizes, runs))
            for number in range(repeats + WARM):
                page = turn()
                begun = time.process_time()
                native()
                numba = time.process_time() - begun
                if number >= WARM:
                    ours.append(page)
                    theirs.append(numba)
        slower = spread([mine / other for mine, other in zip(ours, theirs, strict=True)])
        each = 1e3 / (pulses * runs)
        rows.append(Row(f"one pulse, the kernel as WebAssembly in {name} against numba's here",
                        f"{spread(ours).text('.3g', each)} ms", f"numba: {spread(theirs).text('.3g', each)} ms",
                        f"{slower.text('.2f')}x the time of numba", f"within {GOAL}x of numba", slower.median <= GOAL))
    return rows
