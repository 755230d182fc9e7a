"""How exact values stand in the file: compositions and origins as JSON of fractions."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import lru_cache

from ledger.book.amounts import Composition
from ledger.book.lots import Origin


def composition_json(composition: Composition) -> str:
    """Return a composition as a JSON array of exact fractions, for the file."""
    return '["' + '", "'.join(map(str, composition)) + '"]'


@lru_cache(maxsize=8192)
def composition_from(text: str) -> Composition:
    """Return the composition stored as a JSON array of exact fractions."""
    return tuple(Fraction(f) for f in json.loads(text))


def origin_json(origin: Origin) -> str | None:
    """Return an estimate's origin as JSON for the file; None when there is none."""
    if not origin:
        return None
    return json.dumps([[class_, area, [str(s) for s in shares]] for (class_, area), shares in origin.items()])


def origin_from(text: str | None) -> Origin:
    """Return the origin stored as JSON."""
    rows = json.loads(text) if text else []
    return {(class_, area): tuple(Fraction(s) for s in shares) for class_, area, shares in rows}
