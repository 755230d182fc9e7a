"""Counts as evidence: how true they found the record, who counted, who was there, and when nobody was warned."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from ledger.audit.inquiry import Document, Inquiry, share, summed
from ledger.book.amounts import Amounts
from ledger.book.holdings import TICKET_STANDS
from ledger.quantities.mass import grams_text

#: Flags of a count line that say the record was not true, in the order of their weight.
DEVIATIONS = ("not found", "unknown lot counted", "counted where it is not recorded", "listed twice", "teams differ",
              "re-weighing difference")  # fmt: skip


@dataclass(slots=True)
class Counted:
    """One count of one area: its sheets together, and what they found."""

    area: str
    count: str
    instant: int
    ended: bool = False
    spot: bool = False
    take_on: bool = False
    sheets: list[str] = field(default_factory=list)
    people: set[str] = field(default_factory=set)
    witnesses: set[str] = field(default_factory=set)
    listed: set[int] = field(default_factory=set)
    weighed: set[int] = field(default_factory=set)
    deviations: dict[str, int] = field(default_factory=dict)
    differences: list[Amounts] = field(default_factory=list)

    @property
    def deviating(self) -> int:
        """Lots of which the record was not true."""
        return sum(self.deviations.values())

    @property
    def lots(self) -> int:
        """Lots listed or not found."""
        return len(self.listed) + self.deviations.get("not found", 0)


_SHEETS = f"""
    SELECT c.ticket, t.instant, c.area, c.count, c.sheet, c.team, c.ended, c.spot, c.take_on, record.body
    FROM count_sheet AS c JOIN ticket AS t ON t.seq = c.ticket JOIN record ON record.seq = c.ticket
    WHERE t.instant BETWEEN ? AND ? AND {TICKET_STANDS.format('t')} ORDER BY t.instant, t.seq"""

_LINES = "SELECT number, lot, side, weighed_ng, recorded, content FROM line WHERE ticket = ? ORDER BY id"

_FLAGS = "SELECT line, flag FROM flag WHERE ticket = ? ORDER BY id"


def counted(inquiry: Inquiry, span: tuple[int, int], area: str | None = None) -> list[Counted]:
    """Return the counts of a span, by date of their first sheet."""
    found: dict[tuple[str, str], Counted] = {}
    for ticket, instant, of_area, count, *sheet in inquiry.connection.execute(_SHEETS, span).fetchall():
        if area in (None, of_area):
            into = found.setdefault((of_area, count), Counted(of_area, count, instant))
            _add_sheet(inquiry, into, ticket, sheet)
    return list(found.values())


def _add_sheet(inquiry: Inquiry, into: Counted, ticket: int, sheet: Sequence[Any]) -> None:
    name, _team, ended, spot, take_on, body = sheet
    said = json.loads(body)
    into.ended, into.spot = into.ended or bool(ended), into.spot or bool(spot)
    into.take_on = into.take_on or bool(take_on)
    into.sheets.append(name or "")
    into.people.add(said["by"])
    into.witnesses.update([said["witness"]] if said.get("witness") else [])
    flags = _deviations_by_line(inquiry.connection.execute(_FLAGS, (ticket,)).fetchall())
    for number, lot, side, weighed, recorded, content in inquiry.connection.execute(_LINES, (ticket,)):
        if side not in ("count", "not found"):
            continue
        into.listed |= {lot} if side == "count" else set()
        into.weighed |= {lot} if weighed is not None else set()
        before = json.loads(recorded) if recorded else [0] * len(inquiry.metals)
        into.differences.append([a - b for a, b in zip(before, json.loads(content), strict=True)])
        if number in flags:
            into.deviations[flags[number]] = into.deviations.get(flags[number], 0) + 1


def _deviations_by_line(rows: Sequence[tuple[int, str]]) -> dict[int, str]:
    """Return the gravest deviation of each line."""
    found: dict[int, str] = {}
    for line, flag in rows:
        if flag in DEVIATIONS and (line not in found or DEVIATIONS.index(flag) < DEVIATIONS.index(found[line])):
            found[line] = flag
    return found


def counts_document(inquiry: Inquiry, period: str | None, area: str | None) -> Document:
    """Return count accuracy by period, each count with who took part in it, and the last spot count of each area."""
    span = inquiry.span(period)
    counts = counted(inquiry, span, area)
    return {
        "metal": inquiry.metal, "period": period, "area": area,
        "by_period": list(_by_period(inquiry, counts)),
        "counts": [_count(inquiry, each) for each in counts],
        "spot_counts": _last_spots(inquiry, counted(inquiry, (0, span[1]), area), area, span[1]),
    }  # fmt: skip


def _by_period(inquiry: Inquiry, counts: Sequence[Counted]) -> Iterator[Document]:
    periods = dict.fromkeys(inquiry.setups.calendar.period(each.instant) for each in counts)
    for code in periods:
        own = [each for each in counts if inquiry.setups.calendar.period(each.instant) == code and not each.take_on]
        lots, off = sum(c.lots for c in own), sum(c.deviating for c in own)
        yield {
            "period": code, "counts": len(own), "lots": lots, "weighed": sum(len(c.weighed) for c in own),
            "true": lots - off, "accuracy": share(lots - off, lots),
            **{name: sum(c.deviations.get(name, 0) for c in own) for name in DEVIATIONS},
        }  # fmt: skip


def _count(inquiry: Inquiry, each: Counted) -> Document:
    area = inquiry.setups.at(each.instant).areas.get(each.area)
    keeper = area.keeper if area else None
    missing = [ng for ng in (d[inquiry.index] for d in each.differences) if ng > 0]
    over = [ng for ng in (d[inquiry.index] for d in each.differences) if ng < 0]
    return {
        "area": each.area, "count": each.count, "at": inquiry.text(each.instant), "sheets": each.sheets,
        "ended": each.ended, "spot": each.spot, "take_on": each.take_on, "lots": each.lots,
        "weighed": len(each.weighed), "deviations": each.deviations,
        "missing": grams_text(sum(missing)), "over": grams_text(-sum(over)),
        "difference": inquiry.grams(summed(each.differences, len(inquiry.metals))), "keeper": keeper,
        "by": sorted(each.people), "witness": sorted(each.witnesses),
        "keeper_took_part": keeper is not None and keeper in each.people | each.witnesses,
    }  # fmt: skip


def _last_spots(inquiry: Inquiry, counts: Sequence[Counted], area: str | None, until: int) -> list[Document]:
    day, rows = inquiry.setups.calendar.day(until), []
    for of in inquiry.setup.area:
        if area in (None, of.code):
            own = [c for c in counts if c.area == of.code and c.spot]
            last = own[-1].instant if own else None
            age = None if last is None else (day - inquiry.setups.calendar.day(last)).days
            rows.append({"area": of.code, "spot_counts": len(own), "last": last and inquiry.text(last), "days": age})
    return rows
