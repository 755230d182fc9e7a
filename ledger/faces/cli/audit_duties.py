"""``lemel audit duties``: who may do what, who did, and where duties that control each other met."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Period, Rows

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked


def duties(period: Period = None, rows: Rows = 60, book: options.Book = None, json: options.Json = False) -> None:
    """Say who did what, and which duties met in one person.

    Questions 11, 15 and 17. By person's code: rights of the set-up, areas kept, and what the tickets say they did; then
    conflicts: who keeps counted, who made assayed, who wrote reversed. Never a finding about a person.

    Example:  lemel audit duties 2026-10
    """
    from ledger.audit.duties import duties_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book) as asked, options.called_wrongly("PERIOD"):
        document = duties_document(asked.inquiry, period)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.audit.duties import DID
    from ledger.faces.audit_page import at, count_of, number, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    say_text(f"Who did what, {asked.inquiry.facts.name}: {document['period'] or 'all of the book'}")
    say()
    people = [{"person": p["person"], "keeps": " ".join(p["keeps"]), **p["did"]} for p in document["people"]]
    say_rows("On tickets", people, (
        text("person", "person"), text("keeps", "keeps"), *(count_of(what, what) for what in DID)), shown=rows)
    say_rows("May", [{**p, "rights": _rights(p["may"])} for p in document["people"]], (
        text("person", "person"), text("may", "rights")), shown=rows)
    say_rows("Duties that met in one person", document["conflicts"], (
        text("person", "person"), text("what", "what"), number("times", "times"), text("first", "first"),
        at("at", "first_at"), text("last", "last")), shown=rows)  # fmt: skip
    say_rows("Rights that meet in one person", [{**r, "two": " and ".join(r["rights"])} for r in document["rights"]],
             (text("person", "person"), text("rights", "two")), shown=rows)  # fmt: skip
    say_rows("Not entitled to what they did", document["not_entitled"], (
        text("ticket", "ticket"), at("at", "at"), text("what", "words")), shown=rows)
    without = ", ".join(f"{kind} {n}" for kind, n in document["without_witness"].items()) or "none"
    say_text(f"Without a witness, of the kinds where one is usual: {without}. Who weighs and who witnesses are never "
             "one: the book refuses it; so it does a count ended by the area's keeper.")  # fmt: skip
    say_end(asked, of_people=True)


def _rights(may: list[str] | None) -> str:
    return "not in the set-up" if may is None else ", ".join(may) or "nothing"
