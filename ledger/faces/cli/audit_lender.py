"""``lemel audit lender``: a lender's metal, its cover and its limit."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

Party = Annotated[str, typer.Argument(metavar="PARTY", help="The lender, by its code.")]
Price = Annotated[
    str | None,
    typer.Option("--price", metavar="AMOUNT", help="Today's price of a troy ounce. Left out: the last fixing.",
                 show_default=False),
]  # fmt: skip
Facility = Annotated[str | None, typer.Option("--facility", metavar="AMOUNT", show_default=False,
                                              help="Most money that may be on loan.")]  # fmt: skip


def lender(
    party: Party, price: Price = None, facility: Facility = None, at: options.At = None, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Answer a lender of metal.

    Questions 26, 27 and 28. How much is lent; what is on hand that is assayed, or calculated from what is, where and in
    what form; (owned + leased) over leased, without sweeps and what is not assayed; and whether the loan is within its
    limit at today's price.

    Example:  lemel audit lender CORVANE --price 2610.00 --facility 150000
    """
    from ledger.audit.lending import lender_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking
    from ledger.quantities.mass import NG_PER_UNIT

    per_ng = None if price is None else _amount(price, "--price") / NG_PER_UNIT["ozt"]
    most = None if facility is None else _amount(facility, "--facility")
    with asking(book, metal, unit) as asked:
        instant = options.instant_of(asked.connection, at)
        document = lender_document(asked.inquiry, party, instant, per_ng, most)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


#: Characters of an amount of money, at most: a thousand times all the metal there is, to the hundredth.
_LONGEST_AMOUNT: Final = 24


def _amount(given: str, option: str) -> Fraction:
    from ledger.refusals import WrongUsage

    digits = given.replace(",", "")
    if not digits.replace(".", "", 1).isdecimal() or not digits.isascii() or len(digits) > _LONGEST_AMOUNT:
        raise WrongUsage(f"{given[:40]!r} is no amount", "write it plainly: 2610.00", field=option)
    return Fraction(digits)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import fine, number, say_end, say_rows, text
    from ledger.faces.printing import mass, ng_of, say, say_text

    def said(key: str) -> str:
        return f"{mass(ng_of(document[key]), asked.unit)} {asked.unit}"

    unit, currency = asked.unit, asked.inquiry.facts.currency
    say_text(f"{document['party']}, {document['role']}, {asked.head}, {document['at'] or 'now'}")
    say()
    say_text(f"On loan or deposit: {said('lent')}. Title: {document['title'] or 'not stated'}.")
    say()
    say_rows("On hand, by what the content rests on", document["held"], (
        text("basis", "basis"), number("lots", "lots"), fine("content", "fine", unit),
        fine("not counted", "not_counted", unit)))  # fmt: skip
    say_rows("Counted, where and in what form", document["where"], (
        text("area", "area"), text("form", "form"), number("lots", "lots"), fine("content", "fine", unit)), shown=100)
    cover = "–" if document["cover"] is None else document["cover"]
    say_text(f"Cover: {said('assayed')} counted, less {said('owed_to_others')} owed to others, over {said('lent')}: "
             f"{cover}.")  # fmt: skip
    if document["limit"] is not None:
        verdict = "within" if document["within_limit"] else "beyond"
        say_text(f"Limit: {said('limit')}: {verdict}.")
    if document["value"] is not None:
        by = "at the price given" if document["price_of"] == "given" else f"by the fixing of {document['price_of']}"
        say_text(f"Worth {float(document['value']):,.2f} {currency} {by}.")
    if document["facility"] is not None and document["within_facility"] is not None:
        verdict = "within" if document["within_facility"] else "beyond"
        say_text(f"Facility: {float(document['facility']):,.2f} {currency}: {verdict}.")
    say_text("Not counted: estimates, nominal content, sweeps and other dirty classes; dust and metal on its way. The "
             "metal is commingled: which gram is whose nobody can say.")  # fmt: skip
    say_end(asked)
