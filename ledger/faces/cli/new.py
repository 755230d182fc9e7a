"""``lemel new``: open a book."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.faces.cli import options
from ledger.faces.printing import counted, say, say_text
from ledger.faces.progress import Progress


def new(
    book: Annotated[Path, typer.Argument(metavar="BOOK", help="The file to make; its name ends in .lemel.")],
    plant: Annotated[
        Path | None, typer.Option("--plant", metavar="FILE", help="The plant's set-up, TOML.", show_default=False)
    ] = None,
    copy: Annotated[
        Path | None,
        typer.Option("--copy", metavar="FILE", help="What `lemel copy-out` wrote; taken back hash for hash.",
                     show_default=False),
    ] = None,
) -> None:  # fmt: skip
    """Open a new book.

    With a plant's set-up, or from a copy of another book.

    A book is one file, and is never written over. What the set-up leaves out is assumed; `lemel setup show --assumed`
    lists it.

    Example:  lemel new works.lemel --plant plant.toml
    """
    from ledger.refusals import WrongUsage

    if (plant is None) == (copy is None):
        raise WrongUsage("a new book needs a set-up or a copy", "give --plant plant.toml, or --copy FILE, not both")
    with options.recording():
        if plant is not None:
            _from_plant(book, plant)
        elif copy is not None:
            _from_copy(book, copy)


def _from_plant(book: Path, plant: Path) -> None:
    from ledger.book.opening import new_book
    from ledger.plant.assumed import assumed_values
    from ledger.plant.toml_file import read_setup

    setup = read_setup(plant)
    new_book(book, setup, options.user_name())
    say(f"opened {book}: {setup.plant.name}")
    held = [
        "metals " + ", ".join(setup.plant.metals), counted(len(setup.area), "area"),
        counted(len(setup.operation), "operation"), counted(len(setup.scale), "scale"),
        counted(len(setup.method), "method"), counted(len(setup.party), "party", "parties"),
        counted(len(setup.person), "person", "people"),
    ]  # fmt: skip
    say_text(", ".join(held))
    assumed = len(assumed_values(setup))
    if assumed:
        values = counted(assumed, "value is", "values are")
        say(f"{values} assumed; to see them: lemel setup show --assumed --book {book}")


def _from_copy(book: Path, copy: Path) -> None:
    from ledger.book.copying import take_back
    from ledger.plant.given_file import open_file
    from ledger.refusals import WrongUsage

    try:
        lines = open_file(copy)
    except OSError as error:
        raise WrongUsage(f"{copy} cannot be read: {error.strerror}", "check the path", field="--copy") from None
    with lines, Progress("records") as progress:
        taken = take_back(book, lines, file=str(copy), progress=progress.step)
    say(f"opened {book} from {copy}: {counted(taken.records, 'record')} taken back, hash for hash")
    say(f"chain {taken.chain}")
    say_text("Compare the chain with one kept elsewhere: a copy cut off at its end is a sound, shorter book.")
