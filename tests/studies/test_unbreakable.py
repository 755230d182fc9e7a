"""Crash, faults and crowds in short; the long forms are studies, and write their sections of docs/evaluation.md."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from contextlib import closing
from itertools import count
from pathlib import Path
from random import Random

import pytest

from ledger.book import store
from ledger.book.entering import Entry
from ledger.book.intake import read_file
from ledger.faces.pack import writing
from ledger.faces.pack.writing import Written, put
from tests.studies import crash, faults, killing, many_at_once
from tests.studies.changed_books import Change, closing_of_the_month, entry, folder, migration, state

if not hasattr(os, "fork"):
    pytest.skip("a child of this process is killed", allow_module_level=True)


# ---- faults -----------------------------------------------------------------------------------------------------


def test_an_entry_stopped_at_a_step_is_whole_or_not_at_all() -> None:
    with folder() as place:
        change = entry(place, 38, 38)
        most = faults.steps(change.make)
        change.put_back()
        found = faults.stopped_at_steps(change, range(1, most + 1, 29))
        assert found.before > 40
        assert faults.stopped_at_steps(change, range(most // 2, most + 1, 101), for_good=True).before
        assert faults.stopped_at_steps(change, [most + 1]).after == 1


def test_a_close_and_a_migration_stopped_at_a_step() -> None:
    with folder() as place:
        for change in (closing_of_the_month(place), migration(place)):
            most = faults.steps(change.make)
            change.put_back()
            last = 3 if most < 10_000 else 40
            found = faults.stopped_at_steps(change, [*range(1, most, most // 8), *range(most - 150, most, last)])
            assert found.before > 8


def test_a_full_disk_at_every_page() -> None:
    with folder() as place:
        for change in (entry(place, 21, 40), migration(place)):
            found = faults.full_at_pages(change)
            assert (found.statuses[0], found.statuses[4]) == (1, found.before)
            assert found.before >= 4


def test_no_room_for_a_file_the_log_or_its_index() -> None:
    with folder() as place:
        found = faults.full_at_bytes(entry(place, 38, 38))
    assert found.before >= 5
    assert (found.after, found.statuses[0]) == (1, 1)


@pytest.mark.skipif(not faults.may_mount(), reason="only the superuser may have a small disk")
def test_a_small_disk_that_is_full() -> None:
    with folder() as place:
        found = faults.really_full(entry(place, 38, 38))
    if found is None:
        pytest.skip("this system gives no small disk")
    assert found.before >= 5


def test_power_lost_while_the_log_is_written_or_taken_over() -> None:
    with folder() as place:
        change = entry(place, 25, 25)
        found = faults.log_cut_off(change, 3)
        assert (found.after, found.before > 20) == (1, True)
        assert faults.half_taken_over(change, 25, Random(7)).after == 25


def _careless(change: Change) -> Change:
    """Return the same entry by a program that commits in the middle of it."""
    file = Path(str(change.arguments[1]))

    def work(book: Path) -> None:
        with store.writing(book) as connection:
            made = Entry(connection)
            for place, row in enumerate(read_file(file)):
                if place:
                    made.writer.flush()
                    connection.execute("COMMIT")
                    connection.execute("BEGIN IMMEDIATE")
                assert row.document is not None
                made.record(row.document, faults_stamp())
            made.writer.flush()

    return Change(change.path, work, *change.arguments[:-2])


def faults_stamp() -> object:
    from ledger.book import entering

    return entering.stamp_now("study")


def test_a_program_that_commits_twice_is_found_out() -> None:
    with folder() as place:
        change = _careless(entry(place, 21, 24))
        most = faults.steps(change.make)
        change.put_back()
        with pytest.raises(AssertionError, match="neither as before the change nor as after it"):
            faults.stopped_at_steps(change, range(1, most + 1, most // 40))


def test_a_state_tells_one_row_from_another(tmp_path: Path) -> None:
    with folder() as place:
        change = entry(place, 38, 38)
        with closing(sqlite3.connect(change.path)) as connection:
            connection.execute("UPDATE standing SET last_instant = last_instant + 1 WHERE lot = 1")
            connection.commit()
        assert state(change.path) != change.before


# ---- kills ------------------------------------------------------------------------------------------------------


def test_killed_at_random_moments() -> None:
    found = crash.attempt({"entering": 4, "migrating": 2, "backing up": 2, "replacing a pack": 2}, 4)
    assert sum(one.killed for one in found.values()) >= 5


_EARLIER = [Written("figures.json", b"earlier"), Written("csv/a.csv", b"a\n"), Written("pack.html", b"earlier")]
_LATER = [Written("figures.json", b"later"), Written("csv/b.csv", b"b\n"), Written("pack.html", b"later")]


def _killed_at_every_operation(place: Path) -> list[dict[str, bytes]]:
    """Put a pack in place of an earlier one, killed before each operation on files; return what was there each time."""
    found, pack = [], place / "pack"
    for touch in count(1):
        shutil.rmtree(pack, ignore_errors=True)
        put(pack, _EARLIER)
        if not killing.run_and_kill(lambda: put(pack, _LATER), killing.Moment(touch=(place, touch))).killed:
            return found
        found.append(crash.held(pack))
    raise AssertionError


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="exchanges folders in two steps")
def test_a_pack_killed_at_every_operation_on_its_files(tmp_path: Path) -> None:
    earlier, later = ({one.name: one.content for one in files} for files in (_EARLIER, _LATER))
    found = _killed_at_every_operation(tmp_path)
    assert found == [earlier] * (when := found.index(later)) + [later] * (len(found) - when)
    assert min(when, len(found) - when) >= 6


def test_a_pack_replaced_in_two_steps_is_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "_exchanged", lambda *_: False)
    assert {} in _killed_at_every_operation(tmp_path)


def test_a_child_that_is_killed_has_said_what_it_had_done() -> None:
    def work() -> None:
        for n in range(100):
            print("done", n, flush=True)
            with closing(sqlite3.connect(":memory:")) as connection:
                connection.execute("SELECT 1").fetchone()

    one = killing.run_and_kill(work, killing.Moment(step=20))
    assert one.killed
    assert 1 < one.out.count(b"done") < 20
    all_ = killing.run_and_kill(work, killing.Moment())
    assert (all_.killed, all_.out.count(b"done")) == (False, 100)


# ---- crowds -----------------------------------------------------------------------------------------------------


def test_many_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(store.writing.__wrapped__.__kwdefaults__, "patience", 1.0)  # type: ignore[attr-defined]
    found = many_at_once.attempt(90, 3, 1)
    assert (found.tickets, found.gave_up) == (90, 0)
    assert found.compared >= 2
    assert found.backups >= 1
    assert 0.9 <= found.waited < 10


def test_an_answer_of_no_moment_is_found_out(tmp_path: Path) -> None:
    """A statement changed by a nanogram, and one read at another record."""
    book, _ = many_at_once.all_at_once(tmp_path, 40, 2, 1)
    log = tmp_path / "0.answers"
    lines = log.read_text(encoding="utf-8").splitlines(keepends=True)
    position = next(line for line in lines if '["position"' in line)
    log.write_text(position.replace("000000", "000001", 1), encoding="utf-8")
    with pytest.raises(AssertionError):
        many_at_once.consistent_with_a_moment(tmp_path, book, many_at_once.Found())


# ---- the studies ------------------------------------------------------------------------------------------------


@pytest.mark.study
def test_faults_at_every_place() -> None:
    found = faults.run()
    assert all(one.before or "half taken over" in name for name, one in found.items())
    assert all(not one.statuses[1] for one in found.values())


@pytest.mark.study
def test_a_thousand_kills() -> None:
    found = crash.run()
    assert sum(one.rounds for one in found.values()) == crash.ROUNDS
    assert sum(one.killed for one in found.values()) >= 0.8 * crash.ROUNDS


@pytest.mark.study
def test_eight_writers() -> None:
    found = many_at_once.run()
    assert found.tickets == many_at_once.TICKETS
    assert found.compared >= 20
    assert found.waited >= store.PATIENCE_SECONDS
