"""The working of a pass schedule, step by step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from ledger.bench.gauge import length_text
from ledger.bench.reduce import How, Limits, Pass
from ledger.bench.working import Step
from ledger.quantities.mass import decimal_text


def bite(friction: Fraction, roll_diameter_nm: int, draft_nm: Fraction) -> Step:
    """Return the step from friction and rolls to the greatest draft."""
    radius = length_text(Fraction(roll_diameter_nm, 2), places=1)
    return Step(f"bite of the rolls, µ²R: {_plain(friction)}² × {radius}", length_text(draft_nm))


def passes(how: How, schedule: Sequence[Pass], limits: Limits) -> Iterator[Step]:
    """Yield how the number of passes comes about."""
    start, finish = schedule[0].before_nm, schedule[-1].after_nm
    if limits.draft_nm is not None:
        needed = Fraction(start - finish) / limits.draft_nm
        taken = f"({length_text(start)} − {length_text(finish)})"
        yield Step(f"by the bite: {taken} ÷ {length_text(limits.draft_nm)} a pass", decimal_text(needed, 2))
    if limits.share is not None:
        keep = 1 - limits.share
        what = "thickness" if how == "roll" else "section"
        number, wanted = len(schedule), percent(1 / schedule[-1].longer)
        reach = f"{number} passes that each leave {percent(keep)} of the {what} can leave ({percent(keep)})^{number}"
        yield Step(f"by the share: {wanted} has to be left; {reach}", percent(keep**number))
    yield Step(f"passes, each rounded to {length_text(limits.step_nm)}", str(len(schedule)))
    kept = f"{length_text(finish)} ÷ {length_text(start)}"
    yield Step(f"reduction in all: 1 − {kept if how == 'roll' else f'({kept})²'}", percent(1 - 1 / schedule[-1].longer))


def length(how: How, schedule: Sequence[Pass], length_nm: int) -> Step:
    """Return the length at the end, by constant volume."""
    start, finish = length_text(schedule[0].before_nm), length_text(schedule[-1].after_nm)
    ratio = f"{start} ÷ {finish}" if how == "roll" else f"({start} ÷ {finish})²"
    return Step(f"length by constant volume: {length_text(length_nm, 'm')} × {ratio}",
                length_text(schedule[-1].longer * length_nm, "m"))  # fmt: skip


def percent(share: Fraction) -> str:
    """Return a share in per cent, two decimals."""
    return f"{decimal_text(share * 100, 2)} %"


def _plain(value: Fraction) -> str:
    return decimal_text(value, 4).rstrip("0").rstrip(".")
