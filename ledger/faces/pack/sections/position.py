"""Metal position and owners: where the metal is, whose it is or how it went, in what sort, and what it is worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from ledger.book.holdings import stock
from ledger.faces.pack.material import Material
from ledger.faces.pack.printed import Printed
from ledger.faces.pack.schedule import Column, Row, Schedule, Section
from ledger.faces.pack.tables import count, mass, money, rows_of, share, when, words
from ledger.faces.printing import ng_of
from ledger.quantities.mass import decimal_text, grams_text

if TYPE_CHECKING:
    from ledger.book.holdings import Account, Held, Position

CLAIMS: Final = (words("whose"), words("terms"), mass("fine", "claim", summed=True))

BASES: Final = (
    words("basis"),
    count("lots", "lots", summed=True),
    mass("fine", "fine", summed=True),
    share("share", "share"),
)

SORTS: Final = (
    words("what", "class, clad, alloy or form"),
    count("lots", "lots", summed=True),
    mass("gross", "gross", summed=True),
    mass("fine", "fine", summed=True),
    money("money", "worth", summed=True),
)

VALUES: Final = (
    words("place"),
    words("outside"),
    money("end", "at the end", summed=True),
    money("mean", "mean of days"),
    money("highest", "highest"),
    when("highest_on", "on"),
)

PARTIES: Final = (
    words("party"),
    words("role"),
    words("terms"),
    mass("owed_by_us", "owed by us", summed=True),
    mass("owed_to_us", "owed to us", summed=True),
)


def section(material: Material) -> Section:
    """Return the section of the metal position."""
    schedules = [_position(material), _owners(material), _claims(material), _parties(material), _sorts(material)]
    if material.metal != "gross":
        schedules.append(_bases(material))
    if material.values["plant"] is not None:
        schedules.append(_values(material))
    return Section("position", "Metal position and owners", paragraphs=_words(material), schedules=schedules)


def _words(material: Material) -> list[str]:
    position, printed = material.positions[material.metal], Printed(material.unit, material.facts.currency)
    owed = sum(-a.ng for a in position.parties if a.ng < 0)
    same = "equal to the nanogram" if position.held == position.answered else "NOT equal: run lemel verify"
    said = [
        (
            f"{printed.with_unit(grams_text(position.held))} {material.metal} held at the end of {material.last_day}, "
            f"dust included: {printed.with_unit(grams_text(-position.own))} the plant's own stake and "
            f"{printed.with_unit(grams_text(owed))} owed to others, less what is owed to us, open, gone, given away or "
            f"kept by refiners. Both sides are {same}."
        )
    ]
    over = material.exceptions["beyond_limit"]
    return said + [
        f"{row['party']} is owed more than its limit: {printed.with_unit(row['owed'])} of "
        f"{printed.with_unit(row['limit'])}."
        for row in over
    ]


# ---- both sides -------------------------------------------------------------------------------------------------


def _position(material: Material) -> Schedule:
    """Return both sides, a row for each account, a column for each metal; the second side with its signs turned."""
    metals = list(material.positions)
    columns = [words("side"), words("what"), words("account"), *(mass(metal, metal) for metal in metals)]
    lines: dict[tuple[str, str, str], dict[str, int]] = {}
    for metal, position in material.positions.items():
        for side, what, account, ng in _lines(position):
            lines.setdefault((side, what, account), {})[metal] = ng
    ordered = sorted(lines, key=lambda line: (_SIDES.index(line[0]), _PLACES.index(line[1]), _place(material, line[2])))
    rows = [
        row
        for side in _SIDES
        for row in (
            *(_line(line, lines[line], metals) for line in ordered if line[0] == side),
            _together(side, material.positions),
        )
    ]
    return Schedule(
        "position",
        "Metal position",
        "Where the metal is, and whose it is or how it went: the two sides are equal to the nanogram in every metal.",
        columns,
        rows,
        notes=[
            (
                "Own and owed stand with a plus sign; what is owed to us, missing, gone, given away or retained is "
                "taken off. Gross is metallic mass."
            ),
            "Dust below zero was taken up before the close that accrues it.",
        ],
    )


_SIDES: Final = ("held", "answered for")
_PLACES: Final = (
    "in the areas",
    "in transit",
    "dust, not weighed",
    "own",
    "owed to others",
    "owed to us",
    "differences, open",
    "losses",
    "given away",
    "retained by refiners",
)


def _lines(position: Position) -> Iterator[tuple[str, str, str, int]]:
    held, answered = _SIDES
    for what, accounts in (
        ("in the areas", position.places),
        ("in transit", position.transit),
        ("dust, not weighed", position.dust),
    ):
        yield from ((held, what, _account(a), a.ng) for a in accounts)
    yield answered, "own", "", -position.own
    for a in position.parties:
        yield answered, "owed to others" if a.ng < 0 else "owed to us", _account(a), -a.ng
    for what, accounts in (
        ("differences, open", position.differences),
        ("losses", position.losses),
        ("given away", position.give_away),
        ("retained by refiners", position.retained),
    ):
        yield from ((answered, what, _account(a), -a.ng) for a in accounts)


def _account(account: Account) -> str:
    return f"{account.key} {account.terms}".strip()


def _place(material: Material, account: str) -> tuple[int, str]:
    code = account.split(" ")[0]
    return (material.areas.index(code) if code in material.areas else len(material.areas), account)


def _line(line: tuple[str, str, str], figures: dict[str, int], metals: Sequence[str]) -> Row:
    side, what, account = line
    return {
        "side": side,
        "what": what,
        "account": account or None,
        **{metal: grams_text(figures.get(metal, 0)) for metal in metals},
    }


def _together(side: str, positions: Mapping[str, Position]) -> Row:
    both = {metal: p.held if side == _SIDES[0] else p.answered for metal, p in positions.items()}
    return {"side": side, "what": "together", "account": None, **{metal: grams_text(ng) for metal, ng in both.items()}}


# ---- whose, what, how known, worth ------------------------------------------------------------------------------


def _owners(material: Material) -> Schedule:
    owners = material.owners["owners"]
    columns: list[Column] = [
        words("area"),
        *(mass(f"owner {o}", o, summed=True) for o in owners),
        mass("commingled", "commingled", summed=True),
        mass("fine", "held", summed=True),
    ]
    rows = (
        {**place, **{f"owner {o}": ng for o, ng in place["segregated"].items()}} for place in material.owners["places"]
    )
    return Schedule(
        "owners",
        f"Whose, place by place, {material.metal}",
        "What stands apart under an owner's name in each place; the "
        "rest is commingled, and the accounts together claim it.",
        columns,
        rows_of(columns, rows),
    )


def _claims(material: Material) -> Schedule:
    return Schedule(
        "claims",
        f"Claims, {material.metal}",
        "Who claims how much of what is held: the plant's own stake, and what is owed "
        "to others less what others owe us.",
        CLAIMS,
        rows_of(CLAIMS, material.owners["claims"]),
    )


def _parties(material: Material) -> Schedule:
    rows = (
        row for row in material.holdings["accounts"] if any(ng_of(row[key]) for key in ("owed_by_us", "owed_to_us"))
    )
    return Schedule(
        "parties",
        f"Parties, {material.metal}",
        "Every party's metal account at the end of the period, to be agreed with the party.",
        PARTIES,
        rows_of(PARTIES, rows),
    )


def _sorts(material: Material) -> Schedule:
    held = stock(material.connection, material.facts, None, material.end - 1)
    index, price = material.facts.place(material.metal), material.price
    sorts: dict[str, list[Held]] = {}
    for each in held:
        sorts.setdefault(each.described.what, []).append(each)
    rows: list[Row] = []
    for what, lots in sorted(sorts.items()):
        fine = sum(h.amounts[index] for h in lots)
        rows.append(
            {
                "what": what,
                "lots": len(lots),
                "gross": grams_text(sum(h.amounts[0] for h in lots)),
                "fine": grams_text(fine),
                "money": None if price is None else decimal_text(fine * price, 2),
            }
        )
    return Schedule(
        "sorts",
        f"By alloy, clad and class, {material.metal}",
        "What is held of each alloy, clad stock and class of scrap, in all areas together.",
        SORTS,
        rows,
    )


def _bases(material: Material) -> Schedule:
    return Schedule(
        "bases",
        f"How it is known, {material.metal}",
        "What the content held rests on: assay, calculation from assays, mark or grade, or an estimate.",
        BASES,
        rows_of(BASES, material.purity["by_basis"]),
    )


def _values(material: Material) -> Schedule:
    rows = ({**row, "outside": "outside" if row["outside"] else None} for row in material.values["places"])
    notes = [f"{material.values['days_without_price']} days without a price are left out."] * bool(
        material.values["days_without_price"]
    )
    return Schedule(
        "values",
        "Value by place",
        "What the booked metals in each place were worth over the days of the period, all metals "
        "together, at the fixing of the day.",
        VALUES,
        rows_of(VALUES, rows),
        notes=notes,
    )
