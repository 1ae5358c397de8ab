"""The exercises of lesson 3, condenser function.

What sparks and arcs do comes from runs of the nominal machine with the condenser of the panel "condenser_race"; what meters show
comes from `coilmodel.condenser`. Runs are short, so that a browser's plain Python keeps nobody waiting.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coilmodel import MagnetoDrive, simulate
from coilmodel.condenser import (
    apparent_capacity,
    arc_free_speed,
    meter_with_contacts,
    self_discharge,
    stored_energy,
    voltage_left,
)
from coilmodel.readings import Readings, read
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
from lessons.panels import condenser as panel

CAPACITY = panel.CAPACITY_CONTROL.default  # uF, as the panel shows it
PULSES, WARM_UP = 4, 2
WORTH_A_BURN = 0.5
"""Arc energy (mJ) at the break, beyond the well-set coil's, under which the points count as free of it; our choice."""

SOUND_LEAKAGE = 1e6
"""ohm: a condenser under this is not fitted again, whatever its spark; common practice, no source."""


def _readings(capacity: float, gap: float, rpm: float, drive: float = 100.0, leakage: str = "20e6") -> Readings:
    """Return a short run's readings: capacity in uF, gap in kV, crank speed in rpm, drive in percent, leakage in ohm as text."""
    machine = panel.machine({"capacity": capacity, "leakage": leakage, "gap": gap})
    return read(simulate(machine, MagnetoDrive(rpm, drive / 100.0), pulses=PULSES, warm_up=WARM_UP))


# --------------------------------------------------------------------------------------- 1: predict: no condenser
def _without(of: Variant) -> str:
    """Say what becomes of the spark, and of the points, with the condenser taken out."""
    sound, out = (_readings(capacity, of["gap"], of["rpm"]) for capacity in (CAPACITY, 0.0))
    left = out.first_spark_energy / sound.first_spark_energy
    if left > 1.05:
        return "stronger"
    if 1e3 * out.break_arc_energy > 10.0 and left < 0.3:
        return "burns"
    return "dead" if left < 0.05 else "same"


WITHOUT = choice_exercise(
    "03-no-condenser", 3, "Predict: the condenser taken out",
    prediction=True,
    about=About({"condenser_race": ("capacity",), "condenser_energy": ("capacity",)}, "the capacity"),
    variant=lambda draw: {"rpm": draw.between(400.0, 500.0, 10.0), "gap": draw.between(9.0, 12.0, 0.5)},
    prompt=lambda of: (
        f"A good coil fires a gap of {of['gap']:.1f} kV at {of['rpm']:.0f} rpm. Someone takes its condenser out and closes the "
        f"box again. "
        "What will the very next pulses bring? Say so before you touch the panel."
    ),
    options=(
        ("burns", "An arc burns at the points and eats the energy: what is left makes hardly a spark, or none."),
        ("dead", "No spark, and the points stay dark: the energy used to come out of the condenser."),
        ("stronger", "A stronger spark: the condenser no longer soaks up part of the energy."),
        ("same", "The same spark: the condenser is there for the life of the points, and they wear over months."),
    ),
    truth=remembered(_without),
    right="The energy was in the magnetic field all along. Without the condenser the current forces its way across the "
          "parting points as an arc, which spends there what the spark should have had, break after break.",
    look="Set the panel to no condenser and read two numbers: the arc's energy and the spark's.",
    hints=(
        "As the points part the current cannot stop at once. Where can it go, if there is no condenser?",
        "Ask where the energy is in the instant before the points part, while they still short the condenser.",
        "The panel's chart of where the energy has gone has two lines: into the spark, into arcs. Compare the first two presets.",
    ),
    misconceptions=(
        Misconception("condenser-stores-the-spark", lambda of: "dead",
                      "That would be so if the condenser stored the spark's energy. But until the points part they short it: it "
                      "is empty. Look at the chart of where the energy stands: which line is high at the start?"),
        Misconception("condenser-soaks-it-up", lambda of: "stronger",
                      "If the condenser only took energy away, the points would part without trouble when it is gone. Look at "
                      "the race without it: what does the voltage do, and who eats the energy now?"),
        Misconception("condenser-for-long-life-only", lambda of: "same",
                      "If it were only a matter of wear, the first spark without a condenser would be as good as the last one "
                      "with it. Compare the spark's energy in the first two presets."),
    ),
)


# ------------------------------------------------------------------------------------- 2: which capacity, how much
def _capacities(draw: Draw) -> dict[str, Any]:
    picks = ((1.7, 1.8, 1.9), (0.04,), (0.07,), (0.43, 0.45, 0.47))
    return {
        "capacities": [draw.pick(values) for values in picks],
        "rpm": draw.between(420.0, 480.0, 10.0),
    }


def _key(capacity: float) -> str:
    return f"c{round(100 * capacity)}"


def _by_energy(of: Variant) -> list[str]:
    def energy(capacity: float) -> float:
        return _readings(capacity, 14.0, of["rpm"]).first_spark_energy

    return [_key(capacity) for capacity in sorted(of["capacities"], key=energy)]


ORDER = ordering_exercise(
    "03-order-the-condensers", 3, "Four condensers, four sparks",
    variant=_capacities,
    prompt=lambda of: (
        f"The same coil at {of['rpm']:.0f} rpm must fire a plug that asks for 14 kV. Order these condensers by the energy of the "
        f"spark "
        "that they give: weakest first. One of them gives none."
    ),
    items=lambda of: [(_key(capacity), f"condenser of {capacity:.2f} uF") for capacity in of["capacities"]],
    truth=_by_energy,
    right="Over a hill: too small, and the arc at the points eats the energy; too large, and it is spread so thin that "
          "the voltage never reaches the gap's.",
    look="On the panel of energy against capacity, set the gap and read the curve at the four capacities.",
    hints=(
        "Two things can go wrong, one at either end. Which of them costs part of the spark, and which the whole of it?",
        "A voltage that does not reach the gap's gives no spark at all, however much energy there is.",
        "Find the four capacities on the curve of the panel, with the gap that the question names.",
    ),
    misconceptions=(
        Misconception("bigger-is-stronger", lambda of: [_key(c) for c in sorted(of["capacities"])],
                      "That is the order if a bigger condenser made a stronger spark. It holds more, but the energy is the "
                      "field's, and a bigger condenser turns it into less voltage. Look at the right-hand end of the curve."),
        Misconception("smaller-is-livelier", lambda of: [_key(c) for c in sorted(of["capacities"], reverse=True)],
                      "That is the order if only the voltage counted. A small condenser's voltage overtakes the parting points, "
                      "and an arc eats the energy. Look at the left-hand end of the two curves."),
    ),
)


# --------------------------------------------------------------------------------- 3: who holds most, who sparks
def _holders(of: Variant) -> tuple[Readings, Readings]:
    return tuple(_readings(capacity, of["gap"], of["rpm"]) for capacity in (CAPACITY, of["large"]))  # type: ignore[return-value]


def _held(capacity: float, result: Readings) -> float:
    """Return the most energy (mJ) that the condenser of `capacity` uF came to hold after a break."""
    return 1e3 * stored_energy(1e-6 * capacity, result.peak_contact_voltage)


def _holder_prompt(of: Variant) -> str:
    usual, large = _holders(of)
    return (f"Two coils alike but for the condenser, at {of['rpm']:.0f} rpm before a gap of {of['gap']:.1f} kV. After the points "
            f"part, the one of {CAPACITY:.2f} uF comes to hold {_held(CAPACITY, usual):.0f} mJ at most, and the one of "
            f"{of['large']:.1f} uF {_held(of['large'], large):.0f} mJ. Which coil gives the stronger spark?")


def _better(of: Variant) -> str:
    usual, large = _holders(of)
    if usual.first_spark_energy > 1.1 * large.first_spark_energy:
        return "less"
    return "more" if large.first_spark_energy > 1.1 * usual.first_spark_energy else "even"


HOLDER = choice_exercise(
    "03-who-holds-most", 3, "The fuller condenser and the stronger spark",
    variant=lambda draw: {"large": draw.between(1.6, 2.0, 0.1), "gap": draw.between(13.0, 15.0, 0.5),
                          "rpm": draw.between(420.0, 480.0, 10.0)},
    prompt=remembered(_holder_prompt),
    options=(
        ("less", "The one whose condenser comes to hold less."),
        ("more", "The one whose condenser comes to hold more: it has more to give to the spark."),
        ("even", "Both the same: the energy comes from the coil, so the condenser makes no difference."),
    ),
    truth=remembered(_better),
    right="Energy that is still in the condenser has not become a spark. The field's energy must raise the secondary to "
          "the gap's voltage, and a condenser that takes in too much of it keeps the voltage down.",
    look="Set the two capacities on the race panel: compare what the condenser holds at most with what goes into the spark.",
    hints=(
        "What must the secondary reach before any energy can go into a spark?",
        "Contact voltage and secondary voltage rise and fall together. What does a large condenser do to the first?",
        "On the race panel look at the secondary's chart with the large condenser: does it reach the gap's voltage?",
    ),
    misconceptions=(
        Misconception("condenser-stores-the-spark", lambda of: "more",
                      "That would be so if the condenser stored the spark's energy and gave it out. Look at the preset with the "
                      "large condenser: it comes to hold nearly all there is, and what goes into the spark?"),
        Misconception("condenser-makes-no-difference", lambda of: "even",
                      "The energy does come from the coil's field, that is half of it. But a spark also needs voltage, and how "
                      "much voltage that energy makes is the condenser's doing. Compare the secondary's charts."),
    ),
)


# ------------------------------------------------------------------------------------------- 4: speed of parting
SPEED = number_exercise(
    "03-fast-enough", 3, "How fast must the points part?",
    variant=lambda draw: {"current": draw.between(3.6, 6.4, 0.2), "capacity": draw.pick((0.22, 0.27, 0.33, 0.39, 0.47, 0.56))},
    prompt=lambda of: (
        f"The points part at {of['current']:.1f} A, and a condenser of {of['capacity']:.2f} uF takes all of that current over. A "
        f"gap that is only just "
        "opening holds 55 V for each thousandth of a millimetre. How fast must the points part, at least, so that the voltage "
        "does not overtake what their gap can hold?"
    ),
    truth=lambda of: arc_free_speed(of["current"], 1e-6 * of["capacity"]), unit="m/s", units=("m/s", "mm/s"), tolerance=0.03,
    right="This is the race in one line: current over capacity against field times speed. More current needs faster "
          "points or a larger condenser. The lead at the start on the panel is the coil's own speed over this one.",
    look="Work out how many volts the condenser gains in a microsecond, then how far the gap must have grown in it.",
    hints=(
        "A condenser's voltage grows by current over capacity. How many volts in each microsecond is that?",
        "The gap's strength must grow just as fast. How many thousandths of a millimetre a microsecond does that take?",
        "Divide the current by the capacity in farads, then by the field in volts a metre. A thousandth of a millimetre a "
        "microsecond is a metre a second.",
    ),
    misconceptions=(
        Misconception("strength-of-wide-gaps", lambda of: of["current"] / (1e-6 * of["capacity"]) / 3e6,
                      "You used what a wide gap holds, the few kilovolts a millimetre of the textbooks. If that were so here, no "
                      "such coil could win the race. A gap of a few thousandths holds far more for its width: use the field in "
                      "the question."),
        Misconception("air-always-holds-some", lambda of: 0.0,
                      "Air at its weakest does hold some hundreds of volts, but only across a gap that is there. In the first "
                      "instant the points hardly stand apart. Look at the very beginning of the dashed line on the race panel."),
    ),
)


# ------------------------------------------------------------------------------------------------ 5: self-discharge
METER = 10e6  # ohm, of a common digital voltmeter; common practice, no source


def _discharge_variant(draw: Draw) -> dict[str, Any]:
    capacity, leak, wait = draw.pick((0.39, 0.45, 0.47, 0.5)), draw.between(2.5, 7.5, 0.5), draw.between(1.0, 2.0, 0.5)
    together = 1.0 / (1e-6 / leak + 1.0 / METER)
    return {"capacity": capacity, "wait": wait, "volts": 100.0,
            "left": round(voltage_left(100.0, wait, 1e-6 * capacity, together), 1)}


def _seen(of: Variant) -> tuple[float, float]:
    """Return the leakage resistance without the meter, and that with it, in Mohm."""
    result = self_discharge(of["volts"], of["left"], of["wait"], 1e-6 * of["capacity"], METER)
    return 1e-6 * result.resistance, 1e-6 * result.seen


LEAK = number_exercise(
    "03-self-discharge", 3, "Leakage from self-discharge",
    variant=_discharge_variant,
    prompt=lambda of: (
        f"With the points held apart, a condenser of {of['capacity']:.2f} uF is charged to {of['volts']:.0f} V. A voltmeter of "
        f"10 Mohm is left on it, and after {of['wait']:.1f} s it shows {of['left']:.1f} V. What is the leakage resistance of the "
        f"condenser alone?"
    ),
    truth=lambda of: _seen(of)[0], unit="Mohm", units=("Mohm", "kohm", "ohm"), tolerance=0.03,
    right="First the resistance that the voltage saw, from the time and the capacity; then the meter, which lay beside "
          "the leak, taken out by conductances. With a sound condenser nearly all of the loss is the meter's.",
    look="Find first the resistance through which the voltage fell, then ask what else than the leak was connected.",
    hints=(
        "The voltage falls by the same share in equal times: an exponential, not a straight line.",
        "Time over capacity, over the natural logarithm of first voltage over last, is the resistance that the voltage saw.",
        "Meter and leak lie side by side: one over the leak is one over what was seen, less one over the meter.",
    ),
    misconceptions=(
        Misconception("meter-forgotten", lambda of: _seen(of)[1],
                      "That is leak and meter together. If it were the condenser's own, no sound condenser could ever be found "
                      "with this meter. Set the panel to a sound condenser with the meter left on and see."),
        Misconception("common-logarithm", lambda of: 2.302585093 * _seen(of)[1],
                      "That looks like the logarithm to base ten. The share lost in each moment is time over resistance and "
                      "capacity, and that adds up to the natural logarithm. And mind the meter."),
        Misconception("meter-counted-twice", lambda of: 1.0 / (1.0 / _seen(of)[1] + 1e6 / METER),
                      "You put the meter beside the leak once more instead of taking it away. Without the meter the charge would "
                      "last longer, so the leak alone must be more than what was seen. Compare the panel's two lines."),
    ),
)


# -------------------------------------------------------------------------------------------------- 6: two tests
SOUND_LEAK = 2e9  # ohm


def _two_tests_variant(draw: Draw) -> dict[str, Any]:
    fault = draw.pick(("leak", "capacity"))
    return {"fault": fault, "leak": draw.between(1.0, 2.0, 0.25) if fault == "leak" else 1e-6 * SOUND_LEAK,
            "share": 1.0 if fault == "leak" else draw.between(0.2, 0.35, 0.05), "marked": draw.pick((0.4, 0.45, 0.5)),
            "wait": draw.pick((2.0, 3.0))}


def bench_readings(of: Variant) -> tuple[float, float]:
    """Return what the bench shows, points held apart: the capacity meter (uF, at 1 kHz, by the size of its current) and the volts
    that are left of 100 after the wait, the voltmeter touched on at both ends only."""
    capacity, leak = 1e-6 * of["share"] * of["marked"], 1e6 * of["leak"]
    return 1e6 * apparent_capacity(capacity, leak, 1000.0).magnitude, voltage_left(100.0, of["wait"], capacity, leak)


def _two_tests_prompt(of: Variant) -> str:
    shown, left = bench_readings(of)
    return (f"A condenser marked {of['marked']:.2f} uF, measured in the box with the points held apart. The capacitance meter "
            f"shows {shown:.2f} uF. Charged to 100 V and left alone for {of['wait']:.0f} s, it has {left:.0f} V. What do you "
            f"write on the bench sheet?")


TESTS = choice_exercise(
    "03-two-tests", 3, "Two tests, one condenser",
    variant=_two_tests_variant,
    prompt=_two_tests_prompt,
    options=(
        ("leak", "Right capacity, but it leaks."),
        ("capacity", "It does not leak, but its capacity is wrong."),
        ("sound", "Sound on both counts."),
        ("both", "It leaks, and its capacity is wrong."),
    ),
    truth=lambda of: str(of["fault"]),
    right="The meter weighs the capacity, the wait finds the leak, and neither test answers for the other.",
    look="Take the two readings one at a time: which of them speaks of capacity, and which of leakage?",
    hints=(
        "There are two questions here, and each reading answers one of them.",
        "What part of its charge should a sound condenser lose in a few seconds?",
        "Compare the mark with the meter for the one answer, and the two voltages for the other.",
    ),
    misconceptions=(
        Misconception("leakage-shows-as-wrong-capacity", lambda of: "sound" if of["fault"] == "leak" else "both",
                      "You read the leak off the capacitance meter, as if leakage showed as a wrong capacity. A leak of some "
                      "megohms hardly moves that meter, and a wrong capacity keeps its charge well. Look at the voltages: they "
                      "alone tell of the leak."),
        Misconception("tests-mixed-up", lambda of: "capacity" if of["fault"] == "leak" else "leak",
                      "You have the two tests the wrong way round. If it were so, the meter and the wait would each have to show "
                      "the other's fault. Try both on the panels: what does each reading do when you change only the leak?"),
    ),
)


# ---------------------------------------------------------------------------------------------- 7: points closed
CLOSED = number_exercise(
    "03-points-closed", 3, "What the meter shows while the points are closed",
    variant=lambda draw: {"capacity": draw.pick((0.39, 0.43, 0.45, 0.47)),
                          "frequency": draw.pick((400.0, 500.0, 800.0, 1000.0, 1200.0)),
                          "contacts": draw.between(20.0, 45.0, 5.0)},
    prompt=lambda of: (
        f"A coil lies on the bench, its points closed; their resistance is {of['contacts']:.0f} mohm. Across them sits a "
        f"condenser of {of['capacity']:.2f} uF. A capacitance meter puts on a small voltage of {of['frequency']:.0f} Hz, looks "
        f"only at the size of the current, "
        "and shows the capacity that would draw as much. What does it show?"
    ),
    truth=lambda of: 1e6 * meter_with_contacts(1e-6 * of["capacity"], 20e6, of["frequency"], False,
                                               1e-3 * of["contacts"]).magnitude,
    unit="uF", units=("uF", "mF", "F"), tolerance=0.03,
    right="And it has nothing to do with the condenser: the meter sees the points. Hold them apart with a slip of dry "
          "card, or the reading is worth nothing.",
    look="Ask which way the meter's current will go: through the condenser, or through the closed points?",
    hints=(
        "Two ways lie side by side: some milliohms of closed points, and the condenser. Which takes nearly all of the current?",
        "A capacity draws voltage times two pi times frequency times capacity; the points draw voltage over their resistance.",
        "Set the two equal: one over two pi times frequency times the points' resistance, in farads.",
    ),
    misconceptions=(
        Misconception("read-with-points-closed", lambda of: of["capacity"],
                      "That is the condenser's capacity, as if it could be read with the contacts closed. If it could, the "
                      "panel's line would rise with the true capacity while the points are closed. Look at it: it is flat."),
        Misconception("a-short-shows-nought", lambda of: 0.0,
                      "A short does not draw nothing: it draws as much as it can. To a meter that goes by the size of the "
                      "current, is much current a small capacity or a large one?"),
    ),
)


# --------------------------------------------------------------------------------------------- 8: choose the value
def _choosing_variant(draw: Draw) -> dict[str, Any]:
    return {
        "capacity": draw.pick((0.06, 0.1, 1.6, 1.8)), "leakage": draw.pick(("1e2", "20")),
        "slow": 200.0, "wide": 20.5,  # at 20.0 kV the panel's own "Right condenser" would do
        "fast": draw.between(540.0, 600.0, 20.0), "weak": draw.between(75.0, 85.0, 5.0),
        "strong": draw.between(110.0, 120.0, 5.0),
    }


def _choosing_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    hidden = (
        (10.0, 450.0, 100.0), (of["wide"], of["slow"], 100.0), (14.0, of["fast"], 100.0), (14.0, 450.0, of["weak"]),
        (14.0, 450.0, of["strong"]),
    )
    trials = []
    for gap, rpm, drive in hidden:
        result = _readings(values["capacity"], gap, rpm, drive, values["leakage"])
        sound = _readings(CAPACITY, gap, rpm, drive)  # what burns at the points of the well-set coil is no fault of a condenser
        free = 1e3 * (result.break_arc_energy - sound.break_arc_energy) < WORTH_A_BURN
        trials.append(Trial(result.misfired == 0.0 and free, "Not everywhere does it fire in every pulse and without an arc: the "
                            "good range has two ends, and each shows itself at another speed and gap. Try both on the panels."))
    tight = float(values["leakage"]) >= SOUND_LEAKAGE
    trials.append(Trial(tight, "Charged and left for a second, it is empty: it leaks, and a leak grows with heat and damp."))
    return trials


def _good_choice(of: Variant) -> dict[str, Any]:
    """Return the sound condenser nearest to the nominal one that is met at every hidden setting."""
    for step in range(40):
        for sign in (1, -1):
            values = {"capacity": round(CAPACITY + 0.01 * sign * step, 2), "leakage": "20e6"}
            if all(trial.met for trial in _choosing_trials(values, of)):
                return values
    raise ValueError(f"No capacity near the nominal one does for {dict(of)}.")


CHOOSE = sliders_exercise(
    "03-choose-the-value", 3, "Choose a condenser for every day",
    variant=_choosing_variant,
    prompt=lambda of: (
        f"Somebody has fitted an old condenser of {of['capacity']:.2f} uF that leaks. Choose a better one: the coil must fire "
        "in every pulse, and no arc may burn as the points part. Not only at the speed and gap shown: also at starting speed, "
        f"{of['slow']:.0f} rpm, in this engine, whose plugs then ask for {of['wide']:.1f} kV; faster, and on a weaker and a "
        "stronger magneto."
    ),
    panel="condenser_race",
    controls=(panel.CAPACITY_CONTROL, panel.LEAKAGE_CONTROL),
    start=lambda of: {"capacity": of["capacity"], "leakage": of["leakage"]},
    fixed=lambda of: {"gap": 10.0, "rpm": 450.0, "drive": 100.0},
    check=_choosing_trials,
    truth=_good_choice,
    right="Arc-free and firing everywhere. There is a range of good values, not one. On a real coil take a condenser made "
          "for such pulses and voltages, and discharge the old one before you touch it.",
    hints=(
        "Look for the two ends of the good range: the smallest without an arc, and the largest that still fires.",
        "The upper end shows itself at starting speed, where there is less current: set the panel of energy against capacity to "
        "this engine's voltage and speed.",
        "Once the arc is gone, going higher buys nothing. Look for the largest that still fires at starting speed, and stay a "
        "little under it.",
    ),
    recognise={
        "leak-does-not-matter": lambda values, of: (values["leakage"] == of["leakage"]
                                                    and 0.7 < values["capacity"] / CAPACITY < 1.3),
        "one-end-is-stronger": lambda values, of: abs(values["capacity"] / CAPACITY - 1.0) > 0.3,
    },
    misconceptions=(
        Misconception("leak-does-not-matter", lambda of: {"capacity": CAPACITY, "leakage": of["leakage"]},
                      "The capacity may be right, but this condenser leaks, and the current that goes through the leak makes no "
                      "voltage. Set a leak and none on the panel, and compare what goes into the spark."),
        Misconception("one-end-is-stronger", lambda of: {"capacity": 1.5, "leakage": "20e6"},
                      "Neither a big condenser nor a small one is the stronger. A big one spreads the same energy thin, and at "
                      "starting speed its voltage does not reach the gap's; a small one lets the voltage jump, and the parting "
                      "points cannot keep ahead of it. Which is yours? The race shows the one, a wide gap turned slowly the "
                      "other."),
    ),
)


# -------------------------------------------------------------------------------------------- 9: a small function
SOURCE = '''
import math

def leakage_resistance(first, last, seconds, capacity, meter):
    """Return the leakage resistance of a condenser, in ohms.

    first, last: voltage at the start and at the end, in volts
    seconds: time between the two readings
    capacity: of the condenser, in farads
    meter: resistance of the voltmeter that was left on it, in ohms
    """
    #: blank work out the resistance that the voltage saw, leak and meter side by side
    seen = seconds / (capacity * math.log(first / last))
    #: end
    #: blank take the meter out, and return the leakage resistance
    return 1.0 / (1.0 / seen - 1.0 / meter)
    #: end
'''
_HEAD = ("import math\n\ndef leakage_resistance(first, last, seconds, capacity, meter):\n"
         "    seen = seconds / (capacity * math.log(first / last))\n")


def _discharge_cases(of: Variant) -> list[Case]:
    cases = []
    for words, leak, wait, meter in (("the condenser leaks badly", 1e6, 0.5, 10e6),
                                     ("the leak is as large as the meter", 10e6, 3.0, 10e6),
                                     ("the meter is a poor one", 4e6, of["wait"], 1e6),
                                     ("the condenser is good", 60e6, 5.0, 100e6)):
        capacity = 1e-6 * of["capacity"]
        left = round(voltage_left(100.0, wait, capacity, 1.0 / (1.0 / leak + 1.0 / meter)), 3)
        cases.append(Case(words, (100.0, left, wait, capacity, meter),
                          self_discharge(100.0, left, wait, capacity, meter).resistance))
    return cases


FUNCTION = function_exercise(
    "03-leakage-function", 3, "Write it: leakage from self-discharge",
    variant=lambda draw: {"capacity": draw.between(0.3, 0.6, 0.05), "wait": draw.between(0.5, 1.5, 0.25)},
    prompt="For those who program: finish this function. It gets the two readings of a self-discharge test and the voltmeter's "
           "resistance, and returns the leakage resistance of the condenser alone. It will be tried on several condensers and "
           "meters.",
    name="leakage_resistance", source=SOURCE, cases=_discharge_cases,
    right="With a poor meter and a good condenser the two terms that you subtract are nearly alike, and a small doubt of "
          "the readings becomes a large one of the result.",
    look="Try it by hand on one reading that you make up on the self-discharge panel.",
    hints=(
        "The natural logarithm is `math.log`.",
        "What was seen is the time over the capacity and over the logarithm of first voltage over last.",
        "Side by side, conductances add: one over the leak is one over what was seen, less one over the meter.",
    ),
    misconceptions=(
        Misconception("meter-forgotten", lambda of: f"{_HEAD}    return seen\n",
                      "Your function returns leak and meter together. By that measure a perfect condenser leaks as much as the "
                      "meter. Take the meter out."),
        Misconception("resistances-subtracted", lambda of: f"{_HEAD}    return abs(meter - seen)\n",
                      "You subtract the resistances, as if leak and meter lay one behind the other. They lie side by side: there "
                      "the conductances add. Try it with a leak and a meter that are equal."),
    ),
)

EXERCISES = (WITHOUT, ORDER, HOLDER, SPEED, LEAK, TESTS, CLOSED, CHOOSE, FUNCTION)
