"""What would go unseen, for people: a table over the areas, or one area with what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.printing import Table, mass, say, say_table, say_text

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts

Document = dict[str, Any]

#: Who reads this page well knows what he could take.
KEEP: Final = "This page says how much could be taken unseen: keep it with whoever answers for the metal."

_SHORT: Final = {
    "reading": "finer readings on {}", "sensitivity": "{} calibrated more closely", "tare": "tare of {} anew",
    "measured": "more assays by {}", "bias": "bias of {} halved", "count": "counts twice as often",
}  # fmt: skip


def say_unseen(document: Document, facts: PlantFacts, unit: str) -> None:
    """Print the page."""
    say_text(f"What would go unseen at {document['plant']}: {document['metal']}, in {unit}")
    say_text(f"The smallest loss that the month-end tests find with {document['probability']:.0%} probability within "
             f"so many periods. Taken for granted: {document['assumes']}.")  # fmt: skip
    areas = document["areas"]
    told = [area for area in areas if area["reason"] is None]
    if len(areas) == 1 and told:
        _say_area(told[0], facts, unit)
    elif told:
        say()
        _say_table(told, document["horizons"], unit)
        say()
        _say_mends(told)
    say()
    for area in areas:
        if area["reason"] is not None:
            say_text(f"{area['area']}: {area['reason']}")
            say()
    say_text(KEEP)


def _grams(value: float | None, unit: str) -> str:
    return "" if value is None else mass(round(value * 1e9), unit)


def _say_table(areas: Sequence[Document], horizons: Sequence[int], unit: str) -> None:
    heads = ("area", *(f"once, {h}" for h in horizons), *(f"monthly, {h}" for h in horizons[1:]), "ticket", "lot")
    table = Table(heads)
    for area in areas:
        once, monthly = ({s["within"]: s["size"] for s in area[kind]} for kind in ("single", "trickle"))
        alone = ((area[kind] or {}).get("size") for kind in ("ticket", "lot"))
        sizes = (*(once.get(h) for h in horizons), *(monthly.get(h) for h in horizons[1:]), *alone)
        table.add(area["area"], *(_grams(size, unit) for size in sizes))
    say_table(table.without_empty_columns())
    say()
    say_text("once, 3: taken at once, found within 3 periods; monthly: taken every month; ticket, lot: from one work "
             "ticket, or one lot before it is weighed again, found by its own test (the middle one).")  # fmt: skip


def _say_mends(areas: Sequence[Document]) -> None:
    table = Table(("area", "what lowers it most", "once", "monthly"), frozenset((0, 1)))
    for area in areas:
        best = [min(area["measures"], key=lambda m: m[kind], default=None) for kind in ("single", "trickle")]
        for measure in [m for i, m in enumerate(best) if m is not None and m not in best[:i]]:
            table.add(area["area"], _short(measure), _less(measure["single"]), _less(measure["trickle"]))
    say_table(table)
    say()
    say_text("By how much less is found then: once, in proportion to a period's σ; monthly, by the best test over the "
             "longest horizon. Each better by half: lemel unseen AREA says how.")  # fmt: skip


def _short(measure: Document) -> str:
    return _SHORT[measure["kind"]].format(measure["of"] or "an unnamed method")


def _less(factor: float) -> str:
    return "–" if factor > 0.995 else f"−{1 - factor:.0%}"


def _say_area(area: Document, facts: PlantFacts, unit: str) -> None:
    say()
    say_text(f"{area['area']}, by {area['from']} to {area['to']}: σ of a period {_grams(area['sigma'], unit)} {unit}; "
             f"most of it {area['largest_source']['source']} ({area['largest_source']['share']:.0%} of the variance)."
             )  # fmt: skip
    money = facts.currency if any(s["money"] is not None for s in area["single"]) else ""
    table = Table(("taken", "within", "found from", money, "false alarm", "best test", "of best"), frozenset((0,)))
    for kind, words in (("single", "at once"), ("trickle", "every month")):
        for one in area[kind]:
            table.add(words, f"{one['within']}", _grams(one["size"], unit), _money(one["money"]),
                      f"{one['false_alarm']:.2%}", _grams(one["optimum"], unit),
                      f"{one['of_optimum']:.2f}")  # fmt: skip
    say()
    say_table(table.without_empty_columns())
    say()
    _say_single_tests(area, facts, unit)
    if area["measures"]:
        say()
        say("What would lower it, at once and every month:")
        for measure in area["measures"]:
            lead = f"{_less(measure['single']):>5} {_less(measure['trickle']):>5}"
            say_text(f"{lead}  {measure['measure']}", " " * 13, "")
    else:
        say_text(f"No scale, assay, tare or count lowers it; what would: {area['largest_source']['mend']}.")


def _say_single_tests(area: Document, facts: PlantFacts, unit: str) -> None:
    for kind, words in (("ticket", "From one work ticket"), ("lot", "From one lot, before it is weighed again")):
        one = area[kind]
        if one is not None:
            money = f", {_money(one['money'])} {facts.currency}" if one["money"] is not None else ""
            say_text(f"{words}: {_grams(one['size'], unit)} {unit}{money}, the middle of {one['tests']:,} in the last "
                     "period, by its own test.")  # fmt: skip


def _money(amount: float | None) -> str:
    return "" if amount is None else f"{amount:,.0f}" if amount >= 10 else f"{amount:.2f}"
