"""Registries that find their entries by themselves: each module of a folder says what it has, and is imported once wanted.

A page that shows one panel must not wait for all of them to be read; so a module is imported when an entry of it is asked for
first, and all of them only where somebody goes through the whole registry.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")


class Registry(Mapping[str, T], Generic[T]):
    """What the modules of a package have in their tuples of one name, by key, in the order of the modules' names.

    Raises ValueError where two entries have one key, once both are seen.
    """

    def __init__(self, package: str, folder: Iterable[str], attribute: str, key: Callable[[T], str],
                 first: Callable[[str, str], bool]) -> None:
        """Of `package`, whose modules lie in `folder`: the tuples `attribute`, each entry by its `key`.

        first : given a key and a module's name, whether to look there before elsewhere. A guess: it costs time where it is wrong.
        """
        self._package, self._folder, self._attribute, self._key, self._first = package, list(folder), attribute, key, first
        self._modules: dict[str, dict[str, T]] = {}
        self._names: list[str] = []

    def __getitem__(self, key: str) -> T:
        for name in sorted(self._all(), key=lambda name: not self._first(key, name)):
            if key in (entries := self._of(name)):
                return entries[key]
        raise KeyError(key)

    def __iter__(self) -> Iterator[str]:
        seen: set[str] = set()
        for name in self._all():
            for key in self._of(name):
                if key in seen:
                    raise ValueError(f"{self._package}: two {self._attribute.lower()} have the name {key}.")
                seen.add(key)
        yield from [key for name in self._all() for key in self._of(name)]

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _all(self) -> list[str]:
        if not self._names:
            self._names = sorted(module.name for module in pkgutil.iter_modules(self._folder))
        return self._names

    def _of(self, name: str) -> dict[str, T]:
        if name not in self._modules:
            listed = getattr(importlib.import_module(f"{self._package}.{name}"), self._attribute, ())
            entries = {self._key(entry): entry for entry in listed}
            if len(entries) < len(listed):
                raise ValueError(f"{self._package}.{name}: two {self._attribute.lower()} have one name.")
            self._modules[name] = entries
        return self._modules[name]
