"""The first sheet: what the workbook is, of which state of the book, and what stands on each sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from ledger.faces.caution import CAUTION
from ledger.faces.pack.schedule import Schedule
from ledger.faces.pack.workbook.heading import CONVENTION, Heading
from ledger.faces.pack.workbook.looks import Looks, height, lines_of
from ledger.faces.pack.workbook.words import plain

NAME: Final = "Contents"

_WIDTHS: Final = (34, 84, 8)
_ABOUT_CELLS: Final = (
    "Figures are numbers, whole to the nanogram; cells show fewer digits. Columns that follow from others, and totals, "
    "are formulas."
)


class Listed(NamedTuple):
    """One sheet of the workbook: its name, the section it is of, its schedule, and whether it ends with the caution."""

    name: str
    section: str
    schedule: Schedule
    cautioned: bool


def write(page: Any, heading: Heading, sheets: Sequence[Listed], looks: Looks) -> None:
    """Write the first sheet on an empty worksheet."""
    for place, width in enumerate(_WIDTHS):
        page.set_column(place, place, width)
    _put(page, 0, 0, heading.title, looks, "title")
    row = 2
    for label, text in _facts(heading):
        _put(page, row, 0, label, looks, "label")
        _put(page, row, 1, text, looks, "words")
        row += 1
    _list(page, row + 1, sheets, looks)


def _facts(heading: Heading) -> list[tuple[str, str]]:
    return [
        ("plant", heading.plant),
        ("period", f"{heading.period}, {'closed' if heading.closed else 'not closed: figures may still change'}"),
        ("figures", f"{heading.measured}, unless a column says otherwise; money in {heading.currency}"),
        ("sign", CONVENTION),
        ("cells", _ABOUT_CELLS),
        ("caution", CAUTION),
        ("book", heading.book),
        ("last seal", heading.seal or "none: no period has been closed"),
    ]


def _list(page: Any, row: int, sheets: Sequence[Listed], looks: Looks) -> None:
    page.write_row(row, 0, ("sheet", "what it shows"), looks.of("head"))
    page.write_string(row, 2, "rows", looks.of("head", align="right"))
    section = ""
    for listed in sheets:
        row += 1
        if listed.section != section:
            section = listed.section
            _put(page, row, 0, section, looks, "label")
            row += 1
        page.write_url(row, 0, f"internal:'{listed.name}'!A1", looks.of("link"), listed.name)
        _put(page, row, 1, listed.schedule.says, looks, "words")
        page.write_number(row, 2, len(listed.schedule.rows), looks.of("figure", num_format="#,##0"))


def _put(page: Any, row: int, place: int, text: str, looks: Looks, look: str) -> None:
    shown = plain(text)
    page.write_string(row, place, shown, looks.of_words(look, shown))
    if look == "words":
        page.set_row(row, height(lines_of(shown, _WIDTHS[place])))
