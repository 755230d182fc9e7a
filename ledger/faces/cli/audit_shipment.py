"""``lemel audit shipment``: mark against assay, give-away and waste of what was shipped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

What = Annotated[str, typer.Argument(metavar="TICKET|LOT", help="A ship ticket, or a lot that was shipped.")]


def shipment(
    what: What, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Show what was in a shipment, against its mark.

    Questions 30 and 31. Content by the lot's own determination with its uncertainty, the mark's, what was given away;
    the layer's share of the weight; the assays on the way; the waste of its making with its value, and of which metal
    it was made.

    Example:  lemel audit shipment HC-0039
    """
    from ledger.audit.shipment import shipment_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        document = shipment_document(asked.inquiry, what)
    if json:
        say_document(asked, document)
        return
    _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import say_end
    from ledger.faces.printing import say, say_text

    say_text(f"{document['ticket']} to {document['party']}, {document['terms']}, {asked.head}")
    say_text(f"  at {document['at'].replace('T', ' ')}, by {document['by']}, witness {document['witness'] or '–'}")
    say()
    for lot in document["lots"]:
        _say_lot(asked, lot, document["currency"])
    say_text("Met or not: told apart from the mark by more than two standard uncertainties. Tolerances of marking laws "
             "are not applied: arithmetic, no legal advice. Waste: the part of each work ticket's own difference that "
             "goes with this lot's content; what swept dust brought back is not taken off.")  # fmt: skip
    say_end(asked)


def _say_lot(asked: Asked, lot: dict[str, Any], currency: str) -> None:
    from ledger.faces.audit_page import day, fine, say_rows, text
    from ledger.faces.printing import mass, ng_of, say, say_text

    def said(key: str) -> str:
        return f"{mass(ng_of(lot[key]), asked.unit)} {asked.unit}"

    unit, metal = asked.unit, asked.inquiry.metal
    u = mass(round(lot["u_fine"] * 10**9), unit)
    say_text(f"{lot['lot']}: {said('gross')} gross, {said('fine')} of {metal}, u {u} {unit}: {lot['fineness']} ‰.")
    say_text(f"billed as {lot['billed_as'] or 'weighed'}: {said('billed')}, {lot['billed_fineness']} ‰; given away "
             f"{said('given_away')}. The mark is: {lot['verdict']}.", indent="  ", first="  ")  # fmt: skip
    if lot["layer_share"] is not None:
        say_text(f"layer of {lot['layer_fineness']} ‰: {lot['layer_share']:.6f} of the weight, by the mark "
                 f"{lot['mark_share'] or '–'}", indent="  ", first="  ")  # fmt: skip
    known = lot["determination"]
    rests = ", ".join(f"{n} {basis}" for basis, n in sorted(known["rests_on"].items()))
    how = " ".join(word for word in (known["basis"], known["method"]) if word)
    say_text(f"known: {how} by {known['ticket']} of {known['at'].replace('T', ' ')}"
             + (f"; rests on {rests}" if rests else ""), indent="  ", first="  ")  # fmt: skip
    say()
    assays = [{**a, "values": _values(a["results"])} for a in lot["assays"]]
    say_rows("Assays on the way, nearest first", assays, (
        text("ticket", "ticket"), text("lot", "lot"), day("on", "at"), text("method", "method"),
        text("found", "values")))  # fmt: skip
    worth = "" if lot["waste_value"] is None else f", worth {lot['waste_value']} {currency}"
    say_rows(f"Waste of its making: {said('waste')}{worth}",
             [{"operation": o, "ng": ng} for o, ng in lot["waste_by_operation"].items()],
             (text("operation", "operation"), fine("waste", "ng", unit)))  # fmt: skip
    say_rows("Made of", lot["made_of"], (text("what", "what"), text("lot", "lot"), fine("content", "fine", unit)))


def _values(results: list[list[str]] | None) -> str:
    """Return an assay's determinations, samples apart."""
    return " | ".join(" ".join(replicates) for replicates in results or ())
