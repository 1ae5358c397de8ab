"""The exercises of lesson 10, the bench: what readings tell, what they cannot, and which to take next.

Every truth is worked out from the stored imagined coils (coilbench/stored.py), with the priors and errors of the bench.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Any

from coilbench import stored
from coilbench.card import in_a_hundred
from coilbench.causes import BY_KEY, CAUSES
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
from lessons.panels import bench as panel
from lessons.panels.bench import BY_SPOT, NONE


def _shares(*taken: tuple[str, float]) -> dict[str, float]:
    """Return the odds by cause for (key, slider's value) pairs."""
    return panel.judged_sheet(tuple(taken), False)[0]


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _said(key: str, value: float) -> str:
    spot = BY_SPOT[key]
    return f"{spot.words}: {spot.say(spot.si(value))}"


# --------------------------------------------------------------------------------------- 1: predict, a single reading
ALONE = (("sparks600", 1.8), ("sparks600", 2.0), ("sparks450", 1.8), ("sparks450", 2.0), ("current450", 3.4), ("current450", 6.6),
         ("sparks200", 2.0), ("meter450", 1.3), ("meter450", 1.5))
TELLS = 0.3  # bits of doubt that a reading must take away before we say that it tells something


def _alone_variant(draw: Draw) -> dict[str, Any]:
    key, value = draw.pick(ALONE)
    return {"key": key, "value": value}


def _alone_outcome(of: Variant) -> str:
    shares = _shares((of["key"], of["value"]))
    if panel.named(shares):
        return "certain"
    before, after = (stored.doubt(list(odds.values())) for odds in (panel.beforehand(), shares))
    return "several" if before - after >= TELLS else "nothing"


def _likeliest(of: Variant) -> str:
    shares = _shares((of["key"], of["value"]))
    return BY_KEY[max((key for key in shares if key != "well_set"), key=shares.__getitem__)].name


ONE = choice_exercise(
    "10-one-reading", 10, "Predict: a single reading",
    prediction=True,
    about=About({"bench_readings": ()}, "one of the readings"),
    variant=_alone_variant,
    prompt=lambda of: (
        f"A coil comes to the bench. One reading is taken and no other: {_said(of['key'], of['value'])}. What can be said of "
        "it? Say so before you touch the panel."
    ),
    options=lambda of: (
        ("certain", f"What is wrong: {_likeliest(of)}. Such a reading goes with that fault."),
        ("several", "Some causes become unlikely, several are left, and none of them has two to one on."),
        ("nothing", "Hardly anything: almost every cause of the list could read so."),
    ),
    truth=remembered(_alone_outcome),
    right="Put this one reading into the panel and look at the bars: that is what a single reading does to them. The "
          "second reading does much more, if it is the right one.",
    look="Take this one reading in the panel, leave all others out, and compare the bars with the small marks: those are the "
         "odds before any reading.",
    hints=(
        "Which causes could have given such a reading? And a well-set coil?",
        "Does the reading differ at all from what well-set coils give? If it does not, it strikes out little.",
        "In the panel: press Reset and move that one slider.",
    ),
    misconceptions=(
        Misconception("the-likeliest-is-certain", lambda of: "certain" if _alone_outcome(of) != "certain" else "nothing",
                      "That cause may well lead the list, but others read the same. If leading were enough, the coil would be "
                      "bent for a fault that it may not have. Look at the second and third bar."),
        Misconception("one-reading-is-none", lambda of: "nothing" if _alone_outcome(of) == "several" else "several",
                      "Look at the bars again, and at the small marks that say where they were: how far has each moved? A "
                      "reading far outside the well-set range moves them much, one in its middle hardly."),
    ),
)


# -------------------------------------------------------------------------------------- 2: Bayes' rule for two causes
SIGNS = (
    # (reading, limit of the slider, the words for beyond it, first cause, second cause)
    ("sparks450", 1.5, "fire more than 1.5 times a pulse at 450 rpm", "cushion_slack", "cushion_stiff"),
    ("sparks450", 1.5, "fire more than 1.5 times a pulse at 450 rpm", "cushion_stiff", "vibrator_low"),
    ("sparks450", 1.5, "fire more than 1.5 times a pulse at 450 rpm", "vibrator_low", "cushion_slack"),
    ("sparks600", 1.5, "fire more than 1.5 times a pulse at 600 rpm", "cushion_slack", "cushion_stiff"),
    ("current450", 5.3, "part at more than 5.3 A at 450 rpm", "vibrator_high", "cushion_slack"),
    ("sparks200", 1.5, "fire more than 1.5 times a pulse at 200 rpm", "cushion_slack", "vibrator_low"),
)


@cache
def share_beyond(key: str, limit: float, cause: str) -> float:
    """Return the share of the imagined coils with `cause` that read more than `limit` (as the slider has it)."""
    spot = BY_SPOT[key]
    own = stored.imagined().own(CAUSES.index(BY_KEY[cause]))
    values = stored.predictions(spot.ask)[0]
    return sum(values[number] > spot.si(limit) for number in own) / len(own)


@cache
def _bayes_cases() -> list[dict[str, Any]]:
    """Return the variants in which the truth and the beliefs are well apart."""
    found = []
    for sign in range(len(SIGNS)):
        key, limit, _, first, second = SIGNS[sign]
        likely = [round(100.0 * share_beyond(key, limit, cause)) for cause in (first, second)]
        for boxes in ((10, 40), (20, 30), (30, 20), (40, 10), (15, 45), (45, 15)):
            case = {"sign": sign, "boxes": list(boxes), "likely": likely}
            answers = [_bayes(case), *(belief(case) for belief in (_no_prior, _likelihood, _prior))]
            if min(likely) >= 4 and all(abs(a - b) > 4.0 for n, a in enumerate(answers) for b in answers[:n]):
                found.append(case)
    return found


def _bayes(of: Variant) -> float:
    (first, second), (here, there) = of["boxes"], of["likely"]
    return 100.0 * first * here / (first * here + second * there)


def _no_prior(of: Variant) -> float:
    return 100.0 * of["likely"][0] / sum(of["likely"])


def _likelihood(of: Variant) -> float:
    return float(of["likely"][0])


def _prior(of: Variant) -> float:
    return 100.0 * of["boxes"][0] / sum(of["boxes"])


def _bayes_prompt(of: Variant) -> str:
    _, _, words, first, second = SIGNS[of["sign"]]
    one, other = BY_KEY[first].name, BY_KEY[second].name
    return (
        f"In a box lie {sum(of['boxes'])} coils: {of['boxes'][0]} with the fault *{one}* and {of['boxes'][1]} with the fault "
        f"*{other}*. Nobody has marked them. In the model {of['likely'][0]} in 100 coils of the first kind {words}, and "
        f"{of['likely'][1]} in 100 of the second kind. You take one out, and it does. How likely is it one of the first kind?"
    )


ODDS = number_exercise(
    "10-two-causes", 10, "Two causes and one reading",
    variant=lambda draw: dict(draw.pick(_bayes_cases())),
    prompt=_bayes_prompt,
    truth=_bayes,
    unit="percent", tolerance=0.0, absolute=1.2,
    right="The coils of the first kind that do it, over all the coils that do it. That is Bayes' rule, and the coil card "
          "does nothing else, with thirteen causes and with coils by the hundred.",
    look="Count coils: how many of the first kind would do it, how many of the second? Yours is one of all of these.",
    hints=(
        "Think of the whole box being tried. Which coils would do it?",
        "Of the first kind: their number times their share. The same for the second kind.",
        "The answer is the first of these two over their sum.",
    ),
    misconceptions=(
        Misconception("forgets-what-was-likely-before", _no_prior,
                      "You weighed only how well each fault explains the reading, as if the box held as many of the one as of "
                      "the other. Look at the numbers of the box again."),
        Misconception("explains-it-so-it-is", _likelihood,
                      "That is how often such a coil does it, not how often a coil that does it is of that kind. By that sum the "
                      "other kind would not matter at all."),
        Misconception("the-reading-changes-nothing", _prior,
                      "That was right before the reading. One kind does it oftener than the other, and that must tell."),
    ),
)


# -------------------------------------------------------------------------------------- 3: which measurement first?
KNOWN = (("sparks600", 2.0), ("sparks600", 1.8), ("sparks450", 2.0), ("sparks450", 1.7), ("current450", 6.6), ("current450", 3.4))
APART = 0.12  # bits between neighbours in the order asked for


@cache
def telling(key: str, value: float) -> list[tuple[str, float]]:
    """Return readings well apart by what they would tell after one that is known, as (key, bits), the most telling first."""
    steps = panel.judged_sheet(((key, value),))[1]
    by_key = [(next(spot.key for spot in panel.SPOTS if spot.ask == step.ask), step.bits) for step in steps]
    last = next(pair for pair in by_key if pair[0] == "capacity")
    found: list[tuple[str, float]] = []
    for pair in by_key:
        if pair[1] - last[1] >= APART and (not found or found[-1][1] - pair[1] >= APART):
            found.append(pair)
    return [*found[:3], last]


@cache
def _known_cases() -> list[tuple[str, float]]:
    return [pair for pair in KNOWN if len(telling(*pair)) == 4]


def _first_variant(draw: Draw) -> dict[str, Any]:
    key, value = draw.pick(_known_cases())
    return {"key": key, "value": value}


def _first_items(of: Variant) -> list[tuple[str, str]]:
    return [(key, _capital(BY_SPOT[key].words)) for key, _ in telling(of["key"], of["value"])]


def _first_truth(of: Variant) -> list[str]:
    return [key for key, _ in telling(of["key"], of["value"])]


def _condenser_first(of: Variant) -> list[str]:
    truth = _first_truth(of)
    return [truth[-1], *truth[:-1]]


def _backwards(of: Variant) -> list[str]:
    return _first_truth(of)[::-1]


FIRST = ordering_exercise(
    "10-which-first", 10, "Which reading next?",
    variant=_first_variant,
    prompt=lambda of: (
        f"Of a coil one thing is known: {_said(of['key'], of['value'])}. Put these readings in order, first the one that would "
        "tell most about the cause, last the one that would tell least. (What tells most is what the remaining causes differ in.)"
    ),
    items=_first_items,
    truth=_first_truth,
    right="The most telling reading is the one in which the causes still on the list differ most, held against how well "
          "it can be read.",
    look="Take the known reading in the panel, then each of these in turn, high and low: which one moves the bars most? The "
         "panel names the first itself.",
    hints=(
        "Which causes does the known reading leave? Look at the panel with that one slider taken.",
        "Which of these readings would come out different for the two or three causes in front?",
        "A reading that comes out the same for all that are left tells nothing, however good the meter.",
    ),
    misconceptions=(
        Misconception("condenser-first-always", _condenser_first,
                      "You begin with the condenser. That would be right if the causes still on the list were condensers. Look "
                      "at which bars the known reading has left: in what do those differ?"),
        Misconception("quickest-or-least-first", _backwards,
                      "This order begins with what is least likely to tell. If any reading were as good as another, the bars "
                      "would move alike: try the first and the last of your order in the panel."),
    ),
)


# ------------------------------------------------------------------------------------------ 4: missing is not nought
NOT_TAKEN = (("Alder", "left"), ("Birch", "left"), ("Damson", "left"), ("Alder", "sparks200"), ("Birch", "sparks200"))


def _before_and_after(of: Variant) -> tuple[dict[str, float], dict[str, float]]:
    """Return the odds with the reading left out, and with a nought in its place."""
    rest = {key: value for key, value in panel.demo()[of["coil"]].items() if key != of["key"]}
    without = _shares(*rest.items())
    order = [spot.key for spot in panel.SPOTS]
    filled = sorted([*rest.items(), (of["key"], 0.0)], key=lambda pair: order.index(pair[0]))
    return without, _shares(*filled)


def _nought_outcome(of: Variant) -> str:
    without, filled = _before_and_after(of)
    now = panel.named(filled)
    if now is None:
        return "cannot"
    return "same" if now == panel.named(without) else "condenser" if now == "leakage" else "other"


@cache
def _noughts_that_tell() -> list[tuple[str, str]]:
    """Return the cases in which the nought changes the outcome; now and then it is taken for the slip of the pen that it is."""
    return [(coil, key) for coil, key in NOT_TAKEN if _nought_outcome({"coil": coil, "key": key}) != "same"]


MISSING = choice_exercise(
    "10-missing", 10, "A nought to be tidy",
    variant=lambda draw: dict(zip(("coil", "key"), draw.pick(_noughts_that_tell()), strict=True)),
    prompt=lambda of: (
        f"The owner of {of['coil']} has taken all the readings of the sheet but one, *{BY_SPOT[of['key']].words}*. To "
        "leave no gap, he writes 0 there. What will the coil card do with that nought?"
    ),
    options=(
        ("same", "Nothing: it names what it would name without that row."),
        ("condenser", "It takes the nought for a reading, and names a leaking condenser."),
        ("other", "It takes the nought for a reading, and names some other fault."),
        ("cannot", "It takes the nought for a reading that fits nothing else on the sheet, and names no cause at all."),
    ),
    truth=remembered(_nought_outcome),
    right="A nought is a reading like any other, and it says something that was never measured. Leave the value empty: "
          "missing is missing.",
    look="Try it: take that coil's readings in the panel, and pull the slider of that one reading down to nought.",
    hints=(
        "What would a coil have to be like to read nought there?",
        "How sure is the judge that a reading is no slip of the pen? One in a hundred is.",
        "Press the coil's button in the panel, set that one slider to nought, then take its tick away.",
    ),
    misconceptions=(
        Misconception("missing-is-nought", lambda of: "same" if _nought_outcome(of) != "same" else "condenser",
                      "If a nought were the same as nothing, the bars would stay when you tick and untick that reading in the "
                      "panel at nought. Do they?"),
        Misconception("any-nought-is-a-leak",
                      lambda of: "condenser" if _nought_outcome(of) not in ("condenser", "same") else "other",
                      "Think what exactly reads nought here. Volts left on a condenser and sparks of a running coil are two "
                      "things, and the other readings of the sheet still count."),
    ),
)


# ------------------------------------------------------------------------------------- 5: equal meters, unequal coils
PAIRS = (("cushion_slack", "sparks600"), ("leakage", "left"), ("condenser_small", "capacity"), ("travel_short", "travel"))
OFFERED = ("sparks600", "capacity", "left", "travel")


def _apart(key: str, one: int, other: int) -> float:
    """Return by how many errors of measurement two stored coils differ in a reading."""
    values, scales = stored.predictions(BY_SPOT[key].ask)
    return abs(values[one] - values[other]) / math.hypot(scales[one], scales[other])


@cache
def equal_pairs(cause: str, tells: str) -> list[tuple[int, int]]:
    """Return pairs of a well-set stored coil and one with `cause`, equal on the meter and apart in the reading `tells` alone."""
    good, bad = (stored.imagined().own(CAUSES.index(BY_KEY[key])) for key in ("well_set", cause))
    found = []
    for one in good:
        for other in bad:
            others = (_apart(key, one, other) for key in OFFERED if key != tells)
            if _apart("meter450", one, other) < 0.35 and all(off < 1.5 for off in others) and _apart(tells, one, other) > 3.0:
                found.append((one, other))
                break
        if len(found) == 8:
            break
    return found


def _equal_variant(draw: Draw) -> dict[str, Any]:
    cause, tells = draw.pick([pair for pair in PAIRS if equal_pairs(*pair)])
    one, other = draw.pick(equal_pairs(cause, tells))
    values = stored.predictions(BY_SPOT["meter450"].ask)[0]
    return {"cause": cause, "coils": [one, other], "read": [round(values[one], 2), round(values[other], 2)]}


def _most_apart(of: Variant) -> str:
    return max(OFFERED, key=lambda key: _apart(key, *of["coils"]))


EQUAL = choice_exercise(
    "10-equal-meters", 10, "Equal on the meter",
    variant=_equal_variant,
    prompt=lambda of: (
        f"Two coils, both at 450 rpm on the same magneto: the ammeter's rectified mean is {of['read'][0]:.2f} A on the one and "
        f"{of['read'][1]:.2f} A on the other. One of them is well set. The other has this fault: *{BY_KEY[of['cause']].name}*. "
        "Which single further reading would tell which is which?"
    ),
    options=(
        *((key, f"{_capital(BY_SPOT[key].words)}.") for key in OFFERED),
        ("better", "The same meter once more, with another digit."),
        ("none", "None is needed: equal meter readings mean equal coils."),
    ),
    truth=remembered(_most_apart),
    right="In that reading the two differ by far more than it can be misread. The meter averages it away.",
    look="Think of what the fault does to the coil, and which of these readings looks at just that.",
    hints=(
        "Which part is at fault, and which of these readings speaks of that part?",
        "Does the fault change how often it fires, what the condenser holds, how long it holds it, or how far a blade can move?",
        "Lesson 7 has two coils with one meter reading; lesson 3 says what each condenser check shows.",
    ),
    misconceptions=(
        Misconception("equal-meters-equal-coils", lambda of: "none",
                      "If equal meters meant equal coils, one of these could not be faulty. The meter sums up a whole pulse "
                      "into one number; press *A meter instead* in the panel and see how many causes it leaves."),
        Misconception("a-better-meter-would-tell", lambda of: "better",
                      "Another digit of the same average is still an average. The two differ less in it than well-set coils "
                      "differ among themselves."),
        Misconception("leakage-shows-as-capacity", lambda of: "capacity" if _most_apart(of) != "capacity" else "left",
                      "Capacity is how much the condenser takes up, leakage how fast it loses it, and neither shows in the other "
                      "reading. Is it the condenser at all, and if so, which of the two?"),
    ),
)


# ------------------------------------------------------------------------------------------- 6: what the odds are of
def _meaning_prompt(of: Variant) -> str:
    shares = _shares(*panel.demo()[of["coil"]].items())
    first, second = sorted(CAUSES, key=lambda cause: -shares[cause.key])[:2]
    return (
        f"The card of {of['coil']} says: *{first.name} {in_a_hundred(shares[first.key])}, {second.name} "
        f"{in_a_hundred(shares[second.key])}*. What do these numbers mean?"
    )


MEANING = choice_exercise(
    "10-what-odds-mean", 10, "What are the odds of?",
    variant=lambda draw: {"coil": draw.pick(("Alder", "Birch", "Damson"))},
    prompt=_meaning_prompt,
    options=(
        ("knowledge", "Of many coils that read like this one, that share has the one cause and that share the other; this coil "
                      "has one of them, and we do not know which."),
        ("pulses", "The coil does wrong in that share of its pulses."),
        ("blame", "Both parts are at fault, each with that share of the blame."),
        ("certain", "The first cause is the right one; the rest is the card's caution."),
    ),
    truth=lambda of: "knowledge",
    right="The coil is as it is; the odds are of what the readings let us know. Another reading changes the odds and "
          "leaves the coil alone.",
    look="What changes when one more reading is taken: the coil, or what you know of it?",
    hints=(
        "Does the coil change when you write one more reading into the sheet?",
        "How are the odds made? The card counts imagined coils that would have read so.",
        "Each imagined coil has one cause; what no single one explains has a line of its own. None has a share of two.",
    ),
    misconceptions=(
        Misconception("odds-are-of-the-coil", lambda of: "pulses",
                      "How often it misfires is a reading, the sparks per pulse, and stands in the table above. The odds change "
                      "when you untick a reading in the panel, and no coil has changed by that."),
        Misconception("odds-are-shares-of-blame", lambda of: "blame",
                      "Each imagined coil has one cause, so no blame is shared. If it were, taking another reading could not "
                      "drive one of the two to almost nothing, as it does in the panel."),
        Misconception("the-likeliest-is-certain", lambda of: "certain",
                      "Then the cards would always be right where they name a cause. On unseen coils they are right about as "
                      "often as they say, and no oftener: the page *The bench sheet* has the count."),
    ),
)


# ------------------------------------------------------------------------------------------- 7: name it, and cheaply
BUDGET = 22.0  # minutes: less than the readings of the presets of the panel take, which name most causes without a thought
TOO_FEW = (("capacity", "left"), ("meter450",))  # what two of the beliefs look at, and nothing else
TOO_MUCH = ("travel", "left", "current200", "current600", "current450")
LEARNER_LINES = 5


@cache
def way_to_name(number: int) -> tuple[str, ...] | None:
    """Return readings of coil `number`, the most telling first, after which its true cause is named; None within no budget."""
    lines: tuple[str, ...] = ()
    for _ in range(LEARNER_LINES):
        step = panel.steps_of(number, (*lines, panel.BEST))
        if len(step) == len(lines):
            return None
        lines = (*lines, step[-1].spot.key)
        steps = panel.steps_of(number, lines)
        if panel.minutes_of(steps) > BUDGET:
            return None
        if panel.named(steps[-1].shares) == panel.fault_of(number).key:
            return lines
    return None


POOL = (8, 10, 26, 32, 36)
"""Numbers of the coils that may be asked for: those of the box for which `can_be_named` holds. Kept as a list, since to find them
takes a minute; `python -m lessons.exercises.bench` prints them anew for a new store of imagined coils."""


@cache
def can_be_named(number: int) -> bool:
    """Return whether a coil's fault can be named within the budget, and neither by one reading nor by what a belief looks at."""
    fault, alone = panel.fault_of(number).key, tuple((spot.key,) for spot in panel.SPOTS)
    return fault != "well_set" and way_to_name(number) is not None and not any(
        panel.named(panel.steps_of(number, lines)[-1].shares) == fault for lines in (*TOO_FEW, *alone))


def _name_variant(draw: Draw) -> dict[str, Any]:
    return {"coil": draw.pick(POOL)}


def _steps(values: Mapping[str, Any], of: Variant) -> tuple[panel.Step, ...]:
    return panel.steps_of(of["coil"], panel.lines_of(values, LEARNER_LINES))


def _name_trials(values: Mapping[str, Any], of: Variant) -> list[Trial]:
    steps = _steps(values, of)
    shares = steps[-1].shares if steps else panel.beforehand()
    known = panel.named(shares)
    return [
        Trial(known is not None, "No cause is named yet: no bar has two to one on."),
        Trial(known == panel.fault_of(of["coil"]).key, "The cause that is named is not what is wrong with this coil: a further "
              "reading must part it from the next on the list." if known else "So the coil would go back as it came."),
        Trial(panel.minutes_of(steps) <= BUDGET, "The readings take longer than you have."),
    ]


def _spent(values: Mapping[str, Any], of: Variant) -> bool:
    return panel.minutes_of(_steps(values, of)) > BUDGET


def _only(values: Mapping[str, Any], of: Variant, keys: set[str]) -> bool:
    steps = _steps(values, of)
    return bool(steps) and {step.spot.key for step in steps} <= keys


def _filled(*lines: str) -> dict[str, Any]:
    """Return a sheet with these lines, all of them carried out."""
    rest = [NONE] * (LEARNER_LINES - len(lines))
    return {"until": float(LEARNER_LINES), **{f"line{place}": line for place, line in enumerate([*lines, *rest], 1)}}


NAME = sliders_exercise(
    "10-name-the-cause", 10, "Name the cause in time",
    variant=_name_variant,
    prompt=lambda of: (
        f"Coil number {of['coil']} of the club's box has a fault. The sheet has {LEARNER_LINES} lines, and you have "
        f"{BUDGET:.0f} minutes; each reading costs its own. Choose readings until a cause has two to one on, and it is the right "
        f"one. Asking which reading tells most costs {panel.ASKING:.0f} minutes each time."
    ),
    panel="bench_steps",
    controls=(panel.UNTIL_CONTROL, *panel.LINE_CONTROLS[:LEARNER_LINES]),
    fixed=lambda of: {"coil": float(of["coil"]), **{f"line{place}": NONE for place in range(LEARNER_LINES + 1, panel.LINES + 1)}},
    check=_name_trials,
    truth=lambda of: _filled(*(way_to_name(of["coil"]) or ())),
    right="And in time. You let each reading decide which one came next; that is all that the card's advice does.",
    look="Look which bars are in front after your last reading, and think in what those causes differ.",
    hints=(
        "Begin with a reading that speaks of the springs and that can be read well: the opening current at driving speed.",
        "After each line look at the two or three longest bars. Which reading would come out different for them?",
        "The second panel of this page says which reading tells most; there you may try other coils for practice.",
    ),
    recognise={
        "all-at-one-place": lambda values, of: _only(values, of, set(TOO_FEW[0])),
        "the-meter-will-tell": lambda values, of: _only(values, of, set(TOO_FEW[1])),
        "measure-everything": _spent,
    },
    misconceptions=(
        Misconception("all-at-one-place", lambda of: _filled(*TOO_FEW[0]),
                      "You looked at the condenser only. It can be cleared or accused that way, and nothing else can. Which "
                      "causes are still on the list, and in what do they differ?"),
        Misconception("the-meter-will-tell", lambda of: _filled(*TOO_FEW[1]),
                      "The meter is quick, but it sums up a whole pulse in one number, and very unequal coils come out alike. "
                      "What would tell those in front from one another?"),
        Misconception("measure-everything", lambda of: _filled(*TOO_MUCH),
                      "You have measured for longer than you had. Some of these readings could hardly change the list: take "
                      "next what the leading causes differ in."),
    ),
)


# ------------------------------------------------------------------------------------------------- 8: a small function
SOURCE = '''
def odds_of_first(priors, likelihoods):
    """Return the odds of the first cause, from 0 to 1.

    priors: how likely each cause is beforehand (any scale)
    likelihoods: for each reading a list: how likely it is
        under each of the causes
    """
    weights = list(priors)
    for reading in likelihoods:
        #: blank multiply each weight by its likelihood
        weights = [weight * likely for weight, likely in zip(weights, reading)]
        #: end
    #: blank return the first weight's share of all
    return weights[0] / sum(weights)
    #: end
'''
_HEAD = "def odds_of_first(priors, likelihoods):\n"


def _table(coil: str, *keys: str) -> tuple[list[float], list[list[float]]]:
    """Return priors, and for each reading of a demo coil the mean density under each cause, rounded as a person would."""
    rows = []
    for key in keys:
        spot = BY_SPOT[key]
        logs = stored.log_likelihoods(spot.ask, spot.si(panel.demo()[coil][key]))
        means = [sum(math.exp(logs[number]) for number in stored.imagined().own(place)) / len(stored.imagined().own(place))
                 for place in range(len(CAUSES))]
        most = max(means)
        rows.append([round(mean / most, 4) or 0.0001 for mean in means])
    return [cause.prior for cause in CAUSES], rows


def _expected(priors: list[float], rows: list[list[float]]) -> float:
    """Return the first cause's odds by adding logarithms, so that it is not the solution's own sum."""
    logs = [math.log(prior) + sum(math.log(row[place]) for row in rows) for place, prior in enumerate(priors)]
    return 1.0 / sum(math.exp(log - logs[0]) for log in logs)


def _cases(of: Variant) -> list[Case]:
    asked: tuple[tuple[str, tuple[list[float], list[list[float]]]], ...] = (
        ("a well-set coil is read three times", _table("Alder", "sparks600", of["key"], "capacity")),
        ("a coil has one reading", _table(of["coil"], "current600")),
        ("a faulty coil has two readings", _table("Damson", "sparks450", of["key"])),
        ("there is no reading at all", ([cause.prior for cause in CAUSES], [])),
    )
    return [Case(words, (priors, rows), _expected(priors, rows)) for words, (priors, rows) in asked]


FUNCTION = function_exercise(
    "10-odds-function", 10, "Write it: odds from readings",
    variant=lambda draw: {"key": draw.pick(("current450", "current200", "meter450")), "coil": draw.pick(("Alder", "Birch"))},
    prompt="For those who program: finish the function that weighs causes. It gets how likely each cause was beforehand and, "
           "for every reading taken, how likely that reading is under each cause; it returns the odds of the first cause.",
    name="odds_of_first", source=SOURCE, cases=_cases,
    right="Multiply, then share out. Readings whose errors have nothing to do with one another multiply, and so their "
          "order does not matter.",
    look="Take two causes with weights 1 and 3 and one reading that is twice as likely under the first: its odds are then 2 in "
         "5.",
    hints=(
        "Each reading multiplies each cause's weight by its own likelihood.",
        "`zip(weights, reading)` gives a cause's weight and the reading's likelihood under it together.",
        "At the end the weights do not add up to one: divide by their sum.",
    ),
    misconceptions=(
        Misconception("forgets-what-was-likely-before",
                      lambda of: f"{_HEAD}    w = [1.0] * len(priors)\n    for r in likelihoods:\n"
                                 "        w = [a * b for a, b in zip(w, r)]\n    return w[0] / sum(w)\n",
                      "Your function begins with equal weights. Without any reading it should give back what was likely "
                      "beforehand."),
        Misconception("adds-the-readings",
                      lambda of: f"{_HEAD}    w = [p * (1.0 + sum(r[n] for r in likelihoods)) for n, p in enumerate(priors)]\n"
                                 "    return w[0] / sum(w)\n",
                      "Your function adds up what the readings say. By a sum no reading could ever rule a cause out; multiply."),
        Misconception("last-reading-only",
                      lambda of: f"{_HEAD}    r = likelihoods[-1] if likelihoods else [1.0] * len(priors)\n"
                                 "    w = [a * b for a, b in zip(priors, r)]\n    return w[0] / sum(w)\n",
                      "Your function keeps only the last reading. The weights of one reading are where the next begins."),
    ),
)

EXERCISES = (ONE, ODDS, FIRST, MISSING, EQUAL, MEANING, NAME, FUNCTION)

if __name__ == "__main__":
    print(tuple(number for number in range(1, panel.COILS + 1) if can_be_named(number)))
