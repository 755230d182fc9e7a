"""Seeded chance: one stream of draws for each purpose, so that a change in one place leaves the others as they were."""

from __future__ import annotations

from random import Random
from statistics import NormalDist

_NORMAL = NormalDist()


class Chance:
    """Independent streams, each named by what it is for."""

    def __init__(self, seed: int) -> None:
        self._seed = seed
        self._streams: dict[str, Random] = {}

    def stream(self, *names: object) -> Random:
        """Return the stream of that name; the same names always continue the same stream."""
        name = "/".join(map(str, names))
        if name not in self._streams:
            self._streams[name] = Random(f"{self._seed}/{name}")
        return self._streams[name]

    def normal(self, *names: object) -> float:
        """Return a standard normal draw; one uniform each, so that streams stay in step."""
        return _NORMAL.inv_cdf(min(max(self.stream(*names).random(), 1e-12), 1 - 1e-12))

    def between(self, low: float, high: float, *names: object) -> float:
        """Return a uniform draw."""
        return low + (high - low) * self.stream(*names).random()

    def pick(self, choices: tuple[str, ...], *names: object) -> str:
        """Return one of the choices."""
        return choices[int(self.stream(*names).random() * len(choices))]

    def fixed(self, *names: object) -> float:
        """Return a standard normal value that belongs to the name: the same whenever it is asked for."""
        return _NORMAL.inv_cdf(Random(f"{self._seed}/fixed/" + "/".join(map(str, names))).random())
