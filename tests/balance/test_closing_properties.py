"""Whatever a plant's months were: a closed one never changes, and the difference account is what the statements say."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.balance.daily.ticket_numbers import Numbers
from ledger.balance.months.verifying import verify
from ledger.refusals import Refused
from tests.balance.closing_plant import METALS, PLANT_WITH_DUST, closed, statement
from tests.balance.test_closing import identity
from tests.book.months import Plant, months
from tests.book.plants import Book, Document

SLOW = settings(
    max_examples=40, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)  # fmt: skip


def enter(made: Book, *documents: Document) -> None:
    """Enter what can be entered: after a reversal a later ticket may have become impossible."""
    for document in documents:
        with suppress(Refused):
            made.enter(document)


@SLOW
@given(months(most=32), st.data())
def test_late_tickets_change_no_closed_month_and_every_figure_meets(plant: Plant, data: st.DataObject) -> None:
    october = [d for d in plant.documents if d["at"] < "2026-11"]
    made = Book(october, PLANT_WITH_DUST)
    dust = {metal: {a["area"]: a["dust"]["closing"] for a in statement(made, "2026-10", metal)["areas"]}
            for metal in METALS}  # fmt: skip
    answered_for(made, "2026-10")
    sealed = {metal: statement(made, "2026-10", metal) for metal in METALS}
    late(made, october, data)
    enter(made, *(d for d in plant.documents if d["at"] >= "2026-11"))
    november = {metal: statement(made, "2026-11", metal) for metal in METALS}
    assert {metal: statement(made, "2026-10", metal) for metal in METALS} == sealed
    assert {metal: {a["area"]: a["dust"]["opening"] for a in november[metal]["areas"]} for metal in METALS} == dust
    answered_for(made, "2026-11")
    identity(made)
    assert verify(made.connection) == []


def answered_for(made: Book, period: str) -> None:
    """Close a period, all numbers that are missing by then answered for."""
    (end,) = made.connection.execute("SELECT max(instant) FROM ticket").fetchone()
    bounds = made.entry.setups.calendar.bounds(period)
    gaps: dict[str, Any] = {gap.first: "invented" for gap in Numbers(made.connection, bounds[1] - 1).gaps()}
    assert end < bounds[1] or period == "2026-11"
    closed(made, period, missing={number: text for number, text in gaps.items() if not answered(made, number)})


def answered(made: Book, number: str) -> bool:
    bodies = made.connection.execute("SELECT body FROM record WHERE kind = 'close'").fetchall()
    return any(f'"first":"{number}"' in body for (body,) in bodies)


def late(made: Book, october: list[Document], data: st.DataObject) -> None:
    """Reverse some of October's tickets in November, and enter some of those again."""
    chosen = data.draw(st.lists(st.integers(0, len(october) - 1), max_size=4, unique=True))
    for n, place in enumerate(chosen):
        document = october[place]
        before = made.tables()["record"]
        enter(made, {"ticket": f"R-{n + 1}", "kind": "reverse", "at": f"2026-11-02T{10 + n}:00", "by": "W",
                     "of": document["ticket"], "reason": "wrong"})  # fmt: skip
        if made.tables()["record"] != before and data.draw(st.booleans()):
            enter(made, {**document, "ticket": f"C-{n + 1}", "corrects": document["ticket"]})
