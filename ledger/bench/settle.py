"""A refiner's out-turn recomputed: from what he weighed and both assays to what is agreed, payable, charged and due.

    settled  = after-melt masses, or received × (1 − moisture)
    agreed   = settled × agreed fineness + content found apart
    accounted = the least of agreed × accountability, agreed − settled × deduction, agreed − minimum deduction
    payable  = accounted − what is kept of the metal as a charge

Exact fractions; rounded where, and to what, the terms' policy says (`settle_rounding`). Positive money is ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.bench.settle_exchange import Exchanged, exchange
from ledger.bench.settle_figures import of_unit, per_cent, per_mille
from ledger.bench.settle_forms import Samples
from ledger.bench.settle_terms import Lot, OutTurn, Terms
from ledger.bench.working import Working
from ledger.quantities.marks import london_gross
from ledger.quantities.mass import NG_PER_UNIT
from ledger.refusals import Fault, FormRefused


@dataclass(frozen=True, slots=True)
class SettledMetal:
    """One metal of one lot: finenesses as exact fractions, contents in ng, exact multiples of the step of mass.

    ``ours``, ``umpire``, ``limit``: None where there is none. ``kept``: content kept as charges.
    """

    metal: str
    ours: Fraction | None
    theirs: Fraction
    umpire: Fraction | None
    limit: Fraction | None
    exchanged: Exchanged
    agreed: Fraction
    accounted: Fraction
    kept: Fraction
    payable: Fraction


@dataclass(frozen=True, slots=True)
class SettledLot:
    """One lot: dry mass and the mass that was settled on, ng, its metals in the out-turn's order, and the working."""

    lot: Lot
    dry: Fraction
    settled: Fraction
    metals: tuple[SettledMetal, ...]
    working: Working


@dataclass(frozen=True, slots=True)
class Settled:
    """All lots of an out-turn, and what somebody should look at."""

    out_turn: OutTurn
    lots: tuple[SettledLot, ...]
    remarks: tuple[str, ...]

    @property
    def metals(self) -> list[str]:
        """The metals settled for."""
        return [terms.metal for terms in self.out_turn.metals]

    def payable(self, metal: str) -> Fraction:
        """Return what is payable of a metal over all lots, ng."""
        return sum((m.payable for lot in self.lots for m in lot.metals if m.metal == metal), Fraction(0))

    def agreed(self, metal: str) -> Fraction:
        """Return what is agreed of a metal over all lots, ng."""
        return sum((m.agreed for lot in self.lots for m in lot.metals if m.metal == metal), Fraction(0))


def settle(out_turn: OutTurn) -> Settled:
    """Return an out-turn recomputed; raises FormRefused with every assay or limit that the exchange rule wants."""
    faults: list[Fault] = []
    lots: list[SettledLot] = []
    remarks: list[str] = []
    for number, lot in enumerate(out_turn.lots, 1):
        one = _LotSum(out_turn, lot, f"lot[{number}]")
        lots.append(one.settle())
        faults += one.faults
        remarks += one.remarks
    if faults:
        raise FormRefused(faults)
    return Settled(out_turn, tuple(lots), tuple(remarks))


class _LotSum:
    """The sum of one lot, step by step."""

    def __init__(self, out_turn: OutTurn, lot: Lot, place: str) -> None:
        self.out_turn, self.lot, self.place = out_turn, lot, place
        self.working = Working()
        self.rounding = out_turn.rounding
        self.faults: list[Fault] = []
        self.remarks: list[str] = []

    def settle(self) -> SettledLot:
        dry, settled = self._masses()
        metals = [self._metal(terms, settled) for terms in self.out_turn.metals]
        known = tuple(metal for metal in metals if metal is not None)
        return SettledLot(self.lot, dry, settled, known, self.working)

    def _masses(self) -> tuple[Fraction, Fraction]:
        """Return the dry mass, and the mass settled on: after the melt where there was one."""
        received = self._weighed("received", self.lot.received)
        dry = received
        if self.lot.moisture is not None:
            dry = self._way(received * (1 - self.lot.moisture))
            self.working.step(f"dry: {self._of(received)} × (1 − {per_cent(self.lot.moisture)})", self._of(dry))
        if self.lot.melted is None:
            return dry, dry
        melted = sum((self._weighed("after the melt", one) for one in self.lot.melted), Fraction(0))
        if len(self.lot.melted) > 1:
            self.working.step("after the melt, together", self._of(melted))
        self.working.step("gone in the melt (water, oil, flux, base metal)", self._of(dry - melted))
        if melted > dry:
            words = "the melt weighs more than the dry lot: moisture, or flux in the bar"
            self.remarks.append(f"lot {self.lot.lot}: {words}")
        return dry, melted

    def _weighed(self, what: str, mass_ng: int) -> Fraction:
        """Return a mass as the terms take it: in good delivery that of a bar, stepped down, where it is settled on."""
        self.working.step(what, self._of(Fraction(mass_ng)))
        if self.rounding.weight == "as read" or (what == "received" and self.lot.melted is not None):
            return Fraction(mass_ng)
        taken = london_gross(mass_ng) * NG_PER_UNIT["ozt"]
        self.working.step("in steps of 0.025 ozt, the bar turning the scale by 0.002 ozt", self._of(taken))
        return taken

    def _metal(self, terms: Terms, settled: Fraction) -> SettledMetal | None:
        metal = terms.metal
        ours, theirs, umpire = (
            self._mean(metal, whose, words)
            for whose, words in (("ours", "ours"), ("theirs", "the refiner's"), ("umpire", "the umpire's"))
        )
        assert theirs is not None
        limit = terms.limit(theirs if ours is None else (ours + theirs) / 2)
        try:
            exchanged = exchange(self.out_turn.heading.exchange, ours, theirs, umpire, limit)
        except FormRefused as refusal:
            self.faults += self._placed(refusal, metal, ours, theirs, limit)
            return None
        if ours is not None and self.out_turn.heading.exchange != "theirs":
            against = f", splitting limit {per_mille(limit)}" if limit is not None else ""
            self.working.step(f"{metal}, ours less the refiner's{against}", per_mille(ours - theirs))
        exchanged = replace(exchanged, agreed=self._way_fineness(exchanged.agreed))
        self.working.step(f"{metal} agreed, {exchanged.how}", per_mille(exchanged.agreed))
        if umpire is not None and not exchanged.umpire_paid_by:
            self.remarks.append(f"lot {self.lot.lot}, {metal}: there is an umpire's assay, and the terms do not use it")
        return self._content(terms, settled, SettledMetal(
            metal, ours, theirs, umpire, limit, exchanged, Fraction(0), Fraction(0), Fraction(0), Fraction(0)
        ))  # fmt: skip

    def _placed(
        self, refusal: FormRefused, metal: str, ours: Fraction | None, theirs: Fraction, limit: Fraction | None
    ) -> Iterator[Fault]:
        figures = [f"ours {per_mille(ours)}"] if ours is not None else []
        figures += [f"the refiner's {per_mille(theirs)}", *([f"limit {per_mille(limit)}"] if limit is not None else [])]
        for fault in refusal.faults:
            field = "metal" if fault.field == "splitting" else f"{self.place}.{fault.field}"
            what = f"lot {self.lot.lot}, {metal}: {fault.what} ({', '.join(figures)})"
            yield Fault(fault.code, what, fault.mend, field)

    def _mean(self, metal: str, whose: str, words: str) -> Fraction | None:
        """Return the mean of the sample means; replicates of one sample say nothing of another."""
        samples: Samples | None = getattr(self.lot, whose).get(metal)
        if samples is None:
            return None
        means = [self._way_fineness(sum(one, Fraction(0)) / len(one)) for one in samples]
        mean = self._way_fineness(sum(means, Fraction(0)) / len(means))
        self.working.step(f"{metal}, {words}: {_of_samples(samples)}", per_mille(mean))
        self._look_at_replicates(metal, words, samples)
        return mean

    def _look_at_replicates(self, metal: str, words: str, samples: Samples) -> None:
        within = next(t.replicates_within for t in self.out_turn.metals if t.metal == metal)
        for number, sample in enumerate(samples, 1):
            spread = max(sample) - min(sample)
            if within is not None and spread > within:
                self.remarks.append(
                    f"lot {self.lot.lot}, {metal}: replicates of sample {number}, {words}, differ by "
                    f"{per_mille(spread)}, more than {per_mille(within)}: repeat them before settling"
                )

    def _content(self, terms: Terms, settled: Fraction, metal: SettledMetal) -> SettledMetal:
        name, fineness = terms.metal, metal.exchanged.agreed
        agreed = self._way(settled * fineness)
        self.working.step(f"{name} content: {self._of(settled)} × {per_mille(fineness)}", self._of(agreed))
        apart = self.lot.apart.get(name)
        if apart:
            agreed += apart
            self.working.step(f"{name} found apart, added: {self._of(Fraction(apart))}", self._of(agreed))
        accounted = self._accounted(terms, settled, fineness, agreed)
        kept = min(accounted, sum(self._kept(name, accounted), Fraction(0)))
        step = self.rounding.mass.ng
        end = self.rounding.at_the_end
        self.working.step(f"{name} agreed, to the step of the terms", self._of(end(agreed, step)))
        payable = end(accounted - kept, step)
        self.working.step(f"{name} payable, to the step of the terms", self._of(payable))
        return replace(metal, agreed=end(agreed, step), accounted=accounted, kept=kept, payable=payable)

    def _accounted(self, terms: Terms, settled: Fraction, fineness: Fraction, agreed: Fraction) -> Fraction:
        """Return the content accounted for: agreed less the largest deduction of the terms, never below nothing."""
        name = terms.metal
        if fineness < terms.nothing_below:
            self.working.step(f"{name} below {per_mille(terms.nothing_below)}: nothing is paid", self._of(Fraction(0)))
            return Fraction(0)
        ways = [(f"{self._of(agreed)} × {per_cent(terms.accountability)}", agreed * terms.accountability)]
        if terms.deduct:
            lower = f"{self._of(agreed)} − {self._of(settled)} × {per_mille(terms.deduct)}"
            ways.append((lower, agreed - settled * terms.deduct))
        if terms.minimum_deduction:
            kept = Fraction(terms.minimum_deduction)
            ways.append((f"{self._of(agreed)} − {self._of(kept)}, the minimum deduction", agreed - kept))
        ways = [(words, self._way(max(Fraction(0), value))) for words, value in ways]
        for words, value in ways:
            self.working.step(f"{name} accounted for: {words}", self._of(value))
        least = min(value for _, value in ways)
        if len(ways) > 1:
            self.working.step(f"{name}: the least of these", self._of(least))
        return least

    def _kept(self, metal: str, accounted: Fraction) -> Iterator[Fraction]:
        """Yield what is kept of one metal of the lot, charge by charge."""
        for charge in self.out_turn.charges:
            if charge.metal != metal or charge.amount is not None:
                continue
            if charge.share is not None:
                kept = self._way(accounted * charge.share)
                words = f"{self._of(accounted)} × {per_cent(charge.share)}"
            else:
                kept = Fraction(charge.mass or 0)
                words = "of each lot"
            self.working.step(f"{metal} kept for {charge.what}: {words}", self._of(kept))
            yield kept

    def _of(self, mass: Fraction) -> str:
        return of_unit(mass, self.rounding.mass.unit)

    def _way(self, mass: Fraction) -> Fraction:
        return self.rounding.on_the_way(mass, self.rounding.mass.ng)

    def _way_fineness(self, fineness: Fraction) -> Fraction:
        return self.rounding.on_the_way(fineness, self.rounding.fineness)


def _of_samples(samples: Samples) -> str:
    """Return determinations as they are written, samples apart."""
    rows = [", ".join(per_mille(one).removesuffix(" ‰") for one in sample) for sample in samples]
    return f"mean of {'; '.join(rows)}" if len(samples) > 1 or len(samples[0]) > 1 else "one determination"
