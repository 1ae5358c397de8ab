"""A notebook's kernel at a record that others use too: `python notebook_at_work.py RECORD NAME SEED`, for test_record_file.py.

At every line on standard input it takes one step at its desk, drawn by its seed, and answers with one line of JSON: what it did
and what it was promised. The exercises are made for this: every answer is taken, and passes if it ends in a 7.
"""

from __future__ import annotations

import json
import os
import random
import sys
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from lessons.contracts import Exercise, Verdict
from lessons.engine import Engine
from lessons.face.widget import Desk

LEARNERS = ("guest", "Robin", "Kim")
STEPS = ("judge", "judge", "judge", "judge", "hint", "learner", "progress", "new desk")


def _exercise(key: str) -> Exercise:
    return Exercise(
        key, 0, "T", "choice", lambda seed: {"n": seed % 97}, lambda of: "P?", lambda of: {"kind": "choice", "options": []},
        lambda of: "7", lambda answer, of: Verdict(answer[-1] == "7", float(answer[-1] == "7"), "Noted."), ("H.",) * 20, (),
        False, False)


EXERCISES = {key: _exercise(key) for key in (f"00-x{number}" for number in range(60))}


def desk_at(path: str | Path) -> Desk:
    """Return a new desk at the record, with the exercises of this file."""
    desk = Desk(path)
    desk.engine = Engine(desk.engine.record, {}, EXERCISES)
    return desk


def main(path: str, name: str, seed: int) -> None:
    """Take a step at every line until there are no more."""
    os.fsync = lambda fd: None  # no machine stops here, and a busy disk would take most of the time
    draw, desk = random.Random(seed), desk_at(path)
    for number, _ in enumerate(sys.stdin, 1):
        step, key = draw.choice(STEPS), draw.choice(tuple(EXERCISES))
        did: dict[str, Any] = {"step": step}
        if step == "judge":
            answer = f"{name} {number}"
            learner = desk.ask(do="exercise", key=key)["learner"]
            tree = desk.handle({"do": "judge", "key": key, "answer": answer, "learner": learner}).tree
            did |= {"learner": learner, "key": key, "answer": answer, "promised": "verdict" in tree, "refused": "learner" in tree}
        elif step == "hint":
            desk.ask(do="hint", key=key)
        elif step == "learner":
            desk.ask(do="learner", nickname=draw.choice(LEARNERS))
        elif step == "progress":
            did["nickname"] = desk.ask(do="progress")["nickname"]
        else:
            desk = desk_at(path)
        did["notes"] = desk.file.notes
        print(json.dumps(did), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
