"""A settlement as tickets: the `settle` ticket, and, where metal is sold, what moves on paper by it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from ledger.bench.settle import Settled, SettledLot
from ledger.bench.settle_figures import figure, grams
from ledger.bench.settle_terms import Lot
from ledger.plant.assumed import exact
from ledger.quantities.mass import decimal_text

Document = dict[str, Any]


def settle_ticket(settled: Settled, common: Mapping[str, str], area: str, metals: Sequence[str] = ()) -> Document:
    """Return the `settle` ticket of an out-turn, ready to be entered.

    ``common``: ticket, at, by, and witness and note where there are any. ``metals``: the book's; one that was not
    settled for is agreed as nothing.
    """
    heading = settled.out_turn.heading
    lines = [_line(settled, lot, metals) for lot in settled.lots]
    return {"ticket": common["ticket"], "kind": "settle", **{k: v for k, v in common.items() if k != "ticket"},
            "area": area, "party": heading.party, "lots": lines}  # fmt: skip


def metallic_ng(lot: Lot) -> int:
    """Return the metallic mass that the book makes of a lot's ticket line: melted, metallic, or dry, ng."""
    if lot.melted is not None:
        return sum(lot.melted)
    if lot.metallic is not None:
        return lot.metallic
    return round(lot.received * (1 - (lot.moisture or 0)))


def agreed_ng(lot: SettledLot, metals: Sequence[str]) -> list[int]:
    """Return A as the book will read it off the ticket, ng, in the book's order of metals, gross first."""
    agreed = {m.metal: round(m.agreed) for m in lot.metals}
    return [metallic_ng(lot.lot), *(agreed.get(metal, 0) for metal in metals)]


def _line(settled: Settled, lot: SettledLot, metals: Sequence[str]) -> Document:
    step = settled.out_turn.rounding.mass
    said = lot.lot
    line: Document = {"lot": said.lot, "received": grams(said.received)}
    if said.melted is not None or said.metallic is not None:
        line["metallic"] = grams(metallic_ng(said))
    elif said.moisture is not None:
        line["moisture"] = f"{exact(said.moisture * 100)}%"
    nothing = dict.fromkeys(metals, "0.0 g")
    line["agreed"] = nothing | {m.metal: step.text(m.agreed) for m in lot.metals}
    line["payable"] = nothing | {m.metal: step.text(m.payable) for m in lot.metals}
    line["assays"] = dict(_assays(lot))
    if settled.out_turn.heading.pay == "pool":
        line["terms"] = "pool"
    return line


def _assays(lot: SettledLot) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield whose assay, and the means by metal to 0.0001 ‰; the ticket keeps them, the sum is not taken from there."""
    for whose in ("ours", "theirs", "umpire"):
        means = {m.metal: getattr(m, whose) for m in lot.metals}
        shown = {metal: _share(mean) for metal, mean in means.items() if mean is not None}
        if shown:
            yield whose, shown


def _share(fineness: Fraction) -> str:
    return f"{decimal_text(fineness * 1000, 4)}‰"


def sale_tickets(settled: Settled, common: Mapping[str, str], numbers: Sequence[str]) -> list[Document]:
    """Return the `transfer` tickets by which payable metal is sold to the refiner, one for each metal that is payable.

    ``numbers``: as many ticket numbers as `sold_metals` gives metals.
    """
    heading, step = settled.out_turn.heading, settled.out_turn.rounding.mass
    prices = {terms.metal: terms for terms in settled.out_turn.metals}
    return [
        {
            "ticket": number, "kind": "transfer", **{k: v for k, v in common.items() if k in ("at", "by", "witness")},
            "from": {"party": heading.party, "terms": "settled"}, "to": "own", "metal": metal,
            "fine": step.text(settled.payable(metal)), "price": _price(prices[metal].price, prices[metal].price_per,
            heading.currency), "reference": common["ticket"],
        }
        for number, metal in zip(numbers, sold_metals(settled), strict=True)
    ]  # fmt: skip


def sold_metals(settled: Settled) -> list[str]:
    """Return the metals that are sold to the refiner: none but where the terms pay in money."""
    if settled.out_turn.heading.pay != "money":
        return []
    return [terms.metal for terms in settled.out_turn.metals if settled.payable(terms.metal) > 0]


def _price(price: Fraction | None, per: str, currency: str) -> str:
    return f"{figure(price or Fraction(0), 15)} {currency}/{per}".replace(" /", "/")
