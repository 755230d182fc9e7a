"""What each picture is drawn from, taken out of what a pack's material holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from math import hypot, sqrt
from statistics import fmean
from typing import TYPE_CHECKING, Any, Final

from ledger.balance.daily.back_test import StreamTest
from ledger.balance.daily.checks import Chart
from ledger.balance.daily.inference import sign_test
from ledger.balance.daily.settlements import Refiner
from ledger.balance.flows.columns import received_and_issued
from ledger.balance.flows.evidence import Flow, clean_outs
from ledger.balance.flows.normal_loss import jobs_done
from ledger.balance.judging.single_tests import every_ticket
from ledger.balance.measurement.budget import budget
from ledger.balance.measurement.forms import combined
from ledger.balance.months.month import CUMULATIVE_PERIODS
from ledger.faces.pack.pictures.ages import Open
from ledger.faces.pack.pictures.area_months import Balance, Balances
from ledger.faces.pack.pictures.check_weights import Checked, Reading
from ledger.faces.pack.pictures.cumulative import Stand
from ledger.faces.pack.pictures.flow import Carried
from ledger.faces.pack.pictures.funnel import Level
from ledger.faces.pack.pictures.measure import Measure
from ledger.faces.pack.pictures.refiners import Lot, Settlements
from ledger.faces.pack.pictures.streams import Stream
from ledger.faces.pack.pictures.throughput import Worked
from ledger.faces.pack.pictures.variance import Source
from ledger.quantities.mass import grams_text, mass_text

if TYPE_CHECKING:
    from ledger.faces.pack.material import Material

_GRAM = 1_000_000_000
#: Factors whose codes the funnel shows; who did the work is never among them.
_FACTORS: Final = ("shift", "machine")


def measure_of(material: Material) -> Measure:
    """Return how figures are written."""
    plant = material.setup.plant
    return Measure(material.metal, material.unit, float(plant.warn), float(plant.act))


def periods_of(material: Material) -> list[str]:
    """Return the last twelve periods, oldest first."""
    return [month.period for month in material.months[-CUMULATIVE_PERIODS:]]


def stands(material: Material, area: str | None = None) -> list[Stand]:
    """Return the cumulative of an area, or of the plant, period by period."""
    found = material.cumulatives() if area is None else material.cumulatives(area)
    return [
        Stand(c.period, grams_text(c.ng), round(c.sigma_ng / _GRAM, 9), _cleaned_out(material, c.period, area))
        for c in found[-CUMULATIVE_PERIODS:]
    ]


def _cleaned_out(material: Material, period: str, area: str | None) -> list[str]:
    cleaned = clean_outs(material.connection, period)
    return [code for code in material.areas if code in cleaned and area in (None, code)]


def balances(material: Material) -> list[Balances]:
    """Return every area's balances of the last twelve periods; the last as the statement judges it."""
    months = material.months[-CUMULATIVE_PERIODS:-1]
    judged = {area["area"] for area in material.statement["areas"] if area["verdict"] != "not judged"}
    return [
        Balances(area["area"], [
            *(_balance(month, area["area"], judged=area["area"] in judged) for month in months),
            Balance(area["unexplained"], area["z"], area["verdict"] != "uncounted"),
        ]) for area in material.statement["areas"]
    ]  # fmt: skip


def _balance(month: Any, area: str, *, judged: bool) -> Balance:
    columns, counted = month.columns(area), month.counted(area) is not None
    variance = month.covariances(area, ())[-1]
    known = judged and counted and not columns.unrated and variance > 0
    z = round(columns.unexplained / sqrt(variance), 6) if known else None
    return Balance(grams_text(columns.unexplained), z, counted)


def sources(material: Material, area: str | None = None) -> list[Source]:
    """Return the variance budget of an area's unexplained, or of the plant's."""
    month = material.ledger.own
    row = month.row(area) if area else combined((month.row(code), 1.0) for code in material.areas)
    return [
        Source(item.words, item.sources, round(item.sigma / _GRAM, 9), round(item.share, 6), item.mend)
        for item in budget(month.tape, row)
    ]


def charts(material: Material) -> list[Checked]:
    """Return the checks of every scale and method."""
    return [_checked(chart) for chart in material.charts]


def _checked(chart: Chart) -> Checked:
    readings = [
        Reading(p.at, round(float(p.off) / sigma, 6), p.calibrated)
        for p in chart.points if (sigma := hypot(p.sd, chart.shared_sd))
    ]  # fmt: skip
    current = [r.off for r, p in zip(readings, chart.points, strict=False) if p.current]
    return Checked(chart.code, _standard(chart), readings, round(fmean(current), 6) if current else None)


def _standard(chart: Chart) -> str:
    if chart.is_scale:
        return mass_text(round(chart.certified), "g", 3).rstrip("0").rstrip(".") + " g"
    return f"{chart.metal} {float(1000 * chart.certified):g}‰"


def first_day(material: Material) -> str:
    """Return the first day of the last twelve periods."""
    return str(material.setups.calendar.days_of(periods_of(material)[0])[0])


def tested_streams(material: Material) -> list[Stream]:
    """Return the streams of which something was settled or assayed."""
    return [_stream(material, test) for test in material.back_test.streams if test.pairs]


def _stream(material: Material, test: StreamTest) -> Stream:
    ratio, stream = test.ratio, test.stream
    assert ratio is not None
    name = f"{stream.area} {stream.account}".strip()
    low, high = (None if x is None else round(x, 9) for x in (ratio.low, ratio.high))
    return Stream(
        f"{name}, {stream.lot_class}" if stream.lot_class else name,
        grams_text(sum(p.estimated for p in test.pairs)), grams_text(sum(p.brought for p in test.pairs)),
        [p.ratio for p in test.pairs], round(ratio.mean, 9), low, high, test.bias,
        grams_text(test.open_content(material.ledger.index)), material.day(test.open[0].since) if test.open else None,
    )  # fmt: skip


def settlements(material: Material) -> list[Settlements]:
    """Return each refiner's judged lots of the last twelve periods."""
    since = material.setups.calendar.bounds(periods_of(material)[0])[0]
    return [_settlements(material, refiner, since) for refiner in material.refiners]


def _settlements(material: Material, refiner: Refiner, since: int) -> Settlements:
    lots = [lot for lot in refiner.judged if lot.instant >= since]
    signs = sign_test([lot.difference for lot in lots])
    p_either = None if signs.p_either is None else float(signs.p_either)
    rows = [
        Lot(material.day(lot.instant), lot.lot, lot.ticket, lot.basis, grams_text(lot.recorded),
            grams_text(lot.agreed), grams_text(lot.difference))
        for lot in lots
    ]  # fmt: skip
    return Settlements(refiner.party, rows, signs.positive, signs.negative, p_either)


def levels(material: Material) -> list[Level]:
    """Return what was worked by shift and by machine in each operation in the period."""
    from ledger.causes.patterns.tickets import NOT_STATED, tickets_of

    sums: dict[tuple[str, str, str], list[float]] = {}
    act = float(material.setup.plant.act)
    for ticket in tickets_of(material.ledger, [material.period]):
        for level, share in ticket.levels.items():
            if level.factor in _FACTORS and level.code != NOT_STATED:
                own = sums.setdefault((ticket.stratum.operation, level.factor, level.code), [0, 0, 0.0, 0.0, 0.0])
                more = (1, 0, share * ticket.put_in, share * ticket.excess, (share * ticket.sigma) ** 2)
                apart = abs(ticket.z) > act
                own[:] = [a + b for a, b in zip(own, (0, 1, 0.0, 0.0, 0.0) if apart else more, strict=True)]
    return [
        Level(*key, int(n), int(aside), grams_text(round(put_in)), grams_text(round(excess)), sqrt(variance) / _GRAM)
        for key, (n, aside, put_in, excess, variance) in sorted(sums.items())
    ]


def worked(material: Material) -> list[Worked]:
    """Return the period's work tickets and jobs done that can be tested by themselves."""
    ledger, month = material.ledger, material.ledger.own
    bounds, index = (month.start, month.end), ledger.index
    with month.as_sealed():
        jobs = jobs_done(ledger.connection, ledger.setups, bounds, month.lines, ledger.metals, index)
        tests = every_ticket(ledger.setups, month.lines, month.allowances, index, ledger.measured, jobs)
        return [
            Worked(t.operation, grams_text(t.input), grams_text(t.difference), grams_text(t.allowed), t.sigma / _GRAM,
                   t.verdict in ("short", "over"))
            for *_, t in tests
        ]  # fmt: skip


# ------------------------------------------------------------------------------------------------------- the flow

#: What stands at the other end of metal that came over a border of the plant, or that no place gave.
_FROM: Final = {"receive": "received", "discard": "trued up", "settle": "trued up", "assay": "trued up",
                "arrive": "sent before"}  # fmt: skip
_TO: Final = {"ship": "shipped", "settle": "settled", "discard": "discarded", "move": "on the way"}
_OTHER: Final = "corrected"


def carried(material: Material) -> list[Carried]:
    """Return what each place gave another: summed over a place they are the statement's received and issued."""
    month = material.ledger.own
    with month.as_sealed():
        moves = _moves(material)
    gathered: dict[tuple[str, str], list[tuple[str, str, int, bool]]] = {}
    for flow in month.flows:
        key = ("move", moves[flow.ticket]) if flow.ticket in moves else ("ticket", str(flow.ticket))
        gathered.setdefault(key, []).extend(_ends(flow))
    sums: dict[tuple[str, str], int] = {}
    for ends in gathered.values():
        for giver, taker, ng in _paired(ends):
            sums[giver, taker] = sums.get((giver, taker), 0) + ng
    order = {name: i for i, name in enumerate((*_FROM.values(), *material.areas, *_TO.values(), _OTHER))}
    return [
        Carried(giver, taker, grams_text(ng))
        for (giver, taker), ng in sorted(sums.items(), key=lambda item: [order[name] for name in item[0]]) if ng
    ]  # fmt: skip


def _moves(material: Material) -> dict[int, str]:
    """Return the move that each ticket of the period began or ended, where metal was on its way between the two."""
    rows = material.connection.execute(
        "SELECT DISTINCT ticket, move FROM posting WHERE period = ? AND class = 'transit'", (material.period,)
    )
    return {ticket: str(move) for ticket, move in rows}


def _ends(flow: Flow) -> Iterator[tuple[str, str, int, bool]]:
    """Yield the area, the kind of ticket, the content and whether it was taken or given."""
    received, issued = received_and_issued(flow)
    if received:
        yield flow.area, flow.kind, received, True
    if issued:
        yield flow.area, flow.kind, issued, False


def _paired(ends: Sequence[tuple[str, str, int, bool]]) -> Iterator[tuple[str, str, int]]:
    """Yield giver, taker and content: what was given to what was taken in turn, the rest to or from outside."""
    given: list[list[Any]] = [[area, kind, ng] for area, kind, ng, taken in ends if not taken]
    for area, kind, ng, taken in ends:
        if not taken:
            continue
        left = ng
        for giver in given:
            if left * giver[2] > 0:
                part: int = min(left, giver[2], key=abs)
                yield giver[0], area, part
                giver[2] -= part
                left -= part
        if left:
            yield _FROM.get(kind, _OTHER), area, left
    for area, kind, left in given:
        if left:
            yield area, _TO.get(kind, _OTHER), left


# ------------------------------------------------------------------------------------------------ what is open


def open_items(material: Material) -> list[Open]:
    """Return what stood open at the period's end, by kind."""
    found, mass = material.exceptions, "gross" if material.metal == "gross" else "fine"
    items = [Open("estimates", row["lot"], row["days"], row["estimated"]) for row in found["estimated_lots"]]
    items += [Open("on the way", row["lot"], row["days"], row[mass]) for row in found["in_transit"]]
    items += [Open("jobs", row["job"], row["days"], row[mass]) for row in found["open_jobs"]]
    items += [Open("lots not found", row["lot"], row["days"], row[mass]) for row in found["not_found"]]
    last = date.fromisoformat(material.last_day)
    for row in material.differences["open"]:
        since = material.setups.calendar.days_of(row["since"])[0] if row["since"] else last
        items.append(Open("differences", row["area"], (last - since).days, row["open"]))
    return [item for item in items if item.days is not None]
