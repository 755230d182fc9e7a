"""The page of results: each study rewrites its own section of docs/evaluation.md, between two comments."""

from __future__ import annotations

import os
import platform
import re
import sqlite3
import sys
from datetime import UTC, datetime
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "evaluation.md"
_HEAD = """\
# How good it is

What was measured, on which machine, and by which command. Each section is written by its study and by nobody else; to
measure again, run the command it names. Tickets and plant are invented.
"""


def write_section(name: str, text: str, page: Path = PAGE, *, first: bool = False) -> None:
    """Put a section in place of the one of that name; a new one at the end of the page, or ``first`` of all."""
    begin, end = f"<!-- begin: {name} -->", f"<!-- end: {name} -->"
    section = f"{begin}\n{text.strip()}\n{end}"
    whole = page.read_text(encoding="utf-8") if page.exists() else _HEAD
    found = re.compile(re.escape(begin) + ".*?" + re.escape(end), re.DOTALL)
    if found.search(whole):
        whole = found.sub(lambda _: section, whole, count=1)
    elif first and "<!-- begin: " in whole:
        whole = whole.replace("<!-- begin: ", f"{section}\n\n<!-- begin: ", 1)
    else:
        whole = whole.rstrip("\n") + "\n\n" + section + "\n"
    page.write_text(whole, encoding="utf-8", newline="\n")


def circumstances(command: str, seed: int) -> str:
    """Say when, on what, from which seed and by which command."""
    return (
        f"Measured {datetime.now(UTC).date()}, {os.cpu_count()} cores ({platform.machine()}), Python "
        f"{platform.python_version()}, SQLite {sqlite3.sqlite_version}, seed {seed}: `{command}`."
    )


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """Return a table in Markdown; the first column is text, the others are figures."""
    lines = [head, ("---", *("---:" for _ in head[1:])), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def note(words: str) -> None:
    """Tell whoever waits how far the study is."""
    print(words, file=sys.stderr, flush=True)
