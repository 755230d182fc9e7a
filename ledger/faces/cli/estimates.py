"""``lemel estimates``: what estimates turned out to be worth, and what still rests on one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.faces.cli import options
from ledger.faces.printing import Table, counted, mass, say, say_as_of, say_json, say_table, say_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from ledger.balance.daily.back_test import BackTest, StreamTest
    from ledger.balance.daily.settlements import Refiner, Settled
    from ledger.book.holdings import PlantFacts
    from ledger.plant.calendar import Calendar


def estimates(
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Test estimates against what came.

    By stream (whose dust or difference it is, and the class of the lot): estimated content against what assay,
    settlement or discard then found, the mean ratio with its 95 % interval, and the oldest estimate still open. Then
    each refiner: recorded less agreed, lot by lot, and whether the sign is always the same.

    Example:  lemel estimates --metal silver
    """
    from ledger.balance.daily.settlements import settlements
    from ledger.book import holdings
    from ledger.book.setups import Setups
    from ledger.refusals import WrongUsage

    with options.reading_book(book) as connection:
        facts = holdings.plant_facts(connection)
        of, in_unit = options.metal_of(facts, metal), options.unit_of(facts, unit)
        if of == "gross":
            mend = "give one of " + ", ".join(facts.metals)
            raise WrongUsage("gross is weighed, and never an estimate", mend, field="--metal")
        calendar = Setups.read(connection).calendar
        page = Page(facts, of, in_unit, calendar, _back_test(connection, facts, of),
                    settlements(connection, facts.place(of)))  # fmt: skip
        as_of = holdings.as_of(connection)
    if json:
        say_json({**page.document(), **as_of.document()})
    else:
        page.say()
        say_as_of(as_of)


def _back_test(connection: sqlite3.Connection, facts: PlantFacts, metal: str) -> BackTest:
    from ledger.balance.daily.back_test import back_test
    from ledger.balance.daily.estimates import open_estimates
    from ledger.balance.daily.exceptions import sent_now
    from ledger.book import holdings

    metals = ("gross", *facts.metals)
    places = [(h.area, h.described.lot, h.amounts) for h in holdings.stock(connection, facts)]
    places += [("in transit", s.lot, s.amounts) for s in sent_now(connection)]
    return back_test(connection, metals, metal, open_estimates(connection, places))


class Page:
    """The back-test and the refiners, for people or as a document."""

    def __init__(
        self, facts: PlantFacts, metal: str, unit: str, calendar: Calendar, test: BackTest, refiners: Sequence[Refiner]
    ) -> None:
        self.facts, self.metal, self.unit, self.calendar = facts, metal, unit, calendar
        self.test, self.refiners, self.place = test, refiners, facts.place(metal)

    # For people.

    def say(self) -> None:
        """Print the page."""
        from ledger.faces.caution import say_caution

        say_text(f"Estimates of {self.facts.name}: {self.metal}, in {self.unit}")
        say()
        tested = [s for s in self.test.streams if s.pairs]
        if tested:
            say_text("Estimated, and what assay, settlement or discard then brought")
            say_table(self._tested(tested))
        else:
            say("no estimate has been tested by an assay or a settlement yet")
        if self.test.left_out:
            say_text(f"Left out: {counted(self.test.left_out, 'estimate')} of a mixture, or of nothing at all.")
        waiting = [s for s in self.test.streams if s.open]
        if waiting:
            say()
            say("Still an estimate")
            say_table(self._waiting(waiting))
        for refiner in self.refiners:
            say()
            self._say_refiner(refiner)
        say()
        say_text("Ratio: brought ÷ estimated; below 1 less came than was estimated. Interval: of the mean ratio, 95 %, "
                 "by Student's t, lots taken as independent. A difference is + where the refiner found less, per mille "
                 "of what was recorded.")  # fmt: skip
        say_caution()

    def _tested(self, streams: Sequence[StreamTest]) -> Table:
        table = Table(["whose", "class", "pairs", "estimated", "brought", "ratio", "sd", "95 %", "bias"],
                      frozenset((0, 1, 8)))  # fmt: skip
        for s in streams:
            ratio = s.ratio
            assert ratio is not None
            interval = "–" if ratio.low is None or ratio.high is None else f"{ratio.low:.3f} to {ratio.high:.3f}"
            table.add(whose(s), s.stream.lot_class, str(len(s.pairs)), self._mass(sum(p.estimated for p in s.pairs)),
                      self._mass(sum(p.brought for p in s.pairs)), f"{ratio.mean:.3f}",
                      "–" if ratio.sd is None else f"{ratio.sd:.3f}", interval, s.bias)  # fmt: skip
        return table

    def _waiting(self, streams: Sequence[StreamTest]) -> Table:
        table = Table(["whose", "class", "lots", "estimated", "oldest", "since"], frozenset((0, 1, 4, 5)))
        for s in streams:
            since = self.calendar.text(s.open[0].since)[:10]
            table.add(whose(s), s.stream.lot_class, str(len(s.open)), self._mass(s.open_content(self.place)),
                      s.open[0].lot, since)  # fmt: skip
        return table

    def _say_refiner(self, refiner: Refiner) -> None:
        signs = refiner.signs
        say_text(f"Refiner {refiner.party}: {counted(len(refiner.lots), 'lot')} settled, {len(refiner.judged)} of them "
                 "known by assay or calculation")  # fmt: skip
        if not refiner.judged:
            return
        table = Table(["lot", "ticket", "at", "recorded", "agreed", "difference", "‰"], frozenset((0, 1, 2)))
        for lot in refiner.judged:
            table.add(lot.lot, lot.ticket, self.calendar.text(lot.instant)[:10], self._mass(lot.recorded),
                      self._mass(lot.agreed), self._mass(lot.difference), _per_mille(lot))  # fmt: skip
        whole = [sum(getattr(lot, key) for lot in refiner.judged) for key in ("recorded", "agreed", "difference")]
        table.total = ("together", "", "", *(self._mass(ng) for ng in whole), "")
        say_table(table)
        if signs.p_positive is not None and signs.p_either is not None:
            say_text(f"Sign test: {signs.positive} below our figure, {signs.negative} above, {signs.nothing} equal. By "
                     f"chance so many below: p = {_p(signs.p_positive)}; so uneven either way: p = "
                     f"{_p(signs.p_either)}.")  # fmt: skip

    def _mass(self, mass_ng: int) -> str:
        return mass(mass_ng, self.unit)

    # As a document.

    def document(self) -> dict[str, Any]:
        """Return the page as JSON-able figures; ratios and probabilities are numbers."""
        return {
            "plant": self.facts.name, "metal": self.metal,
            "streams": [self._stream(s) for s in self.test.streams], "left_out": self.test.left_out,
            "refiners": [self._refiner(r) for r in self.refiners],
        }  # fmt: skip

    def _stream(self, s: StreamTest) -> dict[str, Any]:
        from ledger.quantities.mass import grams_text

        ratio = s.ratio
        sums = [grams_text(sum(getattr(p, key) for p in s.pairs)) for key in ("estimated", "brought")]
        oldest = s.open[0] if s.open else None
        return {
            "account": s.stream.account, "area": s.stream.area or None, "class": s.stream.lot_class or None,
            "estimated": sums[0], "brought": sums[1], "bias": s.bias,
            "ratio": {key: ratio and _rounded(getattr(ratio, key)) for key in ("mean", "sd", "low", "high")},
            "pairs": [
                {"ticket": p.ticket, "kind": p.kind, "at": self.calendar.text(p.instant), "lot": p.lot,
                 "estimated": grams_text(p.estimated), "brought": grams_text(p.brought),
                 "ratio": round(p.ratio, 9)}
                for p in s.pairs
            ],
            "open": {"lots": [e.lot for e in s.open], "estimated": grams_text(s.open_content(self.place)),
                     "oldest": oldest and oldest.lot,
                     "since": oldest and self.calendar.text(oldest.since)},
        }  # fmt: skip

    def _refiner(self, refiner: Refiner) -> dict[str, Any]:
        from ledger.quantities.mass import grams_text

        signs = refiner.signs
        rows = [
            {"lot": lot.lot, "ticket": lot.ticket, "at": self.calendar.text(lot.instant), "basis": lot.basis,
             "recorded": grams_text(lot.recorded), "agreed": grams_text(lot.agreed),
             "difference": grams_text(lot.difference), "judged": lot.judged}
            for lot in refiner.lots
        ]  # fmt: skip
        return {
            "party": refiner.party, "lots": rows,
            "difference": grams_text(sum(lot.difference for lot in refiner.judged)),
            "sign_test": {
                "below": signs.positive, "above": signs.negative, "equal": signs.nothing,
                "p_below": None if signs.p_positive is None else float(signs.p_positive),
                "p_either": None if signs.p_either is None else float(signs.p_either),
            },
        }  # fmt: skip


def whose(s: StreamTest) -> str:
    """Return whose estimates a stream's are: an area's dust or difference, or received with the metal."""
    return f"{s.stream.area} {s.stream.account}".strip()


def _per_mille(lot: Settled) -> str:
    return f"{1000 * lot.difference / lot.recorded:.2f}" if lot.recorded else "–"


def _p(p: Any) -> str:
    """Return a probability with two significant digits."""
    return f"{float(p):.2g}"


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 9)
