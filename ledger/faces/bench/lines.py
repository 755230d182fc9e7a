"""Asking for the lines of a ticket: lot, mass, whether anything is left, and what a new lot is made of."""

from __future__ import annotations

import re
from typing import Final

from ledger.faces.bench.asking import Asking
from ledger.faces.bench.entries import LineEntry, entry, line_entry
from ledger.faces.bench.forms import Question, Side
from ledger.faces.bench.look import Look
from ledger.faces.bench.sheet import MADE_OF, Line, Sheet
from ledger.faces.bench.talk import Talk

_NEW = re.compile(r"new(?: (.+))?", re.IGNORECASE)
_NOTHING: Final = Question("nil", "is nothing there? yes or no", "yes")
_LEFT: Final = Question("all", "anything left of {lot}? yes or no", "yes")


class Lines(Asking):
    """The lines of one ticket at the bench."""

    def __init__(self, talk: Talk, look: Look, sheet: Sheet) -> None:
        super().__init__(talk, look, sheet)
        self.new_lots: list[str] = []

    def side(self, side: Side) -> None:
        """Ask for the lines of a side: complete those given, or one after the other until Enter."""
        given = self.sheet.lines.get(side.name)
        if given:
            for each in given:
                self.finish(side, each)
            return
        lines = self.sheet.lines.setdefault(side.name, [])
        line: Line = {}
        while not self.sheet.has("nil"):
            words = f"next {side.words}, or Enter" if lines else side.words
            said = self.answer(words + ("" if lines else ", and mass"), line)
            if said.text:
                self.begin(side, line, said.text)
                self.finish(side, line)
                lines.append(line)
                line = {}
            elif not said.named and not self._still_wanting(side):
                return

    def _still_wanting(self, side: Side) -> bool:
        """Whether a side that was ended has too few lines; says so, or asks if a count found nothing."""
        if len(self.sheet.lines[side.name]) >= side.least or "job" in self.sheet.own:
            if self.sheet.kind == "count" and not self.sheet.lines[side.name]:
                self.ask(_NOTHING)
                if self.sheet.own["nil"] == "false":
                    del self.sheet.own["nil"]
                    return True
            return False
        self.talk.say("at least one lot is needed")
        return True

    def begin(self, side: Side, line: Line, text: str) -> None:
        """Take a line's first entry: the lot alone, or with its mass, and whether all of it goes."""
        said = entry(text)
        self.name(said.named, line)
        words = LineEntry(said.text, None, None) if self.look.knows(said.text) else line_entry(said.text)
        if words.mass is not None:
            self._take_mass(side, line, words.mass)
        if words.all is not None:
            line["all"] = words.all
        if words.lot:
            self._take_lot(side, line, words.lot)

    def finish(self, side: Side, line: Line) -> None:
        """Ask for what a line still lacks."""
        while not (line.get("lot") or line.get("bin")):
            text = self.answer(side.words, line).text
            if text:
                self.begin(side, line, text)
        self._mass(side, line)
        if side.left and "all" not in line:
            self._left(line)
        self._what(side, line)
        for question in side.more:
            self.ask(question, line)

    def _take_lot(self, side: Side, line: Line, text: str) -> None:
        new = _NEW.fullmatch(text) if side.lots != "known" else None
        if new:
            number = self.look.next_lot(self.sheet.kind, self.sheet.own.get("operation"), new[1] or "", self.new_lots)
            if number is None:
                self.talk.say("there is no number to follow → give the number, or new and a prefix: new COIL-")
                return
            self.new_lots.append(number)
            self.talk.say(f"new lot {number}: write it on the label")
            line["lot"] = number
            return
        fault = self.look.lot_fault(text, side.lots)
        if fault is not None:
            self.talk.say(str(fault))
            return
        line["bin" if text in self.look.setup.bins else "lot"] = text
        if side.lots == "any" and "lot" in line and not self.look.knows(text):
            self.talk.say(f"no lot {text} is known → if the label is right, say what it is made of; else lot=NUMBER")

    def _mass(self, side: Side, line: Line) -> None:
        lot = line.get("lot") or line.get("bin")
        while not self.sheet.weighed(side, line):
            unweighed = bool(line.get("all")) and side.weighed == "mass"
            said = self.answer(f"mass of {lot}" + (" (Enter: not weighed)" if unweighed else ""), line)
            words = line_entry(said.text)
            if words.all is not None and side.left:
                line["all"] = words.all
            if words.mass is not None:
                self._take_mass(side, line, words.mass)
            elif not said.text and not said.named and unweighed:
                return
            elif said.text and words.all is None:
                self._take_mass(side, line, said.text)

    def _take_mass(self, side: Side, line: Line, text: str) -> None:
        of = "arrived" if self.sheet.kind == "arrive" else "mass"
        value = self.look.value(Question(side.weighed, "", of), text)
        if isinstance(value, str):
            line[side.weighed] = value
        else:
            self.talk.say(str(value))

    def _left(self, line: Line) -> None:
        lot = line.get("lot") or line.get("bin") or ""
        answer: Line = {}
        self.ask(Question("all", _LEFT.words.format(lot=lot), "yes"), answer)
        line["all"] = "" if answer["all"] == "true" else "true"

    def _what(self, side: Side, line: Line) -> None:
        metals = self.look.metals
        prompt = f"made of: alloy, clad, class, or the fineness of {', '.join(metals)}"
        while self._unknown(side, line) and not self._made_of(line):
            text = self.answer(prompt, line).text
            if text:
                self._take_what(line, text)

    def _unknown(self, side: Side, line: Line) -> bool:
        """Whether a line has to say what its lot is made of: a new one, not one that came back or is counted."""
        if side.what:
            return self.sheet.own.get("terms") != "returned" or not self.look.knows(line.get("lot", ""))
        return side.lots == "any" and "lot" in line and not self.look.knows(line["lot"])

    def _made_of(self, line: Line) -> bool:
        if any(self.sheet.has(column, line) for column in MADE_OF if column != "class"):
            return True
        class_ = self.look.setup.classes.get(line.get("class", ""))
        return class_ is not None and bool(class_.alloy or class_.clad)

    def _take_what(self, line: Line, text: str) -> None:
        setup, metals = self.look.setup, self.look.metals
        for column, codes in (("alloy", setup.alloys), ("clad", setup.clads), ("class", setup.classes)):
            if text in codes:
                line[column] = text
                return
        said = [text] if len(metals) == 1 else text.split()
        if len(said) != len(metals):
            self.talk.say(f"{text[:40]!r} is no alloy, clad or class of the set-up → for a fineness give "
                          + ", ".join(metals) + ", in this order: 583.3‰ 210.4‰")  # fmt: skip
            return
        for metal, fineness in zip(metals, said, strict=True):
            value = self.look.value(Question("fineness", "", "fineness"), fineness)
            if not isinstance(value, str):
                self.talk.say(str(value))
                self.sheet.forget("fineness", line=line)
                return
            line["fineness" if len(metals) == 1 else f"fineness.{metal}"] = value
