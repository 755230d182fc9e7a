"""Small books as files, for commands to read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.book.plants import Book


def filed(folder: Path, *documents: dict[str, Any]) -> Path:
    """Return the path of a book of the small invented plant with these tickets."""
    path = folder / "small.lemel"
    path.write_bytes(Book(documents).connection.serialize())
    return path
