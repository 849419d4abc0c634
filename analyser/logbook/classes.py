"""Comparing a class: item by pilot, the same exercise side by side, and how the grading leans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np

from analyser.earth.angles import wrap180
from analyser.earth.plane import METRES_PER_NM, wgs84
from analyser.logbook.flatten import number_or_none
from analyser.logbook.items import in_order
from analyser.logbook.marks import by_item
from analyser.logbook.progress import reference_share, wind_costs
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.trend import UNKNOWN_COST, student

#: Two inferred holds are the same exercise when their fixes and courses differ by no more than this.
SAME_FIX_NM = 0.75
SAME_COURSE_DEG = 6.0


@dataclass(frozen=True)
class Cell:
    """One item of one pilot.

    Attributes
    ----------
    points : float
        Median of the sessions' medians, as flown.
    allowed : float
        The same with the wind allowed for.
    low, high : float
        Quartiles of the sessions, as flown.
    sessions : int
    """

    points: float
    allowed: float
    low: float
    high: float
    sessions: int


@dataclass(frozen=True)
class FlownExercise:
    """One hold as somebody flew it.

    Attributes
    ----------
    session : Session
    number : int
        Of the hold in its log, from 1.
    hold : mapping
        Its part of the document.
    path : sequence of (s, east_nm, north_nm), or None
    """

    session: Session
    number: int
    hold: Mapping[str, Any]
    path: Sequence[Sequence[float]] | None

    @property
    def points(self) -> float | None:
        """Of the whole hold."""
        return number_or_none(self.hold.get("points"))


@dataclass(frozen=True)
class Leaning:
    """How far an instructor's grades and the computed points disagree.

    Attributes
    ----------
    instructor : str
    scale : str
    item : str
        Item key, or ``"all"``.
    grades : int
        Of items that were computed too.
    mean : float
        Mean of the instructor's grade minus the proposed one, in steps of the scale; positive is kinder.
    low, high : float or None
        95 % limits of that mean; None for a single grade.
    apart : float
        Mean size of the difference, whichever way.
    against_pilot : float or None
        Mean of the instructor's grade minus the pilot's own.
    """

    instructor: str
    scale: str
    item: str
    grades: int
    mean: float
    low: float | None
    high: float | None
    apart: float
    against_pilot: float | None


@dataclass(frozen=True)
class Comparison:
    """A class over a period.

    Attributes
    ----------
    sessions : tuple of Session
    pilots : tuple of str
    items : tuple of str
    table : mapping of (item, pilot) to Cell
    reference_share : float
    exercises : tuple of (title, tuple of FlownExercise)
        Each flown by two or more, most points first.
    leanings : tuple of Leaning
    """

    sessions: tuple[Session, ...]
    pilots: tuple[str, ...]
    items: tuple[str, ...]
    table: Mapping[tuple[str, str], Cell]
    reference_share: float
    exercises: tuple[tuple[str, tuple[FlownExercise, ...]], ...]
    leanings: tuple[Leaning, ...]


def compare(sessions: Sequence[Session]) -> Comparison:
    """Compare the pilots of some sessions.

    Parameters
    ----------
    sessions : sequence of Session

    Returns
    -------
    Comparison
    """
    pilots = tuple(sorted({one.pilot for one in sessions}, key=str.casefold))
    reference = reference_share(sessions)
    costs = wind_costs(sessions, reference)
    table: dict[tuple[str, str], Cell] = {}
    for pilot in pilots:
        for key, marks in by_item(one for one in sessions if one.pilot == pilot).items():
            points = np.array([mark.points for mark in marks])
            shares = np.array([reference if m.wind_share is None else m.wind_share for m in marks])
            cost = costs.get(key, UNKNOWN_COST).per_share
            low, high = np.percentile(points, [25, 75])
            allowed = float(np.clip(np.median(points - cost * (shares - reference)), 0.0, 100.0))
            table[key, pilot] = Cell(float(np.median(points)), allowed, float(low), float(high), len(marks))
    return Comparison(
        sessions=tuple(sessions),
        pilots=pilots,
        items=tuple(in_order(key for key, _ in table)),
        table=table,
        reference_share=reference,
        exercises=_same_exercises(sessions),
        leanings=tuple(leanings(sessions)),
    )


def _same_exercises(sessions: Sequence[Session]) -> tuple[tuple[str, tuple[FlownExercise, ...]], ...]:
    groups: list[list[FlownExercise]] = []
    for one in _flown(sessions):
        for group in groups:
            if _same(group[0].hold, one.hold):
                group.append(one)
                break
        else:
            groups.append([one])
    shared = [group for group in groups if len({one.session.pilot for one in group}) > 1]
    titled = [(_title(group), tuple(sorted(group, key=_by_points))) for group in shared]
    return tuple(sorted(titled, key=lambda pair: -len(pair[1])))


def _flown(sessions: Sequence[Session]) -> list[FlownExercise]:
    found = []
    for session in sessions:
        for place, hold in enumerate(session.holds):
            found.append(FlownExercise(session, place + 1, hold, session.debrief.path(place)))
    return found


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    if one.get("turns") != other.get("turns") or bool(_minutes(one)) != bool(_minutes(other)):
        return False
    courses = [number_or_none(hold.get("inbound_course_true")) for hold in (one, other)]
    if courses[0] is None or courses[1] is None or abs(wrap180(courses[0] - courses[1])) > SAME_COURSE_DEG:
        return False
    apart = _apart_nm(one.get("fix") or {}, other.get("fix") or {})
    return apart is not None and apart <= SAME_FIX_NM


def _apart_nm(one: Mapping[str, Any], other: Mapping[str, Any]) -> float | None:
    lat, lon = number_or_none(one.get("lat")), number_or_none(one.get("lon"))
    other_lat, other_lon = number_or_none(other.get("lat")), number_or_none(other.get("lon"))
    if lat is None or lon is None or other_lat is None or other_lon is None:
        return None
    # Inverse geodesic, so that neither the date line nor a pole makes two holds of one.
    return float(wgs84().inv(lon, lat, other_lon, other_lat)[2]) / METRES_PER_NM


def _minutes(hold: Mapping[str, Any]) -> object:
    return (hold.get("leg") or {}).get("minutes")


def _title(group: Sequence[FlownExercise]) -> str:
    names = [str(one.hold.get("name")) for one in group if one.hold.get("name")]
    course = median(float(one.hold["inbound_course_true"]) for one in group[:1])
    said = max(set(names), key=names.count) if names else "Hold"
    return f"{said}, inbound {round(course) % 360 or 360:03d}° true, {group[0].hold['turns']}-hand"


def _by_points(one: FlownExercise) -> tuple[float, str]:
    return (-one.points if one.points is not None else 1.0, one.session.key)


def leanings(sessions: Sequence[Session]) -> list[Leaning]:
    """Work out how each instructor's grades lean against the computed points.

    Parameters
    ----------
    sessions : sequence of Session

    Returns
    -------
    list of Leaning
        Per instructor and scale: all items together first, then each item.
    """
    found: dict[tuple[str, str, str], list[tuple[int, int | None]]] = {}
    for session in sessions:
        standing = session.standing_grades()
        for (hold, key, given_as), one in standing.items():
            if given_as != "instructor" or one.proposed_place is None or one.grader is None:
                continue
            own = standing.get((hold, key, "pilot"))
            pair = (one.place - one.proposed_place, _difference(one, own))
            found.setdefault((one.grader, one.scale, "all"), []).append(pair)
            found.setdefault((one.grader, one.scale, key), []).append(pair)
    order = ["all", *in_order(key for _, _, key in found if key != "all")]
    ranked = sorted(found, key=lambda key: (key[0].casefold(), key[1], order.index(key[2])))
    return [_leaning(key, found[key]) for key in ranked]


def _difference(one: Grade, own: Grade | None) -> int | None:
    return one.place - own.place if own is not None and own.scale == one.scale else None


def _leaning(key: tuple[str, str, str], pairs: Sequence[tuple[int, int | None]]) -> Leaning:
    steps = np.array([step for step, _ in pairs], float)
    mean, count = float(steps.mean()), steps.size
    half = student(0.975, count - 1) * float(steps.std(ddof=1)) / np.sqrt(count) if count > 1 else None
    own = [other for _, other in pairs if other is not None]
    return Leaning(
        *key,
        grades=count,
        mean=mean,
        low=None if half is None else float(mean - half),
        high=None if half is None else float(mean + half),
        apart=float(np.abs(steps).mean()),
        against_pilot=float(np.mean(own)) if own else None,
    )
