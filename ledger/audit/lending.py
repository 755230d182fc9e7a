"""A lender's questions: how much is lent, what of it is measured and where, is it covered, is it within its limit."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ledger.audit.holdings import balances, own_stake
from ledger.audit.inquiry import Document, Inquiry, money_text
from ledger.book.holdings import Held, stock
from ledger.quantities.mass import decimal_text, grams_text
from ledger.refusals import WrongUsage

#: What counts as known metal, in words of the set-up: assayed, or calculated from what is.
ASSAYED = ("measured", "calculated")


def lender_document(inquiry: Inquiry, party: str, instant: int | None, price: Fraction | None, facility: Fraction | None
                    ) -> Document:  # fmt: skip
    """Return a lender's account with its cover and its limit; raises WrongUsage for a party that is none, and gross.

    ``price``: money of a nanogram, instead of the last fixing; ``facility``: most money that may be on loan.

    Cover is (owned + leased) over leased, as the lender's terms put it: metal on hand that is assayed, or calculated
    from what is, without sweeps, dust and what is on its way, less what is owed to others than the lender; so others'
    metal never covers a loan.
    """
    known = inquiry.setup.parties.get(party)
    if known is None or inquiry.index == 0:
        what = f"there is no party {party[:64]!r}" if known is None else "gross is nobody's loan"
        raise WrongUsage(what, "the set-up has " + ", ".join(inquiry.setup.parties), field="PARTY")
    accounts = balances(inquiry, instant)
    lent = -sum(amounts[inquiry.index] for (of, _), amounts in accounts.items() if of == party)
    others = -sum(min(a[inquiry.index], 0) for (of, _), a in accounts.items() if of != party)
    held = stock(inquiry.connection, inquiry.facts, None, instant)
    counting = [h for h in held if _counts(inquiry, h)]
    assayed = sum(h.amounts[inquiry.index] for h in counting)
    cover = Fraction(assayed - others, lent) if lent > 0 else None
    return {
        "metal": inquiry.metal, "party": party, "role": known.role, "title": known.title,
        "at": instant and inquiry.text(instant), "lent": grams_text(lent),
        "own": grams_text(own_stake(inquiry, instant)[inquiry.index]),
        "held": [_by_basis(inquiry, held, basis) for basis in (*ASSAYED, "nominal", "estimated")],
        "where": _where(inquiry, counting), "assayed": grams_text(assayed), "owed_to_others": grams_text(others),
        "for_cover": grams_text(assayed - others),
        "cover": None if cover is None else decimal_text(cover, 4),
        **_limit(inquiry, lent, known.limit, instant, price, facility),
    }  # fmt: skip


def _counts(inquiry: Inquiry, held: Held) -> bool:
    """Return whether a lot counts for cover: assayed or calculated, and no sweeps: a dirty class is dust of work."""
    class_ = inquiry.setup.classes.get(held.described.class_ or "")
    return held.basis in ASSAYED and not (class_ is not None and class_.dirty)


def _by_basis(inquiry: Inquiry, held: Sequence[Held], basis: str) -> Document:
    own = [h for h in held if h.basis == basis]
    left_out = [h for h in own if not _counts(inquiry, h)]
    return {"basis": basis, "lots": len(own), "fine": grams_text(sum(h.amounts[inquiry.index] for h in own)),
            "not_counted": grams_text(sum(h.amounts[inquiry.index] for h in left_out))}  # fmt: skip


def _where(inquiry: Inquiry, counting: Sequence[Held]) -> list[Document]:
    sums: dict[tuple[str, str], tuple[int, int]] = {}
    for held in counting:
        key = (held.area, held.described.form or held.described.what)
        lots, fine = sums.get(key, (0, 0))
        sums[key] = (lots + 1, fine + held.amounts[inquiry.index])
    return [{"area": area, "form": form, "lots": lots, "fine": grams_text(fine)}
            for (area, form), (lots, fine) in sums.items() if fine]  # fmt: skip


def _limit(inquiry: Inquiry, lent: int, limit: int | None, instant: int | None, price: Fraction | None,
           facility: Fraction | None) -> Document:  # fmt: skip
    at = inquiry.last_instant() if instant is None else instant
    fixing = inquiry.setup.price(inquiry.metal, inquiry.setups.calendar.day(at))
    per_ng = price if price is not None else fixing.per_ng if fixing else None
    value = None if per_ng is None else lent * per_ng
    return {
        "limit": None if limit is None else grams_text(limit), "within_limit": None if limit is None else lent <= limit,
        "price_of": "given" if price is not None else str(fixing.date) if fixing else None, "value": money_text(value),
        "facility": money_text(facility),
        "within_facility": None if facility is None or value is None else bool(value <= facility),
    }  # fmt: skip
