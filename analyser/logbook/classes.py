"""A class: who is ready and who is stuck, pilot by item, the same exercise side by side, how grading leans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np

from analyser.earth.angles import whole_direction, wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.earth.plane import wgs84
from analyser.frozen import dataclass
from analyser.logbook.documents import LoggedHold
from analyser.logbook.leaning import Leaning, leanings
from analyser.logbook.logbook_thresholds import SAME, STANDING, TREND
from analyser.logbook.marks import ENTRY, OVERALL, SessionMark, in_order
from analyser.logbook.progress import Experience, ItemProgress, Progress, learn, wind_shares
from analyser.logbook.sessions import Path, Session
from analyser.logbook.standard import ItemStandard, standards
from analyser.logbook.trend import UNKNOWN_COST
from analyser.rules.scales import Scale

State = Literal["ready", "on the way", "stuck", "too few sessions"]
STATES: tuple[State, ...] = ("stuck", "on the way", "ready", "too few sessions")


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
    low = [one for one in progress.items if one.now.points < progress.asked_points]
    below = tuple(sorted(low, key=lambda one: one.now.points))
    left = tuple(one for one in progress.standards if one.graded and one.open and one.item != OVERALL)
    unsafe = sum(bool(one.unsafe) for one in progress.sessions[-STANDING.latest_sessions :])
    return Readiness(_state(progress, below, bool(left or unsafe)), below, left, unsafe)


def _state(progress: Progress, below: tuple[ItemProgress, ...], something_open: bool) -> State:
    if len(progress.sessions) < STANDING.least_sessions:
        return "too few sessions"
    if not below:
        return "on the way" if something_open else "ready"
    lowest = below[0]
    told_better = lowest.trend is not None and lowest.trend.verdict == "better"
    rising = told_better or lowest.moved > 0
    return "stuck" if len(lowest.marks) >= TREND.fewest_sessions and not rising else "on the way"


@dataclass(frozen=True)
class Cell:
    """One item of one pilot.

    ``points`` are the median of the sessions, as flown, with their quartiles ``low`` and ``high``; of entries the share
    that was right, in percent. ``allowed`` is the same with the wind allowed for; ``right`` of so many circuits were
    within tolerance, or entries right.
    """

    points: float
    allowed: float
    low: float
    high: float
    sessions: int
    right: int
    of: int


@dataclass(frozen=True)
class PilotRow:
    """One pilot of the class.

    ``unsafe`` counts sessions in which something was, of those debriefed by a program that looks for it; ``standards``
    are what instructors' grades say.
    """

    pilot: str
    sessions: int
    cells: Mapping[str, Cell]
    unsafe: int
    looked_for_unsafe: int
    standards: tuple[ItemStandard, ...]


@dataclass(frozen=True)
class FlownExercise:
    """One hold as somebody flew it, with its ``path`` (s, NM east, NM north) where that was kept."""

    session: Session
    hold: LoggedHold
    path: Path | None


@dataclass(frozen=True)
class Comparison:
    """A class over a period: rows by name; exercises (title, how each flew it) flown by two or more, best first."""

    sessions: tuple[Session, ...]
    rows: tuple[PilotRow, ...]
    items: tuple[str, ...]
    reference_share: float
    exercises: tuple[tuple[str, tuple[FlownExercise, ...]], ...]
    leanings: tuple[Leaning, ...]


def compare(sessions: Sequence[Session], scale: Scale) -> Comparison:
    """Compare the pilots of some sessions; ``scale`` is for grades on a scale of the school's own."""
    known = learn(sessions)
    rows = tuple(
        _row(pilot, [one for one in sessions if one.pilot == pilot], known, scale)
        for pilot in sorted(known.marks, key=str.casefold)
    )
    return Comparison(
        sessions=tuple(sessions),
        rows=rows,
        items=tuple(in_order(key for row in rows for key in row.cells)),
        reference_share=known.reference_share,
        exercises=_same_exercises(sessions),
        leanings=tuple(leanings(sessions, scale)),
    )


def _row(pilot: str, own: Sequence[Session], known: Experience, scale: Scale) -> PilotRow:
    return PilotRow(
        pilot=pilot,
        sessions=len(own),
        cells={key: _cell(key, marks, known) for key, marks in known.marks[pilot].items()},
        unsafe=sum(bool(one.unsafe) for one in own),
        looked_for_unsafe=sum(one.looked_for_unsafe for one in own),
        standards=standards(own, scale),
    )


def _cell(key: str, marks: Sequence[SessionMark], known: Experience) -> Cell:
    points = np.array([mark.points for mark in marks])
    right, of = sum(mark.right for mark in marks), sum(len(mark.marks) for mark in marks)
    low, high = np.percentile(points, [25, 75])
    if key == ENTRY:
        # Right or wrong has no middle: it is counted.
        share = 100.0 * right / of
        return Cell(share, share, float(low), float(high), len(marks), right, of)
    cost = known.costs.get(key, UNKNOWN_COST).per_share
    winds = wind_shares(marks, known.reference_share) - known.reference_share
    allowed = float(np.clip(np.median(points - cost * winds), 0.0, 100.0))
    return Cell(float(np.median(points)), allowed, float(low), float(high), len(marks), right, of)


def _same_exercises(sessions: Sequence[Session]) -> tuple[tuple[str, tuple[FlownExercise, ...]], ...]:
    groups: list[list[FlownExercise]] = []
    for session in sessions:
        for place, hold in enumerate(session.holds):
            group = next((one for one in groups if _same(one[0].hold, hold)), [])
            if not group:
                groups.append(group)
            group.append(FlownExercise(session, hold, session.debrief.path(place)))
    shared = [group for group in groups if len({one.session.pilot for one in group}) > 1]
    titled = [(_title(group), tuple(sorted(group, key=_place))) for group in shared]
    return tuple(sorted(titled, key=lambda pair: -len(pair[1])))


def _same(one: LoggedHold, other: LoggedHold) -> bool:
    if one.turns != other.turns or bool(one.leg_minutes) != bool(other.leg_minutes):
        return False
    course, other_course = one.inbound_course_true_deg, other.inbound_course_true_deg
    if course is None or other_course is None or abs(wrap180(course - other_course)) > SAME.course_deg:
        return False
    fixes = (one.fix_lon_deg, one.fix_lat_deg, other.fix_lon_deg, other.fix_lat_deg)
    # Inverse geodesic, so that neither the date line nor a pole makes two holds of one.
    return None not in fixes and float(wgs84().inv(*fixes)[2]) / METRES_PER_NM <= SAME.fix_nm


def _place(one: FlownExercise) -> tuple[float, str]:
    """Place flights of an exercise: most points first, those not judged last."""
    return (1.0 if one.hold.points is None else -one.hold.points, one.session.key)


def _title(group: Sequence[FlownExercise]) -> str:
    names = [one.hold.name for one in group if one.hold.name]
    course = group[0].hold.inbound_course_true_deg or 0.0
    said = max(set(names), key=names.count) if names else "Hold"
    return f"{said}, inbound {whole_direction(course):03d}° true, {group[0].hold.turns}-hand"
