"""Evaluating what a sample found: figures by hand, and worksheets that are not of the sample."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from ledger.audit.bounds import attribute_upper_limit, confidence_factor
from ledger.audit.evaluation import evaluate_floor, evaluate_lots, evaluate_tickets
from ledger.audit.inquiry import Inquiry
from ledger.audit.sample import Plan, floor_document, lots_document, sample_lots, tickets_between, tickets_document
from ledger.refusals import FormRefused, WrongUsage
from tests.audit.conftest import asked
from tests.book.plants import Book, bought, lot, ticket

PLAN = Plan("seed", Fraction(5, 100), Fraction(20, 100), Fraction(0), 8)

FIXINGS = """
[[fixing]]
metal = "gold"
date = 2026-10-01
per = "g"
amount = "80"
"""


@pytest.fixture
def vault() -> Inquiry:
    """Gold 100, 50, 30, 10, 6 and 4 g, in all 200: with n = 8, J = 25 g, so that the first three are certain."""
    masses = (("A", "200.00"), ("B", "100.00"), ("C", "60.00"), ("D", "20.00"), ("E", "12.00"), ("F", "8.00"))
    return asked(Book([bought(1, "VAULT", *(lot(name, mass, gold="500", form="bar") for name, mass in masses),
                              lot("COPPER", "70.00", gold="0", form="bar"))]))  # fmt: skip


def filled(folder: Path, inquiry: Inquiry, plan: Plan, **found: str) -> Path:
    """Write the worksheet of a sample as found: everything as recorded, but for the masses given."""
    lines = ["area,lot,what,gross,fineness"]
    for item in lots_document(inquiry, plan, None, by_value=False)["items"]:
        gross, _, fineness = found.get(item["lot"], f"{item['gross']} g").partition("@")
        lines.append(f"{item['area']},{item['lot']},bar,{gross},{fineness}")
    path = folder / "found.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_large_lots_are_certain_and_the_interval_is_the_whole_over_n(vault: Inquiry) -> None:
    document = lots_document(vault, PLAN, None, by_value=False)
    assert document["interval"] == "25.000000000"
    assert [i["lot"] for i in document["items"] if i["why"] == "certain"] == ["A", "B", "C"]
    assert document["without_units"] == 1
    assert sum(i["hits"] for i in document["items"]) in (0, 1)  # 20 g are left to chance, one unit in 25 g


def test_a_clean_sample_leaves_the_poisson_factor_of_none(vault: Inquiry, tmp_path: Path) -> None:
    document = evaluate_lots(vault, PLAN, None, filled(tmp_path, vault, PLAN), by_value=False)
    assert document["missing"] == {"known": 0.0, "projected": 0.0,
                                   "upper": pytest.approx(25 * confidence_factor(0.05, 0), abs=1e-5)}  # fmt: skip
    assert document["holds"] is False  # 74.9 g against a tolerable 40 g: eight are too few
    assert document["tolerable"] == 40.0


def test_what_is_missing_of_a_certain_lot_is_known_and_never_set_off(vault: Inquiry, tmp_path: Path) -> None:
    """A weighs 10 g less: 5 g of gold missing. B was assayed at 510 ‰: 1 g more. Neither answers for the other."""
    path = filled(tmp_path, vault, PLAN, A="190.00 g", B="100.00 g@510‰")
    document = evaluate_lots(vault, PLAN, None, path, by_value=False)
    assert (document["missing"]["known"], document["over"]["known"]) == (5.0, 1.0)
    rows = {row["lot"]: row for row in document["items"]}
    assert (rows["A"]["difference"], rows["A"]["taint"], rows["A"]["assayed"]) == ("5.000000000", 0.05, False)
    assert (rows["B"]["difference"], rows["B"]["assayed"]) == ("-1.000000000", True)


def test_a_lot_that_is_not_there_has_a_taint_of_one(vault: Inquiry, tmp_path: Path) -> None:
    """Whatever was hit: one error of taint 1 projects to J, and bounds at J × the factor of one error."""
    plan = next(p for p in (replace(PLAN, seed=str(n)) for n in range(99)) if sample_lots(vault, p, None,
                by_value=False).drawn.hit)  # fmt: skip
    hit = next(i["lot"] for i in lots_document(vault, plan, None, by_value=False)["items"] if i["why"] == "hit")
    document = evaluate_lots(vault, plan, None, filled(tmp_path, vault, plan, **{hit: "0 g"}), by_value=False)
    assert document["missing"]["projected"] == 25.0
    assert document["missing"]["upper"] == pytest.approx(25 * confidence_factor(0.05, 1), abs=1e-5)
    assert document["over"]["upper"] == pytest.approx(25 * confidence_factor(0.05, 0), abs=1e-5)


def test_units_of_value(tmp_path: Path) -> None:
    from tests.book.plants import PLANT

    book = Book([bought(1, "VAULT", lot("A", "200.00", gold="500", form="bar"))], PLANT + FIXINGS)
    document = lots_document(asked(book), PLAN, None, by_value=True)
    assert document["population"]["units"] == "8000.00"  # 100 g at 80
    with pytest.raises(WrongUsage, match="has no price"):
        lots_document(asked(Book([bought(1, "VAULT", lot("A", "2.00", gold="500"))])), PLAN, None, by_value=True)


def test_a_metal_without_units_gives_an_empty_sample(vault: Inquiry) -> None:
    document = lots_document(replace(vault, metal="silver"), PLAN, None, by_value=False)
    assert document["items"] == []


@pytest.mark.parametrize(("change", "words"), [
    (lambda text: text.replace("VAULT,B,bar", "VAULT,Z,bar"), "VAULT Z is not of this sample"),
    (lambda text: "\n".join(text.splitlines()[:-1]) + "\n", "drawn and not in the file"),
    (lambda text: text + text.splitlines()[1] + "\n", "is there twice"),
    (lambda text: text.replace("gross", "mass"), "no column gross"),
    (lambda text: text.replace("100.000000000 g", "100"), "is not a mass"),
    (lambda text: text.replace("100.000000000 g,", "100.0 g,much"), "is not a fineness"),
])  # fmt: skip
def test_a_worksheet_that_is_not_of_the_sample_is_refused(
    vault: Inquiry, tmp_path: Path, change: object, words: str
) -> None:
    path = filled(tmp_path, vault, PLAN)
    path.write_text(change(path.read_text(encoding="utf-8")), encoding="utf-8")  # type: ignore[operator]
    with pytest.raises(FormRefused, match=words):
        evaluate_lots(vault, PLAN, None, path, by_value=False)


def test_tickets(tmp_path: Path) -> None:
    book = Book([bought(n, "VAULT", lot(f"L{n}", "1.00", gold="500", form="bar")) for n in range(1, 41)])
    inquiry, plan = asked(book), replace(PLAN, size=25)
    span = inquiry.span(None)
    numbers = tickets_between(inquiry, span, "receive")
    drawn = [row["ticket"] for row in tickets_document(inquiry, plan, span, "receive")["items"]]
    assert (len(numbers), len(drawn), len(set(drawn))) == (40, 25, 25)
    path = tmp_path / "t.csv"
    path.write_text("ticket,deviation,remark\n" + "".join(
        f"{number},{'yes' if i == 3 else 'no'},{'no slip' if i == 3 else ''}\n" for i, number in enumerate(drawn)),
        encoding="utf-8")  # fmt: skip
    document = evaluate_tickets(inquiry, plan, numbers, path)
    assert (document["n"], document["deviations"], document["rate"]) == (25, 1, 0.04)
    assert document["upper"] == pytest.approx(attribute_upper_limit(25, 1, 0.05), abs=1e-9)
    path.write_text(path.read_text(encoding="utf-8").replace(",yes,", ",perhaps,"), encoding="utf-8")
    with pytest.raises(FormRefused, match="neither yes nor no"):
        evaluate_tickets(inquiry, plan, numbers, path)


def test_from_the_floor_to_the_record(tmp_path: Path) -> None:
    book = Book((bought(1, "VAULT", lot("A", "200.00", gold="500", form="bar")),
                 bought(2, "MELT", lot("B", "100.00", gold="500", form="bar")),
                 ticket(3, "move", from_="VAULT", to="ROLL", lots=[lot("A", "50.00")])))  # fmt: skip
    inquiry = asked(book)
    assert {spot["area"] for spot in floor_document(inquiry, PLAN)["items"]} <= {"VAULT", "MELT", "ROLL", "FINISH"}
    path = tmp_path / "floor.csv"
    path.write_text("pick,area,along,lot,gross,scale\n1,VAULT,.1,A,150.00 g,S1\n2,ROLL,.2,B,100.00 g,S1\n"
                    "3,MELT,.3,B,90.00 g,S1\n4,ROLL,.4,X,1.00 g,\n", encoding="utf-8")  # fmt: skip
    document = evaluate_floor(inquiry, PLAN, None, path)
    assert [row["deviation"] for row in document["items"]] == [
        None, "recorded in MELT", "weighs otherwise", "not in the record"]  # fmt: skip
    assert (document["n"], document["deviations"]) == (4, 3)
