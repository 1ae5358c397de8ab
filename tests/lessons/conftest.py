"""A browser for the face of the lessons."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@pytest.fixture(scope="module")
def browser(need_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    """A headless Chromium for the tests of a file."""
    browser = playwright_driver.chromium.launch(executable_path=need_chromium, args=list(FLAGS))
    yield browser
    browser.close()
