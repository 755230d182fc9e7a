"""Files put in their place: whole under their name or not at all, and still there when the power fails afterwards."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from ledger.refusals import WrongUsage

#: What SQLite keeps beside a book that is open, or was when a program died.
BESIDE = ("-wal", "-shm", "-journal")


def draft_name(path: Path) -> Path:
    """Return the name beside ``path`` under which this process makes the file."""
    return path.with_name(f".{path.name}.{os.getpid()}.new")


def refuse_strange_log(path: Path) -> None:
    """Refuse a name beside which another book's log lies: SQLite would write it into the new file."""
    for beside in ("-wal", "-journal"):
        left = path.with_name(path.name + beside)
        if left.exists():
            raise WrongUsage(f"{left} is left of another book", "give another name, or move it away with that book")


def put_in_place(draft: Path, path: Path, *, over: bool = False) -> None:
    """Give a closed file its name; raises FileExistsError where it is taken, unless ``over``, and OSError."""
    with draft.open("rb+") as file:
        os.fsync(file.fileno())
    if over:
        draft.replace(path)
    else:
        _link(draft, path)
    _settle(path.parent)


def clear(draft: Path) -> None:
    """Remove a file being made, and what SQLite kept beside it."""
    for beside in ("", *BESIDE):
        draft.with_name(draft.name + beside).unlink(missing_ok=True)


def _link(draft: Path, path: Path) -> None:
    try:
        os.link(draft, path)  # fails, unlike a rename, when somebody was faster
    except FileExistsError:
        raise
    except OSError:  # a disk that knows no hard links, as many a stick
        if path.exists():
            raise FileExistsError(path) from None
        draft.rename(path)


def _settle(folder: Path) -> None:
    """Let the disk hold the folder's new entry; not every system can open a folder."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
