"""What a pack tells, section by section, and that it tells it of books with hardly anything in them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ledger.faces.pack.making import Pack
from ledger.refusals import WrongUsage
from tests.book.plants import PLANT, Book, bought, lot, ticket
from tests.faces.conftest import Lemel
from tests.faces.pack.pages import PERIOD, pack_of, page_of, small_book

ORDER = ["decision", "statement", "areas", "moves", "dust", "refiners", "position", "open_items", "audit", "signing",
         "reading"]  # fmt: skip


def _text(pack: Pack, key: str) -> str:
    (section,) = (s for s in pack.sections if s.key == key)
    parts = [text for part in section.parts for text in (part.title, *part.paragraphs, *part.points)]
    return "\n".join([section.title, *section.paragraphs, *parts])


def test_the_sections_stand_in_their_order(gold: Pack) -> None:
    assert [section.key for section in gold.sections] == ORDER


def test_the_first_page_answers_in_its_order(gold: Pack) -> None:
    parts = gold.sections[0].parts
    assert [part.key for part in parts] == ["answer", "against", "trend", "rests", "next"]
    assert parts[0].paragraphs[0] == "No. In gold 1 of 6 areas is short or over: ROLL short, 0.947 g missing, 4.2 σ."
    assert "In gross: ROLL short, 38.639 g missing" in parts[0].paragraphs[1]
    assert "94.98 USD" in parts[1].paragraphs[0]
    assert "ROLL: missing, since 2026-10" in parts[2].paragraphs[0]
    assert "93.052 g (6.11 %) is known by its mark or grade alone" in parts[3].paragraphs[0]
    assert parts[4].points[0].startswith("ROLL: who handled SC-0906")
    assert parts[4].points[-1].startswith("Then close the period: lemel close 2026-10")


def test_every_area_is_told_with_its_reasons_and_causes_where_it_wants_any(gold: Pack) -> None:
    parts = {part.key: part for part in gold.sections[2].parts}
    assert list(parts) == [f"area-{area}" for area in gold.material.areas]
    roll = "\n".join(parts["area-ROLL"].points)
    assert "Judged so: the running test has signalled since 2026-10" in roll
    assert re.search(r"Cause \d+, \d\d %: about 38\.420 g of SC-0906 left without a ticket .* Check: who handled", roll)
    assert parts["area-FINISH"].points == []
    assert "no finding about any person" in _text(gold, "areas")


def test_signs_units_cautions_and_lines_to_sign(gold: Pack) -> None:
    assert "A difference is + where metal is missing" in _text(gold, "reading")
    assert "Molten metal, acids, cyanide" in _text(gold, "reading")
    assert [part.title for part in gold.sections[9].parts] == ["Prepared", "Reviewed", "Closed"]


def test_a_closed_period_shows_its_seal(sealed: Path) -> None:
    pack = pack_of(sealed)
    assert pack.heading.closed
    assert pack.material.close is not None
    line = pack.material.close.line
    for key in ("audit", "signing"):
        assert line in _text(pack, key)
    assert "Evidence of waste: slag and crucible assayed" in _text(pack, "areas")
    assert "Normal loss without evidence." in _text(pack, "areas")
    assert "The period is closed and sealed" in _text(pack, "decision")


@pytest.mark.parametrize("metal", ["silver", "gross"])
def test_other_metals_have_their_own_pack(month: Path, metal: str) -> None:
    pack = pack_of(month, metal)
    silver = "Yes for this period, as far as it was measured: in silver none of 6 areas is short or over."
    assert pack.answer[0].startswith({"silver": silver, "gross": "No. In gross"}[metal])
    assert "In gold: ROLL short" in pack.answer[1]


def test_a_book_of_two_tickets_that_nobody_counted_has_a_pack() -> None:
    pack = pack_of(small_book().connection)
    assert pack.answer[0].startswith("It cannot be said yet. In gold 5 of 5 areas cannot be judged. Not judged, since "
                                     "uncounted: VAULT, MELT")  # fmt: skip
    assert pack.sections[0].parts[-1].points[0].startswith("VAULT is uncounted: count it")
    assert "No refiner settled anything" in _text(pack, "refiners")
    assert "<td" in page_of(pack)


def test_a_month_that_closes_does_not_hide_what_an_earlier_one_left() -> None:
    tickets = [
        bought(1, "VAULT", lot("A", "100.00", gold="999.9", basis="nominal", scale="S1")),
        ticket(30, "count", area="VAULT", lots=[lot("A", "90.00", scale="S1")]),
        ticket(800, "count", area="VAULT", lots=[lot("A", "90.00", scale="S1")]),
        *(ticket(801 + n, "count", area=area, nil=True) for n, area in enumerate(("MELT", "ROLL", "FINISH", "PLATER"))),
    ]
    pack = pack_of(Book(tickets).connection, period="2026-11")
    assert pack.answer[0].startswith("Yes for this period, as far as it was measured: in gold none of 5 areas is short")
    assert "Over 2 months the differences add up to 9.999 g" in pack.answer[0]
    steps = pack.sections[0].parts[-1].points
    assert any(step.startswith("VAULT: 9.999 g stand open, most of it of 2026-10") for step in steps)


def test_a_plant_without_refiners_prices_or_places_outside_has_a_pack() -> None:
    text = PLANT.replace('[[area]]\ncode = "PLATER"\noutside = true\n', "").replace(
        '[[party]]\ncode = "REF"\nrole = "refiner"\n', "")  # fmt: skip
    counted = ticket(3, "count", area="MELT", lots=[lot("A", "99.97", scale="S1")])
    pack = pack_of(small_book(text, counted).connection)
    assert pack.material.price is None
    assert "No refiner settled anything" in _text(pack, "refiners")
    assert "USD" not in _text(pack, "decision")
    assert "VAULT" in pack.answer[0]


def test_an_empty_book_is_refused_in_words(lemel: Lemel, empty: Path, tmp_path: Path) -> None:
    done = lemel("pack", PERIOD, "--out", tmp_path / "p", "--book", empty)
    assert (done.status, done.out, (tmp_path / "p").exists()) == (WrongUsage.exit_status, "", False)
    assert "the book holds nothing of 2026-10 yet" in done.err
