"""``lemel audit counts``: how true counts found the record, who counted, and when nobody was warned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

Period = Annotated[
    str | None, typer.Argument(metavar="[PERIOD]", help="One period. Left out: all of the book.", show_default=False)
]
Rows = Annotated[int, typer.Option("--rows", metavar="N", min=1, help="Rows to print of a long list.")]


def counts(
    period: Period = None, area: options.Area = None, rows: Rows = 25, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Say how true counts found the record.

    Questions 2, 15, 16, 17 and 29. Accuracy by period: lots of which the record was true, of all listed or not found.
    Each count with who took part, and whether the area's keeper did; the last count that nobody was warned of.

    Example:  lemel audit counts 2026-09
    """
    from ledger.audit.counts import counts_document
    from ledger.faces.audit_page import say_document
    from ledger.faces.cli.asking import asking

    with asking(book, metal, unit) as asked:
        of = options.area_of(asked.inquiry.facts, area)
        with options.called_wrongly("PERIOD"):
            document = counts_document(asked.inquiry, period, of)
    if json:
        say_document(asked, document)
    else:
        _say(asked, document, rows)


def _say(asked: Asked, document: dict[str, Any], rows: int) -> None:
    from ledger.faces.audit_page import at, count_of, day, fine, number, per_cent, say_end, say_rows, text, yes
    from ledger.faces.printing import say, say_text

    say_text(f"Counts, {asked.head}; a difference is + where metal is missing")
    say()
    say_rows("How true the record was found", document["by_period"], (
        text("period", "period"), number("counts", "counts"), number("lots", "lots"), number("weighed", "weighed"),
        number("true", "true"), per_cent("accuracy", "accuracy"), count_of("not found", "not found"),
        count_of("off", "re-weighing difference"), count_of("twice", "listed twice"),
        count_of("elsewhere", "counted where it is not recorded"), count_of("unknown", "unknown lot counted"),
    ), shown=rows)  # fmt: skip
    say_rows("Each count", [_named(c) for c in document["counts"]], (
        text("area", "area"), at("at", "at"), text("what", "what"), number("lots", "lots"),
        fine("missing", "missing", asked.unit), fine("over", "over", asked.unit), text("by", "hands"),
        text("keeper", "keeper"), yes("took part", "keeper_took_part"),
    ), shown=rows)  # fmt: skip
    say_rows("Last count that nobody was warned of", document["spot_counts"], (
        text("area", "area"), number("counts", "spot_counts"), day("last", "last"), number("days ago", "days"),
    ), shown=100)  # fmt: skip
    say_text("Off: weighs otherwise than its scale's error explains. Lots whose seal was intact are listed, not "
             "weighed. By: who counted, then who witnessed.")  # fmt: skip
    say_end(asked, of_people=True)


def _named(count: dict[str, Any]) -> dict[str, Any]:
    what = "take-on" if count["take_on"] else "spot" if count["spot"] else "ended" if count["ended"] else "not ended"
    return {**count, "what": what, "hands": " ".join(dict.fromkeys((*count["by"], *count["witness"])))}
