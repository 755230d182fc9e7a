"""What is said when something is wrong: every error a person can meet.

    LemelError
    ├── Refused                input refused, nothing recorded          exit 3
    │   ├── QuantityRefused    a mass or a fineness that cannot be read
    │   ├── SetupRefused       the set-up contradicts itself
    │   ├── FormRefused        a ticket that is not a ticket
    │   ├── OrderRefused       dated before a later ticket of the same lot
    │   ├── Impossible         what cannot have happened
    │   ├── NumberTaken        a different ticket under a used number
    │   ├── PeriodClosed       what reaches into a closed period
    │   └── NotClosable        a period that cannot be closed yet
    ├── BookUnusable           damaged, locked or of a later version    exit 4
    └── WrongUsage             the command was called wrongly           exit 2

Each has a stable ``code``, says *what* is wrong, *where*, and how to *mend* it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong, for the person who has to mend it.

    ``file``, ``line`` (counted from 1, 0 for none), ``ticket`` and ``field`` say where; any of them may be empty.
    ``lot`` is the lot that a ticket asked for in vain.
    """

    code: str
    what: str
    mend: str = ""
    field: str = ""
    ticket: str = ""
    file: str = ""
    line: int = 0
    lot: str = ""

    def at(self, *, field: str = "", ticket: str = "", file: str = "", line: int = 0) -> Fault:
        """Return the fault with its place filled in where it was not yet known."""
        return replace(
            self,
            field=self.field or field,
            ticket=self.ticket or ticket,
            file=self.file or file,
            line=self.line or line,
        )

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        where = ", ".join(part for part in (place, self.ticket and f"ticket {self.ticket}", self.field) if part)
        return (f"{where}: " if where else "") + self.what + (f" → {self.mend}" if self.mend else "")


class LemelError(Exception):
    """Base of all errors a person can meet; carries one or more faults."""

    code: ClassVar[str] = "lemel"
    exit_status: ClassVar[int] = 3

    def __init__(self, what: str | list[Fault], mend: str = "", *, field: str = "") -> None:
        self.faults = [Fault(self.code, what, mend, field)] if isinstance(what, str) else what
        super().__init__("\n".join(map(str, self.faults)))


class Refused(LemelError):
    """Input refused; nothing recorded."""

    code = "refused"


class QuantityRefused(Refused):
    """A mass, fineness or share that cannot be read exactly."""

    code = "quantity"


class SetupRefused(Refused):
    """A set-up, or a change of it, that contradicts itself or is incomplete."""

    code = "setup"


class FormRefused(Refused):
    """A ticket, row or file whose form is wrong: a missing or unknown field, a wrong type."""

    code = "form"


class OrderRefused(Refused):
    """A ticket dated before a later ticket of the same area and lot."""

    code = "order"


class Impossible(Refused):
    """What cannot have happened: an unknown code, a lot that is not there, more than is there."""

    code = "impossible"


class NumberTaken(Refused):
    """A different ticket under a number that is already used."""

    code = "number"


class PeriodClosed(Refused):
    """A ticket dated in a closed period."""

    code = "closed"


class NotClosable(Refused):
    """A close whose conditions are not met, or that comes out of order."""

    code = "close"


class BookUnusable(LemelError):
    """The book is damaged, locked, or was written by a later version."""

    code = "book"
    exit_status = 4


class WrongUsage(LemelError):
    """The command was called wrongly."""

    code = "usage"
    exit_status = 2
