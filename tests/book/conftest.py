"""The book, built once and copied elsewhere, served below the root of a site, and a browser that can reach nothing else."""

from __future__ import annotations

import contextlib
import functools
import http.server
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import locket  # type: ignore[import-untyped]
import pytest

from .browsing import FLAGS, ROOT, Profile, Visit

ALONE = (*FLAGS, "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1")


@pytest.fixture(scope="session")
def html(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built book, copied into a folder with a space in its name: nothing in it may depend on where it was made.

    Where several run at once, one of them builds it for all; nobody writes into it.
    """
    own = tmp_path_factory.getbasetemp()
    return built_once((own.parent if hasattr(request.config, "workerinput") else own) / "a stick")


def built_once(stick: Path) -> Path:
    """Return the book in the folder `stick`, built and copied if it is not there; if it can't be built, say again why not.

    Who comes meanwhile waits, and if a builder dies the next one builds. Of the proof only the quick groups are run for its
    page: the whole of it is run by the model's own tests.
    """
    book, told = stick / "book", stick.with_suffix(".txt")
    with locket.lock_file(str(stick.with_suffix(".lock"))):
        if not told.is_file():
            command = [sys.executable, str(ROOT / "book/build.py"), "--proof", "closed", "phenomena"]
            done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=1800)
            if done.returncode == 0:
                shutil.copytree(ROOT / "book/_build/html", book, dirs_exist_ok=True)
            told.write_text(done.stdout + done.stderr, encoding="utf-8")
    assert book.is_dir(), told.read_text(encoding="utf-8")
    return book


class Quiet(http.server.SimpleHTTPRequestHandler):
    """Python's own file server, without its log."""

    def log_message(self, format: str, *args: object) -> None:
        pass


class Patient(http.server.ThreadingHTTPServer):
    """A server that says nothing of a page that was closed before it had everything."""

    def handle_error(self, request: Any, client_address: Any) -> None:
        if not isinstance(sys.exc_info()[1], ConnectionError):
            super().handle_error(request, client_address)


@contextlib.contextmanager
def served(folder: Path, port: int = 0) -> Iterator[str]:
    """Serve `folder` to this machine; yield the address."""
    with Patient(("127.0.0.1", port), functools.partial(Quiet, directory=str(folder))) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()


@pytest.fixture(scope="session")
def site(html: Path) -> Iterator[str]:
    """The address of the book, served from a sub-path as on a shared host."""
    with served(html.parent) as address:
        yield f"{address}book/"


@pytest.fixture(scope="session")
def small_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of two bare pages with the book's live parts, which need no building of the book.

    start.html waits for the first touch; panels.html has a panel of many settings.
    """
    from book.making import bare

    folder = tmp_path_factory.mktemp("small")
    bare.write(folder, (("start.html", "first_look", True), ("panels.html", "cushion", False)))
    with served(folder) as address:
        yield address


@pytest.fixture(scope="session")
def chromium(need_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    """A headless Chromium that resolves no host but this machine."""
    browser = playwright_driver.chromium.launch(executable_path=need_chromium, args=list(ALONE))
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def whole_chromium(need_whole_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    """The same with its windows, for what the build without them lacks: a page as an app, and two windows at a time."""
    browser = playwright_driver.chromium.launch(executable_path=need_whole_chromium, args=list(ALONE))
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def profile(need_chromium: str, playwright_driver: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Profile]:
    """The one profile for all visits that want nothing special."""
    context = playwright_driver.chromium.launch_persistent_context(
        tmp_path_factory.mktemp("profile"), executable_path=need_chromium, args=list(ALONE), service_workers="block")
    yield Profile(context)
    context.close()


@pytest.fixture
def visit(chromium: Any, site: str, profile: Profile) -> Iterator[Visit]:
    """A fresh profile for one test."""
    one = Visit(chromium, site, profile)
    yield one
    one.end()


@pytest.fixture
def small(chromium: Any, small_site: str, profile: Profile) -> Iterator[Visit]:
    """A fresh profile for one test, on the bare pages."""
    one = Visit(chromium, small_site, profile)
    yield one
    one.end()


@pytest.fixture(scope="module")
def lesson(chromium: Any, site: str) -> Iterator[Any]:
    """One live lesson page for the tests that only use it; starting one takes seconds."""
    one = Visit(chromium, site)
    yield one.open()
    one.end()
