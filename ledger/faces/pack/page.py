"""The pack as one page: self-contained, without a script, for a screen, a telephone and paper.

Every cell carries the value that programs read in its ``data-value``: what is printed is that, rounded once.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ledger.faces.pack.printed import Printed, is_figure
from ledger.faces.pack.schedule import Cell, Column, Picture, Schedule, Section

if TYPE_CHECKING:
    from markupsafe import Markup

    from ledger.faces.pack.workbook import Heading

#: Rows above which a table is folded away on a screen; on paper it is open.
FOLDED_ABOVE: Final = 26
#: Rows above which it is left to the workbook on paper; of a picture's figures, rows above which they are.
ON_PAPER, OF_A_PICTURE = 60, 40
#: Columns above which a table is set smaller on paper, and those above which it is set as small as can be read.
WIDE, WIDER = 8, 11


def page(sections: Sequence[Section], heading: Heading) -> str:
    """Return the page as HTML. Whatever people named or wrote is text in it, never markup."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from ledger.faces.pack.figures import file_names
    from ledger.faces.pack.pictures.svg import key_of

    environment = Environment(
        loader=PackageLoader("ledger.faces.pack", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["words"] = _words
    environment.filters["drawing"] = _drawing
    environment.filters["ident"] = key_of
    template = environment.get_template("page.html")
    printed = Printed(heading.unit, heading.currency)
    return template.render(
        heading=heading,
        files=file_names(sections),
        most=(ON_PAPER, OF_A_PICTURE),
        sections=sections,
        tabulated=lambda schedule: Table.of(schedule, printed),
    )


@dataclass(frozen=True)
class Shown:
    """One cell: what is printed, what programs read (JSON; None for an empty cell), and how it stands."""

    text: str
    value: str | None
    classes: str
    verdict: bool = False


@dataclass(frozen=True)
class Table:
    """One schedule as the page prints it: heads with classes, rows of cells, and the sums, if any."""

    schedule: Schedule
    heads: list[tuple[str, str]]
    rows: list[list[Shown]]
    sums: list[Shown] | None

    @staticmethod
    def of(schedule: Schedule, printed: Printed) -> Table:
        """Return a schedule's table."""
        columns = _telling(schedule)
        heads = [(printed.head(column), _classes(column)) for column in columns]
        rows = [[_shown(column, row.get(column.key), printed) for column in columns] for row in schedule.rows]
        summed = schedule.rows and any(column.summed for column in columns)
        sums = [_sum(schedule, column, printed) for column in columns] if summed else None
        return Table(schedule, heads, rows, sums)

    @property
    def folded(self) -> bool:
        """Whether a screen shows it only when asked."""
        return len(self.rows) > FOLDED_ABOVE

    def off_paper(self, most: int) -> bool:
        """Whether paper only says where it stands."""
        return len(self.rows) > most

    @property
    def classes(self) -> str:
        """How wide it is, and whether paper keeps it on one page."""
        columns = len(self.heads)
        width = ["wider"] if columns > WIDER else ["wide"] if columns > WIDE else []
        return " ".join(width + ["whole"] * (len(self.rows) <= FOLDED_ABOVE))


def _telling(schedule: Schedule) -> list[Column]:
    """Return the columns without those in which every cell is empty."""
    first, *others = schedule.columns
    return [first, *(c for c in others if any(row.get(c.key) is not None for row in schedule.rows))]


def _classes(column: Column) -> str:
    return "n" if is_figure(column) else "when" if column.kind == "when" else "t"


def _shown(column: Column, cell: Cell, printed: Printed) -> Shown:
    value = None if cell is None else json.dumps(cell, ensure_ascii=False)
    classes = _classes(column)
    if column.kind == "text" and isinstance(cell, str) and len(cell) > _LONG:
        classes += " long"
    return Shown(printed.cell(column, cell), value, classes, verdict=column.key == "verdict" and cell is not None)


#: Characters above which a cell's words may break lines.
_LONG: Final = 24


def _sum(schedule: Schedule, column: Column, printed: Printed) -> Shown:
    if not column.summed:
        return Shown("", None, _classes(column))
    return _shown(column, printed.sum(schedule, column), printed)


def _words(text: str) -> Markup:
    """Return running text as markup: backticks hold what is to be typed, and lines do not break in a figure."""
    from markupsafe import Markup, escape

    parts = [escape(part) for part in text.split("`")]
    if len(parts) % 2 == 0:
        parts = [escape(text)]
    marked = (Markup("<code>{}</code>").format(p) if odd % 2 else _unbroken(p) for odd, p in enumerate(parts))
    return Markup("").join(marked)


#: What belongs on one line: a number of a lot, a ticket or a day, and a figure with its unit. Neither holds markup.
_WHOLE: Final = re.compile(
    r"(?<![\w&#-])(?:\w{1,12}(?:-\w{1,12})*-\d\w{0,9}|-?[\d.,]+ (?:g|kg|mg|ozt|dwt|σ|%|‰))(?![\w-])"
)


def _unbroken(escaped: Markup) -> Markup:
    from markupsafe import Markup

    return Markup(_WHOLE.sub(r'<span class="nb">\g<0></span>', str(escaped)))


def _drawing(picture: Picture) -> Markup:
    """Return a picture's own SVG, which its maker has escaped."""
    from markupsafe import Markup

    return Markup(picture.svg)
