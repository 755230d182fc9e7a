"""Tests: verdicts of a month, single tickets and moves, and running tests over many months."""
