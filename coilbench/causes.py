"""What may be wrong with a coil, how likely each is beforehand, and how well-set coils differ among themselves.

These are the stated priors of the bench's inference. None of them is measured: they are our judgement of the trade
(common practice, no source), and whoever knows better changes them here; the odds on every coil card follow.
Standard library only.
"""

from __future__ import annotations

from dataclasses import dataclass

from coilmodel import Machine

ASSUMED_GAP = 10e3
"""V: breakdown of the bench's spark gap where the sheet does not say."""


@dataclass(frozen=True)
class Cause:
    """Something that is wrong with a coil (or nothing), with its prior.

    prior : weight before any reading, any scale; what : the number of the machine it changes, or "drive"
    low, high : range of the factor on a well-set coil's number (or, with `absolute`, of the number itself in SI); every ratio
    is taken as equally likely; remedy : what to do about it at the bench; lasting : it cannot be undone, so that the cause must
    be as good as certain (errors.CERTAIN), and confirmed (asks.CONFIRM), before it is named
    """

    key: str
    name: str
    prior: float
    what: str
    low: float
    high: float
    remedy: str
    absolute: bool = False
    unit: str = ""
    lasting: bool = False


CAUSES: tuple[Cause, ...] = (
    Cause("well_set", "well set", 0.24, "", 1.0, 1.0, "Leave it as it is, and keep this sheet for the next time."),
    Cause("cushion_slack", "cushion spring too slack", 0.11, "cushion_preload", 0.10, 0.75,
          "Tighten the cushion spring a little at a time, and count the sparks again at the highest speed after each step."),
    Cause("cushion_stiff", "cushion spring too stiff", 0.08, "cushion_preload", 1.30, 2.50,
          "Ease the cushion spring a little at a time, and watch the opening current come up."),
    Cause("travel_short", "follow travel too short", 0.06, "cushion_travel", 0.15, 0.65,
          "Let the limit rivet out until the upper contact can follow further, then set the opening current again."),
    Cause("travel_long", "follow travel too long", 0.04, "cushion_travel", 1.40, 2.20,
          "Bring the limit rivet in until the upper contact stops sooner, then set the opening current again."),
    Cause("vibrator_low", "vibrator preload too low", 0.09, "vibrator_preload", 0.50, 0.85,
          "Bend the vibrator up a little at a time until the opening current is back in its range."),
    Cause("vibrator_high", "vibrator preload too high", 0.08, "vibrator_preload", 1.18, 1.80,
          "Ease the vibrator a little at a time until the opening current is back in its range."),
    Cause("condenser_small", "condenser value too small", 0.06, "condenser_capacitance", 0.03, 0.65,
          "Fit a sound condenser of the right value."),
    Cause("condenser_large", "condenser value too large", 0.03, "condenser_capacitance", 1.60, 6.00,
          "Fit a sound condenser of the right value."),
    Cause("leakage", "condenser leaks", 0.07, "condenser_leakage_resistance", 30.0, 5e6,
          "Fit a sound condenser; a leaky one gets worse when warm.", True, "ohm"),
    Cause("contacts", "contacts burnt or dirty (resistance)", 0.05, "contacts_resistance", 0.15, 1.5,
          "Dress and clean the contacts until they meet flat, and look for what burnt them.", True, "ohm"),
    Cause("shorted_turns", "shorted turns in the coil", 0.03, "coil_core_resistance", 1.5, 60.0,
          "No adjustment mends shorted turns. Dress the contacts and count once more, still with the known-good condenser; only "
          "if it stays as it is, set the coil aside or have it rewound.", True, "ohm",
          lasting=True),
    Cause("weak_drive", "magneto weaker than the sheet says", 0.06, "drive", 0.40, 0.82,
          "Look at the magneto, its leads and its gap before you touch the coil; another coil on the same magneto should show "
          "it too."),
)
"""Shorted turns are taken as a loss beside the core's own, across the magnetising branch: that is what a short in a tightly
coupled winding looks like from the primary. 'Weak drive' lies in the magneto: every coil of that bench shows it."""

OTHER = Cause(
    "other", "something else, or two faults", 0.08, "", 1.0, 1.0,
    "Bend nothing yet. Take the reading that agrees least again; then put one thing right at a time, those first that can be put "
    "back (a known-good condenser, dressed contacts), and read again after each.")
"""What is left when no single fault of the list explains the readings (see stored.py for how it is weighed)."""

HYPOTHESES = (*CAUSES, OTHER)
BY_KEY = {cause.key: cause for cause in HYPOTHESES}


def beforehand() -> dict[str, float]:
    """Return the odds of each of HYPOTHESES before any reading, by key."""
    whole = sum(cause.prior for cause in HYPOTHESES)
    return {cause.key: cause.prior / whole for cause in HYPOTHESES}


TOLERANCES: dict[str, float] = {
    "vibrator_mass": 0.03, "vibrator_stiffness": 0.05, "vibrator_preload": 0.05, "vibrator_damping": 0.15,
    "cushion_mass": 0.03, "cushion_stiffness": 0.05, "cushion_preload": 0.06, "cushion_damping": 0.15, "cushion_travel": 0.06,
    "cushion_rivet_damping": 0.15, "cushion_bridge_damping": 0.15, "contacts_damping": 0.15, "contacts_resistance": 0.30,
    "contacts_arc_current": 0.10, "coil_magnetic_gap": 0.03, "coil_pull_constant": 0.03, "coil_primary_inductance": 0.03,
    "coil_primary_resistance": 0.04, "coil_core_resistance": 0.15, "coil_secondary_capacitance": 0.15,
    "magneto_flux_linkage": 0.04, "magneto_inductance": 0.03, "magneto_resistance": 0.05, "condenser_capacitance": 0.07,
}
"""How far coils (and benches) differ that somebody has set well: standard deviation of each number's logarithm."""

GAP_TOLERANCE = 0.07  # of the logarithm of the gap's breakdown voltage
SUPPLY_TOLERANCE = 0.30  # of the logarithm of a battery's internal resistance, and of a transformer's
SOUND_LEAKAGE = (10e6, 2e9)  # ohm: a sound condenser's, every ratio equally likely; no spark notices any of it
SOUND_GRID = tuple(SOUND_LEAKAGE[0] * (SOUND_LEAKAGE[1] / SOUND_LEAKAGE[0]) ** ((step + 0.5) / 48) for step in range(48))

WELL_SET_AT = (200.0, 450.0, 600.0)
"""rpm, full drive: a coil counts as well set when it fires exactly once in every pulse at each of these."""


@dataclass(frozen=True)
class Coil:
    """One imagined coil on its bench: the machine (fault included) and what the bench adds to it."""

    machine: Machine
    drive: float = 1.0  # true strength of the magneto over that of the sheet
    gap: float = 1.0  # true breakdown of the gap over that of the sheet
    supply: float = 1.0  # resistance of the battery or the transformer over the usual
    severity: float = 1.0  # the faulty number over a well-set coil's, or itself where the cause is absolute


def number_of(machine: Machine, name: str) -> float:
    """Return the number of a machine (SI) that is called part_field, as in cushion_preload."""
    part, _, field = name.partition("_")
    return float(getattr(getattr(machine, part), field))


def severity_of(cause: Cause, even: float) -> float:
    """Return the severity at `even` (0 to 1) of a cause's range."""
    return cause.low * (cause.high / cause.low) ** even


def spoilt(coil: Coil, cause: Cause, even: float) -> Coil:
    """Return a well-set coil with `cause` put into it; `even` from 0 to 1 places its severity in the cause's range.

    >>> round(spoilt(Coil(Machine()), BY_KEY["weak_drive"], 0.0).drive, 3)
    0.4
    """
    severity = severity_of(cause, even)
    machine, drive = coil.machine, coil.drive
    if cause.what == "drive":
        drive *= severity
    elif cause.what and cause.absolute:
        part, _, name = cause.what.partition("_")
        machine = machine.but(**{part: {name: severity}})
    elif cause.what:
        machine = machine.scaled(**{cause.what: severity})
    return Coil(machine, drive, coil.gap, coil.supply, severity)
