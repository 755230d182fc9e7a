"""Who may do what: refused where the handbook says impossible, recorded and flagged where it says irregular.

A name is a claim: what is tested is that the book holds people to what they claim to be.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months.closing import prepare
from ledger.book.closing import record_close
from ledger.book.entering import Entry, Stamp, enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book, record_change
from ledger.book.store import writing
from ledger.plant.setup import Setup
from ledger.plant.toml_file import read_setup
from ledger.refusals import NotClosable, PeriodClosed, SetupRefused
from tests.book.plants import PLANT, Book, Document, again, bought, lot, reversal, ticket
from tests.book.sample import ANSWERS, CHANGE, MONTH, sample_book

#: Beside W, who may do all but set and close, KEEP, who keeps VAULT, and ONLY, who weighs: somebody who may nothing.
PEOPLE = PLANT + '[[person]]\ncode = "NONE"\n'
BEGUN = [bought(1, "VAULT", lot("A", "100.00", gold="500")), bought(2, "MELT", lot("B", "50.00", gold="500"))]
STAMP = Stamp("2026-11-02T08:00:00+00:00", "user")

#: A ticket of each sort of right: what it asks for, and the ticket.
ASKS: dict[str, tuple[str, Document]] = {
    "move": ("weigh", ticket(3, "move", from_="VAULT", to="MELT", lots=[lot("A", "10.00")])),
    "receive": ("weigh", bought(3, "VAULT", lot("C", "1.00", gold="500"))),
    "work": ("weigh", ticket(3, "work", area="MELT", operation="melt", in_=[lot("B", "50.00", all=True)],
                             out=[lot("M", "49.80")])),
    "assay": ("weigh", ticket(3, "assay", lot="B", method="FIRE", results={"gold": [["500.1‰"]], "silver": [["0‰"]]})),
    "checkweigh": ("weigh", ticket(3, "checkweigh", scale="S1", standard="100.00 g", reading="100.00 g")),
    "count": ("count", ticket(3, "count", area="VAULT", lots=[lot("A", "100.00")])),
    "void": ("accept", ticket(3, "void", numbers=["T-0009"], reason="torn")),
    "reverse": ("accept", reversal(3, 1)),
}  # fmt: skip


def book() -> Book:
    return Book(BEGUN, PEOPLE)


@pytest.mark.parametrize("kind", ASKS)
def test_somebody_who_is_not_entitled_is_recorded_and_flagged(kind: str) -> None:
    right, document = ASKS[kind]
    made = book()
    (draft,) = made.enter(document | {"by": "NONE"})
    assert draft is not None
    assert [(flag, words) for _, flag, words in draft.flags if flag == "not entitled"] == [
        ("not entitled", f"NONE is not entitled to {right}")
    ]
    assert not [flag for _, flag, _ in book().enter(document)[0].flags if flag == "not entitled"]  # type: ignore[union-attr]


def test_a_witness_who_is_not_entitled_is_flagged() -> None:
    made = book()
    made.enter(ASKS["move"][1] | {"witness": "ONLY"})
    assert made.flags(3) == ["not entitled"]


def test_nobody_is_his_own_witness() -> None:
    book().refuses(ASKS["move"][1] | {"witness": "W"}, "witness")


@pytest.mark.parametrize("field", ["by", "witness", "workers"])
def test_somebody_whom_the_set_up_does_not_have_is_refused(field: str) -> None:
    value: Any = ["NEMO"] if field == "workers" else "NEMO"
    refusal = book().refuses(ASKS["move"][1] | {field: value}, "no person NEMO in the set-up")
    assert refusal.code == "impossible"


def test_a_correction_by_somebody_not_entitled_is_flagged() -> None:
    made = book()
    made.enter(ASKS["move"][1], reversal(4, 3))
    made.enter(again(ASKS["move"][1], 5, by="NONE"))
    assert made.flags(5) == ["not entitled"]


# ---- counts -----------------------------------------------------------------------------------------------------


def test_who_keeps_an_area_may_not_end_its_count() -> None:
    count = ASKS["count"][1] | {"by": "KEEP"}
    book().refuses(count, "KEEP keeps VAULT and may not end its count")


@pytest.mark.parametrize("field", [{"ended": False}, {"spot": True}])
def test_who_keeps_an_area_may_read_a_sheet_that_does_not_end_its_count(field: Document) -> None:
    made = book()
    made.enter(ASKS["count"][1] | {"by": "KEEP"} | field)
    assert made.flags(3) == []


# ---- set-up -----------------------------------------------------------------------------------------------------


def month(folder: Path, *people: Document) -> Path:
    """Return a book of the sample month, the rights of some people changed."""
    document = read_setup(MONTH / "plant.toml").to_document()
    changed = {person["code"]: person for person in people}
    document["person"] = [person | changed.get(person["code"], {}) for person in document["person"]]
    path = folder / "rights.lemel"
    new_book(path, Setup.from_document(document), "user")
    with writing(path) as connection:
        enter(connection, read_file(MONTH / "tickets.jsonl"), "user")
    return path


@pytest.mark.parametrize("by", ["MQ", "HB", "TH", "NEMO"])
def test_a_change_by_somebody_who_may_not_set_is_refused(tmp_path: Path, by: str) -> None:
    with pytest.raises(SetupRefused, match="by: "), writing(month(tmp_path)) as connection:
        record_change(connection, CHANGE | {"by": by}, STAMP)


# ---- closes -----------------------------------------------------------------------------------------------------


@contextmanager
def refused_to_close(words: str) -> Iterator[None]:
    with pytest.raises(NotClosable, match=words):
        yield


@pytest.mark.parametrize(
    ("by", "with_", "words"),
    [
        ("MQ", "MQ", "one person closes alone"), ("MQ", "TH", "TH may not close"), ("OV", "MQ", "OV may not close"),
        ("MQ", "NEMO", "NEMO may not close"), ("MQ", "", " may not close"),
    ],
)  # fmt: skip
def test_the_book_itself_refuses_what_is_not_the_close_of_two_who_may(
    tmp_path: Path, by: str, with_: str, words: str
) -> None:
    """Whatever program prepares a close: the condition is looked at again where it is recorded."""
    with refused_to_close(words), writing(month(tmp_path)) as connection:
        content = prepare(connection, "2026-10", ANSWERS).content
        record_close(Entry(connection), content | {"by": by, "with": with_}, STAMP)


def test_who_sets_rates_may_not_close_though_he_may_do_both(tmp_path: Path) -> None:
    path = month(tmp_path, {"code": "OV", "may": ["set", "close"]})
    with writing(path) as connection:
        unmet = prepare(connection, "2026-10", replace(ANSWERS, with_="OV")).unmet
        assert [fault.what for fault in unmet] == ["OV sets rates, and who sets rates may not close"]
        content = prepare(connection, "2026-10", ANSWERS).content
        with refused_to_close("OV may not close"):
            record_close(Entry(connection), content | {"with": "OV"}, STAMP)


def test_nobody_enters_into_a_closed_period_whoever_he_is(tmp_path: Path) -> None:
    late = {"ticket": "HC-0099", "kind": "checkweigh", "at": "2026-10-30T08:00", "by": "MQ", "scale": "S-FLOOR",
            "standard": "1000.00 g", "reading": "1000.01 g"}  # fmt: skip
    with pytest.raises(PeriodClosed), writing(sample_book(tmp_path)) as connection:
        Entry(connection).record(late, STAMP)


@pytest.mark.parametrize("by", ["OV"])
def test_nobody_reaches_into_a_closed_period_by_a_change(tmp_path: Path, by: str) -> None:
    with pytest.raises(SetupRefused), writing(sample_book(tmp_path)) as connection:
        record_change(connection, CHANGE | {"by": by, "from": "2026-10-15T00:00"}, STAMP)
