"""How long a trace takes through ten thousand lots, each mixed from two of the layer before.

    python -m tests.studies.trace_speed

A hundred layers of a hundred lots: every melt takes two lots of one layer and makes two of the next, in another order
each time, so that after seven layers every lot descends from every first one. Timed is the whole answer of `lemel
trace`, both ways, from the open book to the document.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import count
from os import getloadavg
from statistics import median
from time import perf_counter, process_time
from typing import Any, NamedTuple

from ledger.audit.inquiry import Inquiry
from ledger.audit.trace import trace
from tests.book.plants import Book, bought, lot
from tests.studies.evaluation_page import circumstances, note, table, write_section

LAYERS, WIDE = 100, 100
TIMES = 5
#: What is asked for: seconds for ten thousand lots.
MARK = 1.0


class Timed(NamedTuple):
    """One traced lot: steps back and forward, and the median seconds of its whole answer, of processor and clock."""

    lot: str
    back: int
    forward: int
    cpu: float
    wall: float


def layers(deep: int = LAYERS) -> list[dict[str, Any]]:
    """Return the tickets: a receipt, and the melts of each layer."""
    first = bought(1, "ROLL", *(lot(f"L0-{i}", "100.00", gold=str(500 + i), form="bar") for i in range(WIDE)))
    numbers = count(1)
    documents = [_numbered(first, next(numbers))]
    for layer in range(1, deep):
        for i in range(0, WIDE, 2):
            pair = (i, (i + 1 + 2 * layer) % WIDE)
            melt = {
                "kind": "work", "by": "W", "area": "ROLL", "operation": "melt",
                "in": [lot(f"L{layer - 1}-{n}", all=True) for n in pair],
                "out": [lot(f"L{layer}-{n}", "99.70", form="bar") for n in (i, i + 1)],
            }  # fmt: skip
            documents.append(_numbered(melt, next(numbers)))
    return documents


def _numbered(document: dict[str, Any], n: int) -> dict[str, Any]:
    at = datetime(2026, 1, 1) + timedelta(minutes=n)  # noqa: DTZ001 (plant time)
    return document | {"ticket": f"T-{n:06d}", "at": at.isoformat(timespec="minutes")}


def measure(deep: int = LAYERS) -> tuple[int, list[Timed]]:
    """Enter the lots and trace three of them: of the first, a middle and the last layer."""
    note(f"entering {deep * WIDE:,} lots")
    book = Book(layers(deep))
    inquiry = Inquiry.of(book.connection)
    found = []
    for name in ("L0-7", f"L{deep // 2}-7", f"L{deep - 1}-7"):
        taken, document = [], {}
        for _ in range(TIMES):
            start = process_time(), perf_counter()
            document = trace(inquiry, name)
            taken.append((process_time() - start[0], perf_counter() - start[1]))
        steps = [len(document[way]["steps"]) for way in ("back", "forward")]
        cpu, wall = (median(seconds) for seconds in zip(*taken, strict=True))
        found.append(Timed(name, *steps, cpu, wall))
    (lots,) = book.connection.execute("SELECT count(*) FROM lot WHERE kind = 'lot'").fetchone()
    return lots, found


def run() -> tuple[int, list[Timed]]:
    """Measure, write the section, and return what was found."""
    lots, found = measure()
    rows = [(t.lot, f"{t.back:,}", f"{t.forward:,}", f"{t.cpu:.2f}", f"{t.wall:.2f}") for t in found]
    write_section("trace", "\n\n".join([
        f"## Traces through {lots:,} lots",
        circumstances("python -m tests.studies.trace_speed", 0) + f" Median of {TIMES}. Every melt mixes two lots. "
        f"Mark: under {MARK:.0f} second, both ways together, from the open book to the document. Other work may have "
        f"been running beside it ({getloadavg()[0]:.1f} processes waiting or running), so the processor's seconds say "
        "more than the clock's.",
        table(("lot", "steps back", "steps forward", "seconds, processor", "seconds, clock"), rows),
    ]))  # fmt: skip
    return lots, found


if __name__ == "__main__":
    run()
