"""One ticket as evidence: who, on what, how well, was the scale in control, how old the tare, what was expected."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from ledger.audit.inquiry import Document, Inquiry
from ledger.audit.uncertainty import TicketWorth, Worth, operation_of, worth_of, z_of
from ledger.balance.daily.checks import Check, calibration, checks, findings, mark_of
from ledger.balance.flows.evidence import lines_of
from ledger.balance.flows.normal_loss import expectation
from ledger.book.past import Past
from ledger.plant.measuring import Container
from ledger.quantities.mass import grams_text
from ledger.refusals import WrongUsage

_TICKET = """
    SELECT t.seq, t.kind, t.instant, t.operation, t.job, record.body, record.recorded_at, record.recorded_by,
           hex(record.hash), b.number, c.number
    FROM ticket AS t JOIN record ON record.seq = t.seq LEFT JOIN ticket AS b ON b.reverses = t.seq
    LEFT JOIN ticket AS c ON c.corrects = t.seq WHERE t.number = ?"""

_FLAGS = "SELECT flag, words FROM flag WHERE ticket = ? ORDER BY id"


_SAID = ("by", "witness", "workers", "shift", "machine", "note", "reason", "corrects")


def ticket_document(inquiry: Inquiry, number: str) -> Document:
    """Return one ticket as evidence; raises WrongUsage for a number that no ticket bears."""
    row = inquiry.connection.execute(_TICKET, (number,)).fetchone()
    if row is None:
        raise WrongUsage(f"no ticket {number[:64]!r} is recorded", "lemel audit gaps says what became of a number",
                         field="TICKET")  # fmt: skip
    seq, kind, instant, operation, job, body, recorded_at, recorded_by, hash_, reversed_by, corrected_by = row
    said = json.loads(body)
    worth = worth_of(inquiry, seq, instant) if reversed_by is None else None
    lines = worth.lines if worth else []
    return {
        "metal": inquiry.metal, "ticket": number, "kind": kind, "at": inquiry.text(instant),
        **{key: said.get(key) for key in _SAID},
        "recorded_at": recorded_at, "recorded_by": recorded_by, "hash": hash_.lower(), "reversed_by": reversed_by,
        "corrected_by": corrected_by,
        "flags": [{"flag": f, "words": w} for f, w in inquiry.connection.execute(_FLAGS, (seq,))],
        "lines": [_line(each) for each in lines],
        "scales": [_scale(inquiry, code, instant) for code in _scales(said, lines)],
        "containers": list(_containers(inquiry, said, instant)),
        "work": _work(inquiry, seq, operation, job, instant, worth),
    }  # fmt: skip


def _line(worth: Worth) -> Document:
    document = worth.document
    received = document.get("received_mass") if worth.line.side == "in" else None
    reading = received or document.get("gross") or document.get("mass") or document.get("received")
    return {
        "side": worth.line.side, "lot": worth.lot, "area": worth.line.area, "read": reading,
        "container": None if received else document.get("container"), "scale": worth.line.scale,
        "mass": None if worth.mass is None else grams_text(round(worth.mass)),
        "u_mass": None if worth.u_mass is None else _grams(worth.u_mass),
        "fineness": round(worth.fineness, 9), "u_fineness": round(worth.u_fineness, 9),
        "fine": grams_text(round(worth.content)), "u_fine": _grams(worth.u_content), "largest": worth.largest,
    }  # fmt: skip


def _grams(ng: float) -> float:
    return round(ng / 10**9, 9)


# ------------------------------------------------------------------------------------------------- scales and tares


def _scales(said: dict[str, Any], lines: Sequence[Worth]) -> list[str]:
    named = [*(each.line.scale for each in lines), said.get("scale")]
    return list(dict.fromkeys(code for code in named if code))


def _scale(inquiry: Inquiry, code: str, instant: int) -> Document:
    """Return a scale as it was at an instant: its calibration, and the checks just before and just after."""
    setup = inquiry.setups.at(instant)
    scale = setup.scales.get(code)
    upon = [at for at in Past(inquiry.connection).calibrations(code) if at <= instant]
    known = calibration(setup, code, inquiry.setups.calendar.day(upon[-1]) if upon else None)
    day = inquiry.setups.calendar.day(instant)
    own = checks(inquiry.connection, code)
    before = next((c for c in reversed(own) if c.instant <= instant), None)
    after = next((c for c in own if c.instant > instant), None)
    around = [_check(inquiry, check) for check in (before, after)]
    marks = [c["mark"] for c in around if c]
    return {
        "scale": code, "division": grams_text(scale.division_ng) if scale else None,
        "u_reading": _grams(scale.weighing_sd_ng) if scale else None,
        "calibrated": known.day and str(known.day), "due": known.due and str(known.due),
        "overdue": known.due is not None and day > known.due, "check_before": around[0], "check_after": around[1],
        "in_control": None if not marks else all(mark != "act" for mark in marks),
    }  # fmt: skip


def _check(inquiry: Inquiry, check: Check | None) -> Document | None:
    """Return a check weight's finding; beyond the action level of repeatability and sensitivity it is marked act."""
    if check is None:
        return None
    setup = inquiry.setups.at(check.instant)
    for _, certified, found, sd in findings(check, setup):
        scale = setup.scales[check.scale or ""]
        allowed = (sd**2 + float(scale.sensitivity * certified) ** 2) ** 0.5
        mark = mark_of(found - certified, allowed, float(setup.plant.warn), float(setup.plant.act))
        return {"ticket": check.ticket, "at": inquiry.text(check.instant), "off": grams_text(round(found - certified)),
                "allowed": _grams(float(setup.plant.act) * allowed), "mark": mark or None}  # fmt: skip
    return None


def _containers(inquiry: Inquiry, said: dict[str, Any], instant: int) -> Iterator[Document]:
    lines = (*(said.get("lots") or ()), *(said.get("in") or ()), *(said.get("out") or ()))
    known = inquiry.setups.at(instant).containers
    for code in dict.fromkeys(line["container"] for line in lines if line.get("container")):
        if code in known:
            yield tared(inquiry, known[code], instant)


def tared(inquiry: Inquiry, container: Container, instant: int) -> Document:
    """Return a container's registered tare and its age in days at an instant."""
    age = None if container.tared is None else (inquiry.setups.calendar.day(instant) - container.tared).days
    return {"container": container.code, "tare": None if container.tare is None else grams_text(container.tare),
            "tared": container.tared and str(container.tared), "days": age}  # fmt: skip


# ------------------------------------------------------------------------------------------------------- expected loss


def _work(inquiry: Inquiry, seq: int, code: str | None, job: int | None, instant: int, worth: TicketWorth | None
          ) -> Document | None:  # fmt: skip
    """Return a work ticket's own difference against its normal loss; a job's is struck once, when it is done."""
    operation = operation_of(inquiry, code, instant)
    if operation is None or worth is None:
        return None
    inputs = [line for line in lines_of(inquiry.connection, [seq]) if line.side == "in"]
    awaits_assay = operation.composition == "content" and inquiry.index != 0
    if job is not None or not inputs or worth.own is None or awaits_assay:
        return {"operation": code, "own": None, "u_own": None, "expected": None, "spread": None, "z": None}
    expected = expectation(inquiry.setups, inputs, inquiry.metals)
    loss, spread = expected.loss[inquiry.index], float(expected.spread[inquiry.index])
    return {
        "operation": code, "own": grams_text(round(worth.own)), "u_own": _grams(worth.u_own or 0.0),
        "expected": None if loss is None else grams_text(round(loss)), "spread": _grams(spread),
        "z": _rounded(None if loss is None else z_of(worth, float(loss), spread)),
    }  # fmt: skip


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
