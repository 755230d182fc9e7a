"""Writing: what recorded tickets add to the file, gathered and written many rows at a time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from hashlib import sha256
from itertools import chain
from json import JSONEncoder
from operator import itemgetter
from typing import Final

from ledger.book.draft import Draft, Numbering
from ledger.book.lots import Standing
from ledger.book.past import Posting
from ledger.book.schema import KEPT_TABLES
from ledger.book.shelf import Shelf
from ledger.book.stored import composition_json, origin_json

#: Columns of the record tables that are written, in the order rows are gathered.
_COLUMNS: Final = {
    "record": 7, "setup_version": 3, "ticket": 9, "void_number": 2, "lot": 11, "determination": 6, "derivation": 3,
    "valuation": 5, "parent": 3, "line": 13, "count_sheet": 8, "opened": 2, "job_state": 10, "checked": 4,
    "posting": 15, "flag": 4, "close": 5,
}  # fmt: skip

#: Tables whose rows SQLite numbers, each by one more than the last: nothing refers to them.
_NUMBERED: Final = frozenset(("derivation", "valuation", "parent", "line", "posting", "flag", "job_state"))

#: Rows gathered before they are written.
_ENOUGH: Final = 20_000
#: Rows in one statement, as long as there are so many: SQLite copies the pages it is about to change aside for each
#: statement that a trigger may abort, so that a statement for each row takes more than twice the time.
_AT_ONCE: Final = (64, 8, 1)
#: Lots, standings and hashes that the shelf keeps before it forgets: memory stays flat however often it is asked.
_KEPT: Final = 20_000

#: What of a posting `period_sum` adds up by.
_ACCOUNT: Final = itemgetter(*map(
    Posting._fields.index, ("period", "class_", "area", "party", "terms", "cause", "origin", "prior", "metal")
))  # fmt: skip

#: Before the end of any period.
_NEVER: Final = -(2**63)

_encode = JSONEncoder(ensure_ascii=False).encode


def log_entry(seq: int, kind: str, hash_: bytes, recorded_at: str, recorded_by: str) -> bytes:
    """Return what the log says of a record: its place, kind, hash, time and user, in canonical JSON (RFC 8785)."""
    return f'[{seq},{_encode(kind)},"{hash_.hex()}",{_encode(recorded_at)},{_encode(recorded_by)}]'.encode()


def chained(chain: bytes, entry: bytes) -> bytes:
    """Return the running hash after a record: SHA-256 over the one before, and the record's entry in the log."""
    return sha256(chain + entry).digest()


class Writer:
    """Appends to one open book, inside the caller's transaction. `flush` writes what is gathered."""

    def __init__(self, connection: sqlite3.Connection, metals: tuple[str, ...]) -> None:
        self.connection = connection
        self.metals = metals
        self.shelf = Shelf(connection, self.flush)
        self.numbering = Numbering(self._next("lot", "id"), self._next("determination", "id"))
        self._rows: dict[str, list[Sequence[object]]] = {table: [] for table in _COLUMNS}
        self._sums: dict[tuple[object, ...], int] = {}
        self._standings: dict[tuple[str, int], Standing] = {}
        self._clocks: dict[str, tuple[int, str]] = {}
        self._missed: dict[tuple[str, int], tuple[object, ...] | None] = {}
        self._way: dict[tuple[str, int], tuple[object, ...] | None] = {}
        self._open_jobs: dict[int, str | None] = {}
        self._pending = 0
        last = connection.execute("SELECT seq, chain FROM record ORDER BY seq DESC LIMIT 1").fetchone()
        self.seq: int = last[0] if last else 0
        self.chain: bytes = last[1] if last else b""
        self._kept_until = self._last_kept()

    def _next(self, table: str, key: str) -> int:
        return int(self.connection.execute(f"SELECT coalesce(max({key}), 0) + 1 FROM {table}").fetchone()[0])

    def _add(self, table: str, row: Sequence[object]) -> None:
        self._rows[table].append(row)
        self._pending += 1

    def _add_all(self, table: str, rows: Sequence[Sequence[object]]) -> None:
        self._rows[table].extend(rows)
        self._pending += len(rows)

    def add_record(self, kind: str, body: str, hash_: bytes, recorded_at: str, recorded_by: str) -> int:
        """Append a record to the chain and return its place; the caller adds what follows from it."""
        self.seq += 1
        self.chain = chained(self.chain, log_entry(self.seq, kind, hash_, recorded_at, recorded_by))
        self._add("record", (self.seq, kind, body, hash_, recorded_at, recorded_by, self.chain))
        return self.seq

    def add_setup(self, seq: int, since: int, document: str) -> None:
        """Append the set-up that holds from an instant on."""
        self._add("setup_version", (seq, since, document))
        self.let_go(since)

    def add_close(self, seq: int, period: str, ends: int, root: bytes, seal: bytes) -> None:
        """Append the close of a period; its record and its ticket were added just before."""
        self._add("close", (seq, period, ends, root, seal))

    def add_ticket(self, draft: Draft, kind: str, operation: str | None, reverses: int | None) -> None:
        """Append a ticket's effects and take them over into the shelf. Its record was added just before."""
        o = draft.occasion
        if o.instant < self._kept_until or reverses is not None or o.corrects is not None:
            self.let_go(self._reaches_back_to(draft))
        self._add("ticket", (o.seq, o.number, kind, o.instant, o.period, operation, draft.job, reverses, o.corrects))
        self._add_lots(draft)
        self._add_all("line", [(*line[:10], *map(_array, line[10:])) for line in draft.lines])
        self._add_all("posting", draft.postings)
        for posting in draft.postings:
            account = _ACCOUNT(posting)
            self._sums[account] = self._sums.get(account, 0) + posting.ng
        self._add_all("flag", [(o.seq, *flag) for flag in draft.flags])
        if draft.sheet is not None:
            self._add("count_sheet", draft.sheet)
        if draft.opened is not None:
            self._add("opened", (o.seq, draft.opened))
        for number_ in draft.void_numbers:
            self._add("void_number", (number_, o.seq))
        self.shelf.keep_void(draft.void_numbers, o.number)
        self._add_states(draft)
        self._add_sums(draft)
        self.numbering = draft.numbering
        if draft.checked is not None or reverses is not None:
            self.shelf.forget_calibrations()
        if self._pending > _ENOUGH:
            self.flush()
        if len(self.shelf) > _KEPT:
            self.flush()
            self.shelf.forget()

    def _reaches_back_to(self, draft: Draft) -> int:
        """Return the first instant at which a ticket changes anything."""
        o = draft.occasion
        of = self.shelf.ask("SELECT instant FROM ticket WHERE seq = ?", (o.corrects,)).fetchone()
        return int(min((o.instant, *(posting.instant for posting in draft.postings), *(of or ()))))

    def let_go(self, since: int) -> None:
        """Forget what periods left that end after an instant: something dated then has changed. It is derived again."""
        if since < self._kept_until:
            for table in KEPT_TABLES:
                self.connection.execute(f"DELETE FROM {table} WHERE ends > ?", (since,))
            self._kept_until = self._last_kept()

    def _last_kept(self) -> int:
        return int(self.connection.execute("SELECT coalesce(max(ends), ?) FROM carried", (_NEVER,)).fetchone()[0])

    def _add_lots(self, draft: Draft) -> None:
        seq = draft.occasion.seq
        for lot in draft.new_lots:
            layer = composition_json(lot.layer) if lot.layer else None
            self._add("lot", (lot.id, lot.number, lot.kind, lot.made_by, lot.form, lot.class_, lot.alloy, lot.clad,
                              lot.owner, lot.serial, layer))  # fmt: skip
        for d in draft.determinations:
            sd = None if d.sd is None else str(d.sd)
            self._add("determination", (d.id, d.ticket, d.basis, d.method, sd, composition_json(d.composition)))
        self._add_all("derivation", [(child, source, str(weight)) for child, source, weight in draft.derivations])
        for lot_id, valuation in draft.valuations:
            determination = valuation.determination.id if valuation.determination else None
            row = (seq, lot_id, determination, origin_json(valuation.origin), valuation.awaiting)
            self._add("valuation", row)
        self._add_all("parent", [(seq, *pair) for pair in draft.parents])

    def _add_states(self, draft: Draft) -> None:
        seq = draft.occasion.seq
        for state in draft.job_states:
            row = (seq, state.lot, state.area, state.operation, state.opened, state.mass_in, str(state.fume_due),
                   composition_json(state.surface), int(state.calculated), int(state.done))  # fmt: skip
            self._add("job_state", row)
            self.shelf.keep_job(state)
            self._open_jobs[state.lot] = None if state.done else state.area
        self.shelf.keep_carried([*draft.arrived, *draft.sent])
        for arrived in draft.arrived:
            self._way[arrived.move, arrived.lot] = None
        for sent in draft.sent:
            self._way[sent.move, sent.lot] = (sent.sender, sent.receiver, sent.instant, _array(sent.amounts))
        if draft.checked is not None:
            scale, method, calibrated = draft.checked
            self._add("checked", (seq, scale, method, int(calibrated)))

    def _add_sums(self, draft: Draft) -> None:
        standings = draft.standings
        for standing in standings:
            self._standings[standing.area, standing.lot] = standing
        self.shelf.keep(draft.lots.values(), standings)
        o = draft.occasion
        for line in draft.lines:
            clock = self.shelf.clock(line.area)
            if clock is None or clock[0] <= o.instant:
                self._clocks[line.area] = (o.instant, o.number)
                self.shelf.keep_clock(line.area, o.instant, o.number)
        self.shelf.keep_missed(draft.found, draft.missed)
        for found in draft.found:
            self._missed[found.area, found.lot] = None
        for missed in draft.missed:
            self._missed[missed.area, missed.lot] = (_array(missed.amounts), missed.ticket)

    def flush(self) -> None:
        """Write everything gathered."""
        if not self._pending:
            return
        self._pending = 0
        for table, rows in self._rows.items():
            if rows:
                self._insert(table, rows)
                self._rows[table] = []
        self._flush_sums()

    def _insert(self, table: str, rows: list[Sequence[object]]) -> None:
        values = ["NULL"] * (table in _NUMBERED) + ["?"] * _COLUMNS[table]
        row = f"({', '.join(values)})"
        done = 0
        for many in _AT_ONCE:
            whole = len(rows) - (len(rows) - done) % many
            several = (tuple(chain.from_iterable(rows[i : i + many])) for i in range(done, whole, many))
            self.connection.executemany(f"INSERT INTO {table} VALUES {', '.join([row] * many)}", several)
            done = whole

    def _flush_sums(self) -> None:
        write = self.connection.executemany
        write(
            "INSERT INTO period_sum VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
            "ON CONFLICT DO UPDATE SET ng = ng + excluded.ng",
            [(*_texts(account), ng) for account, ng in self._sums.items()],
        )  # fmt: skip
        write(
            "INSERT OR REPLACE INTO standing VALUES (?, ?, ?, ?, ?, ?)",
            [(s.area, s.lot, _array(s.amounts), int(s.on_hand), s.last_instant, s.last_ticket)
             for s in self._standings.values()],
        )  # fmt: skip
        write("INSERT OR REPLACE INTO area_clock VALUES (?, ?, ?)", [(a, *c) for a, c in self._clocks.items()])
        write("DELETE FROM missed WHERE area = ? AND lot = ?", [key for key, row in self._missed.items() if not row])
        write("INSERT OR REPLACE INTO missed VALUES (?, ?, ?, ?)", _rows_of(self._missed))
        write("DELETE FROM on_the_way WHERE move = ? AND lot = ?", [key for key, row in self._way.items() if not row])
        write("INSERT OR REPLACE INTO on_the_way VALUES (?, ?, ?, ?, ?, ?)", _rows_of(self._way))
        write("DELETE FROM open_job WHERE lot = ?", [(lot,) for lot, area in self._open_jobs.items() if area is None])
        write("INSERT OR REPLACE INTO open_job VALUES (?, ?)", [(k, a) for k, a in self._open_jobs.items() if a])
        self._sums, self._standings, self._clocks, self._missed = {}, {}, {}, {}
        self._way, self._open_jobs = {}, {}


def _texts(account: tuple[object, ...]) -> list[object]:
    """Return an account as `period_sum` keeps it: no text for nothing."""
    return ["" if part is None else part for part in account]


def _rows_of(missed: dict[tuple[str, int], tuple[object, ...] | None]) -> Iterable[tuple[object, ...]]:
    return [(*key, *row) for key, row in missed.items() if row]


def _array(amounts: Sequence[int] | None) -> str | None:
    return None if amounts is None else f"[{','.join(map(str, amounts))}]"
