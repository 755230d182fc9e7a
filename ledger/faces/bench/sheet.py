"""The ticket being filled in: entries by column, as a table of tickets has them, and the document they make."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ledger.book.intake.columns import CellRefused, put
from ledger.faces.bench.forms import FORMS, Form, Question, Side
from ledger.refusals import Fault, FormRefused

#: The columns of a line that say what the lot is made of, and those that say how it was weighed.
MADE_OF = ("alloy", "clad", "class", "fineness", "content")
WEIGHED = ("mass", "gross", "tare", "container", "received", "seal", "all")

Line = dict[str, str]


@dataclass(slots=True)
class Sheet:
    """Entries so far. A blank entry was answered and says nothing; ``scale`` goes on every weighed line without one."""

    kind: str
    own: dict[str, str] = field(default_factory=dict)
    lines: dict[str, list[Line]] = field(default_factory=dict)
    scale: str = ""

    @property
    def form(self) -> Form:
        """What is asked for this kind."""
        return FORMS[self.kind]

    def has(self, column: str, line: Line | None = None) -> bool:
        """Return whether a column, or a key of it, was answered."""
        entries = self.own if line is None else line
        return column in entries or any(name.startswith(f"{column}.") for name in entries)

    def answered(self, question: Question, line: Line | None = None) -> bool:
        """Return whether a question was answered; an assay by content needs no results."""
        return self.has(question.column, line) or (question.column == "results" and self.has("content", line))

    def forget(self, *columns: str, line: Line | None = None) -> None:
        """Take entries back, so that they are asked for again."""
        entries = self.own if line is None else line
        for name in [name for name in entries if name.partition(".")[0] in columns]:
            del entries[name]

    def wanting(self) -> bool:
        """Return whether anything is left to ask, number and time apart."""
        questions = any(not self.answered(q) for q in self.form.questions if not q.optional)
        return "by" not in self.own or questions or any(self._side_wanting(side) for side in self.form.sides)

    def _side_wanting(self, side: Side) -> bool:
        lines = self.lines.get(side.name, [])
        if not lines:
            return "job" not in self.own and not (self.has("nil") or self.has("cleaned_out") or self.has("dust"))
        return any(self.line_wanting(side, line) for line in lines)

    def line_wanting(self, side: Side, line: Line) -> bool:
        """Return whether a line lacks its lot, its mass, or whether anything is left of the lot."""
        if not (line.get("lot") or line.get("bin")) or not self.weighed(side, line):
            return True
        if any(not self.answered(q, line) for q in side.more if not q.optional):
            return True
        return (side.left and "all" not in line) or (side.what and not any(self.has(c, line) for c in MADE_OF))

    @staticmethod
    def weighed(side: Side, line: Line) -> bool:
        """Return whether it is settled how a line was weighed, or that it was not."""
        return side.weighed in line or "gross" in line or bool(line.get("seal"))

    def document(self) -> dict[str, Any]:
        """Return the ticket that the entries make; raises FormRefused for an entry that its column cannot take."""
        faults: list[Fault] = []
        document: dict[str, Any] = {"kind": self.kind, **_document(self.own, "", faults)}
        for side in self.form.sides:
            lines = self.lines.get(side.name, [])
            if lines:
                made = [_document(line, f"{side.name}[{i}].", faults) for i, line in enumerate(lines)]
                document[side.name] = [self._on_the_scale(line) for line in made]
        if faults:
            raise FormRefused(faults)
        return document

    def _on_the_scale(self, line: dict[str, Any]) -> dict[str, Any]:
        if self.scale and self.form.scale == "lines" and ("mass" in line or "gross" in line):
            line.setdefault("scale", self.scale)
        return line


def _document(entries: dict[str, str], place: str, faults: list[Fault]) -> dict[str, Any]:
    document: dict[str, Any] = {}
    for column, text in entries.items():
        try:
            if text:
                put(document, column, text)
        except CellRefused as refused:
            what, mend = refused.args
            faults.append(Fault("form", what, mend, place + column))
    return document
