"""The evidence of a period: every single difference its tickets struck, each with its linear form in the sources.

One *component* is one number that would be nothing but for error, loss beyond the normal, or a cause: a re-weighing (in
mass; each metal is a multiple of it), a work ticket's own difference less its normal loss, an assay or settlement of
each metal. Areas and months are sums of these.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from ledger.balance.measurement.effective import LineOf, LotOf, TicketOf, lines_in_document
from ledger.balance.measurement.forms import Form, Tape
from ledger.balance.months.month import Month
from ledger.plant.setup import Setup


@dataclass(slots=True)
class Component:
    """One number of evidence, in ng of ``metal`` (its place in the book's order, gross 0).

    ``kind``: work, reweighing, transfer, count, missed (a count did not find it), revaluation, clean-out, or settled
    before: a settlement of an earlier period, ``operation`` then the refiner, ``expected`` what was recorded.
    ``bears``: what one ng of it is, by area and metal: how areas' balances move with it. ``form``: its error in the
    sources. ``operation`` and ``expected``: of work, and the normal loss that its value is already less; of a clean-out
    the dust that was accrued.
    """

    ticket: int
    number: str
    line: int
    area: str
    instant: int
    kind: str
    lot: int | None
    metal: int
    value: float
    form: Form
    bears: dict[str, tuple[float, ...]] = field(default_factory=dict)
    operation: str = ""
    expected: float = 0.0


@dataclass
class Evidence:
    """All of a period's components, with what is known of its tickets, lots and lines.

    ``dust``: what an operation's normal loss added to an area's dust, in ng of a metal.
    """

    connection: sqlite3.Connection
    setup: Setup
    metals: Sequence[str]
    period: str
    start: int
    end: int
    month: Month
    tape: Tape
    components: list[Component]
    tickets: dict[int, TicketOf]
    dust: Mapping[tuple[str, str, int], float]
    lots: Mapping[int, LotOf]

    @cached_property
    def by_number(self) -> dict[str, TicketOf]:
        """Tickets by their number."""
        return {ticket.number: ticket for ticket in self.tickets.values()}

    def document(self, ticket: TicketOf, line: int) -> Mapping[str, Any]:
        """Return a line as read; empty where the ticket has no such line of its own."""
        lines = lines_in_document(ticket)
        return lines[line - 1] if 0 < line <= len(lines) else {}

    def lines(self, ticket: int, line: int) -> list[LineOf]:
        """Return the book's lines of a number."""
        return [one for one in self.tickets[ticket].lines if one.number == line]

    def fine_of(self, lot: int | None) -> bool:
        """Return whether a lot held fine metal when it was last spoken of."""
        return lot in self.fine_lots

    def unexplained(self, metal: str) -> dict[str, int]:
        """Return U of every area in a metal, in ng, as the statement has it."""
        if metal not in self._unexplained:
            month = self.month.ledger.in_metal(metal).month(self.period)
            self._unexplained[metal] = {a.code: month.columns(a.code).unexplained for a in self.setup.area}
        return self._unexplained[metal]

    _unexplained: dict[str, dict[str, int]] = field(default_factory=dict)

    @cached_property
    def fine_lots(self) -> frozenset[int]:
        """Lots that held fine metal on any line of the period."""
        return frozenset(
            line.lot
            for ticket in self.tickets.values()
            for line in ticket.lines
            if any(x > 0 for x in line.content[1:])
        )
