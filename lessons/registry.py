"""Registries that find their entries by themselves: each module of a folder says what it has, and is imported once wanted.

A page that shows one panel must not wait for all of them to be read; so a module is imported when an entry of it is asked for
first, and all of them only where somebody goes through the whole registry. Which one has the entry is seen in the files: one that
does not hold the key's letters is looked at last. To import such a module for nothing took a page most of a second.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")

CODE = (".py", ".pyc")


class Registry(Mapping[str, T], Generic[T]):
    """What the modules of a package have in their tuples of one name, by key, in the order of the modules' names.

    Raises ValueError where two entries have one key, once both are seen.
    """

    def __init__(self, package: str, folder: Iterable[str], attribute: str, key: Callable[[T], str]) -> None:
        """Of `package`, whose modules are files in `folder`: the tuples `attribute`, each entry by its `key`."""
        self._package, self._folder, self._attribute, self._key = package, list(folder), attribute, key
        self._modules: dict[str, dict[str, T]] = {}
        self._found: dict[str, T] = {}
        self._files: dict[str, list[str]] = {}

    def __getitem__(self, key: str) -> T:
        if key in self._found:
            return self._found[key]
        for name in sorted(self._all(), key=lambda name: (name != key, not self._holds(name, key), not key.startswith(name))):
            if key in (entries := self._of(name)):
                self._found[key] = entries[key]
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
        if not self._files:
            for folder in self._folder:
                for file in sorted(os.listdir(folder)):
                    path, (name, ending) = os.path.join(folder, file), os.path.splitext(file)
                    if ending in CODE and name.isidentifier() and name != "__init__":
                        self._files.setdefault(name, [path])
                    elif any(os.path.isfile(os.path.join(path, f"__init__{ending}")) for ending in CODE):
                        parts = [part for part in sorted(os.listdir(path)) if part.endswith(CODE)]
                        self._files.setdefault(file, [os.path.join(path, part) for part in parts])
        return sorted(self._files)

    def _holds(self, name: str, key: str) -> bool:
        """Return whether a module's files have `key` as a string: in quotes in text, after its length in bytecode. A guess."""
        letters = key.encode(errors="replace")
        forms = (b'"%b"' % letters, b"'%b'" % letters, bytes([min(len(letters), 255)]) + letters)
        for path in self._files[name]:
            with open(path, "rb") as file:
                content = file.read()
            if any(form in content for form in forms):
                return True
        return False

    def _of(self, name: str) -> dict[str, T]:
        if name not in self._modules:
            listed = getattr(importlib.import_module(f"{self._package}.{name}"), self._attribute, ())
            entries = {self._key(entry): entry for entry in listed}
            if len(entries) < len(listed):
                raise ValueError(f"{self._package}.{name}: two {self._attribute.lower()} have one name.")
            self._modules[name] = entries
        return self._modules[name]
