"""Asking one question at the bench until its answer is sound; every answer may name further fields."""

from __future__ import annotations

from ledger.book.tickets import KINDS
from ledger.faces.bench.entries import Entry, entry
from ledger.faces.bench.forms import Question
from ledger.faces.bench.look import TABLE_OF, Look
from ledger.faces.bench.sheet import Line, Sheet
from ledger.faces.bench.talk import Talk
from ledger.refusals import Fault


class Asking:
    """One ticket at the bench: the sheet, who asks, and where it is looked up."""

    def __init__(self, talk: Talk, look: Look, sheet: Sheet) -> None:
        self.talk, self.look, self.sheet = talk, look, sheet

    def answer(self, prompt: str, line: Line | None = None) -> Entry:
        """Return an answer; what it names is taken down, on the line being asked for where it belongs there."""
        said = entry(self.talk.ask(prompt))
        self.name(said.named, line)
        return said

    def name(self, named: dict[str, str], line: Line | None) -> None:
        """Take down named fields, each where it belongs; says which code the set-up does not have."""
        for name, value in named.items():
            fault = self._named_fault(name, value)
            if fault is not None:
                self.talk.say(str(fault))
            else:
                self._put(name, value, line)

    def _named_fault(self, name: str, value: str) -> Fault | None:
        table = TABLE_OF.get(name) or ("areas" if name in ("from", "to") and self.sheet.kind != "transfer" else "")
        return self.look.code_fault(table, value) if table and value else None

    def _put(self, name: str, value: str, line: Line | None) -> None:
        base, form = name.partition(".")[0], self.sheet.form
        of_lines = frozenset[str]().union(*(role.fields for role in KINDS[self.sheet.kind].roles.values()))
        if line is not None and base in of_lines:
            line[name] = value
        elif name == "scale" and form.scale == "lines":
            self.sheet.scale = value
        else:
            self.sheet.own[form.here if name == "area" and form.here else name] = value

    def ask(self, question: Question, line: Line | None = None) -> None:
        """Ask until there is a sound answer, or, for an optional question, none."""
        if question.of == "account":
            self._account(question)
        elif question.each:
            for metal in self.look.metals if not self.sheet.answered(question, line) else ():
                words = question.words.format(metal=metal)
                self._ask_one(Question(f"{question.column}.{metal}", words, question.of, each=True), line, metal)
        else:
            self._ask_one(question, line)

    def _ask_one(self, question: Question, line: Line | None, metal: str = "") -> None:
        into = self.sheet.own if line is None else line
        while not self.sheet.answered(question, line):
            said = self.answer(question.words, line)
            if said.text:
                value = self.look.value(question, said.text, metal)
                if isinstance(value, str):
                    into[question.column] = value
                else:
                    self.talk.say(str(value))
            elif not said.named:
                if question.optional:
                    return
                self.talk.say(f"{question.column} is needed")

    def _account(self, question: Question) -> None:
        column, own = question.column, self.sheet.own
        while not self.sheet.has(column):
            text = self.answer(question.words).text
            party, _, terms = text.rpartition(" ")
            fault = None if text == "own" else self.look.code_fault("parties", party or terms)
            if text == "own":
                own[column] = text
            elif fault is None and party:
                own |= {f"{column}.party": party, f"{column}.terms": terms}
            elif text:
                self.talk.say(str(fault or "the terms are needed → write deposited, leased, pool or settled after it"))
