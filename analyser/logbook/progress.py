"""How one pilot is getting on: every item over time, what is weakest now, and what to fly next."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter

import numpy as np

from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.logbook.logbook_thresholds import STANDING, TREND
from analyser.logbook.marks import ENTRY, OVERALL, SessionMark, by_item, in_order
from analyser.logbook.practise import Exercise, made_to_measure, plan_for
from analyser.logbook.sessions import Session
from analyser.logbook.standard import ItemStandard, Recency, recency, standards
from analyser.logbook.trend import (
    UNKNOWN_COST,
    Fits,
    FloatArray,
    Series,
    Trend,
    WindCost,
    beside_others,
    fit_forms,
    forms_of,
    trend_of,
    wind_cost,
)
from analyser.rules.graded_items import GradedItem, item_of
from analyser.rules.scales import Scale


@dataclass(frozen=True)
class Experience:
    """What the sessions of a whole logbook teach: worked out once, used for every pilot.

    ``reference_share`` is the wind, as a share of the airspeed, that points are stated for: the median of everything
    flown. ``costs`` are the wind's, by item; ``trends`` and ``marks`` go by pilot and item.
    """

    reference_share: float
    costs: Mapping[str, WindCost]
    trends: Mapping[tuple[str, str], Trend]
    marks: Mapping[str, dict[str, list[SessionMark]]]


@dataclass(frozen=True)
class Standing:
    """Where a pilot stands in an item now, in the reference wind: the latest sessions, with one sigma."""

    points: float
    sd: float
    sessions: int


@dataclass(frozen=True)
class Streak:
    """The longest run of circuits within tolerance; ``running`` where it has not been broken yet."""

    item: GradedItem
    circuits: int
    first: datetime
    last: datetime
    running: bool


@dataclass(frozen=True)
class Count:
    """What is right or wrong is counted: over all sessions, and over the latest ones."""

    right: int
    of: int
    lately_right: int
    lately_of: int


@dataclass(frozen=True)
class ItemProgress:
    """One item over time.

    ``allowed``, an (n,) array, are the points of each session with the wind's ``cost`` allowed for: in the reference
    wind. ``trend`` is None with too few sessions, and for what is counted.
    """

    item: GradedItem
    marks: tuple[SessionMark, ...]
    allowed: FloatArray
    trend: Trend | None
    now: Standing
    cost: WindCost
    unit: str
    count: Count | None = None

    @property
    def first_points(self) -> float:
        """Where the pilot stood in the first sessions, as many as say where the pilot stands now."""
        first = self.allowed[: self.now.sessions]
        return float(np.mean(first) if self.count else np.median(first))

    @property
    def moved(self) -> float:
        """Points from the first sessions to the latest; 0 where the scatter explains that.

        It is no verdict: form that drifts moves too.
        """
        apart = len(self.marks) >= 2 * self.now.sessions
        by = self.now.points - self.first_points
        return by if apart and abs(by) > 2.0 * math.sqrt(2.0) * self.now.sd else 0.0


@dataclass(frozen=True)
class Progress:
    """All that is said about a pilot.

    ``sessions`` are those with a judged hold, in the order flown; ``overall`` is of whole holds; ``unsafe``
    are sessions in which something was, latest first, with the debrief's sentences, of the number that were
    ``looked_for_unsafe``. From ``asked_points`` on the grade asked for is proposed; ``close`` are the items that cannot
    be told from the weakest; ``streaks`` go from the longest; ``standards`` are what instructors' grades say.
    """

    pilot: str
    sessions: tuple[Session, ...]
    items: tuple[ItemProgress, ...]
    overall: ItemProgress | None
    unsafe: tuple[tuple[Session, tuple[str, ...]], ...]
    looked_for_unsafe: int
    reference_share: float
    asked_points: float
    scale: Scale
    weakest: ItemProgress | None
    close: tuple[ItemProgress, ...]
    exercise: Exercise | None
    streaks: tuple[Streak, ...]
    recency: Recency
    standards: tuple[ItemStandard, ...]


def learn(sessions: Sequence[Session]) -> Experience:
    """Work out what all sessions of a logbook teach."""
    marks = {
        pilot: by_item(one for one in sessions if one.pilot == pilot)
        for pilot in sorted({one.pilot for one in sessions})
    }
    each = [mark.wind_share for found in marks.values() for one in found.values() for mark in one]
    shares = [share for share in each if share is not None]
    # Where no wind is known: a usual one.
    reference = round(float(np.median(shares)), 2) if shares else STANDING.usual_wind_share
    noise = _noise(marks)
    series = {pilot: _pilots_series(pilot, found, noise, reference) for pilot, found in marks.items()}
    keys = sorted({key for found in series.values() for key in found})
    costs = {key: wind_cost([found[key] for found in series.values() if key in found]) for key in keys}
    return Experience(reference, costs, trends_of(series, costs, reference), marks)


def _noise(marks: Mapping[str, Mapping[str, Sequence[SessionMark]]]) -> dict[tuple[str, str], float]:
    """Estimate how much one circuit differs from the next of its session, in points squared, by pilot and item.

    A pilot's own circuits tell it, drawn towards what everybody's tell of that item.
    """
    told: dict[tuple[str, str], tuple[float, int]] = {}
    everybody: dict[str, tuple[float, int]] = {}
    for pilot, found in marks.items():
        for key, sessions in found.items():
            each = [np.array(one.each) for one in sessions]
            squares = sum(float(np.sum((points - points.mean()) ** 2)) for points in each)
            freedom = sum(points.size - 1 for points in each)
            told[pilot, key] = squares, freedom
            before = everybody.get(key, (0.0, 0))
            everybody[key] = before[0] + squares, before[1] + freedom

    def drawn(squares: float, freedom: int, towards: float) -> float:
        return (squares + STANDING.noise_weight * towards) / (freedom + STANDING.noise_weight)

    usual = {key: drawn(*sums, STANDING.unknown_noise) for key, sums in everybody.items()}
    return {place: max(STANDING.least_noise, drawn(*sums, usual[place[1]])) for place, sums in told.items()}


def _pilots_series(
    pilot: str,
    marks: Mapping[str, Sequence[SessionMark]],
    noise: Mapping[tuple[str, str], float],
    reference: float,
) -> dict[str, Series]:
    """Take the series of one pilot's items, entries left out, their weeks from the pilot's first session on."""
    items = [key for key in marks if key not in (ENTRY, OVERALL)]
    start = min((one[0].when for one in marks.values()), default=None)
    found = {}
    for key, sessions in marks.items():
        if key == ENTRY or start is None:
            continue
        if key == OVERALL and items:
            # The whole hold is the mean of its items, over some circuits: a hold does not tell here how many.
            of_items = float(np.mean([noise[pilot, each] for each in items]))
            spread = np.full(len(sessions), of_items / len(items) / STANDING.usual_circuits)
        else:
            circuits = np.array([len(one.marks) for one in sessions], float)
            # Two have no median but their mean.
            spread = noise[pilot, key] / circuits * np.where(circuits > 2, STANDING.median_noise_ratio, 1.0)
        found[key] = Series(
            np.array([(mark.when - start).total_seconds() / (7 * 86400.0) for mark in sessions]),
            np.array([mark.points for mark in sessions]),
            wind_shares(sessions, reference),
            spread,
        )
    return found


def wind_shares(marks: Sequence[SessionMark], reference: float) -> FloatArray:
    """Return the wind of each session as a share of the airspeed, (n,); an unknown one stands as the reference."""
    return np.array([reference if mark.wind_share is None else mark.wind_share for mark in marks])


def trends_of(
    series: Mapping[str, Mapping[str, Series]], costs: Mapping[str, WindCost], reference: float
) -> dict[tuple[str, str], Trend]:
    """Work out every trend of a logbook, by pilot and item: all of them teach about each."""
    fits: dict[tuple[str, str], Fits] = {}
    beside: dict[tuple[str, str], Fits] = {}
    for pilot, found in series.items():
        items = {key: one for key, one in found.items() if key != OVERALL}
        for key, one in found.items():
            if one.enough:
                fits[pilot, key] = fit_forms(one, costs[key], reference_share=reference)
            other = beside_others(key, items, costs, reference_share=reference) if key in items else None
            if other is not None:
                beside[pilot, key] = other
    common, common_beside = forms_of(fits, TREND.alike), forms_of(beside, TREND.alike_beside)
    of, of_beside = (Counter(pilot for pilot, _ in found) for found in (fits, beside))
    slopes = {
        (pilot, key): one.slope(common_beside[pilot, key], tail=TREND.false_beside / (2.0 * of_beside[pilot]))
        for (pilot, key), one in beside.items()
    }
    return {
        (pilot, key): trend_of(one, common[pilot, key], items=of[pilot], beside=slopes.get((pilot, key)))
        for (pilot, key), one in fits.items()
    }


def progress_of(
    pilot: str,
    sessions: Sequence[Session],
    *,
    scale: Scale,
    on: date,
    experience: Experience | None = None,
) -> Progress:
    """Work out a pilot's progress from the whole logbook's sessions; recency is stated for the day ``on``.

    ``experience`` is what :func:`learn` made of the sessions, where several pilots are asked for.
    """
    known = experience or learn(sessions)
    own = [one for one in sessions if one.pilot == pilot]
    found = known.marks.get(pilot, {})
    all_items = {
        key: _item_progress(key, found[key], known, known.trends.get((pilot, key))) for key in in_order(found)
    }
    overall = all_items.pop(OVERALL, None)
    items = tuple(all_items.values())
    ranked = sorted(items, key=lambda one: one.now.points)
    weakest = ranked[0] if ranked else None
    return Progress(
        pilot=pilot,
        sessions=tuple(one for one in own if one.holds),
        items=items,
        overall=overall,
        unsafe=tuple((one, said) for one in reversed(own) if (said := one.unsafe)),
        looked_for_unsafe=sum(one.looked_for_unsafe for one in own),
        reference_share=known.reference_share,
        asked_points=scale.asked_points,
        scale=scale,
        weakest=weakest,
        close=tuple(
            one
            for one in ranked[1:]
            if one.now.points - ranked[0].now.points <= 2.0 * math.hypot(one.now.sd, ranked[0].now.sd)
        ),
        exercise=_exercise(weakest, own, scale.asked_points),
        streaks=_streaks(items),
        recency=recency(own, on),
        standards=standards(own, scale),
    )


def _item_progress(
    key: str, marks: Sequence[SessionMark], known: Experience, trend: Trend | None
) -> ItemProgress:
    about = item_of(key)
    # An entry is right or wrong, one a hold: no line fits that, and the sector does not depend on the wind.
    of_all = WindCost(0.0, 0.0) if key == ENTRY else known.costs.get(key, UNKNOWN_COST)
    cost = trend.cost if trend else of_all
    winds = wind_shares(marks, known.reference_share) - known.reference_share
    points = np.array([mark.points for mark in marks])
    allowed = np.clip(points - cost.per_share * winds, 0.0, 100.0)
    units = [mark.unit for one in marks for mark in one.marks if mark.unit]
    right = [mark.within for one in marks for mark in one.marks]
    lately = right[-2 * STANDING.latest_sessions :]
    return ItemProgress(
        item=about,
        marks=tuple(marks),
        allowed=allowed,
        trend=trend,
        now=_entry_standing(allowed) if key == ENTRY else _standing(allowed, trend),
        cost=cost,
        unit=units[0] if units else about.unit,
        count=Count(sum(right), len(right), sum(lately), len(lately)) if key == ENTRY else None,
    )


def _entry_standing(allowed: FloatArray) -> Standing:
    latest = allowed[-2 * STANDING.latest_sessions :]
    scatter = float(np.std(allowed)) * math.sqrt(allowed.size / max(1, allowed.size - 1))
    return Standing(
        float(np.mean(latest)), max(scatter, STANDING.least_scatter) / math.sqrt(latest.size), latest.size
    )


def _standing(allowed: FloatArray, trend: Trend | None) -> Standing:
    latest = allowed[-STANDING.latest_sessions :]
    residuals = allowed - (trend.line if trend else np.median(allowed))
    count = residuals.size
    correlation = trend.correlation if trend else 0.0
    scatter = SIGMA_PER_MEDIAN * float(np.median(np.abs(residuals))) * math.sqrt(count / max(1, count - 2))
    if count > 2:
        # What went up in one step lies off every line; from one session to the next it still scatters little.
        jumps = SIGMA_PER_MEDIAN * float(np.median(np.abs(np.diff(allowed))))
        scatter = min(scatter, jumps / math.sqrt(2.0 * max(0.1, 1.0 - correlation)))
    # One session does not tell by how much another one differs, and two that agree may do so by chance.
    scatter = math.sqrt(((count - 1) * scatter**2 + STANDING.unknown_noise) / count)
    # Sessions that resemble their neighbours tell less than as many that do not.
    lags = np.arange(1, latest.size)
    alike = 2.0 * float(np.sum((1.0 - lags / latest.size) * correlation**lags))
    sd = (
        STANDING.median_sd_ratio
        * max(scatter, STANDING.least_scatter)
        * math.sqrt((1.0 + alike) / latest.size)
    )
    return Standing(float(np.median(latest)), sd, latest.size)


def _exercise(weakest: ItemProgress | None, own: Sequence[Session], asked: float) -> Exercise | None:
    plan = plan_for(weakest.item.key) if weakest else None
    if plan is None or weakest is None:
        return None
    latest = sorted(own, key=lambda one: one.when, reverse=True)
    made = (
        made_to_measure(plan, hold, hard=weakest.now.points >= asked) for one in latest for hold in one.holds
    )
    return next(filter(None, made), None)


def _streaks(items: Sequence[ItemProgress]) -> tuple[Streak, ...]:
    found = []
    for one in items:
        marks = [(mark.within, session.when) for session in one.marks for mark in session.marks]
        runs = [[when for _, when in run] for within, run in groupby(marks, itemgetter(0)) if within]
        longest = max(runs, key=len, default=[])
        if len(longest) > 1:
            running = marks[-1][0] and longest is runs[-1]
            found.append(Streak(one.item, len(longest), longest[0], longest[-1], running))
    return tuple(sorted(found, key=lambda streak: -streak.circuits))
