"""Mass and fineness, exact. Knows nothing of plants or books."""
