"""Pictures made at build, for each panel one small file: so the first touch is answered while Python is still on its way.

A panel of few settings has a picture for each of them, any other one for its start and for each of its presets. The page looks
them up by the controls' values (book/live/early.js) and asks the live model again once it runs, so nothing here is for long: the
curves are kept in whole steps of a 65,000th of their range, less than a pixel, and whole numbers as they are.

A file is gzipped: four bytes with the length of the head (little-endian), the head as JSON, then the curves one after the other,
each as the differences of its 16-bit steps: first all low bytes, then all high ones, which packs better.
"""

from __future__ import annotations

import gzip
import itertools
import json
import math
import sys
from array import array
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from lessons.contracts import AnyControl, Control, Lines, Panel, pack
from lessons.engine import Engine

MOST_SETTINGS = 64  # of a panel whose every setting is kept
STEPS = 65_000
MISSING = -32_768  # the step that stands for a number that is none
_LOWEST = -32_500  # that of a curve's least number


def name_of(panel: str) -> str:
    """Return the name of a panel's file."""
    return f"early-{panel}.bin"


def early_files(panels: Mapping[str, Panel] | None = None) -> dict[str, bytes]:
    """Return {file name: content} for every panel; of the whole course where none are given."""
    engine = Engine(panels=panels)
    return {name_of(name): packed(panel, engine) for name, panel in engine.panels.items()}


def packed(panel: Panel, engine: Engine) -> bytes:
    """Return a panel's file. Raises ValueError where a preset sets what the panel does not allow."""
    settings = [panel.checked(values) for values in settings_of(panel)]
    all_of_it = pack([panel.picture(values) for values in settings])
    head = {
        "panel": engine.handle({"do": "panel", "name": panel.name}).tree["panel"],
        "settings": [list(values.values()) for values in settings], "pictures": all_of_it.tree,
        "curves": [(len(curve), *_scale(curve)) for curve in all_of_it.arrays],
    }
    text = json.dumps(head, separators=(",", ":"), allow_nan=False).encode()
    content = len(text).to_bytes(4, "little") + text + b"".join(map(_differences, all_of_it.arrays))
    return gzip.compress(content, 9, mtime=0)


def settings_of(panel: Panel) -> list[dict[str, Any]]:
    """Return the settings that are kept of a panel: all where they are few, else the start and the presets; each once."""
    ways = [_ways(control) for control in panel.controls]
    if math.prod(map(len, ways)) <= MOST_SETTINGS:
        symbols = [control.symbol for control in panel.controls]
        return [dict(zip(symbols, values)) for values in itertools.product(*ways)]
    found: list[dict[str, Any]] = []
    for values in (panel.defaults(), *(panel.defaults() | dict(preset.values) for preset in panel.presets)):
        if values not in found:
            found.append(values)
    return found


def _ways(control: AnyControl) -> Sequence[Any]:
    """Return what a control can be set to, or more than are kept: of a log nobody knows what will stand on it."""
    if isinstance(control, Lines):
        return range(MOST_SETTINGS + 1)
    return _positions(control) if isinstance(control, Control) else [value for value, _ in control.options]


def _positions(control: Control) -> Sequence[float | None]:
    """Return where a slider can stand, or more positions than are kept."""
    count = min(MOST_SETTINGS + 1, math.floor((control.high - control.low) / control.step + 1e-6) + 1)
    taken: list[float | None] = [round(control.low + control.step * i, 9) for i in range(count)]
    return [None, *taken] if control.optional else taken


def _scale(curve: array[float]) -> tuple[float, float]:
    """Return the least number of a curve and the size of its steps: 1 for whole numbers, which stay what they are."""
    numbers = [number for number in curve if math.isfinite(number)]
    low, high = min(numbers, default=0.0), max(numbers, default=0.0)
    whole = high - low <= STEPS and all(number == int(number) for number in numbers)
    return low, 1.0 if whole or high == low else (high - low) / STEPS


def _differences(curve: array[float]) -> bytes:
    low, step = _scale(curve)

    def steps() -> Iterator[int]:
        last = 0
        for number in curve:
            now = _LOWEST + round((number - low) / step) if math.isfinite(number) else MISSING
            yield (now - last + 32_768) % 65_536 - 32_768
            last = now

    told = array("h", steps())
    if sys.byteorder == "big":
        told.byteswap()
    content = told.tobytes()
    return content[0::2] + content[1::2]
