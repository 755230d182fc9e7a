"""Moves: sender against receiver, receipts against their lists, single tickets beyond the action level, shipments."""

from __future__ import annotations

from typing import Final

from ledger.faces.pack.material import Document, Material
from ledger.faces.pack.printed import Printed
from ledger.faces.pack.schedule import Schedule, Section
from ledger.faces.pack.tables import count, mass, number, rows_of, when, words
from ledger.faces.printing import counted

MOVES: Final = (
    words("from"),
    words("to"),
    mass("sender_receiver_difference", "difference"),
    mass("sigma", "σ"),
    number("z", "z", "sender_receiver_difference / sigma"),
    words("verdict"),
)

RECEIPTS: Final = (
    words("party"),
    words("area"),
    mass("difference", "list − our own"),
    mass("sigma", "σ"),
    number("z", "z", "difference / sigma"),
    words("verdict"),
)

TICKETS: Final = (
    words("ticket"),
    words("operation"),
    mass("input", "input"),
    mass("difference", "difference"),
    mass("allowed", "allowed"),
    number("z", "z"),
    words("verdict"),
)

ASSAYS: Final = (
    words("ticket"),
    words("lot"),
    words("area"),
    mass("difference", "recorded − found"),
    mass("sigma", "σ"),
    number("z", "z", "difference / sigma"),
    words("verdict"),
)

TRANSFERS: Final = (
    words("ticket"),
    words("kind"),
    when("at", "at"),
    words("lot"),
    words("from"),
    words("to"),
    mass("gross", "difference, gross"),
    mass("fine", "difference, fine"),
    mass("sigma", "σ of the gross"),
    number("z", "z"),
)

SHIPPED: Final = (words("what", "content shipped or kept"), mass("mass", "mass"))

CUT_OFF: Final = (
    words("lot"),
    words("move"),
    words("from"),
    words("to"),
    when("since", "sent"),
    count("days", "days"),
    mass("gross", "gross"),
    mass("fine", "fine", summed=True),
)


def section(material: Material) -> Section:
    """Return the section of moves."""
    d, metal = material.statement, material.metal
    schedules = [
        Schedule(
            "moves",
            f"Sender less receiver, {metal}",
            "What each area's sendings weighed more than their receivers "
            "found, tested by itself for every pair of areas.",
            MOVES,
            rows_of(MOVES, d["moves"]),
        ),
        Schedule(
            "receipts",
            f"Receipts, {metal}",
            "What suppliers, customers and lenders listed, less our own weighing and assay.",
            RECEIPTS,
            rows_of(RECEIPTS, d["receipts"]),
        ),
        Schedule(
            "transfers",
            f"Single transfers, {metal}",
            "Transfers of the period whose two weighings differ by more than their scales explain.",
            TRANSFERS,
            rows_of(TRANSFERS, material.exceptions["transfer_differences"]),
        ),
        Schedule(
            "tickets",
            f"Work tickets beyond, {metal}",
            "Work tickets whose own difference is beyond the action level of measurement and normal loss.",
            TICKETS,
            rows_of(TICKETS, d["tickets"]),
        ),
        Schedule(
            "assays",
            f"Assays beyond, {metal}",
            "Assays that found something else than was recorded, beyond the action level.",
            ASSAYS,
            rows_of(ASSAYS, d["assays"]),
        ),
        _in_transit(material),
        _shipped(d),
    ]
    return Section("moves", "Moves, receipts, shipments", paragraphs=_words(material), schedules=schedules)


def _words(material: Material) -> list[str]:
    d, printed = material.statement, Printed(material.unit, material.facts.currency)
    beyond = [f"{m['from']} to {m['to']} ({m['verdict']})" for m in d["moves"] if m["verdict"] != "within"]
    pairs = counted(len(d["moves"]), "pair of areas", "pairs of areas")
    said = f"Of {pairs} beyond the warning level: {', '.join(beyond)}." if beyond else f"All {pairs} are within."
    receipts = [f"{r['party']} at {r['area']} ({r['verdict']})" for r in d["receipts"] if r["verdict"] != "within"]
    listed = f"Of the receipts beyond it: {', '.join(receipts)}." if receipts else "Every receipt is within its list."
    return [
        f"{said} {listed}" if d["receipts"] else said,
        (
            f"Shipped beyond what was billed: {printed.with_unit(d['give_away'])}; below it: "
            f"{printed.with_unit(d['under_delivered'])}; never netted. Kept by refiners under their contracts: "
            f"{printed.with_unit(d['retained'])}, which is neither loss nor give-away."
        ),
    ]


def _in_transit(material: Material) -> Schedule:
    return Schedule(
        "in-transit",
        f"In transit at the cut-off, {material.metal}",
        "What had been sent and had not arrived at the end of the period: still ours to account for.",
        CUT_OFF,
        rows_of(CUT_OFF, material.exceptions["in_transit"]),
    )


def _shipped(d: Document) -> Schedule:
    rows = [
        {"what": "given away beyond what was billed", "mass": d["give_away"]},
        {"what": "under-delivered", "mass": d["under_delivered"]},
        {"what": "retained by refiners", "mass": d["retained"]},
    ]
    return Schedule(
        "shipped",
        f"Billed and retained, {d['metal']}",
        "Content shipped beyond or below what was billed, each by itself, and what refiners keep.",
        SHIPPED,
        rows,
    )
