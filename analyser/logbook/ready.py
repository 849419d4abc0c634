"""Who of a class is ready, who is getting there, and who is stuck and on what: one plain rule for everybody."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analyser.logbook.items import OVERALL
from analyser.logbook.progress import RECENT, ItemProgress, Progress
from analyser.logbook.standard import ItemStandard
from analyser.logbook.trend import FEWEST

State = Literal["ready", "on the way", "stuck", "too few sessions"]
STATES: tuple[State, ...] = ("stuck", "on the way", "ready", "too few sessions")
#: With fewer sessions nothing is said of a pilot.
LEAST_SESSIONS = 3


@dataclass(frozen=True)
class Readiness:
    """Where a pilot stands in the class.

    ``below`` are items below the points asked for now, the lowest first; ``open`` those that an instructor graded below
    the standard the last time; ``unsafe`` counts the latest sessions that had something unsafe in them.
    """

    state: State
    below: tuple[ItemProgress, ...]
    open: tuple[ItemStandard, ...]
    unsafe: int


def readiness(progress: Progress) -> Readiness:
    """Judge a pilot by one rule.

    Ready: every item at the points asked for over the latest sessions, no instructor's last grade below the standard,
    nothing unsafe in the latest sessions. Stuck: the lowest item is below those points, has been flown in five
    sessions or more, no improvement of it can be told, and its latest sessions are not clearly above its first ones:
    who rises without its being sure yet is not stuck. On the way: neither.
    """
    below = tuple(
        sorted(
            (one for one in progress.items if one.now.points < progress.asked_points),
            key=lambda one: one.now.points,
        )
    )
    left = tuple(one for one in progress.standards if one.graded and one.open and one.item != OVERALL)
    lately = {one.key for one in progress.sessions[-RECENT:]}
    unsafe = sum(session.key in lately for session, _ in progress.unsafe)
    return Readiness(_state(progress, below, bool(left or unsafe)), below, left, unsafe)


def _state(progress: Progress, below: tuple[ItemProgress, ...], something_open: bool) -> State:
    if len(progress.sessions) < LEAST_SESSIONS:
        return "too few sessions"
    if not below:
        return "on the way" if something_open else "ready"
    lowest = below[0]
    told_better = lowest.trend is not None and lowest.trend.verdict == "better"
    rising = told_better or lowest.moved > 0
    return "stuck" if len(lowest.marks) >= FEWEST and not rising else "on the way"
