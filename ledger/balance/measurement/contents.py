"""A content with its error: gross and fine masses as numbers, and beside each its linear form."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import is_
from typing import overload

from ledger.balance.measurement.forms import Form, Tape, combined, scaled_sum


class Later(Sequence[Form]):
    """Forms by metal, each made when first asked for: a statement asks for one metal, and most are never asked for."""

    __slots__ = ("made", "make")

    def __init__(self, size: int, make: Callable[[int], Form]) -> None:
        self.make = make
        self.made: list[Form | None] = [None] * size

    def __len__(self) -> int:
        return len(self.made)

    @overload
    def __getitem__(self, metal: int) -> Form: ...

    @overload
    def __getitem__(self, metal: slice) -> Sequence[Form]: ...

    def __getitem__(self, metal: int | slice) -> Form | Sequence[Form]:
        if isinstance(metal, slice):
            return [self[i] for i in range(len(self.made))[metal]]
        form = self.made[metal]
        if form is None:
            form = self.made[metal] = self.make(metal)
        return form


class Content:
    """Gross and fine contents in the book's order, in ng, each with its form; or a fineness, whose first member is 1.

    Contents are never changed in place: what stands in two places must not move together.
    """

    __slots__ = ("forms", "values")

    def __init__(self, values: Sequence[float], forms: Sequence[Form]) -> None:
        self.values = values
        self.forms = forms

    @staticmethod
    def nothing(size: int) -> Content:
        """Return no metal at all."""
        return Content([0.0] * size, [{} for _ in range(size)])

    @staticmethod
    def exact(values: Sequence[float]) -> Content:
        """Return a content without error."""
        return Content(values, [{} for _ in values])

    def plus(self, other: Content, tape: Tape, times: float = 1.0) -> Content:
        """Return self + times × other."""
        return Content(
            [a + times * b for a, b in zip(self.values, other.values, strict=True)],
            [tape.added(a, b, times) for a, b in zip(self.forms, other.forms, strict=True)],
        )

    def short(self, tape: Tape) -> Content:
        """Return the same with nodes in place of long forms; itself where there are none."""
        forms = [tape.short(form) for form in self.forms]
        return self if all(map(is_, forms, self.forms)) else Content(self.values, forms)

    def minus(self, other: Content, tape: Tape) -> Content:
        """Return self − other, its forms made when they are asked for."""
        mine, others = self.forms, other.forms
        return Content(
            [a - b for a, b in zip(self.values, other.values, strict=True)],
            Later(len(mine), lambda metal: tape.added(mine[metal], others[metal], -1.0)),
        )

    def part(self, share: Sequence[float]) -> Content:
        """Return share × self, metal by metal; the shares are taken as exact."""
        return Content(
            [x * s for x, s in zip(self.values, share, strict=True)],
            [{r: c * s for r, c in form.items()} if s else {} for form, s in zip(self.forms, share, strict=True)],
        )


def weighed(mass: float, mass_form: Form, fineness: Content) -> Content:
    """Return mass × fineness: d(mf) = f·dm + m·df."""
    values = fineness.values
    forms = [scaled_sum(mass_form, f, form, mass) for f, form in zip(values[1:], fineness.forms[1:], strict=True)]
    return Content([mass * f for f in values], [mass_form, *forms])


def fineness_of(fine: Content, mass: float, mass_form: Form, tape: Tape) -> Content:
    """Return content over mass: df = (dC − f·dm)/m, kept as nodes; below nothing it is nothing, without error."""
    values, forms = [1.0], [Form()]
    for x, form in zip(fine.values[1:], fine.forms[1:], strict=True):
        f = x / mass
        if f <= 0:
            values.append(0.0)
            forms.append({})
            continue
        values.append(f)
        forms.append(tape.node(combined(((form, 1 / mass), (mass_form, -f / mass)))))
    return Content(values, forms)


def composition_of(stands: Content, tape: Tape) -> Content:
    """Return a standing's content over its mass; nothing where there is no mass."""
    if stands.values[0] <= 0:
        return Content([1.0, *(0.0 for _ in stands.values[1:])], [{} for _ in stands.values])
    return fineness_of(stands, stands.values[0], stands.forms[0], tape)


def mean(parts: Sequence[tuple[Content, float]], tape: Tape) -> Content:
    """Return Σ weight × fineness."""
    size = len(parts[0][0].values)
    values = [sum(f.values[i] * w for f, w in parts) for i in range(size)]
    forms = [tape.short(combined((f.forms[i], w) for f, w in parts)) for i in range(size)]
    return Content(values, forms)


def total(parts: Sequence[Content], size: int) -> Content:
    """Return the sum of contents."""
    if len(parts) == 1:
        return parts[0]
    values = [sum(p.values[i] for p in parts) for i in range(size)]
    return Content(values, [combined((p.forms[i], 1.0) for p in parts) for i in range(size)])
