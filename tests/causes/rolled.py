"""Small books of rolling, entered as tickets: two people in turn, one of whom may keep something back."""

from __future__ import annotations

import random

from tests.book.plants import Book, Document, bought, lot, ticket

#: What 100 g of 12K lose in rolling, and how much that varies, grams; the set-up's 0.05 %, and half of it.
_LOSS, _SPREAD = 0.05, 0.025


def receipt(lots: int) -> Document:
    """Return the receipt of so many lots of 100 g."""
    return bought(1, "ROLL", *(lot(f"L{n}", "100.00", gold="500", method="FIRE", scale="S1") for n in range(lots)))


def rolled(
    n: int, kept: float = 0.0, worker: str = "W", *, keyed: str | None = None, chance: random.Random | None = None,
    **fields: object,
) -> Document:  # fmt: skip
    """Return the rolling of the n-th lot in the n-th hour; ``kept``: grams kept back; ``keyed``: what was keyed."""
    lost = _LOSS + (chance.gauss(0, _SPREAD) if chance else 0.0)
    made = lot(f"R{n}", keyed or f"{100 - lost - kept:.2f}", scale="S1")
    work: Document = {"operation": "roll", "area": "ROLL", "in_": [lot(f"L{n}", "100.00", all=True, scale="S1")]}
    return ticket(n + 2, "work", **work, out=[made], workers=[worker], **fields)


def documents(tickets: int = 40, kept: float = 0.0) -> list[Document]:
    """Return a receipt and rolling tickets, W's and ONLY's in turn; ONLY keeps so many grams of each back."""
    chance = random.Random(3)
    workers = [chance.choice(("W", "ONLY")) for _ in range(tickets)]
    work = [rolled(n, kept * (w == "ONLY"), w, chance=chance, shift="day") for n, w in enumerate(workers)]
    return [receipt(tickets), *work]


def book(tickets: int = 40, kept: float = 0.0) -> Book:
    """Return the book of them."""
    return Book(documents(tickets, kept))
