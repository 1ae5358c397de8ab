"""Say and draw what was found in a capture: the card, the rows for a bench sheet, and the trace laid over the model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coilbench.capture.findings import Found
from coilbench.capture.found import UNSURE, Known
from coilbench.capture.recording import Heard
from coilbench.capture.rise import PHASE, ZERO, Estimate
from coilbench.card import CAUTIONS, wrapped
from coilbench.errors import ERRORS
from coilbench.sheet import write_rows
from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, simulate
from coilmodel.machine import pulse_seconds
from coilmodel.readings import first_openings

MOST_POINTS = 1800  # drawn of a strip
TRIES = 14  # runs of the model to bring its opening current to the capture's


# ------------------------------------------------------------------------------------------------------------- in words
def plus_minus(estimate: Estimate, unit: str, factor: float = 1.0) -> str:
    """Return an estimate as people say it, its 95 % interval behind it. factor : what one `unit` is in SI, inverted."""
    value = factor * estimate.value
    low, high = (factor * edge for edge in estimate.interval())
    if estimate.error == 0.0:
        return f"{value:.4g} {unit} (given)"
    low = max(low, 0.0) if value > 0.0 else low  # none of these can be under zero
    digits = int(np.clip(np.ceil(np.log10(abs(value) / max(high - low, 1e-300))) + 1, 2, 5)) if value else 2
    if estimate.error > UNSURE * abs(estimate.value):
        return f"hardly known; perhaps {_plain(value, 2)} {unit} (95 in 100: {_plain(low, 2)} to {_plain(high, 2)})"
    return f"{_plain(value, digits)} {unit} (95 in 100: {_plain(low, digits)} to {_plain(high, digits)})"


def _plain(value: float, digits: int) -> str:
    """Return `value` to so many digits, without a power of ten where people write none."""
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:.0f}" if 10.0 ** (digits - 1) <= abs(rounded) < 1e6 else f"{rounded:.{digits}g}"


def card(found: Found, name: str) -> str:
    """Return what was found as text. name : of the file"""
    trace, fitted = found.trace, found.rise
    head = f"{name}  ({len(trace.time)} samples, {1e3 * trace.time[-1]:.4g} ms)"
    lines = [head, "=" * min(100, len(head)), f"  Supply: {_supply(found)}."]
    count = len(found.breaks)
    if found.kind == "magneto" and found.pulses:
        spread = ", ".join(f"{found.per_pulse.count(many)} with {many}" for many in sorted(set(found.per_pulse)))
        alike = len(set(found.per_pulse)) == 1
        lines.append(f"  Openings: {count}; " + (f"{found.per_pulse[0]} in each of {found.pulses} whole pulses." if alike
                                                 else f"of {found.pulses} whole pulses {spread}."))
    else:
        lines.append(f"  Openings: {count}{_every(found)}.")
    if found.sparks is not None and found.sparks:
        if found.kind == "magneto":
            lines.append(f"  Sparks per pulse: {np.mean(found.sparks):.3g} ({sum(found.sparks)} in {found.pulses} pulses).")
        else:
            lines.append(f"  Sparks: {sum(found.sparks)} of {count} openings fired.")
    if fitted is not None:
        lines.append(f"  Opening current: {plus_minus(fitted.opening, 'A')}"
                     + (f"; scatter {np.std(fitted.currents, ddof=1):.2g} A over {len(fitted.currents)} openings."
                        if len(fitted.currents) > 1 else "."))
        what = "EMF, peak" if found.kind == "magneto" else "Supply"
        if found.supply is not None:
            lines.append(f"  {what}: {plus_minus(found.supply, 'V')}.")
        if found.inductance is not None:
            lines.append(f"  Inductance of the loop: {plus_minus(found.inductance, 'mH', 1e3)}.")
        if found.resistance is not None:
            lines.append(f"  Resistance of the loop: {plus_minus(found.resistance, 'ohm')}.")
    if fitted is not None and not found.doubted:
        lines.append(f"  Supply over inductance (V/L): {plus_minus(fitted.pull, 'A/ms', 1e-3)}.")
        lines.append(f"  Resistance over inductance (R/L): {plus_minus(fitted.decay, 'a second')}.")
    if fitted is not None:
        lines.append(f"  Noise of a sample: {fitted.noise:.2g} A; the recorder's zero: {fitted.theta[ZERO]:.2g} A.")
        if found.scale_from and found.supply is not None:
            lines.append(f"  The volts come from {'what you said' if found.scale_from == 'you' else 'the contact voltage'}.")
    if found.meters:
        lines.append(f"  Meters would read: mean {found.meters['mean']:.2f} A, rectified mean {found.meters['rectified']:.2f} A, "
                     f"RMS {found.meters['rms']:.2f} A.")
    for title, sentences in (("What cannot be told", found.sentences), ("Guessed", trace.guesses), ("Left out", trace.messages)):
        if sentences:
            lines += ["", f"{title}:", *(wrapped(sentence) for sentence in dict.fromkeys(sentences))]
    if fitted is not None:
        lines += ["", wrapped("'95 in 100: a to b' means that in 95 of 100 such captures the true value lies between a and b.")]
    lines += ["", wrapped("The loop is source, leads, primary and closed contacts together; the errors are those of the fit and "
                          "the model, not of your probes' scales."), wrapped(CAUTIONS)]
    return "\n".join(lines) + "\n"


def _supply(found: Found) -> str:
    if found.kind == "battery":
        return "a battery, by the current's one direction"
    if found.kind == "magneto":
        if found.rpm is None or found.pulse is None:
            return "a magneto, by the current's two directions"
        return (f"a magneto, by the current's two directions; pulses of {plus_minus(found.pulse, 'ms', 1e3)}, "
                f"crank {plus_minus(found.rpm, 'rpm')}")
    if "current" in found.trace.values:
        return "a battery or one pulse of a magneto, which cannot be told apart here"
    return "cannot be told without the current"


def _every(found: Found) -> str:
    times = [one.time for one in found.breaks]
    return f", one every {1e3 * float(np.median(np.diff(times))):.3g} ms" if len(times) > 2 else ""


# ------------------------------------------------------------------------------------------------------ rows of a sheet
def rows(found: Found, known: Known, coil: str, day: str = "") -> list[dict[str, str]]:
    """Return the readings that a bench sheet takes, by column; nothing that is not known. coil, day : for those columns"""
    base = {"coil": coil, "date": day, "remark": "from a capture"}
    if found.kind == "battery" and found.supply is not None and found.supply.error > UNSURE * found.supply.value:
        return []
    if found.kind == "magneto":
        if found.rpm is None or not 20.0 <= found.rpm.value <= 5000.0:
            return []
        base |= {"speed_rpm": f"{found.rpm.value:.1f}"}
        if known.drive_percent is not None:
            base["drive_percent"] = f"{known.drive_percent:g}"
    elif found.kind == "battery":
        if found.supply is None or not 0.5 <= found.supply.value <= 100.0:
            return []
        base |= {"supply": "battery", "supply_V": f"{found.supply.value:.2f}"}
    else:
        return []
    made = []
    opening = _opening_current(found) if "current" not in found.withheld else None
    if opening is not None:
        made.append({**base, "reading": "opening current", "value": f"{opening:.3f}", "unit": "A"})
    if found.kind == "magneto" and found.sparks and found.pulses >= 2 and "sparks" not in found.withheld:
        made.append({**base, "reading": "sparks per pulse", "value": f"{np.mean(found.sparks):.3f}"})
    for key, name in (("mean", "meter mean"), ("rectified", "meter rectified mean"), ("rms", "meter RMS")):
        value = found.meters.get(key)
        if value is None or {"meters", "current"} & found.withheld:
            continue
        if 0.0 <= value <= 50.0 and not (key == "mean" and found.kind == "magneto"):
            made.append({**base, "reading": name, "value": f"{value:.3f}", "unit": "A"})
    return made


WORTH_READING = 0.7  # A: less in some 4 mH is under run.WORTH_BREAKING, a bounce of the closing contacts


def _opening_current(found: Found) -> float | None:
    """Return the mean over pulses of the current (A) at each pulse's first parting that is no bounce, as the sheet wants it."""
    if found.rise is None:
        return None
    by_pulse: dict[int, float] = {}
    for number, (stretch, current) in enumerate(zip(found.rise.stretches, found.rise.currents)):
        key = number
        if found.kind == "magneto" and found.pulse is not None:
            key = int(np.floor(stretch.at.time / found.pulse.value + found.rise.theta[PHASE] / np.pi))
        if current >= WORTH_READING:
            by_pulse.setdefault(key, float(current))
    if not by_pulse:
        return None
    value = float(np.mean(list(by_pulse.values())))
    return value if 0.05 <= value <= 50.0 else None


def sheet_text(found: Found, known: Known, coil: str, day: str = "") -> str:
    """Return the rows as a bench sheet of their own. found, known, coil, day : as in `rows`"""
    return write_rows(rows(found, known, coil, day))


# -------------------------------------------------------------------------------------------------------- a recording
def heard_card(heard: Heard, known: Known, name: str) -> str:
    """Return what was heard as text. known : what the person said; name : of the file"""
    head = f"{name}  ({heard.pulses} pulses)"
    lines = [head, "=" * min(100, len(head)),
             f"  Sparks per pulse: {heard.count:.2f} (between {heard.low:.2f} and {heard.high:.2f}).",
             f"  Pulses: one every {1e3 * heard.gap:.3g} ms, which is {heard.rpm(known.pole_pairs):.0f} rpm with "
             f"{known.pole_pairs} pairs of "
             "poles.", "", *(wrapped(sentence) for sentence in heard.sentences),
             *([wrapped(too_wide(heard))] if too_wide(heard) else []), "",
             wrapped("Clicks are counted, and a click is taken for a spark by its height and suddenness. This was tried on "
                     "imagined "
                     "recordings only; no real coil has been heard yet."), wrapped(CAUTIONS)]
    return "\n".join(lines) + "\n"


TAKEN_FOR = 2.571  # errors to either side that hold 95 in 100: Student's t of errors.FREEDOM


def too_wide(heard: Heard) -> str:
    """Return why a count is no reading for a sheet though somebody said the speed, in a sentence, "" where it is one.

    A sheet's row bears no error of its own: the judge takes every count to be as sure as errors.ERRORS says.
    """
    judged = TAKEN_FOR * (ERRORS["sparks"].share * heard.count + ERRORS["sparks"].fixed)
    if max(heard.high - heard.count, heard.count - heard.low) <= judged:
        return ""
    return (f"The limits are wider than a bench sheet takes a count to have (within {judged:.2f} to either side), so it gets no "
            "row; record longer, closer to the gap, something soft around it.")


def heard_rows(heard: Heard, known: Known, coil: str, day: str = "") -> list[dict[str, str]]:
    """Return the row of a bench sheet, its limits in the remark. known, coil, day : as in `rows`

    There is none where nobody said the speed, or the limits are too wide.
    """
    if known.speed_rpm is None or too_wide(heard):
        return []
    row = {"coil": coil, "date": day, "speed_rpm": f"{known.speed_rpm:.1f}", "reading": "sparks per pulse",
           "value": f"{heard.count:.3f}",
           "remark": f"from a recording; between {heard.low:.2f} and {heard.high:.2f}, {heard.pulses} pulses"}
    return [row | ({"drive_percent": f"{known.drive_percent:g}"} if known.drive_percent is not None else {})]


# ------------------------------------------------------------------------------------------------------------ the model
@dataclass(frozen=True)
class Likeness:
    """The model with the fitted numbers, and what was assumed for it."""

    run: Run
    said: str


def likeness(found: Found) -> Likeness | None:
    """Return a run of the model with the fitted supply, inductance, resistance and opening current; None where it has none.

    Source and coil cannot be told apart in one loop: the source keeps its nominal part, the coil takes the rest. The vibrator's
    preload is set so that the contacts part at the current found.
    """
    fitted = found.rise
    if fitted is None or fitted.decay.value <= 0.0:
        return None
    nominal = Machine()
    magneto = found.kind == "magneto"
    source = nominal.magneto if magneto else BatteryDrive()
    size = abs(fitted.pull.value)
    said = ""
    if found.inductance is not None and found.resistance is not None:
        henries, ohms = found.inductance.value, found.resistance.value
    else:
        henries = source.inductance + nominal.coil.primary_inductance
        ohms = fitted.decay.value * henries
        said = f"The inductance is taken as the nominal {1e3 * henries:.2g} mH, since the current alone does not tell it. "
    volts = size * henries
    share = min(0.75, source.inductance / henries) if magneto else source.inductance / henries
    rest = max(0.05, ohms - nominal.contacts.resistance)
    part = min(0.75, source.resistance / rest)
    drive: MagnetoDrive | BatteryDrive
    try:
        machine = nominal.but(coil={"primary_inductance": henries * (1.0 - share), "primary_resistance": rest * (1.0 - part)})
        if magneto:
            if found.rpm is None or found.pulse is None:
                return None
            machine = machine.but(magneto={"inductance": henries * share, "resistance": rest * part})
            drive = MagnetoDrive(30.0 / (nominal.magneto.pole_pairs * found.pulse.value), 1.0)
            linkage = volts * pulse_seconds(machine, drive) / np.pi
            machine = machine.but(magneto={"flux_linkage": float(linkage)})
        else:
            drive = BatteryDrive(volts, rest * part, source.inductance)
        machine = _preloaded(machine, drive, fitted.opening.value)
        period = pulse_seconds(machine, drive)
        run = simulate(machine, drive, pulses=4, warm_up=6, record=(0, 3), rows_a_pulse=max(400, int(period / 4e-6)))
    except ValueError as error:
        found.sentences.append(f"The model cannot be run with these numbers: {error}")
        return None
    return Likeness(run, said + "Springs and gaps are the nominal ones, the vibrator's preload set for the opening current "
                                "found.")


def _preloaded(machine: Machine, drive: MagnetoDrive | BatteryDrive, wanted: float) -> Machine:
    """Return `machine` with the vibrator's preload at which its contacts part at about `wanted` amperes on `drive`."""
    low, high = 0.3, 2.5
    best, away = machine, np.inf
    for _ in range(TRIES):
        middle = 0.5 * (low + high)
        trial = machine.scaled(vibrator_preload=middle)
        currents = [abs(o.current) for o in first_openings(simulate(trial, drive, pulses=4, warm_up=4))]
        current = float(np.mean(currents)) if currents else np.inf
        if abs(current - wanted) < away:
            best, away = trial, abs(current - wanted)
        if current > wanted:
            high = middle
        else:
            low = middle
    return best
