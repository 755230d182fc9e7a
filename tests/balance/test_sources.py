"""Error sources one by one: what is shared, what is not, and how large each is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.forms import Source
from ledger.balance.months.month import Ledger, Month
from ledger.balance.months.statement import reconcile
from tests.book.plants import PLANT, Book, Document, bought, lot, ticket

S1 = {"scale": "S1"}


def october(documents: list[Document], metal: str = "gross", text: str = PLANT) -> Month:
    return Ledger(Book(documents, text).connection, metal).month("2026-10")


def variances(month: Month, area: str, keep: Callable[[Source], bool] = lambda s: True) -> dict[str, float]:
    """Return Σ c²·var in g² by kind of source."""
    sums: dict[str, float] = {}
    for reference, c in month.row(area).items():
        s = month.tape.source(reference)
        if keep(s):
            sums[s.kind] = sums.get(s.kind, 0.0) + c * c * s.variance / 1e18
    return sums


def moved_out(**line: object) -> list[Document]:
    return [
        bought(1, "VAULT", {"lot": "A", "fineness": {"gold": "500‰", "silver": "0‰"}, **S1, **line}),
        ticket(2, "move", from_="VAULT", to="MELT", lots=[lot("A", "300.00", all=True, **S1)]),
    ]


#: Variance of one reading on S1: (d/2)² + d²/12, d = 0.01 g.
ONE = 0.005**2 + 0.01**2 / 12


def test_a_net_by_difference_has_two_readings() -> None:
    assert variances(october(moved_out(mass="300.00 g")), "VAULT")["reading"] == pytest.approx(2 * ONE)
    by_difference = moved_out(gross="400.00 g", tare="100.00 g")
    assert variances(october(by_difference), "VAULT")["reading"] == pytest.approx(3 * ONE)


def test_a_registered_tare_is_one_source_for_all_who_use_it() -> None:
    inside = {"gross": "400.00 g", "container": "TOTE", **S1}
    twice = [
        bought(1, "VAULT", *({"lot": name, "fineness": {"gold": "500‰", "silver": "0‰"}, **inside} for name in "AB")),
        ticket(2, "move", from_="VAULT", to="MELT", lots=[lot(name, "300.00", all=True, **S1) for name in "AB"]),
    ]
    one, two = (variances(october(d), "VAULT")["tare"] for d in (moved_out(gross="400.00 g", container="TOTE"), twice))
    assert two == pytest.approx(4 * one)
    assert one == pytest.approx(ONE + (100 * 5e-5) ** 2)


def test_weighings_on_one_scale_share_its_error_until_it_is_calibrated_again() -> None:
    documents = moved_out(mass="300.00 g")
    same = variances(october(documents), "VAULT")
    assert same["sensitivity"] == pytest.approx(0.0, abs=1e-12)
    check = ticket(1, "checkweigh", scale="S1", standard="100.00 g", reading="100.00 g", calibrated=True)
    check |= {"ticket": "T-0009", "at": "2026-10-01T01:30"}
    anew = variances(october([documents[0], check, documents[1]]), "VAULT")
    assert anew["sensitivity"] == pytest.approx(2 * (300 * 5e-5) ** 2)


def test_moisture_is_a_source_of_the_wet_mass() -> None:
    documents = moved_out(mass="310.00 g", moisture="3.0%")
    assert variances(october(documents), "VAULT")["moisture"] == pytest.approx((310 * 0.005) ** 2)


def test_a_weighing_without_a_scale_is_as_on_the_poorest() -> None:
    documents = moved_out(mass="300.00 g")
    del documents[0]["lots"][0]["scale"]
    assert variances(october(documents), "VAULT")["reading"] == pytest.approx(2 * ONE)


# ------------------------------------------------------------------------------------------------- composition


def received(**composition: object) -> list[Document]:
    """A lot received and counted again short by a tenth: what its fineness is worth shows in the difference."""
    return [
        bought(1, "VAULT", {"lot": "A", "mass": "300.00 g", **S1, **composition}),
        ticket(2, "count", area="VAULT", lots=[lot("A", "270.00", **S1)], ended=False),
    ]


GOLD = {"gold": "500‰", "silver": "0‰"}


@pytest.mark.parametrize(
    ("composition", "kind", "sd"),
    [
        ({"fineness": GOLD}, "nominal", 1.7e-3),
        ({"fineness": GOLD, "sd": "0.4‰"}, "nominal", 0.4e-3),
        ({"fineness": GOLD, "basis": "estimated"}, "estimated", 0.1),
        ({"fineness": GOLD, "basis": "estimated", "sd": "6%"}, "estimated", 0.06),
        ({"fineness": GOLD, "method": "FIRE"}, "measured", (0.3e-3**2 + 0.2e-3**2) ** 0.5),
        ({"fineness": GOLD, "method": "FIRE"}, "bias", 0.1e-3),
        ({"fineness": GOLD, "method": "FIRE", "sd": "0.1‰"}, "measured", 0.1e-3),
    ],
)
def test_what_a_stated_fineness_is_worth(composition: dict[str, object], kind: str, sd: float) -> None:
    assert variances(october(received(**composition), "gold"), "VAULT")[kind] == pytest.approx((30 * sd) ** 2)


def test_what_is_in_and_out_under_one_determination_cancels() -> None:
    documents = moved_out(mass="300.00 g")
    assert variances(october(documents, "gold"), "VAULT")["nominal"] == pytest.approx(0.0, abs=1e-12)


def test_base_metal_has_no_gold_to_be_wrong_about() -> None:
    row = october(received(alloy="BRASS"), "gold").row("VAULT")
    assert row == {}


def test_replicates_of_one_sample_do_not_lower_what_sampling_leaves() -> None:
    """Variance sampling²/samples + repeatability²/determinations; nothing after the assay but the mass assayed."""
    replicates, samples = [["501‰", "501‰"]], [["501‰"], ["501‰"]]
    for results, share in ((replicates, 2e-4**2 + 3e-4**2 / 2), (samples, (2e-4**2 + 3e-4**2) / 2)):
        documents = [
            bought(1, "VAULT", {"lot": "A", "mass": "300.00 g", **S1, "fineness": GOLD}),
            ticket(2, "assay", lot="A", method="FIRE", results={"gold": results}),
        ]
        found = variances(october(documents, "gold"), "VAULT")
        assert found["measured"] == pytest.approx(300**2 * share, rel=1e-6)
        assert found["nominal"] == pytest.approx((300 * 1.7e-3) ** 2)


def test_dilute_content_agreed_with_a_refiner_is_worth_a_share_of_it() -> None:
    def settled(agreed: str) -> dict[str, float]:
        lot_ = {"lot": "A", "received": "300.00 g", "agreed": {"gold": agreed, "silver": "0.00 g"},
                "payable": {"gold": agreed, "silver": "0.00 g"}}  # fmt: skip
        stated = {"gold": f"{float(agreed[:-2]) / 0.3:.1f}‰", "silver": "0‰"}
        documents = [
            bought(1, "PLATER", {"lot": "A", "mass": "300.00 g", **S1, "fineness": stated, "sd": "0.01‰"}),
            ticket(2, "settle", area="PLATER", party="REF", lots=[lot_]),
        ]
        return variances(october(documents, "gold"), "PLATER", lambda s: s.kind == "settlement")

    assert settled("3.00 g")["settlement"] == pytest.approx((3 * 0.005) ** 2 + (3 * 0.001) ** 2)
    fire = 0.3e-3**2 + 0.2e-3**2
    assert settled("210.00 g")["settlement"] == pytest.approx(300**2 * (fire + 0.1e-3**2))


# ------------------------------------------------------------------------------------------------- balances


def two_months() -> Book:
    november = {"at": "2026-11-30T12:00"}
    return Book([
        bought(1, "VAULT", lot("A", "300.00", gold="500", **S1), lot("B", "200.00", gold="750", **S1)),
        ticket(2, "count", area="VAULT", lots=[lot("A", "299.99", **S1), lot("B", "200.01", **S1)]),
        ticket(3, "move", from_="VAULT", to="MELT", lots=[lot("B", "100.00", **S1, received_mass="99.99 g")]),
        ticket(4, "count", area="VAULT", lots=[lot("A", "300.00", **S1), lot("B", "100.02", **S1)]) | november,
    ])  # fmt: skip


def test_a_closing_count_is_the_next_opening() -> None:
    ledger = Ledger(two_months().connection, "gross")
    october, november = ledger.month("2026-10").row("VAULT"), ledger.month("2026-11").row("VAULT")
    source = ledger.month("2026-10").tape.source
    shared = sum(c * november[r] * source(r).variance for r, c in october.items() if r in november)
    assert shared == pytest.approx(-2 * ONE * 1e18)


def test_the_cumulative_and_the_plant_take_what_is_shared_once() -> None:
    document = reconcile(two_months().connection, "2026-11", "gross")
    vault = next(a for a in document["areas"] if a["area"] == "VAULT")
    alone = [next(a for a in reconcile(two_months().connection, m, "gross")["areas"] if a["area"] == "VAULT")["sigma"]
             for m in ("2026-10", "2026-11")]  # fmt: skip
    assert vault["cumulative_sigma"] < (alone[0] ** 2 + alone[1] ** 2) ** 0.5
    assert vault["cumulative_sigma"] ** 2 == pytest.approx(5 * ONE, rel=1e-5)  # the count between is gone


def test_a_budget_adds_up_and_names_the_largest_source_first() -> None:
    month = october(received(fineness=GOLD), "gold")
    items = budget(month.tape, month.row("VAULT"))
    assert sum(item.share for item in items) == pytest.approx(1.0)
    assert [item.share for item in items] == sorted((item.share for item in items), reverse=True)
    assert (items[0].kind, items[0].words) == ("nominal", "nominal finenesses")
    assert items[0].mend == "assay the lots that stand at a mark or alloy"


def test_a_coarse_tolerance_names_what_would_mend_it() -> None:
    text = PLANT.replace('code = "VAULT"\n', 'code = "VAULT"\ntolerance = "0.01 g"\n', 1)
    document = reconcile(Book(received(fineness=GOLD), text).connection, "2026-10", "gold")
    vault = document["areas"][0]
    assert vault["coarse"]
    assert any("nominal finenesses" in reason and "mend: assay" in reason for reason in vault["reasons"])
