"""What was given on the command line, taken down on the sheet as if it had been answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ledger.book.intake.columns import is_column, known_columns
from ledger.faces.bench.conversation import Conversation
from ledger.faces.bench.sheet import Line
from ledger.refusals import WrongUsage


@dataclass(frozen=True, slots=True)
class Given:
    """Fields by name; one line by lot, mass and whether all of it goes; whole lines by side; and further fields."""

    named: dict[str, str] = field(default_factory=dict)
    lot: str | None = None
    mass: str | None = None
    all: bool | None = None
    sides: dict[str, Sequence[str]] = field(default_factory=dict)
    more: Sequence[str] = ()


def take(given: Given, conversation: Conversation) -> None:
    """Take down everything given; raises WrongUsage for what has no place on a ticket of the kind."""
    conversation.name(given.named, None)
    line = _one_line(given, conversation)
    for name, texts in given.sides.items():
        for text in texts:
            _whole_line(name, text, conversation)
    conversation.name(dict(map(_named, given.more)), line)


def _named(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not is_column(name, known_columns()):
        raise WrongUsage(f"{text[:40]!r} names no field of a ticket", "write --set NAME=VALUE, as --set form=coil",
                         field="--set")  # fmt: skip
    return name, value.strip()


def _one_line(given: Given, conversation: Conversation) -> Line | None:
    said = {"lot": given.lot, "mass": given.mass}
    sheet, sides = conversation.sheet, conversation.sheet.form.sides
    if not sides:
        sheet.own |= {name: value for name, value in said.items() if value is not None}
        return None
    if given.lot is None and given.mass is None and given.all is None:
        return None
    line: Line = {}
    if given.all is not None and sides[0].left:
        line["all"] = "true" if given.all else ""
    conversation.begin(sides[0], line, " ".join(value for value in said.values() if value))
    sheet.lines.setdefault(sides[0].name, []).append(line)
    return line


def _whole_line(name: str, text: str, conversation: Conversation) -> None:
    sides = conversation.sheet.form.sides
    side = next((side for side in sides if side.name == name), None)
    if side is None:
        kind = conversation.sheet.kind
        raise WrongUsage(f"a ticket of kind {kind} has no side {name}", "give --lot and --mass", field=f"--{name}")
    line: Line = {}
    conversation.begin(side, line, text)
    conversation.sheet.lines.setdefault(name, []).append(line)
