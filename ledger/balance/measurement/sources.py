"""The error sources of weighing: readings, what a scale's weighings share, tares, moisture.

Each reading has a random part of its own: repeatability and the rounding of its display. All readings on a scale share
its sensitivity error until it is calibrated again. A registered tare is one source, shared by all who use it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any

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

    def mass(
        self, number: str, line: int, instant: int, document: Mapping[str, Any], scale: str | None, mass_ng: int, *,
        whose: str = "",
    ) -> Form:  # fmt: skip
        """Return the form of a line's metallic mass, kept as a node; ``document`` is the line as read.

        ``whose``: the party that read it on a scale of its own, which shares its error with none of the plant's.
        """
        setup = self.setups.at(instant)
        on = setup.scales.get(scale or "") or scale_of_unnamed(setup)
        if on is None:
            return {}
        reading = _Reading(self, number, line, on, self.sensitivity(on, instant, whose))
        if "metallic" in document:
            return self.tape.node(reading.once(mass_ng))
        if "moisture" not in document:
            return self.tape.node(reading.net(document, setup, mass_ng))
        moisture = float(parse_share(document["moisture"]))
        wet = mass_ng / (1 - moisture) if moisture < 1 else 0.0
        dry = {r: c * (1 - moisture) for r, c in reading.net(document, setup, wet).items()}
        dry[self.tape.single(Source("moisture", "", float(MOISTURE_SD) ** 2, number, line))] = -wet
        return self.tape.node(dry)

    def received(self, number: str, line: int, instant: int, scale: str | None, mass_ng: int) -> Form:
        """Return the form of a receiver's reading of a move."""
        return self.mass(number, line, instant, {}, scale, mass_ng)

    def sensitivity(self, scale: Scale, instant: int, whose: str = "") -> int:
        """Return the source that all weighings on a scale share until it is calibrated again; a party's, for good."""
        if whose:
            return self.tape.shared(
                ("scale of", whose), lambda: Source("sensitivity", whose, float(scale.sensitivity) ** 2)
            )
        since = self._calibrated(scale, instant)
        return self.tape.shared(
            ("sensitivity", scale.code, since),
            lambda: Source("sensitivity", scale.code, float(scale.sensitivity) ** 2),
        )

    def _calibrated(self, scale: Scale, instant: int) -> int | None:
        found = None
        if scale.calibrated is not None:
            begun = self.setups.calendar.day_start(scale.calibrated)
            found = begun if begun <= instant else None
        checked = self.calibrations.get(scale.code, ())
        place = bisect_right(checked, instant)
        if place and (found is None or checked[place - 1] > found):
            found = checked[place - 1]
        return found

    def tare(self, container: Container, scale: Scale) -> int:
        """Return the source of a registered tare: one weighing on the scale of its first use, shared by all uses."""
        tare = container.tare or 0
        sd2 = scale.weighing_sd_ng**2 + (tare * float(scale.sensitivity)) ** 2
        tared = container.tared and container.tared.isoformat()
        key = ("tare", container.code, container.tare, tared)
        return self.tape.shared(
            key, lambda: Source("tare", container.code, sd2)
        )


class _Reading:
    """The readings of one line on one scale."""

    def __init__(self, weighings: Weighings, number: str, line: int, scale: Scale, shared: int) -> None:
        self.weighings, self.number, self.line, self.scale = weighings, number, line, scale
        self.shared = shared

    def once(self, ng: float) -> Form:
        """Return one reading: its random part, and the scale's shared relative error times what it reads."""
        own = Source("reading", self.scale.code, self.scale.weighing_sd_ng**2, self.number, self.line)
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
            form[self.weighings.tare(container, self.scale)] = -1.0
        return form
