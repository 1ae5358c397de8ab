"""Independent solutions of two field problems, to hold the formulas of `coilmodel.winding` against. Needs numpy, scipy.

Neither shares a line with what it checks: a thick coil is summed up from Bessel functions, an iron rod is solved by
boundary elements.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import integrate, special

MU0 = 4e-7 * np.pi


def thick_coil_inductance(turns: float, inner_radius: float, outer_radius: float, length: float) -> float:
    """Inductance (H) of an even winding of rectangular section, from the Bessel integral of two coaxial loops.

    turns : count; inner_radius, outer_radius, length : m. M of two loops is mu0 pi r r' times the integral of
    J1(q r) J1(q r') exp(-q |z|) dq; integrated over both sections it becomes one integral over q, done here by adaptive
    quadrature.
    """
    nodes, weights = np.polynomial.legendre.leggauss(40)
    radii = inner_radius + (outer_radius - inner_radius) * (nodes + 1.0) / 2.0
    weights = weights * (outer_radius - inner_radius) / 2.0

    def integrand(q: float) -> float:
        across = np.sum(weights * radii * special.j1(q * radii))
        along = 2.0 * (q * length + np.expm1(-q * length)) / q**2
        return across**2 * along

    scale = 1.0 / outer_radius
    edges = np.concatenate(([1e-9], np.linspace(0.5, 200.0, 400))) * scale
    total = sum(integrate.quad(integrand, a, b, epsabs=0, epsrel=1e-10)[0] for a, b in zip(edges[:-1], edges[1:], strict=True))
    density = turns / (length * (outer_radius - inner_radius))
    return MU0 * np.pi * density**2 * total


@dataclass(frozen=True)
class Meridian:
    """The outline of a body of revolution, cut into straight panels: end points (r, z), each of shape (panels + 1,)."""

    r: np.ndarray
    z: np.ndarray


def cylinder(slenderness: float, panels: int = 400) -> Meridian:
    """Outline of a cylinder of radius 1 and length 2 x slenderness, panels finer towards its edges."""
    half = slenderness
    on_end = max(panels // 8, 12)
    # Charge crowds at an edge; a cosine spacing puts panels where it is.
    end = np.sin(np.linspace(0.0, np.pi / 2.0, on_end + 1))
    side = half * np.cos(np.linspace(0.0, np.pi, panels - 2 * on_end + 1))
    r = np.concatenate((end, np.ones(len(side) - 1), end[::-1][1:]))
    z = np.concatenate((np.full(on_end + 1, half), side[1:], np.full(on_end, -half)))
    return Meridian(r, z)


def ellipsoid(slenderness: float, panels: int = 400) -> Meridian:
    """Outline of a prolate ellipsoid of half axes 1 and `slenderness`, in so many straight `panels`."""
    angle = np.linspace(0.0, np.pi, panels + 1)
    return Meridian(np.sin(angle), slenderness * np.cos(angle))


def charges(outline: Meridian, potential: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Charge of each panel, for mu0 = 1, that gives the panels' middles the potentials wanted.

    potential : shape (panels,). Returns (charge, z of the middle), each of shape (panels,).
    """
    r1, r2, z1, z2 = outline.r[:-1], outline.r[1:], outline.z[:-1], outline.z[1:]
    rm, zm, width = (r1 + r2) / 2.0, (z1 + z2) / 2.0, np.hypot(r2 - r1, z2 - z1)
    nodes, weights = np.polynomial.legendre.leggauss(8)
    matrix = np.zeros((len(rm), len(rm)))
    area = np.zeros(len(rm))
    for node, weight in zip(nodes, weights / 2.0, strict=True):
        r, z = rm + (r2 - r1) * node / 2.0, zm + (z2 - z1) * node / 2.0
        ring = weight * width * 2.0 * np.pi * r  # area of the strip that this node stands for
        area += ring
        reach2 = (rm[:, None] + r[None, :]) ** 2 + (zm[:, None] - z[None, :]) ** 2
        m1 = ((rm[:, None] - r[None, :]) ** 2 + (zm[:, None] - z[None, :]) ** 2) / reach2
        matrix += ring[None, :] * special.ellipkm1(m1) / (2.0 * np.pi**2 * np.sqrt(reach2))
    # A panel on itself: near a ring of radius a the potential of unit charge is ln(8 a / s) / (4 pi^2 a); its mean over
    # the panel, seen from the middle, is (ln(16 a / width) + 1) / (4 pi^2 a).
    own = area * (np.log(16.0 * rm / width) + 1.0) / (4.0 * np.pi**2 * rm)
    np.fill_diagonal(matrix, own)
    density = np.linalg.solve(matrix, potential)
    return density * area, zm


def mid_plane_factor(outline: Meridian) -> float:
    """Demagnetising factor, at the mid-plane, of a body of infinite permeability in an even field along its axis."""
    zm = (outline.z[:-1] + outline.z[1:]) / 2.0
    charge, _ = charges(outline, zm)
    # Inside, the charges' field must cancel the applied one, so their potential on the surface is z; the flux through
    # the middle is the charge of one half, spread over the section pi.
    return np.pi / (np.sum(np.abs(charge)) / 2.0)


def coil_on_rod(slenderness: float, share: float) -> float:
    """Permeance of a coil wound tight on a rod of infinite permeability: inductance / (N^2 mu0), in rod radii.

    slenderness : length over diameter of the rod; share : length of the coil over that of the rod, about its middle.
    The iron's surface potential climbs evenly under the coil and is level beyond it. Flux in the iron at height z is
    what leaves the surface beyond z: the charge there less the part that the charges send inward.
    """
    outline = cylinder(slenderness)
    half = slenderness * share
    zm = (outline.z[:-1] + outline.z[1:]) / 2.0
    charge, z = charges(outline, np.clip(zm / (2.0 * half), -0.5, 0.5))
    heights = half * np.linspace(-1.0, 1.0, 401)
    beyond = np.array([np.sum(charge[z > height]) for height in heights])
    flux = beyond - np.pi / (2.0 * half)
    return float(np.trapezoid(flux, heights) / (2.0 * half))
