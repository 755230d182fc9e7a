"""CSV: one row a line of a ticket; faults name file, line and column."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.book.intake.columns import template
from ledger.book.intake.csv_rows import read
from ledger.book.intake.rows import Row
from ledger.book.tickets import KINDS, parse_ticket
from ledger.book.tickets.examples import EXAMPLES
from ledger.refusals import FormRefused

HEAD = "ticket,kind,at,by,from,to,lot,mass,scale,all\n"
FIRST = "M-1,move,2026-10-05T09:30,hale,VAULT,MELT,0007,1250.42 g,S1,true\n"


def rows(text: str | bytes) -> list[Row]:
    return list(read(io.BytesIO(text.encode() if isinstance(text, str) else text), "t.csv"))


def told(text: str | bytes) -> list[str]:
    """Each fault's place and words, of all rows."""
    return [str(fault) for row in rows(text) for fault in row.faults]


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list) and isinstance(value[0], list):
        return " / ".join(" ".join(sample) for sample in value)
    return " | ".join(value) if isinstance(value, list) else str(value)


def _flat(part: dict[str, Any], path: str = "") -> dict[str, str]:
    cells: dict[str, str] = {}
    for name, value in part.items():
        cells |= _flat(value, f"{path}{name}.") if isinstance(value, dict) else {path + name: _cell(value)}
    return cells


def _as_rows(document: dict[str, Any]) -> list[dict[str, str]]:
    sides = [side for side in ("lots", "in", "out", "parties") if side in document]
    own = _flat({name: value for name, value in document.items() if name not in sides})
    named = len(KINDS[document["kind"]].roles) > 1 or document["kind"] == "open"
    lines = [_flat(line) | ({"side": side} if named else {}) for side in sides for line in document[side]]
    return [own | line for line in lines] or [own]


@pytest.mark.parametrize("document", EXAMPLES, ids=lambda document: document["kind"])
def test_every_example_says_the_same_as_a_table(document: dict[str, Any]) -> None:
    text = io.StringIO()
    table = _as_rows(document)
    header = template(document["kind"]).split(",")
    assert set().union(*table) <= set(header), "the template has a column for each field"
    writer = csv.DictWriter(text, header)
    writer.writeheader()
    writer.writerows(table)
    (row,) = rows(text.getvalue())
    assert row.document == document


def test_further_rows_may_leave_the_tickets_own_fields_blank() -> None:
    (row,) = rows(HEAD + FIRST + ",,,,,,0008,10.0 g,,\n" + "M-1,move,,,,,0009,11.0 g,,false\n")
    assert row.document is not None
    assert [line["lot"] for line in row.document["lots"]] == ["0007", "0008", "0009"]
    assert [line.get("all") for line in row.document["lots"]] == [True, None, False]
    assert (row.line, dict(row.lines_of)) == (2, {"lots": [2, 3, 4]})


def test_a_new_number_begins_a_new_ticket() -> None:
    first, second = rows(HEAD + FIRST + FIRST.replace("M-1", "M-2"))
    assert (first.line, second.line) == (2, 3)


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_mark_delimiter_and_line_ends_are_told_from_the_file(mark: str, delimiter: str, end: str) -> None:
    table = (HEAD + FIRST).replace(",", delimiter).replace("\n", end)
    (row,) = rows(mark + table)
    assert row.document is not None
    assert row.document["lots"] == [{"lot": "0007", "mass": "1250.42 g", "scale": "S1", "all": True}]


def test_the_delimiter_is_told_from_the_header_alone() -> None:
    (row,) = rows(HEAD.replace("all", "note") + FIRST.replace("true", '"a; b; c; d; e; f; g; h; i; j; k"'))
    assert row.document is not None
    assert row.document["note"].startswith("a; b")


def test_quotes_may_hold_delimiters_and_line_ends() -> None:
    table = (
        HEAD.replace("all", "note")
        + FIRST.replace("true", '"two, and\nthree"')
        + FIRST.replace("M-1", "M-2").replace("true", "x")
    )
    first, second = rows(table)
    assert first.document is not None
    assert first.document["note"] == "two, and\nthree"
    assert second.line == 4


@pytest.mark.parametrize(
    ("table", "fault"),
    [
        (HEAD + FIRST.replace("true", "yes"), "t.csv:2, ticket M-1, all: 'yes' is neither true nor false"),
        (
            HEAD.replace("scale", "pieces") + FIRST.replace("S1", "3.5"),
            "t.csv:2, ticket M-1, pieces: '3.5' is not a whole number",
        ),
        (
            HEAD + FIRST + ",,,,,CAST,0008,10.0 g,,\n",
            "t.csv:3, ticket M-1, to: differs from the ticket's first row, 'MELT'",
        ),
        (HEAD + FIRST.replace("move", "meve"), "t.csv:2, ticket M-1, kind: 'meve' is no kind of ticket"),
        (HEAD + FIRST.replace("move", ""), "t.csv:2, ticket M-1, kind: is blank on the ticket's first row"),
        (HEAD.replace("scale", "billed") + FIRST.replace("move", "count"), "t.csv:2, ticket M-1, from: has no place"),
        (HEAD.replace("scale", "side") + FIRST, "t.csv:2, ticket M-1, side: 'S1' is no side of this ticket"),
        (
            HEAD.replace("scale", "content") + FIRST.replace("move", "assay"),
            "t.csv:2, ticket M-1, content: content needs its key",
        ),
        (HEAD.replace("scale", "scales") + FIRST, "t.csv:1, scales: is not a known column → did you mean scale?"),
        (HEAD.replace("scale", "lot") + FIRST, "t.csv:1, lot: the column stands twice"),
        (HEAD.replace("scale", "mass.gold") + FIRST, "t.csv:1, mass.gold: is not a known column"),
        (FIRST, "t.csv:1: there is no column ticket"),
        ("", "t.csv:1: there is no column ticket"),
        (HEAD + FIRST.rstrip() + ",,surplus\n", "t.csv:2, ticket M-1: cell 12 stands under no column"),
        (HEAD + FIRST.replace("S1", '"S1'), "t.csv:2: does not read: unexpected end of data"),
        (HEAD.encode() + FIRST.replace("S1", "S\xe9").encode("latin-1"), "t.csv:2, scale: is not UTF-8"),
        ((HEAD + FIRST).encode("utf-16"), "t.csv:1: the header is not UTF-8"),
    ],
)
def test_a_fault_names_file_line_and_column(table: str | bytes, fault: str) -> None:
    assert any(one.startswith(fault) for one in told(table)), told(table)


def test_work_says_in_or_out() -> None:
    head = "ticket,kind,at,by,operation,area,side,lot,mass\n"
    own = "W-1,work,2026-10-05T09:30,hale,MELT12,MELT"
    (row,) = rows(f"{head}{own},in,A,1.0 g\n{own},out,B,0.9 g\n")
    assert row.document is not None
    assert (row.document["in"], row.document["out"]) == (
        [{"lot": "A", "mass": "1.0 g"}],
        [{"lot": "B", "mass": "0.9 g"}],
    )
    assert told(f"{head}{own},,A,1.0 g\n") == ["t.csv:2, ticket W-1, side: is missing → write in or out"]


@pytest.mark.parametrize("columns", ["fineness,fineness.gold", "fineness.gold,fineness"])
def test_a_field_is_not_given_bare_and_by_key(columns: str) -> None:
    head = f"ticket,kind,at,by,party,terms,to,lot,mass,{columns}\n"
    assert (
        "both bare and by key" in told(head + "R-1,receive,2026-10-05T09:30,hale,X,bought,VAULT,A,1.0 g,12K,12K\n")[0]
    )


def test_reading_goes_on_after_a_bad_ticket_which_is_kept_whole() -> None:
    bad, good = rows(HEAD + FIRST.replace("true", "yes").replace("S1", '"S,1"') + FIRST.replace("M-1", "M-2"))
    assert bad.document is None
    assert bad.raw == 'M-1,move,2026-10-05T09:30,hale,VAULT,MELT,0007,1250.42 g,"S,1",yes'
    assert good.document is not None


def test_a_fault_of_the_ticket_is_placed_on_its_own_line_and_column() -> None:
    (row,) = rows(HEAD + FIRST + ",,,,,,0008,10 g,,\n")
    assert row.document is not None
    with pytest.raises(FormRefused) as caught:
        parse_ticket(row.document)
    fault = row.place(caught.value.faults[0])
    assert (fault.file, fault.line, fault.field) == ("t.csv", 3, "mass")


@given(st.text(max_size=300), st.binary(max_size=100))
def test_any_text_gives_rows(text: str, raw: bytes) -> None:
    for row in rows(HEAD.encode() + text.encode(errors="surrogatepass") + raw):
        assert (row.document is None) == bool(row.faults)
        (str(row.faults) + row.raw).encode()
    rows(raw)
