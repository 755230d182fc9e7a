"""One schedule's sheet: title, what it shows, a header with units, rows, the total of the rows shown, notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, Final

from ledger.faces.pack.printed import is_figure
from ledger.faces.pack.schedule import Column, Row, Schedule
from ledger.faces.pack.workbook.figures import Figures
from ledger.faces.pack.workbook.formulas import in_cells, in_words, keys_of, worked_out
from ledger.faces.pack.workbook.looks import Looks, height, lines_of
from ledger.faces.pack.workbook.widths import width
from ledger.faces.pack.workbook.words import plain
from ledger.faces.printing import counted

HEADER_ROW: Final = 4
FIRST_ROW: Final = HEADER_ROW + 1
TOTAL: Final = "total"
#: SUBTOTAL's sum over the rows that neither a filter nor a hand has hidden.
_SUM_OF_SHOWN: Final = 109

#: Running text is this wide at least, and an empty column this.
_PROSE: Final = 110
_EMPTY_COLUMN: Final = 8.43
#: The first column stays in sight while it leaves room for others.
_FROZEN_WIDTH: Final = 26


class Sheet:
    """Writes one schedule on an empty worksheet; rows and columns are counted from 0, as the library does."""

    def __init__(self, page: Any, schedule: Schedule, figures: Figures, looks: Looks) -> None:
        self.page, self.schedule, self.figures, self.looks = page, schedule, figures, looks
        self.columns = schedule.columns
        self.widths = [width(schedule, column, figures) for column in self.columns]
        self.place = {column.key: place for place, column in enumerate(self.columns)}
        self.last_row = HEADER_ROW + len(schedule.rows)
        self.fixed = 0

    def write(self, contents: str, caution: str | None = None) -> None:
        """Write it all; ``contents`` is the name of the first sheet, to go back to; ``caution`` stands at the end."""
        for place, wide in enumerate(self.widths):
            self.page.set_column(place, place, wide)
        self._words(0, 0, self.schedule.title, "title")
        self._prose(1, self.schedule.says, "says")
        self.page.write_url(2, 0, f"internal:'{contents}'!A1", self.looks.of("link"), "to the contents")
        self._header()
        for number, row in enumerate(self.schedule.rows, FIRST_ROW):
            self._row(number, row)
        if not self.schedule.rows:
            self._words(FIRST_ROW, 0, "none", "words")
        self._total()
        for number, note in enumerate([*self._notes(), *([caution] if caution else [])], self.last_row + 3):
            self._prose(number, note, "note")
        self._view()

    # ---- header, rows, total ------------------------------------------------------------------------------------

    def _header(self) -> None:
        lines = 1
        for place, column in enumerate(self.columns):
            head = plain(self.figures.head(column))
            self.page.write_string(HEADER_ROW, place, head, self.looks.of("head", **self._side(place, column)))
            lines = max(lines, lines_of(head, self.widths[place] - 1))
        self.page.set_row(HEADER_ROW, height(lines + 1))  # the last line is for the filters' buttons

    def _side(self, place: int, column: Column) -> dict[str, Any]:
        """Return how a head stands over its cells: figures to the right, words apart from the figures before them."""
        if is_figure(column):
            return {"align": "right"}
        return {"align": "left", "indent": 1} if place else {}

    def _row(self, number: int, row: Row) -> None:
        known = {c.key: figure for c in self.columns if (figure := self.figures.of(c, row.get(c.key))) is not None}
        lines = 1
        for place, column in enumerate(self.columns):
            if column.key in known:
                self._figure(number, place, column, known)
            elif (cell := row.get(column.key)) is not None:
                words = self.figures.words(column, cell)
                self._words(number, place, words, "indented" if place else "words")
                lines = max(lines, lines_of(plain(words), self.widths[place] - 1))
        self.page.set_row(number, height(lines))

    def _figure(self, row: int, place: int, column: Column, known: Mapping[str, Fraction]) -> None:
        figure = known[column.key]
        look = self.looks.of("figure", num_format=self.figures.format(column, figure))
        formula = self._formula(row, column, known)
        if formula is None:
            self.page.write_number(row, place, float(figure), look)
        else:
            self.page.write_formula(row, place, formula, look, float(figure))

    def _formula(self, row: int, column: Column, known: Mapping[str, Fraction]) -> str | None:
        """Return the column's identity over this row's cells, or None where it does not come to the row's figure."""
        if column.formula is None:
            return None
        worth = worked_out(column.formula, known)
        if worth is None or not self.figures.same(column, known[column.key], worth):
            self.fixed += 1
            return None
        cells = {key: _address(row, self.place[key]) for key in keys_of(column.formula)}
        return self._rounded(column, in_cells(column.formula, cells))

    def _rounded(self, column: Column, formula: str) -> str:
        """Return a formula rounded to the digits its figure is carried with: sums of floats leave dust."""
        return f"=ROUND({formula[1:]},{self.figures.carried(column)})"

    def _total(self) -> None:
        if not self.schedule.rows or not any(column.summed for column in self.columns):
            return
        row = self.last_row + 1
        for place, column in enumerate(self.columns):
            if not column.summed:
                self.page.write(row, place, None if place else TOTAL, self.looks.of("total"))
                continue
            shown = f"{_address(FIRST_ROW, place)}:{_address(self.last_row, place)}"
            formula = self._rounded(column, f"=SUBTOTAL({_SUM_OF_SHOWN},{shown})")
            figure = self.figures.sum(self.schedule, column)
            look = self.looks.of("total", num_format=self.figures.format(column, figure))
            self.page.write_formula(row, place, formula, look, float(figure))

    # ---- words --------------------------------------------------------------------------------------------------

    def _words(self, row: int, place: int, text: str, look: str) -> None:
        shown = plain(text)
        self.page.write_string(row, place, shown, self.looks.of_words(look, shown))

    def _prose(self, row: int, text: str, look: str) -> None:
        """Write running text over as many columns as it takes to read it, its row as high as its lines."""
        last, wide = -1, 0.0
        while wide < _PROSE:
            last += 1
            wide += self.widths[last] if last < len(self.widths) else _EMPTY_COLUMN
        if last > 0:
            self.page.merge_range(row, 0, row, last, "", self.looks.of(look))
        self._words(row, 0, text, look)
        self.page.set_row(row, height(lines_of(plain(text), wide)))

    def _notes(self) -> Iterator[str]:
        yield from self.schedule.notes
        if not self.schedule.rows:
            return
        heads = {column.key: column.head for column in self.columns}
        for column in self.columns:
            if column.formula is not None:
                yield f"{column.head} = {in_words(column.formula, heads)}, worked out in each row."
        if self.fixed:
            yield f"Not so in {counted(self.fixed, 'cell')}: what the book says stands there as a number."
        if any(column.summed for column in self.columns):
            yield "A total is of the rows shown: a filter changes it."

    # ---- on the screen and on paper -----------------------------------------------------------------------------

    def _view(self) -> None:
        self.page.freeze_panes(FIRST_ROW, 1 if self.widths[0] <= _FROZEN_WIDTH else 0)
        self.page.repeat_rows(HEADER_ROW)
        if self.schedule.rows:
            self.page.autofilter(HEADER_ROW, 0, self.last_row, len(self.columns) - 1)


def _address(row: int, place: int) -> str:
    from xlsxwriter.utility import xl_rowcol_to_cell

    return str(xl_rowcol_to_cell(row, place))
