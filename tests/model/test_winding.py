"""The geometry of a coil: each formula against a limit, a law it must obey, a published number or a sum done the long way.

Together with the proof's rows these must notice small errors planted in coilmodel/winding.py (benchmarks/bite.py).
"""

from __future__ import annotations

import cmath
import dataclasses
import inspect
import math
from typing import Any

import pytest

from coilmodel import winding
from coilmodel.proof import fields
from coilmodel.winding import Winding

INCH = 0.0254


# ------------------------------------------------------------------------------------------------------------- wire
def test_wire_gauges_are_a_geometric_row() -> None:
    """AWG 36 is 5 mils, 39 numbers lower it is 92 times as thick (ASTM B258), and 4/0 is 11.684 mm."""
    assert winding.awg_diameter(36) == pytest.approx(0.127e-3, rel=1e-15)
    assert winding.awg_diameter(-3) == pytest.approx(92.0 * 0.127e-3, rel=1e-12)
    assert winding.awg_diameter(-3) == pytest.approx(0.46 * INCH, rel=1e-12)
    for gauge in (-3, 0, 20, 55):
        assert winding.awg_diameter(gauge) / winding.awg_diameter(gauge + 1) == pytest.approx(92.0 ** (1 / 39), rel=1e-12)


def test_heat_adds_the_same_resistivity_to_any_copper() -> None:
    """Matthiessen: impurities add a part that does not depend on temperature, so the slope is that of the standard.

    Standard: 1/58 ohm mm2/m at 20 C, 0.00393 of that per kelvin (NBS Handbook 100, 1966).
    """
    slope = 0.00393 * 1e-6 / 58.0
    for conductivity in (100.0, 97.0, 50.0):
        at_twenty = winding.copper_resistivity(20.0, conductivity)
        assert at_twenty == pytest.approx(100.0 / conductivity * 1e-6 / 58.0, rel=1e-12)
        for celsius in (-40.0, 0.0, 21.0, 120.0):
            apart = winding.copper_resistivity(celsius, conductivity) - at_twenty
            assert apart == pytest.approx((celsius - 20.0) * slope, rel=1e-9), (conductivity, celsius)
    assert winding.copper_resistivity() == winding.copper_resistivity(20.0, 100.0)


def test_a_kilometre_of_a_square_millimetre_is_a_58th_of_a_kilohm() -> None:
    thick = math.sqrt(4e-6 / math.pi)
    assert winding.wire_resistance(1000.0, thick) == pytest.approx(1000.0 / 58.0, rel=1e-12)
    assert winding.wire_resistance(1000.0, 2.0 * thick) == pytest.approx(250.0 / 58.0, rel=1e-12)
    # 58 % IACS takes 58 instead of 100, at 20 C; at 120 C the slope of the standard comes on top
    hot = winding.wire_resistance(1000.0, thick, 120.0, 58.0)
    assert hot == pytest.approx(1000.0 / 33.64 + 39.3 * 10.0 / 58.0, rel=1e-12)


# ---------------------------------------------------------------------------------------------------- layer winding
def counted(turns: int, **more: float) -> Winding:
    """Ten turns of 1 mm wire (1.1 over its enamel) fill 11 mm exactly; 0.2 mm of paper between layers; former of 20 mm."""
    return winding.layer_winding(turns, 1e-3, 11e-3, 20e-3, 0.05e-3, 0.2e-3, **more)


def test_a_winding_counted_by_hand() -> None:
    """Wire axes lie 10.55 mm from the middle, then 1.3 mm further out each layer."""
    coil = counted(25)
    radii = 10 * 10.55e-3 + 10 * 11.85e-3 + 5 * 13.15e-3
    assert (coil.turns, coil.layers, coil.turns_per_layer) == (25, 3, 10)
    assert coil.wire_length == pytest.approx(2.0 * math.pi * radii, rel=1e-12)
    assert coil.mean_diameter == pytest.approx(2.0 * radii / 25, rel=1e-12)
    assert coil.length == pytest.approx(11e-3, rel=1e-12)
    assert coil.inner_diameter == 20e-3
    assert coil.outer_diameter == pytest.approx(20e-3 + 2 * (3 * 1.1e-3 + 2 * 0.2e-3), rel=1e-12)
    assert coil.build == pytest.approx(3.7e-3, rel=1e-12)
    assert coil.resistance == pytest.approx(coil.wire_length * 4e6 / (58e6 * math.pi), rel=1e-12)


@pytest.mark.parametrize(("turns", "layers", "length", "build"), [
    (1, 1, 1.1e-3, 1.1e-3), (5, 1, 5.5e-3, 1.1e-3), (10, 1, 11e-3, 1.1e-3), (11, 2, 11e-3, 2.4e-3), (20, 2, 11e-3, 2.4e-3),
    (21, 3, 11e-3, 3.7e-3)])
def test_a_layer_begins_when_the_one_below_is_full(turns: int, layers: int, length: float, build: float) -> None:
    coil = counted(turns)
    assert coil.layers == layers
    assert coil.length == pytest.approx(length, rel=1e-12)
    assert coil.build == pytest.approx(build, rel=1e-12)
    axes = [10.55e-3 + 1.3e-3 * (turn // 10) for turn in range(turns)]
    assert coil.wire_length == pytest.approx(2.0 * math.pi * sum(axes), rel=1e-12)


def test_wire_that_nearly_fits_does_not_fit() -> None:
    assert winding.layer_winding(100, 1e-3, 10.9999e-3, 20e-3, 0.05e-3).turns_per_layer == 9
    assert winding.layer_winding(100, 1e-3, 1.1e-3, 20e-3, 0.05e-3).turns_per_layer == 1
    with pytest.raises(ValueError, match=r"winding length: 0\.001099 m holds no turn of 0\.0011 m .* from 0\.0011 to 1 m"):
        winding.layer_winding(100, 1e-3, 1.099e-3, 20e-3, 0.05e-3)


def test_without_more_words_a_winding_is_bare_standard_copper_at_room_temperature() -> None:
    assert winding.layer_winding(25, 1e-3, 11e-3, 20e-3) == winding.layer_winding(25, 1e-3, 11e-3, 20e-3, 0.0, 0.0, 20.0, 100.0)
    hot = counted(25, temperature=120.0, conductivity=50.0)
    # 50 % IACS doubles what is there at 20 C; heat adds 0.393 of the standard's once
    assert hot.resistance / counted(25).resistance == pytest.approx(2.393, rel=1e-12)


# ------------------------------------------------------------------------------------------------- elliptic integrals
@pytest.mark.parametrize("k", [1e-9, 0.1, 0.5, 0.6, 0.9, 0.999])
def test_legendres_relation(k: float) -> None:
    """E K' + E' K - K K' = pi/2, whatever the modulus (Abramowitz & Stegun 17.3.13)."""
    k_prime = math.sqrt(1.0 - k * k)
    first, second, _ = winding.elliptic_integrals(k, k_prime)
    other, other_second, _ = winding.elliptic_integrals(k_prime, k)
    assert second * other + other_second * first - first * other == pytest.approx(math.pi / 2.0, rel=1e-12)


def test_elliptic_integrals_where_they_are_known() -> None:
    """At k = k' by the gamma function; at k -> 0 pi/2, pi/2 and pi/4; at k -> 1 ln(4/k'), 1 and their difference."""
    half = math.sqrt(0.5)
    first, second, difference = winding.elliptic_integrals(half, half)
    assert first == pytest.approx(math.gamma(0.25) ** 2 / (4.0 * math.sqrt(math.pi)), rel=1e-14)
    assert second == pytest.approx((first + math.pi / (2.0 * first)) / 2.0, rel=1e-14)
    assert difference == pytest.approx((first - second) / 0.5, rel=1e-13)
    assert winding.elliptic_integrals(1e-12, 1.0) == pytest.approx((math.pi / 2.0, math.pi / 2.0, math.pi / 4.0), rel=1e-14)
    first, second, difference = winding.elliptic_integrals(1.0, 1e-9)
    assert (first, second) == pytest.approx((math.log(4e9), 1.0), rel=1e-12)
    assert difference == pytest.approx(first - 1.0, rel=1e-12)


def test_a_modulus_that_is_not_the_partner_is_refused_with_the_right_one() -> None:
    with pytest.raises(ValueError, match=r"0\.801 does not belong to modulus 0\.6; give 0\.8\."):
        winding.elliptic_integrals(0.6, 0.801)
    with pytest.raises(ValueError, match="does not belong"):
        winding.elliptic_integrals(0.6, 0.799)
    winding.elliptic_integrals(0.6, 0.8 + 0.5e-9)


# ------------------------------------------------------------------------------------------------ coils without iron
NAGAOKA = {0.1: 0.958807, 0.2: 0.920093, 0.5: 0.818136, 1.0: 0.688423, 2.0: 0.525510, 5.0: 0.319825, 10.0: 0.203324}


def test_nagaokas_table() -> None:
    """Nagaoka (1909), as in Rosa & Grover, BS Sci. Paper 169 (1912), Table XXI: 1, 2 and 5 from memory, the rest computed."""
    for x, value in NAGAOKA.items():
        assert winding.nagaoka(x) == pytest.approx(value, abs=0.6e-6)


def test_nagaokas_limits() -> None:
    """A long coil loses 4 x / (3 pi) of its inductance at first, a flat one keeps 2 / (pi x) (ln 4x - 1/2)."""
    assert (1.0 - winding.nagaoka(1e-4)) / 1e-4 == pytest.approx(4.0 / (3.0 * math.pi), rel=2e-4)
    for x in (200.0, 1e3, 1001.0, 1e5, 1e6):
        flat = 2.0 / (math.pi * x) * (math.log(4.0 * x) - 0.5)
        assert winding.nagaoka(x) == pytest.approx(flat, rel=2.0 / x**2 + 1e-12), x


def test_lundins_form_is_within_three_millionths_on_both_its_branches() -> None:
    for step in range(-40, 31):
        x = 10.0 ** (step / 10.0)
        assert winding.nagaoka_lundin(x) == pytest.approx(winding.nagaoka(x), rel=3.5e-6), x
    assert winding.nagaoka_lundin(1.0) == pytest.approx(winding.nagaoka_lundin(1.0 + 1e-9), rel=3e-6)


def test_a_long_solenoid_and_what_its_turns_and_size_do() -> None:
    """mu0 N^2 A / l where it is long; N^2 and linear size elsewhere; 345.16 and 591.45 uH by an exact current sheet."""
    long = 4e-7 * math.pi * 1000.0**2 * math.pi * 0.01**2 / 4.0 / 10.0
    assert winding.solenoid_inductance(1000, 0.01, 10.0) == pytest.approx(long * (1.0 - 4e-3 / (3.0 * math.pi)), rel=1e-6)
    one = winding.solenoid_inductance(100, 2.0 * INCH, 2.0 * INCH)
    assert one == pytest.approx(345.16e-6, abs=0.006e-6)
    assert winding.solenoid_inductance(100, 2.0 * INCH, 0.8 * INCH) == pytest.approx(591.45e-6, abs=0.006e-6)
    assert winding.solenoid_inductance(300, 2.0 * INCH, 2.0 * INCH) == pytest.approx(9.0 * one, rel=1e-12)
    assert winding.solenoid_inductance(100, 6.0 * INCH, 6.0 * INCH) == pytest.approx(3.0 * one, rel=1e-12)


def test_wheelers_rules_where_he_promises_one_percent() -> None:
    """Wheeler (1928): single layer if longer than 0.4 diameters, thick if the three terms of the denominator are alike."""
    assert winding.wheeler_single_layer(100, 2.0 * INCH, 2.0 * INCH) == pytest.approx(344.83e-6, abs=0.006e-6)
    assert winding.wheeler_single_layer(100, 2.0 * INCH, 0.8 * INCH) == pytest.approx(588.24e-6, abs=0.006e-6)
    for turns, diameter, length in ((7, 0.03, 0.2), (250, 0.1, 0.06)):
        exact = winding.solenoid_inductance(turns, diameter, length)
        assert winding.wheeler_single_layer(turns, diameter, length) == pytest.approx(exact, rel=0.01)
    assert winding.wheeler_multilayer(100, 2.0 * INCH, INCH, INCH) == pytest.approx(320.0e-6, rel=1e-12)
    assert winding.wheeler_multilayer(100, 3.0 * INCH, 2.0 * INCH, 0.5 * INCH) == pytest.approx(562.5e-6, rel=1e-12)  # 18000 / 32
    exact = fields.thick_coil_inductance(70, 1.05 * INCH, 1.95 * INCH, INCH)  # mean radius 1.5 in, build 0.9 in
    assert winding.wheeler_multilayer(70, 3.0 * INCH, INCH, 0.9 * INCH) == pytest.approx(exact, rel=0.01)


def test_brooks_coil() -> None:
    """509.82 uH of 100 turns with a build of 2 cm (Brooks 1931, from memory); N^2 and size as they must."""
    one = winding.brooks_inductance(100, 0.02)
    assert one == pytest.approx(509.82e-6, rel=1e-12)
    assert winding.brooks_inductance(200, 0.06) == pytest.approx(12.0 * one, rel=1e-12)


# --------------------------------------------------------------------------------------------------------- open core
def test_every_row_of_the_rod_table_by_boundary_elements() -> None:
    """Coarse ones, of 80 panels: within 0.7 % of the table's 1000. Between rows the logarithms are evenly spaced."""
    rows = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0, 70.0, 100.0)
    for m in rows:
        solved = fields.mid_plane_factor(fields.cylinder(m, 80))
        assert winding.rod_demagnetising_factor(m) == pytest.approx(solved, rel=0.007), m
    for low, high in zip(rows[:-1], rows[1:], strict=True):
        between = math.sqrt(winding.rod_demagnetising_factor(low) * winding.rod_demagnetising_factor(high))
        assert winding.rod_demagnetising_factor(math.sqrt(low * high)) == pytest.approx(between, rel=1e-12)
        fourth = winding.rod_demagnetising_factor(low) ** 0.75 * winding.rod_demagnetising_factor(high) ** 0.25
        assert winding.rod_demagnetising_factor(low**0.75 * high**0.25) == pytest.approx(fourth, rel=1e-12)


def test_an_ellipsoid_from_sphere_to_needle() -> None:
    """Sphere 1/3, and near it 1/3 - 4/15 of what it is longer; Osborn (1945) from memory, needle (ln 2m - 1)/m^2."""
    assert winding.ellipsoid_demagnetising_factor(1.0) == pytest.approx(1.0 / 3.0, rel=1e-15)
    assert (1.0 / 3.0 - winding.ellipsoid_demagnetising_factor(1.00001)) / 1e-5 == pytest.approx(4.0 / 15.0, rel=2e-4)
    for m, value, last in ((2, 0.1736, 1e-4), (5, 0.0558, 1e-4), (10, 0.0203, 1e-4), (20, 0.00675, 1e-5), (50, 0.00144, 1e-5)):
        assert winding.ellipsoid_demagnetising_factor(m) == pytest.approx(value, abs=0.51 * last)
    assert winding.ellipsoid_demagnetising_factor(1e4) == pytest.approx((math.log(2e4) - 1.0) / 1e8, rel=1e-6)
    # The two ways of writing it meet where the squared eccentricity is 0.01.
    meet = 1.0 / math.sqrt(0.99)
    below, above = (winding.ellipsoid_demagnetising_factor(meet * (1.0 + by)) for by in (-1e-9, 1e-9))
    assert below == pytest.approx(above, rel=2e-9)


def test_an_evenly_magnetised_rod_is_a_current_sheet() -> None:
    """Chen, Brug & Goldfarb (1991): 0.3116 where it is as long as thick; a thin disc 1; a long one 4 / (3 pi m)."""
    assert winding.uniform_rod_demagnetising_factor(1.0) == pytest.approx(0.3116, abs=5e-5)
    assert winding.uniform_rod_demagnetising_factor(5.0) == pytest.approx(0.0799, abs=5e-5)
    assert winding.uniform_rod_demagnetising_factor(1000.0) == pytest.approx(4.0 / (3.0 * math.pi * 1000.0), rel=2e-3)
    assert winding.uniform_rod_demagnetising_factor(0.001) == pytest.approx(1.0, abs=0.01)


def test_a_rod_is_as_good_as_its_iron_or_its_shape() -> None:
    """Air is air; no ends, all of the iron; very good iron, 1/N; between, 1/mu + N (1 - 1/mu) is what holds flux back."""
    assert winding.rod_permeability(1.0, 0.3) == 1.0
    assert winding.rod_permeability(750.0, 0.0) == 750.0
    assert winding.rod_permeability(1e6, 0.0172) == pytest.approx(1.0 / 0.0172, rel=1e-4)
    assert winding.rod_permeability(100.0, 0.0172) == pytest.approx(37.0, abs=0.05)
    assert 1.0 / winding.rod_permeability(40.0, 0.1) == pytest.approx(1.0 / 40.0 + 0.1 * (1.0 - 1.0 / 40.0), rel=1e-12)


def iron_part(**changes: float) -> float:
    """What the iron adds (H): a slender core of weak iron, whose ends hardly matter, under a coil of its own diameter."""
    shape = {"turns": 100.0, "coil_diameter": 0.004, "coil_length": 0.2, "core_diameter": 0.003, "core_length": 0.3,
             "iron_permeability": 1.5, "iron_fill": 0.6, **changes}
    return winding.open_core_inductance(**shape) - winding.solenoid_inductance(
        shape["turns"], shape["coil_diameter"], shape["coil_length"])


def test_weak_iron_in_a_long_core_adds_its_share_of_the_section() -> None:
    """With mu near 1 and N -> 0 the flux gains fill x (mu - 1) over the core's section; the bracket is 2 - 4/3 x 2/3."""
    section = math.pi * 0.003**2 / 4.0
    plain = 4e-7 * math.pi * 100.0**2 * section / 0.3 * 0.6 * 0.5 * (2.0 - 8.0 / 9.0)
    assert iron_part() == pytest.approx(plain, rel=1e-3)
    assert iron_part(iron_permeability=1.0) == pytest.approx(0.0, abs=1e-12 * plain)


def test_good_iron_in_a_core_is_limited_by_its_shape() -> None:
    """With mu -> infinity neither iron nor fill matters: mu0 N^2 A (1/N - 1) / length x bracket."""
    slender = winding.rod_demagnetising_factor(10.0)
    for share, bracket in ((1.0, 2.0 / 3.0), (0.75, 1.0), (0.1, 2.0 - 0.4 / 3.0)):
        plain = 4e-7 * math.pi * 50.0**2 * math.pi * 0.01**2 / 4.0 / 0.1 * (1.0 / slender - 1.0) * bracket
        whole = winding.open_core_inductance(50, 0.012, 0.1 * share, 0.01, 0.1, 1e6, 1.0)
        air = winding.solenoid_inductance(50, 0.012, 0.1 * share)
        assert whole - air == pytest.approx(plain, rel=1e-4), share
    usual = winding.open_core_inductance(50, 0.012, 0.05, 0.01, 0.1)
    assert usual == winding.open_core_inductance(50, 0.012, 0.05, 0.01, 0.1, 500.0, 0.8)


# ------------------------------------------------------------------------------------------- two windings on one core
def wound(turns: int, inner: float, build: float, length: float) -> Winding:
    """A winding of which only what a leakage field sees is filled in."""
    return Winding(turns, 1, turns, 1.0, length, inner, inner + 2.0 * build, inner + build, 1.0)


def test_leakage_is_the_field_between_the_windings() -> None:
    """Half mu0 H^2 summed over the window, with the ampere-turns that climb in one winding and fall in the other."""
    primary, secondary = wound(230, 20e-3, 3e-3, 0.1), wound(17_000, 30e-3, 6e-3, 0.08)  # a gap of 2 mm, the lower height
    steps = 4000
    depth, energy = 11e-3, 0.0
    for step in range(steps):
        x = (step + 0.5) / steps * depth
        share = x / 3e-3 if x < 3e-3 else 1.0 if x < 5e-3 else (depth - x) / 6e-3
        energy += (230.0 * share / 0.08) ** 2 * 0.08 * depth / steps
    mean_turn = math.pi * 28e-3  # between the windings: 26 and 30 mm
    q = math.pi * 0.08 / depth
    short = 1.0 - (1.0 - math.exp(-q)) / q
    assert winding.leakage_inductance(primary, secondary) == pytest.approx(4e-7 * math.pi * energy * mean_turn * short, rel=1e-6)


def test_rogowskis_correction_takes_away() -> None:
    """A window pi times deeper than high keeps 1/e of its leakage; a very high one all but depth / (pi height) of it."""
    def kept(height: float) -> float:
        primary, secondary = wound(100, 20e-3, 3e-3, height), wound(100, 30e-3, 6e-3, 2.0 * height)
        whole = 4e-7 * math.pi * 100.0**2 * math.pi * 28e-3 / height * 5e-3
        return winding.leakage_inductance(primary, secondary) / whole

    assert kept(11e-3 / math.pi) == pytest.approx(math.exp(-1.0), rel=1e-9)
    assert kept(1.0) == pytest.approx(1.0 - 11e-3 / math.pi, rel=1e-9)
    assert kept(1e-3) < kept(1e-2) < kept(1e-1) < 1.0


def test_windings_may_touch_but_not_overlap() -> None:
    inner = wound(100, 20e-3, 3e-3, 0.1)
    touching = winding.leakage_inductance(inner, wound(100, 26e-3, 6e-3, 0.1))
    assert winding.leakage_inductance(inner, wound(100, 26e-3 - 1e-12, 6e-3, 0.1)) == pytest.approx(touching, rel=1e-9)
    with pytest.raises(ValueError, match=r"0\.0259 m is outside 0\.026 to 1 m \(it must clear the primary\)"):
        winding.leakage_inductance(inner, wound(100, 25.9e-3, 6e-3, 0.1))


def test_coupling_is_what_a_short_leaves() -> None:
    """With the secondary shorted a primary keeps 1 - k^2 of its inductance."""
    for k in (0.0, 0.6, 0.93, 1.0):
        assert winding.coupling_from_leakage(2.5e-3, 2.5e-3 * (1.0 - k * k)) == pytest.approx(k, abs=1e-7)
    assert winding.turns_ratio(230, 17_250) == 75.0


def test_layers_store_energy_in_pairs() -> None:
    """The voltage between two layers climbs from nothing to that of two; the energy of all pairs, summed up, is C V^2 / 2."""
    for layers in (2, 3, 20):
        pair = 8.8541878128e-12 * 2.5 * math.pi * 0.03 * 0.08 / 1e-4  # the cylinder between two layers, cut open
        steps = 2000
        energy = sum(0.5 * pair / steps * (2.0 / layers * (step + 0.5) / steps) ** 2 for step in range(steps)) * (layers - 1)
        assert winding.layer_capacitance(0.03, 0.08, 1e-4, layers, 2.5) == pytest.approx(2.0 * energy, rel=1e-6)


def test_sections_in_series_each_have_their_share_of_the_length() -> None:
    one = winding.layer_capacitance(0.03, 0.08, 1e-4, 20)
    assert winding.layer_capacitance(0.03, 0.08, 1e-4, 20, sections=4) == pytest.approx(one / 16.0, rel=1e-12)
    assert one == winding.layer_capacitance(0.03, 0.08, 1e-4, 20, 3.0, 1)


@pytest.mark.parametrize("hertz", [0.0, 1.0, 159.0, 1e3, 1e6])
def test_shorted_turns_as_a_transformers_secondary(hertz: float) -> None:
    """The impedance j w L + (w M)^2 / (R + j w L_loop), by complex numbers."""
    w, mutual = 2.0 * math.pi * hertz, 0.9 * math.sqrt(2.6e-3 * 1e-6)
    z = 1j * w * 2.6e-3 + (w * mutual) ** 2 / (1e-3 + 1j * w * 1e-6)
    left, added = winding.shorted_turns(2.6e-3, 0.9, 1e-6, 1e-3, hertz)
    assert added == pytest.approx(z.real, rel=1e-12)
    assert left == pytest.approx(z.imag / w if w else 2.6e-3, rel=1e-12)
    assert cmath.isfinite(complex(left, added))


# ------------------------------------------------------------------------------------------------------ a whole coil
CORE = {"core_diameter": 0.012, "core_length": 0.12}
TURNS = {"primary_turns": 230, "primary_wire": 0.8e-3, "primary_length": 0.1052, "secondary_turns": 17_250,
         "secondary_wire": 0.09e-3, "secondary_length": 0.08}
REST = {"former_wall": 0.4e-3, "insulation_between": 2e-3, "enamel": 0.02e-3, "layer_insulation": 0.06e-3,
        "secondary_sections": 3, "permittivity": 2.5, "stray_capacitance": 20e-12, "iron_permeability": 300.0,
        "iron_fill": 0.7, "temperature": 60.0, "conductivity": 97.0}


def coil(**changes: Any) -> winding.WoundCoil:
    return winding.coil_from_winding(**{**CORE, **TURNS, **REST, **changes})


def test_a_whole_coil_is_put_together_as_it_is_drawn() -> None:
    """Core, wall, primary, insulation, secondary, from inside to outside; and every number is that of the part it names."""
    made = coil()
    first, second = made.primary, made.secondary
    assert first.inner_diameter == pytest.approx(0.012 + 2 * 0.4e-3, rel=1e-12)
    assert second.inner_diameter == pytest.approx(first.outer_diameter + 2 * 2e-3, rel=1e-12)
    assert (first.turns, second.turns, made.turns_ratio) == (230, 17_250, 75.0)
    assert first.turns_per_layer == int(0.1052 / 0.84e-3)
    assert second.turns_per_layer == int(0.08 / 0.13e-3)
    assert second.build == pytest.approx(second.layers * 0.13e-3 + (second.layers - 1) * 0.06e-3, rel=1e-12)
    assert first.build == pytest.approx(first.layers * 0.84e-3 + (first.layers - 1) * 0.06e-3, rel=1e-12)
    for one, wire, ohms in ((first, 0.8e-3, made.primary_resistance), (second, 0.09e-3, made.secondary_resistance)):
        assert one.resistance == ohms
        assert ohms == pytest.approx(winding.wire_resistance(one.wire_length, wire, 60.0, 97.0), rel=1e-12)
    whole = winding.open_core_inductance(230, first.mean_diameter, first.length, 0.012, 0.12, 300.0, 0.7)
    assert made.primary_inductance == pytest.approx(whole, rel=1e-12)
    left = winding.leakage_inductance(first, second)
    assert made.primary_inductance * (1.0 - made.coupling**2) == pytest.approx(left, rel=1e-9)
    own = winding.layer_capacitance(second.mean_diameter, second.length, 0.06e-3 + 2 * 0.02e-3, second.layers, 2.5, 3)
    assert made.secondary_capacitance == pytest.approx(own + 20e-12, rel=1e-12)


def test_what_is_not_said_of_a_coil_is_the_usual() -> None:
    usual = {"former_wall": 0.5e-3, "insulation_between": 1.5e-3, "enamel": 0.01e-3, "layer_insulation": 0.05e-3,
             "secondary_sections": 2, "permittivity": 3.0, "stray_capacitance": 30e-12, "iron_permeability": 500.0,
             "iron_fill": 0.8, "temperature": 20.0, "conductivity": 100.0}
    assert winding.coil_from_winding(**CORE, **TURNS) == winding.coil_from_winding(**CORE, **TURNS, **usual)
    told = {name: one.default for name, one in inspect.signature(winding.coil_from_winding).parameters.items()
            if one.default is not inspect.Parameter.empty}
    assert told == usual


def test_a_secondary_of_one_layer_has_only_the_stray_capacity() -> None:
    made = coil(secondary_turns=500)
    assert made.secondary.layers == 1
    assert made.secondary_capacitance == 20e-12
    # without paper and enamel the formula's least spacing stands in
    bare = coil(enamel=0.0, layer_insulation=0.0)
    own = winding.layer_capacitance(bare.secondary.mean_diameter, bare.secondary.length, 1e-6, bare.secondary.layers, 2.5, 3)
    assert bare.secondary_capacitance == pytest.approx(own + 20e-12, rel=1e-12)


def test_windings_too_far_apart_are_not_a_coil() -> None:
    """So much room between them that the primary's field goes there: refused, not a negative number under a root."""
    with pytest.raises(ValueError, match=r"insulation between the windings: 0\.05 m leaves no coupling \(leakage [\d.]+ H of "):
        winding.coil_from_winding(0.012, 0.12, 230, 0.8e-3, 0.01, 17_250, 0.09e-3, 0.08, insulation_between=0.05,
                                  iron_permeability=1.0)


def test_a_winding_holds_what_its_fields_say() -> None:
    assert [item.name for item in dataclasses.fields(Winding)] == [
        "turns", "layers", "turns_per_layer", "wire_length", "length", "inner_diameter", "outer_diameter", "mean_diameter",
        "resistance"]
