"""The fastest form of the kernel that this Python has, from one and the same text.

    home            where                                what `fastest` gives
    "LLVM"          COILMODEL_LIGHT is set               the same without loading numba and numpy (light.py says for whom)
    "numba"         numba is installed                   the function and those it calls, compiled; kept on disk
    "WebAssembly"   a page of the book                   a call of the module that coilmodel/translate wrote at the build
    "plain"         neither, or the browser refuses it   the function as it is

A page's worker registers the module `page_kernel` before it imports anything of the course (book/live/worker.js).
"""

from __future__ import annotations

import os
from array import array
from collections.abc import Callable
from types import FunctionType
from typing import Any

from coilmodel import kernel
from coilmodel.fingerprint import fingerprint, outside

LIGHT = "COILMODEL_LIGHT"
"""Environment variable of a process that is one of many: set, it has the kernel compiled in the way that takes least memory."""
HOME: str
"""Where the kernel runs: "LLVM", "numba", "WebAssembly" or "plain"."""

try:
    if not os.environ.get(LIGHT):
        raise ImportError
    from coilmodel.light import buffer as buffer
    from coilmodel.light import fastest as fastest

    HOME = "LLVM"
except ImportError:
    try:
        import numba
        import numpy

        HOME = "numba"
        _kept: dict[FunctionType, Any] = {}

        def fastest(function: Any) -> Callable[..., Any]:
            """Return the fastest form of a function of the kernel's small Python; it lets other threads run meanwhile.

            numba compiles no plain function that another calls. So the helpers are compiled too, and the function is made anew
            with them in the place of the plain ones. Its name is given its fingerprint: numba, which keeps what it compiled in a
            file of that name, watches the text of the function's own module only.
            """
            if function not in _kept:
                helpers = {name: fastest(one) for name, one in outside(function).items() if isinstance(one, FunctionType)}
                made = FunctionType(function.__code__, function.__globals__ | helpers, function.__name__, function.__defaults__)
                made.__module__, made.__doc__ = function.__module__, function.__doc__
                made.__annotations__ = function.__annotations__
                made.__qualname__ = f"{function.__name__}_{fingerprint(function)}"
                _kept[function] = numba.njit(cache=True, nogil=True)(made)
            return _kept[function]

        def buffer(size: int) -> Any:
            """Return a zeroed float buffer of `size` numbers that `advance` can fill."""
            return numpy.zeros(size)
    except ImportError:  # a page of the book, or a bare Python
        try:
            from page_kernel import call, names

            HOME = "WebAssembly"

            def fastest(function: Any) -> Callable[..., Any]:
                """Return the fastest form of a function of the kernel's small Python: the page's module's, or the plain one."""
                name = function.__name__
                if name not in names:
                    return function

                def in_the_page(*given: Any) -> Any:
                    return call(name, *(array("d", one) if isinstance(one, tuple) else one for one in given))

                return in_the_page

            def buffer(size: int) -> Any:
                """Return a zeroed float buffer of `size` numbers that `advance` can fill."""
                return array("d", bytes(8 * size))
        except ImportError:
            HOME = "plain"

            def fastest(function: Any) -> Callable[..., Any]:
                """Return the function as it is."""
                return function

            def buffer(size: int) -> Any:
                """Return a zeroed float buffer of `size` numbers that `advance` can fill."""
                return [0.0] * size


advance: Callable[..., None] = fastest(kernel.advance)
COMPILED = HOME != "plain"
