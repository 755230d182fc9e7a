"""Progress on standard error: only on a terminal, and only once a second has gone by."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Final, TypeVar

if TYPE_CHECKING:
    from threading import Timer

    from rich.live import Live

PATIENCE_SECONDS: Final = 1.0
_A_SECOND: Final = 10

T = TypeVar("T")


class Progress:
    """A sign that something goes on, and a count of what has been done; ``step`` is what a long work calls for each.

    It shows itself, so that it also turns while SQLite works and nothing is counted; ``silent``: not here.
    """

    def __init__(self, things: str = "", *, silent: bool = False) -> None:
        self.things = things
        self.silent = silent
        self.count = 0
        self._timer: Timer | None = None
        self._shown: Live | None = None

    def __enter__(self) -> Progress:
        if not self.silent and sys.stderr.isatty():
            from threading import Timer

            self._timer = Timer(PATIENCE_SECONDS, self._show)
            self._timer.daemon = True
            self._timer.start()
        return self

    def step(self, _: int = 0) -> None:
        """Count one."""
        self.count += 1

    def over(self, each: Iterable[T]) -> Iterator[T]:
        """Yield each of some things, and count them."""
        for one in each:
            self.count += 1
            yield one

    def step_of(self, things: str) -> Callable[[int], None]:
        """Return a step that counts other things, from the first of them on."""

        def step(_: int = 0) -> None:
            if self.things != things:
                self.things, self.count = things, 0
            self.count += 1

        return step

    def __rich__(self) -> str:
        """Return the words that are shown: the terminal asks for them again and again."""
        return f"{self.count:,} {self.things}" if self.count else "working"

    def _show(self) -> None:
        from rich.console import Console
        from rich.live import Live
        from rich.spinner import Spinner

        self._shown = Live(
            Spinner("dots", self), console=Console(stderr=True), refresh_per_second=_A_SECOND, transient=True,
            redirect_stdout=False, redirect_stderr=False,
        )  # fmt: skip
        self._shown.start()

    def __exit__(self, *_: object) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer.join()
        if self._shown is not None:
            self._shown.stop()
