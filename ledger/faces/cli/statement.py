"""``lemel statement``: a party's metal account."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.cli.audit_expected import Period

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

Party = Annotated[str, typer.Argument(metavar="PARTY", help="Customer, lender, refiner or supplier, by its code.")]


def statement(
    party: Party, period: Period, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Print a party's metal account.

    Opening, movements with their tickets, closing, under each kind of terms; what was shipped and given away; what a
    refiner retained; and the terms: title, by whose figure metal is owed, limit, loss allowance. Deposited and leased
    metal is shown + theirs, pool and settled metal + owed to the plant.

    Example:  lemel statement CORVANE 2026-10 --unit ozt
    """
    from ledger.audit.account import account_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked, options.called_wrongly("PERIOD"):
        document = account_document(asked.inquiry, party, period)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import day, fine, say_end, say_rows, text
    from ledger.faces.printing import mass, ng_of, say, say_text

    unit, metal = asked.unit, document["metal"]

    def said(key: str) -> str:
        return f"{mass(ng_of(document[key]), unit)} {unit}"

    say_text(f"Metal account of {document['party']}, {document['role']}, with {document['plant']}: "
             f"{document['period']}, {metal}, in {unit}")  # fmt: skip
    say()
    _say_terms(asked, document)
    for account in document["accounts"]:
        opening = {"what": "opening", "balance": account["opening"]}
        closing = {"what": "closing", "balance": account["closing"]}
        say_rows(f"{account['terms']}, + {account['sign']}", [opening, *account["movements"], closing], (
            day("on", "at"), text("ticket", "ticket"), text("what", "what"), fine("mass", "mass", unit),
            fine("balance", "balance", unit)), shown=10_000)  # fmt: skip
    if not document["accounts"]:
        say("no account, and no movement")
        say()
    if document["shipped"]:
        say_rows("Shipped to them: beyond what was billed, and below it, never netted",
                 [{**s, "which": ", ".join(map(str, s["lots"])), "as": ", ".join(s["billed_as"])}
                  for s in document["shipped"]], (
            day("on", "at"), text("ticket", "ticket"), text("lots", "which"), text("billed as", "as"),
            fine("given away", "given_away", unit), fine("below", "under_delivered", unit)), shown=10_000,
            total={"given_away": document["given_away"], "under_delivered": document["under_delivered"]})  # fmt: skip
    if document["retained"].strip("-0."):
        say_text(f"Retained by contract: {said('retained')}.")
    say_end(asked)


def _say_terms(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.printing import mass, ng_of, say, say_text
    from ledger.plant.assumed import per_cent

    terms = document["terms"]
    words = [f"Title: {terms['title'] or 'not stated'}."]
    words += [f"Owed by {'the declared content' if terms['owed'] == 'declared' else 'our own determination'}."]
    if terms["limit"] is not None:
        words.append(f"Limit {mass(ng_of(terms['limit']), asked.unit)} {asked.unit}.")
    from fractions import Fraction

    allowed = f"{mass(ng_of(document['allowance']), asked.unit)} {asked.unit}"
    words.append(f"Loss allowance {per_cent(Fraction(terms['loss_allowance']))}: {allowed} on what came in.")
    say_text(" ".join(words))
    say()
