"""lemel ticket: few entries, nothing shown before it is recorded, the wrong entry asked again, second readings kept."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ledger.book.tickets import KINDS
from ledger.faces.bench.entries import LineEntry, entry, line_entry
from ledger.faces.bench.forms import FORMS
from ledger.plant.numbering import check_holds, with_check
from tests.faces.conftest import MONTH, Done, Lemel, call

Bench = Callable[..., Done]
MOST_ENTRIES = 5  # what a usual ticket may take: the interface's own figure


@pytest.fixture
def book(month: Path, tmp_path: Path) -> Path:
    """The sample month's book, to write in: RF's last ticket was in ROLL, on S-FLOOR."""
    return Path(shutil.copy(month, tmp_path / "bench.lemel"))


@pytest.fixture
def bench(book: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Sit at the bench: a kind, options, and what is answered, a line each; then the input ends."""

    def sit(*arguments: object, answers: tuple[str, ...] = (), at: str = "2026-11-02T08:00") -> Done:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{answer}\n" for answer in answers)))
        return call("ticket", *arguments, "--book", book, "--at", at)

    return sit


def documents(book: Path) -> list[dict[str, Any]]:
    """Return every ticket of the book, in order."""
    records = call("copy-out", "--book", book).out.splitlines()
    return [each["body"] for each in map(json.loads, records) if each.get("kind") == "ticket"]


def records(book: Path) -> int:
    return int(call("stock", "--book", book, "--json").json["record"])


# ------------------------------------------------------------------------------------------------- at most five entries

#: Each usual ticket as it is answered: what is not blank is an entry, a blank is an Enter that accepts or ends.
USUAL = {
    "move": ("RF", "", "FINISH", "AN-1012", "100.00 g", "yes", ""),
    "work": ("RF", "", "ROLLING", "AN-1012 4452.70 g", "no", "", "new 4451.90 g form=coil", ""),
    "receive": ("TH", "", "MARLOCK", "bought", "new 500.125 g", "999.9‰ 0 method=FIRE", ""),
    "ship": ("TH", "", "PENROSE", "sold", "ET-1011 165.88 g all", "1/20 12K", ""),
}


@pytest.mark.parametrize("kind", USUAL)
def test_a_usual_ticket_takes_five_entries_at_most(bench: Bench, book: Path, kind: str) -> None:
    before = records(book)
    done = bench(kind, answers=USUAL[kind])
    assert (done.status, records(book)) == (0, before + 1), done.err
    assert len([answer for answer in USUAL[kind] if answer]) <= MOST_ENTRIES
    assert "irregular" not in done.out


def test_a_count_line_takes_five_entries_at_most(bench: Bench, book: Path) -> None:
    bench("count", answers=("JD", "area=ROLL", "", "S-FLOOR", "AN-1012 4452.70 g", "", "no"))
    answers = ("JD", "", "CL-0905", "3120.33 g", "", "no")
    done = bench("count", answers=answers, at="2026-11-02T09:00")
    assert done.status == 0, done.err
    assert len([answer for answer in answers if answer]) <= MOST_ENTRIES
    last = documents(book)[-1]
    assert (last["area"], last["ended"], last["lots"]) == (
        "ROLL", False, [{"lot": "CL-0905", "mass": "3120.33 g", "scale": "S-FLOOR"}]
    )  # fmt: skip


def test_what_is_recorded_is_the_same_ticket_as_by_a_file(bench: Bench, book: Path) -> None:
    bench("move", answers=USUAL["move"])
    assert documents(book)[-1] == {
        "ticket": "HC-0042", "kind": "move", "at": "2026-11-02T08:00", "by": "RF", "from": "ROLL", "to": "FINISH",
        "lots": [{"lot": "AN-1012", "mass": "100.00 g", "scale": "S-FLOOR"}],
    }  # fmt: skip
    assert call("verify", "--book", book).status == 0


# ----------------------------------------------------------------------------------------------------------- proposals


def test_only_shift_scale_and_area_come_from_the_last_ticket_of_the_person(bench: Bench, book: Path) -> None:
    answers = ("RF", "shift=night", "machine=mill 1", "", "FINISH", "AN-1012 100.00 g rest", "")
    assert bench("move", answers=answers).status == 0
    done = bench("move", answers=("RF", "", "BOND", "AN-1012 50.00 g rest", ""), at="2026-11-02T09:00")
    assert "as on your last ticket: from ROLL, scale S-FLOOR, shift night\n" in done.err
    assert documents(book)[-1].keys() == {"ticket", "kind", "at", "by", "shift", "from", "to", "lots"}


def test_a_check_weight_or_a_reversal_in_between_changes_nothing(bench: Bench) -> None:
    """RF reverses and corrects, then checks a scale: none of these is in an area."""
    bench("move", answers=(*USUAL["move"], "99.90 g", "draught", ""))
    bench("checkweigh", answers=("RF", "scale=S-LAB", "", "10.0 g", "10.0001 g"), at="2026-11-02T08:30")
    done = bench("move", answers=("RF", ""), at="2026-11-02T09:00")
    assert "as on your last ticket: from ROLL, scale S-FLOOR\n" in done.err


def test_another_person_is_not_proposed_what_is_not_hers(bench: Bench) -> None:
    done = bench("move", answers=("OV", "", ""))
    assert "as on your last ticket" not in done.err


def test_what_is_proposed_is_changed_by_name_or_left_out(bench: Bench, book: Path) -> None:
    answers = ("RF", "scale=S-LAB", "from=VAULT", "ticket=HC-0077", "", "MELT", "DC-1004 10.0000 g rest", "")
    assert bench("move", answers=answers).status == 0
    last = documents(book)[-1]
    assert (last["ticket"], last["from"], last["lots"][0]["scale"]) == ("HC-0077", "VAULT", "S-LAB")


def test_a_number_that_was_spoiled_is_not_proposed(bench: Bench, book: Path) -> None:
    assert bench("void", "--by", "MQ", "--set", "numbers=HC-0043", "--reason", "torn").status == 0
    assert bench("move", answers=USUAL["move"], at="2026-11-02T09:00").status == 0
    assert [each["ticket"] for each in documents(book)[-2:]] == ["HC-0042", "HC-0044"]


def test_a_number_left_out_earlier_is_not_proposed_later(bench: Bench, book: Path) -> None:
    """HC-0050 to HC-0059 are still on paper: the next is after the one used last, of whatever kind."""
    assert bench("move", answers=("RF", "ticket=HC-0060", *USUAL["move"][1:])).status == 0
    assert bench("ship", answers=USUAL["ship"], at="2026-11-02T09:00").status == 0
    assert documents(book)[-1]["ticket"] == "HC-0061"


def test_the_first_ticket_of_a_book_is_asked_for_its_number(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = ["TH", "HC-0001", "", "S-FLOOR", "VAULT", "CU-1 10.00 g", "COPPER", ""]
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(answers) + "\n"))
    done = call("ticket", "open", "--book", empty, "--at", "2026-10-01T06:00")
    assert (done.status, documents(empty)[0]["ticket"]) == (0, "HC-0001"), done.err


def test_without_at_it_is_now_in_plant_time(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    done = call("ticket", "checkweigh", "--by", "MQ", "--scale", "S-LAB", "--set", "standard=10.0 g",
                "--set", "reading=10.0001 g", "--book", book)  # fmt: skip
    assert done.status == 0, done.err
    assert re.fullmatch(r"20\d\d-\d\d-\d\dT\d\d:\d\d(:\d\d)?", documents(book)[-1]["at"])


# ------------------------------------------------------------------------------------------------------------- new lots


def test_new_goes_on_with_the_one_run_of_numbers_of_the_plant(bench: Bench, book: Path) -> None:
    """In the sample month every counter is used once, whatever the prefix: the highest is 1015."""
    done = bench("work", answers=USUAL["work"])
    assert "new lot CC-1016: write it on the label" in done.err
    assert documents(book)[-1]["out"][0]["lot"] == "CC-1016"


def test_new_with_a_prefix_and_twice_on_one_ticket(bench: Bench, book: Path) -> None:
    answers = ("TH", "", "MARLOCK", "bought", "new GB- 10.000 g", "999.9‰ 0", "new GB- 11.000 g", "999.9‰ 0",
               "new ZZ- 1.000 g", "BRASS", "")  # fmt: skip
    assert bench("receive", answers=answers).status == 0
    assert [line["lot"] for line in documents(book)[-1]["lots"]] == ["GB-1016", "GB-1017", "ZZ-1018"]


# ----------------------------------------------------------------------------------------------------------- blindness

FIGURES = re.compile(r"4,?452\.|112\.|4,?352\.|601\.|1,?390\.")


def test_nothing_that_is_recorded_is_shown_before(bench: Bench) -> None:
    done = bench("move", answers=("RF", "", "FINISH", "AN-1012 5000.00 g", "yes", "", "100.00 g rest", ""))
    before = done.err
    assert "has less recorded in ROLL; 5,000.0000 g cannot leave it" in before
    assert not FIGURES.search(before)
    assert done.out.startswith("recorded HC-0042: move")


def test_where_a_lot_is_is_told_without_its_mass(bench: Bench, book: Path) -> None:
    done = bench("move", answers=("RF", "", "FINISH", "BR-1002 10.00 g", "yes", ""))
    assert "lot BR-1002 is not in ROLL: it stands in VAULT →" in done.err
    assert not FIGURES.search(done.err)
    assert (done.status, records(book)) == (3, 41)


def test_content_difference_and_flags_are_shown_after(bench: Bench) -> None:
    """4452.71 g are recorded of AN-1012: all of it, read as 4440.00 g, leaves 12.71 g missing in ROLL."""
    done = bench("move", answers=("RF", "", "FINISH", "AN-1012 4440.00 g all", "", ""))
    said = " ".join(done.out.split())
    assert "difference in ROLL (+ is missing): gross 12.7100, gold 0.3222, silver 0.1446 g" in said
    assert "irregular: re-weighing difference: lot AN-1012 weighs 12.7100 g less than recorded" in said
    assert done.status == 0


def test_what_is_given_away_is_shown_when_it_has_shipped(bench: Bench) -> None:
    """165.88 g of 25.35 ‰ hold 4.205058 g of gold; 1/20 12K bills 4.147 g: 0.058 g are given away (computed here)."""
    done = bench("ship", "--json", answers=USUAL["ship"])
    given = done.json["recorded"][0]["give_away"]
    assert 0.05 < float(given["fine"]["gold"]) < 0.06
    assert (given["gross"], given["fine"]["silver"]) == ("0.000000000", "0.000000000")


# ------------------------------------------------------------------------------------------- refusals, entries are kept


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (("XX", *USUAL["move"]), "no person 'XX' in the set-up → it has MQ, HB, OV, TH"),
        (("RF", "", "FINNISH", *USUAL["move"][2:]), "no area 'FINNISH' in the set-up"),
        (("RF", "", "FINISH", "AN-1021", "AN-1012", *USUAL["move"][4:]), "no lot AN-1021 is known"),
        (("RF", "", "FINISH", "AN-1012", "100.00", *USUAL["move"][4:]), "'100.00' is not a mass"),
        (("RF", "", "FINISH", "AN-1012", "100.00 oz", *USUAL["move"][4:]), "write ozt (troy) or ozav"),
        (("RF", "", "FINISH", "AN-1012", "100.00 g", "maybe", "yes", ""), "neither yes nor no"),
        (("RF", "", "FINISH", "", *USUAL["move"][3:]), "at least one lot is needed"),
        (("RF", "hello", "", *USUAL["move"][2:]), "write name=value"),
        (("RF", "scale=S-9", "", *USUAL["move"][2:]), "no scale 'S-9' in the set-up"),
        (("RF", "", "ROLL", *USUAL["move"][3:6], "", "FINISH", ""), "from and to are the same"),
        (("RF", "witness=RF", "", *USUAL["move"][2:], "TH", ""), "the witness is the one who weighed"),
        (("RF", "", "FINISH", "DC-1004 100.00 g yes=1 rest", "", "AN-1012", ""), "is not in ROLL"),
    ],
)
def test_only_the_wrong_entry_is_asked_again(bench: Bench, book: Path, answers: tuple[str, ...], words: str) -> None:
    if "yes=1" in answers[3]:
        answers = (*answers[:3], answers[3].replace(" yes=1", ""), *answers[4:])
    done = bench("move", answers=answers)
    assert (done.status, words in done.err) == (0, True), done.err
    last = documents(book)[-1]
    assert last["lots"] == [{"lot": "AN-1012", "mass": "100.00 g", "scale": "S-FLOOR"}]
    assert (last["by"], last["to"]) == ("RF", "FINISH")


def test_a_number_taken_meanwhile_is_proposed_anew(bench: Bench, book: Path) -> None:
    done = bench("move", answers=("RF", "ticket=HC-0040", *USUAL["move"][1:], "", ""))
    assert "number HC-0040 is used, by a different ticket" in done.err
    assert (done.status, documents(book)[-1]["ticket"]) == (0, "HC-0042")


# ------------------------------------------------------------------------------------------------------ second readings


def test_a_second_reading_is_added_with_its_reason_and_both_stay(bench: Bench, book: Path) -> None:
    done = bench("move", answers=(*USUAL["move"], "99.90 g", "draught on the pan", ""))
    assert done.status == 0, done.err
    first, reversal, corrected = documents(book)[-3:]
    assert (first["ticket"], first["lots"][0]["mass"]) == ("HC-0042", "100.00 g")
    assert (reversal["of"], reversal["reason"]) == (
        "HC-0042", "second reading of AN-1012, 99.90 g for 100.00 g: draught on the pan"
    )  # fmt: skip
    assert corrected == first | {"ticket": "HC-0044", "corrects": "HC-0042",
                                 "lots": [first["lots"][0] | {"mass": "99.90 g"}]}  # fmt: skip
    assert "recorded HC-0044: move, 2026-11-02T08:00, corrects HC-0042" in done.out
    assert call("verify", "--book", book).status == 0


def test_of_several_readings_it_is_asked_which(bench: Bench, book: Path) -> None:
    done = bench("work", answers=(*USUAL["work"], "4452.00 g", "2", "read too early", "AN-1012 4452.71 g", "slip", ""))
    assert done.status == 0, done.err
    last = documents(book)[-1]
    assert (last["in"][0]["mass"], last["out"][0]["mass"]) == ("4452.71 g", "4452.00 g")
    assert [each["kind"] for each in documents(book)[-5:]] == ["work", "reverse", "work", "reverse", "work"]
    assert call("verify", "--book", book).status == 0


def test_a_second_reading_of_an_earlier_ticket(bench: Bench, book: Path) -> None:
    bench("move", answers=USUAL["move"])
    done = bench("--again", "HC-0042", "--mass", "99.90 g", "--reason", "scale not at zero", at="2026-11-02T09:00")
    assert done.status == 0, done.err
    assert documents(book)[-1]["corrects"] == "HC-0042"
    assert (bench("--again", "HC-0042", "--mass", "1.0 g", "--reason", "x").status, records(book)) == (3, 44)
    assert bench("--again", "HC-9999").status == 2


def test_the_input_may_end_where_a_second_reading_is_offered(bench: Bench, book: Path) -> None:
    done = bench("move", answers=(*USUAL["move"], "99.90 g"))
    assert (done.status, records(book)) == (0, 42)
    assert done.err.endswith("HC-0042 stands as recorded\n")


# -------------------------------------------------------------------------------------------- nothing recorded, said so


@pytest.mark.parametrize("answered", range(len(USUAL["move"]) - 1))
def test_when_the_input_ends_early_nothing_is_recorded(bench: Bench, book: Path, answered: int) -> None:
    done = bench("move", answers=USUAL["move"][:answered])
    assert (done.status, done.out, records(book)) == (3, "", 41)
    assert done.err.endswith("1 fault; nothing was recorded\n")


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_interrupted_nothing_is_recorded_and_it_is_said(book: Path) -> None:
    running = subprocess.Popen(
        [sys.executable, "-c", "from ledger.faces.cli.main import run; run()", "ticket", "move", "--book", str(book)],
        cwd=MONTH.parents[1], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert running.stdin is not None
    assert running.stderr is not None
    running.stdin.write(b"RF\n\nFINISH\n")
    running.stdin.flush()
    said = b""
    while b"lot, and mass:" not in said:
        said += running.stderr.read(1)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert (running.returncode, err.decode()) == (130, "\nnothing was recorded\ninterrupted\n")
    assert records(book) == 41


# ------------------------------------------------------------------------------------------------------ options, --json


def test_with_everything_given_nothing_is_asked_and_nothing_is_taken_from_the_last_ticket(
    bench: Bench, book: Path
) -> None:
    done = bench("move", "--by", "RF", "--from", "ROLL", "--to", "FINISH", "--lot", "AN-1012", "--mass", "100.00 g",
                 "--rest", "--set", "note=by hand")  # fmt: skip
    assert (done.status, done.err) == (0, "")
    assert "scale" not in documents(book)[-1]["lots"][0]
    assert documents(book)[-1]["note"] == "by hand"


def test_lines_of_both_sides_may_be_given(bench: Bench, book: Path) -> None:
    done = bench("work", "--by", "RF", "--area", "ROLL", "--operation", "ROLLING", "--scale", "S-FLOOR",
                 "--in", "AN-1012 4452.70 g all", "--out", "new 4300.00 g form=coil",
                 "--out", "new ET- 152.40 g")  # fmt: skip
    assert done.status == 0, done.err
    assert [line["lot"] for line in documents(book)[-1]["out"]] == ["CC-1016", "ET-1017"]


def test_json_is_what_was_recorded(bench: Bench, book: Path) -> None:
    done = bench("move", "--json", answers=USUAL["move"])
    recorded = done.json["recorded"]
    assert done.status == 0
    assert (len(recorded), recorded[0]["ticket"]) == (1, documents(book)[-1])
    assert recorded[0]["lines"][0] == {
        "lot": "AN-1012", "line": "out", "area": "ROLL", "gross": "100.000000000",
        "fine": {"gold": "2.535000000", "silver": "1.137750000"},
    }  # fmt: skip
    assert (recorded[0]["differences"], recorded[0]["irregular"], done.json["record"]) == ([], [], 42)


@pytest.mark.parametrize(
    "arguments",
    [("frob",), ("move", "--set", "nonsense"), ("move", "--set", "colour=red"), ("move", "--in", "AN-1012 1.0 g"),
     ("move", "--unit", "oz")],
)  # fmt: skip
def test_wrong_options_exit_2(bench: Bench, book: Path, arguments: tuple[str, ...]) -> None:
    assert (bench(*arguments).status, records(book)) == (2, 41)


# ------------------------------------------------------------------------------------------------------- every kind


#: One ticket of each remaining kind, on the sample month's book, all by answers.
OTHERS = {
    "open": ("RF", "", "CL-2001 100.00 g", "CL20", "", ""),
    "arrive": ("RF", "", "HC-0042", "AN-1012 99.99 g", "", ""),
    "assay": ("MQ", "", "AN-1012", "BEAD", "25.36‰ 25.34‰ / 25.37‰", "11.38‰ 11.36‰ / 11.39‰"),
    "sweep": ("PW", "area=FINISH", "", "S-FLOOR", "new SW- 18.60 g metallic=0.62 g class=SWEEPS basis=estimated",
              "content.gold=0.30 g content.silver=0.12 g", "", "no", ""),
    "settle": ("MQ", "area=REFINER", "", "EDDLE", "SW-1015 0.62 g", "0.32 g", "0.10 g", "0.31 g", "0.09 g", ""),
    "transfer": ("HB", "", "EDDLE settled", "own", "gold", "0.10 g", "returned as grain"),
    "count": ("JD", "area=FINISH", "", "S-FLOOR", "", "yes", "yes"),
    "discard": ("TH", "area=VAULT", "", "S-FLOOR", "SQ-1009 22.39 g all", "0.44 g", "8.5 g", ""),
    "writeoff": ("MQ", "area=ROLL", "", "gross", "0.01 g", "spill", "log", "swept up"),
    "checkweigh": ("MQ", "scale=S-LAB", "", "10.0 g", "10.0001 g"),
    "void": ("MQ", "", "HC-0050|HC-0051", "torn"),
    "reverse": ("MQ", "", "HC-0041", "wrong"),
}  # fmt: skip


@pytest.mark.parametrize("kind", OTHERS)
def test_every_other_kind_can_be_asked_for(bench: Bench, book: Path, kind: str) -> None:
    if kind == "arrive":
        assert bench("move", "--set", "in_transit=true", answers=USUAL["move"]).status == 0
    before = records(book)
    done = bench(kind, answers=OTHERS[kind], at="2026-11-02T10:00")
    assert (done.status, records(book)) == (0, before + 1), done.err + done.out
    assert documents(book)[-1]["kind"] == kind


def test_no_kind_was_forgotten() -> None:
    assert {*OTHERS, *USUAL} == KINDS.keys() == FORMS.keys()


def test_the_kind_is_asked_for_when_it_was_left_out(bench: Bench, book: Path) -> None:
    done = bench(answers=("moove", "move", *USUAL["move"]))
    assert (done.status, "known are open, receive" in done.err) == (0, True)


# ---------------------------------------------------------------------------------------------------- check characters


@pytest.fixture
def checked(book: Path, tmp_path: Path) -> Path:
    """The book of a plant that from November on prints check characters."""
    change = tmp_path / "change.toml"
    change.write_text('from = 2026-11-01T00:00:00\nby = "OV"\nreason = "labels"\n[plant]\ncheck_character = true\n')
    assert call("setup", "change", change, "--book", book).status == 0
    return book


def test_numbers_and_new_lots_carry_their_check(bench: Bench, checked: Path) -> None:
    assert bench("work", answers=USUAL["work"]).status == 0
    assert bench("move", answers=("RF", "", "FINISH", with_check("CC-1016") + " 10.00 g rest", ""),
                 at="2026-11-02T09:00").status == 0  # fmt: skip
    work, move = documents(checked)[-2:]
    assert (work["ticket"], move["ticket"]) == (with_check("HC-0042"), with_check("HC-0043"))
    assert work["out"][0]["lot"] == with_check("CC-1016")


def test_a_mis_keyed_lot_is_caught_at_once(bench: Bench, checked: Path) -> None:
    done = bench("move", answers=("RF", "", "FINISH", "CC-1061-" + with_check("CC-1016")[-1], *USUAL["move"][3:]))
    assert "its check character is wrong: it is mis-keyed → read the label again" in done.err
    assert (done.status, documents(checked)[-1]["lots"][0]["lot"]) == (0, "AN-1012")


def test_a_file_with_a_mis_keyed_lot_is_refused(checked: Path, tmp_path: Path, lemel: Lemel) -> None:
    def entered(**line: str) -> Done:
        document = {
            "ticket": "X-1", "kind": "receive", "at": "2026-11-02T08:00", "by": "TH", "party": "MARLOCK",
            "terms": "bought", "to": "VAULT", "lots": [{"mass": "1.0 g", "alloy": "BRASS", **line}],
        }  # fmt: skip
        (tmp_path / "t.jsonl").write_text(json.dumps(document))
        return lemel("enter", tmp_path / "t.jsonl", "--book", checked)

    wrong = entered(lot="BR-2000-Q")
    assert not check_holds("BR-2000-Q")
    assert (wrong.status, "does not end in its check character" in wrong.err) == (3, True)
    assert entered(lot=with_check("BR-2000")).status == 0


# ------------------------------------------------------------------------------------------------------ what one says


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("AN-1012", LineEntry("AN-1012", None, None)),
        ("AN-1012 3411.20 g", LineEntry("AN-1012", "3411.20 g", None)),
        ("AN-1012 3411.20g all", LineEntry("AN-1012", "3411.20 g", "true")),
        ("NB 44102 12.893 ozt rest", LineEntry("NB 44102", "12.893 ozt", "")),
        ("NB 44102", LineEntry("NB 44102", None, None)),
        ("PLATE 12K", LineEntry("PLATE 12K", None, None)),
        ("99.90 g", LineEntry(None, "99.90 g", None)),
        ("all", LineEntry(None, None, "true")),
        ("new COIL- 10.0 g", LineEntry("new COIL-", "10.0 g", None)),
    ],
)
def test_a_line_in_few_words(text: str, said: LineEntry) -> None:
    assert line_entry(text) == said


def test_an_answer_names_further_fields() -> None:
    said = entry("WIRE-1 20.0 g all billed=1/20 12K seal=77 120")
    assert (said.text, said.named) == ("WIRE-1 20.0 g all", {"billed": "1/20 12K", "seal": "77 120"})
    assert entry("A=B lot").named == {}


@pytest.mark.parametrize("quote", ["'", '"'])
def test_quotes_around_a_value_are_the_shells_and_not_its_own(quote: str) -> None:
    said = entry(f"AN-1012 3411.20 g planned={quote}1/20 12K{quote} form=coil")
    assert said.named == {"planned": "1/20 12K", "form": "coil"}
    assert entry("note=an 8' bench").named == {"note": "an 8' bench"}
