"""Who made a result: the model's text and the versions that a run's last digit depends on. Every result carries it.

Results of two makers are never mixed: a cluster's worker may have another version of the course, or of numba, than the
process that writes the files.
"""

from __future__ import annotations

import hashlib
import sys
from importlib import metadata
from pathlib import Path

from coilmodel.compiled import COMPILED, HOME

PACKAGE = Path(__file__).resolve().parents[1]
TEXT = ("checks", "compiled", "fingerprint", "kernel", "light", "machine", "readings", "run", "sparks", "study/draw",
        "study/origin", "study/plan", "study/slices", "study/trial")
"""The modules that a run's outcome depends on."""
PACKAGES = ("numpy", "scipy", "numba", "llvmlite")
"""Their versions decide too: scipy draws the coils, numba and LLVM compile the model."""


def _digest() -> str:
    seen = hashlib.sha256(b"compiled" if COMPILED else b"plain")
    for name in TEXT:
        seen.update((PACKAGE / f"{name}.py").read_bytes().replace(b"\r\n", b"\n"))
    return seen.hexdigest()[:32]


def text_digest(file: str) -> str:
    """Return a digest of the text of one more module; `file` is its `__file__`."""
    return hashlib.sha256(Path(file).read_bytes().replace(b"\r\n", b"\n")).hexdigest()[:32]


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "none"


# Read when this is loaded: a worker runs for days, and what a later change of the files says is not what it has in memory.
_MAKER = {"model": _digest(), "compiled by": HOME, "python": "{}.{}".format(*sys.version_info[:2]),
          **{package: _version(package) for package in PACKAGES}}


def model_digest() -> str:
    """Return a digest of all of the course that a run's outcome depends on: the model's text, and whether it is compiled."""
    return _MAKER["model"]


def maker() -> dict[str, str]:
    """Return who makes the results in this process: the model's digest, what compiled it, and the versions that matter.

    >>> maker()["model"] == model_digest(), sorted(maker())[:3]
    (True, ['compiled by', 'llvmlite', 'model'])
    """
    return dict(_MAKER)


def differences(there: dict[str, str], here: dict[str, str]) -> str:
    """Return in what two makers differ, in words; "" where they are the same.

    >>> differences({"model": "aa", "numba": "0.67"}, {"model": "aa", "numba": "0.68"})
    'numba 0.67 there, 0.68 here'
    """
    return "; ".join(f"{name} {there.get(name, 'unknown')} there, {here.get(name, 'unknown')} here"
                     for name in {**here, **there} if there.get(name) != here.get(name))
