"""A ticket was entered twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from ledger.balance.measurement.effective import TicketOf
from ledger.causes.families.loss_rate import whole
from ledger.causes.missing import TOLD, missing
from ledger.causes.proposals import Proposal, View
from ledger.causes.reads import Read

_DAYS = 12
_DAY = 86_400_000_000
_ALIKE = 0.002
#: Tickets on the same lots that are compared with one another.
_MANY = 30


def propose(view: View) -> Iterator[Proposal]:
    """Yield lots not found that have a twin of the same delivery or move, and tickets that take the same twice."""
    yield from _twins(view)
    yield from _same_again(view)


def _twins(view: View) -> Iterator[Proposal]:
    gone = list(missing(view))
    if not gone:
        return
    for lot in gone:
        found = _twin_of(view, lot.component.lot, lot.component.instant)
        if found is None:
            continue
        first, again, twin = found
        together = {m.place: 1.0 for m in gone if _made_by(view, m.component.lot) == again}
        direction = {place: view.evidence.components[place].value for place in together}
        yield Proposal(
            "duplicate",
            (again,),
            direction,
            view.rates["duplicate"] * TOLD * 5,
            lambda _, first=first, again=again: f"{again} is {first} entered a second time",  # type: ignore[misc]
            f"lay {first} and {again} beside the delivery note",
            theta=1.0,
            give=1e-3,
            tickets=(first, again),
            lots=(lot.lot, twin),
            of_size=whole(view, direction),
            mend={"ticket": again},
        )


def _made_by(view: View, lot: int | None) -> str:
    row = view.evidence.connection.execute(
        "SELECT t.number FROM lot JOIN ticket AS t ON t.seq = lot.made_by WHERE lot.id = ?", (lot,)
    ).fetchone()
    return str(row[0]) if row else ""


def _twin_of(view: View, lot: int | None, instant: int) -> tuple[str, str, str] | None:
    """Return (earlier ticket, later ticket, the other lot) where two tickets made lots alike within days."""
    rows = view.evidence.connection.execute(
        "SELECT t.number, u.number, o.number FROM line AS l JOIN ticket AS t ON t.seq = l.ticket "
        "JOIN line AS m ON m.side = l.side AND m.area = l.area AND m.lot <> l.lot JOIN ticket AS u ON u.seq = m.ticket "
        "JOIN lot AS o ON o.id = m.lot WHERE l.lot = ?1 AND l.side = 'receive' AND u.kind = t.kind AND u.seq <> t.seq "
        "AND u.period BETWEEN '' AND t.period AND abs(u.instant - t.instant) < ?2 "
        "AND abs(m.weighed_ng - l.weighed_ng) <= ?3 * l.weighed_ng ORDER BY abs(u.instant - t.instant) LIMIT 1",
        (lot, _DAYS * _DAY, _ALIKE),
    ).fetchone()
    return (rows[1], rows[0], rows[2]) if rows else None


def _same_again(view: View) -> Iterator[Proposal]:
    """Yield tickets on bins or parts of lots that repeat another's lots and masses: without it, its readings go."""
    alike: dict[tuple[object, ...], list[TicketOf]] = {}
    for ticket in view.evidence.tickets.values():
        if ticket.kind in ("move", "work", "ship") and ticket.job is None:
            masses = [line for line in ticket.lines if line.side in ("in", "out") and line.weighed_ng]
            if masses and not all(line.settles for line in masses if line.side == "out" or ticket.kind == "work"):
                key = (ticket.kind, ticket.operation, tuple(sorted((x.side, x.area, x.lot) for x in masses)))
                alike.setdefault(key, []).append(ticket)
    for same in alike.values():
        for first, again in combinations(same[:_MANY], 2):
            if again.instant - first.instant < _DAYS * _DAY and _masses_alike(first, again):
                yield _again(view, first, again)


def _tare(view: View, read: Read) -> int:
    """Return the registered tare that was taken off a reading."""
    container = (
        view.evidence.setup.containers.get(str(read.written.get("container"))) if read.field == "gross" else None
    )
    return (container.tare or 0) if container else 0


def _masses_alike(first: TicketOf, again: TicketOf) -> bool:
    pairs = zip(first.lines, again.lines, strict=False)
    return all(abs((a.weighed_ng or 0) - (b.weighed_ng or 0)) <= _ALIKE * (a.weighed_ng or 0) for a, b in pairs)


def _again(view: View, first: TicketOf, again: TicketOf) -> Proposal:
    direction: dict[int, float] = {}
    for read in view.every_read.of_ticket(again.number):
        for i, coefficient in read.column.items():
            direction[i] = direction.get(i, 0.0) + coefficient * (read.ng - _tare(view, read))
    lots = tuple(dict.fromkeys(view.lot(line.lot) for line in again.lines))
    content = next((line.content for line in again.lines if line.side in ("in", "out")), ())
    return Proposal(
        "duplicate",
        (again.number,),
        direction,
        view.rates["duplicate"] * TOLD,
        lambda _: f"{again.number} is {first.number} entered a second time",
        f"lay {first.number} and {again.number} side by side",
        theta=1.0,
        give=1e-3,
        relative=0.5,
        tickets=(first.number, again.number),
        lots=lots,
        of_size=tuple(map(float, content)),
        mend={"ticket": again.number},
    )
