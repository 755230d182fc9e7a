"""The book of the sample year, made once."""

from __future__ import annotations

from tests.balance.conftest import year_book

__all__ = ["year_book"]
