"""The page by itself: one file, no script, nothing from elsewhere, and an order that can be listened to."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise

import pytest

from ledger.faces.pack.making import Pack
from tests.faces.pack.pages import Read, page_of


@pytest.fixture(scope="module")
def read(gold: Pack) -> Read:
    return Read(page_of(gold))


def test_every_element_ends_where_it_should(read: Read) -> None:
    assert read.misplaced == []
    assert read.open == []


def test_it_holds_no_script_and_reaches_for_nothing(gold: Pack, read: Read) -> None:
    assert read.of("script", "iframe", "object", "embed", "img", "form") == []
    assert not [a for e in read.elements for a in e.attributes if a.startswith("on")]
    for element in read.elements:
        for name in ("src", "href", "action", "xlink:href", "data"):
            assert element.attributes.get(name, "#").startswith(("#", "data:,")), element
    styles = [*(e.words for e in read.of("style")), *(e.attributes.get("style", "") for e in read.elements)]
    assert not any(re.search(r"@import|url\((?!#)", style) for style in styles)
    policy = next(e for e in read.of("meta") if e.attributes.get("http-equiv") == "Content-Security-Policy")
    assert policy.attributes["content"].startswith("default-src 'none'")


def test_headings_go_down_one_step_at_a_time(read: Read) -> None:
    levels = [int(e.tag[1]) for e in read.of("h1", "h2", "h3", "h4")]
    assert (levels[0], levels.count(1)) == (1, 1)
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_the_language_is_stated_and_the_answer_can_be_skipped_to(read: Read) -> None:
    assert read.of("html")[0].attributes["lang"] == "en"
    assert read.of("a")[0].attributes == {"class": "skip", "href": "#decision"}
    assert len(read.of("main")) == 1


def test_every_link_of_the_contents_leads_somewhere_and_no_id_stands_twice(read: Read) -> None:
    ids = Counter(e.attributes["id"] for e in read.elements if "id" in e.attributes)
    assert [name for name, times in ids.items() if times > 1] == []
    for link in read.of("a"):
        assert link.attributes["href"].removeprefix("#") in ids


def test_every_table_has_its_caption_heads_and_a_place_to_scroll_in(read: Read) -> None:
    tables = read.of("table")
    assert len(tables) > 40
    assert len(read.of("caption")) == len(tables)
    assert all(caption.words for caption in read.of("caption"))
    for head in read.of("th"):
        assert head.attributes["scope"] == ("col" if "thead" in head.inside else "row")
    for region in (e for e in read.of("div") if e.attributes.get("role") == "region"):
        assert region.attributes["tabindex"] == "0"
        assert region.attributes["aria-label"]


def test_every_row_has_a_cell_for_each_head(gold: Pack, read: Read) -> None:
    schedules = {s.key: s for section in gold.sections for s in section.schedules}
    for table in read.of("table"):
        key = table.attributes["data-schedule"]
        if key in schedules:
            rows = read.rows(key)
            assert len(rows) == len(schedules[key].rows)
            assert len({len(row) for row in rows}) == 1


def test_every_picture_can_be_listened_to_and_has_its_figures_and_a_sentence(gold: Pack, read: Read) -> None:
    pictures = [picture for section in gold.sections for picture in section.pictures]
    assert len(pictures) >= 8
    assert len(read.of("figure")) == len(read.of("figcaption")) == len(pictures)
    drawings = [e for e in read.of("svg") if e.attributes.get("role") == "img"]
    assert len(drawings) == len(pictures)
    keys = {table.attributes["data-schedule"] for table in read.of("table")}
    assert {picture.figures.key for picture in pictures} <= keys


def test_a_verdict_is_told_in_words_not_by_colour(read: Read) -> None:
    marked = [e for e in read.of("span") if e.attributes.get("class", "").startswith("verdict")]
    assert {e.words for e in marked} >= {"short", "within"}
    assert not re.search(r"\bcolou?r: ?(red|green)", " ".join(e.words for e in read.of("style")))
