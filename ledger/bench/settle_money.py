"""The money of a settlement: metal sold, charges, the umpire, advances and interest. Positive amounts are ours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from ledger.bench.settle import Settled
from ledger.bench.settle_figures import figure, of_unit, per_cent
from ledger.bench.settle_terms import Advance, Charge
from ledger.bench.working import Working
from ledger.quantities.mass import NG_PER_UNIT


class Amount(NamedTuple):
    """One amount of money, rounded to the terms' step: + owed to us."""

    what: str
    amount: Fraction


class MetalDue(NamedTuple):
    """One metal, ng: payable, less what was advanced in metal and the interest on it, is the balance still due."""

    metal: str
    payable: Fraction
    advanced: Fraction
    interest: Fraction

    @property
    def balance(self) -> Fraction:
        """What is still due of the metal; below nothing where more was advanced."""
        return self.payable - self.advanced - self.interest


@dataclass(frozen=True, slots=True)
class Money:
    """The amounts of a settlement, their sum, and each metal's balance, with the working."""

    amounts: tuple[Amount, ...]
    metals: tuple[MetalDue, ...]
    working: Working

    @property
    def due(self) -> Fraction:
        """What the refiner still owes us in money; below nothing where we owe him."""
        return sum((amount.amount for amount in self.amounts), Fraction(0))


def money_of(settled: Settled) -> Money:
    """Return what a settlement comes to in money, and what of each metal is due."""
    one = _MoneySum(settled)
    amounts = (*one.sold(), *one.charges(), *one.umpire(), *one.advances())
    metals = tuple(one.metals())
    money = Money(amounts, metals, one.working)
    if amounts:
        one.working.step("due to us" if money.due >= 0 else "due to the refiner", one.text(abs(money.due)))
    return money


class _MoneySum:
    def __init__(self, settled: Settled) -> None:
        self.settled, self.working = settled, Working()
        self.out_turn = settled.out_turn
        self.rounding = settled.out_turn.rounding
        self.unit = self.rounding.mass.unit

    def text(self, amount: Fraction) -> str:
        return f"{figure(amount)} {self.out_turn.heading.currency}".rstrip()

    def _amount(self, what: str, words: str, exact: Fraction) -> Amount:
        rounded = self.rounding.at_the_end(exact, self.rounding.money)
        self.working.step(f"{what}: {words}", self.text(rounded))
        return Amount(what, rounded)

    def sold(self) -> Iterator[Amount]:
        if self.out_turn.heading.pay != "money":
            return
        for terms in self.out_turn.metals:
            payable, price = self.settled.payable(terms.metal), terms.price or Fraction(0)
            words = f"{of_unit(payable, terms.price_per)} × {figure(price)} a {terms.price_per}"
            yield self._amount(f"{terms.metal} sold", words, payable / NG_PER_UNIT[terms.price_per] * price)

    def charges(self) -> Iterator[Amount]:
        for charge in self.out_turn.charges:
            if charge.amount is None:
                continue
            base, words = self._base(charge)
            exact = charge.amount * base
            if charge.minimum is not None and exact < charge.minimum:
                exact, words = charge.minimum, f"{words}, less than the minimum"
            yield self._amount(charge.what, words, -exact)

    def _base(self, charge: Charge) -> tuple[Fraction, str]:
        rate = figure(charge.amount or Fraction(0))
        if charge.per == "settlement":
            return Fraction(1), f"{rate} for the settlement"
        if charge.per == "lot":
            return Fraction(len(self.settled.lots)), f"{len(self.settled.lots)} × {rate} a lot"
        if charge.metal is None:
            mass, of = Fraction(sum(lot.lot.received for lot in self.settled.lots)), "received"
        else:
            mass, of = self.settled.payable(charge.metal), f"of {charge.metal} payable"
        return mass / NG_PER_UNIT[charge.per], f"{of_unit(mass, charge.per)} {of} × {rate} a {charge.per}"

    def umpire(self) -> Iterator[Amount]:
        fees = {terms.metal: terms.umpire_fee for terms in self.out_turn.metals}
        for lot in self.settled.lots:
            for metal in lot.metals:
                fee, payer = fees[metal.metal], metal.exchanged.umpire_paid_by
                what = f"umpire of {lot.lot.lot}, {metal.metal}"
                if not payer:
                    continue
                if payer == "theirs" or fee is None:
                    pays = {"ours": "we pay", "theirs": "the refiner pays", "both": "each pays half"}[payer]
                    self.working.step(f"{what}: {pays}{'' if fee else ', the fee is not given'}")
                    continue
                share = Fraction(1) if payer == "ours" else Fraction(1, 2)
                words = "ours lies farther from his" if payer == "ours" else "both lie as far from his: half"
                yield self._amount(what, words, -fee * share)

    def advances(self) -> Iterator[Amount]:
        for advance in self.out_turn.advances:
            if advance.amount is None:
                continue
            yield self._amount("advance", "paid before", -advance.amount)
            if advance.rate:
                yield self._amount("interest", _interest_words(self.text(advance.amount), advance),
                                   -advance.amount * _interest(advance))  # fmt: skip

    def metals(self) -> Iterator[MetalDue]:
        for terms in self.out_turn.metals:
            given = [a for a in self.out_turn.advances if a.metal == terms.metal and a.mass is not None]
            advanced = sum((Fraction(a.mass or 0) for a in given), Fraction(0))
            interest = Fraction(0)
            for advance in given:
                mass = Fraction(advance.mass or 0)
                one = self.rounding.at_the_end(mass * _interest(advance), self.rounding.mass.ng)
                self.working.step(f"{terms.metal} advanced", of_unit(mass, self.unit))
                if advance.rate:
                    self.working.step(_interest_words(of_unit(mass, self.unit), advance), of_unit(one, self.unit))
                interest += one
            due = MetalDue(terms.metal, self.settled.payable(terms.metal), advanced, interest)
            if given:
                self.working.step(f"{terms.metal} still due", of_unit(due.balance, self.unit))
            yield due


def _interest(advance: Advance) -> Fraction:
    return advance.rate * advance.interest_days() / advance.year


def _interest_words(principal: str, advance: Advance) -> str:
    days = advance.interest_days()
    return f"{principal} × {per_cent(advance.rate)} × {days} ÷ {advance.year} days"
