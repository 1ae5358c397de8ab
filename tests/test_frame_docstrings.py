"""The words of the model: every public thing says what it is, names every parameter, and its examples run."""

from __future__ import annotations

import builtins
import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from types import FunctionType, ModuleType
from typing import Any

import pytest

import coilbench
import coilmodel
import lessons
from coilmodel import Machine


def modules(package: ModuleType) -> list[ModuleType]:
    """Return a package and all modules beneath it (but those that run when imported)."""
    beneath = pkgutil.walk_packages(package.__path__, package.__name__ + ".")
    return [package, *(importlib.import_module(found.name) for found in beneath if not found.name.endswith("__main__"))]


def public_things(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """Yield (name, object) for the public classes, functions, methods and properties that a module defines itself."""
    for name, thing in vars(module).items():
        if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
            continue
        if isinstance(thing, (type, FunctionType)):
            yield f"{module.__name__}.{name}", thing
        if isinstance(thing, type):
            for member, value in vars(thing).items():
                inner = value.__func__ if isinstance(value, (classmethod, staticmethod)) else value
                if not member.startswith("_") and isinstance(inner, (FunctionType, property)):
                    yield f"{module.__name__}.{name}.{member}", inner


OUR_CLASSES = {name for module in modules(coilmodel) for name, thing in vars(module).items() if isinstance(thing, type)}
OUR_CLASSES = OUR_CLASSES - set(dir(builtins)) | {"Drive"}  # Drive is a union of classes


def faults(name: str, thing: Any) -> list[str]:
    """Return what its docstring lacks: a docstring at all, or, of a function, the name of a parameter.

    The name may be in words (`pole_pairs` as "pole pairs"). A parameter that is one of the model's own classes, such as
    `machine: Machine`, is described at the class.
    """
    text = getattr(thing, "__doc__", None)
    if text and getattr(thing, "__module__", "") == "coilmodel.kernel":
        text += importlib.import_module("coilmodel.kernel").__doc__ or ""  # its steps share the letters explained there
    if not text or not text.strip() or (isinstance(thing, type) and text.startswith(f"{thing.__name__}(")):
        return [f"{name} has no docstring."]  # a dataclass without one is given its signature
    if not isinstance(thing, FunctionType):
        return []
    return [
        f"{name}: the docstring does not say what {parameter.name} is."
        for parameter in inspect.signature(thing).parameters.values()
        if parameter.name not in ("self", "cls") and str(parameter.annotation) not in OUR_CLASSES
        and not re.search(rf"(?<!\w){parameter.name.replace('_', '[ _]')}(?!\w)", text, re.IGNORECASE)
    ]  # fmt: skip


def test_the_model_is_documented() -> None:
    found = [fault for module in modules(coilmodel) for name, thing in public_things(module) for fault in faults(name, thing)]
    assert not found, "\n".join(found)


def test_the_lessons_say_what_everything_is() -> None:
    things = [pair for module in modules(lessons) for pair in public_things(module)]
    found = [f"{name} has no docstring." for name, thing in things if not (thing.__doc__ or "").strip()]
    assert not found, "\n".join(found)


def test_the_check_finds_what_is_missing() -> None:
    def bare(current: float) -> float:
        return current

    def half(current: float, gap: float) -> float:
        """Return the current (A)."""
        return current / gap

    def partly(gap: float) -> float:
        """The gap_length is not the word sought."""
        return gap

    def whole(pole_pairs: int, machine: Machine) -> int:
        """Return the number of pole pairs."""
        return pole_pairs

    assert faults("bare", bare) == ["bare has no docstring."]
    assert faults("half", half) == ["half: the docstring does not say what gap is."]
    assert faults("whole", whole) == []
    assert faults("partly", partly) == ["partly: the docstring does not say what gap is."]


OURS = [*modules(coilmodel), *modules(coilbench), *modules(lessons)]


@pytest.mark.parametrize("module", OURS, ids=lambda module: module.__name__)
def test_the_examples_run(module: ModuleType) -> None:
    assert doctest.testmod(module, optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE).failed == 0
