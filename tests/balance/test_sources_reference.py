"""σ against `uncertainties` as reference library: the balance computed a second time, from the tickets, as variables.

A hundred random books of two months and eight areas; σ of every area, month and metal equal to 1e-9 relative.
"""

from __future__ import annotations

from typing import Any

import pytest
from uncertainties import UFloat, ufloat

from ledger.balance.months.month import Ledger
from tests.balance.invented_months import AREAS, MONTHS, Months
from tests.balance.plant_model import METALS, PLANT, Model, nominal
from tests.book.plants import Book


def sigmas(book: Book, metal: str) -> dict[tuple[str, str], tuple[float, float]]:
    """Return U and σ in grams, by area and month, as the program has them."""
    ledger = Ledger(book.connection, metal)
    of = {month: ledger.month(month) for month in MONTHS}
    return {
        (area, month): (of[month].columns(area).unexplained / 1e9, of[month].sigma(area).total / 1e9)
        for month in MONTHS
        for area in AREAS
    }


def reference(documents: list[dict[str, Any]]) -> dict[tuple[str, str], list[Any]]:
    draws: dict[Any, UFloat] = {}

    def draw(key: Any, sd: float) -> UFloat:
        if key not in draws:
            draws[key] = ufloat(0.0, sd)
        return draws[key]

    model = Model(draw)
    for document in documents:
        model.enter(document)
    return model.unexplained


@pytest.mark.parametrize("seed", range(100))
def test_sigma_is_that_of_the_reference_library(seed: int) -> None:
    documents = Months(seed, 24).documents
    book, expected = Book(documents, PLANT), reference(documents)
    for i, metal in enumerate(METALS):
        for key, (u, sigma) in sigmas(book, metal).items():
            variable = expected.get(key, [0.0] * 3)[i]
            assert u == pytest.approx(nominal(variable), abs=2e-7), (metal, key)
            assert sigma == pytest.approx(getattr(variable, "std_dev", 0.0), rel=1e-9, abs=1e-12), (metal, key)


