"""The axes that panels state: the same at every setting, and wide enough, so that twice as tall is drawn twice as tall."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import pytest

from lessons.contracts import Axis, Chart, Choice, Control, Ladder, Panel, Picture
from lessons.panels import PANELS

pytestmark = pytest.mark.slow

EVERY = pytest.mark.parametrize("name", [name for name, panel in PANELS.items() if panel.controls])
SLACK = 0.02  # of an axis: so far the face lets a curve go beyond its limits without letting it grow (BEYOND in draw_plot.js)

FOLLOWING = {
    **{(name, f"{key}.x"): "the pulse" for name, keys in (
        ("box", ("position",)), ("first_look", ("current",)), ("cushion", ("current", "position", "force", "secondary")),
        ("every_speed", ("current", "position")), ("tension_map", ("current", "position")),
        ("vibrator", ("current", "forces", "position", "secondary")), ("bench_capture", ("capture",)),
    ) for key in keys},
    **{("supplies", key): "the supply" for key in ("current.x", "ladder.x")},
    **{("car_lever", key): "the lever" for key in ("stairs.x", "stairs.y", "emf.x", "current.x", "secondary.x")},
    ("four_coils", "ladder.x"): "the lever",
    ("condenser_discharge", "discharge.x"): "the wait",
    ("condenser_discharge", "discharge.y"): "the voltage at the start",
    ("condenser_meter", "meter.y"): "the points",
}
"""Every axis of the course whose limits may change, and what they go with. All others stay as they are."""
CUT = {("vibrator", "pull.y"), ("vibrator_pull", "pull.y")}
"""The axes that cut a curve off on purpose."""
BEYOND = {
    ("condenser_meter", "meter.y"): "a meter that is upset shows what it likes: here the axis grows, and says so",
}


def settings(panel: Panel) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give the panel's settings to look at, by name: as it begins, its presets, each slider at its ends, each choice."""
    start = panel.defaults()
    yield "start", start
    for preset in panel.presets:
        yield f"preset {preset.label}", start | dict(preset.values)
    for control in panel.controls:
        ends = (control.low, control.high) if isinstance(control, Control) else ()
        ways = [value for value, _ in control.options] if isinstance(control, Choice) else []
        for value in (*ends, *ways):
            yield f"{control.symbol} = {value}", start | {control.symbol: value}


@lru_cache
def pictures(name: str) -> dict[str, Picture]:
    panel = PANELS[name]
    return {label: panel.picture(values) for label, values in settings(panel)}


def axes(picture: Picture) -> Iterator[tuple[str, Axis]]:
    """Give each axis of charts, ladder and bars, by its name."""
    for chart in (*picture.strips, *picture.charts):
        yield f"{chart.key}.x", chart.x
        yield f"{chart.key}.y", chart.y
    if picture.ladder:
        yield "ladder.x", picture.ladder.x
    for bars in picture.bars:
        yield f"{bars.key}.x", bars.x


def drawn(thing: Chart | Ladder) -> dict[str, list[float]]:
    """Return {name of the axis: all that is drawn along it}: curves and points."""
    if isinstance(thing, Ladder):
        return {"ladder.x": list(thing.angle)}
    ys = [y for line in thing.lines for y in line.y] + [mark.y for mark in thing.marks if mark.y is not None]
    xs = [x for line in thing.lines for x in line.x] + [mark.x for mark in thing.marks]
    return {f"{thing.key}.x": xs, f"{thing.key}.y": [y for y in ys if math.isfinite(y)]}


@EVERY
def test_every_axis_states_its_limits_and_keeps_them_or_says_what_they_follow(name: str) -> None:
    stated: dict[str, set[tuple[float, float]]] = {}
    for label, picture in pictures(name).items():
        for key, axis in axes(picture):
            assert axis.low is not None, f"{label}: {key} has no low end"
            assert axis.high is not None, f"{label}: {key} has no high end"
            assert axis.low < axis.high, f"{label}: {key}"
            assert axis.follows.startswith(FOLLOWING.get((name, key), "")), f"{key} follows {axis.follows!r}"
            assert bool(axis.follows) == ((name, key) in FOLLOWING), f"{key} follows {axis.follows!r}"
            assert bool(axis.cut) == ((name, key) in CUT), f"{key} cuts off {axis.cut!r}"
            if not axis.follows:
                stated.setdefault(key, set()).add((axis.low, axis.high))
    assert {key: limits for key, limits in stated.items() if len(limits) > 1} == {}


@EVERY
def test_nothing_of_consequence_lies_outside_and_no_axis_is_far_too_long(name: str) -> None:
    reached: dict[str, float] = {}  # the share of an upright axis that some setting or other fills
    outside = []
    for label, picture in pictures(name).items():
        stated = dict(axes(picture))
        ladders = [picture.ladder] if picture.ladder else []
        for key, values in ((key, values) for thing in (*picture.strips, *picture.charts, *ladders)
                            for key, values in drawn(thing).items()):
            axis = stated[key]
            if not values or axis.low is None or axis.high is None:
                continue
            room, least, most = axis.high - axis.low, min(values), max(values)
            if key.endswith(".y"):
                from_ = axis.low if axis.low == 0.0 else max(least, axis.low)  # what stands on nought fills from there
                reached[key] = max(reached.get(key, 0.0), (min(most, axis.high) - from_) / room)
            allowed = axis.cut or (name, key) in BEYOND
            if not allowed and (least < axis.low - SLACK * room or most > axis.high + SLACK * room):
                outside.append((label, key, (axis.low, axis.high), (least, most)))
    assert outside == []
    assert {key: share for key, share in reached.items() if share < 0.45} == {}


def test_the_presets_that_compare_stand_on_the_same_axes() -> None:
    """As found, matched, and by hand: the zigzag becomes a column on a ladder that keeps still."""
    seen = {axis.low for label, picture in pictures("four_coils").items() for _, axis in axes(picture)
            if label in ("start", "preset Matched", "preset Equal spring force", "preset As found, hand-cranked")}
    assert len(seen) == 1
