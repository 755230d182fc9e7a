"""The printed working of an answer: each step in figures, so that a foreman can check it with a pencil."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Step:
    """One step: ``text`` says what is worked out and from which figures, ``value`` what comes of it, with its unit."""

    text: str
    value: str = ""


@dataclass(slots=True)
class Working:
    """The steps of one answer, in the order in which a person takes them."""

    steps: list[Step] = field(default_factory=list)

    def step(self, text: str, value: str = "") -> None:
        """Add one step."""
        self.steps.append(Step(text, value))

    def extend(self, steps: Iterable[Step]) -> None:
        """Add the steps of a part worked out elsewhere."""
        self.steps.extend(steps)

    def __iter__(self) -> Iterator[Step]:
        """Yield the steps in order."""
        return iter(self.steps)

    def document(self) -> list[dict[str, str]]:
        """Return the steps as JSON-able figures."""
        return [{"step": step.text, "value": step.value} for step in self.steps]
