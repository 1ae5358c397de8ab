"""What a capture says of its coil: openings, speed or battery, the fitted circuit with its errors, and what cannot be told."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from coilbench.capture import rise as rises
from coilbench.capture.findings import Found
from coilbench.capture.openings import COARSEST, Break, Even, even, filled, find_breaks, find_quiet_breaks, straight
from coilbench.capture.possible import gate
from coilbench.capture.rise import MODEL_ERROR, Estimate, Rise
from coilbench.capture.trace import NAMES, TIME_UNITS, Trace

Progress = Callable[[str, int, int], None]

FIRED_FROM, FIRED_TO = 12e-6, 50e-6  # s after a secondary's peak in which a burning spark holds it low
FIRED_UNDER = 0.25  # of the peak: the root mean square there; a ring that fires nothing has far more
BLOCK_OF_METER = 2e-5  # s over which the current is averaged before it is rectified, so that noise does not count as current
ZERO_ERROR = 0.03  # of the opening current
RING = 5e-4  # s after a break over which the ring's middle is taken
REST = 4e-3  # s of no current that show the zero
AHEAD = 2.5e-4  # s before the stretches in which the secondary's ring is sought
SHORT = 0.03  # s; one direction of the current in a shorter capture may be one pulse of a magneto
OFFSET = 0.12  # of the opening current: a zero that lies further off is put right before openings are sought
OTHER_WAY = 0.25  # of the opening current, flowing the other way for a millisecond: no battery does that
LET_THROUGH = 0.04  # of the opening current: a battery's mean current under this is no battery's, but a channel set to AC
COARSE = 7e-5  # s, likewise, for what a ring adds: only the finer average sees it
SUPPLY_WIDER = 1.8
"""By how much the error of a battery's volts is stated wider still; set on 65 captures of `trial` (seeds 20000 to 20159,
those that the gate lets through), of which 86 in 100 intervals had held the truth without it."""
UNSURE = 0.35  # relative standard error from which a number is said not to be told


@dataclass(frozen=True)
class Known:
    """What the person knows beforehand. None: they say nothing."""

    supply: str = ""  # battery | magneto | "" to be found out
    supply_volts: float | None = None  # V: battery, or the EMF's peak
    loop_ohms: float | None = None  # ohm: source, leads, primary and closed contacts together
    speed_rpm: float | None = None
    pole_pairs: int = 8
    zeroed: bool = False  # the current channel shows zero where no current flows
    drive_percent: float | None = None


def analyse(trace: Trace, known: Known | None = None, progress: Progress | None = None) -> Found:
    """Return what `trace` says. known : what the person knows; progress : called with (words, done, total) on the way.

    Raises ValueError in one sentence where the capture cannot be used.
    """
    known = known or Known()
    tell = progress or (lambda words, done, total: None)
    tell("Finding the openings", 1, 4)
    breaks = _time_and_breaks(trace)
    if "current" not in trace.values:
        return _voltage_only(trace, known)
    current = trace.values["current"]
    if not breaks:
        raise ValueError(_why_no_breaks(trace))
    breaks, offset = _off_zero(trace, breaks, known)
    current = trace.values["current"]
    kind = known.supply or ("magneto" if known.speed_rpm is not None else _kind(trace, breaks))
    if kind == "unknown":
        return _one_direction(trace, breaks)
    found = Found(kind, trace, breaks)
    if offset:
        found.sentences.append(f"The current's zero is far off: between the kicks the recorder shows some {offset:.2g} A. "
                               "That is taken "
                               "off, roughly; zero the clamp and record again.")
    if kind == "battery" and float(np.median([one.current for one in breaks])) < 0.0:
        found.flipped = True
        trace.values["current"] = current = -current
        breaks = found.breaks = [Break(one.time, one.error, -one.current) for one in breaks]
        trace.guesses.append("The current is negative throughout: the clamp or shunt sits the wrong way round, so its sign is "
                             "turned.")
    if kind == "battery":
        breaks = found.breaks = [one for one in breaks if one.current > 0.0]
    smooth = even(trace.time, current)
    zero = _zero(found, smooth, known) if not offset else Estimate(0.0, 0.1 * float(np.median([abs(b.current) for b in breaks])))
    _coupled(found, smooth, offset)
    tell("Fitting the rise", 2, 4)
    omega = 0.0
    if kind == "magneto":
        pulse = _pulse(breaks, known)
        if pulse is None:
            found.sentences.append("Only one pulse's breaks are here, so the speed cannot be told; record a few pulses, or say "
                                   "--speed.")
        else:
            omega = float(np.pi / pulse)
    found.rise = _fit(found, smooth, zero, omega)
    found.zero = zero.value
    if found.rise is not None:
        found.zero = float(found.rise.theta[rises.ZERO])
    tell("Volts, ohms and henries", 3, 4)
    _scale(found, known)
    _speed(found, known, omega)
    _count(found, smooth)
    gate(found)
    tell("Done", 4, 4)
    return found


def _off_zero(trace: Trace, breaks: list[Break], known: Known) -> tuple[list[Break], float]:
    """Return the breaks after a zero that is far off has been taken off the current, and that zero (A; 0: it is not far off).

    While the contacts are apart the current rings about zero, so the ring's middle shows what the recorder calls zero.
    """
    if known.zeroed:
        return breaks, 0.0
    total = 0.0
    for _ in range(3):
        usual = float(np.median([abs(one.current) for one in breaks]))
        smooth = even(trace.time, trace.values["current"])
        y, count = filled(smooth.mean), max(2, int(RING / smooth.step))
        middles = [float(y[place:place + count].mean()) for one in breaks
                   if 0 <= (place := int(one.time / smooth.step)) <= len(y) - count]
        middle = float(np.median(middles)) if middles else 0.0
        if not np.isfinite(middle) or abs(middle) < OFFSET * usual:
            break
        kept = trace.values["current"]
        trace.values["current"] = kept - middle
        again = _breaks_of(trace, "current")
        if not again:
            trace.values["current"] = kept
            break
        breaks, total = again, total + middle
    return breaks, total


def _one_direction(trace: Trace, breaks: list[Break]) -> Found:
    """Return what a capture tells that is too short to know what drives the coil."""
    found = Found("unknown", trace, breaks)
    found.sentences.append(f"The capture lasts {1e3 * trace.time[-1]:.3g} ms and its current goes one way: that is a "
                           "battery, or one pulse of "
                           f"a magneto. Record {1e3 * SHORT:.0f} ms or more, or say --supply battery, --supply magneto or "
                           "--speed.")
    return found


def _coupled(found: Found, smooth: Even, offset: float) -> None:
    """Say where a battery's current has no mean: the channel lets no direct current through, and its amperes mean little."""
    if found.kind != "battery":
        return
    usual = float(np.median([abs(one.current) for one in found.breaks]))
    mean = float(np.nanmean(smooth.mean)) + offset
    if abs(mean) < LET_THROUGH * usual and offset < -0.05 * usual:
        found.withheld |= {"current", "meters"}
        found.sentences.append("The current's mean over the whole capture is zero, which a battery's never is: the channel "
                               "is set to AC "
                               "coupling and its zero wanders. Set it to DC and record again; until then no current goes "
                               "into a bench "
                               "sheet.")


# ----------------------------------------------------------------------------------------- time unit, channels, breaks
def _time_and_breaks(trace: Trace) -> list[Break]:
    """Settle the unit of the time and which channel is the current, where nobody said; return the breaks."""
    if trace.unit_known:
        return _breaks(trace)
    usual, length = float(np.median(np.diff(trace.time[:200_001]))), float(trace.time[-1])
    trials = []
    for name, factor in TIME_UNITS.items():
        if 4e-8 <= usual * factor <= COARSEST and 2e-3 <= length * factor <= 1000.0:
            trial = dataclasses.replace(trace, time=trace.time * factor, guesses=[], messages=[])
            try:
                breaks = _breaks(trial)
            except ValueError:
                breaks = []
            gaps = np.diff([one.time for one in breaks])
            likely = len(gaps) > 0 and 8e-4 <= float(np.median(gaps)) <= 5e-2
            trials.append((likely, len(breaks) > 0, name, factor, breaks, trial))
    if not trials:
        trace.guesses.append("Nobody says the unit of the time; seconds are taken (say --time COLUMN:ms for another).")
        return _breaks(trace)
    _, _, name, factor, breaks, trial = max(trials, key=lambda one: one[:2])
    trace.time, trace.values, trace.clipped = trial.time, trial.values, trial.clipped
    trace.messages += trial.messages
    trace.guesses.append(f"Nobody says the unit of the time; {name} is taken, which fits a coil at work (say --time COLUMN:UNIT "
                         "for another).")
    trace.guesses += trial.guesses
    return breaks


def _breaks(trace: Trace) -> list[Break]:
    """Return the breaks of the current. Where columns were taken by their place and another one breaks off better, swap them."""
    if "current" not in trace.values:
        return []
    found = _breaks_of(trace, "current")
    by_place = any("by its place" in line for line in trace.guesses)
    if found or not by_place:
        return found
    for role in ("contact", "secondary"):
        if role in trace.values and len(other := _breaks_of(trace, role)) > 1:
            trace.values["current"], trace.values[role] = trace.values[role], trace.values["current"]
            trace.clipped["current"], trace.clipped[role] = trace.clipped[role], trace.clipped["current"]
            trace.guesses.append(f"The column taken as the {NAMES[role]} rises and breaks off as a current does, and the other "
                                 "one does not, so the two are swapped.")
            return other
    return found


def _breaks_of(trace: Trace, role: str) -> list[Break]:
    values = trace.values[role]
    clipped = trace.clipped.get(role)
    if clipped is not None and clipped.mean() > 0.0:  # for finding breaks a clipped top is as good as a whole one
        finite = values[np.isfinite(values)]
        values = np.where(clipped, np.where(filled(values) > np.median(finite), finite.max(), finite.min()), values)
    return find_breaks(trace.time, values)


def _why_no_breaks(trace: Trace) -> str:
    values = trace.values["current"]
    finite = values[np.isfinite(values)]
    if np.ptp(finite) == 0.0:
        return (f"The primary current stands still at {finite[0]:.4g} A in every sample: nothing flows, or the clamp or shunt is "
                "not connected.")
    if trace.clipped["current"].mean() > 0.3:
        return "The primary current is clipped so much that no break can be seen; choose a larger range and record again."
    return ("The primary current never rises and then breaks off suddenly, so there is no opening of the contacts to fit: they "
            "do not open, the capture is too short, too coarse or too noisy, or the channel is not the primary current.")


def _kind(trace: Trace, breaks: Sequence[Break]) -> str:
    """Return battery, magneto or unknown: a magneto's current goes both ways, a short capture may show one of them only."""
    up = sum(one.current > 0 for one in breaks)
    if min(up, len(breaks) - up) >= max(1, 0.2 * len(breaks)):
        return "magneto"
    usual = float(np.median([abs(one.current) for one in breaks]))
    sign = 1.0 if 2 * up >= len(breaks) else -1.0
    smooth = even(trace.time, trace.values["current"])
    width = max(1, int(1e-3 / smooth.step))
    slow = np.convolve(filled(smooth.mean), np.ones(width) / width, mode="valid")
    if len(slow) and float(np.max(-sign * slow)) > OTHER_WAY * usual:
        return "magneto"
    return "battery" if trace.time[-1] >= SHORT else "unknown"


def _voltage_only(trace: Trace, known: Known) -> Found:
    """Return what the contact voltage alone tells: how often the contacts part."""
    if "contact" not in trace.values:
        raise ValueError("There is no primary current and no contact voltage in this capture, so nothing of the circuit can be "
                         "fitted; say which column is which, as in --current 2:10A/V.")
    times = find_quiet_breaks(trace.time, trace.values["contact"])
    if not times:
        raise ValueError("The contact voltage never leaves zero suddenly after a quiet time, so no opening can be seen in it.")
    found = Found(known.supply or "unknown", trace, [Break(time, COARSEST, np.nan) for time in times])
    found.sentences.append("Without the primary current neither opening current nor supply, inductance or resistance can be "
                           "told.")
    return found


# ------------------------------------------------------------------------------------------------------------ the zero
def _zero(found: Found, smooth: Even, known: Known) -> Estimate:
    """Return what the recorder shows at no current.

    On a magneto the fit finds it, for pulses alternate. On a battery: a rest of some milliseconds, if the capture has one; else
    the recorder is believed to `ZERO_ERROR` of the opening current, unless the ring after the breaks lies far off zero.
    """
    usual = float(np.median([abs(one.current) for one in found.breaks]))
    if known.zeroed:
        return Estimate(0.0, 0.002 * usual)
    if found.kind == "magneto":
        return Estimate(0.0, 0.3 * usual)
    rest = _resting(smooth, usual)
    if rest is not None:
        return rest
    count = max(2, int(RING / smooth.step))
    y = filled(smooth.mean)
    rings = [y[place:place + count].mean() for one in found.breaks
             if 0 <= (place := int(one.time / smooth.step)) <= len(y) - count]
    middle = float(np.median(rings)) if rings else 0.0
    if np.isfinite(middle) and not -0.2 * usual < middle < 0.35 * usual:
        found.sentences.append(f"The current's zero is far off, by about {middle:.2g} A: it is taken from the middle of the ring "
                               "after each break, which is rough. Zero the clamp and record again.")
        return Estimate(middle, 0.1 * usual)
    found.sentences.append(f"The current's zero is taken to be right to {100 * ZERO_ERROR:.0f} % of the opening current; zero "
                           "the clamp before you record and say --zeroed, or record a rest of some milliseconds too.")
    return Estimate(0.0, ZERO_ERROR * usual)


def _resting(smooth: Even, usual: float) -> Estimate | None:
    """Return the level of a stretch of REST seconds in which the current keeps still, None where there is none."""
    count = int(REST / smooth.step)
    if len(smooth.mean) < 2 * count or count < 8:
        return None
    lines = straight(smooth.mean, count)
    level = lines.level - 0.5 * count * lines.slope
    still = lines.enough & (np.abs(lines.slope) * count < 0.03 * usual) & (lines.scatter < 0.12 * usual)
    still &= np.abs(level) < 0.5 * usual
    if not still.any():
        return None
    best = int(np.argmin(np.where(still, lines.scatter, np.inf)))
    return Estimate(float(level[best]), float(lines.scatter[best]) / np.sqrt(count) + 0.002 * usual)


# ------------------------------------------------------------------------------------------------------------- the fit
def _pulse(breaks: Sequence[Break], known: Known) -> float | None:
    """Return the length of a magneto's pulse (s) from the first breaks of its pulses, None where there is only one pulse."""
    if known.speed_rpm is not None:
        return 30.0 / (known.pole_pairs * known.speed_rpm)
    firsts = [breaks[0]]
    for before, one in zip(breaks, breaks[1:]):
        if before.current * one.current < 0.0:
            firsts.append(one)
    if len(firsts) < 2:
        return None
    times = np.array([one.time for one in firsts])
    usual = float(np.median(np.diff(times)))
    gaps = np.diff(times)
    number = np.concatenate(([0.0], np.cumsum(np.maximum(1.0, 2.0 * np.round((gaps / usual - 1.0) / 2.0) + 1.0))))
    return float(np.polyfit(number, times, 1)[0]) if len(times) > 2 else usual


def _fit(found: Found, smooth: Even, zero: Estimate, omega: float) -> Rise | None:
    """Return the fitted rise: first the steep part of each, then as much of it as follows the same law."""
    trace, breaks = found.trace, found.breaks
    time, current = trace.time, trace.values["current"]
    if found.kind == "magneto" and omega <= 0.0:
        return None
    stretches = rises.first_guess(time, current, smooth, breaks, zero.value)
    if not stretches:
        found.sentences.append("Every rise is shorter than a quarter of a millisecond or has too few samples, so nothing can be "
                               "fitted; record with more samples a second.")
        return None

    def once(some: list[rises.Stretch], theta: np.ndarray | None, rough: bool = True) -> Rise:
        if theta is None:
            theta = (rises.guess_battery(some, zero.value) if found.kind == "battery"
                     else rises.guess_magneto(some, omega, zero.value))
        return rises.fit(found.kind, some, theta, zero, rough)

    floors_of = {one.time: (breaks[place - 1].time + rises.SETTLE if place else 0.0) for place, one in enumerate(breaks)}
    try:
        fitted = once(stretches, None)
        for last in (False, False, True):
            kept = rises.without_odd(fitted)
            floors = [floors_of[stretch.at.time] for stretch in kept]
            theta = fitted.theta
            if not fitted.rings:  # the ring is strongest just before where the fit begins so far
                earlier = rises.begun(kept, time, current, [max(floor, float(stretch.time[0]) - AHEAD)
                                                            for stretch, floor in zip(kept, floors)])
                found_ring = rises.with_ring(fitted, earlier)
                theta = theta if found_ring is None else found_ring
            if len(kept) < len(fitted.stretches) or len(theta) > len(fitted.theta):
                fitted = once(kept, theta)
            fitted = once(rises.extended(fitted, time, current, floors), fitted.theta, not last)
    except (ValueError, np.linalg.LinAlgError) as error:
        found.sentences.append(str(error) if isinstance(error, ValueError) else "The rise of the current cannot be fitted.")
        return None
    if not np.all(np.isfinite(np.diag(fitted.cov))) or fitted.theta[0] == 0.0:
        found.sentences.append("The rise of the current cannot be fitted: nothing in it depends on the supply.")
        return None
    return fitted


# ---------------------------------------------------------------------------------------- from ratios to volts and ohms
def _scale(found: Found, known: Known) -> None:
    """Find V, L and R where anything beyond the current tells their common scale."""
    fitted = found.rise
    if fitted is None:
        return
    size = fitted.theta[0]
    decay = fitted.decay
    if known.supply_volts is not None:
        pull = fitted.pull
        found.scale_from = "you"
        found.supply = Estimate(known.supply_volts, 0.0)
        value = known.supply_volts / abs(pull.value)
        found.inductance = Estimate(value, value * pull.error / abs(pull.value), pull.freedom)
        _, ratio = _ratio(fitted)
        ohms = known.supply_volts * decay.value / abs(size)
        found.resistance = Estimate(ohms, known.supply_volts * ratio, decay.freedom)
    elif known.loop_ohms is not None:
        found.scale_from = "you"
        found.resistance = Estimate(known.loop_ohms, 0.0)
        if decay.value > 3.0 * decay.error:
            share = decay.error / decay.value
            value = known.loop_ohms / decay.value
            found.inductance = Estimate(value, value * share, decay.freedom)
            found.supply = Estimate(value * abs(size), value * abs(size) * share, decay.freedom)
        else:
            found.sentences.append("The rise hardly bends, so from the loop's ohms alone neither supply nor inductance can be "
                                   "told.")
    elif "contact" in found.trace.values:
        _volt_seconds(found)
    if not found.scale_from:
        found.sentences.append(
            "A current alone tells the ratios V/L and R/L only: supply, inductance and resistance, all three larger or smaller "
            "by one factor, make the same current. Record the contact voltage too, or say --supply-volts or --loop-ohms.")
    if decay.error > UNSURE * abs(decay.value):
        low, high = decay.interval()
        found.sentences.append(
            "The current hardly bends before the contacts part, or too much noise lies over it, so the resistance is hardly "
            f"known (R/L lies between {max(0.0, low):.0f} and {high:.0f} a second). An ohmmeter tells it better: contacts held "
            "closed, supply off.")


def _ratio(fitted: Rise) -> tuple[float, float]:
    """Return R/V (1/A) and its error."""
    a, b = fitted.theta[0], fitted.theta[1]
    slope = np.array([-b / a ** 2, 1.0 / a])
    variance = float(slope @ fitted.cov[:2, :2] @ slope)
    return float(b / abs(a)), float(np.hypot(np.sqrt(max(variance, 0.0)), MODEL_ERROR * b / abs(a)))


def _volt_seconds(found: Found) -> None:
    """Find the scale by the volt-second balance from each break to the next closed stretch.

    Whatever sparks and arcs do on the way, the loop's flux linkage changes by the volt-seconds of the supply, less those of
    the resistance and of the contacts: L (a E - b Q - change of Lambda i) = W, with E, Q, W the integrals over time of e, the
    current and the contact voltage. Faraday's law; any text, e.g. Feynman Lectures II, 17-1.
    """
    fitted, trace = found.rise, found.trace
    assert fitted is not None
    time, volts, current = trace.time, trace.values["contact"], trace.values["current"]
    order = {one.time: place for place, one in enumerate(found.breaks)}
    pairs = [(place, place + 1) for place, (one, two) in enumerate(zip(fitted.stretches, fitted.stretches[1:]))
             if order[two.at.time] == order[one.at.time] + 1]
    usual = float(np.median(np.diff(time[:200_001])))
    quiet = [volts[slice(*np.searchsorted(time, (s.time[0], s.time[-1])))] for s in fitted.stretches]
    still = np.concatenate(quiet) if quiet else np.empty(0)
    still = still[np.isfinite(still)]
    if len(still) < 20:
        found.sentences.append("The contact voltage has too few samples while the contacts are closed, so its zero is not known.")
        return
    rest = float(np.mean(still))
    rest_error = float(np.std(still)) / np.sqrt(len(still)) * np.sqrt(fitted.tied)
    spans, volt_seconds, charges, lost = [], [], [], 0
    for place, after in pairs:
        begin, end = fitted.stretches[place].at.time, float(fitted.stretches[after].time[0])
        first, last = np.searchsorted(time, (begin, end))
        if last - first < 6 or np.diff(time[first - 1:last + 1]).max(initial=0.0) > 8.0 * usual:
            continue
        part = volts[first:last]
        if trace.clipped["contact"][first:last].any() or np.isfinite(part).mean() < 0.97:
            lost += 1
            continue
        edges = np.concatenate(([begin], time[first:last], [end]))
        inner = np.concatenate(([0.0], filled(part) - rest, [0.0]))
        amps = np.concatenate(([0.0], filled(current[first:last]), [0.0]))
        amps[0], amps[-1] = amps[1], amps[-2]
        spans.append((place, after, begin, end))
        volt_seconds.append(float(np.trapezoid(inner, edges)))
        charges.append(float(np.trapezoid(amps, edges)))
    if len(spans) < 3:
        found.sentences.append(
            "The contact voltage is clipped in nearly every kick, so it cannot give the volts; choose a larger "
            "range." if lost else
            "There are too few openings with a whole closed stretch after them for the contact voltage to give the volts.")
        return
    flat = rises.flatten(fitted.stretches)
    w, q = np.array(volt_seconds), np.array(charges)

    def inductance(theta: np.ndarray) -> tuple[float, np.ndarray]:
        now = rises.residual(theta, found.kind, flat)
        d = np.empty(len(spans))
        for row, (place, after, begin, end) in enumerate(spans):
            if found.kind == "battery":
                emf = end - begin
            else:
                omega, phase = theta[rises.OMEGA], theta[rises.PHASE]
                emf = (np.cos(omega * begin + phase) - np.cos(omega * end + phase)) / omega
            charge = q[row] - theta[rises.ZERO] * (end - begin)
            d[row] = theta[0] * emf - theta[1] * charge - (now.starts[after, 0] - (1.0 + theta[2]) * now.at_break[place])
        return float(w @ d / (d @ d)), d

    theta = fitted.theta
    value, d = inductance(theta)
    if abs(value) * np.sqrt(d @ d) < 0.3 * np.sqrt(w @ w) or value == 0.0:
        found.sentences.append("Contact voltage and current do not belong together (the volt-seconds of the kicks are not those "
                               "of the current's fall), so the volts cannot be told; check what each channel is and its scale.")
        return
    if value < 0.0:
        trace.guesses.append("The contact voltage is reversed against the current, so its sign is turned.")
        trace.values["contact"] = -volts
        value, w = -value, -w
    left = w - value * d
    count = len(spans)
    own = float(np.sum((d * left) ** 2)) / float(d @ d) ** 2 * count / (count - 1.0)
    drift = rest_error * float(np.sum(d * np.array([end - begin for _, _, begin, end in spans]))) / float(d @ d)
    steps = np.sqrt(np.maximum(np.diag(fitted.cov), 1e-300)) * 0.1
    sign = 1.0 if np.sign(inductance(theta)[0]) == np.sign(value) else -1.0

    def all_three(now: np.ndarray) -> np.ndarray:
        henries = inductance(now)[0] * (sign if value else 1.0)
        return np.array([abs(now[0]) * henries, henries, now[1] * henries])

    slopes = np.empty((3, len(theta)))
    for place in range(len(theta)):
        step = np.zeros(len(theta))
        step[place] = steps[place]
        slopes[:, place] = (all_three(theta + step) - all_three(theta - step)) / (2.0 * steps[place])
    values = np.array([abs(theta[0]) * value, value, theta[1] * value])
    own_share = rises.WIDER[found.kind] ** 2 * (own + drift ** 2) / value ** 2 + MODEL_ERROR ** 2
    errors = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", slopes, fitted.cov, slopes), 0.0) + own_share * values ** 2)
    if found.kind == "battery":
        errors[0] *= SUPPLY_WIDER
    freedom = min(fitted.freedom, count - 1.0)
    found.supply, found.inductance, found.resistance = (Estimate(float(one), float(error), freedom)
                                                        for one, error in zip(values, errors))
    found.scale_from = "contact voltage"


# ------------------------------------------------------------------------------------------------- speed, sparks, meters
def _speed(found: Found, known: Known, omega: float) -> None:
    if found.kind != "magneto" or omega <= 0.0:
        return
    if found.rise is not None:
        omega = float(abs(found.rise.theta[rises.OMEGA]))
        share = float(np.sqrt(found.rise.cov[rises.OMEGA, rises.OMEGA])) / omega
        freedom = found.rise.freedom
    else:
        share, freedom = 0.02, np.inf
    pulse = np.pi / omega
    found.pulse = Estimate(pulse, pulse * share, freedom)
    rpm = 30.0 / (known.pole_pairs * pulse)
    found.rpm = Estimate(rpm, rpm * share, freedom)
    hertz = 0.5 / pulse
    for mains in (50.0, 60.0):
        if abs(hertz / mains - 1.0) < max(0.004, 2.0 * share):
            found.sentences.append(f"Whether it is a magneto: its pulses come at {hertz:.2f} cycles a second, and a bench "
                                   f"transformer on {mains:.0f} Hz mains would look the same.")


def _count(found: Found, smooth: Even) -> None:
    """Count openings and sparks in whole pulses, and read the meters over whole pulses or cycles."""
    times = np.array([one.time for one in found.breaks])
    end = float(found.trace.time[-1])
    fired = _fired(found)
    low, high = float(times[0]), float(times[-1])
    if found.kind == "magneto" and found.rise is not None:
        omega, phase = float(found.rise.theta[rises.OMEGA]), float(found.rise.theta[rises.PHASE])
        first, last = int(np.ceil(phase / np.pi + 0.02)), int(np.floor((omega * end + phase) / np.pi - 0.02))
        found.pulses = max(0, last - first)
        number = np.floor((omega * times + phase) / np.pi).astype(int) - first
        inside = (number >= 0) & (number < found.pulses)
        found.per_pulse = np.bincount(number[inside], minlength=found.pulses).tolist()
        if fired is not None:
            found.sparks = np.bincount(number[inside], weights=fired[inside], minlength=found.pulses).astype(int).tolist()
        whole = found.pulses - found.pulses % 2  # whole cycles, or the mean is not its own
        low, high = (first * np.pi - phase) / omega, ((first + whole) * np.pi - phase) / omega
    elif fired is not None:
        found.sparks = fired.astype(int).tolist()
    part = (smooth.time >= low) & (smooth.time < high)
    if high - low > 5e-3 and part.sum() > 50 and np.isfinite(smooth.mean[part]).mean() > 0.9:
        width, wide = (max(1, round(span / smooth.step)) for span in (BLOCK_OF_METER, COARSE))
        amps = filled(smooth.mean[part]) - found.zero
        noise = 0.0
        if found.rise is not None:
            usual = float(np.median(np.diff(found.trace.time[:200_001])))
            noise = found.rise.noise / np.sqrt(max(1.0, smooth.step / usual))
        squares = float(np.mean(amps ** 2)) - noise ** 2
        soft = np.convolve(amps, np.ones(width) / width, mode="valid")
        softer = np.convolve(amps, np.ones(wide) / wide, mode="valid")
        found.meters = {"smooth": float(np.mean(np.abs(softer))), "mean": float(np.mean(amps)),
                        "rectified": float(np.mean(np.abs(soft))),
                        "rms": float(np.sqrt(max(squares, 0.0)))}


def _fired(found: Found) -> np.ndarray | None:
    """Return for each break whether a spark followed: its burning holds the secondary low just after the peak."""
    trace = found.trace
    if "secondary" not in trace.values:
        found.sentences.append("Sparks cannot be counted without the secondary voltage: an opening may pass without a spark.")
        return None
    usual = float(np.median(np.diff(trace.time[:200_001])))
    if usual > (FIRED_TO - FIRED_FROM) / 3.0:
        found.sentences.append(f"Sparks cannot be counted: samples {1e6 * usual:.0f} us apart do not show whether the "
                               "secondary's peak breaks down; 10 us or less does.")
        return None
    volts = np.where(trace.clipped["secondary"], np.nanmax(np.abs(trace.values["secondary"])), trace.values["secondary"])
    volts = np.abs(filled(volts))
    fired = np.zeros(len(found.breaks))
    times = np.array([one.time for one in found.breaks])
    for place, begin in enumerate(times):
        begin -= 3e-5
        end = min(begin + 1.2e-3, times[place + 1] - 3e-5 if place + 1 < len(times) else np.inf)
        first, last = np.searchsorted(trace.time, (begin, end))
        if last - first < 6:
            continue
        part, when = volts[first:last], trace.time[first:last]
        top = float(part.max())
        for peak in np.flatnonzero(part > 0.75 * top):
            after = part[(when >= when[peak] + FIRED_FROM) & (when < when[peak] + FIRED_TO)]
            if len(after) >= 2 and float(np.sqrt(np.mean(after ** 2))) < FIRED_UNDER * top:
                fired[place] = 1.0
                break
    return fired
