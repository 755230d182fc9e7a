"""An out-turn to fill in: every table and key, with invented figures."""

from __future__ import annotations

from typing import Final

TEMPLATE: Final = """\
# A refiner's out-turn. All figures are INVENTED, and no term here is a norm: write what your contract says.
# lemel bench settle out-turn.toml
party = "EDDLE"
area = "REFINER"                  # the outside area where the lots stand; left out: the book's only one
at = "2026-11-10T12:00"           # for the ticket
by = "MQ"
# ticket = "HC-0099"              # left out: the next free number
exchange = "umpire"               # mean, umpire (the middle of three), nearer mean, theirs
pay = "kind"                      # kind, pool, money
currency = "USD"

[rounding]
policy = "once"                   # once, each step, truncate
mass = "0.001 g"                  # or "0.001 ozt"
fineness = "0.01‰"
money = "0.01"
weight = "as read"                # good delivery: bars in steps of 0.025 ozt

[[metal]]
metal = "gold"
splitting = "0.5‰"                # or by grade: [{ from = "0‰", limit = "0.2‰" }, { from = "500‰", limit = "0.5‰" }]
accountability = "99.0%"          # of the agreed content
deduct = "0.1‰"                   # or the agreed fineness less so much, if that is less
minimum_deduction = "0.5 g"       # and so much of each lot at least
replicates_within = "0.5‰"        # of yellow and red gold, 1‰ of white: ISO 11426 (from memory)
umpire_fee = "180.00"
price = "2650.10"
price_per = "ozt"

[[metal]]
metal = "silver"
splitting = "2‰"
accountability = "95.0%"
nothing_below = "5‰"
price = "31.20"

[[charge]]
what = "treatment"
amount = "4.50"
per = "kg"                        # of what was received; lot, settlement; with metal: of what is payable
minimum = "60.00"

[[charge]]
what = "refining"
metal = "gold"
share = "0.25%"                   # kept in metal; or mass = "0.2 g" of each lot; or amount and per

# [[advance]]
# amount = "10000.00"             # or metal = "gold", mass = "100.0 g"
# rate = "6.0%"
# days = 30                       # or since = 2026-10-01, until = 2026-10-31
# year = 360

[[lot]]
lot = "RB-0001"
received = "1250.42 g"
moisture = "1.2%"
melted = "1210.30 g"              # bar and samples: ["1205.1 g", "5.2 g"]; the assays are of this
# metallic = "800.0 g"            # of a dirty lot that was not melted, as the book keeps it
# apart = { gold = "0.35 g" }     # found beside the bar: slag, metallics
ours = { gold = [["125.10‰", "125.14‰"], ["125.06‰"]], silver = "48.2‰" }
theirs = { gold = [["124.90‰", "124.94‰"]], silver = "47.6‰" }
# umpire = { gold = "125.0‰" }
"""
