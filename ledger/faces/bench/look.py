"""What the bench looks up in the book: codes, lots and proposals. Each look is short, and holds nobody up."""

from __future__ import annotations

from collections.abc import Callable, Collection
from json import loads
from pathlib import Path
from typing import Any, Final

from pydantic_core import PydanticCustomError

from ledger.book.posting.taking import unknown_lot
from ledger.book.setups import Setups
from ledger.book.shelf import Shelf
from ledger.book.store import reading
from ledger.book.tickets import readings
from ledger.faces.bench import proposals
from ledger.faces.bench.entries import mass_entry
from ledger.faces.bench.forms import Question
from ledger.faces.bench.proposals import Usual
from ledger.plant.numbering import check_holds
from ledger.refusals import Fault

_ONE: Final = {
    "areas": "area", "persons": "person", "parties": "party", "operations": "operation", "scales": "scale",
    "methods": "method",
}  # fmt: skip
#: Which table of the set-up a column's codes are in, where that is the same on every kind that is asked for it.
TABLE_OF: Final = {
    "by": "persons", "witness": "persons", "area": "areas", "scale": "scales", "received_scale": "scales",
    "operation": "operations", "party": "parties", "method": "methods",
}  # fmt: skip
_READ: Final[dict[str, Callable[[object], object]]] = {
    "mass": readings.read_mass, "arrived": readings.read_mass_or_nothing, "signed": readings.read_signed_mass,
    "fineness": readings.read_fineness,
}  # fmt: skip
_SHOWN: Final = 12
_YES: Final = {"yes": "true", "y": "true", "true": "true", "no": "false", "n": "false", "false": "false"}


class Look:
    """One book, as it stands whenever it is asked; ``at`` is the ticket's time, which tells the set-up in force."""

    def __init__(self, path: Path, at: str | None) -> None:
        self.path = path
        with reading(path) as connection:
            setups = Setups.read(connection)
        self.calendar = setups.calendar
        self.at = proposals.now(self.calendar) if at is None else at
        self.setup = setups.at(self.calendar.instant(self.at))
        self.metals = self.setup.plant.metals
        self.checked = self.setup.plant.check_character

    # Proposals.

    def next_ticket(self, kind: str) -> str | None:
        """Return the number to propose for a ticket of a kind."""
        with reading(self.path) as connection:
            return proposals.next_ticket(connection, kind, checked=self.checked)

    def next_lot(self, kind: str, operation: str | None, prefix: str, taken: Collection[str]) -> str | None:
        """Return the number of a new lot."""
        with reading(self.path) as connection:
            return proposals.next_lot(connection, self.setup, kind, operation, prefix, taken)

    def usual(self, by: str) -> Usual:
        """Return shift, scale and area of somebody's last ticket."""
        with reading(self.path) as connection:
            return proposals.usual(connection, self.setup, by)

    def document(self, number: str) -> dict[str, Any] | None:
        """Return a recorded ticket."""
        with reading(self.path) as connection:
            row = connection.execute(
                "SELECT body FROM record WHERE seq = (SELECT seq FROM ticket WHERE number = ?)", (number,)
            ).fetchone()
        return loads(row[0]) if row else None

    # Entries.

    def knows(self, lot: str) -> bool:
        """Return whether a lot of that number was made, and no reversal unmade it."""
        with reading(self.path) as connection:
            known = Shelf(connection).lot(lot)
        return known is not None and known.valuation.determination is not None

    def lot_fault(self, number: str, lots: str) -> Fault | None:
        """Return why a number cannot be that of a lot: ``lots`` is known, made, or any."""
        if number in self.setup.bins or (lots != "made" and self.knows(number)):
            return None
        if lots == "known":
            return unknown_lot(self.setup, number, "lot")
        if self.checked and not check_holds(number) and not self.knows(number):
            return Fault("impossible", f"{number} does not end in its check character: it is mis-keyed",
                         "read the label again, or scan it; new numbers a lot")  # fmt: skip
        return None

    def code_fault(self, table: str, code: str) -> Fault | None:
        """Return why a code is none of a table of the set-up."""
        codes = list(getattr(self.setup, table))
        if code in codes:
            return None
        known = ", ".join(codes[:_SHOWN]) + (" …" if len(codes) > _SHOWN else "")
        return Fault("impossible", f"no {_ONE[table]} {code[:64]!r} in the set-up", f"it has {known}")

    def value(self, question: Question, text: str, metal: str = "") -> str | Fault:
        """Return what an answer stands for, or why it cannot be that; ``metal`` is whose, where each is asked for."""
        if question.of in _ONE:
            return self.code_fault(question.of, text) or text
        if question.choices:
            return text if text in question.choices else _one_of(text, question.choices)
        if question.of == "yes":
            return _YES.get(text.lower()) or Fault("form", f"{text[:40]!r} is neither yes nor no", "answer yes or no")
        if question.of == "lot":
            return self.lot_fault(text, "known") or text
        if question.of == "metal":
            return text if text in (*self.metals, "gross") else _one_of(text, (*self.metals, "gross"))
        return _read(question, text, metal)


def _one_of(text: str, choices: Collection[str]) -> Fault:
    return Fault("form", f"{text[:40]!r} is none of them", "write one of " + ", ".join(choices))


def _read(question: Question, text: str, metal: str) -> str | Fault:
    text = mass_entry(text) if question.of in ("mass", "arrived") else text
    try:
        if question.of == "mass" and question.each:
            readings.read_content({metal: text})
        elif question.of in _READ:
            _READ[question.of](text)
    except PydanticCustomError as error:
        context = error.context or {}
        return Fault("quantity", str(context.get("what", "")), str(context.get("mend", "")))
    return text
