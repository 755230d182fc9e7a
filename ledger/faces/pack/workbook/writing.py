"""The workbook as a file: the same schedules give the same bytes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any, Final

from ledger.faces.caution import CAUTION
from ledger.faces.pack.schedule import Schedule, Section
from ledger.faces.pack.workbook import contents
from ledger.faces.pack.workbook.contents import Listed
from ledger.faces.pack.workbook.figures import Figures
from ledger.faces.pack.workbook.heading import CONVENTION, Heading
from ledger.faces.pack.workbook.looks import FONT, Looks
from ledger.faces.pack.workbook.sheet import Sheet
from ledger.faces.pack.workbook.words import plain, sheet_names

#: Words become neither formulas nor numbers nor links, whatever they look like.
_OPTIONS: Final = {
    "in_memory": True, "strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False,
}  # fmt: skip
#: The time a workbook says it was made: none that means anything, so that the same figures are the same bytes.
_MADE: Final = datetime(2000, 1, 1)  # noqa: DTZ001 (the form has no time zone)
#: A header or footer holds 255 characters, ampersands doubled.
_LONGEST_IN_MARGIN: Final = 50


def write_workbook(path: Path, sections: Sequence[Section], heading: Heading) -> None:
    """Write the workbook of a pack to ``path``, over what is there; OSError where that cannot be."""
    path.write_bytes(workbook_bytes(sections, heading))


def workbook_bytes(sections: Sequence[Section], heading: Heading) -> bytes:
    """Return the workbook: a first sheet with what it is, then one for each schedule, in the order of the sections.

    Masses are numbers in ``heading.unit``. The figures of a picture have a sheet as well; a schedule that stands twice
    has one. Where a section carries the caution about persons, each of its sheets ends with it. Raises ValueError for a
    column whose formula is no identity.
    """
    from xlsxwriter import Workbook

    file = BytesIO()
    workbook = Workbook(file, {**_OPTIONS, "default_format_properties": dict(FONT)})  # it adds to what it is given
    workbook.set_properties({"title": plain(heading.title), "subject": plain(f"{heading.plant}: {heading.measured}"),
                             "comments": CONVENTION, "created": _MADE})  # fmt: skip
    looks, figures, sheets = Looks(workbook), Figures(heading.unit, heading.currency), _listed(sections)
    contents.write(_page(workbook, contents.NAME, heading), heading, sheets, looks)
    for listed in sheets:
        sheet = Sheet(_page(workbook, listed.name, heading), listed.schedule, figures, looks)
        sheet.write(contents.NAME, CAUTION if listed.cautioned else None)
    workbook.close()
    return file.getvalue()


def _listed(sections: Sequence[Section]) -> list[Listed]:
    found = list(_schedules(sections))
    names = sheet_names([contents.NAME, *(schedule.title for _, schedule in found)])[1:]
    return [
        Listed(name, section.title, schedule, CAUTION in section.paragraphs)
        for name, (section, schedule) in zip(names, found, strict=True)
    ]


def _schedules(sections: Sequence[Section]) -> Iterator[tuple[Section, Schedule]]:
    seen: set[str] = set()
    for section in sections:
        for schedule in (*section.schedules, *(picture.figures for picture in section.pictures)):
            if schedule.key not in seen:
                seen.add(schedule.key)
                yield section, schedule


def _page(workbook: Any, name: str, heading: Heading) -> Any:
    """Return a new worksheet, set up for paper: across, as wide as the page, with plant, period and page numbers."""
    page = workbook.add_worksheet(name)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.set_margins(left=0.5, right=0.5)
    page.hide_gridlines(1)
    page.set_header(f"&L{_margin(heading.plant)}&R{_margin(heading.title)}")
    page.set_footer(f"&L{_margin(heading.book)}&C{_margin(name)}&R{_margin(heading.measured)}, page &P of &N")
    page.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    return page


def _margin(text: str) -> str:
    """Return a text for header or footer, where an ampersand would begin a command."""
    shown = plain(text).replace("\n", " ")
    return (shown if len(shown) <= _LONGEST_IN_MARGIN else shown[:_LONGEST_IN_MARGIN] + "…").replace("&", "&&")
