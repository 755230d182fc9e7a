"""The pack's workbook: a sheet for each schedule, with real numbers, and sums that recompute."""

from ledger.faces.pack.workbook.heading import Heading
from ledger.faces.pack.workbook.writing import workbook_bytes, write_workbook

__all__ = ["Heading", "workbook_bytes", "write_workbook"]
