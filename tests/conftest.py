"""What any test may ask for: the programs that pip cannot bring, and examples that are the same in every run.

A test that needs one of these programs takes its fixture (which gives the program's path). Where the program is absent
the test is skipped, saying how to get it. With CI=true it fails instead, and so does every other skip: in CI a test that
did not run would look like one that passed.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections import defaultdict
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

# One processor a test: the threads of the linear algebra, one a core, wait for each other, and busily. Said before numpy comes.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The same examples every time (a test that fails now and then is broken), and no deadline (CI machines stutter).
settings.register_profile("course", derandomize=True, deadline=None)
settings.load_profile("course")


def in_ci() -> bool:
    """Say whether this is a CI run, where nothing may be skipped."""
    return os.environ.get("CI", "").lower() in ("true", "1")


def need(what: str, package: str, *programs: str) -> str:
    """Return the path of the first of `programs` there is; else skip the test (fail it in CI), saying how to get `what`."""
    for program in programs:
        path = shutil.which(program)
        if path:
            return path
    sentence = f"This test needs {what}, which is not on this machine; on Debian: apt-get install {package}."
    if in_ci():
        pytest.fail(sentence, pytrace=False)
    pytest.skip(sentence)


ROOT = Path(__file__).resolve().parents[1]
SLOW = Path(__file__).with_name("slow.txt")


def _lines(path: Path) -> list[str]:
    lines = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark those that slow.txt names and those that wait for the book; where several run at once, the longest come first."""
    slow = set(_lines(SLOW))
    for item in items:
        if item.nodeid.partition("[")[0] in slow:
            item.add_marker(pytest.mark.slow)
        if BUILT & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.timeout(TIMEOUT, func_only=True))
    if hasattr(config, "workerinput"):  # pytest-xdist hands out whole groups in the order of their first tests
        lasts: dict[str, float] = defaultdict(float)
        for item in items:
            lasts[together(item.nodeid)] += next((each for mark, each in SECONDS.items() if item.get_closest_marker(mark)), 0.05)
        lasts.update((name, seconds) for name, seconds in LONG.items() if name in lasts)
        lasts.update((name, 12.0) for name in lasts if name.startswith(BY_ITSELF))
        items.sort(key=lambda item: (-lasts[name := together(item.nodeid)], name, item.path))


BUILT = {"html"}
"""Fixtures that take many minutes for whoever asks first, and have a limit of their own."""
TIMEOUT = 600  # s, as pyproject.toml says it for all; here without the time of the fixtures

JUPYTERLAB = "JupyterLab"
SECONDS = {"slow": 2.0, "browser": 1.0}
"""About how long a test of such a mark takes, to begin with the longest groups: else one worker ends long after the others."""
LONG = {
    "JupyterLab": 220.0, "tests/lessons/test_face_view.py": 150.0, "tests/model/test_study_cluster.py": 100.0,
    "tests/book/test_talk.py": 84.0, "tests/book/test_lesson.py": 75.0, "tests/lessons/test_exercises.py": 59.0,
    "tests/book/test_failures.py": 52.0, "tests/book/test_offline.py": 47.0, "tests/model/test_reference.py": 45.0,
    "tests/lessons/test_bench_capture.py": 42.0, "tests/book/test_bench_page.py": 40.0,
    "tests/lessons/test_exercises_by_luck.py": 35.0, "tests/lessons/test_bench_judge.py": 35.0, "tests/test_frame_tools.py": 35.0,
    "tests/book/test_early.py": 34.0, "tests/book/test_address.py": 33.0, "tests/lessons/test_bench_cards.py": 31.0,
    "tests/lessons/test_bench_four.py": 29.0, "tests/book/test_pool.py": 29.0, "tests/lessons/test_face.py": 28.0,
    "tests/model/test_study.py": 27.0, "tests/model/test_bad_input_machines.py": 27.0,
}
"""What the longest groups take, in seconds of a processor as measured. A figure that is no longer so costs balance alone."""
BY_ITSELF = "tests/book/test_every_panel.py::test_in_the_book["
"""Tests that share nothing with the others of their file, and take long: each is a group of its own."""


def together(nodeid: str) -> str:
    """Return the name under which tests go to one worker, when several run at once: their file, but for two exceptions.

    All that needs JupyterLab goes together, for a page of it is long to load, and a test of every panel goes by itself.
    """
    if nodeid.startswith(BY_ITSELF):
        return nodeid
    path = nodeid.partition("::")[0]
    return JUPYTERLAB if "tests/book/" in path and "jupyterlab" in nodeid else path


def needs_the_book(group: str) -> bool:
    """Say whether a group waits for the built book, which one worker makes while the others do what needs none."""
    return "tests/book/" in group


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Hand out the tests by `together` (pytest-xdist's own groups do not reach the controller with this pytest).

    The first worker begins with the book, the others with what does not need it; once it is built, the longest goes first.
    """
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            return together(nodeid)

        def _assign_work_unit(self, node: Any) -> None:
            """Give a worker the longest group that need not wait for the book, if there is one."""
            begun = [done for given in self.assigned_work.values() for name, unit in given.items() if needs_the_book(name)
                     for done in unit.values()]
            if not any(begun):
                wanted = next((name for name in self.workqueue if needs_the_book(name) is not bool(begun)), None)
                if wanted:
                    self.workqueue.move_to_end(wanted, last=False)
            super()._assign_work_unit(node)

        def remove_node(self, node: Any) -> Any:
            """Hand on what a worker that is gone had in hand, but for the test that it died of, which would end the next one too.

            pytest-xdist's own also hands on groups that were done, and whoever gets one of them waits for ever.
            """
            left = {name: {nodeid: False for nodeid, done in unit.items() if not done}
                    for name, unit in self.assigned_work.pop(node).items()}
            left = {name: unit for name, unit in left.items() if unit}
            died_of = next((nodeid for unit in left.values() for nodeid in unit), None)
            if died_of is None:
                return None
            del left[together(died_of)][died_of]
            self.workqueue.update({name: unit for name, unit in left.items() if unit})
            for other in self.assigned_work:
                self._reschedule(other)
            return died_of

        def _reschedule(self, node: Any) -> None:
            """Give a worker more: it does what it has once it knows what comes next, be it the end."""
            super()._reschedule(node)
            while not node.shutting_down and self._pending_of(self.assigned_work[node]) < 2:
                super()._reschedule(node)

    if config.getvalue("dist") != "loadscope":
        return None
    config.option.loadscopereorder = False  # the workers put them in order
    return Together(config, log)


@pytest.fixture(scope="session")
def need_chromium() -> str:
    """Path of Chromium. Start it headless, with an empty profile, and without its background requests.

    The build that has no windows comes first, where it is: the same engine, and a third of a processor's time less.
    """
    return need("Chromium", "chromium", "chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def need_whole_chromium() -> str:
    """Path of the Chromium that people use, for what the build without windows does otherwise."""
    return need("Chromium", "chromium", "chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def need_ngspice() -> str:
    """Path of ngspice, the circuit simulator that the electrical part is held against."""
    return need("ngspice", "ngspice", "ngspice")


@pytest.fixture(scope="session")
def need_gcc() -> str:
    """Path of a C compiler, for the benchmark's reference loop."""
    return need("a C compiler", "gcc libc6-dev", "gcc", "cc")


@pytest.fixture(scope="session")
def need_node() -> str:
    """Path of Node, in which what is compiled for the book's pages is tried."""
    return need("Node.js", "nodejs", "node")


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Any]:
    """The one browser driver of a run: a second one beside it in the same process refuses to start."""
    from playwright.sync_api import Page, sync_playwright

    with pytest.MonkeyPatch.context() as patch, sync_playwright() as driver:
        patch.setattr(Page, "close", surely_closed(Page.close))
        yield driver


def surely_closed(close: Any) -> Any:
    """Return `close` (that of a browser's page), asked for again until the page is closed.

    Chromium says yes and leaves a page open where the wish meets a navigation, if only to another #part of the page, and the
    driver then waits for ever (microsoft/playwright, issue 42366). tests/test_frame_ci.py makes it happen.
    """
    from playwright.sync_api import TimeoutError as Late

    def closed(page: Any) -> None:
        for _ in range(20):
            with contextlib.suppress(Late), page.expect_event("close", timeout=3000):
                close(page, run_before_unload=True)  # which does not wait
            if page.is_closed():
                return
        raise AssertionError(f"{page.url} does not close")

    return closed


def _no_skip_in_ci(report: pytest.TestReport | pytest.CollectReport) -> None:
    if in_ci() and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        report.outcome = "failed"
        report.longrepr = f"In CI no test may be skipped, and this one was. {reason}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    _no_skip_in_ci(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    _no_skip_in_ci(report)
    if from_the_end(collector.config) and isinstance(collector, pytest.Dir) and report.result:
        report.result.reverse()
    return report


def from_the_end(config: pytest.Config) -> bool:
    """Say whether this worker reads the tests' files from the last to the first, as every second one does.

    Each worker has to read them all, and what pytest makes of a file's assertions is kept, so each makes half of it.
    """
    name = getattr(config, "workerinput", {}).get("workerid", "gw0")
    return int(name.removeprefix("gw")) % 2 == 1
