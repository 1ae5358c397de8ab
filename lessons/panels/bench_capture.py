"""Lesson 10: a scope capture. What sampling, noise and bits do to one pulse of current, and what can still be read off it.

The capture is made here from the model: sampled, made noisy, and cut into steps as a scope's converter does. What is read off it
is found by plain means (the steepest fall, a straight line before it), so that everybody can see how.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache

from coilmodel import Machine, MagnetoDrive, Run, simulate
from lessons.contracts import Axis, Chart, Control, Line, Mark, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts

RPM = 450.0
MOST = 12.0  # A each way on the chart: what the worst noise comes to
SPAN = 16.0  # A, what the scope's screen holds from top to bottom, zero in its middle
RISE, CLEAR, WHILE = 1.0, 0.1, 0.3  # ms: the rise that is fitted, what is left out of it before the fall, and what is averaged
CLEAN = (40.0, 0.0, 12.0)  # samples a ms, noise, bits: a capture with nothing wrong
Trace = tuple[list[float], list[float]]


@lru_cache(1)
def _run() -> Run:
    return simulate(Machine(), MagnetoDrive(RPM), pulses=1, warm_up=1, record=(0, 0), rows_a_pulse=600)


@lru_cache(1)
def true_trace() -> Trace:
    """Return the model's pulse: times (ms) and currents (A, upward)."""
    line = parts.current_strip(_run()).lines[0]
    return list(line.x), list(line.y)


@lru_cache(1)
def true_opening() -> tuple[float, float]:
    """Return the true opening: ms into the pulse, and A."""
    first = next(opening for opening in _run().openings if opening.real and opening.pulse == 0)
    return 1e3 * first.after, abs(first.current)


def _at(trace: Trace, moment: float) -> float:
    times, values = trace
    place = min(max(bisect_left(times, moment), 1), len(times) - 1)
    before, after = times[place - 1], times[place]
    share = (moment - before) / (after - before) if after > before else 0.0
    return values[place - 1] + share * (values[place] - values[place - 1])


@lru_cache(16)
def capture(samples: float, noise: float, bits: float) -> Trace:
    """Return a capture of the pulse: `samples` a ms, `noise` in percent of the opening current, `bits` over SPAN."""
    draw = random.Random(17)
    wide, step = 0.01 * noise * true_opening()[1], SPAN / 2.0 ** round(bits)
    times = [place / samples for place in range(int(true_trace()[0][-1] * samples) + 1)]
    return times, [step * round((_at(true_trace(), time) + draw.gauss(0.0, wide)) / step) for time in times]


def line_through(times: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Return value at nought and slope of the straight line that fits best (least squares)."""
    count = len(times)
    middle, mean = sum(times) / count, sum(values) / count
    spread = sum((time - middle) ** 2 for time in times)
    slope = sum((time - middle) * (value - mean) for time, value in zip(times, values, strict=True)) / spread
    return mean - slope * middle, slope


def read_off(trace: Trace) -> tuple[float, float, float] | None:
    """Return what plain means find in a trace: opening (ms), current there (A), rise before it (A/ms).

    The opening is where the mean of a short while before is highest above that of a short while after. None where even that fall
    does not stand out of the noise, or too few samples come before it.
    """
    times, values = trace
    count = max(1, round(WHILE / (times[1] - times[0])))
    falls = {place: (sum(values[place - count:place]) - sum(values[place:place + count])) / count
             for place in range(count, len(values) - count + 1)}
    place = max(falls, key=falls.__getitem__)
    moment = 0.5 * (times[place - 1] + times[place])
    before = [(time, value) for time, value in zip(times, values, strict=True) if moment - RISE <= time < moment - CLEAR]
    if len(before) < 3:
        return None
    start, slope = line_through([time for time, _ in before], [value for _, value in before])
    off = math.sqrt(sum((value - start - slope * time) ** 2 for time, value in before) / len(before))
    if falls[place] < 5.0 * off * math.sqrt(2.0 / count):
        return None
    return moment, start + slope * moment, slope


def _picture(values: Values) -> Picture:
    trace = capture(values["samples"], values["noise"], values["bits"])
    found, clean = read_off(trace), read_off(capture(*CLEAN))
    moment, current = true_opening()
    marks: tuple[Mark, ...] = (Mark(moment, None, "parts, in the model", "part", "current"),)
    if found is None or clean is None:
        said = "Nothing can be read off this capture: no fall stands out of its noise, or too few samples come before it."
        shown: tuple[Reading, ...] = (Reading("Opening current, true", parts.number(current, "A", 3), current, "A"),)
    else:
        said = (f"Read off: parts at {found[1]:.2f} A (true {current:.2f} A), {found[0]:.2f} ms into the pulse (true "
                f"{moment:.2f} ms); before that the current rises by {found[2]:.2f} A/ms (true {clean[2]:.2f} A/ms).")
        marks = (*marks, Mark(found[0], found[1], "read off", "here", "plain"))
        shown = (Reading("Opening current, off by", f"{100.0 * (found[1] / current - 1.0):+.1f} %"),
                 Reading("Opening time, off by", f"{1e3 * (found[0] - moment):+.0f} us"),
                 Reading("Rise, off by", f"{100.0 * (found[2] / clean[2] - 1.0):+.0f} %"))
    step = SPAN / 2.0 ** round(values["bits"])
    chart = Chart("capture", "One pulse, as captured", parts.over_pulse(_run()), Axis("current", "A", -MOST, MOST), (
        Line("captured", "plain", *trace, dash="dotted"), Line("model", "current", *true_trace())), marks)
    told = f"{len(trace[0])} samples, steps of {1e3 * step:.0f} mA"
    return Picture(said, f"{said} The capture has {told}; its curve follows the model's, rougher.",
                   (*shown, Reading("The capture has", told)), charts=(chart,))


PANEL = Panel(
    "bench_capture",
    "A scope capture of one pulse",
    "Eight bits and five per cent of noise: how far off will the opening current be?",
    (
        Control("samples", "Samples a millisecond", "1", 1.0, 60.0, 1.0, 40.0,
                "How often the scope looks; between two looks anything may happen."),
        Control("noise", "Noise", "%", 0.0, 40.0, 1.0, 5.0, "Of the opening current; a clamp in an ignition's field picks up "
                                                            "plenty."),
        Control("bits", "Bits", "1", 3.0, 12.0, 1.0, 8.0, "The scope cuts its screen into so many doublings of steps; eight is "
                                                          "usual."),
    ),
    compute=_picture,
    presets=(
        Preset("A usual scope", {}, "Noisy to look at. The line through many samples is still right to a few per cent."),
        Preset("Too slow", {"samples": 4.0, "noise": 0.0}, "Four looks a millisecond and no noise at all: look how far off the "
               "opening time is."),
        Preset("Four bits", {"noise": 0.0, "bits": 4.0}, "Steps of an ampere. The line through many of them is some "
               "parts in a hundred off in the current, and hardly in the time."),
        Preset("Noisy, few looks", {"samples": 8.0, "noise": 30.0}, "No fall stands out of this noise. Nothing is read off, "
               "rather than something wrong."),
        Preset("Noisy, many looks", {"samples": 60.0, "noise": 30.0}, "The same noise, and it averages out: the opening is "
               "found."),
    ),
)

PANELS = (PANEL,)
