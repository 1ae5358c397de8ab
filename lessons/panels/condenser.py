"""Lesson 3: what the condenser does. The race at the points, the best value, self-discharge, and what a meter reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Opening, Run, kernel, simulate
from coilmodel.condenser import (
    FIELD_EMISSION,
    apparent_capacity,
    arc_margin,
    parallel,
    self_discharge,
    stored_energy,
    voltage_left,
)
from coilmodel.readings import first_openings, in_words, read
from lessons.contracts import Axis, Chart, Choice, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
CAPACITY = 1e6 * NOMINAL.condenser.capacitance  # uF
STRAY = 1e-9
"""Capacity (F) that stays when the condenser is taken out: that of winding and leads. From memory."""

CAPACITY_CONTROL = Control(
    "capacity", "Capacity", "uF", 0.0, 2.0, 0.01, round(CAPACITY, 2),
    "What you buy when you replace the condenser; nought is no condenser at all, only the wires' own thousandth of a microfarad.")
LEAKS = (("20e6", "20 Mohm: sound"), ("1e6", "1 Mohm"), ("1e4", "10 kohm"), ("1e3", "1 kohm"), ("1e2", "100 ohm"),
         ("20", "20 ohm: nearly a short"))
LEAKAGE_CONTROL = Choice(
    "leakage", "Leakage resistance", LEAKS, "20e6",
    "Old paper lets current through; the lower this resistance, the more current passes the condenser by.")
GAP_CONTROL = Control(
    "gap", "Spark gap needs", "kV", 4.0, 24.0, 0.5, round(1e-3 * NOMINAL.gap.breakdown, 1),
    "A plug under compression asks for more than one in the open: a coil that sparks on the bench may fail in the engine.")

RACE_MICROSECONDS = 100.0
AFTERWARDS = 2.0e-3  # s after the parting that the energies are shown for: the spark, and the points' way out and back
RACE_PULSES = 6
FLICKER = 0.5e-3  # J: an arc as the points part that takes less is no loss; our choice


def machine(values: Values) -> Machine:
    """Return the nominal machine with the condenser and spark gap of `values` (uF, ohm as text, kV)."""
    return NOMINAL.but(condenser={"capacitance": max(1e-6 * values["capacity"], STRAY),
                                  "leakage_resistance": float(values["leakage"])},
                       gap={"breakdown": 1e3 * values["gap"]})


# ------------------------------------------------------------------------------------------------------- the race
def _run(values: Values, pulses: int) -> Run:
    # 4000 rows a pulse keeps every step while the points are open: the race is over in a few dozen microseconds.
    return simulate(machine(values), MagnetoDrive(values["rpm"], values["drive"] / 100.0), pulses=pulses, warm_up=1,
                    record=(0, 0), rows_a_pulse=4000)


def _rows(run: Run, opening: Opening, seconds: float) -> range:
    """Return the strips' rows from the parting on, for `seconds`; the first is the parting itself."""
    times = run.strips.time
    first = next(i for i, t in enumerate(times) if t >= opening.time - 1e-9)
    last = next((i for i, t in enumerate(times) if t > opening.time + seconds), len(times))
    return range(first, last)


def _race_chart(run: Run, opening: Opening) -> Chart:
    s, arc_voltage = run.strips, run.machine.contacts.arc_voltage
    times: list[float] = []
    voltages: list[float] = []
    strengths: list[float] = []
    strike: Mark | None = None
    for i in _rows(run, opening, 1e-6 * RACE_MICROSECONDS):
        time = 1e6 * (s.time[i] - opening.time)
        strength = kernel.contact_gap_holds(s.vibrator[i] - s.cushion[i], arc_voltage)
        if times and s.arc[i] and not s.arc[i - 1]:
            # The strips have the voltage after an arc has struck; just before it stood where the gap broke down.
            times.append(time)
            voltages.append(strength)
            strengths.append(strength)
            strike = strike or Mark(time, strength, "an arc strikes", "note", "contact_voltage")
        times.append(time)
        voltages.append(abs(s.contact_voltage[i]))
        strengths.append(strength)
    return Chart(
        "race", "The race at the points", Axis("time since the points parted", "us", 0.0, RACE_MICROSECONDS),
        Axis("voltage", "V", 0.0, 800.0),
        (Line("voltage across the points", "contact_voltage", times, voltages),
         Line("what their gap can hold", "position", times, strengths, "dashed")), (strike,) if strike else ())


def energies(run: Run, opening: Opening, rows: Sequence[int]) -> dict[str, list[float]]:
    """Return, for each of `rows`, the energies in joules: in the field, in the condenser, in the secondary's own capacity; and
    spent so far in the spark and in the arc at the points (added up from the strips, strike by strike)."""
    s, m = run.strips, run.machine
    coil = m.coil
    leak = (1.0 - coil.coupling) * coil.primary_inductance
    fixed = coil.coupling * coil.primary_inductance - 2.0 * coil.pull_constant / coil.magnetic_gap
    own = m.magneto.inductance + leak
    found: dict[str, list[float]] = {name: [] for name in ("field", "condenser", "secondary", "spark", "arc")}
    spark = arc = 0.0
    out = -1e6  # when the spark last went out
    for place, i in enumerate(rows):
        if place:
            h, j = s.time[i] - s.time[i - 1], i - 1
            if s.spark[j]:
                spark += 0.5 * h * sum(s.secondary_voltage[k] * s.secondary_current[k] for k in (i, j))
            elif s.spark[i]:  # it has just struck: what stood in the winding's own capacity goes into it at once
                struck = kernel.spark_gap_holds(s.time[i] - out, m.gap.breakdown, m.gap.burn, m.gap.recovery)
                spark += 0.5 * coil.secondary_capacitance * (struck**2 - m.gap.burn**2)
            if s.spark[j] and not s.spark[i]:
                out = s.time[i]
            if s.arc[j]:
                arc += 0.5 * h * m.contacts.arc_voltage * (abs(s.current[j]) + abs(s.current[i]))
            elif s.arc[i]:
                held = kernel.contact_gap_holds(s.vibrator[i] - s.cushion[i], m.contacts.arc_voltage)
                arc += 0.5 * m.condenser.capacitance * (held**2 - m.contacts.arc_voltage**2)
        magnetising = fixed + 2.0 * coil.pull_constant / (coil.magnetic_gap - s.vibrator[i])
        found["field"].append(0.5 * own * s.current[i] ** 2 + 0.5 * leak * (coil.turns_ratio * s.secondary_current[i]) ** 2
                              + 0.5 * s.flux[i] ** 2 / magnetising)
        found["condenser"].append(0.5 * m.condenser.capacitance * s.contact_voltage[i] ** 2)
        found["secondary"].append(0.5 * coil.secondary_capacitance * s.secondary_voltage[i] ** 2)
        found["spark"].append(spark)
        found["arc"].append(arc)
    return found


def _after_charts(run: Run, opening: Opening, found: dict[str, list[float]], rows: range) -> tuple[Chart, ...]:
    s = run.strips
    times = [1e3 * (s.time[i] - opening.time) for i in rows]
    axis = Axis("time since the points parted", "ms", 0.0, 1e3 * AFTERWARDS)
    milli = {name: [1e3 * joules for joules in values] for name, values in found.items()}
    marks = [] if opening.spark_time is None else [Mark(1e3 * (opening.spark_time - opening.time), None, "spark", "spark",
                                                        "secondary")]
    if opening.closing_time is not None and opening.closing_time - opening.time < AFTERWARDS:
        marks.append(Mark(1e3 * (opening.closing_time - opening.time), None, "points close", "close"))
    return (
        Chart("stored", "Where the energy stands", axis, Axis("energy", "mJ", 0.0, 75.0),
              (Line("in the magnetic field", "energy", times, milli["field"]),
               Line("in the condenser", "energy", times, milli["condenser"], "dashed"),
               Line("in the secondary winding's own capacity", "energy", times, milli["secondary"], "dotted"))),
        Chart("spent", "Where it has gone", axis, Axis("energy", "mJ", 0.0, 105.0),  # 98 without a condenser
              (Line("into the spark", "energy", times, milli["spark"]),
               Line("into arcs at the points", "energy", times, milli["arc"], "dashed"))),
        Chart("secondary", "Secondary voltage", axis, Axis("voltage", "kV", -21.0, 11.0),  # 19 in the widest gap that still fires
              (Line("secondary voltage", "secondary", times, [1e-3 * s.secondary_voltage[i] for i in rows]),), tuple(marks)),
    )


def _race_words(opening: Opening) -> str:
    parted = f"The points part at {abs(opening.current):.1f} A and {opening.parting_speed:.2f} m/s."
    if opening.break_arc_energy > FLICKER:
        goes_on = opening.arc_energy > 1.1 * opening.break_arc_energy  # fed by the supply meanwhile
        until = f", {parts.number(1e3 * opening.arc_energy, 'mJ')} until they have closed again" if goes_on else ""
        race = ("The race is lost: the voltage overtakes the gap, and an arc at the points eats "
                f"{parts.number(1e3 * opening.break_arc_energy, 'mJ')} as they part{until}.")
    elif opening.break_arc_energy > 0.0:
        race = (f"The race is all but won: a flicker as they part, {parts.number(1e3 * opening.break_arc_energy, 'mJ')}, and no "
                "arc that lasts.")
    else:
        race = "The race is won: no arc as they part."
    if opening.spark_time is None:
        return f"{parted} {race} No spark: the secondary only comes to {1e-3 * opening.peak_secondary_voltage:.1f} kV."
    return (f"{parted} {race} The spark comes {1e6 * (opening.spark_time - opening.time):.0f} millionths of a second later and "
            f"takes {parts.number(1e3 * opening.spark_energy, 'mJ')}.")


def _race_readings(run: Run, opening: Opening, found: dict[str, list[float]]) -> tuple[Reading, ...]:
    current, capacity = abs(opening.current), run.machine.condenser.capacitance
    climb, margin = 1e-6 * current / capacity, arc_margin(max(current, 1e-6), capacity, min(opening.parting_speed, 100.0))
    grow = 1e-6 * FIELD_EMISSION * opening.parting_speed
    in_field, at_most = 1e3 * found["field"][0], 1e3 * stored_energy(capacity, opening.peak_contact_voltage)
    return (
        Reading("Voltage climbs by", parts.number(climb, "V/us"), climb, "V/us"),
        Reading("Gap's strength grows by", parts.number(grow, "V/us"), grow, "V/us"),
        Reading("Lead at the start (under 1 an arc strikes)", parts.number(margin, "times"), margin, "1"),
        Reading("Highest voltage across the points", parts.number(opening.peak_contact_voltage, "V", 3),
                opening.peak_contact_voltage, "V"),
        Reading("In the field as they part", parts.number(in_field, "mJ"), in_field, "mJ"),
        Reading("In the condenser as they part", f"{1e3 * found['condenser'][0]:.1f} mJ", 1e3 * found["condenser"][0], "mJ"),
        Reading("In the condenser at most", parts.number(at_most, "mJ"), at_most, "mJ"),
        Reading("Arc energy as they part", parts.number(1e3 * opening.break_arc_energy, "mJ"), 1e3 * opening.break_arc_energy,
                "mJ"),
        Reading("Spark energy", parts.number(1e3 * opening.spark_energy, "mJ"), 1e3 * opening.spark_energy, "mJ"),
    )


def _race_picture(values: Values, pulses: int) -> Picture:
    run = _run(values, pulses)
    opening = next((o for o in first_openings(run) if o.pulse == 0), None)
    if opening is None:
        return Picture(in_words(run), f"Nothing to draw. {in_words(run)}")
    rows = _rows(run, opening, AFTERWARDS)
    found = energies(run, opening, rows)
    readings, sentence = _race_readings(run, opening, found), _race_words(opening)
    if pulses > 1:
        share = read(run).sparks_per_pulse
        readings += (Reading("Sparks per pulse", f"{share:.2f}".rstrip("0").rstrip("."), share, "1"),)
    alt = (f"Two curves over the first {RACE_MICROSECONDS:.0f} millionths of a second after the points part: the voltage across "
           f"them, and what their growing gap can hold. Below, over {1e3 * AFTERWARDS:.0f} ms: stored energy, spent energy, "
           f"secondary voltage. As they part the field holds {1e3 * found['field'][0]:.0f} mJ and the condenser nothing; the "
           f"condenser holds {1e3 * max(found['condenser']):.0f} mJ at most. {sentence}")
    return Picture(sentence, alt, readings, charts=(_race_chart(run, opening), *_after_charts(run, opening, found, rows)))


RACE = Panel(
    "condenser_race", "The race at the points",
    "Before you touch anything: with the condenser taken out, what will the points do, and what will the spark do?",
    (CAPACITY_CONTROL, LEAKAGE_CONTROL, GAP_CONTROL, parts.speed_control(low=150.0), parts.drive_control(low=60.0)),
    compute=lambda values: _race_picture(values, RACE_PULSES), quick=lambda values: _race_picture(values, 1),
    presets=(
        Preset("Right condenser", {}, "The voltage stays under the dashed line, or touches it once: no arc that "
                                      "lasts. Below, the field empties, "
                                      "and the condenser only holds the energy for a moment."),
        Preset("No condenser", {"capacity": 0.0}, "The voltage meets the dashed line at once, and an arc burns. As the gap grows "
                                                  "the arc holds on, and takes nearly all there is. How much "
                                                  "goes into it, and how much into the spark?"),
        Preset("Too small", {"capacity": 0.1}, "The current outruns the parting points, and an arc takes a good part of the "
                                               "energy."),
        Preset("Too large", {"capacity": 2.0, "gap": 14.0}, "No arc as they part, but look at the secondary: the energy is "
                                                            "spread so thin that its voltage never reaches the gap's."),
        Preset("Leaky", {"leakage": "1e2"}, "The race is won and the spark is weak: the leak takes the current that should have "
                                            "made voltage."),
        Preset("As good as shorted", {"leakage": "20"}, "The leak carries the current on. Hardly any voltage, no spark."),
    ),
)


# ------------------------------------------------------------------------------------------------- the best value
SWEEP = (0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0)  # uF
SWEEP_PULSES = 2


@lru_cache(maxsize=64)
def energy_of(capacity: float, leakage: str, gap: float, rpm: float) -> tuple[float, float]:
    """Return (first spark's energy, arc energy as the points part) in mJ a pulse, averaged over `SWEEP_PULSES` pulses.

    capacity in uF, leakage in ohm as text, gap in kV, crank speed in rpm; a pulse without a spark counts as nought.
    """
    run = simulate(machine({"capacity": capacity, "leakage": leakage, "gap": gap}), MagnetoDrive(rpm), pulses=SWEEP_PULSES,
                   warm_up=1)
    first = first_openings(run)
    if not first:
        return 0.0, 0.0
    return (1e3 * sum(o.spark_energy for o in first) / len(first), 1e3 * sum(o.break_arc_energy for o in first) / len(first))


def _energy_picture(values: Values, whole: bool) -> Picture:
    setting = values["leakage"], values["gap"], values["rpm"]
    spark, arc = energy_of(values["capacity"], *setting)
    lines: tuple[Line, ...] = ()
    best = ""
    if whole:
        curve = [energy_of(capacity, *setting) for capacity in SWEEP]
        lines = (Line("into the spark", "energy", SWEEP, [pair[0] for pair in curve]),
                 Line("into the arc at the points", "energy", SWEEP, [pair[1] for pair in curve], "dashed"))
        free = [(pair[0], capacity) for capacity, pair in zip(SWEEP, curve, strict=True) if pair[1] < 0.5]
        if max(free, default=(0.0, 0.0))[0] > 0.0:
            best = f" Of the arc-free values drawn here, {max(free)[1]:.2g} uF gives the strongest spark."
    here = f"With {values['capacity']:.2f} uF the spark takes {spark:.0f} mJ and the arc at the points {arc:.0f} mJ."
    if spark == 0.0:
        here = f"With {values['capacity']:.2f} uF there is no spark; the arc at the points takes {arc:.0f} mJ."
    chart = Chart("energy", "Energy of one break, against capacity", Axis("capacity", "uF", 0.0, 2.0),
                  Axis("energy", "mJ", 0.0, 60.0), lines, (Mark(values["capacity"], spark, "your spark", "here", "energy"),))
    return Picture(f"{here}{best}", f"Two curves of energy against capacity, from nought to two microfarads. {here}{best}", (
        Reading("Spark energy", f"{spark:.0f} mJ", spark, "mJ"), Reading("Arc energy as they part", f"{arc:.0f} mJ", arc, "mJ"),
    ), charts=(chart,))


ENERGY = Panel(
    "condenser_energy", "Spark energy against capacity",
    "Which way will the curve go: up with capacity, down with it, or over a hill?",
    (CAPACITY_CONTROL, GAP_CONTROL, LEAKAGE_CONTROL, parts.speed_control(low=150.0)),
    compute=lambda values: parts.with_curves(_energy_picture(values, True)), quick=lambda values: _energy_picture(values, False),
    presets=(
        Preset("Easy gap", {"gap": 8.0}, "A gap in open air asks for little: even a large condenser fires it, and the hill is "
                                         "broad."),
        Preset("Gap under compression", {"gap": 14.0}, "The right-hand side falls away: the larger the condenser, the less "
                                                       "voltage is left."),
        Preset("Starting, gap under compression", {"gap": 14.0, "rpm": 200.0}, "Less current, less energy: the largest condenser "
                                                                               "that still fires is smaller than at speed."),
        Preset("Leaky condenser", {"gap": 14.0, "leakage": "1e2"}, "The hill is lower at every capacity: no other value makes up "
                                                                   "for a leak."),
    ),
)


# ------------------------------------------------------------------------------------------------- self-discharge
TRUE_LEAKS = (("2e10", "20 Gohm: new film"), ("2e8", "200 Mohm"), ("2e7", "20 Mohm"), ("5e6", "5 Mohm"), ("1e6", "1 Mohm"))
TIMING = 0.2
"""Doubt (s) of a wait that is timed by hand: our choice, no source."""
METERS = (("inf", "touched on at both ends only"), ("1e7", "10 Mohm, left on"), ("1e6", "1 Mohm, left on"))


def discharge(values: Values) -> Picture:
    """Return the picture of a self-discharge test: what is left after the wait, and what it says of the leakage."""
    true, meter = float(values["true_leak"]), float(values["meter"])
    capacity, volts, wait = 1e-6 * values["capacity"], values["volts"], values["wait"]
    together = parallel(true, meter)
    times = [wait * i / 60.0 for i in range(61)]
    alone = [voltage_left(volts, t, capacity, true) for t in times]
    seen = [voltage_left(volts, t, capacity, together) for t in times]
    chart = Chart(
        "discharge", "Voltage left on the condenser", Axis("time since it was charged", "s", 0.0, wait, "the wait"),
        Axis("voltage", "V", 0.0, 1.05 * volts, "the voltage at the start: what counts is which share of it is left"),
        (Line("condenser alone", "contact_voltage", times, alone, "dashed"), Line("as measured", "contact_voltage", times, seen)),
        (Mark(0.0, volts, "first reading", "note"), Mark(wait, seen[-1], "last reading", "here")))
    doubt = 0.01 * values["doubt"] * volts
    readings = (Reading("First reading", parts.number(volts, "V", 3), volts, "V"),
                Reading("Last reading", f"{seen[-1]:.1f} V", seen[-1], "V"))
    if seen[-1] < 2.0 * doubt:
        sentence = (f"After {wait:g} s there are {seen[-1]:.1f} V left, no more than the doubt of the readings: it leaks, but "
                    f"these two "
                    "readings put no figure to it. Wait less.")
        return Picture(sentence, f"Curve of voltage against time. {sentence}", readings, charts=(chart,))
    result = self_discharge(volts, seen[-1], wait, capacity, meter, doubt, min(TIMING, wait), 0.05 * capacity)
    vague = result.uncertainty > 0.5 * result.resistance or result.resistance > 1e15
    span = "no figure" if vague else _give_or_take(result.resistance, result.uncertainty)
    fell = f"From {volts:.0f} V to {seen[-1]:.1f} V in {wait:g} s"
    if vague:
        sentence = (f"{fell}: nothing here is surely the condenser's own loss, so there is no figure. All that can be said is "
                    f"that its leakage resistance is above {_ohms(result.at_least)}.")
    else:
        sentence = f"{fell}: the condenser leaks through {span}."
    return Picture(sentence, f"Curve of voltage against time. {sentence}", (
        *readings,
        Reading("Resistance seen, meter and condenser", _ohms(result.seen), result.seen, "ohm"),
        Reading("Leakage resistance of the condenser", span, min(result.resistance, 1e15), "ohm"),
        Reading("Surely above (97.5 %)", _ohms(result.at_least), min(result.at_least, 1e15), "ohm"),
    ), charts=(chart,))


def _scale(value: float) -> tuple[float, str]:
    return next(((size, unit) for size, unit in ((1e9, "Gohm"), (1e6, "Mohm"), (1e3, "kohm")) if value >= size), (1.0, "ohm"))


def _ohms(value: float) -> str:
    size, unit = _scale(value)
    return parts.number(value / size, unit)


def _give_or_take(value: float, doubt: float) -> str:
    size, unit = _scale(value)
    return f"{parts.number(value / size, unit)} give or take {parts.number(doubt / size, unit)}"


DISCHARGE = Panel(
    "condenser_discharge", "Self-discharge: how long does it keep its charge?",
    "A sound condenser is charged to 100 V and a meter left on it. Will the voltage stay?",
    (Choice("true_leak", "The condenser really leaks through", TRUE_LEAKS, "2e7", "On the bench you do not know this: the test "
                                                                                  "is to find it."),
     Control("capacity", "Capacity", "uF", 0.05, 2.0, 0.01, round(CAPACITY, 2), "A larger condenser holds out longer through the "
                                                                                "same leak."),
     Control("volts", "Charged to", "V", 10.0, 300.0, 10.0, 100.0,
             "A leak is worse at the voltage of its work, but more than 50 V can hurt you: keep to what you need."),
     Control("wait", "Wait", "s", 0.5, 120.0, 0.5, 10.0, "Wait too short and there is nothing to read; too long and there is "
                                                         "nothing left."),
     Choice("meter", "Voltmeter", METERS, "inf", "A meter that is left on drains the condenser itself, and a good one more "
                                                 "slowly than it does."),
     Control("doubt", "Doubt of each reading", "% of the first", 0.1, 5.0, 0.1, 1.0, "No meter is exact, and no hand is: a "
                                                                                     "reading is a range.")),
    compute=lambda values: parts.with_curves(discharge(values)),
    presets=(
        Preset("Doubtful condenser", {"true_leak": "5e6", "wait": 2.0}, "A good part of the voltage goes in two seconds: a leak "
                                                                        "that the test finds and puts a figure to."),
        Preset("Sound, meter left on", {"true_leak": "2e10", "meter": "1e7"}, "The voltage runs away, and nearly all of that is "
                                                                              "the meter. Look at what can be said of the "
                                                                              "condenser once the meter is taken out."),
        Preset("Sound, meter touched on", {"true_leak": "2e10", "wait": 60.0}, "Nothing is lost that this meter could see: no "
                                                                               "figure, only a bound."),
        Preset("Wait too short", {"true_leak": "2e8", "wait": 0.5}, "The loss is smaller than the doubt of the readings."),
        Preset("Wait too long", {"true_leak": "1e6", "wait": 10.0}, "All is gone long before the second reading: it leaks, and "
                                                                    "that is all one can say."),
    ),
)


# ------------------------------------------------------------------------------------------- a capacitance meter
METER_KINDS = (("size", "looks at the size of the current"), ("series", "takes it for a condenser and a resistor in a row"),
               ("parallel", "takes it for a condenser and a resistor side by side"))
PLACES = (("points", "across the points"), ("box", "at the box, through the primary winding"))


METER_ANGLE = 0.1
"""Degrees by which the side-by-side meter misjudges the timing of its current: our choice, no source."""


def meter_reading(capacity: float, values: Values) -> tuple[float, float]:
    """Return what the meter of `values` shows (uF; infinite or negative where it shows rubbish) for `capacity` (uF), and the
    ratio of resistive to capacitive current, the meter's D."""
    leak = float(values["leak"])
    across = leak if values["points"] == "apart" else parallel(leak, NOMINAL.contacts.resistance)
    through = values["place"] == "box"
    got = apparent_capacity(1e-6 * capacity, across, values["frequency"], NOMINAL.coil.primary_inductance if through else 0.0,
                            NOMINAL.coil.primary_resistance if through else 0.0)
    shown = {"size": got.magnitude, "series": got.series,
             "parallel": got.parallel + got.magnitude * math.radians(METER_ANGLE)}
    return 1e6 * shown[values["kind"]], got.dissipation


def capacity_meter(values: Values) -> Picture:
    """Return what a capacitance meter shows for every condenser from 0.05 to 1 uF, and for the one in hand."""
    sizes = [0.05 * i for i in range(1, 21)]
    shown = [meter_reading(size, values)[0] for size in sizes]
    reading, dissipation = meter_reading(values["capacity"], values)
    apart = values["points"] == "apart"
    chart = Chart(
        "meter", "What the meter shows, for each condenser that might be in there", Axis("true capacity", "uF", 0.0, 1.0),
        Axis("meter shows", "uF", 0.0, 2.0 if apart else 6000.0, "the points: closed, the meter shows thousands of times more"),
        (Line("meter shows", "plain", sizes, shown), Line("the truth", "contact_voltage", sizes, sizes, "dashed")),
        (Mark(values["capacity"], reading, "yours", "here"),))
    spread = abs(shown[-1] - shown[0]) / max(abs(reading), 1e-9)
    held = "held apart" if apart else "closed"
    wrong = abs(reading / values["capacity"] - 1.0)
    if apart and wrong < 0.1:
        verdict = f"That is its capacity within {math.ceil(100.0 * wrong + 0.5)} %. Of its leakage it says nothing."
    elif apart:
        verdict = "That is not its capacity: the resistive part is too large, or the winding in the way upsets the reading."
    elif spread < 0.1:
        verdict = "Any other condenser would show the same: the meter sees the points, and not the condenser at all."
    else:
        verdict = "It has nothing to do with the capacity."
    sentence = f"With the points {held} a {values['capacity']:.2f} uF condenser shows as {_microfarads(reading)}. {verdict}"
    return Picture(sentence, f"Curve of what the meter shows against the true capacity. {sentence}", (
        Reading("Meter shows", _microfarads(reading), reading, "uF"),
        Reading("True capacity", f"{values['capacity']:.2f} uF", values["capacity"], "uF"),
        Reading("Resistive over capacitive current (D)", f"{dissipation:.2g}" if dissipation < 100.0 else f"{dissipation:.0f}",
                dissipation, "1"),
    ), charts=(chart,))


def _microfarads(value: float) -> str:
    if not math.isfinite(value) or abs(value) >= 1e6:
        return "over a farad"
    return f"{float(f'{value:.3g}'):.0f} uF" if abs(value) >= 100.0 else f"{value:.3g} uF"


CAPACITY_METER = Panel(
    "condenser_meter", "What a capacitance meter reads",
    "The coil lies on the bench, the points at rest, closed. You put a capacitance meter across them. What will it show?",
    (Choice("points", "The points are", (("closed", "closed, as they lie"), ("apart", "held apart, with a slip of dry card")),
            "closed", "At rest the points are closed, and closed points short the condenser."),
     Control("capacity", "True capacity", "uF", 0.05, 1.0, 0.01, round(CAPACITY, 2), "What the meter ought to show."),
     Choice("leak", "Leakage resistance", LEAKS, "20e6", "A leaky condenser: does it show as a wrong capacity?"),
     Choice("kind", "The meter", METER_KINDS, "size", "Meters differ in what they make of a current that is not a condenser's "
                                                      "alone."),
     Control("frequency", "Meter's frequency", "Hz", 100.0, 2000.0, 50.0, 1000.0, "Many hand meters work near 100 or 1000 Hz."),
     Choice("place", "The meter is put", PLACES, "points", "At the box the primary winding is in the way.")),
    compute=lambda values: parts.with_curves(capacity_meter(values)),
    presets=(
        Preset("As it lies", {}, "The line is flat: whatever condenser is in there, the meter shows the same. Now hold the "
                                 "points apart."),
        Preset("Points held apart", {"points": "apart"}, "The two lines lie on each other: now the meter sees the condenser."),
        Preset("Leaky, held apart", {"points": "apart", "leak": "1e3"}, "In the race this leak takes nearly a third of the "
                                                                        "spark; here the capacity still reads right within a few "
                                                                        "percent. Capacity and leakage are two tests."),
        Preset("Very leaky, held apart", {"points": "apart", "leak": "1e2", "kind": "parallel"}, "The leak has taken half of the "
                                                                                                 "spark, and this kind of meter "
                                                                                                 "still shows the right "
                                                                                                 "capacity. Look at D: that is "
                                                                                                 "where a leak shows."),
        Preset("Through the primary", {"points": "apart", "place": "box"}, "A few percent high: the winding in the way is a "
                                                                           "small price at this frequency."),
    ),
)

PANELS = (RACE, ENERGY, DISCHARGE, CAPACITY_METER)
