"""The figures of a pack for programs: one JSON document with everything, and a CSV file for each schedule."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from ledger.balance.months.statement import SIGN
from ledger.faces.pack.pictures.svg import key_of
from ledger.faces.pack.printed import is_figure
from ledger.faces.pack.schedule import Cell, Column, Part, Picture, Schedule, Section
from ledger.faces.pack.workbook import Heading

#: What a pack's figures.json says of its own form; another number is another form.
FORM: Final = 1

#: What a spreadsheet takes for a formula at the beginning of a cell.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


def schedules_of(sections: Sequence[Section]) -> dict[str, Schedule]:
    """Return every schedule of a pack by its key, those that pictures were drawn from too, in reading order."""
    found: dict[str, Schedule] = {}
    for section in sections:
        for schedule in (*(picture.figures for picture in section.pictures), *section.schedules):
            found.setdefault(schedule.key, schedule)
    return found


def file_names(sections: Sequence[Section]) -> dict[str, str]:
    """Return the CSV file of each schedule by its key; no two are alike, not even where case does not count."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for key in schedules_of(sections):
        name = key_of(key)
        while name.lower() in taken:
            name += "_"
        taken.add(name.lower())
        names[key] = f"{name}.csv"
    return names


def figures_document(sections: Sequence[Section], heading: Heading) -> dict[str, Any]:
    """Return everything that the page says, and every figure as it is: masses in grams with all their digits."""
    names = file_names(sections)
    return {
        "pack": FORM,
        "plant": heading.plant,
        "period": heading.period,
        "metal": heading.metal,
        "sign": SIGN,
        "printed_in": heading.unit,
        "currency": heading.currency,
        "closed": heading.closed,
        "record": heading.record,
        "chain": heading.chain,
        "seal": heading.seal,
        "sections": [
            {
                "key": s.key,
                "title": s.title,
                "paragraphs": list(s.paragraphs),
                "parts": [_part(p) for p in s.parts],
                "pictures": [_picture(p) for p in s.pictures],
                "schedules": [{**_schedule(x), "file": f"csv/{names[x.key]}"} for x in s.schedules],
            }
            for s in sections
        ],
    }


def _part(part: Part) -> dict[str, Any]:
    return {"key": part.key, "title": part.title, "paragraphs": list(part.paragraphs), "points": list(part.points)}


def _picture(picture: Picture) -> dict[str, Any]:
    return {"key": picture.key, "title": picture.title, "says": picture.says, "figures": _schedule(picture.figures)}


def _schedule(schedule: Schedule) -> dict[str, Any]:
    return {
        "key": schedule.key,
        "title": schedule.title,
        "says": schedule.says,
        "notes": list(schedule.notes),
        "columns": [asdict(column) for column in schedule.columns],
        "rows": [{column.key: row.get(column.key) for column in schedule.columns} for row in schedule.rows],
    }


def json_bytes(document: Mapping[str, Any]) -> bytes:
    """Return a document as JSON, the same document always the same bytes."""
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def csv_files(sections: Sequence[Section]) -> Iterator[tuple[str, bytes]]:
    """Yield the name of each CSV file and what is in it."""
    names = file_names(sections)
    for key, schedule in schedules_of(sections).items():
        yield f"csv/{names[key]}", csv_bytes(schedule)


def csv_bytes(schedule: Schedule) -> bytes:
    """Return a schedule as CSV, led by its column keys; figures as they are, and no words that act as a formula."""
    out = io.StringIO(newline="")
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow([_harmless(column.key) for column in schedule.columns])
    for row in schedule.rows:
        rows.writerow([_cell(column, row.get(column.key)) for column in schedule.columns])
    return out.getvalue().encode()


def _cell(column: Column, cell: Cell) -> str:
    if cell is None:
        return ""
    return str(cell) if is_figure(column) else _harmless(str(cell))


def _harmless(text: str) -> str:
    """Return words led by an apostrophe where a spreadsheet would take them for a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else text
