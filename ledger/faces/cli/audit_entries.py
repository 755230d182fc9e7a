"""``lemel audit entries``: reversals, late paper, entries after a close, odd hours, round numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Period, Rows

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def entries(period: Period = None, rows: Rows = 10, book: options.Book = None, json: options.Json = False) -> None:
    """List the entries to be read first.

    Question 12. Reversals with what they reverse and their reason; paper dated before what was recorded earlier; what
    was recorded after its period was closed; hours and days when hardly anybody writes; scales and people whose
    readings end in two zeros more often than chance brings.

    Example:  lemel audit entries 2026-10
    """
    from ledger.audit.entries import entries_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book) as asked, options.called_wrongly("PERIOD"):
        document = entries_document(asked.inquiry, period)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.audit.entries import FEW, ODD_SHARE, ODDS
    from ledger.faces.audit_page import Column, at, day, figure, number, say_end, say_rows, text
    from ledger.faces.printing import counted, say, say_text

    said = document["period"] or "all of the book"
    say_text(f"Entries to read first, {asked.inquiry.facts.name}: {said}, {counted(document['tickets'], 'ticket')}")
    say()
    say_rows(f"Reversals, {len(document['reversals'])}", document["reversals"], (
        text("ticket", "ticket"), text("of", "of"), text("kind", "kind"), day("dated", "of_at"), text("by", "by"),
        text("of", "of_by"), text("again as", "corrected_by"), text("reason", "reason")), shown=rows)  # fmt: skip
    say_rows("By whom", document["reversed_by"], (text("person", "person"), number("reversals", "times")))
    recorded = document["recorded"]
    say(f"recorded over two days late: {recorded['later_than_two_days']:,}, at most {recorded['most_days']:.1f} days; "
        f"in one minute {recorded['at_once']:,}")  # fmt: skip
    say()
    say_rows("Late: dated before what was recorded earlier", document["late"], (
        text("ticket", "ticket"), text("kind", "kind"), at("at", "at"), text("by", "by"), figure("hours", "hours", 1)),
        shown=rows)  # fmt: skip
    if document["clock_back"]:
        say_rows("Recorded at a time before the record before them: the clock was put back", document["clock_back"], (
            text("ticket", "ticket"), number("record", "record"), text("recorded", "recorded_at"),
            text("the one before", "before")), shown=rows)  # fmt: skip
    say_rows("Recorded after their period was closed", document["after_close"], (
        text("ticket", "ticket"), text("kind", "kind"), at("dated", "at"), text("closed", "closed"),
        text("counts in", "counts_in"), text("by", "by"), text("reason", "reason")), shown=rows)  # fmt: skip
    say_rows(f"At odd hours or on odd days, {len(document['odd_hours'])}", document["odd_hours"], (
        text("ticket", "ticket"), text("kind", "kind"), at("at", "at"), text("by", "by"), text("why", "why")),
        shown=rows)  # fmt: skip
    chance = Column("p", "p", lambda value: f"{value:.2g}", left=False)
    say_rows("Round readings, more than chance", [r for r in document["round"] if r["more_than_chance"]], (
        text("of", "of"), text("code", "code"), number("readings", "readings"), number("round", "round"),
        figure("expected", "expected", 1), chance), shown=rows)  # fmt: skip
    say_text(f"Odd: under {ODD_SHARE:.1%} of the tickets fall in that hour, or on that day of the week. Round: ending "
             f"in two zeros as written, one in a hundred by chance; listed where {FEW} readings or more "
             f"have p below {ODDS:g} ({len(document['round'])} scales and people looked at).")  # fmt: skip
    say_end(asked, of_people=True)
