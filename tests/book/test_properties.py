"""What must hold of every month of tickets, whatever the plant did."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from ledger.refusals import Refused
from tests.book.months import AREAS, Plant, months
from tests.book.plants import Amount, Book, Document, again, reversal
from tests.book.slow_book import tenths

#: The same examples each time, so that a failure is the change's and not the day's.
SLOW = settings(
    deadline=None, max_examples=120, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)  # fmt: skip
ZERO = (0, 0, 0)


def difference(a: dict[str, Amount], b: dict[str, Amount]) -> dict[str, Amount]:
    """Return a − b by account, where they differ."""
    keys = {*a, *b}
    apart = {k: tuple(x - y for x, y in zip(a.get(k, ZERO), b.get(k, ZERO), strict=True)) for k in keys}
    return {k: amount for k, amount in apart.items() if any(amount)}


def sums(book: Book, sql: str) -> list[Any]:
    return book.connection.execute(sql).fetchall()


@SLOW
@given(months())
def test_every_balance_is_what_the_slow_book_finds_from_the_documents(plant: Plant) -> None:
    """Places, dust, parties, own, give-away, losses, and every difference by the first road."""
    assert difference(Book(plant.documents).balances(), plant.book.balances()) == {}


@SLOW
@given(months())
def test_both_roads_to_gross_loss_meet(plant: Plant) -> None:
    """Road 1 by the slow book, at the giver's figure; road 2 all postings to the difference but write-offs."""
    book = Book(plant.documents)
    for area in AREAS:
        postings = [amount for origin, amount in book.origins(area).items() if origin != "write-off"]
        assert tuple(map(sum, zip(ZERO, *postings, strict=True))) == plant.book.gross_loss(area)


@SLOW
@given(months())
def test_every_ticket_sums_to_zero_in_each_period_and_metal(plant: Plant) -> None:
    book = Book(plant.documents)
    assert sums(book, "SELECT 1 FROM posting GROUP BY ticket, period, metal HAVING sum(ng) <> 0") == []


@SLOW
@given(months())
def test_the_metal_position_holds(plant: Plant) -> None:
    """Places + transit + dust = own + owed − owed to us − differences − losses − give-away − retained."""
    balances = Book(plant.documents).balances()
    held, answered = [0, 0, 0], [0, 0, 0]
    for account, amount in balances.items():
        side = held if account.split()[0] in ("place", "transit", "dust") else answered
        for i, ng in enumerate(amount):
            side[i] += ng
    assert held == [-ng for ng in answered]


@SLOW
@given(months())
def test_standing_stock_is_the_sum_of_place_postings(plant: Plant) -> None:
    book = Book(plant.documents)
    standing = sums(book, "SELECT 'place ' || area || ' ' || number, amounts FROM standing JOIN lot ON lot.id = lot")
    stands = {key: tuple(map(int, text.strip("[]").split(","))) for key, text in standing}
    posted = {key: amount for key, amount in book.balances().items() if key.startswith("place")}
    assert {key: amount for key, amount in stands.items() if any(amount)} == posted


@SLOW
@given(months())
def test_an_emptied_lot_stands_at_exactly_zero(plant: Plant) -> None:
    """After each ticket that says `all`, nothing of any metal is recorded of the lot where it was taken from."""
    book = Book()
    for document in plant.documents:
        book.enter(document)
        area = document.get("from", document.get("area"))
        made = {line.get("lot", line.get("bin")) for line in document.get("out", [])}
        for line in [*document.get("lots", []), *document.get("in", [])]:
            name = line.get("lot", line.get("bin"))
            if line.get("all") and name not in made:
                assert book.at(f"place {area} {name}") == ZERO


@SLOW
@given(months())
def test_the_same_tickets_again_are_the_same_tickets(plant: Plant) -> None:
    book = Book(plant.documents)
    before = book.tables()
    assert book.enter(*plant.documents) == [None] * len(plant.documents)
    assert book.tables() == before


def areas_of(document: Document) -> set[str]:
    return {document[key] for key in ("from", "to", "area") if key in document}


def lots_of(document: Document) -> set[str]:
    lines = [line for side in ("lots", "in", "out") for line in document.get(side, [])]
    return {line.get("lot") or line["bin"] for line in lines} | {document.get("lot", "")} - {""}


def places_of(book: Book, documents: list[Document]) -> list[set[str]]:
    """Return the areas each ticket touched, also where an assay found its lot, or a lot was found again."""
    seqs = {d["ticket"]: areas_of(d) for d in documents}
    for ticket, area in sums(book, "SELECT number, area FROM posting JOIN ticket ON seq = ticket WHERE area <> ''"):
        seqs[ticket] = seqs[ticket] | {area}
    return [seqs[d["ticket"]] for d in documents]


@SLOW
@given(months(most=10), st.data())
def test_order_of_tickets_with_nothing_in_common_changes_no_balance(plant: Plant, data: st.DataObject) -> None:
    documents = list(plant.documents)
    book = Book(documents)
    areas = dict(zip((d["ticket"] for d in documents), places_of(book, documents), strict=True))
    # An assay that finds nothing on hand has no line.
    handled = "SELECT ticket, lot FROM line UNION SELECT ticket, lot FROM valuation"
    lots = dict(
        sums(book, f"SELECT number, group_concat(DISTINCT lot) FROM ({handled}) JOIN ticket ON seq = ticket GROUP BY 1")
    )
    swapped = 0
    for _ in range(20):
        i = data.draw(st.integers(0, len(documents) - 2))
        a, b = documents[i]["ticket"], documents[i + 1]["ticket"]
        together = set(lots.get(a, "").split(",")) & set(lots.get(b, "").split(",")) - {""}
        if not (areas[a] & areas[b] or together or lots_of(documents[i]) & lots_of(documents[i + 1])):
            documents[i], documents[i + 1] = documents[i + 1], documents[i]
            swapped += 1
    assume(swapped)
    assert difference(Book(documents).balances(), book.balances()) == {}


@SLOW
@given(months(most=8), st.data())
def test_a_refused_ticket_leaves_the_book_as_it_was(plant: Plant, data: st.DataObject) -> None:
    """Tickets spoiled in one place: a lot, area, mass or person that cannot be, a date before later ones."""
    book = Book(plant.documents)
    document = dict(data.draw(st.sampled_from(plant.documents))) | {"ticket": "T-9999"}
    spoil = data.draw(st.sampled_from(["area", "by", "date", "more", "lot", "number"]))
    sides = [side for side in ("lots", "in") if document.get(side)]
    if spoil == "area":
        document |= {key: "NOWHERE" for key in ("from", "to", "area") if key in document}
    elif spoil == "by":
        document["by"] = "NOBODY"
    elif spoil == "date":
        document["at"] = "2026-09-01T00:00"
    elif spoil == "number":
        document["ticket"] = plant.documents[0]["ticket"]
        document["note"] = "another"
    else:
        change = {"mass": "999999.5 g"} if spoil == "more" else {"lot": "NO-SUCH"}
        for side in sides:
            lines = [{k: v for k, v in line.items() if k not in ("all", "bin")} for line in document[side]]
            document[side] = [*document[side], *(line | change for line in lines)]
    before = book.tables()
    try:
        book.enter(document)
    except Refused:
        assert book.tables() == before
    else:
        assert book.tables() != before


# ------------------------------------------------------------------------------------- reversals and corrections


@settings(SLOW, max_examples=150)
@given(months(most=10), st.data())
def test_reversal_and_identical_entry_bring_everything_back_to_the_nanogram(plant: Plant, data: st.DataObject) -> None:
    book = Book(plant.documents)
    before = book.balances()
    document = data.draw(st.sampled_from(plant.documents))
    of = int(document["ticket"].removeprefix("T-"))
    book.enter(reversal(9001, of), again(document, 9002))
    assert difference(book.balances(), before) == {}
    assert book.missed() == Book(plant.documents).missed()


CORRECTED = ("receive", "move", "work", "assay", "sweep")


def outside(balances: dict[str, Amount]) -> dict[str, Amount]:
    """Put own, parties and give-away together: what a correction finds of metal that has left is set against own."""
    merged: dict[str, Amount] = {}
    for account, amount in balances.items():
        key = account if account.split()[0] in ("place", "difference", "dust", "loss") else "outside"
        merged[key] = tuple(map(sum, zip(merged.get(key, ZERO), amount, strict=True)))
    return merged


def other_reading(data: st.DataObject, document: Document) -> Document:
    """Return the ticket with one reading, or one determination, as it should have been."""
    changed = dict(document)
    if document["kind"] == "assay":
        by = data.draw(st.integers(-50, 50))
        gold = tenths(document["results"]["gold"][0][0]) + by
        assume(0 <= gold <= 9000)
        return changed | {"results": document["results"] | {"gold": [[f"{gold // 10}.{gold % 10}‰"]]}}
    side = data.draw(st.sampled_from([s for s in ("lots", "in", "out") if document.get(s)]))
    at = data.draw(st.integers(0, len(document[side]) - 1))
    line = dict(document[side][at])
    if "fineness" in line and data.draw(st.booleans()):
        gold = tenths(line["fineness"]["gold"]) + data.draw(st.integers(-200, 200))
        assume(0 <= gold <= 9000)
        line["fineness"] = line["fineness"] | {"gold": f"{gold // 10}.{gold % 10}‰"}
    else:
        name = "received_mass" if "received_mass" in line else "metallic" if "metallic" in line else "mass"
        assume(name in line)
        mass = round(float(line[name].removesuffix(" g")) * 10_000) + data.draw(st.integers(-300, 300))
        assume(mass > 0)
        line[name] = f"{mass // 10_000}.{mass % 10_000:04d} g"
    lines = list(document[side])
    lines[at] = line
    return changed | {side: lines}


#: Fine contents are rounded once for each line; a correction rounds again, for each lot it re-values.
A_FEW_NG = 30


@pytest.mark.parametrize("kind", CORRECTED)
@settings(SLOW, max_examples=80)
@given(st.data())
def test_a_wrong_ticket_corrected_leaves_the_book_that_was_right_at_first(kind: str, data: st.DataObject) -> None:
    """One ticket is keyed wrong, later tickets follow, it is reversed and corrected (once wrongly again, or not)."""
    plant: Plant = data.draw(months(weighed=True, most=10))
    documents = plant.documents
    places = [i for i, document in enumerate(documents) if document["kind"] == kind]
    assume(places)
    i = data.draw(st.sampled_from(places))
    j = data.draw(st.integers(i + 1, len(documents)))
    right, number = documents[i], int(documents[i]["ticket"].removeprefix("T-"))
    mend = [reversal(9001, number), again(right, 9002)]
    if data.draw(st.booleans()):
        wrong = again(other_reading(data, right), 9002)
        mend = [reversal(9001, number), wrong, reversal(9003, 9002), again(wrong, 9004) | said(right)]
    wrong = other_reading(data, right)
    try:
        book = Book([*documents[:i], wrong, *documents[i + 1 : j], *mend, *documents[j:]])
    except Refused:
        assume(False)
    apart = difference(outside(book.balances()), outside(plant.book.balances()))
    assert {k: a for k, a in apart.items() if max(map(abs, a)) > A_FEW_NG} == {}
    assert all(a[0] == 0 for a in apart.values()), "gross is never rounded"


def said(document: Document) -> Document:
    """Return what a ticket says of metal: its lines and results."""
    return {key: document[key] for key in ("lots", "in", "out", "results") if key in document}
