"""The flow of the period's metal: who gave to whom, each ribbon as wide as what it carried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from ledger.faces.pack.pictures.canvas import (
    DARK,
    FILL,
    INK,
    PALE,
    SMALL,
    SOFT,
    WIDTH,
    Caption,
    Missing,
    Sheet,
    drawn,
    fitted,
    spread_out,
    width_of,
)
from ledger.faces.pack.pictures.measure import Measure, added, ng_of
from ledger.faces.pack.schedule import Column, Picture, Row, Schedule
from ledger.faces.printing import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes

KEY: Final = "picture-flow"
_COLUMNS: Final = (
    Column("giver", "from"), Column("taker", "to"), Column("mass", "carried", "mass", summed=True),
    Column("given", "from it in all", "mass"), Column("taken", "to it in all", "mass"),
)  # fmt: skip
_NAMES, _BAR, _LINE, _TOP = 2.0, 0.12, 0.185, 0.5
_TONES: Final = (FILL, PALE, "#a3aab0")


class Carried(NamedTuple):
    """What one place gave another in the period, at the giver's figure: plain decimal grams."""

    giver: str
    taker: str
    mass: str


@dataclass(frozen=True)
class _Node:
    name: str
    mass: str
    carried: int
    top: float
    height: float
    label: float


def flow(measure: Measure, period: str, carried: Sequence[Carried]) -> Picture | Missing:
    """Return the ribbons between givers and takers, both in the order in which they first come."""
    drawn_ones = [c for c in carried if ng_of(c.mass) > 0]
    if not drawn_ones:
        return Missing(KEY, f"No {measure.what} moved between places in {period}.")
    given, taken = (_in_all(carried, end) for end in ("giver", "taker"))
    rows: list[Row] = [
        {**c._asdict(), "given": given[c.giver], "taken": taken[c.taker]}
        for c in sorted(carried, key=lambda c: -ng_of(c.mass))
    ]
    largest = max(drawn_ones, key=lambda c: ng_of(c.mass))
    says = (
        f"Of {counted(len(drawn_ones), 'way')} that {measure.what} went in {period} the widest is from "
        f"{largest.giver} to {largest.taker}, with {measure.with_unit(largest.mass)}."
    )
    note = (
        "At the giver's figure, as the statement's received and issued. What passes through several places counts in "
        "each; a negative figure undoes an earlier one and is not drawn."
    )
    figures = Schedule(KEY, "Flow of the period's metal", says, _COLUMNS, rows, [note])
    places = [list(dict.fromkeys(getattr(c, end) for c in drawn_ones)) for end in ("giver", "taker")]
    alternative = f"Ribbons from {len(places[0])} givers at the left to {len(places[1])} takers at the right. {says}"
    height = max(3.2, max(len(own) for own in places) * 0.31)
    nodes = [
        _nodes(drawn_ones, end, own, in_all, height)
        for end, own, in_all in zip(("giver", "taker"), places, (given, taken), strict=True)
    ]
    return drawn(
        Caption(KEY, figures.title, says, alternative), figures, _TOP + height + 0.15,
        lambda sheet: _draw(sheet, measure, drawn_ones, nodes, height),
    )  # fmt: skip


def _in_all(carried: Sequence[Carried], end: str) -> dict[str, str]:
    """Return what each place gave, or took, in all."""
    found: dict[str, str] = {}
    for c in carried:
        name = getattr(c, end)
        found[name] = added(found.get(name, "0"), c.mass)
    return found


def _draw(
    sheet: Sheet, measure: Measure, carried: Sequence[Carried], nodes: Sequence[Sequence[_Node]], height: float
) -> None:  # fmt: skip
    givers, takers = ({node.name: node for node in own} for own in nodes)
    axes = sheet.axes(_NAMES, _TOP, WIDTH - 2 * _NAMES, height)
    axes.set_xlim(0, WIDTH - 2 * _NAMES)
    axes.set_ylim(height, 0)
    _ribbons(axes, carried, givers, takers)
    sheet.text(0, 0.12, f"From, {measure.unit}", size=SMALL, tone=SOFT)
    sheet.text(WIDTH, 0.12, f"To, {measure.unit}", size=SMALL, tone=SOFT, align="right")
    for own, left in zip(nodes, (True, False), strict=True):
        for node in own:
            _node(sheet, axes, measure, node, left)


def _nodes(
    carried: Sequence[Carried], end: str, names: Sequence[str], in_all: dict[str, str], height: float
) -> list[_Node]:  # fmt: skip
    """Return the bars at one end, as high as what their ribbons carry, with room between them."""
    sums = {name: ng_of(mass) for name, mass in _in_all(carried, end).items()}
    whole = sum(sums.values())
    gap = min(0.1, height / 2 / len(names))
    scale = (height - gap * (len(names) - 1)) / whole
    top, found = 0.0, []
    for name in names:
        high = sums[name] * scale
        found.append((name, top, high))
        top += high + gap
    labels = spread_out([top + high / 2 for _, top, high in found], _LINE, 0.08, height - 0.08)
    return [
        _Node(name, in_all[name], sums[name], top, high, label)
        for (name, top, high), label in zip(found, labels, strict=True)
    ]


def _ribbons(
    axes: Axes, carried: Sequence[Carried], givers: dict[str, _Node], takers: dict[str, _Node]
) -> None:  # fmt: skip
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    right = WIDTH - 2 * _NAMES - _BAR
    used: dict[tuple[str, str], float] = {}
    order = {name: i for i, name in enumerate(takers)}
    for number, giver in enumerate(givers):
        for c in sorted((c for c in carried if c.giver == giver), key=lambda c: order[c.taker]):
            tops, highs = [], []
            for end, node in (("giver", givers[giver]), ("taker", takers[c.taker])):
                high = node.height * ng_of(c.mass) / node.carried
                start = used.get((end, node.name), node.top)
                used[end, node.name] = start + high
                tops.append(start)
                highs.append(high)
            middle = (_BAR + right) / 2
            points = [(_BAR, tops[0]), (middle, tops[0]), (middle, tops[1]), (right, tops[1]),
                      (right, tops[1] + highs[1]), (middle, tops[1] + highs[1]), (middle, tops[0] + highs[0]),
                      (_BAR, tops[0] + highs[0]), (_BAR, tops[0])]  # fmt: skip
            codes = [Path.MOVETO, *[Path.CURVE4] * 3, Path.LINETO, *[Path.CURVE4] * 3, Path.CLOSEPOLY]
            axes.add_patch(PathPatch(Path(points, codes), facecolor=_TONES[number % len(_TONES)], edgecolor=INK,
                                     linewidth=0.35, alpha=0.85))  # fmt: skip


def _node(sheet: Sheet, axes: Axes, measure: Measure, node: _Node, left: bool) -> None:
    from matplotlib.patches import Rectangle

    inner = WIDTH - 2 * _NAMES
    axes.add_patch(Rectangle((0 if left else inner - _BAR, node.top), _BAR, max(node.height, 0.008), color=DARK,
                             linewidth=0))  # fmt: skip
    edge = -0.03 if left else inner + 0.03
    out = edge + (-0.14 if left else 0.14)
    axes.plot([edge, out], [node.top + node.height / 2, node.label], color=SOFT, linewidth=0.5, clip_on=False)
    figure = measure.text(node.mass)
    top, side, wide = _TOP + node.label, 0.2, max(0.8, width_of(figure))
    if left:
        sheet.text(_NAMES - side, top, figure, align="right")
        sheet.text(0, top, fitted(node.name, _NAMES - side - wide - 0.1))
    else:
        sheet.text(WIDTH - _NAMES + side + wide, top, figure, align="right")
        sheet.text(WIDTH, top, fitted(node.name, _NAMES - side - wide - 0.1), align="right")
