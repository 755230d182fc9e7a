"""Who is at work: for each area those of the day, the late and the night shift."""

from __future__ import annotations

from datetime import datetime

CREWS = {
    "VAULT": ("TH", "NS", "NS"), "SCRAP": ("MB", "NS", "NS"), "MELT": ("CL", "VB", "VB"), "LAB": ("QA", "XI", "XI"),
    "BOND": ("RF", "IP", "IP"), "ROLL": ("DM", "KE", "SW"), "PRESS": ("AL", "JO", "JO"), "DRAW": ("BT", "EH", "EH"),
    "ASSEM": ("LM", "FY", "FY"), "FINISH": ("PW", "CZ", "CZ"), "WET": ("UR", "CZ", "CZ"),
    "DISPATCH": ("GN", "OT", "OT"), "REFINER": ("MQ", "MQ", "MQ"),
}  # fmt: skip
SHIFTS = ("day", "late", "night")


def shift_at(now: datetime) -> int:
    """Return the shift: 0 by day, 1 late, 2 at night."""
    return 0 if 6 <= now.hour < 14 else 1 if 14 <= now.hour < 22 else 2


def on_duty(area: str, now: datetime) -> str:
    """Return who weighs in an area."""
    return CREWS[area][shift_at(now)]


def beside(area: str, now: datetime, other_than: str) -> str:
    """Return who can witness there, other than the one who weighs; the controller where nobody else is."""
    crew = (on_duty(area, now), *CREWS[area])
    return next((person for person in crew if person != other_than), "MQ")
