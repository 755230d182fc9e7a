"""lemel exceptions: every section on the page and in the document, at a day, in eighty columns."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.exceptions_page import SECTIONS
from ledger.faces.printing import cells
from tests.book.plants import bought, lot, number, reversal, ticket
from tests.book.sample import sample_book
from tests.faces.books import filed
from tests.faces.conftest import Lemel


@pytest.fixture
def under_way(tmp_path: Path) -> Path:
    """The sample month, a lot not found, metal on its way, a job under way."""
    return sample_book(tmp_path)


@pytest.fixture
def everything(tmp_path: Path) -> Path:
    """Something under every heading."""
    dust = {"gold": "90.0 g", "silver": "30.0 g"}
    work = {"operation": "roll", "area": "ROLL"}
    readings = {"scale": "S1", "received_mass": "90.00 g", "received_scale": "S1"}
    return filed(
        tmp_path,
        ticket(1, "open", area="FINISH", dust=dust),
        ticket(2, "sweep", area="FINISH", lots=[lot("SW", "9.00", content={"gold": "1.0 g", "silver": "0.5 g"},
                                                    basis="estimated")]),
        bought(3, "ROLL", lot("A", "1000.00", clad="CL20"), lot("B", "200.00", clad="CL20")),
        ticket(4, "work", **work, in_=[lot("A", "100.00")], out=[{"bin": "ENDS-CAN", "mass": "99.00 g"}]),
        bought(5, "MELT", lot("N", "50.00", alloy="G12")),
        ticket(8, "receive", party="LEND", terms="leased", to="VAULT", lots=[lot("L", "150.00", alloy="G12")]),
        ticket(6, "move", from_="MELT", to="ROLL", lots=[lot("N", "20.00")]),
        reversal(7, 5),
        ticket(900, "work", **work, job="J1", in_=[lot("A", "300.00")], out=[]),
        ticket(901, "move", from_="ROLL", to="FINISH", lots=[lot("B", "100.00", **readings)]),
        ticket(903, "move", from_="ROLL", to="VAULT", in_transit=True, lots=[lot("A", "50.00")]),
        ticket(904, "receive", party="SUP", terms="bought", to="VAULT", at="2026-11-07T01:00",
               lots=[lot("E", "1.00", alloy="G12")]),
        ticket(930, "count", area="VAULT", nil=True, count=number(930)),
        ticket(931, "checkweigh", at="2026-11-08T17:00", scale="S1", standard="200.0 g", reading="200.90 g"),
    )


def test_every_section_holds_something_and_says_it_on_the_page(lemel: Lemel, everything: Path) -> None:
    document = lemel("exceptions", "--book", everything, "--json").json
    assert document["day"] == "2026-11-08"
    assert [section for section in SECTIONS if not document[section]] == []
    page = lemel("exceptions", "--book", everything)
    assert page.status == 0
    assert "Nothing under" not in page.out
    for named in ("J1", "T-0903", "T-0902", "T-0930", "ENDS-CAN", "S1", "SW", "FINISH dust", "out of control", "LEND"):
        assert named in page.out


def test_ages_are_whole_days_of_the_plant(lemel: Lemel, everything: Path) -> None:
    document = lemel("exceptions", "--book", everything, "--json").json
    (sweeps,) = document["estimated_lots"]
    assert (sweeps["since"], sweeps["days"], sweeps["estimated"]) == ("2026-10-01T02:00", 38, "1.000000000")
    assert [(b["bin"], b["days"]) for b in document["bins_overdue"]] == [("ENDS-CAN", 38)]
    assert lemel("exceptions", "--book", everything, "--json", "--assay-days", "38").json["bins_overdue"] == []


def test_eighty_columns_whatever_there_is(lemel: Lemel, everything: Path, under_way: Path) -> None:
    for book in (everything, under_way):
        for more in ((), ("--metal", "silver", "--unit", "grain"), ("--metal", "gross")):
            lines = lemel("exceptions", "--book", book, *more).out.splitlines()
            assert [line for line in lines if cells(line) > 80] == []


def test_an_earlier_day(lemel: Lemel, under_way: Path) -> None:
    now = lemel("exceptions", "--book", under_way, "--json").json
    then = lemel("exceptions", "--book", under_way, "--json", "--at", "2026-11-02").json
    assert ([j["job"] for j in now["open_jobs"]], then["open_jobs"]) == (["J-1"], [])
    assert [n["lot"] for n in then["not_found"]] == ["AN-1012"]
    assert (then["day"], then["in_transit"]) == ("2026-11-02", [])


def test_the_caution_and_no_person_but_in_a_ticket_s_own_words(lemel: Lemel, under_way: Path) -> None:
    page = lemel("exceptions", "--book", under_way).out
    assert "no finding about any person" in " ".join(page.split())
    assert "Tobin" not in page


def test_the_same_bytes_twice(lemel: Lemel, under_way: Path) -> None:
    first, second = (lemel("exceptions", "--book", under_way, "--json").out for _ in range(2))
    assert first == second


def test_a_book_without_a_ticket(lemel: Lemel, empty: Path) -> None:
    assert "no ticket yet" in lemel("exceptions", "--book", empty).out
    document = lemel("exceptions", "--book", empty, "--json").json
    assert (document["day"], document["open_jobs"]) == (None, [])
    given = lemel("exceptions", "--book", empty, "--json", "--at", "2027-01-05").json
    assert {s["what"] for s in given["scales_overdue"]} == {"never checked", "past its calibration"}


@pytest.mark.parametrize(
    ("option", "value", "mend"),
    [("--at", "yesterday", "2026-10-05"), ("--at", "2026-02-30", "2026-10-05"), ("--unit", "oz", "ozt or ozav"),
     ("--metal", "lead", "gross")],
)  # fmt: skip
def test_a_wrong_option_is_named_with_its_mend(lemel: Lemel, month: Path, option: str, value: str, mend: str) -> None:
    done = lemel("exceptions", "--book", month, option, value)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{option}: ")
    assert mend in done.err
