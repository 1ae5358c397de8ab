"""The exercises of lesson 7, what a meter tells.

Readings are those of ideal meters on runs of the model; the coils are those of the lesson's panels, so that a learner may try
them there. A reading is taken over an even number of pulses, so that both signs of an alternating current have their turn.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Any

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, TransformerDrive, simulate
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
from lessons.panels import meters as panel
from lessons.panels import multi_firing

NOMINAL = multi_firing.NOMINAL
CUSHION = multi_firing.CUSHION_CONTROL.default  # N, as the panel shows it
VIBRATOR = multi_firing.VIBRATOR_CONTROL.default  # N

PULSES, WARM_UP = 10, 4
SHORT_PULSES, SHORT_WARM_UP = 6, 3


def _scaled(cushion: float, vibrator: float) -> Machine:
    """Return the nominal machine with these shares of its preloads."""
    return NOMINAL.scaled(cushion_preload=cushion, vibrator_preload=vibrator)


def _readings(machine: Machine, rpm: float, drive: float = 1.0) -> Readings:
    return read(simulate(machine, MagnetoDrive(rpm, drive), pulses=PULSES, warm_up=WARM_UP))


@cache
def _well_set(rpm: float) -> Readings:
    return _readings(NOMINAL, rpm)


# ------------------------------------------------------------------------------------ 1: predict, equal readings
TWIN_RPM = 450.0
TWIN_VIBRATOR = panel.TWIN[1]


@remembered
def twin_readings(of: Variant) -> Readings:
    """Return the readings at TWIN_RPM of the variant's twin: a slack one, whose pulses repeat on any computer."""
    return _readings(_scaled(of["cushion"], TWIN_VIBRATOR), TWIN_RPM)


def _equal_prompt(of: Variant) -> str:
    good, well = _well_set(TWIN_RPM), twin_readings(of)
    first, second = of["names"]
    return (
        f"At {TWIN_RPM:.0f} rpm an averaging ammeter in the magneto's lead reads {good.ammeter_rectified:.2f} A with coil "
        f"{first}, which gives one sound spark in every pulse, and {well.ammeter_rectified:.2f} A with coil {second}. What do "
        f"you know of {second} from that? Say so before you touch the panels."
    )


def _equal_outcome(of: Variant) -> str:
    """Return what can be known: nothing, if the well-set coil and one that misfires read alike."""
    good, other = _well_set(TWIN_RPM), twin_readings(of)
    alike = panel.alike(other.ammeter_rectified, good.ammeter_rectified)
    return "nothing" if alike and other.misfired > 0.5 else "once"


EQUAL = choice_exercise(
    "07-equal-readings", 7, "Predict: two coils, one reading",
    prediction=True,
    about=About({"same_reading": ("preload", "vibrator_preload"), "meter_error": ("preload", "vibrator_preload")},
                "one of the two springs"),
    variant=lambda draw: {
        "cushion": draw.between(0.38, 0.42, 0.01), "names": draw.shuffled(["Alder", "Birch", "Cedar", "Damson"])[:2],
    },
    prompt=_equal_prompt,
    options=(
        ("once", "It gives one sound spark in every pulse too: equal readings, equal coils."),
        ("current", "Its contacts part at the same current, though it may fire more or less often."),
        ("nothing", "Nothing: it may fire once or several times, well or too weakly, and part at quite another current."),
    ),
    truth=remembered(_equal_outcome),
    right="This one misfires: its sparks are too weak. Others of the same reading part at three quarters of the current. "
          "An average does not know when the contacts part, nor what comes of it.",
    look="On the map of the coils that the meter takes for yours, read what the cells of the same reading do.",
    hints=(
        "What does an averaging meter do with a current that rises and is cut off once, and with one that is cut off twice?",
        "A coil that parts early has small peaks, but more of them.",
        "On the map, leave your coil well set and count the cells that read alike but do not hold a one.",
    ),
    misconceptions=(
        Misconception("equal-readings-equal-coils", lambda of: "once",
                      "If equal readings made equal coils, every cell of the map that reads like yours would hold a one. Leave "
                      "your coil well set on that panel, and look at the others."),
        Misconception("meter-reads-opening-current", lambda of: "current",
                      "An averaging meter does not see the moment of parting: it mixes the whole pulse. On the panel that shows "
                      "how far off it can be, compare the two lines at the stiff end."),
    ),
)


# ------------------------------------------------------------------------------------------------ 2: a merry buzz
def _buzz_variant(draw: Draw) -> dict[str, Any]:
    return {"ohm": draw.between(10.0, 25.0, 1.0), "volts": draw.pick((6.0, 8.0, 12.0))}


def buzz(of: Variant) -> tuple[float, float]:
    """Return how often a second the contacts part, and how many sparks there are, on the variant's battery."""
    run = simulate(NOMINAL.but(condenser={"leakage_resistance": of["ohm"]}), BatteryDrive(of["volts"]), pulses=4, warm_up=1)
    return sum(opening.real for opening in run.openings) / run.meter.seconds, read(run).sparks_a_second


def _buzz_outcome(of: Variant) -> str:
    partings, sparks = buzz(of)
    if partings < 20.0:
        return "silent"
    return "works" if sparks > 0.0 else "empty"


BUZZ = choice_exercise(
    "07-merry-buzz", 7, "What a buzz proves",
    variant=_buzz_variant,
    prompt=lambda of: (
        f"A coil has a condenser so bad that only {of['ohm']:.0f} ohm are left across it; springs and windings are in order. "
        f"Someone puts it on a {of['volts']:.0f} V battery to hear whether it works. What happens?"
    ),
    options=(
        ("silent", "It stays silent: without a condenser nothing can move."),
        ("works", "It buzzes, and so it sparks."),
        ("empty", "It buzzes, and gives no spark."),
    ),
    truth=remembered(_buzz_outcome),
    right="The buzz is the sound of contacts that part and close. Whether there is a spark is decided by what the "
          "condenser does in the instant after, and that makes no sound.",
    look="On the panel of three supplies, put the coil whose condenser leaks on the battery, and compare buzz and sparks.",
    hints=(
        "What makes the sound: the spark, or the blade?",
        "Current, pull and springs make the blade move. Does a leaky condenser stop any of these?",
        "On the panel of three supplies, choose the coil with the leaking condenser: compare the pitch of its "
        "buzz and its sparks a second.",
    ),
    misconceptions=(
        Misconception("a-buzz-means-it-works", lambda of: "works",
                      "If a buzz meant a spark, no coil could buzz without one on the panel of three supplies. "
                      "Put the coil with the leaking condenser on the battery and read pitch and sparks."),
        Misconception("condenser-moves-the-blade", lambda of: "silent",
                      "The condenser has no part in moving the blade: it lies across the closed contacts, shorted by them. Put "
                      "that coil on the battery on the panel of three supplies and read the pitch of its buzz."),
    ),
)


# ------------------------------------------------------------------------------------- 3: the bench transformer's word
def _transformer_variant(draw: Draw) -> dict[str, Any]:
    return {"cushion": draw.between(0.44, 0.46, 0.01), "volts": panel.TRANSFORMER_VOLTS}


def on_transformer(of: Variant) -> tuple[float, float]:
    """Return the share of half-cycles with one spark, of the well-set coil and of the slack one, on the variant's transformer."""
    drive = TransformerDrive(of["volts"])
    coils = (NOMINAL, _scaled(of["cushion"], 1.0))
    good, slack = (read(simulate(coil, drive, pulses=6, warm_up=3)).single for coil in coils)
    return good, slack


def _transformer_outcome(of: Variant) -> str:
    good, slack = (share == 1.0 for share in on_transformer(of))
    return {(True, True): "both", (True, False): "good", (False, True): "slack", (False, False): "neither"}[good, slack]


TRANSFORMER = choice_exercise(
    "07-transformer-test", 7, "The bench transformer passes judgement",
    variant=_transformer_variant,
    prompt=lambda of: (
        f"On a bench transformer of {of['volts']:.1f} V and 50 Hz two coils are tried: one well set for the magneto, and one "
        f"whose cushion has only {of['cushion'] * CUSHION:.2f} N where {CUSHION:.2f} N are right. The test asks for one spark "
        "in every half-cycle. Which of them passes?"
    ),
    options=(
        ("good", "Only the well-set coil."),
        ("slack", "Only the slack coil."),
        ("both", "Both of them."),
        ("neither", "Neither of them."),
    ),
    truth=remembered(_transformer_outcome),
    right="And it is the wrong way round. The transformer has another voltage, another inductance and another pace than "
          "the magneto; a coil set for the one is not set for the other.",
    look="On the panel of three supplies, try both coils on the transformer at this voltage, and then on the magneto.",
    hints=(
        "Was the well-set coil set for this supply, or for the magneto?",
        "A slack cushion parts later. When the contacts close again, is there much left of the half-cycle?",
        "On the panel of three supplies, compare the two coils on the transformer by their sparks a half-cycle.",
    ),
    misconceptions=(
        Misconception("bench-supply-is-as-good-as-magneto", lambda of: "good",
                      "That would be so if the transformer drove the coil as the magneto does. Put the well-set coil on it on "
                      "the panel of three supplies, and count the marks in a row."),
        Misconception("a-fault-shows-on-any-supply", lambda of: "neither",
                      "You expect that no coil pleases the transformer. On the panel of three supplies try the slack cushion at "
                      "this voltage, and count the marks in a row."),
        Misconception("slow-supply-hides-all", lambda of: "both",
                      "A slow supply may hide a slack cushion. But does it leave the well-set coil at one spark? Put that one "
                      "on the transformer on the panel of three supplies."),
    ),
)


# ---------------------------------------------------------------------------------------- 4: five readings in order
def _meters_variant(draw: Draw) -> dict[str, Any]:
    return {"rpm": draw.between(400.0, 500.0, 20.0), "drive": draw.pick((90.0, 95.0, 100.0, 105.0, 110.0))}


@remembered
def five_readings(of: Variant) -> dict[str, float]:
    """Return what five meters show of the well-set coil's current at the variant's speed and drive, in A."""
    run = simulate(NOMINAL, MagnetoDrive(of["rpm"], of["drive"] / 100.0), pulses=SHORT_PULSES, warm_up=SHORT_WARM_UP)
    result = read(run)
    return {
        "mean": abs(result.ammeter_mean), "rectified": result.ammeter_rectified,
        "scaled": panel.SINE * result.ammeter_rectified, "rms": result.ammeter_rms, "peak": result.peak_current,
    }


def _by_reading(of: Variant) -> list[str]:
    shown = five_readings(of)
    return sorted(shown, key=lambda name: shown[name])


FIVE = ordering_exercise(
    "07-five-meters", 7, "Five meters in one lead",
    variant=_meters_variant,
    prompt=lambda of: (
        f"A well-set coil runs on the magneto at {of['rpm']:.0f} rpm and {of['drive']:.0f} % drive. Five meters are in its "
        "lead. Put them in order of what they show: lowest reading first."
    ),
    items=(
        ("mean", "plain direct-current meter, which shows the mean"),
        ("rectified", "meter behind a rectifier, which shows the mean without the sign"),
        ("scaled", "the same, with a scale drawn to show the RMS of a sine"),
        ("rms", "true RMS meter"),
        ("peak", "meter that holds the peak"),
    ),
    truth=_by_reading,
    right="One current, five numbers, and not one of them the current at which the contacts part; the last comes nearest "
          "to it. Write the kind of meter beside every reading on the coil card.",
    look="On the panel of three supplies, choose the magneto and read the five meters.",
    hints=(
        "The magneto's current changes its sign with every pulse. What is left of its plain mean?",
        "Squaring before averaging gives the high parts of a pulse more weight. And what is higher than any average?",
        "A scale drawn for a sine multiplies the rectified mean by a little more than one. This current is more peaked than a "
        "sine.",
    ),
    misconceptions=(
        Misconception("scaled-for-a-sine-is-rms", lambda of: ["mean", "rectified", "rms", "scaled", "peak"],
                      "You put true RMS below the meter that is scaled for a sine. That would be so for a current flatter than a "
                      "sine. This one rises late and breaks off: look at its strip, and read both meters on the panel."),
        Misconception("sign-does-not-matter", lambda of: ["rectified", "mean", "scaled", "rms", "peak"],
                      "You let the plain mean show more than the rectified one. The current changes sign with every pulse, and "
                      "the plain mean lets the one pulse eat up the other: read that meter on the panel."),
    ),
)


# ------------------------------------------------------------------------------------------ 5: scaled for a sine
def _two_meters(of: Variant) -> tuple[float, float]:
    """Return the rectified mean and the RMS, in A, to the hundredth that is shown."""
    shown = five_readings(of)
    return round(shown["rectified"], 2), round(shown["rms"], 2)


def _too_low(of: Variant) -> float:
    rectified, rms = _two_meters(of)
    return 100.0 * (1.0 - panel.SINE * rectified / rms)


SCALE = number_exercise(
    "07-scaled-for-a-sine", 7, "A scale drawn for a sine",
    variant=_meters_variant,
    prompt=lambda of: (
        f"At {of['rpm']:.0f} rpm and {of['drive']:.0f} % drive the current of a well-set coil has a rectified mean of "
        f"{_two_meters(of)[0]:.2f} A and a true RMS of {_two_meters(of)[1]:.2f} A. A cheap meter measures the rectified mean and "
        "multiplies it by 1.11, which is right for a sine, to show an RMS value. By how many percent of the true RMS does it "
        "show too little?"
    ),
    truth=_too_low, unit="percent", units=("percent", "1"), tolerance=0.03, absolute=0.5,
    right="The meter is not broken: it was made for another shape of current. On a buzzing coil its scale means nothing "
          "in particular.",
    look="First what the cheap meter shows, then what is missing from the true value, as a share of the true value.",
    hints=(
        "Multiply the rectified mean by the factor: that is what the cheap meter shows.",
        "Take that from the true RMS: so much is missing.",
        "Divide what is missing by the true RMS and make it a percentage.",
    ),
    misconceptions=(
        Misconception("forgets-the-scale", lambda of: 100.0 * (1.0 - _two_meters(of)[0] / _two_meters(of)[1]),
                      "You compared the rectified mean itself with the RMS. The cheap meter's scale has already been stretched "
                      "for a sine: it shows more than the rectified mean. Multiply first."),
        Misconception("a-scale-is-right-for-any-current", lambda of: 0.0,
                      "It would show just the RMS if the current were a sine. Look at the strip on the panel of three supplies: "
                      "it rises late and breaks off. Do the two readings agree, once multiplied?"),
    ),
)


# --------------------------------------------------------------------------------- 6: setting a coil by the meter
@remembered
def _set_by_meter(of: Variant) -> tuple[float, float, float, float]:
    """Return reading and opening current of the well-set coil at TWIN_RPM, and at hand-crank speed, as shown (A)."""
    shown = []
    for result in (_well_set(TWIN_RPM), _readings(NOMINAL, of["slow"])):
        shown += [round(result.ammeter_rectified, 2), round(result.opening_current.mean or math.nan, 1)]
    return shown[0], shown[1], shown[2], shown[3]


def _guess(of: Variant) -> float:
    reading, current, other, _ = _set_by_meter(of)
    return current * other / reading


def _off(of: Variant) -> float:
    true = _set_by_meter(of)[3]
    return 100.0 * (_guess(of) - true) / true


def _meter_prompt(of: Variant) -> str:
    reading, current, other, true = _set_by_meter(of)
    return (
        f"Coil card of {of['name']}. At {TWIN_RPM:.0f} rpm an averaging meter read {reading:.2f} A, and a current probe found "
        f"that the contacts part at {current:.1f} A. Cranked by hand at {of['slow']:.0f} rpm the meter reads {other:.2f} A; the "
        f"owner reckons the opening current in proportion. The probe finds {true:.1f} A. By how many percent of the true "
        "current is the owner's guess too high?"
    )


GUESS = number_exercise(
    "07-set-by-meter", 7, "An opening current guessed from a meter",
    variant=lambda draw: {
        "slow": draw.between(150.0, 200.0, 10.0), "name": draw.pick(("Alder", "Birch", "Cedar", "Damson")),
    },
    prompt=_meter_prompt,
    truth=_off, unit="percent", units=("percent", "1"), tolerance=0.03, absolute=0.5,
    right="The reading went up while the opening current went down. And there are coils with which it is worse: the "
          "guess can be twice the truth. An ammeter can tell you that something draws current; it cannot set a coil.",
    look="First the guess, in proportion to the first reading; then how far it lies above the truth, as a share of the truth.",
    hints=(
        "In proportion: the first opening current, times the second reading over the first.",
        "Take the true opening current from the guess.",
        "Divide by the true current, not by the guess, and make it a percentage.",
    ),
    misconceptions=(
        Misconception("meter-tracks-opening-current", lambda of: 100.0 * abs(_set_by_meter(of)[2] / _set_by_meter(of)[0] - 1.0),
                      "You took the difference of the two readings for the error. That is how far the reading moved. Work out "
                      "what current it suggests, and hold that against the one that the probe found."),
        Misconception("share-of-the-guess", lambda of: 100.0 * (_guess(of) - _set_by_meter(of)[3]) / _guess(of),
                      "You divided by the guess. The question asks for a share of the true current: that is what one should "
                      "know."),
    ),
)


# ----------------------------------------------------------------------------------------- 7: make a twin yourself
def _twin_variant(draw: Draw) -> dict[str, Any]:
    return {"rpm": draw.pick((450.0, 460.0)), "aside": draw.between(10.0, 16.0, 2.0),
            "vibrator": round(VIBRATOR * draw.between(1.21, 1.25, 0.01), 2)}


def twin_of(of: Variant) -> dict[str, float]:
    """Return the preloads of the good coil that is to be matched: with a tighter vibrator than that of the panels."""
    return {"preload": CUSHION, "vibrator_preload": of["vibrator"]}


def _twin_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    mine, theirs = multi_firing.machine(values), multi_firing.machine(twin_of(of))
    trials = []
    for where, rpm in (("At the speed shown", of["rpm"]), ("Turned a little slower", of["rpm"] - of["aside"]),
                       ("Turned a little faster", of["rpm"] + of["aside"])):
        result, good = _readings(mine, rpm), _readings(theirs, rpm)
        apart = result.ammeter_rectified / good.ammeter_rectified - 1.0
        tells = f"{where}, the meter tells them apart: hold the two readings against each other."
        trials.append(Trial(abs(apart) <= TWIN_NEAR, tells))
        trials.append(Trial(result.misfired >= 0.8, f"{where}, yours gives sparks that light the charge."))
    return trials


TWIN_NEAR = 0.04  # a share: about as well as two readings can be compared; wider, and a slack cushion alone would do


def _twin_setting(of: Variant) -> dict[str, float]:
    """Return a pair of preloads that only the meter takes for the well-set coil."""
    for vibrator in (1.0, 0.92, 1.05, 1.1, 0.85):
        for cushion in (0.35, 0.3, 0.33, 0.37, 0.28, 0.4, 0.25):
            values = {"preload": round(cushion * CUSHION, 2), "vibrator_preload": round(vibrator * VIBRATOR, 2)}
            if all(trial.met for trial in _twin_trials(values, of)):
                return values
    raise ValueError(f"No twin for {dict(of)}.")


TWIN = sliders_exercise(
    "07-make-a-twin", 7, "Make a coil that fools the meter",
    variant=_twin_variant,
    prompt=lambda of: (
        "The best proof that a meter cannot set a coil is a bad coil that reads like a good one. You begin with a good one of "
        f"another set, its vibrator at {of['vibrator']:.2f} N. Set both preloads so that, at {of['rpm']:.0f} rpm, the averaging "
        f"meter reads within {100 * TWIN_NEAR:.0f} % of what it reads now, and yet most pulses misfire, for want of a spark that "
        "lights the charge. It must fool the meter a little slower and a little faster, too."
    ),
    panel="same_reading",
    controls=(multi_firing.CUSHION_CONTROL, multi_firing.VIBRATOR_CONTROL),
    start=twin_of,
    fixed=lambda of: {"meter": "rectified", "rpm": of["rpm"]},
    check=_twin_trials,
    truth=_twin_setting,
    right="You have made a coil that no averaging meter can tell from a good one, and that misfires on the road. "
          "Remember it when somebody sets four coils to the same reading.",
    hints=(
        "First make it misfire: which cushions do that at this speed? Then see where the reading has gone.",
        "A slack cushion reads more. What does a slacker vibrator do to the reading?",
        "Take the cushion to less than half of what it was, and then ease the vibrator until the reading has come back.",
    ),
    recognise={
        "equal-readings-equal-coils": lambda values, of: (
            abs(values["preload"] / CUSHION - 1.0) < 0.3 and abs(values["vibrator_preload"] / of["vibrator"] - 1.0) < 0.15
        ),
        "one-spring-will-do": lambda values, of: abs(values["vibrator_preload"] / of["vibrator"] - 1.0) < 0.04,
    },
    misconceptions=(
        Misconception("equal-readings-equal-coils", twin_of,
                      "You stayed beside the good coil, as if a coil of the same reading had to be near it. Look at the "
                      "map: the cells that read alike lie in a chain right across it. Go and try their far ends."),
        Misconception("one-spring-will-do",
                      lambda of: {**twin_of(of), "preload": round(0.35 * CUSHION, 2)},
                      "The cushion alone makes it misfire, but takes the reading along with it, and the meter would "
                      "tell them apart. Read your coil's reading, and bring it back with the other spring."),
    ),
)


# --------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
def rms(times, currents):
    """Return the RMS of a current: the root of the mean of its square, over time.

    times: when each sample was taken, in seconds, ascending but NOT evenly spaced
    currents: the current at each of these times, in amperes (as many as times)
    """
    area = 0.0
    for k in range(1, len(times)):
        step = times[k] - times[k - 1]
        #: blank add to area the mean of the two squared currents at the ends of this step, times the step
        area += 0.5 * (currents[k] ** 2 + currents[k - 1] ** 2) * step
        #: end
    #: blank return the root of area over the whole time
    return (area / (times[-1] - times[0])) ** 0.5
    #: end
'''
_HEAD = "def rms(times, currents):\n"
_SLICES = (
    "    s = 0.0\n    for k in range(1, len(times)):\n"
    "        s += 0.5 * (abs(currents[k]) + abs(currents[k - 1])) * (times[k] - times[k - 1])\n"
)


def _samples(run: Run) -> tuple[list[float], list[float]]:
    """Return the strip of a run's current, from zero time: dense where much happens, sparse where little does."""
    start = run.strips.time[0]
    return [round(t - start, 9) for t in run.strips.time], [round(i, 6) for i in run.strips.current]


def _rms_cases(of: Variant) -> list[Case]:
    def run(drive: MagnetoDrive | BatteryDrive, coil: Machine = NOMINAL) -> Run:
        return simulate(coil, drive, pulses=2, warm_up=4, record=(0, 1), rows_a_pulse=200)

    runs = (
        ("a well-set coil runs on the magneto", run(MagnetoDrive(of["rpm"]))),
        ("the cushion is slack", run(MagnetoDrive(of["rpm"]), _scaled(of["slack"], 1.0))),
        ("the magneto is weak", run(MagnetoDrive(of["rpm"], 0.7))),
        ("the coil buzzes on a battery", run(BatteryDrive(12.0))),
    )
    # The expected value is what the kernel's own meter integrated, step by step, not a sum over these samples.
    cases = [Case(words, _samples(one), one.meter.rms) for words, one in runs]
    return [*cases, Case("the current is steady", ([0.0, 1.0, 1.5, 4.0], [of["steady"]] * 4), of["steady"])]


RMS = function_exercise(
    "07-write-rms", 7, "Write it: a true RMS meter",
    variant=lambda draw: {
        "rpm": draw.between(430.0, 480.0, 10.0), "slack": draw.between(0.46, 0.5, 0.02), "steady": draw.between(1.0, 3.0, 0.5),
    },
    prompt="For those who program: finish this true RMS meter. Its samples are not evenly spaced: the instrument takes more of "
           "them while the contacts part. It will be tried on the currents of several coils.",
    name="rms", source=SOURCE, cases=_rms_cases, tolerance=0.03,
    right="Compare it with the rectified mean of the same samples: one current, two honest numbers.",
    look="Take a steady current in uneven steps by hand: the RMS must be that current.",
    hints=(
        "Square first, then average over time, and take the root at the very end.",
        "A sample that stands for a long step counts more than one that stands for a short one: multiply by the step.",
        "`x ** 0.5` is a square root; the whole time is `times[-1] - times[0]`.",
    ),
    misconceptions=(
        Misconception("mean-of-the-size", lambda of: f"{_HEAD}{_SLICES}    return s / (times[-1] - times[0])\n",
                      "Your function returns the rectified mean: it does not square. That is the number of an averaging meter, "
                      "and on this current it is not the RMS. Square before you average."),
        Misconception("samples-count-alike",
                      lambda of: f"{_HEAD}    return (sum(i * i for i in currents) / len(currents)) ** 0.5\n",
                      "Your function lets every sample count alike. They are taken thickest while the contacts part, so those "
                      "moments count too much. Weigh each by its step of time."),
    ),
)

EXERCISES = (EQUAL, BUZZ, TRANSFORMER, FIVE, SCALE, GUESS, TWIN, RMS)
