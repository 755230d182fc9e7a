"""Nobody is named in a pack, by name or by code, whatever was written in notes and reasons."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ledger.book.setups import Setups
from ledger.faces.pack.making import Pack
from ledger.faces.pack.nameless import Nameless
from tests.book.plants import PLANT, Book, ticket
from tests.faces.pack.pages import Read, figures_of, pack_of, page_of, small_book


def _people(pack: Pack) -> set[str]:
    """Names and codes of all people of all set-ups; of a name also its last word."""
    found = set()
    for version in pack.material.setups.versions:
        for person in version.setup.person:
            bare = (person.name or "").split(",")[0]
            found |= {person.code, bare, *bare.split(" ")[-1:]} - {""}
    return found


def _named(people: set[str], text: str) -> list[str]:
    """The people named; a ticket number that begins as a code does names nobody."""
    return [name for name in people if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text)]


def test_the_sample_months_people_are_not_on_the_page_nor_in_any_file(gold: Pack) -> None:
    people = _people(gold)
    assert len(people) >= 16
    assert _named(people, " ".join(Read(page_of(gold)).words())) == []
    for file in gold.files:
        if not file.name.endswith(("xlsx", "html")):
            assert _named(people, file.content.decode()) == [], file.name


def test_a_closed_months_neither(sealed: Path) -> None:
    pack = pack_of(sealed)
    assert _named(_people(pack), " ".join(Read(page_of(pack)).words())) == []


def test_no_schedule_has_a_column_of_people(gold: Pack) -> None:
    keys = {c["key"] for s in figures_of(gold)["sections"] for x in s["schedules"] for c in x["columns"]}
    assert not keys & {"by", "witness", "workers", "keyed_by", "with", "keeper", "recorded_by", "person", "of_by"}


def test_a_reason_that_names_somebody_is_shown_without_them() -> None:
    text = PLANT.replace('code = "ONLY"', 'code = "ONLY"\nname = "Orsolya Tarn, second shift (invented)"')
    torn = ticket(3, "void", numbers=["T-0009"], reason="torn by Orsolya Tarn, ONLY and Tarn; see ONLY-1")
    pack = pack_of(small_book(text, torn).connection)
    (row,) = (r for s in pack.sections for x in s.schedules for r in x.rows if r.get("what") == "spoiled")
    assert row["remark"] == "torn by (a person), (a person) and (a person); see ONLY-1"
    assert "Tarn" not in page_of(pack)


@pytest.mark.parametrize("words", [None, ""])
def test_no_words_stay_none(words: str | None) -> None:
    assert Nameless(Setups.read(Book().connection)).text(words) is None
