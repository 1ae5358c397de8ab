"""Where a lesson's cells run: in JupyterLab, for the book, or in some other program that runs a notebook from top to bottom.

What a cell shows depends on it: in JupyterLab its panels come alive, so nobody would see a picture drawn to stand in for one,
and a page of the book is not in reach; in the book and in print it is the other way round.
"""

from __future__ import annotations

import os

BOOK = "COIL_COURSE_BOOK"
"""Environment variable that the book's build sets for the kernels that it starts."""
SESSION = "JPY_SESSION_NAME"
"""Environment variable that Jupyter's server sets for the kernel of a notebook that is open; nbconvert sets none."""


def for_the_book() -> bool:
    """Say whether the book's build runs this."""
    return bool(os.environ.get(BOOK))


def in_jupyterlab() -> bool:
    """Say whether a reader has this notebook open."""
    return bool(os.environ.get(SESSION)) and not for_the_book()
