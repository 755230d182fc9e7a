"""What an auditor, insurer, lender or customer asks, answered from the book."""
