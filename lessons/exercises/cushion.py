"""The exercises of lesson 5, cushion-spring behaviour.

Every number asked for comes from a run of the nominal machine, from `coilmodel.run.resting_place` or from
`coilmodel.springs`; the machine that is asked about is always the one of the panel "cushion", so a learner may try it there.
Runs are short (ten pulses after four, or six after three for a reading): a browser's plain Python takes some 15 ms a pulse,
and neither a judgement nor a question should keep anybody waiting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.readings import Readings, first_openings, read
from coilmodel.run import resting_place
from coilmodel.sparks import sparks
from coilmodel.springs import Leaf
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
from lessons.panels import cushion as panel

NOMINAL = panel.NOMINAL
PRELOAD = panel.PRELOAD_CONTROL.default  # N, as the panel shows it
TRAVEL = panel.TRAVEL_CONTROL.default  # mm
STIFFNESS = panel.STIFFNESS_CONTROL.default  # N/mm

PULSES, WARM_UP = 10, 4
READING_PULSES, READING_WARM_UP = 6, 3


def _machine(preload: float = PRELOAD, travel: float = TRAVEL, stiffness: float = STIFFNESS) -> Machine:
    """Return the panel's machine with this cushion: preload in N, travel in mm, stiffness in N/mm."""
    return panel.machine({"preload": preload, "travel": travel, "stiffness": stiffness})


def _run(machine: Machine, rpm: float, drive: float = 1.0) -> Run:
    return simulate(machine, MagnetoDrive(rpm, drive), pulses=PULSES, warm_up=WARM_UP)


def _readings(machine: Machine, rpm: float, drive: float = 1.0) -> Readings:
    """Return the readings of a short run: enough for an opening current, a speed and a way followed."""
    return read(simulate(machine, MagnetoDrive(rpm, drive), pulses=READING_PULSES, warm_up=READING_WARM_UP))


def _share(share: float) -> float:
    """Return a share of the well-set cushion's preload in newtons, as a slider can show it."""
    return round(share * PRELOAD, 2)


# ------------------------------------------------------------------------------------- 1: predict a slack cushion
def _slack_variant(draw: Draw) -> dict[str, Any]:
    return {"preload": _share(draw.between(0.5, 0.6, 0.02)), "rpm": draw.between(440.0, 500.0, 10.0)}


def _slack_outcome(of: Variant) -> str:
    """Say how the slackened coil parts, against the well-set one: how fast, at which current, how much burns at the points."""
    well, slack = (_readings(_machine(preload), of["rpm"]) for preload in (PRELOAD, of["preload"]))
    if slack.opening_current.mean is None:
        return "never"
    current = slack.opening_current.mean / (well.opening_current.mean or 1.0)
    crawls = (slack.parting_speed.mean or 0.0) < 0.2 * (well.parting_speed.mean or 0.0)
    if crawls and slack.break_arc_energy > 10.0 * well.break_arc_energy:
        return "creeps"
    return "flies" if current < 0.95 else "same"


SLACK = choice_exercise(
    "05-slack-cushion", 5, "Predict: a slackened cushion spring",
    prediction=True,
    about=About({"cushion": ("preload",)}, "the cushion's preload"),
    variant=_slack_variant,
    prompt=lambda of: (
        f"On a well-set coil the cushion spring sits on its rivet with {PRELOAD:.2f} N. Someone slackens it to "
        f"{of['preload']:.2f} N and leaves the vibrator as it was. At {of['rpm']:.0f} rpm and full drive, how will the points "
        "part? Say so before you touch the panel."
    ),
    options=(
        ("creeps", "They creep apart, and much of the energy burns between them."),
        ("flies", "Sooner, at a lower current, and fast: there is less spring in the way."),
        ("same", "As before: the cushion only sets how hard the points press."),
        ("never", "Not at all: a slack cushion trails along with the vibrator."),
    ),
    truth=remembered(_slack_outcome),
    right="The points part fast where the rivet stops the upper contact while the lower one flies on. A slack blade "
          "cannot keep up with the lower contact: it is left behind before the rivet, the points open at a crawl, an arc burns "
          "between them, and what it burns the spark lacks.",
    look="Set the panel to the two preloads in turn and read the parting speed and the arc energy.",
    hints=(
        "Think of two carriages rolling together towards a buffer that stops only one of them. What decides how fast they part?",
        "The core pulls the lower contact faster and faster. What must push the upper one, so that it keeps up?",
        "On the panel, compare the preset of the slack cushion with the well-set one: the strip of both contacts' heights shows "
        "where they part, and the readings say how fast.",
    ),
    misconceptions=(
        Misconception("less-spring-parts-sooner", lambda of: "flies",
                      "That would be so if the cushion held the points together. It pushes down, as the core does: it helps the "
                      "pair on its way. Compare the opening times of the two on the panel: is the slack one sooner?"),
        Misconception("cushion-only-presses", lambda of: "same",
                      "If the cushion only pressed the points together, both preloads would give the same parting speed and the "
                      "same spark. Try the two on the panel and compare these readings."),
        Misconception("cushion-trails-along", lambda of: "never",
                      "It cannot trail for ever: the limit rivet is only some tenths of a millimetre below the bridge. If the "
                      "blade went on with the vibrator, the strip of heights would show it below its rivet. Look whether it "
                      "does."),
    ),
)


# ------------------------------------------------------------------------------------------- 2: order of one pulse
EVENTS = (
    ("leaves", "the pair leaves the bridge"),
    ("rivet", "the cushion spring meets its rivet"),
    ("part", "the points part"),
    ("spark", "the spark gap fires"),
    ("lowest", "the vibrator turns back, nearest to the core"),
    ("close", "the points close again"),
)


def event_times(rpm: float) -> dict[str, float]:
    """Return when (s from the pulse's start) each of EVENTS happens in a well-set coil's pulse, read off the strips of a run."""
    run = simulate(_machine(), MagnetoDrive(rpm), pulses=1, warm_up=WARM_UP, record=(0, 0))
    start, opening = run.first_pulse * run.pulse_seconds, first_openings(run)[0]
    strips, travel = run.strips, run.machine.cushion.travel
    meets = next(index for index, x in enumerate(strips.cushion) if x >= 0.0)
    leaves = next(index for index in range(meets, -1, -1) if strips.cushion[index] < -0.95 * travel)
    apart = [index for index, t in enumerate(strips.time) if opening.time < t < (opening.closing_time or strips.time[-1])]
    lowest = max(apart, key=lambda index: strips.vibrator[index])
    return {
        "leaves": strips.time[leaves] - start, "rivet": strips.time[meets] - start, "part": opening.after,
        "spark": (opening.spark_time or 0.0) - start, "lowest": strips.time[lowest] - start,
        "close": (opening.closing_time or 0.0) - start,
    }


def _order(of: Variant) -> list[str]:
    times = event_times(of["rpm"])
    return sorted((name for name in times if name != of["without"]), key=lambda name: times[name])


def _believed_order(*order: str) -> Any:
    return lambda of: [name for name in order if name != of["without"]]


PULSE = ordering_exercise(
    "05-one-pulse", 5, "One pulse, step by step",
    variant=lambda draw: {"rpm": draw.between(400.0, 480.0, 10.0), "without": draw.pick(("lowest", "none"))},
    prompt=lambda of: (
        f"A well-set coil runs at {of['rpm']:.0f} rpm and full drive. Put the steps of one pulse in order, first to last."
    ),
    items=lambda of: [event for event in EVENTS if event[0] != of["without"]],
    truth=_order,
    right="Both contacts come down together; the rivet takes the upper one off while the lower one flies on. The spark "
          "comes as the points part, for it is the break that makes the flux collapse.",
    look="Run the moving picture on the panel slowly, or read the strips from left to right.",
    hints=(
        "At the start of the pulse the vibrator presses the cushion up against the bridge. What has to move first?",
        "What makes the two contacts part: the vibrator going, or the cushion stopping?",
        "The spark needs a collapsing flux, and the flux collapses when its current is broken. Which step breaks it?",
    ),
    misconceptions=(
        Misconception("spark-at-closing", _believed_order("leaves", "rivet", "part", "lowest", "close", "spark"),
                      "The spark does not come when the contacts close. If it did, it would stand at the end of the pulse's "
                      "strip, where the points meet again and the current only begins to grow. Look where the secondary voltage "
                      "has its peak, and what the points do there."),
        Misconception("parts-before-rivet", _believed_order("leaves", "part", "rivet", "spark", "lowest", "close"),
                      "If the points parted before the rivet, the rivet would have nothing to do: the cushion would come down "
                      "after the vibrator, and the contact force would be nil while it is still on its way. Look at the strip of "
                      "contact force: until where does it last?"),
        Misconception("parts-at-the-bridge", _believed_order("part", "leaves", "rivet", "spark", "lowest", "close"),
                      "That is a coil without a cushion spring: the points would part as soon as the vibrator stirs, slowly. "
                      "Here the upper contact follows. Look at the strip of heights: do the two lines part at the bridge?"),
    ),
)


# --------------------------------------------------------------------------------- 3: force on the bridge at rest
def _blades(draw: Draw) -> dict[str, Any]:
    return {
        "vibrator_preload": draw.between(2.8, 3.6, 0.1), "vibrator_stiffness": draw.between(0.3, 0.5, 0.05),
        "cushion_preload": draw.between(1.1, 1.6, 0.05), "cushion_stiffness": draw.between(1.8, 3.0, 0.1),
        "travel": draw.between(0.15, 0.22, 0.01),
    }


def _bridge_force(of: Variant) -> float:
    """Return the force in N with which the model's cushion rests on its bridge: the bridge's stiffness times its dent."""
    machine = NOMINAL.but(
        vibrator={"preload": of["vibrator_preload"], "stiffness": 1e3 * of["vibrator_stiffness"]},
        cushion={"preload": of["cushion_preload"], "stiffness": 1e3 * of["cushion_stiffness"], "travel": 1e-3 * of["travel"]},
    )
    _, cushion = resting_place(machine)
    return machine.cushion.bridge_stiffness * (-machine.cushion.travel - cushion)


def _pushes(of: Variant) -> tuple[float, float, float, float]:
    """Return preload and change over the travel, in N, of the vibrator and of the cushion."""
    travel = of["travel"]
    return of["vibrator_preload"], of["vibrator_stiffness"] * travel, of["cushion_preload"], of["cushion_stiffness"] * travel


def _preloads_only(of: Variant) -> float:
    up, _, down, _ = _pushes(of)
    return up - down


def _both_up(of: Variant) -> float:
    up, up_change, down, down_change = _pushes(of)
    return up - up_change + down + down_change


def _stiffens_upward(of: Variant) -> float:
    up, up_change, down, down_change = _pushes(of)
    return up + up_change - down - down_change


BRIDGE = number_exercise(
    "05-bridge-force", 5, "The force on the bridge at rest",
    variant=_blades,
    prompt=lambda of: (
        f"With the contacts at the height of the rivet, the vibrator pushes up with {of['vibrator_preload']:.1f} N and the "
        f"cushion pushes down with {of['cushion_preload']:.2f} N. The vibrator's blade has a stiffness of "
        f"{of['vibrator_stiffness']:.2f} N/mm, the cushion's {of['cushion_stiffness']:.1f} N/mm, and from rivet to bridge it is "
        f"{of['travel']:.2f} mm. No current flows. With what force does the pair lie against the bridge?"
    ),
    truth=_bridge_force, unit="N", units=("N", "mN"), tolerance=0.02, absolute=0.01,
    right="This is what the core must first overcome before anything moves; once the pair is under way, each tenth of a "
          "millimetre towards the rivet is a change of force that can be read off the force chart.",
    look="Write down both blades' forces at the bridge, not at the rivet, and mind which of them pushes which way.",
    hints=(
        "Two blades push on the pair of contacts, one up and one down. The bridge takes the difference, as it is at the bridge.",
        "A blade's force changes by stiffness times travel. On the way up the cushion is bent further; the vibrator is let out.",
        "Up: the vibrator's preload less its stiffness times the travel. Down: the cushion's preload plus its own. Subtract.",
    ),
    misconceptions=(
        Misconception("preloads-only", _preloads_only,
                      "You took the preloads as they are at the rivet. If blades kept their force, the force chart would show "
                      "two level lines. The pair rests at the bridge: look how much each line has changed by there."),
        Misconception("both-push-up", _both_up,
                      "You added the cushion to the vibrator. If both pushed up, a stiffer cushion would raise the opening "
                      "current. Try that on the panel, and look at the force chart: which way does the cushion push?"),
        Misconception("vibrator-stronger-upward", _stiffens_upward,
                      "You let the vibrator push harder the higher it goes. It is the other way: it is bent by being drawn to "
                      "the core, and going up lets it out. On the force chart its line falls towards the bridge."),
    ),
)


# --------------------------------------------------------------------------------------------- 4: a thicker blade
def _thicker_variant(draw: Draw) -> dict[str, Any]:
    old = draw.between(0.20, 0.30, 0.01)
    return {
        "length": draw.between(14.0, 18.0, 1.0), "width": draw.between(5.0, 7.0, 0.5), "old": old,
        "new": round(old + draw.between(0.04, 0.07, 0.01), 2),
    }


def _blade_stiffness(of: Variant, thickness: float) -> float:
    return 1e-3 * Leaf(1e-3 * of["length"], 1e-3 * of["width"], 1e-3 * thickness).stiffness


BLADE = number_exercise(
    "05-thicker-blade", 5, "A replacement blade that is a little thicker",
    variant=_thicker_variant,
    prompt=lambda of: (
        f"A cushion blade, {of['length']:.0f} mm long, {of['width']:.1f} mm wide and {of['old']:.2f} mm thick, has a stiffness "
        f"of {_blade_stiffness(of, of['old']):.3g} N/mm. The only spring steel to hand is {of['new']:.2f} mm thick. What "
        "stiffness will a new blade of the same length and width have?"
    ),
    truth=lambda of: _blade_stiffness(of, of["new"]), unit="N/mm", units=("N/mm", "N/m"), tolerance=0.02,
    right="Stiffness goes with the cube of the thickness: a few hundredths of a millimetre make another spring, and the "
          "same bend gives it another preload. Measure the strip before you cut it.",
    look="Only the thickness has changed: ask how the stiffness of a blade clamped at one end goes with it.",
    hints=(
        "Length and width are the same, so they cancel: only the ratio of the thicknesses matters.",
        "Both the stretch of a fibre at the blade's face and its lever about the middle grow with the thickness, and a thicker "
        "blade also has more fibres.",
        "A clamped blade's stiffness is three times modulus times second moment over length cubed; the second moment goes with "
        "the cube of the thickness.",
    ),
    misconceptions=(
        Misconception("stiffness-linear", lambda of: _blade_stiffness(of, of["old"]) * of["new"] / of["old"],
                      "You let the stiffness grow in step with the thickness. That is how it goes with the width: two blades "
                      "side by side. Two blades glued face to face are far stiffer than two that slide. Look at the second "
                      "moment."),
        Misconception("stiffness-square", lambda of: _blade_stiffness(of, of["old"]) * (of["new"] / of["old"]) ** 2,
                      "You took the square of the thickness. That is how the blade's strength goes, the load at which it takes "
                      "a set; its stiffness goes with another power. Look at the second moment of a rectangle."),
        Misconception("thickness-no-matter", lambda of: _blade_stiffness(of, of["old"]),
                      "That is the old blade's stiffness. If thickness made no difference, any strip would do for any coil. "
                      "Compare a steel rule with a feeler gauge."),
    ),
)


# ---------------------------------------------------------------------------------- 5: preload and opening current
def _preloads_variant(draw: Draw) -> dict[str, Any]:
    # Below some seven tenths the current hardly changes any more, so there is no order there to be found (lesson 5 says why).
    shares = [draw.between(low, high, 0.01) for low, high in ((0.7, 0.73), (1.12, 1.16), (1.4, 1.44), (1.74, 1.8))]
    return {"preloads": [_share(share) for share in shares], "rpm": draw.between(420.0, 500.0, 20.0)}


def _by_current(of: Variant) -> list[str]:
    def current(preload: float) -> float:
        return _readings(_machine(preload), of["rpm"]).opening_current.mean or float("inf")

    return [_named(preload) for preload in sorted(of["preloads"], key=current)]


def _named(preload: float) -> str:
    return f"p{round(100 * preload)}"


def _best_is_highest(of: Variant) -> list[str]:
    return [_named(preload) for preload in sorted(of["preloads"], key=lambda preload: -abs(preload - PRELOAD))]


CURRENT = ordering_exercise(
    "05-preload-and-current", 5, "Cushion preload and opening current",
    variant=_preloads_variant,
    prompt=lambda of: (
        f"A well-set coil has a cushion preload of {PRELOAD:.2f} N. At {of['rpm']:.0f} rpm and full drive, with the vibrator "
        "left alone, order these cushion preloads by the current at which the points first part in a pulse: lowest current first."
    ),
    items=lambda of: [(_named(preload), f"cushion preload {preload:.2f} N") for preload in of["preloads"]],
    truth=_by_current,
    right="The cushion pushes the same way as the core pulls, so whoever stiffens it makes the core's work easier and "
          "the points part at less current: too little of it, in the end, for a good spark. (The other way it soon helps no "
          "more: a cushion so slack that it is left behind parts its points at much the same current as a slightly slack one.)",
    look="On the panel, set the preloads in turn and read the opening current.",
    hints=(
        "Which way does the cushion push on the pair of contacts: with the core, or against it?",
        "The core has to overcome the vibrator less the cushion. What does more cushion do to that difference?",
        "On the panel, take the preload from the well-set value up to the largest of the four: which way does the opening "
        "current go?",
    ),
    misconceptions=(
        Misconception("more-spring-more-current", lambda of: _by_current(of)[::-1],
                      "That is the order if more spring always held the points longer. It is so for the vibrator. The cushion "
                      "pushes the other way: look at its line on the force chart, then raise its preload on the panel."),
        Misconception("well-set-is-highest", _best_is_highest,
                      "You put the well-set coil at one end and the rest by how far they are from it. A good setting is not the "
                      "one with the most current: look whether the opening current has a summit there when you move the slider."),
    ),
)


# ------------------------------------------------------------------------------------------------- 6: which fault
FAULTS = {
    "slack": ("preload", (0.5, 0.6)),
    "stiff": ("preload", (1.5, 1.7)),
    "travel": ("travel", (0.14, 0.24)),
    "magneto": ("drive", (0.6, 0.7)),
}


def _fault_variant(draw: Draw) -> dict[str, Any]:
    fault = draw.pick(tuple(FAULTS))
    name, (low, high) = FAULTS[fault]
    good = {"preload": PRELOAD, "travel": TRAVEL, "drive": 1.0}[name]
    return {"fault": fault, name: round(good * draw.between(low, high, 0.01), 3), "rpm": draw.between(440.0, 500.0, 10.0)}


def faulty_readings(of: Variant) -> tuple[Readings, Readings]:
    """Return the readings of a well-set coil and of the faulty one, at the variant's speed."""
    faulty = _machine(**{name: of[name] for name in ("preload", "travel") if name in of})
    return _readings(_machine(), of["rpm"]), _readings(faulty, of["rpm"], of.get("drive", 1.0))


def _said(result: Readings) -> str:
    current, time, follow = result.opening_current.mean, result.opening_time.mean, result.follow_travel.mean
    if current is None or time is None or follow is None:
        return "it never parts"
    return (f"parts {1e3 * time:.1f} ms into the pulse at {current:.1f} A, the upper contact having followed {1e3 * follow:.2f} "
            f"mm, on its rivet in {100.0 * result.on_rivet:.0f} of 100 partings; {1e3 * result.break_arc_energy:.0f} mJ burn as "
            f"they part, and the first spark has {1e3 * result.first_spark_energy:.0f} mJ")


def _fault_prompt(of: Variant) -> str:
    well, faulty = faulty_readings(of)
    return (f"Two coils of one pattern at {of['rpm']:.0f} rpm, each on its own magneto. The good one: {_said(well)}. The other: "
            f"{_said(faulty)}. One thing is wrong, in the coil or in its magneto. What?")


_ONE_READING = {"slack": "travel", "travel": "slack", "stiff": "magneto", "magneto": "stiff"}
_NOT_THE_TIME = {"slack": "stiff", "stiff": "slack", "travel": "magneto", "magneto": "travel"}
_NOT_THE_WAY = {"slack": "magneto", "magneto": "slack", "stiff": "travel", "travel": "stiff"}

FAULT = choice_exercise(
    "05-which-fault", 5, "Read the fault off the readings",
    variant=_fault_variant,
    prompt=remembered(_fault_prompt),
    options=(
        ("slack", "The cushion spring is too slack."),
        ("stiff", "The cushion spring presses too hard."),
        ("travel", "The travel from bridge to rivet is too short."),
        ("magneto", "The magneto is weak."),
    ),
    truth=lambda of: str(of["fault"]),
    right="Three readings tell the four apart: whether the cushion came to its rivet, how far it had gone by then, and "
          "whether the points parted sooner or later than the good coil's.",
    look="Take the readings one by one: the rivet, the way followed, the time. Which fault, set on the panel, moves the same "
         "ones the same way?",
    hints=(
        "Begin with the rivet: did the upper contact come to it? Only one of the four faults keeps it from there.",
        "Then the way that it followed: if it sits on its rivet after a shorter way, the way itself is shorter.",
        "Then the time. A cushion that helps the core too much lets the points part sooner; a current that grows slowly, later.",
    ),
    misconceptions=(
        Misconception("one-reading-alone", lambda of: _ONE_READING[of["fault"]],
                      "That fault does share a reading with this coil: a low current comes of two of the four, a short way "
                      "followed of two. So take another beside it: did the cushion come to its rivet, and did the points part "
                      "sooner or later than the good coil's?"),
        Misconception("not-by-the-time", lambda of: _NOT_THE_TIME[of["fault"]],
                      "With that fault the points would part at another moment of the pulse. Set it on the panel, and compare "
                      "the opening time with that of the good coil: is it sooner or later, and which is it here?"),
        Misconception("not-by-the-way", lambda of: _NOT_THE_WAY[of["fault"]],
                      "With that fault the upper contact would have followed another way than it did. Compare the two coils' "
                      "ways and whether it came to the rivet, then set that fault on the panel and look at the same two."),
    ),
)


# ------------------------------------------------------------------------------------------- 7: set the cushion
MOST_BURNT = 5e-3  # J, as the points part: a sixth or so of what the well-set coil's spark has; our choice


def _setting_variant(draw: Draw) -> dict[str, Any]:
    return {
        "stiffness": round(STIFFNESS * draw.between(0.7, 1.2, 0.1), 2),
        "preload": _share(draw.pick((0.2, 0.3, 1.85, 1.95))),
        "travel": draw.pick((0.03, 0.04, 0.05)),
        "slow": draw.between(350.0, 370.0, 10.0), "fast": draw.between(720.0, 740.0, 10.0),
        "weak": draw.between(85.0, 90.0, 1.0), "strong": draw.between(104.0, 108.0, 1.0),
    }


def _hidden(of: Variant) -> Sequence[tuple[float, float]]:
    return (450.0, 100.0), (of["slow"], 100.0), (of["fast"], 100.0), (450.0, of["weak"]), (450.0, of["strong"])


def _trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    machine = _machine(values["preload"], values["travel"], of["stiffness"])
    trials = []
    for rpm, drive in _hidden(of):
        result = read(_run(machine, rpm, drive / 100.0))
        trials.append(Trial(result.single == 1.0 and not result.misfired and result.break_arc_energy <= MOST_BURNT))
    return trials


def _good_setting(of: Variant) -> dict[str, float]:
    """Return the setting nearest to the nominal one that is met at every hidden setting."""
    for step in range(40):
        for sign in (1, -1):
            values = {"preload": _share(1.0 + 0.02 * sign * step), "travel": TRAVEL}
            if all(trial.met for trial in _trials(values, of)):
                return values
    raise ValueError(f"No cushion setting near the nominal one fires once in every pulse for {dict(of)}.")


SET = sliders_exercise(
    "05-set-the-cushion", 5, "Set the cushion for a fast car",
    variant=_setting_variant,
    prompt=lambda of: (
        f"This coil has a replaced cushion blade ({of['stiffness']:.2f} N/mm) and somebody's guess at its setting, and goes into "
        f"a car that is driven hard: between {of['slow']:.0f} and {of['fast']:.0f} rpm. Leave the vibrator alone. Set cushion "
        "preload and travel so that every pulse gives one spark that lights the charge, and no more than "
        f"{1e3 * MOST_BURNT:.0f} mJ burn as the points part: at both ends of that range, at the speed shown, and on a somewhat "
        "weaker and a stronger magneto."
    ),
    panel="cushion",
    controls=(panel.PRELOAD_CONTROL, panel.TRAVEL_CONTROL),
    start=lambda of: {"preload": of["preload"], "travel": of["travel"]},
    fixed=lambda of: {"stiffness": of["stiffness"], "rpm": 450.0, "drive": 100.0},
    check=_trials,
    truth=_good_setting,
    right="One strong spark in every pulse, and points that hardly burn, all over this car's range. What is well set for "
          "a slow car is a little slack for a fast one. On a real coil, before a tool goes near the springs: supply off, and the "
          "condenser discharged through a resistor with the points held apart, for it keeps its charge.",
    hints=(
        "Give the cushion some way to go first: without travel there is no follow-through, whatever the preload.",
        "Use the panel above at the two ends of the range: at the fast end watch the arc energy as the points part, at the slow "
        "end the number of sparks.",
        "Too slack shows itself at the fast end, too stiff at the slow end. Find the preload at which each begins, and set it "
        "between the two.",
    ),
    recognise={
        "no-travel-needed": lambda values, of: values["travel"] < 0.35 * TRAVEL,
        "one-end-is-safe": lambda values, of: abs(values["preload"] / PRELOAD - 1.0) > 0.4,
        "set-at-one-speed": lambda values, of: True,
    },
    misconceptions=(
        Misconception("one-end-is-safe", lambda of: {"preload": _share(1.9), "travel": TRAVEL},
                      "Neither end of this spring is the safe one. A stiff cushion pushes so hard that the points let go at a "
                      "low current and come back for more; a slack one does not push the upper contact along fast enough, and "
                      "the points burn. Which of the two is yours? The marks turned slowly and the arc energy turned fast "
                      "tell."),
        Misconception("no-travel-needed", lambda of: {"preload": PRELOAD, "travel": 0.02},
                      "The travel is the way that the upper contact follows. Where it has next to none, the points part as "
                      "soon as the vibrator stirs, and part again. Look at the opening time, and at the way followed."),
        Misconception("set-at-one-speed", lambda of: {"preload": PRELOAD, "travel": TRAVEL},
                      "That is right at some of the hidden settings and not at all of them. Try it on the panel at both ends of "
                      "this car's range: where do the points burn, or the sparks come twice?"),
    ),
)


# -------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
def single_share(spark_times, pulse, pulses):
    """Return the share (0 to 1) of pulses that hold exactly one spark.

    spark_times: when the gap fired, in milliseconds from the start of the first pulse
    pulse: length of one pulse in milliseconds
    pulses: how many pulses were watched
    """
    counts = [0] * pulses
    for time in spark_times:
        #: blank count this spark for the pulse that it falls into
        number = int(time // pulse)
        counts[number] += 1
        #: end
    #: blank work out the share of pulses that hold exactly one spark, and return it
    return counts.count(1) / pulses
    #: end
'''
_HEAD = "def single_share(spark_times, pulse, pulses):\n"
_COUNTED = "    counts = [0] * pulses\n    for time in spark_times:\n        counts[int(time // pulse)] += 1\n"


def _log(runs: Sequence[Run]) -> tuple[list[float], float, int]:
    """Return spark times in ms, length of a pulse in ms, and the number of pulses, of one run after the other."""
    pulse = 1e3 * runs[0].pulse_seconds
    times = []
    for place, run in enumerate(runs):
        begin = place * run.pulses - run.first_pulse
        times += [round(1e3 * spark.time + begin * pulse, 4) for spark in sparks(run)]
    return times, pulse, sum(run.pulses for run in runs)


def _cases(of: Variant) -> list[Case]:
    rpm = of["rpm"]
    well, stiff = _run(_machine(), rpm), _run(_machine(of["stiff"]), rpm)
    slack, dead = _run(_machine(of["slack"]), rpm), _run(_machine(), rpm, 0.2)
    logs = (
        ("the coil is well set", (well,)),
        ("the cushion is too stiff", (stiff,)),
        ("the cushion is slack", (slack,)),
        ("nothing fires at all", (dead,)),
        ("the magneto only comes to life halfway", (dead, stiff)),
    )
    return [Case(words, _log(runs), sum(read(run).single for run in runs) / len(runs)) for words, runs in logs]


SINGLES = function_exercise(
    "05-share-of-singles", 5, "Write it: the share of single sparks",
    variant=lambda draw: {
        "stiff": _share(draw.between(1.8, 1.9, 0.05)), "slack": _share(draw.between(0.25, 0.4, 0.05)),
        "rpm": draw.between(440.0, 480.0, 10.0),
    },
    prompt="For those who program: finish this function. It gets the times at which the gap fired, and returns the share of "
           "pulses that hold exactly one spark: one of the readings by which a cushion is set. It will be tried on logs of "
           "several coils.",
    name="single_share", source=SOURCE, cases=_cases,
    right="This is the one reading that an average hides: as many sparks as pulses may mean every second pulse firing "
          "twice. It does not say, though, whether that single spark is strong enough: for that you need its energy.",
    look="Take a log by hand: write the times under one another, draw a line after each pulse, and count the pulses with just "
         "one.",
    hints=(
        "How many whole pulses have gone by when a spark comes? That is the number of its pulse, counted from nought.",
        "Whole pulses gone by: floor division of the time by the length of a pulse, made an `int`.",
        "A list can count: `counts.count(x)` says how many of its entries equal x.",
    ),
    misconceptions=(
        Misconception("average-is-enough", lambda of: f"{_HEAD}    return len(spark_times) / pulses\n",
                      "Your function returns the average number of sparks in a pulse. By that measure a coil that fires twice in "
                      "one pulse and misses the next is as good as a well-set one. Count pulse by pulse."),
        Misconception("any-spark-will-do", lambda of: f"{_HEAD}{_COUNTED}    return sum(n > 0 for n in counts) / pulses\n",
                      "Your function counts every pulse that fires at all. By that measure two sparks are as good as one; the "
                      "second comes late in the stroke and shows a fault. Count only the pulses with a single one."),
    ),
)

EXERCISES = (SLACK, PULSE, BRIDGE, BLADE, CURRENT, FAULT, SET, SINGLES)
