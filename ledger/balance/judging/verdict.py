"""Verdicts, in their order, and the reasons for them in words."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ledger.balance.measurement.worth import Sigma, z_score
from ledger.quantities.mass import mass_text

Verdict = Literal["uncounted", "unrated", "short", "over", "look", "within", "not judged"]


@dataclass(frozen=True, slots=True)
class Levels:
    """What a balance is judged by: warning and action level in σ, tolerance and trivial mass in nanograms."""

    warn: Fraction
    act: Fraction
    tolerance: int | None
    trivial: int


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict, its z, whether the tolerance is tighter than measurement can hold, and why."""

    verdict: Verdict
    z: float | None
    coarse: bool
    reasons: list[str]


def judge(unexplained: int, sigma: Sigma, levels: Levels, *, counted: bool, rated: bool, judged: bool) -> Judgement:
    """Return the verdict on U, the first that applies: uncounted, unrated, short or over, look, within."""
    z = z_score(unexplained, sigma.total) if counted else None
    coarse = levels.tolerance is not None and levels.tolerance < levels.act * Fraction(sigma.total)
    if not judged:
        return Judgement("not judged", z, False, ["the set-up says that gross is not judged here"])
    reasons = _coarse_reason(levels, sigma) if coarse else []
    if not counted:
        return Judgement("uncounted", None, coarse, ["no count was ended in the period", *reasons])
    if not rated:
        return Judgement("unrated", z, coarse, ["an operation has no loss rate: figures are not judged", *reasons])
    beyond = _beyond(unexplained, sigma, levels)
    if beyond:
        return Judgement("short" if unexplained > 0 else "over", z, coarse, [*beyond, *reasons])
    if abs(unexplained) > levels.warn * Fraction(sigma.total) and abs(unexplained) > levels.trivial:
        return Judgement("look", z, coarse, [f"beyond the warning level of {_plain(levels.warn)} σ", *reasons])
    return Judgement("within", z, coarse, reasons)


def _beyond(unexplained: int, sigma: Sigma, levels: Levels) -> list[str]:
    size = abs(unexplained)
    if size <= levels.trivial:
        return []
    reasons = []
    if size > levels.act * Fraction(sigma.total):
        reasons.append(f"beyond the action level of {_plain(levels.act)} σ")
    if levels.tolerance is not None and size > levels.tolerance:
        reasons.append(f"beyond the tolerance of {mass_text(levels.tolerance)} g")
    return reasons


def _coarse_reason(levels: Levels, sigma: Sigma) -> list[str]:
    reach = mass_text(round(levels.act * Fraction(sigma.total)))
    tolerance = mass_text(levels.tolerance or 0)
    return [f"coarse: the tolerance of {tolerance} g is less than {_plain(levels.act)} σ = {reach} g"]


def _plain(level: Fraction) -> str:
    return f"{float(level):g}"
