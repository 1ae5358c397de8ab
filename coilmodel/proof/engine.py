"""The engine against closed forms: machines so simple that a formula says what they must do.

Each is an ordinary `Machine` with everything that is not wanted set to its smallest or largest allowed value: the vibrator
held by its heaviest mass and strongest preload where the circuit alone is meant, no current at all where the springs are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from coilmodel import closed_forms, condenser, kernel, springs
from coilmodel.compiled import advance, buffer
from coilmodel.machine import BatteryDrive, Drive, Machine, MagnetoDrive, TimerDrive
from coilmodel.proof import EXACT, Check
from coilmodel.run import Strips, flat, simulate

ROWS = 20_000  # strip rows a pulse, so that a trace can be read at any moment


def checks() -> Iterator[Check]:
    """Every row of this group. A second or two once the kernel is compiled."""
    for block in (_rise, _steady, _ring, _break, _discharge, _blade, _rebound):
        yield from block()


def held(**changes: dict[str, float]) -> Machine:
    """A machine whose vibrator does not move and whose core hardly loses: the circuit alone, primary side.

    changes : what else differs from the nominal machine, as `Machine.but` takes it (SI units)
    """
    machine = Machine().but(
        vibrator={"mass": 2e-2, "preload": 20.0}, contacts={"resistance": 1e-4},
        coil={"pull_constant": 1e-10, "magnetic_gap": 1e-2, "core_resistance": 1e5, "turns_ratio": 5.0,
              "secondary_capacitance": 1e-12},
        condenser={"leakage_resistance": 1e12}, gap={"breakdown": 60e3})
    return machine.but(**changes)


def _rise() -> Iterator[Check]:
    """RL rise. Worst observed: 7e-5 of the final current."""
    machine, drive = held(), BatteryDrive(12.0, 0.15, 0.5e-3, pulse_time=20e-3)
    strips = simulate(machine, drive, pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=ROWS).strips
    resistance = drive.resistance + machine.coil.primary_resistance + machine.contacts.resistance
    inductance = drive.inductance + machine.coil.primary_inductance
    exact = [closed_forms.rl_rise(12.0, resistance, inductance, time) for time in strips.time]
    apart = max(abs(a - b) for a, b in zip(strips.current, exact, strict=True)) / (12.0 / resistance)
    yield Check("current of a battery through closed contacts, worst of 20 ms over its final value", apart, 0.0, 5e-4, "1",
                "RL rise, V/R (1 - exp(-R t/L))", EXACT, "the core's loss, 12 V across 100 kohm, and the step")


def _steady() -> Iterator[Check]:
    """Unbroken AC. Worst observed: 1.4e-4, at 1500 rpm."""
    machine = held()
    resistance = machine.magneto.resistance + machine.coil.primary_resistance + machine.contacts.resistance
    inductance = machine.magneto.inductance + machine.coil.primary_inductance
    for rpm in (60.0, 200.0, 450.0, 1500.0):
        meter = simulate(machine, MagnetoDrive(rpm), pulses=20, warm_up=40).meter
        hertz = machine.magneto.pole_pairs * rpm / 60.0
        peak = closed_forms.magneto_current(machine.magneto.flux_linkage, resistance, inductance, hertz)
        for name, ours, expected in (("peak", meter.peak, peak), ("RMS", meter.rms, peak / math.sqrt(2.0)),
                                     ("rectified mean", meter.rectified_mean, 2.0 * peak / math.pi)):
            yield Check(f"{name} of the unbroken magneto current at {rpm:g} rpm", ours, expected, 1e-3, "A",
                        "w Lambda / sqrt(R^2 + (w L)^2)", EXACT, "steps of 32 us at most, and the core's loss")


def _after(strips: Strips, moment: float, span: float) -> list[int]:
    """Rows of the strips within `span` after a moment."""
    return [row for row, time in enumerate(strips.time) if moment <= time <= moment + span]


STEPS = ((1.0, "as tested"), (0.25, "steps a quarter as long"))
"""The kernel is of second order: a quarter of the step must leave a sixteenth of the difference."""


def _ring() -> Iterator[Check]:
    """Series RLC after the break. Worst observed: waveform 1.1 % of the peak, with quarter steps 0.09 %; peak 6e-4."""
    machine, drive, moment = held(), BatteryDrive(12.0, 0.15, 0.5e-3, pulse_time=5e-3), 2e-3
    r = drive.resistance + machine.coil.primary_resistance
    inductance, c = drive.inductance + machine.coil.primary_inductance, machine.condenser.capacitance
    current = closed_forms.rl_rise(12.0, r + machine.contacts.resistance, inductance, moment)
    # The core's loss, small here, damps as a resistance across its share of the inductance does, to first order.
    share = machine.coil.coupling * machine.coil.primary_inductance / inductance
    a = r / (2.0 * inductance) + share**2 / (2.0 * machine.coil.core_resistance * c)
    w = math.sqrt(1.0 / (inductance * c) - a * a)
    # v = E + exp(-a t) (A cos wt + B sin wt) with v(0) = Rc i and C v'(0) = i
    start = machine.contacts.resistance * current - 12.0
    swing = (current / c + a * start) / w
    for step, allowed in zip(STEPS, (0.02, 1.5e-3), strict=True):
        run = simulate(machine, drive, pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=ROWS, prescribed_opening=moment,
                       step=step[0])
        rows = _after(run.strips, moment, 4.0 * math.pi / w)
        times = np.array([run.strips.time[row] - moment for row in rows])
        exact = 12.0 + np.exp(-a * times) * (start * np.cos(w * times) + swing * np.sin(w * times))
        ours = np.array([run.strips.contact_voltage[row] for row in rows])
        worst = float(np.max(np.abs(ours - exact)) / np.max(exact))
        yield Check(f"contact voltage after a break, worst of two periods over its peak, {step[1]}", worst, 0.0, allowed, "1",
                    "series RLC from a current, closed form", EXACT, "phase error of the step, (w h)^2 / 12 of the phase")
        yield Check(f"its peak, {step[1]}", run.openings[0].peak_contact_voltage, float(np.max(exact)), 2e-3, "V", "series RLC",
                    EXACT, "sampling of the peak")
    calm = held(coil={"primary_resistance": 0.01})
    slow = BatteryDrive(0.2, 0.0, 0.0, pulse_time=30e-3)
    one = simulate(calm, slow, pulses=1, warm_up=0, prescribed_opening=25e-3).openings[0]
    yield Check("peak contact voltage of a nearly lossless break", one.peak_contact_voltage,
                condenser.ring_peak(one.current, calm.coil.primary_inductance, calm.condenser.capacitance), 5e-3, "V",
                "I sqrt(L/C)", EXACT, "0.2 V of the battery rides on it; a hundredth of an ohm")


def _break() -> Iterator[Check]:
    """Two windings after the break. Worst observed: peak 1.5 %, waveform 6 %; 0.24 % and 0.6 % with quarter steps."""
    slow = BatteryDrive(0.2, 0.0, 0.0, pulse_time=30e-3)
    for coupling in (0.95, 0.93, 0.8, 0.6):
        machine = held(coil={"primary_resistance": 0.01, "secondary_resistance": 10.0, "turns_ratio": 75.0,
                             "secondary_capacitance": 60e-12, "coupling": coupling})
        a = machine.coil
        for step, high, wave in zip(STEPS, (0.025, 3e-3), (0.1, 0.01), strict=True):
            run = simulate(machine, slow, pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=100_000, prescribed_opening=25e-3,
                           step=step[0])
            parts = (run.openings[0].current, a.primary_inductance, machine.condenser.capacitance, a.turns_ratio,
                     a.secondary_capacitance, coupling)
            modes = condenser.two_modes(*parts)
            rows = _after(run.strips, 25e-3, math.pi / modes.slow)
            peak = condenser.two_winding_peak(*parts)
            volts, times = run.strips.secondary_voltage, run.strips.time
            apart = max(abs(volts[row] - modes.voltage(times[row] - 25e-3)) for row in rows) / peak
            ours = max(abs(volts[row]) for row in rows)
            yield Check(f"peak secondary voltage of a nearly lossless break, coupling {coupling:g}, {step[1]}", 1e-3 * ours,
                        1e-3 * peak, high,
                        "kV", "two coupled lossless circuits", EXACT, "the fast ring's phase error meets the slow one's top")
            yield Check(f"its waveform over the first slow half-swing, worst over the peak, coupling {coupling:g}, {step[1]}",
                        apart, 0.0, wave,
                        "1", "two coupled lossless circuits", EXACT,
                        "phase error of the step on the fast ring, which no loss damps here")


def _discharge() -> Iterator[Check]:
    """Self-discharge behind an open timer. Worst observed: 7e-8."""
    machine = held(condenser={"leakage_resistance": 10e3})
    drive = TimerDrive(200.0, 1.0, window_start=0.0, window_width=10.0, arc_voltage=25.0)
    run = simulate(machine, drive, pulses=1, warm_up=0, record=(0, 0), rows_a_pulse=ROWS, prescribed_opening=6e-3)
    strips = run.strips
    rows = [row for row, time in enumerate(strips.time) if 10e-3 <= time <= 30e-3]
    first, last = rows[0], rows[-1]
    found = condenser.self_discharge(abs(strips.contact_voltage[first]), abs(strips.contact_voltage[last]),
                                     strips.time[last] - strips.time[first], machine.condenser.capacitance)
    yield Check("leakage resistance found from the condenser's own discharge, circuit open", 1e-3 * found.resistance, 10.0, 1e-3,
                "kohm", "R = t / (C ln(V0/V))", EXACT, "the step")


def _mechanics(machine: Machine, end: float, every: float, step: float = 1.0, **start: float) -> np.ndarray:
    """Strip rows, shape (rows, columns), of a machine without current whose parts start where `start` says (m)."""
    drive: Drive = MagnetoDrive(450.0, 0.0)
    numbers = list(flat(machine, drive, 0.0, end, 0.0, 0.0, end, every, step))
    for name, value in start.items():
        numbers[kernel.PARAMETERS.index(name)] = value
    strips = buffer(len(kernel.STRIP) * (int(end / every) + 4000))
    meter = buffer(len(kernel.METER))
    advance(tuple(numbers), strips, buffer(len(kernel.EVENT) * 100), buffer(len(kernel.LEDGER)), meter)
    rows = int(meter[kernel.METER.index("rows")])
    return np.array(strips[:rows * len(kernel.STRIP)]).reshape(rows, len(kernel.STRIP))


def _blade() -> Iterator[Check]:
    """The vibrator as a mass on a spring. Worst observed: 5e-7."""
    for damping in (0.0, 0.2):
        machine = Machine().but(vibrator={"preload": -0.1, "stiffness": 500.0, "mass": 2e-3, "damping": damping, "stop": 0.45e-3})
        rest = 0.1 / 500.0
        rows = _mechanics(machine, 60e-3, 2e-6, start_vibrator=rest + 0.15e-3)
        time, place = rows[:, 0], rows[:, kernel.STRIP.index("vibrator")] - rest
        up = np.nonzero((place[:-1] < 0.0) & (place[1:] >= 0.0))[0]
        cross = time[up] - place[up] * (time[up + 1] - time[up]) / (place[up + 1] - place[up])
        ratio = springs.damping_ratio(2e-3, 500.0, damping)
        hertz = springs.spring_frequency(500.0, 2e-3) * math.sqrt(1.0 - ratio**2)
        yield Check(f"frequency of the free vibrator, damping {damping:g} N s/m", (len(cross) - 1) / (cross[-1] - cross[0]),
                    hertz, 2e-4, "Hz", "sqrt(k/m (1 - z^2)) / 2 pi", EXACT, "the step")
        tops = [np.max(np.abs(place[(time >= a) & (time < b)])) for a, b in zip(cross[:-1], cross[1:], strict=True)]
        decay = math.log(tops[0] / tops[-1]) / (len(tops) - 1)
        expected = 2.0 * math.pi * ratio / math.sqrt(1.0 - ratio**2)
        yield Check(f"its logarithmic decrement, damping {damping:g} N s/m", decay, expected, 1e-3, "1", "2 pi z / sqrt(1 - z^2)",
                    EXACT, "sampling of the peaks", absolute=True)


def _rebound() -> Iterator[Check]:
    """The cushion blade dropped on its rivet. Worst observed: 0.7 %, with quarter steps 0.3 %."""
    for damping, stiffness in ((20.0, 1e8), (140.0, 1e8), (400.0, 1e8), (500.0, 1e7)):
        # A feather's push (2 mN over 2 mm, spring of 1 N/m) drives a heavy blade on a hard rivet, so that what the push adds
        # during the impact, which the formula leaves out, is a thousandth.
        machine = Machine().but(
            vibrator={"preload": -2.0, "stiffness": 100.0},
            cushion={"mass": 5e-3, "stiffness": 1.0, "preload": 2e-3, "damping": 0.0, "travel": 2e-3,
                     "rivet_stiffness": stiffness, "rivet_damping": damping})
        ratio = springs.damping_ratio(5e-3, stiffness, damping)
        for step, allowed in zip(STEPS, (0.02, 5e-3), strict=True):
            rows = _mechanics(machine, 0.4, 10e-6, step[0], start_cushion=-1.99e-3, start_vibrator=machine.vibrator.stop)
            place = rows[:, kernel.STRIP.index("cushion")]
            hit = int(np.argmax(place > 0.0))
            leaves = hit + int(np.argmax(place[hit:] < 0.0))
            again = np.nonzero(place[leaves:] >= 0.0)[0]
            height = -float(np.min(place[leaves:leaves + int(again[0])] if len(again) else place[leaves:]))
            # Heights tell speeds: the push's work is Fc0 h + kc h^2 / 2.
            e = math.sqrt((2e-3 * height + 0.5 * height**2) / (2e-3 * 1.99e-3 + 0.5 * 1.99e-3**2))
            yield Check(f"rebound of the blade from its rivet, damping ratio {ratio:.3g}, {step[1]}", e,
                        springs.restitution(ratio), allowed, "1",
                        "Schwager & Poschel, Granular Matter 9 (2007) 465", EXACT,
                        "some ten steps to an impact; the blade's own push")
