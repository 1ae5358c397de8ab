"""The engine: it answers what the face asks, in a notebook's kernel and in the browser's worker alike.

A request is a dict with the field "do"; the reply is a `Packed` tree (see lessons/contracts.py). `handle` never raises: what
goes wrong comes back as {"error": one sentence}. Replies to what changes the progress record carry the whole record, which
the host (the page, or the notebook's widget) keeps; the engine itself touches no file.

    do        takes                 gives
    panel     name, values, fill    panel {name, title, question, controls, presets, slowed}, picture
    compute   name, values, whole,  picture (the quick one where `whole` is false and the panel has one; where `fill` is true and
              fill                  the panel's map can be filled, and soon, the one with a map whose cells come later)
    pulse     name, values, pulse   parts {strips, scene, ladder}: what of the picture is another where `pulse` (0-based) is shown
    cells     name, values, places  cells [whole number or null]: those of the map at these places, row x columns + column
    runs      name, values, places  runs {numbers (one after the other, `width` each), width, valid [index into places], sizes,
                                    status, column, most}: what a page's light workers do to find the same cells
    mapped    name, values, cells   sentence, alt: a finished map in words
    sound     name, values, slowed  sound {samples, rate, slowed, words}; slowed: 1, or the panel's own `slowed`
    exercise  key                   exercise {key, lesson, title, kind, prompt, form, track, prediction, about, hints_total},
                                    state, learner; about {panels {name: [symbols to be moved; none: anything]}, words}, or null
    judge     key, answer, learner, verdict {passed, score, message, misconception, reason}, state, record; words are the
              words                 learner's own, beside a prediction
    write     key, lines, learner   state, record: the lines of a log so far, which stay though the page is opened again
    way       key, learner          way {said, answer, steps, reason}, state, record: the right answer in words, with its reason
    hint      key, learner          hint (null when there are no more), state, record
    progress                        nickname, lessons [{lesson, title, exercises [{key, title, ..., tries, passed_at, score}]}]
    learner   nickname              record, and set_aside {filename, text} where another learner's work was put away
    export                          filename, text
    import    text                  record
    load      record (or null)      record
    example                         filename, text: the bench sheet of the Larkfield Twelve
    template                        filename, text: an empty bench sheet
    sheet     data, name            sheet {summary, coils [names], messages}; data: the bytes of the learner's own file as base64
    card      coil                  card {coil, when, filename, sentence, cautions, next, how, bars, table [rows of four], notes}

The engine keeps the last bench sheet for the cards that are asked of it, and in memory only.

A reply with the field "wants" beside its "error" names a file of data that must come first (coilbench/carried.py): the page's
worker, who finds it in `Engine.wanted` too, fetches it and asks again, so that the face never sees such a reply.

`learner` is the nickname whose numbers the question had. Where another is at work by now (who changed it in another notebook or
tab), nothing is judged or shown: the reply has, beside its "error", the field "learner" with the nickname of now.

The way is shown after four tries (of a prediction, which is made once, after the one), and kept as shown: no later try counts.

`state` is {tries, passed, passed_at, score, hints (texts shown so far), last_answer, last_message, shown (the way was), may_show
(it may be asked for), words, lines (of a log that was begun and not handed in)}: `passed_at` is the number of the first try that
passed, or null; the last answer and message are that try's where there is one, for by it the learner stands.
Forms and answers, kind by kind:

    number    {unit, units}                      {"value": as typed, "unit": one of units}
    choice    {options [{key, text}]}            key
    ordering  {items [{key, text}]}              [keys, first to last]
    sliders   {panel, controls, labels,          {symbol: value}
               fixed, start}
    log       {panel, symbol, tools [{key,       [keys of the lines, first to last]
               text}], fixed, most}
    function  {name, stub}                       source text
"""

from __future__ import annotations

import base64
import binascii
import json
from array import array
from collections.abc import Callable, Mapping
from typing import Any

from coilbench.carried import FileWanted
from lessons import contents
from lessons.contracts import SLOWED, Choice, Control, Exercise, Filling, Lines, Packed, Panel, Runs, Verdict, pack
from lessons.exercises.kinds import NotAnAnswer, seed_of
from lessons.exercises.ways import in_words
from lessons.record import GUEST, Record, RecordError, checked_nickname, from_data, merged, parse

MOST_CELLS = 101 * 101
"""More cells than any map has: a list of places is held to it."""

Reply = dict[str, Any]

TRIES_ALONE = 4
"""So many tries are a learner's own; after them the way may be shown."""


class BadRequest(ValueError):
    """What is wrong with a request, in one sentence."""


class AnotherLearner(BadRequest):
    """The question was another learner's, whose numbers are others."""


class Engine:
    """Answers requests for one learner. `panels` and `exercises` default to all those of the course."""

    def __init__(
        self,
        record: Record | None = None,
        panels: Mapping[str, Panel] | None = None,
        exercises: Mapping[str, Exercise] | None = None,
    ) -> None:
        self.record = record or Record()
        self._panels = panels
        self._exercises = exercises
        self._others: dict[str, Record] = {}
        self._answers: dict[str, Callable[[Mapping[str, Any]], Reply]] = {
            "panel": self._panel, "compute": self._compute, "pulse": self._pulse, "cells": self._cells, "runs": self._runs,
            "mapped": self._mapped, "sound": self._sound, "exercise": self._exercise, "judge": self._judge, "hint": self._hint,
            "write": self._write, "way": self._way,
            "progress": self._progress, "learner": self._learner, "export": self._export, "import": self._import,
            "load": self._load, "example": self._example, "template": self._template, "sheet": self._take_sheet,
            "card": self._card,
        }
        self._sheet: Any = None
        self.wanted = ""
        """The file of data that must come before the last request can be answered, "" for none."""

    # -------------------------------------------------------------------------------------------- the two doors
    def handle(self, request: Any) -> Packed:
        """Return the reply to `request`; never raises."""
        self.wanted = ""
        try:
            return pack(self._reply(request))
        except FileWanted as error:
            self.wanted = error.path
            return Packed({"wants": error.path, "error": _sentence(error)})
        except AnotherLearner as error:
            return Packed({"learner": self.record.nickname, "error": _sentence(error)})
        except (ValueError, OSError) as error:  # every sentence of the course is a ValueError
            return Packed({"error": _sentence(error)})
        except Exception as error:
            return Packed({"error": f"Something went wrong inside the course ({type(error).__name__}); reload and try again."})

    def handle_json(self, text: str) -> tuple[str, list[array[float]]]:
        """Return the reply to a request given as JSON: the tree as JSON and the buffers beside it; never raises."""
        try:
            request = json.loads(text)
        except (TypeError, ValueError, RecursionError):
            request = None
        packed = self.handle(request)
        try:
            return json.dumps(packed.tree, allow_nan=False), packed.arrays
        except (TypeError, ValueError, RecursionError):
            return json.dumps({"error": "The reply could not be written as JSON."}), []

    def _reply(self, request: Any) -> Reply:
        if not isinstance(request, Mapping) or not isinstance(request.get("do"), str):
            raise BadRequest("This is not a request: it needs a field \"do\" that says what to do.")
        answer = self._answers.get(request["do"])
        if answer is None:
            raise BadRequest(f"There is no request {request['do'][:40]!r}; there are {', '.join(self._answers)}.")
        return answer(request)

    # ------------------------------------------------------------------------------------------------- panels
    @property
    def panels(self) -> Mapping[str, Panel]:
        """The panels by name, loaded when first asked for: an exercise without one needs none of them."""
        if self._panels is None:
            from lessons.panels import PANELS

            self._panels = PANELS
        return self._panels

    @property
    def exercises(self) -> Mapping[str, Exercise]:
        """The exercises by key."""
        if self._exercises is None:
            from lessons.exercises import EXERCISES

            self._exercises = EXERCISES
        return self._exercises

    def _panel(self, request: Mapping[str, Any]) -> Reply:
        panel = _named(self.panels, "panel", request.get("name"))
        return {"panel": _shown(panel), "picture": panel.picture(_values(request), fill=_fills(request))}

    def _compute(self, request: Mapping[str, Any]) -> Reply:
        panel = _named(self.panels, "panel", request.get("name"))
        whole = request.get("whole", True) is not False
        return {"picture": panel.picture(_values(request), whole, _fills(request))}

    def _pulse(self, request: Mapping[str, Any]) -> Reply:
        panel = _named(self.panels, "panel", request.get("name"))
        picture = panel.at_pulse(_values(request), request.get("pulse"))
        return {"parts": {"strips": picture.strips, "scene": picture.scene, "ladder": picture.ladder}}

    # --------------------------------------------------------------------------------------------- filling a map
    def _filling(self, request: Mapping[str, Any]) -> tuple[Filling, Reply]:
        panel = _named(self.panels, "panel", request.get("name"))
        if panel.filling is None:
            raise BadRequest(f"{panel.title}: this panel has no map that is filled.")
        return panel.filling, panel.checked(_values(request))

    def _runs_for(self, request: Mapping[str, Any]) -> Runs:
        filling, values = self._filling(request)
        places = request.get("places")
        if not isinstance(places, list) or not all(isinstance(place, int) and 0 <= place < MOST_CELLS for place in places):
            raise BadRequest(f"places: {places!r:.60} is no list of places in a map, whole numbers from 0 to {MOST_CELLS - 1}.")
        return filling.runs(values, places)

    def _cells(self, request: Mapping[str, Any]) -> Reply:
        from coilmodel.tally import tallies  # here, as with the panels: to ask for an exercise starts no compiler

        runs = self._runs_for(request)
        told = iter(tallies([numbers for numbers in runs.numbers if numbers], runs.pulses))
        cells: list[int | None] = []
        for numbers in runs.numbers:
            tally = next(told) if numbers else None
            cells.append(min(runs.most, int(tally[runs.column])) if tally and tally["status"] == 0.0 else None)
        return {"cells": cells}

    def _runs(self, request: Mapping[str, Any]) -> Reply:
        from coilmodel.kernel import PARAMETERS
        from coilmodel.tally import TALLY, buffer_sizes

        runs = self._runs_for(request)
        return {"runs": {
            "numbers": array("d", (number for numbers in runs.numbers if numbers for number in numbers)),
            "width": len(PARAMETERS), "valid": [place for place, numbers in enumerate(runs.numbers) if numbers],
            "sizes": buffer_sizes(runs.pulses), "status": TALLY.index("status"),
            "column": TALLY.index(runs.column), "most": runs.most,
        }}

    def _mapped(self, request: Mapping[str, Any]) -> Reply:
        filling, values = self._filling(request)
        cells = request.get("cells")
        if not isinstance(cells, list) or not all(cell is None or isinstance(cell, int) for cell in cells):
            raise BadRequest(f"cells: {cells!r:.60} is no list of whole numbers and nulls.")
        sentence, alt = filling.words(values, cells)
        return {"sentence": sentence, "alt": alt}

    def _sound(self, request: Mapping[str, Any]) -> Reply:
        panel = _named(self.panels, "panel", request.get("name"))
        return {"sound": panel.heard(_values(request), request.get("slowed", 1.0))}

    # ---------------------------------------------------------------------------------------------- exercises
    def variant(self, exercise: Exercise) -> dict[str, Any]:
        """Return this learner's variant of `exercise`."""
        return exercise.variant(seed_of(self.record.nickname, exercise.key))

    def _exercise(self, request: Mapping[str, Any]) -> Reply:
        exercise = _named(self.exercises, "exercise", request.get("key"))
        variant = self.variant(exercise)
        shown = {
            "key": exercise.key, "lesson": exercise.lesson, "title": exercise.title, "kind": exercise.kind,
            "prompt": exercise.prompt(variant), "form": exercise.form(variant), "track": exercise.track,
            "prediction": exercise.prediction, "about": exercise.about, "hints_total": len(exercise.hints),
        }
        return {"exercise": shown, "state": self._state(exercise), "learner": self.record.nickname}

    def _asked(self, request: Mapping[str, Any]) -> Exercise:
        """Return the exercise that a request is about; AnotherLearner where it was shown to one who is not at work now."""
        exercise: Exercise = _named(self.exercises, "exercise", request.get("key"))
        learner = request.get("learner")
        if isinstance(learner, str) and not self.record.is_of(learner):
            raise AnotherLearner(f"The nickname is {self.record.nickname} now, changed elsewhere, and with it the numbers of "
                                 "this question: look at it again, then answer.")
        return exercise

    def _state(self, exercise: Exercise) -> Reply:
        progress = self.record.of(exercise.key)
        last = progress.standing
        return {
            "tries": progress.count, "passed": progress.passed, "passed_at": progress.passed_at, "score": progress.score,
            "hints": list(exercise.hints[: progress.hints]),
            "last_answer": last.answer if last else None, "last_message": last.message if last else None,
            "shown": progress.shown, "may_show": self._may_show(exercise), "words": progress.words,
            "lines": list(progress.lines),
        }

    def _may_show(self, exercise: Exercise) -> bool:
        """Whether the way may be shown: after some tries, after the one of a prediction, and to those who have passed."""
        progress = self.record.of(exercise.key)
        return progress.shown or progress.passed or progress.count >= (1 if exercise.prediction else TRIES_ALONE)

    def _way(self, request: Mapping[str, Any]) -> Reply:
        exercise = self._asked(request)
        if not self._may_show(exercise):
            raise BadRequest("The way is shown after some tries of your own." if not exercise.prediction else
                             "Say first what you think will happen.")
        variant, progress = self.variant(exercise), self.record.of(exercise.key)
        truth = exercise.truth(variant)
        way = {
            "said": in_words(exercise, variant, progress.tries[0].answer) if progress.tries else "",
            "answer": in_words(exercise, variant, truth), "steps": list(exercise.hints),
            "reason": exercise.judge(truth, variant).reason,
        }
        if not progress.passed:
            self.record.show_way(exercise.key)
        return {"way": way, "state": self._state(exercise), "record": self.record.data()}

    def _judge(self, request: Mapping[str, Any]) -> Reply:
        exercise = self._asked(request)
        variant, answer = self.variant(exercise), request.get("answer")
        if exercise.prediction and self.record.of(exercise.key).count:
            verdict: Verdict = NotAnAnswer(False, 0.0, "A prediction is made once: yours stands as it was kept.")
        else:
            verdict = exercise.judge(answer, variant)
        if not isinstance(verdict, NotAnAnswer):
            self.record.hand_in(exercise.key)
        if not isinstance(verdict, NotAnAnswer) and not self.record.of(exercise.key).shown:
            self.record.add_try(exercise.key, answer, variant, verdict)
            if exercise.prediction and self.record.of(exercise.key).count == 1:
                self.record.keep_words(exercise.key, request.get("words", ""))
        return {"verdict": verdict, "state": self._state(exercise), "record": self.record.data()}

    def _write(self, request: Mapping[str, Any]) -> Reply:
        exercise = self._asked(request)
        form = exercise.form(self.variant(exercise))
        if exercise.kind != "log":
            raise BadRequest(f"{exercise.title} has no log to write on.")
        panel = _named(self.panels, "panel", form["panel"])
        log = next(control for control in panel.controls if control.symbol == form["symbol"])
        self.record.write(exercise.key, log.check(request.get("lines")))
        return {"state": self._state(exercise), "record": self.record.data()}

    def _hint(self, request: Mapping[str, Any]) -> Reply:
        exercise = self._asked(request)
        given = self.record.of(exercise.key).hints
        if given >= len(exercise.hints):
            return {"hint": None, "state": self._state(exercise), "record": self.record.data()}
        self.record.add_hint(exercise.key, len(exercise.hints))
        return {"hint": exercise.hints[given], "state": self._state(exercise), "record": self.record.data()}

    # ----------------------------------------------------------------------------------------------- the record
    def _progress(self, request: Mapping[str, Any]) -> Reply:
        lessons: dict[int, list[Reply]] = {}
        for exercise in self.exercises.values():
            progress = self.record.of(exercise.key)
            lessons.setdefault(exercise.lesson, []).append({
                "key": exercise.key, "title": exercise.title, "kind": exercise.kind, "track": exercise.track,
                "prediction": exercise.prediction, "shown": progress.shown,
                "tries": progress.count, "passed": progress.passed, "passed_at": progress.passed_at, "score": progress.score,
            })
        titled = [{"lesson": number, "title": contents.title(number), "exercises": lessons[number]} for number in sorted(lessons)]
        return {"nickname": self.record.nickname, "lessons": titled}

    def _learner(self, request: Mapping[str, Any]) -> Reply:
        """Take the learner's nickname. Work done under another one stays whole: its variants have other numbers.

        The reply's "set_aside" is then the other record, as a file that the host may offer to keep.
        """
        nickname = checked_nickname(request.get("nickname"))
        old = self.record
        if old.is_of(nickname):
            old.nickname = nickname
            return {"record": old.data()}
        self._others[old.nickname.casefold()] = old
        self.record = self._others.pop(nickname.casefold(), Record(nickname))
        if not old.begun:
            return {"record": self.record.data()}
        return {"record": self.record.data(), "set_aside": {"filename": old.filename(), "text": old.text()}}

    def _export(self, request: Mapping[str, Any]) -> Reply:
        return {"filename": self.record.filename(), "text": self.record.text()}

    def _import(self, request: Mapping[str, Any]) -> Reply:
        """Take a record from a file. What was done here under the same nickname is kept with it: the file may be an old one."""
        given, old = parse(request.get("text", "")), self.record
        if old.begun:
            self._others[old.nickname.casefold()] = old
        here = self._others.pop(given.nickname.casefold(), None)
        self.record = merged(given, here) if here else given
        return {"record": self.record.data()}

    def _load(self, request: Mapping[str, Any]) -> Reply:
        given = request.get("record")
        self.record = parse(given) if isinstance(given, str) else Record(GUEST) if given is None else from_data(given)
        return {"record": self.record.data()}

    # ------------------------------------------------------------------------------------- the learner's bench sheet
    def _example(self, request: Mapping[str, Any]) -> Reply:
        from lessons import at_hand  # the bench's own modules are loaded only by whoever uses them

        return dict(at_hand.example())

    def _template(self, request: Mapping[str, Any]) -> Reply:
        from lessons import at_hand

        return dict(at_hand.empty_sheet())

    def _take_sheet(self, request: Mapping[str, Any]) -> Reply:
        from lessons import at_hand

        data, name = request.get("data"), request.get("name", "")
        if not isinstance(data, str) or not isinstance(name, str):
            raise BadRequest("A bench sheet comes as the bytes of a file, in base64.")
        try:
            content = base64.b64decode(data, validate=True)
        except (binascii.Error, ValueError):
            raise BadRequest("The bytes of this file arrived damaged; choose it again.") from None
        self._sheet = at_hand.read(content, name)
        return {"sheet": at_hand.summary(self._sheet)}

    def _card(self, request: Mapping[str, Any]) -> Reply:
        from lessons import at_hand

        if self._sheet is None:
            raise BadRequest("The sheet is not here any more; choose the file again.")
        return {"card": at_hand.card(self._sheet, request.get("coil", ""))}


_TYPES: Mapping[type, str] = {Control: "slider", Choice: "choice", Lines: "lines"}


def _shown(panel: Panel) -> Reply:
    """Return what the face must know of a panel: all of it but the computing."""
    controls = [{"type": _TYPES[type(control)], **vars(control)} for control in panel.controls]
    return {
        "name": panel.name, "title": panel.title, "question": panel.question, "controls": controls, "presets": panel.presets,
        "slowed": SLOWED if panel.sound else None,  # None: nothing to hear; else how many times slower it may be played
    }


def _fills(request: Mapping[str, Any]) -> bool:
    """Whether a map is to be filled: with the kernel as plain Python it would take minutes, and keep the sliders waiting."""
    from coilmodel import compiled  # here, as with the panels

    return request.get("fill") is True and compiled.HOME != "plain"


def _values(request: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Return the request's values of a panel's controls; those that are not given take their defaults."""
    values = request.get("values")
    if values is not None and not isinstance(values, Mapping):
        raise BadRequest("The values of a panel's controls are not a table of symbol and value.")
    return values


def _named(things: Mapping[str, Any], what: str, name: Any) -> Any:
    if not isinstance(name, str) or name not in things:
        given = repr(name[:40]) if isinstance(name, str) else "without a name"
        raise BadRequest(f"There is no {what} {given}; there are {', '.join(things) or 'none'}.")
    return things[name]


def _sentence(error: Exception) -> str:
    """Return the error's own words; those of Python itself are wrapped, for they speak of no field."""
    text = " ".join(str(error).split())
    ours = isinstance(error, (BadRequest, RecordError)) or text.endswith(".")
    return text if ours else f"That cannot be done: {text or type(error).__name__}."
