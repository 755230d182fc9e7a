"""Closing: one record that ends a period, what it posts, and its seal.

What a close says is worked out above this room, where statements are; here it is posted and sealed as it stands, so
that a book follows from its records alone. For each area, metal and gross: difference −E, dust +qE, loss +(1−q)E; after
a clean-out what the dust should then not have held any more: dust −s, difference +s.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ledger.book.amounts import Amounts, minus, negative
from ledger.book.canonical import canonical_json, digest
from ledger.book.closes import Close, close_number, last_close
from ledger.book.draft import Draft, Occasion
from ledger.book.entering import Entry, Stamp
from ledger.book.log import grow
from ledger.book.merkle import Frontier
from ledger.book.seals import Head
from ledger.refusals import FormRefused, NotClosable, Refused

#: Causes of loss at a close: with evidence of waste for the area, and without.
NORMAL_LOSS: Final = "normal loss"
WITHOUT_EVIDENCE: Final = "normal loss without evidence"

#: Origins of what a close posts to a difference.
EXPECTED: Final = "close"
SHORTFALL: Final = "shortfall"

#: What a close says, beside its seal.
FIELDS: Final = frozenset((
    "close", "by", "with", "notes", "evidence", "missing", "open_jobs", "statements", "program",
))  # fmt: skip

_GRAMS = re.compile(r"-?[0-9]{1,12}\.[0-9]{9}", re.ASCII)
_MEND: Final = "take the close anew from the book it was recorded in"


@dataclass(frozen=True, slots=True)
class AreaLoss:
    """What a close does to one area, in ng by metal, gross first: E, q·E, and what a clean-out did not bring."""

    area: str
    expected: Amounts
    recoverable: Amounts
    shortfall: Amounts


def record_close(
    entry: Entry, content: Mapping[str, Any], stamp: Stamp, *, tree: Frontier | None = None,
    sealed: Mapping[str, Any] | None = None,
) -> Close:  # fmt: skip
    """Record a close, inside the caller's transaction: post what it says, seal the log before it, end its period.

    ``content`` is what it says, without its seal. ``tree`` is a tree of the log's first records, which is grown here
    (left out: all are read). With ``sealed``, the head that the close bore when it was first recorded, that head must
    come out again. Raises NotClosable out of order, FormRefused for what is no close, Refused for another head.
    """
    losses = _read(content, entry.metals)
    _check_people(entry, str(content["by"]), str(content["with"]))
    writer = entry.writer
    writer.flush()
    draft, ends = _draft(entry, str(content["close"]))
    _post(draft, losses, content["evidence"])
    head = _head(entry, content, ends, tree or Frontier())
    if sealed is not None and head.document() != dict(sealed):
        raise Refused("its seal does not follow from the records before it", _MEND)
    body = canonical_json({**content, "seal": head.document()})
    seq = writer.add_record("close", body.decode(), digest(body), stamp.at, stamp.by)
    writer.add_ticket(draft, "close", None, None)
    writer.add_close(seq, head.period, ends, head.root, head.seal)
    writer.flush()
    entry.look_at_closes()
    return Close(seq, head.period, ends, head.root, head.seal)


def _check_people(entry: Entry, *closing: str) -> None:
    """Refuse what is not the close of two who may close; whoever sets rates may not. Raises NotClosable."""
    people = entry.setups.latest.persons
    if len(set(closing)) < len(closing):
        raise NotClosable("one person closes alone", "name two")
    for code in closing:
        may = people[code].may if code in people else frozenset()
        if "close" not in may or "set" in may:
            raise NotClosable(f"{code} may not close", "let two close who may, and who do not set rates")


def _draft(entry: Entry, period: str) -> tuple[Draft, int]:
    """Return an empty draft at the period's last instant, and the first instant after it; raises NotClosable."""
    calendar, last = entry.setups.calendar, last_close(entry.writer.connection)
    start, ends = calendar.bounds(period)
    if last is not None and start != last.ends:
        raise NotClosable(f"{period} does not follow {last.period}, which was closed last", "close one after another")
    occasion = Occasion(
        entry.writer.seq + 1, close_number(period), ends - 1, period, calendar.day(ends - 1),
        entry.setups.at(ends - 1), calendar,
    )  # fmt: skip
    return Draft(occasion, entry.metals, entry.writer.shelf, entry.writer.numbering), ends


def _post(draft: Draft, losses: Sequence[AreaLoss], evidence: Mapping[str, str]) -> None:
    for loss in losses:
        if loss.area not in draft.setup.areas:
            raise FormRefused(f"no area {loss.area} in the set-up", _MEND)
        cause = NORMAL_LOSS if loss.area in evidence else WITHOUT_EVIDENCE
        draft.post("difference", negative(loss.expected), area=loss.area, origin=EXPECTED)
        draft.post("dust", loss.recoverable, area=loss.area)
        draft.post("loss", minus(loss.expected, loss.recoverable), area=loss.area, cause=cause)
        draft.post("dust", negative(loss.shortfall), area=loss.area)
        draft.post("difference", loss.shortfall, area=loss.area, origin=SHORTFALL)


def _head(entry: Entry, content: Mapping[str, Any], ends: int, tree: Frontier) -> Head:
    connection, last = entry.writer.connection, last_close(entry.writer.connection)
    grow(tree, connection, entry.writer.seq)
    return Head(
        period=content["close"], first=1 if last is None else last.seq, size=tree.size, root=tree.root(),
        previous=None if last is None else last.seal, close=digest(canonical_json(dict(content))),
        statements=digest(canonical_json(content["statements"])),
        setup=digest(canonical_json(entry.setups.version_at(ends - 1).document)),
    )  # fmt: skip


# ---- reading what a close says ----------------------------------------------------------------------------------


def _read(content: Mapping[str, Any], metals: Sequence[str]) -> list[AreaLoss]:
    """Return what a close posts, area by area; raises FormRefused where it cannot be read."""
    try:
        if set(content) != FIELDS:
            raise ValueError(f"it has the fields {', '.join(sorted(FIELDS))}, and no other")
        if not all(isinstance(content[field], str) for field in ("close", "by", "with", "program")):
            raise ValueError("its period, names and program are texts")
        for field in ("notes", "evidence"):
            if not all(isinstance(text, str) for text in content[field].values()):
                raise ValueError(f"its {field} are texts by area")
        return list(_losses(content["statements"], metals))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise FormRefused(f"the close cannot be read: {error}", _MEND) from None


def _losses(statements: Mapping[str, Any], metals: Sequence[str]) -> Iterator[AreaLoss]:
    if set(statements) != set(metals):
        raise ValueError(f"it has a statement of {', '.join(metals)}, and of no other")
    areas = [area["area"] for area in statements[metals[0]]]
    if len(set(areas)) != len(areas) or any([a["area"] for a in statements[metal]] != areas for metal in metals):
        raise ValueError("its statements are of the same areas, each once")
    for place, area in enumerate(areas):
        of = [statements[metal][place] for metal in metals]
        yield AreaLoss(
            area, [_ng(one["allowed"]) for one in of], [_ng(one["dust"]["accrued"]) for one in of],
            [_ng(one["dust"]["shortfall"]) for one in of],
        )  # fmt: skip


def _ng(grams: object) -> int:
    if not isinstance(grams, str) or _GRAMS.fullmatch(grams) is None:
        raise ValueError(f"{grams!r:.40} is no mass in grams with nine digits")
    return int(grams.replace(".", ""))
