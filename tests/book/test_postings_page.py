"""The posting table is what the engine posts."""

from __future__ import annotations

from ledger.book.posting.registry import _POST
from tests.book.postings_page import EXAMPLES, PAGE, page

#: Kinds that the registry knows and the documentation does not show yet (docs/limits.md).


def test_the_page_is_what_the_engine_posts() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()


def test_every_kind_that_is_shown_has_an_example() -> None:
    assert {example.ticket["kind"] for example in EXAMPLES if example.heading} == {*_POST, "reverse"}
