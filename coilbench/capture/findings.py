"""What a capture was found to say, as data.

found.py fills it in, possible.py takes back what cannot be, show.py puts it into words.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from coilbench.capture.openings import Break
from coilbench.capture.rise import Estimate, Rise
from coilbench.capture.trace import Trace


@dataclass
class Found:
    """All that was found. Numbers in SI; None where the capture cannot tell."""

    kind: str
    trace: Trace
    breaks: list[Break]
    rise: Rise | None = None
    zero: float = 0.0  # A, what the recorder shows at no current
    flipped: bool = False
    supply: Estimate | None = None  # V
    inductance: Estimate | None = None  # H
    resistance: Estimate | None = None  # ohm
    scale_from: str = ""  # "contact voltage", "you" or ""
    pulse: Estimate | None = None  # s, magneto only
    rpm: Estimate | None = None
    pulses: int = 0  # whole pulses in the capture
    per_pulse: list[int] = field(default_factory=list)  # openings in each
    sparks: list[int] | None = None  # sparks in each; on a battery, whether each opening fired
    meters: dict[str, float] = field(default_factory=dict)  # mean, rectified, rms: A
    sentences: list[str] = field(default_factory=list)  # what cannot be told, and why
    withheld: set[str] = field(default_factory=set)  # current, meters, sparks: not fit for a bench sheet
    doubted: bool = False  # the fit gave what cannot be
