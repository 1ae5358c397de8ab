"""Lesson 9: setting up a coil. A bench with a coil of hidden faults, tools, a magneto, and a log whose lines stay.

A panel keeps no state: values in, picture out. So the work itself is a value, the list of the log's lines, and the picture is
what the bench of `workbench.py` makes of it. It shows only what a bench can show.
"""

from __future__ import annotations

from dataclasses import replace

from lessons.contracts import Control, Lines, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts, workbench
from lessons.panels.workbench import LINES, PLACES, PRACTICE, PRACTICE_FROM, ROAD, TOOLS, Log, replay

LADDER_PULSES = 12

GROUPS = {"run": "Run", "look": "Look", "work": "Work", "back": "Undo"}
LOG = Lines(
    "log", "Log", tuple((tool.key, tool.label, GROUPS[tool.kind]) for tool in TOOLS), LINES,
    "A line once written stays. A look at a part that turns out sound takes three, since it goes back. Undoing costs one.",
    of="coil",
)
PRACTICE_COIL = Control("coil", "Practice coil", "1", 1.0, float(len(PRACTICE)), 1.0, 1.0,
                        "Which coil of the practice box is on the bench. Another coil begins another sheet.")
TASK_COIL = Control("coil", "Coil number", "1", 1.0, float(workbench.COILS), 1.0, 1.0, "Which coil is on the bench.")


def words_of(log: Log) -> tuple[Reading, ...]:
    """Return a log as it is read: how the coil came, then what each line showed."""
    return tuple(
        Reading(f"{entry.first}. {entry.tool.label}" if entry.line else entry.tool.label, entry.text[:1].upper() + entry.text[1:],
                float(entry.takes if entry.line else 0), "lines")
        for entry in log.entries
    )


def _left(log: Log) -> str:
    left = LINES - log.used
    return "The sheet is full." if not left else f"{left} line{'' if left == 1 else 's'} left."


def _short(log: Log, text: str) -> str:
    """Return what the last line showed, of a run no more than its outcome: the log has it all."""
    unwell = log.entries[-1].unwell
    if unwell is None:
        return " ".join(text.split())
    return f"not well at {len(unwell)} of {len(PLACES)} places." if unwell else f"well at all {len(PLACES)} places."


def _picture(number: int, lines: list[str]) -> Picture:
    log = replay(number, lines)
    said = words_of(log)
    run = workbench.run_of(log.ran, ROAD, 100.0, LADDER_PULSES)
    ladder = replace(parts.ladder(run), title="Spark ladder of the last run, on the road")
    sentence = f"{said[-1].label}: {_short(log, said[-1].text)} {_left(log)}"
    told = " ".join(" ".join(f"{line.label}: {line.text}".split()) for line in said)
    alt = f"The log: {told} Spark ladder of the last run, on the road: {ladder.pulses} pulses with {len(ladder.pulse)} sparks."
    return Picture(sentence, alt, ladder=ladder, log=said)


def _practised(values: Values) -> Picture:
    return _picture(PRACTICE_FROM - 1 + round(values["coil"]), values["log"])


def _with(kind: str) -> float:
    """Return the first practice coil whose only fault is of `kind`; without one, the first that has none."""
    return float(PRACTICE.index((kind,) if kind else ()) + 1)


PANEL = Panel(
    "setting_up",
    "A coil on the bench, and its log",
    "The spark is thin, the current is right. Will you bend a spring?",
    (PRACTICE_COIL, LOG),
    compute=_practised,
    presets=(
        Preset("As it came", {"coil": _with("leak"), "log": []},
               "One entry, beside a good coil's. What differs: the current, the spark, the points?"),
        Preset("Bent by guess", {"coil": _with("leak"), "log": ["bend cushion up much", "take back", "run"]},
               "A bend without a reading: there is no way back to where the cushion stood, and the coil has two faults now."),
        Preset("Looked first", {"coil": _with("leak"), "log": ["run", "condenser", "new condenser", "run"]},
               "The same coil. A run, the look that it called for, one repair, and the run that proves it."),
        Preset("Whose fault?", {"coil": _with("weak"), "log": ["run", "swap"]},
               "A good coil does no better in its place: leave this coil's springs alone, and look at the magneto."),
        Preset("Leave it alone", {"coil": _with(""), "log": ["run", "condenser"]},
               "It runs well at every place, and its condenser, of which a run tells little, is sound: hand it back."),
        Preset("Two faults", {"coil": float(next(n for n, plan in enumerate(PRACTICE, 1) if len(plan) == 2)), "log": []},
               "Mend one and the other remains: a sheet for you to write."),
    ),
)

TASK = Panel(
    "bench_task", "The coil on the bench, and its log", "", (TASK_COIL, LOG),
    compute=lambda values: _picture(round(values["coil"]), values["log"]),
)

PANELS = (PANEL, TASK)
