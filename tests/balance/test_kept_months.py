"""What the book keeps of past months: the same bytes with and without, let go of when something earlier changes."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months.chain import Chain
from ledger.balance.months.kept import WRITER, keep
from ledger.balance.months.statement import reconcile
from ledger.balance.months.verifying import verify
from ledger.book import holdings
from ledger.book.entering import Entry, Stamp
from ledger.book.opening import record_change
from ledger.book.schema import KEPT_TABLES
from ledger.book.store import reading, writing
from ledger.refusals import BookUnusable
from tests.balance import closing_plant, invented_months
from tests.balance.carried_months import keep_all
from tests.balance.invented_months import Months
from tests.balance.plant_model import PLANT
from tests.book.plants import Book, Document, lot, ticket

MONTHS = ("2026-07", "2026-08", "2026-09", "2026-10", "2026-11")
STAMP = Stamp("2026-12-01T00:00:00+00:00", "tester")


@pytest.fixture(scope="module")
def documents() -> list[Document]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(invented_months, "MONTHS", MONTHS)
        return Months(7, 12).documents


@pytest.fixture
def path(documents: list[Document], tmp_path: Path) -> Path:
    """A book of five months as a file."""
    book = tmp_path / "kept.lemel"
    book.write_bytes(Book(documents, PLANT).connection.serialize())
    return book


def ends(connection: sqlite3.Connection) -> list[str]:
    """Return the periods whose ends the book keeps; each has its rows and balances too."""
    kept = connection.execute("SELECT period, ends FROM carried ORDER BY ends").fetchall()
    for table in KEPT_TABLES[1:]:
        of = {e for (e,) in connection.execute(f"SELECT DISTINCT ends FROM {table}")}
        assert of == {e for _, e in kept}, table
    return [period for period, _ in kept]


def asked(path: Path, period: str, metal: str = "gold") -> bytes:
    """Return a month's statement as the command prints it, and let the book keep what had to be derived."""
    with reading(path) as connection:
        chain = Chain(connection)
        document = reconcile(connection, period, metal, chain)
        record, past = holdings.as_of(connection).record, chain.keepable()
    keep(path, past, record)
    return json.dumps(document, ensure_ascii=False).encode()


def kept_of(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return ends(connection)


def test_the_same_bytes_whatever_is_kept(path: Path) -> None:
    """From nothing kept, from all of it, and from some of it; in each metal."""
    for metal in ("gold", "silver", "gross"):
        with closing(sqlite3.connect(path)) as connection:
            for table in KEPT_TABLES:
                connection.execute(f"DELETE FROM {table}")
            connection.commit()
        bare = {period: asked(path, period, metal) for period in reversed(MONTHS)}
        assert kept_of(path) == list(MONTHS[:-1])
        assert {period: asked(path, period, metal) for period in MONTHS} == bare
        with closing(sqlite3.connect(path)) as connection:
            for table in KEPT_TABLES:
                connection.execute(f"DELETE FROM {table} WHERE ends > (SELECT min(ends) FROM {table})")
            connection.commit()
        assert kept_of(path) == [MONTHS[0]]
        assert {period: asked(path, period, metal) for period in MONTHS} == bare


def test_only_past_months_are_kept(path: Path) -> None:
    asked(path, "2027-05")
    assert kept_of(path) == list(MONTHS[:-1])
    asked(path, MONTHS[0])
    assert kept_of(path) == list(MONTHS[:-1])


def test_what_a_statement_reads_is_kept_as_text_that_reads_back_the_same(path: Path) -> None:
    """Derived again, each row is the same to the last digit."""
    asked(path, MONTHS[-1])
    with closing(sqlite3.connect(path)) as connection:
        before = {table: connection.execute(f"SELECT * FROM {table}").fetchall() for table in KEPT_TABLES}
        for table in KEPT_TABLES:
            connection.execute(f"DELETE FROM {table}")
        connection.commit()
    asked(path, MONTHS[-1])
    with closing(sqlite3.connect(path)) as connection:
        for table in KEPT_TABLES:
            assert connection.execute(f"SELECT * FROM {table}").fetchall() == before[table]


def test_a_closed_month_s_statement_keeps_and_reads_too(tmp_path: Path) -> None:
    """What October left is kept by whoever asks for November, closed as it is; then it comes out the same."""
    made = closing_plant.begun(closing_plant.melted(2), ticket(3, "count", area="MELT", lots=[
        lot("A", "4000.00"), lot("B-2", "998.00"),
    ]))  # fmt: skip
    closing_plant.closed(made)
    made.enter(closing_plant.in_november(closing_plant.melted(4)))
    closing_plant.closed(made, "2026-11")
    made.enter(ticket(5, "count", area="ROLL", lots=[], nil=True, at="2026-12-02T08:00"))
    book = tmp_path / "closed.lemel"
    book.write_bytes(made.connection.serialize())
    first = asked(book, "2026-11")
    assert kept_of(book) == ["2026-10"]
    assert asked(book, "2026-11") == first
    assert asked(book, "2026-12") == asked(book, "2026-12")
    assert kept_of(book) == ["2026-10", "2026-11"]
    assert found(book) == []


# ---- letting go -------------------------------------------------------------------------------------------------


def recorded(documents: list[Document], *more: Document) -> sqlite3.Connection:
    """Return a book that kept all it could, and then recorded more."""
    connection = Book(documents, PLANT).connection
    keep_all(connection, MONTHS[-1])
    assert ends(connection) == list(MONTHS[:-1])
    entry = Entry(connection)
    for document in more:
        entry.record(document, STAMP)
    entry.writer.flush()
    fresh = Chain(connection, kept=False)
    for period in MONTHS:
        assert reconcile(connection, period) == reconcile(connection, period, None, fresh), period
    return connection


def received(number: str, at: str, **fields: Any) -> Document:
    line = {"lot": f"LATE-{number}", "mass": "100.00 g", "scale": "S1", "fineness": {"gold": "500‰", "silver": "0‰"}}
    head = {"ticket": number, "kind": "receive", "at": at, "by": "W", "party": "SUP", "terms": "bought"}
    return {**head, "to": "VAULT", "lots": [line], **fields}


def test_a_ticket_of_the_present_month_lets_go_of_nothing(documents: list[Document]) -> None:
    assert ends(recorded(documents, received("T-90001", "2026-12-01T06:00"))) == list(MONTHS[:-1])


def test_a_late_ticket_lets_go_of_its_month_and_all_later_ones(documents: list[Document]) -> None:
    assert ends(recorded(documents, received("T-90001", "2026-09-30T23:00"))) == list(MONTHS[:2])
    assert ends(recorded(documents, received("T-90001", "2026-09-01T00:00"))) == list(MONTHS[:2])
    assert ends(recorded(documents, received("T-90001", "2026-08-31T23:59"))) == [MONTHS[0]]


def test_a_late_check_of_a_scale_does_too(documents: list[Document]) -> None:
    check = {"ticket": "T-90001", "kind": "checkweigh", "at": "2026-08-03T06:00", "by": "W", "scale": "S1",
             "standard": "100.000 g", "reading": "100.00 g", "calibrated": True}  # fmt: skip
    assert ends(recorded(documents, check)) == [MONTHS[0]]


def _first(documents: list[Document], month: str, fits: Callable[[Document], bool]) -> Document:
    return next(document for document in documents if document["at"].startswith(month) and fits(document))


def test_a_reversal_counts_from_what_it_reverses_and_a_correction_so(documents: list[Document]) -> None:
    """A count of August reversed in December, and entered anew under a number of its own."""
    wrong = _first(documents, "2026-08", lambda d: d["kind"] == "count" and d["area"] == "SHIP")
    head = {"kind": "reverse", "at": "2026-12-01T06:00", "by": "W", "of": wrong["ticket"], "reason": "wrong"}
    reversal = {"ticket": "T-90001", **head}
    assert ends(recorded(documents, reversal)) == [MONTHS[0]]
    connection = recorded(documents, reversal)
    keep_all(connection, MONTHS[-1])
    assert ends(connection) == list(MONTHS[:-1])
    entry = Entry(connection)
    later = "2026-10-20T06:00"
    entry.record(wrong | {"ticket": "T-90002", "corrects": wrong["ticket"], "at": later}, STAMP)
    entry.writer.flush()
    assert ends(connection) == [MONTHS[0]]


def test_a_change_of_the_set_up_lets_go_from_its_date(documents: list[Document]) -> None:
    connection = Book(documents, PLANT).connection
    keep_all(connection, MONTHS[-1])
    change = {"from": "2026-09-10T00:00", "by": "W", "reason": "learned",
              "operation": [{"code": "roll", "loss": {"gold": "0.06%"}}]}  # fmt: skip
    record_change(connection, change, STAMP)
    assert ends(connection) == list(MONTHS[:2])
    assert reconcile(connection, MONTHS[-1]) == reconcile(connection, MONTHS[-1], None, Chain(connection, kept=False))


# ---- who writes -------------------------------------------------------------------------------------------------


def test_nothing_is_kept_where_somebody_is_writing_or_has_written(path: Path) -> None:
    with writing(path) as connection:
        asked(path, MONTHS[-1])
        assert ends(connection) == []
    with reading(path) as connection:
        chain = Chain(connection)
        reconcile(connection, MONTHS[-1], None, chain)
        record, past = holdings.as_of(connection).record, chain.keepable()
    with writing(path) as connection:
        entry = Entry(connection)
        entry.record(received("T-90001", "2026-12-01T06:00"), STAMP)
        entry.writer.flush()
    keep(path, past, record)
    assert kept_of(path) == []
    keep(path, past, record + 1)
    assert kept_of(path) == list(MONTHS[:-1])


def test_a_book_that_cannot_be_written_is_read_all_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def read_only(*_: object, **__: object) -> sqlite3.Connection:
        connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, isolation_level=None)
        connection.execute("PRAGMA query_only = ON")
        return connection

    before = path.read_bytes()
    monkeypatch.setattr("ledger.balance.months.kept.connect", read_only)
    asked(path, MONTHS[-1])
    assert path.read_bytes() == before


def test_what_another_version_wrote_is_not_read(path: Path) -> None:
    right = asked(path, MONTHS[-1])
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE carried SET program = '0', state = '{}'")
        connection.commit()
    assert asked(path, MONTHS[-1]) == right
    assert kept_of(path) == list(MONTHS[:-1])


def test_whoever_changes_what_is_kept_raises_the_writer(path: Path) -> None:
    """Computed here: with another digest, raise `WRITER`, and put the new one beside it."""
    asked(path, MONTHS[-1])
    kept = sha256()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE carried SET program = ''")
        for table in KEPT_TABLES:
            kept.update(repr(sorted(connection.execute(f"SELECT * FROM {table}"))).encode())
    assert (WRITER, kept.hexdigest()[:16]) == ("0.1.0 2", "7f9769af59ac6a25")


# ---- verify -----------------------------------------------------------------------------------------------------


def found(path: Path) -> list[str]:
    with reading(path) as connection:
        return [f"{finding.where}: {finding.what}" for finding in verify(connection)]


def change(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute(statement).rowcount
        connection.commit()


def test_a_sound_book_with_kept_months_is_sound(path: Path) -> None:
    asked(path, MONTHS[-1])
    assert found(path) == []


def test_what_another_wrote_is_not_compared(path: Path) -> None:
    asked(path, MONTHS[-1])
    change(path, "UPDATE carried SET program = '0.1.0', state = '{}'")
    assert found(path) == []


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE carried_balance SET unexplained = unexplained + 1 WHERE area = 'ROLL' AND metal = 'gold'",
         "2026-07 carried_balance gold ROLL"),
        ("UPDATE carried_balance SET counted = NULL WHERE area = 'ROLL' AND metal = 'gold'",
         "2026-07 carried_balance gold ROLL"),
        ("UPDATE carried_balance SET covariances = replace(covariances, ',', ',0') WHERE area = 'MELT'",
         "2026-09 carried_balance gold MELT"),
        ("UPDATE carried_rows SET rows = replace(rows, '[0,', '[1,') WHERE metal = 'silver'",
         "2026-08 carried_rows silver"),
        ("UPDATE carried SET state = replace(state, '\"stands\":[[', '\"stands\":[[\"\",1,[[0],[[]]]],[')",
         "2026-08 carried"),
        ("UPDATE carried SET record = 1 WHERE period = '2026-08'", "2026-08 carried"),
        ("UPDATE carried SET periods = periods + 1 WHERE period = '2026-08'", "2026-08 carried"),
        ("DELETE FROM carried_balance WHERE area = 'PRESS' AND metal = 'gross'", "2026-07 carried_balance gross PRESS"),
        ("INSERT INTO carried_balance SELECT ends, metal, 'NOWHERE', 0, 0, 0, 0, 0, '[]', '[]' FROM carried_rows",
         "2026-07 carried_balance gold NOWHERE"),
        ("UPDATE carried SET state = 'not JSON' WHERE period = '2026-09'", "2026-09 carried"),
    ],
)  # fmt: skip
def test_a_changed_row_is_named(path: Path, statement: str, named: str) -> None:
    asked(path, MONTHS[-1])
    change(path, statement)
    assert any(line.startswith(f"kept month {named}") for line in found(path)), found(path)


def test_an_end_of_no_period_is_named(path: Path) -> None:
    asked(path, MONTHS[-1])
    change(path, "UPDATE carried SET ends = ends + 1 WHERE period = '2026-08'")
    assert any("is the end of no period" in line for line in found(path))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE carried SET state = 'not JSON'",
        "UPDATE carried SET state = '{}'",
        "UPDATE carried SET state = replace(state, '\"sources\":[[', '\"sources\":[],\"more\":[[')",
        "UPDATE carried SET state = replace(state, '\"stands\":[[', '\"stands\":[[\"ROLL\",9999,[[0.0],[[]]]],[')",
        "UPDATE carried_rows SET rows = '[]'",
        "UPDATE carried_balance SET whole = '[null]'",
    ],
)
def test_what_cannot_be_read_is_refused_in_words(path: Path, statement: str) -> None:
    asked(path, MONTHS[-1])
    change(path, statement)
    with pytest.raises(BookUnusable, match="cannot be read"):
        asked(path, MONTHS[-1])
