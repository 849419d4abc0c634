"""Chains of turns of one hand, and their laps: which come back over their beginning, which belong to one hold."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from operator import attrgetter

import numpy as np

from analyser.circuits.evidence import fits_entry, objections, reasons_for, turned_back
from analyser.circuits.racetrack import (
    Racetrack,
    RacetrackLap,
    TurnRun,
    circles_halved,
    closing_nm,
    distances_nm,
    ending_within,
    is_chorded,
    is_whole_circle,
    point_m,
    turn_runs,
)
from analyser.circuits.thresholds import RACETRACK
from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM
from analyser.logs.track import FloatArray
from analyser.motion.survey import Survey


def chains(runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Group runs of turning, in time order, into chains of half circles of one hand: each of at least two turns.

    Whole circles flown within a chain (a 360 to lose time) are left out.
    """
    found: list[list[TurnRun]] = [[]]
    for run in runs:
        chain = found[-1]
        if not _half_circle(run):
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


def _half_circle(run: TurnRun) -> bool:
    return RACETRACK.least_turn_deg <= abs(run.change_deg) <= RACETRACK.most_turn_deg


def racetracks(survey: Survey, chain: list[TurnRun], scale_s: float, runs: list[TurnRun]) -> list[Racetrack]:
    """Read a chain of turns as laps of one hold, in both ways; all turning of the flight tells what came before it.

    The best reading of every stretch of the chain comes first; readings without a closing lap are absent.
    """
    readings = [
        _read(survey, chain, group, scale_s, runs)
        for parity in (0, 1)
        for group in _groups(survey, _laps(survey, chain, parity))
    ]
    return sorted(readings, key=lambda r: -r.score)


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
    leg = max(inbound.start - outbound.end, 60, last)
    limit = chain[i + 2].start + 15 if i + 2 < len(chain) else inbound.end + leg + 90
    back = slice(inbound.end, max(min(limit, survey.time_s.size), inbound.end + 1))
    away = distances_nm(survey, back, fix)
    nearest = int(np.argmin(away)) if away.size else 0
    passage = min(inbound.end + nearest, survey.time_s.size - 1)
    return RacetrackLap(outbound, inbound, fix, _course(survey, inbound.end, passage), _min(away), passage)


def _min(values: FloatArray) -> float:
    return float(values.min()) if values.size else float("inf")


def _course(survey: Survey, start: int, end: int) -> float:
    """Return the direction made good over the last minute and a half of a leg, roll-out left out."""
    first = max(start + min(8, (end - start) // 3), end - 90)
    step = point_m(survey, end) - point_m(survey, first)
    if np.hypot(*step) < 50.0:
        step = np.array(
            [
                survey.east_mps[min(end, survey.time_s.size - 1)],
                survey.north_mps[min(end, survey.time_s.size - 1)],
            ]
        )
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
    return (
        laps[:-1]
        if laps[-1].miss_nm > max(RACETRACK.left_miss_nm, RACETRACK.left_miss_ratio * usual)
        else laps
    )


def _leads_in(before: TurnRun, laps: list[RacetrackLap]) -> bool:
    """Tell whether a turn before the first lap led into the hold: no longer before it than its legs are long."""
    longest = max(lap.passage - lap.outbound.end for lap in laps)
    return laps[0].outbound.start - before.end <= max(RACETRACK.longest_way_in_s, longest)


def _read(
    survey: Survey, chain: list[TurnRun], laps: list[RacetrackLap], scale_s: float, runs: list[TurnRun]
) -> Racetrack:
    start = attrgetter("start")
    first = bisect_left(chain, laps[0].inbound.start, key=start) - 1
    last = bisect_left(chain, laps[-1].inbound.start, key=start)
    before = chain[first - 1] if first > 0 and _leads_in(chain[first - 1], laps) else None
    after = chain[last + 1] if last + 1 < len(chain) else None
    fix = np.mean([lap.fix_m for lap in laps], axis=0)
    toward = np.radians([lap.course_deg for lap in laps])
    course = float(np.degrees(np.arctan2(np.sin(toward).mean(), np.cos(toward).mean())) % 360.0)
    reading = Racetrack(laps[0].outbound.side, tuple(laps), fix, course, before, after, 0.0, scale_s)
    reading = replace(reading, turned_back=turned_back(reading, runs))
    reasons = reasons_for(survey, reading)
    return replace(reading, score=sum(reasons), reasons=reasons, arrives=fits_entry(survey, reading))


def best_readings(survey: Survey) -> tuple[list[Racetrack], list[Racetrack]]:
    """Read a stretch of flight as racetracks.

    Returns
    -------
    holding, others : list of Racetrack
        The best reading of every stretch that is a hold; and those that something speaks against, best first.
    """
    readings = _all_readings(survey)
    holding = _without_overlap(_without_parallel_entries(readings))
    return holding, [r for r in readings if r.objection]


def _all_readings(survey: Survey) -> list[Racetrack]:
    """Read the flight at every scale that suits it; best readings first."""
    scales = RACETRACK.scales_s + (RACETRACK.chord_scales_s if is_chorded(survey) else ())
    found = [
        reading
        for scale in scales
        for runs in _with_and_without_circles(survey, turn_runs(survey, scale))
        for chain in chains(runs)
        for reading in racetracks(survey, chain, scale, runs)
    ]
    weighed = [replace(reading, objection=next(objections(survey, reading), None)) for reading in found]
    # A reading with circles taken apart that does not hold water must not stand in the way of one without.
    sound = [r for r in weighed if not (r.objection and r.has_halves)]
    return sorted(sound, key=lambda r: 0.01 * r.scale_s - r.score)


def _with_and_without_circles(survey: Survey, runs: list[TurnRun]) -> list[list[TurnRun]]:
    """Read whole circles both ways: flown to lose time, or as two turns with no leg between."""
    halved = circles_halved(survey, runs)
    return [runs, halved] if len(halved) != len(runs) else [runs]


def _without_parallel_entries(readings: list[Racetrack]) -> list[Racetrack]:
    """Drop what looks like a lap of the other hand but is the parallel entry to the hold that follows.

    A parallel entry is a short turn, a minute outbound and a long turn back over the fix: a lap, but one whose
    second turn is much the longer, and with a hold of the other hand beginning where it ends.
    """
    starts = np.array([other.start for other in readings])
    # Only what begins near a reading's end can follow it: a day's flight has thousands of readings.
    following = [np.flatnonzero(np.abs(starts - r.end) < RACETRACK.parallel_follows_s) for r in readings]
    return [
        reading
        for reading, near in zip(readings, following, strict=True)
        if not any(_is_parallel_entry(reading, readings[i]) for i in near)
    ]


def _is_parallel_entry(reading: Racetrack, other: Racetrack) -> bool:
    if len(reading.laps) != 1 or other.side == reading.side:
        return False
    lap = reading.laps[0]
    lopsided = abs(lap.inbound.change_deg) - abs(lap.outbound.change_deg) > RACETRACK.parallel_lopsided_deg
    follows = reading.start < other.start and abs(other.start - reading.end) < RACETRACK.parallel_follows_s
    near = float(np.hypot(*(other.fix_m - reading.fix_m))) / METRES_PER_NM < RACETRACK.parallel_near_nm
    return lopsided and follows and near


def _without_overlap(readings: list[Racetrack]) -> list[Racetrack]:
    """Keep the best reading of every stretch; one that is no hold after all also ends its lesser likes."""
    kept: list[Racetrack] = []
    starts: list[int] = []
    ends: list[int] = []
    for reading in readings:
        # What is kept does not overlap: the last that begins before this one's end is the last to end, too.
        place = bisect_left(starts, reading.end)
        if place == 0 or ends[place - 1] <= reading.start:
            starts.insert(place, reading.start)
            ends.insert(place, reading.end)
            kept.append(reading)
    return [r for r in kept if r.objection is None]
