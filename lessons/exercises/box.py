"""The exercises of lesson 0, what is in the box: short ones, for a first evening.

Whatever can be asked of the model is: the order of a pulse, the number of pulses, what a condenser still holds, how many
sparks a cushion gives. Runs are short (six pulses after four), for a browser's plain Python takes some 15 ms a pulse.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coilmodel import MagnetoDrive, simulate
from coilmodel.condenser import voltage_left
from coilmodel.machine import pulse_seconds
from coilmodel.readings import read
from lessons.contracts import About, Misconception
from lessons.exercises.kinds import (
    Trial,
    Variant,
    choice_exercise,
    number_exercise,
    ordering_exercise,
    remembered,
    sliders_exercise,
)
from lessons.panels import box as panel

NOMINAL = panel.NOMINAL
PULSES, WARM_UP = 6, 4


def _share(share: float) -> float:
    """Return a share of the well-set cushion's preload in newtons, as the slider can show it."""
    return round(share * panel.PRELOAD, 2)


# ------------------------------------------------------------------------------------------ 1: which moves first?
def mover(of: Variant) -> str:
    """Say what moves first in a well-set coil's pulse: how far the contacts are apart when the pair is half way to the rivet."""
    run = simulate(NOMINAL, MagnetoDrive(of["rpm"]), pulses=1, warm_up=WARM_UP, record=(0, 0))
    half = -0.5 * run.machine.cushion.travel
    index = next(i for i, x in enumerate(run.strips.vibrator) if x >= half)
    lag = run.strips.vibrator[index] - run.strips.cushion[index]
    return "together" if lag < 5e-6 else "lower"


FIRST = choice_exercise(
    "00-moves-first", 0, "Predict: which part moves first?",
    prediction=True,
    about=About({"box": ()}, "the time under the contact set, or the preload"),
    variant=lambda draw: {"rpm": draw.between(400.0, 480.0, 10.0)},
    prompt=lambda of: (
        f"A well-set coil runs at {of['rpm']:.0f} rpm. Its two contacts lie on each other, and the current through them grows. "
        "What moves first? Say so before you press Play below."
    ),
    options=(
        ("together", "Both contacts, downward, still pressed on each other."),
        ("lower", "The lower contact alone: the core pulls it away from the upper one at once."),
        ("upper", "The upper contact alone: it rides on the lighter spring, so it jumps up."),
        ("spark", "Neither: the spark comes first, and its kick throws the contacts open."),
    ),
    truth=remembered(mover),
    right="The core pulls the lower blade down, and the upper one follows, as far as its rivet lets it. That gives the "
          "lower contact a running start, so that the two come apart fast.",
    look="Press Play under the contact set, or drag the time slowly, and watch the two contacts until they part.",
    hints=(
        "The upper contact rides on a spring of its own. Which way does that spring press it?",
        "A rivet stands a little below the upper contact. What would it be for, if that contact never came down?",
        "Press Play below and watch the words under the picture: when do they first say that the contacts are apart?",
    ),
    misconceptions=(
        Misconception("opens-at-once", lambda of: "lower",
                      "If the upper contact stayed where it was, the two would creep apart as slowly as the current grows. Drag "
                      "the time slowly, and look where the upper contact is at the moment they part."),
        Misconception("upper-jumps", lambda of: "upper",
                      "If the upper contact jumped up, it would have to go through the bridge, which it lies against. Look at "
                      "the strip of both heights: which way do they go?"),
        Misconception("spark-opens-them", lambda of: "spark",
                      "The spark jumps at the plug gap, far from the contacts, and kicks nothing. If it came first, it would "
                      "flash while the words under the picture still say that the contacts are closed. Drag the time and look."),
    ),
)


# ------------------------------------------------------------------------------------------- 2: order of one pulse
STEPS = (
    ("grows", "the current begins to grow"),
    ("together", "both contacts set off downward, still closed"),
    ("rivet", "the rivet stops the upper contact"),
    ("part", "the contacts come apart"),
    ("spark", "the plug gap sparks"),
    ("close", "the contacts meet again"),
)


def _order(of: Variant) -> list[str]:
    times = panel.one_pulse(of["rpm"])
    return sorted(times, key=lambda name: times[name])


ORDER = ordering_exercise(
    "00-one-pulse", 0, "One pulse, first to last",
    variant=lambda draw: {"rpm": draw.between(400.0, 480.0, 10.0)},
    prompt=lambda of: f"A well-set coil runs at {of['rpm']:.0f} rpm. Put the steps of one pulse in order, first to last.",
    items=STEPS,
    truth=_order,
    right="Current, running start, rivet, break, spark, and back. All of it happens in some thousandths of a second, many "
          "times in each turn of the crank.",
    look="Drag the time under the contact set from left to right and write down what happens.",
    hints=(
        "Nothing moves before something pulls. What makes the core pull?",
        "What makes the two contacts come apart: the lower one going, or the upper one being stopped?",
        "The spark comes when the current is cut off. Which step cuts it off?",
    ),
    misconceptions=(
        Misconception("spark-at-closing", lambda of: ["grows", "together", "rivet", "part", "close", "spark"],
                      "A spark does not come from contacts that meet. If it did, the plug gap would flash where the two lines of "
                      "heights come together again. Drag the time and see where it flashes."),
        Misconception("rivet-comes-last", lambda of: ["grows", "together", "part", "rivet", "spark", "close"],
                      "If the contacts came apart before the rivet, the rivet would have nothing to do. Drag the time slowly and "
                      "read the words under the picture."),
        Misconception("moves-without-a-pull", lambda of: ["together", "rivet", "grows", "part", "spark", "close"],
                      "Without a current the core does not pull, and the springs hold the pair up against the bridge. Look at "
                      "the current in the words under the picture when the pair sets off."),
    ),
)


# ---------------------------------------------------------------------------------------- 3: how many sparks in all
def _pulses(of: Variant) -> float:
    """Return the number of pulses in so many turns of the crank, from the model's magneto; the speed cancels."""
    return of["turns"] * (60.0 / panel.RPM) / pulse_seconds(NOMINAL, MagnetoDrive(panel.RPM))


COUNT = number_exercise(
    "00-sparks-in-all", 0, "How many sparks should there be?",
    variant=lambda draw: {"turns": draw.between(3.0, 14.0, 1.0), "coil": draw.pick(("Alder", "Birch", "Cedar", "Damson"))},
    prompt=lambda of: (
        f"The coil {of['coil']} of the Larkfield Twelve is on the bench, on a magneto that gives one pulse in every "
        f"{180.0 / NOMINAL.magneto.pole_pairs:g} degrees of crank. The coil is well set. You turn the crank "
        f"{of['turns']:.0f} times round, briskly. How many sparks should you count?"
    ),
    truth=_pulses, unit="1", tolerance=0.005, arithmetic=False,
    right="One spark in every pulse, neither more nor less. Count too many, or too few, and the coil is not set, however "
          "happily it buzzes.",
    look="Work out first how many pulses there are in one turn of the crank.",
    hints=(
        "One spark in every pulse. So count the pulses.",
        "A whole turn is a full circle. How many pulses, each as wide as the question says, go into it?",
        "Divide the degrees of a full circle by the degrees of one pulse, then multiply by the turns.",
    ),
    misconceptions=(
        Misconception("one-a-turn", lambda of: of["turns"],
                      "That would be one spark in a whole turn. Look at the ladder: it is one pulse wide, which is only a small "
                      "part of a turn, and each row of it has its own mark."),
        Misconception("two-a-pulse", lambda of: 2.0 * _pulses(of),
                      "That is two sparks in every pulse: a coil that looks busy and is wrongly set. Press \"Too stiff\" and see "
                      "what the ladder looks like then; and then \"Well set\"."),
        Misconception("every-other-pulse", lambda of: 0.5 * _pulses(of),
                      "That would leave every other pulse without a spark, as if only current flowing one way counted. The core "
                      "pulls whichever way the current flows. Look whether the ladder skips any row."),
    ),
)


# ------------------------------------------------------------------------------------------------ 4: name the part
PARTS = {
    "vibrator": "the vibrator blade", "cushion": "the cushion blade", "bridge": "the bridge", "rivet": "the limit rivet",
    "core": "the core", "condenser": "the condenser",
}
RIDDLES = {
    "vibrator": "It has an iron tip, it is drawn down each time the current grows, and it carries the lower contact.",
    "cushion": "It presses downward, it carries the upper contact, and it can move only a few tenths of a millimetre.",
    "bridge": "It never moves. When no current flows, the upper contact is pressed up against it.",
    "rivet": "It never moves. When the two contacts come apart, the upper one has just been stopped by it.",
    "core": "It never moves. It is a magnet only while current flows, and draws iron toward it.",
    "condenser": "Nothing in it moves. It takes the current over when the contacts part, so that they do not burn.",
}
WHY_NOT = {
    "vibrator": "The blade that you chose is the one below: it moves first, drawn to the iron, and carries the contact that "
                "leaves. Does the question speak of that one?",
    "cushion": "The blade that you chose is the one above: it springs after the other for a short way, and then is held back. "
               "Does the question speak of that one?",
    "bridge": "What you chose is the stop above: it is touched at rest, and left as soon as the pair sets off. Does the question "
              "speak of rest?",
    "rivet": "What you chose is the stop below: it is touched once in a pulse, at the moment of parting. Does the question "
             "speak of that moment?",
    "core": "What you chose pulls, and nothing else: no contact ever touches it. Does the question speak of a pull?",
    "condenser": "What you chose is electric, and is not in the moving picture at all. Does the question speak of something that "
                 "can be seen to touch or to move?",
}
"""Of each part, why it is not the one asked for, with no other part's name in it."""
_NEIGHBOUR = {
    "vibrator": "cushion", "cushion": "vibrator", "bridge": "rivet", "rivet": "bridge", "core": "bridge", "condenser": "core",
}
_FAR = {
    "vibrator": "core", "cushion": "condenser", "bridge": "condenser", "rivet": "core", "core": "condenser",
    "condenser": "cushion",
}

NAME = choice_exercise(
    "00-name-the-part", 0, "Name the part",
    variant=lambda draw: {"part": draw.pick(tuple(RIDDLES))},
    prompt=lambda of: f"Which part of the box is this? {RIDDLES[of['part']]}",
    options=tuple(PARTS.items()),
    truth=lambda of: str(of["part"]),
    right="With these names you can say what you saw, and be understood by whoever helps you.",
    look="Find it in the moving picture, or in the list of parts above.",
    reasons=WHY_NOT,
    hints=(
        "Does it move? Two of the six do. Does it carry a contact? Each of those two does.",
        "Of the four that stand still, two are stops, one pulls, and one is not in the moving picture at all.",
        "Read the list of parts above once more, with the moving picture beside it.",
    ),
    misconceptions=(
        Misconception("its-neighbour", lambda of: _NEIGHBOUR[of["part"]],
                      "That one sits close by, but it has another task. Drag the time under the contact set to the moment "
                      "described, and look which part is touched, or moves, just then."),
        Misconception("another-trade", lambda of: _FAR[of["part"]],
                      "That one has another trade: of the six, two spring, two stop, one pulls and one stores. Decide first "
                      "which of these the question describes, then read the list above."),
    ),
)


# --------------------------------------------------------------------------------------------------- 5: one column
def _trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    trials = []
    for rpm in (panel.RPM, of["slow"], of["fast"]):
        result = read(simulate(panel.machine(values["preload"]), MagnetoDrive(rpm), pulses=PULSES, warm_up=WARM_UP))
        trials.append(Trial(result.single == 1.0 and not result.misfired and result.break_arc_energy <= panel.MUCH_BURNT))
    return trials


def _good(of: Variant) -> dict[str, float]:
    """Return the setting nearest to the well-set one that gives one sound spark a pulse at every hidden speed."""
    for step in range(20):
        for sign in (1, -1):
            values = {"preload": _share(1.0 + 0.02 * sign * step)}
            if all(trial.met for trial in _trials(values, of)):
                return values
    raise ValueError(f"No cushion setting near the nominal one gives one sound spark in every pulse for {dict(of)}.")


COLUMN = sliders_exercise(
    "00-one-column", 0, "Make it one straight column",
    variant=lambda draw: {
        "preload": _share(draw.pick((0.2, 0.3, 0.45, 1.6, 1.75))),
        "slow": draw.between(330.0, 350.0, 10.0), "fast": draw.between(800.0, 840.0, 10.0),
    },
    prompt=lambda of: (
        f"Somebody has bent the cushion blade: it now presses with {of['preload']:.2f} N. The coil is for a fast car. Set the "
        "blade so that there is one spark, and only one, in every pulse, strong enough to light the charge, with no more than "
        f"{1e3 * panel.MUCH_BURNT:.0f} mJ burnt at the contacts as they part: at the speed shown, and also slower, down to "
        f"{of['slow']:.0f} rpm, and much faster, up to {of['fast']:.0f} rpm."
    ),
    panel="box",
    controls=(panel.PRELOAD_CONTROL,),
    start=lambda of: {"preload": of["preload"]},
    check=_trials,
    truth=_good,
    right="One sound spark in every pulse at every hidden speed. That is the whole aim of setting a coil. A faster car "
          "wants a little more of this spring than a slow one.",
    hints=(
        "Move the slider until the ladder shows one straight column of full marks. Is it still one a little further on?",
        "There is a stretch of settings with one column. Near its slack end the contacts burn when the crank turns faster; near "
        "its stiff end there are two sparks when it turns slower.",
        "Faster is harder on a slack blade than on a stiff one. So set it well inside the stretch, and a little stiffer than the "
        "coil that is well set for the speed shown.",
    ),
    recognise={
        "one-end-is-safe": lambda values, of: abs(values["preload"] / panel.PRELOAD - 1.0) > 0.4,
        "one-speed-is-enough": lambda values, of: True,
    },
    misconceptions=(
        Misconception("one-end-is-safe", lambda of: {"preload": _share(1.55)},
                      "Neither end of this spring is the safe one. A stiff blade lets the contacts go so soon that they come "
                      "back for another spark; a slack one leaves the upper contact behind, so that the contacts creep apart "
                      "and burn, and the spark is weak. Which of the two do you see on the ladder and at the contacts?"),
        Misconception("one-speed-is-enough", lambda of: {"preload": _share(0.85)},
                      "What looks right at the speed shown may be wrong at another. One end of the stretch with one column shows "
                      "itself when the crank turns slower, the other when it turns much faster. How far from either is yours?"),
    ),
)


# ------------------------------------------------------------------------------------------------- 6: switched off
def still_there(of: Variant) -> float:
    """Return the share of its voltage that the condenser still has after the wait."""
    left = voltage_left(of["volts"], of["seconds"], NOMINAL.condenser.capacitance, 1e6 * of["leakage"])
    return left / of["volts"]


def _safe_or_not(of: Variant) -> str:
    # Half of some hundreds of volts: well above the 50 V or so at which people begin to feel it (common practice, no source).
    return "discharge" if still_there(of) > 0.5 else "waited"


OFF = choice_exercise(
    "00-switched-off", 0, "Switched off: safe to touch?",
    variant=lambda draw: {
        "volts": draw.between(250.0, 370.0, 10.0), "seconds": draw.between(5.0, 15.0, 1.0),
        "leakage": draw.between(60.0, 200.0, 20.0),
    },
    prompt=lambda of: (
        "For a condenser check the points of a coil are held apart with a slip of paper, and its condenser has been charged to "
        f"{of['volts']:.0f} V. It is a good condenser: it leaks through no less than {of['leakage']:.0f} Mohm. The supply is off "
        f"and unplugged, the paper is still in, and {of['seconds']:.0f} seconds have gone by. May you put your fingers on the "
        "blades?"
    ),
    options=(
        ("discharge", "No: most of the charge is still there; discharge it through a resistor first."),
        ("off", "Yes: with the supply off there is no voltage anywhere."),
        ("waited", "Yes: by now the charge has leaked away by itself."),
        ("secondary", "Yes: only the secondary is dangerous, and it is quiet."),
    ),
    truth=remembered(_safe_or_not),
    right="With the points held apart nothing but its own leak empties it, and the better the condenser, the longer that "
          "takes. Supply off first, then a resistor across it, then a meter to see that it is empty, then your fingers.",
    look="Think of what a good condenser does: it keeps what it has been given.",
    hints=(
        "A condenser is made to hold charge. What would have to happen for it to lose that?",
        "Charge leaks away through the insulation. Is the insulation of a good condenser a wide road or a narrow one?",
        "Resistance in megohms times capacity in microfarads gives the seconds in which the voltage falls to about a third.",
    ),
    misconceptions=(
        Misconception("off-means-empty", lambda of: "off",
                      "If that were so, a condenser would be of no use: it would forget its charge as soon as it was left alone. "
                      "The switch cuts off the supply, not what is stored behind it. Look at the cautions above."),
        Misconception("a-moment-is-enough", lambda of: "waited",
                      "It would be, if the condenser leaked badly. Multiply its leakage resistance in megohms by its third or "
                      "half of a microfarad: that is how many seconds it takes to lose even two thirds. Compare with the wait."),
        Misconception("only-the-secondary", lambda of: "secondary",
                      "The secondary is the worse one, but the contacts and their condenser see hundreds of volts each time they "
                      "part. That is enough to make you jump, into whatever is behind you."),
    ),
)

EXERCISES = (FIRST, ORDER, COUNT, NAME, COLUMN, OFF)
