"""The stepper: one function that carries the coil and its contacts through time.

Standard library only, over floats and flat buffers, so that the same text runs in three homes: compiled by numba,
in plain CPython, and under the Python in a reader's browser. `coilmodel.run` is the door for people; this file is the
physics. Symbols below are those of the equations; everything is in SI units.

The circuit (T-form; psi is the flux linkage of the core seen from the primary, u its rate of change)::

    L(x)    = L0 + 2 K/(g0 - x)                              magnetising inductance; x is the vibrator's position
    u       = dpsi/dt = Rcore (i1 + n i2 - psi/L(x))         Rcore carries eddy and hysteresis loss
    0       = e(t) - R i1 - v - Lp di1/dt - u - v_timer      primary loop; Lp: source plus primary leakage inductance
    0       = -R2 i2 - vs - Ls di2/dt - n u                  secondary loop; Ls: secondary leakage inductance
    C dv/dt = i1 - v/Rleak - v/Rc                            contacts closed (all but shorts the condenser)
    C dv/dt = i1 - v/Rleak                                   contacts open
    v       = +-Va                                           arc between the contacts, i_arc = i1 - v/Rleak
    C2 dvs/dt = i2   or   vs = +-Vburn                       spark gap quiet, or burning
    e(t)    = E0 + E (sin wt + h3 sin 3wt + h5 sin 5wt)      magneto, bench transformer (E0 = 0) or battery (E = 0)

The mechanics (downward, toward the core, is positive; zero is the cushion's position on the limit rivet)::

    mv xv'' = F - (Fv0 + kv xv) - cv xv' + Fct - Fstop       vibrator; F = K (psi/L)^2/(g0 - xv)^2
    mc xc'' = (Fc0 - kc xc) - cc xc' - Fct - Frivet + Fbridge   cushion blade
    Fct     = max(0, kct d + cct d')     while d = xc - xv > 0 (contacts touch); rivet, bridge and core stop alike

The pull F is the derivative of the core's coenergy, so pull, back-EMF and core loss come from one flux and the energy
ledger closes. Contacts that have parted hold their voltage while it is under the larger of the striking voltage (1.5 Va)
and the strength of the gap, which is 55 V/um under 6 um, then 330 V, then Kuffel's uniform-field law. Above it an arc
strikes. It dies when its current falls under the least that the metal needs (Holm), and sooner beside a condenser: by
Ayrton's law v = a + b l + (c + d l)/i its slope resistance is -(c + d l)/i^2, and a condenser that this discharges quicker than
the arc's own time constant puts it out (Kaufmann 1900). Both are i^2 < arc_current^2 + (c + d l) C/arc_time. The contacts'
gap holds its full voltage at once after an arc: ions leave a gap of l in l^2/(pi^2 D), under half a microsecond at 0.2 mm
(D = 0.01 m2/s in air of some thousand kelvin, from memory), less than a step.

The spark gap holds its breakdown voltage when it has long been quiet, and less before, as its hot channel cools. Scatter, where
asked for, draws the breakdown voltage anew each time that the gap has gone out and
the closed contacts' resistance each time that they close, from a generator that gives the same numbers in every home; ripple
makes the crank's speed go up and down.

In the steps below, besides the letters of the equations: `constant`, `peak`, `omega`, `third`, `fifth`, `ripple`, `ripple_omega`,
`ripple_phase` make e(t); `xv`, `xc`, `vv`, `vc` are positions and speeds of vibrator and cushion at a step's start, `xv1`, `xc1`
positions at its end; `touch`, `rivet`, `bridge`, `stop`, `closed` are 1 while they touch, else 0; `mv`, `kv`, `Fv0`, `cv`, `mc`,
`kc`, `Fc0`, `cc`, `kct`, `cct`, `kr`, `cr`, `kb`, `cb`, `bridge_at`, `kst`, `cst`, `xs` are the masses, stiffnesses, preloads,
dampings and places of the parts; `g0`, `K`, `L0` of the core; `Va` is the arc's voltage, `burn` the spark's; `open_ceiling` the
longest step (s) while the contacts are open; `hh` half a step (s), `trial` a step (s); `cut`, `far`, `tolerance` as in `sooner`;
`still` counts the steps since an open circuit last moved; `parting_speed` (m/s) and `stored` (J) are an opening's, `lost` (J) an
arc's; `events` the buffer of openings and `at` a place in it; `t` the time, `i1` the primary current, `v`, `vs` the voltages.

Method: implicit midpoint for circuit and masses, coupled through the vibrator's position predicted for mid-step:
second order, stable for the stiff flux and contact springs, and its dissipation is the physical one. Only the condenser
under closed contacts, which is done in nanoseconds, is taken by its value at the step's end. Every switch (touch, part,
rivet, bridge, stop, strike, die, spark, timer) is a flag; a step that crosses one is cut at it. After a switch the step
starts small and doubles after every few steps up to a ceiling that depends on what is going on.
"""

from __future__ import annotations

import math

PARAMETERS = (
    "emf_constant", "emf_peak", "omega", "third", "fifth",  # e(t): V, V, rad/s, -, -
    "source_resistance", "source_inductance",  # ohm, H
    "cycle", "window_start", "window_width", "timer_voltage",  # s, s, s, V; cycle 0: no timer
    "primary_inductance", "primary_resistance", "turns_ratio", "coupling", "secondary_resistance",
    "secondary_capacitance", "core_resistance", "magnetic_gap", "pull_constant",
    "capacitance", "leakage_resistance",
    "contact_resistance", "arc_voltage", "arc_current", "arc_power", "arc_power_rise", "arc_time",
    "spark_breakdown", "spark_burn", "spark_extinction", "spark_recovery",
    "vibrator_mass", "vibrator_stiffness", "vibrator_preload", "vibrator_damping",
    "cushion_mass", "cushion_stiffness", "cushion_preload", "cushion_damping", "travel",
    "contact_stiffness", "contact_damping", "rivet_stiffness", "rivet_damping",
    "bridge_stiffness", "bridge_damping", "stop_position", "stop_stiffness", "stop_damping",
    "start_vibrator", "start_cushion", "prescribed_opening",  # m, m, s (0: the mechanics decide)
    "breakdown_scatter", "resistance_scatter", "seed", "ripple", "ripple_omega", "ripple_phase",  # 1, 1, -, 1, rad/s, rad
    "end", "measure_from", "record_from", "record_to", "record_every", "step",
)
"""The order of the numbers in the kernel's first argument (SI units; see coilmodel.machine for meaning and origin)."""

STRIP = ("time", "emf", "current", "vibrator", "cushion", "contact_voltage", "secondary_voltage", "secondary_current",
         "contact_force", "flux", "arc", "spark")
"""The columns of a recorded row."""

EVENT = ("time", "current", "parting_speed", "on_rivet", "vibrator", "cushion", "closing_time", "largest_gap",
         "peak_contact_voltage", "peak_secondary_voltage", "first_spark_time", "sparks", "spark_energy", "arc_strikes",
         "arc_energy", "quiet", "stored_energy", "break_arc_energy")
"""The columns of one opening of the contacts. `largest_gap` in metres; times of what did not happen are -1.
`break_arc_energy` is the part of `arc_energy` spent while the gap was still growing: the arc that burns the contacts at the
break. The rest is mostly what the condenser gives up as they close again."""

LEDGER = ("source", "copper", "core", "contact", "arc", "leakage", "secondary", "spark", "mechanical", "timer",
          "stored_start", "stored_end")
"""Energies in joules over the whole run: source = the losses + stored_end - stored_start."""

METER = ("seconds", "current", "absolute_current", "squared_current", "peak_current", "steps", "retries", "openings", "rows",
         "status")
"""Integrals of the current from `measure_from` on, and the counts of the run. Status 0: ran to its end; 1: step limit."""

FIELD_STRENGTH = 55e6  # V/m: field emission across gaps under some 6 um (physics.md; Slade & Taylor 2002, from memory)
PASCHEN_MINIMUM = 330.0  # V: air, all metals (measured 327 V at 7.5 um and 760 Torr; Cobine's tables, from memory)
KUFFEL_ROOT = 6.72e3 * 10.0  # V per sqrt(m bar): V = 6.72 sqrt(pd) + 24.36 pd kV, bar cm (Kuffel et al., 2e, from memory)
KUFFEL_LINEAR = 24.36e3 * 100.0  # V per m bar, same source

PI = 3.141592653589793
PI_HIGH = 3.141592651605606  # pi in two pieces, the first of few bits, so that whole turns are taken off exactly
PI_LOW = 1.984187159361081e-09

STRIKE = 1.5  # to strike an arc takes so much more than to keep one (Holm's minimum is of one that burns); our choice

RESTRIKE = 1.25  # a spark that has just gone out wants so much more than burning takes; our choice

FIRST_STEP = 1.0e-6  # s: the step just after a switch
CEILING_OPEN = 2.0e-6  # s: contacts open, unless the circuit rings faster than that resolves
FLOOR_OPEN = 3.0e-7  # s: nor are open contacts stepped finer than this, however fast the circuit rings
RESOLVED = 0.06  # rad of the primary's leakage ring to a step: waveforms within 1 % of ngspice over a pulse (coilmodel.proof)
CEILING_MOVING = 6.0e-6  # s: contacts closed and moving
CEILING_REST = 32.0e-6  # s: contacts closed and at rest
CLOSEST = 0.9  # of the magnetic gap: the pull formula is not followed nearer the core than this (the core stop comes first)
FINEST_GAP = 0.03  # no step changes the vibrator's gap to the core by more than this x gap^2/g0
SMALLEST_STEP = 2.0e-9  # s: no event is sought closer than this
STEPS_BEFORE_DOUBLING = 8
STILL_STEPS = 64  # open contacts step longer again when the circuit has hardly moved for so long: half a ring at the least
STILL_VOLTS = 1.0 / 2.5e5**2  # "hardly": less than 0.25 V/us at the condenser, all three together
STILL_SECONDARY = 1.0 / 1.5e7**2  # 15 V/us at the secondary
STILL_AMPERES = 1.0 / 2.5e3**2  # 2.5 mA/us in the primary

TOUCH, RIVET, BRIDGE, STOP = 1, 2, 3, 4  # the switches: contacts meet or part, cushion on rivet, on bridge, vibrator on core
ARC_DIES, ARC_STRIKES, SPARK_DIES, SPARK_STRIKES, TIMER_CLEARS = 5, 6, 7, 8, 9
NEAR = 2.0e-9  # m: no mechanical switch is sought closer than this

def sine(x: float) -> float:
    """Return sin x from additions and multiplications alone, so that every home of the kernel computes the very same digits.

    x: radians, up to some 1e9 in size. Error under 1e-15 near zero and 1e-16 |x| elsewhere. Range reduction to a half turn
    (Cody & Waite, Software Manual for the Elementary Functions, 1980), then the Taylor series to x^21.
    """
    turns = math.floor(x / PI + 0.5)
    r = (x - turns * PI_HIGH) - turns * PI_LOW
    q = r * r
    s = 8.22063524662433e-18 - 1.9572941063391263e-20 * q
    s = s * q - 2.8114572543455206e-15
    s = s * q + 7.647163731819816e-13
    s = s * q - 1.6059043836821613e-10
    s = s * q + 2.505210838544172e-08
    s = s * q - 2.7557319223985893e-06
    s = s * q + 1.984126984126984e-04
    s = s * q - 8.333333333333333e-03
    s = s * q + 0.16666666666666666
    s = r - r * q * s
    if turns - 2.0 * math.floor(0.5 * turns) > 0.5:
        return -s
    return s


def cosine(x: float) -> float:
    """Return cos x as `sine` does."""
    return sine(x + 0.5 * PI)


def contact_gap_holds(opened: float, Va: float) -> float:
    """Return the voltage that parted contacts hold, V: the air's strength over a gap of `opened` m, at least what an arc needs.

    Field emission across gaps under some 6 um, then the Paschen minimum, then the uniform field of air at 1 bar.
    """
    strength = 0.0
    if opened > 0.0:
        strength = FIELD_STRENGTH * opened
        if strength > PASCHEN_MINIMUM:
            strength = PASCHEN_MINIMUM
            rise = KUFFEL_ROOT * math.sqrt(opened) + KUFFEL_LINEAR * opened
            if rise > strength:
                strength = rise
    if strength < STRIKE * Va:
        return STRIKE * Va
    return strength


def spark_gap_holds(quiet: float, holds: float, burn: float, recovery: float) -> float:
    """Return the voltage that the spark gap holds `quiet` s after it went out; after `recovery` s half of all that it gains.

    A hot channel cools by conduction, its excess of temperature falling as 1/t (line source: Carslaw & Jaeger, Conduction of
    Heat in Solids, 1959, sec. 10.3, from memory), and the gap's strength goes with the density of its gas.
    """
    strength = burn + (holds - burn) * quiet / (quiet + recovery)
    if strength < RESTRIKE * burn:
        return RESTRIKE * burn
    return strength


def normal(draw: float) -> tuple[float, float]:
    """Return (next draw, a number with mean 0 and spread 1) from a generator of whole numbers held exactly in floats.

    Park & Miller's minimal standard generator (Comm. ACM 31, 1988, 1192); four uniform numbers make one nearly normal.
    """
    total = 0.0
    for _ in range(4):
        draw = 16807.0 * draw
        draw -= 2147483647.0 * math.floor(draw / 2147483647.0)
        total += draw / 2147483647.0
    return draw, (total - 2.0) * 1.7320508075688772


def scattered(value: float, share: float, z: float) -> float:
    """Return `value` times 1 + `share` x `z`, never under a fifth of it."""
    factor = 1.0 + share * z
    if factor < 0.2:
        factor = 0.2
    return value * factor


def emf(t: float, constant: float, peak: float, omega: float, third: float, fifth: float, ripple: float, ripple_omega: float,
        ripple_phase: float) -> float:
    """Return the source's EMF at time `t`, V; with ripple the crank runs ahead and behind, and the EMF goes with its speed."""
    if omega <= 0.0:
        return constant
    th = omega * t
    if ripple != 0.0:
        wave = ripple_omega * t + ripple_phase
        th -= omega * ripple / ripple_omega * (cosine(wave) - cosine(ripple_phase))
        peak *= 1.0 + ripple * sine(wave)
    e = constant + peak * sine(th)
    if third != 0.0:
        e += peak * third * sine(3.0 * th)
    if fifth != 0.0:
        e += peak * fifth * sine(5.0 * th)
    return e


def magnetic(xv: float, g0: float, K: float, L0: float) -> tuple[float, float]:
    """Return (gap that the pull goes by, magnetising inductance) with the vibrator at `xv`; m, H.

    Nearer than `CLOSEST` the formula is not followed: the pull stays, so the inductance goes on in a straight line.
    """
    nearest = (1.0 - CLOSEST) * g0
    gm = g0 - xv
    if gm > nearest:
        return gm, L0 + 2.0 * K / gm
    return nearest, L0 + 2.0 * K * (2.0 * nearest - gm) / (nearest * nearest)


def longest_step(closed: int, still: int, xv: float, vv: float, g0: float, open_ceiling: float, step: float) -> float:
    """Return the longest step allowed now, s: short while the contacts are open and the circuit rings, or near the core."""
    ceiling = open_ceiling
    if closed:
        ceiling = CEILING_REST if -0.02 < vv < 0.02 else CEILING_MOVING
    elif still >= STILL_STEPS:
        ceiling = CEILING_MOVING
    ceiling *= step
    if xv > 0.0 or xv + vv * ceiling > 0.0:  # near the core the inductance changes fast
        nearest = (1.0 - CLOSEST) * g0
        gm = g0 - xv if g0 - xv > nearest else nearest
        room = FINEST_GAP * gm * gm / g0
        if vv * ceiling > room or -vv * ceiling > room:
            ceiling = room / (vv if vv > 0.0 else -vv)
    return ceiling


def masses(hh: float, xv: float, vv: float, xc: float, vc: float, F: float, touch: int, rivet: int, bridge: int, stop: int,
           mv: float, kv: float, Fv0: float, cv: float, mc: float, kc: float, Fc0: float, cc: float, kct: float, cct: float,
           kr: float, cr: float, kb: float, cb: float, bridge_at: float, kst: float, cst: float, xs: float,
           ) -> tuple[float, float, float, int, int, int, int]:
    """Return (vibrator's and cushion's speed at mid-step, contact force, and which of contact, rivet, bridge, stop really push).

    Implicit midpoint over a step of 2 `hh` s: two linear equations. A one-sided spring-damper that would pull is left out.
    """
    on_ct, on_rv, on_br, on_st = touch, rivet, bridge, stop
    av = mv / hh + kv * hh + cv
    ac = mc / hh + kc * hh + cc
    bv = mv / hh * vv + F - Fv0 - kv * xv
    bc = mc / hh * vc + Fc0 - kc * xc
    g = kct * hh + cct
    d = xc - xv
    vvm = vcm = Fct = 0.0
    settled = 0
    while settled == 0:
        settled = 1
        a1, b1, a2, b2 = av, bv, ac, bc
        if on_st:
            a1 += kst * hh + cst
            b1 -= kst * (xv - xs)
        if on_rv:
            a2 += kr * hh + cr
            b2 -= kr * xc
        if on_br:
            a2 += kb * hh + cb
            b2 -= kb * (xc - bridge_at)
        Fct = 0.0
        if on_ct:
            a1 += g
            a2 += g
            b1 += kct * d
            b2 -= kct * d
            det = 1.0 / (a1 * a2 - g * g)
            vvm = (b1 * a2 + g * b2) * det
            vcm = (b2 * a1 + g * b1) * det
            Fct = kct * d + g * (vcm - vvm)
        else:
            vvm = b1 / a1
            vcm = b2 / a2
        if Fct < 0.0:
            on_ct = settled = 0
        elif on_rv and kr * (xc + hh * vcm) + cr * vcm < 0.0:
            on_rv = settled = 0
        elif on_br and kb * (xc + hh * vcm - bridge_at) + cb * vcm > 0.0:
            on_br = settled = 0
        elif on_st and kst * (xv + hh * vvm - xs) + cst * vvm < 0.0:
            on_st = settled = 0
    return vvm, vcm, Fct, on_ct, on_rv, on_br, on_st


def sooner(cut: float, far: float, switch: int, number: int, before: float, after: float, tolerance: float,
           ) -> tuple[float, float, int]:
    """Return (fraction of the step, how far beyond in tolerances, number) of the soonest switch, a new one looked at.

    The new switch `number` is made where its margin, `before` at the step's start, passes zero; `after`, at the end, is negative.
    """
    f = before / (before - after) if before > 0.0 else 0.0
    if f < cut:
        return f, -after / tolerance, number
    return cut, far, switch


def blades_switch(touch: int, rivet: int, bridge: int, stop: int, xv: float, xc: float, xv1: float, xc1: float, bridge_at: float,
                  xs: float) -> tuple[float, float, int]:
    """Return the soonest mechanical switch inside a step (see `sooner`), number 0 and fraction 2 for none."""
    cut, far, switch = 2.0, 0.0, 0
    before, after = xc - xv, xc1 - xv1
    if touch == 0:
        before, after = -before, -after
    if after < 0.0:
        cut, far, switch = sooner(cut, far, switch, TOUCH, before, after, NEAR)
    before, after = xc, xc1
    if rivet == 0:
        before, after = -before, -after
    if after < 0.0:
        cut, far, switch = sooner(cut, far, switch, RIVET, before, after, NEAR)
    before, after = bridge_at - xc, bridge_at - xc1
    if bridge == 0:
        before, after = -before, -after
    if after < 0.0:
        cut, far, switch = sooner(cut, far, switch, BRIDGE, before, after, NEAR)
    before, after = xv - xs, xv1 - xs
    if stop == 0:
        before, after = -before, -after
    if after < 0.0:
        cut, far, switch = sooner(cut, far, switch, STOP, before, after, NEAR)
    return cut, far, switch


def springs_hold(xv: float, xc: float, touch: int, rivet: int, bridge: int, stop: int, kv: float, Fv0: float, kc: float,
                 Fc0: float, kct: float, kr: float, kb: float, bridge_at: float, kst: float, xs: float) -> float:
    """Return the energy stored in blades, contacts and stops, J."""
    d = xc - xv
    return (Fv0 * xv + 0.5 * kv * xv * xv - Fc0 * xc + 0.5 * kc * xc * xc + 0.5 * touch * kct * d * d
            + 0.5 * rivet * kr * xc * xc + 0.5 * bridge * kb * (xc - bridge_at) ** 2 + 0.5 * stop * kst * (xv - xs) ** 2)


def dampers_take(on: int, touching: int, k: float, c: float, x: float, x1: float, speed: float, trial: float) -> float:
    """Return what one contact or stop takes out of the motion in a step, J: its damper, or all that its spring gave in vain.

    on: whether it pushed; touching: whether it was there; x, x1: its compression, m; speed: of the compression at mid-step, m/s.
    """
    if touching == 0:
        return 0.0
    if on:
        return c * speed * speed * trial
    return 0.5 * k * (x * x - x1 * x1)


def begin_opening(events: list[float], at: int, t: float, i1: float, parting_speed: float, rivet: int, xv: float, xc: float,
                  stored: float) -> None:
    """Start the row of an opening at place `at` of the buffer; see EVENT."""
    for j in range(18):
        events[at + j] = 0.0
    events[at] = t
    events[at + 1] = i1
    events[at + 2] = parting_speed
    events[at + 3] = 1.0 if rivet else 0.0
    events[at + 4] = xv
    events[at + 5] = xc
    events[at + 6] = -1.0
    events[at + 10] = -1.0
    events[at + 15] = -1.0
    events[at + 16] = stored


def widen(events: list[float], at: int, v: float, vs: float, gap: float) -> None:
    """Keep the highest contact voltage, secondary voltage and gap of an opening."""
    size = v if v > 0.0 else -v
    if size > events[at + 8]:
        events[at + 8] = size
    size = vs if vs > 0.0 else -vs
    if size > events[at + 9]:
        events[at + 9] = size
    if gap > events[at + 7]:
        events[at + 7] = gap


def arced(events: list[float], at: int, lost: float, gap: float) -> None:
    """Add the energy of an arc to an opening: to that at the break while the gap has never been wider."""
    events[at + 14] += lost
    if gap >= events[at + 7]:
        events[at + 17] += lost


def advance(p: tuple[float, ...], strips: list[float], events: list[float], ledger: list[float], meter: list[float]) -> None:
    """Run the machine from rest at time 0 to `end`, filling the buffers in place.

    p: tuple of floats in the order of PARAMETERS. strips: flat buffer of rows x len(STRIP); events: flat buffer of
    openings x len(EVENT), of those from `measure_from` on; ledger, meter: buffers of len(LEDGER), len(METER). Full buffers stop
    recording, never the run.
    """
    (emf_constant, emf_peak, omega, third, fifth, source_resistance, source_inductance, cycle, window_start, window_width,
     timer_voltage, L1, R1, n, k, R2, C2, Rcore, g0, K, C, Rleak, Rclosed, Va, arc_current, arc_power, arc_power_rise,
     arc_time, breakdown, burn, extinction, recovery,
     mv, kv, Fv0, cv, mc, kc, Fc0, cc, travel, kct, cct, kr, cr, kb, cb, xs, kst, cst, xv, xc, prescribed,
     breakdown_scatter, resistance_scatter, seed, ripple, ripple_omega, ripple_phase,
     end, measure_from, record_from, record_to, record_every, step) = p
    R = source_resistance + R1
    Lp = source_inductance + (1.0 - k) * L1
    Ls = (1.0 - k) * n * n * L1
    L0 = k * L1 - 2.0 * K / g0
    bridge_at = -travel
    open_ceiling = RESOLVED * math.sqrt(Lp * C)
    if open_ceiling > CEILING_OPEN:
        open_ceiling = CEILING_OPEN
    elif open_ceiling < FLOOR_OPEN:
        open_ceiling = FLOOR_OPEN
    kept = arc_current * arc_current + arc_power * C / arc_time  # least current squared that keeps a short arc alive
    kept_rise = arc_power_rise * C / arc_time
    row_width, event_width = 12, 18
    row_limit, event_limit = len(strips) // row_width, len(events) // event_width

    # the state: circuit, masses, flags
    i1 = i2 = psi = v = vs = vv = vc = 0.0
    t = 0.0
    touch = 1 if xc - xv >= 0.0 else 0
    rivet = 1 if xc >= 0.0 else 0
    bridge = 1 if xc <= bridge_at else 0
    stop = 1 if xv >= xs else 0
    arc = spark = 0  # +1 or -1 while burning: the sign of the voltage
    timer = 1  # 1 closed, 2 opened and its arc burning, 0 open
    edge = math.inf  # when the timer next switches
    if cycle > 0.0:
        edge = window_start
        timer = 0
        if window_start <= 0.0:
            edge = window_start + window_width
            timer = 1
    closed = touch  # electrically closed: as the mechanics say, or as prescribed
    if prescribed > 0.0:
        closed = 1
    quenched = -1.0e6  # when the spark gap last went out
    draw = seed
    holds = breakdown  # what the spark gap holds once it has recovered
    Rc = Rclosed
    if breakdown_scatter > 0.0:
        draw, z = normal(draw)
        holds = scattered(breakdown, breakdown_scatter, z)
    if resistance_scatter > 0.0:
        draw, z = normal(draw)
        Rc = scattered(Rclosed, resistance_scatter, z)

    # energies and integrals
    source = copper = core = contact_loss = arc_loss = leak_loss = secondary_loss = spark_loss = mechanical = timer_loss = 0.0
    seconds = sum_i = sum_abs = sum_sq = peak_i = 0.0
    stored_start = springs_hold(xv, xc, touch, rivet, bridge, stop, kv, Fv0, kc, Fc0, kct, kr, kb, bridge_at, kst, xs)
    opening = -1  # the event being filled while contacts are open, or the last one
    at = 0  # its place in the buffer
    openings = rows = steps = retries = 0
    status = 0
    next_record = record_from
    step_budget = 4000 + int(end / 4.0e-8)

    h = FIRST_STEP * step
    calm = 0  # steps since the last doubling
    still = 0  # steps since the open circuit last moved
    h_used = -1.0
    al = be = Y1 = Y2 = half2 = half1 = hC2 = uden = 0.0

    while t < end:
        steps += 1
        if steps > step_budget:
            status = 1
            break

        # 1. how long a step: up to the next known edge at most
        ceiling = longest_step(closed, still, xv, vv, g0, open_ceiling, step)
        if calm >= STEPS_BEFORE_DOUBLING and h < ceiling:
            h *= 2.0
            calm = 0
        if h > ceiling:
            h = ceiling
        trial = h
        if t + trial > end:
            trial = end - t
        if t < edge < t + trial:
            trial = edge - t
        if prescribed > 0.0 and t < prescribed < t + trial:
            trial = prescribed - t
        if trial < SMALLEST_STEP:
            trial = SMALLEST_STEP
        hit_end = t + trial >= edge
        tries = 0

        while True:
            hh = 0.5 * trial
            # 2. coefficients that depend only on the step, and on what the last switch left (which sets h_used back)
            if trial != h_used:
                h_used = trial
                half1 = Lp / hh
                half2 = Ls / hh
                hC2 = hh / C2
                if closed:
                    be = 1.0 / (C / trial + 1.0 / Rc + 1.0 / Rleak)
                    al = be * C / trial
                else:
                    al = 1.0 / (1.0 + hh / (C * Rleak))
                    be = al * hh / C
                Y1 = 1.0 / (R + half1) if arc != 0 else 1.0 / (R + half1 + be)
                if timer == 0:
                    Y1 = 0.0
                Y2 = 1.0 / (R2 + half2) if spark != 0 else 1.0 / (R2 + half2 + hC2)
                uden = 1.0 / Rcore + Y1 + n * n * Y2

            # 3. circuit at mid-step, vibrator where it will be by then
            e = emf(t + hh, emf_constant, emf_peak, omega, third, fifth, ripple, ripple_omega, ripple_phase)
            gm, L = magnetic(xv + hh * vv, g0, K, L0)
            Linv = 1.0 / L
            drop = arc * Va if arc != 0 else al * v  # what the contacts hold against i1, apart from what i1 itself adds
            back = 0.0
            if timer == 2:
                back = timer_voltage if i1 > 0.0 else -timer_voltage
            A1 = (e + half1 * i1 - drop - back) * Y1
            A2 = (half2 * i2 - (spark * burn if spark != 0 else vs)) * Y2
            u = (A1 + n * A2 - psi * Linv) / (uden + hh * Linv)
            i1m = A1 - Y1 * u
            i2m = A2 - Y2 * n * u
            vm = arc * Va if arc != 0 else al * v + be * i1m
            vsm = spark * burn if spark != 0 else vs + hC2 * i2m
            im = (psi + hh * u) * Linv

            # 4. masses at mid-step, under the pull of that current
            vvm, vcm, Fct, on_ct, on_rv, on_br, on_st = masses(
                hh, xv, vv, xc, vc, K * im * im / (gm * gm), touch, rivet, bridge, stop, mv, kv, Fv0, cv, mc, kc, Fc0, cc,
                kct, cct, kr, cr, kb, cb, bridge_at, kst, cst, xs)
            xv1 = xv + trial * vvm
            xc1 = xc + trial * vcm

            # 5. the soonest switch inside this step, if any
            cut, far, switch = blades_switch(touch, rivet, bridge, stop, xv, xc, xv1, xc1, bridge_at, xs)
            i11 = 2.0 * i1m - i1
            i21 = 2.0 * i2m - i2
            v1 = v
            if closed:
                v1 = vm
            elif arc != 0:
                v1 = vm
                apart = xv1 - xc1 if xv1 > xc1 else 0.0
                after = arc * (i11 - v1 / Rleak) - math.sqrt(kept + kept_rise * apart)
                if after < 0.0:
                    apart = xv - xc if xv > xc else 0.0
                    before = arc * (i1 - v / Rleak) - math.sqrt(kept + kept_rise * apart)
                    cut, far, switch = sooner(cut, far, switch, ARC_DIES, before, after, 2.0e-3)
            else:
                v1 = 2.0 * vm - v
                size = v1 if v1 > 0.0 else -v1
                if size > STRIKE * Va and prescribed == 0.0:
                    strength = contact_gap_holds(xv1 - xc1, Va)
                    if size > strength:
                        before = contact_gap_holds(xv - xc, Va) - (v if v > 0.0 else -v)
                        cut, far, switch = sooner(cut, far, switch, ARC_STRIKES, before, strength - size, 0.2 + 1.0e-3 * strength)
            vs1 = vsm
            if spark != 0:
                after = spark * i21 - extinction
                if after < 0.0:
                    cut, far, switch = sooner(cut, far, switch, SPARK_DIES, spark * i2 - extinction, after, 1.0e-5)
            else:
                vs1 = 2.0 * vsm - vs
                size = vs1 if vs1 > 0.0 else -vs1
                if size > burn:
                    strength = spark_gap_holds(t + trial - quenched, holds, burn, recovery)
                    if size > strength:
                        before = spark_gap_holds(t - quenched, holds, burn, recovery) - (vs if vs > 0.0 else -vs)
                        cut, far, switch = sooner(cut, far, switch, SPARK_STRIKES, before, strength - size, 1.0e-4 * strength)
            if timer == 2 and i11 * i1 <= 0.0:
                size = i11 if i11 > 0.0 else -i11
                before = i1 if i1 > 0.0 else -i1
                cut, far, switch = sooner(cut, far, switch, TIMER_CLEARS, before, -size, 1.0e-3)

            if switch == 0 or far <= 1.0 or trial <= 2.0 * SMALLEST_STEP or tries >= 12:
                break
            tries += 1
            retries += 1
            # land just beyond the crossing, so that the switch is made on this try or the next
            trial *= cut * 1.0005 + 0.0005 if cut < 0.999 else 0.999
            if trial < SMALLEST_STEP:
                trial = SMALLEST_STEP
            hit_end = False

        # 6. the step is accepted: energies by the mid-step values (exact for the implicit midpoint)
        filling = 0 <= opening < event_limit
        source += e * i1m * trial
        copper += R * i1m * i1m * trial
        core += u * u / Rcore * trial
        secondary_loss += R2 * i2m * i2m * trial
        if closed:  # all that goes in and does not stay in the condenser
            contact_loss += vm * i1m * trial + 0.5 * C * (v * v - v1 * v1)
        else:
            leak_loss += vm * vm / Rleak * trial
            if arc != 0:
                lost = vm * (i1m - vm / Rleak) * trial
                arc_loss += lost
                if filling:
                    arced(events, at, lost, xv1 - xc1)
        if spark != 0:
            lost = vsm * i2m * trial
            spark_loss += lost
            if filling:
                events[at + 12] += lost
        if timer == 2:
            timer_loss += back * i1m * trial
        mechanical += (cv * vvm * vvm + cc * vcm * vcm) * trial
        mechanical += dampers_take(on_ct, touch, kct, cct, xc - xv, xc1 - xv1, vcm - vvm, trial)
        mechanical += dampers_take(on_rv, rivet, kr, cr, xc, xc1, vcm, trial)
        mechanical += dampers_take(on_br, bridge, kb, cb, xc - bridge_at, xc1 - bridge_at, vcm, trial)
        mechanical += dampers_take(on_st, stop, kst, cst, xv - xs, xv1 - xs, vvm, trial)

        # 7. the new state
        moved = ((v1 - v) * (v1 - v) * STILL_VOLTS + (vs1 - vs) * (vs1 - vs) * STILL_SECONDARY
                 + (i11 - i1) * (i11 - i1) * STILL_AMPERES)
        still = 0 if closed or arc != 0 or spark != 0 or moved > trial * trial else still + 1
        t += trial
        i1, i2, psi, v, vs = i11, i21, psi + trial * u, v1, vs1
        xv, xc, vv, vc = xv1, xc1, 2.0 * vvm - vv, 2.0 * vcm - vc
        calm += 1
        if timer == 0:
            i1 = 0.0
        if t > measure_from:
            size = i1m if i1m > 0.0 else -i1m
            seconds += trial
            sum_i += i1m * trial
            sum_abs += size * trial
            sum_sq += size * size * trial
            if size > peak_i:
                peak_i = size
        if filling:
            widen(events, at, v, vs, xv - xc if touch == 0 else 0.0)

        # 8. the switch itself
        switched = switch != 0
        if switch == TOUCH:
            touch = 1 - touch
        elif switch == RIVET:
            rivet = 1 - rivet
        elif switch == BRIDGE:
            bridge = 1 - bridge
        elif switch == STOP:
            stop = 1 - stop
        elif switch == ARC_DIES:
            arc = 0
        elif switch == ARC_STRIKES:
            arc = 1 if v > 0.0 else -1
            lost = 0.5 * C * (v * v - Va * Va)
            arc_loss += lost
            if filling:
                events[at + 13] += 1.0
                arced(events, at, lost, xv - xc)
            v = arc * Va
        elif switch == SPARK_DIES:
            spark = 0
            quenched = t
            if breakdown_scatter > 0.0:
                draw, z = normal(draw)
                holds = scattered(breakdown, breakdown_scatter, z)
        elif switch == SPARK_STRIKES:
            spark = 1 if vs > 0.0 else -1
            lost = 0.5 * C2 * (vs * vs - burn * burn)
            spark_loss += lost
            if filling:
                if events[at + 11] == 0.0:
                    events[at + 10] = t
                    events[at + 15] = t - quenched
                events[at + 11] += 1.0
                events[at + 12] += lost
            vs = spark * burn
        elif switch == TIMER_CLEARS:
            timer = 0
            timer_loss += 0.5 * Lp * i1 * i1
            i1 = 0.0
        if hit_end and t >= edge - 1.0e-12:
            switched = True
            if timer == 1:
                timer = 2 if i1 != 0.0 else 0
                edge += cycle - window_width
            else:  # open, or still breaking
                timer = 1
                edge += window_width
        now = touch
        if prescribed > 0.0:
            now = 1 if t < prescribed - 1.0e-12 else 0
        if now != closed:
            switched = True
            closed = now
            if closed:
                arc = 0
                if filling:
                    events[at + 6] = t
                if resistance_scatter > 0.0:
                    draw, z = normal(draw)
                    Rc = scattered(Rclosed, resistance_scatter, z)
            else:
                opening = -1
                if t >= measure_from:
                    opening = openings
                    openings += 1
                if 0 <= opening < event_limit:
                    at = opening * event_width
                    gm, L = magnetic(xv, g0, K, L0)
                    begin_opening(events, at, t, i1, vv - vc, rivet, xv, xc, 0.5 * Lp * i1 * i1 + 0.5 * psi * psi / L)
        if switched:
            h = FIRST_STEP * step
            calm = still = 0
            h_used = -1.0

        # 9. a row of the strips
        if record_from <= t <= record_to and rows < row_limit and (switched or t >= next_record):
            row = rows * row_width
            strips[row] = t
            strips[row + 1] = e
            strips[row + 2] = i1
            strips[row + 3] = xv
            strips[row + 4] = xc
            strips[row + 5] = v
            strips[row + 6] = vs
            strips[row + 7] = i2
            strips[row + 8] = Fct
            strips[row + 9] = psi
            strips[row + 10] = float(arc)
            strips[row + 11] = float(spark)
            rows += 1
            if t >= next_record:
                next_record = t + record_every

    gm, L = magnetic(xv, g0, K, L0)
    ledger[0], ledger[1], ledger[2], ledger[3], ledger[4] = source, copper, core, contact_loss, arc_loss
    ledger[5], ledger[6], ledger[7], ledger[8], ledger[9] = leak_loss, secondary_loss, spark_loss, mechanical, timer_loss
    ledger[10] = stored_start
    ledger[11] = (0.5 * Lp * i1 * i1 + 0.5 * Ls * i2 * i2 + 0.5 * psi * psi / L + 0.5 * C * v * v + 0.5 * C2 * vs * vs
                  + 0.5 * mv * vv * vv + 0.5 * mc * vc * vc
                  + springs_hold(xv, xc, touch, rivet, bridge, stop, kv, Fv0, kc, Fc0, kct, kr, kb, bridge_at, kst, xs))
    meter[0], meter[1], meter[2], meter[3], meter[4] = seconds, sum_i, sum_abs, sum_sq, peak_i
    meter[5], meter[6], meter[7], meter[8], meter[9] = float(steps), float(retries), float(openings), float(rows), float(status)
