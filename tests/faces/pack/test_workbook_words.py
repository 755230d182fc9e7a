"""Words in cells: nothing that somebody wrote on a ticket runs, hides or breaks the workbook."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.faces.pack.schedule import Column, Schedule
from ledger.faces.pack.workbook import Heading
from ledger.faces.pack.workbook.words import LONGEST_NAME, LONGEST_TEXT, plain, sheet_names
from tests.faces.pack.workbooks import FIRST, by_office, one, opened, sheet, written

#: Texts that spreadsheets would run: those of OWASP's page on CSV injection, and a shell call (from memory).
FORMULAS = [
    "=1+1", "+1", "-1", "@SUM(1+1)", "\t=1", "\r=1", "\n=1", "＝1+1", "＋1", "－1", "＠A1",
    "=cmd|' /C calc'!A0", '=HYPERLINK("http://x")',
]  # fmt: skip
WORDS = Column("w", "words")


@pytest.mark.parametrize("text", FORMULAS)
def test_words_never_become_a_formula(text: str) -> None:
    cell = sheet(one([{"w": text}], WORDS), values=False).cell(FIRST, 1)
    assert cell.data_type == "s"
    assert cell.value == plain(text)
    assert cell.quotePrefix or cell.value[0] == "\\", "editing the cell would run it"


@pytest.mark.parametrize("text", FORMULAS)
def test_titles_heads_and_notes_never_become_a_formula(text: str) -> None:
    schedule = Schedule("k", text, text, [Column("w", text)], [], [text])
    for page in opened(written(schedule, heading=Heading(text, text, text, "g", text, True, 1, text, text))):
        assert "f" not in {cell.data_type for row in page.iter_rows() for cell in row}


def test_an_office_program_reads_them_as_words(tmp_path: Path) -> None:
    page = by_office(written(one([{"w": text} for text in FORMULAS], WORDS)), tmp_path).worksheets[1]
    assert [page.cell(row, 1).value for row in range(FIRST, FIRST + len(FORMULAS))] == list(map(plain, FORMULAS))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("bell\x07", r"bell\x07"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("a\x00b", r"a\x00b"),
        ("tab\there", r"tab\there"),
        ("dlog\u202eeslaf", r"dlog\u202eeslaf"),
        ("\ud800", r"\ud800"),
        ("\ufffe\uffff", r"\ufffe\uffff"),
        ("_x0041_", "_x0041_"),
        ("two\nlines", "two\nlines"),
        ("Käthe – 1\u202f000 ‰ 金 🜚", "Käthe – 1\u202f000 ‰ 金 🜚"),
        ("<&\"'>", "<&\"'>"),
    ],
)
def test_what_cannot_be_seen_is_written_out(text: str, shown: str) -> None:
    assert sheet(one([{"w": text}], WORDS)).cell(FIRST, 1).value == shown


@given(st.lists(st.text(st.characters(), max_size=40), min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_any_text_comes_back_as_it_is_shown(texts: list[str]) -> None:
    page = sheet(one([{"w": text} for text in texts], WORDS), values=False)
    read = [page.cell(row, 1).value for row in range(FIRST, FIRST + len(texts))]
    assert read == [plain(text) for text in texts]


@pytest.mark.parametrize("sign", ["x", "🜚"])
def test_a_text_beyond_what_a_cell_holds_is_cut_and_says_so(sign: str) -> None:
    value = sheet(one([{"w": sign * 40_000}], WORDS)).cell(FIRST, 1).value
    assert value.endswith("(cut here: a cell holds no more; whole in figures.json)")
    assert LONGEST_TEXT - 1 <= len(value.encode("utf-16-le")) // 2 <= LONGEST_TEXT


def test_a_plants_name_gives_no_commands_to_the_margins() -> None:
    heading = Heading('Gold & Sons &D &"Bold" ' + "&" * 100, "2026-10", "gold", "g", "USD", True, 1, "0" * 64)
    content = written(one([], WORDS), heading=heading)
    with ZipFile(BytesIO(content)) as parts:
        header = re.search(rb"<oddHeader>(.*)</oddHeader>", parts.read("xl/worksheets/sheet2.xml"))
    assert header is not None
    text = header.group(1).decode().replace("&amp;", "&").replace("&quot;", '"')
    assert text.startswith('&LGold && Sons &&D &&"Bold"')
    assert len(text) <= 255


# ---- names of sheets --------------------------------------------------------------------------------------------

#: What a sheet's name may not hold: the error an office program shows for such a name.
_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")


@pytest.mark.parametrize(
    ("titles", "names"),
    [
        (["Statement: balance of each area"], ["Statement balance of each area"]),
        (["Sender–receiver differences of all moves"], ["Sender–receiver differences of"]),
        (["From the book to the count: ROLL", "From the book to the count: DISPATCH"],
         ["From the book to the count ROLL", "From the book to the… DISPATCH"]),
        (["Where it stands and what is to be done about it: all of it"], ["Where it stands and… all of it"]),
        (["Dust", "dust", "Dust"], ["Dust", "dust 2", "Dust 3"]),
        (["History"], ["History 2"]),
        (["'quoted'"], ["’quoted’"]),
        (["", "[]:*?/\\"], ["Sheet", "Sheet 2"]),
        (["x" * 40, "x" * 40], ["x" * 31, "x" * 29 + " 2"]),
        (["🜚" * 20], ["🜚" * 15]),
    ],
)  # fmt: skip
def test_names_of_sheets(titles: list[str], names: list[str]) -> None:
    assert sheet_names(titles) == names


@given(st.lists(st.text(max_size=60), max_size=12))
@settings(max_examples=200)
def test_names_are_valid_and_differ(titles: list[str]) -> None:
    names = sheet_names(titles)
    assert len({name.casefold() for name in names}) == len(titles)
    for name in names:
        assert 0 < len(name.encode("utf-16-le")) // 2 <= LONGEST_NAME
        assert not _FORBIDDEN.search(name)
        assert name == name.strip("'")


@given(st.lists(st.text(max_size=40), min_size=1, max_size=4))
@settings(max_examples=30, deadline=None)
def test_a_workbook_takes_any_titles(titles: list[str]) -> None:
    schedules = [one([], WORDS, title=title, key=str(number)) for number, title in enumerate(titles)]
    assert len(opened(written(*schedules)).sheetnames) == 1 + len(titles)
