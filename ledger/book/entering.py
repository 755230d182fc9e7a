"""Entering: rows of input become recorded tickets, all of them or none; or, set aside, the sound ones."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from ledger.book.canonical import canonical_json, digest
from ledger.book.closes import NEVER, last_close
from ledger.book.draft import Draft, Occasion
from ledger.book.intake.rows import Row
from ledger.book.posting.registry import post
from ledger.book.posting.reversing import reversible
from ledger.book.setups import Setups
from ledger.book.tickets import Reverse, Ticket, Work, parse_ticket
from ledger.book.writing import Writer
from ledger.refusals import Fault, Impossible, LemelError, NumberTaken, PeriodClosed, Refused


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who keys a record in, and when: the program's own, beside the ticket, under the chain."""

    at: str
    by: str


def stamp_now(user: str) -> Stamp:
    """Return the present moment, UTC to the second, and the user."""
    return Stamp(datetime.now(UTC).isoformat(timespec="seconds"), user)


@dataclass(slots=True)
class Entered:
    """What came of entering: counts, the faults of refused rows, and those rows.

    ``missing_with`` names, for each lot of a refused ticket, the first such ticket: later faults may follow from it.
    """

    recorded: int = 0
    already: int = 0
    irregular: list[tuple[str, str, str]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    refused: list[tuple[Row, list[Fault]]] = field(default_factory=list)
    missing_with: dict[str, str] = field(default_factory=dict)


class Entry:
    """The recording of tickets into one open book, inside the caller's transaction."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.setups = Setups.read(connection)
        self.metals = ("gross", *self.setups.latest.plant.metals)
        self.writer = Writer(connection, self.metals)
        self.look_at_closes()

    def look_at_closes(self) -> None:
        """Read until when the book is closed: again after each close, and for no ticket."""
        last = last_close(self.writer.connection)
        self._closed_until = NEVER if last is None else last.ends

    def record(self, document: dict[str, Any], stamp: Stamp) -> Draft | None:
        """Record one ticket; returns None when the very same is recorded already. Raises Refused, changing nothing."""
        ticket = parse_ticket(document)
        body = canonical_json(document)
        hash_ = digest(body)
        try:
            if self._is_recorded(ticket, hash_):
                return None
            draft = self._draft(ticket)
            post(ticket, draft)
        except Refused as refused:
            raise type(refused)([fault.at(ticket=ticket.number) for fault in refused.faults]) from None
        self.writer.add_record("ticket", body.decode(), hash_, stamp.at, stamp.by)
        reverses = reversible(ticket, self.writer.shelf).seq if isinstance(ticket, Reverse) else None
        operation = ticket.operation if isinstance(ticket, Work) else None
        self.writer.add_ticket(draft, ticket.kind, operation, reverses)
        self.writer.shelf.keep_hash(ticket.number, hash_)
        return draft

    def _is_recorded(self, ticket: Ticket, hash_: bytes) -> bool:
        shelf = self.writer.shelf
        known = shelf.recorded_hash(ticket.number)
        if known == hash_:
            return True
        if known is not None:
            mend = "give the ticket its own number; to change the first, reverse it"
            raise NumberTaken(f"number {ticket.number} is used, by a different ticket", mend, field="ticket")
        voided = shelf.voided_by(ticket.number)
        if voided is not None:
            raise NumberTaken(f"number {ticket.number} was declared spoiled by {voided}", "use the next number",
                              field="ticket")  # fmt: skip
        return False

    def _draft(self, ticket: Ticket) -> Draft:
        calendar, corrects = self.setups.calendar, None
        if isinstance(ticket, Reverse):
            of = reversible(ticket, self.writer.shelf)
            if calendar.instant(ticket.at) < self._closed_until:
                raise self._closed(ticket)
            if ticket.corrects is not None:
                raise Impossible("a reversal corrects nothing", "enter the correction as a ticket of its kind",
                                 field="corrects")  # fmt: skip
            instant = of.instant
        else:
            instant = calendar.instant(ticket.at)
            corrects = self._corrected(ticket)
            if corrects is None and instant < self._closed_until:
                raise self._closed(ticket)
        day, late = calendar.day(instant), instant < self._closed_until
        period = calendar.period(self._closed_until) if late else calendar.period_of_day(day)
        occasion = Occasion(
            self.writer.seq + 1, ticket.number, instant, period, day, self.setups.at(instant), calendar, corrects,
            self._closed_until,
        )  # fmt: skip
        return Draft(occasion, self.metals, self.writer.shelf, self.writer.numbering)

    def _closed(self, ticket: Ticket) -> PeriodClosed:
        """Return the refusal of a ticket dated in a closed period."""
        calendar = self.setups.calendar
        what = f"{ticket.at} lies in a closed period: nothing enters before {calendar.text(self._closed_until)}"
        mend = "date a reversal when it is made" if isinstance(ticket, Reverse) else (
            "date it in the open period and say in note when it was; to mend a recorded ticket, reverse it and enter "
            "the correction, which keeps its date and counts in the open period"
        )  # fmt: skip
        return PeriodClosed(what, mend, field="at")

    def _corrected(self, ticket: Ticket) -> int | None:
        if ticket.corrects is None:
            return None
        of = self.writer.shelf.recorded(ticket.corrects)
        if of is None or of.reversed_by is None:
            what = "is not recorded" if of is None else "was not reversed"
            raise Impossible(f"{ticket.corrects} {what}", "reverse it first", field="corrects")
        if of.corrected_by is not None:
            raise Impossible(f"{ticket.corrects} was corrected before, by {of.corrected_by}",
                             f"reverse {of.corrected_by} and correct that", field="corrects")  # fmt: skip
        if of.kind != ticket.kind:
            raise Impossible(f"{ticket.corrects} is of kind {of.kind}, this ticket of kind {ticket.kind}",
                             "correct a ticket by one of its kind", field="corrects")  # fmt: skip
        return of.seq


def enter(
    connection: sqlite3.Connection, rows: Iterable[Row], user: str, *, set_aside: bool = False,
    progress: Callable[[int], None] | None = None,
) -> Entered:  # fmt: skip
    """Enter rows in their order, inside the caller's transaction.

    Every faulty row is listed. Without ``set_aside`` any fault raises Refused with all of them after the last row, and
    the caller undoes the transaction; with it the sound rows stay.
    """
    entry, entered = Entry(connection), Entered()
    for row in rows:
        _enter_row(entry, row, user, entered)
        if progress is not None:
            progress(row.line)
    if entered.faults and not set_aside:
        raise Refused(entered.faults)
    entry.writer.flush()
    return entered


def _enter_row(entry: Entry, row: Row, user: str, entered: Entered) -> None:
    if row.document is None:
        _refuse(row, list(row.faults), entered)
        return
    try:
        draft = entry.record(row.document, stamp_now(user))
    except LemelError as error:
        _refuse(row, [row.place(fault) for fault in error.faults], entered)
        return
    if draft is None:
        entered.already += 1
        return
    entered.recorded += 1
    entered.irregular.extend((draft.occasion.number, flag, words) for _, flag, words in draft.flags)


def _refuse(row: Row, faults: list[Fault], entered: Entered) -> None:
    faults = [_followed(fault, entered) for fault in faults]
    for lot in _lots_named(row.document or {}):
        entered.missing_with.setdefault(lot, faults[0].ticket or f"line {row.line}")
    entered.faults.extend(faults)
    entered.refused.append((row, faults))


def _followed(fault: Fault, entered: Entered) -> Fault:
    """Say which refused ticket a missing lot would have come with, so that the first cause is mended first."""
    first = entered.missing_with.get(fault.lot)
    return replace(fault, mend=f"this follows from {first}, refused above: mend that first") if first else fault


def _lots_named(document: dict[str, Any]) -> Iterator[str]:
    for side in ("lots", "out"):
        lines = document.get(side)
        for line in lines if isinstance(lines, list) else ():
            if isinstance(line, dict) and isinstance(line.get("lot"), str):
                yield line["lot"]
