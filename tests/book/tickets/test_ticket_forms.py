"""Tickets whose form is right, and every way in which it can be wrong without a set-up in sight."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from ledger.book.tickets import KINDS, Count, Work, parse_ticket, split_number
from ledger.book.tickets.examples import EXAMPLES
from ledger.refusals import Fault, FormRefused

BY_KIND = {example["kind"]: example for example in EXAMPLES}


def example(kind: str, **changes: Any) -> dict[str, Any]:
    """A sound ticket of a kind with some of its own fields replaced, or left out where None is given."""
    document = {**copy.deepcopy(BY_KIND[kind]), **{name.rstrip("_"): value for name, value in changes.items()}}
    return {name: value for name, value in document.items() if value is not None}


def with_line(kind: str, side: str = "lots", **line: Any) -> dict[str, Any]:
    """A sound ticket of a kind with one line of our own."""
    return example(kind, **{side: [{name.rstrip("_"): value for name, value in line.items()}]})


def faults(document: Any) -> list[Fault]:
    with pytest.raises(FormRefused) as caught:
        parse_ticket(document)
    assert caught.value.faults
    return caught.value.faults


def fields(document: Any) -> list[str]:
    return [fault.field for fault in faults(document)]


@pytest.mark.parametrize("document", EXAMPLES, ids=lambda document: document["kind"])
def test_every_example_is_a_ticket_and_keeps_its_document(document: dict[str, Any]) -> None:
    ticket = parse_ticket(document)
    assert ticket.kind == document["kind"]
    assert ticket.number == document["ticket"]
    assert ticket.document is document
    assert ticket == parse_ticket(copy.deepcopy(document))


def test_there_is_an_example_of_every_kind() -> None:
    assert [document["kind"] for document in EXAMPLES] == list(KINDS)


def test_a_line_says_none_of_what_it_does_not_say() -> None:
    ticket = parse_ticket(BY_KIND["work"])
    assert isinstance(ticket, Work)
    first, second = ticket.in_
    assert first.mass is not None
    assert (first.lot, first.mass.ng, first.all, first.gross, first.billed) == (
        "BAR-0007",
        998_400_000_000,
        True,
        None,
        None,
    )
    assert (second.bin, second.mass, second.container, second.all) == ("SCRAP12", None, "T14", False)
    assert ticket.out[1].class_ == "SLAG"


def test_a_ticket_never_changes() -> None:
    ticket = parse_ticket(BY_KIND["move"])
    with pytest.raises(ValueError, match="frozen"):
        ticket.by = "somebody"


def test_every_fault_is_told_at_once_with_its_place() -> None:
    document = example(
        "move",
        at="yesterday",
        to="VAULT",
        keyed_by="x",
        lots=[{"lot": "A", "mass": "1250 g"}, {"lot": "B", "massa": "1.0 g"}, 7],
    )
    found = {fault.field: fault for fault in faults(document)}
    assert set(found) == {"at", "to", "keyed_by", "lots[0].mass", "lots[1].massa", "lots[1].mass", "lots[2]"}
    assert found["lots[0].mass"].mend == 'write "1250.0 g"'
    assert found["lots[1].massa"].mend == "did you mean mass?"
    assert {fault.ticket for fault in found.values()} == {"M-000123"}


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ({}, "kind"),
        ({"kind": "meve"}, "kind"),
        ({"kind": ["move"]}, "kind"),
        (example("move", ticket=None), "ticket"),
        (example("move", ticket="000123"), "ticket"),
        (example("move", ticket="M-"), "ticket"),
        (example("move", ticket="M-12a"), "ticket"),
        (example("move", ticket="M-" + "1" * 19), "ticket"),
        (example("move", ticket=123), "ticket"),
        (example("move", by=" hale"), "by"),
        (example("move", by="hale "), "by"),
        (example("move", by=""), "by"),
        (example("move", by="h\x00le"), "by"),
        (example("move", by="h\ud800le"), "by"),
        (example("move", by="x" * 65), "by"),
        (example("move", by="two\nlines"), "by"),
        (example("move", witness="hale"), "witness"),
        (example("move", workers="ferro"), "workers"),
        (example("move", workers=["ferro", 5]), "workers[1]"),
        (example("move", conditions={"temperature": 1040}), "conditions.temperature"),
        (example("move", to="VAULT"), "to"),
        (example("move", lots=[]), "lots"),
        (example("move", lots={}), "lots"),
        (example("move", in_transit="true"), "in_transit"),
        (example("move", in_transit=1), "in_transit"),
        (example("move", in_transit=True), "lots[0].received_mass"),
        (example("move", corrects="x"), "corrects"),
        (example("receive", terms="borrowed"), "terms"),
        (example("ship", against="leased"), "against"),
        (example("open", lots=None, dust=None, parties=None), "lots"),
        (example("open", parties=[{"party": "X", "terms": "settled", "metal": "gold"}]), "parties[0].fine"),
        (example("arrive", of="M-000140"), "of"),
        (example("work", in_=None), "in"),
        (example("work", out=[]), "out"),
        (example("work", done=True), "job"),
        (example("work", job="J1", in_=None, out=None), "in"),
        (example("assay", results=None), "results"),
        (example("assay", content={"gold": "1.0 g"}), "results"),
        (example("assay", apply="all"), "apply"),
        (example("sweep", lots=[], cleaned_out=False), "lots"),
        (example("count", nil=True), "nil"),
        (example("count", lots=None, count=None), "lots"),
        (example("transfer", to={"party": "ELMREF", "terms": "settled"}), "to"),
        (example("transfer", from_="ours"), "from"),
        (example("transfer", from_={"party": "ELMREF"}), "from.terms"),
        (example("transfer", fine="-1.0 g"), "fine"),
        (example("writeoff", mass="+0 g"), "mass"),
        (example("writeoff", evidence=None), "evidence"),
        (example("checkweigh", reading=None), "reading"),
        (example("checkweigh", method="FIRE"), "scale"),
        (example("checkweigh", results={"gold": [["500.0"]]}), "results"),
        (example("void", numbers=[]), "numbers"),
        (example("void", numbers=["M-000125"]), "numbers"),
        (example("reverse", of="M-000126"), "of"),
    ],
)
def test_a_ticket_that_contradicts_itself_is_refused(document: dict[str, Any], field: str) -> None:
    assert fields(document) == [field]


@pytest.mark.parametrize(
    ("document", "field"),
    [
        (with_line("move", mass="1.0 g"), "lots[0].lot"),
        (with_line("move", lot="A", bin="B", mass="1.0 g"), "lots[0].lot"),
        (with_line("move", lot="A"), "lots[0].mass"),
        (with_line("move", lot="A", all=False), "lots[0].mass"),
        (with_line("move", lot="A", mass="0 g"), "lots[0].mass"),
        (with_line("move", lot="A", mass="1.0 g", gross="2.0 g", tare="1.0 g"), "lots[0].gross"),
        (with_line("move", lot="A", gross="2.0 g"), "lots[0].gross"),
        (with_line("move", lot="A", gross="2.0 g", tare="1.0 g", container="T"), "lots[0].gross"),
        (with_line("move", lot="A", gross="2.0 g", tare="2.0 g"), "lots[0].tare"),
        (with_line("move", lot="A", mass="2.0 g", tare="1.0 g"), "lots[0].tare"),
        (with_line("move", lot="A", mass="2.0 g", container="T"), "lots[0].container"),
        (with_line("move", lot="A", mass="2.0 g", moisture="8.0%", metallic="1.0 g"), "lots[0].metallic"),
        (with_line("move", lot="A", mass="2.0 g", metallic="2.1 g"), "lots[0].metallic"),
        (with_line("move", lot="A", mass="2.0 g", moisture="8.0"), "lots[0].moisture"),
        (with_line("move", lot="A", mass="2.0 g", pieces=0), "lots[0].pieces"),
        (with_line("move", lot="A", mass="2.0 g", pieces=True), "lots[0].pieces"),
        (with_line("move", lot="A", mass="2.0 g", pieces="3"), "lots[0].pieces"),
        (with_line("move", lot="A", mass="2.0 g", billed="12K"), "lots[0].billed"),
        (with_line("move", lot="A", mass="2.0 g", received_scale="S2"), "lots[0].received_scale"),
        (with_line("receive", lot="A", all=True), "lots[0].mass"),
        (with_line("receive", lot="A", mass="1.0 g", fineness="12K", content={"gold": "0.5 g"}), "lots[0].fineness"),
        (with_line("receive", lot="A", mass="1.0 g", alloy="12Y", clad="C"), "lots[0].alloy"),
        (with_line("receive", lot="A", mass="1.0 g", basis="guessed"), "lots[0].basis"),
        (with_line("open", lot="A", mass="1.0 g", terms="deposited"), "lots[0].party"),
        (with_line("work", "in", lot="A", mass="1.0 g", planned="12K"), "in[0].planned"),
        (with_line("work", "out", lot="A", mass="1.0 g", all=True), "out[0].all"),
        (with_line("work", "out", lot="A", seal="7"), "out[0].mass"),
        (with_line("settle", lot="A", received="1.0 g", agreed={"gold": "0.5 g"}), "lots[0].payable"),
        (
            with_line(
                "settle", lot="A", mass="1.0 g", received="1.0 g", agreed={"gold": "0.5 g"}, payable={"gold": "0.4 g"}
            ),
            "lots[0].mass",
        ),
        (with_line("discard", lot="A", mass="1.0 g"), "lots[0].results"),
    ],
)
def test_a_line_that_contradicts_itself_is_refused(document: dict[str, Any], field: str) -> None:
    assert field in fields(document)


@pytest.mark.parametrize(
    "document",
    [
        with_line("move", lot="A", all=True),
        with_line("move", lot="A", seal="77"),
        with_line("move", bin="B", gross="2.0 g", container="T"),
        with_line("arrive", lot="A", mass="0 g"),
        with_line("arrive", lot="A", mass="0.0 g"),
        example("work", out=None, job="J1"),
        example("work", in_=None, out=None, job="J1", done=True),
        example("count", lots=None, nil=True),
        example("count", lots=None),
        example("sweep", lots=None),
        example("receive", ticket="Ö2 7"),
        example(
            "checkweigh", scale=None, method="FIRE", standard="585.0‰", reading=None, results={"gold": [["584.9"]]}
        ),
        example("transfer", from_="own"),
        example("writeoff", mass="-0.35 g"),
    ],
)
def test_what_is_unusual_and_sound_is_a_ticket(document: dict[str, Any]) -> None:
    assert parse_ticket(document).document is document


@pytest.mark.parametrize("document", [None, [], "move", 5, [{"kind": "move"}]])
def test_what_is_no_object_is_refused(document: Any) -> None:
    assert fields(document) == [""]


def test_null_is_not_a_way_to_leave_out() -> None:
    document = {**example("move"), "note": None}
    assert fields(document) == ["note"]
    document = example("move")
    document["lots"][0]["scale"] = None
    assert fields(document) == ["lots[0].scale"]


def test_a_count_is_known_by_its_own_number_where_it_has_no_other() -> None:
    own, named = parse_ticket(example("count", count=None)), parse_ticket(example("count"))
    assert isinstance(own, Count)
    assert isinstance(named, Count)
    assert (own.count_id, named.count_id) == ("C-000018", "OCT-MELT")


def test_a_number_is_a_prefix_and_a_counter() -> None:
    assert split_number("M-000123") == ("M-", 123)
    assert split_number("A2/07-9") == ("A2/07-", 9)
    with pytest.raises(ValueError, match="not a ticket number"):
        split_number("123")


def test_no_fault_speaks_of_the_machinery() -> None:
    told = " ".join(
        str(fault)
        for fault in faults({"kind": "work", "in": [1], "out": [{"mass": 5, "all": "x", "basis": 7}], "workers": 3})
    )
    assert "pydantic" not in told.lower()
    assert "input should" not in told.lower()
    assert "valid" not in told.lower()


def test_a_mass_that_does_not_read_is_told_once() -> None:
    assert fields(with_line("move", lot="A", mass="x", metallic="1.0 g")) == ["lots[0].mass"]
    assert fields(with_line("move", lot="A", gross=5, tare="1.0 g")) == ["lots[0].gross"]


def test_a_ticket_made_past_the_door_has_no_document() -> None:
    with pytest.raises(AttributeError, match="parse_ticket"):
        _ = KINDS["move"].model_validate(BY_KIND["move"]).document
