"""What the set-up leaves out and the book therefore assumes; every such value is printed as assumed.

None of these values has a published source: each is common practice, and a plant does better to state its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ledger.plant.measuring import Method, Scale
from ledger.plant.process import Operation, Rate, Rates, StatedRates
from ledger.plant.setup import Setup
from ledger.quantities.mass import decimal_text

#: Standard deviation of a fineness taken from a mark or an alloy, absolute: 1.7 ‰.
NOMINAL_FINENESS_SD: Final = Fraction(17, 10_000)
#: Standard deviation of an estimated content, relative: 20 %.
ESTIMATE_SD: Final = Fraction(20, 100)
#: Standard deviation of a stated moisture, absolute: 0.5 percentage points.
MOISTURE_SD: Final = Fraction(5, 1000)
#: Standard deviation of a content agreed with a refiner, relative, lot by lot: 0.5 %; rich lots: fire assay.
SETTLEMENT_SD: Final = Fraction(5, 1000)
#: That of what all lots settled with one refiner share, relative: 0.1 %; of rich lots the bias of fire assay.
REFINER_SD: Final = Fraction(1, 1000)

_PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value nobody stated: the key that would state it, the value with its unit, and why this one."""

    key: str
    value_text: str
    why: str


def assumed_values(setup: Setup) -> list[Assumed]:
    """Return everything the book assumes under this set-up, in the order of the set-up's tables."""
    return [
        *_plant(setup),
        *_operations(setup),
        *_scales(setup),
        *(row for method in setup.method for row in _method(method)),
        *_clads(setup),
        Assumed("fineness without method or basis", f"nominal, ± {per_mille(NOMINAL_FINENESS_SD)}", _PRACTICE),
        Assumed("basis = estimated, without sd", f"± {per_cent(ESTIMATE_SD)} of the content", _PRACTICE),
        Assumed("moisture", f"± {exact(MOISTURE_SD * 100)} points", _PRACTICE),
        *_settlement(setup),
        *_unnamed(setup),
    ]


def scale_of_unnamed(setup: Setup) -> Scale | None:
    """Return the scale a line without one is taken to be weighed on: the set-up's poorest; None without any."""
    return max(setup.scale, key=lambda scale: scale.weighing_sd_ng, default=None)


def _unnamed(setup: Setup) -> Iterator[Assumed]:
    poorest = scale_of_unnamed(setup)
    if poorest is not None:
        yield Assumed("line without scale", f"on {poorest.code}, the poorest", _PRACTICE)


def _settlement(setup: Setup) -> Iterator[Assumed]:
    if any(party.role == "refiner" for party in setup.party):
        why = f"at most what is usual for fire; {_PRACTICE}"
        yield Assumed("agreed content", f"± {per_cent(SETTLEMENT_SD)}, shared ± {per_cent(REFINER_SD)}", why)



def _plant(setup: Setup) -> Iterator[Assumed]:
    stated = setup.plant.model_fields_set
    if "timezone" not in stated:
        yield Assumed("plant.timezone", setup.plant.timezone, "no time zone is stated")
    if "currency" not in stated and setup.fixing:
        yield Assumed("plant.currency", setup.plant.currency, "no currency is stated for the prices")
    if setup.period and setup.period[0].starts is None:
        first = setup.period[0]
        yield Assumed(f'period["{first.code}"].starts', f"{first.opens}", "the first of the month in which it ends")


def _operations(setup: Setup) -> Iterator[Assumed]:
    for operation in setup.operation:
        rates = setup.rates_for(operation.code)
        yield from _rates(f'operation["{operation.code}"]', [operation], operation, rates)
    for rate in setup.rate:
        layers = _layers(setup, rate)
        rates = setup.rates_for(rate.operation, rate.alloy, rate.class_)
        yield from _rates(f'rate["{rate.operation} {rate.alloy or rate.class_}"]', layers, rate, rates)


def _layers(setup: Setup, rate: Rate) -> list[StatedRates]:
    operation: Operation = setup.operations[rate.operation]
    if rate.class_ is None:
        return [operation, rate]
    alloy = setup.classes[rate.class_].alloy
    for_alloy = [other for other in setup.rate if alloy and (other.operation, other.alloy) == (rate.operation, alloy)]
    return [operation, *for_alloy, rate]


def _rates(place: str, layers: list[StatedRates], own: StatedRates, rates: Rates) -> Iterator[Assumed]:
    """Yield the assumed parts of ``rates`` that follow from what ``own``, the last of ``layers``, states itself."""
    spread = {metal for layer in layers for metal in layer.spread}
    drift = {metal for layer in layers for metal in layer.drift}
    for metal in own.loss:
        if metal not in spread:
            yield Assumed(f"{place}.spread.{metal}", per_cent(rates.spread[metal]), f"half the loss; {_PRACTICE}")
    for metal in {**own.loss, **own.spread}:
        if metal in rates.loss and metal not in drift:
            yield Assumed(f"{place}.drift.{metal}", per_cent(rates.drift[metal]), f"a quarter of spread; {_PRACTICE}")
    if own.recoverable and not any(layer.recoverable_spread is not None for layer in layers):
        why = f"a tenth of recoverable; {_PRACTICE}"
        yield Assumed(f"{place}.recoverable_spread", per_cent(rates.recoverable_spread), why)


def _scales(setup: Setup) -> Iterator[Assumed]:
    for scale in setup.scale:
        place = f'scale["{scale.code}"]'
        if scale.repeatability is None:
            grams = exact(scale.repeatability_ng / 1_000_000_000)
            yield Assumed(f"{place}.repeatability", f"{grams} g", f"half the division; {_PRACTICE}")
        if "sensitivity" not in scale.model_fields_set:
            yield Assumed(f"{place}.sensitivity", per_cent(scale.sensitivity), _PRACTICE)


def _method(method: Method) -> Iterator[Assumed]:
    why = f"usual for {method.kind}" if method.kind else "no kind is stated: taken as touch"
    for key in ("repeatability", "sampling", "bias"):
        if getattr(method, f"stated_{key}") is None:
            value = per_mille(getattr(method, key))
            yield Assumed(f'method["{method.code}"].{key}', value, f"{why}; {_PRACTICE}")


def _clads(setup: Setup) -> Iterator[Assumed]:
    for clad in setup.clad:
        for metal in setup.plant.metals if clad.mark and not clad.layer else ():
            if metal != setup.marked_metal:
                why = f"no layer alloy is given, and the mark speaks of {setup.marked_metal} only"
                yield Assumed(f'clad["{clad.code}"], {metal}', per_mille(Fraction(0)), why)


def per_cent(share: Fraction) -> str:
    """Return a share as exact per cent, ``0.05 %``."""
    return f"{exact(share * 100)} %"


def per_mille(share: Fraction) -> str:
    """Return a share as exact per mille, ``1.7 ‰``."""
    return f"{exact(share * 1000)} ‰"


def exact(value: Fraction) -> str:
    """Return a decimal fraction with all its digits and no more; one that never ends is cut at 40."""
    places = next((places for places in range(40) if 10**places % value.denominator == 0), 40)
    return decimal_text(value, places)
