"""The one progress bar: a line that is rewritten on a terminal, elsewhere one at the end of what takes long.

Standard library only.
"""

from __future__ import annotations

import sys

WIDTH = 30  # signs of the bar
LONG = 100  # of so many things the end is told where there is no terminal


def drawn(done: int, total: int, width: int = WIDTH) -> str:
    """Return the bar itself.

    done, total : how many; width : its signs

    >>> drawn(1, 4, 8)
    '[##......]'
    """
    full = width * done // max(total, 1)
    return f"[{'#' * full}{'.' * (width - full)}]"


def bar(label: str, done: int, total: int, things: str = "runs", long: int = LONG) -> None:
    """Show on standard error that `done` of `total` are done; where there is no terminal, the end of at least `long` of them.

    label : what is done; things : what is counted
    """
    if sys.stderr.isatty():
        end = "\n" if done >= total else ""
        print(f"\r{label:<48} {drawn(done, total)} {done}/{total}", end=end, file=sys.stderr, flush=True)
    elif done >= total >= long:
        print(f"{label}: {total} {things}", file=sys.stderr, flush=True)
