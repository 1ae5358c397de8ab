"""Published values and closed forms against `coilmodel`'s geometry, springs, condenser, timing and textbook answers.

Each block is one subject; its comment says the worst difference that was observed (rerun `python -m coilmodel.proof
published` to see them all). "Looked up" means in a stored secondary copy of the work named, not in the work itself;
values from memory decide only where an exact formula reproduces them, others are shown without a limit. Where the
expected number was worked out by the same formula, or comes from the same program, the row's `kin` says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from scipy import optimize, special

from coilmodel import closed_forms, condenser, springs, timing, winding
from coilmodel.proof import (
    COMPUTED,
    EXACT,
    LOOKED_UP,
    MEMORY,
    MEMORY_COMPUTED,
    SAME_CODE,
    SAME_FORMULA,
    UNCERTAIN,
    Check,
    fields,
    printed,
)

INCH = 0.0254
KILOFOOT = 304.8


def checks() -> Iterator[Check]:
    """Every row of this group."""
    for block in (_wire, _air_coils, _rods, _core, _circuits, _air, _contacts, _beams, _impacts, _pull, _break, _condenser,
                  _magneto, _meters):
        yield from block()


def _wire() -> Iterator[Check]:
    """Copper and wire. Worst observed: half the printed digit (AWG 18: 6.3850 printed as 6.39); direct summation 1e-14."""
    nbs = "NBS Handbook 100 (1966), section 1.1"
    mil = math.pi / 4.0 * (INCH / 1000.0) ** 2
    yield printed("resistivity of annealed standard copper, 20 C", winding.copper_resistivity() * 1e8, "1.7241", "1e-8 ohm m",
                  nbs, MEMORY_COMPUTED)
    yield printed("the same by the circular mil foot", winding.copper_resistivity() * 0.3048 / mil, "10.371", "ohm cmil/ft", nbs,
                  MEMORY_COMPUTED)
    zero = 20.0 - 1.0 / (winding.copper_resistivity(21.0) / winding.copper_resistivity(20.0) - 1.0)
    yield printed("temperature at which standard copper's resistance extrapolates to nothing", zero, "-234.5", "C", nbs,
                  LOOKED_UP)
    table = "wire table after NBS Circular 31 (unrounded diameters)"
    rows = {10: "1.00", 14: "2.53", 16: "4.02", 18: "6.39", 20: "10.15", 22: "16.14", 24: "25.67", 30: "103.2", 36: "414.8",
            38: "659.6", 40: "1049"}
    for gauge, text in rows.items():
        ohms = winding.wire_resistance(KILOFOOT, winding.awg_diameter(gauge))
        yield printed(f"AWG {gauge}, ohm per 1000 ft at 20 C", ohms, text, "ohm", table, LOOKED_UP)
    rows = {14: "1.628", 18: "1.024", 20: "0.812", 24: "0.511", 30: "0.255", 36: "0.127", 38: "0.101", 40: "0.0799"}
    for gauge, text in rows.items():
        yield printed(f"AWG {gauge}, bare diameter", 1e3 * winding.awg_diameter(gauge), text, "mm",
                      "wire maker's table after ASTM B258", LOOKED_UP)
    yield printed("AWG 4/0, bare diameter", 1e3 * winding.awg_diameter(-3), "11.684", "mm", "ASTM B258", LOOKED_UP)
    # A layer winding against turn-by-turn addition: exact but for the order of summing.
    coil = winding.layer_winding(1000, 0.1e-3, 0.02, 0.03, 0.01e-3, 0.05e-3)
    per_layer, length = int(0.02 / 0.12e-3 + 1e-9), 0.0
    for turn in range(1000):
        length += 2.0 * math.pi * (0.015 + 0.06e-3 + (turn // per_layer) * 0.17e-3)
    yield Check("wire of a winding of 1000 turns, summed turn by turn", coil.wire_length, length, 1e-12, "m", "direct summation",
                EXACT, "rounding")


def _air_coils() -> Iterator[Check]:
    """Coils without iron. Worst observed: Nagaoka half the printed digit, 6e-14 from scipy's; Lundin 2.5e-6; Wheeler 0.54 %,
    thick 0.53 %; Brooks 1.4e-5."""
    rows = {0.1: "0.958807", 0.2: "0.920093", 0.3: "0.883803", 0.4: "0.849853", 0.5: "0.818136", 0.6: "0.788525", 0.8: "0.735079",
            1.0: "0.688423", 1.5: "0.595046", 2.0: "0.525510", 3.0: "0.429199", 5.0: "0.319825", 10.0: "0.203324"}
    for x, text in rows.items():
        sure = MEMORY_COMPUTED if x in (1.0, 2.0, 5.0) else COMPUTED
        yield printed(f"Nagaoka's coefficient, diameter/length {x:g}", winding.nagaoka(x), text, "1",
                      "Nagaoka 1909; Rosa & Grover, BS Sci. Paper 169 (1912), Table XXI", sure,
                      kin=SAME_FORMULA if sure == COMPUTED else "")
    apart = far = 0.0
    for x in np.logspace(-4, 3, 141):
        m, m1 = x * x / (1.0 + x * x), 1.0 / (1.0 + x * x)
        k, k1, first, second = math.sqrt(m), math.sqrt(m1), special.ellipkm1(m1), special.ellipe(m)
        exact = 4.0 / (3.0 * math.pi * k1) * (m1 / m * (first - second) + second - k)
        if 0.05 < x < 20.0:  # outside, this way of writing it loses digits; our own sum does not
            apart = max(apart, abs(winding.nagaoka(x) / exact - 1.0))
        far = max(far, abs(winding.nagaoka_lundin(x) / winding.nagaoka(x) - 1.0))
    yield Check("Nagaoka's coefficient with our elliptic integrals against scipy's, worst of 0.05 to 20", apart, 0.0, 1e-12, "1",
                "scipy.special.ellipkm1, ellipe", COMPUTED, "rounding, doubled by one cancellation")
    yield Check("Lundin's closed form against the exact one, worst of 0.0001 to 1000", far, 0.0, 4e-6, "1",
                "Lundin, Proc. IEEE 73 (1985) 1428", LOOKED_UP, "he promises 3 parts in a million of the value; 4 for the check")
    wheeler = "Wheeler, Proc. IRE 16 (1928) 1398"
    single = winding.wheeler_single_layer(100, 2 * INCH, 2 * INCH)
    yield printed("Wheeler's rule, radius 1 in, length 2 in, 100 turns", 1e6 * single, "344.83", "uH", wheeler + ", formula",
                  LOOKED_UP, kin=SAME_FORMULA)
    for length, why in ((2.0, "he promises 1 %"), (0.8, "1 %, at the short end of his range")):
        ours = winding.wheeler_single_layer(100, 2 * INCH, length * INCH)
        exact = winding.solenoid_inductance(100, 2 * INCH, length * INCH)
        yield Check(f"Wheeler's rule against the exact current sheet, length {length:g} in", 1e6 * ours, 1e6 * exact, 0.01, "uH",
                    wheeler, LOOKED_UP, why)
    thick = winding.wheeler_multilayer(100, 2 * INCH, INCH, INCH)
    exact = fields.thick_coil_inductance(100, 0.5 * INCH, 1.5 * INCH, INCH)
    yield Check("Wheeler's rule for a thick coil, all three sizes 1 in", 1e6 * thick, 1e6 * exact, 0.01, "uH",
                wheeler + "; Bessel integral of our own", COMPUTED, "he promises 1 %")
    exact = fields.thick_coil_inductance(100, 0.02, 0.04, 0.02)
    yield Check("Brooks coil, build 2 cm, 100 turns", 1e6 * winding.brooks_inductance(100, 0.02), 1e6 * exact, 1e-4, "uH",
                "Brooks, BS J. Res. 7 (1931) 289; Bessel integral of our own", COMPUTED, "his five digits, rounded twice")


def _rods() -> Iterator[Check]:
    """Rods. Worst observed: rod table 2.7e-4 at its rows, 0.85 % between; boundary elements 4.5e-5 off the exact ellipsoid."""
    osborn = "Osborn, Phys. Rev. 67 (1945) 351"
    rows = {2: "0.1736", 5: "0.0558", 10: "0.0203", 20: "0.00675", 50: "0.00144", 100: "0.000430", 200: "0.000125",
            500: "0.0000236"}
    for slenderness, text in rows.items():
        yield printed(f"demagnetising factor of an ellipsoid, slenderness {slenderness}",
                      winding.ellipsoid_demagnetising_factor(slenderness), text,
                      "1", osborn, MEMORY_COMPUTED)
    for m in (1.0, 1.004, 1.0050378, 1.01):
        e2 = 1.0 - 1.0 / m**2
        series = (1.0 - e2) * sum(e2**j / (2.0 * j + 3.0) for j in range(60))
        yield Check(f"the same near the sphere, slenderness {m:g}", winding.ellipsoid_demagnetising_factor(m), series, 1e-11, "1",
                    "series in the eccentricity, 60 terms", EXACT, "cancellation where the closed form takes over",
                    kin=SAME_FORMULA if e2 < 0.01 else "")
    chen = "Chen, Brug & Goldfarb, IEEE Trans. Magn. 27 (1991) 3601"
    for slenderness, text in {1: "0.3116", 2: "0.1819", 5: "0.0799", 10: "0.0412", 20: "0.0209"}.items():
        yield printed(f"evenly magnetised cylinder, slenderness {slenderness}",
                      winding.uniform_rod_demagnetising_factor(slenderness), text, "1",
                      chen, COMPUTED, kin=SAME_FORMULA)
    for m in (2.0, 10.0, 50.0):
        solved = fields.mid_plane_factor(fields.ellipsoid(m))
        yield Check(f"boundary elements tried on an ellipsoid, slenderness {m:g}", solved,
                    winding.ellipsoid_demagnetising_factor(m), 1e-4, "1", osborn, EXACT, "400 straight panels")
    for m in (1.0, 5.0, 10.0, 20.0, 100.0):
        yield Check(f"rod of high permeability, slenderness {m:g}", winding.rod_demagnetising_factor(m),
                    fields.mid_plane_factor(fields.cylinder(m)), 2e-3, "1", "boundary elements, coilmodel.proof.fields", COMPUTED,
                    "table of four digits; 400 panels", kin=SAME_CODE)
    for m in (1.22, 3.87, 8.37, 38.7):
        yield Check(f"the same between rows, slenderness {m:g}", winding.rod_demagnetising_factor(m),
                    fields.mid_plane_factor(fields.cylinder(m)), 0.01, "1", "boundary elements, coilmodel.proof.fields", COMPUTED,
                    "logarithms interpolated")
    for slenderness, value in {1: 0.27, 2: 0.14, 5: 0.040, 10: 0.0172, 20: 0.00617, 50: 0.00129, 100: 0.00036}.items():
        yield Check(f"the same as once tabled for real bars, slenderness {slenderness}",
                    winding.rod_demagnetising_factor(slenderness), value, 0.1,
                    "1", "Bozorth & Chapin, J. Appl. Phys. 13 (1942) 320", MEMORY, limit=False)
    for mu, n, text in ((100.0, 0.0172, "37.0"), (1000.0, 0.0172, "55.0"), (1000.0, 0.00617, "139.6")):
        yield printed(f"permeability of a rod, iron {mu:g}, N {n:g}", winding.rod_permeability(mu, n), text, "1",
                      "Bozorth, Ferromagnetism (1951)", LOOKED_UP, kin=SAME_FORMULA)
    yield printed("limit of the same for good iron, N 0.0172", winding.rod_permeability(1e6, 0.0172), "58.1", "1",
                  "limit 1/N, notes on loop antennas", LOOKED_UP)


def _core() -> Iterator[Check]:
    """The open core with its coil. Worst observed: 14.4 % (full-length coil, slenderness 5), 4.8 % at 0.8 of the length."""
    air = winding.solenoid_inductance(100, 0.0201, 0.1)
    none = winding.open_core_inductance(100, 0.0201, 0.1, 0.02, 0.1, iron_permeability=1.0)
    yield Check("core without iron: the coil alone", none, air, 1e-12, "H", "solenoid", EXACT, "rounding",
                kin=SAME_CODE)
    for m, share, allowed in ((5.0, 1.0, 0.16), (10.0, 1.0, 0.14), (5.0, 0.8, 0.07), (10.0, 0.8, 0.06), (10.0, 0.5, 0.06),
                              (20.0, 0.25, 0.06)):
        radius, length = 0.01, 0.02 * m
        whole = winding.open_core_inductance(100, 2.0 * radius, share * length, 2.0 * radius, length, 1e6, 1.0)
        iron = whole - winding.solenoid_inductance(100, 2.0 * radius, share * length)
        solved = winding.MU0 * 100**2 * radius * fields.coil_on_rod(m, share)
        yield Check(f"iron's part of the inductance, slenderness {m:g}, coil over {share:g} of the core", 1e3 * iron,
                    1e3 * solved, allowed,
                    "mH", "boundary elements, coilmodel.proof.fields", COMPUTED, "slender-rod formula, ends left out")


def _circuits() -> Iterator[Check]:
    """Textbook circuits. Worst observed: 0.99 of half the last printed digit (188 ohm), which is all a textbook gives."""
    openstax, serway = "OpenStax College Physics, section 23.10", "Serway & Jewett, Physics for Scientists and Engineers"
    yield printed("RL decay: 7.50 mH, 3.00 ohm, 10.0 A after 5.00 ms", closed_forms.rl_decay(10.0, 3.0, 7.5e-3, 5e-3), "1.35",
                  "A", openstax, LOOKED_UP)
    yield printed("RL rise: 12.0 V, 6.00 ohm, 30.0 mH after 2.00 ms", closed_forms.rl_rise(12.0, 6.0, 30e-3, 2e-3), "0.659", "A",
                  serway + ", example 32.2", MEMORY_COMPUTED)
    current = closed_forms.rl_rise(2.0, 4.0, 4.0, 2.0)
    volume2 = "OpenStax University Physics vol. 2, section 14.4"
    yield printed("RL rise: 2.0 V, 4.0 ohm, 4.0 H after 2 time constants", current, "0.43", "A", volume2, MEMORY_COMPUTED)
    yield printed("energy in that coil", 0.5 * 4.0 * current**2, "0.37", "J", volume2, MEMORY_COMPUTED)
    yield printed("RC charge: 12.0 V, 800 kohm, 5.00 uF: final charge", 5.0 * closed_forms.rc_charge(12.0, 8e5, 5e-6, 200.0),
                  "60.0", "uC", serway + ", chapter 28", MEMORY_COMPUTED)
    yield printed("RC discharge to a quarter of the charge, in time constants", closed_forms.time_to_fraction(0.25), "1.39", "1",
                  serway + ", chapter 28", MEMORY_COMPUTED)
    yield printed("RC discharge to a quarter of the energy, in time constants", closed_forms.time_to_fraction(0.5), "0.693", "1",
                  serway + ", chapter 28", MEMORY_COMPUTED)
    series = "OpenStax College Physics, examples 23.12 and 23.13"
    for hertz, text, amperes in ((60.0, "531", "0.226"), (10e3, "190", "0.633")):
        z = closed_forms.series_impedance(40.0, 3e-3, 5e-6, hertz)
        yield printed(f"40.0 ohm, 3.00 mH, 5.00 uF in a row at {hertz:g} Hz", z, text, "ohm", series, LOOKED_UP)
        # The book carries the rounded impedance on, so the last digit may be one out.
        yield printed("current in it from 120 V", 120.0 / z, amperes, "A", series, MEMORY_COMPUTED, digits=1.0)
    yield printed("its resonance", 1e-3 * closed_forms.resonance(3e-3, 5e-6), "1.30", "kHz", series, LOOKED_UP)
    for hertz, text in ((60.0, "1.13"), (10e3, "188")):
        reactance = closed_forms.series_impedance(1e-9, 3e-3, math.inf, hertz)
        yield printed(f"reactance of 3.00 mH at {hertz:g} Hz", reactance, text, "ohm", openstax, MEMORY_COMPUTED)
    lc = serway + ", example 32.6"
    yield printed("LC circuit, 2.81 mH and 9.00 pF: frequency", 1e-6 * condenser.ring_frequency(2.81e-3, 9e-12), "1.00", "MHz",
                  lc, MEMORY_COMPUTED)
    # The book prints the current; ours is asked the other way round.
    yield Check("peak voltage that its current of 0.679 mA rings up", condenser.ring_peak(6.79e-4, 2.81e-3, 9e-12), 12.0, 1e-3,
                "V", lc, MEMORY_COMPUTED, "three printed digits")


def _air() -> Iterator[Check]:
    """Breakdown of air. Worst observed: 0.8 % from spheres, 5.9 % from the straight line at 1 mm."""
    kuffel = "Kuffel, Zaengl & Kuffel, High Voltage Engineering, 2e, chapter 5"
    for mm, text in ((0.5, "2.75"), (1.0, "4.61"), (2.0, "7.96"), (5.0, "17.1"), (10.0, "31.4")):
        yield printed(f"even field, {mm:g} mm of air", 1e-3 * closed_forms.uniform_field_breakdown(1e-3 * mm), text, "kV", kuffel,
                      MEMORY_COMPUTED, kin=SAME_FORMULA)
    spheres = "sphere-gap table of IEC 52, 5 to 25 cm spheres"
    for mm, kilovolts, size, allowed, deciding in ((10.0, 31.7, "10 cm", 0.03, True), (10.0, 31.2, "25 cm", 0.03, True),
                                                   (5.0, 16.9, "10 cm", 0.03, False)):
        yield Check(f"even field against {size} spheres at {mm:g} mm", 1e-3 * closed_forms.uniform_field_breakdown(1e-3 * mm),
                    kilovolts,
                    allowed, "kV", spheres, LOOKED_UP if deciding else UNCERTAIN, "the table promises 3 %", limit=deciding)
    yield Check("even field at 10 mm, 60 Hz peak", 1e-3 * closed_forms.uniform_field_breakdown(0.01), 31.4, 0.03, "kV",
                "Fink & Beaty, Standard Handbook for Electrical Engineers", LOOKED_UP, "spheres, 3 %")
    yield Check("even field at 10 mm against the linear law 30 pd + 1.35 kV", 1e-3 * closed_forms.uniform_field_breakdown(0.01),
                31.35, 0.06,
                "kV", "linear law for millimetres of air; Encyclopaedia Britannica (1911), Conduction, Electric", LOOKED_UP,
                "5 % at 1 mm: a straight line for a curve")
    yield Check("even field at 1 mm against the same", 1e-3 * closed_forms.uniform_field_breakdown(1e-3), 4.35, 0.07, "kV",
                "linear law, as above", LOOKED_UP, "a straight line for a curve")
    yield printed("relative density of air at 0 C", closed_forms.air_density(temperature=0.0), "1.073", "1",
                  "spark-gap notes after IEC 60052", LOOKED_UP)
    volts, product = closed_forms.paschen_minimum()
    lieberman = "usual coefficients, Lieberman & Lichtenberg"
    yield printed("Paschen's minimum with the usual coefficients", volts, "305", "V", lieberman, COMPUTED,
                  kin=SAME_FORMULA)
    yield printed("and the product at which it lies", product, "0.836", "Torr cm", lieberman, COMPUTED,
                  kin=SAME_FORMULA)
    found = optimize.minimize_scalar(closed_forms.paschen, bounds=(0.4, 3.0), method="bounded", options={"xatol": 1e-9})
    yield Check("the same minimum by search", volts, float(found.fun), 1e-9, "V", "scipy.optimize.minimize_scalar", COMPUTED,
                "search")
    yield Check("and the measured one", volts, 327.0, 0.1, "V", "minimum potentials of air, Cobine; Naidu & Kamaraju", LOOKED_UP,
                limit=False)
    for mm, text in ((1.0, "5.04"), (5.0, "19.5"), (10.0, "35.5")):
        yield printed(f"Paschen's law at {mm:g} mm and 760 Torr", 1e-3 * closed_forms.paschen(76.0 * mm), text, "kV", lieberman,
                      COMPUTED, digits=1.0, kin=SAME_FORMULA)


def _contacts() -> Iterator[Check]:
    """Contacts and arcs. Worst observed: half a printed digit (silver, 1.3 % of 0.37 V)."""
    holm = "Holm, Electric Contacts, 4e (1967); melting points of the elements"
    for metal, melts, text in (("silver", 961.8, "0.37"), ("copper", 1084.6, "0.41"), ("platinum", 1768.3, "0.63"),
                               ("tungsten", 3422.0, "1.15")):
        yield printed(f"voltage that melts {metal} contacts", closed_forms.melting_voltage(melts), text, "V", holm,
                      MEMORY_COMPUTED, digits=1.0, kin="" if metal == "silver" else SAME_FORMULA)  # Holm prints silver's
    yield Check("the same for tungsten as once measured", closed_forms.melting_voltage(3422.0), 1.1, 0.1, "V", "Holm (1967)",
                MEMORY, limit=False)
    yield printed("arc between solid carbons, 2 mm, 10 A", closed_forms.ayrton_arc(10.0, 2e-3, 38.88, 2.074, 11.66, 10.54),
                  "46.3", "V", "Ayrton, The Electric Arc (1902)", MEMORY_COMPUTED, kin=SAME_FORMULA)


def _beams() -> Iterator[Check]:
    """Leaf springs. Worst observed: 1e-11 from the determinant; printed roots to the last digit."""
    blevins, hindawi = "Blevins, Formulas for Natural Frequency", "Math. Probl. Eng. (2017) 1568019, Table 1"
    yield printed("first root of a clamped-free beam", springs.beam_root(0.0), "1.875104", "1", blevins, LOOKED_UP)
    yield printed("its square", springs.beam_root(0.0) ** 2, "3.516015", "1", blevins + "; Den Hartog 3.52", LOOKED_UP)
    for mode, text in ((1, "1.557298"), (2, "16.25009"), (3, "50.89584")):
        yield printed(f"tip mass as heavy as the beam, mode {mode}", springs.beam_root(1.0, mode) ** 2, text, "1", hindawi,
                      LOOKED_UP)
    for ratio, text in ((0.1, "2.96784"), (0.5, "2.01630"), (2.0, "1.15820"), (10.0, "0.541375")):
        yield printed(f"tip mass of {ratio:g} beams", springs.beam_root(ratio) ** 2, text, "1", "roots of the beam equation",
                      COMPUTED, kin=SAME_FORMULA)
    # Independent: the characteristic determinant of the beam's own end conditions, by scipy.
    worst = 0.0
    for ratio in (0.0, 0.03, 0.7, 5.0, 300.0):
        for mode in (1, 2, 5):
            worst = max(worst, abs(springs.beam_root(ratio, mode) / _beam_by_determinant(ratio, mode) - 1.0))
    yield Check("beam roots against the determinant of the end conditions, worst of 15", worst, 0.0, 1e-9, "1",
                "numpy determinant, scipy.optimize.brentq", COMPUTED, "rounding of the determinant")
    strip = springs.Leaf(0.040, 0.010, 0.0006)
    yield printed("stiffness of a steel strip 40 x 10 x 0.6 mm", strip.stiffness, "1738", "N/m", "3 E I / L^3", EXACT,
                  kin=SAME_FORMULA)
    yield printed("its mass", 1e3 * strip.mass, "1.884", "g", "geometry", EXACT, kin=SAME_FORMULA)
    yield printed("its frequency", springs.tip_frequency(strip), "310.3", "Hz", "beam equation", COMPUTED, kin=SAME_FORMULA)
    rule = springs.spring_frequency(strip.stiffness, springs.effective_tip_mass(strip.mass))
    yield printed("the same by the 33/140 rule", rule, "314.9", "Hz", "Thomson, Theory of Vibration, chapter 2", MEMORY_COMPUTED,
                  kin=SAME_FORMULA)
    yield Check("so the rule is 1.47 % high", rule / springs.tip_frequency(strip) - 1.0, 0.0147, 0.005, "1", "the same",
                MEMORY_COMPUTED, "three printed digits")
    yield printed("with 2 g at its tip", springs.tip_frequency(strip, 2e-3), "134.2", "Hz", "beam equation", COMPUTED,
                  kin=SAME_FORMULA)
    stress = springs.root_stress(strip, 1e-3)
    force = springs.preload(strip.stiffness, 1e-3)
    yield Check("stress at its clamp for 1 mm", 1e-6 * stress, 1e-6 * force * 0.040 * 0.0003 / strip.second_moment, 1e-12, "MPa",
                "moment over section modulus", EXACT, "rounding")


def _beam_by_determinant(ratio: float, mode: int) -> float:
    """Root of the 2 x 2 determinant of free-end moment and tip-mass shear, for w = A (cosh - cos) + B (sinh - sin)."""

    def determinant(b: float) -> float:
        c, s, ch, sh = math.cos(b), math.sin(b), math.cosh(b), math.sinh(b)
        moment = [ch + c, sh + s]
        shear = [sh - s + ratio * b * (ch - c), ch + c + ratio * b * (sh - s)]
        return float(np.linalg.det(np.array([moment, shear]) / ch))

    grid = np.linspace(1e-3, mode * math.pi + 0.5, 4000)
    values = [determinant(b) for b in grid]
    changes = [i for i in range(len(grid) - 1) if values[i] * values[i + 1] < 0.0]
    at = changes[mode - 1]
    return float(optimize.brentq(determinant, grid[at], grid[at + 1], xtol=1e-14))


def _impacts() -> Iterator[Check]:
    """Impacts. Worst observed: 3e-11 from integrating the motion; printed values to the last digit."""
    schwager = "Schwager & Poschel, Granular Matter 9 (2007) 465"
    for ratio, text, stuck in ((0.05, "0.8588", "0.8545"), (0.1, "0.7441", "0.7292"), (0.2, "0.5717", "0.5266"),
                               (0.3, "0.4510", "0.3723"), (0.5, "0.2984", "0.1630")):
        yield printed(f"restitution of a stop that never pulls, damping ratio {ratio:g}", springs.restitution(ratio), text, "1",
                      schwager, COMPUTED, kin=SAME_FORMULA)
        yield printed(f"restitution where it may pull, {ratio:g}", springs.restitution_at_return(ratio), stuck, "1",
                      "half a damped swing", EXACT, kin=SAME_FORMULA)
    for ratio in (0.4, 0.999999, 1.0, 2.5):
        yield Check(f"restitution by integrating the motion, damping ratio {ratio:g}", springs.restitution(ratio), _bounce(ratio),
                    1e-6, "1",
                    "scipy.integrate.solve_ivp, event at zero force", COMPUTED, "rtol 1e-10 of the integration, with room")
    e = springs.restitution(springs.damping_ratio(1e-3, 1e6, springs.damping_for_restitution(0.6, 1e-3, 1e6)))
    yield Check("damping for a wanted restitution, and back", e, 0.6, 1e-12, "1", "inverse", EXACT, "halving to the last bit",
                kin=SAME_CODE)
    drop = math.sqrt(2.0 * 1.5 / 9.8)
    ball = "bouncing-ball demonstration: 1.5 m, restitution 0.7, g 9.8"
    yield printed("time until a ball lies still", closed_forms.bounce_time(drop, 0.7), "3.135", "s", ball, LOOKED_UP)
    yield printed("time of its 13th bounce", closed_forms.nth_bounce_time(drop, 0.7, 13), "3.10", "s", ball, LOOKED_UP)


def _bounce(ratio: float) -> float:
    """Restitution on a unit spring and dashpot, by integrating until the force is zero."""
    from scipy.integrate import solve_ivp

    def free(_: float, y: np.ndarray) -> float:
        return float(y[0] + 2.0 * ratio * y[1])

    free.terminal = True  # type: ignore[attr-defined]
    free.direction = -1.0  # type: ignore[attr-defined]
    run = solve_ivp(lambda _, y: (y[1], -y[0] - 2.0 * ratio * y[1]), (0.0, 60.0), (0.0, 1.0), events=free, rtol=1e-10, atol=1e-13)
    return float(-run.y_events[0][0][1])


def _pull() -> Iterator[Check]:
    """Magnetic pull. Worst observed: 1.2e-10 (finite difference); printed values to the last digit."""
    for tesla, text in ((0.5, "99.5"), (1.0, "397.9"), (1.5, "895.2"), (2.0, "1591.5")):
        yield printed(f"pull on a face at {tesla:g} T", 1e-3 * springs.gap_pull(tesla, 1.0), text, "kPa", "B^2 / (2 mu0)", EXACT,
                      kin=SAME_FORMULA)
    yield printed("pull at 0.1256 T on 3.14 cm2", springs.gap_pull(0.1256, 3.14e-4), "1.97", "N",
                  "B^2 A / (2 mu0), a worked problem corrected", EXACT, kin=SAME_FORMULA)
    # Two gaps in a U core: each gap has half the magnetomotive force, and both pull.
    turns, area, gap, current = 200.0, 4e-4, 1e-3, 3.0
    two = 2.0 * springs.coil_pull(springs.pull_constant(turns / 2.0, area), current, gap)
    yield Check("pull of a U core over two gaps", two, springs.MU0 * turns**2 * current**2 * area / (4.0 * gap**2), 1e-12, "N",
                "mu0 N^2 I^2 S / (4 g^2), a worked problem", LOOKED_UP, "rounding")
    # The relay of the text: inductance mu0 N^2 l d (1 - x/d) / (2 g); its force at constant current is the slope of the energy.
    relay = "Fitzgerald, Kingsley & Umans, Electric Machinery, 6e, example 3.2"
    energy = 0.5 * springs.MU0 * 1000.0**2 * 0.1 * 0.15 / (2.0 * 0.002) * 10.0**2
    yield printed("energy of a relay: 1000 turns, 2 mm, 0.15 x 0.1 m, 10 A", energy, "236", "J", relay, MEMORY_COMPUTED,
                  digits=1.0, kin=SAME_FORMULA)
    yield Check("its force against the pull of its field across the plunger", energy / 0.15,
                2.0 * springs.gap_pull(springs.MU0 * 1000.0 * 10.0 / (2.0 * 0.002), 0.1 * 0.002), 1e-9, "N", relay, EXACT,
                "rounding")
    current = springs.current_for_pull(1.16e-7, springs.coil_pull(1.16e-7, 5.1, 0.9e-3), 0.9e-3)
    yield Check("current for a pull, and back", current, 5.1, 1e-12, "A", "inverse", EXACT, "rounding", kin=SAME_CODE)
    slope = (springs.pull_constant(75.0, 1e-4) / (1e-3 - 1e-9) - springs.pull_constant(75.0, 1e-4) / (1e-3 + 1e-9)) / 2e-9 * 25.0
    yield Check("pull as half i^2 times the slope of the inductance 2 K / gap",
                springs.coil_pull(springs.pull_constant(75.0, 1e-4), 5.0, 1e-3),
                slope, 1e-6, "N", "Sen, Principles of Electric Machines, 3e, eq. 3.36", LOOKED_UP, "finite difference")


def _break() -> Iterator[Check]:
    """What a break makes available. Worst observed: 0.9 of half a printed digit."""
    yield printed("energy of 4 A in 4 mH", 1e3 * condenser.stored_energy(0.47e-6, condenser.ring_peak(4.0, 4e-3, 0.47e-6)),
                  "32.0", "mJ", "L I^2 / 2", EXACT)
    for picofarads, text in ((0.0, "27.68"), (25.0, "24.28"), (50.0, "21.89")):
        volts = condenser.available_voltage(4.0, 4e-3, 0.47e-6, 75.0, 1e-12 * picofarads)
        yield printed(f"available voltage, ratio 75, 4 mH, 4 A, 0.47 uF, {picofarads:g} pF", 1e-3 * volts, text, "kV",
                      "energy balance", EXACT, digits=1.0, kin=SAME_FORMULA)
    base = condenser.available_voltage(4.0, 4e-3, 0.47e-6, 75.0, 50e-12)
    two = "two coupled lossless circuits, worked separately"
    for k, text, later in ((0.95, "1.130", "1.137"), (0.9, "1.075", "1.184"), (0.8, "1.234", "1.235"), (0.7, "1.227", "1.258"),
                           (0.6, "1.137", "1.263")):
        first = condenser.two_winding_peak(4.0, 4e-3, 0.47e-6, 75.0, 50e-12, k)
        yield printed(f"peak over that formula within the first slow half-swing, coupling {k:g}", first / base, text, "1", two,
                      COMPUTED)
        whole = condenser.two_winding_peak(4.0, 4e-3, 0.47e-6, 75.0, 50e-12, k, 4e-3)
        yield printed("and within 4 ms", whole / base, later, "1", two, COMPUTED)
    yield printed("and with coupling 0.9999", condenser.two_winding_peak(4.0, 4e-3, 0.47e-6, 75.0, 50e-12, 0.9999) / base,
                  "1.007", "1", two, COMPUTED)
    yield from _two_modes_by_matrix()


def _two_modes_by_matrix() -> Iterator[Check]:
    """The same circuit as a 4 x 4 system, by matrix exponential. Worst observed: 5e-14 of the peak."""
    from scipy.linalg import expm

    i, l1, c1, n, c2, k = 5.1, 2.6e-3, 0.45e-6, 75.0, 60e-12, 0.93
    inverse = np.linalg.inv(np.array([[l1, k * n * l1], [k * n * l1, n * n * l1]]))
    system = np.zeros((4, 4))  # i1, i2, v1, v2
    system[:2, 2:] = -inverse
    system[2, 0], system[3, 1] = 1.0 / c1, 1.0 / c2
    modes = condenser.two_modes(i, l1, c1, n, c2, k)
    worst = top = 0.0
    for time in np.linspace(0.0, 400e-6, 81):
        exact = (expm(system * time) @ np.array([i, 0.0, 0.0, 0.0]))[3]
        top = max(top, abs(exact))
        worst = max(worst, abs(exact - modes.voltage(float(time))))
    yield Check("secondary voltage of a lossless break, worst of 81 moments, over its peak", worst / top, 0.0, 1e-8, "1",
                "scipy.linalg.expm of the 4 x 4 system", COMPUTED, "rounding of the matrix exponential")


def _condenser() -> Iterator[Check]:
    """The condenser. Worst observed: uncertainty 0.4 % from a random trial; the rest to rounding or the printed digit."""
    yield printed("0.47 uF through 10 Mohm: time to half", condenser.half_time(0.47e-6, 10e6), "3.26", "s", "ln 2 x R C", EXACT,
                  kin=SAME_FORMULA)
    left = condenser.voltage_left(9.0, 3.0, 0.47e-6, 25e6)
    alone = condenser.self_discharge(9.0, left, 3.0, 0.47e-6)
    yield Check("leakage from a discharge computed with 25 Mohm", 1e-6 * alone.resistance, 25.0, 1e-9, "Mohm",
                "R = t / (C ln(V0/V))", EXACT, "rounding", kin=SAME_CODE)
    both = condenser.voltage_left(9.0, 3.0, 0.47e-6, condenser.parallel(25e6, 10e6))
    metered = condenser.self_discharge(9.0, both, 3.0, 0.47e-6, meter_resistance=10e6)
    yield Check("the same through a 10 Mohm meter, taken out again", 1e-6 * metered.resistance, 25.0, 1e-9, "Mohm",
                "parallel resistances", EXACT, "rounding", kin=SAME_CODE)
    rng = np.random.default_rng(20261125)
    n = 20_000
    v0, v = 9.0 + 0.02 * rng.standard_normal(n), both + 0.02 * rng.standard_normal(n)
    t, c = 3.0 + 0.03 * rng.standard_normal(n), 0.47e-6 * (1.0 + 0.01 * rng.standard_normal(n))
    conductance = c * np.log(v0 / v) / t - 1.0 / 10e6
    said = condenser.self_discharge(9.0, both, 3.0, 0.47e-6, 10e6, 0.02, 0.03, 0.47e-8)
    yield Check("uncertainty of that leakage, as a conductance, against 20,000 random readings",
                said.uncertainty / said.resistance**2 * 1e9,
                float(np.std(conductance)) * 1e9, 0.03, "nS", "numpy, seeded", COMPUTED,
                "four standard errors of 20,000 trials and second order")
    share = float(np.mean(conductance < 1.0 / said.at_least))
    yield Check("share of them above the resistance said to be the least", share, 0.975, 0.006, "1", "numpy, seeded", COMPUTED,
                "four standard errors, and second order")
    for value, series, wanted in ((0.45, "E6", 0.47), (0.37, "E12", 0.39), (0.37, "E24", 0.36), (9.6, "E6", 10.0),
                                  (0.98, "E24", 1.0)):
        yield Check(f"nearest to {value:g} in {series}", condenser.preferred_value(value, series), wanted, 1e-12, "1",
                    "IEC 60063", LOOKED_UP, "rounding")
    yield printed("leakage to expect of 0.47 uF polyester", 1e-9 * condenser.insulation_resistance(0.47e-6), "21.3", "Gohm",
                  "film-capacitor maker's table: 10,000 s", LOOKED_UP, kin=SAME_FORMULA)
    for dielectric, celsius, seconds in (("polyester", 85.0, 1e3), ("polypropylene", 25.0, 1e5), ("polypropylene", 85.0, 1e4)):
        product = 1e-6 * condenser.insulation_resistance(1e-6, dielectric, celsius)
        yield Check(f"R C of {dielectric} at {celsius:g} C", product, seconds, 1e-9, "s", "film-capacitor maker's table",
                    LOOKED_UP, "rounding", kin=SAME_FORMULA)
    meter = condenser.apparent_capacity(0.45e-6, 1e4, 1000.0)
    yield Check("a leaky condenser on a series meter, over the true value", meter.series / 0.45e-6, 1.0 + meter.dissipation**2,
                1e-9, "1", "C (1 + D^2)", EXACT, "rounding")
    through = condenser.apparent_capacity(0.45e-6, 1e12, 1000.0, 2.6e-3, 0.0)
    factor = 1.0 / (1.0 - (2.0 * math.pi * 1000.0) ** 2 * 2.6e-3 * 0.45e-6)
    yield Check("a condenser read through the primary at 1 kHz, over the true value", through.series / 0.45e-6, factor, 1e-6, "1",
                "1 / (1 - w^2 L C)", EXACT, "leakage")
    yield Check("speed for an arc-free break of 5.1 A at 0.45 uF", condenser.arc_free_speed(5.1, 0.45e-6), 5.1 / 0.45 / 55.0,
                1e-12, "m/s", "i/C over 55 V/um", EXACT, "rounding", kin=SAME_FORMULA)


def _magneto() -> Iterator[Check]:
    """The magneto and the crank. Worst observed: 0.74 of half a printed digit."""
    yield printed("8 pole pairs at 750 rpm", timing.electrical_frequency(750.0, 8), "100", "Hz",
                  "f = p n / 60, texts on alternators", LOOKED_UP)
    yield printed("crank angle of one pulse, 8 pole pairs", timing.pulse_angle(8), "22.5", "degree", "geometry", EXACT,
                  kin=SAME_FORMULA)
    for ratio, text in ((0.5, "0.4472"), (1.0, "0.7071"), (2.065, "0.900"), (5.0, "0.9806"), (10.0, "0.9950")):
        hertz = ratio / (2.0 * math.pi * 1e-3)
        share = closed_forms.magneto_current(0.03, 1.0, 1e-3, hertz) / (0.03 / 1e-3)
        yield printed(f"closed-contact current over its limit, w L / R = {ratio:g}", share, text, "1",
                      "Fitzgerald, Kingsley & Umans, chapter 5", MEMORY_COMPUTED, kin=SAME_FORMULA)
    # Emptied of the formula: every pulse of two turns, tried one by one.
    for start in (0.0, 3.7, 22.5, 100.0):
        slow = [n * 22.5 + 11.0 for n in range(60) if start <= n * 22.5 and n * 22.5 + 11.0 <= start + 60.0]
        ours = timing.spark_angles(start, 60.0, 11.0, 8)
        yield Check(f"sparks in a window of 60 degrees from {start:g}: worst difference of {len(slow)}",
                    max(abs(a - b) for a, b in zip(ours, slow, strict=True)), 0.0, 1e-9, "degree", "trying every pulse", EXACT,
                    "rounding")
    mean, scatter = timing.mean_and_scatter([10.0, 12.0, 11.0, 13.0])
    yield Check("mean of four angles", mean, 11.5, 1e-12, "degree", "numpy.mean", EXACT, "rounding")
    yield Check("their sample deviation", scatter, float(np.std([10.0, 12.0, 11.0, 13.0], ddof=1)), 1e-12, "degree", "numpy.std",
                COMPUTED, "rounding")


def _meters() -> Iterator[Check]:
    """Meters on waveforms that are not sines. Worst observed: 1.3e-4, half the printed digit."""
    angle = (np.arange(200_000) + 0.5) * 2.0 * math.pi / 200_000
    waves = {
        "sine": (np.sin(angle), "0.7071", "0.7071"),
        "square": (np.sign(np.sin(angle)), "1.0000", "1.1107"),
        "triangle": (2.0 / math.pi * np.arcsin(np.sin(angle)), "0.5774", "0.5554"),
        "half-wave sine": (np.maximum(np.sin(angle), 0.0), "0.5000", "0.3536"),
        "sine + 20 % third, in phase": (np.sin(angle) + 0.2 * np.sin(3.0 * angle), "0.7211", "0.7543"),
        "sine - 20 % third": (np.sin(angle) - 0.2 * np.sin(3.0 * angle), "0.7211", "0.6600"),
    }
    for name, (wave, _, reading) in waves.items():
        shown = closed_forms.rectifier_reading(float(np.mean(np.abs(wave))))
        source, sure = ("multimeter manual, factors 1.110 and 0.960", LOOKED_UP) if name in ("square",
                                                                                             "triangle") else ("integration",
                                                                                                               COMPUTED)
        yield printed(f"a rectifier meter on a {name} of peak 1", shown, reading, "1", source, sure, digits=1.0,
                      kin=SAME_FORMULA if sure == COMPUTED and name != "sine" else "")
