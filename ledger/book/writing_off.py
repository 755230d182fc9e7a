"""A write-off: the ticket by which a named person answers, on named evidence, for a difference that stands open."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from ledger.book.past import Past
from ledger.book.posting.checks import known
from ledger.book.setups import Setups
from ledger.quantities.mass import grams_text
from ledger.refusals import Impossible

#: Instead of a mass: all that stands open.
ALL: Final = "all"


def write_off_ticket(
    connection: sqlite3.Connection, number: str, at: str, area: str, metal: str, mass: str, by: str,
    said: dict[str, str],
) -> dict[str, Any]:  # fmt: skip
    """Return the ticket that writes off a difference; ``said``: its cause, evidence and reason.

    ``mass`` is a mass with its unit, + missing, or ``all``. Raises Impossible where the area or person is not in the
    set-up, the person may not accept, or nothing stands open; all else is checked when the ticket is recorded.
    """
    setup = Setups.read(connection).latest
    known(setup.areas, area, "area")
    person = known(setup.persons, by, "person")
    if "accept" not in person.may:
        may = ", ".join(one.code for one in setup.person if "accept" in one.may) or "nobody yet"
        raise Impossible(f"{by} may not accept a difference", f"who may: {may}", field="by")
    if mass == ALL:
        open_ng = Past(connection).balance("difference", metal, area=area)
        if not open_ng:
            raise Impossible(f"nothing of {metal} stands open in {area}", "see: lemel position", field="area")
        mass = f"{grams_text(open_ng)} g"
    head = {"ticket": number, "kind": "writeoff", "at": at, "by": by}
    return {**head, "area": area, "metal": metal, "mass": mass, **said}
