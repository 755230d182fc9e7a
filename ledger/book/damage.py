"""Where a command could not work with what stands in a book: whether the book is damaged, and where."""

from __future__ import annotations

from ledger.book.store import opened_last, reading
from ledger.book.verifying import verify
from ledger.refusals import BookUnusable


def look_for_damage() -> BookUnusable | None:
    """Verify the book that was opened last.

    Returns the first finding, to be told in place of the error; None for a sound book, or none: then it is a bug.
    """
    path = opened_last()
    if path is None or not path.is_file():
        return None
    try:
        with reading(path) as connection:
            found = verify(connection, quick=True) or verify(connection)
    except BookUnusable as unusable:
        return unusable
    mend = "go back to the last backup, and run: lemel verify"
    return BookUnusable(f"{path} is damaged: {found[0]}", mend) if found else None
