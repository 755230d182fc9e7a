"""The sample month worked by hand: one ticket after another, as a careful person with a pencil would write it.

Source: the readings on the tickets of ``sample_books/month``, copied here as figures, and the posting rules of
docs/worked-month.md, which tells the same in words. It imports nothing from ``ledger``, reads no file and has no
general engine, so that it can disagree with the tool. Every content is mass × fineness, exact, rounded half-even to the
nanogram once. An amount is (gross, gold, silver) in ng: + where metal is, is missing, is gone or is owed to us.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

F = Fraction


@dataclass(frozen=True)
class Amount:
    gross: int = 0
    gold: int = 0
    silver: int = 0

    def __add__(self, b: Amount) -> Amount:
        return Amount(self.gross + b.gross, self.gold + b.gold, self.silver + b.silver)

    def __sub__(self, b: Amount) -> Amount:
        return Amount(self.gross - b.gross, self.gold - b.gold, self.silver - b.silver)

    def __neg__(self) -> Amount:
        return Amount(-self.gross, -self.gold, -self.silver)


def g(text: str) -> int:
    """Grams, as read, in whole nanograms."""
    grams = F(text) * 10**9
    assert grams.denominator == 1
    return grams.numerator


def of(mass: int, fineness: tuple[F, F]) -> Amount:
    """Mass × fineness (gold, silver), each rounded half-even once."""
    return Amount(mass, round(mass * fineness[0]), round(mass * fineness[1]))


def rounded(gross: F, gold: F, silver: F) -> Amount:
    return Amount(round(gross), round(gold), round(silver))


Key = tuple[str, tuple[tuple[str, str], ...], str]
POSTINGS: dict[str, dict[Key, int]] = {}


def post(ticket: str, account: str, keys: dict[str, str], amount: Amount) -> None:
    """Write an amount down; several lines of one ticket on one account are added up."""
    lines = POSTINGS.setdefault(ticket, {})
    for metal, ng in (("gross", amount.gross), ("gold", amount.gold), ("silver", amount.silver)):
        key = (account, tuple(sorted(keys.items())), metal)
        lines[key] = lines.get(key, 0) + ng


def at(area: str, lot: str) -> dict[str, str]:
    return {"area": area, "lot": lot}


def place(ticket: str, area: str, lots: dict[str, Amount]) -> None:
    for lot, amount in lots.items():
        post(ticket, "place", at(area, lot), amount)


def move(ticket: str, sender: str, receiver: str, lot: str, r: Amount, w: Amount, v: Amount) -> None:
    """place(from) −R, difference(from) R − W, place(to) +V, difference(to) W − V."""
    post(ticket, "place", at(sender, lot), -r)
    post(ticket, "difference", {"area": sender}, r - w)
    post(ticket, "place", at(receiver, lot), v)
    post(ticket, "difference", {"area": receiver}, w - v)


VAULT, MELT, BOND = {"area": "VAULT"}, {"area": "MELT"}, {"area": "BOND"}
ROLL, FINISH = {"area": "ROLL"}, {"area": "FINISH"}
NOTHING = Amount()

# Fineness (gold, silver) where it is stated.
FINE_GOLD = (F("0.9999"), F(0))
FINE_SILVER = (F(0), F("0.999"))
BASE = (F(0), F(0))  # copper, brass
SOLDER = (F(0), F("0.450"))
CLAD20 = (F(1, 20) * F(12, 24), F(1, 20) * F("0.200"))  # 1/20 12K, layer with 200 ‰ silver: 25 ‰ and 10 ‰
DEPOSIT = (F("0.5833"), F("0.2104"))
SQUEEZE = (F("0.020"), F("0.380"))

# HC-0001, HC-0002: taken on.
gb_1, ag_1, cu_1 = of(g("850.402"), FINE_GOLD), of(g("1200.350"), FINE_SILVER), of(g("2500.00"), BASE)
place("HC-0001", "VAULT", {"GB-0901": gb_1, "AG-0902": ag_1, "CU-0903": cu_1})
post("HC-0001", "own", {}, -(gb_1 + ag_1 + cu_1))
cl_2, sc_2 = of(g("3120.40"), CLAD20), of(g("640.18"), CLAD20)
dust_2 = Amount(g("74.400"), g("1.860"), g("0.744"))
place("HC-0002", "ROLL", {"CL-0905": cl_2, "SC-0906": sc_2})
post("HC-0002", "dust", ROLL, dust_2)
post("HC-0002", "own", {}, -(cl_2 + sc_2 + dust_2))

# HC-0003, HC-0004: first counts after the take-on: place C − R, difference R − C.
gb_3, ag_3, cu_3 = of(g("850.398"), FINE_GOLD), of(g("1200.352"), FINE_SILVER), of(g("2500.00"), BASE)
place("HC-0003", "VAULT", {"GB-0901": gb_3 - gb_1, "AG-0902": ag_3 - ag_1})
take_on_vault = (gb_1 - gb_3) + (ag_1 - ag_3) + (cu_1 - cu_3)
post("HC-0003", "difference", VAULT, take_on_vault)
cl_4, sc_4 = of(g("3120.34"), CLAD20), of(g("640.18"), CLAD20)
post("HC-0004", "place", at("ROLL", "CL-0905"), cl_4 - cl_2)
take_on_roll = (cl_2 - cl_4) + (sc_2 - sc_4)
post("HC-0004", "difference", ROLL, take_on_roll)

# HC-0005: bought. HC-0006: deposited, owed by the customer's list V; our own weighing and assay W.
gb_5, br_5, so_5 = of(g("500.125"), FINE_GOLD), of(g("9000.00"), BASE), of(g("120.50"), SOLDER)
place("HC-0005", "VAULT", {"GB-1001": gb_5, "BR-1002": br_5, "SO-1003": so_5})
post("HC-0005", "own", {}, -(gb_5 + br_5 + so_5))
dc_6v = of(g("286.50"), (F(14, 24), F("0.2102")))
dc_6w = of(g("286.41"), DEPOSIT)
post("HC-0006", "place", at("VAULT", "DC-1004"), dc_6w)
post("HC-0006", "party", {"party": "ALDERTON", "terms": "deposited"}, -dc_6v)
post("HC-0006", "difference", VAULT, dc_6v - dc_6w)

# HC-0007: parts of four lots to the melter. A part: R = W. V by the melter's reading.
gb_7w, gb_7v = of(g("150.310"), FINE_GOLD), of(g("150.31"), FINE_GOLD)
ag_7w, ag_7v = of(g("62.400"), FINE_SILVER), of(g("62.40"), FINE_SILVER)
cu_7w, cu_7v = of(g("104.85"), BASE), of(g("104.84"), BASE)
dc_7w, dc_7v = of(g("95.20"), DEPOSIT), of(g("95.19"), DEPOSIT)
for lot, w, v in (("GB-0901", gb_7w, gb_7v), ("AG-0902", ag_7w, ag_7v), ("CU-0903", cu_7w, cu_7v),
                  ("DC-1004", dc_7w, dc_7v)):  # fmt: skip
    move("HC-0007", "VAULT", "MELT", lot, w, w, v)
w_7 = gb_7w + ag_7w + cu_7w + dc_7w
v_7 = gb_7v + ag_7v + cu_7v + dc_7v

# HC-0008: the melt (combines, fume 3/1000). Every input emptied: place −R (= V of the move), difference R − W.
gb_8, ag_8, cu_8, dc_8 = gb_7v, ag_7v, cu_7v, of(g("95.18"), DEPOSIT)
w_8 = gb_8 + ag_8 + cu_8 + dc_8
sl_8 = Amount(g("0.95"), g("0.42"), g("0.16"))  # slag by estimate: gross is its metallic mass
mass_8 = w_8.gross * F(997, 1000) - sl_8.gross
plate_8 = ((w_8.gold - sl_8.gold) / mass_8, (w_8.silver - sl_8.silver) / mass_8)
pl_8, sa_8 = of(g("408.20"), plate_8), of(g("1.8400"), plate_8)
for lot, v in (("GB-0901", gb_7v), ("AG-0902", ag_7v), ("CU-0903", cu_7v), ("DC-1004", dc_7v)):
    post("HC-0008", "place", at("MELT", lot), -v)
place("HC-0008", "MELT", {"PL-1005": pl_8, "SL-1006": sl_8, "SA-1007": sa_8})
reweighing_8 = v_7 - w_8
work_8 = w_8 - (pl_8 + sl_8 + sa_8)
post("HC-0008", "difference", MELT, reweighing_8 + work_8)

# HC-0009: the plate assayed: mean of sample means; x = mass × new fineness − recorded content.
PLATE = ((F("500.2") + F("500.0") + F("500.1") + F("500.0")) / 4000,
         (F("200.5") + F("200.3") + F("200.4") + F("200.2")) / 4000)  # fmt: skip
pl_9 = of(g("408.20"), PLATE)
x_9 = pl_9 - pl_8
post("HC-0009", "place", at("MELT", "PL-1005"), x_9)
post("HC-0009", "difference", MELT, -x_9)

# HC-0010: the sample dissolved: place −R, loss +M, difference R − M.
m_10 = Amount(g("1.8397"), g("0.9199"), g("0.3686"))
post("HC-0010", "place", at("MELT", "SA-1007"), -sa_8)
post("HC-0010", "loss", {"area": "MELT", "cause": "discard"}, m_10)
post("HC-0010", "difference", MELT, sa_8 - m_10)

# HC-0011: the slag drum to the vault, sealed: recorded figures move.
move("HC-0011", "MELT", "VAULT", "SL-1006", sl_8, sl_8, sl_8)

# HC-0012, HC-0013: plate, brass and solder to bonding.
pl_12w, pl_12v = of(g("408.19"), PLATE), of(g("408.18"), PLATE)
move("HC-0012", "MELT", "BOND", "PL-1005", pl_9, pl_12w, pl_12v)
br_13w, br_13v = of(g("7610.00"), BASE), of(g("7609.95"), BASE)
so_13 = of(g("40.25"), SOLDER)
move("HC-0013", "VAULT", "BOND", "BR-1002", br_13w, br_13w, br_13v)
move("HC-0013", "VAULT", "BOND", "SO-1003", so_13, so_13, so_13)

# HC-0014: bonding (combines, no fume). The squeeze-out has its own determination, the sandwich takes the rest.
w_14 = pl_12v + br_13v + so_13  # every re-weighing agrees with the record
sq_14 = of(g("22.40"), SQUEEZE)
mass_14 = w_14.gross - sq_14.gross
SANDWICH = (F(w_14.gold - sq_14.gold, mass_14), F(w_14.silver - sq_14.silver, mass_14))
cb_14 = of(g("8035.62"), SANDWICH)
work_14 = w_14 - (cb_14 + sq_14)
place("HC-0014", "BOND", {
    "PL-1005": -pl_12v, "BR-1002": -br_13v, "SO-1003": -so_13, "CB-1008": cb_14, "SQ-1009": sq_14,
})  # fmt: skip
post("HC-0014", "difference", BOND, work_14)

# HC-0015: surprise count of bonding. SQ-1009 is on no sheet: not found.
cb_15 = of(g("8035.60"), SANDWICH)
place("HC-0015", "BOND", {"CB-1008": cb_15 - cb_14, "SQ-1009": -sq_14})
count_15 = (cb_14 - cb_15) + sq_14
post("HC-0015", "difference", BOND, count_15)

# HC-0016: the sandwich to the mill, 8200.78 g gross less 165.20 g tare.
cb_16w, cb_16v = of(g("8200.78") - g("165.20"), SANDWICH), of(g("8035.57"), SANDWICH)
move("HC-0016", "BOND", "ROLL", "CB-1008", cb_15, cb_16w, cb_16v)

# HC-0017: the missed squeeze-out is handled, so found: place +R, difference −R; then its move.
sq_17 = of(g("22.39"), SQUEEZE)
post("HC-0017", "place", at("BOND", "SQ-1009"), sq_14)
post("HC-0017", "difference", BOND, -sq_14)
move("HC-0017", "BOND", "VAULT", "SQ-1009", sq_14, sq_17, sq_17)

# HC-0018: rolling (carries): outputs at the input's fineness.
cb_18 = of(g("8035.56"), SANDWICH)
cc_18, et_18 = of(g("7865.90"), SANDWICH), of(g("165.90"), SANDWICH)
reweighing_18, work_18 = cb_16v - cb_18, cb_18 - (cc_18 + et_18)
place("HC-0018", "ROLL", {"CB-1008": -cb_16v, "CC-1010": cc_18, "ET-1011": et_18})
post("HC-0018", "difference", ROLL, reweighing_18 + work_18)

# HC-0019: the slag's own assay. x goes to the difference of the melting shop, though the drum stands in the vault.
sl_19 = Amount(g("0.95"), g("0.4655"), g("0.1480"))
x_19 = sl_19 - sl_8
post("HC-0019", "place", at("VAULT", "SL-1006"), x_19)
post("HC-0019", "difference", MELT, -x_19)
SLAG = (F(sl_19.gold, sl_19.gross), F(sl_19.silver, sl_19.gross))

# HC-0020: annealing (content): content in, over the mass out.
cc_20 = of(g("7865.88"), SANDWICH)
an_20 = Amount(g("7863.95"), cc_20.gold, cc_20.silver)
reweighing_20, work_20 = cc_18 - cc_20, cc_20 - an_20
place("HC-0020", "ROLL", {"CC-1010": -cc_18, "AN-1012": an_20})
post("HC-0020", "difference", ROLL, reweighing_20 + work_20)

# HC-0022: first assay of the annealed coil.
COIL = ((F("25.36") + F("25.34") + F("25.37") + F("25.33")) / 4000,
        (F("11.38") + F("11.36") + F("11.39") + F("11.38")) / 4000)  # fmt: skip
an_22 = of(g("7863.95"), COIL)
x_22 = an_22 - an_20
post("HC-0022", "place", at("ROLL", "AN-1012"), x_22)
post("HC-0022", "difference", ROLL, -x_22)

# HC-0023: keyed 156.90 g for 165.90 g. HC-0024 reverses it to the last nanogram. HC-0025 is the corrected move.
et_23, et_v = of(g("156.90"), SANDWICH), of(g("165.89"), SANDWICH)
move("HC-0023", "ROLL", "VAULT", "ET-1011", et_18, et_23, et_v)
move("HC-0024", "ROLL", "VAULT", "ET-1011", -et_18, -et_23, -et_v)
et_25 = of(g("165.90"), SANDWICH)
move("HC-0025", "ROLL", "VAULT", "ET-1011", et_18, et_25, et_v)

# HC-0026 voids the spoiled number HC-0021: nothing to post.
POSTINGS["HC-0026"] = {}

# HC-0027: part of the coil to finishing.
an_27w, an_27v = of(g("3411.20"), COIL), of(g("3411.17"), COIL)
move("HC-0027", "ROLL", "FINISH", "AN-1012", an_27w, an_27w, an_27v)
an_left = an_22 - an_27w

# HC-0028: buffing (surface): what comes off is layer, 1/2 gold and 1/5 silver; the last output takes the rest.
an_28 = of(g("3411.16"), COIL)
fb13_mass, fb14_mass = g("2204.35"), g("1205.62")
off_28 = of(an_28.gross - fb13_mass - fb14_mass, (F(1, 2), F(1, 5)))
left_28 = an_28 - off_28
BUFFED = (F(left_28.gold, fb13_mass + fb14_mass), F(left_28.silver, fb13_mass + fb14_mass))
fb13 = of(fb13_mass, BUFFED)
fb14 = left_28 - fb13
reweighing_28, work_28 = an_27v - an_28, an_28 - (fb13 + fb14)
place("HC-0028", "FINISH", {"AN-1012": -an_27v, "FB-1013": fb13, "FB-1014": fb14})
post("HC-0028", "difference", FINISH, reweighing_28 + work_28)

# HC-0029: sweeps taken up, by estimate.
sw_29 = Amount(g("0.62"), g("0.30"), g("0.12"))
post("HC-0029", "place", at("FINISH", "SW-1015"), sw_29)
post("HC-0029", "dust", FINISH, -sw_29)

# HC-0030, HC-0031: shipped, billed at 1/20 12K for gold; silver and gross as they are (B = W).
fb13_w = of(g("2204.34"), BUFFED)
fb13_b = Amount(fb13_w.gross, round(g("2204.34") * F(1, 40)), fb13_w.silver)
post("HC-0030", "place", at("FINISH", "FB-1013"), -fb13)
post("HC-0030", "difference", FINISH, fb13 - fb13_w)
post("HC-0030", "own", {}, fb13_b)
post("HC-0030", "give-away", {"party": "PENROSE"}, fb13_w - fb13_b)
fb14_w = of(g("1205.61"), BUFFED)
fb14_b = Amount(fb14_w.gross, round(g("1205.61") * F(1, 40)), fb14_w.silver)
post("HC-0031", "place", at("FINISH", "FB-1014"), -fb14)
post("HC-0031", "difference", FINISH, fb14 - fb14_w)
post("HC-0031", "party", {"party": "ALDERTON", "terms": "deposited"}, fb14_b)
post("HC-0031", "give-away", {"party": "ALDERTON"}, fb14_w - fb14_b)

# HC-0032: the drum to the refiner, sealed. HC-0033: its assay trues up finishing's dust, not the refiner's difference.
move("HC-0032", "FINISH", "REFINER", "SW-1015", sw_29, sw_29, sw_29)
sw_33 = Amount(g("0.62"), g("0.3244"), g("0.1150"))
x_33 = sw_33 - sw_29
post("HC-0033", "place", at("REFINER", "SW-1015"), x_33)
post("HC-0033", "dust", FINISH, -x_33)

# HC-0034 … HC-0040: month-end counts, place C − R, difference R − C. Elsewhere: nil, none due.
r_34 = (gb_3 - gb_7w, gb_5, ag_3 - ag_7w, dc_6w - dc_7w, cu_3 - cu_7w)
c_34 = (of(g("700.089"), FINE_GOLD), of(g("500.124"), FINE_GOLD), of(g("1137.949"), FINE_SILVER),
        of(g("191.20"), DEPOSIT), of(g("2395.14"), BASE))  # fmt: skip
r_35 = (br_5 - br_13w, so_5 - so_13, sl_19, sq_17, et_v)
c_35 = (of(g("1390.02"), BASE), of(g("80.24"), SOLDER), of(g("0.95"), SLAG), of(g("22.39"), SQUEEZE),
        of(g("165.88"), SANDWICH))  # fmt: skip
r_38 = (cl_4, sc_4, an_left)
c_38 = (of(g("3120.33"), CLAD20), of(g("1014.23") - g("412.50"), CLAD20), of(g("4452.71"), COIL))
c_40 = of(g("0.62"), (F(sw_33.gold, sw_33.gross), F(sw_33.silver, sw_33.gross)))
for ticket, area, lots, r, c in (
    ("HC-0034", "VAULT", "GB-0901 GB-1001 AG-0902 DC-1004 CU-0903", r_34, c_34),
    ("HC-0035", "VAULT", "BR-1002 SO-1003 SL-1006 SQ-1009 ET-1011", r_35, c_35),
    ("HC-0038", "ROLL", "CL-0905 SC-0906 AN-1012", r_38, c_38),
    ("HC-0040", "REFINER", "SW-1015", (sw_33,), (c_40,)),
):
    for lot, recorded, counted in zip(lots.split(), r, c, strict=True):
        place(ticket, area, {lot: counted - recorded})
        post(ticket, "difference", {"area": area}, recorded - counted)
POSTINGS["HC-0036"] = POSTINGS["HC-0037"] = POSTINGS["HC-0039"] = {}
count_vault = sum(r_34 + r_35, NOTHING) - sum(c_34 + c_35, NOTHING)
count_roll = sum(r_38, NOTHING) - sum(c_38, NOTHING)

# HC-0041: written off by name: out of the difference, into loss. No part of this month's G.
spill = Amount(0, g("0.0450"), 0)
post("HC-0041", "difference", MELT, -spill)
post("HC-0041", "loss", {"area": "MELT", "cause": "spill"}, spill)

# Allowed E, and its recoverable part q·E, once a ticket and metal. Silver and gross where no rate is stated: derived.
with_fume = 1 - F(999, 1000) * F(997, 1000)
e_8 = with_fume * w_8.gross + g("0.05"), F(w_8.gold, 1000) + g("0.02"), F(w_8.silver, 1000) + g("0.01")
e_14 = F(w_14.gross, 10000), F(w_14.gold, 10000), F(w_14.silver, 10000)
e_18 = F(5 * cb_18.gross, 10000), F(5 * cb_18.gold, 10000), F(5 * cb_18.silver, 10000)
e_20 = F(2 * cc_20.gross, 10000), F(cc_20.gold, 10000), F(cc_20.silver, 10000)
layer_28 = F(6 * an_28.gold, 1000) / F(1, 2)  # grams of layer that carry the allowed gold
e_28 = layer_28, F(6 * an_28.gold, 1000), layer_28 / 5
E_8, E_14, E_18, E_20, E_28 = (rounded(*e) for e in (e_8, e_14, e_18, e_20, e_28))
# What left as fume lies in no bench and is no dust: of gross only the splashes, 1/1000 and the fixed part.
Q_8 = rounded(F(1, 2) * (F(w_8.gross, 1000) + g("0.05")), F(1, 2) * e_8[1], F(1, 2) * e_8[2])
Q_14 = rounded(*(F(2, 5) * e for e in e_14))
Q_18 = rounded(*(F(3, 5) * e for e in e_18))
Q_20 = rounded(*(F(1, 5) * e for e in e_20))
Q_28 = rounded(*(F(7, 10) * e for e in e_28))

Columns = dict[str, Amount]
# fmt: off
AREAS: dict[str, Columns] = {
    "VAULT": {
        "opening": gb_3 + ag_3 + cu_3, "received": gb_5 + br_5 + so_5 + dc_6v + sl_8 + sq_17 + et_25 + x_19,
        "issued": w_7 + br_13w + so_13, "closing": sum(c_34 + c_35, NOTHING), "take_on": take_on_vault,
        "reweighing": NOTHING, "count": count_vault, "transfer": (dc_6v - dc_6w) + (et_25 - et_v),
    },
    "MELT": {
        "received": w_7, "issued": m_10 + sl_8 + pl_12w + x_19, "work": work_8,
        "reweighing": reweighing_8 + (pl_9 - pl_12w), "transfer": w_7 - v_7,
        "revaluation": -x_9 + (sa_8 - m_10) - x_19, "allowed": E_8, "accrued": Q_8,
    },
    "BOND": {
        "received": pl_12w + br_13w + so_13, "issued": cb_16w + sq_17, "work": work_14,
        "reweighing": (cb_15 - cb_16w) + (sq_14 - sq_17), "count": count_15 - sq_14,
        "transfer": (pl_12w - pl_12v) + (br_13w - br_13v), "allowed": E_14, "accrued": Q_14,
    },
    "ROLL": {
        "opening": cl_4 + sc_4, "received": cb_16w, "issued": et_25 + an_27w, "closing": sum(c_38, NOTHING),
        "take_on": take_on_roll, "work": work_18 + work_20,
        "reweighing": reweighing_18 + reweighing_20 + (et_18 - et_25), "count": count_roll,
        "transfer": cb_16w - cb_16v, "revaluation": -x_22, "allowed": E_18 + E_20, "dust_opening": dust_2,
        "accrued": Q_18 + Q_20,
    },
    "FINISH": {
        "received": an_27w, "issued": fb13_w + fb14_w + sw_29, "sweeps": sw_29, "work": work_28,
        "reweighing": reweighing_28 + (fb13 - fb13_w) + (fb14 - fb14_w), "transfer": an_27w - an_27v, "allowed": E_28,
        "accrued": Q_28, "trued_up": -x_33,
    },
    "REFINER": {"received": sw_29 + x_33, "closing": c_40, "count": sw_33 - c_40},
}
# fmt: on
ORIGINS = ("work", "reweighing", "count", "transfer", "revaluation")


def statement(a: Columns, metal: str) -> dict[str, Any]:
    """D = opening + received − issued − closing; G = D + sweeps; U = G − E − P; the dust beside it."""
    c = {name: int(getattr(amount, metal)) for name, amount in a.items()}
    named = ("opening", "received", "issued", "closing", "sweeps", "take_on", "allowed")
    flows = {name: c.get(name, 0) for name in named}
    d = flows["opening"] + flows["received"] - flows["issued"] - flows["closing"]
    dust = {"opening": c.get("dust_opening", 0), "accrued": c.get("accrued", 0), "taken": flows["sweeps"],
            "trued_up": c.get("trued_up", 0), "shortfall": 0}  # fmt: skip
    dust["closing"] = dust["opening"] + dust["accrued"] - dust["taken"] + dust["trued_up"]
    g_loss = d + flows["sweeps"]
    assert g_loss == sum(c.get(o, 0) for o in ORIGINS)  # the second road, by the postings
    return flows | {"difference": d, "gross_loss": g_loss, "difference_from": {o: c.get(o, 0) for o in ORIGINS},
                    "prior_period": 0, "unexplained": g_loss - flows["allowed"], "dust": dust}  # fmt: skip


# The metal position on 31 October, each side from its own tickets. Nothing is on its way, nothing kept by a refiner.
# Alderton is owed gold and silver; of gross, which is mass and no debt, more went back than came.
alderton = dc_6v - fb14_b
POSITION = {
    "place": sum((a.get("closing", NOTHING) for a in AREAS.values()), NOTHING),
    "transit": NOTHING,
    "dust": dust_2 - sw_29 - x_33,
    "own": (gb_1 + ag_1 + cu_1) + (cl_2 + sc_2 + dust_2) + (gb_5 + br_5 + so_5) - fb13_b,
    "owed": Amount(0, alderton.gold, alderton.silver),
    "owed_to_us": Amount(-alderton.gross, 0, 0),
    "difference": sum((a.get(o, NOTHING) for a in AREAS.values() for o in ("take_on", *ORIGINS)), NOTHING) - spill,
    "loss": m_10 + spill,
    "give_away": (fb13_w - fb13_b) + (fb14_w - fb14_b),
    "retained": NOTHING,
}

METALS = ("gross", "gold", "silver")
EXPECTED: dict[str, Any] = {
    "postings": {
        ticket: [(account, dict(keys), metal, ng) for (account, keys, metal), ng in lines.items() if ng]
        for ticket, lines in POSTINGS.items()
    },
    "statement": {area: {m: statement(columns, m) for m in METALS} for area, columns in AREAS.items()},
    "position": {m: {name: getattr(a, m) for name, a in POSITION.items()} for m in METALS},
}
