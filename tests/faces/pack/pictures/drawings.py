"""Ways to read a drawing back: its words, its figures, its ids."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from ledger.faces.pack.pictures.canvas import Missing
from ledger.faces.pack.pictures.measure import Measure
from ledger.faces.pack.schedule import Picture

SVG = "{http://www.w3.org/2000/svg}"
GRAMS = Measure("gold", "g", 2.0, 3.0)

#: A figure with digits after the point, as people are shown it.
_FIGURE = re.compile(r"-?\d[\d,]*\.\d+")
#: How words and figures are written; the small grey of scales and explanations is not.
_INK = "fill: #1b1b1b"


def drawn(made: Picture | Missing) -> Picture:
    assert isinstance(made, Picture), made
    return made


def texts(picture: Picture) -> list[str]:
    """Return every text of the drawing, in the order in which it was written."""
    return [element.text or "" for element in _texts(picture)]


def figures(picture: Picture) -> list[str]:
    """Return the figures written beside marks, those of the scales left out."""
    own = (e.text or "" for e in _texts(picture) if _INK in e.get("style", "") or "fill" not in e.get("style", ""))
    return [figure for text in own for figure in _FIGURE.findall(text)]


def known(picture: Picture, measure: Measure) -> set[str]:
    """Return every way in which a picture may write a figure of its schedule, or of what it says in words."""
    found = set(_FIGURE.findall(" ".join([picture.says, picture.title, *picture.figures.notes])))
    for row in picture.figures.rows:
        for column in picture.figures.columns:
            cell = row.get(column.key)
            if column.kind == "text" or cell is None:
                found.update(_FIGURE.findall(str(cell)))
            elif column.kind == "mass":
                size = measure.text(str(cell)).removeprefix("-")
                found |= {size, f"-{size}"}
            elif column.kind == "share":
                found.add(f"{100 * float(cell):,.2f}")
            elif column.kind == "number":
                found |= {f"{float(cell) + 0.0:,.{digits}f}" for digits in (1, 2, 3)}
    return found


def ids(picture: Picture) -> list[str]:
    return [element.get("id", "") for element in root(picture).iter() if "id" in element.attrib]


def root(picture: Picture) -> ElementTree.Element:
    return ElementTree.fromstring(picture.svg)


def _texts(picture: Picture) -> Iterator[ElementTree.Element]:
    return root(picture).iter(f"{SVG}text")
