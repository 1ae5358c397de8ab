"""The book kept in the browser: opened once, then used without its server; and a new edition in the place of an old one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from book.making import offline
from lessons.engine import Engine

from .browsing import LESSON, LIVE, Visit, assert_wrong_and_right, held_against_native, live, press
from .conftest import served

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NEVER_VISITED, ITS_PANEL = "lessons/01_magneto_current.html", "coil-panel[name=magneto]"
HEADING = "Vibrating-coil ignition"  # of the first page
NEWS = "Everything here was said anew"
CACHES = "caches.keys()"


class Shelf:
    """A copy of the book below a sub-path, and a server for it that can be stopped and started at the same address."""

    def __init__(self, folder: Path, html: Path) -> None:
        self.folder = folder
        self.book = Path(shutil.copytree(html, folder / "a shelf", ignore=shutil.ignore_patterns("carried.js")))
        self.running = ExitStack()
        self.port = 0
        self.start()

    def start(self) -> None:
        self.site = self.running.enter_context(served(self.folder, self.port)) + "a%20shelf/"
        self.port = int(self.site.split(":")[2].split("/")[0])

    def stop(self) -> None:
        self.running.close()

    def new_edition(self) -> None:
        """Add a sentence to the first page, as a build of changed sources would."""
        page = self.book / "index.html"
        page.write_text(page.read_text(encoding="utf-8").replace("</article>", f"<p>{NEWS}</p></article>"), encoding="utf-8")
        offline.write(self.book)


@pytest.fixture
def shelf(tmp_path: Path, html: Path) -> Iterator[Shelf]:
    one = Shelf(tmp_path, html)
    yield one
    one.stop()


@pytest.fixture
def reader(chromium: Any, shelf: Shelf) -> Iterator[Visit]:
    """A fresh profile that keeps what it is given to keep."""
    one = Visit(chromium, shelf.site)
    yield one
    one.end()


def until(page: Any, condition: str, argument: Any = None) -> None:
    """Wait until `condition`, the text of a function whose promise may be awaited, holds."""
    page.evaluate(f"""async (argument) => {{
        const end = performance.now() + {2 * LIVE};
        while (!(await ({condition})(argument))) {{
            if (performance.now() > end) throw new Error("this never came: " + {json.dumps(condition)});
            await new Promise((resolve) => setTimeout(resolve, 50));
        }}
    }}""", argument)


def kept(page: Any, part: str) -> None:
    """Wait until the browser keeps that part of the book whole."""
    until(page, """async (part) => {
        const registration = await navigator.serviceWorker.getRegistration();
        if (registration?.active?.state !== "activated") return false;
        const {port1, port2} = new MessageChannel();
        const answer = new Promise((resolve) => (port1.onmessage = ({data}) => resolve(data[part])));
        registration.active.postMessage({}, [port2]);
        const {kept, of} = await answer;
        return kept === of;
    }""", part)


def test_once_visited_every_lesson_is_alive_without_the_server(reader: Visit, shelf: Shelf):
    reader.expected = ("ERR_CONNECTION_REFUSED", "404")  # the server is gone, and one page never was
    page = reader.open(LESSON, service_workers="allow")
    live(page)
    kept(page, "live")
    shelf.stop()
    page.goto(shelf.site + NEVER_VISITED)
    panel, engine = live(page, ITS_PANEL), Engine()
    press(panel, 0, "ArrowLeft")
    held_against_native(panel, engine)
    assert_wrong_and_right(live(page, "coil-exercise"), engine)
    elsewhere = {"index.html": HEADING, "": HEADING, "talk/": "passes on Thursday", "search.html?q=rivet": "Cushion"}
    for path, words in elsewhere.items():
        page.goto(shelf.site + path)
        page.locator(":is(h1, #search-results a):visible", has_text=words).first.wait_for()
    page.goto(shelf.site + "no-such-page.html")
    assert "not in this book" in page.locator("p").inner_text()
    page.goto(shelf.site + "offline.html")
    page.get_by_text("This book now works without a network.").wait_for(timeout=LIVE)


def test_a_new_edition_is_seen_at_once_and_replaces_the_old_one_wholly(reader: Visit, shelf: Shelf):
    reader.expected = ("ERR_CONNECTION_REFUSED",)
    page = reader.open("index.html", service_workers="allow")
    kept(page, "reading")
    [old] = page.evaluate(CACHES)
    shelf.new_edition()
    page.reload()
    page.get_by_text(NEWS).wait_for()
    until(page, "async () => (await navigator.serviceWorker.getRegistration()).waiting !== null")
    page.goto(shelf.site + "cautions.html")  # no page of the old edition is open: the new worker takes over
    until(page, "async (old) => { const names = await caches.keys(); return names.length === 1 && names[0] !== old; }", old)
    shelf.stop()
    page.goto(shelf.site)
    page.get_by_text(NEWS).wait_for()


def test_a_server_with_a_new_edition_half_in_place_gives_no_mixture(reader: Visit, shelf: Shelf):
    reader.expected = ("ERR_CONNECTION_REFUSED",)
    page = reader.open("index.html", service_workers="allow")
    kept(page, "reading")
    old = page.evaluate(CACHES)
    lagging = (shelf.book / "index.html").read_bytes()
    shelf.new_edition()
    (shelf.book / "index.html").write_bytes(lagging)  # the worker is of the new edition, a page is not yet
    page.evaluate("""async () => {
        const one = await navigator.serviceWorker.getRegistration();
        await one.update();
        const {installing} = one;
        if (!installing) throw new Error("nothing new was found");
        while (installing.state !== "redundant") await new Promise((resolve) => setTimeout(resolve, 50));
    }""")
    assert page.evaluate(CACHES) == old
    shelf.stop()
    page.goto(shelf.site)
    page.get_by_role("heading", name=HEADING).wait_for()
    assert page.get_by_text(NEWS).count() == 0


@pytest.mark.parametrize(("trap", "said"), [
    ("if (navigator.serviceWorker) navigator.serviceWorker.register = () => Promise.reject(new Error('not so'))", "not so"),
    ("delete Navigator.prototype.serviceWorker", "keeps nothing of this book"),
])
def test_a_browser_that_keeps_nothing_shows_the_book_all_the_same(reader: Visit, trap: str, said: str):
    page = reader.open("offline.html", before=lambda context: context.add_init_script(trap), service_workers="allow")
    page.locator(".coil-offline").get_by_text(said).wait_for(timeout=LIVE)
    page.goto(reader.site + LESSON)
    press(live(page), 0, "ArrowLeft")


def test_a_full_storage_is_said_and_nothing_else_is_lost(reader: Visit, shelf: Shelf):
    """The worker's own storage is made to refuse the model, as a full disk would; the pages are kept before that."""
    worker = shelf.book / offline.WORKER
    full = "const put = Cache.prototype.put; Cache.prototype.put = function (address, reply) { if (address.endsWith('.wasm')) " \
        "throw new DOMException('full', 'QuotaExceededError'); return put.call(this, address, reply); };\n"
    worker.write_text(full + worker.read_text(encoding="utf-8"), encoding="utf-8")
    page = reader.open(LESSON, service_workers="allow")
    press(live(page), 0, "ArrowLeft")
    kept(page, "reading")
    page.goto(shelf.site + "offline.html")
    page.get_by_role("button", name="Keep the whole book now").click()
    page.get_by_text("The rest could not be kept: this browser's storage is full.").wait_for(timeout=LIVE)
    page.goto(shelf.site + NEVER_VISITED)
    press(live(page, ITS_PANEL), 0, "ArrowLeft")


@pytest.fixture
def owner(whole_chromium: Any, shelf: Shelf) -> Iterator[Visit]:
    """A fresh profile of a browser that can install a page as an app."""
    one = Visit(whole_chromium, shelf.site)
    yield one
    one.end()


def test_the_book_can_be_installed(owner: Visit, shelf: Shelf):
    """Chromium's own judgement of the manifest, and its list of what is missing for an installation."""
    page = owner.open("index.html", service_workers="allow")
    kept(page, "reading")
    session = page.context.new_cdp_session(page)
    seen = session.send("Page.getAppManifest")
    assert seen["errors"] == []
    assert seen["url"] == shelf.site + offline.MANIFEST
    assert json.loads(seen["data"])["name"] == offline.TITLE
    missing = [each["errorId"] for each in session.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert [each for each in missing if each != "in-incognito"] == []  # a test's profile counts as one


def test_nothing_of_it_from_a_double_click(visit: Visit, html: Path):
    page = visit.open((html / "offline.html").as_uri(), service_workers="allow")
    page.wait_for_load_state("networkidle")
    assert page.locator("link[rel=manifest]").count() == 0
    assert not [address for address in visit.requests if address.endswith(("offline.js", offline.WORKER, offline.MANIFEST))]


def test_the_worker_keeps_what_the_pages_ask_for_and_the_edition_follows_every_file(html: Path, tmp_path: Path):
    files = offline.kept_files(html)
    assert {"index.html", "talk/handout.pdf", "icon-512.png", "searchindex.js"} <= set(files["reading"])
    live_names = {name.split("/")[-1] for name in files["live"]}
    assert live_names >= {"pyodide.asm.wasm", "python_stdlib.zip", "course.zip", "face.js", "worker.js", "page.js"}
    assert not [name for part in files.values() for name in part if name.endswith((".map", "carried.js", offline.WORKER))]
    before = offline.worker(files)
    assert offline.worker(offline.kept_files(html)) == before
    assert (html / offline.WORKER).read_bytes() == before, "the build changed a file after it was written down"
    assert "coil_cards/index.html" in files["reading"]
    changed = {"reading": files["reading"] | {"index.html": ("0" * 20, 1)}, "live": files["live"]}
    assert offline.worker(changed).splitlines()[0] != before.splitlines()[0]
