"""``lemel bench strip``: the strip test of clad metal."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options
from ledger.faces.printing import say, say_json, say_text

if TYPE_CHECKING:
    from ledger.bench.strip import Sample, Stripped, Worth


def _many(name: str, metavar: str, words: str) -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def _one(name: str, metavar: str, words: str) -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def strip(
    sample: Annotated[list[str] | None, _many("--sample", "MASS", "What a sample weighed. Repeat for each.")] = None,
    residue: Annotated[list[str] | None, _many("--residue", "MASS", "What the acid left, dried. In the samples' order."
                                               )] = None,
    assay: Annotated[list[str] | None, _many("--assay", "FINENESS", "The residue's own assay; one for each residue, or "
                                             "one for all together.")] = None,
    bead: Annotated[list[str] | None, _many("--bead", "MASS", "In place of a residue: the bead of the whole sample."
                                            )] = None,
    layer: Annotated[str | None, _one("--layer", "FINENESS", "The layer's nominal fineness, for an estimate where the "
                                      "residue was not assayed.")] = None,
    mark: Annotated[str | None, _one("--mark", "MARK", 'The clad mark to hold it against: "1/20 12K".')] = None,
    mass: Annotated[str | None, _one("--mass", "MASS", "A lot's mass, for its content.")] = None,
    metal: Annotated[str, typer.Option("--metal", metavar="METAL", help="The metal looked for.")] = "gold",
    scale: Annotated[str | None, _one("--scale", "CODE", "The scale, as the book's set-up has it, for σ.")] = None,
    division: Annotated[str | None, _one("--division", "MASS", "Or, without a book, the step of its display.")] = None,
    method: Annotated[str | None, _one("--method", "CODE", "The method of assay, as the set-up has it, for σ.")] = None,
    book: options.Book = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Work out a strip test of clad metal, and its σ.

    The base of a weighed sample is dissolved; what is left is weighed and assayed: content = residue ÷ sample × the
    residue's own assay. Or the whole sample is cupelled: bead ÷ sample. Without either there is an estimate, and the
    page says which way it errs.

    Example:  lemel bench strip --sample "2.5000 g" --residue "0.1262 g" --assay 512‰ --division "0.0001 g"

    Example:  lemel bench strip --sample "5.0 g" --bead "0.1258 g" --sample "5.1 g" --bead "0.1281 g" --mark "1/20 12K"
    """
    from ledger.bench.strip import against_mark, of_lot
    from ledger.bench.strip import strip as work_out
    from ledger.quantities.fineness import parse_fraction_mark
    from ledger.quantities.mass import parse_mass

    with options.called_wrongly("--mark"):
        marked = None if mark is None else parse_fraction_mark(mark)
    nominal = _fineness(layer, "--layer") if layer is not None else marked[1] if marked else None
    tests = _samples(sample or [], residue or [], bead or [], assay or [])
    worth = _worth(scale, division, method, book)
    stripped = work_out(tests, metal=metal, bead=bool(bead), layer=nominal, worth=worth)
    over = None if marked is None else against_mark(stripped, *marked)
    with options.called_wrongly("--mass"):
        content = None if mass is None else of_lot(stripped, parse_mass(mass))
    if json:
        say_json(_document(stripped, mark, over, content))
    else:
        _say(stripped, marked=mark is not None)


def _samples(sample: list[str], residue: list[str], bead: list[str], assay: list[str]) -> list[Sample]:
    from ledger.bench.strip import Sample
    from ledger.refusals import WrongUsage

    if bool(residue) == bool(bead):
        raise WrongUsage("a sample is judged by its residue, or by its bead", "give one of --residue and --bead",
                         field="--residue")  # fmt: skip
    option, left = ("--residue", residue) if residue else ("--bead", bead)
    if len(left) != len(sample):
        raise WrongUsage(f"{len(sample)} samples, and {len(left)} times {option}", "give them in pairs", field=option)
    if assay and (bead or len(assay) not in (1, len(left))):
        mend = "leave it out" if bead else "give one for each residue, or one for all"
        raise WrongUsage("an assay that belongs to no residue", mend, field="--assay")
    finenesses = [_fineness(text, "--assay") for text in assay]
    finenesses = finenesses * len(left) if len(finenesses) == 1 else finenesses
    each: list[Fraction | None] = [*finenesses] or [None] * len(left)
    return [
        Sample(_mass(whole, "--sample"), _mass(part, option), fineness)
        for whole, part, fineness in zip(sample, left, each, strict=True)
    ]


def _mass(text: str, option: str) -> int:
    from ledger.quantities.mass import parse_mass

    with options.called_wrongly(option):
        return parse_mass(text)


def _fineness(text: str, option: str) -> Fraction:
    from ledger.quantities.fineness import parse_fineness

    with options.called_wrongly(option):
        return parse_fineness(text)


def _worth(scale: str | None, division: str | None, method: str | None, book: Path | None) -> Worth:
    """Return what scale and method are worth, by the book's set-up or by the division given."""
    from ledger.bench.strip import Worth
    from ledger.plant.measuring import MethodWorth, Scale
    from ledger.refusals import WrongUsage

    if scale is not None and division is not None:
        raise WrongUsage("the scale is given twice", "give one of --scale and --division", field="--division")
    given = None
    if division is not None:
        given = Scale.model_validate({"code": "S", "division": f"{_mass(division, '--division')} ng"})
    if scale is None and method is None:
        return Worth(given, None)
    from ledger.book.setups import Setups

    with options.reading_book(book) as connection:
        setup = Setups.read(connection).latest
    for option, code, known in (("--scale", scale, setup.scales), ("--method", method, setup.methods)):
        if code is not None and code not in known:
            raise WrongUsage(f"there is no {code[:64]!r} in the set-up", "it has " + ", ".join(known), field=option)
    by = setup.methods[method] if method is not None else None
    return Worth(
        given if scale is None else setup.scales[scale],
        None if by is None else MethodWorth(by.repeatability, by.sampling, by.bias),
    )


def _say(stripped: Stripped, *, marked: bool) -> None:
    from ledger.faces.caution import NO_LEGAL_ADVICE, say_at_work
    from ledger.faces.working_page import say_working
    from ledger.quantities.fineness import per_mille_text

    say_working(stripped.working.steps)
    say()
    sigma = "σ not known: give --scale or --division, and --method" if stripped.sigma is None else (
        f"σ {1000 * stripped.sigma:.2g} ‰")  # fmt: skip
    say_text(f"{stripped.metal}: {per_mille_text(stripped.fineness, 4)} ‰ of the article, {stripped.basis}; {sigma}")
    for sentence in stripped.bias:
        say_text(sentence)
    say()
    say_at_work("strip")
    if marked:
        say_text(NO_LEGAL_ADVICE)


def _document(
    stripped: Stripped, mark: str | None, over: Fraction | None, content: Fraction | None
) -> dict[str, Any]:
    from ledger.faces.caution import at_work
    from ledger.quantities.mass import decimal_text, grams_text

    def per_mille(fineness: Fraction) -> str:
        return decimal_text(fineness * 1000, 6)

    return {
        "metal": stripped.metal, "fineness": per_mille(stripped.fineness),
        "sigma": None if stripped.sigma is None else round(1000 * stripped.sigma, 9),
        "basis": stripped.basis, "rests_on": stripped.rests_on, "left": per_mille(stripped.left_share),
        "results": [[f"{per_mille(one)}‰"] for one in stripped.by_test],
        "mark": mark, "above_mark": None if over is None else per_mille(over),
        "content": None if content is None else grams_text(round(content)),
        "bias": stripped.bias, "working": stripped.working.document(), "caution": at_work("strip"),
    }  # fmt: skip
