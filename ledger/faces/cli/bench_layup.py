"""``lemel bench layup``: layer, bonding medium and base."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import bench_options, options
from ledger.faces.cli.bench_options import many, one
from ledger.faces.printing import say_json

if TYPE_CHECKING:
    from ledger.bench.layup import Layup
    from ledger.bench.layup_forms import Faces, Stated
    from ledger.plant.setup import Setup


def layup(
    mark: Annotated[str, typer.Argument(metavar="MARK", help='"1/20 12K", of the whole article: 1/40 on each of two '
                                        "faces is 1/20. Or clad stock of the set-up.")],
    layer: Annotated[str, one("--layer", "PART", '"505.20 g, 12K, 13.07 g/cm³": mass or thickness, composition, '
                              "density, each where it is known; or an alloy of the set-up.")] = "",
    base: Annotated[str, one("--base", "PART", 'The same: "9494.80 g, 8.53 g/cm³".')] = "",
    bond: Annotated[str, one("--bond", "PART", 'The bonding medium: "40 g, silver=450‰, 9.4 g/cm³".')] = "",
    bond_counts: Annotated[bool, typer.Option("--bond-counts", help="Count the bond as part of the layer, with its own "
                                              "fineness. Left out: it counts as base.")] = False,
    faces: Annotated[str | None, one("--faces", "FACES", "1, 2 or round. Left out: the clad stock's, else 1.")] = None,
    mass: Annotated[str | None, one("--mass", "MASS", "Plan a sandwich of this mass.")] = None,
    gauge: Annotated[list[str] | None, many("--gauge", "LENGTH", 'A finished gauge, "0.50 mm" or "24 AWG". Repeat.'
                                            )] = None,
    width: Annotated[str | None, one("--width", "LENGTH", "Width of the strip, for a metre of it.")] = None,
    shipped: Annotated[str | None, one("--shipped", "MASS", "Shipped in a month, for what is given away.")] = None,
    price: Annotated[str | None, one("--price", "PRICE", 'Price of the fine metal, "2650 USD/ozt". Left out: the '
                                     "book's latest fixing.")] = None,
    division: bench_options.Division = None,
    book: options.Book = None, metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Work out a lay-up, or check a weighed one against its mark.

    Weight ratio from thickness ratio and back, the layer at finished gauges, content by the metre; whether the mark is
    met, by how much over, and what that gives away in a month. Thicknesses are those on one face.

    Example:  lemel bench layup "1/20 12K" --layer "505.20 g, 12K, 13.07 g/cm³" --base "9494.80 g, 8.53 g/cm³"

    Example:  lemel bench layup "1/20 12K" --mass "10 kg" --layer 12K --faces 2

    Alloys, clad stock and price are taken from the book, where there is one.

    Example:  lemel bench layup CL20 --layer "101.40 g" --base "1880 g" --bond "20 g"
    """
    from ledger.bench.layup_mark import marked
    from ledger.faces.layup_page import LayupPage, Month

    step = bench_options.step_of(division)
    figures = bench_options.figures_of(unit, step)
    setup = bench_options.setup_at_hand(book)
    of = metal or ("gold" if setup is None else setup.marked_metal)
    parts = _parts(setup, mark, of, layer, base, bond)
    how = _faces(setup, mark, faces)
    share, fineness, text = _mark(setup, mark)
    laid = _laid(parts, how, share, mass, bond_counts, step)
    checked = marked(laid, of, share, fineness)
    gauges = [bench_options.read("--gauge", _length, one) or 0 for one in gauge or []]
    month = None
    if shipped is not None:
        per_ng, words = _price(setup, of, price)
        month = Month(bench_options.read("--shipped", _mass, shipped) or 0, per_ng, words)
    page = LayupPage(laid, checked, text, figures, gauges, bench_options.read("--width", _length, width), month,
                     planned=mass is not None)  # fmt: skip
    document = page.document()  # first of all: what is refused is refused before a line is printed
    if json:
        say_json(document)
    else:
        page.say()


def _length(text: str) -> int:
    from ledger.bench.gauge import parse_length

    return parse_length(text)


def _mass(text: str) -> int:
    from ledger.quantities.mass import parse_mass

    return parse_mass(text)


def _mark(setup: Setup | None, mark: str) -> tuple[Fraction, Fraction, str]:
    """Return share, fineness and wording of a mark, or of the mark that clad stock carries."""
    from ledger.quantities.fineness import parse_fraction_mark
    from ledger.refusals import WrongUsage

    clad = setup.clads.get(mark) if setup else None
    if clad is not None and clad.marked is None:
        raise WrongUsage(f"the clad stock {mark!r} has no mark", "write the mark itself", field="MARK")
    text = clad.mark if clad is not None and clad.mark else mark
    with options.called_wrongly("MARK"):
        return (*parse_fraction_mark(text), text)


def _parts(setup: Setup | None, mark: str, metal: str, layer: str, base: str, bond: str) -> list[Stated]:
    """Return layer, base and bond as stated, with what the clad stock's alloys say of them."""
    from ledger.bench.layup_forms import Part, parse_part

    known = {} if setup is None else {code: Part(code, alloy.fineness, alloy.density)
                                      for code, alloy in setup.alloys.items()}  # fmt: skip
    clad = setup.clads.get(mark) if setup else None
    of_clad: Mapping[str, str | None] = {
        "layer": clad.layer, "base": clad.base, "bond": clad.bond} if clad else {}  # fmt: skip
    parts = []
    for name, text in (("layer", layer), ("base", base), ("bond", bond)):
        code = of_clad.get(name)
        written = ", ".join(filter(None, (text, code if code in known else None)))
        with options.called_wrongly(f"--{name}"):
            parts.append(parse_part(written, name, metal, known))
    return parts


def _faces(setup: Setup | None, mark: str, given: str | None) -> Faces:
    from ledger.refusals import WrongUsage

    clad = setup.clads.get(mark) if setup else None
    if given is None:
        return (clad.faces if clad else None) or 1
    kinds: dict[str, Faces] = {"1": 1, "2": 2, "round": "round"}
    if given not in kinds:
        raise WrongUsage(f"{given[:40]!r} is no number of faces", "write 1, 2 or round", field="--faces")
    return kinds[given]


def _laid(parts: list[Stated], faces: Faces, share: Fraction, mass: str | None, bond_counts: bool, step: Any) -> Layup:
    from dataclasses import replace

    from ledger.bench.layup import laid_up, planned

    layer, base, bond = parts
    has_bond = bond.mass_ng is not None or bond.thickness_nm is not None
    if mass is not None:
        whole = bench_options.read("--mass", _mass, mass) or 0
        layer, base = planned(share, whole, layer.part, base.part, bond if has_bond else None,
                              bond_counts=bond_counts, step=step)  # fmt: skip
        bond = replace(bond, mass_ng=bond.mass_ng or 0, thickness_nm=None)
    return laid_up(layer, base, bond if has_bond else None, faces, bond_counts=bond_counts)


def _price(setup: Setup | None, metal: str, given: str | None) -> tuple[Fraction | None, str]:
    """Return the price of a nanogram and its words: as given, else the book's latest fixing, else none."""
    if given is not None:
        return bench_options.read("--price", bench_options.price, given) or Fraction(0), given
    held = [] if setup is None else [fixing for fixing in setup.fixing if fixing.metal == metal]
    if setup is None or not held:
        return None, ""
    last = max(held, key=lambda fixing: fixing.date)
    amount = bench_options.plain(last.amount)
    return last.per_ng, f"{amount} {setup.plant.currency}/{last.per} of {last.date}"
