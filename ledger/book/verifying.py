"""Verifying: reads a book as a stranger would, and names what does not follow from its records.

`quick` checks the file, its guards, the hash of every record, the running hash, every seal, that every ticket balances
and that the sums of the periods are those of the postings. The whole check also derives all tables again from the
records, into a scratch book, and compares row by row. Records cut off at the very end leave a sound, shorter book, and
one rewritten wholly by the rules is a sound book: only a seal kept outside the book shows that.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from ledger.book import schema
from ledger.book.canonical import canonical_json, digest
from ledger.book.closes import named
from ledger.book.comparing import compare_tables
from ledger.book.entering import Stamp
from ledger.book.findings import THE_FILE, THE_SUMS, Finding, Findings
from ledger.book.intake.jsonl import decode
from ledger.book.replaying import Replay
from ledger.book.sealing import SealCheck
from ledger.book.telling import plain
from ledger.book.writing import chained, log_entry
from ledger.quantities.mass import grams_text
from ledger.refusals import BookUnusable, LemelError

__all__ = ["Finding", "verify"]

_COLUMNS: Final = ("seq", "kind", "body", "hash", "recorded_at", "recorded_by", "chain")
_TYPES: Final = (int, str, str, bytes, str, str, bytes)
_EVERY: Final = 500

#: Tables that ANALYZE adds: they only guide SQLite's choice of index.
_STATISTICS: Final = frozenset({("table", "sqlite_stat1"), ("table", "sqlite_stat4")})


def verify(
    connection: sqlite3.Connection, quick: bool = False, progress: Callable[[int], None] | None = None, *,
    further: Callable[[sqlite3.Connection, Findings], None] | None = None,
) -> list[Finding]:  # fmt: skip
    """Return what is wrong in a book, first wrong place first; nothing when it is sound.

    ``connection`` is one moment of the book (`store.reading`); nothing is written to it. ``progress`` is told the
    number of records read. ``further`` checks what rests on a sound book. Raises BookUnusable when there is no room for
    the scratch book.
    """
    findings = Findings()
    with _bytes_that_are_no_text(connection):
        for check in (_check_file, _check_version, _check_schema):
            with _told(findings, "the file"):
                check(connection, findings)
        if quick:
            _check_records(connection, findings, None, progress)
        else:
            _derive_again(connection, findings, progress)
        with _told(findings, "the postings"):
            _check_balance(connection, findings)
            if quick:
                _check_sums(connection, findings)
        if further is not None and not findings.any():
            with _told(findings, "the statements"):
                further(connection, findings)
    return findings.in_order()


@contextmanager
def _bytes_that_are_no_text(connection: sqlite3.Connection) -> Iterator[None]:
    """Let text that is not UTF-8 be read, and found wrong, where it would end the reading."""
    before = connection.text_factory
    connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        yield
    finally:
        connection.text_factory = before


@contextmanager
def _told(findings: Findings, where: str) -> Iterator[None]:
    """Make a finding of what SQLite cannot read; somebody else's lock is none."""
    try:
        yield
    except sqlite3.Error as error:
        if "locked" in str(error) or "busy" in str(error):
            raise
        findings.add("unreadable parts", THE_FILE, where, f"cannot be read: {error}")
    except UnicodeDecodeError:  # SQLite's own words, where they quote what was damaged
        findings.add("unreadable parts", THE_FILE, where, "cannot be read: its schema is damaged")


# ---- the file ---------------------------------------------------------------------------------------------------


def _check_file(connection: sqlite3.Connection, findings: Findings) -> None:
    for (said,) in connection.execute("PRAGMA main.integrity_check"):
        if said != "ok":
            findings.add("damage of the file", THE_FILE, "the file", f"is damaged: {said}")


def _check_version(connection: sqlite3.Connection, findings: Findings) -> None:
    marks = (("application_id", schema.APPLICATION_ID), ("user_version", schema.SCHEMA_VERSION))
    for mark, right in marks:
        found = connection.execute(f"PRAGMA main.{mark}").fetchone()[0]
        if found != right:
            findings.add("marks of the file", THE_FILE, "the file", f"its {mark} is {found}, that of a book is {right}")


def _check_schema(connection: sqlite3.Connection, findings: Findings) -> None:
    """Compare tables, indexes and guards with those of an empty book, each by the text that made it."""
    with closing(sqlite3.connect(":memory:")) as empty:
        schema.create(empty)
        right = _objects(empty)
    found = _objects(connection)
    for key in (*right, *(key for key in found if key not in right)):
        if found.get(key) != right.get(key):
            what = "is missing" if key not in found else "is altered" if key in right else "does not belong to a book"
            findings.add("tables and guards", THE_FILE, " ".join(map(plain, key)), what)


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], tuple[str, str | None]]:
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM main.sqlite_master ORDER BY rowid")
    objects = {(str(type_), str(name)): (table, sql) for type_, name, table, sql in rows}
    return {key: made for key, made in objects.items() if key not in _STATISTICS}


# ---- the records ------------------------------------------------------------------------------------------------


class _Records:
    """One pass over all records: each by itself, its place in the chain, and into the replay while that goes on.

    ``stopped`` is the first record that could not be replayed; what follows it cannot be derived.
    """

    def __init__(self, connection: sqlite3.Connection, findings: Findings, replay: Replay | None) -> None:
        self.connection = connection
        self.findings = findings
        self.replay = replay
        self.seq, self.chain = 0, b""
        self.stopped: int | None = None
        self.complete = False
        self.seals = SealCheck(connection)

    def read(self, row: tuple[Any, ...]) -> None:
        """Check one record."""
        wrong = [name for name, value, right in zip(_COLUMNS, row, _TYPES, strict=True) if type(value) is not right]
        if wrong:
            self._wrong("records", f"record {plain(row[0])}", f"its {' and '.join(wrong)} cannot be read")
            self._stop(f"record {plain(row[0])}")
            return
        seq, kind, body, hash_, at, by, chain = row
        self._check_place(seq)
        document = self._document(seq, body, hash_)
        if not _follows(chain, self.chain, seq, kind, hash_, at, by):
            what = "the running hash does not follow from the record before, its time and its user"
            self._wrong("running hashes", self._where(seq), what)
        self.chain = chain
        self._check_seal(row, document)
        if self.replay is not None and self.stopped is None:
            self._take(self.replay, kind, document, Stamp(at, by))

    def finish(self) -> None:
        """Let the replay write what it has gathered; what could not be read was not replayed."""
        if not self.complete:
            self._stop(f"record {self.seq + 1}")
        if self.replay is not None:
            try:
                self.replay.flush()
            except Exception as error:  # as in `_take`
                _refuse_full(error)
                self.stopped = 0
                self._wrong("limits of this check", "the records", f"could not be derived again: {error!r}")

    def _check_place(self, seq: int) -> None:
        expected, self.seq = self.seq + 1, seq
        if seq == expected:
            return
        if seq < expected:
            self._wrong("records", self._where(seq), "stands twice, or out of its order")
        else:
            further = f", and {seq - expected - 1:,} more" if seq > expected + 1 else ""
            self._wrong("records", self._where(expected) + further, "the record is not in the book")
        self._stop(self._where(min(seq, expected)))

    def _check_seal(self, row: tuple[Any, ...], document: dict[str, Any] | None) -> None:
        seq, kind, _, hash_, at, by, _ = row
        with suppress(UnicodeEncodeError):  # a time or user that is no text: told with the running hash
            self.seals.take(seq, kind, hash_, at, by, document,
                            lambda what: self._wrong("seals", self._where(seq), what))  # fmt: skip

    def _document(self, seq: int, body: str, hash_: bytes) -> dict[str, Any] | None:
        """Return what the body says; None when it cannot be read."""
        raw = body.encode("utf-8", "surrogateescape")
        document, wrong = _decoded(raw)
        if digest(raw) != hash_:
            what = "the hash is not that of the body: one of them was changed"
            self._wrong("hashes", self._where(seq), what)
        if wrong:
            self._wrong("bodies", self._where(seq), wrong)
        return document

    def _take(self, replay: Replay, kind: str, document: dict[str, Any] | None, stamp: Stamp) -> None:
        if document is None:
            self._stop(self._where(self.seq))
            return
        try:
            replay.take(kind, document, stamp)
        except Exception as error:  # a body no program of ours wrote may break any assumption: that is a finding
            _refuse_full(error)
            why = str(error.faults[0]) if isinstance(error, LemelError) else repr(error)
            self._wrong("records", self._where(self.seq), f"cannot be recorded again: {why}")
            self._stop(self._where(self.seq))

    def _where(self, seq: int) -> str:
        """Return a record by the number of its ticket as the book knows it: what its body says may be the forgery."""
        number = None
        with suppress(sqlite3.Error):
            found = self.connection.execute("SELECT number FROM main.ticket WHERE seq = ?", (seq,)).fetchone()
            number = found[0] if found else None
        return f"record {seq}" if number is None else named(plain(number))

    def _wrong(self, sort: str, where: str, what: str) -> None:
        self.findings.add(sort, max(self.seq, 1), where, what)

    def _stop(self, where: str) -> None:
        if self.replay is not None and self.stopped is None:
            self.stopped = max(self.seq, 1)
            self._wrong("limits of this check", where, "from here on nothing could be derived again and compared")


def _decoded(raw: bytes) -> tuple[dict[str, Any] | None, str]:
    try:
        document = decode(raw)
        return document, "" if canonical_json(document) == raw else "the body is not in its one canonical form"
    except LemelError as error:
        return None, f"the body {error.faults[0].what}"
    except UnicodeDecodeError:
        return None, "the body is not UTF-8"
    except (ValueError, RecursionError) as error:
        return None, f"the body cannot be read: {error.args[0] if error.args else error}"


def _follows(chain: bytes, before: bytes, seq: int, kind: str, hash_: bytes, at: str, by: str) -> bool:
    try:
        return chain == chained(before, log_entry(seq, kind, hash_, at, by))
    except UnicodeEncodeError:
        return False


def _check_records(
    connection: sqlite3.Connection, findings: Findings, replay: Replay | None, progress: Callable[[int], None] | None
) -> _Records:
    records = _Records(connection, findings, replay)
    with _told(findings, "the records"):
        rows = connection.execute(f"SELECT {', '.join(_COLUMNS)} FROM main.record ORDER BY seq")
        for read, row in enumerate(rows, 1):
            records.read(row)
            if progress is not None and read % _EVERY == 0:
                progress(read)
        records.complete = True
    if records.seq == 0:
        findings.add("records", THE_FILE, "the book", "holds no record, not even its first set-up")
    return records


def _check_balance(connection: sqlite3.Connection, findings: Findings) -> None:
    rows = connection.execute(
        "SELECT p.ticket, t.number, p.period, p.metal, sum(p.ng) FROM main.posting AS p "
        "LEFT JOIN main.ticket AS t ON t.seq = p.ticket GROUP BY p.ticket, p.period, p.metal HAVING sum(p.ng) <> 0 "
        "ORDER BY p.ticket"
    )
    for seq, number, period, metal, ng in rows:
        where = f"record {plain(seq)}" if number is None else named(plain(number))
        missed = f"{grams_text(ng)} g" if isinstance(ng, int) else plain(ng)
        what = f"its postings of {plain(metal)} in {plain(period)} sum to {missed}, not to nothing"
        findings.add("balances", _place(seq), where, what)


_SUMS = """
    SELECT period, class, area, metal, sum(ng) FROM (
        SELECT period, class, coalesce(area, '') AS area, coalesce(party, '') AS party, coalesce(terms, '') AS terms,
               coalesce(cause, '') AS cause, coalesce(origin, '') AS origin, prior, metal, ng FROM main.posting
        UNION ALL SELECT period, class, area, party, terms, cause, origin, prior, metal, -ng FROM main.period_sum)
    GROUP BY period, class, area, party, terms, cause, origin, prior, metal HAVING sum(ng) <> 0 ORDER BY 1, 2, 3"""


def _check_sums(connection: sqlite3.Connection, findings: Findings) -> None:
    """Compare the sums of the periods with the postings, without deriving either again."""
    if _sums_fit(connection):
        return
    for period, class_, area, metal, ng in connection.execute(_SUMS):
        off = f"{grams_text(ng)} g" if isinstance(ng, int) else plain(ng)
        account = " ".join(plain(part) for part in (period, class_, area, metal) if part != "")
        findings.add("sums of the periods", THE_SUMS, "sums", f"the sum of {account} is off by {off} from its postings")


_ACCOUNT: Final = "period, class, area, party, terms, cause, origin, prior, metal"


def _sums_fit(connection: sqlite3.Connection) -> bool:
    """Say whether every sum is that of its postings; False also where that cannot be told without SQLite's own sums.

    A million tickets have eleven million postings and a few thousand sums: added up here they need not be sorted.
    """
    rows = connection.execute(f"SELECT {_ACCOUNT}, ng FROM main.posting")
    kept = connection.execute(f"SELECT {_ACCOUNT}, ng FROM main.period_sum")
    sums = _added(rows)
    return sums is not None and sums == _added(tuple(None if part == "" else part for part in row) for row in kept)


def _added(rows: Iterable[tuple[Any, ...]]) -> dict[tuple[Any, ...], int] | None:
    """Return sums by account, zeros left out; None where a number is no integer."""
    sums: dict[tuple[Any, ...], int] = {}
    for row in rows:
        account, ng = row[:-1], row[-1]
        if type(ng) is not int:
            return None
        sums[account] = sums.get(account, 0) + ng
    return {account: ng for account, ng in sums.items() if ng}


def _place(seq: object) -> int:
    return seq if isinstance(seq, int) and 0 < seq < 2**63 else 1


# ---- the tables, derived again ----------------------------------------------------------------------------------


def _derive_again(
    connection: sqlite3.Connection, findings: Findings, progress: Callable[[int], None] | None
) -> None:  # fmt: skip
    with TemporaryDirectory(prefix="lemel-", ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "derived"
        with _scratch(path) as scratch:
            replay = Replay(scratch)
            records = _check_records(connection, findings, replay, progress)
            records.finish()
        with _told(findings, "the tables"), _attached(connection, path) as derived:
            compare_tables(connection, derived, findings, records.stopped)


@contextmanager
def _scratch(path: Path) -> Iterator[sqlite3.Connection]:
    """Give an empty book that only this check writes: without guards, and nothing to go back to."""
    try:
        with closing(sqlite3.connect(path, isolation_level=None)) as scratch:
            scratch.execute("PRAGMA journal_mode = OFF")
            scratch.execute("PRAGMA synchronous = OFF")
            scratch.execute("PRAGMA cache_size = -32000")
            scratch.execute("BEGIN IMMEDIATE")
            schema.create(scratch)
            for table in schema.RECORD_TABLES:
                for guard in ("no_update", "no_delete", "no_overwrite"):
                    scratch.execute(f"DROP TRIGGER {table}_{guard}")
            yield scratch
            scratch.execute("COMMIT")
    except sqlite3.Error as error:
        _refuse_full(error)
        raise


def _refuse_full(error: Exception) -> None:
    if isinstance(error, sqlite3.Error) and ("full" in str(error) or "disk I/O" in str(error)):
        raise BookUnusable(f"the folder for temporary files has no room to derive the book again: {error}",
                           "make room there, or set TMPDIR to a folder with room") from error  # fmt: skip


@contextmanager
def _attached(connection: sqlite3.Connection, path: Path) -> Iterator[str]:
    """Attach the scratch book; inside a transaction SQLite keeps it until the connection closes."""
    name = f"derived{len(connection.execute('PRAGMA database_list').fetchall())}"
    connection.execute(f"ATTACH ? AS {name}", (str(path),))
    try:
        yield name
    finally:
        if not connection.in_transaction:
            connection.execute(f"DETACH {name}")
