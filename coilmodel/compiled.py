"""The fastest `advance` that this Python has: compiled by numba where numba is installed, plain otherwise."""

from __future__ import annotations

from collections.abc import Callable
from types import FunctionType
from typing import Any

from coilmodel import kernel

advance: Callable[..., None]
COMPILED: bool


def _compiled() -> Callable[..., None]:
    """Return the kernel's `advance` compiled by numba, and with it every function of the kernel that it calls."""
    space = dict(vars(kernel))
    for name, one in vars(kernel).items():
        if isinstance(one, FunctionType):  # in the order of the text: a function comes after those that it calls
            space[name] = numba.njit(cache=True, nogil=True)(FunctionType(one.__code__, space, name))
    return space["advance"]  # type: ignore[no-any-return]


try:
    import numba
    import numpy

    advance = _compiled()
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
