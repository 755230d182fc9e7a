"""What the bench commands share: figures, and what they take from a book."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeVar

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.bench.charge_forms import Figures, Step

_T = TypeVar("_T")

#: Division of the scale that is taken where none is stated; said in the working.
DIVISION: Final = "0.01 g"

Division = Annotated[
    str | None,
    typer.Option("--division", metavar="MASS", show_default=False,
                 help=f"The step of the scale, to which masses are rounded. Left out: {DIVISION}."),
]  # fmt: skip


def many(name: str, metavar: str, words: str) -> Any:
    """Return an option that may be given several times."""
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def one(name: str, metavar: str, words: str) -> Any:
    """Return an option with a value."""
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def read(option: str, parse: Callable[[str], _T], text: str | None) -> _T | None:
    """Return what an option's text stands for, None where it was left out; raises WrongUsage naming the option."""
    if text is None:
        return None
    with options.called_wrongly(option):
        return parse(text)


def step_of(division: str | None) -> Step:
    """Return the step of the scale."""
    from ledger.bench.charge_forms import Step

    with options.called_wrongly("--division"):
        return Step(division or DIVISION)


def figures_of(unit: str | None, step: Step) -> Figures:
    """Return how masses are written: in the unit asked for, else in that of the scale, to its step."""
    from ledger.bench.charge_forms import Figures
    from ledger.faces.printing import PLACES
    from ledger.quantities.mass import PRINT_UNITS
    from ledger.refusals import WrongUsage

    if unit is None:
        return Figures(step.unit, step.places)
    if unit not in PRINT_UNITS:
        mend = "oz is ambiguous: write ozt or ozav" if unit == "oz" else "known are " + ", ".join(PRINT_UNITS)
        raise WrongUsage(f"{unit[:40]!r} is no unit to print in", mend, field="--unit")
    return Figures(unit, PLACES[unit])


def setup_at_hand(book: Path | None) -> Any:
    """Return the set-up that holds last in the book given, else in the only one here; None where there is no such."""
    from ledger.book.setups import Setups

    path = options.book_or_none(book)
    if path is None:
        return None
    with options.reading_book(path) as connection:
        return Setups.read(connection).latest


def price(text: str) -> Fraction:
    """Return the price of a nanogram, in the currency, of ``2650 USD/ozt``; raises QuantityRefused."""
    import re

    from ledger.quantities.mass import NG_PER_UNIT, shown
    from ledger.refusals import QuantityRefused

    match = re.fullmatch(r"(\d{1,12}(?:\.\d{1,6})?) ?([A-Z]{3})/([a-zµ]{1,5})", text)
    if match is None or match.group(3) not in NG_PER_UNIT:
        raise QuantityRefused(f"{shown(text)} is not a price", 'write "2650 USD/ozt"')
    return Fraction(match.group(1)) / NG_PER_UNIT[match.group(3)]


def plain(value: Fraction) -> str:
    """Return a number as a plain decimal without idle digits."""
    from ledger.quantities.mass import decimal_text

    return decimal_text(value, 6).rstrip("0").rstrip(".")
