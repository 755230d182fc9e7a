"""Which measurement makes the σ of a balance: shares of σ², largest first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from ledger.faces.pack.pictures.canvas import DARK, INK, Caption, Missing, Sheet, drawn, fitted
from ledger.faces.pack.pictures.measure import Measure, grams_of
from ledger.faces.pack.pictures.rows import Rows, widest
from ledger.faces.pack.pictures.svg import key_of
from ledger.faces.pack.printed import per_cent
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule

_COLUMNS: Final = (
    Column("source", "what makes σ"), Column("sources", "sources", "count"), Column("sigma", "σ", "mass"),
    Column("share", "share of σ²", "share", summed=True), Column("mend", "what would make it smaller"),
)  # fmt: skip
_DRAWN, _STEP = 10, 0.42


class Source(NamedTuple):
    """Errors of one sort and one instrument: how many, the σ they make in grams, and their share of σ²."""

    words: str
    sources: int
    sigma: float
    share: float
    mend: str


def variance(measure: Measure, area: str, title: str, sources: Sequence[Source]) -> Picture | Missing:
    """Return the picture of one balance's σ², whose sources are largest first."""
    key = key_of("picture-variance", area)
    if not sources:
        return Missing(key, f"The balance of {title} has no measurement in it, and no σ.")
    shown = _shown(sources)
    rows: list[Row] = [
        {"source": s.words, "sources": s.sources, "sigma": grams_of(s.sigma), "share": s.share, "mend": s.mend or None}
        for s in shown
    ]
    first = sources[0]
    says = (
        f"{per_cent(first.share)} of the variance of {title} comes from {first.words}; what would make it smaller: "
        f"{first.mend}."
    )
    figures = Schedule(key, f"Where σ comes from: {title}", says, _COLUMNS, rows, [
        "Sources are independent: shares of σ² add up to the whole, the σ of one do not.",
    ])  # fmt: skip
    alternative = f"Bars of the share of variance, {len(shown)} sorts of source, longest at the top. {says}"
    rows_at = Rows(0.3, len(shown), _STEP, 0.0, [0.8, widest([measure.text(grams_of(s.sigma)) for s in shown], 0.7)])
    return drawn(
        Caption(key, figures.title, says, alternative), figures, rows_at.bottom + 0.1,
        lambda sheet: _draw(sheet, measure, rows_at, shown),
    )  # fmt: skip


def _shown(sources: Sequence[Source]) -> list[Source]:
    """Return the largest, and the rest together as the last where there is one."""
    if len(sources) <= _DRAWN:
        return list(sources)
    rest = sources[_DRAWN - 1 :]
    together = Source(
        f"{len(rest)} further sorts", sum(s.sources for s in rest), sum(s.sigma**2 for s in rest) ** 0.5,
        round(sum(s.share for s in rest), 6), "",
    )  # fmt: skip
    return [*sources[: _DRAWN - 1], together]


def _draw(sheet: Sheet, measure: Measure, rows: Rows, shown: Sequence[Source]) -> None:
    axes = rows.axes(sheet, 0, max(s.share for s in shown) * 1.02)
    rows.head(sheet, 0, "of σ²")
    rows.head(sheet, 1, f"σ, {measure.unit}")
    for row, source in enumerate(shown):
        words = fitted(source.words, rows.width)
        sheet.text(rows.left, rows.middle(row) - 0.1, words)
        axes.barh(row + 0.25, source.share, height=0.3, color=DARK if source.mend else "white", edgecolor=INK,
                  linewidth=0.6)  # fmt: skip
        rows.figure(sheet, row, 0, per_cent(source.share))
        rows.figure(sheet, row, 1, measure.text(grams_of(source.sigma)))
