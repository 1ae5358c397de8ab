"""Compile the kernel's `advance` by way of C, so that numba's loop can be timed against the very same loop compiled by gcc.

A copy written by hand would drift from the kernel with the first change to it. So the C text is made from the Python text each
time, by coilmodel/translate, which makes the WebAssembly of the book's pages too.
"""

from __future__ import annotations

import ctypes
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from coilmodel import kernel
from coilmodel.translate.c import c_text
from coilmodel.translate.front import program


def compile_c(folder: Path, *flags: str) -> Callable[[Sequence[float], Any, Any, Any, Any], None]:
    """Compile the kernel's C with gcc in `folder` and return it as a function that takes what `advance` takes.

    The buffers must be numpy arrays of float64. Raises subprocess.CalledProcessError where gcc refuses.
    """
    source, library = folder / "advance.c", folder / f"advance{''.join(flags).replace('=', '-')}.so"
    source.write_text(c_text(program(kernel.advance)), encoding="utf-8")
    subprocess.run(["gcc", "-std=c11", *flags, "-shared", "-fPIC", str(source), "-o", str(library), "-lm"], check=True)
    compiled = ctypes.CDLL(str(library)).advance
    number = ctypes.POINTER(ctypes.c_double)
    compiled.argtypes = [number, ctypes.c_int64] * len(program(kernel.advance).functions[-1].parameters)
    compiled.restype = None

    def advance(p: Sequence[float], *buffers: Any) -> None:
        given: list[Any] = [(ctypes.c_double * len(p))(*p), len(p)]
        for buffer in buffers:
            given += [buffer.ctypes.data_as(number), len(buffer)]
        compiled(*given)

    return advance


if __name__ == "__main__":
    print(c_text(program(kernel.advance)))
