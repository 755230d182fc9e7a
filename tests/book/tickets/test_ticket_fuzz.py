"""Whatever stands in a document: a ticket, or a refusal with faults that can be printed. Nothing else."""

from __future__ import annotations

import contextlib
import copy
import json
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from ledger.book.canonical import ticket_hash
from ledger.book.tickets import KINDS, parse_ticket
from ledger.book.tickets.examples import EXAMPLES
from ledger.book.tickets.lines import LINE_FIELDS
from ledger.refusals import Fault, FormRefused

NAMES = sorted({*LINE_FIELDS, *(f.alias or n for model in KINDS.values() for n, f in model.model_fields.items())})
words = st.text(max_size=12) | st.sampled_from(
    ["1.0 g", "0 g", "12K", "own", "1/20 12K", "8.0%", "2026-10-05T14:30", "\ud800", "M-1"]
)
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words | st.sampled_from(NAMES), inner, max_size=3),
    max_leaves=8,
)


def _places(value: Any) -> list[tuple[Any, Any]]:
    steps = list(value) if isinstance(value, dict) else list(range(len(value))) if isinstance(value, list) else []
    return [(value, step) for step in steps] + [place for step in steps for place in _places(value[step])]


@st.composite
def mutated(draw: st.DrawFn) -> dict[str, Any]:
    """A sound ticket with one to three of its values replaced, left out, or added to."""
    document = copy.deepcopy(draw(st.sampled_from(EXAMPLES)))
    for _ in range(draw(st.integers(1, 3))):
        inside, step = draw(st.sampled_from(_places({"": document})))
        deed = draw(st.sampled_from(["replace", "drop", "add"]))
        if step == "":
            continue
        if deed == "add" and isinstance(inside, dict):
            inside[draw(st.sampled_from(NAMES) | words)] = draw(values)
        elif deed == "drop":
            del inside[step]
        else:
            inside[step] = draw(values)
        if not document:
            break
    return document


def _judge_faults(faults: list[Fault]) -> None:
    assert faults
    for fault in faults:
        str(fault).encode()
        assert "\n" not in fault.field


def _judge(document: Any) -> None:
    try:
        ticket = parse_ticket(document)
    except FormRefused as refused:
        _judge_faults(refused.faults)
    else:
        assert len(ticket_hash(ticket.document)) == 32
        assert parse_ticket(json.loads(json.dumps(document))) == ticket


@settings(max_examples=600, deadline=None)
@given(mutated())
@example({**EXAMPLES[0], "\ud800": None})  # once broke the path of the fault
@example({**EXAMPLES[0], "lots": [{"\ud800": None}]})
def test_a_mutated_ticket_is_a_ticket_or_refused(document: dict[str, Any]) -> None:
    _judge(document)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.dictionaries(st.sampled_from(NAMES), values), values)
def test_anything_is_a_ticket_or_refused(kind: str, document: dict[str, Any], other: Any) -> None:
    _judge({**document, "kind": kind})
    _judge(other)


def test_the_mutations_leave_some_tickets_sound() -> None:
    """Else the fuzz would only ever see refusals."""
    sound = []

    @settings(max_examples=200, deadline=None, database=None, derandomize=True)
    @given(mutated())
    def run(document: dict[str, Any]) -> None:
        with contextlib.suppress(FormRefused):
            sound.append(parse_ticket(document))

    run()
    assert sound
