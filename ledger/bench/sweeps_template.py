"""A lot of sweeps to fill in: every key, with invented figures."""

from __future__ import annotations

from typing import Final

TEMPLATE: Final = """\
# A lot of sweeps. All figures are INVENTED.
# lemel bench sweeps lot.toml
lot = "SW-0021"
wet = "18.40 kg"                  # net, as it stands in the drum
division = "0.01 kg"              # step of the scale's display; left out: the mass is taken as exact
dishes = [["52.10 g", "47.95 g"], ["49.80 g", "45.85 g"]]   # wet and dried, net; or moisture = "8.0%"
bias = "0.1‰"                     # of the laboratory, as fineness; left out: none
# sampling = "0.5‰"               # what one sample is worth, where there is but one

[[part]]                          # one part alone: no mass, no name needed
name = "through the sieve"
mass = "480.0 g"                  # in the dried and screened sample
assay = { gold = [["9.80‰", "9.90‰"], ["9.50‰"]], silver = [["4.1‰"], ["4.4‰"]] }

[[part]]
name = "metallics"
mass = "20.0 g"
assay = { gold = [["310‰"], ["320‰"]], silver = [["110‰"], ["118‰"]] }
"""
