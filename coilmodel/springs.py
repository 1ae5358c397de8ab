"""Leaf springs, impacts and the pull of a gap: the mechanical half of a vibrating coil.

A leaf is a strip of steel clamped at one end (a cantilever) with a contact or an iron tip at the other. Lengths in
metres, masses in kilograms, forces in newtons, stiffness in N/m, stresses and moduli in pascals, frequencies in hertz.
Standard library only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coilmodel.checks import checked, checked_count

MU0 = 4e-7 * math.pi
"""Permeability of vacuum, H/m."""

SPRING_STEEL_MODULUS = 206e9
"""Young's modulus of flat carbon spring steel, Pa (a strip maker's sheet, looked up; 197 to 203 GPa for wire)."""

SPRING_STEEL_DENSITY = 7850.0
"""Density of carbon spring steel, kg/m3 (same sheet)."""

# ---------------------------------------------------------------------------------------------------- the leaf


@dataclass(frozen=True)
class Leaf:
    """A strip clamped at one end: free length, width and thickness in m, modulus in Pa, density in kg/m3.

    Ranges: length 1 mm to 1 m, width 0.1 mm to 0.5 m, thickness 10 um to a tenth of the length, modulus 1 to 1000 GPa,
    density 500 to 25,000 kg/m3; ValueError outside them.
    """

    length: float
    width: float
    thickness: float
    modulus: float = SPRING_STEEL_MODULUS
    density: float = SPRING_STEEL_DENSITY

    def __post_init__(self) -> None:
        length = checked("leaf length", self.length, "m", 1e-3, 1.0)
        checked("leaf width", self.width, "m", 1e-4, 0.5)
        # Thicker than a tenth of its length it bends in shear too, and the formulas below no longer hold.
        checked("leaf thickness", self.thickness, "m", 1e-5, length / 10.0)
        checked("Young's modulus", self.modulus, "Pa", 1e9, 1e12)
        checked("density", self.density, "kg/m3", 500.0, 25_000.0)

    @property
    def second_moment(self) -> float:
        """Second moment of the section, width x thickness^3 / 12, m^4."""
        return self.width * self.thickness**3 / 12.0

    @property
    def mass(self) -> float:
        """Mass of the free length, kg."""
        return self.length * self.width * self.thickness * self.density

    @property
    def stiffness(self) -> float:
        """Force at the tip over deflection of the tip, 3 E I / L^3, N/m. Source: any text; Den Hartog (1956).

        >>> round(Leaf(0.040, 0.010, 0.0006).stiffness)
        1738
        """
        return 3.0 * self.modulus * self.second_moment / self.length**3


def root_stress(leaf: Leaf, deflection: float) -> float:
    """Bending stress (Pa) at the clamp for a tip deflection: 3 E thickness deflection / (2 length^2).

    deflection : m, at most a fifth of the leaf's length either way (beyond that the small-angle beam no longer holds)
    A leaf lasts if this stays under about 40 % of its tensile strength: common practice, no source.
    Errors: ValueError outside the range. Source: M = 3 E I deflection / L^2 at the clamp, stress = M t / (2 I).
    """
    bend = checked("tip deflection", deflection, "m", -0.2 * leaf.length, 0.2 * leaf.length)
    return 1.5 * leaf.modulus * leaf.thickness * bend / leaf.length**2


def preload(stiffness: float, deflection: float) -> float:
    """Force (N) with which a spring of given stiffness presses after being set up by `deflection`.

    stiffness : N/m, 1e-3 to 1e8; deflection : m, -0.1 to 0.1. Errors: ValueError. Source: Hooke.
    """
    return checked("stiffness", stiffness, "N/m", 1e-3, 1e8) * checked("deflection", deflection, "m", -0.1, 0.1)


def deflection_for_preload(stiffness: float, force: float) -> float:
    """Deflection (m) that gives a wanted preload. stiffness : N/m, 1e-3 to 1e8; force : N, -1000 to 1000.

    Errors: ValueError. Source: Hooke.
    """
    return checked("preload", force, "N", -1e3, 1e3) / checked("stiffness", stiffness, "N/m", 1e-3, 1e8)


# ----------------------------------------------------------------------------------------------- mass and frequency


def effective_tip_mass(leaf_mass: float, tip_mass: float = 0.0) -> float:
    """Mass (kg) at the tip that swings as the leaf and its tip do: tip + 33/140 of the leaf.

    leaf_mass, tip_mass : kg, 0 to 10. With the leaf's own stiffness it gives the frequency 1.5 % high for a bare leaf,
    0.05 % high where the tip weighs as much as the leaf (see `tip_frequency`, which is exact).
    Errors: ValueError outside the range. Source: Rayleigh's method, Thomson, Theory of Vibration, chapter 2.
    """
    return checked("tip mass", tip_mass, "kg", 0.0, 10.0) + 33.0 / 140.0 * checked("leaf mass", leaf_mass, "kg", 0.0, 10.0)


def spring_frequency(stiffness: float, mass: float) -> float:
    """Frequency (Hz) of a mass on a spring, undamped. stiffness : N/m, 1e-3 to 1e8; mass : kg, 1e-9 to 1000.

    Errors: ValueError. Source: sqrt(k/m) / (2 pi), any text.
    """
    k = checked("stiffness", stiffness, "N/m", 1e-3, 1e8)
    return math.sqrt(k / checked("mass", mass, "kg", 1e-9, 1e3)) / (2.0 * math.pi)


def beam_root(mass_ratio: float, mode: int = 1) -> float:
    """The number beta of a clamped-free beam with a mass at its tip: w = beta^2 sqrt(E I / (m L^3)), m the beam's mass.

    mass_ratio : tip mass over beam mass, 0 to 1000; mode : 1 to 20
    Solves 1 + cos b cosh b + r b (cos b sinh b - sin b cosh b) = 0 by halving, in a form divided by cosh b so that
    high modes do not overflow. The tip is a point: its rotary inertia is left out.
    Errors: ValueError outside these ranges. Source: Euler-Bernoulli beam, Blevins, Formulas for Natural Frequency.

    >>> round(beam_root(0.0), 6)
    1.875104
    """
    r = checked("tip mass over leaf mass", mass_ratio, "1", 0.0, 1000.0)
    n = checked_count("mode", mode, 1, 20)

    def residue(b: float) -> float:
        return 1.0 / math.cosh(b) + math.cos(b) + r * b * (math.cos(b) * math.tanh(b) - math.sin(b))

    # One root lies in every stretch of pi: a bare beam's is the highest of its stretch, near (n - 1/2) pi; a beam
    # whose tip is held by a huge mass sinks towards the clamped-pinned root near (n - 3/4) pi, and the first to zero.
    low, high = (n - 1) * math.pi, n * math.pi
    if n == 1:
        low = 1e-6
    sign = math.copysign(1.0, residue(low))
    for _ in range(200):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if math.copysign(1.0, residue(middle)) == sign:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def tip_frequency(leaf: Leaf, tip_mass: float = 0.0, mode: int = 1) -> float:
    """Frequency (Hz) of a leaf with a point mass at its tip, exact for a slender leaf.

    tip_mass : kg, 0 to 1000 times the leaf's; mode : 1 to 20. Errors: ValueError. Source: see `beam_root`.
    """
    tip = checked("tip mass", tip_mass, "kg", 0.0, 1000.0 * leaf.mass)
    beta = beam_root(tip / leaf.mass, mode)
    return beta**2 * math.sqrt(leaf.modulus * leaf.second_moment / (leaf.mass * leaf.length**3)) / (2.0 * math.pi)


# ------------------------------------------------------------------------------------------------------- impacts


def damping_ratio(mass: float, stiffness: float, damping: float) -> float:
    """Damping ratio c / (2 sqrt(k m)) of a spring and dashpot.

    mass : kg, 1e-9 to 1000; stiffness : N/m, 1e-3 to 1e10; damping : N s/m, 0 to 1e9. Errors: ValueError. Source: any text.
    """
    m = checked("mass", mass, "kg", 1e-9, 1e3)
    k = checked("stiffness", stiffness, "N/m", 1e-3, 1e10)
    return checked("damping", damping, "N s/m", 0.0, 1e9) / (2.0 * math.sqrt(k * m))


def restitution(ratio: float) -> float:
    """Speed after over speed before an impact on a one-sided spring and dashpot that never pulls.

    ratio : damping ratio, 0 to 1000. The body leaves where the force, spring and dashpot together, falls to zero, which
    is before the spring is back at its free length: this is what the model's three stops do.
    Errors: ValueError outside the range. Source: Schwager & Poschel, Granular Matter 9 (2007) 465.

    >>> round(restitution(0.1), 4)
    0.7441
    """
    z = checked("damping ratio", ratio, "1", 0.0, 1000.0)
    if z < 1.0:
        w = math.sqrt((1.0 - z) * (1.0 + z))
        # pi - atan2(2 z w, 1 - 2 z^2) is twice the angle whose cosine is z. So written it keeps its digits near z = 1.
        return math.exp(-2.0 * z * math.atan2(w, z) / w)  # the float just under 1 gives a w of 1.5e-8: never zero
    w = math.sqrt((z - 1.0) * (z + 1.0))
    # log1p, because just above 1 the logarithm of z + w would lose half its digits.
    return math.exp(-2.0 * z * math.log1p((z - 1.0) + w) / w) if w > 1e-8 else math.exp(-2.0)


def restitution_at_return(ratio: float) -> float:
    """The same for a sticking contact: the body leaves where the spring is back at its free length, though pulled.

    ratio : damping ratio, 0 to under 1 (a more damped one never comes back). What many texts give; kept to show the
    difference from `restitution`.
    Errors: ValueError outside the range. Source: exp(-pi z / sqrt(1 - z^2)), a half-swing of a damped oscillator.
    """
    z = checked("damping ratio", ratio, "1", 0.0, math.nextafter(1.0, 0.0))
    return math.exp(-math.pi * z / math.sqrt((1.0 - z) * (1.0 + z)))


def damping_for_restitution(wanted: float, mass: float, stiffness: float) -> float:
    """Damping (N s/m) of a one-sided stop that gives a wanted restitution, by halving `restitution`.

    wanted : 1e-5 to 1; mass : kg, 1e-9 to 1000; stiffness : N/m, 1e-3 to 1e10
    Errors: ValueError outside these ranges. Source: inverse of `restitution`, which falls steadily with the ratio.
    """
    e = checked("restitution", wanted, "1", 1e-5, 1.0)
    m = checked("mass", mass, "kg", 1e-9, 1e3)
    k = checked("stiffness", stiffness, "N/m", 1e-3, 1e10)
    low, high = 0.0, 1000.0
    for _ in range(200):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if restitution(middle) > e:
            low = middle
        else:
            high = middle
    return 2.0 * high * math.sqrt(k * m) if e < 1.0 else 0.0


def contact_time(mass: float, stiffness: float, damping: float = 0.0) -> float:
    """How long (s) a body stays on a one-sided spring and dashpot before it is thrown off.

    mass : kg; stiffness : N/m; damping : N s/m, with a ratio under 1. Ranges as in `damping_ratio`.
    Errors: ValueError outside them. Source: Schwager & Poschel (2007), the time at which the force is zero again.
    """
    z = checked("damping ratio", damping_ratio(mass, stiffness, damping), "1", 0.0, math.nextafter(1.0, 0.0))
    w = math.sqrt((1.0 - z) * (1.0 + z))
    return 2.0 * math.atan2(w, z) / (w * math.sqrt(stiffness / mass))


# ------------------------------------------------------------------------------------------------ the pull of a gap


def gap_pull(flux_density: float, area: float) -> float:
    """Pull (N) across an air gap: B^2 A / (2 mu0).

    flux_density : T, -5 to 5; area : m2, 1e-9 to 10. Errors: ValueError. Source: Maxwell's stress, any text.

    >>> round(gap_pull(1.0, 1e-4), 2)
    39.79
    """
    b = checked("flux density", flux_density, "T", -5.0, 5.0)
    return b * b * checked("face area", area, "m2", 1e-9, 10.0) / (2.0 * MU0)


def pull_constant(turns: float, area: float) -> float:
    """The model's K (N m2/A2) in F = K i^2 / gap^2, of N turns whose whole magnetomotive force stands across one gap.

    turns : 1 to 1e6; area : of the face, m2, 1e-9 to 10
    B = mu0 N i / gap put into B^2 A / (2 mu0) gives K = mu0 N^2 A / 2. Then the inductance's moving part is 2 K / gap,
    and half i^2 times its slope gives the same pull. An open core loses most of its magnetomotive force in the air
    around it, so a measured K is a small part of this: take this as the upper bound.
    Errors: ValueError outside these ranges. Source: as derived.
    """
    count = checked("turns", turns, "1", 1.0, 1e6)
    return MU0 * count * count * checked("face area", area, "m2", 1e-9, 10.0) / 2.0


def coil_pull(constant: float, current: float, gap: float) -> float:
    """Pull (N) of the model: K i^2 / gap^2.

    constant : N m2/A2, 0 to 1; current : A, -1e4 to 1e4; gap : the effective one that is left, m, 1e-6 to 1
    Errors: ValueError. Source: see `pull_constant`.
    """
    k = checked("pull constant", constant, "N m2/A2", 0.0, 1.0)
    i = checked("current", current, "A", -1e4, 1e4)
    return k * (i / checked("effective gap", gap, "m", 1e-6, 1.0)) ** 2


def current_for_pull(constant: float, force: float, gap: float) -> float:
    """Current (A) at which the pull of `coil_pull` equals `force`: gap x sqrt(F / K).

    constant : N m2/A2, 1e-15 to 1; force : N, 0 to 1e5; gap : m, 1e-6 to 1. Errors: ValueError. Source: inverse.
    """
    k = checked("pull constant", constant, "N m2/A2", 1e-15, 1.0)
    f = checked("force", force, "N", 0.0, 1e5)
    return checked("effective gap", gap, "m", 1e-6, 1.0) * math.sqrt(f / k)
