"""A pack on disk: written beside its place and put there as a whole, or not at all."""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from ledger.faces.pack.figures import FORM, csv_files, figures_document, json_bytes
from ledger.faces.pack.page import page
from ledger.faces.pack.schedule import Section
from ledger.faces.pack.workbook import Heading, workbook_bytes
from ledger.refusals import WrongUsage

PAGE: Final = "pack.html"
WORKBOOK: Final = "pack.xlsx"
FIGURES: Final = "figures.json"
SEAL: Final = "seal.txt"

#: AT_FDCWD and RENAME_EXCHANGE, of <fcntl.h> and <stdio.h> on Linux.
_HERE: Final = -100
_EXCHANGE: Final = 2


@dataclass(frozen=True)
class Written:
    """One file of a pack: its path within it, and what it holds."""

    name: str
    content: bytes

    @property
    def sha256(self) -> str:
        """The SHA-256 of its bytes, in hexadecimal."""
        return sha256(self.content).hexdigest()


def files_of(sections: Sequence[Section], heading: Heading, seal: str) -> list[Written]:
    """Return the files of a pack; the same sections always make the same bytes."""
    return [
        Written(PAGE, page(sections, heading).encode()),
        Written(WORKBOOK, workbook_bytes(sections, heading)),
        Written(FIGURES, json_bytes(figures_document(sections, heading))),
        Written(SEAL, f"{seal}\n".encode()),
        *(Written(name, content) for name, content in csv_files(sections)),
    ]


def check_place(folder: Path, plant: str, period: str) -> None:
    """Raise WrongUsage where a pack may not be put: no folder to put it in, or something there that is not its own."""
    if not folder.parent.is_dir():
        raise WrongUsage(f"there is no folder {folder.parent}", "make it first, or give another", field="--out")
    if not folder.exists() and not folder.is_symlink():
        return
    if folder.is_symlink() or not folder.is_dir():
        raise WrongUsage(f"{folder} is there already, and is no folder", "give a new folder", field="--out")
    if any(folder.iterdir()):
        _check_own(folder, plant, period)


def _check_own(folder: Path, plant: str, period: str) -> None:
    """Raise WrongUsage for a folder that holds anything but a pack of the same plant and period."""
    figures = _figures(folder)
    if figures is None:
        raise WrongUsage(f"{folder} holds something that is no pack", "give a new or an empty folder", field="--out")
    of = (figures.get("plant"), figures.get("period"))
    if of != (plant, period):
        raise WrongUsage(f"{folder} holds the pack of {of[1]}, {of[0]}", "give another folder", field="--out")
    foreign = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if not _may_be_ours(folder, path))
    if foreign:
        what = f"{folder} holds {foreign[0]}, which is not of the pack"
        raise WrongUsage(what, "move it elsewhere, or give another folder", field="--out")


def _figures(folder: Path) -> dict[str, Any] | None:
    try:
        found = json.loads((folder / FIGURES).read_bytes())
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and found.get("pack") == FORM else None


def _may_be_ours(folder: Path, path: Path) -> bool:
    parts = path.relative_to(folder).parts
    if len(parts) == 1:
        return parts[0] in (PAGE, WORKBOOK, FIGURES, SEAL) or (parts[0] == "csv" and path.is_dir())
    return len(parts) == 2 and parts[0] == "csv" and path.suffix == ".csv"


def put(folder: Path, files: Sequence[Written]) -> None:
    """Put a pack's files into a folder, in place of the pack that stands there; raises WrongUsage where it cannot."""
    with _in_words(folder), _beside(folder) as new:
        for file in files:
            path = new / file.name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(file.content)
        _put_in_place(new, folder)


@contextmanager
def _in_words(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        what = f"{folder} cannot be written: {error.strerror or error}"
        raise WrongUsage(what, "check permissions and the space left", field="--out") from None


@contextmanager
def _beside(folder: Path) -> Iterator[Path]:
    """Give a new folder beside another; what is left of it goes."""
    made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        made.chmod(0o777 & ~_umask())
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _put_in_place(new: Path, folder: Path) -> None:
    """Rename a folder to where it belongs; what stood there is put back where that fails.

    Where the system exchanges two folders in one step, a pack is under the name at every moment. Elsewhere there are
    two renames: whoever is killed between them leaves both packs whole, neither of them under the name.
    """
    if not folder.exists():
        new.rename(folder)
        return
    if _exchanged(new, folder):
        return
    with _beside(folder) as aside:
        old = aside / "old"
        folder.rename(old)
        try:
            new.rename(folder)
        except OSError:
            old.rename(folder)
            raise


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where that cannot be done: renameat2(2) of the Linux man-pages."""
    if not sys.platform.startswith("linux"):
        return False
    import ctypes

    renameat2 = getattr(ctypes.CDLL(None), "renameat2", None)  # glibc 2.28 and later
    if renameat2 is None:
        return False
    return bool(renameat2(_HERE, os.fsencode(one), _HERE, os.fsencode(other), ctypes.c_uint(_EXCHANGE)) == 0)
