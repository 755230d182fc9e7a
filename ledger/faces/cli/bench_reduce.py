"""``lemel bench reduce``: passes, lengths and gauges."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import bench_options, options
from ledger.faces.cli.bench_options import one
from ledger.faces.printing import say_json

if TYPE_CHECKING:
    from ledger.bench.reduce import How, Limits
    from ledger.bench.working import Step


def reduce(
    how: Annotated[str, typer.Argument(metavar="HOW", help="roll, draw, or gauges for the table of gauge numbers.")],
    start: Annotated[str | None, typer.Argument(metavar="FROM", help='Gauge at the start, "10 mm", "0.4 in", "4 AWG".'
                                                )] = None,
    finish: Annotated[str | None, typer.Argument(metavar="TO", help="Gauge at the end.")] = None,
    share: Annotated[str | None, one("--share", "SHARE", 'What one pass may take of the section, "10%".')] = None,
    friction: Annotated[str | None, one("--friction", "NUMBER", "Friction µ between rolls and metal, for the bite."
                                        )] = None,
    rolls: Annotated[str | None, one("--rolls", "LENGTH", "Diameter of the rolls, for the bite.")] = None,
    anneal_after: Annotated[str | None, one("--anneal-after", "SHARE", "What may be taken in all between anneals, "
                                            '"60%", as your metal bears it.')] = None,
    length: Annotated[str | None, one("--length", "LENGTH", "Length at the start.")] = None,
    width: Annotated[str | None, one("--width", "LENGTH", "Width of the strip, for its mass.")] = None,
    density: Annotated[str | None, one("--density", "DENSITY", '"8.53 g/cm³", for the mass of a metre.')] = None,
    step: Annotated[str, typer.Option("--step", metavar="LENGTH", help="Gauges are multiples of it.")] = "0.01 mm",
    unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Work out passes for rolling or drawing.

    As few as one pass may take: an equal share each, or what the bite of the rolls allows (µ²R). Lengths by constant
    volume, mass by the metre, where to anneal. No limit is assumed: state those of your metal and mill.

    Example:  lemel bench reduce roll "30 mm" "10 mm" --friction 0.1 --rolls "600 mm"

    Example:  lemel bench reduce draw "5.5 mm" "0.25 mm" --share 20% --length "1 m" --step "0.001 mm"

    Example:  lemel bench reduce gauges --density "8.53 g/cm³"
    """
    from ledger.bench.gauge import parse_density, parse_length
    from ledger.bench.reduce import schedule
    from ledger.faces.reduce_page import GaugePage, SchedulePage

    read = bench_options.read
    figures = bench_options.figures_of(unit, bench_options.step_of("0.0001 g" if unit is None else None))
    dense, across = read("--density", parse_density, density), read("--width", parse_length, width)
    page: GaugePage | SchedulePage
    if how == "gauges":
        page = GaugePage(dense, figures)
    else:
        method = _how(how)
        limits, lead = _limits(share, friction, rolls, anneal_after, step)
        passes = schedule(method, _gauge("FROM", start), _gauge("TO", finish), limits)
        long = read("--length", parse_length, length)
        page = SchedulePage(method, passes, limits, lead, long, across, dense, figures)
    if json:
        say_json(page.document())
    else:
        page.say()


def _how(text: str) -> How:
    from ledger.refusals import WrongUsage

    kinds: dict[str, How] = {"roll": "roll", "draw": "draw"}
    if text not in kinds:
        raise WrongUsage(f"{text[:40]!r} is no way to reduce", "write roll, draw or gauges", field="HOW")
    return kinds[text]


def _gauge(argument: str, text: str | None) -> int:
    from ledger.bench.gauge import parse_length
    from ledger.refusals import WrongUsage

    if text is None:
        raise WrongUsage("a gauge is missing", 'write both: lemel bench reduce roll "10 mm" "2 mm"', field=argument)
    with options.called_wrongly(argument):
        return parse_length(text)


def _limits(share: str | None, friction: str | None, rolls: str | None, anneal_after: str | None,
            step: str) -> tuple[Limits, list[Step]]:  # fmt: skip
    """Return the limits, and the step of the working from friction to draft."""
    from ledger.bench.gauge import parse_length
    from ledger.bench.reduce import Limits, bite_nm
    from ledger.bench.reduce_working import bite
    from ledger.quantities.fineness import parse_share
    from ledger.refusals import WrongUsage

    read = bench_options.read
    if (friction is None) != (rolls is None):
        raise WrongUsage("the bite needs friction and rolls", "state both --friction and --rolls", field="--friction")
    draft, lead = None, []
    mu, diameter = read("--friction", _friction, friction), read("--rolls", parse_length, rolls)
    if mu is not None and diameter is not None:
        draft = bite_nm(mu, diameter)
        lead = [bite(mu, diameter, draft)]
    taken, total = read("--share", parse_share, share), read("--anneal-after", parse_share, anneal_after)
    return Limits(taken, draft, total, read("--step", parse_length, step) or 1), lead


def _friction(text: str) -> Fraction:
    import re

    from ledger.quantities.mass import shown
    from ledger.refusals import QuantityRefused

    if re.fullmatch(r"[01](\.\d{1,4})?", text, re.ASCII) is None or not 0 < Fraction(text) <= 1:
        raise QuantityRefused(f"{shown(text)} is not a coefficient of friction", "write a number such as 0.1")
    return Fraction(text)
