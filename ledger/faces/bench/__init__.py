"""The bench: one ticket at a time, asked for where the metal is weighed."""
