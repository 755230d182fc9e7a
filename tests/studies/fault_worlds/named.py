"""Whether an answer names what was planted: first, or among what it says cannot be told apart from the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tests.studies.fault_worlds.truth import Fault

Cause = dict[str, Any]
#: A cause with more than this share is taken to be named.
NAMED = 0.5
#: Families that are about a thing which the answer calls by name.
_WHAT = {"scale": "scale", "loss_rate": "operation", "settlement": "party"}


def tells(cause: Cause, fault: Fault) -> bool:
    """Return whether a cause is the fault: its family, and the right ticket, lot, scale, operation, party or area."""
    return bool(cause["family"] == fault.family and _about(cause, fault))


def _about(cause: Cause, fault: Fault) -> bool:
    if fault.family in _WHAT:
        name = _WHAT[fault.family]
        return bool(cause["what"].get(name) == fault.what[name])
    tickets, lots = bool(set(cause["tickets"]) & set(fault.tickets)), bool(set(cause["lots"]) & set(fault.lots))
    in_area = fault.area == cause.get("area") or fault.area in cause.get("areas", ()) or (
        fault.area == cause["what"].get("area"))  # fmt: skip
    if fault.family == "estimate" or fault.mode in ("area at once", "a little each time"):
        return lots or in_area
    if fault.family in ("substituted", "unticketed", "uncounted", "counted_twice", "missing_ticket", "wrong_period"):
        return lots or tickets
    if fault.family == "determination":
        return tickets
    return tickets and (lots or not cause["lots"])


def groups(causes: Sequence[Cause]) -> list[list[Cause]]:
    """Return causes by what cannot be told apart, in the order of rank; chance by itself."""
    by_rank = {cause["rank"]: cause for cause in causes}
    found: list[list[Cause]] = []
    seen: set[int] = set()
    for cause in sorted(causes, key=lambda c: c["rank"]):
        if cause["rank"] not in seen:
            ranks = {cause["rank"], *cause["inseparable_from"]} - seen
            seen |= ranks
            found.append([by_rank[rank] for rank in sorted(ranks) if rank in by_rank])
    return found


def right(causes: Sequence[Cause], faults: Sequence[Fault]) -> bool:
    """Return whether the first, or one of the first group, is one of the faults."""
    first = groups(causes)[0] if causes else []
    return any(tells(cause, fault) for cause in first for fault in faults)


def named(causes: Sequence[Cause]) -> list[list[Cause]]:
    """Return the groups that together have more than half: what an answer says happened, chance aside."""
    return [g for g in groups(causes) if sum(c["share"] for c in g) > NAMED and g[0]["family"] != "chance"]
