"""What the kernel leaves out, as numbers for the reference solver: a blade's second mode, iron that saturates, dry friction.

The nominal blades are one mass on one spring each. Here a blade may have its second mode too: a slender clamped leaf with
a point mass at its tip (contact, rivet, iron) is solved for its first two shapes, and the tip is then two masses on two
springs side by side that share every force. Together they have the blade's own stiffness, and the first has its own frequency, so
nothing changes but what is added. The core may take a current of its own that grows with a power of its flux: a curve
with a knee. The cushion blade may rub on its rivet's stem with a force that always stands against its motion. Scatter is that
of `coilmodel.machine.Scatter`, drawn from the kernel's own generator in the kernel's own order, so that the same seed is
the same run of luck.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from coilmodel.machine import Drive, Machine, MagnetoDrive, Scatter, TimerDrive

CREEP = 2e-3  # m/s: under this speed dry friction falls off smoothly, so that the solver need not look for a sticking blade


@dataclass(frozen=True)
class SecondMode:
    """A blade's second mode beside its first: frequency over the first's, and stiffness at the tip over the blade's own."""

    frequency: float
    stiffness: float


def second_mode(tip: float) -> SecondMode:
    """The second mode of a clamped leaf with a point mass at its tip, by the Euler-Bernoulli beam.

    tip : mass at the tip over mass of the leaf, 0 to 100
    Each shape is w = cosh - cos - s (sinh - sin) of b z; the shape's stiffness at the tip is w_n^2 times the integral of its
    square (with the tip's mass) over the square at the tip. Both shapes' compliances add up to nearly L^3/(3 E I).
    """
    if not 0.0 <= tip <= 100.0:
        raise ValueError(f"tip: {tip:g} times the mass of the leaf is not from 0 to 100.")

    def residue(b: float) -> float:
        return 1.0 / math.cosh(b) + math.cos(b) + tip * b * (math.cos(b) * math.tanh(b) - math.sin(b))

    roots = []
    grid = np.linspace(1e-3, 2.0 * math.pi, 2000)
    signs = [residue(float(b)) for b in grid]
    for place in range(len(grid) - 1):
        if signs[place] * signs[place + 1] < 0.0:
            roots.append(brentq(residue, grid[place], grid[place + 1], xtol=1e-14))
    stiffness = []
    for b in roots[:2]:
        s = (math.cosh(b) + math.cos(b)) / (math.sinh(b) + math.sin(b))

        def shape(z: float, b: float = b, s: float = s) -> float:
            return math.cosh(b * z) - math.cos(b * z) - s * (math.sinh(b * z) - math.sin(b * z))

        at_tip = shape(1.0) ** 2
        mass = quad(lambda z: shape(z) ** 2, 0.0, 1.0, epsabs=1e-12)[0] + tip * at_tip  # of a leaf of mass 1
        stiffness.append(mass / at_tip * b**4)  # of a leaf with E I / L^3 = 1
    return SecondMode((roots[1] / roots[0]) ** 2, stiffness[1] / 3.0)


@dataclass(frozen=True)
class Extras:
    """What is added to the machine's equations; the defaults add nothing.

    vibrator, cushion : second modes, both or neither
    knee_current, knee_power : at this magnetising current (A, at the rivet position) the core itself takes a tenth more, growing
    with that power of the flux; 0: iron that never saturates
    friction : dry friction on the cushion blade as a share of its preload
    scatter : of gap, contacts and speed, None for none
    """

    vibrator: SecondMode | None = None
    cushion: SecondMode | None = None
    knee_current: float = 0.0
    knee_power: float = 9.0
    friction: float = 0.0
    scatter: Scatter | None = None

    def __post_init__(self) -> None:
        if (self.vibrator is None) != (self.cushion is None):
            raise ValueError("extras: give both blades their second mode, or neither.")

    @property
    def modes(self) -> bool:
        """Whether the blades have second modes."""
        return self.vibrator is not None

    def numbers(self, machine: Machine, drive: Drive | None = None) -> tuple[float, ...]:
        """The numbers of the equations: knee (Wb, A, power), friction (N, m/s), second modes (kg, N/m, N s/m, each blade), and
        ripple of the speed (share, rad/s, rad) where `drive` turns a crank.
        """
        coil, v, q = machine.coil, machine.vibrator, machine.cushion
        knee_flux = coil.coupling * coil.primary_inductance * max(self.knee_current, 1.0)
        found = [knee_flux, 0.1 * self.knee_current, self.knee_power, self.friction * q.preload, CREEP]
        for mode, mass, stiffness, damping in ((self.vibrator, v.mass, v.stiffness, v.damping),
                                               (self.cushion, q.mass, q.stiffness, q.damping)):
            if mode is None:
                found += [0.0, 0.0, 0.0]
                continue
            second = stiffness * mode.stiffness
            weight = second / (stiffness / mass * mode.frequency**2)
            # The same damping ratio as the first: a blade's own loss goes with its stiffness, not with its speed.
            found += [weight, second, damping * math.sqrt(second * weight / (stiffness * mass))]
        if self.scatter is None or not isinstance(drive, (MagnetoDrive, TimerDrive)):
            return (*found, 0.0, 1.0, 0.0)
        turn = 2.0 * math.pi * drive.rpm / 60.0
        # Two compressions a turn; the golden section spreads the seeds over it.
        return (*found, self.scatter.ripple, 2.0 * turn, 2.0 * math.pi * (self.scatter.seed * 0.5 * (math.sqrt(5.0) - 1.0) % 1.0))

    def start(self, machine: Machine, vibrator: float, cushion: float) -> list[float]:
        """The second modes' states at rest, (qv, uv, qc, uc), where the tips rest at `vibrator` and `cushion` (m)."""
        if not self.modes:
            return []
        v, q = machine.vibrator, machine.cushion
        _, _, _, _, _, _, first, _, _, second, *_ = self.numbers(machine)
        return [(v.preload + v.stiffness * vibrator) / first, 0.0, -(q.preload - q.stiffness * cushion) / second, 0.0]


NOTHING = Extras()
