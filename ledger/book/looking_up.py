"""Looking up names: who asked for the names behind which codes, who saw it, and why, recorded before one is told.

Names stand in the set-up, and so such a record is of the kind ``setup``: an object with the one key ``names``. It
changes nothing, and no version of the set-up follows from it. When it was, and who keyed it in, is the record's own.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ledger.book.canonical import canonical_json, digest
from ledger.book.entering import Entry, Stamp
from ledger.book.setups import FROM_THE_FIRST, Setups
from ledger.plant.setup import Setup
from ledger.refusals import Fault, FormRefused, Impossible

#: The one key of such a record, and what stands under it.
NAMES: Final = "names"
FIELDS: Final = ("codes", "by", "witness", "reason")

_LONGEST_REASON: Final = 500
_MEND: Final = "take the record anew from the book it was recorded in"


@dataclass(frozen=True, slots=True)
class LookedUp:
    """One recorded look at names: its record, the codes, who asked, who saw it, why, when and keyed by whom."""

    record: int
    codes: tuple[str, ...]
    by: str
    witness: str
    reason: str
    recorded_at: str
    recorded_by: str


@dataclass(frozen=True, slots=True)
class Told:
    """A person's name by code, None where the set-up gives none, and plant time from when: None from the first."""

    code: str
    name: str | None
    since: str | None


def is_looking_up(document: Mapping[str, Any]) -> bool:
    """Return whether a record of the kind ``setup`` says that names were looked up, and is no set-up and no change."""
    return set(document) == {NAMES}


def record_looking_up(entry: Entry, said: Mapping[str, Any], stamp: Stamp) -> LookedUp:
    """Record that names are looked up, inside the caller's transaction; ``said`` has the keys of ``FIELDS``.

    Nothing may be told before that transaction is committed. Raises FormRefused for what cannot be read, Impossible
    for a person whom the set-up does not know, and for one who asks without a second.
    """
    _check_form(said)
    faults = list(_unknown(entry.setups.latest, said))
    if said["by"] == said["witness"]:
        faults.append(Fault(Impossible.code, "the witness is the one who asks", "name somebody else", "witness"))
    if faults:
        raise Impossible(faults)
    body = canonical_json({NAMES: dict(said)})
    seq = entry.writer.add_record("setup", body.decode(), digest(body), stamp.at, stamp.by)
    entry.writer.flush()
    return _looked_up(seq, said, stamp)


def names_told(setups: Setups, codes: tuple[str, ...]) -> list[Told]:
    """Return the names behind codes, in their order; where one was changed, each with the time it holds from."""
    return [told for code in codes for told in _names_of(setups, code)]


def looked_up(connection: sqlite3.Connection) -> list[LookedUp]:
    """Return every look at names that is recorded in a book, in order."""
    rows = connection.execute(
        "SELECT seq, body, recorded_at, recorded_by FROM record WHERE kind = 'setup' "
        "AND seq NOT IN (SELECT seq FROM setup_version) ORDER BY seq"
    )
    return [_looked_up(seq, json.loads(body)[NAMES], Stamp(at, by)) for seq, body, at, by in rows]


def _looked_up(seq: int, said: Mapping[str, Any], stamp: Stamp) -> LookedUp:
    return LookedUp(seq, tuple(said["codes"]), said["by"], said["witness"], said["reason"], stamp.at, stamp.by)


def _names_of(setups: Setups, code: str) -> Iterator[Told]:
    before: Told | None = None
    for version in setups.versions:
        person = version.setup.persons.get(code)
        if person is not None and (before is None or before.name != person.name):
            since = None if version.since == FROM_THE_FIRST else setups.calendar.text(version.since)
            before = Told(code, person.name, since)
            yield before


def _check_form(said: object) -> None:
    if not isinstance(said, Mapping) or set(said) != set(FIELDS):
        raise FormRefused(f"a look at names has the fields {', '.join(FIELDS)}, and no other", _MEND, field=NAMES)
    codes, reason = said["codes"], said["reason"]
    if not isinstance(codes, list) or not codes or not all(isinstance(code, str) for code in codes):
        raise FormRefused("no code is given", "give the code of a person", field="codes")
    if len(set(codes)) < len(codes):
        raise FormRefused("a code is given twice", "give each once", field="codes")
    if not all(isinstance(said[key], str) for key in FIELDS[1:]):
        raise FormRefused("who asked, who saw it and why are texts", _MEND, field=NAMES)
    if not reason.strip() or not reason.isprintable() or len(reason) > _LONGEST_REASON:
        what = "no reason is given" if not reason.strip() else "the reason cannot be kept"
        raise FormRefused(what, f"say why on one line, in at most {_LONGEST_REASON} characters", field="reason")


def _unknown(setup: Setup, said: Mapping[str, Any]) -> Iterator[Fault]:
    people = ", ".join(setup.persons) or "nobody yet"
    given = [*(("codes", code) for code in said["codes"]), ("by", said["by"]), ("witness", said["witness"])]
    for field, code in given:
        if code not in setup.persons:
            yield Fault(Impossible.code, f"there is no person {code[:64]!r}", f"the set-up has {people}", field)
