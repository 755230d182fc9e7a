"""``lemel audit estimated``: what of a closing figure is an estimate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def estimated(
    at: options.At = None, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Say how much rests on estimates, and how good those were.

    Question 7. By area: the estimated share of what is recorded, by age in days. By stream: what earlier estimates
    turned out to be worth. lemel estimates lists them one by one.

    Example:  lemel audit estimated --at 2026-10-31
    """
    from ledger.audit.estimated import estimated_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        document = estimated_document(asked.inquiry, options.instant_of(asked.connection, at))
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import Column, day, fine, number, per_cent, say_end, say_rows, text
    from ledger.faces.printing import mass, ng_of, say, say_text

    unit = asked.unit
    some = Column("", "", lambda value: mass(ng_of(value), unit) if value.strip("0.") else "", left=False)
    ages = [Column(head, key, some.write, left=False) for head, key in
            (("to 30 d", "to_30_days"), ("to 90 d", "to_90_days"), ("to 1 y", "to_365_days"), ("older", "older"))]
    say_text(f"What rests on estimates, {asked.head}, {document['at'].replace('T', ' ')}")
    say()
    say_rows("By area and age", document["areas"], (
        text("area", "area"), fine("content", "fine", unit), fine("estimated", "estimated", unit),
        per_cent("share", "share", 2), *ages, day("oldest", "oldest")), shown=100,
        total={"fine": document["fine"], "estimated": document["estimated"], "share": document["share"]})  # fmt: skip
    if document["nominal"].strip("0."):
        say_text(f"Nominal besides, never assayed: {mass(ng_of(document['nominal']), unit)} {unit}.")
    ratio = [Column(head, key, lambda value: f"{value:.3f}", left=False) for head, key in
             (("ratio", "ratio"), ("from", "low"), ("to", "high"))]  # fmt: skip
    say_rows("Earlier estimates against what came", document["streams"], (
        text("whose", "whose"), text("class", "class"), number("pairs", "pairs"), fine("estimated", "estimated", unit),
        fine("brought", "brought", unit), *ratio, text("bias", "bias")), shown=100)  # fmt: skip
    say_text("Ratio: mean of brought ÷ estimated, with its 95 % interval; below 1 less came than was estimated.")
    say_end(asked)
