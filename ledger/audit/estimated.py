"""What of a closing figure is an estimate: how much, how old, and how good earlier estimates of its stream were."""

from __future__ import annotations

from ledger.audit.inquiry import Document, Inquiry, share
from ledger.balance.daily.back_test import StreamTest, back_test
from ledger.balance.daily.estimates import OpenEstimate, open_estimates
from ledger.balance.daily.exceptions import sent_now
from ledger.book.holdings import stock
from ledger.quantities.mass import grams_text

#: Days after which an estimate falls into the next column of ages.
AGES = (30, 90, 365)


def estimated_document(inquiry: Inquiry, instant: int | None) -> Document:
    """Return, by area, what rests on estimates and its age in days, and each stream's back-test."""
    held = stock(inquiry.connection, inquiry.facts, None, instant)
    places = [(h.area, h.described.lot, h.amounts) for h in held]
    if instant is None:
        places += [("in transit", s.lot, s.amounts) for s in sent_now(inquiry.connection)]
    opened = open_estimates(inquiry.connection, places, instant)
    test = back_test(inquiry.connection, inquiry.metals, inquiry.metal, open_estimates(inquiry.connection, places))
    at = inquiry.last_instant() if instant is None else instant
    areas = dict.fromkeys(area for area, _, _ in places)
    whole, estimated = sum(a[inquiry.index] for _, _, a in places), sum(e.content(inquiry.index) for e in opened)
    nominal = sum(h.amounts[inquiry.index] for h in held if h.basis == "nominal")
    return {
        "metal": inquiry.metal, "at": inquiry.text(at), "fine": grams_text(whole), "estimated": grams_text(estimated),
        "share": share(estimated, whole), "nominal": grams_text(nominal), "nominal_share": share(nominal, whole),
        "areas": [_area(inquiry, area, [p for p in places if p[0] == area], opened, at) for area in areas],
        "lots": [_lot(inquiry, e, at) for e in opened],
        "streams": [_stream(s) for s in test.streams if s.pairs], "left_out": test.left_out,
    }  # fmt: skip


def _days(inquiry: Inquiry, since: int, at: int) -> int:
    calendar = inquiry.setups.calendar
    return (calendar.day(at) - calendar.day(since)).days


def _area(inquiry: Inquiry, area: str, places: list[tuple[str, str, list[int]]], opened: list[OpenEstimate], at: int
          ) -> Document:  # fmt: skip
    own = [e for e in opened if e.area == area]
    whole, estimated = sum(a[inquiry.index] for _, _, a in places), sum(e.content(inquiry.index) for e in own)
    ages = dict.fromkeys((*(f"to_{days}_days" for days in AGES), "older"), 0)
    for estimate in own:
        days = _days(inquiry, estimate.since, at)
        key = next((f"to_{limit}_days" for limit in AGES if days <= limit), "older")
        ages[key] += estimate.content(inquiry.index)
    return {"area": area, "fine": grams_text(whole), "estimated": grams_text(estimated),
            "share": share(estimated, whole), **{key: grams_text(ng) for key, ng in ages.items()},
            "oldest": inquiry.text(own[0].since) if own else None}  # fmt: skip


def _lot(inquiry: Inquiry, estimate: OpenEstimate, at: int) -> Document:
    return {"area": estimate.area, "lot": estimate.lot, "class": estimate.lot_class,
            "since": inquiry.text(estimate.since), "days": _days(inquiry, estimate.since, at),
            "estimated": grams_text(estimate.content(inquiry.index))}  # fmt: skip


def _stream(stream: StreamTest) -> Document:
    ratio = stream.ratio
    pairs = stream.pairs
    return {
        "whose": f"{stream.stream.area} {stream.stream.account}".strip(), "class": stream.stream.lot_class or None,
        "pairs": len(pairs), "estimated": grams_text(sum(p.estimated for p in pairs)),
        "brought": grams_text(sum(p.brought for p in pairs)), "ratio": ratio and round(ratio.mean, 6),
        "low": ratio and ratio.low and round(ratio.low, 6), "high": ratio and ratio.high and round(ratio.high, 6),
        "bias": stream.bias,
    }  # fmt: skip
