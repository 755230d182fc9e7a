"""The set-ups of a book: the first, and each dated change, kept as sealed records."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from ledger.plant.calendar import Calendar
from ledger.plant.setup import Setup

#: The first set-up holds from before any ticket.
FROM_THE_FIRST = -(2**62)


@dataclass(frozen=True)
class Version:
    """A set-up and the instant from which it holds; ``seq`` is its record."""

    seq: int
    since: int
    document: dict[str, Any]

    @cached_property
    def setup(self) -> Setup:
        """The set-up, read when first asked for."""
        return Setup.from_document(self.document)


class Setups:
    """All set-ups of a book, by the instant from which each holds; of two with one instant the later recorded."""

    def __init__(self, versions: list[Version]) -> None:
        self.versions = sorted(versions, key=lambda v: (v.since, v.seq))

    @staticmethod
    def read(connection: sqlite3.Connection) -> Setups:
        """Return the set-ups recorded in a book."""
        rows = connection.execute("SELECT seq, since, document FROM setup_version").fetchall()
        return Setups([Version(seq, since, json.loads(document)) for seq, since, document in rows])

    def at(self, instant: int) -> Setup:
        """Return the set-up in force at an instant."""
        return self.version_at(instant).setup

    def version_at(self, instant: int) -> Version:
        """Return the version of the set-up in force at an instant."""
        in_force = self.versions[0]
        for version in self.versions:
            if version.since > instant:
                break
            in_force = version
        return in_force

    @property
    def latest(self) -> Setup:
        """The set-up that holds last."""
        return self.versions[-1].setup

    @cached_property
    def calendar(self) -> Calendar:
        """The plant's calendar; the zone and cut-off never change, periods are those listed last."""
        return Calendar(self.latest)
