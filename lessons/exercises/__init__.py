"""The exercises of the course, by key.

How to add an exercise, in ten lines
------------------------------------
1. Choose its kind, and so its builder in `lessons/exercises/kinds.py`: number, choice, ordering, sliders or function
   (and `log_kind.py`: a log).
2. Open the module of your lesson (`cushion.py` is the pattern), or begin a new one in this folder: it is found by itself.
3. Call the builder with a key "NN-words-with-dashes" (NN is the lesson) and a title that makes sense in a progress list.
4. `variant=lambda draw: {...}`: the learner's own numbers, drawn by `draw.pick` and `draw.between`; JSON-able, round values.
5. `prompt`: the question with those numbers and units. `hints`: about three, from where to look to how to work it out.
6. `truth`: computed from `coilmodel` (a run of the machine, or a closed form), never typed in.
7. Two `Misconception`s or more: a key, the answer this belief leads to, a reply: what it would predict, and where to look.
8. `right` says why it is so, `look` where to look after a wrong answer. No text of yours may hold the value asked for.
9. Add it to your module's `EXERCISES`; in a notebook it is then one line: `exercise("NN-words-with-dashes")`.
10. Run `python -m pytest tests/lessons/test_exercises.py`: it holds every exercise there is to these rules, for 50 seeds.
"""

from __future__ import annotations

from lessons.contracts import Exercise
from lessons.registry import Registry

EXERCISES: Registry[Exercise] = Registry(__name__, __path__, "EXERCISES", lambda exercise: exercise.key)
"""The exercises of the course."""
