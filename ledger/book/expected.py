"""What a work ticket may lose in the ordinary course: E, from the rates stated for its operation and material.

A metal without a stated rate takes it from composition: what the lost mass carries, by the operation's composition.
`carries` and `combines` lose all metals alike, `combines` loses its fume beside; `surface` loses the layer;
`content` says nothing of gross. Where nothing can be derived the ticket is *unrated* in that metal (None).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from ledger.book.amounts import Composition
from ledger.plant.process import Operation, Rates
from ledger.plant.setup import Setup


class Worked(NamedTuple):
    """One input of a work ticket: W, what the lot is made of, and what wears off it (its layer, or itself)."""

    weighed: Sequence[int]
    alloy: str | None
    class_: str | None
    surface: Composition


@dataclass(frozen=True, slots=True)
class Expected:
    """Expected loss, and its standard deviations, in nanograms by metal (gross first); None where unrated.

    ``recoverable`` is what of the loss becomes dust: fume leaves by the stack and never does.
    ``spread`` is ticket to ticket, ``drift`` month to month and shared by an operation's tickets of the month.
    """

    loss: tuple[Fraction | None, ...]
    spread: tuple[Fraction, ...]
    drift: tuple[Fraction, ...]
    recoverable: tuple[Fraction, ...]


class ExpectedIn(NamedTuple):
    """The same of one metal."""

    loss: Fraction | None
    spread: Fraction
    drift: Fraction
    recoverable: Fraction


class _Share(NamedTuple):
    """What one input loses by share; ``amount`` is what the rates stated for ``metal`` are shares of."""

    loss: Fraction | None
    amount: int | Fraction = 0
    metal: str = ""
    fume: Fraction = Fraction(0)


_NOTHING = _Share(Fraction(0))
_UNRATED = _Share(None)


def expected_loss(setup: Setup, operation: Operation, inputs: Sequence[Worked], metals: tuple[str, ...]) -> Expected:
    """Return E of one work ticket, exactly: ``each`` + Σ share × input content, with its spread and drift."""
    found = [expected_loss_in(setup, operation, inputs, metals, i) for i in range(len(metals))]
    return Expected(
        tuple(each.loss for each in found), tuple(each.spread for each in found), tuple(each.drift for each in found),
        tuple(each.recoverable for each in found),
    )  # fmt: skip


def expected_loss_in(
    setup: Setup, operation: Operation, inputs: Sequence[Worked], metals: tuple[str, ...], i: int
) -> ExpectedIn:  # fmt: skip
    """Return what `expected_loss` does in metal ``i`` alone."""
    rates = _rates(setup, operation, inputs)
    shares, fixed = _parts(operation, rates, inputs, i, metals)
    loss, nothing = _loss(shares, fixed), Fraction(0)
    dusty = nothing
    if loss is not None and any(r.recoverable for r in rates):
        dusty = sum((((s.loss or 0) - s.fume) * r.recoverable for s, r in zip(shares, rates, strict=True)), nothing)
        dusty += (fixed or 0) * rates[0].recoverable
    rated = [(s, r) for s, r in zip(shares, rates, strict=True) if s.amount]
    spread = sum((r.spread[s.metal] * s.amount for s, r in rated), nothing)
    drift = sum((r.drift[s.metal] * s.amount for s, r in rated), nothing)
    return ExpectedIn(loss, spread, drift, dusty)


def expected_in(
    setup: Setup, operation: Operation, inputs: Sequence[Worked], metals: tuple[str, ...], i: int
) -> Fraction | None:  # fmt: skip
    """Return the loss that `expected_loss` gives in metal ``i``, and nothing else: every work ticket asks for it."""
    return _loss(*_parts(operation, _rates(setup, operation, inputs), inputs, i, metals))


def _rates(setup: Setup, operation: Operation, inputs: Sequence[Worked]) -> list[Rates]:
    return [setup.rates_for(operation.code, worked.alloy, worked.class_) for worked in inputs]


def _parts(
    operation: Operation, rates: Sequence[Rates], inputs: Sequence[Worked], i: int, metals: tuple[str, ...]
) -> tuple[list[_Share], Fraction | None]:  # fmt: skip
    """Return what goes by share, for each input, and what is lost on every ticket."""
    shares = [_share(operation, r, worked, i, metals) for r, worked in zip(rates, inputs, strict=True)]
    return shares, _fixed(operation, rates[0], inputs, i, metals)


def _loss(shares: Sequence[_Share], fixed: Fraction | None) -> Fraction | None:
    losses = [share.loss for share in shares if share.loss is not None]
    if fixed is None or len(losses) < len(shares):
        return None
    return sum(losses, fixed)


def _share(operation: Operation, rates: Rates, worked: Worked, i: int, metals: tuple[str, ...]) -> _Share:
    """Return the share part of one input in metal ``i``, as stated or derived from the metal that is."""
    base = _base(rates.loss, i, metals)
    if base is None:
        return _NOTHING if rates.each else _UNRATED
    amount = _goes_with(operation, worked, i, base)
    if amount is None:
        return _UNRATED
    metal = metals[base]
    loss = rates.loss[metal] * amount
    if base and i == 0 and operation.composition == "combines":
        fume = rates.fume * (worked.weighed[0] - loss)
        return _Share(loss + fume, amount, metal, fume)
    return _Share(loss, amount, metal)


def _goes_with(operation: Operation, worked: Worked, i: int, base: int) -> int | Fraction | None:
    """Return what a share stated for metal ``base`` is a share of, in metal ``i``; None where nothing follows."""
    if i == base:
        return worked.weighed[i]
    if operation.composition == "content" and 0 in (i, base):
        return None  # its lost mass carries nothing: gross and fine say nothing of one another
    if operation.composition == "surface":
        return worked.weighed[base] * worked.surface[i] / worked.surface[base] if worked.surface[base] else None
    return worked.weighed[i]


def _fixed(
    operation: Operation, rates: Rates, inputs: Sequence[Worked], i: int, metals: tuple[str, ...]
) -> Fraction | None:  # fmt: skip
    """Return the fixed part of a ticket in metal ``i``: as stated, else what goes with the metal that is."""
    base = _base(rates.each, i, metals)
    if base is None:
        return Fraction(0)
    each = Fraction(rates.each[metals[base]])
    if i == base or not each:
        return each
    if operation.composition == "content" and 0 in (i, base):
        return None
    in_all = _worn if operation.composition == "surface" else _weighed
    of_base = in_all(inputs, base)
    return each * in_all(inputs, i) / of_base if of_base else None


def _weighed(inputs: Sequence[Worked], i: int) -> Fraction:
    return Fraction(sum(worked.weighed[i] for worked in inputs))


def _worn(inputs: Sequence[Worked], i: int) -> Fraction:
    """Return Σ mass × fineness of what wears off."""
    return sum((worked.weighed[0] * worked.surface[i] for worked in inputs), Fraction(0))


def _base(stated: Mapping[str, object], i: int, metals: tuple[str, ...]) -> int | None:
    """Return the metal to go by: the one asked for where it is stated, else the first that is, fine before gross."""
    if metals[i] in stated:
        return i
    return next((k for k in (*range(1, len(metals)), 0) if metals[k] in stated), None)
