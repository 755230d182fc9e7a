"""Dust truth: what H is worth, and after a clean-out, whether what was accrued came back.

After a clean-out H should be nothing. What is left of it then, the shortfall, is tested against the σ of the estimates,
of the recoverable share and of the losses that made it. Dust that was accrued and never came is the oldest way to hide
a loss.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple, Protocol

from ledger.balance.flows.columns import Dust
from ledger.balance.judging.single_tests import two_sided
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.dust import DustForms
from ledger.balance.measurement.forms import Form, Tape
from ledger.balance.measurement.worth import z_score
from ledger.plant.setup import Setup
from ledger.quantities.mass import mass_text


class Monthly(Protocol):
    """One period's dust, as the month-end statement has it."""

    setup: Setup

    @property
    def tape(self) -> Tape:
        """The error sources that the forms name; one for all months."""

    @property
    def clean_outs(self) -> dict[str, int]:
        """When each area was last cleaned out in the period."""

    def dust(self, area: str, opening: int) -> Dust:
        """Return an area's dust from its opening."""

    def dust_left(self, area: str, opening: int) -> int:
        """Return an area's H at the end of the period from that at its beginning."""

    def dust_forms(self, area: str, opening: Form) -> DustForms:
        """Return the forms of an area's dust from that of its opening."""


@dataclass(frozen=True, slots=True)
class DustTruth:
    """An area's dust in one metal, and its worth.

    ``row``: the shortfall as a row in sources where the area was cleaned out in the period, otherwise H at its end;
    ``sigma`` of that, in ng. ``z`` and ``verdict`` only after a clean-out; + where dust that was accrued did not come.
    """

    dust: Dust
    cleaned_out: bool
    row: Form
    sigma: float
    z: float | None
    verdict: str | None


class DustOpening(NamedTuple):
    """H at a period's beginning, in ng, and its form."""

    ng: int
    form: Form


def dust_openings(months: Sequence[Monthly], areas: Iterable[str]) -> dict[str, DustOpening]:
    """Return each area's H after the book's months, which begin with its first."""
    return {area: DustOpening(_dust(months, area), _form(months, area)) for area in areas}


def dust_truths(month: Monthly, openings: Mapping[str, DustOpening]) -> dict[str, DustTruth]:
    """Return the dust of every area at a month's end, from what it was at its beginning."""
    areas = [area.code for area in month.setup.area]
    forms = [month.dust_forms(area, openings[area].form) for area in areas]
    rows = month.tape.rows([f.closing if f.shortfall is None else f.shortfall for f in forms])
    return {
        area: judged(month, month.dust(area, openings[area].ng), row, cleaned_out=area in month.clean_outs)
        for area, row in zip(areas, rows, strict=True)
    }


def _dust(months: Sequence[Monthly], area: str) -> int:
    ng = 0
    for month in months:
        ng = month.dust_left(area, ng)
    return ng


def _form(months: Sequence[Monthly], area: str) -> Form:
    """Return the form of H; a clean-out leaves nothing of what came before it."""
    cleaned = [i for i, month in enumerate(months) if area in month.clean_outs]
    form: Form = {}
    for month in months[cleaned[-1] if cleaned else 0 :]:
        form = month.dust_forms(area, form).closing
    return form


def judged(month: Monthly, dust: Dust, row: Form, *, cleaned_out: bool) -> DustTruth:
    """Return dust with its σ, and, after a clean-out, what the shortfall is in units of it."""
    sigma, plant = sqrt(month.tape.variance(row)), month.setup.plant
    if not cleaned_out:
        return DustTruth(dust, False, row, sigma, None, None)
    verdict = two_sided(dust.shortfall, sigma, float(plant.warn), float(plant.act))
    return DustTruth(dust, True, row, sigma, z_score(dust.shortfall, sigma), verdict)


def remarks(month: Monthly, truth: DustTruth, trivial: int) -> Iterator[str]:
    """Say of a clean-out that fell short, or brought more than was accrued, by how much, and what σ is made of."""
    shortfall = truth.dust.shortfall
    if truth.verdict in (None, "within") or abs(shortfall) <= trivial:
        return
    what = "dust that was accrued and never came" if shortfall > 0 else "more dust came than was accrued"
    z = "without any σ" if truth.z is None else f"{abs(truth.z):.1f} σ"
    level = "warning" if truth.verdict == "look" else "action"
    items = budget(month.tape, truth.row)
    most = f"; most of σ: {items[0].words} ({items[0].share:.0%} of the variance)" if items else ""
    yield f"{what}: {mass_text(abs(shortfall))} g at the clean-out, {z}, beyond the {level} level{most}"
