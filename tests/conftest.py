"""What any test may ask for: the programs that pip cannot bring, and examples that are the same in every run.

A test that needs one of these programs takes its fixture (which gives the program's path). Where the program is absent
the test is skipped, saying how to get it. With CI=true it fails instead, and so does every other skip: in CI a test that
did not run would look like one that passed.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

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


WAITING = Path(__file__).with_name("waiting.txt")
SLOW = Path(__file__).with_name("slow.txt")
BROWSES = {"need_chromium", "html"}  # the fixtures on which all tests rest that need a browser, or the built book


def _lines(path: Path) -> list[str]:
    lines = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say which tests go to one worker together, mark those that slow.txt names, and what is known to fail (see waiting.txt).

    The tests of a file stay together, so that a module's fixtures are made once. So do all that need a browser: the book is built
    once, and no page has to share the processors with another.
    Each line of waiting.txt is the beginning of a test's address. The list is a debt: a line goes as soon as its tests pass.
    """
    waiting, slow = tuple(_lines(WAITING)), set(_lines(SLOW))
    for item in items:
        browses = BROWSES.intersection(getattr(item, "fixturenames", ()))
        item.add_marker(pytest.mark.xdist_group("the browser" if browses else item.nodeid.partition("::")[0]))
        if item.nodeid.partition("[")[0] in slow:
            item.add_marker(pytest.mark.slow)
        if waiting and item.nodeid.startswith(waiting):
            item.add_marker(pytest.mark.xfail(reason="waits for the new nominal machine (tests/waiting.txt)", strict=False))


@pytest.fixture(scope="session")
def need_chromium() -> str:
    """Path of Chromium. Start it headless, with an empty profile, and without its background requests."""
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
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        yield driver


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
    return report
