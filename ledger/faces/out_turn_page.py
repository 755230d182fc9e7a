"""A settlement as a page and as a document: the working, what is agreed, payable and due, and the book beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ledger.bench.settle_figures import figure
from ledger.faces.caution import at_work, say_at_work, say_caution
from ledger.faces.printing import Table, counted, mass, say, say_as_of, say_table, say_text
from ledger.faces.working_page import say_working
from ledger.quantities.mass import decimal_text, grams_text

if TYPE_CHECKING:
    from fractions import Fraction

    from ledger.balance.daily.inference import Signs
    from ledger.balance.daily.out_turn import AgainstBook, History
    from ledger.bench.settle import Settled, SettledMetal
    from ledger.bench.settle_money import Money
    from ledger.book.holdings import AsOf

_SIGN = (
    "A difference is + where the refiner agreed to less than the book has. σ: of recorded content by the book's own "
    "weighings and assays, of agreed content as the set-up assumes; where our own assay made both, they are closer "
    "than σ says."
)


@dataclass(frozen=True, slots=True)
class BookSide:
    """What the book says beside an out-turn: the lots, the refiner's history by metal, and which state of it."""

    unit: str
    lots: Sequence[AgainstBook]
    histories: dict[str, History]
    as_of: AsOf


@dataclass(slots=True)
class OutTurnPage:
    """One settlement; ``tickets`` as far as they are complete, ``wanting`` what they lack."""

    settled: Settled
    money: Money
    book: BookSide | None = None
    tickets: list[dict[str, Any]] = field(default_factory=list)
    wanting: list[str] = field(default_factory=list)

    # For people.

    def say(self) -> None:
        """Print the page."""
        heading = self.settled.out_turn.heading
        rounding = self.settled.out_turn.rounding
        say_text(f"Out-turn of {heading.party}, {counted(len(self.settled.lots), 'lot')}, recomputed: exchange by "
                 f"{heading.exchange}, rounded {_POLICY[rounding.policy]}, paid in {heading.pay}")  # fmt: skip
        for lot in self.settled.lots:
            say()
            say(f"Lot {lot.lot.lot}")
            say_working(lot.working.steps)
        self._say_money()
        for remark in self.settled.remarks:
            say_text(f"Look: {remark}.", indent="  ", first="")
        if self.book is not None:
            self._say_book(self.book)
        self._say_tickets()
        say()
        say_at_work("settle")
        if self.book is not None:
            say_caution()
            say_as_of(self.book.as_of)

    def _say_money(self) -> None:
        if self.money.working.steps:
            say()
            say("Charges, money and advances: − we pay")
            say_working(self.money.working.steps)

    def _say_book(self, book: BookSide) -> None:
        say()
        say(f"Against the book, in {book.unit}")
        table = Table(["lot", "metal", "rests on", "recorded", "agreed", "difference", "σ", "z"], frozenset((0, 1, 2)))
        for one in book.lots:
            table.add(one.lot, one.metal, one.basis, *(mass(ng, book.unit) for ng in (one.recorded, one.agreed,
                      one.difference)), mass(round(one.sigma), book.unit), "–" if one.z is None else f"{one.z:.1f}")
        say_table(table)
        say_text(_SIGN)
        for metal, known in book.histories.items():
            say_text(_history_words(metal, known, book.unit), indent="  ", first="")

    def _say_tickets(self) -> None:
        import json

        say()
        if self.wanting:
            say_text(f"No ticket yet: {', '.join(self.wanting)} not known. Give them in the file, or as options.")
        for ticket in self.tickets:
            say(json.dumps(ticket, ensure_ascii=False))

    # As a document.

    def document(self) -> dict[str, Any]:
        """Return the settlement as JSON-able figures; contents in grams, exact figures of the terms as text."""
        heading = self.settled.out_turn.heading
        return {
            "party": heading.party, "exchange": heading.exchange, "rounding": self.settled.out_turn.rounding.policy,
            "pay": heading.pay, "currency": heading.currency or None,
            "lots": [
                {"lot": lot.lot.lot, "received": grams_text(lot.lot.received), "dry": _grams(lot.dry),
                 "settled": _grams(lot.settled), "metals": [_metal(metal) for metal in lot.metals],
                 "working": lot.working.document()}
                for lot in self.settled.lots
            ],
            "metals": [
                {"metal": due.metal, "agreed": _grams(self.settled.agreed(due.metal)), "payable": _grams(due.payable),
                 "advanced": _grams(due.advanced), "interest": _grams(due.interest), "due": _grams(due.balance)}
                for due in self.money.metals
            ],
            "money": [{"what": a.what, "amount": figure(a.amount)} for a in self.money.amounts],
            "due": figure(self.money.due),
            "remarks": list(self.settled.remarks),
            "working": self.money.working.document(),
            "against_book": None if self.book is None else list(_against(self.book.lots)),
            "history": None if self.book is None else [
                _history(metal, known) for metal, known in self.book.histories.items()
            ],
            "tickets": self.tickets, "wanting": self.wanting, "caution": at_work("settle"),
            **({} if self.book is None else self.book.as_of.document()),
        }  # fmt: skip


_POLICY = {"once": "once, at the end", "each step": "at each step", "truncate": "by cutting off at each step"}


def _history_words(metal: str, known: History, unit: str) -> str:
    lots = known.refiner.judged
    if not lots and known.with_this.p_positive is None:
        return f"{metal}: no lot known by assay or calculation was settled with {known.refiner.party} before."
    less = f"{mass(sum(lot.difference for lot in lots), unit)} {unit}"
    before = f"{counted(len(lots), 'lot')} settled before, together {less} below our figure"
    said = f"{metal}: {before if lots else 'none settled before'}"
    signs = known.with_this
    if signs.p_positive is None:
        return f"{said}."
    return (f"{said}. With these: {signs.positive} below our figure, {signs.negative} above; by chance so many below: "
            f"p = {float(signs.p_positive):.2g}.")  # fmt: skip


def _metal(metal: SettledMetal) -> dict[str, Any]:
    finenesses = {whose: getattr(metal, whose) for whose in ("ours", "theirs", "umpire")}
    return {
        "metal": metal.metal, **{whose: _per_mille(value) for whose, value in finenesses.items()},
        "splitting_limit": _per_mille(metal.limit), "agreed_fineness": _per_mille(metal.exchanged.agreed),
        "how": metal.exchanged.how, "umpire_paid_by": metal.exchanged.umpire_paid_by or None,
        "agreed": _grams(metal.agreed), "accounted": _grams(metal.accounted), "kept": _grams(metal.kept),
        "payable": _grams(metal.payable),
    }  # fmt: skip


def _against(lots: Sequence[AgainstBook]) -> Iterator[dict[str, Any]]:
    for one in lots:
        yield {
            "lot": one.lot, "metal": one.metal, "basis": one.basis, "recorded": grams_text(one.recorded),
            "agreed": grams_text(one.agreed), "difference": grams_text(one.difference),
            "sigma_recorded": _sigma(one.sigma_recorded), "sigma_agreed": _sigma(one.sigma_agreed),
            "sigma": _sigma(one.sigma), "z": None if one.z is None else round(one.z, 6),
        }  # fmt: skip


def _history(metal: str, known: History) -> dict[str, Any]:
    return {
        "metal": metal, "settled_before": len(known.refiner.judged),
        "difference_before": grams_text(sum(lot.difference for lot in known.refiner.judged)),
        "before": _signs(known.before), "with_this": _signs(known.with_this),
    }  # fmt: skip


def _signs(signs: Signs) -> dict[str, Any]:
    return {"below": signs.positive, "above": signs.negative, "equal": signs.nothing,
            "p_below": None if signs.p_positive is None else float(signs.p_positive),
            "p_either": None if signs.p_either is None else float(signs.p_either)}  # fmt: skip


def _per_mille(fineness: Fraction | None) -> str | None:
    return None if fineness is None else decimal_text(fineness * 1000, 6)


def _grams(value: Fraction) -> str:
    return grams_text(round(value))


def _sigma(ng: float) -> float:
    return round(ng / 1e9, 9)
