"""``lemel audit differences``: losses and gains apart, with their paper."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Rows
from ledger.faces.cli.audit_expected import Period

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def differences(
    period: Period, area: options.Area = None, rows: Rows = 25, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Explain differences by their documents.

    Questions 9, 10 and 21. By area losses and gains, never netted; the largest single ones with ticket and hands; what
    stands open at the period's end and since when; what was written off, by whom, why, on what evidence.

    Example:  lemel audit differences 2026-10 --area ROLL
    """
    from ledger.audit.differences import differences_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        of = options.area_of(asked.inquiry.facts, area)
        with options.called_wrongly("PERIOD"):
            document = differences_document(asked.inquiry, period, of)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.faces.audit_page import at, day, fine, number, say_end, say_rows, text
    from ledger.faces.printing import ng_of, say, say_text

    unit = asked.unit
    say_text(f"Differences of {document['period']}, {asked.head}; + is missing")
    say()
    say_rows("Losses and gains, never netted", document["areas"], (
        text("area", "area"), fine("losses", "losses", unit), fine("gains", "gains", unit), fine("net", "net", unit),
        number("singles", "singles")), shown=100)  # fmt: skip
    largest = sorted(document["largest"], key=lambda row: -abs(ng_of(row["mass"])))
    say_rows("The largest, with their paper", largest, (
        text("area", "area"), text("ticket", "ticket"), at("at", "at"), text("origin", "origin"), text("lot", "lot"),
        fine("mass", "mass", unit), text("by", "by"), text("witness", "witness")), shown=rows)  # fmt: skip
    standing = [row for row in document["open"] if row["since"]]
    say_rows("Open at the period's end", standing, (
        text("area", "area"), fine("open", "open", unit), text("since", "since"), text("most of it of", "most_of"),
        fine("mass", "most", unit)), shown=100)  # fmt: skip
    say_rows("Written off so far", document["written_off"], (
        text("ticket", "ticket"), day("on", "at"), text("area", "area"), text("metal", "metal"), text("mass", "mass"),
        text("cause", "cause"), text("evidence", "evidence"), text("by", "by"), text("witness", "witness")), shown=rows)
    say_text("A document shows what was written, by whom; lemel causes ranks what could have happened.")
    say_end(asked, of_people=True)
