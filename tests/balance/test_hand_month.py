"""The sample month against docs/worked-month.md: worked by hand in exact fractions, equal to the nanogram."""

import sqlite3
from decimal import Decimal
from pathlib import Path

import pytest

from ledger.balance.months.statement import reconcile
from ledger.book.entering import enter
from ledger.book.holdings import position
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import read_setup
from tests.balance.hand_month import EXPECTED

MONTH = Path(__file__).parents[2] / "sample_books" / "month"
AREAS = ("VAULT", "MELT", "BOND", "ROLL", "FINISH", "REFINER")
KEYS = ("area", "lot", "party", "terms", "cause")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hand") / "month.lemel"
    new_book(path, read_setup(MONTH / "plant.toml"), "test")
    with writing(path) as connection:
        assert enter(connection, read_file(MONTH / "tickets.jsonl"), "test").recorded == 40
    return path


def posted(connection: sqlite3.Connection) -> dict[str, set[tuple[object, ...]]]:
    rows = connection.execute(
        "SELECT t.number, p.class, p.area, l.number, p.party, p.terms, p.cause, p.metal, sum(p.ng) FROM posting AS p "
        "JOIN ticket AS t ON t.seq = p.ticket LEFT JOIN lot AS l ON l.id = p.lot GROUP BY 1, 2, 3, 4, 5, 6, 7, 8"
    )
    found: dict[str, set[tuple[object, ...]]] = {}
    for number, class_, *keys, metal, ng in rows:
        if ng:
            named = frozenset((k, v) for k, v in zip(KEYS, keys, strict=True) if v is not None)
            found.setdefault(number, set()).add((class_, named, metal, ng))
    return found


@pytest.mark.parametrize("ticket", EXPECTED["postings"])
def test_postings(book: Path, ticket: str) -> None:
    with reading(book) as connection:
        found = posted(connection).get(ticket, set())
    assert found == {(class_, frozenset(keys.items()), m, ng) for class_, keys, m, ng in EXPECTED["postings"][ticket]}


def ng(text: str) -> int:
    return int(Decimal(text) * 10**9)


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
@pytest.mark.parametrize("area", AREAS)
def test_statement(book: Path, area: str, metal: str) -> None:
    with reading(book) as connection:
        document = reconcile(connection, "2026-10", metal)
    found = next(row for row in document["areas"] if row["area"] == area)
    expected = EXPECTED["statement"][area][metal]
    flat = {key: ng(found[key]) for key in expected if isinstance(expected[key], int)}
    assert flat == {key: value for key, value in expected.items() if isinstance(value, int)}
    for part in ("difference_from", "dust"):
        assert {key: ng(found[part][key]) for key in expected[part]} == expected[part]


@pytest.mark.parametrize("metal", ["gold", "silver", "gross"])
def test_position(book: Path, metal: str) -> None:
    with reading(book) as connection:
        found = position(connection, metal)
    expected = EXPECTED["position"][metal]
    owed = [account.ng for account in found.parties]
    assert {
        "place": sum(a.ng for a in found.places),
        "transit": sum(a.ng for a in found.transit),
        "dust": sum(a.ng for a in found.dust),
        "own": -found.own,
        "owed": -sum(ng for ng in owed if ng < 0),
        "owed_to_us": sum(ng for ng in owed if ng > 0),
        "difference": sum(a.ng for a in found.differences),
        "loss": sum(a.ng for a in found.losses),
        "give_away": sum(a.ng for a in found.give_away),
        "retained": sum(a.ng for a in found.retained),
    } == expected
    assert found.held == -found.own + expected["owed"] - expected["owed_to_us"] - sum(
        expected[key] for key in ("difference", "loss", "give_away", "retained")
    )


def test_every_figure_is_compared() -> None:
    """The hand-worked month covers every column that the statement has in masses."""
    columns = set(EXPECTED["statement"]["MELT"]["gold"])
    assert columns >= {"opening", "received", "issued", "closing", "sweeps", "difference", "gross_loss", "allowed",
                       "prior_period", "unexplained", "take_on", "difference_from", "dust"}  # fmt: skip
