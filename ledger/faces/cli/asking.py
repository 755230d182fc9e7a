"""Opening the book that an auditor's command asks, in the metal and unit that are meant."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.faces.cli import options
from ledger.faces.progress import Progress

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


@contextmanager
def asking(book: Path | None, metal: str | None = None, unit: str | None = None) -> Iterator[Asked]:
    """Give an inquiry into the book that is meant; raises WrongUsage for a metal or unit that is none."""
    from ledger.audit.inquiry import Inquiry
    from ledger.book import holdings
    from ledger.faces.audit_page import Asked

    with options.reading_book(book) as connection, Progress():
        inquiry = Inquiry.of(connection)
        of = options.metal_of(inquiry.facts, metal)
        yield Asked(replace(inquiry, metal=of), options.unit_of(inquiry.facts, unit), holdings.as_of(connection))
