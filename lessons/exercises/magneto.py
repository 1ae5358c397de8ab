"""The exercises of lesson 1, magneto current.

Every truth is `coilmodel.closed_forms.magneto_current` on the numbers of the variant, `coilmodel.timing`, or a run of the
panel's machine; tests/lessons/test_lesson_01.py holds the formula against the model with its contacts wedged shut.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.closed_forms import magneto_current
from coilmodel.timing import electrical_frequency
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
    sliders_exercise,
)
from lessons.panels import magneto as panel

NOMINAL = panel.NOMINAL
PAIRS = NOMINAL.magneto.pole_pairs
R_LOOP, L_LOOP = panel.loop(NOMINAL)


def _peak(rpm: float, flux: float = 1.0, resistance: float = 1.0, inductance: float = 1.0) -> float:
    """Return the unbroken peak current (A) of the nominal loop with its numbers multiplied by the given factors."""
    return magneto_current(flux * NOMINAL.magneto.flux_linkage, resistance * R_LOOP, inductance * L_LOOP,
                           electrical_frequency(rpm, PAIRS))


# ----------------------------------------------------------------------------------------- 1: predict: twice as fast
def _twice(of: Variant) -> str:
    gain = _peak(2.0 * of["rpm"]) / _peak(of["rpm"])
    if gain > 1.8:
        return "doubles"
    if gain > 1.25:
        return "half-more"
    return "little" if gain > 1.0 else "falls"


TWICE = choice_exercise(
    "01-twice-as-fast", 1, "Predict: turning twice as fast",
    prediction=True,
    about=About({"magneto": ("rpm",), "magneto_speed": ("rpm",)}, "the speed"),
    variant=lambda draw: {"rpm": draw.between(420.0, 560.0, 10.0)},
    prompt=lambda of: (
        f"A coil's contacts are held shut, and the magneto turns at {of['rpm']:.0f} rpm. Then it turns at "
        f"{2 * of['rpm']:.0f} rpm, and its EMF is twice as high. What becomes of the peak of the current? Say so before you "
        "touch the panel."
    ),
    options=(
        ("doubles", "It doubles: twice the EMF drives twice the current."),
        ("half-more", "It grows by about a half."),
        ("little", "It hardly grows at all."),
        ("falls", "It falls by half: there is only half the time to grow."),
    ),
    truth=_twice,
    right="Twice the EMF, but for half the time: the flux that each pulse brings is the same, and it is flux that an "
          "inductance turns into current. Turning faster than this brings more pulses, not bigger ones.",
    look="On the panel, compare the presets of the driving speed and of twice that speed: how tall is the dashed current in "
         "each?",
    hints=(
        "Two things happen at once: the EMF grows, and the time for which it pushes one way shrinks.",
        "What holds the current back here: the resistance of the wire, or the winding's slowness to let a current change?",
        "The area under one hump of the EMF is what a coil feels. Twice as tall and half as long: what has become of the area?",
    ),
    misconceptions=(
        Misconception("faster-always-more-current", lambda of: "doubles",
                      "That would be so if only resistance held the current back, as it does when you crank by hand. If it "
                      "went on so, the current would follow the straight dashed line on the chart of current against speed. "
                      "Look where it leaves that line."),
        Misconception("less-time-less-current", lambda of: "falls",
                      "You thought of the shorter time, which is half of the story: the EMF is taller in the same measure. "
                      "If only the time counted, the chart of current against speed would come down again on the right. "
                      "Does it?"),
    ),
)


# -------------------------------------------------------------------------------------------------- 2: frequency
FREQUENCY = number_exercise(
    "01-frequency", 1, "Frequency from speed",
    variant=lambda draw: {"rpm": draw.between(330.0, 870.0, 20.0), "magnets": draw.pick((8, 10, 12, 16, 20))},
    prompt=lambda of: (
        f"A flywheel carries {of['magnets']} magnets whose poles pass the winding north, south, north, south in turn: one "
        f"pole a magnet. It turns at {of['rpm']:.0f} rpm. What is the frequency of the magneto's EMF?"
    ),
    truth=lambda of: electrical_frequency(of["rpm"], of["magnets"] // 2), unit="Hz", units=("Hz", "kHz"), tolerance=0.01,
    right="A north and a south together make one full cycle, and so two pulses, one each way: a coil that is set "
          "right sparks twice in each cycle.",
    look="Count what passes the winding in one turn, then how many turns there are in a second.",
    hints=(
        "How many turns does the flywheel make in a second?",
        "How many full cycles, there and back, does the EMF make in one turn? A north pole pushes one way, a south pole the "
        "other.",
        "Frequency is pairs of poles times turns per second.",
    ),
    misconceptions=(
        Misconception("every-pole-is-a-cycle", lambda of: electrical_frequency(of["rpm"], of["magnets"]),
                      "You counted every magnet as a full cycle. That is the number of pulses a second. Look at the strip "
                      "of the EMF: does one hump make a cycle, or a hump and a hollow?"),
        Misconception("one-cycle-a-turn", lambda of: electrical_frequency(of["rpm"], 1),
                      "You took one cycle for each turn of the crank. So it would be with a single pair of poles. Look at "
                      "how few degrees of crank one cycle takes on the panel."),
        Misconception("rpm-is-per-second", lambda of: 60.0 * electrical_frequency(of["rpm"], of["magnets"] // 2),
                      "You took turns a minute for turns a second. At that rate the EMF strip would be over in a blink: "
                      "look how many milliseconds a pulse lasts."),
    ),
)


# ---------------------------------------------------------------------------------------------------- 3: ceiling
def _magneto_variant(draw: Draw) -> dict[str, Any]:
    return {
        "flux": draw.between(24.0, 36.0, 1.0), "drive": draw.between(78.0, 90.0, 2.0), "magneto": draw.between(1.2, 1.9, 0.1),
        "coil": draw.between(2.2, 3.2, 0.1), "resistance": draw.between(0.6, 0.9, 0.1),
    }


CEILING = number_exercise(
    "01-ceiling", 1, "The current that no speed exceeds",
    variant=_magneto_variant,
    prompt=lambda of: (
        f"A magneto's flux linkage peaks at {of['flux']:.0f} milliweber-turns when its magnets are fresh; now they give "
        f"{of['drive']:.0f} % of that. Its winding has {of['magneto']:.1f} mH, the coil's primary {of['coil']:.1f} mH, and "
        f"the whole loop {of['resistance']:.1f} ohm. The contacts are held shut. To what peak does the current come near, "
        "however fast the crank turns? (One milliweber over one millihenry is one ampere.)"
    ),
    truth=lambda of: 1e-2 * of["drive"] * of["flux"] / (of["magneto"] + of["coil"]), unit="A", units=("A", "mA"),
    right="Flux linkage over inductance: speed and resistance have both dropped out. To lift that ceiling one needs "
          "stronger magnets or less inductance.",
    look="At high speed the resistance hardly matters: ask what flux there is, and through what inductance it must be met.",
    hints=(
        "At high speed, which holds the current back: resistance or inductance? Leave the other one out.",
        "The current that flows makes as much flux in the loop as the magnets bring. Flux linkage is inductance times current.",
        "The current passes through both windings, one after the other: their inductances add. And the magnets are weaker "
        "than new.",
    ),
    misconceptions=(
        Misconception("only-the-coils-inductance", lambda of: 1e-2 * of["drive"] * of["flux"] / of["coil"],
                      "You counted the coil's inductance alone. If the magneto's own winding did not count, moving its "
                      "slider on the panel would leave the ceiling where it is. Try it."),
        Misconception("magnets-as-new", lambda of: of["flux"] / (of["magneto"] + of["coil"]),
                      "You took the magnets as fresh. If their strength made no difference the drive slider would do "
                      "nothing to the level line. Look what it does."),
        Misconception("only-the-magnetos-inductance", lambda of: 1e-2 * of["drive"] * of["flux"] / of["magneto"],
                      "You counted the magneto's inductance alone. That is its current into a short circuit. Here the "
                      "coil's primary is in the loop as well."),
    ),
)


# --------------------------------------------------------------------------------------------- 4: slowest speed
def _slow_variant(draw: Draw) -> dict[str, Any]:
    return {
        "flux": draw.between(28.0, 34.0, 1.0), "inductance": draw.between(4.0, 4.6, 0.1),
        "resistance": draw.between(0.6, 1.2, 0.1), "needed": draw.between(3.4, 4.2, 0.2),
    }


def _speed_for(of: Variant, reach: float) -> float:
    """Return the speed (rpm) of an EMF that drives the needed current through resistance and `reach` x reactance."""
    flux, inductance = 1e-3 * of["flux"], 1e-3 * of["inductance"]
    share = reach * of["needed"] * inductance / flux
    omega = of["needed"] * of["resistance"] / flux / math.sqrt(1.0 - share * share)
    return 60.0 * omega / (2.0 * math.pi * PAIRS)


def _speed_if_added(of: Variant) -> float:
    flux, inductance = 1e-3 * of["flux"], 1e-3 * of["inductance"]
    omega = of["needed"] * of["resistance"] / (flux - of["needed"] * inductance)
    return 60.0 * omega / (2.0 * math.pi * PAIRS)


SLOWEST = number_exercise(
    "01-slowest-speed", 1, "How fast must the crank turn?",
    variant=_slow_variant,
    prompt=lambda of: (
        f"A coil lets go once the unbroken current's peak reaches {of['needed']:.1f} A. The magneto has {PAIRS} pairs of "
        f"poles and a flux linkage of {of['flux']:.0f} milliweber-turns; the whole loop has {of['resistance']:.1f} ohm and "
        f"{of['inductance']:.1f} mH. At what crank speed does it begin to fire?"
    ),
    truth=lambda of: _speed_for(of, 1.0), unit="rpm", units=("rpm",), tolerance=0.02,
    right="And see what it hangs on: this slowest speed is in proportion to the resistance of the loop. Half an ohm "
          "in a tired joint is what makes an owner crank twice as hard.",
    look="Write the peak current as EMF over impedance, both with the unknown frequency in them, and solve for it.",
    hints=(
        "The EMF's peak is the flux linkage times the angular frequency. The impedance has resistance and reactance at "
        "right angles.",
        "Square both sides: current squared times (resistance squared plus reactance squared) is EMF squared. The unknown "
        "is in two of the three.",
        "Gather the angular frequency squared on one side: (flux squared less (current times inductance) squared). Then go "
        "from angular frequency to turns of the crank: mind the pairs of poles.",
    ),
    misconceptions=(
        Misconception("resistance-only", lambda of: _speed_for(of, 0.0),
                      "You let resistance alone hold the current back. That is the straight dashed line on the chart of "
                      "current against speed. Look how far below it the true curve already is at the current that is needed."),
        Misconception("impedances-just-add", _speed_if_added,
                      "You added resistance and reactance as if their voltages peaked together. One peaks with the current, "
                      "the other a quarter cycle before it: they add as the two short sides of a right-angled triangle do."),
        Misconception("one-cycle-a-turn", lambda of: PAIRS * _speed_for(of, 1.0),
                      "You took one cycle of the EMF for one turn of the crank. Such a magneto would have to spin like a "
                      "turbine. How many cycles does one turn make?"),
    ),
)


# ------------------------------------------------------------------------------------------- 5: what helps, where
CHANGES: dict[str, tuple[str, dict[str, float], float]] = {
    "as-is": ("nothing is changed", {}, 1.0),
    "inductance": ("the loop's inductance is halved", {"inductance": 0.5}, 1.0),
    "flux": ("the magnets are half as strong again", {"flux": 1.5}, 1.0),
    "speed": ("the crank turns twice as fast", {}, 2.0),
}


def _changed(rpm: float) -> list[str]:
    """Return the changes by the unbroken current that they lead to at `rpm`, lowest first."""
    def current(name: str) -> float:
        _, factors, faster = CHANGES[name]
        return _peak(faster * rpm, **factors)

    return sorted(CHANGES, key=current)


SLOW, FAST = 75.0, 520.0


def _other_regime(of: Variant) -> list[str]:
    return _changed(FAST if of["rpm"] < 200.0 else SLOW)


def _inductance_adds(of: Variant) -> list[str]:
    return ["inductance", *(name for name in _changed(of["rpm"]) if name != "inductance")]


HELPS = ordering_exercise(
    "01-what-helps-where", 1, "What helps at this speed?",
    variant=lambda draw: {"rpm": draw.pick((draw.between(70.0, 90.0, 2.0), draw.between(450.0, 600.0, 10.0)))},
    prompt=lambda of: (
        f"With the contacts held shut, the nominal coil and magneto turn at {of['rpm']:.0f} rpm. Order these four cases by "
        "the peak of the current, lowest first. Only one thing is changed in each."
    ),
    items=lambda of: [(name, CHANGES[name][0]) for name in _changed(of["rpm"])],
    truth=lambda of: _changed(of["rpm"]),
    right="Below the bend of the curve speed and flux help, and inductance hardly matters; above it speed has run "
          "out of effect, and inductance and flux are all that counts.",
    look="Find the speed on the chart of current against speed: is it left of the bend, where resistance rules, or right of "
         "it, where inductance does?",
    hints=(
        "Look up at which speed resistance and inductance count alike. Are you well below it, or well above?",
        "Well below: the current is EMF over resistance. Well above: it is flux over inductance.",
        "Try each change on the panel of current against speed, and read the unbroken current; double the speed by moving "
        "the crank.",
    ),
    misconceptions=(
        Misconception("other-regime", _other_regime,
                      "That is the order at a very different speed. Faster helps by much where resistance rules, and by "
                      "next to nothing where inductance does; with less inductance it is the other way about. On which side "
                      "of the bend is this speed?"),
        Misconception("inductance-adds-current", _inductance_adds,
                      "You let less inductance give less current. Inductance stores, but it also resists every change of "
                      "the current, and here the current changes all the time. Take its slider down on the panel and look "
                      "at the ceiling."),
    ),
)


# -------------------------------------------------------------------------------------------- 6: which fault
FAULTS: dict[str, tuple[str, float, float]] = {"magnets": ("flux", 0.6, 0.75), "joint": ("resistance", 1.7, 2.3),
                                               "iron": ("inductance", 1.7, 2.2)}


def _fault_variant(draw: Draw) -> dict[str, Any]:
    fault = draw.pick(tuple(FAULTS))
    _, low, high = FAULTS[fault]
    return {"fault": fault, "factor": draw.between(low, high, 0.05), "slow": draw.between(60.0, 80.0, 5.0),
            "fast": draw.between(700.0, 900.0, 50.0)}


def fault_meters(of: Variant) -> tuple[float, float, float, float]:
    """Return what an ammeter (RMS of a sine) shows: good slow, good fast, faulty slow, faulty fast, in A."""
    changed = {FAULTS[of["fault"]][0]: of["factor"]}
    peaks = [_peak(rpm, **factors) for factors in ({}, changed) for rpm in (of["slow"], of["fast"])]
    return tuple(peak / math.sqrt(2.0) for peak in peaks)  # type: ignore[return-value]


def _fault_prompt(of: Variant) -> str:
    good_slow, good_fast, slow, fast = fault_meters(of)
    return (f"An AC ammeter lies in the lead of a coil whose contacts are held shut. In a good car it shows {good_slow:.1f} "
            f"A at {of['slow']:.0f} rpm and {good_fast:.1f} A at {of['fast']:.0f} rpm. In this car it shows {slow:.1f} A and "
            f"{fast:.1f} A at the same speeds. What is wrong?")


FAULT = choice_exercise(
    "01-two-speeds", 1, "A fault found at two speeds",
    variant=_fault_variant,
    prompt=_fault_prompt,
    options=(
        ("magnets", "The magnets are weak."),
        ("joint", "There is resistance where none should be: a bad joint or lead."),
        ("iron", "There is too much inductance in the loop: a wrong winding, or iron where none should be."),
        ("condenser", "The condenser leaks."),
    ),
    truth=lambda of: str(of["fault"]),
    right="Resistance shows at low speed, inductance at high speed, and weak magnets at both alike: two readings "
          "tell three faults apart.",
    look="Take the ratio of this car's reading to the good one's, at each of the two speeds, and compare the two ratios.",
    hints=(
        "By what share is the reading short at the low speed? And at the high one?",
        "Which of the three - flux, resistance, inductance - matters at both speeds alike? Which only when slow, which only "
        "when fast?",
        "Set each fault on the panel of current against speed, and watch the left and the right end of the curve.",
    ),
    misconceptions=(
        Misconception("blames-the-condenser", lambda of: "condenser",
                      "With the contacts held shut the condenser is shorted by them and carries nothing. If its leakage "
                      "counted here, the current would change when you unhook it. Which parts does the current pass through?"),
        Misconception("first-suspect", lambda of: "joint" if of["fault"] == "magnets" else "magnets",
                      "That fault would leave another pair of readings: weak magnets take the same share at every speed, a "
                      "bad joint takes most at the low one. Work out both shares."),
        Misconception("ends-confused", lambda of: "joint" if of["fault"] == "iron" else "iron",
                      "Ask which end of the curve suffers. Too much inductance lowers the ceiling and spares the slow end; "
                      "look whether the slow reading or the fast one has lost more."),
    ),
)


# ----------------------------------------------------------------------------------- 7: set the magneto to the coil
def _setting_variant(draw: Draw) -> dict[str, Any]:
    return {
        "resistance": round(panel.RESISTANCE + draw.pick((0.3, 0.35)), 2), "limit": draw.pick((7.1, 7.2)),
        "slow": draw.pick((145.0, 150.0)), "fast": draw.between(900.0, 1100.0, 50.0),
        "drive": draw.between(50.0, 60.0, 1.0),
    }


def _magneto(values: Mapping[str, Any], of: Variant) -> Machine:
    return panel.machine({"inductance": values["inductance"], "resistance": of["resistance"]})


def _trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    machine, drive = _magneto(values, of), values["drive"] / 100.0
    trials = []
    for where, rpm in (("Cranked slowly", of["slow"]), ("Cranked a little faster", round(1.15 * of["slow"]))):
        fires = panel.sparks_every_pulse(machine, rpm, drive)
        trials.append(Trial(fires, f"{where}, some pulses bring no spark."))
    for where, rpm in (("Driven fast", of["fast"]), ("Driven faster still", 1.3 * of["fast"])):
        # long enough for the current's first surge to die out: four time constants of the loop
        resistance, inductance = panel.loop(machine)
        settle = 2 * math.ceil(2.0 * inductance / resistance * 2.0 * electrical_frequency(rpm, PAIRS))
        peak = simulate(panel.shut(machine), MagnetoDrive(rpm, drive), pulses=2, warm_up=settle).meter.peak
        trials.append(Trial(peak <= of["limit"], f"{where}, the unbroken current goes over the limit."))
    return trials


def _good_magneto(of: Variant) -> dict[str, float]:
    """Return the middle of the inductances that are met at the first drive that has any."""
    for drive in (121.0, 118.0, 124.0):
        met = [values for step in range(16) for values in [{"drive": drive, "inductance": round(1.9 + 0.1 * step, 1)}]
               if all(trial.met for trial in _trials(values, of))]
        if met:
            return met[len(met) // 2]
    raise ValueError(f"No drive and inductance serve {dict(of)}.")


SET = sliders_exercise(
    "01-set-the-magneto", 1, "A magneto for the hand and for the road",
    variant=_setting_variant,
    prompt=lambda of: (
        f"The Larkfield's leads are long: magneto and leads have {of['resistance']:.2f} ohm together, and its magnets are "
        "tired. You may re-magnetise (drive) and choose a winding (inductance). The coil must spark in every pulse when it "
        f"is cranked at {of['slow']:.0f} rpm, and yet with the contacts held shut the current's peak must not exceed "
        f"{of['limit']:.1f} A however fast the car goes. Set drive and inductance."
    ),
    panel="magneto_speed",
    controls=(panel.DRIVE_CONTROL, panel.INDUCTANCE_CONTROL),
    start=lambda of: {"drive": of["drive"], "inductance": panel.INDUCTANCE},
    fixed=lambda of: {"resistance": of["resistance"], "rpm": 450.0},
    check=_trials,
    truth=_good_magneto,
    right="Flux enough for a slow hand, and inductance enough to hold the current down on the road. That is the good "
          "of a magneto's inductance: it limits the current without wasting anything, as a resistance would.",
    hints=(
        "Read two things off the panel: the slowest speed that fires, and the ceiling.",
        "At the slow end flux over resistance counts, and you cannot change the resistance. So get the flux first.",
        "Then bring the ceiling down under the limit with the slider that hardly touches the slow end.",
    ),
    recognise={
        "more-drive-is-all": lambda values, of: values["drive"] >= 110.0 and values["inductance"] <= panel.INDUCTANCE + 0.15,
        "ceiling-is-all": lambda values, of: values["drive"] <= 65.0,
    },
    misconceptions=(
        Misconception("more-drive-is-all", lambda of: {"drive": 140.0, "inductance": panel.INDUCTANCE},
                      "Stronger magnets alone lift both ends: the slow hand is served, but the ceiling goes up by the same "
                      "share. Look at the level line, and ask what else it depends on."),
        Misconception("ceiling-is-all", lambda of: {"drive": 55.0, "inductance": panel.INDUCTANCE},
                      "The ceiling is well kept, but a slow hand gets no spark, and what inductance does to the ceiling, it "
                      "does not do there. Look at the slowest speed that fires."),
    ),
)


# ----------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
from math import pi, sqrt

def peak_current(flux, resistance, inductance, rpm, pairs):
    """Return the peak (A) of a magneto's current with the contacts held shut.

    flux: peak flux linkage in weber-turns; resistance in ohm and inductance in henry, of the whole loop
    rpm: crank speed; pairs: pairs of poles
    """
    #: blank the angular frequency in radians a second, from speed and pairs of poles
    omega = 2.0 * pi * pairs * rpm / 60.0
    #: end
    emf = omega * flux
    #: blank EMF over impedance, and return it
    return emf / sqrt(resistance ** 2 + (omega * inductance) ** 2)
    #: end
'''
_HEAD = "from math import pi, sqrt\ndef peak_current(flux, resistance, inductance, rpm, pairs):\n"
_OMEGA = "    omega = 2.0 * pi * pairs * rpm / 60.0\n"


def _cases(of: Variant) -> list[Case]:
    flux, slow, fast = 1e-3 * of["flux"], of["slow"], of["fast"]
    asked: Sequence[tuple[str, tuple[float, float, float, float, int]]] = (
        ("the crank turns slowly", (flux, 0.7, 4.3e-3, slow, 8)),
        ("the crank turns fast", (flux, 0.7, 4.3e-3, fast, 8)),
        ("the magneto has other poles", (flux, 0.7, 4.3e-3, fast, 6)),
        ("the loop has hardly any inductance", (flux, 1.1, 1e-6, slow, 8)),
        ("the loop has hardly any resistance", (flux, 1e-4, 4.3e-3, slow, 10)),
    )
    return [Case(words, given, magneto_current(given[0], given[1], given[2], electrical_frequency(given[3], given[4]))) for words,
            given in asked]


FUNCTION = function_exercise(
    "01-peak-current", 1, "Write it: peak current at any speed",
    variant=lambda draw: {"flux": draw.between(24.0, 36.0, 1.0), "slow": draw.between(60.0, 120.0, 10.0),
                          "fast": draw.between(500.0, 900.0, 50.0)},
    prompt="For those who program: finish this function. It returns the peak of the current that a magneto drives through "
           "the coil while the contacts are held shut. It will be tried at slow and fast speeds, and on loops in which only "
           "resistance or only inductance counts.",
    name="peak_current", source=SOURCE, cases=_cases,
    right="One line holds both regimes: for a slow crank the inductance drops out of it, for a fast one the speed does.",
    look="Try your function by hand with the inductance at nought, where it must give EMF over resistance, then with the "
         "resistance at nought.",
    hints=(
        "Turns a second, times pairs of poles, is cycles a second. A cycle is two pi radians.",
        "Reactance is angular frequency times inductance. How do resistance and reactance add?",
        "At right angles: the impedance is the long side of the triangle whose short sides they are.",
    ),
    misconceptions=(
        Misconception("impedances-just-add", lambda of: f"{_HEAD}{_OMEGA}    return omega * flux / (resistance + omega * "
        "inductance)\n",
                      "Your function adds resistance and reactance as they are. It is right where one of them vanishes, and "
                      "too low in between, most of all at the bend. Their voltages do not peak together: add their squares."),
        Misconception("resistance-only", lambda of: f"{_HEAD}{_OMEGA}    return omega * flux / resistance\n",
                      "Your function lets the current grow with speed for ever. It follows the straight line of the chart; "
                      "the coil does not. What is missing is the inductance."),
        Misconception("pairs-forgotten", lambda of: f"{_HEAD}    omega = 2.0 * pi * rpm / 60.0\n    return omega * flux / "
        "sqrt(resistance ** 2 + (omega * inductance) ** 2)\n",
                      "Your function lets the EMF swing once in a turn. It would be right for a single pair of poles. How "
                      "many cycles does a turn make?"),
    ),
)

EXERCISES = (TWICE, FREQUENCY, CEILING, SLOWEST, HELPS, FAULT, SET, FUNCTION)
