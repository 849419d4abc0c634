"""How one pilot is getting on: every item over time, what is weakest now, and what to fly next."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from analyser.logbook.items import ENTRY, Item, in_order, item
from analyser.logbook.marks import SessionMark, by_item
from analyser.logbook.practise import Exercise, made_to_measure, plan_for
from analyser.logbook.recency import Recency, recency
from analyser.logbook.sessions import Session
from analyser.logbook.trend import UNKNOWN_COST, Cost, FloatArray, Trend, fit_trend, wind_cost
from analyser.rules.scales import Scale

#: How many of the latest sessions say where a pilot stands now.
RECENT = 4
_MAD = 1.4826


@dataclass(frozen=True)
class Standing:
    """Where a pilot stands in an item now, in the reference wind.

    Attributes
    ----------
    points : float
        Mean over the latest sessions.
    sd : float
        One sigma of that mean, from the scatter of all sessions about their trend.
    sessions : int
        How many sessions it rests on.
    """

    points: float
    sd: float
    sessions: int


@dataclass(frozen=True)
class Streak:
    """The longest run of circuits within tolerance.

    Attributes
    ----------
    item : Item
    circuits : int
    first, last : datetime
    running : bool
        It has not been broken yet.
    """

    item: Item
    circuits: int
    first: datetime
    last: datetime
    running: bool


@dataclass(frozen=True)
class ItemProgress:
    """One item over time.

    Attributes
    ----------
    item : Item
    marks : tuple of SessionMark
    allowed : (n,) float array
        Session medians with the wind allowed for: the points in the reference wind.
    trend : Trend or None
        None with too few sessions.
    now : Standing
    cost : Cost
        Of the wind, as allowed for.
    unit : str
    """

    item: Item
    marks: tuple[SessionMark, ...]
    allowed: FloatArray
    trend: Trend | None
    now: Standing
    cost: Cost
    unit: str


@dataclass(frozen=True)
class Progress:
    """All that is said about a pilot.

    Attributes
    ----------
    pilot : str
    sessions : tuple of Session
        In the order flown, those with a judged hold.
    items : tuple of ItemProgress
    reference_share : float
        Wind, as a share of the airspeed, that points are stated for.
    asked_points : float
        Points from which the grade asked for is proposed.
    scale : Scale
    weakest : ItemProgress or None
    close : tuple of ItemProgress
        Others that cannot be told from the weakest.
    exercise : Exercise or None
    streaks : tuple of Streak
        Longest first.
    recency : Recency
    """

    pilot: str
    sessions: tuple[Session, ...]
    items: tuple[ItemProgress, ...]
    reference_share: float
    asked_points: float
    scale: Scale
    weakest: ItemProgress | None
    close: tuple[ItemProgress, ...]
    exercise: Exercise | None
    streaks: tuple[Streak, ...]
    recency: Recency


def progress_of(pilot: str, sessions: Sequence[Session], *, scale: Scale, on: date) -> Progress:
    """Work out a pilot's progress.

    Parameters
    ----------
    pilot : str
        As the sessions name the pilot.
    sessions : sequence of Session
        The whole logbook's: what wind costs is learnt from everybody.
    scale : Scale
    on : date
        For recency.

    Returns
    -------
    Progress
    """
    own = [one for one in sessions if one.pilot == pilot]
    reference = reference_share(sessions)
    costs = wind_costs(sessions, reference)
    found = by_item(own)
    items = tuple(
        _item_progress(item(key), found[key], costs.get(key, UNKNOWN_COST), reference)
        for key in in_order(found)
    )
    asked = scale.asked_points
    ranked = sorted(items, key=lambda one: one.now.points)
    weakest = ranked[0] if ranked else None
    return Progress(
        pilot=pilot,
        sessions=tuple(one for one in own if one.holds),
        items=items,
        reference_share=reference,
        asked_points=asked,
        scale=scale,
        weakest=weakest,
        close=tuple(one for one in ranked[1:] if weakest and _alike(weakest.now, one.now)),
        exercise=_exercise(weakest, own, asked),
        streaks=_streaks(items),
        recency=recency(own, on),
    )


def reference_share(sessions: Sequence[Session]) -> float:
    """Return the wind that points are stated for: the median of everything flown.

    Parameters
    ----------
    sessions : sequence of Session

    Returns
    -------
    float
        Share of the airspeed, to whole hundredths; 0.1 where no wind is known.
    """
    known = [mark.wind_share for marks in by_item(sessions).values() for mark in marks]
    shares = [share for share in known if share is not None]
    return round(float(np.median(shares)), 2) if shares else 0.1


def wind_costs(sessions: Sequence[Session], reference: float) -> Mapping[str, Cost]:
    """Estimate what wind costs, item by item, from all pilots.

    Parameters
    ----------
    sessions : sequence of Session
    reference : float
        Stands in where a wind is not known.

    Returns
    -------
    mapping of item key to Cost
    """
    groups: dict[str, list[tuple[FloatArray, FloatArray, FloatArray]]] = {}
    for pilot in sorted({one.pilot for one in sessions}):
        for key, marks in by_item(one for one in sessions if one.pilot == pilot).items():
            groups.setdefault(key, []).append(_series(marks, reference))
    return {key: wind_cost(group) for key, group in groups.items()}


def _series(marks: Sequence[SessionMark], reference: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    start = marks[0].when
    weeks = np.array([(mark.when - start).total_seconds() / (7 * 86400.0) for mark in marks])
    points = np.array([_points(mark) for mark in marks])
    shares = np.array([reference if mark.wind_share is None else mark.wind_share for mark in marks])
    return weeks, points, shares


def _points(mark: SessionMark) -> float:
    # An entry is right or wrong, and there is one a hold: its mean says something, its median does not.
    if any(one.tolerance is None for one in mark.marks):
        return sum(one.points for one in mark.marks) / len(mark.marks)
    return mark.points


def _item_progress(about: Item, marks: Sequence[SessionMark], common: Cost, reference: float) -> ItemProgress:
    weeks, points, shares = _series(marks, reference)
    if about.key == ENTRY:
        # Right or wrong, one a hold: no line fits that, and the sector does not depend on the wind.
        trend, cost = None, Cost(0.0, 0.0)
    else:
        trend = fit_trend(weeks, points, shares, prior=common, reference_share=reference)
        cost = trend.cost if trend else common
    allowed = np.clip(points - cost.per_share * (shares - reference), 0.0, 100.0)
    residuals = allowed - (trend.line if trend else np.median(allowed))
    units = [mark.unit for one in marks for mark in one.marks if mark.unit]
    return ItemProgress(
        item=about,
        marks=tuple(marks),
        allowed=allowed,
        trend=trend,
        now=_standing(about, allowed, residuals),
        cost=cost,
        unit=units[0] if units else about.unit,
    )


def _standing(about: Item, allowed: FloatArray, residuals: FloatArray) -> Standing:
    latest = allowed[-(2 * RECENT if about.key == ENTRY else RECENT) :]
    freedom = max(1, residuals.size - 2)
    scatter = _MAD * float(np.median(np.abs(residuals))) * math.sqrt(residuals.size / freedom)
    if about.key == ENTRY:
        scatter = float(np.std(residuals)) * math.sqrt(residuals.size / freedom)
    level = float(np.mean(latest) if about.key == ENTRY else np.median(latest))
    # A median of normal noise scatters 1.25 times as much as a mean.
    return Standing(level, 1.25 * max(scatter, 2.0) / math.sqrt(latest.size), latest.size)


def _alike(one: Standing, other: Standing) -> bool:
    return abs(one.points - other.points) <= 2.0 * math.hypot(one.sd, other.sd)


def _exercise(weakest: ItemProgress | None, own: Sequence[Session], asked: float) -> Exercise | None:
    plan = plan_for(weakest.item.key) if weakest else None
    if plan is None or weakest is None:
        return None
    for session in sorted(own, key=lambda one: one.when, reverse=True):
        for hold in session.holds:
            made = made_to_measure(plan, hold, hard=weakest.now.points >= asked)
            if made is not None:
                return made
    return None


def _streaks(items: Sequence[ItemProgress]) -> tuple[Streak, ...]:
    found = [streak for one in items if (streak := _streak(one)) and streak.circuits >= 2]
    return tuple(sorted(found, key=lambda streak: -streak.circuits))


def _streak(one: ItemProgress) -> Streak | None:
    best: Streak | None = None
    run: list[datetime] = []
    marks = [(mark.within, session.when) for session in one.marks for mark in session.marks]
    for place, (within, when) in enumerate(marks):
        run = [*run, when] if within else []
        if run and (best is None or len(run) > best.circuits):
            best = Streak(one.item, len(run), run[0], when, place == len(marks) - 1)
    return best
