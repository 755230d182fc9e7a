"""``lemel trace``: where a lot's metal came from, and where it went."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.faces.cli import options

if TYPE_CHECKING:
    from ledger.faces.audit_page import Asked

#: The tree is set in by one blank a level, no further than this.
_DEEPEST = 8

Lot = Annotated[str, typer.Argument(metavar="LOT", help="The lot's number; a bin or job too.")]
Way = Annotated[
    str, typer.Option("--way", metavar="WAY", help="back: where from; forward: where to; both.")
]
Depth = Annotated[int | None, typer.Option("--depth", metavar="N", min=1, help="Levels of the tree to print.",
                                           show_default=False)]  # fmt: skip
All = Annotated[bool, typer.Option("--all", help="Print branches below a thousandth of the lot, too.")]


def trace(
    lot: Lot, way: Way = "both", depth: Depth = None, all_: All = False, book: options.Book = None,
    metal: options.Metal = None, unit: options.Unit = None, json: options.Json = False,
) -> None:  # fmt: skip
    """Trace a lot's metal, both ways.

    Through melts, lay-ups, jobs, bins, splits, scrap loops, sweeps and settlements, with the content at each step.
    Where metal was mixed it is taken as evenly mixed: each part carries the shares of the whole. What work loses goes
    to the area's dust, and comes back with its sweeps.

    Example:  lemel trace PL-1005

    Example:  lemel trace PL-1005 --way forward --depth 3
    """
    from ledger.audit.trace import trace as traced
    from ledger.faces.audit_page import say_document, say_end
    from ledger.faces.cli.asking import asking
    from ledger.refusals import WrongUsage

    if way not in ("both", "back", "forward"):
        raise WrongUsage(f"{way[:40]!r} is no way", "give back, forward or both", field="--way")
    with asking(book, metal, unit) as asked:
        document = traced(asked.inquiry, lot)
    if way != "both":
        del document["forward" if way == "back" else "back"]
    if json:
        say_document(asked, document)
        return
    for which in ("back", "forward"):
        if which in document:
            _say_way(asked, document, which, depth, all_)
    say_end(asked)


def _say_way(asked: Asked, document: dict[str, Any], which: str, depth: int | None, all_: bool) -> None:
    from ledger.audit.trace import WORTH_A_LINE
    from ledger.faces.audit_page import day, fine, per_cent, say_rows, text

    lot, found = document["lot"], document[which]
    title = "Where {} came from" if which == "back" else "Where {} went"
    least = 0.0 if all_ else WORTH_A_LINE
    rows = [_indented(b) for b in found["tree"]
            if abs(b["share"] or 0) >= least and (depth is None or b["depth"] <= depth)]  # fmt: skip
    say_rows(
        f"{title.format(lot)} ({document['what']}), {asked.head}", rows,
        (text("lot", "lot"), text("ticket", "ticket"), day("on", "at"), text("by", "by"),
         fine("content", "content", asked.unit), fine("of it", "traced", asked.unit)), shown=len(rows),
    )  # fmt: skip
    _say_left_out(found, rows, all_)
    say_rows(
        "It began as" if which == "back" else "It ended as", _together(found["ends"]),
        (text("what", "what"), text("where", "where"), text("lot, ticket", "which"),
         fine("of it", "traced", asked.unit), per_cent("share", "share", 2)),
        total={"traced": found["content"], "share": 1.0 if found["ends"] else None}, shown=60,
    )  # fmt: skip


def _say_left_out(found: dict[str, Any], rows: list[dict[str, Any]], all_: bool) -> None:
    from ledger.faces.printing import counted, say_text

    left_out = len(found["tree"]) - len(rows)
    if left_out:
        which = "deeper" if all_ else "deeper, or with less than a thousandth of it"
        say_text(f"{counted(left_out, 'branch', 'branches')} left out: {which}")
    if any(row["again"] for row in rows):
        say_text("Of it: what of a content is the lot's. ^ follows above, where it stands first.")


def _indented(branch: dict[str, Any]) -> dict[str, Any]:
    depth = branch["depth"]
    lead = " " * min(depth, _DEEPEST) + (f"{depth}: " if depth > _DEEPEST else "")
    return {**branch, "lot": lead + branch["lot"] + (" ^" if branch["again"] else "")}


def _together(ends: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return ends of one sort, place and lot or ticket together, largest first."""
    from ledger.faces.printing import ng_of
    from ledger.quantities.mass import grams_text

    sums: dict[tuple[str, str], dict[str, Any]] = {}
    for end in ends:
        known = sums.setdefault((end["what"], end["where"] or ""), {**end, "traced": 0, "share": 0.0, "n": set()})
        known["traced"] += ng_of(end["traced"])
        known["share"] += end["share"] or 0.0
        known["n"].add(end["lot"] if end["what"] in _BY_LOT else end["ticket"] or "")
    rows = sorted(sums.values(), key=lambda row: -abs(row["traced"]))
    return [{**row, "traced": grams_text(row["traced"]), "which": _which(row["n"])} for row in rows]


_BY_LOT = ("on hand", "received", "taken on", "found by a count")


def _which(names: set[str]) -> str:
    known = sorted(name for name in names if name)
    return ", ".join(known) if len(known) <= 2 else f"{known[0]} … {known[-1]} ({len(known)})"
