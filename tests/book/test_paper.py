"""On paper nothing can be unfolded: what is folded away on the screen is printed, and folded again afterwards."""

from typing import Any

import pytest

from .browsing import ROOT

pytestmark = pytest.mark.browser
PAGE = """<!doctype html><meta charset="utf-8"><title>Paper</title>
<details class="fold" id="a"><summary>The arithmetic</summary><p>1 + 1 = 2</p></details>
<details class="fold" id="b" open><summary>The arithmetic</summary><p>2 + 2 = 4</p></details>
<script src="/live/start.js"></script>"""


def test_paper_shows_the_arithmetic(chromium: Any) -> None:
    page = chromium.new_page()
    files = {"/": ("text/html", PAGE), "/live/start.js": ("text/javascript", (ROOT / "book/live/start.js").read_text())}

    def serve(route: Any) -> None:
        kind, body = files.get(route.request.url.split("book.test", 1)[1], ("text/javascript", ""))
        route.fulfill(content_type=kind, body=body)

    page.route("**/*", serve)
    page.goto("http://book.test/")
    for event, expected in (("beforeprint", [True, True]), ("afterprint", [False, True])):
        found = page.evaluate("""(event) => {
            dispatchEvent(new Event(event));
            return [...document.querySelectorAll("details")].map(({open}) => open);
        }""", event)
        assert found == expected, event
    page.evaluate("addEventListener('beforeprint', () => (window.onPaper = document.querySelector('#a').open))")
    page.pdf()
    assert page.evaluate("window.onPaper") is True, "a real print tells the page, too"
    assert not page.evaluate("document.querySelector('#a').open")
    page.close()
