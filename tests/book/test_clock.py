"""The computer's clock jumps back, or far ahead: order is by record, nothing is refused or lost, and it shows."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.entries import entries_document
from ledger.audit.inquiry import Inquiry
from ledger.book import entering
from ledger.book.copying import copy_out, take_back
from ledger.book.entering import enter
from ledger.book.intake.rows import Row
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.book.verifying import verify
from ledger.plant.toml_file import read_setup
from tests.book.sample import MONTH

NOON = datetime(2026, 10, 5, 12, tzinfo=UTC)
HOURS = (0, 1, -5, -4, 24 * 365 * 30, 2)  # the third and the last were recorded before the one before them


def check(n: int) -> dict[str, Any]:
    return {"ticket": f"HC-{n:04d}", "kind": "checkweigh", "at": f"2026-10-05T07:{n:02d}", "by": "MQ",
            "scale": "S-FLOOR", "standard": "1000.00 g", "reading": "1000.01 g"}  # fmt: skip


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book whose tickets were recorded while the clock jumped."""
    path = tmp_path / "clock.lemel"
    new_book(path, read_setup(MONTH / "plant.toml"), "user")

    class Clock(datetime):
        now_at = NOON

        @classmethod
        def now(cls, tz: Any = None) -> datetime:
            return cls.now_at

    monkeypatch.setattr(entering, "datetime", Clock)
    for n, hours in enumerate(HOURS, 1):
        Clock.now_at = NOON + timedelta(hours=hours)
        with writing(path) as connection:
            assert enter(connection, [Row("file", n, check(n))], "user").recorded == 1
    return path


def test_every_ticket_is_there_in_the_order_it_was_recorded(book: Path) -> None:
    with reading(book) as connection:
        assert verify(connection) == []
        rows = connection.execute("SELECT number, recorded_at FROM ticket JOIN record USING (seq) ORDER BY seq")
        assert rows.fetchall() == [
            (f"HC-{n:04d}", (NOON + timedelta(hours=h)).isoformat(timespec="seconds")) for n, h in enumerate(HOURS, 1)
        ]


def test_a_copy_is_taken_back_with_the_times_as_they_were(book: Path, tmp_path: Path) -> None:
    with reading(book) as connection:
        lines = list(copy_out(connection))
    assert take_back(tmp_path / "again.lemel", lines).records == len(lines)


def test_an_auditor_sees_it(book: Path) -> None:
    with reading(book) as connection:
        found = entries_document(Inquiry.of(connection), None)["clock_back"]
    assert [one["ticket"] for one in found if one["ticket"]][-2:] == ["HC-0003", "HC-0006"]
    (third,) = (one for one in found if one["ticket"] == "HC-0003")
    assert (third["recorded_at"], third["before"]) == ("2026-10-05T07:00:00+00:00", "2026-10-05T13:00:00+00:00")
