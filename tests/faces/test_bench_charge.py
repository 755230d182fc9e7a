"""lemel bench charge: from the command line and from the book, as page, document and draft of a ticket."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from ledger.faces.printing import cells
from tests.faces.conftest import Lemel

STATED = ("--lot", "old: 100 g, 12K", "--lot", "new: 50 g, 10K", "--buy", "fine gold: 24K", "--buy", "alloy: 0")


def ng(grams: str) -> int:
    return int(grams.replace(".", ""))


def test_a_charge_from_stated_lots_needs_no_book(lemel: Lemel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    document = lemel("bench", "charge", "250 g", "14K", *STATED, "--json").json
    assert [(line["lot"], line["mass"], line["all"]) for line in document["lines"][:2]] == [
        ("old", "100.000000000", True), ("new", "50.000000000", True)]  # fmt: skip
    assert sum(ng(line["mass"]) for line in document["lines"]) == ng(document["charged"])
    assert ng(document["charged"]) == sum(ng(document[key]) for key in ("fume", "loss", "poured"))
    assert float(document["fineness"]["gold"]) >= 583.333333
    assert document["to_buy"] == next(l["mass"] for l in document["lines"] if l["lot"] == "fine gold")  # noqa: E741


def test_the_page_fits_and_carries_its_caution(lemel: Lemel) -> None:
    done = lemel("bench", "charge", "250 g", "14K", *STATED, "--loss", "0.1%", "--fume", "0.3%")
    assert done.status == 0
    assert all(cells(line) <= 80 for line in done.out.splitlines())
    page = " ".join(done.out.split())
    for words in ("Molten metal", "Zinc", "Cadmium", "beryllium", "Nickel", "local codes", 'planned "14K"'):
        assert words in page


def test_the_unit_changes_the_page_and_no_figure(lemel: Lemel) -> None:
    def figures(*unit: str) -> dict[str, object]:
        return {**lemel("bench", "charge", "250 g", "14K", *STATED, *unit, "--json").json, "working": None}

    assert figures() == figures("--unit", "dwt")
    assert "dwt" in lemel("bench", "charge", "250 g", "14K", *STATED, "--unit", "dwt").out


def test_lots_of_the_book_with_the_rates_of_an_operation(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "charge", "400 g", "G12", "--area", "VAULT", "--operation", "MELTING", "--book", month)
    document = lemel(*asked, "--json").json
    # The sample plant's set-up: 0.10 % loss, 0.05 g each, 0.3 % fume; 12K with 200 ‰ of silver.
    assert (ng("400.050000000") / 0.999 / 0.997) == pytest.approx(ng(document["charged"]), abs=5e7)
    assert float(document["fineness"]["gold"]) == pytest.approx(500, abs=0.05)
    assert float(document["fineness"]["silver"]) == pytest.approx(200, abs=0.05)
    assert {one["lot"]: one["why"] for one in document["left_out"]} == {
        "BR-1002": "it is bond or base of CL20", "SO-1003": "it is bond or base of CL20", "SL-1006": "it is dirty",
        "ET-1011": "it is clad"}  # fmt: skip
    assert document["record"] == 41
    assert lemel(*asked, "--json").out == lemel(*asked, "--json").out


def test_scrap_goes_before_grain_and_the_oldest_first_when_asked(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "charge", "100 g", "G12", "--area", "VAULT", "--book", month, "--json")
    least, oldest = (lemel(*asked, *how).json for how in ((), ("--oldest",)))
    assert (least["first"], oldest["first"]) == ("least", "oldest")
    taken = {line["lot"] for line in least["lines"]}
    assert "DC-1004" in taken
    assert not taken & {"GB-0901", "GB-1001"}


def test_a_named_lot_is_taken_although_an_area_would_leave_it_out(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "charge", "all", "2%", "--use", "ET-1011", "--buy", "COPPER", "--book", month)
    document = lemel(*asked, "--json").json
    assert [line["lot"] for line in document["lines"]] == ["ET-1011", "COPPER"]


def test_base_metals_of_an_alloy_can_be_stated(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "charge", "100 g", "12K", "--use", "CU-0903", "--buy", "gold: 24K", "--book", month, "--want",
             "copper=500‰", "--json")  # fmt: skip
    assert lemel(*asked).status == 3
    document = lemel(*asked, "--base", "COPPER: copper=1000‰").json
    assert document["fineness"]["copper"] == "500.000000"


def test_a_draft_becomes_a_work_ticket_with_what_was_planned(lemel: Lemel, month: Path, tmp_path: Path) -> None:
    book = tmp_path / "copy.lemel"
    shutil.copy(month, book)
    asked = ("bench", "charge", "100 g", "G12", "--area", "VAULT", "--operation", "MELTING", "--book", book)
    draft = json.loads(lemel(*asked, "--ticket").out)
    assert draft["out"] == [{"planned": "G12"}]
    weighed = {**draft, "ticket": "HC-0050", "at": "2026-11-02T08:00", "by": "TH"}
    weighed["in"] = [{**line, "scale": "S-VAULT"} for line in draft["in"]]
    weighed["out"] = [{"lot": "BAR-1101", "mass": "99.95 g", "scale": "S-VAULT", "form": "bar", "planned": "G12"}]
    path = tmp_path / "melt.jsonl"
    path.write_text(json.dumps(weighed), encoding="utf-8")
    assert lemel("enter", path, "--book", book).status == 0
    stands = lemel("stock", "--area", "VAULT", "--book", book, "--json").json["areas"][0]["lots"]
    bar = next(lot for lot in stands if lot["lot"] == "BAR-1101")
    assert float(bar["fineness"]) == pytest.approx(500, abs=0.1)


def test_what_cannot_be_made_is_refused_and_nothing_is_printed(lemel: Lemel) -> None:
    # Old arithmetic, p. 327 (read in a copy): 3 3/13 carat short. The 21 lb are computed.
    done = lemel("bench", "charge", "all", "22K", "--lot", "5 lb, 20K", "--lot", "8 lb, 18K", "--buy", "alloy: 0",
                 "--division", "0.001 lb")  # fmt: skip
    assert (done.status, done.out) == (3, "")
    assert "falls 3 3/13 karat short → add 21.000 lb of fine gold" in done.err


@pytest.mark.parametrize(
    ("arguments", "option", "mend"),
    [
        (("250", "14K"), "MASS", "a plain decimal number and a unit"),
        (("250 g", "25K"), "ALLOY", "14K"),
        (("250 g", "14K", "--lot", "x: 2 g"), "--lot", "NAME: 640.18 g, 12K"),
        (("250 g", "14K", "--lot", "x: 12K"), "--lot", "NAME: 640.18 g, 12K"),
        (("250 g", "14K", "--buy", "x: 2 g, 12K"), "--buy", "fine gold: 999.9‰"),
        (("250 g", "14K", "--want", "silver"), "--want", "silver=180‰..220‰"),
        (("250 g", "14K", "--loss", "0.1"), "--loss", "0.10%"),
        (("250 g", "14K", "--division", "0.01"), "--division", "0.01 g"),
        (("250 g", "14K", "--unit", "oz"), "--unit", "ozt or ozav"),
        (("250 g", "14K", "--base", "COPPER: copper=1000‰"), "--base", "an alloy of the set-up"),
    ],
)
def test_a_wrong_option_is_named_with_its_mend(
    lemel: Lemel, arguments: tuple[str, ...], option: str, mend: str
) -> None:
    done = lemel("bench", "charge", *arguments)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(f"{option}: ")
    assert mend in done.err


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [("--use", "NO-1", "is not on hand"), ("--operation", "BAKING", "there is no operation")],
)
def test_what_the_book_does_not_have_is_refused(
    lemel: Lemel, month: Path, option: str, value: str, words: str
) -> None:
    done = lemel("bench", "charge", "1 g", "14K", option, value, "--book", month)
    assert (done.status, done.out) == (3, "")
    assert words in done.err


def test_the_draft_is_of_the_area_where_it_is_melted(lemel: Lemel, month: Path) -> None:
    asked = ("bench", "charge", "20 g", "G12", "--area", "VAULT", "--book", month, "--ticket", "--buy", "alloy: 0")
    assert json.loads(lemel(*asked, "--in", "MELT").out)["area"] == "MELT"
    assert json.loads(lemel(*asked).out)["area"] == "VAULT"
    refused = lemel(*asked, "--in", "NOWHERE")
    assert refused.status == 2
    assert "there is no area 'NOWHERE'" in refused.err
