"""A pass schedule, and the table of gauges, for people and for programs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from ledger.bench import reduce_working
from ledger.bench.charge_forms import Figures
from ledger.bench.gauge import NM_PER_UNIT, THICKEST, THINNEST, awg_nm, awg_text, nearest_awg
from ledger.bench.reduce import How, Limits, Pass, mass_per_metre
from ledger.bench.working import Step, Working
from ledger.faces.caution import at_work, say_at_work
from ledger.faces.printing import Table, say, say_table, say_text
from ledger.faces.working_page import say_working
from ledger.quantities.mass import decimal_text, grams_text
from ledger.quantities.rounding import half_even

_ANNEAL: Final = {
    True: "Anneal where it says so, by the total reduction that you stated.",
    False: "Where to anneal: not worked out, since no total reduction is stated. Alloys differ widely, and none is "
    "assumed: state --anneal-after.",
}
_WIDTH: Final = "Width is taken not to change in rolling (common practice; narrow stock spreads a little)."


@dataclass(frozen=True, slots=True)
class SchedulePage:
    """A schedule, what led to its limits, and what is known of the stock."""

    how: How
    passes: Sequence[Pass]
    limits: Limits
    lead: Sequence[Step]
    length_nm: int | None
    width_nm: int | None
    density: Fraction | None
    figures: Figures

    def say(self) -> None:
        """Print the page."""
        say(f"{'Rolling' if self.how == 'roll' else 'Drawing'} in {len(self.passes)} passes")
        say()
        gauge = "gauge" if self.how == "roll" else "diameter"
        table = Table(["pass", f"{gauge}, mm", "AWG ≈", "takes, %", "since anneal, %", "length, m",
                       f"{self.figures.unit} a metre", "first"], frozenset((0, 7)))  # fmt: skip
        table.add("", _mm(self.passes[0].before_nm, 3), nearest_awg(self.passes[0].before_nm), "", "",
                  self._length(Fraction(1)), self._mass(self.passes[0].before_nm), "")  # fmt: skip
        for one in self.passes:
            table.add(str(one.number), _mm(one.after_nm, 3), nearest_awg(one.after_nm), _percent(one.reduction, 2),
                      _percent(one.since_anneal, 2), self._length(one.longer), self._mass(one.after_nm),
                      "anneal" if one.anneal_before else "")  # fmt: skip
        say_table(table.without_empty_columns())
        say()
        say_working(self.working())
        say()
        say_text(_ANNEAL[self.limits.anneal is not None])
        if self.how == "roll":
            say_text(_WIDTH)
        say()
        say_at_work("reduce")

    def working(self) -> Working:
        """Return all the steps."""
        working = Working([*self.lead])
        working.extend(reduce_working.passes(self.how, self.passes, self.limits))
        if self.length_nm is not None:
            working.extend([reduce_working.length(self.how, self.passes, self.length_nm)])
        return working

    def _length(self, longer: Fraction) -> str:
        return "" if self.length_nm is None else _metres(longer * self.length_nm, 3)

    def _mass_ng(self, gauge_nm: int) -> Fraction | None:
        if self.density is None or (self.how == "roll" and self.width_nm is None):
            return None
        return mass_per_metre(self.how, gauge_nm, self.density, self.width_nm or 0)

    def _mass(self, gauge_nm: int) -> str:
        mass = self._mass_ng(gauge_nm)
        return "" if mass is None else self.figures.mass(mass).rpartition(" ")[0]

    def document(self) -> dict[str, Any]:
        """Return the page as JSON-able figures: gauges in mm, lengths in m, shares in per cent."""
        return {
            "how": self.how,
            "from": _mm(self.passes[0].before_nm, 6),
            "to": _mm(self.passes[-1].after_nm, 6),
            "passes": [self._pass(one) for one in self.passes],
            "anneal_after": None if self.limits.anneal is None else _percent(self.limits.anneal, 6),
            "working": self.working().document(),
            "caution": at_work("reduce"),
        }

    def _pass(self, one: Pass) -> dict[str, Any]:
        mass = self._mass_ng(one.after_nm)
        return {
            "pass": one.number, "before": _mm(one.before_nm, 6), "after": _mm(one.after_nm, 6),
            "reduction": _percent(one.reduction, 6), "since_anneal": _percent(one.since_anneal, 6),
            "anneal_before": one.anneal_before,
            "length": None if self.length_nm is None else _metres(one.longer * self.length_nm, 6),
            "mass_per_metre": None if mass is None else _grams(mass),
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class GaugePage:
    """The table of gauge numbers; with a density, the mass of a metre of wire and of a square metre of sheet."""

    density: Fraction | None
    figures: Figures

    def say(self) -> None:
        """Print the page."""
        say("American wire gauge, the same numbers as Brown & Sharpe (ASTM B258):")
        say("d = 0.127 mm × 92^((36 − n)/39); each number takes 20.70 % of the section before it.")
        say()
        unit = self.figures.unit
        table = Table(["gauge", "mm", "in", "mm²", f"{unit}/m of wire", f"{unit}/m² of sheet"])
        for row in self._rows():
            masses = (row["wire"], row["sheet"])
            written = ("" if ng is None else self.figures.mass(ng).rpartition(" ")[0] for ng in masses)
            table.add(row["gauge"], row["mm"], row["in"], row["section"], *written)
        say_table(table.without_empty_columns())

    def _rows(self) -> Iterator[dict[str, Any]]:
        for number in range(THICKEST, THINNEST + 1):
            nm = awg_nm(number)
            wire, sheet = (None, None) if self.density is None else (
                mass_per_metre("draw", nm, self.density), mass_per_metre("roll", nm, self.density, NM_PER_UNIT["m"]),
            )  # fmt: skip
            area = mass_per_metre("draw", nm, Fraction(1))
            yield {"gauge": awg_text(number), "mm": _mm(nm, 6), "in": decimal_text(Fraction(nm, 25_400_000), 4),
                   "section": decimal_text(area / 10**9, 6), "wire": wire, "sheet": sheet}  # fmt: skip

    def document(self) -> dict[str, Any]:
        """Return the table as JSON-able figures."""
        def grams(ng: Fraction | None) -> str | None:
            return None if ng is None else _grams(ng)

        rows = [{**row, "wire": grams(row["wire"]), "sheet": grams(row["sheet"])} for row in self._rows()]
        return {"how": "gauges", "density": None if self.density is None else decimal_text(self.density, 6),
                "gauges": rows}  # fmt: skip


def _mm(length_nm: Fraction | int, places: int) -> str:
    return decimal_text(Fraction(length_nm) / 10**6, places)


def _metres(length_nm: Fraction, places: int) -> str:
    return decimal_text(length_nm / 10**9, places)


def _percent(share: Fraction, places: int) -> str:
    return decimal_text(share * 100, places)


def _grams(mass_ng: Fraction) -> str:
    return grams_text(half_even(mass_ng.numerator, mass_ng.denominator))
