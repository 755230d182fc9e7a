"""What the month-end pack is made of: schedules, and pictures with the schedule they were drawn from.

The page, the workbook, the CSV files and figures.json all read these, so that a figure is worked out once and cannot
differ between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

#: ``mass``: grams, exact and then plain decimal text as in every ``--json``, or a statistic (σ) and then a number;
#: ``money``: an amount as plain decimal text;
#: ``number`` and ``share`` (1 = the whole): statistics; ``count``: an integer; ``text`` and ``when``: words and
#: instants.
Kind = Literal["text", "when", "mass", "money", "number", "share", "count"]
Cell = str | int | float | None
Row = Mapping[str, Cell]


@dataclass(frozen=True)
class Column:
    """One column: its key in figures.json and CSV, its head, what its cells are, and whether its sum means anything.

    ``formula`` is an identity that the row's figures obey, in keys of columns of this schedule: "opening + received -
    issued - closing", "unexplained / sigma". The workbook writes it as a live formula, so that it can be followed.
    """

    key: str
    head: str
    kind: Kind = "text"
    summed: bool = False
    formula: str | None = None


@dataclass(frozen=True)
class Schedule:
    """One table of the pack.

    ``says`` is one sentence on what it shows; ``notes`` stand below it. A row's cells are by column key; None is an
    empty cell. Where columns are summed the page and the workbook work the sum out from the rows: it is not among them.
    """

    key: str
    title: str
    says: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    notes: Sequence[str] = field(default=())


@dataclass(frozen=True)
class Picture:
    """One drawing: a self-contained SVG element, what it shows in one sentence, and the figures it was drawn from.

    ``alternative`` is the text for someone who cannot see it: what is drawn, and the figure that matters.
    """

    key: str
    title: str
    says: str
    alternative: str
    svg: str
    figures: Schedule


@dataclass(frozen=True)
class Part:
    """One thing told under a heading of its own, in words alone: an area, a line to sign, a caution.

    ``points`` are sentences of a list. What figures it names stand in the section's schedules as well.
    """

    key: str
    title: str
    paragraphs: Sequence[str] = field(default=())
    points: Sequence[str] = field(default=())


@dataclass(frozen=True)
class Section:
    """One part of the pack, in reading order: a heading, paragraphs, parts, pictures and schedules."""

    key: str
    title: str
    paragraphs: Sequence[str] = field(default=())
    schedules: Sequence[Schedule] = field(default=())
    pictures: Sequence[Picture] = field(default=())
    parts: Sequence[Part] = field(default=())
