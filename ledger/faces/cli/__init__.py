"""The command line: one file per command, and no arithmetic in it."""
