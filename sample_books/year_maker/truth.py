"""What really happened: each planted trouble, as truth.json tells it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from year_maker.floor import Paper
from year_maker.metal import Metal

_ABOUT = (
    "Troubles planted in this invented year. family: as the causes are named. size: by how much the book stood above "
    "the truth right after it, in grams of gross, gold and silver (below: negative). sigmas: about how large it is "
    "against the residual that shows it, by the readings and spreads of the set-up; null: a whole lot. "
    "visible: when, by which ticket."
)


@dataclass
class Trouble:
    """One trouble. ``papers`` are the tickets it is about, ``seen_by`` the first that shows it."""

    family: str
    area: str
    at: datetime
    says: str
    size: Metal
    lots: list[str]
    papers: list[Paper] = field(default_factory=list)
    seen_by: Paper | None = None
    visible: str = ""
    sigmas: float | None = None
    more: dict[str, Any] = field(default_factory=dict)


def next_of(papers: Sequence[Paper], lot: str, after: datetime, *, whole: bool = False) -> Paper | None:
    """Return the next entered ticket that speaks of a lot; ``whole``: that weighs all of it, or counts it."""
    for paper in papers:
        if paper.at <= after or paper.lost or lot not in paper.lots():
            continue
        lines = [line for _, _, line in paper.lines() if lot in (line.get("lot"), line.get("bin"))]
        weighed = any("mass" in line or "gross" in line for line in lines)
        if not whole or (weighed and (paper.kind == "count" or any(line.get("all") for line in lines))):
            return paper
    return None


def told(troubles: list[Trouble], seed: int) -> str:
    """Return the truth file."""
    entries = [_entry(number, trouble) for number, trouble in enumerate(sorted(troubles, key=lambda t: t.at), 1)]
    lines = ",\n  ".join(json.dumps(entry, ensure_ascii=False) for entry in entries)
    return f'{{"about": {json.dumps(_ABOUT)},\n "seed": {seed},\n "troubles": [\n  {lines}\n ]}}\n'


def _entry(number: int, trouble: Trouble) -> dict[str, Any]:
    seen = trouble.seen_by
    return {
        "id": f"T{number:02d}",
        "family": trouble.family,
        "area": trouble.area,
        "month": f"{trouble.at:%Y-%m}",
        "at": f"{trouble.at:%Y-%m-%dT%H:%M}",
        "says": trouble.says,
        "tickets": [paper.number for paper in trouble.papers],
        "lots": trouble.lots,
        "size": {m: f"{getattr(trouble.size, a):.4f} g" for m, a in _METALS},
        "sigmas": None if trouble.sigmas is None else round(trouble.sigmas, 1),
        "visible": {
            "month": f"{seen.at:%Y-%m}" if seen else None,
            "ticket": seen.number if seen else None,
            "how": trouble.visible,
        },
        **{name: value.number if isinstance(value, Paper) else value for name, value in trouble.more.items()},
    }


_METALS = (("gross", "mass"), ("gold", "gold"), ("silver", "silver"))
