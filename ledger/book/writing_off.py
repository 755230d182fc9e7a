"""A write-off: the ticket by which a named person answers, on named evidence, for a difference that stands open."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from ledger.book.past import Past
from ledger.book.posting.checks import SECOND_OF_A_WRITE_OFF, known
from ledger.book.setups import Setups
from ledger.plant.setup import Setup
from ledger.quantities.mass import grams_text
from ledger.refusals import Impossible

#: Instead of a mass: all that stands open.
ALL: Final = "all"


def write_off_ticket(
    connection: sqlite3.Connection, number: str, at: str, area: str, metal: str, mass: str, by: str,
    said: dict[str, str],
) -> dict[str, Any]:  # fmt: skip
    """Return the ticket that writes off a difference; ``said``: its witness, cause, evidence and reason.

    ``mass`` is a mass with its unit, + missing, or ``all``; ``said`` names the second, its witness. Raises Impossible
    where the area or a person is not in the set-up or not entitled, or nothing stands open; all else is checked when
    the ticket is recorded.
    """
    setup = Setups.read(connection).latest
    known(setup.areas, area, "area")
    _entitled(setup, by, ("accept",), "by")
    _entitled(setup, said["witness"], SECOND_OF_A_WRITE_OFF, "witness")
    if mass == ALL:
        open_ng = Past(connection).balance("difference", metal, area=area)
        if not open_ng:
            raise Impossible(f"nothing of {metal} stands open in {area}", "see: lemel position", field="area")
        mass = f"{grams_text(open_ng)} g"
    head = {"ticket": number, "kind": "writeoff", "at": at, "by": by}
    return {**head, "area": area, "metal": metal, "mass": mass, **said}


def _entitled(setup: Setup, code: str, rights: tuple[str, ...], field: str) -> None:
    """Refuse somebody who has none of the rights; two people answer for metal that is given up."""
    if known(setup.persons, code, "person").may.isdisjoint(rights):
        may = ", ".join(one.code for one in setup.person if not one.may.isdisjoint(rights)) or "nobody yet"
        what = "accept a difference" if field == "by" else "be the second of a write-off"
        raise Impossible(f"{code} may not {what}", f"who may: {may}", field=field)
