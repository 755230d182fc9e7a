"""A lot of sweeps, and the drums, as pages and as documents."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from ledger.faces.caution import at_work, say_at_work, say_caution
from ledger.faces.printing import Table, mass, say, say_table, say_text
from ledger.faces.working_page import say_working
from ledger.quantities.mass import decimal_text, grams_text, mass_text

if TYPE_CHECKING:
    from ledger.balance.daily.back_test import Stream
    from ledger.balance.daily.residues import Drums, StreamBound
    from ledger.bench.sweeps import SweepsLot, Swept

_HOW = (
    "At least: a lower bound that holds with 95 %, one-sided. Measured lots: content − 1.645 σ, σ by the book's "
    "weighings and assays. Estimates: ratios brought ÷ estimated of the stream's own history, taken as independent "
    "draws of one normal distribution, by Student's t, for all its open lots together, and never above what is booked. "
    "A stream with fewer than two settled or assayed lots counts as nothing. Segregated lots of "
    "others, what is not in the book, and what refining will cost are not in the figure."
)


def say_lot(worked: SweepsLot) -> None:
    """Print a lot's working, its contents, and what a ticket's line says of it."""
    from ledger.bench.sweeps import for_a_ticket

    say(f"Sweeps {worked.lot.lot}")
    say_working(worked.working.steps)
    say()
    for metal in worked.metals:
        sigma = "σ not known" if metal.sigma is None else f"σ {mass_text(round(metal.sigma), 'g', 4)} g"
        say_text(f"{metal.metal}: {mass_text(round(metal.content), 'g', 4)} g, {sigma}; "
                 f"{decimal_text(metal.fineness * 1000, 4)} ‰ of the dry")  # fmt: skip
    for remark in worked.remarks:
        say_text(f"Look: {remark}.")
    say("For a ticket's line:")
    say(json.dumps(for_a_ticket(worked), ensure_ascii=False))
    say()
    say_at_work("sweeps")


def lot_document(worked: SweepsLot) -> dict[str, Any]:
    """Return a lot as JSON-able figures."""
    from ledger.bench.sweeps import for_a_ticket

    return {
        "lot": worked.lot.lot, "wet": grams_text(worked.lot.wet), "dry": grams_text(round(worked.dry)),
        "moisture": {"percent": decimal_text(worked.moisture.share * 100, 6),
                     "sigma": round(100 * worked.moisture.sigma, 9), "assumed": worked.moisture.assumed},
        "metals": [_metal(metal) for metal in worked.metals], "remarks": list(worked.remarks),
        "line": for_a_ticket(worked), "working": worked.working.document(), "caution": at_work("sweeps"),
    }  # fmt: skip


def _metal(metal: Swept) -> dict[str, Any]:
    return {
        "metal": metal.metal, "fineness": decimal_text(metal.fineness * 1000, 6),
        "content": grams_text(round(metal.content)), "wet_times_dry_assay": grams_text(round(metal.trap)),
        "sigma": None if metal.sigma is None else round(metal.sigma / 1e9, 9),
        "sigma_by": {name: round(sigma / 1e9, 9) for name, sigma in metal.by.items()},
    }  # fmt: skip


# ---- the drums ---------------------------------------------------------------------------------------------------


def say_drums(plant: str, drums: Drums, unit: str) -> None:
    """Print what is in the drums, the streams' history with what it proposes, and the lender's figure."""
    say(f"Drums of {plant}: {drums.metal}, in {unit}")
    say()
    if not drums.residues:
        say("no sweeps, and no lot of a dirty class, on hand or under way")
    else:
        say_table(_lots(drums, unit))
    known = [bound for bound in drums.streams if bound.test.pairs]
    if known:
        say()
        say("What estimates have been worth, and what that proposes for the next lot")
        say_table(_history(known))
        say_text("Take the estimate times the factor; sd is of the next lot's content so estimated, as a share of it: "
                 "on its line write basis estimated, and sd as that share of its fineness. The factor is 1 unless a "
                 "bias is shown; sd then holds whatever bias there is.")  # fmt: skip
    say()
    say_table(_bounds(drums, unit))
    say_text(_HOW)
    say()
    say_at_work("sweeps")
    say_caution()


def _lots(drums: Drums, unit: str) -> Table:
    table = Table(["area", "lot", "class", "rests on", "days", "gross", drums.metal], frozenset((0, 1, 2, 3)))
    for r in drums.residues:
        table.add(r.area, r.lot, r.lot_class or "", "estimate" if r.estimated else "measured", str(r.days),
                  mass(r.gross, unit), mass(r.content, unit))  # fmt: skip
    gross = sum(r.gross for r in drums.residues)
    table.total = ("together", "", "", "", "", mass(gross, unit), mass(drums.booked, unit))
    return table


def _history(bounds: list[StreamBound]) -> Table:
    table = Table(["whose", "class", "pairs", "mean ratio", "spread", "bias", "factor", "sd"], frozenset((0, 1, 5)))
    for bound in bounds:
        ratio, proposed = bound.test.ratio, bound.proposal
        assert ratio is not None
        table.add(_whose(bound.test.stream), bound.test.stream.lot_class, str(ratio.n), f"{ratio.mean:.3f}",
                  "–" if ratio.sd is None else f"{ratio.sd:.3f}", bound.test.bias,
                  "–" if proposed is None else f"{proposed.factor:.3f}",
                  "–" if proposed is None else f"{100 * proposed.sd:.1f} %")  # fmt: skip
    return table


def _bounds(drums: Drums, unit: str) -> Table:
    table = Table(["counted on", "booked", "at least"])
    table.add("measured lots", mass(drums.measured, unit), mass(drums.measured_lower, unit))
    for bound in drums.streams:
        if bound.lower is not None and bound.booked:
            table.add(f"estimates, {_whose(bound.test.stream)} {bound.test.stream.lot_class}".rstrip(),
                      mass(bound.booked, unit), mass(int(bound.lower), unit))  # fmt: skip
    table.add("estimates without a history", mass(drums.without_history, unit), mass(0, unit))
    table.total = ("together", mass(drums.booked, unit), mass(drums.lower, unit))
    return table


def drums_document(drums: Drums) -> dict[str, Any]:
    """Return the drums as JSON-able figures; ratios and sd are numbers."""
    return {
        "metal": drums.metal,
        "lots": [
            {"area": r.area, "lot": r.lot, "class": r.lot_class, "gross": grams_text(r.gross),
             "content": grams_text(r.content), "estimated": r.estimated, "days": r.days,
             "streams": [_stream(s) for s in r.streams]}
            for r in drums.residues
        ],
        "streams": [_bound(bound) for bound in drums.streams],
        "booked": grams_text(drums.booked), "measured": grams_text(drums.measured),
        "measured_sigma": round(drums.measured_sigma / 1e9, 9), "measured_lower": grams_text(drums.measured_lower),
        "history_lower": grams_text(drums.history_lower), "without_history": grams_text(drums.without_history),
        "lower": grams_text(drums.lower), "left_out": drums.left_out, "how": _HOW, "caution": at_work("sweeps"),
    }  # fmt: skip


def _stream(stream: Stream) -> dict[str, Any]:
    return {"account": stream.account, "area": stream.area or None, "class": stream.lot_class or None}


def _bound(bound: StreamBound) -> dict[str, Any]:
    ratio, proposed = bound.test.ratio, bound.proposal
    return {
        **_stream(bound.test.stream), "pairs": len(bound.test.pairs), "bias": bound.test.bias,
        "ratio": None if ratio is None else round(ratio.mean, 9),
        "spread": None if ratio is None or ratio.sd is None else round(ratio.sd, 9),
        "factor": None if proposed is None else round(proposed.factor, 9),
        "sd": None if proposed is None else round(proposed.sd, 9),
        "booked": grams_text(bound.booked), "expected": _rounded(bound.expected), "lower": _rounded(bound.lower),
    }  # fmt: skip


def _rounded(ng: float | None) -> str | None:
    return None if ng is None else grams_text(int(ng))


def _whose(stream: Stream) -> str:
    return f"{stream.area} {stream.account}".strip()


