"""Invented plants with planted faults: a month or a few of the sample plant, the truth about it, and its book."""

from __future__ import annotations

import os

# Runs go side by side, a process each; threads within would only stand in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
