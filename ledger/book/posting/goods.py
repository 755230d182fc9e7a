"""Metal across the plant's border and between areas: open, receive, move, ship, sweep, discard."""

from __future__ import annotations

from fractions import Fraction

from ledger.book.amounts import ONE, Amounts, content, minus, negative
from ledger.book.draft import Draft
from ledger.book.lots import Valuation
from ledger.book.posting.assaying import mean_fineness, true_up
from ledger.book.posting.checks import known
from ledger.book.posting.composing import (
    every_metal,
    fineness_composition,
    needed_composition,
    stated_composition,
)
from ledger.book.posting.making import add_to_bin, make_lot, own_valuation
from ledger.book.posting.taking import Taken, known_lot, take
from ledger.book.posting.transit import send
from ledger.book.posting.weighing import check_scale, flag_transfer, metallic_ng
from ledger.book.tickets import Discard, Move, Open, Receive, Ship, Sweep
from ledger.book.tickets.lines import Line
from ledger.plant.people import Party
from ledger.quantities.fineness import parse_fineness
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible


def _new_metal(draft: Draft, area: str, line: Line, number: int, field: str, whose: str) -> Amounts:
    """Weigh a line that makes a lot and put the lot down; returns W. Posts only the place."""
    class_ = draft.setup.bins[line.bin].class_ if line.bin in draft.setup.bins else line.class_
    if class_ is not None:
        known(draft.setup.classes, class_, f"{field}.class")
    mass = metallic_ng(draft, line, field, class_, number=number)
    if mass is None:
        raise Impossible("the line was not weighed", 'add "mass"', field=f"{field}.mass")
    valuation, weighed = _valuation(draft, area, line, mass, field, whose)
    if line.bin is not None:
        lot = add_to_bin(draft, area, line, field, weighed, valuation, ())
    else:
        lot = make_lot(draft, area, line, field, valuation)
    draft.post("place", weighed, area=area, lot=lot.id, line=number)
    draft.write_line(number, "receive", area, lot, weighed, scale=line.scale, weighed_ng=mass)
    return weighed


def _valuation(
    draft: Draft, area: str, line: Line, mass: int, field: str, whose: str
) -> tuple[Valuation, Amounts]:
    stated = needed_composition(draft, line, field, mass)
    return own_valuation(draft, stated, whose, area), content(mass, stated.composition)


def post_open(ticket: Open, draft: Draft) -> None:
    """Take on a running plant: lots under their terms, dust, and party balances, against own or the party."""
    area = ticket.area
    known(draft.setup.areas, area, "area")
    draft.opened = area
    for i, line in enumerate(ticket.lots or ()):
        field = f"lots[{i}]"
        weighed = _new_metal(draft, area, line, i + 1, field, "dust")
        if line.terms in (None, "bought"):
            draft.post("own", negative(weighed), line=i + 1)
        else:
            party = known(draft.setup.parties, line.party or "", f"{field}.party")
            draft.post("party", negative(weighed), party=party.code, terms=line.terms, line=i + 1)
    if ticket.dust:
        for metal in ticket.dust:
            known(dict.fromkeys(draft.metals, True), metal, f"dust.{metal}")
        dust = [ticket.dust.get(metal, 0) for metal in draft.metals]
        draft.post("dust", dust, area=area)
        draft.post("own", negative(dust))
    for i, standing in enumerate(ticket.parties or ()):
        party = known(draft.setup.parties, standing.party, f"parties[{i}].party")
        owed = [standing.fine.ng if metal == standing.metal else 0 for metal in draft.metals]
        draft.post("party", owed, party=party.code, terms=standing.terms)
        draft.post("own", negative(owed))


def post_receive(ticket: Receive, draft: Draft) -> None:
    """Bought and returned metal at W; a party's own at V, with W − V as the receipt difference."""
    area = ticket.to
    known(draft.setup.areas, area, "to")
    party = known(draft.setup.parties, ticket.party, "party") if ticket.party is not None else None
    for i, line in enumerate(ticket.lots):
        field = f"lots[{i}]"
        weighed = _received(ticket, draft, line, i + 1, field)
        if ticket.terms in ("deposited", "leased"):
            assert party is not None
            given = _declared(draft, line, weighed, party, field)
            draft.post("party", negative(given), party=party.code, terms=ticket.terms, line=i + 1)
            draft.post("difference", minus(given, weighed), area=area, origin="transfer", line=i + 1)
            draft.lines[-1] = draft.lines[-1]._replace(given=given)
            flag_transfer(draft, line.scale, None, weighed[0], minus(weighed, given)[0], "the list", i + 1)
        elif ticket.terms == "returned" and party is not None and party.role == "refiner":
            draft.post("party", negative(weighed), party=party.code, terms="settled", line=i + 1)
        else:
            draft.post("own", negative(weighed), line=i + 1)


def _received(ticket: Receive, draft: Draft, line: Line, number: int, field: str) -> Amounts:
    """Make the lot; a returned one that the book knows keeps its number and its determination."""
    back = draft.lot(line.lot or "") if ticket.terms == "returned" else None
    if back is None or back.valuation.determination is None:
        return _new_metal(draft, ticket.to, line, number, field, "")
    if stated_composition(draft, line, field, None if line.content is None else 1) is not None:
        raise Impossible(f"lot {back.number} is known and has its determination",
                         "leave the composition out, or give the lot a number of its own", field=field)  # fmt: skip
    mass = metallic_ng(draft, line, field, back.class_, number=number) or 0
    weighed = content(mass, back.valuation.determination.composition)
    draft.post("place", weighed, area=ticket.to, lot=back.id, line=number)
    draft.write_line(number, "receive", ticket.to, back, weighed, scale=line.scale, weighed_ng=mass)
    return weighed


def _declared(draft: Draft, line: Line, weighed: Amounts, party: Party, field: str) -> Amounts:
    """Return V: the declared content where the party's terms owe by the list, else W."""
    if party.owed != "declared" or (line.declared_mass is None and line.declared_fineness is None):
        return weighed
    mass = line.declared_mass.ng if line.declared_mass is not None else weighed[0]
    if line.declared_fineness is None:
        lot = known_lot(draft, line, field)
        assert lot.valuation.determination is not None
        return content(mass, lot.valuation.determination.composition)
    return content(mass, fineness_composition(draft, line.declared_fineness, f"{field}.declared_fineness"))


def post_move(ticket: Move, draft: Draft) -> None:
    """Move lots between areas, by both readings: place(to) +V, difference(to) W − V."""
    from_, to = ticket.from_, ticket.to
    known(draft.setup.areas, from_, "from")
    known(draft.setup.areas, to, "to")
    for i, line in enumerate(ticket.lots):
        field, number = f"lots[{i}]", i + 1
        taken = take(draft, from_, line, field, number, "out")
        if ticket.in_transit:
            send(draft, taken.lot, taken.weighed, from_, to, number)
            continue
        check_scale(draft, line.received_scale, field, number)
        arrived = content(line.received_mass.ng, taken.composition) if line.received_mass else taken.weighed
        draft.post("place", arrived, area=to, lot=taken.lot.id, line=number)
        draft.post("difference", minus(taken.weighed, arrived), area=to, origin="transfer", line=number)
        draft.write_line(
            number, "in", to, taken.lot, arrived, scale=line.received_scale,
            weighed_ng=line.received_mass.ng if line.received_mass else None, given=taken.weighed,
        )  # fmt: skip
        if line.received_mass and (line.mass or line.gross):
            lost = taken.weighed[0] - arrived[0]
            flag_transfer(draft, line.scale, line.received_scale, arrived[0], lost, "the receiver's reading", number)


def post_ship(ticket: Ship, draft: Draft) -> None:
    """Ship sold or returned metal: own or the party +B, give-away W − B, never netted over lots."""
    known(draft.setup.areas, ticket.from_, "from")
    party = known(draft.setup.parties, ticket.party, "party")
    for i, line in enumerate(ticket.lots):
        field, number = f"lots[{i}]", i + 1
        taken = take(draft, ticket.from_, line, field, number, "out")
        billed = _billed(draft, line, taken, field)
        if ticket.terms == "sold":
            draft.post("own", billed, line=number)
        else:
            draft.post("party", billed, party=party.code, terms=ticket.against or "deposited", line=number)
        over = minus(taken.weighed, billed)
        draft.post("give-away", over, party=party.code, line=number)
        draft.lines[-1] = draft.lines[-1]._replace(given=billed)
        for metal, ng in zip(draft.metals, over, strict=True):
            if ng < 0:
                short = f"lot {taken.lot.number} holds {mass_text(-ng, 'g', 4)} g of {metal} less than billed"
                draft.flag("under-delivery", short, number)


def _billed(draft: Draft, line: Line, taken: Taken, field: str) -> Amounts:
    """Return B: content as billed; what ``billed`` does not state is as weighed."""
    if line.billed is None:
        return taken.weighed
    mass = taken.weighed[0]
    if isinstance(line.billed, str):
        stated = {draft.metals[1]: parse_fineness(line.billed)}
    else:
        stated = dict(line.billed)
        for metal in stated:
            if metal not in draft.metals[1:]:
                raise Impossible(f"{metal} is not a booked metal", "bill booked metals", field=f"{field}.billed")
    by_metal = (stated.get(metal) for metal in draft.metals[1:])
    kept = zip(by_metal, taken.weighed[1:], strict=True)
    return [mass, *(w if f is None else content(mass, (ONE, f))[1] for f, w in kept)]


def post_sweep(ticket: Sweep, draft: Draft) -> None:
    """Take dust up as lots: place +S, dust −S. An estimated sweep remembers whose dust it is."""
    known(draft.setup.areas, ticket.area, "area")
    for i, line in enumerate(ticket.lots):
        weighed = _new_metal(draft, ticket.area, line, i + 1, f"lots[{i}]", "dust")
        draft.post("dust", negative(weighed), area=ticket.area, line=i + 1)
        draft.lines[-1] = draft.lines[-1]._replace(side="sweep")


def post_discard(ticket: Discard, draft: Draft) -> None:
    """Throw metal away by assay: loss +M, difference R − M; an estimate's own part goes back to its origin."""
    known(draft.setup.areas, ticket.area, "area")
    for i, line in enumerate(ticket.lots):
        field, number = f"lots[{i}]", i + 1
        taken = take(draft, ticket.area, line, field, number, "out", reweigh=False)
        measured = _measured(draft, line, taken, field)
        draft.post("loss", measured, area=ticket.area, cause="discard", line=number)
        rest = true_up(draft, taken.lot, minus(taken.recorded, measured), number)
        draft.post("difference", rest, area=ticket.area, origin="revaluation", line=number)
        draft.lines[-1] = draft.lines[-1]._replace(given=measured)


def _measured(draft: Draft, line: Line, taken: Taken, field: str) -> Amounts:
    """Return M, the content thrown away, by results, stated content, or the lot's own measurement."""
    mass = taken.weighed[0]
    if line.content is not None:
        return [mass, *every_metal(draft, dict(line.content), f"{field}.content")]
    if line.results is not None:
        results: dict[str, Fraction] = {m: mean_fineness(s, f"{field}.results.{m}") for m, s in line.results.items()}
        return content(mass, (ONE, *every_metal(draft, results, f"{field}.results")))
    if taken.determination.basis == "measured":
        return taken.weighed
    raise Impossible(
        f"lot {taken.lot.number} was never assayed: how much metal is thrown away is not known",
        "give results or content; a known loss is never mixed with an unknown one", field=f"{field}.results",
    )  # fmt: skip

