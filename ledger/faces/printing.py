"""Printing: tables that neither wrap nor cut a figure, running text, and JSON.

A table that is wider than the page is printed in blocks of columns, each led by the first column, so that piped or on
a narrow terminal every figure stays whole.
"""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from ledger.quantities.mass import mass_text

if TYPE_CHECKING:
    from ledger.book.holdings import AsOf

#: Columns of the page where the terminal does not say: paper, pipes and files.
PAGE_WIDTH: Final = 80

#: Digits after the point that people are shown, by unit: a few milligrams or less.
PLACES: Final = {"g": 3, "kg": 6, "mg": 0, "grain": 2, "dwt": 3, "ozt": 4, "ozav": 4, "lb": 5}

#: Digits that show every nanogram; other units have no last digit.
ALL_PLACES: Final = {"g": 9, "kg": 12, "mg": 6}

_GAP: Final = "  "
#: Characters of one line that is said, at most, and of its end where it is cut: there stands the mend.
_LONGEST_LINE: Final = 2_000
_TAIL: Final = 400


@dataclass(slots=True)
class Table:
    """Rows of text under heads; ``left`` names the columns of words, all others are figures, set to the right."""

    heads: Sequence[str]
    left: frozenset[int] = frozenset((0,))
    rows: list[Sequence[str]] = field(default_factory=list)
    total: Sequence[str] | None = None

    def add(self, *cells: str) -> None:
        """Add one row; a cell for each head."""
        self.rows.append(cells)

    def without_empty_columns(self) -> Table:
        """Return the table without the columns that say nothing in any row."""
        body = [*self.rows, *([self.total] if self.total else [])]
        kept = [i for i in range(len(self.heads)) if i == 0 or any(row[i] for row in body)]
        return Table(
            [self.heads[i] for i in kept], frozenset(new for new, old in enumerate(kept) if old in self.left),
            [[row[i] for i in kept] for row in self.rows], [self.total[i] for i in kept] if self.total else None,
        )  # fmt: skip

    def lines(self, width: int) -> Iterator[str]:
        """Yield the printed lines: one block of columns where they fit the width, else several."""
        body = [self.heads, *self.rows, *([self.total] if self.total else [])]
        widths = [max(cells(row[i]) for row in body) for i in range(len(self.heads))]
        for number, block in enumerate(_even_blocks(widths, width)):
            if number:
                yield ""
            yield from self._block(block, widths)

    def _block(self, block: list[int], widths: list[int]) -> Iterator[str]:
        rule = "-" * (sum(widths[i] for i in block) + len(_GAP) * (len(block) - 1))
        yield self._line(self.heads, block, widths)
        yield rule
        for row in self.rows:
            yield self._line(row, block, widths)
        if self.total:
            yield rule
            yield self._line(self.total, block, widths)

    def _line(self, row: Sequence[str], block: list[int], widths: list[int]) -> str:
        return _GAP.join(padded(row[i], widths[i], left=i in self.left) for i in block).rstrip()


def _even_blocks(widths: list[int], width: int) -> list[list[int]]:
    """Return as few blocks of columns as the width allows, of about the same width."""
    needed = list(_blocks(widths, width))
    for narrower in range(width):
        blocks = list(_blocks(widths, narrower))
        if len(blocks) <= len(needed):
            return blocks
    return needed


def _blocks(widths: list[int], width: int) -> Iterator[list[int]]:
    block, used = [0], widths[0]
    for i in range(1, len(widths)):
        if used + len(_GAP) + widths[i] > width and len(block) > 1:
            yield block
            block, used = [0], widths[0]
        block.append(i)
        used += len(_GAP) + widths[i]
    yield block


def cells(text: str) -> int:
    """Return the columns a text takes on a terminal: wide characters two, combining ones none."""
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def padded(text: str, width: int, *, left: bool = True) -> str:
    """Return a text filled with blanks to a width, on its right when ``left``."""
    blanks = " " * (width - cells(text))
    return text + blanks if left else blanks + text


def page_width() -> int:
    """Return the terminal's width, or the page's where output goes elsewhere."""
    return shutil.get_terminal_size((PAGE_WIDTH, 24)).columns if sys.stdout.isatty() else PAGE_WIDTH


def say(text: str = "") -> None:
    """Print one line as it is: what may be copied from the page, a ticket or a path, is never broken."""
    print(printable(text))


def say_as_of(as_of: AsOf) -> None:
    """Print of which state of the book a page is, and the last seal: whoever keeps the page can tell a changed book."""
    say_text(f"book as of record {as_of.record:,}, chain {as_of.chain[:16]}")
    if as_of.seal is not None:
        say(f"seal {as_of.seal}")


def say_table(table: Table) -> None:
    """Print a table."""
    for line in table.lines(page_width()):
        print(printable(line))


def say_text(text: str, indent: str = "", first: str | None = None) -> None:
    """Print running text, broken between words at the page's width; ``first`` leads the first line."""
    lead = indent if first is None else first
    print(textwrap.fill(printable(text), max(40, min(page_width(), 100)), initial_indent=lead, subsequent_indent=indent,
                        break_long_words=False, break_on_hyphens=False))  # fmt: skip


def say_json(document: Any) -> None:
    """Print one JSON document, keys in the order given."""
    print(json.dumps(document, ensure_ascii=False, indent=2))


def printable(text: str) -> str:
    """Return a text with what cannot be printed escaped: a damaged book may hold anything."""
    return text if text.isprintable() else "".join(c if c.isprintable() or c == "\n" else ascii(c)[1:-1] for c in text)


def one_line(text: str) -> str:
    """Return a text for one line of a terminal: what would move its cursor is escaped, a long text cut in its middle.

    A fault quotes what was read; nothing that was read may clear a screen, or turn the order of what stands on it.
    """
    if len(text) > _LONGEST_LINE:
        text = f"{text[:_LONGEST_LINE - _TAIL]} … {text[-_TAIL:]}"
    return printable(text).replace("\n", "\\n")


def warn(text: str) -> None:
    """Print one line on standard error."""
    print(one_line(text), file=sys.stderr)


def mass(mass_ng: int, unit: str, *, whole: bool = False, more: int = 0) -> str:
    """Return a mass for people; ``whole``: to the nanogram, as far as the unit allows; ``more``: further digits."""
    return mass_text(mass_ng, unit, ALL_PLACES.get(unit, 9) if whole else PLACES[unit] + more)


def ng_of(grams: str) -> int:
    """Return the nanograms of plain decimal grams with nine digits, as documents carry them."""
    return int(grams.replace(".", ""))


def sentence(text: str) -> str:
    """Return a text with its full stop; one that asks has its question mark already."""
    return text if text.endswith(("?", ".")) else f"{text}."


def counted(number: int, one: str, many: str = "") -> str:
    """Return ``1 ticket`` or ``2 tickets``."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
