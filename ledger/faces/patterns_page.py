"""The patterns for people: what stands out, what it cannot be told from, and with which caution it is read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.caution import BY_PERSON, say_caution
from ledger.faces.printing import Table, counted, mass, ng_of, say, say_table, say_text
from ledger.faces.statement import money_text

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts

Document = dict[str, Any]

LAW: Final = f"Codes only. {BY_PERSON}"
_PARTS: Final = (
    "What would part them: for some weeks the same work by another person, shift or machine; and a second weighing of "
    "what comes out, by somebody who does not see the first."
)

#: Tickets that stand out by themselves are named up to so many; the document has all.
_NAMED: Final = 8


def say_patterns(document: Document, facts: PlantFacts, unit: str) -> None:
    """Print the page."""
    say_text(f"Patterns in the work tickets of {document['plant']}, {document['from']} to {document['to']}: "
             f"{document['metal']}, in {unit}")  # fmt: skip
    say_text("A difference is + where metal is missing. Shares are of the content put in.")
    say_text(f"{document['tickets']:,} work tickets and jobs, each less its normal loss, compared within "
             f"{counted(document['strata'], 'group')} of one operation and material: "
             f"{counted(document['comparisons'], 'comparison')}. Of the patterns named, on average at most "
             f"{document['false_discovery_rate']:.0%} are chance.")  # fmt: skip
    say()
    if not document["patterns"]:
        say_text("Nothing stands out: no person, shift, machine, scale, weekday or condition goes with excess loss.")
    for number, pattern in enumerate(document["patterns"], 1):
        _say_pattern(number, pattern, facts, unit)
    _say_left_out(document)
    _say_standing_out(document["standing_out"])
    _say_untested(document["untested"])
    say()
    say_text(LAW)
    say()
    say_caution()


def _say_pattern(number: int, pattern: Document, facts: PlantFacts, unit: str) -> None:
    lead = f"{number}  "
    indent = " " * len(lead)
    same = pattern["inseparable_from"]
    along = [one for one in same if one["way"] == "with"]
    say_text(f"{', or '.join(_name(one) for one in (pattern, *along))}: {_what(pattern)}", indent, lead)
    say_text(f"{counted(pattern['tickets'], 'ticket')}, {mass(ng_of(pattern['input']), unit)} {unit} put in"
             f"{_size(pattern, facts, unit)}. By chance {_chance(pattern['p'])}.", indent)  # fmt: skip
    if same:
        against = _names(one for one in same if one["way"] == "against")
        other = f"whether {against} loses less than is usual" if against else ""
        said = ", or ".join(part for part in ("which" if along else "", other) if part)
        say_text(f"These tickets do not tell {said}. {_PARTS}", indent)
    if pattern["goes_with"]:
        say_text(f"Explained by it: {_names(pattern['goes_with'])}.", indent)
    say()


def _name(one: Document) -> str:
    where = f" in {one['operation']}" if one["operation"] else ""
    return f"{one['factor']} {one['level']}{where}"


def _names(many: Iterable[Document]) -> str:
    return ", ".join(_name(one) for one in many)


def _what(pattern: Document) -> str:
    if pattern["what"] == "mean":
        share = pattern["share"]
        more = "more" if share["value"] >= 0 else "less"
        low, high = sorted((abs(share["low"]), abs(share["high"])))
        return f"{abs(share['value']):.3%} {more} is lost than by the others (95 %: {low:.3%} to {high:.3%})."
    odds = pattern["odds"]
    if odds is None:
        return "tickets lie far from where they should all or never, unlike the others'."
    return (f"tickets lie far from where they should more often than the others': odds {odds['value']:.1f} times "
            f"theirs (95 %: {odds['low']:.1f} to {odds['high']:.1f}).")  # fmt: skip


def _size(pattern: Document, facts: PlantFacts, unit: str) -> str:
    if pattern["mass"] is None:
        return ""
    money = f", {money_text(pattern['money'])} {facts.currency}" if pattern["money"] is not None else ""
    return f": {mass(ng_of(pattern['mass']), unit)} {unit}{money}"


def _chance(p: float) -> str:
    return f"less than once in {1 / p:,.0f}" if p <= 1e-4 else f"{p:.2%}"


def _say_left_out(document: Document) -> None:
    for one in document["left_out"]:
        say_text(f"Left out: {one['ticket']} ({one['operation']}, {one['z']:+.1f} σ). {one['opposite']} weighed "
                 f"{one['lot']} again and found the opposite: one figure keyed wrong, no pattern.")  # fmt: skip


def _say_standing_out(tickets: Sequence[Document]) -> None:
    if not tickets:
        return
    say_text("Tickets that stand out by themselves; each counts here as no more than one a little out:")
    table = Table(("ticket", "operation", "σ"), frozenset((0, 1)))
    for one in sorted(tickets, key=lambda t: -abs(t["z"]))[:_NAMED]:
        table.add(one["ticket"], one["operation"], f"{one['z']:+.1f}")
    say_table(table)
    if len(tickets) > _NAMED:
        say(f"and {len(tickets) - _NAMED} more: --json has them all")


def _say_untested(untested: Sequence[Document]) -> None:
    always = [_level(one) for one in untested if one["why"] == "always"]
    few = [_level(one) for one in untested if one["why"] == "too few"]
    if always:
        say_text(f"Nothing to compare with, since no other did the same work: {', '.join(always)}. What they lose "
                 "against what is set: lemel rates, lemel trend.")  # fmt: skip
    if few:
        say_text(f"Too few tickets beside others: {', '.join(few)}.")


def _level(one: Document) -> str:
    return f"{one['factor']} {one['level']}"
