"""lemel bench settle: the page, the book beside it, and the ticket it ends with, entered."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from ledger.faces.printing import cells
from tests.book.plants import bought, lot, ticket
from tests.faces.books import filed
from tests.faces.conftest import Lemel

OUT_TURN = """\
party = "REF"
exchange = "umpire"
pay = "{pay}"
currency = "USD"
at = "2026-10-02T12:00"
by = "W"
[[metal]]
metal = "gold"
splitting = "0.5‰"
accountability = "99.5%"
price = "2650.10"
[[lot]]
lot = "B"
received = "100.02 g"
melted = "99.98 g"
ours = {{ gold = [["500.1", "500.0"], ["499.9"]] }}
theirs = {{ gold = ["499.7", 499.8] }}
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Two bars of 50 g of gold at the refiner's, one of them settled before 0.1 g low."""
    bars = [lot(name, "100.00", gold="500", silver="10", method="FIRE") for name in ("A", "B")]
    low = {"gold": "49.9 g", "silver": "1.0 g"}
    return filed(tmp_path, bought(1, "PLATER", *bars),
                 ticket(2, "settle", area="PLATER", party="REF", lots=[lot("A", received="100.0 g", agreed=low,
                                                                           payable=low)]))  # fmt: skip


def written(folder: Path, text: str = OUT_TURN.format(pay="kind"), name: str = "out-turn.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def tickets(done_out: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in done_out.splitlines()]


def test_the_ticket_is_accepted_dry_and_then_entered(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    """Agreed (499.975 + 499.75)/2 = 499.8625 ‰ of 99.98 g: 49.976 g; payable 49.726 g; silver is agreed as nothing."""
    done = lemel("bench", "settle", written(tmp_path), "--book", book, "--tickets")
    assert (done.status, done.err) == (0, "")
    (settle,) = tickets(done.out)
    assert (settle["ticket"], settle["area"]) == ("T-0003", "PLATER")
    (line,) = settle["lots"]
    assert line["agreed"] == {"gold": "49.976 g", "silver": "0.0 g"}
    assert line["payable"] == {"gold": "49.726 g", "silver": "0.0 g"}
    lines = written(tmp_path, done.out, "t.jsonl")
    dry = lemel("enter", lines, "--book", book, "--dry-run")
    assert (dry.status, dry.out.splitlines()[0]) == (0, "would be recorded 1, already there 0, refused 0")
    assert lemel("enter", lines, "--book", book).status == 0
    assert lemel("verify", "--book", book).status == 0
    (refiner,) = lemel("estimates", "--book", book, "--json").json["refiners"]
    assert [row["lot"] for row in refiner["lots"]] == ["A", "B"]


def test_metal_sold_leaves_the_settled_account_by_transfer(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    done = lemel("bench", "settle", written(tmp_path, OUT_TURN.format(pay="money")), "--book", book, "--tickets")
    settle, sale = tickets(done.out)
    assert (sale["kind"], sale["ticket"], sale["reference"]) == ("transfer", "T-0004", settle["ticket"])
    assert (sale["fine"], sale["price"]) == ("49.726 g", "2650.1 USD/ozt")
    before = owed_when_settled(book)
    entered = lemel("enter", written(tmp_path, done.out, "t.jsonl"), "--book", book)
    assert entered.status == 0, entered.err
    assert owed_when_settled(book) == before == 49_900_000_000


def owed_when_settled(book: Path) -> int:
    """Return what refiners owe in gold of settlements, ng: what was payable and not yet sold or returned."""
    connection = sqlite3.connect(book)
    (ng,) = connection.execute("SELECT sum(ng) FROM posting WHERE terms = 'settled' AND metal = 'gold'").fetchone()
    connection.close()
    assert isinstance(ng, int)
    return ng


def test_pool_metal_goes_to_the_pool(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    done = lemel("bench", "settle", written(tmp_path, OUT_TURN.format(pay="pool")), "--book", book, "--tickets")
    (settle,) = tickets(done.out)
    assert settle["lots"][0]["terms"] == "pool"
    assert lemel("enter", written(tmp_path, done.out, "t.jsonl"), "--book", book).status == 0


def test_figures(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    document = lemel("bench", "settle", written(tmp_path), "--book", book, "--json").json
    (metal,) = document["lots"][0]["metals"]
    assert (metal["ours"], metal["theirs"], metal["agreed_fineness"]) == ("499.975000", "499.750000", "499.862500")
    assert (metal["agreed"], metal["payable"]) == ("49.976000000", "49.726000000")
    by_metal = {row["metal"]: row for row in document["against_book"]}
    assert by_metal["gold"]["difference"] == "0.024000000"
    assert by_metal["gross"]["difference"] == "0.020000000"
    assert by_metal["gold"]["z"] == pytest.approx(0.024 / by_metal["gold"]["sigma"], rel=1e-3)
    (history,) = document["history"]
    assert (history["settled_before"], history["difference_before"]) == (1, "0.100000000")
    assert history["with_this"] == {"below": 2, "above": 0, "equal": 0, "p_below": 0.25, "p_either": 0.5}
    assert document["tickets"][0]["ticket"] == "T-0003"


def test_the_page(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    done = lemel("bench", "settle", written(tmp_path), "--book", book)
    assert done.status == 0
    assert all(cells(line) <= 80 for line in done.out.splitlines() if not line.startswith("{"))
    text = " ".join(done.out.split())
    for words in ("99.98 g × 499.8625 ‰ = 49.976252… g", "49.976252… g × 99.5 % = 49.726371… g",
                  "Against the book, in g", "1 lot settled before", "licensed practice", "cyanide",
                  "no finding about any person"):  # fmt: skip
        assert words in text


def test_without_a_book_the_sums_alone(lemel: Lemel, tmp_path: Path) -> None:
    document = lemel("bench", "settle", written(tmp_path), "--no-book", "--json").json
    assert (document["against_book"], document["wanting"]) == (None, ["ticket", "area"])
    done = lemel("bench", "settle", written(tmp_path), "--no-book", "--tickets")
    assert (done.status, done.out) == (2, "")
    assert "ticket, area not known" in done.err


def test_json_is_read_as_well(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    document = {"party": "REF", "exchange": "theirs", "at": "2026-10-02T12:00", "by": "W", "metal": [{"metal": "gold"}],
                "lot": [{"lot": "B", "received": "100.0 g", "theirs": {"gold": [[499.5]]}}]}  # fmt: skip
    path = written(tmp_path, json.dumps(document), "out-turn.json")
    (metal,) = lemel("bench", "settle", path, "--book", book, "--json").json["lots"][0]["metals"]
    assert (metal["ours"], metal["agreed"]) == (None, "49.950000000")


@pytest.mark.parametrize(
    ("old", "new", "status", "words"),
    [
        ('theirs = { gold = ["499.7", 499.8] }', 'theirs = { gold = "499.2" }', 3,
         "ours 499.975 ‰, the refiner's 499.2 ‰, limit 0.5 ‰"),
        ('lot = "B"', 'lot = "A"', 3, "does not stand in PLATER"),
        ('splitting = "0.5‰"', "splitting = 0.5", 3, "out-turn.toml:9"),
        ("[[metal]]", "[[metals]]", 3, "did you mean metal?"),
        ("received", "recieved", 3, "did you mean received?"),
        ('party = "REF"', 'party = "REF', 3, "not TOML"),
    ],
)  # fmt: skip
def test_refused_in_words(
    lemel: Lemel, book: Path, tmp_path: Path, old: str, new: str, status: int, words: str
) -> None:
    text = OUT_TURN.format(pay="kind")
    assert old in text
    done = lemel("bench", "settle", written(tmp_path, text.replace(old, new)), "--book", book)
    assert (done.status, done.out) == (status, "")
    assert words in done.err
    assert "→" in done.err


def test_the_template_is_an_out_turn(lemel: Lemel, tmp_path: Path) -> None:
    template = lemel("bench", "settle", "--template")
    done = lemel("bench", "settle", written(tmp_path, template.out), "--no-book", "--ticket", "HC-0001")
    assert done.status == 0
    assert '"ticket": "HC-0001"' in done.out


def test_called_without_a_file(lemel: Lemel) -> None:
    done = lemel("bench", "settle")
    assert (done.status, done.out) == (2, "")
    assert "--template" in done.err


def test_the_same_bytes_twice(lemel: Lemel, book: Path, tmp_path: Path) -> None:
    arguments = ("bench", "settle", written(tmp_path), "--book", book, "--json")
    assert lemel(*arguments).out == lemel(*arguments).out
