"""A class as one page: where it got stuck, which exercise was hardest, which belief commonest. Beside the CSV of `lessons.grade`.

One file without a script, nothing fetched: bars with their numbers in words, good on paper. It counts what was judged again here;
what only a record vouches for is told apart and counts for nothing. Nicknames stand in one table alone, at the end, so that the
rest can be shown to the class.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from coilbench.looks import hues
from lessons.contents import LESSONS
from lessons.contracts import Exercise

FEW = 3
"""An exercise that fewer learners have tried says nothing of a class, where others were tried by more (our choice)."""


@dataclass(frozen=True)
class Row:
    """What one learner did in one exercise; `first_try` and `passed` are verdicts, the others as in `lessons.grade.COLUMNS`.

    `claimed`: the record says that it passed, and nothing else does. `shown`: the way was shown before any try passed.
    """

    learner: str
    exercise: str
    first_try: bool
    tries: int
    hints: int
    passed: bool
    misconceptions: tuple[str, ...]
    judged: str
    file: str
    claimed: bool = False
    shown: bool = False


@dataclass(frozen=True)
class Tally:
    """How a class fared in one exercise, in learners: right at the first try, later, by being shown the way, or not (yet).

    `tries` is the mean number of tries; `beliefs` counts, by its key, how many learners showed each wrong belief.
    """

    exercise: Exercise
    first: int
    later: int
    shown: int
    open: int
    tries: float
    beliefs: Counter[str]

    @property
    def learners(self) -> int:
        """How many have begun it."""
        return self.first + self.later + self.shown + self.open

    @property
    def share(self) -> float:
        """The share right at the first try."""
        return self.first / self.learners


def tallies(rows: Sequence[Row], exercises: Mapping[str, Exercise]) -> list[Tally]:
    """Return the tallies of all exercises that somebody has tried, in the course's order. rows: of `lessons.grade.grade`."""
    found = []
    for key, exercise in sorted(exercises.items(), key=lambda pair: pair[1].lesson):
        mine = [row for row in rows if row.exercise == key and row.tries and row.judged in ("again", "recorded")]
        if not mine:
            continue
        first = sum(row.first_try for row in mine)
        later = sum(row.passed and not row.first_try for row in mine)
        shown = sum(row.shown and not row.passed for row in mine)
        tries = sum(row.tries for row in mine) / len(mine)
        beliefs = Counter(one for row in mine for one in row.misconceptions)
        found.append(Tally(exercise, first, later, shown, len(mine) - first - later - shown, tries, beliefs))
    return found


def hardest(of: Sequence[Tally]) -> Tally | None:
    """Return the exercise with the least share right at the first try (of equals, that with more tries), or None.

    Those that fewer than FEW learners have tried count only where all are such; a prediction counts never: it is made before the
    thing is seen, and being wrong there is no getting stuck.
    """
    of = [one for one in of if not one.exercise.prediction]
    enough = [one for one in of if one.learners >= FEW] or of
    return min(enough, key=lambda one: (one.share, -one.tries), default=None)


def commonest(of: Sequence[Tally]) -> tuple[str, int, tuple[Tally, ...]] | None:
    """Return the commonest wrong belief: (its key, how often it was shown, the exercises that showed it), or None."""
    counted: Counter[str] = Counter()
    for one in of:
        counted.update(one.beliefs)
    if not counted:
        return None
    key, times = max(counted.items(), key=lambda pair: (pair[1], pair[0]))
    return key, times, tuple(one for one in of if key in one.beliefs)


def _named(exercise: Exercise) -> str:
    return f"lesson {exercise.lesson}, \u201c{exercise.title}\u201d"


def _reply(of: Tally, key: str) -> str:
    return next((one.reply for one in of.exercise.misconceptions if one.key == key), "")


def _belief(key: str) -> str:
    return key.replace("-", " ")


def in_words(of: Sequence[Tally]) -> list[str]:
    """Return what a teacher should know first, a sentence each: where the class got stuck, and on which belief."""
    hard, belief = hardest(of), commonest(of)
    if not of:
        return ["No answer of this class could be judged."]
    if hard is None:
        said = ["Nothing but predictions has been answered yet, and to be wrong there is no getting stuck."]
    elif hard.share == 1.0:
        tried = sum(not one.exercise.prediction for one in of)
        said = [f"Nobody got stuck: all {tried} exercises that were tried were right at the first try."]
    else:
        said = [f"The hardest was {_named(hard.exercise)}: {hard.first} of {hard.learners} were right at the first try, "
                f"{hard.later} later, {hard.shown} were shown the way, {hard.open} have not passed."]
    if belief is not None:
        key, times, where = belief
        places = "; ".join(_named(one.exercise) for one in where)
        often = f"{times} {'time' if times == 1 else 'times'}"
        said.append(f"The commonest wrong belief was \u201c{_belief(key)}\u201d, shown {often}: {places}.")
    return said


PARTS = (("first", "right first time", "position", 1.0), ("later", "right later", "energy", 0.5),
         ("shown", "shown the way (predictions: compared)", "cushion", 0.2), ("open", "not passed", "contact_voltage", 0.0))
"""The parts of a bar: field, words, the quantity whose hue it has, and how full it is, to differ in more than its hue."""
WIDE, HIGH = 300.0, 20.0  # px of a bar


def _box(x: float, width: float, quantity: str, full: float) -> str:
    hue = hues()["quantities"][quantity]["light"]
    return (f'<rect x="{x + 1:.1f}" y="1" width="{max(width - 2, 1):.1f}" height="{HIGH - 2:.0f}" fill="{hue}" '
            f'fill-opacity="{full}" stroke="{hue}" stroke-width="2"/>')


def _svg(inside: str, wide: float) -> str:
    return f'<svg aria-hidden="true" viewBox="0 0 {wide:.0f} {HIGH:.0f}" width="{wide:.0f}" height="{HIGH:.0f}">{inside}</svg>'


def _bar(one: Tally) -> str:
    """Return one exercise's bar as SVG; its numbers stand in the cells beside it."""
    x, drawn = 0.0, ""
    for name, _, quantity, full in PARTS:
        part = WIDE * getattr(one, name) / one.learners
        drawn += _box(x, part, quantity, full) if part else ""
        x += part
    return _svg(drawn, WIDE)


TITLE = "Where the class got stuck"
STYLE = """body{font:16px/1.5 system-ui,sans-serif;max-width:70rem;margin:1rem auto;padding:0 1rem;color:#1B1F23;background:#fff}
table{border-collapse:collapse;width:100%}
td,th{text-align:left;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #C9CED3;vertical-align:top}
.scroll{overflow-x:auto}svg{max-width:100%;height:auto;vertical-align:middle}
.first{font-size:1.15rem;font-weight:600}caption{text-align:left;font-weight:600;padding:.5rem 0}
@media print{body{font-size:12px}tr{break-inside:avoid}}"""


def class_page(rows: Sequence[Row], exercises: Mapping[str, Exercise], troubles: Sequence[str] = ()) -> str:
    """Return the whole page as HTML. rows: of `lessons.grade.grade`; troubles: its sentences of damaged and forged records."""
    of = tallies(rows, exercises)
    learners = sorted({(row.learner, row.file) for row in rows}, key=lambda pair: (pair[0].casefold(), pair[1]))
    unchecked = sum(row.claimed for row in rows)
    body = [f"<h1>{TITLE}</h1><p>{len(learners)} "
            f"{'record' if len(learners) == 1 else 'records'}, judged again by the course as it is here.</p>"]
    body += [f'<p class="first">{escape(sentence)}</p>' for sentence in in_words(of)]
    if unchecked:
        body.append(f"<p>{unchecked} passes are claimed by a record alone and count for nothing here.</p>")
    if of:
        heads = [f"{_svg(_box(0, 20, quantity, full), 20)} {words}" for _, words, quantity, full in PARTS]
        body.append(_table(
            "Exercise by exercise, in learners", ["Lesson", "Exercise", "", *heads, "Tries"],
            [[str(one.exercise.lesson), escape(one.exercise.title), _bar(one), *(str(getattr(one, name)) for name, *_ in PARTS),
              f"{one.tries:.1f}"] for one in of]))
    beliefs = [(times, key, one) for one in of for key, times in one.beliefs.items()]
    if beliefs:
        body.append(_table(
            "Wrong beliefs, commonest first, and what the course answers", ["Learners", "Belief", "Where", "The course answers"],
            [[str(times), escape(_belief(key)), escape(_named(one.exercise)), escape(_reply(one, key))]
             for times, key, one in sorted(beliefs, key=lambda each: (-each[0], each[1]))]))
    body.append(_by_learner(rows, exercises, learners))
    if troubles:
        body.append("<h2>Records to look at</h2><ul>" + "".join(f"<li>{escape(one)}</li>" for one in troubles) + "</ul>")
    return ('<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
            f'content="width=device-width, initial-scale=1"><title>{TITLE}</title><style>{STYLE}</style></head>'
            f"<body>{''.join(body)}</body></html>\n")


def _table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table that scrolls on a narrow screen; the cells are HTML already."""
    head = "".join(f"<th>{each}</th>" for each in heads)
    lines = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<div class="scroll" tabindex="0"><table><caption>{caption}</caption><tr>{head}</tr>{lines}</table></div>'


def _by_learner(rows: Sequence[Row], exercises: Mapping[str, Exercise], learners: Sequence[tuple[str, str]]) -> str:
    asked = Counter(exercise.lesson for exercise in exercises.values() if exercise.track == "bench")
    begun = [lesson.number for lesson in LESSONS
             if any(row.exercise in exercises and exercises[row.exercise].lesson == lesson.number for row in rows)]
    passed = Counter((row.learner, row.file, exercises[row.exercise].lesson) for row in rows
                     if row.exercise in exercises and exercises[row.exercise].track == "bench"
                     and (row.passed or (row.shown and exercises[row.exercise].prediction)))
    return _table("Passed, by learner and lesson: what is asked of everyone; a prediction once it was compared (for the teacher)",
                  ["Learner", *(f"Lesson {number}" for number in begun)],
                  [[escape(name), *(f"{passed[name, file, number]} of {asked[number]}" for number in begun)]
                   for name, file in learners])
