"""JupyterLab with every lesson open: `python benchmarks/jupyterlab.py` prints what that takes, and how fast a slider answers.

JupyterLab is started as `course.py learn` starts it. Each lesson is opened in Chromium beside the others, and all its cells
are run; none is closed. Then

    memory           of the server, of its kernels, and of all of them together: PSS (what is shared is charged in shares, so
                     that the sum is what the machine gives) and USS (what would come back if the process ended)
    threads          of a kernel
    run whole        from the command Run All Cells to the last cell's end, with the kernel just started
    saved            size of the notebook's file with its outputs
    key to painted   from the slider's input event to the picture painted, on the first panel of lesson 5 with all the lessons
                     open: the quick picture where the panel has one, and the whole one of a slider at rest

Linux only (memory is read from /proc). The goals are those of the project's plan; status 1 if one is missed. The load is printed,
since times depend on what else the machine does; memory does not.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from browser import FLAGS, LISTEN, Row, p95  # noqa: E402

LESSON, PANEL = "05_cushion_spring.ipynb", "cushion"
MB = 1e6
WAIT = 120_000  # ms
SAVE = "() => globalThis.jupyterapp.commands.execute('docmanager:save').then(() => null)"


@dataclass(frozen=True)
class Process:
    """What one process takes: bytes of PSS and USS, and how many threads."""

    pss: int
    uss: int
    threads: int


def process(pid: int) -> Process:
    """Read what the process takes."""
    sizes = {}
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines()[1:]:
        name, size = line.split()[:2]
        sizes[name.rstrip(":")] = 1024 * int(size)
    threads = len(list(Path(f"/proc/{pid}/task").iterdir()))
    return Process(sizes["Pss"], sizes["Private_Clean"] + sizes["Private_Dirty"], threads)


def descendants(pid: int) -> list[int]:
    """Return the process ids of all that `pid` started, and of what these started."""
    found = [int(child) for task in Path(f"/proc/{pid}/task").iterdir()
             for child in (task / "children").read_text(encoding="ascii").split()]
    return [each for child in found for each in (child, *descendants(child))]


def servers_processes() -> tuple[list[Process], list[Process]]:
    """Return (all but the kernels, the kernels) of the JupyterLab that this process started."""
    rest, kernels = [], []
    for pid in descendants(os.getpid()):
        words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
        if b"ipykernel_launcher" in words:
            kernels.append(process(pid))
        elif any(b"jupyter" in word for word in words[:3]):
            rest.append(process(pid))
    return rest, kernels


def key_presses(page: Any, presses: int) -> tuple[list[float], list[float]]:
    """Press arrow keys on the panel's first slider; return ms to the quick picture and to the whole one, of each press."""
    slider = page.locator(f".jp-Notebook coil-panel[name={PANEL}] input[type=range]").first
    slider.focus()
    quick: list[float] = []
    whole: list[float] = []
    for press in range(presses):
        page.evaluate("paintings.length = 0")
        slider.press("ArrowLeft" if press % 10 < 5 else "ArrowRight")
        page.wait_for_function("paintings.some((each) => each.whole && each.ms !== null)", timeout=WAIT)
        for painting in page.evaluate("paintings"):
            (whole if painting["whole"] else quick).append(painting["ms"])
    return quick, whole


def spread(values: Sequence[float]) -> str:
    """Return median, 95th percentile and longest, in ms."""
    return f"median {statistics.median(values):.0f}, p95 {p95(values):.0f}, longest {max(values):.0f} ms"


def sizes(processes: Sequence[Process]) -> str:
    """Return the sums of PSS and USS in MB."""
    return f"PSS {sum(each.pss for each in processes) / MB:.0f} MB, USS {sum(each.uss for each in processes) / MB:.0f} MB"


def measured(page: Any, address: str, home: Path, names: Sequence[str], presses: int) -> list[Row]:
    """Open and run every lesson, press the keys, and return the table's rows."""
    from tests.book import lab

    took, saved = [], []
    for name in names:
        page.goto(f"{address}lab/tree/{name}?reset")
        page.wait_for_function(lab.READY, timeout=WAIT)
        begun = time.monotonic()
        faults = page.evaluate(lab.RUN_ALL)
        took.append(time.monotonic() - begun)
        assert not faults, f"{name}: {faults}"
        page.evaluate(SAVE)
        saved.append((home / name).stat().st_size)
        print(f"  {name}: run whole in {took[-1]:.1f} s, saved with {saved[-1] / 1e3:.0f} kB", file=sys.stderr, flush=True)
    rest, kernels = servers_processes()
    assert len(kernels) == len(names), f"{len(kernels)} kernels for {len(names)} lessons"
    lab.opened(page, address, LESSON)
    lab.brought(page, f"coil-panel[name={PANEL}]", lab.cells_showing(home / LESSON, "panel")[PANEL])
    quick, whole = key_presses(page, presses)
    everything = sum(each.pss for each in (*rest, *kernels))
    moving = quick or whole
    pss, uss = ([getattr(each, what) / MB for each in kernels] for what in ("pss", "uss"))
    threads = [each.threads for each in kernels]
    return [
        Row(f"{len(kernels)} lessons open, all together", sizes((*rest, *kernels)), "PSS < 1000 MB", everything >= 1e9),
        Row("of this the server", sizes(rest)),
        Row("a kernel", f"PSS {min(pss):.0f} to {max(pss):.0f} MB, USS {min(uss):.0f} to {max(uss):.0f} MB"),
        Row("threads of a kernel", f"{min(threads)} to {max(threads)}"),
        Row("run whole, a lesson", f"median {statistics.median(took):.1f}, longest {max(took):.1f} s"),
        Row("saved, a lesson", f"median {statistics.median(saved) / 1e3:.0f}, largest {max(saved) / 1e3:.0f} kB"),
        Row(f"key to painted, {len(moving)} presses", spread(moving), "p95 < 50 ms", p95(moving) >= 50),
        Row("key to the whole picture, at rest", spread(whole)),
    ]


def main() -> int:
    """Measure, print the table, return 1 where a goal is missed."""
    from playwright.sync_api import sync_playwright

    from tests.book import lab

    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--presses", type=int, default=100, help="how many key presses (100)")
    reader.add_argument("--lessons", type=int, metavar="N", help="open only N lessons, lesson 5 among them")
    options = reader.parse_args()
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if chromium is None or not Path("/proc/self/smaps_rollup").exists():
        print("This needs Chromium (on Debian: apt-get install chromium) and Linux.", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        (home / "lessons").mkdir()
        lessons = lab.lessons_in(home / "lessons")
        names = sorted(path.name for path in lessons.glob("[0-9]*.ipynb"))
        with lab.learning(home, lessons) as address, sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=chromium, args=FLAGS)
            context = browser.new_context(viewport={"width": 1280, "height": 900})
            context.add_init_script(LISTEN)
            some = [LESSON, *(name for name in names if name != LESSON)][: options.lessons]
            rows = measured(context.new_page(), address, lessons, sorted(some), options.presses)
            context.close()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}\n")
    print("| what | measured | goal |\n| --- | --- | --- |")
    for row in rows:
        print(f"| {row.what} | {row.measured} | {row.goal}{' **missed**' if row.missed else ''} |")
    return int(any(row.missed for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
