"""One next step: to measure before bending, cheap before dear, nothing that cannot be undone without a confirming reading.

What is advised is data (`Advice`); `card` puts it into words. Standard library only.
"""

from __future__ import annotations

from dataclasses import dataclass

from coilbench.asks import CONFIRM, minutes
from coilbench.causes import OTHER, Cause
from coilbench.errors import AT_REST
from coilbench.verdict import Next, Verdict

SETTLED = 0.95  # odds beyond which no further measurement is asked for
WORTH = 0.02  # odds that a further measurement must add, on average, where the cause is named already
LITTLE = 0.05  # bits: a reading that is expected to tell less than this is not worth asking for
HALF = 0.5  # of what the most telling reading would tell: as much a cheaper one must tell to be taken first


@dataclass(frozen=True)
class Advice:
    """What to do next with a coil, one thing at a time.

    measure : the reading to take first, None where none is worth its minutes; remedy : the cause whose remedy comes after it (or
    at once), None where no cause is named; again : the reading that agrees least should be taken again
    """

    measure: Next | None
    remedy: Cause | None
    again: bool = False

    @property
    def leave(self) -> bool:
        """Return whether the advice is to leave the coil as it is."""
        return self.remedy is not None and self.remedy.key == "well_set"


def advise(verdict: Verdict) -> Advice:
    """Return the next step for a coil."""
    again = verdict.cause is OTHER and verdict.worst is not None
    return Advice(worth_taking(verdict), verdict.cause if verdict.sure else None, again)


def worth_taking(verdict: Verdict) -> Next | None:
    """Return the reading that is worth taking next, None where there is none.

    A cause that nothing mends is confirmed. A coil whose sparks were never counted is counted first. Else, of the readings that
    would tell at least half of what the most telling one would, the one that costs the fewest minutes. Where none would tell the
    causes apart, but a second fault is still too likely, one of those that are taken at rest.
    """
    if not verdict.next_steps or verdict.sure and verdict.odds[0][1] >= SETTLED:
        return None
    if verdict.unconfirmed:
        return next((step for step in verdict.next_steps if step.ask == CONFIRM), Next(CONFIRM, 0.0, verdict.odds[0][1]))
    worth = [step for step in verdict.next_steps if step.bits >= LITTLE]
    if verdict.sure:
        worth = [step for step in worth if step.sureness >= verdict.odds[0][1] + WORTH]
    elif not verdict.counted:
        counts = [step for step in verdict.next_steps if step.ask.kind == "sparks" and step.ask.setting is not None]
        worth = counts or worth
    if not worth and verdict.second_fault:  # each of these shows one fault, whatever else is wrong
        worth = [step for step in verdict.next_steps if step.ask.kind in AT_REST]
    if not worth:
        return None
    most = max(step.bits for step in worth)
    return min((step for step in worth if step.bits >= HALF * most), key=_cost)


def _cost(step: Next) -> tuple[float, float]:
    return minutes(step.ask), -step.bits

