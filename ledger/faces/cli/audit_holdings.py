"""``lemel audit holdings`` and ``owners``: what third parties are asked to confirm, and whose the metal is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def holdings(
    at: options.At = None, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """List what others are asked to confirm.

    Question 6. Lots in areas outside the building, each party's metal account, and what is on its way. The figures are
    the book's; a confirmation is the other side's, on its own paper.

    Example:  lemel audit holdings --at 2026-10-31
    """
    from ledger.audit.holdings import holdings_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        document = holdings_document(asked.inquiry, options.instant_of(asked.connection, at))
    if json:
        say_document(asked, document)
    else:
        _say_holdings(asked, document)


def _say_holdings(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import day, fine, number, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    unit, metal = asked.unit, asked.inquiry.metal
    say_text(f"To be confirmed, {asked.head}, {document['at'] or 'now'}")
    say()
    say_rows("In others' hands", document["outside"], (
        text("area", "area"), text("holder", "holder"), number("lots", "lots"), fine("gross", "gross", unit),
        fine(metal, "fine", unit), fine("estimated", "estimated", unit), day("last ticket", "last_ticket_at")))
    say_rows("Metal accounts", document["accounts"], (
        text("party", "party"), text("role", "role"), text("terms", "terms"), fine("owed by us", "owed_by_us", unit),
        fine("owed to us", "owed_to_us", unit)), shown=100)  # fmt: skip
    say_rows("On the way", document["in_transit"], (
        text("lot", "lot"), text("move", "move"), text("from", "from"), text("to", "to"), day("since", "since"),
        fine(metal, "fine", unit)))  # fmt: skip
    say_rows("Lots in others' hands", document["lots"], (
        text("area", "area"), text("lot", "lot"), text("what", "what"), text("basis", "basis"),
        fine("gross", "gross", unit), fine(metal, "fine", unit)), shown=100)  # fmt: skip
    say_end(asked)


def owners(
    at: options.At = None, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Say whose the metal is, by place.

    Question 14. Segregated lots by their owner, place by place; the rest is commingled, and claimed by the accounts
    together: of it nobody can say which gram is whose.

    Example:  lemel audit owners
    """
    from ledger.audit.holdings import owners_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        document = owners_document(asked.inquiry, options.instant_of(asked.connection, at))
    if json:
        say_document(asked, document)
    else:
        _say_owners(asked, document)


def _say_owners(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import fine, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    unit = asked.unit
    say_text(f"Whose the metal is, {asked.head}, {document['at'] or 'now'}")
    say()
    places = [{**p, **p["segregated"]} for p in document["places"]]
    say_rows("By place", places, (
        text("area", "area"), *(fine(owner, owner, unit) for owner in document["owners"]),
        fine("commingled", "commingled", unit), fine("together", "fine", unit)), total={"fine": document["fine"]},
        shown=100)  # fmt: skip
    say_rows("Who claims it, + theirs", document["claims"], (
        text("whose", "whose"), text("terms", "terms"), fine("content", "fine", unit)), shown=100)
    say_text("What the claims come to beyond what is in places stands on its way, in dust, in open differences, or is "
             "gone: lemel position balances them to the nanogram.")  # fmt: skip
    say_end(asked)
