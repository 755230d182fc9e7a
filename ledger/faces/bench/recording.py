"""Recording what was filled in, and only then what it came to: content, difference, flags."""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ledger.book.amounts import Amounts, total
from ledger.book.draft import Draft
from ledger.book.entering import Entry, stamp_now
from ledger.book.store import writing
from ledger.faces.bench.proposals import next_free
from ledger.refusals import Impossible, Refused

_SIDES = ("lots", "in", "out")
_READINGS = ("mass", "gross", "received")


@dataclass(frozen=True, slots=True)
class LineResult:
    """What one line came to: content in the book's order, gross first, in nanograms."""

    side: str
    area: str
    lot: str
    content: Sequence[int]


@dataclass(frozen=True, slots=True)
class Result:
    """One recorded ticket; ``differences`` are by area, + missing; ``give_away`` is content beyond what was billed."""

    document: dict[str, Any]
    lines: list[LineResult]
    differences: dict[str, Amounts]
    give_away: Amounts
    flags: list[tuple[str, str]]
    metals: tuple[str, ...]

    @property
    def number(self) -> str:
        """The ticket's number."""
        return str(self.document["ticket"])


def record(path: Path, documents: Sequence[dict[str, Any]], user: str) -> list[Result]:
    """Record tickets, all or none, and return what they came to; raises Refused with the number unused."""
    with writing(path) as connection:
        entry = Entry(connection)
        results = [_recorded(entry, document, user) for document in documents]
        entry.writer.flush()
    return results


def _recorded(entry: Entry, document: dict[str, Any], user: str) -> Result:
    draft = entry.record(document, stamp_now(user))
    if draft is None:
        raise Impossible(f"this very ticket is recorded already, as {document['ticket']}", "leave it out",
                         field="ticket")  # fmt: skip
    flags = [(flag, words) for _, flag, words in draft.flags]
    differences = _sums(draft, "difference")
    given = total(_sums(draft, "give-away").values(), draft.size)
    return Result(document, _lines(draft), differences, given, flags, entry.metals)


def _lines(draft: Draft) -> list[LineResult]:
    numbers = {lot.id: lot.number for lot in draft.lots.values()}
    return [
        LineResult(row.side, row.area, numbers.get(row.lot) or draft.shelf.lot_by_id(row.lot).number, row.content)
        for row in draft.lines
    ]


def _sums(draft: Draft, class_: str) -> dict[str, Amounts]:
    sums: dict[str, Amounts] = {}
    for posting in draft.postings:
        if posting.class_ == class_:
            amounts = sums.setdefault(posting.area or "", [0] * draft.size)
            amounts[draft.metals.index(posting.metal)] += posting.ng
    return {area: amounts for area, amounts in sums.items() if any(amounts)}


# ---- a second reading ----------------------------------------------------------------------------------------


def readings(document: dict[str, Any]) -> list[tuple[str, int, str, str]]:
    """Return each reading of a ticket: its side, place and column, and the lot."""
    return [
        (side, place, column, str(line.get("lot") or line.get("bin")))
        for side in _SIDES for place, line in enumerate(document.get(side, ()))
        for column in _READINGS if column in line
    ]  # fmt: skip


def again(
    path: Path, document: dict[str, Any], which: tuple[str, int, str, str], mass: str, reason: str, at: str, user: str
) -> list[Result]:
    """Add a second reading: the ticket is reversed, with the reason, and entered anew with what was read now.

    Both readings stay in the book. All or none; raises Refused.
    """
    side, place, column, lot = which
    first = document[side][place][column]
    corrected = deepcopy(document)
    corrected[side][place][column] = mass
    with writing(path) as connection:
        entry = Entry(connection)
        checked = entry.setups.latest.plant.check_character
        numbers = [str(document["ticket"])]
        for _ in range(2):
            number = next_free(entry.writer.shelf, numbers[-1], checked=checked, taken=numbers)
            if number is None:
                raise Refused(f"no number follows {numbers[-1]}", "enter the reversal and the correction by a file")
            numbers.append(number)
        reversal = {
            "ticket": numbers[1], "kind": "reverse", "at": at, "by": document["by"], "of": document["ticket"],
            "reason": f"second reading of {lot}, {mass} for {first}: {reason}",
        }  # fmt: skip
        corrected |= {"ticket": numbers[2], "corrects": document["ticket"]}
        results = [_recorded(entry, each, user) for each in (reversal, corrected)]
        entry.writer.flush()
    return results
