"""What a family proposes, and what it may ask of the case while it does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar, cast

from ledger.causes.case import Bundle, Case, Direction, Given
from ledger.causes.evidence import Component, Evidence
from ledger.causes.reads import Read, Reads

T = TypeVar("T")


@dataclass(slots=True)
class Proposal:
    """One cause that could have happened.

    ``direction``: what it does to the components for each unit of its size. ``theta``: that size where it is known;
    ``give``: how far a known size may be off (standard deviation). Else the size lies between ``least`` and ``most``,
    of sign ``way`` where only one can be. ``relative``: how large it is beside what it is an error of. ``prior``: its
    odds before the month is looked at. ``says``: a sentence, given the size; ``check``: what would settle it.
    ``of_size``: what one unit is in ng of each metal, gross first, as the answer prints sizes. ``mend``: the ticket to
    reverse, and what of it (of a ``line``) to ``set`` and ``drop`` in the corrected one; without those, it is reversed
    alone. ``earlier``: what would have shown it sooner, given the size, where it could hide.
    """

    family: str
    key: tuple[Any, ...]
    direction: Direction
    prior: float
    says: Callable[[float], str]
    check: str
    theta: float | None = None
    give: float = 0.0
    least: float = 1.0
    most: float = 1.0
    way: int = 0
    tickets: Sequence[str] = ()
    lots: Sequence[str] = ()
    what: Mapping[str, str] = field(default_factory=dict)
    of_size: Sequence[float] = ()
    mend: Mapping[str, Any] | None = None
    relative: float = 0.0
    earlier: Callable[[float], str] | None = None

    @property
    def name(self) -> tuple[Any, ...]:
        """What makes it the same cause when it is proposed again."""
        return (self.family, *self.key)


class View:
    """The case as families see it, given what is taken as true: only what could still explain something."""

    def __init__(
        self, case: Case, given: Given, rates: Mapping[str, float], reads: Reads, taken: Sequence[Proposal] = ()
    ) -> None:
        self.case = case
        self.taken = taken
        self.given = given
        self.rates = rates
        self.every_read = reads

    @property
    def evidence(self) -> Evidence:
        """The period's evidence."""
        return self.case.evidence

    def once(self, name: str, find: Callable[[], T]) -> T:
        """Return what is found once for the case, whatever is taken as true."""
        memo = self.every_read.memo
        if name not in memo:
            memo[name] = find()
        return cast(T, memo[name])

    def worth(self, name: str, find: Callable[[], Iterable[T]], direction: Callable[[T], Direction]) -> Iterator[T]:
        """Yield those of a case's items (found once, under a name) whose direction could explain something."""
        items, bundle = self.bundle(name, find, direction)
        for place in self.given.worth(bundle):
            yield items[int(place)]

    def bundle(
        self, name: str, find: Callable[[], Iterable[T]], direction: Callable[[T], Direction]
    ) -> tuple[list[T], Bundle]:
        """Return a case's items and their directions."""

        def made() -> tuple[list[T], Bundle]:
            items = list(find())
            return items, Bundle(self.case, [direction(one) for one in items])

        return self.once(f"worth {name}", made)

    @property
    def taken_from(self) -> list[str]:
        """Areas from whose lots something left without a ticket, by what is taken as true."""
        single = [next(iter(p.direction)) for p in self.taken if p.family == "unticketed" and len(p.direction) == 1]
        return [self.evidence.components[i].area for i in single]

    def look_no_lower(self) -> None:
        """Look only at what comes within reach of the best single reading or difference."""
        reads = self.bundle("reads", self._all_reads, lambda read: read.column)[1]
        singles = self.bundle("singles", self._all_singles, lambda pair: {pair[0]: 1.0})[1]
        self.given.look_no_lower([reads, singles])

    def _all_reads(self) -> list[Read]:
        return self.every_read.all

    def _all_singles(self) -> list[tuple[int, Component]]:
        pairs = [(i, self.evidence.components[i]) for i in self.case.place]
        return [pair for pair in pairs if pair[1].kind != "settled before"]

    @cached_property
    def _weighed_reads(self) -> dict[int, tuple[Read, float, float]]:
        items, bundle = self.bundle("reads", self._all_reads, lambda read: read.column)
        found = zip(*self.given.weighed(bundle), strict=True)
        return {items[int(place)].source: (items[int(place)], float(b), float(q)) for place, b, q in found}

    @property
    def reads(self) -> list[Read]:
        """Readings that could be wrong."""
        return [read for read, _, _ in self._weighed_reads.values()]

    def gain(self, read: Read, theta: float) -> float:
        """Return what an error of a reading explains, in log likelihood."""
        _, b, q = self._weighed_reads[read.source]
        return theta * b - 0.5 * theta * theta * q

    @cached_property
    def singles(self) -> list[tuple[int, Component]]:
        """Components that could stand by themselves, with their places."""
        return list(self.worth("singles", self._all_singles, lambda pair: {pair[0]: 1.0}))

    def lot(self, lot: int | None) -> str:
        """Return a lot's number."""
        return "" if lot is None else self.evidence.lots[lot].number

    def bears(self, component: Component) -> tuple[float, ...]:
        """Return what one ng of a component is in all metals."""
        size = len(self.evidence.metals)
        return tuple(sum(share[i] for share in component.bears.values()) for i in range(size))


def content_of(view: View, read: Read) -> tuple[float, ...]:
    """Return what one ng of a reading is in all metals: by the fineness of the lot that was weighed."""
    ticket = view.evidence.by_number.get(read.ticket)
    size = len(view.evidence.metals)
    if ticket is not None:
        for line in ticket.lines:
            if line.number == read.line and line.content[0]:
                return tuple(x / line.content[0] for x in line.content)
    return (1.0, *([0.0] * (size - 1)))
