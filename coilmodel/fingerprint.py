"""Is a function of the kernel's small Python still the one that was compiled and kept? A digest of all that it rests on."""

from __future__ import annotations

import hashlib
from types import FunctionType
from typing import Any


def outside(function: FunctionType) -> dict[str, Any]:
    """Return the things of its module that a `function` names, by name."""
    return {name: function.__globals__[name] for name in function.__code__.co_names if name in function.__globals__}


def fingerprint(function: FunctionType) -> str:
    """Return a text of letters and digits that changes whenever the outcome of `function` might.

    It is made of the function's code, of the code of all functions that it calls, in whatever module they stand, and of the
    numbers that they find there. What was kept under it is never stale.
    """
    return hashlib.sha256(_rests_on(function).encode()).hexdigest()[:24]


def _rests_on(function: FunctionType) -> str:
    code = function.__code__
    others = [(name, _rests_on(one) if isinstance(one, FunctionType) else repr(one)) for name, one in outside(function).items()
              if isinstance(one, (FunctionType, int, float, tuple))]
    return repr((code.co_code, code.co_consts, code.co_names, code.co_varnames, others))
