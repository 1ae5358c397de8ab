"""The sixth kind of exercise: a log. What was done stands line after line, and the whole of it is the answer.

The answer is the list of the lines' keys, so a saved record replays to the same log. What is common stands here: reading whatever
comes as an answer, taking the first thing that is amiss, and saying it with the belief behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lessons.contracts import Exercise, Lines, Misconception, Verdict, right_answer
from lessons.exercises.kinds import Draw, NotAnAnswer, Variant, remembered


@dataclass(frozen=True)
class Point:
    """One thing that is asked of a log: met or not, what is amiss in words that name the lines, and the belief behind it."""

    met: bool
    words: str = ""
    belief: str | None = None


def log_exercise(
    key: str,
    lesson: int,
    title: str,
    *,
    variant: Callable[[Draw], dict[str, Any]],
    prompt: Callable[[Variant], str],
    panel: str,
    control: Lines,
    fixed: Callable[[Variant], Mapping[str, Any]],
    check: Callable[[Sequence[str], Variant], Sequence[Point]],
    truth: Callable[[Variant], Sequence[str]],
    right: str,
    hints: Sequence[str] = (),
    misconceptions: Sequence[Misconception] = (),
) -> Exercise:
    """Return a task whose answer is what stands on the log `control` of `panel`, whose other controls are `fixed`.

    `check(lines, variant)` says of each thing that is asked whether it is met; the mark is the share that is. The reply is that
    of the first that is not, with its belief's reply behind it where it has one.
    """
    tools = [{"key": name, "text": text} for name, text, _ in control.tools]
    points = remembered(lambda asked: tuple(check(asked["lines"], asked["variant"])), size=64)
    replies = {belief.key: belief.reply for belief in misconceptions}

    def judge(answer: Any, of: Variant) -> Verdict:
        if answer is None or isinstance(answer, (str, Mapping, list, tuple)) and not answer:
            return NotAnAnswer(False, 0.0, "Nothing stands on the sheet yet; do something at the bench first.")
        try:
            lines = control.check(answer)
        except ValueError as why:
            return NotAnAnswer(False, 0.0, str(why))
        asked = points({"lines": lines, "variant": dict(of)})
        missed = [point for point in asked if not point.met]
        if not missed:
            return right_answer(right)
        first = missed[0]
        reply = f"{first.words} {replies[first.belief]}" if first.belief else first.words
        return Verdict(False, 1.0 - len(missed) / len(asked), reply.strip(), first.belief)

    return Exercise(
        key, lesson, title, "log", lambda seed: variant(Draw(seed)), prompt,
        lambda of: {"kind": "log", "panel": panel, "symbol": control.symbol, "tools": tools, "fixed": dict(fixed(of)),
                    "most": control.most},
        remembered(lambda of: list(truth(of))), judge, tuple(hints), tuple(misconceptions),
    )
