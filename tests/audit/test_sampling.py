"""Samples that anybody can draw again: written once more here, from the description alone."""

from __future__ import annotations

from collections import Counter
from hashlib import sha256

from hypothesis import given
from hypothesis import strategies as st

from ledger.audit.sampling import draw, draw_spots, draw_units

SIZES = st.lists(st.integers(-5, 10**13), min_size=1, max_size=40)


def hexadecimal(seed: str, name: str) -> str:
    return sha256(f"{seed}\n{name}".encode()).hexdigest()


def test_tickets_are_those_with_the_smallest_digests() -> None:
    names = [f"M-{n:04d}" for n in range(500)]
    by_hand = sorted(names, key=lambda name: hexadecimal("Brill 2026", name))[:60]
    assert draw("Brill 2026", names, 60) == by_hand
    assert draw("Brill 2026", list(reversed(names)), 60) == by_hand
    assert draw("Brill 2027", names, 60) != by_hand


def test_a_digest_that_anybody_can_check() -> None:
    """printf 'Brill 2026\\nHC-000001' | sha256sum (GNU coreutils), computed once and written here (C)."""
    assert hexadecimal("Brill 2026", "HC-000001")[:16] == "83144b3e0c702a5c"


def test_units_by_hand() -> None:
    """Sizes 10, 1, 50, 4, 15, 20: whole 100, n = 4, J = 25. 50 is certain; the rest are laid end to end."""
    sizes = [10, 1, 50, 4, 15, 20]
    sample = draw_units("seed", sizes, 4)
    start = int(hexadecimal("seed", "start"), 16) % 25
    assert (sample.certain, sample.interval, sample.start) == ((2,), 25, start)
    ends = [(10, 0), (11, 1), (15, 3), (30, 4), (50, 5)]
    expected = Counter(next(item for end, item in ends if unit < end) for unit in range(start, 50, 25))
    assert sample.hit == dict(expected)


@given(SIZES, st.integers(1, 60), st.text(max_size=8))
def test_units(sizes: list[int], size: int, seed: str) -> None:
    sample = draw_units(seed, sizes, size)
    whole = sum(units for units in sizes if units > 0)
    if sample.interval is None:
        assert whole < size
        assert sample.certain == tuple(i for i, units in enumerate(sizes) if units > 0)
        return
    assert sample.interval == whole // size
    assert all(sizes[i] >= sample.interval for i in sample.certain)
    assert all(0 < sizes[i] < sample.interval and times == 1 for i, times in sample.hit.items())
    rest = sum(units for units in sizes if 0 < units < sample.interval)
    assert abs(sum(sample.hit.values()) - rest / sample.interval) < 1


def test_the_chance_of_a_hit_is_in_proportion_to_the_size() -> None:
    """Over 4,000 seeds an item of share s of the interval is hit s of the time: within four binomial σ."""
    sizes = [3, 7, 20, 30, 40]
    hits: Counter[int] = Counter()
    for seed in range(4000):
        hits.update(draw_units(str(seed), sizes, 2).hit)
    for item, units in enumerate(sizes):
        share = units / 50
        assert abs(hits[item] - 4000 * share) < 4 * (4000 * share * (1 - share)) ** 0.5 + 1


def test_places_on_the_floor() -> None:
    spots = draw_spots("x", ["A", "B", "C"], 200)
    digits = hexadecimal("x", "7")
    assert spots[6].area == "ABC"[int(int(digits[:16], 16) / 16**16 * 3)]
    assert spots[6].along == int(digits[16:32], 16) / 16**16
    assert {spot.area for spot in spots} == {"A", "B", "C"}
    assert all(0 <= spot.along < 1 for spot in spots)
