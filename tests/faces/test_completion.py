"""The shell's completion offers commands, sub-commands and options, without opening a book."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

_LEMEL = "import sys; sys.argv = ['lemel']; from ledger.faces.cli.main import run; run()"
ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("lemel rec", "reconcile"), ("lemel audit hold", "holdings"), ("lemel reconcile --fail", "--fail-if-flagged")],
)
def test_what_is_begun_is_completed(typed: str, offered: str, tmp_path: Path) -> None:
    asked = {
        "_LEMEL_COMPLETE": "complete_bash", "COMP_WORDS": typed, "COMP_CWORD": str(len(typed.split()) - 1),
        "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    done = subprocess.run([sys.executable, "-c", _LEMEL], cwd=tmp_path, env=os.environ | asked, capture_output=True,
                          text=True, check=True)  # fmt: skip
    assert done.stdout.split() == [offered]
    assert list(tmp_path.iterdir()) == []
