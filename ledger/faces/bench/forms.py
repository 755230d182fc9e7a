"""What is asked for at the bench, kind by kind, in the order in which it is done there.

Everything else that a ticket may say is given as ``name=value`` with any answer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from ledger.book.tickets import KINDS


@dataclass(frozen=True, slots=True)
class Question:
    """One thing asked for: its column, the prompt, and what answers it.

    ``of`` is a table of the set-up (``areas`` …), or ``mass``, ``yes``, ``text``, ``account``, ``metal``, ``word``.
    ``each`` asks once for each booked metal. An ``optional`` one is left out by Enter.
    """

    column: str
    words: str
    of: str = "word"
    each: bool = False
    optional: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Side:
    """A list of lines: whether its lots are known or made, and what is asked of each beside lot and mass.

    ``weighed``: the column of the mass. ``left``: whether it is asked if anything is left. ``least``: fewest lines.
    """

    name: str
    words: str
    lots: str = "known"
    weighed: str = "mass"
    left: bool = False
    what: bool = False
    more: tuple[Question, ...] = ()
    least: int = 1


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of ticket at the bench. ``here`` is the column that takes the area where one stands."""

    own: tuple[Question, ...] = ()
    sides: tuple[Side, ...] = ()
    after: tuple[Question, ...] = ()
    here: str = ""
    scale: str = "lines"

    @property
    def questions(self) -> tuple[Question, ...]:
        """Every question of the ticket's own, lines left out."""
        return (*self.own, *self.after)


def _chosen(column: str, words: str, *choices: str) -> Question:
    return Question(column, f"{words}: {', '.join(choices)}", choices=choices)


_AREA = Question("area", "area", "areas")
_FROM, _TO = Question("from", "from, the area that gives", "areas"), Question("to", "to, the area that takes", "areas")
_INTO = Question("to", "to, the area it comes into", "areas")
_PARTY = Question("party", "party", "parties")
_OF = "number of the ticket"
_CONTENT = Question("content", "fine content of {metal}, with its unit", "mass", each=True)
_REASON = Question("reason", "reason", "text")

_KNOWN = Side("lots", "lot", left=True)
_MADE = Side("lots", "lot, or new", lots="made", what=True)

FORMS: Final[dict[str, Form]] = {
    "open": Form((_AREA,), (replace(_MADE, least=0),), here="area"),
    "receive": Form(
        (_PARTY, _chosen("terms", "terms", "bought", "deposited", "leased", "returned"), _INTO), (_MADE,), here="to"
    ),
    "move": Form((_FROM, _TO), (_KNOWN,), here="from"),
    "arrive": Form((Question("of", f"of, {_OF} that sent it", "number"),), (replace(_KNOWN, left=False),)),
    "work": Form(
        (Question("operation", "operation", "operations"), _AREA),
        (replace(_KNOWN, name="in", words="in: lot"), Side("out", "out: lot, or new", lots="made")),
        here="area",
    ),
    "assay": Form(
        (
            Question("lot", "lot", "lot"), Question("method", "method", "methods"),
            Question("results", "{metal}: determinations, samples apart by /", "results", each=True),
        ),
        scale="",
    ),
    "sweep": Form(
        (_AREA,), (replace(_MADE, least=0),), (Question("cleaned_out", "is the area cleaned out? yes or no", "yes"),),
        here="area",
    ),
    "ship": Form(
        (_FROM, _PARTY, _chosen("terms", "terms", "sold", "returned")),
        (replace(_KNOWN, more=(Question("billed", "billed as (Enter: as weighed)", "fineness", optional=True),)),),
        here="from",
    ),
    "settle": Form(
        (_AREA, _PARTY),
        (
            Side(
                "lots", "lot", weighed="received",
                more=(Question("agreed", "agreed content of {metal}, with its unit", "mass", each=True),
                      Question("payable", "payable content of {metal}, with its unit", "mass", each=True)),
            ),
        ),
        here="area", scale="",
    ),
    "transfer": Form(
        (
            Question("from", "from: own, or party and terms", "account"),
            Question("to", "to: own, or party and terms", "account"),
            Question("metal", "metal", "metal"), Question("fine", "fine content, with its unit", "mass"),
            Question("reason", "reason (Enter: none)", "text", optional=True),
        ),
        scale="",
    ),
    "count": Form(
        (_AREA,), (Side("lots", "lot", lots="any", least=0),),
        (Question("ended", "is the count of the area ended? yes or no (a lot on no sheet is then not found)", "yes"),),
        here="area",
    ),
    "discard": Form((_AREA,), (replace(_KNOWN, more=(_CONTENT,)),), here="area"),
    "writeoff": Form(
        (
            _AREA, Question("metal", "metal, or gross", "metal"),
            Question("mass", "mass, with its unit (+ missing, - a gain)", "signed"),
            Question("cause", "cause"), Question("evidence", "evidence", "text"), _REASON,
        ),
        here="area", scale="",
    ),
    "checkweigh": Form(
        (Question("standard", "check weight, as certified", "mass"), Question("reading", "reading", "mass")),
        scale="own",
    ),
    "void": Form((Question("numbers", "spoiled numbers, apart by |", "text"), _REASON), scale=""),
    "reverse": Form((Question("of", f"of, {_OF} to reverse", "number"), _REASON), scale=""),
}  # fmt: skip

assert FORMS.keys() == KINDS.keys()
