"""The stops of the talk, in order. Add one by copying a neighbour; tests/lessons/test_talk.py holds it to its claims."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from lessons.contracts import Picture
from lessons.panels import PANELS, bad_coils, meters


@dataclass(frozen=True)
class Claim:
    """What a stop's line claims: the reading named `reading` lies from `low` to `high`, in the reading's own unit.

    With `against`, the key of a stop, the claim is about the ratio of this reading to that stop's. With `at`, it is about the
    picture after these sliders have been moved there.
    """

    reading: str
    low: float
    high: float
    against: str = ""
    at: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Stop:
    """One step of the talk.

    key: its name, for tests and claims. panel, values: what is shown. parts, controls, readings: how much of the panel the room
    sees (as the attributes of <coil-panel>, see lessons/face/panel.js). minutes: how long it may take. ask: the question to the
    room before anything moves. line: what to say; {a reading's label} becomes that reading. do: what to show with the sliders.
    answer: to `ask`, for the answer sheet (same {fields}); empty keeps the question off the handout.
    """

    key: str
    title: str
    panel: str
    minutes: float
    ask: str
    line: str
    do: str
    parts: tuple[str, ...]
    controls: tuple[str, ...]
    readings: tuple[str, ...]
    values: Mapping[str, Any] = field(default_factory=dict)
    answer: str = ""
    claims: tuple[Claim, ...] = ()


CAUTION = (
    "The secondary can exceed 20 kV, and a condenser keeps its charge when everything is off: discharge it before touching "
    "blades or terminals. Keep fuel vapour away from sparks, hands and sleeves away from belts and flywheels, and people with a "
    "pacemaker away from a running coil. Local codes and licensed practice come first."
)

CUSHION = PANELS["cushion"].defaults()["preload"]
SLACK, STIFF = round(bad_coils.SLACK * CUSHION, 2), round(bad_coils.STIFF * CUSHION, 2)
VIBRATOR = PANELS["vibrator"].defaults()["preload"]
RESISTANCE = PANELS["magneto_speed"].defaults()["resistance"]
WELL_SET = {symbol: PANELS["same_reading"].defaults()[symbol] for symbol in ("preload", "vibrator_preload")}
TWIN = {symbol: round(share * WELL_SET[symbol], 2) for symbol, share in zip(WELL_SET, meters.TWIN, strict=True)}

SPARKS, CURRENT, TIME = "Sparks per pulse", "Opening current", "Opening time"
FOLLOW, SPEED, ENERGY = "Follow travel", "Parting speed", "Spark energy, first spark"
ARC, MISFIRES = "Arc energy as they part", "Misfires, all speeds together"
_UNBROKEN, _SLOWEST = "Unbroken current, peak", "Slowest speed that fires"

STOPS = (
    Stop(
        "thursday", "The coil that passes on Thursday", "cushion", 2,
        "On Thursday this coil gives one clean spark in every pulse. On Sunday the engine misses. What would you look at first?",
        "A row on this ladder is one pulse of the magneto, a mark is a spark, and a good coil draws one straight column. So "
        "does this one, turned by hand on Thursday evening, with a sound spark of {Spark energy, first spark}. On Sunday, on "
        "the road, the engine misses. Keep your answer: we come back to this very coil.",
        "Only point: a row is a pulse, a mark is a spark. Collect guesses from the room and write them down.",
        ("ladder",), ("rpm",), (SPARKS, ENERGY), {"preload": SLACK, "rpm": 200.0},
        claims=(Claim(SPARKS, 1.0, 1.0), Claim(ENERGY, 12.0, 60.0)),
    ),
    Stop(
        "box", "What is in the box", "box", 3,
        "Which moves first when the current comes: the upper contact, the lower one, or both together?",
        "Two blades. The core pulls the lower one down, and the upper one comes along, pressed on by its own spring, "
        "until its rivet stops it. From there the lower one goes on alone, and that is the moment when they part. All "
        "of it is over in {Opening time} from the pulse's start. And if there is a real coil on the table tonight: " + CAUTION,
        "Press Play: one pulse, slowed five hundred times. Then drag the time to the parting and back.",
        ("scene",), (), (CURRENT, TIME),
        answer="Both together. They part only when the upper contact meets its rivet and the lower one goes on alone.",
        claims=(Claim(SPARKS, 1.0, 1.0), Claim(TIME, 1.0, 8.0)),
    ),
    Stop(
        "current", "Where the current comes from", "magneto", 3,
        "The current comes from the push of the magnets. Does it rise and fall together with that push?",
        "No. It comes after. The winding is slow to let a current grow, so with the contacts held shut the current, the dashed "
        "curve, peaks {Current comes after the EMF by} of crank behind the push. The coil does not wait: at {Opening current} "
        "it pulls its contacts apart and begins again from nothing.",
        "Slow the crank down to a hand's speed and watch the dashed curve shrink and move up to the push.",
        ("strips.emf", "strips.current"), ("rpm", "drive"), (_UNBROKEN, "Current comes after the EMF by", CURRENT),
        answer="No: it comes later, here by {Current comes after the EMF by} of crank, because inductance lets it grow only "
        "slowly.",
        claims=(
            Claim("Current comes after the EMF by", 5.0, 11.25), Claim(SPARKS, 1.0, 1.0),
            Claim("Current comes after the EMF by", 0.0, 0.8, "current", {"rpm": 150.0}),
            Claim(_UNBROKEN, 0.0, 0.8, "current", {"rpm": 150.0}),
        ),
    ),
    Stop(
        "faster", "Is faster better?", "magneto_speed", 3,
        "Turn the crank twice as fast: do you get twice the current?",
        "Cranking slowly, nearly. At driving speed, hardly any more: the current runs into a ceiling of "
        "{Ceiling: flux over inductance}, and we are at {Unbroken current here} already. This coil fires from about "
        "{Slowest speed that fires}. A coil that is dead by hand and well on the road has a joint or a magneto to look at first.",
        "Speed from 100 to 900. Then add half an ohm of bad joint: the ceiling stays, the slowest speed runs away.",
        ("charts.speed",), ("rpm", "resistance"), ("Unbroken current here", "Ceiling: flux over inductance", _SLOWEST),
        answer="Not at driving speed: {Unbroken current here} of a ceiling of {Ceiling: flux over inductance} flow already. At "
        "hand-crank speed, nearly.",
        claims=(
            Claim("Unbroken current here", 1.0, 1.1, "faster", {"rpm": 900.0}),
            Claim("Unbroken current here", 0.4, 0.65, "faster", {"rpm": 120.0}),
            Claim("Ceiling: flux over inductance", 0.999, 1.001, "faster", {"resistance": RESISTANCE + 0.5}),
            Claim(_SLOWEST, 60.0, 200.0), Claim(_SLOWEST, 1.3, 5.0, "faster", {"resistance": RESISTANCE + 0.5}),
        ),
    ),
    Stop(
        "race", "What the condenser is for", "condenser_race", 3,
        "When the contacts part, where does the current go?",
        "Into the condenser. It is a race: the voltage across the points climbs, and the gap between them grows and can hold "
        "more. As long as the solid curve stays under the dashed one there is no arc, and the energy goes up into the spark: "
        "{Spark energy}. Note that the condenser does not bring that energy. As the contacts part it is empty.",
        "Take the capacity slowly down to a tenth, and wait for the curves to meet.",
        ("charts.race",), ("capacity", "gap"), ("Arc energy as they part", "Spark energy", "In the condenser as they part"),
        answer="Into the condenser, until the contacts are far enough apart. The spark gets {Spark energy}; the points hardly "
        "an arc.",
        claims=(Claim("Arc energy as they part", 0.0, 0.5), Claim("In the condenser as they part", 0.0, 0.1),
                Claim("Arc energy as they part", 1.0, 60.0, at={"capacity": 0.1})),
    ),
    Stop(
        "no_condenser", "Without it", "condenser_race", 2,
        "And with no condenser at all: no spark, or no points?",
        "Both suffer. The gap breaks down at once, and {Arc energy as they part} burn at the points instead of in the plug, at "
        "every single parting. That is why they are pitted, and why the engine starts badly: {Spark energy} is what is left for "
        "the spark.",
        "Bring the capacity up again from nought until the arc is gone.",
        ("charts.race", "charts.spent"), ("capacity",), ("Arc energy as they part", "Spark energy"), {"capacity": 0.0},
        answer="An arc eats {Arc energy as they part} at the points, and {Spark energy} are left for the spark: both suffer.",
        claims=(Claim("Arc energy as they part", 10.0, 60.0), Claim("Spark energy", 0.0, 0.75, "race"),
                Claim("Arc energy as they part", 0.0, 0.5, at={"capacity": 0.4})),
    ),
    Stop(
        "vibrator", "What sets the opening current", "vibrator", 3,
        "You add a fifth to the vibrator's spring. Does the opening current go up by a fifth?",
        "By less: the pull goes with the square of the current, so the current goes with the root of the spring. And see the "
        "two curves: by forces alone it would let go at {Lets go at (statics)}, but it parts at {Opening current}, because the "
        "current goes on growing while the blades are on their way.",
        "Add a fifth to the preload and read the opening current before and after.",
        ("scene", "charts.pull"), ("preload", "rpm"), ("Lets go at (statics)", CURRENT, SPARKS),
        claims=(Claim(CURRENT, 4.0, 8.0), Claim("Lets go at (statics)", 2.0, 5.0), Claim(SPARKS, 1.0, 1.0),
                Claim(CURRENT, 1.02, 1.18, "vibrator", {"preload": round(1.2 * VIBRATOR, 2)})),
    ),
    Stop(
        "well", "The second spring, well set", "cushion", 3,
        "So what is the upper spring for, if the lower one sets the current?",
        "It makes the parting brisk. The upper contact follows for {Follow travel} and is stopped dead, and the lower one "
        "leaves it at once. A brisk parting is one strong spark, {Spark energy, first spark}, and hardly an arc. Remember this "
        "column.",
        "Press Play. Let somebody in the front row say when the upper contact meets the rivet.",
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, CURRENT, ENERGY, ARC),
        answer="It makes the contacts part briskly, after they have travelled together: one strong spark, hardly an arc.",
        claims=(Claim(SPARKS, 1.0, 1.0), Claim(SPEED, 0.05, 1.0), Claim(FOLLOW, 0.1, 0.4), Claim(ARC, 0.0, 1.0),
                Claim(ENERGY, 20.0, 60.0)),
    ),
    Stop(
        "slack", "Too slack", "cushion", 3,
        "Slacken it: weaker, sooner, or more often?",
        "Weaker. There is still one spark in every pulse, and it comes no sooner. But the upper contact is left behind: they "
        "part at a crawl, before it has reached its rivet, and {Arc energy as they part} burn at the points. The spark gets "
        "{Spark energy, first spark}, too little to light the charge for sure. Count the sparks and all is well. Read the "
        "current, and all is well. Look at the points, and they flash.",
        "Pull the preload down from the well-set place yourself, slowly, until the marks turn small and hollow.",
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, CURRENT, ENERGY, ARC), {"preload": SLACK},
        answer="Weaker: {Arc energy as they part} burn at the points, and the spark gets {Spark energy, first spark}.",
        claims=(Claim(SPARKS, 1.0, 1.0), Claim(SPEED, 0.0, 0.1, "well"), Claim(FOLLOW, 0.1, 0.8, "well"), Claim(ENERGY, 0.0, 9.9),
                Claim(ARC, 15.0, 80.0), Claim(CURRENT, 0.97, 1.1, "well"), Claim(TIME, 0.97, 1.3, "well")),
    ),
    Stop(
        "slack_slow", "The same coil, hand-cranked", "cushion", 3,
        "Now the same slack coil, turned by hand at 200. What will it do?",
        "One sound spark in every pulse, {Spark energy, first spark}: it passes. Nothing was touched but the crank. Turned "
        "slowly there is time for the weak spring to follow. You have seen this ladder before: it is Thursday's coil. The test "
        "was slow.",
        "Bring the speed up from 200 and watch the spark's energy fall: that is the road.",
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, CURRENT, ENERGY, ARC), {"preload": SLACK, "rpm": 200.0},
        answer="One sound spark in every pulse. A slow test hides a slack cushion: test at driving speed.",
        claims=(Claim(SPARKS, 1.0, 1.0), Claim(FOLLOW, 1.1, 8.0, "slack"), Claim(ENERGY, 1.5, 10.0, "slack"),
                Claim(ENERGY, 0.0, 9.9, at={"rpm": 450.0})),
    ),
    Stop(
        "stiff", "Too stiff", "cushion", 3,
        "So more spring is the safe side?",
        "No. Too stiff a cushion helps the core: the pair leaves its bridge early and parts under the well-set coil's current. "
        "The first spark is weaker, and there is time to come back for another, which nobody needs. And this one does not hide: "
        "turn it slowly and its sparks are too weak to light. It is hard to start by hand.",
        "Turn the speed down to 200: several marks in a row, and all of them hollow.",
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, CURRENT, ENERGY), {"preload": STIFF},
        answer="No. It parts early, at a lower current and with a weaker spark, and fires again.",
        claims=(Claim(SPARKS, 1.3, 5.0), Claim(CURRENT, 0.4, 0.92, "well"), Claim(ENERGY, 0.0, 0.8, "well"),
                Claim(SPARKS, 1.3, 6.0, at={"rpm": 200.0}), Claim(ENERGY, 0.0, 9.9, at={"rpm": 200.0})),
    ),
    Stop(
        "buzz", "It buzzes, so it works", "supplies", 2,
        "This coil buzzes merrily on a battery. How many sparks a second?",
        "Not one. It buzzes at {Pitch of the buzz} all the same: its condenser leaks through. A buzz "
        "proves that the blade moves. The spark is made in the silent instant after the parting.",
        "Choose the well-set coil and press Listen, then this one again, and ask the room which of the two sparks.",
        ("strips.current", "ladder"), ("supply", "coil"), ("Pitch of the buzz", "Sparks a second"), {"coil": "leaky"},
        answer="Not one, though it buzzes at {Pitch of the buzz}. A buzz only proves that the blade moves.",
        claims=(Claim("Pitch of the buzz", 50.0, 2000.0), Claim("Sparks a second", 0.0, 0.0),
                Claim("Pitch of the buzz", 50.0, 2000.0, at={"coil": "none"}),
                Claim("Sparks a second", 50.0, 1000.0, at={"coil": "none"})),
    ),
    Stop(
        "meter", "What the ammeter takes for yours", "same_reading", 3,
        "Two coils read alike on the ammeter. Are they equally good?",
        "This one is too slack. Its spark has {Its first spark}, too weak for the road, and it reads like the well-set coil. "
        "Every coloured cell is a coil that reads like it: some are good, some misfire, and the meter cannot tell which. Never "
        "set four coils to one reading.",
        "Change to the RMS meter, then to the peak meter (the map takes a second or two each).",
        ("map",), ("meter", "preload"), ("Its opening current", "Its first spark"), TWIN,
        answer="No. The meter takes coils that misfire and coils that do not for the same.",
        claims=(Claim("Its first spark", 0.0, 9.9),
                Claim("Your coil on the meter, averaging (rectified mean)", 0.95, 1.05, "meter", WELL_SET),
                Claim("Its first spark", 2.0, 10.0, "meter", WELL_SET)),
    ),
    Stop(
        "car", "In the car", "car_lever", 3,
        "You move the timer's lever five degrees later. How far does the spark move?",
        "Hardly at all. The timer only opens a window; it is the magneto's pulse that fires, here {First spark}. Go on, and at "
        "the end of the step the spark is dragged along; then, from one touch of the lever to the next, it jumps to the next "
        "pulse.",
        "Five degrees later first. Then on to minus 15, one touch at a time, and watch the mark on the stairs.",
        ("strips.current", "charts.stairs"), ("lever", "rpm"), ("First spark", "Later than the timer closes"),
        answer="Hardly at all, or by a whole pulse: it is the magneto's pulse that fires, and the timer only chooses which.",
        claims=(
            Claim("First spark", 0.9, 1.1, "car", {"lever": -28.0}), Claim("First spark", 0.3, 0.7, "car", {"lever": -18.0}),
            Claim("First spark", 0.0, 10.0, at={"lever": -15.0}),
        ),
    ),
    Stop(
        "sunday", "The same coil on Sunday", "costs", 3,
        "Thursday's coil in the car: where does it begin to miss?",
        "The timer lets it have one pulse at a time, from rest, at every speed of the road. The engine starts. It runs gently. "
        "Then, on the open road, every spark is too weak, and the points burn. Over all speeds {Misfires, all speeds together} "
        "windows misfire; the dashed line is the well-set coil, and it misses none.",
        "Choose the stiff cushion, then the weak magneto: they are bad at the other end, at the hand crank.",
        ("charts.misfires", "charts.arc"), ("coil",), (MISFIRES,),
        answer="Well above hand speed: by hand it starts, on the open road it misses ({Misfires, all speeds together} in all).",
        claims=(Claim(MISFIRES, 50.0, 95.0), Claim(MISFIRES, 1.0, 20.0, at={"coil": "stiff"}),
                Claim(MISFIRES, 1.0, 20.0, at={"coil": "magneto"})),
    ),
    Stop(
        "bench", "From readings to the cause", "bench_readings", 2,
        "A coil fires twice at driving speed. Springs, condenser or magneto?",
        "One reading is no answer. Each bar is a cause, and how likely it is after two sparks at driving speed: many are left. "
        "Now the opening current. High, and it is most likely the cushion, too slack. Low, and it is the cushion again, but too "
        "stiff, or the vibrator. Write it down, one row a reading, on a bench sheet; the course turns that into a coil card with "
        "the likely cause and the next step. And count sparks. Do not listen.",
        "Take the opening current in: 5.9 first, then 3.3, and let the room name the spring each time.",
        ("bars.odds",), ("sparks450", "current450"), ("Readings taken", "Doubt left"), {"sparks450": 2.0},
        answer="That alone does not tell. With a high opening current it is most likely a slack cushion; with a low one, a stiff "
        "cushion or a slack vibrator.",
        claims=(Claim("Readings taken", 1.0, 1.0), Claim("Doubt left", 2.0, 3.2),
                Claim("Doubt left", 0.0, 1.6, at={"current450": 5.9}), Claim("Doubt left", 0.0, 1.6, at={"current450": 3.3})),
    ),
    Stop(
        "setting", "What to do about it", "tension_map", 3,
        "Thursday's coil stands left of the field of ones. Which spring do we touch, and which way?",
        "The cushion, up, to the middle of the field and not just over its border; the vibrator first, if the opening current "
        "is wrong. With the magneto at rest, the supply off and the condenser discharged before you touch a blade. Then test it "
        "as fast as you drive it, count the sparks, and look at the points. That is all the difference between Thursday and "
        "Sunday.",
        "Move the cushion's preload up until the mark stands in the middle of the ones, and the ladder is a sound column again.",
        ("map", "ladder"), ("preload", "vibrator_preload"), (SPARKS, ENERGY), {"preload": SLACK},
        answer="The cushion, up, to the middle of the field of ones; then test again at driving speed, and look at the points.",
        claims=(Claim(ENERGY, 0.0, 9.9), Claim(ENERGY, 20.0, 60.0, at={"preload": CUSHION}), Claim(SPARKS, 1.0, 1.0),
                Claim(SPARKS, 1.0, 1.0, at={"preload": CUSHION})),
    ),
)


def stop_named(key: str) -> Stop:
    """Return the stop with this key; KeyError says which there are."""
    for stop in STOPS:
        if stop.key == key:
            return stop
    raise KeyError(f"there is no stop {key!r}; there are {', '.join(stop.key for stop in STOPS)}")


@cache
def picture_of(key: str) -> Picture:
    """Return the whole picture that the stop named `key` begins with."""
    stop = stop_named(key)
    return PANELS[stop.panel].picture(stop.values)


def measured(stop: Stop, claim: Claim) -> float:
    """Return what the model says of a claim of `stop`: the reading, or its ratio to that of the stop that it is held against.

    KeyError where there is no such reading; a reading without a number is NaN, which lies in no range.
    """
    picture = PANELS[stop.panel].picture({**stop.values, **claim.at}) if claim.at else picture_of(stop.key)
    value = _reading(picture, claim.reading)
    return value / _reading(picture_of(claim.against), claim.reading) if claim.against else value


def _reading(picture: Picture, label: str) -> float:
    values = {reading.label: reading.value for reading in picture.readings}
    value = values[label]
    return math.nan if value is None else value


def filled(stop: Stop, text: str) -> str:
    """Return a line or an answer of `stop` with its {fields} replaced by the readings of its own picture.

    KeyError where a field names no reading: a talk with a hole in it must not build.
    """
    readings = {reading.label: reading.text for reading in picture_of(stop.key).readings}
    for label, value in readings.items():
        text = text.replace(f"{{{label}}}", value)
    if "{" in text:
        raise KeyError(f"{stop.key}: {text[text.index('{'):].split('}')[0]}}} is not among {', '.join(readings)}")
    return text
