"""The exercises of lesson 8, in the car.

Firing angles come from runs of one window of the timer on the lesson's panels, or from `coilmodel.timing`. A window costs a
browser's Python about as much as five pulses, so a question takes two windows at most and a judgement sixteen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coilbench.windows import PULSE, TOP_AFTER_ZERO, WIDTH, Spark
from coilmodel import Machine
from coilmodel.timing import angle_of_time, crank_scatter, crank_to_timer, firing_angle
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
from lessons.panels import car as panel
from lessons.panels.car import window

NOMINAL = panel.NOMINAL


def _window(lever: float, rpm: float, drive: float = 100.0, width: float = WIDTH, coil: Machine = NOMINAL) -> tuple[Spark, ...]:
    return window(coil, rpm, drive, lever, width)


def first_spark(lever: float, rpm: float) -> float:
    """Return where the well-set coil first fires, degrees from top dead centre, for a lever at `lever` degrees."""
    sparks = _window(lever, rpm)
    if not sparks:
        raise ValueError(f"No spark with the lever at {lever:g} degrees and {rpm:g} rpm.")
    return sparks[0].angle


# ----------------------------------------------------------------------------------------- 1: predict, a moved lever
def _moved_variant(draw: Draw) -> dict[str, Any]:
    start, move = draw.pick(((-36.0, 7.0), (-35.0, 6.0), (-35.0, 7.0), (-34.0, 5.0), (-34.0, 6.0), (-22.0, 9.0), (-21.0, 8.0)))
    return {"lever": start, "move": move, "rpm": draw.between(420.0, 500.0, 10.0)}


def _moved_outcome(of: Variant) -> str:
    """Say what becomes of the first spark as the lever moves: the shift of the spark as a share of the lever's."""
    shift = (first_spark(of["lever"] + of["move"], of["rpm"]) - first_spark(of["lever"], of["rpm"])) / of["move"]
    if abs(shift) < 0.3:
        return "stays"
    if shift > 1.8:
        return "jumps"
    return "half" if shift < 0.7 else "follows"


MOVED = choice_exercise(
    "08-lever-moved", 8, "Predict: the lever is moved",
    prediction=True,
    about=About({"car_lever": ("lever",)}, "the lever"),
    variant=_moved_variant,
    prompt=lambda of: (
        f"At {of['rpm']:.0f} rpm the timer closes {-of['lever']:.0f} degrees of crank before the top. The magneto's pulses begin "
        f"{PULSE + TOP_AFTER_ZERO:.1f} and {TOP_AFTER_ZERO:.1f} degrees before it. Now the lever is moved so that "
        f"the timer closes {of['move']:.0f} degrees later. What will the spark do? Say so before you touch the panel."
    ),
    options=(
        ("follows", "It comes later by as much as the lever was moved."),
        ("half", "It comes later by half as much, for the timer turns at half the crank's speed."),
        ("stays", "It stays very nearly where it was."),
        ("jumps", "It comes later by much more than the lever was moved."),
    ),
    shuffle=False,
    truth=remembered(_moved_outcome),
    right="The magneto's pulses stand still on the crank, and only they can fire the coil. The lever chooses among them: "
          "as long as it chooses the same pulse the spark hardly stirs, and then it goes over to the next.",
    look="Set the lever to both places on the panel and read the first spark; then look at the staircase.",
    hints=(
        "What makes the contacts part: the timer closing, or the current that has grown enough?",
        "The current can only grow while the magneto drives it: in which of the magneto's pulses does it get there, before and "
        "after the move?",
        "Find both places of the lever on the staircase and read off where the spark comes.",
    ),
    misconceptions=(
        Misconception("moves-smoothly", lambda of: "follows",
                      "If the spark moved smoothly with the lever, the staircase would be the dotted straight line. The lever "
                      "only opens the gate: the spark comes when a pulse of the magneto has brought the current up. Look at the "
                      "solid line at both places."),
        Misconception("half-of-the-lever", lambda of: "half",
                      "The timer does turn at half the crank's speed, but the lever is told in degrees of crank here, and the "
                      "spark does not wait for the timer anyway: it waits for a pulse of the magneto. Look at the staircase."),
    ),
)


# --------------------------------------------------------------------------------------------- 2: where does it fire
def _where_variant(draw: Draw) -> dict[str, Any]:
    return {"top": draw.between(6.0, 12.0, 1.0), "early": draw.between(2.0, 4.0, 0.5), "rpm": draw.between(400.0, 560.0, 20.0)}


@remembered
def _opening_ms(of: Variant) -> float:
    """Return when the contacts part, in ms from the start of the pulse, to the hundredth that is shown."""
    start = -TOP_AFTER_ZERO - PULSE
    sparks = _window(start - of["early"], of["rpm"])
    return round(1e3 * (sparks[0].angle - start) / (6.0 * of["rpm"]), 2)


def _before_top(of: Variant) -> float:
    """Return the start of the pulse, in degrees before the top."""
    return PULSE + of["top"]


def _where(of: Variant) -> float:
    return _before_top(of) - angle_of_time(1e-3 * _opening_ms(of), of["rpm"])


WHERE = number_exercise(
    "08-where-it-fires", 8, "Where in the stroke it fires",
    variant=_where_variant,
    prompt=lambda of: (
        f"On a car whose magneto is keyed otherwise than the Larkfield's, a pulse begins {_before_top(of):.1f} degrees of crank "
        f"before the top of the first cylinder. The timer closes {of['early']:.1f} degrees before that pulse, and the contacts "
        f"part {_opening_ms(of):.2f} ms after it began, at {of['rpm']:.0f} rpm. How many degrees before the top does it fire?"
    ),
    truth=_where, unit="degrees", units=("degrees",), tolerance=0.015, absolute=0.15,
    right="The timer's own angle does not come into it, as long as it is closed when the pulse begins.",
    look="Begin at the start of the pulse, and take off the angle that the crank turns until the contacts part.",
    hints=(
        "From where is the opening time counted: from the timer's closing, or from the start of the pulse?",
        "Degrees of crank are six times the speed in rpm times the time in seconds.",
        "The crank goes towards the top all that while: subtract that angle from where the pulse began.",
    ),
    misconceptions=(
        Misconception("moves-smoothly", lambda of: _where(of) + of["early"],
                      "You counted from where the timer closes. Then every degree of lever would be a degree of spark, as on the "
                      "dotted line of the staircase. The time is counted from the start of the pulse."),
        Misconception("fires-as-it-closes", lambda of: _before_top(of) + of["early"],
                      "That is where the timer closes. Nothing sparks there: the current has yet to grow, and the contacts to "
                      "part. Look at the current's strip after the timer has closed."),
        Misconception("timer-degrees", lambda of: _before_top(of) - crank_to_timer(_before_top(of) - _where(of)),
                      "You took the timer's degrees for the way from the pulse's start to the spark. The timer turns half as "
                      "fast as the crank; the piston goes with the crank."),
    ),
)


# ------------------------------------------------------------------------------------------------ 3: scatter in angle
def _scatter_variant(draw: Draw) -> dict[str, Any]:
    return {"scatter": draw.between(0.15, 0.4, 0.01), "rpm": draw.between(1000.0, 1500.0, 100.0)}


SCATTER = number_exercise(
    "08-scatter-in-degrees", 8, "What a scatter of the opening time costs",
    variant=_scatter_variant,
    prompt=lambda of: (
        f"The opening times of a set of four coils lie {of['scatter']:.2f} ms apart, from the earliest to the latest. On the "
        f"road the crank turns at {of['rpm']:.0f} rpm. If the times stay as they are, how many degrees of crank lie between the "
        "earliest and the latest coil?"
    ),
    truth=lambda of: crank_scatter(1e-3 * of["scatter"], of["rpm"]), unit="degrees", units=("degrees",), tolerance=0.02,
    right="The same scatter in time costs more angle the faster the crank turns: a set that was near enough at hand-crank "
          "speed may not be on the road.",
    look="Ask through how many degrees the crank turns in a second at this speed, and then in the time given.",
    hints=(
        "How many turns a second does the crank make? There are sixty seconds in a minute.",
        "One turn is a full circle: turn that into degrees a second.",
        "Six times the speed in rpm times the time in seconds; mind the milliseconds.",
    ),
    misconceptions=(
        Misconception("timer-degrees", lambda of: crank_to_timer(crank_scatter(1e-3 * of["scatter"], of["rpm"])),
                      "That is what the timer turns through, at half the speed of the crank. Timing is told in degrees of crank, "
                      "for that is what moves the piston."),
        Misconception("angle-stays-the-same", lambda of: crank_scatter(1e-3 * of["scatter"], 450.0),
                      "That is the angle at the bench's speed. If it were the same at any speed, the line on the chart of "
                      "scatter would be level. Move the speed on that panel."),
    ),
)


# ---------------------------------------------------------------------------------------------- 4: who fires first
def _first_variant(draw: Draw) -> dict[str, Any]:
    shares = (draw.between(0.78, 0.82, 0.01), draw.between(0.92, 0.95, 0.01), draw.between(1.05, 1.08, 0.01),
              draw.between(1.19, 1.25, 0.01))
    return {"preloads": dict(zip(draw.shuffled(panel.NAMES), [round(s * panel.VIBRATOR, 2) for s in shares], strict=True)),
            "rpm": draw.between(400.0, 500.0, 20.0)}


def _fires(name: str, of: Variant) -> float:
    coil = NOMINAL.but(vibrator={"preload": of["preloads"][name]})
    return _window(-33.0, of["rpm"], coil=coil)[0].angle


FIRST = ordering_exercise(
    "08-who-fires-first", 8, "Which of the four fires first?",
    variant=_first_variant,
    prompt=lambda of: (
        f"Four coils on the Larkfield at {of['rpm']:.0f} rpm, alike in all but the force of their vibrators. The timer gives "
        "each of them the same window, from just before a pulse. Order them by the crank angle at which they fire, earliest "
        "first."
    ),
    items=lambda of: [(name, f"{name}, {force:.2f} N") for name, force in of["preloads"].items()],
    truth=lambda of: sorted(of["preloads"], key=lambda name: _fires(name, of)),
    right="More force needs more current, and more current takes more time. The steps are small, though: a good deal of "
          "force for a degree or two of crank.",
    look="Set the four forces on the panel of four coils in turn and read where each fires.",
    hints=(
        "What must the current reach before the contacts part, and what sets that?",
        "Which coil waits longest for its current?",
        "On the panel of four coils, move one vibrator from end to end and watch its row of the ladder.",
    ),
    misconceptions=(
        Misconception("stiffer-is-quicker", lambda of: sorted(of["preloads"], key=lambda name: -_fires(name, of)),
                      "A stiff vibrator springs back sooner, but it lets go later: the core needs more current to draw it down, "
                      "and the current takes time to grow. Stiffen one on the panel and watch its row."),
        Misconception("middle-is-first",
                      lambda of: sorted(of["preloads"], key=lambda name: abs(of["preloads"][name] - panel.VIBRATOR)),
                      "You put the coil nearest to the usual force first. Firing angle has no turning point there: move one "
                      "vibrator through its whole range on the panel and watch its row."),
    ),
)


# -------------------------------------------------------------------------------------------- 5: a whole pulse late
def _late_variant(draw: Draw) -> dict[str, Any]:
    return {"lever": draw.between(-18.0, -17.0, 0.5), "play": draw.pick((2.5, 3.0, 3.5)), "rpm": draw.between(440.0, 480.0, 10.0)}


LATE_TURNS = 2


def _late_rows(of: Variant, **changed: Any) -> list[tuple[str, tuple[Spark, ...]]]:
    values = {**panel.MATCHED, "lever": of["lever"], "play": of["play"], "rpm": of["rpm"], "drive": 100.0, **changed}
    return panel.rows_of(values, LATE_TURNS)


REMEDIES: dict[str, Any] = {
    "lever": lambda of: {"lever": of["lever"] - 0.6 * PULSE},
    "springs": lambda of: {name: round(0.9 * force, 2) for name, force in panel.MATCHED.items()},
    "drive": lambda of: {"drive": 120.0},
    "nothing": lambda of: {},
}


def remedy_spread(of: Variant, remedy: str) -> float:
    """Return the degrees from the earliest to the latest first spark once `remedy` is done."""
    return panel.spread_of(_late_rows(of, **REMEDIES[remedy](of))) or 0.0


LATE = choice_exercise(
    "08-a-pulse-late", 8, "Some sparks come nearly a pulse late",
    variant=_late_variant,
    prompt=lambda of: (
        f"The Larkfield's coils are matched, but its timer is worn: each window closes up to {of['play']:.1f} degrees early or "
        f"late. With the lever where the timer should close {-of['lever']:.1f} degrees before the top, at {of['rpm']:.0f} rpm, "
        "some sparks come before the top and some after it, more than half a pulse apart. What will bring them together, here "
        "and now on the road?"
    ),
    options=(
        ("lever", "Move the lever well away from there, to the flat of a step."),
        ("springs", "Ease the vibrators of all four coils by a tenth, so that they fire sooner."),
        ("drive", "A magneto that is a fifth stronger."),
        ("nothing", "Nothing but a new timer: play in the timer is always play in the spark."),
    ),
    truth=remembered(lambda of: min(REMEDIES, key=lambda remedy: remedy_spread(of, remedy))),
    right="On the flat of a step the pulse decides, and the timer's play is swallowed. At the edge a hair's breadth "
          "decides between two pulses. Mend the timer when there is time: its edge is wherever the lever is not.",
    look="On the panel of four coils, set this play and move the lever over one pulse: where is the column straight?",
    hints=(
        "Where on the staircase does a small shift of the timer change the firing angle most, and where least?",
        "Do all four coils suffer alike? What have they in common?",
        "Press the two presets of the worn timer in turn: what differs between them?",
    ),
    misconceptions=(
        Misconception("play-is-scatter", lambda of: "nothing",
                      "That is how it would be if the spark moved smoothly with the timer. It does not: press the preset of the "
                      "worn timer on the step, which has the same play, and compare the column."),
        Misconception("blames-the-springs", lambda of: "springs",
                      "Weaker springs move the edge a little, and the coils were matched already: most of the spread stays. Try "
                      "it on the panel of four coils with this play, and then move the lever instead."),
        Misconception("blames-the-magneto", lambda of: "drive",
                      "More drive brings the current up a little sooner and moves the edge a little: much of the spread stays. "
                      "Try it on the panel of four coils with this play, and then move the lever instead."),
    ),
)


# --------------------------------------------------------------------------------------------- 6: set lever and window
SOONEST, LATEST = -46.0, -36.0
"""Between which firing angles from the top the task's engine should fire: a step that no preset of the panels is on."""
ANOTHER = 0.6 * PULSE  # degrees: a spark that comes later than this after the first is another pulse's


def _lever_variant(draw: Draw) -> dict[str, Any]:
    return {
        "rpm": draw.pick((480.0, 500.0, 520.0)), "play": draw.pick((3.0, 3.5, 4.0)), "other": draw.between(600.0, 650.0, 10.0),
        "weak": draw.between(82.0, 90.0, 1.0), "lever": draw.pick((-72.0, -20.0, -5.0)), "width": draw.pick((6.0, 50.0)),
    }


def _lever_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    def trial(where: str, shift: float, rpm: float, drive: float = 100.0) -> Trial:
        sparks = _window(values["lever"] + shift, rpm, drive, values["width"])
        if not sparks:
            return Trial(False, f"{where}, there is no spark.")
        angle = sparks[0].angle
        if sparks[-1].angle - angle > ANOTHER:
            return Trial(False, f"{where}, the next pulse fires too before the window ends.")
        within = SOONEST <= angle <= LATEST
        return Trial(within, f"{where}, it does not fire in the range that is asked for: which step lies in it?")

    return [
        trial("As shown", 0.0, of["rpm"]),
        trial("At an end of the timer's play", -of["play"], of["rpm"]),
        trial("At an end of the timer's play", of["play"], of["rpm"]),
        trial("At another speed", 0.0, of["other"]),
        trial("On a weaker magneto", 0.0, of["rpm"], of["weak"]),
    ]


def _good_lever(of: Variant) -> dict[str, float]:
    begins = -TOP_AFTER_ZERO - 2.0 * PULSE
    for early in (2.0, 1.0, 0.0, 3.0, -1.0, -2.0, 4.0):
        for width in (28.0, 26.0, 24.0, 22.0):
            values = {"lever": round(2.0 * (begins - early)) / 2.0, "width": width}
            if all(trial.met for trial in _lever_trials(values, of)):
                return values
    raise ValueError(f"No lever and window serve {dict(of)}.")


LEVER = sliders_exercise(
    "08-set-the-lever", 8, "Set the lever and the window",
    variant=_lever_variant,
    prompt=lambda of: (
        f"Running fast, this engine should fire between {-SOONEST:.0f} and {-LATEST:.0f} degrees before the top, and no second "
        f"pulse may fire. The timer is worn: it may close up to {of['play']:.1f} degrees early or late of where you set it. Set "
        f"lever and window at {of['rpm']:.0f} rpm so that it holds for all of that, faster still, and on a weaker magneto."
    ),
    panel="car_lever",
    controls=(panel.LEVER_CONTROL, panel.WIDTH_CONTROL),
    start=lambda of: {"lever": of["lever"], "width": of["width"]},
    fixed=lambda of: {"rpm": of["rpm"], "drive": 100.0},
    check=_lever_trials,
    truth=_good_lever,
    right="The timer closes about where the pulse begins that is to fire, with room for its play on both sides, and opens "
          "again before the next one has got anywhere. Before you touch a real timer: engine stopped, the magneto's lead off, "
          "hands clear of belt and flywheel.",
    hints=(
        "Find on the staircase the step whose height lies in the range that is asked for.",
        "The timer must close about where that pulse begins: much earlier, and the pulse before gets going; much later, and this "
        "one is dragged along.",
        "The window must be long enough for the contacts to part on a weak magneto, and must end before the next pulse's do.",
    ),
    recognise={
        "fires-as-it-closes": lambda values, of: SOONEST <= values["lever"] <= LATEST,
        "wide-is-safe": lambda values, of: values["width"] > 38.0,
    },
    misconceptions=(
        Misconception("fires-as-it-closes", lambda of: {"lever": round(0.5 * (SOONEST + LATEST)), "width": 26.0},
                      "You let the timer close where the spark is wanted. If the spark came with the closing, the solid line "
                      "of the staircase would be the straight one through its corner. But the current must first grow, from "
                      "where on?"),
        Misconception("wide-is-safe", lambda of: {"lever": -56.0, "width": 50.0},
                      "A wide window is not a safe one: it lets the next pulse through too, and the coil fires again nearly a "
                      "pulse later. Count the sparks in the window."),
    ),
)


# ------------------------------------------------------------------------------------------------- 7: match the set
APART = 0.3  # degrees by which a coil may miss Alder


def _match_variant(draw: Draw) -> dict[str, Any]:
    start = {name.lower(): round(panel.VIBRATOR * draw.pick((0.82, 0.87, 1.3, 1.33)), 2) for name in panel.NAMES}
    return {
        **start, "alder": round(panel.VIBRATOR * draw.between(1.1, 1.16, 0.02), 2), "slow": draw.between(210.0, 250.0, 10.0),
        "fast": draw.between(490.0, 520.0, 10.0), "weak": draw.between(82.0, 90.0, 1.0),
    }


def _set_of(values: Mapping[str, Any], of: Variant, rpm: float, drive: float) -> list[tuple[str, tuple[Spark, ...]]]:
    every = {"alder": of["alder"], **values}
    return [(name, _window(-33.0, rpm, drive, coil=panel.coil(name, every[name.lower()]))) for name in panel.NAMES]


def _match_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    trials = []
    for where, rpm, drive in (("At the speed shown", 450.0, 100.0), ("Turned by hand", of["slow"], 100.0),
                              ("Turned faster", of["fast"], 100.0), ("On a weaker magneto", 450.0, of["weak"])):
        (_, alder), *others = _set_of(values, of, rpm, drive)
        for name, sparks in others:
            if not sparks or sparks[-1].angle - sparks[0].angle > ANOTHER:
                trials.append(Trial(False, f"{where}, {name} does not fire, or a second pulse does."))
                continue
            late = sparks[0].angle - alder[0].angle
            trials.append(Trial(abs(late) <= APART, f"{where}, {name} does not fire where Alder does: compare their rows."))
    return trials


def _matched(of: Variant) -> dict[str, float]:
    """Return the vibrators' preloads at which the other three fire where Alder does at 450 rpm, found by halving."""
    def angle(name: str, preload: float) -> float:
        return _window(-33.0, 450.0, coil=panel.coil(name, preload))[0].angle

    aim, found = angle("Alder", of["alder"]), {}
    for control, name in zip(panel.VIBRATOR_CONTROLS[1:], panel.NAMES[1:], strict=True):
        low, high = control.low, control.high
        for _ in range(8):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if angle(name, middle) < aim else (low, middle)
        found[control.symbol] = round(0.5 * (low + high), 2)
    return found


MATCH = sliders_exercise(
    "08-match-the-set", 8, "Match three coils to the fourth",
    variant=_match_variant,
    prompt=lambda of: (
        f"Alder is well set at {of['alder']:.2f} N. Set the vibrators of the other three so that each fires within "
        f"{APART:.1f} degrees of crank of Alder: at 450 rpm as shown, turned by hand, turned faster, and "
        "on a weaker magneto."
    ),
    panel="four_coils",
    controls=panel.VIBRATOR_CONTROLS[1:],
    start=lambda of: {name: of[name] for name in ("birch", "cedar", "damson")},
    fixed=lambda of: {"alder": of["alder"], "rpm": 450.0, "drive": 100.0, "lever": -33.0, "play": 0.0},
    check=_match_trials,
    truth=_matched,
    right="Four coils, one column. On the real coils: off the car and discharged before a tool goes near a spring.",
    look="Read the four firing angles beside the ladder, and bring the other three to Alder's.",
    hints=(
        "Do not look at the forces; look at where each coil fires.",
        "A coil that fires too early lets go at too little current: which way must its vibrator go?",
        "Bring one coil at a time to Alder's firing angle, to the tenth of a degree.",
    ),
    recognise={
        "equal-force-is-equal-timing": lambda values, of: all(abs(force - of["alder"]) < 0.03 for force in values.values()),
        "equal-meter-equal-coils": lambda values, of: (
            max(values.values()) - min(values.values()) < 0.03 and any(values[name] != of[name] for name in values)
        ),
    },
    misconceptions=(
        Misconception("equal-force-is-equal-timing", lambda of: dict.fromkeys(("birch", "cedar", "damson"), of["alder"]),
                      "You gave all four the same force. If force alone set the firing angle the ladder would be one column now. "
                      "The coils differ in cushion, travel and winding too: match where they fire."),
        Misconception("equal-meter-equal-coils",
                      lambda of: dict.fromkeys(("birch", "cedar", "damson"), round(1.06 * of["alder"], 2)),
                      "You made the other three equal by the spring balance. Equal readings there are not equal coils: look "
                      "where each of them fires on the ladder."),
    ),
)


# ------------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
def first_spark(closes, opening, pulse):
    """Return the crank angle at which a coil first fires after its timer has closed.

    closes: crank angle at which the timer closes, in degrees; may be negative
    opening: crank angle from the start of a pulse to the parting of the contacts, in degrees
    pulse: length of a pulse in degrees of crank; one pulse starts at angle 0, one at pulse, and so on both ways
    Take it that only a pulse that starts at the closing or after it fires the coil.
    """
    #: blank find the angle at which the first whole pulse starts
    start = pulse * -(-closes // pulse)
    #: end
    #: blank return the angle at which the contacts part in that pulse
    return start + opening
    #: end
'''
_HEAD = "def first_spark(closes, opening, pulse):\n"


def _cases(of: Variant) -> list[Case]:
    opening = of["opening"]
    asked: Sequence[tuple[str, float, int]] = (
        ("the timer closes just before a pulse", of["late"], 8),
        ("the timer closes just after a pulse has begun", 2.0 * PULSE + 1.5, 8),
        ("the timer closes exactly as a pulse begins", 45.0, 8),
        ("the timer closes before the angle nought", -33.0, 8),
        ("the magneto has other poles", 40.0, 6),
    )
    return [Case(words, (closes, opening, 180.0 / pairs), firing_angle(closes, opening, pairs)) for words, closes, pairs in asked]


FUNCTION = function_exercise(
    "08-first-spark", 8, "Write it: where the first spark comes",
    variant=lambda draw: {"opening": draw.between(10.0, 14.0, 0.5), "late": draw.between(18.0, 21.0, 0.5)},
    prompt="For those who program: finish this function. It gets the angle at which the timer closes and returns the angle of "
           "the first spark, by the rule that a pulse fires if it is whole. It will be tried on several levers and on another "
           "magneto.",
    name="first_spark", source=SOURCE, cases=_cases,
    right="That is the staircase with sharp corners. The model rounds them, for a pulse that is not quite whole may still "
          "fire, late and weakly.",
    look="Draw the starts of the pulses on a line, mark the closing, and go on to the next start.",
    hints=(
        "Number the pulses: number n starts at n times pulse. Which is the first n whose start is not before the closing?",
        "Rounding up: the ceiling of closes divided by pulse.",
        "Floor division rounds down; the negative of the floor of the negative rounds up.",
    ),
    misconceptions=(
        Misconception("moves-smoothly", lambda of: f"{_HEAD}    return closes + opening\n",
                      "Your function moves the spark smoothly with the lever. On the staircase that is the dotted line. The "
                      "opening is counted from the start of a pulse, not from the closing of the timer."),
        Misconception("pulse-already-begun", lambda of: f"{_HEAD}    return pulse * (closes // pulse) + opening\n",
                      "Your function takes the pulse that is under way when the timer closes. That one has lost its start; the "
                      "first whole pulse begins at the closing or after it. Round the other way."),
    ),
)

EXERCISES = (MOVED, WHERE, SCATTER, FIRST, LATE, LEVER, MATCH, FUNCTION)
