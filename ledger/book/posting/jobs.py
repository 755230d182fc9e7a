"""Jobs: work over several tickets. What is in and not yet out stands in the area, as the job.

Inputs: place −R, difference R − W, place(job) +W. Outputs: place(job) −O, place +O. At `done` what is left of the job
is its own difference, struck once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import hypot

from ledger.book.amounts import ONE, Amounts, Composition, content, minus, negative, shared_by_mass
from ledger.book.draft import Draft
from ledger.book.lots import Determination, JobState, Lot, Valuation
from ledger.book.posting.making import flag_mixed_owners, mixed_origin
from ledger.book.posting.outputs import Output, put_down, value_stated, weigh_output
from ledger.book.posting.taking import Taken, bring_to_hand, take
from ledger.book.posting.weighing import reading_sd_ng
from ledger.book.tickets import Work
from ledger.plant.process import Operation
from ledger.quantities.mass import mass_text
from ledger.refusals import Impossible


class Job:
    """One job as a ticket finds it, and what the ticket does to it."""

    def __init__(self, ticket: Work, draft: Draft, operation: Operation) -> None:
        self.ticket, self.draft, self.operation = ticket, draft, operation
        self.number, self.area = ticket.job or "", ticket.area
        lot = draft.lot(self.number)
        if lot is not None and lot.kind != "job":
            raise Impossible(f"{self.number} is a {lot.kind}, not a job", "give the job its own number", field="job")
        self.lot = lot
        self.state = self._state()

    def _state(self) -> JobState:
        state = self.draft.job_state(self.lot.id) if self.lot else None
        if state is None:
            nothing = tuple(Fraction(0) for _ in self.draft.metals)
            return JobState(0, self.area, self.operation.code, self.draft.occasion.instant, 0, Fraction(0), nothing)
        if state.done and self.draft.occasion.corrects is None:
            raise Impossible(f"job {self.number} is done", "open a new job, or reverse its last ticket", field="job")
        for field, was, now in (("area", state.area, self.area), ("operation", state.operation, self.operation.code)):
            if was != now:
                raise Impossible(f"job {self.number} is kept in {field} {was}, not {now}", "correct it", field=field)
        return replace(state, done=False)

    @property
    def stands(self) -> Amounts:
        """What is recorded of the job."""
        return self.draft.amounts(self.area, self.lot.id) if self.lot else [0] * self.draft.size

    @property
    def mass_left(self) -> Fraction:
        """Mass left that still holds the content: of a combining job less the fume that is due."""
        left = self.stands[0] - self.state.fume_due
        return max(left, Fraction(sum(self.stands[1:]))) if self.operation.composition == "combines" else left

    @property
    def composition(self) -> Composition:
        """The composition an output takes; with no mass left, the last one."""
        assert self.lot is not None
        assert self.lot.valuation.determination is not None
        return self.lot.valuation.determination.composition

    def find(self) -> None:
        """Find the job again where a count had missed it."""
        if self.lot is not None and not any(self.stands) and self.draft.missed_places(self.lot.id):
            bring_to_hand(self.draft, self.area, self.lot, 0, "job", None)

    # Metal in.

    def take_in(self) -> None:
        """Take the inputs into the job."""
        for i, line in enumerate(self.ticket.in_):
            taken = take(self.draft, self.area, line, f"in[{i}]", i + 1, "in")
            before_mass, before = self.mass_left, self.stands
            self._mix(taken, before_mass, before)
            flag_mixed_owners(self.draft, [taken.lot, self._opened("in")])
            assert self.lot is not None
            self.draft.descend(self.lot, [taken.lot])
            self.draft.post("place", taken.weighed, area=self.area, lot=self.lot.id, line=i + 1)
            surface = taken.lot.layer or taken.composition
            mass = taken.weighed[0]
            self.state = replace(
                self.state, lot=self.lot.id, mass_in=self.state.mass_in + mass,
                fume_due=self.state.fume_due + self._fume * mass,
                surface=tuple(s + mass * f for s, f in zip(self.state.surface, surface, strict=True)),
            )  # fmt: skip

    def _mix(self, taken: Taken, before_mass: Fraction, before: Amounts) -> None:
        """Give the job the composition it has with one input more."""
        draft, own = self.draft, self.lot.valuation if self.lot else None
        current = own.determination if own else None
        if self.operation.composition == "carries":
            if current is not None and current.composition != taken.composition and any(before):
                raise Impossible(
                    f"job {self.number} carries one fineness, and lot {taken.lot.number} has another",
                    "open another job for it", field="in",
                )  # fmt: skip
            if current is not None and current.composition == taken.composition:
                return
            valuation = Valuation(taken.determination, taken.lot.valuation.origin, taken.lot.valuation.awaiting)
            self._value(valuation, taken.lot.owner)
            return
        fine = [b + w for b, w in zip(before[1:], taken.weighed[1:], strict=True)]
        fume_due = self.state.fume_due + self._fume * taken.weighed[0]
        mass = max(before[0] + taken.weighed[0] - fume_due, Fraction(sum(fine)))
        if mass <= 0 and current is not None:
            return  # more came out than went in: the last fineness stays
        sources: list[tuple[Determination, Fraction]] = [(taken.determination, taken.weighed[0] / mass)]
        if current is not None and before_mass > 0:
            sources.append((current, before_mass / mass))
        parts = [(taken.weighed, taken.lot.valuation.origin), (before, own.origin if own else {})]
        made = draft.determine("calculated", (ONE, *(Fraction(x) / mass for x in fine)), sources=sources)
        self._value(Valuation(made, mixed_origin(parts)), taken.lot.owner)

    @property
    def _fume(self) -> Fraction:
        return self.operation.fume if self.operation.composition == "combines" else Fraction(0)

    def _value(self, valuation: Valuation, owner: str | None = None) -> None:
        if self.lot is None:
            self.lot = self.draft.new_lot(self.number, valuation, kind="job", owner=owner)
        else:
            self.lot = self.draft.value(self.lot, valuation)

    # Metal out.

    def put_out(self) -> list[Output]:
        """Put the outputs down, each at its own determination or at the job's."""
        if not self.ticket.out:
            return []
        lot = self._opened("out")
        first = len(self.ticket.in_)
        outputs = [weigh_output(self.draft, line, i, first) for i, line in enumerate(self.ticket.out)]
        stated, rest = [o for o in outputs if o.own], [o for o in outputs if not o.own]
        value_stated(self.draft, self.area, stated)
        for output in stated:
            self._put(output, lot)
        if stated and self.operation.composition != "carries":
            self._without(stated)
        if rest:
            self.state = replace(self.state, calculated=True)
            self._share(rest)
        for output in rest:
            self._put(output, lot)
        return outputs

    def _opened(self, field: str) -> Lot:
        if self.lot is None:
            raise Impossible(f"job {self.number} has nothing in it", "enter its input first", field=field)
        return self.lot

    def _put(self, output: Output, job: Lot) -> None:
        self.draft.post("place", negative(output.amounts), area=self.area, lot=job.id, line=output.number)
        layer = None
        if self.state.mass_in and self.operation.composition != "combines":
            layer = tuple(s / self.state.mass_in for s in self.state.surface)
        put_down(self.draft, self.area, output, [job], layer, (None, None))

    def _without(self, stated: Sequence[Output]) -> None:
        """Take what outputs of their own determination hold out of the job's composition."""
        assert self.lot is not None
        mass, stands = self.mass_left, self.stands
        current = self.lot.valuation.determination
        if mass <= 0 or current is None:
            return
        if any(x < 0 for x in stands[1:]):
            self.draft.flag("more than was put in", "outputs with their own determination hold more than the job")
        before = mass + sum(o.mass for o in stated)
        sources = [(current, before / mass)]
        for output in stated:
            if output.valuation is not None and output.valuation.determination is not None:
                sources.append((output.valuation.determination, -output.mass / mass))
        composition = (ONE, *(max(Fraction(x) / mass, Fraction(0)) for x in stands[1:]))
        if sum(composition[1:]) > 1:
            raise Impossible("the rest would be finer than pure", "check the masses and finenesses", field="out")
        made = self.draft.determine("calculated", composition, sources=sources)
        self._value(Valuation(made, self.lot.valuation.origin, self.lot.valuation.awaiting))

    def _share(self, rest: Sequence[Output]) -> None:
        """Give the other outputs the job's composition; surface and content, when done, share what is left."""
        assert self.lot is not None
        kind = self.operation.composition
        awaiting = self.area if kind == "content" else self.lot.valuation.awaiting
        if not (self.ticket.done and kind in ("surface", "content")):
            valuation = replace(self.lot.valuation, awaiting=awaiting)
            for output in rest:
                output.amounts, output.valuation = content(output.mass, self.composition), valuation
            return
        masses = [o.mass for o in rest]
        left = self._left_by_surface(sum(masses)) if kind == "surface" else self.stands
        amounts = [0, *(max(x, 0) for x in left[1:])]
        if any(x < 0 for x in left[1:]):
            self.draft.flag("less than nothing", "more is lost than the job held; the content is put at zero")
        whole = sum(masses)
        composition = (ONE, *(Fraction(x, whole) for x in amounts[1:]))
        if sum(composition[1:]) > 1:
            raise Impossible("the outputs would be finer than pure", "check the masses", field="out")
        current = self.lot.valuation.determination
        sources = [(current, Fraction(self.stands[0], whole))] if current else []
        made = self.draft.determine("calculated", composition, sources=sources)
        valuation = Valuation(made, self.lot.valuation.origin, awaiting)
        for output, share in zip(rest, shared_by_mass(amounts, masses), strict=True):
            output.amounts, output.valuation = share, valuation

    def _left_by_surface(self, mass_out: int) -> Amounts:
        stands = self.stands
        lost = stands[0] - mass_out
        layer = [s / (self.state.mass_in or 1) for s in self.state.surface]
        return [0, *(round(x - lost * f) for x, f in zip(stands[1:], layer[1:], strict=True))]

    # The end.

    def finish(self, outputs: Sequence[Output]) -> None:
        """Strike the job's own difference: place(job) −rest, difference +rest."""
        draft, lot = self.draft, self._opened("done")
        rest = self.stands
        kind = self.operation.composition
        if kind in ("surface", "content") and not any(o.own is None for o in outputs) and any(rest[1:]):
            draft.flag("nothing to share", f"job {self.number} is done without an output to share what is left")
        draft.post("place", negative(rest), area=self.area, lot=lot.id)
        weighing_sd = hypot(*(reading_sd_ng(draft, o.line.scale, o.mass) for o in outputs))
        if -rest[0] > float(draft.setup.plant.act) * weighing_sd:
            draft.flag("gain", f"{mass_text(-rest[0], 'g', 4)} g more came out of job {self.number} than went in")
        if lot.valuation.origin and not self.state.calculated:
            for (class_, area), shares in lot.valuation.origin.items():
                part = [round(x * s) for x, s in zip(rest, shares, strict=True)]
                draft.post(class_, part, area=area, origin="revaluation" if class_ == "difference" else None)
                rest = minus(rest, part)
        draft.post("difference", rest, area=self.area, origin="work")
        self.state = replace(self.state, done=True)


def post_job(ticket: Work, draft: Draft, operation: Operation) -> None:
    """Post a ticket of a job: inputs, outputs, and at `done` the job's own difference."""
    job = Job(ticket, draft, operation)
    job.find()
    before = job.stands
    job.take_in()
    outputs = job.put_out()
    if ticket.done:
        job.finish(outputs)
    assert job.lot is not None
    draft.job = job.lot.id
    draft.job_states.append(job.state)
    draft.write_line(0, "job", ticket.area, job.lot, minus(job.stands, before), settles=ticket.done, recorded=before)


def counted_in_job(draft: Draft, lot: Lot, area: str, mass: int) -> Amounts:
    """Return C of a job counted half-way: all its trays as one line, by what its operation's lost mass carries."""
    state, stands = draft.job_state(lot.id), draft.amounts(area, lot.id)
    assert state is not None
    assert lot.valuation.determination is not None
    kind = draft.setup.operations[state.operation].composition
    if kind == "content":
        return [mass, *stands[1:]]
    if kind == "surface":
        lost = stands[0] - mass
        worn = [lost * s / (state.mass_in or 1) for s in state.surface]
        return [mass, *(max(round(x - w), 0) for x, w in zip(stands[1:], worn[1:], strict=True))]
    draft.job_states.append(replace(state, fume_due=Fraction(0)))
    return content(mass, lot.valuation.determination.composition)

