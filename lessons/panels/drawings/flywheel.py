"""Lesson 1: the flywheel magneto. Turn the crank, and see the magnets pass the coils, the flux turn round, and the EMF.

At the start of a pulse each magnet stands before a pole piece: the flux is at its greatest and does not change: no EMF.
"""

from __future__ import annotations

import math

from coilmodel import Machine, MagnetoDrive
from coilmodel.machine import emf_peak
from lessons.contracts import Axis, Chart, Control, Drawing, Line, Mark, Note, Outline, Panel, Picture, Preset, Reading, Values
from lessons.panels import parts
from lessons.panels.drawings.outlines import arc, disc, part, parts_in_words, polar, ring, sector, wire

NOMINAL = Machine()
POLES = 2 * NOMINAL.magneto.pole_pairs
PULSE = 360.0 / POLES  # degrees of crank
X, Y = 200.0, 200.0

ANGLE_CONTROL = Control("angle", "Crank angle", "degrees", 0.0, round(4.0 * PULSE, 2), 0.25, round(0.25 * PULSE, 2),
                        "How far the crank has turned since a magnet stood before each pole piece.")


def shares(machine: Machine, angle: float) -> tuple[float, float]:
    """Return the flux through the coils and the EMF, `angle` degrees of crank into a pulse, as shares of their peaks.

    Peaks are those of the fundamentals. The EMF is minus the flux's rate of change, so each harmonic of the EMF is one of
    the flux, smaller by its order.
    """
    m, turn = machine.magneto, math.radians(angle * machine.magneto.pole_pairs)
    orders = ((1, 1.0), (3, m.third_harmonic), (5, m.fifth_harmonic))
    return sum(h / n * math.cos(n * turn) for n, h in orders), sum(h * math.sin(n * turn) for n, h in orders)


def _arrows(flux: float) -> list[Outline]:
    """Return an arrow along each pole piece: outward or inward by turns, as long as the `flux` (a share) is strong."""
    arrows = []
    for pole in range(POLES):
        strength = flux if pole % 2 == 0 else -flux
        half = 24.0 * min(1.0, abs(strength))
        if half < 3.0:
            continue
        angle = 360.0 * pole / POLES - 90.0
        tail, tip = (107.0 - half, 107.0 + half) if strength > 0.0 else (107.0 + half, 107.0 - half)
        back = tip - math.copysign(min(7.0, half), tip - tail)
        ends = [polar(X, Y, tip, angle), *(polar(X, Y, back, angle + side * 2.4) for side in (-1.0, 1.0))]
        arrows.append(wire(*polar(X, Y, tail, angle), *ends[0], *ends[1], *ends[0], *ends[2], fill="force"))
    return arrows


def drawing(machine: Machine, angle: float) -> Drawing:
    """Return the magneto of `machine`, cut across, its flywheel turned by `angle` degrees."""
    poles = 2 * machine.magneto.pole_pairs
    pitch = 360.0 / poles
    at = [360.0 * i / poles - 90.0 for i in range(poles)]
    turned = [a + angle for a in at]
    magnets = [sector(X, Y, 140, 163, a - 0.38 * pitch, a + 0.38 * pitch, "energy" if i % 2 == 0 else "clear")
               for i, a in enumerate(turned)]
    letters = [Note(*_lowered(polar(X, Y, 151.5, a)), "N" if i % 2 == 0 else "S") for i, a in enumerate(turned)]
    irons = [Outline([*arc(X, Y, 136, a - 0.36 * pitch, a + 0.36 * pitch), *polar(X, Y, 128, a + 0.36 * pitch),
                      *polar(X, Y, 126, a + 0.12 * pitch), *polar(X, Y, 76, a + 0.2 * pitch), *polar(X, Y, 76, a - 0.2 * pitch),
                      *polar(X, Y, 126, a - 0.12 * pitch), *polar(X, Y, 128, a - 0.36 * pitch)]) for a in at]
    coils = [sector(X, Y, 88, 122, a + side * 0.125 * pitch, a + side * 0.34 * pitch, "current", True)
             for a in at for side in (-1.0, 1.0)]
    mark, shown = polar(X, Y, 174, angle - 90.0), min(turned, key=lambda a: abs((a + 225.0) % 360.0 - 180.0))
    return Drawing(
        f"Flywheel magneto with {machine.magneto.pole_pairs} pairs of poles, cut across", 400.0, 400.0,
        (
            part("flywheel", (22.0, 40.0), *ring(X, Y, 165, 184), disc(*mark, 4, "clear"), leads_to=polar(X, Y, 178, 218)),
            part("magnet", (378.0, 40.0), *magnets, leads_to=polar(X, Y, 160, shown)),
            part("pole piece", (22.0, 366.0), *ring(X, Y, 58, 76), *irons, leads_to=polar(X, Y, 66, 135)),
            part("magneto coil", (378.0, 366.0), *coils, leads_to=polar(X, Y, 104, 40)),
            part("flux", (200.0, 200.0), *_arrows(shares(machine, angle)[0])),
        ),
        (*letters,),
        f"The number of poles is the model's, so are their angles; one pulse is {pitch:.2f} degrees. Nothing else is to scale.",
    )


def _lowered(point: tuple[float, float]) -> tuple[float, float]:
    return point[0], point[1] + 4.0


def _strips(machine: Machine, values: Values) -> tuple[Chart, ...]:
    across = Axis("crank angle", "degrees", 0.0, 4.0 * PULSE)
    grid = [4.0 * PULSE * i / 160.0 for i in range(161)]
    both = [shares(machine, a) for a in grid]
    flux = 1e3 * values["drive"] / 100.0 * machine.magneto.flux_linkage
    volts = emf_peak(machine, MagnetoDrive(values["rpm"], values["drive"] / 100.0))
    most_flux, most_volts = 1.1e3 * 1.6 * machine.magneto.flux_linkage, 1.1 * emf_peak(machine, MagnetoDrive(900.0, 1.6))
    here = (Mark(values["angle"], None, "here", "here"),)
    return (
        Chart("flux", "Flux through the coils, all turns together", across, Axis("flux", "mWb", -most_flux, most_flux),
              (Line("flux", "force", grid, [flux * f for f, _ in both]),), here),
        Chart("emf", "EMF", across, Axis("EMF", "V", -most_volts, most_volts),
              (Line("EMF", "emf", grid, [volts * e for _, e in both]),), here),
    )


def picture(values: Values) -> Picture:
    """Return the magneto at a crank angle (degrees), its flux and its EMF at a speed (rpm) and drive (percent)."""
    drawn, (flux, push) = drawing(NOMINAL, values["angle"]), shares(NOMINAL, values["angle"])
    linkage = 1e3 * values["drive"] / 100.0 * NOMINAL.magneto.flux_linkage * flux
    volts = emf_peak(NOMINAL, MagnetoDrive(values["rpm"], values["drive"] / 100.0)) * push
    if abs(push) < 0.05:
        now = "A magnet stands before every pole piece: the flux is at its greatest, it does not change, and there is no EMF"
    elif abs(flux) < 0.05:
        now = ("The magnets stand between the pole pieces: no flux goes through the coils, but it is just turning round, "
               "and the EMF is at its greatest")
    else:
        now = "The magnets are on the way from one pole piece to the next, and the flux through the coils is turning round"
    pulse = int(values["angle"] / PULSE) + 1
    sentence = f"{now}: {volts + 0.0:.1f} V at {values['rpm']:.0f} rpm, in pulse {pulse} of {POLES} in a turn."
    return Picture(sentence, f"{parts_in_words(drawn)} {sentence}", (
        Reading("Flux through the coils", parts.number(linkage, "mWb"), linkage, "mWb"),
        Reading("EMF", parts.number(volts, "V"), volts, "V"),
        Reading("Pulses in a turn of the crank", str(POLES), float(POLES), "1"),
    ), strips=_strips(NOMINAL, values), drawing=drawn)


PANEL = Panel(
    "flywheel", "Magnets past coils",
    "When is the push greatest: as a magnet stands right before a coil, or half way between two?",
    (ANGLE_CONTROL, parts.speed_control(), parts.drive_control()),
    compute=picture,
    presets=(
        Preset("Pole before pole", {"angle": 0.0}, "Most flux, and no EMF: nothing changes. Here one pulse ends and the "
                                                   "next begins."),
        Preset("Half way", {"angle": round(0.5 * PULSE, 2)}, "No flux, and most EMF: the flux turns round, and it is the "
                                                             "change that pushes."),
        Preset("Next pole", {"angle": round(PULSE, 2)}, "The same picture with north and south changed over: the next "
                                                        "pulse pushes the other way."),
        Preset("Twice as fast", {"angle": round(0.5 * PULSE, 2), "rpm": 900.0},
            "The same flux turns round in half the time: twice the EMF."),
    ),
)
