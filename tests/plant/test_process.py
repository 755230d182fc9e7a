"""[[operation]] and [[rate]]: which rate is in force, and what is filled in."""

# mypy: disable-error-code="comparison-overlap"
# an int and a Fraction of the same value are equal, which mypy does not know inside a tuple
from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.plant.setup import Setup
from ledger.refusals import Impossible
from tests.plant.example import document, full


def share(text: str) -> Fraction:
    return Fraction(text) / 100


def with_rates(operation: dict[str, object], *rates: dict[str, object]) -> Setup:
    return Setup.from_document(
        document(
            operation=[{"code": "op", "composition": "carries", **operation}],
            rate=[{"operation": "op", **rate} for rate in rates],
            alloy=[{"code": "A", "gold": "12K"}],
            **{"class": [{"code": "C", "alloy": "A"}, {"code": "D"}]},
        )
    )


def test_stated_rates_are_in_force_as_stated() -> None:
    rates = full().rates_for("roll")
    assert rates.loss == {"gold": share("0.10"), "gross": share("0.2")}
    assert rates.each == {"gold": 20_000_000}
    assert (rates.spread["gold"], rates.drift["gold"]) == (share("0.04"), share("0.01"))
    assert (rates.recoverable, rates.recoverable_spread, rates.fume) == (share("60"), share("5"), share("0.3"))


def test_spread_is_half_the_loss_and_drift_a_quarter_of_the_spread_metal_by_metal() -> None:
    rates = full().rates_for("roll")
    assert rates.spread["gross"] == share("0.1")
    assert rates.drift["gross"] == share("0.025")


def test_a_stated_spread_gives_the_drift() -> None:
    rates = with_rates({"loss": {"gold": "1%"}, "spread": {"gold": "0.8%"}}).rates_for("op")
    assert (rates.spread["gold"], rates.drift["gold"]) == (share("0.8"), share("0.2"))


def test_a_loss_rate_is_never_assumed() -> None:
    rates = full().rates_for("melt")
    assert (rates.loss, rates.each, rates.spread, rates.drift) == ({}, {}, {}, {})
    assert (rates.recoverable, rates.recoverable_spread, rates.fume) == (0, 0, 0)


def test_a_stated_loss_of_nothing_is_a_stated_loss() -> None:
    assert with_rates({"loss": {"gold": "0%"}}).rates_for("op").loss == {"gold": 0}


def test_recoverable_spread_is_a_tenth_of_recoverable() -> None:
    assert with_rates({"recoverable": "60%"}).rates_for("op").recoverable_spread == share("6")


def test_a_rate_for_an_alloy_takes_the_place_of_the_operations_own_key_by_key() -> None:
    rates = full().rates_for("roll", alloy="12Y")
    assert rates.loss == {"gold": share("0.20"), "gross": share("0.2")}
    assert rates.spread["gold"] == share("0.04")
    assert rates.each == {"gold": 20_000_000}
    assert rates.recoverable == share("60")


def test_an_assumed_spread_follows_the_overriding_loss() -> None:
    rates = with_rates({"loss": {"gold": "1%"}}, {"alloy": "A", "loss": {"gold": "3%"}}).rates_for("op", alloy="A")
    assert (rates.spread["gold"], rates.drift["gold"]) == (share("1.5"), share("0.375"))


def test_a_class_goes_before_its_alloy_and_a_class_of_an_alloy_is_of_that_alloy() -> None:
    rates = full().rates_for("roll", class_="ENDS")
    assert (rates.loss["gold"], rates.recoverable) == (share("0.20"), share("80"))
    both = with_rates(
        {"loss": {"gold": "1%"}},
        {"class": "C", "loss": {"gold": "3%"}},
        {"alloy": "A", "loss": {"gold": "2%"}, "fume": "1%"},
    )
    assert both.rates_for("op", class_="C").loss["gold"] == share("3")
    assert both.rates_for("op", class_="C").fume == share("1")
    assert both.rates_for("op", class_="D").loss["gold"] == share("1")
    assert both.rates_for("op", alloy="A", class_="D").loss["gold"] == share("2")


def test_an_override_with_nothing_recoverable_means_nothing() -> None:
    setup = with_rates({"recoverable": "60%", "fume": "2%"}, {"class": "D", "recoverable": "0%", "fume": "0%"})
    rates = setup.rates_for("op", class_="D")
    assert (rates.recoverable, rates.recoverable_spread, rates.fume) == (0, 0, 0)
    assert setup.rates_for("op").recoverable == share("60")


def test_materials_that_nothing_is_stated_for_have_the_operations_own() -> None:
    setup = full()
    assert setup.rates_for("roll", alloy="BR", class_="SKEL") == setup.rates_for("roll")


def test_an_unknown_operation_has_no_rates() -> None:
    with pytest.raises(Impossible, match="no operation 'fly'"):
        full().rates_for("fly")
