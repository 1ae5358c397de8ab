"""The gate: what a number found in a capture can be at all. What cannot be is taken back, in a sentence, and enters no sheet.

A probe set to 10 to 1 where the recorder thinks of 1 to 1 makes every number ten times too large and nothing in the trace looks
wrong. The limits are wide, common practice without a source: no vibrating coil for an engine lies outside them.
"""

from __future__ import annotations

from coilbench.capture.findings import Found

AMPERES = 0.8, 20.0  # at which contacts part
VOLTS = {"battery": (2.0, 48.0), "magneto": (2.0, 120.0)}
HENRIES = 1.2e-3, 20e-3  # of the loop
OHMS = 0.05, 10.0  # of the loop
DECAY = 10.0, 1000.0  # 1/s, R/L
SPEED = 20.0, 5000.0  # rpm
METERS = 0.9  # of the largest opening current: a current that rises and breaks off has no larger RMS
RIPPLE = 1.1  # by how much a finer average may raise the rectified mean; more is ring or noise, and no current of the coil


def gate(found: Found) -> None:
    """Take back what cannot be in `found`, and say so."""
    _current(found)
    _rise(found)
    _speed(found)
    _meters(found)


def _current(found: Found) -> None:
    low, high = AMPERES
    amperes = found.rise.opening.value if found.rise is not None else 0.0
    if found.rise is None:
        return
    if not low <= amperes <= high:
        found.withheld.add("current")
        found.sentences.append(f"An opening current of {amperes:.3g} A is not that of such a coil ({low:g} to {high:g} A): the "
                               "clamp's or shunt's scale is probably not what the file or you say, so no current goes into a "
                               "bench sheet.")
    elif not found.trace.scaled.get("current", False):
        found.withheld.add("current")
        found.sentences.append("Nobody says how many amperes the current's numbers are, so no current goes into a bench "
                               "sheet; say it as in --current COLUMN:A, --current COLUMN:10A/V or, for a shunt, --current "
                               "COLUMN:0.1ohm.")
    elif found.rise.opening.error > 0.35 * amperes:
        found.withheld.add("current")
        found.sentences.append("The opening current is hardly known, so it does not go into a bench sheet.")


def _rise(found: Found) -> None:
    fitted = found.rise
    if fitted is None:
        return
    decay = fitted.decay.value
    volts = VOLTS.get(found.kind, (2.0, 120.0))
    wrong = []
    if not DECAY[0] <= decay <= DECAY[1]:
        wrong.append(f"R/L of {decay:.3g} a second ({DECAY[0]:g} to {DECAY[1]:g} are possible)")
    for value, (low, high), factor, words, may_be_unsure in (
            (found.inductance, HENRIES, 1e3, "{:.3g} mH of inductance ({:g} to {:g} mH are possible)", False),
            (found.resistance, OHMS, 1.0, "{:.3g} ohm ({:g} to {:g} ohm are possible)", True),
            (found.supply, volts, 1.0, "{:.3g} V ({:g} to {:g} V are possible)", True)):
        if value is not None and value.error > 0.0 and not low <= value.value <= high:
            # A number that is hardly known may lie anywhere; it convicts the fit only where its limits leave the possible too
            # (an inductance always: it alone is in every fit).
            far_low, far_high = value.interval()
            if far_high < low or far_low > high or not may_be_unsure:
                wrong.append(words.format(factor * value.value, factor * low, factor * high))
    if not wrong:
        return
    found.doubted = True
    found.supply = found.supply if found.scale_from == "you" and found.supply is not None and found.supply.error == 0.0 else None
    found.resistance = found.resistance if found.scale_from == "you" and found.resistance is not None and (
        found.resistance.error == 0.0) else None
    found.inductance = None
    found.sentences.append(f"The fit gives {' and '.join(wrong)}, so its volts, ohms and henries are not stated: an arc "
                           "carries the current on while the contacts part, the rise is too short, or a probe's scale is not "
                           "what the file or you say.")


def _speed(found: Found) -> None:
    if found.rpm is None:
        return
    low, high = SPEED
    if not low <= found.rpm.value <= high:
        found.sentences.append(f"A crank speed of {found.rpm.value:.4g} rpm is outside {low:g} to {high:g} rpm: the time's "
                               "unit or --pole-pairs is probably wrong, so nothing goes into a bench sheet.")
        found.withheld |= {"current", "meters", "sparks"}
    elif found.rpm.error > 0.05 * found.rpm.value:
        found.sentences.append("The speed is hardly known, so nothing goes into a bench sheet; say --speed.")
        found.withheld |= {"current", "meters", "sparks"}


def _meters(found: Found) -> None:
    if not found.meters:
        return
    if "current" in found.withheld:
        found.withheld.add("meters")
    top = max((abs(one.current) for one in found.breaks), default=0.0)
    rectified = found.meters["rectified"]
    if found.meters["rms"] > METERS * top or rectified > RIPPLE * found.meters.get("smooth", rectified):
        found.withheld.add("meters")
        found.meters = {}
        found.sentences.append("Ring or noise over the current is as large as the current itself, so what meters would read "
                               "cannot be told from this capture; twist the leads, shorten the ground lead, or use a clamp.")
