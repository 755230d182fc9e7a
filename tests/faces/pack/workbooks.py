"""Sections to write as a workbook, and ways to read one back: by a reader library, and by an office program."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from openpyxl import load_workbook

from ledger.faces.pack.schedule import Column, Row, Schedule, Section
from ledger.faces.pack.workbook import Heading, workbook_bytes

HEADING = Heading("Larkfield Bench (invented)", "2026-10", "gold", "g", "USD", False, 1234, "0123456789abcdef" * 4)
HEADER, FIRST = 5, 6  # rows of a sheet, counted from 1


def mass(key: str, head: str, formula: str | None = None) -> Column:
    return Column(key, head, "mass", formula is None, formula)


BALANCE = Schedule(
    "balance", "Balance of each area", "What each area opened with, received, issued and closed with.",
    [
        Column("area", "area"), mass("opening", "opening"), mass("received", "received"), mass("issued", "issued"),
        mass("closing", "closing"), mass("difference", "difference", "opening + received - issued - closing"),
        Column("sigma", "σ", "mass"), Column("z", "z", "number", formula="difference / sigma"),
        Column("money", "value", "money", summed=True), Column("share", "of throughput", "share"),
        Column("lots", "lots", "count", summed=True), Column("counted", "counted", "when"), Column("why", "why"),
    ],
    [
        {"area": "MELT", "opening": "1250.420000001", "received": "310.000000000", "issued": "309.100000000",
         "closing": "1249.000000000", "difference": "2.320000001", "sigma": 0.64, "z": 3.625, "money": "187.92",
         "share": 0.0075, "lots": 12, "counted": "2026-10-31T17:30", "why": "beyond 3 σ"},
        {"area": "ROLL", "opening": "0.300000000", "received": "0.100000000", "issued": "0.400000000",
         "closing": "0.000000000", "difference": "0.000000000", "sigma": 0.0, "z": None, "money": "0.00",
         "share": None, "lots": 0, "counted": None, "why": None},
        {"area": "BUFF", "opening": "999999.999999999", "received": "0.000000000", "issued": "0.000000000",
         "closing": "1000003.123456789", "difference": "-3.123456790", "sigma": 1.25, "z": -2.498765,
         "money": "-253.00", "share": -0.0001, "lots": 4321, "counted": "2026-10-30T09:05", "why": "beyond 2 σ"},
    ],
    ["A share is of what the area newly received."],
)  # fmt: skip


def one(rows: Sequence[Row], *columns: Column, title: str = "One", key: str = "one") -> Schedule:
    return Schedule(key, title, "It shows one thing.", columns, rows)


def section(*schedules: Schedule) -> list[Section]:
    return [Section("s", "Section", (), schedules)]


def written(*schedules: Schedule, heading: Heading = HEADING) -> bytes:
    return workbook_bytes(section(*schedules), heading)


def opened(content: bytes, *, values: bool = False) -> Any:
    """Return the workbook as the reader library has it: with formulas, or with the values that were kept with them."""
    return load_workbook(BytesIO(content), data_only=values)


def sheet(*schedules: Schedule, values: bool = True, heading: Heading = HEADING) -> Any:
    """Return the first schedule's sheet, read back."""
    return opened(written(*schedules, heading=heading), values=values).worksheets[1]


def without_values(content: bytes) -> bytes:
    """Return a workbook whose formulas have lost their kept values: whoever opens it must work them out."""
    made = BytesIO()
    with ZipFile(BytesIO(content)) as old, ZipFile(made, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name.startswith("xl/worksheets/"):
                part = re.sub(rb"(</f>)<v>[^<]*</v>", rb"\1", part)
            new.writestr(name, part)
    return made.getvalue()


def by_office(content: bytes, folder: Path) -> Any:
    """Return the workbook as LibreOffice works it out; the test is left out where that is not installed."""
    if shutil.which("soffice") is None:
        pytest.skip("LibreOffice is not installed: soffice is not on the path")
    (folder / "book.xlsx").write_bytes(without_values(content))
    profile, out = (folder / "profile").as_uri(), folder / "worked"
    subprocess.run(
        ["soffice", f"-env:UserInstallation={profile}", "--headless", "--convert-to", "xlsx", "--outdir", str(out),
         str(folder / "book.xlsx")], check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return load_workbook(out / "book.xlsx", data_only=True)
