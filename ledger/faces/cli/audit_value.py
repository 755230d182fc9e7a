"""``lemel audit value``: value at risk, by place and day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Period

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def value(period: Period = None, book: options.Book = None, json: options.Json = False) -> None:
    """Say what was at risk, where and on which day.

    Question 24. The value of all booked metal in each place at each day's end, by the fixing that held: at the end, on
    average, and at its highest. --json has every day.

    Example:  lemel audit value 2026-10
    """
    from ledger.audit.values import value_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book) as asked:
        with options.called_wrongly("PERIOD"):
            span = asked.inquiry.span(period)
        last = asked.inquiry.last_instant()
        document = value_document(asked.inquiry, (span[0], max(span[0], min(span[1], last))))
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import money, say_end, say_rows, text, yes
    from ledger.faces.printing import counted, say, say_text

    say_text(f"Value at risk, {asked.inquiry.facts.name}, in {document['currency']}: {document['from']} to "
             f"{document['to']}")  # fmt: skip
    say()
    columns = (text("place", "place"), money("at the end", "end"), money("on average", "mean"),
               money("highest", "highest"), text("on", "highest_on"), yes("outside", "outside"))  # fmt: skip
    say_rows("By place, at days' ends", document["places"], columns, none="no day has a price", shown=100,
             total=document["plant"])  # fmt: skip
    if document["days_without_price"]:
        say_text(f"{counted(document['days_without_price'], 'day')} left out: no fixing holds yet.")
    say_text("Recorded content at the day's price: not what it would cost to make again, and not what was insured. The "
             "highest of the plant is of one day; the places' are each of its own.")  # fmt: skip
    say_end(asked)
