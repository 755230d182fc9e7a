"""The year as a whole: the floor runs, people write, slips are mended, troubles are planted, numbers are given."""

from __future__ import annotations

from typing import Any

from year_maker import counting, house, outside
from year_maker.clock import moment
from year_maker.floor import Floor
from year_maker.happenings import Happenings
from year_maker.keyed import MisKeying
from year_maker.opening import take_on
from year_maker.truth import told
from year_maker.writing import json_lines, mend_slips, numbered, spoil

SEED = 2026


def made(setup: dict[str, Any], seed: int = SEED, *, honest: bool = False) -> tuple[str, str]:
    """Return the year's tickets as JSON Lines and the truth about them as JSON."""
    floor = Floor(setup, seed)
    floor.schedule.begin(take_on(floor), moment(1, 1, 7))
    house.begin(floor)
    outside.begin(floor)
    counting.counts(floor)
    happened = None if honest else Happenings(floor)
    floor.schedule.run(moment(12, 31, 23))
    papers = mend_slips(floor.papers, floor.chance, 30)
    keyed = MisKeying(floor, papers)
    if not honest:
        keyed.all_of_them()
    papers = numbered(spoil(papers, floor.chance, 26))
    troubles = [*happened.told(papers), *keyed.troubles] if happened else []
    return json_lines(papers), told(troubles, seed)
