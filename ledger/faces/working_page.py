"""A working, printed for people: numbered steps, each with what comes of it."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.bench.working import Step
from ledger.faces.printing import say_text


def say_working(steps: Iterable[Step]) -> None:
    """Print the steps of a working."""
    for number, step in enumerate(steps, 1):
        said = f"{step.text} = {step.value}" if step.value else step.text
        say_text(said, indent="    ", first=f"{number:>2}. ")
