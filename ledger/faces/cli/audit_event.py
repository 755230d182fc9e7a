"""``lemel audit event``: a loss as a dated chain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Rows

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

From = Annotated[str, typer.Argument(metavar="FROM", help="A day, from its beginning, or a plant time.")]
To = Annotated[str, typer.Argument(metavar="TO", help="A day, to its end, or a plant time.")]
Least = Annotated[str, typer.Option("--least", metavar="MASS", help="Leave out single differences below this.")]


def event(
    from_: From, to: To, area: options.Area = None, least: Least = "1 g", rows: Rows = 40, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Tell what is known of a loss, by date.

    Question 23. Each difference of the span with when its lot was last seen and first missed, by which evidence other
    than the count, and what was found again; then the chain of everything on record: flags, reversals, spoiled and
    missing numbers.

    Example:  lemel audit event 2026-10-01 2026-10-31 --area VAULT --least "0.5 g"
    """
    from ledger.audit.event import event_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking
    from ledger.quantities.mass import parse_mass

    with options.called_wrongly("--least"):
        least_ng = parse_mass(least)
    with asking(book, metal, unit) as asked:
        of = options.area_of(asked.inquiry.facts, area)
        document = event_document(asked.inquiry, span_of(asked, from_, to), of, least_ng)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def span_of(asked: Asked, from_: str, to: str) -> tuple[int, int]:
    """Return the first and the last instant meant: of days their beginning and their end; raises WrongUsage."""
    from datetime import date

    from ledger.refusals import WrongUsage

    calendar = asked.inquiry.setups.calendar
    with options.called_wrongly("FROM"):
        start = calendar.instant(f"{from_}T12:00" if len(from_) == 10 else from_)
    if len(from_) == 10:
        start = calendar.day_start(date.fromisoformat(from_))
    with options.called_wrongly("TO"):
        calendar.instant(f"{to}T12:00" if len(to) == 10 else to)
    end = options.instant_of(asked.connection, to)
    assert end is not None
    if end < start:
        raise WrongUsage(f"{to[:40]} is before {from_[:40]}", "give the earlier one first", field="TO")
    return start, end


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.faces.audit_page import at, fine, say_end, say_rows, text, yes
    from ledger.faces.printing import mass, ng_of, say, say_text

    unit = asked.unit

    def said(key: str) -> str:
        return f"{mass(ng_of(document[key]), unit)} {unit}"

    where = f", {document['area']}" if document["area"] else ""
    say_text(f"What is known of {document['from'][:10]} to {document['to'][:10]}{where}, {asked.head}; + is missing")
    say()
    say_rows("Last seen, first missed", [_flat(e) for e in document["events"]], (
        text("area", "area"), text("lot", "lot"), fine("mass", "mass", unit), text("last seen by", "seen"),
        at("at", "seen_at"), text("missed by", "missed"), at("at", "missed_at"), text("evidence", "evidence"),
        yes("found again", "found_again")), shown=rows)  # fmt: skip
    say_text(f"Missing {said('missing')}, found more {said('recovered')}; by counts alone {said('by_count_alone')}. A "
             f"mistaken figure shows twice, once each way: on its own ticket and where the lot is next weighed. "
             f"Differences below {said('least')} are left out.")  # fmt: skip
    say()
    say("The chain")
    for entry in document["entries"][:rows]:
        _say_entry(entry, unit)
    left = len(document["entries"]) - rows
    if left > 0:
        say(f"… and {left} more: --json, or --rows, shows all")
    say()
    say_end(asked, of_people=True)


def _say_entry(entry: dict[str, Any], unit: str) -> None:
    from ledger.faces.printing import mass, ng_of, say_text

    place = " ".join(p for p in (entry["area"], entry["lot"]) if p)
    size = f", {mass(ng_of(entry['mass']), unit)} {unit}" if entry["mass"] else ""
    by = f" ({entry['by']})" if entry["by"] else ""
    evidence = f"; evidence: {entry['evidence']}" if entry["evidence"] else ""
    words = f"{entry['at'][:16].replace('T', ' ')}  {entry['ticket'] or '–'}{by}  {place}{': ' if place else ''}"
    say_text(f"{words}{entry['what']}{size}{evidence}", indent="    ", first="")


def _flat(event_: dict[str, Any]) -> dict[str, Any]:
    seen, missed = event_["last_seen"] or {}, event_["first_missed"]
    return {**event_, "seen": seen.get("ticket"), "seen_at": seen.get("at"), "missed": missed["ticket"],
            "missed_at": missed["at"]}  # fmt: skip
