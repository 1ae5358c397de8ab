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
strikes, and dies when its current falls under a minimum that grows with the gap.

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
    "contact_resistance", "arc_voltage", "arc_current", "arc_length",
    "spark_breakdown", "spark_burn", "spark_extinction",
    "vibrator_mass", "vibrator_stiffness", "vibrator_preload", "vibrator_damping",
    "cushion_mass", "cushion_stiffness", "cushion_preload", "cushion_damping", "travel",
    "contact_stiffness", "contact_damping", "rivet_stiffness", "rivet_damping",
    "bridge_stiffness", "bridge_damping", "stop_position", "stop_stiffness", "stop_damping",
    "start_vibrator", "start_cushion", "prescribed_opening",  # m, m, s (0: the mechanics decide)
    "pulse_time", "end", "measure_from", "record_from", "record_to", "record_every", "step",
)
"""The order of the numbers in the kernel's first argument (SI units; see coilmodel.machine for meaning and origin)."""

STRIP = ("time", "emf", "current", "vibrator", "cushion", "contact_voltage", "secondary_voltage", "secondary_current",
         "contact_force", "flux", "arc", "spark")
"""The columns of a recorded row."""

EVENT = ("time", "current", "parting_speed", "on_rivet", "vibrator", "cushion", "closing_time", "largest_gap",
         "peak_contact_voltage", "peak_secondary_voltage", "first_spark_time", "sparks", "spark_energy", "arc_strikes",
         "arc_energy", "pulse", "stored_energy", "break_arc_energy")
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

STRIKE = 1.5  # to strike an arc takes so much more than to keep one (Holm's minimum is of one that burns); our choice

FIRST_STEP = 1.0e-6  # s: the step just after a switch
CEILING_OPEN = 2.0e-6  # s: contacts open, unless the circuit rings faster than that resolves
FLOOR_OPEN = 3.0e-7  # s: nor are open contacts stepped finer than this, however fast the circuit rings
RESOLVED = 0.06  # rad of the primary's leakage ring to a step: waveforms within 1 % of ngspice over a pulse (coilmodel.proof)
CEILING_MOVING = 8.0e-6  # s: contacts closed and moving
CEILING_REST = 32.0e-6  # s: contacts closed and at rest
CLOSEST = 0.9  # of the magnetic gap: the pull formula is not followed nearer the core than this (the core stop comes first)
FINEST_GAP = 0.03  # no step changes the vibrator's gap to the core by more than this x gap^2/g0
SMALLEST_STEP = 2.0e-9  # s: no event is sought closer than this
STEPS_BEFORE_DOUBLING = 8


def advance(p: tuple[float, ...], strips: list[float], events: list[float], ledger: list[float], meter: list[float]) -> None:
    """Run the machine from rest at time 0 to `end`, filling the buffers in place.

    p: tuple of floats in the order of PARAMETERS. strips: flat buffer of rows x len(STRIP); events: flat buffer of
    openings x len(EVENT); ledger, meter: buffers of len(LEDGER), len(METER). Full buffers stop recording, never the run.
    """
    (emf_constant, emf_peak, omega, third, fifth, source_resistance, source_inductance, cycle, window_start, window_width,
     timer_voltage, L1, R1, n, k, R2, C2, Rcore, g0, K, C, Rleak, Rc, Va, arc_current, arc_length, breakdown, burn, extinction,
     mv, kv, Fv0, cv, mc, kc, Fc0, cc, travel, kct, cct, kr, cr, kb, cb, xs, kst, cst, xv, xc, prescribed,
     pulse_time, end, measure_from, record_from, record_to, record_every, step) = p
    R = source_resistance + R1
    Lp = source_inductance + (1.0 - k) * L1
    Ls = (1.0 - k) * n * n * L1
    L0 = k * L1 - 2.0 * K / g0
    nearest = (1.0 - CLOSEST) * g0
    bridge_at = -travel
    open_ceiling = RESOLVED * math.sqrt(Lp * C)
    if open_ceiling > CEILING_OPEN:
        open_ceiling = CEILING_OPEN
    elif open_ceiling < FLOOR_OPEN:
        open_ceiling = FLOOR_OPEN
    row_width, event_width = 12, 18
    row_limit, event_limit = len(strips) // row_width, len(events) // event_width

    # state: circuit, masses, flags
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

    # energies and integrals
    source = copper = core = contact_loss = arc_loss = leak_loss = secondary_loss = spark_loss = mechanical = timer_loss = 0.0
    seconds = sum_i = sum_abs = sum_sq = peak_i = 0.0
    opening = -1  # the event being filled while contacts are open, or the last one
    openings = rows = steps = retries = 0
    status = 0
    next_record = record_from
    step_budget = 4000 + int(end / 4.0e-8)

    Fct = 0.0
    d = xc - xv
    if touch:
        Fct = kct * d
    stored_start = (Fv0 * xv + 0.5 * kv * xv * xv - Fc0 * xc + 0.5 * kc * xc * xc + 0.5 * touch * kct * d * d
                    + 0.5 * rivet * kr * xc * xc + 0.5 * bridge * kb * (xc - bridge_at) ** 2 + 0.5 * stop * kst * (xv - xs) ** 2)

    h = FIRST_STEP * step
    calm = 0  # steps since the last doubling
    h_used = -1.0
    al = be = Y1 = Y2 = half2 = half1 = hC2 = uden = 0.0
    twomv = twomc = av = ac = g = 0.0

    while t < end:
        steps += 1
        if steps > step_budget:
            status = 1
            break
        ceiling = open_ceiling
        if closed:
            ceiling = CEILING_REST if -0.02 < vv < 0.02 else CEILING_MOVING
        ceiling *= step
        if xv > 0.0 or xv + vv * ceiling > 0.0:  # near the core the inductance changes fast
            gm = g0 - xv if g0 - xv > nearest else nearest
            room = FINEST_GAP * gm * gm / g0
            if vv * ceiling > room or -vv * ceiling > room:
                ceiling = room / (vv if vv > 0.0 else -vv)
        if h > ceiling:
            h = ceiling
        elif calm >= STEPS_BEFORE_DOUBLING and h < ceiling:
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
            # coefficients that depend only on the step, and on what the last switch left (which sets h_used back)
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
                if arc != 0:
                    Y1 = 1.0 / (R + half1)
                else:
                    Y1 = 1.0 / (R + half1 + be)
                if timer == 0:
                    Y1 = 0.0
                Y2 = 1.0 / (R2 + half2) if spark != 0 else 1.0 / (R2 + half2 + hC2)
                uden = 1.0 / Rcore + Y1 + n * n * Y2
                twomv = mv / hh
                twomc = mc / hh
                av = twomv + kv * hh + cv
                ac = twomc + kc * hh + cc
                g = kct * hh + cct

            # circuit at mid-step, vibrator where it will be by then
            if omega > 0.0:
                th = omega * (t + hh)
                e = emf_constant + emf_peak * math.sin(th)
                if third != 0.0:
                    e += emf_peak * third * math.sin(3.0 * th)
                if fifth != 0.0:
                    e += emf_peak * fifth * math.sin(5.0 * th)
            else:
                e = emf_constant
            gm = g0 - xv - hh * vv
            if gm > nearest:
                Linv = 1.0 / (L0 + 2.0 * K / gm)
            else:  # nearer than the formula is followed: the pull stays, so the inductance goes on in a straight line
                Linv = 1.0 / (L0 + 2.0 * K * (2.0 * nearest - gm) / (nearest * nearest))
                gm = nearest
            drop = arc * Va if arc != 0 else al * v  # what the contacts hold against i1, apart from what i1 itself adds
            back = 0.0
            if timer == 2:
                back = timer_voltage if i1 > 0.0 else -timer_voltage
            A1 = (e + half1 * i1 - drop - back) * Y1
            A2 = (half2 * i2 - (spark * burn if spark != 0 else vs)) * Y2
            u = (A1 + n * A2 - psi * Linv) / (uden + hh * Linv)
            i1m = A1 - Y1 * u
            i2m = A2 - Y2 * n * u
            psim = psi + hh * u
            if arc != 0:
                vm = arc * Va
            else:
                vm = al * v + be * i1m
            vsm = spark * burn if spark != 0 else vs + hC2 * i2m
            im = psim * Linv
            F = K * im * im / (gm * gm)

            # masses at mid-step; a one-sided spring-damper that would pull is left out of the step
            on_ct, on_rv, on_br, on_st = touch, rivet, bridge, stop
            bv0 = twomv * vv + F - Fv0 - kv * xv
            bc0 = twomc * vc + Fc0 - kc * xc
            d = xc - xv
            while True:
                a1, b1, a2, b2 = av, bv0, ac, bc0
                if on_st:
                    a1 += kst * hh + cst
                    b1 -= kst * (xv - xs)
                if on_rv:
                    a2 += kr * hh + cr
                    b2 -= kr * xc
                if on_br:
                    a2 += kb * hh + cb
                    b2 -= kb * (xc - bridge_at)
                if on_ct:
                    a1 += g
                    a2 += g
                    b1 += kct * d
                    b2 -= kct * d
                    det = 1.0 / (a1 * a2 - g * g)
                    vvm = (b1 * a2 + g * b2) * det
                    vcm = (b2 * a1 + g * b1) * det
                    Fct = kct * d + g * (vcm - vvm)
                    if Fct < 0.0:
                        on_ct = 0
                        continue
                else:
                    vvm = b1 / a1
                    vcm = b2 / a2
                    Fct = 0.0
                if on_rv and kr * (xc + hh * vcm) + cr * vcm < 0.0:
                    on_rv = 0
                    continue
                if on_br and kb * (xc + hh * vcm - bridge_at) + cb * vcm > 0.0:
                    on_br = 0
                    continue
                if on_st and kst * (xv + hh * vvm - xs) + cst * vvm < 0.0:
                    on_st = 0
                    continue
                break

            xv1 = xv + trial * vvm
            xc1 = xc + trial * vcm
            d1 = xc1 - xv1

            # what switches inside this step, and where (fraction of the step)
            cut = 2.0
            far = 0.0  # how far beyond its switch the worst event is, in units of its own tolerance
            switch = 0
            if touch:
                if d1 < 0.0:
                    if d > 0.0:
                        cut = d / (d - d1)
                    else:
                        cut = 0.0
                    far = -d1 / 2.0e-9
                    switch = 1
            elif d1 > 0.0:
                cut = -d / (d1 - d) if d < 0.0 else 0.0
                far = d1 / 2.0e-9
                switch = 1
            if rivet:
                if xc1 < 0.0:
                    f = xc / (xc - xc1) if xc > 0.0 else 0.0
                    if f < cut:
                        cut, far, switch = f, -xc1 / 2.0e-9, 2
            elif xc1 > 0.0:
                f = -xc / (xc1 - xc) if xc < 0.0 else 0.0
                if f < cut:
                    cut, far, switch = f, xc1 / 2.0e-9, 2
            if bridge:
                if xc1 > bridge_at:
                    f = (bridge_at - xc) / (xc1 - xc) if xc < bridge_at else 0.0
                    if f < cut:
                        cut, far, switch = f, (xc1 - bridge_at) / 2.0e-9, 3
            elif xc1 < bridge_at:
                f = (xc - bridge_at) / (xc - xc1) if xc > bridge_at else 0.0
                if f < cut:
                    cut, far, switch = f, (bridge_at - xc1) / 2.0e-9, 3
            if stop:
                if xv1 < xs:
                    f = (xv - xs) / (xv - xv1) if xv > xs else 0.0
                    if f < cut:
                        cut, far, switch = f, (xs - xv1) / 2.0e-9, 4
            elif xv1 > xs:
                f = (xs - xv) / (xv1 - xv) if xv < xs else 0.0
                if f < cut:
                    cut, far, switch = f, (xv1 - xs) / 2.0e-9, 4

            i11 = 2.0 * i1m - i1
            i21 = 2.0 * i2m - i2
            v1 = v
            if closed:
                v1 = vm
            elif arc != 0:
                v1 = vm
                limit = arc_current * (1.0 - d1 / arc_length) if d1 < 0.0 else arc_current
                burning = arc * (i11 - v1 / Rleak)
                if burning < limit:
                    was = arc * (i1 - v / Rleak) - (arc_current * (1.0 - d / arc_length) if d < 0.0 else arc_current)
                    f = was / (was - burning + limit) if was > 0.0 else 0.0
                    if f < cut:
                        cut, far, switch = f, (limit - burning) / 2.0e-3, 5
            else:
                v1 = 2.0 * vm - v
                size = v1 if v1 > 0.0 else -v1
                if size > STRIKE * Va and prescribed == 0.0:
                    opened = -d1 if d1 < 0.0 else 0.0
                    strength = FIELD_STRENGTH * opened
                    if strength > PASCHEN_MINIMUM:
                        strength = PASCHEN_MINIMUM
                        rise = KUFFEL_ROOT * math.sqrt(opened) + KUFFEL_LINEAR * opened
                        if rise > strength:
                            strength = rise
                    if strength < STRIKE * Va:
                        strength = STRIKE * Va
                    if size > strength:
                        opened = -d if d < 0.0 else 0.0
                        was = FIELD_STRENGTH * opened
                        if was > PASCHEN_MINIMUM:
                            was = PASCHEN_MINIMUM
                            rise = KUFFEL_ROOT * math.sqrt(opened) + KUFFEL_LINEAR * opened
                            if rise > was:
                                was = rise
                        if was < STRIKE * Va:
                            was = STRIKE * Va
                        was -= v if v > 0.0 else -v
                        f = was / (was + size - strength) if was > 0.0 else 0.0
                        if f < cut:
                            cut, far, switch = f, (size - strength) / (0.2 + 1.0e-3 * strength), 6
            vs1 = vsm
            if spark != 0:
                if spark * i21 < extinction:
                    was = spark * i2 - extinction
                    f = was / (was - spark * i21 + extinction) if was > 0.0 else 0.0
                    if f < cut:
                        cut, far, switch = f, (extinction - spark * i21) / 1.0e-5, 7
            else:
                vs1 = 2.0 * vsm - vs
                size = vs1 if vs1 > 0.0 else -vs1
                if size > breakdown:
                    was = breakdown - (vs if vs > 0.0 else -vs)
                    f = was / (was + size - breakdown) if was > 0.0 else 0.0
                    if f < cut:
                        cut, far, switch = f, (size - breakdown) / (1.0e-4 * breakdown), 8
            if timer == 2 and i11 * i1 <= 0.0:
                f = i1 / (i1 - i11) if i1 != i11 else 0.0
                if f < cut:
                    cut, far, switch = f, (i11 if i11 > 0.0 else -i11) / 1.0e-3, 9

            if switch == 0 or far <= 1.0 or trial <= 2.0 * SMALLEST_STEP or tries >= 12:
                break
            tries += 1
            retries += 1
            # land just beyond the crossing, so that the switch is made on this try or the next
            trial *= cut * 1.0005 + 0.0005 if cut < 0.999 else 0.999
            if trial < SMALLEST_STEP:
                trial = SMALLEST_STEP
            hit_end = False

        # the step is accepted: energies by the mid-step values (exact for the implicit midpoint)
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
                if 0 <= opening < event_limit:
                    at = opening * event_width
                    events[at + 14] += lost
                    if xv1 - xc1 > events[at + 7]:
                        events[at + 17] += lost
        if spark != 0:
            lost = vsm * i2m * trial
            spark_loss += lost
            if 0 <= opening < event_limit:
                events[opening * event_width + 12] += lost
        if timer == 2:
            timer_loss += back * i1m * trial
        mechanical += (cv * vvm * vvm + cc * vcm * vcm) * trial
        if touch:
            if on_ct:
                mechanical += cct * (vvm - vcm) * (vvm - vcm) * trial
            else:
                mechanical += 0.5 * kct * (d * d - d1 * d1)
        if rivet:
            mechanical += cr * vcm * vcm * trial if on_rv else 0.5 * kr * (xc * xc - xc1 * xc1)
        if bridge:
            if on_br:
                mechanical += cb * vcm * vcm * trial
            else:
                mechanical += 0.5 * kb * ((xc - bridge_at) ** 2 - (xc1 - bridge_at) ** 2)
        if stop:
            if on_st:
                mechanical += cst * vvm * vvm * trial
            else:
                mechanical += 0.5 * kst * ((xv - xs) ** 2 - (xv1 - xs) ** 2)

        t += trial
        i1, i2, psi, v, vs = i11, i21, psi + trial * u, v1, vs1
        xv, xc, vv, vc = xv1, xc1, 2.0 * vvm - vv, 2.0 * vcm - vc
        calm += 1
        if timer == 0:
            i1 = 0.0
        size = i1m if i1m > 0.0 else -i1m
        if t > measure_from:
            seconds += trial
            sum_i += i1m * trial
            sum_abs += size * trial
            sum_sq += size * size * trial
            if size > peak_i:
                peak_i = size
        if 0 <= opening < event_limit:
            at = opening * event_width
            size = v if v > 0.0 else -v
            if size > events[at + 8]:
                events[at + 8] = size
            size = vs if vs > 0.0 else -vs
            if size > events[at + 9]:
                events[at + 9] = size
            if touch == 0 and xv - xc > events[at + 7]:
                events[at + 7] = xv - xc

        # the switches themselves
        switched = switch != 0
        if switch == 1:
            touch = 1 - touch
        elif switch == 2:
            rivet = 1 - rivet
        elif switch == 3:
            bridge = 1 - bridge
        elif switch == 4:
            stop = 1 - stop
        elif switch == 5:
            arc = 0
        elif switch == 6:
            arc = 1 if v > 0.0 else -1
            lost = 0.5 * C * (v * v - Va * Va)
            arc_loss += lost
            if 0 <= opening < event_limit:
                at = opening * event_width
                events[at + 13] += 1.0
                events[at + 14] += lost
                if xv - xc >= events[at + 7]:
                    events[at + 17] += lost
            v = arc * Va
        elif switch == 7:
            spark = 0
        elif switch == 8:
            spark = 1 if vs > 0.0 else -1
            lost = 0.5 * C2 * (vs * vs - burn * burn)
            spark_loss += lost
            if 0 <= opening < event_limit:
                at = opening * event_width
                if events[at + 11] == 0.0:
                    events[at + 10] = t
                events[at + 11] += 1.0
                events[at + 12] += lost
            vs = spark * burn
        elif switch == 9:
            timer = 0
            timer_loss += 0.5 * Lp * i1 * i1
            i1 = 0.0
        if hit_end and t >= edge - 1.0e-12:
            switched = True
            if timer == 0:
                timer = 1
                edge += window_width
            elif timer == 1:
                timer = 2 if i1 != 0.0 else 0
                edge += cycle - window_width
            else:  # still breaking when it closes again
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
                if 0 <= opening < event_limit:
                    events[opening * event_width + 6] = t
            else:
                opening = openings
                openings += 1
                if opening < event_limit:
                    at = opening * event_width
                    for j in range(event_width):
                        events[at + j] = 0.0
                    events[at] = t
                    events[at + 1] = i1
                    events[at + 2] = vv - vc
                    events[at + 3] = 1.0 if rivet else 0.0
                    events[at + 4] = xv
                    events[at + 5] = xc
                    events[at + 6] = -1.0
                    events[at + 10] = -1.0
                    events[at + 15] = math.floor(t / pulse_time)
                    gm = g0 - xv
                    L = L0 + 2.0 * K / gm if gm > nearest else L0 + 2.0 * K * (2.0 * nearest - gm) / (nearest * nearest)
                    events[at + 16] = 0.5 * Lp * i1 * i1 + 0.5 * psi * psi / L
        if switched:
            h = FIRST_STEP * step
            calm = 0
            h_used = -1.0
        if t >= record_from and t <= record_to and rows < row_limit and (switched or t >= next_record):
            at = rows * row_width
            strips[at] = t
            strips[at + 1] = e
            strips[at + 2] = i1
            strips[at + 3] = xv
            strips[at + 4] = xc
            strips[at + 5] = v
            strips[at + 6] = vs
            strips[at + 7] = i2
            strips[at + 8] = Fct
            strips[at + 9] = psi
            strips[at + 10] = float(arc)
            strips[at + 11] = float(spark)
            rows += 1
            if t >= next_record:
                next_record = t + record_every

    gm = g0 - xv
    L = L0 + 2.0 * K / gm if gm > nearest else L0 + 2.0 * K * (2.0 * nearest - gm) / (nearest * nearest)
    d = xc - xv
    ledger[0], ledger[1], ledger[2], ledger[3], ledger[4] = source, copper, core, contact_loss, arc_loss
    ledger[5], ledger[6], ledger[7], ledger[8], ledger[9] = leak_loss, secondary_loss, spark_loss, mechanical, timer_loss
    ledger[10] = stored_start
    ledger[11] = (0.5 * Lp * i1 * i1 + 0.5 * Ls * i2 * i2 + 0.5 * psi * psi / L + 0.5 * C * v * v + 0.5 * C2 * vs * vs
                  + 0.5 * mv * vv * vv + 0.5 * mc * vc * vc + Fv0 * xv + 0.5 * kv * xv * xv - Fc0 * xc + 0.5 * kc * xc * xc
                  + 0.5 * touch * kct * d * d + 0.5 * rivet * kr * xc * xc + 0.5 * bridge * kb * (xc - bridge_at) ** 2
                  + 0.5 * stop * kst * (xv - xs) ** 2)
    meter[0], meter[1], meter[2], meter[3], meter[4] = seconds, sum_i, sum_abs, sum_sq, peak_i
    meter[5], meter[6], meter[7], meter[8], meter[9] = float(steps), float(retries), float(openings), float(rows), float(status)
