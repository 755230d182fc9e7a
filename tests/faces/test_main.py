"""The command as a whole: exit statuses, words for everything that goes wrong, pipes, locale and start-up."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from ledger.faces.cli import stock
from ledger.faces.cli.commands import NAMES
from ledger.faces.cli.main import main
from tests.faces.conftest import MONTH, Lemel

ROOT = MONTH.parents[1]
RUN = "from ledger.faces.cli.main import run; run()"


def process(*arguments: object, **environment: str) -> subprocess.Popen[bytes]:
    """Start the command in a process of its own."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON"))}
    return subprocess.Popen(
        [sys.executable, "-c", RUN, *map(str, arguments)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**kept, **environment},
    )  # fmt: skip


def test_version_and_help(lemel: Lemel) -> None:
    assert lemel("--version").out == "lemel 0.1.0\n"
    assert lemel("--help").status == 0


@pytest.mark.parametrize("arguments", [(), ("setup",), ("frob",), ("stock", "--frob"), ("reconcile",), ("lot",)])
def test_wrong_usage_exits_2_and_says_nothing_on_standard_output(lemel: Lemel, arguments: tuple[str, ...]) -> None:
    done = lemel(*arguments)
    assert (done.status, done.out) == (2, "")
    assert done.err


@pytest.mark.parametrize("command", ["new", "enter", "stock", "lot", "position", "reconcile", "verify", "copy-out"])
def test_help_teaches_with_an_example(lemel: Lemel, command: str) -> None:
    done = lemel(command, "--help")
    assert (done.status, f"Example:  lemel {command}" in done.out) == (0, True)
    assert all(len(line) <= 80 for line in done.out.splitlines())


def test_no_book_here_says_what_to_give(lemel: Lemel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = lemel("stock")
    assert (done.status, "--book PATH" in done.err) == (2, True)
    assert list(tmp_path.iterdir()) == []


def test_the_only_book_of_the_folder_is_taken(lemel: Lemel, empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(empty.parent)
    assert lemel("stock").status == 0
    shutil.copy(empty, empty.with_name("second.lemel"))
    assert (lemel("stock").status, "2 books here" in lemel("stock").err) == (2, True)


@pytest.mark.parametrize("content", [b"", b"not a database at all", b"SQLite format 3\x00" + b"\xff" * 200])
@pytest.mark.parametrize("command", [("stock",), ("position",), ("lot", "X"), ("reconcile", "2026-10"), ("verify",),
                                     ("copy-out",), ("setup", "show"), ("enter", MONTH / "tickets.jsonl")])  # fmt: skip
def test_what_is_no_book_exits_4_in_words(
    lemel: Lemel, tmp_path: Path, content: bytes, command: tuple[object, ...]
) -> None:
    (tmp_path / "x.lemel").write_bytes(content)
    done = lemel(*command, "--book", tmp_path / "x.lemel")
    assert (done.status, done.out) == (4, "")


def test_a_damaged_row_exits_4_and_sends_to_verify(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    book = tmp_path / "damaged.lemel"
    shutil.copy(month, book)
    connection = sqlite3.connect(book)
    connection.execute("UPDATE standing SET amounts = '[1,' WHERE on_hand = 1")
    connection.commit()
    connection.close()
    done = lemel("stock", "--book", book)
    assert (done.status, "lemel verify" in done.err) == (4, True)


def test_a_book_of_a_later_version_exits_4(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    book = tmp_path / "later.lemel"
    shutil.copy(month, book)
    connection = sqlite3.connect(book)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    done = lemel("stock", "--book", book)
    assert (done.status, "later version" in done.err) == (4, True)


def test_a_bug_is_one_line_and_exit_1(lemel: Lemel, month: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stock.Page, "say", lambda *_: 1 / 0)
    done = lemel("stock", "--book", month)
    assert (done.status, done.err.count("\n")) == (1, 1)
    assert done.err.startswith("this is a bug: ZeroDivisionError")


def test_a_bug_shows_where_when_asked(
    monkeypatch: pytest.MonkeyPatch, month: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(stock.Page, "say", lambda *_: 1 / 0)
    monkeypatch.setenv("LEMEL_DEBUG", "1")
    assert main(["stock", "--book", str(month)]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_interrupted_exits_130(lemel: Lemel, month: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(stock.Page, "say", interrupt)
    assert lemel("stock", "--book", month).status == 130


@pytest.mark.skipif(sys.platform == "win32", reason="signals and pipes of POSIX")
def test_interrupted_while_waiting_for_input_records_nothing(empty: Path, lemel: Lemel) -> None:
    running = subprocess.Popen([sys.executable, "-c", RUN, "enter", "-", "--book", str(empty)], cwd=ROOT,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)  # fmt: skip
    assert running.stdin is not None
    with pytest.raises(subprocess.TimeoutExpired):
        running.wait(timeout=3)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=30)
    assert (running.returncode, err.decode()) == (130, "interrupted\n")
    assert lemel("stock", "--book", empty, "--json").json["record"] == 1


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_a_reader_that_goes_away_is_no_error(month: Path) -> None:
    running = process("copy-out", "--what", "postings", "--book", month)
    assert running.stdout is not None
    running.stdout.close()
    assert running.stderr is not None
    assert running.stderr.read() == b""
    assert running.wait(timeout=60) == 141


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_output_that_cannot_be_written_is_told(month: Path) -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run([sys.executable, "-c", RUN, "stock", "--book", str(month)], cwd=ROOT, stdout=full,
                              stderr=subprocess.PIPE, check=False)  # fmt: skip
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert "standard output: " in done.stderr.decode()


@pytest.mark.parametrize("locale", ["C", "POSIX", "en_US.ISO-8859-1", "de_DE.UTF-8"])
def test_figures_are_the_same_bytes_in_every_locale(month: Path, locale: str) -> None:
    out, _ = process("stock", "--book", month, LC_ALL=locale).communicate(timeout=60)
    plain, _ = process("stock", "--book", month, LC_ALL="C.UTF-8").communicate(timeout=60)
    assert out == plain
    assert "‰".encode() in out


def test_narrow_terminals_do_not_alter_what_is_piped(month: Path) -> None:
    narrow, _ = process("stock", "--book", month, COLUMNS="20").communicate(timeout=60)
    wide, _ = process("stock", "--book", month, COLUMNS="300").communicate(timeout=60)
    assert narrow == wide


def loaded_by(*arguments: object) -> set[str]:
    """Return the modules that a command has loaded in a process of its own."""
    code = (
        "import sys; from ledger.faces.cli.main import main\n"
        f"assert not main({[str(argument) for argument in arguments]}); print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("command", [("stock",), ("position",), ("lot", "GB-1001")])
def test_quick_commands_do_not_load_what_posts_or_draws(month: Path, command: tuple[str, ...]) -> None:
    """Nor the set-up's models: a lot needs them only where a ticket planned it."""
    loaded = loaded_by(*command, "--book", month)
    assert "ledger.book.holdings" in loaded
    assert loaded & {"ledger.book.entering", "ledger.book.tickets", "ledger.plant.setup", "rich", "tomllib"} == set()


@pytest.mark.parametrize("command", ["stock", "enter"])
def test_a_command_is_loaded_without_the_others(month: Path, command: str) -> None:
    more = [MONTH / "tickets.jsonl", "--dry-run"] if command == "enter" else []
    loaded = loaded_by(command, *more, "--book", month)
    others = {f"ledger.faces.cli.{name.replace('-', '_')}" for name in NAMES if name != command}
    assert f"ledger.faces.cli.{command}" in loaded
    assert loaded & others == set()


def test_entering_json_lines_loads_no_reader_of_tables(month: Path) -> None:
    loaded = loaded_by("enter", MONTH / "tickets.jsonl", "--dry-run", "--book", month)
    tables = {"csv_rows", "xlsx", "spreadsheet", "tables", "columns"}
    assert loaded & {*(f"ledger.book.intake.{name}" for name in tables), "openpyxl", "xlsxwriter", "rich"} == set()


def test_a_process_looks_for_no_plugins_of_pydantic() -> None:
    """Looking for them reads the metadata of every package that is installed."""
    code = "import atexit, os; atexit.register(lambda: print(os.environ['PYDANTIC_DISABLE_PLUGINS'])); " + RUN
    done = subprocess.run([sys.executable, "-c", code, "--version"], cwd=ROOT, capture_output=True, text=True,
                          check=True)  # fmt: skip
    assert done.stdout.split()[-1] == "1"


def test_two_processes_may_enter_at_once(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    """None lost, none doubled: the second waits for the first."""
    running = []
    for clerk in ("A", "B"):
        file = tmp_path / f"{clerk}.jsonl"
        rows = [
            {"ticket": f"{clerk}-{n:04d}", "kind": "receive", "at": "2026-10-02T08:00", "by": "TH", "party": "MARLOCK",
             "terms": "bought", "to": "VAULT", "lots": [{"lot": f"{clerk}{n}", "mass": "1.0 g", "clad": "CL20"}]}
            for n in range(200)
        ]  # fmt: skip
        file.write_text("".join(f"{json.dumps(row)}\n" for row in rows), encoding="utf-8")
        running.append(process("enter", file, "--book", empty))
    assert [(each.communicate(timeout=60) and each.returncode) for each in running] == [0, 0]
    with sqlite3.connect(empty) as connection:
        assert connection.execute("SELECT count(*), count(DISTINCT number) FROM ticket").fetchone() == (400, 400)
    assert lemel("verify", "--book", empty).status == 0
