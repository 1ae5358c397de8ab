"""The exercises of lesson 9, setting up a coil.

The coil to be set up is the panel's: its faults follow from its number, the sheet has a few lines, and each line used is on the
log. A judgement runs the coil that results at five speeds and drives; every press of the button is a try on the record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.readings import Readings, read, sparks_in_pulses
from coilmodel.sparks import sparks
from lessons.contracts import Exercise, Misconception
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
from lessons.panels import setting_up as panel
from lessons.panels.setting_up import NOTHING, State, bench_words

NOMINAL = panel.NOMINAL
PULSES, WARM_UP = 8, 4


def _readings(machine: Machine, rpm: float, drive: float = 1.0) -> Readings:
    return read(simulate(machine, MagnetoDrive(rpm, drive), pulses=PULSES, warm_up=WARM_UP))


# --------------------------------------------------------------------------------- 1: predict, set on a weak magneto
def _weak_variant(draw: Draw) -> dict[str, Any]:
    return {
        "drive": draw.between(55.0, 60.0, 1.0), "share": draw.pick((0.68, 0.7, 0.72, 0.74)),
        "rpm": draw.pick((240.0, 250.0, 260.0)),
    }


def weak_and_sound(of: Variant) -> tuple[Readings, Readings]:
    """Return the readings of the coil with its eased vibrator on the weak magneto at 200 rpm, and on a sound one after."""
    eased = NOMINAL.scaled(vibrator_preload=of["share"])
    return _readings(eased, 200.0, of["drive"] / 100.0), _readings(eased, of["rpm"])


def _weak_outcome(of: Variant) -> str:
    sound = weak_and_sound(of)[1]
    if sound.multiple > 0.3:
        return "several"
    if sound.misfired > 0.3:
        return "none"
    return "stronger" if sound.first_spark_energy > 1.1 * _readings(NOMINAL, of["rpm"]).first_spark_energy else "same"


WEAK = choice_exercise(
    "09-set-on-a-weak-magneto", 9, "Predict: set on a weak magneto",
    prediction=True,
    variant=_weak_variant,
    prompt=lambda of: (
        f"A magneto has lost its strength: it gives {of['drive']:.0f} % of what it should. Its owner does not know. At "
        "200 rpm his good coil does not fire on it, so he eases the vibrator to "
        f"{of['share'] * NOMINAL.vibrator.preload:.2f} N (it was {NOMINAL.vibrator.preload:.2f} N), and it does. Later the "
        f"magneto is put right. What will the coil do then, at {of['rpm']:.0f} rpm? Say so before you touch the panel."
    ),
    options=(
        ("same", "One good spark in every pulse: a set coil stays set."),
        ("stronger", "One spark in every pulse, and a stronger one than before anybody touched it."),
        ("several", "More than one spark in many pulses."),
        ("none", "It stops firing."),
    ),
    truth=remembered(_weak_outcome),
    right="Right. The coil was set to the fault of another part. Eased so far, it lets go at a low current on a sound "
          "magneto, with most of the pulse still to come. That is why the supply comes first, and the springs late.",
    look="Think what an eased vibrator does on a sound magneto, or try it: a coil without that fault, its vibrator eased.",
    hints=(
        "What was wrong, and what was changed?",
        "An eased vibrator lets go at less current. On a sound magneto, how much of the pulse is then left?",
        "On the panel of lesson 6 with the tension map, lower the vibrator's preload at full drive and count the columns.",
    ),
    misconceptions=(
        Misconception("once-set-stays-set", lambda of: "same",
                      "It was set to a weak magneto. If a setting were good for any supply, the map of lesson 6 over speed and "
                      "drive would be all ones. Look at an eased vibrator there at full drive."),
        Misconception("more-drive-is-only-stronger", lambda of: "stronger",
                      "More drive is only a stronger spark as long as the springs hold out for the current. These let go "
                      "early. Look at the opening current and the count of an eased vibrator at full drive."),
        Misconception("too-weak-a-spring-is-silent", lambda of: "none",
                      "A weak vibrator is not silent: it lets go sooner, not never. Ease one on the tension map's panel and "
                      "count the marks in a pulse."),
    ),
)


# --------------------------------------------------------------------------------------- 2: the drop across the points
def _drop_variant(draw: Draw) -> dict[str, Any]:
    return {
        "current": draw.pick((1.5, 2.5, 3.0)), "resistance": draw.between(0.4, 0.6, 0.1),
        "leads": draw.between(0.1, 0.16, 0.02),
    }


def _drop(of: Variant) -> float:
    """Return the volts at the terminals: points and leads in series."""
    points = NOMINAL.but(contacts={"resistance": of["resistance"]}).contacts
    return of["current"] * (points.resistance + of["leads"])


DROP = number_exercise(
    "09-points-drop", 9, "How much do the points resist?",
    variant=_drop_variant,
    prompt=lambda of: (
        f"A bench supply sends {of['current']:.1f} A through the closed points of a coil. A meter at the terminals shows "
        f"{_drop(of):.2f} V. With the terminals joined in front of the points, the leads alone take "
        f"{of['current'] * of['leads']:.2f} V at the same current. What is the resistance of the points?"
    ),
    truth=lambda of: NOMINAL.but(contacts={"resistance": of["resistance"]}).contacts.resistance,
    unit="ohm", units=("ohm", "mohm"), tolerance=0.025,
    right="Right. Sound points take some hundredths of a volt at an ampere in this model. These eat up the slow end: turned "
          "by hand, the magneto cannot drive enough current through them.",
    look="Take off what the leads need, and divide what is left by the current.",
    hints=(
        "Points and leads lie in series: the same current, and their voltages add up.",
        "Subtract the leads' part from the reading first.",
        "Resistance is voltage over current.",
    ),
    misconceptions=(
        Misconception("forgets-the-leads", lambda of: _drop(of) / of["current"],
                      "You gave the points what belongs to the leads. Measure right at the points, or take the leads off: "
                      "otherwise clean points look dirty, and get filed away."),
        Misconception("volts-are-ohms", lambda of: of["resistance"] * of["current"],
                      "That is the voltage across the points, and it would be their resistance only at one ampere. Divide "
                      "by the current."),
        Misconception("upside-down", lambda of: 1.0 / of["resistance"],
                      "You divided the current by the voltage. By that sum dirtier points would have less resistance."),
    ),
)


# -------------------------------------------------------------------------------------------------- 3: the next step
SIGNS = {
    # key: (what is wrong as part_field or drive, factors, the look or work that comes next)
    "slack": ("cushion_preload", (0.4, 0.43, 0.45), "springs"),
    "stiff": ("cushion_preload", (1.75, 1.85, 2.0), "springs"),
    "eased": ("vibrator_preload", (0.68, 0.7, 0.72), "springs"),
    "small": ("condenser_capacitance", (0.05, 0.08, 0.1), "condenser"),
    "leaky": ("condenser_leakage_resistance", (2e-6, 3e-6, 5e-6), "condenser"),
    "weak": ("drive", (0.55, 0.58, 0.6), "magneto"),
}


HAND = 200.0  # rpm


def _sign_variant(draw: Draw) -> dict[str, Any]:
    sign = draw.pick(tuple(SIGNS))
    return {"sign": sign, "factor": draw.pick(SIGNS[sign][1]), "rpm": draw.between(430.0, 460.0, 10.0)}


def sign_state(of: Variant) -> State:
    """Return the coil of a variant on its magneto."""
    what = SIGNS[of["sign"]][0]
    return State(NOMINAL, of["factor"]) if what == "drive" else State(NOMINAL.scaled(**{what: of["factor"]}))


def _sign_prompt(of: Variant) -> str:
    state = sign_state(of)
    swapped = State(NOMINAL, state.drive)
    return (
        f"At {of['rpm']:.0f} rpm. A good coil on the club's own magneto: {bench_words(panel.GOOD, of['rpm'], 100.0)}. This "
        f"coil on its owner's: {bench_words(state, of['rpm'], 100.0)}; and turned by hand, {bench_words(state, HAND, 100.0)}. "
        f"The good coil in its place at {of['rpm']:.0f} rpm: {bench_words(swapped, of['rpm'], 100.0)}. What comes next?"
    )


NEXT = choice_exercise(
    "09-next-step", 9, "What comes next?",
    variant=_sign_variant,
    prompt=remembered(_sign_prompt),
    options=(
        ("springs", "Measure both springs and the travel."),
        ("condenser", "Check the condenser, with the contacts held apart."),
        ("magneto", "Leave the coil and look at the magneto."),
        ("bend", "Tighten the cushion a little and see."),
    ),
    truth=lambda of: SIGNS[of["sign"]][2],
    right="Right. The good coil clears or accuses the magneto; then the opening current speaks of the springs. At the right "
          "current, a spark that is sound by hand and a thread on the road speaks of a slack cushion; one that is thin at both "
          "speeds, of the condenser. Only then does a tool touch anything.",
    look="Compare in this order: the good coil on both magnetos, then the two opening currents, then the spark by hand and "
         "at speed.",
    hints=(
        "Does the good coil do on this magneto what it does on the club's?",
        "If it does: is this coil's opening current the good one's, within a tenth or two of an ampere?",
        "A wrong current is the springs' business. At the right current ask: is the spark thin by hand too, or only at speed?",
    ),
    misconceptions=(
        Misconception("bend-first", lambda of: "bend",
                      "A bend is not a look: it spoils the one reading that you had, the setting as found. First find out "
                      "which part differs from the good coil's."),
        Misconception("blames-the-condenser", lambda of: "condenser" if SIGNS[of["sign"]][2] != "condenser" else "springs",
                      "Compare again. A bad condenser makes a thin spark at every speed and leaves the opening current as it is. "
                      "A wrong spring changes the current, or the spark at one speed and not at the other. Which is it here?"),
        Misconception("blames-the-wrong-half", lambda of: "magneto" if SIGNS[of["sign"]][2] != "magneto" else "springs",
                      "The good coil in its place is the judge of that: if it does there what it does on the club's "
                      "magneto, the magneto is cleared; if not, the coil is."),
    ),
)


# ------------------------------------------------------------------------------------------------- 4: order of work
ORDER = (
    ("supply", "the magneto and its leads"),
    ("electric", "winding and condenser"),
    ("points", "dress the points"),
    ("travel", "set the cushion's travel"),
    ("vibrator", "set the vibrator"),
    ("cushion", "set the cushion spring"),
    ("range", "run it over every speed and drive"),
)
"""The order of work: common practice, no source. Its reasons are the model's (tests/lessons/test_lesson_09.py): what stands
earlier upsets what was set later, and not the other way round."""
UPSETS = (
    *((first, blade) for first in ("supply", "electric", "points", "travel") for blade in ("vibrator", "cushion")),
    ("points", "travel"), ("vibrator", "cushion"), *((name, "range") for name, _ in ORDER[:-1]),
)
"""(first, later): what comes first, since it would undo the other. Magneto, condenser and points undo nothing of each other."""


def _kept(of: Variant) -> list[str]:
    return [name for name, _ in ORDER if name != of["without"]]


def _other_order(*order: str) -> Any:
    return lambda of: [name for name in order if name != of["without"]]


WORK = ordering_exercise(
    "09-order-of-work", 9, "In what order?",
    variant=lambda draw: {"without": draw.pick(("travel", "points", "electric", "supply", "none"))},
    prompt=lambda of: (
        f"A coil of which nothing is known comes to the bench. Put the {'seven' if of['without'] == 'none' else 'six'} "
        "pieces of work in order, first to last, so that none of them undoes one that is done already."
    ),
    items=lambda of: [item for item in ORDER if item[0] != of["without"]],
    truth=_kept,
    rule=UPSETS,
    right="Right: from what cannot be adjusted to what can, from the coarse to the fine, and the whole range last. Each step "
          "rests on those before it.",
    look="Ask of each pair: if I do the second first and then the first, must I do the second again?",
    hints=(
        "Which of these cannot be adjusted at all, only found sound or mended? They come before any spring.",
        "Of the two springs, one sets the current, and the other is set to follow it.",
        "Filing the points or moving a stop changes where the blades rest: the springs must wait for that.",
    ),
    misconceptions=(
        Misconception("springs-first", _other_order("cushion", "vibrator", "travel", "points", "electric", "supply", "range"),
                      "You began with the springs. If that were right, mending the magneto afterwards would leave the "
                      "setting as it was. A coil set on a weak magneto fires twice on a sound one: set last what depends on "
                      "the rest."),
        Misconception("cushion-before-vibrator", _other_order("supply", "electric", "points", "travel", "cushion", "vibrator",
                                                              "range"),
                      "The cushion is set to follow the vibrator. On the tension map the place of a good cushion moves with "
                      "the vibrator's preload: touch that afterwards, and the cushion must be done again."),
        Misconception("test-first-is-enough", _other_order("range", "supply", "electric", "points", "travel", "vibrator",
                                                           "cushion"),
                      "A run over the whole range before the work is a fine thing, but the one that counts comes after the "
                      "last bend. Otherwise nobody knows what the last bend has done."),
    ),
)


# ------------------------------------------------------------------------------------------ 5, 6: the coil on the bench
JUDGED = (
    ("Turned by hand", 200.0, 100.0), ("At driving speed", 450.0, 100.0), ("On a weaker setting of the magneto", 450.0, 85.0),
    ("On a stronger setting of the magneto", 450.0, 110.0), ("Turned fast", 580.0, 100.0),
)
"""The speeds and drives (percent) at which a finished coil is judged."""


def _sheet_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    state = panel.work_on(of["coil"], panel.lines_of(values, of["lines"]))
    trials = []
    for where, rpm, drive in JUDGED:
        result = panel.reading(state, rpm, drive)
        what = ("some pulses fire more than once" if result.multiple else "pulses are missed" if result.misfired
                else "the spark is too thin")
        trials.append(Trial(panel.fires_well(state, rpm, drive), f"{where}, {what}."))
    trials.append(Trial(not guessed(panel.lines_of(values, of["lines"])), "A piece of work stands on your sheet that no look "
                        "before it called for."))
    return trials


LOOK_FOR = {
    "magneto": "swap", "rewind": "winding", "new_condenser": "condenser", "dress": "points", "travel": "springs",
    **dict.fromkeys(panel.BENDS, "springs"),
}
"""The look that shows whether a piece of work is called for."""


def guessed(moves: Sequence[str]) -> list[str]:
    """Return the pieces of work that stand on the sheet without their look somewhere before them."""
    return [move for place, move in enumerate(moves) if move in LOOK_FOR and LOOK_FOR[move] not in moves[:place]]


def repairs_of(number: int) -> list[str]:
    """Return the repair for each fault of coil `number`, in the order of work."""
    found = [move for fault in panel.faults_of(number) for move in fault.mended_by]
    place = ["magneto", "rewind", "new_condenser", "dress", "travel", "v++", "v--", "c++", "c--"]
    return sorted(dict.fromkeys(found), key=place.index)


def mending(number: int, lines: int) -> dict[str, str]:
    """Return a sheet of `lines` lines that mends coil `number`: look and repair for each of its faults, in the order of work."""
    moves: list[str] = []
    for move in repairs_of(number):
        moves += [move] if LOOK_FOR[move] in moves else [LOOK_FOR[move], move]
    return {f"line{n}": move for n, move in enumerate([*moves, *[NOTHING] * (lines - len(moves))], 1)}


def _filled(lines: int, *moves: str) -> dict[str, Any]:
    sheet = {f"line{n}": moves[(n - 1) % len(moves)] for n in range(1, lines + 1)}
    return {**sheet, "rpm": panel.RPM_CONTROL.default, "drive": panel.DRIVE_CONTROL.default}


def _given_away() -> set[int]:
    """Return the coils that a preset of the panel shows, or whose work is just what a preset does to another coil."""
    done = [[move for move in panel.lines_of(preset.values) if move in LOOK_FOR] for preset in panel.PANEL.presets]
    shown = {round(preset.values.get("coil", panel.COIL_CONTROL.default)) for preset in panel.PANEL.presets}
    return shown | {number for number in range(1, panel.COILS + 1) if repairs_of(number) in done}


def _used(values: Mapping[str, Any]) -> list[str]:
    return panel.lines_of(values)


def _too_tight(values: Mapping[str, Any], of: Variant) -> bool:
    done = panel.work_on(of["coil"], _used(values)).machine.cushion.preload
    return done > max(1.3 * NOMINAL.cushion.preload, panel.as_found(of["coil"]).machine.cushion.preload)


SHOWN = _given_away()
"""Coils that the panel's presets give away; nobody is asked for these."""


def _virtual_coil(key: str, title: str, words: str, lines: int, first: int, last: int) -> Exercise:
    """Return the task of setting up a virtual coil, its number from `first` to `last`, with `lines` lines to write on."""
    def values_of(sheet: Mapping[str, str]) -> dict[str, Any]:
        return {"rpm": panel.RPM_CONTROL.default, "drive": panel.DRIVE_CONTROL.default, **sheet}

    controls = panel.LINE_CONTROLS[:lines]
    return sliders_exercise(
        key, 9, title,
        variant=lambda draw: {"coil": draw.pick([n for n in range(first, last + 1) if n not in SHOWN]), "lines": lines},
        prompt=lambda of: (
            f"Coil number {of['coil']} of the Wendle Valley Engine Club's box {words}. The sheet has {lines} lines, one look "
            "or one piece of work each, and the log shows what the bench shows. Bring the coil to one full spark in every "
            "pulse. It is judged turned by hand, at driving speed and fast, and on weaker and stronger settings of the "
            "magneto; and no work may stand on the sheet without the look that called for it. Speed and drive are yours to try "
            "it at; trying costs no line."
        ),
        panel="setting_up",
        controls=(panel.RPM_CONTROL, panel.DRIVE_CONTROL, *controls),
        fixed=lambda of: {"coil": float(of["coil"]), **{f"line{n}": NOTHING for n in range(lines + 1, panel.LINES + 1)}},
        check=_sheet_trials,
        truth=lambda of: values_of(mending(of["coil"], lines)),
        right="Right: one full spark in every pulse over the whole range, and a written log of how you got there. On a real "
              "coil the supply is off and the condenser discharged before every line that touches it.",
        look="Read the log from the top: what still differs from the good coil, and at which speed?",
        hints=(
            "Compare the first two entries of the log, slow, at driving speed and fast, before you fill in any line.",
            "Current as on the good coil but a thin spark: condenser or winding. Current off: springs, travel, points or "
            "magneto.",
            "A good coil in its place tells coil from magneto in one line; the spring balance reads three things in one line. "
            "Each piece of work wants its own look before it.",
        ),
        recognise={
            "looks-mend-nothing": lambda values, of: bool(_used(values)) and set(_used(values)) <= set(panel.LOOKS),
            "more-spring-is-safer": _too_tight,
            "adjusts-without-looking": lambda values, of: bool(guessed(_used(values))),
        },
        misconceptions=(
            Misconception("looks-mend-nothing", lambda of: _filled(lines, "springs", "condenser", "swap", "points"),
                          "All your lines are looks. A look finds the fault and leaves it where it is: keep a line or two for "
                          "the work. Which of the looks differs from the good coil's reading?"),
            Misconception("more-spring-is-safer", lambda of: _filled(lines, "c++", "c++", "springs", "c++"),
                          "The cushion is now far tighter than a good coil's. More spring is not safer: the contacts let go "
                          "early and come back for more. Read the opening current in the log, before and after."),
            Misconception("adjusts-without-looking", lambda of: _filled(lines, "v+", "v-"),
                          "You have bent or mended without the look that calls for it. By that way each line is a guess among "
                          "many. Spend a line on a look: it costs as much as a wrong bend, and spoils nothing."),
        ),
    )


ONE = _virtual_coil("09-one-fault", "A coil with one hidden fault", "has one fault", 4, 1, 20)
TWO = _virtual_coil("09-two-faults", "A coil with two hidden faults", "has two faults, and one may hide the other", 6, 21, 40)


# ------------------------------------------------------------------------------------------------- 7: a small function
SOURCE = '''
def settings_met(tests, least):
    """Return at how many settings a coil is well set.

    tests: a list of (counts, energies), one pair for each speed and drive; counts holds the sparks in each pulse, energies
        the energy of each pulse's first spark in mJ (0 where there was none)
    least: the energy that every first spark must have, in mJ
    A setting is met if every pulse has exactly one spark and no first spark is weaker than least.
    """
    met = 0
    for counts, energies in tests:
        #: blank if this setting is met, add 1 to met
        if all(count == 1 for count in counts) and min(energies) >= least:
            met += 1
        #: end
    #: blank return how many settings are met
    return met
    #: end
'''
_HEAD = "def settings_met(tests, least):\n"


def _test(state: State, rpm: float, drive: float) -> tuple[list[int], list[float]]:
    run = simulate(state.machine, MagnetoDrive(rpm, state.drive * drive / 100.0), pulses=4, warm_up=3)
    energies = [0.0] * run.pulses
    for spark in sparks(run):
        if energies[spark.pulse] == 0.0:
            energies[spark.pulse] = round(1e3 * spark.energy, 2)
    return sparks_in_pulses(run), energies


def _count_met(tests: Sequence[tuple[list[int], list[float]]], least: float) -> int:
    return sum(set(counts) == {1} and not any(energy < least for energy in energies) for counts, energies in tests)


def _cases(of: Variant) -> list[Case]:
    places = ((450.0, 100.0), (560.0, 100.0), (250.0, 100.0))
    coils = (
        ("the coil is well set", State(NOMINAL)),
        ("the cushion is slack", State(NOMINAL.scaled(cushion_preload=of["slack"]))),
        ("the cushion is stiff", State(NOMINAL.scaled(cushion_preload=1.75))),
        ("the condenser leaks", State(NOMINAL.scaled(condenser_leakage_resistance=of["leak"]))),
        ("the magneto gives nothing", State(NOMINAL, 0.2)),
    )
    asked = [(words, [_test(state, *place) for place in places]) for words, state in coils]
    # made up: pulses that fire twice and not at all by turns average one spark a pulse
    swinging = [([2, 0, 2, 0], [30.0, 0.0, 30.0, 0.0]), ([1, 1], [30.0, 31.0])]
    asked.append(("one pulse fires twice and the next does not", swinging))
    return [Case(words, (tests, of["least"]), float(_count_met(tests, of["least"]))) for words, tests in asked]


FUNCTION = function_exercise(
    "09-settings-met", 9, "Write it: at how many settings is it well set?",
    variant=lambda draw: {"slack": draw.between(0.3, 0.4, 0.02), "leak": draw.pick((2e-6, 2.5e-6, 3e-6)),
                          "least": draw.between(16.0, 18.0, 0.5)},
    prompt="For those who program: finish the function by which a finished coil is judged. It gets one coil's tests at "
           "several speeds and drives, and returns at how many of them the coil is well set. It will be tried on several "
           "coils.",
    name="settings_met", source=SOURCE, cases=_cases,
    right="Right: both the count and the spark, pulse by pulse and setting by setting. That is how this lesson's coils are "
          "judged.",
    look="Take one coil by hand: strike out each setting with a bad count, then each with a weak spark, and count what is "
         "left.",
    hints=(
        "A setting is spoilt by one bad pulse: `all(...)` over the counts.",
        "The weakest first spark decides about the energy: `min(energies)`.",
        "Both must hold at the same setting: join them with `and`.",
    ),
    misconceptions=(
        Misconception("average-is-enough",
                      lambda of: f"{_HEAD}    return sum(sum(c) == len(c) and min(e + [99]) >= 0 and sum(e) / len(e) >= 0.7 "
                                 "* least for c, e in tests)\n",
                      "Your function looks at averages. By that measure a coil that fires twice in one pulse and misses the "
                      "next is as good as a well-set one. Look at each pulse."),
        Misconception("counting-is-enough", lambda of: f"{_HEAD}    return sum(all(n == 1 for n in c) for c, e in tests)\n",
                      "Your function only counts sparks. A coil with a leaking condenser gives one in every pulse, each a mere "
                      "thread. Ask for the energy too."),
        Misconception("any-spark-will-do", lambda of: f"{_HEAD}    return sum(min(c) >= 1 and min(e) >= least for c, e in "
        "tests)\n",
                      "Your function is content with two sparks in a pulse. The second comes late in the stroke, and it "
                      "shows a fault. Ask for exactly one."),
    ),
)

EXERCISES = (WEAK, DROP, NEXT, WORK, ONE, TWO, FUNCTION)
