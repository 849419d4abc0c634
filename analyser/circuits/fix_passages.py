"""Passages of a given fix: where every lap begins and ends, whatever is flown between."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.frame import HoldView
from analyser.circuits.thresholds import GIVEN
from analyser.frozen import dataclass


@dataclass(frozen=True)
class Passage:
    """One passage of the fix, or of the perpendicular through it: its grid point, and how far beside the fix.

    ``again`` is the grid point of the passage after a whole circle that was flown over the fix, where one was: the lap
    before it ends at the first, the lap after it begins at this one.
    """

    index: int
    miss_nm: float
    again: int | None = None

    @property
    def left(self) -> int:
        """Grid point at which the lap after it begins."""
        return self.index if self.again is None else self.again


def inbound_passages(view: HoldView) -> list[Passage]:
    """Find every passage inbound, near enough to the fix: at most one for each time the way leads inbound.

    The perpendicular's crossing counts, as a needle shows it; whoever turns away before it has passed the fix where
    he came nearest.
    """
    ways = _ways_inbound(view.off_deg)
    seen = [one for number in range(len(ways)) if (one := _seen_passage(view, ways, number)) is not None]
    likeliest = [one.passage for one in _likeliest(seen)]
    return _without_circles_over_the_fix(view, _without_unseen_end(view, likeliest), seen)


def _without_unseen_end(view: HoldView, passages: list[Passage]) -> list[Passage]:
    """Leave out a last passage in a hole of the log, sooner after its beginning than it takes to turn inbound."""
    at = passages[-1].index if passages else 0
    if view.seen[at]:
        return passages
    seen = int(np.flatnonzero(view.seen[:at])[-1]) if view.seen[:at].any() else 0
    turn_s = (abs(view.off_deg[seen]) - GIVEN.within_deg) / view.usual_rate_dps
    return passages[:-1] if at - seen < turn_s else passages


@dataclass(frozen=True)
class _Circle:
    """A whole circle: how long once round took, its width, its usual and its slowest turning through the air.

    Two turns that follow each other have a moment of level wings between, or nearly level; a circle has none. And they
    are turned about as fast as the hold's others, while a circle may be flown at less bank than any of them. Of what
    lies in a hole of the log, or between samples far apart, ``hidden_share`` of it, nobody saw either.
    """

    once_s: float
    width_nm: float
    usual: float
    slowest: float
    hidden_share: float

    @property
    def is_slow(self) -> bool:
        """Whether it was flown at less bank than any turn of the hold."""
        return self.usual < GIVEN.circle_slow

    @property
    def odds(self) -> float:
        """How much more speaks for two turns than for one circle, by how it was turned: a log of odds."""
        slowest = self.slowest / self.usual if self.is_slow else self.slowest
        off = (GIVEN.circle_slowest - slowest) / GIVEN.circle_slowest_slope
        slow = GIVEN.circle_slow_odds if self.is_slow else 0.0
        seen = float(np.clip(off, -GIVEN.circle_steady_most, GIVEN.circle_steady_most)) - slow
        return float(np.log((1.0 - self.hidden_share) * np.exp(seen) + self.hidden_share))


@dataclass(frozen=True)
class _SeenPassage:
    """A way inbound that passes the fix: surely the end of a lap, or perhaps only part of a circle within one.

    ``nearest_nm`` is the nearest to the fix on the whole way inbound; ``crosses`` says whether it crosses the
    perpendicular through it. The circle is the one that the way is part of, or that follows where it has not
    crossed; None where there is none, and it surely ends a lap.
    """

    passage: Passage
    nearest_nm: float
    crosses: bool
    circle: _Circle | None


def _seen_passage(view: HoldView, ways: list[tuple[int, int]], number: int) -> _SeenPassage | None:
    first, last = ways[number]
    passage = _passage(view, first, last)
    if passage is None:
        return None
    nearest = float(view.away_nm[first : last + 1].min())
    crosses = float(view.along_nm[first : last + 1].max()) >= 0.0
    circle = _circle(view, first, last)
    if circle is None and not crosses and number + 1 < len(ways):
        # On its way inbound it circled: what leads outbound between is part of that circle, which may be one with the
        # turns before and after it: then it lies between where the one way and the other led most along the course.
        on = [a + int(np.argmin(np.abs(view.off_deg[a:b]))) for a, b in ways[number : number + 2]]
        circle = _circle(view, last, ways[number + 1][0], inbound=True)
        circle = circle or _circle(view, *on, inbound=True, alone=True)
    return _SeenPassage(passage, nearest, crosses, circle)


def _without_circles_over_the_fix(
    view: HoldView, passages: list[Passage], seen: list[_SeenPassage]
) -> list[Passage]:
    """Join two passages into one where only a whole circle over the fix lies between, and laps with legs are flown."""
    # A lap with circles in it took so much longer.
    took_s = [
        b.index - a.index
        - sum(c.circle.once_s for c in seen if c.circle is not None and a.index < c.passage.index < b.index)
        for a, b in pairwise(passages)
    ]  # fmt: skip
    circles = [_sure_circle(view, a.index, b.index) for a, b in pairwise(passages)]
    laps = [number for number, circle in enumerate(circles) if circle is None]
    if not laps:
        return passages
    # Who hardly flies legs makes laps of much the same time without any, but turns in them as in the others.
    usual_s = float(np.median([took_s[number] for number in laps]))
    outbound_s = np.median([_outbound_s(view, passages[n].index, passages[n + 1].index) for n in laps])
    legged, fine = outbound_s >= GIVEN.circle_outbound_s, view.survey.sample_s < GIVEN.circle_seen_s
    kept: list[Passage] = passages[:1]
    for took, circle, passage in zip(took_s, circles, passages[1:], strict=True):
        if circle is not None and (
            circle.is_slow
            or (legged and took < GIVEN.circle_time_share * usual_s)
            or (legged and fine and usual_s - circle.once_s > GIVEN.circle_legs_s)
        ):
            kept[-1] = replace(kept[-1], again=passage.index)
        else:
            kept.append(passage)
    return kept


def _outbound_s(view: HoldView, first: int, last: int) -> int:
    """Return for how long the way led straight outbound between two passages."""
    level = np.abs(view.turning[first:last]) < GIVEN.orbit_turn_share
    return int((level & (np.abs(view.off_deg[first:last]) > 180.0 - GIVEN.within_deg)).sum())


def nearest_way_back_nm(view: HoldView, passage: Passage) -> float | None:
    """Return how far beside the fix a way inbound after a passage crosses its perpendicular; None where none does."""
    beside: list[float] = []
    for first, last in _ways_inbound(view.off_deg):
        along = view.along_nm[first:last]
        crossed = first + np.flatnonzero((along[:-1] < 0.0) & (along[1:] >= 0.0))
        beside += np.abs(view.cross_nm[crossed]).tolist() if first > passage.left else []
    return min(beside, default=None)


def is_circle(view: HoldView, first: int, last: int) -> bool:
    """Tell whether from one passage to the next one steady circle was flown, with no leg to the fix after it."""
    return _sure_circle(view, first, last) is not None


def _sure_circle(view: HoldView, first: int, last: int) -> _Circle | None:
    turning = np.flatnonzero(np.abs(view.turning[first:last]) > GIVEN.orbit_turn_share)
    if not turning.size:
        return None
    begun, ended = first + int(turning[0]), first + int(turning[-1]) + 1
    # What is turned after it, on the way back to the course, is no part of it.
    side = float(np.sign(view.turned_deg(begun, ended)))
    ended = min(ended, _edge(side * view.turning > GIVEN.orbit_turn_share, begun, 1) + 1)
    circle = _circle(view, begun, ended, inbound=True, alone=True)
    if circle is None or circle.odds > GIVEN.circle_sure_odds:
        return None
    # A headwind sets a circle back from the fix: the way to make up for that, against the wind, is no leg.
    against = float(np.hypot(*view.drift_share)) if view.drift_share[0] < 0.0 else 0.0
    made_up_s = circle.once_s * against / (1.0 - against)
    return circle if last - ended < GIVEN.circle_leg_s + made_up_s else None


def _likeliest(seen: list[_SeenPassage]) -> list[_SeenPassage]:
    """Tell which circles were flown within a lap, and which are the two turns of laps without legs, all together.

    A circle over the fix may be either. Two turns have a moment of level wings between, and one pilot's laps take about
    as long: the passages are taken that explain all of it best. With the usual time of a lap
    fixed, the best passages up to one follow from the best up to the ones before it (dynamic programming); every time
    that some lap takes is tried, for a pilot whose laps are alike and for one whose are not.
    """
    sure = [one for one in seen if one.circle is None]
    if len(sure) == len(seen):
        return seen
    times = [max(_took_s(seen[first : last + 1]), 1.0) for first, last in _spans(seen)]
    if not times:
        return seen
    tried = np.quantile(times, np.linspace(0.0, 1.0, min(len(times), GIVEN.rhythm_times)), method="nearest")
    found = [
        _best_passages(seen, usual_s, spread)
        for usual_s in sorted(set(tried.tolist()))
        for spread in GIVEN.rhythm_sd
    ]
    return max(found, key=lambda one: one[0])[1]


def _spans(seen: list[_SeenPassage]) -> list[tuple[int, int]]:
    """Return every pair of passages that one lap may lead from and to."""
    spans = []
    for last in range(1, len(seen)):
        for first in range(last - 1, -1, -1):
            spans.append((first, last))
            if seen[first].circle is None or last - first > GIVEN.most_circles:
                break
    return spans


def _took_s(passed: list[_SeenPassage]) -> float:
    """Return how long a lap took from the first to the last of some passages, without the circles at those between."""
    circles_s = sum(one.circle.once_s for one in passed[1:-1] if one.circle is not None)
    return passed[-1].passage.index - passed[0].passage.index - circles_s


def _gain(one: _SeenPassage, usual_miss_nm: float) -> float:
    """Return how much more speaks for a lap's end than for a circle within a lap: a log of odds.

    Who usually passes the fix so far beside it ends laps where others have lost it.
    """
    if one.circle is None:
        return 0.0
    if not one.crosses:
        return one.circle.odds - GIVEN.circle_short_odds
    # Over the fix itself two turns may run into each other, with no level wings between.
    beside = one.nearest_nm / (GIVEN.circle_miss_share * one.circle.width_nm)
    lost_nm = max(GIVEN.lost_nm, GIVEN.circle_lost_unlike * usual_miss_nm)
    lost = GIVEN.circle_lost_odds if one.nearest_nm > lost_nm else 0.0
    return one.circle.odds + GIVEN.circle_met_odds * float(np.exp(-0.5 * beside**2)) - lost


def _best_passages(
    seen: list[_SeenPassage], usual_s: float, spread: float
) -> tuple[float, list[_SeenPassage]]:
    """Return what speaks most for a choice of passages, laps taking a given time and spread, and the choice.

    Of those who circle hardly any does so again: every circle but the first of a choice speaks against it.
    """
    # Of one lap nobody can tell whether it is like the others.
    begun = float(np.log(spread / GIVEN.rhythm_sd[-1]))
    usual_miss_nm = float(np.median([one.passage.miss_nm for one in seen if one.circle is None] or [0.0]))
    gains = [_gain(one, usual_miss_nm) for one in seen]
    spans = _spans(seen)
    # By passage, and by whether any circle was flown before it: what speaks for that, and what it followed from.
    best: list[list[float]] = []
    came: list[list[tuple[int, int] | None]] = []
    for last in range(len(seen)):
        totals = [-np.inf, -np.inf]
        via: list[tuple[int, int] | None] = [None, None]
        # Begun here, with what came before taken for circles before the hold.
        if all(other.circle is not None for other in seen[:last]):
            totals[last > 0] = begun + gains[last] - _again(last, circled=False)
        for first in (a for a, b in spans if b == last):
            fits = _fits(_took_s(seen[first : last + 1]), usual_s, spread) + gains[last]
            for circled, before in enumerate(best[first]):
                total = before + fits - _again(last - first - 1, circled=bool(circled))
                now = int(circled or last - first > 1)
                if total > totals[now]:
                    totals[now], via[now] = total, (first, circled)
        best.append(totals)
        came.append(via)
    surely = max((i for i, one in enumerate(seen) if one.circle is None), default=0)
    # Circles are flown within laps that come back to the fix: after the last passage there is hardly one.
    left = {
        (i, circled): one - GIVEN.circle_after_odds * (len(seen) - 1 - i)
        for i, totals in enumerate(best)
        for circled, one in enumerate(totals)
        if i >= surely
    }
    total, kept = max(left.values()), []
    at: tuple[int, int] | None = max(left, key=lambda one: left[one])
    while at is not None:
        kept.append(seen[at[0]])
        at = came[at[0]][at[1]]
    return total, kept[::-1]


def _again(circles: int, *, circled: bool) -> float:
    """Return what speaks against so many circles more, with or without one before them."""
    return GIVEN.circle_again_odds * (circles if circled else max(circles - 1, 0))


def _fits(took_s: float, usual_s: float, spread: float) -> float:
    """Return how well a lap's time fits the usual one: a log-likelihood, bounded below."""
    if took_s < GIVEN.shortest_lap_s:
        return -2.0 * GIVEN.rhythm_most
    off = min(0.5 * float(np.log(took_s / usual_s) / spread) ** 2, GIVEN.rhythm_most)
    return float(np.log(GIVEN.rhythm_sd[-1] / spread)) - off


def _ways_inbound(off_deg: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Return the stretches whose way leads inbound: entered well inside, left only when it leads outbound."""
    inbound = np.abs(off_deg) <= GIVEN.within_deg
    outbound = np.abs(off_deg) >= 180.0 - GIVEN.within_deg
    said = np.where(inbound, 1, np.where(outbound, -1, 0))
    known = np.flatnonzero(said)
    if not known.size:
        return []
    # What leads across keeps the name of what it came from.
    last = np.maximum.accumulate(np.where(said != 0, np.arange(said.size), -1))
    state = np.where(last >= 0, said[np.maximum(last, 0)], said[known[0]])
    bounds = [0, *(np.flatnonzero(np.diff(state)) + 1).tolist(), state.size]
    return [(_begun(off_deg, a), b) for a, b in pairwise(bounds) if state[a] == 1]


def _begun(off_deg: NDArray[np.float64], first: int) -> int:
    """Go back to where the way stopped leading outbound: a fix may be passed before the turn is done."""
    while first > 0 and abs(off_deg[first - 1]) < 90.0:
        first -= 1
    return first


def _passage(view: HoldView, first: int, last: int) -> Passage | None:
    along, away = view.along_nm[first : last + 1], view.away_nm[first : last + 1]
    cross = np.abs(view.cross_nm[first : last + 1])
    crossed = np.flatnonzero((along[:-1] < 0.0) & (along[1:] >= 0.0) & (cross[1:] <= GIVEN.gate_nm))
    if crossed.size:
        at = int(crossed[np.argmin(away[crossed])])
        at += int(abs(along[at + 1]) < abs(along[at]))
        return Passage(first + at, float(away[at]))
    nearest = int(np.argmin(away))
    early_nm = GIVEN.early_nm if last < view.time_s.size else GIVEN.early_left_nm
    early = along.max() >= -max(early_nm, GIVEN.early_share * view.turn_diameter_nm)
    if early and away[nearest] <= GIVEN.gate_nm:
        return Passage(first + nearest, float(away[nearest]))
    return None


def _circle(
    view: HoldView, first: int, last: int, *, inbound: bool = False, alone: bool = False
) -> _Circle | None:
    """Return the whole circle that a stretch is part of, begun and ended outbound, or inbound; None where none is."""
    if first >= last:
        return None
    rate = view.turning
    side = float(np.sign(rate[first:last].sum()))
    turning = side * rate > GIVEN.orbit_turn_share
    if float(turning[first:last].mean()) < GIVEN.circle_turning_share:
        return None
    # A circle over the fix may run on into the next turn.
    begun, ended = (first, last - 1) if alone else (_edge(turning, first, -1), _edge(turning, last - 1, 1))
    turned = abs(view.turned_deg(begun, ended + 1))
    off = abs(view.off_deg[begun])
    from_there = (off if inbound else 180.0 - off) < GIVEN.circle_within_deg
    # From one passage inbound to the next a circle turns through as much as their two courses differ less, or more.
    # Between samples far apart two turns that do are seen as one.
    fine = view.survey.sample_s < GIVEN.circle_seen_s
    least = 360.0 - 2.0 * GIVEN.within_deg if alone and fine else GIVEN.orbit_deg[0]
    circle = least <= turned <= GIVEN.orbit_deg[1]
    two = not alone and GIVEN.orbit_deg[0] <= turned - 360.0 <= GIVEN.orbit_deg[1]
    if not (circle or two) or not from_there:
        return None
    way_nm = float(view.survey.ground_speed_kt[begun : ended + 1].sum()) / 3600.0
    rolls = (last - first) // GIVEN.circle_rolls_part if alone else 0
    usual = float(np.median(side * rate[begun : ended + 1]))
    slowest = float((side * rate[first + rolls : last - rolls]).min())
    once_s = (ended + 1 - begun) * 360.0 / turned
    unseen = 1.0 - float(view.seen[begun : ended + 1].mean())
    hidden_share = max(unseen, 1.0 - GIVEN.circle_seen_s / view.survey.sample_s)
    return _Circle(once_s, 2.0 * way_nm / float(np.radians(turned)), usual, slowest, hidden_share)


def _edge(turning: NDArray[np.bool_], index: int, step: int) -> int:
    """Follow a turn to its end; wings level for a moment do not end it."""
    last = index
    while 0 <= index < turning.size and abs(index - last) <= GIVEN.orbit_pause_s:
        last = index if turning[index] else last
        index += step
    return last


def arrivals_over(view: HoldView, earliest: int, latest: int) -> list[Passage]:
    """Find where the flight came nearest to the fix, in whatever direction, before a grid point; in time order."""
    found: list[Passage] = []
    nearing, best, reach = True, earliest, 0.0
    away = view.away_nm[: max(latest, earliest)].tolist()
    for at in range(earliest, len(away)):
        if nearing and away[at] < away[best]:
            best = at
        elif nearing and away[at] > away[best] + GIVEN.between_visits_nm:
            # Nearest where the stretch begins: it was nearer before.
            if best > earliest and away[best] <= GIVEN.arrival_nm:
                found.append(Passage(best, away[best]))
            nearing, reach = False, away[at]
        elif not nearing and away[at] > reach:
            reach = away[at]
        elif not nearing and away[at] < reach - GIVEN.between_visits_nm:
            nearing, best = True, at
    return found
