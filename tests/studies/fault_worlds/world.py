"""An invented plant's month or quarter, seeded: the world of sample_books/year_maker, run for as long as is wanted."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

BOOKS = Path(__file__).resolve().parents[3] / "sample_books"
if str(BOOKS) not in sys.path:
    sys.path.insert(0, str(BOOKS))

from year_maker import counting, house, outside  # noqa: E402
from year_maker.clock import Course, last_working_day, moment  # noqa: E402
from year_maker.floor import Floor, Paper  # noqa: E402
from year_maker.instruments import share  # noqa: E402
from year_maker.metal import Metal  # noqa: E402
from year_maker.opening import take_on  # noqa: E402
from year_maker.writing import in_order, mend_slips, numbered, spoil  # noqa: E402

__all__ = [
    "Course", "Document", "Floor", "Metal", "Paper", "World", "last_working_day", "moment", "plant_text", "share",
    "simulated",
]  # fmt: skip

Document = dict[str, Any]
#: Slips of the pen found and mended the same day, and forms spoiled, in a month.
SLIPS, SPOILED = 3, 2
#: The book is looked at when so many days of the next month are in it.
DAYS_AFTER = 6


@dataclass
class World:
    """The floor as it truly was, and the papers written about it, in the order of entry, not yet numbered."""

    seed: int
    months: int
    floor: Floor
    papers: list[Paper]

    @property
    def ordered(self) -> list[Paper]:
        """The papers as they will be entered."""
        return in_order(self.papers)

    def tickets(self) -> list[Document]:
        """Number the papers; return the tickets that are entered."""
        papers = numbered(spoil(self.papers, self.floor.chance, SPOILED * self.months))
        return [paper.document for paper in papers if not paper.lost]


@cache
def plant_text() -> str:
    """Return the sample plant's set-up."""
    return (BOOKS / "year" / "plant.toml").read_text(encoding="utf-8")


@cache
def _plant() -> Document:
    return tomllib.loads(plant_text())


def simulated(
    seed: int, months: int = 1, prepare: Callable[[Floor], object] | None = None,
    poorer: Callable[[list[Paper]], object] | None = None,
) -> World:  # fmt: skip
    """Run the plant from New Year over so many months and a few days.

    ``prepare`` plants what happens to metal; ``poorer`` leaves readings out of the papers.
    """
    floor = Floor(_plant(), seed)
    floor.schedule.begin(take_on(floor), moment(1, 1, 7))
    house.begin(floor)
    outside.begin(floor)
    counting.counts(floor)
    if prepare is not None:
        prepare(floor)
    floor.schedule.run(end_of(months))
    papers = mend_slips(floor.papers, floor.chance, SLIPS * months)
    if poorer is not None:
        poorer(papers)
    return World(seed, months, floor, papers)


def end_of(months: int) -> datetime:
    """Return the moment at which the book is looked at."""
    return moment(12, 31, 23) if months == 12 else moment(months + 1, DAYS_AFTER, 23)
