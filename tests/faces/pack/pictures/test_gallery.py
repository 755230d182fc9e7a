"""All pictures of the sample month, from its book."""

from __future__ import annotations

import sqlite3
from fractions import Fraction
from pathlib import Path

import pytest

from ledger.faces.pack import material as of_material
from ledger.faces.pack.material import Material, gather
from ledger.faces.pack.pictures import Gallery, from_material, gallery
from ledger.faces.pack.schedule import Picture
from tests.faces.pack.pictures.drawings import figures, ids, known, root

SECTIONS = {"decision", "statement", "areas", "dust", "refiners", "open_items", "audit"}


@pytest.fixture(scope="module")
def material(month: Path) -> Material:
    connection = sqlite3.connect(f"file:{month}?mode=ro", uri=True)
    patch = pytest.MonkeyPatch()
    patch.setattr(of_material, "_causes", lambda *_: None)  # no picture shows a cause, and they take longest
    try:
        return gather(connection, "2026-10", "gold", "g")
    finally:
        patch.undo()


@pytest.fixture(scope="module")
def hung(material: Material) -> Gallery:
    return gallery(material)


@pytest.fixture(scope="module")
def every(hung: Gallery) -> list[Picture]:
    return [picture for pictures in hung.pictures.values() for picture in pictures]


def test_each_hangs_in_a_section_of_the_pack_under_a_key_of_its_own(hung: Gallery, every: list[Picture]) -> None:
    assert set(hung.pictures) | set(hung.missing) <= SECTIONS
    keys = [picture.key for picture in every]
    assert len(keys) == len(set(keys))
    assert all(picture.key == picture.figures.key for picture in every)
    assert {"picture-waterfall-plant", "picture-waterfall-ROLL", "picture-flow"} <= set(keys)  # ROLL is short


def test_what_has_nothing_to_show_is_a_sentence(hung: Gallery) -> None:
    assert hung.missing["audit"] == [
        "No check weight or standard was recorded: nothing shows that the scales read true."
    ]


def test_no_two_share_an_id(every: list[Picture]) -> None:
    found = [name for picture in every for name in ids(picture)]
    assert len(found) == len(set(found))


def test_every_figure_drawn_is_one_of_its_schedule(material: Material, every: list[Picture]) -> None:
    measure = from_material.measure_of(material)
    for picture in every:
        root(picture)  # well formed
        strange = set(figures(picture)) - known(picture, measure)
        assert not strange, (picture.key, strange)


def test_each_says_one_sentence_with_a_figure_and_has_words_for_who_cannot_see_it(every: list[Picture]) -> None:
    for picture in every:
        assert picture.says.endswith(".")
        assert any(letter.isdigit() for letter in picture.says)
        assert picture.says in picture.alternative
        assert picture.figures.rows


def test_the_same_book_gives_the_same_bytes(material: Material, hung: Gallery) -> None:
    again = gallery(material)
    assert {k: [p.svg for p in v] for k, v in again.pictures.items()} == {
        k: [p.svg for p in v] for k, v in hung.pictures.items()
    }


def test_the_waterfall_and_the_cumulative_end_at_the_statement(material: Material) -> None:
    for area in material.statement["areas"]:
        last = from_material.stands(material, area["area"])[-1]
        assert (last.cumulative, last.sigma) == (area["cumulative"], area["cumulative_sigma"])
    plant = from_material.stands(material)[-1]
    assert plant.cumulative == material.statement["plant_total"]["cumulative"]


def test_what_flows_into_and_out_of_an_area_is_the_statement_s_received_and_issued(material: Material) -> None:
    carried = from_material.carried(material)
    for area in material.statement["areas"]:
        into = sum(Fraction(c.mass) for c in carried if c.taker == area["area"])
        out = sum(Fraction(c.mass) for c in carried if c.giver == area["area"])
        assert (into, out) == (Fraction(area["received"]), Fraction(area["issued"])), area["area"]


def test_the_variance_of_an_area_is_its_sigma_squared(material: Material) -> None:
    for area in material.statement["areas"]:
        sources = from_material.sources(material, area["area"])
        assert sum(s.sigma**2 for s in sources) == pytest.approx(area["sigma"] ** 2, rel=1e-6)


def test_no_picture_names_a_person(material: Material, every: list[Picture]) -> None:
    people = {person.code for person in material.setup.person} | {person.name for person in material.setup.person}
    for picture in every:
        words = {word for text in root(picture).itertext() for word in (text, *text.split())}
        cells = {cell for row in picture.figures.rows for cell in row.values()}
        assert not people & (words | cells), picture.key
