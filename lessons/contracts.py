"""What a panel, a picture and an exercise are: the contracts that every lesson keeps.

Plain Python, standard library only: the same file is imported by the notebook's kernel and by the Python in the
reader's browser. A panel turns the values of its controls into a `Picture`; a picture is nothing but words and lists
of numbers, so the face (lessons/face) and the matplotlib stand-in can draw any of them without knowing the physics.
"""

from __future__ import annotations

import dataclasses
import math
from array import array
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

Values = Mapping[str, Any]

QUANTITIES = (
    "current", "position", "cushion", "contact_voltage", "secondary", "force", "energy", "speed", "emf", "plain",
)
"""The hues of the course: one name a hue, the same hue for the same quantity on every picture."""


# ---------------------------------------------------------------------------------------------------- controls
@dataclass(frozen=True)
class Control:
    """A slider: one number that the learner may move.

    `symbol` is its key in the values (a Python identifier); `low`, `high`, `step` and `default` are in `unit`
    ("1" where there is none); `why` says in one sentence why it matters at the bench. An `optional` one may be left out: its
    value is then None, and so it begins; `default` is where the slider stands until it is taken in.
    """

    symbol: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    default: float
    why: str
    optional: bool = False

    @property
    def start(self) -> float | None:
        """The value to begin with."""
        return None if self.optional else self.default

    def check(self, value: Any) -> float | None:
        """Return `value` as a float, or raise ValueError with one sentence that names field, value, unit and range.

        None comes back as it is where the control is optional.
        """
        if value is None and self.optional:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(f"{self.label}: {value!r} is not a number; give one from {self.low:g} to {self.high:g} {self.unit}.")
        number = float(value)
        if not math.isfinite(number) or not self.low <= number <= self.high:
            raise ValueError(f"{self.label}: {number:g} {self.unit} is outside {self.low:g} to {self.high:g} {self.unit}.")
        return number


@dataclass(frozen=True)
class Choice:
    """A control with a few named settings: `options` holds (value, label) pairs."""

    symbol: str
    label: str
    options: tuple[tuple[str, str], ...]
    default: str
    why: str

    @property
    def start(self) -> str:
        """The value to begin with."""
        return self.default

    def check(self, value: Any) -> str:
        """Return `value`, or raise ValueError naming the settings there are."""
        names = [name for name, _ in self.options]
        if value not in names:
            raise ValueError(f"{self.label}: {value!r} is not one of {', '.join(names)}.")
        return str(value)


@dataclass(frozen=True)
class Lines:
    """A control that is a log: what was done, line after line, each one of `tools` (key, label, group), at most `most` of them.

    Its value is the list of the lines' keys. A line that stands stays: the face only adds to it, and begins a new list where the
    control that says what the log is of (`of` is its symbol) is changed. What each showed is the picture's `log`, and how many of
    the sheet's `most` lines it takes.
    """

    symbol: str
    label: str
    tools: tuple[tuple[str, str, str], ...]
    most: int
    why: str
    of: str = ""

    @property
    def start(self) -> list[str]:
        """The value to begin with: nothing written yet."""
        return []

    def check(self, value: Any) -> list[str]:
        """Return `value` as a list of keys, or raise ValueError that names the line that is none of them, or says how many go."""
        keys = [key for key, _, _ in self.tools]
        if not isinstance(value, (list, tuple)):
            raise ValueError(f"{self.label}: {value!r:.40} is no list of lines.")
        if len(value) > self.most:
            raise ValueError(f"{self.label}: {len(value)} lines; there is room for {self.most}.")
        for place, key in enumerate(value, 1):
            if key not in keys:
                raise ValueError(f"{self.label}, line {place}: {key!r:.40} is nothing that is done here.")
        return [str(key) for key in value]


AnyControl = Control | Choice | Lines


@dataclass(frozen=True)
class Preset:
    """One click that sets some controls; `say` is the sentence shown with it (what to look at)."""

    label: str
    values: Values
    say: str


# ---------------------------------------------------------------------------------------------------- pictures
@dataclass(frozen=True)
class Axis:
    """An axis. `low` and `high` are its limits, which the panel states: the same at every setting, so that twice as tall is
    drawn twice as tall, and wide enough for all that the presets and the sliders' ends do. Where a setting goes beyond them all
    the same, the live face lets the axis grow, and says so.

    `follows` names what the limits go with where they can't be the same ("the lever"), `cut` what is cut off at them on purpose
    ("the pull near the core"). Without limits they are the data's own, and the live face keeps them still if it can: only for
    what nobody can know beforehand, such as somebody's recording.
    """

    label: str
    unit: str
    low: float | None = None
    high: float | None = None
    follows: str = ""
    cut: str = ""


@dataclass(frozen=True)
class Line:
    """One curve of a chart. `x` and `y` have equal length, `x` ascending; NaN in `y` is a break in the curve."""

    label: str
    quantity: str
    x: Sequence[float]
    y: Sequence[float]
    dash: str = "solid"  # solid | dashed | dotted: never told apart by hue alone


@dataclass(frozen=True)
class Mark:
    """A labelled point, or (where `y` is None) a vertical line. `shape`: spark | part | close | here | note."""

    x: float
    y: float | None
    label: str
    shape: str = "note"
    quantity: str = "plain"


@dataclass(frozen=True)
class Band:
    """A shaded span of the x axis (or, with `across="y"`, of the y axis), with its name."""

    low: float
    high: float
    label: str
    across: str = "x"


@dataclass(frozen=True)
class Chart:
    """Curves over one x axis. A picture's strips are charts that share the x axis and stack."""

    key: str
    title: str
    x: Axis
    y: Axis
    lines: tuple[Line, ...] = ()
    marks: tuple[Mark, ...] = ()
    bands: tuple[Band, ...] = ()


@dataclass(frozen=True)
class Ladder:
    """The spark ladder: crank angle across, pulse number upward, one mark a spark.

    `angle[i]` degrees of crank after the start of pulse number `pulse[i]` (0-based); `order[i]` is 1 for the first
    spark of its pulse, 2 for the second and so on. `weak[i]` is 1 where that spark is too weak to light the charge, else 0;
    empty where weak sparks are not told apart. `pulses` is how many pulses were run; one without a mark that lights misfired.
    `row` is what one row stands for where it is no pulse of the magneto: "window" of the timer, "half-cycle" of a supply;
    `names`, where given, has a word for each row, which then stands in the place of its number. `shown` is the pulse that the
    strips and the moving picture are of, where another can be chosen (`Panel.one_pulse`).
    """

    title: str
    x: Axis
    pulses: int
    pulse: Sequence[int]
    angle: Sequence[float]
    order: Sequence[int]
    row: str = "pulse"
    names: Sequence[str] = ()
    weak: Sequence[int] = ()
    shown: int | None = None


@dataclass(frozen=True)
class TensionMap:
    """A map of a whole number (sparks per pulse, say) over two settings; `cells[row][column]`, row along y.

    `names` gives the words for each cell value; `here` is the learner's own setting, drawn as a labelled mark. A cell that
    is None stays blank, without a digit; `blank` says in the key what that means. `letters` has what is written for a value
    in place of its digits. Where `later` is not empty the cells come later, when they are asked for (see `Filling`); it says what
    they depend on: maps of equal words have the same cells. `sets` names the two controls that a click on a cell sets.
    """

    title: str
    x: Axis
    y: Axis
    xs: Sequence[float]
    ys: Sequence[float]
    cells: Sequence[Sequence[int | None]]
    names: Mapping[int, str]
    here: tuple[float, float] | None = None
    blank: str = "no reading"
    letters: Mapping[int, str] = field(default_factory=dict)
    later: str = ""
    sets: tuple[str, str] | None = None


@dataclass(frozen=True)
class Bar:
    """One row of `Bars`: its name, how long it is (None: nothing to draw), and that in words, always shown.

    `strong` rows are filled and in bold, the others hatched; `tick` is a second, small mark on the row's own axis.
    """

    label: str
    value: float | None
    text: str
    strong: bool = False
    tick: float | None = None


@dataclass(frozen=True)
class Bars:
    """Named rows on one axis, whose `low` and `high` are given: bars from its low end on, or, with shape "point", marks.

    A mark beyond the axis is drawn at its end. `tick` says what the rows' small marks are; bands shade spans of the axis.
    """

    key: str
    title: str
    x: Axis
    bars: tuple[Bar, ...]
    quantity: str = "plain"
    shape: str = "bar"  # bar | point
    tick: str = ""
    bands: tuple[Band, ...] = ()


@dataclass(frozen=True)
class Scene:
    """The contact set, drawn to scale and animated, slowed `slowdown` times.

    All positions in millimetres, downward (toward the core) positive, zero where the cushion sits on the rivet; times
    in milliseconds. `vibrator`, `cushion`, `current` (A), `spark` (0 or 1) and, where the flux is shown, `flux` (mWb, all
    turns together) have one entry for each entry of `time`. Current and flux are drawn at their full strength at
    `full_current` and `full_flux`. `moments` are the times worth jumping to, in order, by name.
    """

    time: Sequence[float]
    vibrator: Sequence[float]
    cushion: Sequence[float]
    current: Sequence[float]
    spark: Sequence[int]
    travel: float
    core_stop: float
    slowdown: float = 500.0
    flux: Sequence[float] = ()
    full_current: float = 6.0
    full_flux: float = 15.0
    moments: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Outline:
    """One outline of a drawing: `points` are x0, y0, x1, y1, ... in the drawing's units, y downward.

    A closed outline is filled: `fill` is "steel", "clear" (the page's own ground) or a quantity, whose hue it takes, `pale` for
    a large area. An open one is a line in the hue of its `fill` ("steel": ink). Every line has the same weight; a `dashed` one is
    of something that is no thing, such as flux.
    """

    points: Sequence[float]
    fill: str = "steel"
    closed: bool = True
    pale: bool = False
    dashed: bool = False


@dataclass(frozen=True)
class DrawnPart:
    """A named part of a drawing: its word, one sentence that says what it is, its outlines, and where its number stands.

    `number_at` is (x, y) in the drawing's units; where `leads_to` is given, a thin line runs there from the number.
    """

    word: str
    sentence: str
    outlines: tuple[Outline, ...]
    number_at: tuple[float, float]
    leads_to: tuple[float, float] | None = None


@dataclass(frozen=True)
class Note:
    """A few words that stand in a drawing: the name of a view, a letter on a pole, a measure. `anchor`: start | middle | end."""

    x: float
    y: float
    text: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Drawing:
    """A schematic drawing, `width` by `height` units, of named parts; those that come later lie above those before.

    `title` names it, `scale` says what in it is to scale.
    """

    title: str
    width: float
    height: float
    parts: tuple[DrawnPart, ...]
    notes: tuple[Note, ...] = ()
    scale: str = ""


@dataclass(frozen=True)
class Reading:
    """A number beside the picture: `text` is the number as people say it, with its unit ("5.2 A")."""

    label: str
    text: str
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Picture:
    """All that a panel shows. `sentence` says the outcome in words; `alt` describes the picture for those who
    cannot see it, from the same numbers. Any part may be absent. `log` has what stands on the panel's log (see `Lines`), the
    first before any line: how things were found; a reading's `value` is how many lines of the sheet it takes."""

    sentence: str
    alt: str
    readings: tuple[Reading, ...] = ()
    strips: tuple[Chart, ...] = ()
    charts: tuple[Chart, ...] = ()
    ladder: Ladder | None = None
    map: TensionMap | None = None
    scene: Scene | None = None
    bars: tuple[Bars, ...] = ()
    drawing: Drawing | None = None
    log: tuple[Reading, ...] = ()


SLOWED = 50.0
"""How many times slower than life a panel's sound is played, where it is played slowly: sparks can then be counted."""


@dataclass(frozen=True)
class Sound:
    """What one would hear: `samples` from -1 to 1, `rate` of them a second, one channel, `slowed` times slower than life.

    `words` say the same for those who cannot hear, from the same run.
    """

    samples: Sequence[float]
    rate: int
    slowed: float
    words: str


@dataclass(frozen=True)
class Runs:
    """Short runs, one for each cell of a map that was asked for, and what of their tallies the cell shows.

    `numbers`: the kernel's parameters as `coilmodel.tally.numbers_of` gives them, all of so many measured `pulses`; None where
    there is no such coil. `column`: one of `coilmodel.tally.TALLY`; a cell's value is that number, or `most` where it is more.
    """

    numbers: Sequence[tuple[float, ...] | None]
    pulses: int
    column: str
    most: int


@dataclass(frozen=True)
class Filling:
    """How a panel's map is filled from coarse to fine while the reader watches.

    `picture(values)` is the whole picture with a fine map whose cells are all None, and whose `later` says what they depend on.
    `runs(values, places)` says how to find the cells at these places, row x columns + column. `words(values, cells)` gives a
    sentence on the finished map, to stand behind the picture's own, and the map in words.
    """

    picture: Callable[[Values], Picture]
    runs: Callable[[Values, Sequence[int]], Runs]
    words: Callable[[Values, Sequence[int | None]], tuple[str, str]]


@dataclass(frozen=True)
class Panel:
    """Sliders and the picture that they drive.

    `compute` takes checked values and returns the whole `Picture`. Where that is slow without a compiler, `quick` returns
    a smaller one for while the slider moves; the face asks for the whole one when it rests. `sound`, where a panel has one,
    takes values and how many times slower than life, and returns what one would hear; the face never plays it unasked. `filling`
    is for a face that can fill a map by itself; for all others `compute` gives a coarser map that is whole. `one_pulse` takes
    values and the number of a pulse, and returns the same run's picture with the strips of that pulse; maps may be left out.
    """

    name: str
    title: str
    question: str  # "predict first": what the learner should say before touching anything
    controls: tuple[AnyControl, ...]
    compute: Callable[[Values], Picture]
    presets: tuple[Preset, ...] = ()
    quick: Callable[[Values], Picture] | None = None
    sound: Callable[[Values, float], Sound] | None = None
    filling: Filling | None = None
    one_pulse: Callable[[Values, int], Picture] | None = None

    def defaults(self) -> dict[str, Any]:
        """Return the value that every control begins with."""
        return {control.symbol: control.start for control in self.controls}

    def picture(self, values: Values | None = None, whole: bool = True, fill: bool = False) -> Picture:
        """Return the picture for `values` (missing ones take their default), or the quick one where there is one.

        With `fill` it is the one whose map is to be filled, where there is such a one. ValueError names a bad or unknown value.
        """
        compute = self.compute if whole or self.quick is None else self.quick
        if fill and self.filling:
            compute = self.filling.picture
        return compute(self.checked(values))

    def at_pulse(self, values: Values | None, pulse: int) -> Picture:
        """Return the picture for `values` with the strips of the run's `pulse` (0-based).

        ValueError names a bad or unknown value, a pulse that was not run, or says that this panel shows no other pulse.
        """
        if self.one_pulse is None:
            raise ValueError(f"{self.title}: this panel shows no other pulse.")
        if isinstance(pulse, bool) or not isinstance(pulse, int):
            raise ValueError(f"Pulse: {pulse!r:.40} is no whole number.")
        return self.one_pulse(self.checked(values), pulse)

    def heard(self, values: Values | None = None, slowed: float = 1.0) -> Sound:
        """Return what one would hear with `values`, `slowed` times slower than life (1 or SLOWED).

        ValueError names a bad or unknown value, or says that this panel has no sound.
        """
        if self.sound is None:
            raise ValueError(f"{self.title}: there is nothing to hear.")
        if slowed not in (1.0, SLOWED):
            raise ValueError(f"Slowed: {slowed!r} is neither 1 nor {SLOWED:g}.")
        return self.sound(self.checked(values), slowed)

    def checked(self, values: Values | None) -> dict[str, Any]:
        """Return a value for every control, the missing ones at their default; ValueError names a bad or unknown one."""
        given = dict(values or {})
        known = {control.symbol: control for control in self.controls}
        for symbol in given:
            if symbol not in known:
                raise ValueError(f"{self.title}: there is no control named {symbol!r}; there are {', '.join(known)}.")
        return {symbol: control.check(given.get(symbol, control.start)) for symbol, control in known.items()}


# --------------------------------------------------------------------------------------------------- exercises
@dataclass(frozen=True)
class Verdict:
    """The judgement of one answer. `message` never holds the expected value; `misconception` is its key or None; `reason` is the
    message of a right answer without the word that says so, to stand under one (see `right_answer`)."""

    passed: bool
    score: float
    message: str
    misconception: str | None = None
    reason: str = ""


def right_answer(reason: str) -> Verdict:
    """Return the verdict on a right answer: why it is so."""
    return Verdict(True, 1.0, f"Right. {reason}".strip(), None, reason)


@dataclass(frozen=True)
class Misconception:
    """A known wrong belief: `answer(variant)` is the answer that it leads to, `reply` what it would predict and where to look."""

    key: str
    answer: Callable[[Mapping[str, Any]], Any]
    reply: str


@dataclass(frozen=True)
class About:
    """What a prediction is tried on: `panels` has for each panel's name the symbols of the controls that are to be moved (none:
    whatever is done on that panel), `words` says in a few words what that is."""

    panels: Mapping[str, tuple[str, ...]]
    words: str


@dataclass(frozen=True)
class Exercise:
    """A question with seeded variants and a hidden check.

    `kind`: number | choice | ordering | sliders | log | function. `variant(seed)` returns a JSON-able dict. `prompt(variant)`
    is the question; `form(variant)` says what the face must offer (see lessons/engine.py); `truth(variant)`
    computes a right answer from the model or a published value; `judge(answer, variant)` returns a `Verdict` and never
    raises for a bad answer. `hints` come one at a time. `optional` marks the exercises for those who program,
    `arithmetic` those of the second track: an owner passes a lesson without either. `about`: see there; of predictions only.
    """

    key: str
    lesson: int
    title: str
    kind: str
    variant: Callable[[int], dict[str, Any]]
    prompt: Callable[[Mapping[str, Any]], str]
    form: Callable[[Mapping[str, Any]], dict[str, Any]]
    truth: Callable[[Mapping[str, Any]], Any]
    judge: Callable[[Any, Mapping[str, Any]], Verdict]
    hints: tuple[str, ...] = ()
    misconceptions: tuple[Misconception, ...] = ()
    prediction: bool = False
    optional: bool = False
    arithmetic: bool = False
    about: About | None = None

    @property
    def track(self) -> str:
        """"bench" for what is asked of everyone, else "arithmetic" or "code"."""
        return "code" if self.optional else "arithmetic" if self.arithmetic else "bench"


# ------------------------------------------------------------------------------------------------------ packing
@dataclass
class Packed:
    """A JSON-able tree in which every long list of floats was replaced by {"$": index into arrays}."""

    tree: Any
    arrays: list[array[float]] = field(default_factory=list)


_LONG = 16
_AS_IT_IS = frozenset((str, int, bool, type(None)))


@cache
def _fields_of(kind: type) -> tuple[str, ...] | None:
    """Return the names of a dataclass's fields; None for any other class."""
    return tuple(item.name for item in dataclasses.fields(kind)) if dataclasses.is_dataclass(kind) else None


def pack(thing: Any) -> Packed:
    """Turn dataclasses into a JSON-able tree, with numeric lists of 16 or more moved to float64 buffers.

    Equal lists share one buffer: the curves of a picture mostly have one time axis. The two engines send the tree as JSON
    and the buffers as they are (transferable in the page, binary under Jupyter).
    """
    packed = Packed(None)
    known: dict[bytes, int] = {}

    def buffer(numbers: array[float]) -> int:
        index = known.setdefault(numbers.tobytes(), len(packed.arrays))
        if index == len(packed.arrays):
            packed.arrays.append(numbers)
        return index

    def walk(node: Any) -> Any:
        kind: Any = type(node)
        if kind in _AS_IT_IS:  # most of a picture; it is what a slider waits for
            return node
        if kind is float:
            return node if math.isfinite(node) else None
        names = _fields_of(kind)
        if names is not None:
            values = [(name, getattr(node, name)) for name in names]
            return {name: walk(value) for name, value in values if not callable(value)}
        if isinstance(node, Mapping):
            return {str(key): walk(value) for key, value in node.items()}
        if isinstance(node, (list, tuple, array)):
            if len(node) >= _LONG:
                try:
                    return {"$": buffer(array("d", node))}
                except TypeError:  # not a list of numbers
                    pass
            return [value if type(value) in _AS_IT_IS else walk(value) for value in node]
        if isinstance(node, float) and not math.isfinite(node):
            return None
        return node

    packed.tree = walk(thing)
    return packed
