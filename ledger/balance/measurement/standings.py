"""What a pass over the book keeps: every lot's content in each place, and its fineness, with their forms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ledger.balance.measurement.accruing import Accrual, DustMove
from ledger.balance.measurement.contents import Content, composition_of, weighed
from ledger.balance.measurement.determinations import Determinations
from ledger.balance.measurement.effective import LineOf, Lots, Shares, TicketOf
from ledger.balance.measurement.forms import Form, Tape
from ledger.balance.measurement.residuals import Residual
from ledger.balance.measurement.sources import Weighings


@dataclass(frozen=True, slots=True)
class Missed:
    """What a count did not find, and in which period."""

    content: Content
    period: str


@dataclass(slots=True)
class JobOf:
    """What a job's formulas need beside its stock: mass put in, fume due, Σ mass × fineness of what wears off.

    ``inputs``: the lots taken in, each with W; ``put_out``: Σ of the outputs; ``rated``, ``accrued``: E and its dust so
    far; ``counted``: what counts have struck of its loss; ``calculated``: an output took its composition from the job.
    """

    composition: str
    worn: Content
    put_out: Content
    mass_in: float = 0.0
    mass_in_form: Form = field(default_factory=dict)
    fume_due: float = 0.0
    fume_form: Form = field(default_factory=dict)
    inputs: list[tuple[int, Content]] = field(default_factory=list)
    calculated: bool = False
    rated: Content | None = None
    accrued: Accrual | None = None
    counted: Content | None = None
    done: bool = False

    @staticmethod
    def opened(size: int, composition: str) -> JobOf:
        """Return a job with nothing in it."""
        return JobOf(composition, Content.nothing(size), Content.nothing(size))


@dataclass(slots=True)
class Standings:
    """The state of a pass; ``metals`` is the book's order, gross first.

    ``made_by``: the ticket whose work made what a lot holds; ``job_of``: the job that a ticket is a part of.
    ``late``: tickets that count in a period after the pass, with that period.
    """

    tape: Tape
    metals: Sequence[str]
    lots: Lots
    weighings: Weighings
    determinations: Determinations
    stands: dict[tuple[str, int], Content] = field(default_factory=dict)
    fineness: dict[int, Content] = field(default_factory=dict)
    missed: dict[tuple[str, int], Missed] = field(default_factory=dict)
    sent: dict[tuple[str, int], tuple[str, Content, Content]] = field(default_factory=dict)
    jobs: dict[int, JobOf] = field(default_factory=dict)
    origins: dict[int, Shares] = field(default_factory=dict)
    awaiting: dict[int, str | None] = field(default_factory=dict)
    made_by: dict[int, int] = field(default_factory=dict)
    residuals: list[Residual] = field(default_factory=list)
    own: dict[int, Content] = field(default_factory=dict)
    expected: dict[int, Content] = field(default_factory=dict)
    job_of: dict[int, int] = field(default_factory=dict)
    late: dict[int, str] = field(default_factory=dict)
    accrued: dict[int, Accrual] = field(default_factory=dict)
    dust: list[DustMove] = field(default_factory=list)
    slopes: dict[Any, Any] = field(default_factory=dict)
    take_on_counts: frozenset[int] = frozenset()
    read_of: int = 0
    readings: dict[tuple[int, str], Form] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """How many amounts a content has."""
        return len(self.metals)

    def at(self, area: str, lot: int) -> Content:
        """Return what stands of a lot in an area."""
        return self.stands.get((area, lot)) or Content.nothing(self.size)

    def put(self, area: str, lot: int, content: Content, times: float = 1.0) -> None:
        """Add a content to what stands there."""
        before = self.stands.get((area, lot))
        if before is None and times == 1.0:
            self.stands[area, lot] = content.short(self.tape)
            return
        self.stands[area, lot] = (before or Content.nothing(self.size)).plus(content, self.tape, times)

    def empty(self, area: str, lot: int) -> Content:
        """Take all that stands there; returns it."""
        return self.stands.pop((area, lot), None) or Content.nothing(self.size)

    def fineness_of(self, lot: int, area: str, line: LineOf | None = None) -> Content:
        """Return a lot's fineness: of a bin its content over its mass there; without any, as the line has it."""
        if self.lots[lot].kind == "bin" and self.at(area, lot).values[0] > 0:
            return composition_of(self.at(area, lot), self.tape)
        known = self.fineness.get(lot)
        if known is not None:
            return known
        values = line.fineness if line is not None and line.fineness else (1.0,) + (0.0,) * (self.size - 1)
        return Content.exact(values)

    def mass(self, ticket: TicketOf, line: LineOf, document: Mapping[str, Any]) -> Form:
        """Return the form of a line's metallic mass, the same however often it is asked for; exact if not weighed."""
        if not line.weighed_ng:
            return {}
        if self.read_of != ticket.seq:
            self.read_of, self.readings = ticket.seq, {}
        key = (line.number, line.side)
        if key not in self.readings:
            self.readings[key] = self.weighings.mass(
                ticket.number, line.number, ticket.instant, document, line.scale, line.weighed_ng
            )
        return self.readings[key]

    def read(self, ticket: TicketOf, line: LineOf, document: Mapping[str, Any], fineness: Content) -> Content:
        """Return mass × fineness of a weighed line."""
        return weighed(float(line.weighed_ng or 0), self.mass(ticket, line, document), fineness)

    def stated(self, ticket: TicketOf, line: LineOf, document: Mapping[str, Any]) -> tuple[Content, Content]:
        """Return content and fineness of a line that states its lot's composition."""
        mass, form = float(line.weighed_ng or 0), self.mass(ticket, line, document)
        values = self._stated_values(line)
        fineness = self.determinations.stated(
            ticket.number, line.number, ticket.instant, document, values, mass, form
        )
        return weighed(mass, form, fineness), fineness

    def _stated_values(self, line: LineOf) -> Sequence[float]:
        """The determination's, or, where the line went into a bin, the content over the mass."""
        if line.fineness is not None and self.lots[line.lot].kind != "bin":
            return line.fineness
        mass = line.content[0] or 1
        return [1.0, *(x / mass for x in line.content[1:])]

    def put_down(self, area: str, lot: int, content: Content, fineness: Content | None) -> None:
        """Put metal down in its lot or bin; a lot then has the fineness, a bin its own mean."""
        self.put(area, lot, content)
        if fineness is not None:
            self.fineness[lot] = fineness

    def strike(
        self, ticket: TicketOf, area: str, kind: str, content: Content, *, line: int = 0, lot: int | None = None,
        prior: bool = False,
    ) -> None:  # fmt: skip
        """Keep a residual."""
        self.residuals.append(Residual(
            ticket.seq, ticket.number, line, area, ticket.period, ticket.instant, kind, lot, content,
            prior or bool(ticket.late),
        ))  # fmt: skip

    def move_dust(self, ticket: TicketOf, area: str, content: Content) -> None:
        """Keep what a ticket added to an area's dust."""
        self.dust.append(DustMove(ticket.seq, area, ticket.period, ticket.instant, content))

    def strike_by_origin(
        self, ticket: TicketOf, area: str, kind: str, content: Content, shares: Shares, *, line: int = 0,
        lot: int | None = None,
    ) -> None:  # fmt: skip
        """Keep a residual, less what an estimate's origin bears: its dust, or a difference as its own."""
        left = [1.0] * self.size
        for (class_, of), share in shares.items():
            left = [x - s for x, s in zip(left, share, strict=True)]
            if class_ == "difference":
                self.strike(ticket, of, "revaluation", content.part(share), line=line, lot=lot)
            else:
                self.move_dust(ticket, of, content.part(share))
        self.strike(ticket, area, kind, content.part(left) if shares else content, line=line, lot=lot)


def mixed(parts: Sequence[tuple[Content, Shares]]) -> Shares:
    """Return whose estimate a mixture holds, each part by its content; see `ledger.book.posting.making`."""
    if not any(shares for _, shares in parts):
        return {}
    size = len(parts[0][0].values)
    sums = [sum(content.values[i] for content, _ in parts) for i in range(size)]
    found: dict[tuple[str, str], list[float]] = {}
    for content, shares in parts:
        for key, share in shares.items():
            into = found.setdefault(key, [0.0] * size)
            for i in range(1, size):
                if sums[i]:
                    into[i] += content.values[i] / sums[i] * share[i]
    return {key: tuple(share) for key, share in found.items() if any(share)}
