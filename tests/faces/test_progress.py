"""Progress: a sign on a terminal after a second, from every command that can take longer; elsewhere not a byte."""

from __future__ import annotations

import io
import shutil
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.faces import progress
from ledger.faces.cli.main import main
from ledger.faces.progress import Progress
from tests.book.sample import MONTH

_SPINNING = "⠋ "


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class _AtOnce:
    """A timer that does not wait."""

    def __init__(self, _: float, do: Callable[[], None]) -> None:
        self.start = do
        self.cancel = self.join = lambda: None


def _on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> _Terminal:
    """Make standard error a terminal; within a test, since pytest puts its own there before each."""
    screen = _Terminal()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", screen)
    return screen


@pytest.fixture(scope="module")
def month(tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = tmp_path_factory.mktemp("progress") / "month.lemel"
    assert main(["new", str(book), "--plant", str(MONTH / "plant.toml")]) == 0
    assert main(["enter", str(MONTH / "tickets.jsonl"), "--book", str(book)]) == 0
    return book


LONG: dict[str, tuple[str, ...]] = {
    "enter": ("enter", str(MONTH / "tickets.jsonl")), "verify": ("verify",), "verify quickly": ("verify", "--quick"),
    "close": ("close", "2026-10", "--by", "MQ", "--with", "HB"), "pack": ("pack", "2026-10", "--out", "PLACE"),
    "causes": ("causes", "2026-10", "MELT"), "reconcile": ("reconcile", "2026-10"), "trend": ("trend",),
    "copy-out": ("copy-out", "--to", "PLACE"), "backup": ("backup", "PLACE"), "trace": ("trace", "PL-1005"),
    "patterns": ("patterns", "2026-10", "2026-10"), "unseen": ("unseen",), "rates": ("rates",),
}  # fmt: skip


@pytest.mark.parametrize("command", LONG)
def test_every_command_that_may_take_long_shows_it_on_a_terminal_only(
    command: str, month: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(threading, "Timer", _AtOnce)
    book, terminal = shutil.copy(month, tmp_path / "month.lemel"), _on_a_terminal(monkeypatch)

    def told(place: str, stderr: io.StringIO) -> tuple[int, str]:
        monkeypatch.setattr(sys, "stderr", stderr)
        arguments = [str(tmp_path / place) if one == "PLACE" else one for one in LONG[command]]
        return main([*arguments, "--book", str(book)]), stderr.getvalue()

    (status, shown), (again, plain) = told("a.lemel", terminal), told("b.lemel", io.StringIO())
    assert status == again
    assert _SPINNING in shown
    assert "\x1b" not in plain
    assert _SPINNING not in plain


def test_it_waits_a_second_and_then_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = _on_a_terminal(monkeypatch)
    assert progress.PATIENCE_SECONDS == 1
    monkeypatch.setattr(progress, "PATIENCE_SECONDS", 0.2)
    with Progress("records") as one:
        one.step()
        assert terminal.getvalue() == ""
        for _ in range(1233):
            one.step()
        until = time.monotonic() + 10
        while "1,234 records" not in terminal.getvalue() and time.monotonic() < until:
            time.sleep(0.05)
        then = one.step_of("months")
        assert str(one.__rich__()) == "1,234 records"
        then()
        assert one.__rich__() == "1 months"
    assert "1,234 records" in terminal.getvalue()


def test_what_is_soon_done_shows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = _on_a_terminal(monkeypatch)
    with Progress("records") as one:
        assert list(one.over("abc")) == ["a", "b", "c"]
        assert one.count == 3
    assert terminal.getvalue() == ""


def test_lines_copied_out_to_the_terminal_show_themselves(month: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = _on_a_terminal(monkeypatch)
    monkeypatch.setattr(threading, "Timer", _AtOnce)
    monkeypatch.setattr(sys, "stdout", _Terminal())
    assert main(["copy-out", "--book", str(month)]) == 0
    assert terminal.getvalue() == ""
