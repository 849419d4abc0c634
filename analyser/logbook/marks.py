"""The graded items, and one figure per item and session: what progress, a record and a class are made from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache
from statistics import fmean, median
from typing import TYPE_CHECKING

from analyser.frozen import dataclass
from analyser.logbook.documents import LoggedHold, LoggedScore, entry_points
from analyser.logbook.sessions import Session
from analyser.rules import graded_items
from analyser.rules.graded_items import GradedItem, item_of
from analyser.rules.scales import load_scale

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenHold

ENTRY = "entry"
OVERALL = "overall"

#: The entry, and what carries points on every circuit.
ITEMS: tuple[GradedItem, ...] = tuple(graded_items.ITEMS[key] for key in (ENTRY, *graded_items.SCORED))


def in_order(keys: Iterable[str]) -> list[str]:
    """Sort item keys as an instructor goes through a hold, unknown ones last."""
    places = {one.key: place for place, one in enumerate(ITEMS)}
    return sorted(set(keys), key=lambda key: (places.get(key, len(places)), key))


def title_of(key: str) -> str:
    """Return an item's title; ``"all"`` has one too."""
    return "All items" if key == "all" else item_of(key).title


@dataclass(frozen=True)
class SessionMark:
    """One item over one session: what was judged of it, in the order flown; of entry and whole hold, one of each hold.

    ``wind_share`` is the mean wind speed as a share of the true airspeed, None where either is not known.
    """

    session: Session
    when: datetime
    marks: tuple[LoggedScore, ...]
    wind_share: float | None

    @property
    def each(self) -> list[float]:
        """The points of each circuit."""
        return [mark.points for mark in self.marks if mark.points is not None]

    @property
    def points(self) -> float:
        """Median over the circuits: one spoilt circuit does not spoil the evening.

        Entries and whole holds are too few for that, and right or wrong has no middle: of them the mean.
        """
        return float(median(self.each) if any(mark.tolerance for mark in self.marks) else fmean(self.each))

    @property
    def right(self) -> int:
        """How many were within tolerance, or correct."""
        return sum(mark.within for mark in self.marks)

    @property
    def deviation(self) -> float | None:
        """Median deviation of the circuits."""
        known = [mark.deviation for mark in self.marks if mark.deviation is not None]
        return float(median(known)) if known else None


def by_item(sessions: Iterable[Session]) -> dict[str, list[SessionMark]]:
    """Collect the marks of sessions: item key, or ``"overall"``, to marks in the order flown.

    A session in which an item was not judged is left out there.
    """
    found: dict[str, list[SessionMark]] = {}
    for session in sorted(sessions, key=lambda one: one.when):
        wind = wind_share(session.holds)
        for key, marks in _marks(session.holds).items():
            found.setdefault(key, []).append(SessionMark(session, session.when, tuple(marks), wind))
    return found


def item_points(hold: LoggedHold | WrittenHold) -> dict[str, float | None]:
    """Return the points of each item of a hold: the mean over the circuits in which it was judged.

    A grade is proposed from it. In the order of a grade sheet, ``"overall"`` last; None where nothing was judged.
    """
    found = {ENTRY: entry_points(hold.entry.points, hold.entry.verdict)} if hold.entry else {}
    each = [(key, score.points) for circuit in hold.circuits for key, score in circuit.scores.items()]
    for key in in_order(key for key, _ in each):
        known = [points for item, points in each if item == key and points is not None]
        found[key] = sum(known) / len(known) if known else None
    return {**found, OVERALL: hold.points}


def proposable(key: str, points: float | None, grade: object) -> float | None:
    """Return the points that a grade is proposed from: of an item its own.

    Of the whole hold the debrief itself proposes a ``grade``, which may be lower than its points are worth, or none
    though there are points: no sheet proposes another one than the page does, on whatever scale.
    """
    if key != OVERALL or points is None:
        return points
    least, most = _points_of_grades().get(str(grade), (0.0, 100.0))
    return None if grade is None else min(max(points, least), most)


@lru_cache(maxsize=1)
def _points_of_grades() -> dict[str, tuple[float, float]]:
    """Return the fewest and the most points that each grade of a debrief, 1 to 5, stands for."""
    levels = load_scale("evidence-1-5").levels
    ends = [*(math.nextafter(one.points_from, 0.0) for one in levels[1:]), 100.0]
    return {one.key: (one.points_from, end) for one, end in zip(levels, ends, strict=True)}


def wind_share(holds: Sequence[LoggedHold]) -> float | None:
    """Return the wind speed as a share of the true airspeed, averaged over holds.

    This is the measure of how hard the wind made it: sixty times the share is the rule of thumb for the
    largest drift in degrees, and the same share stretches and shortens the legs.
    """
    shares = [one.wind_speed_kt / one.tas_kt for one in holds if one.wind_speed_kt is not None and one.tas_kt]
    return sum(shares) / len(shares) if shares else None


def _marks(holds: Sequence[LoggedHold]) -> dict[str, list[LoggedScore]]:
    found: dict[str, list[LoggedScore]] = {}
    for hold in holds:
        whole = LoggedScore(hold.points, None, None, None, None, "", "within")
        for key, score in (*((item, score) for _, item, score in hold.measures()), (OVERALL, whole)):
            if score.points is not None:
                found.setdefault(key, []).append(score)
    return found
