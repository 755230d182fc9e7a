"""What a recorded ticket came to, for people and for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ledger.faces.bench.recording import Result
from ledger.faces.printing import Table, mass, say, say_table, say_text
from ledger.quantities.mass import grams_text


def say_result(result: Result, unit: str) -> None:
    """Print one recorded ticket: content by line, difference by area, and what is irregular, in words."""
    document = result.document
    corrects = f", corrects {document['corrects']}" if "corrects" in document else ""
    say(f"recorded {result.number}: {document['kind']}, {document['at']}{corrects}")
    if document["kind"] == "reverse":
        say_text(f"reverses {document['of']}: {document['reason']}", indent="  ")
    elif result.lines:
        say_table(_content(result, unit))
    for area, amounts in result.differences.items():
        _say_amounts(f"difference in {area} (+ is missing)", result, amounts, unit)
    if not result.differences and result.lines:
        say("no difference")
    if any(result.give_away):
        _say_amounts("beyond what is billed (- is short)", result, result.give_away, unit)
    for flag, words in result.flags:
        say_text(f"irregular: {flag}: {words}", indent="  ", first="")


def _say_amounts(what: str, result: Result, amounts: Sequence[int], unit: str) -> None:
    figures = (f"{metal} {mass(ng, unit, more=1)}" for metal, ng in zip(result.metals, amounts, strict=True))
    say_text(f"{what}: {', '.join(figures)} {unit}", indent="  ", first="")


def _content(result: Result, unit: str) -> Table:
    table = Table(["lot", "line", "area", *(f"{metal}, {unit}" for metal in result.metals)], frozenset((0, 1, 2)))
    for line in result.lines:
        table.add(line.lot, line.side, line.area, *(mass(ng, unit) for ng in line.content))
    return table


def results_document(results: Sequence[Result]) -> dict[str, Any]:
    """Return recorded tickets as JSON-able figures, masses in grams with all their digits."""
    return {"recorded": [_document(result) for result in results]}


def _document(result: Result) -> dict[str, Any]:
    def grams(amounts: Sequence[int]) -> dict[str, Any]:
        fine = {metal: grams_text(ng) for metal, ng in zip(result.metals[1:], amounts[1:], strict=True)}
        return {"gross": grams_text(amounts[0]), "fine": fine}

    return {
        "ticket": result.document,
        "lines": [{"lot": line.lot, "line": line.side, "area": line.area, **grams(line.content)}
                  for line in result.lines],
        "differences": [{"area": area, **grams(amounts)} for area, amounts in result.differences.items()],
        "give_away": grams(result.give_away),
        "irregular": [{"flag": flag, "words": words} for flag, words in result.flags],
    }  # fmt: skip
