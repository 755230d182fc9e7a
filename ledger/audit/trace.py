"""A lot's trace as a document: both ways, every step with its contents, where it ends, and the tree people read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from typing import Any, NamedTuple

from ledger.audit.inquiry import Document, Inquiry
from ledger.audit.passages import Node, lots_by_id, passages
from ledger.audit.tracing import NOTHING_NG, Part, Step, Trace, came, went
from ledger.book.lot_page import numbers_like
from ledger.quantities.mass import grams_text
from ledger.refusals import WrongUsage

#: A branch of the tree that carries less than this share of the lot is left out of what people read.
WORTH_A_LINE = 0.001

Names = dict[int, tuple[Any, ...]]


def trace(inquiry: Inquiry, number: str) -> Document:
    """Return where a lot's metal came from and where it went; raises WrongUsage for a lot of no ticket."""
    names = lots_by_id(inquiry.connection)
    lot = next((id_ for id_, row in names.items() if row[0] == number), None)
    if lot is None:
        like = ", ".join(numbers_like(inquiry.connection, number))
        mend = f"did you mean {like}?" if like else "lemel stock lists the lots on hand"
        raise WrongUsage(f"no ticket names a lot {number[:64]!r}", mend, field="LOT")
    every = passages(inquiry.connection, inquiry.index)
    of_lot = names[lot]
    return {
        "plant": inquiry.facts.name, "metal": inquiry.metal, "lot": number, "kind": of_lot[1],
        "what": _what(of_lot), "back": _way(inquiry, came(every, lot), names, back=True),
        "forward": _way(inquiry, went(every, lot), names, back=False),
    }  # fmt: skip


def _what(row: Sequence[Any]) -> str:
    """The one word that tells most of it: class, clad stock, alloy, else form."""
    _, kind, form, class_, alloy, clad = row
    return str(class_ or clad or alloy or form or kind)


def _name(node: Node, names: Names) -> str:
    return node if isinstance(node, str) else names[node][0]


def _way(inquiry: Inquiry, way: Trace, names: Names, *, back: bool) -> Document:
    content, written = way.content, cache(inquiry.text)  # a ticket's time stands on many branches
    ends = sorted(way.ends.items(), key=lambda each: (-abs(each[1]), each[0][:3], str(each[0][3])))
    return {
        "content": _grams(content),
        "ends": [
            {"what": what, "where": where or None, "ticket": ticket or None, "lot": _name(node, names),
             "traced": _grams(ng), "share": _share(ng, content)}
            for (what, where, ticket, node), ng in ends if abs(ng) >= NOTHING_NG
        ],
        "steps": [_step(written, step, names) for step in way.steps],
        "tree": [_branch(written, branch, names, content) for branch in tree(way, back=back)],
    }  # fmt: skip


def _grams(ng: float) -> str:
    return grams_text(round(ng))


def _share(ng: float, content: float) -> float | None:
    return round(ng / content, 9) if content else None


def _step(written: Callable[[int], str], step: Step, names: Names) -> Document:
    passage = step.passage
    parts = [
        [{"lot": _name(p.node, names), "content": grams_text(p.content), "traced": _grams(p.traced)} for p in side]
        for side in (step.ins, step.outs)
    ]
    return {
        "ticket": passage.number, "kind": passage.kind, "operation": passage.operation,
        "at": written(passage.instant), "area": passage.area, "in": parts[0], "out": parts[1],
    }  # fmt: skip


class Branch(NamedTuple):
    """One line of the tree: a node, how deep, by which step, its content there, and what of it is traced.

    ``again``: the node stands above already, with what follows from it.
    """

    depth: int
    step: Step | None
    part: Part
    again: bool


def tree(way: Trace, *, back: bool) -> Iterator[Branch]:
    """Yield the tree of a way, deepest first and by date; what left the book is a leaf, and dust that is followed back.

    Each node is followed once, where it stands first. A walk with a stack: a chain may be thousands of steps long.
    """
    onward = _onward(way.steps, back=back)
    seen: set[Node] = set()
    whole = Part(way.lot, round(way.content), way.content)
    stack: list[tuple[int, Step | None, Part]] = [(0, None, whole)]
    while stack:
        depth, step, part = stack.pop()
        again = part.node in seen
        leaf = isinstance(part.node, str) and (back or not part.node.startswith("dust "))
        yield Branch(depth, step, part, again and not leaf)
        if again or leaf:
            continue
        seen.add(part.node)
        following = [(depth + 1, s, p) for s, p in onward.get(part.node, ()) if p.node != part.node]
        stack.extend(reversed(following))


def _onward(steps: Sequence[Step], *, back: bool) -> dict[Node, list[tuple[Step, Part]]]:
    """Return, for each node, the steps it goes into and what comes of them; followed back, what they came from."""
    onward: dict[Node, list[tuple[Step, Part]]] = {}
    for step in steps:
        here, there = (step.outs, step.ins) if back else (step.ins, step.outs)
        reached = [part for part in there if part.traced >= NOTHING_NG]
        if not back and not there:
            reached = [_gone(step)]
        for node in dict.fromkeys(part.node for part in here if part.traced):
            onward.setdefault(node, []).extend((step, part) for part in reached)
    return onward


def _gone(step: Step) -> Part:
    """Return what left the book by a step, under whom it went to."""
    passage = step.passage
    whole = sum(part.content for part in step.ins if part.traced)
    party = passage.to.partition(" ")[0]
    return Part(f"to {party}" if party else f"out of {passage.area}", whole, sum(part.traced for part in step.ins))


def _branch(written: Callable[[int], str], branch: Branch, names: Names, content: float) -> Document:
    passage = branch.step.passage if branch.step else None
    part = branch.part
    return {
        "depth": branch.depth, "lot": _name(part.node, names), "ticket": passage and passage.number,
        "at": passage and written(passage.instant), "by": passage and (passage.operation or passage.kind),
        "content": grams_text(part.content), "traced": _grams(part.traced), "share": _share(part.traced, content),
        "again": branch.again,
    }  # fmt: skip
