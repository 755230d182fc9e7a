"""The reference page is what the models say."""

from __future__ import annotations

from pathlib import Path

from ledger.book.tickets import KINDS
from ledger.book.tickets.lines import LINE_FIELDS
from ledger.book.tickets.reference import reference

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "tickets.md"


def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == reference()


def test_every_field_has_a_meaning() -> None:
    described = [field for model in KINDS.values() for name, field in model.model_fields.items() if name != "kind"]
    assert all(field.description for field in [*described, *LINE_FIELDS.values()])


def test_no_name_means_two_things_on_one_kind() -> None:
    """A CSV column must say by its name alone whether it is the ticket's or the line's."""
    for model in KINDS.values():
        own = {field.alias or name for name, field in model.model_fields.items()}
        for role in model.roles.values():
            assert own.isdisjoint(role.fields), model
