"""What is taken as probable before a month is looked at: printed with every answer.

Published: the shares of sorts among keying errors (Verhoeff 1969: one digit 79.1 %, neighbours swapped 10.2 %). Not
published, and assumed: how often anything happens at all; the plant's own confirmed causes move these rates.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

#: Verhoeff 1969: of errors in keyed numbers.
ONE_DIGIT: Final = 0.791
NEIGHBOURS: Final = 0.102


@dataclass(frozen=True, slots=True)
class Rate:
    """How often a family is expected: ``of`` each opportunity, of which a ticket brings ``a_ticket`` on average."""

    rate: float
    of: str
    a_ticket: float


#: A mass keyed wrong that nobody mended on the day.
_KEYED = 2e-4

RATES: Final[dict[str, Rate]] = {
    "digit": Rate(_KEYED * ONE_DIGIT, "each mass keyed", 2.5),
    "transposed": Rate(_KEYED * NEIGHBOURS, "each mass keyed", 2.5),
    "decimal": Rate(3e-5, "each mass keyed", 2.5),
    "unit": Rate(3e-5, "each mass keyed", 2.5),
    "tare": Rate(1e-4, "each mass keyed where containers are used", 2.5),
    "mass": Rate(4e-5, "each mass keyed", 2.5),
    "karat": Rate(3e-4, "each line that states a composition", 0.2),
    "duplicate": Rate(1e-4, "each ticket", 1.0),
    "missing_ticket": Rate(4e-4, "each ticket", 1.0),
    "uncounted": Rate(1e-3, "each lot counted", 0.2),
    "counted_twice": Rate(4e-4, "each lot counted", 0.2),
    "wrong_area": Rate(4e-4, "each move", 0.3),
    "wrong_period": Rate(1e-3, "each ticket near a count", 0.1),
    "scale": Rate(6e-3, "each scale and month", 0.02),
    "determination": Rate(1e-3, "each determination", 0.15),
    "loss_rate": Rate(2.5e-3, "each operation and month", 0.02),
    "estimate": Rate(1.5e-2, "each clean-out", 0.02),
    "settlement": Rate(2e-2, "each refiner and month", 0.002),
    "substituted": Rate(1e-2, "each month, over all its lots", 0.002),
    "unticketed": Rate(6e-2, "each month, over all its lots and work", 0.002),
    "other": Rate(1e-2, "each month, over all its evidence", 0.002),
}

#: Tickets that the assumed rates count for beside the plant's own.
_ASSUMED_COUNTS: Final = 20_000


def confirmed(connection: sqlite3.Connection) -> dict[str, int]:
    """Return how often the plant has settled a difference as each family: write-offs and reversals that name one."""
    found: dict[str, int] = {}
    rows = connection.execute(
        "SELECT json_extract(record.body, '$.cause'), json_extract(record.body, '$.reason') FROM ticket AS t "
        "JOIN record ON record.seq = t.seq WHERE t.kind IN ('writeoff', 'reverse')"
    )
    for cause, reason in rows:
        for text in (cause, reason):
            word = str(text or "").split(":")[0].strip().replace(" ", "_").casefold()
            if word in RATES:
                found[word] = found.get(word, 0) + 1
                break
    return found


def rates(connection: sqlite3.Connection) -> Mapping[str, float]:
    """Return every family's rate: the assumed one, moved by what the plant has confirmed."""
    known = confirmed(connection)
    if not known:
        return {family: rate.rate for family, rate in RATES.items()}
    tickets = connection.execute("SELECT count(*) FROM ticket").fetchone()[0]
    return {
        family: (rate.rate * rate.a_ticket * _ASSUMED_COUNTS + known.get(family, 0))
        / (rate.a_ticket * (_ASSUMED_COUNTS + tickets))
        for family, rate in RATES.items()
    }
