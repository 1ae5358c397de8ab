"""Lesson 1: magneto current. EMF and current against crank angle, and the peak of the current against speed.

The *unbroken* current is what would flow if the contacts were held shut: a sine in the steady state, so it needs no run of
the model (tests/lessons/test_lesson_01.py holds it against one). Where the coil opens its contacts the model is run.
"""

from __future__ import annotations

import math

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.closed_forms import magneto_current
from coilmodel.machine import emf_peak
from coilmodel.readings import first_openings, in_words, read, sparks_in_pulses
from coilmodel.timing import electrical_frequency
from lessons.contracts import Axis, Chart, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import bad_coils, parts

NOMINAL = Machine()
INDUCTANCE = round(1e3 * NOMINAL.magneto.inductance, 2)  # mH
RESISTANCE = round(NOMINAL.magneto.resistance, 2)  # ohm

SPEED_CONTROL = parts.speed_control(low=40.0, high=1200.0)
DRIVE_CONTROL = parts.drive_control()
INDUCTANCE_CONTROL = Control(
    "inductance", "Magneto's inductance", "mH", 0.0, round(4.0 * INDUCTANCE, 1), 0.1, INDUCTANCE,
    "How hard the magneto's own winding holds the current back from changing. Alone it stands for iron round the winding; more "
    "turns would raise it with their square, the flux linkage in proportion.")
RESISTANCE_CONTROL = Control(
    "resistance", "Magneto and leads, resistance", "ohm", 0.05, 4.0, 0.05, RESISTANCE,
    "Winding, leads and joints together: a corroded joint adds to it, and nothing you see tells you so.")

JOINT = 0.6  # ohm that a corroded joint adds; this course's choice
TURNS = 0.7  # of the turns, in the preset that has fewer; this course's choice

WARM_UP = 4  # even, so that the recorded pulse is a positive half-cycle
FEW, MANY = 2, 10


def machine(values: Values) -> Machine:
    """Return the nominal machine on the magneto of `values` (mH, ohm)."""
    return NOMINAL.but(magneto={"inductance": 1e-3 * values["inductance"], "resistance": values["resistance"]})


def loop(m: Machine) -> tuple[float, float]:
    """Return resistance (ohm) and inductance (H) of the whole primary loop, contacts closed."""
    resistance = m.magneto.resistance + m.coil.primary_resistance + m.contacts.resistance
    return resistance, m.magneto.inductance + m.coil.primary_inductance


def unbroken_peak(m: Machine, rpm: float, drive: float = 1.0) -> float:
    """Return the peak (A) of the current with the contacts held shut; `drive` is a share of rated strength."""
    return magneto_current(drive * m.magneto.flux_linkage, *loop(m), electrical_frequency(rpm, m.magneto.pole_pairs))


def lag(m: Machine, rpm: float) -> float:
    """Return by how many degrees of crank the unbroken current comes after the EMF."""
    resistance, inductance = loop(m)
    omega = 2.0 * math.pi * electrical_frequency(rpm, m.magneto.pole_pairs)
    return math.degrees(math.atan2(omega * inductance, resistance)) / m.magneto.pole_pairs


def unbroken_current(m: Machine, rpm: float, degrees: float, drive: float = 1.0) -> float:
    """Return the unbroken current (A) some degrees of crank after a pulse of the EMF has begun."""
    return unbroken_peak(m, rpm, drive) * math.sin(math.radians(degrees - lag(m, rpm)) * m.magneto.pole_pairs)


def ceiling(m: Machine, drive: float = 1.0) -> float:
    """Return the peak (A) that the unbroken current comes near to at any high speed: flux linkage over inductance."""
    return drive * m.magneto.flux_linkage / loop(m)[1]


def corner_speed(m: Machine) -> float:
    """Return the speed (rpm) at which resistance and inductance hold the current back alike."""
    resistance, inductance = loop(m)
    return 60.0 * resistance / (2.0 * math.pi * inductance * m.magneto.pole_pairs)


def shut(m: Machine) -> Machine:
    """Return `m` with its vibrator wedged: a preload that no pull overcomes holds the contacts shut."""
    return m.but(vibrator={"preload": 20.0})


# --------------------------------------------------------------------------------------- against crank angle
def _angle_picture(values: Values, pulses: int) -> Picture:
    m, drive, rpm = machine(values), values["drive"] / 100.0, values["rpm"]
    run = simulate(m, MagnetoDrive(rpm, drive), pulses=pulses, warm_up=WARM_UP, record=(0, 1), rows_a_pulse=200)
    degrees = 180.0 / m.magneto.pole_pairs
    across = Axis("crank angle", "degrees", 0.0, 2.0 * degrees)
    grid = [2.0 * degrees * i / 160.0 for i in range(161)]
    late, peak, emf = lag(m, rpm), unbroken_peak(m, rpm, drive), emf_peak(m, MagnetoDrive(rpm, drive))
    start = run.first_pulse * run.pulse_seconds
    angles = [6.0 * rpm * (t - start) for t in run.strips.time]
    # Only the first parting of each pulse is marked: what the contacts do as they bounce back is lesson 5's business.
    marks = tuple(Mark(o.pulse * degrees + (o.crank_angle or 0.0), None, "parts", "part", "current")
                  for o in first_openings(run) if o.pulse < 2)
    strips = (
        Chart("emf", "EMF of the magneto", across, Axis("EMF", "V", -32.0, 32.0),  # 30 at 1200 rpm
              (Line("EMF", "emf", grid, [emf * math.sin(math.pi * a / degrees) for a in grid]),)),
        Chart("current", "Primary current", across, Axis("current", "A", -11.0, 11.0),  # 10.3 at the strongest drive
              (Line("contacts held shut", "current", grid, [unbroken_current(m, rpm, a, drive) for a in grid], "dashed"),
               Line("as the coil breaks it", "current", angles, run.strips.current)), marks),
        Chart("secondary", "Secondary voltage", across,
              Axis("voltage", "kV", -1.15e-3 * m.gap.breakdown, 1.15e-3 * m.gap.breakdown),
              (Line("secondary voltage", "secondary", angles, [1e-3 * v for v in run.strips.secondary_voltage]),),
              tuple(Mark(6.0 * rpm * (o.spark_time - start), None, "spark", "spark", "secondary")
                    for o in run.openings if o.pulse < 2 and o.spark_time is not None)),
    )
    result = read(run)
    held = (f"With the contacts held shut the current would peak at {peak:.1f} A, {late:.1f} degrees of crank after the EMF, "
            f"which peaks at {emf:.1f} V.")
    sentence = f"{held} {in_words(run)}"
    opening = result.opening_current.mean
    angle = None if result.opening_time.mean is None else 6.0 * rpm * result.opening_time.mean
    return Picture(sentence, f"Strips of EMF, primary current and secondary voltage over two pulses, {2.0 * degrees:.0f} "
                             f"degrees of crank. {held} {parts.describe(run, with_ladder=False)}", (
        Reading("Frequency", parts.number(electrical_frequency(rpm, m.magneto.pole_pairs), "Hz", 3),
                electrical_frequency(rpm, m.magneto.pole_pairs), "Hz"),
        Reading("EMF, peak", parts.number(emf, "V", 3), emf, "V"),
        Reading("Unbroken current, peak", parts.number(peak, "A", 3), peak, "A"),
        Reading("Current comes after the EMF by", parts.number(late, "degrees", 3), late, "degrees"),
        Reading("Opening current", parts.number(opening, "A", 3), opening, "A"),
        Reading("Crank angle at the opening", parts.number(angle, "degrees", 3), angle, "degrees"),
        Reading("Sparks per pulse", f"{result.sparks_per_pulse:.2f}".rstrip("0").rstrip("."), result.sparks_per_pulse, "1"),
    ), strips=strips)


ANGLE = Panel(
    "magneto", "EMF and current, degree by degree",
    "The contacts are held shut and the crank turns twice as fast: does twice the current flow?",
    (SPEED_CONTROL, DRIVE_CONTROL, INDUCTANCE_CONTROL, RESISTANCE_CONTROL),
    compute=lambda values: _angle_picture(values, MANY), quick=lambda values: _angle_picture(values, FEW),
    presets=(
        Preset("Driving speed", {}, "The dashed current, with the contacts held shut, comes long after the EMF. The coil's "
               "own current is broken early; starting afresh, it runs ahead of the dashed one."),
        Preset("Twice as fast", {"rpm": 900.0}, "The EMF is twice as tall. Look how little the dashed current has gained."),
        Preset("Hand crank", {"rpm": 150.0}, "A third of the speed, a third of the EMF; but the dashed current has lost far "
               "less than two thirds, and follows the EMF more closely."),
        Preset("Too slow", {"rpm": 80.0}, "The current is too small for the springs: the contacts stay shut and the two "
        "curves are one."),
        Preset("Corroded joint, hand crank", {"rpm": 150.0, "resistance": round(RESISTANCE + JOINT, 2)},
               "At hand-crank speed resistance rules: the "
               "current is cut down and nothing fires."),
        Preset("Weak magnets, hand crank", {"rpm": 150.0, "drive": bad_coils.WEAK}, "EMF and dashed current both shrink in step "
               "with the magnets; so little current does not overcome the springs."),
    ),
)


# --------------------------------------------------------------------------------------------- against speed
SLOWEST, FASTEST, PITCH = 40.0, 640.0, 10.0  # rpm: where the slowest speed is sought, and how finely


def sparks_every_pulse(m: Machine, rpm: float, drive: float) -> bool:
    """Say whether every one of three pulses, after two, holds a spark."""
    return min(sparks_in_pulses(simulate(m, MagnetoDrive(rpm, drive), pulses=3, warm_up=2))) > 0


def slowest_speed(m: Machine, drive: float) -> float | None:
    """Return the slowest speed (rpm, to 10) at which every pulse sparks, by halving the range; None: over 640."""
    low, high = 0, round((FASTEST - SLOWEST) / PITCH)
    if not sparks_every_pulse(m, FASTEST, drive):
        return None
    if sparks_every_pulse(m, SLOWEST, drive):
        return SLOWEST
    while high - low > 1:
        middle = (low + high) // 2
        if sparks_every_pulse(m, SLOWEST + PITCH * middle, drive):
            high = middle
        else:
            low = middle
    return SLOWEST + PITCH * high


def _speed_chart(m: Machine, drive: float, rpm: float, first: float | None) -> Chart:
    speeds = [10.0 * i for i in range(1, 121)]
    top, (resistance, _) = ceiling(m, drive), loop(m)
    peaks = [unbroken_peak(m, s, drive) for s in speeds]
    ohm = [emf_peak(m, MagnetoDrive(s, drive)) / resistance for s in speeds]
    marks = [Mark(rpm, unbroken_peak(m, rpm, drive), "here", "here", "current")]
    if first is not None:
        marks.append(Mark(first, unbroken_peak(m, first, drive), "slowest that fires", "note", "current"))
    return Chart(
        "speed", "Peak current with the contacts held shut, against speed", Axis("crank speed", "rpm", 0.0, 1250.0),
        Axis("current", "A", 0.0, 16.0),  # 13.6 without inductance in the magneto
        (Line("unbroken current", "current", speeds, peaks),
         Line("if only resistance held it back", "current", speeds, [i if i <= 1.2 * top else math.nan for i in ohm], "dashed"),
         Line("if only inductance did", "current", speeds, [top] * len(speeds), "dotted")), tuple(marks))


def _speed_picture(values: Values, search: bool) -> Picture:
    m, drive, rpm = machine(values), values["drive"] / 100.0, values["rpm"]
    first = slowest_speed(m, drive) if search else None
    here, top, corner = unbroken_peak(m, rpm, drive), ceiling(m, drive), corner_speed(m)
    rule = "resistance" if rpm < corner else "inductance"
    sentence = (f"At {rpm:.0f} rpm the unbroken current peaks at {here:.1f} A, {100.0 * here / top:.0f} % of its ceiling of "
                f"{top:.1f} A; {rule} holds it back most (they are equal at {corner:.0f} rpm).")
    readings = [
        Reading("Unbroken current here", parts.number(here, "A", 3), here, "A"),
        Reading("Ceiling: flux over inductance", parts.number(top, "A", 3), top, "A"),
        Reading("Resistance and inductance equal at", parts.number(corner, "rpm", 3), corner, "rpm"),
    ]
    if search:
        if first is None:
            sentence += f" This coil fires in every pulse at no speed up to {FASTEST:.0f} rpm."
            readings.append(Reading("Slowest speed that fires", "none"))
        else:
            there = unbroken_peak(m, first, drive)
            sentence += (f" This coil fires in every pulse from about {first:.0f} rpm, where the unbroken current reaches "
                         f"{there:.1f} A.")
            readings += [Reading("Slowest speed that fires", parts.number(first, "rpm", 3), first, "rpm"),
                         Reading("Unbroken current there", parts.number(there, "A", 3), there, "A")]
    return Picture(sentence, "Chart of peak current against speed, with its straight line for resistance and its level line "
                             "for "
                   f"inductance. {sentence}", tuple(readings), charts=(_speed_chart(m, drive, rpm, first),))


SPEED = Panel(
    "magneto_speed", "Peak current against speed",
    "Which one lowers the speed at which a coil begins to fire: less resistance, or less inductance?",
    (SPEED_CONTROL, DRIVE_CONTROL, INDUCTANCE_CONTROL, RESISTANCE_CONTROL),
    compute=lambda values: parts.with_curves(_speed_picture(values, True)), quick=lambda values: _speed_picture(values, False),
    presets=(
        Preset("As it should be", {}, "Steep at first, then level: the bend is where resistance and inductance count alike."),
        Preset("Corroded joint", {"resistance": round(RESISTANCE + JOINT, 2)}, "The ceiling stands where it stood, but the "
               "climb is slower: the coil needs a faster hand."),
        Preset("Weak magnets", {"drive": bad_coils.WEAK}, "Climb and ceiling are both lower, at every speed in the same "
               "proportion."),
        Preset("Half the magneto's inductance", {"inductance": round(0.5 * INDUCTANCE, 1)}, "With the same flux linkage, so "
               "with less iron round the same turns: the ceiling goes up; at hand-crank speed little has changed."),
        Preset("Fewer turns", {"drive": 100.0 * TURNS, "inductance": round(TURNS**2 * INDUCTANCE, 1),
                               "resistance": round(TURNS**2 * RESISTANCE, 1)}, "Seven tenths of the turns in the same space: "
               "seven tenths of the flux linkage, half the inductance and half the resistance. Most of the loop's inductance is "
               "the coil's own, so the ceiling comes down, and the hand must turn faster."),
    ),
)

PANELS = (ANGLE, SPEED)
