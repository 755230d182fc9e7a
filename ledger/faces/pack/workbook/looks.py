"""How cells look: few styles, each made once; legible in print and without colour. How high a row of words is."""

from __future__ import annotations

import textwrap
from typing import Any, Final

from ledger.faces.pack.workbook.words import FORMULA_SIGNS

#: A font that every office program has, or has one of the same widths for.
FONT: Final = {"font_name": "Arial", "font_size": 10}
#: The height of one line of words, in points.
LINE: Final = 13.5

_LOOKS: Final[dict[str, dict[str, Any]]] = {
    "title": {"bold": True, "font_size": 14},
    "says": {"text_wrap": True, "valign": "top"},
    "note": {"text_wrap": True, "valign": "top", "font_size": 9},
    "link": {"underline": 1, "font_color": "#0B3D91", "valign": "top"},
    "label": {"bold": True, "valign": "top"},
    "head": {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E8E8E8"},
    "words": {"text_wrap": True, "valign": "top"},
    "indented": {"text_wrap": True, "valign": "top", "align": "left", "indent": 1},
    "figure": {"valign": "top"},
    "total": {"bold": True, "valign": "top", "top": 1},
}


class Looks:
    """The styles of one workbook."""

    def __init__(self, workbook: Any) -> None:
        self._workbook = workbook
        self._made: dict[tuple[str, tuple[tuple[str, Any], ...]], Any] = {}

    def of(self, look: str, **more: Any) -> Any:
        """Return a named style, with further properties of the library's formats."""
        key = (look, tuple(sorted(more.items())))
        if key not in self._made:
            self._made[key] = self._workbook.add_format(_LOOKS[look] | more)
        return self._made[key]

    def of_words(self, look: str, text: str) -> Any:
        """Return the style for a text, marked as text for good where editing its cell would make it a formula."""
        return self.of(look, quote_prefix=True) if text.startswith(FORMULA_SIGNS) else self.of(look)


def lines_of(text: str, width: float) -> int:
    """Return the lines that a text takes in a column of that width, rather one too many."""
    fitting = max(1, int(width))
    return sum(max(1, len(textwrap.wrap(part, fitting, break_on_hyphens=False))) for part in text.split("\n"))


def height(lines: int) -> float:
    """Return the height of a row of so many lines, in points."""
    return LINE * lines + 1.5
