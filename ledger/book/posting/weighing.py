"""What a line weighs: the metallic mass behind its readings, and whether the weighing was regular."""

from __future__ import annotations

from fractions import Fraction
from math import hypot

from ledger.book.draft import Draft
from ledger.book.lots import Lot
from ledger.book.tickets.lines import Line
from ledger.plant.measuring import Scale
from ledger.quantities.mass import mass_text
from ledger.quantities.rounding import half_even
from ledger.refusals import Impossible


def metallic_ng(draft: Draft, line: Line, field: str, class_: str | None, *, number: int = 0) -> int | None:
    """Return the metallic mass a line states, in nanograms; None where it was not weighed.

    Net of tare or container, dry of moisture, or the stated metallic part of a dirty lot. Foreign matter (water, oil,
    flux, lint) is not metal and is not posted.
    """
    check_scale(draft, line.scale, field, number)
    net = _net_ng(draft, line, field)
    if net is None:
        return None
    if class_ is not None and draft.setup.classes[class_].dirty and line.metallic is None:
        raise Impossible(
            f"class {class_} is dirty, and the line does not say how much of the mass is metal",
            'add "metallic": "… g"', field=f"{field}.metallic",
        )  # fmt: skip
    if line.metallic is not None:
        if line.metallic.ng > net:
            raise Impossible("more metal than the lot weighs", "check the two masses", field=f"{field}.metallic")
        return line.metallic.ng
    if line.moisture is not None:
        dry = Fraction(1) - line.moisture
        return half_even(net * dry.numerator, dry.denominator)
    return net


def _net_ng(draft: Draft, line: Line, field: str) -> int | None:
    if line.mass is not None:
        return line.mass.ng
    if line.gross is None:
        return None
    if line.tare is not None:
        tare = line.tare.ng
    else:
        container = draft.setup.containers.get(line.container or "")
        if container is None:
            raise Impossible(
                f"no container {line.container} in the set-up", "correct the code, or add it by a set-up change",
                field=f"{field}.container",
            )  # fmt: skip
        if container.tare is None:
            raise Impossible(
                f"container {container.code} has no registered tare", "tare it, and enter that by a set-up change",
                field=f"{field}.container",
            )  # fmt: skip
        tare = container.tare
    if tare >= line.gross.ng:
        raise Impossible("the tare weighs as much as the whole", "check the two masses", field=f"{field}.tare")
    return line.gross.ng - tare


def check_scale(draft: Draft, code: str | None, field: str, number: int = 0) -> None:
    """Refuse an unknown scale; flag one past its calibration."""
    if code is None:
        return
    scale = draft.setup.scales.get(code)
    if scale is None:
        raise Impossible(
            f"no scale {code} in the set-up", "correct the code, or add it by a set-up change", field=f"{field}.scale"
        )
    if _overdue(draft, scale):
        draft.flag("scale overdue", f"scale {code} is past its calibration", number)


def _overdue(draft: Draft, scale: Scale) -> bool:
    if scale.calibrate_every is None:
        return False
    last = draft.calibrated_day(scale.code)
    if scale.calibrated is not None and (last is None or scale.calibrated > last):
        last = scale.calibrated
    return last is not None and (draft.day - last).days > scale.calibrate_every


def reading_sd_ng(draft: Draft, code: str | None, mass_ng: int) -> float:
    """Return the standard deviation of one weighing of a mass, in nanograms; 0 on an unnamed scale.

    Repeatability and rounding, and the scale's sensitivity error, which grows with the mass.
    """
    scale = draft.setup.scales.get(code or "")
    return hypot(scale.weighing_sd_ng, float(scale.sensitivity) * mass_ng) if scale else 0.0


def flag_transfer(
    draft: Draft, scale: str | None, other: str | None, mass_ng: int, difference_ng: int, whom: str, number: int
) -> None:
    """Flag two readings of the same metal that differ by more than their weighings explain."""
    sd = hypot(reading_sd_ng(draft, scale, mass_ng), reading_sd_ng(draft, other or scale, mass_ng))
    if sd and abs(difference_ng) > float(draft.setup.plant.act) * sd:
        draft.flag("transfer difference", f"{mass_text(difference_ng, 'g', 4)} g against {whom}", number)


def flag_reweighing(
    draft: Draft, lot: Lot, scale: str | None, mass_ng: int, missing_ng: int, number: int
) -> None:
    """Flag a lot that weighs otherwise than recorded by more than two readings on the scale explain.

    Not a bin: as many readings stand behind it as were put in.
    """
    if lot.kind == "bin":
        return
    limit = float(draft.setup.plant.act) * 2**0.5 * reading_sd_ng(draft, scale, mass_ng)
    if limit and abs(missing_ng) > limit:
        less = "less" if missing_ng > 0 else "more"
        words = f"lot {lot.number} weighs {mass_text(abs(missing_ng), 'g', 4)} g {less} than recorded"
        draft.flag("re-weighing difference", words, number)
