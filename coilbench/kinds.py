"""The one registry of readings: KINDS. Whatever shows, asks for, predicts or judges a reading walks it.

A reading is one entry here and its prediction: for a coil at rest the numbers of the machine that it shows (`shows`, and
`predict` where it is not the number itself), for a running one a column of an outcome and how that is read off a run (`columns`).
An entry that lacks something which a walker needs is refused as it is made, in a sentence. Standard library only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from coilbench.units import UNITS, figure
from coilmodel.readings import first_openings, sparks_in_pulses
from coilmodel.run import Run


@dataclass(frozen=True)
class Error:
    """Measurement error of a kind of reading, the model's own roughness included: a share of the value plus a fixed part (SI)."""

    share: float
    fixed: float
    span: float  # over which a slip may fall


@dataclass(frozen=True)
class Slider:
    """Where lesson 10's panels offer a reading: key and name there, range, step and rest in the reading's own unit, and why.

    rpm, drive : the magneto's, of a running coil; `why` may hold the fields of asks.Ask in braces
    """

    key: str
    name: str
    low: float
    high: float
    step: float
    rest: float
    why: str
    rpm: float = 0.0
    drive: float = 1.0


def _same(number: float) -> float:
    return number


@dataclass(frozen=True)
class Kind:
    """A kind of reading.

    key, name, also : by which it goes in Python, in the sheet, and what else a sheet may call it; measure, unit : of units.UNITS;
    low, high : the range (SI) of what a sheet may say; how : how it is taken, in a line; hue : of coilbench/hues.json;
    minutes, needs : what it costs (our judgement; common practice, no source)

    error : None where it is not judged
    shows, predict : at rest, the numbers of the machine (part_field, SI) that it shows, and the reading that they give
    columns : on the running coil, the columns of an outcome with what each is of a run; the first is the reading, a second one
    its variance over pulses; pulses : it counts something in pulses, which a battery does not give
    relative : it is taken relative to a known-good coil's, where a sheet marks one
    one_fault : at rest, it shows one fault whatever else is wrong, so it tells of a second fault

    asked : the words in which a card asks for it; full : its name where nothing else says of what (`name` if empty). Both may
    hold the fields of asks.Ask in braces
    rank : the order among those of a running coil; benches : (rpm, drive) at which they are asked for
    remark : what the empty sheet says to it, None where it is not in the empty sheet
    sliders : its places in lesson 10's panels; drawing : on the page of readings at home, of lessons/panels/drawings/at_home
    """

    key: str
    name: str
    also: tuple[str, ...]
    measure: str
    unit: str
    low: float
    high: float
    how: str
    hue: str
    minutes: float
    needs: str
    error: Error | None = None
    shows: tuple[str, ...] = ()
    predict: Callable[..., float] = _same
    columns: tuple[tuple[str, Callable[[Run], float]], ...] = ()
    pulses: bool = False
    relative: bool = False
    one_fault: bool = False
    asked: str = ""
    full: str = ""
    rank: int = 9
    benches: tuple[tuple[float, float], ...] = ()
    remark: str | None = None
    sliders: tuple[Slider, ...] = ()
    drawing: str = ""

    def __post_init__(self) -> None:
        lacks = [] if self.unit in UNITS.get(self.measure, {}) else [f"a unit of {self.measure}"]
        lacks += [] if self.name and self.how else ["a name and how it is taken"]
        if self.judged:
            lacks += [] if bool(self.shows) != bool(self.columns) else ["a prediction (either `shows` or `columns`)"]
            lacks += [] if self.minutes > 0.0 and self.needs else ["its minutes and what it needs"]
            lacks += [] if self.running or self.asked else ["the words in which it is asked for (`asked`)"]
            lacks += [] if not (self.running and self.one_fault) else ["rest: `one_fault` is of a coil at rest"]
        if lacks:
            raise ValueError(f"kinds: the reading '{self.key}' lacks {'; '.join(lacks)}.")

    @property
    def judged(self) -> bool:
        """Return whether such a reading tells of a coil's cause: all but a gap and an adjustment."""
        return self.error is not None

    @property
    def running(self) -> bool:
        """Return whether it is taken on a running coil, so that it needs a supply and a speed."""
        return bool(self.columns)

    @property
    def one(self) -> float:
        """Return one of its usual unit in SI."""
        return UNITS[self.measure][self.unit]

    def say(self, value: float, digits: int = 3) -> str:
        """Return `value` (SI) as people say it, with the unit."""
        return f"{self.bare(value, digits)} {self.unit}".strip()

    def bare(self, value: float, digits: int = 3) -> str:
        """Return `value` (SI) as people say it in the usual unit, without naming it."""
        return figure(value / self.one, digits)

    def between(self, low: float, high: float) -> str:
        """Return two limits (SI) in words, the unit once; small ones to fewer digits."""
        first, last = (self.bare(limit, 3 if limit >= self.one else 2) for limit in (low, high))
        return f"{first} to {last} {self.unit}".strip()


# ---------------------------------------------------------------------------------------------- what a run is read to give
def _opening_current(run: Run) -> float:
    first = [abs(opening.current) for opening in first_openings(run)]
    return sum(first) / len(first) if first else float("nan")


def _sparks(run: Run) -> float:
    counts = sparks_in_pulses(run)
    return sum(counts) / len(counts)


def _sparks_variance(run: Run) -> float:
    counts = sparks_in_pulses(run)
    mean = sum(counts) / len(counts)
    return sum((count - mean) ** 2 for count in counts) / len(counts)


# ------------------------------------------------------------------------------------------------------------ the registry
_COUNT, _CURRENT = (0.0, 4.0, 0.1, 1.0), (0.5, 10.0, 0.01, 5.0)  # low, high, step and rest of their sliders
_METER = Error(0.04, 0.03, 10.0)

KINDS: tuple[Kind, ...] = (
    Kind("capacity", "capacity", ("condenser capacity", "capacitance", "condenser"), "capacity", "uF", 1e-10, 1e-4,
         "meter on the condenser, contacts held apart by a slip of card", "contact_voltage", 5.0,
         "a meter with a capacity range", Error(0.03, 5e-9, 2e-6), ("condenser_capacitance",), relative=True,
         asked="the condenser's capacity, contacts held apart", full="capacity of the condenser",
         remark="contacts held apart; discharge it first",
         sliders=(Slider("capacity", "Capacity", 0.01, 3.0, 0.005, 0.45,
                         "Of the condenser, read with the contacts held apart; it speaks of the condenser alone."),)),
    Kind("self_discharge", "self-discharge", ("self discharge", "volts left"), "voltage", "V", 0.0, 2000.0,
         "voltage left on the condenser some seconds after it was charged; needs start_V and after_s; contacts held apart",
         "contact_voltage", 5.0, "a voltmeter, a supply and a clock", Error(0.0, 0.0, 0.0),  # see errors.discharge
         ("condenser_capacitance", "condenser_leakage_resistance"),
         asked="the condenser's self-discharge, contacts held apart (say from {start_volts:g} V, and what is left after "
               "{after_seconds:g} s)",
         full="self-discharge (volts left of {start_volts:g} after {after_seconds:g} s)",
         remark="contacts held apart; needs start_V and after_s",
         sliders=(Slider("left", "Self-discharge", 0.0, 100.0, 0.5, 90.0,
                         "Volts left on the condenser of {start_volts:g} after {after_seconds:g} s, contacts held apart: a "
                         "leaking one loses its charge."),)),
    Kind("opening_current", "opening current", ("opening amps", "current at opening"), "current", "A", 0.05, 50.0,
         "primary current at the first parting of a pulse (not a bounce of the closing contacts); mean over some pulses",
         "current", 6.0, "the bench, and a scope or what stands in for one", Error(0.04, 0.08, 15.0),
         columns=(("opening_current", _opening_current),), relative=True, rank=1,
         benches=((200.0, 1.0), (450.0, 1.0), (600.0, 1.0)), remark="", sliders=(
             Slider("current200", "Current, 200 rpm", *_CURRENT,
                    "The springs set it, and at this speed the magneto hardly has more to give.", 200.0),
             Slider("current450", "Current, 450 rpm", *_CURRENT, "The springs set it: the current at which the contacts part.",
                    450.0),
             Slider("current600", "Current, 600 rpm", *_CURRENT, "The same, fast.", 600.0))),
    Kind("sparks", "sparks per pulse", ("sparks", "sparks a pulse", "sparks each pulse"), "count", "", 0.0, 30.0,
         "sparks counted over pulses counted (on a transformer a pulse is half a cycle of the mains); not on a battery",
         "secondary", 4.0, "the bench, and a strip or a recording", Error(0.03, 0.05, 8.0),
         columns=(("sparks", _sparks), ("sparks_variance", _sparks_variance)), pulses=True, rank=0,
         benches=((200.0, 1.0), (450.0, 1.0), (600.0, 1.0), (450.0, 0.7), (450.0, 1.3)), remark="", drawing="counting", sliders=(
             Slider("sparks200", "Sparks, 200 rpm", *_COUNT, "What the coil does when the crank is turned by hand.", 200.0),
             Slider("sparks450", "Sparks, 450 rpm", *_COUNT, "What it does at driving speed.", 450.0),
             Slider("sparks600", "Sparks, 600 rpm", *_COUNT, "A slack cushion shows here first.", 600.0))),
    Kind("meter_mean", "meter mean", ("mean current", "mean meter", "meter dc"), "current", "A", 0.0, 50.0,
         "ammeter in the supply lead that shows the mean", "current", 2.0, "the bench and an ammeter", _METER,
         columns=(("meter_mean", lambda run: run.meter.mean),), relative=True, rank=2),
    Kind("meter_rectified", "meter rectified mean", ("meter rectified", "rectified mean"), "current", "A", 0.0, 50.0,
         "ammeter in the supply lead that shows the mean of the rectified current", "current", 2.0, "the bench and an ammeter",
         _METER, columns=(("meter_rectified", lambda run: run.meter.rectified_mean),), relative=True, rank=2,
         benches=((450.0, 1.0),), remark="", sliders=(
             Slider("meter450", "Meter, 450 rpm", 0.0, 4.0, 0.01, 1.4,
                    "The quickest reading there is: an ammeter in the lead.", 450.0),)),
    Kind("meter_rms", "meter RMS", ("rms", "rms current", "rms meter", "meter true rms"), "current", "A", 0.0, 50.0,
         "ammeter in the supply lead that shows the root mean square", "current", 2.0, "the bench and an ammeter", _METER,
         columns=(("meter_rms", lambda run: run.meter.rms),), relative=True, rank=2),
    Kind("travel", "follow travel", ("travel", "cushion travel"), "length", "mm", 5e-6, 2e-3,
         "how far the upper contact can be pushed down, bridge to rivet, by feeler gauge, coil off", "cushion", 8.0,
         "feeler gauges", Error(0.04, 0.015e-3, 0.5e-3), ("cushion_travel",), relative=True, one_fault=True,
         asked="the follow travel, bridge to rivet, coil off", remark="coil off; bridge to rivet", drawing="travel",
         sliders=(Slider("travel", "Follow travel", 0.02, 0.6, 0.01, 0.2, "Bridge to rivet by feeler gauge, coil off."),)),
    Kind("contact_resistance", "contact resistance", ("contacts resistance", "points resistance"), "resistance", "ohm", 0.0, 20.0,
         "of the closed contacts: the voltage across them over the current through them; coil off the magneto",
         "contact_voltage", 5.0, "a battery, a lamp and a voltmeter", Error(0.10, 0.02, 3.0), ("contacts_resistance",),
         one_fault=True, asked="the resistance of the closed contacts (voltage across them over the current through them), coil "
         "off the magneto", remark="coil off; contacts closed, voltage across them over current", drawing="drop"),
    # The preloads are those at the rivet: where a vibrator that is pulled down leaves the upper contact behind, and where the
    # cushion spring begins to lift off.
    Kind("parting_force", "parting force", ("vibrator force", "force to part"), "force", "N", 0.0, 40.0,
         "spring balance at the vibrator's contact; the pull at which the contacts part; coil off", "force", 5.0,
         "a spring balance", Error(0.05, 0.10, 8.0), ("vibrator_preload",), relative=True, one_fault=True,
         asked="the parting force (the pull on the vibrator's contact at which the contacts part, by a spring balance), coil off",
         remark="coil off; spring balance, the pull at which the contacts part", drawing="parting"),
    Kind("cushion_force", "cushion force", ("force to lift",), "force", "N", 0.0, 40.0,
         "spring balance at the upper contact, vibrator held down; the pull at which the cushion spring leaves the limit rivet; "
         "coil off", "force", 8.0, "a spring balance and a helper", Error(0.06, 0.10, 8.0), ("cushion_preload",), relative=True,
         one_fault=True, asked="the cushion force (the pull that lifts the upper contact off the limit rivet, by a spring "
         "balance, vibrator held down), coil off",
         remark="coil off; spring balance, the pull that lifts the upper contact off the rivet", drawing="cushion"),
    Kind("primary_resistance", "primary resistance", ("primary ohms",), "resistance", "ohm", 0.01, 20.0,
         "of the primary winding alone, leads taken off", "plain", 4.0, "an ohmmeter that reads tenths of an ohm",
         Error(0.03, 0.015, 3.0), ("coil_primary_resistance",), relative=True, one_fault=True,
         asked="the primary's resistance, leads off", remark="coil off"),
    Kind("gap", "gap breakdown", ("breakdown", "gap", "breakdown voltage"), "voltage", "kV", 500.0, 60e3,
         "voltage at which the bench's spark gap breaks down; no row: 10 kV is assumed", "secondary", 5.0,
         "a table of gaps, or a meter for it", remark="if known"),
    Kind("adjusted", "adjusted", ("adjustment", "repaired", "changed"), "count", "", 0.0, 0.0,
         "no value: something was changed on that day (the remark says what), so earlier readings no longer count", "plain", 0.0,
         ""),
)
"""The errors are our judgement (no source): a person's meters and counts, and a model that is not the coil. The order is that in
which readings stand on a card."""
BY_KEY = {kind.key: kind for kind in KINDS}
