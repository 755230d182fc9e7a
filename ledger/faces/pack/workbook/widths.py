"""How wide columns are, so that no figure is cut and words wrap: in characters of the common font."""

from __future__ import annotations

from typing import Final

from ledger.faces.pack.printed import is_figure
from ledger.faces.pack.schedule import Column, Schedule
from ledger.faces.pack.workbook.figures import Figures
from ledger.faces.printing import cells as width_of

_NARROWEST: Final = 7
_WIDEST: Final = 56
_FILTER_BUTTON: Final = 3
#: A head up to here is not broken; a longer one is, but not before its unit.
_WHOLE_HEAD: Final = 15
#: Room at a column's sides, and for a font a little wider than the one that was asked for.
_ROOM: Final = 2.5


def width(schedule: Schedule, column: Column, figures: Figures) -> float:
    """Return the width of a column: its figures whole, its words up to a limit, and each word of its head."""
    head = figures.head(column)
    words = [head] if width_of(head) <= _WHOLE_HEAD else head.replace(", ", ",\u00a0").split(" ")
    cells = [figures.words(column, row.get(column.key)) for row in schedule.rows]
    if column.summed:
        cells.append(figures.printed.cell(column, figures.printed.sum(schedule, column)) + " ")  # it is bold
    body = max((width_of(line) for cell in cells for line in cell.split("\n")), default=0)
    body = body if is_figure(column) else min(body, _WIDEST)
    return max(_NARROWEST, max(map(width_of, words)) + _FILTER_BUTTON, body + _ROOM)
