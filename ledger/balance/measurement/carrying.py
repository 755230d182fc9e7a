"""What a pass leaves at a period's end, written in sources alone, and how the next period begins from it.

The forms of a pass name nodes, and nodes grow with the book. At a period's end only what still stands matters: of each
form of it the coefficients by source, and of all sources those that it names, or that later readings will share. All
else is over: it can make no covariance with what comes later. So the state is as small as the stock, whatever the
book's age. Nothing is rounded: floats are written so that they read back the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from typing import Any, Final

from ledger.balance.measurement.accruing import Accrual, DustMove
from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.effective import FIRST, Shares
from ledger.balance.measurement.forms import Form, Source, Tape
from ledger.balance.measurement.residuals import Residual
from ledger.balance.measurement.standings import JobOf, Missed, Standings
from ledger.refusals import BookUnusable

#: A state as lists, numbers and texts, such as JSON can hold.
Document = dict[str, Any]
#: A form in sources: place among the state's sources, coefficient, and so on in turn.
Flat = list[Any]

#: Contents that are nothing, in ng: what is left of a lot that was used up part by part.
_NOTHING: Final = 0.5
#: A variance that is less than this share of what it was before others were taken out of it is rounding.
_NOTHING_NEW: Final = 1e-13


@dataclass(frozen=True, slots=True)
class Flattened:
    """A state, and where its sources stand: reference on the pass's tape → place among the state's sources."""

    document: Document
    places: Mapping[int, int]

    def alive(self, row: Mapping[int, float]) -> Flat:
        """Return the part of a row in sources that later months can share, in the order of the state's sources."""
        return [x for at in sorted((self.places[r], c) for r, c in row.items() if r in self.places) for x in at]


def form_of(flat: Flat) -> Form:
    """Return a form on a tape that begins with the state's sources."""
    return {~place: coefficient for place, coefficient in zip(flat[::2], flat[1::2], strict=True)}


def flatten(state: Standings, dust: Mapping[str, Mapping[str, Form]], until: int) -> Flattened:
    """Return the state of a pass at an instant; ``dust``: H by metal and area."""
    packing = _Packing(state)
    document = packing.state()
    closing = [(metal, area, form) for metal, areas in dust.items() for area, form in areas.items()]
    packed = packing.fill([form for _, _, form in closing])
    keys = _lasting(state, until)
    alive = {reference for _, form in packed.slots for reference in form} | set(keys.values())
    order = sorted(alive, reverse=True)
    places = {reference: place for place, reference in enumerate(order)}
    found = Flattened(document, places)
    for slot, form in packed.slots:
        slot.extend(found.alive(form))
    sources = [list(state.tape.source(reference)) for reference in order]
    rows = {(metal, area): row for (metal, area, _), row in zip(closing, packed.rest, strict=True)}
    document["dust"] = {
        metal: folded(state.tape, found, {area: rows[metal, area] for area in areas}, sources)
        for metal, areas in dust.items()
    }
    document["sources"] = sources
    document["keys"] = [[list(key), places[reference]] for key, reference in keys.items()]
    document["calibrated"] = {scale: instants[-1] for scale, instants in state.weighings.calibrations.items()}
    return found


def folded(tape: Tape, found: Flattened, rows: Mapping[str, Form], sources: list[Any]) -> dict[str, Flat]:
    """Return forms of H whose sources that are over are put in others' place, as few as there are areas.

    Of what is over only variances and covariances between the areas count, sort by sort of source: D = L·Lᵀ, and the
    columns of L are the coefficients of new sources of variance 1, added to ``sources``.
    """
    areas = list(rows)
    flat = {area: found.alive(row) for area, row in rows.items()}
    over: dict[tuple[str, str], dict[int, dict[int, float]]] = {}
    for place, row in enumerate(rows.values()):
        for reference, coefficient in row.items():
            if reference not in found.places and coefficient:
                source = tape.source(reference)
                scaled = over.setdefault((source.kind, source.of), {}).setdefault(reference, {})
                scaled[place] = coefficient * sqrt(source.variance)
    for sort in sorted(over):
        for column in _columns(over[sort].values()):
            for place, coefficient in column.items():
                flat[areas[place]] += [len(sources), coefficient]
            sources.append(list(Source(*sort, 1.0)))
    return flat


def _columns(vectors: Iterable[Mapping[int, float]]) -> list[dict[int, float]]:
    """Return the columns of L with L·Lᵀ = Σ v·vᵀ, those that are not nothing."""
    products: dict[tuple[int, int], list[float]] = {}
    for vector in vectors:
        for i, x in vector.items():
            for j, y in vector.items():
                if j <= i:
                    products.setdefault((i, j), []).append(x * y)
    d = {key: fsum(terms) for key, terms in products.items()}
    order = sorted({i for i, _ in d})
    columns: list[dict[int, float]] = []
    for k in order:
        left = d[k, k] - fsum(column.get(k, 0.0) ** 2 for column in columns)
        if left <= _NOTHING_NEW * d[k, k]:
            continue
        root = sqrt(left)
        column = {
            i: (d.get((i, k), 0.0) - fsum(c.get(i, 0.0) * c.get(k, 0.0) for c in columns)) / root
            for i in order if i > k
        }  # fmt: skip
        columns.append({k: root, **{i: x for i, x in column.items() if x}})
    return columns


def _lasting(state: Standings, until: int) -> dict[Any, int]:
    """Return the shared sources that tickets dated from an instant on may ask for again."""
    setup = state.weighings.setups.at(until)
    tares = {(c.code, c.tare, c.tared and c.tared.isoformat()) for c in setup.container}
    open_jobs = {lot for lot, job in state.jobs.items() if not job.done}
    latest: dict[str, int] = {}
    keys: dict[Any, int] = dict(state.tape.keys)
    for kind, of, *rest in keys:
        if kind == "sensitivity":
            latest[of] = max(_instant(rest[0]), latest.get(of, FIRST))
    lasts: dict[str, Callable[..., bool]] = {
        "sensitivity": lambda of, since: latest[of] == _instant(since),
        "tare": lambda *tare: tare in tares,
        "spread": lambda of, *job: of == "job" and job[0] in open_jobs,
        "drift": lambda *_: False,
    }
    return {
        key: reference for key, reference in keys.items()
        if key[0] not in lasts or lasts[key[0]](*key[1:])
    }  # fmt: skip


def _instant(since: int | None) -> int:
    return FIRST if since is None else since


@dataclass(frozen=True, slots=True)
class _Packed:
    slots: list[tuple[Flat, Form]]
    rest: list[Form]


class _Packing:
    """Writes a state down; each form's place is kept until all are walked back to their sources at once."""

    def __init__(self, kept: Standings) -> None:
        self.kept = kept
        self.slots: list[tuple[Flat, Form]] = []
        self.open_jobs = {lot: job for lot, job in kept.jobs.items() if not job.done}

    def fill(self, more: Sequence[Form]) -> _Packed:
        """Return each slot with its form in sources, and so the further forms."""
        rows = self.kept.tape.rows([*(form for _, form in self.slots), *more])
        named = zip(self.slots, rows, strict=False)
        return _Packed([(slot, row) for (slot, _), row in named], rows[len(self.slots) :])

    def form(self, form: Form) -> Flat:
        """Return the slot of a form, filled later."""
        slot: Flat = []
        if form:
            self.slots.append((slot, form))
        return slot

    def content(self, content: Content | None) -> list[Any] | None:
        """Return a content: its values, and the slots of its forms."""
        return None if content is None else [list(content.values), [self.form(form) for form in content.forms]]

    def accrual(self, accrual: Accrual | None) -> list[Any] | None:
        """Return what accrued, and what moves with it."""
        if accrual is None:
            return None
        a = accrual
        return [self.content(a.content), list(a.of_q), list(a.spread), list(a.drift), a.ratio]

    def job(self, job: JobOf) -> list[Any]:
        """Return what an open job's formulas need."""
        return [
            job.composition, self.content(job.worn), self.content(job.put_out), job.mass_in,
            self.form(job.mass_in_form), job.fume_due, self.form(job.fume_form),
            [[lot, self.content(w)] for lot, w in job.inputs], job.calculated, self.content(job.rated),
            self.accrual(job.accrued), self.content(job.counted),
        ]  # fmt: skip

    def state(self) -> Document:
        """Return the document, its forms and sources not yet filled in."""
        kept = self.kept
        stands = {key: content for key, content in kept.stands.items() if self._stands(key[1], content)}
        lots = {lot for _, lot in (*stands, *kept.missed, *kept.sent)} | set(self.open_jobs)
        bins = {lot for lot in kept.fineness if kept.lots[lot].kind == "bin"}
        waiting = {lot: area for lot, area in kept.awaiting.items() if area is not None and lot in lots}
        expected = self._expected({kept.made_by[lot] for lot in waiting})
        return {
            "stands": [[*key, self.content(content)] for key, content in stands.items()],
            "fineness": [[x, self.content(f)] for x, f in kept.fineness.items() if x in lots or x in bins],
            "missed": [[*key, missed.period, self.content(missed.content)] for key, missed in kept.missed.items()],
            "sent": [
                [*key, area, self.content(content), self.content(fineness)]
                for key, (area, content, fineness) in kept.sent.items()
            ],
            "jobs": [[lot, self.job(job)] for lot, job in self.open_jobs.items()],
            "origins": [[lot, _packed_shares(s)] for lot, s in kept.origins.items() if s and lot in lots],
            "awaiting": [[lot, area, kept.made_by[lot]] for lot, area in waiting.items()],
            "late": [[ticket, period] for ticket, period in kept.late.items()],
            "residuals": [[*_head(r), self.content(r.content)] for r in kept.residuals if r.ticket in kept.late],
            "own": [[ticket, self.content(c)] for ticket, c in kept.own.items() if ticket in kept.late],
            "dust_moves": [
                [m.ticket, m.area, m.period, m.instant, self.content(m.content)]
                for m in kept.dust if m.ticket in kept.late
            ],
            "expected": [
                [seq, kept.job_of.get(seq), self.content(kept.expected.get(seq)), self.accrual(kept.accrued.get(seq))]
                for seq in expected
            ],
        }  # fmt: skip

    def _stands(self, lot: int, content: Content) -> bool:
        if self.kept.lots[lot].kind == "bin" or lot in self.open_jobs:
            return True
        return any(abs(x) >= _NOTHING for x in content.values)

    def _expected(self, waiting: Iterable[int]) -> list[int]:
        """Return the tickets whose E counts later: `content` ones, when what they made is first assayed; late ones.

        Of a job it is all its tickets.
        """
        kept, tickets = self.kept, set(waiting) | set(self.kept.late)
        jobs = {kept.job_of[seq] for seq in tickets if seq in kept.job_of}
        jobs |= {lot for lot, job in self.open_jobs.items() if job.composition == "content"}
        return [seq for seq in (kept.expected | kept.accrued) if seq in tickets or kept.job_of.get(seq) in jobs]


def _head(r: Residual) -> list[Any]:
    return [r.ticket, r.number, r.line, r.area, r.period, r.instant, r.kind, r.lot, r.prior]


def _packed_shares(shares: Shares) -> list[Any]:
    return [[*key, list(share)] for key, share in shares.items()]


def restore(document: Document, state: Standings) -> None:
    """Let a pass begin from a state; its tape must be empty. Raises BookUnusable where it is none."""
    try:
        _restore(document, state)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError) as error:
        raise unreadable() from error


def unreadable() -> BookUnusable:
    """Return the refusal of what is kept of past months and cannot be read."""
    return BookUnusable("what the book keeps of past months cannot be read: it was changed", "run: lemel verify")


def _restore(document: Document, state: Standings) -> None:
    tape = state.tape
    for source in document["sources"]:
        tape.single(Source(*source))
    tape.keys.update((tuple(key), ~place) for key, place in document["keys"])
    unpack = _Unpacking(tape)
    content = unpack.content
    state.lots.fetch([lot for _, lot, _ in document["stands"]])
    if not all(lot in state.lots for _, lot, _ in document["stands"]):
        raise ValueError("a lot that is not in the book")
    state.stands.update(((area, lot), content(c)) for area, lot, c in document["stands"])
    state.fineness.update((lot, content(c)) for lot, c in document["fineness"])
    state.missed.update(((area, lot), Missed(content(c), period)) for area, lot, period, c in document["missed"])
    state.sent.update(((move, lot), (area, content(c), content(f))) for move, lot, area, c, f in document["sent"])
    state.jobs.update((lot, unpack.job(job)) for lot, job in document["jobs"])
    state.origins.update((lot, {(k, a): tuple(s) for k, a, s in shares}) for lot, shares in document["origins"])
    for lot, area, made_by in document["awaiting"]:
        state.awaiting[lot], state.made_by[lot] = area, made_by
    state.late.update((ticket, period) for ticket, period in document["late"])
    for *head, prior, packed in document["residuals"]:
        state.residuals.append(Residual(*[*head, content(packed), prior]))
    state.own.update((ticket, content(c)) for ticket, c in document["own"])
    state.dust.extend(DustMove(*[*head, content(c)]) for *head, c in document["dust_moves"])
    for seq, job, expected, accrued in document["expected"]:
        unpack.expected(state, seq, job, expected, accrued)


class _Unpacking:
    """Reads a state back on a tape that begins with its sources."""

    def __init__(self, tape: Tape) -> None:
        self.tape = tape

    def form(self, flat: Flat) -> Form:
        """Return a form, as a node where it has many terms."""
        if not all(0 <= place < len(self.tape.sources) for place in flat[::2]):
            raise ValueError("a source that is not there")
        return self.tape.short(form_of(flat))

    def content(self, packed: list[Any]) -> Content:
        """Return a content."""
        return Content(packed[0], [self.form(flat) for flat in packed[1]])

    def perhaps(self, packed: list[Any] | None) -> Content | None:
        """Return a content, where there is one."""
        return None if packed is None else self.content(packed)

    def accrual(self, packed: list[Any] | None) -> Accrual | None:
        """Return what accrued, where there is any."""
        return None if packed is None else Accrual(self.content(packed[0]), *packed[1:])

    def job(self, packed: list[Any]) -> JobOf:
        """Return an open job."""
        kind, worn, put_out, mass_in, mass_form, fume, fume_form, inputs, calculated, rated, accrued, counted = packed
        return JobOf(
            kind, self.content(worn), self.content(put_out), mass_in, self.form(mass_form), fume, self.form(fume_form),
            [(lot, self.content(w)) for lot, w in inputs], calculated, self.perhaps(rated), self.accrual(accrued),
            self.perhaps(counted),
        )  # fmt: skip

    def expected(self, state: Standings, seq: int, job: int | None, expected: Any, accrued: Any) -> None:
        """Put a ticket's E and its dust back."""
        if job is not None:
            state.job_of[seq] = job
        if expected is not None:
            state.expected[seq] = self.content(expected)
        if accrued is not None:
            state.accrued[seq] = Accrual(self.content(accrued[0]), *accrued[1:])
