"""The kernel's named steps, one by one, on numbers made here: against libraries, a published check value and plain algebra.

The whole kernel is held against scipy and ngspice elsewhere (test_reference, test_spice); a slip in one step that such a run
hardly feels (a far argument, a stop that is seldom reached, a term that is small on the nominal machine) shows here.
"""

from __future__ import annotations

import itertools
import math
import random
from typing import Any

import numpy
import pytest
from scipy import integrate

from coilmodel import Machine, MagnetoDrive, TimerDrive, kernel
from coilmodel.tally import numbers_of


# ------------------------------------------------------------------------------------------------------ sine and chance
def test_sine_and_cosine_are_those_of_the_mathematics_library_near_and_far() -> None:
    near = numpy.linspace(-40.0, 40.0, 4001)
    far = numpy.array([sign * 10.0**power * tenth for sign in (-1, 1) for power in range(2, 9) for tenth in (1.0, 3.7, 9.1)])
    for x in (*near, *far):
        allowed = 1e-15 + 1.2e-16 * abs(x)
        assert abs(kernel.sine(float(x)) - math.sin(x)) <= allowed, x
        assert abs(kernel.cosine(float(x)) - math.cos(x)) <= allowed + 2e-16, x


def test_the_generator_gives_the_published_ten_thousandth_number() -> None:
    """Park & Miller (Comm. ACM 31, 1988, from memory): started with 1, the 10,000th is 1043618065; four make one of ours."""
    draw = 1.0
    for _ in range(2500):
        draw, _ = kernel.normal(draw)
    assert draw == 1043618065.0


def test_four_uniform_numbers_make_one_with_mean_0_and_spread_1() -> None:
    """Against numpy's statistics, and one worked by hand: 16807, 282475249, 1622650073, 984943658 follow a 1 (the same rule)."""
    by_hand = (sum((16807, 282475249, 1622650073, 984943658)) / 2147483647.0 - 2.0) * math.sqrt(3.0)
    assert kernel.normal(1.0) == (984943658.0, pytest.approx(by_hand, rel=1e-13))
    numbers, draw = [], 7.0
    for _ in range(20000):
        draw, z = kernel.normal(draw)
        numbers.append(z)
    assert numpy.mean(numbers) == pytest.approx(0.0, abs=0.03)
    assert numpy.std(numbers) == pytest.approx(1.0, abs=0.02)


def test_scatter_is_a_share_of_the_value_and_never_takes_more_than_four_fifths() -> None:
    assert kernel.scattered(10e3, 0.05, 2.0) == pytest.approx(11e3, rel=1e-12)
    assert kernel.scattered(10e3, 0.05, -2.0) == pytest.approx(9e3, rel=1e-12)
    assert kernel.scattered(10e3, 0.5, -1.5) == pytest.approx(2.5e3, rel=1e-12)
    assert kernel.scattered(10e3, 0.5, -1.7) == pytest.approx(2e3, rel=1e-12)


# ------------------------------------------------------------------------------------------------------------- the air
@pytest.mark.parametrize(("opened", "volts"), [
    (-1e-6, 21.0), (0.0, 21.0), (0.2e-6, 21.0),  # not parted, or so little that an arc's own striking voltage rules: 1.5 x 14
    (1e-6, 55.0), (4e-6, 220.0),  # field emission, 55 V a micrometre
    (7e-6, 330.0), (9e-6, 330.0),  # Paschen's minimum
    (100e-6, 67.2e3 * 1e-2 + 2436e3 * 1e-4), (1e-3, 67.2e3 * math.sqrt(1e-3) + 2436.0),  # Kueffel's sum: 915.6 V and 4.56 kV
])
def test_what_parted_contacts_hold(opened: float, volts: float) -> None:
    assert kernel.contact_gap_holds(opened, 14.0) == pytest.approx(volts, rel=1e-9)


def test_what_a_spark_gap_holds_after_a_spark() -> None:
    holds = [kernel.spark_gap_holds(quiet, 10e3, 600.0, 0.1e-3) for quiet in (0.0, 1e-6, 0.1e-3, 0.3e-3, 1.0)]
    assert holds[:2] == [750.0, 750.0]  # a quarter over what it burns at, until it has won more than that
    assert holds[2] == pytest.approx(5300.0, rel=1e-12)  # half of 600 to 10,000 after one recovery time
    assert holds[3] == pytest.approx(600.0 + 0.75 * 9400.0, rel=1e-12)
    assert holds[4] == pytest.approx(10e3, rel=1e-3)


# ----------------------------------------------------------------------------------------------------- source and magnet
def test_an_emf_has_its_harmonics_and_no_magneto_is_a_constant() -> None:
    assert kernel.emf(3.0, 6.0, 99.0, 0.0, 0.1, 0.1, 0.1, 5.0, 0.0) == 6.0
    for t in (0.0, 0.3e-3, 1.7e-3, 4.1e-3):
        wt = 377.0 * t
        expected = 2.0 + 11.0 * (math.sin(wt) + 0.12 * math.sin(3.0 * wt) - 0.05 * math.sin(5.0 * wt))
        assert kernel.emf(t, 2.0, 11.0, 377.0, 0.12, -0.05, 0.0, 0.0, 0.0) == pytest.approx(expected, rel=1e-12)


def test_with_ripple_the_emf_is_the_rate_of_a_flux_whose_crank_runs_ahead_and_behind() -> None:
    """Flux by scipy's quadrature of the speed; the EMF is its slope, harmonics and all."""
    omega, ripple, slow, phase, third, fifth = 377.0, 0.06, 29.0, 0.7, 0.1, -0.04

    def angle(t: float) -> float:
        return float(integrate.quad(lambda s: omega * (1.0 + ripple * math.sin(slow * s + phase)), 0.0, t)[0])

    def flux(t: float) -> float:
        th = angle(t)
        return -(math.cos(th) + third / 3.0 * math.cos(3.0 * th) + fifth / 5.0 * math.cos(5.0 * th)) / omega

    for t in (0.4e-3, 3.3e-3, 41e-3, 0.2):
        slope = (flux(t + 1e-6) - flux(t - 1e-6)) / 2e-6
        assert kernel.emf(t, 0.0, 1.0, omega, third, fifth, ripple, slow, phase) == pytest.approx(slope, abs=2e-6)


def test_the_inductance_goes_on_in_a_straight_line_where_the_pull_is_held() -> None:
    """L' = 2 K / gap^2 is twice the pull over i^2 everywhere, so that no energy comes from the place where the formula ends."""
    g0, K, L0 = 0.9e-3, 1.2e-7, 1.4e-3
    for xv in (-0.2e-3, 0.0, 0.4e-3, 0.8e-3, 0.81e-3, 0.85e-3, 0.95e-3):
        gap, inductance = kernel.magnetic(xv, g0, K, L0)
        assert gap == pytest.approx(max(g0 - xv, 0.1 * g0), rel=1e-12)
        step = 1e-9
        slope = (kernel.magnetic(xv + step, g0, K, L0)[1] - kernel.magnetic(xv - step, g0, K, L0)[1]) / (2.0 * step)
        assert slope == pytest.approx(2.0 * K / gap**2, rel=1e-4)
        if xv < 0.81e-3:
            assert inductance == pytest.approx(L0 + 2.0 * K / (g0 - xv), rel=1e-12)


@pytest.mark.parametrize(("closed", "still", "vv", "ceiling"), [
    (1, 0, 0.0, kernel.CEILING_REST), (1, 0, 0.0199, kernel.CEILING_REST), (1, 0, -0.0199, kernel.CEILING_REST),
    (1, 0, 0.02, kernel.CEILING_MOVING), (1, 0, -0.02, kernel.CEILING_MOVING),
    (1, 0, 0.021, kernel.CEILING_MOVING), (1, 0, -0.5, kernel.CEILING_MOVING), (1, kernel.STILL_STEPS, 0.0, kernel.CEILING_REST),
    (0, 0, 0.0, 1.3e-6), (0, kernel.STILL_STEPS - 1, 0.0, 1.3e-6), (0, kernel.STILL_STEPS, 0.0, kernel.CEILING_MOVING),
])
def test_how_long_a_step_may_be_far_from_the_core(closed: int, still: int, vv: float, ceiling: float) -> None:
    assert kernel.longest_step(closed, still, -0.3e-3, vv, 0.9e-3, 1.3e-6, 1.0) == ceiling
    assert kernel.longest_step(closed, still, -0.3e-3, vv, 0.9e-3, 1.3e-6, 0.5) == 0.5 * ceiling


@pytest.mark.parametrize("vv", [2.0, -2.0, 40.0])
def test_near_the_core_no_step_takes_more_than_a_share_of_the_gap(vv: float) -> None:
    g0 = 0.9e-3
    for xv in (0.1e-3, 0.45e-3, 0.85e-3):
        gap = max(g0 - xv, 0.1 * g0)
        step = kernel.longest_step(1, 0, xv, vv, g0, 1.3e-6, 1.0)
        assert step == pytest.approx(min(kernel.CEILING_MOVING, 0.03 * gap * gap / g0 / abs(vv)), rel=1e-12)
    assert kernel.longest_step(1, 0, -1e-9, 2.0, g0, 1.3e-6, 1.0) == kernel.CEILING_MOVING  # on the way, and room enough
    assert kernel.longest_step(1, 0, -1e-6, 60.0, g0, 1.3e-6, 1.0) == pytest.approx(0.03 * (g0 + 1e-6) ** 2 / g0 / 60.0, rel=1e-9)


# ----------------------------------------------------------------------------------------------------------- the blades
MACHINE: dict[str, float] = {
    "mv": 1.1e-3, "kv": 400.0, "Fv0": 3.0, "cv": 0.1, "mc": 0.3e-3, "kc": 3000.0, "Fc0": 1.5, "cc": 0.5, "kct": 1e6, "cct": 5.0,
    "kr": 1.5e6, "cr": 29.0, "kb": 1.4e6, "cb": 3.3, "bridge_at": -0.15e-3, "kst": 5e6, "cst": 40.0, "xs": 0.45e-3}


def solved(hh: float, xv: float, vv: float, xc: float, vc: float, F: float, on: tuple[int, int, int, int]) -> tuple[Any, float]:
    """Return both mid-step speeds and the contact force of the implicit midpoint rule, as numpy's matrices have it."""
    m = MACHINE
    touch, rivet, bridge, stop = on
    mass = numpy.diag([m["mv"], m["mc"]])
    join = numpy.array([[1.0, -1.0], [-1.0, 1.0]])
    damping = numpy.diag([m["cv"] + stop * m["cst"], m["cc"] + rivet * m["cr"] + bridge * m["cb"]]) + touch * m["cct"] * join
    stiffness = numpy.diag([m["kv"] + stop * m["kst"], m["kc"] + rivet * m["kr"] + bridge * m["kb"]]) + touch * m["kct"] * join
    rest = numpy.array([F - m["Fv0"] + stop * m["kst"] * m["xs"], m["Fc0"] + bridge * m["kb"] * m["bridge_at"]])
    x, v = numpy.array([xv, xc]), numpy.array([vv, vc])
    middle = numpy.linalg.solve(mass / hh + damping + hh * stiffness, mass @ v / hh + rest - stiffness @ x)
    closing = middle[1] - middle[0]
    return middle, m["kct"] * (xc - xv + hh * closing) + m["cct"] * closing


def pushes(hh: float, xv: float, xc: float, middle: Any, force: float, on: tuple[int, int, int, int]) -> list[bool]:
    """Return of contact, rivet, bridge and stop whether each would push (a one-sided spring-damper), at mid-step."""
    m, (v, c) = MACHINE, middle
    return [
        not on[0] or force >= 0.0,
        not on[1] or m["kr"] * (xc + hh * c) + m["cr"] * c >= 0.0,
        not on[2] or m["kb"] * (xc + hh * c - m["bridge_at"]) + m["cb"] * c <= 0.0,
        not on[3] or m["kst"] * (xv + hh * v - m["xs"]) + m["cst"] * v >= 0.0,
    ]


def test_the_blades_step_is_the_implicit_midpoint_rule_and_nothing_pulls() -> None:
    """1920 states by lot, every mix of contact and stops: the speeds solve the two equations of what is left on, which pushes."""
    chance, seen = random.Random(11), set()
    for on in itertools.product((0, 1), repeat=4):
        for turn in range(120):
            hh = chance.choice((1e-6, 3e-6, 16e-6)) / 2.0
            near = chance.uniform(-0.2e-6, 2e-6)  # into a stop, where whether it pushes hangs on both place and speed
            xc = chance.uniform(-0.1502e-3, 0.5e-6) if turn % 3 else near if on[1] else MACHINE["bridge_at"] - near
            xv = xc + chance.uniform(-2e-6, 0.5e-6) if on[0] else chance.uniform(0.0, 0.4504e-3)
            if on[3] and not turn % 3:
                xv = MACHINE["xs"] + near
            fast = chance.choice((1.0, 0.1))
            vv, vc, F = fast * chance.uniform(-1.0, 1.0), fast * chance.uniform(-1.0, 1.0), chance.uniform(0.0, 8.0)
            vvm, vcm, force, *left = kernel.masses(hh, xv, vv, xc, vc, F, *on, **MACHINE)
            still = (left[0], left[1], left[2], left[3])
            assert all(after <= before for after, before in zip(still, on, strict=True))
            middle, expected = solved(hh, xv, vv, xc, vc, F, still)
            assert (vvm, vcm) == pytest.approx(tuple(middle), rel=1e-9, abs=1e-12)
            assert force == pytest.approx(expected if still[0] else 0.0, rel=1e-9, abs=1e-9)
            assert all(pushes(hh, xv, xc, middle, expected, still))
            if still != on:  # what was let go would have pulled
                whole = solved(hh, xv, vv, xc, vc, F, on)
                assert not all(pushes(hh, xv, xc, *whole, on))
            seen |= {(place, before, after) for place, (before, after) in enumerate(zip(on, still, strict=True))}
    assert seen == {(place, before, after) for place in range(4) for before, after in ((0, 0), (1, 0), (1, 1))}


def test_the_soonest_switch_of_a_step_is_found_with_its_moment() -> None:
    def found(on: tuple[int, int, int, int], now: tuple[float, float], then: tuple[float, float]) -> tuple[float, float, int]:
        """Vibrator and cushion go from `now` to `then`; the bridge is at -1, the core's stop at 1."""
        return kernel.blades_switch(*on, now[0], now[1], then[0], then[1], -1.0, 1.0)

    apart, touching = (0, 0, 0, 0), (1, 0, 0, 0)
    assert found(apart, (0.5, 0.0), (0.5, -0.1)) == (2.0, 0.0, 0)  # nothing meets
    assert found(apart, (0.5, -0.4), (0.1, -0.5)) == (2.0, 0.0, 0)
    assert found(apart, (0.3, -0.5), (-0.3, -0.5)) == (2.0, 0.0, 0)
    assert found(apart, (0.3, -0.1), (-0.1, -0.0)) == (pytest.approx(0.8), pytest.approx(0.1 / kernel.NEAR), kernel.TOUCH)
    assert found(touching, (-0.4, -0.4), (0.2, -0.4)) == (0.0, pytest.approx(0.6 / kernel.NEAR), kernel.TOUCH)  # lets go at once
    assert found(touching, (-0.4, -0.3), (0.2, -0.4)) == (pytest.approx(1 / 7), pytest.approx(0.6 / kernel.NEAR), kernel.TOUCH)
    assert found(apart, (0.9, -0.2), (0.9, 0.2)) == (pytest.approx(0.5), pytest.approx(0.2 / kernel.NEAR), kernel.RIVET)
    assert found((0, 1, 0, 0), (0.9, 0.1), (0.9, -0.3)) == (pytest.approx(0.25), pytest.approx(0.3 / kernel.NEAR), kernel.RIVET)
    assert found(apart, (0.5, -0.8), (0.5, -1.2)) == (pytest.approx(0.5), pytest.approx(0.2 / kernel.NEAR), kernel.BRIDGE)
    assert found((0, 0, 1, 0), (0.5, -1.1), (0.5, -0.8)) == (pytest.approx(1/3), pytest.approx(0.2 / kernel.NEAR), kernel.BRIDGE)
    assert found(apart, (0.6, -0.5), (1.4, -0.5)) == (pytest.approx(0.5), pytest.approx(0.4 / kernel.NEAR), kernel.STOP)
    assert found((0, 0, 0, 1), (1.3, -0.5), (0.9, -0.5)) == (pytest.approx(0.75), pytest.approx(0.1 / kernel.NEAR), kernel.STOP)
    cut, far, switch = found(apart, (0.75, -0.25), (1.75, 0.75))  # rivet and core's stop at the same moment: the first stays
    assert (cut, switch) == (pytest.approx(0.25), kernel.RIVET)
    cut, far, switch = found(apart, (0.9, -0.3), (1.3, 0.1))  # the stop at a quarter, the rivet at three
    assert (cut, far, switch) == (pytest.approx(0.25), pytest.approx(0.3 / kernel.NEAR), kernel.STOP)


def test_the_springs_energy_has_the_springs_forces_for_its_slope() -> None:
    m = MACHINE
    given = {name: m[name] for name in ("kv", "Fv0", "kc", "Fc0", "kct", "kr", "kb", "bridge_at", "kst", "xs")}
    chance, step = random.Random(3), 1e-8
    for on in itertools.product((0, 1), repeat=4):
        touch, rivet, bridge, stop = on
        xv, xc = chance.uniform(-1e-4, 5e-4), chance.uniform(-2e-4, 1e-4)
        along = {blade: (kernel.springs_hold(xv + step * (blade == "v"), xc + step * (blade == "c"), *on, **given)
                         - kernel.springs_hold(xv - step * (blade == "v"), xc - step * (blade == "c"), *on, **given)) / (2 * step)
                 for blade in "vc"}
        closing = touch * m["kct"] * (xc - xv)
        assert along["v"] == pytest.approx(m["Fv0"] + m["kv"] * xv - closing + stop * m["kst"] * (xv - m["xs"]), rel=1e-6)
        assert along["c"] == pytest.approx(-m["Fc0"] + m["kc"] * xc + closing + rivet * m["kr"] * xc
                                           + bridge * m["kb"] * (xc - m["bridge_at"]), rel=1e-6)
    assert kernel.springs_hold(0.0, 0.0, 0, 0, 0, 0, **given) == 0.0


def test_what_dampers_take() -> None:
    assert kernel.dampers_take(1, 0, 1e6, 5.0, 1e-6, 2e-6, 0.3, 2e-6) == 0.0  # not there
    assert kernel.dampers_take(1, 1, 1e6, 5.0, 1e-6, 2e-6, -0.3, 2e-6) == pytest.approx(5.0 * 0.09 * 2e-6, rel=1e-12)
    assert kernel.dampers_take(0, 1, 1e6, 5.0, 3e-6, 1e-6, -0.3, 2e-6) == pytest.approx(0.5e6 * (9e-12 - 1e-12), rel=1e-12)


# ------------------------------------------------------------------------------------------------------- an opening's row
def column(name: str) -> int:
    return kernel.EVENT.index(name)


def test_an_opening_begins_with_what_is_known_and_nothing_else() -> None:
    events = [9.0] * (3 * 18)
    kernel.begin_opening(events, 18, 3e-3, 4.5, 0.4, 1, 1e-6, -2e-6, 33e-3)
    assert events[:18] == events[36:] == [9.0] * 18
    row = dict(zip(kernel.EVENT, events[18:36], strict=True))
    assert {name: value for name, value in row.items() if value != 0.0} == {
        "time": 3e-3, "current": 4.5, "parting_speed": 0.4, "on_rivet": 1.0, "vibrator": 1e-6, "cushion": -2e-6,
        "closing_time": -1.0, "first_spark_time": -1.0, "quiet": -1.0, "stored_energy": 33e-3}
    kernel.begin_opening(events, 18, 3e-3, 4.5, 0.4, 0, 1e-6, -2e-6, 33e-3)
    assert events[18 + column("on_rivet")] == 0.0


def test_the_highest_voltages_and_the_widest_gap_stand_whatever_their_sign() -> None:
    events = [0.0] * 36
    for v, vs, gap in ((20.0, -3e3, 1e-5), (-300.0, 9e3, 5e-5), (250.0, -12e3, 2e-5), (-10.0, 5.0, 0.0)):
        kernel.widen(events, 18, v, vs, gap)
    assert events[18 + column("peak_contact_voltage")] == 300.0
    assert events[18 + column("peak_secondary_voltage")] == 12e3
    assert events[18 + column("largest_gap")] == 5e-5
    assert sum(events) == 300.0 + 12e3 + 5e-5


def test_an_arc_belongs_to_the_break_while_the_gap_has_never_been_wider() -> None:
    events = [0.0] * 36
    events[18 + column("largest_gap")] = 2e-5
    kernel.arced(events, 18, 1e-3, 2e-5)
    kernel.arced(events, 18, 2e-3, 3e-5)
    kernel.arced(events, 18, 4e-3, 1e-5)
    assert events[18 + column("arc_energy")] == pytest.approx(7e-3, rel=1e-12)
    assert events[18 + column("break_arc_energy")] == pytest.approx(3e-3, rel=1e-12)


def test_no_more_rows_are_written_than_there_is_room_for() -> None:
    """The kernel as it is, so that a row too many is an IndexError: five rows and a bit of a sixth."""
    numbers = dict(zip(kernel.PARAMETERS, numbers_of(Machine(), MagnetoDrive(), 1, 0), strict=True))
    numbers |= {"end": 0.5e-3, "record_from": 0.0, "record_to": 1.0, "record_every": 1e-5}
    strips, meter = [7.0] * (5 * len(kernel.STRIP) + 3), [0.0] * len(kernel.METER)
    kernel.advance(tuple(numbers.values()), strips, [0.0] * 18, [0.0] * len(kernel.LEDGER), meter)
    assert meter[kernel.METER.index("rows")] == 5.0
    assert strips[-3:] == [7.0, 7.0, 7.0]
    assert strips[4 * len(kernel.STRIP)] == pytest.approx(4e-5, abs=2e-5)


# ---------------------------------------------------------------------------------------- what a run adds up
ON_MAGNETO = MagnetoDrive()
Named = dict[str, float]


def every_step(end: float, drive: Any = ON_MAGNETO) -> tuple[Named, dict[str, Any], Named, Named]:
    """Run the kernel as it is to `end` (s) on the nominal machine; return its numbers, a row a step, meter and ledger."""
    numbers = dict(zip(kernel.PARAMETERS, numbers_of(Machine(), drive, 1, 0), strict=True))
    numbers |= {"end": end, "record_from": 0.0, "record_to": 1.0, "record_every": 0.0}
    strips, meter, ledger = [0.0] * (20_000 * len(kernel.STRIP)), [0.0] * len(kernel.METER), [0.0] * len(kernel.LEDGER)
    kernel.advance(tuple(numbers.values()), strips, [0.0] * (4 * len(kernel.EVENT)), ledger, meter)
    read = dict(zip(kernel.METER, meter, strict=True))
    table = numpy.array(strips).reshape(-1, len(kernel.STRIP))[:int(read["rows"])]
    assert read["rows"] >= read["steps"] > 200.0
    return numbers, dict(zip(kernel.STRIP, table.T, strict=True)), read, dict(zip(kernel.LEDGER, ledger, strict=True))


def test_a_runs_meters_are_those_of_its_current() -> None:
    _, rows, meter, _ = every_step(6e-3)  # over the break: the current turns round and rings
    time, current = (numpy.concatenate(([0.0], rows[name])) for name in ("time", "current"))
    step, middle = numpy.diff(time), 0.5 * (current[1:] + current[:-1])
    assert middle.min() < -1.0 < 4.0 < middle.max()
    assert meter["seconds"] == pytest.approx(6e-3, rel=1e-9)
    assert meter["current"] == pytest.approx(float(numpy.sum(middle * step)), rel=1e-9)
    assert meter["absolute_current"] == pytest.approx(float(numpy.sum(numpy.abs(middle) * step)), rel=1e-9)
    assert meter["squared_current"] == pytest.approx(float(numpy.sum(middle**2 * step)), rel=1e-9)
    assert meter["peak_current"] == pytest.approx(float(numpy.max(numpy.abs(middle))), rel=1e-9)


def stored(p: dict[str, float], rows: dict[str, Any]) -> float:
    """Return what fields, condensers, masses and springs hold at the last row, J, written out anew; speeds from two rows."""
    at = {name: float(values[-1]) for name, values in rows.items()}
    step = float(rows["time"][-1] - rows["time"][-2])
    xv, xc = at["vibrator"], at["cushion"]
    vv, vc = (float(rows[name][-1] - rows[name][-2]) / step for name in ("vibrator", "cushion"))
    first, ratio, k = p["primary_inductance"], p["turns_ratio"], p["coupling"]
    far = k * first - 2.0 * p["pull_constant"] / p["magnetic_gap"]
    core = far + 2.0 * p["pull_constant"] / (p["magnetic_gap"] - xv)
    circuit = (0.5 * (p["source_inductance"] + (1.0 - k) * first) * at["current"]**2
               + 0.5 * (1.0 - k) * ratio**2 * first * at["secondary_current"]**2 + 0.5 * at["flux"]**2 / core
               + 0.5 * p["capacitance"] * at["contact_voltage"]**2
               + 0.5 * p["secondary_capacitance"] * at["secondary_voltage"]**2)
    motion = 0.5 * p["vibrator_mass"] * vv**2 + 0.5 * p["cushion_mass"] * vc**2
    blades = (p["vibrator_preload"] * xv + 0.5 * p["vibrator_stiffness"] * xv**2 - p["cushion_preload"] * xc
              + 0.5 * p["cushion_stiffness"] * xc**2)
    pressed = (0.5 * p["contact_stiffness"] * max(0.0, xc - xv)**2 + 0.5 * p["rivet_stiffness"] * max(0.0, xc)**2
               + 0.5 * p["bridge_stiffness"] * max(0.0, -p["travel"] - xc)**2
               + 0.5 * p["stop_stiffness"] * max(0.0, xv - p["stop_position"])**2)
    return circuit + motion + blades + pressed


def test_what_is_stored_in_the_end_is_what_fields_condensers_masses_and_springs_hold() -> None:
    """At the moment of the highest secondary voltage before the spark, where every term counts."""
    _, rows, _, _ = every_step(6e-3)
    highest = int(numpy.argmax(numpy.abs(rows["secondary_voltage"])))
    p, rows, _, ledger = every_step(float(rows["time"][highest]))
    assert abs(rows["secondary_voltage"][-1]) > 8e3
    assert ledger["stored_end"] == pytest.approx(stored(p, rows), abs=1e-6)


def test_nothing_is_stored_by_a_run_of_no_length() -> None:
    """Blades at rest, in the tenth of a microjoule: what the springs hold in the end is what they held at the start."""
    numbers = dict(zip(kernel.PARAMETERS, numbers_of(Machine(), MagnetoDrive(), 1, 0), strict=True)) | {"end": 1e-6}
    ledger = [0.0] * len(kernel.LEDGER)
    kernel.advance(tuple(numbers.values()), [], [0.0] * 18, ledger, [0.0] * len(kernel.METER))
    start, end = ledger[kernel.LEDGER.index("stored_start")], ledger[kernel.LEDGER.index("stored_end")]
    assert abs(start) > 1e-4
    assert end == pytest.approx(start, abs=1e-7)


@pytest.mark.parametrize(("xv", "xc"), [
    (0.0, -0.02e-3), (-0.15e-3, -0.149e-3),  # apart; touching
    (-0.1531e-3, -0.153e-3), (1e-6, 2e-6), (0.63e-3, 0.6301e-3),  # on the bridge, on the rivet, on the rivet and the core
    (0.63e-3, -0.02e-3), (0.63e-3, -0.153e-3),  # on the core, alone or with the bridge
])
def test_what_springs_hold_at_the_start_is_what_presses_there(xv: float, xc: float) -> None:
    """The start is wherever it is put, and what touches there is on from the first step."""
    numbers = dict(zip(kernel.PARAMETERS, numbers_of(Machine(), MagnetoDrive(), 1, 0), strict=True))
    numbers |= {"start_vibrator": xv, "start_cushion": xc, "end": 1e-9, "stop_position": 0.62e-3, "travel": 0.152e-3,
                "magnetic_gap": 1.2e-3}
    ledger, meter = [0.0] * len(kernel.LEDGER), [0.0] * len(kernel.METER)
    kernel.advance(tuple(numbers.values()), [], [0.0] * 18, ledger, meter)
    assert meter[kernel.METER.index("openings")] == 0.0, "contacts that are apart do not open"
    p, still = numbers, dict.fromkeys(kernel.STRIP, (0.0, 0.0)) | {"time": (0.0, 1.0), "vibrator": (xv, xv), "cushion": (xc, xc)}
    assert ledger[kernel.LEDGER.index("stored_start")] == pytest.approx(stored(p, still), rel=1e-9, abs=1e-12)
    assert sum(ledger[1:10]) + ledger[11] - ledger[10] == pytest.approx(ledger[0], abs=1e-9)


def test_the_timer_switches_at_its_moments_to_the_nanosecond() -> None:
    """A step ends just there: before it no current, after it some; and from the window's end on the timer's arc opposes it."""
    p, rows, _, ledger = every_step(20.5e-3, TimerDrive(450.0))
    opens, closes = p["window_start"], p["window_start"] + p["window_width"]
    time, current = rows["time"], rows["current"]
    begins = int(numpy.flatnonzero(current)[0])
    assert time[begins - 1] == pytest.approx(opens, abs=1e-9)
    ends = int(numpy.flatnonzero(time > closes - 1e-9)[0])
    assert time[ends] == pytest.approx(closes, abs=1e-9)
    slope = numpy.diff(current) / numpy.diff(time)
    jump = abs(slope[ends]) - abs(slope[ends - 1])
    alone = p["timer_voltage"] / (p["source_inductance"] + (1.0 - p["coupling"]) * p["primary_inductance"])  # flux stays
    assert jump == pytest.approx(alone, rel=0.05)
    out = ends + int(numpy.argmin(numpy.abs(current[ends:]) > 0.0))  # the arc is out where the current has come to nothing
    assert 0.0 < abs(current[out - 1]) < 0.1 < abs(current[ends])
    assert not numpy.any(current[out:])
    taken = p["timer_voltage"] * abs(numpy.trapezoid(current[ends:out + 1], time[ends:out + 1]))
    assert ledger["timer"] == pytest.approx(float(taken), rel=0.01)


def test_what_resistances_take_is_that_of_their_currents_and_voltages() -> None:
    """To some parts in a thousand, since a voltage that an arc sets stands in the row after the step that it held in."""
    p, rows, _, ledger = every_step(6e-3)
    step = numpy.diff(rows["time"], prepend=0.0)

    def squares(name: str) -> float:
        middle = 0.5 * (rows[name] + numpy.concatenate(([0.0], rows[name][:-1])))
        return float(numpy.sum(middle**2 * step))

    assert ledger["copper"] == pytest.approx((p["source_resistance"] + p["primary_resistance"]) * squares("current"), rel=3e-3)
    assert ledger["secondary"] == pytest.approx(p["secondary_resistance"] * squares("secondary_current"), rel=3e-3)
    assert ledger["leakage"] == pytest.approx(squares("contact_voltage") / p["leakage_resistance"], rel=0.02)
    assert ledger["source"] == pytest.approx(float(numpy.trapezoid(rows["emf"] * rows["current"], rows["time"])), rel=3e-3)
