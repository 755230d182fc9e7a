"""Poorer books of the same world: records with less in them, and a set-up that is somewhat wrong about the plant."""

from __future__ import annotations

import re
import tomllib
from random import Random

from tests.studies.fault_worlds.world import Document, Paper, plant_text

#: How thin records are: nothing left out; moves and arrivals not weighed; lots not re-weighed for work either, so that
#: outputs, purchases, shipments and counts are all there is.
FULL, MOVES, COUNTS = "full", "moves not weighed", "only outputs and counts weighed"
_OWN = ("mass", "gross", "container", "tare", "scale")
_RECEIVED = ("received_mass", "received_scale")


def thinned(papers: list[Paper], how: str) -> None:
    """Leave readings out of papers, as a plant that does not take them: what is all of a lot then moves as recorded."""
    for paper in papers:
        lines = [line for _, _, line in paper.lines()]
        if paper.kind in ("move", "arrive") and how != FULL:
            for line in lines:
                _unweighed(line, all_=paper.kind == "arrive" or bool(line.get("all")))
        if paper.kind == "work" and how == COUNTS:
            for line in paper.document.get("in", ()):
                _unweighed(line, all_=bool(line.get("all")))


def _unweighed(line: Document, *, all_: bool) -> None:
    for name in _RECEIVED:
        line.pop(name, None)
    if all_ and "metallic" not in line and "moisture" not in line:
        for name in _OWN:
            line.pop(name, None)
        line["all"] = True


_REPEATABILITY = re.compile(r'^(repeatability = ")([\d.]+)', re.MULTILINE)
_LOSS = re.compile(r"^loss = \{.*\}", re.MULTILINE)
_RATE = re.compile(r'"([\d.]+)%"')


def mistaken(seed: int, repeatability: float = 1.5, loss: float = 0.2) -> str:
    """Return a set-up whose repeatabilities are wrong by a factor either way, and whose loss rates by a share.

    Each scale, method and operation is drawn by itself.
    """
    chance = Random(f"mistaken/{seed}")

    def other_repeatability(found: re.Match[str]) -> str:
        factor = chance.choice((repeatability, 1 / repeatability))
        return f"{found[1]}{float(found[2]) * factor:.6f}".rstrip("0")

    def other_loss(found: re.Match[str]) -> str:
        factor = 1 + chance.choice((loss, -loss))
        return _RATE.sub(lambda rate: f'"{float(rate[1]) * factor:.6f}%"', found[0])

    return _LOSS.sub(other_loss, _REPEATABILITY.sub(other_repeatability, plant_text()))


def operations() -> list[str]:
    """Return the operations of the set-up that lose something."""
    return [
        each["code"] for each in tomllib.loads(plant_text())["operation"]
        if any(rate != "0%" for rate in each["loss"].values())
    ]  # fmt: skip


def scales() -> list[str]:
    """Return the scales of the set-up."""
    return [each["code"] for each in tomllib.loads(plant_text())["scale"]]
