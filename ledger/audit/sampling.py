"""Drawing samples that anybody can draw again: from a seed, by SHA-256 and nothing else.

The text hashed is the seed, a line feed, and a name, in UTF-8; digests are read as hexadecimal numbers. So a sample
depends on no program, version or platform. Method, to be repeated by hand:

*Attributes* (tickets): hash the seed and each number; the n smallest digests are the sample.

*Units* (lots, by fine content or value): list the items in order with their sizes in whole units; J = whole ÷ n,
rounded down. An item of J units or more is looked at for certain. The others are laid end to end, in order; the start
is the digest of the seed and ``start``, modulo J; the units start, start + J, start + 2J … hit the items they lie in.

*Floor* (places to begin at, from the floor to the record): pick i hashes the seed and ``i``; the first 16 digits over
16¹⁶, times the number of areas, rounded down, is the area; the next 16 over 16¹⁶ is how far along what stands there.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import accumulate
from typing import NamedTuple


def digest(seed: str, name: str) -> int:
    """Return SHA-256 of the seed, a line feed and a name, as a number below 2²⁵⁶."""
    return int.from_bytes(sha256(f"{seed}\n{name}".encode()).digest(), "big")


def draw(seed: str, names: Sequence[str], size: int) -> list[str]:
    """Return ``size`` of the names, or all where there are no more: those with the smallest digests, in that order."""
    return sorted(names, key=lambda name: (digest(seed, name), name))[:size]


@dataclass(frozen=True, slots=True)
class UnitSample:
    """Items drawn by units: indices looked at for certain, and indices hit, with how often.

    ``interval`` J and ``start`` in units; None where there are fewer units than picks.
    """

    certain: tuple[int, ...]
    hit: dict[int, int]
    interval: int | None
    start: int | None


def draw_units(seed: str, sizes: Sequence[int], size: int) -> UnitSample:
    """Return a sample by units, one in every J = whole ÷ ``size``; an item of J units or more is certain.

    Items without units cannot be hit; at most ``size`` items are drawn, and fewer where large ones are certain.
    """
    whole = sum(units for units in sizes if units > 0)
    interval = whole // size
    if interval == 0:
        return UnitSample(tuple(i for i, units in enumerate(sizes) if units > 0), {}, None, None)
    certain = tuple(i for i, units in enumerate(sizes) if units >= interval)
    left = [i for i, units in enumerate(sizes) if 0 < units < interval]
    ends = list(accumulate(sizes[i] for i in left))
    start = digest(seed, "start") % interval
    hit: dict[int, int] = {}
    for unit in range(start, ends[-1] if ends else 0, interval):
        item = left[bisect_right(ends, unit)]
        hit[item] = hit.get(item, 0) + 1
    return UnitSample(certain, hit, interval, start)


class Spot(NamedTuple):
    """Where to begin on the floor: an area, and how far along what stands there, 0 … 1."""

    pick: int
    area: str
    along: float


def draw_spots(seed: str, areas: Sequence[str], size: int) -> list[Spot]:
    """Return places on the floor, areas with equal chances; what stands there is for who stands there to say."""
    found = []
    for pick in range(1, size + 1):
        hexadecimal = f"{digest(seed, str(pick)):064x}"
        area, along = (int(hexadecimal[at : at + 16], 16) / 16**16 for at in (0, 16))
        found.append(Spot(pick, areas[int(area * len(areas))], along))
    return found
