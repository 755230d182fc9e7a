"""``lemel audit roll``: from what was counted to what the book has, ticket by ticket."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

When = Annotated[
    str, typer.Argument(metavar="WHEN", help="The end of a period, of a day (2026-10-31), or a plant time.")
]


def roll(
    when: When, area: options.Area = None, book: options.Book = None, metal: options.Metal = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Roll the last count forward.

    Question 3. For each area: what its last ended count left, what came in and went out since, by kind of ticket, and
    what the book has then. Counted + in - out is the closing to the nanogram.

    Example:  lemel audit roll 2026-10-31
    """
    from ledger.audit.rolling import rolled_forward
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        only = options.area_of(asked.inquiry.facts, area)
        document = rolled_forward(asked.inquiry, _instant(asked, when))
    if only is not None:
        document["areas"] = [a for a in document["areas"] if a["area"] == only]
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, detail=only is not None)


def _instant(asked: Asked, when: str) -> int:
    if len(when) < 10:
        with options.called_wrongly("WHEN"):
            return asked.inquiry.span(when)[1]
    instant = options.instant_of(asked.connection, when)
    assert instant is not None
    return instant


def _say(asked: Asked, document: dict[str, Any], *, detail: bool) -> None:
    from ledger.faces.audit_page import at, fine, number, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    say_text(f"Counts rolled forward to {document['at'][:16].replace('T', ' ')}, {asked.head}")
    say()
    say_rows("Each area", document["areas"], (
        text("area", "area"), at("counted at", "counted_at"), fine("counted", "counted", asked.unit),
        fine("in", "in", asked.unit), fine("out", "out", asked.unit), fine("closing", "closing", asked.unit),
        number("tickets", "tickets"),
    ), shown=100)  # fmt: skip
    for row in document["areas"] if detail else ():
        say_rows(f"{row['area']} since count {row['count'] or '–'}", row["by_kind"], (
            text("kind", "kind"), number("tickets", "tickets"), fine("in", "in", asked.unit),
            fine("out", "out", asked.unit)), shown=100)  # fmt: skip
    say_end(asked)
