"""The exercises of lesson 6, multi-firing.

Every truth is a short run of the model, or a closed form of it, on the machine of the lesson's panels, so that a learner may
try it there. Runs are short, for a browser's plain Python takes 10 to 20 ms a pulse.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import Readings, read
from coilmodel.sparks import EFFECTIVE, by_pulse, sparks
from coilmodel.timing import angle_of_time, crank_to_timer
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
from lessons.panels import multi_firing as panel

NOMINAL = panel.NOMINAL
CUSHION = panel.CUSHION_CONTROL.default  # N, as the panel shows it
VIBRATOR = panel.VIBRATOR_CONTROL.default  # N

PULSES, WARM_UP = 6, 4
SHORT_PULSES, SHORT_WARM_UP = 4, 2


def _machine(preload: float = CUSHION, vibrator: float = VIBRATOR) -> Machine:
    """Return the panels' machine with these preloads, in N."""
    return panel.machine({"preload": preload, "vibrator_preload": vibrator})


def _run(machine: Machine, rpm: float, drive: float = 1.0) -> Run:
    return simulate(machine, MagnetoDrive(rpm, drive), pulses=PULSES, warm_up=WARM_UP)


def _short(machine: Machine, rpm: float, drive: float = 1.0) -> Readings:
    return read(simulate(machine, MagnetoDrive(rpm, drive), pulses=SHORT_PULSES, warm_up=SHORT_WARM_UP))


@cache
def _well_set(rpm: float) -> Readings:
    return _short(_machine(), rpm)


def _cushion(share: float) -> float:
    return round(share * CUSHION, 2)


# ----------------------------------------------------------------------------------- 1: predict, after a slow test
def _slow_variant(draw: Draw) -> dict[str, Any]:
    return {
        "preload": _cushion(draw.between(0.44, 0.46, 0.01)), "slow": draw.between(200.0, 240.0, 10.0),
        "fast": draw.between(450.0, 490.0, 10.0),
    }


def _slow_outcome(of: Variant) -> str:
    slow, fast = (read(_run(_machine(of["preload"]), of[speed])) for speed in ("slow", "fast"))
    if fast.none >= 0.5:
        return "none"
    if fast.misfired >= 0.5:
        return "weak"
    if fast.multiple >= 0.5:
        return "several"
    return "stronger" if fast.first_spark_energy > 1.1 * slow.first_spark_energy else "same"


SLOW = choice_exercise(
    "06-slow-test", 6, "Predict: it passed at hand-crank speed",
    prediction=True,
    about=About({"every_speed": ("preload", "rpm"), "tension_map": ("preload", "rpm")}, "the cushion's preload, or the speed"),
    variant=_slow_variant,
    prompt=lambda of: (
        f"A coil's cushion spring has sagged to {of['preload']:.2f} N; {CUSHION:.2f} N would be right. Turned at "
        f"{of['slow']:.0f} rpm on the bench it gives one sound spark in every pulse. Now turn the same magneto at "
        f"{of['fast']:.0f} rpm. What will it do? Say so before you touch the panel."
    ),
    options=(
        ("same", "One spark in every pulse, as on the slow test."),
        ("stronger", "One spark in every pulse, and a stronger one: faster means more current."),
        ("several", "More than one spark in a pulse, the first of them as good as ever."),
        ("weak", "A spark, but too weak to light the charge."),
        ("none", "No spark at all."),
    ),
    truth=remembered(_slow_outcome),
    right="At hand-crank speed the current grows slowly, and even a slack cushion keeps up well enough. On the road it is "
          "left behind: the contacts part hardly moving, an arc takes the energy, and the spark is too weak. The test was slow.",
    look="On the panel, press the preset of the slack cushion tested slow, and then read the map to the right of your mark.",
    hints=(
        "What changes for the upper contact when the same pulse is over in less than half the time?",
        "A slack blade has little push to follow with. In which of the two tests must it follow faster?",
        "On the panel, set that preload and move the crank speed: watch the spark's energy, and the arc's.",
    ),
    misconceptions=(
        Misconception("passed-slow-passes-fast", lambda of: "same",
                      "If a test at one speed spoke for all, every row of the map over speed would hold the same number from end "
                      "to end. Set this preload on the panel and read along the row of full drive."),
        Misconception("faster-only-stronger", lambda of: "stronger",
                      "Faster does give this coil more current before it parts. But current is not yet a spark: it must be "
                      "broken briskly. Set this preload, turn faster, and read parting speed, arc and spark."),
        Misconception("many-sparks-are-the-fault", lambda of: "several",
                      "A coil can go wrong without firing again. Set this preload on the panel and turn faster: how many marks "
                      "are there in a pulse, and how do they look?"),
        Misconception("fails-by-silence", lambda of: "none",
                      "If it fell silent, the rows of the ladder would be empty. Set it on the panel: there is a mark in every "
                      "row. What has become of it?"),
    ),
)


# ---------------------------------------------------------------------------------------- 2: two sparks or one?
def _two_variant(draw: Draw) -> dict[str, Any]:
    return {"preload": _cushion(draw.between(1.76, 1.9, 0.02)), "rpm": draw.between(430.0, 460.0, 10.0)}


def pair_readings(of: Variant) -> tuple[Readings, Readings]:
    """Return the readings of the well-set coil and of the stiff one that fires more than once, at the variant's speed."""
    return read(_run(_machine(), of["rpm"])), read(_run(_machine(of["preload"]), of["rpm"]))


def _two_outcome(of: Variant) -> str:
    well, stiff = pair_readings(of)
    first = stiff.first_spark_energy / well.first_spark_energy
    if first > 0.85:
        return "spare"
    return "more" if stiff.spark_energy > 1.2 * well.spark_energy else "weaker"


TWO = choice_exercise(
    "06-two-sparks", 6, "Two sparks, or one good one?",
    variant=_two_variant,
    prompt=lambda of: (
        f"An owner is pleased: with the cushion stiffened to {of['preload']:.2f} N (it was {CUSHION:.2f} N) the coil gives two "
        f"sparks and more in most pulses at {of['rpm']:.0f} rpm, where it used to give one. What is true of the first spark in "
        "a pulse, the one that has to light the mixture?"
    ),
    options=(
        ("spare", "It is as strong as before; the second is a spare."),
        ("more", "It may be weaker, but all together they carry clearly more energy than the single one did."),
        ("weaker", "It is weaker than before, and all of them together carry about what the single one did."),
    ),
    truth=remembered(_two_outcome),
    right="The contacts let go early, at a low current, and energy goes with its square. What is left of the pulse makes "
          "another weak spark, where the charge should be alight already: it is wasted. One good spark is better than two.",
    look="On the panel of causes, choose the stiff cushion and compare the energy of the first spark with the good "
         "coil's.",
    hints=(
        "When do the contacts of a stiff-cushion coil part: at more current than before, or at less?",
        "The energy in the coil at that moment goes with the square of the current.",
        "On the panel of causes, read opening current and first spark's energy of the stiff cushion beside the well-set coil's.",
    ),
    misconceptions=(
        Misconception("two-sparks-are-better", lambda of: "spare",
                      "If the second spark were a spare, the first would have to be as good as the single one was. It has less "
                      "current behind it. On the panel of causes, compare the first spark's energy with the well-set coil's."),
        Misconception("sparks-add-up", lambda of: "more",
                      "They do not add up to more: one pulse of the magneto has only so much to give, and several small sparks "
                      "share it. Only the first comes where the timing wants it. Look at the opening currents on the panel."),
    ),
)


# ----------------------------------------------------------------------------------------- 3: how late is the next
def _late_variant(draw: Draw) -> dict[str, Any]:
    return {"drive": draw.between(135.0, 160.0, 1.0), "rpm": draw.between(420.0, 480.0, 10.0)}


@remembered
def spark_times(of: Variant) -> tuple[float, float]:
    """Return when the first and the second spark of a pulse come, in ms from its start, to the hundredth that is shown."""
    run = simulate(NOMINAL, MagnetoDrive(of["rpm"], of["drive"] / 100.0), pulses=1, warm_up=WARM_UP)
    after = [round(1e3 * spark.after, 2) for spark in sparks(run) if spark.pulse == 0]
    return after[0], after[1]


def _late_prompt(of: Variant) -> str:
    first, second = spark_times(of)
    return (
        f"A well-set coil turns at {of['rpm']:.0f} rpm on a magneto of {of['drive']:.0f} % strength. In a pulse it fires "
        f"{first:.2f} ms after the pulse's start, and again at {second:.2f} ms. How many degrees of crank lie between the two "
        "sparks?"
    )


def _between(of: Variant) -> float:
    first, second = spark_times(of)
    return angle_of_time(1e-3 * (second - first), of["rpm"])


LATE = number_exercise(
    "06-how-late", 6, "How far the crank turns between two sparks",
    variant=_late_variant,
    prompt=_late_prompt,
    truth=_between, unit="degrees", units=("degrees",), tolerance=0.02, absolute=0.02,
    right="At the first of these sparks the crank was where the timing wanted it. At the next one it is somewhere else, "
          "and the charge should be alight: that spark is wasted.",
    look="Take the time between the two sparks, and ask through what angle the crank turns in a second, then in that time.",
    hints=(
        "First the time between the sparks. Then: how many turns does the crank make in a second at this speed?",
        "A turn is a full circle, and a minute has sixty seconds: that makes degrees a second.",
        "Degrees of crank are six times the speed in rpm times the time in seconds.",
    ),
    misconceptions=(
        Misconception("from-the-pulse-start", lambda of: angle_of_time(1e-3 * spark_times(of)[1], of["rpm"]),
                      "That is the angle from the start of the pulse to the second spark. The question is what lies between the "
                      "sparks: on the ladder, the way from the first column to the next."),
        Misconception("timer-degrees", lambda of: crank_to_timer(_between(of)),
                      "That is the angle through which the timer turns: it goes half as fast as the crank. The ladder is drawn "
                      "in degrees of crank, for the piston goes with the crank."),
    ),
)


# ---------------------------------------------------------------------------------- 4: what the first spark has left
def _energy(current: float) -> float:
    """Return the energy in J in the field of the coil alone at `current` (A): half of L times its square."""
    return 0.5 * NOMINAL.coil.primary_inductance * current**2


def _left_variant(draw: Draw) -> dict[str, Any]:
    good = round(_well_set(450.0).opening_current.mean or 0.0, 1)
    return {"good": good + draw.between(-0.1, 0.2, 0.1), "bad": round(good * draw.between(0.7, 0.8, 0.02), 1)}


def _share_left(of: Variant) -> float:
    return 100.0 * _energy(of["bad"]) / _energy(of["good"])


LEFT = number_exercise(
    "06-energy-left", 6, "What an early parting leaves for the spark",
    variant=_left_variant,
    prompt=lambda of: (
        f"Well set, a coil parts at {of['good']:.1f} A. With its cushion too stiff it parts at {of['bad']:.1f} A, and fires "
        "twice in each pulse. When the contacts first part, how much energy is in the field of the coil alone, in percent of the "
        "well-set coil's?"
    ),
    truth=_share_left, unit="percent", units=("percent", "1"), tolerance=0.03,
    right="A loss of a quarter in current costs over two fifths of the energy. And a second spark does not bring it back "
          "to the first, which has to light the mixture.",
    look="Write the energy of an inductance with each of the two currents, and divide.",
    hints=(
        "The coil is the same, so its inductance cancels: only the two currents matter.",
        "Energy in an inductance goes with the current times itself.",
        "Divide the smaller current by the larger, square that, and make it a percentage.",
    ),
    misconceptions=(
        Misconception("energy-goes-with-current", lambda of: 100.0 * of["bad"] / of["good"],
                      "You let the energy go in step with the current. If it did, half the current would leave half the spark. "
                      "On the panel of causes, compare currents and first sparks' energies of the stiff and the well-set coil."),
        Misconception("two-sparks-make-it-up", lambda of: 2.0 * _share_left(of),
                      "You counted the energy twice, for two sparks. The question is what the first one has: the second comes "
                      "later, from current that has to grow anew. Two sparks are not one that is twice as strong."),
    ),
)


# ------------------------------------------------------------------------------------- 5: drive and the first spark
def _drives_variant(draw: Draw) -> dict[str, Any]:
    """The third drive is nearer to the rated one than the fourth: else who puts the rated strength first would be right."""
    return {
        "drives": [draw.between(55.0, 62.0, 1.0), draw.between(72.0, 78.0, 1.0), draw.between(95.0, 98.0, 1.0),
                   draw.between(106.0, 110.0, 1.0)],
        "rpm": draw.between(420.0, 480.0, 20.0),
    }


def first_spark_angle(rpm: float, drive: float) -> float:
    """Return the mean crank angle of the first spark in degrees, of the well-set coil at `rpm` and `drive` (percent)."""
    angle = _short(_machine(), rpm, drive / 100.0).firing_angle.mean
    if angle is None:
        raise ValueError(f"No spark at {rpm:g} rpm and {drive:g} % drive.")
    return angle


def _named(drive: float) -> str:
    return f"d{drive:.0f}"


def _by_angle(of: Variant) -> list[str]:
    return [_named(drive) for drive in sorted(of["drives"], key=lambda drive: first_spark_angle(of["rpm"], drive))]


DRIVE = ordering_exercise(
    "06-drive-and-delay", 6, "Drive, and when the spark comes",
    variant=_drives_variant,
    prompt=lambda of: (
        f"A well-set coil at {of['rpm']:.0f} rpm, on four magnetos of different strength. It gives one spark in every pulse on "
        "each of them. Order them by when in the pulse that spark comes: earliest first."
    ),
    items=lambda of: [(_named(drive), f"drive {drive:.0f} %") for drive in of["drives"]],
    truth=_by_angle,
    right="The springs ask for the same current each time; the stronger the drive, the sooner it is there. A weak magneto "
          "retards every cylinder; too strong a one leaves so much of the pulse that it fires again.",
    look="On the panel, set the drives in turn and watch where the ladder's column stands.",
    hints=(
        "The springs let go at nearly the same current on each magneto. What differs is how soon it is reached.",
        "Which magneto drives the current up faster?",
        "On the panel of every speed, move the drive slider slowly and watch the column of the ladder wander.",
    ),
    misconceptions=(
        Misconception("weak-lets-go-early", lambda of: _by_angle(of)[::-1],
                      "If a weak magneto fired earliest, the column of the ladder would move left as you lower the drive. The "
                      "springs do not get weaker with the magneto: they wait for their current. Try it on the panel."),
        Misconception("rated-is-first", lambda of: [_named(d) for d in sorted(of["drives"], key=lambda d: abs(d - 100.0))],
                      "You put the rated strength first and the rest by how far they are from it. The firing angle has no "
                      "turning point there: move the drive slider through the rated value and watch the column."),
    ),
)


# ------------------------------------------------------------------------------------------------ 6: which cause
CAUSES = {
    # key: (part_field of the machine that is scaled, its range), or None for the magneto
    "slack": ("cushion_preload", (0.46, 0.48)),
    "stiff": ("cushion_preload", (1.7, 1.85)),
    "vibrator": ("vibrator_preload", (0.69, 0.73)),
    "strong": (None, (1.45, 1.6)),
    "condenser": ("condenser_capacitance", (0.04, 0.08)),
}


def _cause_variant(draw: Draw) -> dict[str, Any]:
    cause = draw.pick(tuple(CAUSES))
    low, high = CAUSES[cause][1]
    return {"cause": cause, "factor": draw.between(low, high, 0.02), "rpm": draw.pick((440.0, 450.0, 460.0))}


HAND = 210.0  # rpm


def cause_machine(of: Variant) -> tuple[Machine, float]:
    """Return the variant's coil, and the drive of the magneto as a share of rated."""
    name = CAUSES[of["cause"]][0]
    return (NOMINAL, of["factor"]) if name is None else (NOMINAL.scaled(**{name: of["factor"]}), 1.0)


def _said(result: Readings) -> str:
    current = "never" if result.opening_current.mean is None else f"at {result.opening_current.mean:.1f} A"
    return (
        f"{result.sparks_per_pulse:.1f} sparks a pulse, parts {current}, {1e3 * result.first_spark_energy:.0f} mJ in the first "
        f"spark, {1e3 * result.break_arc_energy:.0f} mJ of arc at the contacts as they part"
    )


@remembered
def cause_readings(of: Variant) -> tuple[Readings, Readings, Readings, float]:
    """Return readings of a good coil, of this one, of this one by hand, and a good coil's sparks per pulse in its place."""
    coil, drive = cause_machine(of)
    well = _well_set(of["rpm"])
    swapped = well if drive == 1.0 else _short(NOMINAL, of["rpm"], drive)
    return well, _short(coil, of["rpm"], drive), _short(coil, HAND, drive), swapped.sparks_per_pulse


def _cause_prompt(of: Variant) -> str:
    well, bad, slow, swapped = cause_readings(of)
    coil, _ = cause_machine(of)
    return (
        f"At {of['rpm']:.0f} rpm a good coil on a good magneto gives: {_said(well)}.\n\n"
        f"A coil that misbehaves gives: {_said(bad)}. Turned at {HAND:.0f} rpm, its first spark has "
        f"{1e3 * slow.first_spark_energy:.0f} mJ.\n\n"
        f"A good coil in its place gives {swapped:.1f} sparks a pulse. With everything off, a spring balance finds "
        f"{coil.vibrator.preload:.1f} N at its vibrator (a good one: {NOMINAL.vibrator.preload:.1f} N). What is the cause?"
    )


CAUSE = choice_exercise(
    "06-which-cause", 6, "Read the cause off the readings",
    variant=_cause_variant,
    prompt=remembered(_cause_prompt),
    options=(
        ("slack", "The cushion spring is too slack."),
        ("stiff", "The cushion spring is too stiff."),
        ("vibrator", "The vibrator spring is too slack."),
        ("strong", "The magneto is too strong."),
        ("condenser", "The condenser is far too small."),
    ),
    truth=lambda of: str(of["cause"]),
    right="Change the coil first: that clears or accuses the magneto. Then the opening current: far below the good coil's "
          "it is the balance of the springs, and a spring balance does the rest. With about the same current and an arc, turn it "
          "slowly: a slack cushion gets its spark back, a condenser does not.",
    look="Take the readings in turn: a good coil in its place, the opening current, the slow test, the spring balance. Each of "
         "them clears somebody.",
    hints=(
        "Begin with the swap: if a good coil misbehaves in its place, the coil is not to blame.",
        "Then the opening current: far less than the good coil's, or about the same?",
        "If far less, the spring balance tells which spring. If about the same, ask whether the spark comes back when it is "
        "turned slowly.",
    ),
    misconceptions=(
        Misconception("blames-the-condenser", lambda of: "condenser" if of["cause"] != "condenser" else "slack",
                      "The condenser takes over when the contacts have parted; it cannot change the current at which they do. "
                      "Compare the two opening currents; and if they are alike, ask what the slow test says."),
        Misconception("blames-the-magneto", lambda of: "strong" if of["cause"] != "strong" else "stiff",
                      "Look at what a good coil does in its place. If the magneto were at fault the good coil would misbehave "
                      "there too; if it does, the springs of this coil are not to blame."),
        Misconception("one-spring-for-the-other",
                      lambda of: {"slack": "vibrator", "stiff": "vibrator", "vibrator": "stiff"}.get(of["cause"], "vibrator"),
                      "Cushion and vibrator work against each other, so they are easily taken for one another. What does the "
                      "spring balance say of the vibrator, and which way has the opening current gone?"),
    ),
)


# --------------------------------------------------------------------------------------- 7: match it, and stay clear
TIRED = (180.0, 80.0)  # rpm and percent of drive: what two stiff springs that balance each other no longer start at
CLOSE = 0.15  # A by which the opening current may miss the set's
MOST_BURNT = 10e-3  # J, as the points part, as in lesson 4; our choice


def _match_variant(draw: Draw) -> dict[str, Any]:
    return {
        "target": draw.between(5.2, 5.4, 0.1), "preload": _cushion(draw.pick((0.4, 0.5, 1.6, 1.8))),
        "vibrator_preload": round(VIBRATOR * draw.pick((0.8, 0.85, 0.9)), 2),
        "slow": draw.between(200.0, 240.0, 10.0), "fast": draw.between(510.0, 540.0, 10.0), "weak": draw.between(80.0, 90.0, 1.0),
    }


def _match_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    def run(rpm: float, drive: float = 100.0, cushion: float = 1.0) -> Readings:
        return read(_run(_machine(cushion * values["preload"], values["vibrator_preload"]), rpm, drive / 100.0))

    border = "The current is the set's, but not everywhere is there one clean spark in every pulse: which border are you near?"

    def once(result: Readings) -> Trial:
        return Trial(result.single == 1.0 and not result.misfired, border)

    shown = run(450.0)
    current = shown.opening_current.mean
    wide = "At the speed shown it does not part at the current of the rest of the set: read yours beside the ladder."
    fast = run(of["fast"])

    def clean(result: Readings) -> Trial:
        return Trial(result.break_arc_energy <= MOST_BURNT, border)

    return [
        Trial(current is not None and abs(current - of["target"]) <= CLOSE, wide),
        once(shown),
        clean(shown),
        once(run(of["slow"])),
        once(fast),
        clean(fast),
        once(run(450.0, of["weak"])),
        once(run(*TIRED)),
        once(run(450.0, cushion=0.9)),
        once(run(450.0, cushion=1.1)),
    ]


def _match_setting(of: Variant) -> dict[str, float]:
    """Return the pair of preloads that is met at every hidden setting, the vibrator stiffened step by step."""
    for cushion in (1.06, 1.0, 1.12, 0.94):
        for step in range(35):
            values = {"preload": _cushion(cushion), "vibrator_preload": round(VIBRATOR * (1.0 + 0.01 * step), 2)}
            current = read(_run(_machine(values["preload"], values["vibrator_preload"]), 450.0)).opening_current.mean or 0.0
            if abs(current - of["target"]) <= CLOSE and all(trial.met for trial in _match_trials(values, of)):
                return values
    raise ValueError(f"No pair of preloads meets {dict(of)}.")


MATCH = sliders_exercise(
    "06-match-and-stay-clear", 6, "Match the set, and stay clear of the borders",
    variant=_match_variant,
    prompt=lambda of: (
        f"The other three coils of this car part at {of['target']:.1f} A at 450 rpm. Set both preloads of the fourth so that it "
        f"parts within {CLOSE:.2f} A of them and gives one spark that lights in every pulse: at the speed shown, slower, "
        f"faster, on a weaker magneto, turned by hand at {TIRED[0]:.0f} rpm on a tired one of {TIRED[1]:.0f} %, and still when "
        f"the cushion has sagged or stiffened by a tenth. No more than {1e3 * MOST_BURNT:.0f} mJ may burn as the points part, at "
        "the speed shown or faster."
    ),
    panel="tension_map",
    controls=(panel.CUSHION_CONTROL, panel.VIBRATOR_CONTROL),
    start=lambda of: {"preload": of["preload"], "vibrator_preload": of["vibrator_preload"]},
    fixed=lambda of: {"rpm": 450.0, "drive": 100.0},
    check=_match_trials,
    truth=_match_setting,
    right="Matched, and with room on every side. On the real coil: supply off and condenser discharged before a tool goes "
          "near the springs, the vibrator first, then the cushion, then test again at driving speed.",
    hints=(
        "The vibrator sets the current: bring that near the target first, with the cushion somewhere in the field of ones.",
        "Then move the cushion to the middle of the field of ones at your vibrator's height, and look at the current again.",
        "Each move of the cushion shifts the current a little the other way. Go to and fro twice; do not rest against a border.",
    ),
    recognise={
        "current-by-the-cushion": lambda values, of: abs(values["vibrator_preload"] - of["vibrator_preload"]) < 0.03
                                                     and abs(values["preload"] - of["preload"]) > 0.03,
        "one-border-is-safe": lambda values, of: abs(values["preload"] / CUSHION - 1.0) > 0.4,
    },
    misconceptions=(
        Misconception("current-by-the-cushion",
                      lambda of: {"preload": _cushion(0.35), "vibrator_preload": of["vibrator_preload"]},
                      "You moved the cushion and left the vibrator as it was. The cushion shifts the opening current a little, "
                      "and at the borders of the field of ones you pay for it. Which of the two springs sets the current?"),
        Misconception("one-border-is-safe",
                      lambda of: {"preload": _cushion(2.0), "vibrator_preload": round(1.05 * VIBRATOR, 2)},
                      "Neither border of the field of ones is the safe one. At the left the contacts part hardly moving, and "
                      "the points burn what the spark should have; at the right the cushion pushes with the core, so that they "
                      "let go early and come back for more. Look where your mark is on the map, and where the field lies."),
    ),
)


# -------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
def slowest_finding(tests, least):
    """Return the lowest speed whose test finds the coil at fault, or 0.0 if every test is passed.

    tests: a list of (rpm, pulses), in any order; pulses holds for each pulse of that test a list of its sparks' energies in mJ
    least: the energy in mJ with which a spark lights the charge
    A test is passed if every single pulse has exactly one spark, and that one has `least` mJ or more.
    """
    finding = []
    for rpm, pulses in tests:
        #: blank if this test is not passed, append its rpm to finding
        if any(len(sparks) != 1 or sparks[0] < least for sparks in pulses):
            finding.append(rpm)
        #: end
    #: blank return the lowest speed in finding, or 0.0 if there is none
    return min(finding, default=0.0)
    #: end
'''
_HEAD = "def slowest_finding(tests, least):\n"
_LEAST = 1e3 * EFFECTIVE  # mJ

Log = list[tuple[float, list[list[float]]]]


def _tests(factors: Mapping[str, float], speeds: Sequence[float], drive: float = 1.0) -> Log:
    """Return the log of a coil's tests: for each speed the energies in mJ of the sparks, pulse by pulse."""
    coil = NOMINAL.scaled(**factors)
    runs = ((rpm, simulate(coil, MagnetoDrive(rpm, drive), pulses=3, warm_up=3)) for rpm in speeds)
    return [(rpm, [[round(1e3 * spark.energy, 1) for spark in pulse] for pulse in by_pulse(run)]) for rpm, run in runs]


def _finding_cases(of: Variant) -> list[Case]:
    speeds = of["speeds"]
    logs: Sequence[tuple[str, Log]] = (
        ("the coil is well set", _tests({}, speeds)),
        ("the cushion is slack", _tests({"cushion_preload": of["slack"]}, speeds)),
        ("the cushion is stiff", _tests({"cushion_preload": of["stiff"]}, speeds)),
        ("the magneto is too weak to start", _tests({}, [80.0, *speeds])),
        ("the magneto is too strong", _tests({}, speeds, 1.5)),
        # Made up: a coil whose pulses fire twice and not at all by turns averages one good spark a pulse.
        ("one pulse fires twice and the next does not",
         [(speeds[0], [[20.0, 20.0], [], [20.0, 20.0], []]), (speeds[1], [[20.0], [20.0]])]),
    )
    return [Case(words, (log, _LEAST), _lowest_failed(log)) for words, log in logs]


def _lowest_failed(log: Log) -> float:
    for rpm, pulses in sorted(log):
        if [len(pulse) for pulse in pulses] != [1] * len(pulses) or min(pulse[0] for pulse in pulses) < _LEAST:
            return rpm
    return 0.0


FINDING = function_exercise(
    "06-slowest-finding", 6, "Write it: the slowest test that finds the fault",
    variant=lambda draw: {
        "slack": draw.between(0.4, 0.46, 0.02), "stiff": draw.between(1.7, 1.8, 0.05),
        "speeds": [460.0, *draw.shuffled([210.0, 340.0, 270.0])],
    },
    prompt="For those who program: finish this function. It gets a coil's tests, each a speed and the energies of the sparks "
           "pulse by pulse, and returns the lowest speed at which the coil is found at fault. It will be tried on the logs of "
           "several coils.",
    name="slowest_finding", source=SOURCE, cases=_finding_cases,
    right="For a slack cushion that speed is far above hand-crank speed: whoever tests slower than it passes the coil. "
          "And whoever only counts passes it at any speed.",
    look="Write the tests down in order of speed, and go up until the first pulse that has not just one spark, strong enough.",
    hints=(
        "A test is spoilt by a single bad pulse: too many sparks, none, or one that is too weak.",
        "`any(... for sparks in pulses)` is true if one pulse is bad; `len(sparks)` counts its sparks, `sparks[0]` is the first.",
        "`min(finding, default=0.0)` copes with an empty list.",
    ),
    misconceptions=(
        Misconception("counting-is-enough",
                      lambda of: f"{_HEAD}    return min([r for r, p in tests if any(len(s) != 1 for s in p)], default=0.0)\n",
                      "Your function only counts. A slack cushion gives one spark in every pulse, at hand speed and on the road: "
                      "look at what is in it, too."),
        Misconception("average-is-enough",
                      lambda of: f"{_HEAD}    return min([r for r, p in tests if sum(len(s) for s in p) != len(p)\n"
                                 "                or any(sum(s) < least for s in p if s)], default=0.0)\n",
                      "Your function looks at the average. A coil that fires twice in one pulse and misses the next has an "
                      "average as good as a well-set one's. Look at each pulse."),
        Misconception("any-spark-will-do",
                      lambda of: f"{_HEAD}    return min([r for r, p in tests if not all(s and max(s) >= least for s in p)], "
                                 "default=0.0)\n",
                      "Your function only objects to misfires. A coil that fires again in its pulses is at fault, too: its "
                      "contacts let go too early, or its magneto is too strong."),
        Misconception("first-in-the-list",
                      lambda of: f"{_HEAD}    for r, p in tests:\n        if any(len(s) != 1 or s[0] < least for s in p):\n"
                                 "            return r\n    return 0.0\n",
                      "Your function returns the first test that fails in the order of the list. Tests are not made in order of "
                      "speed: look for the lowest."),
    ),
)

EXERCISES = (SLOW, TWO, LATE, LEFT, DRIVE, CAUSE, MATCH, FINDING)
