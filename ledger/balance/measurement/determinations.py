"""The error sources of composition: determinations, laboratories, marks, estimates, and what refiners agreed.

Every determination is one source for each metal, shared by all lots that stand under it. Where none of a metal is
stated there is no error: base metal holds no gold, by kind and not by measurement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ledger.balance.measurement.contents import Content
from ledger.balance.measurement.forms import Form, Source, Tape, add
from ledger.book.setups import Setups
from ledger.plant.assumed import ESTIMATE_SD, NOMINAL_FINENESS_SD, REFINER_SD, SETTLEMENT_SD
from ledger.plant.measuring import WORTH_BY_KIND, WORTH_OF_UNKNOWN_KIND, MethodWorth
from ledger.quantities.fineness import parse_share


class Determinations:
    """What the finenesses of a book's lots are worth. ``metals``: the book's order, gross first."""

    def __init__(self, tape: Tape, setups: Setups, metals: Sequence[str]) -> None:
        self.tape = tape
        self.setups = setups
        self.metals = metals

    def worth(self, method: str | None, instant: int) -> MethodWorth:
        """Return repeatability, sampling and bias of a method; an unnamed one is taken as the poorest kind."""
        known = self.setups.at(instant).methods.get(method or "")
        if known is None:
            return WORTH_OF_UNKNOWN_KIND
        return MethodWorth(known.repeatability, known.sampling, known.bias)

    def stated(
        self, number: str, line: int, instant: int, document: Mapping[str, Any], values: Sequence[float], mass: float,
        mass_form: Form,
    ) -> Content:  # fmt: skip
        """Return the fineness that a line states of its lot, ``values`` in the book's order.

        A stated *content* does not depend on the mass read: the fineness then falls as the mass rises.
        """
        forms: list[Form] = [{}]
        for metal, value in zip(self.metals[1:], values[1:], strict=True):
            form = self._stated(number, line, instant, document, metal, value)
            if "content" in document and value and mass:
                add(form, mass_form, -value / mass)
            forms.append(form and self.tape.node(form))
        return Content(values, forms)

    def _stated(
        self, number: str, line: int, instant: int, document: Mapping[str, Any], metal: str, value: float
    ) -> Form:
        if not value:
            return {}
        method = document.get("method")
        basis = document.get("basis") or ("measured" if method else "nominal")
        stated = parse_share(document["sd"]) if "sd" in document else None
        if basis == "measured":
            worth = self.worth(method, instant)
            own = worth.sampling**2 + worth.repeatability**2 if stated is None else stated**2
            return self._measured(method, worth, float(own), number, line, metal, by_sd=stated is not None)
        if stated is None:
            sd = float(NOMINAL_FINENESS_SD) if basis == "nominal" else float(ESTIMATE_SD) * value
        else:
            sd = float(stated)
        return self._one(basis, "", sd**2, number, line, metal)

    def _measured(
        self, method: str | None, worth: MethodWorth, own: float, number: str, line: int, metal: str, *,
        by_sd: bool = False,
    ) -> Form:  # fmt: skip
        """Return a determination's own source and its laboratory's bias; nobody shares the bias of an unnamed one."""
        if method is None:
            return self._one("measured", "", own if by_sd else own + float(worth.bias) ** 2, number, line, metal)
        form = self._one("measured", method, own, number, line, metal)
        form[self.bias(method, worth, metal)] = 1.0
        return form

    def _one(self, kind: str, of: str, variance: float, number: str, line: int, metal: str) -> Form:
        return {self.tape.single(Source(kind, of, variance, number, line, metal)): 1.0}

    def bias(self, method: str, worth: MethodWorth, metal: str) -> int:
        """Return the source that all determinations of a metal by one method share."""
        variance = float(worth.bias) ** 2
        return self.tape.shared(("bias", method, metal), lambda: Source("bias", method, variance, "", 0, metal))

    def found(
        self, number: str, line: int, instant: int, document: Mapping[str, Any], values: Sequence[float],
        before: Content, mass: float, mass_form: Form,
    ) -> Content:  # fmt: skip
        """Return the fineness an assay found, by ``results`` or by the ``content`` of a mass, ``values`` being it.

        A metal that the assay leaves out keeps what was known ``before``.
        """
        method = document.get("method")
        worth = self.worth(method, instant)
        results, stated = document.get("results"), document.get("content") or {}
        forms: list[Form] = [{}]
        for i, metal in enumerate(self.metals[1:], 1):
            if metal not in (stated if results is None else results):
                forms.append(before.forms[i])
            elif not values[i]:
                forms.append({})
            else:
                own = _of_mean(worth, results[metal] if results else [["one"]])
                form = self._measured(method, worth, own, number, line, metal)
                if results is None and mass:
                    add(form, mass_form, -values[i] / mass)
                forms.append(self.tape.node(form))
        return Content(values, forms)

    def surveyed(self, number: str, values: Sequence[float]) -> Content:
        """Return dust taken on by a survey: an estimate of each metal, and of gross, by itself."""
        forms = [
            self.tape.node(self._one("estimated", "", (float(ESTIMATE_SD) * value) ** 2, number, 0, metal))
            if value else Form()
            for metal, value in zip(self.metals, values, strict=True)
        ]  # fmt: skip
        return Content(values, forms)

    def agreed(self, number: str, line: int, party: str, values: Sequence[float], mass_form: Form) -> Content:
        """Return the content agreed with a refiner: mass received × a fineness he found, partly with a lasting error.

        Of dilute lots the error is a share of the content, of rich ones that of a fire assay, whichever is less.
        """
        forms, mass = [mass_form], values[0]
        for metal, value in zip(self.metals[1:], values[1:], strict=True):
            form: Form = {}
            if value and mass:
                fineness = value / mass
                own = min(float(SETTLEMENT_SD) * fineness, _FIRE)
                kept = min(float(REFINER_SD) * fineness, float(WORTH_BY_KIND["fire"].bias))
                add(form, mass_form, fineness)
                add(form, self._one("settlement", party, own**2, number, line, metal), mass)
                form[self._refiner(party, metal)] = mass * kept
            forms.append(form)
        return Content(values, forms)

    def _refiner(self, party: str, metal: str) -> int:
        return self.tape.shared(("refiner", party, metal), lambda: Source("settlement", party, 1.0, "", 0, metal))


#: Standard deviation of one fire assay of one sample, as fineness.
_FIRE = float(WORTH_BY_KIND["fire"].sampling ** 2 + WORTH_BY_KIND["fire"].repeatability ** 2) ** 0.5


def _of_mean(worth: MethodWorth, samples: Sequence[Sequence[str]]) -> float:
    """Return the variance of the mean of sample means: sampling²/n + repeatability² Σ(1/kᵢ)/n², kᵢ replicates each.

    Replicates of one drilling say nothing of segregation: they lower the second term only.
    """
    n = len(samples)
    share = sum(1 / len(replicates) for replicates in samples) / n**2
    return float(worth.sampling) ** 2 / n + float(worth.repeatability) ** 2 * share
