"""Three counted months of one operation with a known loss, for tests of learned rates."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from tests.book.plants import Document, bought, lot, ticket


def months(rate_of: dict[str, Fraction], each_month: int, seed: int = 1, first: int = 1) -> list[Document]:
    """Return months of rolling bars of 10 kg, each kind of bar at its own rate with a spread of 0.005 %."""
    random, documents, n = Random(seed), list[Document](), first
    for month in (10, 11, 12):
        for i in range(each_month):
            at = f"2026-{month}-{i // 20 + 2:02d}T{8 + i % 20 // 4:02d}:{i % 4 * 15:02d}"
            kind = list(rate_of)[i % len(rate_of)]
            made = {"gold": "500", "method": "FIRE"} if kind == "" else {"alloy": kind}
            lost = float(rate_of[kind]) + random.gauss(0, 0.00005)
            documents += [
                bought(n, "ROLL", lot(f"A{n}", "10000.00", **made), at=at),
                ticket(n + 1, "work", operation="roll", area="ROLL", in_=[lot(f"A{n}", "10000.00", all=True)],
                       out=[lot(f"B{n}", f"{10000 * (1 - lost):.2f}", form="coil")], at=at),
                ticket(n + 2, "ship", from_="ROLL", party="CUS", terms="sold", lots=[lot(f"B{n}", all=True)], at=at),
            ]  # fmt: skip
            n += 3
        documents.append(ticket(n, "count", area="ROLL", nil=True, at=f"2026-{month}-28T16:00"))
        n += 1
    return documents
