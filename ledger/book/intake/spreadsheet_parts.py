"""What is taken of a workbook's parts: texts that cells share, styles, and the rows of a sheet, within bounds.

The elements are those of SpreadsheetML (ISO/IEC 29500-1, 18), by their local names.
"""

from __future__ import annotations

import re
from typing import Final, Literal, NamedTuple

#: Elements of all parts read: a cell is two or three, with a text of its own in another part up to five.
MOST_ELEMENTS: Final = 2_000_000
#: Rows and columns of a sheet; characters of one cell, as spreadsheets have it, and of all cells together.
MOST_ROWS: Final = 200_000
MOST_COLUMNS: Final = 1_000
LONGEST_TEXT: Final = 32_767
MOST_CHARACTERS: Final = 20_000_000

_MOST_PARTS: Final = 5_000
SPLIT: Final = "split it, or enter CSV or JSON Lines"
AGAIN: Final = "save it again as .xlsx, without a password; or as CSV, UTF-8"

Kind = Literal["text", "number", "flag", "date", "error", "formula"]
_KINDS: Final[dict[str, Kind]] = {
    "s": "text", "str": "text", "inlineStr": "text", "b": "flag", "e": "error", "d": "date", "n": "number",
}  # fmt: skip
Attributes = dict[str, str]


class Unreadable(ValueError):
    """What is no workbook, is damaged, or goes beyond a bound; its arguments are what, and mend."""


class Cell(NamedTuple):
    """A cell with something in it: its column, from 0, what it is, and its text as it stands in the file."""

    place: int
    kind: Kind
    text: str


class Line(NamedTuple):
    """A row with something in it: its number, from 1, and its cells in order."""

    number: int
    cells: list[Cell]


class Bounds:
    """How much was read of a workbook, all parts together; checked after each chunk, for speed."""

    def __init__(self) -> None:
        self.elements = self.ended = self.characters = 0

    @property
    def depth(self) -> int:
        """How many elements are open."""
        return self.elements - self.ended

    def check(self) -> None:
        """Raise Unreadable beyond a bound."""
        if self.elements > MOST_ELEMENTS:
            raise Unreadable(f"the workbook has more than {MOST_ELEMENTS:,} elements: too many for tickets", SPLIT)
        if self.characters > MOST_CHARACTERS:
            raise Unreadable(f"the cells hold more than {MOST_CHARACTERS:,} characters", SPLIT)


class Reader:
    """Keeps the text of cells and passes on elements; names are without their namespace's prefix."""

    def __init__(self, bounds: Bounds) -> None:
        self.bounds = bounds
        self._pieces: list[str] = []
        self._length = 0
        self._listening = self._aside = False

    def start(self, name: str, attributes: Attributes) -> None:
        """Take the beginning of an element."""
        self.bounds.elements += 1
        name = name.rpartition(":")[2]
        if name in ("t", "v"):
            self._listening = not self._aside
        elif name == "rPh":  # how a text is spoken: no part of it
            self._aside = True
        else:
            self.begin(name, attributes)

    def end(self, name: str) -> None:
        """Take the end of an element."""
        self.bounds.ended += 1
        name = name.rpartition(":")[2]
        if name in ("t", "v"):
            self._listening = False
        elif name == "rPh":
            self._aside = False
        else:
            self.finish(name)

    def text(self, piece: str) -> None:
        """Take a piece of text."""
        if not self._listening:
            return
        self._length += len(piece)
        if self._length > LONGEST_TEXT:
            raise Unreadable(f"a cell holds more than {LONGEST_TEXT:,} characters", "shorten it")
        self._pieces.append(piece)

    def heard(self) -> str:
        """Return the text since this was last asked."""
        text = "".join(self._pieces)
        if text:
            self._pieces, self._length = [], 0
            self.bounds.characters += len(text)
        return text

    def begin(self, name: str, attributes: Attributes) -> None:
        """Do what a part's own element calls for."""

    def finish(self, name: str) -> None:
        """Do what the end of a part's own element calls for."""


class Found(Reader):
    """The attributes of each element of one name."""

    def __init__(self, bounds: Bounds, name: str) -> None:
        super().__init__(bounds)
        self.name = name
        self.attributes: list[Attributes] = []

    def begin(self, name: str, attributes: Attributes) -> None:
        if name != self.name:
            return
        self.attributes.append(attributes)
        if len(self.attributes) > _MOST_PARTS:
            raise Unreadable(f"the workbook has more than {_MOST_PARTS:,} sheets or parts", SPLIT)


#: A character that XML cannot hold, written out (ISO/IEC 29500-1, 22.9.2.19).
_WRITTEN_OUT: Final = re.compile(r"_x([0-9A-Fa-f]{4})_")
_FIRST_SURROGATE: Final = 0xD800


def _unescaped(text: str) -> str:
    return _WRITTEN_OUT.sub(_character, text) if "_x" in text else text


def _character(match: re.Match[str]) -> str:
    number = int(match.group(1), 16)
    return chr(number) if number < _FIRST_SURROGATE else match.group()


class Texts(Reader):
    """The texts that cells share."""

    def __init__(self, bounds: Bounds) -> None:
        super().__init__(bounds)
        self.found: list[str] = []

    def finish(self, name: str) -> None:
        if name == "si":
            self.found.append(_unescaped(self.heard()))


#: Built-in number formats that are dates or times (ISO/IEC 29500-1, 18.8.30), the East Asian ones among them.
_DATES: Final = frozenset((*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)))
#: What of a number format is shown as it stands: quoted, escaped, or in brackets.
_AS_IT_STANDS: Final = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')


class Styles(Reader):
    """Which of the cells' styles show a number as a date."""

    def __init__(self, bounds: Bounds) -> None:
        super().__init__(bounds)
        self.dates: set[int] = set()
        self._formats: set[str] = {str(number) for number in _DATES}
        self._of_cells, self._number = False, 0

    def begin(self, name: str, attributes: Attributes) -> None:
        if name == "numFmt" and re.search("[dmyhs]", _AS_IT_STANDS.sub("", attributes.get("formatCode", "")), re.I):
            self._formats.add(attributes.get("numFmtId", ""))
        elif name == "cellXfs":
            self._of_cells = True
        elif name == "xf" and self._of_cells:
            if attributes.get("numFmtId") in self._formats:
                self.dates.add(self._number)
            self._number += 1

    def finish(self, name: str) -> None:
        if name == "cellXfs":
            self._of_cells = False


class Sheet(Reader):
    """The rows of a sheet, as they are finished."""

    def __init__(self, bounds: Bounds, texts: list[str], dates: frozenset[int]) -> None:
        super().__init__(bounds)
        self.texts, self.dates = texts, dates
        self._number, self._place = 0, -1
        self._cell: Attributes = {}
        self._formula = False
        self._cells: list[Cell] = []
        self._lines: list[Line] = []

    def taken(self) -> list[Line]:
        """Return the rows finished since this was last asked."""
        lines, self._lines = self._lines, []
        return lines

    def begin(self, name: str, attributes: Attributes) -> None:
        if name == "c":
            self._cell, self._formula = attributes, False
            self._place = _after(self._place, _column(attributes["r"]) if "r" in attributes else None)
            self.heard()
        elif name == "f":
            self._formula = True
        elif name == "row":
            self._number = _after(self._number, int(attributes["r"]) if "r" in attributes else None)
            self._place, self._cells = -1, []

    def finish(self, name: str) -> None:
        if name == "c":
            self._finish_cell()
        elif name == "row" and self._cells:
            if self._number > MOST_ROWS:
                raise Unreadable(f"the sheet has more than {MOST_ROWS:,} rows",
                                 "delete the rows below the tickets, or split the file")  # fmt: skip
            self._lines.append(Line(self._number, self._cells))
            self._cells = []

    def _finish_cell(self) -> None:
        kind, text = _KINDS[self._cell.get("t", "n")], self.heard()
        if self._cell.get("t") == "s" and text:
            text = self._shared(int(text))
        elif kind == "text":
            text = _unescaped(text)
        if kind == "number" and text and int(self._cell.get("s", 0)) in self.dates:
            kind = "date"
        if self._formula:
            kind = "formula"
        if self._formula or text.strip():
            if self._place >= MOST_COLUMNS:
                what = f"the sheet has something beyond its first {MOST_COLUMNS:,} columns"
                raise Unreadable(what, "clear what stands beside the tickets")
            self._cells.append(Cell(self._place, kind, text))

    def _shared(self, number: int) -> str:
        if not 0 <= number < len(self.texts):
            raise Unreadable("does not read as a workbook: a cell has a text that is not there", AGAIN)
        self.bounds.characters += len(self.texts[number])
        return self.texts[number]


def _after(last: int, given: int | None) -> int:
    """Return the number of a row or column: what is given, beyond the last, or the next."""
    if given is not None and given <= last:
        raise Unreadable("does not read as a workbook: its rows or cells are out of order", AGAIN)
    return last + 1 if given is None else given


def _column(address: str) -> int:
    """Return the column, from 0, of a cell's address: C5 is 2."""
    letters = re.fullmatch("([A-Z]{1,3})[0-9]{1,7}", address)
    if letters is None:
        raise Unreadable(f"does not read as a workbook: {address[:20]!r} is no cell", AGAIN)
    place = 0
    for letter in letters.group(1):
        place = 26 * place + ord(letter) - 64
    return place - 1
