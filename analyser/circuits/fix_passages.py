"""Passages of a given fix: where every lap begins and ends, whatever is flown between."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.hold_view import HoldView
from analyser.circuits.thresholds import GIVEN


@dataclass(frozen=True)
class Passage:
    """One passage of the fix, or of the perpendicular through it.

    Attributes
    ----------
    index : int
        Grid point.
    miss_nm : float
        How far beside the fix.
    """

    index: int
    miss_nm: float


def inbound_passages(view: HoldView, *, circles: bool = False) -> list[Passage]:
    """Find every passage inbound, near enough to the fix: at most one for each time the way leads inbound.

    The perpendicular's crossing counts, as a needle shows it; whoever turns away before it has passed the fix where
    he came nearest.

    Parameters
    ----------
    view : HoldView
    circles : bool
        Whether whole circles that lead past the fix are passages in any case.
    """
    ways = _ways_inbound(view.off_deg)
    widths = [_circle_width_nm(view, first, last) for first, last in ways]
    found = [_passage(view, first, last) for first, last in ways]
    clean = [p.miss_nm for p, width in zip(found, widths, strict=True) if p is not None and width is None]
    usual = float(np.median(clean)) if clean else 0.0
    sure_s = [
        float(p.index) for p, width in zip(found, widths, strict=True) if p is not None and width is None
    ]
    kept: list[Passage] = []
    running = _running([p is not None and width is not None for p, width in zip(found, widths, strict=True)])
    for number, (passage, width, way) in enumerate(zip(found, widths, ways, strict=True)):
        if passage is None:
            continue
        beside = width is not None and _is_beside(view, way, width, usual)
        beside = beside and not (number in running and _meets(view, way, width or 0.0))
        crosses = float(view.along_nm[way[0] : way[1] + 1].max()) >= 0.0
        if width is not None and crosses and (said := _rhythm(view, passage.index, sure_s, kept)) is not None:
            beside = said
        if circles and width is not None and crosses:
            beside = float(view.away_nm[way[0] : way[1]].min()) > GIVEN.met_nm
        if not beside:
            kept.append(passage)
    return kept


def _running(circles: list[bool]) -> set[int]:
    """Return which circles follow another without a sure passage between: laps without legs, not orbits within one."""
    return {
        i for pair in pairwise(range(len(circles))) if circles[pair[0]] and circles[pair[1]] for i in pair
    }


def _meets(view: HoldView, way: tuple[int, int], width_nm: float) -> bool:
    """Tell whether a circle leads past the fix and near it, by its own width."""
    nearest = float(view.away_nm[way[0] : way[1]].min())
    return float(view.along_nm[way[0] : way[1] + 1].max()) >= 0.0 and nearest < GIVEN.running_share * width_nm


def _rhythm(view: HoldView, at: int, sure: list[float], kept: list[Passage]) -> bool | None:
    """Tell by the time that laps take whether a circle was flown within one; None where that does not tell.

    One pilot's laps take about as long. Between the sure passages before and after there is either one lap with a
    circle in it, or the circle is itself the way past the fix, and there are two.
    """
    before = max([*(p.index for p in kept), *(s for s in sure if s < at)], default=None)
    after = min((s for s in sure if s > at), default=None)
    laps = np.diff(np.array(sure))
    others = [lap for lap, end in zip(laps, sure[1:], strict=True) if not end - lap < at < end]
    if before is None or after is None or not others:
        return None
    usual, circle = float(np.median(others)), 360.0 / view.usual_rate_dps
    one = abs(np.log(max(after - before - circle, 1.0) / usual))
    two = 0.5 * (abs(np.log((at - before) / usual)) + abs(np.log((after - at) / usual)))
    return bool(one < two) if abs(one - two) > GIVEN.rhythm_tells else None


def _is_beside(view: HoldView, way: tuple[int, int], width_nm: float, usual_nm: float) -> bool:
    """Tell whether a whole circle, begun and ended outbound, was flown beside the fix and not over it."""
    first, last = way
    nearest = float(view.away_nm[first:last].min())
    unlike = nearest > max(GIVEN.orbit_unlike_share * width_nm, GIVEN.orbit_unlike_ratio * usual_nm)
    far = nearest > max(GIVEN.orbit_away_nm, GIVEN.orbit_away_share * width_nm)
    return unlike or far or float(view.along_nm[first : last + 1].max()) < 0.0


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
    early = along.max() >= -max(GIVEN.early_nm, 0.4 * view.turn_diameter_nm)
    if early and away[nearest] <= GIVEN.gate_nm:
        return Passage(first + nearest, float(away[nearest]))
    return None


def _circle_width_nm(view: HoldView, first: int, last: int) -> float | None:
    """Return how wide the circle is that a way inbound is part of, begun and ended outbound; None if it is of none."""
    rate = view.rate_dps / view.usual_rate_dps
    side = float(np.sign(rate[first:last].sum()))
    turning = side * rate > GIVEN.orbit_turn_share
    if first >= last or float(turning[first:last].mean()) < 0.85:
        return None
    begun, ended = _edge(turning, first, -1), _edge(turning, last - 1, 1)
    turned = abs(view.turned_deg(begun, ended + 1))
    whole = GIVEN.orbit_deg[0] <= turned <= GIVEN.orbit_deg[1]
    outbound = abs(view.off_deg[begun]) > 180.0 - GIVEN.within_deg - 10.0
    way_nm = float(view.survey.ground_speed_kt[begun : ended + 1].sum()) / 3600.0
    return 2.0 * way_nm / float(np.radians(turned)) if whole and outbound else None


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
