"""Every coefficient of U against the book itself: one reading or fineness moved, all entered anew, U compared.

Jobs of every composition, bins, counts half-way, transit, settlements, discards, sweeps, and lots found again; no
derivative is taken over from the program. U is whole nanograms, so that differences are good to about 1e-6.
"""

from __future__ import annotations

import json
import re
from copy import deepcopy
from typing import Any

import pytest

from ledger.balance.months.month import Ledger, Month
from tests.book.plants import PLANT, Book, Document, bought, lot, ticket

TEXT = PLANT + '[[bin]]\ncode = "CAN"\nclass = "ENDS"\n'
ON = {"scale": "S1"}


def count(n: int, area: str, *lots: Document) -> Document:
    return ticket(n, "count", area=area, lots=list(lots), ended=False)


def job(n: int, operation: str, area: str, in_: list[Document], out: list[Document], *, done: bool = False) -> Document:
    fields: dict[str, Any] = {"in_": in_, "out": out} | ({"done": True} if done else {})
    return ticket(n, "work", operation=operation, area=area, job="J", **{k: v for k, v in fields.items() if v})


A = bought(1, "MELT", lot("A", "400.00", gold="500", silver="200", **ON), lot("B", "300.00", gold="750", **ON))
CLAD = bought(1, "FINISH", lot("C", "200.00", clad="CL20", **ON), lot("D", "100.00", gold="500", silver="200", **ON))

BOOKS: dict[str, list[Document]] = {
    "combining job": [
        A,
        job(2, "melt", "MELT", [lot("A", "399.98", all=True, **ON)], []),
        count(3, "MELT", lot("J", "399.50", **ON), lot("B", "300.01", **ON)),
        job(4, "melt", "MELT", [lot("B", "200.00", **ON)], [lot("X", "350.00", **ON)]),
        job(5, "melt", "MELT", [], [lot("S", "9.00", gold="300", basis="estimated", **ON), lot("Y", "238.00", **ON)],
            done=True),
        count(6, "MELT", lot("X", "349.97", **ON), lot("Y", "238.03", **ON), lot("S", "8.99", **ON)),
        ticket(7, "assay", lot="S", method="FIRE", results={"gold": [["310‰", "311‰"]], "silver": [["5‰", "5‰"]]}),
    ],
    "carrying job": [
        bought(1, "ROLL", lot("A", "400.00", gold="500", silver="200", method="FIRE", **ON)),
        job(2, "roll", "ROLL", [lot("A", "300.00", **ON)], [lot("X", "120.00", **ON)]),
        job(3, "roll", "ROLL", [lot("A", "99.97", all=True, **ON)], [{"bin": "CAN", "mass": "20.00 g", **ON}]),
        job(4, "roll", "ROLL", [], [lot("Y", "259.70", **ON)], done=True),
        ticket(5, "move", from_="ROLL", to="MELT", lots=[lot("CAN", "20.02", all=True, **ON)]),
    ],
    "surface job": [
        CLAD,
        job(2, "buff", "FINISH", [lot("C", "199.98", all=True, **ON), lot("D", "50.00", **ON)], []),
        count(3, "FINISH", lot("J", "249.60", **ON)),
        job(4, "buff", "FINISH", [], [lot("X", "100.00", **ON)]),
        job(5, "buff", "FINISH", [], [lot("Y", "149.00", **ON)], done=True),
        count(6, "FINISH", lot("X", "99.98", **ON), lot("Y", "149.03", **ON), lot("D", "50.01", **ON)),
    ],
    "content job": [
        A,
        job(2, "pickle", "MELT", [lot("A", "399.98", all=True, **ON)], [lot("X", "150.00", **ON)]),
        count(3, "MELT", lot("J", "249.90", **ON)),
        job(4, "pickle", "MELT", [], [lot("Y", "249.40", **ON)], done=True),
        ticket(5, "assay", lot="Y", method="FIRE", results={"gold": [["501‰"], ["501.2‰"]]}),
    ],
    "surface work with a layer": [
        CLAD,
        ticket(2, "work", operation="buff", area="FINISH", in_=[lot("C", "200.01", all=True, **ON)],
               out=[lot("X", "120.00", **ON), lot("Y", "79.20", **ON)]),
        count(3, "FINISH", lot("X", "119.99", **ON), lot("Y", "79.21", **ON)),
    ],
    "bins, a discard and a sweep": [
        bought(1, "ROLL", lot("A", "400.00", gold="500", silver="200", **ON), lot("B", "90.00", gold="750", **ON)),
        ticket(2, "work", operation="roll", area="ROLL", in_=[lot("A", "399.98", all=True, **ON)],
               out=[lot("X", "300.00", **ON), {"bin": "ENDS-CAN", "mass": "99.80 g", **ON}]),
        ticket(3, "work", operation="roll", area="ROLL", in_=[lot("B", "90.02", all=True, **ON)],
               out=[lot("Z", "60.00", **ON), {"bin": "ENDS-CAN", "mass": "29.90 g", **ON}]),
        ticket(4, "move", from_="ROLL", to="MELT", lots=[lot("ENDS-CAN", "50.00", received_mass="49.99 g",
                                                             received_scale="S1", **ON)]),
        count(5, "ROLL", lot("ENDS-CAN", "79.65", **ON)),
        ticket(6, "discard", area="ROLL", lots=[lot("X", "300.02", all=True, results={"gold": [["499‰"]],
                                                "silver": [["201‰"]]}, **ON)]),
        ticket(7, "sweep", area="ROLL", lots=[lot("SW", "40.00", gold="12", basis="estimated", **ON)]),
        ticket(8, "move", from_="ROLL", to="PLATER", lots=[lot("SW", "39.98", all=True, **ON)]),
        ticket(9, "settle", area="PLATER", party="REF", lots=[{"lot": "SW", "received": "39.90 g", "agreed":
               {"gold": "0.51 g", "silver": "0.00 g"}, "payable": {"gold": "0.50 g", "silver": "0.00 g"}}]),
    ],
    "transit, and found again": [
        bought(1, "VAULT", lot("A", "400.00", gold="500", silver="200", **ON)),
        ticket(2, "move", from_="VAULT", to="MELT", in_transit=True, lots=[lot("A", "250.00", **ON)]),
        ticket(3, "assay", lot="A", method="FIRE", results={"gold": [["501‰", "502‰"]]}),
        ticket(4, "arrive", of="T-0002", lots=[lot("A", "249.99", **ON)]),
        ticket(5, "count", area="VAULT", lots=[], nil=True),
        ticket(6, "move", from_="VAULT", to="ROLL", lots=[lot("A", "149.97", all=True, **ON)]),
    ],
}  # fmt: skip

STEP = {"g": 0.01, "‰": 0.5}
_FIGURES = re.compile(r"([0-9.]+) ?(g|‰)")


def unexplained(documents: list[Document]) -> dict[tuple[str, str], int]:
    book = Book(documents, TEXT)
    found = {}
    for metal in book.metals:
        month = Ledger(book.connection, metal).month("2026-10")
        for area in month.setup.areas:
            found[metal, area] = month.columns(area).unexplained
    return found


def months(book: Book) -> dict[str, Month]:
    return {metal: Ledger(book.connection, metal).month("2026-10") for metal in book.metals}


def moved(documents: list[Document], ticket_index: int, keys: list[Any], by: int) -> dict[Any, int]:
    """Return U with one figure moved by a step, up or down; all replicates of an assay move together."""
    changed = deepcopy(documents)
    place: Any = changed[ticket_index]
    for key in keys[:-1]:
        place = place[key]
    place[keys[-1]] = json.loads(_FIGURES.sub(lambda m: _step(m, by), json.dumps(place[keys[-1]], ensure_ascii=False)))
    return unexplained(changed)


def _step(match: re.Match[str], by: int) -> str:
    unit = match.group(2)
    return f"{float(match.group(1)) + by * STEP[unit]:.4f}{' g' if unit == 'g' else unit}"


READINGS = ("mass", "received_mass")


def figures(document: Document) -> list[tuple[int, list[Any], str, str]]:
    """Return (line number, path, kind of figure, metal) of every figure that has an error source of its own."""
    found: list[tuple[int, list[Any], str, str]] = []
    lines = [(side, i) for side in ("in", "out", "lots") for i in range(len(document.get(side) or ()))]
    for number, (side, i) in enumerate(lines, 1):
        line = document[side][i]
        found += [(number, [side, i, name], "reading", "") for name in READINGS if name in line]
        stated = document["kind"] in ("receive", "sweep") or "basis" in line
        if stated and "fineness" in line:
            some = [m for m, f in line["fineness"].items() if f != "0‰"]
            found += [(number, [side, i, "fineness", m], "fineness", m) for m in some]
        if "results" in line:
            found += [(number, [side, i, "results", m], "fineness", m) for m in line["results"]]
    if "results" in document:
        found += [(1, ["results", m], "fineness", m) for m in document["results"]]
    return found


KINDS = {"reading": ("reading",), "fineness": ("measured", "nominal", "estimated")}


@pytest.mark.parametrize("name", BOOKS)
def test_every_coefficient_is_the_book_s_own(name: str) -> None:
    documents = BOOKS[name]
    by_metal = months(Book(documents, TEXT))
    checked = 0
    for index, document in enumerate(documents):
        groups: dict[tuple[int, str, str], list[list[Any]]] = {}
        for number, path, kind, metal in figures(document):
            groups.setdefault((number, kind, metal), []).append(path)
        for (number, kind, metal), paths in groups.items():
            slopes: dict[Any, float] = {}
            step = STEP["g"] * 1e9 if kind == "reading" else STEP["‰"] / 1000
            for path in paths:
                up, down = (moved(documents, index, path, by) for by in (1, -1))
                for key in up:
                    slopes[key] = slopes.get(key, 0.0) + (up[key] - down[key]) / (2 * step)
            for (of, area), slope in slopes.items():
                month = by_metal[of]
                ours = sum(
                    c for r, c in month.row(area).items()
                    if (s := month.tape.source(r)).kind in KINDS[kind]
                    and (s.ticket, s.line, s.metal) == (document["ticket"], number, metal)
                )  # fmt: skip
                tolerance = 2e-6 if kind == "reading" else 1e-6 * 4e11
                assert ours == pytest.approx(slope, abs=tolerance), (document, number, of, area)
                checked += bool(ours)
    assert checked > 5
