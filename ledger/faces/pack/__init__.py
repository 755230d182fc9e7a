"""The month-end pack: one page, one workbook, and the same figures for programs."""
