"""Closing a period: its conditions, what it posts, and what it means for every later ticket.

Outside the project: the row `close` of the posting table and section 5 of the handbook; the sums beside the checks are
worked by hand.
"""

from __future__ import annotations

import pytest

from ledger.balance.months.closing import Answers, prepare
from ledger.book.closes import close_of, closes
from ledger.book.opening import record_change
from ledger.quantities.mass import grams_text
from ledger.refusals import NotClosable, PeriodClosed, SetupRefused
from tests.balance.closing_plant import (
    AREAS,
    METALS,
    NOTED,
    STAMP,
    area,
    begun,
    book,
    closed,
    in_november,
    melted,
    statement,
)
from tests.book.plants import Book, again, bought, g, lot, number, reversal, ticket


def unmet(made: Book, answers: Answers, period: str = "2026-10") -> list[str]:
    return [str(fault) for fault in prepare(made.connection, period, answers).unmet]


def counted(n: int, area_: str, *lots: dict[str, object], **fields: object) -> dict[str, object]:
    return ticket(n, "count", area=area_, lots=list(lots), **({"nil": True} if not lots else {}), **fields)


# ---- what it posts ----------------------------------------------------------------------------------------------


def test_normal_loss_goes_to_loss_and_dust() -> None:
    """By hand: in 1000 g of 500 ‰, E = 0.10 % of 500 g = 0.5 g gold, half of it dust; difference −0.5 g."""
    made = begun(melted(2))
    before = made.balances()["difference MELT"]
    closed(made, evidence={"MELT": "invented: slag assayed"})
    after = made.balances()
    assert after["loss MELT normal loss"][1] == g("0.25")
    assert after["dust MELT"][1] == g("0.25")
    assert after["difference MELT"][1] == before[1] - g("0.5")
    posted = made._sums("p.ticket = (SELECT seq FROM close)")
    assert [sum(amounts[i] for amounts in posted.values()) for i in range(3)] == [0, 0, 0]


def test_without_evidence_the_loss_says_so() -> None:
    made = begun(melted(2))
    closed(made)
    assert "loss MELT normal loss without evidence" in made.balances()
    reasons = area(made, "2026-10")["reasons"]
    assert "normal loss without evidence" in reasons
    assert "answered at the close: invented: looked into" in reasons


def swept(n: int, content: str, **fields: object) -> dict[str, object]:
    line = lot(f"SW-{n}", "20.00", class_="SLAG", metallic="2.00 g", content={"gold": content, "silver": "0.0 g"},
               form="sweeps", basis="estimated")  # fmt: skip
    return ticket(n, "sweep", area="MELT", lots=[line], **fields)


def test_what_a_clean_out_did_not_bring_goes_to_the_difference() -> None:
    """By hand: 0.25 g accrued and 0.1 g swept leave 0.15 g; what accrues after the clean-out, 0.25 g, stays."""
    made = begun(melted(2), swept(3, "0.1 g", cleaned_out=True), melted(4))
    before = made.balances()["difference MELT"][1]
    told = area(made, "2026-10")["dust"]
    assert (told["shortfall"], told["closing"]) == ("0.150000000", "0.250000000")
    closed(made)
    assert made.balances()["dust MELT"][1] == g("0.25")
    assert made.balances()["difference MELT"][1] == before - g("1") + g("0.15")


# ---- both ways to the same figure -------------------------------------------------------------------------------


def identity(made: Book) -> None:
    """Handbook 5: after a close, a difference account's balance is ΣU + ΣP + Σ shortfall − written off (+ take-on)."""
    sealed = [close.period for close in closes(made.connection)]
    for i, metal in enumerate(METALS):
        of = [{a["area"]: a for a in statement(made, period, metal)["areas"]} for period in sealed]
        for code in AREAS:
            ng = sum(
                g(a[code][name]) for a in of for name in ("unexplained", "prior_period", "take_on")
            ) + sum(g(a[code]["dust"]["shortfall"]) for a in of)
            (off,) = made.connection.execute(
                "SELECT coalesce(sum(ng), 0) FROM posting WHERE class = 'difference' AND origin = 'write-off' "
                "AND area = ? AND metal = ? AND period IN (SELECT period FROM close)", (code, metal)
            ).fetchone()  # fmt: skip
            (stands,) = made.connection.execute(
                "SELECT coalesce(sum(ng), 0) FROM posting WHERE class = 'difference' AND area = ? AND metal = ? "
                "AND period IN (SELECT period FROM close)", (code, metal)
            ).fetchone()  # fmt: skip
            assert stands == ng + off, (metal, code, i)


def test_the_difference_account_is_what_the_statements_say() -> None:
    write_off = ticket(5, "writeoff", area="MELT", metal="gold", mass="0.2 g", cause="spill", evidence="seen",
                       reason="invented")  # fmt: skip
    made = begun(melted(2, "985.00"), swept(3, "0.1 g", cleaned_out=True), melted(4), write_off)
    closed(made)
    identity(made)
    made.enter(in_november(melted(6, "990.00")), in_november(reversal(7, 2), 3))
    made.enter(again(melted(2), 8))
    closed(made, "2026-11")
    identity(made)


def test_dust_before_a_close_and_after_it_is_the_same() -> None:
    made = begun(melted(2), swept(3, "0.1 g", cleaned_out=True), melted(4))
    before = {metal: area(made, "2026-10", metal)["dust"]["closing"] for metal in METALS}
    closed(made)
    made.enter(in_november(melted(5)))
    for i, metal in enumerate(METALS):
        now = area(made, "2026-11", metal)["dust"]
        assert now["opening"] == before[metal] == grams_text(made.balances().get("dust MELT", (0, 0, 0))[i])


# ---- a closed period is as it was -------------------------------------------------------------------------------


def test_later_tickets_do_not_change_a_closed_statement() -> None:
    made = begun(melted(2, "989.00"))
    open_ = {metal: statement(made, "2026-10", metal) for metal in METALS}
    closed(made)
    sealed = {metal: statement(made, "2026-10", metal) for metal in METALS}
    for metal in METALS:
        areas = [{**a, "reasons": [], "note": None} for a in sealed[metal]["areas"]]
        assert areas == [{**a, "reasons": [], "note": None} for a in open_[metal]["areas"]]
        assert (sealed[metal]["closed"], open_[metal]["closed"]) == (True, False)
    made.enter(in_november(reversal(3, 2)), again(melted(2, "998.00"), 4), in_november(melted(5), 4))
    assert {metal: statement(made, "2026-10", metal) for metal in METALS} == sealed
    closed(made, "2026-11")
    assert {metal: statement(made, "2026-10", metal) for metal in METALS} == sealed


def test_a_late_reversal_and_correction_count_as_prior_period_in_the_open_one() -> None:
    """By hand: keyed 989 for 998 of a melt of half gold with 0.3 % fume: 9 g out of 997 g were missing."""
    made = begun(melted(2, "989.00"))
    closed(made)
    wrong = g(area(made, "2026-10")["gross_loss"])
    made.enter(in_november(reversal(3, 2)), again(melted(2, "998.00"), 4))
    told = area(made, "2026-11")
    right = made.posted(4)["difference MELT"][1]
    assert g(told["prior_period"]) == right - wrong
    assert g(told["gross_loss"]) == right - wrong
    assert (told["allowed"], told["unexplained"]) == ("0.000000000", "0.000000000")
    assert told["sigma"] == 0, "nothing was weighed in November: October's readings are no part of its U"
    rows = made.connection.execute(
        "SELECT DISTINCT p.period, p.prior FROM posting AS p JOIN ticket AS t ON t.seq = p.ticket "
        "WHERE t.number IN (?, ?)", (number(3), number(4))
    )  # fmt: skip
    assert rows.fetchall() == [("2026-11", 1)]


def test_what_a_late_correction_changes_of_normal_loss_is_allowed_and_no_prior_period() -> None:
    """By hand: 600 g was put in where 1000 g was keyed: E = 0.3 g instead of 0.5 g, and half of −0.2 g is dust."""
    made = begun(melted(2))
    closed(made)
    loss = g(area(made, "2026-10")["gross_loss"])
    made.enter(in_november(reversal(3, 2)), again(melted(2, "598.00", "600.00"), 4))
    told = area(made, "2026-11")
    right = made.posted(4)["difference MELT"][1]
    assert told["allowed"] == "-0.200000000"
    assert g(told["prior_period"]) == (right - g("0.3")) - (loss - g("0.5"))
    assert told["unexplained"] == "0.000000000"
    assert told["dust"]["accrued"] == "-0.100000000"


def test_a_late_change_counts_once_however_many_periods_are_closed_after_it() -> None:
    made = begun(melted(2), in_november(melted(3)))
    closed(made)
    made.enter(in_november(reversal(4, 2), 3))
    first = area(made, "2026-11")
    assert first["allowed"] == "0.000000000", "E of November's melt, less that of October's reversed one"
    closed(made, "2026-11")
    made.enter(reversal(5, 3) | {"at": "2026-12-01T09:00"})
    later = area(made, "2026-12")
    assert later["allowed"] == "-0.500000000"
    closed(made, "2026-12")
    identity(made)
    losses = [a for account, a in made.balances().items() if account.startswith(("loss", "dust"))]
    assert sum(amounts[1] for amounts in losses) == 0, "both melts were undone, and their normal loss with them"


def job(n: int, *, in_: str = "", out: str = "", **fields: object) -> dict[str, object]:
    """Return a ticket of job J: rolling in the melting shop, which this plant does by jobs."""
    lots = {"in_": [lot("A", in_)] if in_ else None, "out": [lot(f"C-{n}", out)] if out else None}
    return ticket(n, "work", operation="melt", area="MELT", job="J", **{k: v for k, v in lots.items() if v}, **fields)


def test_a_job_across_a_close_has_its_whole_normal_loss_once() -> None:
    made = begun(job(2, in_="1000.00"), job(3, out="400.00"))
    closed(made)
    made.enter(in_november(job(4, out="590.00", done=True)), in_november(reversal(5, 3), 3))
    made.enter(again(job(3, out="300.00"), 6))
    allowed = g(area(made, "2026-10")["allowed"]) + g(area(made, "2026-11")["allowed"])
    assert allowed == g("0.5")
    closed(made, "2026-11")
    identity(made)


# ---- nothing enters ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "document",
    [
        bought(3, "VAULT", lot("Z", "1.00", gold="500")),
        ticket(3, "void", numbers=["T-0009"], reason="spoiled"),
        reversal(3, 2),
        melted(3),
    ],
    ids=lambda document: document["kind"],
)
def test_a_ticket_dated_in_a_closed_period_is_refused(document: dict[str, object]) -> None:
    made = begun(melted(2))
    closed(made)
    refused = made.refuses(document, "lies in a closed period: nothing enters before 2026-11-01T00:00")
    assert isinstance(refused, PeriodClosed)


def test_a_ticket_of_the_open_period_is_not_refused() -> None:
    made = begun(melted(2))
    closed(made)
    made.enter(melted(3) | {"at": "2026-11-01T00:00"})


def test_a_change_of_the_setup_does_not_reach_into_a_closed_period() -> None:
    made = begun(melted(2))
    closed(made)
    lower = [{"code": "melt", "fume": "0%"}]
    change = {"from": "2026-10-31T23:59", "by": "RATES", "reason": "late", "operation": lower}
    with pytest.raises(SetupRefused, match="reaches into 2026-10, which is closed"):
        record_change(made.connection, change, STAMP)
    record_change(made.connection, change | {"from": "2026-11-01"}, STAMP)


def test_listed_periods_do_not_move_a_closed_one() -> None:
    made = begun(melted(2))
    closed(made)
    change = {"from": "2026-11-01", "by": "RATES", "reason": "weeks",
              "period": [{"code": "P1", "starts": "2026-10-15", "ends": "2026-12-31"}]}  # fmt: skip
    with pytest.raises(SetupRefused, match="would change 2026-10, which is closed"):
        record_change(made.connection, change, STAMP)


def test_the_seal_is_in_the_chain_of_seals() -> None:
    made = begun(melted(2))
    first = closed(made)
    made.enter(in_november(melted(3)))
    second = closed(made, "2026-11")
    assert [close.seal for close in closes(made.connection)] == [first.seal, second.seal]
    assert close_of(made.connection, "2026-11") == second


# ---- conditions -------------------------------------------------------------------------------------------------

NOBODY = Answers("CA", "CB", notes=NOTED)


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (Answers("CA", "CA", notes=NOTED), "one person closes alone"),
        (Answers("CA", "W", notes=NOTED), "W may not close"),
        (Answers("CA", "NEMO", notes=NOTED), "there is no person NEMO"),
        (Answers("RATES", "CB", notes=NOTED), "who sets rates may not close"),
        (Answers("CA", "CB", notes=NOTED | {"ATTIC": "x"}), "there is no area ATTIC"),
        (Answers("CA", "CB", notes=NOTED, evidence={"ATTIC": "x"}), "there is no area ATTIC"),
        (Answers("CA", "CB", notes=NOTED | {"MELT": " "}), "nothing is said of MELT"),
        (Answers("CA", "CB", notes=NOTED, missing={"T-0009": "x"}), "no missing numbers begin with T-0009"),
    ],
)
def test_one_condition_that_is_not_met(answers: Answers, words: str) -> None:
    (told,) = unmet(begun(melted(2)), answers)
    assert words in told


def test_all_is_told_at_once_and_nothing_is_recorded() -> None:
    made = begun(melted(4))
    before = made.tables()
    with pytest.raises(NotClosable) as refused:
        closed(made, notes={})
    told = [str(fault) for fault in refused.value.faults]
    assert [text for text in told if "is not counted (gold)" in text and "--note" in text]
    assert [text for text in told if text.startswith("2 numbers are missing, T-0002 to T-0003")]
    assert made.tables() == before


def test_whoever_decided_a_rate_since_the_last_close_may_not_close() -> None:
    made = begun(melted(2))
    change = {"from": "2026-10-20", "by": "CA", "reason": "invented", "operation": [{"code": "melt", "fume": "0%"}],
              "person": [{"code": "RATES", "may": []}]}  # fmt: skip
    record_change(made.connection, change | {"by": "RATES", "person": [{"code": "CA", "may": ["close", "set"]},
                                                                       {"code": "RATES", "may": []}]}, STAMP)
    record_change(made.connection, change, STAMP)
    record_change(made.connection, change | {"person": [{"code": "CA", "may": ["close"]}]}, STAMP)
    assert [text for text in unmet(made, NOBODY) if "CA sets rates" in text]


def test_a_missing_number_is_answered_for_once() -> None:
    made = begun(melted(4))
    assert unmet(made, NOBODY) == [
        "2 numbers are missing, T-0002 to T-0003 → enter or void what is missing, or answer for it: --missing T-0002=…"
    ]
    closed(made, missing={"T-0002": "invented: the pad is lost"})
    made.enter(in_november(melted(6)))
    told = unmet(made, NOBODY, "2026-11")
    assert [text for text in told if "T-0005" in text]
    assert not [text for text in told if "T-0002" in text]


def test_a_counted_area_within_its_limits_needs_no_answer() -> None:
    made = begun(counted(2, "MELT", lot("A", "5000.00")), counted(3, "ROLL"))
    told = unmet(made, Answers("CA", "CB", notes=dict.fromkeys(("VAULT", "FINISH", "PLATER"), "x")))
    assert told == []


def test_a_short_area_is_answered_for_by_a_note_or_a_write_off() -> None:
    others = {code: "x" for code in AREAS if code != "MELT"}
    made = begun(counted(2, "MELT", lot("A", "4990.00")))
    told = unmet(made, Answers("CA", "CB", notes=others))
    assert [text for text in told if text.startswith("MELT is short by 5.000 g of gold")]
    assert [text for text in told if text.startswith("MELT is short by 10.000 g of gross")]
    made.enter(_written_off(3, witness="CB"))
    told = unmet(made, Answers("CA", "CB", notes=others))
    assert not [text for text in told if "of gold" in text]
    assert [text for text in told if "of gross" in text], "gross was not written off"
    assert unmet(made, NOBODY) == []


def _written_off(n: int, **people: str) -> dict[str, object]:
    return ticket(n, "writeoff", area="MELT", metal="gold", mass="5.0 g", cause="spill", evidence="x", reason="y",
                  **people)  # fmt: skip


@pytest.mark.parametrize(
    ("people", "flag"),
    [({}, "one person alone"), ({"by": "KEEP", "witness": "W"}, "not entitled"), ({"witness": "KEEP"}, "not entitled")],
)
def test_a_write_off_not_by_two_who_may_answers_for_nothing(people: dict[str, str], flag: str) -> None:
    made = begun(counted(2, "MELT", lot("A", "4990.00")), _written_off(3, **people))
    assert flag in made.flags(3)
    assert [text for text in unmet(made, Answers("CA", "CB")) if text.startswith("MELT is short by 5.000 g of gold")]


def test_a_reversed_write_off_answers_for_nothing() -> None:
    made = begun(
        counted(2, "MELT", lot("A", "4990.00")),
        _written_off(3, witness="CB"),
        reversal(4, 3),
    )
    assert [text for text in unmet(made, Answers("CA", "CB")) if text.startswith("MELT is short by 5.000 g of gold")]


def test_work_without_a_rate_is_closed_on_a_note() -> None:
    text = 'loss = {gold = "0.10%"}\nrecoverable = "50%"'
    from tests.balance.closing_plant import PLANT_WITH_DUST

    made = Book(
        [bought(1, "MELT", lot("A", "5000.00", gold="500")), melted(2),
         counted(3, "MELT", lot("A", "4000.00"), lot("B-2", "998.00"))],
        PLANT_WITH_DUST.replace(text, ""),
    )  # fmt: skip
    others = {code: "x" for code in AREAS if code != "MELT"}
    assert [t for t in unmet(made, Answers("CA", "CB", notes=others)) if "has no loss rate (gold)" in t]
    assert unmet(made, NOBODY) == []


def test_periods_are_closed_one_after_another() -> None:
    made = begun(melted(2), in_november(melted(3)))
    assert unmet(made, NOBODY, "2026-11")[0].startswith("2026-10 is not closed")
    closed(made)
    with pytest.raises(NotClosable, match="2026-10 is closed already"):
        closed(made)
    assert unmet(made, NOBODY, "2026-12")[0].startswith("2026-11 is not closed")
    closed(made, "2026-11")
    closed(made, "2026-12")


def test_open_jobs_are_listed_by_age() -> None:
    made = begun(job(2, in_="1000.00"), job(30, in_="10.00") | {"job": "K"})
    content = prepare(made.connection, "2026-10", NOBODY).content
    assert [(each["job"], each["age_days"]) for each in content["open_jobs"]] == [("J", 30), ("K", 29)]


def test_an_empty_month_can_be_closed() -> None:
    made = book(bought(1, "MELT", lot("A", "5000.00", gold="500")))
    closed(made)
    closed(made, "2026-11")
    assert statement(made, "2026-11")["closed"]
