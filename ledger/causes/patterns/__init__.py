"""Patterns: whether what work tickets lose beyond normal loss goes with a worker, shift, machine, scale or weekday."""
