"""From wire and iron to the numbers of a coil: resistance, inductance, coupling, capacitance.

The coil is the classic one: a bundle of iron wires as an open core, a primary of a few layers on it, a long fine-wire
secondary over that. Nothing here is fitted; each formula stands with its source, and the last function,
`coil_from_winding`, walks through all of them.

Lengths are in metres, resistances in ohms, inductances in henries, capacitances in farads, temperatures in degrees
Celsius. Only the standard library is used, elliptic integrals included, so that the reader's browser can run it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from coilmodel.checks import checked, checked_count

MU0 = 4e-7 * math.pi
"""Permeability of vacuum, H/m. The 2019 SI moved it by 5 parts in ten thousand million, which no coil will notice."""

EPS0 = 8.8541878128e-12
"""Permittivity of vacuum, F/m (CODATA 2018, from memory)."""

# ------------------------------------------------------------------------------------------------------- wire


def awg_diameter(gauge: int) -> float:
    """Bare diameter (m) of an American wire gauge: 0.127 mm x 92^((36 - gauge)/39), not rounded to the mil.

    gauge : whole number, -3 to 56; 0 is what the trade writes 1/0, -1 is 2/0, and -3 is 4/0
    Errors: ValueError outside that range.
    Source: ASTM B258. That standard prints fine sizes rounded to 0.1 mil, so a table made from it differs by up to
    3 % in resistance at AWG 40.

    >>> awg_diameter(36)
    0.000127
    """
    number = checked_count("wire gauge (AWG)", gauge, -3, 56)
    return 0.127e-3 * 92.0 ** ((36 - number) / 39.0)


def copper_resistivity(temperature: float = 20.0, conductivity: float = 100.0) -> float:
    """Resistivity (ohm m) of copper of a given conductivity, in percent of the annealed standard (IACS).

    temperature : degrees Celsius, -50 to 250; conductivity : percent IACS, 10 to 110
    The temperature coefficient at 20 C is in proportion to the conductivity: 0.00393 per kelvin at 100 % IACS.
    Errors: ValueError outside these ranges.
    Source: 100 % IACS is 1/58 ohm mm2/m at 20 C, NBS Handbook 100 (1966), section 1.1, from memory; the coefficient
    and its proportion to the conductivity are the same handbook's, the first looked up, the second from memory.
    """
    celsius = checked("wire temperature", temperature, "C", -50.0, 250.0)
    share = checked("wire conductivity", conductivity, "% IACS", 10.0, 110.0) / 100.0
    at_twenty = 1e-6 / 58.0 / share
    return at_twenty * (1.0 + 0.00393 * share * (celsius - 20.0))


def wire_resistance(length: float, diameter: float, temperature: float = 20.0, conductivity: float = 100.0) -> float:
    """Resistance (ohm) of a round wire: resistivity x length / section, for direct current.

    length : m, 0 to 1e6; diameter : bare, m, 5e-6 to 0.02; temperature : C; conductivity : % IACS, both as in
    `copper_resistivity`
    Errors: ValueError outside these ranges. Source: definition of resistivity.
    """
    metres = checked("wire length", length, "m", 0.0, 1e6)
    bare = _wire_diameter(diameter)
    return copper_resistivity(temperature, conductivity) * metres / (math.pi * bare * bare / 4.0)


def _wire_diameter(diameter: float) -> float:
    return checked("wire diameter", diameter, "m", 5e-6, 0.02)


@dataclass(frozen=True)
class Winding:
    """One finished layer winding.

    turns : count; layers : count, the last one perhaps part full; turns_per_layer : of a full layer
    wire_length, length (axial), inner_diameter, outer_diameter, mean_diameter (over the wire): m; resistance : ohm
    """

    turns: int
    layers: int
    turns_per_layer: int
    wire_length: float
    length: float
    inner_diameter: float
    outer_diameter: float
    mean_diameter: float
    resistance: float

    @property
    def build(self) -> float:
        """Radial thickness of the winding, m."""
        return (self.outer_diameter - self.inner_diameter) / 2.0


def layer_winding(
    turns: int,
    wire_diameter: float,
    length: float,
    inner_diameter: float,
    enamel: float = 0.0,
    layer_insulation: float = 0.0,
    temperature: float = 20.0,
    conductivity: float = 100.0,
) -> Winding:
    """Wind `turns` of wire in layers on a former and measure what results.

    turns : 1 to 1e6; wire_diameter : bare, m, 5e-6 to 0.02; length : axial room, m, 1e-4 to 1
    inner_diameter : of the former, m, 1e-4 to 1; enamel : thickness per side, m, 0 to 1e-3
    layer_insulation : thickness between layers, m, 0 to 5e-3; temperature : C; conductivity : % IACS, both as in
    `copper_resistivity`
    Turns lie side by side, layers stack square (a wire does not sink between the wires below it, since paper lies
    between), and the slant of a turn is left out: it lengthens the wire by (pitch / turn)^2 / 2, under 1 in 10,000.
    Errors: ValueError for a value out of range, or where not even one turn fits in a layer.
    Source: geometry.
    """
    count = checked_count("turns", turns, 1, 1_000_000)
    bare = _wire_diameter(wire_diameter)
    room = checked("winding length", length, "m", 1e-4, 1.0)
    former = checked("inner diameter of the winding", inner_diameter, "m", 1e-4, 1.0)
    coat = checked("enamel thickness", enamel, "m", 0.0, 1e-3)
    paper = checked("layer insulation", layer_insulation, "m", 0.0, 5e-3)

    pitch = bare + 2.0 * coat
    # A whisker of grace, or a layer that fits exactly loses a turn to rounding in the division.
    per_layer = int(room / pitch + 1e-9)
    if per_layer < 1:
        raise ValueError(
            f"winding length: {room:g} m holds no turn of {pitch:g} m over its insulation; give one from {pitch:g} to 1 m.")
    full, rest = divmod(count, per_layer)
    layers = full + (1 if rest else 0)

    step = pitch + paper
    first = former / 2.0 + pitch / 2.0
    # Sum of the radii of all turns: the full layers are an arithmetic series, the last layer may be part full.
    radii = per_layer * (full * first + step * full * (full - 1) / 2.0) + rest * (first + step * full)
    wire_length = 2.0 * math.pi * radii
    return Winding(
        turns=count,
        layers=layers,
        turns_per_layer=per_layer,
        wire_length=wire_length,
        length=per_layer * pitch if full else rest * pitch,
        inner_diameter=former,
        outer_diameter=former + 2.0 * (layers * pitch + (layers - 1) * paper),
        mean_diameter=2.0 * radii / count,
        resistance=wire_length * copper_resistivity(temperature, conductivity) / (math.pi * bare * bare / 4.0),
    )


# -------------------------------------------------------------------------------------------- coils without iron


def elliptic_integrals(modulus: float, complement: float) -> tuple[float, float, float]:
    """Complete elliptic integrals of modulus k, as (K, E, (K - E)/k^2), by the arithmetic-geometric mean.

    modulus k and complement k' = sqrt(1 - k^2) are both given, each from 1e-12 to 1, because near one end or the
    other one of them cannot be had from its partner without losing its digits. The third result is summed on its
    own for the same reason.
    Errors: ValueError outside the range, or where k^2 + k'^2 is not 1. Source: Abramowitz & Stegun (1964), 17.6.

    >>> round(elliptic_integrals(0.6, 0.8)[0], 12)
    1.750753802916
    """
    k = checked("modulus", modulus, "1", 1e-12, 1.0)
    k_prime = checked("complementary modulus", complement, "1", 1e-12, 1.0)
    if abs(k * k + k_prime * k_prime - 1.0) > 1e-9:
        raise ValueError(f"complementary modulus: {k_prime:g} does not belong to modulus {k:g}; give {math.sqrt(1 - k * k):g}.")
    a, b = 1.0, k_prime
    weight, excess = 0.5, 0.5  # excess gathers the sum of 2^(n-1) c_n^2 / k^2, whose first term is 1/2
    c_over_k = 1.0
    while abs(a - b) > 1e-15 * a:
        # c' = (a - b)/2 = c^2 / (2 (a + b)): the second form keeps its digits when a and b are nearly equal.
        c_over_k = c_over_k * c_over_k * k / (2.0 * (a + b))
        a, b = (a + b) / 2.0, math.sqrt(a * b)
        weight *= 2.0
        excess += weight * c_over_k * c_over_k
    first = math.pi / (2.0 * a)
    difference = first * excess
    return first, first - k * k * difference, difference


def nagaoka(diameter_over_length: float) -> float:
    """Nagaoka's coefficient: inductance of a short current sheet over that of the same sheet in a long one.

    diameter_over_length : 1e-6 to 1e6. The exact elliptic form, to 1 part in 1e9. Above 1000, where that form is the small
    difference of two numbers near 1, Lundin's takes over, which is exact to 1 part in 1e9 there.
    Errors: ValueError outside the range.
    Source: Nagaoka (1909), as in Rosa & Grover, Bulletin of the Bureau of Standards, Scientific Paper 169 (1912).

    >>> round(nagaoka(1.0), 6)
    0.688423
    """
    x = checked("diameter over length", diameter_over_length, "1", 1e-6, 1e6)
    if x > 1000.0:
        return nagaoka_lundin(x)
    slant = math.hypot(1.0, x)
    k, k_prime = x / slant, 1.0 / slant
    _, second, difference = elliptic_integrals(k, k_prime)
    return 4.0 / (3.0 * math.pi * k_prime) * (k_prime * k_prime * difference + (second - k))


def nagaoka_lundin(diameter_over_length: float) -> float:
    """Nagaoka's coefficient by Lundin's closed form, within 3 parts in a million of the exact one.

    diameter_over_length : 1e-6 to 1e6. Errors: ValueError outside the range.
    Source: Lundin, Proceedings of the IEEE 73 (1985) 1428.
    """
    x = checked("diameter over length", diameter_over_length, "1", 1e-6, 1e6)

    def f1(z: float) -> float:
        return (1.0 + 0.383901 * z + 0.017108 * z * z) / (1.0 + 0.258952 * z)

    if x <= 1.0:
        return f1(x * x) - 4.0 * x / (3.0 * math.pi)
    y2 = 1.0 / (x * x)
    tail = y2 * (0.093842 + y2 * (0.002029 - 0.000801 * y2))
    return 2.0 / (math.pi * x) * ((math.log(4.0 * x) - 0.5) * f1(y2) + tail)


def solenoid_inductance(turns: float, diameter: float, length: float) -> float:
    """Inductance (H) of a single-layer coil without iron, taken as a current sheet.

    turns : 1 to 1e6; diameter : of the current sheet, m, 1e-4 to 10; length : m, 1e-4 to 10
    Round wire wound with gaps differs by less than a percent above ten turns.
    Errors: ValueError outside these ranges. Source: mu0 N^2 A / length x Nagaoka's coefficient (see `nagaoka`).
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    wide = _size("coil diameter", diameter)
    long = _size("coil length", length)
    return MU0 * count * count * math.pi * wide * wide / (4.0 * long) * nagaoka(wide / long)


def _size(field: str, value: float) -> float:
    return checked(field, value, "m", 1e-4, 10.0)


def wheeler_single_layer(turns: float, diameter: float, length: float) -> float:
    """Inductance (H) of a single-layer coil by Wheeler's rule of thumb, within 1 % if length > 0.4 diameter.

    turns : 1 to 1e6; diameter, length : m, 1e-4 to 10
    Errors: ValueError outside these ranges. Source: Wheeler, Proceedings of the IRE 16 (1928) 1398:
    L(uH) = a^2 N^2 / (9 a + 10 b) with a the radius and b the length in inches.
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    a = _size("coil diameter", diameter) / 2.0 / 0.0254
    b = _size("coil length", length) / 0.0254
    return 1e-6 * a * a * count * count / (9.0 * a + 10.0 * b)


def wheeler_multilayer(turns: float, mean_diameter: float, length: float, build: float) -> float:
    """Inductance (H) of a thick coil without iron by Wheeler's rule, within 1 % if its three terms are about equal.

    turns : 1 to 1e6; mean_diameter, length : m, 1e-4 to 10; build : radial thickness, m, 1e-6 to 10, at most the
    mean diameter
    Errors: ValueError outside these ranges. Source: Wheeler, Proceedings of the IRE 16 (1928) 1398:
    L(uH) = 0.8 a^2 N^2 / (6 a + 9 b + 10 c) with mean radius a, length b and build c in inches.
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    a = _size("mean diameter", mean_diameter) / 2.0 / 0.0254
    b = _size("coil length", length) / 0.0254
    c = checked("winding build", build, "m", 1e-6, mean_diameter) / 0.0254
    return 1e-6 * 0.8 * a * a * count * count / (6.0 * a + 9.0 * b + 10.0 * c)


def brooks_inductance(turns: float, build: float) -> float:
    """Inductance (H) of a Brooks coil: square section of side `build`, mean radius 1.5 x build.

    That shape gives the most inductance for a length of wire, and its value is known to five digits.
    turns : 1 to 1e6; build : m, 1e-4 to 1
    Errors: ValueError outside these ranges.
    Source: L(uH) = 0.016994 a N^2 with mean radius a in cm, Brooks, Bureau of Standards Journal of Research 7
    (1931) 289; from memory, reproduced by an exact integration.
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    side = checked("winding build", build, "m", 1e-4, 1.0)
    return 1e-6 * 0.016994 * (150.0 * side) * count * count


# ------------------------------------------------------------------------------------------------- the open core

# Slenderness (length over diameter) and mid-plane demagnetising factor of a cylinder of infinite permeability, computed
# with the boundary elements of coilmodel.proof.fields (1000 panels; the same program meets the exact ellipsoid to 5 parts
# in 100,000). Bozorth & Chapin, Journal of Applied Physics 13 (1942) 320, tabled in Bozorth, Ferromagnetism (1951), have
# from memory 0.27, 0.14, 0.040, 0.0172, 0.00617, 0.00129, 0.00036 at 1, 2, 5, 10, 20, 50, 100: up to a fifth more, for
# bars that were measured.
_ROD_ROW = (
    (1.0, 0.2275), (1.5, 0.1578), (2.0, 0.1180), (3.0, 0.07514), (5.0, 0.03988), (7.0, 0.02537), (10.0, 0.01530),
    (15.0, 0.008363), (20.0, 0.005361), (30.0, 0.002809), (50.0, 0.001211), (70.0, 0.0006863), (100.0, 0.0003721),
)


def rod_demagnetising_factor(length_over_diameter: float) -> float:
    """Demagnetising factor, at mid-length, of a long cylinder of very high permeability: use it for unsaturated iron.

    length_over_diameter : 1 to 100. Between the table's rows the logarithms are interpolated, to 1 %.
    Errors: ValueError outside the range.
    Source: boundary elements (coilmodel.proof.fields); Bozorth & Chapin (1942), from memory, have up to a fifth more.

    >>> round(rod_demagnetising_factor(10.0), 6)
    0.0153
    """
    m = checked("core length over diameter", length_over_diameter, "1", 1.0, 100.0)
    for (m0, n0), (m1, n1) in pairwise(_ROD_ROW):
        if m <= m1:
            share = math.log(m / m0) / math.log(m1 / m0)
            return n0 * (n1 / n0) ** share
    raise AssertionError("the range check above keeps m inside the table")


def ellipsoid_demagnetising_factor(length_over_diameter: float) -> float:
    """Demagnetising factor of a prolate ellipsoid along its long axis: exact, whatever its permeability.

    length_over_diameter : 1 to 10,000; 1 is a sphere, whose factor is 1/3
    Errors: ValueError outside the range. Source: Osborn, Physical Review 67 (1945) 351.

    >>> round(ellipsoid_demagnetising_factor(10.0), 4)
    0.0203
    """
    m = checked("core length over diameter", length_over_diameter, "1", 1.0, 1e4)
    e2 = (m - 1.0) * (m + 1.0) / (m * m)
    if e2 < 0.01:
        # Near the sphere the closed form loses its digits; its series in the squared eccentricity does not:
        # N = (1 - e2) * sum over j of e2^j / (2 j + 3).
        return (1.0 - e2) * sum(e2**j / (2.0 * j + 3.0) for j in range(12))
    root = math.sqrt((m - 1.0) * (m + 1.0))
    return (m / root * math.log(m + root) - 1.0) / (root * root)


def uniform_rod_demagnetising_factor(length_over_diameter: float) -> float:
    """Mean (magnetometric) demagnetising factor of a cylinder magnetised evenly all through: a saturated core.

    length_over_diameter : 0.001 to 1000. Equals 1 - Nagaoka's coefficient of the same shape.
    Errors: ValueError outside the range.
    Source: Chen, Brug & Goldfarb, IEEE Transactions on Magnetics 27 (1991) 3601 (abstract looked up).
    """
    m = checked("core length over diameter", length_over_diameter, "1", 1e-3, 1e3)
    return 1.0 - nagaoka(1.0 / m)


def rod_permeability(material_permeability: float, demagnetising_factor: float) -> float:
    """Effective permeability of an open rod: mu / (1 + N (mu - 1)), which tends to 1/N when the iron is good.

    material_permeability : relative, 1 to 1e6; demagnetising_factor : 0 to 1
    Errors: ValueError outside these ranges. Source: Bozorth, Ferromagnetism (1951); the limit 1/N looked up.

    >>> round(rod_permeability(1000.0, 0.0172), 1)
    55.0
    """
    mu = checked("relative permeability of the iron", material_permeability, "1", 1.0, 1e6)
    n = checked("demagnetising factor", demagnetising_factor, "1", 0.0, 1.0)
    return mu / (1.0 + n * (mu - 1.0))


def open_core_inductance(
    turns: float,
    coil_diameter: float,
    coil_length: float,
    core_diameter: float,
    core_length: float,
    iron_permeability: float = 500.0,
    iron_fill: float = 0.8,
) -> float:
    """Inductance (H) of a coil at the middle of an open iron core.

    turns : 1 to 1e6; coil_diameter, coil_length, core_diameter, core_length : m, 1e-4 to 10, the coil being no
    narrower and no longer than the core, and the core 1 to 100 diameters long
    iron_permeability : relative, of the wire itself, 1 to 1e6; iron_fill : share of the bundle's section that is
    iron, 0.1 to 1 (about 0.8 for a tight bundle: common practice, no source)

    The coil alone, as a current sheet, plus what the iron adds: mu0 N^2 A (mu_rod - 1) / core length x (2 - 4 s / 3)
    with s = coil length / core length. The bracket is the mean flux through the coil over the mid-plane flux that the
    demagnetising factor speaks of: on a slender rod the flux leaving per unit of length is in proportion to the
    magnetic potential, which climbs evenly under the coil and stays level beyond it. A coil as long as its core gets
    2/3, a short coil at the middle 2.

    Errors: ValueError for a value out of range. Source: Bozorth, Ferromagnetism (1951), for the rod; the bracket is derived
    as said. A boundary-element solution (proof page) gives 4 % less for a short coil to 17 % more for a full one.
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    long = _size("core length", core_length)
    thick = _size("core diameter", core_diameter)
    wide = checked("coil diameter", coil_diameter, "m", thick, 10.0)
    coil = checked("coil length", coil_length, "m", 1e-4, long)
    fill = checked("iron fill", iron_fill, "1", 0.1, 1.0)
    mu = checked("relative permeability of the iron", iron_permeability, "1", 1.0, 1e6)
    bundle = 1.0 + fill * (mu - 1.0)
    mu_rod = rod_permeability(bundle, rod_demagnetising_factor(long / thick))
    section = math.pi * thick * thick / 4.0
    iron = MU0 * count * count * section * (mu_rod - 1.0) / long * (2.0 - 4.0 * coil / (3.0 * long))
    return solenoid_inductance(count, wide, coil) + iron


# ----------------------------------------------------------------------------------- two windings on one core


def leakage_inductance(primary: Winding, secondary: Winding) -> float:
    """Inductance (H) at the primary's terminals with the secondary shorted, from the room between the windings.

    mu0 N1^2 x mean turn / length x (gap + (build 1 + build 2) / 3) x Rogowski's correction for the short window.
    Errors: ValueError if the secondary does not lie outside the primary.
    Source: the transformer maker's formula of Kapp and Rogowski, from memory. It supposes windings of one length;
    on an open core with unequal windings take it as good to some 30 %.
    """
    gap = (secondary.inner_diameter - primary.outer_diameter) / 2.0
    if gap < -1e-12:
        raise ValueError(
            f"inner diameter of the secondary: {secondary.inner_diameter:g} m is outside {primary.outer_diameter:g} to 1 m"
            " (it must clear the primary).")
    height = min(primary.length, secondary.length)
    depth = gap + primary.build + secondary.build
    rogowski = 1.0 - (1.0 - math.exp(-math.pi * height / depth)) * depth / (math.pi * height)
    mean_turn = math.pi * (primary.outer_diameter + secondary.inner_diameter) / 2.0
    width = max(gap, 0.0) + (primary.build + secondary.build) / 3.0
    return MU0 * primary.turns**2 * mean_turn / height * width * rogowski


def coupling_from_leakage(primary_inductance: float, leakage: float) -> float:
    """Coupling factor from the primary's inductance with the secondary open and shorted: sqrt(1 - shorted / open).

    primary_inductance : H, 1e-9 to 1e4; leakage : H, 0 to just under primary_inductance
    Errors: ValueError outside these ranges. Source: definition of the coupling factor, k = M / sqrt(L1 L2).
    """
    open_value = checked("primary inductance", primary_inductance, "H", 1e-9, 1e4)
    shorted = checked("primary inductance with the secondary shorted", leakage, "H", 0.0, open_value)
    return math.sqrt(1.0 - shorted / open_value)


def turns_ratio(primary_turns: float, secondary_turns: float) -> float:
    """Secondary turns over primary turns. Both 1 to 1e6; ValueError otherwise. Source: definition."""
    return checked("secondary turns", secondary_turns, "1", 1.0, 1e6) / checked("primary turns", primary_turns, "1", 1.0, 1e6)


def layer_capacitance(
    mean_diameter: float, length: float, spacing: float, layers: int, permittivity: float = 3.0, sections: int = 1,
) -> float:
    """Self-capacitance (F) of a layer winding, as seen at its ends.

    mean_diameter, length : m, 1e-4 to 10, the length over all sections; spacing : copper to copper of neighbouring
    layers, m, 1e-6 to 0.01; layers : 2 to 1000; permittivity : relative, of paper and wax, 1 to 10
    sections : 1 to 100, side by side and in series
    Each pair of neighbouring layers is a cylinder condenser across which the voltage climbs evenly from nothing to
    that of two layers; its energy, summed over the pairs, gives 4/3 x C_pair x (layers - 1) / layers^2. Sections in
    series divide it. Leads, gap and core add their own 10 to 50 pF, which no formula here knows.
    Errors: ValueError outside these ranges.
    Source: Snelling, Soft Ferrites (1969), from memory; rough, a factor of two is not rare.
    """
    wide = _size("mean diameter", mean_diameter)
    long = _size("winding length", length)
    apart = checked("spacing of layers", spacing, "m", 1e-6, 0.01)
    count = checked_count("layers", layers, 2, 1000)
    relative = checked("relative permittivity", permittivity, "1", 1.0, 10.0)
    parts = checked_count("sections", sections, 1, 100)
    pair = EPS0 * relative * math.pi * wide * (long / parts) / apart
    return 4.0 / 3.0 * pair * (count - 1) / count**2 / parts


def shorted_turns(
    inductance: float, coupling: float, loop_inductance: float, loop_resistance: float, frequency: float,
) -> tuple[float, float]:
    """Effect of shorted turns near a winding, as (inductance left in H, resistance added in ohm) at one frequency.

    inductance : of the sound winding, H, 1e-9 to 1e4; coupling : of the shorted loop to it, 0 to 1
    loop_inductance : H, 1e-12 to 1e4; loop_resistance : ohm, 1e-9 to 1e9; frequency : Hz, 0 to 1e9
    The loop's impedance comes through the mutual inductance: with t = w L_loop / R_loop the winding keeps
    L (1 - k^2 t^2 / (1 + t^2)) and gains the resistance k^2 w L t / (1 + t^2). So a shorted turn does nothing slowly,
    takes k^2 of the inductance quickly, and costs most where t = 1.
    Errors: ValueError outside these ranges. Source: two coupled circuits, any text of circuit theory.
    """
    sound = checked("inductance", inductance, "H", 1e-9, 1e4)
    k = checked("coupling", coupling, "1", 0.0, 1.0)
    loop = checked("loop inductance", loop_inductance, "H", 1e-12, 1e4)
    resistance = checked("loop resistance", loop_resistance, "ohm", 1e-9, 1e9)
    w = 2.0 * math.pi * checked("frequency", frequency, "Hz", 0.0, 1e9)
    t = w * loop / resistance
    # Both shares are written so that neither t -> 0 nor t -> infinity overflows.
    quick = t / (t + 1.0 / t) if t > 0.0 else 0.0
    lossy = 1.0 / (t + 1.0 / t) if t > 0.0 else 0.0
    return sound * (1.0 - k * k * quick), k * k * w * sound * lossy


# ------------------------------------------------------------------------------------------------ the whole coil


@dataclass(frozen=True)
class WoundCoil:
    """What geometry says of a coil, under the names that the machine's coil uses.

    primary_inductance : H; primary_resistance, secondary_resistance : ohm; turns_ratio, coupling : 1
    secondary_capacitance : F; primary, secondary : the windings they came from
    """

    primary_inductance: float
    primary_resistance: float
    turns_ratio: float
    coupling: float
    secondary_resistance: float
    secondary_capacitance: float
    primary: Winding
    secondary: Winding


def coil_from_winding(
    core_diameter: float,
    core_length: float,
    primary_turns: int,
    primary_wire: float,
    primary_length: float,
    secondary_turns: int,
    secondary_wire: float,
    secondary_length: float,
    *,
    former_wall: float = 0.5e-3,
    insulation_between: float = 1.5e-3,
    enamel: float = 0.01e-3,
    layer_insulation: float = 0.05e-3,
    secondary_sections: int = 2,
    permittivity: float = 3.0,
    stray_capacitance: float = 30e-12,
    iron_permeability: float = 500.0,
    iron_fill: float = 0.8,
    temperature: float = 20.0,
    conductivity: float = 100.0,
) -> WoundCoil:
    """Work out a coil from its core, its wire and its turns.

    core_diameter, core_length : of the iron-wire bundle, m, as in `open_core_inductance`
    primary_turns, secondary_turns : counts; primary_wire, secondary_wire : bare diameters, m (see `awg_diameter`), both
    as in `layer_winding`, and so are enamel : per side of the wire, and layer_insulation : paper between layers, m
    primary_length, secondary_length : axial room of each winding, m, no longer than the core; for the secondary it
    is the copper of all its sections together
    former_wall : between core and primary, m, 0 to 0.05; insulation_between : between the windings, m, 0 to 0.05
    secondary_sections : flat coils side by side, in series; permittivity : relative, of the insulation; both as in
    `layer_capacitance`
    stray_capacitance : of leads, gap and surroundings, added to the secondary's own, F, 0 to 1e-8
    iron_permeability, iron_fill : see `open_core_inductance`; temperature : C; conductivity : % IACS

    Returns `WoundCoil`. Resistances and turns ratio are as good as the measurements they start from; inductance is
    good to some 15 %, leakage to 30 %, the capacitance within a factor of two: measure where you can.
    Errors: ValueError for anything out of range. Sources: those of the functions above.
    """
    wall = checked("former wall", former_wall, "m", 0.0, 0.05)
    between = checked("insulation between the windings", insulation_between, "m", 0.0, 0.05)
    stray = checked("stray capacitance", stray_capacitance, "F", 0.0, 1e-8)
    thick = _size("core diameter", core_diameter)
    long = _size("core length", core_length)
    checked("secondary winding length", secondary_length, "m", 1e-4, long)

    primary = layer_winding(
        primary_turns, primary_wire, primary_length, thick + 2.0 * wall, enamel, layer_insulation, temperature, conductivity)
    secondary = layer_winding(
        secondary_turns, secondary_wire, secondary_length, primary.outer_diameter + 2.0 * between, enamel, layer_insulation,
        temperature, conductivity)
    inductance = open_core_inductance(
        primary.turns, primary.mean_diameter, primary.length, thick, long, iron_permeability, iron_fill)
    leakage = leakage_inductance(primary, secondary)
    own = 0.0
    if secondary.layers > 1:
        spacing = layer_insulation + 2.0 * enamel
        own = layer_capacitance(
            secondary.mean_diameter, secondary.length, max(spacing, 1e-6), secondary.layers, permittivity, secondary_sections)
    if leakage >= inductance:
        raise ValueError(
            f"insulation between the windings: {between:g} m leaves no coupling (leakage {leakage:g} H of {inductance:g} H);"
            " bring the windings together, in the range 0 to 0.05 m.")
    return WoundCoil(
        primary_inductance=inductance,
        primary_resistance=primary.resistance,
        turns_ratio=turns_ratio(primary.turns, secondary.turns),
        coupling=coupling_from_leakage(inductance, leakage),
        secondary_resistance=secondary.resistance,
        secondary_capacitance=own + stray,
        primary=primary,
        secondary=secondary,
    )
