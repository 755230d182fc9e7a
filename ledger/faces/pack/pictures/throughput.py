"""Loss against throughput, ticket by ticket: the slope is process, what stands at nothing put in is something else."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import ALARM, DARK, INK, RULE, SMALL, SOFT, Caption, Missing, Sheet, drawn
from ledger.faces.pack.pictures.measure import Measure, grams_of, ng_of
from ledger.faces.pack.pictures.panels import Panel, ends_of, panels, zero_line
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

KEY: Final = "picture-loss-and-throughput"
_FEWEST, _DRAWN, _PLOT = 4, 8, 1.35
_COLUMNS: Final = (
    Column("operation", "operation"), Column("tickets", "tickets", "count"), Column("aside", "set aside", "count"),
    Column("slope", "slope, ‰", "number"), Column("slope_sigma", "σ, ‰", "number"),
    Column("intercept", "intercept", "mass"), Column("intercept_sigma", "its σ", "mass"), Column("z", "z", "number"),
    Column("allowed_slope", "allowed slope, ‰", "number"), Column("allowed_intercept", "allowed each", "mass"),
)  # fmt: skip


class Worked(NamedTuple):
    """One work ticket or job: plain decimal grams put in, its own difference and its normal loss; σ in grams; and
    whether it stands out by itself, so that it tells of one event and not of the operation."""

    operation: str
    put_in: str
    difference: str
    allowed: str
    sigma: float
    apart: bool


class Line(NamedTuple):
    """A weighted straight line: intercept (grams) and slope, with their σ."""

    intercept: float
    slope: float
    intercept_sigma: float
    slope_sigma: float

    @property
    def z(self) -> float:
        """The intercept in its own σ."""
        return self.intercept / self.intercept_sigma


def throughput(measure: Measure, period: str, worked: Sequence[Worked]) -> Picture | Missing:
    """Return the panels of the operations with enough tickets of different size."""
    by: dict[str, list[Worked]] = {}
    for one in worked:
        by.setdefault(one.operation, []).append(one)
    lines = {operation: line for operation, own in by.items() if (line := fitted_line(own)) is not None}
    if not lines:
        return Missing(KEY, f"No operation has {_FEWEST} tickets of different size this period, too few for a line.")
    rows = [_row(operation, by[operation], line) for operation, line in lines.items()]
    says = _says(measure, period, rows)
    note = (
        "A straight line through the tickets' own differences, weighted by their σ; tickets beyond the action level by "
        "themselves are drawn and left out of it. z is the intercept, less what is allowed for each ticket, in its σ."
    )
    figures = Schedule(KEY, "Loss against what was put in", says, _COLUMNS, rows, [note])
    order = sorted(lines, key=lambda operation: -sum(ng_of(one.put_in) for one in by[operation]))[:_DRAWN]
    alternative = f"{len(order)} panels, an operation each, a mark for each ticket and a line through them. {says}"
    places, height = panels(len(order), 0.35, 0.1, _PLOT, head=0.46)
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, height,
        lambda sheet: _draw(sheet, measure, places, [(name, by[name], lines[name]) for name in order]),
    )  # fmt: skip


def fitted_line(tickets: Sequence[Worked]) -> Line | None:
    """Return the line through the differences of tickets that do not stand out, None where they are too few or alike.

    Weighted least squares with known σ: for weights w = 1/σ², mean x̄ = Σwx/Σw and S = Σw(x − x̄)², the slope is
    Σw(x − x̄)y/S with variance 1/S, the intercept ȳ − slope·x̄ with variance 1/Σw + x̄²/S (from memory).
    """
    own = [(ng_of(t.put_in) / 1e9, ng_of(t.difference) / 1e9, t.sigma**-2) for t in tickets if not t.apart and t.sigma]
    if len(own) < _FEWEST:
        return None
    weight = sum(w for *_, w in own)
    x, y = (sum(w * p[i] for p in own for w in [p[2]]) / weight for i in (0, 1))
    spread = sum(w * (put_in - x) ** 2 for put_in, _, w in own)
    if spread <= 0 or spread * x * x < 1e-12 * weight:
        return None
    slope = sum(w * (put_in - x) * lost for put_in, lost, w in own) / spread
    return Line(y - slope * x, slope, sqrt(1 / weight + x * x / spread), sqrt(1 / spread))


def _row(operation: str, tickets: Sequence[Worked], line: Line) -> Row:
    allowed = fitted_line([one._replace(difference=one.allowed) for one in tickets])
    assert allowed is not None
    return {
        "operation": operation, "tickets": len(tickets), "aside": sum(one.apart for one in tickets),
        "slope": round(1000 * line.slope, 6), "slope_sigma": round(1000 * line.slope_sigma, 6),
        "intercept": grams_of(line.intercept), "intercept_sigma": grams_of(line.intercept_sigma),
        "z": round((line.intercept - allowed.intercept) / line.intercept_sigma, 6),
        "allowed_slope": round(1000 * allowed.slope, 6), "allowed_intercept": grams_of(allowed.intercept),
    }  # fmt: skip


def _says(measure: Measure, period: str, rows: Sequence[Row]) -> str:
    most = max(rows, key=lambda row: abs(float(row["z"] or 0.0)))
    beyond = sum(1 for row in rows if abs(float(row["z"] or 0.0)) > measure.act)
    lose = "loses" if beyond == 1 else "lose"
    each, sigma = (measure.with_unit(str(most[key])) for key in ("intercept", "intercept_sigma"))
    return (
        f"In {period} {beyond} of {counted(len(rows), 'operation')} {lose} something that does not grow with what is "
        f"put in (beyond {measure.act_words}); the furthest is {most['operation']}, {each} a ticket with σ {sigma}, "
        f"and {float(most['slope'] or 0):.3f} ‰ of what is put in."
    )


def _draw(
    sheet: Sheet, measure: Measure, places: Sequence[Panel], order: Sequence[tuple[str, Sequence[Worked], Line]]
) -> None:  # fmt: skip
    sheet.text(0, 0.12, f"Up: a ticket's own difference, {measure.unit}, + missing. Across: put in, {measure.unit}. "
               "Short stroke: normal loss allowed. Filled: apart, not in the line.", size=SMALL, tone=SOFT)  # fmt: skip
    for place, (operation, tickets, line) in zip(places, order, strict=True):
        _panel(sheet, measure, place, operation, tickets, line)


def _panel(
    sheet: Sheet, measure: Measure, place: Panel, operation: str, tickets: Sequence[Worked], line: Line
) -> None:  # fmt: skip
    grams = measure.size("1")
    sizes, lost, allowed = ([measure.size(getattr(t, key)) for t in tickets] for key in
                            ("put_in", "difference", "allowed"))  # fmt: skip
    usual = [value for value, t in zip(lost, tickets, strict=True) if not t.apart]
    x = (0.0, max(sizes) * 1.05)
    ends = [line.intercept * grams, line.intercept * grams + line.slope * x[1]]
    y = ends_of([0.0, *usual, *allowed, *ends])
    axes = place.axes(sheet, operation, x, y)
    zero_line(axes)
    axes.plot(x, ends, color=DARK, linewidth=1.2)
    axes.plot(sizes, allowed, linestyle="none", marker="_", markersize=7, color=RULE, markeredgewidth=1.4)
    for size, value, ticket in zip(sizes, lost, tickets, strict=True):
        marker = "^" if value > y[1] else "v" if value < y[0] else "D" if ticket.apart else "o"
        axes.plot([size], [min(max(value, y[0]), y[1])], marker=marker, markersize=5 if ticket.apart else 3.8,
                  color=ALARM if ticket.apart else "white", markeredgecolor=INK, markeredgewidth=0.7,
                  clip_on=False)  # fmt: skip
    words = f"{1000 * line.slope:,.3f} ‰, and {measure.with_unit(grams_of(line.intercept))} each"
    sheet.text(place.left, place.top + 0.29, words, size=SMALL)
