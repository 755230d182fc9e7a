"""E: what a period's work may lose in the ordinary course, ticket by ticket, and what of it becomes dust."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.balance.evidence import Weighing, first_assays, lines_of
from ledger.book.amounts import composition_of
from ledger.book.expected import Expected, Worked, expected_loss
from ledger.book.setups import Setups
from ledger.book.shelf import composition_from


@dataclass(frozen=True, slots=True)
class Allowance:
    """One work ticket's normal loss in one metal, in nanograms; ``allowed`` is None where it is unrated.

    ``accrued`` is the part that becomes recoverable dust; ``spread`` the standard deviation from ticket to ticket.
    """

    ticket: int
    number: str
    area: str
    operation: str
    instant: int
    allowed: int | None
    accrued: int
    spread: float


def allowances(
    connection: sqlite3.Connection, setups: Setups, period: str, lines: Sequence[Weighing], metals: tuple[str, ...],
    metal: int,
) -> list[Allowance]:  # fmt: skip
    """Return the allowances of a period in one metal.

    Work counts in the period of its ticket; fine metal worked by a `content` operation when an output is first assayed.
    """
    now = [line for line in lines if line.kind == "work" and line.side == "in"]
    if metal != 0:
        now = [line for line in now if not _content(setups, line)]
        now += [line for line in lines_of(connection, first_assays(connection, period)) if line.side == "in"]
    by_ticket: dict[int, list[Weighing]] = {}
    for line in now:
        by_ticket.setdefault(line.ticket, []).append(line)
    return [_allowance(setups, inputs, metals, metal) for inputs in by_ticket.values()]


def _content(setups: Setups, line: Weighing) -> bool:
    return setups.at(line.instant).operations[line.operation or ""].composition == "content"


def _allowance(setups: Setups, inputs: Sequence[Weighing], metals: tuple[str, ...], metal: int) -> Allowance:
    first = inputs[0]
    expected = expectation(setups, inputs, metals)
    loss = expected.loss[metal]
    return Allowance(
        first.ticket, first.number, first.area, first.operation or "", first.instant,
        None if loss is None else round(loss), round(expected.recoverable[metal]), float(expected.spread[metal]),
    )  # fmt: skip


def expectation(setups: Setups, inputs: Sequence[Weighing], metals: tuple[str, ...]) -> Expected:
    """Return the expected loss of one work ticket from its input lines, at the rates in force on its date."""
    setup = setups.at(inputs[0].instant)
    operation = setup.operations[inputs[0].operation or ""]
    return expected_loss(setup, operation, [_worked(line) for line in inputs], metals)


def _worked(line: Weighing) -> Worked:
    surface = composition_from(line.layer) if line.layer else composition_of(line.content)
    return Worked(line.content, line.alloy, line.class_, surface)


def total_accrued(allowances_: Sequence[Allowance], area: str, until: int | None = None) -> int:
    """Return the dust that an area's work made, up to an instant."""
    return sum(a.accrued for a in allowances_ if a.area == area and (until is None or a.instant <= until))

