"""Bench arithmetic that needs no book: charge, lay-up, reduction, settlement, strip test and sweeps."""
