"""``lemel audit gaps``: what became of each number, and paper that is there twice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Period, Rows

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def gaps(period: Period = None, rows: Rows = 25, book: options.Book = None, json: options.Json = False) -> None:
    """Account for every number.

    Questions 4 and 22. Numbers neither recorded nor spoiled, spoiled ones with their reason, numbers out of their order
    in time, count sheets left out or twice, and tickets that read the same masses: one event entered twice?

    Example:  lemel audit gaps
    """
    from ledger.audit.numbers import numbers_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book) as asked, options.called_wrongly("PERIOD"):
        document = numbers_document(asked.inquiry, period)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.faces.audit_page import at, number, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    say_text(f"Numbers of {asked.inquiry.facts.name}")
    say()
    say_rows("Numbers by prefix", document["prefixes"], (
        text("prefix", "prefix"), text("first", "first"), text("last", "last"), number("used", "used"),
        number("missing", "missing")))  # fmt: skip
    say_rows("Missing: neither recorded nor spoiled", document["missing"], (
        text("first", "first"), text("last", "last"), number("numbers", "numbers")), shown=rows)
    say_rows("Spoiled", document["void"], (
        text("number", "number"), text("by ticket", "ticket"), at("at", "at"), text("by", "by"),
        text("reason", "reason")), shown=rows)  # fmt: skip
    say_rows("Dated before the number in front of it", document["out_of_order"], (
        text("ticket", "ticket"), at("at", "at"), text("after", "before"), at("dated", "before_at")), shown=rows)
    say_rows("Count sheets", document["sheets"], (
        text("area", "area"), text("count", "count"), text("team", "team"), text("sheet", "sheet"),
        text("ticket", "ticket"), text("what", "what")), none="every sheet is there, once", shown=rows)  # fmt: skip
    say_rows("Tickets that read the same masses", document["alike"], (
        text("kind", "kind"), text("ticket", "ticket"), at("at", "at"), text("and", "other"), at("at", "other_at")),
        shown=rows)  # fmt: skip
    say_text("No number can be used twice: the book refuses it, and lemel verify says whether it was made to.")
    say_end(asked)
