"""The exercises of lesson 4, the vibrator.

Currents and angles come from short runs of the nominal machine with the vibrator of the panel "vibrator"; what statics says comes
from `coilmodel.springs` and from the panel's own balance of forces.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from coilmodel import MagnetoDrive, Run, simulate
from coilmodel.readings import Readings, first_openings, read
from coilmodel.springs import coil_pull, current_for_pull
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
from lessons.panels import vibrator as panel

PRELOAD = panel.PRELOAD_CONTROL.default  # N, as the panel shows it
GAP = panel.GAP_CONTROL.default  # mm

PULSES, WARM_UP = 6, 3
TRIAL_PULSES, TRIAL_WARM_UP = 10, 4


def _run(preload: float, rpm: float, gap: float = GAP, drive: float = 100.0, pulses: int = PULSES, warm_up: int = WARM_UP) -> Run:
    """Run the panel's machine: preload in N, gap in mm, drive in percent."""
    return simulate(panel.machine({"preload": preload, "gap": gap}), MagnetoDrive(rpm, drive / 100.0), pulses=pulses,
                    warm_up=warm_up)


def _current(preload: float, rpm: float) -> float:
    """Return the mean opening current (A); infinite where the points do not part."""
    return read(_run(preload, rpm)).opening_current.mean or float("inf")


def _share(share: float) -> float:
    """Return a share of the well-set vibrator's preload in newtons, as a slider can show it."""
    return round(share * PRELOAD, 2)


@cache
def _static_current() -> float:
    """Return the current (A) at which the well-set coil would let go by statics."""
    return panel.statics(panel.machine({"preload": PRELOAD, "gap": GAP})).lets_go


# ---------------------------------------------------------------------------------------- 1: predict more preload
def _more_outcome(of: Variant) -> str:
    """Say how the opening current answers to the added preload, share for share."""
    more = _current(of["preload"], of["rpm"]) / _current(PRELOAD, of["rpm"]) - 1.0
    answer = more / (of["preload"] / PRELOAD - 1.0)
    if answer < -0.1:
        return "falls"
    if answer < 0.2:
        return "stays"
    return "half" if answer < 0.75 else "same"


MORE = choice_exercise(
    "04-more-preload", 4, "Predict: a fifth more spring",
    prediction=True,
    about=About({"vibrator": ("preload",), "vibrator_preload": ("preload",)}, "the vibrator's preload"),
    variant=lambda draw: {"preload": _share(draw.pick((1.2, 1.25, 1.3))), "rpm": draw.between(440.0, 480.0, 10.0)},
    prompt=lambda of: (
        f"The vibrator of a well-set coil pushes up with {PRELOAD:.2f} N. You bend it to {of['preload']:.2f} N and leave "
        f"everything else as it was. At {of['rpm']:.0f} rpm, what will the opening current do? Say so before you touch the panel."
    ),
    options=(
        ("half", "Rise, but by only about half as many percent as the preload."),
        ("same", "Rise by as many percent as the preload: twice the spring, twice the current."),
        ("stays", "Stay about the same: the magneto sets the current, the spring only brings the points back."),
        ("falls", "Fall: the harder the spring pushes, the sooner the points fly apart."),
    ),
    truth=remembered(_more_outcome),
    right="The pull grows with the square of the current, so a little more current makes up for a good deal more spring: "
          "the opening current goes nearly with the square root of the preload.",
    look="Set the two preloads on the panel, read the two opening currents, and compare the shares.",
    hints=(
        "What must be equal at the moment when the pair can no longer be held?",
        "The pull goes with the square of the current. If the current doubles, what does the pull do?",
        "On the panel of opening current against preload, compare the solid curve with the dashed one.",
    ),
    misconceptions=(
        Misconception("pull-goes-with-current", lambda of: "same",
                      "That would be so if the pull grew in step with the current. Then the curve of opening current against "
                      "preload would be a straight line from nought. Look at it: does it bend?"),
        Misconception("magneto-sets-the-current", lambda of: "stays",
                      "The magneto makes the current grow; where on that slope the points part is the spring's doing. If it were "
                      "not, the curve on the panel would be level. Is it?"),
        Misconception("spring-throws-them-apart", lambda of: "falls",
                      "The vibrator's spring pushes the points together, up against the bridge; the core pulls them apart. More "
                      "spring gives the core more to do. Look at the chart of pull against spring."),
    ),
)


# --------------------------------------------------------------------------------------- 2: when the spark comes
@cache
def _one_pulse(rpm: float) -> tuple[float, float, float]:
    """Return when, in ms from the pulse's start, the points part, the gap sparks, and the points close, in a well-set coil."""
    run = _run(PRELOAD, rpm)
    opening, start = first_openings(run)[0], run.first_pulse * run.pulse_seconds
    return 1e3 * opening.after, 1e3 * ((opening.spark_time or 0.0) - start), 1e3 * ((opening.closing_time or 0.0) - start)


def _degrees(milliseconds: float, rpm: float) -> float:
    return 6.0 * rpm * 1e-3 * milliseconds


def _when_prompt(of: Variant) -> str:
    parted, _, closed = _one_pulse(of["rpm"])
    return (f"A well-set coil on a magneto at {of['rpm']:.0f} rpm. The strips show that the points part {parted:.2f} ms after "
            f"the start of the pulse and close again {closed:.2f} ms after it. How many degrees has the crank turned, from the "
            f"pulse's start, when the spark "
            "comes?")


WHEN = number_exercise(
    "04-when-the-spark", 4, "At which crank angle does it spark?",
    variant=lambda draw: {"rpm": draw.between(400.0, 520.0, 10.0)},
    prompt=_when_prompt,
    truth=lambda of: _degrees(_one_pulse(of["rpm"])[1], of["rpm"]), unit="degrees", units=("degrees", "rad"), tolerance=0.03,
    right="The spark comes with the break, a few hundredths of a millisecond after it, and the crank makes six times as "
          "many degrees in a second as it makes turns in a minute.",
    look="Decide first which of the two moments the spark belongs to, then turn that time into degrees.",
    hints=(
        "Which of the two breaks the current, and so lets the field collapse?",
        "A turn is three hundred and sixty degrees. How many turns, and so how many degrees, does the crank make in a "
        "millisecond?",
        "Degrees: six times the speed in rpm times the time in seconds.",
    ),
    misconceptions=(
        Misconception("spark-at-closing", lambda of: _degrees(_one_pulse(of["rpm"])[2], of["rpm"]),
                      "That is where the points close, and the spark does not come when the contacts close: then the current "
                      "only begins to grow. Look at the panel's strip of secondary voltage: where is its peak?"),
        Misconception("electrical-degrees", lambda of: 8.0 * _degrees(_one_pulse(of["rpm"])[1], of["rpm"]),
                      "Those are degrees of the magneto's wave, which goes through many cycles in a turn. The piston knows only "
                      "the crank: count turns of the crank, not of the wave."),
        Misconception("half-the-speed", lambda of: 0.1 * _degrees(_one_pulse(of["rpm"])[1], of["rpm"]),
                      "You took rpm for degrees in a tenth of a second, or lost the minute on the way. Turns a minute, over "
                      "sixty, are turns a second; each is a whole circle."),
    ),
)


# ------------------------------------------------------------------------------------------- 3: spring for current
def _spring_variant(draw: Draw) -> dict[str, Any]:
    has = draw.between(3.6, 4.6, 0.1)
    return {"has": has, "wants": round(has * draw.pick((1.15, 1.2, 1.25, 1.3)), 2), "preload": draw.between(2.4, 3.6, 0.1)}


def _needed_preload(of: Variant) -> float:
    """Return the preload whose static current is the wanted one, at the gap and pull constant that the present one implies."""
    gap = 1e-3 * GAP
    constant = of["preload"] * gap**2 / of["has"] ** 2
    return coil_pull(constant, of["wants"], gap)


SPRING = number_exercise(
    "04-spring-for-a-current", 4, "Which preload for which current?",
    variant=_spring_variant,
    prompt=lambda of: (
        f"Turned slowly, so that statics will do, a coil lets go at {of['has']:.1f} A; its vibrator pushes up with "
        f"{of['preload']:.1f} N at the rivet. It should let go at {of['wants']:.2f} A. Which preload does that ask for, the gap "
        f"staying as it is?"
    ),
    truth=_needed_preload, unit="N", units=("N", "mN"), tolerance=0.02,
    right="The pull, and so the spring that it can beat, goes with the square of the current. A small change of the "
          "wanted current is a large change of the spring, so go in small steps.",
    look="At the same gap the pull goes with the square of the current, and at letting go the pull equals the spring.",
    hints=(
        "At the moment of letting go, pull and preload are equal. So ask how the pull changes.",
        "Only the current changes; the pull goes with its square.",
        "New preload over old is the square of new current over old.",
    ),
    misconceptions=(
        Misconception("pull-goes-with-current", lambda of: of["preload"] * of["wants"] / of["has"],
                      "You changed the spring in step with the current. If the pull grew in step with the current, that would "
                      "do. It grows faster: look how the line of pull rises on the panel when you raise the steady current."),
        Misconception("root-the-wrong-way", lambda of: of["preload"] * (of["wants"] / of["has"]) ** 0.5,
                      "You took the root where the square belongs. The current goes with the root of the preload; here you have "
                      "the currents, and want the preload."),
        Misconception("less-spring-more-current", lambda of: of["preload"] * of["has"] / of["wants"],
                      "You went the other way: less spring. Then the pull wins sooner, at a lower current. Try it on the panel "
                      "of pull against spring."),
    ),
)


# -------------------------------------------------------------------------------------------------- 4: wider gap
def _gap_variant(draw: Draw) -> dict[str, Any]:
    gap = draw.between(0.8, 0.9, 0.01)
    return {"gap": gap, "wider": round(gap * draw.pick((1.1, 1.15, 1.2, 1.25)), 2), "current": draw.between(3.6, 4.4, 0.1)}


def _current_at(of: Variant) -> float:
    """Return the static current at the wider gap, for the same preload."""
    preload = coil_pull(1e-7, of["current"], 1e-3 * of["gap"])
    return current_for_pull(1e-7, preload, 1e-3 * of["wider"])


WIDER = number_exercise(
    "04-wider-gap", 4, "The gap that came with it",
    variant=_gap_variant,
    prompt=lambda of: (
        f"Turned slowly, a coil lets go at {of['current']:.1f} A; its effective gap to the core is then {of['gap']:.2f} mm. "
        f"Somebody sets the whole contact set higher, so that the gap becomes {of['wider']:.2f} mm. The springs press as before. "
        f"At which current does it let go now?"
    ),
    truth=_current_at, unit="A", units=("A", "mA"), tolerance=0.015,
    right="Pull goes with current over gap, squared, so for the same spring the current must grow just as the gap does. "
          "Whoever bends a blade away from the core changes two things at once.",
    look="The spring is the same, so the pull must be the same: what must the current do when the gap grows?",
    hints=(
        "The springs hold as before. So the pull at letting go must be the same as before.",
        "The pull goes with the square of current over gap. For the same pull that ratio must stay.",
        "Current over gap is the same before and after.",
    ),
    misconceptions=(
        Misconception("gap-squared", lambda of: of["current"] * (of["wider"] / of["gap"]) ** 2,
                      "You let the current grow with the square of the gap. The pull does fall with the square of the gap, but "
                      "it also grows with the square of the current: the two squares meet."),
        Misconception("gap-does-not-matter", lambda of: of["current"],
                      "That is the old current. If the gap did not matter, the panel's line of pull would be level; it climbs "
                      "towards the core. Set a wider gap there and see what it asks for."),
        Misconception("wider-is-easier", lambda of: of["current"] * of["gap"] / of["wider"],
                      "You let the current fall. A wider gap weakens the pull, so more current is needed, not less. Try it on "
                      "the panel of pull against spring."),
    ),
)


# --------------------------------------------------------------------------------------- 5: statics and dynamics
def _four(draw: Draw) -> dict[str, Any]:
    rows = ((1.1, draw.pick((140.0, 150.0))), (0.8, draw.pick((480.0, 500.0))), (1.0, draw.pick((450.0, 460.0))),
            (1.3, draw.pick((380.0, 400.0))))
    return {"coils": [[_share(share), rpm] for share, rpm in rows]}


def _label(preload: float, rpm: float) -> str:
    return f"p{round(100 * preload)}r{round(rpm)}"


def _by(order: Any) -> Any:
    return lambda of: [_label(*coil) for coil in sorted(of["coils"], key=order)]


FOUR = ordering_exercise(
    "04-four-settings", 4, "Spring and speed together",
    variant=_four,
    prompt="One coil, four settings of its vibrator's preload, each tried at another speed, full drive. Order them by the "
           "current at which the points part: lowest first.",
    items=lambda of: [(_label(preload, rpm), f"preload {preload:.2f} N, turned at {rpm:.0f} rpm") for preload,
                      rpm in of["coils"]],
    truth=_by(lambda coil: _current(*coil)),
    right="The spring sets where the pair sets off, and the speed sets how far the current grows while the pair is under "
          "way: so a stiffly set coil turned slowly may part at less than a slack one at speed.",
    look="Set the four on the panel in turn and read the opening current.",
    hints=(
        "Two things count: how hard the spring holds, and how fast the current is growing when it gives way.",
        "Near the slowest speed that fires, the current barely grows any more: what you read is close to statics.",
        "Use the panel of opening current against preload: set the speed, read the curve at the preload.",
    ),
    misconceptions=(
        Misconception("spring-alone", _by(lambda coil: coil[0]),
                      "You went by the spring alone. That is statics: right if the current were raised ever so slowly. Turn the "
                      "same setting slowly and fast on the panel and read the opening current."),
        Misconception("speed-alone", _by(lambda coil: coil[1]),
                      "You went by the speed alone. The current does grow faster then, but where it begins to win is the "
                      "spring's doing. Change only the preload on the panel."),
    ),
)


# -------------------------------------------------------------------------------------------- 6: why more than it
def _why_outcome(of: Variant) -> str:
    """Say what explains the difference: it grows with the speed, from hardly anything when turned slowly."""
    slow, fast = _current(PRELOAD, 150.0), _current(PRELOAD, of["rpm"])
    return "under-way" if abs(slow / _static_current() - 1.0) < 0.1 and fast > 1.15 * slow else "spring"


def _why_prompt(of: Variant) -> str:
    return (f"By pull and spring alone a coil should let go at {_static_current():.1f} A. On the magneto at {of['rpm']:.0f} rpm "
            f"its points part at {_current(PRELOAD, of['rpm']):.1f} A; at 150 rpm, at {_current(PRELOAD, 150.0):.1f} A. Nobody "
            f"has touched a screw. Where does the "
            "difference come from?")


WHY = choice_exercise(
    "04-statics-or-dynamics", 4, "More than statics says",
    variant=lambda draw: {"rpm": draw.between(430.0, 500.0, 10.0)},
    prompt=remembered(_why_prompt),
    options=(
        ("under-way", "The pair needs time from setting off to parting, and the current goes on growing meanwhile."),
        ("spring", "The spring is stiffer when it is bent quickly."),
        ("meter", "The meter reads wrong: points always part at the current of statics."),
        ("magnet", "The magneto's own magnets pull the vibrator back, the more so at speed."),
    ),
    truth=remembered(_why_outcome),
    right="Statics says where the balance is lost; the mass of the pair says how long it takes from there. The faster the "
          "current grows, the more of it there is by then.",
    look="Compare two readings on the panel at the two speeds: the current at which the pair leaves the bridge, and the time "
         "from there to the parting.",
    hints=(
        "The difference nearly vanishes when the crank turns slowly. What is slower then?",
        "How long does a gram of iron and steel take for a quarter of a millimetre?",
        "On the panel read the current as the pair leaves its bridge, and the current as the points part.",
    ),
    misconceptions=(
        Misconception("springs-stiffen", lambda of: "spring",
                      "If a quick bend made the spring stiffer, the pair would also leave its bridge late. A steel blade's "
                      "stiffness does not care for speed. Look at what happens between the bridge and the parting."),
        Misconception("statics-always-holds", lambda of: "meter",
                      "If points always parted at the current of statics, the strip of the current would peak there at every "
                      "speed. It does not: look at it at both speeds."),
        Misconception("magneto-holds-the-vibrator", lambda of: "magnet",
                      "The magneto sits at the flywheel, far from the coil box. If it held the vibrator, a battery would show "
                      "another opening current for that reason alone. Look nearer: at the mass of the pair."),
    ),
)


# ---------------------------------------------------------------------------------------------- 7: set the vibrator
MOST_BURNT = 10e-3  # J, as the points part: a third of what the well-set coil's spark has; our choice


def _setting_variant(draw: Draw) -> dict[str, Any]:
    """A wider gap: with a narrower one, preloads that the panels show for the usual gap do as well."""
    return {
        "preload": _share(draw.pick((0.4, 0.45, 1.7, 1.8))), "gap": round(GAP * draw.pick((1.135, 1.15, 1.16)), 2),
        "slow": draw.between(180.0, 200.0, 10.0),
        "fast": draw.between(580.0, 600.0, 5.0), "weak": draw.between(56.0, 60.0, 1.0), "strong": draw.between(112.0, 116.0, 1.0),
    }


def _setting_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    hidden = ((450.0, 100.0), (of["slow"], 100.0), (of["fast"], 100.0), (450.0, of["weak"]), (450.0, of["strong"]))
    trials = []
    for rpm, drive in hidden:
        result: Readings = read(_run(values["preload"], rpm, of["gap"], drive, TRIAL_PULSES, TRIAL_WARM_UP))
        trials.append(Trial(result.single == 1.0 and not result.misfired and result.break_arc_energy <= MOST_BURNT))
    return trials


def _same_current(of: Variant) -> float:
    """Return the share of the well-set preload that by statics lets go at the well-set current, at this coil's gap."""
    return (GAP / of["gap"]) ** 2


def _middle(of: Variant) -> float:
    """Return about the middle of the good settings (N), without a run: above what statics gives (a test)."""
    return 1.18 * _same_current(of) * PRELOAD


def _far_from_good(values: Mapping[str, Any], of: Variant) -> bool:
    """Return whether a setting is nearer to an end of the slider than to the middle of the good ones: alike on either side."""
    end = panel.PRELOAD_CONTROL.low if values["preload"] < _middle(of) else panel.PRELOAD_CONTROL.high
    return abs(values["preload"] - _middle(of)) > abs(values["preload"] - end)


def _good_setting(of: Variant) -> dict[str, float]:
    """Return the setting nearest to the one that statics gives which is met at every hidden setting."""
    for step in range(16):
        for sign in (1, -1):
            values = {"preload": _share(_same_current(of) * (1.0 + 0.02 * sign * step))}
            if all(trial.met for trial in _setting_trials(values, of)):
                return values
    raise ValueError(f"No vibrator setting fires once in every pulse for {dict(of)}.")


SET = sliders_exercise(
    "04-set-the-vibrator", 4, "Set the vibrator for every day",
    variant=_setting_variant,
    prompt=lambda of: (
        f"Somebody has bent this coil's vibrator. Its contact set stands at another height than usual, too: the gap to the core "
        f"is {of['gap']:.2f} mm, and has to stay. Leave the cushion alone. Set the preload so that the coil gives one spark that "
        f"lights the charge in every pulse, with no more than {1e3 * MOST_BURNT:.0f} mJ burnt as the points part: not only at "
        "the speed and drive shown, but turned slower and faster, on a weak magneto and on a strong one."
    ),
    panel="vibrator",
    controls=(panel.PRELOAD_CONTROL,),
    start=lambda of: {"preload": of["preload"]},
    fixed=lambda of: {"rpm": 450.0, "drive": 100.0, "gap": of["gap"]},
    check=_setting_trials,
    truth=_good_setting,
    right="One sound spark in every pulse, fast and slow, weak and strong. The gap and the preload set the current "
          "together. On a real coil: supply off and condenser discharged before a tool goes near the blades, and the cushion "
          "checked again after the vibrator.",
    hints=(
        "A slack vibrator shows itself as double sparks when the crank turns slowly, a tight one as no spark on a weak magneto: "
        "try both ends yourself on the panel.",
        "The well-set coil lets go at a certain current. What does another gap do to the current, the spring being the same?",
        "Pull goes with current over gap, squared. Find the preload that lets go at the well-set coil's current with this gap, "
        "then try it slow, fast and weak.",
    ),
    recognise={
        "gap-does-not-matter": lambda values, of: abs(values["preload"] / PRELOAD - 1.0) < 0.02,
        "one-end-is-safe": _far_from_good,
        "one-day-is-enough": lambda values, of: True,
    },
    misconceptions=(
        Misconception("gap-does-not-matter", lambda of: {"preload": _share(1.0)},
                      "That is the preload of a coil with the usual gap. Here the core pulls from another distance, so that the "
                      "same spring lets go at another current. Read the opening current on the panel, with this gap and with the "
                      "usual one."),
        Misconception("one-end-is-safe", lambda of: {"preload": _share(1.8)},
                      "Neither end of this spring is the safe one. A tight vibrator asks for a current that a weak magneto "
                      "does not give; a slack one parts at a low current, with a weak spark, and when the crank turns slowly "
                      "it comes back and lets go again. Which of the two is yours? Weak drive and slow turning on the panel "
                      "part them."),
        Misconception("one-day-is-enough", lambda of: {"preload": round(0.88 * _middle(of), 2)},
                      "What is right on one day may be wrong on another. Try yours on the panel at the ends of all that is "
                      "asked, one at a time: slow and fast, weak and strong. At which of them is there no single sound spark, "
                      "and why?"),
    ),
)


# --------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
import math

def snap_over(places, forces, gap, constant):
    """Return the steady current, in amperes, at which the springs can no longer hold the pair anywhere on its way.

    places: from the bridge to the rivet, in metres below the rivet's height (so they begin negative and end at 0)
    forces: what the springs hold at each of these places, in newtons
    gap: effective gap to the core at the rivet's height, in metres
    constant: K of the pull K i**2 / (gap - place)**2, in N m2/A2
    """
    highest = 0.0
    for place, force in zip(places, forces):
        #: blank work out the current whose pull equals the springs' force here, and keep what you need of it
        current = (gap - place) * math.sqrt(force / constant)
        highest = max(highest, current)
        #: end
    #: blank return the current past which no place holds
    return highest
    #: end
'''
_HEAD = "import math\n\ndef snap_over(places, forces, gap, constant):\n"


def _snap_cases(of: Variant) -> list[Case]:
    cases = []
    for words, values in (
        ("the coil is well set", {"preload": PRELOAD, "gap": GAP}),
        ("the vibrator is tight", {"preload": of["preload"], "gap": GAP}),
        ("the gap is wide", {"preload": PRELOAD, "gap": of["gap"]}),
        ("there is no cushion force to speak of", {"preload": PRELOAD, "gap": GAP, "cushion": 0.05}),
    ):
        machine = panel.machine(values)
        places = [round(-machine.cushion.travel * (1.0 - i / 40.0), 9) for i in range(41)]
        forces = [panel.springs_hold(machine, place) for place in places]
        cases.append(Case(words, (places, forces, machine.coil.magnetic_gap, machine.coil.pull_constant),
                          panel.statics(machine).lets_go))
    return cases


SNAP = function_exercise(
    "04-snap-over-function", 4, "Write it: the current of the snap-over",
    variant=lambda draw: {"preload": _share(draw.between(1.2, 1.5, 0.1)), "gap": round(GAP * draw.between(1.1, 1.3, 0.05), 2)},
    prompt="For those who program: finish this function. It walks from the bridge to the rivet and returns the steady current at "
           "which the springs can hold the pair nowhere any more. It will be tried on several coils.",
    name="snap_over", source=SOURCE, cases=_snap_cases,
    right="The last place that still holds decides: mostly the rivet, where the force steps up; with no cushion to help, "
          "the bridge.",
    look="Take one place by hand: set the pull equal to the force, and solve for the current.",
    hints=(
        "The pull K i**2 / (gap - place)**2 equals the force. Solve it for i.",
        "The current is the distance that is left to the core times a square root: of what over what?",
        "The pair is held as long as any place holds. Which of all the currents must be passed to be past every place?",
    ),
    misconceptions=(
        Misconception("first-place-decides",
                      lambda of: f"{_HEAD}    return (gap - places[0]) * math.sqrt(forces[0] / constant)\n",
                      "Your function returns the current that lifts the pair off its bridge. If that decided, the rivet would "
                      "not hold it up. Look at the preset in which the pair waits at the rivet."),
        Misconception("last-place-decides", lambda of: f"{_HEAD}    return (gap - places[-1]) * math.sqrt(forces[-1] / "
                                                       f"constant)\n",
                      "Your function looks at the rivet alone. That is right for most coils, but where the cushion helps little "
                      "the bridge is the harder place. Take the cushion's force away on the panel."),
        Misconception("forgets-the-root",
                      lambda of: f"{_HEAD}    return max((gap - p) ** 2 * f / constant for p, f in zip(places, forces))\n",
                      "Your function returns the square of a current. Solve once more: the pull goes with the square, so the "
                      "current with the root."),
    ),
)

EXERCISES = (MORE, WHEN, SPRING, WIDER, FOUR, WHY, SET, SNAP)
