"""The columns of a table of tickets: which there are, and how a row's cells become fields.

One row a line of the ticket. A column is a field's own name, or, for a field that is a map, the name and the key with
a point between: ``fineness.gold``, ``conditions.temperature``. Nothing is guessed from a cell's looks: what a cell
means follows from its field.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from ledger.book.tickets import KINDS, PartyBalance, Transfer
from ledger.book.tickets.common import Document, TicketBase
from ledger.book.tickets.lines import LINE_FIELDS

SIDE: Final = "side"
#: Separates the names in one cell: workers, voided numbers. A stroke or a blank may stand in a name.
BETWEEN_NAMES: Final = "|"

_FLAGS: Final = frozenset(("all", "in_transit", "done", "cleaned_out", "nil", "ended", "spot", "calibrated"))
_NAMES: Final = frozenset(("workers", "numbers"))
_BARE_OR_MAP: Final = frozenset(("fineness", "declared_fineness", "billed", "standard", "from", "to"))
_MAPS: Final = frozenset(("content", "agreed", "payable", "dust", "results", "conditions", "assays")) | _BARE_OR_MAP
_PARTY: Final = tuple(PartyBalance.model_fields)


_MASSES: Final = frozenset(
    ("mass", "gross", "tare", "metallic", "declared_mass", "received_mass", "received", "reading", "standard", "fine")
)  # fmt: skip
_CONTENTS: Final = frozenset(("content", "agreed", "payable", "dust"))


class CellRefused(ValueError):
    """A cell that its column cannot take: what, mend."""


def ticket_fields(model: type[TicketBase]) -> list[str]:
    """Return the names of a kind's own fields, its lists of lines left out."""
    names = (field.alias or name for name, field in model.model_fields.items())
    return [name for name in names if name not in model.roles and name != "parties"]


def line_fields(model: type[TicketBase]) -> list[str]:
    """Return the names of the fields its lines may carry, in the order of the reference."""
    allowed = frozenset[str]().union(*(role.fields for role in model.roles.values()))
    return [name for name in LINE_FIELDS if name in allowed]


def sides(model: type[TicketBase]) -> list[str]:
    """Return what the ``side`` column may say: nothing for most kinds, in or out for work, lots or parties for open."""
    named = [*model.roles, *(["parties"] if "parties" in model.model_fields else [])]
    return named if len(named) > 1 else []


def known_columns() -> frozenset[str]:
    """Return every column name there is, without the keys of maps."""
    own = (name for model in KINDS.values() for name in ticket_fields(model))
    return frozenset((*own, *LINE_FIELDS, *_PARTY, SIDE))


def is_column(name: str, known: frozenset[str]) -> bool:
    """Return whether a header names a field, or a key of one that is a map."""
    field, *keys = name.split(".")
    if field not in known or not all(keys):
        return False
    return not keys or (field in _MAPS and len(keys) == (2 if field == "assays" else 1))


def is_flag(column: str) -> bool:
    """Return whether a column takes true or false."""
    return column in _FLAGS


def is_mass(column: str) -> bool:
    """Return whether a column takes a mass, with its unit."""
    return column.partition(".")[0] in _MASSES | _CONTENTS


def put(document: Document, column: str, text: str) -> None:
    """Set the field that a column names from a cell that is not blank; raise CellRefused where it cannot be."""
    field, *keys = column.split(".")
    *path, last = (field, *keys)
    place: Any = document
    for step in path:
        place = place.setdefault(step, {})
        if type(place) is not dict:
            raise CellRefused(f"{field} is given both bare and by key", "give one of them")
    if last in place:
        raise CellRefused(f"{field} is given both bare and by key", "give one of them")
    place[last] = _value(field, bool(keys), text)


def _value(field: str, keyed: bool, text: str) -> Any:
    if field in _FLAGS:
        return _flag(text)
    if field in _NAMES:
        return [name.strip() for name in text.split(BETWEEN_NAMES)]
    if field == "pieces":
        return _pieces(text)
    if field in _MAPS - _BARE_OR_MAP and not keyed:
        raise CellRefused(f"{field} needs its key in the header", f"name the column {field}.gold, or what it is of")
    if field == "results":
        return [sample.split() for sample in text.split("/")]
    return text


def _flag(text: str) -> bool:
    flag = {"true": True, "false": False}.get(text.lower())
    if flag is None:
        raise CellRefused(f"{text[:40]!r} is neither true nor false", "write true or false, or leave the cell blank")
    return flag


def _pieces(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 15):
        raise CellRefused(f"{text[:40]!r} is not a whole number", "write the pieces in digits only")
    return int(text)


def template(kind: str, metals: Iterable[str] = ("gold", "silver")) -> str:
    """Return the header of a table of tickets of one kind, comma-separated, with a column for each booked metal."""
    model, metals = KINDS[kind], tuple(metals)
    named = sides(model)
    columns = ["ticket", "kind", *ticket_fields(model), *([SIDE] if named else []), *line_fields(model)]
    columns += _PARTY if "parties" in named else ()
    return ",".join(name for column in dict.fromkeys(columns) for name in _spread(column, metals, model))


def _spread(column: str, metals: tuple[str, ...], model: type[TicketBase]) -> list[str]:
    if column in ("from", "to"):
        return [column, f"{column}.party", f"{column}.terms"] if model is Transfer else [column]
    keyed = [f"{column}.{metal}" for metal in metals]
    if column == "assays":
        return [f"assays.{whose}.{metal}" for whose in ("ours", "theirs", "umpire") for metal in metals]
    if column == "conditions":
        return ["conditions.temperature"]
    if column not in _MAPS:
        return [column]
    return [column, *keyed] if column in _BARE_OR_MAP else keyed
