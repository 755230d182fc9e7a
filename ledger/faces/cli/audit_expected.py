"""``lemel audit expected``: what loss was expected before anybody saw the result."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

Period = Annotated[str, typer.Argument(metavar="PERIOD", help="The period, 2026-10 or a listed code.")]


def expected(
    period: Period, area: options.Area = None, book: options.Book = None, metal: options.Metal = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Say what loss was expected, and when that was set.

    Questions 8 and 29. For each operation its rate, what that comes to, its standard deviation, and the record that
    last set it: before or after the period's first ticket was recorded. Beside each area's expectation the loss that
    came.

    Example:  lemel audit expected 2026-10
    """
    from ledger.audit.expected import expected_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        of = options.area_of(asked.inquiry.facts, area)
        with options.called_wrongly("PERIOD"):
            document = expected_document(asked.inquiry, period, of)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import Column, fine, number, say_end, say_rows, sigma, text
    from ledger.faces.printing import say, say_text

    unit = asked.unit
    say_text(f"Expected loss of {document['period']}, {asked.head}")
    say()
    when = Column("set before", "before_first_ticket", lambda value: "yes" if value else "no, after")
    say_rows("By operation", document["operations"], (
        text("area", "area"), text("operation", "operation"), number("tickets", "tickets"), fine("in", "input", unit),
        text("rate", "rate"), fine("expected", "expected", unit), sigma("sd", "sd", unit), number("record", "record"),
        when), shown=100)  # fmt: skip
    say_rows("By area, with the loss that came", [a for a in document["areas"] if _any(a)], (
        text("area", "area"), fine("expected", "expected", unit), sigma("sd", "sd", unit),
        fine("gross loss", "gross_loss", unit), fine("beyond", "beyond", unit)), shown=100)  # fmt: skip
    say_text("sd: of the loss itself, from ticket to ticket and month to month; lemel reconcile adds measurement. "
             "Record: the set-up, or its change, that last set the rate; lemel audit changes lists them. Set before: "
             "recorded before the period's first ticket was.")  # fmt: skip
    say_end(asked)


def _any(area: dict[str, Any]) -> bool:
    return bool(area["expected"].strip("-0.") or area["gross_loss"].strip("-0."))
