"""No person in the pack: what people wrote in their own words is shown with names and codes of people taken out.

What the program words itself names nobody to begin with; notes, reasons and evidence may.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from ledger.book.setups import Setups

#: What stands for a person.
SOMEBODY: Final = "(a person)"

#: What follows a name in a set-up's entry: a position, a remark.
_AFTER_NAME = re.compile(r"\s*[,(;].*", re.DOTALL)


@dataclass(frozen=True)
class Nameless:
    """Takes out the people of every set-up that a book ever had."""

    setups: Setups

    @cached_property
    def _people(self) -> re.Pattern[str] | None:
        found: set[str] = set()
        for version in self.setups.versions:
            for person in version.setup.person:
                found |= {person.code, *_names(person.name or "")}
        ordered = sorted((re.escape(name) for name in found if name), key=lambda name: (-len(name), name))
        return re.compile(rf"(?<![\w-])(?:{'|'.join(ordered)})(?![\w-])") if ordered else None

    def text(self, words: str | None) -> str | None:
        """Return the words without people; None for none."""
        if not words or self._people is None:
            return words or None
        return self._people.sub(SOMEBODY, words)


def _names(name: str) -> set[str]:
    """Return a person's name as it stands, without what follows it, and its last word."""
    bare = _AFTER_NAME.sub("", name).strip()
    return {name, bare, bare.split(" ")[-1]} if bare else {name}
