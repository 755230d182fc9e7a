"""Progress on standard error: only on a terminal, and only once a second has gone by."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from rich.status import Status

PATIENCE_SECONDS: Final = 1.0
_BETWEEN_SECONDS: Final = 0.2
_BETWEEN_STEPS: Final = 64


class Progress:
    """A count of what has been done so far; ``step`` is what a long work calls for each."""

    def __init__(self, things: str, between_steps: int = _BETWEEN_STEPS) -> None:
        self.things = things
        self.between_steps = between_steps
        self.count = 0
        self._due = time.monotonic() + PATIENCE_SECONDS
        self._shown: Status | None = None

    def __enter__(self) -> Progress:
        return self

    def step(self, _: int = 0) -> None:
        """Count one."""
        self.count += 1
        if self.count % self.between_steps == 0 and time.monotonic() > self._due and sys.stderr.isatty():
            self._due = time.monotonic() + _BETWEEN_SECONDS
            self._show()

    def _show(self) -> None:
        if self._shown is None:
            from rich.console import Console

            self._shown = Console(stderr=True).status("")
            self._shown.start()
        self._shown.update(f"{self.count:,} {self.things}")

    def __exit__(self, *_: object) -> None:
        if self._shown is not None:
            self._shown.stop()
