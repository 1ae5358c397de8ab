"""A browser for the face of the lessons, and runs of the model that are not made twice."""

from __future__ import annotations

import copy
from array import array
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import joblib
import pytest

from coilmodel import compiled, kernel, run

from ..book.browsing import FLAGS


@pytest.fixture(scope="session")
def browser(need_chromium: str, playwright_driver: Any) -> Iterator[Any]:
    """A headless Chromium for the tests of all files: one for each takes more than a second of a processor to start."""
    browser = playwright_driver.chromium.launch(executable_path=need_chromium, args=list(FLAGS))
    yield browser
    browser.close()


class Remembering:
    """The kernel, which has a run of the very same numbers ready the next time: the exercises ask for most of theirs often.

    That the kernel gives the same again is for the tests of the model, where it is not remembered.
    """

    MOST = 8_000_000  # floats that are kept

    def __init__(self, advance: Callable[..., None]) -> None:
        self.advance = advance
        self.kept: dict[bytes, list[Any]] = {}
        self.size = 0

    def __call__(self, numbers: Sequence[float], *buffers: Any) -> None:
        """Fill the buffers of a run (strips, events, ledger, meter), as the kernel does."""
        name = array("d", [*numbers, *map(len, buffers)]).tobytes()
        if name not in self.kept:
            self.advance(numbers, *buffers)
            filled = self.filled(*buffers)
            if self.size + sum(filled) > self.MOST:
                self.kept.clear()
                self.size = 0
            self.kept[name] = [copy.copy(buffer[:size]) for buffer, size in zip(buffers, filled, strict=True)]
            self.size += sum(filled)
            return
        for buffer, content in zip(buffers, self.kept[name], strict=True):
            buffer[:len(content)] = content

    @staticmethod
    def filled(strips: Any, events: Any, ledger: Any, meter: Any) -> tuple[int, ...]:
        """Return how much of each buffer the kernel filled; the rest is nought as it was."""
        openings, rows = (int(meter[kernel.METER.index(name)]) for name in ("openings", "rows"))
        return (min(len(strips), rows * len(kernel.STRIP)), min(len(events), openings * len(kernel.EVENT)),
                len(ledger), len(meter))


REMEMBERING = Remembering(compiled.advance)


@pytest.fixture(autouse=True, scope="module")
def remembered_runs() -> Iterator[None]:
    """Let this file's tests share the model's runs with all others of the lessons, and so make them in this process.

    Processes of one's own for them took as long to start as the work (the tests have one for each processor already).
    """
    with pytest.MonkeyPatch.context() as patch, joblib.parallel_config(backend="sequential"):
        for module in (run, compiled):
            patch.setattr(module, "advance", REMEMBERING)
        yield
