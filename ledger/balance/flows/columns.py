"""The columns of the month-end statement for one area and one metal: D, G, P, E, U, and the dust H.

Received and issued are at the giver's figure: V of a receipt, W of a move or shipment, A, M; sweeps stand apart. An
estimate's true-up counts as received where its lot stands. A difference is positive where metal is missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ledger.balance.flows.evidence import NOT_OF_THE_PERIOD, DustPosting, Flow
from ledger.balance.flows.normal_loss import Allowance

#: Where a gross loss comes from, in the order of the statement.
ORIGINS = ("work", "reweighing", "count", "transfer", "revaluation")


@dataclass(slots=True)
class Columns:
    """All figures in nanograms. ``opening`` is what the period began with, a take-on as its first count found it."""

    opening: int = 0
    received: int = 0
    issued: int = 0
    closing: int = 0
    sweeps: int = 0
    difference_from: dict[str, int] = field(default_factory=lambda: dict.fromkeys(ORIGINS, 0))
    prior_period: int = 0
    allowed: int = 0
    take_on: int = 0
    known_discards: int = 0
    unrated: bool = False

    @property
    def difference(self) -> int:
        """D = opening + received − issued − closing."""
        return self.opening + self.received - self.issued - self.closing

    @property
    def gross_loss(self) -> int:
        """G = D + sweeps taken up."""
        return self.difference + self.sweeps

    @property
    def posted_loss(self) -> int:
        """G by the other road: all postings to the area's difference but write-off, close and take-on."""
        return sum(self.difference_from.values())

    @property
    def unexplained(self) -> int:
        """U = G − E − P."""
        return self.gross_loss - self.allowed - self.prior_period


@dataclass(frozen=True, slots=True)
class Dust:
    """H and what it came from, in nanograms; ``shortfall`` is what a clean-out did not bring."""

    opening: int = 0
    accrued: int = 0
    taken: int = 0
    trued_up: int = 0
    shortfall: int = 0

    @property
    def closing(self) -> int:
        """H(t1) = H(t0) + Σ q·E − taken up + trued up − shortfall."""
        return self.opening + self.accrued - self.taken + self.trued_up - self.shortfall


def area_columns(
    opening: int, closing: int, flows: Iterable[Flow], allowances: Sequence[Allowance],
    late: Iterable[Allowance] = (),
) -> Columns:  # fmt: skip
    """Return an area's columns from its stock at both ends, its flows and its allowances.

    ``late``: changes of allowances of closed periods; they belong to what undoes or replaces those periods' tickets.
    """
    columns = Columns(opening=opening, closing=closing)
    for flow in flows:
        _add(columns, flow)
    for allowance in allowances:
        columns.allowed += allowance.allowed or 0
        columns.unrated |= allowance.allowed is None
    for change in late:
        columns.allowed += change.allowed or 0
        columns.prior_period -= change.allowed or 0
    return columns


def _add(columns: Columns, flow: Flow) -> None:
    for origin, ng in flow.difference.items():
        if origin == "take_on":
            columns.take_on += ng
        elif origin not in NOT_OF_THE_PERIOD:
            columns.difference_from[origin] += ng
    columns.prior_period += flow.prior
    received, issued = received_and_issued(flow)
    columns.received += received
    columns.issued += issued
    columns.known_discards += flow.discarded
    if flow.kind == "sweep":
        columns.sweeps += flow.carried
    elif flow.kind == "open" or "take_on" in flow.difference:
        columns.opening += flow.place


def received_and_issued(flow: Flow) -> tuple[int, int]:
    """Return what a ticket brought into and took out of an area, each with its sign; a reversal's against it.

    A sweep, a take-on and its count are neither. What an assay, a discard or a settlement of an estimated lot trues up
    is received.
    """
    if flow.kind in ("sweep", "open") or "take_on" in flow.difference:
        return 0, 0
    carried = flow.carried
    if flow.kind in ("discard", "settle"):
        return carried + flow.agreed, flow.agreed
    if flow.kind == "ship":
        return 0, -carried
    if flow.kind in ("receive", "arrive"):
        return carried, 0
    if flow.kind == "move":
        inward = carried * flow.sign > 0
        return (carried, 0) if inward else (0, -carried)
    return (carried, 0) if flow.place else (0, -carried)


def area_dust(
    opening: int, postings: Iterable[DustPosting], allowances: Sequence[Allowance], cleaned_out: int | None
) -> Dust:
    """Return an area's dust; at a clean-out what should then have been nothing is the shortfall."""
    rows = list(postings)
    taken_on = sum(p.ng for p in rows if p.kind == "open")
    taken = -sum(p.ng for p in rows if p.kind == "sweep")
    trued_up = sum(p.ng for p in rows if p.kind not in ("open", "sweep"))
    accrued = sum(a.accrued for a in allowances)
    shortfall = 0
    if cleaned_out is not None:
        before = [p.ng for p in rows if p.instant <= cleaned_out]
        shortfall = opening + sum(before) + sum(a.accrued for a in allowances if a.instant <= cleaned_out)
    return Dust(opening + taken_on, accrued, taken, trued_up, shortfall)


def summed(many: Iterable[Columns]) -> Columns:
    """Return the plant's columns: the areas' added up, differences never netted against one another elsewhere."""
    total = Columns()
    for columns in many:
        for name in ("opening", "received", "issued", "closing", "sweeps", "prior_period", "allowed", "take_on",
                     "known_discards"):  # fmt: skip
            setattr(total, name, getattr(total, name) + getattr(columns, name))
        for origin, ng in columns.difference_from.items():
            total.difference_from[origin] += ng
        total.unrated |= columns.unrated
    return total
