"""From the turning magnet to the spark: the whole chain of the model against the theory of the induction coil and old reports.

Each row runs `simulate` (with contacts that an ideal switch replaces where the source speaks of a sudden break) and holds what
comes out against a figure from outside: a book or report of the public domain, or the same circuit solved by scipy, which
shares no line with the kernel. Where a work could not be opened, its formula is written down from memory and reproduced here
by an independent calculation; the row says so.

The circuit, for what follows: primary L1 (with the magneto's own inductance, if any), secondary L2 = n^2 L1, mutual inductance
M = k sqrt(L1 L2), condenser C1 across the break, C2 the secondary's own capacity.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh, expm
from scipy.optimize import least_squares

from coilmodel import closed_forms
from coilmodel.machine import BatteryDrive, Machine, MagnetoDrive
from coilmodel.proof import COMPUTED, LOOKED_UP, MEMORY, MEMORY_COMPUTED, UNCERTAIN, Check, between
from coilmodel.run import Run, simulate

OWN, RATIO, SECOND = 2.6e-3, 75.0, 60e-12  # H, 1, F: the coil of the rows without losses
UNREACHED = 59e3  # V: a gap that nothing here jumps, so that the secondary's own peak is seen
FINE = 0.25  # of the tested step, where the outside figure is exact and the step's own error would stand before it
FINEST = 0.05  # the same for next to no condenser, which rings within a microsecond

RAYLEIGH = "Rayleigh, On the induction coil, Phil. Mag. 2 (1901) 581"
JONES = "Taylor-Jones, The most effective primary capacity of an induction coil, Phil. Mag. (1914-15); his book of 1932"
SILSBEE = "equivalent circuit of Silsbee, A simplified theory of the magneto, NACA Report 123 (1923; its abstract was read)"
MAXWELL = "Maxwell, A dynamical theory of the electromagnetic field (1864), section 36, a coil revolving in a field"
FLEMING = "Fleming, Hertzian wave wireless telegraphy, Popular Science Monthly 63 (1903), p. 362"
TEXTBOOK = "textbook on the electrics of motor vehicles, chapter on ignition, ISBN 978-0-08-049249-0, abstract of the chapter"
CIRCUIT = "the same circuit as a matrix, scipy.linalg.expm"


def checks() -> Iterator[Check]:
    """Every row of this group. A few seconds."""
    for block in (_magneto, _kilovolts_by_speed, _best_capacity, _by_capacity, _sudden_break, _ordinary_break,
                  _equivalent_circuit, _two_notes, _spark, _plug):
        yield from block()


# ------------------------------------------------------------------------------------------------ the circuit, twice


def still(**changes: dict[str, float]) -> Machine:
    """The nominal machine with its blades held and its gap too wide to fire: nothing but the circuit is left to move.

    changes : what else differs, as `Machine.but` takes it (SI units)
    """
    machine = Machine().but(
        vibrator={"mass": 2e-2, "preload": 20.0, "damping": 20.0}, cushion={"bridge_stiffness": 1e8, "damping": 20.0},
        contacts={"stiffness": 1e8}, coil={"pull_constant": 1e-10}, gap={"breakdown": UNREACHED})
    return machine.but(**changes)


def lossless(coupling: float, capacitance: float, **coil: float) -> Machine:
    """Such a machine with next to no resistance anywhere.

    coupling : of the windings; capacitance : of the condenser, F; coil : other numbers of the coil
    """
    return still(
        contacts={"resistance": 1e-4}, condenser={"capacitance": capacitance, "leakage_resistance": 1e12},
        coil={"primary_inductance": OWN, "turns_ratio": RATIO, "secondary_capacitance": SECOND, "coupling": coupling,
              "primary_resistance": 0.01, "secondary_resistance": 10.0, "core_resistance": 1e5, **coil})


@dataclass(frozen=True)
class Circuit:
    """The open circuit as x' = A x with x = (i1, i2, core flux, contact voltage, secondary voltage, EMF, EMF's partner)."""

    matrix: np.ndarray

    def after(self, start: np.ndarray, times: np.ndarray) -> np.ndarray:
        """State at evenly spaced `times` (s) after the break, shape (times, 7), from the state `start` at the break."""
        step = expm(self.matrix * (times[1] - times[0]))
        rows = [expm(self.matrix * times[0]) @ start]
        for _ in times[1:]:
            rows.append(step @ rows[-1])
        return np.array(rows)


def open_circuit(machine: Machine, resistance: float, inductance: float, omega: float = 0.0) -> Circuit:
    """The circuit after the break.

    resistance, inductance : of the source (ohm, H); omega : of its EMF, rad/s (0: a battery)
    Written as two leaky windings on one core whose loss is a resistance across the magnetising branch.
    """
    coil, condenser = machine.coil, machine.condenser
    n, k, own = coil.turns_ratio, coil.coupling, coil.primary_inductance
    leak1, leak2 = inductance + (1.0 - k) * own, (1.0 - k) * n * n * own
    # voltage across the magnetising branch, as a row over the states
    across = coil.core_resistance * np.array([1.0, n, -1.0 / (k * own), 0.0, 0.0, 0.0, 0.0])
    a = np.zeros((7, 7))
    a[0] = -across / leak1
    a[0, 0] -= (resistance + coil.primary_resistance) / leak1
    a[0, 3], a[0, 5] = -1.0 / leak1, 1.0 / leak1
    a[1] = -n * across / leak2
    a[1, 1] -= coil.secondary_resistance / leak2
    a[1, 4] = -1.0 / leak2
    a[2] = across
    a[3, 0], a[3, 3] = 1.0 / condenser.capacitance, -1.0 / (condenser.capacitance * condenser.leakage_resistance)
    a[4, 1] = 1.0 / coil.secondary_capacitance
    a[5, 6], a[6, 5] = omega, -omega
    return Circuit(a)


def break_of(machine: Machine, drive: BatteryDrive | MagnetoDrive, moment: float, step: float = 1.0, rows: int = 2000) -> Run:
    """Run with an ideal switch that opens at `moment` (s), strips kept of the pulses up to a millisecond after it.

    drive : what turns it; rows : strip rows kept; step : scale of the time steps
    """
    period = drive.pulse_time if isinstance(drive, BatteryDrive) else 30.0 / (machine.magneto.pole_pairs * drive.rpm)
    first, last = int(moment / period), int((moment + 1e-3) / period)
    return simulate(machine, drive, pulses=last + 1, warm_up=0, record=(first, last), rows_a_pulse=rows, step=step,
                    prescribed_opening=moment)


BATTERY = BatteryDrive(0.2, 0.0, 0.0, pulse_time=30e-3)
"""A source that does next to nothing during the break, so that the break alone is seen; opened after 25 ms."""


def _peak_of_break(machine: Machine, step: float = FINE) -> tuple[float, float]:
    """Highest secondary voltage (V) within a millisecond of a break of the feeble battery's current, and that current (A)."""
    opening = break_of(machine, BATTERY, 25e-3, step).openings[0]
    return opening.peak_secondary_voltage, opening.current


# ----------------------------------------------------------------------------------------- the magneto and its speed


def _loop(machine: Machine) -> tuple[float, float]:
    """Resistance (ohm) and inductance (H) of the closed primary loop on the magneto."""
    resistance = machine.magneto.resistance + machine.coil.primary_resistance + machine.contacts.resistance
    return resistance, machine.magneto.inductance + machine.coil.primary_inductance


def _omega(machine: Machine, rpm: float) -> float:
    """Electrical frequency of the magneto at a speed, rad/s."""
    return 2.0 * math.pi * machine.magneto.pole_pairs * rpm / 60.0


def _magneto() -> Iterator[Check]:
    """Lag of the unbroken current behind the EMF."""
    machine = still()
    resistance, inductance = _loop(machine)
    for rpm in (60.0, 200.0, 450.0, 1200.0):
        omega = _omega(machine, rpm)
        strips = simulate(machine, MagnetoDrive(rpm), pulses=2, warm_up=40, record=(0, 1), rows_a_pulse=4000).strips
        time, current = np.array(strips.time), np.array(strips.current)
        row = int(np.nonzero(np.diff(np.sign(current)))[0][0])
        zero = time[row] - current[row] * (time[row + 1] - time[row]) / (current[row + 1] - current[row])
        lag = math.degrees(omega * zero) % 180.0
        yield Check(f"angle by which the unbroken current lags the EMF at {rpm:g} rpm, electrical", lag,
                    math.degrees(math.atan2(omega * inductance, resistance)), 5e-3, "degree", MAXWELL + ": tan a = L p / R",
                    LOOKED_UP, "the core's loss and steps of 32 us")


def _kilovolts_by_speed() -> Iterator[Check]:
    """The nominal coil and magneto, all losses in, opened at the crest of the current at four speeds."""
    machine = still()
    resistance, inductance = _loop(machine)
    magneto = machine.magneto
    peaks = {}
    for rpm in (60.0, 150.0, 450.0, 1200.0):
        omega = _omega(machine, rpm)
        lag = math.atan2(omega * inductance, resistance)
        pulses = math.ceil(0.12 * omega / math.pi)  # whole pulses of 0.12 s at least, until it has settled
        moment = (pulses * math.pi + 0.5 * math.pi + lag) / omega
        peaks[rpm] = break_of(machine, MagnetoDrive(rpm), moment, FINE).openings[0].peak_secondary_voltage
        there = open_circuit(machine, magneto.resistance, magneto.inductance, omega).after(
            steady(machine, omega, moment), np.arange(1, 5001) * 2e-7)
        yield Check(f"highest secondary voltage if opened at the crest of the current, {rpm:g} rpm", 1e-3 * peaks[rpm],
                    1e-3 * float(np.max(np.abs(there[:, 4]))), 4e-3, "kV", CIRCUIT + ", from a steady alternating current",
                    COMPUTED, "steps a quarter as long as tested, up to 8 us before the break")
    sine = [math.sin(math.atan2(_omega(machine, rpm) * inductance, resistance)) for rpm in (60.0, 1200.0)]
    yield Check("that voltage at 60 rpm over that at 1200 rpm", peaks[60.0] / peaks[1200.0], sine[0] / sine[1], 0.02, "1",
                MAXWELL + ": as the current, sin a", LOOKED_UP, "the EMF itself, which rides on the break, grows with speed")


def steady(machine: Machine, omega: float, moment: float) -> np.ndarray:
    """State of the closed circuit at `moment` (s) on a magneto of `omega` (rad/s) that has long been turning, by phasors."""
    coil, magneto = machine.coil, machine.magneto
    n, own = coil.turns_ratio, coil.primary_inductance
    secondary = (coil.secondary_resistance + 1j * omega * (1.0 - coil.coupling) * n * n * own
                 + 1.0 / (1j * omega * coil.secondary_capacitance))
    branch = 1.0 / (1.0 / (1j * omega * coil.coupling * own) + 1.0 / coil.core_resistance + n * n / secondary)
    series = magneto.resistance + coil.primary_resistance + machine.contacts.resistance
    leak = magneto.inductance + (1.0 - coil.coupling) * own
    emf = magneto.flux_linkage * omega * np.exp(1j * (omega * moment - 0.5 * math.pi))
    current = emf / (series + 1j * omega * leak + branch)
    second = -n * current * branch / secondary
    phasors = (current, second, current * branch / (1j * omega), machine.contacts.resistance * current,
               second / (1j * omega * coil.secondary_capacitance), emf, 1j * emf)
    return np.array([value.real for value in phasors])


# ------------------------------------------------------------------------------------------------- the best condenser


def _best_capacity() -> Iterator[Check]:
    """Taylor-Jones's complete conversion: at k^2 = 4/7 and L1 C1 = (1 - k^2) L2 C2 all energy stands on the secondary at once."""
    n, own, second, squared = RATIO, OWN, SECOND, 4.0 / 7.0
    coupling, best = math.sqrt(squared), (1.0 - squared) * n * n * second
    ours, current = _peak_of_break(lossless(coupling, best))
    yield Check("energy on the secondary at its peak over that of the primary at the break, k^2 = 0.571, best condenser",
                second * ours**2 / (own * current**2), 1.0, 0.01, "1", JONES + ": complete conversion at k^2 = 0.571",
                MEMORY_COMPUTED, "a hundredth of an ohm; follows exactly from the two coupled circuits")
    sizes = best * np.exp(np.linspace(math.log(0.5), math.log(2.0), 41))
    peaks = [_peak_of_break(lossless(coupling, float(size)), 1.0)[0] for size in sizes]
    # The top of the parabola through the three highest, over the logarithm.
    top = int(np.argmax(peaks))
    before, highest, after = peaks[top - 1], peaks[top], peaks[top + 1]
    aside = 0.5 * (before - after) / (before - 2.0 * highest + after)
    yield Check("capacity of the highest secondary voltage after a sudden break, k^2 = 0.571",
                1e6 * float(sizes[top] * (sizes[1] / sizes[0]) ** aside), 1e6 * best, 0.04, "uF",
                JONES + ": L1 C1 = (1 - k^2) L2 C2", MEMORY_COMPUTED, "a flat top, found from 41 sizes")


def _by_capacity() -> Iterator[Check]:
    """The nominal coil on its magneto, all losses in: the peak over twelve condensers."""
    sizes = np.exp(np.linspace(math.log(0.02e-6), math.log(2e-6), 12))
    ours, theirs = [], []
    source = BatteryDrive(0.2, 0.25, 1.7e-3, pulse_time=30e-3)
    for size in sizes:
        machine = still(condenser={"capacitance": float(size)})
        opening = break_of(machine, source, 25e-3, FINE).openings[0]
        ours.append(opening.peak_secondary_voltage / opening.current)
        flux = machine.coil.coupling * machine.coil.primary_inductance
        start = np.array([1.0, 0.0, flux, machine.contacts.resistance, 0.0, 0.2 / opening.current, 0.0])
        there = open_circuit(machine, source.resistance, source.inductance).after(start, np.arange(1, 10001) * 1e-7)
        theirs.append(float(np.max(np.abs(there[:, 4]))))
    apart = max(abs(a / b - 1.0) for a, b in zip(ours, theirs, strict=True))
    yield Check("highest secondary voltage an ampere against primary capacity, worst of 12 from 0.02 to 2 uF", apart, 0.0, 5e-4,
                "1", CIRCUIT, COMPUTED, "steps a quarter as long as tested")
    fall = ours[-1] / ours[-4]
    exact = theirs[-1] / theirs[-4]
    yield Check("fall of the voltage from 0.57 to 2 uF", fall, exact, 5e-4, "1", CIRCUIT, COMPUTED, "the step")


# ---------------------------------------------------------------------------------------- sudden and ordinary breaks


def _sudden_break() -> Iterator[Check]:
    """Rayleigh: a break sudden enough needs no condenser, and a condenser then takes away."""
    for coupling in (0.6, 0.8, 0.93):
        machine = lossless(coupling, 1e-10)
        ours, current = _peak_of_break(machine, FINEST)
        yield Check(f"highest secondary voltage an ampere, sudden break, next to no condenser, coupling {coupling:g}",
                    1e-3 * ours / current, 1e-3 * coupling * math.sqrt(OWN / SECOND), 0.02, "kV/A",
                    RAYLEIGH + ": the share k^2 of the field is left to the secondary", MEMORY_COMPUTED,
                    "0.1 nF is not yet nothing: the leakage's own ring, 1.4 % at coupling 0.6")
    without, current = _peak_of_break(still(condenser={"capacitance": 1e-10}), FINEST)
    with_it, same = _peak_of_break(still())
    yield between("sudden break, next to no condenser, over the same with the nominal one: more, not less",
                  without / current / (with_it / same), 1.05, 3.0, "1",
                  RAYLEIGH + ": cut by a bullet, 90 mm were jumped without a condenser and not with it", LOOKED_UP,
                  "the lengths of his sparks give no closer limit")


def _ordinary_break() -> Iterator[Check]:
    """The same machine with its real contacts: now the condenser is what makes the spark."""
    machine, drive = Machine().but(gap={"breakdown": UNREACHED}), MagnetoDrive(450.0)

    def peak(size: float) -> float:
        run = simulate(machine.but(condenser={"capacitance": size}), drive, pulses=10, warm_up=6)
        highest = [0.0] * run.pulses
        for one in run.openings:
            highest[one.pulse] = max(highest[one.pulse], one.peak_secondary_voltage)
        return sum(highest) / run.pulses

    sizes = [0.01e-6 * 10.0 ** (place / 8.0) for place in range(20)]
    peaks = [peak(size) for size in sizes]
    best = sizes[peaks.index(max(peaks))]
    yield between("ordinary break, hardly a condenser (0.01 uF), over the best one: less, not more", peaks[0] / max(peaks), 0.0,
                  0.9, "1", RAYLEIGH + ": its only use is to quicken the break by impeding an arc", LOOKED_UP,
                  "he gives no figure")
    yield between("capacity of the highest secondary voltage, ordinary break of the nominal machine", 1e6 * best, 0.4, 0.5, "uF",
                  "Fleming, Popular Science Monthly 63 (1903), p. 207, for a ten-inch coil", LOOKED_UP,
                  "his coil is larger and is broken by a hammer", limit=False)


# ------------------------------------------------------------------------------------------- the equivalent circuit


def _equivalent_circuit() -> Iterator[Check]:
    """A tightly coupled coil is one inductance with one capacity, C1 + n^2 C2 seen from the primary."""
    n, own, size = RATIO, OWN, 0.45e-6
    seconds = np.array([10e-12, 30e-12, 60e-12, 120e-12, 240e-12, 480e-12])
    inverse = []
    for second in seconds:
        ours, current = _peak_of_break(lossless(0.995, size, secondary_capacitance=float(second)))
        inverse.append((current / ours) ** 2)
    slope, height = np.polyfit(seconds, np.array(inverse), 1)
    ripple = "the half percent of leakage that is left rings on the peak, some 3 % of it"
    yield Check("inductance found from 1/V^2 against the secondary's capacity, whose slope is 1/(L I^2)", 1e3 / float(slope),
                1e3 * own, 0.08, "mH", SILSBEE, MEMORY_COMPUTED, ripple)
    yield Check("capacity found from where that line begins: the condenser seen from the secondary, C1/n^2",
                1e12 * float(height / slope), 1e12 * size / n**2, 0.08, "pF", SILSBEE, MEMORY_COMPUTED, ripple)
    whole = size + n * n * SECOND
    clean, one = _peak_of_break(lossless(0.995, size))
    for fouled in (2e6, 1e6, 500e3, 200e3):
        shunt = fouled / n**2  # of the plug, seen from the primary
        machine = lossless(0.995, size).but(condenser={"leakage_resistance": shunt})
        ours, current = _peak_of_break(machine)
        yield Check(f"highest secondary voltage with a plug fouled to {1e-3 * fouled:g} kohm, over a clean one's",
                    ours / current / (clean / one), _shunted(own, whole, shunt), 0.015, "1", SILSBEE, MEMORY_COMPUTED,
                    "the plug's shunt is taken to the primary by n^2; 0.5 % of leakage")


def _shunted(inductance: float, capacity: float, shunt: float) -> float:
    """Peak of a parallel R, L, C that starts from a current, over its peak without R: the current's own closed form."""
    a = 1.0 / (2.0 * shunt * capacity)
    natural = 1.0 / math.sqrt(inductance * capacity)
    w = math.sqrt(natural**2 - a * a)
    return natural / w * math.exp(-a * math.atan2(w, a) / w) * math.sin(math.atan2(w, a))


# ------------------------------------------------------------------------------------------- the ring and the spark


def _two_notes() -> Iterator[Check]:
    """The two frequencies of coupled circuits, by least squares in the ring against the eigenvalues of the two circuits."""
    n, own, size, second = RATIO, OWN, 0.45e-6, SECOND
    for coupling in (0.6, 0.8, 0.93):
        mutual = coupling * n * own
        squares = eigh(np.diag([1.0 / size, 1.0 / second]), np.array([[own, mutual], [mutual, n * n * own]]), eigvals_only=True)
        exact = np.sqrt(squares) / (2.0 * math.pi)
        strips = break_of(lossless(coupling, size), BATTERY, 25e-3, 0.1, rows=60_000).strips
        time, volts = np.array(strips.time) - 25e-3, np.array(strips.secondary_voltage)
        use = (time > 0.0) & (time < 0.9e-3)
        found = _frequencies(time[use], volts[use], exact * np.array([0.97, 1.03]))
        for name, ours, theirs in zip(("slow", "fast"), found, exact, strict=True):
            yield Check(f"{name} note of the ring, coupling {coupling:g}", 1e-3 * float(ours), 1e-3 * float(theirs), 2e-4, "kHz",
                        "eigenvalues of the two coupled circuits, scipy.linalg.eigh", COMPUTED,
                        "a tenth of the tested step; the fit")


def _frequencies(time: np.ndarray, volts: np.ndarray, guess: np.ndarray) -> np.ndarray:
    """The two frequencies (Hz) whose sines and cosines fit a trace best."""
    def left(frequencies: np.ndarray) -> np.ndarray:
        waves = [wave(2.0 * math.pi * f * time) for f in frequencies for wave in (np.sin, np.cos)]
        columns = np.stack(waves, axis=1)
        return (volts - columns @ np.linalg.lstsq(columns, volts, rcond=None)[0]) / np.max(np.abs(volts))

    return least_squares(left, guess, x_scale=guess, xtol=1e-12, ftol=1e-12, gtol=1e-12).x


def _spark() -> Iterator[Check]:
    """How long after the break the nominal coil, all losses in, reaches the voltage of its gap."""
    source = BatteryDrive(4.0, 0.25, 1.7e-3, pulse_time=30e-3)
    for kilovolts in (6.0, 10.0, 14.0):
        machine = still(gap={"breakdown": 1e3 * kilovolts})
        opening = break_of(machine, source, 25e-3, FINE).openings[0]
        if opening.spark_time is None:
            raise RuntimeError(f"a break of {opening.current:.2f} A did not reach {kilovolts:g} kV")
        flux = machine.coil.coupling * machine.coil.primary_inductance * opening.current
        start = np.array([opening.current, 0.0, flux, machine.contacts.resistance * opening.current, 0.0, source.volts, 0.0])
        times = np.arange(1, 20001) * 2e-8
        volts = np.abs(open_circuit(machine, source.resistance, source.inductance).after(start, times)[:, 4])
        yield Check(f"time from the break to {kilovolts:g} kV and the spark", 1e6 * (opening.spark_time - opening.time),
                    1e6 * float(times[int(np.argmax(volts >= 1e3 * kilovolts))]), 2e-3, "us", CIRCUIT, COMPUTED,
                    "steps a quarter as long as tested")


# --------------------------------------------------------------------------------------------------- what the plug asks


def _plug() -> Iterator[Check]:
    """Voltage against gap and compression. The model's gap law is that of an even field; a plug's edges spark at less."""
    def gap(mm: float) -> float:
        return 1e-3 * closed_forms.uniform_field_breakdown(1e-3 * mm)

    for mm, decides in ((2.0, False), (5.0, True), (10.0, True)):
        yield Check(f"gap of {mm:g} mm in air against 3 kV a millimetre", gap(mm), 3.0 * mm, 0.15, "kV",
                    FLEMING + ": 30,000 V a centimetre from 2 to 10 mm", LOOKED_UP,
                    "a rule of thumb through zero; air holds more a millimetre where the gap is short", limit=decides)
    for mm, kilovolts in ((1.0, 4.7), (2.0, 8.0), (3.0, 11.2)):
        yield Check(f"gap of {mm:g} mm in air against spheres", gap(mm), kilovolts, 0.03, "kV",
                    "sphere gaps of 2 to 6 cm, IEC 60052, table 2", MEMORY, "the table promises 3 %", limit=False)
    yield Check("plug gap of 0.6 mm in open air", gap(0.6), 2.5, 0.3, "kV", TEXTBOOK + ": 2 to 3 kV", LOOKED_UP,
                "half of its range, and a tenth for edges that are not round")
    squeezed = closed_forms.uniform_field_breakdown(0.6e-3, 101_325.0 * 8.0**1.3, 293.0 * 8.0**0.3 - 273.0)
    yield Check("the same gap at the end of an 8 to 1 compression, cylinder full", 1e-3 * squeezed, 8.0, 0.5, "kV",
                TEXTBOOK + ": some 8 kV", UNCERTAIN,
                "an upper bound: engines fire before the end, seldom with a full cylinder, and electrodes are hot and edged",
                limit=False)
