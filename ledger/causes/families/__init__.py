"""One module for each family of causes; each has ``propose(view)``. Adding a family is adding a file."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType


def all_families() -> Iterator[ModuleType]:
    """Yield every family's module, by name."""
    for module in sorted(iter_modules(__path__), key=lambda found: found.name):
        yield import_module(f"{__name__}.{module.name}")
