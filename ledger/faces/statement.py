"""The month-end statement for people, from the same document that programs read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from ledger.faces.printing import Table, counted, mass, ng_of, say, say_table, say_text

if TYPE_CHECKING:
    from ledger.book.holdings import PlantFacts

Document = dict[str, Any]
Row = Callable[[Document], Sequence[str]]

#: Key of the document and head of the column, in the order of the statement.
BALANCE: Final = (
    ("opening", "opening"), ("received", "received"), ("issued", "issued"), ("closing", "closing"),
    ("difference", "difference"), ("sweeps", "sweeps"), ("gross_loss", "gross loss"),
)  # fmt: skip
ORIGINS: Final = (
    ("work", "work"), ("reweighing", "re-weighing"), ("count", "count"), ("transfer", "transfer"),
    ("revaluation", "revaluation"),
)  # fmt: skip
DUST: Final = (
    ("opening", "opening"), ("accrued", "accrued"), ("taken", "taken up"), ("trued_up", "trued up"),
    ("shortfall", "shortfall"), ("closing", "closing"),
)  # fmt: skip
APART: Final = (
    ("take_on", "take-on"), ("known_discards", "discards"), ("estimated", "estimated"), ("in_transit", "in transit"),
)  # fmt: skip


def say_statement(document: Document, facts: PlantFacts, unit: str, only: str | None) -> None:
    """Print the statement; with ``only`` that area's part, without the plant's total."""
    page = Statement(document, facts, unit, only)
    for part in (page.head, page.balance, page.judgement, page.reasons, page.origins, page.apart, page.dust, page.moves,
                 page.receipts, page.tickets, page.assays, page.shipped, page.refiners, page.foot):  # fmt: skip
        part()


class Statement:
    """The parts of one printed statement, in order."""

    def __init__(self, document: Document, facts: PlantFacts, unit: str, only: str | None) -> None:
        self.document, self.facts, self.unit, self.only = document, facts, unit, only
        self.areas: list[Document] = document["areas"]
        self.plant: Document = {**document["plant_total"], "area": "plant"}
        self.currency = facts.currency

    def mass(self, grams: str) -> str:
        """Return a mass of the document in the unit of the page."""
        return mass(ng_of(grams), self.unit)

    def _sigma(self, grams: float | None) -> str:
        return "–" if grams is None else mass(ng_from_float(grams), self.unit)

    def _fine(self, mass_ng: int) -> str:
        """Return a small mass with two more digits: what two scales differ by is often less than a milligram."""
        return mass(mass_ng, self.unit, more=2)

    def _nonzero(self, grams: str) -> str:
        return self.mass(grams) if ng_of(grams) else ""

    def _say_table(self, heads: Sequence[str], row: Row, words: Sequence[str] = ()) -> None:
        """Print a table with a row for each area and the plant's below; ``words`` names heads that are no figures."""
        table = Table(["area", *heads], frozenset((0, *(1 + heads.index(word) for word in words))))
        for area in self.areas:
            table.add(area["area"], *row(area))
        if self.only is None:
            table.total = ["plant", *row(self.plant)]
        say_table(table.without_empty_columns())

    def head(self) -> None:
        """Print what this is, of whom, when, of what, in what unit, and which way the signs go."""
        d = self.document
        closed = "closed" if d["closed"] else "not closed"
        say_text(f"Month-end statement, {d['period']}, {closed}: {d['metal']}, in {self.unit}")
        say_text(d["plant"] + (f", area {self.only}" if self.only else ""))
        if d["close"]:
            close = d["close"]
            say_text(f"Closed by {close['by']} with {close['with']}, recorded {close['recorded_at']}: a name is a "
                     "claim, not a signature. From what was recorded before the close.")  # fmt: skip
            say(f"Its seal: {close['seal']}")
        say("A difference is + where metal is missing.")

    def balance(self) -> None:
        """Print the balance of each area."""
        say()
        say("Balance")
        self._say_table([head for _, head in BALANCE], lambda a: [self.mass(a[key]) for key, _ in BALANCE])
        say_text("difference = opening + received - issued - closing")
        say("gross loss = difference + sweeps")

    def judgement(self) -> None:
        """Print what normal loss allows, what is left, and the verdict."""
        say()
        say("Judgement")
        heads = ["allowed", "prior", "unexplained", "σ", "z", "tolerance", self.currency, "verdict"]
        self._say_table(heads, self._judged, words=["verdict"])
        say_text("unexplained = gross loss - allowed (normal loss) - prior period")
        say("z = unexplained / σ")

    def _judged(self, area: Document) -> list[str]:
        tolerance = area["tolerance"]
        return [
            self.mass(area["allowed"]), self.mass(area["prior_period"]), self.mass(area["unexplained"]),
            self._sigma(area["sigma"]), z_text(area["z"]), self.mass(tolerance) if tolerance else "",
            money_text(area["money"]), area["verdict"] + (", coarse" if area["coarse"] else ""),
        ]  # fmt: skip

    def reasons(self) -> None:
        """Print why, for every area that has a reason."""
        told = [*self.areas, *([] if self.only else [self.plant])]
        if any(area["reasons"] for area in told):
            say()
        for area in told:
            if area["reasons"]:
                name = next((a.name for a in self.facts.areas if a.code == area["area"]), "")
                lead = area["area"] + (f" ({name})" if name and name != area["area"] else "")
                say_text(f"{lead}: {area['verdict']}: {'; '.join(area['reasons'])}.", indent="    ", first="")

    def origins(self) -> None:
        """Print where each gross loss comes from."""
        say()
        say("Gross loss by origin")
        self._say_table([head for _, head in ORIGINS],
                        lambda a: [self.mass(a["difference_from"][key]) for key, _ in ORIGINS])  # fmt: skip

    def apart(self) -> None:
        """Print what stands beside the balance: when counted, take-on, discards, estimates, the twelve months."""
        say()
        say("Beside it")
        heads = ["counted", *(head for _, head in APART), "cumulative", "its σ"]
        self._say_table(heads, self._beside, words=["counted"])
        say_text("cumulative = unexplained + prior, over twelve months, never zeroed")
        for area in self.areas:
            if area["open_jobs"]:
                jobs = ", ".join(job if isinstance(job, str) else str(job.get("job", job)) for job in area["open_jobs"])
                say_text(f"{area['area']}: open jobs {jobs}")

    def _beside(self, area: Document) -> list[str]:
        counted_at = "" if area["area"] == "plant" else (area["counted_at"] or "not counted").replace("T", " ")
        return [counted_at, *(self._nonzero(area[key]) for key, _ in APART), self.mass(area["cumulative"]),
                self._sigma(area["cumulative_sigma"])]  # fmt: skip

    def dust(self) -> None:
        """Print the dust of the areas that have any."""
        with_dust = [a for a in self.areas if any(ng_of(a["dust"][key]) for key, _ in DUST)]
        if not with_dust:
            return
        say()
        say_text("Dust: expected in benches, filters, crucibles and drains, not weighed")
        heads = [*(head for _, head in DUST), "σ", "z", "clean-out"]
        table = Table(["area", *heads], frozenset((0, len(heads))))
        for area in with_dust:
            table.add(area["area"], *self._dust(area["dust"]))
        if self.only is None:
            table.total = ["plant", *self._dust(self.plant["dust"])]
        say_table(table.without_empty_columns())
        say_text("σ is of the closing dust, after a clean-out of the shortfall; z = shortfall / σ")

    def _dust(self, dust: Document) -> list[str]:
        figures = [self.mass(dust[key]) for key, _ in DUST]
        return [*figures, self._sigma(dust["sigma"]), z_text(dust["z"]) if dust["cleaned_out"] else "",
                dust["verdict"] or ""]  # fmt: skip

    def moves(self) -> None:
        """Print the sender–receiver differences that are beyond the warning level."""
        moves = self.document["moves"]
        beyond = [m for m in moves if m["verdict"] != "within"]
        say()
        if not beyond:
            say("Sender - receiver: " + ("no moves" if not moves else f"all {len(moves)} pairs of areas within"))
            return
        say("Sender - receiver, beyond the warning level")
        table = Table(["from", "to", "difference", "σ", "z", "verdict"], frozenset((0, 1, 5)))
        for m in beyond:
            difference = ng_of(m["sender_receiver_difference"])
            table.add(m["from"], m["to"], self._fine(difference), self._fine(ng_from_float(m["sigma"])), z_text(m["z"]),
                      m["verdict"])  # fmt: skip
        say_table(table)

    def receipts(self) -> None:
        """Print the receipt differences, list less our own, that are beyond the warning level."""
        receipts = self.document["receipts"]
        beyond = [r for r in receipts if r["verdict"] != "within"]
        if not receipts:
            return
        say()
        if not beyond:
            pairs = counted(len(receipts), "pair", "pairs")
            say_text(f"Receipts, list - our own: {pairs} of party and area, all within")
            return
        say("Receipts, list - our own, beyond the warning level")
        table = Table(["party", "area", "difference", "σ", "z", "verdict"], frozenset((0, 1, 5)))
        for r in beyond:
            table.add(r["party"], r["area"], self.mass(r["difference"]), self._sigma(r["sigma"]), z_text(r["z"]),
                      r["verdict"])  # fmt: skip
        say_table(table)

    def tickets(self) -> None:
        """Print the work tickets beyond the action level."""
        if not self.document["tickets"] or self.only:
            return
        say()
        say("Work tickets beyond the action level")
        table = Table(["ticket", "operation", "input", "difference", "allowed", "z", "verdict"], frozenset((0, 1, 6)))
        for t in self.document["tickets"]:
            table.add(t["ticket"], t["operation"], self.mass(t["input"]), self.mass(t["difference"]),
                      self.mass(t["allowed"]), z_text(t["z"]), t["verdict"])  # fmt: skip
        say_table(table)

    def assays(self) -> None:
        """Print the assays that found something else than was recorded, beyond the action level."""
        beyond = self.document["assays"]
        if not beyond:
            return
        say()
        say("Assays, recorded - found, beyond the action level")
        table = Table(["ticket", "lot", "area", "difference", "σ", "z", "verdict"], frozenset((0, 1, 2, 6)))
        for a in beyond:
            table.add(a["ticket"], a["lot"], a["area"], self.mass(a["difference"]), self._sigma(a["sigma"]),
                      z_text(a["z"]), a["verdict"])  # fmt: skip
        say_table(table)

    def refiners(self) -> None:
        """Print whether a refiner's signs are always the same."""
        if self.only:
            return
        for r in self.document["refiners"]:
            signs = r["sign_test"]
            if signs["p_either"] is not None:
                known = counted(r["judged"], "lot")
                say_text(
                    f"Refiner {r['party']}, last twelve periods: of {known} known by assay or calculation "
                    f"{signs['below']} settled below our figure, {signs['above']} above, {signs['equal']} equal; so "
                    f"uneven by chance: p = {signs['p_either']:.2g}, {r['verdict']}."
                )

    def shipped(self) -> None:
        """Print what was given away, under-delivered and retained, none netted against another."""
        if self.only:
            return
        d = self.document
        say()
        sums = ("give_away", "under_delivered", "retained")
        given, under, kept = (f"{self.mass(d[key])} {self.unit}" for key in sums)
        say_text(f"Shipped: given away {given} beyond what was billed, under-delivered {under}; never netted. "
                 f"Retained by refiners {kept}.")  # fmt: skip

    def foot(self) -> None:
        """Print what the figures rest on, and the caution."""
        say()
        if "assumption" in self.document:
            say_text(self.document["assumption"] + ".")
        say_text(
            "Arithmetic on records, no finding about any person. Before anyone is asked, inform counsel and insurer: "
            "notice periods may be running."
        )


def ng_from_float(grams: float) -> int:
    """Return a statistic in grams as nanograms, for printing."""
    return round(grams * 1_000_000_000)


def z_text(z: float | None) -> str:
    """Return z with one digit; a dash where nothing is judged or σ is 0."""
    return "–" if z is None else f"{round(z, 1) + 0.0:,.1f}"


def money_text(amount: str | None) -> str:
    """Return an amount of money, thousands apart."""
    if amount is None:
        return ""
    whole, point, cents = amount.lstrip("-").partition(".")
    return f"{'-' if amount.startswith('-') else ''}{int(whole):,}{point}{cents}"
