"""``lemel audit purity``: how the fineness of what is on hand is known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Rows

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def purity(
    area: options.Area = None, at: options.At = None, rows: Rows = 40, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Say how each lot's fineness is known.

    Questions 5 and 26. Basis, method, laboratory, date and ticket, samples and determinations; of a calculated one the
    determinations that it rests on. And what share of the content rests on what.

    Example:  lemel audit purity --area VAULT
    """
    from ledger.audit.purity import purity_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        of = options.area_of(asked.inquiry.facts, area)
        document = purity_document(asked.inquiry, options.instant_of(asked.connection, at), of)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.faces.audit_page import day, fine, number, per_cent, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    say(f"How fineness is known, {asked.head}")
    say()
    say_rows("What the content rests on", document["by_basis"], (
        text("basis", "basis"), number("lots", "lots"), fine("content", "fine", asked.unit),
        per_cent("share", "share", 2)), total={"fine": document["fine"]})  # fmt: skip
    lots = [_worded(row) for row in document["lots"] if row["fine"].strip("0.")]
    say_rows("Lots that hold any", lots, (
        text("area", "area"), text("lot", "lot"), fine("content", "fine", asked.unit), text("‰", "fineness"),
        text("known by", "known"), day("on", "at"), text("ticket", "ticket")), shown=rows)  # fmt: skip
    say_text("2 × 3: two samples, three determinations each on average. Calculated: in brackets how many "
             "determinations it rests on, to the last.")  # fmt: skip
    say_end(asked)


def _worded(row: dict[str, Any]) -> dict[str, Any]:
    """Return a lot with how it is known in a few words: method, samples × determinations; or what it rests on."""
    known = row["basis"] or "not at all"
    if row["method"]:
        known = row["method"]
    if row["samples"]:
        known += f" {row['samples']} × {row['determinations'] / row['samples']:g}"
    if row["rests_on"]:
        known += " (" + ", ".join(f"{n} {basis}" for basis, n in sorted(row["rests_on"].items())) + ")"
    return {**row, "known": known}
