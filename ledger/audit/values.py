"""Value at risk: what the metal in each place was worth, day by day, at the price of the day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction

from ledger.audit.inquiry import Document, Inquiry, money_text
from ledger.book.amounts import Amounts

_PLACES = """
    SELECT area, instant, metal, sum(ng) FROM posting WHERE class = ? AND instant <= ? AND metal <> 'gross'
    GROUP BY area, instant, metal ORDER BY instant"""

#: What stands for metal between places.
TRANSIT = "in transit"


def value_document(inquiry: Inquiry, span: tuple[int, int]) -> Document:
    """Return the value of all booked metal in each place: at the end of a span, highest, on which day, and on average.

    Values are of days' ends, by the fixing that held on the day; a day before the first fixing has none.
    """
    calendar = inquiry.setups.calendar
    first, last = calendar.day(span[0]), calendar.day(span[1])
    found: dict[str, list[tuple[date, Fraction]]] = {}
    whole: list[tuple[date, Fraction]] = []
    unpriced = 0
    for day, stands in _days(inquiry, first, last, span[1]):
        values = {area: _worth(inquiry, amounts, day) for area, amounts in stands.items()}
        if any(value is None for value in values.values()):
            unpriced += 1
            continue
        for area, value in values.items():
            found.setdefault(area, []).append((day, value or Fraction(0)))
        whole.append((day, sum((v for v in values.values() if v), Fraction(0))))
    outside = {area.code for area in inquiry.setup.area if area.outside}
    order = [*(a.code for a in inquiry.setup.area), TRANSIT]
    return {
        "currency": inquiry.facts.currency, "from": str(first), "to": str(last), "days_without_price": unpriced,
        "places": [{"place": p, "outside": p in outside, **_figures(found[p])} for p in order if p in found],
        "plant": _figures(whole) if whole else None,
        "days": [{"day": str(day), "value": money_text(value)} for day, value in whole],
    }  # fmt: skip


def _days(inquiry: Inquiry, first: date, last: date, until: int) -> Iterator[tuple[date, dict[str, Amounts]]]:
    """Yield each day's end with what then stood in each place; of a place with nothing yet, nothing."""
    calendar = inquiry.setups.calendar
    rows = [(instant, area, metal, ng) for class_ in ("place", "transit") for area, instant, metal, ng in
            inquiry.connection.execute(_PLACES, (class_, until))
            for area in [area if class_ == "place" else TRANSIT]]  # fmt: skip
    rows.sort(key=lambda row: row[0])
    stands: dict[str, Amounts] = {}
    place, day = 0, first
    while day <= last:
        end = min(calendar.day_start(day + timedelta(days=1)) - 1, until)
        while place < len(rows) and rows[place][0] <= end:
            _, area, metal, ng = rows[place]
            stands.setdefault(area, [0] * len(inquiry.metals))[inquiry.metals.index(metal)] += ng
            place += 1
        yield day, stands
        day += timedelta(days=1)


def _worth(inquiry: Inquiry, amounts: Amounts, day: date) -> Fraction | None:
    total = Fraction(0)
    for metal, ng in zip(inquiry.facts.metals, amounts[1:], strict=True):
        fixing = inquiry.setup.price(metal, day) if ng else None
        if ng and fixing is None:
            return None
        total += ng * fixing.per_ng if fixing else 0
    return total


def _figures(days: list[tuple[date, Fraction]]) -> Document:
    highest = max(days, key=lambda each: each[1])
    mean = sum((value for _, value in days), Fraction(0)) / len(days)
    return {"end": money_text(days[-1][1]), "mean": money_text(mean), "highest": money_text(highest[1]),
            "highest_on": str(highest[0])}  # fmt: skip
