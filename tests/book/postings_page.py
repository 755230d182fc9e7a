"""docs/reference/postings.md: the posting table, with an example each that the engine posts on a tiny invented book.

Write it anew:  python -m tests.book.postings_page > docs/reference/postings.md
"""

from __future__ import annotations

import json
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import Any, Final

from ledger.balance.months.closing import Answers, close_period
from ledger.book.closes import close_number
from ledger.book.entering import Stamp, enter
from ledger.book.intake import read_file
from ledger.book.opening import new_book
from ledger.book.store import reading, writing
from ledger.plant.toml_file import parse_setup
from ledger.quantities.mass import grams_text

PAGE: Final = Path(__file__).parents[2] / "docs" / "reference" / "postings.md"

PLANT: Final = """
[plant]
name = "Tiny Works (invented)"
metals = ["gold"]

[[area]]
code = "VAULT"
keeper = "AL"

[[area]]
code = "SHOP"
keeper = "BO"

[[area]]
code = "AWAY"
name = "At the refiner's"
outside = true
holder = "ASH"

[[operation]]
code = "ROLL"
composition = "carries"
loss = { gold = "0.10%" }

[[operation]]
code = "MELT"
composition = "combines"
loss = { gold = "0.10%" }
recoverable = "50%"
fume = "1%"

[[operation]]
code = "BUFF"
composition = "surface"
loss = { gold = "0.50%" }

[[operation]]
code = "PICKLE"
composition = "content"
loss = { gold = "0.02%", gross = "0.10%" }

[[scale]]
code = "S1"
division = "0.01 g"

[[method]]
code = "FIRE"
kind = "fire"

[[party]]
code = "ELM"
role = "supplier"

[[party]]
code = "OAK"
role = "customer"
owed = "declared"

[[party]]
code = "ASH"
role = "refiner"

[[person]]
code = "AL"
may = ["weigh", "witness", "accept"]

[[person]]
code = "BO"
may = ["weigh", "witness"]

[[person]]
code = "CY"
may = ["weigh", "witness", "count", "accept"]

[[person]]
code = "DI"
may = ["close"]

[[person]]
code = "EL"
may = ["close"]
"""


@dataclass(frozen=True, slots=True)
class Example:
    """One ticket of the tiny book; with a heading it is shown, without one it only prepares the next."""

    ticket: dict[str, Any]
    heading: str = ""
    rule: str = ""
    working: str = ""


def _line(lot: str, mass: str, **more: Any) -> dict[str, Any]:
    return {"lot": lot, "mass": mass, "scale": "S1", **more}


EXAMPLES: Final = (
    Example(
        {"ticket": "T-01", "kind": "open", "at": "2026-10-01T08:00", "by": "AL", "area": "VAULT",
         "lots": [_line("BAR", "100.00 g", fineness="900‰", method="FIRE"),
                  _line("COPPER", "50.00 g", fineness="0", basis="nominal"),
                  _line("CLAD", "200.00 g", fineness="25‰", layer="12K", method="FIRE"),
                  _line("LENT", "20.00 g", fineness="999‰", method="FIRE", terms="leased", party="ELM")],
         "dust": {"gold": "0.50 g", "gross": "1.00 g"},
         "parties": [{"party": "ASH", "terms": "settled", "metal": "gold", "fine": "7.50 g"}]},
        "open",
        "Take-on: place and dust against own, or against the party whose metal it is; a balance owed to us "
        "stands as +. "
        "What the area's first count differs by is the take-on difference, outside the month's loss.",
        "CLAD: 200 × 25 ‰ = 5. LENT is ELM's: 20 × 999 ‰ = 19.98 is owed. ASH owes 7.50, which is the plant's own.",
    ),
    Example(
        {"ticket": "T-02", "kind": "receive", "at": "2026-10-02T08:00", "by": "AL", "party": "ELM", "terms": "bought",
         "to": "VAULT", "lots": [_line("GRAIN", "50.00 g", fineness="800‰", method="FIRE")]},
        "receive, bought",
        "place +W, own −W.",
        "W = 50 × 800 ‰ = 40.",
    ),
    Example(
        {"ticket": "T-03", "kind": "receive", "at": "2026-10-02T09:00", "by": "AL", "party": "OAK",
         "terms": "deposited", "to": "VAULT", "lots": [_line("SCRAP", "39.90 g", fineness="750‰", method="FIRE",
                                       declared_mass="40.00 g", declared_fineness="750‰")]},
        "receive, deposited or leased",
        "place +W; party −V, V the declared content where the party's terms owe by the list, else W; difference V − W, "
        "the receipt difference.",
        "V = 40 × 750 ‰ = 30; W = 39.90 × 750 ‰ = 29.925.",
    ),
    Example(
        {"ticket": "T-04", "kind": "receive", "at": "2026-10-02T10:00", "by": "AL", "party": "ASH", "terms": "returned",
         "to": "VAULT", "lots": [_line("REFINED", "5.00 g", fineness="999‰", method="FIRE")]},
        "receive, returned",
        "place +W; of a refiner party(settled) −W, of anybody else own −W.",
        "W = 5 × 999 ‰ = 4.995: what ASH owes is less by it.",
    ),
    Example(
        {"ticket": "T-05", "kind": "move", "at": "2026-10-05T08:00", "by": "AL", "from": "VAULT", "to": "SHOP",
         "lots": [_line("BAR", "99.98 g", all=True, received_mass="99.95 g", received_scale="S1")]},
        "move",
        "place(from) −R, difference(from) R − W; place(to) +V, difference(to) W − V. With `all` R is the whole record; "
        "of a part R = W. Without the receiver's reading V = W.",
        "R = 90; W = 99.98 × 900 ‰ = 89.982; V = 99.95 × 900 ‰ = 89.955.",
    ),
    Example(
        {"ticket": "T-06", "kind": "move", "at": "2026-10-05T08:30", "by": "AL", "from": "VAULT", "to": "SHOP",
         "lots": [{"lot": "COPPER", "all": True}, {"lot": "CLAD", "all": True}]},
    ),
    Example(
        {"ticket": "T-07", "kind": "work", "at": "2026-10-06T08:00", "by": "BO", "operation": "MELT", "area": "SHOP",
         "in": [_line("BAR", "99.95 g", all=True), _line("COPPER", "50.05 g", all=True)],
         "out": [_line("INGOT", "146.50 g", planned="14K"),
                 _line("SLAG", "1.00 g", fineness="400‰", basis="estimated")]},
        "work, combines",
        "Each input place −R, difference R − W; each output place +O; the ticket's own difference ΣW − ΣO. An "
        "output with "
        "its own determination keeps it; the others share what is left: (fine in − stated) ÷ (mass in × (1 − fume) − "
        "stated mass). Molten metal and fumes maim and kill: these are sums, no instruction; local codes, safety data "
        "sheets and licensed practice come first.",
        "In: 89.955 of gold, 150 of mass. SLAG: 0.4. INGOT: (89.955 − 0.4) ÷ (150 × 0.99 − 1) = 89.555 ÷ 147.5 = "
        "607.152… ‰; 146.50 g of it. The copper weighed 0.05 g more than recorded.",
    ),
    Example(
        {"ticket": "T-08", "kind": "assay", "at": "2026-10-06T15:00", "by": "AL", "lot": "INGOT", "method": "FIRE",
         "results": {"gold": [["606.1", "605.9"], ["606.0"]]}},
        "assay",
        "place +x where the lot stands, difference −x there; x is the new content less the recorded. The first "
        "assay of the "
        "output of a content operation: difference −x in the area that made it.",
        "The mean of the samples' means is 606 ‰: 146.50 × 606 ‰ = 88.779.",
    ),
    Example(
        {"ticket": "T-09", "kind": "move", "at": "2026-10-06T16:00", "by": "BO", "from": "SHOP", "to": "VAULT",
         "lots": [{"lot": "SLAG", "all": True}]},
    ),
    Example(
        {"ticket": "T-10", "kind": "assay", "at": "2026-10-07T15:00", "by": "AL", "lot": "SLAG", "method": "FIRE",
         "content": {"gold": "0.45 g"}},
        "assay of an estimated lot",
        "place +x where it stands; −x to the difference of the area that made it (to the dust of the area "
        "swept, if it is "
        "a sweep), never to the area where it happens to stand.",
        "Estimated 0.40, found 0.45.",
    ),
    Example(
        {"ticket": "T-11", "kind": "work", "at": "2026-10-07T08:00", "by": "BO", "operation": "ROLL", "area": "SHOP",
         "in": [_line("CLAD", "200.00 g", all=True)],
         "out": [_line("STRIP", "150.00 g"), _line("ENDS", "49.80 g")]},
        "work, carries",
        "As above; the outputs keep the inputs' one fineness. Several different ones are refused.",
        "0.20 g are missing at 25 ‰: 0.005.",
    ),
    Example(
        {"ticket": "T-12", "kind": "work", "at": "2026-10-08T08:00", "by": "BO", "operation": "PICKLE", "area": "SHOP",
         "in": [_line("STRIP", "150.00 g", all=True)], "out": [_line("CLEAN", "149.70 g")]},
        "work, content",
        "As above; the outputs share the content that went in, by mass. What mass is lost carries nothing. Acids and "
        "their fumes injure and kill: local codes, safety data sheets and licensed practice come first.",
        "The gold stays 3.75; the fineness rises to 3.75 ÷ 149.70 = 25.050… ‰.",
    ),
    Example(
        {"ticket": "T-13", "kind": "assay", "at": "2026-10-08T15:00", "by": "AL", "lot": "CLEAN", "method": "FIRE",
         "results": {"gold": [["25.0‰"]]}},
    ),
    Example(
        {"ticket": "T-14", "kind": "work", "at": "2026-10-09T08:00", "by": "BO", "operation": "BUFF", "area": "SHOP",
         "in": [_line("CLEAN", "149.70 g", all=True)],
         "out": [_line("FINE", "100.00 g"), _line("SECONDS", "49.50 g")]},
        "work, surface",
        "As above; content out is content in − lost mass × the layer's fineness, shared by mass: what wears off "
        "is karat "
        "gold, not the average.",
        "In 3.7425; 0.20 g of 12K layer are gone, 0.1; 3.6425 are shared 100 : 49.5.",
    ),
    Example(
        {"ticket": "T-15", "kind": "sweep", "at": "2026-10-09T16:00", "by": "BO", "area": "SHOP",
         "lots": [_line("SWEEPS", "3.00 g", metallic="0.30 g", content={"gold": "0.12 g"}, basis="estimated")]},
        "sweep",
        "place +S, dust −S. Only the metallic mass is posted; lint and grit are not. Before the close, dust may stand "
        "below nothing, since normal loss becomes dust at the close only.",
        "",
    ),
    Example(
        {"ticket": "T-16", "kind": "ship", "at": "2026-10-12T08:00", "by": "BO", "from": "SHOP", "party": "OAK",
         "terms": "sold", "lots": [_line("FINE", "99.98 g", all=True, billed="1/21 12K")]},
        "ship, sold",
        "place −R, difference R − W, own +B, give-away W − B; B as billed. What was billed and is not there stands as "
        "− and is flagged (under-delivery); over and under are never netted.",
        "B = 99.98 × 1/21 × 12/24.",
    ),
    Example(
        {"ticket": "T-17", "kind": "ship", "at": "2026-10-12T09:00", "by": "BO", "from": "SHOP", "party": "OAK",
         "terms": "returned", "against": "deposited", "lots": [_line("SECONDS", "49.50 g", all=True)]},
        "ship, returned",
        "As sold, but party +B: what he is owed grows less. Nothing billed: B = W, and nothing is given away.",
        "",
    ),
    Example(
        {"ticket": "T-18", "kind": "count", "at": "2026-10-13T08:00", "by": "CY", "area": "SHOP",
         "lots": [_line("INGOT", "146.48 g"), _line("SWEEPS", "3.00 g", metallic="0.30 g")]},
        "count",
        "place C − R, difference R − C, in the area counted only. When the count is ended, what no sheet lists is not "
        "found: place −R, difference +R. (The first ended count of an area taken on posts the take-on difference.)",
        "INGOT weighs 0.02 g less. ENDS are not on the sheet: not found.",
    ),
    Example(
        {"ticket": "T-19", "kind": "move", "at": "2026-10-14T08:00", "by": "BO", "from": "SHOP", "to": "VAULT",
         "lots": [_line("ENDS", "49.80 g", all=True)]},
        "move of a lot that a count missed",
        "Found again: place +R, difference −R in the area that missed it, then the move as any other. Discard, "
        "work and "
        "ship find a lot in the same way.",
        "",
    ),
    Example(
        {"ticket": "T-20", "kind": "discard", "at": "2026-10-15T08:00", "by": "AL", "area": "VAULT",
         "lots": [_line("SLAG", "1.00 g", all=True, content={"gold": "0.44 g"}, method="FIRE")]},
        "discard",
        "place −R, loss +M, M as measured, difference R − M. A known loss is not mixed with an unknown one.",
        "R = 0.45, M = 0.44.",
    ),
    Example(
        {"ticket": "T-21", "kind": "writeoff", "at": "2026-10-16T08:00", "by": "CY", "witness": "AL", "area": "SHOP",
         "metal": "gold", "mass": "0.10 g", "cause": "spill", "evidence": "incident note 7",
         "reason": "splash on the pit wall"},
        "writeoff",
        "difference −m, loss +m: by name, cause and evidence. No more than stands open can be written off, and the "
        "month's loss does not change by it.",
        "",
    ),
    Example(
        {"ticket": "T-22", "kind": "void", "at": "2026-10-16T09:00", "by": "CY", "numbers": ["T-90"],
         "reason": "form torn"},
        "void",
        "No postings. The spoiled number is kept with its reason, and can be used by no ticket.",
        "",
    ),
    Example(
        {"ticket": "T-23", "kind": "receive", "at": "2026-10-19T08:00", "by": "AL", "party": "ELM", "terms": "bought",
         "to": "VAULT", "lots": [_line("WIRE", "12.40 g", fineness="800‰", method="FIRE")]},
    ),
    Example(
        {"ticket": "T-24", "kind": "move", "at": "2026-10-19T10:00", "by": "AL", "from": "VAULT", "to": "SHOP",
         "lots": [_line("WIRE", "14.20 g", all=True)]},
    ),
    Example(
        {"ticket": "T-25", "kind": "reverse", "at": "2026-10-19T15:00", "by": "CY", "of": "T-23",
         "reason": "keyed 12.40 g; the slip says 14.20 g"},
        "reverse",
        "The exact opposite of every posting of an earlier ticket, once, at that ticket's date. A lot that a "
        "later ticket "
        "has emptied or counted keeps the stock that this left: the opposite is taken back there, into the area's "
        "difference, at the later ticket's date.",
        "T-23 had received WIRE, bought, at 12.40 g × 800 ‰ = 9.92 of gold. T-24 then moved all of it, weighed "
        "14.20 g: "
        "R − W = 9.92 − 11.36 = −1.44, a gain in VAULT. WIRE has left VAULT, so what the reversal takes out is "
        "put back "
        "against the difference.",
    ),
    Example(
        {"ticket": "T-26", "kind": "receive", "at": "2026-10-19T08:00", "by": "AL", "party": "ELM", "terms": "bought",
         "corrects": "T-23", "to": "VAULT", "lots": [_line("WIRE", "14.20 g", fineness="800‰", method="FIRE")]},
        "correction",
        "The ticket as it should have been, under a number of its own, that says what it `corrects`; it posts "
        "as its kind "
        "does, and may be dated before what was recorded since. The same rule holds for a lot that has left. If a "
        "determination changes, what was made from the lot is re-valued.",
        "VAULT's difference in gold on account of WIRE: −1.44 (T-24) − 9.92 (T-25) + 11.36 (T-26) = 0.",
    ),
    Example(
        {"ticket": "T-27", "kind": "receive", "at": "2026-10-20T08:00", "by": "AL", "party": "ELM", "terms": "bought",
         "to": "SHOP", "lots": [_line("COIL", "500.00 g", fineness="25‰", method="FIRE")]},
    ),
    Example(
        {"ticket": "T-28", "kind": "work", "at": "2026-10-20T09:00", "by": "BO", "operation": "ROLL", "area": "SHOP",
         "job": "J-1", "in": [_line("COIL", "499.90 g", all=True)], "out": [_line("ROLLED-1", "200.00 g")]},
        "work with job",
        "Each input place −R, difference R − W, place(job) +W; each output place(job) −O, place +O. What is in and not "
        "yet out stands in the area as the job, and is counted as one line. An output takes the job's content left ÷ "
        "its mass left.",
        "R = 12.50, W = 499.90 × 25 ‰ = 12.4975; out 200 × 25 ‰ = 5.",
    ),
    Example(
        {"ticket": "T-29", "kind": "work", "at": "2026-10-21T02:00", "by": "BO", "operation": "ROLL", "area": "SHOP",
         "job": "J-1", "out": [_line("ROLLED-2", "299.50 g")], "done": True},
        "work with job, done",
        "What is left of the job is its own difference, struck once: place(job) −rest, difference +rest.",
        "Left 7.4975, out 299.50 × 25 ‰ = 7.4875: 0.01 is missing.",
    ),
    Example(
        {"ticket": "T-30", "kind": "move", "at": "2026-10-21T08:00", "by": "BO", "from": "SHOP", "to": "AWAY",
         "in_transit": True, "lots": [_line("ROLLED-1", "199.98 g", all=True), {"lot": "SWEEPS", "all": True}]},
        "move, in transit",
        "place(from) −R, difference(from) R − W, transit(move, lot) +W: still the sender's to answer for.",
        "R = 5, W = 199.98 × 25 ‰ = 4.9995. SWEEPS was not weighed again: recorded figures move.",
    ),
    Example(
        {"ticket": "T-31", "kind": "arrive", "at": "2026-10-22T10:00", "by": "AL", "of": "T-30",
         "lots": [_line("ROLLED-1", "199.96 g"), {"lot": "SWEEPS", "all": True}]},
        "arrive",
        "By the receiver's own reading: transit −W, place(to) +V, difference(to) W − V. A lot that never came is a "
        "line of 0 g: it is missed where it should have come, and can be found again.",
        "V = 199.96 × 25 ‰ = 4.999.",
    ),
    Example(
        {"ticket": "T-32", "kind": "settle", "at": "2026-10-29T10:00", "by": "AL", "area": "AWAY", "party": "ASH",
         "lots": [{"lot": "ROLLED-1", "received": "199.90 g", "agreed": {"gold": "4.99 g"},
                   "payable": {"gold": "4.94 g"}},
                  {"lot": "SWEEPS", "received": "0.30 g", "agreed": {"gold": "0.11 g"},
                   "payable": {"gold": "0.11 g"}, "terms": "pool"}]},
        "settle",
        "place −R, difference R − A, party +P, retained A − P; A agreed, P payable; of gross A is the metallic mass "
        "received and P the sum of the payables. An estimated sweep trues up the dust of the area swept instead of a "
        "difference.",
        "ROLLED-1: R = 4.999, A = 4.99, P = 4.94. SWEEPS was estimated at 0.12; 0.11 came.",
    ),
    Example(
        {"ticket": "T-33", "kind": "transfer", "at": "2026-10-29T11:00", "by": "AL",
         "from": {"party": "ASH", "terms": "pool"}, "to": "own", "metal": "gold", "fine": "0.10 g",
         "reason": "pool metal sold to ASH"},
        "transfer",
        "Metal on paper, no lots: from −F, to +F. Selling out of a pool: from the party to own; pricing out a lease: "
        "from own to the party. Fine metal is its own gross.",
        "",
    ),
    Example(
        {"ticket": "T-34", "kind": "checkweigh", "at": "2026-10-30T07:00", "by": "AL", "scale": "S1",
         "standard": "200.0 g", "reading": "200.01 g"},
        "checkweigh",
        "No postings. A reading off its check weight by more than the scale's repeatability and sensitivity explain is "
        "flagged *out of control*.",
        "",
    ),
)  # fmt: skip

HEAD: Final = """\
# Postings

Written by running the program: `python -m tests.book.postings_page` enters the tickets below, in this order, into a
tiny book (the Tiny Works and everybody in it are **invented**, gold only) and prints what each posts; a test keeps it
so. Masses are in grams.

Every ticket's postings sum to zero, for each metal and for gross. Gross is metallic mass, booked as if it were one more
metal. R is the content the book has for what leaves, W the re-weighed mass × the lot's fineness, V what the receiver or
the list says, B what is billed, O an output, C what is counted, M what is measured, S what is swept.

## Accounts

| account | + means | − means |
|---|---|---|
| place (area, lot) | metal in the area's custody | cannot be, or the ticket is flagged *below nothing* |
| dust (area) | recoverable dust: expected, not weighed | more taken up than has accrued so far |
| difference (area) | **missing**, and not yet explained | a gain: more is there than the book has |
| loss (area, cause) | gone: measured, written off by name, or normal at a close | a gain written off |
| party (party, terms) | owed to us | owed by us: deposited, leased |
| own | metal of ours gone out, sold | the plant's own stake |
| transit (area, lot) | sent from the area and not yet arrived | cannot be |
| give-away (party) | shipped beyond what was billed | billed and not there: under-delivery |
| retained (party) | content a refiner keeps by contract | cannot be |

`difference` postings carry an origin, which is a column of the [statement](statement.md): work, reweighing, count,
transfer, revaluation; take_on, write-off, close and shortfall stand outside the month's loss.

## The kinds
"""


Row = tuple[str, str, int, int]

_POSTINGS: Final = """
    SELECT p.class || CASE WHEN p.area IS NULL AND p.party IS NULL THEN ''
           ELSE ' (' || coalesce(p.area, p.party) || coalesce(', ' || coalesce(o.number, p.terms, p.cause), '') || ')'
           END,
           coalesce(p.origin, ''), p.metal, p.ng
    FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket LEFT JOIN lot AS o ON o.id = p.lot
    WHERE t.number = ? ORDER BY p.rowid"""


def page() -> str:
    """Return the whole page."""
    parts = [HEAD]
    with tempfile.TemporaryDirectory() as name:
        book = Path(name) / "tiny.lemel"
        _fill(book, Path(name) / "tickets.jsonl")
        with reading(book) as connection:
            parts.extend(_section(connection, example) for example in EXAMPLES if example.heading)
            parts.append(_close_section(connection))
    return "\n".join(parts)


def _fill(book: Path, file: Path) -> None:
    new_book(book, parse_setup(PLANT), "page")
    file.write_text("".join(f"{_ticket(example)}\n" for example in EXAMPLES), encoding="utf-8")
    with writing(book) as connection:
        entered = enter(connection, read_file(str(file)), "page")
        assert entered.recorded == len(EXAMPLES)
        notes = dict.fromkeys(("VAULT", "SHOP", "AWAY"), "invented")
        answers = Answers("DI", "EL", notes, {"SHOP": "slag assayed"}, {"T-35": "invented"})
        close_period(connection, "2026-10", answers, Stamp("2026-11-01T08:00:00+00:00", "page"))


def _close_section(connection: sqlite3.Connection) -> str:
    rule = ("Of a period, all areas: difference −E, dust +qE, loss +(1−q)E, E being the normal loss allowed and q the "
            "recoverable share of it; after a clean-out, what the dust should then not have held any more: dust −rest, "
            "difference +rest (origin *shortfall*). Here SHOP's work of the tickets above.")  # fmt: skip
    command = 'lemel close 2026-10 --by DI --with EL --evidence "SHOP=slag assayed" --note …'
    rows = _table(_rows(connection, close_number("2026-10")))
    return "\n".join([f"### close\n\n{fill(rule, 118)}\n\n```sh\n{command}\n```\n", *rows, ""])


def _ticket(example: Example) -> str:
    return json.dumps(example.ticket, ensure_ascii=False)


def _section(connection: sqlite3.Connection, example: Example) -> str:
    rows = _rows(connection, example.ticket["ticket"])
    head = f"### {example.heading}\n\n{fill(example.rule, 118)}\n\n```json\n{_ticket(example)}\n```\n"
    if not rows:
        return head
    return "\n".join([head, *_table(rows), *([f"\n{fill(example.working, 118)}"] if example.working else []), ""])


def _rows(connection: sqlite3.Connection, number: str) -> list[Row]:
    """Return account, origin, gross and gold of a ticket's postings, in their order: one row for both metals."""
    rows: list[Row] = []
    metals: set[str] = set()
    for account, origin, metal, ng in connection.execute(_POSTINGS, (number,)):
        if not rows or rows[-1][:2] != (account, origin) or metal in metals:
            rows.append((account, origin, 0, 0))
            metals = set()
        metals.add(metal)
        gross, gold = rows[-1][2:]
        rows[-1] = (account, origin, gross + ng * (metal == "gross"), gold + ng * (metal == "gold"))
    return rows


def _table(rows: Sequence[Row]) -> Iterator[str]:
    yield "| account | origin | gross | gold |\n|---|---|---:|---:|"
    for account, origin, gross, gold in rows:
        yield f"| {account} | {origin} | {_mass(gross)} | {_mass(gold)} |"
    yield f"| *sum* | | {_mass(sum(row[2] for row in rows))} | {_mass(sum(row[3] for row in rows))} |"


def _mass(ng: int) -> str:
    whole, _, rest = grams_text(ng).partition(".")
    return f"{whole}.{rest.rstrip('0')}".rstrip(".").replace("-", "−")


if __name__ == "__main__":
    print(page(), end="")
