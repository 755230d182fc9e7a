"""Where a lot's metal went, and where it came from: shares of content through every passage of the book.

Metal that is mixed is taken as evenly mixed: whatever leaves a bin, a job, a melt or an area's dust carries the same
shares as what is in it then. Each way is one walk over all passages, forward with the share of every node that is the
lot's, or back with what a gram of every node brought to the lot; no share is ever counted twice, however metal loops.
Contents are exact as recorded; what is traced of them is a product of shares and therefore a number (ng, as float).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ledger.audit.passages import Adding, Node, Passage, Taking

#: What is traced below this many nanograms is rounding of shares, and left out.
NOTHING_NG = 0.5


@dataclass(frozen=True, slots=True)
class Part:
    """A node's content in a passage, and how much of it is traced, both in ng."""

    node: Node
    content: int
    traced: float


@dataclass(frozen=True, slots=True)
class Step:
    """One passage on the way: what went in and what came out."""

    passage: Passage
    ins: tuple[Part, ...]
    outs: tuple[Part, ...]


@dataclass(slots=True)
class Trace:
    """One way of a lot: its content, the steps by date, and where the way ends (or begins), by what and where.

    ``ends``: (what, where, ticket, node) → traced ng; with ``content`` they balance, for metal gained is negative.
    """

    lot: Node
    content: float = 0.0
    steps: list[Step] = field(default_factory=list)
    ends: dict[tuple[str, str, str, Node], float] = field(default_factory=dict)

    def end(self, what: str, where: str, ticket: str, node: Node, ng: float) -> None:
        """Add to where the way ends."""
        if ng:
            key = (what, where, ticket, node)
            self.ends[key] = self.ends.get(key, 0.0) + ng


# ---------------------------------------------------------------------------------------------------------- forward


def went(passages: Sequence[Passage], lot: Node) -> Trace:
    """Return where everything that was ever put into a lot went."""
    walk = _Forward(lot)
    for passage in passages:
        walk.step(passage)
    walk.rest()
    return walk.trace


class _Forward:
    """``stands``: content of each node; ``share``: what part of it is the lot's."""

    def __init__(self, lot: Node) -> None:
        self.trace = Trace(lot)
        self.stands: dict[Node, int] = {}
        self.share: dict[Node, float] = {lot: 1.0}
        self.areas: dict[Node, str] = {}

    def step(self, passage: Passage) -> None:
        ins = tuple(self._take(passage, taking) for taking in passage.takings)
        traced, whole = sum(part.traced for part in ins), sum(part.content for part in ins)
        mix = traced / whole if whole else 0.0
        outs = tuple(self._add(passage, adding, mix) for adding in passage.addings)
        for change in passage.changes:
            self.stands[change.node] = self.stands.get(change.node, 0) + change.ng
            self.areas[change.node] = passage.area
            what = "not found" if change.what in ("not found", "found") else "measured anew"
            self.trace.end(what, passage.area, passage.number if what == "not found" else "", self.trace.lot,
                           -change.ng * self.share.get(change.node, 0.0))  # fmt: skip
        if passage.cleaned_out:
            self._clean_out(passage)
        if traced or any(part.node == self.trace.lot for part in outs):
            self.trace.steps.append(Step(passage, ins, outs))
        if traced:
            self._end(passage, traced - mix * sum(adding.content for adding in passage.addings))

    def _take(self, passage: Passage, taking: Taking) -> Part:
        node, stands = taking.node, self.stands.get(taking.node, 0)
        share = self.share.get(node, 0.0)
        taken = _taken(taking, stands)
        self.stands[node] = stands - taken
        if isinstance(node, str):
            return Part(node, taking.weighed, share * taken)
        self.trace.end("measured anew", passage.area, "", self.trace.lot,
                       share * (taking.recorded - taking.weighed))  # fmt: skip
        return Part(node, taking.weighed, share * taking.weighed)

    def _add(self, passage: Passage, adding: Adding, mix: float) -> Part:
        node, stands = adding.node, max(self.stands.get(adding.node, 0), 0)
        self.stands[node] = stands + adding.content
        self.areas[node] = passage.area
        if node == self.trace.lot:
            self.trace.content += adding.content * (1 - mix)
        elif stands + adding.content:
            before = self.share.get(node, 0.0) * stands
            self.share[node] = (before + mix * adding.content) / (stands + adding.content)
        return Part(node, adding.content, mix * adding.content)

    def _end(self, passage: Passage, left: float) -> None:
        """Say where the way ends with this passage, as far as it does: a gain of work is less than nothing."""
        if passage.addings:
            self.trace.end("gained in work", passage.area, "", self.trace.lot, left)
            return
        what = {"ship": "shipped", "settle": "settled", "discard": "discarded"}.get(passage.kind, passage.kind)
        self.trace.end(what, passage.to or passage.area, passage.number, self.trace.lot, left)

    def _clean_out(self, passage: Passage) -> None:
        node = f"dust {passage.area}"
        rest = self.stands.pop(node, 0) * self.share.pop(node, 0.0)
        self.trace.end("dust, never came", passage.area, "", self.trace.lot, rest)

    def rest(self) -> None:
        """Say what is still there."""
        for node, share in self.share.items():
            ng = share * self.stands.get(node, 0)
            if abs(ng) >= NOTHING_NG:
                what = "dust, not yet swept" if isinstance(node, str) else "on hand"
                self.trace.end(what, self.areas.get(node, ""), "", node, ng)


# ------------------------------------------------------------------------------------------------------------- back


def came(passages: Sequence[Passage], lot: Node) -> Trace:
    """Return where everything that was ever put into a lot came from."""
    walk = _Back(lot)
    before = list(_stands_before(passages))
    for passage, stood in zip(reversed(passages), reversed(before), strict=True):
        walk.step(passage, stood)
    walk.trace.steps.reverse()
    return walk.trace


class _Before(NamedTuple):
    """What stood of each taking's node, and of each change's, just before it."""

    takings: list[int]
    changes: list[int]


def _stands_before(passages: Sequence[Passage]) -> Iterator[_Before]:
    stands: dict[Node, int] = {}
    for passage in passages:
        before = _Before([], [])
        for taking in passage.takings:
            there = stands.get(taking.node, 0)
            before.takings.append(there)
            stands[taking.node] = there - _taken(taking, there)
        for adding in passage.addings:
            stands[adding.node] = stands.get(adding.node, 0) + adding.content
        for change in passage.changes:
            before.changes.append(stands.get(change.node, 0))
            stands[change.node] = before.changes[-1] + change.ng
        if passage.cleaned_out:
            stands.pop(f"dust {passage.area}", None)
        yield before


def _taken(taking: Taking, stands: int) -> int:
    """Return what a taking takes of what stands: more dust may be swept up than work has lost."""
    return min(taking.recorded, max(stands, 0)) if isinstance(taking.node, str) else taking.recorded


class _Back:
    """``brought``: what a nanogram of each node, at the moment the walk has reached, brought to the lot."""

    def __init__(self, lot: Node) -> None:
        self.trace = Trace(lot)
        self.brought: dict[Node, float] = {lot: 1.0}

    def step(self, passage: Passage, before: _Before) -> None:
        if passage.cleaned_out:
            self.brought.pop(f"dust {passage.area}", None)
        for change, stood in zip(reversed(passage.changes), reversed(before.changes), strict=True):
            self._undo(passage, change.node, stood, change.ng)
        outs = tuple(Part(a.node, a.content, self.brought.get(a.node, 0.0) * a.content) for a in passage.addings)
        traced = sum(part.traced for part in outs)
        pairs = zip(reversed(passage.takings), reversed(before.takings), strict=True)
        ins = tuple(self._untake(taking, stood, traced, passage) for taking, stood in pairs)[::-1]
        self.trace.content += sum(part.content for part in outs if part.node == self.trace.lot)
        if not traced:
            return
        self.trace.steps.append(Step(passage, ins, outs))
        if not passage.takings:
            for part in outs:
                self._begin(passage, part.node, part.traced)

    def _untake(self, taking: Taking, stands: int, traced: float, passage: Passage) -> Part:
        """Let a taking's node have brought what the passage took of it, beside what stayed."""
        node, whole = taking.node, sum(t.weighed for t in passage.takings)
        amount = traced * taking.weighed / whole if whole else 0.0
        taken = _taken(taking, stands)
        if isinstance(node, str):
            known = amount * taken / taking.recorded if taking.recorded else 0.0
            self.trace.end("dust beyond losses", passage.area, passage.number, node, amount - known)
            amount = known
        if node == self.trace.lot:
            self.trace.end("the lot itself, earlier", passage.area, passage.number, node, amount)
        elif stands:
            stayed = self.brought.get(node, 0.0) * (stands - taken)
            self.brought[node] = (amount + stayed) / stands
        elif amount:
            self.trace.end("taken where nothing stood", passage.area, passage.number, node, amount)
        return Part(node, taking.weighed, amount)

    def _undo(self, passage: Passage, node: Node, before: int, ng: int) -> None:
        """Let what stood before a change have brought what stood after it; from or to nothing it came by the change."""
        if node == self.trace.lot or node not in self.brought:
            return
        if before > 0 and before + ng > 0:
            self.brought[node] *= (before + ng) / before
        else:
            self.trace.end("counted or found again", passage.area, "", node, self.brought[node] * ng)

    def _begin(self, passage: Passage, node: Node, ng: float) -> None:
        what = {"receive": "received", "open": "taken on", "count": "found by a count"}.get(passage.kind, passage.kind)
        self.trace.end(what, passage.to or passage.area, passage.number, node, ng)
