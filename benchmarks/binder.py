"""Proof of `.binder/`: `python benchmarks/binder.py` does what Binder would do with the committed files, and uses the outcome.

The steps are those of the build file that `jupyter-repo2docker --no-build` prints, in an empty folder and a new virtual
environment: the committed files are copied, .binder/requirements.txt is installed, .binder/postBuild is run, and .binder/start
starts the image's own command. Then, in Chromium: where the session opens, one lesson run from top to bottom, a panel moved by
key and by mouse, an exercise answered wrongly and rightly, and whether the kernel had to compile anything.

Needs a network, Chromium and the packages of the tests; takes some minutes. Ends with status 1 where something is not so.
`--python` names the interpreter (.binder/runtime.txt says which version Binder takes); `--keep FOLDER` keeps what was made.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shutil
import statistics
import subprocess
import sys
import tarfile
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

LESSON = "lessons/05_cushion_spring.ipynb"
COMMAND = ("jupyter", "notebook", "--ip", "0.0.0.0")  # the last line of the build file
KEPT = "__import__('coilmodel.light').light.kept_at(__import__('coilmodel.kernel').kernel.advance)"
UP = "__import__('time').time() - __import__('psutil').Process().create_time()"
ASK_KERNEL = """async (expressions) => {
    const kernel = globalThis.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    const reply = await kernel.requestExecute({code: "", user_expressions: expressions}).done;
    return Object.fromEntries(Object.entries(reply.content.user_expressions).map(([name, {data}]) => [name, data["text/plain"]]));
}"""
PRESSES = 30


def say(text: str) -> None:
    """Print one line at once."""
    print(text, flush=True)


@contextlib.contextmanager
def step(words: str) -> Any:
    """Print how long a step took."""
    begun = time.monotonic()
    yield
    say(f"  {words}: {time.monotonic() - begun:.1f} s")


def copy_committed(home: Path) -> None:
    """Unpack the committed files into `home`."""
    packed = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True, capture_output=True).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(home, filter="data")


def build(python: str, home: Path, venv: Path) -> dict[str, str]:
    """Make the environment and run the build's steps in `home`; return the variables of a session."""
    subprocess.run([python, "-m", "venv", str(venv)], check=True)
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV", "NUMBA_"))}
    session = kept | {"PATH": f"{venv / 'bin'}{os.pathsep}{os.environ['PATH']}", "HOME": str(home), "PYTHONUNBUFFERED": "1"}

    def run(*command: str) -> None:
        subprocess.run(command, cwd=home, env=session, check=True, stdout=subprocess.DEVNULL)

    with step("pip install -r .binder/requirements.txt"):
        run(str(venv / "bin/pip"), "install", "--quiet", "-r", ".binder/requirements.txt")
    with step(".binder/postBuild"):
        run("chmod", "+x", ".binder/postBuild", ".binder/start")
        run("./.binder/postBuild")
    return session


def use(home: Path, session: dict[str, str], chromium: str) -> None:
    """Start the session's server and work in it; AssertionError where something is not as it should be."""
    from playwright.sync_api import sync_playwright

    from lessons.engine import Engine
    from tests.book import lab
    from tests.book.browsing import assert_wrong_and_right, moved_by_key_and_by_mouse, press
    from tests.book.conftest import ALONE

    flags = [flag for flag in ALONE if not flag.startswith("--js-flags")]  # its seconds are those of Chromium as people have it
    begun = time.monotonic()
    settings = Path(tempfile.mkdtemp())
    with lab.started([".binder/start", *COMMAND], settings, session, home) as address, sync_playwright() as driver:
        say(f"  server up: {time.monotonic() - begun:.1f} s")
        page = driver.chromium.launch(executable_path=chromium, args=flags).new_page()
        page.goto(address)
        page.wait_for_url("**/lab/tree/lessons/00_*.ipynb**")
        page.wait_for_function(lab.READY, timeout=60_000)
        say(f"  opens at: /{page.url.removeprefix(address)}")
        begun = time.monotonic()
        lab.opened(page, address, LESSON)
        say(f"  {LESSON} opened and run whole: {time.monotonic() - begun:.1f} s")
        found = page.evaluate(ASK_KERNEL, {"age": f"__import__('time').time() - {KEPT}.stat().st_mtime", "up": UP})
        say(f"  the compiled kernel is {float(found['age']):.0f} s old, the notebook's kernel {float(found['up']):.0f} s")
        assert float(found["age"]) > float(found["up"]), "the kernel compiles although the build did"
        panels, exercises = (lab.cells_showing(home / LESSON, what) for what in ("panel", "exercise"))
        panel = lab.brought(page, "coil-panel[name=cushion]", panels["cushion"])
        moved_by_key_and_by_mouse(panel, Engine())
        panel.evaluate("(panel) => panel.addEventListener('coil-painted', ({detail}) => (panel.took ??= []).push(detail))")
        for count in range(PRESSES):
            press(panel, 0, "ArrowLeft" if count % 10 < 5 else "ArrowRight")
        took = [each["ms"] for each in panel.evaluate("(panel) => panel.took") if not each["whole"]]
        say(f"  key to painted, {len(took)} presses: median {statistics.median(took):.0f} ms, longest {max(took):.0f} ms")
        key, cell = next(iter(exercises.items()))
        assert_wrong_and_right(lab.brought(page, f"coil-exercise[key='{key}']", cell), Engine())
        say(f"  a panel moved by key and mouse with the native readings; {key} answered wrongly and rightly")
    shutil.rmtree(settings)


def prompt_connection(home: Path, session: dict[str, str]) -> bool:
    """Say whether the server's configuration has the connection that sends each picture at once."""
    shown = subprocess.run([".binder/start", *COMMAND, "--show-config"], cwd=home, env=session, capture_output=True, text=True)
    return "PromptConnection" in shown.stdout


def main() -> int:
    """Do it all; return 1 where something is not so."""
    wanted = (ROOT / ".binder/runtime.txt").read_text(encoding="utf-8").strip()
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--python", default=shutil.which(wanted.replace("-", "")), help=f"an interpreter for {wanted}")
    reader.add_argument("--keep", type=Path, metavar="FOLDER", help="make it there, and leave it")
    options = reader.parse_args()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if not (options.python and chromium):
        say(f"This needs Chromium and an interpreter for {wanted} (--python).")
        return 2
    place = options.keep or Path(tempfile.mkdtemp())
    home, venv = place / "home", place / "environment"
    home.mkdir(parents=True)
    version = subprocess.run([options.python, "--version"], capture_output=True, text=True).stdout.strip()
    say(f"{version}, load {os.getloadavg()[0]:.1f}, in {place}")
    try:
        copy_committed(home)
        session = build(options.python, home, venv)
        say(f"  sends pictures at once: {'yes' if prompt_connection(home, session) else 'NO'}")
        use(home, session, chromium)
    except (AssertionError, subprocess.CalledProcessError) as error:
        say(f"Not as it should be: {error}")
        return 1
    finally:
        if not options.keep:
            shutil.rmtree(place)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
