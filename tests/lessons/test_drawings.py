"""The drawings: made from the model's numbers, every part with its glossary sentence, and readable on a phone."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import pytest

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.run import resting_place
from lessons.contracts import Control, Drawing, DrawnPart, Outline, Panel, pack
from lessons.face import standin
from lessons.glossary import TERMS
from lessons.panels import PANELS
from lessons.panels.coil import AS_WOUND, wound
from lessons.panels.cushion import machine as with_cushion
from lessons.panels.drawings import PANELS as DRAWN
from lessons.panels.drawings import box, bridge, coil_section, flywheel, outlines, timer

NARROW = 306.0  # px that a drawing gets on a screen of 360 px
BADGE = 10.0  # px, the radius of a number (lessons/face/draw_drawing.js)
each = pytest.mark.parametrize("panel", DRAWN, ids=lambda panel: panel.name)


def settings(panel: Panel, count: int = 60) -> Iterator[dict[str, Any]]:
    """Yield the start, every preset, and settings drawn from the whole range of the controls, ends included."""
    yield {}
    yield from (dict(preset.values) for preset in panel.presets)
    draw = random.Random(panel.name)
    for _ in range(count if panel.controls else 0):
        yield {
            c.symbol: draw.choice([c.low, c.high, draw.uniform(c.low, c.high)]) if isinstance(c, Control)
            else draw.choice([value for value, _ in c.options])
            for c in panel.controls
        }


def drawings(panel: Panel) -> tuple[Drawing, ...]:
    """Return the panel's drawing at each of those settings."""
    return _drawings(panel.name)


@cache
def _drawings(name: str) -> tuple[Drawing, ...]:
    drawn = tuple(PANELS[name].picture(values).drawing for values in settings(PANELS[name]))
    assert None not in drawn
    return drawn


def outline_points(outline: Outline) -> list[tuple[float, float]]:
    return list(zip(outline.points[::2], outline.points[1::2], strict=True))


def distance(point: tuple[float, float], outline: Outline) -> float:
    """Return how far a point is from an outline; 0 inside a closed one."""
    points = outline_points(outline)
    ends = list(itertools.pairwise(points)) + ([(points[-1], points[0])] if outline.closed else [])
    x, y = point
    if outline.closed:
        crossings = sum((a[1] > y) != (b[1] > y) and x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0] for a, b in ends)
        if crossings % 2:
            return 0.0

    def from_edge(a: tuple[float, float], b: tuple[float, float]) -> float:
        long = math.dist(a, b)
        share = 0.0 if long == 0.0 else ((x - a[0]) * (b[0] - a[0]) + (y - a[1]) * (b[1] - a[1])) / long**2
        share = min(1.0, max(0.0, share))
        return math.dist(point, (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))

    return min(from_edge(a, b) for a, b in ends)


def named(drawn: Drawing, word: str) -> DrawnPart:
    return next(part for part in drawn.parts if part.word == word)


# -------------------------------------------------------------------------------------------------- every drawing
@each
def test_each_part_has_a_word_of_the_glossary_and_its_sentence(panel: Panel) -> None:
    sentences = {name: term.sentence for term in TERMS for name in (term.word, *term.also)}
    drawn = panel.picture().drawing
    words = [part.word for part in drawn.parts]
    assert len(set(words)) == len(words)
    for part in drawn.parts:
        assert part.sentence == sentences[part.word]
    for number, word in enumerate(words, 1):
        assert f"{number} {word}" in panel.picture().alt


def test_a_word_that_the_glossary_lacks_is_found_out() -> None:
    with pytest.raises(KeyError):
        outlines.part("flux capacitor", (0.0, 0.0))


@each
def test_all_of_it_lies_in_the_drawing_at_every_setting(panel: Panel) -> None:
    for drawn in drawings(panel):
        edge = BADGE * drawn.width / NARROW
        for part in drawn.parts:
            for outline in part.outlines:
                assert len(outline.points) % 2 == 0
                assert all(math.isfinite(value) for value in outline.points)
                low_x, low_y, high_x, high_y = outlines.span(outline.points)
                assert low_x >= 0.0, (panel.name, part.word)
                assert low_y >= 0.0, (panel.name, part.word)
                assert high_x <= drawn.width, (panel.name, part.word)
                assert high_y <= drawn.height, (panel.name, part.word)
            x, y = part.number_at
            assert edge <= x <= drawn.width - edge, part.word
            assert edge <= y <= drawn.height - edge, part.word


@each
def test_numbers_do_not_touch_on_a_phone(panel: Panel) -> None:
    for drawn in drawings(panel):
        for one, other in itertools.combinations(drawn.parts, 2):
            apart = math.dist(one.number_at, other.number_at) * NARROW / drawn.width
            assert apart >= 2.0 * BADGE + 2.0, f"{panel.name}: {one.word} and {other.word} are {apart:.0f} px apart"


@each
def test_a_leader_ends_on_its_part(panel: Panel) -> None:
    for drawn in drawings(panel):
        for part in drawn.parts:
            if part.leads_to:
                assert min(distance(part.leads_to, outline) for outline in part.outlines) < 4.0, f"{panel.name}: {part.word}"


@each
def test_the_stand_in_draws_it_and_lists_the_parts(panel: Panel) -> None:
    picture = panel.picture()
    assert standin.png(picture).startswith(b"\x89PNG")
    html = standin.panel_html(panel)
    assert html.count("<li>") == len(picture.drawing.parts)
    assert "Drawn with ." not in html


@each
def test_it_is_light_enough_to_follow_a_slider(panel: Panel) -> None:
    """Numbers sent for a picture; the coil in section, with a line for each layer, has most of them."""
    for drawn in drawings(panel):
        assert sum(len(outline.points) for part in drawn.parts for outline in part.outlines) < 12_000
    pack(panel.picture())


def test_a_straying_leader_and_touching_numbers_would_be_found() -> None:
    square = outlines.box(10, 10, 20, 20)
    assert distance((20.0, 20.0), square) == 0.0
    assert distance((40.0, 20.0), square) == pytest.approx(10.0)
    assert distance((20.0, 33.0), outlines.wire(0, 30, 100, 30)) == pytest.approx(3.0)


# --------------------------------------------------------------------------------------------------------- the box
def test_the_coil_in_the_box_has_the_measure_of_the_one_that_is_wound() -> None:
    drawn, coil = box.drawing(), wound(AS_WOUND)
    x0, y0, x1, y1 = outlines.span(named(drawn, "core").outlines[0].points)
    assert (y1 - y0) / (x1 - x0) == pytest.approx(AS_WOUND["length"] / AS_WOUND["core"])
    left, right = (outlines.span(outline.points) for outline in named(drawn, "secondary").outlines[:2])
    assert (right[2] - left[0]) / (x1 - x0) == pytest.approx(1e3 * coil.secondary.outer_diameter / AS_WOUND["core"])
    assert (left[3] - left[1]) / (y1 - y0) == pytest.approx(1e3 * coil.secondary.length / AS_WOUND["length"])


# ---------------------------------------------------------------------------------------------------- the magneto
@pytest.mark.parametrize("pairs", [2, 4, 8, 12])
def test_the_magneto_has_the_models_poles(pairs: int) -> None:
    drawn = flywheel.drawing(Machine().but(magneto={"pole_pairs": pairs}), 0.0)
    magnets = named(drawn, "magnet").outlines
    assert len(magnets) == 2 * pairs
    assert [magnet.fill for magnet in magnets] == ["energy", "clear"] * pairs
    assert [note.text for note in drawn.notes] == ["N", "S"] * pairs
    assert len(named(drawn, "magneto coil").outlines) == 4 * pairs  # each is cut twice


def test_after_a_pulse_north_and_south_have_changed_places() -> None:
    """The magnets then cover the same places, each the other way round."""
    def middles(angle: float) -> list[tuple[float, float, str]]:
        found = []
        for magnet in named(flywheel.drawing(Machine(), angle), "magnet").outlines:
            points = outline_points(magnet)
            found.append((round(sum(x for x, _ in points) / len(points), 6), round(sum(y for _, y in points) / len(points), 6),
                          magnet.fill))
        return sorted(found)

    before, after = middles(0.0), middles(flywheel.PULSE)
    assert [spot[:2] for spot in before] == [spot[:2] for spot in after]
    assert all(one[2] != other[2] for one, other in zip(before, after, strict=True))


@pytest.mark.parametrize("harmonics", [{}, {"third_harmonic": 0.2, "fifth_harmonic": -0.1}])
def test_flux_and_emf_are_the_models(harmonics: dict[str, float]) -> None:
    """The EMF is that of a run; the flux is what its rate of change makes that EMF (Faraday's law)."""
    m = Machine().but(magneto=harmonics)
    run = simulate(m, MagnetoDrive(450.0), pulses=2, warm_up=2, record=(0, 1))
    start = run.first_pulse * run.pulse_seconds
    peak = math.pi / run.pulse_seconds * m.magneto.flux_linkage
    for time, emf in list(zip(run.strips.time, run.strips.emf, strict=True))[::50]:
        angle = 6.0 * 450.0 * (time - start)
        drawn = peak * flywheel.shares(m, angle)[1]
        assert drawn == pytest.approx(emf, abs=0.01 * peak)  # a row has the EMF of its step's middle
        step = 1e-3
        change = (flywheel.shares(m, angle + step)[0] - flywheel.shares(m, angle - step)[0]) / (2.0 * step)  # per degree
        assert -m.magneto.flux_linkage * change * 6.0 * 450.0 == pytest.approx(drawn, abs=1e-5 * peak)


def test_the_arrows_turn_with_the_flux() -> None:
    """Each arrow begins at its tail: outward at one pole, inward at the next, and none where there is no flux."""
    def reach(arrow: Outline) -> float:
        tail, tip = outline_points(arrow)[:2]
        return math.dist(tip, (flywheel.X, flywheel.Y)) - math.dist(tail, (flywheel.X, flywheel.Y))

    full, turned = (named(flywheel.drawing(Machine(), angle), "flux").outlines for angle in (0.0, flywheel.PULSE))
    assert [reach(a) > 0.0 for a in full] == [True, False] * (flywheel.POLES // 2)
    assert [reach(a) > 0.0 for a in turned] == [False, True] * (flywheel.POLES // 2)
    assert named(flywheel.drawing(Machine(), flywheel.PULSE / 2.0), "flux").outlines == ()


def test_the_presets_of_the_magneto_say_what_is_so() -> None:
    say = {preset.label: flywheel.PANEL.picture(preset.values) for preset in flywheel.PANEL.presets}
    volts = {label: picture.readings[1].value for label, picture in say.items()}
    flux = {label: picture.readings[0].value for label, picture in say.items()}
    assert volts["Pole before pole"] == pytest.approx(0.0, abs=1e-9)
    assert flux["Next pole"] == pytest.approx(-flux["Pole before pole"], rel=1e-3)
    assert flux["Half way"] == pytest.approx(0.0, abs=0.01 * flux["Pole before pole"])
    assert volts["Twice as fast"] == pytest.approx(2.0 * volts["Half way"])


# ------------------------------------------------------------------------------------------------ the coil in section
@pytest.mark.parametrize("changed", [{}, {"core": 20.0}, {"length": 70.0, "secondary_turns": 30000.0}, {"primary_turns": 400.0}])
def test_the_section_is_to_scale(changed: dict[str, float]) -> None:
    values = {**AS_WOUND, **changed}
    drawn, coil = coil_section.drawing(values), wound(values)
    for word, winding in (("primary", coil.primary), ("secondary", coil.secondary)):
        above, below = (outlines.span(outline.points) for outline in named(drawn, word).outlines[:2])
        assert (above[2] - above[0]) / coil_section.PER_MM == pytest.approx(1e3 * winding.length)
        assert (below[3] - above[1]) / coil_section.PER_MM == pytest.approx(1e3 * winding.outer_diameter)
        assert (above[3] - above[1]) / coil_section.PER_MM == pytest.approx(1e3 * winding.build)
    x0, y0, x1, y1 = outlines.span(named(drawn, "core").outlines[0].points)
    assert (x1 - x0) / coil_section.PER_MM == pytest.approx(values["length"])
    assert (y1 - y0) / coil_section.PER_MM == pytest.approx(values["core"])


def test_the_enlarged_piece_has_the_windings_layers() -> None:
    coil, drawn = wound(AS_WOUND), coil_section.drawing(coil_section.PANEL.defaults())
    wires = [outline for outline in named(drawn, "primary").outlines if len(outline.points) >= 24]
    heights = {round(outlines.span(outline.points)[1], 3) for outline in wires}
    assert len(heights) == coil.primary.layers
    lines = [outline for outline in named(drawn, "secondary").outlines if not outline.closed and len(outline.points) == 4]
    assert len(lines) == coil.secondary.layers


# ------------------------------------------------------------------------------------------------------- the bridge
@pytest.mark.parametrize("travel", [0.02, 0.15, 0.26, 0.5])
def test_the_bridge_is_drawn_to_the_measure(travel: float) -> None:
    values = {**bridge.PANEL.defaults(), "travel": travel, "where": "apart"}
    drawn, m = bridge.drawing(values), with_cushion({**values})
    upper, lower = (outlines.span(outline.points) for outline in named(drawn, "contacts").outlines[:2])
    assert (lower[1] - upper[3]) / bridge.PER_MM == pytest.approx(1e3 * m.vibrator.stop)
    blade_top = upper[1] - bridge.BLADE
    assert (blade_top - bridge.FACE) / bridge.PER_MM == pytest.approx(travel)
    head = outlines.span(named(drawn, "limit rivet").outlines[2].points)
    assert head[1] == pytest.approx(upper[1]), "the blade sits on the rivet's head"


def test_at_rest_the_blade_lies_where_the_model_rests() -> None:
    for preload in (0.5, 1.48, 3.5):
        values = {**bridge.PANEL.defaults(), "preload": preload}
        lower, upper = resting_place(with_cushion(values))
        assert bridge.places(values) == (pytest.approx(1e3 * lower), pytest.approx(1e3 * upper))
    assert "hangs" in bridge.PANEL.picture({"preload": bridge.PRELOAD_CONTROL.high}).sentence
    assert "against the bridge" in bridge.PANEL.picture().sentence


# -------------------------------------------------------------------------------------------------------- the timer
def _angle(point: tuple[float, float]) -> float:
    return math.degrees(math.atan2(point[1] - timer.Y, point[0] - timer.X)) % 360.0


def _between(angle: float, outline: Outline) -> bool:
    """Whether an angle lies in a segment: from its outer arc's first point clockwise to its last."""
    points = outline_points(outline)
    outer = [p for p in points if math.dist(p, (timer.X, timer.Y)) > 120.0]
    return (angle - _angle(outer[0])) % 360.0 <= (_angle(outer[-1]) - _angle(outer[0])) % 360.0


def test_the_roller_is_on_a_segment_just_when_its_window_is_open() -> None:
    draw, seen = random.Random(5), set()
    for _ in range(400):
        values = {"crank": round(draw.uniform(-90.0, 630.0)) + 0.25, "lever": round(draw.uniform(-75.0, 30.0)),
                  "width": round(draw.uniform(5.0, 60.0))}
        drawn = timer.drawing(values)
        tip = named(drawn, "roller").outlines[1]  # the roller's own disc
        points = outline_points(tip)
        middle = (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
        on = [name for name, segment in zip(timer.FIRING_ORDER, named(drawn, "segment").outlines[:4], strict=True)
              if _between(_angle(middle), segment)]
        assert on == ([timer.touched(values)] if timer.touched(values) else [])
        seen.add(timer.touched(values))
    assert seen == {None, *timer.FIRING_ORDER}


def test_the_window_is_that_of_the_models_timer() -> None:
    """In a run of the car's timer the supply carries current only while the roller touches Alder's segment."""
    from lessons.panels import car

    values = timer.PANEL.defaults()
    run = car.run_window(Machine(), 450.0, 100.0, values["lever"], values["width"], record=True)
    for time, current in list(zip(run.strips.time, run.strips.current, strict=True))[::20]:
        crank = car.angle_of_time(time, 450.0) - car.TOP
        if abs(current) > 0.5 and crank < values["lever"] + values["width"] - 0.1:
            assert timer.touched({**values, "crank": crank}) == "Alder"
        if crank < values["lever"] - 0.1:
            assert abs(current) < 1e-6
            assert timer.touched({**values, "crank": crank}) is None


def test_the_presets_of_the_timer_do_what_they_say() -> None:
    on = {preset.label: timer.touched({**timer.PANEL.defaults(), **preset.values}) for preset in timer.PANEL.presets}
    assert on == {"Alder's window": "Alder", "Between two": None, "Lever later": None, "Next in the order": "Birch"}
    moved: Sequence[str] = [
        word for word in ("segment", "roller", "lever", "window")
        if named(timer.drawing(timer.PANEL.defaults()), word).outlines[0]
        != named(timer.drawing({**timer.PANEL.defaults(), "lever": 0.0}), word).outlines[0]
    ]
    assert moved == ["segment", "lever", "window"]


def test_every_drawing_is_found_by_its_name() -> None:
    assert {panel.name for panel in DRAWN} <= set(PANELS)
