"""Racetracks: two like turns of about half a circle, the same way, a leg between, back over one point.

From the runs of turning we build chains of turns of one hand. In a chain every other turn may be the outbound
one, which begins over the fix: both readings are tried, laps that do not come back over their own beginning
are dropped, and the reading is kept under which the turns begin more nearly at one point, the arrival looks
more like an entry and the departure crosses the fix (after the inbound leg a pilot is over the fix; the
outbound end is wherever clock and wind put it).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.turning import TurnRun, is_whole_circle
from analyser.earth.angles import wrap180
from analyser.motion.survey import Survey

FloatArray = NDArray[np.float64]

M_PER_NM = 1852.0
#: A hold's turn is half a circle, give or take the drift corrections of both legs in a strong wind.
LEAST_TURN_DEG, MOST_TURN_DEG = 100.0, 262.0
#: An outbound turn of more than this began as the end of meeting the course, so not over the fix.
MERGED_TURN_DEG = 205.0
#: Who joins from the side may fly on over the fix this long before turning, seconds.
LATE_TURN_S = 60
#: The first turn of a direct entry from the edge of its sector is less: 70 degrees, and drift.
LEAST_FIRST_TURN_DEG = 55.0
#: Who joins directly from another sector turns nearly a whole circle first.
MOST_FIRST_TURN_DEG = 330.0
#: No leg is shorter, or it is an orbit; none longer, or it is a journey.
SHORTEST_LEG_S, LONGEST_LEG_S = 6.0, 780.0
LONGEST_FIRST_LEG_S, LONGEST_LAST_LEG_S = 200.0, 600.0
#: A correction the other way within a leg, an over-shot course regained, does not end a chain.
LARGEST_CORRECTION_DEG = 75.0
#: Laps of one hold begin within this share of the closing distance of each other and come back within this angle
#: of one course, or within the wider one where they begin at one point.
FIX_APART_SHARE, COURSE_APART_DEG, LATE_MET_DEG = 1.6, 40.0, 75.0
#: Nothing is said of an arrival that the log has less of than this, seconds.
LOG_BEGINS_S = 20
#: A last lap that misses the fix by more than this, and by so many times the others' usual miss, was left.
LEFT_MISS_NM, LEFT_MISS_RATIO = 0.7, 5.0
#: Between laps of one hold, one may be flown so badly that it misses by this many times the tolerance.
ODD_ONE_RATIO = 2.5
#: An offset entry meets the fix within this distance.
OFFSET_MET_NM = 0.6
#: … and its leg leads to the holding side of the outbound course, negative here, or it is a lap's own.
OFFSET_LEAST_LEAN_DEG = -5.0
#: A lap speaks for its fix with so many points; that it comes back near it makes up this share of them, and half
#: of that share if it misses by this much of the tolerance.
LAP_POINTS, CLOSE_SHARE, HALF_MISS_SHARE = 1.6, 0.75, 0.3
#: A parallel entry's turn back, of the other hand, ends so long before the first lap at most; the fix was passed so
#: long before it at most, and the leg between leads within this of the outbound course.
PARALLEL_BACK_S, PARALLEL_LEG_S, PARALLEL_WITHIN_DEG = 240, 240, 60.0
#: A lap comes back to its beginning within this distance, or within this share of its turn's diameter.
CLOSING_NM, CLOSING_SHARE = 1.0, 0.5


@dataclass(frozen=True)
class Lap:
    """One lap of a racetrack in a survey.

    Attributes
    ----------
    outbound, inbound : TurnRun
        Its two turns; the outbound turn begins at the fix.
    fix_m : (2,) float array
        Where the outbound turn begins, unrolled metres east and north.
    course_deg : float
        Ground track when coming back towards the fix.
    miss_nm : float
        Distance at which the way back passes ``fix_m``.
    passage : int
        Grid point of that passage.
    """

    outbound: TurnRun
    inbound: TurnRun
    fix_m: FloatArray
    course_deg: float
    miss_nm: float
    passage: int


@dataclass(frozen=True)
class Racetrack:
    """A chain of laps over one fix, as first seen.

    Attributes
    ----------
    side : int
        +1 right, -1 left.
    laps : tuple of Lap
    fix_m : (2,) float array
        Mean of the laps' fixes.
    course_deg : float
        Mean inbound ground track.
    before, after : TurnRun or None
        The turn of the same hand before the first lap (an offset entry's, perhaps) and after the last.
    score : float
        How much better this reading fits than nothing; compared between readings of one chain.
    scale_s : float
        Smoothing at which it was seen.
    why_not : str
        Empty, or why this is no hold after all.
    reasons : tuple of str
        What the score is made of.
    arrives : bool
        Whether the way to the first lap fits an entry.
    turned_back : TurnRun or None
        The great turn of the other hand just before the first lap (a parallel entry's, perhaps) or before ``before``.
    """

    side: int
    laps: tuple[Lap, ...]
    fix_m: FloatArray
    course_deg: float
    before: TurnRun | None
    after: TurnRun | None
    score: float
    scale_s: float
    why_not: str = ""
    reasons: tuple[str, ...] = field(default=())
    arrives: bool = True
    turned_back: TurnRun | None = None

    @property
    def has_halves(self) -> bool:
        """True where a whole circle was taken apart to read it."""
        return any(turn.half for lap in self.laps for turn in (lap.outbound, lap.inbound))

    @property
    def start(self) -> int:
        """First grid point of the first lap."""
        return self.laps[0].outbound.start

    @property
    def end(self) -> int:
        """Last grid point: the last return to the fix."""
        return self.laps[-1].passage


def chains(runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Group runs of turning into chains of half circles of one hand.

    Parameters
    ----------
    runs : list of TurnRun
        In time order.

    Returns
    -------
    list of list of TurnRun
        Each of at least two turns. Whole circles flown within a chain (a 360 to lose time) are left out.
    """
    found: list[list[TurnRun]] = []
    chain: list[TurnRun] = []
    for run in runs:
        if not _half_circle(run):
            if abs(run.change_deg) > LARGEST_CORRECTION_DEG and not (
                chain and is_whole_circle(run) and run.side == chain[-1].side
            ):
                found, chain = [*found, chain], []
            continue
        if chain and _follows(run, chain[-1]):
            chain.append(run)
        else:
            found, chain = [*found, chain], [run]
    whole = [c for c in [*found, chain] if c]
    begun = [[small, *c] for c in whole for small in runs if _first_turn(small, c[0])]
    return [c for c in [*whole, *begun] if len(c) >= 2]


def _follows(run: TurnRun, before: TurnRun) -> bool:
    if run.half and before.half and run.start == before.end:
        return run.side == before.side
    return run.side == before.side and SHORTEST_LEG_S <= run.start - before.end <= LONGEST_LEG_S


def _first_turn(small: TurnRun, first: TurnRun) -> bool:
    """Tell whether a lesser or a greater turn may be the outbound turn of a direct entry before a chain."""
    lesser = LEAST_FIRST_TURN_DEG <= abs(small.change_deg) < LEAST_TURN_DEG
    greater = MOST_TURN_DEG < abs(small.change_deg) <= MOST_FIRST_TURN_DEG
    return (lesser or greater) and _follows(first, small) and first.start - small.end < LONGEST_FIRST_LEG_S


def _half_circle(run: TurnRun) -> bool:
    return LEAST_TURN_DEG <= abs(run.change_deg) <= MOST_TURN_DEG


def racetracks(survey: Survey, chain: list[TurnRun], scale_s: float, runs: list[TurnRun]) -> list[Racetrack]:
    """Read a chain of turns as laps of one hold, in both ways.

    Parameters
    ----------
    survey : Survey
    chain : list of TurnRun
    scale_s : float
    runs : list of TurnRun
        All turning of the flight, for what came before the chain.

    Returns
    -------
    list of Racetrack
        Best reading first for every stretch of the chain; readings without a closing lap are absent.
    """
    readings = [
        _read(survey, chain, group, scale_s, runs)
        for parity in (0, 1)
        for group in _groups(survey, _laps(survey, chain, parity))
    ]
    return sorted(readings, key=lambda r: -r.score)


def _laps(survey: Survey, chain: list[TurnRun], parity: int) -> list[Lap]:
    """Return the laps of one reading, their outbound turns freed of what was still the meeting of the course.

    Who meets the course late is still turning when the fix goes by, and the outbound turn seems to begin
    before it. Where other laps show the fix, such a turn is cut where it passes there.
    """
    laps = [_lap(survey, chain, i) for i in range(parity, len(chain) - 1, 2)]
    clean = [lap.fix_m for lap in laps if LEAST_TURN_DEG <= abs(lap.outbound.change_deg) <= MERGED_TURN_DEG]
    if not clean:
        return laps
    fix = np.median(clean, axis=0)
    return [_settled(survey, lap, fix) for lap in laps]


def _settled(survey: Survey, lap: Lap, fix_m: FloatArray) -> Lap:
    turned = abs(lap.outbound.change_deg)
    if turned > MERGED_TURN_DEG:
        return _freed(survey, lap, fix_m)
    return _joined_late(survey, lap, fix_m) if turned < LEAST_TURN_DEG else lap


def _joined_late(survey: Survey, lap: Lap, fix_m: FloatArray) -> Lap:
    """Begin a lap at the fix where a direct entry from the side flew on over it before turning."""
    early = slice(max(lap.outbound.start - LATE_TURN_S, 0), lap.outbound.start + 1)
    away = np.hypot(survey.east_m[early] - fix_m[0], survey.north_m[early] - fix_m[1])
    if away.min() / M_PER_NM > CLOSING_NM:
        return lap
    return _back_over(survey, lap, _point(survey, early.start + int(np.argmin(away))))


def _back_over(survey: Survey, lap: Lap, fix_m: FloatArray) -> Lap:
    """Give a lap its fix, and look anew for the way back over it."""
    back = slice(lap.inbound.end, max(lap.passage + LATE_TURN_S, lap.inbound.end + 1))
    miss = np.hypot(survey.east_m[back] - fix_m[0], survey.north_m[back] - fix_m[1]) / M_PER_NM
    if not miss.size:
        return replace(lap, fix_m=fix_m)
    nearest = int(np.argmin(miss))
    return replace(lap, fix_m=fix_m, miss_nm=float(miss[nearest]), passage=lap.inbound.end + nearest)


def _freed(survey: Survey, lap: Lap, fix_m: FloatArray) -> Lap:
    half = slice(lap.outbound.start, (lap.outbound.start + lap.outbound.end) // 2)
    away = np.hypot(survey.east_m[half] - fix_m[0], survey.north_m[half] - fix_m[1])
    cut = lap.outbound.start + int(np.argmin(away))
    if away.min() / M_PER_NM > CLOSING_NM or cut == lap.outbound.start:
        return lap
    turned = float(survey.turn_rate_dps[lap.outbound.start : cut].sum())
    outbound = replace(lap.outbound, start=cut, change_deg=lap.outbound.change_deg - turned)
    return _back_over(survey, replace(lap, outbound=outbound), _point(survey, cut))


def _lap(survey: Survey, chain: list[TurnRun], i: int) -> Lap:
    outbound, inbound = chain[i], chain[i + 1]
    fix = _point(survey, outbound.start)
    # Look for the way back over the fix until the next turn is well under way, or for a leg's length: against a
    # gale the way back takes many times the way out, as the lap before showed.
    last = chain[i].start - chain[i - 1].end if i > 1 else 0
    leg = max(inbound.start - outbound.end, 60, last)
    limit = chain[i + 2].start + 15 if i + 2 < len(chain) else inbound.end + leg + 90
    back = slice(inbound.end, max(min(limit, survey.time_s.size), inbound.end + 1))
    away = np.hypot(survey.east_m[back] - fix[0], survey.north_m[back] - fix[1]) / M_PER_NM
    nearest = int(np.argmin(away)) if away.size else 0
    passage = min(inbound.end + nearest, survey.time_s.size - 1)
    return Lap(outbound, inbound, fix, _course(survey, inbound.end, passage), _min(away), passage)


def _min(values: FloatArray) -> float:
    return float(values.min()) if values.size else float("inf")


def _point(survey: Survey, index: int) -> FloatArray:
    i = min(max(index, 0), survey.time_s.size - 1)
    return np.array([survey.east_m[i], survey.north_m[i]])


def _course(survey: Survey, start: int, end: int) -> float:
    """Return the direction made good over the last minute and a half of a leg, roll-out left out."""
    first = max(start + min(8, (end - start) // 3), end - 90)
    step = _point(survey, end) - _point(survey, first)
    if np.hypot(*step) < 50.0:
        step = np.array(
            [
                survey.east_mps[min(end, survey.time_s.size - 1)],
                survey.north_mps[min(end, survey.time_s.size - 1)],
            ]
        )
    return float(np.degrees(np.arctan2(step[0], step[1])) % 360.0)


def _tolerance_nm(survey: Survey, lap: Lap) -> float:
    """Return how near a lap must come back: in proportion to its size, for jets turn wide."""
    across = _point(survey, lap.outbound.end) - _point(survey, lap.outbound.start)
    return max(CLOSING_NM, CLOSING_SHARE * float(np.hypot(*across)) / M_PER_NM)


def _groups(survey: Survey, laps: list[Lap]) -> list[list[Lap]]:
    """Split laps where one does not close or the next begins somewhere else."""
    groups: list[list[Lap]] = [[]]
    usual: Lap | None = None
    for place, lap in enumerate(laps):
        tolerance = _tolerance_nm(survey, lap)
        like = usual if groups[-1] else None
        odd = like is not None and _odd_one(survey, like, laps[place : place + 2])
        if like is not None and not odd and not _same_hold(like, lap, tolerance):
            groups.append([])
        usual = usual if odd else lap
        if lap.miss_nm <= tolerance or odd:
            groups[-1].append(lap)
        elif groups[-1]:
            groups.append([])
        if lap.passage - lap.inbound.end > LONGEST_LAST_LEG_S:
            # Whoever is away that long has left; a later lap over the same fix is another hold.
            groups.append([])
    return [_without_left_lap(group) for group in groups if group]


def _odd_one(survey: Survey, before: Lap, laps: list[Lap]) -> bool:
    """Tell whether a lap that is unlike the one before it was badly flown, no more: the next is like that again."""
    if len(laps) < 2:
        return False
    lap, after = laps
    tolerance = _tolerance_nm(survey, after)
    apart_nm = float(np.hypot(*(lap.fix_m - before.fix_m))) / M_PER_NM
    near = max(apart_nm, lap.miss_nm) <= ODD_ONE_RATIO * tolerance
    return near and after.miss_nm <= tolerance and _same_hold(before, after, tolerance)


def _same_hold(before: Lap, lap: Lap, tolerance_nm: float) -> bool:
    """Tell whether two laps are of one hold: begun near one point, and coming back along much the same course.

    Where they begin at the very same point the way back may differ more: a course met late is met from the side.
    """
    apart_nm = float(np.hypot(*(lap.fix_m - before.fix_m))) / M_PER_NM
    turned = abs(wrap180(lap.course_deg - before.course_deg))
    widest = LATE_MET_DEG if apart_nm < 0.5 * tolerance_nm else COURSE_APART_DEG
    return apart_nm <= FIX_APART_SHARE * tolerance_nm and turned <= widest


def _without_left_lap(laps: list[Lap]) -> list[Lap]:
    """Leave out a last lap that never came back over the fix which the others met: the hold was left in it."""
    usual = float(np.median([lap.miss_nm for lap in laps[:-1]])) if len(laps) > 1 else float("inf")
    return laps[:-1] if laps[-1].miss_nm > max(LEFT_MISS_NM, LEFT_MISS_RATIO * usual) else laps


def _read(
    survey: Survey, chain: list[TurnRun], laps: list[Lap], scale_s: float, runs: list[TurnRun]
) -> Racetrack:
    first, last = chain.index(laps[0].inbound) - 1, chain.index(laps[-1].inbound)
    before = chain[first - 1] if first > 0 else None
    after = chain[last + 1] if last + 1 < len(chain) else None
    fix = np.mean([lap.fix_m for lap in laps], axis=0)
    toward = np.radians([lap.course_deg for lap in laps])
    course = float(np.degrees(np.arctan2(np.sin(toward).mean(), np.cos(toward).mean())) % 360.0)
    reading = Racetrack(laps[0].outbound.side, tuple(laps), fix, course, before, after, 0.0, scale_s)
    reading = replace(reading, turned_back=_turned_back(reading, runs))
    reasons = _reasons(survey, reading)
    score = sum(points for points, _ in reasons)
    said = tuple(f"{points:+.2f} {why}" for points, why in reasons)
    return replace(reading, score=score, reasons=said, arrives=_fits_entry(survey, reading))


def _turned_back(r: Racetrack, runs: list[TurnRun]) -> TurnRun | None:
    """Return the last great turn of the other hand before the first lap, or before the turn before it."""
    until = (r.before.start if r.before else r.start) + 5
    great = [
        run
        for run in runs
        if run.side != r.side and abs(run.change_deg) >= LEAST_TURN_DEG and run.end <= until
    ]
    return great[-1] if great and great[-1].end >= until - PARALLEL_BACK_S else None


def _fits_parallel(survey: Survey, r: Racetrack) -> bool:
    """Tell whether the fix was passed, a leg flown outbound and the turn back made with the other hand."""
    back = r.turned_back
    if back is None or r.before is not None:
        return False
    early = slice(max(0, back.start - PARALLEL_LEG_S), max(0, back.start - 15))
    away = np.hypot(survey.east_m[early] - r.fix_m[0], survey.north_m[early] - r.fix_m[1]) / M_PER_NM
    if not away.size or away.min() >= OFFSET_MET_NM:
        return False
    out = _way_out_deg(survey, early.start + int(np.argmin(away)), back.start)
    return abs(wrap180(out - r.course_deg - 180.0)) <= PARALLEL_WITHIN_DEG


def _way_out_deg(survey: Survey, passed: int, back: int) -> float:
    """Return where an entry's way out led: by its second half, for the first may still be the turn over the fix."""
    leg = _point(survey, back) - _point(survey, (passed + back) // 2)
    return float(np.degrees(np.arctan2(leg[0], leg[1])))


def _fits_entry(survey: Survey, r: Racetrack) -> bool:
    """Tell whether the way to the first lap fits an entry: the direct sector with a good margin, or a turn before."""
    if r.before is not None or r.start < LOG_BEGINS_S or _fits_parallel(survey, r):
        return True
    off = r.side * wrap180(_heading_at(survey, r.start - 3) - r.course_deg)
    return -90.0 <= off <= 130.0


def _reasons(survey: Survey, r: Racetrack) -> list[tuple[float, str]]:
    """Weigh what speaks for the first turn of each lap being the one that begins over the fix."""
    tolerance = max(_tolerance_nm(survey, lap) for lap in r.laps)
    # Leaving over the fix with one more turn gives the wrong reading a lap that only just comes back, while the
    # right one comes back over its fix every time. But a lap badly met is a lap: it must not count against the rest.
    misses = np.array([lap.miss_nm for lap in r.laps])
    close = 1.0 / (1.0 + (misses / (HALF_MISS_SHARE * tolerance)) ** 2)
    reasons = [(LAP_POINTS * float((1.0 - CLOSE_SHARE + CLOSE_SHARE * close).sum()), "laps")]
    points = [lap.fix_m for lap in r.laps]
    if r.after and np.hypot(*(_point(survey, r.after.start) - r.fix_m)) / M_PER_NM < 1.5 * tolerance:
        points.append(_point(survey, r.after.start))
    if len(points) > 1:
        scatter = (
            float(np.sqrt(((np.array(points) - np.median(points, axis=0)) ** 2).sum(axis=1).mean()))
            / M_PER_NM
        )
        reasons.append((-2.0 * min(scatter / tolerance, 1.0), "scatter of the turns' beginnings"))
    reasons.append((-1.5 * min(float(misses.mean()) / (0.5 * tolerance), 1.6), "misses on the way back"))
    reasons.append(_arrival_reason(survey, r))
    reasons.append(_departure_reason(survey, r))
    return reasons


def _arrival_reason(survey: Survey, r: Racetrack) -> tuple[float, str]:
    if r.before is not None:
        return _offset_reason(survey, r, r.before)
    if r.start < LOG_BEGINS_S:
        return 0.0, "the log begins here"
    if _fits_parallel(survey, r):
        return 2.2, "arrival fits a parallel entry"
    # Direct sector, and a good margin: an arrival from outside it joins otherwise.
    fits = _fits_entry(survey, r)
    return (0.8, "arrival fits a direct entry") if fits else (-0.4, "arrival fits no direct entry")


def _offset_reason(survey: Survey, r: Racetrack, before: TurnRun) -> tuple[float, str]:
    # A turn of the same hand before the first lap: an offset entry's inbound turn, if the way to it led over the fix.
    early = slice(max(0, before.start - 240), max(0, before.start - 15))
    away = np.hypot(survey.east_m[early] - r.fix_m[0], survey.north_m[early] - r.fix_m[1]) / M_PER_NM
    if not away.size:
        return 0.0, "the log begins inside the hold"
    nearest = int(np.argmin(away))
    out = _way_out_deg(survey, early.start + nearest, before.start)
    off = r.side * wrap180(out - r.course_deg - 180.0)
    straight = r.turned_back is None or r.turned_back.end <= early.start + nearest
    if straight and away[nearest] < OFFSET_MET_NM and -75.0 <= off <= OFFSET_LEAST_LEAN_DEG:
        arrival = r.side * wrap180(_heading_at(survey, early.start + nearest - 5) - r.course_deg - 180.0)
        if -85.0 <= arrival <= 15.0:
            return 2.2, "arrival fits an offset entry"
        return 0.3, "arrival over the fix, but from no sector for an offset entry"
    return -1.5, "a turn before the first lap that is no entry"


def _departure_reason(survey: Survey, r: Racetrack) -> tuple[float, str]:
    if r.after is None:
        return 0.8, "left after an inbound turn"
    return -0.2, "left after an outbound turn"


def _heading_at(survey: Survey, index: int) -> float:
    i = min(max(index, 0), survey.time_s.size - 1)
    return float(np.degrees(np.arctan2(survey.east_mps[i], survey.north_mps[i])) % 360.0)
