"""Filling in one ticket: what was not given is asked for, in the order of the bench; what is wrong is asked again."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from ledger.faces.bench.blindness import blind
from ledger.faces.bench.forms import Question, Side
from ledger.faces.bench.lines import Lines
from ledger.faces.bench.sheet import MADE_OF, WEIGHED
from ledger.refusals import Fault

_BY: Final = Question("by", "by, who weighs", "persons")
_PLACE = re.compile(r"(lots|in|out)\[(\d+)\](?:\.(\w+).*)?")


class Conversation(Lines):
    """One ticket at the bench, from its first question to a document that the book may take."""

    def fill(self) -> None:
        """Ask for everything that is wanting; number, time, shift, scale and area are proposed."""
        self.ask(_BY)
        if self.sheet.wanting():
            self._propose()
        self.number()
        for question in self.sheet.form.own:
            self.ask(question)
        for side in self.sheet.form.sides:
            self.side(side)
        for question in self.sheet.form.after:
            self.ask(question)

    def mend(self, faults: Iterable[Fault]) -> None:
        """Say what was refused, and ask again for each entry that was wrong; the others are kept."""
        seen: set[str] = set()
        for fault in faults:
            self.talk.say(str(blind(fault)))
            if fault.field not in seen:
                seen.add(fault.field)
                self._again(fault)

    def number(self) -> None:
        """Give the ticket its number and time, where it has none."""
        own = self.sheet.own
        own.setdefault("at", self.look.at)
        if "ticket" not in own:
            number = self.look.next_ticket(self.sheet.kind)
            if number is None:
                self.ask(Question("ticket", "ticket, its number"))
            else:
                own["ticket"] = number

    # What is proposed.

    def _propose(self) -> None:
        self.number()
        own, form, usual = self.sheet.own, self.sheet.form, self.look.usual(self.sheet.own["by"])
        said = []
        if form.here and not self.sheet.has(form.here) and usual.area:
            own[form.here] = usual.area
            said.append(f"{form.here} {usual.area}")
        if form.scale and not self._scale() and usual.scale:
            self.name({"scale": usual.scale}, None)
            said.append(f"scale {usual.scale}")
        if "shift" not in own and usual.shift:
            own["shift"] = usual.shift
            said.append(f"shift {usual.shift}")
        self.talk.say(f"{own['ticket']}, {self.sheet.kind}, at {own['at']}")
        if said:
            self.talk.say("as on your last ticket: " + ", ".join(said))
        self._accept()
        if form.scale and not self._scale():
            self._ask_scale()

    def _scale(self) -> str:
        return self.sheet.scale if self.sheet.form.scale == "lines" else self.sheet.own.get("scale", "")

    def _accept(self) -> None:
        while True:
            said = self.answer("right? Enter; or what differs, as scale=S1")
            if not said.text and not said.named:
                return
            if said.text:
                self.talk.say(f"{said.text[:40]!r} does not say what it is → write name=value, as shift=night")

    def _ask_scale(self) -> None:
        while not self._scale() and "method" not in self.sheet.own:
            said = self.answer("scale (Enter: none)")
            if not said.text and not said.named:
                return
            if said.text:
                self.name({"scale": said.text}, None)

    # Asking again.

    def _again(self, fault: Fault) -> None:
        place = _PLACE.fullmatch(fault.field)
        if place:
            side = next(side for side in self.sheet.form.sides if side.name == place[1])
            self._line_again(side, int(place[2]), place[3] or "")
        else:
            self._own_again(fault.field.partition(".")[0])

    def _own_again(self, column: str) -> None:
        self.sheet.forget(column)
        side = next((side for side in self.sheet.form.sides if side.name == column), None)
        question = next((q for q in (_BY, *self.sheet.form.questions) if q.column == column), None)
        if side is not None:
            self.sheet.lines.pop(column, None)
            self.side(side)
        elif question is not None:
            self.ask(question)
        elif column == "ticket":
            self._ticket_again()
        elif column:
            self.ask(Question(column, f"{column} (Enter: none)", optional=True))
        else:
            self._accept()

    def _ticket_again(self) -> None:
        number = self.look.next_ticket(self.sheet.kind)
        while "ticket" not in self.sheet.own:
            said = self.answer("ticket" + (f" (Enter: {number})" if number else ""))
            if said.text or number:
                self.sheet.own["ticket"] = said.text or number or ""

    def _line_again(self, side: Side, index: int, column: str) -> None:
        line = self.sheet.lines[side.name][index]
        if column in ("lot", "bin"):
            self.sheet.forget("lot", "bin", line=line)
        elif column in WEIGHED:
            self.sheet.forget(*WEIGHED, line=line)
        elif column in MADE_OF and side.what:
            self.sheet.forget(*MADE_OF, line=line)
        elif column:
            self.sheet.forget(column, line=line)
            if column not in [question.column for question in side.more]:
                self.ask(Question(column, f"{column} (Enter: none)", optional=True), line)
        else:
            line.clear()
        self.finish(side, line)
