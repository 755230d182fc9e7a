"""Each form of a value: what it stands for, and what is refused."""

from __future__ import annotations

from datetime import date, time
from fractions import Fraction
from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from ledger.plant import forms
from ledger.plant.forms import Tolerance

READ = [
    (forms.Name, "ÄÖ 12-b", "ÄÖ 12-b"),
    (forms.Name, "x" * 64, "x" * 64),
    (forms.Text, "x" * 500, "x" * 500),
    (forms.Number, 3, Fraction(3)),
    (forms.Number, "13.33", Fraction(1333, 100)),
    (forms.Share, "0.10%", Fraction(1, 1000)),
    (forms.Share, "0.3‰", Fraction(3, 10_000)),
    (forms.Fineness, "14K", Fraction(7, 12)),
    (forms.Fineness, "0", Fraction(0)),
    (forms.Mass, "0.01 g", 10_000_000),
    (forms.MassOrNone, "0 g", 0),
    (forms.ToleranceForm, "3 g", Tolerance(mass_ng=3_000_000_000)),
    (forms.ToleranceForm, "0 g", Tolerance(mass_ng=0)),
    (forms.ToleranceForm, "0.2%", Tolerance(share=Fraction(2, 1000))),
    (forms.ToleranceForm, "2‰", Tolerance(share=Fraction(2, 1000))),
    (forms.Mark, "1/20 12K", "1/20 12K"),
    (forms.Day, "2026-02-28", date(2026, 2, 28)),
    (forms.Day, "1900-01-01", date(1900, 1, 1)),
    (forms.Day, "2199-12-31", date(2199, 12, 31)),
    (forms.Clock, "06:30", time(6, 30)),
    (forms.Clock, "06:30:00", time(6, 30)),
    (forms.Days, "365 d", 365),
    (forms.Days, "90d", 90),
]

REFUSED = [
    (forms.Name, ["", " x", "x ", "x" * 65, "a\nb", "a\u200bb", 12, True, None, ["x"]]),
    (forms.Text, ["", "x" * 501, "a\tb", 1]),
    (forms.Number, [0, -1, "0", "0.0", "-1", "1e3", "NaN", "Infinity", "1,5", "", " 1", 1.5, True, None, "١"]),
    (forms.Share, ["0.10", "101%", "-1%", "1 per cent", "", 0.1, 1, "NaN%"]),
    (forms.Fineness, ["1/20 12K", "585.5.5", "200", "25K", 585, 0.585, "x"]),
    (forms.Mass, ["0 g", "3", "3 oz", "-1 g", 3, 3.0, "nan g"]),
    (forms.MassOrNone, ["-0.1 g", "0", 0]),
    (forms.ToleranceForm, ["0.2", "3", "3 oz", "-3 g", "200%", 3]),
    (forms.Mark, ["12K", "1/0 12K", "1/20", "1/20 1/2 12K", 20]),
    (forms.Day, ["2026-02-29", "1899-12-31", "2200-01-01", "20260228", "2026-2-8", "2026-02-28T00:00:00", 20260228]),
    (forms.Clock, ["24:00", "6:00", "06:60", "06:00:01", "06", 6, "0６:00"]),
    (forms.Days, ["0 d", "12 months", "365", "-1 d", "1.5 d", 365, "100000 d"]),
]


@pytest.mark.parametrize(("form", "written", "value"), READ)
def test_a_value_in_its_form_is_read_exactly(form: Any, written: object, value: object) -> None:
    assert TypeAdapter(form).validate_python(written) == value


@pytest.mark.parametrize(("form", "written"), [(form, written) for form, all_ in REFUSED for written in all_])
def test_a_value_not_in_its_form_is_refused_with_a_mend(form: Any, written: object) -> None:
    with pytest.raises(ValidationError) as refusal:
        TypeAdapter(form).validate_python(written)
    (error,) = refusal.value.errors()
    assert error["type"] == "form"
    assert error["ctx"]["mend"]


def test_a_tolerance_as_share_is_of_what_was_newly_received() -> None:
    assert Tolerance(share=Fraction(2, 1000)).limit_ng(5_000) == 10
    assert Tolerance(share=Fraction(1, 3)).limit_ng(100) == Fraction(100, 3)


def test_a_tolerance_as_mass_does_not_ask_what_was_received() -> None:
    assert Tolerance(mass_ng=7).limit_ng(5_000) == 7
    assert Tolerance(mass_ng=0).limit_ng(5_000) == 0


@given(st.decimals(min_value="0.001", max_value="1000000", places=3))
def test_a_number_keeps_every_digit(number: Any) -> None:
    assert forms.read_number(f"{number:f}") == Fraction(number)


def test_a_long_value_is_cut_in_a_message() -> None:
    assert forms.shown("x" * 1000) == "'" + "x" * 59 + "…"
    assert forms.shown(True) == "true"


def test_every_form_says_how_it_is_written() -> None:
    for form in (form for form, _ in REFUSED):
        assert isinstance(form, type(Annotated[int, 0]))
        assert any(isinstance(part, forms.Form) and part.written for part in form.__metadata__)
