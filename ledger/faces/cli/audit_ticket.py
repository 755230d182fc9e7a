"""``lemel audit ticket`` and ``tares``: one ticket as evidence, and the tares that weighings rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.cli.audit_counts import Period

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

Ticket = Annotated[str, typer.Argument(metavar="TICKET", help="The ticket's number.")]


def ticket(
    number: Ticket, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Show one ticket as evidence.

    Questions 18, 19 and 20. Who and when; each measured quantity with its standard uncertainty and what most of it is
    from; whether each scale was in control at that ticket, by the check weights before and after; how old each tare
    was; of work what loss was expected.

    Example:  lemel audit ticket HC-0012
    """
    from ledger.audit.weighed import ticket_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        document = ticket_document(asked.inquiry, number)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document)


def _say(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import say_end
    from ledger.faces.printing import say, say_text

    say_text(f"{document['ticket']}, {document['kind']}, {asked.head}")
    say_text(_who(document), indent="  ")
    for flag in document["flags"]:
        say_text(f"flagged: {flag['flag']}: {flag['words']}", indent="  ", first="  ")
    say()
    _say_lines(asked, document)
    _say_instruments(asked, document)
    _say_work(asked, document["work"])
    say_text("u: standard uncertainty, k = 1. In control: neither check weight beyond the action level of "
             "repeatability and sensitivity. What the set-up does not state is assumed: lemel setup show --assumed.")
    say_end(asked)


def _who(document: dict[str, Any]) -> str:
    words = [f"  at {document['at'].replace('T', ' ')}, by {document['by']}"]
    words += [f"{key} {document[key]}" for key in ("witness", "shift", "machine") if document[key]]
    words += [f"worked by {' '.join(document['workers'])}"] if document["workers"] else []
    words += [f"reversed by {document['reversed_by']}"] if document["reversed_by"] else []
    words += [f"corrects {document['corrects']}"] if document["corrects"] else []
    words += [document[key] for key in ("reason", "note") if document[key]]
    return "; ".join(words) + f"; hash {document['hash'][:16]}"


def _say_lines(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import Column, fine, say_rows, sigma, text

    unit = asked.unit
    mille = [Column(head, key, lambda value: f"{1000 * value:.3f}", left=False) for head, key in
             (("‰", "fineness"), ("u ‰", "u_fineness"))]  # fmt: skip
    say_rows("What was measured, and how well", document["lines"], (
        text("lot", "lot"), text("line", "side"), text("read", "read"), fine("mass", "mass", unit),
        sigma("u", "u_mass", unit), *mille, fine("content", "fine", unit), sigma("u", "u_fine", unit),
        text("most of it from", "largest")), none="nothing that stands", shown=100)  # fmt: skip


def _say_instruments(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import Column, fine, number, say_rows, text

    rows = []
    for scale in document["scales"]:
        checked = [scale["check_before"], scale["check_after"]]
        before, after = (f"{c['at'][:10]} {float(c['off']):+.4f}" if c else None for c in checked)
        rows.append({**scale, "before": before, "after": after})
    control = Column("in control", "in_control", lambda value: "yes" if value else "NO")
    say_rows("Scales", rows, (
        text("scale", "scale"), text("calibrated", "calibrated"), text("due", "due"),
        text("check before, off g", "before"), text("check after, off g", "after"), control))  # fmt: skip
    if document["containers"]:
        say_rows("Tares", document["containers"], (
            text("container", "container"), fine("tare, g", "tare", "g"), text("tared", "tared"),
            number("days before", "days")))  # fmt: skip


def _say_work(asked: Asked, work: dict[str, Any] | None) -> None:
    from ledger.faces.printing import mass, ng_of, say, say_text

    if work is None:
        return
    if work["own"] is None:
        say_text(f"{work['operation']}: its own difference is struck with the job, or with the first assay.")
        say()
        return
    unit = asked.unit
    expected = "none is stated" if work["expected"] is None else f"{mass(ng_of(work['expected']), unit)} {unit}"
    z = "–" if work["z"] is None else f"{work['z']:.1f}"
    own = f"{mass(ng_of(work['own']), unit)} {unit}"
    say_text(f"{work['operation']}: own difference {own}, expected {expected}, z {z}.")
    say()


def tares(period: Period = None, book: options.Book = None, json: options.Json = False) -> None:
    """List registered tares, their age and their use.

    Question 18. One tare error is shared by every weighing that takes it off.

    Example:  lemel audit tares
    """
    from ledger.audit.tares import tares_document
    from ledger.faces.audit_page import at, fine, number, say_document, say_end, say_rows, text
    from ledger.faces.cli.asking import asking
    from ledger.faces.printing import say, say_text

    with asking(book) as asked, options.called_wrongly("PERIOD"):
        document = tares_document(asked.inquiry, period)
    if json:
        say_document(asked, document)
        return
    say_text(f"Registered tares of {asked.inquiry.facts.name}")
    say()
    say_rows("Containers", document["containers"], (
        text("container", "container"), fine("tare, g", "tare", "g"), text("tared", "tared"), number("days", "days"),
        number("weighings", "weighings"), text("last", "last_ticket"), at("at", "last_at")), shown=200)  # fmt: skip
    say_text("Days: since it was tared, at the end of what was asked for.")
    say_end(asked)
