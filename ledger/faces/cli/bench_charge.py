"""``lemel bench charge``: what to melt together."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.faces.cli import bench_options, options
from ledger.faces.cli.bench_options import many, one
from ledger.faces.printing import say_as_of, say_json

if TYPE_CHECKING:
    from ledger.bench.charge_forms import Furnace, Source, Wanted
    from ledger.faces.cli.charge_stock import Stock


def charge(
    mass: Annotated[str, typer.Argument(metavar="MASS", help='Mass to pour, "250 g"; or: all, every lot stated and '
                                        "what has to be added.")],
    target: Annotated[str, typer.Argument(metavar="ALLOY", help='"14K", "585‰", or an alloy of the set-up with every '
                                          "metal it states.")],
    lot: Annotated[list[str] | None, many("--lot", "LOT", 'A lot on hand, oldest first: "NAME: 640.18 g, 12K" or '
                                          '"NAME: 640.18 g, gold=500‰, silver=200‰". Repeat.')] = None,
    buy: Annotated[list[str] | None, many("--buy", "METAL", 'Metal to be had as wanted: "fine gold: 999.9‰", "copper: '
                                          'copper=1000‰", "alloy: 0", or an alloy of the set-up. Repeat.')] = None,
    want: Annotated[list[str] | None, many("--want", "WINDOW", 'What else the alloy holds: "silver=180‰..220‰", '
                                           '"copper=200‰". Repeat.')] = None,
    oldest: Annotated[bool, typer.Option("--oldest", help="Oldest scrap first. Left out: least fine metal bought."
                                         )] = False,
    area: Annotated[str | None, one("--area", "AREA", "Take the book's lots in this area.")] = None,
    melted_in: Annotated[str | None, one("--in", "AREA", "Where it is melted, for the ticket's draft: lots from "
                                         "another area are moved there first. Left out: as --area.")] = None,
    use: Annotated[list[str] | None, many("--use", "LOT", "Of the book, this lot. Repeat.")] = None,
    operation: Annotated[str | None, one("--operation", "CODE", "Loss and fume as the set-up states them for it."
                                         )] = None,
    loss: Annotated[str | None, one("--loss", "SHARE", 'Normal loss of the melt, "0.1%".')] = None,
    each: Annotated[str | None, one("--each", "MASS", 'What every melt loses besides, "0.05 g".')] = None,
    fume: Annotated[str | None, one("--fume", "SHARE", 'Base metal that leaves as fume, "0.3%" of the mass in.'
                                    )] = None,
    fumes: Annotated[str, typer.Option("--fumes", metavar="METAL", help="Which base metal the fume is.")] = "zinc",
    base: Annotated[list[str] | None, many("--base", "ALLOY", 'What an alloy of the set-up holds of base metals: '
                                           '"COPPER: copper=1000‰". Repeat.')] = None,
    division: bench_options.Division = None,
    ticket: Annotated[bool, typer.Option("--ticket", help="Print the work ticket's draft, one JSON line.")] = False,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Make up a charge.

    From lots on hand (stated here, or the book's) and metal to be had: the least fine metal bought, or the oldest scrap
    first, loss and fume allowed for. What cannot be made is refused with the nearest possible and what is missing.
    Estimated lots, those of other owners, dirty and clad ones, bond and base metal are taken only if named with --use.

    Example:  lemel bench charge "250 g" 14K --lot "old: 100 g, 12K" --buy "fine gold: 24K" --buy "alloy: 0"

    Example:  lemel bench charge all 10K --lot "25 dwt, 14K" --buy "alloy: 0" --division "0.01 dwt"

    Example:  lemel bench charge "400 g" G12 --area VAULT --in MELT --operation MELTING --oldest
    """
    from ledger.bench.charge import make_charge
    from ledger.faces.charge_page import ChargePage
    from ledger.faces.cli.charge_stock import Stock, bases_of, stock_of
    from ledger.refusals import WrongUsage

    step = bench_options.step_of(division)
    figures = bench_options.figures_of(unit, step)
    has_book = book is not None or area is not None or bool(use) or operation is not None
    stock = stock_of(book, area, use or [], base or []) if has_book else Stock(bases_of(base or [], None))
    if melted_in is not None and stock.setup is not None and melted_in not in stock.setup.areas:
        mend = f"give one of {', '.join(stock.setup.areas)}"
        raise WrongUsage(f"there is no area {melted_in[:40]!r}", mend, field="--in")
    of = _metal(stock, metal)
    wanted = _wanted(stock, of, mass, target, want or [])
    wanted = replace(wanted, furnace=_furnace(stock, wanted, operation, loss, each, fume, fumes))
    sources = [*stock.lots, *_stated("--lot", lot or [], of, stock), *_stated("--buy", buy or [], of, stock)]
    first = "oldest" if oldest else "least"
    made = make_charge(wanted, sources, "oldest" if oldest else "least", step, figures)
    made = replace(made, left_out=(*made.left_out, *stock.left_out))
    draft = {key: value for key, value in (("operation", operation), ("area", melted_in or area)) if value}
    page = ChargePage(made, figures, first, draft)
    if ticket:
        page.say_ticket()
    elif json:
        say_json({**page.document(), **(stock.as_of.document() if stock.as_of else {})})
    else:
        page.say()
        if stock.as_of:
            say_as_of(stock.as_of)


def _metal(stock: Stock, given: str | None) -> str:
    if given is not None:
        return given
    return "gold" if stock.setup is None else stock.setup.marked_metal


def _wanted(stock: Stock, metal: str, mass: str, target: str, want: list[str]) -> Wanted:
    from ledger.bench.charge_forms import Wanted, Window, parse_window
    from ledger.quantities.fineness import parse_fineness
    from ledger.quantities.mass import parse_mass

    with options.called_wrongly("MASS"):
        poured = None if mass == "all" else parse_mass(mass)
    with options.called_wrongly("ALLOY"):
        holds = stock.alloys.get(target) or {metal: parse_fineness(target)}
    windows = {of: Window(share, share) for of, share in {metal: Fraction(0), **holds}.items()}
    with options.called_wrongly("--want"):
        windows |= dict(parse_window(text) for text in want)
        return Wanted(metal, windows, poured, target)


def _furnace(stock: Stock, wanted: Wanted, operation: str | None, loss: str | None, each: str | None,
             fume: str | None, fumes: str) -> Furnace:  # fmt: skip
    """Return what the furnace takes: as stated here, else as the set-up states it for the operation."""
    from ledger.bench.charge_forms import Furnace
    from ledger.quantities.fineness import parse_share
    from ledger.quantities.mass import parse_mass

    stated = [bench_options.read("--loss", parse_share, loss), bench_options.read("--fume", parse_share, fume)]
    kept = bench_options.read("--each", parse_mass, each)
    if operation is not None and stock.setup is not None:
        from ledger.faces.cli.charge_stock import rates_of

        from_setup = rates_of(stock.setup, wanted, operation)
        stated = [given if given is not None else own for given, own in zip(stated, from_setup[:2], strict=True)]
        kept = kept if kept is not None else int(from_setup[2])
    share_lost, share_fumed = (share or Fraction(0) for share in stated)
    return Furnace(share_fumed, share_lost, kept or 0, fumes)


def _stated(option: str, texts: list[str], metal: str, stock: Stock) -> list[Source]:
    from ledger.bench.charge_forms import parse_source
    from ledger.refusals import WrongUsage

    sources = []
    for text in texts:
        with options.called_wrongly(option):
            source = parse_source(text, metal, stock.alloys)
        if source.bought == (option == "--lot"):
            what, mend = ("no mass", '"NAME: 640.18 g, 12K"') if source.bought else ("a mass", '"fine gold: 999.9‰"')
            raise WrongUsage(f"{text[:60]!r} has {what}", f"write {mend}", field=option)
        sources.append(source)
    return sources
