"""Every page on a terminal of 80, 60 and 44 columns: no line runs over, and no figure is cut or lost."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from ledger.faces import printing
from tests.faces.conftest import Lemel

COMMANDS = (
    "stock", "position", "lot GB-0901", "reconcile 2026-10", "causes 2026-10", "trend", "unseen", "rates", "checks",
    "estimates", "exceptions", "trace GB-0901", "audit holdings", "audit gaps", "audit changes", "verify",
)  # fmt: skip
_FIGURE = re.compile(r"(?<![\w.,-])-?\d[\d,]*\.\d+")
_GAP = "  "


def _pages(lemel: Lemel, book: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int) -> str:
    monkeypatch.setattr(printing, "page_width", lambda: width)
    done = lemel(*command.split(), "--book", book)
    assert done.status == 0, done.err
    return done.out


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("width", [80, 60, 44])
def test_no_line_runs_over(
    lemel: Lemel, month: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int
) -> None:
    """Unless it is one word, or two columns that the width cannot hold."""
    for line in _pages(lemel, month, monkeypatch, command, width).splitlines():
        assert printing.cells(line) <= width or len(_columns(line)) <= 2, line


def _columns(line: str) -> list[str]:
    return [part for part in re.split(r"\s{2,}" if _GAP in line.strip() else r"\s", line.strip()) if part]


@pytest.mark.parametrize("command", COMMANDS)
def test_the_same_figures_stand_at_every_width(
    lemel: Lemel, month: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    wide = Counter(_FIGURE.findall(_pages(lemel, month, monkeypatch, command, 200)))
    narrow = Counter(_FIGURE.findall(_pages(lemel, month, monkeypatch, command, 44)))
    assert narrow.keys() == wide.keys()
    assert all(narrow[figure] >= times for figure, times in wide.items())
    assert "\x1b" not in _pages(lemel, month, monkeypatch, command, 80)
