"""The pictures of a pack, each drawn from a schedule of exact figures that stands beside it.

One module a picture. Each takes plain documents and returns a Picture, or says in one sentence why there is none. No
picture names a person, or tells one from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.pack.pictures.canvas import Missing
from ledger.faces.pack.schedule import Picture

if TYPE_CHECKING:
    from ledger.faces.pack.material import Material
    from ledger.faces.pack.pictures.measure import Measure

#: Verdicts of areas with pictures of their own; where nothing was counted they would say nothing yet.
_SHOWN: Final = frozenset(("short", "over", "look", "unrated"))


@dataclass
class Gallery:
    """Pictures by the key of the section they hang in; and by the same key, sentences on those that are left out."""

    pictures: dict[str, list[Picture]] = field(default_factory=dict)
    missing: dict[str, list[str]] = field(default_factory=dict)

    def hang(self, section: str, made: Picture | Missing) -> None:
        """Add a picture, or the sentence on why there is none."""
        if isinstance(made, Missing):
            self.missing.setdefault(section, []).append(made.why)
        else:
            self.pictures.setdefault(section, []).append(made)


def pictures(material: Material) -> Mapping[str, list[Picture]]:
    """Return the pictures of a pack by the key of the section they hang in."""
    return gallery(material).pictures


def gallery(material: Material) -> Gallery:
    """Return the pictures of a pack, and sentences on those with nothing to show."""
    found = Gallery()
    for section, made in _made(material):
        found.hang(section, made)
    return found


def _made(material: Material) -> Iterator[tuple[str, Picture | Missing]]:
    from ledger.faces.pack.pictures import from_material

    measure = from_material.measure_of(material)
    yield from _of_the_plant(material, measure)
    for area in material.statement["areas"]:
        if area["verdict"] in _SHOWN:
            yield from _of_an_area(material, measure, area)
    yield from _of_the_paper(material, measure)


def _of_the_plant(material: Material, measure: Measure) -> Iterator[tuple[str, Picture | Missing]]:
    from ledger.faces.pack.pictures import from_material as of
    from ledger.faces.pack.pictures.area_months import area_months
    from ledger.faces.pack.pictures.cumulative import cumulative
    from ledger.faces.pack.pictures.flow import flow
    from ledger.faces.pack.pictures.running_tests import running_tests
    from ledger.faces.pack.pictures.variance import variance
    from ledger.faces.pack.pictures.waterfall import waterfall
    from ledger.faces.pack.pictures.z_scores import Scores, z_scores

    periods, balances = of.periods_of(material), of.balances(material)
    yield "decision", cumulative(measure, "plant", "the plant", of.stands(material))
    counted = all(area["verdict"] != "uncounted" for area in material.statement["areas"])
    yield "statement", waterfall(measure, material.statement["plant_total"], "the plant", counted)
    yield "statement", flow(measure, material.period, of.carried(material))
    yield "statement", variance(measure, "plant", "the plant", of.sources(material))
    yield "areas", z_scores(measure, periods, [Scores(b.area, [x.z for x in b.balances]) for b in balances])
    yield "areas", area_months(measure, periods, balances)
    yield "areas", running_tests(measure, material.trend, periods)


def _of_an_area(
    material: Material, measure: Measure, area: Mapping[str, Any]
) -> Iterator[tuple[str, Picture | Missing]]:  # fmt: skip
    from ledger.faces.pack.pictures import from_material as of
    from ledger.faces.pack.pictures.cumulative import cumulative
    from ledger.faces.pack.pictures.variance import variance
    from ledger.faces.pack.pictures.waterfall import waterfall

    code = area["area"]
    yield "areas", waterfall(measure, area, code)
    yield "areas", cumulative(measure, code, code, of.stands(material, code))
    yield "areas", variance(measure, code, code, of.sources(material, code))


def _of_the_paper(material: Material, measure: Measure) -> Iterator[tuple[str, Picture | Missing]]:
    from ledger.faces.pack.pictures import from_material as of
    from ledger.faces.pack.pictures.ages import ages
    from ledger.faces.pack.pictures.check_weights import check_weights
    from ledger.faces.pack.pictures.funnel import funnel
    from ledger.faces.pack.pictures.refiners import refiners
    from ledger.faces.pack.pictures.streams import streams
    from ledger.faces.pack.pictures.throughput import throughput

    yield "areas", throughput(measure, material.period, of.worked(material))
    yield "areas", funnel(measure, material.period, of.levels(material))
    if material.metal != "gross":  # gross is weighed: nobody estimates or assays it
        yield "dust", streams(measure, of.tested_streams(material))
        for refiner in of.settlements(material):
            yield "refiners", refiners(measure, refiner)
    yield "open_items", ages(measure, material.last_day, of.open_items(material))
    yield "audit", check_weights(measure, of.first_day(material), material.last_day, of.charts(material))
