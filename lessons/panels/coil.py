"""Lesson 2: the coil. From wire and iron to its numbers, and what rings after the contacts have broken the current.

The coil here is one that is *wound*: its numbers come from `coilmodel.winding`, so that turns, wire and core can be changed.
With the sliders as they start it is, within its tolerance, the nominal machine's coil (tests/lessons/test_lesson_02.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from coilmodel import BatteryDrive, Machine, Opening, Run, simulate
from coilmodel.condenser import available_voltage, ring_frequency
from coilmodel.winding import (
    WoundCoil,
    coil_from_winding,
    open_core_inductance,
    rod_demagnetising_factor,
    rod_permeability,
    solenoid_inductance,
)
from lessons.contracts import Axis, Chart, Choice, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

NOMINAL = Machine()
CAPACITY = NOMINAL.condenser.capacitance
IRON_PERMEABILITY, IRON_FILL = 500.0, 0.8  # of the wires, and the share of the bundle that is iron: those of `coil_from_winding`

PRIMARY_CONTROL = Control("primary_turns", "Primary turns", "1", 100.0, 400.0, 5.0, 220.0,
                          "More of them store more energy at the same current, but let the current grow more slowly.")
PRIMARY_WIRE_CONTROL = Control("primary_wire", "Primary wire", "mm", 0.4, 1.0, 0.05, 0.75,
                               "Bare diameter: thinner wire has more resistance and wastes the current as heat.")
SECONDARY_CONTROL = Control("secondary_turns", "Secondary turns", "1", 2000.0, 30000.0, 500.0, 16500.0,
                            "The ratio of the turns lifts the voltage, but the winding's own capacity counts by the square "
                            "of that ratio.")
SECONDARY_WIRE_CONTROL = Control("secondary_wire", "Secondary wire", "mm", 0.06, 0.14, 0.005, 0.095,
                                 "Finer than a hair at the low end: each step finer is more ohms and a smaller winding.")
CORE_CONTROL = Control("core", "Core, across the bundle", "mm", 8.0, 20.0, 0.5, 13.0,
                       "Thickness of the bundle of iron wires: more iron carries more flux.")
LENGTH_CONTROL = Control("length", "Core, end to end", "mm", 70.0, 160.0, 5.0, 100.0,
                         "A long core is a better path: the flux has to leave it at the ends and come back through air.")
CURRENT_CONTROL = Control("current", "Current at the break", "A", 1.0, 8.0, 0.1, 5.0,
                          "What flows as the contacts part: on the bench you read it as the opening current.")


def wound(values: Values) -> WoundCoil:
    """Return the coil of `values` (turns, mm), wound over nine tenths of its core (secondary: over 56 % of it)."""
    length = 1e-3 * values["length"]
    return coil_from_winding(
        1e-3 * values["core"], length, round(values["primary_turns"]), 1e-3 * values["primary_wire"], 0.9 * length,
        round(values["secondary_turns"]), 1e-3 * values["secondary_wire"], 0.56 * length,
        insulation_between=2.5e-3, stray_capacitance=42e-12, iron_permeability=IRON_PERMEABILITY, iron_fill=IRON_FILL)


def volts(coil: WoundCoil, current: float, capacity: float = CAPACITY) -> float:
    """Return the secondary voltage (V) that a break at `current` A makes available, without losses."""
    return available_voltage(current, coil.primary_inductance, capacity, coil.turns_ratio, coil.secondary_capacitance)


def energy(inductance: float, current: float) -> float:
    """Return the energy (J) in a coil's field: half the inductance times the current squared."""
    return 0.5 * inductance * current * current


# ------------------------------------------------------------------------------------------------ from wire and iron
def _turns_chart(values: Values, coil: WoundCoil) -> Chart:
    turns = [float(n) for n in range(2000, 30001, 1000)]
    coils = [wound({**values, "secondary_turns": n}) for n in turns]
    current = values["current"]
    contact = current * math.sqrt(coil.primary_inductance / CAPACITY)
    here = 1e-3 * volts(coil, current)
    return Chart(
        "turns", "Voltage that the break makes available, against secondary turns", Axis("secondary turns", "1", 0.0, 31000.0),
        Axis("voltage", "kV", 0.0, 90.0),  # 85 at 8 A
        (Line("available", "secondary", turns, [1e-3 * volts(c, current) for c in coils]),
         Line("if only the ratio counted", "secondary", turns, [1e-3 * c.turns_ratio * contact for c in coils], "dashed"),
         Line("the plug's gap needs", "plain", turns, [1e-3 * NOMINAL.gap.breakdown] * len(turns), "dotted")),
        (Mark(values["secondary_turns"], here, "here", "here", "secondary"),))


def _energy_chart(current: float, inductance: float) -> Chart:
    amperes = [0.2 * i for i in range(41)]
    now = 1e3 * energy(inductance, current)
    return Chart(
        "energy", "Energy in the core, against the current at the break", Axis("current at the break", "A", 0.0, 8.0),
        Axis("energy", "mJ", 0.0, 300.0), (Line("energy", "energy", amperes, [1e3 * energy(inductance, i) for i in amperes]),
         Line("if it went with the current itself", "energy", amperes, [now * i / current for i in amperes], "dashed")),
        (Mark(current, now, "here", "here", "energy"),))


LOOSE = 0.85  # coupling under which the sentence warns that the formula, which takes it as perfect, promises too much


def winding_picture(values: Values) -> Picture:
    """Return what wire and iron come to, and what a break at the given current makes available."""
    coil, current = wound(values), values["current"]
    stored, reached = energy(coil.primary_inductance, current), volts(coil, current)
    sentence = (f"This coil has {parts.number(coil.primary_resistance, 'ohm')} and "
                f"{parts.number(1e3 * coil.primary_inductance, 'mH')} in its primary and a turns ratio of "
                f"{coil.turns_ratio:.0f}. A break at {current:.1f} A frees {parts.number(1e3 * stored, 'mJ')}, enough for "
                f"{parts.number(1e-3 * reached, 'kV')} if nothing were lost.")
    if coil.coupling < LOOSE:
        sentence += (" But so thick a winding is far from the core and catches only part of its flux: less than this would "
                     "arrive at the secondary.")
    return Picture(
        sentence, f"Two charts: available voltage against secondary turns, and energy against current at the break. {sentence}", (
            Reading("Primary resistance", parts.number(coil.primary_resistance, "ohm"), coil.primary_resistance, "ohm"),
            Reading("Primary inductance", parts.number(1e3 * coil.primary_inductance, "mH"), 1e3 * coil.primary_inductance, "mH"),
            Reading("Turns ratio", parts.number(coil.turns_ratio, "to 1"), coil.turns_ratio, "1"),
            Reading("Secondary resistance", parts.number(1e-3 * coil.secondary_resistance, "kohm"),
                    1e-3 * coil.secondary_resistance, "kohm"),
            Reading("Coupling of the windings", parts.number(coil.coupling, "", 2).strip(), coil.coupling, "1"),
            Reading("Secondary's own capacity", parts.number(1e12 * coil.secondary_capacitance, "pF"),
                    1e12 * coil.secondary_capacitance, "pF"),
            Reading("Outside diameter", parts.number(1e3 * coil.secondary.outer_diameter, "mm", 3),
                    1e3 * coil.secondary.outer_diameter, "mm"),
            Reading("Energy at the break", parts.number(1e3 * stored, "mJ"), 1e3 * stored, "mJ"),
            Reading("Contact voltage, no losses", parts.number(reached / coil.turns_ratio, "V", 3), reached / coil.turns_ratio,
                    "V"),
            Reading("Available voltage, no losses", parts.number(1e-3 * reached, "kV"), 1e-3 * reached, "kV"),
        ), charts=(_turns_chart(values, coil), _energy_chart(current, coil.primary_inductance)))


WINDING = Panel(
    "coil_winding", "From wire and iron to volts",
    "Twice the secondary turns: twice the voltage?",
    (PRIMARY_CONTROL, SECONDARY_CONTROL, PRIMARY_WIRE_CONTROL, SECONDARY_WIRE_CONTROL, CORE_CONTROL, LENGTH_CONTROL,
     CURRENT_CONTROL),
    compute=lambda values: parts.with_curves(winding_picture(values)),
    presets=(
        Preset("As wound", {}, "The coil of the Larkfield Twelve (invented). Look how far the solid curve stands over the "
                               "dotted line."),
        Preset("Half the current", {"current": 2.5}, "A quarter of the energy, half of the voltage: look at both charts."),
        Preset("Nearly twice the secondary", {"secondary_turns": 30000.0}, "Nearly twice the turns, but nowhere near twice "
               "the voltage: the solid curve flattens. The dashed line is what the ratio promises."),
        Preset("Half the primary", {"primary_turns": 110.0}, "Half the turns are a quarter of the inductance, and a quarter "
        "of the energy at the same current."),
        Preset("Thicker core", {"core": 18.0}, "More inductance and more energy from the same turns and the same current: "
        "more iron for the flux."),
    ),
)


AS_WOUND = WINDING.defaults()


# ------------------------------------------------------------------------------------------------- after the break
@dataclass(frozen=True)
class Faults:
    """What is wrong with a coil. primary, secondary: shorted turns; iron: share left; crack: m of air across the core."""

    primary: int = 0
    secondary: int = 0
    iron: float = 1.0
    crack: float = 0.0


def shorted_resistance(coil: WoundCoil, faults: Faults) -> float:
    """Return the shorted turns' resistance (ohm) as the primary sees it; infinite where there are none.

    A loop of m turns with resistance m r, seen through N to m turns: m r (N/m)^2 = N^2 r/m. So a turn of fine wire is a mild
    burden and one of thick wire a heavy one. Agrees with `coilmodel.winding.shorted_turns` (tested).
    """
    n = coil.primary.turns
    burden = 0.0
    if faults.primary:
        burden += faults.primary / (n * coil.primary_resistance)
    if faults.secondary:
        burden += faults.secondary * coil.secondary.turns / (n * n * coil.secondary_resistance)
    return 1.0 / burden if burden else math.inf


def weak_core_inductance(values: Values, coil: WoundCoil, faults: Faults) -> float:
    """Return the primary inductance (H) with part of the iron gone, or with a crack right across the core.

    A crack of width g in a core of length l adds g/l to its demagnetising factor, as the gap does in a ring (any text); flux that
    bulges round the crack is left out, so a real crack is a little milder.
    """
    thick, long, p = 1e-3 * values["core"], 1e-3 * values["length"], coil.primary
    fill = IRON_FILL * faults.iron
    whole = open_core_inductance(p.turns, p.mean_diameter, p.length, thick, long, IRON_PERMEABILITY, fill)
    air = solenoid_inductance(p.turns, p.mean_diameter, p.length)
    bundle, shape = 1.0 + fill * (IRON_PERMEABILITY - 1.0), rod_demagnetising_factor(long / thick)
    sound = rod_permeability(bundle, shape) - 1.0
    cracked = rod_permeability(bundle, min(1.0, shape + faults.crack / long)) - 1.0
    return air + (whole - air) * cracked / sound


def coil_machine(values: Values, faults: Faults = Faults(), capacity: float = CAPACITY,
                 breakdown: float | None = None) -> Machine:
    """Return a machine with the wound coil of `values`, its vibrator held still and its pull left out: the circuit alone.

    capacity: of the condenser, F. breakdown: V of the spark gap; None takes the gap so far away that it never fires.
    """
    coil = wound(values)
    burden = shorted_resistance(coil, faults)
    inductance = weak_core_inductance(values, coil, faults)
    left1, left2 = 1.0 - faults.primary / coil.primary.turns, 1.0 - faults.secondary / coil.secondary.turns
    loss = NOMINAL.coil.core_resistance
    return NOMINAL.but(
        coil={"primary_inductance": inductance * left1 * left1, "primary_resistance": coil.primary_resistance * left1,
              "turns_ratio": coil.turns_ratio * left2 / left1, "coupling": coil.coupling,
              "secondary_resistance": coil.secondary_resistance * left2,
              "secondary_capacitance": coil.secondary_capacitance, "core_resistance": 1.0 / (1.0 / loss + 1.0 / burden),
              "pull_constant": 1e-10},
        condenser={"capacitance": capacity}, vibrator={"preload": 20.0}, gap={"breakdown": breakdown or 60e3})


def nominal_with(faults: Faults) -> Machine:
    """Return the whole nominal machine, on which the coil works its own contacts, with these faults in its coil.

    A weak core pulls less in the measure in which it gives less inductance: both are the flux that an ampere makes.
    """
    coil = wound(AS_WOUND)
    weak = weak_core_inductance(AS_WOUND, coil, faults) / coil.primary_inductance
    loss = 1.0 / (1.0 / NOMINAL.coil.core_resistance + 1.0 / shorted_resistance(coil, faults))
    return NOMINAL.scaled(coil_primary_inductance=weak, coil_pull_constant=weak).but(coil={"core_resistance": loss})


BREAK, AFTER = 30e-3, 2e-3  # s: the current has settled by then; how much of the ring is shown
SUPPLY = 0.15  # ohm


def one_break(machine: Machine, current: float) -> Run:
    """Run `machine` with a steady current (A), broken at BREAK by an ideal switch, with the strips of what follows.

    The supply's voltage is just what the current takes, so it is a few volts and counts for nothing after the break.
    """
    resistance = SUPPLY + machine.coil.primary_resistance + machine.contacts.resistance
    settled = -math.expm1(-BREAK * resistance / machine.coil.primary_inductance)
    drive = BatteryDrive(current * resistance / settled, SUPPLY, 0.0, pulse_time=BREAK + AFTER)
    return simulate(machine, drive, pulses=1, warm_up=0, record=(0, 0), prescribed_opening=BREAK, step=0.5, rows_a_pulse=8000)


def the_break(run: Run) -> Opening:
    """Return the one opening of `one_break`."""
    return run.openings[0]


MS = Axis("time from the break", "ms", -0.1, 1e3 * AFTER)


def _ring_strips(run: Run) -> tuple[Chart, ...]:
    s = run.strips
    kept = [i for i, t in enumerate(s.time) if t >= BREAK - 0.1e-3]
    times = [1e3 * (s.time[i] - BREAK) for i in kept]
    spark = the_break(run).spark_time
    marks = (Mark(0.0, None, "parts", "part"),)
    sparks = () if spark is None else (Mark(1e3 * (spark - BREAK), None, "spark", "spark", "secondary"),)
    high = 1e-3 * NOMINAL.gap.breakdown
    return (
        Chart("current", "Primary current", MS, Axis("current", "A", -9.0, 9.0),
              (Line("primary current", "current", times, [s.current[i] for i in kept]),), marks),
        Chart("contact_voltage", "Contact voltage", MS, Axis("voltage", "V", -550.0, 550.0),  # 460 with a small condenser
              (Line("contact voltage", "contact_voltage", times, [s.contact_voltage[i] for i in kept]),), marks),
        Chart("secondary", "Secondary voltage", MS, Axis("voltage", "kV", -36.0, 36.0),  # 33 at 8 A
              (Line("secondary voltage", "secondary", times, [1e-3 * s.secondary_voltage[i] for i in kept]),
               Line("the plug's gap needs", "plain", [times[0], times[-1]], [high, high], "dotted"),
               Line("or as much the other way", "plain", [times[0], times[-1]], [-high, -high], "dotted")), sparks),
    )


SHORTS = {
    "none": ("no shorted turn", Faults()),
    "primary": ("one turn of the primary shorted", Faults(primary=1)),
    "secondary": ("one turn of the secondary shorted", Faults(secondary=1)),
    "layer": ("one whole layer of the secondary shorted", Faults()),
}
def faults_of(values: Values) -> Faults:
    """Return the faults that the sliders of the ring panel describe."""
    chosen = SHORTS[values["short"]][1]
    if values["short"] == "layer":
        chosen = Faults(secondary=wound(AS_WOUND).secondary.turns_per_layer)
    return replace(chosen, iron=1e-2 * values["iron"], crack=1e-3 * values["crack"])


def ring_picture(values: Values) -> Picture:
    """Return one break of the wound coil, with its faults: current, contact voltage, secondary voltage."""
    capacity, current = 1e-6 * values["capacity"], values["current"]
    gap = NOMINAL.gap.breakdown if values["gap"] == "plug" else None
    machine = coil_machine(AS_WOUND, faults_of(values), capacity, gap)
    run = one_break(machine, current)
    o, c = the_break(run), machine.coil
    ideal = available_voltage(current, c.primary_inductance, capacity, c.turns_ratio, c.secondary_capacitance)
    hertz = ring_frequency(c.primary_inductance, capacity + c.turns_ratio**2 * c.secondary_capacitance)
    top, needed = 1e-3 * o.peak_secondary_voltage, 1e-3 * NOMINAL.gap.breakdown
    if o.fired:
        end = f"the gap breaks down at {top:.0f} kV and the spark takes {1e3 * o.spark_energy:.0f} mJ."
    elif gap is not None:
        end = f"the secondary reaches {top:.1f} kV, not the {needed:.0f} kV that the gap needs: no spark."
    else:
        end = f"the secondary swings up to {top:.1f} kV and rings out; a plug's gap needs {needed:.0f} kV."
    sentence = (f"The break at {current:.1f} A frees {parts.number(1e3 * o.stored_energy, 'mJ')}; the contacts see up to "
                f"{o.peak_contact_voltage:.0f} V, and {end}")
    return Picture(sentence, f"Strips of primary current, contact voltage and secondary voltage from just before the break to "
                   f"{1e3 * AFTER:.0f} ms after it. {sentence}", (
        Reading("Primary inductance", parts.number(1e3 * c.primary_inductance, "mH"), 1e3 * c.primary_inductance, "mH"),
        Reading("Primary resistance, by ohmmeter", parts.number(c.primary_resistance, "ohm", 3), c.primary_resistance, "ohm"),
        Reading("Secondary resistance, by ohmmeter", parts.number(1e-3 * c.secondary_resistance, "kohm", 3),
                1e-3 * c.secondary_resistance, "kohm"),
        Reading("Energy at the break", parts.number(1e3 * o.stored_energy, "mJ"), 1e3 * o.stored_energy, "mJ"),
        Reading("Contact voltage, peak", parts.number(o.peak_contact_voltage, "V"), o.peak_contact_voltage, "V"),
        Reading("Secondary voltage, peak", parts.number(top, "kV", 3), top, "kV"),
        Reading("No loss, perfect coupling: it would be", parts.number(1e-3 * ideal, "kV", 3), 1e-3 * ideal, "kV"),
        Reading("Main ring", parts.number(1e-3 * hertz, "kHz"), 1e-3 * hertz, "kHz"),
        Reading("Spark energy", parts.number(1e3 * o.spark_energy, "mJ"), 1e3 * o.spark_energy, "mJ"),
    ), strips=_ring_strips(run))


CAPACITY_CONTROL = Control("capacity", "Condenser", "uF", 0.1, 2.0, 0.05, round(1e6 * CAPACITY, 2), "It takes the current "
"over from the parting contacts: lesson 3 is about it.")
IRON_CONTROL = Control("iron", "Iron left in the core", "%", 15.0, 100.0, 5.0, 100.0, "Rust eats the wires of the bundle, "
"and wires get lost when a core is pulled out.")
CRACK_CONTROL = Control("crack", "Air gap across the core", "mm", 0.0, 3.0, 0.1, 0.0, "A core pushed in from both ends may "
"not meet in the middle: a gap of air across the whole flux.")
SHORT_CONTROL = Choice("short", "Shorted turns", tuple((key, words) for key, (words, _) in SHORTS.items()), "none", "Turns "
"that touch make a closed loop on the core, and the collapsing flux drives a current round it.")
GAP_CONTROL = Choice("gap", "Spark gap", (("none", "so far away that it never fires"), ("plug", "a plug's gap")), "none",
                     "Only without a spark does the whole ring show; at a real coil never do that.")

RING = Panel(
    "coil_ring", "What rings after the break",
    "One turn of the winding is shorted: is a turn of the thick primary worse, or one of the fine secondary?",
    (CURRENT_CONTROL, CAPACITY_CONTROL, SHORT_CONTROL, IRON_CONTROL, CRACK_CONTROL, GAP_CONTROL),
    compute=ring_picture,
    presets=(
        Preset("Sound, gap far away", {}, "The current swings into the condenser, both voltages leap up and ring a few "
        "times while the core's loss eats the energy."),
        Preset("Sound, with a plug", {"gap": "plug"},
               "The secondary never gets beyond what the gap needs: from there on the spark takes the energy."),
        Preset("Half the current", {"current": 2.5}, "Half the voltage, from a quarter of the energy."),
        Preset("One primary turn shorted", {"short": "primary"},
               "The ohmmeter hardly sees it. The ring has lost a quarter of its height, and nearly half of its energy."),
        Preset("One secondary turn shorted", {"short": "secondary"},
               "A single turn of the fine wire: can you see any difference?"),
        Preset("A secondary layer shorted", {"short": "layer"},
               "A layer that touches its neighbour's end: the ring is under half of what it was, though the ohmmeter shows "
               "only some hundredths less."),
        Preset("Core that does not meet", {"crack": 2.0}, "Less inductance, so less energy at the same current."),
    ),
)

PANELS = (WINDING, RING)
