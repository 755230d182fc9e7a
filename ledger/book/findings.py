"""What a check of the book found, gathered so that memory does not grow with the damage."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: Findings of one sort that are told one by one; the rest are counted.
LISTED: Final = 10

#: Where a finding stands that belongs to no one record: the file before all records, sums after them.
THE_FILE: Final = 0
THE_SUMS: Final = 2**63


@dataclass(frozen=True, slots=True)
class Finding:
    """One wrong place of a book: where, in words of the trade, and what is wrong there."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


class Findings:
    """Gathers findings by the record they belong to."""

    def __init__(self) -> None:
        self._found: list[tuple[int, Finding]] = []
        self._counts: dict[str, int] = {}
        self._last: dict[str, int] = {}

    def add(self, sort: str, record: int, where: str, what: str) -> None:
        """Take a finding at a record (its place from 1, or THE_FILE, or THE_SUMS); ``sort`` says what of."""
        self._counts[sort] = self._counts.get(sort, 0) + 1
        if self._counts[sort] <= LISTED:
            self._found.append((record, Finding(where, what)))
            self._last[sort] = record

    def any(self) -> bool:
        """Return whether there is any finding."""
        return bool(self._found)

    def count(self, sort: str) -> int:
        """Return how many findings of a sort there are."""
        return self._counts.get(sort, 0)

    def in_order(self) -> list[Finding]:
        """Return the findings, first wrong place first; what was only counted follows the last of its sort."""
        more = [
            (self._last[sort], Finding(sort, f"{count - LISTED:,} more like these"))
            for sort, count in self._counts.items() if count > LISTED
        ]  # fmt: skip
        return [finding for _, finding in sorted([*self._found, *more], key=lambda one: one[0])]
