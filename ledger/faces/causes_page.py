"""The ranked causes for people: a sentence each, its share, its size, what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.caution import say_caution
from ledger.faces.printing import mass, ng_of, say, say_text, sentence
from ledger.quantities.mass import parse_mass

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts

#: Shares below this are listed in one line at the end.
_SHOWN = 0.05


def say_causes(document: dict[str, Any], facts: PlantFacts, unit: str) -> None:
    """Print the page."""
    where = document["area"] or "all areas"
    say_text(f"Causes in {where}, {document['period']}: {document['metal']}, in {unit}; + where the book has too much")
    say_text(f"{document['components']:,} differences weighed; shares are of the causes tried")
    say()
    for row in document["causes"]:
        if row["share"] >= _SHOWN or row["family"] == "chance":
            _say(row, facts, document["metal"], unit)
    faint = [row for row in document["causes"] if row["share"] < _SHOWN and row["family"] != "chance"]
    if faint:
        said = "; ".join(f"{row['cause']} ({_share(row['share'])})" for row in faint)
        say_text(f"Faintly also: {said}.")
        say()
    _say_before(document)
    say_caution()


def _share(share: float) -> str:
    if share >= 0.995:
        return "> 99 %"
    return "< 1 %" if share < 0.01 else f"{share:.0%}".replace("%", " %")


def _say(row: dict[str, Any], facts: PlantFacts, metal: str, unit: str) -> None:
    lead = f"{row['rank']:3}  {_share(row['share'])}  {row['family'].replace('_', ' ')}: "
    say_text(sentence(row["cause"]), "       ", lead)
    if row["family"] == "chance":
        say()
        return
    money = f", {row['money']} {facts.currency}" if row["money"] is not None else ""
    size = mass(parse_mass(f"{row['size']} g", signed=True, zero=True), unit)
    moves = f"size {size} {unit}{money}" if ng_of(row["size"]) else f"moves no {metal}"
    say_text(f"{moves}; {row['residual_z']:.1f} σ{_areas(row, unit)}", "       ", "       ")
    if row["inseparable_from"]:
        ranks = ", ".join(map(str, row["inseparable_from"]))
        say_text(f"the figures cannot tell it from {ranks}", "       ", "       ")
    say_text(f"check: {row['check']}", "       ", "       ")
    if row["earlier"]:
        say_text(f"sooner: {row['earlier']}", "       ", "       ")
    say()


def _areas(row: dict[str, Any], unit: str) -> str:
    def text(grams: str) -> str:
        return mass(parse_mass(f"{grams} g", signed=True, zero=True), unit)

    parts = [
        f"{area} unexplained {text(both['unexplained'])}, without it {text(both['without_it'])}"
        for area, both in row["balances"].items()
        if both["unexplained"] != both["without_it"]
    ]
    return "; " + "; ".join(parts[:4]) if parts else ""


def _say_before(document: dict[str, Any]) -> None:
    if document["before"]:
        rates = "; ".join(
            f"{one['family'].replace('_', ' ')} {one['rate']:.2g} of {one['of']}"
            + (f" (confirmed {one['confirmed']} ×)" if one["confirmed"] else "")
            for one in document["before"]
        )
        say_text(f"Taken as probable before looking: {rates}. Keying errors: Verhoeff 1969; the rest assumed.")
        say()
