"""What was found of a sample, set against the record: taints, projected error and its upper limit.

The sample is drawn anew from its arguments: what was to be looked at, and what the book has for it, is never taken
from the file that brings the findings. A difference is recorded − found: positive where metal is missing, which is an
overstatement of the record. Overstatements and understatements are bounded apart and never netted.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from ledger.audit.bounds import attribute_upper_limit, stringer_bound
from ledger.audit.inquiry import Document, Inquiry
from ledger.audit.sample import VALUE_UNITS, LotSample, Plan, drawn_tickets, sample_lots
from ledger.balance.daily.exceptions import two_scales_sd
from ledger.book.holdings import Held, stock
from ledger.plant.assumed import scale_of_unnamed
from ledger.plant.given_file import text_of
from ledger.quantities.fineness import content_ng, parse_fineness
from ledger.quantities.mass import grams_text, parse_mass
from ledger.refusals import Fault, FormRefused, QuantityRefused

#: What a worksheet says of a lot that is not there.
NOT_THERE = "0 g"

YES, NO = ("yes", "y", "1"), ("no", "n", "0", "")


@dataclass(frozen=True, slots=True)
class Found:
    """One row of a worksheet: its line in the file, and its cells by head."""

    line: int
    cells: dict[str, str]


def worksheet(path: Path, heads: Sequence[str]) -> list[Found]:
    """Return the rows of a filled worksheet, CSV with these heads; raises FormRefused."""
    reader = csv.DictReader(text_of(path, FormRefused).splitlines())
    try:
        return _rows(path, reader, heads)
    except csv.Error as error:
        raise _fault(path, reader.line_num, f"does not read: {error}", "print the worksheet anew with --csv") from None


def _rows(path: Path, reader: csv.DictReader[str], heads: Sequence[str]) -> list[Found]:
    missing = [head for head in heads if head not in (reader.fieldnames or ())]
    if missing:
        raise FormRefused([Fault("form", f"no column {', '.join(missing)}", "print the worksheet anew with --csv",
                                 file=str(path), line=1)])  # fmt: skip
    return [Found(reader.line_num, {k: (v or "").strip() for k, v in row.items() if k}) for row in reader]


def _fault(path: Path, line: int, what: str, mend: str, field: str = "") -> FormRefused:
    return FormRefused([Fault("form", what, mend, file=str(path), line=line, field=field)])


def _mass(path: Path, row: Found) -> int:
    try:
        return parse_mass(row.cells["gross"], zero=True)
    except QuantityRefused as refused:
        fault = refused.faults[0]
        raise _fault(path, row.line, fault.what, fault.mend, "gross") from None


def _by_key(path: Path, rows: Iterable[Found], heads: Sequence[str], wanted: set[tuple[str, ...]]
            ) -> dict[tuple[str, ...], Found]:  # fmt: skip
    """Return the rows by their key; refuses a row that was not drawn, one twice, and one that is not there."""
    found: dict[tuple[str, ...], Found] = {}
    for row in rows:
        key = tuple(row.cells[head] for head in heads)
        if key in found:
            raise _fault(path, row.line, f"{' '.join(key)} is there twice", "keep one of them")
        if key not in wanted:
            raise _fault(path, row.line, f"{' '.join(key)} is not of this sample",
                         "give the options that the sample was drawn with, and only what it drew")  # fmt: skip
        found[key] = row
    left = sorted(wanted - set(found))
    if left:
        raise _fault(path, 0, f"{len(left)} drawn and not in the file: {' '.join(left[0])}, for one",
                     f'look at all that was drawn; what is not there is "{NOT_THERE}"')  # fmt: skip
    return found


# --------------------------------------------------------------------------------------------------------------- lots


def evaluate_lots(inquiry: Inquiry, plan: Plan, instant: int | None, path: Path, *, by_value: bool) -> Document:
    """Return what was found of a unit sample: ``area, lot, gross`` and, where assayed, ``fineness``."""
    sample = sample_lots(inquiry, plan, instant, by_value=by_value)
    keys = {i: (sample.items[i].held.area, sample.items[i].held.described.lot) for i in sample.chosen}
    found = _by_key(path, worksheet(path, ("area", "lot", "gross")), ("area", "lot"), set(keys.values()))
    rows = [_compared(inquiry, sample, i, path, found[keys[i]]) for i in sample.chosen]
    bounds = {way: _bound(sample, rows, plan, sign) for way, sign in (("missing", 1), ("over", -1))}
    whole = sum(max(item.units, 0) for item in sample.items)
    limit = max(bound["upper"] for bound in bounds.values())
    return {
        "sample": "lots", "metal": inquiry.metal, "by": "value" if by_value else "fine",
        "plan": plan.document(sample.size, given=plan.size is not None),
        "items": [row.document for row in rows],
        **{way: {k: _number(v, by_value=by_value) for k, v in b.items()} for way, b in bounds.items()},
        "tolerable": _number(float(plan.tolerable) * whole, by_value=by_value),
        "whole": _number(whole, by_value=by_value),
        "holds": bool(limit <= plan.tolerable * whole),
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Row:
    place: int
    difference: int
    taint: float
    hits: int
    certain: bool
    document: Document


def _compared(inquiry: Inquiry, sample: LotSample, place: int, path: Path, row: Found) -> _Row:
    held, units = sample.items[place].held, sample.items[place].units
    recorded = held.amounts[inquiry.index]
    found = _found_content(inquiry, held, path, row)
    difference = recorded - found
    taint = difference / recorded if recorded else 0.0
    document = {
        "area": held.area, "lot": held.described.lot, "recorded": grams_text(recorded), "found": grams_text(found),
        "difference": grams_text(difference), "taint": round(taint, 9),
        "assayed": bool(row.cells.get("fineness")),
    }  # fmt: skip
    hits = sample.drawn.hit.get(place, 0)
    return _Row(place, round(taint * units), taint, hits, place in sample.drawn.certain, document)


def _found_content(inquiry: Inquiry, held: Held, path: Path, row: Found) -> int:
    """Return the content found: the mass found × the fineness found, or, not assayed, the record's."""
    mass = _mass(path, row)
    if inquiry.index == 0:
        return mass
    stated = row.cells.get("fineness")
    try:
        fineness = parse_fineness(stated) if stated else None
    except QuantityRefused as refused:
        fault = refused.faults[0]
        raise _fault(path, row.line, fault.what, fault.mend, "fineness") from None
    if fineness is None:
        fineness = Fraction(held.amounts[inquiry.index], held.amounts[0]) if held.amounts[0] else Fraction(0)
    return content_ng(mass, fineness)


def _bound(sample: LotSample, rows: Sequence[_Row], plan: Plan, sign: int) -> dict[str, float]:
    """Return, in units: what is known of the certain items, what the rest projects to, and the upper limit."""
    interval = sample.drawn.interval or 0
    known = float(sum(max(sign * row.difference, 0) for row in rows if row.certain))
    taints = [sign * row.taint for row in rows for _ in range(row.hits) if sign * row.taint > 0]
    projected = interval * sum(min(t, 1.0) for t in taints)
    beyond = stringer_bound(interval, taints, float(plan.risk)) if interval else 0.0
    return {"known": known, "projected": known + projected, "upper": known + beyond}


def _number(units: float, *, by_value: bool) -> float:
    """Return units as a number of grams, or of the currency."""
    return round(units / (VALUE_UNITS if by_value else 10**9), 6)


# ------------------------------------------------------------------------------------------------- floor to the record


def evaluate_floor(inquiry: Inquiry, plan: Plan, instant: int | None, path: Path) -> Document:
    """Return what the record says of what was found: ``area, lot, gross`` and, where known, ``scale``."""
    recorded: dict[str, list[Held]] = {}
    for held in stock(inquiry.connection, inquiry.facts, None, instant):
        recorded.setdefault(held.described.lot, []).append(held)
    rows = [_looked_up(inquiry, recorded, path, row) for row in worksheet(path, ("area", "lot", "gross"))]
    return {"sample": "floor", **_rate(plan, len(rows), sum(bool(r["deviation"]) for r in rows)), "items": rows}


def _looked_up(inquiry: Inquiry, recorded: dict[str, list[Held]], path: Path, row: Found) -> Document:
    area, lot, mass = row.cells["area"], row.cells["lot"], _mass(path, row)
    held = next((h for h in recorded.get(lot, ()) if h.area == area), None)
    if held is None:
        elsewhere = ", ".join(h.area for h in recorded.get(lot, ()))
        deviation = f"recorded in {elsewhere}" if elsewhere else "not in the record"
        return {"area": area, "lot": lot, "found": grams_text(mass), "recorded": None, "difference": None,
                "deviation": deviation}  # fmt: skip
    difference = held.amounts[0] - mass
    scale = inquiry.setup.scales.get(row.cells.get("scale", "")) or scale_of_unnamed(inquiry.setup)
    allowed = float(inquiry.setup.plant.act) * two_scales_sd(scale, scale, mass, same=False) if scale else 0.0
    return {
        "area": area, "lot": lot, "found": grams_text(mass), "recorded": grams_text(held.amounts[0]),
        "difference": grams_text(difference),
        "deviation": "weighs otherwise" if abs(difference) > allowed else None,
    }  # fmt: skip


# ------------------------------------------------------------------------------------------------------------ tickets


def evaluate_tickets(inquiry: Inquiry, plan: Plan, numbers: Sequence[str], path: Path) -> Document:
    """Return the rate of deviations in a sample of tickets: ``ticket, deviation`` (yes or no) and ``remark``."""
    drawn, size = drawn_tickets(plan, numbers)
    found = _by_key(path, worksheet(path, ("ticket", "deviation")), ("ticket",), {(number,) for number in drawn})
    rows: list[dict[str, Any]] = []
    for number in drawn:
        row = found[(number,)]
        said = row.cells["deviation"].lower()
        if said not in (*YES, *NO):
            raise _fault(path, row.line, f"{said!r} is neither yes nor no", "write yes or no", "deviation")
        rows.append({"ticket": number, "deviation": said in YES, "remark": row.cells.get("remark") or None})
    return {"sample": "tickets", **_rate(plan, len(drawn), sum(r["deviation"] for r in rows)), "size": size,
            "items": rows}  # fmt: skip


def _rate(plan: Plan, n: int, deviations: int) -> Document:
    limit = attribute_upper_limit(n, deviations, float(plan.risk)) if n else 1.0
    return {
        "n": n, "deviations": deviations, "rate": round(deviations / n, 9) if n else None,
        "upper": round(limit, 9), "risk": float(plan.risk), "tolerable": float(plan.tolerable),
        "holds": bool(limit <= plan.tolerable),
    }  # fmt: skip
