"""The error sources of weighing: readings, what a scale's weighings share, tares, moisture.

Each reading has a random part of its own: repeatability and the rounding of its display. All readings on a scale share
its sensitivity error until it is calibrated again. A registered tare is one source, shared by all who use it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from ledger.balance.measurement.forms import Form, Source, Tape, add
from ledger.book.setups import Setups
from ledger.plant.assumed import MOISTURE_SD, scale_of_unnamed
from ledger.plant.measuring import Container, Scale
from ledger.plant.setup import Setup
from ledger.quantities.fineness import parse_share
from ledger.quantities.mass import parse_mass


class Weighings:
    """What the masses of tickets' lines are made of."""

    def __init__(self, tape: Tape, setups: Setups, calibrations: Mapping[str, Sequence[int]]) -> None:
        self.tape = tape
        self.setups = setups
        self.calibrations = calibrations
        self._used: dict[tuple[int, str | None], _Used | None] = {}

    def mass(
        self, number: str, line: int, instant: int, document: Mapping[str, Any], scale: str | None, mass_ng: int, *,
        whose: str = "",
    ) -> Form:  # fmt: skip
        """Return the form of a line's metallic mass; ``document`` is the line as read.

        ``whose``: the party that read it on a scale of its own, which shares its error with none of the plant's.
        """
        setup = self.setups.at(instant)
        on = self._on(setup, scale)
        if on is None:
            return {}
        reading = _Reading(self, number, line, on, self._sensitivity(on, instant, whose))
        if "metallic" in document:
            return reading.once(mass_ng)
        if "moisture" not in document:
            return reading.net(document, setup, mass_ng)
        moisture = float(parse_share(document["moisture"]))
        wet = mass_ng / (1 - moisture) if moisture < 1 else 0.0
        dry = {r: c * (1 - moisture) for r, c in reading.net(document, setup, wet).items()}
        dry[self.tape.single(Source("moisture", "", float(MOISTURE_SD) ** 2, number, line))] = -wet
        return dry

    def received(self, number: str, line: int, instant: int, scale: str | None, mass_ng: int) -> Form:
        """Return the form of a receiver's reading of a move."""
        return self.mass(number, line, instant, {}, scale, mass_ng)

    def _on(self, setup: Setup, code: str | None) -> _Used | None:
        """Return the scale of that code, or the one that a line without a scale is taken to be weighed on."""
        key = (id(setup), code)
        if key not in self._used:
            scale = setup.scales.get(code or "") or scale_of_unnamed(setup)
            self._used[key] = _Used(scale, scale.weighing_sd_ng**2, self._since(scale)) if scale else None
        return self._used[key]

    def _since(self, scale: Scale) -> list[int]:
        """Return when a scale was calibrated, as the set-up states and by the checks, in order."""
        stated = [] if scale.calibrated is None else [self.setups.calendar.day_start(scale.calibrated)]
        return sorted([*stated, *self.calibrations.get(scale.code, ())])

    def _sensitivity(self, on: _Used, instant: int, whose: str) -> int:
        """Return the source that all weighings on a scale share until it is calibrated again; a party's, for good."""
        scale, place = on.scale, bisect_right(on.since, instant)
        of = whose or scale.code
        key = ("scale of", whose) if whose else ("sensitivity", of, on.since[place - 1] if place else None)
        return self.tape.shared(key, lambda: Source("sensitivity", of, float(scale.sensitivity) ** 2))

    def tare(self, container: Container, scale: Scale) -> int:
        """Return the source of a registered tare: one weighing on the scale of its first use, shared by all uses."""
        tare = container.tare or 0
        sd2 = scale.weighing_sd_ng**2 + (tare * float(scale.sensitivity)) ** 2
        tared = container.tared and container.tared.isoformat()
        key = ("tare", container.code, container.tare, tared)
        return self.tape.shared(
            key, lambda: Source("tare", container.code, sd2)
        )


class _Used(NamedTuple):
    """A scale, the variance of one reading in ng², and since when the scale's own error is another, in order."""

    scale: Scale
    variance: float
    since: Sequence[int]


class _Reading:
    """The readings of one line on one scale."""

    __slots__ = ("line", "number", "on", "shared", "weighings")

    def __init__(self, weighings: Weighings, number: str, line: int, on: _Used, shared: int) -> None:
        self.weighings, self.number, self.line, self.on, self.shared = weighings, number, line, on, shared

    def once(self, ng: float) -> Form:
        """Return one reading: its random part, and the scale's shared relative error times what it reads."""
        own = Source("reading", self.on.scale.code, self.on.variance, self.number, self.line)
        return {self.weighings.tape.single(own): 1.0, self.shared: ng}

    def net(self, document: Mapping[str, Any], setup: Setup, net_ng: float) -> Form:
        """Return a net mass: one reading, a difference of two, or one less a registered tare."""
        if "gross" not in document:
            return self.once(net_ng)
        whole = parse_mass(document["gross"])
        form = self.once(whole)
        if "tare" in document:
            add(form, self.once(parse_mass(document["tare"])), -1.0)
        elif (container := setup.containers.get(document.get("container", ""))) is not None:
            form[self.weighings.tare(container, self.on.scale)] = -1.0
        return form
