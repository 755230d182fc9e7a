"""``lemel audit cutoff``: paper on both sides of a period's end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_expected import Period

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def cutoff(
    period: Period, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Show the cut-off of a period.

    The last numbers before its end and the first after it, by prefix and kind; what was on its way and in work at that
    instant; lots that its counts did not find and later paper handled: the usual sign of a ticket with the wrong date.

    Example:  lemel audit cutoff 2026-10
    """
    from ledger.audit.cutoff import cutoff_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked, options.called_wrongly("PERIOD"):
        document = cutoff_document(asked.inquiry, period)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import at, fine, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    unit, metal = asked.unit, asked.inquiry.metal
    say_text(f"Cut-off of {document['period']}, {asked.head}; it ended at {document['end'].replace('T', ' ')[:16]}")
    say()
    prefixes = [{**p, "crossing": ", ".join(p["lower_numbers_dated_after"])} for p in document["prefixes"]]
    say_rows("Numbers", prefixes, (
        text("prefix", "prefix"), text("last before", "last_before"), text("first after", "first_after"),
        text("lower, yet after", "crossing")))  # fmt: skip
    around = [{**row, "way": " → ".join(p for p in (row["from"], row["to"] or row["party"]) if p),
               "which": ", ".join(map(str, row["lots"][:2])) + (" …" if len(row["lots"]) > 2 else "")}
              for row in document["around"]]  # fmt: skip
    say_rows("Around the end", around, (
        text("side", "side"), text("kind", "kind"), text("ticket", "ticket"), at("at", "at"), text("way", "way"),
        fine(metal, "fine", unit)), shown=100)  # fmt: skip
    say_rows("On the way at the end", document["in_transit"], (
        text("lot", "lot"), text("move", "move"), text("from", "from"), text("to", "to"), at("since", "since"),
        fine(metal, "fine", unit)), shown=100)  # fmt: skip
    say_rows("In work at the end", document["open_jobs"], (
        text("job", "job"), text("area", "area"), text("operation", "operation"), at("since", "since"),
        fine(metal, "fine", unit)), shown=100)  # fmt: skip
    say_rows("Not found by its counts, and handled by later paper", document["found_later"], (
        text("lot", "lot"), text("area", "area"), text("count", "count"), at("missed at", "missed_at"),
        text("ticket", "ticket"), at("at", "at"), fine(metal, "fine", unit)), shown=100)  # fmt: skip
    say_end(asked)
