"""A lay-up, for people and for programs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.bench import layup_working
from ledger.bench.charge_forms import Figures
from ledger.bench.layup import AtGauge, Layup, at_gauge
from ledger.bench.layup_mark import EXEMPT, GivenAway, Marked, given_away
from ledger.bench.working import Step, Working
from ledger.faces.caution import NO_LEGAL_ADVICE, at_work, say_at_work
from ledger.faces.printing import say, say_text
from ledger.faces.working_page import say_working
from ledger.quantities.fineness import per_mille_text
from ledger.quantities.mass import decimal_text, grams_text
from ledger.quantities.rounding import half_even


@dataclass(frozen=True, slots=True)
class Month:
    """What is shipped in a month, in nanograms, and the price of a nanogram, with its words, where there is one."""

    shipped_ng: int
    price_per_ng: Fraction | None
    price: str


@dataclass(frozen=True, slots=True)
class LayupPage:
    """A lay-up against its mark, at its gauges; ``planned``: it is still to be weighed out."""

    layup: Layup
    checked: Marked
    mark: str
    figures: Figures
    gauges: Sequence[int]
    width_nm: int | None
    month: Month | None
    planned: bool

    def say(self) -> None:
        """Print the page."""
        layup = self.layup
        say(f"Lay-up for {self.mark}, {'planned' if self.planned else 'as stated'}")
        say()
        if layup.mass_ng is not None:
            for part, weight in zip(layup.parts, layup.weights, strict=True):
                if weight:
                    say(f"  {part.name}: {self.figures.mass(weight * layup.mass_ng)}")
            say()
        say_working(self.working())
        say()
        side = "Below" if self.checked.over < 0 else "Above"
        over = per_mille_text(abs(self.checked.over))
        say_text(f"{self.checked.words()}. {side} what it promises: {over} ‰ of the weight, fine.")
        say_text(f"{EXEMPT} What squeezes out in bonding is not here: weigh the bonded plate.")
        say_text(NO_LEGAL_ADVICE)
        say()
        say_at_work("bond")

    def working(self) -> Working:
        """Return all the steps."""
        working = Working()
        for steps in self._parts():
            working.extend(steps)
        return working

    def _parts(self) -> Iterator[Iterator[Step]]:
        layup, metal = self.layup, self.checked.metal
        yield layup_working.weights(layup, self.figures)
        yield layup_working.metals(layup, self.figures, metal)
        yield layup_working.volumes(layup)
        yield layup_working.against_mark(self.checked, self.mark, layup)
        for at in self._at():
            yield layup_working.gauge(at, layup, self.figures, metal)
        if self.month is not None and (given := self._given()) is not None:
            yield layup_working.month(given, self.checked, self.figures, self.month.price)

    def _at(self) -> list[AtGauge]:
        return [at_gauge(self.layup, gauge, self.width_nm) for gauge in self.gauges]

    def _given(self) -> GivenAway | None:
        if self.month is None:
            return None
        return given_away(self.checked.over, self.month.shipped_ng, self.month.price_per_ng)

    def document(self) -> dict[str, Any]:
        """Return the page as JSON-able figures: lengths in mm, finenesses in ‰, shares in per cent."""
        layup, checked, given = self.layup, self.checked, self._given()
        volumes = layup.volumes or (None,) * len(layup.parts)
        return {
            "mark": self.mark,
            "metal": checked.metal,
            "planned": self.planned,
            "faces": layup.faces,
            "bond_counts": layup.bond_counts,
            "mass": None if layup.mass_ng is None else grams_text(layup.mass_ng),
            "parts": [
                {
                    "part": part.name,
                    "mass": None if layup.mass_ng is None else _grams(weight * layup.mass_ng),
                    "weight_share": _percent(weight),
                    "volume_share": None if volume is None else _percent(volume),
                    "fineness": {metal: per_mille_text(share, 6) for metal, share in part.holds.items()},
                    "density": None if part.density is None else decimal_text(part.density, 6),
                    "density_mixed": part.mixed,
                }
                for part, weight, volume in zip(layup.parts, layup.weights, volumes, strict=True)
            ],
            "density": None if layup.density is None else decimal_text(layup.density, 6),
            "layer_share": _percent(checked.has_share),
            "layer_fineness": per_mille_text(checked.has_fineness, 6),
            "fineness": per_mille_text(checked.content, 6),
            "meets": checked.meets,
            "gold_filled": checked.filled if checked.metal == "gold" else None,
            "above": per_mille_text(checked.over, 6),
            "gauges": [self._gauge(at) for at in self._at()],
            "given_away": None if given is None or self.month is None else {
                "shipped": grams_text(given.shipped_ng),
                "fine": _grams(given.fine_ng),
                "price": self.month.price or None,
                "value": None if given.value is None else decimal_text(given.value, 2),
            },
            "verdict": checked.words(),
            "working": self.working().document(),
            "legal": NO_LEGAL_ADVICE,
            "caution": at_work("bond"),
        }  # fmt: skip

    def _gauge(self, at: AtGauge) -> dict[str, Any]:
        return {
            "gauge": _mm(Fraction(at.gauge_nm)), "layer": _mm(at.layer_nm), "bond": _mm(at.bond_nm), "per": at.per,
            "mass": _grams(at.mass_ng), "content": {metal: _grams(ng) for metal, ng in at.content_ng.items()},
        }  # fmt: skip


def _grams(mass_ng: Fraction) -> str:
    return grams_text(half_even(mass_ng.numerator, mass_ng.denominator))


def _percent(share: Fraction) -> str:
    return decimal_text(share * 100, 6)


def _mm(length_nm: Fraction) -> str:
    return decimal_text(length_nm / 10**6, 6)
