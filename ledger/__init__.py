"""Lemel: a double-entry book of fine metal, and the reconciliation of it."""

__version__ = "0.1.0"
