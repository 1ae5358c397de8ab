"""Questions to a coil: readings that were taken or could be, and the bench on which. Standard library only."""

from __future__ import annotations

from dataclasses import dataclass

from coilbench.causes import ASSUMED_GAP
from coilbench.kinds import BY_KEY, KINDS
from coilbench.sheet import Bench, Reading, Taken


@dataclass(frozen=True)
class Setting:
    """A bench and the breakdown voltage (V) of its spark gap."""

    bench: Bench
    gap: float = ASSUMED_GAP


@dataclass(frozen=True)
class Ask:
    """A reading that could be taken: its kind, its setting where the coil runs, and what a self-discharge starts from."""

    kind: str
    setting: Setting | None = None
    start_volts: float = 50.0
    after_seconds: float = 10.0
    meter_ohms: float | None = None


def asked(reading: Reading, gap: float) -> Ask:
    """Return the question to which `reading` is the answer."""
    last = reading.last
    if reading.kind == "self_discharge":
        return Ask(reading.kind, None, last.start_volts or 0.0, last.after_seconds or 0.0, last.meter_ohms)
    return Ask(reading.kind, Setting(reading.bench, gap) if reading.bench else None)


def as_reading(ask: Ask, value: float, row: int = 0) -> Reading:
    """Return an answer as if it had stood in a sheet."""
    discharging = ask.kind == "self_discharge"
    bench = ask.setting.bench if ask.setting else None
    taken = Taken(row, "", None, ask.kind, value, bench, ask.start_volts if discharging else None,
                  ask.after_seconds if discharging else None, ask.meter_ohms if discharging else None)
    return Reading(ask.kind, value, bench, (taken,), ())


CONFIRMING = Setting(Bench(450.0, 1.0, aid="condenser"))
CONFIRM = Ask("sparks", CONFIRMING)
"""The reading that confirms a cause that nothing mends: do its sparks stay as they are with a known-good condenser in the place
of its own? (Common practice, no source.)"""


AID_MINUTES = 10.0  # to put a known-good condenser in, or to dress the contacts: our judgement; common practice, no source


def minutes(ask: Ask) -> float:
    """Return what a reading costs in minutes of work, with what has to be done to the coil first."""
    return BY_KEY[ask.kind].minutes + (AID_MINUTES if ask.setting and ask.setting.bench.aid else 0.0)


def candidates(gap: float) -> list[Ask]:
    """Return the readings that a person could take next, at the course's usual benches; each can be written into the sheet."""
    judged = [kind for kind in KINDS if kind.judged]
    still = [Ask(kind.key) for kind in judged if not kind.running]
    return still + [Ask(kind.key, Setting(Bench(rpm, drive), gap))
                    for kind in sorted(judged, key=lambda kind: kind.rank) for rpm, drive in kind.benches]
