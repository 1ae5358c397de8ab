"""Lesson 4: what sets the current at which the vibrator lets go. Pull against springs, at rest and in motion."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Opening, Run, simulate
from coilmodel.readings import first_openings, in_words, read
from coilmodel.springs import coil_pull, current_for_pull
from lessons.contracts import Axis, Chart, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
PRELOAD = NOMINAL.vibrator.preload
STIFFNESS = 1e-3 * NOMINAL.vibrator.stiffness  # N/mm
GAP = 1e3 * NOMINAL.coil.magnetic_gap  # mm

PRELOAD_CONTROL = Control(
    "preload", "Vibrator preload", "N", round(0.4 * PRELOAD, 2), round(2.0 * PRELOAD, 2), 0.01, round(PRELOAD, 2),
    "The force with which the vibrator pushes up where the cushion sits on its rivet: what you change when you bend or tap it.")
GAP_CONTROL = Control(
    "gap", "Gap to the core", "mm", round(0.8 * GAP, 2), round(1.4 * GAP, 2), 0.01, round(GAP, 2),
    "From the vibrator to the core at the rivet's height, the fringes of the field counted in: the pull falls with its square.")
STIFFNESS_CONTROL = Control(
    "stiffness", "Vibrator stiffness", "N/mm", 0.0, round(6.0 * STIFFNESS, 2), 0.01, round(STIFFNESS, 2),
    "How much harder it pushes for each millimetre that it is drawn down: a thicker or shorter blade is stiffer.")
CUSHION_CONTROL = Control(
    "cushion", "Cushion preload", "N", 0.0, round(1.8 * NOMINAL.cushion.preload, 2), 0.01, round(NOMINAL.cushion.preload, 2),
    "The cushion pushes down, as the core pulls, until its rivet stops it: it takes part of the vibrator's force off the core.")

SLACK, TIGHT = round(0.7 * PRELOAD, 2), round(1.5 * PRELOAD, 2)  # N, a vibrator that is bent too little and one too much
LADDER_PULSES = 16


def machine(values: Values) -> Machine:
    """Return the nominal machine with the vibrator, gap and cushion of `values` (N, N/mm, mm, N); what is not given stays."""
    vibrator = {"preload": values["preload"], "stiffness": max(1e3 * values.get("stiffness", STIFFNESS), 1.0)}
    return NOMINAL.but(vibrator=vibrator, coil={"magnetic_gap": 1e-3 * values["gap"]},
                       cushion={"preload": values.get("cushion", NOMINAL.cushion.preload)})


# ------------------------------------------------------------------------------------------------------- statics
def springs_hold(m: Machine, place: float) -> float:
    """Return the force (N) with which the springs resist at `place` (m below the rivet's height; the bridge is at -travel).

    Above the rivet the cushion helps the core, and the pair moves as one; from the rivet on the vibrator is alone.
    """
    v, c = m.vibrator, m.cushion
    if place < 0.0:
        return v.preload - c.preload + (v.stiffness + c.stiffness) * place
    return v.preload + v.stiffness * place


def pull(m: Machine, current: float, place: float) -> float:
    """Return the core's pull (N) on the vibrator at `place` (m, as above) for a steady `current` (A)."""
    return coil_pull(m.coil.pull_constant, current, m.coil.magnetic_gap - place)


def current_to_balance(m: Machine, place: float) -> float:
    """Return the steady current (A) whose pull equals what the springs hold at `place` (m); nought where they hold nothing."""
    return current_for_pull(m.coil.pull_constant, max(springs_hold(m, place), 0.0), m.coil.magnetic_gap - place)


@dataclass(frozen=True)
class Statics:
    """What forces alone say. Currents in A; `snap_place` in m below the rivet's height, where the last hold is lost."""

    sets_off: float
    lets_go: float
    snap_place: float


def statics(m: Machine) -> Statics:
    """Return at which steady currents the pair leaves its bridge, and the points part, if the current is raised ever so slowly.

    The points part once no place from bridge to rivet is left at which the springs hold: at the largest balancing current.
    """
    places = [-m.cushion.travel * (1.0 - i / 200.0) for i in range(201)]
    balance = [current_to_balance(m, place) for place in places]
    lets_go = max(balance)
    return Statics(balance[0], lets_go, places[balance.index(lets_go)])


MOST_PULL = 8.0  # N on the charts of force: the strongest springs hold 5.2 on the core


def resting_place(m: Machine, current: float) -> float | None:
    """Return where (m below the rivet's height) the pair rests at a steady `current` (A), coming from the bridge; None: nowhere
    before the core."""
    start, end = -m.cushion.travel, m.vibrator.stop
    for i in range(601):
        place = start + (end - start) * i / 600.0
        if place >= 0.0 and start + (end - start) * (i - 1) / 600.0 < 0.0 and pull(m, current, 0.0) <= springs_hold(m, 0.0):
            return 0.0
        if pull(m, current, place) <= springs_hold(m, place):
            return place
    return None


def _way(m: Machine, place: float) -> float:
    """Return `place` (m below the rivet's height) as millimetres below the bridge: what the charts have across."""
    return 1e3 * (place + m.cushion.travel)


def _force_lines(m: Machine) -> tuple[list[float], list[float], Line]:
    """Return places (m), ways (mm) and the line of what the springs hold, with the step at the rivet drawn upright."""
    travel, stop = m.cushion.travel, m.vibrator.stop
    places = [-travel * (1.0 - i / 30.0) for i in range(30)] + [-1e-9, 0.0] + [stop * i / 40.0 for i in range(1, 41)]
    ways = [_way(m, place) for place in places]
    return places, ways, Line("what the springs hold", "force", ways, [springs_hold(m, place) for place in places])


def _force_chart(m: Machine, extra: Callable[[list[float], list[float]], tuple[Line, ...]], marks: tuple[Mark, ...]) -> Chart:
    places, ways, springs = _force_lines(m)
    return Chart("pull", "Pull against spring, from the bridge down to the core",
                 Axis("way down from the bridge", "mm", 0.0, 1.05 * ways[-1]),
                 Axis("force", "N", 0.0, MOST_PULL, cut="the pull close to the core, soon many times the spring's"),
                 (springs, *extra(places, ways)), (Mark(_way(m, 0.0), None, "rivet", "note"), *marks))


def _pull_line(m: Machine, current: float, name: str, dash: str) -> Callable[[list[float], list[float]], tuple[Line, ...]]:
    return lambda places, ways: (Line(name, "current", ways, [pull(m, current, place) for place in places], dash),)


def balance(values: Values) -> Picture:
    """Return the picture of pull against spring at a steady current."""
    m, current = machine(values), values["current"]
    still = statics(m)
    place = resting_place(m, current)

    def lines(places: list[float], ways: list[float]) -> tuple[Line, ...]:
        return (*_pull_line(m, current, f"pull at {current:.2f} A", "dashed")(places, ways),
                *_pull_line(m, still.lets_go, "pull at the snap-over", "dotted")(places, ways))

    marks = [Mark(_way(m, still.snap_place), springs_hold(m, still.snap_place), "snap-over", "part", "current")]
    if place is not None:
        marks.append(Mark(_way(m, place), min(pull(m, current, place), springs_hold(m, place)), "rests here", "here", "force"))
    readings = (
        Reading("Leaves the bridge at", parts.number(still.sets_off, "A"), still.sets_off, "A"),
        Reading("Lets go at (statics)", parts.number(still.lets_go, "A"), still.lets_go, "A"),
        Reading("Springs hold on the bridge", parts.number(springs_hold(m, -m.cushion.travel), "N"),
                springs_hold(m, -m.cushion.travel), "N"),
        Reading("Springs hold at the rivet", parts.number(springs_hold(m, 0.0), "N"), springs_hold(m, 0.0), "N"),
    )
    sentence = _balance_words(m, current, still, place)
    return Picture(sentence, "Chart of force against the way down from the bridge: what the springs hold, with a step up at the "
                   f"rivet, and the core's pull, which grows ever steeper towards the core. {sentence}", readings,
                   charts=(_force_chart(m, lines, tuple(marks)),))


def _balance_words(m: Machine, current: float, still: Statics, place: float | None) -> str:
    if springs_hold(m, -m.cushion.travel) <= 0.0 and place is not None and place < 0.0:
        return (f"The cushion is stronger than the vibrator: at {current:.2f} A the pair hangs {_way(m, place):.2f} mm below its "
                f"bridge, "
                "points closed.")
    if place is None:
        return (f"At {current:.2f} A there is no place left where the springs hold: the points part and the vibrator runs to the "
                f"core. It lets go at {still.lets_go:.2f} A.")
    short = springs_hold(m, place) - pull(m, current, place)
    if place <= -m.cushion.travel:
        return (f"At {current:.2f} A the springs hold the pair on its bridge: the pull is {short:.2f} N short. It leaves at "
                f"{still.sets_off:.2f} A.")
    if place < 0.0:
        return (f"At {current:.2f} A the pair has come {_way(m, place):.2f} mm down and rests there, points closed. It lets go "
                f"at {still.lets_go:.2f} A.")
    if place == 0.0:
        return (f"At {current:.2f} A the pair has run to the rivet and waits there, points still closed: the pull is {short:.2f} "
                f"N short. It lets go at {still.lets_go:.2f} A.")
    return f"At {current:.2f} A the points stand open, the vibrator resting {1e3 * place:.2f} mm below the rivet's height."


_STILL = statics(machine({"preload": PRELOAD_CONTROL.default, "gap": GAP_CONTROL.default}))


def _rounded(current: float) -> float:
    return round(20.0 * current) / 20.0


BALANCE = Panel(
    "vibrator_pull", "Pull against spring, at rest",
    "You raise the current ever so slowly. Will the pair creep down to the rivet, or jump?",
    (Control("current", "Steady current", "A", 0.0, 8.0, 0.05, _rounded(0.9 * _STILL.sets_off),
             "Here you hold the current still, as no magneto ever does: that is what statics means."),
     PRELOAD_CONTROL, GAP_CONTROL, STIFFNESS_CONTROL, CUSHION_CONTROL),
    compute=lambda values: parts.with_curves(balance(values)),
    presets=(
        Preset("Springs hold", {}, "On the bridge the dashed line is under the solid one: nothing moves."),
        Preset("Just off the bridge", {"current": _rounded(0.5 * (_STILL.sets_off + _STILL.lets_go))}, "The dashed line is over "
                                                                                                       "the solid one all the "
                                                                                                       "way to the rivet, so "
                                                                                                       "nothing stops the pair "
                                                                                                       "before it. There the "
                                                                                                       "springs' force steps up, "
                                                                                                       "and holds."),
        Preset("Snapped over", {"current": _rounded(1.03 * _STILL.lets_go)}, "The dashed line is over the solid one everywhere. "
               "The nearer the core, the stronger the pull: there is no turning back until the current is gone."),
        Preset("More preload, same current", {"current": _rounded(1.03 * _STILL.lets_go), "preload": round(1.3 * PRELOAD, 2)},
               "The same current no longer even lifts the pair off its bridge."),
        Preset("Wider gap, same current", {"current": _rounded(1.03 * _STILL.lets_go), "gap": round(1.15 * GAP, 2)},
               "Springs as they were, but the pull is weaker everywhere: a wider gap needs more current, just as more spring "
               "does."),
    ),
)


# ------------------------------------------------------------------------------------------------------ in motion
def pull_in(run: Run, row: int) -> float:
    """Return the core's pull (N) in a row of the strips, from the flux that the core really has then."""
    coil, s = run.machine.coil, run.strips
    gap = coil.magnetic_gap - s.vibrator[row]
    fixed = coil.coupling * coil.primary_inductance - 2.0 * coil.pull_constant / coil.magnetic_gap
    return coil.pull_constant * (s.flux[row] / (fixed + 2.0 * coil.pull_constant / gap) / gap) ** 2


def _pulse_start(run: Run) -> float:
    return run.first_pulse * run.pulse_seconds


def setting_off(run: Run, opening: Opening) -> int | None:
    """Return the strips' row in which the pair left the bridge for `opening`: the last in which it was within 3 % of the
    travel from it. None if it did not set off from rest: a bounce brings it off the bridge at a current far under statics'."""
    s, travel = run.strips, run.machine.cushion.travel
    rows = [i for i, t in enumerate(s.time) if t <= opening.time and s.vibrator[i] < -0.97 * travel]
    from_rest = rows and abs(s.current[rows[-1]]) > 0.7 * statics(run.machine).sets_off
    return rows[-1] if from_rest else None


def _forces_strip(run: Run) -> Chart:
    s, start = run.strips, _pulse_start(run)
    times = [1e3 * (t - start) for t in s.time]
    pulls = [pull_in(run, i) for i in range(len(times))]
    holds = [springs_hold(run.machine, x) for x in s.vibrator]
    partings = parts.telling(run, 0)
    return Chart("forces", "Pull against spring", parts.over_pulse(run), Axis("force", "N", 0.0, MOST_PULL),
                 (Line("pull of the core", "current", times, [min(f, MOST_PULL) for f in pulls], "dashed"),
                  Line("what the springs hold", "force", times, holds)),
                 tuple(Mark(1e3 * o.after, None, "parts again" if place else "parts", "part")
                       for place, o in enumerate(partings)))


def _path(run: Run, opening: Opening | None) -> tuple[Line, ...]:
    """Return the pull along the way down to the parting and on to where the vibrator turns back (it only goes onward)."""
    if opening is None:
        return ()
    s, m = run.strips, run.machine
    last = next(i for i, t in enumerate(s.time) if t >= opening.time - 1e-9)
    first = last  # walk back to where this way down began: before it the pair may have bounced about
    while first > 0 and s.vibrator[first - 1] < s.vibrator[first]:
        first -= 1
    while last + 1 < len(s.time) and s.vibrator[last + 1] >= s.vibrator[last]:
        last += 1
    ways: list[float] = []
    pulls: list[float] = []
    for i in range(first, last + 1):
        way = _way(m, s.vibrator[i])
        if way >= 0.0 and (not ways or way > ways[-1]):
            ways.append(way)
            pulls.append(pull_in(run, i))
    return (Line("pull, as it really runs", "current", ways, pulls, "dashed"),)


def _moving_picture(values: Values, pulses: int) -> Picture:
    m = machine(values)
    run = simulate(m, MagnetoDrive(values["rpm"], values["drive"] / 100.0), pulses=pulses, warm_up=1, record=(0, 0),
                   rows_a_pulse=400)
    result, still = read(run), statics(m)
    opening = next((o for o in first_openings(run) if o.pulse == 0), None)

    def lines(places: list[float], ways: list[float]) -> tuple[Line, ...]:
        return (*_path(run, opening), *_pull_line(m, still.lets_go, "pull at the snap-over (statics)", "dotted")(places, ways))

    sentence = in_words(run)
    extra = [f"By statics alone it would let go at {still.lets_go:.1f} A."]
    readings = (Reading("Lets go at (statics)", parts.number(still.lets_go, "A"), still.lets_go, "A"),
                *parts.opening_readings(result))
    row = setting_off(run, opening) if opening is not None else None
    if opening is not None and row is not None:
        took, began = 1e3 * (opening.time - run.strips.time[row]), abs(run.strips.current[row])
        readings += (Reading("Leaves the bridge at", parts.number(began, "A"), began, "A"),
                     Reading("From bridge to parting", parts.number(took, "ms"), took, "ms"))
        extra.append(f"The pair leaves the bridge at {began:.1f} A; {took:.2f} ms later the points part at "
                     f"{abs(opening.current):.1f} A.")
    return Picture(
        f"{sentence} {extra[0]}", parts.describe(run, extra), readings,
        strips=(parts.current_strip(run), _forces_strip(run), parts.position_strip(run), parts.secondary_strip(run)),
        charts=(_force_chart(m, lines, ()),), ladder=parts.ladder(run) if pulses > 1 else None, scene=parts.scene(run))


MOVING = Panel(
    "vibrator", "The vibrator at work",
    "Before you touch anything: you add a fifth to the vibrator's preload. What happens to the opening current?",
    (PRELOAD_CONTROL, GAP_CONTROL, parts.speed_control(), parts.drive_control()),
    compute=lambda values: parts.with_curves(_moving_picture(values, LADDER_PULSES)),
    quick=lambda values: _moving_picture(values, 1),
    presets=(
        Preset("Well set", {}, "In the chart of forces the dashed curve is the pull as it really runs. It is over the dotted "
                               "one, the pull that statics asks for, because the current goes on growing while the pair is under "
                               "way."),
        Preset("Turned slowly", {"rpm": 150.0}, "The current grows slowly now, and the points part close to what statics says."),
        Preset("More preload", {"preload": round(1.2 * PRELOAD, 2)}, "A fifth more spring: compare the opening current with the "
               "well-set coil's. Is it a fifth more?"),
        Preset("Too slack", {"preload": SLACK}, "It lets go sooner, and at a lower current: the spark is the weaker for it."),
        Preset("Too slack, turned slowly", {"preload": SLACK, "rpm": 150.0},
               "It lets go so soon that there is time to come back and let go again: two sparks a pulse, small and hollow on the "
               "ladder, neither of them strong enough. Hard to start."),
        Preset("Too tight, at speed", {"preload": TIGHT, "rpm": 700.0},
               "More spring did not make it safer. The pull that it asks for tears the vibrator down so fast that the cushion is "
               "left behind: look at the arc energy as they part, and compare the well-set coil at this speed."),
        Preset("Too tight, weak magneto", {"preload": TIGHT, "drive": 55.0},
               "The current never grows as far as this spring asks. No spark at all."),
    ),
)


# ------------------------------------------------------------------------------------ preload and opening current
SHARES = (0.8, 0.85, 0.9, 0.95, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5)
CURVE_PULSES, CURVE_WARM_UP = 1, 4


@lru_cache(maxsize=256)
def opening_current(preload: float, gap: float, rpm: float, drive: float) -> float | None:
    """Return the current (A) at which the points first part in a pulse; None where they do not. N, mm, rpm, percent."""
    run = simulate(machine({"preload": preload, "gap": gap}), MagnetoDrive(rpm, drive / 100.0), pulses=CURVE_PULSES,
                   warm_up=CURVE_WARM_UP)
    return read(run).opening_current.mean


def _curve_picture(values: Values, whole: bool) -> Picture:
    gap, rpm, drive = values["gap"], values["rpm"], values["drive"]
    preloads = [round(share * PRELOAD, 2) for share in SHARES]
    here = opening_current(values["preload"], gap, rpm, drive)
    still = [statics(machine({"preload": preload, "gap": gap})).lets_go for preload in preloads]
    lines = [Line("by statics", "force", preloads, still, "dotted")]
    if whole:
        runs = [opening_current(preload, gap, rpm, drive) for preload in preloads]
        lines.insert(0, Line("as it runs", "current", preloads, [math.nan if i is None else i for i in runs]))
        middle = runs[SHARES.index(1.0)]
        if middle is not None:
            root = [middle * math.sqrt(preload / preloads[SHARES.index(1.0)]) for preload in preloads]
            lines.append(Line("in step with the square root", "plain", preloads, root, "dashed"))
    static = statics(machine({"preload": values["preload"], "gap": gap})).lets_go
    if here is None:
        sentence = (f"With {values['preload']:.2f} N the points do not part at {rpm:.0f} rpm and {drive:.0f} % drive; statics "
                    f"asks for {static:.1f} A.")
    else:
        sentence = f"With {values['preload']:.2f} N the points part at {here:.1f} A; by statics alone, at {static:.1f} A."
    marks = () if here is None else (Mark(values["preload"], here, "your setting", "here", "current"),)
    chart = Chart("preload", "Opening current against vibrator preload", Axis("vibrator preload", "N", preloads[0], preloads[-1]),
                  Axis("opening current", "A", 1.0, 8.0), tuple(lines), marks)
    return Picture(sentence, f"Curves of opening current against preload, as it runs and by statics; all rise, and flatten. "
                             f"{sentence}", (
        Reading("Opening current", parts.number(here, "A"), here, "A"),
                                 Reading("Lets go at (statics)", parts.number(static, "A"), static, "A"),
    ), charts=(chart,))


CURVE = Panel(
    "vibrator_preload", "Opening current against preload",
    "Twice the preload: twice the current, more than twice, or less?",
    (Control("preload", "Vibrator preload", "N", round(SHARES[0] * PRELOAD, 2), round(SHARES[-1] * PRELOAD, 2), 0.01,
             round(PRELOAD, 2), PRELOAD_CONTROL.why), GAP_CONTROL, parts.speed_control(), parts.drive_control()),
    compute=lambda values: parts.with_curves(_curve_picture(values, True)), quick=lambda values: _curve_picture(values, False),
    presets=(
        Preset("At driving speed", {}, "The solid curve lies close to the dashed one: the opening current goes with the square "
                                       "root of the preload, nearly."),
        Preset("Turned slowly", {"rpm": 160.0}, "The same springs and lower currents: near the dotted line of statics. Where the "
                                                "curve ends, the magneto no longer gives the current."),
        Preset("Weak magneto", {"drive": 55.0},
               "The curve ends early: beyond it the springs ask for more than this magneto has."),
        Preset("Wider gap", {"gap": round(1.2 * GAP, 2)}, "All currents are higher, at every preload: bending the blade away "
                                                          "from the core does two things at once."),
    ),
)

PANELS = (MOVING, BALANCE, CURVE)
