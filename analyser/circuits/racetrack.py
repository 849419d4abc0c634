"""Runs of turning seen from the ground, and the racetracks that they make.

A racetrack is two like turns of about half a circle, the same way, a leg between, back over one point. From runs of
turning come chains of turns of one hand; from these laps, which come back over their beginning; and from laps those
which belong to one hold.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from analyser.circuits.flown import Objection
from analyser.circuits.thresholds import RACETRACK
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, Track
from analyser.motion.motion_thresholds import ESTIMATE, STRETCH
from analyser.motion.survey import Survey


@dataclass(frozen=True)
class TurnRun:
    """A stretch of turning one way, between grid points of the survey, end exclusive.

    The ground track changes by ``change_deg``, positive right; ``half`` marks half of a whole circle that was taken
    apart. ``hand`` says the way, +1 right, of a turn that is known by more than that, or was never made.
    """

    start: int
    end: int
    change_deg: float
    half: bool = False
    hand: int | None = None

    @property
    def side(self) -> int:
        """+1 for right, -1 for left."""
        return self.hand or (1 if self.change_deg > 0 else -1)


def turn_runs(survey: Survey, scale_s: float) -> list[TurnRun]:
    """Find where the aircraft was turning, at one scale of smoothing.

    ``scale_s`` is the sigma of the Gaussian the turn rate is smoothed with: small for well sampled tracks, larger where
    positions were joined by chords. In time order, each with at least ``RACETRACK.least_change_deg``.
    """
    # Smoothing the velocity, not its direction, lets a fix that jumps back and forth cancel itself.
    east, north = smooth(survey.east_mps, scale_s), smooth(survey.north_mps, scale_s)
    flying = survey.ground_speed_kt > STRETCH.slowest_flight_kt
    angle = np.degrees(np.unwrap(np.arctan2(east, north)))
    rate = np.where(flying, smooth(np.gradient(angle), 2.0), 0.0)
    usual = _usual_rate(rate)
    turning = np.abs(rate) > np.maximum(RACETRACK.slowest_turn_dps, RACETRACK.edge_share * usual)
    sign = np.where(turning, np.sign(rate), 0.0)
    edges = np.flatnonzero(np.diff(sign)) + 1
    bounds = [0, *edges.tolist(), sign.size]
    angle = np.concatenate([[0.0], np.cumsum(rate)])
    pieces = [TurnRun(a, b, float(angle[b] - angle[a])) for a, b in pairwise(bounds) if sign[a] != 0.0]
    return [run for run in _joined(pieces, angle) if abs(run.change_deg) >= RACETRACK.least_change_deg]


def ending_within(runs: Sequence[TurnRun], first: int, last: int) -> Sequence[TurnRun]:
    """Return the turns, in time order, that end within a stretch: a day of holds must not be gone through for each."""
    end = attrgetter("end")
    return runs[bisect_left(runs, first, key=end) : bisect_right(runs, last, key=end)]


def without_overlap(spans: Sequence[tuple[int, int]]) -> list[int]:
    """Return which of some stretches, best first, overlap none that was taken before, by their places."""
    taken: list[tuple[int, int]] = []
    places: list[int] = []
    for place, (start, end) in enumerate(spans):
        # What is taken does not overlap: the last that begins before this one's end is the last to end, too.
        before = bisect_left(taken, (end, 0))
        if before == 0 or taken[before - 1][1] <= start:
            taken.insert(before, (start, end))
            places.append(place)
    return places


def is_whole_circle(run: TurnRun) -> bool:
    """Tell whether a run is one whole circle, give or take the drift of a strong wind."""
    return RACETRACK.least_circle_deg <= abs(run.change_deg) <= RACETRACK.most_circle_deg


def circles_halved(survey: Survey, runs: list[TurnRun]) -> list[TurnRun]:
    """Take every whole circle apart into two half ones.

    In a strong wind a leg may be over in no time, and the inbound and the outbound turn become one: so the
    exact circuit itself asks, where the wind is too strong for the leg. They are halved where half their angle was
    turned.
    """
    found: list[TurnRun] = []
    for run in runs:
        if not is_whole_circle(run):
            found.append(run)
            continue
        turned = np.abs(np.cumsum(survey.turn_rate_dps[run.start : run.end]))
        middle = run.start + int(np.searchsorted(turned, 0.5 * turned[-1]))
        half = 0.5 * run.change_deg
        found += [TurnRun(run.start, middle, half, half=True), TurnRun(middle, run.end, half, half=True)]
    return found


def _joined(pieces: list[TurnRun], angle: FloatArray) -> list[TurnRun]:
    runs: list[TurnRun] = []
    for piece in pieces:
        # A wobble of a few degrees the other way must not part the two halves of one turn.
        if abs(piece.change_deg) < RACETRACK.wobble_deg:
            continue
        last = runs[-1] if runs else None
        if last and last.side == piece.side and piece.start - last.end <= RACETRACK.join_s:
            runs[-1] = TurnRun(last.start, piece.end, float(angle[piece.end] - angle[last.start]))
        else:
            runs.append(piece)
    return runs


def smooth(values: FloatArray, scale: float) -> FloatArray:
    """Gaussian running mean on a grid of one second, (n,), its sigma in grid points; ends are held."""
    reach = int(np.ceil(3.5 * scale))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / scale) ** 2)
    padded = np.pad(values, reach, mode="edge")
    smoothed: FloatArray = np.convolve(padded, kernel / kernel.sum(), mode="valid")
    return smoothed


def circular_mean_deg(degrees: FloatArray) -> float:
    """Return the mean of some directions, [-180, 180]."""
    angle = np.radians(degrees)
    return float(np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())))


def _usual_rate(rate: FloatArray) -> FloatArray:
    """Return the rate of the turns around each point: the strongest third in blocks of five minutes."""
    block, percent = RACETRACK.usual_block_s, RACETRACK.usual_percent
    magnitude = np.abs(rate)
    count = int(np.ceil(rate.size / block))
    level = np.array(
        [np.percentile(magnitude[max(0, (i - 1) * block) : (i + 2) * block], percent) for i in range(count)]
    )
    centres = (np.arange(count) + 0.5) * block
    usual: FloatArray = np.interp(np.arange(rate.size), centres, level)
    return usual


@dataclass(frozen=True)
class RacetrackLap:
    """One lap of a racetrack in a survey: its two turns, the first of which begins at the fix.

    There, at ``fix_m``, (2,) unrolled metres east and north, it begins; it comes back on the ground track
    ``course_deg`` and passes it, at the grid point ``passage``, by ``miss_nm``.
    """

    outbound: TurnRun
    inbound: TurnRun
    fix_m: FloatArray
    course_deg: float
    miss_nm: float
    passage: int

    @property
    def legs(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Where the outbound and the inbound leg begin and end, grid points."""
        return (self.outbound.end, self.inbound.start), (self.inbound.end, self.passage)


class Reasons(NamedTuple):
    """What speaks for the first turn of each lap being the one that begins over the fix, in points."""

    laps: float = 0.0
    scatter: float = 0.0
    misses: float = 0.0
    arrival: float = 0.0
    departure: float = 0.0


NO_REASONS = Reasons()


@dataclass(frozen=True)
class Racetrack:
    """A chain of laps over one fix, as first seen; +1 right, -1 left.

    Fix and course are means of the laps', unrolled metres and ground track. ``before`` and ``after`` are the turns
    of the same hand before the first lap (an offset entry's, perhaps) and after the last; ``turned_back`` is the
    great turn of the other hand just before the first lap (a parallel entry's, perhaps) or before ``before``.
    ``score``, the sum of the reasons, says how much better this reading fits than nothing, compared between
    readings of one chain; ``scale_s`` is the smoothing at which it was seen. ``objection`` is the first thing that
    speaks against its being a hold, ``arrives`` whether the way to the first lap fits an entry.
    """

    side: int
    laps: tuple[RacetrackLap, ...]
    fix_m: FloatArray
    course_deg: float
    before: TurnRun | None
    after: TurnRun | None
    score: float
    scale_s: float
    objection: Objection | None = None
    reasons: Reasons = NO_REASONS
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


def point_m(survey: Survey, index: int) -> FloatArray:
    """Return where the flight was at a grid point, or at the nearest there is: (2,) metres east and north."""
    i = min(max(index, 0), survey.time_s.size - 1)
    return np.array([survey.east_m[i], survey.north_m[i]])


def distances_nm(survey: Survey, span: slice, place_m: FloatArray) -> FloatArray:
    """Return how far each point of a span was from a place, metres east and north: (n,) NM."""
    away = np.hypot(survey.east_m[span] - place_m[0], survey.north_m[span] - place_m[1])
    return np.asarray(away / METRES_PER_NM)


def distance_nm(survey: Survey, a: int, b: int) -> float:
    """Return how far apart the flight was at two grid points, NM."""
    return float(np.hypot(*(point_m(survey, b) - point_m(survey, a)))) / METRES_PER_NM


def closing_nm(survey: Survey, lap: RacetrackLap) -> float:
    """Return how near a lap must come back to its beginning, NM: in proportion to its size, for jets turn wide."""
    return max(
        RACETRACK.closing_nm,
        RACETRACK.closing_share * distance_nm(survey, lap.outbound.start, lap.outbound.end),
    )


def is_chorded(survey: Survey) -> bool:
    """Tell whether true positions lie so far apart that a turn has hardly one: the way between is drawn by chords."""
    return survey.sample_s > ESTIMATE.chorded_s


def reading_fix(track: Track, survey: Survey, reading: Racetrack) -> tuple[float, float]:
    """Return where a reading's fix is on earth: where the flight came nearest to it."""
    inside = slice(reading.start, reading.end + 1)
    nearest = int(np.argmin(distances_nm(survey, inside, reading.fix_m)))
    return place_on_earth(track, float(survey.time_s[reading.start + nearest]))


def place_on_earth(track: Track, when_s: float) -> tuple[float, float]:
    """Return latitude and longitude of a flight at an instant."""
    after = min(max(int(np.searchsorted(track.time_s, when_s, side="right")), 1), track.samples - 1)
    around = slice(after - 1, after + 1)
    lat = float(np.interp(when_s, track.time_s[around], track.lat_deg[around]))
    lon = np.unwrap(track.lon_deg[around], period=360.0)
    return lat, float(wrap180(np.interp(when_s, track.time_s[around], lon)))


def chains(runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Group runs of turning, in time order, into chains of half circles of one hand: each of at least two turns.

    Whole circles flown within a chain (a 360 to lose time) are left out.
    """
    found: list[list[TurnRun]] = [[]]
    for run in runs:
        chain = found[-1]
        if not is_half_circle(run):
            if abs(run.change_deg) > RACETRACK.largest_correction_deg and not (
                chain and is_whole_circle(run) and run.side == chain[-1].side
            ):
                found.append([])
            continue
        if chain and _follows(run, chain[-1]):
            chain.append(run)
        else:
            found.append([run])
    whole = [c for c in found if c]
    begun = [
        [small, *c]
        for c in whole
        for small in ending_within(runs, c[0].start - RACETRACK.longest_first_leg_s, c[0].start)
        if _first_turn(small, c[0])
    ]
    return [c for c in [*whole, *begun] if len(c) >= 2]


def _follows(run: TurnRun, before: TurnRun) -> bool:
    if run.half and before.half and run.start == before.end:
        return run.side == before.side
    return (
        run.side == before.side
        and RACETRACK.shortest_leg_s <= run.start - before.end <= RACETRACK.longest_leg_s
    )


def _first_turn(small: TurnRun, first: TurnRun) -> bool:
    """Tell whether a lesser or a greater turn may be the outbound turn of a direct entry before a chain."""
    lesser = RACETRACK.least_first_turn_deg <= abs(small.change_deg) < RACETRACK.least_turn_deg
    greater = RACETRACK.most_turn_deg < abs(small.change_deg) <= RACETRACK.most_first_turn_deg
    return (
        (lesser or greater)
        and _follows(first, small)
        and first.start - small.end < RACETRACK.longest_first_leg_s
    )


def is_half_circle(run: TurnRun) -> bool:
    """Tell whether a run is half a circle, give or take the drift corrections of both legs."""
    return RACETRACK.least_turn_deg <= abs(run.change_deg) <= RACETRACK.most_turn_deg


def readings_of(survey: Survey, chain: list[TurnRun], scale_s: float) -> list[Racetrack]:
    """Read a chain of turns as laps of one hold, in both ways: each stretch of it, and what speaks for it not yet."""
    return [
        _read(chain, group, scale_s)
        for parity in (0, 1)
        for group in _groups(survey, _laps(survey, chain, parity))
    ]


def _laps(survey: Survey, chain: list[TurnRun], parity: int) -> list[RacetrackLap]:
    """Return the laps of one reading, their outbound turns freed of what was still the meeting of the course.

    Who meets the course late is still turning when the fix goes by, and the outbound turn seems to begin
    before it. Where other laps show the fix, such a turn is cut where it passes there.
    """
    laps = [_lap(survey, chain, i) for i in range(parity, len(chain) - 1, 2)]
    clean = [
        lap.fix_m
        for lap in laps
        if RACETRACK.least_turn_deg <= abs(lap.outbound.change_deg) <= RACETRACK.merged_turn_deg
    ]
    if not clean:
        return laps
    fix = np.median(clean, axis=0)
    return [_settled(survey, lap, fix) for lap in laps]


def _settled(survey: Survey, lap: RacetrackLap, fix_m: FloatArray) -> RacetrackLap:
    turned = abs(lap.outbound.change_deg)
    if turned > RACETRACK.merged_turn_deg:
        return _freed(survey, lap, fix_m)
    return _joined_late(survey, lap, fix_m) if turned < RACETRACK.least_turn_deg else lap


def _joined_late(survey: Survey, lap: RacetrackLap, fix_m: FloatArray) -> RacetrackLap:
    """Begin a lap at the fix where a direct entry from the side flew on over it before turning."""
    early = slice(max(lap.outbound.start - RACETRACK.late_turn_s, 0), lap.outbound.start + 1)
    away = distances_nm(survey, early, fix_m)
    if away.min() > RACETRACK.closing_nm:
        return lap
    return _back_over(survey, lap, point_m(survey, early.start + int(np.argmin(away))))


def _back_over(survey: Survey, lap: RacetrackLap, fix_m: FloatArray) -> RacetrackLap:
    """Give a lap its fix, and look anew for the way back over it."""
    back = slice(lap.inbound.end, max(lap.passage + RACETRACK.late_turn_s, lap.inbound.end + 1))
    miss = distances_nm(survey, back, fix_m)
    if not miss.size:
        return replace(lap, fix_m=fix_m)
    nearest = int(np.argmin(miss))
    return replace(lap, fix_m=fix_m, miss_nm=float(miss[nearest]), passage=lap.inbound.end + nearest)


def _freed(survey: Survey, lap: RacetrackLap, fix_m: FloatArray) -> RacetrackLap:
    half = slice(lap.outbound.start, (lap.outbound.start + lap.outbound.end) // 2)
    away = distances_nm(survey, half, fix_m)
    cut = lap.outbound.start + int(np.argmin(away))
    if away.min() > RACETRACK.closing_nm or cut == lap.outbound.start:
        return lap
    turned = float(survey.turn_rate_dps[lap.outbound.start : cut].sum())
    outbound = replace(lap.outbound, start=cut, change_deg=lap.outbound.change_deg - turned)
    return _back_over(survey, replace(lap, outbound=outbound), point_m(survey, cut))


def _lap(survey: Survey, chain: list[TurnRun], i: int) -> RacetrackLap:
    outbound, inbound = chain[i], chain[i + 1]
    fix = point_m(survey, outbound.start)
    # Look for the way back over the fix until the next turn is well under way, or for a leg's length: against a
    # gale the way back takes many times the way out, as the lap before showed.
    last = chain[i].start - chain[i - 1].end if i > 1 else 0
    leg = max(inbound.start - outbound.end, RACETRACK.shortest_way_back_s, last)
    limit = inbound.end + leg + RACETRACK.way_back_more_s
    if i + 2 < len(chain):
        limit = chain[i + 2].start + RACETRACK.next_turn_s
    back = slice(inbound.end, max(min(limit, survey.time_s.size), inbound.end + 1))
    away = distances_nm(survey, back, fix)
    nearest = int(np.argmin(away)) if away.size else 0
    passage = min(inbound.end + nearest, survey.time_s.size - 1)
    course, miss_nm = _course(survey, inbound.end, passage), float(away.min(initial=np.inf))
    return RacetrackLap(outbound, inbound, fix, course, miss_nm, passage)


def _course(survey: Survey, start: int, end: int) -> float:
    """Return the direction made good over the last minute and a half of a leg, roll-out left out."""
    first = max(start + min(RACETRACK.rollout_s, (end - start) // 3), end - RACETRACK.made_good_s)
    step = point_m(survey, end) - point_m(survey, first)
    if np.hypot(*step) < RACETRACK.made_good_m:
        last = min(end, survey.time_s.size - 1)
        step = np.array([survey.east_mps[last], survey.north_mps[last]])
    return float(np.degrees(np.arctan2(step[0], step[1])) % 360.0)


def _groups(survey: Survey, laps: list[RacetrackLap]) -> list[list[RacetrackLap]]:
    """Split laps where one does not close or the next begins somewhere else."""
    groups: list[list[RacetrackLap]] = [[]]
    usual: RacetrackLap | None = None
    for place, lap in enumerate(laps):
        tolerance = closing_nm(survey, lap)
        like = usual if groups[-1] else None
        odd = like is not None and _odd_one(survey, like, laps[place : place + 2])
        if like is not None and not odd and not _same_hold(like, lap, tolerance):
            groups.append([])
        usual = usual if odd else lap
        if lap.miss_nm <= tolerance or odd:
            groups[-1].append(lap)
        elif groups[-1]:
            groups.append([])
    return [_without_left_lap(group) for group in groups if group]


def _odd_one(survey: Survey, before: RacetrackLap, laps: list[RacetrackLap]) -> bool:
    """Tell whether a lap that is unlike the one before it was badly flown, no more: the next is like that again."""
    if len(laps) < 2:
        return False
    lap, after = laps
    tolerance = closing_nm(survey, after)
    apart_nm = float(np.hypot(*(lap.fix_m - before.fix_m))) / METRES_PER_NM
    near = max(apart_nm, lap.miss_nm) <= RACETRACK.odd_one_ratio * tolerance
    return near and after.miss_nm <= tolerance and _same_hold(before, after, tolerance)


def _same_hold(before: RacetrackLap, lap: RacetrackLap, tolerance_nm: float) -> bool:
    """Tell whether two laps are of one hold: begun near one point, and coming back along much the same course.

    Where they begin at the very same point the way back may differ more: a course met late is met from the side.
    """
    apart_nm = float(np.hypot(*(lap.fix_m - before.fix_m))) / METRES_PER_NM
    turned = abs(wrap180(lap.course_deg - before.course_deg))
    widest = RACETRACK.late_met_deg if apart_nm < 0.5 * tolerance_nm else RACETRACK.course_apart_deg
    return apart_nm <= RACETRACK.fix_apart_share * tolerance_nm and turned <= widest


def _without_left_lap(laps: list[RacetrackLap]) -> list[RacetrackLap]:
    """Leave out a last lap that never came back over the fix which the others met: the hold was left in it."""
    usual = float(np.median([lap.miss_nm for lap in laps[:-1]])) if len(laps) > 1 else float("inf")
    left = laps[-1].miss_nm > max(RACETRACK.left_miss_nm, RACETRACK.left_miss_ratio * usual)
    return laps[:-1] if left else laps


def _leads_in(before: TurnRun, laps: list[RacetrackLap]) -> bool:
    """Tell whether a turn before the first lap led into the hold: no longer before it than its legs are long."""
    longest = max(lap.passage - lap.outbound.end for lap in laps)
    return laps[0].outbound.start - before.end <= max(RACETRACK.longest_way_in_s, longest)


def _read(chain: list[TurnRun], laps: list[RacetrackLap], scale_s: float) -> Racetrack:
    start = attrgetter("start")
    first = bisect_left(chain, laps[0].inbound.start, key=start) - 1
    last = bisect_left(chain, laps[-1].inbound.start, key=start)
    before = chain[first - 1] if first > 0 and _leads_in(chain[first - 1], laps) else None
    after = chain[last + 1] if last + 1 < len(chain) else None
    fix = np.mean([lap.fix_m for lap in laps], axis=0)
    course = circular_mean_deg(np.array([lap.course_deg for lap in laps])) % 360.0
    return Racetrack(laps[0].outbound.side, tuple(laps), fix, course, before, after, 0.0, scale_s)
