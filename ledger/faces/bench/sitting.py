"""One sitting at the bench: a ticket is filled in, recorded, told, and, where somebody weighed again, corrected."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ledger.book.tickets import KINDS
from ledger.faces.bench import recording
from ledger.faces.bench.conversation import Conversation
from ledger.faces.bench.entries import line_entry
from ledger.faces.bench.forms import Question
from ledger.faces.bench.given import Given, take
from ledger.faces.bench.look import Look
from ledger.faces.bench.recording import Result
from ledger.faces.bench.sheet import Sheet
from ledger.faces.bench.talk import Ended, Talk
from ledger.faces.bench.telling import say_result
from ledger.refusals import FormRefused, Refused, WrongUsage

Which = tuple[str, int, str, str]

_AGAIN = "weighed again? Enter: no; or the second reading, with its lot"


class Sitting:
    """``results`` are the tickets recorded so far; with ``quiet`` they are not told, and nothing is asked after."""

    def __init__(self, path: Path, at: str | None, unit: str, user: str, *, quiet: bool) -> None:
        self.path, self.unit, self.user, self.quiet = path, unit, user, quiet
        self.look = Look(path, at)
        self.talk = Talk()
        self.results: list[Result] = []

    def ticket(self, kind: str | None, given: Given) -> None:
        """Fill in and record one ticket of a kind, asking for what was not given."""
        with self._to_the_end():
            conversation = Conversation(self.talk, self.look, Sheet(self._kind(kind)))
            take(given, conversation)
            conversation.fill()
            self._record(conversation)
        if self.talk.asked and not self.quiet:
            self._weighed_again(self.results[-1].document)

    def again(self, number: str, given: Given) -> None:
        """Add a second reading to a recorded ticket."""
        document = self.look.document(number)
        if document is None:
            raise WrongUsage(f"no ticket {number[:64]!r} is recorded", "correct the number", field="--again")
        readings = [r for r in recording.readings(document) if given.lot in (None, r[3])]
        if not readings:
            raise WrongUsage(f"ticket {number} has no reading" + (f" of {given.lot}" if given.lot else ""),
                             "name a ticket that weighed a lot", field="--again")  # fmt: skip
        with self._to_the_end():
            which = self._which(readings)
            mass = self._mass(given.mass)
            reason = given.named.get("reason") or self._needed("reason for the second reading")
            self._tell(recording.again(self.path, document, which, mass, reason, self.look.at, self.user))

    @contextmanager
    def _to_the_end(self) -> Iterator[None]:
        """Say that nothing was recorded, when the input ends or is interrupted before it was."""
        try:
            yield
        except Ended:
            what = "the input ended before the ticket was whole"
            raise FormRefused(what, "answer every question, or give the options") from None
        except KeyboardInterrupt:
            self.talk.say("\nnothing was recorded")
            raise

    def _kind(self, kind: str | None) -> str:
        while kind is None:
            said = self.talk.ask("kind of ticket")
            kind = said if said in KINDS else None
            if kind is None:
                self.talk.say("known are " + ", ".join(KINDS))
        if kind not in KINDS:
            raise WrongUsage(f"there is no kind of ticket {kind[:40]!r}", "known are " + ", ".join(KINDS), field="KIND")
        return kind

    def _record(self, conversation: Conversation) -> None:
        while True:
            conversation.number()
            try:
                document = conversation.sheet.document()
                results = recording.record(self.path, [document], self.user)
            except Refused as refused:
                conversation.mend(refused.faults)
            else:
                self._tell(results)
                return

    def _tell(self, results: list[Result]) -> None:
        self.results += results
        for result in () if self.quiet else results:
            say_result(result, self.unit)

    # A second reading.

    def _weighed_again(self, document: dict[str, Any]) -> None:
        """Offer a second reading, as often as one is given; the ticket stands as it was recorded until then."""
        readings = recording.readings(document)
        try:
            while readings:
                said = self.talk.ask(_AGAIN)
                if not said:
                    return
                self._add_reading(said)
        except Ended:
            self.talk.say(f"{self.results[-1].number} stands as recorded")
        except KeyboardInterrupt:
            self.talk.say(f"\n{self.results[-1].number} stands as recorded")
            raise

    def _add_reading(self, said: str) -> None:
        document = self.results[-1].document
        words = line_entry(said)
        readings = [r for r in recording.readings(document) if words.lot in (None, r[3])]
        if words.mass is None or not readings:
            self.talk.say(f"{said[:40]!r} is no reading of this ticket → write the mass, or lot and mass")
            return
        which, mass = self._which(readings), self._mass(words.mass)
        reason = self._needed("reason for the second reading")
        try:
            self._tell(recording.again(self.path, document, which, mass, reason, self.look.at, self.user))
        except Refused as refused:
            for fault in refused.faults:
                self.talk.say(str(fault))
            self.talk.say(f"{document['ticket']} stands as recorded")

    def _which(self, readings: list[Which]) -> Which:
        if len(readings) == 1:
            return readings[0]
        for place, (side, _, column, lot) in enumerate(readings, 1):
            self.talk.say(f"{place}  {side} {lot}, {column}")
        while True:
            said = self.talk.ask("which of them, by its number")
            if said.isascii() and said.isdigit() and len(said) < 5 and 0 < int(said) <= len(readings):
                return readings[int(said) - 1]

    def _mass(self, text: str | None) -> str:
        while True:
            value = self.look.value(Question("mass", "", "mass"), text or self._needed("second reading"))
            if isinstance(value, str):
                return value
            self.talk.say(str(value))
            text = None

    def _needed(self, prompt: str) -> str:
        while True:
            said = self.talk.ask(prompt)
            if said:
                return said
