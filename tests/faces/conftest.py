"""The commands as a person calls them, in this process, and a book with the sample month."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.cli.main import main

MONTH = Path(__file__).resolve().parents[2] / "sample_books" / "month"


@dataclass(frozen=True)
class Done:
    """What a command printed and returned."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as the one JSON document it has to be."""
        return json.loads(self.out)


Lemel = Callable[..., Done]


def call(*arguments: object) -> Done:
    """Run one command; nothing it does may print a traceback."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = main([str(argument) for argument in arguments])
    assert "Traceback" not in out.getvalue() + err.getvalue()
    return Done(status, out.getvalue(), err.getvalue())


@pytest.fixture
def lemel() -> Lemel:
    return call


@pytest.fixture(scope="session")
def month(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with the sample month entered. For reading only."""
    book = tmp_path_factory.mktemp("month") / "month.lemel"
    assert call("new", book, "--plant", MONTH / "plant.toml").status == 0
    entered = call("enter", MONTH / "tickets.jsonl", "--book", book)
    assert entered.status == 0, entered.err
    return book


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    """A book of the sample plant with no ticket yet."""
    book = tmp_path / "empty.lemel"
    assert call("new", book, "--plant", MONTH / "plant.toml").status == 0
    return book


#: What of the sample month has to be answered for before it can be closed.
ANSWERS = ("--note", "VAULT=silver is weighed finely enough", "--note", "MELT=as VAULT",
           "--note", "ROLL=skeleton sought", "--evidence", "MELT=slag and crucible assayed")  # fmt: skip


@pytest.fixture
def sealed(month: Path, tmp_path: Path) -> Path:
    """A copy of the sample month, closed."""
    book = Path(shutil.copy(month, tmp_path / "sealed.lemel"))
    closed = call("close", "2026-10", "--by", "MQ", "--with", "HB", *ANSWERS, "--book", book)
    assert closed.status == 0, closed.err
    return book
