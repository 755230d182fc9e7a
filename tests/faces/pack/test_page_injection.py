"""Whatever people name or write is text on the page, and words in a spreadsheet."""

from __future__ import annotations

import csv
import io

import pytest

from ledger.faces.pack.making import Pack
from tests.book.plants import PLANT, Book, lot, ticket
from tests.faces.pack.pages import Read, figures_of, pack_of, page_of

SCRIPT = "<script>alert(1)</script>"
IMAGE = '"><img src=x onerror=alert(1)>'
FORMULA = "=HYPERLINK(1)"


@pytest.fixture(scope="module")
def hostile() -> Pack:
    text = (
        PLANT.replace('name = "Invented Works"', "name = '</title><script>alert(1)</script>'")
        .replace('code = "MELT"', f"code = \"MELT\"\nname = '{SCRIPT}'")
        .replace('code = "CUS"', f"code = '{FORMULA}'\nname = '{SCRIPT}'")
        .replace('code = "ENDS"', f"code = '{IMAGE}'")
        .replace('class = "ENDS"', f"class = '{IMAGE}'")
    )
    book = Book(
        [ticket(1, "receive", party=FORMULA, terms="deposited", to="VAULT", lots=[
                lot(SCRIPT, "100.00", gold="999.9", basis="nominal", class_=IMAGE, declared_mass="101.00 g",
                                declared_fineness={"gold": "999.9‰", "silver": "0"}),
                lot("@SUM(A1)", "50.00", gold="500", basis="estimated")]),
         ticket(2, "move", from_="VAULT", to="MELT", lots=[lot(SCRIPT, "90.00", all=True, scale="S1")], note=IMAGE),
         ticket(3, "void", numbers=["T-0099"], reason=f"{SCRIPT} `{IMAGE}`"),
         ticket(4, "count", area="MELT", lots=[lot(SCRIPT, "80.00", scale="S1")]),
         ticket(5, "count", area="VAULT", lots=[lot("@SUM(A1)", "50.00", scale="S1")])],
        text,
    )  # fmt: skip
    return pack_of(book.connection)


def test_no_name_lot_reason_or_code_becomes_an_element(hostile: Pack) -> None:
    page = page_of(hostile)
    read = Read(page)
    assert read.of("script", "img") == []
    assert not [name for e in read.elements for name in e.attributes if name.startswith("on")]
    assert read.misplaced == []
    assert SCRIPT not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_it_is_all_there_to_read(hostile: Pack) -> None:
    words = "".join(Read(page_of(hostile)).words())
    for text in (SCRIPT, IMAGE, FORMULA, "@SUM(A1)"):
        assert text in words


def test_no_words_in_a_csv_file_act_as_a_formula(hostile: Pack) -> None:
    seen = set()
    for file in hostile.files:
        if file.name.startswith("csv/"):
            for row in list(csv.reader(io.StringIO(file.content.decode())))[1:]:
                for cell in row:
                    seen.add(cell)
                    assert not cell.startswith(("=", "@", "\t", "+")), (file.name, cell)
                    assert not cell.startswith("-") or float(cell) <= 0
    assert {f"'{FORMULA}", "'@SUM(A1)"} <= seen


def test_programs_read_what_was_written(hostile: Pack) -> None:
    rows = [row for s in figures_of(hostile)["sections"] for x in s["schedules"] for row in x["rows"]]
    assert any(FORMULA in row.values() for row in rows)
    assert any("@SUM(A1)" in row.values() for row in rows)
