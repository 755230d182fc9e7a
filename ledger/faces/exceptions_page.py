"""The daily exceptions list as a page and as a document: the same sections in the same order."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ledger.balance.daily import exceptions as ex
from ledger.balance.daily.estimates import OpenEstimate, open_estimates
from ledger.balance.daily.open_differences import OpenDifference, open_differences
from ledger.balance.daily.ticket_numbers import Gap, Numbers, OutOfOrder
from ledger.book import holdings
from ledger.book.holdings import Account, Held, NotFound, PlantFacts
from ledger.book.setups import Setups
from ledger.faces.caution import say_caution
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_table, say_text
from ledger.quantities.mass import grams_text

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Limits:
    """After how many days a bin wants an assay, and a scale a check weight."""

    assay_days: int
    check_days: int


@dataclass(frozen=True, slots=True)
class Missing:
    """A lot not found, and when the count that missed it was."""

    lot: NotFound
    since: int


@dataclass(frozen=True, slots=True)
class Found:
    """Everything on the list of one day; ``differences`` in the metal asked for."""

    setups: Setups
    day: ex.Day
    limits: Limits
    jobs: list[ex.AgedJob]
    sent: list[ex.Sent]
    gaps: list[Gap]
    out_of_order: list[OutOfOrder]
    transfers: list[ex.TransferDifference]
    irregular: list[ex.Irregular]
    standing: dict[str, list[ex.Irregular]]
    bins: list[ex.OverdueBin]
    scales: list[ex.OverdueScale]
    estimates: list[OpenEstimate]
    not_found: list[Missing]
    differences: tuple[Account, ...]
    unanswered: dict[str, OpenDifference]
    below: list[Held]
    beyond: list[ex.BeyondLimit]

    def at(self, instant: int) -> str:
        """Return an instant in plant time."""
        return self.setups.calendar.text(instant)

    def age(self, instant: int) -> int:
        """Return how many of the plant's days ago an instant was."""
        return (self.day.day - self.setups.calendar.day(instant)).days


def gather(connection: sqlite3.Connection, facts: PlantFacts, setups: Setups, day: ex.Day | None, limits: Limits,
           metal: str) -> Found | None:  # fmt: skip
    """Return everything on the list of a day; None for no day: a book without a ticket."""
    if day is None:
        return None
    metals, until = ("gross", *facts.metals), day.instant
    held, sent = holdings.stock(connection, facts, None, until), ex.sent(connection, day, metals)
    numbers = Numbers(connection, until)
    places = [(h.area, h.described.lot, h.amounts) for h in held] + [("in transit", s.lot, s.amounts) for s in sent]
    missing = [
        Missing(n, ex.count_instant(connection, n.count)) for n in holdings.not_found(connection, None, until)
    ]  # fmt: skip
    position = holdings.position(connection, metal, until)
    return Found(
        setups, day, limits, ex.aged_jobs(connection, day, metals), sent, numbers.gaps(),
        numbers.out_of_order(day.start, day.end), ex.transfer_differences(connection, setups, day),
        ex.irregular_of_the_day(connection, day), ex.irregular_still_standing(connection, day),
        ex.overdue_bins(connection, setups, day, held, limits.assay_days),
        ex.overdue_scales(connection, setups, day, limits.check_days), open_estimates(connection, places, until),
        sorted(missing, key=lambda m: (m.since, m.lot.area, m.lot.described.lot)),
        position.differences, open_differences(connection, metal, day.end + 1), ex.below_nothing(held),
        [] if metal == "gross" else ex.beyond_limits(setups, position.parties),
    )  # fmt: skip


# --------------------------------------------------------------------------------------------------- the document


def document(found: Found | None, facts: PlantFacts, metal: str) -> Row:
    """Return the list as JSON-able figures; masses in grams with all their digits, days as whole numbers."""
    head: Row = {"plant": facts.name, "day": found.day.day.isoformat() if found else None, "metal": metal}
    if found is None:
        return {**head, **{section: [] for section in SECTIONS}}
    limits = {"assay_days": found.limits.assay_days, "check_days": found.limits.check_days}
    place = facts.place(metal)
    return {**head, **limits, **{section: list(make(found, place)) for section, make in SECTIONS.items()}}


def _amounts(amounts: Sequence[int], place: int) -> Row:
    return {"gross": grams_text(amounts[0]), "fine": grams_text(amounts[place])}


def _since(found: Found, instant: int) -> Row:
    return {"since": found.at(instant), "days": found.age(instant)}


def _jobs(found: Found, place: int) -> Iterator[Row]:
    for j in found.jobs:
        yield {"job": j.job, "area": j.area, "operation": j.operation, **_since(found, j.since),
               **_amounts(j.amounts, place)}  # fmt: skip


def _sent(found: Found, place: int) -> Iterator[Row]:
    for s in found.sent:
        yield {"move": s.move, "lot": s.lot, "from": s.from_, "to": s.to, **_since(found, s.since),
               **_amounts(s.amounts, place)}  # fmt: skip


def _gaps(found: Found, _: int) -> Iterator[Row]:
    for g in found.gaps:
        yield {"prefix": g.prefix, "first": g.first, "last": g.last, "numbers": g.numbers}


def _out_of_order(found: Found, _: int) -> Iterator[Row]:
    for o in found.out_of_order:
        yield {"ticket": o.ticket, "at": found.at(o.instant), "follows": o.before,
               "follows_at": found.at(o.before_instant)}  # fmt: skip


def _transfers(found: Found, place: int) -> Iterator[Row]:
    for t in found.transfers:
        yield {"ticket": t.ticket, "kind": t.kind, "at": found.at(t.instant), "lot": t.lot, "from": t.from_, "to": t.to,
               **_amounts(t.difference, place), "sigma": round(t.sigma / 10**9, 9), "z": round(t.z, 6)}  # fmt: skip


def _irregular(found: Found, _: int) -> Iterator[Row]:
    for i in found.irregular:
        yield {"ticket": i.ticket, "at": found.at(i.instant), "flag": i.flag, "words": i.words}


def _standing(found: Found, _: int) -> Iterator[Row]:
    for flag, rows in found.standing.items():
        yield {"flag": flag, "oldest": found.at(rows[0].instant), "days": found.age(rows[0].instant),
               "tickets": list(dict.fromkeys(row.ticket for row in rows))}  # fmt: skip


def _bins(found: Found, _: int) -> Iterator[Row]:
    for b in found.bins:
        yield {"bin": b.bin, "area": b.area, "assayed": b.assayed, **_since(found, b.since)}


def _scales(found: Found, _: int) -> Iterator[Row]:
    for s in found.scales:
        yield {"scale": s.scale, "what": s.what, "since": s.since.isoformat() if s.since else None,
               "days": (found.day.day - s.since).days if s.since else None,
               "off": None if s.off is None else grams_text(s.off)}  # fmt: skip


def _estimates(found: Found, place: int) -> Iterator[Row]:
    for e in found.estimates:
        yield {"lot": e.lot, "area": e.area, "class": e.lot_class, "whose": whose(e), **_since(found, e.since),
               "gross": grams_text(e.amounts[0]),
               "estimated": grams_text(e.content(place) if place else 0)}  # fmt: skip


def whose(estimate: OpenEstimate) -> list[str]:
    """Return whose estimate it is: ``FINISH dust``, ``MELT difference``; nothing where it came from outside."""
    return [f"{area} {class_}" for class_, area in estimate.origins]


def _not_found(found: Found, place: int) -> Iterator[Row]:
    for m in found.not_found:
        yield {"lot": m.lot.described.lot, "area": m.lot.area, "count": m.lot.count, **_since(found, m.since),
               **_amounts(m.lot.amounts, place)}  # fmt: skip


def _differences(found: Found, _: int) -> Iterator[Row]:
    for account in found.differences:
        since = found.unanswered.get(account.key)
        yield {
            "area": account.key, "difference": grams_text(account.ng),
            "closed_losses": grams_text(since.losses) if since else None,
            "closed_gains": grams_text(since.gains) if since else None,
            "oldest": since.oldest if since else None,
            "days": found.age(since.ends - 1) if since else None,
        }  # fmt: skip


def _below(found: Found, place: int) -> Iterator[Row]:
    for h in found.below:
        yield {"lot": h.described.lot, "area": h.area, **_amounts(h.amounts, place)}


def _beyond(found: Found, _: int) -> Iterator[Row]:
    for b in found.beyond:
        yield {"party": b.party, "owed": grams_text(b.owed), "limit": grams_text(b.limit)}


#: The sections of the document, in its order.
SECTIONS: dict[str, Callable[[Found, int], Iterator[Row]]] = {
    "open_jobs": _jobs, "in_transit": _sent, "number_gaps": _gaps, "out_of_order": _out_of_order,
    "transfer_differences": _transfers, "irregular": _irregular, "irregular_standing": _standing,
    "bins_overdue": _bins, "scales_overdue": _scales, "estimated_lots": _estimates, "not_found": _not_found,
    "open_differences": _differences, "below_nothing": _below,
    "beyond_limit": _beyond,
}  # fmt: skip


# ------------------------------------------------------------------------------------------------------- the page


def say_page(found: Found | None, facts: PlantFacts, metal: str, unit: str) -> None:
    """Print the list for people; a section without anything is one line at the end."""
    if found is None:
        say(f"Exceptions of {facts.name}: no ticket yet")
        return
    say_text(f"Exceptions of {facts.name}, end of {found.day.day}: {metal}, in {unit}")
    rows = document(found, facts, metal)
    page = _Page(found, metal, unit)
    empty = []
    for section, heading in page.headings().items():
        if not rows[section]:
            empty.append(heading.partition(":")[0])
            continue
        say()
        say_text(heading)
        page.say_section(section, rows[section])
    if empty:
        say()
        say_text("Nothing under: " + "; ".join(empty) + ".")
    say()
    say_text("A difference is + where metal is missing. Most of a list like this has an ordinary reason.")
    say_caution()


class _Page:
    """What people read of each section."""

    def __init__(self, found: Found, metal: str, unit: str) -> None:
        self.found, self.metal, self.unit = found, metal, unit

    def headings(self) -> dict[str, str]:
        """Return what each section is, by section, in order."""
        limits, period = self.found.limits, self.found.day.period
        return {
            "open_jobs": "Open jobs",
            "in_transit": "On their way, not arrived",
            "number_gaps": "Numbers missing: neither recorded nor voided",
            "out_of_order": "Numbers out of order: dated before the ticket that comes before them",
            "transfer_differences": f"Transfer differences beyond the two scales: {period} so far",
            "irregular": "Irregular tickets of the day",
            "irregular_standing": f"Irregular tickets of earlier days: {period} so far, not reversed",
            "bins_overdue": f"Bins overdue: no assay for more than {counted(limits.assay_days, 'day')}",
            "scales_overdue": f"Scales overdue: calibration, or no check for more than "
                              f"{counted(limits.check_days, 'day')}",
            "estimated_lots": "Lots that rest on an estimate",
            "not_found": "Lots not found: by a count, and not yet again",
            "open_differences": "Open differences by area: of closed periods losses, gains and the oldest; until a "
                                "close they hold the normal loss",
            "below_nothing": "Lots below nothing: more left than was recorded, until it is corrected",
            "beyond_limit": "Parties owed more than their limit",
        }  # fmt: skip

    def say_section(self, section: str, rows: Sequence[Row]) -> None:
        """Print one section's table, or its lines of words."""
        if section == "irregular":
            for row in rows:
                say_text(f"{row['ticket']}  {row['at'][11:]}  {row['flag']}: {row['words']}", indent="    ", first="")
            return
        columns = _COLUMNS[section]
        kept = [key for key in columns if key != "fine" or self.metal != "gross"]
        heads = [self._head(key, columns[key]) for key in kept]
        table = Table(heads, frozenset(i for i, key in enumerate(kept) if key not in _FIGURES))
        for row in rows:
            table.add(*(self._cell(key, row[key]) for key in kept))
        say_table(table.without_empty_columns())

    def _head(self, key: str, head: str) -> str:
        return self.metal if key == "fine" else head

    def _cell(self, key: str, value: Any) -> str:
        if value is None:
            return "never" if key == "since" else ""
        if key in _MASSES:
            return mass(ng_of(value), self.unit, more=1 if key == "off" else 0)
        if key == "sigma":
            return mass(round(value * 10**9), self.unit)
        if key == "z":
            return f"{value:,.1f}"
        if key == "tickets":
            return str(len(value))
        if isinstance(value, bool):
            return "last assay" if value else "put in"
        if key in _TIMES:
            return str(value)[:10] if key in ("since", "oldest") else str(value).replace("T", " ")
        return " + ".join(value) if isinstance(value, list) else str(value)


_MASSES = frozenset((
    "gross", "fine", "estimated", "difference", "closed_losses", "closed_gains", "off", "owed", "limit",
))  # fmt: skip
_TIMES = frozenset(("since", "oldest", "at", "follows_at"))
_FIGURES = _MASSES | {"days", "numbers", "sigma", "z", "tickets"}

#: What people are shown of each section: key → head.
_COLUMNS: dict[str, dict[str, str]] = {
    "open_jobs": {"job": "job", "area": "area", "operation": "operation", "since": "since", "days": "days",
                  "gross": "gross", "fine": ""},
    "in_transit": {"lot": "lot", "move": "move", "from": "from", "to": "to", "since": "since", "days": "days",
                   "gross": "gross", "fine": ""},
    "number_gaps": {"first": "first", "last": "last", "numbers": "numbers"},
    "out_of_order": {"ticket": "ticket", "at": "dated", "follows": "follows", "follows_at": "dated"},
    "transfer_differences": {"lot": "lot", "ticket": "ticket", "at": "at", "from": "from", "to": "to",
                             "gross": "gross", "fine": "", "sigma": "σ gross", "z": "z"},
    "irregular_standing": {"flag": "flag", "tickets": "tickets", "oldest": "oldest", "days": "days"},
    "bins_overdue": {"bin": "bin", "area": "area", "assayed": "counted from", "since": "since", "days": "days"},
    "scales_overdue": {"scale": "scale", "what": "what", "since": "since", "days": "days", "off": "off"},
    "estimated_lots": {"lot": "lot", "area": "area", "class": "class", "whose": "whose", "since": "since",
                       "days": "days", "gross": "gross", "estimated": "estimated"},
    "not_found": {"lot": "lot", "area": "area", "count": "count", "since": "since", "days": "days", "gross": "gross",
                  "fine": ""},
    "open_differences": {"area": "area", "difference": "difference", "closed_losses": "closed: losses",
                         "closed_gains": "gains", "oldest": "oldest", "days": "days"},
    "below_nothing": {"lot": "lot", "area": "area", "gross": "gross", "fine": ""},
    "beyond_limit": {"party": "party", "owed": "owed", "limit": "limit"},
}  # fmt: skip
