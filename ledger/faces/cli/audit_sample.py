"""``lemel audit sample``: seeded samples of the record, of the floor and of tickets."""

from __future__ import annotations

import csv
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.audit.inquiry import Inquiry
    from ledger.audit.sample import Plan
    from ledger.faces.audit_page import Asked

What = Annotated[str, typer.Argument(metavar="WHAT", help="lots (record to floor), floor (floor to record), tickets.")]
Seed = Annotated[str, typer.Option("--seed", metavar="TEXT", help="Any text; the same gives the same sample.")]
Size = Annotated[
    int | None,
    typer.Option("--size", metavar="N", min=1, max=10_000, show_default=False,
                 help="Items. Left out: from risk, tolerable and expected; floor: 25."),
]  # fmt: skip
Risk = Annotated[str, typer.Option("--risk", metavar="SHARE", help="Risk of relying on a record that is wrong.")]
Tolerable = Annotated[str, typer.Option("--tolerable", metavar="SHARE", help="Of the whole, or of tickets.")]
Expected = Annotated[str, typer.Option("--expected", metavar="SHARE", help="Of the whole, or of tickets.")]
By = Annotated[str, typer.Option("--by", metavar="UNIT", help="Lots by fine content, or by value at the last fixing.")]
Period = Annotated[str | None, typer.Option("--period", metavar="PERIOD", help="Tickets of this period only.",
                                            show_default=False)]  # fmt: skip
Kind = Annotated[str | None, typer.Option("--kind", metavar="KIND", help="Tickets of this kind only.",
                                          show_default=False)]  # fmt: skip
Csv = Annotated[bool, typer.Option("--csv", help="Print the worksheet to fill in.")]


def sample(
    what: What, seed: Seed, size: Size = None, risk: Risk = "5%", tolerable: Tolerable = "5%",
    expected: Expected = "0%", by: By = "fine", at: options.At = None, period: Period = None, kind: Kind = None,
    csv_: Csv = False, book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None,
    json: options.Json = False,
) -> None:  # fmt: skip
    """Draw a sample that anybody can draw again.

    Questions 1 and 13. Lots are drawn by units of fine content (or value), tickets with equal chances, places on the
    floor by area and how far along. By SHA-256 of the seed alone: docs/auditor.md says how to repeat it by hand. Fill
    in what --csv prints, and give it to: lemel audit evaluate.

    Example:  lemel audit sample lots --seed "Brill 2026" --tolerable 5%

    Example:  lemel audit sample tickets --seed "Brill 2026" --kind ship --csv > ship.csv
    """
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    known(what)
    with asking(book, metal, unit) as asked:
        plan = plan_of(seed, size, risk, tolerable, expected)
        instant = options.instant_of(asked.connection, at)
        document = _drawn(asked.inquiry, plan, what, instant, by_value(by), period, kind)
    if csv_:
        _say_worksheet(document)
    elif json:
        say_document(asked, document)
    else:
        _SAY[what](asked, document)


def known(what: str) -> None:
    """Refuse what is nothing to sample."""
    from ledger.refusals import WrongUsage

    if what not in _SAY:
        raise WrongUsage(f"{what[:40]!r} is nothing to sample", "give lots, floor or tickets", field="WHAT")


def plan_of(seed: str, size: int | None, risk: str, tolerable: str, expected: str) -> Plan:
    """Return a plan from options; raises WrongUsage for a share that is none, or out of its range."""
    from ledger.audit.sample import Plan
    from ledger.quantities.fineness import parse_share
    from ledger.refusals import WrongUsage

    shares = {}
    for name, given in (("risk", risk), ("tolerable", tolerable), ("expected", expected)):
        with options.called_wrongly(f"--{name}"):
            shares[name] = parse_share(given)
        if name != "expected" and not 0 < shares[name] < 1:
            raise WrongUsage(f"{given} is no {name} share", "between 0 % and 100 %", field=f"--{name}")
    if size is None and shares["expected"] >= shares["tolerable"]:
        raise WrongUsage("no more can be expected than is tolerable", "expect less, or give --size", field="--expected")
    return Plan(seed, shares["risk"], shares["tolerable"], shares["expected"], size)


def by_value(by: str) -> bool:
    """Return whether units are of value; raises WrongUsage for anything but fine or value."""
    from ledger.refusals import WrongUsage

    if by not in ("fine", "value"):
        raise WrongUsage(f"{by[:40]!r} is no unit to sample by", "give fine or value", field="--by")
    return by == "value"


def _drawn(inquiry: Inquiry, plan: Plan, what: str, instant: int | None, value: bool, period: str | None,
           kind: str | None) -> dict[str, Any]:  # fmt: skip
    from ledger.audit import sample as samples

    if what == "lots":
        return samples.lots_document(inquiry, plan, instant, by_value=value)
    if what == "floor":
        return samples.floor_document(inquiry, plan)
    with options.called_wrongly("--period"):
        span = inquiry.span(period)
    return samples.tickets_document(inquiry, plan, span, kind)


# For people.


def _say_plan(asked: Asked, document: dict[str, Any], chosen: str) -> None:
    from ledger.faces.printing import say, say_text

    plan = document["plan"]
    why = "as given" if plan["size_given"] else (
        f"risk {plan['risk']:.0%}, tolerable {plan['tolerable']:.2%}, expected {plan['expected']:.2%}")  # fmt: skip
    say_text(f"{chosen}, seed {plan['seed']!r}: {plan['size']} ({why})")
    say()


def _say_lots(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import fine, say_end, say_rows, text
    from ledger.faces.printing import mass, ng_of, say, say_text

    inquiry, population = asked.inquiry, document["population"]
    say_text(f"From the record to the floor, {asked.head}, {document['at'] or 'now'}")
    _say_plan(asked, document, f"units of {document['by']}")

    def written(size: str) -> str:
        if document["by"] == "fine":
            return f"{mass(ng_of(size), asked.unit)} {asked.unit}"
        return f"{size} {inquiry.facts.currency}"

    interval = document["interval"]
    said = (f"every {written(interval)}, from {written(document['start'])} on" if interval
            else "every lot is looked at for certain")  # fmt: skip
    say_text(f"{population['lots']} lots on hand, in all {written(population['units'])}; {said}. "
             f"{document['without_units']} lots hold none and cannot be drawn: --metal gross reaches them.")
    say()
    items = [{**item, "area": item["area"] + ("*" if item["outside"] else ""), "why": _why(item)}
             for item in document["items"]]  # fmt: skip
    say_rows(f"Look at {len(items)} lots", items, (
        text("area", "area"), text("lot", "lot"), text("what", "what"), text("basis", "basis"),
        fine("gross", "gross", asked.unit), fine(inquiry.metal, "fine", asked.unit), text("why", "why")),
        shown=10_000)  # fmt: skip
    say_text("Certain: as large as the interval, or larger. *: in somebody else's hands, to be confirmed. An estimate "
             "cannot be confirmed by weighing.")  # fmt: skip
    say_end(asked)


def _why(item: dict[str, Any]) -> str:
    return "certain" if item["why"] == "certain" else "hit" if item["hits"] == 1 else f"hit {item['hits']} times"


def _say_floor(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import Column, number, say_end, say_rows, text
    from ledger.faces.printing import say_text

    say_text(f"From the floor to the record, {asked.inquiry.facts.name}")
    _say_plan(asked, document, "places on the floor")
    along = Column("along", "along", lambda value: f"{value:.4f}", left=False)
    say_rows("Begin at", document["items"], (number("pick", "pick"), text("area", "area"), along), shown=10_000)
    say_text("In that area count the lots from the door, m of them, and take the one numbered 1 + along × m, rounded "
             "down. Note its label, and weigh it. What is recorded there is not printed, on purpose. An area with "
             "nothing in it is an answer, too.")  # fmt: skip
    say_end(asked)


def _say_tickets(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import at, say_end, say_rows, text
    from ledger.faces.printing import say_text

    kind = document["kind"] or "all kinds"
    say_text(f"Tickets of {asked.inquiry.facts.name}: {kind}, {document['from'][:10]} to {document['to'][:10]}")
    _say_plan(asked, document, f"of {document['population']['tickets']:,} tickets")
    say_rows(
        "Look at", document["items"],
        (text("ticket", "ticket"), text("kind", "kind"), at("at", "at"), text("by", "by"), text("witness", "witness"),
         text("digest", "digest")), shown=10_000,
    )  # fmt: skip
    say_end(asked)


_SAY = {"lots": _say_lots, "floor": _say_floor, "tickets": _say_tickets}


def _say_worksheet(document: dict[str, Any]) -> None:
    """Print a worksheet: what was drawn, with empty cells for what is found."""
    out = csv.writer(sys.stdout, lineterminator="\n")
    if document["sample"] == "tickets":
        out.writerow(("ticket", "kind", "at", "deviation", "remark"))
        out.writerows((row["ticket"], row["kind"], row["at"], "", "") for row in document["items"])
    elif document["sample"] == "floor":
        out.writerow(("pick", "area", "along", "lot", "gross", "scale"))
        out.writerows((row["pick"], row["area"], row["along"], "", "", "") for row in document["items"])
    else:
        out.writerow(("area", "lot", "what", "gross", "fineness"))
        out.writerows((row["area"], row["lot"], row["what"], "", "") for row in document["items"])
