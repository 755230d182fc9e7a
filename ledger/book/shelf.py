"""What the book knows of lots and stock at this moment, read when asked for and kept while tickets enter."""

from __future__ import annotations

import json
import sqlite3
from bisect import bisect_right
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import Any, cast

from ledger.book.amounts import Composition
from ledger.book.lots import Basis, Determination, JobState, Lot, Standing, Valuation
from ledger.book.past import Missed, OnTheWay, Past, job_from, on_the_way_from
from ledger.book.stored import composition_from, origin_from

_LOT = """
    SELECT id, number, kind, made_by, form, class, alloy, clad, owner, serial, layer,
           (SELECT max(valuation.id) FROM valuation WHERE valuation.lot = lot.id) FROM lot WHERE """
_VALUATION = """
    SELECT v.origin, v.awaiting, d.id, d.ticket, d.basis, d.composition, d.method, d.sd
    FROM valuation AS v LEFT JOIN determination AS d ON d.id = v.determination WHERE v.id = ?"""


class Shelf(Past):
    """Lots and stock of one book. Read on demand; `keep` holds what the tickets being entered changed.

    Everything handed out may be shared: a caller copies before it changes.
    """

    def __init__(self, connection: sqlite3.Connection, write_pending: Callable[[], None] = lambda: None) -> None:
        super().__init__(connection, write_pending)
        self._lots: dict[str, Lot | None] = {}
        self._numbers: dict[int, str] = {}
        self._standings: dict[tuple[str, int], Standing | None] = {}
        self._changed: dict[int, set[str]] = {}
        self._missed: dict[int, list[Missed]] = {}
        self._carried: set[int] = set()
        self._calibrations: dict[str, list[int]] = {}
        self._compositions: dict[str, Composition] = {}
        self._clocks: dict[str, tuple[int, str] | None] = {}
        self._hashes: dict[str, bytes] = {}
        self._void: dict[str, str] | None = None
        self._jobs: dict[int, JobState | None] = {}
        #: What the file says of lots from this id on was kept here as it was recorded.
        self._first_new: int = connection.execute("SELECT coalesce(max(id), 0) + 1 FROM lot").fetchone()[0]

    def forget(self) -> None:
        """Empty the cache; everything must have been written."""
        self.__init__(self.connection, self.write_pending)  # type: ignore[misc]

    def __len__(self) -> int:
        return len(self._lots) + len(self._standings) + len(self._hashes) + len(self._missed) + len(self._jobs)

    def lot(self, number: str) -> Lot | None:
        """Return the lot of that number, or None."""
        if number not in self._lots:
            row = self.connection.execute(_LOT + "number = ?", (number,)).fetchone()
            self._remember(number, row)
        return self._lots[number]

    def lot_by_id(self, lot: int) -> Lot:
        """Return the lot of that id, which must exist."""
        if lot not in self._numbers:
            row = self.connection.execute(_LOT + "id = ?", (lot,)).fetchone()
            self._remember(row[1], row)
        return cast(Lot, self._lots[self._numbers[lot]])

    def _remember(self, number: str, row: tuple[Any, ...] | None) -> None:
        self._lots[number] = lot = self._lot_from(row) if row else None
        if lot:
            self._numbers[lot.id] = number

    def _lot_from(self, row: tuple[Any, ...]) -> Lot:
        id_, number, kind, made_by, form, class_, alloy, clad, owner, serial, layer, valuation = row
        return Lot(
            id_, number, kind, made_by, form, class_, alloy, clad, owner, serial,
            composition_from(layer) if layer else None, self.valuation(valuation),
        )  # fmt: skip

    def valuation_before(self, lot: int, ticket: int) -> Valuation | None:
        """Return what stood of the lot before a ticket, by the latest earlier ticket that is not reversed."""
        row = self.ask(
            "SELECT max(id) FROM valuation AS v WHERE lot = ? AND ticket < ? AND determination IS NOT NULL "
            "AND NOT EXISTS (SELECT 1 FROM ticket AS r WHERE r.reverses = v.ticket OR r.seq = v.ticket "
            "AND r.reverses IS NOT NULL)", (lot, ticket)
        ).fetchone()  # fmt: skip
        return self.valuation(row[0]) if row[0] is not None else None

    def valuation(self, valuation: int) -> Valuation:
        """Return one stored valuation by its id."""
        origin, awaiting, *rest = self.connection.execute(_VALUATION, (valuation,)).fetchone()
        return Valuation(self._determination_from(rest) if rest[0] else None, origin_from(origin), awaiting)

    def _determination_from(self, row: list[object]) -> Determination:
        id_, ticket, basis, text, method, sd = row
        composition = self._compositions.get(cast(str, text))
        if composition is None:
            composition = self._compositions[cast(str, text)] = composition_from(cast(str, text))
        return Determination(
            cast(int, id_), cast(int, ticket), cast(Basis, basis), composition,
            cast("str | None", method), Fraction(cast(str, sd)) if sd else None,
        )  # fmt: skip

    def standing(self, area: str, lot: int) -> Standing | None:
        """Return what is recorded of the lot in the area, or None when it never was there."""
        key = (area, lot)
        if key not in self._standings:
            if lot >= self._first_new:
                return None
            row = self.connection.execute(
                "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE area = ? AND lot = ?", key
            ).fetchone()
            self._standings[key] = self.standing_from(row) if row else None
        return self._standings[key]

    def places(self, lot: int) -> list[Standing]:
        """Return where the lot stands, by area."""
        rows = self.connection.execute(
            "SELECT area, lot, amounts, last_instant, last_ticket FROM standing WHERE lot = ? AND on_hand = 1", (lot,)
        )
        found = {row[0]: self.standing_from(row) for row in rows}
        for area in self._changed.get(lot, ()):
            found[area] = cast(Standing, self._standings[area, lot])
        return [found[area] for area in sorted(found) if found[area].on_hand]

    def missed(self, lot: int) -> list[Missed]:
        """Return where ended counts did not find the lot, by area."""
        if lot not in self._missed:
            if lot >= self._first_new:
                return []
            rows = self.connection.execute(
                "SELECT area, lot, amounts, ticket FROM missed WHERE lot = ? ORDER BY area", (lot,)
            )
            self._missed[lot] = [Missed(area, lot, json.loads(amounts), count) for area, lot, amounts, count in rows]
        return self._missed[lot]

    def keep_missed(self, found: Iterable[Missed], missed: Iterable[Missed]) -> None:
        """Take over lots that a recorded ticket found again, and those it did not find."""
        for one in found:
            self._missed[one.lot] = [m for m in self.missed(one.lot) if m.area != one.area]
        for one in missed:
            others = [m for m in self.missed(one.lot) if m.area != one.area]
            self._missed[one.lot] = sorted([*others, one], key=lambda m: m.area)

    def lot_on_the_way(self, lot: int) -> list[OnTheWay]:
        """Return where the lot is on its way, by move."""
        if lot in self._carried:
            self.write_pending()
        rows = self.connection.execute("SELECT * FROM on_the_way WHERE lot = ? ORDER BY move", (lot,))
        return [on_the_way_from(row) for row in rows]

    def keep_carried(self, carried: Iterable[OnTheWay]) -> None:
        """Remember the lots that a recorded ticket sent or saw arrive: the file may not say so yet."""
        self._carried.update(one.lot for one in carried)

    def calibrated_on(self, scale: str, instant: int) -> int | None:
        """Return when a check last found the scale calibrated anew before an instant, or None."""
        if scale not in self._calibrations:
            self._calibrations[scale] = self.calibrations(scale)
        known = self._calibrations[scale]
        before = bisect_right(known, instant)
        return known[before - 1] if before else None

    def forget_calibrations(self) -> None:
        """Ask again for calibrations: a check was recorded, or reversed."""
        self._calibrations.clear()

    def clock(self, area: str) -> tuple[int, str] | None:
        """Return the instant and number of the latest-dated ticket of an area, or None."""
        if area not in self._clocks:
            row = self.connection.execute("SELECT instant, ticket FROM area_clock WHERE area = ?", (area,)).fetchone()
            self._clocks[area] = row
        return self._clocks[area]

    def keep_clock(self, area: str, instant: int, ticket: str) -> None:
        """Take over the latest-dated ticket of an area."""
        self._clocks[area] = (instant, ticket)

    def recorded_hash(self, number: str) -> bytes | None:
        """Return the hash of the ticket recorded under a number, or None."""
        if number in self._hashes:
            return self._hashes[number]
        row = self.connection.execute(
            "SELECT hash FROM record WHERE seq = (SELECT seq FROM ticket WHERE number = ?)", (number,)
        ).fetchone()
        return row[0] if row else None

    def job_state(self, lot: int) -> JobState | None:
        """Return where a job stands, or None before its first ticket."""
        if lot not in self._jobs:
            row = self.ask(
                "SELECT lot, area, operation, opened, mass_in, fume_due, surface, calculated, done FROM job_state "
                "WHERE lot = ? ORDER BY id DESC LIMIT 1", (lot,)
            ).fetchone()  # fmt: skip
            self._jobs[lot] = job_from(row) if row else None
        return self._jobs[lot]

    def keep_job(self, state: JobState) -> None:
        """Take over where a job stands after a recorded ticket."""
        self._jobs[state.lot] = state

    def keep_hash(self, number: str, hash_: bytes) -> None:
        """Take over the hash of a ticket just recorded."""
        self._hashes[number] = hash_

    def keep(self, lots: Iterable[Lot], standings: Iterable[Standing]) -> None:
        """Take over what a recorded ticket changed."""
        for lot in lots:
            self._lots[lot.number] = lot
            self._numbers[lot.id] = lot.number
        for standing in standings:
            self._standings[standing.area, standing.lot] = standing
            self._changed.setdefault(standing.lot, set()).add(standing.area)

    def voided_by(self, number: str) -> str | None:
        """Return the ticket that declared a number spoiled, or None."""
        if self._void is None:
            rows = self.ask("SELECT v.number, t.number FROM void_number AS v JOIN ticket AS t ON t.seq = v.ticket", ())
            self._void = dict(rows.fetchall())
        return self._void.get(number)

    def keep_void(self, numbers: Iterable[str], ticket: str) -> None:
        """Take over numbers just declared spoiled."""
        if self._void is not None:
            self._void.update(dict.fromkeys(numbers, ticket))

    def number_used(self, number: str) -> bool:
        """Return whether a ticket bears the number or a void names it."""
        return self.recorded(number) is not None or self.voided_by(number) is not None

    def determinations_by(self, ticket: int) -> list[tuple[int, Determination]]:
        """Return the determinations a ticket gave, with their lots."""
        rows = self.ask(
            "SELECT v.lot, d.id, d.ticket, d.basis, d.composition, d.method, d.sd FROM valuation AS v "
            "JOIN determination AS d ON d.id = v.determination WHERE v.ticket = ? AND d.ticket = v.ticket "
            "ORDER BY v.id", (ticket,)
        )  # fmt: skip
        return [(lot, self._determination_from(rest)) for lot, *rest in rows]

    def melt(self, determination: int) -> list[Lot]:
        """Return the lots on hand that share a determination."""
        rows = self.ask(
            "SELECT DISTINCT lot FROM valuation AS v WHERE determination = ? AND id = "
            "(SELECT max(id) FROM valuation WHERE lot = v.lot) ORDER BY lot", (determination,)
        )  # fmt: skip
        return [self.lot_by_id(lot) for (lot,) in rows.fetchall()]
