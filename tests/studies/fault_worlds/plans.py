"""Plans: what is to go wrong in a world, on the floor or on paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp, log
from random import Random

from tests.studies.fault_worlds.base import Base
from tests.studies.fault_worlds.truth import Band
from tests.studies.fault_worlds.world import Floor, Paper, World


@dataclass
class Plan:
    """One fault to plant.

    ``prepare`` changes the floor before its time begins; ``edit`` changes the papers written, and returns those that
    the fault is about, or None where the paper it meant is not there. ``diffuse``: many differences show it together;
    ``whole``: it is a whole lot, and has no multiple; ``dust``: a clean-out shows it. ``scaled`` makes the same plan of
    another size, within ``limits``, where the size must be tried first (``unit``: what was tried, if not ``size``).
    ``multiple``: how large it is, where the honest book's σ tell. ``shown_in``: the area that shows it, if another than
    where it happened.
    """

    family: str
    mode: str
    area: str
    lots: tuple[str, ...] = ()
    what: dict[str, str] = field(default_factory=dict)
    size: float = 0.0
    metal: str = "gross"
    says: str = ""
    prepare: Callable[[Floor], object] | None = None
    edit: Callable[[World], list[Paper] | None] | None = None
    diffuse: bool = False
    whole: bool = False
    dust: bool = False
    scaled: Callable[[float], Plan] | None = None
    limits: tuple[float, float] = (0.0, float("inf"))
    unit: float | None = None
    multiple: float | None = None
    shown_in: str = ""


class NoOccasion(Exception):
    """What was to happen could not: the metal was not there."""


#: Makes a plan of one family for a month, or None where the month has no occasion for it.
Planner = Callable[[Base, Random, Band], Plan | None]


def log_uniform(chance: Random, low: float, high: float) -> float:
    """Return a draw of which the logarithm is uniform."""
    return exp(chance.uniform(log(low), log(high)))


def edit_of(base: Base, paper: Paper, change: Callable[[World, Paper], list[Paper] | None]) -> Callable[
    [World], list[Paper] | None
]:  # fmt: skip
    """Return an edit of the same paper in another run of the world."""

    def edit(world: World) -> list[Paper] | None:
        found = base.find(world, paper)
        return None if found is None else change(world, found)

    return edit
