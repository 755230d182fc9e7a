"""A lot of sweeps: dry mass, screened metallics, σ beside `uncertainties`, the wet × dry trap, the ticket's line.

Figures are invented; drying, screening and sampling twice are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from ledger.bench.sweeps import SweepsLot, for_a_ticket, sweeps_lot
from ledger.bench.sweeps_template import TEMPLATE
from ledger.bench.sweeps_terms import lot_from
from ledger.plant.toml_file import parse_change
from ledger.refusals import FormRefused
from tests.book.plants import Book, number, ticket

G = 10**9


def lot(assay: Any, **fields: Any) -> dict[str, Any]:
    return {"lot": "S", "wet": "1000.0 g", "part": [{"assay": {"gold": assay}}]} | fields


def worked(document: dict[str, Any]) -> SweepsLot:
    return sweeps_lot(lot_from(document))


def test_wet_mass_times_the_assay_of_the_dry_counts_water_as_gold() -> None:
    """1000 g with 20 % of water at 25 ‰ of the dry: 20 g, not 25."""
    found = worked(lot([["25‰"], ["25‰"]], moisture="20%"))
    assert (found.dry, found.metals[0].content, found.metals[0].trap) == (800 * G, 20 * G, 25 * G)
    assert any("water would count as gold" in step.text and step.value == "5.0000 g too much"
               for step in found.working.steps)  # fmt: skip


def test_moisture_by_dishes() -> None:
    """5 of 50 g and 6 of 50 g: 11 %, s = 1.414 %, its σ 1 %."""
    found = worked(lot([["25‰"]], dishes=[["50.0 g", "45.0 g"], ["50.0 g", "44.0 g"]]))
    assert found.moisture.share == Fraction(11, 100)
    assert found.moisture.sigma == pytest.approx(0.01)
    assert not found.moisture.assumed


def test_metallics_screened_out_count_by_their_mass() -> None:
    """480 g at 10 ‰ and 20 g at 400 ‰: 0.96 × 10 + 0.04 × 400 = 25.6 ‰; a sample of the fine alone says 10."""
    parts = [{"name": "fine", "mass": "480.0 g", "assay": {"gold": "10‰"}},
             {"name": "metallics", "mass": "20.0 g", "assay": {"gold": "400‰"}}]  # fmt: skip
    assert worked(lot(None, part=parts)).metals[0].fineness == Fraction(256, 10_000)


def test_sigma_beside_uncertainties() -> None:
    """Reference library: uncertainties. Scatter of two samples in each part over √2; mass, moisture, bias."""
    document = parse_change(TEMPLATE)
    found = worked(document)
    fine = ufloat(0.009675, abs(0.00985 - 0.0095) / 2)
    metallics = ufloat(0.315, 0.01 / 2)
    dishes = [1 - 47.95 / 52.10, 1 - 45.85 / 49.80]
    water = ufloat(sum(dishes) / 2, abs(dishes[0] - dishes[1]) / 2)
    wet = ufloat(18_400, (5**2 + 10**2 / 12 + (5e-5 * 18_400) ** 2) ** 0.5)  # d 10 g, repeatability d/2, 0.005 %
    content = wet * (1 - water) * (0.96 * fine + 0.04 * metallics + ufloat(0, 0.0001))
    gold = found.metals[0]
    assert float(gold.content) / G == pytest.approx(content.nominal_value)
    assert gold.sigma is not None
    assert gold.sigma / G == pytest.approx(content.std_dev, rel=1e-9)


def test_replicates_of_one_sample_say_nothing_of_the_lot() -> None:
    found = worked(lot([["25.0‰", "25.1‰", "25.2‰"]]))
    assert found.metals[0].sigma is None
    assert "take a second" in found.remarks[0]
    assert "sd" not in for_a_ticket(found)
    assert worked(lot([["25.0‰"]], sampling="1‰")).metals[0].sigma == pytest.approx(G)


@pytest.mark.parametrize(
    ("document", "field", "words"),
    [
        (lot("25‰", part=[]), "part", "nothing was assayed"),
        (lot("25‰", moisture="8%", dishes=[["5.0 g", "4.0 g"]]), "moisture", "twice"),
        (lot("25‰", dishes=[["4.0 g", "5.0 g"]]), "dishes", "more dry"),
        (lot("25‰", part=[{"assay": {"gold": "1‰"}}] * 2), "part[1].mass", "not weighed"),
        (lot("25‰", wet="1 oz"), "wet", "ambiguous"),
        (lot("25"), "part[1].assay", "bare number"),
        (lot("25‰", part=[{"mass": "1.0 g", "assay": {"gold": "1‰"}}, {"mass": "1.0 g", "assay": {"silver": "1‰"}}]),
         "part[2].assay", "same metals"),
    ],
)  # fmt: skip
def test_refused_in_words_at_the_key(document: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(FormRefused) as refused:
        worked(document)
    assert [f for f in refused.value.faults if f.field == field and words in f.what], str(refused.value)


def test_the_line_enters() -> None:
    """A sweep of 3 kg of FINISH's dust, by the line as printed: the book has the content and reads the sd."""
    document = lot(None, wet="3.0 kg", moisture="8.0%",
                   part=[{"assay": {"gold": [["25‰"], ["26‰"]], "silver": [["8‰"], ["9‰"]]}}])  # fmt: skip
    line = for_a_ticket(worked(document))
    assert line["sd"] == "0.52‰"  # sampling 0.5 ‰; moisture, 0.5 points of 92 % assumed, 0.1386 ‰: together 0.5188
    book = Book([
        ticket(1, "open", area="FINISH", dust={"gold": "90.0 g", "silver": "30.0 g"}),
        ticket(2, "sweep", area="FINISH", lots=[line]),
    ])  # fmt: skip
    assert book.posted(2)["place FINISH S"] == (2_760 * G, 70_380_000_000, 23_460_000_000)
    assert book.connection.execute("SELECT count(*) FROM ticket WHERE number = ?", (number(2),)).fetchone() == (1,)


@given(st.integers(1, 10**9), st.integers(0, 99), st.integers(0, 1000))
def test_dry_content_is_never_above_the_trap(mass_mg: int, water: int, assay: int) -> None:
    found = worked(lot([[f"{assay}.0‰"]], wet=f"{mass_mg}.0 mg", moisture=f"{water}.0%"))
    (gold,) = found.metals
    assert 0 <= gold.content <= gold.trap
    assert gold.content == found.dry * Fraction(assay, 1000)
