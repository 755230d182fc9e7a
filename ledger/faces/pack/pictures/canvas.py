"""The one way pictures are drawn: ink on white, direct labels, no legends; an SVG element that needs nothing else.

Lengths are in inches of the printed page, from its upper left corner. The library's object interface and its SVG
backend alone are used, under settings of our own whatever the machine has configured, so that the same figures give the
same bytes.
"""

from __future__ import annotations

import io
import logging
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from ledger.faces.pack.pictures.svg import Labels, cleaned
from ledger.faces.pack.schedule import Picture, Schedule
from ledger.faces.printing import cells

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Width of every picture: a printed page between its margins.
WIDTH: Final = 7.0

#: Tones that stay apart in print without colour. ALARM is never alone: shape, weight or a figure says the same.
INK, SOFT, RULE, FILL, PALE, DARK, ALARM = "#1b1b1b", "#595959", "#b0b0b0", "#c4c8cb", "#eceeef", "#56626b", "#8f2f14"
HATCH: Final = "////"

#: Sizes of letters, in points.
TEXT, SMALL = 9.0, 8.0

_POINTS = 72.0
#: Width of an average letter, in sizes of the font; a little wide, so that what was measured fits in any sans serif.
_LETTER = 0.62

_SETTINGS: Final[Any] = {
    "svg.fonttype": "none", "svg.hashsalt": "lemel", "svg.image_inline": True, "font.family": ["sans-serif"],
    "font.size": TEXT, "text.parse_math": False, "text.usetex": False, "axes.unicode_minus": False,
    "path.simplify": False, "hatch.linewidth": 0.6, "figure.facecolor": "white", "savefig.facecolor": "white",
    "text.color": INK, "axes.edgecolor": RULE, "axes.labelcolor": SOFT, "xtick.color": SOFT, "ytick.color": SOFT,
}  # fmt: skip

Align = Literal["left", "right", "center"]


@dataclass(frozen=True)
class Missing:
    """A picture that has nothing to show, and why in one sentence."""

    key: str
    why: str


@dataclass(frozen=True)
class Caption:
    """What a picture is called and says: its key is also that of its figures, and leads every id in it."""

    key: str
    title: str
    says: str
    alternative: str


class Sheet:
    """White paper of the page's width and some height, to draw on."""

    def __init__(self, height: float) -> None:
        from matplotlib.figure import Figure

        self.height = height
        self.figure: Figure = Figure(figsize=(WIDTH, height))

    def axes(self, left: float, top: float, width: float, height: float) -> Axes:
        """Return bare axes: no frame, no ticks."""
        box = (left / WIDTH, 1 - (top + height) / self.height, width / WIDTH, height / self.height)
        axes = self.figure.add_axes(box)
        for side in ("left", "right", "top", "bottom"):
            axes.spines[side].set_visible(False)
        axes.set_xticks([])
        axes.set_yticks([])
        axes.patch.set_visible(False)
        return axes

    def text(
        self, left: float, top: float, text: str, *, align: Align = "left", size: float = TEXT, tone: str = INK,
        bold: bool = False,
    ) -> None:  # fmt: skip
        """Write one line whose middle is ``top`` below the upper edge."""
        weight = "bold" if bold else "normal"
        self.figure.text(left / WIDTH, 1 - top / self.height, text, ha=align, va="center_baseline", fontsize=size,
                         color=tone, fontweight=weight)  # fmt: skip

    def rule(self, left: float, top: float, width: float) -> None:
        """Draw a thin line across."""
        from matplotlib.lines import Line2D

        height = 1 - top / self.height
        ends = [left / WIDTH, (left + width) / WIDTH]
        self.figure.add_artist(Line2D(ends, [height, height], color=RULE, linewidth=0.6))


def drawn(caption: Caption, figures: Schedule, height: float, draw: Callable[[Sheet], None]) -> Picture:
    """Return a picture ``height`` inches high, drawn on its sheet by ``draw``."""
    with _own_settings():
        sheet = Sheet(height)
        draw(sheet)
        into = io.StringIO()
        sheet.figure.savefig(into, format="svg", metadata={"Date": None, "Creator": None})
    svg = cleaned(into.getvalue(), Labels(caption.key, caption.title, caption.alternative))
    return Picture(caption.key, caption.title, caption.says, caption.alternative, svg, figures)


@contextmanager
def _own_settings() -> Iterator[None]:
    """Keep the machine's own settings, and the library's talk of fonts that lack a letter, out of the pictures."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    import matplotlib

    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield


def width_of(text: str, size: float = TEXT) -> float:
    """Return about how wide a text is, in inches; rather too wide than too narrow."""
    return cells(text) * _LETTER * size / _POINTS


def fitted(text: str, width: float, size: float = TEXT) -> str:
    """Return a name that fits a width, its end left out for "…" where it must be; figures are never given to this."""
    if width_of(text, size) <= width:
        return text
    kept = text
    while kept and width_of(kept + "…", size) > width:
        kept = kept[:-1]
    return kept + "…"


def spread_out(wanted: Sequence[float], least: float, low: float, high: float) -> list[float]:
    """Return positions near the wanted ones, at least so far apart and between the ends as far as there is room."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    least = min(least, (high - low) / max(len(wanted) - 1, 1))
    placed = [0.0] * len(wanted)
    floor = low
    for i in order:
        placed[i] = floor = max(wanted[i], floor)
        floor += least
    ceiling = high
    for i in reversed(order):
        placed[i] = ceiling = min(placed[i], ceiling)
        ceiling -= least
    return placed


def ticked(axes: Axes, at: Sequence[float], texts: Sequence[str], top: bool = False) -> None:
    """Mark positions along a horizontal axis, with their figures below it, or above."""
    axes.set_xticks(at, texts)
    axes.tick_params(axis="x", labelsize=SMALL, length=3, width=0.6, pad=2, labeltop=top, top=top, labelbottom=not top,
                     bottom=not top)  # fmt: skip


def round_steps(low: float, high: float, about: int = 4) -> list[float]:
    """Return round numbers between two ends, about so many."""
    from matplotlib.ticker import MaxNLocator

    steps = MaxNLocator(nbins=about, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    return [float(step) for step in steps if low <= step <= high]


def step_text(value: float) -> str:
    """Return a round number of an axis, without digits it does not need."""
    return f"{value + 0.0:,.10f}".rstrip("0").rstrip(".") if abs(value) >= 1e-9 else "0"
