"""Lots, what is known of their composition, and where they stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from ledger.book.amounts import Amounts, Composition

Basis = Literal["measured", "calculated", "nominal", "estimated"]
LotKind = Literal["lot", "bin", "job"]

#: Whose dust (class "dust") or difference an estimated content belongs to: (class, area) → share per metal, gross 0.
Origin = dict[tuple[str, str], tuple[Fraction, ...]]


@dataclass(frozen=True, slots=True)
class Determination:
    """What is said of a composition, on which basis, and by which ticket."""

    id: int
    ticket: int
    basis: Basis
    composition: Composition
    method: str | None = None
    sd: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Valuation:
    """What stands of a lot after a ticket: its determination, its estimate's origin, and who waits for its assay.

    ``awaiting`` is the area whose `content` operation made the lot and will bear what its first assay shows.
    A lot without a determination was unmade by a reversal.
    """

    determination: Determination | None
    origin: Origin = field(default_factory=dict)
    awaiting: str | None = None


@dataclass(slots=True)
class Lot:
    """A lot, a bin (an open lot that takes additions) or a job (what is in and not yet out)."""

    id: int
    number: str
    kind: LotKind
    made_by: int
    form: str | None
    class_: str | None
    alloy: str | None
    clad: str | None
    owner: str | None
    serial: str | None
    layer: Composition | None
    valuation: Valuation


@dataclass(slots=True)
class Standing:
    """What is recorded of a lot in an area, and the last ticket that touched it there."""

    area: str
    lot: int
    amounts: Amounts
    last_instant: int
    last_ticket: str

    @property
    def on_hand(self) -> bool:
        """Whether anything at all is recorded here, of any metal."""
        return any(self.amounts)


@dataclass(frozen=True, slots=True)
class JobState:
    """Where a job stands: what its formulas need beside its stock.

    ``mass_in``: ng put in. ``fume_due``: ng of base metal still to leave as fume. ``surface``: Σ mass × fineness of
    what wears off the inputs, in the book's order. ``calculated``: an output took its composition from the job.
    """

    lot: int
    area: str
    operation: str
    opened: int
    mass_in: int
    fume_due: Fraction
    surface: Composition
    calculated: bool = False
    done: bool = False
