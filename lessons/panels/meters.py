"""Lesson 7: what a meter tells. One coil on three supplies, the coils that a meter takes for equal, and how far off it can be.

The meters are ideal: what is shown is only what their principle does to this current. The maps and rows are those of the
tension map (lessons.panels.multi_firing), kept by their settings.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, TransformerDrive, simulate
from coilmodel.machine import Drive
from coilmodel.pitch import Pitch, pitch_of
from coilmodel.readings import Readings, read
from coilmodel.sparks import EFFECTIVE, sparks
from lessons.contracts import (
    Axis,
    Band,
    Bar,
    Bars,
    Chart,
    Choice,
    Control,
    Ladder,
    Line,
    Mark,
    Panel,
    Picture,
    Preset,
    Reading,
    TensionMap,
    Values,
)
from lessons.panels import bad_coils, parts
from lessons.panels.multi_firing import (
    CUSHION,
    CUSHION_CONTROL,
    CUSHIONS,
    LETTERS,
    NOMINAL,
    VIBRATOR,
    VIBRATOR_CONTROL,
    VIBRATORS,
    WEAK,
    Cell,
    cell,
    machine,
    map_in_words,
    preload_cells,
    shown,
)
from lessons.sound import heard_run, sound_at

SINE = math.pi / (2.0 * math.sqrt(2.0))
"""RMS over rectified mean of a sine, about 1.11: the factor printed into the scale of an averaging meter for alternating current.

A closed form: the RMS of a sine is its peak over root two, its rectified mean twice the peak over pi.
"""

NEAR = 0.05  # two readings within this share of each other are called equal: as good as such a meter can be read


# ------------------------------------------------------------------------------------- panel 1: one coil, three supplies
COILS: Mapping[str, tuple[str, Mapping[str, float]]] = {
    "none": ("well set", {}),
    "slack": ("cushion too slack", {"cushion_preload": bad_coils.SLACK}),
    "stiff": ("cushion too stiff", {"cushion_preload": bad_coils.STIFF}),
    "vibrator": ("vibrator too slack", {"vibrator_preload": 0.7}),
    "small": ("condenser nearly open", {"condenser_capacitance": 0.05}),
    "leaky": ("condenser leaks through", {"condenser_leakage_resistance": 1e-6}),
}
TRANSFORMER_VOLTS = 6.0  # a usual bell transformer's (common practice, no source)
ROWS, SETTLE = 12, 2  # an even number of rows, so that half of an alternating current's rows have each sign
QUICK_ROWS = 2


def coil_of(key: str) -> Machine:
    """Return the coil named `key` in COILS."""
    return NOMINAL.scaled(**COILS[key][1])


def drive_of(values: Values) -> Drive:
    """Return the supply of `values`: kind, and volts or crank speed."""
    if values["supply"] == "battery":
        return BatteryDrive(values["volts"])
    if values["supply"] == "transformer":
        return TransformerDrive(values["volts"])
    return MagnetoDrive(values["rpm"])


def buzz(run: Run) -> Pitch | None:
    """Return the pitch of a recorded run's buzz, sparks or none; None where the contacts do not part and all is silent.

    It is how often the blade's motion repeats. A count of partings would be no pitch: contacts that bounce part oftener.
    """
    if not any(opening.real for opening in run.openings):
        return None
    return pitch_of(run) or Pitch(1.0 / run.meter.seconds, 0.0)  # it stirs, and never does the same again


def in_hertz(heard: Pitch | None) -> str:
    """Return a pitch as people say it; `heard` is that of `buzz`."""
    return "silent" if heard is None else f"{heard.hertz:.0f} Hz" if heard.steady else "no steady pitch"


def meters(result: Readings) -> tuple[Reading, ...]:
    """Return what five kinds of meter in the supply lead would show of a run."""
    shown = (
        ("Mean (plain direct-current meter)", result.ammeter_mean),
        ("Rectified mean", result.ammeter_rectified),
        ("Rectified mean, scaled for a sine", SINE * result.ammeter_rectified),
        ("RMS (true)", result.ammeter_rms),
        ("Peak", result.peak_current),
    )
    return tuple(Reading(label, f"{abs(value) if abs(value) < 0.005 else value:.2f} A", value, "A") for label, value in shown)


def _current(run: Run, result: Readings) -> Chart:
    start = run.first_pulse * run.pulse_seconds
    times = [1e3 * (t - start) for t in run.strips.time if t - start <= 2.0 * run.pulse_seconds]
    span = [times[0], times[-1]]
    return Chart(
        "current", "Current in the supply lead", Axis("time", "ms", 0.0, 2e3 * run.pulse_seconds, "the supply"),
        Axis("current", "A", -parts.MOST_CURRENT, parts.MOST_CURRENT),
        (
            Line("current", "current", times, run.strips.current[:len(times)]),
            Line("RMS", "force", span, [result.ammeter_rms] * 2, "dashed"),
            Line("rectified mean", "plain", span, [result.ammeter_rectified] * 2, "dotted"),
        ),
    )


def _ladder(run: Run) -> Ladder:
    """Return the ladder of a run, in degrees of crank on the magneto and in milliseconds where no crank turns."""
    if isinstance(run.drive, MagnetoDrive):
        on_magneto = parts.ladder(run)
        return replace(on_magneto, x=replace(on_magneto.x, follows="the supply"))
    row = 1e3 * run.pulse_seconds
    pulse, angle, order = [], [], []
    count: dict[int, int] = {}
    for spark in sparks(run):
        # A spark counts to the row in which the contacts parted; one that comes after that row's end is drawn where it comes.
        late = min(int(1e3 * spark.after / row), run.pulses - 1 - spark.pulse)
        count[spark.pulse + late] = count.get(spark.pulse + late, 0) + 1
        pulse.append(spark.pulse + late)
        angle.append(1e3 * spark.after - late * row)
        order.append(count[spark.pulse + late])
    what = "half-cycle" if isinstance(run.drive, TransformerDrive) else "row"
    across = Axis(f"time from the start of the {what}", "ms", 0.0, row, "the supply")
    return Ladder("Sparks, row by row", across, run.pulses, pulse, angle, order, what)


def _supply_sentence(run: Run, result: Readings) -> str:
    pitch = buzz(run)
    if pitch is None:
        return "The contacts do not part: it is silent, and there is no spark."
    heard = f"It buzzes at {pitch.hertz:.0f} hertz." if pitch.steady else "It rattles, without a steady pitch."
    if result.sparks_a_second == 0.0:
        return f"{heard} There is no spark at all."
    if isinstance(run.drive, BatteryDrive):
        return f"{heard} {result.sparks_a_second:.0f} sparks a second; a battery has no pulses to count them by."
    what = "half-cycle" if isinstance(run.drive, TransformerDrive) else "pulse"
    if result.single == 1.0:
        but = ", but too weak to light the charge" if result.misfired == 1.0 else ""
        return f"{heard} One spark in every {what}{but}."
    return f"{heard} {result.sparks_per_pulse:.1f} sparks a {what} on average; just one in {100 * result.single:.0f} of 100."


def _supply_picture(values: Values, rows: int) -> Picture:
    run = simulate(coil_of(values["coil"]), drive_of(values), pulses=rows, warm_up=SETTLE, record=(0, rows - 1), rows_a_pulse=200)
    result, heard = read(run), buzz(run)
    opening = result.opening_current.mean
    row = " a half-cycle" if values["supply"] == "transformer" else ""
    count = f"{result.sparks_per_pulse:.2f}".rstrip("0").rstrip(".")
    per = (
        Reading("Sparks per pulse", "no pulses on a battery")
        if values["supply"] == "battery"
        else Reading("Sparks per pulse", f"{count}{row}", result.sparks_per_pulse, "1")
    )
    sentence = f"Coil: {COILS[values['coil']][0]}. {_supply_sentence(run, result)}"
    shown = (
        per,
        Reading("Pitch of the buzz", in_hertz(heard), heard.hertz if heard and heard.steady else None, "Hz"),
        Reading("Sparks a second", f"{result.sparks_a_second:.0f}", result.sparks_a_second, "1/s"),
        Reading("Opening current", parts.number(opening, "A"), opening, "A"),
        *meters(result),
    )
    told = "; ".join(f"{reading.label} {reading.text}" for reading in shown)
    return Picture(sentence, f"Strip of the current over two rows, and spark ladder of {rows} rows. {sentence} {told}.", shown,
                   strips=(_current(run, result),), ladder=_ladder(run))


SUPPLIES = Panel(
    "supplies",
    "One coil, three supplies",
    "A coil buzzes on a battery. What does that tell you about the magneto?",
    (
        Choice("supply", "Supply",
               (("battery", "battery"), ("transformer", "bench transformer, 50 Hz"), ("magneto", "magneto")), "battery",
               "The car has only the last of them; most benches have one of the others."),
        Choice("coil", "The coil", tuple((key, words) for key, (words, _) in COILS.items()), "none",
               "One fault at a time, everything else as in the well-set coil."),
        Control("volts", "Volts (battery, transformer)", "V", 5.0, 14.0, 0.5, 12.0,
                "For battery and transformer alone: a change of supply changes pitch and count, and the coil has not changed."),
        parts.speed_control(low=150.0, high=600.0),
    ),
    compute=lambda values: _supply_picture(values, ROWS),
    quick=lambda values: _supply_picture(values, QUICK_ROWS),
    sound=lambda values, slowed: sound_at(coil_of(values["coil"]), drive_of(values), slowed),
    presets=(
        Preset("Battery, well set", {}, "A steady buzz, and a spark with most partings. Now press the next one."),
        Preset("Battery, no spark", {"coil": "leaky"}, "It buzzes as merrily as ever, and there is not one spark."),
        Preset("Transformer, well set", {"supply": "transformer", "volts": TRANSFORMER_VOLTS},
               "A good coil on the bench transformer: more than one spark in a half-cycle. Would you have sent it back?"),
        Preset("Transformer, slack", {"supply": "transformer", "volts": TRANSFORMER_VOLTS, "coil": "slack"},
               "A slack cushion on the same transformer: one spark in every half-cycle. It passes with honours."),
        Preset("Magneto, well set", {"supply": "magneto"}, "What counts. And the plain direct-current meter reads nought."),
        Preset("Magneto, slack", {"supply": "magneto", "coil": "slack"},
               "The coil that passed on the transformer misfires on the magneto: one spark in every pulse, and each too weak."),
    ),
)


# ------------------------------------------------------------------------------------------- panel 2: what an ear can tell
SEMITONE = 2.0 ** (1.0 / 12.0)
"""Two pitches nearer than this few people tell apart from memory, one today and one last week (from memory, no source)."""
PITCHES = Axis("pitch of the buzz on a battery", "Hz", 0.0, 1000.0)


VOLTS_CONTROL = Control(
    "volts", "Volts of the battery", "V", 5.0, 14.0, 0.5, 12.0,
    "A battery that is low changes the pitch of every coil: with it, what you know by heart is worth nothing.",
)


@dataclass(frozen=True)
class Heard:
    """What a coil buzzes like on a battery: its pitch (None: silent), and its sparks a second."""

    pitch: Pitch | None
    sparks_a_second: float

    @property
    def hertz(self) -> float | None:
        """The pitch in hertz, None where there is no steady one."""
        return self.pitch.hertz if self.pitch and self.pitch.steady else None


@lru_cache(maxsize=256)
def on_battery(key: str, volts: float) -> Heard:
    """Return what the coil `key` of COILS buzzes like on a battery of `volts`; kept by its settings."""
    run = heard_run(coil_of(key), BatteryDrive(volts))
    return Heard(buzz(run), read(run).sparks_a_second)


def told_apart(one: Heard, other: Heard) -> bool:
    """Return whether an ear that remembers `one` would notice that it hears `other`: a semitone off, a rattle, or silence."""
    if one.hertz is None or other.hertz is None:
        return one.hertz != other.hertz or (one.pitch is None) != (other.pitch is None)
    return not 1.0 / SEMITONE < other.hertz / one.hertz < SEMITONE


def _sparks_each(heard: Heard) -> str:
    if heard.sparks_a_second == 0.0:
        return "no spark"
    if heard.hertz is None:
        return f"{heard.sparks_a_second:.0f} sparks a second"
    each = f"{heard.sparks_a_second / heard.hertz:.1f}".removesuffix(".0")
    return f"{each} spark{'' if each == '1' else 's'} a swing"


def _ear_picture(values: Values, keys: Sequence[str]) -> Picture:
    heard = {key: on_battery(key, values["volts"]) for key in keys}
    well, mine = on_battery("none", values["volts"]), on_battery(values["coil"], values["volts"])
    bars = tuple(
        Bar(COILS[key][0], one.hertz, f"{in_hertz(one.pitch)}, {_sparks_each(one)}", strong=key == values["coil"])
        for key, one in heard.items()
    )
    bands = () if well.hertz is None else (Band(well.hertz / SEMITONE, well.hertz * SEMITONE, "like the well-set one"),)
    faults = [key for key in keys if key != "none"]
    said = f"This coil: {COILS[values['coil']][0]}, {in_hertz(mine.pitch)}, {_sparks_each(mine)}."
    if len(faults) > 1:
        noticed = sum(told_apart(well, heard[key]) for key in faults)
        said += (f" Of {len(faults)} faulty coils an ear that knows the well-set one at {values['volts']:g} V would notice "
                 f"{noticed}, without a word of which fault it is or how many sparks there are.")
        if values["volts"] - 1.0 >= VOLTS_CONTROL.low:
            lower = on_battery("none", values["volts"] - 1.0)
            said += f" At one volt less the well-set one itself: {in_hertz(lower.pitch)}."
    return Picture(
        said, f"{said} Pitches: " + "; ".join(f"{bar.label}, {bar.text}" for bar in bars) + ".",
        (
            Reading("Pitch of the buzz", in_hertz(mine.pitch), mine.hertz, "Hz"),
            Reading("Sparks a second", f"{mine.sparks_a_second:.0f}", mine.sparks_a_second, "1/s"),
        ),
        bars=(Bars("pitch", "What each coil buzzes like, and what it does", PITCHES, bars, "position", "point", bands=bands),),
    )


EAR = Panel(
    "ear",
    "What an ear can tell",
    "You know by heart how a good coil buzzes on your battery. Would you hear a slack cushion? Would you hear a missing spark?",
    (
        Choice("coil", "The coil", tuple((key, words) for key, (words, _) in COILS.items()), "none",
               "One fault at a time, everything else as in the well-set coil."),
        VOLTS_CONTROL,
    ),
    compute=lambda values: _ear_picture(values, tuple(COILS)),
    quick=lambda values: _ear_picture(values, (values["coil"],)),
    sound=lambda values, slowed: sound_at(coil_of(values["coil"]), BatteryDrive(values["volts"]), slowed),
    presets=(
        Preset("Well set", {}, "Listen, and remember the pitch. The shaded stretch is what you would take for the same."),
        Preset("Slack cushion", {"coil": "slack"}, "Listen: is it the same? Then look how many sparks there are."),
        Preset("No spark", {"coil": "leaky"}, "Listen: it buzzes as merrily as any, and there is not one spark."),
        Preset("Low battery", {"volts": 7.0}, "The well-set coil again, on a tired battery. Which fault would you think it has?"),
    ),
)


# --------------------------------------------------------------------------- panel 3: the coils that a meter takes for yours
METERS = (("rectified", "averaging (rectified mean)"), ("rms", "true RMS"), ("peak", "peak"))
METER_CONTROL = Choice("meter", "The meter", METERS, "rectified", "Each kind makes another number of the same current.")

_NAMES = {
    WEAK: "reads like yours, misfires: its sparks are too weak",
    0: "reads like yours, misfires: no spark in some pulses or all",
    1: "reads like yours, one spark in every pulse",
    2: "reads like yours, fires twice",
    3: "reads like yours, fires three times or more",
}


def alike(one: float, other: float) -> bool:
    """Return whether two readings in A cannot be told apart: within NEAR of each other."""
    return abs(one - other) <= NEAR * abs(other)


def twins(values: Values) -> list[Cell]:
    """Return those cells of the map whose reading cannot be told from that of the coil of `values`."""
    mine = getattr(cell(machine(values), values["rpm"], 100.0), values["meter"])
    return [c for row in preload_cells(values["rpm"], 100.0) for c in row if alike(getattr(c, values["meter"]), mine)]


def same_reading(values: Values) -> Picture:
    """Return the map of the coils that read as the learner's does, by what they do."""
    mine = cell(machine(values), values["rpm"], 100.0)
    reading = getattr(mine, values["meter"])
    cells = [
        [shown(c.worst) if alike(getattr(c, values["meter"]), reading) else None for c in row]
        for row in preload_cells(values["rpm"], 100.0)
    ]
    drawn = TensionMap(
        f"Coils that the meter takes for yours, at {values['rpm']:.0f} rpm", Axis("cushion preload", "N"),
        Axis("vibrator preload", "N"), CUSHIONS, VIBRATORS, cells, _NAMES, (values["preload"], values["vibrator_preload"]),
        blank="reads otherwise", letters=LETTERS,
    )
    found = twins(values)
    currents = [c.opening_current for c in found if c.opening_current is not None]
    good = sum(c.worst == 1 for c in found)
    span = f"Their opening currents run from {min(currents):.1f} to {max(currents):.1f} A." if currents else ""
    sentence = (
        f"Your coil reads {reading:.2f} A. Of {len(CUSHIONS) * len(VIBRATORS)} coils on the map {len(found)} read within "
        f"{100 * NEAR:.0f} % of it: one sound spark in every pulse from {good} of them, not so from {len(found) - good}. {span}"
    ).strip()
    return Picture(sentence, f"{sentence} {map_in_words(drawn)}", _mine(values, mine), map=drawn)


def _mine(values: Values, mine: Cell) -> tuple[Reading, ...]:
    kind = dict(METERS)[values["meter"]]
    reading = getattr(mine, values["meter"])
    return (
        Reading(f"Your coil on the meter, {kind}", f"{reading:.2f} A", reading, "A"),
        Reading("Its opening current", parts.number(mine.opening_current, "A"), mine.opening_current, "A"),
        Reading("Its first spark", parts.number(1e3 * mine.first_energy, "mJ"), 1e3 * mine.first_energy, "mJ"),
    )


def _own_coil(values: Values) -> Picture:
    mine = cell(machine(values), values["rpm"], 100.0)
    found = _mine(values, mine)
    sentence = f"Your coil reads {found[0].text}."
    return Picture(sentence, f"{sentence} {found[1].label} {found[1].text}; {found[2].label.lower()} {found[2].text}.", found)


TWIN = (0.4, 0.78)
"""Shares of the two preloads with which a slack coil reads as the well-set one does, and misfires (a test holds it to that)."""

SAME = Panel(
    "same_reading",
    "Coils that the meter takes for yours",
    "Two coils give the same reading on the ammeter. Are they equally good?",
    (METER_CONTROL, CUSHION_CONTROL, VIBRATOR_CONTROL, parts.speed_control(low=150.0, high=600.0)),
    compute=same_reading,
    quick=_own_coil,
    presets=(
        Preset("Well set, averaging meter", {}, "The coloured cells are coils that it takes for yours. What do they do?"),
        Preset("Well set, RMS meter", {"meter": "rms"}, "A better meter. Are the coils that it takes for yours better?"),
        Preset("Well set, peak meter", {"meter": "peak"},
               "The peak comes nearest to the opening current. Even so, not every coil that reads alike fires once."),
        Preset(
            "A slack twin", {"preload": round(TWIN[0] * CUSHION, 2), "vibrator_preload": round(TWIN[1] * VIBRATOR, 2)},
            "It reads like the well-set coil to within a tenth of an ampere, and misfires: its sparks are too weak.",
        ),
    ),
)


# ------------------------------------------------------------------------------------- panel 4: how far off it can be
def estimate(reading: float, meter: str, rpm: float) -> float:
    """Return the opening current in A that a reading suggests, in proportion to the well-set coil's at the same speed."""
    well = cell(NOMINAL, rpm, 100.0)
    return reading * (well.opening_current or math.nan) / getattr(well, meter)


def _row(values: Values) -> list[Cell]:
    coils = [machine({"preload": c, "vibrator_preload": values["vibrator_preload"]}) for c in CUSHIONS]
    return [cell(coil, values["rpm"], 100.0) for coil in coils]


def how_far_off(values: Values) -> Picture:
    """Return the true opening current over the cushion's preload beside the one that the meter's reading suggests."""
    row = _row(values)
    true = [math.nan if c.opening_current is None else c.opening_current for c in row]
    told = [estimate(getattr(c, values["meter"]), values["meter"], values["rpm"]) for c in row]
    off = [t / i for t, i in zip(told, true, strict=True) if not math.isnan(i)]
    dead = sum(math.isnan(i) for i in true)
    sentence = (
        f"Along these coils the meter's guess runs from {min(off):.2f} to {max(off):.2f} times the true opening current."
        if off else "None of these coils parts its contacts."
    )
    if dead:
        who = "One of them never parts" if dead == 1 else f"{dead} of them never part"
        sentence += f" {who} at all, and still the meter reads."
    alt = "; ".join(
        f"at {c:g} N {'never parts' if math.isnan(i) else f'parts at {i:.1f} A'}, the meter suggests {t:.1f} A, "
        f"first spark {1e3 * one.first_energy:.0f} mJ"
        for c, i, t, one in zip(CUSHIONS, true, told, row, strict=True)
    )
    x = Axis("cushion preload", "N", CUSHIONS[0], CUSHIONS[-1])
    return Picture(
        sentence,
        f"{sentence} Two charts over the cushion's preload: {alt}.",
        _mine(values, cell(machine(values), values["rpm"], 100.0)),
        charts=(
            Chart("opening_current", "Opening current, true and as the meter suggests", x, Axis("current", "A", 0.0, 9.0),
                  (Line("true opening current", "current", CUSHIONS, true),
                   Line("what the reading suggests", "emf", CUSHIONS, told, "dashed")),
                  (Mark(values["preload"], None, "your coil", "here"),)),
            Chart("sparks", "What the first spark has", x, Axis("energy", "mJ", 0.0, 50.0),
                  (Line("first spark", "energy", CUSHIONS, [1e3 * c.first_energy for c in row]),), (),
                  (Band(0.0, 1e3 * EFFECTIVE, "too weak", "y"),)),
        ),
    )


OFF = Panel(
    "meter_error",
    "How far off the meter can be",
    "You note a good coil's reading and set the others to the same. By how much can their opening currents differ?",
    (METER_CONTROL, CUSHION_CONTROL, VIBRATOR_CONTROL, parts.speed_control(low=150.0, high=600.0)),
    compute=how_far_off,
    quick=_own_coil,
    presets=(
        Preset("Averaging meter", {}, "The lines meet at the well-set coil, where the guess was calibrated. And elsewhere?"),
        Preset("RMS meter", {"meter": "rms"}, "A true RMS meter does no better at the stiff end."),
        Preset("Peak meter", {"meter": "peak"}, "Follows most coils well, the slack ones among them: and those misfire."),
        Preset("Slack vibrator", {"vibrator_preload": round(0.7 * VIBRATOR, 2)},
               "Some of these coils give no spark at all, and there the meter reads highest: more current, and no spark."),
    ),
)

PANELS = (SUPPLIES, EAR, SAME, OFF)
