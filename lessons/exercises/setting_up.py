"""The exercises of lesson 9, setting up a coil.

The coil to be set up lies on the bench of lessons/panels/workbench.py: its faults follow from its number, the sheet has few
lines, and what is done stands on the log. A judgement runs the coil that results at five speeds and drives and reads the log;
every coil that is handed back is a try on the record.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.readings import Readings, read, sparks_in_pulses
from coilmodel.sparks import sparks
from lessons.contracts import About, Exercise, Misconception
from lessons.exercises.kinds import (
    Case,
    Draw,
    Variant,
    choice_exercise,
    function_exercise,
    number_exercise,
    ordering_exercise,
    remembered,
)
from lessons.exercises.log_kind import Point, log_exercise
from lessons.panels import workbench as bench
from lessons.panels.setting_up import LOG
from lessons.panels.workbench import BY_KEY, GOOD, LINES, NOMINAL, Log, State, replay, seen

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
    about=About({"setting_up": ("log",)}, "a preset or a tool of the bench"),
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
    right="The coil was set to the fault of another part. Eased so far, it lets go at a low current on a sound "
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
    right="Sound points take some hundredths of a volt at an ampere in this model. These eat up the slow end: turned "
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
        f"At {of['rpm']:.0f} rpm. A good coil on the club's own magneto: {seen(GOOD, of['rpm'], 100.0).words}. This coil on its "
        f"owner's: {seen(state, of['rpm'], 100.0).words}; and turned by hand, {seen(state, HAND, 100.0).words}. The good coil "
        f"in its place at {of['rpm']:.0f} rpm: {seen(swapped, of['rpm'], 100.0).words}. What comes next?"
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
    right="The good coil clears or accuses the magneto; then the opening current speaks of the springs. At the right "
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
    right="From what cannot be adjusted to what can, from the coarse to the fine, and the whole range last. Each step "
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
LOOK_FOR = {
    "magneto": "swap", "winding": "bridge", "condenser": "condenser", "points": "drop", "travel": "gauge",
    "vibrator": "vibrator force", "cushion": "cushion force",
}
"""The look at each part, in the order of work."""
WORK_ON = {
    "magneto": "mend magneto", "winding": "new winding", "condenser": "new condenser", "points": "dress points",
    "travel": "set travel",
}


def _bend(part: str, found: float, usual: float) -> str:
    """Return the bend of a blade that brings a force that was read nearest to the usual one."""
    way = usual - found
    size = min(("much", "little"), key=lambda size: abs(abs(bench.BENDS[f"bend {part} up {size}"][1]) - abs(way)))
    return f"bend {part} {'up' if way > 0.0 else 'down'} {size}"


def a_way(number: int) -> list[str]:
    """Return lines that set up coil `number`: a run, look and work for each fault in the order of work, and a run at the end.

    A bend that has not gone far enough is read and bent again. Of a sound coil, a run and the look that lets it go as it came.
    """
    faulty = {fault.part for fault in bench.faults_of(number)}
    lines = ["run"]
    for part in (part for part in LOOK_FOR if part in faulty):
        for _ in range(2 if part in ("vibrator", "cushion") else 1):
            look = replay(number, [*lines, LOOK_FOR[part]]).entries[-1]
            if look.off:
                work = WORK_ON.get(part) or _bend(part, look.found or 0.0, look.usual or 0.0)
                lines += [LOOK_FOR[part], work]
    return [*lines, "run"] if faulty else [*lines, LOOK_FOR["condenser"]]


def _named(line: int, log: Log) -> str:
    label = log.entries[line].tool.label
    return f"line {log.entries[line].first} ({label[:1].lower()}{label[1:]})"


def _line(line: int, log: Log) -> str:
    return f"L{_named(line, log)[1:]}"


def _unmended(log: Log) -> str:
    """Say which part of the log an ill end contradicts, without a word on what is wrong."""
    off = [entry for entry in log.entries if entry.tool.kind == "look" and entry.off]
    worked = {entry.tool.part: entry.line for entry in log.entries if entry.tool.kind == "work"}
    for entry in reversed(off):
        if entry.tool.part not in worked:
            return f"{_line(entry.line, log)} found what is not a good coil's, and nothing was done about it."
    for part in (part for part in worked if part in ("vibrator", "cushion")):
        read = [entry.line for entry in log.entries if entry.tool.part == part and entry.tool.kind == "look"]
        if max(read, default=0) < worked[part]:
            return f"{_line(worked[part], log)} was a bend, and nobody has read since what it came to. No two blades yield alike."
    return "What you looked at was sound or is mended: something that no line has looked at yet is still amiss."


def _points(lines: Sequence[str], of: Variant) -> list[Point]:
    log = replay(of["coil"], lines)
    nothing = not any(entry.tool.kind in ("look", "work") for entry in log.entries)
    blind = [line for line in log.guessed if BY_KEY[lines[line - 1]].part in ("vibrator", "cushion")]
    guessed = [line for line in log.guessed if line not in blind]
    unwell = bench.not_well(log.state)
    says = {
        "blind": lambda line: f"{_line(line, log)}: you bent the {log.entries[line].tool.part} before you had read its force.",
        "guessed": lambda line: f"{_line(line, log)}: no look at that part stands before it.",
        "needless": lambda line: f"{_line(line, log)}: your own look before it had found that part as a good coil's.",
    }
    return [
        *(Point(not found, says[slip](found[0]) if found else "", belief) for slip, found, belief in (
            ("blind", blind, "bends-before-reading"), ("guessed", guessed, "mends-to-be-safe"),
            ("needless", log.needless, "mends-to-be-safe"))),
        Point(log.ranged is not None, "Nothing on your sheet says how the coil runs as you hand it back.", "never-runs-it-again"),
        Point(not nothing, "No look stands on your sheet, and no work.", "a-run-shows-all"),
        *(Point(words not in unwell, f"Your own last run says that it is not well {words}. {_unmended(log)}")
          for words, _, _ in bench.PLACES),
        Point(not bench.leaks(log.state), f"It runs, but it is not sound. {_unmended(log)}"),
        Point(log.borne, "It goes back as it came, and your sheet does not say that all is sound of which a run tells nothing."),
    ]


def _coil_task(key: str, title: str, words: str, first: int, last: int) -> Exercise:
    """Return the task of setting up a coil of the workbench, its number from `first` to `last`."""
    return log_exercise(
        key, 9, title,
        variant=lambda draw: {"coil": draw.pick(range(first, last + 1))},
        prompt=lambda of: (
            f"Coil number {of['coil']} of the Wendle Valley Engine Club's box {words}. It came with its own magneto. There may "
            f"be nothing wrong, or one thing, or two. You have a sheet of {LINES} lines. A run, a look, a piece of work or an "
            "undoing takes one; a look at a part that turns out sound takes three, for it goes back and is tried. What is "
            "written stays. Hand it back (*Check*) when it runs well at every place and your log shows why you did it. To leave "
            "a good coil alone is right as well, where your log says why. A new sheet comes only after you have handed it back."
        ),
        panel="bench_task", control=LOG, fixed=lambda of: {"coil": float(of["coil"])},
        check=_points, truth=lambda of: a_way(of["coil"]),
        right="It runs well over the whole range, by hand and fast, on a cold magneto and a strong one, with dark points "
              "and a full spark; and whoever reads your log knows why. On a real coil the supply is off and the condenser "
              "discharged before every line that touches it.",
        hints=(
            "Run it first: by hand, on the road and fast, each beside a good coil's. Which parts could do that, and which could "
            "not? A look at one of these takes three lines. And if it runs well: of which part does a run tell little?",
            "A current that is not the good coil's speaks of springs, travel, points or magneto; a weak spark at the right "
            "current of condenser or winding, or, with points that flash and only at speed, of the cushion.",
            "For each suspect: look, then work on what the look found, then run it again. If it is better and not well, a second "
            "fault was hidden behind the first.",
        ),
        misconceptions=(
            Misconception("bends-before-reading", lambda of: ["run", "bend cushion up little", "run"],
                          "A bend loses the reading that was not taken: nothing on your sheet says where the blade stood, so "
                          "nobody can tell whether the bend was called for, and there is no way back. Read first, then bend."),
            Misconception("mends-to-be-safe", lambda of: ["new winding", "run"],
                          "If mending a part to be safe were right, every part of every coil would be new, and you would still "
                          "not know what was wrong. A repair needs a look that calls for it. What was put in can be taken out "
                          "again, for a line."),
            Misconception("a-run-shows-all", lambda of: ["run"],
                          "If a run showed everything, nobody would need a meter. A coil that has something is not mended by "
                          "running it; and one that seems well goes back on your word: a condenser that begins to leak still "
                          "gives its sparks for as long as you watch."),
            Misconception("never-runs-it-again", lambda of: ["condenser"],
                          "A coil is not well because its parts read well or were mended, but because it runs: slow and fast, "
                          "on a cold magneto and a strong one. The run that counts comes after the last piece of work."),
        ),
    )


ONE = _coil_task("09-first-coil", "A coil on the bench", "is said to misfire", 1, 20)
TWO = _coil_task("09-second-coil", "Another coil, and it may have more than one fault", "has been through several hands", 21, 40)


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
    right="Both the count and the spark, pulse by pulse and setting by setting. That is how this lesson's coils are "
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
