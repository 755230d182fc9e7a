"""An invented plant that uses every table and every key of the set-up, for the tests of this room."""

from __future__ import annotations

from typing import Any

from ledger.plant.setup import Setup
from ledger.plant.toml_file import parse_setup
from ledger.refusals import Fault, SetupRefused

PLANT = """\
[plant]
name = "Invented Clad Works"
unit = "dwt"
currency = "EUR"
metals = ["gold", "silver"]
timezone = "America/New_York"
cut_off = "06:00"
warn = 2.5
act = 3
false_alarm_years = 20

[[period]]
code = "P1"
starts = 2026-10-04
ends = 2026-10-31

[[period]]
code = "P2"
ends = 2026-11-28

[[area]]
code = "MELT"
name = "Melting"
keeper = "K1"
tolerance = "3 g"
trivial = "0.05 g"

[[area]]
code = "REF"
outside = true
holder = "R1"
tolerance = "0.2%"
gross = false

[[operation]]
code = "roll"
name = "Rolling"
composition = "carries"
loss = {gold = "0.10%", gross = "0.2%"}
each = {gold = "0.02 g"}
spread = {gold = "0.04%"}
drift = {gold = "0.01%"}
recoverable = "60%"
recoverable_spread = "5%"
fume = "0.3%"

[[operation]]
code = "melt"
composition = "combines"

[[rate]]
operation = "roll"
alloy = "12Y"
loss = {gold = "0.20%"}

[[rate]]
operation = "roll"
class = "ENDS"
recoverable = "80%"

[[scale]]
code = "S1"
name = "floor"
division = "0.01 g"
repeatability = "0.008 g"
sensitivity = "0.004%"
calibrated = 2026-01-31
calibrate_every = "365 d"

[[method]]
code = "M1"
kind = "fire"
laboratory = "own"
repeatability = "0.3‰"
sampling = "0.4‰"
bias = "0.5‰"

[[alloy]]
code = "12Y"
name = "12K yellow"
gold = "12K"
silver = "100‰"
density = 13.33
colour = "yellow"

[[alloy]]
code = "BR"
gold = "0"
silver = "45%"

[[clad]]
code = "GF"
mark = "1/20 12K"
layer = "12Y"
faces = "round"
bond = "BR"
base = "bronze"

[[class]]
code = "ENDS"
name = "sheared ends"
alloy = "12Y"
dirty = true

[[class]]
code = "SKEL"
clad = "GF"

[[bin]]
code = "B1"
area = "MELT"
class = "ENDS"

[[container]]
code = "PAN"
tare = "125.30 g"
tared = 2026-09-01

[[party]]
code = "R1"
name = "Invented Refiners"
role = "refiner"
title = "ours until settled"
owed = "declared"
limit = "5 kg"
loss_allowance = "0.5%"

[[person]]
code = "K1"
name = "Ada Invented"
may = ["weigh", "count"]

[[person]]
code = "C1"
may = ["set", "close"]

[[fixing]]
metal = "gold"
date = 2026-10-01
per = "ozt"
amount = 4012.55
source = "invented"
"""

SMALLEST = '[plant]\nname = "Invented"\nmetals = ["gold"]\n'


def full() -> Setup:
    """Return the set-up that uses every key."""
    return parse_setup(PLANT)


def smallest(more: str = "") -> Setup:
    """Return the smallest set-up there is, gold only, with ``more`` TOML after it."""
    return parse_setup(SMALLEST + more)


def faults(text: str) -> list[Fault]:
    """Return the faults for which a TOML text is refused."""
    try:
        parse_setup(text)
    except SetupRefused as refusal:
        return refusal.faults
    raise AssertionError("not refused")


def fields(text: str) -> list[str]:
    """Return the keys at which a TOML text is refused."""
    return [fault.field for fault in faults(text)]


def document(**tables: Any) -> dict[str, Any]:
    """Return the smallest document, gold only, with ``tables`` beside it."""
    return {"plant": {"name": "Invented", "metals": ["gold"]}, **tables}
