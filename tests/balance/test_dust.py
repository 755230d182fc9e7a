"""Dust truth: σ of H by hand from its sources, what a clean-out and a true-up do to it, and the book's own postings.

The figures are worked out beside each check from the rules of docs/methods.md (own regression); that z of a clean-out
is standard normal on faultless books is in test_faultless.py.
"""

from __future__ import annotations

from math import hypot
from pathlib import Path
from typing import Any

import pytest

from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.forms import Source, Tape
from ledger.balance.measurement.propagation import propagate
from ledger.balance.months.statement import reconcile
from ledger.book.setups import Setups
from ledger.book.store import reading
from tests.book.plants import Book, Document, bought, lot, ticket

#: Readings good to a milligram, no shared error: beside the sources below they are nothing.
PLANT = """\
[plant]
name = "Invented Dust Works"
metals = ["gold"]
timezone = "UTC"
[[area]]
code = "ROLL"
trivial = "0.1 g"
[[area]]
code = "VAULT"
[[operation]]
code = "roll"
composition = "carries"
loss = {gold = "0.10%"}
spread = {gold = "0.02%"}
drift = {gold = "0.01%"}
recoverable = "60%"
recoverable_spread = "6%"
[[scale]]
code = "S"
division = "0.001 g"
sensitivity = "0%"
[[method]]
code = "FIRE"
kind = "fire"
repeatability = "3‰"
sampling = "4‰"
bias = "0‰"
[[party]]
code = "SUP"
role = "supplier"
[[person]]
code = "W"
may = ["weigh", "witness", "count", "accept"]
"""

TAKEN_ON = 10.0  # g of gold in the benches, by a survey: ± 20 %
SURVEY = 0.20 * TAKEN_ON
#: One heat: 10,000 g at 500 ‰, E = 5 g of gold, of which 60 % become dust.
ACCRUED, OF_Q, SPREAD, DRIFT = 3.0, 5 * 0.06, 5000 * 0.0002 * 0.6, 5000 * 0.0001 * 0.6


def line(name: str, mass: str, *, gold: str | None = None, **fields: Any) -> Document:
    """Return a line on the scale; ``gold`` in per mille."""
    stated = {} if gold is None else {"fineness": {"gold": f"{gold}‰"}}
    return lot(name, mass, scale="S", **stated, **fields)


def begun() -> list[Document]:
    return [
        ticket(1, "open", area="ROLL", dust={"gold": "10.0 g"}),
        ticket(2, "count", area="ROLL", lots=[], nil=True),
    ]


def rolled(n: int) -> list[Document]:
    """Return the n-th heat bought and rolled: what is lost shows in E's own size."""
    exact = {"gold": "500", "basis": "measured", "sd": "0.0001‰"}
    return [
        bought(10 * n, "ROLL", line(f"A{n}", "10000.000", **exact)),
        ticket(10 * n + 1, "work", operation="roll", area="ROLL", in_=[line(f"A{n}", "10000.000", all=True)],
               out=[line(f"B{n}", "9990.000")]),
    ]  # fmt: skip


def swept(n: int, mass: str, gold: str, **fields: Any) -> Document:
    return ticket(n, "sweep", area="ROLL", lots=[line(f"W{n}", mass, gold=gold, basis="estimated")], **fields)


def dust(*documents: Document, period: str = "2026-10") -> Document:
    found: Document = roll(Book(documents, PLANT), period)["dust"]
    return found


def roll(book: Book, period: str = "2026-10") -> Document:
    area: Document = reconcile(book.connection, period)["areas"][0]
    return area


def test_survey_is_an_estimate() -> None:
    found = dust(*begun())
    assert found["sigma"] == pytest.approx(2.0)
    assert (found["z"], found["cleaned_out"], found["verdict"]) == (None, False, None)


def test_losses_and_the_recoverable_share() -> None:
    found = dust(*begun(), *rolled(1))
    assert found["closing"] == "13.000000000"
    assert found["sigma"] == pytest.approx(hypot(SURVEY, OF_Q, SPREAD, DRIFT), rel=1e-5)


def test_the_share_is_one_number_of_the_operation_and_drift_of_the_month() -> None:
    found = dust(*begun(), *rolled(1), *rolled(2))
    assert found["sigma"] == pytest.approx(hypot(SURVEY, 2 * OF_Q, SPREAD, SPREAD, 2 * DRIFT), rel=1e-5)


def test_next_month_drifts_by_itself_but_recovers_by_the_same_share() -> None:
    found = dust(*begun(), *rolled(1), *rolled(80), period="2026-11")
    assert found["sigma"] == pytest.approx(hypot(SURVEY, 2 * OF_Q, SPREAD, SPREAD, DRIFT, DRIFT), rel=1e-5)


def test_an_estimated_sweep_adds_its_error_and_an_assay_takes_it_away() -> None:
    estimated = dust(*begun(), swept(30, "20.000", "300"))
    assert estimated["closing"] == "4.000000000"
    assert estimated["sigma"] == pytest.approx(hypot(SURVEY, 0.20 * 6), rel=1e-5)
    assay = ticket(40, "assay", lot="W30", method="FIRE", results={"gold": [["280‰"]]})
    trued_up = dust(*begun(), swept(30, "20.000", "300"), assay)
    assert trued_up["trued_up"] == "0.400000000"
    assert trued_up["sigma"] == pytest.approx(hypot(SURVEY, 20 * 0.005), rel=1e-4)  # √(3² + 4²) ‰ of 20 g


def test_a_clean_out_is_tested() -> None:
    short = Book([*begun(), *rolled(1), swept(30, "10.000", "400", cleaned_out=True)], PLANT)
    found = roll(short)
    sigma = hypot(SURVEY, OF_Q, SPREAD, DRIFT, 0.20 * 4)
    assert found["dust"]["shortfall"] == "9.000000000"
    assert found["dust"]["sigma"] == pytest.approx(sigma, rel=1e-5)
    assert found["dust"]["z"] == pytest.approx(9 / sigma, rel=1e-5)
    assert found["dust"]["verdict"] == "short"
    reason = next(r for r in found["reasons"] if r.startswith("dust that was accrued and never came: 9.000 g"))
    assert f"{9 / sigma:.1f} σ, beyond the action level; most of σ: estimates" in reason


def test_more_dust_than_was_accrued_is_as_wrong() -> None:
    found = roll(Book([*begun(), *rolled(1), swept(30, "60.000", "400", cleaned_out=True)], PLANT))
    assert (found["dust"]["shortfall"], found["dust"]["verdict"]) == ("-11.000000000", "look")
    assert any(r.startswith("more dust came than was accrued: 11.000 g") for r in found["reasons"])


def test_below_the_trivial_mass_nothing_is_said() -> None:
    """0.09 g of a survey of 0.45 g that was all the dust: 1 σ is 0.09 g, and a sweep by assay has next to none."""
    opened = ticket(1, "open", area="ROLL", dust={"gold": "0.45 g"})
    exact = {"gold": "500", "basis": "measured", "sd": "0.1‰"}
    sweep = ticket(30, "sweep", area="ROLL", lots=[line("W", "0.100", **exact)], cleaned_out=True)
    found = roll(Book([opened, begun()[1], sweep], PLANT))
    assert found["dust"]["verdict"] == "short"
    assert any("never came: 0.400 g" in r for r in found["reasons"])
    almost = ticket(30, "sweep", area="ROLL", lots=[line("W", "0.720", **exact)], cleaned_out=True)
    assert roll(Book([opened, begun()[1], almost], PLANT))["dust"]["shortfall"] == "0.090000000"
    assert not any("never came" in r for r in roll(Book([opened, begun()[1], almost], PLANT))["reasons"])


def test_a_clean_out_begins_anew_and_what_came_later_stays() -> None:
    after = dust(*begun(), swept(30, "20.000", "400", cleaned_out=True), *rolled(4), period="2026-10")
    assert (after["shortfall"], after["closing"]) == ("2.000000000", "3.000000000")
    assert after["sigma"] == pytest.approx(hypot(SURVEY, 0.20 * 8), rel=1e-5)  # of the shortfall
    later = dust(*begun(), swept(30, "20.000", "400", cleaned_out=True), *rolled(4), *rolled(80), period="2026-11")
    assert later["closing"] == "6.000000000"
    assert later["sigma"] == pytest.approx(hypot(2 * OF_Q, SPREAD, SPREAD, DRIFT, DRIFT), rel=1e-5)


def test_a_late_assay_of_a_sweep_before_the_clean_out_is_in_the_next_one() -> None:
    """The estimate's error, ± 1.6 g, went into the shortfall; the true-up brings it back into H."""
    assay = ticket(800, "assay", lot="W30", method="FIRE", results={"gold": [["300‰"]]})
    found = dust(*begun(), swept(30, "20.000", "400", cleaned_out=True), assay, period="2026-11")
    assert found["closing"] == "2.000000000"
    assert found["sigma"] == pytest.approx(hypot(1.6, 20 * 0.005), rel=1e-4)


def test_a_job_accrues_with_what_comes_out() -> None:
    """Half of a job's content out: half of its dust, with half of each source."""
    job = bought(10, "ROLL", line("A", "10000.000", gold="500", basis="measured", sd="0.0001‰"))
    into = ticket(11, "work", operation="roll", area="ROLL", job="J", in_=[line("A", "10000.000", all=True)])
    half = ticket(12, "work", operation="roll", area="ROLL", job="J", out=[line("B", "5000.000")])
    found = dust(*begun(), job, into, half)
    assert found["accrued"] == "1.500000000"
    assert found["sigma"] == pytest.approx(hypot(SURVEY, OF_Q / 2, SPREAD / 2, DRIFT / 2), rel=1e-5)
    rest = ticket(13, "work", operation="roll", area="ROLL", job="J", out=[line("C", "4990.000")], done=True)
    found = dust(*begun(), job, into, half, rest)
    assert found["accrued"] == "3.000000000"
    assert found["sigma"] == pytest.approx(hypot(SURVEY, OF_Q, SPREAD, DRIFT), rel=1e-5)


def test_fixed_loss_makes_dust_too() -> None:
    """`each` of 2 g on every ticket: 1.2 g of dust, as uncertain by the share, without a spread of its own."""
    text = PLANT.replace('loss = {gold = "0.10%"}', 'loss = {gold = "0.10%"}\neach = {gold = "2 g"}')
    found = roll(Book([*begun(), *rolled(1)], text))["dust"]
    assert found["accrued"] == "4.200000000"
    assert found["sigma"] == pytest.approx(hypot(SURVEY, 7 * 0.06, SPREAD, DRIFT), rel=1e-5)


def test_plant_total_is_of_all_areas() -> None:
    book = Book([*begun(), *rolled(1)], PLANT)
    document = reconcile(book.connection, "2026-10")
    assert document["plant_total"]["dust"] == document["areas"][0]["dust"]


def test_the_budget_names_the_share() -> None:
    tape = Tape()
    (item,) = budget(tape, {tape.single(Source("recoverable", "roll", 1.0)): 0.3})
    assert item.words == "the recoverable share of roll"
    assert "clean-outs" in item.mend


def test_moves_are_the_books_postings(year_book: Path) -> None:
    """What the pass moves into and out of each area's dust in each period is what the book has posted there."""
    with reading(year_book) as connection:
        found = propagate(connection, Setups.read(connection), 2**62)
        rows = connection.execute(
            "SELECT area, period, metal, sum(ng), count(*) FROM posting WHERE class = 'dust' GROUP BY 1, 2, 3"
        ).fetchall()
    ours: dict[tuple[str, str, str], float] = {}
    for move in found.dust:
        for metal, ng in zip(found.metals, move.content.values, strict=True):
            ours[move.area, move.period, metal] = ours.get((move.area, move.period, metal), 0.0) + ng
    booked = {tuple(key): (ng, n) for *key, ng, n in rows}
    assert len(booked) > 100
    for key in ours.keys() | booked.keys():
        ng, n = booked.get(key, (0, 1))
        assert ours.get(key, 0.0) == pytest.approx(ng, abs=2 * (n + 1)), key
