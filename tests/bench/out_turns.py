"""Invented out-turns, short to write."""

from __future__ import annotations

from typing import Any

from ledger.bench.settle import Settled, SettledMetal, settle
from ledger.bench.settle_reading import out_turn_from

Document = dict[str, Any]


def out_turn(*lots: Document, gold: Document | None = None, **fields: Any) -> Document:
    """Return an out-turn of gold alone, by the mean, unless it says otherwise."""
    metal = {"metal": "gold", "splitting": "0.5‰"} | (gold or {})
    return {"party": "REF", "exchange": "mean", "metal": [metal], "lot": list(lots)} | fields


def lot(received: str, ours: Any, theirs: Any = None, /, name: str = "A", **fields: Any) -> Document:
    """Return a lot of gold; one assay alone is both parties'."""
    theirs = ours if theirs is None else theirs
    return {"lot": name, "received": received, "ours": {"gold": ours}, "theirs": {"gold": theirs}} | fields


def settled(document: Document) -> Settled:
    return settle(out_turn_from(document))


def gold_of(document: Document) -> SettledMetal:
    """Return the gold of the first lot."""
    return settled(document).lots[0].metals[0]
