"""Masses keyed wrong: other texts that could have been meant, and the proposal that each makes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final

from ledger.causes.proposals import Proposal, View, content_of
from ledger.causes.reads import Read
from ledger.quantities.mass import decimal_text, parse_mass
from ledger.refusals import QuantityRefused

CHECK_READING: Final = "look at the paper of {}, and weigh the lot again if it still stands"


def keyed_as(view: View, family: str, read: Read, other: str | None, prior: float, words: str) -> Iterator[Proposal]:
    """Yield the proposal that a reading should have been another text, where that explains anything."""
    try:
        ng = parse_mass(other) if other else read.ng
    except QuantityRefused:
        return
    known = float(read.ng - ng)
    if known and view.gain(read, known) > _LEAST_GAIN:
        yield read_as(view, family, read, (other,), known, prior, words, correct=other)


#: A known error that gains less (in log likelihood) is not worth naming: its prior is far below.
_LEAST_GAIN: Final = 1.0


def read_as(
    view: View,
    family: str,
    read: Read,
    key: tuple[Any, ...],
    known: float,
    prior: float,
    words: str,
    *,
    correct: str | None = None,
    what: Mapping[str, str] | None = None,
    mend: Mapping[str, Any] | None = None,
) -> Proposal:
    """Return the proposal that a reading is off by a known amount."""

    def say(_: float) -> str:
        meant = f" for {correct}" if correct else ""
        return f"{read.where}: {read.text} stands there{meant}; {words}"

    if correct:
        mend = {"ticket": read.ticket, "line": read.line, "set": {read.field: correct}}
    return Proposal(
        family,
        (read.source, *key),
        read.column,
        prior,
        say,
        CHECK_READING.format(read.ticket),
        theta=known,
        tickets=(read.ticket,),
        lots=(read.lot,),
        what=what or {},
        of_size=content_of(view, read),
        mend=mend,
        relative=abs(known) / read.ng,
    )


def texts_with_one_digit(text: str) -> Iterator[str]:
    """Yield the text with each of its digits replaced by each other one."""
    for at, digit in enumerate(text):
        if digit.isdigit():
            for other in "0123456789":
                if other != digit:
                    yield f"{text[:at]}{other}{text[at + 1 :]}"


def texts_with_neighbours_swapped(text: str) -> Iterator[str]:
    """Yield the text with each pair of unequal neighbouring digits swapped; a point between them stays where it is."""
    places = [at for at, c in enumerate(text) if c.isdigit()]
    for one, other in pairwise(places):
        if text[one] != text[other] and other - one <= 2:
            swapped = list(text)
            swapped[one], swapped[other] = text[other], text[one]
            yield "".join(swapped)


def times_text(text: str, factor: Fraction) -> str | None:
    """Return a mass's text with its number times a power of ten; None for one without a number."""
    number, _, unit = text.partition(" ")
    try:
        value = Fraction(number) * factor
    except ValueError:
        return None
    places = len(number.partition(".")[2]) + 2
    return f"{decimal_text(value, places)} {unit}"
