"""[[fixing]]: a price."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from tests.plant.example import SMALLEST, fields, full, smallest


def fixing(day: str, amount: str) -> str:
    return f'[[fixing]]\nmetal = "gold"\ndate = {day}\nper = "ozt"\namount = {amount}\n'


def test_a_price_is_exact_per_nanogram() -> None:
    (price,) = full().fixing
    # a troy ounce is 31.103 476 8 g exactly (NIST Handbook 44, Appendix C)
    assert price.per_ng == Fraction("4012.55") / 31_103_476_800
    assert (price.date, price.source) == (date(2026, 10, 1), "invented")


def test_the_price_that_holds_is_the_latest_on_or_before_the_day() -> None:
    setup = smallest(fixing("2026-10-03", "30") + fixing("2026-10-01", "10") + fixing("2026-10-02", '"20.5"'))
    held = [setup.price("gold", date(2026, 10, day)) for day in (1, 2, 3, 31)]
    assert [price.amount if price else None for price in held] == [10, Fraction("20.5"), 30, 30]
    assert setup.price("gold", date(2026, 9, 30)) is None
    assert setup.price("silver", date(2026, 10, 3)) is None


@pytest.mark.parametrize("key", ["metal", "date", "per", "amount"])
def test_metal_date_per_and_amount_are_required(key: str) -> None:
    lines = [line for line in fixing("2026-10-01", "10").splitlines() if not line.startswith(key)]
    assert fields(SMALLEST + "\n".join(lines)) == [f"fixing[1].{key}"]


@pytest.mark.parametrize(("old", "new"), [("10\n", "0\n"), ('"ozt"', '"oz"'), ('"ozt"', "31"), ('"gold"', '"silver"')])
def test_a_price_of_nothing_in_no_unit_or_of_a_metal_not_booked_is_refused(old: str, new: str) -> None:
    assert len(fields(SMALLEST + fixing("2026-10-01", "10").replace(old, new))) == 1
