"""Metal in others' hands and others' metal in ours: what to have confirmed, and whose the metal in each place is."""

from __future__ import annotations

from ledger.audit.inquiry import Document, Inquiry, summed
from ledger.balance.daily.exceptions import sent_now
from ledger.book.amounts import Amounts
from ledger.book.holdings import Held, stock
from ledger.quantities.mass import grams_text

_PARTIES = """
    SELECT party, terms, metal, sum(ng) FROM posting WHERE class = 'party' AND (?1 IS NULL OR instant <= ?1)
    GROUP BY party, terms, metal HAVING sum(ng) <> 0 ORDER BY party, terms"""

_OWN = "SELECT metal, sum(ng) FROM posting WHERE class = 'own' AND (?1 IS NULL OR instant <= ?1) GROUP BY metal"

_LAST_OUTSIDE = """
    SELECT l.area, max(t.instant) FROM line AS l JOIN ticket AS t ON t.seq = l.ticket
    WHERE ?1 IS NULL OR t.instant <= ?1 GROUP BY l.area"""


def balances(inquiry: Inquiry, instant: int | None) -> dict[tuple[str, str], Amounts]:
    """Return what stands on each party's account, (party, terms) → amounts: + owed to us, − owed by us."""
    found: dict[tuple[str, str], Amounts] = {}
    for party, terms, metal, ng in inquiry.connection.execute(_PARTIES, (instant,)):
        found.setdefault((party, terms), [0] * len(inquiry.metals))[inquiry.metals.index(metal)] = ng
    return found


def own_stake(inquiry: Inquiry, instant: int | None) -> Amounts:
    """Return the plant's own stake by metal, as it is printed: + ours."""
    found = dict(inquiry.connection.execute(_OWN, (instant,)))
    return [-found.get(metal, 0) for metal in inquiry.metals]


def holdings_document(inquiry: Inquiry, instant: int | None) -> Document:
    """Return what third parties are asked to confirm: lots in outside areas, and every party's metal account."""
    held = stock(inquiry.connection, inquiry.facts, None, instant)
    last = dict(inquiry.connection.execute(_LAST_OUTSIDE, (instant,)))
    outside = [area for area in inquiry.setup.area if area.outside]
    parties = inquiry.setup.parties
    return {
        "metal": inquiry.metal, "at": instant and inquiry.text(instant),
        "outside": [
            {"area": area.code, "holder": area.holder, **_of_lots(inquiry, [h for h in held if h.area == area.code]),
             "last_ticket_at": last.get(area.code) and inquiry.text(last[area.code])}
            for area in outside
        ],
        "lots": [_lot(inquiry, h) for h in held if h.area in {area.code for area in outside}],
        "accounts": [
            {"party": party, "role": parties[party].role if party in parties else None, "terms": terms,
             "owed_by_us": grams_text(max(-amounts[inquiry.index], 0)),
             "owed_to_us": grams_text(max(amounts[inquiry.index], 0)), "as_posted": inquiry.grams(amounts)}
            for (party, terms), amounts in balances(inquiry, instant).items()
        ],
        "in_transit": [] if instant is not None else [
            {"lot": s.lot, "move": s.move, "from": s.from_, "to": s.to, "since": inquiry.text(s.since),
             "fine": grams_text(s.amounts[inquiry.index])} for s in sent_now(inquiry.connection)
        ],
    }  # fmt: skip


def _of_lots(inquiry: Inquiry, held: list[Held]) -> Document:
    whole = summed((h.amounts for h in held), len(inquiry.metals))
    estimated = sum(h.amounts[inquiry.index] for h in held if h.estimated)
    return {"lots": len(held), "gross": grams_text(whole[0]), "fine": grams_text(whole[inquiry.index]),
            "estimated": grams_text(estimated)}  # fmt: skip


def _lot(inquiry: Inquiry, held: Held) -> Document:
    return {"area": held.area, "lot": held.described.lot, "what": held.described.what, "basis": held.basis,
            "gross": grams_text(held.amounts[0]), "fine": grams_text(held.amounts[inquiry.index])}  # fmt: skip


# ------------------------------------------------------------------------------------------------------ whose it is


def owners_document(inquiry: Inquiry, instant: int | None) -> Document:
    """Return whose the metal in each place is, as far as lots are segregated, and the accounts that claim the rest.

    Commingled metal belongs to nobody's account in one place: the accounts together claim it.
    """
    held = stock(inquiry.connection, inquiry.facts, None, instant)
    owners = sorted({h.described.owner for h in held if h.described.owner})
    places = []
    for area in inquiry.facts.areas:
        own = [h for h in held if h.area == area.code]
        whole = sum(h.amounts[inquiry.index] for h in own)
        segregated = {o: sum(h.amounts[inquiry.index] for h in own if h.described.owner == o) for o in owners}
        places.append({
            "area": area.code, "fine": grams_text(whole),
            "segregated": {o: grams_text(ng) for o, ng in segregated.items()},
            "commingled": grams_text(whole - sum(segregated.values())),
        })  # fmt: skip
    claims = [{"whose": "own", "terms": None, "fine": grams_text(own_stake(inquiry, instant)[inquiry.index])}]
    claims += [
        {"whose": party, "terms": terms, "fine": grams_text(-amounts[inquiry.index])}
        for (party, terms), amounts in balances(inquiry, instant).items() if amounts[inquiry.index]
    ]
    return {"metal": inquiry.metal, "at": instant and inquiry.text(instant), "owners": owners, "places": places,
            "fine": grams_text(sum(h.amounts[inquiry.index] for h in held)), "claims": claims}  # fmt: skip
