"""The plan of a study, read from a small TOML file: which numbers vary, how, how many runs, and the seed.

A plan that cannot be carried out is refused in one sentence that names field, value, unit and range. Numbers of the machine
and of its drive go by part and field, as in "cushion.preload" or "drive.rpm", in the units of `coilmodel.machine`.
"""

from __future__ import annotations

import dataclasses
import difflib
import hashlib
import json
import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from scipy import stats

from coilmodel.checks import checked, checked_count
from coilmodel.machine import Machine, MagnetoDrive, TimerDrive

DRIVES: dict[str, type[MagnetoDrive] | type[TimerDrive]] = {"magneto": MagnetoDrive, "timer": TimerDrive}
MOST_RUNS = 4_000_000
MOST_CAUSES = 1 << 20
FEWEST_CAUSES = 64

LIKES: dict[str, tuple[tuple[str, ...], str]] = {
    "normal": (("percent", "deviation", "middle"), "percent or deviation (one standard deviation), middle if not the nominal"),
    "lognormal": (("percent", "middle"), "percent (one standard deviation of the logarithm), middle if not the nominal"),
    "uniform": (("low", "high"), "low and high"),
    "loguniform": (("low", "high"), "low and high"),
    "triangular": (("low", "peak", "high"), "low, peak and high"),
}
"""The distributions that a number may follow, the words each takes, and those words in a sentence."""


@dataclass(frozen=True)
class Number:
    """One number of the machine or its drive: what it is in the model."""

    name: str  # part.field
    unit: str
    low: float
    high: float
    nominal: float
    meaning: str


@dataclass(frozen=True)
class Varied:
    """A number that varies: `like` names its distribution (see LIKES), `words` holds that distribution's own numbers."""

    name: str
    unit: str
    like: str
    words: tuple[tuple[str, float], ...]
    nominal: float

    def distribution(self) -> Any:
        """Return the frozen scipy distribution, in the number's own unit."""
        given = dict(self.words)
        if self.like == "normal":
            return stats.norm(given["middle"], given["deviation"])
        if self.like == "lognormal":
            return stats.lognorm(given["percent"] / 100.0, scale=given["middle"])
        if self.like == "triangular":
            width = given["high"] - given["low"]
            return stats.triang((given["peak"] - given["low"]) / width, given["low"], width)
        if self.like == "loguniform":
            return stats.loguniform(given["low"], given["high"])
        return stats.uniform(given["low"], given["high"] - given["low"])

    def say(self) -> str:
        """Return how it varies, in words."""
        given = dict(self.words)
        unit = "" if self.unit in ("", "1") else f" {self.unit}"
        if self.like == "normal":
            return f"normal, {given['middle']:g}{unit}, standard deviation {given['deviation']:.3g}{unit}"
        if self.like == "lognormal":
            return f"lognormal, {given['middle']:g}{unit}, standard deviation {given['percent']:g} %"
        peak = f" with its peak at {given['peak']:g}" if self.like == "triangular" else ""
        return f"{self.like}, {given['low']:g} to {given['high']:g}{unit}{peak}"


@dataclass(frozen=True)
class Plan:
    """A study to be carried out. `runs` coils are imagined; with `causes`, each costs (numbers that vary + 2) runs."""

    vary: tuple[Varied, ...]
    runs: int = 4096
    causes: bool = True
    seed: int = 1
    pulses: int = 20
    warm_up: int = 4
    drive: str = "magneto"
    fixed: tuple[tuple[str, float], ...] = ()  # numbers of machine and drive that are not the nominal ones, by name
    _numbers: Mapping[str, Number] = field(default_factory=dict, compare=False, repr=False)

    @property
    def roles(self) -> int:
        """Return how many runs each imagined coil costs: 1, or with causes Saltelli's d + 2."""
        return len(self.vary) + 2 if self.causes else 1

    @property
    def total(self) -> int:
        """Return the number of runs of the model in all."""
        return self.runs * self.roles

    def as_dict(self) -> dict[str, Any]:
        """Return the plan as plain data, whole: what stands in the results beside the numbers."""
        return {
            "runs": self.runs, "causes": self.causes, "seed": self.seed, "pulses": self.pulses, "warm_up": self.warm_up,
            "drive": self.drive, "fixed": dict(self.fixed),
            "vary": [{"name": v.name, "unit": v.unit, "like": v.like, "nominal": v.nominal, **dict(v.words)} for v in self.vary],
        }

    def digest(self) -> str:
        """Return a digest of the whole plan: two plans of one digest make the same runs."""
        return hashlib.sha256(json.dumps(self.as_dict(), sort_keys=True).encode()).hexdigest()[:32]


# -------------------------------------------------------------------------------------------------- what may vary
def numbers(drive: str = "magneto") -> dict[str, Number]:
    """Return every number that a plan may name, for a `drive` of DRIVES."""
    found = {}
    machine = Machine()
    parts = [(part.name, getattr(machine, part.name)) for part in dataclasses.fields(machine)] + [("drive", DRIVES[drive]())]
    for part, thing in parts:
        for item in dataclasses.fields(thing):
            about = item.metadata
            if "unit" in about:
                name = f"{part}.{item.name}"
                found[name] = Number(name, about["unit"], about["low"], about["high"], getattr(thing, item.name),
                                     about["meaning"])
    return found


# ------------------------------------------------------------------------------------------------------- reading it
def read_plan(path: Path) -> Plan:
    """Return the plan in the TOML file at `path`. Raises ValueError in one sentence, which begins with the file's name."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise ValueError(f"{path}: cannot be read ({error.strerror or error}); --new FILE makes a plan to start from.") from error
    except UnicodeDecodeError as error:
        raise ValueError(f"{path}: is not a text file in UTF-8; --new FILE makes a plan to start from.") from error
    try:
        return parse_plan(text)
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from error


def parse_plan(text: str) -> Plan:
    """Return the plan in a TOML text. Raises ValueError in one sentence."""
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"is not TOML ({str(error)[:1].lower()}{str(error)[1:]}).") from error
    _known("", told, ("study", "drive", "machine", "vary"))
    study, drive, machine, vary = (_table(name, told.get(name, {})) for name in ("study", "drive", "machine", "vary"))
    _known("study.", study, ("runs", "causes", "seed", "pulses", "warm_up"))
    kind = drive.get("kind", "magneto")
    if not isinstance(kind, str) or kind not in DRIVES:
        raise ValueError(f"drive.kind: {kind!r} is not a drive that a study knows; write \"magneto\" or \"timer\".")
    known = numbers(kind)
    fixed = {f"drive.{name}": value for name, value in drive.items() if name != "kind"} | _flat(machine)
    for name, value in fixed.items():
        about = _number(name, known)
        fixed[name] = checked(name, value, about.unit, about.low, about.high)
    varied = tuple(_varied(name, words, known, fixed) for name, words in _flat(vary, leaves=True).items())
    if not varied:
        raise ValueError('vary: names no number; a study needs at least one, as in "cushion.preload" = {like = "lognormal", '
                         "percent = 6}.")
    both = [one.name for one in varied if one.name in fixed and dict(one.words).get("middle") != fixed[one.name]]
    if both:
        raise ValueError(f"vary.{both[0]}: stands under machine or drive too with another value; give it once.")
    causes = study.get("causes", True)
    if not isinstance(causes, bool):
        raise ValueError(f"study.causes: {causes!r} is neither true nor false.")
    plan = Plan(
        varied, _runs(study.get("runs", 4096), causes, len(varied)), causes,
        checked_count("study.seed", study.get("seed", 1), 0, 2**53),
        checked_count("study.pulses", study.get("pulses", 20), 1, 10_000),
        checked_count("study.warm_up", study.get("warm_up", 4 if kind == "magneto" else 0), 0, 1000), kind,
        tuple(sorted(fixed.items())))
    _runs_at_all(plan)
    return plan


def _runs(value: Any, causes: bool, varied: int) -> int:
    runs = checked_count("study.runs", value, 1, MOST_RUNS)
    if not causes:
        return runs
    if runs & (runs - 1) or not FEWEST_CAUSES <= runs <= MOST_CAUSES:
        near = min(max(1 << max(runs.bit_length() - 1, 0), FEWEST_CAUSES), MOST_CAUSES)
        raise ValueError(f"study.runs: {runs} is not a power of two from {FEWEST_CAUSES} to {MOST_CAUSES}, which finding the "
                         f"causes needs; the nearest are {near} and {min(2 * near, MOST_CAUSES)}, or write causes = false.")
    if runs * (varied + 2) > MOST_RUNS:
        raise ValueError(f"study.runs: {runs} with {varied} numbers that vary make {runs * (varied + 2)} runs of the model; "
                         f"allowed are up to {MOST_RUNS}.")
    return runs


def _table(name: str, value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"{name}: {value!r} is not a table; begin it with [{name}] on a line of its own.")
    return value


def _known(where: str, given: Mapping[str, Any], names: tuple[str, ...]) -> None:
    for name in given:
        if name not in names:
            raise ValueError(f"{where}{name}: is no field of a plan; there {'are' if len(names) > 1 else 'is'} "
                             f"{', '.join(names)}.")


def _flat(table: Mapping[str, Any], leaves: bool = False) -> dict[str, Any]:
    """Return a table by dotted names, whether they were quoted ("a.b" = 1) or not (a.b = 1, or [a] and b = 1).

    leaves: the values are tables themselves (those of [vary]), told from a part's by holding "like".
    """
    found: dict[str, Any] = {}
    for name, value in table.items():
        deeper = isinstance(value, dict) and "." not in name and not (leaves and "like" in value)
        if deeper and all(isinstance(inner, dict) for inner in value.values()) or deeper and not leaves:
            found.update({f"{name}.{inner}": thing for inner, thing in value.items()})
        else:
            found[name] = value
    return found


def _number(name: str, known: Mapping[str, Number]) -> Number:
    if name not in known:
        near = difflib.get_close_matches(name, known, 1, 0.6)
        hint = f"did you mean {near[0]}?" if near else "write part.field, as in cushion.preload or drive.rpm."
        raise ValueError(f"{name}: is no number of the machine or its drive; {hint}")
    return known[name]


def _varied(name: str, words: Any, known: Mapping[str, Number], fixed: Mapping[str, float]) -> Varied:
    about = _number(name, known)
    usage = f'{{like = "lognormal", percent = 6}}; like may be {", ".join(LIKES)}'
    if not isinstance(words, dict):
        raise ValueError(f"vary.{name}: {words!r} does not say how it varies; write {usage}.")
    like = words.get("like")
    if not isinstance(like, str) or like not in LIKES:
        raise ValueError(f"vary.{name}.like: {like!r} is no distribution that a study knows; write {usage}.")
    allowed, sentence = LIKES[like]
    for word in words:
        if word != "like" and word not in allowed:
            raise ValueError(f"vary.{name}.{word}: is no word of {like}, which takes {sentence}.")
    given = {word: value for word, value in words.items() if word != "like"}
    if like in ("normal", "lognormal"):
        usual = fixed.get(name, about.nominal)
        return Varied(name, about.unit, like, _round_a_middle(name, like, given, about, usual), about.nominal)
    for word in allowed:
        if word not in given:
            raise ValueError(f"vary.{name}.{word}: is missing; {like} takes {sentence}.")
        given[word] = checked(f"vary.{name}.{word}", given[word], about.unit, about.low, about.high)
    ordered = [given[word] for word in allowed]
    if ordered != sorted(ordered) or given["low"] == given["high"]:
        raise ValueError(f"vary.{name}: {', '.join(f'{word} {given[word]:g}' for word in allowed)} {_unit(about.unit)}"
                         "do not ascend.")
    if like == "loguniform" and given["low"] <= 0.0:
        raise ValueError(f"vary.{name}.low: {given['low']:g} {_unit(about.unit)}is not above 0, as loguniform needs.")
    return Varied(name, about.unit, like, tuple((word, given[word]) for word in allowed), about.nominal)


def _round_a_middle(name: str, like: str, given: dict[str, Any], about: Number, usual: float) -> tuple[tuple[str, float], ...]:
    middle = checked(f"vary.{name}.middle", given.get("middle", usual), about.unit, about.low, about.high)
    if ("percent" in given) == ("deviation" in given):
        what = f"is missing; {like} takes {LIKES[like][1]}"
        if "percent" in given:
            what = "is there beside deviation; give one of them"
        raise ValueError(f"vary.{name}.percent: {what}.")
    if like == "lognormal":
        if middle <= 0.0:
            raise ValueError(f"vary.{name}.middle: {middle:g} {_unit(about.unit)}is not above 0, as lognormal needs.")
        return ("middle", middle), ("percent", checked(f"vary.{name}.percent", given["percent"], "%", 1e-6, 300.0))
    if "percent" in given:
        deviation = abs(middle) * checked(f"vary.{name}.percent", given["percent"], "%", 1e-6, 300.0) / 100.0
        if deviation == 0.0:
            raise ValueError(f"vary.{name}.percent: of 0 {_unit(about.unit)}is nothing; give a deviation instead.")
    else:
        span = about.high - about.low
        deviation = checked(f"vary.{name}.deviation", given["deviation"], about.unit, 1e-12 * span, span)
    return ("middle", middle), ("deviation", deviation)


def _unit(unit: str) -> str:
    return "" if unit in ("", "1") else f"{unit} "


def set_up(plan: Plan, row: Sequence[float]) -> tuple[Machine, MagnetoDrive | TimerDrive]:
    """Return machine and drive of one run. row: the numbers that vary, in the plan's order. Raises ValueError where refused."""
    parts: dict[str, dict[str, float]] = {}
    for name, value in (*plan.fixed, *zip((one.name for one in plan.vary), row, strict=True)):
        part, _, field = name.partition(".")
        parts.setdefault(part, {})[field] = float(value)
    drive = DRIVES[plan.drive](**parts.pop("drive", {}))
    return Machine().but(**parts), drive


def _runs_at_all(plan: Plan) -> None:
    """Refuse a plan whose middle coil the model refuses: all its runs would be refused."""
    middles = [float(one.distribution().median()) for one in plan.vary]
    try:
        set_up(plan, middles)
    except ValueError as error:
        raise ValueError(f"the coil in the middle of the plan is refused: {error}") from error


# ----------------------------------------------------------------------------------------------------- the template
_TEMPLATE = (
    ("vibrator.preload", "lognormal", 5.0), ("vibrator.stiffness", "lognormal", 5.0), ("cushion.preload", "lognormal", 6.0),
    ("cushion.stiffness", "lognormal", 5.0), ("cushion.travel", "lognormal", 6.0), ("coil.magnetic_gap", "lognormal", 3.0),
    ("gap.breakdown", "lognormal", 7.0), ("condenser.capacitance", "lognormal", 7.0), ("drive.drive", "normal", 10.0),
)
"""What the template varies: springs, gaps and drive as the bench's priors have them (our judgement; coilbench/causes.py)."""


def template() -> str:
    """Return a plan to start from: the nominal coil with the spread of springs, gaps, drive and speed that the bench assumes."""
    known = numbers()
    lines = [
        "# A tolerance study: how often is a coil set so unsound (a pulse that misfires, or fires twice)?",
        "# Run it: python3 course.py study THIS_FILE. Stop it whenever you like; the same command goes on where it stopped.",
        "",
        "[study]",
        "runs = 4096      # imagined coils; a power of two where the causes are sought",
        "causes = true    # also find which number is to blame: costs (numbers that vary + 2) runs for each coil",
        "seed = 1         # another seed draws other coils",
        "pulses = 20      # pulses each coil is watched for, after warm_up pulses that do not count",
        "warm_up = 4",
        "",
        "[drive]",
        'kind = "magneto"  # turned steadily, as on a bench; or "timer": the timer of an engine, a pulse is then one window',
        "",
        "[machine]        # numbers that are not the nominal coil's, in its units, as in",
        '# "vibrator.preload" = 3.2   # N',
        "",
        "[vary]           # percent and deviation are one standard deviation; other distributions:",
        "#                  uniform (low, high), loguniform (low, high), triangular (low, peak, high)",
    ]
    for name, like, percent in _TEMPLATE:
        about = known[name]
        row = f'"{name}" = {{like = "{like}", percent = {percent:g}}}'
        unit = "" if about.unit == "1" else f" {about.unit}"
        lines.append(f"{row:<66}# {about.meaning}; nominal {about.nominal:g}{unit}")
    row = '"drive.rpm" = {like = "uniform", low = 200, high = 600}'
    lines.append(f"{row:<66}# crank speed, rpm")
    return "\n".join(lines) + "\n"


def finite(value: float) -> float | None:
    """Return `value`, or None where it is not a finite number (JSON knows no NaN)."""
    return value if math.isfinite(value) else None
