"""Open items by age: everything that waits for somebody, the oldest first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from ledger.faces.pack.material import Material
from ledger.faces.pack.nameless import Nameless
from ledger.faces.pack.schedule import Schedule, Section
from ledger.faces.pack.tables import count, mass, rows_of, when, words
from ledger.faces.printing import counted

ITEMS: Final = (
    count("days", "days"),
    when("since", "since"),
    words("what"),
    words("which"),
    words("where"),
    mass("gross", "gross"),
    mass("fine", "fine"),
)

DIFFERENCES: Final = (
    words("area"),
    mass("open", "open", summed=True),
    when("since", "oldest of"),
    when("most_of", "most of"),
    mass("most", "of that period"),
)

WRITTEN_OFF: Final = (
    words("ticket"),
    when("at", "at"),
    words("area"),
    words("metal"),
    words("mass", "as written"),
    words("cause"),
    words("evidence"),
)

#: Ages that the first sentence counts, in days.
_OLD: Final = 30


def section(material: Material) -> Section:
    """Return the section of open items."""
    rows = sorted(_items(material), key=lambda row: (-(row["days"] or 0), row["what"], str(row["which"])))
    old = sum((row["days"] or 0) > _OLD for row in rows)
    words_ = (
        f"{counted(len(rows), 'item')} open at the end of {material.last_day}, {old} of them older than {_OLD} days."
    )
    schedules = [
        Schedule(
            "open-items",
            f"Open items by age, {material.metal}",
            "Everything that waits for somebody, the oldest first; most of a list like this has an ordinary reason.",
            ITEMS,
            rows_of(ITEMS, rows),
        ),
        Schedule(
            "open-differences",
            f"Open differences, {material.metal}",
            "What stands on each area's difference account "
            "and the period it is oldest of; until a close it holds the normal loss.",
            DIFFERENCES,
            rows_of(DIFFERENCES, material.differences["open"]),
        ),
        Schedule(
            "written-off",
            "Write-offs",
            "What was written off, up to the end of the period: each by a stated cause on stated evidence.",
            WRITTEN_OFF,
            rows_of(WRITTEN_OFF, _written_off(material)),
        ),
    ]
    return Section("open_items", "Open items by age", paragraphs=[words_], schedules=schedules)


def _written_off(material: Material) -> Iterator[dict[str, Any]]:
    nameless = Nameless(material.setups)
    for row in material.differences["written_off"]:
        yield {**row, "cause": nameless.text(row["cause"]), "evidence": nameless.text(row["evidence"])}


def _items(material: Material) -> Iterator[dict[str, Any]]:
    found = material.exceptions
    for row in found["open_jobs"]:
        yield {**row, "what": "job not done", "which": row["job"], "where": f"{row['area']}, {row['operation']}"}
    for row in found["in_transit"]:
        yield {**row, "what": "sent, not arrived", "which": row["lot"], "where": f"{row['from']} to {row['to']}"}
    for row in found["not_found"]:
        yield {**row, "what": "not found by a count", "which": row["lot"], "where": row["area"]}
    for row in found["estimated_lots"]:
        yield {
            **row,
            "what": "rests on an estimate",
            "which": row["lot"],
            "where": row["area"],
            "fine": row["estimated"],
        }
    for row in found["below_nothing"]:
        yield {**row, "what": "below nothing", "which": row["lot"], "where": row["area"], "days": None}
    for row in found["bins_overdue"]:
        yield {**row, "what": "bin not assayed", "which": row["bin"], "where": row["area"]}
    for row in found["scales_overdue"]:
        yield {**row, "what": row["what"], "which": row["scale"], "where": None}
    for row in found["open_differences"]:
        if row["oldest"] is not None:
            yield {
                "what": "difference, open since a close",
                "which": row["oldest"],
                "where": row["area"],
                "days": row["days"],
                "since": row["oldest"],
                "fine": row["difference"],
            }
    for row in found["number_gaps"]:
        yield {"what": "number missing", "which": _numbers(row), "where": None, "days": None, "since": None}


def _numbers(gap: dict[str, Any]) -> str:
    return gap["first"] if gap["numbers"] == 1 else f"{gap['first']} to {gap['last']}"
