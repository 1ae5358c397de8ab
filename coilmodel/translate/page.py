"""What of the model the book's pages run compiled: the one list, and the module made of it."""

from __future__ import annotations

from coilmodel import kernel, tally
from coilmodel.translate.front import program
from coilmodel.translate.wasm import wasm_bytes

ROOTS = (kernel.advance, tally.tally)
"""The functions that a page calls by name. They take buffers and floats, and no whole numbers (JavaScript's are floats)."""


def page_module() -> bytes:
    """Return the WebAssembly module of `ROOTS`. Raises ValueError in one sentence where the kernel is not translated."""
    return wasm_bytes(program(*ROOTS))
