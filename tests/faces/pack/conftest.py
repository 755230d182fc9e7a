"""The sample month's packs, made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.faces.pack.making import Pack
from tests.faces.pack.pages import pack_of


@pytest.fixture(scope="session")
def gold(month: Path) -> Pack:
    """The pack of the sample month in gold."""
    return pack_of(month)
