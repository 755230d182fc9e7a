"""``lemel audit evaluate``: what a sample found, and what that bounds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import audit_sample as of
from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.audit.inquiry import Inquiry
    from ledger.audit.sample import Plan
    from ledger.faces.audit_page import Asked

File = Annotated[Path, typer.Argument(metavar="FILE", help="The worksheet, filled in: CSV.")]


def evaluate(
    what: of.What, file: File, seed: of.Seed = "", size: of.Size = None, risk: of.Risk = "5%",
    tolerable: of.Tolerable = "5%", expected: of.Expected = "0%", by: of.By = "fine", at: options.At = None,
    period: of.Period = None, kind: of.Kind = None, book: options.Book = None, metal: options.Metal = None,
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Evaluate a sample: projected error and upper limit.

    Question 13. Give the options that the sample was drawn with: it is drawn anew, and the file brings only what was
    found. Lots: Stringer's bound, missing and over apart. Tickets and the floor: the exact binomial limit.

    Example:  lemel audit evaluate lots found.csv --seed "Brill 2026" --tolerable 5%
    """
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    of.known(what)
    with asking(book, metal, unit) as asked:
        plan = of.plan_of(seed, size, risk, tolerable, expected)
        instant = options.instant_of(asked.connection, at)
        document = _evaluated(asked.inquiry, plan, what, instant, file, of.by_value(by), period, kind)
    if json:
        say_document(asked, document)
    elif what == "lots":
        _say_lots(asked, document)
    else:
        _say_rate(asked, document)


def _evaluated(inquiry: Inquiry, plan: Plan, what: str, instant: int | None, file: Path, value: bool,
               period: str | None, kind: str | None) -> dict[str, Any]:  # fmt: skip
    from ledger.audit import evaluation, sample

    if what == "lots":
        return evaluation.evaluate_lots(inquiry, plan, instant, file, by_value=value)
    if what == "floor":
        return evaluation.evaluate_floor(inquiry, plan, instant, file)
    with options.called_wrongly("--period"):
        span = inquiry.span(period)
    return evaluation.evaluate_tickets(inquiry, plan, sample.tickets_between(inquiry, span, kind), file)


def _say_lots(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import figure, fine, say_end, say_rows, text, yes
    from ledger.faces.printing import say, say_text

    unit = "g" if document["by"] == "fine" else asked.inquiry.facts.currency
    say_text(f"Found of the sample, {asked.head}; a difference is + where metal is missing")
    say()
    off = [row for row in document["items"] if row["difference"].strip("-0.")]
    say_rows(
        f"{len(document['items'])} lots looked at, {len(off)} with a difference", off,
        (text("area", "area"), text("lot", "lot"), fine("recorded", "recorded", asked.unit),
         fine("found", "found", asked.unit), fine("difference", "difference", asked.unit),
         figure("taint", "taint", 4), yes("assayed", "assayed")),
    )  # fmt: skip
    rows = [{"way": words, **document[way]} for way, words in (("missing", "record too high"), ("over", "too low"))]
    say_rows(
        f"Projected, in {unit}", rows,
        (text("", "way"), figure("known", "known", 3), figure("projected", "projected", 3),
         figure("upper limit", "upper", 3)),
    )  # fmt: skip
    plan = document["plan"]
    verdict = "holds" if document["holds"] else "does not hold: look at more, or at why"
    say_text(f"Whole {document['whole']:,.3f} {unit}, tolerable {document['tolerable']:,.3f}. At a risk of "
             f"{plan['risk']:.0%} the record {verdict}.")  # fmt: skip
    say_text("Known: of lots looked at for certain. Upper limit: known + Stringer's bound of the rest. What was not "
             "assayed is taken at the recorded fineness: such a lot is bounded in mass, not in fineness.")  # fmt: skip
    say_end(asked)


def _say_rate(asked: Asked, document: dict[str, Any]) -> None:
    from ledger.faces.audit_page import fine, say_end, say_rows, text
    from ledger.faces.printing import say, say_text

    say_text(f"Found of the sample, {asked.inquiry.facts.name}")
    say()
    off = [row for row in document["items"] if row["deviation"]]
    columns = (
        (text("ticket", "ticket"), text("remark", "remark")) if document["sample"] == "tickets" else
        (text("area", "area"), text("lot", "lot"), fine("found", "found", asked.unit),
         fine("recorded", "recorded", asked.unit), fine("difference", "difference", asked.unit),
         text("deviation", "deviation"))
    )  # fmt: skip
    say_rows("Deviations", off, columns)
    verdict = "holds" if document["holds"] else "does not hold: look at more, or at why"
    say_text(f"{document['deviations']} of {document['n']}; upper limit {document['upper']:.1%} at a risk of "
             f"{document['risk']:.0%}, tolerable {document['tolerable']:.1%}: the record {verdict}.")  # fmt: skip
    say_end(asked)
