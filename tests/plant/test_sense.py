"""What well-formed entries say against one another: periods in time, marks and layers."""

from __future__ import annotations

from typing import Any

import pytest

from tests.plant.test_consistency import fields


def periods(*entries: tuple[str, str] | tuple[str, str, str]) -> list[dict[str, Any]]:
    return [dict(zip(("code", "ends", "starts"), entry, strict=False)) for entry in entries]


@pytest.mark.parametrize(
    "listed",
    [
        periods(("a", "2026-10-31"), ("b", "2026-11-01")),
        periods(("a", "2026-10-31", "2026-10-31"), ("b", "2026-11-30", "2026-11-01")),
        periods(("2026-10", "2026-10-31"), ("2026-11", "2026-11-28")),
    ],
)
def test_periods_that_follow_one_another_are_accepted(listed: list[dict[str, Any]]) -> None:
    assert fields(period=listed) == []


@pytest.mark.parametrize(
    ("listed", "field"),
    [
        (periods(("a", "2026-10-31"), ("b", "2026-10-31")), "period[2].ends"),
        (periods(("a", "2026-10-31"), ("b", "2026-10-30")), "period[2].ends"),
        (periods(("a", "2026-10-31"), ("b", "2026-11-30", "2026-11-02")), "period[2].starts"),
        (periods(("a", "2026-10-31"), ("b", "2026-11-30", "2026-10-31")), "period[2].starts"),
        (periods(("a", "2026-10-31", "2026-11-01")), "period[1].starts"),
        (periods(("2026-09", "2026-10-31")), "period[1].code"),
        (periods(("2026-10", "2026-10-31", "2026-10-04")), "period[1].code"),
    ],
)
def test_periods_that_overlap_leave_a_gap_or_bear_another_months_name_are_refused(
    listed: list[dict[str, Any]], field: str
) -> None:
    assert fields(period=listed) == [field]


def clad(mark: str, **layer: str) -> list[str]:
    alloy = {"code": "L", "gold": layer.get("gold", "0"), "silver": layer.get("silver", "0")}
    return fields(alloy=[alloy], clad=[{"code": "C", "mark": mark, **({"layer": "L"} if layer else {})}])


def test_a_mark_and_its_layer_agree_within_half_a_karat() -> None:
    """Half a karat is common practice, no source."""
    assert clad("1/20 14K", gold="14K") == []
    assert clad("1/20 14K", gold="585‰") == []
    assert clad("1/20 14K", gold="13.5K") == []
    assert clad("1/20 14K", gold="13.4K") == ["clad[1].layer"]
    assert clad("1/20 14K", gold="14.6K") == ["clad[1].layer"]
    assert clad("1/10 925‰", silver="925‰") == []


def test_a_mark_without_layer_says_its_metal_only_by_karat() -> None:
    assert clad("1/20 12K") == []
    assert clad("1/20 12kt") == []
    assert clad("1/10 925‰") == ["clad[1].mark"]
