"""What would have shown a hidden cause sooner: which assay, when, and how far it would have stood out."""

from __future__ import annotations

from math import ceil
from typing import Final

from ledger.causes.proposals import View

#: An assay, or a row of them, shows what is so many of its σ away.
_SHOWN: Final = 3.0


def first_ticket(view: View, lot: int | None) -> tuple[str, str] | None:
    """Return number and day of the ticket by which a lot came into the book; None of an unknown lot."""
    row = view.evidence.connection.execute(
        "SELECT t.number, t.instant FROM line AS l JOIN ticket AS t ON t.seq = l.ticket WHERE l.lot = ? "
        "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = t.seq) ORDER BY t.instant, t.seq LIMIT 1", (lot,)
    ).fetchone()  # fmt: skip
    return (row[0], day_of(view, row[1])) if row else None


def day_of(view: View, instant: int) -> str:
    """Return the plant's day of an instant."""
    return str(view.evidence.month.ledger.calendar.day(instant))


def by_assay(view: View, lot: int | None, size: float, sigma: float) -> str:
    """Say which assay of a lot would have shown a loss (ng, with the σ of what the assay changed) before this one."""
    return (
        f"an assay of {view.lot(lot)} at each change of hands{_since(view, lot)}: what is gone is "
        f"{abs(size) / sigma:.0f} σ of what one shows"
    )


def in_place_of_estimate(view: View, lot: int | None) -> str:
    """Say that a sample, assayed when the lot was made, would have stood where the estimate does."""
    begun = first_ticket(view, lot)
    made = f" by {begun[0]} of {begun[1]}" if begun else ""
    return f"a sample of {view.lot(lot)}, assayed by ourselves when it was made{made}, in place of the estimate"


def _since(view: View, lot: int | None) -> str:
    begun = first_ticket(view, lot)
    return f", from {begun[0]} of {begun[1]} on" if begun else ""


def by_lots(size: float, sigma: float, settled: int) -> str:
    """Say after how many lots own assays would have shown a share; ``sigma``: of one lot's difference, as a share."""
    wanted = max(1, ceil((_SHOWN * sigma / abs(size)) ** 2)) if size else 0
    lots = "lot" if wanted == 1 else "lots"
    return (
        f"our own assay beside the refiner's: {wanted} {lots} like these show {abs(size):.2%} at {_SHOWN:.0f} σ "
        f"({settled} are settled)"
    )
