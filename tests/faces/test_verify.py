"""lemel verify: sound, or not, and where."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

from tests.faces.conftest import Lemel


def changed(book: Path, into: Path) -> Path:
    """Copy a book and change one mass around the program, as a person with a database tool would."""
    shutil.copy(book, into)
    connection = sqlite3.connect(into)
    connection.execute("DROP TRIGGER record_no_update")
    connection.execute("UPDATE record SET body = replace(body, '0.0450 g', '0.0950 g')")
    connection.commit()
    connection.close()
    return into


def test_a_sound_book(lemel: Lemel, month: Path) -> None:
    for option in ((), ("--quick",)):
        done = lemel("verify", "--book", month, *option)
        assert (done.status, done.out.startswith("sound: 41 records")) == (0, True)
        assert len(done.out.splitlines()[-1].removeprefix("chain ")) == 64, "no seal before the first close"


def test_a_changed_book_exits_5_and_names_the_ticket(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    book = changed(month, tmp_path / "changed.lemel")
    for option in ((), ("--quick",)):
        done = lemel("verify", "--book", book, *option)
        assert done.status == 5
        assert "HC-0041" in done.out
        assert "NOT SOUND" in done.out


def test_json(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    assert lemel("verify", "--book", month, "--json").json["findings"] == []
    done = lemel("verify", "--book", changed(month, tmp_path / "changed.lemel"), "--json")
    assert (done.status, done.json["sound"]) == (5, False)
    assert done.json["findings"][0].keys() == {"where", "what"}
