"""The fastest `advance` that this Python has: compiled by numba where numba is installed, plain otherwise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coilmodel import kernel

advance: Callable[..., None]
COMPILED: bool

try:
    import numba
    import numpy

    advance = numba.njit(cache=True)(kernel.advance)
    COMPILED = True

    def buffer(size: int) -> Any:
        """Return a zeroed float buffer of `size` numbers that `advance` can fill."""
        return numpy.zeros(size)
except ImportError:  # the reader's browser, or a bare Python
    advance = kernel.advance
    COMPILED = False

    def buffer(size: int) -> Any:
        """Return a zeroed float buffer of `size` numbers that `advance` can fill."""
        return [0.0] * size
