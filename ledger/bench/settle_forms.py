"""How the values of an out-turn, or of a lot of sweeps, are written, and what exact value each stands for."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any, Final

from pydantic import PlainValidator

from ledger.plant.forms import Form, refused, shown
from ledger.quantities.fineness import parse_fineness, parse_share
from ledger.quantities.mass import NG_PER_UNIT, parse_mass
from ledger.refusals import QuantityRefused

#: Determinations of one metal: by sample, then by replicate, fine over settled mass.
Samples = tuple[tuple[Fraction, ...], ...]

_LONGEST: Final = 200


def determination(value: object) -> Fraction:
    """Return one determination: a fineness in text, or a whole number of per mille."""
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if not isinstance(text, str):
        raise refused(f"{shown(value)} is not a determination", 'write "585.2‰", or 585.2 from 333 on')
    try:
        return parse_fineness(text)
    except QuantityRefused as refusal:
        raise refused(refusal.faults[0].what, refusal.faults[0].mend) from None


def read_samples(value: object) -> Samples:
    """Return determinations written as one, as a list of replicates of one sample, or as a list by sample."""
    mend = 'write one determination, "585.2‰", or a list by sample: [["585.1‰", "585.3‰"], ["584.9‰"]]'
    rows: list[Any] = value if isinstance(value, list) else [value]
    if rows and not any(isinstance(row, list) for row in rows):
        rows = [rows]
    if not 0 < len(rows) <= _LONGEST or not all(isinstance(row, list) and 0 < len(row) <= _LONGEST for row in rows):
        raise refused(f"{shown(value)} is not a list of samples", mend)
    return tuple(tuple(determination(one) for one in row) for row in rows)


def read_by_metal(value: object) -> dict[str, Samples]:
    """Return determinations by metal."""
    if not isinstance(value, dict) or not value:
        raise refused(f"{shown(value)} is not by metal", 'write { gold = ["585.1‰", "585.3‰"] }')
    return {str(metal): read_samples(one) for metal, one in value.items()}


def read_splitting(value: object) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return the limits by grade, from the lowest: (grade from which it holds, limit)."""
    mend = 'write "0.5‰", or by grade [{ from = "0‰", limit = "0.3‰" }, { from = "500‰", limit = "0.5‰" }]'
    rows = value if isinstance(value, list) else [{"from": "0‰", "limit": value}]
    limits = []
    for row in rows:
        grade, limit = (row.get("from"), row.get("limit")) if isinstance(row, dict) and len(row) == 2 else (None, None)
        if not isinstance(grade, str) or not isinstance(limit, str):
            raise refused(f"{shown(value)} is not a splitting limit", mend)
        try:
            limits.append((parse_fineness(grade), parse_share(limit)))
        except QuantityRefused as refusal:
            raise refused(refusal.faults[0].what, mend) from None
    grades = [grade for grade, _ in limits]
    if not limits or grades[0] != 0 or any(a >= b for a, b in pairwise(grades)):
        raise refused("the grades of a splitting limit start at 0 and rise", mend)
    return tuple(limits)


def read_masses(value: object) -> tuple[int, ...]:
    """Return one mass or several, ng."""
    texts = [text for text in (value if isinstance(value, list) else [value]) if isinstance(text, str)]
    mend = 'write "9120.0 g", or a list of what was weighed apart: ["9000.0 g", "120.0 g"]'
    if not 0 < len(texts) <= _LONGEST or (isinstance(value, list) and len(texts) < len(value)):
        raise refused(f"{shown(value)} is not a mass after melting", mend)
    try:
        return tuple(parse_mass(text) for text in texts)
    except QuantityRefused as refusal:
        raise refused(refusal.faults[0].what, refusal.faults[0].mend) from None


def read_content(value: object) -> dict[str, int]:
    """Return content by metal, ng."""
    if not isinstance(value, dict) or not all(isinstance(one, str) for one in value.values()):
        raise refused(f"{shown(value)} is not a content by metal", 'write { gold = "0.35 g" }')
    try:
        return {str(metal): parse_mass(one, zero=True) for metal, one in value.items()}
    except QuantityRefused as refusal:
        raise refused(refusal.faults[0].what, refusal.faults[0].mend) from None


def read_unit(value: object) -> str:
    """Return what a charge goes by."""
    known = ("lot", "settlement", *NG_PER_UNIT)
    if not isinstance(value, str) or value not in known:
        raise refused(f"{shown(value)} is nothing to charge by", "write lot, settlement or a unit: kg, ozt …")
    return value


def read_days(value: object) -> int:
    """Return a number of days, none or more."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 36_600:
        raise refused(f"{shown(value)} is not a number of days", "write days = 30")
    return value


def read_mass_unit(value: object) -> str:
    """Return a unit of mass."""
    if not isinstance(value, str) or value not in NG_PER_UNIT:
        raise refused(f"{shown(value)} is not a unit of mass", 'write per = "ozt"; known are ' + ", ".join(NG_PER_UNIT))
    return value


#: Determinations by metal, then by sample, then by replicate.
ByMetal = Annotated[
    dict[str, Samples], PlainValidator(read_by_metal), Form('by metal, `{ gold = [["585.1‰", "585.3‰"], ["584.9‰"]] }`')
]
Masses = Annotated[tuple[int, ...], PlainValidator(read_masses), Form('mass or masses, `"9120.0 g"`', "ng")]
ContentByMetal = Annotated[dict[str, int], PlainValidator(read_content), Form('`{ gold = "0.35 g" }`', "ng")]
Splitting = Annotated[
    tuple[tuple[Fraction, Fraction], ...], PlainValidator(read_splitting), Form('`"0.5‰"`, or limits by grade')
]
ChargedBy = Annotated[str, PlainValidator(read_unit), Form("`lot`, `settlement`, or a unit of mass")]
DayCount = Annotated[int, PlainValidator(read_days), Form("whole number of days", "d")]
MassUnit = Annotated[str, PlainValidator(read_mass_unit), Form("unit of mass, `ozt`")]
