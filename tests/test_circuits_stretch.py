"""How much of a flight is measured for each of its holds."""

from __future__ import annotations

from analyser.circuits.find import search
from analyser.circuits.thresholds import CUTTING
from tests.benchmark import track_of


def test_the_next_hold_is_no_part_of_this_one() -> None:
    """Ten minutes straight on from one fix lies the next hold: its turns tell nothing of the wind in this one."""
    holds = search(track_of(3000, stage=1000.0)).holds
    assert len(holds) == 3
    for hold in holds:
        assert hold.motion.time_s[0] >= hold.start_s - CUTTING.before_s - 60.0
        assert hold.motion.time_s[-1] <= hold.end_s + CUTTING.after_s + 60.0
