"""The exercises of lesson 2, the coil.

Truths come from a break of the model (`lessons.panels.coil.one_break`), from `coilmodel.winding` and from
`coilmodel.condenser.available_voltage`; the coil is the one of the panels, so a learner may try everything there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from coilmodel.condenser import available_voltage
from coilmodel.winding import copper_resistivity, wire_resistance
from lessons.contracts import About, Misconception
from lessons.exercises.kinds import (
    Case,
    Draw,
    Trial,
    Variant,
    choice_exercise,
    function_exercise,
    number_exercise,
    ordering_exercise,
    remembered,
    sliders_exercise,
)
from lessons.panels import coil as panel
from lessons.panels.coil import Faults


@cache
def _layer() -> int:
    """Return how many turns one layer of the secondary has."""
    return panel.wound(panel.AS_WOUND).secondary.turns_per_layer


# -------------------------------------------------------------------------------------- 1: predict: half the current
SHARES = {
    0.5: ("It falls to a half as well.", "It falls to a quarter."),
    0.6: ("It falls to six tenths as well.", "It falls to a little over a third."),
    0.7: ("It falls to seven tenths as well.", "It falls to about a half."),
}


def _energy_share(of: Variant) -> str:
    """Return which option the model's own energy at the break bears out."""
    machine = panel.coil_machine(panel.AS_WOUND)
    before, after = (panel.the_break(panel.one_break(machine, of["current"] * share)).stored_energy for share in (1.0,
                                                                                                                  of["share"]))
    ways = {"linear": of["share"], "square": of["share"] ** 2, "same": 1.0}
    return min(ways, key=lambda name: abs(ways[name] - after / before))


HALF = choice_exercise(
    "02-less-current", 2, "Predict: less current at the break",
    prediction=True,
    about=About({"coil_winding": ("current",), "coil_ring": ("current",)}, "the current at the break"),
    variant=lambda draw: {"current": draw.between(4.0, 6.0, 0.2), "share": draw.pick(tuple(SHARES))},
    prompt=lambda of: (
        f"A coil's contacts part at {of['current']:.1f} A. After some tinkering they part at "
        f"{of['current'] * of['share']:.2g} A. What becomes of the energy that each break sets free for the spark? Say so "
        "before you touch the panel."
    ),
    options=lambda of: (
        ("linear", SHARES[of["share"]][0]), ("square", SHARES[of["share"]][1]),
        ("same", "It stays as it was: the condenser is the same."), ("more", "It grows: an early break is a quick one."),
    ),
    truth=remembered(_energy_share),
    right="The current makes the flux, and it is the current again that has to be pushed against that flux: so the "
          "energy goes with the square. This is why a coil that lets go a little early gives so much the weaker a spark.",
    look="On the panel of wire and iron, move the current and look at the chart of energy: is it a straight line or a curve?",
    hints=(
        "Where is the energy while the current flows: in the condenser, or in the field of the core?",
        "Twice the current makes twice the flux. And it flows against twice the back-push while it grows. What do two "
        "doublings make?",
        "Press the preset with less current on the panel, and compare the energy before and after.",
    ),
    misconceptions=(
        Misconception("energy-goes-with-current", lambda of: "linear",
                      "Energy does not go with the current but with its square. If it went with the current, the chart of "
                      "energy would be its dashed straight line. Read the solid curve at the two currents."),
        Misconception("condenser-holds-the-energy", lambda of: "same",
                      "The spark's energy is not kept in the condenser: while the contacts are closed they short it, and it "
                      "holds nothing. The energy stands in the core's field. Look which slider of the panel moves the "
                      "reading of the energy."),
        Misconception("quick-break-more-energy", lambda of: "more",
                      "A break cannot set free more than what was stored by then, and at a lower current less is stored. "
                      "Look at the reading of the energy as you lower the current."),
    ),
)


# -------------------------------------------------------------------------------------------- 2: energy at the break
ENERGY = number_exercise(
    "02-energy-at-the-break", 2, "Energy at the break",
    variant=lambda draw: {"inductance": draw.between(2.1, 3.3, 0.1), "current": draw.between(3.6, 6.2, 0.2)},
    prompt=lambda of: (f"A primary of {of['inductance']:.1f} mH carries {of['current']:.1f} A as the contacts part. What "
                       "energy does its field hold at that moment?"),
    truth=lambda of: 1e3 * panel.energy(1e-3 * of["inductance"], of["current"]), unit="mJ", units=("mJ", "J"), tolerance=0.02,
    right="A few hundredths of a joule: the work of lifting an apple by some centimetres, spent in less than a "
          "thousandth of a second.",
    look="Write the energy of a field with its inductance and the square of its current, and mind the milli.",
    hints=(
        "The current grows from nothing to its last value: on the average only half of the last flux is pushed against.",
        "Inductance times current is the flux linkage; half of that, times the current, is the work.",
        "Half the inductance, in henries, times the current squared gives joules.",
    ),
    misconceptions=(
        Misconception("energy-goes-with-current", lambda of: 0.5 * of["inductance"] * of["current"],
                      "You took the current once. Energy goes with its square: move the current on the panel and compare "
                      "the solid curve of energy with the dashed straight line."),
        Misconception("half-forgotten", lambda of: of["inductance"] * of["current"] ** 2,
                      "That would be right if the full flux had stood there from the start. It has grown from nothing "
                      "together with the current: look at the strip of a pulse, and take the average."),
    ),
)


# -------------------------------------------------------------------------------------------- 3: available voltage
def _break_variant(draw: Draw) -> dict[str, Any]:
    return {
        "current": draw.between(3.6, 6.0, 0.2), "inductance": draw.between(2.2, 3.2, 0.1),
        "capacity": draw.between(0.4, 0.55, 0.05),
        "ratio": draw.between(64.0, 76.0, 2.0), "own": draw.between(38.0, 50.0, 2.0), "emf": draw.between(10.0, 14.0, 0.5),
    }


def _available(of: Variant, condenser: float = 1.0, own: float = 1.0) -> float:
    """Return the available voltage in kV, either capacity multiplied by a factor."""
    return 1e-3 * available_voltage(of["current"], 1e-3 * of["inductance"], 1e-6 * of["capacity"] * condenser, of["ratio"],
                                    1e-12 * of["own"] * own)


AVAILABLE = number_exercise(
    "02-available-voltage", 2, "Where the kilovolts come from",
    variant=_break_variant,
    prompt=lambda of: (
        f"A magneto with an EMF of {of['emf']:.1f} V feeds a coil of {of['inductance']:.1f} mH; its turns ratio is "
        f"{of['ratio']:.0f}. The contacts break {of['current']:.1f} A across a condenser of {of['capacity']:.2f} uF. The "
        f"secondary with its lead has a capacity of {of['own']:.0f} pF of its own. What voltage does the break make "
        "available, if nothing is lost and the windings are perfectly coupled?"
    ),
    truth=_available, unit="kV", units=("kV", "V"), tolerance=0.02,
    right="All of the field's energy stands for a moment in the two capacities. The supply's dozen volts do not come "
          "into it at all: they only had to bring the current up.",
    look="All the energy of the field goes into two condensers at once: the one across the contacts, and the secondary's own.",
    hints=(
        "First the energy in the field at the break.",
        "At the top of the swing all of it is in the two condensers. Their voltages are tied to each other by the turns ratio.",
        "Seen from the secondary, the condenser counts with its capacity over the square of the ratio. Add the secondary's "
        "own, then solve half C V squared for V.",
    ),
    misconceptions=(
        Misconception("supply-times-ratio", lambda of: 1e-3 * of["emf"] * of["ratio"],
                      "You took the supply's volts times the turns ratio, as in a transformer. By that sum the coil could "
                      "not jump a quarter of a millimetre. What the ratio lifts is not the supply's voltage but that of the "
                      "contacts after the break: look at its strip on the panel."),
        Misconception("own-capacity-forgotten", lambda of: _available(of, own=0.0),
                      "You left out the secondary's own capacity. It is small, but charged to the high voltage, and so it "
                      "counts by the square of the ratio. If it did not, the solid curve on the chart of turns would be the "
                      "dashed line."),
        Misconception("condenser-forgotten", lambda of: _available(of, condenser=1e-5),
                      "You left out the condenser across the contacts. It is charged by the same swing and takes its share "
                      "of the energy. Change it on the panel of the ring and look at the peak."),
    ),
)


# ------------------------------------------------------------------------------------------------ 4: primary wire
def _wire_variant(draw: Draw) -> dict[str, Any]:
    return {"turns": draw.between(180.0, 260.0, 10.0), "mean": draw.between(14.0, 18.0, 0.5),
            "wire": draw.between(0.6, 0.9, 0.05)}


def _ohms(of: Variant, length: float = 1.0, diameter: float = 1.0) -> float:
    """Return the primary's resistance (ohm), wire length or diameter multiplied by a factor."""
    return wire_resistance(length * math.pi * 1e-3 * of["mean"] * of["turns"], diameter * 1e-3 * of["wire"])


WIRE = number_exercise(
    "02-primary-wire", 2, "What should the ohmmeter show?",
    variant=_wire_variant,
    prompt=lambda of: (
        f"A primary has {of['turns']:.0f} turns of {of['wire']:.2f} mm copper wire; the mean turn is {of['mean']:.1f} mm "
        f"across. A metre of copper wire of one square millimetre has {1e6 * copper_resistivity():.5f} ohm at 20 C. What "
        "resistance should you measure?"
    ),
    truth=_ohms, unit="ohm", units=("ohm", "mohm"), tolerance=0.02,
    right="Under an ohm: so short out the meter's tips first and subtract what it shows then. And do not look for a "
          "shorted turn in this way; it changes the reading by less than the last digit.",
    look="Length of the wire first, then its section, then ohms for each metre.",
    hints=(
        "How long is one turn, if you know how wide it is?",
        "What is the section of a round wire, if you know its diameter?",
        "Ohms for a metre of one square millimetre, times metres, over square millimetres.",
    ),
    misconceptions=(
        Misconception("diameter-for-radius", lambda of: _ohms(of, diameter=2.0),
                      "You put the wire's diameter where its radius belongs: that wire would be twice as thick. Draw its "
                      "cross-section."),
        Misconception("turn-as-long-as-wide", lambda of: _ohms(of, length=1.0 / math.pi),
                      "You took a turn to be as long as it is wide. Lay a thread once round a bolt and stretch it out: how "
                      "many widths is it long?"),
        Misconception("square-wire", lambda of: _ohms(of, length=math.pi / 4.0),
                      "You took the wire's section as its diameter squared. That is a square wire's; a round one has less "
                      "copper."),
    ),
)


# --------------------------------------------------------------------------------------------- 5: which fault
FAULT_NAMES = ("primary", "layer", "crack")


def _fault_variant(draw: Draw) -> dict[str, Any]:
    return {
        "fault": draw.pick(FAULT_NAMES), "turns": draw.pick((2, 3, 4)), "crack": draw.between(1.4, 2.6, 0.2),
        "current": draw.between(4.2, 5.8, 0.2),
    }


def fault(of: Variant) -> Faults:
    """Return the fault of a variant."""
    return {"primary": Faults(primary=of["turns"]), "layer": Faults(secondary=_layer()),
            "crack": Faults(crack=1e-3 * of["crack"])}[of["fault"]]


def bench_readings(of: Variant) -> tuple[tuple[float, float, float, float], ...]:
    """Return (primary ohm, secondary kohm, primary mH, peak kV) as shown, of the sound coil and of the faulty one."""
    rows = []
    for faults in (Faults(), fault(of)):
        machine = panel.coil_machine(panel.AS_WOUND, faults)
        peak = panel.the_break(panel.one_break(machine, of["current"])).peak_secondary_voltage
        c = machine.coil
        rows.append((round(c.primary_resistance, 2), round(1e-3 * c.secondary_resistance, 2),
                     round(1e3 * c.primary_inductance, 2), round(1e-3 * peak, 1)))
    return tuple(rows)


def _fault_prompt(of: Variant) -> str:
    said = [f"primary {r1:.2f} ohm and {mh:.2f} mH, secondary {r2:.2f} kohm, peak of the ring {kv:.1f} kV" for r1, r2, mh,
            kv in bench_readings(of)]
    return (f"Two coils of one pattern, each broken at {of['current']:.1f} A with the gap far away, condensers alike. The "
            f"good one: {said[0]}. The other: {said[1]}. (The inductance was measured with a slow alternating current.) What "
            "is wrong with the other?")


FAULT = choice_exercise(
    "02-which-fault", 2, "Read the fault off four readings",
    variant=_fault_variant,
    prompt=remembered(_fault_prompt),
    options=(
        ("primary", "A few turns of the primary are shorted."),
        ("layer", "A layer of the secondary is shorted."),
        ("crack", "The core's two halves do not meet: a gap of air lies across it."),
        ("magneto", "The magneto is weak."),
    ),
    truth=lambda of: str(of["fault"]),
    right="Shorted turns hardly show on any meter that measures slowly; they show in the ring. A gap across "
          "the core shows in the inductance.",
    look="Go through the readings one by one: which of them has moved by more than a few parts in a hundred?",
    hints=(
        "Begin with the inductance, which is mostly the core's business.",
        "Then the secondary's ohms. A layer is a few hundredths of all its turns: can you see that on the reading?",
        "If hardly anything has moved but the ring, which winding's turns are so few and so thick that a couple of them do "
        "that?",
    ),
    misconceptions=(
        Misconception("blames-the-magneto", lambda of: "magneto",
                      "Both coils were broken at the same current, so the magneto has had its say already. Set the panel to "
                      "that current: does a sound coil ring as low as this?"),
        Misconception("wrong-winding", lambda of: "layer" if of["fault"] == "primary" else "primary",
                      "With that fault another reading would have moved. Set it on the panel and go through the four: "
                      "primary ohms, secondary ohms, inductance, ring."),
        Misconception("iron-or-turns", lambda of: "layer" if of["fault"] == "crack" else "crack",
                      "Ask first whether it is iron or turns. Iron that is missing takes the inductance down, by much. "
                      "Shorted turns leave the slowly measured inductance nearly alone. Compare the two."),
    ),
)


# --------------------------------------------------------------------------------------------- 6: how bad is it?
def _order_variant(draw: Draw) -> dict[str, Any]:
    return {"current": draw.between(4.0, 6.0, 0.2), "turns": draw.pick((1, 2)), "crack": draw.between(0.5, 0.8, 0.1)}


def _four(of: Variant) -> dict[str, tuple[str, Faults]]:
    words = "one turn" if of["turns"] == 1 else "two turns"
    return {
        "layer": ("one layer of the secondary shorted", Faults(secondary=_layer())),
        "primary": (f"{words} of the primary shorted", Faults(primary=of["turns"])),
        "crack": (f"a gap of {of['crack']:.1f} mm across the core", Faults(crack=1e-3 * of["crack"])),
        "sound": ("nothing wrong", Faults()),
    }


def peaks(of: Variant) -> dict[str, float]:
    """Return the peak secondary voltage (V) of each of the four coils, from a break of the model."""
    found = {}
    for name, (_, faults) in _four(of).items():
        run = panel.one_break(panel.coil_machine(panel.AS_WOUND, faults), of["current"])
        found[name] = panel.the_break(run).peak_secondary_voltage
    return found


def _by_peak(of: Variant) -> list[str]:
    found = peaks(of)
    return sorted(found, key=lambda name: found[name])


ORDER = ordering_exercise(
    "02-how-bad-is-it", 2, "How bad is which fault?",
    variant=_order_variant,
    prompt=lambda of: (
        f"Four coils as wound on the panel, each with at most one fault, are broken at {of['current']:.1f} A with the gap "
        "far away. Order them by the peak of the secondary voltage, lowest first."
    ),
    items=lambda of: [(name, words) for name, (words, _) in _four(of).items()],
    truth=_by_peak,
    right="A turn of thick wire is a heavy burden by itself; of fine wire it takes a whole layer, but then it is the "
          "end of the coil. A gap costs inductance, and only the root of that is voltage.",
    look="Set each of them on the panel of the ring, at this current, and read the peak of the secondary.",
    hints=(
        "A shorted loop carries whatever current the collapsing flux can drive through its resistance. Which loop has "
        "little resistance for its number of turns?",
        "A gap takes energy away in the measure in which the inductance falls. The voltage goes with the root of the energy.",
        "The panel of the ring has each of these faults: keep the current as given.",
    ),
    misconceptions=(
        Misconception("few-turns-little-harm", lambda of: ["layer", "crack", "primary", "sound"],
                      "You thought that so few turns out of some hundreds can do little harm. The turns are not just "
                      "missing: they are a closed loop of thick wire round the core, and a current runs in it. Set it on "
                      "the panel and look at the ring."),
        Misconception("core-is-everything", lambda of: ["crack", "layer", "primary", "sound"],
                      "You put the gap across the core first. It takes inductance, and so energy, but nothing eats the ring that "
                      "remains. "
                      "Set the gap on the panel and compare the height of the ring with that of shorted turns."),
    ),
)


# ------------------------------------------------------------------------------------------------ 7: wind a coil
PASCHEN = 330.0  # V: what the opening contacts hold once the gap is beyond field emission (coilmodel.kernel.PASCHEN_MINIMUM)


def _winding_variant(draw: Draw) -> dict[str, Any]:
    return {
        "core": draw.between(12.5, 13.5, 0.5), "weak": draw.between(2.6, 2.8, 0.1), "strong": draw.between(5.9, 6.2, 0.1),
        "room": draw.between(34.0, 36.0, 0.5), "start": draw.pick((6000.0, 7000.0, 8000.0)),
    }


def _values(values: Mapping[str, Any], of: Variant) -> dict[str, Any]:
    return {**panel.AS_WOUND, "core": of["core"], **values}


def _width(values: Mapping[str, Any], of: Variant) -> float:
    """Return the winding's outside diameter in mm."""
    return 1e3 * panel.wound(_values(values, of)).secondary.outer_diameter


def _trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    given = _values(values, of)
    machine = panel.coil_machine(given)
    trials = []
    for where, current in (("At a low current", of["weak"]), ("At a somewhat higher current", 1.3 * of["weak"])):
        run = panel.one_break(panel.coil_machine(given, breakdown=panel.NOMINAL.gap.breakdown), current)
        trials.append(Trial(panel.the_break(run).fired, f"{where} the secondary does not reach what the plug's gap needs."))
    contact = panel.the_break(panel.one_break(machine, of["strong"])).peak_contact_voltage
    trials.append(Trial(contact < PASCHEN, "With the plug's lead off, at a high current, the contact voltage goes beyond "
    "what open contacts hold."))
    trials.append(Trial(_width(values, of) <= of["room"], "The coil does not go into its box."))
    return trials


def _good_winding(of: Variant) -> dict[str, float]:
    """Return a setting that is met: as many secondary turns as the box takes with a hair to spare, then the primary to them."""
    for primary in (190.0, 180.0, 200.0, 170.0):
        fits = [n for n in (14000.0 + 500.0 * i for i in range(17))
                if _width({"primary_turns": primary, "secondary_turns": n}, of) <= of["room"] - 0.3]
        values = {"primary_turns": primary, "secondary_turns": max(fits)}
        if all(trial.met for trial in _trials(values, of)):
            return values
    raise ValueError(f"No winding meets what is asked for {dict(of)}.")


WIND = sliders_exercise(
    "02-wind-a-coil", 2, "Wind a coil for its box",
    variant=_winding_variant,
    prompt=lambda of: (
        f"Somebody has rewound a coil on a {of['core']:.1f} mm core, with few secondary turns, and it fires only when the "
        "magneto runs well. Choose both numbers of turns. The coil must reach what the plug's gap needs when it breaks as "
        f"little as {of['weak']:.1f} A; with the plug's lead off, a break at {of['strong']:.1f} A must leave the contacts "
        f"under {PASCHEN:.0f} V, or they arc; and the winding must go into a box that has room for {of['room']:.1f} mm. "
        "The panel is held at the lower current; voltages go in step with the current. Wires and core length stay."
    ),
    panel="coil_winding",
    controls=(panel.PRIMARY_CONTROL, panel.SECONDARY_CONTROL),
    start=lambda of: {"primary_turns": 220.0, "secondary_turns": of["start"]},
    fixed=lambda of: {"core": of["core"], "primary_wire": panel.AS_WOUND["primary_wire"],
                      "secondary_wire": panel.AS_WOUND["secondary_wire"], "length": panel.AS_WOUND["length"],
                      "current": of["weak"]},
    check=_trials,
    truth=_good_winding,
    right="Primary turns bring energy, the ratio keeps the contacts' voltage low and the plug's high, and the box "
          "sets the end to both: a coil is a bargain between three sides.",
    hints=(
        "Three readings of the panel answer the three demands: available voltage, contact voltage, outside diameter. The "
        "model also loses a little, so leave some room.",
        "More secondary turns help with the first two, until the box is full.",
        "If the contact voltage is too high with the box full, there are too many primary turns: each of them takes from "
        "the ratio.",
    ),
    recognise={
        "secondary-is-all": lambda values, of: values["secondary_turns"] >= 24000.0,
        "more-primary-is-better": lambda values, of: values["primary_turns"] >= 280.0,
    },
    misconceptions=(
        Misconception("secondary-is-all", lambda of: {"primary_turns": 220.0, "secondary_turns": 28000.0},
                      "More and more secondary turns bring less and less voltage, and the box is long full. Look where the "
                      "solid curve flattens, and at the outside diameter."),
        Misconception("more-primary-is-better", lambda of: {"primary_turns": 320.0, "secondary_turns": 16500.0},
                      "So many primary turns store much energy, but they take from the ratio, so that the contacts have to "
                      "bear more of the voltage. Look at the contact voltage as you add them."),
    ),
)


# ---------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
from math import sqrt

def break_voltage(current, inductance, condenser, ratio, own):
    """Return the secondary voltage (V) that a break makes available, without losses.

    current: A at the break; inductance: H of the primary; condenser: F across the contacts
    ratio: secondary turns over primary turns; own: F, the secondary's own capacity
    """
    #: blank the energy in the field at the break, in joules
    energy = 0.5 * inductance * current ** 2
    #: end
    #: blank the capacity as the secondary sees it (condenser through the ratio, and its own); the voltage that holds the energy
    capacity = condenser / ratio ** 2 + own
    return sqrt(2.0 * energy / capacity)
    #: end
'''
_HEAD = "from math import sqrt\ndef break_voltage(current, inductance, condenser, ratio, own):\n"


def _cases(of: Variant) -> list[Case]:
    current, ratio = of["current"], of["ratio"]
    asked: Sequence[tuple[str, tuple[float, float, float, float, float]]] = (
        ("the coil is an ordinary one", (current, 2.6e-3, 0.45e-6, ratio, 60e-12)),
        ("the current is half as large", (0.5 * current, 2.6e-3, 0.45e-6, ratio, 60e-12)),
        ("the secondary has hardly any capacity", (current, 2.6e-3, 0.45e-6, ratio, 1e-15)),
        ("the condenser is very small", (current, 2.6e-3, 1e-9, ratio, 60e-12)),
        ("the ratio is low", (current, 3.1e-3, 0.3e-6, 0.5 * ratio, 50e-12)),
    )
    return [Case(words, given, available_voltage(*given)) for words, given in asked]


FUNCTION = function_exercise(
    "02-break-voltage", 2, "Write it: the voltage of a break",
    variant=lambda draw: {"current": draw.between(3.0, 6.0, 0.5), "ratio": draw.between(60.0, 90.0, 5.0)},
    prompt="For those who program: finish this function. It returns the voltage that a break makes available at the "
           "secondary, if no energy is lost. It will be tried on ordinary coils and on extreme ones.",
    name="break_voltage", source=SOURCE, cases=_cases,
    right="Two lines of energy give what would take a page of differential equations; what they leave out are the "
          "losses and the ripple of a loose coupling.",
    look="Take a coil with no capacity of its own: then the answer must be the ratio times what the contacts see.",
    hints=(
        "The field's energy has the current squared in it.",
        "A condenser across the contacts is charged to the secondary's voltage over the ratio. What capacity, at the full "
        "voltage, would hold the same energy?",
        "Capacity over the ratio squared. Then add the secondary's own, for both are charged at once.",
    ),
    misconceptions=(
        Misconception("energy-goes-with-current",
                      lambda of: f"{_HEAD}    energy = 0.5 * inductance * current\n    capacity = condenser / ratio ** 2 + "
                                 "own\n    return sqrt(2.0 * energy / capacity)\n",
                      "Your function lets the energy go with the current. Then half the current would still leave seven "
                      "tenths of the voltage; the coil keeps half. Look at the chart of energy: it is a curve."),
        Misconception("ratio-not-squared",
                      lambda of: f"{_HEAD}    energy = 0.5 * inductance * current ** 2\n    capacity = condenser / ratio + "
                                 "own\n    return sqrt(2.0 * energy / capacity)\n",
                      "Your function takes the condenser through the ratio once. Energy in a condenser goes with its "
                      "voltage squared, so the ratio comes in twice."),
        Misconception("own-capacity-forgotten",
                      lambda of: f"{_HEAD}    energy = 0.5 * inductance * current ** 2\n    return sqrt(2.0 * energy * ratio "
                                 "** 2 / condenser)\n",
                      "Your function leaves out the secondary's own capacity, so more turns would bring more volts for "
                      "ever. The chart of turns shows how it flattens."),
    ),
)

EXERCISES = (HALF, ENERGY, AVAILABLE, WIRE, FAULT, ORDER, WIND, FUNCTION)
