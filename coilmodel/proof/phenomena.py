"""What such coils are seen to do, as rows of the proof: the nominal machine must show every phenomenon P1 to P12.

None of these is a published number: they are what the trade sees (common practice, no source). No row is met by a rule
that mentions it; each comes out of the equations of coilmodel.kernel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache

from coilmodel.machine import BatteryDrive, Drive, Machine, MagnetoDrive, Scatter, TimerDrive, TransformerDrive
from coilmodel.proof import Check, between
from coilmodel.readings import Readings, first_openings, read, sparks_in_pulses
from coilmodel.run import Run, simulate
from coilmodel.sparks import sparks
from coilmodel.worth import Worth, worth

TRADE = "what such coils are seen to do; common practice, no source"
SEEN = "common practice"


@cache
def _read(machine: Machine, drive: Drive, warm_up: int = 6) -> Readings:
    return read(simulate(machine, drive, pulses=40, warm_up=warm_up))


def at(rpm: float = 450.0, drive: float = 1.0, **factors: float) -> Readings:
    """Return the readings of the nominal machine at `rpm` and `drive`, its numbers multiplied by `factors`: 40 pulses after 6."""
    return _read(Machine().scaled(**factors), MagnetoDrive(rpm, drive))


def _row(name: str, ours: float | None, expected: float, tolerance: float, unit: str, why: str = "") -> Check:
    return Check(name, math.nan if ours is None else float(ours), expected, tolerance, unit, TRADE, SEEN, why, absolute=True)


def _within(name: str, ours: float | None, low: float, high: float, unit: str) -> Check:
    """A row whose value must lie between `low` and `high`."""
    return between(name, math.nan if ours is None else float(ours), low, high, unit, TRADE, SEEN)


SLACK, SLACKER, STIFF = 0.45, 0.3, 1.75
"""The slack and stiff cushions that the rows look at, as shares of the well-set preload."""


@cache
def _in_the_car(rpm: float, cushion: float = 1.0) -> Worth:
    """The nominal coil through the timer, from rest in every window, its cushion's preload times `cushion`, with scatter."""
    return worth(Machine().scaled(cushion_preload=cushion), rpm, windows=8, scatter=Scatter(seed=1))


def well_set() -> Iterator[Check]:
    """P1: exactly one spark in every pulse, steady, also with the cushion 10 % off; in the car too, with scatter."""
    for rpm in (200.0, 250.0, 300.0, 450.0, 600.0, 750.0, 900.0):
        yield _row(f"P1: share of pulses with one spark, {rpm:g} rpm", at(rpm).single, 1.0, 0.0, "1")
    for factor in (0.9, 1.1):
        for rpm in (200.0, 300.0, 450.0, 600.0, 900.0):
            yield _row(
                f"P1: the same, cushion preload x{factor:g}, {rpm:g} rpm", at(rpm, cushion_preload=factor).single, 1.0, 0.0, "1"
            )
    scatter = at().opening_time.scatter
    yield _within("P1: scatter of the opening time at 450 rpm", None if scatter is None else 1e6 * scatter, 0.0, 100.0, "us")
    yield _within("P1: opening current at 450 rpm", at().opening_current.mean, 4.5, 6.5, "A")
    for rpm in (200.0, 450.0, 700.0, 1000.0):
        yield _row(
            f"P1: share of the timer's windows without an effective spark, {rpm:g} rpm", _in_the_car(rpm).misfires, 0.0, 0.0, "1"
        )


def slack_cushion() -> Iterator[Check]:
    """P2: with too slack a cushion the contacts part before the rivet, slowly, and burn: a weak spark, and a misfire."""
    good = at()
    for factor in (SLACKER, SLACK):
        bad = at(cushion_preload=factor)
        yield _within(
            f"P2: share of partings with the cushion on its rivet, cushion preload x{factor:g}", bad.on_rivet, 0.0, 0.3, "1"
        )
        yield _within(
            f"P2: first spark's energy over that of the well-set one, x{factor:g}",
            bad.first_spark_energy / good.first_spark_energy,
            0.0,
            0.5,
            "1",
        )
        for rpm in (450.0, 700.0, 1000.0):
            yield _within(
                f"P2: share of the timer's windows that misfire, x{factor:g}, {rpm:g} rpm",
                _in_the_car(rpm, factor).misfires,
                0.8,
                1.0,
                "1",
            )
    yield _within(
        f"P2: share of pulses with two or more sparks, x{SLACKER:g}", at(cushion_preload=SLACKER).multiple, 0.9, 1.0, "1"
    )
    yield _within(
        f"P2: parting speed over that of the well-set one, x{SLACK:g}",
        (at(cushion_preload=SLACK).parting_speed.mean or 0.0) / (good.parting_speed.mean or math.nan),
        -1.0,
        0.5,
        "1",
    )
    yield _within(
        f"P2: energy burnt at the points as they part, x{SLACK:g}",
        1e3 * at(cushion_preload=SLACK).break_arc_energy,
        5.0,
        100.0,
        "mJ",
    )
    for kilovolts in (8.0, 12.0, 14.0):
        gap = kilovolts / 10.0
        yield _within(
            f"P2: first spark's energy over that of the well-set one, x{SLACK:g}, gap of {kilovolts:g} kV",
            at(cushion_preload=SLACK, gap_breakdown=gap).first_spark_energy / at(gap_breakdown=gap).first_spark_energy,
            0.0,
            0.6,
            "1",
        )


def stiff_cushion() -> Iterator[Check]:
    """P3: with too stiff a cushion they part too soon, at a low current, and two or more sparks come; in the end it misfires."""
    good = at()
    for factor in (STIFF, 2.0):
        bad = at(cushion_preload=factor)
        yield _within(f"P3: share of pulses with two or more sparks, cushion preload x{factor:g}", bad.multiple, 0.8, 1.0, "1")
        yield _within(
            f"P3: opening current over that of the well-set one, x{factor:g}",
            (bad.opening_current.mean or math.nan) / (good.opening_current.mean or math.nan),
            0.0,
            0.85,
            "1",
        )
        yield _within(
            f"P3: opening time over that of the well-set one, x{factor:g}",
            (bad.opening_time.mean or math.nan) / (good.opening_time.mean or math.nan),
            0.0,
            0.95,
            "1",
        )
    yield _within(
        "P3: share of pulses without an effective spark, cushion preload x2.8", at(cushion_preload=2.8).misfired, 0.2, 1.0, "1"
    )


def hides_when_slow() -> Iterator[Check]:
    """P4: a slack cushion that looks right at hand-cranked speed misfires at 450 rpm, on the bench and in the car."""
    for rpm in (200.0, 250.0):
        slow = at(rpm, cushion_preload=SLACK)
        yield _row(f"P4: share with one spark, cushion preload x{SLACK:g}, {rpm:g} rpm", slow.single, 1.0, 0.0, "1")
        yield _row(f"P4: share without an effective spark, x{SLACK:g}, {rpm:g} rpm", slow.misfired, 0.0, 0.0, "1")
    yield _row(
        f"P4: share of the timer's windows that misfire, x{SLACK:g}, 200 rpm", _in_the_car(200.0, SLACK).misfires, 0.0, 0.0, "1"
    )
    yield _within(f"P4: the same at 450 rpm, x{SLACK:g}", _in_the_car(450.0, SLACK).misfires, 0.8, 1.0, "1")


def preload_sets_the_current() -> Iterator[Check]:
    """P5: the vibrator's preload sets the opening current, nearly with its square root."""
    base = at().opening_current.mean or math.nan
    for factor in (0.9, 1.1, 1.2):
        result = at(vibrator_preload=factor)
        yield _row(
            f"P5: opening current over nominal, vibrator preload x{factor:g}",
            (result.opening_current.mean or math.nan) / base,
            math.sqrt(factor),
            0.05,
            "1",
            "the square root, from the statics; the dynamics add a little",
        )
        yield _row(f"P5: share with one spark, vibrator preload x{factor:g}", result.single, 1.0, 0.0, "1")


def magneto_strength() -> Iterator[Check]:
    """P6: too weak a magneto fires late or never, too strong a one more than once."""
    yield _row("P6: share without a spark, drive 40 %", at(drive=0.4).none, 1.0, 0.0, "1")
    late = at(drive=0.67)
    yield _within(
        "P6: opening time at drive 67 % over that at 100 %",
        (late.opening_time.mean or math.inf) / (at().opening_time.mean or math.nan),
        1.1,
        10.0,
        "1",
    )
    yield _within("P6: share with two or more, drive 140 %", at(drive=1.4).multiple, 0.5, 1.0, "1")


def speed_limits() -> Iterator[Check]:
    """P7: too slow is resistance-limited, fast is flux-limited."""
    yield _row("P7: share without a spark, 80 rpm", at(80.0).none, 1.0, 0.0, "1")
    # contacts held shut by a heavy spring, and a gap that holds, so that the current runs its course
    shut = Machine().but(vibrator={"preload": 18.0}, gap={"breakdown": 59e3})

    def peak(rpm: float) -> float:
        return _read(shut, MagnetoDrive(rpm), warm_up=200).peak_current

    fast = peak(1500.0) / peak(3000.0)
    yield _row(
        "P7: peak unbroken current at 1500 rpm over that at 3000 rpm", fast, 1.0, 0.05, "1", "flux-limited: independent of speed"
    )
    yield _within("P7: peak unbroken current at 60 rpm over that at 30 rpm", peak(60.0) / peak(30.0), 1.7, 2.0, "1")


def best_condenser() -> Iterator[Check]:
    """P8: at 14 kV the spark energy has a best capacity."""
    sizes = (0.02, 0.1, 0.2, 0.33, 0.47, 1.0, 2.0)
    machines = [Machine().but(condenser={"capacitance": c * 1e-6}, gap={"breakdown": 14e3}) for c in sizes]
    results = [_read(machine, MagnetoDrive(450.0)) for machine in machines]
    energy = [result.first_spark_energy for result in results]
    best = max(energy)
    yield _within("P8: capacity of the greatest spark energy at 14 kV", sizes[energy.index(best)], 0.1, 0.47, "uF")
    yield _within("P8: greatest spark energy at 14 kV", 1e3 * best, 15.0, 60.0, "mJ")
    yield _within("P8: spark energy at 0.02 uF over the greatest", energy[0] / best, 0.0, 0.7, "1")
    yield _within(
        "P8: arc energy as the contacts part at 0.02 uF over that at 0.47 uF",
        results[0].break_arc_energy / max(results[4].break_arc_energy, 1e-6),
        5.0,
        1e6,
        "1",
    )
    yield _within("P8: spark energy at 1 uF over the greatest", energy[5] / best, 0.0, 0.85, "1")
    yield _row("P8: spark energy at 2 uF", 1e3 * energy[6], 0.0, 0.5, "mJ")


def leakage() -> Iterator[Check]:
    """P9: leakage drains the spark smoothly."""
    ohms = (1e6, 1e4, 1e3, 300.0, 100.0, 20.0)
    energy = []
    for ohm in ohms:
        machine = Machine().but(condenser={"leakage_resistance": ohm}, gap={"breakdown": 14e3})
        energy.append(1e3 * _read(machine, MagnetoDrive(450.0)).first_spark_energy)
    for place in range(1, len(ohms)):
        yield _within(
            f"P9: spark energy at {ohms[place]:g} ohm less that at {ohms[place - 1]:g} ohm",
            energy[place] - energy[place - 1],
            -60.0,
            0.5,
            "mJ",
        )
    yield _row("P9: spark energy at 20 ohm", energy[-1], 0.0, 0.5, "mJ")


def blind_meter() -> Iterator[Check]:
    """P10: a meter that averages cannot tell one spark from two: some multi-firing coil reads just as the well-set one."""
    good = at()
    others = [at(cushion_preload=c, vibrator_preload=v) for c in (1.5, 1.6, 1.7, 1.8, 2.0) for v in (0.9, 1.0, 1.1, 1.2, 1.3)]
    multiple = [other for other in others if other.multiple >= 0.9]
    for name, reading, apart in (("rectified mean", "ammeter_rectified", 0.05), ("RMS", "ammeter_rms", 0.2)):
        alike = [other for other in multiple if abs(getattr(other, reading) / getattr(good, reading) - 1.0) <= apart]
        twin = min(alike or multiple, key=lambda other: other.opening_current.mean or math.inf)
        yield _row(
            f"P10: {name} of a multi-firing coil over that of the well-set one",
            getattr(twin, reading) / getattr(good, reading),
            1.0,
            apart,
            "1",
        )
        yield _within(f"P10: sparks a pulse of that coil ({name})", twin.sparks_per_pulse, 1.9, 5.0, "1")
        yield _within(
            f"P10: its opening current over that of the well-set one ({name})",
            (twin.opening_current.mean or math.nan) / (good.opening_current.mean or math.nan),
            0.3,
            0.88,
            "1",
        )


def buzz() -> Iterator[Check]:
    """P11: on a battery it simply buzzes."""
    rates = [_read(Machine(), BatteryDrive(volts)).sparks_a_second for volts in (6.0, 9.0, 12.0)]
    yield _within("P11: sparks a second on 12 V", rates[2], 100.0, 900.0, "Hz")
    yield _within("P11: the pitch rises with the supply: 12 V over 6 V", rates[2] / rates[0], 1.2, 4.0, "1")
    softer = _read(Machine().scaled(vibrator_preload=1.2), BatteryDrive(12.0)).sparks_a_second
    yield _within("P11: the pitch depends on the springs: vibrator preload x1.2 over nominal", softer / rates[2], 0.3, 0.98, "1")


def in_the_car() -> Iterator[Check]:
    """P12: in the car the firing angle moves in jumps of one pulse, 22.5 degrees, as the timer moves."""
    pulse = 180.0 / Machine().magneto.pole_pairs
    angles = []
    for start in range(91):
        run = simulate(Machine(), TimerDrive(450.0, window_start=float(start), window_width=30.0), pulses=6, warm_up=1)
        fired = [spark.crank_angle for spark in sparks(run) if spark.pulse == 3 and spark.crank_angle is not None]
        angles.append(fired[0])
    later = [b - a for a, b in zip(angles, angles[1:], strict=False)]
    jumps = [step for step in later if abs(step) > 0.5 * pulse]
    yield _row(
        "P12: jumps of the first firing angle while the timer moves by 90 degrees",
        len(jumps),
        4.0,
        1.0,
        "1",
        "90 over 22.5 degrees",
    )
    yield _row("P12: mean jump plus drift over one pulse of timer", (angles[-1] - angles[0]) / 4.0, pulse, 3.0, "degree")
    still = sum(abs(step) < 1.0 for step in later) / len(later)
    yield _within("P12: share of one-degree timer moves that move the spark by less than one degree", still, 0.6, 1.0, "1")
    after = [angle - start for start, angle in enumerate(angles)]
    yield _within("P12: shortest delay from timer to spark", min(after), 2.0, pulse, "degree")
    steady = simulate(Machine(), TimerDrive(450.0, window_start=15.0, window_width=20.0), pulses=12, warm_up=2)
    yield _row("P12: sparks a window that lets one pulse through", sum(sparks_in_pulses(steady)) / 12.0, 1.0, 0.0, "1")
    yield _within("P12: openings in such windows", len(first_openings(steady)), 12, 12, "1")


PHENOMENA = (
    well_set,
    slack_cushion,
    stiff_cushion,
    hides_when_slow,
    preload_sets_the_current,
    magneto_strength,
    speed_limits,
    best_condenser,
    leakage,
    blind_meter,
    buzz,
    in_the_car,
)


def checks() -> Iterator[Check]:
    """Yield the rows of every phenomenon."""
    for phenomenon in PHENOMENA:
        yield from phenomenon()


def ledger_runs() -> Iterator[Run]:
    """Yield runs of the nominal machine on every kind of drive, well set and not, for the energy ledger."""
    for drive in (
        MagnetoDrive(200.0),
        MagnetoDrive(450.0),
        MagnetoDrive(900.0, 1.4),
        TimerDrive(450.0),
        BatteryDrive(12.0),
        TransformerDrive(9.0),
    ):
        for factor in (0.3, 1.0, 1.7):
            yield simulate(Machine().scaled(cushion_preload=factor), drive, pulses=20, warm_up=2)


def ledger() -> Iterator[Check]:
    """The energy ledger: source = losses + stored, on every drive."""
    for run in ledger_runs():
        name = f"ledger, {type(run.drive).__name__}, cushion preload {run.machine.cushion.preload:.2f} N: energy unaccounted for"
        yield Check(
            name,
            run.ledger.error,
            0.0,
            0.005,
            "1",
            "conservation of energy",
            "exact formula",
            "share of the source's energy",
            absolute=True,
        )
