"""lemel audit, trace and statement as commands: every page fits, every answer is one document, faults are told."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.book.plants import bought, lot, ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel

COMMANDS = [
    "trace AN-1012", "trace FB-1013 --way back --depth 2", "trace PL-1005 --way forward --all",
    "statement ALDERTON 2026-10", "statement PENROSE 2026-10 --unit ozt --metal silver",
    "audit sample lots --seed x", "audit sample lots --seed x --size 4 --by value", "audit sample floor --seed x",
    "audit sample tickets --seed x --kind work", "audit counts 2026-10", "audit counts --area ROLL",
    "audit roll 2026-10", "audit roll 2026-10-20 --area MELT", "audit cutoff 2026-10", "audit gaps", "audit entries",
    "audit duties 2026-10", "audit changes", "audit differences 2026-10", "audit expected 2026-10 --area MELT",
    "audit event 2026-10-01 2026-10-31", "audit event 2026-10-05T08:00 2026-10-06 --least 5mg --area MELT",
    "audit ticket HC-0006", "audit ticket HC-0020", "audit tares", "audit purity", "audit estimated", "audit holdings",
    "audit owners", "audit lender ALDERTON --price 2600 --facility 90000", "audit value 2026-10",
    "audit shipment FB-1013",
]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_fits_eighty_columns_and_says_which_book_it_read(lemel: Lemel, month: Path, command: str) -> None:
    done = lemel(*command.split(), "--book", month)
    assert (done.status, done.err) == (0, "")
    assert [line for line in done.out.splitlines() if cells(line) > 80] == []
    assert "book as of record 41, chain " in done.out


@pytest.mark.parametrize("command", COMMANDS)
def test_an_answer_is_one_document_and_the_same_each_time(lemel: Lemel, month: Path, command: str) -> None:
    done = lemel(*command.split(), "--book", month, "--json")
    assert (done.status, done.err) == (0, "")
    assert done.json["record"] == 41
    again = lemel(*command.split(), "--book", month, "--json")
    assert again.out == done.out


@pytest.mark.parametrize("command", [c for c in COMMANDS if c.split()[1] in
                                     ("duties", "entries", "differences", "event", "counts")])  # fmt: skip
def test_pages_on_which_suspicion_could_fall_say_what_they_are_not(lemel: Lemel, month: Path, command: str) -> None:
    text = " ".join(lemel(*command.split(), "--book", month).out.split())
    assert "People are given by code. A name on a ticket is a claim, not a signature." in text
    assert "Arithmetic on records, no finding about any person." in text
    assert "Milo Brack" not in text


def test_names_of_people_are_on_no_page(lemel: Lemel, month: Path) -> None:
    setup = lemel("setup", "show", "--book", month, "--json").json["setup"]
    names = [person["name"] for person in setup["person"]]
    assert names
    for command in COMMANDS:
        for form in ((), ("--json",)):
            out = lemel(*command.split(), "--book", month, *form).out
            assert [name for name in names if name in out] == []


@pytest.mark.parametrize(("command", "words"), [
    ("trace NONE", "no ticket names a lot 'NONE'"), ("trace AN-1012 --way up", "give back, forward or both"),
    ("statement NOBODY 2026-10", "there is no party 'NOBODY'"), ("statement PENROSE x", "there is no period 'x'"),
    ("audit sample bars --seed x", "give lots, floor or tickets"),
    ("audit sample lots --seed x --risk 5", "is not a share"), ("audit sample lots --seed x --risk 0%", "risk share"),
    ("audit sample lots --seed x --expected 5%", "no more can be expected than is tolerable"),
    ("audit sample lots --seed x --expected 4.999%", "no sample tells the expected"),
    ("audit sample tickets --seed x --expected 4.99%", "no sample tells the expected"),
    ("audit sample lots --seed x --by mass", "give fine or value"), ("audit roll yesterday", "yesterday"),
    ("audit cutoff October", "there is no period"), ("audit event 2026-10-31 2026-10-01", "give the earlier one first"),
    ("audit event 2026-10-01 2026-10-02 --least 1oz", "oz"), ("audit ticket HC-9", "no ticket 'HC-9'"),
    ("audit lender ALDERTON --price much", "is no amount"), ("audit lender PENROSE --metal gross", "gross"),
    ("audit shipment AN-1012", "nothing was shipped as"), ("audit value 2026-13", "there is no period"),
])  # fmt: skip
def test_called_wrongly(lemel: Lemel, month: Path, command: str, words: str) -> None:
    done = lemel(*command.split(), "--book", month)
    assert (done.status, done.out) == (2, "")
    assert words in done.err
    assert "→" in done.err


def test_a_worksheet_goes_out_and_comes_back(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    """What --csv prints, filled in as recorded, holds; a fault has its file, line and column."""
    options = ("--seed", "Brill", "--size", "5", "--book", month)
    sheet = lemel("audit", "sample", "lots", *options, "--csv").out
    recorded = {i["lot"]: i["gross"] for i in lemel("audit", "sample", "lots", *options, "--json").json["items"]}
    path = tmp_path / "found.csv"
    lines = sheet.splitlines()
    filled = [lines[0], *(f"{row.rsplit(',', 2)[0]},{recorded[row.split(',')[1]]} g," for row in lines[1:])]
    path.write_text("\n".join(filled) + "\n", encoding="utf-8")
    clean = lemel("audit", "evaluate", "lots", path, *options, "--json").json
    assert (clean["missing"]["known"], clean["missing"]["projected"]) == (0, 0)
    page = lemel("audit", "evaluate", "lots", path, *options)
    assert page.status == 0
    assert "with a difference" in page.out
    assert all(cells(line) <= 80 for line in page.out.splitlines())
    path.write_text(path.read_text(encoding="utf-8").replace(" g,", " oz,", 1), encoding="utf-8")
    wrong = lemel("audit", "evaluate", "lots", path, *options)
    assert wrong.status == 3
    assert "found.csv:2, gross" in wrong.err


def test_tickets_and_the_floor_evaluated(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    options = ("--seed", "Brill", "--size", "10", "--book", month)
    path = tmp_path / "tickets.csv"
    path.write_text(lemel("audit", "sample", "tickets", *options, "--csv").out.replace(",,", ",no,"), encoding="utf-8")
    done = lemel("audit", "evaluate", "tickets", path, *options)
    assert "0 of 10; upper limit 25.9% at a risk of 5%" in " ".join(done.out.split())
    floor = tmp_path / "floor.csv"
    floor.write_text("area,lot,gross\nVAULT,NOBODYS,1.0 g\n", encoding="utf-8")
    found = lemel("audit", "evaluate", "floor", floor, *options)
    assert found.status == 0
    assert "not in the record" in found.out


def test_a_tree_deeper_than_the_page(lemel: Lemel, tmp_path: Path) -> None:
    """Thirty rollings one after another: every level is named, none is set in beyond the page."""
    steps = [ticket(2 + n, "work", area="ROLL", operation="roll", in_=[lot(f"L{n}", all=True)],
                    out=[lot(f"L{n + 1}", "100.00", form="strip")]) for n in range(30)]  # fmt: skip
    book = filed(tmp_path, bought(1, "ROLL", lot("L0", "100.00", gold="500", form="bar")), *steps)
    done = lemel("trace", "L0", "--way", "forward", "--book", book)
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    assert "30: L30" in done.out


def test_an_empty_book_answers(lemel: Lemel, empty: Path) -> None:
    for command in ("sample lots --seed x", "sample tickets --seed x", "counts", "gaps", "entries", "duties", "changes",
                    "tares", "purity", "estimated", "holdings", "owners", "value", "lender ALDERTON"):
        done = lemel("audit", *command.split(), "--book", empty)
        assert (command, done.status, done.err) == (command, 0, "")
