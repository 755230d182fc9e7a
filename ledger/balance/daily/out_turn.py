"""A refiner's out-turn against the book: recorded less agreed content, each with its σ, and the refiner's history.

A difference R − A is positive where the refiner found less than the book has. σ of R comes from the book's own sources,
of A from what an agreed content is assumed to be worth; see docs/methods.md.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ledger.balance.daily.inference import Signs, sign_test
from ledger.balance.daily.settlements import Refiner, settlements
from ledger.balance.measurement.propagation import standings
from ledger.balance.measurement.standings import Standings
from ledger.balance.measurement.worth import z_score
from ledger.book import holdings
from ledger.book.amounts import Amounts
from ledger.book.holdings import Held
from ledger.book.setups import Setups
from ledger.refusals import Fault, Impossible

#: After every ticket of any book.
_ALL = 2**62


@dataclass(frozen=True, slots=True)
class OutTurnLine:
    """One lot of an out-turn as its ticket will have it: `received`, `moisture` or `metallic` as written, and A, ng.

    ``agreed``: in the book's order, gross (the metallic mass received) first.
    """

    lot: str
    document: Mapping[str, Any]
    agreed: Amounts


@dataclass(frozen=True, slots=True)
class AgainstBook:
    """One lot and metal: R recorded and A agreed, ng; σ of each and of R − A, ng; on what R rests."""

    lot: str
    metal: str
    basis: str
    recorded: int
    agreed: int
    sigma_recorded: float
    sigma_agreed: float
    sigma: float

    @property
    def difference(self) -> int:
        """R − A: + where the refiner found less."""
        return self.recorded - self.agreed

    @property
    def z(self) -> float | None:
        """(R − A)/σ; None where σ is 0."""
        return z_score(self.difference, self.sigma)


def against_book(
    connection: sqlite3.Connection, setups: Setups, area: str, party: str, instant: int, lines: Sequence[OutTurnLine]
) -> list[AgainstBook]:
    """Return every lot and metal, gross first, against what the book has of it in the area.

    Raises Impossible for a lot that does not stand there, saying where it does.
    """
    held = _held(connection, area, lines)
    state = standings(connection, setups, _ALL)
    ids = {lot.number: id_ for id_, lot in state.lots.items()}
    return [
        one
        for number, line in enumerate(lines, 1)
        for one in _compared(state, area, party, instant, ids[line.lot], number, line, held[line.lot])
    ]


def _held(connection: sqlite3.Connection, area: str, lines: Sequence[OutTurnLine]) -> dict[str, Held]:
    stock = holdings.stock(connection, holdings.plant_facts(connection))
    here = {h.described.lot: h for h in stock if h.area == area}
    faults = []
    for number, line in enumerate(lines, 1):
        if line.lot in here:
            continue
        others = sorted({h.area for h in stock if h.described.lot == line.lot})
        mend = f"it stands in {', '.join(others)}: move it first, or give that area" if others else (
            f"check the number; lemel stock --area {area} lists what stands there")  # fmt: skip
        what = f"lot {line.lot} does not stand in {area}"
        faults.append(Fault(Impossible.code, what, mend, field=f"lot[{number}].lot", lot=line.lot))
    if faults:
        raise Impossible(faults)
    return here


def _compared(
    state: Standings, area: str, party: str, instant: int, lot: int, number: int, line: OutTurnLine, held: Held
) -> Iterator[AgainstBook]:
    recorded = state.at(area, lot)
    form = state.weighings.mass("this out-turn", number, instant, line.document, None, line.agreed[0], whose=party)
    values = [float(ng) for ng in line.agreed]
    agreed = state.determinations.agreed("this out-turn", number, party, values, form)
    rest = recorded.minus(agreed, state.tape)
    basis = held.basis or "nominal"
    for i, metal in enumerate(state.metals):
        sigmas = [state.tape.sigma(form) for form in (recorded.forms[i], agreed.forms[i], rest.forms[i])]
        yield AgainstBook(line.lot, metal, basis, held.amounts[i], line.agreed[i], *sigmas)


# ---- the refiner's history --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class History:
    """A refiner's settled lots of one metal before this out-turn, and the sign test with and without it."""

    refiner: Refiner
    before: Signs
    with_this: Signs


def history(
    connection: sqlite3.Connection, setups: Setups, party: str, metal: str, found: Sequence[AgainstBook]
) -> History:
    """Return a refiner's signed history; the sign test takes lots known by our own assay or by calculation only."""
    metals = ("gross", *setups.latest.plant.metals)
    known = {refiner.party: refiner for refiner in settlements(connection, metals.index(metal))}
    refiner = known.get(party, Refiner(party))
    earlier = [lot.difference for lot in refiner.judged]
    now = [one.difference for one in found if one.metal == metal and one.basis in ("measured", "calculated")]
    return History(refiner, refiner.signs, sign_test([*earlier, *now]))
