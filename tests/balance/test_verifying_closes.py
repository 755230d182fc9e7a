"""A close posts what it says; verify asks whether it says what the tickets give."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.months import verifying
from ledger.balance.months.closing import Answers, prepare
from ledger.balance.months.verifying import verify
from ledger.book import verifying as of_the_book
from ledger.book.closing import record_close
from ledger.book.entering import Entry
from ledger.book.store import reading
from ledger.refusals import FormRefused, NotClosable, Refused
from tests.balance.closing_plant import NOTED, STAMP, begun, closed, in_november, melted
from tests.book.plants import Book, again, reversal
from tests.book.sample import sample_book

Content = dict[str, Any]


def content_of(made: Book, period: str = "2026-10") -> Content:
    """Return what a close would say, free to be changed."""
    said: Content = json.loads(json.dumps(prepare(made.connection, period, Answers("CA", "CB", notes=NOTED)).content))
    return said


def melt(content: Content, metal: str = "gold") -> dict[str, Any]:
    found: dict[str, Any] = next(a for a in content["statements"][metal] if a["area"] == "MELT")
    return found


def recorded(change: Callable[[Content], None]) -> Book:
    """Return a book closed by a program that says other things than it should, and posts and seals what it says."""
    made = begun(melted(2))
    content = content_of(made)
    change(content)
    record_close(Entry(made.connection), content, STAMP)
    return made


def more_loss(content: Content) -> None:
    melt(content)["allowed"] = "9.500000000"


def less_dust(content: Content) -> None:
    melt(content)["dust"]["accrued"] = "0.000000000"


def smaller_difference(content: Content) -> None:
    melt(content, "gross")["unexplained"] = "0.000000000"


def milder_verdict(content: Content) -> None:
    melt(content)["verdict"] = "within"


def larger_sigma(content: Content) -> None:
    melt(content)["sigma"] = "77.000000000"


FORGED = {"allowed": more_loss, "dust": less_dust, "unexplained": smaller_difference, "verdict": milder_verdict,
          "sigma": larger_sigma}  # fmt: skip


@pytest.mark.parametrize("name", FORGED)
def test_a_statement_that_does_not_follow_from_the_tickets_is_named(name: str) -> None:
    made = recorded(FORGED[name])
    assert of_the_book.verify(made.connection) == [], "all the book does is as the close says"
    (found,) = verify(made.connection)
    assert found.where == "the close of 2026-10"
    assert f"of MELT: {name} is" in found.what


@pytest.mark.parametrize(("name", "told"), [("verdict", 0), ("sigma", 0), ("allowed", 1)])
def test_another_version_may_judge_otherwise_but_not_weigh(
    name: str, told: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = recorded(FORGED[name])
    monkeypatch.setattr(verifying, "__version__", "9.9")
    assert len(verify(made.connection)) == told


def test_closes_with_late_tickets_between_them_are_sound() -> None:
    """The second close knew what the first did not; each is derived again from what it knew."""
    made = begun(melted(2, "989.00"))
    closed(made)
    made.enter(in_november(reversal(3, 2)), again(melted(2, "998.00"), 4), in_november(melted(5), 4))
    closed(made, "2026-11")
    made.enter(reversal(6, 5) | {"at": "2026-12-03T08:00"})
    assert verify(made.connection) == []


def test_the_sample_book_is_sound(tmp_path: Path) -> None:
    with reading(sample_book(tmp_path)) as connection:
        assert verify(connection) == []
        assert verify(connection, quick=True) == []


# ---- what the book itself refuses to record ---------------------------------------------------------------------

SPOILED: dict[str, Callable[[Content], object]] = {
    "a field missing": lambda c: c.pop("notes"), "a field too many": lambda c: c.update(more="x"),
    "no text": lambda c: c.update(by=7), "a note that is none": lambda c: c["notes"].update(MELT=None),
    "notes that are none": lambda c: c.update(notes=[]),
    "a metal missing": lambda c: c["statements"].pop("gold"), "no statements": lambda c: c.update(statements=None),
    "other areas": lambda c: c["statements"]["gold"].pop(), "a mass as a number": lambda c: melt(c).update(allowed=1),
    "too few digits": lambda c: melt(c).update(allowed="1.0"), "no dust": lambda c: melt(c).pop("dust"),
    "an area twice": lambda c: [c["statements"][m].append(c["statements"][m][0]) for m in c["statements"]],
}  # fmt: skip


@pytest.mark.parametrize("spoil", SPOILED.values(), ids=SPOILED)
def test_what_is_no_close_is_not_recorded(spoil: Callable[[Content], object]) -> None:
    made = begun(melted(2))
    content = content_of(made)
    spoil(content)
    before = made.tables()
    with pytest.raises(FormRefused, match="the close cannot be read"):
        record_close(Entry(made.connection), content, STAMP)
    assert made.tables() == before


def test_a_close_out_of_order_is_not_recorded() -> None:
    made = begun(melted(2))
    closed(made)
    december = content_of(made, "2026-12")
    with pytest.raises(NotClosable, match="does not follow 2026-10"):
        record_close(Entry(made.connection), december, STAMP)


def test_a_close_with_another_seal_is_not_taken_back() -> None:
    made = begun(melted(2))
    content = content_of(made)
    with pytest.raises(Refused, match="its seal does not follow"):
        record_close(Entry(made.connection), content, STAMP, sealed={"root": "0"})
